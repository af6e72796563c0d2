//! Figures of a whole blade from its stations.

use crate::{StationColumn, StationTable};
use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_quantity::Measured;
use std::f64::consts::{PI, TAU};

/// The activity factor of one blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ActivityFactor {
    /// The activity factor, a pure number.
    pub value: f64,
    /// The fraction of the range from 0.15 R to R outside the stations. The chord is extrapolated there.
    pub extrapolated_share: f64,
}

/// A warning is needed if a greater fraction of the range than this has no measured chords.
pub const ACTIVITY_FACTOR_EXTRAPOLATED_LIMIT: f64 = 0.05;

/// Lower limit of the integral of the activity factor, as a fraction of the tip radius.
pub const ACTIVITY_FACTOR_FIRST_RATIO: f64 = 0.15;

/// The factor before the integral.
pub(crate) const ACTIVITY_FACTOR_SCALE: f64 = 100_000.0 / 16.0;

impl ActivityFactor {
    /// Whether more than [`ACTIVITY_FACTOR_EXTRAPOLATED_LIMIT`] of the range is not covered by stations.
    #[must_use]
    pub fn needs_warning(&self) -> bool {
        self.extrapolated_share > ACTIVITY_FACTOR_EXTRAPOLATED_LIMIT
    }
}

/// The activity factor of one blade, `(100000/16) * integral from 0.15 to 1.0 of (c/D) (r/R)^3 d(r/R)`.
///
/// `chords` are `(radius, chord)`, both m, by increasing radius; `radius_m` is the tip radius. Between stations the chord is that of
/// the smooth [`MonotoneCubic`] through them. Beyond the first and the last station it is extrapolated linearly, but not below zero.
///
/// Returns `None` for fewer than two stations, radii that do not increase, or a tip radius that is not above 0.
///
/// # Source
/// The definition is common practice, no source.
///
/// ```
/// // A chord of D/20 all along the blade.
/// let af = bladeform_table::activity_factor(1.0, &[(0.15, 0.1), (0.6, 0.1), (1.0, 0.1)]).unwrap();
/// let closed_form = 100_000.0 / 16.0 * 0.05 * (1.0 - 0.15_f64.powi(4)) / 4.0;
/// assert!((af.value - closed_form).abs() < 1e-9);
/// assert_eq!(af.extrapolated_share, 0.0);
/// ```
#[must_use]
pub fn activity_factor(radius_m: f64, chords: &[(f64, f64)]) -> Option<ActivityFactor> {
    if !(radius_m > 0.0 && radius_m.is_finite()) {
        return None;
    }
    let over_diameter: Vec<(f64, f64)> =
        chords.iter().map(|(r, c)| (r / radius_m, c / (2.0 * radius_m))).collect();
    let curve = MonotoneCubic::through(&over_diameter)?;
    let value = ACTIVITY_FACTOR_SCALE * integral(&curve, |x, chord| chord.max(0.0) * x.powi(3));
    Some(ActivityFactor { value, extrapolated_share: extrapolated_share(curve.range()) })
}

/// The solidity at a radius, `B c / (2 pi r)`: `blades` blades, the chord and the radius there, both m.
#[must_use]
pub fn solidity(blades: u64, chord_m: f64, radius_m: f64) -> f64 {
    blades as f64 * chord_m / (PI * 2.0 * radius_m)
}

/// The twist at a station, degrees: its angle minus that at the reference radius, both degrees.
#[must_use]
pub fn twist_deg(angle_deg: f64, reference_angle_deg: f64) -> f64 {
    angle_deg - reference_angle_deg
}

/// The geometric pitch, m, `2 pi r tan(angle)`: radius in m, angle in degrees. It grows without bound towards 90 degrees.
#[must_use]
pub fn geometric_pitch_m(radius_m: f64, angle_deg: f64) -> f64 {
    TAU * radius_m * angle_deg.to_radians().tan()
}

