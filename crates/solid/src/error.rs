//! Why no solid can be made: one code and one sentence each.

use thiserror::Error;

use crate::fault::SurfaceFault;

/// Why no solid was made.
#[derive(Debug, Error, Clone, PartialEq)]
#[non_exhaustive]
pub enum SolidError {
    /// Too few sections.
    #[error(
        "the table has {count} station(s) with a section, and a blade surface needs at least {needed}; measure or write more stations"
    )]
    TooFewStations {
        /// Usable stations.
        count: usize,
        /// How many are needed.
        needed: usize,
    },
    /// A station cannot be used.
    #[error("the station at {radius_mm:.1} mm: {problem}")]
    Station {
        /// Radius, mm.
        radius_mm: f64,
        /// What is wrong and what to do.
        problem: String,
    },
    /// The request does not fit the table.
    #[error("{0}")]
    Plan(String),
    /// Hub and blades do not fit each other.
    #[error("{0}")]
    Joint(String),
    /// The surface does not bound a solid. Nothing is written.
    #[error(
        "the surface made at {what} is not that of a solid: {problem}; nothing was written. Try other hub measures or settings, or fewer stations (the first ones near the shank above all)"
    )]
    NotSolid {
        /// The setting.
        what: String,
        /// The result of the check.
        problem: SurfaceFault,
    },
    /// A value is not finite.
    #[error("the surface has no finite coordinates at {radius_mm:.1} mm; check the stations around it")]
    NotFinite {
        /// Radius, mm.
        radius_mm: f64,
    },
}

impl SolidError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TooFewStations { .. } => "too-few-stations",
            Self::Station { .. } => "station-unusable",
            Self::Plan(_) => "plan-contradicts-table",
            Self::Joint(_) => "hub-contradicts-blades",
            Self::NotSolid { .. } => "not-a-solid",
            Self::NotFinite { .. } => "not-finite",
        }
    }
}
