//! File to table: seconds and peak memory, each run in a process of its own.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::{write_ply_binary, write_stl_binary};
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

/// Runs a file of each kind and prints time, memory and the goals.
pub(crate) fn run(millions: f64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let triangles = (millions * 1e6) as usize;
    let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles, ..ScanPlan::usual(1) });
    let folder = std::env::temp_dir();
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
        let others = LIBRARIES.map(|library| beside(library, &path));
        std::fs::remove_file(&path)?;
        let (run, _) = (run?, read?);
        let text = String::from_utf8_lossy(&run.stdout);
        let mut numbers = text.split_whitespace().filter_map(|w| w.parse::<f64>().ok());
        let (Some(seconds), Some(peak)) = (numbers.next(), numbers.next()) else {
            return Err(std::io::Error::other(String::from_utf8_lossy(&run.stderr).into_owned()));
        };
        writeln!(
            out,
            "{name}: {} triangles, {:.0} MB: {seconds:.2} s (goal 2 s for 2 million), peak {:.0} MB = {:.1} files (goal 5)",
            scan.mesh.faces.len(),
            size / 1e6,
            peak / 1e6,
            peak / size
        )?;
        writeln!(
            out,
            "    reading the bytes alone: {reading:.3} s; load and 24 cuts by general-purpose libraries:"
        )?;
        for (library, text) in LIBRARIES.iter().zip(others) {
            writeln!(out, "    {library}: {text}")?;
        }
    }
    Ok(())
}

/// General-purpose libraries that would be scripted for loading and cutting.
const LIBRARIES: [&str; 2] = ["trimesh", "vtk"];

/// Seconds that a library takes to load a mesh and cut it at 24 planes, or why that is not known. The Python that has the libraries is named by the
/// environment variable `BLADEFORM_PYTHON`.
fn beside(library: &str, path: &std::path::Path) -> String {
    let Some(python) = std::env::var_os("BLADEFORM_PYTHON") else {
        return "SKIPPED: BLADEFORM_PYTHON names no Python that has it".to_owned();
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

/// Measures one file and prints its seconds, reading included, and the process's peak memory in bytes.
pub(crate) fn measure_once(path: &str) -> std::io::Result<()> {
    let before = std::time::Instant::now();
    let bytes = std::fs::read(path)?;
    let plan = MeasurePlan { length_m: Some(Blade::quarry_mill().length_m()), ..MeasurePlan::default() };
    measure(&bytes, "speed", &plan).map_err(std::io::Error::other)?;
    let seconds = before.elapsed().as_secs_f64();
    // Linux tells the peak of the resident set here; elsewhere it is not known.
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status
        .lines()
        .find_map(|l| l.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse::<f64>().ok())
        .map_or(f64::NAN, |kilobytes| 1024.0 * kilobytes);
    writeln!(std::io::stdout(), "{seconds} {peak}")
}
