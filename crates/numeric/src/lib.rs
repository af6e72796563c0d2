//! Numerics that know nothing of blades.
//!
//! - [`parallel`]: the same work on many items, with results that do not depend on the number of threads.
//! - [`observe`]: progress of a long call, and a way to stop it.
//! - [`bspline`], [`cubic_spline`], [`smoothing_spline`], [`monotone`]: curves through points and near them.
//! - [`sets`]: items joined to disjoint sets.
//! - [`search`]: maxima and zero crossings of functions of one variable.
//! - [`rows`]: comma-separated text as cells with their lines.
//! - [`vector`]: small vectors as arrays.

pub mod bspline;
pub mod cubic_spline;
pub mod monotone;
pub mod observe;
pub mod parallel;
pub mod rows;
pub mod search;
pub mod sets;
pub mod smoothing_spline;
pub mod vector;
