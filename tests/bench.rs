//! The bench as a user sees it: a real browser on the page that the command serves, and the same figures as the command's.

use std::path::Path;
use std::process::Command;

use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::tool::{BLADEFORM, run_in, shell_in, tell, text};

/// Exit status of a script when a program it needs is missing.
const MISSING: i32 = 3;

/// The output of a script of `tests/browser`. If a program is missing it is skipped with a visible message; in the checks of the project nothing may be missing.
fn node(script: &str, arguments: &[&str]) -> Option<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/browser").join(script);
    let missing = if path.exists() {
        match Command::new("node").arg(&path).args(arguments).output() {
            Ok(run) if run.status.success() => return Some(text(&run.stdout)),
            Ok(run) if run.status.code() == Some(MISSING) => text(&run.stderr),
            Ok(run) => panic!("{}{}", text(&run.stdout), text(&run.stderr)),
            Err(e) => format!("node cannot be started: {e}"),
        }
    } else {
        format!("missing: {script}; run npm ci --prefix tests/browser")
    };
    tell(&format!("\nSKIPPED: the bench was not tested with {script}. {missing}"));
    assert!(
        std::env::var("BLADEFORM_CI").as_deref() != Ok("1"),
        "this test may not be skipped here: {missing}"
    );
    None
}

#[test]
fn the_bench_leads_from_a_dropped_scan_to_the_commands_own_record() {
    let at = tempfile::tempdir().unwrap();
    let made = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 60_000, ..ScanPlan::usual(21) });
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&made.mesh, &mut bytes).unwrap();
    let path = |name: &str| at.path().join(name).to_str().unwrap().to_owned();
    std::fs::write(path("from.ply"), &bytes).unwrap();
    let Some(facts) = node("bench.cjs", &[BLADEFORM, &path("job"), &path("from.ply"), &path("")]) else {
        return;
    };
    let facts: serde_json::Value = serde_json::from_str(&facts).unwrap();

    // What the page calls the same command is: into another folder it writes the same bytes.
    let line = facts["line"].as_str().unwrap();
    let line =
        line.strip_prefix("bladeform ").unwrap().replace(&format!("--out {}", path("job")), "--out again");
    let run = shell_in(at.path(), &format!("\"$0\" {line}"));
    assert!(run.status.success(), "{line}: {}", text(&run.stderr));
    for file in ["stations.json", "stations.csv", "stations.csv-metadata.json", "record.html"] {
        let of = |folder: &str| std::fs::read(at.path().join(folder).join(file)).unwrap();
        assert!(of("job") == of("again"), "{file} of the bench is not that of the command");
    }
    // The table on the page has the figures of the record.
    let page = std::fs::read_to_string(path("again/record.html")).unwrap();
    let rows = page.split("id=\"stations-table\"").nth(1).unwrap().split("<tbody>").nth(1).unwrap();
    let rows = rows.split("</tbody>").next().unwrap();
    let cells: Vec<String> = rows.split("<td").skip(1).map(|cell| words_of(&format!("<td{cell}"))).collect();
    let shown: Vec<&str> = facts["table"].as_array().unwrap().iter().map(|v| v.as_str().unwrap()).collect();
    assert_eq!(cells, shown);
    // The quick fit at 0.70 R lies near the truth of the invented blade: 2 mm of 197 mm.
    let chord_mm = facts["live_chord_mm"].as_f64().unwrap();
    let truth_mm = 1e3 * Blade::quarry_mill().truth(0.7).chord_m;
    assert!((chord_mm - truth_mm).abs() < 2.0, "{chord_mm} mm for {truth_mm} mm");

    // The command line goes on with the folder.
    let compared =
        run_in(at.path(), &["compare", "job/stations.json", "again/stations.json", "--out", "job"]);
    assert!(compared.status.success(), "{}", text(&compared.stderr));
}

/// The text of a piece of a page.
fn words_of(html: &str) -> String {
    let mut out = String::new();
    let mut is_tag = false;
    for c in html.chars() {
        match c {
            '<' => is_tag = true,
            '>' => is_tag = false,
            c if !is_tag => out.push(c),
            _ => {}
        }
    }
    out.replace("&amp;", "&")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
}

#[test]
fn the_types_of_the_scripts_are_sound() {
    let project = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/browser/tsconfig.json");
    node("node_modules/typescript/bin/tsc", &["-p", project.to_str().unwrap()]);
}

#[test]
fn a_folder_that_is_no_job_is_refused_in_one_sentence() {
    let at = tempfile::tempdir().unwrap();
    std::fs::write(at.path().join("job.json"), "{}").unwrap();
    let refused = run_in(at.path(), &["bench", ".", "--no-browser"]);
    assert_eq!(refused.status.code(), Some(1));
    let told = text(&refused.stderr);
    assert!(
        told.contains("job.json") && told.contains("move this file away") && told.lines().count() == 1,
        "{told}"
    );
    let refused = run_in(at.path(), &["bench", "job.json", "--no-browser"]);
    assert_eq!(refused.status.code(), Some(1), "a file in the place of the folder");
    for (option, value, range) in
        [("--port", "0", "1.."), ("--port", "99999", "65535"), ("--largest", "0", "1..=65536")]
    {
        let refused = run_in(at.path(), &["bench", option, value]);
        assert_eq!(refused.status.code(), Some(2), "{option} {value}");
        assert!(text(&refused.stderr).contains(range), "{option} {value}: {}", text(&refused.stderr));
    }
}
