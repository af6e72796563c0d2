//! The second model: lifting lines that shed helical vortices, the pitch of the wake taken from the solution.

use crate::element::axial_and_tangential;
use crate::helix::helix_velocity;
use crate::propeller::{ElementState, Performance, Propeller};
use bladeform_polar::SectionPolar;
use nalgebra::{DMatrix, DVector};

/// Rounds in which the wake takes up the pitch of the solution.
const MOST_ROUNDS: usize = 60;
/// Newton steps for the circulation in one round.
const NEWTON_STEPS: usize = 10;
/// Share of the new pitch in each round: all of it makes the rounds swing where the propeller is heavily loaded.
const PITCH_SHARE: f64 = 0.5;
/// The wake has settled when its pitch changes by less than this, a fraction of itself.
const SETTLED: f64 = 1e-3;
/// Circulation has settled when it differs from the sections' by less than this fraction of its greatest value.
const CIRCULATION_SETTLED: f64 = 1e-6;
/// A Newton step is not halved below this share.
const LEAST_SHARE: f64 = 0.05;
/// No wake leaves flatter than this tangent: a vortex that stays at the blades induces velocities without bound.
const FLATTEST: f64 = 0.01;
/// Step of the differences for Newton's method, as a fraction of the resultant speed.
const SPEED_STEP: f64 = 1e-4;
/// A share of the span stalled beyond which the circulation no longer settles and the model is not asked.
const MOST_STALLED: f64 = 0.3;

/// Thrust, N, and torque, N m, of the second model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiftingLine {
    /// Thrust of all blades, N.
    pub thrust_n: f64,
    /// Torque of all blades, N m.
    pub torque_nm: f64,
}

/// Solves the lifting line from the blade-element solution onward; `None` where it does not settle, where the stream does not
/// pass through the disc from ahead, or where much of the blade is stalled.
///
/// The lines are straight and radial: sweep and rake of the blade are left out. Wake radii stay those of the blade, without
/// contraction, so that at the static point the model is at the edge of its range.
///
/// # Source
/// H. W. Lerbs, *Moderately loaded propellers with a finite number of blades and an arbitrary distribution of circulation*,
/// Transactions SNAME 60, 1952; induced velocities see [`helix_velocity`].
#[must_use]
pub fn lifting_line(propeller: &Propeller, start: &Performance) -> Option<LiftingLine> {
    let passes =
        start.elements.iter().all(|e| e.balanced && e.inflow_rad.sin() > 0.0 && e.inflow_rad.cos() > 0.0);
    if !passes || start.stalled_fraction() > MOST_STALLED {
        return None;
    }
    let n = start.elements.len();
    let mut model = Model::new(propeller, start);
    let mut circulation = DVector::from_fn(n, |k, _| {
        let e = &start.elements[k];
        0.5 * e.speed_m_s * e.chord_m * e.forces.lift * e.loss.min(1.0)
    });
    for _ in 0..MOST_ROUNDS {
        model.induce();
        circulation = model.circulation(circulation)?;
        if model.take_pitch(&circulation)? < SETTLED {
            return Some(model.summed(&circulation));
        }
    }
    None
}

struct Model<'a> {
    propeller: &'a Propeller,
    start: &'a Performance,
    edges: Vec<f64>,
    /// Advance of the wake in a radian at each control point, m.
    advance: Vec<f64>,
    axial: DMatrix<f64>,
    swirl: DMatrix<f64>,
}

