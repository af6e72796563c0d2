//! The circulation of a blade in a given wake.

use super::blade::{Influence, WakeBlade};
use crate::element::wrapped;
use bladeform_polar::SectionPolar;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::{PI, TAU};

/// Newton steps for the circulation in a given wake.
const NEWTON_STEPS: usize = 40;
/// Step of the difference quotients, tip speeds.
const STEP: f64 = 1e-4;
/// The circulation has converged if it differs from that of the sections' lift by less than this fraction of its greatest value.
const SETTLED: f64 = 1e-7;
/// Greatest change of the velocity at an element in one step, tip speeds.
const LONGEST_STEP: f64 = 0.05;
/// Greatest angle of attack for the initial circulation, rad, measured from zero lift and without induced velocity.
const MOST_ALONE: f64 = 0.4;
/// Fraction of a step that is taken if no step reduces the residual.
const PAST_BENDS: f64 = 0.3;
/// Greatest excess of the speed of the stream over that of the blade, tip speeds.
const FASTEST_MORE: f64 = 0.25;
/// A Newton step is not shortened below this fraction.
const LEAST_SHARE: f64 = 0.05;

impl WakeBlade<'_> {
    /// Reynolds and Mach number of element `k` at a speed.
    pub(super) fn numbers(&self, k: usize, speed: f64) -> [f64; 2] {
        let (air, v) = (&self.operation.air, speed * self.tip_speed_m_s);
        let chord_m = self.propeller.blade.elements[k].chord_m;
        [v * chord_m * air.density_kg_m3 / air.viscosity_pa_s, v / air.speed_of_sound_m_s]
    }

    /// Circulation of element `k` from its section's lift in a stream with these two components.
    fn lifted(&self, k: usize, [u, v]: [f64; 2]) -> f64 {
        // With unbounded speed there could be a second solution, with a circulation that drives the stream itself.
        let speed = u.hypot(v).min(self.middles[k] + FASTEST_MORE);
        let [reynolds, mach] = self.numbers(k, speed);
        let blade = &self.propeller.blade;
        let alpha = wrapped(self.angles[k] - u.atan2(v));
        0.5 * self.chords[k]
            * speed
            * blade.polar(&blade.elements[k], self.turn_rad).lift(alpha, reynolds, mach)
    }

    fn lacking(&self, influence: &Influence, circulation: &DVector<f64>) -> DVector<f64> {
        let at = self.stream(influence, circulation);
        DVector::from_fn(self.count(), |k, _| circulation[k] - self.lifted(k, at[k]))
    }

    /// An initial circulation: that of thin sections without stall. The angle of attack without induced velocity is limited to [`MOST_ALONE`].
    pub(crate) fn thin(&self, influence: &Influence) -> Option<DVector<f64>> {
        let n = self.count();
        let blade = &self.propeller.blade;
        let alone = |k: usize| {
            let [reynolds, mach] = self.numbers(k, self.middles[k]);
            let no_lift = -blade.polar(&blade.elements[k], self.turn_rad).lift(0.0, reynolds, mach) / TAU;
            (self.angles[k] - no_lift).clamp(-MOST_ALONE, MOST_ALONE)
        };
        let matrix = DMatrix::from_fn(n, n, |i, j| {
            let own = if i == j { 1.0 } else { 0.0 };
            own + PI * self.chords[i] * influence[0][(i, j)]
        });
        let wanted = DVector::from_fn(n, |k, _| PI * self.chords[k] * self.middles[k] * alone(k));
        matrix.lu().solve(&wanted).filter(|g| g.iter().all(|x| x.is_finite()))
    }

    /// The circulation at which lift and velocities agree in a given wake, and the residual as a fraction of its greatest value. Newton's method with steps halved
    /// while they increase the residual.
    pub(crate) fn circulation(&self, influence: &Influence, start: &DVector<f64>) -> (DVector<f64>, f64) {
        let n = self.count();
        let mut circulation = start.clone();
        let mut residual = self.lacking(influence, &circulation);
        let mut best = (circulation.clone(), residual.clone());
        for _ in 0..NEWTON_STEPS {
            if residual.amax() < SETTLED * circulation.amax() {
                break;
            }
            let at = self.stream(influence, &circulation);
            let slopes: Vec<[f64; 2]> = (0..n)
                .map(|k| {
                    let [u, v] = at[k];
                    let here = self.lifted(k, [u, v]);
                    [[u + STEP, v], [u, v + STEP]].map(|there| (self.lifted(k, there) - here) / STEP)
                })
                .collect();
            let matrix = DMatrix::from_fn(n, n, |i, j| {
                let own = if i == j { 1.0 } else { 0.0 };
                own - slopes[i][0] * influence[0][(i, j)] + slopes[i][1] * influence[1][(i, j)]
            });
            let Some(change) = matrix.lu().solve(&residual) else { break };
            // A long step may end at an impossible solution: near an end of the blade a small circulation induces large velocities.
            let moved = influence.iter().map(|of| (of * &change).amax()).fold(0.0, f64::max);
            let mut share = (LONGEST_STEP / moved).min(1.0);
            let (next, left) = loop {
                let next = &circulation - &change * share;
                let left = self.lacking(influence, &next);
                if left.norm() < residual.norm() || share < LEAST_SHARE {
                    break (next, left);
                }
                share *= 0.5;
            };
            // Between two bends of the lift curve no step reduces the residual. A short step leads past them.
            (circulation, residual) = if left.norm() < residual.norm() {
                (next, left)
            } else {
                let past = &circulation - &change * PAST_BENDS;
                let left = self.lacking(influence, &past);
                (past, left)
            };
            if residual.norm() < best.1.norm() {
                best = (circulation.clone(), residual.clone());
            }
        }
        let left = best.1.amax() / best.0.amax().max(1e-12);
        (best.0, left)
    }
}
