//! The record page as a user gets it, and in a real browser: headless Chromium driven by the scripts of `tests/browser`.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use bladeform::document::write_json;
use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::mesh::{RawMesh, write_ply_binary};
use bladeform::quantity::StationRadii;
use bladeform::work::Silent;
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

/// Exit status of the browser script when a program it needs is missing.
const MISSING: i32 = 3;

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bladeform")).args(arguments).output().unwrap()
}

/// A measured scan of the invented blade with its table in a folder.
fn measured(folder: &Path) -> PathBuf {
    let blade = Blade::quarry_mill();
    let scan = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::usual(21) });
    let mut bytes = Vec::new();
    write_ply_binary(&scan.mesh, &mut bytes).unwrap();
    let plan = MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios((0..6).map(|i| 0.35 + 0.11 * f64::from(i)).collect()),
        ..MeasurePlan::default()
    };
    let table = measure(ScanInput::file(&bytes, "scan.ply"), &plan, &Silent).unwrap();
    std::fs::write(folder.join("scan.ply"), &bytes).unwrap();
    let path = folder.join("stations.json");
    write_json(&table, std::fs::File::create(&path).unwrap()).unwrap();
    path
}

/// A prediction in the form written by the predict command, with round invented values. Only the page is tested here.
fn prediction(folder: &Path) -> PathBuf {
    use bladeform_document::write_prediction_json;
    use bladeform_table::{Answer, OperatingPoint, Prediction, RadialFigures, RadialRow};
    let point = |setting: f64, ratio: f64| {
        let mut p =
            OperatingPoint { speed_m_s: ratio * 20.0 * 2.84, rpm: 1200.0, ..OperatingPoint::default() };
        p.figures.setting_deg = Some(setting);
        p.figures.advance_ratio = Some(ratio);
        p.figures.thrust_n = Some(90.0 * setting - 900.0 * ratio);
        p.figures.power_w = Some(3000.0 * setting);
        p.figures.efficiency = Some(0.8 - 0.002 * (setting - 18.0 - 10.0 * ratio).powi(2));
        p.figures.helical_tip_mach = Some(0.55 + 0.1 * ratio);
        p.figures.stalled_fraction = Some(if setting > 27.0 { 0.6 } else { 0.0 });
        for station in [0.4, 0.6, 0.8] {
            let (axial, around) = (p.speed_m_s + 2.0, std::f64::consts::TAU * 20.0 * 1.42 * station - 1.5);
            let inflow = axial.atan2(around).to_degrees();
            let angle = setting + 20.0 * (0.75 - station);
            p.radial.push(RadialRow {
                water: None,
                figures: RadialFigures {
                    radius_m: Some(1.42 * station),
                    radius_ratio: Some(station),
                    chord_m: Some(0.2),
                    blade_angle_deg: Some(angle),
                    inflow_angle_deg: Some(inflow),
                    angle_of_attack_deg: Some(angle - inflow),
                    axial_induced_m_s: Some(2.0),
                    swirl_induced_m_s: Some(1.5),
                    resultant_speed_m_s: Some(axial.hypot(around)),
                    reynolds: Some(1e6),
                    mach: Some(0.3),
                    lift_coefficient: Some(0.1 * (angle - inflow) + 0.4),
                    drag_coefficient: Some(0.012),
                    ..RadialFigures::default()
                },
                stalled: false,
                polar_region: "computed".to_owned(),
            });
        }
        p
    };
    let settings = (0..7).map(|k| 12.0 + 3.0 * f64::from(k));
    let prediction = Prediction {
        blades: 2,
        diameter_m: 2.84,
        rpm: 1200.0,
        air: bladeform_table::AirState {
            density_kg_m3: 1.225,
            temperature_k: 288.15,
            pressure_pa: 101_325.0,
            speed_of_sound_m_s: 340.3,
            ..Default::default()
        },
        points: settings.flat_map(|s| [0.5, 0.7].map(|j| point(s, j))).collect(),
        answers: vec![Answer {
            name: "best_efficiency".to_owned(),
            sentence: "Best efficiency 0.80 at a setting of 23.00 deg.".to_owned(),
            point: Some(point(23.0, 0.5)),
        }],
        ..Prediction::default()
    };
    let path = folder.join("prediction.json");
    write_prediction_json(&prediction, std::fs::File::create(&path).unwrap()).unwrap();
    path
}

