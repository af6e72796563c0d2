//! The `solid` command as a user runs it, and its files as read by general-purpose libraries.

use std::path::Path;
use std::process::{Command, Output};

use crate::tool::{outside_library, python, tell};
use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::quantity::{Hand, StationRadii};
use bladeform::solid::{PropellerSurface, SolidFormat, SolidPlan};
use bladeform::table::Station;
use bladeform::work::Silent;
use bladeform_specimen::{Blade, ScanPlan, SectionKind, scan_of_blade};

/// A handwritten table of an invented blade, without outlines.
const BY_HAND: &str = r#"{"blade": {"radius_m": 0.5, "root_radius_m": 0.06}, "stations": [
  {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
  {"radius_m": 0.22, "chord_m": 0.064, "blade_angle_deg": 32.0, "thickness_ratio": 0.16, "camber_ratio": 0.025},
  {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 0.38, "chord_m": 0.058, "blade_angle_deg": 20.5, "thickness_ratio": 0.10, "camber_ratio": 0.03},
  {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;

/// The same for a left-hand propeller.
fn left() -> String {
    BY_HAND.replace("{\"blade\"", "{\"frame\": {\"hand\": \"left\", \"hand_certain\": true}, \"blade\"")
}

fn run(folder: &Path, table: &str, arguments: &[&str]) -> Output {
    std::fs::write(folder.join("table.json"), table).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_bladeform"));
    command.current_dir(folder).args(["solid", "table.json"]).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn volume_mm3(path: &Path) -> f64 {
    let read = bladeform_mesh::read(&std::fs::read(path).unwrap()).unwrap();
    let (mesh, _) = bladeform_mesh::repair(read.mesh).unwrap();
    assert!(bladeform_mesh::topology(&mesh).closed(), "{}", path.display());
    bladeform_mesh::moments(&mesh).volume
}

#[test]
fn blades_on_a_hub_are_one_closed_surface_in_every_format_and_left_is_the_mirror_image() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let options = [
        "--blades",
        "3",
        "--hub-diameter",
        "140mm",
        "--hub-length",
        "120mm",
        "--setting",
        "20deg@0.75",
        "--tolerance",
        "0.2mm",
        "-o",
    ];
    let mut volumes = Vec::new();
    for file in ["p.stl", "p.ply", "p.obj"] {
        let run = run(at, BY_HAND, &[&options[..], &[file]].concat());
        assert!(run.status.success(), "{}", text(&run.stderr));
        let shown = text(&run.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
        for needed in
            ["one closed surface", "smallest angle", "sections of their thickness and camber", "airworthy"]
        {
            assert!(shown.contains(needed), "{needed} is missing in:\n{shown}");
        }
        volumes.push(volume_mm3(&at.join(file)));
    }
    assert!(volumes.iter().all(|v| (v / volumes[0] - 1.0).abs() < 1e-9), "{volumes:?}");
    assert!(std::fs::read_to_string(at.join("p.obj")).unwrap().contains("g tip-3"));
    assert!(run(at, &left(), &[&options[..], &["l.stl"]].concat()).status.success());
    assert!((volume_mm3(&at.join("l.stl")) / volumes[0] - 1.0).abs() < 1e-9);
}

#[test]
fn an_unstated_hand_is_reported_and_can_be_given() {
    let folder = tempfile::tempdir().unwrap();
    let made = |table: &str, more: &[&str]| {
        let out = run(folder.path(), table, &[&["--tolerance", "0.5mm", "-o", "b.stl"], more].concat());
        assert!(out.status.success(), "{}", text(&out.stderr));
        (text(&out.stdout), std::fs::read(folder.path().join("b.stl")).unwrap())
    };
    let (unsaid, given) = (made(BY_HAND, &[]), made(BY_HAND, &["--hand", "left"]));
    assert!(unsaid.0.contains("Hand: right (assumed") && given.0.contains("Hand: left\n"), "{}", unsaid.0);
    assert!(unsaid.1 != given.1 && given.1 == made(&left(), &[]).1);
}

#[test]
fn several_settings_give_one_file_each_with_the_same_bytes_every_time() {
    let folder = tempfile::tempdir().unwrap();
    let options = [
        "--blades",
        "2",
        "--hub-diameter",
        "140mm",
        "--setting",
        "10:20:10@tip",
        "--tolerance",
        "0.3mm",
        "-o",
        "p.stl",
    ];
    assert!(run(folder.path(), BY_HAND, &options).status.success());
    let first = std::fs::read(folder.path().join("p-10deg.stl")).unwrap();
    assert!(folder.path().join("p-20deg.stl").exists() && !folder.path().join("p.stl").exists());
    assert!(run(folder.path(), BY_HAND, &options).status.success());
    assert!(first == std::fs::read(folder.path().join("p-10deg.stl")).unwrap());
}

#[test]
fn bad_input_gives_a_message_and_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let two = r#"{"blade": {"radius_m": 0.5}, "stations": [
      {"radius_m": 0.15, "chord_m": 0.06, "blade_angle_deg": 40.0, "thickness_ratio": 0.2, "camber_ratio": 0.02},
      {"radius_m": 0.45, "chord_m": 0.05, "blade_angle_deg": 17.0, "thickness_ratio": 0.1, "camber_ratio": 0.03}]}"#;
    let crossed = BY_HAND.replacen(
        "\"thickness_ratio\": 0.16",
        "\"outline\": {\"x\": [0.064, 0.04, 0.02, 0.0, 0.01, 0.02, 0.04, 0.05], \"y\": [0, 0.005, -0.006, 0, 0.004, 0.004, -0.003, -0.002]}, \"thickness_ratio\": 0.16",
        1,
    );
    let propeller = ["--setting", "20deg", "--tolerance", "0.3mm", "-o", "p.stl"];
    for (table, options, expected) in [
        (two, &["--blades", "1"][..], "at least 3"),
        (&crossed, &["--blades", "1"][..], "crosses itself"),
        (BY_HAND, &["--blades", "2", "--hub-diameter", "400mm"][..], "would cover the first station"),
        (BY_HAND, &["--blades", "12", "--hub-diameter", "150mm", "--hub-length", "120mm"][..], "collide"),
        (BY_HAND, &["--blades", "2", "--hub-diameter", "140mm", "--hub-length", "10mm"][..], "--hub-length"),
        (
            BY_HAND,
            &["--blades", "2", "--hub-diameter", "140mm", "--diameter", "800mm"][..],
            "across the axis",
        ),
    ] {
        let run = run(folder.path(), table, &[options, &propeller[..]].concat());
        let said = text(&run.stderr);
        assert_eq!(run.status.code(), Some(1), "{expected}: {said}");
        assert!(said.contains(expected) && said.trim().lines().count() == 1, "{expected}: {said}");
        assert!(!folder.path().join("p.stl").exists());
    }
    let run = run(folder.path(), BY_HAND, &["--blades", "2", "-o", "p.stl"]);
    assert_eq!(run.status.code(), Some(1));
    assert!(text(&run.stderr).contains("--setting"), "{}", text(&run.stderr));
}

