//! How the figures were obtained: scan, scale and axes; warnings, flags, repairs. Also the title of the comparison.

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};
use bladeform_table::{
    CAUTION, Coded, HandBasis, HubFigures, PartRecord, RecordText, Scale, ScrewFigures, Shown, StationColumn,
    StationTable, known_length_sentences, merged_flags,
};

use crate::escape::html;
use crate::notice::RecordNotice;
use crate::unit::said;
use crate::words::{cell, grouped, length, list, repairs_in_words, unit_of};

/// Title, note and caution.
pub(crate) fn title(kind: &str, date: &str, title: &str, part_note: &str) -> String {
    let note = if part_note.is_empty() {
        String::new()
    } else {
        format!("<p class=\"note\">{}</p>", html(part_note))
    };
    format!(
        "<header><p class=\"kicker\">{kind}, {}</p><h1>{}</h1>{note}<p class=\"caution\"><strong>Caution.</strong> {CAUTION}</p></header>",
        html(date),
        html(title)
    )
}

/// The facts about the part as a description list.
pub(crate) fn facts(table: &StationTable, version: &str) -> String {
    let mut rows: Vec<(&str, String)> = Vec::new();
    let blade = &table.blade;
    if let Some(source) = &table.source {
        let counts = [(source.triangles, "triangles"), (source.vertices, "points")];
        let counts: Vec<String> =
            counts.into_iter().filter_map(|(n, what)| n.map(|n| format!("{} {what}", grouped(n)))).collect();
        let parts = [html(&source.file), html(&source.format), counts.join(", ")];
        rows.push(("Scan", parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join("; ")));
        if !source.sha256.is_empty() {
            rows.push(("SHA-256 of the scan", format!("<code>{}</code>", html(&source.sha256))));
        }
    }
    if let Some(repeats) = &table.repeats {
        let others: Vec<String> = repeats
            .scans
            .iter()
            .skip(1)
            .map(|s| match s.sha256.as_str() {
                "" => html(&s.file),
                sha256 => format!("{} (SHA-256 <code>{}</code>)", html(&s.file), html(sha256)),
            })
            .collect();
        let text = format!(
            "the figures are the mean over {} scans, and the page shows the first. The others: {}. {}",
            repeats.scans.len(),
            others.join("; "),
            said(&sentence(&repeats.verdict()))
        );
        rows.push(("Repeats", text));
    }
    if !table.record.photographs.is_empty() {
        rows.push(("Photographs", crate::photograph::files(&table.record.photographs)));
    }
    rows.push(("Scale", scale(table)));
    rows.extend(table.scale.as_ref().and_then(known_lengths).map(|text| ("Known lengths", text)));
    rows.push(("Hand", hand(table)));
    rows.push(("Diameter", length(2.0 * blade.radius_m, blade.u.radius_m.map(|u| 2.0 * u))));
    rows.push(("Tip radius", length(blade.radius_m, blade.u.radius_m)));
    rows.push((
        "Root radius",
        blade.root_radius_m.map_or_else(missing, |r| length(r, blade.u.root_radius_m)),
    ));
    if let Some(l) = blade.blade_length_m {
        rows.push(("Blade length", length(l, blade.u.blade_length_m)));
    }
    rows.extend(table.hub.as_ref().map_or_else(Vec::new, hub_rows));
    let reference = blade.reference_radius_ratio;
    rows.push(("Reference radius", format!("{reference} R = {}", length(reference * blade.radius_m, None))));
    rows.push(("Setting", setting(table)));
    rows.push((
        "Activity factor of one blade",
        number(blade.activity_factor, blade.u.activity_factor, 1.0, 1, ""),
    ));
    if let Some(screw) = ScrewFigures::of(table) {
        let figure = |(name, shown, value): (&str, Shown, Measured)| {
            format!("{name} {}", quantity(shown, Some(value.value), Some(value.u)))
        };
        rows.push(("Sections", format!("on {}", table.sections().shown())));
        rows.push(("Screw", screw.rows().map(figure).join("; ")));
    }
    if blade.volume_m3.is_some() {
        rows.push(("Volume of one blade", volume(blade.volume_m3, blade.u.volume_m3)));
        rows.extend(mass(table).map(|text| ("Mass of one blade", text)));
    }
    if let Some(n) = blade.blades_in_scan {
        rows.push(("Blades in the scan", n.to_string()));
    }
    if let Some(method) = table.frame.as_ref().map(|f| f.method.as_str()).filter(|m| !m.is_empty()) {
        rows.push(("Axes", said(method)));
    }
    rows.push(("Intervals", "± is a 95 % interval: twice the standard uncertainty".to_owned()));
    rows.push(("Made by", format!("bladeform {}", html(version))));
    let rows: String =
        rows.into_iter().map(|(term, text)| format!("<div><dt>{term}</dt><dd>{text}</dd></div>")).collect();
    format!("<dl class=\"facts\">{rows}</dl>{}", differences(table))
}

