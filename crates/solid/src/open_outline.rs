//! Opens the closed polygon of a station to a path: from the tail corner on the back, around the nose, to the tail corner on the face.

use bladeform_section::area;

use crate::station_fault::OutlineFault;

/// A polygon corner near the tail that turns by more than this, rad, is a corner of the tail. Smooth outlines turn by less at each point.
const TAIL_CORNER_RAD: f64 = 0.7;
/// Corners of the tail are searched within this fraction of the chord from the trailing edge.
const TAIL_REACH: f64 = 0.02;
/// Points closer than this fraction of the chord count as one.
const SAME_POINT: f64 = 1e-7;
/// Minimum width of the tail as a fraction of the chord. A knife edge can be neither made nor divided into triangles.
pub(crate) const LEAST_TAIL: f64 = 5e-4;
/// Back and face may cross within this fraction of the chord from the trailing edge. If they cross farther forward, the outline is refused.
const CROSSING_REACH: f64 = 0.03;
/// Rear parts of the chord that may be replaced by straight lines, as fractions, each with the width fraction that makes it a blunt tail. The first that fits is used. A scan does not resolve the last few
/// points of a tail, and tails that are round at one station and blunt at the next make the surface between them oscillate.
const STRAIGHT_TAILS: [(f64, f64); 3] = [(2.5e-3, 0.85), (5e-3, BLUNT), (1e-2, BLUNT)];
/// A tail is blunt if its straight extension still has this fraction of its width at the end. An ellipse has 0.59 there and a wedge 0.
const BLUNT: f64 = 0.65;
/// A loop of back and face smaller than this fraction of the chord is cut off. If the loop is larger, the sides are moved apart, which keeps the chord.
const SMALL_LOOP: f64 = 1e-4;
/// Two points within this fraction of the chord from the trailing edge are the two ends of crossing sides.
const CROSSED_END: f64 = 1e-3;
/// A smaller crossing, m, is reported with this size.
const LEAST_CROSSING_M: f64 = 1e-7;
/// A tail wider than this many times the straightened length is left unchanged, because a scan resolves it.
const WIDE: f64 = 4.0;
/// Fraction of the chord that is cut off a round tail: a tenth of what a round trip may lose.
const ROUND_CUT: f64 = 5e-5;
/// Maximum width of the flat on a round tail, as a fraction of the chord.
const WIDEST_FLAT: f64 = 0.02;
/// If straightening would move a tail by more than this fraction of the chord, the tail has its own shape and is kept.
const MOST_MOVED: f64 = 2e-3;

/// Least number of different points of an outline: fewer do not show a nose between two sides (chosen).
const LEAST_POINTS: usize = 8;

/// An outline opened at its tail, in the station frame (m; chord line along `x`, leading edge at the origin).
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OpenOutline {
    /// From the corner on the back around the nose to the corner on the face.
    pub(crate) points: Vec<[f64; 2]>,
    /// Index of the point nearest to the leading edge.
    pub(crate) nose: usize,
    /// How much the tail was opened, m; 0 if it was wide enough.
    pub(crate) opened_m: f64,
    /// How much back and face overlapped at the tail, m; 0 if they did not.
    pub(crate) uncrossed_m: f64,
    /// How much the last points of the tail were moved to straighten it, m.
    pub(crate) straightened_m: f64,
}

/// Opens a closed polygon. `chord_m`: distance of the trailing edge from the origin along `x`.
///
/// The error says what is wrong with the polygon.
pub(crate) fn open(polygon: &[[f64; 2]], chord_m: f64) -> Result<OpenOutline, OutlineFault> {
    // If crossing sides cannot be moved apart, the loop is cut off, whatever its size within the reach.
    open_with(polygon, chord_m, SMALL_LOOP).or_else(|_| open_with(polygon, chord_m, CROSSING_REACH))
}

