//! The rooms of the house: which crate may use which. A new line here is a decision about the architecture.

use std::path::Path;

const MAY_USE: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("mesh", &["quantity"]),
    ("section", &["quantity"]),
    ("table", &["quantity"]),
    ("measure", &["quantity", "mesh", "section", "table"]),
    ("polar", &[]),
    ("flow", &["quantity", "section", "table", "polar"]),
    ("solid", &["quantity", "mesh", "section", "table"]),
    ("record", &["quantity", "mesh", "section", "table"]),
    ("specimen", &["quantity", "mesh", "section", "table"]),
    ("bladeform", &["quantity", "mesh", "section", "table", "measure", "polar", "flow", "solid", "record"]),
    ("cli", &["bladeform", "quantity", "specimen"]),
    ("study", &["bladeform", "quantity", "mesh", "section", "table", "measure", "flow", "specimen"]),
];

#[test]
fn crates_use_only_what_the_map_allows() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut seen = 0;
    for (name, allowed) in MAY_USE {
        let manifest = std::fs::read_to_string(crates.join(name).join("Cargo.toml")).unwrap();
        let needs = manifest.split("[dependencies]").nth(1).unwrap().split("\n[").next().unwrap();
        for line in needs.lines().filter(|l| l.starts_with("bladeform")) {
            let used = line.split(['.', ' ', '=']).next().unwrap().trim_start_matches("bladeform-");
            assert!(allowed.contains(&used), "{name} uses {used}, which the map does not allow");
            seen += 1;
        }
    }
    assert!(10 < seen, "the manifests were not read");
    assert_eq!(std::fs::read_dir(crates).unwrap().count(), MAY_USE.len(), "a crate is missing from the map");
}

#[test]
fn every_fixture_has_a_row() {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures");
    let rows = std::fs::read_to_string(fixtures.join("README.md")).unwrap();
    for entry in std::fs::read_dir(&fixtures).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name == "README.md" || rows.contains(&name), "{name} has no row in fixtures/README.md");
    }
}
