//! NACA four-digit sections from their equations.
//!
//! Source: E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460, 1933.

use super::cosine_spacing;
use crate::mean_line::{InscribedCircle, MeanLine};
use crate::polygon::norm;

/// Half thickness at the fraction `x` of the chord, for greatest thickness `t` (Report 460, thickness equation, blunt tail).
pub(crate) fn half_thickness(t: f64, x: f64) -> f64 {
    5.0 * t * (0.2969 * x.sqrt() + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - x * 0.1015))))
}

/// Ordinate and slope of the mean line (Report 460, mean-line equations): `m` greatest ordinate at `p`.
pub(crate) fn mean_ordinate(m: f64, p: f64, x: f64) -> (f64, f64) {
    if m == 0.0 {
        (0.0, 0.0)
    } else if x < p {
        (m / (p * p) * (2.0 * p * x - x * x), 2.0 * m / (p * p) * (p - x))
    } else {
        let rest = (1.0 - p) * (1.0 - p);
        (m / rest * ((1.0 - 2.0 * p) + 2.0 * p * x - x * x), 2.0 * m / rest * (p - x))
    }
}

/// Outline, tail over back to nose and along the face, `2 * half + 1` corners.
pub(super) fn outline(m: f64, p: f64, t: f64, half: usize) -> Vec<[f64; 2]> {
    let side = |x: f64, sign: f64| {
        let ((y, slope), h) = (mean_ordinate(m, p, x), sign * half_thickness(t, x));
        let q = norm([1.0, slope]);
        [x - h * slope / q, y + h / q]
    };
    let back = cosine_spacing(half).rev().map(|x| side(x, 1.0));
    back.chain(cosine_spacing(half).skip(1).map(|x| side(x, -1.0))).collect()
}

/// The family's own mean line. The radius of each circle is the half thickness there.
pub(super) fn mean_line(m: f64, p: f64, t: f64, n: usize) -> MeanLine {
    let circles = cosine_spacing(n)
        .map(|x| InscribedCircle { centre: [x, mean_ordinate(m, p, x).0], radius: half_thickness(t, x) })
        .collect();
    MeanLine { leading_edge: [0.0, 0.0], trailing_edge: [1.0, 0.0], circles }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ordinates of NACA 4412 in per cent, printed in NACA Report 460 (also Report 824); last digit 0.01.
    #[test]
    fn ordinates_of_4412_as_printed() {
        let printed_back =
            [(1.25, 2.44), (5.0, 4.73), (10.0, 6.59), (30.0, 9.76), (50.0, 9.19), (90.0, 2.71)];
        let outline = outline(0.04, 0.4, 0.12, 4000);
        for (x, y) in printed_back {
            let i = (0..4000)
                .min_by(|&a, &b| {
                    (outline[a][0] - x / 100.0).abs().total_cmp(&(outline[b][0] - x / 100.0).abs())
                })
                .unwrap();
            assert!((100.0 * outline[i][1] - y).abs() < 0.02, "{x} %: {} against {y}", 100.0 * outline[i][1]);
        }
    }
}
