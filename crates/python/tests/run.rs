//! The Python package's own tests: the built library in a package folder, tested by pytest. Where Python or a library is missing this says that it was skipped; in CI that is an error.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;

/// The interpreter: that of the project's tests, else the usual one.
fn python() -> Command {
    Command::new(std::env::var("BLADEFORM_PYTHON").unwrap_or_else(|_| "python3".to_owned()))
}

/// Says that the tests were skipped; in CI that is an error.
fn skip(why: &str) {
    assert!(
        std::env::var("BLADEFORM_CI").as_deref() != Ok("1"),
        "the tests of the Python package cannot run: {why}"
    );
    // Nothing can be said where standard error is closed.
    let _ = writeln!(std::io::stderr(), "SKIPPED: the tests of the Python package did not run: {why}");
}

/// A file of the build that this test belongs to.
fn built(names: &[&str]) -> Option<PathBuf> {
    let own = std::env::current_exe().unwrap();
    let deps = own.parent().unwrap();
    let folders = [deps.parent().unwrap(), deps];
    let found = folders.iter().flat_map(|f| names.iter().map(|n| f.join(n))).filter(|p| p.is_file());
    // The newest one: an earlier build may have left another.
    found.max_by_key(|p| p.metadata().and_then(|m| m.modified()).ok())
}

/// The package with the built library, as it is installed.
fn package(folder: &Path, library: &Path) {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("python/bladeform");
    let goal = folder.join("bladeform");
    std::fs::create_dir_all(&goal).unwrap();
    for entry in std::fs::read_dir(source).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            std::fs::copy(&path, goal.join(path.file_name().unwrap())).unwrap();
        }
    }
    let ending = if cfg!(windows) { "_native.pyd" } else { "_native.abi3.so" };
    std::fs::copy(library, goal.join(ending)).unwrap();
}

/// Runs some of the package's test files. Each call has its own interpreter, so that two of them work at once.
fn passes(files: &[&str]) {
    let needed = "import sys, pytest, numpy, pandas, trimesh, scipy, networkx, mypy; assert (3, 10) <= sys.version_info";
    match python().args(["-c", needed]).output() {
        Err(e) => return skip(&format!("no Python was found ({e})")),
        Ok(out) if !out.status.success() => {
            let why = String::from_utf8_lossy(&out.stderr).lines().last().unwrap_or_default().to_owned();
            return skip(&format!(
                "Python 3.10 with the libraries of tests/python/requirements.txt is needed ({why})"
            ));
        }
        Ok(_) => {}
    }
    let library = built(&["libbladeform_native.so", "libbladeform_native.dylib", "bladeform_native.dll"]);
    let Some(library) = library else { return skip("the library was not built") };
    let Some(command) = built(&["bladeform", "bladeform.exe"]) else {
        return skip(
            "the command, with which the package is compared, was not built: run `cargo build` first",
        );
    };
    let folder = tempfile::tempdir().unwrap();
    package(folder.path(), &library);
    let tests = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut run = python();
    run.args(["-m", "pytest", "-rs"]).args(files).current_dir(tests.join("tests"));
    run.env("PYTHONPATH", folder.path())
        .env("BLADEFORM_COMMAND", command)
        .env("PYTHONDONTWRITEBYTECODE", "1");
    let out = run.output().unwrap();
    let said = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{said}");
    let skipped = said.lines().any(|l| l.starts_with("SKIPPED"));
    assert!(!skipped || std::env::var("BLADEFORM_CI").as_deref() != Ok("1"), "{said}");
    let _ = writeln!(std::io::stderr(), "{}", said.lines().last().unwrap_or_default());
}

#[test]
fn arrays_and_measuring_pass_their_tests() {
    passes(&["test_arrays.py", "test_measure.py"]);
}

#[test]
fn results_pass_their_tests() {
    passes(&["test_results.py"]);
}

#[test]
fn examples_and_types_pass_their_tests() {
    passes(&["test_examples.py", "test_types.py"]);
}

/// No file of tests is forgotten.
#[test]
fn all_files_are_run() {
    let own = include_str!("run.rs");
    for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(!name.starts_with("test_") || own.contains(&format!("\"{name}\"")), "{name}");
    }
}
