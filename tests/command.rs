//! The command as a user runs it: files in, text and exit status out, no partly written files left.

use std::path::Path;
use std::process::{Command, Output};

use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bladeform")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn scan_in(folder: &Path) -> String {
    let plan = ScanPlan { triangles: 60_000, ..ScanPlan::usual(11) };
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(&scan_of_blade(&Blade::quarry_mill(), &plan).mesh, &mut bytes).unwrap();
    let path = folder.join("blade.ply");
    // The file name extension is wrong on purpose: the content decides.
    std::fs::write(&path, bytes).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn a_scan_becomes_two_files_and_a_second_run_gives_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let scan = scan_in(folder.path());
    let (one, two) = (folder.path().join("one"), folder.path().join("two"));
    let first = run(&[
        "measure",
        &scan,
        "--length",
        "1300mm",
        "--diameter",
        "2.84m",
        "--setting",
        "17deg@0.75",
        "--out",
        one.to_str().unwrap(),
    ]);
    assert!(first.status.success(), "{}", text(&first.stderr));
    let shown = text(&first.stdout);
    for needed in ["blade angle", "Hand: right", "airworthy"] {
        assert!(shown.contains(needed), "{needed} is missing in:\n{shown}");
    }
    let second = run(&[
        "measure",
        &scan,
        "--length",
        "1300mm",
        "--diameter",
        "2.84m",
        "--setting",
        "17deg@0.75",
        "--threads",
        "1",
        "--out",
        two.to_str().unwrap(),
    ]);
    assert!(second.status.success());
    for name in ["stations.json", "stations.csv"] {
        assert_eq!(
            std::fs::read(one.join(name)).unwrap(),
            std::fs::read(two.join(name)).unwrap(),
            "{name} differs"
        );
    }
    let json: serde_json::Value =
        serde_json::from_slice(&std::fs::read(one.join("stations.json")).unwrap()).unwrap();
    assert_eq!(json["schema"], "bladeform.stations/1");
    assert_eq!(json["stations"].as_array().unwrap().len(), 24);
    assert_eq!(json["source"]["format"], "binary STL");
    assert!((json["blade"]["root_radius_m"].as_f64().unwrap() - 0.12).abs() < 1e-9);
}

#[test]
fn bad_input_gives_one_message_and_status_1_and_no_files() {
    let folder = tempfile::tempdir().unwrap();
    let bad = folder.path().join("bad.ply");
    for (content, expected) in [(&b""[..], "empty"), (b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n", "face")] {
        std::fs::write(&bad, content).unwrap();
        let out = folder.path().join("out");
        let run = run(&["measure", bad.to_str().unwrap(), "--out", out.to_str().unwrap()]);
        assert_eq!(run.status.code(), Some(1));
        let said = text(&run.stderr);
        assert!(said.contains(expected) && said.lines().count() == 1, "{said}");
        assert!(!out.exists());
    }
    assert_eq!(run(&["measure", folder.path().to_str().unwrap()]).status.code(), Some(1));
}

#[test]
fn a_block_and_a_ball_are_not_blades() {
    let folder = tempfile::tempdir().unwrap();
    let corner = |i: u32| [f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2)];
    let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let cube = bladeform_mesh::RawMesh {
        vertices: (0..8).map(corner).collect(),
        faces: sides.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect(),
    };
    let (n, turn) = (24, std::f64::consts::TAU);
    let at = |i: usize, j: usize| {
        let (a, b) = (turn / 2.0 * i as f64 / n as f64, turn * j as f64 / n as f64);
        [a.sin() * b.cos(), a.sin() * b.sin(), a.cos()]
    };
    let squares =
        (0..n).flat_map(|i| (0..n).map(move |j| [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]));
    let vertices: Vec<_> = squares.flatten().collect();
    let faces = (0..(n * n) as u32)
        .flat_map(|k| [[4 * k, 4 * k + 1, 4 * k + 2], [4 * k, 4 * k + 2, 4 * k + 3]])
        .collect();
    for (name, mesh) in [("block", cube), ("ball", bladeform_mesh::RawMesh { vertices, faces })] {
        let path = folder.path().join(name);
        let mut bytes = Vec::new();
        bladeform_mesh::write_stl_binary(&mesh, &mut bytes).unwrap();
        std::fs::write(&path, bytes).unwrap();
        let run =
            run(&["measure", path.to_str().unwrap(), "--out", folder.path().join("out").to_str().unwrap()]);
        assert_eq!(run.status.code(), Some(1), "{name}: {}", text(&run.stdout));
        assert!(text(&run.stderr).contains("no blade was found"), "{}", text(&run.stderr));
    }
}

#[test]
fn a_length_without_a_unit_is_a_usage_error() {
    let run = run(&["measure", "x.ply", "--length", "52"]);
    assert_eq!(run.status.code(), Some(2));
    assert!(text(&run.stderr).contains("unit"), "{}", text(&run.stderr));
}
