//! The smoothed surface of a blade as a fine sheet: rings from the middle of the root end to the tip, each evenly spaced around its outline.

use bladeform_numeric::vector::{cross, distance, norm, sub};

use super::kernel::{Kernel, KernelKind};
use super::lofted::Lofted;
use crate::random::Random;

/// A fine sheet, and the tube of the same perimeter and length on which noise lives: there the two sides of a thin blade are far apart.
#[derive(Debug)]
pub(super) struct Sheet {
    around: usize,
    /// Points of all rings; those of the first and the last are one point each.
    points: Vec<[f64; 3]>,
    rings: Vec<Ring>,
    area: f64,
}

/// Figures of one ring.
#[derive(Debug, Clone, Copy, Default)]
struct Ring {
    /// Mean length of the meridians from the root end's middle, m.
    meridian: f64,
    perimeter: f64,
    /// Place along the tube, m.
    tube: f64,
    /// Fraction of the perimeter at the nose.
    nose: f64,
    /// Area of the surface from the root end's middle, m^2.
    area: f64,
}

/// A place on a sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Fraction of the perimeter, from the tail over the back and along the face.
    pub(super) u: f64,
    /// Mean length of the meridians up to it, m.
    pub(super) meridian: f64,
    /// Perimeter there, m.
    pub(super) perimeter: f64,
    /// Point of the tube, m.
    pub(super) tube: [f64; 3],
    /// Ring below and fraction of the way to the next.
    ring: (usize, f64),
}

impl Place {
    /// Distance on the tube, m.
    pub(super) fn distance(&self, other: &Self) -> f64 {
        let turn = self.u - other.u;
        let around = (turn - turn.round()) * 0.5 * (self.perimeter + other.perimeter);
        around.hypot(self.meridian - other.meridian)
    }
}

/// Distance of rings along the span, m, unless the blade is so small that there would be fewer than [`LEAST_RINGS`].
const RING_STEP: f64 = 1e-3;
/// Least number of rings along the span. Chosen; no check of this value is on record.
const LEAST_RINGS: f64 = 300.0;
/// Distance of points around the widest outline, m, and the least and greatest number of them.
const POINT_STEP: f64 = 1e-4;
/// Least and greatest number of points around an outline. Chosen; no check of this value is on record.
const POINTS: [f64; 2] = [1200.0, 4800.0];
/// The outermost part of the radius in which rings come closer together: the planform is round there.
const TIP_SHARE: f64 = 0.16;
/// Outlines that are looked at for the widest.
const N_PROBES: usize = 24;
/// The tube goes on by at least this part of the meridian's way, also where it widens or narrows as fast as the meridian goes.
const LEAST_TUBE: f64 = 0.3;

impl Sheet {
    /// Sheet of a blade, smoothed.
    pub(super) fn new(blade: &dyn Lofted, kernel: &Kernel) -> Self {
        let (root, tip) = (blade.root_radius_m(), blade.tip_radius_m());
        let probe = |i: usize| blade.exact_outline(root + (tip - root) * i as f64 / N_PROBES as f64);
        let widest = (0..N_PROBES).map(|i| bladeform_section::perimeter(&probe(i))).fold(0.0, f64::max);
        // A smoothed outline needs no more than a few points in a deviation.
        let point_step = POINT_STEP.max(0.1 * kernel.deviation_m);
        let around = 4 * ((widest / point_step).clamp(POINTS[0], POINTS[1]) / 4.0).ceil() as usize;
        let step = RING_STEP.min((tip - root) / LEAST_RINGS);
        let bodies: Vec<(f64, Vec<[f64; 2]>)> = stations(root, tip, widest, step)
            .into_iter()
            .map(|r| (r, kernel.smoothed(&blade.exact_outline(r), around)))
            .collect();
        let mut points = cap(&bodies[0].1, root, step);
        for (r, outline) in &bodies {
            points.extend(outline.iter().map(|p| [p[0], p[1], *r]));
        }
        let mut sheet = Self { around, points, rings: vec![], area: 0.0 };
        sheet.close_tip();
        sheet.measure();
        if kernel.kind == KernelKind::Surface && 0.0 < kernel.deviation_m {
            sheet.smooth_meridians(kernel.deviation_m);
            sheet.measure();
        }
        sheet
    }

    /// Makes the last ring one point.
    fn close_tip(&mut self) {
        let from = self.points.len() - self.around;
        let middle = mean(&self.points[from..]);
        self.points[from..].fill(middle);
    }

    fn ring(&self, i: usize) -> &[[f64; 3]] {
        &self.points[i * self.around..(i + 1) * self.around]
    }

