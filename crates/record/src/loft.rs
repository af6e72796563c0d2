//! The outlines of a table in blade axes, interpolated between stations. The scan is compared with this surface.

use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_section::signed_distance;
use bladeform_table::{SectionOutline, Station, StationTable};

/// Points on each side (back and face) of an interpolated outline.
const POINTS_PER_SIDE: usize = 60;

/// The fitted outlines as one surface along the radius. Lengths in metres, blade axes.
#[derive(Clone, Debug)]
pub(crate) struct Loft {
    radii_m: Vec<f64>,
    /// Each outline point as two curves along the radius.
    points: Vec<[MonotoneCubic; 2]>,
}

impl Loft {
    /// The surface through the stations that have an outline, a chord and a blade angle; `None` for fewer than two.
    pub(crate) fn through(table: &StationTable) -> Option<Self> {
        let rows: Vec<(f64, Vec<[f64; 2]>)> = table
            .stations
            .iter()
            .filter_map(|s| {
                Some((
                    s.radius_m,
                    resampled(s.outline.as_ref()?)?.iter().map(|p| placed(s, *p)).collect::<Option<_>>()?,
                ))
            })
            .collect();
        let radii_m: Vec<f64> = rows.iter().map(|row| row.0).collect();
        let curve = |k: usize, axis: usize| {
            MonotoneCubic::through(&rows.iter().map(|(r, p)| (*r, p[k][axis])).collect::<Vec<_>>())
        };
        let points =
            (0..2 * POINTS_PER_SIDE).map(|k| Some([curve(k, 0)?, curve(k, 1)?])).collect::<Option<_>>()?;
        Some(Self { radii_m, points })
    }

    /// First and last radius, m.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.radii_m[0], self.radii_m[self.radii_m.len() - 1])
    }

    /// The closed outline at a radius, blade axes `x`, `y`, m.
    pub(crate) fn outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        self.points.iter().map(|[x, y]| [x.value(radius_m), y.value(radius_m)]).collect()
    }

    /// Distance of a blade point from the outline at its radius, in that plane, m, positive outside; `None` beyond the stations.
    pub(crate) fn distance(&self, [x, y, z]: [f64; 3]) -> Option<f64> {
        let (first, last) = self.range();
        (first..=last).contains(&z).then(|| signed_distance(&self.outline(z), [x, y]))
    }
}

/// A point of a station's outline (chord line along `x`, leading edge at 0) in blade axes, m; `None` without chord or angle.
///
/// In blade axes the leading edge is towards `x`, so the chord line runs in the opposite direction. If a table has no mid-chord, it is assumed to be on the span axis.
pub(crate) fn placed(station: &Station, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
    let (sin, cos) = station.blade_angle_deg?.to_radians().sin_cos();
    let ahead = station.chord_m? / 2.0 - x;
    let (mx, my) = (station.mid_chord_x_m.unwrap_or(0.0), station.mid_chord_y_m.unwrap_or(0.0));
    Some([mx + ahead * cos - y * sin, my + ahead * sin + y * cos])
}

/// Converts a point from blade axes to the axes of a station's outline; the inverse of [`placed`].
pub(crate) fn in_outline_axes(station: &Station, [x, y]: [f64; 2]) -> Option<[f64; 2]> {
    let (sin, cos) = station.blade_angle_deg?.to_radians().sin_cos();
    let (dx, dy) = (x - station.mid_chord_x_m.unwrap_or(0.0), y - station.mid_chord_y_m.unwrap_or(0.0));
    Some([station.chord_m? / 2.0 - (dx * cos + dy * sin), dy * cos - dx * sin])
}

