//! Opens the page in the user's browser. The address is not on a command line, where others on the machine could read it: a private file leads to it.

use std::io::Write;
use std::process::{Command, Stdio};

/// The program that opens files with the program of the user's choice.
const OPENER: &[&str] = if cfg!(target_os = "macos") {
    &["open"]
} else if cfg!(windows) {
    &["explorer"]
} else {
    &["xdg-open"]
};

/// Opens a page; the file that leads to it, to be kept while the bench is open. `None` if there is no browser: the address is printed all the same.
pub(super) fn in_browser(address: &str) -> Option<tempfile::NamedTempFile> {
    // Only its owner can read it.
    let mut door = tempfile::Builder::new().prefix("bladeform-").suffix(".html").tempfile().ok()?;
    crate::interrupt::while_open().push(door.path().to_owned());
    let page = format!(
        "<!doctype html><meta charset=\"utf-8\"><meta http-equiv=\"refresh\" content=\"0;url={address}\"><title>Bladeform</title><a href=\"{address}\">Open the bench</a>"
    );
    door.write_all(page.as_bytes()).and_then(|()| door.flush()).ok()?;
    let mut opener = Command::new(OPENER[0]);
    opener.arg(door.path()).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    opener.spawn().ok().map(|_| door)
}
