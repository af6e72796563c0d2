//! The documents: the table as JSON and as CSV.

mod check;
mod csv;
mod json_read;
mod json_write;
mod locate;
mod number;
mod object;
mod prediction_read;
mod prediction_write;

pub use csv::{read_csv, write_csv, write_stations_csv};
pub use json_read::read_json;
pub use json_write::write_json;
pub use prediction_read::read_prediction_json;
pub use prediction_write::{write_prediction_csv, write_prediction_json};

use crate::{StationTable, TableError};

/// A figure as a cell of CSV; empty where it is missing or not finite.
pub(crate) fn figure_cell(value: Option<f64>) -> String {
    value.filter(|v| v.is_finite()).map_or_else(String::new, |v| number::figure(v).to_string())
}

impl StationTable {
    /// Checks what every reader checks: radii that rise strictly up to the tip, finite figures, whole outlines.
    ///
    /// # Errors
    /// [`TableError::Value`] with the path of the first key that cannot be.
    pub fn check(&self) -> Result<(), TableError> {
        check::check(self).map_err(object::Fault::in_memory)
    }
}
