//! The work of a small measurement, counted in instructions: a regression that no loaded machine can hide and no fast one can excuse.

use std::process::Command;

use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};

use crate::tool::{BLADEFORM, tell, text};

/// Instructions of the measurement below as built by `.ci/run`, in millions.
///
/// To renew it after a change that is meant: set it to the number that the failing test names, and say in the commit why it changed. Another compiler changes it too.
const MILLIONS: f64 = 3425.8;

/// Greatest relative departure. Hash tables with random keys move the count by less than a hundredth of this.
const TOLERANCE: f64 = 0.03;

/// Libraries that look what the processor can do and choose their code by it. They are left out, as is everything outside the program's own file, such as `memcpy`.
const BY_PROCESSOR: [&str; 3] = ["matrixmultiply", "memchr", "sha2"];

/// Callgrind (`valgrind`) counts the instructions of one measurement on one thread. The number holds for the build of `.ci/run` alone: incremental builds inline otherwise.
#[test]
fn a_measurement_takes_no_more_instructions_than_before() {
    let is_ci = std::env::var("BLADEFORM_CI").is_ok_and(|v| v == "1");
    if !is_ci {
        tell(
            "\nSKIPPED: instructions are counted only by .ci/run (BLADEFORM_CI=1), whose build has the stored count",
        );
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    // A propeller: a lone blade has two dozen sections more, between its stations, which take too long to count.
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let mesh = scan_of_propeller(&propeller, &ScanPlan { triangles: 20_000, ..ScanPlan::usual(11) }).mesh;
    let scan = folder.path().join("scan.stl");
    bladeform_mesh::write_stl_binary(&mesh, &mut std::fs::File::create(&scan).unwrap()).unwrap();
    let counts = folder.path().join("counts");
    let run = Command::new("valgrind")
        .args(["--tool=callgrind", &format!("--callgrind-out-file={}", counts.display())])
        .args([BLADEFORM, "--threads", "1", "measure"])
        .arg(scan)
        .args(["--at", "0.5,0.75", "--no-record", "--out"])
        .arg(folder.path().join("out"))
        .output()
        .expect("valgrind must be installed: .ci/run installs it");
    assert!(run.status.success(), "{}{}", text(&run.stdout), text(&run.stderr));
    let counted = own_instructions(&std::fs::read_to_string(&counts).unwrap()) / 1e6;
    tell(&format!("\n{counted:.1} million instructions for {MILLIONS} stored"));
    assert!(
        (counted / MILLIONS - 1.0).abs() < TOLERANCE,
        "{counted:.1} million instructions for {MILLIONS}: where the change is meant, set MILLIONS in tests/instructions.rs to {counted:.1}"
    );
}

/// Instructions of the program's own file in the output of callgrind, without those of [`BY_PROCESSOR`].
///
/// The format: Valgrind documentation, *Callgrind format specification*. `ob=` and `fn=` begin a file and a function, with a number for a name that was there
/// before; the line after `calls=` holds what the called function took, which is counted there.
fn own_instructions(counts: &str) -> f64 {
    let mut names = std::collections::HashMap::new();
    let (mut is_own, mut is_counted, mut is_call, mut sum) = (false, false, false, 0.0);
    for line in counts.lines() {
        // Numbers of files and functions are counted apart.
        let mut named = |kind: &str, of: &str| {
            let (number, name) = of.split_once(' ').unwrap_or((of, ""));
            let known = names.entry(format!("{kind}{number}")).or_insert_with(String::new);
            if !name.is_empty() {
                name.clone_into(known);
            }
            known.clone()
        };
        if let Some(of) = line.strip_prefix("ob=") {
            is_own = named("ob", of).ends_with("/bladeform");
        } else if let Some(of) = line.strip_prefix("cob=") {
            named("ob", of);
        } else if let Some(of) = line.strip_prefix("fn=") {
            let name = named("fn", of);
            is_counted = is_own && !BY_PROCESSOR.iter().any(|library| name.contains(library));
        } else if let Some(of) = line.strip_prefix("cfn=") {
            named("fn", of);
        } else if line.starts_with("calls=") {
            is_call = true;
        } else if line.starts_with(|c: char| c.is_ascii_digit() || "+-*".contains(c)) {
            let cost: f64 = line.split_whitespace().nth(1).and_then(|c| c.parse().ok()).unwrap_or(0.0);
            if !std::mem::take(&mut is_call) && is_counted {
                sum += cost;
            }
        }
    }
    sum
}

#[test]
fn calls_are_counted_where_they_are_executed() {
    let counts = "events: Ir\nob=(1) /x/bladeform\nfl=(1) ???\nfn=(1) main\n0 7\ncob=(2) /lib/libc.so\ncfn=(2) memcpy\ncalls=1 0\n0 100\n+1 2\n\
        ob=(2)\nfn=(2)\n0 100\nob=(1)\nfn=(3) sha2::compress\n0 50\nfn=(1)\n0 1\n";
    assert!((own_instructions(counts) - 10.0).abs() < 1e-9);
}
