//! How a command ended: the reason for a failure with its exit status, or the text of a success.

/// Why a command ended early.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Failure {
    /// The input cannot be used: exit status 1.
    Input(String),
    /// The command line is wrong: exit status 2.
    Usage(String),
}

/// What a successful command prints.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Said {
    /// The whole text, including warnings: for standard output.
    pub(crate) text: String,
    /// Only the warnings: what `--quiet` prints, on standard error.
    pub(crate) warnings: Vec<String>,
}
