//! The command line: the commands and the options that all of them accept.

use std::path::PathBuf;

use clap::{ArgMatches, CommandFactory, Parser, Subcommand};

use crate::feedback::{Loudness, Shares};
use crate::units::Units;

/// From a scan of a propeller blade to numbers that can be defended.
#[derive(Debug, Parser)]
#[command(name = "bladeform", version, about, after_help = bladeform::table::CAUTION)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
    /// Print only warnings and errors, on standard error. The results are in the files.
    #[arg(long, global = true, conflicts_with = "verbose")]
    quiet: bool,
    /// Print what was read and chosen, and the time of each stage, on standard error.
    #[arg(long, global = true)]
    verbose: bool,
    /// Number of threads; the results do not depend on it [default: one per processor core].
    #[arg(long, global = true, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=64))]
    threads: Option<u8>,
}

impl Arguments {
    /// Number of threads; 0 means one per processor core.
    pub(crate) fn threads(&self) -> usize {
        self.threads.map_or(0, usize::from)
    }

    /// Remembers the units in which lengths, speeds and powers were typed.
    pub(crate) fn learn_units(&mut self, typed: &ArgMatches) {
        if let (Some(units), Some((_, typed))) = (self.command.units_mut(), typed.subcommand()) {
            units.learn(typed);
        }
    }

    pub(crate) const fn loudness(&self) -> Loudness {
        match (self.quiet, self.verbose) {
            (true, _) => Loudness::Quiet,
            (_, true) => Loudness::Verbose,
            _ => Loudness::Usual,
        }
    }
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Measure a scan of one blade or of a whole propeller: stations.json, stations.csv and the page record.html.
    #[command(
        after_help = "Example: bladeform measure blade.ply --length 50in --diameter 108in --out blade-record"
    )]
    Measure(Box<crate::measure::Measure>),
    /// Predict thrust, power and efficiency from a station table: prediction.json, prediction.csv and the page record.html.
    #[command(
        after_help = "Example: bladeform predict blade-record/stations.json --blades 2 --rpm 1750 --speed 120mph --setting 5:40:1 --out blade-record"
    )]
    Predict(Box<crate::predict::Predict>),
    /// Build a clean propeller at any setting: closed solids, section templates, distance between scan and surface.
    #[command(
        after_help = "Example: bladeform solid blade-record/stations.json --blades 2 --hub-diameter 280mm --setting 20deg@0.75 -o propeller.stl"
    )]
    Solid(Box<crate::solid::Solid>),
    /// Compare two tables: before and after, left and right blade, scan and drawing: comparison.csv and the page comparison.html.
    #[command(after_help = crate::compare::AFTER_HELP)]
    Compare(Box<crate::compare::Compare>),
    /// Make one page of a station table, its scan and its predictions. It opens in any browser and prints.
    #[command(
        after_help = "Example: bladeform record blade-record/stations.json --title \"Port blade\" -o blade.html"
    )]
    Record(Box<crate::record::RecordArguments>),
    /// Run the whole job on an invented scan and compare each figure with the truth.
    #[command(after_help = "Example: bladeform demo --out bladeform-demo")]
    Demo {
        /// Folder for the results.
        #[arg(long, value_name = "DIR", default_value = "bladeform-demo")]
        out: PathBuf,
        /// Replace the record of another scan in the folder.
        #[arg(long)]
        overwrite: bool,
        #[command(flatten)]
        units: Units,
    },
    /// Open the bench: a page on this machine where a scan is dropped, seen, measured and kept, without a command line.
    #[command(after_help = "Example: bladeform bench port-blade")]
    Bench(crate::bench::Bench),
    /// Print shell completions for this command.
    #[command(
        after_help = "Example: bladeform completions bash > ~/.local/share/bash-completion/completions/bladeform"
    )]
    Completions {
        /// The shell.
        #[arg(value_name = "SHELL")]
        shell: clap_complete::Shell,
    },
    /// Write the manual pages: bladeform.1 and one page for each command.
    #[command(after_help = "Example: bladeform manual --out ~/.local/share/man/man1")]
    Manual {
        /// Folder for the pages.
        #[arg(long, value_name = "DIR", default_value = ".")]
        out: PathBuf,
    },
}