/// Differences of angle (deg), chord and thickness ratio between a table and the one measured from its solid, station by station.
fn round_trip(kind: SectionKind) -> Vec<[f64; 3]> {
    let blade = Blade::quarry_mill().with_kind(kind);
    let scan = scan_of_blade(&blade, &ScanPlan { triangles: 200_000, ..ScanPlan::clean(5) });
    let ratios = vec![0.33, 0.4, 0.5, 0.6, 0.7, 0.75, 0.8, 0.9];
    let plan = MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios(ratios),
        ..MeasurePlan::default()
    };
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(&scan.mesh, &mut bytes).unwrap();
    let table = measure(ScanInput::file(&bytes, "scan.stl"), &plan, &Silent).unwrap();
    let plan_of_solid = SolidPlan {
        shank_diameter_m: Some(2.0 * blade.shank_radius_m),
        tolerance_m: 1e-4,
        ..SolidPlan::default()
    };
    let made = PropellerSurface::new(&table, plan_of_solid).unwrap().at(None, &Silent).unwrap();
    // The volume of the triangles is within 0.1 % of the integral of the section areas.
    assert!((made.solid.facts().volume_m3 / made.section_volume_m3 - 1.0).abs() < 1e-3);
    let mut stl = Vec::new();
    made.solid.write(SolidFormat::Stl, false, &mut stl).unwrap();
    let again = measure(ScanInput::file(&stl, "solid.stl"), &plan, &Silent).unwrap();
    let at = |s: &Station| [s.blade_angle_deg.unwrap(), s.chord_m.unwrap(), s.thickness_ratio.unwrap()];
    let mut differences = Vec::new();
    // The first station is where the sections begin. The band of the fit there extends into the transition, which was not measured.
    for (a, b) in table.stations.iter().zip(&again.stations).skip(1) {
        if !(a.flags.is_empty() && b.flags.is_empty()) {
            continue;
        }
        let (p, q) = (at(a), at(b));
        let off = [(p[0] - q[0]).abs(), (q[1] / p[1] - 1.0).abs(), (p[2] - q[2]).abs()];
        tell(&format!(
            "{kind:?} {:.3} R: {:.4} deg, {:.4} %, {:.5}",
            a.radius_ratio,
            off[0],
            100.0 * off[1],
            off[2]
        ));
        differences.push(off);
    }
    differences
}

