//! The free wake of a propeller at zero speed: the second model there. Its wake contracts.
//!
//! At zero speed the wake contracts and each tip vortex passes close to the next blade. Momentum theory does not model this. In the steady free wake every point
//! of every vortex moves with the velocity that all vortices induce there. It is found directly by Newton's method, because it does not converge if it is followed
//! in time steps (T. R. Quackenbush, D. B. Bliss, D. A. Wachspress, "New free-wake analysis of rotorcraft hover performance using influence coefficients", Journal
//! of Aircraft 26(12), 1989, from memory; the equations are this project's own).
//!
//! - Tip vortex: it carries all circulation that leaves outboard of its greatest value in the last fifth of the radius. Inboard there are a few vortices, each for
//!   its part of the span. The innermost has the shape of its neighbour, scaled towards the axis.
//! - Far wake: beyond the free turns there are helices of the last turn's mean radius and pitch, and beyond those semi-infinite solenoids.
//! - Blade: a straight radial extended lifting line with control points at three quarters of the chord (Weissinger 1947). Forces come from the sections' polars.
//!   Vortices leave at the trailing edge. Those outboard merge into the tip vortex within the near wake.
//!
//! The model excludes sweep and rake. It holds for a propeller at zero speed in still air only.

mod blade;
mod circulation;
mod equations;
mod load;
mod mixing;
mod newton;
mod rounds;
mod vortex;
mod wake;

use crate::limits::REFERENCE_RATIO;
use crate::propeller::{FlowPropeller, Operation, Performance};
use nalgebra::DVector;
use rounds::Rounds;
pub(crate) use rounds::{MOST_STALLED, outer_stall};
use std::f64::consts::PI;
use thiserror::Error;
use wake::Wake;

/// Greatest chord at 0.75 R, over the tip radius, of a blade with a free wake. The hovering rotor of NASA TM-81232, 0.17 wide, is met within 14 %; two screws of the Wageningen B series, 0.7 wide, are
/// not: their thrust at zero speed came out 25 and 31 % too low where blade elements are within 7 %. Between them the limit is a judgement.
const WIDEST: f64 = 0.3;

/// Cores of the tip vortex, as multiples of the wanted one, through which the iteration is led if it does not settle at once. Chosen: four blades at 10 to 12 deg settle with the first.
const WIDER_CORES: [f64; 3] = [4.0, 2.0, 1.0];

/// Numerical settings, on which the result should not depend, and the limit of the effort.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FreeWakeSettings {
    /// Free turns, at least two.
    pub turns: usize,
    /// Steps per free turn.
    pub steps: usize,
    /// Core radius of the tip vortex, tip radii.
    pub core: f64,
    /// Core radius of the other vortices, tip radii.
    pub inner_core: f64,
    /// Vortices per blade including the tip vortex, at least three.
    pub vortices: usize,
    /// Age within which vortices that leave outboard merge into the tip vortex, rad.
    pub near_wake_rad: f64,
    /// Most iterations between blade and wake.
    pub most_rounds: usize,
}

impl FreeWakeSettings {
    /// The default settings. The example `rest_wake` reports by how much each of them changes the thrust.
    pub const USUAL: FreeWakeSettings = FreeWakeSettings {
        turns: 3,
        steps: 24,
        core: 0.01,
        inner_core: 0.05,
        vortices: 4,
        near_wake_rad: 0.52,
        most_rounds: 40,
    };
}

impl Default for FreeWakeSettings {
    fn default() -> FreeWakeSettings {
        FreeWakeSettings::USUAL
    }
}

/// The reason why there is no free wake. Only the blade elements are available then.
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
        /// Stalled fraction of it.
        share: f64,
    },
    /// The blade is too wide for a lifting line.
    #[error(
        "the chord at 0.75 R is {ratio:.2} R; beside two published screws of 0.7 R the thrust of the free wake was 25 to 31 % too low, and it is solved for blades up to {:.1} R",
        WIDEST
    )]
    Wide {
        /// Chord at 0.75 R over the tip radius.
        ratio: f64,
    },
    /// Hardly any circulation reaches the tip.
    #[error("only {:.0} % of the greatest circulation is left near the tip, so that it is unknown what rolls up into the tip vortex", 100.0 * share)]
    NoTipVortex {
        /// Circulation left at four fifths of the radius, as a fraction of the greatest.
        share: f64,
    },
    /// The tip vortex passes so close that the size of its core matters.
    #[error(
        "the tip vortex passes {:.3} R {} the next blade; nearer than {:.2} R below it the size of its core, which is not known, decides",
        depth.abs(), if *depth < 0.0 { "above" } else { "below" }, rounds::LEAST_DEPTH
    )]
    TooClose {
        /// How far below the blade it passes, tip radii; negative above it.
        depth: f64,
    },
    /// The iterations did not converge.
    #[error("blade and wake did not settle in {rounds} rounds: the thrust still changes by {:.1} %, the circulation by {:.1} %", 100.0 * thrust, 100.0 * circulation)]
    NotSettled {
        /// Number of iterations.
        rounds: usize,
        /// Last relative change of the thrust.
        thrust: f64,
        /// Last change of the circulation as a fraction of its greatest value.
        circulation: f64,
    },
    /// Lift and circulation do not agree.
    #[error("no circulation was found that the sections' lift agrees with: {:.1} % of its greatest value are left", 100.0 * left)]
    NoCirculation {
        /// Residual as a fraction of the greatest circulation.
        left: f64,
    },
    /// No steady wake was found.
    #[error("no steady wake was found: {left:.1e} tip radii are left of its equations")]
    NoSteadyWake {
        /// Residual, tip radii.
        left: f64,
    },
    /// It converged to an impossible result.
    #[error("it settled on {0}, which cannot be")]
    Impossible(String),
}

