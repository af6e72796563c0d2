//! Holes through the ends of a hub along its axis, and whether they are a circle of bolts: equal, and evenly spaced about the axis.
//!
//! A hole has a wall that faces its own middle; a gap in the scan has none. The evidence is that of the walls and their repeats: at least three of the same size, at the same distance from the axis, at
//! even angles, each open in a face that is there all around it.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use bladeform_mesh::CleanMesh;
use bladeform_numeric::sets::Forest;
use bladeform_quantity::Measured;
use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};

use crate::vector::{Axes, NORMAL_MAD, V3, cross, median, norm, sub};

/// Greatest cosine of the angle between the axis and the normal of a wall: noise tilts small triangles by 20 deg.
const WALL: f64 = 0.5;
/// Least cosine of that angle for a face across the axis.
const FACE: f64 = 0.7;
/// Triangles of the hub's own round wall lie beyond this part of its radius.
const INSIDE_WALL: f64 = 0.98;
/// Triangles of faces across the axis with a corner within so many times that distance are looked at.
const BEYOND_RIM: f64 = 1.2;
/// Fewest triangles of a wall: fewer show no circle.
const LEAST_TRIANGLES: usize = 12;
/// Most walls that are looked at, largest first: a torn scan has thousands of scraps.
const MOST_WALLS: usize = 400;
/// A wall must be there in this many of twelve directions from its own middle.
const SECTORS: usize = 8;
/// And this part of it must face that middle.
const INWARDS: f64 = 0.9;
/// Its points may stray from a circle by this fraction of its radius (root mean square).
const ROUND: f64 = 0.12;
/// It is at least this long along the axis, in its radii: a shorter one is a dent.
const LEAST_LENGTH: f64 = 0.5;
/// One in so many corners of a wall may stand out beyond its ends; in a long hole more of them would hide the face.
const STAND_OUT: usize = 200;
/// Radii of holes of one circle differ by less than this fraction.
const SAME_SIZE: f64 = 0.15;
/// Centres lie within this part of a hole's radius of where an even circle has them, along it; twice as much across it.
const IN_PLACE: f64 = 0.25;
/// Fewest and most places of a circle (the most: as many as a solid may have).
const PLACES: [usize; 2] = [3, 36];
/// Part of the places at which a hole must be seen.
const LEAST_SEEN: f64 = 0.6;
/// The middle of the circle lies within this part of its radius of the axis.
const ABOUT_AXIS: f64 = 0.1;
/// Neighbouring holes are at least so many of their diameters apart.
const APART: f64 = 1.05;
/// The face is looked for at this many of a hole's radii from its middle, within half a radius of the height at which its wall ends.
const AROUND: f64 = 1.35;
const HEIGHT: f64 = 0.5;
/// Part of the directions in which it must be there.
const FACE_THERE: f64 = 0.6;
/// Part of a hole's own area that a face may cover.
const COVERED: f64 = 0.5;

/// What a hub shows of holes along its axis.
#[derive(Debug, Default)]
pub(super) struct Holes {
    /// The circle on which most of them lie.
    pub(super) circle: Option<Circle>,
    /// Holes that lie on none.
    pub(super) others: usize,
}

/// Equal holes on a circle about the axis, file units.
#[derive(Debug)]
pub(super) struct Circle {
    /// Places, evenly spaced.
    pub(super) count: usize,
    /// Places where the wall of a hole was found, and those where a face closes it. At the others the scan shows neither.
    pub(super) seen: usize,
    pub(super) closed: usize,
    /// Radius of a hole, and of the circle through their centres.
    pub(super) hole: Measured,
    pub(super) circle: Measured,
    /// Angle of one of the places in the axes' first two directions, rad.
    pub(super) first: Measured,
}

/// A round wall along the axis that faces its own middle.
#[derive(Debug, Clone, Copy)]
struct Hole {
    centre: [f64; 2],
    radius: f64,
    /// Standard uncertainty of radius and centre by the scatter of its points.
    u: f64,
    /// What flat triangles leave uncertain in the radius.
    flat: f64,
    /// Where its wall begins and ends along the axis.
    heights: [f64; 2],
}

