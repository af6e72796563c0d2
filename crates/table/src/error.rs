//! What makes a table impossible, and where in it.

use std::fmt::Write;

use thiserror::Error;

/// One step on the way from a document to a value in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// The key of an object.
    Key(String),
    /// The place in an array, counted from 0.
    Index(usize),
}

/// A value that no table can have.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{} {problem}", path_text(path))]
pub struct TableError {
    /// The way to the value.
    pub path: Vec<Step>,
    /// What is wrong and what to write, going on from the path.
    pub problem: String,
}

/// The path as people write it: `stations[3].u.chord_m`; `the file` where it is empty.
///
/// ```
/// use bladeform_table::{Step, path_text};
/// let path = [Step::Key("stations".to_owned()), Step::Index(3), Step::Key("chord_m".to_owned())];
/// assert_eq!(path_text(&path), "stations[3].chord_m");
/// ```
#[must_use]
pub fn path_text(path: &[Step]) -> String {
    let mut text = String::new();
    for step in path {
        // Writing to a string cannot fail.
        let _ = match step {
            Step::Key(key) if text.is_empty() => write!(text, "{key}"),
            Step::Key(key) => write!(text, ".{key}"),
            Step::Index(index) => write!(text, "[{index}]"),
        };
    }
    if text.is_empty() { "the file".to_owned() } else { text }
}
