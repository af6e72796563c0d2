//! Cubic B-splines over given knots: the basis with its derivatives, interpolation, least squares.
//!
//! Source: C. de Boor, "A practical guide to splines", Springer, 1978, chapter X (recurrence), chapter XIII (interpolation).
//!
//! ```
//! use bladeform_numeric::bspline::{BreakInterpolation, Knots};
//! let knots = Knots::clamped(vec![0.0, 0.2, 0.5, 1.0]);
//! let line = BreakInterpolation::new(knots.clone()).through(&[1.0, 1.4, 2.0, 3.0]).unwrap();
//! assert!((knots.value(&line, 0.7) - 2.4).abs() < 1e-12);
//! ```

use nalgebra::{DMatrix, DVector, Dyn, LU};

/// Degree of all splines here.
pub const DEGREE: usize = 3;

/// An end closer to a knot than this replaces it. Geometry kernels treat such close knots as one.
const SAME_KNOT: f64 = 1e-9;

/// A clamped cubic knot vector.
#[derive(Debug, Clone, PartialEq)]
pub struct Knots {
    breaks: Vec<f64>,
    full: Vec<f64>,
}

impl Knots {
    /// `breaks`: increasing, at least two. The ends are knots four times.
    #[must_use]
    pub fn clamped(breaks: Vec<f64>) -> Self {
        let (first, last) = (breaks[0], breaks[breaks.len() - 1]);
        let full = std::iter::repeat_n(first, DEGREE)
            .chain(breaks.iter().copied())
            .chain(std::iter::repeat_n(last, DEGREE))
            .collect();
        Self { breaks, full }
    }

    /// Increasing distinct knots.
    #[must_use]
    pub fn breaks(&self) -> &[f64] {
        &self.breaks
    }

    /// Number of coefficients.
    #[must_use]
    pub fn count(&self) -> usize {
        self.breaks.len() + DEGREE - 1
    }

    /// The knot `offset` places after the begin of an interval, the ends as often as needed.
    #[must_use]
    pub fn knot(&self, interval: usize, offset: isize) -> f64 {
        self.full[(interval + DEGREE).saturating_add_signed(offset).min(self.full.len() - 1)]
    }

    /// Number of the interval that contains `u`, and the values there of the basis functions of degree 0 to 3: row `p` holds
    /// the `p + 1` that are not zero. The interval's number is also the index of the first of the four of degree 3.
    ///
    /// Source: the recurrence of de Boor, chapter X.
    #[must_use]
    pub fn by_degree(&self, u: f64) -> (usize, [[f64; 4]; 4]) {
        let t = &self.full;
        let first = self.interval(u);
        let span = first + DEGREE;
        let mut by_degree = [[0.0; 4]; 4];
        by_degree[0][0] = 1.0;
        for p in 1..=DEGREE {
            for k in 0..=p {
                // Basis function span - p + k of degree p.
                let i = span + k - p;
                let mut value = 0.0;
                if k > 0 {
                    value += (u - t[i]) / (t[i + p] - t[i]) * by_degree[p - 1][k - 1];
                }
                if k < p {
                    value += (t[i + p + 1] - u) / (t[i + p + 1] - t[i + 1]) * by_degree[p - 1][k];
                }
                by_degree[p][k] = value;
            }
        }
        (first, by_degree)
    }

    /// Index of the first basis function that is not zero at `u`, and the values, first and second derivatives of the four functions.
    #[must_use]
    pub fn basis(&self, u: f64) -> (usize, [[f64; 4]; 3]) {
        let (first, by_degree) = self.by_degree(u);
        let (t, span) = (&self.full, first + DEGREE);
        // The derivative of a basis function is a difference of two functions of one degree less (de Boor, X(8)).
        let lower = |p: usize, from: &[f64; 4]| -> [f64; 4] {
            std::array::from_fn(|k| {
                if k > p {
                    return 0.0;
                }
                let i = span + k - p;
                let left = if k > 0 { from[k - 1] / (t[i + p] - t[i]) } else { 0.0 };
                let right = if k < p { from[k] / (t[i + p + 1] - t[i + 1]) } else { 0.0 };
                p as f64 * (left - right)
            })
        };
        let first_derivative = lower(3, &by_degree[2]);
        let second_derivative = lower(3, &lower(2, &by_degree[1]));
        (first, [by_degree[3], first_derivative, second_derivative])
    }

