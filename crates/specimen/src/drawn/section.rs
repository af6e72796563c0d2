//! A free section: back and face are two curves by control points, grown all round by a radius that goes from the nose's to the tail's.
//!
//! Neither a mean line nor a thickness distribution goes into it. The outline is the envelope of circles whose centres lie on the two
//! curves, so an edge whose radius is above zero ends in an exact circular arc.

use bladeform_numeric::vector::{distance_hypot, sub};
use bladeform_section::{MeanLine, mean_line};

use super::bernstein::{MOST, curve};
use super::edge::Edge;

/// Exact curves of a section; all lengths are fractions of its own chord, along which `x` runs from nose to tail.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnSection {
    /// Kinds of nose and tail.
    pub edges: [Edge; 2],
    /// Control points of the back, nose to tail.
    pub back: [[f64; 2]; MOST],
    /// Control points of the face, nose to tail.
    pub face: [[f64; 2]; MOST],
    /// Radius by which the curves are grown at nose and tail.
    pub growth: [f64; 2],
}

/// Share of a nose's radius of curvature over which it is read from three points: the error is of the order of the square.
const NOSE_STEP: f64 = 0.03;

impl DrawnSection {
    /// Closed anticlockwise outline of about `n` corners, from the tail over the back to the nose and along the face; and the index of
    /// the corner at the nose.
    #[must_use]
    pub fn outline(&self, n: usize) -> (Vec<[f64; 2]>, usize) {
        let edge = (n / 16).max(8);
        let side = (n / 2).saturating_sub(edge).max(24);
        let mut points = Vec::with_capacity(2 * (side + edge) + 4);
        let even = |i: usize| 0.5 * (1.0 - (std::f64::consts::PI * i as f64 / side as f64).cos());
        points.extend((0..=side).rev().map(|i| self.at(true, even(i)).0));
        let nose = points.len() + if self.growth[0] == 0.0 { 0 } else { edge / 2 };
        self.arc(&mut points, 0, edge);
        points.extend((0..=side).map(|i| self.at(false, even(i)).0));
        self.arc(&mut points, 1, edge);
        points.dedup();
        while 1 < points.len() && points.first() == points.last() {
            points.pop();
        }
        let nose = nose.min(points.len() - 1);
        (points, nose)
    }

    /// Point and outward unit normal of a side at the parameter `t` in 0..1 from nose to tail.
    fn at(&self, back: bool, t: f64) -> ([f64; 2], [f64; 2]) {
        let (p, d) = curve(if back { &self.back } else { &self.face }, t);
        let speed = d[0].hypot(d[1]).max(1e-300);
        let tangent = d.map(|x| x / speed);
        let sign = if back { 1.0 } else { -1.0 };
        let across = [-sign * tangent[1], sign * tangent[0]];
        let [nose, tail] = self.growth;
        // Without slope and bend at both ends, so that the edges stay what they are.
        let share = t * t * t * (10.0 - t * (15.0 - 6.0 * t));
        let radius = nose + (tail - nose) * share;
        let lean = (tail - nose) * 30.0 * t * t * (1.0 - t) * (1.0 - t) / speed;
        let upright = (1.0 - lean * lean).max(0.0).sqrt();
        let normal = [0, 1].map(|k| upright * across[k] - lean * tangent[k]);
        ([0, 1].map(|k| p[k] + radius * normal[k]), normal)
    }

    /// Inner corners of the arc at the nose (`end` 0, from back to face) or the tail (1, from face to back).
    fn arc(&self, points: &mut Vec<[f64; 2]>, end: usize, n: usize) {
        let radius = self.growth[end];
        if radius == 0.0 {
            return;
        }
        let t = end as f64;
        let (first, second) = (self.at(end == 0, t).1, self.at(end == 1, t).1);
        let centre = self.back[if end == 0 { 0 } else { MOST - 1 }];
        let start = first[1].atan2(first[0]);
        let sweep = (second[1].atan2(second[0]) - start).rem_euclid(std::f64::consts::TAU);
        points.extend(
            (1..n)
                .map(|i| start + sweep * i as f64 / n as f64)
                .map(|a| [centre[0] + radius * a.cos(), centre[1] + radius * a.sin()]),
        );
    }

    /// Mean line by inscribed circles of an outline of `n` corners; `None` where no circle touches both sides.
    #[must_use]
    pub fn mean_line(&self, n: usize) -> Option<MeanLine> {
        let (outline, nose) = self.outline(n);
        mean_line(&outline, nose).ok()
    }

    /// Radius of curvature at the leading edge, fraction of the own chord; `NaN` for sharp and square noses, which have none.
    #[must_use]
    pub fn nose_radius(&self, outline: &[[f64; 2]], leading_edge: [f64; 2]) -> f64 {
        match self.edges[0] {
            Edge::Sharp | Edge::Square => f64::NAN,
            Edge::Compass => self.growth[0],
            Edge::Blunt => {
                // Curvature of a curve by control points at its first one: (n - 1)/n h/a^2, h the distance of the third from the tangent.
                let (a, b) = (sub(self.back[1], self.back[0]), sub(self.back[2], self.back[0]));
                let length = a[0].hypot(a[1]);
                let degree = (MOST - 1) as f64;
                let about = degree / (degree - 1.0) * length.powi(3) / (a[0] * b[1] - a[1] * b[0]).abs();
                curvature_radius(outline, leading_edge, NOSE_STEP * about)
            }
        }
    }
}

/// Radius of the circle through the corner nearest to `place` and the ones at least `reach` away on both sides.
fn curvature_radius(outline: &[[f64; 2]], place: [f64; 2], reach: f64) -> f64 {
    let n = outline.len();
    let Some(i) = (0..n)
        .min_by(|&a, &b| distance_hypot(outline[a], place).total_cmp(&distance_hypot(outline[b], place)))
    else {
        return f64::NAN;
    };
    let beyond = |step: usize| {
        let far = |k: &usize| reach <= distance_hypot(outline[(i + k * step) % n], outline[i]);
        (1..n).find(far).map(|k| outline[(i + k * step) % n])
    };
    match (beyond(n - 1), beyond(1)) {
        (Some(a), Some(c)) => {
            let b = outline[i];
            let cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            distance_hypot(a, b) * distance_hypot(b, c) * distance_hypot(a, c) / (2.0 * cross.abs())
        }
        _ => f64::NAN,
    }
}
