//! The second model: lifting lines, swept and raked like the blades, that shed helical vortices. The pitch of the wake follows from the solution.

use crate::blade::BlendedPolar;
use crate::element::{axial_and_tangential, turn, wrapped};
use crate::helix::helix_velocity;
use crate::propeller::{ElementState, FlowPropeller, Performance};
use crate::swept::{Lines, excess_of_sweep};
use bladeform_polar::{SectionForces, SectionPolar};
use nalgebra::{DMatrix, DVector};

/// Most iterations in which the wake adopts the pitch of the solution.
const MOST_ROUNDS: usize = 60;
/// Newton steps for the circulation in one iteration.
const NEWTON_STEPS: usize = 10;
/// The slopes of the sections' lift are reused, in later steps and later iterations, as long as each step reduces the residual to this fraction or less.
const SLOPES_SERVE: f64 = 0.25;
/// Fraction of the change of pitch applied in each iteration. With all of it the iterations oscillate if the propeller is heavily loaded.
const PITCH_SHARE: f64 = 0.5;
/// Iterations after which the fraction falls to a half. After twice as many it falls to a third, and so on.
const PATIENCE: usize = 15;
/// The wake has converged if thrust and torque change by less than this relative tolerance in so many successive iterations. The pitch itself is no criterion:
/// at the innermost element it may oscillate for ever, which has no effect on the result.
const SETTLED: f64 = 2e-4;
/// Number of those iterations: one small change may be a turning point of an oscillation (chosen).
const CALM_ROUNDS: u32 = 3;
/// Fraction of the span at the root whose vortices all have the pitch of its outer end. With a pitch of their own they make one another oscillate.
const ROOT_PART: f64 = 0.1;
/// Fraction of the span at the tip whose vortices all have one pitch, the mean of as much of the span next to it: they roll up into one within a chord or two behind the blade. With a pitch of their own, vortices behind a tip of
/// falling blade angle stay near the disc, and the thrust depends on the number of elements.
const TIP_PART: f64 = 0.1;
/// Fraction of the span over which the flow may be reversed. The wake keeps its pitch there.
const MOST_BACKWARD: f64 = 0.1;
/// Greatest relative change of an element's pitch in one iteration.
const MOST_CHANGE: f64 = 0.5;
/// The circulation has converged if it differs from that of the sections' lift by less than this fraction of its greatest value.
const CIRCULATION_SETTLED: f64 = 1e-6;
/// In an accepted result it may differ by no more than this fraction anywhere.
const MOST_LEFT: f64 = 1e-3;
/// A Newton step is not shortened below this fraction.
const LEAST_SHARE: f64 = 0.05;
/// Least tangent of the pitch angle of a wake. A vortex that stays at the blades would induce unbounded velocities.
const FLATTEST: f64 = 0.01;
/// Step of the differences for Newton's method, as a fraction of the resultant speed.
const SPEED_STEP: f64 = 1e-4;
/// Stalled fraction of the span beyond which the circulation no longer converges. The model is not used then.
const MOST_STALLED: f64 = 0.3;

/// Thrust, N, and torque, N m, of the second model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiftingLine {
    /// Thrust of all blades, N.
    pub thrust_n: f64,
    /// Torque of all blades, N m.
    pub torque_nm: f64,
}

impl LiftingLine {
    fn is_near(&self, other: &LiftingLine) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() <= SETTLED * b.abs();
        near(self.thrust_n, other.thrust_n) && near(self.torque_nm, other.torque_nm)
    }
}

/// Solves the lifting line, starting from the blade-element solution. `None` if it does not converge, if the flow does not pass through the disc from ahead,
/// or if much of the blade is stalled.
///
/// `turn_rad` is the angle by which the whole blade is turned from the table's angles; `start` was solved for it. The lines run through the quarter-chord
/// points, swept and raked like the blade, with control points at three quarters of the chord. If the table has no mid-chord points they are straight.
/// The wake does not contract, so the static point is at the edge of the model's range.
///
/// # Source
/// H. W. Lerbs, *Moderately loaded propellers with a finite number of blades and an arbitrary distribution of circulation*,
/// Transactions SNAME 60, 1952; for the velocities of straight lines see [`helix_velocity`]; J. Weissinger, *The lift distribution of swept-back wings*,
/// NACA TM 1120, 1947, for sweep and chord.
#[must_use]
pub fn lifting_line(propeller: &FlowPropeller, turn_rad: f64, start: &Performance) -> Option<LiftingLine> {
    let passes =
        start.elements.iter().all(|e| e.balanced && e.inflow_rad.sin() > 0.0 && e.inflow_rad.cos() > 0.0);
    if !passes || start.stalled_fraction() > MOST_STALLED {
        return None;
    }
    let model = Model::new(propeller, turn_rad, start);
    model.clone().settled(true).or_else(|| model.settled(false))
}