impl NoFreeWake {
    /// Whether the iteration failed, and not the propeller was refused. A better start may help then.
    fn is_of_the_iteration(&self) -> bool {
        matches!(
            self,
            NoFreeWake::TooClose { .. }
                | NoFreeWake::NotSettled { .. }
                | NoFreeWake::NoCirculation { .. }
                | NoFreeWake::NoSteadyWake { .. }
                | NoFreeWake::Impossible(_)
        )
    }
}

/// A propeller at zero speed in a converged free wake.
#[derive(Clone, Debug)]
pub struct RestPerformance {
    /// Forces and elements. Axial induced velocities are those at the lifting line.
    pub performance: Performance,
    /// Residual of the wake equations, norm over all points, tip radii.
    pub wake_left: f64,
    /// Iterations between blade and wake.
    pub rounds: usize,
    /// Number of evaluations of the wake's derivatives and of its equations.
    pub worked: [usize; 2],
    /// Radius of the tip vortex where it passes the next blade, tip radii.
    pub passage_radius: f64,
    /// Distance of the tip vortex below that blade, tip radii.
    pub passage_depth: f64,
    /// Thrust from the momentum of the far wake, N, if its helices were cylinders filled uniformly with moving air. It is some 20 to 50 % above the thrust from forces,
    /// because the tip vortex contracts to 0.78 R and a uniform jet of the disc's momentum contracts to 0.71 R. It gives an order of magnitude and is no check.
    pub momentum_thrust_n: f64,
    wake: Wake,
    circulation: DVector<f64>,
}

impl RestPerformance {
    /// Power of the ideal disc of this thrust over the power absorbed, below 1 (W. J. M. Rankine 1865, R. E. Froude 1889).
    #[must_use]
    pub fn figure_of_merit(&self) -> f64 {
        let p = &self.performance;
        let disc = PI * (0.5 * p.diameter_m).powi(2);
        let ideal = p.thrust_n.max(0.0).powf(1.5) / (2.0 * p.operation.air.density_kg_m3 * disc).sqrt();
        ideal / p.power_w()
    }
}

/// Solves a propeller at zero speed with its free wake.
///
/// `turn_rad`: the angle by which the whole blade is turned from the table's angles. `near`: the solution of the same propeller close to this setting, which
/// makes a faster start.
///
/// # Errors
/// [`NoFreeWake`] if there is no free wake, or none that can be trusted. No figure is given then.
pub fn free_wake_at_rest(
    propeller: &FlowPropeller,
    turn_rad: f64,
    operation: &Operation,
    settings: &FreeWakeSettings,
    near: Option<&RestPerformance>,
) -> Result<RestPerformance, NoFreeWake> {
    if operation.speed_m_s > 0.0 {
        return Err(NoFreeWake::Flies { speed_m_s: operation.speed_m_s });
    }
    let elements = propeller.performance(turn_rad, operation);
    if elements.thrust_n.is_nan() || elements.thrust_n <= 0.0 {
        return Err(NoFreeWake::NoThrust);
    }
    let ratio = propeller.blade.chord_ratio_at(REFERENCE_RATIO);
    if WIDEST < ratio {
        return Err(NoFreeWake::Wide { ratio });
    }
    rounds::refuse_stall(&elements)?;
    // Fewer turns and steps cannot represent a wake that contracts, and fewer vortices cannot represent its inner part.
    let settings = &FreeWakeSettings {
        turns: settings.turns.max(2),
        steps: settings.steps.max(8),
        vortices: settings.vortices.max(3),
        ..*settings
    };
    let with = |times: f64, near: Option<&RestPerformance>| {
        let settings = FreeWakeSettings { core: times * settings.core, ..*settings };
        // With a wide core on the way the vortex passes closer than it will in the end.
        let least_depth = if times > 1.0 { f64::NEG_INFINITY } else { rounds::LEAST_DEPTH };
        Rounds::new(propeller, turn_rad, operation, &settings, &elements, near).solve(least_depth)
    };
    let direct = match (with(1.0, near), near) {
        (Err(_), Some(_)) => with(1.0, None),
        (found, _) => found,
    };
    let Err(why) = direct else { return direct };
    if !why.is_of_the_iteration() {
        return Err(why);
    }
    // A tip vortex that the guess puts close below the next blade throws the circulation about. With a wide core it does not, and the core is then narrowed.
    let mut found: Option<RestPerformance> = None;
    for times in WIDER_CORES {
        let Ok(next) = with(times, found.as_ref()) else { return Err(why) };
        found = Some(next);
    }
    found.ok_or(why)
}
