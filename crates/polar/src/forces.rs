//! What a section does in a stream: the one question that the rest of the project asks.

/// Force coefficients of a section, on its chord, and how they came about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SectionForces {
    /// Lift coefficient.
    pub lift: f64,
    /// Drag coefficient.
    pub drag: f64,
    /// Pitching moment coefficient about the quarter chord, nose up positive.
    pub moment: f64,
    /// Which part of the polar the figures come from.
    pub region: PolarRegion,
    /// Whether the flow has left the section: beyond the angle of greatest (or least) lift.
    pub stalled: bool,
}

/// Which part of a polar a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PolarRegion {
    /// Computed boundary layers that converged.
    Computed,
    /// Between computed points, across one that did not converge.
    Bridged,
    /// Beyond stall: bluff-body relations.
    BeyondStall,
    /// A circle or a section nearly as thick as wide: bluff-body drag alone.
    BluffBody,
    /// Given by the user.
    Given,
}

/// Anything that answers for a section.
pub trait SectionPolar: Send + Sync {
    /// Forces at an angle of attack of the chord line, radians in -pi to pi, a chord Reynolds number and a Mach number.
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces;

    /// The lift coefficient alone, the same as that of [`SectionPolar::forces`]; worth its own code where that is quicker.
    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        self.forces(alpha_rad, reynolds, mach).lift
    }
}
