//! The structure of the workspace: which crate may use which. A new line here is a decision about the architecture.

use std::path::{Path, PathBuf};

const MAY_USE: &[(&str, &[&str])] = &[
    ("numeric", &[]),
    ("quantity", &[]),
    ("mesh", &["numeric", "quantity"]),
    ("section", &["numeric", "quantity"]),
    ("table", &["numeric", "quantity"]),
    ("document", &["quantity", "table"]),
    ("words", &["quantity", "table"]),
    ("measure", &["numeric", "quantity", "mesh", "section", "table"]),
    ("polar", &["numeric"]),
    ("flow", &["numeric", "quantity", "section", "table", "polar"]),
    ("solid", &["numeric", "quantity", "mesh", "section", "table"]),
    ("record", &["numeric", "quantity", "mesh", "section", "table", "document"]),
    ("specimen", &["numeric", "quantity", "mesh", "section", "table"]),
    (
        "bladeform",
        &[
            "numeric", "quantity", "mesh", "section", "table", "document", "words", "measure", "polar",
            "flow", "solid", "record",
        ],
    ),
    ("cli", &["bladeform", "quantity", "specimen"]),
    ("python", &["bladeform", "cli"]),
    ("fuzz", &["quantity", "mesh", "table", "document", "measure", "polar", "flow", "specimen"]),
    (
        "study",
        &[
            "bladeform",
            "numeric",
            "quantity",
            "mesh",
            "section",
            "table",
            "measure",
            "flow",
            "record",
            "specimen",
        ],
    ),
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

/// What the top level holds, but for files whose names begin with a dot.
const TOP_LEVEL: [&str; 9] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "crates",
    "docs",
    "fixtures",
    "tests",
];

/// Downloads and outputs must not be committed by the way.
#[test]
fn the_repository_holds_at_its_top_what_was_agreed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let listed = std::process::Command::new("git").args(["ls-files"]).current_dir(&root).output();
    let Some(files) = listed.ok().filter(|l| l.status.success()) else {
        // Nothing can be said where standard error is closed.
        let _ = std::io::Write::write_all(
            &mut std::io::stderr(),
            b"SKIPPED: the list of files was not checked; this folder is no clone, or git is missing\n",
        );
        return;
    };
    let files = String::from_utf8(files.stdout).unwrap();
    for file in files.lines() {
        let top = file.split('/').next().unwrap();
        assert!(top.starts_with('.') || TOP_LEVEL.contains(&top), "{file} does not belong to the repository");
    }
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

/// The external libraries in a manifest, and whether only its tests use them.
fn outside(manifest: &str) -> Vec<(String, bool)> {
    libraries(manifest).into_iter().filter(|(name, _)| !name.starts_with("bladeform")).collect()
}

/// All libraries in a manifest, including ours, and whether only its tests use them.
fn libraries(manifest: &str) -> Vec<(String, bool)> {
    let mut found = Vec::new();
    let mut section = "";
    for line in manifest.lines().map(str::trim) {
        if line.starts_with('[') {
            section = line.trim_matches(['[', ']']);
        } else if section.ends_with("dependencies") && !line.is_empty() && !line.starts_with('#') {
            let name = line.split(['.', ' ', '=']).next().unwrap();
            found.push((name.to_owned(), section.ends_with("dev-dependencies")));
        }
    }
    found
}

