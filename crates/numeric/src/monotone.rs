//! A monotone curve through points: piecewise cubic, never beyond its points.

/// A smooth curve through points of rising abscissae: piecewise cubic, with a continuous slope, monotone wherever the
/// points are, so that it never swings beyond them. Beyond its ends it goes straight on with its end slope.
///
/// # Source
/// M. Steffen, *A simple method for monotonic interpolation in one dimension*, Astronomy and Astrophysics 239 (1990),
/// 443-450, equations 6 to 11; at the ends its parabola through three points, limited in the same way (section 2.2).
///
/// ```
/// use bladeform_numeric::monotone::MonotoneCubic;
/// let curve = MonotoneCubic::through(&[(0.2, 0.10), (0.5, 0.16), (0.8, 0.13)]).unwrap();
/// assert_eq!(curve.value(0.5), 0.16);
/// assert!(curve.value(0.35) > 0.10 && curve.value(0.35) < 0.16);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct MonotoneCubic {
    x: Vec<f64>,
    y: Vec<f64>,
    /// The slope at each point.
    slope: Vec<f64>,
    /// Coefficients of the square and the cube of the way from each point.
    higher: Vec<[f64; 2]>,
}

impl MonotoneCubic {
    /// The curve through points `(x, y)`; `None` for fewer than two, for `x` that do not rise strictly, or for numbers
    /// that are not finite.
    #[must_use]
    pub fn through(points: &[(f64, f64)]) -> Option<MonotoneCubic> {
        let rises = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
        if points.len() < 2 || !rises || !finite {
            return None;
        }
        let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let slope = slopes(&x, &y);
        let higher = (0..x.len() - 1)
            .map(|k| {
                let h = x[k + 1] - x[k];
                let d = (y[k + 1] - y[k]) / h;
                let cube = (slope[k] + slope[k + 1] - 2.0 * d) / (h * h);
                [(3.0 * d - 2.0 * slope[k] - slope[k + 1]) / h, cube]
            })
            .collect();
        Some(MonotoneCubic { x, y, slope, higher })
    }

    /// The value at `x`.
    #[must_use]
    pub fn value(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if x < self.x[0] {
            return self.y[0] + self.slope[0] * (x - self.x[0]);
        }
        if x > self.x[last] {
            return self.y[last] + self.slope[last] * (x - self.x[last]);
        }
        self.value_in(self.interval(x), x)
    }

    /// The value at an `x` in the interval `k`, as [`interval`](Self::interval) finds it: for several curves through points of the same abscissae. Beyond
    /// the interval its cubic goes on.
    ///
    /// # Panics
    /// If there is no interval `k`.
    #[must_use]
    pub fn value_in(&self, k: usize, x: f64) -> f64 {
        let t = x - self.x[k];
        let [square, cube] = self.higher[k];
        self.y[k] + t * (self.slope[k] + t * (square + t * cube))
    }

    /// The abscissae of the points.
    #[must_use]
    pub fn knots(&self) -> &[f64] {
        &self.x
    }

    /// The first and the last abscissa.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// The index of the interval that holds `x`; an `x` at the very end belongs to the last.
    #[must_use]
    pub fn interval(&self, x: f64) -> usize {
        let above = self.x.partition_point(|knot| *knot <= x);
        above.clamp(1, self.x.len() - 1) - 1
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let d: Vec<f64> = y.windows(2).zip(&h).map(|(pair, h)| (pair[1] - pair[0]) / h).collect();
    if n == 2 {
        return vec![d[0]; 2];
    }
    let inner = (1..n - 1).map(|k| inner_slope(h[k - 1], h[k], d[k - 1], d[k]));
    let first = end_slope(h[0], h[1], d[0], d[1]);
    let last = end_slope(h[n - 2], h[n - 3], d[n - 2], d[n - 3]);
    [first].into_iter().chain(inner).chain([last]).collect()
}

/// Steffen's equation 11: the slope of the parabola through three points, no more than twice that of either secant, and
/// zero at an extremum.
fn inner_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    if d0 * d1 <= 0.0 {
        return 0.0;
    }
    let parabola = (d0 * h1 + d1 * h0) / (h0 + h1);
    let limit = 2.0 * d0.abs().min(d1.abs());
    parabola.abs().min(limit).copysign(d0)
}

/// The slope of the parabola at an end, of the sign of the nearest secant and no more than twice it.
fn end_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    let parabola = d0 + (d0 - d1) * h0 / (h0 + h1);
    if parabola * d0 <= 0.0 { 0.0 } else { parabola.abs().min(2.0 * d0.abs()).copysign(d0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn what_is_no_curve_gives_none() {
        for points in [
            &[][..],
            &[(0.0, 1.0)],
            &[(0.0, 1.0), (0.0, 2.0)],
            &[(1.0, 1.0), (0.0, 2.0)],
            &[(0.0, f64::NAN), (1.0, 1.0)],
        ] {
            assert_eq!(MonotoneCubic::through(points), None);
        }
    }

    #[test]
    fn a_smooth_law_is_met_between_twenty_four_stations() {
        // The angle of a constant pitch, the common law of a blade.
        let law = |r: f64| (1.1 / (std::f64::consts::TAU * r)).atan().to_degrees();
        let points: Vec<(f64, f64)> =
            (0..24).map(|k| 0.2 + 0.77 * f64::from(k) / 23.0).map(|r| (r, law(r))).collect();
        let curve = MonotoneCubic::through(&points).unwrap();
        let worst = (0..=770)
            .map(|k| 0.2 + f64::from(k) / 1000.0)
            .map(|r| (curve.value(r) - law(r)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.02, "{worst} deg");
        assert!((curve.value(1.0) - law(1.0)).abs() < 0.05, "{}", curve.value(1.0) - law(1.0));
    }

    proptest! {
        #[test]
        fn the_curve_goes_through_its_points_and_never_beyond_them(
            steps in proptest::collection::vec((0.01_f64..1.0, -5.0_f64..5.0), 2..20), share in 0.0_f64..1.0
        ) {
            let mut x = 0.0;
            let points: Vec<(f64, f64)> = steps.iter().map(|(step, y)| { x += step; (x, *y) }).collect();
            let curve = MonotoneCubic::through(&points).unwrap();
            for pair in points.windows(2) {
                prop_assert!((curve.value(pair[0].0) - pair[0].1).abs() < 1e-12);
                prop_assert!((curve.value(pair[1].0) - pair[1].1).abs() < 1e-9);
                let between = curve.value(pair[0].0 + share * (pair[1].0 - pair[0].0));
                let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
                prop_assert!(low - 1e-9 <= between && between <= high + 1e-9);
            }
        }

        #[test]
        fn a_straight_line_stays_one_everywhere(a in -3.0_f64..3.0, b in -3.0_f64..3.0, x in -1.0_f64..3.0) {
            let points: Vec<(f64, f64)> = [0.1, 0.3, 0.35, 0.9, 1.4].iter().map(|x| (*x, a + b * x)).collect();
            prop_assert!((MonotoneCubic::through(&points).unwrap().value(x) - (a + b * x)).abs() < 1e-12);
        }
    }
}
