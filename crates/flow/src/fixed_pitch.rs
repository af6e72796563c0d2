//! One fixed setting for several flight speeds with an engine and a greatest rotational speed.
//!
//! At full throttle engine and propeller turn where their torques are equal. Where that is faster than allowed, the throttle holds the greatest speed. The rule of the compromise: of every setting, the
//! loss of thrust at each flight speed against the best setting for that speed alone; the setting whose greatest loss is least.

use bladeform_numeric::parallel;
use bladeform_numeric::search::{peak, rising_crossing};
use bladeform_table::{Answer, Notice, OperatingPoint, Schedule};

use crate::answers::{Ask, CROSSING_WIDTH, ENGINE_STEPS, caveats, kilowatts, newtons};
use crate::near_rest::{NearRest, is_slow};
use crate::notice::PointFlag;
use crate::solved::without_free_wake;
use crate::{EngineCurve, Operation};

/// What is asked of one fixed setting.
#[derive(Clone, Debug, PartialEq)]
pub struct FixedPitchPlan {
    /// Flight speeds, m/s; 0 is the static point.
    pub speeds_m_s: Vec<f64>,
    /// Greatest rotational speed, revolutions per minute. `None`: the end of the engine's curve.
    pub most_rpm: Option<f64>,
}

/// Settings searched if the plan has no range, deg: what propellers of fixed pitch have (common practice, no source).
const SEARCHED_DEG: [f64; 2] = [4.0, 45.0];
/// Most settings of the search; the answer lies between them.
const MOST_SETTINGS: usize = 42;
/// Tolerance of the setting, deg.
const SETTING_WIDTH_DEG: f64 = 1e-3;
const PERCENT: f64 = 100.0;

/// A setting at a flight speed with the engine.
enum Balance {
    /// It turns so; where it is throttled, the part of the engine's torque that is used.
    Turns { point: Box<OperatingPoint>, throttled: Option<f64> },
    /// The propeller holds the engine below the slowest speed of its curve.
    Underspeed,
}

impl Balance {
    /// The thrust, N, if it is above zero.
    fn thrust_n(&self) -> Option<f64> {
        match self {
            Self::Turns { point, .. } => point.figures.thrust_n.filter(|t| 0.0 < *t),
            Self::Underspeed => None,
        }
    }
}

/// The question with all that it needs.
struct Question<'a> {
    ask: &'a Ask<'a>,
    engine: &'a EngineCurve,
    /// Any condition of the plan: the air is the same.
    like: Operation,
    rpms: Vec<f64>,
    most_rpm: f64,
    speeds_m_s: &'a [f64],
}

/// The answer, and the schedule of every setting searched at every speed.
pub(crate) fn choose(
    ask: &Ask<'_>,
    engine: &EngineCurve,
    plan: &FixedPitchPlan,
) -> Option<(Answer, Schedule)> {
    let (low, high) = engine.range_rpm();
    let rpms = (0..=ENGINE_STEPS).map(|k| low + (high - low) * k as f64 / ENGINE_STEPS as f64).collect();
    let most_rpm = plan.most_rpm.unwrap_or(high).clamp(low, high);
    let like = *ask.operations.first()?;
    let question = Question { ask, engine, like, rpms, most_rpm, speeds_m_s: &plan.speeds_m_s };
    Some(question.answered())
}