    /// Value at `u` of the spline with these coefficients, one for each basis function.
    #[must_use]
    pub fn value(&self, coefficients: &[f64], u: f64) -> f64 {
        let (first, basis) = self.basis(u);
        (0..4).map(|k| basis[0][k] * coefficients[first + k]).sum()
    }

    /// Coefficients of the polynomial `c0 + c1 u + c2 u^2`, exact: each is the polar form at three neighbouring knots
    /// (L. Ramshaw, "Blossoms are polar forms", Computer Aided Geometric Design 6, 1989).
    #[must_use]
    pub fn of_quadratic(&self, c: [f64; 3]) -> Vec<f64> {
        (0..self.count())
            .map(|i| {
                let [a, b, d] = [self.full[i + 1], self.full[i + 2], self.full[i + 3]];
                c[0] + c[1] * (a + b + d) / 3.0 + c[2] * (a * b + b * d + d * a) / 3.0
            })
            .collect()
    }

    /// The knots of the same spline between two parameters.
    #[must_use]
    pub fn between(&self, from: f64, to: f64) -> Self {
        let inside = self.breaks.iter().copied().filter(|b| from + SAME_KNOT < *b && *b + SAME_KNOT < to);
        Self::clamped([from].into_iter().chain(inside).chain([to]).collect())
    }

    /// Coefficients over [`Knots::between`] of the same spline.
    #[must_use]
    pub fn coefficients_between(&self, coefficients: &[f64], from: f64, to: f64) -> Vec<f64> {
        let piece = self.between(from, to);
        let (first, last) = (self.interval(from + SAME_KNOT), piece.breaks.len() - 2);
        // A coefficient is the polar form of any interval covered by its basis function.
        (0..piece.count())
            .map(|i| self.polar(coefficients, first + i.saturating_sub(1).min(last), &piece.full[i + 1..]))
            .collect()
    }

    /// Number of the interval that contains a parameter.
    fn interval(&self, u: f64) -> usize {
        self.breaks.partition_point(|&b| b <= u).clamp(1, self.breaks.len() - 1) - 1
    }

    /// Polar form of the polynomial over an interval, at three arguments (L. Ramshaw, 1989; the recurrence of de Boor with one argument per step).
    fn polar(&self, coefficients: &[f64], interval: usize, arguments: &[f64]) -> f64 {
        let t = &self.full;
        let mut d: [f64; 4] = std::array::from_fn(|k| coefficients[interval + k]);
        for r in 1..=DEGREE {
            for k in (r..=DEGREE).rev() {
                let left = t[interval + k];
                let a = (arguments[r - 1] - left) / (t[interval + k + DEGREE + 1 - r] - left);
                d[k] = (1.0 - a) * d[k - 1] + a * d[k];
            }
        }
        d[DEGREE]
    }

    /// How often each break is a knot.
    #[must_use]
    pub fn multiplicities(&self) -> Vec<usize> {
        let last = self.breaks.len() - 1;
        (0..=last).map(|i| if i == 0 || i == last { DEGREE + 1 } else { 1 }).collect()
    }
}

/// Least-squares fit of open curves with common knots and common sample parameters. The ends of the curves are kept exactly.
#[derive(Debug)]
pub struct CurveFit {
    knots: Knots,
    places: Vec<f64>,
    factors: LU<f64, Dyn, Dyn>,
}

