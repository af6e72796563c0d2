//! A propeller in a stream: all annuli and their sums.

use crate::FlowError;
use crate::air::Air;
use crate::blade::FlowBlade;
use crate::chordwise::ChordwiseTurn;
use crate::element::{Annulus, Balance, axial_and_tangential, wrapped};
use crate::installed::{InstalledForces, InstalledPlan, shank_forces};
use crate::loss::{TipLoss, prandtl_root_factor};
use crate::spheroid::BodyPlan;
use bladeform_polar::PolarRegion;
use std::f64::consts::{PI, TAU};

/// Greatest number of blades accepted.
const MOST_BLADES: u32 = 12;

/// The operating condition of a propeller: flight speed, rotational speed and air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Operation {
    /// Speed of flight, m/s, from 0 on.
    pub speed_m_s: f64,
    /// Rotational speed, rad/s, above 0.
    pub omega_rad_s: f64,
    /// The air.
    pub air: Air,
}

impl Operation {
    /// Checks flight speed and rotational speed.
    ///
    /// # Errors
    /// [`FlowError::Speed`], [`FlowError::Rotation`].
    pub fn new(speed_m_s: f64, rpm: f64, air: Air) -> Result<Operation, FlowError> {
        if !(rpm > 0.0 && rpm.is_finite()) {
            return Err(FlowError::Rotation { rpm });
        }
        if !(0.0..air.speed_of_sound_m_s).contains(&speed_m_s) {
            return Err(FlowError::Speed { speed_m_s });
        }
        Ok(Operation { speed_m_s, omega_rad_s: rpm * TAU / 60.0, air })
    }

    /// Rotational speed, revolutions per minute.
    #[must_use]
    pub fn rpm(&self) -> f64 {
        self.omega_rad_s * 60.0 / TAU
    }

    /// Advance ratio `V/(n D)` of a propeller of a diameter, m.
    #[must_use]
    pub fn advance_ratio(&self, diameter_m: f64) -> f64 {
        self.speed_m_s / (self.turns_a_second() * diameter_m)
    }

    /// Rotational speed, revolutions per second.
    #[must_use]
    pub fn turns_a_second(&self) -> f64 {
        self.omega_rad_s / TAU
    }
}

/// Blades on a hub.
#[derive(Clone, Debug)]
pub struct FlowPropeller {
    /// The blade.
    pub blade: FlowBlade,
    /// Number of blades.
    pub blades: u32,
    tip_loss: TipLoss,
    chordwise: ChordwiseTurn,
    installed: InstalledPlan,
    /// Axial speed of the stream at each element as a fraction of the speed of flight.
    stream: Vec<f64>,
}

/// One element of a solved propeller. SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ElementState {
    /// Radius, m.
    pub radius_m: f64,
    /// Width along the span, m.
    pub width_m: f64,
    /// Chord, m.
    pub chord_m: f64,
    /// Blade angle, rad.
    pub blade_angle_rad: f64,
    /// Angle of the resultant stream to the plane of rotation, rad.
    pub inflow_rad: f64,
    /// Angle of attack, rad.
    pub alpha_rad: f64,
    /// Axial induced velocity at the blade, positive downstream, m/s.
    pub axial_induced_m_s: f64,
    /// Swirl induced at the blade, positive in the direction of rotation, m/s.
    pub swirl_induced_m_s: f64,
    /// Resultant speed, m/s.
    pub speed_m_s: f64,
    /// Reynolds number on the chord.
    pub reynolds: f64,
    /// Mach number.
    pub mach: f64,
    /// Least pressure coefficient on the section. `None` in air, and where the polar does not know it.
    pub least_pressure: Option<f64>,
    /// Turn of the stream along the chord, rad. The polar is read at the angle of attack minus this angle.
    pub turn_rad: f64,
    /// Section forces.
    pub forces: bladeform_polar::SectionForces,
    /// The mean induced velocities over the circumference as a fraction of those at the blade.
    pub loss: f64,
    /// Thrust of one blade per metre of span, N/m.
    pub thrust_n_per_m: f64,
    /// Torque of one blade per metre of span, N m/m.
    pub torque_n: f64,
    /// Axial speed of the stream here without the propeller, as a fraction of the speed of flight.
    pub stream_factor: f64,
    /// Whether momentum and force agree. If not, the element works without induction.
    pub balanced: bool,
    /// Whether the empirical relation of a heavily braked stream was used.
    pub braked: bool,
}

