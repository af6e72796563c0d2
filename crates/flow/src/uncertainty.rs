//! Uncertainty of thrust and power that is due to the uncertainty of the measured geometry, to first order.

use crate::blade::UNCERTAIN;
use crate::propeller::{FlowPropeller, Operation, Performance};
use bladeform_table::{OperatingUncertainty, Station, UncertaintySource};

/// Steps of the difference quotients: large compared with the roughness of the polars, small compared with the scale of their curvature.
const ANGLE_STEP_RAD: f64 = 0.003;
/// Of the chord, as a fraction of it (chosen by the same consideration).
const CHORD_STEP: f64 = 0.01;
/// Of the scale, as a fraction of it (chosen by the same consideration).
const SCALE_STEP: f64 = 0.005;
/// Magnitude of the change of the zero-lift angle with camber, rad. The zero-lift angle of a circular-arc mean line is minus two times the camber
/// (thin-aerofoil theory: M. M. Munk, NACA Report 142, 1922).
const ANGLE_PER_CAMBER_RAD: f64 = 2.0;

/// The effect of each source of uncertainty, at one standard uncertainty, on thrust, N, and torque, N m.
#[derive(Clone, Debug)]
pub(crate) struct Effects {
    /// Independent sources: angle, chord and camber of each station.
    pub(crate) independent: Vec<[f64; 2]>,
    /// The scale of all lengths.
    pub(crate) common: [f64; 2],
}

/// The effect of each source at an operating point. `reference_ratio` is the radius of the setting: an error of the angle there
/// turns the whole blade.
pub(crate) fn effects(
    propeller: &FlowPropeller,
    turn_rad: f64,
    performance: &Performance,
    reference_ratio: f64,
    relative_scale_u: f64,
) -> Effects {
    let operation = &performance.operation;
    let (by_angle, by_chord) = derivatives(propeller, turn_rad, performance);
    let blade = &propeller.blade;
    let reference = shares_at(&blade.stations, reference_ratio * blade.radius_m);
    let mut independent = Vec::new();
    for (s, station) in blade.stations.iter().enumerate() {
        let sum = |per_element: &[[f64; 2]], reference_share: f64| {
            let mut sum = [0.0; 2];
            for (element, d) in blade.elements.iter().zip(per_element) {
                let share = share_of(element.between, s) - reference_share;
                sum = [sum[0] + share * d[0], sum[1] + share * d[1]];
            }
            sum
        };
        // The uncertainty of the section at the setting is common to all angles. It is counted above as the effect of that station.
        let own = |column| station.u_without(column, UncertaintySource::Reference).unwrap_or(0.0);
        let [angle, chord, camber] = UNCERTAIN.map(own);
        let scaled = |[t, q]: [f64; 2], u: f64| [t * u, q * u];
        independent.push(scaled(sum(&by_angle, share_of(reference, s)), angle.to_radians()));
        let chord_m = station.chord_m.unwrap_or(1.0);
        // The part of the chord's uncertainty that is due to the scale is common to all stations. It is counted there.
        let own = ((chord / chord_m).powi(2) - relative_scale_u.powi(2)).max(0.0).sqrt();
        independent.push(scaled(sum(&by_chord, 0.0), own));
        independent.push(scaled(sum(&by_angle, 0.0), ANGLE_PER_CAMBER_RAD * camber));
    }
    let common = scale_effect(propeller, turn_rad, performance, operation).map(|d| d * relative_scale_u);
    Effects { independent, common }
}

impl Effects {
    /// The effects combined to standard uncertainties of a point.
    pub(crate) fn uncertainty(&self, performance: &Performance) -> OperatingUncertainty {
        let root = |k: usize| self.independent.iter().map(|e| e[k] * e[k]).sum::<f64>().sqrt();
        let (thrust_n, torque_nm) = (root(0).hypot(self.common[0]), root(1).hypot(self.common[1]));
        let omega = performance.operation.omega_rad_s;
        let efficiency = performance.efficiency().map(|efficiency| {
            self.all().map(|e| relative(e, performance) * efficiency).map(|d| d * d).sum::<f64>().sqrt()
        });
        OperatingUncertainty {
            setting_deg: None,
            thrust_n: Some(thrust_n),
            torque_nm: Some(torque_nm),
            power_w: Some(torque_nm * omega),
            efficiency,
            common_thrust_n: Some(self.common[0].abs()),
            common_power_w: Some(self.common[1].abs() * omega),
        }
    }

    pub(crate) fn all(&self) -> impl Iterator<Item = [f64; 2]> + '_ {
        self.independent.iter().copied().chain([self.common])
    }
}

/// Relative change of the efficiency.
pub(crate) fn relative(effect: [f64; 2], performance: &Performance) -> f64 {
    effect[0] / performance.thrust_n - effect[1] / performance.torque_nm
}

/// For each element: derivatives of the whole propeller's thrust and torque with respect to its angle, per rad, and to its relative chord.
fn derivatives(
    propeller: &FlowPropeller,
    turn_rad: f64,
    performance: &Performance,
) -> (Vec<[f64; 2]>, Vec<[f64; 2]>) {
    let blades = f64::from(propeller.blades);
    let change = |k: usize, change: [f64; 2], step: f64| {
        let before = &performance.elements[k];
        let after = propeller.element(k, turn_rad, &performance.operation, change, Some(before));
        let factor = blades * before.width_m / step;
        [factor * (after.thrust_n_per_m - before.thrust_n_per_m), factor * (after.torque_n - before.torque_n)]
    };
    let n = performance.elements.len();
    let by_angle = (0..n).map(|k| change(k, [ANGLE_STEP_RAD, 1.0], ANGLE_STEP_RAD)).collect();
    let by_chord = (0..n).map(|k| change(k, [0.0, 1.0 + CHORD_STEP], CHORD_STEP)).collect();
    (by_angle, by_chord)
}

/// Derivatives of thrust and torque with respect to the relative size of the whole propeller at the same flight speed and rotational speed: coefficients
/// at the changed advance ratio times the powers of the diameter. Reynolds and Mach number are kept.
fn scale_effect(
    propeller: &FlowPropeller,
    turn_rad: f64,
    performance: &Performance,
    operation: &Operation,
) -> [f64; 2] {
    let slower = Operation { speed_m_s: operation.speed_m_s * (1.0 - SCALE_STEP), ..*operation };
    let changed = propeller.performance_near(turn_rad, &slower, performance);
    [
        4.0 * performance.thrust_n + (changed.thrust_n - performance.thrust_n) / SCALE_STEP,
        5.0 * performance.torque_nm + (changed.torque_nm - performance.torque_nm) / SCALE_STEP,
    ]
}

fn share_of((inner, outer, share): (usize, usize, f64), station: usize) -> f64 {
    let of = |k: usize, s: f64| if k == station { s } else { 0.0 };
    if inner == outer { of(inner, 1.0) } else { of(inner, 1.0 - share) + of(outer, share) }
}

fn shares_at(stations: &[Station], radius_m: f64) -> (usize, usize, f64) {
    let above = stations.partition_point(|s| s.radius_m <= radius_m).clamp(1, stations.len() - 1);
    let (a, b) = (stations[above - 1].radius_m, stations[above].radius_m);
    (above - 1, above, ((radius_m - a) / (b - a)).clamp(0.0, 1.0))
}
