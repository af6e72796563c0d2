//! The axis of rotation of a whole propeller as a scan shows it.

use std::collections::BTreeMap;

use serde_json::{Map, Value};

use crate::StationColumn;

/// How the axis of rotation was found, and how well it is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rotation {
    /// What shows the axis.
    pub axis_by: AxisBy,
    /// Standard uncertainty of its direction in each of both ways across it, degrees.
    pub u_axis_tilt_deg: Option<f64>,
    /// Standard uncertainty of its place in each of both ways across it, at the height of the blades, m.
    pub u_axis_place_m: Option<f64>,
    /// The volume that the scanned surface encloses and its first moment about the axis; `None` where it is not closed enough.
    pub volume: Option<RotatingVolume>,
    /// By how much the part of a figure's uncertainty that blades do not share was multiplied, since they scatter by more than it (JCGM 100:2008, 4.2.4). A difference between two blades is
    /// a part of that scatter, so that a comparison of blades divides by it.
    pub raised_to_scatter: BTreeMap<StationColumn, f64>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The volume that the scanned surface of a whole propeller encloses, about the axis of rotation: what its mass does at a uniform density.
///
/// Vectors across the axis have two components: along the span of the first blade, and a quarter of a turn on in the direction in which azimuths rise.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RotatingVolume {
    /// The volume, m3: blades, hub and whatever else belongs to the part.
    pub volume_m3: f64,
    /// Integral of the distance vector from the axis over it, m4.
    pub first_moment_m4: [f64; 2],
    /// Standard uncertainty of each component by source, m4. Noise is not among them: the stations of the blades show it.
    pub u_from: Vec<(VolumeSource, [f64; 2])>,
    /// Area of the flat pieces that close holes, as a fraction of the surface.
    pub closed_ratio: f64,
    /// Bodies that the surface consists of: where several overlap, their volume counts twice.
    pub bodies: u64,
    /// The part of each blade, between the half-planes midway to its neighbours.
    pub blades: Vec<BladeVolume>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The part of a propeller's volume that belongs to one blade, with its part of the hub.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BladeVolume {
    /// Volume, m3.
    pub volume_m3: f64,
    /// First moment about the axis along the blade's own span, m4.
    pub first_moment_m4: f64,
    /// Standard uncertainty of that by holes and long-range errors, m4.
    pub u_first_moment_m4: f64,
}

/// What leaves the first moment of a scanned volume uncertain.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum VolumeSource {
    /// Noise and edges of the surface, as the section areas of the blades show them.
    Scan,
    /// What lies beyond the last station, where the moment comes from sections.
    Tip,
    /// Holes that were closed by flat pieces.
    Holes,
    /// Long-range errors as stated: the two sides of each blade lie too far apart or too close by the stated accuracy.
    LongRange,
    /// Place of the axis of rotation.
    Axis,
}

impl VolumeSource {
    /// All of them, in the order of the documents.
    pub const ALL: [Self; 5] = [Self::Scan, Self::Tip, Self::Holes, Self::LongRange, Self::Axis];

    /// The key in JSON.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Scan => "scan",
            Self::Tip => "tip",
            Self::Holes => "holes",
            Self::LongRange => "long-range",
            Self::Axis => "axis",
        }
    }
}

/// What shows the axis of rotation.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum AxisBy {
    /// A round wall of the hub, which does not depend on the blades.
    HubWall,
    /// The symmetry of the blades: it cannot be told from differences between them.
    #[default]
    Symmetry,
}

impl AxisBy {
    /// The word of a file.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::HubWall => "hub-wall",
            Self::Symmetry => "symmetry",
        }
    }

    /// What a word of a file means; `None` if it is none of them.
    #[must_use]
    pub fn of_key(word: &str) -> Option<Self> {
        [Self::HubWall, Self::Symmetry].into_iter().find(|by| by.key() == word)
    }
}
