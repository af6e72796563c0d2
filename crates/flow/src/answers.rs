//! Answers that are solved for instead of picked from the steps of the plan, and schedules of such answers.

use crate::fixed_pitch::choose;
use crate::free_wake::NoFreeWake;
use crate::limits::{MACH_LIMIT, MUCH_STALLED};
use crate::near_rest::{NearRest, is_slow};
use crate::notice::{BY_FREE_WAKE, NEAR_REST, NO_FREE_WAKE, PointFlag};
use crate::plan::PredictPlan;
use crate::solved::{SettingLine, rest, schedule_point, solved_point};
use crate::uncertainty::{Effects, effects, relative};
use crate::{FlowError, FlowPropeller, Operation, Performance};
use bladeform_numeric::parallel;
use bladeform_numeric::search::{peak, rising_crossing};
use bladeform_table::{Answer, Notice, OperatingPoint, OperatingUncertainty, Schedule, enough_decimals};

/// Settings searched if the plan has none or one, deg: from reverse to nearly feathered.
const SEARCHED_DEG: [f64; 2] = [-10.0, 80.0];
/// Step of the search that brackets an answer, deg.
const SEARCH_STEP_DEG: f64 = 2.0;
/// Tolerance of the setting of a maximum, deg, far finer than the 0.01 deg that sentences show.
const TOP_WIDTH_DEG: f64 = 1e-5;
/// Tolerance of a crossing, deg or revolutions per minute, far finer than [`POWER_MET`] needs.
pub(crate) const CROSSING_WIDTH: f64 = 1e-7;
/// Most operating points for which answers are solved. A map of more points shows its optima itself.
const MOST_ANSWERED: usize = 12;
/// Half step of the second difference of the efficiency, deg.
const CURVATURE_STEP_DEG: f64 = 1.0;
/// Flight speeds of a schedule, as fractions of the requested speed.
const SCHEDULE_SHARES: [f64; 9] = [0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.1, 1.2, 1.3];
/// Steps over the engine's range that bracket the rotational speed.
pub(crate) const ENGINE_STEPS: usize = 24;
/// How often the propeller at rest is solved again for the setting that follows from it, and the change of the setting, deg, at which it no longer is: power changes by about 8 % per degree.
const REST_PASSES: usize = 3;
/// See [`REST_PASSES`]: a thousandth of the power.
const REST_SETTLED_DEG: f64 = 0.01;
/// Most settings for which a fixed-pitch schedule is made.
const MOST_FIXED_PITCHES: usize = 3;

/// What the answers are computed from.
pub(crate) struct Ask<'a> {
    pub(crate) propeller: &'a FlowPropeller,
    pub(crate) line: SettingLine,
    pub(crate) settings_deg: &'a [f64],
    pub(crate) operations: &'a [Operation],
    pub(crate) plan: &'a PredictPlan,
}

/// All answers and schedules of a plan.
pub(crate) fn answers(ask: &Ask<'_>) -> Result<(Vec<Answer>, Vec<Schedule>), FlowError> {
    let mut answers = Vec::new();
    for operation in ask.operations.iter().take(MOST_ANSWERED) {
        ask.answers_at(operation, &mut answers);
    }
    let mut schedules = Vec::new();
    if let Some(power_w) = ask.plan.power_w {
        schedules.extend(ask.constant_speed(power_w));
    }
    if let (Some(engine), Some(plan)) = (&ask.plan.engine, &ask.plan.fixed_pitch)
        && let Some((answer, schedule)) = choose(ask, engine, plan)
    {
        answers.insert(0, answer);
        schedules.push(schedule);
    }
    if let Some(engine) = &ask.plan.engine {
        schedules.extend(ask.fixed_pitch(engine)?);
    }
    Ok((answers, schedules))
}

/// The settings searched at one operating point, and the performance at each.
struct Search {
    settings_deg: Vec<f64>,
    performances: Vec<Performance>,
}

