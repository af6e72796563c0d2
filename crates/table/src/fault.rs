//! Values that are not allowed in a table: one code and one sentence each.

use thiserror::Error;

/// Why a value is not allowed. The text continues the sentence that begins with the path of the value. Lengths in m.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum TableFault {
    /// The tip radius is not a positive number.
    #[error("is {}; the radius of the tip in metres, above 0, is needed", short(.radius_m))]
    TipRadius {
        /// The value.
        radius_m: f64,
    },
    /// The tip radius is too large for a length in metres.
    #[error("is {} m; no propeller is so large: write all lengths of a table in metres", short(.radius_m))]
    TooLarge {
        /// The value.
        radius_m: f64,
    },
    /// The reference radius is not a fraction of the tip radius.
    #[error("is {}; a fraction above 0 and at most 1 is needed", short(.ratio))]
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
    #[error("is {}; a radius in metres above 0 is needed", short(.radius_m))]
    Radius {
        /// The value.
        radius_m: f64,
    },
    /// A station lies beyond the tip.
    #[error("is {}, beyond the tip at blade.radius_m = {}", short(.radius_m), short(.tip_m))]
    BeyondTip {
        /// The value.
        radius_m: f64,
        /// Tip radius.
        tip_m: f64,
    },
    /// The radii do not increase.
    #[error("is {} after {}; radii must increase from station to station", short(.radius_m), short(.previous_m))]
    NotIncreasing {
        /// The value.
        radius_m: f64,
        /// The radius of the station before.
        previous_m: f64,
    },
    /// Radius ratio and radius contradict each other.
    #[error("is {}, but radius_m / blade.radius_m is {expected:.4}; correct one of them", short(.ratio))]
    OtherRatio {
        /// The value.
        ratio: f64,
        /// The ratio of the radii.
        expected: f64,
    },
    /// A chord is longer than the propeller.
    #[error("is {}, longer than the propeller with its radius of {radius_m:.4} m; write metres", short(.chord_m))]
    ChordTooLong {
        /// The value.
        chord_m: f64,
        /// Tip radius.
        radius_m: f64,
    },
    /// A chord is not a positive number.
    #[error("is {}; a chord in metres above 0 is needed", short(.chord_m))]
    Chord {
        /// The value.
        chord_m: f64,
    },
    /// A figure is infinite or not a number.
    #[error("is not a finite number; leave out a figure that has no meaning")]
    NotFinite,
    /// A standard uncertainty is negative or not finite.
    #[error("has the standard uncertainty {}; it cannot be below 0", short(.u))]
    Uncertainty {
        /// The value, in the unit of its figure.
        u: f64,
    },
    /// A figure is not a fraction of the chord.
    #[error("is {}; a fraction of the chord is needed, e.g. {example}", short(.value))]
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

/// A number of a message. Beyond the digits of a double it is written with an exponent, so that 1e300 is no line of three hundred digits.
fn short(value: &f64) -> String {
    /// Whole numbers up to some 9e15 are exact in a double; smaller than the least, zeros fill the line.
    const PLAIN: std::ops::Range<f64> = 1e-6..1e15;
    let size = value.abs();
    if size == 0.0 || PLAIN.contains(&size) || !value.is_finite() {
        value.to_string()
    } else {
        format!("{value:e}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_three_hundred_digits_are_written_with_an_exponent() {
        let told = |radius_m: f64| TableFault::TooLarge { radius_m }.to_string();
        assert!(told(f64::MAX).starts_with("is 1.7976931348623157e308 m; "), "{}", told(f64::MAX));
        assert!(told(500.0).starts_with("is 500 m; "), "{}", told(500.0));
        let tiny = TableFault::NotIncreasing { radius_m: 5e-324, previous_m: 0.5 }.to_string();
        assert!(tiny.starts_with("is 5e-324 after 0.5; "), "{tiny}");
        let long = TableFault::ChordTooLong { chord_m: 1e300, radius_m: 1.0 }.to_string();
        assert!(
            long.starts_with("is 1e300, longer than the propeller with its radius of 1.0000 m"),
            "{long}"
        );
    }
}
