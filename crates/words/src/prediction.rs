//! The prediction as plain text for a terminal of 100 columns.

use crate::layout::{Notes, aligned, text_of};
use crate::warning::{Advice, no_advice, warning_in};
use bladeform_quantity::{Conversion, ShownUnits};
use bladeform_table::{
    Answer, BODY_MEANING, CAUTION, Notice, OperatingPoint, Prediction, REST_MEANING, Schedule, Shown,
    SurfaceFigures, cells_at_rest, number_text, place_text,
};

/// Most rows shown. More rows are thinned evenly, and the files contain all of them.
const MOST_ROWS: usize = 41;
/// What an interval of the table contains, and what it does not.
const U_MEANING: &str = "eta is the efficiency. ±s (2 u, 95 %) is what the measured shape leaves uncertain. ±m (2 u) is how far predictions by these methods were from published tests of the same kind of propeller and state of flow; - where no such test is at hand, so that the error is not known.";
/// The flag of a point at zero speed without a free wake. Its sentence is the reason.
const NO_FREE_WAKE: &str = "no-free-wake";
/// The answer that is told first: the one fixed setting for several speeds of an engine.
const FIRST: &str = "fixed_pitch_choice";
/// Most reasons for a missing free wake that are listed one by one.
const MOST_REASONS: usize = 3;
/// The prediction as text: what was computed, one row per point, answers, schedules, warnings and the caution.
///
/// Every column has its unit. A missing figure is `-`. Flags are letters with their sentences below. More than 41 points are
/// thinned evenly, and the text says so. The text ends with a line feed.
#[must_use]
pub fn render_prediction(prediction: &Prediction) -> String {
    render_prediction_with(prediction, &no_advice)
}

/// As [`render_prediction`], with the advice on its code after each warning.
#[must_use]
pub fn render_prediction_with(prediction: &Prediction, advice: Advice<'_>) -> String {
    render_prediction_in(prediction, ShownUnits::SI, advice)
}

/// As [`render_prediction_with`], with every figure in the given units.
#[must_use]
pub fn render_prediction_in(prediction: &Prediction, units: ShownUnits, advice: Advice<'_>) -> String {
    let step = prediction.points.len().div_ceil(MOST_ROWS).max(1);
    let shown: Vec<&OperatingPoint> = prediction.points.iter().step_by(step).collect();
    let mut lines = head(prediction, units);
    // What was asked of the engine comes before figures at one rotational speed, which it may not reach.
    let is_first = |answer: &&Answer| answer.name == FIRST;
    let told = |answer: &Answer| format!("- {}", units.text(&answer.sentence));
    let first: Vec<String> = prediction.answers.iter().filter(is_first).map(told).collect();
    if !first.is_empty() {
        lines.push(String::new());
        lines.extend(first);
        lines.push(format!(
            "The points that follow are at {:.0} rpm, whatever power that takes.",
            prediction.rpm
        ));
    }
    lines.push(String::new());
    let mut notes = Notes::default();
    lines.extend(rows(&shown, units, &mut notes));
    if step > 1 {
        lines.push(format!(
            "{} of {} points are shown; prediction.csv has all",
            shown.len(),
            prediction.points.len()
        ));
    }
    lines.extend(rest_lines(&shown, units));
    lines.extend(body_lines(&shown, units));
    lines.push(String::new());
    if !shown.is_empty() {
        if prediction.air.water.is_some() {
            lines.push(WATER_MEANING.to_owned());
        }
        lines.push(U_MEANING.to_owned());
        lines.extend(surface_line(&shown));
    }
    lines.extend(notes.lines(units));
    lines.extend(prediction.answers.iter().filter(|answer| !is_first(answer)).map(told));
    for schedule in &prediction.schedules {
        lines.push(String::new());
        lines.extend(schedule_lines(schedule, units));
    }
    lines.extend(
        prediction.warnings.iter().map(|warning| format!("Warning: {}", warning_in(warning, units, advice))),
    );
    lines.push(CAUTION.to_owned());
    text_of(&lines)
}

/// A figure in SI with its unit, in the unit of the conversion if there is one.
fn figure(value: f64, unit: &str, decimals: usize, to: Option<Conversion>) -> String {
    match to {
        None => format!("{value:.decimals$} {unit}"),
        Some(to) => format!("{:.*} {}", to.decimals(decimals), value * to.factor, to.unit),
    }
}

