//! A triangle mesh before any repair.

use crate::tangle::tangle;

/// A triangle mesh as read: file units, nothing repaired. `vertices`: n x 3 coordinates; `faces`: m x 3 vertex
/// indices, usually anticlockwise seen from outside.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RawMesh {
    /// Coordinates, n x 3, in the unit of the file. They may be NaN or infinite: repair drops those.
    pub vertices: Vec<[f64; 3]>,
    /// Vertex indices, m x 3, counted from 0. Readers and [`RawMesh::from_arrays`] keep them below `vertices.len()`.
    pub faces: Vec<[u32; 3]>,
}

/// Why arrays do not form a mesh.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ArrayError {
    /// There are no triangles.
    #[error("the array of triangles is empty; pass the triangles of a surface")]
    NoTriangles,
    /// A triangle refers to a vertex that does not exist.
    #[error(
        "triangle {row} names vertex {index}, but there are {vertices} vertices, counted from 0; check the order of rows and columns"
    )]
    Index {
        /// The triangle, counted from 0.
        row: usize,
        /// The index that it refers to.
        index: u32,
        /// The number of vertices.
        vertices: usize,
    },
    /// The triangles cross the whole part: vertices or triangles in another order than the other array expects.
    #[error(
        "the triangles form no surface: together they are {times} times as large as the box around them; check the order of rows and columns of vertices and triangles"
    )]
    Tangled {
        /// Total area of the triangles over the surface of the bounding box.
        times: u64,
    },
    /// As [`Tangled`](Self::Tangled), but the triangles are narrow.
    #[error(
        "the triangles form no surface: on average they are {length_percent} % as long as the whole part, and only {joined_percent} % of their edges join two triangles; check the order of rows and columns of vertices and triangles"
    )]
    Crossing {
        /// Mean longest edge as a percentage of the diagonal of the bounding box.
        length_percent: u32,
        /// Percentage of the edges that exactly two triangles have.
        joined_percent: u32,
    },
    /// More vertices than an index can represent.
    #[error("{vertices} vertices are more than can be numbered; reduce the mesh")]
    TooMany {
        /// The number of vertices.
        vertices: usize,
    },
}

impl ArrayError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoTriangles => "no-faces",
            Self::Index { .. } => "face-index",
            Self::Tangled { .. } | Self::Crossing { .. } => "tangled",
            Self::TooMany { .. } => "too-large",
        }
    }
}

impl RawMesh {
    /// A mesh from arrays in memory, with the same checks as in the readers. `vertices`: n x 3 coordinates, in any unit; `triangles`: m x 3 vertex
    /// indices, counted from 0. Coordinates that are not finite are kept: repair drops those vertices, as for a file.
    ///
    /// # Errors
    /// [`ArrayError`] if there are no triangles, a triangle refers to a vertex that does not exist, or the triangles form no surface.
    ///
    /// ```
    /// use bladeform_mesh::RawMesh;
    /// let corners = vec![[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
    /// assert_eq!(RawMesh::from_arrays(corners.clone(), vec![[0, 1, 2]]).unwrap().faces.len(), 1);
    /// let refused = RawMesh::from_arrays(corners, vec![[0, 1, 2], [0, 1, 3]]).unwrap_err();
    /// assert!(refused.to_string().starts_with("triangle 1 names vertex 3, but there are 3 vertices"));
    /// ```
    pub fn from_arrays(vertices: Vec<[f64; 3]>, triangles: Vec<[u32; 3]>) -> Result<RawMesh, ArrayError> {
        if u32::try_from(vertices.len()).is_err() {
            return Err(ArrayError::TooMany { vertices: vertices.len() });
        }
        if triangles.is_empty() {
            return Err(ArrayError::NoTriangles);
        }
        for (row, triangle) in triangles.iter().enumerate() {
            if let Some(&index) = triangle.iter().find(|&&i| vertices.len() <= i as usize) {
                return Err(ArrayError::Index { row, index, vertices: vertices.len() });
            }
        }
        let mesh = RawMesh { vertices, faces: triangles };
        tangle(&mesh).map_or(Ok(mesh), Err)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CORNERS: [[f64; 3]; 4] = [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];

    #[test]
    fn arrays_are_checked_as_files_are() {
        let made = |vertices: &[[f64; 3]], triangles: &[[u32; 3]]| {
            RawMesh::from_arrays(vertices.to_vec(), triangles.to_vec())
        };
        let faces = [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]];
        let mesh = made(&CORNERS, &faces).unwrap();
        assert_eq!((mesh.vertices.as_slice(), mesh.faces.as_slice()), (&CORNERS[..], &faces[..]));
        assert_eq!(made(&CORNERS, &[]), Err(ArrayError::NoTriangles));
        assert_eq!(made(&[], &[]), Err(ArrayError::NoTriangles));
        for (index, vertices) in [(4, 4), (u32::MAX, 4), (0, 0)] {
            let refused = made(&CORNERS[..vertices], &[[index; 3]]).unwrap_err();
            assert_eq!(refused, ArrayError::Index { row: 0, index, vertices });
            assert_eq!(refused.code(), "face-index");
        }
        // The first wrong row is named, whatever comes after it.
        let refused = made(&CORNERS, &[[0, 1, 2], [0, 1, 9], [7, 1, 9]]).unwrap_err();
        assert_eq!(refused, ArrayError::Index { row: 1, index: 9, vertices: 4 });
    }

    #[test]
    fn vertices_that_are_not_finite_are_kept_for_the_repair_to_count() {
        let mut corners = CORNERS.to_vec();
        corners.extend([[f64::NAN, 0., 0.], [0., f64::INFINITY, 0.]]);
        let faces = vec![[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3], [0, 1, 4], [1, 2, 5]];
        let mesh = RawMesh::from_arrays(corners, faces).unwrap();
        assert_eq!((mesh.vertices.len(), mesh.faces.len()), (6, 6));
        let (clean, tally) = crate::repair(mesh).unwrap();
        assert_eq!((clean.faces().len(), tally.non_finite_vertices), (4, 2));
    }
}
