//! Dents of known depth pressed into an invented blade, and found on its page; a sound blade has none.

use std::path::Path;

use bladeform_mesh::write_ply_binary;
use bladeform_specimen::{Blade, Damage, Random, ScanPlan, in_pose, scan_of_blade};

use crate::tool::{run_in, text};

/// An area on the list of the page.
#[derive(Debug, PartialEq)]
struct Listed {
    side: String,
    radius_mm: f64,
    chord_percent: f64,
    extent_mm: [f64; 2],
    depth_mm: f64,
    half_width_mm: f64,
    is_deep: bool,
}

/// The list of the page of a scan of the invented blade with damage, measured like a user does.
fn listed(plan: &ScanPlan, damage: &[Damage]) -> Vec<Listed> {
    let folder = tempfile::tempdir().unwrap();
    let blade = Blade::quarry_mill();
    let made = scan_of_blade(&blade, &ScanPlan { any_pose: false, ..*plan });
    let mut random = Random::new(plan.seed);
    let mesh = damage.iter().fold(made.mesh, |mesh, d| d.apply(mesh, &blade, &mut random));
    let mut bytes = Vec::new();
    write_ply_binary(&in_pose(mesh, &made.pose), &mut bytes).unwrap();
    std::fs::write(folder.path().join("scan.ply"), bytes).unwrap();
    page_of(folder.path(), &["--length", "1300mm", "--diameter", "2.84m"])
}

fn page_of(at: &Path, options: &[&str]) -> Vec<Listed> {
    let run = run_in(at, &[&["measure", "scan.ply", "--out", "out"], options].concat());
    assert!(run.status.success(), "{}", text(&run.stderr));
    let page = std::fs::read_to_string(at.join("out/record.html")).unwrap();
    let section = page.split("<h3>Dents and raised areas</h3>").nth(1).unwrap();
    let section = section.split("<script").next().unwrap();
    assert!(section.contains("standard deviations of the patches"), "{section}");
    let rows = section.split("<tr><th scope=\"row\">").skip(1);
    rows.map(row).collect()
}

fn row(html: &str) -> Listed {
    let plain = html.split("</tr>").next().unwrap();
    let mut words = String::new();
    let mut is_tag = false;
    for letter in plain.chars() {
        match letter {
            '<' => (is_tag, words) = (true, words + " "),
            '>' => is_tag = false,
            _ if !is_tag => words.push(letter),
            _ => {}
        }
    }
    let numbers: Vec<f64> = words.split_whitespace().filter_map(|w| w.parse().ok()).collect();
    let [radius, _, chord, along, across, depth, half] = numbers[..] else { panic!("{words}") };
    Listed {
        side: words.split_whitespace().next().unwrap().to_owned(),
        radius_mm: radius,
        chord_percent: chord,
        extent_mm: [along, across],
        depth_mm: depth,
        half_width_mm: half,
        is_deep: words.contains("deep"),
    }
}

#[test]
fn dents_are_listed_with_place_extent_and_depth_and_a_sound_blade_has_none() {
    let plan = ScanPlan { triangles: 400_000, bench: false, ..ScanPlan::usual(31) };
    assert_eq!(listed(&plan, &[]), []);
    let dents = [
        Damage::Dent { at: 0.62, chord_share: 0.40, in_back: true, radius_m: 0.020, depth_m: 0.002 },
        Damage::Dent { at: 0.45, chord_share: 0.55, in_back: false, radius_m: 0.015, depth_m: 0.0015 },
        Damage::Dent { at: 0.80, chord_share: 0.50, in_back: true, radius_m: 0.020, depth_m: -0.001 },
    ];
    let found = listed(&plan, &dents);
    eprintln!("{found:?}");
    assert_eq!(found.len(), 3, "{found:?}");
}

#[test]
fn zz_try() {
    for seed in 40..52 {
        let plan = ScanPlan {
            triangles: [60_000, 150_000, 400_000][seed as usize % 3],
            bench: false,
            ..ScanPlan::usual(seed)
        };
        eprintln!("TRY sound {seed} {:?}", listed(&plan, &[]));
    }
    for (seed, depth) in [(1, 0.0005), (2, 0.001), (3, 0.001), (4, 0.002), (5, 0.004)] {
        for radius_m in [0.01, 0.015, 0.025, 0.04] {
            let plan = ScanPlan { triangles: 400_000, bench: false, holes: 0, ..ScanPlan::usual(seed) };
            let d = [(0.5, 0.5, true), (0.7, 0.35, false), (0.85, 0.6, true)].map(
                |(at, chord_share, in_back)| Damage::Dent {
                    at,
                    chord_share,
                    in_back,
                    radius_m,
                    depth_m: depth,
                },
            );
            let found = listed(&plan, &d);
            eprintln!("TRY depth {depth} radius {radius_m}");
            for f in found {
                eprintln!("TRY    {f:?}");
            }
        }
    }
}
