//! `--units`, and units as they were typed: on the terminal, on the page, on templates; CSV and JSON stay in SI.

use std::path::Path;

use crate::tool::{HAND_TABLE, run_in, text};

/// Columns of a terminal.
const TERMINAL_WIDTH: usize = 100;

/// Figures with a unit of SI that must not be shown beside inches. Rotation, angles, temperatures, pressures and densities have one form.
const METRIC: [&str; 14] =
    [" mm", " cm", " m", " m/s", " N", " N m", " kW", " W", " kg", " mm2", " cm2", " cm3", " m3", " kg m2"];

/// The figures of a text that are followed by a unit of SI.
fn metric_figures(shown: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in shown.lines() {
        for unit in METRIC {
            for (at, _) in line.match_indices(unit) {
                let before = line[..at].chars().next_back().is_some_and(|c| c.is_ascii_digit());
                let after = line[at + unit.len()..].chars().next();
                let ends = after.is_none_or(|c| !c.is_alphanumeric() && c != '/');
                if before && ends {
                    found.push(line.to_owned());
                }
            }
        }
    }
    found
}

fn runs(folder: &Path, line: &str) -> String {
    let made = run_in(folder, &line.split(' ').collect::<Vec<_>>());
    let all = text(&made.stdout) + &text(&made.stderr);
    assert!(made.status.success(), "{line}: {all}");
    let widest = all.lines().map(|l| l.chars().count()).max().unwrap_or(0);
    assert!(widest <= TERMINAL_WIDTH, "{line}: a line of {widest} columns\n{all}");
    all
}

/// The cells of a column of the text table, by its heading; the second line has the units.
fn column(shown: &str, name: &str) -> (String, Vec<f64>) {
    let lines: Vec<&str> = shown.lines().collect();
    let head = lines.iter().position(|l| l.split("  ").any(|c| c.trim() == name)).expect(name);
    let end = lines[head][..lines[head].find(name).unwrap() + name.len()].chars().count();
    let cell = |line: &str| {
        let until: String = line.chars().take(end).collect();
        until.split_whitespace().next_back().unwrap_or_default().to_owned()
    };
    let rows = lines[head + 2..].iter().take_while(|l| !l.is_empty());
    (cell(lines[head + 1]), rows.map(|l| cell(l).parse().expect(l)).collect())
}

#[test]
fn the_demo_in_inches_is_the_demo_in_millimetres() {
    let folder = tempfile::tempdir().unwrap();
    let [mm, inch] =
        ["mm", "in"].map(|units| runs(folder.path(), &format!("demo --units {units} --out {units}")));
    assert_eq!(metric_figures(&inch), Vec::<String>::new());
    assert!(!metric_figures(&mm).is_empty());
    for (name, units) in [("r", ["mm", "in"]), ("chord", ["mm", "in"])] {
        let ((si, si_values), (own, values)) = (column(&mm, name), column(&inch, name));
        assert_eq!([si.as_str(), own.as_str()], units, "{name}");
        assert_eq!(values.len(), si_values.len());
        for (value, si) in values.iter().zip(si_values) {
            // Both are rounded: half a last digit of each.
            assert!((value * 25.4 - si).abs() <= 0.05 + 0.0005 * 25.4 + 1e-9, "{name}: {value} in, {si}");
        }
    }
    assert!(inch.contains("Measured minus true") && inch.contains("chord [in]"), "{inch}");
    // Documents for programs are the same.
    for name in ["stations.json", "stations.csv"] {
        let read = |units: &str| std::fs::read(folder.path().join(units).join(name)).unwrap();
        assert!(read("mm") == read("in"), "{name} differs");
    }
    let page = |units: &str| std::fs::read_to_string(folder.path().join(units).join("record.html")).unwrap();
    assert!(page("in").contains("<option>mm</option><option selected>in</option>"));
    assert!(page("mm").contains("<option selected>mm</option><option>in</option>"));
    // Charts begin in the unit of the switch.
    assert!(page("in").contains("<figure data-in=\"in\" class=\"chart\""));
    assert!(page("in").contains("<figure data-in=\"mm\" hidden class=\"chart\""));
}