#[test]
fn measured_solids_of_three_blades_reproduce_their_tables() {
    for kind in [SectionKind::FourDigit, SectionKind::ClarkY, SectionKind::FlatFaced] {
        let differences = round_trip(kind);
        assert!(3 <= differences.len(), "{kind:?}");
        // Goal: 0.02 deg, 0.0005 of thickness ratio and 0.05 % of chord. The chord of single stations misses it, because the second measurement
        // treats a flat tail differently (docs/results.md). Most stations must meet it, and none may be wrong by more than 0.3 %.
        for [angle_deg, chord, thickness] in &differences {
            assert!(*angle_deg < 0.02 && *thickness < 5e-4 && *chord < 3e-3, "{kind:?}: {differences:?}");
        }
        let missed = differences.iter().filter(|d| 5e-4 < d[1]).count();
        assert!(2 * missed < differences.len(), "{kind:?}: {differences:?}");
    }
}

#[test]
fn a_propeller_measured_again_has_its_blades_its_hand_and_its_setting() {
    let folder = tempfile::tempdir().unwrap();
    let left =
        BY_HAND.replace("{\"blade\"", "{\"frame\": {\"hand\": \"left\", \"hand_certain\": true}, \"blade\"");
    let options = ["--blades", "3", "--hub-diameter", "140mm", "--setting", "28deg@0.75", "-o", "p.stl"];
    for (table, hand) in [(BY_HAND, Hand::Right), (&left, Hand::Left)] {
        assert!(
            run(folder.path(), table, &[&options[..], &["--tolerance", "0.1mm"]].concat()).status.success()
        );
        let plan = MeasurePlan {
            diameter_m: Some(1.0),
            stations: StationRadii::Ratios(vec![0.6, 0.75, 0.85]),
            ..MeasurePlan::default()
        };
        let found = measure(
            ScanInput::file(std::fs::read(folder.path().join("p.stl")).unwrap(), "p.stl"),
            &plan,
            &Silent,
        )
        .unwrap();
        assert_eq!((found.blade.blades_in_scan, found.hand()), (Some(3), hand));
        let angle = found.stations[1].blade_angle_deg.unwrap();
        assert!((angle - 28.0).abs() < 0.1, "{angle}");
    }
}

#[test]
fn several_settings_are_named_solids_in_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let options = ["--setting", "10:20:5@0.75", "--tolerance", "0.5mm", "--one-file"];
    for (file, extra) in [("all.obj", &[][..]), ("all.stl", &["--ascii"][..])] {
        let run = run(at, BY_HAND, &[&options[..], extra, &["-o", file]].concat());
        assert!(run.status.success(), "{}", text(&run.stderr));
        let written = std::fs::read_to_string(at.join(file)).unwrap();
        let word = if file == "all.obj" { "o " } else { "solid " };
        let names: Vec<&str> = written.lines().filter_map(|l| l.strip_prefix(word)).collect();
        assert_eq!(names, ["setting-10deg", "setting-15deg", "setting-20deg"]);
    }
    let obj = std::fs::read_to_string(at.join("all.obj")).unwrap();
    let vertices = obj.lines().filter(|l| l.starts_with("v ")).count();
    let last = obj.lines().rfind(|l| l.starts_with("f ")).unwrap();
    assert!(last[2..].split(' ').all(|i| (1..=vertices).contains(&i.parse::<usize>().unwrap())), "{last}");
    let refused = run(at, BY_HAND, &[&options[..], &["-o", "all.ply"]].concat());
    assert_eq!(refused.status.code(), Some(2));
    assert!(text(&refused.stderr).contains("named solids"));
}

