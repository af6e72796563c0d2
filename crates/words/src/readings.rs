//! Readings by hand beside the scan as text for a terminal.

use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};
use bladeform_table::{Reading, StationTable};

use crate::layout::aligned;

/// A block of lines: one row for each reading, then what must be said of all. Empty without readings.
pub(crate) fn reading_lines(table: &StationTable, units: ShownUnits) -> Vec<String> {
    let Some(readings) = table.readings.as_ref().filter(|r| !r.rows.is_empty()) else { return Vec::new() };
    let mut cells = vec![
        ["by hand", "r/R", "unit", "reading", "±2u", "scan", "±2u", "difference", "over u", ""]
            .map(str::to_owned)
            .to_vec(),
    ];
    cells.extend(readings.rows.iter().map(|r| row(r, table.blade.radius_m, units)));
    let mut lines = aligned(&cells);
    lines.extend(readings.remarks().iter().map(|text| units.text(text)));
    lines.push(String::new());
    lines
}

fn row(r: &Reading, tip_radius_m: f64, units: ShownUnits) -> Vec<String> {
    let shown = r.of.shown().in_units(units);
    let half = |u: Option<f64>| shown.text(u.map(|u| COVERAGE_FACTOR_95 * u));
    let ratio = |radius_m: f64| format!("{:.3}", radius_m / tip_radius_m);
    let place = r
        .to_radius_m
        .map_or_else(|| ratio(r.radius_m), |to| format!("{} to {}", ratio(r.radius_m), ratio(to)));
    let far = r.difference_over_u.is_some_and(|z| COVERAGE_FACTOR_95 < z.abs());
    vec![
        shown.label.to_owned(),
        place,
        shown.unit.to_owned(),
        shown.text(Some(r.reading)),
        half(Some(r.u_reading)),
        shown.text(r.scan),
        half(r.u_scan),
        shown.text(r.difference),
        r.difference_over_u.map_or_else(|| "-".to_owned(), |z| format!("{z:.1}")),
        if far { "*".to_owned() } else { String::new() },
    ]
}