impl Question<'_> {
    fn at(&self, speed_m_s: f64, rpm: f64) -> Operation {
        Operation { speed_m_s, omega_rad_s: rpm * std::f64::consts::TAU / 60.0, ..self.like }
    }

    /// The rotational speed, and the part of the engine's torque that is used if the throttle holds it there. `None`: underspeed. `rest`: the propeller at rest, if it was solved.
    fn turning(
        &self,
        setting_deg: f64,
        speed_m_s: f64,
        rest: Option<&NearRest>,
    ) -> Option<(f64, Option<f64>)> {
        let lacking = |rpm: f64| {
            self.ask.near_rest(setting_deg, &self.at(speed_m_s, rpm), rest).torque_nm
                - self.engine.torque_nm(rpm)
        };
        let at_most = lacking(self.most_rpm);
        if at_most < 0.0 {
            let full = self.engine.torque_nm(self.most_rpm);
            return Some((self.most_rpm, Some((1.0 + at_most / full).max(0.0))));
        }
        let mut rpms: Vec<f64> = self.rpms.iter().copied().filter(|r| *r < self.most_rpm).collect();
        rpms.push(self.most_rpm);
        let mut values: Vec<f64> = rpms[..rpms.len() - 1].iter().map(|rpm| lacking(*rpm)).collect();
        values.push(at_most);
        rising_crossing(&rpms, &values, CROSSING_WIDTH, lacking).map(|rpm| (rpm, None))
    }

    /// The thrust by blade elements, N, if it turns and the thrust is above zero.
    fn thrust_n(&self, setting_deg: f64, speed_m_s: f64) -> Option<f64> {
        let (rpm, _) = self.turning(setting_deg, speed_m_s, None)?;
        Some(self.ask.performance(setting_deg, &self.at(speed_m_s, rpm)).thrust_n).filter(|t| 0.0 < *t)
    }

    /// By blade elements alone: the free wake is not solved for every setting of the search.
    fn balance(&self, setting_deg: f64, speed_m_s: f64) -> Balance {
        let Some((rpm, throttled)) = self.turning(setting_deg, speed_m_s, None) else {
            return Balance::Underspeed;
        };
        let at = self.at(speed_m_s, rpm);
        let mut point = self.ask.schedule_point(setting_deg, &at, None);
        if self.ask.plan.free_wake && is_slow(at.advance_ratio(self.ask.propeller.diameter_m())) {
            let why = "the free wake is solved for the setting chosen, not for every setting of the search";
            without_free_wake(&mut point, why.to_owned());
        }
        self.turns(point, throttled)
    }

    /// The same as tables and sweeps show it, with the free wake near rest.
    fn balance_near_rest(&self, setting_deg: f64, speed_m_s: f64) -> Balance {
        let Some((rpm, _)) = self.turning(setting_deg, speed_m_s, None) else { return Balance::Underspeed };
        let Some(found) = self.ask.rest(setting_deg, &self.at(speed_m_s, rpm)) else {
            return self.balance(setting_deg, speed_m_s);
        };
        let Some((rpm, throttled)) = self.turning(setting_deg, speed_m_s, found.as_ref().ok()) else {
            return Balance::Underspeed;
        };
        let at = self.at(speed_m_s, rpm);
        // What the free wake changes hardly depends on the rotational speed; the point itself has its own.
        let found = self.ask.rest(setting_deg, &at);
        self.turns(self.ask.schedule_point(setting_deg, &at, found.as_ref()), throttled)
    }

    fn turns(&self, mut point: OperatingPoint, throttled: Option<f64>) -> Balance {
        if let Some(torque_part) = throttled {
            point.flags.push(Notice::from(PointFlag::Overspeed { most_rpm: self.most_rpm, torque_part }));
        }
        Balance::Turns { point: Box::new(point), throttled }
    }

    fn answered(&self) -> (Answer, Schedule) {
        let settings = self.settings();
        let pairs: Vec<(f64, f64)> =
            self.speeds_m_s.iter().flat_map(|v| settings.iter().map(|s| (*s, *v))).collect();
        let found = parallel::map(&pairs, |(setting, speed)| self.balance(*setting, *speed));
        let by_speed: Vec<&[Balance]> = found.chunks(settings.len()).collect();
        // The best setting for each speed alone, with its thrust.
        let alone: Vec<Option<(f64, f64)>> = by_speed
            .iter()
            .zip(self.speeds_m_s)
            .map(|(of, speed)| {
                let values: Vec<Option<f64>> = of.iter().map(Balance::thrust_n).collect();
                let thrust = |s: f64| self.thrust_n(s, *speed);
                let top = peak(&settings, &values, SETTING_WIDTH_DEG, thrust)?;
                Some((top.at, thrust(top.at)?))
            })
            .collect();
        let losses: Vec<Option<f64>> = (0..settings.len())
            .map(|k| greatest_loss(by_speed.iter().map(|of| of[k].thrust_n()), &alone))
            .collect();
        let kept: Vec<Option<f64>> = losses.iter().map(|loss| loss.map(|l| -l)).collect();
        let loss_at = |s: f64| greatest_loss(self.speeds_m_s.iter().map(|v| self.thrust_n(s, *v)), &alone);
        let best = peak(&settings, &kept, SETTING_WIDTH_DEG, |s| loss_at(s).map(|l| -l));
        let (answer, chosen) = match best.and_then(|best| Some((best.at, loss_at(best.at)?))) {
            Some((setting, loss)) => self.told(setting, loss, &alone),
            None => (self.none_fits(), Vec::new()),
        };
        let under = found.iter().filter(|b| matches!(b, Balance::Underspeed)).count();
        let mut points: Vec<OperatingPoint> = found
            .into_iter()
            .filter_map(|b| match b {
                Balance::Turns { point, .. } => Some(*point),
                Balance::Underspeed => None,
            })
            .collect();
        insert(&mut points, chosen);
        let sentence = format!(
            "every setting at each of the flight speeds with the engine at full throttle, or held at {:.0} rpm by the throttle (flag overspeed); {under} of {} points are left out because the propeller holds the engine below {:.0} rpm (underspeed)",
            self.most_rpm,
            pairs.len(),
            self.engine.range_rpm().0
        ) + &caveats(&points);
        let name = "fixed_pitch_choice".to_owned();
        (answer, Schedule { name, sentence, most_rpm: Some(self.most_rpm), points })
    }

    fn settings(&self) -> Vec<f64> {
        let [first, last] = match (self.ask.settings_deg.first(), self.ask.settings_deg.last()) {
            (Some(a), Some(b)) if 1.0 < (a - b).abs() => [a.min(*b), a.max(*b)],
            _ => SEARCHED_DEG,
        };
        let steps = MOST_SETTINGS - 1;
        (0..=steps).map(|k| first + (last - first) * k as f64 / steps as f64).collect()
    }

    /// The answer, and its point at every speed.
    fn told(&self, setting: f64, loss: f64, alone: &[Option<(f64, f64)>]) -> (Answer, Vec<OperatingPoint>) {
        let points: Vec<Balance> =
            self.speeds_m_s.iter().map(|v| self.balance_near_rest(setting, *v)).collect();
        let mut parts = Vec::new();
        let mut shown = Vec::new();
        for ((balance, speed), alone) in points.iter().zip(self.speeds_m_s).zip(alone) {
            let Balance::Turns { point, throttled } = balance else { continue };
            let margin = match throttled {
                Some(part) => {
                    format!("held there by the throttle at {:.0} % of the engine's torque", PERCENT * part)
                }
                None => format!("{:.0} rpm below the limit", self.most_rpm - point.rpm),
            };
            let alone = alone.map_or(String::new(), |(setting, thrust)| {
                format!(" (best for this speed alone: {setting:.1} deg, {})", newtons(Some(thrust)))
            });
            parts.push(format!(
                "at {speed:.2} m/s {:.0} rpm, {margin}: thrust {}, power {}{alone}",
                point.rpm,
                newtons(point.figures.thrust_n),
                kilowatts(point)
            ));
            shown.push(OperatingPoint::clone(point));
        }
        let searched = self.settings();
        let at_end = [searched.first(), searched.last()]
            .into_iter()
            .flatten()
            .any(|end| (setting - end).abs() <= SETTING_WIDTH_DEG);
        let end = if at_end { ", at the end of the range searched (search farther)," } else { "" };
        let sentence = format!(
            "one fixed setting for all speeds with at most {:.0} rpm: {setting:.2} deg{end} loses {:.1} % of the thrust at most against the best setting for each speed alone, and every other setting loses more at one of them; {}",
            self.most_rpm,
            PERCENT * loss,
            parts.join("; ")
        ) + &caveats(&shown);
        let answer = Answer { name: "fixed_pitch_choice".to_owned(), sentence, point: shown.last().cloned() };
        (answer, shown)
    }

    fn none_fits(&self) -> Answer {
        Answer {
            name: "fixed_pitch_choice".to_owned(),
            sentence: format!(
                "no setting searched turns with this engine between {:.0} and {:.0} rpm with thrust at every speed asked: the propeller is too large or too small for the engine, or the speeds lie too far apart",
                self.engine.range_rpm().0,
                self.most_rpm
            ),
            point: None,
        }
    }
}

