//! Numerics that know nothing of blades.
//!
//! - [`parallel`]: the same work on many items, with results that do not depend on the number of threads.
//! - [`observe`]: progress of a long call, and a way to stop it.
//! - [`bspline`], [`cubic_spline`], [`smoothing_spline`], [`monotone`]: curves through points and near them.
//! - [`chi_square`]: how far a sum of squares goes by chance.
//! - [`sets`]: items joined to disjoint sets.
//! - [`search`]: maxima and zero crossings of functions of one variable.
//! - [`rows`]: comma-separated text as cells with their lines.
//! - [`vector`]: small vectors as arrays.
//!
//! The main entries are [`parallel::map`] and the trait [`observe::Observer`].
//!
//! ```
//! use bladeform_numeric::observe::{Silent, Stage, report};
//! use bladeform_numeric::parallel;
//!
//! let lengths_mm = [150.0, 160.0, 120.0];
//! let halved = |length_mm: &f64| report(&Silent, Stage::named("halving")).map(|()| 0.5 * length_mm);
//! let on_two_threads = parallel::with_threads(2, || parallel::map(&lengths_mm, halved));
//! assert_eq!(on_two_threads, [Ok(75.0), Ok(80.0), Ok(60.0)]);
//! assert_eq!(on_two_threads, parallel::map(&lengths_mm, halved));
//! ```

pub mod bspline;
pub mod chi_square;
pub mod cubic_spline;
pub mod monotone;
pub mod nearness;
pub mod observe;
pub mod parallel;
pub mod rows;
pub mod search;
pub mod sets;
pub mod smoothing_spline;
pub mod vector;
