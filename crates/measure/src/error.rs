//! Why a scan cannot be measured at all.

/// One sentence each: what, and what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// The file is not a mesh that can be read.
    #[error(transparent)]
    Read(#[from] bladeform_mesh::ReadError),
    /// Nothing is left after the repair.
    #[error(transparent)]
    NothingLeft(#[from] bladeform_mesh::NothingLeft),
    /// The shape is no blade.
    #[error(
        "no blade was found in the scan: {0}; give a mesh of one blade or of a whole propeller with its ground cut away"
    )]
    NoBlade(String),
    /// Several bodies of about one size, and only one can be the blade.
    #[error(
        "the scan holds bodies of comparable size that stand apart: {0}; cut them apart and measure each from a file of its own"
    )]
    Bodies(String),
    /// Known lengths contradict one another.
    #[error("the known lengths contradict one another: {0}")]
    Lengths(String),
    /// A station lies off the blade.
    #[error(
        "station {radius_m:.4} m lies outside the blade, which runs from {root_m:.4} m to {tip_m:.4} m; give stations between"
    )]
    StationOutside {
        /// Where it was asked.
        radius_m: f64,
        /// Root end.
        root_m: f64,
        /// Tip.
        tip_m: f64,
    },
    /// Every station failed.
    #[error("none of the {count} stations could be measured; the first: {first}")]
    NoStation {
        /// How many were tried.
        count: usize,
        /// The reason at the first.
        first: String,
    },
}
