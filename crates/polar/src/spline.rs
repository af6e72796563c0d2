//! Natural cubic spline through the points of a curve, over the length along it.

use bladeform_numeric::cubic_spline::CubicSpline;

/// The curve through `points` at increasing `at`; both of the same length, at least two.
///
/// The elimination keeps its own order, because every polar hangs on its last bits (docs/decisions/026-one-place-for-splines.md).
pub(crate) fn through(at: &[f64], points: &[[f64; 2]]) -> CubicSpline<2> {
    let n = at.len();
    let (mut diagonal, mut right) = (vec![1.0; n], vec![[0.0; 2]; n]);
    // Thomas elimination of the tridiagonal system. The ends have zero second derivatives.
    for i in 1..n.saturating_sub(1) {
        let (a, b) = (at[i] - at[i - 1], at[i + 1] - at[i]);
        let upper_before = if i == 1 { 0.0 } else { a };
        let factor = a / diagonal[i - 1];
        diagonal[i] = 2.0 * (a + b) - factor * upper_before;
        right[i] = [0, 1].map(|k| {
            let (before, here, after) = (points[i - 1][k], points[i][k], points[i + 1][k]);
            6.0 * ((after - here) / b - (here - before) / a) - factor * right[i - 1][k]
        });
    }
    let mut bends = vec![[0.0; 2]; n];
    for i in (1..n.saturating_sub(1)).rev() {
        bends[i] = [0, 1].map(|k| (right[i][k] - (at[i + 1] - at[i]) * bends[i + 1][k]) / diagonal[i]);
    }
    CubicSpline::of_second_derivatives(at, points.to_vec(), bends)
}

/// Point, first and second derivative at `s`, clamped to the ends.
pub(crate) fn evaluate(spline: &CubicSpline<2>, s: f64) -> [[f64; 2]; 3] {
    let at = spline.at();
    spline.with_derivatives(s.clamp(at[0], at[at.len() - 1]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_natural_spline_but_for_rounding() {
        let at: Vec<f64> = (0..=60).map(|i| std::f64::consts::PI * f64::from(i * i) / 3600.0).collect();
        let points: Vec<[f64; 2]> = at.iter().map(|x| [x.sin(), x.cos()]).collect();
        let (own, natural) = (through(&at, &points), CubicSpline::natural(&at, points));
        for s in [-0.5_f64, 0.0, 0.03, 0.7, 1.5, 3.0, 3.5] {
            let clamped = s.clamp(0.0, std::f64::consts::PI);
            let pairs = evaluate(&own, s).into_iter().zip(natural.with_derivatives(clamped));
            for (a, b) in pairs.flat_map(|(a, b)| a.into_iter().zip(b)) {
                assert!((a - b).abs() < 1e-9, "{s}: {a} {b}");
            }
        }
    }
}
