//! The station table: its rows and columns, the figures of a blade that follow from its stations alone, and prediction and
//! comparison as data. The crate does not depend on how the figures were measured, nor on files. The main entry is [`StationTable`].
//!
//! - [`StationTable`], [`Station`]: plain structures in SI, angles in degrees, as in the files. A figure that has no
//!   meaning is `None`.
//! - [`StationColumn`]: the one list of columns. JSON keys, CSV headings, the terminal's columns and the documentation
//!   ([`columns_as_markdown`]) are generated from it.
//! - [`Flag`]: everything that must be reported about a station, a code and a sentence each.
//! - [`Notice`], [`Coded`]: how warnings become text in a document.
//! - [`activity_factor`], [`solidity`], [`geometric_pitch_m`], [`Spanwise`], [`mean_of`]: figures of the whole blade.
//! - [`SmoothColumn`], [`flag_departures`]: the smooth blade, which no single station distorts, and the stations that depart from it.
//! - [`compare_readings`], [`Readings`]: readings by hand beside what the scan shows.
//! - [`Prediction`]: the performance of a propeller. [`Comparison`]: two tables compared.
//!
//! ```
//! use bladeform_table::{BladeFigures, Station, StationColumn, StationTable};
//!
//! let station = |radius_m, angle_deg| Station { blade_angle_deg: Some(angle_deg), ..Station::at(radius_m, 1.0) };
//! let table = StationTable {
//!     blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
//!     stations: vec![station(0.5, 30.0), station(0.9, 18.0)],
//!     ..StationTable::default()
//! };
//! table.check()?;
//! assert!(table.angles_are_relative());
//!
//! let at_tip = table.value_at_tip(StationColumn::BladeAngleDeg).expect("two stations have an angle");
//! assert!((at_tip.measured.value - 15.0).abs() < 1e-12);
//! assert!(at_tip.is_extrapolated());
//! # Ok::<(), bladeform_table::TableError>(())
//! ```

mod activity;
mod blade;
mod budget;
mod check;
mod column;
mod compare;
mod details;
mod error;
mod fault;
mod flag;
mod harm;
mod inboard;
mod known_length;
mod mean;
mod merged;
mod notice;
mod outline_departure;
mod part_record;
mod prediction;
mod reading;
mod reconcile;
mod repeats;
mod rest;
mod rotation;
mod screw;
mod section_surface;
mod slips;
mod smooth;
mod smooth_figures;
mod spanwise;
mod station;
mod table;
mod table_notice;
mod unlike;
mod water;

pub use activity::activity_factor_of;
pub use blade::{
    ACTIVITY_FACTOR_EXTRAPOLATED_LIMIT, ACTIVITY_FACTOR_FIRST_RATIO, ActivityFactor, activity_factor,
    geometric_pitch_m, solidity, twist_deg,
};
pub use budget::{UncertaintyBudget, UncertaintySource};
pub use column::{ColumnUnit, Shown};
pub use compare::{
    Allowed, BLADE_FIGURES, Balance, BladeAlone, BladeDeparture, BladeMoment, BladeRow, BladesComparison,
    BladesVerdict, COMPARED, ClassFigure, ClassReport, ClassRow, ClassVerdict, ComparePlan, ComparedFigure,
    ComparedStation, Comparison, ComparisonSummary, Departing, FACE_PLACES, FigureVerdict, MomentBy,
    OrLength, SeenFrom, ToleranceClass, UnlikePlace, Verdict, Weight, WholeFigure, against_class, compare,
    compare_blades,
};
pub use details::{details_of, with_details, without_details};
pub use error::{Step, TableError, path_text};
pub use fault::TableFault;
pub use flag::{Edge, Flag};
pub use harm::{Harm, by_harm};
pub use inboard::{BoltFigures, HubFigures, RootSection};
pub use known_length::{KnownLength, KnownLengthOf, known_length_names, known_length_sentences};
pub use mean::{blade_differences, mean_of};
pub use merged::{MergedFlag, merged_flags};
pub use notice::{Coded, Notice};
pub use outline_departure::{Departures, NearSection, PartDeparture, SectionPart};
pub use part_record::{PartRecord, Photograph, RecordText};
pub use prediction::{
    AirState, Answer, BODY_MEANING, FreeWakeModel, InstalledFigures, MethodUncertainty, OperatingFigures,
    OperatingPoint, OperatingUncertainty, PREDICTION_SCHEMA, Prediction, RadialFigures, RadialRow,
    RadialWater, Schedule, SecondModel, SurfaceFigures, WaterFigures,
};
pub use reading::{Reading, ReadingOf, Readings, Reconciliation, SystematicPart};
pub use reconcile::{TableKnows, compare_readings};
pub use repeats::{Agreement, RepeatedQuantity, Repeats, RepeatsError, StationScatter, mean_of_repeats};
pub use rest::{REST_MEANING, cells_at_rest, enough_decimals, number_text};
pub use rotation::{AxisBy, BladeVolume, RotatingVolume, Rotation, VolumeSource};
pub use screw::ScrewFigures;
pub use section_surface::SectionSurface;
pub use serde_json::{Map, Value};
pub use smooth::{
    DEPARTURE_COVERAGE, LEAST_STATIONS_FOR_SMOOTH, SmoothColumn, StationDeparture, departures_from_smooth,
    flag_departures,
};
pub use smooth_figures::SmoothFigures;
pub use spanwise::{Spanwise, SpanwiseValue};
pub use station::{SectionOutline, Station, StationColumn, StationUncertainty, columns_as_markdown};
pub use table::{
    BladeDifference, BladeDifferenceUncertainty, BladeFigures, BladeRows, BladeUncertainty, CAUTION,
    CAUTION_SHORT, DEFAULT_REFERENCE_RADIUS_RATIO, Frame, HandBasis, Repairs, SCHEMA, Scale, Setting,
    SettingOf, Source, StationTable, place_text,
};
pub use table_notice::{CONTRADICTION, CompareError, ComparisonNotice, TableNotice};
pub use unlike::add_spread_of_blades;
pub use water::{Water, WaterState};
