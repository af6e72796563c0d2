//! The station table, prediction and comparison as data: SI, angles in degrees, as in the files. A figure that has no
//! meaning is `None`.
//!
//! ```
//! use bladeform::table::{BladeFigures, ComparePlan, Station, StationColumn, StationTable, compare};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let with_chords = |inner_m: f64, outer_m: f64| {
//!     let station = |radius_m, chord_m| Station {
//!         chord_m: Some(chord_m),
//!         blade_angle_deg: Some(20.0),
//!         ..Station::at(radius_m, 1.0)
//!     };
//!     StationTable {
//!         blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
//!         stations: vec![station(0.5, inner_m), station(0.9, outer_m)],
//!         ..StationTable::default()
//!     }
//! };
//! let (drawn, built) = (with_chords(0.160, 0.120), with_chords(0.161, 0.121));
//! let compared = compare([&drawn, &built], ["drawn", "built"], &ComparePlan::default())?;
//! let chord = compared.summary(StationColumn::ChordM).ok_or("no chords")?;
//! assert!((chord.mean.abs() - 1e-3).abs() < 1e-9);
//! # Ok(())
//! # }
//! ```

pub use bladeform_table::{
    Agreement, Allowed, AxisBy, Balance, BladeAlone, BladeDeparture, BladeFigures, BladeMoment, BladeRow,
    BladeVolume, BladesComparison, BladesVerdict, CAUTION, ClassFigure, ClassReport, ClassRow, ClassVerdict,
    Coded, CompareError, ComparePlan, ComparedFigure, ComparedStation, Comparison, ComparisonNotice,
    ComparisonSummary, Departing, FACE_PLACES, FigureVerdict, Flag, HandBasis, Harm, KnownLength,
    KnownLengthOf, MergedFlag, MomentBy, Notice, OrLength, PartRecord, Photograph, Prediction, Reading,
    ReadingOf, Readings, Reconciliation, RecordText, RepeatedQuantity, Repeats, RepeatsError, RotatingVolume,
    Rotation, ScrewFigures, SectionOutline, SectionSurface, SeenFrom, SettingOf, Shown, SmoothFigures,
    Station, StationColumn, StationTable, SystematicPart, TableError, TableFault, TableNotice,
    ToleranceClass, UnlikePlace, Verdict, VolumeSource, Water, Weight, WholeFigure, against_class, by_harm,
    columns_as_markdown, compare, compare_blades, details_of, mean_of_repeats, merged_flags, with_details,
    without_details,
};