/// The hub as the scan shows it.
fn hub_rows(hub: &HubFigures) -> Vec<(&'static str, String)> {
    let of = |m: &Measured| length(m.value, Some(m.u));
    let sizes =
        [("Hub diameter", &hub.diameter_m), ("Hub length", &hub.length_m), ("Bore", &hub.bore_diameter_m)];
    let mut rows: Vec<_> = sizes.iter().filter_map(|(name, m)| Some((*name, of(m.as_ref()?)))).collect();
    rows.extend(hub.bolts.as_ref().map(|bolts| {
        let seen = if bolts.seen < bolts.count {
            format!(" ({} of them seen in the scan)", bolts.seen)
        } else {
            String::new()
        };
        let first = number(Some(bolts.first_deg.value), Some(bolts.first_deg.u), 1.0, 1, "°");
        let text = format!(
            "{}{seen} of {} on a circle of {}; the first {first} from the first blade in the direction of rotation",
            bolts.count,
            of(&bolts.hole_diameter_m),
            of(&bolts.circle_diameter_m)
        );
        ("Bolt holes", text)
    }));
    rows
}

/// What people say of the part. Title, note and date stand at the top of the page.
pub(crate) fn record_rows(record: &PartRecord) -> Vec<(&'static str, String)> {
    const ABOVE: [RecordText; 3] = [RecordText::Title, RecordText::Note, RecordText::Date];
    RecordText::ALL
        .into_iter()
        .filter(|text| !ABOVE.contains(text))
        .filter_map(|text| Some((text.label(), html(record.get(text)?))))
        .collect()
}

/// The known lengths beside the scale, where a distance is among them.
fn known_lengths(scale: &Scale) -> Option<String> {
    let sentences: Vec<String> =
        known_length_sentences(&scale.known_lengths).iter().map(|text| said(&sentence(text))).collect();
    (!sentences.is_empty()).then(|| sentences.join("<br>"))
}

/// Warnings and flags by station. `notices` are those of the page itself.
pub(crate) fn remarks(table: &StationTable, notices: &[RecordNotice]) -> String {
    let mut text = String::from("<h3>Warnings</h3>");
    let warnings: Vec<String> = table
        .warnings
        .iter()
        .map(|w| w.sentence().to_owned())
        .chain(notices.iter().map(Coded::sentence))
        .map(|w| sentence(&w))
        .collect();
    text.push_str(&if warnings.is_empty() { "<p>None.</p>".to_owned() } else { list("warnings", warnings) });
    let members = table.members();
    let flagged = merged_flags(&table.stations).into_iter().map(|flag| flag.text(members));
    let flagged = list("flags", flagged);
    if !flagged.is_empty() {
        text.push_str(&format!("<h3>Flagged stations</h3>{flagged}"));
    }
    text
}

/// What was repaired before measuring.
pub(crate) fn repairs(table: &StationTable) -> String {
    let mut text = String::from("<h3>Repairs before measuring</h3>");
    text.push_str(&match &table.repairs {
        None => "<p>The table does not say what was repaired.</p>".to_owned(),
        Some(repairs) => {
            let words = repairs_in_words(repairs);
            if words.is_empty() {
                "<p>None were needed.</p>".to_owned()
            } else {
                list("repairs", words.iter().map(|w| sentence(w)))
            }
        }
    });
    text
}

/// Adds a capital and a full stop. Warnings in files may have neither.
pub(crate) fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

fn missing() -> String {
    "not stated".to_owned()
}

fn number(value: Option<f64>, u: Option<f64>, factor: f64, decimals: usize, unit: &str) -> String {
    let Some(value) = value else { return missing() };
    let interval = u
        .map(|u| format!(" <small>± {:.decimals$}</small>", COVERAGE_FACTOR_95 * u * factor))
        .unwrap_or_default();
    format!("{:.decimals$}{interval}{unit}", value * factor)
}

