//! Triangles between closed plane loops, fine along the loops and coarse away from them.

use spade::{ConstrainedDelaunayTriangulation, HasPosition, Point2, Triangulation};

use crate::joint_fault::FillFault;

/// Growth of the triangle size per unit of distance from a loop. Neighbours then differ in size by about a third.
const GROWTH: f64 = 0.35;
/// Minimum distance of points from a loop as a fraction of the triangle size, so that no triangle next to a loop is flat.
const CLEARANCE: f64 = 0.6;

struct Corner {
    at: Point2<f64>,
    index: usize,
}

impl HasPosition for Corner {
    type Scalar = f64;
    fn position(&self) -> Point2<f64> {
        self.at
    }
}

/// Points added between loops, and the anticlockwise triangles. Their indices count the loop points in order, then the added points.
pub(crate) struct Filled {
    pub(crate) inside: Vec<[f64; 2]>,
    pub(crate) faces: Vec<[u32; 3]>,
}

/// Fills the region inside an odd number of loops. `size`: edge of a triangle far from the loops.
///
/// The error says why the region cannot be filled.
pub(crate) fn fill(loops: &[Vec<[f64; 2]>], size: f64) -> Result<Filled, FillFault> {
    let field = SizeField::new(loops, size);
    let inside = field.points(loops);
    let mut cdt = ConstrainedDelaunayTriangulation::<Corner>::new();
    let all: Vec<[f64; 2]> = loops.iter().flatten().chain(&inside).copied().collect();
    let mut handles = Vec::with_capacity(all.len());
    for (index, p) in all.iter().enumerate() {
        let at = Point2::new(p[0], p[1]);
        handles.push(cdt.insert(Corner { at, index }).map_err(|_| FillFault::Coordinate)?);
    }
    if cdt.num_vertices() != all.len() {
        return Err(FillFault::SamePoint);
    }
    let mut begin = 0;
    for one in loops {
        for k in 0..one.len() {
            let (a, b) = (handles[begin + k], handles[begin + (k + 1) % one.len()]);
            if !cdt.can_add_constraint(a, b) {
                return Err(FillFault::Crossing);
            }
            cdt.add_constraint(a, b);
        }
        begin += one.len();
    }
    let faces = cdt
        .inner_faces()
        .map(|f| f.vertices().map(|v| v.data().index))
        .filter(|f| {
            let middle = [0, 1].map(|k| (all[f[0]][k] + all[f[1]][k] + all[f[2]][k]) / 3.0);
            is_inside(loops, middle)
        })
        .map(|f| f.map(|i| i as u32))
        .collect();
    Ok(Filled { inside, faces })
}

/// Whether a point is inside an odd number of loops.
pub(crate) fn is_inside(loops: &[Vec<[f64; 2]>], p: [f64; 2]) -> bool {
    let mut inside = false;
    for one in loops {
        for (a, b) in one.iter().zip(one.iter().cycle().skip(1)) {
            if (p[1] < a[1]) != (p[1] < b[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0]) {
                inside = !inside;
            }
        }
    }
    inside
}

/// The wanted triangle size: that of the nearest loop edges, increasing with the distance.
struct SizeField {
    sides: Vec<([f64; 2], [f64; 2], f64)>,
    largest: f64,
}

impl SizeField {
    fn new(loops: &[Vec<[f64; 2]>], largest: f64) -> Self {
        let sides = loops
            .iter()
            .flat_map(|one| one.iter().zip(one.iter().cycle().skip(1)))
            .map(|(a, b)| (*a, *b, (b[0] - a[0]).hypot(b[1] - a[1])))
            .collect();
        Self { sides, largest }
    }

    /// Size and distance from the loops.
    fn at(&self, p: [f64; 2]) -> (f64, f64) {
        let (mut size, mut nearest) = (self.largest, f64::INFINITY);
        for (a, b, length) in &self.sides {
            let d = segment_distance(p, *a, *b);
            nearest = nearest.min(d);
            size = size.min(length + GROWTH * d);
        }
        (size, nearest)
    }

    /// Centres of the cells of a quadtree. The cells are divided until they are as small as the wanted size.
    fn points(&self, loops: &[Vec<[f64; 2]>]) -> Vec<[f64; 2]> {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in loops.iter().flatten() {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let edge = self.largest;
        let counts = [0, 1].map(|k| ((high[k] - low[k]) / edge).ceil().max(1.0) as usize);
        let mut points = Vec::new();
        for j in 0..counts[1] {
            for i in 0..counts[0] {
                // Every second row is shifted by half a cell, so that triangles are closer to equilateral.
                let shift = if j % 2 == 0 { 0.25 } else { 0.75 };
                let middle = [low[0] + (i as f64 + shift) * edge, low[1] + (j as f64 + 0.5) * edge];
                self.divide(middle, edge, loops, &mut points);
            }
        }
        points
    }

    fn divide(&self, middle: [f64; 2], edge: f64, loops: &[Vec<[f64; 2]>], points: &mut Vec<[f64; 2]>) {
        let (size, distance) = self.at(middle);
        if size < 0.75 * edge && distance < 2.0 * edge {
            let quarter = 0.25 * edge;
            for (dx, dy) in
                [(-quarter, -quarter), (quarter, -quarter), (-quarter, quarter), (quarter, quarter)]
            {
                self.divide([middle[0] + dx, middle[1] + dy], 0.5 * edge, loops, points);
            }
        } else if CLEARANCE * size < distance && is_inside(loops, middle) {
            points.push(middle);
        }
    }
}

fn segment_distance(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (d, e) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
    let t = ((d[0] * e[0] + d[1] * e[1]) / (d[0] * d[0] + d[1] * d[1])).clamp(0.0, 1.0);
    (e[0] - t * d[0]).hypot(e[1] - t * d[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_square_with_a_round_hole_is_filled_to_its_area() {
        let square = vec![[-2.0, -2.0], [2.0, -2.0], [2.0, 2.0], [-2.0, 2.0]];
        let hole: Vec<_> = (0..40).map(|i| f64::from(i) * 0.157).map(|a| [a.cos(), -a.sin()]).collect();
        let hole_area = bladeform_section::area(&hole).abs();
        let loops = vec![square, hole];
        let filled = fill(&loops, 0.4).unwrap();
        let all: Vec<_> = loops.iter().flatten().chain(&filled.inside).copied().collect();
        let area: f64 = filled
            .faces
            .iter()
            .map(|f| bladeform_section::area(&f.map(|i| all[i as usize])))
            .inspect(|a| assert!(*a > 0.0))
            .sum();
        assert!((area - 16.0 + hole_area).abs() < 1e-9, "{area}");
    }

    #[test]
    fn a_loop_that_crosses_itself_is_refused() {
        assert!(fill(&[vec![[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]]], 0.5).is_err());
    }
}
