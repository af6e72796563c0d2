//! Convex hulls of points projected along a direction.

use nalgebra::Vector3;

/// Number of directions in which the extent of a hull is measured. The polygon is then accurate to half a percent of its size.
const HULL_DIRECTIONS: usize = 32;

/// Convex hull of points projected along a direction: their extent in each of [`HULL_DIRECTIONS`].
pub(crate) struct ProjectedHull {
    normal: Vector3<f64>,
    reach: Vec<(Vector3<f64>, f64)>,
    /// Centre and squared radius of an inner circle, a quick test for the many points well inside.
    within: (Vector3<f64>, f64),
}

impl ProjectedHull {
    pub(crate) fn seen_along(normal: Vector3<f64>) -> Self {
        let mut least = Vector3::zeros();
        least[normal.iamin()] = 1.0;
        let right = least.cross(&normal).normalize();
        let up = normal.cross(&right);
        let direction = |k: usize| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / HULL_DIRECTIONS as f64).sin_cos();
            (right * cos + up * sin, f64::NEG_INFINITY)
        };
        let reach = (0..HULL_DIRECTIONS).map(direction).collect();
        Self { normal, reach, within: (Vector3::zeros(), 0.0) }
    }

    pub(crate) fn include(&mut self, p: &Vector3<f64>) {
        self.reach.iter_mut().for_each(|(direction, reach)| *reach = reach.max(direction.dot(p)));
    }

    /// Merges another hull along the same direction into this one.
    pub(crate) fn take_in(&mut self, other: &Self) {
        self.reach
            .iter_mut()
            .zip(&other.reach)
            .for_each(|((_, reach), (_, other))| *reach = reach.max(*other));
    }

    /// To be called after all points are added.
    pub(crate) fn find_circle(&mut self) {
        // Extents in opposite directions differ by twice the centre position. The sum over all directions gives the mean position.
        let sum: Vector3<f64> = self.reach.iter().map(|(direction, reach)| direction * *reach).sum();
        let centre = sum * (2.0 / HULL_DIRECTIONS as f64);
        let room = self.reach.iter().map(|(direction, reach)| reach - direction.dot(&centre));
        let radius = room.fold(f64::INFINITY, f64::min).max(0.0);
        self.within = (centre, radius * radius);
    }

    pub(crate) fn holds(&self, p: &Vector3<f64>) -> bool {
        let from_centre = p - self.within.0;
        let off = from_centre - self.normal * self.normal.dot(&from_centre);
        off.norm_squared() < self.within.1
            || self.reach.iter().all(|(direction, reach)| direction.dot(p) <= *reach)
    }
}

pub(crate) fn area([a, b, c]: &[Vector3<f64>; 3]) -> f64 {
    0.5 * (b - a).cross(&(c - a)).norm()
}

/// Area of a triangle outside a hull, sampled at steps no longer than `step` (or a 32nd of its sides).
pub(crate) fn outside_area(corners: [Vector3<f64>; 3], hull: &ProjectedHull, step: f64) -> f64 {
    let [a, b, c] = corners;
    let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
    let steps = (longest / step).ceil().clamp(1.0, 32.0);
    let count = steps as usize;
    let mut outside = 0;
    for i in 0..count {
        // Centroids of the small triangles of one row: first those with the same orientation as the whole triangle, then the others between them.
        for j in 0..2 * (count - i) - 1 {
            let shift = if j % 2 == 0 { 1.0 / 3.0 } else { 2.0 / 3.0 };
            let (u, v) = ((i as f64 + shift) / steps, ((j / 2) as f64 + shift) / steps);
            outside += usize::from(!hull.holds(&(a + (b - a) * u + (c - a) * v)));
        }
    }
    area(&corners) * outside as f64 / (steps * steps)
}
