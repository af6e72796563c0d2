//! A study, not part of the program: the steady free wake of a hovering rotor. `cargo run --release -p bladeform-flow --example hover_wake`.
//!
//! Followed in steps, the wake of a hovering rotor does not settle: it is unstable. Its steady form is found here all at once by Newton's method, every point
//! of every vortex moving with the velocity that all of them induce (T. R. Quackenbush, D. B. Bliss, D. A. Wachspress, "New free-wake analysis of rotorcraft
//! hover performance using influence coefficients", Journal of Aircraft 26(12), 1989, from memory; the equations are this project's own).
//! - Tip vortex: all circulation that leaves outboard of its greatest value. Inboard: a few vortices, each that of its part of the span; the innermost keeps
//!   the shape of its neighbour, drawn towards the axis.
//! - Beyond the free turns: helices of the last turn's mean radius and pitch.
//! - Blade: extended lifting line at its own incidence, met at three quarters of the chord; lift and drag from computed polars. Vortices leave the trailing
//!   edge, those outboard merge into the tip vortex within the near wake.
//!
//! Rotor: F. X. Caradonna, C. Tung, NASA TM-81232, 1981. Lengths in tip radii, speeds in those of the tip.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_polar::{SectionPolar, SectionTable, TableSettings, ViscousSettings};
use bladeform_section::Family;
use nalgebra::{DMatrix, DVector, Vector3};
use std::f64::consts::{PI, TAU};

type Vector = Vector3<f64>;

/// Two blades of NACA 0012 without twist or taper.
const BLADES: usize = 2;
const CHORD: f64 = 1.0 / 6.0;
/// Inner end of the blade (not in the source's data).
const INNER: f64 = 0.15;
const TIP_MACH: f64 = 0.437;
/// Reynolds number on chord and tip speed (1250 rpm, chord 0.1905 m, ISO 2533 at sea level).
const TIP_REYNOLDS: f64 = 1.95e6;
/// Turns of the wake beyond the free ones, and its steps a turn.
const FAR_TURNS: usize = 20;
const FAR_STEPS: usize = 24;
/// Segments of the far wake that Newton's method sees move; the equations themselves have all.
const FAR_SEEN: usize = 240;
/// Longest move of a wake's point in one Newton step.
const LONGEST_MOVE: f64 = 0.08;
/// Share of the new circulation in each round.
const SHARE: f64 = 0.3;
const MOST_ROUNDS: usize = 60;
/// Settled: in three rounds on end the thrust changes by less than this fraction (the polars' bends let it tremble by that much) and no more is left of the
/// wake's equations.
const SETTLED: f64 = 5e-3;
const WAKE_SETTLED: f64 = 5e-6;
/// Step of differences.
const STEP: f64 = 1e-5;

/// What the answer must not hang on.
#[derive(Clone, Copy)]
struct Plan {
    elements: usize,
    /// Free turns and their steps a turn.
    turns: usize,
    steps: usize,
    /// Core radii of the tip vortex and of the others.
    core: f64,
    sheet_core: f64,
    /// Vortices a blade, the tip's among them; three at least.
    vortices: usize,
    near_wake_rad: f64,
}

const PLAN: Plan = Plan {
    elements: 30,
    turns: 3,
    steps: 24,
    core: 0.01,
    sheet_core: 0.05,
    vortices: 4,
    near_wake_rad: 0.52,
};

/// Vortices of one blade: the tip's first, then from the root outward.
#[derive(Clone)]
struct Wake {
    radius: Vec<Vec<f64>>,
    height: Vec<Vec<f64>>,
    strength: Vec<f64>,
    released: Vec<f64>,
}

