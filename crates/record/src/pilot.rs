//! The pilot's question on the page: one fixed setting for several flight speeds with an engine. Every setting that was searched as charts, the chosen one as a table.

use bladeform_quantity::ShownUnits;
use bladeform_table::{Answer, OperatingPoint, Prediction, Schedule, Shown, enough_decimals};

use crate::chart::{Chart, ChartPoint, MOST_SERIES, Pointed, Series};
use crate::figures::{Figures, SECOND_COLUMN};
use crate::performance::{is_doubtful, spread};
use crate::unit::LengthUnit;
use crate::words::{cell, unit_of};

/// Name of the answer and of the schedule with every setting searched.
pub(crate) const CHOICE: &str = "fixed_pitch_choice";
/// The flag of a point where the throttle holds the greatest rotation.
const HELD: &str = "overspeed";
/// Settings and speeds closer than this are the same: documents have ten digits.
const SAME: f64 = 1e-6;

/// What is drawn over the setting.
struct Quantity {
    name: &'static str,
    title: &'static str,
    label: &'static str,
    unit: &'static str,
    decimals: usize,
    of: fn(&OperatingPoint, Option<f64>) -> Option<f64>,
}

const QUANTITIES: [Quantity; 3] = [
    Quantity {
        name: "rotation-over-fixed-setting",
        title: "Rotation with the engine against a fixed setting",
        label: "rotation",
        unit: "rpm",
        decimals: 0,
        of: |p, _| Some(p.rpm),
    },
    Quantity {
        name: "thrust-over-fixed-setting",
        title: "Thrust with the engine against a fixed setting",
        label: "thrust",
        unit: "N",
        decimals: 0,
        of: |p, _| p.figures.thrust_n,
    },
    Quantity {
        name: "margin-over-fixed-setting",
        title: "Rotation left below the greatest against a fixed setting",
        label: "margin",
        unit: "rpm",
        decimals: 0,
        of: |p, most_rpm| Some(most_rpm? - p.rpm),
    },
];

/// The schedule of every setting searched; `None` if the question was not asked.
pub(crate) fn searched(prediction: &Prediction) -> Option<&Schedule> {
    prediction.schedules.iter().find(|s| s.name == CHOICE && !s.points.is_empty())
}

/// The charts of the question and the table of the chosen setting; empty if it was not asked. `index` distinguishes the prediction from others on the page.
pub(crate) fn pilot(prediction: &Prediction, index: usize, figures: &mut Figures) -> String {
    let Some(schedule) = searched(prediction) else { return String::new() };
    let answer = prediction.answers.iter().find(|a| a.name == CHOICE);
    let chosen = answer.and_then(|a: &Answer| a.point.as_ref()?.figures.setting_deg);
    let states = [LengthUnit::Millimetre, LengthUnit::Inch];
    let [drawn, in_inches] = states.map(|state| charts(schedule, chosen, state.units(figures.units)));
    let mut text = chosen.map(|setting| table(schedule, setting)).unwrap_or_default();
    if !drawn.is_empty() {
        text.push_str(&format!(
            "<p>Every setting that was searched, with the engine at full throttle or held at the greatest rotation. Where the propeller holds the engine below the slowest speed of its curve there is no point. \
             Dotted lines: the air drives the propeller, or more than a fifth of the span is stalled; values there are uncertain.</p><div class=\"{SECOND_COLUMN}\">"
        ));
        for (mut chart, mut in_inches) in drawn.into_iter().zip(in_inches) {
            if index > 0 {
                chart.name = format!("{}-{}", chart.name, index + 1);
                in_inches.name.clone_from(&chart.name);
            }
            text.push_str(&figures.chart_by_unit(&[(states[0], chart), (states[1], in_inches)]));
        }
        text.push_str("</div>");
    }
    text
}

