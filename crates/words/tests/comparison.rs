//! The comparison as displayed on a terminal.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_table::{Allowed, BladeFigures, ComparePlan, Station, StationColumn, StationTable, compare};
use bladeform_words::render_comparison;

#[test]
fn what_is_beyond_the_tolerance_is_counted_and_the_caution_stands_below() {
    let table = |chord_m: f64| StationTable {
        blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
        stations: [0.3, 0.45, 0.6, 0.75, 0.9]
            .map(|r| Station { chord_m: Some(chord_m - 0.05 * r), ..Station::at(r, 1.0) })
            .to_vec(),
        ..StationTable::default()
    };
    let tolerances = vec![(StationColumn::ChordM, Allowed::Absolute(1e-3))];
    let plan = ComparePlan { tolerances, ..ComparePlan::default() };
    let c = compare([&table(0.198), &table(0.200)], ["worn", "drawing"], &plan).unwrap();
    let text = render_comparison(&c);
    assert!(text.contains("5 of 5 beyond the tolerance") && text.contains("airworthy"), "{text}");
}
