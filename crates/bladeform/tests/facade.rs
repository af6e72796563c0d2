//! The library as its users have it: from a scan to table, comparison, prediction, solid and record, by the facade alone.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform::document::{
    read_csv, read_json, read_prediction_json, sha256_hex, write_csv, write_json, write_prediction_json,
};
use bladeform::measure::{KnownAngle, MeasureError, MeasurePlan, ScanInput, measure};
use bladeform::mesh::{RawMesh, write_ply_binary};
use bladeform::predict::{ComputedPolars, EngineCurve, Flight, PredictPlan, predict};
use bladeform::quantity::{Hand, Length, StationRadii};
use bladeform::record::{RecordPlan, record};
use bladeform::section::Family;
use bladeform::solid::{PropellerSurface, SettingAngle, SolidFormat, SolidPlan};
use bladeform::table::{ComparePlan, StationColumn, StationTable, compare};
use bladeform::words::{render, render_prediction};
use bladeform::work::{Observer, Silent, Stage};

/// Tip and root radius of the Quarry Mill blade, m.
const TIP_M: f64 = 1.42;
const ROOT_M: f64 = 0.12;
/// One chord and one pitch all along, m, make a blade that is simple to write down.
const CHORD_M: f64 = 0.16;
const PITCH_M: f64 = 1.75;
/// Corners around a section, and sections along the blade.
const AROUND: u32 = 200;
const ROWS: u32 = 150;

/// Blade angle, rad, at a radius, m.
fn angle_rad(radius_m: f64) -> f64 {
    (PITCH_M / (std::f64::consts::TAU * radius_m)).atan()
}

/// A closed blade of NACA 4412 sections, the binary PLY of its scan without noise.
fn scan() -> Vec<u8> {
    let outline = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 }.outline(AROUND as usize);
    let n = outline.len() as u32;
    let mut mesh = RawMesh::default();
    for row in 0..=ROWS {
        let z = ROOT_M + (TIP_M - ROOT_M) * f64::from(row) / f64::from(ROWS);
        let (sin, cos) = angle_rad(z).sin_cos();
        for [along, up] in &outline {
            let (forward, back) = ((0.5 - along) * CHORD_M, up * CHORD_M);
            mesh.vertices.push([forward * cos - back * sin, forward * sin + back * cos, z]);
        }
    }
    for row in 0..ROWS {
        for i in 0..n {
            let at = |row: u32, i: u32| row * n + i % n;
            mesh.faces.push([at(row, i), at(row, i + 1), at(row + 1, i + 1)]);
            mesh.faces.push([at(row, i), at(row + 1, i + 1), at(row + 1, i)]);
        }
    }
    for i in 1..n - 1 {
        mesh.faces.push([0, i + 1, i]);
        mesh.faces.push([ROWS * n, ROWS * n + i, ROWS * n + i + 1]);
    }
    let mut bytes = Vec::new();
    write_ply_binary(&mesh, &mut bytes).unwrap();
    bytes
}

fn plan() -> MeasurePlan {
    MeasurePlan {
        length_m: Some(TIP_M - ROOT_M),
        diameter_m: Some(2.0 * TIP_M),
        stations: StationRadii::Ratios(vec![0.3, 0.45, 0.6, 0.75, 0.9]),
        setting: Some(KnownAngle {
            angle_deg: angle_rad(0.75 * TIP_M).to_degrees(),
            radius_ratio: Some(0.75),
        }),
        hand: Some(Hand::Right),
        ..MeasurePlan::default()
    }
}

fn assert_near(found: Option<f64>, expected: f64, tolerance: f64, what: &str) {
    let found = found.unwrap();
    assert!((found - expected).abs() < tolerance, "{what}: {found}, expected {expected}");
}

fn json(table: &StationTable) -> Vec<u8> {
    let mut bytes = Vec::new();
    write_json(table, &mut bytes).unwrap();
    bytes
}

