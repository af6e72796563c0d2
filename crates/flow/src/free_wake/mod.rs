//! The propeller at rest in its free wake: the third model, of a wake that contracts.
//!
//! At rest the wake contracts and each tip vortex passes close to the next blade, which momentum theory does not know. The steady free wake is found
//! at once by Newton's method, since followed in steps it does not settle: every point of every vortex moves with the velocity that all of them induce
//! (T. R. Quackenbush, D. B. Bliss, D. A. Wachspress, "New free-wake analysis of rotorcraft hover performance using influence coefficients", Journal of Aircraft
//! 26(12), 1989, from memory; the equations are this project's own).
//!
//! - Tip vortex: all circulation that leaves outboard of its greatest value. Inboard: a few vortices, each that of its part of the span; the innermost keeps
//!   the shape of its neighbour, drawn towards the axis.
//! - Beyond the free turns: helices of the last turn's mean radius and pitch.
//! - Blade: extended lifting line, straight and radial, met at three quarters of the chord (Weissinger 1947); forces from the sections' polars. Vortices leave
//!   the trailing edge, those outboard merge into the tip vortex within the near wake.

mod blade;
mod equations;
mod load;
mod mixing;
mod newton;
mod vortex;
mod wake;

use crate::propeller::{Operation, Performance, Propeller};
use blade::WakeBlade;
use equations::Surroundings;
use load::Load;
use mixing::Mixing;
use nalgebra::DVector;
use newton::WakeNewton;
use std::f64::consts::{PI, TAU};
use thiserror::Error;
use vortex::Blades;
use wake::Wake;

/// Share of the new circulation in a round.
const SHARE: f64 = 0.4;
/// Settled: the circulation changes by no more than this fraction of its greatest value, the thrust by no more than that of itself, and no more is left of the
/// wake's equations (norm over all points, tip radii).
const CIRCULATION_SETTLED: f64 = 3e-3;
const THRUST_SETTLED: f64 = 1e-3;
const WAKE_SETTLED: f64 = 1e-4;
/// While the circulation changes by a fraction of itself, so much of it may be left of the wake's equations.
const WAKE_PER_CIRCULATION: f64 = 3e-3;
/// Wake steps in one round.
const WAKE_STEPS: usize = 4;
/// The sections' lift and the circulation agree to this fraction of its greatest value, or there is no answer.
const MOST_LEFT: f64 = 1e-2;
/// No induced velocity is greater than this fraction of the tip speed: twice what the ideal disc has for three times the load of any propeller.
const MOST_INDUCED: f64 = 0.5;
/// Share of the span outboard of half the radius that may be stalled.
const MOST_STALLED: f64 = 0.3;

/// What the answer must not hang on, and what it may cost.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeWakeSettings {
    /// Free turns; two at least.
    pub turns: usize,
    /// Steps of a free turn.
    pub steps: usize,
    /// Core radius of the tip vortex, tip radii.
    pub core: f64,
    /// Core radius of the others, tip radii.
    pub inner_core: f64,
    /// Vortices a blade, the tip's among them; three at least.
    pub vortices: usize,
    /// Age over which vortices that leave outboard merge into the tip vortex, rad.
    pub near_wake_rad: f64,
    /// Rounds between blade and wake after which it is given up.
    pub most_rounds: usize,
    /// Threads to work with; the result does not depend on their number.
    pub threads: usize,
}

impl Default for FreeWakeSettings {
    fn default() -> FreeWakeSettings {
        FreeWakeSettings {
            turns: 3,
            steps: 24,
            core: 0.01,
            inner_core: 0.05,
            vortices: 4,
            near_wake_rad: 0.52,
            most_rounds: 40,
            threads: 1,
        }
    }
}