/// A volume, m3; follows the unit switch.
pub(crate) fn volume(value: Option<f64>, u: Option<f64>) -> String {
    quantity(Shown::new("volume", "cm³", 1e6, 0), value, u)
}

/// The mass of one blade at the density that is stated, with that density; `None` without density or volume. Its interval is that of the volume.
pub(crate) fn mass(table: &StationTable) -> Option<String> {
    let (density, mass) = (table.record.density_kg_m3?, table.mass_kg()?);
    let u = (0.0 < mass.u).then_some(mass.u);
    // Three digits for a small propeller, grams for a heavy blade.
    let decimals = if mass.value < 0.1 { 4 } else { 3 };
    let text = quantity(Shown::new("mass", "kg", 1.0, decimals), Some(mass.value), u);
    Some(format!("{text} at {density:.0} kg/m³ throughout"))
}

/// A value with its interval and unit; follows the unit switch.
fn quantity(shown: Shown, value: Option<f64>, u: Option<f64>) -> String {
    let half = u.map(|u| format!(" <small>± {}</small>", cell(Some(COVERAGE_FACTOR_95 * u), shown)));
    format!("{}{} {}", cell(value, shown), half.unwrap_or_default(), unit_of(shown))
}

fn scale(table: &StationTable) -> String {
    let Some(scale) = &table.scale else { return missing() };
    let unit = scale.metres_per_unit.map(|m| format!("1 unit of the scan is {m} m"));
    let u = scale.relative_uncertainty.map(|u| format!("± {:.3} %", COVERAGE_FACTOR_95 * u * 100.0));
    let basis = (!scale.basis.is_empty()).then(|| said(&scale.basis));
    let parts: Vec<String> = [unit, u, basis].into_iter().flatten().collect();
    if parts.is_empty() { missing() } else { parts.join("; ") }
}

fn hand(table: &StationTable) -> String {
    let Some(frame) = &table.frame else { return "not stated; drawn as right-hand".to_owned() };
    let basis = frame.how_hand_is_known();
    let known = basis.shown();
    let known =
        if basis == HandBasis::Assumed { format!("<strong>{known}</strong>") } else { known.to_owned() };
    let turns = match frame.hand {
        bladeform_quantity::Hand::Right => "turns clockwise seen from behind",
        bladeform_quantity::Hand::Left => "turns anticlockwise seen from behind; measured in mirrored axes",
    };
    format!("{}-hand ({turns}), {known}", frame.hand)
}

fn setting(table: &StationTable) -> String {
    let place = |ratio: f64| {
        if (ratio - 1.0).abs() < f64::EPSILON { "the tip".to_owned() } else { format!("{ratio} R") }
    };
    let angle = StationColumn::BladeAngleDeg.shown();
    match &table.blade.setting {
        Some(s) => format!(
            "{} deg at {}, angle of the {}",
            angle.text(Some(s.angle_deg)),
            place(s.radius_ratio),
            s.of.as_str()
        ),
        None => format!(
            "<strong>none given</strong>: angles are relative; the chord line at {} is 0 deg",
            place(table.blade.reference_radius_ratio)
        ),
    }
}

/// Differences of the blades of a propeller from their mean.
fn differences(table: &StationTable) -> String {
    if table.blade_differences.is_empty() {
        return String::new();
    }
    let rows: String = table
        .blade_differences
        .iter()
        .map(|d| {
            let angle = number(
                d.mean_blade_angle_difference_deg,
                d.u.mean_blade_angle_difference_deg,
                1.0,
                2,
                " deg",
            );
            let mm = |v: Option<f64>, u: Option<f64>| v.map_or_else(missing, |v| length(v, u));
            format!(
                "<tr><th scope=\"row\">{}</th><td>{angle}</td><td>{}</td><td>{}</td></tr>",
                // Documents count blades from 0, people from 1.
                d.index.saturating_add(1),
                mm(d.mean_chord_difference_m, d.u.mean_chord_difference_m),
                mm(d.track_m, d.u.track_m)
            )
        })
        .collect();
    format!(
        "<h3>Difference of each blade from the mean</h3><table class=\"plain\"><thead><tr><th scope=\"col\">blade</th><th scope=\"col\">blade angle</th>\
         <th scope=\"col\">chord</th><th scope=\"col\">track</th></tr></thead><tbody>{rows}</tbody></table>"
    )
}
