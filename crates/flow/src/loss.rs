//! The loss of a finite number of blades compared with infinitely many: Prandtl's factor and Goldstein's.

use crate::helix::helix_velocity;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::PI;

/// Range of the advance of the helix, tip radii per radian, over which Goldstein's factor is tabulated: from a helix so fine that Prandtl's
/// limit holds to one so coarse that no propeller reaches it.
const HELIX_RANGE: [f64; 2] = [0.02, 5.0];
/// Rows of the table over the helix. The factor differs by less than 2 % between neighbours.
const HELIX_STEPS: usize = 28;
/// Vortices over the span for one row of the table. The factor has converged to about 0.2 %.
const VORTICES: usize = 40;
/// Radius of the innermost vortex, as a fraction of the tip radius.
const INNERMOST: f64 = 0.02;
/// Least factor, since the balance divides by it. It is reached only within a ten-thousandth of the tip radius from an end.
const LEAST_FACTOR: f64 = 1e-3;

/// Prandtl's tip-loss factor: the induced velocity averaged over the circumference as a fraction of that at the blades.
///
/// `ratio` is the radius and `helix` is the advance of the wake per radian, both as fractions of the tip radius.
///
/// # Source
/// L. Prandtl's addition to A. Betz, *Schraubenpropeller mit geringstem Energieverlust*, Göttinger Nachrichten, 1919, 193-217.
#[must_use]
pub fn prandtl_factor(blades: u32, ratio: f64, helix: f64) -> f64 {
    let gap = helix.hypot(1.0) / helix.max(f64::MIN_POSITIVE);
    let f = 0.5 * f64::from(blades) * (1.0 - ratio).max(0.0) * gap;
    (2.0 / PI * (-f).exp().acos()).max(LEAST_FACTOR)
}

/// The same for the inner end of the blades at `inner_ratio`.
#[must_use]
pub fn prandtl_root_factor(blades: u32, ratio: f64, inner_ratio: f64, inflow_rad: f64) -> f64 {
    let sin = inflow_rad.sin().abs().max(1e-9);
    let f = 0.5 * f64::from(blades) * (ratio - inner_ratio).max(0.0) / (inner_ratio.max(1e-6) * sin);
    (2.0 / PI * (-f).exp().acos()).max(LEAST_FACTOR)
}

/// Goldstein's factor over the radius: the circulation of the propeller of least loss with `blades` blades over that with infinitely many,
/// from a lifting line in a rigid helical wake.
///
/// Returns the radii as fractions of the tip radius and, at each, `K = B Gamma omega / (2 pi w V)` of the source.
///
/// # Source
/// S. Goldstein, *On the vortex theory of screw propellers*, Proceedings of the Royal Society A 123, 1929, 440-465: the
/// condition that the wake moves as if rigid, here solved with discrete helical vortices instead of his series.
#[must_use]
pub fn goldstein_circulation(blades: u32, helix: f64, vortices: usize) -> Vec<(f64, f64)> {
    let (half, middle) = (0.5 * (1.0 - INNERMOST), 0.5 * (1.0 + INNERMOST));
    let at = |k: f64| middle - half * (PI * k / vortices as f64).cos();
    let controls: Vec<f64> = (0..vortices).map(|k| at(k as f64 + 0.5)).collect();
    let edges: Vec<f64> = (0..=vortices).map(|k| at(k as f64)).collect();
    let circulation =
        rigid_wake(blades, &edges, &controls, helix).unwrap_or_else(|| DVector::zeros(vortices));
    let scale = f64::from(blades) / (2.0 * PI * helix);
    controls.iter().zip(circulation.iter()).map(|(x, g)| (*x, scale * g)).collect()
}

/// Circulation at the radii `controls` whose wake moves as if rigid, at unit speed far behind. The vortices leave at `edges` (one more), and `advance` is the
/// advance of the wake per radian. All lengths have the same unit. `None` if the equations have no solution.
pub(crate) fn rigid_wake(blades: u32, edges: &[f64], controls: &[f64], advance: f64) -> Option<DVector<f64>> {
    let n = controls.len();
    let angles: Vec<(f64, f64)> = controls.iter().map(|r| (advance / r).atan().sin_cos()).collect();
    let velocity = |i: usize, j: usize| helix_velocity(blades, controls[i], edges[j], advance / edges[j]);
    let matrix = DMatrix::from_fn(n, n, |i, j| {
        let (inner, outer) = (velocity(i, j), velocity(i, j + 1));
        let (sin, cos) = angles[i];
        // The swirl of the wake has the sense of the blades' rotation, opposite to that of the vortex at the outer edge.
        (outer[0] - inner[0]) * cos - (outer[1] - inner[1]) * sin
    });
    // At the blade the wake moves at half of its speed far behind.
    matrix.lu().solve(&DVector::from_fn(n, |i, _| 0.5 * angles[i].1))
}

