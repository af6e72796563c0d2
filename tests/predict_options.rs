//! Effects of the options of `predict`, read from the files that it writes.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::tool::{run_in, text};

/// A handwritten table of the Quarry Mill blade: only the required keys.
const TABLE: &str = r#"{"blade": {"radius_m": 1.42}, "stations": [
  {"radius_m": 0.426, "chord_m": 0.18, "blade_angle_deg": 35.0, "thickness_ratio": 0.18, "camber_ratio": 0.03},
  {"radius_m": 0.81, "chord_m": 0.20, "blade_angle_deg": 21.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 1.35, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.09, "camber_ratio": 0.03}]}"#;
const DIAMETER_M: f64 = 2.84;
/// 120 mph.
const CRUISE_M_S: f64 = 53.6448;

/// A folder with the table in it.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("hand.json"), TABLE).unwrap();
    folder
}

/// Section polars shared by the tests of one build, because they take the most time. A new build starts with an empty cache.
fn polars() -> PathBuf {
    let built = std::fs::metadata(crate::tool::BLADEFORM).unwrap().modified().unwrap();
    let name = format!("polars-{}", built.duration_since(std::time::UNIX_EPOCH).unwrap().as_nanos());
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

fn predict(folder: &Path, options: &str) -> std::process::Output {
    let polars = polars().to_string_lossy().into_owned();
    let common = ["predict", "hand.json", "--blades", "2", "--no-record", "--polar-cache", &polars];
    run_in(folder, &[&common[..], &options.split(' ').collect::<Vec<_>>()].concat())
}

/// `prediction.json` of a run that must succeed.
fn predicted(folder: &Path, options: &str) -> Value {
    let run = predict(folder, options);
    assert!(run.status.success(), "{options}: {}", text(&run.stderr));
    serde_json::from_slice(&std::fs::read(folder.join("prediction.json")).unwrap()).unwrap()
}

fn refused(folder: &Path, options: &str, status: i32, needed: &str) {
    let run = predict(folder, options);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(status), "{options}: {said}");
    assert!(said.contains(needed), "{options}: {needed} is missing in: {said}");
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key} is no number in {value}"))
}

fn points(prediction: &Value) -> &Vec<Value> {
    prediction["points"].as_array().unwrap()
}

fn assert_near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance * expected.abs(), "{what}: {found}, expected {expected}");
}

/// The points of the schedules with a name.
fn schedule<'a>(prediction: &'a Value, name: &str) -> Vec<&'a Value> {
    let all = prediction["schedules"].as_array().unwrap().iter();
    all.filter(|s| s["name"] == name).flat_map(|s| s["points"].as_array().unwrap()).collect()
}

/// Fixed pitch: at each speed the propeller absorbs the torque that the engine delivers at that rotational speed.
#[test]
fn an_engine_gives_rotational_speed_over_flight_speed_at_fixed_pitch() {
    let folder = folder();
    // Two rows, so that the curve between them is a straight line.
    std::fs::write(folder.path().join("engine.csv"), "rpm,torque_nm\n1000,1200\n2600,800\n").unwrap();
    let options = "--rpm 1750 --speed 120mph --setting 17deg --engine engine.csv";
    let prediction = predicted(folder.path(), options);
    let rows = schedule(&prediction, "fixed_pitch");
    assert!(3 < rows.len(), "{} speeds", rows.len());
    for row in &rows {
        let rpm = number(row, "rpm");
        let engine = 1200.0 - 400.0 * (rpm - 1000.0) / 1600.0;
        assert_near(number(row, "torque_nm"), engine, 1e-4, "torque of propeller and engine");
        assert_near(number(row, "power_w"), engine * rpm * std::f64::consts::TAU / 60.0, 1e-4, "power");
        assert_near(number(row, "setting_deg"), 17.0, 1e-9, "setting");
    }
    // In slow flight the power of a fixed-pitch propeller at first increases with the speed.
    let fast: Vec<&Value> = rows.into_iter().filter(|r| 0.5 * CRUISE_M_S < number(r, "speed_m_s")).collect();
    assert!(3 < fast.len());
    for pair in fast.windows(2) {
        assert!(number(pair[0], "speed_m_s") < number(pair[1], "speed_m_s"));
        assert!(
            number(pair[0], "rpm") < number(pair[1], "rpm"),
            "the faster the flight, the lighter the turning"
        );
    }
    assert!(schedule(&prediction, "constant_speed").is_empty());
}

