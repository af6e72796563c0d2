//! Scans as photogrammetry makes them, from exact blades: a limited resolution, triangles that know nothing of edges, noise with a stated
//! correlation over the surface, two sides that do not quite fit, a part that is bent. Knows nothing of how a scan is measured.

mod deformation;
mod kernel;
mod lattice;
mod lofted;
mod noise;
mod patches;
mod plan;
mod scan;
mod sheet;
mod sides;
mod triangles;

pub use deformation::Deformation;
pub use kernel::{Kernel, KernelKind};
pub use lofted::Lofted;
pub use noise::{Correlation, Noise};
pub use plan::{Photogrammetry, Triangulation};
pub use scan::{Hub, photographed_blade, photographed_propeller};

#[cfg(test)]
mod tests;
