//! Mutated files through every reader: no panic, no hang, no memory beyond a small multiple of the file.
//!
//! Mutations without coverage guidance, seeded, so that a run can be repeated: flipped and replaced bytes, cut ends, repeated and moved pieces, numbers
//! replaced by extreme ones, pieces of another seed. A file that does harm is kept under `target/fuzz`.

use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::time::{Duration, Instant};

use bladeform_measure::{MeasurePlan, measure};
use bladeform_specimen::Random;

/// A reader under test and whether it took the bytes.
type Target = (&'static str, fn(&[u8]) -> bool);

const TARGETS: [Target; 5] = [
    ("mesh", |b| bladeform_mesh::read(b).is_ok()),
    ("measure", |b| {
        measure(b, "fuzz", &MeasurePlan { length_m: Some(1.0), ..MeasurePlan::default() }).is_ok()
    }),
    ("stations.json", |b| bladeform_document::read_json(b).is_ok()),
    ("stations.csv", |b| bladeform_document::read_csv(b, Some(1.0)).is_ok()),
    ("prediction.json", |b| bladeform_document::read_prediction_json(b).is_ok()),
];
/// Longest time that one small file may take before it counts as a hang.
const PATIENCE: Duration = Duration::from_secs(5);
/// Largest mutated file, bytes.
const LARGEST: usize = 200_000;
/// Numbers that break readers.
const EXTREMES: [&str; 14] = [
    "0",
    "-1",
    "1e308",
    "-1e308",
    "1e-320",
    "nan",
    "inf",
    "4294967295",
    "4294967296",
    "18446744073709551615",
    "-9223372036854775808",
    "1e999",
    "0x10",
    "",
];

fn mutated(random: &mut Random, seeds: &[Vec<u8>]) -> Vec<u8> {
    let pick = |random: &mut Random, n: usize| (random.bits() % n.max(1) as u64) as usize;
    let mut bytes = seeds[pick(random, seeds.len())].clone();
    for _ in 0..=pick(random, 4) {
        if bytes.is_empty() {
            break;
        }
        let at = pick(random, bytes.len());
        let length = 1 + pick(random, 16.min(bytes.len() - at).max(1));
        match random.bits() % 9 {
            0 => bytes[at] ^= 1 << (random.bits() % 8),
            1 => bytes[at] = random.bits() as u8,
            2 => bytes.truncate(at),
            3 => {
                let piece = bytes[at..(at + length * 8).min(bytes.len())].to_vec();
                let times = 1 + pick(random, 40);
                for _ in 0..times {
                    bytes.splice(at..at, piece.iter().copied());
                }
            }
            4 => {
                bytes.drain(at..(at + length).min(bytes.len()));
            }
            5 => {
                // A 32-bit count in a binary header.
                let value = [0_u32, 1, 0x7fff_ffff, 0xffff_ffff, 0x0100_0000][pick(random, 5)];
                for (b, v) in bytes[at..].iter_mut().zip(value.to_le_bytes()) {
                    *b = v;
                }
            }
            6 | 7 => {
                // The next number in text.
                let is_digit = |b: &u8| b.is_ascii_digit() || b"+-.eE".contains(b);
                if let Some(start) = bytes[at..].iter().position(u8::is_ascii_digit).map(|p| at + p) {
                    let end =
                        bytes[start..].iter().position(|b| !is_digit(b)).map_or(bytes.len(), |p| start + p);
                    let value = EXTREMES[pick(random, EXTREMES.len())];
                    bytes.splice(start..end, value.bytes());
                }
            }
            _ => {
                let other = &seeds[pick(random, seeds.len())];
                let from = pick(random, other.len());
                bytes.truncate(at);
                bytes.extend_from_slice(&other[from..]);
            }
        }
        bytes.truncate(LARGEST);
    }
    bytes
}

fn seeds(target: &str) -> std::io::Result<Vec<Vec<u8>>> {
    let fixtures = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../fixtures");
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs");
    Ok(match target {
        "mesh" | "measure" => {
            let mut files: Vec<_> = std::fs::read_dir(fixtures)?.filter_map(Result::ok).map(|e| e.path()).collect();
            files.sort();
            files.retain(|f| f.extension().is_some_and(|e| e != "md"));
            files.iter().map(std::fs::read).collect::<Result<_, _>>()?
        }
        "stations.json" => {
            let mut table = bladeform_table::StationTable::default();
            table.blade.radius_m = 1.0;
            table.stations = [0.3, 0.6, 0.9].map(|r| bladeform_table::Station::at(r, 1.0)).to_vec();
            let mut json = Vec::new();
            bladeform_document::write_json(&table, &mut json).map_err(std::io::Error::other)?;
            vec![json, br#"{"blade": {"radius_m": 1.0}, "stations": [{"radius_m": 0.5, "chord_m": 0.16, "outline": {"x": [0, 1, 1], "y": [0, 0, 1]}}]}"#.to_vec()]
        }
        "stations.csv" => vec![b"radius_m,chord_m,u_chord_m,blade_angle_deg,thickness_ratio,camber_ratio,flags\n0.3,0.2,0.001,30,0.15,0.03,\"a; b\"\n0.9,0.1,,12,0.1,0.03,\n".to_vec()],
        _ => vec![std::fs::read(docs.join("prediction-example.json"))?],
    })
}

/// Runs every target for some seconds and prints what happened. An error when any file did harm.
pub(crate) fn run(seconds: u64, seed: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/fuzz");
    let mut harmful = 0;
    std::panic::set_hook(Box::new(|_| {}));
    for (name, reader) in TARGETS {
        let seeds = seeds(name)?;
        let mut random = Random::new(seed);
        let (mut runs, mut taken, mut slowest) = (0_u64, 0_u64, Duration::ZERO);
        let begin = Instant::now();
        while begin.elapsed() < Duration::from_secs(seconds) {
            let bytes = mutated(&mut random, &seeds);
            let start = Instant::now();
            let result = catch_unwind(AssertUnwindSafe(|| reader(&bytes)));
            let spent = start.elapsed();
            slowest = slowest.max(spent);
            runs += 1;
            taken += u64::from(matches!(result, Ok(true)));
            if result.is_err() || PATIENCE < spent {
                harmful += 1;
                std::fs::create_dir_all(&kept)?;
                let file = kept.join(format!("{name}-{seed}-{runs}"));
                std::fs::write(&file, &bytes)?;
                writeln!(
                    out,
                    "{name}: {} after {spent:.2?}: {}",
                    if result.is_err() { "panic" } else { "hang" },
                    file.display()
                )?;
            }
        }
        writeln!(out, "{name}: {runs} files, {taken} taken, slowest {:.1} ms", 1e3 * slowest.as_secs_f64())?;
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = status.lines().find_map(|l| l.strip_prefix("VmHWM:")).unwrap_or(" unknown");
    writeln!(out, "peak memory of the process{peak}; files up to {} kB", LARGEST / 1000)?;
    if harmful == 0 { Ok(()) } else { Err(std::io::Error::other(format!("{harmful} files did harm"))) }
}
