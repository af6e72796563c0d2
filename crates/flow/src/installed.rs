//! A propeller at work on its machine: spinner or blunt hub, shank, and the body behind it.

use crate::shank::{RootPlan, ShankElement};
use crate::spheroid::BodyPlan;
use crate::{Air, FlowError, Operation};
use bladeform_polar::bar_drag;
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// Range of a uniform factor of the stream: a wake behind a hull to the stream beside a body.
const FACTOR_RANGE: [f64; 2] = [0.3, 1.5];
/// Greatest diameter of spinner or hub, as a fraction of that of the propeller.
const MOST_COVERED: f64 = 0.6;
/// Drag coefficient, on its frontal area, of a flat-faced cylinder along the stream, over length/diameter: F. M. White, Fluid Mechanics, 7th edition, 2011, table 7.3 (from memory); also Hoerner 1965, chapter 3.
const BLUNT_DRAG: [[f64; 2]; 5] = [[0.5, 1.15], [1.0, 0.90], [2.0, 0.85], [4.0, 0.87], [8.0, 0.99]];
/// Length over diameter of a hub whose length is not known.
const USUAL_HUB: f64 = 1.0;
/// Radius over the diameter of a hub at which half of the area of its front lies inside: the stream there stands for all of it.
const HUB_MIDDLE: f64 = 0.35;

/// What is around the blades. By default nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InstalledPlan {
    /// Spinner, hub and shank.
    pub root: RootPlan,
    /// The body behind the propeller.
    pub body: Option<BodyPlan>,
    /// Axial speed of the stream over the whole disc as a fraction of the speed of flight, in place of a body.
    pub stream_factor: Option<f64>,
}

/// Forces that belong to the installation. SI, all blades together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct InstalledForces {
    /// Thrust of the shanks, N; it is part of the thrust and mostly negative.
    pub shank_thrust_n: f64,
    /// Torque of the shanks, N m; it is part of the torque.
    pub shank_torque_nm: f64,
    /// Drag of a blunt hub, N; the thrust is less by it.
    pub hub_drag_n: f64,
    /// Thrust less the rise of the body's drag, N. `None` without a body or a factor of the stream.
    pub propulsive_thrust_n: Option<f64>,
    /// The part of that rise that rests on a drag coefficient which was not given, N.
    pub assumed_drag_n: f64,
}

impl InstalledPlan {
    /// Refuses what cannot be around a propeller of a diameter, m.
    ///
    /// # Errors
    /// [`FlowError::Installed`].
    pub fn check(&self, diameter_m: f64) -> Result<(), FlowError> {
        let refused = |problem: String| Err(FlowError::Installed { problem });
        let RootPlan { spinner_m, blunt_hub_m, shank_m } = self.root;
        for (what, size) in [("spinner", spinner_m), ("hub", blunt_hub_m), ("shank", shank_m)] {
            let Some(size) = size else { continue };
            if !(size > 0.0 && size <= MOST_COVERED * diameter_m) {
                return refused(format!(
                    "the diameter of the {what} is {:.1} mm; give a value above 0 and at most {MOST_COVERED} of the propeller's {:.1} mm",
                    1e3 * size,
                    1e3 * diameter_m
                ));
            }
        }
        if spinner_m.is_some() && blunt_hub_m.is_some() {
            return refused(
                "a spinner covers the hub: give the spinner or the blunt hub, not both".to_owned(),
            );
        }
        if let Some(f) = self.stream_factor {
            if self.body.is_some() {
                return refused(
                    "the body sets the stream over the disc: give the body or the factor, not both"
                        .to_owned(),
                );
            }
            if !(FACTOR_RANGE[0]..=FACTOR_RANGE[1]).contains(&f) {
                return refused(format!(
                    "the factor of the stream is {f}; give a value from {} to {}",
                    FACTOR_RANGE[0], FACTOR_RANGE[1]
                ));
            }
        }
        self.body.map_or(Ok(()), |body| body.check())
    }