impl Command {
    /// The stages of the command with their fractions of its time, as `--verbose` shows them for ordinary inputs, rounded.
    pub(crate) const fn shares(&self) -> Shares {
        match self {
            Self::Measure(_) => crate::measure::SHARES,
            Self::Predict(_) => crate::predict::SHARES,
            Self::Solid(_) => crate::solid::SHARES,
            Self::Demo { .. } => crate::demo::SHARES,
            Self::Record(_) => crate::record::SHARES,
            _ => &[],
        }
    }

    /// The units of what the command shows; `None` if it shows no figures.
    pub(crate) fn units(&self) -> Option<Units> {
        match self {
            Self::Measure(asked) => Some(asked.units),
            Self::Predict(asked) => Some(asked.units),
            Self::Solid(asked) => Some(asked.units),
            Self::Compare(asked) => Some(asked.units),
            Self::Record(asked) => Some(asked.units),
            Self::Demo { units, .. } => Some(*units),
            Self::Bench(_) | Self::Completions { .. } | Self::Manual { .. } => None,
        }
    }

    fn units_mut(&mut self) -> Option<&mut Units> {
        match self {
            Self::Measure(asked) => Some(&mut asked.units),
            Self::Predict(asked) => Some(&mut asked.units),
            Self::Solid(asked) => Some(&mut asked.units),
            Self::Compare(asked) => Some(&mut asked.units),
            Self::Record(asked) => Some(&mut asked.units),
            Self::Demo { units, .. } => Some(units),
            Self::Bench(_) | Self::Completions { .. } | Self::Manual { .. } => None,
        }
    }

    /// Whether the text is the result itself, which `--quiet` must not suppress.
    pub(crate) const fn is_text(&self) -> bool {
        matches!(self, Self::Completions { .. })
    }
}

/// Commands that make something to be read as a propeller; their help ends with the caution.
const CAUTIOUS: [&str; 7] = ["measure", "predict", "solid", "compare", "record", "demo", "bench"];

/// The command line, with the caution in the help of each command whose results could be built or flown.
pub(crate) fn command_line() -> clap::Command {
    Arguments::command().mut_subcommands(|command| {
        if !CAUTIOUS.contains(&command.get_name()) {
            return command;
        }
        let example = command.get_after_help().map(ToString::to_string).unwrap_or_default();
        command.after_help(format!("{example}\n\n{}", bladeform::table::CAUTION))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_definition_is_sound() {
        Arguments::command().debug_assert();
    }

    /// Splits a line like a shell, as far as the examples need it: blanks, double quotes and redirection.
    fn words(line: &str) -> Vec<String> {
        let line = line.split(" > ").next().unwrap_or(line);
        let mut words = vec![String::new()];
        for (i, part) in line.split('"').enumerate() {
            for (j, piece) in part.split(' ').enumerate() {
                if i % 2 == 0 && 0 < j {
                    words.push(String::new());
                } else if 0 < j {
                    words.last_mut().unwrap().push(' ');
                }
                words.last_mut().unwrap().push_str(piece);
            }
        }
        words.retain(|w| !w.is_empty());
        words
    }

    #[test]
    fn every_command_shows_an_example_that_is_understood() {
        let top = Arguments::command();
        for command in top.get_subcommands() {
            let help = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            let example = help.lines().find_map(|l| l.strip_prefix("Example: "));
            let example = example.unwrap_or_else(|| panic!("{} shows no example", command.get_name()));
            let parsed = Arguments::try_parse_from(words(example));
            assert!(parsed.is_ok(), "{example}: {}", parsed.unwrap_err());
        }
    }
}