#[test]
fn an_unusable_engine_gives_a_message() {
    let folder = folder();
    let options = "--rpm 1750 --speed 120mph --setting 17deg --engine engine.csv";
    refused(folder.path(), options, 1, "engine.csv");
    std::fs::write(folder.path().join("engine.csv"), "rpm,power_kw\n1000,120\n").unwrap();
    refused(folder.path(), options, 1, "torque_nm");
    std::fs::write(folder.path().join("engine.csv"), "rpm,torque_nm\n2000,120\n1000,130\n").unwrap();
    refused(folder.path(), options, 1, "two rows of finite numbers with increasing rpm");
    std::fs::write(folder.path().join("engine.csv"), "rpm,torque_nm\n1000,1200\n2600,800\n").unwrap();
    refused(folder.path(), &options.replace("120mph", "0m/s"), 1, "static");
}

/// Constant-speed propeller: at each flight speed, the setting at which the propeller absorbs the power at the given rotational speed.
#[test]
fn a_power_gives_setting_over_flight_speed_at_constant_rotational_speed() {
    let folder = folder();
    let prediction = predicted(folder.path(), "--rpm 1750 --speed 120mph --setting 0:45:1 --power 180kW");
    let rows = schedule(&prediction, "constant_speed");
    assert!(3 < rows.len(), "{} speeds", rows.len());
    for row in &rows {
        assert_near(number(row, "rpm"), 1750.0, 1e-9, "rotation");
        assert_near(number(row, "power_w"), 180e3, 1e-3, "power");
    }
    let fast: Vec<&Value> = rows.into_iter().filter(|r| 0.5 * CRUISE_M_S < number(r, "speed_m_s")).collect();
    assert!(3 < fast.len());
    for pair in fast.windows(2) {
        assert!(number(pair[0], "speed_m_s") < number(pair[1], "speed_m_s"));
        assert!(number(pair[0], "setting_deg") < number(pair[1], "setting_deg"), "{} {}", pair[0], pair[1]);
    }
    assert!(schedule(&prediction, "fixed_pitch").is_empty());
}

/// V = J n D.
#[test]
fn advance_ratios_are_speed_divided_by_rotational_speed_and_diameter() {
    let folder = folder();
    let prediction = predicted(folder.path(), "--rpm 1750 --advance 0.2:0.8:0.2 --setting 17deg");
    let rows = points(&prediction);
    assert_eq!(rows.len(), 4);
    for (row, ratio) in rows.iter().zip([0.2, 0.4, 0.6, 0.8]) {
        assert_near(number(row, "advance_ratio"), ratio, 1e-9, "advance ratio");
        assert_near(number(row, "speed_m_s"), ratio * 1750.0 / 60.0 * DIAMETER_M, 1e-9, "speed");
    }
    // An advance ratio gives the same point as the corresponding speed.
    let ratio = CRUISE_M_S / (1750.0 / 60.0 * DIAMETER_M);
    let by_ratio = predicted(folder.path(), &format!("--rpm 1750 --advance {ratio} --setting 17deg"));
    let by_speed = predicted(folder.path(), "--rpm 1750 --speed 120mph --setting 17deg");
    for key in ["thrust_n", "power_w", "efficiency", "advance_ratio"] {
        assert_near(number(&points(&by_ratio)[0], key), number(&points(&by_speed)[0], key), 1e-8, key);
    }
    refused(folder.path(), "--rpm 1750 --advance -0.2 --setting 17deg", 2, "--advance");
    refused(folder.path(), "--rpm 1750 --advance 0.5 --speed 120mph --setting 17deg", 2, "--speed");
}

