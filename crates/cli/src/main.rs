//! The bladeform command. The measuring itself is not built yet; the command says so instead of pretending.

use std::io::Write;
use std::process::ExitCode;

fn main() -> ExitCode {
    // The message is all there is to lose when standard error is closed.
    let _ = writeln!(
        std::io::stderr(),
        "bladeform: measuring is not built yet; the libraries below it are (see README.md)"
    );
    ExitCode::FAILURE
}
