//! The views of the blade: the two-view drawing of the first screen, and the 3-D view with its controls and its printed picture.

use bladeform_table::{SectionSurface, StationTable};

use crate::checks::Check;
use crate::dents_part;
use crate::drawing::decimals_of;
use crate::escape::json_in_script;
use crate::figures::Figures;
use crate::notice::RecordNotice;
use crate::planform::planform;
use crate::scan::{BladeView, PlacedScan};
use crate::screw_drawing::screw_drawing;
use crate::view::{Distances, limit_m, view_data};
use crate::words::{grouped, length_to};

/// If the median distance between scan and outlines is larger than this fraction of the tip radius, they do not belong together.
const STRANGE_SHARE: f64 = 0.004;

/// The name of a switch of the view as an attribute. By the switch of the scan a page shows that it has one.
pub(crate) fn named(switch: &str) -> String {
    format!("name=\"{switch}\"")
}

/// The switch of the scan.
pub(crate) const SCAN_SWITCH: &str = "scan";

/// The canvas of the 3-D view; a page without it has no such view.
pub(crate) const STAGE: &str = "id=\"stage\"";

/// The two-view drawing as a figure; empty without outlines.
pub(crate) fn drawing(table: &StationTable, scan: Option<&PlacedScan>, figures: &mut Figures) -> String {
    planform(table, scan).map(|drawing| figures.plain("blade-and-stations", &drawing)).unwrap_or_default()
}

/// The drawing of a screw as a part of the page; empty where sections are plane.
pub(crate) fn screw(table: &StationTable, figures: &mut Figures) -> String {
    let Some(drawing) = screw_drawing(table) else { return String::new() };
    let figure = figures.plain("screw", &drawing);
    format!(
        "<section id=\"screw\"><h2>The screw</h2><p>Sections on cylinders about the axis of rotation, laid flat. Outlines run straight from station to station and are not carried on to the tip. Where stations lie close together, only some of their sections are drawn; dashed ones are flagged.</p>{figure}</section>"
    )
}

/// The 3-D view. Whatever is unusual is added to `notices`.
pub(crate) fn view(
    table: &StationTable,
    blades: &[BladeView<'_>],
    scan: Option<&PlacedScan>,
    notices: &mut Vec<RecordNotice>,
) -> String {
    let mut text = String::from("<section id=\"view\"><h2>The blade</h2>");
    let Some(data) = view_data(table, blades, scan) else {
        text.push_str("<p>The table has no outlines, so there is no 3-D view.</p></section>");
        notices.push(RecordNotice::NoOutlines);
        return text;
    };
    let distances = scan.map(|s| Distances::of(&s.distances_m)).filter(|d| d.count > 0);
    if is_strange(table, distances) {
        notices.push(RecordNotice::FarApart);
    }
    let checks = [
        (SCAN_SWITCH, "Scan", scan.is_some()),
        ("outlines", "Fitted outlines", true),
        ("planes", "Section planes", table.sections() == SectionSurface::Plane),
        ("surface", "Surface through the outlines", true),
    ];
    let on = |name: &str| name != "surface" || scan.is_none();
    let checks: String = checks
        .iter()
        .filter(|c| c.2)
        .map(|(name, label, _)| {
            let checked = if on(name) { " checked" } else { "" };
            format!("<label><input type=\"checkbox\" {}{checked}> {label}</label>", named(name))
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
         <div class=\"stage\"><canvas {STAGE} tabindex=\"0\" role=\"img\" aria-label=\"3-D view of the blade: scan, sections and fitted outlines. \
         Arrow keys rotate the view; with Shift they pan it; plus and minus zoom; 0 or Home resets the view.\"></canvas></div>\
         <figure class=\"still-picture\"><canvas id=\"stage-still\" width=\"1\" height=\"1\" role=\"img\" aria-label=\"3-D view of the blade, as rotated when the page was printed.\"></canvas></figure>\
         <p class=\"readout\" id=\"stage-readout\" role=\"status\">Drag to rotate (on a phone, drag sideways). Pinch to zoom, or click the view and use the wheel. Drag with two fingers, with Shift or with the right button to pan. \
         Keys: arrows rotate, Shift and arrows pan, + and − zoom; 0 or Home resets.</p>{}</div>",
        scan.map(|s| scale(distances, s)).unwrap_or_default()
    ));
    if let Some(scan) = scan.filter(|_| distances.is_some()) {
        text.push_str(&dents_part::list(&scan.dents, table.blade.radius_m));
    }
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

fn is_strange(table: &StationTable, distances: Option<Distances>) -> bool {
    distances.is_some_and(|d| d.median_m > STRANGE_SHARE * table.blade.radius_m)
}

/// The scan against the outlines, for the verdict; `None` without a scan.
pub(crate) fn check(table: &StationTable, scan: Option<&PlacedScan>) -> Option<Check> {
    let scan = scan?;
    let distances = Some(Distances::of(&scan.distances_m)).filter(|d| d.count > 0)?;
    Some(dents_part::check(&scan.dents, distances.median_m, is_strange(table, Some(distances))))
}

/// The colour scale with its values, and an explanation. `points`: distances of single points.
fn scale(points: Option<Distances>, scan: &PlacedScan) -> String {
    let Some(points) = points else { return String::new() };
    let (limit, patch_m) = (limit_m(scan), scan.dents.size_m);
    let half = limit / 2.0;
    let means = scan.means_m.iter().flatten();
    let beyond = means.clone().filter(|d| limit < d.abs()).count() as f64 / means.count().max(1) as f64;
    let mm_text = format!("{:.*}", decimals_of(limit * 1e3), limit * 1e3);
    let end = |value_m: f64, sign: &str| length_to(value_m, decimals_of(value_m * 1e3), sign);
    let ends =
        [end(limit, "−"), end(half, "−"), "<span>0</span>".to_owned(), end(half, "+"), end(limit, "+")]
            .concat();
    format!(
        "<div class=\"scale\" role=\"img\" aria-label=\"Colour scale from minus {mm_text} mm, dark, to plus {mm_text} mm, light\">\
         <div class=\"ramp\"></div><div class=\"ends\">{ends}</div></div>\
         <p class=\"words\">Distance of the scan from the outline at its radius, in the plane of the section, as the mean over a patch of {} around each place, so that dents and repairs show and the noise of single points does not: dark where the scan is inside \
         the outline, light where it is outside; {:.1} % are beyond the colour scale. Single points in this view ({}): rms {}, median absolute distance {}. Between stations the outlines are interpolated smoothly. \
         There the distance also includes changes of the blade form between the stations. Parts beyond the stations are not coloured.</p>",
        length_to(patch_m, 1, ""),
        beyond * 100.0,
        grouped(points.count as u64),
        length_to(points.rms_m, 3, ""),
        length_to(points.median_m, 3, "")
    )
}
