//! What a scan shows inboard of the first station: plane sections of the root, and the hub of a whole propeller.

use crate::SectionOutline;
use bladeform_quantity::Measured;
use serde_json::{Map, Value};

/// A plane section between the root end, or the hub, and the first station. A root need not have the form of a blade section, so it has no chord and no edges:
/// only its outline where it lies.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RootSection {
    /// Distance from the axis of rotation, m.
    pub radius_m: f64,
    /// Whether the scan shows the whole outline. If not, the outline is the convex hull of what it shows.
    pub closed: bool,
    /// The outline in blade axes, m: closed, anticlockwise seen from the tip, at the angle that the table gives the blade. It is thinned to means over equal parts of its length.
    pub outline: SectionOutline,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// The hub of a whole propeller as a scan shows it. A figure that the scan does not show is `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HubFigures {
    /// Diameter of its round outer wall, m, with its standard uncertainty.
    pub diameter_m: Option<Measured>,
    /// Length of the hub along the axis of rotation, m, with its standard uncertainty.
    pub length_m: Option<Measured>,
    /// Diameter of its bore, m, with its standard uncertainty.
    pub bore_diameter_m: Option<Measured>,
    /// Holes for bolts on a circle about the axis of rotation.
    pub bolts: Option<BoltFigures>,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

/// Equal holes along the axis of rotation, evenly spaced on a circle about it, as a scan shows them.
#[derive(Clone, Debug, PartialEq)]
pub struct BoltFigures {
    /// Places of the circle.
    pub count: u64,
    /// Places at which the wall of a hole was found.
    pub seen: u64,
    /// Places that a face of the scan closes: no hole, one that was plugged, or one that the making of the mesh filled.
    pub closed: u64,
    /// Mean diameter of the holes that were found, m.
    pub hole_diameter_m: Measured,
    /// Diameter of the circle through their centres, m.
    pub circle_diameter_m: Measured,
    /// Angle from the axis of the first blade to the first place in the direction of rotation, from 0 to less than one step of the circle, deg.
    pub first_deg: Measured,
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl BoltFigures {
    /// Places at which the scan shows neither a hole nor a face.
    #[must_use]
    pub fn not_scanned(&self) -> u64 {
        self.count.saturating_sub(self.seen).saturating_sub(self.closed)
    }
}

impl HubFigures {
    /// Whether nothing of the hub is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
