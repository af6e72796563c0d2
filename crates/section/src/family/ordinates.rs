//! Outlines through tabulated ordinates: a natural cubic spline of the ordinate over the square root of the abscissa, which makes a round nose smooth.

use super::cosine_spacing;
use bladeform_numeric::cubic_spline::{CubicSpline, Interval};

/// Outline of a section with tabulated back and face (fractions of the chord, nose to tail), with the ordinates multiplied by `stretch`.
pub(super) fn outline(back: &[[f64; 2]], face: &[[f64; 2]], stretch: f64, half: usize) -> Vec<[f64; 2]> {
    // One spline through face, nose and back with w = -sqrt(x) on the face and +sqrt(x) on the back has a smooth nose.
    let knots = face.iter().rev().map(|p| (-p[0].sqrt(), [p[1]]));
    let knots = knots.chain(back.iter().filter(|p| 0.0 < p[0]).map(|p| (p[0].sqrt(), [p[1]])));
    let (w, ordinates): (Vec<f64>, Vec<[f64; 1]>) = knots.unzip();
    let spline = CubicSpline::natural(&w, ordinates);
    let at = |w: f64| [w * w, stretch * ordinate(&spline, w)];
    let over_the_back = cosine_spacing(half).rev().map(|x| at(x.sqrt()));
    over_the_back.chain(cosine_spacing(half).skip(1).map(|x| at(-x.sqrt()))).collect()
}

/// Ordinate of a spline at `w`. The order of the sum is that of the published polars of these sections (docs/decisions/026-one-place-for-splines.md).
fn ordinate(spline: &CubicSpline<1>, w: f64) -> f64 {
    let Interval { width: h, shares: [a, b], values: [[y0], [y1]], bends: [[m0], [m1]] } = spline.interval(w);
    a * y0 + b * y1 + h * h / 6.0 * ((a * a * a - a) * m0 + (b * b * b - b) * m1)
}
