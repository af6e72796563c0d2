//! The performance part of the page: answers first, then charts, points, the velocity triangle, methods and conditions.

use bladeform_quantity::ShownUnits;
use bladeform_table::{
    Answer, BODY_MEANING, Coded, Notice, OperatingFigures, OperatingPoint, Prediction, REST_MEANING, Shown,
    StationTable, cells_at_rest,
};

use crate::escape::{html, json_in_script};
use crate::figures::{Figures, SECOND_COLUMN};
use crate::head::sentence;
use crate::notice::RecordNotice;
use crate::performance::{is_doubtful, performance_charts_in};
use crate::pilot::{CHOICE, pilot, thinned};
use crate::unit::{LengthUnit, hint, said};
use crate::velocity::triangle_data;
use crate::words::{cell, length, list, unit_of, with_unit};

/// Maximum number of points listed in a table. Larger maps are in the CSV file of the prediction.
const MOST_LISTED: usize = 70;
/// As many points are an answer themselves, and stand with the answers. More are a table to look things up in.
const MOST_AT_ONCE: usize = 6;

/// One prediction. `index` distinguishes it from others on the page.
pub(crate) fn prediction(
    prediction: &Prediction,
    table: &StationTable,
    index: usize,
    figures: &mut Figures,
) -> String {
    let mut text = format!(
        "<section class=\"performance\" id=\"performance-{index}\"><h2>Performance{}</h2>",
        numbered(index)
    );
    text.push_str(&in_short(prediction));
    text.push_str(&answers(prediction, index, figures));
    let [(charts, mut notices), (charts_in_inches, _)] = [LengthUnit::Millimetre, LengthUnit::Inch]
        .map(|state| performance_charts_in(prediction, state.units(figures.units)));
    let triangle = triangle_data(prediction, table);
    notices.extend(triangle.iter().filter_map(|(_, notice)| notice.clone()));
    notices.extend(thinned(prediction).map(|(shown, all)| RecordNotice::SpeedsThinned { shown, all }));
    let warnings = list(
        "warnings",
        prediction
            .warnings
            .iter()
            .map(|w| w.sentence().to_owned())
            .chain(notices.iter().map(Coded::sentence))
            .map(|w| sentence(&w)),
    );
    if !warnings.is_empty() {
        text.push_str(&format!("<h3>Warnings of the prediction</h3>{warnings}"));
    }
    if !charts.is_empty() {
        text.push_str(
            "<p>Open circles on dotted lines mark points where more than a fifth of the span is stalled, or that are out of range. Values there are uncertain. \
             Rings with letters mark the answers. Bands are 95 % intervals by the geometry and the methods together; where no published test is at hand there is none, and the error is not known.</p>",
        );
        text.push_str(&format!("<div class=\"{SECOND_COLUMN}\">"));
        for (mut chart, mut in_inches) in charts.into_iter().zip(charts_in_inches) {
            if index > 0 {
                chart.name = format!("{}-{}", chart.name, index + 1);
                in_inches.name.clone_from(&chart.name);
            }
            // Pure numbers are the same in all units.
            let differ = chart.y_label != in_inches.y_label;
            let both = [(LengthUnit::Millimetre, chart), (LengthUnit::Inch, in_inches)];
            text.push_str(&figures.chart_by_unit(if differ { &both } else { &both[..1] }));
        }
        text.push_str("</div>");
    }
    if MOST_AT_ONCE < prediction.points.len() {
        text.push_str(&points(&prediction.points));
    }
    text.push_str(&water_points(&prediction.points));
    text.push_str(&body_points(&prediction.points));
    text.push_str(&at_rest(&prediction.points, figures.units));
    if let Some((data, _)) = triangle {
        text.push_str(&format!(
            "<h3>Velocity triangle</h3><div class=\"triangle\" data-source=\"triangle-{index}\"><div class=\"sliders\"></div>\
             <figure><div class=\"drawing\"></div></figure><div class=\"values\" role=\"status\"></div></div>\
             <script type=\"application/json\" id=\"triangle-{index}\">{}</script>",
            json_in_script(&data.to_string())
        ));
    }
    text.push_str(&schedules(prediction));
    // On paper they stay together, so that the last page does not hold a few lines alone.
    text.push_str(&format!("<div class=\"closing\">{}{}</div>", method(prediction), conditions(prediction)));
    text.push_str("</section>");
    text
}

