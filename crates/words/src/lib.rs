//! Station tables, predictions and comparisons as plain text for a terminal of 100 columns. The crate makes texts and prints none.
//! The main entry is [`render`].
//!
//! - [`render`], [`render_with`]: a station table, without and with advice on its warnings.
//! - [`render_prediction`], [`render_prediction_with`]: a prediction.
//! - [`warning_text`]: one notice.
//! - [`render_comparison`]: two tables compared. [`render_blades`]: the blades of one propeller compared.
//! - [`render_class`]: a screw against an accuracy class.
//! - [`render_in`], [`render_prediction_in`], [`render_comparison_in`], [`warning_in`]: the same with the figures in other units than SI.
//!
//! ```
//! use bladeform_table::{Station, StationTable};
//! let table = StationTable { stations: vec![Station::refused(0.6, 1.2, "the cut is empty")], ..StationTable::default() };
//! assert!(bladeform_words::render(&table).contains("a: refused, 0.50 R: the cut is empty"));
//! ```

mod blades;
mod comparison;
mod layout;
mod prediction;
mod readings;
mod table;
mod tolerance_class;
mod warning;

pub use blades::render_blades;
pub use comparison::{render_comparison, render_comparison_in};
pub use layout::{TERMINAL_WIDTH, fitted};
pub use prediction::{render_prediction, render_prediction_in, render_prediction_with};
pub use table::{render, render_in, render_with};
pub use tolerance_class::render_class;
pub use warning::{Advice, warning_in, warning_text};