#[test]
fn every_external_library_has_a_reason() {
    use std::collections::{BTreeMap, BTreeSet};
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    // Library, then crate, then whether it is only for tests.
    let mut used: BTreeMap<String, BTreeMap<String, bool>> = BTreeMap::new();
    for (name, _) in MAY_USE {
        let manifest = std::fs::read_to_string(crates.join(name).join("Cargo.toml")).unwrap();
        for (library, for_tests) in outside(&manifest) {
            let also = used.entry(library).or_default().entry((*name).to_owned()).or_insert(true);
            *also &= for_tests;
        }
    }
    let page = std::fs::read_to_string(crates.join("../docs/dependencies.md")).unwrap();
    let mut rows = BTreeSet::new();
    for line in page.lines().filter(|l| l.starts_with("| `")) {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
        let [library, users, why] = cells[..] else { panic!("{line}: three cells are needed") };
        let library = library.trim_matches('`');
        let all_tests = users.ends_with("(all tests)") || users.ends_with("(tests)") && !users.contains(',');
        let listed: BTreeMap<String, bool> = users
            .replace("(all tests)", "")
            .split(',')
            .map(|u| (u.replace("(tests)", "").trim().to_owned(), all_tests || u.contains("(tests)")))
            .collect();
        assert_eq!(
            Some(&listed),
            used.get(library),
            "{library}: docs/dependencies.md and the manifests differ"
        );
        assert!(20 < why.len(), "{library}: no reason is given");
        assert!(rows.insert(library.to_owned()), "{library} is listed twice");
    }
    assert_eq!(rows, used.into_keys().collect(), "docs/dependencies.md and the manifests differ");
    assert!(15 < rows.len(), "the page was not read");
    // A dependency of the workspace that no crate uses is a leftover.
    let workspace = std::fs::read_to_string(crates.join("../Cargo.toml")).unwrap();
    let offered: BTreeSet<String> = outside(&workspace).into_iter().map(|(name, _)| name).collect();
    assert_eq!(rows, offered, "the workspace offers other libraries than its crates take");
}

/// The Rust files under some folders as one text; `with_comments`: whether comment lines are included.
fn sources(folders: &[PathBuf], with_comments: bool) -> String {
    let mut text = String::new();
    let mut waiting = folders.to_vec();
    while let Some(path) = waiting.pop() {
        if path.is_dir() {
            waiting.extend(std::fs::read_dir(&path).unwrap().map(|entry| entry.unwrap().path()));
        } else if path.extension().is_some_and(|e| e == "rs") {
            let source = std::fs::read_to_string(&path).unwrap();
            let counts = |line: &&str| with_comments || !line.trim_start().starts_with("//");
            source.lines().filter(counts).for_each(|line| text.extend([line, "\n"]));
        }
    }
    text
}

/// Whether Rust source uses a library: at the beginning of a path, or alone in a `use`.
fn names_library(source: &str, library: &str) -> bool {
    let name = library.replace('-', "_");
    source.match_indices(&name).any(|(at, _)| {
        let is_part_of_word = |c: char| c.is_alphanumeric() || c == '_';
        let (before, after) = (&source[..at], &source[at + name.len()..]);
        !before.ends_with(is_part_of_word) && ["::", ";", " as "].iter().any(|end| after.starts_with(end))
    })
}

/// A library in a manifest that no source uses costs build time and is misleading.
#[test]
fn every_library_in_a_manifest_is_used() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut seen = 0;
    for (name, _) in MAY_USE {
        let home = crates.join(name);
        let manifest = std::fs::read_to_string(home.join("Cargo.toml")).unwrap();
        let code = sources(&[home.join("src")], false);
        // Examples in comments are tests.
        let mut test_folders = ["src", "tests", "examples", "benches"].map(|f| home.join(f)).to_vec();
        if *name == "cli" {
            test_folders.push(crates.join("../tests"));
        }
        let tests = sources(&test_folders, true);
        for (library, for_tests) in libraries(&manifest) {
            let source = if for_tests { &tests } else { &code };
            assert!(
                names_library(source, &library),
                "{name} names {library} in its manifest and does not use it"
            );
            seen += 1;
        }
    }
    assert!(60 < seen, "the manifests were not read");
}

fn version(text: &str) -> [u32; 3] {
    let mut parts = text.split('.').map(|p| p.parse().unwrap());
    std::array::from_fn(|_| parts.next().unwrap_or(0))
}