#[test]
fn a_scan_becomes_table_prediction_solid_and_record() {
    let bytes = scan();
    let table = measure(ScanInput::file(&bytes, "quarry-mill.ply"), &plan(), &Silent).unwrap();
    assert_eq!(table.stations.len(), 5);
    for s in &table.stations {
        assert_near(s.chord_m, CHORD_M, 2e-3, "chord");
        assert_near(s.blade_angle_deg, angle_rad(s.radius_m).to_degrees(), 0.2, "blade angle");
        assert_near(s.thickness_ratio, 0.12, 2e-3, "thickness");
        assert_near(s.camber_ratio, 0.04, 2e-3, "camber");
    }
    assert_eq!(table.source.as_ref().unwrap().sha256, sha256_hex(&bytes));
    assert!(render(&table).contains("quarry-mill.ply"));

    // A document reads back as the same table, columns as the same figures.
    let document = json(&table);
    let again = read_json(&document).unwrap();
    assert_eq!(json(&again), document);
    let mut columns = Vec::new();
    write_csv(&table, &mut columns).unwrap();
    let by_columns = read_csv(&columns, None).unwrap();
    let compared = compare([&again, &by_columns], ["document", "columns"], &ComparePlan::default()).unwrap();
    let chord = compared.summary(StationColumn::ChordM).unwrap();
    assert_eq!(compared.stations.len(), 5);
    assert!(chord.rms < 1e-9, "{chord:?}");

    let source = ComputedPolars {
        tip_speed_m_s: std::f64::consts::PI * 2.0 * TIP_M * 1750.0 / 60.0,
        ..ComputedPolars::default()
    };
    let engine = EngineCurve::new(&[(1000.0, 1200.0), (2600.0, 800.0)]).unwrap();
    let ask = PredictPlan {
        rpm: 1750.0,
        // 120 mph.
        flight: Flight::Speed(53.6448),
        settings_deg: vec![15.0, 17.0],
        engine: Some(engine),
        ..PredictPlan::default()
    };
    let prediction = predict(&again, &ask, &source, &Silent).unwrap();
    assert_eq!((prediction.points.len(), prediction.schedules.len()), (2, 2));
    let figures = prediction.points[1].figures;
    let (thrust, power) = (figures.thrust_n.unwrap(), figures.power_w.unwrap());
    assert_near(figures.efficiency, thrust * 53.6448 / power, 1e-9, "efficiency");
    assert!((0.6..0.92).contains(&figures.efficiency.unwrap()), "{figures:?}");
    assert!(render_prediction(&prediction).contains("53.6"));
    let mut bytes = Vec::new();
    write_prediction_json(&prediction, &mut bytes).unwrap();
    let kept = read_prediction_json(&bytes).unwrap();

    let ask = SolidPlan { blades: 2, hub_diameter_m: Some(0.36), tolerance_m: 5e-4, ..SolidPlan::default() };
    let propeller = PropellerSurface::new(&again, ask).unwrap();
    let made = propeller.at(Some(SettingAngle { angle_deg: 20.0, radius_ratio: 0.75 }), &Silent).unwrap();
    let mut stl = Vec::new();
    made.solid.write(SolidFormat::Stl, false, &mut stl).unwrap();
    let solid = bladeform::mesh::read(&stl).unwrap().mesh;
    assert_eq!(solid.faces.len(), made.solid.facts().triangles);

    let plan = RecordPlan {
        predictions: std::slice::from_ref(&kept),
        title: "Quarry Mill",
        ..RecordPlan::of(&again)
    };
    let page = record(&plan, &Silent).unwrap();
    assert!(page.html.contains("Quarry Mill") && !page.plots.is_empty());
}

