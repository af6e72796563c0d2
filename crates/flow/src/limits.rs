//! Limits that are applied in one file and named in the sentences of another.

/// From this thickness ratio on a section is treated as a bluff body instead of a lifting section.
pub(crate) const BLUFF_THICKNESS_RATIO: f64 = 0.6;
/// Above this helical tip Mach number compressibility matters (common practice, no source).
pub(crate) const MACH_COUNTS: f64 = 0.3;
/// Above this it is serious (common practice, no source).
pub(crate) const MACH_SERIOUS: f64 = 0.6;
/// Above this stalled fraction of the span all figures are rough.
pub(crate) const MUCH_STALLED: f64 = 0.25;
/// Beyond this helical tip Mach number the methods do not hold: shocks over much of the blade (common practice, no source).
pub(crate) const MACH_LIMIT: f64 = 0.9;
/// Most points at zero speed for which the free wake is solved. With more it is solved only at the answers, because one point takes half a second to some
/// seconds.
pub(crate) const MOST_FREE_WAKES: usize = 12;
/// Below this Reynolds number at [`REFERENCE_RATIO`] predictions carry a notice: beside the Clark Y of the University of Illinois the drag is off by 8 % at 2e5 and by 22 % at 1e5 (root mean square,
/// docs/decisions/029-sections-at-zero-lift-and-low-reynolds-numbers.md).
pub(crate) const LOW_REYNOLDS: f64 = 2e5;
/// The radius, as a fraction of the tip radius, at which the Reynolds number of a blade is taken (common practice, no source).
pub(crate) const REFERENCE_RATIO: f64 = 0.75;