impl CurveFit {
    /// `places`: sample parameters, first and last at the ends of the knots, several in every interval.
    #[must_use]
    pub fn new(knots: Knots, places: Vec<f64>) -> Self {
        let n = knots.count();
        let mut normal = DMatrix::zeros(n, n);
        for &u in &places {
            let (first, basis) = knots.basis(u);
            for a in 0..4 {
                for b in 0..4 {
                    normal[(first + a, first + b)] += basis[0][a] * basis[0][b];
                }
            }
        }
        for end in [0, n - 1] {
            normal.row_mut(end).fill(0.0);
            normal[(end, end)] = 1.0;
        }
        Self { knots, places, factors: normal.lu() }
    }

    /// Sample parameters.
    #[must_use]
    pub fn places(&self) -> &[f64] {
        &self.places
    }

    /// Coefficients of the curve that fits `points`, one per sample parameter. `None` if they are not finite.
    #[must_use]
    pub fn fit(&self, points: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
        let n = self.knots.count();
        let mut right = DMatrix::zeros(n, 2);
        for (&u, p) in self.places.iter().zip(points) {
            let (first, basis) = self.knots.basis(u);
            for a in 0..4 {
                for k in 0..2 {
                    right[(first + a, k)] += basis[0][a] * p[k];
                }
            }
        }
        for (end, p) in [(0, points.first()?), (n - 1, points.last()?)] {
            for k in 0..2 {
                right[(end, k)] = p[k];
            }
        }
        let solved = self.factors.solve(&right)?;
        let coefficients: Vec<_> = (0..n).map(|i| [solved[(i, 0)], solved[(i, 1)]]).collect();
        coefficients.iter().flatten().all(|c| c.is_finite()).then_some(coefficients)
    }
}

/// Interpolation at the breaks of a knot vector: the third derivative vanishes in the first interval, the second at the last break.
///
/// The last condition is exact for a rounded end over the square root of the distance from it: that is an odd function of this parameter.
#[derive(Debug)]
pub struct BreakInterpolation {
    knots: Knots,
    factors: LU<f64, Dyn, Dyn>,
}

impl BreakInterpolation {
    /// `knots`: at least three breaks.
    #[must_use]
    pub fn new(knots: Knots) -> Self {
        let (n, breaks) = (knots.count(), knots.breaks().len());
        let mut a = DMatrix::zeros(n, n);
        for (row, &u) in knots.breaks().iter().enumerate() {
            let (first, basis) = knots.basis(u);
            for k in 0..4 {
                a[(row, first + k)] += basis[0][k];
            }
        }
        // Scaled by the square of the interval, so that the rows of the matrix have similar size.
        let scale = |i: usize| (knots.breaks()[i + 1] - knots.breaks()[i]).powi(2);
        for (place, sign) in [(0, 1.0), (1, -1.0)] {
            let (first, basis) = knots.basis(knots.breaks()[place]);
            for k in 0..4 {
                a[(breaks, first + k)] += sign * scale(0) * basis[2][k];
            }
        }
        let (first, basis) = knots.basis(knots.breaks()[breaks - 1]);
        for k in 0..4 {
            a[(breaks + 1, first + k)] += scale(breaks - 2) * basis[2][k];
        }
        Self { knots, factors: a.lu() }
    }

    /// Coefficients of the spline with these values at the breaks; `None` if the values are not finite.
    #[must_use]
    pub fn through(&self, values: &[f64]) -> Option<Vec<f64>> {
        let mut right = DVector::zeros(self.knots.count());
        right.rows_mut(0, values.len()).copy_from_slice(values);
        let solved = self.factors.solve(&right)?;
        solved.iter().all(|c| c.is_finite()).then(|| solved.iter().copied().collect())
    }

