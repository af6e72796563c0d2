//! The predict command as a user runs it: a table by hand in, two files and text out, sentences for what cannot be.

use std::path::Path;
use std::process::{Command, Output};

/// An invented blade by hand: only what the contract needs.
const TABLE: &str = r#"{"blade": {"radius_m": 1.4}, "stations": [
  {"radius_m": 0.42, "chord_m": 0.18, "blade_angle_deg": 35.0, "thickness_ratio": 0.18, "camber_ratio": 0.03},
  {"radius_m": 0.80, "chord_m": 0.20, "blade_angle_deg": 21.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 1.33, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.09, "camber_ratio": 0.03}]}"#;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bladeform")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn table_in(folder: &Path) -> String {
    let path = folder.join("hand.json");
    std::fs::write(&path, TABLE).unwrap();
    path.to_string_lossy().into_owned()
}

#[test]
fn a_table_by_hand_becomes_a_prediction_and_kept_polars_give_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let cache = folder.path().join("polars").to_string_lossy().into_owned();
    let into = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let predict = |out: &str| {
        run(&[
            "predict",
            &table,
            "--blades",
            "2",
            "--rpm",
            "1900",
            "--speed",
            "130mph",
            "--setting",
            "10:22:4",
            "--power",
            "200hp",
            "--polar-cache",
            &cache,
            "--out",
            out,
        ])
    };
    let first = predict(&into("one"));
    assert!(first.status.success(), "{}", text(&first.stderr));
    let shown = text(&first.stdout);
    for needed in ["efficiency is best", "149.1 kW are taken up", "stand in", "relative", "airworthy", "kW"] {
        assert!(shown.contains(needed), "{needed} is missing in:\n{shown}");
    }
    assert!(predict(&into("two")).status.success());
    for file in ["prediction.json", "prediction.csv"] {
        let read = |name: &str| std::fs::read(folder.path().join(name).join(file)).unwrap();
        assert!(read("one") == read("two"), "{file} differs with kept polars");
    }
    let json = std::fs::read(folder.path().join("one/prediction.json")).unwrap();
    let prediction = bladeform_table::read_prediction_json(&json).unwrap();
    assert_eq!((prediction.points.len(), prediction.blades), (4, 2));
    assert_eq!(prediction.table_sha256.len(), 64);
}

#[test]
fn what_cannot_be_predicted_gets_a_sentence_and_its_exit_status() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let out = folder.path().join("out").to_string_lossy().into_owned();
    let base = ["predict", &table, "--blades", "2", "--out", &out];
    let cases: [(&[&str], i32, &str); 5] = [
        (&["--rpm", "0", "--speed", "58m/s", "--setting", "17deg"], 1, "rotation"),
        (&["--rpm", "1900", "--speed", "58m/s"], 1, "--setting"),
        (&["--rpm", "1900", "--speed", "58m/s", "--setting", "95deg"], 1, "range"),
        (&["--rpm", "1900", "--speed", "58", "--setting", "17deg"], 2, "unit"),
        (&["--rpm", "1900", "--setting", "17deg"], 2, "--speed"),
    ];
    for (arguments, status, needed) in cases {
        let result = run(&[&base[..], arguments].concat());
        let said = text(&result.stderr);
        assert_eq!(result.status.code(), Some(status), "{arguments:?}: {said}");
        assert!(said.contains(needed), "{arguments:?}: {said}");
    }
    assert!(!Path::new(&out).exists(), "nothing may be left behind");
}
