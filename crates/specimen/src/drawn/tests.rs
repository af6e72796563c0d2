//! Tests of drawn blades: their truth against polygons counted independently, and their axes.

use super::settle::{centroid_line, surface_centroid};
use super::*;

fn free(seed: u64, nose: Edge, tail: Edge) -> DrawnBlade {
    DrawnBlade::drawn(seed, Sections::Free { nose, tail }, Axis::Centroids, 1.0)
}

/// Every pair of edges of a few seeds.
fn all_free() -> impl Iterator<Item = DrawnBlade> {
    let pairs = Edge::ALL.into_iter().flat_map(|nose| Edge::ALL.map(|tail| (nose, tail)));
    pairs.enumerate().map(|(i, (nose, tail))| free(40 + i as u64, nose, tail))
}

#[test]
fn a_seed_is_one_blade() {
    assert!(DrawnBlade::any(5, false) == DrawnBlade::any(5, false));
    assert!(DrawnBlade::any(5, false) != DrawnBlade::any(6, false));
}

#[test]
fn outlines_are_simple_and_plausible() {
    for blade in all_free() {
        for s in [0.3, 0.6, 0.9] {
            let (r, n) = (s * blade.radius_m, 240);
            let outline = blade.outline(r, n);
            let m = outline.len();
            let crossing = (0..m).any(|i| (i + 2..m).any(|j| (i, j) != (0, m - 1) && cut(&outline, i, j)));
            assert!(!crossing, "{:?} at {s}", blade.sections);
        }
        let truth = blade.truth(0.7);
        assert!((0.03..0.3).contains(&truth.thickness_ratio), "{:?} {truth:?}", blade.sections);
        assert!((-0.01..0.1).contains(&truth.camber_ratio), "{:?} {truth:?}", blade.sections);
    }
}

/// Whether two sides of a closed polygon cross.
fn cut(p: &[[f64; 2]], i: usize, j: usize) -> bool {
    let (a, b, c, d) = (p[i], p[(i + 1) % p.len()], p[j], p[(j + 1) % p.len()]);
    let turn =
        |a: [f64; 2], b: [f64; 2], c: [f64; 2]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
}

#[test]
fn truth_agrees_with_an_independent_count_on_the_polygon() {
    for blade in all_free() {
        let truth = blade.truth(0.7);
        let outline = blade.outline(0.7 * blade.radius_m, 3000);
        let (area, longest) = count(&outline);
        assert!((truth.area_m2 / area - 1.0).abs() < 1e-4, "{:?} {} {area}", blade.sections, truth.area_m2);
        assert!((truth.longest_chord_m / longest - 1.0).abs() < 1e-4, "{:?}", blade.sections);
        // The chord ends on the outline, at the stated middle and angle.
        let (sin, cos) = truth.blade_angle_deg.to_radians().sin_cos();
        for sign in [-0.5, 0.5] {
            let end = [cos, sin].map(|d| sign * truth.chord_m * d);
            let off = nearest(&outline, [truth.mid_chord_m[0] + end[0], truth.mid_chord_m[1] + end[1]]);
            assert!(off < 1e-4 * truth.chord_m, "{:?} {off}", blade.sections);
        }
        let thickness = 2.0 * deepest(&outline, truth.mid_chord_m, truth.chord_m, [cos, sin]);
        assert!(
            (truth.thickness_m / thickness - 1.0).abs() < 2e-3,
            "{:?} {} {thickness}",
            blade.sections,
            truth.thickness_m
        );
    }
}

/// Area by the sum of trapezoids and the greatest distance of two corners.
fn count(p: &[[f64; 2]]) -> (f64, f64) {
    let n = p.len();
    let area =
        (0..n).map(|i| (p[(i + 1) % n][0] - p[i][0]) * (p[(i + 1) % n][1] + p[i][1])).sum::<f64>().abs()
            / 2.0;
    let apart = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let longest =
        p.iter().step_by(3).flat_map(|a| p.iter().step_by(2).map(move |b| apart(a, b))).fold(0.0, f64::max);
    (area, longest)
}

