//! Outlines through tabulated ordinates: a natural cubic spline of the ordinate over the square root of the abscissa, which makes a round nose smooth.

use super::cosine_spacing;

/// Outline of a section with tabulated back and face (fractions of the chord, nose to tail), with the ordinates multiplied by `stretch`.
pub(super) fn outline(back: &[[f64; 2]], face: &[[f64; 2]], stretch: f64, half: usize) -> Vec<[f64; 2]> {
    // One spline through face, nose and back with w = -sqrt(x) on the face and +sqrt(x) on the back has a smooth nose.
    let mut knots: Vec<(f64, f64)> = face.iter().rev().map(|p| (-p[0].sqrt(), p[1])).collect();
    knots.extend(back.iter().filter(|p| 0.0 < p[0]).map(|p| (p[0].sqrt(), p[1])));
    let spline = NaturalSpline::new(&knots);
    let at = |w: f64| [w * w, stretch * spline.value(w)];
    let over_the_back = cosine_spacing(half).rev().map(|x| at(x.sqrt()));
    over_the_back.chain(cosine_spacing(half).skip(1).map(|x| at(-x.sqrt()))).collect()
}

/// Natural cubic spline through points with increasing abscissae (textbook tridiagonal solution).
pub(crate) struct NaturalSpline {
    x: Vec<f64>,
    y: Vec<f64>,
    /// Second derivative at each knot.
    bend: Vec<f64>,
}

impl NaturalSpline {
    /// Spline through `points`, at least two, with strictly increasing abscissae.
    pub(crate) fn new(points: &[(f64, f64)]) -> Self {
        let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let n = x.len();
        let (mut upper, mut rhs) = (vec![0.0; n], vec![0.0; n]);
        for i in 1..n.saturating_sub(1) {
            let (a, c) = (x[i] - x[i - 1], x[i + 1] - x[i]);
            let pivot = 2.0 * (a + c) - a * upper[i - 1];
            upper[i] = c / pivot;
            rhs[i] = (6.0 * ((y[i + 1] - y[i]) / c - (y[i] - y[i - 1]) / a) - a * rhs[i - 1]) / pivot;
        }
        let mut bend = vec![0.0; n];
        for i in (1..n.saturating_sub(1)).rev() {
            bend[i] = rhs[i] - upper[i] * bend[i + 1];
        }
        Self { x, y, bend }
    }

    /// Ordinate at `x`. The end pieces are extrapolated beyond the ends.
    pub(crate) fn value(&self, x: f64) -> f64 {
        let i = self.x.partition_point(|&k| k <= x).clamp(1, self.x.len() - 1);
        let h = self.x[i] - self.x[i - 1];
        let (a, b) = ((self.x[i] - x) / h, (x - self.x[i - 1]) / h);
        a * self.y[i - 1]
            + b * self.y[i]
            + h * h / 6.0 * ((a * a * a - a) * self.bend[i - 1] + (b * b * b - b) * self.bend[i])
    }
}
