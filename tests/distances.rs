//! Known distances between points of the scan as the scale, as a user gives them.

use std::path::Path;

use bladeform::document::read_json;
use bladeform::table::StationTable;
use bladeform_mesh::RawMesh;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller};

use crate::tool::{run_in, text};

/// A scan in a folder, and its true metres per unit.
struct Scanned {
    mesh: RawMesh,
    metres_per_unit: f64,
}

fn write(at: &Path, name: &str, mesh: &RawMesh) {
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(mesh, &mut bytes).unwrap();
    std::fs::write(at.join(name), bytes).unwrap();
}

fn lone(at: &Path) -> Scanned {
    let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 60_000, ..ScanPlan::usual(7) });
    write(at, "blade.ply", &scan.mesh);
    Scanned { metres_per_unit: 1.0 / scan.pose.scale, mesh: scan.mesh }
}

impl Scanned {
    /// A distance between two vertices as the option's value; `factor`: what is wrong with the stated length.
    fn distance(&self, [a, b]: [usize; 2], factor: f64, u: &str) -> String {
        let (p, q) = (self.mesh.vertices[a], self.mesh.vertices[b]);
        let length_m = self.metres_per_unit * (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt();
        let place = |p: [f64; 3]| p.map(|v| format!("{v}")).join(",");
        format!("{:.9}m{u}@{}..{}", factor * length_m, place(p), place(q))
    }

    /// Two vertices that lie far apart.
    fn ends(&self) -> [usize; 2] {
        let far = |from: usize| {
            let p = self.mesh.vertices[from];
            let square = |q: &[f64; 3]| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>();
            let all = self.mesh.vertices.iter().enumerate();
            all.max_by(|a, b| square(a.1).total_cmp(&square(b.1))).unwrap().0
        };
        let a = far(0);
        [a, far(a)]
    }
}

fn measured(at: &Path, scan: &str, options: &[&str]) -> (StationTable, String) {
    let known = ["measure", scan, "--at", "0.5,0.75", "--no-record", "--out", "out", "--overwrite"];
    let run = run_in(at, &[&known[..], options].concat());
    assert!(run.status.success(), "{}", text(&run.stderr));
    let said = text(&run.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    (read_json(&std::fs::read(at.join("out/stations.json")).unwrap()).unwrap(), said)
}

/// The scale over the true one, less 1, and its relative standard uncertainty.
fn error(table: &StationTable, scan: &Scanned) -> (f64, f64) {
    let scale = table.scale.as_ref().unwrap();
    (scale.metres_per_unit.unwrap() / scan.metres_per_unit - 1.0, scale.relative_uncertainty.unwrap())
}

#[test]
fn distances_give_the_scale_of_a_lone_blade_alone_with_a_diameter_and_beside_a_length() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scan = lone(at);
    let exact = scan.distance(scan.ends(), 1.0, "+-0.01mm");

    let (table, said) = measured(at, "blade.ply", &["--distance", &exact, "--root-radius", "120mm"]);
    let (off, u) = error(&table, &scan);
    assert!(off.abs() < 1e-8, "{off}");
    // One distance: the relative uncertainty is u over the length, about 0.01 mm over 1.3 m.
    let known = table.scale.as_ref().unwrap().known_lengths.clone();
    assert!((u / (1e-5 / known[0].stated_m) - 1.0).abs() < 1e-6 && known.len() == 1, "{u}");
    assert!(said.contains("1 known distance between points of the scan"), "{said}");
    assert!(said.contains("Known: distance 1"), "{said}");
    assert!(!said.contains("(no-length)") && !said.contains("(distance-outside)"), "{said}");

    // A diameter alone does not give the scale of a lone blade; with a distance it gives the root radius.
    let (table, _) = measured(at, "blade.ply", &["--distance", &exact, "--diameter", "2.84m"]);
    assert!((table.blade.radius_m - 1.42).abs() < 1e-9, "{}", table.blade.radius_m);
    // The truth is 120 mm; the ends of the blade in the scan are uncertain by some tenths of a millimetre.
    assert!((table.blade.root_radius_m.unwrap() - 0.12).abs() < 2e-3, "{:?}", table.blade.root_radius_m);
    // Half of the tape's 0.5 mm at the diameter, and next to nothing of the distance.
    let u = table.blade.u.root_radius_m.unwrap();
    assert!((u - 2.5e-4).abs() < 1e-6, "{u}");

    // A length beside it counts by its weight: a tape's 0.5 mm against 0.01 mm.
    let beside = ["--distance", &exact, "--length", "1301mm", "--root-radius", "120mm"];
    let (table, said) = measured(at, "blade.ply", &beside);
    let (off, _) = error(&table, &scan);
    assert!(0.0 < off && off < 2e-6, "{off}");
    let scale = table.scale.as_ref().unwrap();
    assert_eq!((scale.known_lengths.len(), scale.degrees_of_freedom), (2, Some(1)));
    assert!(said.contains("and the overall length 1.3010 m"), "{said}");
    // The uncertainty reaches the figures: the blade's length is known as well as the distance.
    assert!(table.blade.u.blade_length_m.unwrap() < 1e-3);
}

#[test]
fn distances_that_contradict_are_told_with_each_difference_and_u_is_raised() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scan = lone(at);
    let [a, b] = scan.ends();
    let good = scan.distance([a, b], 1.0, "+-0.2mm");
    let other = scan.distance([a, 17], 1.0, "+-0.2mm");
    let typo = scan.distance([b, 17], 1.02, "+-0.2mm");
    let root = ["--root-radius", "120mm"];
    let asked = |all: &[&String]| -> (StationTable, String) {
        let options: Vec<&str> = all.iter().flat_map(|d| ["--distance", d.as_str()]).chain(root).collect();
        measured(at, "blade.ply", &options)
    };
    let (agree, said) = asked(&[&good, &other]);
    assert!(!said.contains("distances-contradict"), "{said}");
    let (table, said) = asked(&[&good, &other, &typo]);
    assert!(said.contains("Warning: (distances-contradict)"), "{said}");
    assert!(
        said.contains("distance 1") && said.contains("distance 2") && said.contains("distance 3"),
        "{said}"
    );
    assert!(said.contains("Birge ratio") && said.contains("in one of twenty cases"), "{said}");
    let scale = table.scale.as_ref().unwrap();
    let ratio = scale.birge_ratio.unwrap();
    let chi_square: f64 = scale.known_lengths.iter().map(|k| (k.difference_m / k.u_m).powi(2)).sum();
    assert!((chi_square / scale.chi_square.unwrap() - 1.0).abs() < 1e-6);
    assert!((ratio - (chi_square / 2.0).sqrt()).abs() < 1e-6 * ratio && 5.0 < ratio, "{ratio}");
    let ((off, u), (_, before)) = (error(&table, &scan), error(&agree, &scan));
    assert!(off.abs() < 3.0 * u && 3.0 * before < u, "{off} {u} {before}");
}

