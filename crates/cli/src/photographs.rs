//! Photographs of the part: named on the command line, kept beside the table, and found again for every later page.

use std::path::{Path, PathBuf};

use bladeform::record::Picture;
use bladeform::table::Photograph;
use clap::Args;

use crate::failure::Failure;
use crate::input::bytes_of;
use crate::output::{Outputs, can_be_written};

/// Folder of the photographs beside the table.
pub(crate) const FOLDER: &str = "photographs";

/// Photographs that are named on the command line.
#[derive(Debug, Args)]
pub(crate) struct Photographs {
    /// Photograph of the part and what it shows, e.g. back.jpg="The back before cleaning". May be given several times.
    ///
    /// JPEG, PNG or WebP, each at most 5 MB, at most 24. The page holds them as they are, with whatever the camera wrote into them, such as place and time.
    /// `measure` keeps a copy in the folder photographs beside the table, with its SHA-256 in the table, and later pages show it again. New ones replace
    /// those of before; an empty text takes all away.
    #[arg(long, value_name = "FILE[=CAPTION]")]
    photograph: Vec<String>,
}

impl Photographs {
    /// The pictures that were given, checked; `None` if the option was not given.
    ///
    /// # Errors
    /// A sentence about a file that cannot be read or shown, or a name that was given twice.
    pub(crate) fn read(&self) -> Result<Option<Vec<Picture>>, Failure> {
        if self.photograph.is_empty() {
            return Ok(None);
        }
        if Picture::MOST < self.photograph.len() {
            return Err(Failure::Usage(format!(
                "--photograph was given more than {} times; choose the best",
                Picture::MOST
            )));
        }
        let mut all: Vec<Picture> = Vec::new();
        for text in self.photograph.iter().filter(|text| !text.is_empty()) {
            let (path, caption) = parts(text);
            let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            let bytes = bytes_of(&path, "a photograph: a JPEG, PNG or WebP file")?;
            let picture = Picture::read(&format!("{FOLDER}/{name}"), caption, bytes)
                .map_err(|e| Failure::of(e.code(), format!("{}: {e}", path.display())))?;
            if all.iter().any(|other| other.named().file == picture.named().file) {
                return Err(Failure::Usage(format!(
                    "--photograph: two files are called {name}; rename one of them"
                )));
            }
            all.push(picture);
        }
        Ok(Some(all))
    }
}

/// File and caption. A file whose own name holds `=` is taken whole.
fn parts(text: &str) -> (PathBuf, &str) {
    match text.split_once('=') {
        Some((file, caption)) if !Path::new(text).is_file() => (PathBuf::from(file), caption.trim()),
        _ => (PathBuf::from(text), ""),
    }
}

/// Checks before the work that copies of the pictures can be written beside a table. Another picture of the same name is replaced only with `overwrite`.
///
/// # Errors
/// A sentence that names the file.
pub(crate) fn can_be_kept(pictures: &[Picture], folder: &Path, overwrite: bool) -> Result<(), Failure> {
    for picture in pictures {
        let goal = folder.join(&picture.named().file);
        match std::fs::read(&goal) {
            Ok(held) if held == picture.bytes() => {}
            Ok(_) if !overwrite => {
                return Err(Failure::Input(format!(
                    "{} is another picture of this name and would be lost; rename the new one, or give --overwrite to replace it",
                    goal.display()
                )));
            }
            _ => can_be_written([goal], [])?,
        }
    }
    Ok(())
}

/// Adds copies of the pictures to the outputs, where they are not there already.
pub(crate) fn add_to(pictures: &[Picture], folder: &Path, outputs: &mut Outputs) {
    for picture in pictures {
        let goal = folder.join(&picture.named().file);
        if std::fs::read(&goal).ok().as_deref() != Some(picture.bytes()) {
            outputs.add(goal, picture.bytes());
        }
    }
}

/// The pictures of a record, from the first of the folders that has each; one that is in none, or is another picture now, is left out.
pub(crate) fn found(record: &[Photograph], folders: &[&Path]) -> Vec<Picture> {
    let one = |named: &Photograph| {
        // Only the name counts: a table from elsewhere must not lead to a file outside these folders.
        let name = Path::new(&named.file).file_name()?;
        let places = folders.iter().flat_map(|folder| [folder.join(FOLDER).join(name), folder.join(name)]);
        places.filter(|path| path.is_file()).find_map(|path| {
            let picture = Picture::read(&named.file, &named.caption, std::fs::read(path).ok()?).ok()?;
            picture.named().sha256.eq_ignore_ascii_case(&named.sha256).then_some(picture)
        })
    };
    record.iter().filter_map(one).collect()
}

/// How a record names pictures.
pub(crate) fn named(pictures: &[Picture]) -> Vec<Photograph> {
    pictures.iter().map(|picture| picture.named().clone()).collect()
}
