//! The iteration between blade and wake until they agree.

use super::blade::{Influence, WakeBlade};
use super::equations::Surroundings;
use super::load::Load;
use super::mixing::Mixing;
use super::newton::WakeNewton;
use super::vortex::Blades;
use super::wake::Wake;
use super::{FreeWakeSettings, NoFreeWake, RestPerformance};
use crate::ElementState;
use crate::propeller::{FlowPropeller, Operation, Performance};
use nalgebra::DVector;
use std::f64::consts::{PI, TAU};

/// Fraction of the change of circulation that is applied in one iteration.
const SHARE: f64 = 0.4;
/// Convergence: the greatest change of the circulation as a fraction of its greatest value, the greatest relative change of the thrust, and the greatest residual
/// of the wake equations (norm over all points, tip radii).
const CIRCULATION_SETTLED: f64 = 3e-3;
/// Of the thrust: a tenth of a per cent is far below the difference of 5 % at which models are said to differ (chosen).
const THRUST_SETTLED: f64 = 1e-3;
/// Of the wake equations. Chosen; no check of this value is on record.
const WAKE_SETTLED: f64 = 1e-4;
/// Accepted residual of the wake equations per relative change of the circulation: while the circulation still changes, the wake need not be exact.
const WAKE_PER_CIRCULATION: f64 = 3e-3;
/// Wake steps in one iteration.
const WAKE_STEPS: usize = 4;
/// Greatest difference accepted between the circulation and that of the sections' lift, as a fraction of its greatest value.
const MOST_LEFT: f64 = 1e-2;
/// The iteration is given up if in so many successive iterations the residual has not fallen to this fraction.
const PATIENCE: usize = 9;
/// The fraction to which the residual must fall. Chosen; no check of this value is on record.
const NEARER: f64 = 0.8;
/// Iterations after which a tip vortex that is clearly too weak, or too close, is taken to remain so. "Clearly" is below this fraction of the least strength or depth.
const ROUNDS_FOR_TIP: usize = 3;
/// The same for a tip vortex that is too close. Chosen; no check of this value is on record.
const ROUNDS_FOR_DEPTH: usize = 6;
/// What counts as clearly: half of the least value (chosen).
const CLEARLY: f64 = 0.5;
/// Relaxation sweeps that bring a guessed wake closer to the solution.
const SWEEPS: usize = 14;
/// Least depth of the tip vortex below the next blade, tip radii. If it passes closer, a core of 0.005 to 0.02 R (which is not known) changes the thrust by some
/// per cent.
pub(super) const LEAST_DEPTH: f64 = 0.02;
/// Least circulation of a tip vortex as a fraction of the greatest circulation.
const LEAST_TIP_SHARE: f64 = 0.5;
/// Greatest plausible induced velocity as a fraction of the tip speed: twice that of the ideal disc at three times the load of any propeller.
const MOST_INDUCED: f64 = 0.5;
/// Greatest stalled fraction of the span outboard of half the radius. What a stalled section sheds is not the wake of this model: with 0.3 its figure of merit once fell from 0.73 to 0.58 within five
/// degrees of setting while that of the blade elements did not. Half of it is the limit (judgement).
pub(crate) const MOST_STALLED: f64 = 0.15;

/// Stalled fraction of the span outboard of half the radius.
pub(crate) fn outer_stall(p: &Performance) -> f64 {
    let outer = |e: &&ElementState| 0.25 * p.diameter_m < e.radius_m;
    let width = |stalled: bool| -> f64 {
        p.elements.iter().filter(outer).filter(|e| !stalled || e.is_stalled()).map(|e| e.width_m).sum()
    };
    width(true) / width(false)
}

/// Refuses a propeller with much of the working part of its blades stalled.
///
/// # Errors
/// [`NoFreeWake::Stalled`].
pub(super) fn refuse_stall(p: &Performance) -> Result<(), NoFreeWake> {
    let share = outer_stall(p);
    if share > MOST_STALLED { Err(NoFreeWake::Stalled { share }) } else { Ok(()) }
}

