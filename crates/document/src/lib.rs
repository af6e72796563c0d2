//! The documents: station tables and predictions as JSON and CSV, comparisons as CSV. Bytes in, bytes out: the crate opens no file.
//! The main entries are [`read_json`] and [`write_json`].
//!
//! - [`read_json`], [`write_json`], [`read_csv`], [`write_csv`], [`write_stations_csv`]: the station table; [`read_table`] reads either kind. Unknown keys are kept. A table that
//!   is read and written gives the same bytes.
//! - [`read_prediction_json`], [`write_prediction_json`], [`write_prediction_csv`]: the prediction.
//! - [`write_schedules_csv`]: the schedules of a prediction; [`outline_text`]: the outline of a section as points.
//! - [`write_comparison_csv`]: two tables compared. [`write_blades_json`], [`write_blades_csv`]: the blades of one propeller compared.
//! - [`DocumentError`]: one sentence with line, column and key.
//!
//! ```
//! use bladeform_document::{read_json, write_json};
//! use bladeform_table::StationColumn;
//!
//! let text = r#"{
//!   "blade": {"radius_m": 1.0},
//!   "stations": [
//!     {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04,
//!      "note": "kept"},
//!     {"radius_m": 0.9, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}
//!   ]
//! }"#;
//! let table = read_json(text.as_bytes())?;
//! assert_eq!(table.stations[0].chord_m, Some(0.16));
//! assert!(table.angles_are_relative());
//!
//! let at_tip = table.value_at_tip(StationColumn::BladeAngleDeg).expect("two stations have an angle");
//! assert!((at_tip.measured.value - 15.0).abs() < 1e-12);
//! assert!(at_tip.is_extrapolated());
//!
//! let mut written = Vec::new();
//! write_json(&table, &mut written)?;
//! assert!(String::from_utf8_lossy(&written).contains(r#""note": "kept""#));
//! assert_eq!(read_json(&written)?, table);
//! # Ok::<(), bladeform_document::DocumentError>(())
//! ```

mod blades_write;
mod class_csv;
mod comparison_csv;
mod comparison_description;
mod csv_description;
mod error;
mod json_read;
mod json_write;
mod locate;
mod number;
mod object;
mod outline_text;
mod prediction_read;
mod prediction_write;
mod readings;
mod schedules_csv;
mod sheet_cell;
mod table_csv;
mod table_read;

pub use blades_write::{BLADES_SCHEMA, write_blades_csv, write_blades_json};
pub use class_csv::write_class_csv;
pub use comparison_csv::write_comparison_csv;
pub use comparison_description::{compared_tables, write_comparison_description};
pub use csv_description::{CSV_DESCRIPTION, read_described_csv, write_csv_description};
pub use error::{DocumentError, Place};
pub use json_read::read_json;
pub use json_write::write_json;
pub use outline_text::{OutlineUnit, outline_text};
pub use prediction_read::read_prediction_json;
pub use prediction_write::{write_prediction_csv, write_prediction_json};
pub use schedules_csv::{write_schedules_csv, write_schedules_description};
pub use table_csv::{read_csv, write_csv, write_stations_csv};
pub use table_read::{is_json, read_table};

/// A figure as a cell of CSV. The cell is empty if the figure is missing or not finite.
pub(crate) fn figure_cell(value: Option<f64>) -> String {
    value.filter(|v| v.is_finite()).map_or_else(String::new, |v| number::figure(v).to_string())
}
