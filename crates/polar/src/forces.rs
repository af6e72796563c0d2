//! Forces of a section in a stream: the interface of this crate for the rest of the project.

use std::sync::Arc;

/// Force coefficients of a section, based on its chord, and their origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionForces {
    /// Lift coefficient.
    pub lift: f64,
    /// Drag coefficient.
    pub drag: f64,
    /// Pitching moment coefficient about the quarter chord, nose up positive.
    pub moment: f64,
    /// The part of the polar that the values come from.
    pub region: PolarRegion,
    /// Whether the section is stalled: beyond the angle of maximum (or minimum) lift.
    pub stalled: bool,
}

/// The part of a polar that a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PolarRegion {
    /// Computed boundary layers that converged.
    Computed,
    /// Interpolated across a point that did not converge.
    Bridged,
    /// Beyond stall: bluff-body relations.
    BeyondStall,
    /// A circle or a section nearly as thick as long: bluff-body drag alone.
    BluffBody,
    /// Given by the user.
    Given,
}

/// A source of section forces.
pub trait SectionPolar: Send + Sync {
    /// Forces at an angle of attack of the chord line, radians in -pi to pi, a chord Reynolds number and a Mach number.
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces;

    /// Only the lift coefficient, the same as in [`SectionPolar::forces`]. To be overridden where that is faster.
    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        self.forces(alpha_rad, reynolds, mach).lift
    }

    /// The drag coefficient that rotation adds to the stalled section if its chord lies in the plane of rotation, see [`crate::added_drag`]. Zero for sections that do not rotate.
    fn rotating_drag(&self, _alpha_rad: f64, _reynolds: f64, _mach: f64) -> f64 {
        0.0
    }

    /// Angles of attack, rad, from which to which the lift is surely not positive at any Reynolds and Mach number, so that a search for the balance of thrust and momentum can pass over them.
    /// `None` if no such range is known.
    fn without_lift(&self) -> Option<[f64; 2]> {
        None
    }

    /// The least pressure coefficient on the surface in incompressible flow. `None` where it is not known: beyond stall, on bluff bodies, of polars without pressures.
    fn least_pressure(&self, _alpha_rad: f64, _reynolds: f64) -> Option<f64> {
        None
    }

    /// The polars of a smooth and of a worn surface, where this one is their mean. `None` where the surface is known.
    fn surfaces(&self) -> Option<[Arc<dyn SectionPolar>; 2]> {
        None
    }
}
