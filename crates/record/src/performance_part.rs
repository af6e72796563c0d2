//! The performance part of the page: answers first, then charts, points, the velocity triangle, methods and conditions.

use bladeform_table::{
    Answer, Coded, Notice, OperatingFigures, OperatingPoint, Prediction, REST_MEANING, StationTable,
    cells_at_rest, enough_decimals,
};

use crate::escape::{html, json_in_script};
use crate::figures::{Figures, SECOND_COLUMN};
use crate::head::sentence;
use crate::notice::RecordNotice;
use crate::performance::{is_doubtful, performance_charts};
use crate::pilot::{CHOICE, pilot, thinned};
use crate::velocity::triangle_data;
use crate::words::list;

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
    let (charts, mut notices) = performance_charts(prediction);
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
             Rings with letters mark the answers. Bands are 95 % intervals from the uncertainty of the geometry alone.</p>",
        );
        text.push_str(&format!("<div class=\"{SECOND_COLUMN}\">"));
        for mut chart in charts {
            if index > 0 {
                chart.name = format!("{}-{}", chart.name, index + 1);
            }
            text.push_str(&figures.chart(&chart));
        }
        text.push_str("</div>");
    }
    if MOST_AT_ONCE < prediction.points.len() {
        text.push_str(&points(&prediction.points));
    }
    text.push_str(&at_rest(&prediction.points));
    if let Some((data, _)) = triangle {
        text.push_str(&format!(
            "<h3>Velocity triangle</h3><div class=\"triangle\" data-source=\"triangle-{index}\"><div class=\"sliders\"></div>\
             <figure><div class=\"drawing\"></div></figure><div class=\"values\" role=\"status\"></div></div>\
             <script type=\"application/json\" id=\"triangle-{index}\">{}</script>",
            json_in_script(&data.to_string())
        ));
    }
    text.push_str(&method(prediction));
    text.push_str(&conditions(prediction));
    text.push_str("</section>");
    text
}

fn numbered(index: usize) -> String {
    if index == 0 { String::new() } else { format!(" ({})", index + 1) }
}

