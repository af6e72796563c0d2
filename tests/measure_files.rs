//! `measure` on every scan format, and the scans and requests that it refuses.

use std::path::Path;

use bladeform_mesh::RawMesh;
use bladeform_specimen::{
    Blade, Damage, Random, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller,
};
use serde_json::{Value, json};

use crate::tool::{names, run_in, text};

/// The mesh as a minimal GLB file: one buffer, positions in single precision, indices of 32 bits (glTF 2.0, Khronos Group).
fn glb(mesh: &RawMesh) -> Vec<u8> {
    let mut buffer: Vec<u8> =
        mesh.vertices.as_flattened().iter().flat_map(|c| (*c as f32).to_le_bytes()).collect();
    let positions = buffer.len();
    buffer.extend(mesh.faces.as_flattened().iter().flat_map(|i| i.to_le_bytes()));
    let bound = |which: fn(f32, f32) -> f32| {
        [0, 1, 2].map(|k| mesh.vertices.iter().map(|p| p[k] as f32).reduce(which).unwrap())
    };
    let document = json!({
        "asset": {"version": "2.0"},
        "buffers": [{"byteLength": buffer.len()}],
        "bufferViews": [
            {"buffer": 0, "byteOffset": 0, "byteLength": positions},
            {"buffer": 0, "byteOffset": positions, "byteLength": buffer.len() - positions},
        ],
        "accessors": [
            {"bufferView": 0, "componentType": 5126, "count": mesh.vertices.len(), "type": "VEC3",
             "min": bound(f32::min), "max": bound(f32::max)},
            {"bufferView": 1, "componentType": 5125, "count": 3 * mesh.faces.len(), "type": "SCALAR"},
        ],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}, "indices": 1}]}],
        "nodes": [{"mesh": 0}],
        "scenes": [{"nodes": [0]}],
        "scene": 0,
    });
    let mut text = document.to_string().into_bytes();
    text.resize(text.len().next_multiple_of(4), b' ');
    let word = |n: usize| u32::try_from(n).unwrap().to_le_bytes();
    let total = 12 + 8 + text.len() + 8 + buffer.len();
    let parts: [&[u8]; 9] = [
        b"glTF",
        &word(2),
        &word(total),
        &word(text.len()),
        b"JSON",
        &text,
        &word(buffer.len()),
        b"BIN\0",
        &buffer,
    ];
    parts.concat()
}

/// The stations of `stations.json` of a run that must succeed.
fn measured(folder: &Path, scan: &str) -> Vec<Value> {
    // An estimated resolution follows the last digits of the coordinates; a stated one does not.
    let options = [
        "--length",
        "1300mm",
        "--diameter",
        "2.84m",
        "--at",
        "0.35,0.5,0.75",
        "--no-record",
        "--resolution",
        "0mm",
    ];
    let run = run_in(folder, &[&["measure", scan, "--out", "out", "--overwrite"][..], &options].concat());
    assert!(run.status.success(), "{scan}: {}", text(&run.stderr));
    let table: Value =
        serde_json::from_slice(&std::fs::read(folder.join("out/stations.json")).unwrap()).unwrap();
    table["stations"].as_array().unwrap().clone()
}