struct Found {
    thrust: f64,
    /// Radius and height of the tip vortex below the next blade.
    passage: [f64; 2],
    left: f64,
    rounds: usize,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let outline = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }.outline(300);
    let settings = TableSettings {
        viscous: ViscousSettings::default(),
        reynolds: [3e5, 3e6],
        ..TableSettings::default()
    };
    let section = SectionTable::compute(&outline, &settings)?;
    println!(
        "NASA TM-81232: thrust coefficient 0.0046 at 8 deg; 0.0021 at 5 and 0.0080 at 12 deg from memory"
    );
    println!(
        "{:<34} {:>8} {:>22} {:>10} {:>7}",
        "", "thrust", "tip vortex below blade", "wake left", "rounds"
    );
    let show = |name: &str, collective: f64, plan: Plan| {
        let f = Rotor::new(collective.to_radians(), plan, &section).solve();
        println!(
            "{name:<34} {:>8.5} {:>11.3} R {:>6.3} R {:>10.0e} {:>7}",
            f.thrust, f.passage[0], f.passage[1], f.left, f.rounds
        );
    };
    for collective in [5.0, 8.0, 12.0] {
        show(&format!("collective {collective} deg"), collective, PLAN);
    }
    for turns in [2, 4] {
        show(&format!("8 deg, {turns} free turns"), 8.0, Plan { turns, ..PLAN });
    }
    for core in [0.005, 0.02, 0.035] {
        show(&format!("8 deg, core {core} R"), 8.0, Plan { core, ..PLAN });
    }
    for vortices in [3, 5] {
        show(&format!("8 deg, {vortices} vortices a blade"), 8.0, Plan { vortices, ..PLAN });
    }
    show("8 deg, core inboard 0.03 R", 8.0, Plan { sheet_core: 0.03, ..PLAN });
    for degrees in [15.0_f64, 60.0] {
        let near_wake_rad = degrees.to_radians();
        show(&format!("8 deg, near wake {degrees} deg"), 8.0, Plan { near_wake_rad, ..PLAN });
    }
    show("8 deg, 50 elements", 8.0, Plan { elements: 50, ..PLAN });
    Ok(())
}

/// Straight vortex of unit circulation with a smooth core (G. H. Vatistas, V. Kozel, W. C. Mih, Experiments in Fluids 11, 1991, exponent 2).
fn segment(from: Vector, to: Vector, at: Vector, core: f64) -> Vector {
    let (a, b) = (at - from, at - to);
    let (c, far, near) = (a.cross(&b), a.norm(), b.norm());
    let product = far * near * (far * near + a.dot(&b));
    // On the line itself.
    if product.abs() < 1e-14 {
        return Vector::zeros();
    }
    let mut factor = (far + near) / (product * 2.0 * TAU);
    if core > 0.0 {
        let squared = c.norm_squared() / (to - from).norm_squared().max(1e-20);
        factor *= squared / (squared * squared + core.powi(4)).sqrt();
    }
    c * factor
}

/// The point of a blade's wake at a radius, height and age; the blade stands along `z`, flight is along `y`.
fn place(radius: f64, height: f64, age: f64) -> Vector {
    Vector::new(-radius * age.sin(), height, radius * age.cos())
}

fn turned(v: Vector, angle: f64) -> Vector {
    let (s, c) = angle.sin_cos();
    Vector::new(v.x * c + v.z * s, v.y, v.z * c - v.x * s)
}

/// Velocity of a line of all blades at a point; segments for which `is_own` are left out of the first blade's.
fn of_blades(
    at: Vector,
    line: &[Vector],
    core: impl Fn(usize) -> f64,
    is_own: impl Fn(usize) -> bool,
) -> Vector {
    (0..BLADES)
        .map(|blade| {
            let angle = TAU * blade as f64 / BLADES as f64;
            let point = turned(at, -angle);
            let sum = (0..line.len() - 1)
                .filter(|k| 0 < blade || !is_own(*k))
                .map(|k| segment(line[k], line[k + 1], point, core(k)))
                .sum();
            turned(sum, angle)
        })
        .sum()
}

/// Radial and axial part of a velocity at an age.
fn parts(v: Vector, age: f64) -> [f64; 2] {
    let (s, c) = age.sin_cos();
    [v.z * c - v.x * s, v.y]
}

struct Rotor<'a> {
    collective: f64,
    plan: Plan,
    section: &'a SectionTable,
    edges: Vec<f64>,
    middles: Vec<f64>,
    /// Bound circulation of the elements, and the one of the greatest.
    bound: Vec<f64>,
    peak: usize,
    wake: Wake,
}

