//! A comparison that is in the folder already: one of other tables is not replaced without being asked.

use std::path::Path;

use bladeform::document::{CSV_DESCRIPTION, compared_tables};

use crate::failure::Failure;

/// The two tables of a comparison: name and SHA-256 of each file.
pub(crate) type Compared<'a> = [(&'a str, &'a str); 2];

/// Refuses to replace a comparison of other tables, or one that does not say of which. `csv` and `page`: the files about to be written.
///
/// # Errors
/// One sentence that names the file and what to do.
pub(crate) fn must_be_of(
    csv: &Path,
    page: Option<&std::path::PathBuf>,
    tables: Compared<'_>,
) -> Result<(), Failure> {
    let shas = tables.map(|(_, sha256)| sha256);
    let text_of = |path: &Path| {
        path.is_file()
            .then(|| std::fs::read(path).ok())
            .flatten()
            .map(|b| String::from_utf8_lossy(&b).into_owned())
    };
    if csv.is_file() {
        let mut name = csv.file_name().unwrap_or_default().to_owned();
        name.push(CSV_DESCRIPTION);
        let held = text_of(&csv.with_file_name(name)).and_then(|text| compared_tables(text.as_bytes()));
        match held {
            Some(held) if held.iter().map(|t| t.1.as_str()).eq(shas) => {}
            Some([first, second]) => {
                return Err(refused(csv, &format!("compares other tables, {} and {}", first.0, second.0)));
            }
            None => return Err(refused(csv, "does not say which tables it compares")),
        }
    }
    let Some((page, text)) = page.and_then(|page| Some((page, text_of(page)?))) else { return Ok(()) };
    // The page states the SHA-256 of both.
    match shas.iter().all(|sha256| text.contains(sha256)) {
        true => Ok(()),
        false => Err(refused(page, "is the page of other tables")),
    }
}

fn refused(path: &Path, what: &str) -> Failure {
    Failure::Input(format!(
        "{} {what} and would be lost; choose another output with --out, or give --overwrite to replace it",
        path.display()
    ))
}
