//! Shell completions and manual pages, made from the definition of the command line.

use std::path::{Path, PathBuf};

use clap_complete::Shell;

use crate::arguments::command_line;
use crate::failure::{Failure, Said};
use crate::output::{Outputs, can_be_written};

/// Name of the command in completions and manuals.
const NAME: &str = "bladeform";

/// The completions for a shell, as text.
pub(crate) fn completions(shell: Shell) -> Said {
    let mut bytes = Vec::new();
    clap_complete::generate(shell, &mut command_line(), NAME, &mut bytes);
    Said { text: String::from_utf8_lossy(&bytes).into_owned(), warnings: Vec::new() }
}

/// Writes a manual page for the command and one for each of its commands.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn manual(out: &Path) -> Result<Said, Failure> {
    let mut top = command_line();
    // Options of all commands appear on every page.
    top.build();
    let commands = || std::iter::once(&top).chain(top.get_subcommands().filter(|c| c.get_name() != "help"));
    let named = |command: &clap::Command| match command.get_name() {
        NAME => NAME.to_owned(),
        part => format!("{NAME}-{part}"),
    };
    can_be_written(commands().map(|c| out.join(format!("{}.1", named(c)))), [])?;
    let mut outputs = Outputs::default();
    let mut names = Vec::new();
    for command in commands() {
        let name = named(command);
        let mut page = Vec::new();
        clap_mangen::Man::new(command.clone().display_name(name.clone()))
            .render(&mut page)
            .map_err(|e| Failure::Input(format!("the manual page {name} cannot be made: {e}")))?;
        let file = format!("{name}.1");
        outputs.add(out.join(PathBuf::from(&file)), page);
        names.push(file);
    }
    outputs.write()?;
    Ok(Said { text: format!("{} are in {}\n", names.join(", "), out.display()), warnings: Vec::new() })
}
