//! Why a command ended early, and with which exit status.

/// Why a command ended early.
pub(crate) enum Failure {
    /// The input cannot be used: exit status 1.
    Input(String),
    /// The command line is wrong: exit status 2.
    Usage(String),
}
