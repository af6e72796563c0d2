//! Foot points on an outline: first searched for along the whole outline, then tracked.

use std::f64::consts::PI;

use super::{BandPoint, State};
use crate::lanes::{LANES, Lanes};
use crate::polygon::{dot, left, norm, scale, sub};
use crate::shape::Shape;
use crate::shape_cubics::{OutlineAt, OutlinesAt, ShapeCubics};

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

/// A foot point may pass the nose by this angle while it is tracked, and move by so much in one step, rad.
const NOSE_PASSED: f64 = 0.5;
const MOST_STEP: f64 = 0.3;

/// Beyond this angle from the nose a point may belong to the flat end instead of a side.
const END_REGION: f64 = PI - 0.5;

impl State<'_> {
    /// Foot points, residuals (positive outside) and normals of all points. `from_scratch` searches the whole outline first.
    pub(super) fn find_feet(&mut self, from_scratch: bool) {
        let samples = if from_scratch { Samples::of(&self.value) } else { Samples::default() };
        let (value, change) = (ShapeCubics::of(&self.value), ShapeCubics::of(&self.change));
        let start = |i: usize| match self.feet[i] {
            Foot::Side(t) if !from_scratch => t,
            Foot::End(_) if !from_scratch => {
                if self.points[i].normal[1] < 0.0 {
                    -PI
                } else {
                    PI
                }
            }
            _ => samples.nearest(&self.points[i]),
        };
        let mut places: Vec<(usize, f64)> = (0..self.points.len()).map(|i| (i, start(i))).collect();
        let steps = if from_scratch { N_FIRST_FOOT_STEPS } else { N_FOOT_STEPS };
        for step in 1..=steps {
            let mut moved = Vec::with_capacity(places.len());
            for few in places.chunks(LANES) {
                let (on, t) = self.outlines(&value, &change, few);
                let (p, d) = on.points_and_tangents(t);
                let next = next_places(&on, self.at(few), t, p, d).0;
                for (k, &(i, before)) in few.iter().enumerate() {
                    // So close to the foot point the tangent is that of the foot point and can be used for the distance.
                    if step == steps && (next[k] - before).abs() < FOLLOWED && next[k].abs() < END_REGION {
                        let (p, d) = (p.map(|p| p.0[k]), d.map(|d| d.0[k]));
                        self.take_foot(i, next[k], p, d, &value, &change);
                    } else {
                        moved.push((i, next[k]));
                    }
                }
            }
            places = moved;
        }
        for few in places.chunks(LANES) {
            let (on, t) = self.outlines(&value, &change, few);
            let (p, d) = on.points_and_tangents(t);
            for (k, &(i, t)) in few.iter().enumerate() {
                self.take_foot(i, t, p.map(|p| p.0[k]), d.map(|d| d.0[k]), &value, &change);
            }
        }
        self.feet_found = true;
    }
}

impl State<'_> {
    /// The outlines at the places along the span of a few points, and the parameters; missing ones are those of the first.
    #[inline]
    fn outlines<'a>(
        &self,
        value: &'a ShapeCubics,
        change: &'a ShapeCubics,
        few: &[(usize, f64)],
    ) -> (OutlinesAt<'a>, Lanes) {
        let of = |k: usize| few.get(k).unwrap_or(&few[0]);
        let spans = Lanes(std::array::from_fn(|k| self.points[of(k).0].span));
        (OutlinesAt::new(value, change, spans), Lanes(std::array::from_fn(|k| of(k).1)))
    }

    /// The same points.
    #[inline]
    fn at(&self, few: &[(usize, f64)]) -> [Lanes; 2] {
        let of = |k: usize| self.points[few.get(k).unwrap_or(&few[0]).0].at;
        [0, 1].map(|axis| Lanes(std::array::from_fn(|k| of(k)[axis])))
    }

    /// Foot point, unit normal and signed distance of a point from what the outline is at the parameter `t` or very near it: the point `p` and the tangent `d`.
    #[inline]
    fn take_foot(
        &mut self,
        i: usize,
        t: f64,
        p: [f64; 2],
        d: [f64; 2],
        value: &ShapeCubics,
        change: &ShapeCubics,
    ) {
        let side = left(d);
        let gap = sub(self.points[i].at, p);
        let per_length = 1.0 / norm(side).max(1e-30);
        let mut best = (Foot::Side(t), scale(side, per_length), dot(gap, side) * per_length);
        if END_REGION < t.abs() {
            let shape = OutlineAt::new(value, change, self.points[i].span);
            best = near_end(&shape, self.points[i].at, t, gap, best);
        }
        (self.feet[i], self.normals[i], self.residuals[i]) = best;
    }
}

/// One step of a few points towards their foot points, along the outline: the points `p` at the parameters `t`, with the tangents `d`.
#[inline]
fn next_places(on: &OutlinesAt<'_>, at: [Lanes; 2], t: Lanes, p: [Lanes; 2], d: [Lanes; 2]) -> Lanes {
    let dot = |[ax, ay]: [Lanes; 2], [bx, by]: [Lanes; 2]| ax * bx + ay * by;
    let c = on.chord_vectors();
    let least = Lanes::all(1e-8) * dot(c, c);
    let step = dot([at[0] - p[0], at[1] - p[1]], d) / dot(d, d).at_least(least);
    Lanes(std::array::from_fn(|k| {
        let (low, high) = if t.0[k] < 0.0 { (-PI, NOSE_PASSED) } else { (-NOSE_PASSED, PI) };
        (t.0[k] + step.0[k].clamp(-MOST_STEP, MOST_STEP)).clamp(low, high)
    }))
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

/// Foot point, unit normal and signed distance of a point near the tail, from those on the side: `t` and the `gap` to it.
fn near_end(
    shape: &OutlineAt<'_>,
    point: [f64; 2],
    t: f64,
    gap: [f64; 2],
    mut best: (Foot, [f64; 2], f64),
) -> (Foot, [f64; 2], f64) {
    if is_corner(t) {
        // Beyond the corner of side and end the distance is that to the corner itself.
        let d = norm(gap);
        if 0.0 < d {
            let outside = if 0.0 <= dot(gap, shape.tail_direction()) || 0.0 <= best.2 { 1.0 } else { -1.0 };
            best = (best.0, scale(gap, outside / d), outside * d);
        }
    }
    let end = foot_on_end(shape, point);
    if end.2.abs() < norm(gap) && end.3 { (end.0, end.1, end.2) } else { best }
}

/// Foot point on the flat end, its normal, its distance, and whether it is within the width of the end.
fn foot_on_end(shape: &OutlineAt<'_>, point: [f64; 2]) -> (Foot, [f64; 2], f64, bool) {
    let out = shape.tail_direction();
    let out = scale(out, 1.0 / norm(out));
    let gap = sub(point, shape.trailing_edge());
    let (across, half) = (dot(gap, left(out)) / norm(shape.chord_vector()), shape.half_tail().max(0.0));
    (Foot::End(across), out, dot(gap, out), across.abs() <= half)
}
