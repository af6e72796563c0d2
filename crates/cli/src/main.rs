//! The bladeform command: parse, run, exit status. 0 done, 1 the input cannot be used, 2 the command line is wrong.

mod arguments;
mod compare;
mod demo;
mod failure;
mod output;
mod predict;
mod record;
mod solid;

use std::io::Write;
use std::process::ExitCode;

use arguments::{Arguments, Command, Measure};
use bladeform::{measure_with_part, render};
use clap::Parser;
use failure::Failure;

fn main() -> ExitCode {
    match run(&Arguments::parse().command) {
        Ok(text) => match std::io::stdout().write_all(text.as_bytes()) {
            // A reader that closed early, as `head` does, is no failure.
            Ok(()) => ExitCode::SUCCESS,
            Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(failure) => {
            let (text, status) = match failure {
                Failure::Input(text) => (text, 1),
                Failure::Usage(text) => (text, 2),
            };
            // Nothing can be told when standard error is closed.
            let _ = writeln!(std::io::stderr(), "bladeform: {text}");
            ExitCode::from(status)
        }
    }
}

fn run(command: &Command) -> Result<String, Failure> {
    match command {
        Command::Measure(asked) => measure_file(asked),
        Command::Predict(asked) => predict::predict_file(asked),
        Command::Solid(asked) => solid::solid(asked),
        Command::Compare(asked) => compare::compare_files(asked),
        Command::Demo { out } => demo::demo(out).map_err(Failure::Input),
        Command::Record(asked) => record::record(asked),
    }
}

fn measure_file(asked: &Measure) -> Result<String, Failure> {
    let plan = asked.plan().map_err(Failure::Usage)?;
    let name = asked.scan.display();
    if asked.scan.is_dir() {
        return Err(Failure::Input(format!("{name} is a folder; give the scan's file")));
    }
    let bytes =
        std::fs::read(&asked.scan).map_err(|e| Failure::Input(format!("{name} cannot be read: {e}")))?;
    let file = asked.scan.file_name().map_or_else(String::new, |f| f.to_string_lossy().into_owned());
    let (table, part) =
        measure_with_part(&bytes, &file, &plan).map_err(|e| Failure::Input(format!("{name}: {e}")))?;
    let (json, csv) = output::table_files(&table).map_err(Failure::Input)?;
    let page = asked.page.of_measured(&json, &part);
    let files = page.with(&[("stations.json", &json), ("stations.csv", &csv)]);
    output::write_all(&asked.out, &files).map_err(Failure::Input)?;
    Ok(render(&table) + &page.told)
}
