//! What reading a file returns: the mesh, its format, and what was ignored or assumed.

use crate::RawMesh;
use crate::notice::ReadNotice;

/// The formats that can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MeshFormat {
    /// Polygon file format, numbers as text.
    PlyAscii,
    /// Polygon file format, binary, least significant byte first.
    PlyBinaryLittleEndian,
    /// Polygon file format, binary, most significant byte first.
    PlyBinaryBigEndian,
    /// Stereolithography file, numbers as text.
    StlAscii,
    /// Stereolithography file, binary.
    StlBinary,
    /// Wavefront OBJ text.
    Obj,
    /// glTF 2.0 in its binary container.
    Glb,
}

impl MeshFormat {
    /// Whether reading joins corners at bit-identical coordinates, so that no two finite vertices are at the same position.
    #[must_use]
    pub const fn joins_corners(self) -> bool {
        matches!(self, Self::StlBinary | Self::StlAscii)
    }

    /// The common name of the format, such as "binary STL".
    pub fn name(self) -> &'static str {
        match self {
            Self::PlyAscii => "ASCII PLY",
            Self::PlyBinaryLittleEndian => "binary PLY (little-endian)",
            Self::PlyBinaryBigEndian => "binary PLY (big-endian)",
            Self::StlAscii => "ASCII STL",
            Self::StlBinary => "binary STL",
            Self::Obj => "OBJ",
            Self::Glb => "binary glTF (GLB)",
        }
    }
}

/// A mesh and information about its file.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadMesh {
    /// The mesh. It has at least one face, and every index of a face is below the number of vertices.
    pub mesh: RawMesh,
    /// The format of the file.
    pub format: MeshFormat,
    /// Number of triangles in the file. A polygon counts as the triangles it was split into.
    pub triangles_in_file: usize,
    /// Number of vertices in the file. An STL file has three per triangle.
    pub vertices_in_file: usize,
    /// Number of corners joined to an earlier corner at bit-identical coordinates while reading: corners read minus
    /// distinct vertices. Only STL files, which have no common vertices, are joined; 0 for the others.
    pub welded_on_reading: usize,
    /// What was ignored or assumed.
    pub notes: Vec<ReadNotice>,
}