/// The number before a unit or a word in the advice of an error, behind `give`.
fn advised(told: &str, after: &str) -> Option<String> {
    let (before, _) = told.split_once("; give ")?.1.split_once(after)?;
    before.split_whitespace().next_back().map(str::to_owned)
}

#[test]
fn errors_about_the_hub_name_a_size_and_a_number_that_fit() {
    let folder = tempfile::tempdir().unwrap();
    let made = |blades: &str, hub: &str| {
        let options = [
            "--setting",
            "20deg",
            "--blades",
            blades,
            "--hub-diameter",
            hub,
            "--hub-length",
            "150mm",
            "--tolerance",
            "0.5mm",
            "-o",
            "p.stl",
        ];
        run(folder.path(), BY_HAND, &options)
    };
    let refused = made("12", "150mm");
    let told = text(&refused.stderr);
    assert!(!refused.status.success() && told.contains("12 blades collide at the hub"), "{told}");
    let (diameter, most) = (advised(&told, " mm, or").unwrap(), advised(&told, " blades at most").unwrap());
    let fewer = made(&most, "150mm");
    assert!(fewer.status.success(), "{most} blades: {}", text(&fewer.stderr));
    // The blade may be wider farther out; then the next size is named. It ends at a hub that fits, or with the blades that do.
    let mut size = diameter;
    for _ in 0..4 {
        let next = made("12", &format!("{size}mm"));
        let told = text(&next.stderr);
        match advised(&told, " mm, or") {
            _ if next.status.success() => return,
            Some(greater) => size = greater,
            None => panic!("{size} mm: {told}"),
        }
    }
    panic!("no size fits after four: {size} mm");
}

#[test]
fn a_hub_that_is_too_short_reports_by_how_much() {
    let folder = tempfile::tempdir().unwrap();
    let options = [
        "--blades",
        "2",
        "--hub-diameter",
        "130mm",
        "--hub-length",
        "20mm",
        "--setting",
        "20deg",
        "-o",
        "b.stl",
    ];
    let run = run(folder.path(), BY_HAND, &options);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(1));
    assert!(said.contains("the hub is too short by") && said.contains("hub length of at least"), "{said}");
    assert!(!folder.path().join("b.stl").exists());
}

/// STEP file of a screw whose sections lie on cylinders and whose wide roots overlap around the hub, and its reported volume, mm3.
fn screw(folder: &Path) -> (&'static str, f64) {
    let table = r#"{"frame": {"sections": "cylinder"}, "blade": {"radius_m": 0.5, "root_radius_m": 0.09, "setting": {"angle_deg": 0.0, "radius_ratio": 0.75, "of": "chord"}}, "stations": [
      {"radius_m": 0.12, "chord_m": 0.22, "blade_angle_deg": 53.0, "thickness_ratio": 0.14, "camber_ratio": 0.02, "mid_chord_x_m": 0.0, "mid_chord_y_m": -0.02},
      {"radius_m": 0.22, "chord_m": 0.24, "blade_angle_deg": 36.0, "thickness_ratio": 0.10, "camber_ratio": 0.02, "mid_chord_x_m": -0.01, "mid_chord_y_m": -0.05},
      {"radius_m": 0.33, "chord_m": 0.24, "blade_angle_deg": 26.0, "thickness_ratio": 0.06, "camber_ratio": 0.02, "mid_chord_x_m": -0.04, "mid_chord_y_m": -0.10},
      {"radius_m": 0.46, "chord_m": 0.16, "blade_angle_deg": 19.0, "thickness_ratio": 0.04, "camber_ratio": 0.02, "mid_chord_x_m": -0.10, "mid_chord_y_m": -0.15}]}"#;
    let run = run(folder, table, &["--blades", "6", "--hub-diameter", "190mm", "-o", "screw.step"]);
    let told = text(&run.stdout);
    assert!(run.status.success() && told.contains("(hub-under-roots)"), "{}{told}", text(&run.stderr));
    let before = &told[..told.find(" cm3 by the section areas; the last").unwrap()];
    ("screw.step", 1e3 * before.rsplit([' ', '\n']).next().unwrap().parse::<f64>().unwrap())
}

