//! The row of one station: its figures in metres and degrees, and their uncertainty by source.

pub(crate) mod correlation;
mod definition;
mod departures;
mod edges;
pub(crate) mod long_range;
pub(crate) mod misfit;
mod not_scanned;
mod resolution;
mod row;

pub(crate) use edges::{MOSTLY_MISSING, edge_in_hole, lacks_an_edge};
pub(crate) use row::{ToTable, turn_station};
