//! The sizes of the units beside SI, each written once. Reading and showing figures both take them from here.
//!
//! Source: A. Thompson, B. N. Taylor, *Guide for the Use of the International System of Units*, NIST Special Publication 811, 2008, appendix B.8.
//! The inch, the foot, the mile, the pound and the pound-force are exact there (international yard and pound agreement, 1959; standard gravity 9.806 65 m/s2).

use crate::text::Unit;

/// The inch, 0.0254 m.
pub(crate) const INCH: Unit = Unit::new("in", 254.0, 10_000.0);
/// The foot, 0.3048 m.
pub(crate) const FOOT: Unit = Unit::new("ft", 3048.0, 10_000.0);
/// Kilometre per hour.
pub(crate) const KILOMETRE_PER_HOUR: Unit = Unit::new("km/h", 10.0, 36.0);
/// Mile per hour, 0.447 04 m/s.
pub(crate) const MILE_PER_HOUR: Unit = Unit::new("mph", 44_704.0, 100_000.0);
/// Knot, 1852 m per hour (also ISO 80000-3).
pub(crate) const KNOT: Unit = Unit::new("kt", 1852.0, 3600.0);
/// Foot per second, 0.3048 m/s.
pub(crate) const FOOT_PER_SECOND: Unit = Unit::new("ft/s", 3048.0, 10_000.0);
/// The pound-force, 4.448 221 615 260 5 N.
const POUND_FORCE_N: f64 = 4.448_221_615_260_5;
/// The pound-force as a unit.
pub(crate) const POUND_FORCE: Unit = Unit::new("lbf", POUND_FORCE_N, 1.0);
/// The mechanical horsepower, 550 ft lbf/s, 745.699 87 W.
pub(crate) const HORSEPOWER: Unit = Unit::new("hp", 550.0 * 0.3048 * POUND_FORCE_N, 1.0);
/// The avoirdupois pound, 0.453 592 37 kg.
pub(crate) const POUND: Unit = Unit::new("lb", 45_359_237.0, 100_000_000.0);
/// Pound per cubic foot: 0.453 592 37 kg over 0.028 316 846 592 m3, both times 1e12.
pub(crate) const POUND_PER_CUBIC_FOOT: Unit = Unit::new("lb/ft3", 453_592_370_000.0, 28_316_846_592.0);

impl Unit {
    /// One of this unit in SI.
    pub(crate) const fn si(&self) -> f64 {
        self.numerator / self.denominator
    }
}
