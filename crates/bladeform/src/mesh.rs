//! Triangle meshes and their files: PLY, STL, OBJ and GLB are read, the first three are written.
//!
//! ```
//! use bladeform::mesh::{MeshFormat, RawMesh, read, write_stl_binary};
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let corners = vec![[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];
//! let tetrahedron = RawMesh::from_arrays(corners, vec![[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]])?;
//! let mut file = Vec::new();
//! write_stl_binary(&tetrahedron, &mut file)?;
//! let found = read(&file)?;
//! assert_eq!(found.format, MeshFormat::StlBinary);
//! assert_eq!(found.mesh.faces.len(), 4);
//! # Ok(())
//! # }
//! ```

pub use bladeform_mesh::{
    ArrayError, CleanMesh, MeshFormat, RawMesh, ReadError, ReadMesh, ReadNotice, read, write_obj,
    write_ply_binary, write_stl_binary,
};
