//! The predict command as a user runs it: a handwritten table in, two files and text out, messages for impossible requests.

use std::path::Path;
use std::process::{Command, Output};

use bladeform::document::read_prediction_json;

/// A handwritten table of an invented blade: only the required keys.
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
fn a_handwritten_table_gives_a_prediction_and_cached_polars_give_the_same_bytes() {
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
            "1750",
            "--speed",
            "120mph",
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
    for needed in [
        "efficiency is best",
        "200.0 hp are absorbed",
        "(substitute-sections)",
        "relative",
        "airworthy",
        "hp",
    ] {
        assert!(shown.contains(needed), "{needed} is missing in:\n{shown}");
    }
    assert!(predict(&into("two")).status.success());
    for file in ["prediction.json", "prediction.csv"] {
        let read = |name: &str| std::fs::read(folder.path().join(name).join(file)).unwrap();
        assert!(read("one") == read("two"), "{file} differs with kept polars");
    }
    let json = std::fs::read(folder.path().join("one/prediction.json")).unwrap();
    let prediction = read_prediction_json(&json).unwrap();
    assert_eq!((prediction.points.len(), prediction.blades), (4, 2));
    assert_eq!(prediction.table_sha256.len(), 64);
}

#[test]
fn impossible_predictions_give_a_message_and_exit_status() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let out = folder.path().join("out").to_string_lossy().into_owned();
    let base = ["predict", &table, "--blades", "2", "--out", &out];
    let cases: [(&[&str], i32, &str); 5] = [
        (&["--rpm", "0", "--speed", "54m/s", "--setting", "17deg"], 2, "--rpm"),
        (&["--rpm", "1750", "--speed", "54m/s"], 1, "--setting"),
        (&["--rpm", "1750", "--speed", "54m/s", "--setting", "95deg"], 2, "-90deg to 90deg"),
        (&["--rpm", "1750", "--speed", "54", "--setting", "17deg"], 2, "unit"),
        (&["--rpm", "1750", "--setting", "17deg"], 2, "--speed"),
    ];
    for (arguments, status, needed) in cases {
        let result = run(&[&base[..], arguments].concat());
        let said = text(&result.stderr);
        assert_eq!(result.status.code(), Some(status), "{arguments:?}: {said}");
        assert!(said.contains(needed), "{arguments:?}: {said}");
    }
    assert!(!Path::new(&out).exists(), "nothing may be left behind");
}

/// Behaviour of every propeller as its setting increases (common practice, no source). It windmills when the tip is in
/// the plane of rotation, has its best efficiency at a low setting, and its maximum thrust far above it, where the power still increases.
#[test]
fn a_large_propeller_behaves_as_expected_over_the_setting() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let out = folder.path().to_string_lossy().into_owned();
    let cache = folder.path().join("polars").to_string_lossy().into_owned();
    let common = ["predict", &table, "--blades", "2", "--rpm", "1750", "--speed", "54m/s", "--no-record"];
    let points = |setting: &str| {
        let rest = ["--polar-cache", &cache, "--out", &out, "--setting", setting];
        let result = run(&[&common[..], &rest].concat());
        assert!(result.status.success(), "{}", text(&result.stderr));
        let json = std::fs::read(folder.path().join("prediction.json")).unwrap();
        read_prediction_json(&json).unwrap().points
    };
    let flat = points("0deg@tip");
    assert!(flat[0].figures.thrust_n.unwrap() < 0.0);
    // sqrt(54^2 + (pi 2.8 1750/60)^2) / 340.3 = 0.770.
    assert!((flat[0].figures.helical_tip_mach.unwrap() - 0.770).abs() < 0.003);
    let sweep = points("0:54:6@tip");
    assert_eq!(sweep.len(), 10);
    let best = |pick: fn(&bladeform_table::OperatingFigures) -> Option<f64>| {
        (0..sweep.len())
            .max_by(|&a, &b| {
                let value = |i: usize| pick(&sweep[i].figures).unwrap_or(f64::NEG_INFINITY);
                value(a).total_cmp(&value(b))
            })
            .unwrap()
    };
    let (efficient, strong) = (best(|f| f.efficiency), best(|f| f.thrust_n));
    assert!(efficient < strong, "best at {efficient}, strongest at {strong}");
    assert!(sweep[strong].figures.power_w < sweep[strong + 1].figures.power_w);
    assert!((0.7..0.9).contains(&sweep[efficient].figures.efficiency.unwrap()));
}