impl Ask<'_> {
    pub(crate) fn performance(&self, setting_deg: f64, operation: &Operation) -> Performance {
        let turn =
            self.propeller.blade.turn_rad(setting_deg.clamp(-90.0, 90.0), self.line.of, self.line.ratio);
        self.propeller.performance(turn.unwrap_or(0.0), operation)
    }

    fn effects(&self, setting_deg: f64, performance: &Performance) -> Effects {
        let turn = self.propeller.blade.turn_rad(setting_deg, self.line.of, self.line.ratio).unwrap_or(0.0);
        effects(self.propeller, turn, performance, self.line.ratio, self.line.scale_u)
    }

    /// The requested settings if they are a range, otherwise all settings a propeller can have.
    fn search(&self, operation: &Operation) -> Search {
        let [first, last] = match (self.settings_deg.first(), self.settings_deg.last()) {
            (Some(first), Some(last)) if (first - last).abs() > SEARCH_STEP_DEG => {
                [first.min(*last), first.max(*last)]
            }
            _ => SEARCHED_DEG,
        };
        let steps = ((last - first) / SEARCH_STEP_DEG).ceil().max(2.0) as usize;
        let settings_deg: Vec<f64> =
            (0..=steps).map(|k| first + (last - first) * k as f64 / steps as f64).collect();
        let performances = parallel::map(&settings_deg, |s| self.performance(*s, operation));
        Search { settings_deg, performances }
    }

    fn answers_at(&self, operation: &Operation, answers: &mut Vec<Answer>) {
        let search = self.search(operation);
        let at = format!("at {:.2} m/s and {:.0} rpm", operation.speed_m_s, operation.rpm());
        let mut static_settings = Vec::new();
        let top = || self.peak_thrust_answer(operation, &search, &at);
        let others = || {
            if operation.speed_m_s > 0.0 {
                let best = self.best_efficiency(operation, &search);
                static_settings.extend(best.as_ref().map(|(s, _)| ("best efficiency at", *s)));
                answers.push(self.best_efficiency_answer(operation, best, &at));
            }
            if let Some(power_w) = self.plan.power_w {
                let setting = self.power_setting(&search, power_w, operation);
                static_settings.extend(setting.map(|s| ("the given power at", s)));
                answers.push(self.power_answer(operation, &search, power_w, setting, &at));
            }
        };
        let ((), top) = parallel::join(others, top);
        answers.push(top);
        if let ([setting], true) = (self.settings_deg, operation.speed_m_s > 0.0) {
            static_settings = vec![("", *setting)];
        }
        for (what, setting) in static_settings.into_iter().filter(|_| operation.speed_m_s > 0.0) {
            let answer = self.static_answer(what, setting, operation);
            // Several advance ratios at one rotational speed have the same static point.
            if !answers.iter().any(|a: &Answer| a.sentence == answer.sentence) {
                answers.push(answer);
            }
        }
    }

    /// The propeller at rest, if an operation is slow and the free wake is wanted.
    pub(crate) fn rest(
        &self,
        setting_deg: f64,
        operation: &Operation,
    ) -> Option<Result<NearRest, NoFreeWake>> {
        self.plan.free_wake.then(|| rest(self.propeller, self.line, setting_deg, operation)).flatten()
    }

    /// A point of a schedule with the propeller at rest, if that was solved.
    pub(crate) fn schedule_point(
        &self,
        setting_deg: f64,
        operation: &Operation,
        rest: Option<&Result<NearRest, NoFreeWake>>,
    ) -> OperatingPoint {
        schedule_point(self.propeller, self.line, setting_deg, operation, rest)
    }

    /// The solution that is shown, with the propeller at rest of a setting and a rotational speed nearby.
    pub(crate) fn near_rest(
        &self,
        setting_deg: f64,
        operation: &Operation,
        rest: Option<&NearRest>,
    ) -> Performance {
        with_rest(self.performance(setting_deg, operation), rest)
    }

    /// The setting that absorbs a power, W, as points show it: near rest the free wake's part of the answer is that of the setting found before.
    fn power_setting(&self, search: &Search, power_w: f64, operation: &Operation) -> Option<f64> {
        let matched = |rest: Option<&NearRest>| {
            let power = |p: Performance| with_rest(p, rest).power_w() - power_w;
            let lacking: Vec<f64> = search.performances.iter().map(|p| power(p.clone())).collect();
            let at = |s: f64| power(self.performance(s, operation));
            rising_crossing(&search.settings_deg, &lacking, CROSSING_WIDTH, at)
        };
        let mut setting = matched(None)?;
        for _ in 0..REST_PASSES {
            let Some(Ok(rest)) = self.rest(setting, operation) else { break };
            let next = matched(Some(&rest))?;
            let moved = (next - setting).abs();
            setting = next;
            if moved < REST_SETTLED_DEG {
                break;
            }
        }
        Some(setting)
    }

    /// The point that is shown.
    fn point(&self, setting_deg: f64, operation: &Operation) -> OperatingPoint {
        let rest = self.rest(setting_deg, operation);
        let solved = solved_point(self.propeller, self.line, setting_deg, operation, true, rest.as_ref());
        without_rows(solved.trusted())
    }

    fn best_efficiency(&self, operation: &Operation, search: &Search) -> Option<(f64, bool)> {
        let values: Vec<Option<f64>> = search.performances.iter().map(Performance::efficiency).collect();
        let found = peak(&search.settings_deg, &values, TOP_WIDTH_DEG, |s| {
            self.performance(s, operation).efficiency()
        })?;
        Some((found.at, found.at_end))
    }

    fn best_efficiency_answer(&self, operation: &Operation, best: Option<(f64, bool)>, at: &str) -> Answer {
        let name = "best_efficiency".to_owned();
        let Some((setting, at_end)) = best else {
            let sentence = format!(
                "{at} no setting searched gives both positive thrust and positive power, so there is no best efficiency"
            );
            return Answer { name, sentence, point: None };
        };
        let mut point = self.point(setting, operation);
        let u = self.best_setting_u(setting, operation);
        if let (Some(u), Some(point_u)) = (u, point.u.as_mut()) {
            point_u.setting_deg = Some(u);
        }
        let end = if at_end { ", at the end of the range searched" } else { "" };
        let sentence = format!(
            "{at} the efficiency is best, {}, at a setting of {}{end}: thrust {}, power {}",
            with_u(point.figures.efficiency, point.u.and_then(|u| u.efficiency), 3, ""),
            with_u(Some(setting), u, 2, "deg"),
            with_u(point.figures.thrust_n, point.u.and_then(|u| u.thrust_n), 0, "N"),
            kilowatts(&point),
        ) + &caveats(std::slice::from_ref(&point));
        Answer { name, sentence, point: Some(point) }
    }

    /// Uncertainty of the setting of best efficiency, deg: how far each source shifts the peak of the curve.
    fn best_setting_u(&self, setting_deg: f64, operation: &Operation) -> Option<f64> {
        let h = CURVATURE_STEP_DEG;
        let at = |s: f64| {
            let performance = self.performance(s, operation);
            performance
                .efficiency()
                .map(|efficiency| (efficiency, self.effects(s, &performance), performance))
        };
        let ((low, low_effects, low_p), (middle, ..), (high, high_effects, high_p)) =
            (at(setting_deg - h)?, at(setting_deg)?, at(setting_deg + h)?);
        let curvature = (low - 2.0 * middle + high) / (h * h);
        let shift = |(l, h_): ([f64; 2], [f64; 2])| {
            let slope = (relative(h_, &high_p) * high - relative(l, &low_p) * low) / (2.0 * h);
            slope / curvature
        };
        let squares: f64 = low_effects.all().zip(high_effects.all()).map(shift).map(|d| d * d).sum();
        (curvature < 0.0 && squares > 0.0).then(|| squares.sqrt())
    }

    fn power_answer(
        &self,
        operation: &Operation,
        search: &Search,
        power_w: f64,
        setting: Option<f64>,
        at: &str,
    ) -> Answer {
        let name = "power_match".to_owned();
        let Some(setting) = setting else {
            let most = search.performances.iter().map(Performance::power_w).fold(f64::MIN, f64::max);
            let sentence = format!(
                "{at} no setting from {:.0} to {:.0} deg absorbs {:.2} kW; the greatest power is {:.2} kW",
                search.settings_deg[0],
                search.settings_deg[search.settings_deg.len() - 1],
                power_w / 1e3,
                most / 1e3
            );
            return Answer { name, sentence, point: None };
        };
        let mut point = self.point(setting, operation);
        point.flags.extend(power_step(&point, power_w).map(Notice::from));
        let slope = {
            let h = 0.2;
            let power = |s: f64| self.performance(s, operation).power_w();
            (power(setting + h) - power(setting - h)) / (2.0 * h)
        };
        let u = point.u.and_then(|u| u.power_w).map(|u| (u / slope).abs()).filter(|u| u.is_finite());
        if let Some(point_u) = point.u.as_mut() {
            point_u.setting_deg = u;
        }
        // At zero speed there is no efficiency.
        let efficiency = point.figures.efficiency.map_or_else(String::new, |e| {
            format!(", efficiency {}", with_u(Some(e), point.u.and_then(|u| u.efficiency), 3, ""))
        });
        let sentence = format!(
            "{at} {:.2} kW are absorbed at a setting of {}: thrust {}{efficiency}",
            power_w / 1e3,
            with_u(Some(setting), u, 2, "deg"),
            with_u(point.figures.thrust_n, point.u.and_then(|u| u.thrust_n), 0, "N"),
        ) + &by_free_wake(&point)
            + &caveats(std::slice::from_ref(&point));
        Answer { name, sentence, point: Some(point) }
    }

    fn peak_thrust_answer(&self, operation: &Operation, search: &Search, at: &str) -> Answer {
        let thrusts: Vec<Option<f64>> = search.performances.iter().map(|p| Some(p.thrust_n)).collect();
        let thrust = |s: f64| Some(self.performance(s, operation).thrust_n);
        let name = "peak_thrust".to_owned();
        let Some(found) = peak(&search.settings_deg, &thrusts, TOP_WIDTH_DEG, thrust) else {
            return Answer { name, sentence: format!("{at} no thrust could be computed"), point: None };
        };
        let point = self.point(found.at, operation);
        let end = if found.at_end { ", at the end of the range searched" } else { "" };
        let sentence = format!(
            "{at} the thrust is greatest, {}, at a setting of {:.1} deg{end}: power {}",
            with_u(point.figures.thrust_n, point.u.and_then(|u| u.thrust_n), 0, "N"),
            found.at,
            kilowatts(&point),
        ) + &by_free_wake(&point)
            + &caveats(std::slice::from_ref(&point));
        Answer { name, sentence, point: Some(point) }
    }

    fn static_answer(&self, what: &str, setting: f64, operation: &Operation) -> Answer {
        let still = Operation { speed_m_s: 0.0, ..*operation };
        let point = self.point(setting, &still);
        let from = if what.is_empty() {
            "the requested setting".to_owned()
        } else {
            format!("the setting of {what} {:.2} m/s", operation.speed_m_s)
        };
        let sentence = format!(
            "at zero speed, {:.0} rpm and {setting:.2} deg ({from}): thrust {}, power {}",
            operation.rpm(),
            with_u(point.figures.thrust_n, point.u.and_then(|u| u.thrust_n), 0, "N"),
            kilowatts(&point),
        ) + &by_free_wake(&point)
            + &caveats(std::slice::from_ref(&point));
        Answer { name: "static".to_owned(), sentence, point: Some(point) }
    }

    /// Setting over flight speed at the plan's rotational speed and a power, W.
    fn constant_speed(&self, power_w: f64) -> Option<Schedule> {
        let operation = self.operations.iter().rev().find(|o| o.speed_m_s > 0.0)?;
        let points: Vec<OperatingPoint> = SCHEDULE_SHARES
            .iter()
            .filter_map(|share| {
                let at = Operation { speed_m_s: share * operation.speed_m_s, ..*operation };
                let setting = self.power_setting(&self.search(&at), power_w, &at)?;
                let mut point = self.schedule_point(setting, &at, self.rest(setting, &at).as_ref());
                point.flags.extend(power_step(&point, power_w).map(Notice::from));
                Some(point)
            })
            .collect();
        let left = if points.is_empty() {
            "no setting searched absorbs that power at any speed"
        } else {
            "speeds at which no setting absorbs that power are left out"
        };
        let sentence = format!(
            "setting over flight speed at {:.0} rpm and {:.2} kW; {left}",
            operation.rpm(),
            power_w / 1e3
        ) + &caveats(&points);
        Some(Schedule { name: "constant_speed".to_owned(), sentence, most_rpm: None, points })
    }

    /// Rotational speed over flight speed for a fixed setting on an engine.
    fn fixed_pitch(&self, engine: &crate::EngineCurve) -> Result<Vec<Schedule>, FlowError> {
        let Some(operation) = self.operations.iter().rev().find(|o| o.speed_m_s > 0.0) else {
            return Err(FlowError::Engine {
                problem:
                    "gives rotational speed over flight speed, but only the static point was requested; give a speed"
                        .to_owned(),
            });
        };
        let chosen = self.settings_deg.iter().step_by(self.settings_deg.len().div_ceil(MOST_FIXED_PITCHES));
        Ok(chosen.map(|setting| self.fixed_pitch_at(engine, *setting, operation)).collect())
    }

    fn fixed_pitch_at(&self, engine: &crate::EngineCurve, setting: f64, operation: &Operation) -> Schedule {
        let (low, high) = engine.range_rpm();
        let rpms: Vec<f64> =
            (0..=ENGINE_STEPS).map(|k| low + (high - low) * k as f64 / ENGINE_STEPS as f64).collect();
        let solve = |share: &f64| {
            let speed_m_s = share * operation.speed_m_s;
            let at = |rpm: f64| Operation {
                speed_m_s,
                omega_rad_s: rpm * std::f64::consts::TAU / 60.0,
                ..*operation
            };
            let balanced = |rest: Option<&NearRest>| {
                let lacking =
                    |rpm: f64| self.near_rest(setting, &at(rpm), rest).torque_nm - engine.torque_nm(rpm);
                let values: Vec<f64> = rpms.iter().map(|rpm| lacking(*rpm)).collect();
                rising_crossing(&rpms, &values, CROSSING_WIDTH, lacking)
            };
            let mut rpm = balanced(None)?;
            let mut rest = self.rest(setting, &at(rpm));
            if let Some(Ok(found)) = &rest {
                // What the free wake changes hardly depends on the rotational speed.
                rpm = balanced(Some(found))?;
                rest = self.rest(setting, &at(rpm));
            }
            Some(self.schedule_point(setting, &at(rpm), rest.as_ref()))
        };
        let points: Vec<OperatingPoint> =
            parallel::map(&SCHEDULE_SHARES, solve).into_iter().flatten().collect();
        let sentence = format!(
            "rotational speed over flight speed at a fixed setting of {setting:.2} deg with the engine's torque from {low:.0} to {high:.0} rpm; speeds at which engine and propeller do not balance in that range are left out"
        ) + &caveats(&points);
        Schedule { name: "fixed_pitch".to_owned(), sentence, most_rpm: None, points }
    }
}

