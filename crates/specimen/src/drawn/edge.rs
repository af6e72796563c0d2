//! How an edge of a section ends.

/// Kind of an edge of a drawn section.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Back and face meet in a wedge.
    Sharp,
    /// Rounded as part of the curve: back and face meet with one tangent and one curvature.
    Blunt,
    /// Cut off by a straight line across the section.
    Square,
    /// A circular arc, drawn with compasses, that touches back and face.
    Compass,
}

impl Edge {
    /// All kinds.
    pub const ALL: [Self; 4] = [Self::Sharp, Self::Blunt, Self::Square, Self::Compass];
}
