//! The outline model: a smooth mean line between leading and trailing edge with the half thickness at right angles on both sides,
//! a free nose, and a tail that may be blunt, round or sharp.
//!
//! ```text
//!   y (back)
//!   |      t > 0          x = (1 - cos t) / 2 along the chord line
//!   |   .--------.__
//!   |  (  mean line  `--.__
//!   |   `--.___________-----|  flat end of width 2 h(pi)
//!   +-------------------------> x
//!          t < 0 (face)
//! ```
//!
//! As a function of `t` a round nose is a smooth curve, and so are a round tail, a wedge and a sharp edge. The thickness of the published families
//! (square root of `x` and a polynomial) is an analytic function of `t`. Thickness at right angles to the mean line is the definition of the NACA families
//! (NACA Report 460). The variable `t` along the chord is that of H. Glauert (1926).

use std::f64::consts::PI;

use crate::basis::{N_MEAN, N_THICKNESS, mean_basis, thickness_basis, thickness_values};
use crate::polygon::{add, left, norm, scale, sub};
use crate::shape_cubics::ShapeCubics;
use crate::turn::sin_cos;

/// Number of parameters of a [`Shape`]: four of the two edges, then those of the mean line, then those of the half thickness.
pub(crate) const N_PARAMETERS: usize = 4 + N_MEAN + N_THICKNESS;
/// Index of the first coefficient of the mean line.
pub(crate) const FIRST_MEAN: usize = 4;
/// Index of the first coefficient of the half thickness.
pub(crate) const FIRST_THICKNESS: usize = 4 + N_MEAN;

/// A section's outline as a smooth closed curve. Edges are in the unit of the fitted points, the rest is in chords.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    pub(crate) p: [f64; N_PARAMETERS],
}

/// One position on the mean line.
pub(crate) struct Place {
    pub(crate) x: f64,
    pub(crate) height: f64,
    pub(crate) slope: f64,
    pub(crate) bend: f64,
    /// Square root of 1 + slope squared.
    pub(crate) q: f64,
}

impl Shape {
    /// A flat plate of zero thickness between two edges.
    pub(crate) fn plate(leading: [f64; 2], trailing: [f64; 2]) -> Self {
        let mut p = [0.0; N_PARAMETERS];
        p[..4].copy_from_slice(&[leading[0], leading[1], trailing[0], trailing[1]]);
        Self { p }
    }

    /// The point where the mean line of the parameters meets the outline at the nose. The leading edge by definition is that of [`Self::chord_ends`].
    #[must_use]
    pub fn leading_edge(&self) -> [f64; 2] {
        [self.p[0], self.p[1]]
    }
    /// The point where the mean line meets the outline at the tail.
    #[must_use]
    pub fn trailing_edge(&self) -> [f64; 2] {
        [self.p[2], self.p[3]]
    }
    /// The vector from [`Self::leading_edge`] to the trailing edge: the axis of the parameters, not the chord line.
    #[must_use]
    pub fn chord_vector(&self) -> [f64; 2] {
        sub(self.trailing_edge(), self.leading_edge())
    }
    /// Length of that vector, which differs from the chord by a few thousandths at most.
    #[must_use]
    pub fn chord(&self) -> f64 {
        norm(self.chord_vector())
    }
    pub(crate) fn mean_coefficients(&self) -> &[f64] {
        &self.p[FIRST_MEAN..FIRST_THICKNESS]
    }
    pub(crate) fn thickness_coefficients(&self) -> &[f64] {
        &self.p[FIRST_THICKNESS..]
    }
    /// Height of the mean line above the chord line at the fraction `x` of the chord, in chords.
    #[must_use]
    pub fn mean_height(&self, x: f64) -> f64 {
        mean_basis(x).sum(0, self.mean_coefficients())
    }
    /// Half thickness, in chords, at `t`. It is odd in `t`: negative on the face.
    #[must_use]
    pub fn half_thickness(&self, t: f64) -> f64 {
        t.signum() * thickness_values(t.abs()).sum(0, self.thickness_coefficients())
    }

