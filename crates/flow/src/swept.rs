//! The extended lifting line: how chord, sweep and rake of the blades change the velocities that their vortices induce.
//!
//! The bound vortex runs through the quarter-chord points. The control points are at three quarters of the chord (J. Weissinger, *The lift distribution
//! of swept-back wings*, NACA TM 1120, 1947). Both lie on the surface of the blade's own wake.

use nalgebra::{DMatrix, Vector3};
use std::f64::consts::{PI, TAU};

/// Age of the wake, rad, up to which it differs from that of straight radial lines. Beyond one turn both induce nearly the same at the blade.
const LAST_AGE: f64 = TAU;
/// Steps of the age grow from the first by this ratio up to the longest. They begin short because a vortex starts close to the neighbouring elements.
const FIRST_STEP: f64 = 0.01;
/// Ratio of successive steps. Chosen; no check of this value is on record.
const STEP_RATIO: f64 = 1.25;
/// Longest step, rad: 25 in a turn (chosen).
const LONGEST_STEP: f64 = 0.25;

/// Vortices and control points of the first blade. Those of the other blades are the same, turned. SI.
///
/// A position is an azimuth from the pitch-change axis, rad, positive in the direction of rotation, and a height, m, positive in the direction of flight.
#[derive(Clone, Debug)]
pub(crate) struct Vortices {
    /// Radii of the element boundaries from the root to the tip: one more than elements.
    edges_m: Vec<f64>,
    /// Start points of the trailing vortices at these radii.
    starts: Vec<[f64; 2]>,
    /// Advance of each trailing vortex per radian, m.
    advance_m: Vec<f64>,
    /// Radii of the elements.
    radii_m: Vec<f64>,
    /// Control point of each element.
    met: Vec<[f64; 2]>,
}

/// Axial velocity (positive downstream) and swirl velocity (positive in the direction of rotation), m/s, at each element (rows) for unit circulation, m2/s,
/// of each element (columns).
pub(crate) type Influence = [DMatrix<f64>; 2];

/// The lifting lines of the blades and their trailing vortices.
pub(crate) struct Lines<'a> {
    pub(crate) blades: u32,
    pub(crate) chords_m: &'a [f64],
    /// Radii of the element boundaries: one more than elements.
    pub(crate) edges_m: &'a [f64],
    pub(crate) radii_m: &'a [f64],
    /// Advance of the wake of each element per radian, m.
    pub(crate) advance_m: &'a [f64],
}

/// What straight radial blades of finite chord induce at three quarters of the chord, minus what lifting lines induce on themselves.
///
/// The part of the bound vortices that two-dimensional flow already has (circulation over pi times chord) belongs to the sections' lift. It is left out.
pub(crate) fn excess_of_chord(lines: &Lines<'_>) -> Influence {
    let behind = Vortices::extended(lines, &vec![[0.0; 2]; lines.radii_m.len()]);
    let on_line = Vortices { met: vec![[0.0; 2]; lines.radii_m.len()], ..behind.clone() };
    let [mut axial, mut swirl] = behind.influence(lines.blades, true);
    let [less_axial, less_swirl] = on_line.influence(lines.blades, false);
    for (k, (chord, r)) in lines.chords_m.iter().zip(lines.radii_m).enumerate() {
        let (sin, cos) = lines.advance_m[k].atan2(*r).sin_cos();
        axial[(k, k)] -= cos / (PI * chord);
        swirl[(k, k)] -= sin / (PI * chord);
    }
    [axial - less_axial, swirl - less_swirl]
}

/// What blades through the quarter-chord points `quarter_m` induce at three quarters of their chord, minus what straight radial blades induce there.
///
/// Of `quarter_m`, m, `x` is positive in the direction of rotation and `y` in the direction of flight.
pub(crate) fn excess_of_sweep(lines: &Lines<'_>, quarter_m: &[[f64; 2]]) -> Influence {
    if quarter_m.iter().flatten().all(|v| v.abs() <= 0.0) {
        let n = quarter_m.len();
        return [DMatrix::zeros(n, n), DMatrix::zeros(n, n)];
    }
    let [axial, swirl] = Vortices::extended(lines, quarter_m).influence(lines.blades, true);
    let straight = Vortices::extended(lines, &vec![[0.0; 2]; lines.radii_m.len()]);
    let [less_axial, less_swirl] = straight.influence(lines.blades, true);
    [axial - less_axial, swirl - less_swirl]
}

