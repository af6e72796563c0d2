//! Long calls: who hears of their progress and may stop them, and how many threads they take.
//!
//! ```
//! use bladeform::measure::{MeasurePlan, ScanInput, measure};
//! use bladeform::work::{Stage, parallel};
//! use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//! use std::ops::ControlFlow;
//!
//! let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 40_000, ..ScanPlan::clean(1) });
//! let plan = MeasurePlan { length_m: Some(1.30), diameter_m: Some(2.84), ..MeasurePlan::default() };
//! // Any closure of this form is an observer. This one ends the call when the stations are reached.
//! let observer = |stage: Stage<'_>| match stage.name {
//!     "measuring stations" => ControlFlow::Break(()),
//!     _ => ControlFlow::Continue(()),
//! };
//! let call = || measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &observer);
//! let stopped = parallel::with_threads(1, call).expect_err("the observer ends it");
//! assert_eq!(stopped.code(), "stopped");
//! ```

pub use bladeform_numeric::observe::{Observer, Silent, Stage, Stopped};
pub use bladeform_numeric::parallel;