/// The points of each speed, by their setting.
fn by_speed(schedule: &Schedule) -> Vec<(f64, Vec<&OperatingPoint>)> {
    let mut found: Vec<(f64, Vec<&OperatingPoint>)> = Vec::new();
    for point in schedule.points.iter().filter(|p| p.figures.setting_deg.is_some()) {
        match found.iter_mut().find(|(speed, _)| (speed - point.speed_m_s).abs() < SAME) {
            Some((_, points)) => points.push(point),
            None => found.push((point.speed_m_s, vec![point])),
        }
    }
    for (_, points) in &mut found {
        points.sort_by(|a, b| setting_of(a).total_cmp(&setting_of(b)));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}

fn setting_of(point: &OperatingPoint) -> f64 {
    point.figures.setting_deg.unwrap_or(f64::NAN)
}

fn is_at(point: &OperatingPoint, setting_deg: f64) -> bool {
    (setting_of(point) - setting_deg).abs() < SAME
}

/// Whether the throttle holds the rotation.
fn is_held(point: &OperatingPoint) -> bool {
    point.flags.iter().any(|f| f.code() == HELD)
}

/// One chart for each quantity, with a curve for each speed and the chosen setting marked.
fn charts(schedule: &Schedule, chosen_deg: Option<f64>, units: ShownUnits) -> Vec<Chart> {
    let all = by_speed(schedule);
    let shown: Vec<&(f64, Vec<&OperatingPoint>)> = spread(all.len()).into_iter().map(|k| &all[k]).collect();
    let drawn = QUANTITIES.iter().map(|q| chart(schedule, (q, units), &shown, chosen_deg));
    drawn.filter(Chart::is_drawable).collect()
}

fn chart(
    schedule: &Schedule,
    (q, units): (&Quantity, ShownUnits),
    shown: &[&(f64, Vec<&OperatingPoint>)],
    chosen_deg: Option<f64>,
) -> Chart {
    let values = schedule.points.iter().map(|p| (q.of)(p, schedule.most_rpm));
    let decimals = enough_decimals(q.unit, values, 1.0, q.decimals);
    let drawn = Shown::new(q.label, q.unit, 1.0, decimals).in_units(units);
    let flight = Shown::new("speed", "m/s", 1.0, 2).in_units(units);
    let told = |p: &OperatingPoint| {
        let held = if is_held(p) { ", held by the throttle" } else { "" };
        format!("{} {} {}{held}", q.label, drawn.text((q.of)(p, schedule.most_rpm)), drawn.unit)
    };
    let mut chart = Chart {
        name: q.name.to_owned(),
        title: q.title.to_owned(),
        x_label: "fixed setting [deg]".to_owned(),
        y_label: format!("{} [{}]", q.label, drawn.unit),
        ..Chart::default()
    };
    if let (Some(most), "rotation") = (schedule.most_rpm, q.label) {
        chart.levels.push((most, format!("greatest rotation allowed {most:.0} rpm")));
    }
    for (speed, points) in shown {
        let speed = format!("{} {}", flight.text(Some(*speed)), flight.unit);
        let point = |p: &&OperatingPoint| ChartPoint {
            x: setting_of(p),
            y: (q.of)(p, schedule.most_rpm).map(|v| drawn.factor * v),
            weak: is_doubtful(p),
            text: format!("{speed} at {:.2} deg: {}", setting_of(p), told(p)),
            ..ChartPoint::default()
        };
        chart.series.push(Series {
            name: speed.clone(),
            points: points.iter().map(point).collect(),
            ..Series::default()
        });
        let at = chosen_deg.and_then(|deg| points.iter().find(|p| is_at(p, deg)));
        if let Some((p, y)) = at.and_then(|p| Some((p, (q.of)(p, schedule.most_rpm)?))) {
            chart.pointed.push(Pointed {
                x: setting_of(p),
                y: drawn.factor * y,
                name: format!("chosen, {:.2} deg at {speed}: {}", setting_of(p), told(p)),
            });
        }
    }
    chart
}

/// The chosen setting at every speed.
fn table(schedule: &Schedule, setting_deg: f64) -> String {
    let points: Vec<&OperatingPoint> = schedule.points.iter().filter(|p| is_at(p, setting_deg)).collect();
    if points.is_empty() {
        return String::new();
    }
    let show = |v: Option<f64>, decimals: usize| v.map_or("–".to_owned(), |v| format!("{v:.decimals$}"));
    let decimals = enough_decimals("N", points.iter().map(|p| p.figures.thrust_n), 1.0, 0);
    let [speed, thrust, power] = [("m/s", 1.0, 2), ("N", 1.0, decimals), ("kW", 1e-3, 2)]
        .map(|(unit, f, d)| Shown::new("", unit, f, d));
    let rows: String = points
        .iter()
        .map(|p| {
            let margin = schedule.most_rpm.map(|most| most - p.rpm);
            let cells = [
                cell(Some(p.speed_m_s), speed),
                show(Some(p.rpm), 0),
                if is_held(p) { "held by the throttle".to_owned() } else { show(margin, 0) },
                cell(p.figures.thrust_n, thrust),
                cell(p.figures.power_w, power),
                show(p.figures.efficiency, 3),
            ];
            let cells: String = cells.iter().map(|c| format!("<td>{c}</td>")).collect();
            let class = if is_doubtful(p) { " class=\"stalled\"" } else { "" };
            format!("<tr{class}>{cells}</tr>")
        })
        .collect();
    let heads = [
        format!("speed<br>{}", unit_of(speed)),
        "rotation<br>rpm".to_owned(),
        "below the greatest<br>rpm".to_owned(),
        format!("thrust<br>{}", unit_of(thrust)),
        format!("power<br>{}", unit_of(power)),
        "efficiency<br>-".to_owned(),
    ];
    let heads: String = heads.iter().map(|h| format!("<th scope=\"col\">{h}</th>")).collect();
    format!(
        "<p>At the chosen setting of <strong>{setting_deg:.2} deg</strong>:</p><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"The chosen setting at each speed, scrolls sideways\">\
         <table class=\"plain chosen\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )
}

/// How many of the flight speeds are drawn, and how many there are; `None` if all are.
pub(crate) fn thinned(prediction: &Prediction) -> Option<(usize, usize)> {
    let all = by_speed(searched(prediction)?).len();
    (MOST_SERIES < all).then_some((MOST_SERIES, all))
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::Notice;

    fn asked() -> Prediction {
        let point = |speed_m_s: f64, setting: f64| {
            let rpm = (2000.0 - 40.0 * setting + 4.0 * speed_m_s).min(1500.0);
            let mut p = OperatingPoint { speed_m_s, rpm, ..OperatingPoint::default() };
            p.figures.setting_deg = Some(setting);
            p.figures.thrust_n = Some(3000.0 - 20.0 * speed_m_s - (setting - 16.0).powi(2));
            if 1500.0 <= rpm {
                p.flags.push(Notice::read("overspeed: held"));
            }
            p
        };
        let points =
            [30.0, 50.0].iter().flat_map(|v| (0..8).map(move |k| point(*v, 12.0 + f64::from(k)))).collect();
        Prediction {
            answers: vec![Answer {
                name: CHOICE.to_owned(),
                sentence: "16 deg".to_owned(),
                point: Some(point(50.0, 16.0)),
            }],
            schedules: vec![Schedule {
                name: CHOICE.to_owned(),
                most_rpm: Some(1500.0),
                points,
                ..Schedule::default()
            }],
            ..Prediction::default()
        }
    }

    #[test]
    fn every_setting_is_drawn_at_every_speed_with_the_chosen_one_and_the_greatest_rotation() {
        let prediction = asked();
        let charts = charts(searched(&prediction).unwrap(), Some(16.0), ShownUnits::SI);
        assert_eq!(charts.iter().map(|c| c.series.len()).collect::<Vec<_>>(), [2, 2, 2]);
        assert!(charts.iter().all(|c| c.series.iter().all(|s| s.points.len() == 8) && c.pointed.len() == 2));
        assert!((charts[0].levels[0].0 - 1500.0).abs() < 1e-9);
        // 2000 - 40 * 16 + 4 * 30 = 1480 rpm, 20 below the greatest; at 50 m/s the throttle holds it.
        assert!((charts[2].pointed[0].y - 20.0).abs() < 1e-9 && charts[2].pointed[1].y.abs() < 1e-9);
        assert!(charts[2].pointed[1].name.ends_with("margin 0 rpm, held by the throttle"));
        let mut figures = Figures::default();
        let text = pilot(&prediction, 0, &mut figures);
        assert!(text.contains(">30.00</span></td><td>1480</td><td>20</td>"), "{text}");
        assert!(text.contains(">50.00</span></td><td>1500</td><td>held by the throttle</td>"), "{text}");
        assert_eq!(figures.plots.len(), 3);
        assert_eq!(pilot(&Prediction::default(), 0, &mut figures), "");
    }
}