#[test]
fn the_page_meets_its_requirements_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let (table, predicted) = (measured(folder.path()), prediction(folder.path()));
    let page = folder.path().join("blade.html");
    let arguments = [
        table.to_str().unwrap(),
        predicted.to_str().unwrap(),
        "--title",
        "</script><b>Quarry Mill</b>",
        "--date",
        "2026-01-31",
        "--out",
        page.to_str().unwrap(),
    ];
    let made = run(&[&["record"], &arguments[..]].concat());
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    // The same inputs give the same page.
    let bytes = std::fs::read(&page).unwrap();
    run(&[&["record"], &arguments[..]].concat());
    assert!(bytes == std::fs::read(&page).unwrap(), "a second run gives another page");

    browse("record.cjs", &page, folder.path());
}

#[test]
fn the_comparison_page_meets_its_requirements_in_a_browser() {
    let folder = tempfile::tempdir().unwrap();
    let heads = "radius_m,radius_ratio,chord_m,u_chord_m,blade_angle_deg,u_blade_angle_deg,face_angle_deg,thickness_m,thickness_ratio,camber_ratio\n";
    let table = |name: &str, shorter: f64| {
        let path = folder.path().join(name);
        let row = |k: i32| {
            let r = 0.25 + 0.07 * f64::from(k);
            let chord = 0.16 - 0.05 * r - if k == 4 { shorter } else { 0.0 };
            format!(
                "{r:.3},{r:.3},{chord:.5},0.0002,{:.3},0.05,{:.3},{:.5},0.12,0.03\n",
                36.0 - 20.0 * r,
                34.0 - 20.0 * r,
                0.12 * chord
            )
        };
        std::fs::write(&path, heads.to_owned() + &(0..10).map(row).collect::<String>()).unwrap();
        path.to_string_lossy().into_owned()
    };
    let (worn, drawing) = (table("worn.csv", 0.003), table("drawing.csv", 0.0));
    let out = folder.path().to_string_lossy().into_owned();
    let made =
        run(&["compare", &worn, &drawing, "--tolerance", "chord=2mm", "--date", "2026-01-31", "--out", &out]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    browse("comparison.cjs", &folder.path().join("comparison.html"), folder.path());
}

/// Runs a script of `tests/browser` on a page. If a program is missing, the script is skipped with a visible message.
fn browse(script: &str, page: &Path, folder: &Path) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/browser").join(script);
    let browsed = Command::new("node").arg(&script).arg(page).arg(folder).output();
    let missing = match &browsed {
        Ok(output) if output.status.code() == Some(MISSING) => {
            String::from_utf8_lossy(&output.stderr).into_owned()
        }
        Ok(output) => {
            assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
            return;
        }
        Err(e) => format!("node cannot be started: {e}"),
    };
    // The message is on standard error. In the checks of the project nothing may be missing.
    use std::io::Write as _;
    let _ = writeln!(std::io::stderr(), "SKIPPED: the page was not tested in a browser. {missing}");
    assert!(
        std::env::var("BLADEFORM_CI").as_deref() != Ok("1"),
        "the browser test may not be skipped here: {missing}"
    );
}

#[test]
fn a_scan_that_is_not_the_measured_one_is_refused_if_named_and_ignored_if_found() {
    let folder = tempfile::tempdir().unwrap();
    let text = r#"{"source": {"file": "scan.ply", "sha256": "00"}, "blade": {"radius_m": 1.0}, "stations": [
        {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04},
        {"radius_m": 0.9, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;
    let (table, scan, page) =
        (folder.path().join("t.json"), folder.path().join("scan.ply"), folder.path().join("p.html"));
    std::fs::write(&table, text).unwrap();
    std::fs::write(&scan, b"not the scan").unwrap();
    let (table, scan, page) = (table.to_str().unwrap(), scan.to_str().unwrap(), page.to_str().unwrap());

    let named = run(&["record", table, "--scan", scan, "-o", page]);
    assert_eq!(named.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&named.stderr).contains("is not the one that was measured"));
    assert!(!Path::new(page).exists(), "half a record was left");

    let found = run(&["record", table, "-o", page, "--plots", folder.path().join("plots").to_str().unwrap()]);
    assert!(found.status.success(), "{}", String::from_utf8_lossy(&found.stderr));
    assert!(
        String::from_utf8_lossy(&found.stdout)
            .contains("Warning: (scan-differs) the scan scan.ply in the folder of the table is not the one")
    );
    let html = std::fs::read_to_string(page).unwrap();
    assert!(html.contains("shows only the fitted outlines"));
    let chord = std::fs::read_to_string(folder.path().join("plots/chord.svg")).unwrap();
    assert!(chord.starts_with("<?xml") && chord.contains("viewBox"));
}