/// Why there is no free wake: then blade elements stand alone.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum NoFreeWake {
    /// The propeller flies.
    #[error("the propeller flies at {speed_m_s:.2} m/s; the free wake is that of a propeller at rest")]
    Flies {
        /// Speed of flight, m/s.
        speed_m_s: f64,
    },
    /// There is no thrust.
    #[error("there is no thrust, so that no wake leaves the propeller")]
    NoThrust,
    /// Much of the working part of the blade is stalled.
    #[error("{:.0} % of the blade beyond half the radius is stalled", 100.0 * share)]
    Stalled {
        /// Which share of it.
        share: f64,
    },
    /// The circulation is greatest at an end of the outer half.
    #[error("the circulation has no greatest value between half the radius and the tip, so that it is unknown what rolls up into the tip vortex")]
    NoPeak,
    /// The rounds did not settle.
    #[error("blade and wake did not settle in {rounds} rounds: the thrust still changes by {:.1} %, the circulation by {:.1} %", 100.0 * thrust, 100.0 * circulation)]
    NotSettled {
        /// How many.
        rounds: usize,
        /// Last change of the thrust, a fraction of it.
        thrust: f64,
        /// Last change of the circulation, a fraction of its greatest value.
        circulation: f64,
    },
    /// No steady wake was found.
    #[error("no steady wake was found: {left:.1e} tip radii are left of its equations")]
    NoSteadyWake {
        /// What is left.
        left: f64,
    },
    /// It settled on something that cannot be.
    #[error("it settled on {0}, which cannot be")]
    Impossible(String),
}

/// A propeller at rest in a free wake that settled.
#[derive(Clone, Debug)]
pub struct RestPerformance {
    /// Forces and elements. Axial induced velocities are those at the lifting line.
    pub performance: Performance,
    /// What is left of the wake's equations, norm over all points, tip radii.
    pub wake_left: f64,
    /// Rounds between blade and wake.
    pub rounds: usize,
    /// How often the wake's derivatives were taken, and its equations worked out.
    pub worked: [usize; 2],
    /// Radius of the tip vortex where it passes the next blade, tip radii.
    pub passage_radius: f64,
    /// How far below that blade it is there, tip radii.
    pub passage_depth: f64,
    /// Thrust by the momentum of the far wake, N: a check from the other end, of cylinders in place of helices.
    pub momentum_thrust_n: f64,
    wake: Wake,
    circulation: DVector<f64>,
}

impl RestPerformance {
    /// Power of the ideal disc of this thrust over the power taken up, below 1 (W. J. M. Rankine 1865, R. E. Froude 1889).
    #[must_use]
    pub fn figure_of_merit(&self) -> f64 {
        let p = &self.performance;
        let disc = PI * (0.5 * p.diameter_m).powi(2);
        let ideal = p.thrust_n.max(0.0).powf(1.5) / (2.0 * p.operation.air.density_kg_m3 * disc).sqrt();
        ideal / p.power_w()
    }
}

/// Solves a propeller at rest in its free wake.
///
/// `turn_rad`: the angle by which the whole blade is turned from the table's. `near`: the same propeller close to this setting, from which it is quicker.
///
/// # Errors
/// [`NoFreeWake`] where there is none, or none that can be trusted: no number is given then.
pub fn free_wake_at_rest(
    propeller: &Propeller,
    turn_rad: f64,
    operation: &Operation,
    settings: &FreeWakeSettings,
    near: Option<&RestPerformance>,
) -> Result<RestPerformance, NoFreeWake> {
    if operation.speed_m_s > 0.0 {
        return Err(NoFreeWake::Flies { speed_m_s: operation.speed_m_s });
    }
    let elements = propeller.performance(turn_rad, operation);
    if !(elements.thrust_n > 0.0) {
        return Err(NoFreeWake::NoThrust);
    }
    told_of_stall(&elements)?;
    Rest::new(propeller, turn_rad, operation, settings, &elements, near).solve()
}

fn told_of_stall(p: &Performance) -> Result<(), NoFreeWake> {
    let outer = |e: &&crate::ElementState| 0.25 * p.diameter_m < e.radius_m;
    let width = |stalled: bool| -> f64 {
        p.elements.iter().filter(outer).filter(|e| !stalled || e.forces.stalled).map(|e| e.width_m).sum()
    };
    let share = width(true) / width(false);
    if share > MOST_STALLED { Err(NoFreeWake::Stalled { share }) } else { Ok(()) }
}

struct Rest<'a> {
    propeller: &'a Propeller,
    operation: &'a Operation,
    settings: &'a FreeWakeSettings,
    blade: WakeBlade<'a>,
    blades: Blades,
    cores: Vec<f64>,
    circulation: DVector<f64>,
    wake: Wake,
    is_guess: bool,
}