/// The drag of an attached section is lower with a laminar part than without (any text on boundary layers).
#[test]
fn a_rough_surface_reduces_efficiency() {
    let folder = folder();
    let of = |surface: &str| {
        let options = format!("--rpm 1750 --speed 120mph --setting 17deg --surface {surface}");
        points(&predicted(folder.path(), &options))[0].clone()
    };
    let (smooth, rough) = (of("smooth"), of("rough"));
    assert!(number(&rough, "efficiency") < number(&smooth, "efficiency") - 0.005, "{rough} {smooth}");
    // An old blade is the default. It lies midway, and states both.
    let plain = points(&predicted(folder.path(), "--rpm 1750 --speed 120mph --setting 17deg"))[0].clone();
    let middle = 0.5 * (number(&smooth, "thrust_n") + number(&rough, "thrust_n"));
    assert!((number(&plain, "thrust_n") / middle - 1.0).abs() < 0.004, "{plain} {middle}");
    let band = &plain["surface"];
    assert!(
        (number(band, "smooth_thrust_n") / number(&smooth, "thrust_n") - 1.0).abs() < 1e-6,
        "{band} {smooth}"
    );
    // The coarser table of the worn surface.
    assert!(
        (number(band, "worn_thrust_n") / number(&rough, "thrust_n") - 1.0).abs() < 0.004,
        "{band} {rough}"
    );
    assert!(smooth.get("surface").is_none());
    refused(folder.path(), "--rpm 1750 --speed 120mph --setting 17deg --surface dirty", 2, "rough");
}

/// Momentum theory: with the pressure drag of a body the efficiency is that of flight at the speed that the body leaves. A shank, a hub and a body cost thrust.
#[test]
fn a_body_a_spinner_and_a_hub_are_counted_and_told() {
    let folder = folder();
    let base = "--rpm 1750 --speed 120mph --setting 17deg --surface smooth";
    let with = |more: &str| predicted(folder.path(), &format!("{base} {more}"));
    let first = |prediction: &Value| points(prediction)[0].clone();
    let body = with("--spinner 300mm --body 1m --body-length 4m --body-drag 0.1");
    let (point, alone) = (first(&body), first(&with("--spinner 300mm")));
    assert!(number(&point, "thrust_n") > number(&alone, "thrust_n"));
    let installed = &point["installed"];
    assert!(number(installed, "propulsive_thrust_n") < number(&point, "thrust_n"));
    assert!(number(installed, "propulsive_efficiency") < number(&point, "efficiency"));
    let codes = body["warnings"].to_string();
    assert!(codes.contains("body-behind") && !codes.contains("isolated-propeller"), "{codes}");
    let hub = first(&with("--blunt-hub 300mm"));
    // White, Fluid Mechanics, table 7.3 (from memory): 0.90 on the frontal area at a length of one diameter.
    let drag = 0.90 * 0.5 * 1.225 * (120.0 * 0.44704_f64).powi(2) * 0.070_686;
    assert!((number(&alone, "thrust_n") - number(&hub, "thrust_n") - drag).abs() < 0.5, "{hub} {drag}");
    refused(folder.path(), &format!("{base} --spinner 300mm --blunt-hub 300mm"), 2, "--blunt-hub");
    refused(folder.path(), &format!("{base} --body 2m --body-length 1m"), 2, "length of at least");
    refused(folder.path(), &format!("{base} --spinner 2.5m"), 2, "spinner");
}

