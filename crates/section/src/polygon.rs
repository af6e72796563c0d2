//! Figures of a closed polygon: area, centroid, hull, longest chord, and the line fitted to the face.

use std::ops::Range;

pub(crate) use bladeform_numeric::vector::{add, cross_in_plane as cross, dot, left, norm, scale, sub};

/// Signed area of a closed polygon, in its unit squared, positive if anticlockwise. `points`: n x 2.
///
/// Computed relative to the first point, so that an outline far from the origin loses no digits.
#[must_use]
pub fn area(points: &[[f64; 2]]) -> f64 {
    let Some(&origin) = points.first() else { return 0.0 };
    sides(points).map(|(a, b)| cross(sub(a, origin), sub(b, origin))).sum::<f64>() / 2.0
}

/// Length of the closed contour. `points`: n x 2.
#[must_use]
pub fn perimeter(points: &[[f64; 2]]) -> f64 {
    sides(points).map(|(a, b)| norm(sub(b, a))).sum()
}

/// Centroid of the area of a closed polygon, or the mean of its points if it has no area. `points`: n x 2, n > 0.
#[must_use]
pub fn centroid(points: &[[f64; 2]]) -> [f64; 2] {
    let Some(&origin) = points.first() else { return [0.0, 0.0] };
    let (mut twice_area, mut moment) = (0.0, [0.0, 0.0]);
    for (a, b) in sides(points) {
        let (a, b) = (sub(a, origin), sub(b, origin));
        let piece = cross(a, b);
        twice_area += piece;
        moment = [moment[0] + piece * (a[0] + b[0]), moment[1] + piece * (a[1] + b[1])];
    }
    if twice_area == 0.0 {
        let n = points.len() as f64;
        return [points.iter().map(|p| p[0]).sum::<f64>() / n, points.iter().map(|p| p[1]).sum::<f64>() / n];
    }
    [origin[0] + moment[0] / (3.0 * twice_area), origin[1] + moment[1] / (3.0 * twice_area)]
}

/// Convex hull, anticlockwise, without collinear points (Andrew's monotone chain, 1979). `points`: n x 2.
#[must_use]
pub fn convex_hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let mut hull: Vec<[f64; 2]> = Vec::new();
    half_hull(&mut hull, sorted.iter().copied());
    half_hull(&mut hull, sorted.iter().rev().copied());
    hull
}

/// Appends one half of the hull. Its last point begins the other half and is omitted.
fn half_hull(hull: &mut Vec<[f64; 2]>, points: impl Iterator<Item = [f64; 2]>) {
    let start = hull.len();
    for p in points {
        while hull.len() >= start + 2
            && cross(sub(hull[hull.len() - 1], hull[hull.len() - 2]), sub(p, hull[hull.len() - 1])) <= 0.0
        {
            hull.pop();
        }
        hull.push(p);
    }
    hull.pop();
}

/// The two points of greatest distance, as measured with calipers. `None` for fewer than two distinct points.
///
/// All pairs of the convex hull are compared. Hulls of sections have at most some hundred corners.
#[must_use]
pub fn longest_chord(points: &[[f64; 2]]) -> Option<([f64; 2], [f64; 2])> {
    let hull = convex_hull(points);
    let mut best: Option<(f64, [f64; 2], [f64; 2])> = None;
    for (i, &a) in hull.iter().enumerate() {
        for &b in &hull[i + 1..] {
            let d = dot(sub(b, a), sub(b, a));
            if best.is_none_or(|(longest, ..)| longest < d) {
                best = Some((d, a, b));
            }
        }
    }
    best.map(|(_, a, b)| (a, b))
}

/// Angle, rad, between the chord line and the straight line fitted to the face between 30 % and 90 % of the chord. `None`
/// if fewer than three points lie there. `face`: n x 2 in a frame with the chord line along `x` and the leading edge at 0; `chord` in the same unit.
/// The angle is positive if the nose end of the face is higher than its tail end, so that face angle = blade angle + this angle.
#[must_use]
pub fn face_line_angle(face: &[[f64; 2]], chord: f64) -> Option<f64> {
    let inside: Vec<_> = face.iter().filter(|p| (0.3 * chord..=0.9 * chord).contains(&p[0])).collect();
    if inside.len() < 3 {
        return None;
    }
    let n = inside.len() as f64;
    let (mx, my) =
        (inside.iter().map(|p| p[0]).sum::<f64>() / n, inside.iter().map(|p| p[1]).sum::<f64>() / n);
    let sxx: f64 = inside.iter().map(|p| (p[0] - mx).powi(2)).sum();
    let sxy: f64 = inside.iter().map(|p| (p[0] - mx) * (p[1] - my)).sum();
    Some((-sxy / sxx).atan())
}

