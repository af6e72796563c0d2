//! Text used by several parts of the page: quantities that follow the unit switch, repairs in plain words.

use bladeform_quantity::COVERAGE_FACTOR_95;
use bladeform_table::{ColumnUnit, Repairs, Shown, StationColumn};

use crate::unit::{kind_of, said};

/// How the script of the page converts a value: as a length, as an area, or not at all.
fn kind(unit: ColumnUnit) -> &'static str {
    match unit {
        ColumnUnit::Metre => "length",
        ColumnUnit::SquareMetre => "area",
        _ => "",
    }
}

/// How a column is shown on the page. All lengths are in millimetres, also those that the terminal shows in metres, so that one unit switch works for all.
pub(crate) fn shown(column: StationColumn) -> Shown {
    let shown = column.shown();
    if column.unit() == ColumnUnit::Metre && shown.unit == "m" {
        let decimals = shown.decimals.saturating_sub(3);
        return Shown { unit: "mm", factor: 1e3, decimals, ..shown };
    }
    shown
}

/// The long name of a column.
pub(crate) fn name(column: StationColumn) -> &'static str {
    match column {
        StationColumn::ThicknessRatio => "thickness ratio",
        StationColumn::ThicknessPosition => "maximum thickness at",
        StationColumn::CamberRatio => "camber ratio",
        StationColumn::CamberPosition => "maximum camber at",
        StationColumn::LeadingEdgeRadiusM => "leading-edge radius",
        StationColumn::TrailingEdgeThicknessM => "trailing-edge thickness",
        StationColumn::LongestChordAngleDeg => "angle of the longest chord",
        StationColumn::Points => "scan points in the fit",
        StationColumn::ResidualRmsM => "residual, rms",
        other => other.shown().label,
    }
}

/// Attributes for the script: the exact value in SI, its kind, and its number of decimals in millimetres.
pub(crate) fn attributes(column: StationColumn, value: f64) -> String {
    format!("data-v=\"{value}\" data-k=\"{}\" data-d=\"{}\"", kind(column.unit()), shown(column).decimals)
}

/// The unit of a column for a heading; follows the unit switch.
pub(crate) fn unit(column: StationColumn) -> String {
    match kind(column.unit()) {
        "" if shown(column).unit == "-" => String::new(),
        "" => format!("<span class=\"unit\">{}</span>", shown(column).unit),
        kind => format!("<span class=\"unit\" data-unit=\"{kind}\">{}</span>", shown(column).unit),
    }
}

/// A value of a column with the half width of its 95 % interval. Both follow the unit switch. A missing value is a dash.
pub(crate) fn figure(column: StationColumn, value: Option<f64>, u: Option<f64>) -> String {
    let Some(value) = value.filter(|v| v.is_finite()) else {
        return "<span class=\"none\">–</span>".to_owned();
    };
    let text = |v: f64| shown(column).text(Some(v));
    let mut cell = format!("<span class=\"q\" {}>{}</span>", attributes(column, value), text(value));
    if let Some(half) = u.filter(|u| u.is_finite()).map(|u| COVERAGE_FACTOR_95 * u) {
        cell.push_str(&format!(
            "<small class=\"q\" data-p=\"± \" {}>± {}</small>",
            attributes(column, half),
            text(half)
        ));
    }
    cell
}

/// A length with its unit for running text; follows the unit switch.
pub(crate) fn length(value_m: f64, u_m: Option<f64>) -> String {
    let column = StationColumn::RadiusM;
    format!("{} {}", figure(column, Some(value_m), u_m), unit(column))
}

/// A length with its unit and the given number of decimals in millimetres; follows the unit switch.
pub(crate) fn length_to(value_m: f64, decimals: usize, prefix: &str) -> String {
    format!(
        "<span class=\"q\" data-v=\"{value_m}\" data-k=\"length\" data-d=\"{decimals}\" data-p=\"{prefix}\" data-a=\"\">{prefix}{:.decimals$} mm</span>",
        value_m * 1e3
    )
}

/// A count with its digits in groups of three, separated by non-breaking spaces (ISO 80000-1).
pub(crate) fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (k, digit) in digits.chars().enumerate() {
        // Four digits are readable without a space.
        if 4 < digits.len() && 0 < k && (digits.len() - k).is_multiple_of(3) {
            text.push('\u{a0}');
        }
        text.push(digit);
    }
    text
}

/// A figure in SI with its unit for running text, as written in SI; follows the unit switch.
pub(crate) fn with_unit(value: f64, kind: &str, shown: Shown) -> String {
    format!(
        "<span class=\"q\" data-v=\"{value}\" data-k=\"{kind}\" data-d=\"{}\" data-a=\"\">{} {}</span>",
        shown.decimals,
        shown.text(Some(value)),
        shown.unit
    )
}

