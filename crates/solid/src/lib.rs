//! Closed propeller surfaces at any setting, and their files, from a station table.
//!
//! - [`BladeSurface`]: one smooth B-spline surface through the stations of a table, from the root end to a rounded tip.
//! - [`PropellerSurface`], the main entry: blades at a [`SettingAngle`] around a [`Hub`], or a single blade; [`PropellerSurface::at`] makes the solid.
//! - [`WatertightSolid`]: triangles that are proved to bound a solid. Only such solids are written.
//!
//! Axes are those of the blade (definitions of the station table): `z` along the span, `y` in the flight direction, `x` in the direction of blade motion.
//!
//! ```
//! use bladeform_solid::{PropellerSurface, SettingAngle, Silent, SolidFormat, SolidPlan};
//!
//! let table = bladeform_document::read_json(br#"{
//!   "blade": {"radius_m": 0.5, "root_radius_m": 0.06},
//!   "stations": [
//!     {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
//!     {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
//!     {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}
//!   ]
//! }"#)?;
//! let plan = SolidPlan { blades: 2, hub_diameter_m: Some(0.12), tolerance_m: 3e-4, ..SolidPlan::default() };
//! let propeller = PropellerSurface::new(&table, plan)?;
//! let made = propeller.at(Some(SettingAngle { angle_deg: 20.0, radius_ratio: 0.75 }), &Silent)?;
//! assert!((made.solid.facts().volume_m3 / made.section_volume_m3 - 1.0).abs() < 5e-3);
//! let mut file = Vec::new();
//! made.solid.write(SolidFormat::Stl, false, &mut file)?;
//! assert_eq!(file.len(), 84 + 50 * made.solid.facts().triangles);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod crossing;
mod deviation;
mod emergence;
mod error;
mod facets;
mod fault;
mod holes;
mod hub;
mod joint;
mod joint_fault;
mod mass;
mod notice;
mod open_outline;
mod plan_fault;
mod plane;
mod propeller;
mod root;
mod row_insertion;
mod rows;
mod station_fault;
mod surface;
mod taper;
mod template;
mod template_pdf;
mod tree;
mod watertight;
mod wrapped;
mod write;

pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use deviation::{Deviation, DeviationFigures, deviation};
pub use error::SolidError;
pub use fault::{ConnectionFault, SurfaceFault};
pub use holes::{BOLT_HOLES, BoltCircle, Bolts, HoleFault};
pub use hub::Hub;
pub use joint_fault::{FillFault, FlatRegion, JointFault};
pub use mass::MassProperties;
pub use notice::{HubSize, SolidNotice};
pub use plan_fault::{MovesSections, PlanFault, PlanLength, ScanFault};
pub use propeller::{MadeSolid, PropellerSurface, SettingAngle, SolidPlan, TOLERANCES_M};
pub use station_fault::{OutlineFault, StationFault};
pub use surface::BladeSurface;
pub use template::{Template, templates};
pub use template_pdf::templates_pdf;
pub use watertight::{Group, SolidFacts, WatertightSolid};
pub use write::{SolidFormat, StepFile, StepUnit, write_named};
