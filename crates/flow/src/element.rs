//! One annulus: the inflow angle at which the force on the blades equals the change of momentum of the stream.

use bladeform_polar::{SectionForces, SectionPolar};
use std::f64::consts::{FRAC_PI_2, PI};

/// Steps of the scan for a root. They are finer near the plane of rotation, where the inflow angles of propellers lie.
const SCAN_STEPS: usize = 40;
/// The smallest inflow angle considered, rad. Below it the axial flow through the disc is negligible.
const LEAST_INFLOW_RAD: f64 = 1e-5;
/// Width of the bracket at which a root is accepted, rad. A millionth of a degree is far below the error of any polar.
const ROOT_WIDTH_RAD: f64 = 1e-9;
/// Most steps: so many reach [`ROOT_WIDTH_RAD`] from any bracket in any case.
const MOST_ROOT_STEPS: usize = 80;
/// Beyond this value momentum theory no longer holds for the stream of a windmill (Ning 2014, equation 23).
const MOMENTUM_LIMIT: f64 = 2.0 / 3.0;
/// How often Reynolds and Mach number are updated from the solved speed.
const SPEED_PASSES: usize = 2;
/// Passes for the turn of the stream along the chord. The remaining error is below a hundredth of the turn, except where an element at the tip is stalled.
const TURN_PASSES: usize = 2;

/// One annulus of the propeller disc, with all that its balance needs. SI.
#[derive(Clone, Copy)]
pub(crate) struct Annulus<'a> {
    /// Fraction of the circumference covered by blades, `B c / (2 pi r)`.
    pub(crate) solidity: f64,
    /// Chord, m.
    pub(crate) chord_m: f64,
    /// Blade angle of the chord line, rad.
    pub(crate) blade_angle_rad: f64,
    /// Speed of flight, m/s, from 0 on.
    pub(crate) axial_m_s: f64,
    /// Speed of the blade in the plane of rotation, `omega r`, m/s, above 0.
    pub(crate) tangential_m_s: f64,
    /// Kinematic viscosity, m2/s.
    pub(crate) kinematic_viscosity: f64,
    /// Speed of sound, m/s.
    pub(crate) sound_m_s: f64,
    /// The section.
    pub(crate) polar: &'a dyn SectionPolar,
    /// Loss factor of a finite number of blades as a function of the inflow angle, 0 to about 1.
    pub(crate) loss: &'a dyn Fn(f64) -> f64,
    /// Turn of the stream along the chord per unit of lift, rad, as a function of the inflow angle.
    pub(crate) turn: &'a dyn Fn(f64) -> f64,
}

/// The state of an annulus.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Balance {
    /// Angle of the resultant stream to the plane of rotation, rad.
    pub(crate) inflow_rad: f64,
    /// Angle of attack, rad.
    pub(crate) alpha_rad: f64,
    /// Resultant speed, m/s.
    pub(crate) speed_m_s: f64,
    pub(crate) reynolds: f64,
    pub(crate) mach: f64,
    /// Section forces.
    pub(crate) forces: SectionForces,
    /// Turn of the stream along the chord, rad. The forces are those at the angle of attack minus this angle.
    pub(crate) turn_rad: f64,
    /// Loss factor.
    pub(crate) loss: f64,
    /// Whether momentum and force agree. If not, the induced velocities are zero.
    pub(crate) balanced: bool,
    /// Whether the empirical relation of a heavily braked stream was used.
    pub(crate) braked: bool,
}

/// Force coefficients along the axis and in the plane of rotation, both based on the resultant dynamic pressure and the chord.
pub(crate) fn axial_and_tangential(forces: &SectionForces, inflow_rad: f64) -> (f64, f64) {
    let (sin, cos) = inflow_rad.sin_cos();
    (forces.lift * cos - forces.drag * sin, forces.lift * sin + forces.drag * cos)
}

/// An angle wrapped to -pi to pi.
pub(crate) fn wrapped(angle_rad: f64) -> f64 {
    (angle_rad + PI).rem_euclid(2.0 * PI) - PI
}

/// Forces of a section at an angle of attack if the stream turns by `per_lift` rad per unit of lift, and the whole turn, rad.
pub(crate) fn turned(
    polar: &dyn SectionPolar,
    alpha_rad: f64,
    per_lift: f64,
    reynolds: f64,
    mach: f64,
) -> (SectionForces, f64) {
    let turn_rad = turn(polar, alpha_rad, per_lift, reynolds, mach);
    (polar.forces(wrapped(alpha_rad - turn_rad), reynolds, mach), turn_rad)
}

