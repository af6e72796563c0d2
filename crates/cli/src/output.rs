//! The only writer to disk. The outputs of a command are a set: each file is first written next to its destination under a temporary name, and
//! all are renamed together at the end. No failure or interruption leaves part of a set.

use std::io::Write;
use std::path::{Path, PathBuf};

use bladeform::document::{DocumentError, write_csv, write_csv_description, write_json};
use bladeform::table::StationTable;

use crate::failure::Failure;
use crate::held::TABLE_CSV;
use crate::interrupt::under_way;

/// A table as the bytes of `stations.json`, `stations.csv` and the description of the latter.
///
/// # Errors
/// A sentence naming the format.
pub(crate) fn table_files(table: &StationTable) -> Result<[Vec<u8>; 3], Failure> {
    let [mut json, mut csv, mut description] = [const { Vec::new() }; 3];
    let failed =
        |what: &str, e: DocumentError| Failure::Input(format!("the table cannot be written as {what}: {e}"));
    write_json(table, &mut json).map_err(|e| failed("JSON", e))?;
    write_csv(table, &mut csv).map_err(|e| failed("CSV", e))?;
    write_csv_description(table, TABLE_CSV, &mut description)
        .map_err(|e| failed("a description of its columns", e))?;
    Ok([json, csv, description])
}

/// Checks before the long work that files can be written: a destination that is a folder, a device, or one of the inputs is refused, and so is
/// a folder that takes no new files.
///
/// # Errors
/// [`Failure::Usage`] for an input, [`Failure::Input`] for any other obstacle.
pub(crate) fn can_be_written<'a>(
    goals: impl IntoIterator<Item = PathBuf>,
    inputs: impl IntoIterator<Item = &'a PathBuf>,
) -> Result<(), Failure> {
    let inputs: Vec<PathBuf> = inputs.into_iter().filter_map(|i| i.canonicalize().ok()).collect();
    for path in goals {
        let real = goal(&path)?;
        if inputs.contains(&real) {
            return Err(Failure::Usage(format!(
                "{} is an input of this command and would be replaced; choose another output",
                path.display()
            )));
        }
        // The nearest existing parent must be a folder.
        let there = path.ancestors().skip(1).find(|a| a.exists()).unwrap_or(Path::new("."));
        if !there.is_dir() {
            return Err(Failure::Input(format!(
                "{} cannot be written: {} is not a folder; choose another output",
                path.display(),
                there.display()
            )));
        }
        takes_files(there).map_err(|e| {
            Failure::Input(format!(
                "{} cannot be written: no file can be made in the folder {} ({e}); choose another output, or allow writing there",
                path.display(),
                there.display()
            ))
        })?;
    }
    Ok(())
}

/// Whether a folder takes new files. Permissions alone do not say it (full or read-only disks, other owners): one without content is made and removed.
fn takes_files(folder: &Path) -> std::io::Result<()> {
    // Held, so that an interruption between making and removing cannot come.
    let _list = under_way();
    tempfile::Builder::new().prefix(".bladeform-").suffix(".part").tempfile_in(folder)?.close()
}

/// The outputs of one command.
#[derive(Debug, Default)]
pub(crate) struct Outputs {
    files: Vec<(PathBuf, Vec<u8>)>,
    /// Files of an earlier run that would contradict the new ones.
    stale: Vec<PathBuf>,
}

impl Outputs {
    /// Adds a file.
    pub(crate) fn add(&mut self, path: PathBuf, bytes: impl Into<Vec<u8>>) {
        self.files.push((path, bytes.into()));
    }

    /// A file of an earlier run that is taken away when the new ones are in place.
    pub(crate) fn remove(&mut self, path: PathBuf) {
        self.stale.push(path);
    }

    /// Writes all files, or none, and then removes those of an earlier run that would contradict them. Missing folders are created.
    ///
    /// # Errors
    /// [`Failure::Input`] with a sentence naming the file.
    pub(crate) fn write(self) -> Result<(), Failure> {
        crate::feedback::may_write()?;
        self.write_now()
    }

    /// As [`write`](Self::write), whether or not the command was asked to stop.
    ///
    /// # Errors
    /// As [`write`](Self::write).
    pub(crate) fn write_now(mut self) -> Result<(), Failure> {
        let stale = std::mem::take(&mut self.stale);
        let written = self.staged().and_then(put);
        let mut list = under_way();
        match written {
            Ok(()) => list.clear(),
            Err(_) => crate::interrupt::take_away(&mut list),
        }
        drop(list);
        written?;
        stale.iter().try_for_each(|path| {
            std::fs::remove_file(path).map_err(|e| {
                Failure::Input(format!(
                    "{} is of an earlier run, does not belong to the files that were written, and cannot be removed: {e}; remove it",
                    path.display()
                ))
            })
        })
    }

    /// Every file complete on disk, next to its destination.
    fn staged(self) -> Result<Vec<Staged>, Failure> {
        let mut all: Vec<Staged> = Vec::with_capacity(self.files.len());
        for (path, bytes) in self.files {
            make_folder(folder_of(&path))?;
            let path = goal(&path)?;
            if all.iter().any(|s| s.path == path) {
                return Err(Failure::Usage(format!(
                    "{} would be written twice; choose another file name",
                    path.display()
                )));
            }
            all.push(stage(path, &bytes)?);
        }
        Ok(all)
    }
}

