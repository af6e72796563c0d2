//! The stream past a body behind the propeller: a prolate spheroid in axial potential flow.
//!
//! H. Lamb, *Hydrodynamics*, 6th edition, 1932, article 105 (from memory): the flow is that of sources along the line between the foci, in proportion to the distance from the middle. With the
//! semi-axes `a` and `b`, `c^2 = a^2 - b^2` and the distances `R1`, `R2` from the foci, the axial velocity that the body adds is
//! `-V (c/R1 + c/R2 - ln((R1 + R2 + 2c)/(R1 + R2 - 2c))) / (2 a c/b^2 - ln((a + c)/(a - c)))`, which is `-V` at its nose.

use crate::FlowError;
use std::f64::consts::{FRAC_PI_4, LN_10};

/// Below this eccentricity the closed form loses its figures, and the spheroid is a sphere to one part in ten thousand.
const ROUND: f64 = 0.02;
/// Least and greatest drag coefficient on the frontal area that is accepted: from nothing to a flat plate.
const DRAG_RANGE: [f64; 2] = [0.0, 1.5];
/// Least Reynolds number for which the friction of a turbulent boundary layer is taken.
const LEAST_REYNOLDS: f64 = 1e5;

/// A body behind the propeller, on its axis. SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BodyPlan {
    /// Greatest diameter, m. At zero there is no body.
    pub diameter_m: f64,
    /// Length, m, at least the diameter.
    pub length_m: f64,
    /// Distance of its nose behind the plane of the blades, m, from 0 on.
    pub gap_m: f64,
    /// Drag coefficient on the frontal area. `None`: that of a streamlined body (see [`BodyPlan::drag_coefficient`]).
    pub drag_coefficient: Option<f64>,
}

impl BodyPlan {
    /// Refuses a body that is no prolate spheroid, or a drag that no body has.
    ///
    /// # Errors
    /// [`FlowError::Installed`].
    pub(crate) fn check(&self) -> Result<(), FlowError> {
        let refused = |problem: String| Err(FlowError::Installed { problem });
        let [d, l, gap] = [self.diameter_m, self.length_m, self.gap_m];
        if !(0.0 <= d && d <= l && l.is_finite()) {
            return refused(format!(
                "the body behind the propeller is {:.1} mm in diameter and {:.1} mm long; give a length of at least its diameter",
                1e3 * d,
                1e3 * l
            ));
        }
        if !(0.0 <= gap && gap.is_finite()) {
            return refused(format!(
                "the nose of the body is {:.1} mm behind the blades; give 0 or more",
                1e3 * gap
            ));
        }
        match self.drag_coefficient {
            Some(c) if !(DRAG_RANGE[0]..=DRAG_RANGE[1]).contains(&c) => refused(format!(
                "the drag coefficient of the body is {c}; give a value from {} to {} on its frontal area",
                DRAG_RANGE[0], DRAG_RANGE[1]
            )),
            _ => Ok(()),
        }
    }

    /// Axial speed in the plane of the blades at a radius, m, as a fraction of the speed of flight.
    #[must_use]
    pub fn stream_factor(&self, radius_m: f64) -> f64 {
        1.0 + added(0.5 * self.length_m, 0.5 * self.diameter_m, -0.5 * self.length_m - self.gap_m, radius_m)
    }

    /// Frontal area, m2.
    #[must_use]
    pub fn frontal_area_m2(&self) -> f64 {
        FRAC_PI_4 * self.diameter_m.powi(2)
    }

    /// Drag coefficient on the frontal area: as given, or of a streamlined body of revolution with a turbulent boundary layer at a Reynolds number on its length,
    /// `cf (3 l/d + 4.5 (d/l)^(1/2) + 21 (d/l)^2)` with `cf = 0.455/(log10 Re)^2.58`.
    ///
    /// # Source
    /// S. F. Hoerner, *Fluid-Dynamic Drag*, 1965, chapter 6 (from memory).
    #[must_use]
    pub fn drag_coefficient(&self, reynolds: f64) -> f64 {
        self.drag_coefficient.unwrap_or_else(|| {
            if self.diameter_m <= 0.0 {
                return 0.0;
            }
            let slender = self.length_m / self.diameter_m;
            let friction = 0.455 / (reynolds.max(LEAST_REYNOLDS).ln() / LN_10).powf(2.58);
            friction * (3.0 * slender + 4.5 / slender.sqrt() + 21.0 / slender.powi(2))
        })
    }
}