#[test]
fn errors_are_types_and_sentences() {
    assert!(matches!(
        measure(ScanInput::file(b"no mesh", "x"), &plan(), &Silent),
        Err(MeasureError::Read(_))
    ));
    let bytes = scan();
    let refused = |plan: MeasurePlan| measure(ScanInput::file(&bytes, "x"), &plan, &Silent).unwrap_err();
    let short = refused(MeasurePlan { diameter_m: Some(2.0), ..plan() });
    assert!(matches!(short, MeasureError::Lengths(_)), "{short}");
    let far = StationRadii::Lengths(vec![Length::parse("1.6m").unwrap()]);
    let outside = refused(MeasurePlan { stations: far, ..plan() });
    assert!(matches!(outside, MeasureError::StationOutside { .. }), "{outside}");
    assert!(outside.to_string().contains("1.6000 m"), "{outside}");
    let table = read_json(br#"{"blade": {"radius_m": 1.42}, "stations": []}"#);
    assert!(!table.unwrap_err().to_string().is_empty());
    let still = PredictPlan { rpm: 0.0, ..PredictPlan::default() };
    let by_hand = read_json(
        br#"{"blade": {"radius_m": 1.42}, "stations": [
        {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04},
        {"radius_m": 1.3, "chord_m": 0.12, "blade_angle_deg": 13.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#,
    )
    .unwrap();
    assert!(
        predict(&by_hand, &still, &ComputedPolars::default(), &Silent)
            .unwrap_err()
            .to_string()
            .contains("above 0")
    );
}

#[test]
fn a_mesh_in_memory_gives_the_table_of_its_file() {
    let bytes = scan();
    let read = bladeform::mesh::read(&bytes).unwrap();
    let of_file = measure(ScanInput::file(&bytes, "x"), &plan(), &Silent).unwrap();
    let of_mesh = measure(ScanInput::mesh(&read.mesh, "x"), &plan(), &Silent).unwrap();
    assert_eq!(of_mesh.stations, of_file.stations);
    assert_eq!(of_mesh.source.unwrap().sha256, "");
    let mut broken = read.mesh;
    broken.faces[7][1] = u32::MAX;
    let refused = measure(ScanInput::mesh(&broken, "x"), &plan(), &Silent).unwrap_err();
    assert_eq!(refused.code(), "face-index");
    assert!(refused.to_string().starts_with("triangle 7 names vertex"), "{refused}");
}

#[test]
fn measuring_stops_between_its_first_stages() {
    use std::ops::ControlFlow;
    use std::sync::Mutex;
    let bytes = scan();
    let first = ["reading the mesh", "repairing the mesh", "finding the axes"];
    for (k, last) in first.into_iter().enumerate() {
        let heard = Mutex::new(Vec::new());
        let listen = |stage: Stage<'_>| {
            heard.lock().unwrap().push(stage.name.to_owned());
            if stage.name == last { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let stopped = measure(ScanInput::file(&bytes, "x"), &plan(), &listen);
        assert!(matches!(stopped, Err(MeasureError::Stopped(_))), "{last}");
        assert_eq!(heard.into_inner().unwrap(), first[..=k], "the call went on after {last}");
    }
}

#[test]
fn solids_and_pages_report_their_steps_and_can_be_stopped() {
    use bladeform::solid::SolidError;
    use std::ops::ControlFlow;
    use std::sync::Mutex;
    let table = measure(ScanInput::file(scan(), "x"), &plan(), &Silent).unwrap();
    let ask = SolidPlan { tolerance_m: 1e-3, ..SolidPlan::default() };
    let propeller = PropellerSurface::new(&table, ask).unwrap();
    let make = |observer: &dyn Observer| propeller.at(None, observer).map(drop);
    let page = |observer: &dyn Observer| record(&RecordPlan::of(&table), observer).map(drop);
    let heard = Mutex::new(Vec::new());
    let listen = |stage: Stage<'_>| {
        heard.lock().unwrap().push((stage.name.to_owned(), stage.done, stage.total));
        ControlFlow::Continue(())
    };
    make(&listen).unwrap();
    page(&listen).unwrap();
    let mut heard = heard.into_inner().unwrap();
    heard.dedup();
    let steps = |name: &'static str, total: usize| (0..total).map(move |k| (name.to_owned(), k, total));
    let expected: Vec<_> = steps("making solids", 3).chain(steps("making the page", 5)).collect();
    assert_eq!(heard, expected);
    for step in 0..3 {
        let stop = |s: Stage<'_>| {
            if s.done == step { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        assert!(matches!(make(&stop), Err(SolidError::Stopped(_))), "{step}");
        assert_eq!(page(&stop).unwrap_err().code(), "stopped", "{step}");
    }
}

#[test]
fn an_observer_hears_its_own_call_alone_and_can_stop_it() {
    use std::ops::ControlFlow;
    use std::sync::atomic::{AtomicUsize, Ordering};
    let bytes = scan();
    let heard = [AtomicUsize::new(0), AtomicUsize::new(0)];
    let total = AtomicUsize::new(0);
    let listen = |own: usize| {
        let (heard, total) = (&heard, &total);
        move |stage: Stage<'_>| {
            heard[own].fetch_add(usize::from(stage.name == "measuring stations"), Ordering::Relaxed);
            total.fetch_max(stage.total, Ordering::Relaxed);
            // The second observer ends its call at the third station.
            if own == 1 && 3 <= stage.done { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        }
    };
    let run = |own: usize| measure(ScanInput::file(&bytes, "x"), &plan(), &listen(own));
    let (whole, stopped) = bladeform::work::parallel::join(|| run(0), || run(1));
    let stations = whole.unwrap().stations.len();
    assert_eq!(stopped.unwrap_err().code(), "stopped");
    // The beginning is heard, and each of the places that were announced once: the stations of the table, the reference section, and places between for the smooth blade.
    let total = total.into_inner();
    assert!(stations < total, "{total}");
    assert_eq!(heard[0].load(Ordering::Relaxed), 1 + total);
    assert!(2 * heard[1].load(Ordering::Relaxed) < total, "the second call went on");
}
