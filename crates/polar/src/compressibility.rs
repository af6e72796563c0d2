//! Effects of the Mach number, as smooth factors on incompressible values.
//!
//! Lift: H. Glauert, "The effect of compressibility on the lift of an aerofoil", Proc. Royal Society A 118, 1928, applied to the incidence, so that the
//! slope increases by `1/sqrt(1 - M^2)` while the maximum lift does not (it does not increase in tests either).
//! Drag: Korn's relation for the Mach number of drag divergence with W. H. Mason's constants, "Analytic models for technology integration in aircraft
//! design", AIAA 90-3262, 1990, and C. N. H. Lock's fourth power beyond the critical Mach number (from memory).

/// Mach number up to which the values are intended to be used. Beyond it they only stay finite.
pub const MACH_LIMIT: f64 = 0.9;

/// Korn's constant for sections not designed for high speed (Mason).
const KORN: f64 = 0.87;
/// Factor of the fourth-power drag rise (Lock).
const RISE: f64 = 20.0;
/// Difference between the drag-divergence Mach number, where the drag slope is 0.1 (Mason), and the critical Mach number: the cube root of `0.1 / (4 RISE)`.
const DIVERGENCE_AFTER: f64 = 0.107_721_734_501_594_2;
/// Range of Mach numbers above the critical one in which the lift slope stops increasing. Beyond it the slope decreases by half over [`LOSS_WIDTH`]
/// (only the shape of the decrease; common practice, no source).
const SETTLING: f64 = 0.08;
/// Range of Mach numbers over which the lift slope decreases by half (chosen, see [`SETTLING`]).
const LOSS_WIDTH: f64 = 0.25;
/// Incidence, rad, over which all effects decay beyond stall.
const REACH: f64 = 0.45;

/// Corrections at one Mach number for a lift coefficient.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Corrections {
    /// Factor on the incidence from zero lift, near zero incidence.
    pub(crate) incidence: f64,
    /// Factor on the lift.
    pub(crate) lift: f64,
    /// Added drag.
    pub(crate) drag: f64,
}

impl Corrections {
    /// Those of incompressible flow.
    pub(crate) const NONE: Self = Self { incidence: 1.0, lift: 1.0, drag: 0.0 };
}

/// Critical Mach number of a section at a lift coefficient.
#[must_use]
pub fn critical_mach(thickness_ratio: f64, lift: f64) -> f64 {
    let divergence = KORN - thickness_ratio - 0.1 * (lift * lift + 1e-4).sqrt();
    (divergence - DIVERGENCE_AFTER).max(0.25)
}

pub(crate) fn corrections(mach: f64, thickness_ratio: f64, lift: f64) -> Corrections {
    let mach = if mach.is_finite() { mach.clamp(0.0, MACH_LIMIT + 0.1) } else { 0.0 };
    let critical = critical_mach(thickness_ratio, lift);
    let past = (mach - critical).max(0.0);
    let effective = if past == 0.0 { mach } else { critical + SETTLING * (past / SETTLING).tanh() };
    let far = (past - SETTLING).max(0.0) / LOSS_WIDTH;
    Corrections {
        incidence: 1.0 / (1.0 - effective * effective).max(0.19).sqrt(),
        lift: 1.0 / (1.0 + far * far),
        drag: RISE * past.powi(4),
    }
}

/// Fraction of the corrections that applies at an incidence from zero lift, rad.
pub(crate) fn fade(incidence: f64) -> f64 {
    (-(incidence / REACH).powi(4)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    const DIVERGENCE_SLOPE: f64 = 0.1;

    #[test]
    fn slope_grows_as_glauert_says_below_the_critical_mach_number() {
        let c = corrections(0.5, 0.12, 0.2);
        assert!((c.incidence - 1.0 / 0.75f64.sqrt()).abs() < 1e-12);
        assert!(c.drag.abs() < 1e-15 && (c.lift - 1.0).abs() < 1e-15);
    }

    #[test]
    fn the_constant_is_what_it_says() {
        assert!((DIVERGENCE_AFTER - (DIVERGENCE_SLOPE / (4.0 * RISE)).cbrt()).abs() < 1e-15);
    }

    #[test]
    fn drag_slope_at_divergence_is_a_tenth() {
        let (t, lift) = (0.12, 0.3);
        let divergence = KORN - t - 0.1 * lift;
        let h = 1e-4;
        let slope = (corrections(divergence + h, t, lift).drag - corrections(divergence - h, t, lift).drag)
            / (2.0 * h);
        assert!((slope - DIVERGENCE_SLOPE).abs() < 2e-3, "{slope}");
    }
}
