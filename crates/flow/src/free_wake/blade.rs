//! The blade in its wake: extended lifting lines with control points at three quarters of the chord, and the forces on them.

use super::equations::Bound;
use super::vortex::{Blades, Line, Vector, place};
use super::wake::Wake;
use crate::element::{axial_and_tangential, wrapped};
use crate::propeller::{ElementState, FlowPropeller, Operation};
use bladeform_numeric::parallel;
use bladeform_polar::SectionPolar;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::PI;

/// Decay rate per radian of the offsets, in height and in radius, with which a vortex leaves the trailing edge.
const FORGOTTEN: f64 = 2.0;
/// Distance from the quarter chord to the trailing edge, chords.
const TRAILING: f64 = 0.75;
/// Least radius at which a vortex leaves, tip radii.
const LEAST_RADIUS: f64 = 1e-3;

/// A blade with lengths in tip radii.
pub(crate) struct WakeBlade<'a> {
    pub(super) propeller: &'a FlowPropeller,
    pub(super) operation: &'a Operation,
    pub(crate) edges: Vec<f64>,
    pub(crate) middles: Vec<f64>,
    pub(super) chords: Vec<f64>,
    pub(super) angles: Vec<f64>,
    /// Angle by which the blade is turned from the table's angles, rad.
    pub(super) turn_rad: f64,
    /// Chord and blade angle at the element boundaries.
    at_edges: Vec<[f64; 2]>,
    pub(super) tip_speed_m_s: f64,
}

/// Velocities downstream and in the direction of rotation at each element for unit circulation of each element.
pub(crate) type Influence = [DMatrix<f64>; 2];

