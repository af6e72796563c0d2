//! The interpolating cubic spline: the smoothest curve through given points.
//!
//! Source: C. de Boor, "A practical guide to splines", Springer, 1978, chapter IV. On each interval of width `h` the curve is
//! written with the shares `a` and `b = 1 - a` of its two ends, their values and their second derivatives `m`:
//! `a y0 + b y1 + ((a^3 - a) m0 + (b^3 - b) m1) h^2 / 6`.
//!
//! ```
//! use bladeform_numeric::cubic_spline::CubicSpline;
//! let line = CubicSpline::natural(&[0.0, 1.0, 3.0], vec![[1.0], [2.0], [4.0]]);
//! assert!((line.value(2.5)[0] - 3.5).abs() < 1e-12);
//! ```

/// A curve of `N` coordinates through points over a rising parameter, with continuous second derivatives.
#[derive(Debug, Clone, PartialEq)]
pub struct CubicSpline<const N: usize> {
    at: Vec<f64>,
    values: Vec<[f64; N]>,
    bends: Vec<[f64; N]>,
}

/// The interval in which a parameter lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval<const N: usize> {
    /// Its width.
    pub width: f64,
    /// The shares of its two ends at the parameter; they sum to 1.
    pub shares: [f64; 2],
    /// The values at its two ends.
    pub values: [[f64; N]; 2],
    /// The second derivatives at its two ends.
    pub bends: [[f64; N]; 2],
}

impl<const N: usize> CubicSpline<N> {
    /// The natural spline, whose second derivative is zero at both ends. `at`: rising strictly; `values`: as many, at least two.
    #[must_use]
    pub fn natural(at: &[f64], values: Vec<[f64; N]>) -> Self {
        let bends = natural_bends(at, &values);
        Self { at: at.to_vec(), values, bends }
    }

    /// The spline whose second derivatives at the points are known already; all three lists have the same length, at least two.
    #[must_use]
    pub fn of_second_derivatives(at: &[f64], values: Vec<[f64; N]>, bends: Vec<[f64; N]>) -> Self {
        Self { at: at.to_vec(), values, bends }
    }

    /// The parameter of each point.
    #[must_use]
    pub fn at(&self) -> &[f64] {
        &self.at
    }

    /// The interval that holds the parameter `s`; beyond the ends the first or the last, with a share below 0.
    #[must_use]
    pub fn interval(&self, s: f64) -> Interval<N> {
        let i = self.at.partition_point(|&a| a <= s).clamp(1, self.at.len() - 1);
        let h = self.at[i] - self.at[i - 1];
        Interval {
            width: h,
            shares: [(self.at[i] - s) / h, (s - self.at[i - 1]) / h],
            values: [self.values[i - 1], self.values[i]],
            bends: [self.bends[i - 1], self.bends[i]],
        }
    }

    /// The point at the parameter `s`; the end cubics go on beyond the ends.
    #[must_use]
    pub fn value(&self, s: f64) -> [f64; N] {
        let Interval { width: h, shares: [a, b], values: [v0, v1], bends: [m0, m1] } = self.interval(s);
        std::array::from_fn(|k| {
            a * v0[k] + b * v1[k] + ((a * a * a - a) * m0[k] + (b * b * b - b) * m1[k]) * h * h / 6.0
        })
    }

    /// The point, its first and its second derivative at the parameter `s`; the end cubics go on beyond the ends.
    #[must_use]
    pub fn with_derivatives(&self, s: f64) -> [[f64; N]; 3] {
        let Interval { width: h, shares: [a, b], values: [v0, v1], bends: [m0, m1] } = self.interval(s);
        let slope = |k: usize| {
            (v1[k] - v0[k]) / h + ((3.0 * b * b - 1.0) * m1[k] - (3.0 * a * a - 1.0) * m0[k]) * h / 6.0
        };
        [self.value(s), std::array::from_fn(slope), std::array::from_fn(|k| a * m0[k] + b * m1[k])]
    }
}

