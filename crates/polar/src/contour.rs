//! Makes panel nodes from any closed outline: cleaned, rotated to the chord, tail found, spaced for accuracy.

use bladeform_numeric::cubic_spline::CubicSpline;
pub(crate) use bladeform_numeric::vector::distance_hypot as distance;

use crate::error::PolarError;
use crate::spline;

/// Nodes along the surface of a section of unit chord, anticlockwise from the tail over the back and the nose along the face to the tail.
#[derive(Debug, Clone)]
pub(crate) struct Contour {
    /// Node positions, chords; nose near `x = 0`.
    pub(crate) nodes: Vec<[f64; 2]>,
    /// Length along the surface to each node, chords.
    pub(crate) along: Vec<f64>,
    /// Maximum extent perpendicular to the chord line, chords: the depth of a bluff body.
    pub(crate) depth: f64,
}

/// Cosine of the angle between surface and chord line beyond which the surface belongs to the closing of the tail. Corners of a blunt tail turn by nearly a right angle, and
/// the flow does not follow a rounded tail much beyond this angle (common practice, no source).
const TAIL_TURN_COSINE: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Points closer together than this, chords, count as one. A spline through them would only follow rounding errors.
const SAME_POINT: f64 = 1e-7;
/// A tail gap below this, chords, is a sharp edge. Its two nodes would give the same equation twice.
const SHARP_GAP: f64 = 1e-5;
/// Samples along the surface for spacing the nodes: several per panel at the nose.
const SAMPLES: usize = 1600;
/// Gain of node density with the square root of curvature, per square root of chords. Short laminar bubbles near the nose need it. With a third
/// of it Newton's method fails at every second angle of NACA 0012 at a Reynolds number of 6e6, with this value at none (docs/decisions/016-convergence-of-section-flow.md).
const NOSE_GAIN: f64 = 1.5;
/// Curvature beyond which a nose gets no more nodes, per chord, because the rest of the outline needs nodes as well.
const MOST_CURVATURE: f64 = 1500.0;
/// Gain of node density at the tail, and the distance, chords, over which it decays.
const TAIL_GAIN: f64 = 3.0;
/// Distance over which the gain at the tail decays, chords. Chosen; no check of this value is on record.
const TAIL_REACH: f64 = 0.04;
/// Half width, chords, over which the curvature is averaged before nodes are spaced, so that one wavy spot does not attract all nodes.
const CURVATURE_WINDOW: f64 = 0.004;

impl Contour {
    /// Nodes for `count` panels. `outline`: n x 2, closed, either sense, chord line along `x`, nose towards smaller `x`, any unit.
    pub(crate) fn new(outline: &[[f64; 2]], count: usize) -> Result<Self, PolarError> {
        let points = surface_points(&cleaned(outline)?)?;
        let depth = extent(&points, 1);
        let mut along = lengths(&points);
        let curve = spline::through(&along, &points);
        let stations = spaced(&curve, along[along.len() - 1], count);
        let mut nodes: Vec<_> = stations.iter().map(|&s| spline::evaluate(&curve, s)[0]).collect();
        let last = nodes.len() - 1;
        let gap = distance(nodes[0], nodes[last]);
        if gap < SHARP_GAP {
            nodes[last] = nodes[0];
        }
        along = lengths(&nodes);
        if nodes.iter().flatten().all(|v| v.is_finite()) {
            Ok(Self { nodes, along, depth })
        } else {
            Err(PolarError::Outline("its points are too uneven for a smooth curve"))
        }
    }

    /// Whether back and face meet in one point.
    pub(crate) fn is_sharp(&self) -> bool {
        let gap = distance(self.nodes[0], self.nodes[self.nodes.len() - 1]);
        gap < SHARP_GAP
    }
}

