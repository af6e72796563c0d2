//! A tree of bounding boxes over triangles: finds overlapping boxes, and the triangle nearest to a point.

use bladeform_numeric::vector::{dot, sub};

/// Triangles per leaf. With fewer a box costs more than it saves.
const LEAF: usize = 4;

type Bounds = [[f64; 3]; 2];

/// A balanced tree of axis-aligned boxes.
#[derive(Debug, Clone)]
pub(crate) struct Tree {
    nodes: Vec<Node>,
    order: Vec<u32>,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    bounds: Bounds,
    begin: u32,
    end: u32,
    /// Index of the first child; the second is at `second`; 0 for a leaf.
    second: u32,
}

fn join(a: Bounds, b: Bounds) -> Bounds {
    let pick = |f: fn(f64, f64) -> f64, k: usize| std::array::from_fn(|i| f(a[k][i], b[k][i]));
    [pick(f64::min, 0), pick(f64::max, 1)]
}

fn overlap(a: &Bounds, b: &Bounds) -> bool {
    (0..3).all(|i| a[0][i] <= b[1][i] && b[0][i] <= a[1][i])
}

pub(crate) fn bounds_of(corners: &[[f64; 3]; 3]) -> Bounds {
    corners.iter().fold([[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]], |b, p| join(b, [*p, *p]))
}

impl Tree {
    /// A tree over `count` triangles.
    pub(crate) fn new(count: usize, corners: impl Fn(u32) -> [[f64; 3]; 3]) -> Self {
        let boxes: Vec<Bounds> = (0..count as u32).map(|i| bounds_of(&corners(i))).collect();
        let mut tree = Self { nodes: Vec::new(), order: (0..count as u32).collect() };
        tree.build(0, count, &boxes);
        tree
    }

    fn build(&mut self, begin: usize, end: usize, boxes: &[Bounds]) {
        let empty = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];
        let bounds = self.order[begin..end].iter().fold(empty, |b, &i| join(b, boxes[i as usize]));
        let at = self.nodes.len();
        self.nodes.push(Node { bounds, begin: begin as u32, end: end as u32, second: 0 });
        if end - begin <= LEAF {
            return;
        }
        let size = |k: usize| bounds[1][k] - bounds[0][k];
        let axis = (0..3).max_by(|&a, &b| size(a).total_cmp(&size(b))).unwrap_or(0);
        let middle = begin + (end - begin) / 2;
        let key = |i: u32| boxes[i as usize][0][axis] + boxes[i as usize][1][axis];
        self.order[begin..end].select_nth_unstable_by((end - begin) / 2, |&a, &b| key(a).total_cmp(&key(b)));
        self.build(begin, middle, boxes);
        self.nodes[at].second = self.nodes.len() as u32;
        self.build(middle, end, boxes);
    }

    /// Calls `visit` with every triangle whose box meets the given box, until `visit` stops the search.
    pub(crate) fn meeting(&self, bounds: &Bounds, mut visit: impl FnMut(u32) -> bool) {
        let mut stack = vec![0_u32];
        while let Some(at) = stack.pop() {
            let node = self.nodes[at as usize];
            if !overlap(&node.bounds, bounds) {
                continue;
            }
            if node.second == 0 {
                for &i in &self.order[node.begin as usize..node.end as usize] {
                    if !visit(i) {
                        return;
                    }
                }
            } else {
                stack.extend([at + 1, node.second]);
            }
        }
    }

    /// The nearest triangle to a point and the square of its distance.
    pub(crate) fn nearest(&self, p: [f64; 3], corners: impl Fn(u32) -> [[f64; 3]; 3]) -> (u32, f64) {
        let mut best = (0, f64::INFINITY);
        let mut stack = vec![(0_u32, self.box_distance(0, p))];
        while let Some((at, distance)) = stack.pop() {
            if best.1 <= distance {
                continue;
            }
            let node = self.nodes[at as usize];
            if node.second == 0 {
                for &i in &self.order[node.begin as usize..node.end as usize] {
                    let d = square_distance(p, &corners(i));
                    if d < best.1 {
                        best = (i, d);
                    }
                }
                continue;
            }
            let (a, b) = (at + 1, node.second);
            let (da, db) = (self.box_distance(a, p), self.box_distance(b, p));
            // The nearer child is searched first.
            stack.extend(if da < db { [(b, db), (a, da)] } else { [(a, da), (b, db)] });
        }
        best
    }

    fn box_distance(&self, node: u32, p: [f64; 3]) -> f64 {
        let [low, high] = self.nodes[node as usize].bounds;
        (0..3).map(|k| (low[k] - p[k]).max(p[k] - high[k]).max(0.0).powi(2)).sum()
    }
}

/// Square of the distance of a point from a triangle (C. Ericson, "Real-time collision detection", 2005, section 5.1.5).
pub(crate) fn square_distance(p: [f64; 3], [a, b, c]: &[[f64; 3]; 3]) -> f64 {
    let (ab, ac, ap) = (sub(*b, *a), sub(*c, *a), sub(p, *a));
    let (d1, d2) = (dot(ab, ap), dot(ac, ap));
    let away = |s: f64, t: f64| {
        let q: [f64; 3] = std::array::from_fn(|k| a[k] + s * ab[k] + t * ac[k]);
        let d = sub(p, q);
        dot(d, d)
    };
    if d1 <= 0.0 && d2 <= 0.0 {
        return away(0.0, 0.0);
    }
    let bp = sub(p, *b);
    let (d3, d4) = (dot(ab, bp), dot(ac, bp));
    if 0.0 <= d3 && d4 <= d3 {
        return away(1.0, 0.0);
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && 0.0 <= d1 && d3 <= 0.0 {
        return away(d1 / (d1 - d3), 0.0);
    }
    let cp = sub(p, *c);
    let (d5, d6) = (dot(ab, cp), dot(ac, cp));
    if 0.0 <= d6 && d5 <= d6 {
        return away(0.0, 1.0);
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && 0.0 <= d2 && d6 <= 0.0 {
        return away(0.0, d2 / (d2 - d6));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && 0.0 <= d4 - d3 && 0.0 <= d5 - d6 {
        let w = (d4 - d3) / ((d4 - d3) + (d5 - d6));
        return away(1.0 - w, w);
    }
    let scale = 1.0 / (va + vb + vc);
    away(vb * scale, vc * scale)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_of_a_grid_is_that_of_a_full_search() {
        let corners = |i: u32| {
            let (x, y) = (f64::from(i % 30), f64::from(i / 30));
            [[x, y, (0.3 * x).sin()], [x + 1.0, y, 0.2], [x, y + 1.0, (0.2 * y).cos()]]
        };
        let tree = Tree::new(900, corners);
        for k in 0..50 {
            let t = f64::from(k);
            let p = [15.0 + 17.0 * (1.3 * t).sin(), 15.0 + 17.0 * (0.7 * t).cos(), (0.1 * t).sin() * 3.0];
            let all = (0..900).map(|i| square_distance(p, &corners(i))).fold(f64::INFINITY, f64::min);
            assert!((tree.nearest(p, corners).1 - all).abs() < 1e-12);
        }
    }
}
