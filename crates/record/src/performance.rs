//! A prediction as charts: against the setting at each advance ratio, and against the advance ratio at each setting.

use bladeform_quantity::ShownUnits;
use bladeform_table::{Notice, OperatingFigures, OperatingPoint, Prediction, Shown, enough_decimals};

use crate::chart::{Chart, ChartPoint, MOST_SERIES, Pointed, Series};
use crate::notice::RecordNotice;

/// A point with a larger stalled fraction of the span than this is drawn as stalled. Its values depend on the least certain part of the
/// polars (own choice, no source; some stall at the innermost radii is usual).
pub(crate) const STALLED_SHARE: f64 = 0.2;
/// Settings and advance ratios closer than this are the same.
const SAME: f64 = 1e-6;

/// One plotted quantity.
#[derive(Clone, Copy)]
struct Quantity {
    name: &'static str,
    title: &'static str,
    label: &'static str,
    unit: &'static str,
    factor: f64,
    decimals: usize,
    of: fn(&OperatingFigures) -> Option<f64>,
    /// Its standard uncertainty by the geometry in the document's unit.
    u: fn(&OperatingPoint) -> Option<f64>,
    /// That by the methods.
    u_method: fn(&OperatingPoint) -> Option<f64>,
}

impl Quantity {
    /// The same quantity in other units.
    fn in_units(self, units: ShownUnits) -> Quantity {
        let shown = Shown::new(self.label, self.unit, self.factor, self.decimals).in_units(units);
        Quantity { unit: shown.unit, factor: shown.factor, decimals: shown.decimals, ..self }
    }

    /// The standard uncertainty by geometry and methods; `None` where that of the methods is not known.
    fn u_all(&self, point: &OperatingPoint) -> Option<f64> {
        Some((self.u_method)(point)?.hypot((self.u)(point).unwrap_or(0.0)))
    }

    /// Both intervals in words, after the value: ` ± 16 by the geometry, ± 230 by the methods`.
    fn intervals(&self, point: &OperatingPoint) -> String {
        let half = |u: f64| {
            format!("{:.*}", self.decimals, bladeform_quantity::COVERAGE_FACTOR_95 * u * self.factor)
        };
        let shape = (self.u)(point).map(|u| format!(" ± {} by the geometry", half(u)));
        let method = (self.u_method)(point).map(|u| format!(" ± {} by the methods", half(u)));
        [shape, method].into_iter().flatten().collect::<Vec<_>>().join(",")
    }
}

const QUANTITIES: [Quantity; 7] = [
    Quantity {
        name: "thrust",
        title: "Thrust",
        label: "thrust",
        unit: "N",
        factor: 1.0,
        decimals: 0,
        of: |f| f.thrust_n,
        u: |p| p.u?.thrust_n,
        u_method: |p| p.u_method?.thrust_n,
    },
    Quantity {
        name: "power",
        title: "Power",
        label: "power",
        unit: "kW",
        factor: 1e-3,
        decimals: 1,
        of: |f| f.power_w,
        u: |p| p.u?.power_w,
        u_method: |p| p.u_method?.power_w,
    },
    Quantity {
        name: "torque",
        title: "Torque",
        label: "torque",
        unit: "N m",
        factor: 1.0,
        decimals: 0,
        of: |f| f.torque_nm,
        u: |p| p.u?.torque_nm,
        u_method: |p| p.u_method?.torque_nm,
    },
    Quantity {
        name: "efficiency",
        title: "Efficiency",
        label: "efficiency",
        unit: "-",
        factor: 1.0,
        decimals: 3,
        of: |f| f.efficiency,
        u: |p| p.u?.efficiency,
        u_method: |p| p.u_method?.efficiency,
    },
    Quantity {
        name: "thrust-coefficient",
        title: "Thrust coefficient T/(rho n² D⁴)",
        label: "C_T",
        unit: "-",
        factor: 1.0,
        decimals: 4,
        of: |f| f.thrust_coefficient,
        u: |_| None,
        u_method: |_| None,
    },
    Quantity {
        name: "power-coefficient",
        title: "Power coefficient P/(rho n³ D⁵)",
        label: "C_P",
        unit: "-",
        factor: 1.0,
        decimals: 4,
        of: |f| f.power_coefficient,
        u: |_| None,
        u_method: |_| None,
    },
    Quantity {
        name: "torque-coefficient",
        title: "Torque coefficient Q/(rho n² D⁵)",
        label: "C_Q",
        unit: "-",
        factor: 1.0,
        decimals: 4,
        of: |f| f.torque_coefficient,
        u: |_| None,
        u_method: |_| None,
    },
];

