//! The bladeform command: parse, run, exit status. 0 done, 1 the input cannot be used, 2 the command line is wrong.
//! A caller without a command line finds the same options and the same work in [`calls`].

mod about;
mod advice;
mod arguments;
mod bench;
pub mod calls;
mod compare;
mod demo;
mod failure;
mod fault;
mod feedback;
mod harmless;
mod held;
mod held_comparison;
mod input;
mod interrupt;
mod limits;
mod measure;
mod output;
mod photographs;
mod predict;
mod record;
mod rows;
mod section_line;
mod shell;
mod solid;
mod units;

use std::io::Write;
use std::process::ExitCode;

use arguments::{Arguments, Command, command_line};
use bladeform::quantity::ShownUnits;
use bladeform::table::without_details;
use clap::FromArgMatches;
use failure::{Failure, Said};
use feedback::Loudness;
use harmless::harmless;
use units::Units;

/// Exit status of an input that cannot be used, or of a full standard output.
const UNUSABLE: u8 = 1;
/// Exit status of a wrong command line.
const WRONG_USAGE: u8 = 2;

/// The whole command: reads the command line, works, prints, and returns the exit status.
#[must_use]
pub fn command() -> ExitCode {
    let parsed = command_line().try_get_matches().and_then(|typed| {
        let mut asked = Arguments::from_arg_matches(&typed)?;
        asked.learn_units(&typed);
        Ok(asked)
    });
    let asked = match parsed {
        Ok(asked) => asked,
        Err(wrong) if wrong.use_stderr() => {
            // Nothing can be printed when standard error is closed.
            let _ = wrong.print();
            return ExitCode::from(WRONG_USAGE);
        }
        // Help and version also arrive here.
        Err(asked_for) => return printed(asked_for.print()),
    };
    interrupt::listen();
    let loudness = asked.loudness();
    let units = asked.command.units().map_or(ShownUnits::SI, Units::shown);
    let shown = |text: &str| {
        let text = units.text(text);
        if loudness == Loudness::Verbose { text } else { without_details(&text).into_owned() }
    };
    feedback::begin(loudness, asked.command.shares());
    let said = fault::guarded(|| bladeform::work::parallel::with_threads(asked.threads(), || run(&asked)));
    feedback::end();
    match said {
        Ok(Said { text, .. }) if loudness != Loudness::Quiet || asked.command.is_text() => {
            let mut out = std::io::stdout();
            let text = harmless(&text);
            printed(out.write_all(text.as_bytes()).and_then(|()| out.flush()))
        }
        Ok(Said { warnings, .. }) => {
            warnings.iter().for_each(|w| tell(&shown(&format!("warning: {w}"))));
            tell(bladeform::table::CAUTION);
            ExitCode::SUCCESS
        }
        Err(Failure::Input(text) | Failure::Coded { text, .. }) => {
            tell(&shown(&text));
            ExitCode::from(UNUSABLE)
        }
        Err(Failure::Usage(text)) => {
            tell(&shown(&text));
            ExitCode::from(WRONG_USAGE)
        }
    }
}

/// The exit status after printing on standard output. A reader that closes early, such as `head`, is not a failure; a full disk is.
fn printed(result: std::io::Result<()>) -> ExitCode {
    match result {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            tell(&format!("the results cannot be written to standard output: {e}"));
            ExitCode::from(UNUSABLE)
        }
        _ => ExitCode::SUCCESS,
    }
}

/// One line on standard error. Nothing can be printed when it is closed.
fn tell(text: &str) {
    let _ = writeln!(std::io::stderr(), "bladeform: {}", harmless(text));
}

fn run(asked: &Arguments) -> Result<Said, Failure> {
    match &asked.command {
        Command::Measure(asked) => measure::measure_file(asked),
        Command::Predict(asked) => predict::predict_file(asked),
        Command::Solid(asked) => solid::solid(asked),
        Command::Compare(asked) => compare::compare_files(asked),
        Command::Record(asked) => record::record(asked),
        Command::Demo { out, overwrite, units } => demo::demo(out, *overwrite, units.shown()),
        Command::Bench(options) => bench::bench(options, asked.threads()),
        Command::Completions { shell } => Ok(shell::completions(*shell)),
        Command::Manual { out } => shell::manual(out),
    }
}