/// Distance of a point from a polygon.
fn nearest(p: &[[f64; 2]], q: [f64; 2]) -> f64 {
    (0..p.len())
        .map(|i| {
            let (a, b) = (p[i], p[(i + 1) % p.len()]);
            let (d, e) = ([b[0] - a[0], b[1] - a[1]], [q[0] - a[0], q[1] - a[1]]);
            let t = ((d[0] * e[0] + d[1] * e[1]) / (d[0] * d[0] + d[1] * d[1]).max(1e-300)).clamp(0.0, 1.0);
            (e[0] - t * d[0]).hypot(e[1] - t * d[1])
        })
        .fold(f64::INFINITY, f64::min)
}

/// Whether a ray from a point crosses an odd number of sides.
fn inside(p: &[[f64; 2]], q: [f64; 2]) -> bool {
    (0..p.len()).fold(false, |odd, i| {
        let (a, b) = (p[i], p[(i + 1) % p.len()]);
        let spans = (a[1] <= q[1]) != (b[1] <= q[1]);
        odd != (spans && q[0] < a[0] + (q[1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1]))
    })
}

/// Greatest distance from the polygon of points inside it, some across each of many places along the chord: half the thickness.
fn deepest(p: &[[f64; 2]], middle: [f64; 2], chord: f64, along: [f64; 2]) -> f64 {
    let place = |x: f64, y: f64| {
        [middle[0] + chord * (x * along[0] - y * along[1]), middle[1] + chord * (x * along[1] + y * along[0])]
    };
    let coarse: Vec<_> = p.iter().copied().step_by(3).collect();
    let depth = |x: f64, y: f64| {
        let q = place(x, y);
        if inside(&coarse, q) { nearest(&coarse, q) } else { -nearest(&coarse, q) }
    };
    // Across the section the depth rises to the middle and falls again: thirds are left out by turns.
    let across = |x: f64| {
        let (mut low, mut high) = (-0.15, 0.15);
        for _ in 0..18 {
            let (a, b) = (low + (high - low) / 3.0, high - (high - low) / 3.0);
            if depth(x, a) < depth(x, b) { low = a } else { high = b }
        }
        depth(x, 0.5 * (low + high))
    };
    (-25..=25).map(|i| across(0.015 * f64::from(i))).fold(0.0, f64::max)
}

#[test]
fn a_compass_drawn_nose_has_its_radius_and_a_blunt_one_that_of_its_control_points() {
    let compass = free(3, Edge::Compass, Edge::Sharp);
    let truth = compass.truth(0.6);
    let outline = compass.outline(0.6 * compass.radius_m, 3000);
    // Corners within a third of a radius of the leading edge lie on a circle of the stated radius through it.
    let (sin, cos) = truth.blade_angle_deg.to_radians().sin_cos();
    let nose = [cos, sin].map(|d| 0.5 * truth.chord_m * d);
    let nose = [truth.mid_chord_m[0] + nose[0], truth.mid_chord_m[1] + nose[1]];
    let near: Vec<_> = outline
        .iter()
        .filter(|p| (p[0] - nose[0]).hypot(p[1] - nose[1]) < 0.3 * truth.leading_edge_radius_m)
        .collect();
    let (a, b, c) = (near[0], near[near.len() / 2], near[near.len() - 1]);
    let side = |p: &[f64; 2], q: &[f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
    let cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let radius = side(a, b) * side(b, c) * side(a, c) / (2.0 * cross.abs());
    assert!((radius / truth.leading_edge_radius_m - 1.0).abs() < 1e-6, "{radius}");
    let blunt = free(4, Edge::Blunt, Edge::Sharp).truth(0.6);
    assert!((1e-4..2e-2).contains(&blunt.leading_edge_radius_m), "{blunt:?}");
    assert!(free(4, Edge::Sharp, Edge::Blunt).truth(0.6).leading_edge_radius_m.is_nan());
}

#[test]
fn a_blade_has_the_axes_of_the_definitions() {
    let lone = free(8, Edge::Blunt, Edge::Blunt);
    let line = centroid_line(&lone);
    assert!(line.iter().flatten().all(|x| x.abs() < 1e-9), "{line:?}");
    let one = DrawnBlade::drawn(8, Sections::ClarkY, Axis::Propeller, 1.0);
    let [x, y, _] = surface_centroid(&one, 0.3);
    assert!(x.abs() < 1e-7 && y.abs() < 1e-7, "{x} {y}");
}
