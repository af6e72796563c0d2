//! How the part lies in the scan: bodies, axis, span, ends, hand, scale.

pub(crate) mod axes;
pub(crate) mod bodies;
pub(crate) mod damaged;
pub(crate) mod ends;
pub(crate) mod hub;
pub(crate) mod hub_bolts;
pub(crate) mod hub_size;
pub(crate) mod kernel;
pub(crate) mod known;
pub(crate) mod noise;
pub(crate) mod reach;
pub(crate) mod resolution;
pub(crate) mod ring;
pub(crate) mod rotor;
pub(crate) mod scale;
pub(crate) mod short_shank;
pub(crate) mod sides;
pub(crate) mod spike;
pub(crate) mod step;
pub(crate) mod symmetry;
pub(crate) mod tip;
