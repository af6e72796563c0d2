//! From a scan to the station table: axes, hand, scale, stations.
//!
//! Knows nothing of pages, of flow, or of files on disk: bytes in, table out.
//!
//! - [`MeasurePlan`]: what the user tells and asks.
//! - [`measure()`]: the main entry, the whole way. One station's trouble is a flag of that station; no table at all is a [`MeasureError`].
//!
//! ```
//! use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
//! use bladeform_quantity::StationRadii;
//! use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//!
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
//! # Ok::<(), bladeform_measure::MeasureError>(())
//! ```

mod band;
mod body;
mod error;
mod frame;
mod input;
mod joint;
mod notice;
mod pipeline;
mod plan;
mod span;
mod station;
mod vector;

pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use body::Body;
pub use error::{Doubt, LengthFault, MeasureError, NoBladeReason};
pub use input::ScanInput;
pub use notice::{BladeQuantity, HandDoubt, HandRule, MeasureNotice, StepAtRoot, TipNotice, UnlikeBlade};
pub use pipeline::{measure, measure_with_part, part_of};
pub use plan::{HandReading, KnownAngle, KnownDistance, MeasurePlan, ReadingPlace};