/// The horizontal axis of the charts.
#[derive(Clone, Copy, PartialEq)]
enum Over {
    Setting,
    Advance,
}

impl Over {
    fn x(self, f: &OperatingFigures) -> Option<f64> {
        if self == Over::Setting { f.setting_deg } else { f.advance_ratio }
    }
    fn group(self, f: &OperatingFigures) -> Option<f64> {
        if self == Over::Setting { f.advance_ratio } else { f.setting_deg }
    }
    fn x_label(self, prediction: &Prediction) -> String {
        match self {
            Over::Setting => {
                let at = prediction.reference_radius_ratio;
                let place = if (at - 1.0).abs() < SAME { "tip".to_owned() } else { format!("{at} R") };
                format!("setting at {place}, {} line [deg]", prediction.setting_of.as_str())
            }
            Over::Advance => "advance ratio V/(n D) [-]".to_owned(),
        }
    }
    fn group_name(self, value: f64) -> String {
        if self == Over::Setting { format!("J = {value:.3}") } else { format!("{value:.1} deg") }
    }
    /// A value on the horizontal axis in words.
    fn named(self, x: f64) -> String {
        if self == Over::Setting { format!("{x:.2} deg") } else { format!("J = {x:.3}") }
    }
    const fn file_part(self) -> &'static str {
        if matches!(self, Over::Setting) { "over-setting" } else { "over-advance-ratio" }
    }
}

/// The charts of a prediction, and notices about what is not drawn.
#[must_use]
pub fn performance_charts(prediction: &Prediction) -> (Vec<Chart>, Vec<RecordNotice>) {
    performance_charts_in(prediction, ShownUnits::SI)
}

/// As [`performance_charts`], in the given units.
pub(crate) fn performance_charts_in(
    prediction: &Prediction,
    units: ShownUnits,
) -> (Vec<Chart>, Vec<RecordNotice>) {
    let mut charts = Vec::new();
    let mut notices = Vec::new();
    for over in [Over::Setting, Over::Advance] {
        let groups = groups(prediction, over);
        let drawn = spread(groups.len());
        if drawn.len() < groups.len() {
            let (shown, all) = (drawn.len(), groups.len());
            notices.push(match over {
                Over::Setting => RecordNotice::AdvanceRatiosThinned { shown, all },
                Over::Advance => RecordNotice::SettingsThinned { shown, all },
            });
        }
        let chosen: Vec<&(f64, Vec<&OperatingPoint>)> = drawn.iter().map(|k| &groups[*k]).collect();
        charts.extend(
            QUANTITIES
                .iter()
                .map(|q| chart(prediction, over, (&q.in_units(units), units), &chosen))
                .filter(Chart::is_drawable),
        );
    }
    (charts, notices)
}

/// The name on the page of an answer of the prediction.
fn answer_name(name: &str) -> String {
    match name {
        "best_efficiency" => "best efficiency".to_owned(),
        "power_match" => "absorbs the given power".to_owned(),
        "peak_thrust" => "maximum thrust".to_owned(),
        other => other.replace('_', " "),
    }
}