/// STEP files of propellers of both hands, with noses as long as the hub radius and longer; and their reported volumes, mm3.
fn propellers(folder: &Path) -> Vec<(&'static str, f64)> {
    let of = |file: &'static str, table: &str, more: &[&str]| {
        let options = ["--hub-diameter", "130mm", "--setting", "20deg@0.75", "-o", file];
        let run = run(folder, table, &[&options[..], more].concat());
        let told = text(&run.stdout);
        assert!(run.status.success(), "{}", text(&run.stderr));
        assert!(
            told.contains("blades united with their hub") && told.contains("are within 0.00000"),
            "{told}"
        );
        let before = &told[..told.find(" cm3 by the section areas; the last").unwrap()];
        (file, 1e3 * before.rsplit(' ').next().unwrap().parse::<f64>().unwrap())
    };
    vec![
        screw(folder),
        of("two.step", &left(), &["--blades", "2"]),
        of("three.step", BY_HAND, &["--blades", "3", "--nose-length", "90mm"]),
        of("four.step", BY_HAND, &["--blades", "4"]),
        // Holes in flat ends, of a left-hand propeller, and a bore through a nose. The mesher, at 15 mm, needs two pieces for half a hole.
        of("drilled.step", &left(), &["--blades", "2", "--bore", "40mm", "--bolts", "4x18mm@85mm@15deg"]),
        of("bored.step", BY_HAND, &["--blades", "3", "--bore", "40mm", "--nose-length", "50mm"]),
    ]
}

/// What `solid` drills, `measure` finds, and what `measure` finds `solid` drills, for both hands.
#[test]
fn bolt_holes_of_a_solid_are_measured_and_made_again() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let drilled =
        ["--blades", "3", "--hub-diameter", "150mm", "--hub-length", "90mm", "--setting", "20deg@0.75"];
    let holes = ["--bore", "40mm", "--bolts", "8x12mm@95mm@17deg", "-o", "drilled.stl"];
    for table in [BY_HAND.to_owned(), left()] {
        assert!(run(at, &table, &[&drilled[..], &holes[..]].concat()).status.success());
        let read = bladeform_mesh::read(&std::fs::read(at.join("drilled.stl")).unwrap()).unwrap();
        let plan = MeasurePlan {
            diameter_m: Some(1.0),
            stations: StationRadii::Ratios(vec![0.4, 0.6, 0.8]),
            ..MeasurePlan::default()
        };
        let measured = measure(ScanInput::mesh(&read.mesh, "drilled"), &plan, &Silent).unwrap();
        let bolts = measured.hub.as_ref().unwrap().bolts.as_ref().unwrap();
        assert_eq!((bolts.count, bolts.seen, bolts.closed), (8, 8, 0));
        assert!((bolts.hole_diameter_m.value - 0.012).abs() < 2.0 * bolts.hole_diameter_m.u, "{bolts:?}");
        assert!((bolts.circle_diameter_m.value - 0.095).abs() < 1e-5, "{bolts:?}");
        // The first blade of a scan is any of the three: 17 deg less a third of a turn or two, in steps of 45 deg.
        let off = |from: f64| (bolts.first_deg.value - from).rem_euclid(45.0);
        assert!([2.0, 17.0, 32.0].iter().any(|a| off(a - 0.1) < 0.2), "{bolts:?}");
        let plan = SolidPlan { blades: 3, ..SolidPlan::default() };
        let made = PropellerSurface::new(&measured, plan).unwrap().hub().unwrap().bolts.unwrap();
        assert!(made.count == 8 && made.first_deg == Some(bolts.first_deg.value), "{made:?}");
    }
}

#[test]
fn general_purpose_libraries_find_the_same_solid() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for arguments in [&["-o", "b.stl", "--templates", "sheets"][..], &["-o", "b.step"], &["-o", "b.ply"]] {
        let run = run(at, BY_HAND, arguments);
        assert!(run.status.success(), "{}", text(&run.stderr));
    }
    let volume = volume_mm3(&at.join("b.stl")).to_string();
    let sheet = |ending: &str| at.join("sheets").join(format!("section-03-r300mm.{ending}"));
    let mut command = python("check_solid.py");
    command.arg("--volume").arg(volume);
    for (option, file) in [
        ("--triangles", at.join("b.stl")),
        ("--triangles", at.join("b.ply")),
        ("--step", at.join("b.step")),
        ("--dxf", sheet("dxf")),
        ("--svg", sheet("svg")),
    ] {
        command.arg(option).arg(file);
    }
    for (file, volume) in propellers(at) {
        command.arg("--propeller").arg(at.join(file)).arg(volume.to_string());
    }
    command.arg("--pdf").arg(at.join("sheets/sections.pdf")).arg("--svg-folder").arg(at.join("sheets"));
    outside_library(&mut command, "no outside library looked at the solids");
}