#[derive(Clone)]
struct Model<'a> {
    propeller: &'a FlowPropeller,
    turn_rad: f64,
    start: &'a Performance,
    edges: Vec<f64>,
    /// Advance of the wake per radian at each control point, m.
    advance: Vec<f64>,
    axial: DMatrix<f64>,
    swirl: DMatrix<f64>,
    /// Velocity normal to the stream, positive down from the blade, that sweep and rake add at three quarters of the chord in the initial wake. It is small, and
    /// the change of the wake alters it little. The effect of the chord itself is in the turn with which the polars are read.
    across: DMatrix<f64>,
}

impl<'a> Model<'a> {
    fn new(propeller: &'a FlowPropeller, turn_rad: f64, start: &'a Performance) -> Model<'a> {
        let n = start.elements.len();
        let blade = &propeller.blade;
        let edges = blade.edges_m();
        let radii: Vec<f64> = start.elements.iter().map(|e| e.radius_m).collect();
        let chords: Vec<f64> = start.elements.iter().map(|e| e.chord_m).collect();
        let advance: Vec<f64> = start.elements.iter().map(|e| e.radius_m * e.inflow_rad.tan()).collect();
        let lines = Lines {
            blades: propeller.blades,
            chords_m: &chords,
            edges_m: &edges,
            radii_m: &radii,
            advance_m: &advance,
        };
        let [mut across, mut around] = excess_of_sweep(&lines, &blade.quarter_chord_m(turn_rad));
        for (k, e) in start.elements.iter().enumerate() {
            across.row_mut(k).scale_mut(e.inflow_rad.cos());
            around.row_mut(k).scale_mut(e.inflow_rad.sin());
        }
        across += around;
        let (axial, swirl) = (DMatrix::zeros(n, n), DMatrix::zeros(n, n));
        Model { propeller, turn_rad, start, edges, advance, axial, swirl, across }
    }

    /// Alternates between circulation and wake until thrust and torque have converged. `even`: the wake of the root has one pitch.
    fn settled(mut self, even: bool) -> Option<LiftingLine> {
        let mut circulation = DVector::from_fn(self.advance.len(), |k, _| of_element(self.element(k)));
        let (mut before, mut calm, mut slopes) = (None, 0, None);
        for round in 0..MOST_ROUNDS {
            if even {
                self.even_at_the_root();
            }
            self.induce();
            circulation = self.circulation(circulation, &mut slopes)?;
            self.take_pitch(&circulation, PITCH_SHARE / (1.0 + (round / PATIENCE) as f64))?;
            let now = self.summed(&circulation);
            calm = if before.is_some_and(|b| now.is_near(&b)) { calm + 1 } else { 0 };
            if calm == CALM_ROUNDS {
                let left = self.residual(&circulation).amax();
                let is_sound = left < MOST_LEFT * circulation.amax() && self.fastest(&circulation) < 1.0;
                return is_sound.then_some(now);
            }
            before = Some(now);
        }
        None
    }

    /// Velocities induced by unit circulations in the present wake.
    fn induce(&mut self) {
        let n = self.advance.len();
        // The root vortex of a blade that begins on the axis runs along the axis.
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

    /// Axial and swirl velocity on the lines, and the velocity normal to the stream behind them, at each element.
    fn velocities(&self, circulation: &DVector<f64>) -> [DVector<f64>; 3] {
        [&self.axial * circulation, &self.swirl * circulation, &self.across * circulation]
    }

    /// Speed, inflow angle, angle of attack minus the turn of the stream, Reynolds number and Mach number of an element with given induced velocities.
    fn stream(&self, k: usize, [axial, swirl, across]: [f64; 3]) -> [f64; 5] {
        let (e, operation) = (self.element(k), &self.start.operation);
        let (u, v) =
            (e.stream_factor * operation.speed_m_s + axial, operation.omega_rad_s * e.radius_m - swirl);
        let (speed, inflow) = (u.hypot(v), u.atan2(v));
        let air = &operation.air;
        let reynolds = speed * e.chord_m * air.density_kg_m3 / air.viscosity_pa_s;
        let mach = speed / air.speed_of_sound_m_s;
        let alpha = wrapped(e.blade_angle_rad - inflow - across / speed);
        let per_lift = self.propeller.turn_per_lift(k, inflow);
        let turned = wrapped(alpha - turn(&self.polar(k), alpha, per_lift, reynolds, mach));
        [speed, inflow, turned, reynolds, mach]
    }

    fn polar(&self, k: usize) -> BlendedPolar<'_> {
        self.propeller.blade.polar(&self.propeller.blade.elements[k], self.turn_rad)
    }

    /// Speed, inflow angle and forces of an element with given induced velocities. The forces act at the line and follow the direction of the stream there
    /// (M. M. Munk, NACA Report 121, 1921: the total does not depend on the position of a vortex along the stream).
    fn section(&self, k: usize, velocities: [f64; 3]) -> (f64, f64, SectionForces) {
        let [speed, inflow, alpha, reynolds, mach] = self.stream(k, velocities);
        (speed, inflow, self.polar(k).forces(alpha, reynolds, mach))
    }

    fn bound(&self, k: usize, velocities: [f64; 3]) -> f64 {
        let [speed, _, alpha, reynolds, mach] = self.stream(k, velocities);
        0.5 * speed * self.element(k).chord_m * self.polar(k).lift(alpha, reynolds, mach)
    }

    /// The circulation minus that of the sections' lift.
    fn residual(&self, circulation: &DVector<f64>) -> DVector<f64> {
        let v = self.velocities(circulation);
        DVector::from_fn(circulation.len(), |k, _| circulation[k] - self.bound(k, at(&v, k)))
    }

    /// The circulation at which lift and induced velocities agree, by Newton's method. A step is halved while it increases the residual, as happens where the
    /// lift curve bends at stall. `slopes`: those of the last call. They are recomputed if they no longer reduce the residual enough.
    fn circulation(
        &self,
        mut circulation: DVector<f64>,
        slopes: &mut Option<Vec<[f64; 3]>>,
    ) -> Option<DVector<f64>> {
        let mut residual = self.residual(&circulation);
        for _ in 0..NEWTON_STEPS {
            if residual.amax() < CIRCULATION_SETTLED * circulation.amax() {
                break;
            }
            let kept = slopes.is_some();
            let of_lift = slopes.get_or_insert_with(|| self.slopes(&circulation));
            let change = self.jacobian(of_lift).lu().solve(&residual)?;
            let mut share = 1.0;
            let (next, left) = loop {
                let next = &circulation - &change * share;
                let left = self.residual(&next);
                if left.norm() < residual.norm() || share < LEAST_SHARE || kept {
                    break (next, left);
                }
                share *= 0.5;
            };
            let serve = left.norm() < SLOPES_SERVE * residual.norm();
            if !serve {
                *slopes = None;
            }
            if !kept && residual.norm() <= left.norm() {
                // Between two bends of the lift curve no step reduces the residual.
                break;
            }
            if serve || !kept {
                (circulation, residual) = (next, left);
            }
        }
        circulation.iter().all(|g| g.is_finite()).then_some(circulation)
    }

    /// Derivatives of each element's lift, as circulation, with respect to the velocities there.
    fn slopes(&self, circulation: &DVector<f64>) -> Vec<[f64; 3]> {
        let velocities = self.velocities(circulation);
        let of = |k: usize| {
            let step = SPEED_STEP * self.element(k).speed_m_s.max(1e-6);
            let here = at(&velocities, k);
            let bound = self.bound(k, here);
            [0, 1, 2].map(|c| {
                let mut there = here;
                there[c] += step;
                (self.bound(k, there) - bound) / step
            })
        };
        (0..circulation.len()).map(of).collect()
    }

    /// Derivatives of [`Self::residual`].
    fn jacobian(&self, slopes: &[[f64; 3]]) -> DMatrix<f64> {
        let n = slopes.len();
        DMatrix::from_fn(n, n, |k, j| {
            let influences = [&self.axial, &self.swirl, &self.across];
            let moved: f64 = slopes[k].iter().zip(influences).map(|(slope, of)| slope * of[(k, j)]).sum();
            if k == j { 1.0 - moved } else { -moved }
        })
    }

    /// Moves the pitch of the wake towards that of the solution; that of the tip part, which rolls up, towards the mean of as much of the span next to it. `None` if the flow is reversed over more than
    /// [`MOST_BACKWARD`] of the span.
    fn take_pitch(&mut self, circulation: &DVector<f64>, share: f64) -> Option<()> {
        let (axial, swirl) = (&self.axial * circulation, &self.swirl * circulation);
        let own = |k: usize| {
            let e = self.element(k);
            let u = e.stream_factor * self.start.operation.speed_m_s + axial[k];
            let v = self.start.operation.omega_rad_s * e.radius_m - swirl[k];
            let wanted = e.radius_m * u / v;
            (wanted > 0.0 && v > 0.0).then_some(wanted)
        };
        let mut wanted: Vec<Option<f64>> = (0..circulation.len()).map(own).collect();
        let backward: f64 = wanted
            .iter()
            .enumerate()
            .filter(|(_, w)| w.is_none())
            .map(|(k, _)| self.element(k).width_m)
            .sum();
        let blade = &self.propeller.blade;
        let span = blade.radius_m - blade.inner_radius_m;
        let first = |part: f64| blade.elements.partition_point(|e| e.radius_m < blade.radius_m - part * span);
        let (inner, outer) = (first(2.0 * TIP_PART), first(TIP_PART));
        let beside: Vec<f64> = wanted[inner..outer].iter().copied().flatten().collect();
        if !beside.is_empty() {
            let mean = beside.iter().sum::<f64>() / beside.len() as f64;
            wanted[outer..].fill(Some(mean));
        }
        for (advance, wanted) in self.advance.iter_mut().zip(wanted) {
            let Some(wanted) = wanted else { continue };
            let most = MOST_CHANGE * *advance;
            *advance += (share * (wanted - *advance)).clamp(-most, most);
        }
        (backward <= MOST_BACKWARD * span).then_some(())
    }

    /// Gives the wake of the root part the pitch at its outer end.
    fn even_at_the_root(&mut self) {
        let blade = &self.propeller.blade;
        let end = blade.inner_radius_m + ROOT_PART * (blade.radius_m - blade.inner_radius_m);
        let first = blade.elements.partition_point(|e| e.radius_m < end).min(self.advance.len() - 1);
        let pitch = self.advance[first];
        self.advance[..first].fill(pitch);
    }

    /// Greatest ratio of the induced velocity at an element to its speed of rotation.
    fn fastest(&self, circulation: &DVector<f64>) -> f64 {
        let [axial, swirl, _] = self.velocities(circulation);
        let speed = |k: usize| self.start.operation.omega_rad_s * self.element(k).radius_m;
        (0..circulation.len()).map(|k| axial[k].hypot(swirl[k]) / speed(k)).fold(0.0, f64::max)
    }

    fn summed(&self, circulation: &DVector<f64>) -> LiftingLine {
        let velocities = self.velocities(circulation);
        // Shank and hub are those of the blade elements.
        let own = &self.start.installed;
        let (mut thrust_n, mut torque_nm) = (own.shank_thrust_n - own.hub_drag_n, own.shank_torque_nm);
        for k in 0..circulation.len() {
            let e = self.element(k);
            let (speed, inflow, forces) = self.section(k, at(&velocities, k));
            let (along, around) = axial_and_tangential(&forces, inflow);
            let force = 0.5 * self.start.operation.air.density_kg_m3 * speed * speed * e.chord_m;
            let width = f64::from(self.propeller.blades) * e.width_m;
            thrust_n += width * force * along;
            torque_nm += width * force * around * e.radius_m;
        }
        LiftingLine { thrust_n, torque_nm }
    }
}

/// Circulation of an element, m2/s.
fn of_element(e: &ElementState) -> f64 {
    0.5 * e.speed_m_s * e.chord_m * e.forces.lift
}

fn at(velocities: &[DVector<f64>; 3], k: usize) -> [f64; 3] {
    [0, 1, 2].map(|c| velocities[c][k])
}
