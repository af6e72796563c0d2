//! Exit statuses and messages: 2 for a wrong command line, 1 for an unusable input, one message for each.

use std::path::Path;

use crate::tool::{HAND_TABLE, names, run_in, scan, shell_in, text};

/// What the message for a wrong command line must contain.
fn assert_wrong_usage(folder: &Path, arguments: &[&str], needed: &[&str]) {
    let run = run_in(folder, arguments);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(2), "{arguments:?}: {said}");
    for needed in needed {
        assert!(said.contains(needed), "{needed} is missing for {arguments:?} in: {said}");
    }
    assert!(!said.contains("tip:"), "{arguments:?}: {said}");
}

fn assert_unusable(folder: &Path, arguments: &[&str], needed: &[&str]) {
    let run = run_in(folder, arguments);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(1), "{arguments:?}: {said}");
    assert!(said.starts_with("bladeform: ") && said.lines().count() == 1, "{arguments:?}: {said}");
    for needed in needed {
        assert!(said.contains(needed), "{needed} is missing for {arguments:?} in: {said}");
    }
}

#[test]
fn values_out_of_range_are_usage_errors_that_name_option_value_and_range() {
    let folder = tempfile::tempdir().unwrap();
    // No file is read: only the command line is wrong.
    let predict =
        ["predict", "t.json", "--blades", "2", "--rpm", "1750", "--speed", "54m/s", "--setting", "17deg"];
    for (option, value, range) in [
        ("--rpm", "0", "above 0"),
        ("--rpm", "-1750", "above 0"),
        ("--rpm", "nan", "number"),
        ("--altitude", "99km", "unit"),
        ("--setting", "200deg", "-90deg to 90deg"),
        ("--setting", "0:95:5", "-90deg to 90deg"),
        ("--diameter", "-2m", "above 0m"),
        ("--diameter", "0m", "above 0m"),
        ("--power", "-240hp", "above 0W"),
        ("--slipstream", "-1", "from 0 to 100"),
        ("--slipstream", "0.5,101", "from 0 to 100"),
        ("--warmer", "inf", "number"),
        ("--spinner", "0mm", "above 0m"),
        ("--blunt-hub", "-1mm", "above 0m"),
        ("--shank-diameter", "0mm", "above 0m"),
        ("--body", "0m", "above 0m"),
        ("--body-length", "-1m", "above 0m"),
        ("--body-gap", "-1mm", "from 0m"),
        ("--body-drag", "2", "from 0 to 1.5"),
        ("--stream-factor", "0.1", "from 0.3 to 1.5"),
        ("--threads", "0", "1..=64"),
        ("--units", "feet", "mm, in"),
    ] {
        let mut arguments = predict.to_vec();
        match arguments.iter().position(|a| *a == option) {
            Some(at) => arguments[at + 1] = value,
            None => arguments.extend([option, value]),
        }
        let shown = value.rsplit(',').next().unwrap();
        assert_wrong_usage(folder.path(), &arguments, &[option, shown, range]);
    }
    // A range error from the library is also reported as a fault of the option.
    for (option, value, range) in [
        ("--altitude", "99000m", "-5000 m to 20000 m"),
        ("--altitude", "-6000m", "-5000 m to 20000 m"),
        ("--warmer", "200", "-80 K and 80 K"),
        ("--warmer", "-200", "-80 K and 80 K"),
    ] {
        assert_wrong_usage(folder.path(), &[&predict[..], &[option, value]].concat(), &[option, range]);
    }
    let fast = ["predict", "t.json", "--blades", "2", "--rpm", "1750", "--setting", "17deg", "--speed"];
    assert_wrong_usage(folder.path(), &[&fast[..], &["400m/s"]].concat(), &["--speed", "speed of sound"]);
    assert_wrong_usage(
        folder.path(),
        &[&fast[..], &["-54m/s"]].concat(),
        &["--speed", "at least 0 and below the speed of sound"],
    );

    for (class, range) in [("IV", "S, I, II or III"), ("pitch=1%", "radius-pitch"), ("chord=-1%", "negative")]
    {
        let compare = ["compare", "t.json", "--class", class];
        assert_wrong_usage(folder.path(), &compare, &["--tolerance-class", class, range]);
    }
    let solid = ["solid", "t.json", "-o", "p.stl"];
    for (option, value, range) in [
        ("--tolerance", "0mm", "0.001mm to 5mm"),
        ("--tolerance", "-1mm", "0.001mm to 5mm"),
        ("--setting", "200deg@0.75", "-90deg to 90deg"),
        ("--diameter", "-1m", "above 0m"),
        ("--hub-diameter", "-140mm", "above 0m"),
        ("--hub-length", "0mm", "above 0m"),
        ("--nose-length", "-1mm", "from 0m"),
        ("--bore", "-1mm", "from 0m"),
        ("--bolts", "8x10mm", "COUNTxHOLE@CIRCLE"),
        ("--bolts", "50x10mm@114mm", "2 to 36 holes"),
        ("--shank-diameter", "-1mm", "above 0m"),
        ("--blades", "0", "1..=16"),
    ] {
        assert_wrong_usage(folder.path(), &[&solid[..], &[option, value]].concat(), &[option, value, range]);
    }

    let measure = ["measure", "scan.stl"];
    for (option, value, range) in [
        ("--length", "-1300mm", "above 0m"),
        ("--length", "0mm", "above 0m"),
        ("--length", "1300km", "unit"),
        ("--diameter", "-2.8m", "above 0m"),
        ("--length-uncertainty", "-1mm", "above 0m"),
        ("--root-radius", "-1mm", "from 0m"),
        ("--setting", "95deg", "-90deg to 90deg"),
        ("--setting", "-95deg@0.75", "-90deg to 90deg"),
        ("--at", "-0.5", "above 0"),
        ("--stations", "2", "from 3"),
        ("--reading", "thickness=24@0.6", "unit"),
        ("--reading", "girth=24mm@0.6", "longest-chord"),
    ] {
        assert_wrong_usage(
            folder.path(),
            &[&measure[..], &[option, value]].concat(),
            &[option, value, range],
        );
    }
    assert_wrong_usage(
        folder.path(),
        &["compare", "a.csv", "b.csv", "--diameter", "-1m"],
        &["--diameter", "-1m"],
    );
    assert!(names(folder.path()).is_empty());
}

