//! The comparison as a file.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_document::write_comparison_csv;
use bladeform_table::{
    Allowed, BladeFigures, ComparePlan, Station, StationColumn, StationTable, StationUncertainty, compare,
};

fn table(chord_m: f64) -> StationTable {
    let station = |ratio: f64| Station {
        chord_m: Some(chord_m - 0.05 * ratio),
        blade_angle_deg: Some(40.0 - 30.0 * ratio),
        u: StationUncertainty {
            chord_m: Some(2e-4),
            blade_angle_deg: Some(0.05),
            ..StationUncertainty::default()
        },
        ..Station::at(ratio, 1.0)
    };
    StationTable {
        blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
        stations: [0.3, 0.45, 0.6, 0.75, 0.9].map(station).to_vec(),
        ..StationTable::default()
    }
}

#[test]
fn every_figure_has_a_row_with_its_marks() {
    let tolerances = vec![(StationColumn::ChordM, Allowed::Absolute(1e-3))];
    let plan = ComparePlan { tolerances, ..ComparePlan::default() };
    let c = compare([&table(0.198), &table(0.200)], ["worn", "drawing"], &plan).unwrap();
    let mut csv = Vec::new();
    write_comparison_csv(&c, &mut csv).unwrap();
    let csv = String::from_utf8(csv).unwrap();
    // Five chords and, as twist, the four angles that are not at the reference radius.
    assert_eq!(csv.lines().count(), 10, "{csv}");
    assert!(csv.lines().nth(1).unwrap().contains(",yes,yes,no,"), "{csv}");
}
