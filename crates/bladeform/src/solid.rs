//! Closed surfaces of a blade or a propeller at any setting, their files, section templates, and the distance of a scan.
//!
//! ```
//! use bladeform::document::read_json;
//! use bladeform::solid::{PropellerSurface, SettingAngle, SolidFormat, SolidPlan};
//! use bladeform::work::Silent;
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let table = read_json(br#"{"blade": {"radius_m": 0.5, "root_radius_m": 0.06}, "stations": [
//!   {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
//!   {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
//!   {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#)?;
//! let plan = SolidPlan { blades: 2, hub_diameter_m: Some(0.12), tolerance_m: 5e-4, ..SolidPlan::default() };
//! let propeller = PropellerSurface::new(&table, plan)?;
//! let made = propeller.at(Some(SettingAngle { angle_deg: 20.0, radius_ratio: 0.75 }), &Silent)?;
//! let mut file = Vec::new();
//! made.solid.write(SolidFormat::Stl, false, &mut file)?;
//! assert_eq!(bladeform::mesh::read(&file)?.mesh.faces.len(), made.solid.facts().triangles);
//! # Ok(())
//! # }
//! ```

pub use bladeform_solid::{
    BOLT_HOLES, BladeSurface, BoltCircle, Bolts, ConnectionFault, Deviation, DeviationFigures, FillFault,
    FlatRegion, Group, HoleFault, Hub, HubSize, JointFault, MadeSolid, MassProperties, OutlineFault,
    PlanFault, PlanLength, PropellerSurface, ScanFault, SettingAngle, SolidError, SolidFacts, SolidFormat,
    SolidNotice, SolidPlan, StationFault, StepFile, StepUnit, SurfaceFault, TOLERANCES_M, Template,
    WatertightSolid, deviation, templates, templates_pdf, write_named,
};
