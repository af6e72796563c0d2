//! Conversion of a solved propeller to a point of the prediction document.

use crate::Air;
use crate::limits::{MACH_SERIOUS, MUCH_STALLED, REFERENCE_RATIO};
use crate::notice::PointFlag;
use crate::propeller::{ElementState, Performance};
use crate::tested::TestedState;
use crate::water::{cavitation, water_figures};
use bladeform_polar::PolarRegion;
use bladeform_table::{
    InstalledFigures, Notice, OperatingFigures, OperatingPoint, RadialFigures, RadialRow, RadialWater,
};

/// The point of a setting, deg, without radial rows.
pub(crate) fn plain_point(performance: &Performance, setting_deg: f64) -> OperatingPoint {
    let p = performance;
    let figures = OperatingFigures {
        setting_deg: Some(setting_deg),
        advance_ratio: Some(p.advance_ratio()),
        thrust_n: Some(p.thrust_n),
        torque_nm: Some(p.torque_nm),
        power_w: Some(p.power_w()),
        thrust_coefficient: Some(p.thrust_coefficient()),
        torque_coefficient: Some(p.torque_coefficient()),
        power_coefficient: Some(p.power_coefficient()),
        efficiency: p.efficiency(),
        helical_tip_mach: p.operation.air.water.is_none().then(|| p.helical_tip_mach()),
        stalled_fraction: Some(p.stalled_fraction()),
    };
    OperatingPoint {
        u_method: TestedState::of(p).map(|state| state.uncertainty(p, &figures)),
        water: water_figures(p),
        installed: installed_figures(p),
        figures,
        speed_m_s: p.operation.speed_m_s,
        rpm: p.operation.rpm(),
        flags: flags(p).iter().map(Notice::of).collect(),
        ..OperatingPoint::default()
    }
}

/// What belongs to shank, hub and body. `None` if there is none of them.
fn installed_figures(p: &Performance) -> Option<InstalledFigures> {
    let i = &p.installed;
    let nothing = i.shank_torque_nm == 0.0 && i.hub_drag_n == 0.0 && i.propulsive_thrust_n.is_none();
    let off = |r: f64| (r - REFERENCE_RATIO * 0.5 * p.diameter_m).abs();
    let reference = p.elements.iter().min_by(|a, b| off(a.radius_m).total_cmp(&off(b.radius_m)));
    (!nothing).then(|| InstalledFigures {
        shank_thrust_n: Some(i.shank_thrust_n),
        shank_power_w: Some(i.shank_torque_nm * p.operation.omega_rad_s),
        hub_drag_n: Some(i.hub_drag_n),
        stream_factor: reference.map(|e| e.stream_factor),
        propulsive_thrust_n: i.propulsive_thrust_n,
        propulsive_efficiency: p.propulsive_efficiency(),
        ..InstalledFigures::default()
    })
}

/// Adds the interval of the propulsive figures to a point whose interval by the methods is complete: that of the shaft thrust and, in squares, the rise of a body's drag whose coefficient was not
/// given. That one is of a streamlined body, the least there is; bodies with cooling, gear or a wing have twice as much and more (judgement).
pub(crate) fn add_propulsive_u(point: &mut OperatingPoint, p: &Performance) {
    let Some(installed) = point.installed.as_mut() else { return };
    let u = point.u_method.unwrap_or_default();
    let Some(thrust_n) = installed.propulsive_thrust_n else { return };
    let assumed = p.installed.assumed_drag_n;
    installed.u_method_propulsive_thrust_n = u.thrust_n.map(|u| u.hypot(assumed));
    installed.u_method_propulsive_efficiency =
        installed.propulsive_efficiency.zip(u.efficiency).map(|(e, u)| u.hypot(e * assumed / thrust_n));
}

/// The same with its radial rows.
pub(crate) fn full_point(performance: &Performance, setting_deg: f64) -> OperatingPoint {
    let tip_m = 0.5 * performance.diameter_m;
    OperatingPoint {
        radial: performance.elements.iter().map(|e| row(e, tip_m, &performance.operation.air)).collect(),
        ..plain_point(performance, setting_deg)
    }
}

fn flags(p: &Performance) -> Vec<PointFlag> {
    let mut flags = Vec::new();
    if p.thrust_n < 0.0 {
        flags.push(PointFlag::NegativeThrust { is_driven: p.torque_nm < 0.0 });
    }
    let stalled = p.stalled_fraction();
    if stalled > MUCH_STALLED {
        flags.push(PointFlag::Stalled { fraction: stalled });
    }
    let mach = p.helical_tip_mach();
    if mach > MACH_SERIOUS {
        flags.push(PointFlag::Mach { mach });
    }
    let unbalanced = p.share(|e| !e.balanced);
    if unbalanced > 0.0 {
        flags.push(PointFlag::NoBalance { fraction: unbalanced });
    }
    let braked = p.share(|e| e.braked);
    if braked > 0.0 {
        flags.push(PointFlag::BrakedStream { fraction: braked });
    }
    let bridged = p.share(|e| e.forces.region == PolarRegion::Bridged);
    if bridged > 0.0 {
        flags.push(PointFlag::BridgedPolar { fraction: bridged });
    }
    flags.extend(cavitation(p));
    flags
}

fn row(e: &ElementState, tip_m: f64, air: &Air) -> RadialRow {
    let figures = RadialFigures {
        radius_m: Some(e.radius_m),
        radius_ratio: Some(e.radius_m / tip_m),
        chord_m: Some(e.chord_m),
        blade_angle_deg: Some(e.blade_angle_rad.to_degrees()),
        inflow_angle_deg: Some(e.inflow_rad.to_degrees()),
        angle_of_attack_deg: Some(e.alpha_rad.to_degrees()),
        stream_turn_deg: Some(e.turn_rad.to_degrees()),
        axial_induced_m_s: Some(e.axial_induced_m_s),
        swirl_induced_m_s: Some(e.swirl_induced_m_s),
        resultant_speed_m_s: Some(e.speed_m_s),
        reynolds: Some(e.reynolds),
        mach: air.water.is_none().then_some(e.mach),
        lift_coefficient: Some(e.forces.lift),
        drag_coefficient: Some(e.forces.drag),
        thrust_n_per_m: Some(e.thrust_n_per_m),
        torque_n: Some(e.torque_n),
    };
    let water = air.water.map(|_| RadialWater {
        cavitation_number: e.cavitation_number(air),
        least_pressure_coefficient: e.least_pressure,
    });
    RadialRow {
        figures,
        stalled: e.is_stalled(),
        water,
        polar_region: region_words(e.forces.region).to_owned(),
    }
}

/// The region of a polar in words.
pub(crate) fn region_words(region: PolarRegion) -> &'static str {
    match region {
        PolarRegion::Computed => "computed",
        PolarRegion::Bridged => "bridged",
        PolarRegion::BeyondStall => "beyond stall",
        PolarRegion::BluffBody => "bluff body",
        PolarRegion::Given => "given",
    }
}
