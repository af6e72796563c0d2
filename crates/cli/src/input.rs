//! The only reader of files: one sentence says what is wrong with a path.

use std::borrow::Cow;
use std::io::Read;
use std::path::Path;

use bladeform::document::{CSV_DESCRIPTION, is_json, read_described_csv, read_table, sha256_hex};
use bladeform::quantity::Length;
use bladeform::table::StationTable;

use crate::failure::Failure;

/// All bytes of a file or pipe.
///
/// `what`: the expected content with its article, such as `the scan`.
///
/// # Errors
/// [`Failure::Input`] if the path is missing, unreadable, a folder, a device, or empty.
pub(crate) fn bytes_of(path: &Path, what: &str) -> Result<Vec<u8>, Failure> {
    let name = path.display();
    let refused = |e: std::io::Error| Failure::Input(format!("{name} cannot be read: {e}; give {what}"));
    let found = std::fs::metadata(path).map_err(refused)?;
    if found.is_dir() {
        return Err(Failure::Input(format!("{name} is a folder; give {what}")));
    }
    if !may_be_read(&found.file_type()) {
        return Err(Failure::Input(format!("{name} is a device, which never ends; give {what}")));
    }
    let mut bytes = Vec::new();
    std::fs::File::open(path).and_then(|mut file| file.read_to_end(&mut bytes)).map_err(refused)?;
    if bytes.is_empty() {
        return Err(Failure::Input(format!("{name} is empty; give {what}")));
    }
    log::debug!(target: crate::feedback::CHOSEN, "read {name}, {} bytes", bytes.len());
    Ok(bytes)
}

/// A station table, JSON or CSV, and the SHA-256 of its file.
///
/// # Errors
/// [`Failure::Input`] with a sentence naming the file.
pub(crate) fn table_of(path: &Path, diameter: Option<Length>) -> Result<(StationTable, String), Failure> {
    let bytes = bytes_of(path, "a station table: stations.json, or a CSV file")?;
    // A CSV file whose description lies beside it has hand, setting and sizes.
    let description = description_of(path).filter(|_| diameter.is_none() && !is_json(&bytes));
    let read = match &description {
        Some(description) => read_described_csv(&bytes, description),
        None => read_table(&bytes, diameter.map(|d| 0.5 * d.m())),
    };
    let table = read.map_err(|e| Failure::of(e.code(), format!("{}: {e}", path.display())))?;
    Ok((table, sha256_hex(&bytes)))
}

/// The smooth blade of a table where it was asked for, else the table itself.
///
/// # Errors
/// [`Failure::Input`] if the table has no smooth blade.
pub(crate) fn smooth_or_own(table: &StationTable, smooth: bool) -> Result<Cow<'_, StationTable>, Failure> {
    if !smooth {
        return Ok(Cow::Borrowed(table));
    }
    table.on_smooth_blade().map(Cow::Owned).ok_or_else(|| {
        Failure::Input(
            "--smooth-blade: the table has no smooth blade; measure the scan again with at least eight stations, or leave the option out"
                .to_owned(),
        )
    })
}

/// The description beside a CSV file, if there is one that can be read.
fn description_of(path: &Path) -> Option<Vec<u8>> {
    let mut name = path.file_name()?.to_owned();
    name.push(CSV_DESCRIPTION);
    std::fs::read(path.with_file_name(name)).ok()
}

/// Regular files and pipes: a scan may come from another program.
#[cfg(unix)]
fn may_be_read(kind: &std::fs::FileType) -> bool {
    use std::os::unix::fs::FileTypeExt;
    kind.is_file() || kind.is_fifo()
}

#[cfg(not(unix))]
fn may_be_read(kind: &std::fs::FileType) -> bool {
    kind.is_file()
}
