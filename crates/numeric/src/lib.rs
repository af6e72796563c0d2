//! Numerics that know nothing of blades.
//!
//! - [`parallel`]: the same work on many items, with results that do not depend on the number of threads.
//! - [`observe`]: progress of a long call, and a way to stop it.

pub mod observe;
pub mod parallel;
