//! Curves by control points (Bernstein polynomials), by the algorithm of de Casteljau.

/// Most control points of a curve.
pub(super) const MOST: usize = 9;

/// Point and derivative of the curve at `t` in 0..1. `points`: 2 to [`MOST`].
pub(super) fn curve(points: &[[f64; 2]], t: f64) -> ([f64; 2], [f64; 2]) {
    assert!((2..=MOST).contains(&points.len()), "a curve of {} control points", points.len());
    let mut p = [[0.0; 2]; MOST];
    p[..points.len()].copy_from_slice(points);
    let last = points.len() - 1;
    for level in (2..=last).rev() {
        step(&mut p, level, t);
    }
    let slope = [0, 1].map(|k| last as f64 * (p[1][k] - p[0][k]));
    step(&mut p, 1, t);
    (p[0], slope)
}

fn step(p: &mut [[f64; 2]; MOST], level: usize, t: f64) {
    for i in 0..level {
        p[i] = [p[i][0] + t * (p[i + 1][0] - p[i][0]), p[i][1] + t * (p[i + 1][1] - p[i][1])];
    }
}

/// Value at `t` of a quantity given by its control values.
pub(super) fn value(controls: &[f64], t: f64) -> f64 {
    let points: Vec<_> = controls.iter().map(|&c| [c, 0.0]).collect();
    curve(&points, t).0[0]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_parabola_has_its_value_and_slope() {
        // x = t, y = t^2 has the control points (0, 0), (0.5, 0), (1, 1).
        let (p, slope) = curve(&[[0.0, 0.0], [0.5, 0.0], [1.0, 1.0]], 0.3);
        assert!((p[0] - 0.3).abs() < 1e-15 && (p[1] - 0.09).abs() < 1e-15);
        assert!((slope[0] - 1.0).abs() < 1e-14 && (slope[1] - 0.6).abs() < 1e-14);
        assert!((value(&[2.0, 2.0, 2.0], 0.7) - 2.0).abs() < 1e-15);
    }
}
