//! The outlines of a table in blade axes, interpolated between stations. The scan is compared with this surface.

use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_numeric::parallel;
use bladeform_section::signed_distance;
use bladeform_table::{SectionOutline, Station, StationTable};

use crate::patches::BladeSide;

/// Most outlines of [`Levels`], for tables of an odd shape.
const MOST_LEVELS: usize = 4000;
/// Points on each side (back and face) of an interpolated outline.
pub(crate) const POINTS_PER_SIDE: usize = 60;
/// Points of an interpolated outline.
const N_POINTS: usize = 2 * POINTS_PER_SIDE;
/// Factor on a distance that is compared with another one: far above rounding.
const NEAR_ENOUGH: f64 = 1.0 + 1e-9;

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
        let points = (0..N_POINTS).map(|k| Some([curve(k, 0)?, curve(k, 1)?])).collect::<Option<_>>()?;
        Some(Self { radii_m, points })
    }

    /// Radii of the outlines, m.
    pub(crate) fn radii_m(&self) -> &[f64] {
        &self.radii_m
    }

    /// First and last radius, m.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.radii_m[0], self.radii_m[self.radii_m.len() - 1])
    }

    /// The closed outline at a radius, blade axes `x`, `y`, m.
    pub(crate) fn outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let (first, last) = self.range();
        if !(first..=last).contains(&radius_m) {
            return self.points.iter().map(|[x, y]| [x.value(radius_m), y.value(radius_m)]).collect();
        }
        // All curves have the same radii.
        let k = self.points[0][0].interval(radius_m);
        self.points.iter().map(|[x, y]| [x.value_in(k, radius_m), y.value_in(k, radius_m)]).collect()
    }

    /// Distance of a blade point from the outline at its radius, in that plane, m, positive outside; `None` beyond the stations.
    pub(crate) fn distance(&self, [x, y, z]: [f64; 3]) -> Option<f64> {
        let (first, last) = self.range();
        (first..=last).contains(&z).then(|| signed_distance(&self.outline(z), [x, y]))
    }
}

/// Where a point lies on the surface: its distance from the outline at its radius, the side, and the way along it from the leading edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Foot {
    /// Distance in the plane of the section, m, positive outside.
    pub(crate) distance_m: f64,
    /// The side.
    pub(crate) side: BladeSide,
    /// Length of the outline from the leading edge to the foot, m.
    pub(crate) along_m: f64,
}

/// Outlines of a surface at evenly spaced radii, close enough to be joined by straight lines: quick for many points.
#[derive(Clone, Debug)]
pub(crate) struct Levels {
    first_m: f64,
    last_m: f64,
    step_m: f64,
    outlines: Vec<Vec<[f64; 2]>>,
    /// Longest side of each outline, m.
    longest_m: Vec<f64>,
    /// Length of each outline from the leading edge to every corner, on the side of that corner; the trailing edge counts to the face. m
    along_m: Vec<[f64; N_POINTS]>,
}

/// Corners of an outline that are skipped together where the first of them is too far away.
const CORNERS_TOGETHER: usize = 4;

impl Levels {
    /// The outlines of a surface, about `step_m` apart.
    pub(crate) fn of(loft: &Loft, step_m: f64) -> Self {
        let (first_m, last_m) = loft.range();
        let steps = (((last_m - first_m) / step_m).ceil() as usize).clamp(1, MOST_LEVELS);
        let step_m = (last_m - first_m) / steps as f64;
        let radii: Vec<f64> = (0..=steps).map(|k| first_m + k as f64 * step_m).collect();
        let outlines = parallel::map(&radii, |r| loft.outline(*r));
        let sides =
            |o: &Vec<[f64; 2]>| (0..o.len()).map(|k| length(o[k], o[(k + 1) % o.len()])).fold(0.0, f64::max);
        let longest_m = outlines.iter().map(sides).collect();
        let along_m = outlines.iter().map(|o| along_sides(o)).collect();
        Self { first_m, last_m, step_m, outlines, longest_m, along_m }
    }

    /// First and last radius, m.
    pub(crate) const fn range(&self) -> (f64, f64) {
        (self.first_m, self.last_m)
    }