/// State of the iteration.
pub(super) struct Rounds<'a> {
    propeller: &'a FlowPropeller,
    operation: &'a Operation,
    turn_rad: f64,
    settings: &'a FreeWakeSettings,
    blade: WakeBlade<'a>,
    blades: Blades,
    cores: Vec<f64>,
    circulation: DVector<f64>,
    wake: Wake,
    is_guess: bool,
}

impl<'a> Rounds<'a> {
    /// Starts from a performance by blade elements or, which is faster, from a wake close to the solution.
    pub(super) fn new(
        propeller: &'a FlowPropeller,
        turn_rad: f64,
        operation: &'a Operation,
        settings: &'a FreeWakeSettings,
        elements: &Performance,
        near: Option<&RestPerformance>,
    ) -> Rounds<'a> {
        let blade = WakeBlade::new(propeller, turn_rad, operation);
        let is_like = |n: &&RestPerformance| {
            n.wake.turns == settings.turns
                && n.wake.steps == settings.steps
                && n.wake.strength.len() == settings.vortices
                && n.circulation.len() == blade.count()
        };
        let near = near.filter(is_like);
        let is_guess = near.is_none();
        let (circulation, wake) = match near {
            Some(near) => (near.circulation.clone(), near.wake.clone()),
            None => {
                let of = |e: &ElementState| 0.5 * e.speed_m_s * e.chord_m * e.forces.lift / blade.scale();
                let circulation = DVector::from_iterator(blade.count(), elements.elements.iter().map(of));
                let load = Load::new(blade.edges[0], &blade.middles, circulation.as_slice());
                let tip = operation.omega_rad_s * propeller.blade.radius_m;
                let thrust = elements.thrust_n
                    / (operation.air.density_kg_m3 * PI * (propeller.blade.radius_m * tip).powi(2));
                (circulation, Wake::guess(&load, thrust, propeller.blades, settings))
            }
        };
        let mut cores = vec![settings.inner_core; settings.vortices];
        cores[0] = settings.core;
        Rounds {
            propeller,
            operation,
            turn_rad,
            settings,
            blade,
            blades: Blades::new(propeller.blades),
            cores,
            circulation,
            wake,
            is_guess,
        }
    }

    fn load(&self) -> Load {
        Load::new(self.blade.edges[0], &self.blade.middles, self.circulation.as_slice())
    }

    fn influence(&self, share: f64) -> Influence {
        let s = self.settings;
        self.blade.influence(&self.wake, share, [s.core, s.near_wake_rad])
    }

    /// Radius of the tip vortex where it passes the next blade, and its depth below that blade.
    fn passage(&self) -> [f64; 2] {
        let [radius, height] = self.wake.at(0, TAU / self.blades.len() as f64);
        [radius, -height]
    }

    /// Runs the iteration. `least_depth`: of the tip vortex below the next blade, tip radii.
    ///
    /// # Errors
    /// [`NoFreeWake`].
    pub(super) fn solve(mut self, least_depth: f64) -> Result<RestPerformance, NoFreeWake> {
        let (mut newton, mut mixing) = (WakeNewton::default(), Mixing::default());
        let (mut thrust_before, mut circulation_before) = (0.0, 0.1);
        let mut nearest = (f64::INFINITY, 0);
        let mut solved: Option<DVector<f64>> = None;
        let mut last = NoFreeWake::NoSteadyWake { left: f64::INFINITY };
        for round in 1..=self.settings.most_rounds {
            self.wake.take(&self.load());
            let bound = self.blade.bound(&self.circulation);
            let around = Surroundings { blades: &self.blades, bound: &bound, cores: &self.cores };
            if round == 1 && self.is_guess {
                newton.drift(&mut self.wake, &around, SWEEPS);
            }
            let enough = (WAKE_PER_CIRCULATION * circulation_before).max(0.1 * WAKE_SETTLED);
            let left = newton.settle(&mut self.wake, &around, WAKE_STEPS, enough);
            let influence = self.influence(0.5);
            let start = solved
                .take()
                .or_else(|| self.blade.thin(&influence).filter(|_| self.is_guess))
                .unwrap_or_else(|| self.circulation.clone());
            let (wanted, lift_left) = self.blade.circulation(&influence, &start);
            solved = Some(wanted.clone());
            let change = &wanted - &self.circulation;
            let circulation_change = change.amax() / self.circulation.amax();
            let thrust: f64 = wanted.iter().zip(&self.blade.middles).map(|(g, r)| g * r).sum();
            let thrust_change = (thrust / thrust_before - 1.0).abs();
            (thrust_before, circulation_before) = (thrust, circulation_change);
            if left < WAKE_SETTLED
                && circulation_change < CIRCULATION_SETTLED
                && thrust_change < THRUST_SETTLED
                && lift_left < MOST_LEFT
            {
                self.circulation = wanted;
                return self.found(&influence, left, round, newton.taken, least_depth);
            }
            last = if MOST_LEFT <= lift_left {
                NoFreeWake::NoCirculation { left: lift_left }
            } else if left < WAKE_SETTLED {
                NoFreeWake::NotSettled {
                    rounds: round,
                    thrust: thrust_change,
                    circulation: circulation_change,
                }
            } else {
                NoFreeWake::NoSteadyWake { left }
            };
            let share = Load::new(self.blade.edges[0], &self.blade.middles, wanted.as_slice()).tip_share();
            if ROUNDS_FOR_TIP <= round && share < CLEARLY * LEAST_TIP_SHARE {
                return Err(NoFreeWake::NoTipVortex { share });
            }
            let depth = self.passage()[1];
            if ROUNDS_FOR_DEPTH <= round && left < MOST_LEFT && depth < CLEARLY * least_depth {
                return Err(NoFreeWake::TooClose { depth });
            }
            let lacks = circulation_change.max(left);
            if lacks < NEARER * nearest.0 {
                nearest = (lacks, round);
            } else if nearest.1 + PATIENCE < round {
                return Err(last);
            }
            self.circulation = mixing.next(&self.circulation, &change, SHARE);
        }
        Err(last)
    }

    fn found(
        self,
        behind: &Influence,
        wake_left: f64,
        rounds: usize,
        worked: [usize; 2],
        least_depth: f64,
    ) -> Result<RestPerformance, NoFreeWake> {
        let share = self.load().tip_share();
        if share < LEAST_TIP_SHARE {
            return Err(NoFreeWake::NoTipVortex { share });
        }
        let on_line = self.influence(0.0);
        let elements = self.blade.states([&on_line, behind], &self.circulation);
        let performance = self.propeller.summed(elements, self.operation, self.turn_rad);
        let [passage_radius, passage_depth] = self.passage();
        let radius_m = self.propeller.blade.radius_m;
        let tip = self.operation.omega_rad_s * radius_m;
        let momentum_thrust_n = PI
            * self.wake.momentum(self.propeller.blades)
            * self.operation.air.density_kg_m3
            * (radius_m * tip).powi(2);
        let found = RestPerformance {
            performance,
            wake_left,
            rounds,
            worked,
            passage_radius,
            passage_depth,
            momentum_thrust_n,
            wake: self.wake,
            circulation: self.circulation,
        };
        refuse_stall(&found.performance)?;
        if found.passage_depth < least_depth {
            return Err(NoFreeWake::TooClose { depth: found.passage_depth });
        }
        let fastest = found
            .performance
            .elements
            .iter()
            .map(|e| e.axial_induced_m_s.hypot(e.swirl_induced_m_s))
            .fold(0.0, f64::max);
        if MOST_INDUCED * tip <= fastest {
            return Err(NoFreeWake::Impossible(format!("an induced velocity of {fastest:.0} m/s")));
        }
        let merit = found.figure_of_merit();
        if !(0.0 < merit && merit < 1.0) {
            return Err(NoFreeWake::Impossible(format!(
                "a power of {:.2} times the least that an ideal disc takes",
                1.0 / merit
            )));
        }
        Ok(found)
    }
}