fn head(p: &Prediction, units: ShownUnits) -> Vec<String> {
    let flight = match p.speed_m_s {
        Some(v) if p.air.water.is_some() => {
            format!("speed of advance {}", figure(v, "m/s", 2, units.of("m/s")))
        }
        Some(v) => format!("at {}", figure(v, "m/s", 2, units.of("m/s"))),
        None => "over advance ratio".to_owned(),
    };
    let file = if p.table_file.is_empty() { String::new() } else { format!(" of {}", p.table_file) };
    vec![
        format!(
            "Prediction{file}: {} {}, diameter {}, {:.0} rpm, {flight}",
            p.blades,
            if p.blades == 1 { "blade" } else { "blades" },
            figure(1e3 * p.diameter_m, "mm", 1, units.of("mm")),
            p.rpm
        ),
        fluid(p, units),
        format!(
            "Setting: angle of the {} at {}",
            p.setting_of.as_str(),
            place_text(p.reference_radius_ratio)
        ),
    ]
}

/// The line of the air or the water.
fn fluid(p: &Prediction, units: ShownUnits) -> String {
    let Some(water) = p.air.water else {
        return format!(
            "Air: {}, {:.2} K, {:.0} Pa, {:.4} kg/m3, speed of sound {}",
            figure(p.air.altitude_m, "m", 0, units.altitude()),
            p.air.temperature_k,
            p.air.pressure_pa,
            p.air.density_kg_m3,
            figure(p.air.speed_of_sound_m_s, "m/s", 1, units.stream())
        );
    };
    let depth = match water.depth_m {
        Some(depth_m) => format!(
            "shaft {} below the surface, vapour pressure {:.0} Pa, pressure on the surface {:.0} Pa",
            figure(depth_m, "m", 2, units.altitude()),
            water.vapour_pressure_pa,
            p.air.pressure_pa
        ),
        None => "depth of the shaft not known".to_owned(),
    };
    format!(
        "Water: {}, {:.2} K, {:.2} kg/m3, {:.4e} Pa s, {depth}",
        water.kind.name(),
        p.air.temperature_k,
        p.air.density_kg_m3,
        p.air.viscosity_pa_s
    )
}

/// Headings of the intervals.
const SHAPE: &str = "±s";
const METHOD: &str = "±m";

/// The columns of the terminal: name, unit, factor, decimals, figure.
type Column = (&'static str, &'static str, f64, usize, fn(&OperatingPoint) -> Option<f64>);

const COLUMNS: [Column; 12] = [
    ("setting", "deg", 1.0, 2, |p| p.figures.setting_deg),
    ("V/nD", "-", 1.0, 3, |p| p.figures.advance_ratio),
    ("thrust", "N", 1.0, 0, |p| p.figures.thrust_n),
    (SHAPE, "N", 2.0, 0, |p| p.u.and_then(|u| u.thrust_n)),
    (METHOD, "N", 2.0, 0, |p| p.u_method.and_then(|u| u.thrust_n)),
    ("torque", "N m", 1.0, 1, |p| p.figures.torque_nm),
    ("power", "kW", 1e-3, 2, |p| p.figures.power_w),
    (SHAPE, "kW", 2e-3, 2, |p| p.u.and_then(|u| u.power_w)),
    (METHOD, "kW", 2e-3, 2, |p| p.u_method.and_then(|u| u.power_w)),
    ("eta", "-", 1.0, 3, |p| p.figures.efficiency),
    (METHOD, "-", 2.0, 3, |p| p.u_method.and_then(|u| u.efficiency)),
    ("stalled", "%", 1e2, 0, |p| p.figures.stalled_fraction),
];