impl CubicSpline<2> {
    /// The natural spline through points of the plane over the cumulative distance between them. `points`: at least two, with
    /// distinct neighbours.
    #[must_use]
    pub fn along(points: Vec<[f64; 2]>) -> Self {
        let mut at = vec![0.0];
        for pair in points.windows(2) {
            at.push(at[at.len() - 1] + (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]));
        }
        Self::natural(&at, points)
    }
}

/// Second derivatives of the natural cubic spline, by elimination of its tridiagonal system.
fn natural_bends<const N: usize>(at: &[f64], values: &[[f64; N]]) -> Vec<[f64; N]> {
    let n = at.len();
    let (mut bends, mut share) = (vec![[0.0; N]; n], vec![0.0; n]);
    for i in 1..n.saturating_sub(1) {
        let (h0, h1) = (at[i] - at[i - 1], at[i + 1] - at[i]);
        let pivot = 2.0 * (h0 + h1) - h0 * share[i - 1];
        share[i] = h1 / pivot;
        for k in 0..N {
            let bend = (values[i + 1][k] - values[i][k]) / h1 - (values[i][k] - values[i - 1][k]) / h0;
            bends[i][k] = (6.0 * bend - h0 * bends[i - 1][k]) / pivot;
        }
    }
    for i in (1..n.saturating_sub(1)).rev() {
        for k in 0..N {
            bends[i][k] -= share[i] * bends[i + 1][k];
        }
    }
    bends
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vector::distance;

    #[test]
    fn a_sine_comes_back_with_its_derivatives() {
        let at: Vec<f64> = (0..=60).map(|i| std::f64::consts::PI * f64::from(i) / 60.0).collect();
        let spline = CubicSpline::natural(&at, at.iter().map(|x| [x.sin()]).collect());
        for x in [0.03, 0.7, 1.5, 3.0] {
            let [[v], [d], [dd]] = spline.with_derivatives(x);
            assert!((v - x.sin()).abs() < 1e-6, "{x}");
            assert!((d - x.cos()).abs() < 1e-4, "{x}");
            assert!((dd + x.sin()).abs() < 2e-3, "{x}");
            assert!((spline.value(x)[0] - v).abs() < 1e-15);
        }
    }

    /// Three points leave one unknown: `4 m = 6 (y2 - 2 y1 + y0)` for unit steps.
    #[test]
    fn three_points_are_joined_as_by_hand() {
        let spline = CubicSpline::natural(&[0.0, 1.0, 2.0], vec![[0.0], [1.0], [0.0]]);
        let m = 6.0 * -2.0 / 4.0;
        let expected = 0.5 + (0.125 - 0.5) * m / 6.0;
        assert!((spline.value(0.5)[0] - expected).abs() < 1e-15);
        assert!((spline.value(1.5)[0] - expected).abs() < 1e-15);
        assert!((spline.with_derivatives(1.0)[2][0] - m).abs() < 1e-15);
        let same = CubicSpline::of_second_derivatives(
            &[0.0, 1.0, 2.0],
            vec![[0.0], [1.0], [0.0]],
            vec![[0.0], [m], [0.0]],
        );
        assert_eq!(same, spline);
    }

    #[test]
    fn two_points_are_joined_by_a_straight_line_that_goes_on() {
        let line = CubicSpline::natural(&[1.0, 3.0], vec![[2.0, 5.0], [4.0, 1.0]]);
        assert!(distance(line.value(2.0), [3.0, 3.0]) < 1e-15);
        assert!(distance(line.value(4.0), [5.0, -1.0]) < 1e-15);
    }

    #[test]
    fn a_path_through_a_circle_stays_on_it() {
        let circle = (0..=120).map(|i| f64::from(i) * 0.05).map(|a| [a.cos(), a.sin()]).collect();
        let path = CubicSpline::along(circle);
        let p = path.value(0.51 * path.at()[120]);
        assert!((p[0].hypot(p[1]) - 1.0).abs() < 1e-7);
    }
}
