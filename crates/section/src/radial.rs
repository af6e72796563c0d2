//! Outline of a nearly circular section as a short Fourier series of the radius about its centre.

use nalgebra::{DMatrix, DVector};

use crate::polygon::{area, longest_chord, norm, sub};

/// Highest harmonic. An ellipse has 2 and 4, and higher ones would follow the noise of a shank.
const N_HARMONICS: usize = 6;

/// A nearly circular section.
#[derive(Debug, Clone, PartialEq)]
pub struct RadialFit {
    /// Closed anticlockwise outline, n x 2, in the points' frame and unit.
    pub outline: Vec<[f64; 2]>,
    /// Area inside.
    pub area: f64,
    /// Greatest distance between two points of the outline.
    pub longest_chord: f64,
    /// Diameter of the greatest inscribed circle about the centre: twice the least radius.
    pub thickness: f64,
    /// Root mean square distance of the points from the outline, along the radius.
    pub rms: f64,
}

/// Fits radius over angle about the points' centre (the circle of least squares, A. Kåsa, 1976), robustly. `points`: n x 2, n >= 20.
/// `None` if there are too few points or they cover less than two thirds of the turn.
#[must_use]
pub fn fit_radial(points: &[[f64; 2]]) -> Option<RadialFit> {
    let centre = circle_centre(points)?;
    let polar: Vec<_> = points.iter().map(|&p| sub(p, centre)).map(|d| (d[1].atan2(d[0]), norm(d))).collect();
    if covered(&polar) < 2.0 / 3.0 {
        return None;
    }
    let mut weights = vec![1.0; polar.len()];
    let mut c = DVector::zeros(1 + 2 * N_HARMONICS);
    for _ in 0..5 {
        c = solve(&polar, &weights)?;
        let mut sizes: Vec<f64> = polar.iter().map(|p| (p.1 - radius(&c, p.0)).abs()).collect();
        let middle = sizes.len() / 2;
        let bound = 4.685 * 1.4826 * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1;
        for (w, p) in weights.iter_mut().zip(&polar) {
            let u = (p.1 - radius(&c, p.0)) / bound.max(1e-12 * c[0]);
            *w = if u.abs() < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 };
        }
    }
    let turn = |i: usize| std::f64::consts::TAU * i as f64 / 360.0;
    let outline: Vec<_> = (0..360)
        .map(turn)
        .map(|a| (a, radius(&c, a)))
        .map(|(a, r)| [centre[0] + r * a.cos(), centre[1] + r * a.sin()])
        .collect();
    let least = (0..360).map(|i| radius(&c, turn(i))).fold(f64::INFINITY, f64::min);
    let (sum, square) = weights
        .iter()
        .zip(&polar)
        .fold((0.0, 0.0), |(s, q), (w, p)| (s + w, q + w * (p.1 - radius(&c, p.0)).powi(2)));
    let (a, b) = longest_chord(&outline)?;
    Some(RadialFit {
        area: area(&outline),
        longest_chord: norm(sub(b, a)),
        thickness: 2.0 * least,
        rms: (square / sum).sqrt(),
        outline,
    })
}

/// Fraction of the turn, in 36 bins, that has points.
fn covered(polar: &[(f64, f64)]) -> f64 {
    let mut bins = [false; 36];
    for p in polar {
        bins[(((p.0 / std::f64::consts::TAU + 0.5) * 36.0) as usize).min(35)] = true;
    }
    bins.iter().filter(|&&b| b).count() as f64 / 36.0
}

fn circle_centre(points: &[[f64; 2]]) -> Option<[f64; 2]> {
    if points.len() < 20 {
        return None;
    }
    let n = points.len() as f64;
    let mean = points.iter().fold([0.0, 0.0], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
    let mut a = DMatrix::<f64>::zeros(3, 3);
    let mut b = DVector::<f64>::zeros(3);
    for p in points {
        let d = sub(*p, mean);
        let row = [d[0], d[1], 1.0];
        let square = d[0] * d[0] + d[1] * d[1];
        for i in 0..3 {
            b[i] += row[i] * square;
            for j in 0..3 {
                a[(i, j)] += row[i] * row[j];
            }
        }
    }
    let s = a.cholesky()?.solve(&b);
    Some([mean[0] + s[0] / 2.0, mean[1] + s[1] / 2.0])
}

fn harmonics(angle: f64) -> [f64; 1 + 2 * N_HARMONICS] {
    std::array::from_fn(|i| match i {
        0 => 1.0,
        i if i % 2 == 1 => (i.div_ceil(2) as f64 * angle).cos(),
        i => (i.div_ceil(2) as f64 * angle).sin(),
    })
}

fn radius(c: &DVector<f64>, angle: f64) -> f64 {
    harmonics(angle).iter().zip(c.iter()).map(|(h, c)| h * c).sum()
}

fn solve(polar: &[(f64, f64)], weights: &[f64]) -> Option<DVector<f64>> {
    let n = 1 + 2 * N_HARMONICS;
    let (mut a, mut b) = (DMatrix::zeros(n, n), DVector::zeros(n));
    for (p, w) in polar.iter().zip(weights) {
        let row = harmonics(p.0);
        for i in 0..n {
            b[i] += w * row[i] * p.1;
            for j in 0..n {
                a[(i, j)] += w * row[i] * row[j];
            }
        }
    }
    // A weak penalty that grows with the harmonic favours a round outline and bridges gaps between the points.
    for i in 1..n {
        a[(i, i)] += 1e-6 * polar.len() as f64 * (i.div_ceil(2) as f64).powi(4);
    }
    Some(a.cholesky()?.solve(&b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ellipse_keeps_its_axes_and_area() {
        let points: Vec<_> = (0..500)
            .map(|i| f64::from(i) * 0.01256)
            .map(|a| [3.0 + 1.02 * a.cos(), -2.0 + 0.98 * a.sin()])
            .collect();
        let fit = fit_radial(&points).unwrap();
        assert!((fit.area - std::f64::consts::PI * 1.02 * 0.98).abs() < 1e-3);
        assert!((fit.longest_chord - 2.04).abs() < 1e-3 && (fit.thickness - 1.96).abs() < 1e-3);
    }
}
