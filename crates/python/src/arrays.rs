//! Meshes as bytes: rows of three numbers, little-endian, one row after another.

use bladeform::mesh::RawMesh;
use pyo3::PyResult;
use pyo3::exceptions::PyValueError;

/// Rows of three numbers of `N` bytes.
fn rows<const N: usize, T>(bytes: &[u8], one: impl Fn([u8; N]) -> T) -> PyResult<Vec<[T; 3]>> {
    let (numbers, rest) = bytes.as_chunks::<N>();
    let (rows, odd) = numbers.as_chunks::<3>();
    if !rest.is_empty() || !odd.is_empty() {
        return Err(PyValueError::new_err("the bytes are no whole rows of three numbers"));
    }
    Ok(rows.iter().map(|row| row.map(&one)).collect())
}

/// A mesh from bytes. The library checks it before anything else.
///
/// # Errors
/// `ValueError` if the bytes are no whole rows.
pub(crate) fn mesh(vertices: &[u8], triangles: &[u8]) -> PyResult<RawMesh> {
    Ok(RawMesh { vertices: rows(vertices, f64::from_le_bytes)?, faces: rows(triangles, u32::from_le_bytes)? })
}

/// The bytes of a mesh: vertices, triangles.
pub(crate) fn bytes(mesh: &RawMesh) -> (Vec<u8>, Vec<u8>) {
    (
        mesh.vertices.iter().flatten().flat_map(|v| v.to_le_bytes()).collect(),
        mesh.faces.iter().flatten().flat_map(|v| v.to_le_bytes()).collect(),
    )
}