/// The columns of water, in the terms of its trade, after thrust and power: `K_T`, `K_Q` and `eta_0` over `J = V_A/(n D)`. The cavitation number is that of the rotational speed.
const WATER_COLUMNS: [Column; 13] = [
    ("setting", "deg", 1.0, 2, |p| p.figures.setting_deg),
    ("J", "-", 1.0, 3, |p| p.figures.advance_ratio),
    ("thrust", "N", 1.0, 0, |p| p.figures.thrust_n),
    (SHAPE, "N", 2.0, 0, |p| p.u.and_then(|u| u.thrust_n)),
    (METHOD, "N", 2.0, 0, |p| p.u_method.and_then(|u| u.thrust_n)),
    ("power", "kW", 1e-3, 2, |p| p.figures.power_w),
    (METHOD, "kW", 2e-3, 2, |p| p.u_method.and_then(|u| u.power_w)),
    ("K_T", "-", 1.0, 4, |p| p.figures.thrust_coefficient),
    ("10K_Q", "-", 10.0, 4, |p| p.figures.torque_coefficient),
    ("eta_0", "-", 1.0, 3, |p| p.figures.efficiency),
    (METHOD, "-", 2.0, 3, |p| p.u_method.and_then(|u| u.efficiency)),
    ("sigma_n", "-", 1.0, 2, |p| p.water.and_then(|w| w.cavitation_number)),
    ("cavit.", "%", 1e2, 0, |p| p.water.and_then(|w| w.cavitating_fraction)),
];
/// What the terms of water mean.
const WATER_MEANING: &str = "K_T = T/(rho n^2 D^4), K_Q = Q/(rho n^2 D^5), eta_0 = J K_T/(2 pi K_Q), J = V_A/(n D), V_A is the speed of advance. sigma_n is the pressure at the shaft above that of the vapour over rho n^2 D^2/2; cavit. is the part of the span where cavitation begins, - where it was not looked for.";

fn rows(points: &[&OperatingPoint], units: ShownUnits, notes: &mut Notes) -> Vec<String> {
    let any_u = points.iter().any(|p| p.u.is_some());
    let all: &[Column] = if points.iter().any(|p| p.water.is_some()) { &WATER_COLUMNS } else { &COLUMNS };
    let columns: Vec<&Column> = all.iter().filter(|c| any_u || c.0 != SHAPE).collect();
    // An uncertainty has as many decimals as the figure before it.
    let mut shown: Vec<Shown> = Vec::new();
    for c in &columns {
        let own = Shown::new(c.0, c.1, c.2, c.3).in_units(units);
        shown.push(match shown.last() {
            Some(last) if [SHAPE, METHOD].contains(&c.0) => Shown { decimals: last.decimals, ..own },
            _ => own.enough(points.iter().map(|p| c.4(p))),
        });
    }
    let heads = |pick: fn(&Shown) -> &'static str, last: &str| {
        shown.iter().map(|s| pick(s).to_owned()).chain([last.to_owned()]).collect::<Vec<_>>()
    };
    let mut cells = vec![heads(|s| s.label, "flags"), heads(|s| s.unit, "")];
    for point in points {
        let cell = |(c, shown): (&&Column, &Shown)| shown.plain(c.4(point));
        let letters = notes.letters_of(point.flags.iter().map(sentence));
        cells.push(columns.iter().zip(&shown).map(cell).chain([letters]).collect());
    }
    aligned(&cells)
}

/// How far the figures are from those of a smooth and of a worn surface, at most. `None` if the surface is known.
fn surface_line(points: &[&OperatingPoint]) -> Option<String> {
    let bands: Vec<_> = points.iter().filter_map(|p| p.surface).collect();
    let half = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) if a + b > 0.0 => ((a - b) / (a + b)).abs(),
        _ => 0.0,
    };
    let most = |of: &dyn Fn(&SurfaceFigures) -> f64| bands.iter().map(of).fold(0.0, f64::max);
    let efficiency =
        most(&|b| 0.5 * (b.smooth_efficiency.zip(b.worn_efficiency).map_or(0.0, |(a, b)| a - b)).abs());
    (!bands.is_empty()).then(|| {
        format!(
            "The surface is not known: the figures lie midway between a smooth blade and one that is turbulent from 5 % of the chord on. Half that band, part of ±m, is at most {:.1} % of thrust, {:.1} % of power and {efficiency:.3} of efficiency here.",
            100.0 * most(&|b| half(b.smooth_thrust_n, b.worn_thrust_n)),
            100.0 * most(&|b| half(b.smooth_power_w, b.worn_power_w)),
        )
    })
}

