//! Errors in the content of a table, with their position.

use std::fmt::Write;

use thiserror::Error;

use crate::fault::TableFault;

/// One step of the path from a document to a value in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// The key of an object.
    Key(String),
    /// The index in an array, from 0.
    Index(usize),
}

/// A value that is not allowed in a table.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{} {fault}", path_text(path))]
pub struct TableError {
    /// The path to the value.
    pub path: Vec<Step>,
    /// What is wrong and how to correct it.
    pub fault: TableFault,
}

impl TableError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        self.fault.code()
    }
}

/// The path in its usual notation, `stations[3].u.chord_m`, or `the file` if it is empty.
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
