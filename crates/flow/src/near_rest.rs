//! One answer near rest: the free wake at zero speed, carried into slow flight.
//!
//! At zero speed the wake contracts and each tip vortex passes close below the next blade. Blade elements and lifting lines do not model this, and the free wake is solved at zero speed only.
//! Between, the ratio of the free wake's thrust and torque to the blade elements' at zero speed is carried on and fades smoothly up to an advance ratio of [`SLOW`], where the tip vortex leaves
//! several times as fast as at rest. It fades also with the stalled part of the blade, since the stalled free wake is not trusted. So a table over the setting at rest and a sweep over
//! the speed have no step. Half of what is changed is uncertainty: the course of the fading is a choice (judgement; no test at hand settles it).

use crate::ElementState;
use crate::InstalledForces;
use crate::free_wake::{
    FreeWakeSettings, MOST_STALLED, NoFreeWake, RestPerformance, free_wake_at_rest, outer_stall,
};
use crate::propeller::{FlowPropeller, Operation, Performance};

/// The advance ratio from which on blade elements stand alone. The axial speed through the disc at rest is that of flight at about 0.15 (two blades of 12 deg), so beyond 0.2 flight carries the wake
/// away rather than its own velocities do (judgement).
pub const SLOW: f64 = 0.2;
/// Up to this stalled fraction of the outer half of the blade the free wake counts fully.
const LITTLE_STALLED: f64 = 0.05;

/// A propeller at rest by both models, and what that changes in slow flight.
#[derive(Clone, Debug)]
pub struct NearRest {
    /// The free wake at rest.
    pub wake: RestPerformance,
    /// The blade elements at rest.
    pub elements: Performance,
    /// What the free wake makes of the elements' thrust and torque at rest, less 1.
    change: [f64; 2],
    /// Weight of the free wake at rest, 0 to 1: 1 unless a part of the blade is stalled.
    at_rest: f64,
}

/// From 1 at 0 to 0 at 1, with level ends.
fn fading(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    1.0 - t * t * (3.0 - 2.0 * t)
}

impl NearRest {
    /// Solves the propeller at rest at the rotational speed of an operation, whatever its speed of flight. `turn_rad`: the angle by which the whole blade is turned.
    ///
    /// # Errors
    /// [`NoFreeWake`] if there is no free wake that can be trusted. Blade elements stand alone then.
    pub fn new(
        propeller: &FlowPropeller,
        turn_rad: f64,
        operation: &Operation,
    ) -> Result<NearRest, NoFreeWake> {
        let still = Operation { speed_m_s: 0.0, ..*operation };
        let wake = free_wake_at_rest(propeller, turn_rad, &still, &FreeWakeSettings::default(), None)?;
        let elements = propeller.performance(turn_rad, &still);
        let change = [
            wake.performance.thrust_n / elements.thrust_n - 1.0,
            wake.performance.torque_nm / elements.torque_nm - 1.0,
        ];
        let stalled = outer_stall(&wake.performance).max(outer_stall(&elements));
        let at_rest = fading((stalled - LITTLE_STALLED) / (MOST_STALLED - LITTLE_STALLED));
        Ok(NearRest { wake, elements, change, at_rest })
    }

    /// Weight of the free wake, 0 to 1, at an advance ratio.
    #[must_use]
    pub fn weight(&self, advance_ratio: f64) -> f64 {
        self.at_rest * fading(advance_ratio / SLOW)
    }

    /// Thrust and torque over those of the blade elements at an advance ratio.
    #[must_use]
    pub fn factors(&self, advance_ratio: f64) -> [f64; 2] {
        self.change.map(|c| 1.0 + self.weight(advance_ratio) * c)
    }

    /// A solution by blade elements with its thrust and torque, and those of its elements, changed; at rest the free wake itself if it has the whole weight.
    #[must_use]
    pub fn shown(&self, p: &Performance) -> Performance {
        let advance_ratio = p.advance_ratio();
        if advance_ratio <= 0.0 && self.at_rest >= 1.0 {
            return self.wake.performance.clone();
        }
        let [thrust, torque] = self.factors(advance_ratio);
        let changed = |e: &ElementState| ElementState {
            thrust_n_per_m: thrust * e.thrust_n_per_m,
            torque_n: torque * e.torque_n,
            ..*e
        };
        Performance {
            thrust_n: thrust * p.thrust_n,
            torque_nm: torque * p.torque_nm,
            elements: p.elements.iter().map(changed).collect(),
            installed: InstalledForces {
                propulsive_thrust_n: p.installed.propulsive_thrust_n.map(|t| thrust * t),
                ..p.installed
            },
            ..p.clone()
        }
    }
}

/// Whether an operation is slow enough for the free wake to count.
#[must_use]
pub fn is_slow(advance_ratio: f64) -> bool {
    advance_ratio < SLOW
}