/// A solved propeller. SI.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    /// The operating condition.
    pub operation: Operation,
    /// Diameter, m.
    pub diameter_m: f64,
    /// Number of blades.
    pub blades: u32,
    /// Thrust of all blades with their shanks, less the drag of a blunt hub, N: the force on the shaft.
    pub thrust_n: f64,
    /// Torque of all blades with their shanks, N m.
    pub torque_nm: f64,
    /// What of it belongs to shank, hub and body.
    pub installed: InstalledForces,
    /// The elements of one blade.
    pub elements: Vec<ElementState>,
}

impl FlowPropeller {
    /// Puts `blades` blades on a hub.
    ///
    /// # Errors
    /// [`FlowError::Blades`] outside 1 to 12.
    pub fn new(blade: FlowBlade, blades: u32) -> Result<FlowPropeller, FlowError> {
        Self::installed(blade, blades, &InstalledPlan::default())
    }

    /// The same with hub and body. The blade was made with the same spinner, hub and shank.
    ///
    /// # Errors
    /// [`FlowError::Blades`] outside 1 to 12; [`FlowError::Installed`].
    pub fn installed(
        blade: FlowBlade,
        blades: u32,
        installed: &InstalledPlan,
    ) -> Result<FlowPropeller, FlowError> {
        if !(1..=MOST_BLADES).contains(&blades) {
            return Err(FlowError::Blades { blades });
        }
        installed.check(2.0 * blade.radius_m)?;
        let chordwise = ChordwiseTurn::new(&blade, blades);
        let stream = blade.elements.iter().map(|e| installed.factor(e.radius_m)).collect();
        let tip_loss = TipLoss::new(blades);
        Ok(FlowPropeller { blade, blades, tip_loss, chordwise, installed: *installed, stream })
    }

    /// The same propeller with another body behind it, or none.
    ///
    /// # Errors
    /// [`FlowError::Installed`].
    pub fn before(&self, body: Option<BodyPlan>) -> Result<FlowPropeller, FlowError> {
        let plan = InstalledPlan { body, stream_factor: None, ..self.installed };
        Self::installed(self.blade.clone(), self.blades, &plan)
    }

    /// The same propeller with a smooth and with a worn surface. `None` if the surface is known.
    pub(crate) fn surfaces(&self) -> Option<[FlowPropeller; 2]> {
        let [smooth, worn] = self.blade.surfaces()?;
        Some([smooth, worn].map(|blade| FlowPropeller { blade, ..self.clone() }))
    }

    /// What is around the blades.
    #[must_use]
    pub fn installation(&self) -> &InstalledPlan {
        &self.installed
    }

    /// Diameter, m.
    #[must_use]
    pub fn diameter_m(&self) -> f64 {
        2.0 * self.blade.radius_m
    }

    /// Thrust and torque if the whole blade is turned by `turn_rad` from the table's angles.
    #[must_use]
    pub fn performance(&self, turn_rad: f64, operation: &Operation) -> Performance {
        let elements: Vec<ElementState> = (0..self.blade.elements.len())
            .map(|k| self.element(k, turn_rad, operation, [0.0, 1.0], None))
            .collect();
        self.summed(elements, operation, turn_rad)
    }

    /// The same, starting from a known performance close to it.
    pub(crate) fn performance_near(
        &self,
        turn_rad: f64,
        operation: &Operation,
        near: &Performance,
    ) -> Performance {
        let elements = near
            .elements
            .iter()
            .enumerate()
            .map(|(k, e)| self.element(k, turn_rad, operation, [0.0, 1.0], Some(e)))
            .collect();
        self.summed(elements, operation, turn_rad)
    }

