//! The section sheets of the page.

use bladeform_table::{Station, StationColumn};

use crate::escape::html;
use crate::scan::{BladeView, PlacedScan};
use crate::sheet::{Sheet, sheet_scale};
use crate::words::{figure, length, list, name, unit};
use bladeform_numeric::parallel;

/// Values listed next to a sheet.
const FIGURES: [StationColumn; 15] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::ThicknessM,
    StationColumn::ThicknessRatio,
    StationColumn::ThicknessPosition,
    StationColumn::CamberRatio,
    StationColumn::CamberPosition,
    StationColumn::LeadingEdgeRadiusM,
    StationColumn::TrailingEdgeThicknessM,
    StationColumn::LongestChordM,
    StationColumn::LongestChordAngleDeg,
    StationColumn::AreaM2,
    StationColumn::Points,
    StationColumn::ResidualRmsM,
];

/// Those that paper has in the station table only.
const NOT_ON_PAPER: [StationColumn; 3] =
    [StationColumn::ThicknessRatio, StationColumn::Points, StationColumn::ResidualRmsM];

/// The sheets of all blades and their number. All have one scale, so that they can be compared side by side.
pub(crate) fn sheets(blades: &[BladeView<'_>], scan: Option<&PlacedScan>) -> (String, usize) {
    let chords = blades.iter().flat_map(|b| b.stations.iter().filter_map(|s| s.chord_m));
    let widest_m = chords.fold(0.0, f64::max);
    let n = sheet_scale(widest_m);
    let (mut text, mut count) = (String::new(), 0);
    for blade in blades {
        let points = scan.map(|scan| scan.section_points(blade)).unwrap_or_default();
        let rows: Vec<(usize, &Station)> = blade.stations.iter().enumerate().collect();
        let drawn = parallel::map(&rows, |&(k, station)| {
            sheet(blade, station, points.get(k).cloned().unwrap_or_default(), [n, widest_m], count + k)
        });
        text.push_str(&drawn.concat());
        count += rows.len();
    }
    (text, count)
}

/// What the lines of the sheets mean; empty without sheets.
pub(crate) fn key(sheets: usize) -> String {
    if sheets == 0 {
        return String::new();
    }
    format!("<figure class=\"key\" id=\"sheet-key\">{}</figure>", crate::sheet::key().to_svg("sheet-key"))
}

/// One sheet, drawn at 1:`n` beside others of chords up to `widest_m`.
fn sheet(
    blade: &BladeView<'_>,
    station: &Station,
    scan: Vec<[f64; 2]>,
    [n, widest_m]: [f64; 2],
    index: usize,
) -> String {
    let of_blade = blade.index.map(|i| format!("Blade {}, ", i.saturating_add(1))).unwrap_or_default();
    let title = format!("{of_blade}{:.3} R, r = {:.1} mm", station.radius_ratio, station.radius_m * 1e3);
    let drawing = match Sheet::new(station, scan) {
        Some(sheet) => format!(
            "<figure>{}</figure>",
            sheet.draw(&format!("Section at {title}"), n, widest_m).to_svg(&format!("sheet{index}"))
        ),
        None => "<p>No outline: this station could not be drawn.</p>".to_owned(),
    };
    let figures: String = FIGURES
        .iter()
        .filter(|c| c.get(station).is_some())
        .map(|c| {
            let more = if NOT_ON_PAPER.contains(c) { " class=\"more\"" } else { "" };
            format!(
                "<div{more}><dt>{} {}</dt><dd>{}</dd></div>",
                html(name(*c)),
                unit(*c),
                figure(*c, c.get(station), c.u(station))
            )
        })
        .collect();
    // On paper the sentences stand once among the warnings.
    let codes: Vec<String> = station.flags.iter().map(|f| html(f.code())).filter(|c| !c.is_empty()).collect();
    let codes = match codes.is_empty() {
        true => String::new(),
        false => format!("<span class=\"on-paper codes\">◯ {}</span>", codes.join(", ")),
    };
    let flags = list("flags", station.flags.iter().map(|f| f.text()));
    let later = if blade.index.is_some_and(|k| 0 < k) { " later" } else { "" };
    let heading = format!("{of_blade}{:.3} R, r = {}", station.radius_ratio, length(station.radius_m, None));
    format!(
        "<article class=\"sheet{later}\" data-name=\"{}\"><h3><span class=\"place\">{heading}</span>{codes}</h3>{flags}{drawing}<dl class=\"figures\">{figures}</dl>{}</article>",
        html(&title),
        remarks(station)
    )
}

/// Comparisons of the outline, and the uncertainty budgets of its chord and angle.
fn remarks(station: &Station) -> String {
    let mut lines = vec![];
    if let Some(near) = station.near_sections.first() {
        let verdict = match near.within_noise {
            Some(true) => ", within the scan noise",
            Some(false) => ", more than the scan noise",
            None => "",
        };
        let rms = near.rms_m.map_or(String::new(), |m| format!(": {:.2} mm rms", 1e3 * m));
        lines.push(format!(
            "Nearest published section (for information only; no value depends on it): {}{rms}{verdict}.",
            near.section
        ));
    }
    let departures: Vec<String> = station
        .departures
        .parts
        .iter()
        .filter_map(|(part, d)| Some(format!("{} {:.2}", part.name(), 1e3 * d.rms_m?)))
        .collect();
    if !departures.is_empty() {
        lines.push(format!(
            "Deviation of the scan from the outline, rms (single points, including noise): {}.",
            departures.join(", ")
        ));
    }
    for (column, factor, unit) in
        [(StationColumn::ChordM, 1e3, "mm"), (StationColumn::BladeAngleDeg, 1.0, "deg")]
    {
        let parts: Vec<String> = station
            .budget
            .of(column)
            .map(|(source, u)| format!("{} {:.3} {unit}", source.key(), factor * u))
            .collect();
        if !parts.is_empty() {
            lines.push(format!(
                "Standard uncertainty of the {}, by source: {}.",
                name(column),
                parts.join(", ")
            ));
        }
    }
    list("remarks", lines)
}
