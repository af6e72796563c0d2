//! The record: one self-contained page about a measured blade, to read and to keep.
//!
//! [`record`], the main entry, takes a station table, the scan it was measured from and the predictions made from it. It returns the page as text
//! and its curves as SVG files. The page opens from disk without a network, prints on A4 and Letter, and contains the table itself.
//!
//! - Figures are data first: [`form_curves`], [`performance_charts`] and [`Sheet`] return models. A model is drawn as a [`Drawing`],
//!   and a drawing is written as SVG. Nothing else writes SVG, so tests check the models.
//! - Text from files or the command line is escaped.
//! - The same inputs give the same bytes: the date is an input.
//!
//! ```
//! use bladeform_record::{RecordPlan, Silent, record};
//! let text = r#"{"blade": {"radius_m": 1.0}, "stations": [
//!     {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04},
//!     {"radius_m": 0.9, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;
//! let table = bladeform_document::read_json(text.as_bytes())?;
//! let plan = RecordPlan { title: "Blade <2>", date: "2026-01-31", ..RecordPlan::of(&table) };
//! let made = record(&plan, &Silent)?;
//! assert!(made.html.contains("<h1>Blade &lt;2&gt;</h1>"));
//! assert_eq!(made.plots[0].name, "chord.svg");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod assets;
mod between;
mod blades_part;
mod chart;
mod checks;
mod comparison;
mod condition;
mod curves;
mod dents;
mod dents_part;
mod drawing;
mod error;
mod escape;
mod figures;
mod front;
mod head;
mod kept;
mod loft;
mod notice;
mod page;
mod patches;
mod performance;
mod performance_part;
mod photograph;
mod pilot;
mod planform;
mod readings_part;
mod scan;
mod screw_drawing;
mod sheet;
mod sheet_part;
mod table_part;
mod ticks;
mod unit;
mod velocity;
mod view;
mod view_part;
mod without;
mod words;

pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use chart::{Chart, ChartPoint, Guides, HoverPoint, Pointed, Series};
pub use comparison::{ComparisonPlan, comparison_page};
pub use curves::form_curves;
pub use drawing::{Anchor, Drawing, Mark, Shape};
pub use error::RecordError;
pub use figures::Plot;
pub use kept::KeptPage;
pub use notice::{KeptNotice, NoScan, RecordNotice};
pub use page::{Record, RecordPlan, record};
pub use performance::performance_charts;
pub use photograph::{Picture, PictureError};
pub use scan::{MOST_TRIANGLES, ScanPart, is_scan_of, must_be_scan_of};
pub use sheet::Sheet;
