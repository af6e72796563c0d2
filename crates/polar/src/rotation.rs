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

/// Factor of [`added_drag`].
const DRAG_FACTOR: f64 = 2.2;

/// Drag that rotation adds to a stalled section whose chord lies in the plane of rotation: `2.2 (c/r) (drag - least drag)`, at most `drag - least drag`, fading from 30 to 60 deg of incidence as the
/// lift does. At a blade angle it is less by [`level`]. The source applies it at all angles; here it is limited to separated flow, since the drag of attached flow is that of its boundary layers. The
/// source has its own relation for lift, `2.2 (c/r) cos^4`; ours is that of [`stall_delayed`], because it was derived for thin blades of small twist and is tested with this method.
///
/// `least_drag`: that of attached flow at this Reynolds number; `separated`: 0 to 1, see [`crate::SectionTable::separated`].
///
/// # Source
/// P. K. Chaviaropoulos, M. O. L. Hansen, "Investigating three-dimensional and rotational effects on wind turbine blades by means of a quasi-3D Navier-Stokes solver", Journal of Fluids
/// Engineering 122, 2000, 330-336 (from memory: factor 2.2, exponents 1 of `c/r` and 4 of the cosine of the twist).
#[must_use]
pub fn added_drag(drag: f64, alpha_rad: f64, chord_over_radius: f64, least_drag: f64, separated: f64) -> f64 {
    let t = ((alpha_rad.abs() - FULL) / (GONE - FULL)).clamp(0.0, 1.0);
    let fading = 1.0 - t * t * (3.0 - 2.0 * t);
    (DRAG_FACTOR * chord_over_radius).clamp(0.0, 1.0) * fading * separated * (drag - least_drag).max(0.0)
}

/// Part of [`added_drag`] that is left at an angle of the chord to the plane of rotation, rad: the fourth power of its cosine (the same source, from memory).
#[must_use]
pub fn level(blade_angle_rad: f64) -> f64 {
    blade_angle_rad.cos().powi(4)
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

    /// By hand: 2.2 x 0.1 x (0.21 - 0.01) = 0.044 in the plane of rotation, and a quarter of it at 45 deg.
    #[test]
    fn rotation_adds_drag_to_a_stalled_section_and_none_to_an_attached_one() {
        assert!((added_drag(0.21, 0.3, 0.1, 0.01, 1.0) - 0.044).abs() < 1e-12);
        assert!((level(std::f64::consts::FRAC_PI_4) - 0.25).abs() < 1e-12);
        assert!(
            added_drag(0.21, 0.3, 0.1, 0.01, 0.0).abs() < 1e-12
                && added_drag(1.8, 1.2, 0.1, 0.01, 1.0).abs() < 1e-12
        );
        // Near the root it at most doubles what separation costs.
        assert!((added_drag(0.21, 0.3, 0.6, 0.01, 1.0) - 0.2).abs() < 1e-12);
    }
}
