//! Files that other programs read: outlines, rows of each blade, schedules, comparisons; and what an earlier run left in the folder.

use std::path::Path;

use bladeform::document::{read_described_csv, read_json};
use bladeform::mesh::write_ply_binary;
use bladeform_document::read_prediction_json;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller};

use crate::tool::{HAND_TABLE, names, run_in, text};

fn done(folder: &Path, line: &str) -> String {
    let made = run_in(folder, &line.split(' ').collect::<Vec<_>>());
    assert!(made.status.success(), "{line}: {}", text(&made.stderr));
    text(&made.stdout)
}

/// The points of an outline file.
fn points(text: &str) -> Vec<[f64; 2]> {
    let rows = text.lines().filter(|l| !l.starts_with('#'));
    rows.map(|l| l.split_once(' ').map(|(x, y)| [x.parse().unwrap(), y.parse().unwrap()]).unwrap()).collect()
}

#[test]
fn blades_of_a_propeller_and_their_outlines_are_files_that_are_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() };
    let radius_m = blade.radius_m;
    let plan = ScanPlan { triangles: 60_000, ..ScanPlan::usual(3) };
    let propeller = SpecimenPropeller { blade, count: 3, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let write = |name: &str, mesh: &bladeform::mesh::RawMesh| {
        let mut bytes = Vec::new();
        write_ply_binary(mesh, &mut bytes).unwrap();
        std::fs::write(at.join(name), bytes).unwrap();
    };
    write("p.ply", &scan_of_propeller(&propeller, &plan).mesh);
    let told = done(
        at,
        &format!(
            "measure p.ply --diameter {}m --at 0.4,0.6,0.75 --no-record --outlines o --out r",
            2.0 * radius_m
        ),
    );
    assert!(told.contains("blade-1.csv to blade-3.csv") && told.contains("are in o"), "{told}");
    let bytes = |name: &str| std::fs::read(at.join("r").join(name)).unwrap();
    let table = read_json(&bytes("stations.json")).unwrap();
    for (k, blade) in table.blades.iter().enumerate() {
        let name = format!("blade-{}.csv", k + 1);
        let own = read_described_csv(&bytes(&name), &bytes(&format!("{name}-metadata.json"))).unwrap();
        assert!(!own.angles_are_relative(), "{name}");
        assert!((own.blade.radius_m - table.blade.radius_m).abs() < 1e-12);
        assert_eq!(own.stations.len(), blade.stations.len());
        for (read, station) in own.stations.iter().zip(&blade.stations) {
            assert_eq!((read.chord_m, read.blade_angle_deg), (station.chord_m, station.blade_angle_deg));
            assert_eq!(read.u.chord_m, station.u.chord_m);
        }
        // The prediction takes the file as it is: angles are absolute, the size is known. One of them is enough: section polars take long.
        if k != 1 {
            continue;
        }
        let out = format!("q{k}");
        done(
            at,
            &format!(
                "predict r/{name} --blades 3 --rpm 1200 --speed 30m/s --surface smooth --polar-cache c --no-record --out {out}"
            ),
        );
        let made =
            read_prediction_json(&std::fs::read(at.join(out).join("prediction.json")).unwrap()).unwrap();
        assert!((made.diameter_m - 2.0 * table.blade.radius_m).abs() < 1e-12);
        let setting = made.points[0].figures.setting_deg.unwrap();
        let own = blade.stations[2].blade_angle_deg.unwrap();
        assert!((setting - own).abs() < 0.3, "the setting is {setting} deg, the blade has {own} deg");
    }
    let mut checked = 0;
    for (blade, stations) in table.blades.iter().enumerate().map(|(k, b)| (k + 1, &b.stations)) {
        for (k, station) in stations.iter().enumerate() {
            let Some(outline) = &station.outline else { continue };
            let stem = format!("o/blade-{blade}-section-{:02}-r{:.0}mm", k + 1, 1e3 * station.radius_m);
            let read = |unit: &str| std::fs::read_to_string(at.join(format!("{stem}-{unit}.txt"))).unwrap();
            let (metres, chord) = (read("metres"), read("chord"));
            let found = points(&metres);
            assert_eq!(found.first(), found.last(), "{stem} is not closed");
            assert_eq!(found.len(), outline.len() + 1);
            let most = outline.x.iter().copied().fold(f64::MIN, f64::max);
            assert!((found[0][0] - most).abs() < 1e-9, "{stem} does not begin at the tail");
            // Over the back first: its nose comes before half of the way on no section with a camber.
            let quarter = found[found.len() / 4];
            let last_quarter = found[3 * found.len() / 4];
            assert!(last_quarter[1] < quarter[1], "{stem} runs the wrong way");
            // The same points in the same direction, from another start.
            let own: Vec<[f64; 2]> = outline.points().collect();
            let near = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-12;
            let same =
                |start: usize| found.iter().enumerate().all(|(i, p)| near(*p, own[(start + i) % own.len()]));
            assert!((0..own.len()).any(same), "{stem}");
            let scale = station.chord_m.unwrap();
            for (a, b) in points(&chord).iter().zip(&found) {
                assert!((a[0] * scale - b[0]).abs() < 1e-10 && (a[1] * scale - b[1]).abs() < 1e-10);
            }
            assert!(metres.contains("unit: metres") && chord.contains("unit: fractions of the chord"));
            checked += 1;
        }
    }
    assert!(6 < checked, "{checked} outlines");
    // A lone blade measured into the same folder leaves no rows of the propeller.
    write(
        "b.ply",
        &scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 20_000, ..ScanPlan::usual(5) }).mesh,
    );
    done(at, "measure b.ply --length 1300mm --at 0.5,0.75 --no-record --overwrite --out r");
    assert!(names(&at.join("r")).iter().all(|n| !n.starts_with("blade-")), "{:?}", names(&at.join("r")));
}