/// The solution that is shown for one by blade elements.
fn with_rest(p: Performance, rest: Option<&NearRest>) -> Performance {
    match rest {
        Some(rest) if is_slow(p.advance_ratio()) => rest.changed(&p),
        _ => p,
    }
}

/// Relative tolerance of the solved power. A larger difference from the requested power means that the power jumps there.
const POWER_MET: f64 = 1e-3;

/// The flag of a power that jumps over the requested one, so that no setting absorbs it exactly.
fn power_step(point: &OperatingPoint, power_w: f64) -> Option<PointFlag> {
    let found = point.figures.power_w?;
    ((found / power_w - 1.0).abs() > POWER_MET)
        .then_some(PointFlag::PowerStep { requested_w: power_w, found_w: found })
}

/// Caveats of an answer or of a schedule: the worst stall and the highest tip speed of its points.
pub(crate) fn caveats(points: &[OperatingPoint]) -> String {
    let most = |f: fn(&OperatingPoint) -> Option<f64>| points.iter().filter_map(f).fold(0.0, f64::max);
    let up_to = if points.len() > 1 { "up to " } else { "" };
    let stalled = most(|p| p.figures.stalled_fraction);
    let mach = most(|p| p.figures.helical_tip_mach);
    let mut text = String::new();
    if stalled > MUCH_STALLED {
        text +=
            &format!("; {up_to}{:.0} % of the span is stalled, so all figures are rough", 100.0 * stalled);
    } else if stalled > 0.005 {
        text += &format!("; {up_to}{:.0} % of the span is stalled", 100.0 * stalled);
    }
    if mach > MACH_LIMIT {
        text += &format!("; the helical tip Mach number is {up_to}{mach:.2}, and the methods hold up to 0.9");
    }
    text
}

