//! A file that is dropped on the page: streamed to disk beside its place, counted, and renamed when it is whole.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::http::Answer;
use crate::interrupt::while_open;

/// Bytes that are read at once.
const CHUNK: usize = 1 << 18;

/// A file that has arrived, not yet under its name.
#[derive(Debug)]
pub(super) struct Arrived {
    file: tempfile::NamedTempFile,
    /// SHA-256 of its bytes, hexadecimal.
    pub(super) sha256: String,
    /// Its bytes.
    pub(super) bytes: u64,
}

impl Arrived {
    /// Streams a body of an announced length into a folder.
    ///
    /// # Errors
    /// A refusal if the length is missing or above `most`, the body ends early, or the disk is full; nothing is left then.
    pub(super) fn read(
        body: &mut dyn Read,
        length: Option<u64>,
        most: u64,
        folder: &Path,
    ) -> Result<Self, Answer> {
        let Some(length) = length else {
            return Err(Answer::refused(411, "the length of the file was not announced; nothing was kept"));
        };
        if length == 0 {
            return Err(Answer::refused(
                422,
                "the file is empty; choose the scan: a PLY, STL, OBJ or GLB file",
            ));
        }
        if most < length {
            return Err(Answer::refused(
                413,
                &format!(
                    "the file has {} MB, more than the {} MB that may be dropped here; name it by its path, which has no limit, or start the bench with a larger --largest",
                    length.div_ceil(1_000_000),
                    most / 1_000_000
                ),
            ));
        }
        let unwritten = |e: std::io::Error| {
            Answer::refused(
                507,
                &format!(
                    "the file cannot be kept in {}: {e}; nothing was kept. Make room, or name the scan by its path",
                    folder.display()
                ),
            )
        };
        let made = {
            let mut list = while_open();
            let mut builder = tempfile::Builder::new();
            builder.prefix(".bladeform-").suffix(".part");
            #[cfg(unix)]
            builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
            let made = builder.tempfile_in(folder);
            list.extend(made.iter().map(|file| file.path().to_owned()));
            made
        };
        let mut file = made.map_err(unwritten)?;
        let (mut hash, mut bytes, mut chunk) = (Sha256::new(), 0_u64, vec![0_u8; CHUNK]);
        while bytes < length {
            let wanted = usize::try_from(length - bytes).unwrap_or(CHUNK).min(CHUNK);
            let read = body.read(&mut chunk[..wanted]);
            let broken = || {
                Answer::refused(
                    400,
                    &format!(
                        "the file was broken off after {bytes} of {length} bytes; nothing was kept; drop it again"
                    ),
                )
            };
            match read {
                Ok(0) | Err(_) => {
                    forget(file.path());
                    return Err(broken());
                }
                Ok(n) => {
                    hash.update(&chunk[..n]);
                    if let Err(e) = file.write_all(&chunk[..n]) {
                        forget(file.path());
                        return Err(unwritten(e));
                    }
                    bytes += n as u64;
                }
            }
        }
        let sha256 = hash.finalize().iter().map(|b| format!("{b:02x}")).collect();
        Ok(Self { file, sha256, bytes })
    }

    /// Where it is until it has its name.
    pub(super) fn path(&self) -> &Path {
        self.file.path()
    }

    /// Gives it its name, replacing what has it.
    ///
    /// # Errors
    /// A refusal that names the file.
    pub(super) fn named(self, path: &PathBuf) -> Result<(), Answer> {
        let part = self.file.path().to_owned();
        let _held = while_open();
        let done = self.file.persist(path).map(|_| ()).map_err(|e| {
            Answer::refused(
                507,
                &format!("{} cannot be written: {}; nothing was kept", path.display(), e.error),
            )
        });
        drop(_held);
        forget(&part);
        done
    }
}

/// Takes a temporary file off the list of those that an interruption removes; the file itself goes with its owner.
fn forget(path: &Path) {
    while_open().retain(|p| p != path);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_arrives_whole_or_leaves_nothing() {
        let at = tempfile::tempdir().unwrap();
        let read = |body: &[u8], length, most| Arrived::read(&mut { body }, length, most, at.path());
        let refused = |answer: Result<Arrived, Answer>| answer.unwrap_err().status;
        assert_eq!(refused(read(b"abc", None, 10)), 411);
        assert_eq!(refused(read(b"", Some(0), 10)), 422);
        assert_eq!(refused(read(b"abcdef", Some(6), 5)), 413);
        assert_eq!(refused(read(b"abc", Some(6), 10)), 400);
        assert_eq!(std::fs::read_dir(at.path()).unwrap().count(), 0, "a part was left");

        let whole = read(b"abcdef", Some(6), 10).unwrap();
        // SHA-256 of these letters, from GNU coreutils 9.
        assert_eq!(whole.sha256, "bef57ec7f53a6d40beb640a780a639c83bc29ac8a9816f1fc6c5c6dcd93c4721");
        let goal = at.path().join("scan.ply");
        whole.named(&goal).unwrap();
        assert_eq!(std::fs::read(&goal).unwrap(), b"abcdef");
        assert_eq!(std::fs::read_dir(at.path()).unwrap().count(), 1);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_a_sentence() {
        // A folder that takes no files, whoever asks.
        let refused = Arrived::read(&mut &b"abc"[..], Some(3), 10, Path::new("/proc")).unwrap_err();
        assert_eq!(refused.status, 507);
    }
}
