//! From a scan to the station table: axes, hand, scale, stations.
//!
//! Knows nothing of pages, of flow, or of files on disk: bytes in, table out.
//!
//! - [`MeasurePlan`]: what the user tells and asks.
//! - [`measure()`]: the whole way. One station's trouble is a flag of that station; no table at all is a [`MeasureError`].

mod axes;
mod bodies;
mod error;
mod hub;
mod input;
mod noise;
mod notice;
mod pipeline;
mod plan;
mod reach;
mod resolution;
mod scale;
mod slices;
mod stations;
mod symmetry;
mod tip;
mod vector;

pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use error::MeasureError;
pub use input::ScanInput;
pub use notice::{HandRule, MeasureNotice, TipNotice};
pub use pipeline::{measure, measure_with_part, part_of};
pub use plan::{KnownAngle, MeasurePlan};