    /// Axial speed of the stream at a radius, m, as a fraction of the speed of flight.
    #[must_use]
    pub fn factor(&self, radius_m: f64) -> f64 {
        match (self.stream_factor, &self.body) {
            (Some(factor), _) => factor,
            (None, Some(body)) => body.stream_factor(radius_m),
            (None, None) => 1.0,
        }
    }

    /// Whether the stream over the disc is not that of flight.
    #[must_use]
    pub fn has_body(&self) -> bool {
        self.stream_factor.is_some() || self.body.is_some_and(|b| b.diameter_m > 0.0)
    }

    /// Whether the drag of the body is that of a streamlined one, which was not given.
    #[must_use]
    pub fn is_streamlined(&self) -> bool {
        self.body.is_some_and(|b| b.diameter_m > 0.0 && b.drag_coefficient.is_none())
    }

    /// Drag of a blunt hub of a length, m, if that is known: N.
    pub(crate) fn hub_drag_n(&self, hub_length_m: Option<f64>, operation: &Operation) -> f64 {
        let Some(d) = self.root.blunt_hub_m else { return 0.0 };
        let area = FRAC_PI_4 * d * d;
        // The stream at the middle of the hub's front.
        let speed = self.factor(HUB_MIDDLE * d) * operation.speed_m_s;
        dynamic_pa(&operation.air, speed) * area * blunt_drag(hub_length_m.map_or(USUAL_HUB, |l| l / d))
    }

    /// Thrust less the rise of the body's drag, N, and the part of that rise whose coefficient was not given. `within`: the thrust of each ring of the disc times the factor of the stream there, summed, N. `thrust_n`: the whole thrust.
    ///
    /// # Source
    /// Two parts. In potential flow a lightly loaded disc does the work `T V'` on a stream of the speed `V'` at its place. Far behind, that work is done on the stream of flight, so that propeller and
    /// body together have the thrust `T V'/V`: the rest is the pressure drag of the body (momentum theory). The drag of friction and separation grows with the
    /// dynamic pressure of the slipstream, by `C_D S T/A` with the disc `A` (H. Glauert, *Airplane Propellers*, in W. F. Durand, *Aerodynamic Theory*, volume IV, 1935, division L, from memory:
    /// `1 + 8 T/(pi rho V^2 D^2)` times as much).
    pub(crate) fn propulsive_thrust_n(
        &self,
        within: f64,
        thrust_n: f64,
        disc_m2: f64,
        operation: &Operation,
    ) -> Option<[f64; 2]> {
        if !self.has_body() {
            return None;
        }
        let Some(body) = &self.body else { return Some([within, 0.0]) };
        let air = &operation.air;
        let jet =
            (operation.speed_m_s.powi(2) + 2.0 * thrust_n.max(0.0) / (air.density_kg_m3 * disc_m2)).sqrt();
        let reynolds = jet * body.length_m * air.density_kg_m3 / air.viscosity_pa_s;
        let rise_n = body.drag_coefficient(reynolds) * body.frontal_area_m2() * thrust_n / disc_m2;
        Some([within - rise_n, if self.is_streamlined() { rise_n.abs() } else { 0.0 }])
    }
}

fn dynamic_pa(air: &Air, speed_m_s: f64) -> f64 {
    0.5 * air.density_kg_m3 * speed_m_s.powi(2)
}

fn blunt_drag(slender: f64) -> f64 {
    let last = BLUNT_DRAG.len() - 1;
    let at = slender.clamp(BLUNT_DRAG[0][0], BLUNT_DRAG[last][0]);
    let k = BLUNT_DRAG.partition_point(|p| p[0] <= at).clamp(1, last);
    let ([x, low], [y, high]) = (BLUNT_DRAG[k - 1], BLUNT_DRAG[k]);
    low + (high - low) * (at - x) / (y - x)
}

