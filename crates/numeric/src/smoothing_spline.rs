//! The cubic smoothing spline: the curve that is as near to weighted points as its bending allows.
//!
//! C. H. Reinsch, "Smoothing by spline functions", Numerische Mathematik 10 (1967), 177-183: of all curves the one that makes
//! `sum w_i (y_i - f(x_i))^2 + lambda * integral of f''^2` least is a natural cubic spline with its knots at the points. It is
//! represented by cubic B-splines (C. de Boor, "A practical guide to splines", 1978, chapters X and XIV); with more points than
//! the knots allowed every so many of them is a knot, which is a penalised spline (P. H. C. Eilers and B. D. Marx, "Flexible
//! smoothing with B-splines and penalties", Statistical Science 11 (1996), 89-121).
//! `lambda` by generalised cross-validation: P. Craven and G. Wahba, "Smoothing noisy data with spline functions", Numerische
//! Mathematik 31 (1979), 377-403, equation 1.9.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn, SymmetricEigen};

/// Smoothing is looked for over these decimal powers, relative to the ratio of the traces of fit and bending.
const LEAST_POWER: f64 = -9.0;
/// Upper end of that range: the curve hardly bends there (chosen).
const GREATEST_POWER: f64 = 6.0;
/// Steps a decade; the curve changes little within a quarter of one.
const STEPS_PER_DECADE: f64 = 4.0;

/// The cubic splines over given abscissae, and what bending costs each.
#[derive(Debug, Clone)]
pub struct SplineSpace {
    /// Knots, the ends four times.
    knots: Vec<f64>,
    /// At each abscissa: the first B-spline that is not zero there, and the values of four.
    rows: Vec<Row>,
    /// `integral of f''^2` is `c^T bending c` for the coefficients `c`.
    bending: DMatrix<f64>,
}

/// A linear functional of the coefficients: the first of four that count, and their factors.
pub type Row = (usize, [f64; 4]);

/// A spline of that space fitted to weighted points.
#[derive(Debug, Clone)]
pub struct SmoothingSpline {
    knots: Vec<f64>,
    coefficients: DVector<f64>,
    factor: Cholesky<f64, Dyn>,
    /// Trace of the smoother: how many parameters the curve has in effect.
    pub degrees_of_freedom: f64,
}

impl SplineSpace {
    /// Over abscissae that rise strictly, with a knot at each or, if there are more than `most_knots`, at that many of them;
    /// `most_knots` is at least 2. `None` for fewer than three abscissae.
    #[must_use]
    pub fn over(x: &[f64], most_knots: usize) -> Option<Self> {
        if x.len() < 3 || x.windows(2).any(|p| p[1] <= p[0]) || x.iter().any(|x| !x.is_finite()) {
            return None;
        }
        let intervals = (x.len() - 1).min(most_knots.max(2) - 1);
        let breaks: Vec<f64> = (0..=intervals).map(|k| x[k * (x.len() - 1) / intervals]).collect();
        let ends = |v: f64| std::iter::repeat_n(v, 3);
        let knots: Vec<f64> =
            ends(breaks[0]).chain(breaks.iter().copied()).chain(ends(breaks[intervals])).collect();
        let rows = x.iter().map(|&x| row_at(&knots, x)).collect();
        let second = second_derivatives(&knots);
        let mut mass = DMatrix::zeros(breaks.len(), breaks.len());
        // The second derivative is straight between knots: the integral of its square is exact.
        for (k, pair) in breaks.windows(2).enumerate() {
            let h = pair[1] - pair[0];
            mass[(k, k)] += h / 3.0;
            mass[(k + 1, k + 1)] += h / 3.0;
            mass[(k, k + 1)] += h / 6.0;
            mass[(k + 1, k)] += h / 6.0;
        }
        let bending = second.transpose() * mass * second;
        Some(Self { knots, rows, bending })
    }

    /// The spline of least weighted squares and bending for a given smoothing. `None` when the weights leave it open.
    #[must_use]
    pub fn fit(&self, y: &[f64], weights: &[f64], lambda: f64) -> Option<SmoothingSpline> {
        let normal = self.normal(weights);
        let right = self.right(y, weights);
        self.solve(&normal, &right, weights, lambda)
    }

