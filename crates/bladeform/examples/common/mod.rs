//! The scan of an invented blade that the examples use when no file is given.

use std::error::Error;

use bladeform::measure::{KnownAngle, MeasurePlan};
use bladeform::mesh::write_ply_binary;
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

/// The binary PLY file of a scan of the Quarry Mill blade, and what its owner knows: length, diameter and one angle.
pub(crate) fn invented_scan() -> Result<(Vec<u8>, MeasurePlan), Box<dyn Error>> {
    let blade = Blade::quarry_mill();
    let scan = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::usual(4) });
    let mut bytes = Vec::new();
    write_ply_binary(&scan.mesh, &mut bytes)?;
    let angle_deg = blade.truth(0.75).blade_angle_deg;
    let plan = MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        setting: Some(KnownAngle { angle_deg, radius_ratio: Some(0.75) }),
        ..MeasurePlan::default()
    };
    Ok((bytes, plan))
}
