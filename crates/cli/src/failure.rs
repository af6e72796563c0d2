//! Why a command ended early, and with which exit status; and what one that ended well has to say.

/// Why a command ended early.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Failure {
    /// The input cannot be used: exit status 1.
    Input(String),
    /// The command line is wrong: exit status 2.
    Usage(String),
}

/// What a command that ended well says.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Said {
    /// All of it, warnings included: for standard output.
    pub(crate) text: String,
    /// The warnings alone: what `--quiet` leaves, for standard error.
    pub(crate) warnings: Vec<String>,
}