impl<'a> Rotor<'a> {
    /// Begins with a wake of the momentum theory's speeds; the solution does not hang on it.
    fn new(collective: f64, plan: Plan, section: &'a SectionTable) -> Rotor<'a> {
        let n = plan.elements;
        let at = |k: f64| 0.5 * (INNER + 1.0) - 0.5 * (1.0 - INNER) * (PI * k / n as f64).cos();
        let edges: Vec<f64> = (0..=n).map(|k| at(k as f64)).collect();
        let middles: Vec<f64> = (0..n).map(|k| at(k as f64 + 0.5)).collect();
        let bound = middles.iter().map(|x| 0.21 * collective * x * (1.0 - x).powf(0.3)).collect();
        let wake = Wake { radius: vec![], height: vec![], strength: vec![], released: vec![] };
        let mut rotor = Rotor { collective, plan, section, edges, middles, bound, peak: 0, wake };
        (rotor.wake.strength, rotor.wake.released) = rotor.released();
        // Far from the answer is near enough.
        let speed = (0.16 * collective.powf(1.8)).sqrt() * 0.7;
        let ages: Vec<f64> = (0..=rotor.last()).map(|k| rotor.age(k)).collect();
        let contracted = |age: f64| 0.78 + 0.22 * (-0.27 * age).exp();
        let gap = TAU / BLADES as f64;
        for r in rotor.wake.released.clone() {
            let radius = ages.iter().map(|age| r * contracted(*age)).collect();
            let descent = |age: f64| {
                if r < 1.0 { 2.0 * r * age } else { 0.2 * age + 1.2 * (age - gap).max(0.0) }
            };
            let height = ages.iter().map(|age| -speed * descent(*age)).collect();
            rotor.wake.radius.push(radius);
            rotor.wake.height.push(height);
        }
        rotor
    }

    fn last(&self) -> usize {
        self.plan.turns * self.plan.steps
    }

    fn age(&self, k: usize) -> f64 {
        TAU * k as f64 / self.plan.steps as f64
    }

    fn core(&self, vortex: usize) -> f64 {
        if vortex == 0 { self.plan.core } else { self.plan.sheet_core }
    }

    fn solve(mut self) -> Found {
        let (mut before, mut calm) = (0.0, 0);
        let mut found = Found { thrust: 0.0, passage: [0.0; 2], left: f64::MAX, rounds: 0 };
        for round in 1..=MOST_ROUNDS {
            let (bound, thrust) = self.loaded();
            for (old, new) in self.bound.iter_mut().zip(bound) {
                *old += SHARE * (new - *old);
            }
            self.take_strengths();
            let left = self.move_wake();
            let next = self.plan.steps / BLADES;
            let passage = [self.wake.radius[0][next], self.wake.height[0][next]];
            found = Found { thrust, passage, left, rounds: round };
            let is_calm = (thrust - before).abs() < SETTLED * thrust && left < WAKE_SETTLED;
            calm = if is_calm { calm + 1 } else { 0 };
            if calm == 3 {
                break;
            }
            before = thrust;
        }
        found
    }

    /// Strengths and radii of release of the vortices for the bound circulation; finds the peak.
    fn released(&mut self) -> (Vec<f64>, Vec<f64>) {
        let (n, count, g) = (self.plan.elements, self.plan.vortices, &self.bound);
        self.peak = (n / 2..n).max_by(|a, b| g[*a].total_cmp(&g[*b])).unwrap_or(n - 1);
        let (mut strength, mut moment) = (vec![0.0; count], vec![0.0; count]);
        strength[0] = g[self.peak];
        let span = self.edges[self.peak] - INNER;
        for j in 0..=self.peak {
            let leaving = if j == 0 { 0.0 } else { g[j - 1] } - g[j];
            let part = (self.edges[j] - INNER) / span * (count - 1) as f64;
            let f = 1 + (part as usize).min(count - 2);
            strength[f] += leaving;
            moment[f] += leaving * self.edges[j];
        }
        let middle = |f: usize| {
            let border = |k: usize| INNER + span * k as f64 / (count - 1) as f64;
            let centroid = moment[f] / strength[f];
            if centroid.is_finite() { centroid.clamp(border(f - 1), border(f)) } else { border(f) }
        };
        let released = (0..count).map(|f| if f == 0 { 1.0 } else { middle(f) }).collect();
        (strength, released)
    }

    fn take_strengths(&mut self) {
        let (strength, released) = self.released();
        let last = self.last();
        for f in 0..released.len() {
            let change = released[f] - self.wake.released[f];
            for k in 0..=last {
                self.wake.radius[f][k] += change * (1.0 - k as f64 / last as f64);
            }
        }
        self.wake.strength = strength;
        self.wake.released = released;
    }

    /// Mean radius and descent a radian of the last free turn.
    fn far(&self, wake: &Wake, f: usize) -> [f64; 2] {
        let (last, turn) = (self.last(), self.plan.steps);
        let radius = wake.radius[f][last + 1 - turn..].iter().sum::<f64>() / turn as f64;
        [radius, (wake.height[f][last] - wake.height[f][last - turn]) / TAU]
    }

    /// Radius and height of a vortex at any age: cubics between points, and beyond them the helix.
    fn at(&self, f: usize, age: f64) -> [f64; 2] {
        let last = self.last();
        let (radii, heights) = (&self.wake.radius[f], &self.wake.height[f]);
        let x = age / TAU * self.plan.steps as f64;
        if last as f64 <= x {
            let ([mean, descent], past) = (self.far(&self.wake, f), age - self.age(last));
            return [mean + (radii[last] - mean) * (-past).exp(), heights[last] + descent * past];
        }
        let k = (x as usize).min(last - 1);
        let (t, u) = (x - k as f64, 1.0 - (x - k as f64));
        [radii, heights].map(|v| {
            let rise = v[k + 1] - v[k];
            let first = if 0 < k { 0.5 * (v[k + 1] - v[k - 1]) } else { rise };
            let second = if k + 2 <= last { 0.5 * (v[k + 2] - v[k]) } else { rise };
            v[k] * u * u * (1.0 + 2.0 * t)
                + v[k + 1] * t * t * (3.0 - 2.0 * t)
                + t * u * (first * u - second * t)
        })
    }

    fn line(&self, wake: &Wake, f: usize) -> Vec<Vector> {
        (0..=self.last()).map(|k| place(wake.radius[f][k], wake.height[f][k], self.age(k))).collect()
    }

    fn far_line(&self, wake: &Wake, f: usize) -> Vec<Vector> {
        let (last, [mean, descent]) = (self.last(), self.far(wake, f));
        (0..=FAR_TURNS * FAR_STEPS)
            .map(|k| {
                let past = TAU * k as f64 / FAR_STEPS as f64;
                let radius = mean + (wake.radius[f][last] - mean) * (-past).exp();
                place(radius, wake.height[f][last] + descent * past, self.age(last) + past)
            })
            .collect()
    }
}

/// The wake's equations.
impl Rotor<'_> {
    /// Velocity of vortex `f` at point `k` of vortex `of`; lines as given.
    fn induced(&self, lines: [&[Vector]; 2], f: usize, at: Vector, of: usize, k: usize) -> Vector {
        let core = |_: usize| self.core(f);
        let free = of_blades(at, lines[0], core, |s| f == of && (s == k || s + 1 == k));
        let far = of_blades(at, lines[1], core, |s| f == of && s == 0 && k == self.last());
        (free + far) * self.wake.strength[f]
    }