#[test]
fn distances_give_the_scale_of_a_whole_propeller_and_a_stated_unit_is_compared() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 3, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let made = scan_of_propeller(&propeller, &ScanPlan { triangles: 90_000, ..ScanPlan::usual(3) });
    write(at, "p.ply", &made.mesh);
    let scan = Scanned { metres_per_unit: 1.0 / made.pose.scale, mesh: made.mesh };
    let exact = scan.distance(scan.ends(), 1.0, "+-0.05mm");

    let (table, said) = measured(at, "p.ply", &["--distance", &exact, "--unit", "mm"]);
    let (off, _) = error(&table, &scan);
    assert!(off.abs() < 1e-8, "{off}");
    assert!((table.blade.radius_m / 1.42 - 1.0).abs() < 2e-3, "{}", table.blade.radius_m);
    // The scan of a specimen has a unit of its own, which is no millimetre.
    assert!(said.contains("(unit-contradicts-length)"), "{said}");

    let (table, said) = measured(at, "p.ply", &["--distance", &exact, "--diameter", "2.84m"]);
    assert_eq!(table.scale.as_ref().unwrap().known_lengths.len(), 2);
    assert!(said.contains("and the diameter 2.8400 m"), "{said}");
    assert!(error(&table, &scan).0.abs() < 1e-4);
}

#[test]
fn points_that_are_not_in_the_scan_are_told_and_several_scans_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scan = lone(at);
    // The length is right, the points are those of another program's axes.
    let far = format!("1.3m@90000,0,0..{},0,0", 90_000.0 + 1.3 / scan.metres_per_unit);
    let (table, said) = measured(at, "blade.ply", &["--distance", &far, "--root-radius", "120mm"]);
    assert!(error(&table, &scan).0.abs() < 1e-9);
    assert!(said.contains("Warning: (distance-outside) distance 1"), "{said}");

    let run = run_in(at, &["measure", "blade.ply", "blade.ply", "--distance", "250mm@0,0,0..1,0,0"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(text(&run.stderr).contains("coordinates of one scan"), "{}", text(&run.stderr));
}
