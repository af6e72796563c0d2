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
        Kind::Ply => ply::read(bytes),
        Kind::StlAscii => stl_ascii::read(bytes),
        Kind::StlBinary => stl_binary::read(bytes),
        Kind::Obj => obj::read(bytes),
        Kind::Glb => glb::read(bytes),
    };
    let read = read.map_err(|e| ended_inside_line(bytes, e))?;
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

/// A fault of the last line of a text without a line end there is a file cut short: nobody can correct that line.
fn ended_inside_line(bytes: &[u8], error: ReadError) -> ReadError {
    match error {
        ReadError::Line { format, line, what }
            if !bytes.ends_with(b"\n")
                && !bytes.ends_with(b"\r")
                && text::Lines::new(text::without_mark(bytes), 1).count() == line =>
        {
            ReadError::CutShort { format, byte: bytes.len(), inside: format!("line {line} ({what})") }
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_text_cut_inside_a_line_is_cut_short_and_no_line_to_correct() {
        let stl = "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1";
        let obj = "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nv 0.5 -";
        let ply = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n\
                   element face 1\nproperty list uchar int vertex_indices\nend_header\n0 0 0\n1 0 0\n0 1";
        for (text, line) in [(stl, 6), (obj, 5), (ply, 12)] {
            let told = crate::read(text.as_bytes()).unwrap_err().to_string();
            let expected = format!("the file ends at byte {}, inside line {line} (", text.len());
            assert!(told.contains(&expected) && told.ends_with("copy or export it again"), "{told}");
            // The same fault in a line that is whole.
            let told = crate::read(format!("{text}\n").as_bytes()).unwrap_err().to_string();
            assert!(told.contains("correct the line"), "{told}");
        }
    }
}
