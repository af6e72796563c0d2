//! File to table and page: seconds, processor time by stage, peak memory and instructions, each run in a process of its own.

use std::io::Write;
use std::ops::ControlFlow;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::time::Instant;

use bladeform_measure::{MeasurePlan, ScanInput, measure_with_part};
use bladeform_mesh::{CleanMesh, RawMesh, write_ply_binary, write_stl_binary};
use bladeform_numeric::observe::{Silent, Stage};
use bladeform_numeric::parallel;
use bladeform_record::{RecordPlan, ScanPart, record};
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::markdown::{Table, verdict};

/// Sizes that are measured by default, millions of triangles.
const MILLIONS: [f64; 3] = [0.05, 0.1, 2.0];
/// Goals on two free cores: millions of triangles, seconds to the table, seconds with the page.
const GOALS: [(f64, f64, f64); 3] =
    [(0.1, 0.15, f64::INFINITY), (2.0, 1.0, 1.3), (20.0, 10.0, f64::INFINITY)];
/// Goal of the peak memory, in file sizes. A small file has the program beside it.
const GOAL_FILES: f64 = 3.0;
/// Numbers of threads.
const THREADS: [usize; 2] = [1, 2];
/// Instructions are counted up to this size, millions: counting takes some fifty times as long as running.
const COUNTED: f64 = 0.1;
/// Stages of a measurement, as the library names them, and their short names. Reading the file comes before them, the page after them.
const STAGES: [(&str, &str); 4] = [
    ("reading the mesh", "mesh"),
    ("repairing the mesh", "repair"),
    ("finding the axes", "axes"),
    ("measuring stations", "stations"),
];
/// Seed of the random order.
const SEED: u64 = 1;

/// Measures files of each kind, size and order. `millions`: sizes separated by commas; by default those of [`MILLIONS`].
pub(crate) fn run(millions: &str) -> std::io::Result<()> {
    let sizes: Vec<f64> = match millions {
        "" => MILLIONS.to_vec(),
        list => list.split(',').filter_map(|size| size.parse().ok()).collect(),
    };
    let mut out = std::io::stdout();
    writeln!(
        out,
        "\nLoad of the machine at the beginning: {}. Wall seconds count on a free machine only; processor seconds and instructions hold on a busy one too.",
        load()
    )?;
    let stages = STAGES.map(|(_, short)| short).join(", ");
    let title = format!(
        "File to table and page. Goals on two free cores: 0.1 million 0.15 s, 2 million 1.0 s and 1.3 s with the page, 20 million 10 s; {GOAL_FILES} files of memory. Processor seconds by stage: file, {stages}, page (its lighter mesh is made beside the stations and counts there)."
    );
    let headings = [
        "triangles",
        "format",
        "order",
        "threads",
        "MB",
        "to table, s",
        "with page, s",
        "processor, s",
        "by stage, s",
        "memory, files",
        "instructions, 10^9",
    ];
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("speed");
    let table = Table::begin(&mut out, &title, &headings)?;
    let mut peers = Vec::new();
    for &size in &sizes {
        let triangles = (size * 1e6) as usize;
        let mut mesh =
            scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles, ..ScanPlan::usual(1) }).mesh;
        for order in ["natural", "random"] {
            if order == "random" {
                shuffle(&mut mesh);
            }
            for (format, extension) in [("STL", "stl"), ("PLY", "ply")] {
                let path = path.with_extension(extension);
                write(&mesh, extension, &path)?;
                for threads in THREADS {
                    let cells = row(size, &path, threads)?;
                    let about = [mesh.faces.len().to_string(), format.to_owned(), order.to_owned()];
                    table.row(&mut out, &about.into_iter().chain(cells).collect::<Vec<_>>())?;
                }
                if sizes.iter().all(|other| *other <= size) {
                    let seconds = LIBRARIES.map(|library| cuts_by(library, &path));
                    peers.push(
                        [mesh.faces.len().to_string(), format!("{format}, {order}")]
                            .into_iter()
                            .chain(seconds)
                            .collect::<Vec<_>>(),
                    );
                }
                std::fs::remove_file(&path)?;
            }
        }
    }
    let title = "General-purpose libraries: loading the mesh and 24 cuts, importing not counted";
    let headings = ["triangles", "file", LIBRARIES[0], LIBRARIES[1]];
    let table = Table::begin(&mut out, title, &headings)?;
    peers.iter().try_for_each(|row| table.row(&mut out, row))?;
    writeln!(out, "\nLoad of the machine at the end: {}.", load())
}