    /// The forces of solved elements with those of shank, hub and body.
    pub(crate) fn summed(
        &self,
        elements: Vec<ElementState>,
        operation: &Operation,
        turn_rad: f64,
    ) -> Performance {
        let sum = |f: &dyn Fn(&ElementState) -> f64| {
            f64::from(self.blades) * elements.iter().map(|e| f(e) * e.width_m).sum::<f64>()
        };
        let mut within = sum(&|e| e.stream_factor * e.thrust_n_per_m);
        let (mut shank_thrust_n, mut shank_torque_nm) = (0.0, 0.0);
        for e in &self.blade.shank {
            let factor = self.installed.factor(e.radius_m);
            let [thrust, torque] = shank_forces(e, factor * operation.speed_m_s, operation, turn_rad)
                .map(|f| f64::from(self.blades) * f);
            shank_thrust_n += thrust;
            shank_torque_nm += torque;
            within += factor * thrust;
        }
        let hub_drag_n = self.installed.hub_drag_n(self.blade.hub_length_m, operation);
        let thrust_n = sum(&|e| e.thrust_n_per_m) + shank_thrust_n - hub_drag_n;
        let disc_m2 = PI * self.blade.radius_m.powi(2);
        let propulsive =
            self.installed.propulsive_thrust_n(within - hub_drag_n, thrust_n, disc_m2, operation);
        Performance {
            operation: *operation,
            diameter_m: self.diameter_m(),
            blades: self.blades,
            thrust_n,
            torque_nm: sum(&|e| e.torque_n) + shank_torque_nm,
            installed: InstalledForces {
                shank_thrust_n,
                shank_torque_nm,
                hub_drag_n,
                propulsive_thrust_n: propulsive.map(|p| p[0]),
                assumed_drag_n: propulsive.map_or(0.0, |p| p[1]),
            },
            elements,
        }
    }

    /// Axial speed of the stream at element `k` as a fraction of the speed of flight.
    pub(crate) fn stream_factor(&self, k: usize) -> f64 {
        self.stream[k]
    }

    /// Turn of the stream along the chord of element `k` per unit of lift, rad, at an inflow angle, rad.
    pub(crate) fn turn_per_lift(&self, k: usize, inflow_rad: f64) -> f64 {
        let ratio = self.blade.elements[k].radius_m / self.blade.radius_m;
        self.chordwise.value(k, ratio * inflow_rad.tan().abs())
    }

    /// One element with its angle increased by `change[0]` rad and its chord multiplied by `change[1]`. `near`: a known state close to this one, if any.
    pub(crate) fn element(
        &self,
        k: usize,
        turn_rad: f64,
        operation: &Operation,
        change: [f64; 2],
        near: Option<&ElementState>,
    ) -> ElementState {
        let element = &self.blade.elements[k];
        let (r, air) = (element.radius_m, &operation.air);
        let ratio = r / self.blade.radius_m;
        let inner_ratio = self.blade.inner_radius_m / self.blade.radius_m;
        let loss = |inflow: f64| {
            self.tip_loss.factor(ratio, inflow) * prandtl_root_factor(self.blades, ratio, inner_ratio, inflow)
        };
        let turn = |inflow: f64| self.turn_per_lift(k, inflow);
        let polar = self.blade.polar(element, turn_rad);
        let chord_m = element.chord_m * change[1];
        let annulus = Annulus {
            solidity: f64::from(self.blades) * chord_m / (TAU * r),
            chord_m,
            blade_angle_rad: wrapped(element.table_angle_rad + turn_rad + change[0]),
            axial_m_s: self.stream[k] * operation.speed_m_s,
            tangential_m_s: operation.omega_rad_s * r,
            kinematic_viscosity: air.viscosity_pa_s / air.density_kg_m3,
            sound_m_s: air.speed_of_sound_m_s,
            polar: &polar,
            loss: &loss,
            turn: &turn,
        };
        let balance = annulus.solve(near.filter(|e| e.balanced).map(|e| e.inflow_rad));
        ElementState { stream_factor: self.stream[k], ..state(&annulus, &balance, r, element.width_m, air) }
    }
}

fn state(annulus: &Annulus<'_>, balance: &Balance, radius_m: f64, width_m: f64, air: &Air) -> ElementState {
    let (sin, cos) = balance.inflow_rad.sin_cos();
    let (along, around) = axial_and_tangential(&balance.forces, balance.inflow_rad);
    let force = 0.5 * air.density_kg_m3 * balance.speed_m_s.powi(2) * annulus.chord_m;
    let induced = |value: f64| if balance.balanced { value } else { 0.0 };
    ElementState {
        radius_m,
        width_m,
        chord_m: annulus.chord_m,
        blade_angle_rad: annulus.blade_angle_rad,
        inflow_rad: balance.inflow_rad,
        alpha_rad: balance.alpha_rad,
        axial_induced_m_s: induced(balance.speed_m_s * sin - annulus.axial_m_s),
        swirl_induced_m_s: induced(annulus.tangential_m_s - balance.speed_m_s * cos),
        speed_m_s: balance.speed_m_s,
        reynolds: balance.reynolds,
        mach: balance.mach,
        least_pressure: air.water.and_then(|_| {
            annulus.polar.least_pressure(wrapped(balance.alpha_rad - balance.turn_rad), balance.reynolds)
        }),
        turn_rad: balance.turn_rad,
        forces: balance.forces,
        loss: balance.loss,
        stream_factor: 1.0,
        thrust_n_per_m: force * along,
        torque_n: force * around * radius_m,
        balanced: balance.balanced,
        braked: balance.braked,
    }
}