    /// The spline of least generalised cross-validation among those of no more than `most_freedom` effective parameters for a point.
    ///
    /// All smoothings are weighed at once in the coordinates in which fit and bending are both diagonal (A. Demmler and C. Reinsch,
    /// "Oscillation matrices with spline smoothing", Numerische Mathematik 24 (1975), 375-382).
    #[must_use]
    pub fn fit_by_cross_validation(
        &self,
        y: &[f64],
        weights: &[f64],
        most_freedom: f64,
    ) -> Option<SmoothingSpline> {
        let normal = self.normal(weights);
        let right = self.right(y, weights);
        let unit = normal.trace() / self.bending.trace();
        // The fit alone is singular: there are more splines than points. Fit and some bending are not.
        let lower = Cholesky::new(&normal + &self.bending * unit)?.l();
        let half = lower.solve_lower_triangular(&(&self.bending * unit))?;
        let whitened = lower.solve_lower_triangular(&half.transpose())?;
        let SymmetricEigen { eigenvalues, eigenvectors } = SymmetricEigen::new(whitened);
        let modes: Vec<(f64, f64)> = (eigenvectors.transpose() * lower.solve_lower_triangular(&right)?)
            .iter()
            .zip(eigenvalues.iter())
            .map(|(amplitude, bending)| (amplitude * amplitude, bending.clamp(0.0, 1.0)))
            .collect();
        let total: f64 = y.iter().zip(weights).map(|(y, w)| w * y * y).sum();
        let counted = weights.iter().filter(|w| 0.0 < **w).count() as f64;
        let steps = ((GREATEST_POWER - LEAST_POWER) * STEPS_PER_DECADE) as i32;
        let mut best: Option<(f64, f64)> = None;
        // From the stiffest on, so that of two equals the smoother is kept.
        for step in 0..=steps {
            let relative = 10f64.powf(GREATEST_POWER - f64::from(step) / STEPS_PER_DECADE);
            let (mut freedom, mut squares) = (0.0, total);
            for (power, bending) in &modes {
                let fit = 1.0 - bending;
                let kept = 1.0 / (fit + relative * bending);
                freedom += fit * kept;
                squares += power * kept * (fit * kept - 2.0);
            }
            if best.is_some() && most_freedom * counted < freedom {
                break;
            }
            let score = squares.max(0.0) / (counted - freedom).max(f64::MIN_POSITIVE).powi(2);
            if best.is_none_or(|(least, _)| score < least) {
                best = Some((score, unit * relative));
            }
        }
        self.solve(&normal, &right, weights, best?.1)
    }

    fn normal(&self, weights: &[f64]) -> DMatrix<f64> {
        let n = self.bending.nrows();
        let mut normal = DMatrix::zeros(n, n);
        for ((first, values), w) in self.rows.iter().zip(weights) {
            for a in 0..4 {
                for b in 0..4 {
                    normal[(first + a, first + b)] += w * values[a] * values[b];
                }
            }
        }
        normal
    }

    fn right(&self, y: &[f64], weights: &[f64]) -> DVector<f64> {
        let mut right = DVector::zeros(self.bending.nrows());
        for ((first, values), (y, w)) in self.rows.iter().zip(y.iter().zip(weights)) {
            for a in 0..4 {
                right[first + a] += w * values[a] * y;
            }
        }
        right
    }

    fn solve(
        &self,
        normal: &DMatrix<f64>,
        right: &DVector<f64>,
        weights: &[f64],
        lambda: f64,
    ) -> Option<SmoothingSpline> {
        let factor = Cholesky::new(normal + &self.bending * lambda)?;
        let mut spline = SmoothingSpline {
            knots: self.knots.clone(),
            coefficients: factor.solve(right),
            factor,
            degrees_of_freedom: 0.0,
        };
        spline.degrees_of_freedom =
            self.rows.iter().zip(weights).map(|(r, w)| w * spline.covariance(r, r)).sum();
        Some(spline)
    }

    /// The functional that gives the value at an abscissa of the points.
    #[must_use]
    pub fn row(&self, point: usize) -> &Row {
        &self.rows[point]
    }
}

impl SmoothingSpline {
    /// The value at `x`; beyond the ends the curve goes straight on.
    #[must_use]
    pub fn value(&self, x: f64) -> f64 {
        self.at_row(&row_at(&self.knots, x))
    }

    /// Variance of the value at `x` when the weights are inverse variances: that of the Bayesian view, which counts what the
    /// smoothing hides as well as the noise. G. Wahba, "Bayesian confidence intervals for the cross-validated smoothing spline",
    /// J. R. Statist. Soc. B 45 (1983), 133-150.
    #[must_use]
    pub fn variance(&self, x: f64) -> f64 {
        let row = row_at(&self.knots, x);
        self.covariance(&row, &row)
    }