/// Cells of one run.
fn row(size: f64, path: &Path, threads: usize) -> std::io::Result<Vec<String>> {
    let bytes = std::fs::metadata(path)?.len() as f64;
    let told = told_by(&mut once(path, threads)?)?;
    let [to_table, with_page, processor, peak] = told.totals;
    let goal = GOALS.iter().find(|goal| (goal.0 - size).abs() < 1e-9 && threads == 2);
    let met = |seconds: f64, goal: Option<f64>| match goal.filter(|goal| goal.is_finite()) {
        Some(goal) => format!("{seconds:.2} {}", verdict(seconds <= goal)),
        None => format!("{seconds:.2}"),
    };
    let memory = format!("{:.1}", peak / bytes);
    let memory =
        if COUNTED < size { format!("{memory} {}", verdict(peak <= GOAL_FILES * bytes)) } else { memory };
    let counted = if size <= COUNTED && threads == 1 { instructions(path)? } else { String::new() };
    Ok(vec![
        threads.to_string(),
        format!("{:.1}", bytes / 1e6),
        met(to_table, goal.map(|goal| goal.1)),
        met(with_page, goal.map(|goal| goal.2)),
        format!("{processor:.2}"),
        told.stages,
        memory,
        counted,
    ])
}

/// The command that measures a file once.
fn once(path: &Path, threads: usize) -> std::io::Result<Command> {
    let mut command = Command::new(std::env::current_exe()?);
    command.arg("measure-once").arg(path).arg(threads.to_string());
    Ok(command)
}

/// What one run tells.
struct Told {
    /// Seconds to the table, with the page, of the processor; bytes of memory at the most.
    totals: [f64; 4],
    /// Processor seconds of each stage.
    stages: String,
}

fn told_by(command: &mut Command) -> std::io::Result<Told> {
    let run = command.output()?;
    let text = String::from_utf8_lossy(&run.stdout);
    let mut lines = text.lines();
    let totals: Vec<f64> =
        lines.next().unwrap_or_default().split_whitespace().filter_map(|w| w.parse().ok()).collect();
    match (<[f64; 4]>::try_from(totals), lines.next()) {
        (Ok(totals), Some(stages)) => Ok(Told { totals, stages: stages.to_owned() }),
        _ => Err(std::io::Error::other(String::from_utf8_lossy(&run.stderr).into_owned())),
    }
}

/// Instructions of one run on one thread, or why they are not known. Callgrind counts them; they repeat where seconds do not.
fn instructions(path: &Path) -> std::io::Result<String> {
    let exe = std::env::current_exe()?;
    let mut command = Command::new("valgrind");
    command.args(["--tool=callgrind", "--callgrind-out-file=/dev/null"]).arg(exe);
    let Ok(run) = command.arg("measure-once").arg(path).arg("1").output() else {
        return Ok("skipped: valgrind is not installed".to_owned());
    };
    let text = String::from_utf8_lossy(&run.stderr).into_owned();
    let count = text.lines().find_map(|line| line.split_once("Collected : ")?.1.trim().parse::<f64>().ok());
    Ok(count.map_or_else(|| "FAILED: no count".to_owned(), |count| format!("{:.3}", count / 1e9)))
}

/// Puts vertices and triangles into a random order, always the same, as some programs write them.
fn shuffle(mesh: &mut RawMesh) {
    let mut state = SEED;
    // SplitMix64: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
    let mut below = |count: usize| {
        state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((u128::from(z ^ (z >> 31)) * count as u128) >> 64) as usize
    };
    let mut places: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    for k in (1..places.len()).rev() {
        places.swap(k, below(k + 1));
    }
    let old = mesh.vertices.clone();
    places.iter().zip(old).for_each(|(&place, vertex)| mesh.vertices[place as usize] = vertex);
    mesh.faces.as_flattened_mut().iter_mut().for_each(|v| *v = places[*v as usize]);
    for k in (1..mesh.faces.len()).rev() {
        mesh.faces.swap(k, below(k + 1));
    }
}

fn write(mesh: &RawMesh, extension: &str, path: &Path) -> std::io::Result<()> {
    let mut file = std::fs::File::create(path)?;
    if extension == "stl" { write_stl_binary(mesh, &mut file) } else { write_ply_binary(mesh, &mut file) }
}

