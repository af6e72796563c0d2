//! Fuzzing of every reader of user files and of the whole measurement. None may panic, whatever the bytes.
//!
//! Each reader has a program for coverage-guided fuzzing. The program `seeds` writes its first inputs ([`seeds`]); a test runs them and seeded
//! mutations of them ([`mutation`]) through all readers. `.ci/fuzz` runs the programs. `tests/findings.rs` contains the findings.
//!
//! Without the feature `whole` there are the readers of meshes, tables and predictions only: less to build with the fuzzer's marks.

#[cfg(feature = "whole")]
use bladeform_flow::EngineCurve;
#[cfg(feature = "whole")]
use bladeform_measure::{MeasurePlan, measure};
#[cfg(feature = "whole")]
use bladeform_polar::{GivenPolar, SectionPolar as _};
#[cfg(feature = "whole")]
use bladeform_quantity::StationRadii;

#[cfg(feature = "whole")]
pub mod mutation;
#[cfg(feature = "whole")]
pub mod seeds;

/// A reader under test. It returns whether it accepted the bytes.
pub type Reader = fn(&[u8]) -> bool;

/// All readers, by the name of their program.
#[cfg(feature = "whole")]
pub const READERS: [(&str, Reader); 7] = [
    ("mesh", mesh),
    ("measurement", measurement),
    ("stations_json", stations_json),
    ("stations_csv", stations_csv),
    ("prediction_json", prediction_json),
    ("polar_csv", polar_csv),
    ("engine_csv", engine_csv),
];

/// PLY, STL, OBJ, GLB.
#[must_use]
pub fn mesh(bytes: &[u8]) -> bool {
    bladeform_mesh::read(bytes).is_ok()
}

/// Stations of a fuzzed measurement. More stations would only repeat the same paths through the code.
#[cfg(feature = "whole")]
const FUZZED_STATIONS: usize = 4;

/// From a mesh file to the station table.
#[cfg(feature = "whole")]
#[must_use]
pub fn measurement(bytes: &[u8]) -> bool {
    let plan = MeasurePlan {
        length_m: Some(1.0),
        stations: StationRadii::Count(FUZZED_STATIONS),
        ..MeasurePlan::default()
    };
    measure(bladeform_measure::ScanInput::file(bytes, "fuzz"), &plan, &bladeform_measure::Silent).is_ok()
}

/// A station table, read, written and read again. The written table must be accepted and give the same bytes.
///
/// # Panics
/// If it is not.
#[must_use]
pub fn stations_json(bytes: &[u8]) -> bool {
    let Ok(table) = bladeform_document::read_json(bytes) else { return false };
    let mut once = Vec::new();
    if bladeform_document::write_json(&table, &mut once).is_err() {
        return false;
    }
    let again = bladeform_document::read_json(&once).expect("what was written is read");
    let mut twice = Vec::new();
    bladeform_document::write_json(&again, &mut twice).expect("what was read is written");
    assert!(once == twice, "the same bytes");
    true
}

/// A station table as CSV.
#[must_use]
pub fn stations_csv(bytes: &[u8]) -> bool {
    bladeform_document::read_csv(bytes, Some(1.0)).is_ok()
}

/// A prediction.
#[must_use]
pub fn prediction_json(bytes: &[u8]) -> bool {
    bladeform_document::read_prediction_json(bytes).is_ok()
}

/// A user's own section polar, evaluated at all angles.
///
/// # Panics
/// If an accepted polar gives a force that is not a number.
#[cfg(feature = "whole")]
#[must_use]
pub fn polar_csv(bytes: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(bytes) else { return false };
    let Ok(polar) = GivenPolar::from_csv(text, 0.12) else { return false };
    for step in -12..=12 {
        let alpha_rad = f64::from(step) * std::f64::consts::PI / 12.0;
        let forces = polar.forces(alpha_rad, 5e5, 0.3);
        assert!(forces.lift.is_finite() && forces.drag.is_finite(), "{forces:?} at {alpha_rad} rad");
    }
    true
}

/// A user's own engine curve.
#[cfg(feature = "whole")]
#[must_use]
pub fn engine_csv(bytes: &[u8]) -> bool {
    std::str::from_utf8(bytes).is_ok_and(|text| EngineCurve::read_csv(text).is_ok())
}
