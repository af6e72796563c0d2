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

use crate::ReadError;
use crate::read_mesh::ReadMesh;
use crate::tangle::tangle;
use recognise::Kind;

/// Reads a triangle mesh from the bytes of a PLY, STL, OBJ or GLB file, recognised by content.
///
/// Coordinates keep the unit of the file. Polygons are split into triangles that share the first corner of the polygon.
/// Vertices that are not finite are kept: repairing is another step. Memory is proportional to `bytes.len()`,
/// independent of the counts stated in the file.
///
/// # Errors
/// [`ReadError`] if the content has none of the formats, is truncated, contradicts itself, has no faces, or has faces that form no surface.
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
    let (format, vertices) = (read.format, read.mesh.vertices.len());
    if !read.mesh.faces.is_empty() {
        return match tangle(&read.mesh) {
            Some(fault) => Err(ReadError::Tangled { format, fault }),
            None => Ok(read),
        };
    }
    Err(if vertices == 0 {
        ReadError::NoVertices { format }
    } else {
        ReadError::NoFaces { format, vertices }
    })
}
