//! The station table as a document: its rows and columns, JSON and CSV, and the figures of a blade that follow from its
//! stations alone. It knows nothing of how the figures came about.
//!
//! - [`StationTable`], [`Station`]: plain structures in SI, angles in degrees, as the files have them. A figure that has no
//!   meaning is `None`.
//! - [`StationColumn`]: the one list of columns. JSON keys, CSV headings, the terminal's columns and the documentation
//!   ([`columns_as_markdown`]) are made of it.
//! - [`Flag`]: everything that must be told about a station, a sentence each.
//! - [`read_json`], [`write_json`], [`read_csv`], [`write_csv`]: the files. Unknown keys are kept; writing what was read gives
//!   the same bytes; errors name line, column and key.
//! - [`activity_factor`], [`solidity`], [`geometric_pitch_m`], [`Spanwise`], [`mean_of`]: figures of the whole blade.
//! - [`SmoothColumn`], [`flag_departures`]: the smooth blade that no single station bends, and the stations that depart from it.
//! - [`Prediction`] with [`read_prediction_json`], [`write_prediction_json`], [`write_prediction_csv`]: what a propeller does.
//! - [`render`]: the table as text for a terminal.
//!
//! ```
//! use bladeform_table::{StationColumn, read_json, write_json};
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
//! # Ok::<(), bladeform_table::TableError>(())
//! ```

mod activity;
mod blade;
mod budget;
mod column;
mod compare;
mod compare_terminal;
mod document;
mod error;
mod flag;
mod likeness;
mod mean;
mod prediction;
mod prediction_terminal;
mod slips;
mod smooth;
mod smoothing_spline;
mod spanwise;
mod station;
mod table;
mod terminal;

pub use activity::activity_factor_of;
pub use blade::{
    ACTIVITY_FACTOR_EXTRAPOLATED_LIMIT, ACTIVITY_FACTOR_FIRST_RATIO, ActivityFactor, activity_factor,
    geometric_pitch_m, solidity, twist_deg,
};
pub use budget::{UncertaintyBudget, UncertaintySource};
pub use column::{ColumnUnit, Shown};
pub use compare::{
    Allowed, COMPARED, ComparedFigure, ComparedStation, Comparison, ComparisonSummary, compare,
    write_comparison_csv,
};
pub use compare_terminal::render_comparison;
pub use document::{
    read_csv, read_json, read_prediction_json, write_csv, write_json, write_prediction_csv,
    write_prediction_json, write_stations_csv,
};
pub use error::{Place, TableError};
pub use flag::{Edge, Flag};
pub use likeness::{Departures, NearSection, PartDeparture, SectionPart};
pub use mean::{blade_differences, mean_of};
pub use prediction::{
    AirState, Answer, FreeWakeModel, OperatingFigures, OperatingPoint, OperatingUncertainty,
    PREDICTION_SCHEMA, Prediction, RadialFigures, RadialRow, Schedule, SecondModel,
};
pub use prediction_terminal::{REST_MEANING, cells_at_rest, enough_decimals, render_prediction};
pub use serde_json::{Map, Value};
pub use smooth::{
    DEPARTURE_COVERAGE, LEAST_STATIONS_FOR_SMOOTH, SmoothColumn, StationDeparture, departures_from_smooth,
    flag_departures,
};
pub use spanwise::{Curve, Spanwise, SpanwiseValue};
pub use station::{Outline, Station, StationColumn, StationUncertainty};
pub use table::{
    BladeDifference, BladeDifferenceUncertainty, BladeFigures, BladeRows, BladeUncertainty,
    DEFAULT_REFERENCE_RADIUS_RATIO, Frame, Repairs, SCHEMA, Scale, Setting, SettingOf, Source, StationTable,
};
pub use terminal::{CAUTION, TERMINAL_WIDTH, columns_as_markdown, render};