/// What the shanks take, and the propulsive figures with a body. Empty without a body.
fn body_lines(points: &[&OperatingPoint], units: ShownUnits) -> Vec<String> {
    let of = |p: &OperatingPoint| p.installed.unwrap_or_default();
    if points.iter().all(|p| of(p).propulsive_thrust_n.is_none()) {
        return Vec::new();
    }
    let [thrust, power] = [("N", 1.0, 0), ("kW", 1e-3, 2)]
        .map(|(unit, factor, decimals)| Shown::new("", unit, factor, decimals).in_units(units));
    let thrust = thrust.enough(points.iter().map(|p| of(p).propulsive_thrust_n));
    let mut cells: Vec<Vec<String>> = vec![
        ["setting", "V/nD", "stream", "shanks", "shaft thrust", "eta", "propulsive", METHOD, "eta", METHOD]
            .map(str::to_owned)
            .to_vec(),
        ["deg", "-", "of flight", power.unit, thrust.unit, "-", thrust.unit, thrust.unit, "-", "-"]
            .map(str::to_owned)
            .to_vec(),
    ];
    cells.extend(points.iter().map(|p| {
        let (f, i) = (&p.figures, of(p));
        vec![
            number_text(f.setting_deg, 1.0, 2),
            number_text(f.advance_ratio, 1.0, 3),
            number_text(i.stream_factor, 1.0, 3),
            power.plain(i.shank_power_w),
            thrust.plain(f.thrust_n),
            number_text(f.efficiency, 1.0, 3),
            thrust.plain(i.propulsive_thrust_n),
            thrust.plain(i.u_method_propulsive_thrust_n.map(|u| 2.0 * u)),
            number_text(i.propulsive_efficiency, 1.0, 3),
            number_text(i.u_method_propulsive_efficiency, 2.0, 3),
        ]
    }));
    let mut lines = vec![String::new(), format!("With the body: {BODY_MEANING}")];
    lines.extend(aligned(&cells));
    lines
}

/// Blade elements compared with the free wake at the points of zero speed, and which model is better. Empty if no point has a free wake or a reason for its absence.
fn rest_lines(points: &[&OperatingPoint], units: ShownUnits) -> Vec<String> {
    let reason = |p: &OperatingPoint| {
        p.flags.iter().find(|f| f.code() == NO_FREE_WAKE).map(|f| f.sentence().to_owned())
    };
    let still: Vec<(&OperatingPoint, String)> = points
        .iter()
        .filter(|p| p.is_static() && (p.free_wake.is_some() || reason(p).is_some()))
        .map(|p| (*p, reason(p).unwrap_or_default()))
        .collect();
    if still.is_empty() {
        return Vec::new();
    }
    let [force, work] = ["N", "kW"].map(|unit| units.of(unit).map_or(unit, |to| to.unit));
    let mut cells: Vec<Vec<String>> = vec![
        ["setting", "thrust by", "thrust by", "more", "power by", "power by", "more", "tip vortex below"]
            .map(str::to_owned)
            .to_vec(),
        ["", "elements", "free wake", "", "elements", "free wake", "", "the next blade"]
            .map(str::to_owned)
            .to_vec(),
        ["deg", force, force, "%", work, work, "%", "% of R"].map(str::to_owned).to_vec(),
    ];
    let points: Vec<&OperatingPoint> = still.iter().map(|(p, _)| *p).collect();
    cells.extend(cells_at_rest(&points, units).into_iter().map(|row| row.to_vec()));
    let mut lines = vec![String::new(), format!("At zero speed: {REST_MEANING}")];
    lines.extend(aligned(&cells));
    let mut told: Vec<&str> = Vec::new();
    for (p, why) in still.iter().filter(|(_, why)| !why.is_empty()) {
        // A range of settings repeats the same kind of reason with other figures.
        if told.len() < MOST_REASONS && !told.contains(&why.as_str()) {
            told.push(why);
            lines.push(format!(
                "No free wake at {} deg: {}",
                number_text(p.figures.setting_deg, 1.0, 2),
                units.text(why)
            ));
        }
    }
    let without = still.iter().filter(|(_, why)| !why.is_empty()).count();
    if told.len() < without {
        lines.push(format!(
            "No free wake at {without} points in all; prediction.json has the reason for each"
        ));
    }
    lines
}

