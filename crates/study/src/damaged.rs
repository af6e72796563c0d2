//! Damaged and difficult scans of one blade: the measured figures, the stated uncertainty, and refusals with their reasons.

use std::collections::BTreeMap;
use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, Damage, Pose, Random, ScanPlan, in_pose, scan_of_blade};
use bladeform_table::StationTable;

use crate::accuracy::{bytes, ratios};
use crate::markdown::Table;
use crate::tally::Tally;

/// One case: name, triangles, damage, and the ends of the remaining blade as fractions of the tip radius.
struct Case {
    name: &'static str,
    triangles: usize,
    damage: Option<Damage>,
    left: [Option<f64>; 2],
}

fn cases() -> Vec<Case> {
    let case = |name, damage| Case { name, triangles: 400_000, damage, left: [None, None] };
    let plain = |name, triangles| Case { name, triangles, damage: None, left: [None, None] };
    vec![
        case("usual scan", None),
        case("face not seen from 0.40 to 0.60 R", Some(Damage::FaceMissing { from: 0.40, to: 0.60 })),
        Case {
            left: [None, Some(0.90)],
            ..case("tip broken off at 0.90 R", Some(Damage::TipBroken { at: 0.90 }))
        },
        Case {
            left: [Some(0.24), None],
            ..case("shank cut away at 0.24 R", Some(Damage::ShankCut { at: 0.24 }))
        },
        case("bench fused to the blade", Some(Damage::BenchFused)),
        case(
            "double layer, 0.5 mm, 0.45 to 0.65 R",
            Some(Damage::DoubleLayer { from: 0.45, to: 0.65, depth_m: 5e-4 }),
        ),
        case(
            "double layer, 3 mm, 0.45 to 0.65 R",
            Some(Damage::DoubleLayer { from: 0.45, to: 0.65, depth_m: 3e-3 }),
        ),
        case(
            "30 blobs, 8 mm wide, 2 mm high",
            Some(Damage::Blobs { count: 30, radius_m: 8e-3, height_m: 2e-3 }),
        ),
        case(
            "leading edge worn by 3 mm, 0.60 to 0.80 R",
            Some(Damage::WornEdge { from: 0.60, to: 0.80, depth_m: 3e-3 }),
        ),
        plain("20,000 triangles", 20_000),
        plain("5 million triangles", 5_000_000),
    ]
}

/// Measures the damaged blade like its owner: the tape measures the remaining blade.
fn measured(case: &Case, seed: u64) -> std::io::Result<Result<StationTable, String>> {
    let blade = Blade::quarry_mill();
    let plan = ScanPlan {
        triangles: case.triangles,
        any_pose: false,
        // The usual bench would be a second one next to the fused bench, or would be doubled with the blade.
        bench: !matches!(case.damage, Some(Damage::BenchFused | Damage::DoubleLayer { .. })),
        ..ScanPlan::usual(seed)
    };
    let mut random = Random::new(seed ^ 0xda3a_6ed0_0000_0000);
    let mesh = scan_of_blade(&blade, &plan).mesh;
    let mesh = match case.damage {
        Some(damage) => damage.apply(mesh, &blade, &mut random),
        None => mesh,
    };
    let file = bytes(&in_pose(mesh, &Pose::random(&mut random)))?;
    let root = case.left[0].map_or(blade.root_radius_m, |r| r * blade.radius_m);
    let tip = case.left[1].map_or(blade.radius_m, |r| r * blade.radius_m);
    let lengths = ratios().into_iter().map(|r| r * blade.radius_m);
    let inside = lengths.filter(|r| root + 0.02 < *r && *r < tip - 0.02);
    let ask = MeasurePlan {
        resolution_m: Some(0.0),
        length_m: Some(tip - root),
        root_radius_m: Some(root),
        stations: StationRadii::Lengths(inside.map(bladeform_quantity::Length::from_m).collect()),
        setting: Some(bladeform_measure::KnownAngle {
            angle_deg: blade.truth(0.75).blade_angle_deg,
            radius_ratio: Some(0.75 * blade.radius_m / tip),
        }),
        ..MeasurePlan::default()
    };
    Ok(measure(bladeform_measure::ScanInput::file(&file, "study"), &ask, &bladeform_measure::Silent)
        .map_err(|e| e.to_string()))
}

/// Prints the table of cases.
pub(crate) fn run(seeds: usize, first: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let blade = Blade::quarry_mill();
    let title = format!(
        "Damaged scans: {seeds} seeds from {first}; in each cell the error, rms (worst), the stated u, rms, and the errors within 2 u; stations flagged, by code"
    );
    let headings = ["case", "angle, deg", "chord, mm", "thickness, mm", "stations", "flags"];
    let rows = Table::begin(&mut out, &title, &headings)?;
    let mut remarks = Vec::new();
    for case in cases() {
        let [mut angle, mut chord, mut thickness] = [(); 3].map(|()| Tally::default());
        let (mut stations, mut flags) = (0, BTreeMap::<String, usize>::new());
        for seed in (first..).take(seeds) {
            let table = match measured(&case, seed)? {
                Ok(table) => table,
                Err(e) => {
                    remarks.push(format!("{}, seed {seed}: refused: {e}", case.name));
                    continue;
                }
            };
            for s in &table.stations {
                stations += 1;
                for f in &s.flags {
                    *flags.entry(f.code().to_owned()).or_default() += 1;
                }
                let t = blade.truth(s.radius_m / blade.radius_m);
                if let Some(a) = s.blade_angle_deg {
                    angle.add(a - t.blade_angle_deg, s.u.blade_angle_deg);
                }
                if let Some(c) = s.chord_m {
                    chord.add(1e3 * (c - t.chord_m), s.u.chord_m.map(|u| 1e3 * u));
                }
                if let Some(x) = s.thickness_m {
                    thickness.add(1e3 * (x - t.thickness_m), s.u.thickness_m.map(|u| 1e3 * u));
                }
            }
        }
        let flagged: Vec<String> = flags.iter().map(|(code, n)| format!("{code} {n}")).collect();
        let cells = [
            case.name.to_owned(),
            angle.short(),
            chord.short(),
            thickness.short(),
            stations.to_string(),
            flagged.join(", "),
        ];
        rows.row(&mut out, &cells)?;
    }
    writeln!(out)?;
    for remark in remarks {
        writeln!(out, "- {remark}")?;
    }
    Ok(())
}
