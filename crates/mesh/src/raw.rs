/// A triangle mesh as read: file units, nothing repaired. `vertices`: n x 3 coordinates; `faces`: m x 3 vertex
/// indices, anticlockwise seen from outside as a rule.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RawMesh {
    /// Coordinates, n x 3, in the unit of the file. They may be NaN or infinite: repair drops those.
    pub vertices: Vec<[f64; 3]>,
    /// Vertex indices, m x 3, counted from 0. Every reader of this crate keeps them below `vertices.len()`.
    pub faces: Vec<[u32; 3]>,
}
