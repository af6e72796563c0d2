//! The job in its folder: which scan, what was chosen, what was made, and a log of changes. Every change is written whole before it counts.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use serde_json::{Map, Value, json};

use crate::about::today;
use crate::failure::Failure;
use crate::output::{Outputs, can_be_written};

/// The file of the job.
pub(super) const JOB: &str = "job.json";
const SCHEMA: &str = "bladeform.job/1";
/// Most lines of the log; older ones are dropped.
const MOST_LINES: usize = 2000;

/// Options by name, with their values as typed; a switch has one empty value.
pub(super) type Choices = BTreeMap<String, Vec<String>>;

/// The scan of the job.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct ScanRef {
    /// As the job names it: relative to the folder, or as the user typed it.
    pub(super) path: String,
    pub(super) sha256: String,
    pub(super) bytes: u64,
}

/// A photograph of the part, in the folder.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Photo {
    /// Beside the job's file, as `photographs/back.jpg`.
    pub(super) file: String,
    pub(super) sha256: String,
    /// What it shows; may be empty.
    pub(super) caption: String,
}

/// The job.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Job {
    folder: PathBuf,
    /// Counts the changes. A window that changes another revision than the last is told.
    pub(super) revision: u64,
    pub(super) scan: Option<ScanRef>,
    /// Further scans of the same blade; the figures are then the mean.
    pub(super) repeats: Vec<ScanRef>,
    /// Choices by command.
    pub(super) choices: BTreeMap<String, Choices>,
    /// The command line of each step that was last done.
    pub(super) done: BTreeMap<String, String>,
    /// Photographs; `None` if there never were any, an empty list if all were taken away.
    pub(super) photos: Option<Vec<Photo>>,
    log: Vec<Value>,
}

/// Why a change was not kept.
#[derive(Debug, PartialEq)]
pub(super) enum NotKept {
    /// Another window or program changed the job in between; this one is its state.
    Changed,
    /// It cannot be written, in one sentence.
    Unwritten(String),
}

impl Job {
    /// The job of a folder, or a new one. The folder is made if it is missing.
    ///
    /// # Errors
    /// A sentence if the folder takes no files, or holds a file of this name that is no job.
    pub(super) fn open(folder: &Path) -> Result<Self, Failure> {
        can_be_written([folder.join(JOB)], [])?;
        let mut job = Self { folder: folder.to_owned(), ..Self::default() };
        match read_bytes(&folder.join(JOB))? {
            Some(bytes) => job.read(&bytes).map_err(|e| {
                Failure::Input(format!(
                    "{}: {e}; move this file away to begin a new job, the scan and the tables in the folder stay",
                    folder.join(JOB).display()
                ))
            })?,
            None => {
                job.tell("the job was begun");
                job.write()?;
            }
        }
        Ok(job)
    }

    /// Changes the job: written to disk, then taken over. `revision`: the one that the window saw.
    ///
    /// # Errors
    /// [`NotKept`]; the job is that of the disk then.
    pub(super) fn change(
        &mut self,
        revision: u64,
        what: &str,
        change: impl FnOnce(&mut Self),
    ) -> Result<(), NotKept> {
        if self.follow_disk()? || revision != self.revision {
            return Err(NotKept::Changed);
        }
        let mut next = self.clone();
        change(&mut next);
        next.revision += 1;
        next.tell(what);
        next.write().map_err(|e| NotKept::Unwritten(sentence(e)))?;
        *self = next;
        Ok(())
    }

    /// Notes the line of a step that was done, whatever was changed meanwhile.
    ///
    /// # Errors
    /// [`NotKept::Unwritten`].
    pub(super) fn keep_done(&mut self, step: &str, line: &str) -> Result<(), NotKept> {
        self.follow_disk()?;
        self.change(self.revision, &format!("done: {line}"), |job| {
            job.done.insert(step.to_owned(), line.to_owned());
        })
    }

