//! Files: the station table and the prediction as JSON and CSV, the comparison as CSV.
//!
//! Keys that this version does not know are kept. A table that is read and written gives the same bytes.
//!
//! ```
//! use bladeform::document::{read_csv, read_json, write_csv, write_csv_description, write_json};
//! # fn main() -> Result<(), bladeform::document::DocumentError> {
//! let table = read_json(br#"{
//!   "blade": {"radius_m": 1.0},
//!   "stations": [
//!     {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04,
//!      "note": "kept"},
//!     {"radius_m": 0.9, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}
//!   ]
//! }"#)?;
//! let (mut json, mut csv) = (Vec::new(), Vec::new());
//! write_json(&table, &mut json)?;
//! write_csv(&table, &mut csv)?;
//! assert_eq!(read_json(&json)?, table);
//! assert_eq!(read_csv(&csv, None)?.stations[1].chord_m, Some(0.12));
//! # Ok(())
//! # }
//! ```

pub use bladeform_document::{
    BLADES_SCHEMA, CSV_DESCRIPTION, DocumentError, OutlineUnit, compared_tables, is_json, outline_text,
    read_csv, read_described_csv, read_json, read_prediction_json, read_table, write_blades_csv,
    write_blades_json, write_class_csv, write_comparison_csv, write_comparison_description, write_csv,
    write_csv_description, write_json, write_prediction_csv, write_prediction_json, write_schedules_csv,
    write_schedules_description,
};

/// SHA-256 of a file's bytes, hexadecimal, as the documents state it.
#[must_use]
pub fn sha256_hex(bytes: &[u8]) -> String {
    use sha2::Digest;
    sha2::Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}