    /// What a point gets besides: the blades' bound vortices, spread over half a chord, and its own neighbourhood as the arc of a ring.
    fn besides(&self, at: Vector, f: usize, k: usize, radius: f64) -> Vector {
        let mut sum = Vector::zeros();
        for (j, g) in self.bound.iter().enumerate() {
            let line = [self.edges[j], self.edges[j + 1]].map(|r| place(r, 0.0, 0.0));
            sum += of_blades(at, &line, |_| 0.5 * CHORD, |_| false) * *g;
        }
        if 0 < k {
            // A ring of a core moves at `ln(8 r / core) - 1/4`; all of it but the two segments beside is there already.
            let radius = radius.max(0.05);
            let log = (2.0 * radius * self.age(1) / self.core(f)).ln() - 0.25;
            sum.y -= self.wake.strength[f] / (2.0 * TAU * radius) * log.max(0.0);
        }
        sum
    }

    /// Radial and axial velocity of each point of each vortex.
    fn velocities(&self, wake: &Wake) -> Vec<Vec<[f64; 2]>> {
        let count = wake.strength.len();
        let lines: Vec<_> = (0..count).map(|f| (self.line(wake, f), self.far_line(wake, f))).collect();
        let of = |f: usize, k: usize| {
            let at = lines[f].0[k];
            let sum: Vector = (0..count).map(|g| self.induced([&lines[g].0, &lines[g].1], g, at, f, k)).sum();
            parts(sum + self.besides(at, f, k, wake.radius[f][k]), self.age(k))
        };
        (0..count).map(|f| (0..=self.last()).map(|k| of(f, k)).collect()).collect()
    }