/// Turn of the stream along the chord, rad.
pub(crate) fn turn(polar: &dyn SectionPolar, alpha_rad: f64, per_lift: f64, reynolds: f64, mach: f64) -> f64 {
    let mut turn_rad = 0.0;
    for _ in 0..TURN_PASSES {
        let lift = polar.lift(wrapped(alpha_rad - turn_rad), reynolds, mach);
        // Newton's step with the lift slope of a thin section.
        turn_rad += (per_lift * lift - turn_rad) / (1.0 + 2.0 * PI * per_lift);
    }
    turn_rad
}

/// The residual at one inflow angle, and what it was computed from.
struct Probe {
    residual: f64,
    /// Free-stream speed and blade speed, each over the resultant speed.
    axial: f64,
    tangential: f64,
    braked: bool,
    forces: SectionForces,
    turn_rad: f64,
    loss: f64,
}

impl Annulus<'_> {
    /// Finds the balance. It never fails: without a root the annulus works without induction and reports it.
    ///
    /// # Source
    /// S. A. Ning, *A simple solution method for the blade element momentum equations with guaranteed convergence*, Wind
    /// Energy 17, 2014, 1327-1345, and *Using blade element momentum methods with gradient-based design optimization*,
    /// Structural and Multidisciplinary Optimization 64, 2021: one residual in the inflow angle. Here it is written with the
    /// induced velocities over the resultant speed, so that the static point is not a special case. For a braked stream beyond the range of momentum
    /// theory the relation of M. L. Buhl (National Renewable Energy Laboratory TP-500-36834, 2005) is used in Ning's form.
    ///
    /// `near`: the inflow angle, rad, of a balance that differs little from this one. Its branch is followed if it continues.
    pub(crate) fn solve(&self, near: Option<f64>) -> Balance {
        let mut speed = self.axial_m_s.hypot(self.tangential_m_s);
        let mut found: Option<(f64, Probe)> = None;
        for _ in 0..SPEED_PASSES {
            let start = found.as_ref().map(|(inflow, _)| *inflow).or(near);
            found = start.and_then(|inflow| self.root_near(inflow, speed)).or_else(|| self.root(speed));
            let Some((_, probe)) = &found else { break };
            speed = self.axial_m_s.hypot(self.tangential_m_s) / probe.axial.hypot(probe.tangential);
        }
        match found {
            Some((inflow_rad, probe)) => self.balance(inflow_rad, speed, &probe, true),
            None => {
                let inflow_rad = self.axial_m_s.atan2(self.tangential_m_s).max(LEAST_INFLOW_RAD);
                let speed = self.axial_m_s.hypot(self.tangential_m_s);
                self.balance(inflow_rad, speed, &self.probe(inflow_rad, speed), false)
            }
        }
    }

    fn balance(&self, inflow_rad: f64, speed_m_s: f64, probe: &Probe, balanced: bool) -> Balance {
        Balance {
            inflow_rad,
            alpha_rad: wrapped(self.blade_angle_rad - inflow_rad),
            speed_m_s,
            reynolds: speed_m_s * self.chord_m / self.kinematic_viscosity,
            mach: speed_m_s / self.sound_m_s,
            forces: probe.forces,
            turn_rad: probe.turn_rad,
            loss: probe.loss,
            balanced,
            braked: probe.braked,
        }
    }

    fn probe(&self, inflow_rad: f64, speed_m_s: f64) -> Probe {
        let alpha_rad = wrapped(self.blade_angle_rad - inflow_rad);
        let reynolds = speed_m_s * self.chord_m / self.kinematic_viscosity;
        let (forces, turn_rad) =
            turned(self.polar, alpha_rad, (self.turn)(inflow_rad), reynolds, speed_m_s / self.sound_m_s);
        let loss = (self.loss)(inflow_rad);
        let (sin, cos) = inflow_rad.sin_cos();
        let (along, around) = axial_and_tangential(&forces, inflow_rad);
        let per_loss = self.solidity / (4.0 * loss * sin.abs().max(LEAST_INFLOW_RAD * 0.1));
        let (axial_induced, tangential) = (per_loss * along, cos + per_loss * around);
        let braking = -axial_induced / sin;
        let braked = self.axial_m_s > 0.0 && sin > 0.0 && braking > MOMENTUM_LIMIT;
        let axial = if braked { sin / (1.0 - braked_induction(braking, loss)) } else { sin - axial_induced };
        let residual = self.axial_m_s * tangential - self.tangential_m_s * axial;
        Probe { residual, axial, tangential, braked, forces, turn_rad, loss }
    }

    /// Whether the free stream comes from ahead and the blade moves forward. The residual alone also vanishes for the reverse.
    fn is_forward(&self, probe: &Probe) -> bool {
        self.axial_m_s * probe.axial + self.tangential_m_s * probe.tangential > 0.0
    }

    /// The root, searched from the largest inflow angle down. Of several roots this is the one with attached flow.
    fn root(&self, speed_m_s: f64) -> Option<(f64, Probe)> {
        let scan = |first: f64, last: f64| self.scan(first, last, speed_m_s);
        scan(FRAC_PI_2, LEAST_INFLOW_RAD)
            .or_else(|| scan(-LEAST_INFLOW_RAD, -FRAC_PI_2))
            .or_else(|| scan(PI - LEAST_INFLOW_RAD, FRAC_PI_2))
    }

    fn root_near(&self, inflow_rad: f64, speed_m_s: f64) -> Option<(f64, Probe)> {
        // A change of Reynolds or Mach number, or a small change of the blade, moves the root by a fraction of a degree.
        const REACH_RAD: f64 = 0.01;
        // Mostly by less than this.
        const NEAR_RAD: f64 = 0.001;
        let (high, low) = (inflow_rad + REACH_RAD, inflow_rad - REACH_RAD);
        if high.signum() * low.signum() < 0.0 || high > FRAC_PI_2 {
            return None;
        }
        let residual = |at: f64| self.probe(at, speed_m_s).residual;
        let here = residual(inflow_rad);
        // In attached flow the residual falls with the inflow angle.
        let next = inflow_rad + NEAR_RAD.copysign(here);
        let there = residual(next);
        if here * there <= 0.0 {
            return self.narrowed(next, inflow_rad, there, here, speed_m_s);
        }
        self.narrowed(high, low, residual(high), residual(low), speed_m_s)
    }

    /// Whether the residual is negative here without the section's forces being read: beyond the inflow angle of the free stream, without lift and without a braked stream, the residual is
    /// `sin(d) (1 + p drag) + p lift cos(d)` times the speed, where `d` is the free stream's angle less this one, from 0 to -90 deg, and `p` is positive. `no_lift`: range of angles of attack.
    fn is_surely_negative(&self, inflow_rad: f64, no_lift: [f64; 2]) -> bool {
        // Greatest force coefficient along the axis: a plate across the stream has 2, rotation at most doubles it (with some to spare).
        const MOST_FORCE: f64 = 5.0;
        let alpha = wrapped(self.blade_angle_rad - inflow_rad);
        inflow_rad <= FRAC_PI_2
            && self.axial_m_s.atan2(self.tangential_m_s) < inflow_rad
            && no_lift[0] <= alpha
            && alpha <= no_lift[1]
            && (self.axial_m_s == 0.0
                || self.solidity * MOST_FORCE
                    <= 4.0 * MOMENTUM_LIMIT * (self.loss)(inflow_rad) * inflow_rad.sin().powi(2))
    }

    fn scan(&self, first: f64, last: f64, speed_m_s: f64) -> Option<(f64, Probe)> {
        // Squaring makes the steps small where the angle is small.
        let (a, b) = (first.abs().sqrt().copysign(first), last.abs().sqrt().copysign(last));
        let at = |k: usize| {
            let s = a + (b - a) * k as f64 / SCAN_STEPS as f64;
            s * s.abs()
        };
        let residual = |at: f64| self.probe(at, speed_m_s).residual;
        let no_lift = self.polar.without_lift();
        let quiet = |at: f64| no_lift.is_some_and(|range| self.is_surely_negative(at, range));
        // The angle before, and the residual there unless only its sign is known: it is negative then.
        let mut before: Option<(f64, Option<f64>)> = None;
        for k in 0..=SCAN_STEPS {
            let angle = if k == 0 { first } else { at(k) };
            let is_positive = before.is_some_and(|(_, r)| r.is_some_and(|r| r >= 0.0));
            if !is_positive && quiet(angle) {
                before = Some((angle, None));
                continue;
            }
            let here = residual(angle);
            if let Some((start, known)) = before
                && known.unwrap_or(-1.0) * here <= 0.0
            {
                let there = known.unwrap_or_else(|| residual(start));
                let root = self.narrowed(start, angle, there, here, speed_m_s);
                if root.is_some() {
                    return root;
                }
            }
            before = Some((angle, Some(here)));
        }
        None
    }

    /// The root inside a bracket by the Illinois variant of false position, with a bisection where it converges slowly.
    fn narrowed(
        &self,
        mut a: f64,
        mut b: f64,
        mut fa: f64,
        mut fb: f64,
        speed_m_s: f64,
    ) -> Option<(f64, Probe)> {
        if fa.is_nan() || fb.is_nan() || fa * fb > 0.0 {
            return None;
        }
        // An end may be the root itself.
        if fa == 0.0 {
            b = a;
        } else if fb == 0.0 {
            a = b;
        }
        let mut last: Option<Probe> = None;
        let mut moved = f64::INFINITY;
        for step in 0..MOST_ROOT_STEPS {
            if (b - a).abs() < ROOT_WIDTH_RAD {
                break;
            }
            let secant = a - fa * (b - a) / (fb - fa);
            let inside = (secant - a) * (secant - b) < 0.0;
            let slow = step % 4 == 3 && (secant - b).abs() > 0.1 * moved;
            let c = if inside && !slow { secant } else { 0.5 * (a + b) };
            let probe = self.probe(c, speed_m_s);
            let fc = probe.residual;
            last = Some(probe);
            moved = (c - b).abs();
            if fc == 0.0 || (inside && moved < ROOT_WIDTH_RAD) {
                b = c;
                break;
            }
            if fc * fb < 0.0 {
                (a, fa) = (b, fb);
            } else {
                fa *= 0.5;
            }
            (b, fb) = (c, fc);
        }
        let inflow = b;
        let probe = last.unwrap_or_else(|| self.probe(inflow, speed_m_s));
        self.is_forward(&probe).then_some((inflow, probe))
    }
}