    /// Takes over what another program wrote in between; whether it did.
    pub(super) fn follow_disk(&mut self) -> Result<bool, NotKept> {
        let bytes = read_bytes(&self.folder.join(JOB)).map_err(|e| NotKept::Unwritten(sentence(e)))?;
        let mut disk = Self { folder: self.folder.clone(), ..Self::default() };
        match bytes {
            Some(bytes) if disk.read(&bytes).is_ok() && disk.revision != self.revision => {
                *self = disk;
                Ok(true)
            }
            // A file that was taken away or spoilt is written again.
            _ => Ok(false),
        }
    }

    /// The log, the oldest line first.
    pub(super) fn log(&self) -> &[Value] {
        &self.log
    }

    /// What the page shows.
    pub(super) fn shown(&self) -> Value {
        let mut value = self.value();
        if let Some(map) = value.as_object_mut() {
            map.remove("log");
        }
        value
    }

    /// The path of the scan as a command needs it.
    pub(super) fn scan_path(&self) -> Option<PathBuf> {
        Some(self.folder.join(&self.scan.as_ref()?.path))
    }

    fn tell(&mut self, what: &str) {
        self.log.push(json!({ "time": now(), "revision": self.revision, "what": what }));
        let surplus = self.log.len().saturating_sub(MOST_LINES);
        self.log.drain(..surplus);
    }

    fn write(&self) -> Result<(), Failure> {
        let text = serde_json::to_string_pretty(&self.value()).unwrap_or_default();
        let mut outputs = Outputs::default();
        outputs.add(self.folder.join(JOB), text + "\n");
        // Whoever stops the work does not stop this.
        outputs.write_now()
    }

    fn value(&self) -> Value {
        let photo = |p: &Photo| json!({ "file": p.file, "sha256": p.sha256, "caption": p.caption });
        let scan = |s: &ScanRef| json!({ "path": s.path, "sha256": s.sha256, "bytes": s.bytes });
        let choices: Map<String, Value> = self.choices.iter().map(|(k, v)| (k.clone(), json!(v))).collect();
        json!({
            "schema": SCHEMA,
            "revision": self.revision,
            "scan": self.scan.as_ref().map(scan),
            "repeats": self.repeats.iter().map(scan).collect::<Vec<_>>(),
            "choices": choices,
            "done": self.done,
            "photographs": self.photos.as_ref().map(|all| all.iter().map(photo).collect::<Vec<_>>()),
            "log": self.log,
        })
    }

    /// Reads the file of a job.
    fn read(&mut self, bytes: &[u8]) -> Result<(), String> {
        let value: Value = serde_json::from_slice(bytes).map_err(|e| format!("this is no JSON ({e})"))?;
        if value["schema"] != SCHEMA {
            return Err(format!("this is no job of this version: `schema` must be {SCHEMA}"));
        }
        let text = |v: &Value, key: &str| {
            v[key].as_str().map(str::to_owned).ok_or_else(|| format!("`{key}` must be a text"))
        };
        self.revision = value["revision"].as_u64().ok_or("`revision` must be a whole number")?;
        let scan = |s: &Value| -> Result<ScanRef, String> {
            let bytes = s["bytes"].as_u64().ok_or("`bytes` must be a whole number")?;
            Ok(ScanRef { path: text(s, "path")?, sha256: text(s, "sha256")?, bytes })
        };
        self.scan = (!value["scan"].is_null()).then(|| scan(&value["scan"])).transpose()?;
        self.repeats =
            value["repeats"].as_array().into_iter().flatten().map(scan).collect::<Result<_, String>>()?;
        let texts = |v: &Value| -> Result<Vec<String>, String> {
            let list = v.as_array().ok_or("every option must have a list of texts")?;
            let one = |t: &Value| t.as_str().map(str::to_owned).ok_or("every value must be a text");
            Ok(list.iter().map(one).collect::<Result<_, _>>()?)
        };
        for (command, options) in value["choices"].as_object().ok_or("`choices` must be an object")? {
            let options = options.as_object().ok_or("the choices of a command must be an object")?;
            let read: Result<Choices, String> =
                options.iter().map(|(k, v)| Ok((k.clone(), texts(v)?))).collect();
            self.choices.insert(command.clone(), read?);
        }
        for (step, line) in value["done"].as_object().into_iter().flatten() {
            self.done.insert(step.clone(), line.as_str().unwrap_or_default().to_owned());
        }
        let one = |p: &Value| -> Result<Photo, String> {
            let caption = p["caption"].as_str().unwrap_or_default().to_owned();
            Ok(Photo { file: text(p, "file")?, sha256: text(p, "sha256")?, caption })
        };
        self.photos = value["photographs"]
            .as_array()
            .map(|all| all.iter().map(one).collect::<Result<Vec<Photo>, String>>())
            .transpose()?;
        self.log = value["log"].as_array().cloned().unwrap_or_default();
        Ok(())
    }
}

