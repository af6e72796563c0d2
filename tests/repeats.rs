//! `measure` with several scans of one blade: the mean, the test whether they agree, and the scans that are refused.

use std::path::Path;

use bladeform_specimen::{Blade, ScanPlan, SectionKind, scan_of_blade};
use serde_json::Value;

use crate::tool::{names, run_in, text};

/// The surfaces of these scans are not smoothed, which the resolution states.
const KNOWN: [&str; 8] =
    ["--length", "1300mm", "--diameter", "2.84m", "--setting", "17deg@0.75", "--resolution", "0mm"];

/// A scan of a blade as binary PLY.
fn write(folder: &Path, name: &str, blade: &Blade, seed: u64) {
    let plan = ScanPlan { triangles: 60_000, holes: 0, ..ScanPlan::usual(seed) };
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&scan_of_blade(blade, &plan).mesh, &mut bytes).unwrap();
    std::fs::write(folder.join(name), bytes).unwrap();
}

fn table(folder: &Path, out: &str) -> Value {
    let bytes = std::fs::read(folder.join(out).join("stations.json")).unwrap();
    serde_json::from_slice(&bytes).unwrap()
}

fn measured(folder: &Path, scans: &[&str], out: &str, options: &[&str]) -> (Value, String) {
    let run =
        run_in(folder, &[&["measure"], scans, &KNOWN, &["--out", out, "--overwrite"], options].concat());
    assert!(run.status.success(), "{}", text(&run.stderr));
    (table(folder, out), text(&run.stdout))
}

#[test]
fn three_scans_of_one_blade_agree_and_their_mean_is_better_than_one() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scans = ["a.ply", "b.ply", "c.ply"];
    scans.iter().zip(21..).for_each(|(name, seed)| write(at, name, &Blade::quarry_mill(), seed));
    let (mean, said) = measured(at, &scans, "mean", &["--stations", "9"]);
    assert!(said.contains("Mean over 3 scans: a.ply, b.ply, c.ply"), "{said}");
    assert!(said.contains("Verdict: the scans agree within their stated uncertainty."), "{said}");

    // The first scan is the source; all are named, with the SHA-256 of their bytes.
    let repeats = &mean["repeats"];
    assert_eq!(mean["source"], repeats["scans"][0]);
    for (name, scan) in scans.iter().zip(repeats["scans"].as_array().unwrap()) {
        let sha256 = bladeform::document::sha256_hex(&std::fs::read(at.join(name)).unwrap());
        assert_eq!((scan["file"].as_str(), scan["sha256"].as_str()), (Some(*name), Some(sha256.as_str())));
    }
    let quantities = repeats["quantities"].as_array().unwrap();
    assert!(12 < quantities.len());
    let page = std::fs::read_to_string(at.join("mean/record.html")).unwrap();
    assert!(page.contains("mean over 3 scans") && page.contains("b.ply (SHA-256"));

    // A figure is the mean of the single ones, and its uncertainty below theirs.
    let ones: Vec<Value> =
        scans.iter().map(|s| measured(at, &[s], "one", &["--stations", "9", "--no-record"]).0).collect();
    assert!(
        ones.iter().all(|one| one.get("repeats").is_none() && one["stations"][0].get("scatter").is_none())
    );
    for (k, station) in mean["stations"].as_array().unwrap().iter().enumerate() {
        let chords: Vec<f64> = ones.iter().filter_map(|one| one["stations"][k]["chord_m"].as_f64()).collect();
        if chords.len() < 3 {
            continue;
        }
        let centre = chords.iter().sum::<f64>() / 3.0;
        assert!((station["chord_m"].as_f64().unwrap() - centre).abs() < 1e-9);
        let square: f64 = chords.iter().map(|c| (c - centre).powi(2)).sum();
        let scatter = station["scatter"]["chord_m"].as_f64().unwrap();
        assert!((scatter - (square / 2.0).sqrt()).abs() < 1e-9, "{scatter}");
        let u = |table: &Value| table["stations"][k]["u"]["camber_ratio"].as_f64().unwrap();
        assert!(ones.iter().all(|one| u(&mean) < u(one)), "station {k}");
    }
    // CSV has the scatter, and the table is read again as it was written.
    let csv = std::fs::read_to_string(at.join("mean/stations.csv")).unwrap();
    assert!(csv.lines().next().unwrap().contains(",scatter_chord_m,"));
    let json = std::fs::read(at.join("mean/stations.json")).unwrap();
    let mut again = Vec::new();
    let read = bladeform::document::read_json(&json).unwrap();
    bladeform::document::write_json(&read, &mut again).unwrap();
    assert_eq!(json, again);
    let of_csv = bladeform::document::read_csv(csv.as_bytes(), None).unwrap();
    assert_eq!(of_csv.stations[3].scatter, read.stations[3].scatter);
}

#[test]
fn a_blade_that_was_changed_between_the_scans_raises_the_uncertainty() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let blade = Blade::quarry_mill();
    // 4 % thicker: too much for the noise, too little for another blade.
    let thicker = Blade { thickness: blade.thickness.map(|t| 1.04 * t), ..blade.clone() };
    write(at, "a.ply", &blade, 31);
    write(at, "b.ply", &thicker, 32);
    let (mean, said) =
        measured(at, &["a.ply", "b.ply"], "mean", &["--at", "0.4,0.5,0.6,0.7,0.8", "--no-record"]);
    assert!(said.contains("(repeats-disagree) the scans differ by more than the stated"), "{said}");
    assert!(said.contains("Verdict: the scans do not agree within their stated uncertainty in"), "{said}");
    for station in mean["stations"].as_array().unwrap() {
        let (u, scatter) = (
            station["u"]["thickness_m"].as_f64().unwrap(),
            station["scatter"]["thickness_m"].as_f64().unwrap(),
        );
        assert!(0.5 * scatter / 2f64.sqrt() < u, "{u} {scatter}");
        assert!(station["u_from"]["thickness_m"]["repeats"].as_f64().is_some());
    }
}

#[test]
fn scans_of_another_blade_are_refused_by_name_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let blade = Blade::quarry_mill();
    write(at, "a.ply", &blade, 41);
    std::fs::copy(at.join("a.ply"), at.join("copy.ply")).unwrap();
    write(at, "wide.ply", &Blade { greatest_chord_m: 0.24, ..blade.clone() }, 42);
    write(at, "left.ply", &blade.clone().mirrored(), 43);
    write(at, "flat.ply", &blade.with_kind(SectionKind::ClarkY), 44);
    for (other, needed) in [
        ("copy.ply", &["copy.ply has the same content as a.ply"][..]),
        ("wide.ply", &["wide.ply does not show the blade of a.ply: its chord differs by", "%"]),
        ("left.ply", &["left.ply shows a left-hand blade, but a.ply a right-hand one"]),
        ("flat.ply", &["flat.ply does not show the blade of a.ply: its camber differs by"]),
    ] {
        let options = ["--at", "0.4,0.55,0.7,0.85", "--no-record", "--out", "out"];
        let run = run_in(at, &[&["measure", "a.ply", other], &KNOWN[..], &options].concat());
        let said = text(&run.stderr);
        assert_eq!(run.status.code(), Some(1), "{other}: {said}");
        assert!(said.starts_with("bladeform: ") && said.lines().count() == 1, "{said}");
        assert!(needed.iter().all(|n| said.contains(n)), "{other}: {said}");
    }
    assert!(!names(at).contains(&"out".to_owned()));
}
