//! Station tables, predictions and comparisons as plain text for a terminal of 100 columns.
//!
//! - [`render`]: a station table.
//! - [`render_prediction`]: a prediction.
//! - [`render_comparison`]: two tables compared.
//!
//! ```
//! use bladeform_table::{Station, StationTable};
//! let table = StationTable { stations: vec![Station::refused(0.6, 1.2, "the cut is empty")], ..StationTable::default() };
//! assert!(bladeform_words::render(&table).contains("a: refused: the cut is empty"));
//! ```

mod comparison;
mod layout;
mod prediction;
mod table;

pub use comparison::render_comparison;
pub use layout::TERMINAL_WIDTH;
pub use prediction::render_prediction;
pub use table::render;
