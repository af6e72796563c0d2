//! The part of the page to look at: the drawing of the two views, and the 3-D view with its switches and the picture of it that is printed.

use bladeform_table::StationTable;

use crate::drawing::decimals_of;
use crate::escape::json_in_script;
use crate::page::Figures;
use crate::planform::planform;
use crate::scan::{BladeView, PlacedScan};
use crate::view::{Distances, view_data};
use crate::words::{grouped, length_to};

/// Scan and outlines this far apart in the median do not belong together, as a fraction of the tip radius.
const STRANGE_SHARE: f64 = 0.004;

/// The two-view drawing and the 3-D view. Sentences about what is odd are added to `notes`.
pub(crate) fn view(
    table: &StationTable,
    blades: &[BladeView<'_>],
    scan: Option<&PlacedScan>,
    figures: &mut Figures,
    notes: &mut Vec<String>,
) -> String {
    let mut text = String::from("<section id=\"view\"><h2>The blade</h2>");
    if let Some(drawing) = planform(table, scan) {
        text.push_str(&figures.plain("blade-and-stations", &drawing));
    }
    let Some(data) = view_data(table, blades, scan) else {
        text.push_str("<p>The table holds no outlines: there is nothing to turn.</p></section>");
        notes.push("the table holds no outlines; sections and the view in space are left out".to_owned());
        return text;
    };
    let distances = scan.map(|s| Distances::of(&s.distances_m)).filter(|d| d.count > 0);
    if distances.is_some_and(|d| d.median_m > STRANGE_SHARE * table.blade.radius_m) {
        notes.push("scan and outlines lie far apart: do table and scan belong together?".to_owned());
    }
    let checks = [
        ("scan", "Scan", scan.is_some()),
        ("outlines", "Fitted outlines", true),
        ("planes", "Section planes", true),
        ("surface", "Surface through the outlines", true),
    ];
    let on = |name: &str| name != "surface" || scan.is_none();
    let checks: String = checks
        .iter()
        .filter(|c| c.2)
        .map(|(name, label, _)| {
            let checked = if on(name) { " checked" } else { "" };
            format!("<label><input type=\"checkbox\" name=\"{name}\"{checked}> {label}</label>")
        })
        .collect();
    let colour = if distances.is_some() {
        "<label><input type=\"checkbox\" name=\"colour\" checked> Colour by distance from the outlines</label>"
    } else {
        ""
    };
    let views: String =
        [("back", "Back"), ("face", "Face"), ("leading", "Leading edge"), ("tip", "From the tip")]
            .iter()
            .map(|(view, label)| format!("<button type=\"button\" data-view=\"{view}\">{label}</button>"))
            .collect();
    text.push_str(&format!(
        "<div class=\"space\"><div class=\"tools\">{checks}{colour}</div><div class=\"tools\">{views}</div>\
         <div class=\"stage\"><canvas id=\"stage\" tabindex=\"0\" role=\"img\" aria-label=\"The blade in space: scan, section planes and fitted outlines. \
         Arrow keys turn it, with Shift they shift it; plus and minus zoom; 0 or Home resets the view.\"></canvas></div>\
         <figure class=\"still-picture\"><canvas id=\"stage-still\" width=\"1\" height=\"1\" role=\"img\" aria-label=\"The blade in space, as it was turned when the page was printed.\"></canvas></figure>\
         <p class=\"readout\" id=\"stage-readout\" role=\"status\">Drag to turn (on a phone, sideways). Pinch to zoom, or click and use the wheel. Drag with two fingers, with Shift or with the right button to shift. \
         Keys: arrows, Shift and arrows, + and −; 0 or Home resets.</p>{}</div>",
        scale(distances)
    ));
    if scan.is_none() {
        text.push_str(
            "<p>Without the scan only the fitted outlines and the surface through them are shown.</p>",
        );
    }
    text.push_str(&format!(
        "<script type=\"application/json\" id=\"view-data\">{}</script></section>",
        json_in_script(&data.to_string())
    ));
    text
}

/// The scale of the colours with its figures in words.
fn scale(distances: Option<Distances>) -> String {
    let Some(d) = distances else { return String::new() };
    let (limit, half) = (d.limit_m, d.limit_m / 2.0);
    let mm_text = format!("{:.*}", decimals_of(limit * 1e3), limit * 1e3);
    let end = |value_m: f64, sign: &str| length_to(value_m, decimals_of(value_m * 1e3), sign);
    let ends =
        [end(limit, "−"), end(half, "−"), "<span>0</span>".to_owned(), end(half, "+"), end(limit, "+")]
            .concat();
    format!(
        "<div class=\"scale\" role=\"img\" aria-label=\"Scale of the colours from minus {mm_text} mm, dark, to plus {mm_text} mm, light\">\
         <div class=\"ramp\"></div><div class=\"ends\">{ends}</div></div>\
         <p class=\"words\">Distance of each scan point from the outline at its radius, within the section's plane: dark where the scan lies inside, light where it \
         stands proud. Over {} points that the view keeps of the scan: rms {}, median of the sizes {}, {:.1} % beyond the scale. Between stations the outlines are carried smoothly from one to \
         the next, so there the distance also holds what the blade does between them. Parts beyond the stations are plain.</p>",
        grouped(d.count as u64),
        length_to(d.rms_m, 3, ""),
        length_to(d.median_m, 3, ""),
        d.beyond * 100.0
    )
}
