//! How a command ended: the reason for a failure with its exit status, or the text of a success.

/// Why a command ended early.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Failure {
    /// The input cannot be used: exit status 1.
    Input(String),
    /// As [`Input`](Self::Input), from an error of a library.
    Coded {
        /// The short code of the error, which does not change.
        code: &'static str,
        /// The sentence.
        text: String,
    },
    /// The command line is wrong: exit status 2.
    Usage(String),
}

impl Failure {
    /// A failure from an error of a library: its code, and the sentence for the user.
    pub(crate) fn of(code: &'static str, text: impl Into<String>) -> Self {
        Self::Coded { code, text: text.into() }
    }
}

/// What a successful command prints.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Said {
    /// The whole text, including warnings: for standard output.
    pub(crate) text: String,
    /// Only the warnings: what `--quiet` prints, on standard error.
    pub(crate) warnings: Vec<String>,
}
