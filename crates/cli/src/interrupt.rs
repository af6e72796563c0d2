//! An interrupted command leaves nothing behind: incomplete files are listed here and removed before the process ends.

use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Temporary files and new folders of incomplete outputs, in order of creation.
static UNDER_WAY: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// The list of incomplete outputs. While it is locked, an interruption waits: creating and listing a file, or renaming a whole set, is not
/// interrupted.
pub(crate) fn under_way() -> MutexGuard<'static, Vec<PathBuf>> {
    // A panic elsewhere does not make the list wrong.
    UNDER_WAY.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Temporary files that live longer than the writing of outputs: a file that is being dropped on the bench, the one that leads a browser to it.
static WHILE_OPEN: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

/// The list of temporary files of the bench; an interruption removes them as well.
pub(crate) fn while_open() -> MutexGuard<'static, Vec<PathBuf>> {
    WHILE_OPEN.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Removes files, and folders if they are empty, the newest first. Missing ones are ignored.
pub(crate) fn take_away(list: &mut Vec<PathBuf>) {
    while let Some(path) = list.pop() {
        // Neither call follows a link to something that was created elsewhere.
        if std::fs::remove_file(&path).is_err() {
            let _ = std::fs::remove_dir(&path);
        }
    }
}

/// From here on Ctrl-C, a termination request or a closed terminal ends the process as usual, but leaves no half-written file.
#[cfg(unix)]
pub(crate) fn listen() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM, SIGXFSZ};
    // Exceeding the caller's file-size limit then is a write error with a sentence, not the end of the process.
    let _ = signal_hook::flag::register(SIGXFSZ, std::sync::Arc::default());
    // Signals that the caller ignores, as with `nohup`, stay ignored.
    let wanted = [SIGINT, SIGTERM, SIGHUP].into_iter().filter(|signal| !is_ignored(*signal));
    // Without a listener the process still ends, but may leave temporary files.
    let Ok(mut signals) = signal_hook::iterator::Signals::new(wanted) else { return };
    std::thread::spawn(move || {
        for signal in signals.forever() {
            let mut list = under_way();
            take_away(&mut list);
            take_away(&mut while_open());
            // Ends the process by the signal, so that the caller sees why; the list stays held to the end.
            let _ = signal_hook::low_level::emulate_default_handler(signal);
        }
    });
}

/// On other systems a signal ends the process at once and temporary files remain.
#[cfg(not(unix))]
pub(crate) fn listen() {}

/// Whether the process was started with a signal ignored. Linux reports it as a bit mask; elsewhere it is not known.
#[cfg(unix)]
fn is_ignored(signal: i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|l| l.strip_prefix("SigIgn:")).unwrap_or("0");
    u64::from_str_radix(mask.trim(), 16).is_ok_and(|mask| mask >> (signal - 1) & 1 == 1)
}

/// Held by tests that write: the list of incomplete outputs belongs to the whole process, in which tests run side by side.
#[cfg(test)]
pub(crate) fn one_writer() -> MutexGuard<'static, ()> {
    static WRITER: Mutex<()> = Mutex::new(());
    WRITER.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_and_empty_folders_go_and_full_folders_stay() {
        let at = tempfile::tempdir().unwrap();
        let (new, deep) = (at.path().join("new"), at.path().join("new/deep"));
        std::fs::create_dir_all(&deep).unwrap();
        std::fs::write(deep.join("part"), "x").unwrap();
        std::fs::write(new.join("kept"), "x").unwrap();
        let mut list = vec![new.clone(), deep.clone(), deep.join("part"), at.path().join("gone")];
        take_away(&mut list);
        assert!(list.is_empty() && !deep.exists() && new.join("kept").exists());
    }
}