#[test]
fn incompatible_options_are_usage_errors() {
    let folder = tempfile::tempdir().unwrap();
    for (arguments, needed) in [
        (
            &["measure", "s.stl", "--length", "1.3m", "--length-uncertainty", "10m"][..],
            &["10m", "below", "1.3m"][..],
        ),
        (
            &["measure", "s.stl", "--length-uncertainty", "1mm"],
            &["has no effect without --length or --diameter"],
        ),
        (&["measure", "s.stl", "--setting-of", "face"], &["--setting-of", "has no effect without --setting"]),
        (&["measure", "s.stl", "--setting", "17deg@tip"], &["tip"]),
        (
            &["solid", "t.json", "-o", "p.stl", "--setting-of", "face"],
            &["--setting-of", "has no effect without --setting"],
        ),
        (&["measure", "s.stl", "--quiet", "--verbose"], &["--quiet", "--verbose"]),
    ] {
        assert_wrong_usage(folder.path(), arguments, needed);
    }
}

#[test]
fn a_setting_at_a_radius_without_section_stops_the_measurement() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 60_000);
    let known =
        ["measure", "blade.stl", "--length", "1300mm", "--diameter", "2.84m", "--no-record", "--out", "out"];
    let asked = [&known[..], &["--setting", "17deg@0.05"]].concat();
    assert_unusable(folder.path(), &asked, &["--setting 17deg@0.05", "could not be measured", "0.085 R"]);
    assert_eq!(names(folder.path()), ["blade.stl"]);
}

#[test]
#[cfg(target_os = "linux")]
fn unreadable_files_give_a_message() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("empty"), "").unwrap();
    std::fs::write(at.join("plain"), "x").unwrap();
    std::fs::create_dir(at.join("folder")).unwrap();
    for (path, needed) in [
        ("missing", "cannot be read"),
        ("empty", "is empty"),
        ("folder", "is a folder"),
        ("plain/within", "cannot be read"),
        // Read access is granted, but reading fails.
        ("/proc/self/mem", "cannot be read"),
        ("/dev/zero", "device"),
    ] {
        for command in [
            &["measure", path, "--out", "out"][..],
            &["predict", path, "--blades", "2", "--rpm", "1750", "--speed", "54m/s", "--out", "out"],
            &["solid", path, "-o", "out/p.stl"],
            &["compare", path, path, "--out", "out"],
            &["record", path, "-o", "out/p.html"],
        ] {
            assert_unusable(at, command, &[path, needed]);
        }
    }
    assert_eq!(names(at), ["empty", "folder", "plain"]);
}

