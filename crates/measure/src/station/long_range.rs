//! Uncertainty by long-range errors of the scan, which its own points do not show.

use bladeform_table::{Station, StationColumn, UncertaintySource};

/// Part of the chord over which the face line is fitted.
const FACE_PART: f64 = 0.6;

/// Adds what the stated accuracy of the scan does to the figures: each edge and each side is off by it, independently of the others.
pub(crate) fn add_long_range(s: &mut Station, accuracy_m: f64) {
    let two = std::f64::consts::SQRT_2 * accuracy_m;
    let mut add = |column, u| s.add_uncertainty(column, UncertaintySource::LongRange, u);
    for column in [StationColumn::ChordM, StationColumn::LongestChordM, StationColumn::ThicknessM] {
        add(column, two);
    }
    for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
        add(column, accuracy_m);
    }
    let Some(chord_m) = s.chord_m.filter(|c| 0.0 < *c) else { return };
    let mut add = |column, u| s.add_uncertainty(column, UncertaintySource::LongRange, u);
    let angle = (two / chord_m).to_degrees();
    for (column, u) in [
        (StationColumn::BladeAngleDeg, angle),
        (StationColumn::LongestChordAngleDeg, angle),
        (StationColumn::FaceAngleDeg, angle / FACE_PART),
        (StationColumn::ThicknessRatio, two / chord_m),
        // The middle against both ends.
        (StationColumn::CamberRatio, accuracy_m / chord_m),
        (StationColumn::AreaM2, two * chord_m),
    ] {
        add(column, u);
    }
}