    /// The closed outline at a radius between the first and the last.
    pub(crate) fn outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let (k, t) = self.level(radius_m);
        let between = |(a, b): (&[f64; 2], &[f64; 2])| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
        self.outlines[k].iter().zip(&self.outlines[k + 1]).map(between).collect()
    }

    /// Where a point lies on the surface; `None` beyond the stations.
    pub(crate) fn foot(&self, [x, y, z]: [f64; 3]) -> Option<Foot> {
        if !(self.first_m..=self.last_m).contains(&z) {
            return None;
        }
        let (k, t) = self.level(z);
        let mut outline = [[0.0; 2]; N_POINTS];
        for (p, (a, b)) in outline.iter_mut().zip(self.outlines[k].iter().zip(&self.outlines[k + 1])) {
            *p = [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
        }
        // The nearest place is not farther than the nearest of every fourth corner, and on a side that begins within four sides' length of its fourth corner. No side of an outline between two is
        // longer than theirs.
        let square_to = |p: [f64; 2]| (x - p[0]) * (x - p[0]) + (y - p[1]) * (y - p[1]);
        let heads: [f64; N_POINTS / CORNERS_TOGETHER] =
            std::array::from_fn(|i| square_to(outline[CORNERS_TOGETHER * i]));
        let nearest = heads.iter().copied().fold(f64::INFINITY, f64::min).sqrt();
        let longest = self.longest_m[k].max(self.longest_m[k + 1]);
        let reach = (nearest + CORNERS_TOGETHER as f64 * longest) * NEAR_ENOUGH;
        let next = |j: usize| if j + 1 == N_POINTS { 0 } else { j + 1 };
        let (mut best, mut inside) = ((f64::INFINITY, 0, 0.0), false);
        for (j, a) in outline.iter().enumerate() {
            let b = outline[next(j)];
            // A ray towards +x is crossed by sides that span the point's height.
            if (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                inside = !inside;
            }
        }
        for (i, _) in heads.iter().enumerate().filter(|(_, square)| **square <= reach * reach) {
            for j in CORNERS_TOGETHER * i..CORNERS_TOGETHER * (i + 1) {
                let (a, b) = (outline[j], outline[next(j)]);
                let (side, to) = ([b[0] - a[0], b[1] - a[1]], [x - a[0], y - a[1]]);
                let square = side[0] * side[0] + side[1] * side[1];
                let t = if square > 0.0 {
                    ((to[0] * side[0] + to[1] * side[1]) / square).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let off = (to[0] - t * side[0]).powi(2) + (to[1] - t * side[1]).powi(2);
                if off < best.0 {
                    best = (off, j, t);
                }
            }
        }
        let (off, j, on_side) = best;
        let own = length(outline[j], outline[next(j)]);
        let to_corner = |corner: usize| {
            let [below, above] = [k, k + 1].map(|level| self.along_m[level][corner]);
            below + t * (above - below)
        };
        // The back runs from the trailing edge to the leading edge.
        let (side, along_m) = if j < POINTS_PER_SIDE {
            (BladeSide::Face, to_corner(j) + on_side * own)
        } else {
            let rest = if j + 1 == N_POINTS { 0.0 } else { to_corner(j + 1) };
            (BladeSide::Back, rest + (1.0 - on_side) * own)
        };
        let distance_m = if inside { -off.sqrt() } else { off.sqrt() };
        Some(Foot { distance_m, side, along_m })
    }

    /// The outline below a radius, and how far the radius lies towards the next one.
    fn level(&self, radius_m: f64) -> (usize, f64) {
        let at = ((radius_m - self.first_m) / self.step_m).clamp(0.0, (self.outlines.len() - 1) as f64);
        let k = (at as usize).min(self.outlines.len() - 2);
        (k, at - k as f64)
    }

    /// Length of one side of the outline at a radius, m.
    pub(crate) fn side_length_m(&self, radius_m: f64, side: BladeSide) -> f64 {
        let outline = self.outline(radius_m);
        let first = side as usize * POINTS_PER_SIDE;
        let piece = |k: usize| length(outline[k], outline[(k + 1) % outline.len()]);
        (first..first + POINTS_PER_SIDE).map(piece).sum()
    }

    /// Area of both sides between the first and the last radius, m2, as if the outlines stood upright on one another.
    pub(crate) fn area_m2(&self) -> f64 {
        let around = |z: f64| BladeSide::ALL.into_iter().map(|side| self.side_length_m(z, side)).sum::<f64>();
        let middles = (0..self.outlines.len() - 1).map(|k| self.first_m + (k as f64 + 0.5) * self.step_m);
        middles.map(around).sum::<f64>() * self.step_m
    }

    /// Distance of neighbouring outlines, m.
    pub(crate) const fn step_m(&self) -> f64 {
        self.step_m
    }

    /// The point of one side at a length from the leading edge, blade axes `x`, `y`, m.
    pub(crate) fn point(&self, radius_m: f64, side: BladeSide, along_m: f64) -> [f64; 2] {
        let points = side_of(&self.outline(radius_m), side);
        let length: f64 = points.windows(2).map(|w| length(w[0], w[1])).sum();
        along(&points, (along_m / length).clamp(0.0, 1.0))
    }

    /// Place of a foot along the chord line from the leading edge, as a fraction of the distance of leading and trailing edge.
    pub(crate) fn chord_share(&self, radius_m: f64, side: BladeSide, along_m: f64) -> f64 {
        let outline = self.outline(radius_m);
        let at = self.point(radius_m, side, along_m);
        let (nose, tail) = (outline[0], outline[POINTS_PER_SIDE]);
        let chord = [tail[0] - nose[0], tail[1] - nose[1]];
        ((at[0] - nose[0]) * chord[0] + (at[1] - nose[1]) * chord[1])
            / (chord[0] * chord[0] + chord[1] * chord[1])
    }
}

/// Length from the leading edge to every corner of an outline of [`Loft`], on the side of that corner, m.
fn along_sides(outline: &[[f64; 2]]) -> [f64; N_POINTS] {
    let own = |k: usize| length(outline[k], outline[(k + 1) % N_POINTS]);
    let mut along = [0.0; N_POINTS];
    for k in 1..=POINTS_PER_SIDE {
        along[k] = along[k - 1] + own(k - 1);
    }
    let mut rest = 0.0;
    for k in (POINTS_PER_SIDE + 1..N_POINTS).rev() {
        rest += own(k);
        along[k] = rest;
    }
    along
}

/// One side of an outline of [`Loft`], from the leading to the trailing edge.
fn side_of(outline: &[[f64; 2]], side: BladeSide) -> Vec<[f64; 2]> {
    match side {
        BladeSide::Face => outline[..=POINTS_PER_SIDE].to_vec(),
        BladeSide::Back => outline[POINTS_PER_SIDE..].iter().chain(&outline[..1]).rev().copied().collect(),
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

/// Distance of two points. Lengths of a blade need no `hypot`, which guards against overflow and is many times as slow.
fn length(a: [f64; 2], b: [f64; 2]) -> f64 {
    ((b[0] - a[0]) * (b[0] - a[0]) + (b[1] - a[1]) * (b[1] - a[1])).sqrt()
}

/// The point at a fraction of the length of an open polyline.
fn along(chain: &[[f64; 2]], share: f64) -> [f64; 2] {
    let mut left = share * chain.windows(2).map(|w| length(w[0], w[1])).sum::<f64>();
    for w in chain.windows(2) {
        let step = length(w[0], w[1]);
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
    fn a_foot_is_on_its_side_as_far_from_the_leading_edge_as_the_point() {
        let loft = Loft::through(&elliptic_table()).unwrap();
        let levels = Levels::of(&loft, 0.004);
        let (sin, cos) = 30_f64.to_radians().sin_cos();
        let z = 0.55;
        let a = half_chord(z);
        for (height, side) in [(0.1, BladeSide::Back), (-0.1, BladeSide::Face)] {
            // At half the chord of the ellipse, 1 mm outside. Half the length of one side is a quarter of its girth.
            let across = height * a + 0.001 * height.signum();
            let foot = levels.foot([0.02 * z - across * sin, -0.01 + across * cos, z]).unwrap();
            assert_eq!(foot.side, side);
            assert!((foot.distance_m - 0.001).abs() < 2e-5, "{foot:?}");
            let length = levels.side_length_m(z, side);
            assert!((foot.along_m / length - 0.5).abs() < 0.01, "{foot:?} of {length}");
            assert!((levels.chord_share(z, side, foot.along_m) - 0.5).abs() < 0.01);
        }
        assert_eq!(levels.foot([0.0, 0.0, 0.95]), None);
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
