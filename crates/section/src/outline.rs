//! Figures of a closed polygon: area, centroid, hull, longest chord, the straight line of the face.

/// Signed area of a closed polygon, square of its unit; positive anticlockwise. `points`: n x 2.
///
/// Shifted by the first point, so that an outline far from the origin loses no digits.
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

/// Centroid of the area inside a closed polygon; the mean of its points where it has no area. `points`: n x 2, n > 0.
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

/// Appends one half of the hull; its last point begins the other half and is left off.
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

/// The two points of greatest distance: what calipers read. `None` for fewer than two distinct points.
///
/// All pairs of the convex hull are compared; hulls of sections have at most some hundred corners.
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

/// Angle, rad, between the chord line and the straight line fitted to the face between 30 % and 90 % of the chord, and `None`
/// when fewer than three points lie there. `face`: n x 2 in a frame with the chord line along `x`, leading edge at 0; `chord` in the same unit.
/// Positive when the face's nose end stands higher than its tail end, so that face angle = blade angle + this.
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

pub(crate) fn sub(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] - b[0], a[1] - b[1]]
}
pub(crate) fn add(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] + b[0], a[1] + b[1]]
}
pub(crate) fn scale(a: [f64; 2], k: f64) -> [f64; 2] {
    [a[0] * k, a[1] * k]
}
pub(crate) fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
pub(crate) fn cross(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[1] - a[1] * b[0]
}
pub(crate) fn norm(a: [f64; 2]) -> f64 {
    // Chords and millimetres neither overflow nor vanish when squared; `hypot` guards against both at ten times the cost.
    dot(a, a).sqrt()
}
/// A quarter turn anticlockwise.
pub(crate) fn left(a: [f64; 2]) -> [f64; 2] {
    [-a[1], a[0]]
}

/// Signed distance of a point from a closed polygon, positive outside, in its unit.
#[must_use]
pub fn signed_distance(polygon: &[[f64; 2]], p: [f64; 2]) -> f64 {
    let (mut least, mut inside) = (f64::INFINITY, false);
    for (k, a) in polygon.iter().enumerate() {
        let b = polygon[(k + 1) % polygon.len()];
        let (side, to) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
        let square = side[0] * side[0] + side[1] * side[1];
        let t =
            if square > 0.0 { ((to[0] * side[0] + to[1] * side[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
        least = least.min((to[0] - t * side[0]).powi(2) + (to[1] - t * side[1]).powi(2));
        // A ray towards +x is crossed by sides that span the point's height.
        if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / side[1] * side[0] {
            inside = !inside;
        }
    }
    if inside { -least.sqrt() } else { least.sqrt() }
}

#[cfg(test)]
mod tests {
    use super::*;

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
