//! Numerics that know nothing of blades.
//!
//! - [`parallel`]: the same work on many items, with results that do not depend on the number of threads.
//! - [`observe`]: progress of a long call, and a way to stop it.
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

pub mod observe;
pub mod parallel;