#[test]
fn another_scan_than_the_tables_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("other.obj"), "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n").unwrap();
    let source = format!("{{\"source\": {{\"file\": \"own.ply\", \"sha256\": \"{}\"}}, ", "0".repeat(64));
    let table = BY_HAND.replacen('{', &source, 1);
    let found = run(at, &table, &["--scan", "other.obj", "-o", "p.stl", "--tolerance", "1mm"]);
    let told = text(&found.stderr);
    assert_eq!(found.status.code(), Some(1), "{told}");
    assert!(told.contains("is not the one that was measured") && told.contains("own.ply"), "{told}");
    assert!(!at.join("p.stl").exists());
    // The scan is compared with the table before the work: that one station makes no surface would come later.
    let (start, rest) = table.split_once("},\n").unwrap();
    assert!(rest.contains("0.22"));
    let unfit = format!("{start}}}]}}");
    let told = text(&run(at, &unfit, &["--scan", "other.obj"]).stderr);
    assert!(told.contains("is not the one that was measured"), "{told}");
}

#[cfg(target_os = "linux")]
#[test]
fn folders_that_take_no_files_are_refused_before_the_work() {
    let folder = tempfile::tempdir().unwrap();
    // The table is not usable, but the folder is looked at first. Nobody can make a file in the file system of processes.
    for arguments in [["-o", "/proc/p.stl"], ["--templates", "/proc/sheets"]] {
        let told = text(&run(folder.path(), "{", &arguments).stderr);
        assert!(told.contains("no file can be made in the folder /proc"), "{told}");
    }
}

#[test]
fn texts_of_a_table_do_not_command_the_terminal() {
    let folder = tempfile::tempdir().unwrap();
    let table = BY_HAND.replacen('{', "{\"warnings\": [\"red \\u001b[31m text\"], ", 1);
    let found = run(folder.path(), &table, &["-o", "p.stl", "--tolerance", "1mm"]);
    assert!(found.status.success(), "{}", text(&found.stderr));
    let shown = text(&found.stdout);
    assert!(shown.contains("red \u{fffd}[31m text") && !shown.contains('\u{1b}'), "{shown}");
}

#[test]
fn a_hostile_file_name_stays_a_name_inside_step() {
    let folder = tempfile::tempdir().unwrap();
    let name = "x');ENDSEC;\u{1b}\\X2\\#1=<b>.step";
    let found = run(folder.path(), BY_HAND, &["-o", name, "--tolerance", "1mm"]);
    assert!(found.status.success(), "{}", text(&found.stderr));
    let step = std::fs::read_to_string(folder.path().join(name)).unwrap();
    // ISO 10303-21: an apostrophe ends a string, a backslash begins a directive, and the file is ASCII.
    assert!(step.contains("FILE_NAME('x---ENDSEC--") && step.matches("ENDSEC;").count() == 2);
    assert!(step.bytes().all(|b| b == b'\n' || (0x20..0x7f).contains(&b)) && !step.contains('\\'));
    assert!(!text(&found.stdout).contains('\u{1b}'));
}

/// The mass is the density times the volume of the file, the moments those of a general-purpose library of meshes (tests/python/check_solid.py has its volume).
#[test]
fn mass_and_moments_are_those_of_the_written_solid() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let made = run(at, BY_HAND, &["-o", "b.stl", "--tolerance", "0.5mm", "--density", "0.7g/cm3"]);
    assert!(made.status.success(), "{}", text(&made.stderr));
    let shown = text(&made.stdout);
    let line = shown.lines().find(|l| l.starts_with("Mass at 700 kg/m3")).unwrap();
    let mass: f64 = line.split(": ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    assert!((mass / (700.0 * 1e-9 * volume_mm3(&at.join("b.stl"))) - 1.0).abs() < 1e-3, "{line}");
    assert!(shown.contains("axis of rotation (y)"), "{shown}");
    let wrong = run(at, BY_HAND, &["-o", "b.stl", "--density", "700"]);
    assert!(
        wrong.status.code() == Some(2) && text(&wrong.stderr).contains("kg/m3"),
        "{}",
        text(&wrong.stderr)
    );
}

