//! From a station's closed polygon to an open path: from the tail's corner on the back, round the nose, to its corner on the face.

use bladeform_section::area;

/// A corner of the polygon that turns by more than this, rad, near the tail is a corner of the tail; smooth outlines turn by less from point to point.
const TAIL_CORNER_RAD: f64 = 0.7;
/// Corners of the tail are sought within this fraction of the chord from the trailing edge.
const TAIL_REACH: f64 = 0.02;
/// Points closer than this fraction of the chord are one.
const SAME_POINT: f64 = 1e-7;
/// Least width of the tail as a fraction of the chord: a knife edge cannot be made, nor divided into triangles.
pub(crate) const LEAST_TAIL: f64 = 5e-4;

/// An outline opened at its tail, in the station's frame (m; chord line along `x`, leading edge at the origin).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OpenOutline {
    /// From the corner on the back round the nose to the corner on the face.
    pub(crate) points: Vec<[f64; 2]>,
    /// Index of the point nearest to the leading edge.
    pub(crate) nose: usize,
    /// By how much the tail was opened, m; 0 where it was wide enough.
    pub(crate) opened_m: f64,
}

/// Opens a closed polygon. `chord_m`: distance of the trailing edge from the origin along `x`.
///
/// The sentence says what is wrong with the polygon, going on from "its outline".
pub(crate) fn open(polygon: &[[f64; 2]], chord_m: f64) -> Result<OpenOutline, String> {
    let mut points = without_repeats(polygon, SAME_POINT * chord_m);
    if points.len() < 8 {
        return Err(format!("has only {} different points; at least 8 are needed", points.len()));
    }
    if let Some((i, j)) = crossing(&points) {
        let p = points[i];
        return Err(format!(
            "crosses itself near x = {:.1} mm, y = {:.1} mm (sides {i} and {j})",
            1e3 * p[0],
            1e3 * p[1]
        ));
    }
    if area(&points) < 0.0 {
        points.reverse();
    }
    let (face_corner, back_corner) = tail_corners(&points, chord_m);
    let n = points.len();
    let count = (face_corner + n - back_corner) % n + 1;
    let mut opened: Vec<_> = (0..count).map(|k| points[(back_corner + k) % n]).collect();
    if face_corner == back_corner {
        opened = (0..=n).map(|k| points[(back_corner + k) % n]).collect();
    }
    let nose = (0..opened.len())
        .min_by(|&a, &b| opened[a][0].hypot(opened[a][1]).total_cmp(&opened[b][0].hypot(opened[b][1])))
        .unwrap_or(0);
    if nose < 3 || opened.len() < nose + 4 {
        return Err(
            "has its leading edge at its tail; the chord line must lie along x with the leading edge at 0"
                .to_owned(),
        );
    }
    let opened_m = open_tail(&mut opened, nose, chord_m);
    Ok(OpenOutline { points: opened, nose, opened_m })
}

/// Moves back and face apart over the rear half of the chord until the tail has its least width.
fn open_tail(points: &mut [[f64; 2]], nose: usize, chord_m: f64) -> f64 {
    let last = points.len() - 1;
    let width = (points[0][0] - points[last][0]).hypot(points[0][1] - points[last][1]);
    let missing = LEAST_TAIL * chord_m - width;
    if missing <= 0.0 {
        return 0.0;
    }
    for (i, p) in points.iter_mut().enumerate() {
        let rear = (2.0 * p[0] / chord_m - 1.0).clamp(0.0, 1.0);
        p[1] += 0.5 * missing * rear * rear * if i < nose { 1.0 } else { -1.0 };
    }
    missing
}

fn without_repeats(polygon: &[[f64; 2]], closest: f64) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = Vec::with_capacity(polygon.len());
    for &p in polygon {
        if points.last().is_none_or(|q| closest < (p[0] - q[0]).hypot(p[1] - q[1])) {
            points.push(p);
        }
    }
    while 1 < points.len() {
        let (a, b) = (points[0], points[points.len() - 1]);
        if closest < (a[0] - b[0]).hypot(a[1] - b[1]) {
            break;
        }
        points.pop();
    }
    points
}

