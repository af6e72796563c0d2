//! Sections with boundary layers: one point, or a march over angles.

use crate::coupled::{Coupled, LayerSettings, Layers};
use crate::error::{PolarError, check};
use crate::inviscid::{Panels, surface_flow};
use crate::outer::{OuterFlow, SurfaceResponse};

/// Range of chord Reynolds numbers. Below it layers stay laminar and shed vortices. Above it the friction relations were never compared with tests.
pub const REYNOLDS_RANGE: [f64; 2] = [1e4, 5e7];

/// How boundary layers are computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscousSettings {
    /// Logarithm of the amplification of disturbances at which a layer becomes turbulent: 9 for a quiet tunnel, less in turbulence
    /// (J. L. van Ingen, "The e^N method for transition prediction", AIAA 2008-3830).
    pub amplification: f64,
    /// Trip position on the back, fraction of the chord; 1 for free transition.
    pub trip_back: f64,
    /// Trip position on the face.
    pub trip_face: f64,
    /// Number of panels of the outline.
    pub panels: usize,
}

impl Default for ViscousSettings {
    fn default() -> Self {
        Self { amplification: 9.0, trip_back: 1.0, trip_face: 1.0, panels: 140 }
    }
}

impl ViscousSettings {
    /// Old wood and paint: both sides turbulent from 5 % of the chord on (common practice, no source).
    #[must_use]
    pub fn rough() -> Self {
        Self { trip_back: 0.05, trip_face: 0.05, ..Self::default() }
    }

    pub(crate) fn checked(self) -> Result<Self, PolarError> {
        check("the amplification at transition", self.amplification, 0.5, 30.0)?;
        check("the trip position on the back", self.trip_back, 0.0, f64::INFINITY)?;
        check("the trip position on the face", self.trip_face, 0.0, f64::INFINITY)?;
        check("the number of panels", self.panels as f64, 60.0, 300.0)?;
        Ok(self)
    }
}

/// A section at one angle and Reynolds number, incompressible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ViscousPoint {
    /// Angle of attack of the chord line, rad.
    pub alpha_rad: f64,
    /// Lift coefficient, from the pressures.
    pub lift: f64,
    /// Drag coefficient, from the far wake.
    pub drag: f64,
    /// Moment coefficient about the quarter chord, nose up positive.
    pub moment: f64,
    /// Minimum pressure coefficient on the surface.
    pub least_pressure: f64,
    /// Transition locations on back and face, fractions of the chord; 1 if laminar to the tail.
    pub transition: [f64; 2],
    /// Part of the back, from the tail forward, along which the turbulent layer's shape factor exceeds 2.8 (it is separating or separated), fraction of the chord.
    pub separated: f64,
    /// Whether Newton's method converged. If not, the values are its last iterate and not a result.
    pub converged: bool,
    /// Newton steps taken.
    pub steps: usize,
}

/// An outline prepared for any angle and Reynolds number.
#[derive(Debug, Clone)]
pub struct PreparedSection {
    panels: Panels,
    surface: SurfaceResponse,
    settings: ViscousSettings,
}

/// Shape factor beyond which a turbulent layer counts as separating.
const SEPARATING: f64 = 2.8;

impl PreparedSection {
    /// Factors the panel equations of `outline` (n x 2, closed, chord line along `x`, nose towards smaller `x`, any unit).
    ///
    /// # Errors
    /// [`PolarError::Outline`], [`PolarError::Setting`], [`PolarError::Singular`].
    pub fn new(outline: &[[f64; 2]], settings: ViscousSettings) -> Result<Self, PolarError> {
        let settings = settings.checked()?;
        let panels = Panels::new(outline, settings.panels)?;
        let surface = SurfaceResponse::new(&panels)?;
        Ok(Self { panels, surface, settings })
    }

    /// The panels of the outline.
    #[must_use]
    pub fn panels(&self) -> &Panels {
        &self.panels
    }