/// Distinct points, anticlockwise, one chord long, nose at `x = 0`.
fn cleaned(outline: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, PolarError> {
    if !outline.iter().flatten().all(|v| v.is_finite()) {
        return Err(PolarError::Outline("a coordinate is not a finite number"));
    }
    let chord = extent(outline, 0);
    if outline.len() < 20 || chord <= 0.0 {
        return Err(PolarError::Outline("it has fewer than 20 points or no length"));
    }
    let nose = outline.iter().map(|p| p[0]).fold(f64::INFINITY, f64::min);
    let mut points: Vec<[f64; 2]> = Vec::with_capacity(outline.len());
    for p in outline.iter().map(|p| [(p[0] - nose) / chord, p[1] / chord]) {
        if points.last().is_none_or(|&q| SAME_POINT < distance(p, q)) {
            points.push(p);
        }
    }
    while 1 < points.len() && distance(points[0], points[points.len() - 1]) <= SAME_POINT {
        points.pop();
    }
    let twice_area: f64 = (0..points.len())
        .map(|i| (points[i], points[(i + 1) % points.len()]))
        .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
        .sum();
    if points.len() < 20 || twice_area.abs() < 1e-4 {
        return Err(PolarError::Outline("its different points are too few or enclose no area"));
    }
    if twice_area < 0.0 {
        points.reverse();
    }
    Ok(points)
}

/// The wetted part, from the upper end of the tail around the nose to its lower end.
fn surface_points(points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, PolarError> {
    let n = points.len();
    let rear = (0..n).max_by(|&a, &b| points[a][0].total_cmp(&points[b][0])).unwrap_or(0);
    let forward = |i: usize| direction(points[i % n], points[(i + 1) % n])[0];
    let upper = (0..n).map(|k| (rear + k) % n).find(|&i| forward(i) < -TAIL_TURN_COSINE);
    let lower = (0..n).map(|k| (rear + n - k) % n).find(|&i| TAIL_TURN_COSINE < forward((i + n - 1) % n));
    let (Some(upper), Some(lower)) = (upper, lower) else {
        return Err(PolarError::Outline("no side of it runs along the chord line"));
    };
    let count = (lower + n - upper) % n;
    // A sharp edge is one point at both ends of the surface.
    let count = if count == 0 { n } else { count };
    if count < 16 {
        return Err(PolarError::Outline("no side of it runs along the chord line"));
    }
    Ok((0..=count).map(|k| points[(upper + k) % n]).collect())
}

/// Lengths along the surface of `count + 1` nodes.
fn spaced(curve: &CubicSpline<2>, length: f64, count: usize) -> Vec<f64> {
    let step = length / SAMPLES as f64;
    let curvature: Vec<f64> = (0..=SAMPLES)
        .map(|i| {
            let [_, [dx, dy], [ddx, ddy]] = spline::evaluate(curve, i as f64 * step);
            ((dx * ddy - dy * ddx).abs() / (dx * dx + dy * dy).powf(1.5).max(1e-9)).min(MOST_CURVATURE)
        })
        .collect();
    let half = ((CURVATURE_WINDOW / step).ceil() as usize).max(1);
    let density: Vec<f64> = (0..=SAMPLES)
        .map(|i| {
            let window = &curvature[i.saturating_sub(half)..=(i + half).min(SAMPLES)];
            let mean = window.iter().sum::<f64>() / window.len() as f64;
            let s = i as f64 * step;
            1.0 + NOSE_GAIN * mean.sqrt() + TAIL_GAIN * (-s.min(length - s) / TAIL_REACH).exp()
        })
        .collect();
    let mut total = vec![0.0; SAMPLES + 1];
    for i in 1..=SAMPLES {
        total[i] = total[i - 1] + 0.5 * (density[i] + density[i - 1]);
    }
    (0..=count)
        .map(|k| {
            let wanted = total[SAMPLES] * k as f64 / count as f64;
            let i = total.partition_point(|&t| t < wanted).clamp(1, SAMPLES);
            step * (i as f64 - (total[i] - wanted) / (total[i] - total[i - 1]))
        })
        .collect()
}

fn lengths(points: &[[f64; 2]]) -> Vec<f64> {
    let mut along = vec![0.0; points.len()];
    for i in 1..points.len() {
        along[i] = along[i - 1] + distance(points[i], points[i - 1]);
    }
    along
}

fn extent(points: &[[f64; 2]], axis: usize) -> f64 {
    let values = || points.iter().map(|p| p[axis]);
    values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
}

/// Unit vector from `a` to `b`; (1, 0) where they coincide.
pub(crate) fn direction(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    let length = distance(a, b);
    if length == 0.0 { [1.0, 0.0] } else { [(b[0] - a[0]) / length, (b[1] - a[1]) / length] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_section::Family;

    #[test]
    fn nodes_run_from_tail_to_tail_and_crowd_at_the_nose() {
        let outline = Family::FourDigit { camber: 0.02, position: 0.4, thickness: 0.12 }.outline(600);
        let contour = Contour::new(&outline, 160).unwrap();
        assert_eq!(contour.nodes.len(), 161);
        assert!(!contour.is_sharp());
        assert!(contour.nodes[0][1] > contour.nodes[160][1]);
        // With even spacing there would be three or four.
        let nose = contour.nodes.iter().filter(|p| p[0] < 0.02).count();
        assert!((9..60).contains(&nose), "{nose}");
    }

    #[test]
    fn the_start_the_sense_and_the_unit_of_an_outline_do_not_matter() {
        let outline = Family::ClarkY { thickness: 0.1171 }.outline(400);
        let n = outline.len();
        let turned: Vec<_> =
            (0..n).map(|i| outline[(i + 77) % n]).rev().map(|p| [0.3 * p[0], 0.3 * p[1]]).collect();
        let (a, b) = (Contour::new(&outline, 100).unwrap(), Contour::new(&turned, 100).unwrap());
        for (p, q) in a.nodes.iter().zip(&b.nodes) {
            assert!(distance(*p, *q) < 1e-5, "{p:?} {q:?}");
        }
    }

    #[test]
    fn what_is_no_outline_is_refused_with_a_sentence() {
        assert!(Contour::new(&[[0.0, 0.0]; 30], 100).is_err());
        assert!(Contour::new(&[[f64::NAN, 0.0]; 30], 100).is_err());
        let line: Vec<_> = (0..40).map(|i| [f64::from(i), 0.0]).collect();
        assert!(Contour::new(&line, 100).unwrap_err().to_string().contains("area"));
    }
}
