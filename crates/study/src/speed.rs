//! File to table: seconds and peak memory, each run in a process of its own.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::{write_ply_binary, write_stl_binary};
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::markdown::{Table, verdict};

/// Goal for a file of two million triangles on two free cores, s.
const GOAL_S: f64 = 2.0;
/// Goal of the peak memory, in file sizes.
const GOAL_FILES: f64 = 5.0;

/// Measures a file of each kind and prints time and memory next to their goals.
pub(crate) fn run(millions: f64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let triangles = (millions * 1e6) as usize;
    let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles, ..ScanPlan::usual(1) });
    let folder = std::env::temp_dir();
    let title = format!(
        "File to table: {} triangles; goals {GOAL_S} s for 2 million on two free cores, {GOAL_FILES} files of memory; the libraries load the mesh and make 24 cuts",
        scan.mesh.faces.len()
    );
    let [first, second] = LIBRARIES;
    let headings = ["file", "MB", "bytes alone, s", "file to table, s", "peak memory, files", first, second];
    let table = Table::begin(&mut out, &title, &headings)?;
    for (name, stl) in [("speed.stl", true), ("speed.ply", false)] {
        let path = folder.join(format!("bladeform-{}-{name}", std::process::id()));
        let mut bytes = Vec::new();
        if stl {
            write_stl_binary(&scan.mesh, &mut bytes)?;
        } else {
            write_ply_binary(&scan.mesh, &mut bytes)?;
        }
        std::fs::write(&path, &bytes)?;
        let size = bytes.len() as f64;
        drop(bytes);
        let run =
            std::process::Command::new(std::env::current_exe()?).arg("measure-once").arg(&path).output();
        let before = std::time::Instant::now();
        let read = std::fs::read(&path).map(|bytes| bytes.len());
        let reading = before.elapsed().as_secs_f64();
        let others = LIBRARIES.map(|library| cuts_by(library, &path));
        std::fs::remove_file(&path)?;
        let (run, _) = (run?, read?);
        let text = String::from_utf8_lossy(&run.stdout);
        let mut numbers = text.split_whitespace().filter_map(|w| w.parse::<f64>().ok());
        let (Some(seconds), Some(peak)) = (numbers.next(), numbers.next()) else {
            return Err(std::io::Error::other(String::from_utf8_lossy(&run.stderr).into_owned()));
        };
        let goal_s = GOAL_S * millions / 2.0;
        let [first, second] = others;
        let cells = [
            name.to_owned(),
            format!("{:.0}", size / 1e6),
            format!("{reading:.3}"),
            format!("{seconds:.2} {}", verdict(seconds <= goal_s)),
            format!("{:.1} {}", peak / size, verdict(peak <= GOAL_FILES * size)),
            first,
            second,
        ];
        table.row(&mut out, &cells)?;
    }
    Ok(())
}

/// General-purpose libraries with which a script could load and cut a mesh.
const LIBRARIES: [&str; 2] = ["trimesh", "vtk"];

/// Seconds that a library takes to load a mesh and cut it at 24 planes, or the reason why this is not known. The environment variable `BLADEFORM_PYTHON`
/// names the Python that has the libraries.
fn cuts_by(library: &str, path: &std::path::Path) -> String {
    let Some(python) = std::env::var_os("BLADEFORM_PYTHON") else {
        return "skipped: BLADEFORM_PYTHON names no Python that has it".to_owned();
    };
    let run =
        std::process::Command::new(python).args(["-c", include_str!("cuts.py"), library]).arg(path).output();
    match run {
        Ok(run) if run.status.success() => format!("{} s", String::from_utf8_lossy(&run.stdout).trim()),
        Ok(run) => {
            let text = String::from_utf8_lossy(&run.stderr).into_owned();
            format!("FAILED: {}", text.lines().last().unwrap_or_default())
        }
        Err(e) => format!("FAILED: {e}"),
    }
}

/// Measures one file and prints the seconds, including reading, and the peak memory of the process in bytes.
pub(crate) fn measure_once(path: &str) -> std::io::Result<()> {
    let before = std::time::Instant::now();
    let bytes = std::fs::read(path)?;
    let plan = MeasurePlan { length_m: Some(Blade::quarry_mill().length_m()), ..MeasurePlan::default() };
    measure(bladeform_measure::ScanInput::file(&bytes, "speed"), &plan, &bladeform_measure::Silent)
        .map_err(std::io::Error::other)?;
    let seconds = before.elapsed().as_secs_f64();
    // Linux reports the peak of the resident set here. On other systems it is not known.
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status
        .lines()
        .find_map(|l| l.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse::<f64>().ok())
        .map_or(f64::NAN, |kilobytes| 1024.0 * kilobytes);
    writeln!(std::io::stdout(), "{seconds} {peak}")
}
