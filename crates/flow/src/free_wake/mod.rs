//! The propeller at rest in its free wake: the second model there, of a wake that contracts.
//!
//! At rest the wake contracts and each tip vortex passes close to the next blade, which momentum theory does not know. The steady free wake is found
//! at once by Newton's method, since followed in steps it does not settle: every point of every vortex moves with the velocity that all of them induce
//! (T. R. Quackenbush, D. B. Bliss, D. A. Wachspress, "New free-wake analysis of rotorcraft hover performance using influence coefficients", Journal of Aircraft
//! 26(12), 1989, from memory; the equations are this project's own).
//!
//! - Tip vortex: all circulation that leaves outboard of its greatest value in the last fifth of the radius. Inboard: a few vortices, each that of its part of
//!   the span; the innermost keeps the shape of its neighbour, drawn towards the axis.
//! - Beyond the free turns: helices of the last turn's mean radius and pitch, and beyond those half-infinite solenoids.
//! - Blade: extended lifting line, straight and radial, met at three quarters of the chord (Weissinger 1947); forces from the sections' polars. Vortices leave
//!   the trailing edge, those outboard merge into the tip vortex within the near wake.
//!
//! Sweep and rake are not in it, nor is anything but a propeller at rest in still air.

mod blade;
mod circulation;
mod equations;
mod load;
mod mixing;
mod newton;
mod rounds;
mod vortex;
mod wake;

use crate::propeller::{Operation, Performance, Propeller};
use nalgebra::DVector;
use rounds::Rounds;
use std::f64::consts::PI;
use thiserror::Error;
use wake::Wake;

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
}

impl FreeWakeSettings {
    /// The usual ones: what each moves the thrust by is told by the example `rest_wake`.
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
    /// Hardly any circulation reaches the tip.
    #[error("only {:.0} % of the greatest circulation is left near the tip, so that it is unknown what rolls up into the tip vortex", 100.0 * share)]
    NoTipVortex {
        /// What is left at four fifths of the radius, a fraction of the greatest.
        share: f64,
    },
    /// The tip vortex passes within the reach of its core.
    #[error(
        "the tip vortex passes {:.3} R {} the next blade; nearer than {:.2} R below it the size of its core, which is not known, decides",
        depth.abs(), if *depth < 0.0 { "above" } else { "below" }, rounds::LEAST_DEPTH
    )]
    TooClose {
        /// How far below the blade it passes, tip radii; negative above it.
        depth: f64,
    },
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
    /// Lift and circulation do not agree.
    #[error("no circulation was found that the sections' lift agrees with: {:.1} % of its greatest value are left", 100.0 * left)]
    NoCirculation {
        /// What is left, a fraction of the greatest circulation.
        left: f64,
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
    /// What the far wake's momentum would carry, N, were its helices cylinders that the air fills evenly: some 20 to 50 % above the thrust by forces, as the
    /// tip vortex contracts to 0.78 R and an even jet of the disc's momentum to 0.71 R. No check, an order of magnitude.
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
    if elements.thrust_n.is_nan() || elements.thrust_n <= 0.0 {
        return Err(NoFreeWake::NoThrust);
    }
    rounds::refuse_stall(&elements)?;
    // Fewer cannot stand for a wake that contracts, nor for one that has an inside.
    let settings = &FreeWakeSettings {
        turns: settings.turns.max(2),
        steps: settings.steps.max(8),
        vortices: settings.vortices.max(3),
        ..*settings
    };
    let from = |near| Rounds::new(propeller, turn_rad, operation, settings, &elements, near).solve();
    match (from(near), near) {
        (Err(_), Some(_)) => from(None),
        (found, _) => found,
    }
}
