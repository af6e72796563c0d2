//! From a scan of a propeller blade to the station table, its page, its solid and its prediction: the library, in one place.
//!
//! Each module is named after what it is about, and has an example. Every item has one path.
//!
//! | module | what it holds |
//! |---|---|
//! | [`quantity`] | lengths, angles, speeds and powers as people type them |
//! | [`mesh`] | triangle meshes and their files |
//! | [`section`] | published section families, the smooth fit, the mean line |
//! | [`measure`] | scan to station table |
//! | [`table`] | the station table, prediction and comparison as data |
//! | [`document`] | these data as JSON and CSV files |
//! | [`words`] | these data as text for a terminal |
//! | [`predict`] | air, engine, section polars, performance, slipstream |
//! | [`solid`] | closed surfaces, STEP, templates, distance of a scan |
//! | [`record`] | the page that is kept |
//! | [`work`] | progress and stop of long calls, number of threads |
//!
//! ```
//! use bladeform::document::write_json;
//! use bladeform::measure::{MeasurePlan, ScanInput, measure};
//! use bladeform::work::Silent;
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! # use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
//! # let mut scan = Vec::new();
//! # let plan = ScanPlan { triangles: 40_000, ..ScanPlan::clean(1) };
//! # bladeform::mesh::write_ply_binary(&scan_of_blade(&Blade::quarry_mill(), &plan).mesh, &mut scan)?;
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

pub mod document;
pub mod measure;
pub mod mesh;
pub mod predict;
pub mod quantity;
pub mod record;
pub mod section;
pub mod solid;
pub mod table;
pub mod words;
pub mod work;

/// The examples of the project's front page, so that they compile.
#[cfg(doctest)]
#[doc = include_str!("../../../README.md")]
#[derive(Debug)]
pub struct FrontPage;
