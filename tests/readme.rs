//! The worked example of the README, word for word, on a small scan of the demo's blade.

use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::tool::{run_in, text};

/// The lines of the README that call the command, without its install lines.
fn example() -> Vec<String> {
    let readme = concat!(env!("CARGO_MANIFEST_DIR"), "/../../README.md");
    let readme = std::fs::read_to_string(readme).unwrap();
    // The bench waits for a window; tests/bench.rs opens one.
    let lines: Vec<String> = readme
        .lines()
        .filter_map(|line| line.strip_prefix("bladeform "))
        .filter(|line| !line.starts_with("bench "))
        .map(ToOwned::to_owned)
        .collect();
    assert!(3 < lines.len(), "the README has lost its example: {lines:?}");
    lines
}

/// The words of a line, with `"..."` as one word.
fn words(line: &str) -> Vec<String> {
    let quoted = line.split('"').enumerate().flat_map(|(i, part)| match i % 2 {
        0 => part.split_whitespace().map(ToOwned::to_owned).collect::<Vec<_>>(),
        _ => vec![part.to_owned()],
    });
    quoted.collect()
}

#[test]
fn the_example_of_the_readme_runs_as_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::create_dir(at.join("bladeform-demo")).unwrap();
    let plan = ScanPlan { triangles: 20_000, ..ScanPlan::usual(4) };
    let mut scan = Vec::new();
    bladeform_mesh::write_ply_binary(&scan_of_blade(&Blade::quarry_mill(), &plan).mesh, &mut scan).unwrap();
    std::fs::write(at.join("bladeform-demo/quarry-mill-4.ply"), scan).unwrap();
    for line in example() {
        // Three settings of the 36, and one surface of two: what is tested is that the line is understood and its files fit together.
        let line = line.replace("--setting 5:40:1", "--setting 15:25:5 --surface smooth");
        let words = words(&line);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let run = run_in(at, &words);
        assert!(run.status.success(), "{line}: {}", text(&run.stderr));
    }
    for made in
        ["stations.json", "stations.csv", "record.html", "prediction.json", "prediction.csv", "propeller.stl"]
    {
        assert!(at.join("mill").join(made).is_file(), "{made} was not written");
    }
    let page = std::fs::read_to_string(at.join("mill/record.html")).unwrap();
    assert!(page.contains("<h1>Quarry Mill No. 4</h1>") && page.contains("id=\"performance-0\""));
}
