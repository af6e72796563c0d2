//! Thrust, torque, power and slipstream of a propeller from its station table.
//!
//! - [`predict`]: the main entry, the whole job, from a table and a [`PredictPlan`] to the document of predictions.
//! - [`FlowBlade`], [`FlowPropeller`], [`Performance`]: one propeller at one [`Operation`], for programs.
//! - [`lifting_line`]: the second, independent model. [`slipstream`]: the slipstream.
//! - [`Air`]: the standard atmosphere. [`TipLoss`], [`goldstein_circulation`], [`helix_velocity`]: the parts of the theory.
//! - [`PolarSource`]: where section forces come from.
//!
//! ```
//! use bladeform_flow::{Air, FlowBlade, Operation, FlowPropeller, ThinSections};
//! let text = r#"{"blade": {"radius_m": 1.0, "setting": {"angle_deg": 20.0}}, "stations": [
//!   {"radius_m": 0.3, "chord_m": 0.14, "blade_angle_deg": 42.0, "thickness_ratio": 0.2, "camber_ratio": 0.03},
//!   {"radius_m": 0.75, "chord_m": 0.13, "blade_angle_deg": 20.0, "thickness_ratio": 0.1, "camber_ratio": 0.03},
//!   {"radius_m": 0.95, "chord_m": 0.08, "blade_angle_deg": 16.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;
//! let table = bladeform_document::read_json(text.as_bytes())?;
//! let propeller = FlowPropeller::new(FlowBlade::of_table(&table, None, 24, &ThinSections)?, 2)?;
//! let cruise = Operation::new(45.0, 2_000.0, Air::standard(0.0, 0.0)?)?;
//! let performance = propeller.performance(0.0, &cruise);
//! assert!(performance.thrust_n > 0.0 && performance.efficiency().is_some_and(|e| e < 1.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod air;
mod answers;
mod blade;
mod chordwise;
mod computed;
mod element;
mod engine;
mod error;
mod fixed_pitch;
mod free_wake;
mod helix;
mod installed;
mod lifting_line;
mod limits;
mod loss;
mod near_rest;
mod notice;
mod plan;
mod point;
mod predict;
mod propeller;
mod shank;
mod slipstream;
mod solved;
mod spheroid;
mod surface;
mod swept;
mod tested;
mod thin;
mod uncertainty;
mod water;

pub use air::Air;
pub use blade::{BladeElement, DEFAULT_ELEMENTS, FlowBlade, PolarSource, SectionShape};
pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use bladeform_polar::{PolarRegion, SectionForces, SectionPolar};
pub use computed::{ComputedPolars, GivenSection, SAME_STATION};
pub use engine::EngineCurve;
pub use error::FlowError;
pub use fixed_pitch::FixedPitchPlan;
pub use free_wake::{FreeWakeSettings, NoFreeWake, RestPerformance, free_wake_at_rest};
pub use helix::helix_velocity;
pub use installed::{InstalledForces, InstalledPlan};
pub use lifting_line::{LiftingLine, lifting_line};
pub use loss::{TipLoss, goldstein_circulation, prandtl_factor, prandtl_root_factor};
pub use near_rest::{NearRest, SLOW, is_slow};
pub use notice::{FlowNotice, PointFlag};
pub use plan::{Flight, MOST_POINTS, PredictPlan};
pub use predict::predict;
pub use propeller::{ElementState, FlowPropeller, Operation, Performance};
pub use shank::{RootPlan, ShankSize};
pub use slipstream::{
    SlipstreamPlane, SlipstreamPoint, SlipstreamRing, slipstream, slipstream_csv, slipstream_vts, slipstreams,
};
pub use spheroid::BodyPlan;
pub use surface::Surface;
pub use tested::{Tested, TestedAgreement, TestedState};
pub use thin::{ThinSection, ThinSections};
pub use water::WaterPlan;
