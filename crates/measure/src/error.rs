//! Why a scan cannot be measured at all.

/// One sentence each: what, and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// The file is not a mesh that can be read.
    #[error(transparent)]
    Read(#[from] bladeform_mesh::ReadError),
    /// Arrays in memory are not a mesh.
    #[error(transparent)]
    Arrays(#[from] bladeform_mesh::ArrayError),
    /// The observer ended the measurement.
    #[error(transparent)]
    Stopped(#[from] bladeform_numeric::observe::Stopped),
    /// Nothing is left after the repair.
    #[error(transparent)]
    NothingLeft(#[from] bladeform_mesh::NothingLeft),
    /// The shape is not a blade.
    #[error(
        "no blade was found in the scan: {0}; give a mesh of one blade or of a whole propeller without its surroundings"
    )]
    NoBlade(String),
    /// Several bodies of about one size, and only one can be the blade.
    #[error(
        "the scan holds separate bodies of comparable size: {0}; cut them apart and measure each from its own file"
    )]
    Bodies(String),
    /// Known lengths contradict one another.
    #[error("the known lengths contradict one another: {0}")]
    Lengths(String),
    /// A station is outside the blade.
    #[error(
        "station {radius_m:.4} m is outside the blade, which extends from {root_m:.4} m to {tip_m:.4} m; choose stations between them"
    )]
    StationOutside {
        /// The requested radius.
        radius_m: f64,
        /// Root end.
        root_m: f64,
        /// Tip.
        tip_m: f64,
    },
    /// Every station failed.
    #[error("none of the {count} stations could be measured; reason at the first: {first}")]
    NoStation {
        /// How many were tried.
        count: usize,
        /// The reason at the first.
        first: String,
    },
}

impl MeasureError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Read(error) => error.code(),
            Self::Arrays(error) => error.code(),
            Self::Stopped(_) => "stopped",
            Self::NothingLeft(_) => "nothing-left",
            Self::NoBlade(_) => "no-blade",
            Self::Bodies(_) => "several-bodies",
            Self::Lengths(_) => "lengths-contradict",
            Self::StationOutside { .. } => "station-outside",
            Self::NoStation { .. } => "no-station",
        }
    }
}