impl ElementState {
    /// Whether the section is stalled. A bluff body is none: it has no lift to lose.
    #[must_use]
    pub fn is_stalled(&self) -> bool {
        self.forces.stalled && self.forces.region != PolarRegion::BluffBody
    }
}

impl Performance {
    /// Power absorbed, W.
    #[must_use]
    pub fn power_w(&self) -> f64 {
        self.torque_nm * self.operation.omega_rad_s
    }

    /// Advance ratio `V/(n D)`.
    #[must_use]
    pub fn advance_ratio(&self) -> f64 {
        self.operation.advance_ratio(self.diameter_m)
    }

    /// `T/(rho n^2 D^4)`.
    #[must_use]
    pub fn thrust_coefficient(&self) -> f64 {
        self.thrust_n / (self.scale() * self.diameter_m.powi(4))
    }

    /// `Q/(rho n^2 D^5)`.
    #[must_use]
    pub fn torque_coefficient(&self) -> f64 {
        self.torque_nm / (self.scale() * self.diameter_m.powi(5))
    }

    /// `P/(rho n^3 D^5)`, `2 pi` times the torque coefficient.
    #[must_use]
    pub fn power_coefficient(&self) -> f64 {
        TAU * self.torque_coefficient()
    }

    /// `J C_T/C_P`. `None` at the static point and if thrust and power are not both positive.
    #[must_use]
    pub fn efficiency(&self) -> Option<f64> {
        let works = self.operation.speed_m_s > 0.0 && self.thrust_n > 0.0 && self.torque_nm > 0.0;
        works.then(|| self.operation.speed_m_s * self.thrust_n / self.power_w())
    }

    /// The same of the propulsive thrust. `None` as there, and without a body.
    #[must_use]
    pub fn propulsive_efficiency(&self) -> Option<f64> {
        let thrust_n = self.installed.propulsive_thrust_n.filter(|t| *t > 0.0)?;
        self.efficiency().map(|_| self.operation.speed_m_s * thrust_n / self.power_w())
    }

    /// Mach number of the tip's helical path.
    #[must_use]
    pub fn helical_tip_mach(&self) -> f64 {
        let tip = PI * self.operation.turns_a_second() * self.diameter_m;
        self.operation.speed_m_s.hypot(tip) / self.operation.air.speed_of_sound_m_s
    }

    /// Fraction of the computed span that is stalled. A shank has no lift to lose and does not count.
    #[must_use]
    pub fn stalled_fraction(&self) -> f64 {
        self.share(ElementState::is_stalled)
    }

    /// Fraction of the computed span for which a condition holds.
    pub(crate) fn share(&self, holds: impl Fn(&ElementState) -> bool) -> f64 {
        let all: f64 = self.elements.iter().map(|e| e.width_m).sum();
        // An empty sum is a negative zero. Adding zero makes it positive.
        self.elements.iter().filter(|e| holds(e)).map(|e| e.width_m).sum::<f64>() / all + 0.0
    }

    /// Dynamic pressure of the resultant speed on the area of all blades, N, and its moment about the axis, N m: thrust over the first is the mean force coefficient along the axis.
    #[must_use]
    pub fn dynamic_forces(&self) -> [f64; 2] {
        let of = |e: &ElementState| {
            0.5 * self.operation.air.density_kg_m3 * e.speed_m_s.powi(2) * e.chord_m * e.width_m
        };
        let sum = |f: &dyn Fn(&ElementState) -> f64| self.elements.iter().map(f).sum::<f64>();
        [sum(&of), sum(&|e| of(e) * e.radius_m)].map(|v| f64::from(self.blades) * v)
    }

    fn scale(&self) -> f64 {
        self.operation.air.density_kg_m3 * self.operation.turns_a_second().powi(2)
    }
}
