//! Why a triangle surface is not the boundary of a solid.

use bladeform_table::Coded;
use thiserror::Error;

/// What the check of a surface found. Positions are in mm.
#[derive(Debug, Error, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum SurfaceFault {
    /// There is nothing to check.
    #[error("it has no triangles")]
    Empty,
    /// A coordinate is infinite or not a number.
    #[error("a vertex is not finite: {0:?}")]
    NotFinite([f64; 3]),
    /// A triangle refers to a vertex that does not exist.
    #[error("a triangle refers to vertex {0}, which does not exist")]
    NoVertex(u32),
    /// The connections of the triangles are wrong around one vertex.
    #[error("{fault} at {}", position(*.at_mm))]
    Connection {
        /// What is wrong.
        fault: ConnectionFault,
        /// The vertex, mm.
        at_mm: [f64; 3],
    },
    /// A triangle collapsed in single precision.
    #[error("a triangle has no area after its corners are rounded to single precision")]
    NoArea,
    /// The enclosed volume is not positive.
    #[error("its triangles face inwards")]
    Inwards,
    /// Two triangles meet outside the corners and edges that they share.
    #[error("it cuts itself near {}", position(*.near_mm))]
    CutsItself {
        /// A corner of one of the two triangles, mm.
        near_mm: [f64; 3],
    },
}

/// What is wrong with the connections of triangles around one vertex.
#[derive(Debug, Error, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum ConnectionFault {
    /// Two corners of a triangle are the same vertex.
    #[error("two corners of a triangle are the same vertex")]
    DoubleCorner,
    /// Two triangles have opposite windings at a common edge.
    #[error("two triangles run along an edge in the same direction")]
    Winding,
    /// The surface has a border.
    #[error("an edge has only one triangle")]
    OpenEdge,
    /// Three or more triangles share an edge.
    #[error("an edge has more than two triangles")]
    CrowdedEdge,
    /// Two sheets have only one vertex in common.
    #[error("two sheets touch in one vertex")]
    TouchingSheets,
    /// A vertex without triangles.
    #[error("a vertex belongs to no triangle")]
    LooseVertex,
    /// The surface has more than one piece.
    #[error("a piece is separate from the rest")]
    SeparatePiece,
}

impl Coded for SurfaceFault {
    fn code(&self) -> &'static str {
        match self {
            Self::Empty => "no-triangles",
            Self::NotFinite(_) => "vertex-not-finite",
            Self::NoVertex(_) => "no-such-vertex",
            Self::Connection { fault, .. } => match fault {
                ConnectionFault::DoubleCorner => "double-corner",
                ConnectionFault::Winding => "edge-winding",
                ConnectionFault::OpenEdge => "open-edge",
                ConnectionFault::CrowdedEdge => "crowded-edge",
                ConnectionFault::TouchingSheets => "touching-sheets",
                ConnectionFault::LooseVertex => "loose-vertex",
                ConnectionFault::SeparatePiece => "separate-piece",
            },
            Self::NoArea => "triangle-without-area",
            Self::Inwards => "faces-inwards",
            Self::CutsItself { .. } => "cuts-itself",
        }
    }

    fn sentence(&self) -> String {
        self.to_string()
    }
}

fn position([x, y, z]: [f64; 3]) -> String {
    format!("x = {x:.3}, y = {y:.3}, z = {z:.3} mm")
}