/// Axial induction of a heavily braked stream, as a fraction of the free stream (Ning 2014, equations 26 to 31).
fn braked_induction(k: f64, loss: f64) -> f64 {
    let g1 = 2.0 * loss * k - (10.0 / 9.0 - loss);
    let g2 = (2.0 * loss * k - loss * (4.0 / 3.0 - loss)).max(0.0);
    let g3 = 2.0 * loss * k - (25.0 / 9.0 - 2.0 * loss);
    // Below this the quadratic has lost its square term (Ning 2014, after equation 31).
    const NO_SQUARE: f64 = 1e-6;
    let a = if g3.abs() < NO_SQUARE { 1.0 - 0.5 / g2.sqrt() } else { (g1 - g2.sqrt()) / g3 };
    a.min(1.0 - 1e-9)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_polar::PolarRegion;
    use proptest::prelude::*;

    /// Lift of a flat plate at all angles, with drag.
    struct Plate {
        drag: f64,
    }

    impl SectionPolar for Plate {
        fn forces(&self, alpha_rad: f64, _: f64, _: f64) -> SectionForces {
            let lift = PI * (2.0 * alpha_rad).sin();
            let drag = self.drag + 1.8 * alpha_rad.sin().powi(2);
            SectionForces { lift, drag, moment: 0.0, region: PolarRegion::Given, stalled: false }
        }
    }

    fn annulus<'a>(
        polar: &'a Plate,
        loss: &'a dyn Fn(f64) -> f64,
        angle: f64,
        v: f64,
        u: f64,
    ) -> Annulus<'a> {
        Annulus {
            solidity: 0.06,
            chord_m: 0.1,
            blade_angle_rad: angle,
            axial_m_s: v,
            tangential_m_s: u,
            kinematic_viscosity: 1.46e-5,
            sound_m_s: 340.0,
            polar,
            loss,
            turn: &|_| 0.0,
        }
    }

    #[test]
    fn force_and_momentum_agree_at_the_static_point() {
        let (polar, loss) = (Plate { drag: 0.01 }, |_: f64| 1.0);
        let found = annulus(&polar, &loss, 0.25, 0.0, 150.0).solve(None);
        let (along, _) = axial_and_tangential(&found.forces, found.inflow_rad);
        // Thrust of the annulus by force, and by 2 rho v^2 through it (actuator disc at rest), per 2 pi r rho.
        let by_force = 0.5 * found.speed_m_s.powi(2) * 0.06 * along;
        let by_momentum = 2.0 * (found.speed_m_s * found.inflow_rad.sin()).powi(2);
        assert!(found.balanced && (by_force / by_momentum - 1.0).abs() < 1e-6, "{by_force} {by_momentum}");
    }

    #[test]
    fn a_braked_stream_follows_the_empirical_relation() {
        // At the limit both relations meet: a = 2/5 at k = 2/3 without losses (momentum theory).
        assert!(
            (braked_induction(2.0 / 3.0, 1.0) - 0.4).abs() < 1e-3,
            "{}",
            braked_induction(2.0 / 3.0, 1.0)
        );
        assert!(braked_induction(50.0, 1.0) < 1.0);
    }

    proptest! {
        #[test]
        fn every_regime_has_an_answer(angle in -1.6_f64..1.6, v in 0.0_f64..200.0, u in 1.0_f64..300.0, loss in 0.01_f64..1.0) {
            let (polar, factor) = (Plate { drag: 0.01 }, move |_: f64| loss);
            let found = annulus(&polar, &factor, angle, v, u).solve(None);
            prop_assert!(found.inflow_rad.is_finite() && found.speed_m_s.is_finite() && found.speed_m_s >= 0.0);
            prop_assert!(found.balanced, "angle {angle} v {v} u {u} loss {loss}");
            let again = annulus(&polar, &factor, angle, v, u).solve(Some(found.inflow_rad));
            prop_assert!((again.inflow_rad - found.inflow_rad).abs() < 2e-9, "{} {}", again.inflow_rad, found.inflow_rad);
        }
    }
}
