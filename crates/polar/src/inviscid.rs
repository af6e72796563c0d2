//! Inviscid flow around a closed outline: panels of linearly varying vorticity, constant stream function inside, Kutta condition.
//!
//! Formulation after M. Drela, in T. J. Mueller (ed.), "Low Reynolds Number Aerodynamics", Lecture Notes in Engineering 54, Springer, 1989, section 2:
//! the stream function at every node is the same unknown constant, so that the vorticity there is the surface speed itself.
//! A blunt tail is closed by a panel whose source and vorticity make the flow leave along the bisector of the tail.

use nalgebra::{DMatrix, DVector, Dyn, linalg::LU};

use crate::contour::{Contour, direction};
use crate::error::{PolarError, check};
use crate::kernel::Panel;

/// Minimum and maximum number of panels. With fewer a nose is not resolved. With more the dense system becomes slow and rounding errors become visible.
const PANEL_RANGE: [f64; 2] = [30.0, 1000.0];

/// Panels of an outline with their factored equations. Each angle of attack then needs only two products.
#[derive(Debug, Clone)]
pub struct Panels {
    pub(crate) contour: Contour,
    pub(crate) factored: LU<f64, Dyn, Dyn>,
    /// Vorticity at the nodes in unit streams along `x` and along `y`.
    pub(crate) along_x: DVector<f64>,
    pub(crate) along_y: DVector<f64>,
    pub(crate) tail: Option<Tail>,
}

/// The panel that closes a blunt tail.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tail {
    pub(crate) panel: Panel,
    /// Source and vorticity per unit of the speed at which the flow leaves.
    pub(crate) source: f64,
    pub(crate) vorticity: f64,
}

/// Speeds, pressures and forces on an outline at one angle.
#[derive(Debug, Clone, PartialEq)]
pub struct SurfaceFlow {
    /// Nodes, chords: n x 2, anticlockwise from the tail over the back to the tail.
    pub nodes: Vec<[f64; 2]>,
    /// Surface speed relative to the stream speed, positive in the direction of the nodes.
    pub speed: Vec<f64>,
    /// Pressure coefficient `1 - speed^2`.
    pub pressure: Vec<f64>,
    /// Lift coefficient, from the pressures.
    pub lift: f64,
    /// Lift coefficient from the circulation (Kutta-Joukowski). It differs from `lift` by the discretisation error of the panels.
    pub circulation_lift: f64,
    /// Moment coefficient about the quarter chord, nose up positive.
    pub moment: f64,
}

impl Panels {
    /// Panels of `outline` (n x 2, closed, chord line along `x`, nose towards smaller `x`, any unit; the chord is its extent along `x`).
    ///
    /// ```
    /// use bladeform_polar::Panels;
    /// let circle: Vec<_> = (0..200).map(|i| f64::from(i) * 0.0314159265).map(|t| [t.cos(), t.sin()]).collect();
    /// let flow = Panels::new(&circle, 120)?.flow(0.0);
    /// assert!(flow.lift.abs() < 1e-6);
    /// # Ok::<(), bladeform_polar::PolarError>(())
    /// ```
    ///
    /// # Errors
    /// [`PolarError::Outline`], [`PolarError::Setting`] outside 30 to 1000 panels, [`PolarError::Singular`].
    pub fn new(outline: &[[f64; 2]], count: usize) -> Result<Self, PolarError> {
        check("the number of panels", count as f64, PANEL_RANGE[0], PANEL_RANGE[1])?;
        Self::from_contour(Contour::new(outline, count)?)
    }

    pub(crate) fn from_contour(contour: Contour) -> Result<Self, PolarError> {
        let tail = Tail::of(&contour.nodes);
        let (nodes, n) = (&contour.nodes, contour.nodes.len());
        let mut matrix = DMatrix::zeros(n + 1, n + 1);
        for (j, ends) in nodes.windows(2).enumerate() {
            let Some(panel) = Panel::between(ends[0], ends[1]) else { return Err(PolarError::Singular) };
            for (i, &p) in nodes.iter().enumerate() {
                let [a, b] = panel.vortex_stream(p);
                matrix[(i, j)] += a;
                matrix[(i, j + 1)] += b;
            }
        }
        for (i, &p) in nodes.iter().enumerate() {
            if let Some(tail) = tail {
                let stream = 0.5 * tail.stream(p);
                matrix[(i, n - 1)] += stream;
                matrix[(i, 0)] -= stream;
            }
            matrix[(i, n)] = -1.0;
        }
        // Kutta condition: both sides leave the tail at the same speed.
        matrix[(n, 0)] = 1.0;
        matrix[(n, n - 1)] = 1.0;
        let mut streams = DMatrix::from_fn(n + 1, 2, |i, k| match (i < n, k) {
            (true, 0) => -nodes[i][1],
            (true, _) => nodes[i][0],
            _ => 0.0,
        });
        if contour.is_sharp() {
            // Both ends are one point, so its equation occurs twice. The second is replaced by a linear extrapolation of the mean speed to the tail.
            matrix.row_mut(n - 1).fill(0.0);
            for (k, factor) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                matrix[(n - 1, k)] = -factor;
                matrix[(n - 1, n - 1 - k)] = factor;
            }
            streams.row_mut(n - 1).fill(0.0);
        }
        let factored = matrix.lu();
        let Some(solved) = factored.solve(&streams) else { return Err(PolarError::Singular) };
        if !solved.iter().all(|v| v.is_finite()) {
            return Err(PolarError::Singular);
        }
        let column = |k: usize| solved.column(k).rows(0, n).into_owned();
        let (along_x, along_y) = (column(0), column(1));
        Ok(Self { contour, factored, along_x, along_y, tail })
    }

    /// Surface speed at the nodes, positive in their direction, at an angle of attack of the chord line.
    pub(crate) fn speeds(&self, alpha_rad: f64) -> DVector<f64> {
        &self.along_x * alpha_rad.cos() + &self.along_y * alpha_rad.sin()
    }

    /// Flow at an angle of attack of the chord line, rad.
    #[must_use]
    pub fn flow(&self, alpha_rad: f64) -> SurfaceFlow {
        let speeds = self.speeds(alpha_rad);
        surface_flow(&self.contour.nodes, speeds.as_slice(), alpha_rad)
    }

    /// Angle of attack of zero lift in inviscid flow, rad.
    #[must_use]
    pub fn zero_lift_angle_rad(&self) -> f64 {
        let circulation = |speeds: &DVector<f64>| circulation(&self.contour.nodes, speeds.as_slice());
        (-circulation(&self.along_x) / circulation(&self.along_y)).atan()
    }

    /// Length from the nose to the tail, always one, as all lengths here are in chords; and the maximum extent perpendicular to it.
    #[must_use]
    pub fn thickness_ratio(&self) -> f64 {
        self.contour.depth
    }
}