    /// Place of an equation, and of an unknown, of point `k` from 1 on.
    fn index(&self, f: usize, k: usize, c: usize) -> usize {
        2 * (f * self.last() + k - 1) + c
    }

    fn residual(&self, wake: &Wake) -> DVector<f64> {
        let velocities = self.velocities(wake);
        let half = 0.5 * self.age(1);
        let mut out = DVector::zeros(2 * wake.strength.len() * self.last());
        for f in 0..wake.strength.len() {
            for k in 1..=self.last() {
                for (c, v) in [&wake.radius, &wake.height].into_iter().enumerate() {
                    out[self.index(f, k, c)] = if f == 1 {
                        v[1][k] - wake.released[1] / wake.released[2] * v[2][k]
                    } else {
                        v[f][k] - v[f][k - 1] - half * (velocities[f][k - 1][c] + velocities[f][k][c])
                    };
                }
            }
        }
        out
    }

    /// Derivatives of [`Self::residual`] by differences: a moved point changes its line's velocity everywhere, and all velocities where it is.
    fn jacobian(&self, base: &[Vec<[f64; 2]>]) -> DMatrix<f64> {
        let (count, last, half) = (self.wake.strength.len(), self.last(), 0.5 * self.age(1));
        let size = 2 * count * last;
        let mut out = DMatrix::zeros(size, size);
        let lines: Vec<_> =
            (0..count).map(|f| (self.line(&self.wake, f), self.far_line(&self.wake, f))).collect();
        for f in 0..count {
            let far_at = |far: &[Vector], g: usize, i: usize| {
                let is_own = |s: usize| g == f && s == 0 && i == last;
                of_blades(lines[g].0[i], &far[..FAR_SEEN], |_| self.core(f), is_own)
            };
            let far_before: Vec<Vec<Vector>> =
                (0..count).map(|g| (0..=last).map(|i| far_at(&lines[f].1, g, i)).collect()).collect();
            for (k, c) in (1..=last).flat_map(|k| [(k, 0), (k, 1)]) {
                let mut moved = self.wake.clone();
                let v = if c == 0 { &mut moved.radius } else { &mut moved.height };
                v[f][k] += STEP;
                let column = self.index(f, k, c);
                let line = self.line(&moved, f);
                // The far helix hangs on the last turn alone.
                let hangs = last < k + self.plan.steps + 1;
                let far = if hangs { self.far_line(&moved, f) } else { Vec::new() };
                let near = (k - 1)..=(k + 1).min(last);
                let change = |g: usize, i: usize| -> [f64; 2] {
                    if g == f && i == k {
                        let (at, far) = (line[k], if hangs { &far } else { &lines[f].1 });
                        let mut sum = self.besides(at, f, k, moved.radius[f][k]);
                        for h in 0..count {
                            let of: [&[Vector]; 2] =
                                if h == f { [&line, far] } else { [&lines[h].0, &lines[h].1] };
                            sum += self.induced(of, h, at, f, k);
                        }
                        let [r, y] = parts(sum, self.age(k));
                        return [(r - base[f][k][0]) / STEP, (y - base[f][k][1]) / STEP];
                    }
                    let (at, core) = (lines[g].0[i], |_: usize| self.core(f));
                    let is_own = |s: usize| g == f && (s + near.start() == i || s + near.start() + 1 == i);
                    let of = |l: &[Vector]| of_blades(at, &l[near.clone()], core, is_own);
                    let mut sum = of(&line) - of(&lines[f].0);
                    if hangs {
                        sum += far_at(&far, g, i) - far_before[g][i];
                    }
                    let [r, y] = parts(sum * self.wake.strength[f], self.age(i));
                    [r / STEP, y / STEP]
                };
                for g in (0..count).filter(|g| *g != 1) {
                    let mut before = change(g, 0);
                    for i in 1..=last {
                        let here = change(g, i);
                        for e in 0..2 {
                            out[(self.index(g, i, e), column)] -= half * (before[e] + here[e]);
                        }
                        before = here;
                    }
                }
                out[(column, column)] += 1.0;
                if f != 1 && k < last {
                    out[(self.index(f, k + 1, c), column)] -= 1.0;
                }
                if f == 2 {
                    out[(self.index(1, k, c), column)] -= self.wake.released[1] / self.wake.released[2];
                }
            }
        }
        out
    }