impl Hole {
    fn off_axis(&self) -> f64 {
        self.centre[0].hypot(self.centre[1])
    }
}

/// The holes within a distance of the axis, in axes whose third is the axis of rotation.
pub(super) fn holes(mesh: &CleanMesh, axes: &Axes, within: f64) -> Holes {
    let hub = HubFaces::of(mesh, axes, INSIDE_WALL * within);
    let found: Vec<Hole> = hub.walls().iter().filter_map(|wall| hub.hole(wall)).collect();
    let circle = best_circle(&found).and_then(|on| hub.circle(&found, &on));
    let on_circle = circle.as_ref().map_or(0, |c| c.seen);
    Holes { others: found.len() - on_circle, circle }
}

/// The triangles of a hub in its own axes.
struct HubFaces {
    /// Those along the axis, by corners and their numbers.
    along: Vec<([V3; 3], [u32; 3])>,
    /// Those across it that face up, and those that face down.
    across: [Vec<[V3; 3]>; 2],
}

impl HubFaces {
    fn of(mesh: &CleanMesh, axes: &Axes, within: f64) -> Self {
        let mut found = Self { along: vec![], across: [vec![], vec![]] };
        for f in mesh.faces() {
            let corners = f.map(|i| axes.local(mesh.vertices()[i as usize]));
            // A face may reach from rim to rim in one triangle.
            if corners.iter().all(|p| BEYOND_RIM * within < p[0].hypot(p[1])) {
                continue;
            }
            let n = normal(&corners);
            let share = n[2] / norm(n).max(f64::MIN_POSITIVE);
            let is_inside = corners.iter().all(|p| p[0].hypot(p[1]) < within);
            if share.abs() < WALL && is_inside {
                found.along.push((corners, *f));
            } else if FACE < share.abs() {
                found.across[usize::from(share < 0.0)].push(corners);
            }
        }
        found
    }

    /// Connected triangles along the axis.
    fn walls(&self) -> Vec<Vec<[V3; 3]>> {
        let mut number = BTreeMap::new();
        for (_, f) in &self.along {
            for &i in f {
                let next = number.len() as u32;
                number.entry(i).or_insert(next);
            }
        }
        let mut sets = Forest::new(number.len());
        for (_, [a, b, c]) in &self.along {
            sets.join(number[a], number[b]);
            sets.join(number[a], number[c]);
        }
        let mut walls = BTreeMap::<u32, Vec<[V3; 3]>>::new();
        for (corners, [a, ..]) in &self.along {
            walls.entry(sets.root(number[a])).or_default().push(*corners);
        }
        let mut walls: Vec<_> = walls.into_values().filter(|wall| LEAST_TRIANGLES <= wall.len()).collect();
        walls.sort_by_key(|wall| std::cmp::Reverse(wall.len()));
        walls.truncate(MOST_WALLS);
        walls
    }

    /// The hole whose wall some triangles are; `None` if they are none, or the face around it is not there.
    fn hole(&self, wall: &[[V3; 3]]) -> Option<Hole> {
        let area = |t: &[V3; 3]| 0.5 * norm(normal(t));
        let points: Vec<([f64; 2], f64)> = wall
            .iter()
            .flat_map(|t| t.map(|p| ([p[0], p[1]], area(t))))
            .filter(|(_, weight)| 0.0 < *weight)
            .collect();
        let fit = round(&points)?;
        let [x, y] = fit.centre;
        let (mut inwards, mut all) = (0.0, 0.0);
        for t in wall {
            let n = normal(t);
            let middle = [0, 1].map(|k| (t[0][k] + t[1][k] + t[2][k]) / 3.0);
            all += area(t);
            if 0.0 < n[0] * (x - middle[0]) + n[1] * (y - middle[1]) {
                inwards += area(t);
            }
        }
        let mut heights: Vec<f64> = wall.iter().flatten().map(|p| p[2]).collect();
        heights.sort_by(f64::total_cmp);
        // A few corners of the faces around may stand out.
        let part = heights.len() / STAND_OUT;
        let heights = [heights[part], heights[heights.len() - 1 - part]];
        let mut wide: Vec<f64> = wall.iter().map(width).collect();
        let flat = median(&mut wide).powi(2) / (8.0 * fit.radius) / 3f64.sqrt();
        let hole = Hole { heights, flat, ..fit };
        // A bore lies about the axis.
        let is_hole = hole.radius < hole.off_axis()
            && INWARDS * all <= inwards
            && LEAST_LENGTH * hole.radius <= heights[1] - heights[0];
        (is_hole && self.is_open_in_a_face(&hole)).then_some(hole)
    }