    /// Finds the rings' lengths.
    fn measure(&mut self) {
        let n = self.points.len() / self.around;
        let mut rings = vec![Ring::default(); n];
        for i in 0..n {
            let ring = self.ring(i);
            let around = |k: usize| distance(ring[k], ring[(k + 1) % self.around]);
            rings[i].perimeter = (0..self.around).map(around).sum();
            let far = (0..self.around)
                .max_by(|&a, &b| distance(ring[a], ring[0]).total_cmp(&distance(ring[b], ring[0])));
            rings[i].nose = far.unwrap_or(0) as f64 / self.around as f64;
            if i == 0 {
                continue;
            }
            let below = self.ring(i - 1);
            let square: f64 = ring.iter().zip(below).map(|(a, b)| distance(*a, *b).powi(2)).sum();
            let way = (square / self.around as f64).sqrt();
            let before = rings[i - 1];
            let wider = (rings[i].perimeter - before.perimeter) / std::f64::consts::TAU;
            rings[i].meridian = before.meridian + way;
            rings[i].tube = before.tube + (way * way - wider * wider).max((LEAST_TUBE * way).powi(2)).sqrt();
            rings[i].area = before.area + self.strip(i);
        }
        self.area = rings[n - 1].area;
        self.rings = rings;
    }

    /// Area between a ring and the one below.
    fn strip(&self, i: usize) -> f64 {
        let (a, b) = (self.ring(i - 1), self.ring(i));
        (0..self.around)
            .map(|k| {
                let next = (k + 1) % self.around;
                0.5 * norm(cross(sub(b[next], a[k]), sub(b[k], a[next])))
            })
            .sum()
    }

    /// Convolves all meridians with a Gaussian over their mean length. Beyond root and tip they go on along the opposite side.
    fn smooth_meridians(&mut self, deviation: f64) {
        let (n, around) = (self.rings.len() as i64, self.around);
        let half = around / 2;
        // Ring `j` of the meridians carried on over both poles: its index, its place, and whether it is met on the opposite side.
        let carried = |j: i64| {
            let end = self.rings[(n - 1) as usize].meridian;
            if j < 0 {
                ((-j).min(n - 1) as usize, -self.rings[(-j).min(n - 1) as usize].meridian, half)
            } else if j < n {
                (j as usize, self.rings[j as usize].meridian, 0)
            } else {
                let k = (2 * (n - 1) - j).max(0) as usize;
                (k, 2.0 * end - self.rings[k].meridian, half)
            }
        };
        let mut smooth = Vec::with_capacity(self.points.len());
        for i in 0..n {
            let here = self.rings[i as usize].meridian;
            let near = |j: i64| (carried(j).1 - here).abs() < 4.0 * deviation;
            let (mut from, mut to) = (i, i);
            while -n < from - 1 && near(from - 1) {
                from -= 1;
            }
            while to + 1 < 2 * n - 1 && near(to + 1) {
                to += 1;
            }
            let mut ring = vec![[0.0; 3]; around];
            let mut sum = 0.0;
            for j in from..=to {
                let (k, at, turn) = carried(j);
                let x = (at - here) / deviation;
                let w = (-0.5 * x * x).exp() * 0.5 * (carried(j + 1).1 - carried(j - 1).1).abs();
                sum += w;
                let source = self.ring(k);
                for (u, p) in ring.iter_mut().enumerate() {
                    let q = source[if u + turn < around { u + turn } else { u + turn - around }];
                    (0..3).for_each(|c| p[c] += w * q[c]);
                }
            }
            smooth.extend(ring.into_iter().map(|p| p.map(|x| x / sum)));
        }
        self.points = smooth;
        // The poles are one point each again.
        let first = mean(&self.points[..around]);
        self.points[..around].fill(first);
        self.close_tip();
    }

    /// Area of the surface, m^2.
    pub(super) const fn area(&self) -> f64 {
        self.area
    }

    /// Length of the meridians, m.
    pub(super) fn meridian_end(&self) -> f64 {
        self.rings[self.rings.len() - 1].meridian
    }

    /// Place at a fraction of the perimeter and a length of the meridians, m.
    pub(super) fn place(&self, u: f64, meridian: f64) -> Place {
        let u = u.rem_euclid(1.0);
        let meridian = meridian.clamp(0.0, self.meridian_end());
        let i = self.rings.partition_point(|r| r.meridian <= meridian).clamp(1, self.rings.len() - 1) - 1;
        let (a, b) = (self.rings[i], self.rings[i + 1]);
        let t = ((meridian - a.meridian) / (b.meridian - a.meridian).max(1e-300)).clamp(0.0, 1.0);
        let perimeter = a.perimeter + t * (b.perimeter - a.perimeter);
        let (sin, cos) = (std::f64::consts::TAU * u).sin_cos();
        let radius = perimeter / std::f64::consts::TAU;
        let tube = [radius * cos, radius * sin, a.tube + t * (b.tube - a.tube)];
        Place { u, meridian, perimeter, tube, ring: (i, t) }
    }

