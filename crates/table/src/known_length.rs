//! A known length that the scale of a scan rests on, beside what the scale makes of it.

use bladeform_quantity::COVERAGE_FACTOR_95;
use serde_json::{Map, Value};

/// What a known length lies between.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KnownLengthOf {
    /// Two points of the scan.
    #[default]
    Distance,
    /// The ends of a lone blade.
    Length,
    /// Opposite tips of a propeller.
    Diameter,
}

impl KnownLengthOf {
    /// All kinds.
    pub const ALL: [Self; 3] = [Self::Distance, Self::Length, Self::Diameter];

    /// The word of the documents.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Distance => "distance",
            Self::Length => "length",
            Self::Diameter => "diameter",
        }
    }
}

/// One known length of a scale that rests on several, or on a distance between two points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KnownLength {
    /// What it lies between.
    pub of: KnownLengthOf,
    /// The two points of a distance, in the coordinates of the scan's file; `None` for another length.
    pub between: Option<[[f64; 3]; 2]>,
    /// The length as stated, m.
    pub stated_m: f64,
    /// Its standard uncertainty in the fit of the scale, m: as stated, and for a length or diameter with that of its ends in the scan.
    pub u_m: f64,
    /// Whether the stated uncertainty is that of a tape, since none was given.
    pub u_is_assumed: bool,
    /// The same length by the scale, m.
    pub by_scale_m: f64,
    /// The length as stated less the same length by the scale, m.
    pub difference_m: f64,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// Each known length beside the scale, as a sentence for people without a full stop. Distances are numbered from 1 in their order.
#[must_use]
pub fn known_length_sentences(all: &[KnownLength]) -> Vec<String> {
    const MM_PER_M: f64 = 1e3;
    let sentence = |(known, name): (&KnownLength, String)| {
        format!(
            "{name} {:.3} mm ± {:.3} mm{}; by the scale {:.3} mm; the difference of {:+.3} mm is {:.1} times its standard uncertainty",
            MM_PER_M * known.stated_m,
            MM_PER_M * COVERAGE_FACTOR_95 * known.u_m,
            if known.u_is_assumed { " (assumed)" } else { "" },
            MM_PER_M * known.by_scale_m,
            MM_PER_M * known.difference_m,
            (known.difference_m / known.u_m).abs()
        )
    };
    all.iter().zip(known_length_names(all)).map(sentence).collect()
}

/// What each known length is called. Distances are numbered from 1 in their order.
#[must_use]
pub fn known_length_names(all: &[KnownLength]) -> Vec<String> {
    let mut distances = 0;
    let name = |known: &KnownLength| match known.of {
        KnownLengthOf::Distance => {
            distances += 1;
            format!("distance {distances}")
        }
        KnownLengthOf::Length => "overall length".to_owned(),
        KnownLengthOf::Diameter => "diameter".to_owned(),
    };
    all.iter().map(name).collect()
}