/// The machine's load average over the last minute.
fn load() -> String {
    let text = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    text.split_whitespace().next().map_or_else(|| "not known".to_owned(), str::to_owned)
}

/// General-purpose libraries with which a script could load and cut a mesh.
const LIBRARIES: [&str; 2] = ["trimesh", "vtk"];

/// Seconds that a library takes to load a mesh and cut it at 24 planes, or the reason why this is not known. The environment variable `BLADEFORM_PYTHON`
/// names the Python that has the libraries.
fn cuts_by(library: &str, path: &Path) -> String {
    let Some(python) = std::env::var_os("BLADEFORM_PYTHON") else {
        return "skipped: BLADEFORM_PYTHON names no Python that has it".to_owned();
    };
    let run = Command::new(python).args(["-c", include_str!("cuts.py"), library]).arg(path).output();
    match run {
        Ok(run) if run.status.success() => {
            let text = String::from_utf8_lossy(&run.stdout).into_owned();
            text.trim().parse().map_or(text, |seconds: f64| format!("{seconds:.2} s"))
        }
        Ok(run) => {
            let text = String::from_utf8_lossy(&run.stderr).into_owned();
            format!("FAILED: {}", text.lines().last().unwrap_or_default())
        }
        Err(e) => format!("FAILED: {e}"),
    }
}

/// Measures one file as the command does and makes its page, on so many threads. Prints the seconds to the table and with the page, the processor's seconds and
/// the peak memory in bytes; then the processor's seconds of each stage.
pub(crate) fn measure_once(path: &str, threads: &str) -> std::io::Result<()> {
    let threads = threads.parse().unwrap_or(0);
    parallel::with_threads(threads, || {
        let before = Instant::now();
        // When each stage began, by the processor.
        let begun = Mutex::new(vec![("file", processor_s())]);
        let begin = |name: &'static str| {
            if let Ok(mut begun) = begun.lock()
                && begun.last().is_none_or(|last| last.0 != name)
            {
                begun.push((name, processor_s()));
            }
        };
        let bytes = std::fs::read(path)?;
        let plan = MeasurePlan { length_m: Some(Blade::quarry_mill().length_m()), ..MeasurePlan::default() };
        let observer = |stage: Stage<'_>| {
            STAGES.iter().filter(|(name, _)| *name == stage.name).for_each(|(_, short)| begin(short));
            ControlFlow::Continue(())
        };
        let ((found, to_table), part) = parallel::with_aside(|aside| {
            let keep = |part: &CleanMesh| {
                let part = part.clone();
                aside.start(move || ScanPart::of(part));
            };
            let found = measure_with_part(ScanInput::file(&bytes, "speed"), &plan, &observer, keep);
            (found, before.elapsed().as_secs_f64())
        });
        let (table, ()) = found.map_err(std::io::Error::other)?;
        begin("page");
        let page = RecordPlan { scan: part.as_ref(), ..RecordPlan::of(&table) };
        let made = record(&page, &Silent).map_err(std::io::Error::other)?;
        assert!(!made.html.is_empty(), "the page has a text");
        let with_page = before.elapsed().as_secs_f64();
        let end = processor_s();
        let begun = begun.into_inner().unwrap_or_default();
        let ends = begun.iter().skip(1).map(|next| next.1).chain([end]);
        let stages: Vec<String> =
            begun.iter().zip(ends).map(|((name, from), to)| format!("{name} {:.3}", to - from)).collect();
        let mut out = std::io::stdout();
        writeln!(out, "{to_table} {with_page} {end} {}", peak_bytes())?;
        writeln!(out, "{}", stages.join(", "))
    })
}

/// Processor time of all threads of this process, s. Linux counts it in nanoseconds for each thread; elsewhere it is not known.
fn processor_s() -> f64 {
    let Ok(threads) = std::fs::read_dir("/proc/self/task") else { return f64::NAN };
    let of_thread = |thread: std::fs::DirEntry| {
        let text = std::fs::read_to_string(thread.path().join("schedstat")).ok()?;
        text.split_whitespace().next()?.parse::<f64>().ok()
    };
    threads.flatten().filter_map(of_thread).sum::<f64>() * 1e-9
}

/// Peak of the resident set, bytes. Linux reports it here; elsewhere it is not known.
fn peak_bytes() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    status
        .lines()
        .find_map(|l| l.strip_prefix("VmHWM:")?.split_whitespace().next()?.parse::<f64>().ok())
        .map_or(f64::NAN, |kilobytes| 1024.0 * kilobytes)
}