#[test]
fn a_scan_may_come_through_a_pipe() {
    let folder = tempfile::tempdir().unwrap();
    scan(folder.path(), "blade.stl", 60_000);
    let options = "--length 1300mm --diameter 2.84m --no-record";
    let through = shell_in(
        folder.path(),
        &format!(
            "mkfifo pipe && cat blade.stl > pipe & sleep 0.2; \"$0\" measure pipe {options} --out piped"
        ),
    );
    assert!(through.status.success(), "{}", text(&through.stderr));
    assert!(
        shell_in(folder.path(), &format!("\"$0\" measure blade.stl {options} --out plain")).status.success()
    );
    let csv = |name: &str| std::fs::read(folder.path().join(name).join("stations.csv")).unwrap();
    assert!(csv("piped") == csv("plain"));
}

#[test]
fn a_pipe_in_place_of_the_scan_next_to_a_table_does_not_block() {
    let folder = tempfile::tempdir().unwrap();
    let table = HAND_TABLE.replacen('{', "{\"source\": {\"file\": \"pipe\"}, ", 1);
    std::fs::write(folder.path().join("t.json"), table).unwrap();
    let run = shell_in(folder.path(), "mkfifo pipe; timeout 60 \"$0\" record t.json -o p.html");
    assert!(run.status.success(), "{}", text(&run.stderr));
    assert!(text(&run.stdout).contains("is not in the folder of the table"), "{}", text(&run.stdout));
}

#[test]
#[cfg(target_os = "linux")]
fn a_full_standard_output_is_reported_and_a_closed_one_is_not_a_failure() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("t.json"), HAND_TABLE).unwrap();
    for command in ["compare t.json t.json", "completions bash", "--help", "help measure", "--version"] {
        let full = shell_in(folder.path(), &format!("\"$0\" {command} > /dev/full"));
        let said = text(&full.stderr);
        assert_eq!(full.status.code(), Some(1), "{command}: {said}");
        assert!(said.contains("standard output") && said.lines().count() == 1, "{command}: {said}");
        // The reader has closed before anything is written. The status of the command itself is kept in a file.
        let line = format!("{{ sleep 0.3; \"$0\" {command}; echo $? > status; }} | true");
        let closed = shell_in(folder.path(), &line);
        assert_eq!(text(&closed.stderr), "", "{command}");
        let status = std::fs::read_to_string(folder.path().join("status")).unwrap();
        assert_eq!(status.trim(), "0", "{command}");
    }
    // Standard error is closed as well: only the exit status reports the error.
    assert_eq!(shell_in(folder.path(), "\"$0\" measure missing 2>/dev/full").status.code(), Some(1));
    assert_eq!(shell_in(folder.path(), "\"$0\" measure missing 2>&-").status.code(), Some(1));
    assert_eq!(shell_in(folder.path(), "\"$0\" measure --nonsense 2>/dev/full").status.code(), Some(2));
}

#[test]
fn radius_ratios_are_sufficient_if_the_diameter_is_given() {
    let folder = tempfile::tempdir().unwrap();
    let rest = "chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n";
    let rows = [(0.3, 0.06), (0.6, 0.066), (0.9, 0.048)];
    let table = |heading: &str, factor: f64| {
        let rows = rows.map(|(r, c)| format!("{},{c},{},0.1,0.03\n", factor * r, 40.0 - 25.0 * r));
        format!("{heading},{rest}{}", rows.concat())
    };
    std::fs::write(folder.path().join("ratios.csv"), table("radius_ratio", 1.0)).unwrap();
    std::fs::write(folder.path().join("radii.csv"), table("radius_m", 0.5)).unwrap();
    let compare = ["compare", "ratios.csv", "radii.csv", "--out", "out"];
    assert_unusable(folder.path(), &compare, &["ratios.csv", "radius_m", "diameter"]);
    let run = run_in(folder.path(), &[&compare[..], &["--diameter", "1m"]].concat());
    assert!(run.status.success(), "{}", text(&run.stderr));
    let csv = std::fs::read_to_string(folder.path().join("out/comparison.csv")).unwrap();
    assert!(csv.lines().any(|l| l.starts_with("0.3,0.6,chord_m,0.066,0.066,0")), "{csv}");
    let help = text(&run_in(folder.path(), &["compare", "--help"]).stdout);
    for heading in
        ["radius_m", "radius_ratio", "chord_m", "blade_angle_deg", "thickness_ratio", "camber_ratio"]
    {
        assert!(help.contains(heading), "{heading} is missing in\n{help}");
    }
}

#[test]
fn the_table_in_the_guide_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let guide = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/command.md");
    let guide = std::fs::read_to_string(guide).unwrap();
    let table = guide.split("```csv\n").nth(1).unwrap().split("```").next().unwrap();
    std::fs::write(folder.path().join("drawing.csv"), table).unwrap();
    let run = run_in(folder.path(), &["compare", "drawing.csv", "drawing.csv"]);
    assert!(run.status.success(), "{}", text(&run.stderr));
}
