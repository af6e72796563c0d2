//! Rows that look like slips of the pen: a figure that its neighbours' own run contradicts.

use crate::{StationColumn, StationTable};

/// A figure must depart from the line between its neighbours by this much, in its unit or as a fraction of itself: no real blade bends so between stations.
const ANGLE_DEG: f64 = 4.0;
const CHORD: f64 = 0.25;
/// It must depart by so many times what is usual along the table.
const UNUSUAL: f64 = 6.0;
/// A wrong figure throws its neighbours off to the other side by about half as much; a corner of the real shape does not.
const THROWN: f64 = 0.25;

impl StationTable {
    /// A sentence for every blade angle and chord that the stations on both sides of it contradict, as a mistyped one does. Figures stay as they are.
    /// Needs five stations with the figure; the first and the last are not judged.
    #[must_use]
    pub fn told_slips(&self) -> Vec<String> {
        let judged =
            [(StationColumn::BladeAngleDeg, "blade angle", false), (StationColumn::ChordM, "chord", true)];
        judged.into_iter().flat_map(|(column, name, relative)| self.slips(column, name, relative)).collect()
    }

    fn slips(&self, column: StationColumn, name: &str, relative: bool) -> Vec<String> {
        let rows = self.column(column);
        if rows.len() < 5 {
            return vec![];
        }
        let expected = |k: usize| {
            let [(r0, v0), (r, _), (r1, v1)] = [rows[k - 1], rows[k], rows[k + 1]];
            v0 + (v1 - v0) * (r - r0) / (r1 - r0)
        };
        let mut off = vec![0.0; rows.len()];
        for k in 1..rows.len() - 1 {
            off[k] = rows[k].1 - expected(k);
        }
        let mut sizes: Vec<f64> = off[1..rows.len() - 1].iter().map(|o| o.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        // The third part from below: a slip raises its neighbours' as well.
        let usual = sizes[sizes.len() / 3];
        let shown = column.shown();
        (1..rows.len() - 1)
            .filter(|&k| {
                let size = off[k].abs();
                let least = if relative { CHORD * rows[k].1.abs().max(expected(k).abs()) } else { ANGLE_DEG };
                // The ends have no line of their own to be thrown off from.
                let thrown = |n: usize| n == 0 || n + 1 == rows.len() || off[n] * off[k].signum() < -THROWN * size;
                // Of a slip and the neighbours that it throws off, the slip is farthest off.
                let farthest = off[k - 1].abs().max(off[k + 1].abs()) < size;
                least < size && UNUSUAL * usual < size && farthest && thrown(k - 1) && thrown(k + 1)
            })
            .map(|k| {
                format!(
                    "the {name} at {:.3} R, {} {}, does not go with its neighbours, which lead to {} {} there: if that is a slip, mend the row; it was taken as it stands",
                    rows[k].0 / self.blade.radius_m,
                    shown.text(Some(rows[k].1)),
                    shown.unit,
                    shown.text(Some(expected(k))),
                    shown.unit
                )
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Station;

    /// A blade of 1 m with a true helix' angles, a shank that widens into the blade, and its stations at uneven places.
    fn table() -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for (r, chord) in [
            (0.12, 0.06),
            (0.2, 0.061),
            (0.26, 0.11),
            (0.35, 0.15),
            (0.5, 0.16),
            (0.6, 0.155),
            (0.72, 0.14),
            (0.85, 0.115),
            (0.95, 0.07),
        ] {
            let mut station = Station::at(r, 1.0);
            station.chord_m = Some(chord);
            station.blade_angle_deg = Some((0.2_f64 / r).atan().to_degrees());
            table.stations.push(station);
        }
        table
    }

    #[test]
    fn a_mistyped_figure_is_told_and_no_other() {
        assert_eq!(table().told_slips(), Vec::<String>::new());
        for k in 1..8 {
            let mut wrong = table();
            wrong.stations[k].blade_angle_deg = Some(80.0);
            let told = wrong.told_slips();
            let place = format!("{:.3} R, 80.0", wrong.stations[k].radius_m);
            assert!(told.len() == 1 && told[0].contains(&place), "{k}: {told:?}");
            let mut wrong = table();
            wrong.stations[k].chord_m = wrong.stations[k].chord_m.map(|c| 10.0 * c);
            let told = wrong.told_slips();
            assert!(told.len() == 1 && told[0].starts_with("the chord"), "{k}: {told:?}");
        }
    }
}