/// Axial velocity that a prolate spheroid of semi-axes `a` and `b` adds to a stream of unit speed along `x`, at `x` from its middle and `r` from its axis, outside it.
fn added(a: f64, b: f64, x: f64, r: f64) -> f64 {
    if b <= 0.0 {
        return 0.0;
    }
    let c = (a * a - b * b).max(0.0).sqrt();
    if c < ROUND * a {
        // A doublet: L. M. Milne-Thomson, Theoretical Hydrodynamics, 1968, article 15.30 (from memory).
        return -0.5 * a.powi(3) * (2.0 * x * x - r * r) / x.hypot(r).powi(5);
    }
    let (r1, r2) = ((x + c).hypot(r), (x - c).hypot(r));
    let line = ((r1 + r2 + 2.0 * c) / (r1 + r2 - 2.0 * c)).ln();
    let nose = 2.0 * a * c / (b * b) - ((a + c) / (a - c)).ln();
    -(c / r1 + c / r2 - line) / nose
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lamb, article 114 (from memory): the inertia coefficient along the axis is `k = alpha/(2 - alpha)` with `alpha = 2 (1 - e^2)/e^3 (ln((1 + e)/(1 - e))/2 - e)`, tabulated as 0.5 for a sphere,
    /// 0.209 at a length of 2 diameters and 0.082 at 4. The greatest speed on the surface, at the middle, is `1 + k`.
    #[test]
    fn the_speed_on_the_surface_is_lambs() {
        for (slender, table) in [(1.001_f64, 0.5), (2.0, 0.209), (4.0, 0.082)] {
            let e = (1.0 - slender.powi(-2)).sqrt();
            let alpha = 2.0 * (1.0 - e * e) / e.powi(3) * (0.5 * ((1.0 + e) / (1.0 - e)).ln() - e);
            let found = added(slender, 1.0, 0.0, 1.0);
            assert!((found - alpha / (2.0 - alpha)).abs() < 1e-9, "{slender}: {found}");
            assert!((found - table).abs() < 1.5e-3, "{slender}: {found}");
            // The stream stops at the nose.
            assert!((added(slender, 1.0, -slender, 0.0) + 1.0).abs() < 1e-9);
        }
        // A sphere, and a spheroid that is nearly one.
        for (x, r) in [(0.0, 1.0), (-1.0, 0.0), (-1.2, 0.7), (0.3, 1.4)] {
            let off = added(1.0, 1.0, x, r) - added(1.001, 1.0, x * 1.001, r);
            assert!(off.abs() < 2e-3, "{x} {r}: {off}");
        }
    }

    /// The flow is the same by numbers: sources along the line between the foci in proportion to the distance from the middle, with no flow through the surface.
    #[test]
    fn the_field_is_that_of_sources_between_the_foci() {
        let (a, b) = (3.0_f64, 1.0_f64);
        let c = (a * a - b * b).sqrt();
        let sum = |x: f64, r: f64, of: fn(f64, f64) -> f64| -> f64 {
            let n = 20_000;
            (0..n)
                .map(|k| {
                    let at = c * (2.0 * (f64::from(k) + 0.5) / f64::from(n) - 1.0);
                    2.0 * c / f64::from(n) * at * of(x - at, r) / (x - at).hypot(r).powi(3)
                })
                .sum()
        };
        let strength = -1.0 / sum(-a, 0.0, |dx, _| dx);
        for (x, r) in [(-3.5, 0.4), (-3.0, 1.2), (0.0, 1.5), (2.0, 2.0)] {
            let by_numbers = strength * sum(x, r, |dx, _| dx);
            assert!((added(a, b, x, r) - by_numbers).abs() < 1e-6, "{x} {r}");
        }
        // A point on the surface: the stream with its sources runs along it.
        let (x, r) = (-1.8, (1.0 - 0.36_f64).sqrt());
        let (u, v) = (1.0 + strength * sum(x, r, |dx, _| dx), strength * sum(x, r, |_, r| r));
        assert!((u * x / (a * a) + v * r / (b * b)).abs() < 1e-5);
        assert!((added(a, b, x, r) - (u - 1.0)).abs() < 1e-6);
    }

    #[test]
    fn nothing_and_far_away_change_nothing() {
        let body = |diameter_m, gap_m| BodyPlan { diameter_m, length_m: 4.0, gap_m, drag_coefficient: None };
        assert!((body(0.0, 0.0).stream_factor(0.5) - 1.0).abs() < 1e-15);
        assert!((body(1.0, 400.0).stream_factor(0.5) - 1.0).abs() < 1e-6);
        assert!(body(1.0, 0.1).stream_factor(0.5) < 1.0 && body(1.0, 0.0).stream_factor(0.0).abs() < 1e-9);
        assert!(body(5.0, 0.0).check().is_err() && body(1.0, -0.1).check().is_err());
        // Hoerner, chapter 6, figure 22 (from memory): 0.05 to 0.06 on the frontal area at a length of 4 diameters and a Reynolds number of 1e7.
        let c = body(1.0, 0.0).drag_coefficient(1e7);
        assert!((0.045..0.06).contains(&c), "{c}");
    }
}
