//! Lift, drag and moment of a section from its outline.
//!
//! Knows nothing of blades, of the third dimension but for the stall delay, or of files.

mod forces;

pub use forces::{PolarRegion, SectionForces, SectionPolar};