    /// Whether a face is there around an end of a hole and does not close it.
    fn is_open_in_a_face(&self, hole: &Hole) -> bool {
        (0..2).any(|end| {
            let near = self.near(hole, end);
            FACE_THERE <= share_covered(&near, &ring(hole)) && share_covered(&near, &disc(hole)) < COVERED
        })
    }

    /// Triangles of the face at the lower (1) or upper (0) end of a hole.
    fn near(&self, hole: &Hole, end: usize) -> Vec<[V3; 3]> {
        let height = hole.heights[1 - end];
        let reach = 1.1 * AROUND * hole.radius;
        let is_near = |t: &&[V3; 3]| {
            let beside = |k: usize| {
                let low = t.iter().map(|p| p[k]).fold(f64::INFINITY, f64::min);
                let high = t.iter().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
                low < hole.centre[k] + reach && hole.centre[k] - reach < high
            };
            let middle = (t[0][2] + t[1][2] + t[2][2]) / 3.0;
            (middle - height).abs() < HEIGHT * hole.radius && beside(0) && beside(1)
        };
        self.across[end].iter().filter(is_near).copied().collect()
    }

    /// The circle through some of the holes, with what the scan shows at its other places; `None` if it is not about the axis, or places between them were not scanned, so that there may be more.
    fn circle(&self, found: &[Hole], on: &Even) -> Option<Circle> {
        let holes: Vec<Hole> = on.at.values().map(|&i| found[i]).collect();
        let fit = even_fit(&holes, on)?;
        let n = holes.len() as f64;
        let radii: Vec<f64> = holes.iter().map(|h| h.radius).collect();
        let mean = radii.iter().sum::<f64>() / n;
        let scatter = (radii.iter().map(|r| (r - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let own = (holes.iter().map(|h| h.u.powi(2)).sum::<f64>() / n).sqrt();
        // Flat triangles act on all holes alike.
        let flat = holes.iter().map(|h| h.flat).sum::<f64>() / n;
        let middle_of = |k: usize| median(&mut holes.iter().map(|h| h.heights[k]).collect::<Vec<_>>());
        let place = |k: f64| Hole {
            centre: fit.place(k, on.count),
            radius: mean,
            u: 0.0,
            flat: 0.0,
            heights: [middle_of(0), middle_of(1)],
        };
        let is_closed =
            |place: &Hole| (0..2).any(|end| COVERED <= share_covered(&self.near(place, end), &disc(place)));
        let empty: Vec<usize> = (0..on.count).filter(|k| !on.at.contains_key(k)).collect();
        let closed = empty.iter().filter(|&&k| is_closed(&place(k as f64))).count();
        // Between the places the face must be there: else every second hole may have been missed.
        let has_room = 2.0 * APART * mean < 2.0 * fit.radius * (0.25 * TAU / on.count as f64).sin();
        let between = (0..on.count).filter(|&k| is_closed(&place(k as f64 + 0.5))).count();
        if has_room && 2 * between < on.count {
            return None;
        }
        Some(Circle {
            count: on.count,
            seen: holes.len(),
            closed,
            hole: Measured::new(mean, (scatter.max(own) / n.sqrt()).hypot(flat)),
            circle: Measured::new(fit.radius, fit.u),
            first: Measured::new(fit.first, fit.u / fit.radius),
        })
    }
}

fn normal([a, b, c]: &[V3; 3]) -> V3 {
    cross(sub(*b, *a), sub(*c, *a))
}

/// Longest side of a triangle as seen along the axis.
fn width([a, b, c]: &[V3; 3]) -> f64 {
    let side = |p: &V3, q: &V3| (p[0] - q[0]).hypot(p[1] - q[1]);
    side(a, b).max(side(b, c)).max(side(c, a))
}

/// The circle of some weighted points (I. Kasa, IEEE Transactions on Instrumentation and Measurement 25, 1976), without those that stray; `None` if they lie on none.
fn round(points: &[([f64; 2], f64)]) -> Option<Hole> {
    let mut kept = points.to_vec();
    for last in [false, false, true] {
        let weights: f64 = kept.iter().map(|(_, w)| w).sum();
        let origin = [0, 1].map(|k| kept.iter().map(|(p, w)| w * p[k]).sum::<f64>() / weights);
        let (mut a, mut b) = (Matrix3::zeros(), Vector3::zeros());
        for (p, w) in &kept {
            let [x, y] = [p[0] - origin[0], p[1] - origin[1]];
            let row = Vector3::new(x, y, 1.0);
            a += *w * row * row.transpose();
            b += *w * row * (x * x + y * y);
        }
        let solved = a.cholesky()?.solve(&b);
        let (cx, cy) = (0.5 * solved[0], 0.5 * solved[1]);
        let radius = (solved[2] + cx * cx + cy * cy).sqrt();
        let centre = [origin[0] + cx, origin[1] + cy];
        let off = |p: &[f64; 2]| (p[0] - centre[0]).hypot(p[1] - centre[1]) - radius;
        if last {
            let scatter = (kept.iter().map(|(p, w)| w * off(p).powi(2)).sum::<f64>() / weights).sqrt();
            let mut seen = [false; 12];
            for (p, _) in &kept {
                let turn = (p[1] - centre[1]).atan2(p[0] - centre[0]) / TAU + 0.5;
                seen[((12.0 * turn) as usize).min(11)] = true;
            }
            let sectors = seen.iter().filter(|s| **s).count();
            let is_round = radius.is_finite() && SECTORS <= sectors && scatter <= ROUND * radius;
            // Neighbouring points go together: half the directions are independent (a judgement).
            let u = scatter / (0.5 * sectors as f64).sqrt();
            return is_round.then_some(Hole { centre, radius, u, flat: 0.0, heights: [0.0; 2] });
        }
        let mut strays: Vec<f64> = kept.iter().map(|(p, _)| off(p).abs()).collect();
        let most = (2.5 * NORMAL_MAD * median(&mut strays)).max(1e-6 * radius);
        kept.retain(|(p, _)| off(p).abs() <= most);
    }
    None
}

/// Places of a circle about the axis, and the holes that lie there.
struct Even {
    count: usize,
    at: BTreeMap<usize, usize>,
}

/// The even circle that has most of the holes; of several with as many the one with fewest places.
fn best_circle(found: &[Hole]) -> Option<Even> {
    let angle = |h: &Hole| h.centre[1].atan2(h.centre[0]);
    let mut best: Option<Even> = None;
    for seed in found {
        let off_axis = seed.off_axis();
        let equal: Vec<(usize, &Hole)> = found
            .iter()
            .enumerate()
            .filter(|(_, h)| {
                (h.radius - seed.radius).abs() < SAME_SIZE * seed.radius
                    && (h.off_axis() - off_axis).abs() < 2.0 * IN_PLACE * seed.radius
            })
            .collect();
        for count in PLACES[0]..=PLACES[1] {
            let step = TAU / count as f64;
            if 2.0 * off_axis * (0.5 * step).sin() < 2.0 * APART * seed.radius {
                break;
            }
            let mut at = BTreeMap::new();
            for (i, h) in &equal {
                let steps = ((angle(h) - angle(seed)) / step).rem_euclid(count as f64);
                let off = (steps - steps.round()) * step * off_axis;
                if off.abs() < IN_PLACE * seed.radius {
                    at.entry(steps.round() as usize % count).or_insert(*i);
                }
            }
            let is_enough = PLACES[0] <= at.len() && LEAST_SEEN * count as f64 <= at.len() as f64;
            if is_enough && best.as_ref().is_none_or(|b| b.at.len() < at.len()) {
                best = Some(Even { count, at });
            }
        }
    }
    best
}

/// An even circle through holes by least squares: its middle, and the place with the number 0 from there.
struct EvenFit {
    middle: [f64; 2],
    radius: f64,
    first: f64,
    /// Standard uncertainty of the radius, and of a place along the circle.
    u: f64,
}

impl EvenFit {
    fn place(&self, k: f64, count: usize) -> [f64; 2] {
        let a = self.first + TAU * k / count as f64;
        [self.middle[0] + self.radius * a.cos(), self.middle[1] + self.radius * a.sin()]
    }
}

fn even_fit(holes: &[Hole], on: &Even) -> Option<EvenFit> {
    let (mut a, mut b) = (Matrix4::zeros(), Vector4::zeros());
    let rows: Vec<(Vector4<f64>, f64)> = holes
        .iter()
        .zip(on.at.keys())
        .flat_map(|(h, &k)| {
            let (sin, cos) = (TAU * k as f64 / on.count as f64).sin_cos();
            [
                (Vector4::new(1.0, 0.0, cos, -sin), h.centre[0]),
                (Vector4::new(0.0, 1.0, sin, cos), h.centre[1]),
            ]
        })
        .collect();
    for (row, value) in &rows {
        a += row * row.transpose();
        b += row * *value;
    }
    let inverse = a.cholesky()?.inverse();
    let solved = inverse * b;
    let squares: f64 = rows.iter().map(|(row, value)| (value - row.dot(&solved)).powi(2)).sum();
    let own = holes.iter().map(|h| h.u.powi(2)).sum::<f64>() / holes.len() as f64;
    let variance = (squares / (rows.len() - 4) as f64).max(own);
    let radius = solved[2].hypot(solved[3]);
    let middle = [solved[0], solved[1]];
    (middle[0].hypot(middle[1]) < ABOUT_AXIS * radius).then(|| EvenFit {
        middle,
        radius,
        first: solved[3].atan2(solved[2]),
        u: (variance * inverse[(2, 2)]).sqrt(),
    })
}

/// Places of a hole: its middle and two rings within it.
fn disc(hole: &Hole) -> Vec<[f64; 2]> {
    let rings = [(0.0, 1), (0.35, 6), (0.7, 6)].into_iter();
    rings.flat_map(|(share, count)| at_ring(hole, share, count)).collect()
}

/// Places around a hole.
fn ring(hole: &Hole) -> Vec<[f64; 2]> {
    at_ring(hole, AROUND, 16).collect()
}

fn at_ring(hole: &Hole, share: f64, count: u32) -> impl Iterator<Item = [f64; 2]> {
    let Hole { centre: [x, y], radius, .. } = *hole;
    (0..count).map(move |i| {
        let (sin, cos) = (TAU * (f64::from(i) + 0.5) / f64::from(count)).sin_cos();
        [x + share * radius * cos, y + share * radius * sin]
    })
}

/// Part of some places that triangles cover, as seen along the axis.
fn share_covered(triangles: &[[V3; 3]], places: &[[f64; 2]]) -> f64 {
    let covers = |[a, b, c]: &[V3; 3], p: &[f64; 2]| {
        let side = |a: &V3, b: &V3| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        let sides = [side(a, b), side(b, c), side(c, a)];
        sides.iter().all(|s| 0.0 <= *s) || sides.iter().all(|s| *s <= 0.0)
    };
    let covered = places.iter().filter(|p| triangles.iter().any(|t| covers(t, p))).count();
    covered as f64 / places.len() as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_mesh::{RawMesh, repair};

    /// A hub about the third axis as a solid of distances, scanned by a lattice of tetrahedra: it knows no walls. Lengths in mm.
    struct Drilled {
        holes: Vec<[f64; 3]>,
        /// Depth of the holes from the upper end.
        depth: f64,
        step: f64,
        noise: f64,
    }

    const RADIUS: f64 = 60.0;
    const HALF: f64 = 20.0;
    const BORE: f64 = 20.0;

    impl Drilled {
        /// Eight holes of 12 mm on a circle of 80 mm, without some of them.
        fn without(left_out: &[usize]) -> Self {
            let hole = |k: usize| {
                let (sin, cos) = (0.2 + TAU * k as f64 / 8.0).sin_cos();
                [40.0 * cos, 40.0 * sin, 6.0]
            };
            let holes = (0..8).filter(|k| !left_out.contains(k)).map(hole).collect();
            Self { holes, depth: 3.0 * HALF, step: 1.5, noise: 0.0 }
        }

        /// Above zero in the material.
        fn inside(&self, [x, y, z]: V3) -> f64 {
            let r = x.hypot(y);
            let hub = (RADIUS - r).min(HALF - z.abs()).min(r - BORE);
            self.holes.iter().fold(hub, |d, [cx, cy, radius]| {
                d.min(((x - cx).hypot(y - cy) - radius).max(HALF - self.depth - z))
            })
        }

        /// The surface, without the triangles whose middle is in a gap.
        fn scanned(&self, is_gap: impl Fn(V3) -> bool) -> CleanMesh {
            let count = [RADIUS, RADIUS, HALF].map(|half| 2 * (half / self.step) as usize + 6);
            let at =
                |c: [usize; 3]| [0, 1, 2].map(|k| (c[k] as f64 - 0.5 * count[k] as f64 + 0.13) * self.step);
            let number = |[i, j, k]: [usize; 3]| (i * (count[1] + 1) + j) * (count[2] + 1) + k;
            let corners = (0..=count[0]).flat_map(|i| (0..=count[1]).map(move |j| [i, j]));
            let values: Vec<f64> = corners
                .flat_map(|[i, j]| (0..=count[2]).map(move |k| [i, j, k]))
                .map(|c| self.inside(at(c)))
                .collect();
            let inside = |c: [usize; 3]| values[number(c)];
            let mut raw = RawMesh::default();
            let mut known = BTreeMap::new();
            let mut random = bladeform_specimen::Random::new(5);
            // Six tetrahedra about the diagonal of each cell.
            const WAYS: [[usize; 3]; 6] = [[0, 1, 2], [1, 2, 0], [2, 0, 1], [0, 2, 1], [2, 1, 0], [1, 0, 2]];
            let cells = (0..count[0]).flat_map(|i| (0..count[1]).map(move |j| [i, j]));
            for [i, j, k] in cells.flat_map(|[i, j]| (0..count[2]).map(move |k| [i, j, k])) {
                if 2.5 * self.step < inside([i, j, k]).abs() {
                    continue;
                }
                for way in WAYS {
                    let mut corner = [i, j, k];
                    let mut corners = vec![corner];
                    for axis in way {
                        corner[axis] += 1;
                        corners.push(corner);
                    }
                    let (high, low): (Vec<[usize; 3]>, Vec<[usize; 3]>) =
                        corners.iter().partition(|c| 0.0 < inside(**c));
                    let mut point = |a: [usize; 3], b: [usize; 3]| {
                        *known.entry((a.min(b), a.max(b))).or_insert_with(|| {
                            let (p, q) = (at(a.min(b)), at(a.max(b)));
                            let (fp, fq) = (inside(a.min(b)), inside(a.max(b)));
                            let t = (fp / (fp - fq)).clamp(0.05, 0.95);
                            raw.vertices.push(
                                [0, 1, 2].map(|k| p[k] + t * (q[k] - p[k]) + self.noise * random.normal()),
                            );
                            raw.vertices.len() as u32 - 1
                        })
                    };
                    let mut faces: Vec<[u32; 3]> = match (&high[..], &low[..]) {
                        ([a], [b, c, d]) | ([b, c, d], [a]) => {
                            vec![[point(*a, *b), point(*a, *c), point(*a, *d)]]
                        }
                        ([a, b], [c, d]) => {
                            let [p, q, r, s] = [point(*a, *c), point(*a, *d), point(*b, *d), point(*b, *c)];
                            vec![[p, q, r], [p, r, s]]
                        }
                        _ => vec![],
                    };
                    for face in &mut faces {
                        let [a, b, c] = face.map(|i| raw.vertices[i as usize]);
                        let n = cross(sub(b, a), sub(c, a));
                        let out = sub(at(low[0]), at(high[0]));
                        if n[0] * out[0] + n[1] * out[1] + n[2] * out[2] < 0.0 {
                            face.swap(1, 2);
                        }
                        let middle = [0, 1, 2].map(|k| (a[k] + b[k] + c[k]) / 3.0);
                        if !is_gap(middle) {
                            raw.faces.push(*face);
                        }
                    }
                }
            }
            repair(raw).unwrap().0
        }
    }

    fn seen(mesh: &CleanMesh) -> Holes {
        holes(mesh, &Axes::along([0.0; 3], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]), RADIUS)
    }

    /// In the hole with that number, at any height.
    fn near(k: usize, p: V3) -> bool {
        let (sin, cos) = (0.2 + TAU * k as f64 / 8.0).sin_cos();
        (p[0] - 40.0 * cos).hypot(p[1] - 40.0 * sin) < 9.0
    }

    #[track_caller]
    fn is_right(found: &Holes, counts: [usize; 3]) {
        let c = found.circle.as_ref().unwrap();
        assert_eq!([c.count, c.seen, c.closed], counts);
        let [hole, circle] = [c.hole.value - 6.0, c.circle.value - 40.0];
        assert!(hole.abs() < (2.5 * c.hole.u).min(0.3), "{c:?}");
        assert!(circle.abs() < (2.5 * c.circle.u).min(0.15), "{c:?}");
        // The axes of the test turn the scan's by a quarter.
        let step = TAU / 8.0;
        let off = (c.first.value - 0.2 - 0.5 * step).rem_euclid(step) - 0.5 * step;
        assert!(off.abs() < (3.0 * c.first.u).min(0.005), "{off} {c:?}");
    }

    #[test]
    fn a_circle_of_bolts_is_found_with_noise_few_triangles_and_blind_holes() {
        is_right(&seen(&Drilled::without(&[]).scanned(|_| false)), [8, 8, 0]);
        let noisy = Drilled { noise: 0.15, ..Drilled::without(&[]) };
        is_right(&seen(&noisy.scanned(|_| false)), [8, 8, 0]);
        let coarse = Drilled { step: 2.5, depth: HALF, ..Drilled::without(&[]) };
        is_right(&seen(&coarse.scanned(|p| p[2] < 5.0)), [8, 8, 0]);
    }

    #[test]
    fn what_lies_at_every_place_of_a_circle_is_told() {
        let damaged = Drilled { noise: 0.1, ..Drilled::without(&[1, 4]) };
        is_right(&seen(&damaged.scanned(|p| near(6, p))), [8, 5, 2]);
        // Every second hole lost: there may be four or eight.
        let half = seen(&Drilled::without(&[]).scanned(|p| [1, 3, 5, 7].iter().any(|&k| near(k, p))));
        assert!(half.circle.is_none() && half.others == 4, "{half:?}");
        // Three holes of one size on no even circle, and a fourth of another size beside a true circle.
        let uneven = seen(&Drilled::without(&[1, 2, 4, 6, 7]).scanned(|_| false));
        assert!(uneven.circle.is_none() && uneven.others == 3, "{uneven:?}");
    }

    #[test]
    fn gaps_studs_and_shallow_rings_are_no_bolt_holes() {
        let all: Vec<usize> = (0..8).collect();
        let gaps = seen(&Drilled::without(&all).scanned(|p| (0..8).any(|k| near(k, p))));
        assert!(gaps.circle.is_none() && gaps.others == 0, "{gaps:?}");
        let shallow = seen(&Drilled { depth: 1.5, ..Drilled::without(&[]) }.scanned(|_| false));
        assert!(shallow.circle.is_none() && shallow.others == 0, "{shallow:?}");
        // The walls without the face around them.
        let walls = seen(&Drilled::without(&[]).scanned(|p| {
            HALF - 1.0 < p[2].abs() && (0..8).any(|k| near(k, p) || near(k, [0.9 * p[0], 0.9 * p[1], 0.0]))
        }));
        assert!(walls.circle.is_none() && walls.others == 0, "{walls:?}");
    }
}