/// The content of a file on disk, next to its destination; removed when dropped.
struct Staged {
    file: tempfile::NamedTempFile,
    path: PathBuf,
}

/// Renames a whole set. If one rename fails, the new files are removed.
fn put(all: Vec<Staged>) -> Result<(), Failure> {
    // An interruption waits until the set is complete.
    let list = under_way();
    let mut new: Vec<PathBuf> = Vec::new();
    for Staged { file, path } in all {
        let is_new = !path.exists();
        if let Err(e) = file.persist(&path) {
            crate::interrupt::take_away(&mut new);
            return Err(unwritten(&path, &e.error));
        }
        log::debug!(target: crate::feedback::CHOSEN, "wrote {}", path.display());
        if is_new {
            new.push(path);
        }
    }
    drop(list);
    Ok(())
}

/// Creates a folder and its missing parents; each is listed as incomplete.
fn make_folder(folder: &Path) -> Result<(), Failure> {
    let missing: Vec<&Path> =
        folder.ancestors().take_while(|a| !a.as_os_str().is_empty() && !a.exists()).collect();
    for path in missing.into_iter().rev() {
        let mut list = under_way();
        match std::fs::create_dir(path) {
            Ok(()) => list.push(path.to_owned()),
            // Another process was faster.
            Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => {}
            Err(e) => {
                return Err(Failure::Input(format!("the folder {} cannot be made: {e}", path.display())));
            }
        }
    }
    Ok(())
}

fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// The file that a link leads to. A device or folder must not be replaced by a file.
fn goal(path: &Path) -> Result<PathBuf, Failure> {
    match std::fs::metadata(path) {
        Ok(found) if found.is_file() => path.canonicalize().map_err(|e| unwritten(path, &e)),
        Ok(_) => Err(Failure::Input(format!(
            "{} is a folder or a device and will not be replaced; choose another output",
            path.display()
        ))),
        Err(_) => Ok(path.to_owned()),
    }
}

fn stage(path: PathBuf, bytes: &[u8]) -> Result<Staged, Failure> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".bladeform-").suffix(".part");
    // A temporary file is private to its owner; a result follows the user's mask.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    let made = {
        let mut list = under_way();
        let made = builder.tempfile_in(folder_of(&path));
        list.extend(made.iter().map(|file| file.path().to_owned()));
        made
    };
    let mut file = made.map_err(|e| unwritten(&path, &e))?;
    file.write_all(bytes).map_err(|e| unwritten(&path, &e))?;
    Ok(Staged { file, path })
}

fn unwritten(path: &Path, error: &std::io::Error) -> Failure {
    Failure::Input(format!("{} cannot be written: {error}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_folder_that_takes_no_files_is_refused_before_the_work() {
        // Nobody can make a file in the file system of processes, not even an administrator.
        let refused = can_be_written([PathBuf::from("/proc/new/stations.json")], []);
        let Err(Failure::Input(told)) = refused else { panic!("{refused:?}") };
        assert!(told.contains("no file can be made in the folder /proc"), "{told}");
        let at = tempfile::tempdir().unwrap();
        can_be_written([at.path().join("a/b/stations.json"), PathBuf::from("stations.json")], []).unwrap();
        assert!(names(at.path()).is_empty());
    }

    /// One test, since the list of incomplete files belongs to the whole process.
    #[test]
    fn a_set_is_written_whole_or_not_at_all() {
        let _alone = crate::interrupt::one_writer();
        let at = tempfile::tempdir().unwrap();
        let set = |paths: &[PathBuf]| {
            let mut outputs = Outputs::default();
            paths.iter().for_each(|p| outputs.add(p.clone(), "new"));
            outputs
        };
        let (deep, kept) = (at.path().join("a/b/one"), at.path().join("kept"));
        std::fs::write(&kept, "old").unwrap();

        // An interruption between writing and renaming removes files and created folders.
        let staged = set(&[deep.clone(), kept.clone()]).staged().unwrap();
        assert_eq!(names(&at.path().join("a/b")).len(), 1);
        crate::interrupt::take_away(&mut under_way());
        assert_eq!(names(at.path()), ["kept"]);
        drop(staged);

        // A folder blocks the second file: the first is not written either.
        let blocked = at.path().join("blocked");
        std::fs::create_dir(&blocked).unwrap();
        let refused = set(&[deep.clone(), kept.clone(), blocked.clone()]).write();
        assert!(matches!(refused, Err(Failure::Input(text)) if text.contains("blocked")));
        assert_eq!(names(at.path()), ["blocked", "kept"]);
        assert_eq!(std::fs::read_to_string(&kept).unwrap(), "old");

        assert!(matches!(set(&[deep.clone(), deep.clone()]).write(), Err(Failure::Usage(_))));
        set(&[deep.clone(), kept.clone()]).write().unwrap();
        assert_eq!(std::fs::read_to_string(&kept).unwrap(), "new");
        assert!(deep.exists() && under_way().is_empty());
        assert!(matches!(can_be_written([kept.clone()], [&kept]), Err(Failure::Usage(_))));
        assert!(matches!(can_be_written([kept.join("x")], []), Err(Failure::Input(_))));
    }
}