/// The outline resampled at the same length fractions of its two sides at every station: from the leading edge along the face to the trailing
/// edge, then along the back. `None` for an outline of fewer than four points.
fn resampled(outline: &SectionOutline) -> Option<Vec<[f64; 2]>> {
    let points: Vec<[f64; 2]> = outline.points().collect();
    let n = points.len();
    if n < 4 {
        return None;
    }
    let extreme = |better: fn(f64, f64) -> bool| {
        (1..n).fold(0, |best, k| if better(points[k][0], points[best][0]) { k } else { best })
    };
    let (nose, tail) = (extreme(|a, b| a < b), extreme(|a, b| a > b));
    let side = |from: usize, to: usize| -> Vec<[f64; 2]> {
        (0..=(to + n - from) % n).map(|k| points[(from + k) % n]).collect()
    };
    // The first point of either side is the last of the other.
    let shares = |k: usize| 0.5 - 0.5 * (std::f64::consts::PI * k as f64 / POINTS_PER_SIDE as f64).cos();
    let walk = |side: &[[f64; 2]]| (0..POINTS_PER_SIDE).map(|k| along(side, shares(k))).collect::<Vec<_>>();
    Some([walk(&side(nose, tail)), walk(&side(tail, nose))].concat())
}

/// The point at a fraction of the length of an open polyline.
fn along(chain: &[[f64; 2]], share: f64) -> [f64; 2] {
    let length = |w: &[[f64; 2]]| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
    let mut left = share * chain.windows(2).map(length).sum::<f64>();
    for w in chain.windows(2) {
        let step = length(w);
        if left <= step && step > 0.0 {
            let t = left / step;
            return [w[0][0] + t * (w[1][0] - w[0][0]), w[0][1] + t * (w[1][1] - w[0][1])];
        }
        left -= step;
    }
    chain[chain.len() - 1]
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// A blade with elliptic sections: half chord `0.1 - 0.05 z`, half thickness a tenth of it, at 30 deg, with swept mid-chord.
    pub(crate) fn elliptic_table() -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for k in 0..6 {
            let z = 0.3 + 0.1 * f64::from(k);
            let mut station = Station::at(z, 1.0);
            let a = half_chord(z);
            station.chord_m = Some(2.0 * a);
            station.blade_angle_deg = Some(30.0);
            station.mid_chord_x_m = Some(0.02 * z);
            station.mid_chord_y_m = Some(-0.01);
            let points: Vec<[f64; 2]> = (0..400)
                .map(|i| std::f64::consts::TAU * f64::from(i) / 400.0)
                .map(|t| [a + a * t.cos(), 0.1 * a * t.sin()])
                .collect();
            station.outline = Some(SectionOutline::from_points(&points));
            table.stations.push(station);
        }
        table
    }

    fn half_chord(z: f64) -> f64 {
        0.1 - 0.05 * z
    }

    #[test]
    fn a_linear_taper_is_met_between_stations() {
        let loft = Loft::through(&elliptic_table()).unwrap();
        let (sin, cos) = 30_f64.to_radians().sin_cos();
        // On the leading edge and half a millimetre ahead of it, midway between stations. 120 points of an ellipse are accurate to 0.02 mm there.
        let z = 0.55;
        for ahead in [0.0, 0.0005] {
            let a = half_chord(z) + ahead;
            let found = loft.distance([0.02 * z + a * cos, -0.01 + a * sin, z]).unwrap();
            assert!((found - ahead).abs() < 2e-5, "{found} against {ahead}");
        }
        assert!(loft.distance([0.02 * z, -0.01, z]).unwrap() < -0.005);
        assert_eq!(loft.distance([0.0, 0.0, 0.95]), None);
    }

    #[test]
    fn axes_of_the_outline_and_of_the_blade_are_each_other_s_inverse() {
        let station = &elliptic_table().stations[2];
        let back = in_outline_axes(station, placed(station, [0.013, 0.004]).unwrap()).unwrap();
        assert!((back[0] - 0.013).abs() < 1e-15 && (back[1] - 0.004).abs() < 1e-15);
        // The leading edge (0, 0) is towards x and, at a positive angle, towards the flight direction.
        let nose = placed(station, [0.0, 0.0]).unwrap();
        assert!(nose[0] > 0.02 * 0.5 && nose[1] > -0.01);
    }
}