impl Vortices {
    /// Vortices with control points half a chord behind the lines.
    fn extended(lines: &Lines<'_>, quarter_m: &[[f64; 2]]) -> Vortices {
        let Lines { radii_m, advance_m, .. } = *lines;
        let n = radii_m.len();
        let middles: Vec<[f64; 2]> =
            radii_m.iter().zip(quarter_m).map(|(r, p)| [(p[0] / r).atan(), p[1]]).collect();
        let met = (0..n)
            .map(|k| {
                let age = 0.5 * lines.chords_m[k] / radii_m[k].hypot(advance_m[k]);
                [middles[k][0] - age, middles[k][1] - advance_m[k] * age]
            })
            .collect();
        Vortices {
            starts: lines.edges_m.iter().map(|r| between(radii_m, &middles, *r)).collect(),
            advance_m: (0..=n)
                .map(|j| 0.5 * (advance_m[j.saturating_sub(1)] + advance_m[j.min(n - 1)]))
                .collect(),
            edges_m: lines.edges_m.to_vec(),
            radii_m: radii_m.to_vec(),
            met,
        }
    }

    /// The velocities induced by the first turn of the trailing vortices and, if requested, by the bound vortices.
    fn influence(&self, blades: u32, with_bound: bool) -> Influence {
        let n = self.radii_m.len();
        let ages = ages();
        let points: Vec<_> = (0..n).map(|i| place(self.radii_m[i], self.met[i])).collect();
        let mut out = [DMatrix::zeros(n, n), DMatrix::zeros(n, n)];
        let mut add = |line: &[Vector3<f64>], column: usize, sign: f64| {
            for (i, p) in points.iter().enumerate() {
                let v = line_velocity(blades, line, *p);
                let (sin, cos) = self.met[i][0].sin_cos();
                out[0][(i, column)] -= sign * v.y;
                out[1][(i, column)] += sign * (v.x * cos - v.z * sin);
            }
        };
        for j in 0..=n {
            let [azimuth, height] = self.starts[j];
            let at = |age: &f64| place(self.edges_m[j], [azimuth - age, height - self.advance_m[j] * age]);
            let wake: Vec<_> = ages.iter().map(at).collect();
            if 0 < j {
                add(&wake, j - 1, 1.0);
            }
            if j < n {
                add(&wake, j, -1.0);
            }
        }
        for j in (0..n).filter(|_| with_bound) {
            add(&[j, j + 1].map(|k| place(self.edges_m[k], self.starts[k])), j, 1.0);
        }
        out
    }
}

/// Velocity at `p` induced by vortices of unit circulation through `points` on all blades.
///
/// Straight segments by the Biot-Savart law: J. Katz, A. Plotkin, *Low-Speed Aerodynamics*, 2nd edition 2001, section 10.4.5.
fn line_velocity(blades: u32, points: &[Vector3<f64>], p: Vector3<f64>) -> Vector3<f64> {
    let mut sum = Vector3::zeros();
    for b in 0..blades {
        let (sin, cos) = (TAU * f64::from(b) / f64::from(blades)).sin_cos();
        // The point is turned back to the first blade, and its velocity is turned forward again.
        let q = Vector3::new(p.x * cos - p.z * sin, p.y, p.x * sin + p.z * cos);
        let mut v = Vector3::zeros();
        let mut from = q - points[0];
        let mut far = from.norm();
        for end in &points[1..] {
            let to = q - end;
            let near = to.norm();
            let product = far * near;
            v += from.cross(&to) * ((far + near) / (product * (product + from.dot(&to))));
            (from, far) = (to, near);
        }
        sum += Vector3::new(v.x * cos + v.z * sin, v.y, v.z * cos - v.x * sin);
    }
    sum / (2.0 * TAU)
}

/// Ages of the wake points, rad.
fn ages() -> Vec<f64> {
    let (mut ages, mut step) = (vec![0.0], FIRST_STEP);
    while ages[ages.len() - 1] < LAST_AGE {
        ages.push(ages[ages.len() - 1] + step);
        step = (STEP_RATIO * step).min(LONGEST_STEP);
    }
    ages
}