    /// A functional of the curve, such as that of [`SplineSpace::row`].
    #[must_use]
    pub fn at_row(&self, (first, values): &Row) -> f64 {
        values.iter().enumerate().map(|(a, v)| v * self.coefficients[first + a]).sum()
    }

    /// `a^T (normal + lambda bending)^-1 b`: covariance of two functionals; times the weight of a point, its share in the other.
    #[must_use]
    pub fn covariance(&self, a: &Row, b: &Row) -> f64 {
        dot(a, &self.influence(b))
    }

    /// `(normal + lambda bending)^-1 b`.
    #[must_use]
    pub fn influence(&self, (first, values): &Row) -> DVector<f64> {
        let mut right = DVector::zeros(self.coefficients.len());
        for a in 0..4 {
            right[first + a] = values[a];
        }
        self.factor.solve_mut(&mut right);
        right
    }
}

/// A functional applied to coefficients.
#[must_use]
pub fn dot((first, values): &Row, coefficients: &DVector<f64>) -> f64 {
    values.iter().enumerate().map(|(a, v)| v * coefficients[first + a]).sum()
}

/// The four cubic B-splines that are not zero at `x` (de Boor's recurrence, chapter X, equation 8); beyond the ends, value and
/// slope carried straight on.
fn row_at(knots: &[f64], x: f64) -> Row {
    let (first, last) = (knots[0], knots[knots.len() - 1]);
    let n = knots.len() - 4;
    if x < first {
        // At a fourfold knot the slope rests on the first two coefficients.
        let lever = 3.0 * (x - first) / (knots[4] - knots[1]);
        return (0, [1.0 - lever, lever, 0.0, 0.0]);
    }
    if last < x {
        let lever = 3.0 * (x - last) / (knots[n + 2] - knots[n - 1]);
        return (n - 4, [0.0, 0.0, -lever, 1.0 + lever]);
    }
    let k = knots.partition_point(|t| *t <= x).clamp(4, n) - 1;
    let mut values = [1.0, 0.0, 0.0, 0.0];
    for order in 1..4 {
        let mut carried = 0.0;
        for j in 0..order {
            let (right, left) = (knots[k + 1 + j], knots[k + 1 + j - order]);
            let share = values[j] / (right - left);
            values[j] = carried + (right - x) * share;
            carried = (x - left) * share;
        }
        values[order] = carried;
    }
    (k - 3, values)
}

