//! The compare command as a user runs it.

use std::process::{Command, Output};

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_bladeform")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_worn_blade_is_compared_with_its_drawing() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, content: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, content).unwrap();
        path.to_string_lossy().into_owned()
    };
    let worn = file(
        "worn.csv",
        "radius_m,radius_ratio,chord_m,u_chord_m,blade_angle_deg,u_blade_angle_deg,thickness_ratio,camber_ratio\n\
         0.4,0.4,0.150,0.0002,30,0.05,0.15,0.03\n0.7,0.7,0.139,0.0002,20,0.05,0.12,0.03\n0.9,0.9,0.117,0.0002,15,0.05,0.10,0.03\n",
    );
    let drawing = file(
        "drawing.csv",
        "radius_m,radius_ratio,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n\
         0.4,0.4,0.150,30,0.15,0.03\n0.9,0.9,0.120,15,0.10,0.03\n",
    );
    let out = folder.path().join("out").to_string_lossy().into_owned();
    let made = run(&["compare", &worn, &drawing, "--tolerance", "chord=2mm", "--out", &out]);
    assert!(made.status.success(), "{}", text(&made.stderr));
    let shown = text(&made.stdout);
    for needed in ["as twist", "beyond the tolerance", "-3.0", "*!", "airworthy"] {
        assert!(shown.contains(needed), "{needed} is missing in\n{shown}");
    }
    let csv = std::fs::read_to_string(folder.path().join("out/comparison.csv")).unwrap();
    assert!(
        csv.lines().any(|l| l.starts_with("0.9,0.9,chord_m,0.117,0.12,-0.003,0.0002,yes,yes,no")),
        "{csv}"
    );

    let page = std::fs::read_to_string(folder.path().join("out/comparison.html")).unwrap();
    for needed in ["worn.csv", "Twist of the blade angle", "beyond 2 u; beyond the tolerance", "airworthy"] {
        assert!(page.contains(needed), "{needed} is missing on the page");
    }
    let bare = folder.path().join("bare").to_string_lossy().into_owned();
    assert!(run(&["compare", &worn, &drawing, "--no-record", "--out", &bare]).status.success());
    assert_eq!(
        crate::tool::names(std::path::Path::new(&bare)),
        ["comparison.csv", "comparison.csv-metadata.json"]
    );

    for (tolerance, needed) in
        [("speed=2mm", "is not a known figure"), ("chord=2", "unit"), ("chord=-1mm", "cannot be negative")]
    {
        let refused = run(&["compare", &worn, &drawing, "--tolerance", tolerance]);
        assert_eq!(refused.status.code(), Some(2), "{tolerance}");
        assert!(text(&refused.stderr).contains(needed), "{tolerance}: {}", text(&refused.stderr));
    }
    assert_eq!(run(&["compare", &worn, "missing.csv"]).status.code(), Some(1));
}

#[test]
fn missing_and_interpolated_comparisons_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, rows: &str| {
        let path = folder.path().join(name);
        let heads = "radius_m,radius_ratio,chord_m,blade_angle_deg,thickness_ratio,camber_ratio,colour\n";
        std::fs::write(&path, heads.to_owned() + rows).unwrap();
        path.to_string_lossy().into_owned()
    };
    let worn = file(
        "worn.csv",
        "0.4,0.4,0.150,30,0.15,0.03,red\n0.7,0.7,0.139,20,0.12,0.03,red\n0.9,0.9,0.117,15,0.10,0.03,red\n",
    );
    // No thickness at 0.7 R, a row beyond the last one of the first table, and angles only beyond the reference radius.
    let drawing = file(
        "drawing.csv",
        "0.4,0.4,0.150,,0.15,0.03,\n0.7,0.7,0.139,,,0.03,\n0.9,0.9,0.120,15,0.10,0.03,\n0.95,0.95,0.1,14,0.09,0.03,\n",
    );
    let out = folder.path().join("out").to_string_lossy().into_owned();
    let made =
        run(&["compare", &worn, &drawing, "--tolerance", "angle=0.5deg", "--no-record", "--out", &out]);
    assert!(made.status.success(), "{}", text(&made.stderr));
    let csv = std::fs::read_to_string(folder.path().join("out/comparison.csv")).unwrap();
    let row = |key: &str| csv.lines().find(|l| l.starts_with("0.7,0.7,") && l.contains(key)).unwrap();
    assert!(row("thickness_ratio").ends_with(",yes,,") && row("chord_m").ends_with(",no,,"), "{csv}");
    let shown = text(&made.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
    for needed in [
        "drawing.csv without a counterpart was not compared: 950.0 mm",
        "drawing.csv has no angle at 750.0 mm",
        "the tolerance for blade angle was not used",
        "were ignored: colour",
    ] {
        assert!(shown.contains(needed), "{needed} is missing in\n{shown}");
    }
}
