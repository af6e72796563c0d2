//! Why a station cannot be used for a surface: one sentence each.

use thiserror::Error;

/// What is wrong with a station. The text continues the sentence that begins with the station.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum StationFault {
    /// The radii do not increase.
    #[error(
        "it does not lie farther out than the one before it; sections would cross: sort the stations by radius"
    )]
    NotFartherOut,
    /// The radius is greater than that of the tip.
    #[error("it lies beyond the tip; check blade.radius_m")]
    BeyondTip,
    /// The outline is not that of a section.
    #[error("its outline {0}; correct or leave out the station")]
    Outline(#[from] OutlineFault),
}

/// What is wrong with an outline. The text continues a sentence that begins with "its outline".
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum OutlineFault {
    /// Too few different points.
    #[error("has only {count} different points; at least {needed} are needed")]
    FewPoints {
        /// Different points.
        count: usize,
        /// How many are needed.
        needed: usize,
    },
    /// Two sides cross.
    #[error(
        "crosses itself near x = {:.1} mm, y = {:.1} mm (sides {} and {})",
        1e3 * near_m[0],
        1e3 * near_m[1],
        sides[0],
        sides[1]
    )]
    Crossing {
        /// A corner of one of the two sides, in the station frame.
        near_m: [f64; 2],
        /// The two sides, counted from 0.
        sides: [usize; 2],
    },
    /// The chord line does not lie along `x`.
    #[error("has its leading edge at its tail; the chord line must lie along x with the leading edge at 0")]
    NoseAtTail,
    /// Back and face differ too much in length.
    #[error("runs back on itself so that back and face differ too much in length")]
    SidesDiffer,
}