    /// One step of Newton's method, shortened while it leads away; what is left of the equations, as a norm.
    fn move_wake(&mut self) -> f64 {
        let before = self.residual(&self.wake);
        let Some(change) = self.jacobian(&self.velocities(&self.wake)).lu().solve(&before) else {
            return f64::MAX;
        };
        let mut share = (LONGEST_MOVE / change.amax()).min(1.0);
        for _ in 0..5 {
            let mut next = self.wake.clone();
            for f in 0..next.strength.len() {
                for k in 1..=self.last() {
                    next.radius[f][k] = (next.radius[f][k] - share * change[self.index(f, k, 0)]).max(0.02);
                    next.height[f][k] -= share * change[self.index(f, k, 1)];
                }
            }
            let left = self.residual(&next).norm();
            if left < before.norm() {
                self.wake = next;
                return left;
            }
            share *= 0.5;
        }
        before.norm()
    }
}

/// The blade.
impl Rotor<'_> {
    /// Radius and height of what leaves edge `j`, by the age since the trailing edge.
    fn leaving(&self, j: usize, age: f64) -> [f64; 2] {
        let (r, released) = (self.edges[j], &self.wake.released);
        if self.peak < j {
            let [tip, height] = self.at(0, age);
            let t = (age / self.plan.near_wake_rad).min(1.0);
            let merged = t * t * (3.0 - 2.0 * t);
            return [tip * (r + (1.0 - r) * merged), height];
        }
        let outer = (1..released.len()).find(|f| r < released[*f]);
        match outer {
            Some(f) if 1 < f => {
                let t = (r - released[f - 1]) / (released[f] - released[f - 1]);
                let (a, b) = (self.at(f - 1, age), self.at(f, age));
                [0, 1].map(|c| a[c] + t * (b[c] - a[c]))
            }
            _ => {
                let f = outer.unwrap_or(released.len() - 1);
                let [radius, height] = self.at(f, age);
                [radius * r / released[f], height]
            }
        }
    }

    /// The whole line from the quarter chord of edge `j`, along the chord to the trailing edge and on.
    fn trailing(&self, j: usize, ages: &[f64]) -> Vec<Vector> {
        let (r, (sin, cos)) = (self.edges[j], self.collective.sin_cos());
        let on_chord = 0.75 * CHORD * cos / r;
        ages.iter()
            .map(|age| {
                let since = (age - on_chord).max(0.0);
                let [radius, height] = self.leaving(j, since);
                // The trailing edge's own height is forgotten over half a radian.
                let drop = age.min(on_chord) * r * sin / cos * (-2.0 * since).exp();
                place(radius, height - drop, *age)
            })
            .collect()
    }

    /// Downward and backward velocity at each element for unit circulation of each.
    fn influence(&self) -> [DMatrix<f64>; 2] {
        let n = self.plan.elements;
        let (sin, cos) = self.collective.sin_cos();
        let end = self.age(self.last());
        let mut ages = vec![0.0];
        let (mut age, mut step) = (0.0_f64, 0.01_f64);
        while age < end - 1e-9 {
            step = (1.25 * step).min(0.5 * self.age(1));
            age = (age + step).min(end);
            ages.push(age);
        }
        ages.extend((1..=FAR_TURNS * FAR_STEPS).map(|k| end + TAU * k as f64 / FAR_STEPS as f64));
        let behind: Vec<f64> = self.middles.iter().map(|r| 0.5 * CHORD * cos / r).collect();
        let mut out = [DMatrix::zeros(n, n), DMatrix::zeros(n, n)];
        let mut add = |line: &[Vector], column: usize, sign: f64, core: &dyn Fn(usize) -> f64| {
            for i in 0..n {
                let at = place(self.middles[i], -0.5 * CHORD * sin, behind[i]);
                let v = of_blades(at, line, core, |_| false) * sign;
                let (s, c) = behind[i].sin_cos();
                out[0][(i, column)] -= v.y;
                out[1][(i, column)] += v.x * c + v.z * s;
            }
        };
        for j in 0..=n {
            let line = self.trailing(j, &ages);
            let core = |k: usize| {
                // Near the blade the lines are a sheet and need no core.
                if ages[k] < self.plan.near_wake_rad { 0.0 } else { self.plan.core }
            };
            if 0 < j {
                add(&line, j - 1, 1.0, &core);
            }
            if j < n {
                add(&line, j, -1.0, &core);
            }
        }
        for j in 0..n {
            add(&[j, j + 1].map(|k| place(self.edges[k], 0.0, 0.0)), j, 1.0, &|_| 0.0);
        }
        // The plane flow's part belongs to the section's lift.
        for j in 0..n {
            out[0][(j, j)] -= cos / (PI * CHORD);
            out[1][(j, j)] -= sin / (PI * CHORD);
        }
        out
    }

    /// Bound circulation in the wake as it is, and the thrust coefficient, thrust over density, disc and tip speed squared.
    fn loaded(&self) -> (Vec<f64>, f64) {
        let n = self.plan.elements;
        let [down, back] = self.influence();
        let forces = |u: f64, v: f64| {
            let speed = u.hypot(v);
            let alpha = (self.collective - u.atan2(v)).clamp(-0.5, 0.5);
            (self.section.forces(alpha, TIP_REYNOLDS * speed, (TIP_MACH * speed).min(0.8)), speed)
        };
        let circulation = |u: f64, v: f64| {
            let (f, speed) = forces(u, v);
            0.5 * CHORD * speed * f.lift
        };
        let mut bound = DVector::from_column_slice(&self.bound);
        let stream = |bound: &DVector<f64>| {
            let (u, w) = (&down * bound, &back * bound);
            (0..n).map(|i| [u[i], self.middles[i] - w[i]]).collect::<Vec<_>>()
        };
        for _ in 0..8 {
            let at = stream(&bound);
            let residual = DVector::from_fn(n, |i, _| bound[i] - circulation(at[i][0], at[i][1]));
            let slopes: Vec<[f64; 2]> = at
                .iter()
                .map(|[u, v]| {
                    let here = circulation(*u, *v);
                    [circulation(u + STEP, *v), circulation(*u, v + STEP)].map(|there| (there - here) / STEP)
                })
                .collect();
            let matrix = DMatrix::from_fn(n, n, |i, j| {
                let own = if i == j { 1.0 } else { 0.0 };
                own - slopes[i][0] * down[(i, j)] + slopes[i][1] * back[(i, j)]
            });
            let Some(change) = matrix.lu().solve(&residual) else { break };
            bound -= &change;
            if change.amax() < 1e-10 {
                break;
            }
        }
        let thrust: f64 = stream(&bound)
            .iter()
            .enumerate()
            .map(|(i, [u, v])| {
                let ((f, speed), width) = (forces(*u, *v), self.edges[i + 1] - self.edges[i]);
                let (sin, cos) = u.atan2(*v).sin_cos();
                0.5 * BLADES as f64 * CHORD * speed * speed * (f.lift * cos - f.drag * sin) * width
            })
            .sum();
        (bound.iter().copied().collect(), thrust / PI)
    }
}