/// The sentence of a flag. It is without figures for flags that many points have with different figures. The files contain the figures.
fn sentence(flag: &Notice) -> String {
    let known = [
        ("stalled", "much of the span is stalled: all figures are rough"),
        ("compressible", "helical tip Mach number above 0.6: compressibility is serious"),
        ("models-differ", "the second model differs by more than 5 % in thrust or power"),
        (
            "by-free-wake",
            "thrust, torque and power come from the free wake; what the uncertainty of the geometry does to them is that of the blade elements",
        ),
        (
            "no-free-wake",
            "there is no free wake at rest at this setting, and prediction.json has the reason; near rest the figures are those of the blade elements",
        ),
        (
            "near-rest",
            "thrust and power are changed from the blade elements towards the free wake at zero speed, whose wake contracts; half of that is in the interval of the methods",
        ),
        ("braked-stream", "an empirical relation for windmills replaces momentum theory on part of the span"),
        ("cavitation", "cavitation begins on a part of the span; the figures are those without it"),
        (
            "bridged-polar",
            "on part of the span the polar is interpolated, because its boundary layer did not converge",
        ),
    ];
    known
        .iter()
        .find(|(k, _)| *k == flag.code())
        .map_or_else(|| flag.text(), |(k, text)| format!("{k}: {text}"))
}

fn schedule_lines(schedule: &Schedule, units: ShownUnits) -> Vec<String> {
    if schedule.points.is_empty() {
        return vec![units.text(&schedule.sentence)];
    }
    let [speed, thrust, power] = [("m/s", 1.0, 1), ("N", 1.0, 0), ("kW", 1e-3, 1)]
        .map(|(unit, factor, decimals)| Shown::new("", unit, factor, decimals).in_units(units));
    let thrust = thrust.enough(schedule.points.iter().map(|p| p.figures.thrust_n));
    let power = power.enough(schedule.points.iter().map(|p| p.figures.power_w));
    let mut cells: Vec<Vec<String>> = vec![
        ["speed", "rpm", "setting", "thrust", "power", "efficiency"].map(str::to_owned).to_vec(),
        [speed.unit, "1/min", "deg", thrust.unit, power.unit, "-"].map(str::to_owned).to_vec(),
    ];
    let step = schedule.points.len().div_ceil(MOST_ROWS).max(1);
    for p in schedule.points.iter().step_by(step) {
        let f = &p.figures;
        let row = [
            speed.plain(Some(p.speed_m_s)),
            number_text(Some(p.rpm), 1.0, 0),
            number_text(f.setting_deg, 1.0, 2),
            thrust.plain(f.thrust_n),
            power.plain(f.power_w),
            number_text(f.efficiency, 1.0, 3),
        ];
        cells.push(row.to_vec());
    }
    let thinned = (1 < step).then(|| format!("every {step}th row is shown; prediction.json has all"));
    [units.text(&schedule.sentence)].into_iter().chain(aligned(&cells)).chain(thinned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{InstalledFigures, OperatingFigures};

    #[test]
    fn body_and_surface_are_told_where_there_are_any() {
        let mut prediction = Prediction { points: vec![OperatingPoint::default()], ..Prediction::default() };
        let plain = render_prediction(&prediction);
        assert!(!plain.contains("propulsive") && !plain.contains("surface"), "{plain}");
        let figures = OperatingFigures {
            thrust_n: Some(2895.0),
            efficiency: Some(0.837),
            ..OperatingFigures::default()
        };
        prediction.points[0] = OperatingPoint {
            figures,
            installed: Some(InstalledFigures {
                propulsive_thrust_n: Some(2834.0),
                propulsive_efficiency: Some(0.819),
                ..InstalledFigures::default()
            }),
            surface: Some(SurfaceFigures {
                smooth_thrust_n: Some(102.0),
                worn_thrust_n: Some(98.0),
                smooth_efficiency: Some(0.82),
                worn_efficiency: Some(0.79),
                ..SurfaceFigures::default()
            }),
            ..OperatingPoint::default()
        };
        let text = render_prediction(&prediction).replace("\n    ", " ");
        assert!(text.contains("2895  0.837        2834   -  0.819  -"), "{text}");
        assert!(text.contains("at most 2.0 % of thrust, 0.0 % of power and 0.015 of efficiency"), "{text}");
    }
}