/// Axial force along flight, N, and torque, N m, of one element of one shank in a stream of the axial speed `axial_m_s`, without induction, with the blade turned by `turn_rad`.
pub(crate) fn shank_forces(
    e: &ShankElement,
    axial_m_s: f64,
    operation: &Operation,
    turn_rad: f64,
) -> [f64; 2] {
    let air = &operation.air;
    let around = operation.omega_rad_s * e.radius_m;
    let (speed, inflow) = (axial_m_s.hypot(around), axial_m_s.atan2(around));
    let alpha = (e.table_angle_rad + turn_rad - inflow + FRAC_PI_2).rem_euclid(2.0 * FRAC_PI_2) - FRAC_PI_2;
    let reynolds = speed * e.breadth_m * air.density_kg_m3 / air.viscosity_pa_s;
    let drag =
        bar_drag(e.thickness_ratio, alpha, reynolds) * dynamic_pa(air, speed) * e.breadth_m * e.width_m;
    [-drag * inflow.sin(), drag * inflow.cos() * e.radius_m]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(radius_m: f64, width_m: f64) -> ShankElement {
        ShankElement { radius_m, width_m, breadth_m: 0.05, thickness_ratio: 1.0, table_angle_rad: 0.7 }
    }

    /// By hand: a round bar of 50 mm from 0.1 to 0.3 m at 100 rad/s in still air, below the drag crisis. Torque `0.5 rho omega^2 d C_D (r2^4 - r1^4)/4`.
    #[test]
    fn the_torque_of_a_round_bar_is_that_of_the_integral_by_hand() {
        let air = Air::standard(0.0, 0.0).unwrap();
        let still = Operation { speed_m_s: 0.0, omega_rad_s: 100.0, air };
        let n = 400;
        let width = 0.2 / f64::from(n);
        let torque: f64 = (0..n)
            .map(|k| shank_forces(&bar(0.1 + (f64::from(k) + 0.5) * width, width), 0.0, &still, 0.0)[1])
            .sum();
        // Reynolds numbers are 3e4 to 1e5; the drag coefficient there is 1.13 (Hoerner's relation).
        let by_hand = 0.5 * air.density_kg_m3 * 1e4 * 0.05 * 1.12 * (0.3_f64.powi(4) - 0.1_f64.powi(4)) / 4.0;
        assert!((torque / by_hand - 1.0).abs() < 0.02, "{torque} {by_hand}");
        // In flight the drag is along the resultant stream: thrust over tangential force is the slope of the inflow.
        let flies = Operation { speed_m_s: 20.0, ..still };
        let [thrust, torque] = shank_forces(&bar(0.2, 0.01), 20.0, &flies, 0.3);
        assert!((thrust / (torque / 0.2) + 1.0).abs() < 1e-12, "{thrust} {torque}");
    }

    #[test]
    fn a_blunt_hub_has_the_handbook_drag() {
        let air = Air::standard(0.0, 0.0).unwrap();
        let root = RootPlan { blunt_hub_m: Some(0.2), ..RootPlan::default() };
        let plan = InstalledPlan { root, ..InstalledPlan::default() };
        let flies = Operation { speed_m_s: 40.0, omega_rad_s: 100.0, air };
        let by_hand = 0.5 * 1.225 * 1600.0 * 0.031_415_9 * 0.90;
        assert!((plan.hub_drag_n(None, &flies) / by_hand - 1.0).abs() < 1e-4);
        assert!(plan.hub_drag_n(Some(0.1), &flies) > plan.hub_drag_n(Some(0.2), &flies));
        assert!(InstalledPlan::default().hub_drag_n(None, &flies).abs() < 1e-15);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let root = |spinner_m, blunt_hub_m| RootPlan { spinner_m, blunt_hub_m, shank_m: None };
        let plan = |root| InstalledPlan { root, ..InstalledPlan::default() };
        assert!(plan(root(Some(0.4), None)).check(2.0).is_ok());
        assert!(plan(root(Some(1.9), None)).check(2.0).is_err());
        assert!(plan(root(Some(0.3), Some(0.3))).check(2.0).is_err());
        for factor in [0.1, 1.6, f64::NAN] {
            assert!(
                InstalledPlan { stream_factor: Some(factor), ..InstalledPlan::default() }.check(2.0).is_err()
            );
        }
    }
}