#[test]
fn obj_and_glb_give_the_values_of_ply() {
    let folder = tempfile::tempdir().unwrap();
    let plan = ScanPlan { triangles: 30_000, ..ScanPlan::usual(11) };
    let mesh = scan_of_blade(&Blade::quarry_mill(), &plan).mesh;
    let write = |name: &str, bytes: Vec<u8>| std::fs::write(folder.path().join(name), bytes).unwrap();
    let (mut ply, mut obj) = (Vec::new(), Vec::new());
    bladeform_mesh::write_ply_binary(&mesh, &mut ply).unwrap();
    bladeform_mesh::write_obj(&mesh, &mut obj).unwrap();
    write("blade.ply", ply);
    write("blade.obj", obj);
    write("blade.glb", glb(&mesh));
    let expected = measured(folder.path(), "blade.ply");
    assert_eq!(expected.len(), 3);
    // OBJ keeps every digit; GLB has single precision, seven digits.
    for (scan, tolerance) in [("blade.obj", 0.0), ("blade.glb", 1e-5)] {
        for (found, expected) in measured(folder.path(), scan).iter().zip(&expected) {
            for key in ["chord_m", "blade_angle_deg", "thickness_ratio", "camber_ratio", "area_m2"] {
                let (a, b) = (found[key].as_f64().unwrap(), expected[key].as_f64().unwrap());
                assert!((a - b).abs() <= tolerance * b.abs().max(1e-2), "{scan}: {key} {a}, in PLY {b}");
            }
        }
    }
}

/// Runs `measure` and expects exit status 1 with one message that contains the words. No file may be left behind.
fn refused(folder: &Path, options: &str, needed: &[&str]) {
    let before = names(folder);
    let arguments = [&["measure"][..], &options.split(' ').collect::<Vec<_>>(), &["--out", "out"]].concat();
    let run = run_in(folder, &arguments);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(1), "{options}: {said}");
    assert_eq!(said.lines().count(), 1, "{options}: {said}");
    for needed in needed {
        assert!(said.contains(needed), "{options}: {needed} is missing in: {said}");
    }
    assert_eq!(names(folder), before);
}

fn write_stl(folder: &Path, name: &str, mesh: &RawMesh) {
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(mesh, &mut bytes).unwrap();
    std::fs::write(folder.join(name), bytes).unwrap();
}

#[test]
fn known_lengths_that_contradict_one_another_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let plan = ScanPlan { triangles: 20_000, ..ScanPlan::clean(3) };
    write_stl(at, "blade.stl", &scan_of_blade(&Blade::quarry_mill(), &plan).mesh);
    let contradict = "contradict";
    refused(at, "blade.stl --length 1.5m --diameter 2.84m", &[contradict, "1.5000 m", "2.8400 m"]);
    refused(
        at,
        "blade.stl --length 1.3m --diameter 2.84m --root-radius 0.2m",
        &[contradict, "0.1200 m", "0.2000 m"],
    );
    refused(at, "blade.stl --diameter 2.84m --root-radius 1.5m", &[contradict, "root radius"]);
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 3, hub_radius_m: 0.16, hub_length_m: 0.2 };
    write_stl(at, "three.stl", &scan_of_propeller(&propeller, &ScanPlan { triangles: 60_000, ..plan }).mesh);
    refused(at, "three.stl --length 1.3m", &[contradict, "3 blades", "diameter"]);
}

#[test]
fn stations_off_the_blade_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let plan = ScanPlan { triangles: 20_000, ..ScanPlan::clean(3) };
    write_stl(at, "blade.stl", &scan_of_blade(&Blade::quarry_mill(), &plan).mesh);
    let known = "blade.stl --length 1.3m --diameter 2.84m --at";
    refused(at, &format!("{known} 0.5m,1.6m"), &["1.6000 m", "outside the blade", "0.1200 m", "1.4200 m"]);
    refused(at, &format!("{known} 0.05,0.5"), &["0.0710 m", "outside the blade"]);
}

#[test]
fn a_scan_in_which_no_station_can_be_measured_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let blade = Blade::quarry_mill();
    let plan = ScanPlan { triangles: 60_000, holes: 0, bench: false, any_pose: false, ..ScanPlan::usual(5) };
    let mesh = scan_of_blade(&blade, &plan).mesh;
    let mesh = Damage::FaceMissing { from: 0.45, to: 0.55 }.apply(mesh, &blade, &mut Random::new(5));
    write_stl(folder.path(), "blade.stl", &mesh);
    let options = "blade.stl --length 1.3m --diameter 2.84m --at 0.49,0.5,0.51";
    refused(folder.path(), options, &["none of the 3 stations could be measured"]);
}