#[test]
fn schedules_are_rows_and_go_with_their_prediction() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("t.json"), HAND_TABLE).unwrap();
    let line = "predict t.json --blades 2 --rpm 2400 --speed 25m/s --surface smooth --setting 14:22:4@0.75 --polar-cache cache --no-record --no-free-wake --out p";
    done(at, &format!("{line} --power 3kW"));
    let read = |name: &str| std::fs::read_to_string(at.join("p").join(name)).unwrap();
    let prediction = read_prediction_json(read("prediction.json").as_bytes()).unwrap();
    let all: usize = prediction.schedules.iter().map(|s| s.points.len()).sum();
    let csv = read("schedules.csv");
    assert!(0 < all && csv.lines().count() == all + 1, "{csv}");
    assert!(csv.lines().nth(1).unwrap().starts_with("constant_speed,"), "{csv}");
    let description = read("schedules.csv-metadata.json");
    assert!(
        description.contains("\"url\": \"schedules.csv\"") && description.contains("1/min"),
        "{description}"
    );
    done(at, line);
    assert!(
        names(&at.join("p")).iter().all(|n| !n.starts_with("schedules")),
        "schedules of another prediction are left"
    );
}

#[test]
fn a_comparison_of_other_tables_is_not_replaced_without_being_asked() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("a.json"), HAND_TABLE).unwrap();
    std::fs::write(at.join("b.json"), HAND_TABLE.replace("0.060", "0.061")).unwrap();
    std::fs::write(at.join("c.json"), HAND_TABLE.replace("0.060", "0.062")).unwrap();
    let read = |name: &str| std::fs::read(at.join(name)).unwrap();
    done(at, "compare a.json b.json --out c");
    // The same tables, with a tolerance: replaced.
    done(at, "compare a.json b.json --tolerance chord=1mm --out c");
    let before = read("c/comparison.csv");
    let refused = |line: &str, needed: &str| {
        let run = run_in(at, &line.split(' ').collect::<Vec<_>>());
        let told = text(&run.stderr);
        assert_eq!(run.status.code(), Some(1), "{line}: {told}");
        assert!(told.contains(needed) && told.contains("--overwrite"), "{line}: {told}");
    };
    refused("compare a.json c.json --out c", "compares other tables, a.json and b.json");
    refused("compare b.json a.json --out c", "compares other tables");
    assert!(read("c/comparison.csv") == before);
    done(at, "compare a.json c.json --overwrite --out c");
    assert!(read("c/comparison.csv") != before);
    // Without its description a comparison does not say of which tables it is; nor must a page alone be lost.
    std::fs::remove_file(at.join("c/comparison.csv-metadata.json")).unwrap();
    refused("compare a.json c.json --out c", "does not say which tables it compares");
    std::fs::remove_file(at.join("c/comparison.csv")).unwrap();
    refused("compare a.json b.json --out c", "is the page of other tables");
    done(at, "compare a.json b.json --no-record --out c");
}