/// The point without radial rows: those of an answer nearly repeat those of the nearest step.
fn without_rows(point: OperatingPoint) -> OperatingPoint {
    OperatingPoint { radial: Vec::new(), ..point }
}

/// The other model's figures if a point at zero speed has a free wake, otherwise the reason why it has none.
fn by_free_wake(point: &OperatingPoint) -> String {
    let kilowatts = |w: Option<f64>| with_u(w.map(|w| w / 1e3), None, 1, "kW");
    if let Some(wake) = &point.free_wake {
        return if point.flags.iter().any(|f| f.code() == BY_FREE_WAKE) {
            format!(
                "; these figures come from the free wake, the blade elements give {} and {}",
                newtons(wake.blade_elements_thrust_n),
                kilowatts(wake.blade_elements_power_w)
            )
        } else if point.flags.iter().any(|f| f.code() == NEAR_REST) {
            format!(
                "; these figures lie between both: the blade elements give {} and {}, the free wake {} and {}",
                newtons(wake.blade_elements_thrust_n),
                kilowatts(wake.blade_elements_power_w),
                newtons(wake.thrust_n),
                kilowatts(wake.power_w)
            )
        } else {
            format!(
                "; these figures come from the blade elements, the free wake gives {} and {} and is the better model at zero speed",
                newtons(wake.thrust_n),
                kilowatts(wake.power_w)
            )
        };
    }
    let reason = point.flags.iter().find(|f| f.code() == NO_FREE_WAKE).map(Notice::sentence);
    reason.map(|why| format!("; {why}")).unwrap_or_default()
}

pub(crate) fn kilowatts(point: &OperatingPoint) -> String {
    with_u(
        point.figures.power_w.map(|w| w / 1e3),
        point.u.and_then(|u: OperatingUncertainty| u.power_w).map(|w| w / 1e3),
        1,
        "kW",
    )
}

/// A thrust with its unit.
pub(crate) fn newtons(thrust_n: Option<f64>) -> String {
    with_u(thrust_n, None, 0, "N")
}

/// A figure with its unit and, if known, the half width of its 95 % interval.
fn with_u(value: Option<f64>, u: Option<f64>, decimals: usize, unit: &str) -> String {
    let Some(value) = value else { return "none".to_owned() };
    let decimals = enough_decimals(unit, [Some(value)].into_iter(), 1.0, decimals);
    let half = u.map(|u| format!(" ± {:.decimals$}", 2.0 * u)).unwrap_or_default();
    format!("{value:.decimals$}{half} {unit}").trim_end().to_owned()
}
