//! From a scan of a propeller blade to the station table: the library, in one place.
//!
//! ```
//! use bladeform::{MeasurePlan, ScanInput, Silent, measure, write_json};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//! # let mut scan = Vec::new();
//! # bladeform::write_ply_binary(&scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 40_000, ..ScanPlan::clean(1) }).mesh, &mut scan)?;
//! // let scan = std::fs::read("blade.ply")?;
//! let plan = MeasurePlan { length_m: Some(1.30), diameter_m: Some(2.84), ..MeasurePlan::default() };
//! let table = measure(ScanInput::file(&scan, "blade.ply"), &plan, &Silent)?;
//! let chord_m = table.stations[11].chord_m.ok_or("no chord there")?;
//! assert!((0.15..0.25).contains(&chord_m));
//! let mut json = Vec::new();
//! write_json(&table, &mut json)?;
//! # Ok(())
//! # }
//! ```

pub use bladeform_document::{
    DocumentError, read_csv, read_json, read_prediction_json, write_comparison_csv, write_csv, write_json,
    write_prediction_csv, write_prediction_json,
};
pub use bladeform_flow::{
    Air, ComputedPolars, EngineCurve, Flight, FlowBlade, FlowError, FlowNotice, GivenSection, Operation,
    Performance, PointFlag, PolarSource, PredictPlan, Propeller, SectionPolar, SlipstreamPlane,
    SlipstreamPoint, goldstein_circulation, predict, slipstream, slipstream_csv, slipstream_vts,
};
pub use bladeform_measure::{
    Body, HandRule, KnownAngle, LengthFault, MeasureError, MeasureNotice, MeasurePlan, NoBladeReason,
    Observer, ScanInput, Silent, Stage, TipNotice, measure, measure_with_part, part_of,
};
pub use bladeform_mesh::{
    ArrayError, CleanMesh, MeshFormat, RawMesh, ReadError, ReadMesh, ReadNotice, read, write_obj,
    write_ply_binary, write_stl_binary,
};
pub use bladeform_numeric::parallel;
pub use bladeform_quantity::{
    Angle, Hand, Length, Power, QuantityError, Range, SettingRadius, SettingText, Speed, StationRadii,
};
pub use bladeform_record::{
    ComparisonPlan, NoScan, Plot, Record, RecordError, RecordNotice, RecordPlan, ScanPart, comparison_page,
    is_scan_of, must_be_scan_of, record,
};
pub use bladeform_section::{BandPoint, Family, FitSettings, Shape, fit_section, mean_line};
pub use bladeform_solid as solid;
pub use bladeform_table::{
    Allowed, CAUTION, Coded, CompareError, Comparison, ComparisonNotice, Flag, Notice, Prediction, SettingOf,
    Station, StationColumn, StationTable, TableError, TableFault, TableNotice, columns_as_markdown, compare,
};
pub use bladeform_words::{
    Advice, render, render_comparison, render_prediction, render_prediction_with, render_with, warning_text,
};

/// SHA-256 of bytes, hexadecimal.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The examples of the project's front page, so that they compile.
#[cfg(doctest)]
#[doc = include_str!("../../../README.md")]
#[derive(Debug)]
pub struct FrontPage;
