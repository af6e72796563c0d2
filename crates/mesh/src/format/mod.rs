//! One file per format. Everything is read from bytes in memory and recognised by content.

mod glb;
mod glb_data;
mod obj;
mod ply;
mod ply_body;
mod ply_header;
mod polygon;
mod recognise;
mod stl_ascii;
mod stl_binary;
mod text;
mod weld;

pub use obj::write_obj;
pub use ply::{write_ply_ascii, write_ply_binary};
pub use stl_ascii::write_stl_ascii;
pub use stl_binary::write_stl_binary;

use crate::notice::ReadNotice;
use crate::{RawMesh, ReadError};
use recognise::Kind;

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

/// Reads a triangle mesh from the bytes of a PLY, STL, OBJ or GLB file, recognised by content.
///
/// Coordinates keep the unit of the file. Polygons are split into triangles that share the first corner of the polygon.
/// Vertices that are not finite are kept: repairing is another step. Memory is proportional to `bytes.len()`,
/// independent of the counts stated in the file.
///
/// # Errors
/// [`ReadError`] if the content has none of the formats, is truncated, contradicts itself, or has no faces.
///
/// # Examples
/// ```
/// let triangle = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n";
/// let read = bladeform_mesh::read(triangle)?;
/// assert_eq!(read.format.name(), "OBJ");
/// assert_eq!(read.mesh.faces, [[0, 1, 2]]);
///
/// let refused = bladeform_mesh::read(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n").unwrap_err();
/// assert_eq!(
///     refused.to_string(),
///     "OBJ, face 1: it names vertex 9, but the file holds 3 vertices, counted from 1; export the scan again"
/// );
/// # Ok::<(), bladeform_mesh::ReadError>(())
/// ```
pub fn read(bytes: &[u8]) -> Result<ReadMesh, ReadError> {
    let read = match recognise::recognise(bytes)? {
        Kind::Ply => ply::read(bytes)?,
        Kind::StlAscii => stl_ascii::read(bytes)?,
        Kind::StlBinary => stl_binary::read(bytes)?,
        Kind::Obj => obj::read(bytes)?,
        Kind::Glb => glb::read(bytes)?,
    };
    if !read.mesh.faces.is_empty() {
        return Ok(read);
    }
    let (format, vertices) = (read.format, read.mesh.vertices.len());
    Err(if vertices == 0 {
        ReadError::NoVertices { format }
    } else {
        ReadError::NoFaces { format, vertices }
    })
}
