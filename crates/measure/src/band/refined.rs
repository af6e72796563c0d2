//! Vertices that only repeat others: corners that a program added when it split flat triangles. They lie on a flat part of the surface, or in the middle of a straight edge between two, and are no measurement.

use bladeform_mesh::CleanMesh;

use crate::vector::{V3, cross, dot, norm, sub};

/// Two directions that differ by less, rad, are one if the rounding of single-precision coordinates allows it: the greatest such limit.
const MOST_ANGLE: f64 = 1e-3;
/// The least limit, for coordinates in double precision.
const LEAST_ANGLE: f64 = 1e-9;
/// Rounding of a single-precision number, relative, times the number of roundings that an angle between two small triangles collects.
const ROUNDING: f64 = 6.0 * 6e-8;
/// From this share of repeated vertices on a surface was refined: a split of every triangle into three leaves two of three, a flat-faced blade without noise one half at most.
const LEAST_SHARE: f64 = 0.6;
/// One vertex in so many is looked at first, so that a scan costs one quick pass.
const ONE_IN: u32 = 256;
/// The angle around a vertex is known to this, rad: enough to tell a straight crossing from a corner.
const STRAIGHT: f64 = 0.02;

/// What the triangles around a vertex are like: at most two planes, with the angle that each takes.
#[derive(Clone, Copy, Default)]
struct Around {
    planes: [Option<(V3, f64)>; 2],
    /// Whether there is a third plane.
    is_corner: bool,
}

impl Around {
    fn add(&mut self, normal: V3, angle: f64, limit: f64) {
        for plane in &mut self.planes {
            match plane {
                Some((n, sum)) if norm(cross(*n, normal)) < limit && 0.0 < dot(*n, normal) => {
                    *sum += angle;
                    return;
                }
                Some(_) => {}
                None => {
                    *plane = Some((normal, angle));
                    return;
                }
            }
        }
        self.is_corner = true;
    }

    /// Whether the surface would be the same without the vertex.
    fn is_repeated(&self) -> bool {
        use std::f64::consts::{PI, TAU};
        let is = |angle: f64, whole: f64| (angle - whole).abs() < STRAIGHT;
        match self.planes {
            [Some((_, all)), None] => is(all, TAU) || is(all, PI),
            [Some((_, a)), Some((_, b))] => !self.is_corner && is(a, PI) && is(b, PI),
            _ => false,
        }
    }
}

/// The vertices that repeat others, in a mesh that consists mostly of such; `None` in all others.
pub(crate) fn repeated(mesh: &CleanMesh) -> Option<Vec<bool>> {
    let is_sampled = |i: u32| i.is_multiple_of(ONE_IN);
    let sample = around(mesh, mesh.vertices().len().div_ceil(ONE_IN as usize), |i| {
        is_sampled(i).then_some((i / ONE_IN) as usize)
    });
    let share =
        |all: &[Around]| all.iter().filter(|a| a.is_repeated()).count() as f64 / all.len().max(1) as f64;
    if share(&sample) < LEAST_SHARE {
        return None;
    }
    let all = around(mesh, mesh.vertices().len(), |i| Some(i as usize));
    (LEAST_SHARE <= share(&all)).then(|| all.iter().map(Around::is_repeated).collect())
}

/// What is around the vertices that `place` gives a place.
fn around(mesh: &CleanMesh, count: usize, place: impl Fn(u32) -> Option<usize>) -> Vec<Around> {
    let mut all = vec![Around::default(); count];
    let bounds = mesh.bounds();
    let far = bounds.iter().flatten().fold(0.0_f64, |far, x| far.max(x.abs()));
    for f in mesh.faces() {
        let places = f.map(&place);
        if places.iter().all(Option::is_none) {
            continue;
        }
        let p = f.map(|i| mesh.vertices()[i as usize]);
        let normal = cross(sub(p[1], p[0]), sub(p[2], p[0]));
        let double_area = norm(normal);
        let normal = normal.map(|x| x / double_area);
        let sides = [0, 1, 2].map(|k| sub(p[(k + 1) % 3], p[k]));
        let longest = sides.iter().map(|s| norm(*s)).fold(0.0, f64::max);
        // A triangle is as steep as the rounding of its corners over its height.
        let limit = (ROUNDING * far * longest / double_area).clamp(LEAST_ANGLE, MOST_ANGLE);
        for (k, place) in places.into_iter().enumerate() {
            let Some(place) = place else { continue };
            let (out, back) = (sides[k], sides[(k + 2) % 3].map(|x| -x));
            let angle = norm(cross(out, back)).atan2(dot(out, back));
            all[place].add(normal, angle, limit);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use bladeform_mesh::{RawMesh, repair};

    use super::*;

    /// A bowl of `n` x `n` squares, each of two triangles.
    fn bowl(n: u32, split: bool) -> CleanMesh {
        let at = |i: u32, j: u32| {
            let [x, y] = [i, j].map(|k| f64::from(k) / f64::from(n) - 0.5);
            [x, y, x * x + 0.7 * y * y + 0.3 * x * y]
        };
        let mut mesh = RawMesh::default();
        for i in 0..n {
            for j in 0..n {
                let corners = [at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)];
                for [a, b, c] in [[0, 1, 2], [0, 2, 3]] {
                    let [p, q, r] = [corners[a], corners[b], corners[c]];
                    let mut add = |t: [[f64; 3]; 3]| {
                        let first = mesh.vertices.len() as u32;
                        mesh.vertices.extend(t);
                        mesh.faces.push([first, first + 1, first + 2]);
                    };
                    let middle = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| 0.5 * (a[k] + b[k]));
                    let (pq, qr, rp) = (middle(p, q), middle(q, r), middle(r, p));
                    if split {
                        [[p, pq, rp], [pq, q, qr], [rp, qr, r], [pq, qr, rp]].into_iter().for_each(&mut add);
                    } else {
                        add([p, q, r]);
                    }
                }
            }
        }
        repair(mesh).unwrap().0
    }

    #[test]
    fn only_the_corners_that_a_split_added_repeat_others() {
        assert_eq!(repeated(&bowl(60, false)), None);
        let mesh = bowl(60, true);
        let found = repeated(&mesh).unwrap();
        let kept = found.iter().filter(|r| !**r).count();
        // 61 x 61 corners.
        assert_eq!(kept, 61 * 61);
    }
}
