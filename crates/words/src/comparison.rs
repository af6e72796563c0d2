//! A comparison of two tables as text for a terminal.

use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};

use bladeform_table::{CAUTION, COMPARED, Comparison, StationColumn};

use crate::layout::{aligned, text_of};
use crate::warning::{no_advice, warning_in};

/// The comparison as text for a terminal: a block for each figure with marks at large differences and a summary line, then notes and the caution.
#[must_use]
pub fn render_comparison(comparison: &Comparison) -> String {
    render_comparison_in(comparison, ShownUnits::SI)
}

/// As [`render_comparison`], with every figure in the given units.
#[must_use]
pub fn render_comparison_in(comparison: &Comparison, units: ShownUnits) -> String {
    let [a, b] = &comparison.names;
    let mut lines = vec![format!("{a} (first) less {b} (second)"), String::new()];
    lines.extend(comparison.verdict_sentences().iter().map(|text| units.text(text)));
    lines.push(String::new());
    for column in COMPARED {
        lines.extend(block(comparison, column, units));
    }
    lines.push(
        "*: exceeds 2 u of both together   !: exceeds the tolerance   ~: read between the second's stations"
            .to_owned(),
    );
    lines.extend(comparison.notes.iter().map(|n| format!("Note: {}", warning_in(n, units, &no_advice))));
    lines.push(CAUTION.to_owned());
    text_of(&lines)
}

fn block(comparison: &Comparison, column: StationColumn, units: ShownUnits) -> Vec<String> {
    let (shown, radius) = (column.shown().in_units(units), StationColumn::RadiusM.shown().in_units(units));
    let found = comparison.of(column);
    let Some(summary) = comparison.summary(column) else { return Vec::new() };
    let of = if comparison.is_twist(column) { ", as twist" } else { "" };
    let mut cells = vec![
        ["r", "r/R", "first", "second", "difference", "±2u", "mark"].map(str::to_owned).to_vec(),
        [radius.unit, "-", shown.unit, shown.unit, shown.unit, shown.unit, ""].map(str::to_owned).to_vec(),
    ];
    for (s, f) in &found {
        let mark = |yes: Option<bool>, sign: &'static str| if yes == Some(true) { sign } else { "" };
        cells.push(vec![
            radius.text(Some(s.radius_m)),
            format!("{:.3}", s.radius_ratio),
            shown.text(Some(f.values[0])),
            shown.text(Some(f.values[1])),
            shown.text(Some(f.difference)),
            shown.text(f.u.map(|u| COVERAGE_FACTOR_95 * u)),
            [
                mark(f.is_significant, "*"),
                mark(f.is_beyond_tolerance, "!"),
                mark(Some(f.is_between_stations), "~"),
            ]
            .concat(),
        ]);
    }
    let ((significant, judged), (beyond, toleranced)) = (summary.significant, summary.beyond_tolerance);
    let mut words = format!(
        "mean difference {} {unit}, RMS {} {unit}; {significant} of {judged} beyond 2 u",
        shown.text(Some(summary.mean)),
        shown.text(Some(summary.rms)),
        unit = shown.unit
    );
    if 0 < toleranced {
        words.push_str(&format!("; {beyond} of {toleranced} beyond the tolerance"));
    }
    let head = format!("{}{of}", shown.label);
    [head].into_iter().chain(aligned(&cells)).chain([words, String::new()]).collect()
}
