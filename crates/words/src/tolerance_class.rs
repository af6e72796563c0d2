//! A screw against an accuracy class as text for a terminal.

use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};
use bladeform_table::{CAUTION, ClassFigure, ClassReport, ClassRow, ClassVerdict, Shown};

use crate::layout::{aligned, text_of};

/// Rows of one figure that are listed; the file has all.
const LISTED: usize = 12;

/// The report as text: for every figure how many values are within the tolerance, and those that are not.
#[must_use]
pub fn render_class(report: &ClassReport, units: ShownUnits) -> String {
    let against = match &report.drawing {
        Some(name) => format!("against {name}"),
        None => "against the mean of its blades, since no drawing was given: differences within and between blades".to_owned(),
    };
    let mut lines = vec![format!("Tolerance class {}, {against}", report.class.name), String::new()];
    for figure in ClassFigure::ALL {
        let rows: Vec<&ClassRow> = report.rows.iter().filter(|r| r.figure == figure).collect();
        if !rows.is_empty() {
            lines.extend(block(figure, &rows, units));
        }
    }
    if report.by_nose_and_tail {
        lines.push("Note: the outlines of the sections are not known at every radius of both, so that pitch is that of the line from nose to tail and local pitch is not judged. Classes of screws judge the face: on a curved one its pitch is another, so the drawing must state that of nose and tail too. Give a drawing with outlines to judge the face.".to_owned());
    }
    if !report.missing_radii.is_empty() {
        let radius = |r: &f64| if *r == 0.0 { "near the hub".to_owned() } else { format!("{r} R") };
        let list: Vec<String> = report.missing_radii.iter().map(radius).collect();
        lines.push(format!(
            "Note: the class wants radii that all blades of the table do not have: {}. Means are over fewer radii; measure the scan at these radii too.",
            list.join(", ")
        ));
    }
    if let Some([from, to]) = report.class.diameters_m
        && !(from..=to).contains(&report.diameter_m)
    {
        let shown = Shown::new("", "mm", 1e3, 0).in_units(units);
        lines.push(format!(
            "Note: the class is for screws of {} to {} {unit} diameter, and this one has {} {unit}: its percentages are used all the same, and its least tolerances in {unit} are large for a small screw.",
            shown.text(Some(from)),
            shown.text(Some(to)),
            shown.text(Some(report.diameter_m)),
            unit = shown.unit
        ));
    }
    lines.push("Undecided: the limit lies within 2 u of the value. Edge form, surface, radius of the tip and material are not judged: this is no certificate of a class.".to_owned());
    lines.push(CAUTION.to_owned());
    text_of(&lines)
}

fn block(figure: ClassFigure, rows: &[&ClassRow], units: ShownUnits) -> Vec<String> {
    let count = |v: ClassVerdict| rows.iter().filter(|r| r.verdict == v).count();
    let [within, beyond, undecided] =
        [ClassVerdict::Within, ClassVerdict::Beyond, ClassVerdict::Undecided].map(count);
    let mut lines = vec![format!(
        "{}: {within} of {} within, {beyond} beyond, {undecided} undecided",
        figure.shown(),
        rows.len()
    )];
    let shown = if figure == ClassFigure::Spacing {
        Shown::new("", "deg", 1.0, 2)
    } else {
        Shown::new("", "mm", 1e3, 2).in_units(units)
    };
    // The worst first.
    let over = |r: &ClassRow| {
        let half = 0.5 * (r.allowed[1] - r.allowed[0]).abs().max(1e-12);
        ((r.allowed[0] - r.measured).max(r.measured - r.allowed[1])) / half
    };
    let mut listed: Vec<&&ClassRow> = rows.iter().filter(|r| r.verdict != ClassVerdict::Within).collect();
    listed.sort_by(|a, b| {
        let first = |r: &ClassRow| u8::from(r.verdict != ClassVerdict::Beyond);
        first(a).cmp(&first(b)).then(over(b).total_cmp(&over(a)))
    });
    if listed.is_empty() {
        lines.push(String::new());
        return lines;
    }
    let of_chord = figure == ClassFigure::LocalPitch;
    let mut cells = vec![
        ["blade", "r/R", "of the chord", "measured", "±2u", "design", "least", "greatest", "verdict"]
            .map(str::to_owned)
            .to_vec(),
        ["", "-", "-", shown.unit, shown.unit, shown.unit, shown.unit, shown.unit, ""]
            .map(str::to_owned)
            .to_vec(),
    ];
    for r in listed.iter().take(LISTED) {
        cells.push(vec![
            r.blade.map_or_else(|| "all".to_owned(), |k| (k + 1).to_string()),
            r.radius_ratio.map_or_else(String::new, |v| format!("{v:.3}")),
            r.between.map_or_else(String::new, |[a, b]| format!("{a} to {b}")),
            shown.text(Some(r.measured)),
            shown.text(r.u.map(|u| COVERAGE_FACTOR_95 * u)),
            shown.text(Some(r.design)),
            shown.text(Some(r.allowed[0])),
            shown.text(Some(r.allowed[1])),
            r.verdict.key().to_owned(),
        ]);
    }
    if !of_chord {
        cells.iter_mut().for_each(|row| {
            row.remove(2);
        });
    }
    lines.extend(aligned(&cells));
    if LISTED < listed.len() {
        lines.push(format!("and {} more in the file", listed.len() - LISTED));
    }
    lines.push(String::new());
    lines
}