/// No library that is built here requires a later compiler than the workspace states, and the front page states the same version.
#[test]
fn the_minimum_rust_version_is_sufficient_for_the_libraries() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let rustc = std::process::Command::new("rustc").arg("-vV").output().unwrap();
    let rustc = String::from_utf8(rustc.stdout).unwrap();
    let host = rustc.lines().find_map(|l| l.strip_prefix("host: ")).unwrap();
    let cargo = std::process::Command::new(env!("CARGO"))
        .current_dir(&root)
        .args(["metadata", "--locked", "--format-version", "1", "--filter-platform", host])
        .output()
        .unwrap();
    assert!(cargo.status.success(), "{}", String::from_utf8_lossy(&cargo.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&cargo.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    let stated = |p: &serde_json::Value| p["rust_version"].as_str().map(str::to_owned);
    let ours = packages.iter().find(|p| p["name"] == "bladeform-cli").and_then(stated).unwrap();
    assert!(50 < packages.len(), "the libraries were not listed");
    for package in packages {
        let needed = stated(package).unwrap_or_else(|| "1.0".to_owned());
        assert!(
            version(&needed) <= version(&ours),
            "{} needs Rust {needed}, we state {ours}",
            package["name"]
        );
    }
    let front = std::fs::read_to_string(root.join("README.md")).unwrap();
    assert!(front.contains(&format!("Rust {ours} or later")), "README.md states another version than {ours}");
}

/// Every source file below a folder.
fn source_files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            source_files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

#[test]
fn the_first_line_of_every_source_file_says_what_it_is() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut files = Vec::new();
    for (name, _) in MAY_USE {
        source_files(&crates.join(name).join("src"), &mut files);
    }
    assert!(200 < files.len(), "the sources were not read");
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let first = text.lines().next().unwrap_or("");
        assert!(
            first.starts_with("//! ") && 12 < first.len(),
            "{}: the first line does not say what it is",
            file.display()
        );
    }
}

/// Every item of the facade has one path, in a module with an example.
#[test]
fn the_facade_is_grouped_into_modules_with_examples() {
    let facade = Path::new(env!("CARGO_MANIFEST_DIR")).join("../bladeform/src");
    let mut files = Vec::new();
    source_files(&facade, &mut files);
    assert!(10 < files.len(), "the facade was not read");
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(text.contains("//! ```"), "{}: no example", file.display());
        let is_top = file.ends_with("lib.rs");
        assert!(!is_top || !text.contains("\npub use "), "the facade has an item outside its modules");
    }
}

/// The definitions page lists every column and every key of a prediction.
#[test]
fn the_definitions_list_every_key() {
    let page =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/definitions.md"))
            .unwrap();
    let mut keys: Vec<&str> = bladeform_table::StationColumn::FIGURES.iter().map(|c| c.key()).collect();
    keys.extend(bladeform_table::OperatingFigures::KEYS);
    keys.extend(bladeform_table::RadialFigures::KEYS);
    keys.extend(bladeform_table::FreeWakeModel::KEYS);
    assert!(50 < keys.len(), "the keys were not listed");
    for key in keys {
        assert!(page.contains(&format!("`{key}`")), "docs/definitions.md does not define `{key}`");
    }
}

/// Every code of a notice is in the definitions, so that a program can rely on it.
#[test]
fn the_definitions_list_every_code() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let page = std::fs::read_to_string(crates.join("../docs/definitions.md")).unwrap();
    let mut seen = 0;
    for file in [
        "mesh/src/notice.rs",
        "measure/src/notice.rs",
        "table/src/table_notice.rs",
        "table/src/flag.rs",
        "flow/src/notice.rs",
        "solid/src/notice.rs",
        "record/src/notice.rs",
        "table/src/fault.rs",
        "solid/src/error.rs",
        "measure/src/error.rs",
    ] {
        let text = std::fs::read_to_string(crates.join(file)).unwrap();
        // The arms of `code`: `... => "a-code",`.
        let codes = text.split("=> \"").skip(1).filter_map(|rest| rest.split('"').next());
        for code in codes.filter(|c| 3 < c.len() && c.bytes().all(|b| b.is_ascii_lowercase() || b == b'-')) {
            seen += 1;
            let is_name = ["leading", "trailing"].contains(&code);
            assert!(
                is_name || page.contains(&format!("`{code}`")),
                "{file}: docs/definitions.md does not list `{code}`"
            );
        }
    }
    assert!(80 < seen, "the codes were not read: {seen}");
}