impl<'a> Model<'a> {
    fn new(propeller: &'a Propeller, start: &'a Performance) -> Model<'a> {
        let n = start.elements.len();
        let (inner, outer) = (propeller.blade.inner_radius_m, propeller.blade.radius_m);
        let edge = |k: usize| {
            0.5 * (inner + outer) - 0.5 * (outer - inner) * (std::f64::consts::PI * k as f64 / n as f64).cos()
        };
        let advance = start.elements.iter().map(|e| e.radius_m * e.inflow_rad.tan()).collect();
        Model {
            propeller,
            start,
            edges: (0..=n).map(edge).collect(),
            advance,
            axial: DMatrix::zeros(n, n),
            swirl: DMatrix::zeros(n, n),
        }
    }

    /// Velocities of unit circulations with the wake as it is.
    fn induce(&mut self) {
        let n = self.advance.len();
        // A blade that begins on the axis sheds its root vortex along it.
        let radius = |j: usize| self.edges[j].max(1e-3 * self.edges[n]);
        let tangent = |j: usize| {
            let (a, b) = (self.advance[j.saturating_sub(1)], self.advance[j.min(n - 1)]);
            (0.5 * (a + b) / radius(j)).max(FLATTEST)
        };
        let blades = self.propeller.blades;
        for i in 0..n {
            let r = self.start.elements[i].radius_m;
            let of = |j: usize| helix_velocity(blades, r, radius(j), tangent(j));
            let mut inner = of(0);
            for j in 0..n {
                let outer = of(j + 1);
                self.axial[(i, j)] = outer[0] - inner[0];
                self.swirl[(i, j)] = inner[1] - outer[1];
                inner = outer;
            }
        }
    }

    fn element(&self, k: usize) -> &ElementState {
        &self.start.elements[k]
    }

    /// Speed, inflow angle and forces of an element with given induced velocities.
    fn section(&self, k: usize, axial: f64, swirl: f64) -> (f64, f64, bladeform_polar::SectionForces) {
        let (e, operation) = (self.element(k), &self.start.operation);
        let (u, v) = (operation.speed_m_s + axial, operation.omega_rad_s * e.radius_m - swirl);
        let (speed, inflow) = (u.hypot(v), u.atan2(v));
        let air = &operation.air;
        let reynolds = speed * e.chord_m * air.density_kg_m3 / air.viscosity_pa_s;
        let polar = self.propeller.blade.polar(&self.propeller.blade.elements[k]);
        let alpha = crate::element::wrapped(e.blade_angle_rad - inflow);
        (speed, inflow, polar.forces(alpha, reynolds, speed / air.speed_of_sound_m_s))
    }

    fn bound(&self, k: usize, axial: f64, swirl: f64) -> f64 {
        let (speed, _, forces) = self.section(k, axial, swirl);
        0.5 * speed * self.element(k).chord_m * forces.lift
    }

    /// What the circulation lacks to be that of the sections' lift.
    fn residual(&self, circulation: &DVector<f64>) -> DVector<f64> {
        let (axial, swirl) = (&self.axial * circulation, &self.swirl * circulation);
        DVector::from_fn(circulation.len(), |k, _| circulation[k] - self.bound(k, axial[k], swirl[k]))
    }

    /// The circulation at which lift and induced velocities agree, by Newton's method; steps are halved while they lead away,
    /// as they do where the lift bends at stall.
    fn circulation(&self, mut circulation: DVector<f64>) -> Option<DVector<f64>> {
        let mut residual = self.residual(&circulation);
        for _ in 0..NEWTON_STEPS {
            let change = self.jacobian(&circulation).lu().solve(&residual)?;
            let mut share = 1.0;
            let (next, left) = loop {
                let next = &circulation - &change * share;
                let left = self.residual(&next);
                if left.norm() < residual.norm() || share < LEAST_SHARE {
                    break (next, left);
                }
                share *= 0.5;
            };
            (circulation, residual) = (next, left);
            if residual.amax() < CIRCULATION_SETTLED * circulation.amax() {
                break;
            }
        }
        circulation.iter().all(|g| g.is_finite()).then_some(circulation)
    }

    fn jacobian(&self, circulation: &DVector<f64>) -> DMatrix<f64> {
        let n = circulation.len();
        let (axial, swirl) = (&self.axial * circulation, &self.swirl * circulation);
        let mut jacobian = DMatrix::identity(n, n);
        for k in 0..n {
            let step = SPEED_STEP * self.element(k).speed_m_s.max(1e-6);
            let here = self.bound(k, axial[k], swirl[k]);
            let by_axial = (self.bound(k, axial[k] + step, swirl[k]) - here) / step;
            let by_swirl = (self.bound(k, axial[k], swirl[k] + step) - here) / step;
            for j in 0..n {
                jacobian[(k, j)] -= by_axial * self.axial[(k, j)] + by_swirl * self.swirl[(k, j)];
            }
        }
        jacobian
    }

    /// Moves the wake's pitch towards the solution's; returns the greatest relative change, `None` when the stream turns back.
    fn take_pitch(&mut self, circulation: &DVector<f64>) -> Option<f64> {
        let (axial, swirl) = (&self.axial * circulation, &self.swirl * circulation);
        let mut greatest: f64 = 0.0;
        for k in 0..circulation.len() {
            let e = self.element(k);
            let u = self.start.operation.speed_m_s + axial[k];
            let v = self.start.operation.omega_rad_s * e.radius_m - swirl[k];
            let wanted = e.radius_m * u / v;
            if !(wanted > 0.0 && v > 0.0) {
                return None;
            }
            let change = PITCH_SHARE * (wanted - self.advance[k]);
            greatest = greatest.max((change / self.advance[k]).abs());
            self.advance[k] += change;
        }
        Some(greatest)
    }

    fn summed(&self, circulation: &DVector<f64>) -> LiftingLine {
        let (axial, swirl) = (&self.axial * circulation, &self.swirl * circulation);
        let (mut thrust_n, mut torque_nm) = (0.0, 0.0);
        for k in 0..circulation.len() {
            let e = self.element(k);
            let (speed, inflow, forces) = self.section(k, axial[k], swirl[k]);
            let (along, around) = axial_and_tangential(&forces, inflow);
            let force = 0.5 * self.start.operation.air.density_kg_m3 * speed * speed * e.chord_m;
            let width = f64::from(self.propeller.blades) * e.width_m;
            thrust_n += width * force * along;
            torque_nm += width * force * around * e.radius_m;
        }
        LiftingLine { thrust_n, torque_nm }
    }
}