/// Rotation delays stall near the root. Without the delay a stalled blade has less lift, an attached one the same.
#[test]
fn without_stall_delay_a_stalled_blade_has_less_lift() {
    let folder = folder();
    let thrust = |setting: &str, more: &str| {
        let options = format!("--rpm 1750 --speed 120mph --setting {setting}{more}");
        number(&points(&predicted(folder.path(), &options))[0], "thrust_n")
    };
    let (with, without) = (thrust("36deg", ""), thrust("36deg", " --no-stall-delay"));
    assert!(without < 0.99 * with, "{without} {with}");
    let (with, without) = (thrust("17deg", ""), thrust("17deg", " --no-stall-delay"));
    assert_near(without, with, 0.005, "thrust of an attached blade");
}

/// The torque of the answer is the engine's, no speed is above the limit, and no other setting that was searched loses less thrust at both speeds.
#[test]
fn one_fixed_setting_for_climb_and_cruise_balances_the_engine_and_loses_least() {
    let folder = folder();
    let asked =
        "--power 240hp@1800rpm --speed 70mph,120mph --max-rpm 1750 --setting 10:40:6 --surface smooth";
    let prediction = predicted(folder.path(), asked);
    let rows = schedule(&prediction, "fixed_pitch_choice");
    // 240 hp of 745.699 872 W (NIST SP 811, B.8) at 1800 rpm.
    let torque = 240.0 * 745.699_872 / (1800.0 * std::f64::consts::TAU / 60.0);
    let mut thrusts: std::collections::BTreeMap<i64, Vec<(f64, f64)>> = std::collections::BTreeMap::new();
    for row in &rows {
        let (rpm, found) = (number(row, "rpm"), number(row, "torque_nm"));
        assert!(rpm <= 1750.0 + 1e-6, "{row}");
        let is_held =
            row["flags"].as_array().unwrap().iter().any(|f| f.as_str().unwrap().starts_with("overspeed"));
        if is_held {
            assert!((rpm - 1750.0).abs() < 1e-6 && found < torque, "{row}");
        } else {
            assert_near(found, torque, 1e-4 * torque, "torque of the engine");
        }
        let speed = (1e3 * number(row, "speed_m_s")).round() as i64;
        thrusts.entry(speed).or_default().push((number(row, "setting_deg"), number(row, "thrust_n")));
    }
    let answer =
        prediction["answers"].as_array().unwrap().iter().find(|a| a["name"] == "fixed_pitch_choice").unwrap();
    let sentence = answer["sentence"].as_str().unwrap();
    let chosen: f64 =
        sentence.split(" deg loses").next().unwrap().rsplit(' ').next().unwrap().parse().unwrap();
    let loss: f64 =
        sentence.split(" deg loses ").nth(1).unwrap().split(" %").next().unwrap().parse().unwrap();
    let by_speed: Vec<&Vec<(f64, f64)>> = thrusts.values().collect();
    assert_eq!(by_speed.len(), 2);
    // The greatest thrusts for each speed alone lie between the settings of the table.
    let alone: Vec<f64> = sentence
        .split("(best for this speed alone: ")
        .skip(1)
        .map(|t| t.split(" deg, ").nth(1).unwrap().split(" N").next().unwrap().parse().unwrap())
        .collect();
    for (k, of) in by_speed.iter().enumerate() {
        let greatest = of.iter().map(|p| p.1).fold(f64::MIN, f64::max);
        assert!((1.0 - 1e-3..1.05).contains(&(alone[k] / greatest)), "{} N of {greatest} N", alone[k]);
    }
    for &(setting, low) in by_speed[0] {
        let Some((_, high)) = by_speed[1].iter().find(|p| (p.0 - setting).abs() < 1e-9) else { continue };
        let worst = 100.0 * (1.0 - low / alone[0]).max(1.0 - high / alone[1]);
        assert!(loss < worst + 0.15, "{setting} deg loses {worst} %, {chosen} deg {loss} %");
    }
    assert!((10.0..=40.0).contains(&chosen) && 0.0 < loss, "{sentence}");
    refused(folder.path(), "--rpm 1750 --speed 70mph --max-rpm 1750", 2, "--engine");
    refused(folder.path(), "--power 240hp --speed 70mph", 2, "--rpm");
}
