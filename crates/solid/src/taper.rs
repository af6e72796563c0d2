//! A root that is wider than its hub: it is narrowed evenly inside of a radius, so that the hub cuts it all around.

use crate::propeller::widest;
use crate::surface::BladeSurface;

/// Radius at which a narrowed root ends, and half its width there, as fractions of the hub's radius: deep enough inside that no corner comes out (chosen).
const END: [f64; 2] = [0.3, 0.5];
/// Fraction of its share of the hub's circumference that a blade may take.
const SHARE: f64 = 0.85;
/// And the greatest angle at which it may come out beside its own axis, rad: farther around it would graze the cylinder.
const WIDEST_ANGLE: f64 = 1.3;

/// A blade that comes out of the hub narrower than this fraction of its root is no longer the blade of the table (a judgement).
const LEAST_LEFT: f64 = 0.4;

/// How a root is led into a hub that is narrower.
pub(crate) struct Taper {
    hub_m: f64,
    /// Radius from which the root is narrowed, m: its end, or the hub's surface if the root reaches into the hub.
    pub(crate) from_m: f64,
    /// Greatest distance of the section there from the pitch-change axis, m. At some setting it lies in the plane of rotation.
    pub(crate) wide_m: f64,
}

impl Taper {
    pub(crate) fn of(surface: &BladeSurface, hub_m: f64) -> Self {
        let from_m = surface.root_radius_m().max(hub_m);
        let v = surface.v_of_radius(from_m).max(0.0);
        Self { hub_m, from_m, wide_m: widest(surface, v, v + 1e-6) }
    }

    /// Radius at which it ends inside the hub, m.
    pub(crate) fn reach_m(&self) -> f64 {
        END[0] * self.hub_m
    }

    /// Its half width there, m.
    pub(crate) fn inner_m(&self) -> f64 {
        (END[1] * self.hub_m).min(self.wide_m)
    }

    /// Half the width at which it comes out of the hub if its widest part lies in the plane of rotation, m: where the straight line from the outer section to the inner one meets the circle of the hub.
    pub(crate) fn emergence_m(&self) -> f64 {
        let (x, z) = (self.wide_m, self.from_m);
        let (dx, dz) = (self.inner_m() - x, self.reach_m() - z);
        let (a, b, c) = (dx * dx + dz * dz, x * dx + z * dz, x * x + z * z - self.hub_m * self.hub_m);
        // The first of the two intersections; there are two, since the inner end lies inside the circle.
        let t = (-b - (b * b - a * c).max(0.0).sqrt()) / a;
        x + t.clamp(0.0, 1.0) * dx
    }

    /// Whether so many blades stand side by side around the hub, and not too much of their width is lost.
    pub(crate) fn fits(&self, blades: u32) -> bool {
        let half = self.emergence_m();
        let angle = (half / self.hub_m).min(1.0).asin();
        LEAST_LEFT * self.wide_m < half
            && angle < (SHARE * std::f64::consts::PI / f64::from(blades)).min(WIDEST_ANGLE)
    }
}