    /// Points at the angles `alpha_rad` (rad, in the order of the march: each starts from the previous one) for every Reynolds number. The outer index is the Reynolds number.
    ///
    /// # Errors
    /// [`PolarError::Setting`] for a Reynolds number outside [`REYNOLDS_RANGE`], [`PolarError::Singular`].
    pub fn march(&self, alpha_rad: &[f64], reynolds: &[f64]) -> Result<Vec<Vec<ViscousPoint>>, PolarError> {
        let mut march = March::new(self, reynolds)?;
        let mut out = vec![Vec::with_capacity(alpha_rad.len()); reynolds.len()];
        for &alpha in alpha_rad {
            for (row, point) in out.iter_mut().zip(march.advance(alpha)?) {
                row.push(point);
            }
        }
        Ok(out)
    }
}

/// One section at one angle (rad) and chord Reynolds number. For many angles, [`PreparedSection::march`] is faster and more reliable.
///
/// ```
/// use bladeform_polar::{ViscousSettings, viscous_point};
/// let ellipse: Vec<_> = (0..200).map(|i| f64::from(i) * 0.0314159265).map(|t| [t.cos(), 0.12 * t.sin()]).collect();
/// let point = viscous_point(&ellipse, 0.0, 1e6, &ViscousSettings::rough())?;
/// assert!(point.converged && point.lift.abs() < 1e-3 && point.drag < 0.02);
/// # Ok::<(), bladeform_polar::PolarError>(())
/// ```
///
/// # Errors
/// [`PolarError`]. A point that does not converge is not an error; it is marked.
pub fn viscous_point(
    outline: &[[f64; 2]],
    alpha_rad: f64,
    reynolds: f64,
    settings: &ViscousSettings,
) -> Result<ViscousPoint, PolarError> {
    let section = PreparedSection::new(outline, *settings)?;
    let mut march = March::new(&section, &[reynolds])?;
    march.advance(alpha_rad).map(|points| points[0])
}

/// A march over angles at several Reynolds numbers in parallel. They share the outer flow.
pub(crate) struct March<'a> {
    section: &'a PreparedSection,
    reynolds: Vec<f64>,
    /// The last converged angle with its layers, and the first.
    last: Vec<Option<(f64, Layers)>>,
    first: Vec<Option<(f64, Layers)>>,
    /// Number of consecutive angles that did not converge.
    failed: Vec<usize>,
}

impl<'a> March<'a> {
    pub(crate) fn new(section: &'a PreparedSection, reynolds: &[f64]) -> Result<Self, PolarError> {
        for &re in reynolds {
            check("the Reynolds number", re, REYNOLDS_RANGE[0], REYNOLDS_RANGE[1])?;
        }
        let none = vec![None; reynolds.len()];
        Ok(Self {
            section,
            reynolds: reynolds.to_vec(),
            last: none.clone(),
            first: none,
            failed: vec![0; reynolds.len()],
        })
    }

    /// Restarts from the first converged angle, for a march in the opposite direction.
    pub(crate) fn turn_back(&mut self) {
        self.last.clone_from(&self.first);
        self.failed.fill(0);
    }

    /// Points at the next angle, one per Reynolds number.
    pub(crate) fn advance(&mut self, alpha_rad: f64) -> Result<Vec<ViscousPoint>, PolarError> {
        let all = vec![true; self.reynolds.len()];
        Ok(self.advance_some(alpha_rad, &all)?.into_iter().flatten().collect())
    }

