//! `compare` with one table as a user runs it: the blades of a propeller against one another.

use bladeform_mesh::RawMesh;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};
use serde_json::Value;

use crate::tool::{HAND_TABLE, names, run_in, text};

/// A propeller of two, the second of which is set 3 deg coarser outside of the hub.
fn coarser() -> RawMesh {
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let mut mesh = scan_of_propeller(&propeller, &ScanPlan { triangles: 60_000, ..ScanPlan::clean(4) }).mesh;
    let (sin, cos) = 3f64.to_radians().sin_cos();
    for p in mesh.vertices.iter_mut().filter(|p| p[2] < -0.17) {
        *p = [cos * p[0] + sin * p[1], cos * p[1] - sin * p[0], p[2]];
    }
    mesh
}

#[test]
fn the_blades_of_one_table_are_compared_with_one_another() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(&coarser(), &mut bytes).unwrap();
    std::fs::write(at.join("p.stl"), bytes).unwrap();
    let stations = "0.3,0.4,0.5,0.6,0.7,0.8,0.9,0.95";
    let run = run_in(at, &["measure", "p.stl", "--diameter", "2.84m", "--at", stations, "--no-record"]);
    assert!(run.status.success(), "{}", text(&run.stderr));

    let run = run_in(at, &["compare", "stations.json", "--out", "c"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let said = text(&run.stdout);
    assert_eq!(names(&at.join("c")), ["blades.csv", "blades.json"]);
    for needed in
        ["Not alike", "Blade 1: blade angle: ", "Two blades do not show which", "airworthy", "off even"]
    {
        assert!(said.contains(needed), "{needed} is missing in\n{said}");
    }
    assert!(said.lines().all(|l| l.chars().count() <= 100), "{said}");
    let json: Value = serde_json::from_slice(&std::fs::read(at.join("c/blades.json")).unwrap()).unwrap();
    assert_eq!((&json["schema"], &json["alike"]), (&Value::from("bladeform.blades/1"), &Value::from(false)));
    let of_angle = |d: &&Value| d["figure"] == "blade_angle_deg" && d["is_shifted"] == true;
    let angle = json["departures"].as_array().unwrap().iter().find(of_angle).unwrap();
    let (shift, u) = (angle["shift"].as_f64().unwrap(), angle["u_shift"].as_f64().unwrap());
    assert!((shift.abs() - 3.0).abs() < 3.0 * u && u < 0.3, "{angle}");
    let csv = std::fs::read_to_string(at.join("c/blades.csv")).unwrap();
    assert!(csv.lines().filter(|l| l.contains("blade_angle_deg")).count() == 8, "{csv}");

    assert!(json.get("balance").is_none() && !said.contains("Unbalance"), "{said}");

    let run = run_in(
        at,
        &["compare", "stations.json", "--density", "0.6g/cm3", "--weight-radius", "1m", "--out", "b"],
    );
    let said = text(&run.stdout);
    for needed in [
        "Balance at 600 kg/m3 throughout, from the closed surface",
        "g cm (±",
        "no heavy side",
        "balancing stand",
        "(uniform-density)",
        "--scan-accuracy",
    ] {
        assert!(said.contains(needed), "{needed} is missing in\n{said}");
    }
    let json: Value = serde_json::from_slice(&std::fs::read(at.join("b/blades.json")).unwrap()).unwrap();
    let (size, u) = (
        json["balance"]["unbalance_kg_m"].as_f64().unwrap(),
        json["balance"]["u_unbalance_kg_m"].as_f64().unwrap(),
    );
    // Turning a blade about its pitch axis hardly moves its mass.
    assert!(size < 3.0 * u + 2e-3 && json["balance"]["by"] == "surface", "{}", json["balance"]);
    for wrong in [
        &["stations.json", "--weight-radius", "1m"][..],
        &["stations.json", "stations.json", "--density", "600kg/m3"],
    ] {
        assert_eq!(run_in(at, &[&["compare"], wrong].concat()).status.code(), Some(2), "{wrong:?}");
    }
    let run = run_in(
        at,
        &["compare", "stations.json", "--density", "600kg/m3", "--weight-radius", "2m", "--out", "x"],
    );
    assert!(
        run.status.code() == Some(1) && text(&run.stderr).contains("give a radius on them"),
        "{}",
        text(&run.stderr)
    );

    for (option, value) in [("--tolerance", "chord=2mm"), ("--reference", "0.6"), ("--title", "x")] {
        let run = run_in(at, &["compare", "stations.json", option, value]);
        assert_eq!(run.status.code(), Some(2), "{option}");
        assert!(text(&run.stderr).contains("is for two tables"), "{}", text(&run.stderr));
    }
    std::fs::write(at.join("lone.json"), HAND_TABLE).unwrap();
    let run = run_in(at, &["compare", "lone.json", "--out", "lone"]);
    assert_eq!(run.status.code(), Some(1));
    assert!(text(&run.stderr).contains("fewer than two blades"), "{}", text(&run.stderr));
    assert!(!at.join("lone").exists());
}