/// A body far from everything else, too large for a fragment and too small to be the part. It is left out of the measurement.
fn add_ball(mesh: &mut RawMesh) {
    let (low, high) = mesh.vertices.iter().fold(([f64::MAX; 3], [f64::MIN; 3]), |(l, h), p| {
        ([0, 1, 2].map(|k| p[k].min(l[k])), [0, 1, 2].map(|k| p[k].max(h[k])))
    });
    let size = (0..3).map(|k| (high[k] - low[k]).powi(2)).sum::<f64>().sqrt();
    let (rows, around, first) = (20, 40, mesh.vertices.len() as u32);
    for row in 0..=rows {
        let (sin, cos) = (std::f64::consts::PI * f64::from(row) / f64::from(rows)).sin_cos();
        for k in 0..around {
            let (y, x) = (std::f64::consts::TAU * f64::from(k) / f64::from(around)).sin_cos();
            let at = [sin * x, sin * y, cos].map(|d| 0.05 * size * d);
            mesh.vertices.push([high[0] + 0.3 * size + at[0], high[1] + at[1], high[2] + at[2]]);
        }
    }
    let at = |row: u32, k: u32| first + row * around + k % around;
    for row in 0..rows {
        for k in 0..around {
            mesh.faces.push([at(row, k), at(row + 1, k), at(row + 1, k + 1)]);
            mesh.faces.push([at(row, k), at(row + 1, k + 1), at(row, k + 1)]);
        }
    }
}

#[test]
fn measure_writes_the_same_page_as_record_from_its_files() {
    let folder = tempfile::tempdir().unwrap();
    let blade = Blade::quarry_mill();
    let mut mesh = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::usual(22) }).mesh;
    add_ball(&mut mesh);
    let mut bytes = Vec::new();
    write_ply_binary(&mesh, &mut bytes).unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(path("scan.ply"), &bytes).unwrap();
    let heading = ["--title", "Port blade", "--part-note", "No. 4", "--date", "2026-01-31"];
    let measure = |out: &str, more: &[&str]| {
        let scan = path("scan.ply");
        let asked = ["measure", &scan, "--length", "1300mm", "--at", "0.4,0.6,0.8", "--out", out];
        let made = run(&[&asked[..], more].concat());
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        assert!(String::from_utf8_lossy(&made.stdout).contains("only the largest body"));
    };
    measure(&path("one"), &heading);
    measure(&path("two"), &[&heading[..], &["--threads", "1"]].concat());
    let page = std::fs::read_to_string(path("one/record.html")).unwrap();
    assert!(
        page == std::fs::read_to_string(path("two/record.html")).unwrap(),
        "a second run gives another page"
    );
    assert!(page.contains("<h1>Port blade</h1>") && page.contains("id=\"stage\""));

    let (table, scan, out) = (path("one/stations.json"), path("scan.ply"), path("again.html"));
    let again = run(&[&["record", &table, "--scan", &scan, "-o", &out], &heading[..]].concat());
    assert!(again.status.success(), "{}", String::from_utf8_lossy(&again.stderr));
    assert!(page == std::fs::read_to_string(out).unwrap(), "record makes another page of the same files");

    measure(&path("three"), &["--no-record"]);
    let mut names: Vec<_> =
        std::fs::read_dir(path("three")).unwrap().map(|e| e.unwrap().file_name()).collect();
    names.sort();
    assert_eq!(names, ["stations.csv", "stations.csv-metadata.json", "stations.json"]);
}

#[test]
fn predict_and_demo_also_write_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let text = r#"{"blade": {"radius_m": 1.4}, "stations": [
        {"radius_m": 0.42, "chord_m": 0.18, "blade_angle_deg": 35.0, "thickness_ratio": 0.18, "camber_ratio": 0.03},
        {"radius_m": 0.80, "chord_m": 0.20, "blade_angle_deg": 21.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
        {"radius_m": 1.33, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.09, "camber_ratio": 0.03}]}"#;
    std::fs::write(path("hand.json"), text).unwrap();
    let (table, out, cache) = (path("hand.json"), path("out"), path("polars"));
    let asked =
        ["predict", &table, "--blades", "2", "--rpm", "1750", "--speed", "120mph", "--setting", "14:22:8"];
    let made = run(&[&asked[..], &["--polar-cache", &cache, "--title", "By hand", "--out", &out]].concat());
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    assert!(
        String::from_utf8_lossy(&made.stdout)
            .contains("record.html: (no-scan-named) the table names no scan")
    );
    let page = std::fs::read_to_string(path("out/record.html")).unwrap();
    assert!(page.contains("<h1>By hand</h1>") && page.contains("Warnings of the prediction"));
    assert!(page.contains("id=\"triangle-0\""));

    let demo = path("demo");
    assert!(run(&["demo", "--out", &demo]).status.success());
    let page = std::fs::read_to_string(path("demo/record.html")).unwrap();
    assert!(page.contains("undated, a demonstration") && page.contains("id=\"stage\""));
}