    /// The same for the Reynolds numbers `wanted`. An unconverged point does not change the start of the next.
    pub(crate) fn advance_some(
        &mut self,
        alpha_rad: f64,
        wanted: &[bool],
    ) -> Result<Vec<Option<ViscousPoint>>, PolarError> {
        check("the angle of attack", alpha_rad, -1.0, 1.0)?;
        let outer = OuterFlow::new(&self.section.panels, &self.section.surface, alpha_rad)?;
        let mut points = Vec::with_capacity(self.reynolds.len());
        for (k, &reynolds) in self.reynolds.iter().enumerate() {
            if !wanted[k] {
                points.push(None);
                continue;
            }
            let s = self.section.settings;
            let coupled = Coupled {
                contour: &self.section.panels.contour,
                outer: &outer,
                settings: LayerSettings {
                    reynolds,
                    amplification: s.amplification,
                    trips: [s.trip_back, s.trip_face],
                },
                tail_width: self.section.panels.tail.map_or(0.0, |t| t.width()),
            };
            let layers = self.solved(k, &coupled)?;
            points.push(Some(point(&coupled, &layers)));
            if layers.converged {
                let found = Some((alpha_rad, layers));
                if self.first[k].is_none() {
                    self.first[k].clone_from(&found);
                }
                self.last[k] = found;
                self.failed[k] = 0;
            } else {
                self.failed[k] += 1;
            }
        }
        Ok(points)
    }

    /// Layers at an angle for the Reynolds number of index `k`, starting from the last converged angle. If that fails, from a new guess. If that fails too, through
    /// the intermediate angle, unless the previous angle did not converge either. The step count includes all attempts.
    fn solved(&self, k: usize, coupled: &Coupled<'_>) -> Result<Layers, PolarError> {
        let fresh = || coupled.solve(coupled.first_guess());
        let Some((before, start)) = &self.last[k] else { return Ok(fresh()) };
        let mut steps = 0;
        let mut layers = coupled.solve(start.clone());
        if !layers.converged {
            steps += layers.steps;
            layers = fresh();
        }
        if !layers.converged && self.failed[k] == 0 {
            let alpha = 0.5 * (coupled.outer.alpha_rad + before);
            let middle = OuterFlow::new(&self.section.panels, &self.section.surface, alpha)?;
            let half = Coupled { outer: &middle, ..*coupled }.solve(start.clone());
            if half.converged {
                steps += layers.steps + half.steps;
                layers = coupled.solve(half);
            }
        }
        layers.steps += steps;
        Ok(layers)
    }
}

fn point(coupled: &Coupled<'_>, layers: &Layers) -> ViscousPoint {
    let nodes = &coupled.contour.nodes;
    let flow = surface_flow(nodes, &coupled.signed_speeds(layers), coupled.outer.alpha_rad);
    let far = layers.states[layers.states.len() - 1];
    // H. B. Squire, A. D. Young, "The calculation of the profile drag of aerofoils", ARC R&M 1838, 1937: extrapolation from the end of the wake to infinity.
    let drag = 2.0 * far.theta * far.ue.powf(0.5 * (5.0 + far.delta / far.theta));
    let attached = (0..nodes.len() / 2)
        .find(|&g| !layers.turbulent[g] || layers.states[g].delta / layers.states[g].theta < SEPARATING);
    let figures = [flow.lift, drag, flow.moment];
    ViscousPoint {
        alpha_rad: coupled.outer.alpha_rad,
        lift: flow.lift,
        drag,
        moment: flow.moment,
        least_pressure: flow.pressure.iter().copied().fold(f64::INFINITY, f64::min),
        transition: coupled.transition_places(layers),
        separated: attached.map_or(0.0, |g| (nodes[0][0] - nodes[g][0]).max(0.0)),
        converged: layers.converged && figures.iter().all(|v| v.is_finite()) && 0.0 < drag,
        steps: layers.steps,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_section::Family;

    #[test]
    fn angles_from_minus_five_to_deep_stall_converge() {
        // The polars depend on the fraction of converged points: NACA 4412 from separation bubbles to a leading-edge peak.
        let outline = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 }.outline(600);
        let section = PreparedSection::new(&outline, ViscousSettings::default()).unwrap();
        let angles: Vec<f64> = (-5..=16).map(|a| f64::from(a).to_radians()).collect();
        for row in section.march(&angles, &[2e5, 6e6]).unwrap() {
            let failed = row.iter().filter(|p| !p.converged).count();
            assert!(failed <= 1, "{failed} of {} did not converge", row.len());
            assert!(row.iter().filter(|p| p.converged).all(|p| 0.005 < p.drag && p.drag < 0.2));
        }
    }
}
