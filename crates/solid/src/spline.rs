//! Cubic B-splines over given knots: the basis and the two linear systems that define the surface.
//!
//! Source: C. de Boor, "A practical guide to splines", Springer, 1978, chapter X (recurrence), chapter XIII (interpolation).

use nalgebra::{DMatrix, DVector, Dyn, LU};

/// Degree of all splines here.
pub(crate) const DEGREE: usize = 3;

/// An end closer to a knot than this replaces it. Geometry kernels treat such close knots as one.
const SAME_KNOT: f64 = 1e-9;

/// A clamped cubic knot vector.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Knots {
    breaks: Vec<f64>,
    full: Vec<f64>,
}

impl Knots {
    /// `breaks`: increasing, at least two.
    pub(crate) fn clamped(breaks: Vec<f64>) -> Self {
        let (first, last) = (breaks[0], breaks[breaks.len() - 1]);
        let full = std::iter::repeat_n(first, DEGREE)
            .chain(breaks.iter().copied())
            .chain(std::iter::repeat_n(last, DEGREE))
            .collect();
        Self { breaks, full }
    }

    /// Increasing distinct knots.
    pub(crate) fn breaks(&self) -> &[f64] {
        &self.breaks
    }

    /// Number of coefficients.
    pub(crate) fn count(&self) -> usize {
        self.breaks.len() + DEGREE - 1
    }

