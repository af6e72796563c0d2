//! What is measured: the bytes of a file, or a mesh in memory.

use std::borrow::Cow;

use bladeform_mesh::{RawMesh, read};
use bladeform_numeric::parallel;
use bladeform_table::Source;
use sha2::{Digest, Sha256};

use crate::error::MeasureError;
use crate::notice::MeasureNotice;

/// A scan to measure.
#[derive(Debug, Clone)]
pub enum ScanInput<'a> {
    /// The content of a PLY, STL, OBJ or GLB file.
    File {
        /// All bytes of the file. Those that are owned are given back as soon as they are read, before the work that takes most memory.
        bytes: Cow<'a, [u8]>,
        /// Its name for the record.
        name: &'a str,
    },
    /// A mesh in memory, as [`RawMesh::from_arrays`] makes it. The table then holds no SHA-256.
    Mesh {
        /// The mesh, in any unit and pose.
        mesh: &'a RawMesh,
        /// A name for the record.
        name: &'a str,
    },
}

/// Format of a mesh in memory in the table's `source`.
const IN_MEMORY: &str = "mesh in memory";

/// A scan as read.
pub(crate) struct Input {
    pub(crate) mesh: RawMesh,
    pub(crate) source: Source,
    /// Whether vertices at the same place are joined already.
    pub(crate) distinct: bool,
    /// Corners that were joined while reading.
    pub(crate) welded: usize,
    pub(crate) notices: Vec<MeasureNotice>,
}

impl<'a> ScanInput<'a> {
    /// The bytes of a file, borrowed or owned, and its name for the record.
    #[must_use]
    pub fn file(bytes: impl Into<Cow<'a, [u8]>>, name: &'a str) -> Self {
        Self::File { bytes: bytes.into(), name }
    }

    /// A mesh in memory and a name for the record.
    #[must_use]
    pub const fn mesh(mesh: &'a RawMesh, name: &'a str) -> Self {
        Self::Mesh { mesh, name }
    }

    /// Reads the scan.
    ///
    /// # Errors
    /// [`MeasureError::Read`] for a file that is not a mesh, [`MeasureError::Arrays`] for arrays that are not one.
    pub(crate) fn read(self) -> Result<Input, MeasureError> {
        match self {
            Self::File { bytes, name } => {
                let (found, sha256) = parallel::join(|| read(&bytes), || sha256_of(&bytes));
                let found = found?;
                let source = Source {
                    file: name.to_owned(),
                    sha256,
                    format: found.format.name().to_owned(),
                    vertices: Some(found.vertices_in_file as u64),
                    triangles: Some(found.triangles_in_file as u64),
                    ..Source::default()
                };
                Ok(Input {
                    source,
                    distinct: found.format.joins_corners(),
                    welded: found.welded_on_reading,
                    notices: found.notes.into_iter().map(MeasureNotice::Reader).collect(),
                    mesh: found.mesh,
                })
            }
            Self::Mesh { mesh, name } => {
                let mesh = RawMesh::from_arrays(mesh.vertices.clone(), mesh.faces.clone())?;
                let source = Source {
                    file: name.to_owned(),
                    format: IN_MEMORY.to_owned(),
                    vertices: Some(mesh.vertices.len() as u64),
                    triangles: Some(mesh.faces.len() as u64),
                    ..Source::default()
                };
                Ok(Input { mesh, source, distinct: false, welded: 0, notices: Vec::new() })
            }
        }
    }
}

fn sha256_of(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}
