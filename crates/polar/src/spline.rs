//! Cubic spline through the points of a curve, over the length along it.

/// Natural cubic spline of one coordinate.
#[derive(Debug, Clone)]
pub(crate) struct Spline {
    at: Vec<f64>,
    value: Vec<f64>,
    /// Second derivative at each knot.
    curvature: Vec<f64>,
}

impl Spline {
    /// Through `value` at increasing `at`; both of the same length, at least two.
    pub(crate) fn through(at: &[f64], value: &[f64]) -> Self {
        let n = at.len();
        let (mut diagonal, mut right) = (vec![1.0; n], vec![0.0; n]);
        // Thomas elimination of the tridiagonal system. The ends have zero curvature.
        for i in 1..n.saturating_sub(1) {
            let (a, b) = (at[i] - at[i - 1], at[i + 1] - at[i]);
            let upper_before = if i == 1 { 0.0 } else { a };
            let factor = a / diagonal[i - 1];
            diagonal[i] = 2.0 * (a + b) - factor * upper_before;
            right[i] =
                6.0 * ((value[i + 1] - value[i]) / b - (value[i] - value[i - 1]) / a) - factor * right[i - 1];
        }
        let mut curvature = vec![0.0; n];
        for i in (1..n.saturating_sub(1)).rev() {
            curvature[i] = (right[i] - (at[i + 1] - at[i]) * curvature[i + 1]) / diagonal[i];
        }
        Self { at: at.to_vec(), value: value.to_vec(), curvature }
    }

    /// Value, first and second derivative at `s`, clamped to the ends.
    pub(crate) fn evaluate(&self, s: f64) -> [f64; 3] {
        let s = s.clamp(self.at[0], self.at[self.at.len() - 1]);
        let i = self.at.partition_point(|&a| a <= s).clamp(1, self.at.len() - 1);
        let h = self.at[i] - self.at[i - 1];
        let (b, a) = ((s - self.at[i - 1]) / h, (self.at[i] - s) / h);
        let (m0, m1) = (self.curvature[i - 1], self.curvature[i]);
        [
            a * self.value[i - 1]
                + b * self.value[i]
                + ((a * a * a - a) * m0 + (b * b * b - b) * m1) * h * h / 6.0,
            (self.value[i] - self.value[i - 1]) / h
                + ((3.0 * b * b - 1.0) * m1 - (3.0 * a * a - 1.0) * m0) * h / 6.0,
            a * m0 + b * m1,
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_comes_back_with_its_derivatives() {
        let at: Vec<f64> = (0..=60).map(|i| std::f64::consts::PI * f64::from(i) / 60.0).collect();
        let spline = Spline::through(&at, &at.iter().map(|x| x.sin()).collect::<Vec<_>>());
        for x in [0.03, 0.7, 1.5, 3.0] {
            let [v, d, dd] = spline.evaluate(x);
            assert!((v - x.sin()).abs() < 1e-6, "{x}");
            assert!((d - x.cos()).abs() < 1e-4, "{x}");
            assert!((dd + x.sin()).abs() < 2e-3, "{x}");
        }
    }
}