impl StationTable {
    /// The solidity at 0.75 R of a propeller with `blades` such blades. `None` if fewer than two stations have a chord.
    #[must_use]
    pub fn solidity(&self, blades: u64) -> Option<f64> {
        let chord = self.value_at_three_quarters(StationColumn::ChordM)?;
        let radius_m = self.blade.radius_m * crate::DEFAULT_REFERENCE_RADIUS_RATIO;
        Some(solidity(blades, chord.measured.value, radius_m))
    }

    /// Mass of one blade, kg: its volume times the stated density. The uncertainty is that of the volume; that of the density is not known. `None` without either.
    ///
    /// ```
    /// # use bladeform_table::StationTable;
    /// let mut table = StationTable::default();
    /// table.blade.volume_m3 = Some(2e-3);
    /// assert!(table.mass_kg().is_none());
    /// table.record.density_kg_m3 = Some(680.0);
    /// assert!((table.mass_kg().unwrap().value - 1.36).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn mass_kg(&self) -> Option<Measured> {
        let (density, volume) = (self.record.density_kg_m3?, self.blade.volume_m3?);
        Some(Measured::new(density * volume, density * self.blade.u.volume_m3.unwrap_or(0.0)))
    }

    /// The twist of every station with a blade angle: `(radius_m, twist in degrees)`. Empty if fewer than two stations have one.
    #[must_use]
    pub fn twist(&self) -> Vec<(f64, f64)> {
        let Some(reference) = self.value_at_reference(StationColumn::BladeAngleDeg) else {
            return Vec::new();
        };
        let angles = self.column(StationColumn::BladeAngleDeg);
        angles.into_iter().map(|(r, angle)| (r, twist_deg(angle, reference.measured.value))).collect()
    }
}

/// The fraction of the range from 0.15 to 1 outside the stations.
fn extrapolated_share((first, last): (f64, f64)) -> f64 {
    let range = 1.0 - ACTIVITY_FACTOR_FIRST_RATIO;
    let inboard = (first - ACTIVITY_FACTOR_FIRST_RATIO).clamp(0.0, range);
    let outboard = (1.0 - last).clamp(0.0, range);
    ((inboard + outboard) / range).min(1.0)
}

/// The integral from 0.15 to 1 of a polynomial of the curve, interval by interval.
fn integral(curve: &MonotoneCubic, integrand: impl Fn(f64, f64) -> f64) -> f64 {
    let knots = curve.knots().iter().copied().chain(zeros_beyond(curve));
    let mut bounds: Vec<f64> = knots.filter(|x| ACTIVITY_FACTOR_FIRST_RATIO < *x && *x < 1.0).collect();
    bounds.extend([ACTIVITY_FACTOR_FIRST_RATIO, 1.0]);
    bounds.sort_by(f64::total_cmp);
    bounds.windows(2).map(|pair| gauss_legendre(pair[0], pair[1], |x| integrand(x, curve.value(x)))).sum()
}

/// Zeros of the linear extrapolation. The chord is zero beyond them, so it has a kink there that quadrature must not cross.
fn zeros_beyond(curve: &MonotoneCubic) -> impl Iterator<Item = f64> {
    let (first, last) = curve.range();
    let zero = |end: f64, outwards: f64| {
        let (value, fall) = (curve.value(end), curve.value(end) - curve.value(end + outwards));
        (value > 0.0 && fall > 0.0).then(|| end + outwards * value / fall)
    };
    [zero(first, -1.0), zero(last, 1.0)].into_iter().flatten()
}