/// A figure in SI without its unit, for a cell; follows the unit switch. A missing value is a dash.
pub(crate) fn cell(value: Option<f64>, shown: Shown) -> String {
    let Some(value) = value.filter(|v| v.is_finite()) else { return "–".to_owned() };
    format!(
        "<span class=\"q\" data-v=\"{value}\" data-k=\"{}\" data-d=\"{}\">{}</span>",
        kind_of(shown.unit),
        shown.decimals,
        shown.plain(Some(value))
    )
}

/// A unit for a heading, as written in SI; follows the unit switch.
pub(crate) fn unit_of(shown: Shown) -> String {
    match kind_of(shown.unit) {
        "" => shown.unit.to_owned(),
        kind => format!("<span class=\"unit\" data-unit=\"{kind}\">{}</span>", shown.unit),
    }
}

/// A list of sentences, each escaped, their figures following the unit switch; empty for none.
pub(crate) fn list(class: &str, sentences: impl IntoIterator<Item = String>) -> String {
    let items: String = sentences.into_iter().map(|s| format!("<li>{}</li>", said(&s))).collect();
    if items.is_empty() { items } else { format!("<ul class=\"{class}\">{items}</ul>") }
}

/// What was removed or repaired before measuring: one sentence for each kind that occurred.
pub(crate) fn repairs_in_words(repairs: &Repairs) -> Vec<String> {
    repairs.counts().filter(|(_, n)| *n > 0).map(|(key, n)| repair(key, n)).collect()
}

fn repair(key: &str, n: u64) -> String {
    let (one, many) = match key {
        "duplicate_vertices" => ("duplicate point was merged", "duplicate points were merged"),
        "near_duplicate_vertices" => (
            "point on an open edge was merged with one that differed only by rounding",
            "points on open edges were merged with ones that differed only by rounding",
        ),
        "degenerate_triangles" => {
            ("triangle with zero area was removed", "triangles with zero area were removed")
        }
        "duplicate_triangles" => ("duplicate triangle was removed", "duplicate triangles were removed"),
        "stray_components" => ("loose fragment was removed", "loose fragments were removed"),
        "ground_components" => {
            ("piece of bench or ground was removed", "pieces of bench or ground were removed")
        }
        "flipped_triangles" => (
            "triangle was flipped to match the orientation of its neighbours",
            "triangles were flipped to match the orientation of their neighbours",
        ),
        "non_finite_vertices" => (
            "point with non-finite coordinates was removed",
            "points with non-finite coordinates were removed",
        ),
        "unreferenced_vertices" => {
            ("point that no triangle uses was removed", "points that no triangle uses were removed")
        }
        "triangles_out_of_range" => (
            "triangle that refers to a missing point was removed",
            "triangles that refer to missing points were removed",
        ),
        "triangles_with_non_finite_vertices" => {
            ("triangle with a non-finite point was removed", "triangles with a non-finite point were removed")
        }
        "boundary_edges" => {
            ("open edge (edge of a hole) was left open", "open edges (edges of holes) were left open")
        }
        "non_manifold_edges" => (
            "edge where more than two triangles meet was left unchanged",
            "edges where more than two triangles meet were left unchanged",
        ),
        other => return format!("{}: {n}", other.replace('_', " ")),
    };
    format!("{} {}", grouped(n), if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_counts_are_parted_in_threes() {
        assert_eq!(
            [7, 1234, 12_345, 1_234_567].map(grouped),
            ["7", "1234", "12\u{a0}345", "1\u{a0}234\u{a0}567"]
        );
    }

    #[test]
    fn a_figure_carries_its_exact_value_and_its_interval() {
        let cell = figure(StationColumn::ChordM, Some(0.206_123), Some(0.000_2));
        assert!(
            cell.contains("data-v=\"0.206123\"") && cell.contains(">206.1<") && cell.contains("± 0.4<"),
            "{cell}"
        );
        assert!(
            figure(StationColumn::PitchM, Some(1.234_5), None).contains(">1234<")
                || figure(StationColumn::PitchM, Some(1.234_5), None).contains(">1235<")
        );
        assert!(figure(StationColumn::PitchM, None, None).contains('–'));
    }

    #[test]
    fn repairs_are_sentences_and_unknown_ones_are_kept() {
        let mut repairs = Repairs { stray_components: 1, flipped_triangles: 12, ..Repairs::default() };
        repairs.count("odd_things", 3);
        assert_eq!(
            repairs_in_words(&repairs),
            [
                "1 loose fragment was removed",
                "12 triangles were flipped to match the orientation of their neighbours",
                "odd things: 3",
            ]
        );
    }
}
