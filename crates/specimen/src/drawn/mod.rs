//! Blades drawn by seed: published sections, free sections that belong to no published family, and free plan forms.

mod bernstein;
mod blade;
mod course;
mod edge;
mod section;
mod settle;
mod sketch;

pub use blade::{Axis, DrawnBlade, Sections};
pub use edge::Edge;
pub use section::DrawnSection;

#[cfg(test)]
mod tests;
