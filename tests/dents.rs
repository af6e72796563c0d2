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
fn a_sound_blade_has_no_dents_on_its_list() {
    let plan = ScanPlan { triangles: 250_000, bench: false, ..ScanPlan::usual(31) };
    assert_eq!(listed(&plan, &[]), []);
    // A coarse scan, and one in which the shank becomes the blade between two stations.
    assert_eq!(listed(&ScanPlan { triangles: 60_000, ..ScanPlan::usual(48) }, &[]), []);
}

#[test]
fn dents_are_listed_with_place_extent_and_depth() {
    let plan = ScanPlan { triangles: 400_000, bench: false, ..ScanPlan::usual(31) };
    let pressed = [
        (0.62, 0.40, true, 0.020, 0.002),
        (0.45, 0.55, false, 0.015, 0.0015),
        (0.80, 0.50, true, 0.020, -0.001),
        // Wide enough to draw the outlines of its stations along.
        (0.70, 0.35, false, 0.040, 0.004),
    ];
    let damage = pressed.map(|(at, chord_share, in_back, radius_m, depth_m)| Damage::Dent {
        at,
        chord_share,
        in_back,
        radius_m,
        depth_m,
    });
    let mut found = listed(&plan, &damage);
    assert_eq!(found.len(), pressed.len(), "{found:?}");
    for (at, chord_share, in_back, radius_m, depth_m) in pressed {
        let radius_mm = 1420.0 * at;
        let k = found.iter().position(|f| (f.radius_mm - radius_mm).abs() < 12.0).unwrap();
        let dent = found.remove(k);
        assert_eq!(dent.side, if in_back { "back" } else { "face" });
        assert_eq!(dent.is_deep, 0.0 < depth_m);
        assert!((dent.chord_percent - 100.0 * chord_share).abs() < 5.0, "{dent:?}");
        assert!(
            (dent.depth_mm - 1e3 * depth_m.abs()).abs() <= dent.half_width_mm + 0.01,
            "{dent:?} for {depth_m} m"
        );
        assert!(dent.half_width_mm < 0.5 * dent.depth_mm + 0.1, "{dent:?}");
        // (1 - x^2)^2 is one half at x = 0.5412. A patch of 10.5 mm widens it.
        let half_wide_mm = 2e3 * 0.5412 * radius_m;
        assert!(
            dent.extent_mm.iter().all(|e| (-7.0..10.5).contains(&(e - half_wide_mm))),
            "{dent:?} for {half_wide_mm} mm"
        );
    }
}
