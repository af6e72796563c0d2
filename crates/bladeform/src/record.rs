//! The page that is kept: one self-contained HTML file about a measured blade, or about two tables compared.
//!
//! ```
//! use bladeform::document::read_json;
//! use bladeform::record::{RecordPlan, record};
//! use bladeform::work::Silent;
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let table = read_json(br#"{"blade": {"radius_m": 1.0}, "stations": [
//!   {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04},
//!   {"radius_m": 0.9, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#)?;
//! let plan = RecordPlan { title: "Blade <2>", date: "2026-01-31", ..RecordPlan::of(&table) };
//! let page = record(&plan, &Silent)?;
//! assert!(page.html.contains("<h1>Blade &lt;2&gt;</h1>"));
//! assert_eq!(page.plots[0].name, "chord.svg");
//! # Ok(())
//! # }
//! ```

pub use bladeform_record::{
    ComparisonPlan, KeptNotice, KeptPage, NoScan, Picture, PictureError, Plot, Record, RecordError,
    RecordNotice, RecordPlan, ScanPart, assets, comparison_page, is_scan_of, must_be_scan_of, record,
};
