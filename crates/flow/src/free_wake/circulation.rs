//! The circulation of a blade in a given wake.

use super::blade::{Influence, WakeBlade};
use crate::element::wrapped;
use bladeform_polar::SectionPolar;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::{PI, TAU};

/// Newton steps for the circulation in a given wake.
const NEWTON_STEPS: usize = 40;
/// Step of differences, tip speeds.
const STEP: f64 = 1e-4;
/// Circulation has settled when it differs from the sections' by less than this fraction of its greatest value.
const SETTLED: f64 = 1e-7;
/// Most that one step changes the velocity at an element, tip speeds.
const LONGEST_STEP: f64 = 0.05;
/// Greatest angle of attack from the angle of no lift without any induced velocity, rad, that a first circulation is made of.
const MOST_ALONE: f64 = 0.4;
/// Share of a step that is taken where none leads nearer.
const PAST_BENDS: f64 = 0.3;
/// No stream is faster than the blade moves by more than this fraction of the tip speed.
const FASTEST_MORE: f64 = 0.25;
/// A Newton step is not halved below this share.
const LEAST_SHARE: f64 = 0.05;

impl WakeBlade<'_> {
    /// Reynolds and Mach number of element `k` at a speed.
    pub(super) fn numbers(&self, k: usize, speed: f64) -> [f64; 2] {
        let (air, v) = (&self.operation.air, speed * self.tip_speed_m_s);
        let chord_m = self.propeller.blade.elements[k].chord_m;
        [v * chord_m * air.density_kg_m3 / air.viscosity_pa_s, v / air.speed_of_sound_m_s]
    }

    /// Circulation of element `k` by its section's lift where the stream has these two parts.
    fn lifted(&self, k: usize, [u, v]: [f64; 2]) -> f64 {
        // Of a stream without bound a second answer could be made, of a circulation that drives it.
        let speed = u.hypot(v).min(self.middles[k] + FASTEST_MORE);
        let [reynolds, mach] = self.numbers(k, speed);
        let blade = &self.propeller.blade;
        let alpha = wrapped(self.angles[k] - u.atan2(v));
        0.5 * self.chords[k] * speed * blade.polar(&blade.elements[k]).lift(alpha, reynolds, mach)
    }

    fn lacking(&self, influence: &Influence, circulation: &DVector<f64>) -> DVector<f64> {
        let at = self.stream(influence, circulation);
        DVector::from_fn(self.count(), |k, _| circulation[k] - self.lifted(k, at[k]))
    }

    /// A circulation to begin with: that of thin sections, whose lift grows without end up to a bound on the angle of attack that they would have alone.
    pub(crate) fn thin(&self, influence: &Influence) -> Option<DVector<f64>> {
        let n = self.count();
        let blade = &self.propeller.blade;
        let alone = |k: usize| {
            let [reynolds, mach] = self.numbers(k, self.middles[k]);
            let no_lift = -blade.polar(&blade.elements[k]).lift(0.0, reynolds, mach) / TAU;
            (self.angles[k] - no_lift).clamp(-MOST_ALONE, MOST_ALONE)
        };
        let matrix = DMatrix::from_fn(n, n, |i, j| {
            let own = if i == j { 1.0 } else { 0.0 };
            own + PI * self.chords[i] * influence[0][(i, j)]
        });
        let wanted = DVector::from_fn(n, |k, _| PI * self.chords[k] * self.middles[k] * alone(k));
        matrix.lu().solve(&wanted).filter(|g| g.iter().all(|x| x.is_finite()))
    }

    /// The circulation at which lift and velocities agree in a given wake, by Newton's method with steps halved while they lead away, and the fraction of its
    /// greatest value that is left.
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
            // A long step may end on an answer that cannot be: next to an end a little circulation moves much air.
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
            // Between two bends of the lift no step leads nearer: a short one leads past them.
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
