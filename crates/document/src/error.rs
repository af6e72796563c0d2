//! Errors of reading and writing documents.

use std::fmt;
use thiserror::Error;

/// The reason why a document cannot be read or written.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DocumentError {
    /// The bytes are not text.
    #[error("byte {byte}: the file is not UTF-8 text; a station table is JSON or CSV text")]
    NotText {
        /// The first byte that is not UTF-8, counted from 0.
        byte: usize,
    },
    /// The text is not JSON.
    #[error("{place}this is not JSON: {problem}; correct the file there or write it again")]
    Syntax {
        /// Where.
        place: Place,
        /// What the JSON reader expected.
        problem: String,
    },
    /// The schema is another one.
    #[error(
        "{place}schema is `{found}`, and only `bladeform.stations/1` can be read; is this another kind of file?"
    )]
    Schema {
        /// Where.
        place: Place,
        /// The schema of the file.
        found: String,
    },
    /// The schema of a prediction is another one.
    #[error(
        "{place}schema is `{found}`, and only `bladeform.prediction/1` can be read here; is this another kind of file?"
    )]
    PredictionSchema {
        /// Where.
        place: Place,
        /// The schema of the file.
        found: String,
    },
    /// A value of the table cannot be used.
    #[error("{place}{path} {problem}")]
    Value {
        /// Where.
        place: Place,
        /// The key with all keys above it, as `stations[3].chord_m`.
        path: String,
        /// What is wrong and how to correct it. The text continues the sentence that begins with the path.
        problem: String,
    },
    /// The CSV text cannot be used.
    #[error("{place}{problem}")]
    Csv {
        /// Where.
        place: Place,
        /// What is wrong and how to correct it.
        problem: String,
    },
    /// The writing failed.
    #[error("the table cannot be written: {0}")]
    Write(#[from] std::io::Error),
}

impl DocumentError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NotText { .. } => "not-text",
            Self::Syntax { .. } => "not-json",
            Self::Schema { .. } | Self::PredictionSchema { .. } => "other-schema",
            Self::Value { .. } => "bad-value",
            Self::Csv { .. } => "bad-csv",
            Self::Write(_) => "not-written",
        }
    }
}

/// A position in a text file. Lines and columns are counted from 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Place {
    /// The line; `None` for a table that is in memory only.
    pub line: Option<usize>,
    /// The column, in characters.
    pub column: Option<usize>,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.line, self.column) {
            (Some(line), Some(column)) => write!(f, "line {line}, column {column}: "),
            (Some(line), None) => write!(f, "line {line}: "),
            (None, _) => Ok(()),
        }
    }
}