fn numbered(index: usize) -> String {
    if index == 0 { String::new() } else { format!(" ({})", index + 1) }
}

/// What was computed, in a line.
fn in_short(p: &Prediction) -> String {
    let blades = if p.blades == 1 { "1 blade".to_owned() } else { format!("{} blades", p.blades) };
    let flight = Shown::new("", "m/s", 1.0, 2);
    let speed = p.speed_m_s.map(|v| format!(", {}", with_unit(v, "speed", flight))).unwrap_or_default();
    let fluid = match p.air.water {
        Some(water) => format!("{} ({:.2} kg/m³)", water.kind.name(), p.air.density_kg_m3),
        None => format!("{:.0} m altitude ({:.4} kg/m³)", p.air.altitude_m, p.air.density_kg_m3),
    };
    format!(
        "<p class=\"in-short\">{blades}, diameter {}, {:.0} rpm{speed}, {fluid}. Settings are angles of the {} line at {} R.</p>",
        length(p.diameter_m, None),
        p.rpm,
        p.setting_of.as_str(),
        p.reference_radius_ratio
    )
}

/// The answers: the pilot's question with its charts first, then the others, then the points if they are few.
fn answers(prediction: &Prediction, index: usize, figures: &mut Figures) -> String {
    let (choice, others): (Vec<&Answer>, Vec<&Answer>) =
        prediction.answers.iter().partition(|a| a.name == CHOICE);
    let told = |answers: &[&Answer]| list("answers", answers.iter().map(|a| sentence(&a.sentence)));
    let mut text = String::new();
    if !choice.is_empty() {
        text.push_str(&format!(
            "<h3>One fixed setting for all speeds</h3>{}{}",
            told(&choice),
            pilot(prediction, index, figures)
        ));
    }
    if !others.is_empty() {
        text.push_str(&format!(
            "<h3>Answers</h3><div class=\"long\" tabindex=\"0\" role=\"region\" aria-label=\"Answers\">{}</div>",
            told(&others)
        ));
    }
    if prediction.points.len() <= MOST_AT_ONCE {
        text.push_str(&points(&prediction.points));
    }
    text
}

fn conditions(p: &Prediction) -> String {
    let air = &p.air;
    let [speed, stream] = [2, 1].map(|decimals| Shown::new("", "m/s", 1.0, decimals));
    let flight = p.speed_m_s.map_or("by advance ratio".to_owned(), |v| with_unit(v, "speed", speed));
    let rows = [
        ("Blades", p.blades.to_string()),
        ("Diameter", length(p.diameter_m, None)),
        ("Rotation", format!("{:.1} rpm", p.rpm)),
        ("Flight speed", flight),
        (
            "Setting refers to",
            format!("the {} line at {} R", p.setting_of.as_str(), p.reference_radius_ratio),
        ),
        (
            if air.water.is_some() { "Water" } else { "Air" },
            water_conditions(p).unwrap_or_else(|| format!(
                "{} geopotential altitude, {:+.1} K from standard: {:.4} kg/m³, {:.1} K, {:.0} Pa, speed of sound {}",
                with_unit(air.altitude_m, "altitude", Shown::new("", "m", 1.0, 0)),
                air.temperature_offset_k,
                air.density_kg_m3,
                air.temperature_k,
                air.pressure_pa,
                with_unit(air.speed_of_sound_m_s, "stream", stream)
            )),
        ),
        (
            "Computed from",
            if p.table_sha256.is_empty() {
                html(&p.table_file)
            } else {
                html(&format!("{}, SHA-256 {}", p.table_file, p.table_sha256))
            },
        ),
    ];
    let rows: String = rows
        .iter()
        .map(|(term, text)| format!("<div><dt>{term}</dt><dd>{}</dd></div>", text.trim()))
        .collect();
    format!("<h3>Conditions</h3><dl class=\"facts\">{rows}</dl>")
}

/// The conditions of water; `None` in air.
fn water_conditions(p: &Prediction) -> Option<String> {
    let water = p.air.water?;
    let depth = match water.depth_m {
        Some(depth_m) => {
            format!("shaft {} below the surface", with_unit(depth_m, "altitude", Shown::new("", "m", 1.0, 2)))
        }
        None => "depth of the shaft not known".to_owned(),
    };
    Some(format!(
        "{}: {:.2} kg/m³, {:.4e} Pa s, {:.1} K, vapour pressure {:.0} Pa, {depth}",
        water.kind.name(),
        p.air.density_kg_m3,
        p.air.viscosity_pa_s,
        p.air.temperature_k,
        water.vapour_pressure_pa
    ))
}

