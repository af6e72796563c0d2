//! Converts a scan to a station table: `stations.json` and `stations.csv`.
//!
//! `cargo run --release -p bladeform --example scan_to_table -- [SCAN LENGTH DIAMETER]`, with lengths such as `1.30m` or `4ft2in`. Without arguments it
//! measures the scan of an invented blade.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example prints its result")]

mod common;

use std::error::Error;
use std::ops::ControlFlow;
use std::path::Path;

use bladeform::document::{write_csv, write_json};
use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::quantity::Length;
use bladeform::work::Stage;

/// Folder of the results.
const FOLDER: &str = "scan-to-table";

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (scan, plan) = if let [scan, length, diameter] = &arguments[..] {
        let plan = MeasurePlan {
            length_m: Some(Length::parse(length)?.m()),
            diameter_m: Some(Length::parse(diameter)?.m()),
            ..MeasurePlan::default()
        };
        (std::fs::read(scan)?, plan)
    } else {
        common::invented_scan()?
    };

    // An observer hears the stages. It could end the call with `ControlFlow::Break`.
    let observer = |stage: Stage<'_>| {
        if stage.done <= 1 {
            eprintln!("{} ...", stage.name);
        }
        ControlFlow::Continue(())
    };
    let table = measure(ScanInput::file(&scan, "scan"), &plan, &observer)?;

    // Warnings have codes, so that a program can choose among them.
    for notice in table.warnings.iter().filter(|n| n.code() != "relative-angles") {
        eprintln!("{}: {}", notice.code(), notice.sentence());
    }
    let folder = Path::new(FOLDER);
    std::fs::create_dir_all(folder)?;
    write_json(&table, std::fs::File::create(folder.join("stations.json"))?)?;
    write_csv(&table, std::fs::File::create(folder.join("stations.csv"))?)?;
    println!("{} stations are in {}", table.stations.len(), folder.display());
    Ok(())
}