impl<'a> Rest<'a> {
    fn new(
        propeller: &'a Propeller,
        turn_rad: f64,
        operation: &'a Operation,
        settings: &'a FreeWakeSettings,
        elements: &Performance,
        near: Option<&RestPerformance>,
    ) -> Rest<'a> {
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
                let of = |e: &crate::ElementState| 0.5 * e.speed_m_s * e.chord_m * e.forces.lift / blade.scale();
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
        Rest { propeller, operation, settings, blade, blades: Blades::new(propeller.blades), cores, circulation, wake, is_guess }
    }

    fn load(&self) -> Load {
        Load::new(self.blade.edges[0], &self.blade.middles, self.circulation.as_slice())
    }

    fn influence(&self, share: f64) -> blade::Influence {
        let s = self.settings;
        self.blade.influence(&self.wake, share, [s.core, s.near_wake_rad], s.threads)
    }

    fn solve(mut self) -> Result<RestPerformance, NoFreeWake> {
        let (mut newton, mut mixing) = (WakeNewton::default(), Mixing::default());
        let (mut thrust_before, mut circulation_before) = (0.0, 0.1);
        let mut solved: Option<DVector<f64>> = None;
        let mut last = NoFreeWake::NoSteadyWake { left: f64::INFINITY };
        for round in 1..=self.settings.most_rounds {
            self.wake.take(&self.load());
            let bound = self.blade.bound(&self.circulation);
            let around = Surroundings {
                blades: &self.blades,
                bound: &bound,
                cores: &self.cores,
                threads: self.settings.threads,
            };
            if round == 1 && self.is_guess {
                if std::env::var_os("FREE_WAKE_TRACE").is_some() { eprintln!("before {}", around.residual(&self.wake).norm()); }
                newton.drift(&mut self.wake, &around, std::env::var("SWEEPS").map_or(6, |v| v.parse().unwrap()));
                if std::env::var_os("FREE_WAKE_TRACE").is_some() { eprintln!("after {}", around.residual(&self.wake).norm()); }
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
            if std::env::var_os("FREE_WAKE_TRACE").is_some() {
                eprintln!("B round {round} left {left:.1e} lift left {lift_left:.1e} dG {circulation_change:.1e} dT {thrust_change:.1e} sum {thrust:.6} peak {:.3} worked {:?}", self.wake.peak, newton.taken);
            }
            if left < WAKE_SETTLED && circulation_change < CIRCULATION_SETTLED && thrust_change < THRUST_SETTLED && lift_left < MOST_LEFT {
                self.circulation = wanted;
                return self.found(&influence, left, round, newton.taken);
            }
            last = if left < WAKE_SETTLED {
                NoFreeWake::NotSettled { rounds: round, thrust: thrust_change, circulation: circulation_change }
            } else {
                NoFreeWake::NoSteadyWake { left }
            };
            self.circulation = mixing.next(&self.circulation, &change, SHARE);
        }
        Err(last)
    }

    fn found(
        self,
        behind: &blade::Influence,
        wake_left: f64,
        rounds: usize,
        worked: [usize; 2],
    ) -> Result<RestPerformance, NoFreeWake> {
        let on_line = self.influence(0.0);
        let elements = self.blade.states([&on_line, behind], &self.circulation);
        let performance = self.propeller.summed(elements, self.operation);
        let [passage_radius, height] = self.wake.at(0, TAU / self.blades.len() as f64);
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
            passage_depth: -height,
            momentum_thrust_n,
            wake: self.wake,
            circulation: self.circulation,
        };
        told_of_stall(&found.performance)?;
        let fastest = found
            .performance
            .elements
            .iter()
            .map(|e| e.axial_induced_m_s.hypot(e.swirl_induced_m_s))
            .fold(0.0, f64::max);
        if !(fastest < MOST_INDUCED * tip) {
            return Err(NoFreeWake::Impossible(format!("an induced velocity of {fastest:.0} m/s")));
        }
        let merit = found.figure_of_merit();
        if !(0.0 < merit && merit < 1.0) {
            return Err(NoFreeWake::Impossible(format!("a power of {merit:.2} times that of the ideal disc")));
        }
        Ok(found)
    }
}
