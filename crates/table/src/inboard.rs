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
    /// Keys that this version does not know.
    pub extra: Map<String, Value>,
}

impl HubFigures {
    /// Whether nothing of the hub is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
