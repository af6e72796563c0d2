//! One operating point: blade elements, its uncertainty, and the second model.

use crate::free_wake::{FreeWakeSettings, free_wake_at_rest};
use crate::lifting_line::lifting_line;
use crate::notice::PointFlag;
use crate::point::full_point;
use crate::tested::{TestedState, with_second};
use crate::uncertainty::effects;
use crate::{FlowPropeller, Operation, Performance};
use bladeform_table::{FreeWakeModel, Notice, OperatingPoint, SecondModel, SettingOf};

/// A larger relative difference of thrust or power between the two models is flagged. The value is the target accuracy of either model compared with tests.
const FLAGGED_DIFFERENCE: f64 = 0.05;

/// Which second models are computed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seconds {
    /// The lifting line, at flight speeds above zero.
    pub(crate) lifting_line: bool,
    /// The free wake, at zero speed.
    pub(crate) free_wake: bool,
}

/// The radius and the line to which the settings refer.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SettingLine {
    pub(crate) ratio: f64,
    pub(crate) of: SettingOf,
    /// The relative uncertainty of the scale of all lengths.
    pub(crate) scale_u: f64,
}

/// A point by blade elements and, at zero speed, by the free wake if that converged. Each reports the figures of the other.
pub(crate) struct Solved {
    pub(crate) point: OperatingPoint,
    pub(crate) by_free_wake: Option<OperatingPoint>,
}

impl Solved {
    /// The point by the free wake if there is one, because its wake contracts. Otherwise the point by blade elements.
    pub(crate) fn trusted(self) -> OperatingPoint {
        self.by_free_wake.unwrap_or(self.point)
    }
}

/// A point with its radial rows, its uncertainty and the second model.
pub(crate) fn solved_point(
    propeller: &FlowPropeller,
    line: SettingLine,
    setting_deg: f64,
    operation: &Operation,
    seconds: Seconds,
) -> Solved {
    // The settings were checked, so the turn exists. The fallback is the table's own angles.
    let turn_rad = propeller.blade.turn_rad(setting_deg, line.of, line.ratio).unwrap_or(0.0);
    let performance = propeller.performance(turn_rad, operation);
    let mut point = full_point(&performance, setting_deg);
    let effects = effects(propeller, turn_rad, &performance, line.ratio, line.scale_u);
    point.u = effects
        .all()
        .any(|e| e.iter().any(|part| part.abs() > 0.0))
        .then(|| effects.uncertainty(&performance));
    if is_at_rest(operation) {
        let by_free_wake =
            seconds.free_wake.then(|| add_free_wake(&mut point, propeller, turn_rad, &performance)).flatten();
        return Solved { point, by_free_wake };
    }
    // At zero speed the lifting line would be at the edge of its range, because its wake does not contract.
    if seconds.lifting_line {
        add_second(&mut point, propeller, turn_rad, &performance);
    }
    Solved { point, by_free_wake: None }
}

pub(crate) fn is_at_rest(operation: &Operation) -> bool {
    operation.speed_m_s <= 0.0
}

/// Adds the free wake, or the reason why there is none, to a point by blade elements. Returns the same point by the free wake.
fn add_free_wake(
    point: &mut OperatingPoint,
    propeller: &FlowPropeller,
    turn_rad: f64,
    performance: &Performance,
) -> Option<OperatingPoint> {
    let settings = FreeWakeSettings::default();
    let found = match free_wake_at_rest(propeller, turn_rad, &performance.operation, &settings, None) {
        Ok(found) => found,
        Err(why) => {
            point.flags.push(PointFlag::NoFreeWake { why: why.to_string() }.into());
            return None;
        }
    };
    let rest = &found.performance;
    let thrust = rest.thrust_n / performance.thrust_n - 1.0;
    let power = rest.power_w() / performance.power_w() - 1.0;
    point.free_wake = Some(FreeWakeModel {
        thrust_n: Some(rest.thrust_n),
        power_w: Some(rest.power_w()),
        figure_of_merit: Some(found.figure_of_merit()),
        blade_elements_thrust_n: Some(performance.thrust_n),
        blade_elements_power_w: Some(performance.power_w()),
        thrust_difference: Some(thrust),
        power_difference: Some(power),
        tip_vortex_radius_ratio: Some(found.passage_radius),
        tip_vortex_depth_ratio: Some(found.passage_depth),
    });
    let mut free = full_point(rest, point.figures.setting_deg.unwrap_or(0.0));
    // The uncertainty of the geometry affects both models alike.
    (free.free_wake, free.u) = (point.free_wake, point.u);
    free.u_method = Some(TestedState::RestByFreeWake.uncertainty(rest, &free.figures));
    free.flags.push(PointFlag::ByFreeWake.into());
    if thrust.abs().max(power.abs()) > FLAGGED_DIFFERENCE {
        let differ = Notice::from(PointFlag::FreeWakeDiffers { thrust, power });
        point.flags.push(differ.clone());
        free.flags.push(differ);
    }
    Some(free)
}

fn add_second(
    point: &mut OperatingPoint,
    propeller: &FlowPropeller,
    turn_rad: f64,
    performance: &Performance,
) {
    let Some(second) = lifting_line(propeller, turn_rad, performance) else { return };
    let power_w = second.torque_nm * performance.operation.omega_rad_s;
    let works = performance.operation.speed_m_s > 0.0 && second.thrust_n > 0.0 && power_w > 0.0;
    let thrust = second.thrust_n / performance.thrust_n - 1.0;
    let power = power_w / performance.power_w() - 1.0;
    point.lifting_line = Some(SecondModel {
        thrust_n: Some(second.thrust_n),
        power_w: Some(power_w),
        efficiency: works.then(|| performance.operation.speed_m_s * second.thrust_n / power_w),
        thrust_difference: Some(thrust),
        power_difference: Some(power),
    });
    let found = point.lifting_line.unwrap_or_default();
    point.u_method = point
        .u_method
        .map(|u| with_second(u, &point.figures, [found.thrust_n, found.power_w, found.efficiency]));
    if thrust.abs().max(power.abs()) > FLAGGED_DIFFERENCE {
        point.flags.push(PointFlag::LiftingLineDiffers { thrust, power }.into());
    }
}