    pub(crate) fn place(&self, t: f64) -> Place {
        let x = 0.5 * (1.0 - sin_cos(t).1);
        let mean = mean_basis(x);
        let c = self.mean_coefficients();
        let slope = mean.sum(1, c);
        Place { x, height: mean.sum(0, c), slope, bend: mean.sum(2, c), q: (1.0 + slope * slope).sqrt() }
    }

    /// The point at the height `h` (in chords) above the mean line, at right angles to it.
    pub(crate) fn off_mean_line(&self, at: &Place, h: f64) -> [f64; 2] {
        let c = self.chord_vector();
        let up = sub(left(c), scale(c, at.slope));
        add(add(self.leading_edge(), scale(c, at.x)), add(scale(left(c), at.height), scale(up, h / at.q)))
    }

    /// Point of the outline at `t` in -pi..pi: face, nose at 0, back.
    #[must_use]
    pub fn point(&self, t: f64) -> [f64; 2] {
        self.off_mean_line(&self.place(t), self.half_thickness(t))
    }

    /// Point and its derivative with respect to `t`.
    pub(crate) fn point_and_tangent(&self, t: f64) -> ([f64; 2], [f64; 2]) {
        let at = self.place(t);
        let basis = thickness_basis(t.abs());
        let (h, dh) = (
            t.signum() * basis.sum(0, self.thickness_coefficients()),
            basis.sum(1, self.thickness_coefficients()),
        );
        let (c, dx) = (self.chord_vector(), 0.5 * t.sin());
        let along = add(c, scale(left(c), at.slope));
        let up = sub(left(c), scale(c, at.slope));
        let tangent =
            add(scale(along, dx * (1.0 - h * at.bend / (at.q * at.q * at.q))), scale(up, dh / at.q));
        (self.off_mean_line(&at, h), tangent)
    }

    /// Radius of curvature of the outline at the leading edge, in the unit of the edges.
    #[must_use]
    pub fn leading_edge_radius(&self) -> f64 {
        // h = b t and x = t^2 / 4 near the nose, so h^2 = 4 b^2 x, the parabola of radius 2 b^2.
        let b = thickness_basis(0.0).sum(1, self.thickness_coefficients());
        2.0 * b * b * self.chord()
    }

    /// Closed anticlockwise outline, n x 2: from the tail over the back to the nose and along the face, at equal steps of `t`.
    #[must_use]
    pub fn outline(&self, n: usize) -> Vec<[f64; 2]> {
        let cubics = ShapeCubics::of(self);
        (0..n).map(|i| cubics.at_station().point(PI * (1.0 - 2.0 * i as f64 / (n - 1) as f64))).collect()
    }

    /// Unit vector along the mean line at the tail, pointing outwards.
    pub(crate) fn tail_direction(&self) -> [f64; 2] {
        let at = self.place(PI);
        let along = add(self.chord_vector(), scale(left(self.chord_vector()), at.slope));
        scale(along, 1.0 / norm(along))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tangent_is_the_derivative_of_the_point() {
        let mut shape = Shape::plate([0.1, 0.2], [1.9, -0.3]);
        for (i, v) in shape.p.iter_mut().enumerate().skip(4) {
            *v = if i < FIRST_THICKNESS { 0.01 * (i as f64 - 8.0) } else { 0.05 + 0.003 * i as f64 };
        }
        for t in [-3.0, -1.5, -0.4, 0.02, 0.7, 2.9] {
            let e = 1e-6;
            let numeric = scale(sub(shape.point(t + e), shape.point(t - e)), 0.5 / e);
            let (_, exact) = shape.point_and_tangent(t);
            assert!(norm(sub(numeric, exact)) < 1e-6, "{t}: {numeric:?} {exact:?}");
        }
    }
}