fn read_bytes(path: &Path) -> Result<Option<Vec<u8>>, Failure> {
    match std::fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(Failure::Input(format!("{} cannot be read: {e}", path.display()))),
    }
}

/// The sentence of a failure.
pub(super) fn sentence(failure: Failure) -> String {
    match failure {
        Failure::Input(text) | Failure::Usage(text) | Failure::Coded { text, .. } => text,
    }
}

/// Date and time, UTC, ISO 8601.
fn now() -> String {
    let s = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs()) % 86_400;
    format!("{}T{:02}:{:02}:{:02}Z", today(), s / 3600, s / 60 % 60, s % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_job_is_kept_and_read_again() {
        let _alone = crate::interrupt::one_writer();
        let at = tempfile::tempdir().unwrap();
        let folder = at.path().join("new/job");
        let mut job = Job::open(&folder).unwrap();
        let scan = ScanRef { path: "blade.ply".into(), sha256: "ab".into(), bytes: 3 };
        let repeat = ScanRef { path: "again.ply".into(), ..scan.clone() };
        job.change(0, "the scan", |job| (job.scan, job.repeats) = (Some(scan), vec![repeat])).unwrap();
        let options = Choices::from([("swap".to_owned(), vec!["ends".to_owned(), "edges".to_owned()])]);
        job.change(1, "ends", |job| {
            job.choices.insert("measure".to_owned(), options);
        })
        .unwrap();
        assert_eq!(Job::open(&folder).unwrap(), job);
        assert_eq!(job.log().len(), 3);
        assert_eq!(job.scan_path(), Some(folder.join("blade.ply")));
    }

    #[test]
    fn the_last_writer_is_told() {
        let _alone = crate::interrupt::one_writer();
        let at = tempfile::tempdir().unwrap();
        let (mut one, mut two) = (Job::open(at.path()).unwrap(), Job::open(at.path()).unwrap());
        one.change(0, "first", |job| {
            job.done.insert("measure".to_owned(), "x".to_owned());
        })
        .unwrap();
        // Another window of the same bench, then another bench on the same folder.
        assert_eq!(one.change(0, "late", |_| ()), Err(NotKept::Changed));
        assert_eq!(two.change(0, "late", |_| ()), Err(NotKept::Changed));
        assert_eq!(two, one, "what is on disk counts");
        two.change(1, "now", |_| ()).unwrap();
    }

    #[test]
    fn what_is_no_job_is_refused_in_one_sentence() {
        let _alone = crate::interrupt::one_writer();
        let at = tempfile::tempdir().unwrap();
        for text in [
            "",
            "[]",
            "{\"schema\": \"bladeform.job/1\"}",
            "{\"schema\": \"bladeform.job/1\", \"revision\": 1, \"choices\": {\"measure\": {\"at\": 3}}}",
        ] {
            std::fs::write(at.path().join(JOB), text).unwrap();
            let told = sentence(Job::open(at.path()).unwrap_err());
            assert!(told.contains("job.json") && !told.contains('\n'), "{told}");
            assert_eq!(std::fs::read_to_string(at.path().join(JOB)).unwrap(), text, "the file was changed");
        }
    }
}
