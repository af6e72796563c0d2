//! Foot points on an outline: first searched for along the whole outline, then tracked.

use std::f64::consts::PI;

use super::{BandPoint, State};
use crate::polygon::{dot, left, norm, scale, sub};
use crate::shape::Shape;
use crate::shape_cubics::{OutlineAt, ShapeCubics};

/// The position of a foot point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Foot {
    /// On back or face, at `t`.
    Side(f64),
    /// On the flat end, at this height above the mean line in chords.
    End(f64),
}

/// Whether a foot point on a side is the corner with the flat end.
pub(super) fn is_corner(t: f64) -> bool {
    PI <= t.abs() + 1e-12
}

/// Steps along the outline to a foot point in each iteration. The next iteration continues from there.
const N_FOOT_STEPS: usize = 1;

/// The same in the first search.
const N_FIRST_FOOT_STEPS: usize = 3;

/// After a step below this, rad, the point and tangent are not evaluated again. The distance to the tangent then equals that to the outline within some
/// ten-millionths of the chord, even at noses.
const FOLLOWED: f64 = 1e-3;

/// Samples of each side in the first search for foot points.
const N_SAMPLES: usize = 120;

/// Beyond this angle from the nose a point may belong to the flat end instead of a side.
const END_REGION: f64 = PI - 0.5;

impl State<'_> {
    /// Foot points, residuals (positive outside) and normals of all points. `from_scratch` searches the whole outline first.
    pub(super) fn find_feet(&mut self, from_scratch: bool) {
        let samples = if from_scratch { Samples::of(&self.value) } else { Samples::default() };
        let (value, change) = (ShapeCubics::of(&self.value), ShapeCubics::of(&self.change));
        for (i, point) in self.points.iter().enumerate() {
            let shape = OutlineAt::new(&value, &change, point.span);
            let start = match self.feet[i] {
                Foot::Side(t) if !from_scratch => t,
                Foot::End(_) if !from_scratch => {
                    if point.normal[1] < 0.0 {
                        -PI
                    } else {
                        PI
                    }
                }
                _ => samples.nearest(point),
            };
            let steps = if from_scratch { N_FIRST_FOOT_STEPS } else { N_FOOT_STEPS };
            let (foot, normal, residual) = nearest_foot(&shape, point.at, start, steps);
            self.feet[i] = foot;
            self.normals[i] = normal;
            self.residuals[i] = residual;
        }
        self.feet_found = true;
    }
}

/// Samples of an outline for the search for foot points, sorted by their first coordinate: parameter, point, normal.
#[derive(Debug, Default)]
struct Samples(Vec<(f64, [f64; 2], [f64; 2])>);

impl Samples {
    fn of(shape: &Shape) -> Self {
        let mut samples: Vec<_> = (0..=2 * N_SAMPLES)
            .map(|i| PI * (i as f64 / N_SAMPLES as f64 - 1.0))
            .map(|t| (t, shape.point_and_tangent(t)))
            .map(|(t, (p, d))| (t, p, left(d)))
            .collect();
        samples.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
        Self(samples)
    }

    /// Parameter of the nearest sample whose normal agrees with that of the scan. A sample is at least as far away as its first coordinate, so the search ends
    /// where that distance exceeds the best.
    fn nearest(&self, point: &BandPoint) -> f64 {
        let mut best = (f64::INFINITY, 0.0);
        let length = norm(point.normal);
        let middle = self.0.partition_point(|(_, p, _)| p[0] < point.at[0]);
        let (before, after) = self.0.split_at(middle);
        let mut look = |(t, p, n): &(f64, [f64; 2], [f64; 2])| {
            if best.0 < (p[0] - point.at[0]).abs() {
                return false;
            }
            let facing = dot(*n, point.normal) / (norm(*n) * length).max(1e-30);
            let d = norm(sub(point.at, *p)) * if facing < 0.0 { 10.0 } else { 1.0 };
            if d < best.0 {
                best = (d, *t);
            }
            true
        };
        let _ = after.iter().all(&mut look);
        let _ = before.iter().rev().all(&mut look);
        best.1
    }
}

/// Foot point, unit normal and signed distance of a point, tracked from the parameter `start`.
fn nearest_foot(shape: &OutlineAt<'_>, point: [f64; 2], start: f64, steps: usize) -> (Foot, [f64; 2], f64) {
    let (low, high) = if start < 0.0 { (-PI, 0.5) } else { (-0.5, PI) };
    let mut t = start;
    let least = 1e-8 * dot(shape.chord_vector(), shape.chord_vector());
    let mut last = None;
    for _ in 0..steps {
        let (p, d) = shape.point_and_tangent(t);
        last = Some((t, p, d));
        t = (t + (dot(sub(point, p), d) / dot(d, d).max(least)).clamp(-0.3, 0.3)).clamp(low, high);
    }
    let (p, d) = match last {
        // So close to the foot point the tangent is that of the foot point and can be used for the distance.
        Some((before, p, d)) if (t - before).abs() < FOLLOWED && t.abs() < END_REGION => (p, d),
        _ => shape.point_and_tangent(t),
    };
    let side = left(d);
    let gap = sub(point, p);
    let per_length = 1.0 / norm(side).max(1e-30);
    let mut best = (Foot::Side(t), scale(side, per_length), dot(gap, side) * per_length);
    if is_corner(t) {
        // Beyond the corner of side and end the distance is that to the corner itself.
        let d = norm(gap);
        if 0.0 < d {
            let outside = if 0.0 <= dot(gap, shape.tail_direction()) || 0.0 <= best.2 { 1.0 } else { -1.0 };
            best = (best.0, scale(gap, outside / d), outside * d);
        }
    }
    if END_REGION < t.abs() {
        let end = foot_on_end(shape, point);
        if end.2.abs() < norm(gap) && end.3 {
            return (end.0, end.1, end.2);
        }
    }
    best
}

/// Foot point on the flat end, its normal, its distance, and whether it is within the width of the end.
fn foot_on_end(shape: &OutlineAt<'_>, point: [f64; 2]) -> (Foot, [f64; 2], f64, bool) {
    let out = shape.tail_direction();
    let out = scale(out, 1.0 / norm(out));
    let gap = sub(point, shape.trailing_edge());
    let (across, half) = (dot(gap, left(out)) / norm(shape.chord_vector()), shape.half_tail().max(0.0));
    (Foot::End(across), out, dot(gap, out), across.abs() <= half)
}