fn open_with(polygon: &[[f64; 2]], chord_m: f64, cut_loop: f64) -> Result<OpenOutline, OutlineFault> {
    let mut points = without_repeats(polygon, SAME_POINT * chord_m);
    if points.len() < LEAST_POINTS {
        return Err(OutlineFault::FewPoints { count: points.len(), needed: LEAST_POINTS });
    }
    let cut_m = cut_loops(&mut points, chord_m, cut_loop * chord_m);
    let is_crossed = match crossing(&points) {
        Some((i, j)) => {
            let is_at_tail = |k: usize| {
                let p = points[k % points.len()];
                (p[0] - chord_m).hypot(p[1]) < CROSSING_REACH * chord_m
            };
            if ![i, i + 1, j, j + 1].into_iter().all(is_at_tail) {
                return Err(OutlineFault::Crossing { near_m: points[i], sides: [i, j] });
            }
            true
        }
        None => false,
    };
    if area(&points) < 0.0 {
        points.reverse();
    }
    let (mut face_corner, mut back_corner) = tail_corners(&points, chord_m);
    if !is_crossed && face_corner == back_corner {
        face_corner = with_trailing_edge(&mut points, face_corner, chord_m);
        back_corner = face_corner;
    }
    let n = points.len();
    if is_crossed && face_corner == back_corner {
        // Sides that end past each other have two ends. They are neighbours in the polygon.
        let (before, after) = ((face_corner + n - 1) % n, (face_corner + 1) % n);
        let is_end = |k: usize| (points[k][0] - chord_m).hypot(points[k][1]) < CROSSED_END * chord_m;
        if is_end(before) {
            face_corner = before;
        } else if is_end(after) {
            back_corner = after;
        }
    }
    let count = (face_corner + n - back_corner) % n + 1;
    let mut opened: Vec<_> = (0..count).map(|k| points[(back_corner + k) % n]).collect();
    if face_corner == back_corner {
        opened = (0..=n).map(|k| points[(back_corner + k) % n]).collect();
    }
    let nose = (0..opened.len())
        .min_by(|&a, &b| opened[a][0].hypot(opened[a][1]).total_cmp(&opened[b][0].hypot(opened[b][1])))
        .unwrap_or(0);
    if nose < 3 || opened.len() < nose + 4 {
        return Err(OutlineFault::NoseAtTail);
    }
    let (mut back, mut face) = (opened[..=nose].to_vec(), opened[nose..].to_vec());
    face.reverse();
    let overlap = |x: f64| Some(ordinate(&face, x)? - ordinate(&back, x)?);
    let places = (0..200).map(|k| chord_m * (1.0 - CROSSING_REACH * f64::from(k) / 200.0));
    let uncrossed_m =
        if is_crossed { places.filter_map(overlap).fold(LEAST_CROSSING_M, f64::max) } else { cut_m };
    let straight = STRAIGHT_TAILS
        .iter()
        .find_map(|&(share, blunt)| straight_tail(&mut back, &mut face, chord_m, share * chord_m, blunt));
    if straight.is_none() && !is_crossed {
        cut_round_tail(&mut back, &mut face, chord_m);
    }
    let straightened_m = straight.unwrap_or(0.0);
    let nose = back.len() - 1;
    let mut opened = back;
    opened.extend(face.into_iter().rev().skip(1));
    let opened_m = open_tail(&mut opened, nose, chord_m);
    if let Some((i, j)) = crossing(&opened) {
        return Err(OutlineFault::Crossing { near_m: opened[i], sides: [i, j] });
    }
    Ok(OpenOutline { points: opened, nose, opened_m, uncrossed_m, straightened_m })
}

/// Cuts off loops up to a given size where back and face cross just ahead of the trailing edge. Returns the size of the largest, m.
fn cut_loops(points: &mut Vec<[f64; 2]>, chord_m: f64, greatest_m: f64) -> f64 {
    let mut greatest = 0.0_f64;
    while let Some((i, j)) = crossing(points) {
        let n = points.len();
        let at = intersection(points[i], points[(i + 1) % n], points[j], points[(j + 1) % n]);
        // A crossing makes two parts. The loop is the smaller one.
        let (inner, outer): (Vec<usize>, Vec<usize>) = (0..n).partition(|k| (i + 1..=j).contains(k));
        let (loop_, kept) = if inner.len() < outer.len() { (inner, outer) } else { (outer, inner) };
        let away = |p: [f64; 2]| (p[0] - chord_m).hypot(p[1]);
        let size =
            loop_.iter().map(|&k| points[k]).map(|p| (p[0] - at[0]).hypot(p[1] - at[1])).fold(0.0, f64::max);
        let reach = loop_.iter().map(|&k| away(points[k])).fold(away(at), f64::max);
        if CROSSING_REACH * chord_m < reach || greatest_m < size || kept.len() < 8 {
            break;
        }
        greatest = greatest.max(size);
        // The kept points run from one end of the loop to the other. The crossing point closes them.
        let begin = kept.iter().position(|k| !kept.contains(&((k + n - 1) % n))).unwrap_or(0);
        let mut next: Vec<_> = (0..kept.len()).map(|k| points[kept[(begin + k) % kept.len()]]).collect();
        next.push(at);
        *points = without_repeats(&next, SAME_POINT * chord_m);
    }
    greatest
}

