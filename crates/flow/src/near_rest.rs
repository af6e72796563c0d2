//! One answer near rest: the free wake at zero speed, carried into slow flight.
//!
//! At zero speed the wake contracts and each tip vortex passes close below the next blade. Blade elements and lifting lines do not model this, and the free wake is solved at zero speed only.
//! Between, the ratio of the free wake's thrust and torque to the blade elements' at zero speed is carried on and fades smoothly up to an advance ratio of [`SLOW`], where the tip vortex leaves
//! several times as fast as at rest. It fades also with the stalled part of the blade, since the stalled free wake is not trusted. So a table over the setting at rest and a sweep over
//! the speed have no step. Half of what is changed is uncertainty: the course of the fading is a choice (judgement; no test at hand settles it).

use crate::ElementState;
use crate::free_wake::{
    FreeWakeSettings, MOST_STALLED, NoFreeWake, RestPerformance, free_wake_at_rest, outer_stall,
};
use crate::propeller::{FlowPropeller, Operation, Performance};

/// The advance ratio from which on blade elements stand alone. The axial speed through the disc at rest is that of flight at about 0.15 (two blades of 12 deg), so beyond 0.2 flight carries the wake
/// away rather than its own velocities do (judgement).
pub const SLOW: f64 = 0.2;
/// Up to this stalled fraction of the outer half of the blade the free wake counts fully.
const LITTLE_STALLED: f64 = 0.05;

/// The greatest changes of thrust and power by the free wake at rest, as fractions, among two to four blades of NACA Report 640 at 10 to 17 deg (`docs/results.md`): four blades at 10 deg.
pub(crate) const MOST_CHANGED: [f64; 2] = [0.12, 0.09];

/// Half of what the free wake might change at an advance ratio, as fractions of thrust and power: the uncertainty where it has no answer, as [`NearRest`] counts half of what it does change.
pub(crate) fn unknown_change(advance_ratio: f64) -> [f64; 2] {
    MOST_CHANGED.map(|most| 0.5 * most * fading(advance_ratio / SLOW))
}

/// A propeller at rest by both models, and what that changes in slow flight.
#[derive(Clone, Debug)]
pub struct NearRest {
    /// The free wake at rest.
    pub wake: RestPerformance,
    /// The blade elements at rest.
    pub elements: Performance,
    /// What the free wake makes of the elements' thrust and torque at rest, less 1. Shank and hub are left out: their drag is the same by both.
    change: [f64; 2],
    /// The propeller and the angle by which its blades are turned.
    propeller: FlowPropeller,
    turn_rad: f64,
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
        let (by_wake, by_elements) = (of_blades(&wake.performance), of_blades(&elements));
        let change = [0, 1].map(|k| by_wake[k] / by_elements[k] - 1.0);
        let stalled = outer_stall(&wake.performance).max(outer_stall(&elements));
        let at_rest = fading((stalled - LITTLE_STALLED) / (MOST_STALLED - LITTLE_STALLED));
        Ok(NearRest { wake, elements, change, propeller: propeller.clone(), turn_rad, at_rest })
    }

    /// Weight of the free wake, 0 to 1, at an advance ratio.
    #[must_use]
    pub fn weight(&self, advance_ratio: f64) -> f64 {
        self.at_rest * fading(advance_ratio / SLOW)
    }

    /// Thrust and torque of the blades without shank and hub over those of the blade elements at an advance ratio.
    fn factors(&self, advance_ratio: f64) -> [f64; 2] {
        self.change.map(|c| 1.0 + self.weight(advance_ratio) * c)
    }

    /// A solution by blade elements of the same propeller with the thrust and torque of its elements changed; shank, hub and body follow.
    #[must_use]
    pub fn changed(&self, p: &Performance) -> Performance {
        let [thrust, torque] = self.factors(p.advance_ratio());
        let changed = |e: &ElementState| ElementState {
            thrust_n_per_m: thrust * e.thrust_n_per_m,
            torque_n: torque * e.torque_n,
            ..*e
        };
        self.propeller.summed(p.elements.iter().map(changed).collect(), &p.operation, self.turn_rad)
    }

    /// The solution that is shown for one by blade elements: [`Self::changed`], and at rest the free wake itself if it has the whole weight.
    #[must_use]
    pub fn shown(&self, p: &Performance) -> Performance {
        if p.advance_ratio() <= 0.0 && self.at_rest >= 1.0 {
            return self.wake.performance.clone();
        }
        self.changed(p)
    }
}

/// Thrust, N, and torque, N m, of the blades without their shanks and without a blunt hub.
fn of_blades(p: &Performance) -> [f64; 2] {
    let i = &p.installed;
    [p.thrust_n - i.shank_thrust_n + i.hub_drag_n, p.torque_nm - i.shank_torque_nm]
}

/// Whether an operation is slow enough for the free wake to count.
#[must_use]
pub fn is_slow(advance_ratio: f64) -> bool {
    advance_ratio < SLOW
}
