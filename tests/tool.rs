//! Common helpers for the tests of the command: running it, and small inputs.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

/// A handwritten table of an invented blade: only the required keys, with a row near the root and no chord as large as a third of a metre.
pub(crate) const HAND_TABLE: &str = r#"{"blade": {"radius_m": 0.5}, "stations": [
  {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
  {"radius_m": 0.22, "chord_m": 0.064, "blade_angle_deg": 32.0, "thickness_ratio": 0.16, "camber_ratio": 0.025},
  {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 0.38, "chord_m": 0.058, "blade_angle_deg": 20.5, "thickness_ratio": 0.10, "camber_ratio": 0.03},
  {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;

/// The built command.
pub(crate) const BLADEFORM: &str = env!("CARGO_BIN_EXE_bladeform");

/// Runs the command in a folder.
pub(crate) fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(BLADEFORM).current_dir(folder).args(arguments).output().unwrap()
}

/// Runs a shell line in a folder, with the command as `$0`.
pub(crate) fn shell_in(folder: &Path, line: &str) -> Output {
    Command::new("sh").current_dir(folder).args(["-c", line, BLADEFORM]).output().unwrap()
}

/// Bytes as text.
pub(crate) fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A scan of the invented blade, as binary STL.
pub(crate) fn scan(folder: &Path, name: &str, triangles: usize) -> PathBuf {
    let plan = ScanPlan { triangles, ..ScanPlan::usual(11) };
    let mut bytes = Vec::new();
    bladeform_mesh::write_stl_binary(&scan_of_blade(&Blade::quarry_mill(), &plan).mesh, &mut bytes).unwrap();
    let path = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// Names in a folder, sorted; empty if it is missing.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder) else { return Vec::new() };
    let mut names: Vec<String> =
        entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

/// One of the Python scripts of the project, run by the interpreter in BLADEFORM_PYTHON.
pub(crate) fn python(script: &str) -> Command {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/python").join(script);
    let mut command =
        Command::new(std::env::var("BLADEFORM_PYTHON").unwrap_or_else(|_| "python3".to_owned()));
    command.arg(path);
    command
}

/// The output of such a script. If Python or a library is missing there is none, and a message reports what was `skipped`. In continuous integration this is an error.
pub(crate) fn outside_library(command: &mut Command, skipped: &str) -> Option<String> {
    let is_ci = std::env::var("BLADEFORM_CI").is_ok_and(|v| v == "1");
    let skip = |why: &str| {
        tell(&format!(
            "\nSKIPPED: {skipped}: {why}; install tests/python/requirements.txt and name the interpreter in BLADEFORM_PYTHON"
        ));
    };
    match command.output() {
        Ok(run) if run.status.success() => return Some(text(&run.stdout)),
        Ok(run) if run.status.code() == Some(3) && !is_ci => skip(text(&run.stdout).trim()),
        Err(e) if !is_ci => skip(&format!("no Python: {e}")),
        Ok(run) => panic!("{}{}", text(&run.stdout), text(&run.stderr)),
        Err(e) => panic!("{e}"),
    }
    None
}

/// Written past the capture of test output, so that it is visible in a run that passes.
pub(crate) fn tell(what: &str) {
    use std::io::Write;
    let _ = writeln!(std::io::stderr(), "{what}");
}