/// The corners of the tail: the last of the face and the first of the back, going anticlockwise. One and the same for a sharp or round tail.
fn tail_corners(points: &[[f64; 2]], chord_m: f64) -> (usize, usize) {
    let n = points.len();
    let distance = |i: usize| (points[i][0] - chord_m).hypot(points[i][1]);
    let nearest = (0..n).min_by(|&a, &b| distance(a).total_cmp(&distance(b))).unwrap_or(0);
    let mut corners: Vec<isize> = Vec::new();
    for direction in [-1_isize, 1] {
        for k in 0..n as isize / 4 {
            let offset = direction * k;
            let i = (nearest as isize + offset).rem_euclid(n as isize) as usize;
            let reach = (TAIL_REACH * chord_m).max(2.0 * distance(nearest));
            if reach < distance(i) && k > 1 {
                break;
            }
            if distance(i) <= reach && TAIL_CORNER_RAD < turning(points, i) {
                corners.push(offset);
            }
        }
    }
    let at = |offset: isize| (nearest as isize + offset).rem_euclid(n as isize) as usize;
    match (corners.iter().min(), corners.iter().max()) {
        (Some(&first), Some(&last)) => (at(first), at(last)),
        _ => (nearest, nearest),
    }
}

/// By how much the polygon turns left at a point, rad.
fn turning(points: &[[f64; 2]], i: usize) -> f64 {
    let n = points.len();
    let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
    let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
    (u[0] * v[1] - u[1] * v[0]).atan2(u[0] * v[0] + u[1] * v[1])
}

/// Two sides of a closed polygon that cross.
pub(crate) fn crossing(points: &[[f64; 2]]) -> Option<(usize, usize)> {
    let n = points.len();
    let side = |i: usize| (points[i], points[(i + 1) % n]);
    let turn = |a: [f64; 2], b: [f64; 2], c: [f64; 2]| {
        let at = |p: [f64; 2]| robust::Coord { x: p[0], y: p[1] };
        robust::orient2d(at(a), at(b), at(c))
    };
    for i in 0..n {
        let (a, b) = side(i);
        for j in i + 2..n {
            if i == 0 && j == n - 1 {
                continue;
            }
            let (c, d) = side(j);
            if a[0].max(b[0]) < c[0].min(d[0])
                || c[0].max(d[0]) < a[0].min(b[0])
                || a[1].max(b[1]) < c[1].min(d[1])
                || c[1].max(d[1]) < a[1].min(b[1])
            {
                continue;
            }
            let apart = |p: f64, q: f64| 0.0 < p * q;
            if !apart(turn(a, b, c), turn(a, b, d)) && !apart(turn(c, d, a), turn(c, d, b)) {
                return Some((i, j));
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_section::Family;

    fn scaled(family: Family) -> Vec<[f64; 2]> {
        family.outline(241).into_iter().map(|p| [0.2 * p[0], 0.2 * p[1]]).collect()
    }

    #[test]
    fn a_blunt_tail_keeps_its_width_wherever_the_polygon_starts_and_whichever_way_it_runs() {
        let family = Family::FourDigit { camber: 0.03, position: 0.4, thickness: 0.12 };
        let polygon = scaled(family);
        // NACA Report 460: the half ordinate at the tail is 0.0021 of the chord for a thickness of 0.20.
        let width = 2.0 * 0.0021 * 0.12 / 0.20 * 0.2;
        for shift in [0, 60, 120, 200] {
            let mut turned = polygon.clone();
            turned.rotate_left(shift);
            if shift == 60 {
                turned.reverse();
            }
            let open = open(&turned, 0.2).unwrap();
            let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
            assert!(((a[0] - b[0]).hypot(a[1] - b[1]) / width - 1.0).abs() < 0.01, "{shift} {a:?} {b:?}");
            assert!(b[1] < a[1] && open.opened_m.abs() < 1e-15);
            assert!(open.points[open.nose][0].abs() < 1e-4);
        }
    }

    #[test]
    fn a_round_tail_is_opened_by_the_least_width_only() {
        let open = open(&scaled(Family::Ellipse { thickness: 0.2 }), 0.2).unwrap();
        let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
        assert!((a[1] - b[1] - LEAST_TAIL * 0.2).abs() < 1e-12 && (a[0] - 0.2).abs() < 1e-12);
        assert!((open.opened_m - LEAST_TAIL * 0.2).abs() < 1e-12);
    }

    #[test]
    fn a_figure_of_eight_is_refused() {
        let eight: Vec<_> = (0..60)
            .map(|i| std::f64::consts::TAU * f64::from(i) / 60.0)
            .map(|t| [0.1 + 0.1 * t.cos(), 0.02 * (2.0 * t + 0.1).sin()])
            .collect();
        assert!(open(&eight, 0.2).unwrap_err().contains("crosses itself"));
    }
}