/// Coefficients and cavitation of the points in water, in the terms of its trade; empty in air.
fn water_points(points: &[OperatingPoint]) -> String {
    if points.len() > MOST_LISTED || points.iter().all(|p| p.water.is_none()) {
        return String::new();
    }
    let plain = |factor, decimals| Shown::new("", "", factor, decimals);
    let rows: String = points
        .iter()
        .map(|p| {
            let (f, w) = (&p.figures, p.water.unwrap_or_default());
            let cells = [
                cell(f.setting_deg, plain(1.0, 2)),
                cell(f.advance_ratio, plain(1.0, 3)),
                cell(f.thrust_coefficient, plain(1.0, 4)),
                cell(f.torque_coefficient, plain(10.0, 4)),
                cell(f.efficiency, plain(1.0, 3)),
                cell(w.cavitation_number, plain(1.0, 2)),
                cell(w.cavitating_fraction, plain(100.0, 0)),
                cell(w.unchecked_fraction, plain(100.0, 0)),
            ];
            format!("<tr>{}</tr>", cells.iter().map(|c| format!("<td>{c}</td>")).collect::<String>())
        })
        .collect();
    let heads: String = [
        "setting<br>deg",
        "J = V<sub>A</sub>/nD<br>-",
        "K<sub>T</sub><br>-",
        "10 K<sub>Q</sub><br>-",
        "eta<sub>0</sub><br>-",
        "cavitation number sigma<sub>n</sub><br>-",
        "cavitation begins<br>% of span",
        "not looked for<br>% of span",
    ]
    .iter()
    .map(|h| format!("<th scope=\"col\">{h}</th>"))
    .collect();
    format!(
        "<h3>In water</h3><p>V<sub>A</sub> is the speed of advance. The cavitation number is the pressure at the depth of the shaft above that of the vapour, over rho n²D²/2. Cavitation begins where the least pressure on the section is below that of the vapour with the blade pointing up; the figures are those without it.</p>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Coefficients in water, scrolls sideways\">\
         <table class=\"plain\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )
}

/// Propulsive figures of the points with a body behind the propeller; empty without one.
fn body_points(points: &[OperatingPoint]) -> String {
    let of = |p: &OperatingPoint| p.installed.unwrap_or_default();
    if points.len() > MOST_LISTED || points.iter().all(|p| of(p).propulsive_thrust_n.is_none()) {
        return String::new();
    }
    let plain = |decimals| Shown::new("", "", 1.0, decimals);
    let power = Shown::new("", "kW", 1e-3, 2);
    let thrust = Shown::new("", "N", 1.0, 0).enough(points.iter().map(|p| of(p).propulsive_thrust_n));
    let rows: String = points
        .iter()
        .map(|p| {
            let (f, i) = (&p.figures, of(p));
            let cells = [
                cell(f.setting_deg, plain(2)),
                cell(f.advance_ratio, plain(3)),
                cell(i.stream_factor, plain(3)),
                cell(i.shank_power_w, power),
                cell(f.thrust_n, thrust),
                cell(f.efficiency, plain(3)),
                cell(i.propulsive_thrust_n, thrust),
                cell(i.u_method_propulsive_thrust_n.map(|u| 2.0 * u), thrust),
                cell(i.propulsive_efficiency, plain(3)),
                cell(i.u_method_propulsive_efficiency.map(|u| 2.0 * u), plain(3)),
            ];
            format!("<tr>{}</tr>", cells.iter().map(|c| format!("<td>{c}</td>")).collect::<String>())
        })
        .collect();
    let heads: String = [
        "setting<br>deg".to_owned(),
        "V/nD<br>-".to_owned(),
        "stream at 0.75 R<br>of flight".to_owned(),
        format!("power of the shanks<br>{}", unit_of(power)),
        format!("shaft thrust<br>{}", unit_of(thrust)),
        "efficiency<br>-".to_owned(),
        format!("propulsive thrust<br>{}", unit_of(thrust)),
        format!("±m<br>{}", unit_of(thrust)),
        "propulsive efficiency<br>-".to_owned(),
        "±m<br>-".to_owned(),
    ]
    .iter()
    .map(|h| format!("<th scope=\"col\">{h}</th>"))
    .collect();
    format!(
        "<h3>With the body</h3><p>{BODY_MEANING}</p>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Figures with the body, scrolls sideways\">\
         <table class=\"plain\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )
}

fn points(points: &[OperatingPoint]) -> String {
    if points.is_empty() || points.len() > MOST_LISTED {
        return String::new();
    }
    let shown = |unit: &'static str, factor: f64, decimals: usize| Shown::new("", unit, factor, decimals);
    let of = |of: fn(&OperatingFigures) -> Option<f64>| points.iter().map(move |p| of(&p.figures));
    let thrust = shown("N", 1.0, 0).enough(of(|f| f.thrust_n));
    let torque = shown("N m", 1.0, 1).enough(of(|f| f.torque_nm));
    let power = shown("kW", 1e-3, 2).enough(of(|f| f.power_w));
    let (speed, plain) = (shown("m/s", 1.0, 2), |factor, decimals| shown("", factor, decimals));
    let rows: String = points
        .iter()
        .map(|p| {
            let f = &p.figures;
            let cells = [
                cell(f.setting_deg, plain(1.0, 2)),
                cell(f.advance_ratio, plain(1.0, 3)),
                cell(Some(p.speed_m_s), speed),
                cell(Some(p.rpm), plain(1.0, 0)),
                cell(f.thrust_n, thrust),
                cell(f.torque_nm, torque),
                cell(f.power_w, power),
                cell(f.efficiency, plain(1.0, 3)),
                cell(f.helical_tip_mach, plain(1.0, 3)),
                cell(f.stalled_fraction, plain(100.0, 0)),
            ];
            let cells: String = cells.iter().map(|c| format!("<td>{c}</td>")).collect();
            let class = if is_doubtful(p) { " class=\"stalled\"" } else { "" };
            let codes: Vec<&str> = p.flags.iter().map(code_or_noted).collect();
            format!(
                "<tr{class}>{cells}<td class=\"codes\"{}>{}</td></tr>",
                hint(&p.flags.iter().map(Notice::text).collect::<Vec<_>>().join("; ")),
                html(&codes.join(", "))
            )
        })
        .collect();
    let heads = [
        "setting<br>deg".to_owned(),
        "J<br>-".to_owned(),
        format!("speed<br>{}", unit_of(speed)),
        "rotation<br>rpm".to_owned(),
        format!("thrust<br>{}", unit_of(thrust)),
        format!("torque<br>{}", unit_of(torque)),
        format!("power<br>{}", unit_of(power)),
        "efficiency<br>-".to_owned(),
        "helical<br>tip Mach<br>-".to_owned(),
        "stalled<br>% of span".to_owned(),
        "flags".to_owned(),
    ];
    let heads: String = heads.iter().map(|h| format!("<th scope=\"col\">{h}</th>")).collect();
    format!(
        "<h3>Operating points</h3><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Operating points, scrolls sideways\">\
         <table class=\"plain points\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{}",
        flags_text(points)
    )
}

/// Blade elements compared with the free wake at the points at zero speed; empty if no point has a free wake.
fn at_rest(points: &[OperatingPoint], initial: ShownUnits) -> String {
    let still: Vec<&OperatingPoint> =
        points.iter().filter(|p| p.free_wake.is_some()).take(MOST_LISTED).collect();
    if still.is_empty() {
        return String::new();
    }
    // The cells of both families; the unit switch shows one.
    let [mm, inch] =
        [LengthUnit::Millimetre, LengthUnit::Inch].map(|state| cells_at_rest(&still, state.units(initial)));
    let dash = |text: &str| if text == "-" { "–".to_owned() } else { text.to_owned() };
    let both = |(mm, inch): (&String, &String)| match mm == inch {
        true => format!("<td>{}</td>", dash(mm)),
        false => format!("<td><span class=\"said\" data-mm=\"{mm}\" data-in=\"{inch}\">{mm}</span></td>"),
    };
    let rows: String = mm
        .iter()
        .zip(&inch)
        .map(|(mm, inch)| format!("<tr>{}</tr>", mm.iter().zip(inch).map(both).collect::<String>()))
        .collect();
    let [force, work] = [("N", 1.0), ("kW", 1e-3)].map(|(unit, f)| unit_of(Shown::new("", unit, f, 0)));
    let heads = [
        "setting<br>deg".to_owned(),
        format!("thrust, blade elements<br>{force}"),
        format!("thrust, free wake<br>{force}"),
        "difference<br>%".to_owned(),
        format!("power, blade elements<br>{work}"),
        format!("power, free wake<br>{work}"),
        "difference<br>%".to_owned(),
        "tip vortex below the next blade<br>% of R".to_owned(),
    ];
    let heads: String = heads.iter().map(|h| format!("<th scope=\"col\">{h}</th>")).collect();
    format!(
        "<h3>At zero speed</h3><p>{REST_MEANING}</p>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Two models at zero speed, scrolls sideways\">\
         <table class=\"plain\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>"
    )
}

/// The short code of a flag, or a substitute for a text without one.
fn code_or_noted(flag: &Notice) -> &str {
    if flag.code().is_empty() { "noted" } else { flag.code() }
}

/// Every code in a table of points once, with the number of points that have it. The sentence is that of the first point, as its values differ from point to point.
fn flags_text(points: &[OperatingPoint]) -> String {
    let mut found: Vec<(&str, &str, usize)> = Vec::new();
    for (code, sentence) in points.iter().flat_map(|p| &p.flags).map(|f| (code_or_noted(f), f.sentence())) {
        match found.iter_mut().find(|(known, ..)| *known == code) {
            Some((.., count)) => *count += 1,
            None => found.push((code, sentence, 1)),
        }
    }
    let of = points.len();
    list(
        "flags",
        found.iter().map(|(code, sentence, count)| {
            format!("{code}, at {count} of {of} points; first point: {sentence}")
        }),
    )
}

fn schedules(p: &Prediction) -> String {
    p.schedules
        .iter()
        .map(|s| {
            let rows = if s.points.is_empty() { String::new() } else { points(&s.points) };
            format!(
                "<h3>{}</h3>{}",
                said(&sentence(&s.sentence)),
                rows.replacen("<h3>Operating points</h3>", "", 1)
            )
        })
        .collect()
}

fn method(p: &Prediction) -> String {
    let methods = list("methods", p.methods.iter().map(|m| sentence(m)));
    if methods.is_empty() { methods } else { format!("<h3>How it was computed</h3>{methods}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::performance::tests::prediction as example;

    #[test]
    fn at_rest_both_models_are_listed() {
        let mut p = example();
        assert!(at_rest(&p.points, ShownUnits::SI).is_empty());
        p.points[0].free_wake = Some(bladeform_table::FreeWakeModel {
            thrust_n: Some(1234.0),
            thrust_difference: Some(-0.081),
            ..Default::default()
        });
        let text = at_rest(&p.points, ShownUnits::SI);
        assert!(
            text.contains("data-mm=\"1234\" data-in=\"277.4\">1234</span></td><td>-8.1</td>")
                && text.contains("The free wake is the better model"),
            "{text}"
        );
    }

    #[test]
    fn with_a_body_both_thrusts_are_listed() {
        let mut p = example();
        assert!(body_points(&p.points).is_empty());
        p.points[0].installed = Some(bladeform_table::InstalledFigures {
            propulsive_thrust_n: Some(1100.0),
            propulsive_efficiency: Some(0.791),
            ..Default::default()
        });
        let text = body_points(&p.points);
        assert!(text.contains(">1100<") && text.contains("0.791") && text.contains(BODY_MEANING), "{text}");
    }

    #[test]
    fn foreign_sentences_are_escaped_and_every_point_is_listed() {
        let mut p = example();
        p.answers[0].sentence = "</script><b>x".to_owned();
        p.points[0].flags.push(Notice::read("odd: <i>"));
        let mut figures = Figures::default();
        let text = prediction(&p, &StationTable::default(), 0, &mut figures);
        assert!(!text.contains("<b>x") && !text.contains("<i>"));
        assert_eq!(text.matches("class=\"codes\"").count(), 10);
        assert!(text.contains("odd, at 1 of 10 points; first point: &lt;i&gt;"));
        assert!(text.contains("id=\"triangle-0\"") && figures.plots.len() >= 6);
    }
}