/// Puts the points of the answer among those of the same speed, by their setting, unless that setting was searched itself.
fn insert(points: &mut Vec<OperatingPoint>, chosen: Vec<OperatingPoint>) {
    for point in chosen {
        let Some(setting) = point.figures.setting_deg else { continue };
        // Both are copies of the speed asked.
        let of = |p: &OperatingPoint| (p.speed_m_s - point.speed_m_s).abs() < f64::EPSILON;
        let beyond = |p: &OperatingPoint| p.figures.setting_deg.is_some_and(|s| setting <= s);
        let Some(last) = points.iter().rposition(of) else { continue };
        let at = points.iter().position(|p| of(p) && beyond(p)).unwrap_or(last + 1);
        if points.get(at).is_none_or(|p| !of(p) || p.figures.setting_deg != Some(setting)) {
            points.insert(at, point);
        }
    }
}

/// The greatest loss of thrust against the best for each speed alone, as a fraction; `None` if one speed has no thrust.
fn greatest_loss(thrusts: impl Iterator<Item = Option<f64>>, alone: &[Option<(f64, f64)>]) -> Option<f64> {
    let losses = thrusts.zip(alone).map(|(thrust, alone)| Some(1.0 - thrust? / (*alone)?.1));
    losses.collect::<Option<Vec<f64>>>().map(|all| all.into_iter().fold(0.0, f64::max))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_points_of_the_answer_stand_among_those_of_their_speed() {
        let point = |speed_m_s: f64, setting: f64| {
            let mut p = OperatingPoint { speed_m_s, ..OperatingPoint::default() };
            p.figures.setting_deg = Some(setting);
            p
        };
        let mut points = vec![point(30.0, 10.0), point(30.0, 12.0), point(50.0, 10.0)];
        insert(&mut points, vec![point(30.0, 11.0), point(50.0, 11.0), point(50.0, 10.0), point(70.0, 11.0)]);
        let found: Vec<(f64, f64)> =
            points.iter().map(|p| (p.speed_m_s, p.figures.setting_deg.unwrap())).collect();
        assert_eq!(found, [(30.0, 10.0), (30.0, 11.0), (30.0, 12.0), (50.0, 10.0), (50.0, 11.0)]);
    }

    #[test]
    fn the_greatest_loss_is_against_each_speed_alone() {
        let alone = [Some((14.0, 100.0)), Some((18.0, 50.0))];
        assert_eq!(greatest_loss([Some(90.0), Some(50.0)].into_iter(), &alone), Some(1.0 - 0.9));
        assert_eq!(greatest_loss([Some(100.0), Some(40.0)].into_iter(), &alone), Some(1.0 - 0.8));
        assert_eq!(greatest_loss([Some(100.0), None].into_iter(), &alone), None);
    }
}
