//! What a station's outline was compared with: the scan points, part by part, and published sections.

use std::collections::BTreeMap;

use serde_json::{Map, Value};

/// Part of a section for which departures are reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SectionPart {
    /// The back without the edges.
    Back,
    /// The face without the edges.
    Face,
    /// The first 5 % of the chord on both sides.
    LeadingEdge,
    /// The last 5 % of the chord on both sides and the flat end.
    TrailingEdge,
}

impl SectionPart {
    /// All parts, in the order of the documents.
    pub const ALL: [Self; 4] = [Self::Back, Self::Face, Self::LeadingEdge, Self::TrailingEdge];

    /// The key in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Back => "back",
            Self::Face => "face",
            Self::LeadingEdge => "leading_edge",
            Self::TrailingEdge => "trailing_edge",
        }
    }

    /// Its name for people.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Back => "back",
            Self::Face => "face",
            Self::LeadingEdge => "leading edge",
            Self::TrailingEdge => "trailing edge",
        }
    }
}

/// Departure of the scan from the fitted outline on one part of a section, positive outside.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartDeparture {
    /// Root mean square, m.
    pub rms_m: Option<f64>,
    /// The largest mean over neighbouring points, m.
    pub largest_m: Option<f64>,
    /// Its position along the chord, as a fraction of the chord from the leading edge.
    pub position: Option<f64>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

/// Departures on the parts of a section.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Departures {
    /// Departures by part. Empty if none are stated.
    pub parts: BTreeMap<SectionPart, PartDeparture>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}

impl Departures {
    /// Whether nothing is stated.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty() && self.extra.is_empty()
    }
}

/// A member of a published family close to a station's outline. It is advice: no figure is taken from it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NearSection {
    /// Name of the family with its parameters.
    pub section: String,
    /// Root mean square distance of the fitted outline from this member, m.
    pub rms_m: Option<f64>,
    /// Whether the distance is within the uncertainty of the outline.
    pub within_noise: Option<bool>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, Value>,
}