/// Gauss-Legendre quadrature of four points, exact up to degree 7; a cubic chord times the cube of the radius has degree 6.
///
/// # Source
/// M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, table 25.4, n = 4.
fn gauss_legendre(from: f64, to: f64, f: impl Fn(f64) -> f64) -> f64 {
    const NODES: [(f64, f64); 2] = [
        (0.339_981_043_584_856_3, 0.652_145_154_862_546_1),
        (0.861_136_311_594_052_6, 0.347_854_845_137_453_9),
    ];
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    half * NODES
        .iter()
        .map(|(node, weight)| weight * (f(middle - half * node) + f(middle + half * node)))
        .sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn chords(n: u32, first: f64, last: f64, c: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..n).map(|k| first + (last - first) * f64::from(k) / f64::from(n - 1)).map(|x| (x, c(x))).collect()
    }

    #[test]
    fn a_linear_taper_agrees_with_its_closed_form_also_where_it_is_carried_to_the_tip() {
        // c/D = 0.08 - 0.05 x: the integral of x^3 and x^4 from 0.15 to 1.
        let (a, b) = (0.08, 0.05);
        let exact =
            ACTIVITY_FACTOR_SCALE * (a * (1.0 - 0.15_f64.powi(4)) / 4.0 - b * (1.0 - 0.15_f64.powi(5)) / 5.0);
        for last in [1.0, 0.97, 0.9] {
            let af = activity_factor(1.0, &chords(12, 0.2, last, |x| 2.0 * (a - b * x))).unwrap();
            assert!((af.value - exact).abs() < 1e-9, "{} against {exact}", af.value);
            assert!((af.extrapolated_share - (0.05 + 1.0 - last) / 0.85).abs() < 1e-12);
        }
    }

    #[test]
    fn a_curved_planform_is_met_within_a_thousandth() {
        // c/D = 0.3 x (1 - x): the integral of x^4 - x^5 from 0.15 to 1.
        let power = |n: i32| (1.0 - 0.15_f64.powi(n)) / f64::from(n);
        let exact = ACTIVITY_FACTOR_SCALE * 0.3 * (power(5) - power(6));
        let af =
            activity_factor(2.0, &chords(24, 0.3, 2.0, |r| 4.0 * 0.3 * (r / 2.0) * (1.0 - r / 2.0))).unwrap();
        assert!((af.value / exact - 1.0).abs() < 1e-3, "{} against {exact}", af.value);
    }

    #[test]
    fn a_taper_to_nothing_before_the_tip_counts_no_negative_chord() {
        let af = activity_factor(1.0, &[(0.1, 0.2), (0.5, 0.1), (0.8, 0.025)]).unwrap();
        // c/D = 0.1125 - 0.125 x up to its zero at 0.9.
        let exact = ACTIVITY_FACTOR_SCALE
            * (0.1125 * (0.9_f64.powi(4) - 0.15_f64.powi(4)) / 4.0
                - 0.125 * (0.9_f64.powi(5) - 0.15_f64.powi(5)) / 5.0);
        assert!((af.value / exact - 1.0).abs() < 1e-12, "{} against {exact}", af.value);
        assert!(af.needs_warning());
    }

    #[test]
    fn what_is_no_blade_has_no_activity_factor() {
        assert_eq!(activity_factor(1.0, &[(0.5, 0.1)]), None);
        assert_eq!(activity_factor(0.0, &[(0.5, 0.1), (0.6, 0.1)]), None);
        assert_eq!(activity_factor(f64::NAN, &[(0.5, 0.1), (0.6, 0.1)]), None);
        assert_eq!(activity_factor(1.0, &[(0.6, 0.1), (0.5, 0.1)]), None);
    }

    #[test]
    fn the_small_figures_are_as_defined() {
        assert!((solidity(3, 0.2, 0.75) - 3.0 * 0.2 / (TAU * 0.75)).abs() < 1e-15);
        assert!((geometric_pitch_m(1.0, 45.0) - TAU).abs() < 1e-12);
        assert!((twist_deg(31.0, 20.5) - 10.5).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn the_activity_factor_does_not_depend_on_the_size(scale in 0.01_f64..100.0, k in 0.01_f64..0.3) {
            let points = chords(10, 0.15, 1.0, |x| k * (1.2 - x));
            let scaled: Vec<(f64, f64)> = points.iter().map(|(r, c)| (r * scale, c * scale)).collect();
            let (a, b) = (activity_factor(1.0, &points).unwrap(), activity_factor(scale, &scaled).unwrap());
            prop_assert!((a.value - b.value).abs() < 1e-9 * a.value);
        }
    }
}
