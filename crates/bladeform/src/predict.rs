//! Performance: air, engine, flight, section polars, thrust and power over setting and speed, slipstream.
//!
//! Section polars come from a [`PolarSource`]: [`ComputedPolars`] computes those of the table's outlines, [`ThinSections`]
//! is quick and crude.
//!
//! ```
//! use bladeform::document::read_json;
//! use bladeform::predict::{Flight, PredictPlan, ThinSections, predict};
//! use bladeform::work::Silent;
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let table = read_json(br#"{"blade": {"radius_m": 1.0, "setting": {"angle_deg": 20.0}}, "stations": [
//!   {"radius_m": 0.3, "chord_m": 0.14, "blade_angle_deg": 42.0, "thickness_ratio": 0.2, "camber_ratio": 0.03},
//!   {"radius_m": 0.75, "chord_m": 0.13, "blade_angle_deg": 20.0, "thickness_ratio": 0.1, "camber_ratio": 0.03},
//!   {"radius_m": 0.95, "chord_m": 0.08, "blade_angle_deg": 16.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#)?;
//! let cruise = PredictPlan { rpm: 2_000.0, flight: Flight::Speed(45.0), ..PredictPlan::default() };
//! let prediction = predict(&table, &cruise, &ThinSections, &Silent)?;
//! let figures = prediction.points[0].figures;
//! assert!(figures.thrust_n.is_some_and(|thrust_n| 0.0 < thrust_n));
//! assert!(figures.efficiency.is_some_and(|efficiency| (0.5..1.0).contains(&efficiency)));
//! # Ok(())
//! # }
//! ```

pub use bladeform_flow::{
    Air, BodyPlan, ComputedPolars, EngineCurve, FixedPitchPlan, Flight, FlowBlade, FlowError, FlowNotice,
    FlowPropeller, GivenSection, InstalledPlan, Operation, Performance, PointFlag, PolarRegion, PolarSource,
    PredictPlan, RootPlan, SectionForces, SectionPolar, SectionShape, SlipstreamPlane, SlipstreamPoint,
    SlipstreamRing, Surface, ThinSections, WaterPlan, goldstein_circulation, predict, slipstream,
    slipstream_csv, slipstream_vts, slipstreams,
};
