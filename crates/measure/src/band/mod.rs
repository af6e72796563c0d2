//! The scan near one station: quick sections, the chord frame, the points of a band, and the outline fitted to them.

pub(crate) mod averaged_cut;
pub(crate) mod blade;
pub(crate) mod chord_frame;
pub(crate) mod fit;
pub(crate) mod points;
pub(crate) mod refined;
pub(crate) mod refusal;
pub(crate) mod rim;
pub(crate) mod root;
pub(crate) mod slices;