/// Intersection of the lines through `a`, `b` and `c`, `d`; the midpoint of `a` and `c` if they are parallel.
fn intersection(a: [f64; 2], b: [f64; 2], c: [f64; 2], d: [f64; 2]) -> [f64; 2] {
    let (u, v, w) = ([b[0] - a[0], b[1] - a[1]], [d[0] - c[0], d[1] - c[1]], [c[0] - a[0], c[1] - a[1]]);
    let det = u[0] * v[1] - u[1] * v[0];
    if det.abs() <= 1e-12 * u[0].hypot(u[1]) * v[0].hypot(v[1]) {
        return [0.5 * (a[0] + c[0]), 0.5 * (a[1] + c[1])];
    }
    let t = (w[0] * v[1] - w[1] * v[0]) / det;
    [a[0] + t * u[0], a[1] + t * u[1]]
}

/// Ordinate at `x` of a side that runs from the tail forwards: that of its first segment over `x`.
fn ordinate(side: &[[f64; 2]], x: f64) -> Option<f64> {
    let k = side.windows(2).position(|w| w[1][0] <= x && x <= w[0][0])?;
    let ([x0, y0], [x1, y1]) = (side[k], side[k + 1]);
    Some(y0 + (y1 - y0) * (x - x0) / (x1 - x0).min(-1e-300))
}

/// Straightens the last part of a blunt tail, up to a flat through the trailing edge. Returns how far it was moved; `None` for a round or sharp tail.
fn straight_tail(
    back: &mut Vec<[f64; 2]>,
    face: &mut Vec<[f64; 2]>,
    chord_m: f64,
    step: f64,
    blunt: f64,
) -> Option<f64> {
    let (near, far) = (chord_m - step, chord_m - 2.0 * step);
    let [b1, b2, f1, f2] =
        [ordinate(back, near)?, ordinate(back, far)?, ordinate(face, near)?, ordinate(face, far)?];
    let (slope_b, slope_f) = ((b1 - b2) / step, (f1 - f2) / step);
    let width = (b1 - f1) + (slope_b - slope_f) * step;
    if width < blunt * (b1 - f1) || width < LEAST_TAIL * chord_m || WIDE * step < width {
        return None;
    }
    // The flat is perpendicular to the mean of both sides: x = chord - slope y.
    let slope = 0.5 * (slope_b + slope_f);
    let mut moved = 0.0_f64;
    let mut drawn = Vec::new();
    for (side, at_near, along) in [(&*back, b1, slope_b), (&*face, f1, slope_f)] {
        let end = (at_near + along * step) / (1.0 + slope * along);
        let corner = [chord_m - slope * end, end];
        // A removed point is moved to the nearer of the straight side and the flat.
        let own = |p: &[f64; 2]| {
            let (to_side, to_flat) = (p[1] - at_near - along * (p[0] - near), p[0] + slope * p[1] - chord_m);
            to_side.abs().min(to_flat.abs())
        };
        let kept = side.iter().position(|p| p[0] < near).unwrap_or(0);
        moved = side[..kept].iter().map(own).fold(moved, f64::max);
        drawn.push((kept, [corner, [near, at_near]]));
    }
    if MOST_MOVED * chord_m < moved {
        return None;
    }
    for (side, (kept, ends)) in [back, face].into_iter().zip(drawn) {
        side.splice(..kept, ends);
    }
    Some(moved)
}