#[test]
fn a_table_in_inches_reads_back_by_eye() {
    let folder = tempfile::tempdir().unwrap();
    // Chords of 2 in and 3 in at radii of 10 in and 15 in: 25.4 mm is 1.000 in (NIST SP 811, 2008, appendix B.8).
    std::fs::write(
        folder.path().join("a.csv"),
        "radius_m,radius_ratio,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n\
         0.254,0.5,0.0508,30,0.1,0.02\n0.381,0.75,0.0762,20,0.1,0.02\n0.4572,0.9,0.0254,15,0.1,0.02\n",
    )
    .unwrap();
    let b = std::fs::read_to_string(folder.path().join("a.csv")).unwrap().replace("0.0762", "0.07366");
    std::fs::write(folder.path().join("b.csv"), b).unwrap();
    let told = runs(folder.path(), "compare a.csv b.csv --units in --out c");
    for line in ["10.000  0.500  2.000", "15.000  0.750  3.000   2.900       0.100", "18.000  0.900  1.000"] {
        assert!(told.contains(line), "{line}\n{told}");
    }
    assert_eq!(metric_figures(&told), Vec::<String>::new());
    assert!(runs(folder.path(), "compare a.csv b.csv --out c").contains("254.0  0.500   50.8"));
    let csv = std::fs::read_to_string(folder.path().join("c/comparison.csv")).unwrap();
    assert!(csv.contains("0.0762") && !csv.contains("3.000"), "{csv}");
}

#[test]
fn a_prediction_is_shown_in_the_units_that_were_typed() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    let line = "predict t.json --blades 2 --rpm 2400 --surface smooth --setting 18:20:2@0.75 --no-free-wake --polar-cache cache";
    let si = runs(folder.path(), &format!("{line} --speed 25m/s --power 5kW"));
    let inch = runs(folder.path(), &format!("{line} --speed 25m/s --power 5kW --units in"));
    assert_eq!(metric_figures(&inch), Vec::<String>::new());
    for (name, unit, size) in [("thrust", "lbf", 4.448_222), ("power", "hp", 0.745_699_9)] {
        let ((_, si), (own, values)) = (column(&si, name), column(&inch, name));
        // The column of a unit with a blank is found by its end.
        assert_eq!(own, unit);
        for (value, si) in values.iter().zip(si) {
            assert!((value * size - si).abs() < 0.006 * si.abs().max(1.0), "{name}: {value} {unit}, {si}");
        }
    }
    assert!(inch.contains("lbf ft") && inch.contains("diameter 39.370 in"), "{inch}");
    assert!(inch.contains("at 55.92 mph") && inch.contains("speed of sound 1116.5 ft/s"), "{inch}");
    let typed = runs(folder.path(), &format!("{line} --speed 55.92mph --power 6.7hp --altitude 0m"));
    assert!(
        typed.contains("at 55.92 mph") && typed.contains(" lbf") && typed.contains("diameter 1000.0 mm"),
        "{typed}"
    );
    let page = std::fs::read_to_string(folder.path().join("record.html")).unwrap();
    assert!(page.contains("[lbf]") && page.contains("data-k=\"power\""));
    let csv = std::fs::read_to_string(folder.path().join("prediction.csv")).unwrap();
    assert!(csv.contains("thrust_n") && !csv.contains("lbf"));
}

#[test]
fn a_solid_and_its_templates_are_told_in_inches() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    let line = "solid t.json --blades 2 --setting 20deg@0.75 --density 680kg/m3 -o p.stl --tolerance 0.5mm --templates s";
    let told = runs(folder.path(), &format!("{line} --hub-diameter 5in"));
    assert_eq!(metric_figures(&told), Vec::<String>::new());
    assert!(
        told.contains("a hub of 5.000 in diameter") && told.contains(" lb;") && told.contains(" in3 by"),
        "{told}"
    );
    assert!(told.contains(" lb ft2"), "{told}");
    let sheet = |name: &str| std::fs::read_to_string(folder.path().join("s").join(name)).unwrap();
    for name in ["section-01-r150mm.svg", "section-01-r150mm.dxf"] {
        let sheet = sheet(name);
        assert!(sheet.contains("radius 5.906 in (0.300 R)") && sheet.contains("chord 2.362 in"), "{sheet}");
        assert!(sheet.contains("this ruler must measure 4 in on the print"));
        assert_eq!(metric_figures(&sheet), Vec::<String>::new());
    }
    runs(folder.path(), &format!("{line} --hub-diameter 127mm"));
    assert!(sheet("section-01-r150mm.svg").contains("radius 150.0 mm (0.300 R)"));
}