impl<'a> WakeBlade<'a> {
    pub(crate) fn new(
        propeller: &'a FlowPropeller,
        turn_rad: f64,
        operation: &'a Operation,
    ) -> WakeBlade<'a> {
        let blade = &propeller.blade;
        let tip = blade.radius_m;
        let edges: Vec<f64> = blade.edges_m().iter().map(|r| r / tip).collect();
        let middles: Vec<f64> = blade.elements.iter().map(|e| e.radius_m / tip).collect();
        let chords: Vec<f64> = blade.elements.iter().map(|e| e.chord_m / tip).collect();
        let angles: Vec<f64> = blade.elements.iter().map(|e| wrapped(e.table_angle_rad + turn_rad)).collect();
        let at_edges = edges.iter().map(|r| [&chords, &angles].map(|v| straight(&middles, v, *r))).collect();
        let tip_speed_m_s = operation.omega_rad_s * tip;
        WakeBlade { propeller, operation, edges, middles, chords, angles, turn_rad, at_edges, tip_speed_m_s }
    }

    pub(crate) fn count(&self) -> usize {
        self.middles.len()
    }

    /// Unit of circulation: tip radius times tip speed, m2/s.
    pub(crate) fn scale(&self) -> f64 {
        self.propeller.blade.radius_m * self.tip_speed_m_s
    }

    /// Bound vortices of the first blade.
    pub(crate) fn bound(&self, circulation: &DVector<f64>) -> Vec<Bound> {
        (0..self.count())
            .map(|j| Bound {
                ends: [j, j + 1].map(|k| place(self.edges[k], 0.0, 0.0)),
                core: 0.5 * self.chords[j],
                strength: circulation[j],
            })
            .collect()
    }

    /// Radius and height of the vortex that leaves boundary `j`, as a function of the age since the trailing edge.
    fn leaving(&self, wake: &Wake, near_wake_rad: f64, j: usize, age: f64) -> [f64; 2] {
        let (r, released) = (self.edges[j], &wake.released);
        if wake.peak < r {
            let [tip, height] = wake.at(0, age);
            let t = (age / near_wake_rad).min(1.0);
            let merged = t * t * (3.0 - 2.0 * t);
            return [tip * (r + (1.0 - r) * merged), height];
        }
        let outer = (1..released.len()).find(|f| r < released[*f]);
        match outer {
            Some(f) if 1 < f => {
                let t = (r - released[f - 1]) / (released[f] - released[f - 1]);
                let (a, b) = (wake.at(f - 1, age), wake.at(f, age));
                [0, 1].map(|c| a[c] + t * (b[c] - a[c]))
            }
            _ => {
                let f = outer.unwrap_or(released.len() - 1);
                let [radius, height] = wake.at(f, age);
                [radius * r / released[f], height]
            }
        }
    }

    /// Age at which the vortex of boundary `j` passes the trailing edge, rad.
    fn on_chord(&self, j: usize) -> f64 {
        let [chord, angle] = self.at_edges[j];
        (TRAILING * chord * angle.cos()).atan2(self.edges[j].max(LEAST_RADIUS))
    }

    /// The whole vortex of boundary `j`: from the quarter chord straight along the chord to the trailing edge, and on into the wake.
    fn trailing(&self, wake: &Wake, near_wake_rad: f64, j: usize, ages: &[f64]) -> Vec<Vector> {
        let (r, [chord, angle]) = (self.edges[j].max(LEAST_RADIUS), self.at_edges[j]);
        let (sin, cos) = angle.sin_cos();
        let on_chord = self.on_chord(j);
        let further_out = r.hypot(TRAILING * chord * cos) - r;
        ages.iter()
            .map(|age| {
                if *age < on_chord {
                    let behind = r * age.tan();
                    return Vector::new(-behind, -behind * sin / cos, r);
                }
                let since = age - on_chord;
                let [radius, height] = self.leaving(wake, near_wake_rad, j, since);
                let kept = (-FORGOTTEN * since).exp();
                place(radius + further_out * kept, height - TRAILING * chord * sin * kept, *age)
            })
            .collect()
    }

    /// Control point of each element on the chord line, `share` chords behind the quarter chord.
    fn met(&self, share: f64) -> Vec<Vector> {
        (0..self.count())
            .map(|i| {
                let ((sin, cos), behind) = (self.angles[i].sin_cos(), share * self.chords[i]);
                Vector::new(-behind * cos, -behind * sin, self.middles[i])
            })
            .collect()
    }

    /// Velocities at control points `share` chords behind the quarter chord. The part of two-dimensional flow belongs to the sections' lift and is left out.
    pub(crate) fn influence(&self, wake: &Wake, share: f64, [core, near_wake_rad]: [f64; 2]) -> Influence {
        let n = self.count();
        let blades = Blades::new(self.propeller.blades);
        let ages = wake.ages();
        let met = self.met(share);
        let edges: Vec<usize> = (0..=n).collect();
        let columns = parallel::map(&edges, |j| {
            let points = self.trailing(wake, near_wake_rad, *j, &ages);
            // Near the blade the lines represent a sheet and need no core. On the chord a core would cancel what they induce there.
            let near = self.on_chord(*j) + near_wake_rad;
            let joint = ages.partition_point(|age| *age < near).clamp(1, ages.len() - 1);
            let near = Line::new(points[..=joint].to_vec(), 0.0);
            let last = ages.len() - 1;
            let descent = (points[last].y - points[last - 1].y) / (ages[last] - ages[last - 1]);
            let beyond = Line::without_end(points[joint..].to_vec(), core, descent);
            velocities(&met, &blades, &[near, beyond])
        });
        let mut out = [DMatrix::zeros(n, n), DMatrix::zeros(n, n)];
        for j in 0..n {
            let bound = Line::new([j, j + 1].map(|k| place(self.edges[k], 0.0, 0.0)).to_vec(), 0.0);
            let own = velocities(&met, &blades, &[bound]);
            let (sin, cos) = self.angles[j].sin_cos();
            for c in 0..2 {
                for i in 0..n {
                    out[c][(i, j)] = columns[j + 1][i][c] - columns[j][i][c] + own[i][c];
                }
                if share > 0.0 {
                    out[c][(j, j)] -= [cos, sin][c] / (2.0 * PI * share * self.chords[j]);
                }
            }
        }
        out
    }

    /// Velocity of the stream at each element, downstream and in the plane of rotation, tip speeds.
    pub(super) fn stream(&self, [down, along]: &Influence, circulation: &DVector<f64>) -> Vec<[f64; 2]> {
        let (u, w) = (down * circulation, along * circulation);
        (0..self.count()).map(|i| [u[i], self.middles[i] - w[i]]).collect()
    }

    /// The elements with their forces. The angle of attack is that at the control points behind the line. The force follows the direction of the stream on the line
    /// itself (M. M. Munk, NACA Report 121, 1921: the total does not depend on the position of a vortex along the stream).
    pub(crate) fn states(
        &self,
        [on_line, behind]: [&Influence; 2],
        circulation: &DVector<f64>,
    ) -> Vec<ElementState> {
        let (line, met) = (self.stream(on_line, circulation), self.stream(behind, circulation));
        let (blade, density) = (&self.propeller.blade, self.operation.air.density_kg_m3);
        (0..self.count())
            .map(|k| {
                let e = &blade.elements[k];
                let [u, v] = line[k].map(|part| part * self.tip_speed_m_s);
                let (speed_m_s, inflow_rad) = (u.hypot(v), u.atan2(v));
                let alpha_rad = wrapped(self.angles[k] - inflow_rad);
                let turned = wrapped(self.angles[k] - met[k][0].atan2(met[k][1]));
                let [reynolds, mach] = self.numbers(k, met[k][0].hypot(met[k][1]));
                let mut forces = blade.polar(e, self.turn_rad).forces(turned, reynolds, mach);
                // The lift follows from the circulation in the stream on the line.
                forces.lift = 2.0 * circulation[k] * self.scale() / (e.chord_m * speed_m_s);
                let (along, around) = axial_and_tangential(&forces, inflow_rad);
                let force = 0.5 * density * speed_m_s.powi(2) * e.chord_m;
                ElementState {
                    radius_m: e.radius_m,
                    width_m: e.width_m,
                    chord_m: e.chord_m,
                    blade_angle_rad: self.angles[k],
                    inflow_rad,
                    alpha_rad,
                    axial_induced_m_s: u,
                    swirl_induced_m_s: self.operation.omega_rad_s * e.radius_m - v,
                    speed_m_s,
                    reynolds,
                    mach,
                    least_pressure: self
                        .operation
                        .air
                        .water
                        .and_then(|_| blade.polar(e, self.turn_rad).least_pressure(turned, reynolds)),
                    turn_rad: wrapped(alpha_rad - turned),
                    forces,
                    loss: 1.0,
                    stream_factor: self.propeller.stream_factor(k),
                    thrust_n_per_m: force * along,
                    torque_n: force * around * e.radius_m,
                    balanced: true,
                    braked: false,
                }
            })
            .collect()
    }
}

/// Velocities downstream and in the direction of rotation, induced by lines of all blades at each point. The chord is normal to the span, so that the speed of the
/// air along it due to rotation is the same at all of its points.
fn velocities(met: &[Vector], blades: &Blades, lines: &[Line]) -> Vec<[f64; 2]> {
    met.iter()
        .map(|at| {
            let v = blades.sum(at, |p, _| lines.iter().map(|l| l.but(p, None)).sum());
            [-v.y, v.x]
        })
        .collect()
}

/// Linear between the element centres and extrapolated beyond them by at most half an interval.
fn straight(middles: &[f64], values: &[f64], r: f64) -> f64 {
    let k = middles.partition_point(|x| *x < r).clamp(1, middles.len() - 1);
    let t = (r - middles[k - 1]) / (middles[k] - middles[k - 1]);
    values[k - 1] + t.clamp(-0.5, 1.5) * (values[k] - values[k - 1])
}