impl Tail {
    pub(crate) fn of(nodes: &[[f64; 2]]) -> Option<Self> {
        let n = nodes.len();
        let panel = Panel::between(nodes[n - 1], nodes[0])?;
        let bisector = tail_direction(nodes);
        let t = direction(nodes[n - 1], nodes[0]);
        Some(Self {
            panel,
            source: bisector[0] * t[1] - bisector[1] * t[0],
            vorticity: bisector[0] * t[0] + bisector[1] * t[1],
        })
    }

    /// Width perpendicular to the bisector, chords.
    pub(crate) fn width(&self) -> f64 {
        self.source.abs() * self.panel.length()
    }

    /// Velocity at `p` per unit of leaving speed.
    pub(crate) fn velocity(&self, p: [f64; 2]) -> [f64; 2] {
        let ([a, b], [c, d]) = (self.panel.source_velocity(p), self.panel.vortex_velocity(p));
        [0, 1].map(|k| self.source * (a[k] + b[k]) + self.vorticity * (c[k] + d[k]))
    }

    /// Stream function at `p` per unit of leaving speed.
    fn stream(&self, p: [f64; 2]) -> f64 {
        let [a, b] = self.panel.source_stream(p);
        let [c, d] = self.panel.vortex_stream(p);
        self.source * (a + b) + self.vorticity * (c + d)
    }
}

/// Direction in which the tail points: the bisector of both sides.
pub(crate) fn tail_direction(nodes: &[[f64; 2]]) -> [f64; 2] {
    let n = nodes.len();
    let (a, b) = (direction(nodes[1], nodes[0]), direction(nodes[n - 2], nodes[n - 1]));
    direction([0.0, 0.0], [a[0] + b[0], a[1] + b[1]])
}

/// Anticlockwise circulation.
fn circulation(nodes: &[[f64; 2]], speed: &[f64]) -> f64 {
    nodes
        .windows(2)
        .zip(speed.windows(2))
        .map(|(p, v)| 0.5 * (v[0] + v[1]) * crate::contour::distance(p[0], p[1]))
        .sum()
}

/// Forces from the signed speeds at the nodes.
pub(crate) fn surface_flow(nodes: &[[f64; 2]], speed: &[f64], alpha_rad: f64) -> SurfaceFlow {
    let pressure: Vec<f64> = speed.iter().map(|v| 1.0 - v * v).collect();
    let (mut fx, mut fy, mut moment) = (0.0, 0.0, 0.0);
    let n = nodes.len();
    for i in 0..n {
        let k = (i + 1) % n;
        let (d, c) =
            ([nodes[k][0] - nodes[i][0], nodes[k][1] - nodes[i][1]], 0.5 * (pressure[i] + pressure[k]));
        let middle = [0.5 * (nodes[k][0] + nodes[i][0]) - 0.25, 0.5 * (nodes[k][1] + nodes[i][1])];
        fx -= c * d[1];
        fy += c * d[0];
        moment -= c * (middle[0] * d[0] + middle[1] * d[1]);
        // The pressure gradient along the panel moves its force away from the midpoint.
        moment -= (pressure[k] - pressure[i]) / 12.0 * (d[0] * d[0] + d[1] * d[1]);
    }
    SurfaceFlow {
        nodes: nodes.to_vec(),
        speed: speed.to_vec(),
        lift: fy * alpha_rad.cos() - fx * alpha_rad.sin(),
        circulation_lift: -2.0 * circulation(nodes, speed),
        moment,
        pressure,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    /// Maximum error of the speed on a circle, which is exactly 2 sin(angle) (H. Lamb, "Hydrodynamics", 1932, section 68).
    fn circle_error(count: usize) -> f64 {
        let angle = |i: usize| 2.0 * PI * i as f64 / count as f64;
        let mut nodes: Vec<_> =
            (0..=count).map(|i| [0.5 + 0.5 * angle(i).cos(), 0.5 * angle(i).sin()]).collect();
        nodes[count] = nodes[0];
        let along = (0..=count).map(|i| 0.5 * angle(i)).collect();
        let flow = Panels::from_contour(Contour { nodes, along, depth: 1.0 }).unwrap().flow(0.0);
        (0..=count).map(|i| (flow.speed[i] + 2.0 * angle(i).sin()).abs()).fold(0.0, f64::max)
    }

    #[test]
    fn speed_on_a_circle_converges_at_second_order() {
        let errors = [40, 80, 160].map(circle_error);
        let order = (errors[0] / errors[2]).log2() / 2.0;
        assert!(1.8 < order && errors[2] < 2e-3, "order {order}, {errors:?}");
    }
}