/// The second derivatives at the knots of a cubic spline as a matrix over its coefficients (de Boor, chapter X, equation 15, twice).
fn second_derivatives(knots: &[f64]) -> DMatrix<f64> {
    let n = knots.len() - 4;
    let difference = |rows: usize, degree: usize, skip: usize| {
        let mut d = DMatrix::zeros(rows, rows + 1);
        for j in 0..rows {
            let slope = degree as f64 / (knots[j + skip + degree] - knots[j + skip]);
            d[(j, j)] = -slope;
            d[(j, j + 1)] = slope;
        }
        d
    };
    difference(n - 2, 2, 2) * difference(n - 1, 3, 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::{Matrix2, Vector2};

    const X: [f64; 8] = [0.0, 1.0, 2.0, 3.5, 4.0, 6.0, 7.5, 8.0];
    const Y: [f64; 8] = [0.3, 1.1, 0.2, -0.9, -0.4, 1.3, 0.8, 0.1];
    const W: [f64; 8] = [1.0, 2.0, 1.0, 4.0, 1.0, 0.5, 1.0, 3.0];

    fn fit(lambda: f64) -> SmoothingSpline {
        SplineSpace::over(&X, 60).unwrap().fit(&Y, &W, lambda).unwrap()
    }

    /// SciPy 1.17.1, `scipy.interpolate.make_smoothing_spline(x, y, w=w, lam=lam)`: values at the points and at 5.
    #[test]
    fn it_is_the_natural_cubic_smoothing_spline_of_scipy() {
        let published: [(f64, [f64; 8], f64); 3] = [
            (
                0.01,
                [
                    0.32413474090279526,
                    1.0762475876958018,
                    0.20663342101589305,
                    -0.8839758698217861,
                    -0.44297425454618183,
                    1.2960525162689165,
                    0.7741309552980261,
                    0.10781906103018302,
                ],
                0.6127989134199548,
            ),
            (
                1.0,
                [
                    0.8062476421536268,
                    0.62197842688917,
                    0.09080209384136319,
                    -0.6098252474053424,
                    -0.5696955036143722,
                    0.26791508579146406,
                    0.3704594104732298,
                    0.27119098336448344,
                ],
                -0.17547774923187526,
            ),
            (
                50.0,
                [
                    0.3711205396813986,
                    0.2017252772675377,
                    0.03689610221159859,
                    -0.1356922471322136,
                    -0.15591957679890345,
                    -0.07741723857298491,
                    0.05812236336431896,
                    0.10593587494062184,
                ],
                -0.14156820605004525,
            ),
        ];
        for (lambda, values, at_5) in published {
            let spline = fit(lambda);
            for (x, value) in X.iter().zip(values) {
                assert!((spline.value(*x) - value).abs() < 1e-10, "{lambda} {x}: {}", spline.value(*x));
            }
            assert!((spline.value(5.0) - at_5).abs() < 1e-10, "{lambda}");
        }
    }

    /// Three points, unit weights and steps: Reinsch's equations leave one unknown. With `q = (1, -2, 1)` and `R = 2/3`,
    /// `g = y - lambda q gamma`, `(R + 6 lambda) gamma = q y`.
    #[test]
    fn three_points_are_smoothed_as_by_hand() {
        let space = SplineSpace::over(&[0.0, 1.0, 2.0], 60).unwrap();
        let lambda = 0.7;
        let spline = space.fit(&[0.0, 1.0, 0.0], &[1.0; 3], lambda).unwrap();
        let gamma = -2.0 / (2.0 / 3.0 + 6.0 * lambda);
        for (x, (y, q)) in [(0.0, (0.0, 1.0)), (1.0, (1.0, -2.0)), (2.0, (0.0, 1.0))] {
            assert!((spline.value(x) - (y - lambda * q * gamma)).abs() < 1e-12);
        }
    }

    #[test]
    fn without_smoothing_it_goes_through_the_points_and_with_endless_smoothing_it_is_the_straight_line() {
        for (x, y) in X.iter().zip(Y) {
            assert!((fit(1e-9).value(*x) - y).abs() < 1e-7);
        }
        // The straight line of weighted least squares by its normal equations.
        let (mut normal, mut right) = (Matrix2::zeros(), Vector2::zeros());
        for ((x, y), w) in X.iter().zip(Y).zip(W) {
            let row = Vector2::new(1.0, *x);
            normal += row * row.transpose() * w;
            right += row * (w * y);
        }
        let line = normal.lu().solve(&right).unwrap();
        let stiff = fit(1e8);
        for x in [-2.0, 0.0, 3.0, 8.0, 11.0] {
            assert!((stiff.value(x) - line[0] - line[1] * x).abs() < 1e-6, "{x}");
        }
        assert!((stiff.degrees_of_freedom - 2.0).abs() < 1e-6);
    }

    #[test]
    fn beyond_the_ends_value_and_slope_go_on() {
        let spline = fit(0.1);
        for (end, out) in [(0.0, -1.0), (8.0, 1.0)] {
            let step = 1e-5;
            let slope = (spline.value(end) - spline.value(end - out * step)) / step;
            let beyond = spline.value(end + out * 0.5) - spline.value(end);
            assert!((beyond - 0.5 * slope).abs() < 1e-4, "{beyond} {slope}");
        }
    }

    #[test]
    fn many_points_share_a_limited_number_of_knots_and_noise_is_smoothed_away() {
        // A sine with an error of known size: a plain congruential sequence, variance 1/12.
        let mut state = 1_u64;
        let mut draw = || {
            state = state.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
        };
        let x: Vec<f64> = (0..500).map(|k| f64::from(k) / 499.0).collect();
        let y: Vec<f64> = x.iter().map(|x| (6.0 * x).sin() + 0.3 * draw()).collect();
        let space = SplineSpace::over(&x, 60).unwrap();
        let spline = space.fit_by_cross_validation(&y, &vec![1.0; 500], 0.6).unwrap();
        let rms =
            (x.iter().map(|x| (spline.value(*x) - (6.0 * x).sin()).powi(2)).sum::<f64>() / 500.0).sqrt();
        // About ten parameters of 500 points: sqrt(10 / 500) of the noise of 0.3 / sqrt(12).
        assert!(rms < 0.3 / 12_f64.sqrt() * 0.2, "{rms}");
        assert!((4.0..25.0).contains(&spline.degrees_of_freedom), "{}", spline.degrees_of_freedom);
    }
}
