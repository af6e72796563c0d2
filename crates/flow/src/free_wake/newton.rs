//! Newton's method for the wake. The derivatives are reused as long as they reduce the residual enough.

use super::equations::{Surroundings, active, index};
use super::wake::{LEAST_RADIUS, Wake};
use nalgebra::{DVector, Dyn, LU};

/// Longest move of a wake point in one step, tip radii.
const LONGEST_MOVE: f64 = 0.08;
/// The derivatives are reused as long as a step reduces the residual to this fraction or less.
const SERVES: f64 = 0.3;
/// Fraction of the displacement that is applied in one relaxation sweep.
const DRIFT: f64 = 0.3;
/// How often a step is halved while it increases the residual.
const HALVINGS: usize = 5;

/// The factored derivatives.
#[derive(Default)]
pub(crate) struct WakeNewton {
    factors: Option<LU<f64, Dyn, Dyn>>,
    /// Number of evaluations of the derivatives and of the equations.
    pub(crate) taken: [usize; 2],
}

impl WakeNewton {
    /// Brings a wake that is far from the solution closer to it by relaxation: in each sweep it moves part of the way with the velocities that it induces.
    pub(crate) fn drift(&mut self, wake: &mut Wake, around: &Surroundings<'_>, sweeps: usize) {
        for _ in 0..sweeps {
            let mut sum = self.residual(wake, around);
            for a in 0..active(wake.strength.len()).len() {
                for k in 2..=wake.last() {
                    for c in 0..2 {
                        sum[index(wake, a, k, c)] += sum[index(wake, a, k - 1, c)];
                    }
                }
            }
            *wake = moved(wake, &sum, DRIFT);
        }
    }

    /// Moves the wake by up to `most` steps until the residual is below `enough`. Returns the residual, the norm over all equations.
    pub(crate) fn settle(
        &mut self,
        wake: &mut Wake,
        around: &Surroundings<'_>,
        most: usize,
        enough: f64,
    ) -> f64 {
        let mut before = self.residual(wake, around);
        for _ in 0..most {
            if before.norm() < enough {
                break;
            }
            let Some(after) = self.step(wake, around, &before) else { break };
            before = after;
        }
        before.norm()
    }

    fn residual(&mut self, wake: &Wake, around: &Surroundings<'_>) -> DVector<f64> {
        self.taken[1] += 1;
        around.residual(wake)
    }

    /// One step, shortened while it increases the residual. Returns the residuals after it, or `None` if no step reduces them.
    fn step(
        &mut self,
        wake: &mut Wake,
        around: &Surroundings<'_>,
        before: &DVector<f64>,
    ) -> Option<DVector<f64>> {
        loop {
            let kept = self.factors.is_some();
            if !kept {
                self.taken[0] += 1;
                self.factors = Some(around.jacobian(wake).lu());
            }
            let change = self.factors.as_ref()?.solve(before).filter(|c| c.iter().all(|x| x.is_finite()));
            let Some(change) = change else {
                self.factors = None;
                return None;
            };
            let mut share = (LONGEST_MOVE / change.amax()).min(1.0);
            for _ in 0..if kept { 1 } else { HALVINGS } {
                let next = moved(wake, &change, share);
                let after = self.residual(&next, around);
                if after.norm() < before.norm() {
                    let promised = 1.0 - share;
                    if (promised + SERVES * share) * before.norm() < after.norm() {
                        self.factors = None;
                    }
                    *wake = next;
                    return Some(after);
                }
                share *= 0.5;
            }
            self.factors = None;
            if !kept {
                return None;
            }
        }
    }
}

fn moved(wake: &Wake, change: &DVector<f64>, share: f64) -> Wake {
    let mut next = wake.clone();
    for (a, f) in active(wake.strength.len()).into_iter().enumerate() {
        for k in 1..=wake.last() {
            let of = |c: usize| share * change[index(wake, a, k, c)];
            next.radius[f][k] = (next.radius[f][k] - of(0)).max(LEAST_RADIUS);
            next.height[f][k] -= of(1);
        }
    }
    next.follow();
    next
}
