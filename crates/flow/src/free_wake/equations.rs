//! The equations of the steady wake and their derivatives: every point of every free vortex moves with the velocity that all vortices induce there.

use super::vortex::{Blades, Line, Vector, parts, place, segment};
use super::wake::{Far, Wake};
use bladeform_numeric::parallel;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::TAU;

/// Turns of the far wake that the derivatives include. The equations themselves include all.
const FAR_TURNS_SEEN: usize = 6;
/// Step of the difference quotients, tip radii.
const STEP: f64 = 1e-5;

/// The bound vortex of one element.
#[derive(Clone, Debug)]
pub(crate) struct Bound {
    pub(crate) ends: [Vector; 2],
    /// Core radius that spreads the vortex over the chord, tip radii.
    pub(crate) core: f64,
    pub(crate) strength: f64,
}

/// Everything in the equations except the wake.
pub(crate) struct Surroundings<'a> {
    pub(crate) blades: &'a Blades,
    pub(crate) bound: &'a [Bound],
    /// Core radii of the vortices, the tip vortex first.
    pub(crate) cores: &'a [f64],
}

/// The vortices with unknowns: all but the second, whose shape follows the third.
pub(crate) fn active(vortices: usize) -> Vec<usize> {
    (0..vortices).filter(|f| *f != 1).collect()
}

/// Index of the equation and of the unknown of point `k` (from 1 on) of the `a`-th active vortex. `c` is 0 for the radius and 1 for the height.
pub(crate) fn index(wake: &Wake, a: usize, k: usize, c: usize) -> usize {
    2 * (a * wake.last() + k - 1) + c
}

impl Surroundings<'_> {
    fn lines(&self, wake: &Wake) -> Vec<[Line; 2]> {
        (0..self.cores.len()).map(|f| wake.lines(f, self.cores[f])).collect()
    }

    /// Velocity at a position `at` that is point `k` of vortex `f` or close to it.
    fn velocity(
        &self,
        wake: &Wake,
        lines: &[[Line; 2]],
        f: usize,
        k: usize,
        at: &Vector,
        radius: f64,
    ) -> Vector {
        let mut sum = self.blades.sum(at, |p, blade| {
            let mut v = Vector::zeros();
            for (g, [free, far]) in lines.iter().enumerate() {
                let is_own = g == f && blade == 0;
                let joins = is_own && k == wake.last();
                let induced = free.but(p, is_own.then_some(k)) + far.but(p, joins.then_some(0));
                v += induced * wake.strength[g];
            }
            for b in self.bound {
                v += segment(&b.ends[0], &b.ends[1], p, b.core.powi(4)) * b.strength;
            }
            v
        });
        if 0 < k {
            // A vortex ring with a core moves at `ln(8 r / core) - 1/4` (H. Lamb, Hydrodynamics, section 163). The sum has all of it except the two adjacent segments.
            let radius = radius.max(0.05);
            let log = (2.0 * radius * wake.age(1) / self.cores[f]).ln() - 0.25;
            sum.y -= wake.strength[f] / (2.0 * TAU * radius) * log.max(0.0);
        }
        sum
    }

    fn targets(&self, wake: &Wake) -> Vec<(usize, usize)> {
        active(self.cores.len()).into_iter().flat_map(|f| (0..=wake.last()).map(move |k| (f, k))).collect()
    }

    /// Residuals of the equations.
    pub(crate) fn residual(&self, wake: &Wake) -> DVector<f64> {
        let lines = self.lines(wake);
        let velocities = parallel::map(&self.targets(wake), |(f, k)| {
            let at = lines[*f][0].points[*k];
            parts(&self.velocity(wake, &lines, *f, *k, &at, wake.radius[*f][*k]), wake.age(*k))
        });
        let (last, half) = (wake.last(), 0.5 * wake.age(1));
        let active = active(self.cores.len());
        let mut out = DVector::zeros(2 * active.len() * last);
        for (a, f) in active.iter().enumerate() {
            for k in 1..=last {
                let at = a * (last + 1) + k;
                for (c, v) in [&wake.radius[*f], &wake.height[*f]].into_iter().enumerate() {
                    out[index(wake, a, k, c)] =
                        v[k] - v[k - 1] - half * (velocities[at - 1][c] + velocities[at][c]);
                }
            }
        }
        out
    }

    /// Derivatives of [`Self::residual`] with respect to each unknown.
    pub(crate) fn jacobian(&self, wake: &Wake) -> DMatrix<f64> {
        let lines = self.lines(wake);
        let fars: Vec<FarLines> =
            (0..self.cores.len()).map(|f| FarLines::new(wake, f, self.cores[f])).collect();
        let moved = Moved { of: self, wake, lines: &lines, fars: &fars };
        let rows = parallel::map(&self.targets(wake), |(f, k)| moved.row(*f, *k));
        let (last, half) = (wake.last(), 0.5 * wake.age(1));
        let count = active(self.cores.len()).len();
        let size = 2 * count * last;
        let mut out = DMatrix::zeros(size, size);
        for a in 0..count {
            for k in 1..=last {
                let at = a * (last + 1) + k;
                for c in 0..2 {
                    let row = index(wake, a, k, c);
                    for column in 0..size {
                        out[(row, column)] = -half * (rows[at - 1][c][column] + rows[at][c][column]);
                    }
                    out[(row, row)] += 1.0;
                    if 1 < k {
                        out[(row, index(wake, a, k - 1, c))] -= 1.0;
                    }
                }
            }
        }
        out
    }
}