#[test]
fn stations_are_left_out_by_radius_and_an_unknown_one_is_named_with_its_neighbour() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let crossed = BY_HAND.replace(
        "{\"radius_m\": 0.30,",
        "{\"radius_m\": 0.30, \"outline\": {\"x\": [0.066, 0.03, 0, 0.066, 0.03, 0], \"y\": [0, 0.004, 0, 0.004, -0.004, 0.004]},",
    );
    let refused = run(at, &crossed, &["-o", "b.stl", "--tolerance", "1mm"]);
    let told = text(&refused.stderr);
    assert!(
        refused.status.code() == Some(1) && told.contains("--without") && told.contains("300.0 mm"),
        "{told}"
    );
    let made = run(at, &crossed, &["-o", "b.stl", "--tolerance", "1mm", "--without", "300mm"]);
    let shown = text(&made.stdout) + &text(&made.stderr);
    assert!(made.status.success() && shown.contains("the station at 300.0 mm was left out"), "{shown}");
    let none = run(at, BY_HAND, &["-o", "b.stl", "--without", "0.7"]);
    let told = text(&none.stderr);
    assert!(none.status.code() == Some(2) && told.contains("380.0 mm"), "{told}");
}

/// What the scan holds is known: a root that is only carried on is refused where it is far off, and otherwise said.
#[test]
fn the_volume_is_compared_with_that_of_the_scan() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let of = |volume_m3: f64| {
        BY_HAND.replace(
            "\"radius_m\": 0.5,",
            &format!("\"radius_m\": 0.5, \"blades_in_scan\": 1, \"volume_m3\": {volume_m3},"),
        )
    };
    let options = ["-o", "b.stl", "--tolerance", "1mm"];
    let plain = run(at, BY_HAND, &options);
    assert!(plain.status.success());
    let own = 1e-9 * volume_mm3(&at.join("b.stl"));
    let alike = run(at, &of(own), &options);
    assert!(
        alike.status.success() && !text(&alike.stdout).contains("volume-differs"),
        "{}",
        text(&alike.stdout)
    );
    let near = run(at, &of(1.1 * own), &options);
    assert!(near.status.success() && text(&near.stdout).contains("volume-differs"), "{}", text(&near.stdout));
    let far = run(at, &of(2.0 * own), &options);
    let told = text(&far.stderr);
    assert!(far.status.code() == Some(1) && told.contains("--shank-diameter"), "{told}");
    let shank = run(at, &of(2.0 * own), &[&options[..], &["--shank-diameter", "50mm"]].concat());
    assert!(shank.status.success(), "{}", text(&shank.stderr));
}

/// W3C, Metadata vocabulary for tabular data, 2015: the description of `t.csv` is `t.csv-metadata.json`.
#[test]
fn a_csv_table_with_its_description_beside_it_has_hand_and_setting() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let rows: String = [(0.15, 0.060, 40.0), (0.30, 0.066, 25.0), (0.38, 0.058, 20.5), (0.45, 0.048, 17.0)]
        .iter()
        .map(|(r, chord, angle)| format!("{r},{},{chord},{angle},0.12,0.03\n", r / 0.5))
        .collect();
    std::fs::write(
        at.join("t.csv"),
        format!("radius_m,radius_ratio,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n{rows}"),
    )
    .unwrap();
    let solid = || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_bladeform"));
        let made = command
            .current_dir(at)
            .args(["solid", "t.csv", "-o", "b.stl", "--tolerance", "1mm"])
            .output()
            .unwrap();
        assert!(made.status.success(), "{}", text(&made.stderr));
        text(&made.stdout)
    };
    let bare = solid();
    assert!(bare.contains("Hand: right (assumed") && bare.contains("angles-of-table"), "{bare}");
    let description = r#"{"url": "t.csv", "notes": [{"schema": "bladeform.stations/1", "frame": {"hand": "left"},
        "blade": {"radius_m": 0.5, "root_radius_m": 0.06, "setting": {"angle_deg": 18.0, "radius_ratio": 0.75, "of": "chord"}}}]}"#;
    std::fs::write(at.join("t.csv-metadata.json"), description).unwrap();
    let described = solid();
    assert!(described.contains("Hand: left\n") && !described.contains("angles-of-table"), "{described}");
    assert!(described.contains("Blade from 60.0 mm"), "{described}");
}
