//! The bladeform command: the binary, which only calls the library of the same crate.

use std::process::ExitCode;

fn main() -> ExitCode {
    bladeform_cli::command()
}