/// The point at a radius, an azimuth and a height.
fn place(radius_m: f64, [azimuth, height]: [f64; 2]) -> Vector3<f64> {
    Vector3::new(radius_m * azimuth.sin(), height, radius_m * azimuth.cos())
}

/// Azimuth and height at a radius: linear between the element centres and extrapolated beyond them.
fn between(radii: &[f64], points: &[[f64; 2]], r: f64) -> [f64; 2] {
    if radii.len() < 2 {
        return points.first().copied().unwrap_or([0.0; 2]);
    }
    let k = radii.partition_point(|x| *x < r).clamp(1, radii.len() - 1);
    let t = (r - radii[k - 1]) / (radii[k] - radii[k - 1]);
    [0, 1].map(|c| points[k - 1][c] + t * (points[k][c] - points[k - 1][c]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::DVector;

    fn radii(inner: f64, outer: f64, n: usize) -> (Vec<f64>, Vec<f64>) {
        let at = |t: f64| 0.5 * (inner + outer) - 0.5 * (outer - inner) * (PI * t / n as f64).cos();
        ((0..=n).map(|k| at(k as f64)).collect(), (0..n).map(|k| at(k as f64 + 0.5)).collect())
    }

    #[test]
    fn a_line_turned_or_shifted_as_a_whole_induces_the_same() {
        let (edges_m, radii_m) = radii(0.2, 1.0, 12);
        let line = |f: &dyn Fn(f64) -> [f64; 2]| {
            let points: Vec<_> = radii_m.iter().map(|r| f(*r)).collect();
            let lines = Lines {
                blades: 3,
                chords_m: &[0.1; 12],
                edges_m: &edges_m,
                radii_m: &radii_m,
                advance_m: &[0.2; 12],
            };
            Vortices::extended(&lines, &points).influence(3, true)
        };
        let straight = line(&|_| [0.0; 2]);
        let turned = line(&|r| [r * 0.3_f64.tan(), 0.07]);
        let bent = line(&|r| [0.3 * r * r, 0.0]);
        for k in 0..2 {
            assert!((&straight[k] - &turned[k]).amax() < 1e-9);
            assert!(0.01 < (&straight[k] - &bent[k]).amax());
        }
    }

    /// Lift slope, per rad, of a wing of elliptic chord whose quarter chord is swept by an angle: one blade on a circle so large that its path is straight.
    fn wing(aspect: f64, sweep: f64) -> f64 {
        let (radius, n) = (1e4, 97);
        let (edges_m, radii_m) = radii(radius - 0.5 * aspect, radius + 0.5 * aspect, n);
        let points: Vec<_> = radii_m.iter().map(|r| [-(r - radius).abs() * sweep.tan(), 0.0]).collect();
        let chord = |r: &f64| (4.0 / PI) * (1.0 - ((r - radius) / (0.5 * aspect)).powi(2)).sqrt();
        let chords_m: Vec<f64> = radii_m.iter().map(chord).collect();
        let lines = Lines {
            blades: 1,
            chords_m: &chords_m,
            edges_m: &edges_m,
            radii_m: &radii_m,
            advance_m: &vec![0.0; n],
        };
        let [downwash, _] = Vortices::extended(&lines, &points).influence(1, true);
        // The condition is no flow through the surface at unit speed and unit angle.
        let circulation = downwash.lu().solve(&DVector::from_element(n, 1.0)).unwrap();
        (0..n).map(|k| 2.0 * circulation[k] * (edges_m[k + 1] - edges_m[k])).sum::<f64>() / aspect
    }

    /// F. W. Diederich, "A plan-form parameter for correlating certain aerodynamic characteristics of swept wings", NACA TN 2335, 1951 (from memory).
    #[test]
    fn a_swept_wing_has_the_published_lift_slope() {
        for (aspect, sweep_deg) in
            [(10.0, 0.0_f64), (10.0, 20.0), (10.0, -35.0), (10.0, 35.0), (5.0, 30.0), (5.0, 0.0)]
        {
            let sweep = sweep_deg.to_radians();
            let over = 2.0 * sweep.cos() / aspect;
            let published = TAU * sweep.cos() / (over + over.hypot(1.0));
            let found = wing(aspect, sweep);
            assert!((found / published - 1.0).abs() < 0.05, "{aspect} {sweep_deg}: {found} {published}");
        }
    }
}