fn sides(points: &[[f64; 2]]) -> impl Iterator<Item = ([f64; 2], [f64; 2])> + '_ {
    points.iter().copied().zip(points.iter().copied().cycle().skip(1)).take(points.len())
}

/// Signed distance of a point from a closed polygon, positive outside, in its unit.
#[must_use]
pub fn signed_distance(polygon: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let mut found = (f64::INFINITY, false);
    look_at_sides(polygon, 0..polygon.len(), p, &mut found);
    signed(found)
}

/// [`signed_distance`] of many points that follow one another: faster, to the last bit. The polygon is about a unit wide.
#[must_use]
pub fn signed_distances(polygon: &[[f64; 2]], points: &[[f64; 2]]) -> Vec<f64> {
    let mut distances = Distances::from(polygon);
    points.iter().map(|p| distances.signed(*p)).collect()
}

fn signed((least, inside): (f64, bool)) -> f64 {
    if inside { -least.sqrt() } else { least.sqrt() }
}

/// Checks some sides of a polygon for the least squared distance, and whether a ray towards +x crosses an odd number of them.
fn look_at_sides(polygon: &[[f64; 2]], range: Range<usize>, p: [f64; 2], (least, inside): &mut (f64, bool)) {
    for k in range {
        let a = polygon[k];
        let b = polygon[if k + 1 == polygon.len() { 0 } else { k + 1 }];
        let (side, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let square = side[0] * side[0] + side[1] * side[1];
        let t =
            if square > 0.0 { ((to[0] * side[0] + to[1] * side[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
        *least = least.min((to[0] - t * side[0]).powi(2) + (to[1] - t * side[1]).powi(2));
        // A ray towards +x is crossed by sides that span the point's height.
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / side[1] * side[0] {
            *inside = !*inside;
        }
    }
}

/// Number of neighbouring sides that are skipped together.
const SIDES_TOGETHER: usize = 8;
/// A box is skipped if its squared distance exceeds that of the nearest side by this factor: far above rounding.
const CLEARLY_FARTHER: f64 = 1.0 + 1e-9;

/// A closed polygon for many signed distances of neighbouring points.
pub(crate) struct Distances<'a> {
    polygon: &'a [[f64; 2]],
    /// Lowest and highest corner of each group of sides.
    boxes: Vec<[[f64; 2]; 2]>,
    /// The group of sides that was nearest to the last point.
    last: usize,
}

impl<'a> Distances<'a> {
    pub(crate) fn from(polygon: &'a [[f64; 2]]) -> Self {
        let corners = |few: usize| {
            let begin = few * SIDES_TOGETHER;
            (begin..=(begin + SIDES_TOGETHER).min(polygon.len())).map(|k| polygon[k % polygon.len()])
        };
        let bounds = |few: usize| {
            let none = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
            corners(few).fold(none, |[low, high], p| {
                [[low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])]]
            })
        };
        Self { polygon, boxes: (0..polygon.len().div_ceil(SIDES_TOGETHER)).map(bounds).collect(), last: 0 }
    }

    /// As [`signed_distance`], to the last bit.
    pub(crate) fn signed(&mut self, p: [f64; 2]) -> f64 {
        let begin = |few: usize| (few * SIDES_TOGETHER).min(self.polygon.len());
        let range = |few: usize| begin(few)..begin(few + 1);
        let mut found = (f64::INFINITY, false);
        look_at_sides(self.polygon, range(self.last), p, &mut found);
        let first = self.last;
        for (few, [low, high]) in self.boxes.iter().enumerate().filter(|(few, _)| *few != first) {
            let off = [0, 1].map(|k| (low[k] - p[k]).max(p[k] - high[k]).max(0.0));
            let far = found.0 * CLEARLY_FARTHER < off[0] * off[0] + off[1] * off[1];
            let beside = p[1] < low[1] || high[1] < p[1] || high[0] < p[0] - CLEARLY_BEHIND;
            if !(far && beside) {
                let before = found.0;
                look_at_sides(self.polygon, range(few), p, &mut found);
                if found.0 < before {
                    self.last = few;
                }
            }
        }
        signed(found)
    }
}

impl Distances<'_> {
    /// The signed distance, and how it grows with the point: the unit vector away from the nearest place.
    pub(crate) fn signed_with_direction(&mut self, p: [f64; 2]) -> (f64, [f64; 2]) {
        let distance = self.signed(p);
        let begin = (self.last * SIDES_TOGETHER).min(self.polygon.len());
        let sides = begin..(begin + SIDES_TOGETHER).min(self.polygon.len());
        let gap_of = |k: usize| {
            let (a, b) = (self.polygon[k], self.polygon[(k + 1) % self.polygon.len()]);
            let side = sub(b, a);
            let square = dot(side, side);
            let t = if square > 0.0 { (dot(sub(p, a), side) / square).clamp(0.0, 1.0) } else { 0.0 };
            (sub(sub(p, a), scale(side, t)), side)
        };
        let nearest = sides.map(gap_of).min_by(|a, b| dot(a.0, a.0).total_cmp(&dot(b.0, b.0)));
        let Some((gap, side)) = nearest else { return (distance, [0.0; 2]) };
        let direction = if ON_THE_SIDE < distance.abs() {
            scale(gap, 1.0 / distance)
        } else {
            // The outline runs anticlockwise: outwards is to the right.
            scale(left(side), -1.0 / norm(side).max(f64::MIN_POSITIVE))
        };
        (distance, direction)
    }
}

/// A point this near to a side, in units of the polygon, has the direction of that side: rounding would decide.
const ON_THE_SIDE: f64 = 1e-9;

/// Tolerance, in units of the polygon (about one unit wide), within which a side behind the point is still checked for a crossing: far above rounding.
const CLEARLY_BEHIND: f64 = 1e-9;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_from_boxes_are_those_from_all_sides() {
        let outline = crate::Family::ClarkY { thickness: 0.117 }.outline(120);
        let mut distances = Distances::from(&outline);
        for i in 0..40_000 {
            let p = [f64::from(i % 200) / 160.0 - 0.1, f64::from(i / 200) / 500.0 - 0.2];
            assert_eq!(distances.signed(p).to_bits(), signed_distance(&outline, p).to_bits(), "{p:?}");
        }
        for p in outline.iter().copied() {
            assert_eq!(distances.signed(p).to_bits(), signed_distance(&outline, p).to_bits(), "{p:?}");
        }
    }

    #[test]
    fn directions_are_those_in_which_distances_grow() {
        let outline = crate::Family::ClarkY { thickness: 0.117 }.outline(120);
        let mut distances = Distances::from(&outline);
        for p in [[0.3, 0.2], [0.3, 0.01], [-0.05, 0.03], [1.1, 0.0], [0.7, -0.1]] {
            let (_, direction) = distances.signed_with_direction(p);
            for axis in 0..2 {
                let at = |step: f64| {
                    let mut q = p;
                    q[axis] += step;
                    signed_distance(&outline, q)
                };
                assert!(((at(1e-6) - at(-1e-6)) / 2e-6 - direction[axis]).abs() < 1e-6, "{p:?}");
            }
        }
    }

    #[test]
    fn a_square_far_away_keeps_its_area_and_centroid() {
        let far = 1e6;
        let square = [[far, far], [far + 1.0, far], [far + 1.0, far + 1.0], [far, far + 1.0]];
        assert!((area(&square) - 1.0).abs() < 1e-12);
        assert!((centroid(&square)[0] - far - 0.5).abs() < 1e-9);
        assert!((perimeter(&square) - 4.0).abs() < 1e-12);
    }

    #[test]
    fn calipers_read_the_diagonal_of_a_rectangle() {
        let (a, b) = longest_chord(&[[0.0, 0.0], [3.0, 0.0], [3.0, 4.0], [0.0, 4.0], [1.0, 1.0]]).unwrap();
        assert!((norm(sub(a, b)) - 5.0).abs() < 1e-12);
    }

    #[test]
    fn hull_has_no_inner_or_collinear_points() {
        let hull = convex_hull(&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0], [1.0, 1.0]]);
        assert_eq!(hull.len(), 4);
        assert!(area(&hull) > 3.999);
    }

    #[test]
    fn a_face_that_falls_towards_the_tail_adds_to_the_angle() {
        let face: Vec<_> = (0..=100).map(|i| [f64::from(i) / 100.0, -0.1 * f64::from(i) / 100.0]).collect();
        assert!((face_line_angle(&face, 1.0).unwrap() - 0.1f64.atan()).abs() < 1e-12);
    }

    #[test]
    fn the_distance_from_a_square_is_signed() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert!((signed_distance(&square, [0.5, 0.2]) + 0.2).abs() < 1e-12);
        assert!((signed_distance(&square, [2.0, 2.0]) - 2_f64.sqrt()).abs() < 1e-12);
    }
}
