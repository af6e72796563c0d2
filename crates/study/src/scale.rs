//! The scale: how far noise moves the ends of a blade and the tips of a propeller outwards, and whether the stated uncertainty covers it.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller};

use crate::accuracy::bytes;
use crate::markdown::Table;
use crate::tally::{HEADINGS, Tally};

/// Noise of the scans, m.
const NOISE_M: [f64; 6] = [0.0, 5e-5, 1e-4, 2e-4, 5e-4, 1e-3];
/// Standard uncertainty of the tape, m: small compared with the uncertainty of the ends in the scan.
const TAPE_M: f64 = 1e-5;

/// Scale of scans whose true unit is known. Scans with independent noise alternate with scans whose noise is correlated over two edges.
pub(crate) fn run(seeds: usize, triangles: usize, first: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    let title = format!("Relative error of the scale: {triangles} triangles, {seeds} seeds from {first}");
    let headings: Vec<&str> = ["blades", "noise, mm", "mean error"].into_iter().chain(HEADINGS).collect();
    let table = Table::begin(&mut out, &title, &headings)?;
    let mut remarks = Vec::new();
    for count in [1, 2, 3] {
        for noise_m in NOISE_M {
            let mut tally = Tally::default();
            let mut sum = 0.0;
            for seed in first..first + seeds as u64 {
                let plan = ScanPlan {
                    triangles,
                    noise_m,
                    correlation_edges: if seed % 2 == 0 { 0.1 } else { 2.0 },
                    any_pose: true,
                    ..ScanPlan::clean(seed)
                };
                match error_of(&plan, count) {
                    Ok((error, u)) => {
                        sum += error;
                        tally.add(error, u);
                    }
                    Err(e) => remarks.push(format!("{count} blades, seed {seed}: {e}")),
                }
            }
            let blades = if count == 1 { "lone blade".to_owned() } else { count.to_string() };
            let mean = format!("{:.6}", sum / seeds.max(1) as f64);
            let first = [blades.as_str(), &format!("{:.2}", 1e3 * noise_m), &mean];
            tally.print(&mut out, &table, &first, "scale, relative", [Some(0.0005), None])?;
        }
    }
    writeln!(out)?;
    for remark in remarks {
        writeln!(out, "- {remark}")?;
    }
    Ok(())
}

/// Relative error of the scale, and its stated standard uncertainty.
fn error_of(plan: &ScanPlan, count: usize) -> std::io::Result<(f64, Option<f64>)> {
    // A swept tip lies outside the circle of its radius. Here the circle must be known.
    let blade = if count == 1 {
        Blade::quarry_mill()
    } else {
        Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() }
    };
    let propeller = SpecimenPropeller { blade: blade.clone(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let scan = if count == 1 { scan_of_blade(&blade, plan) } else { scan_of_propeller(&propeller, plan) };
    let ask = MeasurePlan {
        resolution_m: Some(0.0),
        length_m: (count == 1).then(|| blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        length_uncertainty_m: TAPE_M,
        stations: StationRadii::Ratios(vec![0.5]),
        ..MeasurePlan::default()
    };
    let table = measure(
        bladeform_measure::ScanInput::file(bytes(&scan.mesh)?, "study"),
        &ask,
        &bladeform_measure::Silent,
    )
    .map_err(std::io::Error::other)?;
    let scale = table.scale.unwrap_or_default();
    let found = scale.metres_per_unit.unwrap_or(f64::NAN);
    Ok((found * scan.pose.scale - 1.0, scale.relative_uncertainty))
}
