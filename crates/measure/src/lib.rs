//! From a scan to the station table: axes, hand, scale, stations.
//!
//! Knows nothing of pages, of flow, or of files on disk: bytes in, table out.
//!
//! - [`MeasurePlan`]: what the user tells and asks.
//! - [`measure()`]: the whole way. One station's trouble is a flag of that station; no table at all is a [`MeasureError`].

mod band;
mod body;
mod error;
mod frame;
mod input;
mod notice;
mod pipeline;
mod plan;
mod station;
mod vector;

pub use bladeform_numeric::observe::{Observer, Silent, Stage};
pub use body::Body;
pub use error::{LengthFault, MeasureError, NoBladeReason};
pub use input::ScanInput;
pub use notice::{HandRule, MeasureNotice, TipNotice};
pub use pipeline::{measure, measure_with_part, part_of};
pub use plan::{KnownAngle, MeasurePlan};
