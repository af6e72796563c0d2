//! Why a record cannot be made.

use bladeform_document::DocumentError;
use thiserror::Error;

/// Why a record cannot be made. Each message says what is wrong, where, and what to do.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The table has no station.
    #[error("the table holds no station; measure the scan with at least one station")]
    NoStation,
    /// The scan is not the one that was measured.
    #[error(
        "the scan is not the one that was measured: its SHA-256 is {found}, the table says {stated}; give the file {file}"
    )]
    OtherScan {
        /// SHA-256 of the bytes given.
        found: String,
        /// SHA-256 in the table.
        stated: String,
        /// The name of the file in the table.
        file: String,
    },
    /// The table does not say where the blade lies in the scan.
    #[error(
        "the table has no frame.scan_to_blade, so the scan cannot be placed; measure the scan again, or make the page without the scan"
    )]
    NoFrame,
    /// The frame of the table is not a rotation and translation with one scale.
    #[error(
        "frame.scan_to_blade is not a rotation with one scale, so the scan cannot be placed; measure the scan again, or make the page without the scan"
    )]
    BadFrame,
    /// The observer ended the call.
    #[error(transparent)]
    Stopped(#[from] bladeform_numeric::observe::Stopped),
    /// The table cannot be written into the page.
    #[error("the table cannot be written into the page: {0}")]
    Table(#[from] DocumentError),
}

impl RecordError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoStation => "record-no-station",
            Self::OtherScan { .. } => "other-scan",
            Self::NoFrame => "no-frame",
            Self::BadFrame => "bad-frame",
            Self::Stopped(_) => "stopped",
            Self::Table(error) => error.code(),
        }
    }
}
