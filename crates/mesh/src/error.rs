//! What is wrong with a mesh file, a mesh, or a part of it: one sentence each.

use crate::raw::ArrayError;
use crate::read_mesh::MeshFormat;

/// Why a file cannot be read as a mesh. Each message says what is wrong, where, and what to do.
///
/// Lines and faces are counted from 1, bytes from 0. A vertex index is quoted as in the file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// The file has no bytes.
    #[error("the file is empty; choose a PLY, STL, OBJ or GLB file")]
    Empty,
    /// The content is known, but it is not a mesh that can be read here.
    #[error("the file is {kind}; {advice}")]
    OtherKind {
        /// What the file is, with its article.
        kind: &'static str,
        /// What to do about it.
        advice: &'static str,
    },
    /// The content has none of the formats.
    #[error("the content is neither PLY, STL, OBJ nor GLB; export the scan in one of these formats")]
    Unrecognised,
    /// A line of a text cannot be read.
    #[error("{}, line {line}: {what}; correct the line or export the scan again", .format.name())]
    Line {
        /// The format being read.
        format: MeshFormat,
        /// The line, counted from 1.
        line: usize,
        /// What is wrong there.
        what: String,
    },
    /// Binary content cannot be read.
    #[error("{}, byte {byte}: {what}; export the scan again", .format.name())]
    Byte {
        /// The format being read.
        format: MeshFormat,
        /// Offset from the start of the file, counted from 0.
        byte: usize,
        /// What is wrong there.
        what: String,
    },
    /// The file ends before the data announced in its header.
    #[error("{}: the file ends at byte {byte}, inside {inside}; it was cut short: copy or export it again", .format.name())]
    CutShort {
        /// The format being read.
        format: MeshFormat,
        /// Length of the file.
        byte: usize,
        /// What was being read when it ended.
        inside: String,
    },
    /// A face refers to a vertex that is not in the file.
    #[error(
        "{}, face {face}: it names vertex {index}, but the file holds {vertices} vertices, counted from {first}; \
         export the scan again",
        .format.name()
    )]
    FaceIndex {
        /// The format being read.
        format: MeshFormat,
        /// The face, counted from 1 in the order of the file.
        face: usize,
        /// The index as in the file.
        index: i64,
        /// The number of vertices.
        vertices: usize,
        /// The number of the first vertex in this format: 0 or 1.
        first: u8,
    },
    /// A face of an OBJ file names vertex 0.
    #[error(
        "OBJ, face {face} (line {line}): it names vertex 0, but the vertices of an OBJ file count from 1; the program that \
         wrote it may have counted from 0 in every face: export the scan again with another program or format"
    )]
    VertexZero {
        /// The face, counted from 1 in the order of the file.
        face: usize,
        /// The line, counted from 1.
        line: usize,
    },
    /// Vertices without faces: a point cloud.
    #[error(
        "{}: the file holds {vertices} vertices but no faces, so it is a cloud of points; build a surface from it \
         (meshing, surface reconstruction) and export that",
        .format.name()
    )]
    NoFaces {
        /// The format read.
        format: MeshFormat,
        /// The number of vertices in it.
        vertices: usize,
    },
    /// The triangles form no surface.
    #[error("{}: {fault}, or export the scan again", .format.name())]
    Tangled {
        /// The format read.
        format: MeshFormat,
        /// What is wrong with the triangles.
        fault: ArrayError,
    },
    /// The file has no content.
    #[error("{}: the file holds no vertices and no faces; export the scan again", .format.name())]
    NoVertices {
        /// The format read.
        format: MeshFormat,
    },
    /// A valid file that uses an unsupported feature.
    #[error("{}: {what} cannot be read; {instead}", .format.name())]
    NotSupported {
        /// The format being read.
        format: MeshFormat,
        /// The unsupported feature.
        what: String,
        /// What to do about it.
        instead: &'static str,
    },
    /// More vertices or triangles than can be numbered, or than the file size makes plausible.
    #[error("{}: {what}; reduce the mesh and export it again", .format.name())]
    TooLarge {
        /// The format being read.
        format: MeshFormat,
        /// The exceeded limit.
        what: String,
    },
}

impl ReadError {
    /// The short code, which does not change.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Empty => "file-empty",
            Self::OtherKind { .. } => "other-kind-of-file",
            Self::Unrecognised => "format-unknown",
            Self::Line { .. } => "faulty-line",
            Self::Byte { .. } => "faulty-byte",
            Self::CutShort { .. } => "file-cut-short",
            Self::FaceIndex { .. } | Self::VertexZero { .. } => "face-index",
            Self::NoFaces { .. } => "no-faces",
            Self::Tangled { .. } => "tangled",
            Self::NoVertices { .. } => "no-vertices",
            Self::NotSupported { .. } => "not-supported",
            Self::TooLarge { .. } => "too-large",
        }
    }
}
