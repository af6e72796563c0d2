//! One operating point: blade elements, its uncertainty, and the second model.

use crate::free_wake::NoFreeWake;
use crate::lifting_line::lifting_line;
use crate::near_rest::{NearRest, is_slow, unknown_change};
use crate::notice::PointFlag;
use crate::point::{add_propulsive_u, full_point};
use crate::surface::{band, changed, with_surface};
use crate::tested::{near_rest, with_second};
use crate::uncertainty::effects;
use crate::{FlowPropeller, Operation, Performance};
use bladeform_table::{FreeWakeModel, OperatingPoint, SecondModel, SettingOf};

/// A larger relative difference of thrust or power between the two models is flagged. The value is the target accuracy of either model compared with tests.
const FLAGGED_DIFFERENCE: f64 = 0.05;

/// The radius and the line to which the settings refer.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SettingLine {
    pub(crate) ratio: f64,
    pub(crate) of: SettingOf,
    /// The relative uncertainty of the scale of all lengths.
    pub(crate) scale_u: f64,
}

/// A point by blade elements, and the one that is shown: near rest it is changed towards the free wake, if there is one.
pub(crate) struct Solved {
    pub(crate) point: OperatingPoint,
    shown: Option<OperatingPoint>,
}

impl Solved {
    /// The point that is shown.
    pub(crate) fn trusted(self) -> OperatingPoint {
        self.shown.unwrap_or(self.point)
    }
}

/// The propeller at rest by both models, if an operation is slow enough for that to count.
pub(crate) type Rest<'a> = Option<&'a Result<NearRest, NoFreeWake>>;

/// Solves the propeller at rest if an operation is slow.
pub(crate) fn rest(
    propeller: &FlowPropeller,
    line: SettingLine,
    setting_deg: f64,
    operation: &Operation,
) -> Option<Result<NearRest, NoFreeWake>> {
    let slow = is_slow(operation.advance_ratio(propeller.diameter_m()));
    slow.then(|| NearRest::new(propeller, turn_rad(propeller, line, setting_deg), operation))
}

/// The settings were checked, so the turn exists. The fallback is the table's own angles.
fn turn_rad(propeller: &FlowPropeller, line: SettingLine, setting_deg: f64) -> f64 {
    propeller.blade.turn_rad(setting_deg, line.of, line.ratio).unwrap_or(0.0)
}

/// A point with its radial rows, its uncertainty and the second model. `rest`: see [`rest`].
pub(crate) fn solved_point(
    propeller: &FlowPropeller,
    line: SettingLine,
    setting_deg: f64,
    operation: &Operation,
    lifting_line: bool,
    rest: Rest<'_>,
) -> Solved {
    let turn_rad = turn_rad(propeller, line, setting_deg);
    let performance = propeller.performance(turn_rad, operation);
    let mut point = full_point(&performance, setting_deg);
    point.surface = band(propeller, turn_rad, operation, &performance);
    if let Some(band) = &point.surface {
        point.u_method = point.u_method.map(|u| with_surface(u, &point.figures, band));
    }
    let effects = effects(propeller, turn_rad, &performance, line.ratio, line.scale_u);
    point.u = effects
        .all()
        .any(|e| e.iter().any(|part| part.abs() > 0.0))
        .then(|| effects.uncertainty(&performance));
    // At zero speed the lifting line would be at the edge of its range, because its wake does not contract.
    if lifting_line && !is_at_rest(operation) {
        add_second(&mut point, propeller, turn_rad, &performance);
    }
    let shown = match rest.filter(|_| is_slow(performance.advance_ratio())) {
        Some(Ok(rest)) => Some(near_rest_point(&mut point, &performance, rest)),
        Some(Err(why)) => {
            without_free_wake(&mut point, why.to_string());
            None
        }
        None => None,
    };
    add_propulsive_u(&mut point, &performance);
    Solved { point, shown }
}

/// A point of a schedule: that of a table or a sweep, without its radial rows and without the second model in flight. `rest`: `None` where the free wake was not solved.
pub(crate) fn schedule_point(
    propeller: &FlowPropeller,
    line: SettingLine,
    setting_deg: f64,
    operation: &Operation,
    rest: Rest<'_>,
) -> OperatingPoint {
    let solved = solved_point(propeller, line, setting_deg, operation, false, rest).trusted();
    OperatingPoint { radial: Vec::new(), ..solved }
}