#[test]
fn a_given_polar_changes_the_prediction_and_a_wrong_radius_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let polar = folder.path().join("own.csv");
    std::fs::write(&polar, "angle_deg,lift,drag,reynolds\n-6,0,0.1,1e6\n0,0.1,0.1,1e6\n8,0.4,0.1,1e6\n")
        .unwrap();
    let out = folder.path().to_string_lossy().into_owned();
    let cache = folder.path().join("polars").to_string_lossy().into_owned();
    let predict = |at: &str| {
        let own = format!("{at}={}", polar.display());
        let common =
            ["predict", &table, "--blades", "2", "--rpm", "1750", "--speed", "54m/s", "--setting", "17deg"];
        run(&[&common[..], &["--no-record", "--polar-cache", &cache, "--out", &out, "--polar", &own]]
            .concat())
    };
    let good = predict("0.571");
    assert!(good.status.success(), "{}", text(&good.stderr));
    let json = std::fs::read_to_string(folder.path().join("prediction.json")).unwrap();
    assert!(json.contains("own polars at 0.571 R"));
    let wrong = predict("0.7");
    assert_eq!(wrong.status.code(), Some(1));
    assert!(text(&wrong.stderr).contains("no station lies within"), "{}", text(&wrong.stderr));
}

/// At zero speed blade elements are compared with the free wake, whose wake contracts. The terminal shows both, their difference and which is better, or why there is only one.
#[test]
fn at_zero_speed_two_models_are_compared() {
    let folder = tempfile::tempdir().unwrap();
    let table = table_in(folder.path());
    let out = folder.path().to_string_lossy().into_owned();
    let cache = folder.path().join("polars").to_string_lossy().into_owned();
    let predict = |more: &[&str]| {
        let common = ["predict", &table, "--blades", "2", "--rpm", "1200", "--speed", "0m/s", "--out", &out];
        let shown = run(&[&common[..], &["--no-record", "--polar-cache", &cache], more].concat());
        assert!(shown.status.success(), "{}", text(&shown.stderr));
        text(&shown.stdout).split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let shown = predict(&["--setting", "12:42:30"]);
    for needed in [
        "free wake",
        "free wake is the better model",
        "tip vortex below",
        "No free wake at 42.00 deg",
        "stalled",
    ] {
        assert!(shown.contains(needed), "{needed} is missing in:\n{shown}");
    }
    let json = std::fs::read(folder.path().join("prediction.json")).unwrap();
    let read = read_prediction_json(&json).unwrap();
    let (point, wake) = (&read.points[0], read.points[0].free_wake.unwrap());
    let ratio = wake.thrust_n.unwrap() / wake.blade_elements_thrust_n.unwrap();
    assert!((0.85..1.0).contains(&ratio), "{ratio}");
    assert!((wake.thrust_difference.unwrap() - (ratio - 1.0)).abs() < 1e-6);
    // The free wake carries the figures where it has an answer, although the other point has none.
    assert_eq!(wake.thrust_n, point.figures.thrust_n);
    assert!(wake.figure_of_merit.unwrap() < 1.0 && read.points[1].free_wake.is_none());
    let csv = std::fs::read_to_string(folder.path().join("prediction.csv")).unwrap();
    assert!(csv.lines().next().unwrap().contains("free_wake_thrust_n,free_wake_power_w,u_method_thrust_n"));
    // Where the free wake has an answer, its values are used.
    let shown = predict(&["--setting", "12:14:2"]);
    assert!(shown.contains("by-free-wake") && shown.contains("free wake is the better model"), "{shown}");
    let json = std::fs::read(folder.path().join("prediction.json")).unwrap();
    let read = read_prediction_json(&json).unwrap();
    for p in &read.points {
        let wake = p.free_wake.unwrap();
        assert_eq!((p.figures.thrust_n, p.figures.power_w), (wake.thrust_n, wake.power_w));
        // The rows are the blade elements: midpoints of equal angles of a half circle over the span, each with its width.
        let (inner, tip) = (read.inner_radius_m, 0.5 * read.diameter_m);
        let (middle, half) = (0.5 * (tip + inner), 0.5 * (tip - inner));
        let step = std::f64::consts::PI / p.radial.len() as f64;
        let summed = |of: fn(&bladeform_table::RadialFigures) -> Option<f64>| -> f64 {
            let one = |k: usize| {
                let figures = &p.radial[k].figures;
                let angle = (k as f64 + 0.5) * step;
                assert!((figures.radius_m.unwrap() - middle + half * angle.cos()).abs() < 1e-9);
                of(figures).unwrap() * half * angle.sin() * 2.0 * (0.5 * step).sin()
            };
            2.0 * (0..p.radial.len()).map(one).sum::<f64>()
        };
        let (thrust, torque) = (summed(|r| r.thrust_n_per_m), summed(|r| r.torque_n));
        assert!((thrust / p.figures.thrust_n.unwrap() - 1.0).abs() < 1e-8, "{thrust}");
        assert!((torque / p.figures.torque_nm.unwrap() - 1.0).abs() < 1e-8, "{torque}");
        let ratio = wake.thrust_n.unwrap() / wake.blade_elements_thrust_n.unwrap();
        assert!((wake.thrust_difference.unwrap() - (ratio - 1.0)).abs() < 1e-6);
    }
    let without = predict(&["--setting", "12deg", "--no-free-wake"]);
    assert!(
        !without.contains("free wake is the better model") && without.contains("skipped as requested"),
        "{without}"
    );
}
