//! Effect of rotation on a stalled section.

use crate::forces::SectionForces;

/// Incidence, rad, up to which the delay is fully effective, and at which it has vanished.
const FULL: f64 = 0.5;
/// Incidence at which the delay has vanished, 60 deg. Chosen; no check of this value is on record.
const GONE: f64 = 1.05;

/// Lift of a stalled section on a rotating blade: `lift + 3 (c/r)^2 (attached lift - lift)`, fading from 30 to 60 deg. The source takes the lift without friction;
/// friction alone keeps viscous lift 8 to 12 % below that, which is no stall, so the line of attached viscous lift stands for it here. Drag and moment are unchanged. Without this call there is no delay.
///
/// `chord_over_radius`: local chord over local radius; `attached_lift`: see [`crate::SectionTable::attached_lift`]; `alpha_rad`: angle of attack.
///
/// # Source
/// H. Snel, R. Houwink, J. Bosschers, "Sectional prediction of lift coefficients on rotating wind turbine blades in stall", ECN-C-93-052, 1994.
#[must_use]
pub fn stall_delayed(
    forces: SectionForces,
    alpha_rad: f64,
    chord_over_radius: f64,
    attached_lift: f64,
) -> SectionForces {
    let lift = delayed_lift(forces.lift, alpha_rad, chord_over_radius, attached_lift);
    SectionForces { lift, ..forces }
}

/// Only the lift of [`stall_delayed`].
#[must_use]
pub fn delayed_lift(lift: f64, alpha_rad: f64, chord_over_radius: f64, attached_lift: f64) -> f64 {
    let t = ((alpha_rad.abs() - FULL) / (GONE - FULL)).clamp(0.0, 1.0);
    let fading = 1.0 - t * t * (3.0 - 2.0 * t);
    // For c/r above 1/sqrt(3) the relation would exceed the inviscid lift.
    let share = (3.0 * chord_over_radius * chord_over_radius).clamp(0.0, 1.0) * fading;
    let gain = attached_lift - lift;
    if gain * attached_lift <= 0.0 { lift } else { lift + share * gain }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::forces::PolarRegion;

    #[test]
    fn a_third_of_the_radius_gives_a_third_of_the_lost_lift() {
        let forces = SectionForces {
            lift: 1.0,
            drag: 0.1,
            moment: 0.0,
            region: PolarRegion::BeyondStall,
            stalled: true,
        };
        assert!((stall_delayed(forces, 0.3, 1.0 / 3.0, 2.2).lift - 1.4).abs() < 1e-12);
        assert!((stall_delayed(forces, 1.2, 0.5, 2.2).lift - 1.0).abs() < 1e-12);
    }
}
