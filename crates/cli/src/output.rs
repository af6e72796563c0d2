//! The only writer to disk: a temporary file beside the goal, then a rename, so that nothing half-written stays behind.

use std::io::Write;
use std::path::Path;

use bladeform::{StationTable, write_csv, write_json};

/// Writes `stations.json` and `stations.csv` into a folder, which is made if it is missing.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn write_tables(table: &StationTable, folder: &Path) -> Result<(), String> {
    std::fs::create_dir_all(folder)
        .map_err(|e| format!("the folder {} cannot be made: {e}", folder.display()))?;
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    write_json(table, &mut json).map_err(|e| format!("the table cannot be written as JSON: {e}"))?;
    write_csv(table, &mut csv).map_err(|e| format!("the table cannot be written as CSV: {e}"))?;
    write_whole(&folder.join("stations.json"), &json)?;
    write_whole(&folder.join("stations.csv"), &csv)
}

/// Writes a file whole or not at all.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), String> {
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let say = |e: std::io::Error| format!("{} cannot be written: {e}", path.display());
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(say)?;
    file.write_all(bytes).map_err(say)?;
    file.persist(path).map_err(|e| say(e.error))?;
    Ok(())
}