    /// Slopes at the breaks of the spline with these values at the breaks.
    #[must_use]
    pub fn slopes(&self, values: &[f64]) -> Option<Vec<f64>> {
        let c = self.through(values)?;
        let slope = |&u: &f64| {
            let (first, basis) = self.knots.basis(u);
            (0..4).map(|k| basis[1][k] * c[first + k]).sum()
        };
        Some(self.knots.breaks().iter().map(slope).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vector::distance;

    fn knots() -> Knots {
        Knots::clamped(vec![0.0, 0.1, 0.3, 0.35, 0.7, 1.0])
    }

    #[test]
    fn the_basis_sums_to_one_and_its_derivatives_are_those_of_differences() {
        let e = 1e-5;
        for u in [0.0, 0.05, 0.31, 0.69, 0.97, 1.0] {
            let (_, basis) = knots().basis(u);
            assert!((basis[0].iter().sum::<f64>() - 1.0).abs() < 1e-14);
            assert!(basis[1].iter().sum::<f64>().abs() < 1e-12 && basis[2].iter().sum::<f64>().abs() < 1e-10);
        }
        let (f0, b0) = knots().basis(0.5 - e);
        let (f1, b1) = knots().basis(0.5 + e);
        let (f, b) = knots().basis(0.5);
        assert_eq!((f0, f1), (f, f));
        for k in 0..4 {
            assert!(((b1[0][k] - b0[0][k]) / (2.0 * e) - b[1][k]).abs() < 1e-6);
            assert!(((b1[1][k] - b0[1][k]) / (2.0 * e) - b[2][k]).abs() < 1e-5);
        }
    }

    #[test]
    fn interval_and_knots_are_those_of_the_clamped_vector() {
        let (interval, by_degree) = knots().by_degree(0.32);
        assert_eq!(interval, 2);
        let offsets = [-5, -3, -1, 0, 1, 2, 3, 9];
        let found = offsets.map(|k| knots().knot(interval, k));
        assert!(distance(found, [0.0, 0.0, 0.1, 0.3, 0.35, 0.7, 1.0, 1.0]) < 1e-15);
        for p in 0..=DEGREE {
            assert!((by_degree[p].iter().sum::<f64>() - 1.0).abs() < 1e-14, "degree {p}");
        }
    }

    #[test]
    fn a_fitted_curve_keeps_its_ends_and_a_cubic() {
        let places: Vec<f64> = (0..=40).map(|k| f64::from(k) / 40.0).collect();
        let cubic = |u: f64| [u * u * u - u, 2.0 - 0.5 * u * u];
        let points: Vec<_> = places.iter().map(|&u| cubic(u)).collect();
        let fit = CurveFit::new(knots(), places);
        let made = fit.fit(&points).unwrap();
        assert_eq!((made[0], made[made.len() - 1]), (points[0], points[40]));
        let x: Vec<f64> = made.iter().map(|c| c[0]).collect();
        assert!((knots().value(&x, 0.43) - cubic(0.43)[0]).abs() < 1e-12);
        assert_eq!(fit.fit(&vec![[f64::NAN; 2]; 41]), None);
    }

    #[test]
    fn a_parabola_is_written_and_interpolated_exactly() {
        let exact = knots().of_quadratic([1.0, -2.0, 3.0]);
        for u in [0.0, 0.2, 0.5, 1.0] {
            assert!((knots().value(&exact, u) - (1.0 - 2.0 * u + 3.0 * u * u)).abs() < 1e-13);
        }
        // A cubic with zero third derivative and zero second derivative at the end is a straight line.
        let line: Vec<f64> = knots().breaks().iter().map(|u| 2.0 + 5.0 * u).collect();
        let c = BreakInterpolation::new(knots()).through(&line).unwrap();
        assert!((knots().value(&c, 0.62) - 5.1).abs() < 1e-12);
    }

    #[test]
    fn a_spline_that_is_cut_off_keeps_its_values() {
        let coefficients = [1.0, -2.0, 0.5, 3.0, -1.0, 2.0, 0.7, -0.4];
        for (from, to) in [(0.0, 0.9), (0.1, 0.7), (0.2, 0.32), (0.05, 1.0), (0.3 - 1e-12, 0.8)] {
            let (piece, made) =
                (knots().between(from, to), knots().coefficients_between(&coefficients, from, to));
            assert_eq!(made.len(), piece.count());
            for k in 0..=20 {
                let u = from + (to - from) * f64::from(k) / 20.0;
                let off = piece.value(&made, u) - knots().value(&coefficients, u);
                assert!(off.abs() < 1e-12, "{from} {to} {u}");
            }
        }
    }
}