    /// A place drawn evenly over the area (but for the width of a ring).
    pub(super) fn random_place(&self, random: &mut Random) -> Place {
        let area = self.area * random.uniform();
        let i = self.rings.partition_point(|r| r.area <= area).clamp(1, self.rings.len() - 1);
        let meridian = random.between(self.rings[i - 1].meridian, self.rings[i].meridian);
        self.place(random.uniform(), meridian)
    }

    /// Fraction of the perimeter at the nose.
    pub(super) fn nose(&self, place: &Place) -> f64 {
        self.rings[place.ring.0 + usize::from(0.5 < place.ring.1)].nose
    }

    /// Point and outward unit normal, m.
    pub(super) fn surface(&self, place: &Place) -> ([f64; 3], [f64; 3]) {
        let (i, t) = place.ring;
        let x = place.u * self.around as f64;
        let k = x.floor();
        let (below, above) =
            (self.around_ring(i, k as usize, x - k), self.around_ring(i + 1, k as usize, x - k));
        let mix =
            |a: [f64; 3], b: [f64; 3]| -> [f64; 3] { std::array::from_fn(|c| a[c] + t * (b[c] - a[c])) };
        let along = sub(above.0, below.0);
        let n = cross(along, mix(below.1, above.1));
        let size = norm(n);
        // At a pole the ring is a point: outwards is away from the blade.
        let end = if 2 * i < self.rings.len() { -1.0 } else { 1.0 };
        let normal = if size < 1e-16 { [0.0, 0.0, end] } else { n.map(|v| v / size) };
        (mix(below.0, above.0), normal)
    }

    /// Point of a ring between its points `k` and `k + 1`, by a cubic through four (E. Catmull, R. Rom, 1974), and the way to the next point.
    fn around_ring(&self, i: usize, k: usize, f: f64) -> ([f64; 3], [f64; 3]) {
        let ring = self.ring(i);
        let at = |d: usize| ring[(k + self.around + d - 1) % self.around];
        let (a, b, c, d) = (at(0), at(1), at(2), at(3));
        let cubic = |j: usize| {
            let (m0, m1) = (0.5 * (c[j] - a[j]), 0.5 * (d[j] - b[j]));
            let (p, q) = (2.0 * (b[j] - c[j]) + m0 + m1, 3.0 * (c[j] - b[j]) - 2.0 * m0 - m1);
            (b[j] + f * (m0 + f * (q + f * p)), m0 + f * (2.0 * q + 3.0 * f * p))
        };
        (std::array::from_fn(|j| cubic(j).0), std::array::from_fn(|j| cubic(j).1))
    }

    /// Greatest distance of the surface from the axis, m.
    pub(super) fn half_width(&self) -> f64 {
        self.points.iter().map(|p| p[0].hypot(p[1])).fold(0.0, f64::max)
    }
}

/// Radii of the rings, m: evenly along the span, then closer together so that a round tip is followed.
fn stations(root: f64, tip: f64, widest: f64, step: f64) -> Vec<f64> {
    let from = (tip - TIP_SHARE * tip).max(0.5 * (root + tip));
    let even = ((from - root) / step).ceil() as usize;
    let end = ((0.5 * std::f64::consts::PI * (tip - from) + 0.5 * widest) / step).ceil() as usize;
    let mut all: Vec<f64> = (0..even).map(|i| root + (from - root) * i as f64 / even as f64).collect();
    all.extend(
        (0..=end)
            .map(|i| 0.5 * std::f64::consts::PI * i as f64 / end as f64)
            .map(|a| from + (tip - from) * a.sin()),
    );
    all
}

/// Rings from the middle of the root end to its outline, which itself is left out.
fn cap(outline: &[[f64; 2]], root: f64, step: f64) -> Vec<[f64; 3]> {
    let flat: Vec<_> = outline.iter().map(|p| [p[0], p[1], root]).collect();
    let middle = mean(&flat);
    let square = flat.iter().map(|p| distance(*p, middle).powi(2)).sum::<f64>() / flat.len() as f64;
    let rings = (square.sqrt() / step).ceil().max(3.0) as usize;
    let mut points = Vec::with_capacity(rings * flat.len());
    for i in 0..rings {
        let share = i as f64 / rings as f64;
        points.extend(
            flat.iter()
                .map(|p| -> [f64; 3] { std::array::from_fn(|k| middle[k] + share * (p[k] - middle[k])) }),
        );
    }
    points
}

fn mean(points: &[[f64; 3]]) -> [f64; 3] {
    std::array::from_fn(|k| points.iter().map(|p| p[k]).sum::<f64>() / points.len() as f64)
}