/// Says that a slow point has no free wake, and adds what that leaves unknown to the interval of the methods. The tests at zero speed are of blade elements: their interval has it already.
pub(crate) fn without_free_wake(point: &mut OperatingPoint, why: String) {
    let f = &point.figures;
    let [thrust, power] = unknown_change(f.advance_ratio.unwrap_or(0.0));
    if let Some(u) = point.u_method.as_mut().filter(|_| 0.0 < point.speed_m_s) {
        let wider = |u: &mut Option<f64>, value: Option<f64>, part: f64| {
            *u = u.zip(value).map(|(u, v)| u.hypot(part * v));
        };
        wider(&mut u.thrust_n, f.thrust_n, thrust);
        wider(&mut u.torque_nm, f.torque_nm, power);
        wider(&mut u.power_w, f.power_w, power);
        // Thrust and power change together, so the efficiency by their difference.
        wider(&mut u.efficiency, f.efficiency, (thrust - power).abs());
    }
    point.flags.push(PointFlag::NoFreeWake { why }.into());
}

pub(crate) fn is_at_rest(operation: &Operation) -> bool {
    operation.speed_m_s <= 0.0
}

/// The point near rest that is shown, from that by blade elements, to which the free wake is added at zero speed.
fn near_rest_point(point: &mut OperatingPoint, elements: &Performance, rest: &NearRest) -> OperatingPoint {
    let is_still = is_at_rest(&elements.operation);
    let (shown, weight) = (rest.shown(elements), rest.weight(elements.advance_ratio()));
    if is_still {
        add_free_wake(point, rest);
    }
    let mut free = full_point(&shown, point.figures.setting_deg.unwrap_or(0.0));
    // The uncertainty of the geometry affects both models alike.
    (free.free_wake, free.u, free.lifting_line) = (point.free_wake, point.u, point.lifting_line);
    let factors = [shown.thrust_n / elements.thrust_n, shown.torque_nm / elements.torque_nm];
    free.surface = point.surface.as_ref().map(|band| changed(band, factors));
    free.u_method = near_rest(weight, elements, &shown, &free.figures)
        .map(|u| free.surface.as_ref().map_or(u, |band| with_surface(u, &free.figures, band)));
    let by_elements = [&point.figures, &free.figures].map(|f| (f.thrust_n, f.power_w, f.efficiency));
    if let (Some(second), [own, _]) = (point.lifting_line, by_elements) {
        // The lifting line is compared with the blade elements: neither knows that the wake contracts.
        let moved = |second: Option<f64>, own: Option<f64>, shown: Option<f64>| Some(second? - own? + shown?);
        let f = &free.figures;
        let seconds = [
            moved(second.thrust_n, own.0, f.thrust_n),
            moved(second.power_w, own.1, f.power_w),
            moved(second.efficiency, own.2, f.efficiency),
        ];
        free.u_method = free.u_method.map(|u| with_second(u, f, seconds));
    }
    add_propulsive_u(&mut free, &shown);
    free.flags = point.flags.clone();
    let [thrust, power] = factors.map(|f| f - 1.0);
    free.flags.push(match is_still && weight >= 1.0 {
        true => PointFlag::ByFreeWake.into(),
        false => PointFlag::NearRest { thrust, power }.into(),
    });
    free
}

/// Adds the free wake to a point at rest by blade elements.
fn add_free_wake(point: &mut OperatingPoint, of: &NearRest) {
    let (found, elements) = (&of.wake, &of.elements);
    let rest = &found.performance;
    let thrust = rest.thrust_n / elements.thrust_n - 1.0;
    let power = rest.power_w() / elements.power_w() - 1.0;
    point.free_wake = Some(FreeWakeModel {
        thrust_n: Some(rest.thrust_n),
        power_w: Some(rest.power_w()),
        figure_of_merit: Some(found.figure_of_merit()),
        blade_elements_thrust_n: Some(elements.thrust_n),
        blade_elements_power_w: Some(elements.power_w()),
        thrust_difference: Some(thrust),
        power_difference: Some(power),
        tip_vortex_radius_ratio: Some(found.passage_radius),
        tip_vortex_depth_ratio: Some(found.passage_depth),
    });
    if thrust.abs().max(power.abs()) > FLAGGED_DIFFERENCE {
        point.flags.push(PointFlag::FreeWakeDiffers { thrust, power }.into());
    }
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