/// A far helix, and the same with each of its four parameters changed.
struct FarLines {
    base: Line,
    moved: [Line; 4],
}

impl FarLines {
    fn new(wake: &Wake, f: usize, core: f64) -> FarLines {
        let (far, end) = (wake.far(f), wake.age(wake.last()));
        let line = |far: &Far| Line::new(far.points(end, FAR_TURNS_SEEN), core);
        FarLines { base: line(&far), moved: [0, 1, 2, 3].map(|which| line(&far.moved(which, STEP))) }
    }
}

/// Derivatives of the velocity at a point.
struct Moved<'a> {
    of: &'a Surroundings<'a>,
    wake: &'a Wake,
    lines: &'a [[Line; 2]],
    fars: &'a [FarLines],
}

impl Moved<'_> {
    /// Derivatives of the radial and the axial velocity of point `i` of vortex `g` with respect to each unknown.
    fn row(&self, g: usize, i: usize) -> [Vec<f64>; 2] {
        let (wake, last) = (self.wake, self.wake.last());
        let size = 2 * (self.lines.len() - 1) * last;
        let mut row = [vec![0.0; size], vec![0.0; size]];
        let mut add = |f: usize, k: usize, c: usize, change: &Vector| {
            // The shape of the innermost vortex follows its neighbour.
            let (f, share) = if f == 1 { (2, wake.drawn()) } else { (f, 1.0) };
            if 0 < k {
                let [radial, axial] = parts(change, wake.age(i));
                let column = index(wake, f.saturating_sub(1), k, c);
                row[0][column] += share * radial;
                row[1][column] += share * axial;
            }
        };
        let at = self.lines[g][0].points[i];
        for f in 0..self.lines.len() {
            for (k, c, change) in self.of_points(f, g, i, &at) {
                add(f, k, c, &change);
            }
            let [mean, last_radius, last_height, descent] = self.of_far(f, g, i, &at);
            for k in last + 1 - wake.steps..=last {
                add(f, k, 0, &(mean / wake.steps as f64));
            }
            add(f, last, 0, &last_radius);
            add(f, last, 1, &(last_height + descent / TAU));
            add(f, last - wake.steps, 1, &(-descent / TAU));
        }
        if 0 < i {
            let (radius, height, age) = (wake.radius[g][i], wake.height[g][i], wake.age(i));
            let here = |radius: f64, height: f64| {
                self.of.velocity(wake, self.lines, g, i, &place(radius, height, age), radius)
            };
            let base = here(radius, height);
            add(g, i, 0, &((here(radius + STEP, height) - base) / STEP));
            add(g, i, 1, &((here(radius, height + STEP) - base) / STEP));
        }
        row
    }

    /// Derivatives of the velocity at a position with respect to each point of vortex `f`.
    fn of_points(&self, f: usize, g: usize, i: usize, at: &Vector) -> Vec<(usize, usize, Vector)> {
        let (wake, last) = (self.wake, self.wake.last());
        let (points, core) = (&self.lines[f][0].points, self.of.cores[f].powi(4));
        let mut out: Vec<(usize, usize, Vector)> =
            (1..=last).flat_map(|k| [(k, 0, Vector::zeros()), (k, 1, Vector::zeros())]).collect();
        for k in 1..=last {
            for c in 0..2 {
                let by = if c == 0 { [STEP, 0.0] } else { [0.0, STEP] };
                let moved = place(wake.radius[f][k] + by[0], wake.height[f][k] + by[1], wake.age(k));
                let change = self.of.blades.sum(at, |p, blade| {
                    let is_own = |s: usize| g == f && blade == 0 && (s == i || s + 1 == i);
                    let mut v = Vector::zeros();
                    if !is_own(k - 1) {
                        v += segment(&points[k - 1], &moved, p, core)
                            - segment(&points[k - 1], &points[k], p, core);
                    }
                    if k < last && !is_own(k) {
                        v += segment(&moved, &points[k + 1], p, core)
                            - segment(&points[k], &points[k + 1], p, core);
                    }
                    v
                });
                out[2 * (k - 1) + c].2 = change * (wake.strength[f] / STEP);
            }
        }
        out
    }

    /// Derivatives of the velocity at a position with respect to the parameters of the far helix of vortex `f`.
    fn of_far(&self, f: usize, g: usize, i: usize, at: &Vector) -> [Vector; 4] {
        let far = &self.fars[f];
        let joins = |blade: usize| (g == f && blade == 0 && i == self.wake.last()).then_some(0);
        let base = self.of.blades.sum(at, |p, blade| far.base.but(p, joins(blade)));
        [0, 1, 2, 3].map(|which| {
            let there = self.of.blades.sum(at, |p, blade| far.moved[which].but(p, joins(blade)));
            (there - base) * (self.wake.strength[f] / STEP)
        })
    }
}
