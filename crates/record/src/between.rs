//! What the surface through the outlines may be off by between stations: each station is left out in turn, and the surface through the others is compared with it.

use bladeform_numeric::parallel;
use bladeform_section::signed_distance;
use bladeform_table::{Station, StationTable};

use crate::loft::{Loft, POINTS_PER_SIDE};
use crate::patches::BladeSide;

/// Without a station the gap is twice as wide. Curves through points are off by the square of the gap or a higher power of it, so that a quarter is what they may be off
/// by with the station.
const SHARE: f64 = 0.25;

/// Stations on each side of a place whose errors are compared.
const AROUND: usize = 4;

/// What a surface may be off by, for each station and place of its outline.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Between {
    radii_m: Vec<f64>,
    /// For each station, at the points of face and back from the leading to the trailing edge, m.
    off_m: Vec<[Vec<f64>; 2]>,
}

/// Whether two radii are those of different stations: they are copies of one another or millimetres apart.
fn is_apart(a: f64, b: f64) -> bool {
    1e-9 < (a - b).abs()
}

impl Between {
    /// For the stations of a blade; `None` for fewer than four, as there are too few others.
    pub(crate) fn of(stations: &[Station], loft: &Loft) -> Option<Self> {
        let radii_m = loft.radii_m().to_vec();
        let n = radii_m.len();
        if n < 4 {
            return None;
        }
        let inner: Vec<usize> = (1..n - 1).collect();
        let mut off_m: Vec<[Vec<f64>; 2]> = parallel::map(&inner, |k| {
            let others: Vec<Station> =
                stations.iter().filter(|s| is_apart(s.radius_m, radii_m[*k])).cloned().collect();
            let others = Loft::through(&StationTable { stations: others, ..StationTable::default() })?;
            let outline = loft.outline(radii_m[*k]);
            let off: Vec<f64> = others
                .outline(radii_m[*k])
                .iter()
                .map(|p| SHARE * signed_distance(&outline, *p).abs())
                .collect();
            let (face, back) = off.split_at(POINTS_PER_SIDE);
            Some([face.to_vec(), back.iter().rev().copied().collect()])
        })
        .into_iter()
        .collect::<Option<_>>()?;
        // The first and the last cannot be left out: there the next ones stand for them.
        off_m.insert(0, off_m[0].clone());
        off_m.push(off_m[off_m.len() - 1].clone());
        Some(Self { radii_m, off_m })
    }

    /// What a surface without `left_out` neighbouring stations is usually off by at a place, m: the median of the stations around, as a dent makes some of them useless.
    pub(crate) fn usual_m(&self, radius_m: f64, side: BladeSide, share: f64, left_out: usize) -> f64 {
        let next = self.radii_m.partition_point(|r| *r < radius_m);
        let near = next.saturating_sub(AROUND)..(next + AROUND).min(self.radii_m.len());
        let mut off: Vec<f64> = near.map(|k| self.off_at(k, side, share)).collect();
        off.sort_by(f64::total_cmp);
        // The error grows with the square of the gap. What is stored is a quarter of that without one station.
        off.get(off.len() / 2).map_or(0.0, |m| m * ((left_out + 1) as f64).powi(2))
    }

    /// The greater of both neighbouring stations at a place, m: by the radius and the fraction of the way from the leading to the trailing edge.
    pub(crate) fn at_m(&self, radius_m: f64, side: BladeSide, share: f64) -> f64 {
        let next = self.radii_m.partition_point(|r| *r < radius_m).clamp(1, self.radii_m.len() - 1);
        self.off_at(next - 1, side, share).max(self.off_at(next, side, share))
    }

    /// What is stored for a station at a place.
    fn off_at(&self, station: usize, side: BladeSide, share: f64) -> f64 {
        // The points of an outline are spaced like the cosine of their number.
        let number =
            (1.0 - 2.0 * share.clamp(0.0, 1.0)).acos() / std::f64::consts::PI * POINTS_PER_SIDE as f64;
        let near = (number as usize).saturating_sub(2)..(number as usize + 3).min(POINTS_PER_SIDE);
        self.off_m[station][side as usize][near].iter().copied().fold(0.0, f64::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;

    #[test]
    fn a_straight_taper_leaves_nothing_out_and_a_swelling_does() {
        let mut table = elliptic_table();
        let between = |table: &StationTable| {
            let loft = Loft::through(table).unwrap();
            Between::of(&table.stations, &loft).unwrap().at_m(0.55, BladeSide::Back, 0.5)
        };
        assert!(between(&table) < 1e-5, "{}", between(&table));
        // One station thicker by 4 mm on each side: without it a surface is off by that.
        let outline = table.stations[2].outline.as_mut().unwrap();
        outline.y.iter_mut().for_each(|y| *y += 0.004 * y.signum());
        assert!((between(&table) - 0.001).abs() < 1e-4, "{}", between(&table));
        table.stations.truncate(3);
        assert_eq!(Between::of(&table.stations, &Loft::through(&table).unwrap()), None);
    }
}
