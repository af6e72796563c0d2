//! Single blades of three section families, scanned like photogrammetry does, and one of them without noise.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::{RawMesh, write_ply_binary};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SectionKind, scan_of_blade};
use bladeform_table::{Station, StationColumn, StationTable, UncertaintySource};

use crate::markdown::Table;
use crate::tally::{HEADINGS, Tally};

/// Stations of the study, fractions of the tip radius.
pub(crate) fn ratios() -> Vec<f64> {
    (0..22).map(|i| 0.30 + 0.03 * f64::from(i)).collect()
}

pub(crate) fn bytes(mesh: &RawMesh) -> std::io::Result<Vec<u8>> {
    let mut out = Vec::new();
    write_ply_binary(mesh, &mut out)?;
    Ok(out)
}

/// The quantities with the goals of their root mean square and of the worst error. Without noise the goals are a tenth of these.
const GOALS: [(&str, f64, Option<f64>); 6] = [
    ("twist, deg", 0.06, Some(0.2)),
    ("twist of the smooth blade, deg", 0.035, Some(0.15)),
    ("face angle, deg", 0.06, None),
    ("chord, relative", 0.0015, None),
    ("thickness ratio", 0.0015, None),
    ("camber ratio", 0.0015, None),
];

/// Differences of one table from the truth: twist and face angle relative to the reference station, the rest directly.
fn compare(table: &StationTable, blade: &Blade, tallies: &mut [Tally; 6]) {
    let truth = |s: &Station| blade.truth(s.radius_ratio);
    let Some(reference) = table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-6) else {
        return;
    };
    let both = |a: Option<f64>, b: Option<f64>| Some(a?.hypot(b?));
    // The uncertainty of the reference section is common to both. The difference is taken between the sections themselves.
    let own = |s: &Station, column: StationColumn| s.u_without(column, UncertaintySource::Reference);
    let at_reference = truth(reference);
    for s in &table.stations {
        let t = truth(s);
        if s.radius_ratio.total_cmp(&reference.radius_ratio).is_ne() {
            if let (Some(a), Some(zero)) = (s.blade_angle_deg, reference.blade_angle_deg) {
                tallies[0].add(
                    a - t.blade_angle_deg - (zero - at_reference.blade_angle_deg),
                    both(own(s, StationColumn::BladeAngleDeg), own(reference, StationColumn::BladeAngleDeg)),
                );
            }
            let smooth = |s: &Station| s.smooth.figures.get(&StationColumn::BladeAngleDeg).copied();
            if let (Some(a), Some(zero)) = (smooth(s), smooth(reference)) {
                tallies[1].add(
                    a.value - t.blade_angle_deg - (zero.value - at_reference.blade_angle_deg),
                    Some(a.u.hypot(zero.u)),
                );
            }
            if let (Some(a), Some(zero)) = (s.face_angle_deg, reference.face_angle_deg) {
                tallies[2].add(
                    a - t.face_angle_deg - (zero - at_reference.face_angle_deg),
                    both(own(s, StationColumn::FaceAngleDeg), own(reference, StationColumn::FaceAngleDeg)),
                );
            }
        }
        if let Some(c) = s.chord_m {
            tallies[3].add(c / t.chord_m - 1.0, s.u.chord_m.map(|u| u / t.chord_m));
        }
        if let Some(x) = s.thickness_ratio {
            tallies[4].add(x - t.thickness_ratio, s.u.thickness_ratio);
        }
        if let Some(x) = s.camber_ratio {
            tallies[5].add(x - t.camber_ratio, s.u.camber_ratio);
        }
    }
}

/// Prints one table: each family with the noise of a usual scan, and one without noise.
pub(crate) fn run(seeds: usize, triangles: usize, first: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let title = format!("Lone blades: {triangles} triangles, {seeds} seeds from {first}");
    let headings: Vec<&str> = std::iter::once("case").chain(HEADINGS).collect();
    let rows = Table::begin(&mut out, &title, &headings)?;
    let mut remarks = Vec::new();
    let mut parts: Vec<(String, Tally)> = Vec::new();
    for (kind, noisy) in [
        (SectionKind::FourDigit, false),
        (SectionKind::FourDigit, true),
        (SectionKind::ClarkY, true),
        (SectionKind::FlatFaced, true),
    ] {
        let blade = Blade::quarry_mill().with_kind(kind);
        let mut tallies: [Tally; 6] = Default::default();
        let (mut refused, mut measuring) = (0, 0.0);
        let case = format!("{kind:?}, {}", if noisy { "usual scan" } else { "no noise" });
        for seed in (first..).take(seeds) {
            let plan = if noisy {
                ScanPlan::usual(seed)
            } else {
                ScanPlan { any_pose: true, ..ScanPlan::clean(seed) }
            };
            let scan = scan_of_blade(&blade, &ScanPlan { triangles, ..plan });
            let file = bytes(&scan.mesh)?;
            let ask = MeasurePlan {
                resolution_m: Some(0.0),
                length_m: Some(blade.length_m()),
                diameter_m: Some(2.0 * blade.radius_m),
                stations: StationRadii::Ratios(ratios()),
                ..MeasurePlan::default()
            };
            let before = std::time::Instant::now();
            let result =
                measure(bladeform_measure::ScanInput::file(&file, "study"), &ask, &bladeform_measure::Silent);
            measuring += before.elapsed().as_secs_f64();
            match result {
                Ok(table) => {
                    refused += table.stations.iter().filter(|s| s.is_refused()).count();
                    compare(&table, &blade, &mut tallies);
                    add_parts(&table, &case, &mut parts);
                }
                Err(e) => remarks.push(format!("{kind:?}, seed {seed}: {e}")),
            }
        }
        let part = if noisy { 1.0 } else { 0.1 };
        for ((name, goal, worst), tally) in GOALS.into_iter().zip(&tallies) {
            tally.print(&mut out, &rows, &[&case], name, [Some(part * goal), worst.map(|w| part * w)])?;
        }
        remarks.push(format!(
            "{case}: {refused} stations refused; {:.2} s for each scan",
            measuring / seeds as f64
        ));
    }
    writeln!(out)?;
    for remark in remarks {
        writeln!(out, "- {remark}")?;
    }
    let title = "Parts of the stated u of the blade angle, root mean squares, deg";
    let rows = Table::begin(&mut out, title, &["case and source", "u, deg"])?;
    for (name, tally) in parts.iter().filter(|(_, tally)| 0.0 < tally.rms()) {
        rows.row(&mut out, &[name.clone(), format!("{:.5}", tally.rms())])?;
    }
    Ok(())
}

/// Adds the parts of the uncertainty of the blade angle, by case and source.
fn add_parts(table: &StationTable, case: &str, parts: &mut Vec<(String, Tally)>) {
    for source in UncertaintySource::ALL {
        let name = format!("{case}: {}", source.key());
        let place = parts.iter().position(|p| p.0 == name).unwrap_or_else(|| {
            parts.push((name, Tally::default()));
            parts.len() - 1
        });
        for s in table.stations.iter().filter(|s| s.blade_angle_deg.is_some()) {
            parts[place].1.add(s.budget.part(StationColumn::BladeAngleDeg, source), None);
        }
    }
}