    /// Index of the first basis function that is not zero at `u`, and the values, first and second derivatives of the four functions.
    pub(crate) fn basis(&self, u: f64) -> (usize, [[f64; 4]; 3]) {
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

    /// Value of a spline.
    #[cfg(test)]
    pub(crate) fn value(&self, coefficients: &[f64], u: f64) -> f64 {
        let (first, basis) = self.basis(u);
        (0..4).map(|k| basis[0][k] * coefficients[first + k]).sum()
    }

    /// Coefficients of the polynomial `c0 + c1 u + c2 u^2`, exact: each is the polar form at three neighbouring knots
    /// (L. Ramshaw, "Blossoms are polar forms", Computer Aided Geometric Design 6, 1989).
    pub(crate) fn of_quadratic(&self, c: [f64; 3]) -> Vec<f64> {
        (0..self.count())
            .map(|i| {
                let [a, b, d] = [self.full[i + 1], self.full[i + 2], self.full[i + 3]];
                c[0] + c[1] * (a + b + d) / 3.0 + c[2] * (a * b + b * d + d * a) / 3.0
            })
            .collect()
    }

    /// The knots of the same spline between two parameters.
    pub(crate) fn between(&self, from: f64, to: f64) -> Self {
        let inside = self.breaks.iter().copied().filter(|b| from + SAME_KNOT < *b && *b + SAME_KNOT < to);
        Self::clamped([from].into_iter().chain(inside).chain([to]).collect())
    }

    /// Coefficients over [`Knots::between`] of the same spline.
    pub(crate) fn coefficients_between(&self, coefficients: &[f64], from: f64, to: f64) -> Vec<f64> {
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

    /// The full knot vector as distinct knots with their multiplicities.
    pub(crate) fn multiplicities(&self) -> Vec<usize> {
        let last = self.breaks.len() - 1;
        (0..=last).map(|i| if i == 0 || i == last { DEGREE + 1 } else { 1 }).collect()
    }
}

/// Least-squares fit of open curves with common knots and common sample parameters. The ends of the curves are kept exactly.
#[derive(Debug)]
pub(crate) struct CurveFit {
    knots: Knots,
    places: Vec<f64>,
    factors: LU<f64, Dyn, Dyn>,
}

impl CurveFit {
    /// `places`: sample parameters, first and last at the ends of the knots, several in every interval.
    pub(crate) fn new(knots: Knots, places: Vec<f64>) -> Self {
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
    pub(crate) fn places(&self) -> &[f64] {
        &self.places
    }

    /// Coefficients of the curve that fits `points`, one per sample parameter. `None` if they are not finite.
    pub(crate) fn fit(&self, points: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
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
/// Near the tip the parameter is the square root of the distance from it. A rounded end is an odd function of this parameter, so its second derivative is zero there.
#[derive(Debug)]
pub(crate) struct BreakInterpolation {
    knots: Knots,
    factors: LU<f64, Dyn, Dyn>,
}

impl BreakInterpolation {
    /// `knots`: at least three breaks.
    pub(crate) fn new(knots: Knots) -> Self {
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
    pub(crate) fn through(&self, values: &[f64]) -> Option<Vec<f64>> {
        let mut right = DVector::zeros(self.knots.count());
        right.rows_mut(0, values.len()).copy_from_slice(values);
        let solved = self.factors.solve(&right)?;
        solved.iter().all(|c| c.is_finite()).then(|| solved.iter().copied().collect())
    }

    /// Slopes at the breaks of the spline with these values at the breaks.
    pub(crate) fn slopes(&self, values: &[f64]) -> Option<Vec<f64>> {
        let c = self.through(values)?;
        let slope = |&u: &f64| {
            let (first, basis) = self.knots.basis(u);
            (0..4).map(|k| basis[1][k] * c[first + k]).sum()
        };
        Some(self.knots.breaks().iter().map(slope).collect())
    }
}

/// A smooth plane curve through points: a natural cubic spline over the cumulative distance (de Boor, chapter IV).
#[derive(Debug, Clone)]
pub(crate) struct PathCurve {
    at: Vec<f64>,
    points: Vec<[f64; 2]>,
    bends: Vec<[f64; 2]>,
}

impl PathCurve {
    /// `points`: at least two, with distinct neighbours.
    pub(crate) fn through(points: Vec<[f64; 2]>) -> Self {
        let mut at = vec![0.0];
        for pair in points.windows(2) {
            at.push(at[at.len() - 1] + (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]));
        }
        let bends = natural_bends(&at, &points);
        Self { at, points, bends }
    }

    /// Cumulative distance at each point.
    pub(crate) fn distances(&self) -> &[f64] {
        &self.at
    }

    /// The point at a distance along the path.
    pub(crate) fn value(&self, s: f64) -> [f64; 2] {
        let i = self.at.partition_point(|&a| a <= s).clamp(1, self.at.len() - 1);
        let h = self.at[i] - self.at[i - 1];
        let (a, b) = ((self.at[i] - s) / h, (s - self.at[i - 1]) / h);
        std::array::from_fn(|k| {
            a * self.points[i - 1][k]
                + b * self.points[i][k]
                + ((a * a * a - a) * self.bends[i - 1][k] + (b * b * b - b) * self.bends[i][k]) * h * h / 6.0
        })
    }
}

/// Second derivatives of the natural cubic spline, by elimination of its tridiagonal system.
fn natural_bends(at: &[f64], points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let n = at.len();
    let (mut bends, mut share) = (vec![[0.0; 2]; n], vec![0.0; n]);
    for i in 1..n.saturating_sub(1) {
        let (h0, h1) = (at[i] - at[i - 1], at[i + 1] - at[i]);
        let pivot = 2.0 * (h0 + h1) - h0 * share[i - 1];
        share[i] = h1 / pivot;
        for k in 0..2 {
            let bend = (points[i + 1][k] - points[i][k]) / h1 - (points[i][k] - points[i - 1][k]) / h0;
            bends[i][k] = (6.0 * bend - h0 * bends[i - 1][k]) / pivot;
        }
    }
    for i in (1..n.saturating_sub(1)).rev() {
        for k in 0..2 {
            bends[i][k] -= share[i] * bends[i + 1][k];
        }
    }
    bends
}

#[cfg(test)]
mod tests {
    use super::*;

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

    #[test]
    fn a_path_through_a_circle_stays_on_it() {
        let circle = (0..=120).map(|i| f64::from(i) * 0.05).map(|a| [a.cos(), a.sin()]).collect();
        let path = PathCurve::through(circle);
        let p = path.value(0.51 * path.distances()[120]);
        assert!((p[0].hypot(p[1]) - 1.0).abs() < 1e-7);
    }
}
