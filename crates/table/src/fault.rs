//! Values that are not allowed in a table: one code and one sentence each.

use thiserror::Error;

/// Why a value is not allowed. The text continues the sentence that begins with the path of the value. Lengths in m.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum TableFault {
    /// The tip radius is not a positive number.
    #[error("is {radius_m}; the radius of the tip in metres, above 0, is needed")]
    TipRadius {
        /// The value.
        radius_m: f64,
    },
    /// The tip radius is too large for a length in metres.
    #[error("is {radius_m} m; no propeller is so large: write all lengths of a table in metres")]
    TooLarge {
        /// The value.
        radius_m: f64,
    },
    /// The reference radius is not a fraction of the tip radius.
    #[error("is {ratio}; a fraction above 0 and at most 1 is needed")]
    ReferenceRatio {
        /// The value.
        ratio: f64,
    },
    /// A list of stations is empty.
    #[error("has no station; at least one is needed")]
    NoStation,
    /// A list of stations is longer than any blade needs.
    #[error(
        "has {count} stations, but a table has at most {most}, because the work grows with their square; keep that many or fewer, well spaced"
    )]
    TooManyStations {
        /// Their number.
        count: usize,
        /// The limit.
        most: usize,
    },
    /// The radius of a station is not a positive number.
    #[error("is {radius_m}; a radius in metres above 0 is needed")]
    Radius {
        /// The value.
        radius_m: f64,
    },
    /// A station lies beyond the tip.
    #[error("is {radius_m}, beyond the tip at blade.radius_m = {tip_m}")]
    BeyondTip {
        /// The value.
        radius_m: f64,
        /// Tip radius.
        tip_m: f64,
    },
    /// The radii do not increase.
    #[error("is {radius_m} after {previous_m}; radii must increase from station to station")]
    NotIncreasing {
        /// The value.
        radius_m: f64,
        /// The radius of the station before.
        previous_m: f64,
    },
    /// Radius ratio and radius contradict each other.
    #[error("is {ratio}, but radius_m / blade.radius_m is {expected:.4}; correct one of them")]
    OtherRatio {
        /// The value.
        ratio: f64,
        /// The ratio of the radii.
        expected: f64,
    },
    /// A chord is longer than the propeller.
    #[error("is {chord_m}, longer than the propeller with its radius of {radius_m:.4} m; write metres")]
    ChordTooLong {
        /// The value.
        chord_m: f64,
        /// Tip radius.
        radius_m: f64,
    },
    /// A chord is not a positive number.
    #[error("is {chord_m}; a chord in metres above 0 is needed")]
    Chord {
        /// The value.
        chord_m: f64,
    },
    /// A figure is infinite or not a number.
    #[error("is not a finite number; leave out a figure that has no meaning")]
    NotFinite,
    /// A standard uncertainty is negative or not finite.
    #[error("has the standard uncertainty {u}; it cannot be below 0")]
    Uncertainty {
        /// The value, in the unit of its figure.
        u: f64,
    },
    /// A figure is not a fraction of the chord.
    #[error("is {value}; a fraction of the chord is needed, e.g. {example}")]
    NotFraction {
        /// The value.
        value: f64,
        /// A usual value.
        example: f64,
    },
    /// The two lists of an outline differ in length.
    #[error("has {x} x and {y} y; every point needs both")]
    OutlineCounts {
        /// Number of `x`.
        x: usize,
        /// Number of `y`.
        y: usize,
    },
    /// An outline has too few points.
    #[error("has {points} points; a closed outline needs at least {needed}")]
    OutlineShort {
        /// Number of points.
        points: usize,
        /// How many are needed.
        needed: usize,
    },
    /// A coordinate of an outline is infinite or not a number.
    #[error("has a coordinate that is not a finite number")]
    OutlineNotFinite,
}

impl TableFault {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TipRadius { .. } => "table-tip-radius",
            Self::TooLarge { .. } => "table-too-large",
            Self::ReferenceRatio { .. } => "table-reference-ratio",
            Self::NoStation => "table-no-station",
            Self::TooManyStations { .. } => "table-too-many-stations",
            Self::Radius { .. } => "table-radius",
            Self::BeyondTip { .. } => "table-beyond-tip",
            Self::NotIncreasing { .. } => "table-not-increasing",
            Self::OtherRatio { .. } => "table-other-ratio",
            Self::ChordTooLong { .. } => "table-chord-too-long",
            Self::Chord { .. } => "table-chord",
            Self::NotFinite => "table-not-finite",
            Self::Uncertainty { .. } => "table-uncertainty",
            Self::NotFraction { .. } => "table-not-fraction",
            Self::OutlineCounts { .. } => "table-outline-counts",
            Self::OutlineShort { .. } => "table-outline-short",
            Self::OutlineNotFinite => "table-outline-not-finite",
        }
    }
}