/// What was computed, in a line.
fn in_short(p: &Prediction) -> String {
    let blades = if p.blades == 1 { "1 blade".to_owned() } else { format!("{} blades", p.blades) };
    let speed = p.speed_m_s.map(|v| format!(", {v:.2} m/s")).unwrap_or_default();
    format!(
        "<p class=\"in-short\">{blades}, diameter {:.4} m, {:.0} rpm{speed}, {:.0} m altitude ({:.4} kg/m³). Settings are angles of the {} line at {} R.</p>",
        p.diameter_m,
        p.rpm,
        p.air.altitude_m,
        p.air.density_kg_m3,
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
    let speed = p.speed_m_s.map_or("by advance ratio".to_owned(), |v| format!("{v:.2} m/s"));
    let rows = [
        ("Blades", p.blades.to_string()),
        ("Diameter", format!("{:.4} m", p.diameter_m)),
        ("Rotation", format!("{:.1} rpm", p.rpm)),
        ("Flight speed", speed),
        (
            "Setting refers to",
            format!("the {} line at {} R", p.setting_of.as_str(), p.reference_radius_ratio),
        ),
        (
            "Air",
            format!(
                "{:.0} m geopotential altitude, {:+.1} K from standard: {:.4} kg/m³, {:.1} K, {:.0} Pa, speed of sound {:.1} m/s",
                air.altitude_m,
                air.temperature_offset_k,
                air.density_kg_m3,
                air.temperature_k,
                air.pressure_pa,
                air.speed_of_sound_m_s
            ),
        ),
        (
            "Computed from",
            if p.table_sha256.is_empty() {
                p.table_file.clone()
            } else {
                format!("{}, SHA-256 {}", p.table_file, p.table_sha256)
            },
        ),
    ];
    let rows: String = rows
        .iter()
        .map(|(term, text)| format!("<div><dt>{term}</dt><dd>{}</dd></div>", html(text.trim())))
        .collect();
    format!("<h3>Conditions</h3><dl class=\"facts\">{rows}</dl>")
}

fn points(points: &[OperatingPoint]) -> String {
    if points.is_empty() || points.len() > MOST_LISTED {
        return String::new();
    }
    let show = |v: Option<f64>, factor: f64, decimals: usize| {
        v.map_or("–".to_owned(), |v| format!("{:.decimals$}", v * factor))
    };
    let digits = |unit: &str, of: fn(&OperatingFigures) -> Option<f64>, factor: f64, least: usize| {
        enough_decimals(unit, points.iter().map(|p| of(&p.figures)), factor, least)
    };
    let thrust = digits("N", |f| f.thrust_n, 1.0, 0);
    let torque = digits("N m", |f| f.torque_nm, 1.0, 1);
    let power = digits("kW", |f| f.power_w, 1e-3, 2);
    let rows: String = points
        .iter()
        .map(|p| {
            let f = &p.figures;
            let cells = [
                show(f.setting_deg, 1.0, 2),
                show(f.advance_ratio, 1.0, 3),
                show(Some(p.speed_m_s), 1.0, 2),
                show(Some(p.rpm), 1.0, 0),
                show(f.thrust_n, 1.0, thrust),
                show(f.torque_nm, 1.0, torque),
                show(f.power_w, 1e-3, power),
                show(f.efficiency, 1.0, 3),
                show(f.helical_tip_mach, 1.0, 3),
                show(f.stalled_fraction, 100.0, 0),
            ];
            let cells: String = cells.iter().map(|c| format!("<td>{c}</td>")).collect();
            let class = if is_doubtful(p) { " class=\"stalled\"" } else { "" };
            let codes: Vec<&str> = p.flags.iter().map(code_or_noted).collect();
            format!(
                "<tr{class}>{cells}<td class=\"codes\" title=\"{}\">{}</td></tr>",
                html(&p.flags.iter().map(Notice::text).collect::<Vec<_>>().join("; ")),
                html(&codes.join(", "))
            )
        })
        .collect();
    let heads = [
        "setting<br>deg",
        "J<br>-",
        "speed<br>m/s",
        "rotation<br>rpm",
        "thrust<br>N",
        "torque<br>N m",
        "power<br>kW",
        "efficiency<br>-",
        "helical<br>tip Mach<br>-",
        "stalled<br>% of span",
        "flags",
    ];
    let heads: String = heads.iter().map(|h| format!("<th scope=\"col\">{h}</th>")).collect();
    format!(
        "<h3>Operating points</h3><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Operating points, scrolls sideways\">\
         <table class=\"plain points\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{}",
        flags_text(points)
    )
}

/// Blade elements compared with the free wake at the points at zero speed; empty if no point has a free wake.
fn at_rest(points: &[OperatingPoint]) -> String {
    let still: Vec<&OperatingPoint> =
        points.iter().filter(|p| p.free_wake.is_some()).take(MOST_LISTED).collect();
    if still.is_empty() {
        return String::new();
    }
    let cell = |c: &String| format!("<td>{}</td>", if c == "-" { "–" } else { c });
    let rows: String = cells_at_rest(&still)
        .iter()
        .map(|row| format!("<tr>{}</tr>", row.iter().map(cell).collect::<String>()))
        .collect();
    let heads = [
        "setting<br>deg",
        "thrust, blade elements<br>N",
        "thrust, free wake<br>N",
        "difference<br>%",
        "power, blade elements<br>kW",
        "power, free wake<br>kW",
        "difference<br>%",
        "tip vortex below the next blade<br>% of R",
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

fn method(p: &Prediction) -> String {
    let methods = list("methods", p.methods.iter().map(|m| sentence(m)));
    let schedules: String = p
        .schedules
        .iter()
        .map(|s| {
            let rows = if s.points.is_empty() { String::new() } else { points(&s.points) };
            format!(
                "<h3>{}</h3>{}",
                html(&sentence(&s.sentence)),
                rows.replacen("<h3>Operating points</h3>", "", 1)
            )
        })
        .collect();
    if methods.is_empty() { schedules } else { format!("{schedules}<h3>How it was computed</h3>{methods}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::performance::tests::prediction as example;

    #[test]
    fn at_rest_both_models_are_listed() {
        let mut p = example();
        assert!(at_rest(&p.points).is_empty());
        p.points[0].free_wake = Some(bladeform_table::FreeWakeModel {
            thrust_n: Some(1234.0),
            thrust_difference: Some(-0.081),
            ..Default::default()
        });
        let text = at_rest(&p.points);
        assert!(
            text.contains("<td>1234</td><td>-8.1</td>") && text.contains("The free wake is the better model"),
            "{text}"
        );
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
