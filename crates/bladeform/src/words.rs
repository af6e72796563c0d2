//! Text: tables, predictions, comparisons and warnings for a terminal of 100 columns.
//!
//! ```
//! use bladeform::table::{Station, StationTable};
//! use bladeform::words::render;
//! let refused = Station::refused(0.6, 1.2, "the cut is empty");
//! let table = StationTable { stations: vec![refused], ..StationTable::default() };
//! assert!(render(&table).contains("a: refused, 0.50 R: the cut is empty"));
//! ```

pub use bladeform_words::{
    Advice, fitted, render, render_blades, render_class, render_comparison, render_comparison_in, render_in,
    render_prediction, render_prediction_in, render_prediction_with, render_with, warning_in, warning_text,
};