/// Replaces the end of a round tail by a flat. It joins two points at the same distance along back and face, as wide as [`ROUND_CUT`] allows. A tail too sharp for
/// the minimum width is unchanged.
fn cut_round_tail(back: &mut Vec<[f64; 2]>, face: &mut Vec<[f64; 2]>, chord_m: f64) {
    if LEAST_TAIL * chord_m <= (back[0][0] - face[0][0]).hypot(back[0][1] - face[0][1]) {
        return;
    }
    let flat = |way: f64| Some((point_along(back, way)?, point_along(face, way)?));
    let width = |(b, f): ([f64; 2], [f64; 2])| (b[0] - f[0]).hypot(b[1] - f[1]);
    let is_shallow = |way: f64| {
        flat(way).is_some_and(|(b, f)| {
            let cut = (0.5 * (b[0] + f[0]) - back[0][0]).hypot(0.5 * (b[1] + f[1]) - back[0][1]);
            cut <= ROUND_CUT * chord_m && width((b, f)) <= WIDEST_FLAT * chord_m
        })
    };
    let (mut low, mut high) = (0.0, WIDEST_FLAT * chord_m);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if is_shallow(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    let Some(ends) = flat(low).filter(|&ends| LEAST_TAIL * chord_m <= width(ends)) else { return };
    for (side, end) in [(back, ends.0), (face, ends.1)] {
        let kept = passed(side, low + SAME_POINT * chord_m);
        side.splice(..kept, [end]);
    }
}

/// Number of points of a path up to a distance along it.
fn passed(path: &[[f64; 2]], way: f64) -> usize {
    let mut gone = 0.0;
    for (k, w) in path.windows(2).enumerate() {
        gone += (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
        if way < gone {
            return k + 1;
        }
    }
    path.len()
}

/// The point at a distance along a path; `None` beyond its end.
fn point_along(path: &[[f64; 2]], way: f64) -> Option<[f64; 2]> {
    let mut left = way;
    for w in path.windows(2) {
        let length = (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
        if left <= length {
            let t = left / length;
            return Some([0, 1].map(|k| w[0][k] + t * (w[1][k] - w[0][k])));
        }
        left -= length;
    }
    None
}

/// Moves back and face apart over the rear half of the chord until the tail has its minimum width, also where they cross.
fn open_tail(points: &mut [[f64; 2]], nose: usize, chord_m: f64) -> f64 {
    let last = points.len() - 1;
    let rear = |x: f64| (2.0 * x / chord_m - 1.0).clamp(0.0, 1.0).powi(2);
    let (back, face) = (&points[..=nose], points[nose..].iter().rev().copied().collect::<Vec<_>>());
    let end = (points[0][0] - points[last][0]).hypot(points[0][1] - points[last][1]);
    let end = if points[0][1] < points[last][1] { -end } else { end };
    let end_missing = (LEAST_TAIL * chord_m - end) / rear(points[0][0]).max(0.5);
    let missing = back
        .iter()
        .map(|p| p[0])
        .filter(|x| (1.0 - CROSSING_REACH) * chord_m < *x)
        .filter_map(|x| Some((LEAST_TAIL * chord_m - ordinate(back, x)? + ordinate(&face, x)?) / rear(x)))
        .fold(end_missing, f64::max);
    if missing <= 1e-9 * chord_m {
        return 0.0;
    }
    for (i, p) in points.iter_mut().enumerate() {
        p[1] += 0.5 * missing * rear(p[0]) * if i < nose { 1.0 } else { -1.0 };
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

/// Inserts the trailing edge into the points of the outline if it is not one of them. It is on one of the two sides at the nearest point.
/// Returns its index.
fn with_trailing_edge(points: &mut Vec<[f64; 2]>, nearest: usize, chord_m: f64) -> usize {
    let n = points.len();
    let on_side = |i: usize| {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let along = [b[0] - a[0], b[1] - a[1]];
        let t = ((chord_m - a[0]) * along[0] - a[1] * along[1]) / (along[0] * along[0] + along[1] * along[1]);
        let p = [a[0] + t * along[0], a[1] + t * along[1]];
        let is_inside = SAME_POINT < t && t < 1.0 - SAME_POINT;
        is_inside.then_some((i + 1, p))
    };
    match on_side(nearest).or_else(|| on_side((nearest + n - 1) % n)) {
        Some((i, p)) => {
            points.insert(i, p);
            i
        }
        None => nearest,
    }
}

/// The corners of the tail, anticlockwise: the last of the face and the first of the back. For a sharp or round tail they are the same point.
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

/// Left turn of the polygon at a point, rad.
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
    fn a_round_tail_gets_a_flat_square_to_the_chord_and_loses_hardly_any_of_it() {
        let ellipse: Vec<_> = (0..4000)
            .map(|k| std::f64::consts::TAU * f64::from(k) / 4000.0)
            .map(|t| [0.1 + 0.1 * t.cos(), 0.02 * t.sin()])
            .collect();
        let open = open(&ellipse, 0.2).unwrap();
        let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
        // A flat of width w cuts off w^2 / (8 r). The end of the ellipse has the radius r = 0.02 chords.
        let width = (8.0 * 0.02 * ROUND_CUT).sqrt() * 0.2;
        assert!(((a[1] - b[1]) / width - 1.0).abs() < 0.05, "{a:?} {b:?} {width}");
        assert!((a[0] - b[0]).abs() < 1e-9 && 0.2 - a[0] < 1.01 * ROUND_CUT * 0.2 && open.opened_m <= 0.0);
    }

    #[test]
    fn a_round_tail_that_ends_in_a_short_flat_without_corners_is_opened_at_its_middle() {
        // An oval whose last 5 degrees on each side are replaced by one straight side, slightly rotated.
        let oval: Vec<_> = (0..=350)
            .map(|k| f64::from(k + 5).to_radians())
            .map(|t| [0.06 * t.cos(), 0.04 * t.sin()])
            .map(|p| [0.06 + p[0] - 0.05 * p[1], p[1] + 0.05 * p[0]])
            .collect();
        let end = [0.06 + 0.06 * 5_f64.to_radians().cos(), 0.05 * 0.06 * 5_f64.to_radians().cos()];
        let (turn, chord) = (end[1].atan2(end[0]), end[0].hypot(end[1]));
        let (s, c) = turn.sin_cos();
        let polygon: Vec<_> = oval.iter().map(|p| [p[0] * c + p[1] * s, p[1] * c - p[0] * s]).collect();
        let open = open(&polygon, chord).unwrap();
        let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
        let middle = [0.5 * (a[0] + b[0]) - chord, 0.5 * (a[1] + b[1])];
        assert!(middle[0].hypot(middle[1]) < 1.01 * ROUND_CUT * chord, "{a:?} {b:?}");
        assert!(open.opened_m <= 0.0 && WIDEST_FLAT * 0.3 * chord < a[1] - b[1]);
    }

    #[test]
    fn a_sharp_tail_is_opened_by_the_least_width_and_one_that_crosses_is_mended_and_said() {
        // A wedge whose sides cross before its end.
        let side = |sign: f64| {
            (0..=60).map(move |i| {
                let x = 0.2 * (1.0 - (1.5 * f64::from(i) / 60.0 * std::f64::consts::FRAC_PI_3).cos());
                [x, sign * (0.1 * (x * (0.2 - x)).max(0.0) + 2e-2 * (0.2 - 2e-3 - x))]
            })
        };
        let polygon: Vec<_> = side(1.0).rev().chain(side(-1.0)).collect();
        assert!(crossing(&polygon).is_some());
        let open = open(&polygon, 0.2).unwrap();
        assert!((open.uncrossed_m - 8e-5).abs() < 1e-6, "{}", open.uncrossed_m);
        let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
        assert!(LEAST_TAIL * 0.2 * 0.999 < a[1] - b[1] && (a[0] - 0.2).abs() < 1e-9, "{a:?} {b:?}");
        assert!(crossing(&open.points).is_none());
    }

    #[test]
    fn a_small_rounding_at_the_tail_becomes_the_flat_of_the_width_before_it() {
        // A plate of 2 mm thickness, rounded over its last 0.3 mm.
        let back: Vec<_> = (0..=400)
            .map(|i| 0.2 * (1.0 - (f64::from(i) / 400.0 * std::f64::consts::FRAC_PI_2).sin()))
            .map(|d| {
                [
                    0.2 - d,
                    1e-3 * (1.0 - (1.0 - d / 3e-4).max(0.0).powi(2)).sqrt()
                        * ((0.2 - d) / 0.05).min(1.0).sqrt(),
                ]
            })
            .collect();
        let polygon: Vec<_> =
            back.iter().rev().copied().chain(back.iter().skip(1).map(|p| [p[0], -p[1]])).collect();
        let open = open(&polygon, 0.2).unwrap();
        let (a, b) = (open.points[0], open.points[open.points.len() - 1]);
        assert!((a[1] - b[1] - 2e-3).abs() < 1e-6 && (a[0] - 0.2).abs() < 1e-6, "{a:?} {b:?}");
        assert!(1e-5 < open.straightened_m);
    }

    #[test]
    fn a_figure_of_eight_is_refused() {
        let eight: Vec<_> = (0..60)
            .map(|i| std::f64::consts::TAU * f64::from(i) / 60.0)
            .map(|t| [0.1 + 0.1 * t.cos(), 0.02 * (2.0 * t + 0.1).sin()])
            .collect();
        assert!(open(&eight, 0.2).unwrap_err().to_string().contains("crosses itself"));
    }
}
