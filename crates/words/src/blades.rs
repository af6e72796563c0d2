//! The blades of one propeller compared, as text for a terminal.

use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};
use bladeform_table::{BLADE_FIGURES, BladeAlone, BladeRow, BladesComparison, CAUTION, Shown, StationColumn};

use crate::layout::{aligned, text_of};
use crate::warning::{Advice, warning_in};

/// The comparison as text for a terminal, in the given units: the verdict, a line for each blade, a block for each figure, then notes and the caution.
#[must_use]
pub fn render_blades(comparison: &BladesComparison, units: ShownUnits, advice: Advice<'_>) -> String {
    let count = comparison.blades.len();
    let against = if count == 2 { "blade 1 less blade 2" } else { "each less the mean of the others" };
    let mut lines = vec![format!("{}: {count} blades, {against}", comparison.name), String::new()];
    lines.extend(comparison.verdict_sentences().iter().map(|text| units.text(text)));
    lines.push(String::new());
    lines.extend(whole_blades(comparison, units));
    lines.push(String::new());
    if let Some(balance) = &comparison.balance {
        lines.extend(balance.sentences().iter().map(|text| units.text(text)));
        lines.push(String::new());
    }
    for column in BLADE_FIGURES {
        lines.extend(block(comparison, column, units));
    }
    lines.push(
        "*: exceeds 2 u   Differences are those of the station, with what the whole blades differ by."
            .to_owned(),
    );
    lines.extend(comparison.notes.iter().map(|n| format!("Note: {}", warning_in(n, units, advice))));
    lines.push(CAUTION.to_owned());
    text_of(&lines)
}

/// Tip radius, track and azimuth of each blade with their intervals.
fn whole_blades(comparison: &BladesComparison, units: ShownUnits) -> Vec<String> {
    let length = Shown::new("", "mm", 1e3, 1).in_units(units);
    let angle = Shown::new("", "deg", 1.0, 2);
    let head = ["blade", "tip radius", "±2u", "track", "±2u", "azimuth", "±2u", "off even", "±2u"];
    let unit = length.unit;
    let units = ["", unit, unit, unit, unit, "deg", "deg", "deg", "deg"];
    let mut cells: Vec<Vec<String>> = [head, units].map(|row| row.map(str::to_owned).to_vec()).to_vec();
    for blade in &comparison.blades {
        let BladeAlone { index, tip_radius_m, track_m, azimuth_deg, off_even_spacing_deg } = blade;
        let mut row = vec![(index + 1).to_string()];
        for (told, shown) in
            [(tip_radius_m, length), (track_m, length), (azimuth_deg, angle), (off_even_spacing_deg, angle)]
        {
            row.push(shown.text(told.map(|t| t.0)));
            row.push(shown.text(told.and_then(|t| t.1).map(|u| COVERAGE_FACTOR_95 * u)));
        }
        cells.push(row);
    }
    let track = format!(
        "Track: height of the mid-chord at {} {unit} above the mean plane of the blades, towards flight. Azimuth: of the mid-chords, from blade 1 in the direction of rotation.",
        length.text(Some(comparison.track_radius_m))
    );
    aligned(&cells).into_iter().chain([track]).collect()
}

/// Blades beside one another in a block, so that it fits the terminal.
const BESIDE: usize = 4;

fn block(comparison: &BladesComparison, column: StationColumn, units: ShownUnits) -> Vec<String> {
    let rows: Vec<&BladeRow> = comparison.rows.iter().filter(|r| r.column == column).collect();
    let has = |index: &u64| rows.iter().any(|r| r.index == *index);
    let blades: Vec<u64> = comparison.blades.iter().map(|b| b.index).filter(has).collect();
    let head = format!("{}, difference", column.shown().label);
    let of = |beside: &[u64]| {
        let lines = aligned(&cells(&rows, column, beside, units));
        [head.clone()].into_iter().chain(lines).chain([String::new()]).collect::<Vec<_>>()
    };
    blades.chunks(BESIDE).flat_map(of).collect()
}

/// The differences of some blades by station, with heads.
fn cells(rows: &[&BladeRow], column: StationColumn, blades: &[u64], units: ShownUnits) -> Vec<Vec<String>> {
    let (shown, radius) = (column.shown().in_units(units), StationColumn::RadiusM.shown().in_units(units));
    let mut head = vec!["r".to_owned(), "r/R".to_owned()];
    let mut units = vec![radius.unit.to_owned(), "-".to_owned()];
    for index in blades {
        head.extend([format!("blade {} ", index + 1), "±2u".to_owned()]);
        units.extend([format!("{} ", shown.unit), shown.unit.to_owned()]);
    }
    let mut cells = vec![head, units];
    for place in rows.iter().filter(|r| Some(&r.index) == blades.first()) {
        let mut row = vec![radius.text(Some(place.radius_m)), format!("{:.3}", place.radius_ratio)];
        for index in blades {
            let here = |r: &&&BladeRow| r.index == *index && r.radius_m.total_cmp(&place.radius_m).is_eq();
            let found = rows.iter().find(here);
            let mark = if found.is_some_and(|r| r.is_significant() == Some(true)) { "*" } else { " " };
            row.push(shown.text(found.map(|r| r.difference)) + mark);
            row.push(shown.text(found.and_then(|r| r.u).map(|u| COVERAGE_FACTOR_95 * u)));
        }
        cells.push(row);
    }
    // The last column is set to the left: an empty one.
    cells.iter_mut().for_each(|row| row.push(String::new()));
    cells
}
