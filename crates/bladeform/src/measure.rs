//! From a scan to the station table: axes, hand, scale, stations.
//!
//! A scan is the bytes of a file or a mesh in memory. Trouble at one station is a flag of that station; an error means that
//! there is no table at all.
//!
//! ```
//! use bladeform::measure::{MeasurePlan, ScanInput, measure};
//! use bladeform::quantity::StationRadii;
//! use bladeform::work::Silent;
//! use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//! # fn main() -> Result<(), bladeform::measure::MeasureError> {
//! let blade = Blade::quarry_mill();
//! let scan = scan_of_blade(&blade, &ScanPlan { triangles: 40_000, ..ScanPlan::clean(1) });
//! let plan = MeasurePlan {
//!     length_m: Some(blade.length_m()),
//!     diameter_m: Some(2.0 * blade.radius_m),
//!     stations: StationRadii::Ratios(vec![0.5, 0.75]),
//!     ..MeasurePlan::default()
//! };
//! let table = measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent)?;
//! let chord_m = table.stations[1].chord_m.expect("a whole section");
//! assert!((chord_m - blade.truth(0.75).chord_m).abs() < 1e-3);
//! // A lone blade does not show its plane of rotation.
//! assert!(table.angles_are_relative());
//! # Ok(())
//! # }
//! ```

pub use bladeform_measure::{
    Body, Doubt, HandDoubt, HandReading, HandRule, KnownAngle, KnownDistance, LengthFault, MeasureError,
    MeasureNotice, MeasurePlan, NoBladeReason, ReadingPlace, ScanInput, StepAtRoot, TipNotice, measure,
    measure_with_part, part_of,
};