/// Goldstein's factor on the momentum of an annulus, for one number of blades. It is tabulated as a correction of Prandtl's factor,
/// because their quotient is smooth up to the tip.
#[derive(Clone, Debug)]
pub struct TipLoss {
    blades: u32,
    /// Quotients, one row per helix, one column per control point.
    rows: Vec<Vec<f64>>,
}

impl TipLoss {
    /// The table for a number of blades.
    #[must_use]
    pub fn new(blades: u32) -> TipLoss {
        let step = (HELIX_RANGE[1] / HELIX_RANGE[0]).ln() / (HELIX_STEPS - 1) as f64;
        let rows = (0..HELIX_STEPS).map(|k| row(blades, HELIX_RANGE[0] * (k as f64 * step).exp())).collect();
        TipLoss { blades, rows }
    }

    /// The factor at a radius, as a fraction of the tip radius, and at an inflow angle, rad. The helix has the same pitch at all radii.
    #[must_use]
    pub fn factor(&self, ratio: f64, inflow_rad: f64) -> f64 {
        let helix = (ratio * inflow_rad.tan().abs()).clamp(1e-4, 1e4);
        (prandtl_factor(self.blades, ratio, helix) * self.quotient(ratio, helix)).max(LEAST_FACTOR)
    }

    fn quotient(&self, ratio: f64, helix: f64) -> f64 {
        let span = (HELIX_RANGE[1] / HELIX_RANGE[0]).ln();
        let place = (helix.clamp(HELIX_RANGE[0], HELIX_RANGE[1]) / HELIX_RANGE[0]).ln() / span
            * (HELIX_STEPS - 1) as f64;
        let (half, middle) = (0.5 * (1.0 - INNERMOST), 0.5 * (1.0 + INNERMOST));
        let along = ((middle - ratio) / half).clamp(-1.0, 1.0).acos() / PI * VORTICES as f64 - 0.5;
        let (i, s) = split(place, HELIX_STEPS);
        let (j, t) = split(along, VORTICES);
        let at = |i: usize| (1.0 - t) * self.rows[i][j] + t * self.rows[i][j + 1];
        (1.0 - s) * at(i) + s * at(i + 1)
    }
}

/// The lower neighbour and the weight of the upper one, clamped to a table of `n`.
pub(crate) fn split(place: f64, n: usize) -> (usize, f64) {
    let place = place.clamp(0.0, (n - 1) as f64);
    let lower = (place.floor() as usize).min(n - 2);
    (lower, place - lower as f64)
}

fn row(blades: u32, helix: f64) -> Vec<f64> {
    let factor = |(x, k): (f64, f64)| {
        let many = x * x / (x * x + helix * helix);
        k / many / prandtl_factor(blades, x, helix)
    };
    goldstein_circulation(blades, helix, VORTICES).into_iter().map(factor).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fine_helix_has_prandtls_closed_form() {
        for blades in [2, 3, 4] {
            let helix = 0.05;
            for (x, k) in goldstein_circulation(blades, helix, 60).into_iter().filter(|(x, _)| *x > 0.5) {
                let closed = prandtl_factor(blades, x, helix) * x * x / (x * x + helix * helix);
                assert!((k - closed).abs() < 0.012, "{blades} blades at {x}: {k} {closed}");
            }
        }
    }

    #[test]
    fn many_blades_lose_nothing_inside() {
        for (x, k) in goldstein_circulation(60, 0.3, 60).into_iter().filter(|(x, _)| (0.2..0.9).contains(x)) {
            assert!((k - x * x / (x * x + 0.09)).abs() < 0.004, "{x}: {k}");
        }
    }

    #[test]
    fn the_table_returns_what_it_was_made_of() {
        let loss = TipLoss::new(2);
        for helix in [0.1, 0.25, 0.7] {
            for (x, k) in
                goldstein_circulation(2, helix, 60).into_iter().filter(|(x, _)| (0.2..0.98).contains(x))
            {
                let expected = k * (x * x + helix * helix) / (x * x);
                let found = loss.factor(x, (helix / x).atan());
                assert!((found - expected).abs() < 0.01, "{helix} {x}: {found} {expected}");
            }
        }
    }
}