/// The points of each advance ratio (or setting), sorted by `x`. Groups of fewer than two points are dropped, as they are not curves.
fn groups(prediction: &Prediction, over: Over) -> Vec<(f64, Vec<&OperatingPoint>)> {
    let mut found: Vec<(f64, Vec<&OperatingPoint>)> = Vec::new();
    for point in &prediction.points {
        let (Some(group), Some(_)) = (over.group(&point.figures), over.x(&point.figures)) else { continue };
        match found.iter_mut().find(|(known, _)| (known - group).abs() < SAME) {
            Some((_, points)) => points.push(point),
            None => found.push((group, vec![point])),
        }
    }
    found.retain_mut(|(_, points)| {
        let x = |p: &OperatingPoint| over.x(&p.figures).unwrap_or(f64::NAN);
        points.sort_by(|a, b| x(a).total_cmp(&x(b)));
        points.dedup_by(|a, b| (x(a) - x(b)).abs() < SAME);
        points.len() > 1
    });
    // Solved points lie between the requested ones. They are inserted, because a line past them would contradict them.
    for point in prediction.answers.iter().filter_map(|a| a.point.as_ref()) {
        let (Some(group), Some(x)) = (over.group(&point.figures), over.x(&point.figures)) else { continue };
        if let Some((_, points)) = found.iter_mut().find(|(known, _)| (known - group).abs() < SAME) {
            let place = |p: &&OperatingPoint| over.x(&p.figures).is_some_and(|known| known < x);
            let at = points.partition_point(place);
            let new = |p: Option<&&OperatingPoint>| {
                p.and_then(|p| over.x(&p.figures)).is_none_or(|known| SAME < (known - x).abs())
            };
            if new(points.get(at)) && new(at.checked_sub(1).and_then(|k| points.get(k))) {
                points.insert(at, point);
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}

/// Indices of at most as many groups as can be distinguished, evenly spaced from first to last.
pub(crate) fn spread(count: usize) -> Vec<usize> {
    if count <= MOST_SERIES {
        return (0..count).collect();
    }
    (0..MOST_SERIES).map(|k| (k * (count - 1) + (MOST_SERIES - 1) / 2) / (MOST_SERIES - 1)).collect()
}

fn chart(
    prediction: &Prediction,
    over: Over,
    (q, units): (&Quantity, ShownUnits),
    groups: &[&(f64, Vec<&OperatingPoint>)],
) -> Chart {
    let values = prediction.points.iter().map(|p| (q.of)(&p.figures));
    let decimals = enough_decimals(q.unit, values, q.factor, q.decimals);
    let q = &Quantity { decimals, ..*q };
    let mut chart = Chart {
        name: format!("{}-{}", q.name, over.file_part()),
        title: format!(
            "{} {}",
            q.title,
            if over == Over::Setting { "against setting" } else { "against advance ratio" }
        ),
        x_label: over.x_label(prediction),
        y_label: format!("{} [{}]", q.label, q.unit),
        ..Chart::default()
    };
    for (group, points) in groups {
        let points = points.iter().map(|p| chart_point(p, over, q, units)).collect();
        chart.series.push(Series {
            name: over.group_name(*group),
            points,
            smooth: false,
            ..Series::default()
        });
    }
    // The helical tip Mach number is shown with the thrust, because compressibility limits the thrust.
    let is_limited = q.name == "thrust" && prediction.air.water.is_none();
    if let (true, Some((group, points))) = (is_limited, groups.last()) {
        let mach = Quantity {
            label: "helical tip Mach",
            unit: "-",
            decimals: 3,
            factor: 1.0,
            of: |f| f.helical_tip_mach,
            u: |_| None,
            u_method: |_| None,
            ..QUANTITIES[0]
        };
        let points = points
            .iter()
            .map(|p| ChartPoint { weak: false, flagged: false, ..chart_point(p, over, &mach, units) })
            .collect();
        // As a function of the advance ratio it is the same at every setting.
        let of = if over == Over::Setting && groups.len() > 1 {
            format!(" at {}", over.group_name(*group))
        } else {
            String::new()
        };
        chart.series.push(Series {
            name: format!("helical tip Mach{of} (right axis)"),
            points,
            on_second: true,
            ..Series::default()
        });
        chart.second_label = Some("helical tip Mach [-]".to_owned());
    }
    // With many curves only the main answers are marked, and only on the main charts.
    let many = groups.len() > 1;
    let pointed =
        |name: &str| !many || name != "peak_thrust" && ["thrust", "power", "efficiency"].contains(&q.name);
    for answer in prediction.answers.iter().filter(|a| pointed(&a.name)) {
        let Some(point) = &answer.point else { continue };
        let group =
            groups.iter().find(|(g, _)| over.group(&point.figures).is_some_and(|v| (v - g).abs() < SAME));
        if let (Some((group, _)), Some(x), Some(y)) = (group, over.x(&point.figures), (q.of)(&point.figures))
        {
            let shown = format!("{:.*} {}", q.decimals, y * q.factor, q.unit.trim_start_matches('-'));
            let shown = format!("{}{}", shown.trim_end(), q.intervals(point));
            let of = if many { format!(", {}", over.group_name(*group)) } else { String::new() };
            let name =
                format!("{}{of} at {}: {} {}", answer_name(&answer.name), over.named(x), q.label, shown);
            let name = name.trim_end().to_owned();
            chart.pointed.push(Pointed { x, y: y * q.factor, name });
        }
    }
    chart
}

fn chart_point(point: &OperatingPoint, over: Over, q: &Quantity, units: ShownUnits) -> ChartPoint {
    let f = &point.figures;
    let value = (q.of)(f).map(|v| v * q.factor);
    let half_width = q.u_all(point).map(|u| bladeform_quantity::COVERAGE_FACTOR_95 * u * q.factor);
    let shown = |v: Option<f64>, decimals: usize| v.map_or("-".to_owned(), |v| format!("{v:.decimals$}"));
    let interval = q.intervals(point);
    let stalled = f
        .stalled_fraction
        .filter(|s| *s > 0.0)
        .map(|s| format!(", {:.0} % of the span stalled", s * 100.0))
        .unwrap_or_default();
    let flags: String = point.flags.iter().map(|flag| units.text(&format!("; {flag}"))).collect();
    let unit = if q.unit == "-" { String::new() } else { format!(" {}", q.unit) };
    ChartPoint {
        x: over.x(f).unwrap_or(f64::NAN),
        y: value,
        half_width,
        flagged: false,
        weak: is_doubtful(point),
        text: format!(
            "setting {} deg, J {}: {} {}{unit}{interval}{stalled}{flags}",
            shown(f.setting_deg, 2),
            shown(f.advance_ratio, 3),
            q.label,
            shown(value, q.decimals)
        ),
    }
}

/// Whether the stalled fraction is so large that the point is drawn differently.
fn is_stalled(point: &OperatingPoint) -> bool {
    point.figures.stalled_fraction.is_some_and(|s| s > STALLED_SHARE)
}

/// Whether a point is drawn and listed as less reliable: much of the span is stalled, or the point is outside the range of the methods.
pub(crate) fn is_doubtful(point: &OperatingPoint) -> bool {
    is_stalled(point) || !point.flags.is_empty() && is_out_of_range(&point.flags)
}

/// Whether a flag says that a point is outside the range of the methods.
fn is_out_of_range(flags: &[Notice]) -> bool {
    // Flags of points at which the methods no longer hold.
    const CODES: [&str; 5] = ["supersonic", "negative-thrust", "stalled", "out-of-range", "extrapolated"];
    flags.iter().any(|flag| CODES.contains(&flag.code()))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use bladeform_table::{Answer, RadialFigures, RadialRow};

    /// Settings 10 to 30 deg at two advance ratios with invented linear laws. The radial rows satisfy the velocity triangle.
    pub(crate) fn prediction() -> Prediction {
        let mut prediction = Prediction { blades: 2, diameter_m: 2.0, rpm: 1500.0, ..Prediction::default() };
        prediction.air.density_kg_m3 = 1.225;
        for k in 0..5 {
            for j in [0.4, 0.8] {
                prediction.points.push(point(10.0 + 5.0 * f64::from(k), j));
            }
        }
        prediction.answers.push(Answer {
            name: "best_efficiency".to_owned(),
            sentence: "Best.".to_owned(),
            point: Some(point(17.0, 0.8)),
        });
        prediction
    }

    fn point(setting: f64, j: f64) -> OperatingPoint {
        let mut p = OperatingPoint { speed_m_s: j * 25.0 * 2.0, rpm: 1500.0, ..OperatingPoint::default() };
        p.figures.setting_deg = Some(setting);
        p.figures.advance_ratio = Some(j);
        p.figures.thrust_n = Some(100.0 * setting);
        p.figures.power_w = Some(2000.0 * setting);
        p.figures.efficiency = Some(0.7 - 0.001 * (setting - 17.0).powi(2));
        p.figures.stalled_fraction = Some(if setting > 22.0 { 0.5 } else { 0.0 });
        p.figures.helical_tip_mach = Some(0.5);
        for ratio in [0.4_f64, 0.6, 0.8] {
            let omega_r = std::f64::consts::TAU * 25.0 * ratio;
            let (axial, around) = (p.speed_m_s + 3.0, omega_r - 1.0);
            let inflow = axial.atan2(around).to_degrees();
            p.radial.push(RadialRow {
                water: None,
                figures: RadialFigures {
                    radius_m: Some(ratio),
                    radius_ratio: Some(ratio),
                    chord_m: Some(0.1),
                    blade_angle_deg: Some(setting),
                    inflow_angle_deg: Some(inflow),
                    angle_of_attack_deg: Some(setting - inflow),
                    axial_induced_m_s: Some(3.0),
                    swirl_induced_m_s: Some(1.0),
                    resultant_speed_m_s: Some(axial.hypot(around)),
                    lift_coefficient: Some(0.5),
                    drag_coefficient: Some(0.02),
                    ..RadialFigures::default()
                },
                stalled: false,
                polar_region: "computed".to_owned(),
            });
        }
        p
    }

    #[test]
    fn each_advance_ratio_is_a_curve_over_the_setting_and_each_setting_one_over_the_advance_ratio() {
        let (charts, notes) = performance_charts(&prediction());
        let names: Vec<&str> = charts.iter().map(|c| c.name.as_str()).collect();
        assert!(
            names.contains(&"thrust-over-setting") && names.contains(&"efficiency-over-advance-ratio"),
            "{names:?}"
        );
        let thrust = &charts[0];
        assert_eq!(
            thrust.series.iter().map(|s| s.name.as_str()).collect::<Vec<_>>(),
            ["J = 0.400", "J = 0.800", "helical tip Mach at J = 0.800 (right axis)"]
        );
        assert_eq!(
            thrust.series[0].points.iter().map(|p| p.y.unwrap()).collect::<Vec<_>>(),
            [1000.0, 1500.0, 2000.0, 2500.0, 3000.0]
        );
        // Five settings are as many as can be distinguished: none is left out.
        assert!(notes.is_empty(), "{notes:?}");
    }

    #[test]
    fn stalled_points_are_weak_and_answers_are_pointed_at_on_their_curve() {
        let (charts, _) = performance_charts(&prediction());
        let weak: Vec<bool> = charts[0].series[0].points.iter().map(|p| p.weak).collect();
        assert_eq!(weak, [false, false, false, true, true]);
        let efficiency = charts.iter().find(|c| c.name == "efficiency-over-setting").unwrap();
        assert_eq!(efficiency.pointed.len(), 1);
        assert!(
            efficiency.pointed[0]
                .name
                .starts_with("best efficiency, J = 0.800 at 17.00 deg: efficiency 0.700"),
            "{}",
            efficiency.pointed[0].name
        );
        // The solved point is a point of its curve.
        let xs: Vec<f64> = efficiency.series[1].points.iter().map(|p| p.x).collect();
        assert_eq!(xs, [10.0, 15.0, 17.0, 20.0, 25.0, 30.0]);
    }

    #[test]
    fn many_groups_are_thinned_evenly() {
        assert_eq!(spread(9), [0, 2, 4, 6, 8]);
        assert_eq!(spread(3), [0, 1, 2]);
    }
}
