//! Triangle meshes: file formats, repair with counts, topology, components, plane cuts and moments.
//!
//! Data flows in one direction: [`read`] returns a [`RawMesh`], [`repair`] turns it into a [`CleanMesh`], [`orient`] makes its
//! windings agree, [`keep_part`] removes what is not the part, and [`cut`] and [`moments`] measure the rest.
//! [`isolate`] does `repair`, `orient` and `keep_part` in one call, and faster than one by one. The main entries are [`read`] and [`isolate`].
//!
//! - A [`CleanMesh`] has finite coordinates, face indices in range and no flat triangle. Only [`repair`] makes one.
//! - Lengths are in the units of the file. The scale is not known here, so every tolerance is a fraction of the
//!   diagonal of the bounding box or of the edge lengths.
//! - No value depends on the order of vertices or triangles in the file, except for rounding.
//! - Not guaranteed: a closed surface, manifold edges, no self-intersection. [`topology`] reports open and non-manifold edges.
//!
//! # Example
//! ```
//! use bladeform_mesh::{RawMesh, cut, moments, orient, repair};
//!
//! // A tetrahedron with one triangle of the wrong winding and an unused corner.
//! let raw = RawMesh {
//!     vertices: vec![[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.], [9., 9., 9.]],
//!     faces: vec![[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 3, 2]],
//! };
//! let (mesh, tally) = repair(raw)?;
//! let (mesh, report) = orient(mesh);
//! assert_eq!((tally.unreferenced_vertices, report.flipped_triangles), (1, 1));
//! assert!((moments(&mesh).volume - 1.0 / 6.0).abs() < 1e-12);
//!
//! let planes = cut(&mesh, [0., 0., 1.], &[0.5]);
//! assert!(planes[0].chains[0].closed);
//! assert!((planes[0].area([0., 0., 1.]) - 0.125).abs() < 1e-12);
//! # Ok::<(), bladeform_mesh::NothingLeft>(())
//! ```

mod bench;
mod clean;
mod components;
mod cut;
mod edges;
mod error;
mod format;
mod ground;
mod isolate;
mod moments;
mod notice;
mod order;
mod pieces;
mod places;
mod plane;
mod projected_hull;
mod raw;
mod read_mesh;
mod rims;
mod simplify;
mod tangle;
mod topology;

pub use clean::{CleanMesh, NothingLeft, RepairTally, repair};
pub use components::{Selection, components, keep_part, labelled_components};
pub use cut::{Chain, PlaneCut, cut};
pub use error::ReadError;
pub use format::{read, write_obj, write_ply_ascii, write_ply_binary, write_stl_ascii, write_stl_binary};
pub use isolate::{Part, isolate};
pub use moments::{Moments, moments};
pub use notice::ReadNotice;
pub use pieces::{Component, PartReason, RemovedPart};
pub use raw::{ArrayError, RawMesh};
pub use read_mesh::{MeshFormat, ReadMesh};
pub use rims::rims;
pub use simplify::simplify;
pub use topology::{BoundaryLoop, OrientationReport, Topology, orient, topology};
