//! The only writer to disk: a temporary file beside the goal, then a rename, so that nothing half-written stays behind.

use std::io::Write;
use std::path::{Path, PathBuf};

use bladeform::{StationTable, write_csv, write_json};

/// A table as the bytes of `stations.json` and `stations.csv`.
///
/// # Errors
/// A sentence naming the format.
pub(crate) fn table_files(table: &StationTable) -> Result<(Vec<u8>, Vec<u8>), String> {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    write_json(table, &mut json).map_err(|e| format!("the table cannot be written as JSON: {e}"))?;
    write_csv(table, &mut csv).map_err(|e| format!("the table cannot be written as CSV: {e}"))?;
    Ok((json, csv))
}

/// Writes files that belong together into a folder, which is made if it is missing.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn write_all(folder: &Path, files: &[(&str, &[u8])]) -> Result<(), String> {
    std::fs::create_dir_all(folder)
        .map_err(|e| format!("the folder {} cannot be made: {e}", folder.display()))?;
    // All stand beside their goals before any is renamed, so that a full disk leaves no half of a set.
    let staged: Vec<Staged> =
        files.iter().map(|(name, bytes)| staged(&folder.join(name), bytes)).collect::<Result<_, _>>()?;
    staged.into_iter().try_for_each(Staged::put)
}

/// Writes a file whole or not at all.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), String> {
    staged(path, bytes)?.put()
}

/// A file's content on disk beside its goal; gone again if it is dropped.
struct Staged {
    file: tempfile::NamedTempFile,
    path: PathBuf,
}

impl Staged {
    fn put(self) -> Result<(), String> {
        let Self { file, path } = self;
        file.persist(&path).map(drop).map_err(|e| unwritten(&path, &e.error))
    }
}

/// Refuses an output that is one of the files that are read.
///
/// # Errors
/// A sentence naming the file.
pub(crate) fn not_an_input<'a>(
    out: &Path,
    inputs: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<(), String> {
    let same = |input: &PathBuf| input.canonicalize().is_ok_and(|i| out.canonicalize().is_ok_and(|o| i == o));
    match inputs.into_iter().any(same) {
        true => Err(format!("{} is read by this very command; name another file to write", out.display())),
        false => Ok(()),
    }
}

/// The file itself where a link leads to it. A device or a folder is not to be replaced by a file.
fn goal(path: &Path) -> Result<PathBuf, String> {
    match std::fs::metadata(path) {
        Ok(found) if found.is_file() => path.canonicalize().map_err(|e| unwritten(path, &e)),
        Ok(_) => Err(format!("{} is a folder or a device and is not replaced; name a file", path.display())),
        Err(_) => Ok(path.to_owned()),
    }
}

fn staged(path: &Path, bytes: &[u8]) -> Result<Staged, String> {
    let path = &goal(path)?;
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    // A temporary file is for its owner only; a result is for whom the user's mask allows.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let mut file = builder.tempfile_in(folder).map_err(|e| unwritten(path, &e))?;
    file.write_all(bytes).map_err(|e| unwritten(path, &e))?;
    Ok(Staged { file, path: path.to_owned() })
}

fn unwritten(path: &Path, error: &std::io::Error) -> String {
    format!("{} cannot be written: {error}", path.display())
}
