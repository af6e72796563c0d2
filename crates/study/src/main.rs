//! The accuracy study: measures seeded scans of invented blades and prints the goal beside the figure for each quantity.
//! `study [SEEDS] [TRIANGLES] [FIRST_SEED]`; defaults 20 seeds, 650,000 triangles, from seed 0.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::{RawMesh, write_ply_binary};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SectionKind, scan_of_blade};
use bladeform_table::{Station, StationTable};

/// Stations of the study, fractions of the tip radius.
fn ratios() -> Vec<f64> {
    (0..22).map(|i| 0.30 + 0.03 * f64::from(i)).collect()
}

fn bytes(mesh: &RawMesh) -> Vec<u8> {
    let mut out = Vec::new();
    // Writing to memory fails only for an index that is not there, which the generator does not make.
    if write_ply_binary(mesh, &mut out).is_err() {
        out.clear();
    }
    out
}

/// Differences of one table from the truth: twist and face angle against the reference (deg), chord (part), thickness and camber ratio.
fn differences(table: &StationTable, blade: &Blade) -> [Vec<f64>; 5] {
    let truth = |s: &Station| blade.truth(s.radius_ratio);
    let reference = table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-6);
    let zero = reference.and_then(|s| {
        Some((s.blade_angle_deg? - truth(s).blade_angle_deg, s.face_angle_deg? - truth(s).face_angle_deg))
    });
    let (angle0, face0) = zero.unwrap_or((f64::NAN, f64::NAN));
    let mut all: [Vec<f64>; 5] = Default::default();
    for s in &table.stations {
        let t = truth(s);
        let mut put = |k: usize, v: Option<f64>| all[k].extend(v);
        put(0, s.blade_angle_deg.map(|a| a - t.blade_angle_deg - angle0));
        put(1, s.face_angle_deg.map(|a| a - t.face_angle_deg - face0));
        put(2, s.chord_m.map(|c| c / t.chord_m - 1.0));
        put(3, s.thickness_ratio.map(|x| x - t.thickness_ratio));
        put(4, s.camber_ratio.map(|x| x - t.camber_ratio));
    }
    all
}

fn main() -> std::io::Result<()> {
    let mut arguments = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let (seeds, triangles) = (arguments.next().unwrap_or(20), arguments.next().unwrap_or(650_000));
    let first = arguments.next().unwrap_or(0) as u64;
    let mut out = std::io::stdout();
    for (kind, noisy) in [
        (SectionKind::FourDigit, false),
        (SectionKind::FourDigit, true),
        (SectionKind::ClarkY, true),
        (SectionKind::FlatFaced, true),
    ] {
        let blade = Blade::quarry_mill().with_kind(kind);
        let mut all: [Vec<f64>; 5] = Default::default();
        let mut failed = 0;
        let started = std::time::Instant::now();
        let mut measuring = 0.0;
        for seed in (first..).take(if noisy { seeds } else { 1 }) {
            let plan = if noisy {
                ScanPlan::usual(seed)
            } else {
                ScanPlan { any_pose: true, ..ScanPlan::clean(seed) }
            };
            let scan = scan_of_blade(&blade, &ScanPlan { triangles, ..plan });
            let file = bytes(&scan.mesh);
            let ask = MeasurePlan {
                length_m: Some(blade.length_m()),
                diameter_m: Some(2.0 * blade.radius_m),
                stations: StationRadii::Ratios(ratios()),
                ..MeasurePlan::default()
            };
            let before = std::time::Instant::now();
            let result = measure(&file, "study", &ask);
            measuring += before.elapsed().as_secs_f64();
            match result {
                Ok(table) => {
                    failed += table.stations.iter().filter(|s| s.is_refused()).count();
                    for (a, d) in all.iter_mut().zip(differences(&table, &blade)) {
                        a.extend(d);
                    }
                }
                Err(e) => writeln!(out, "seed {seed}: {e}")?,
            }
        }
        writeln!(
            out,
            "{kind:?}, {}, {triangles} triangles: {failed} stations refused; measuring took {measuring:.2} s of {:.1} s",
            if noisy { "usual scan" } else { "no noise" },
            started.elapsed().as_secs_f64()
        )?;
        let tenth = if noisy { 1.0 } else { 0.1 };
        let goals = [
            ("twist deg", 0.06),
            ("face twist deg", 0.06),
            ("chord part", 0.0015),
            ("thickness ratio", 0.0015),
            ("camber ratio", 0.0015),
        ];
        for ((name, goal), errors) in goals.into_iter().zip(&all) {
            let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len().max(1) as f64).sqrt();
            let worst = errors.iter().map(|e| e.abs()).fold(0.0, f64::max);
            writeln!(
                out,
                "  {name:16} goal {:.5} rms {rms:.5} worst {worst:.5} ({} values)",
                goal * tenth,
                errors.len()
            )?;
        }
    }
    Ok(())
}
