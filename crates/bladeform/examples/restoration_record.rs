//! Measures a blade and makes the page for its restoration file.
//!
//! `cargo run --release -p bladeform --example restoration_record -- [FILE.html]`. It measures the scan of an invented blade.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example prints its result")]

mod common;

use std::error::Error;

use bladeform::measure::{ScanInput, measure, part_of};
use bladeform::record::{RecordPlan, ScanPart, record};
use bladeform::work::Silent;

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args().nth(1).unwrap_or_else(|| "quarry-mill-record.html".to_owned());
    let (scan, plan) = common::invented_scan()?;
    let table = measure(ScanInput::file(&scan, "quarry-mill.ply"), &plan, &Silent)?;

    // The page shows the part that was measured, coloured by its distance from the fitted outlines.
    let part = ScanPart::of(part_of(&scan, true)?);
    let plan = RecordPlan {
        scan: Some(&part),
        title: "Quarry Mill No. 4",
        part_note: "Oak, one blade of two; nick at the leading edge filled in an earlier repair.",
        date: "2026-01-31",
        ..RecordPlan::of(&table)
    };
    let page = record(&plan, &Silent)?;
    std::fs::write(&file, &page.html)?;
    println!("{file}: {:.1} MB", page.html.len() as f64 / 1e6);
    Ok(())
}
