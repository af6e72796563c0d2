//! Readings by hand: those of the true blade agree with its scan, and those that are off contradict it and say how.

use std::path::Path;

use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};
use serde_json::Value;

use crate::tool::{run_in, scan, text};

const RATIOS: [f64; 5] = [0.4, 0.5, 0.6, 0.7, 0.8];

/// Thicknesses of the true blade, `more_m` greater, and its longest chords and face angles.
fn readings(more_m: f64) -> Vec<String> {
    let blade = Blade::quarry_mill();
    let of = |ratio: f64| {
        let t = blade.truth(ratio);
        [
            format!("thickness={:.3}mm+-0.2mm@{ratio}", 1e3 * (t.thickness_m + more_m)),
            format!("longest-chord={:.3}mm+-0.3mm@{ratio}", 1e3 * t.longest_chord_m),
            format!("face-angle={:.3}deg@{ratio}", t.face_angle_deg),
        ]
    };
    let length = format!("length={:.2}mm±1mm@0.3..0.75", 1e3 * 0.45 * blade.radius_m);
    RATIOS.into_iter().flat_map(of).chain([length]).collect()
}

fn measured(folder: &Path, readings: &[String], options: &[&str]) -> (Value, String) {
    let known = ["measure", "blade.stl", "--length", "1300mm", "--diameter", "2.84m", "--out", "out"];
    let given = readings.iter().flat_map(|r| ["--reading", r.as_str()]);
    let asked: Vec<&str> = known.into_iter().chain(given).chain(options.iter().copied()).collect();
    let run = run_in(folder, &asked);
    assert!(run.status.success(), "{}", text(&run.stderr));
    let json = std::fs::read(folder.join("out/stations.json")).unwrap();
    // What is written is read and written again to the same bytes.
    let mut again = Vec::new();
    bladeform_document::write_json(&bladeform_document::read_json(&json).unwrap(), &mut again).unwrap();
    assert!(json == again, "the round trip changed bytes");
    (serde_json::from_slice(&json).unwrap(), text(&run.stdout))
}

#[test]
fn readings_of_the_true_blade_agree_and_greater_ones_name_an_offset() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 120_000);
    let (table, said) = measured(folder.path(), &readings(0.0), &["--at", "0.45,0.6,0.75"]);
    let found = &table["readings"];
    assert_eq!(found["contradict"], false, "{said}");
    assert!(said.contains("Together the readings agree with the scan"), "{said}");
    assert_eq!(found["rows"].as_array().unwrap().len(), 16);
    // The stations of the readings are not among the table's.
    assert_eq!(table["stations"].as_array().unwrap().len(), 3);
    // The angles of a lone blade are relative; five by hand set them and leave four to compare.
    assert_eq!(found["degrees_of_freedom"], 15);
    let truth = Blade::quarry_mill().truth(0.75).blade_angle_deg;
    assert!((found["angle_shift_deg"].as_f64().unwrap() - truth).abs() < 0.4, "{found}");
    assert!(found["rows"].as_array().unwrap().iter().all(|r| r["difference_over_u"].is_number()));
    let page = std::fs::read_to_string(folder.path().join("out/record.html")).unwrap();
    assert!(page.contains("Readings by hand") && !page.contains("Contradiction."));

    let off: Vec<String> = readings(6e-4).into_iter().filter(|r| r.starts_with("thickness")).collect();
    let (table, said) = measured(folder.path(), &off, &["--at", "0.45,0.6,0.75"]);
    let found = &table["readings"];
    assert_eq!(found["contradict"], true, "{said}");
    assert_eq!(found["parts"][0]["part"], "offset", "{said}");
    let amount = found["parts"][0]["amount_m"].as_f64().unwrap();
    assert!((amount - 3e-4).abs() < 1e-4, "{amount}");
    assert!(
        said.starts_with("Warning: (readings-contradict) readings by hand contradict the scan"),
        "{said}"
    );
    let flat = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("the scan's surface lies inside by") && flat.contains("what is left agrees"),
        "{flat}"
    );
    assert!(table["warnings"][0].as_str().unwrap().starts_with("readings-contradict: "));
    let page = std::fs::read_to_string(folder.path().join("out/record.html")).unwrap();
    assert!(page.contains("<strong>Contradiction.</strong>"));
}

#[test]
fn one_angle_alone_fixes_the_setting_and_a_reading_off_the_blade_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 60_000);
    let one = ["blade-angle=20deg+-0.3deg@0.6".to_owned()];
    let (table, said) = measured(folder.path(), &one, &["--at", "0.5,0.75", "--no-record"]);
    assert!(table["readings"]["rows"][0]["difference_deg"].is_null());
    assert!(said.contains("One angle by hand checks nothing"), "{said}");
    let known = ["measure", "blade.stl", "--length", "1300mm", "--diameter", "2.84m", "--no-record"];
    let run = run_in(folder.path(), &[&known[..], &["--reading", "chord=20mm@0.01"]].concat());
    assert_eq!(run.status.code(), Some(1), "{}", text(&run.stderr));
}

#[test]
fn a_whole_propeller_is_compared_by_the_mean_of_its_blades_with_absolute_angles() {
    let folder = tempfile::tempdir().unwrap();
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let plan = ScanPlan { triangles: 120_000, ..ScanPlan::clean(4) };
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(&scan_of_propeller(&propeller, &plan).mesh, &mut bytes).unwrap();
    std::fs::write(folder.path().join("p.stl"), bytes).unwrap();
    let t = propeller.blade.truth(0.6);
    let thickness = format!("thickness={:.3}mm@0.6", 1e3 * t.thickness_m);
    let angle = |more: f64| format!("face-angle={:.3}deg@0.6", t.face_angle_deg + more);
    for (more, contradict) in [(0.0, false), (3.0, true)] {
        let angle = angle(more);
        let known = ["measure", "p.stl", "--diameter", "2.84m", "--at", "0.5,0.75,0.9", "--no-record"];
        let asked = [&known[..], &["--reading", &thickness, "--reading", &angle]].concat();
        let run = run_in(folder.path(), &asked);
        assert!(run.status.success(), "{}", text(&run.stderr));
        let json = std::fs::read(folder.path().join("stations.json")).unwrap();
        let table: Value = serde_json::from_slice(&json).unwrap();
        let said = text(&run.stdout);
        assert_eq!(table["readings"]["contradict"], contradict, "{said}");
        assert_eq!(said.contains("the setting is off by as much"), contradict, "{said}");
        assert!(table["readings"]["angle_shift_deg"].is_null());
        assert_eq!(table["stations"].as_array().unwrap().len(), 3);
        assert_eq!(table["blades"][0]["stations"].as_array().unwrap().len(), 3);
    }
}
