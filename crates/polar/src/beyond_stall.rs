//! Forces beyond stall, around the whole circle.
//!
//! A plate whose flow has left it, into which the computed curve runs over a few degrees:
//! - normal force of a plate of endless span: S. F. Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3, `1 / (0.222 + 0.283 / sin)`; its centre of pressure by the
//!   free-streamline theory of Lord Rayleigh, "On the resistance of fluids", Philosophical Magazine 2, 1876 (both from memory). No suction is left at the
//!   nose, so that the force stands at right angles to the chord but for friction, as measured sections do from about 20 deg on (J. L. Tangler, J. D. Kocurek,
//!   "Wind turbine post-stall airfoil performance characteristics guidelines for blade-element momentum methods", NREL/CP-500-36900, 2004);
//! - the way there: what normal force, suction along the chord and moment have more than the plate dies away as the separation runs forward, over the
//!   angle `S2` of J. G. Leishman, T. S. Beddoes, "A semi-empirical model for dynamic stall", Journal of the American Helicopter Society 34(3), 1989.
//!
//! Sections are of endless span: what a blade's tips change belongs to the blade elements.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::curve::{Node, Triple};
use crate::forces::PolarRegion;

/// The last point that is known on one side, as if it were the upper one, and the slopes of its forces, per rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edge {
    pub(crate) alpha_rad: f64,
    pub(crate) forces: Triple,
    pub(crate) slopes: Triple,
}

impl Edge {
    /// The last of nodes with rising angles (`sense` 1) or the first (`sense` -1).
    pub(crate) fn of(nodes: &[Node], sense: f64) -> Edge {
        let upright =
            |n: &Node| (sense * n.alpha_rad, [sense * n.forces[0], n.forces[1], sense * n.forces[2]]);
        let edge = if sense > 0.0 { nodes.last() } else { nodes.first() };
        let Some((alpha_rad, forces)) = edge.map(upright) else {
            return Edge { alpha_rad: 0.0, forces: [0.0; 3], slopes: [0.0; 3] };
        };
        let is_clear = |(a, _): &(f64, Triple)| LEAST_STEP < alpha_rad - a;
        let before = if sense > 0.0 {
            nodes.iter().rev().map(upright).find(is_clear)
        } else {
            nodes.iter().map(upright).find(is_clear)
        };
        let slope = |k: usize| {
            let per_rad = before.map_or(0.0, |(a, f)| (forces[k] - f[k]) / (alpha_rad - a));
            per_rad.clamp(-MOST_SLOPE, MOST_SLOPE)
        };
        Edge { alpha_rad, forces, slopes: [slope(0), slope(1), slope(2)] }
    }
}

/// Slopes at an edge come from a node at least so far from it, rad: nearer ones carry the rounding of a typed table.
const LEAST_STEP: f64 = 0.006;
/// Steeper slopes, per rad, are errors of a table or a fall within one of its steps: four times the lift slope of a thin section.
const MOST_SLOPE: f64 = 8.0 * PI;
/// `S2` of NACA 0012 at a Mach number of 0.3 (Leishman & Beddoes, table 1, from memory): 2.3 deg, in rad.
const FADING: f64 = 0.040;
/// Angle to the stream at which the flow leaves the sharp edge of a reversed section, rad, and the slope up to it: a thin plate's (Hoerner, "Fluid-Dynamic
/// Lift", 1975, chapter 4, from memory: stall at 7 to 8 deg).
const REVERSED_STALL: f64 = 0.13;
const REVERSED_SLOPE: f64 = 2.0 * PI;
/// Nodes: finely where the forces run into a plate's, then at steps that a cubic follows.
const FINE_STEP: f64 = 0.5 * FADING;
const FINE_REACH: f64 = 6.0 * FADING;
const STEP: f64 = 0.1;

/// Nodes from the upper edge over 180 deg to the lower edge; `least_drag` is that of the section along the stream.
pub(crate) fn nodes(lower: Edge, upper: Edge, least_drag: f64) -> Vec<Node> {
    let mut out = side(upper, least_drag, 1.0);
    out.extend(side(lower, least_drag, -1.0).into_iter().filter(|n| -PI + 1e-3 < n.alpha_rad));
    out
}

fn side(edge: Edge, least_drag: f64, sense: f64) -> Vec<Node> {
    let reversed = reversed(least_drag);
    angles(edge.alpha_rad, PI - reversed.alpha_rad)
        .into_iter()
        .map(|a| {
            let [lift, drag, moment] = forces(edge, reversed, a, least_drag);
            let region = PolarRegion::BeyondStall;
            Node { alpha_rad: sense * a, forces: [sense * lift, drag, sense * moment], region }
        })
        .collect()
}

/// Angles beyond one edge up to the other, crowded at both, and on to pi.
fn angles(first: f64, last: f64) -> Vec<f64> {
    let mut out = Vec::new();
    let mut a = first;
    loop {
        let near = (a - first).min((last - a).abs());
        a += if near < FINE_REACH { FINE_STEP } else { STEP };
        if PI - 0.5 * FINE_STEP < a {
            break;
        }
        out.push(a);
    }
    out.push(PI);
    out
}

/// The edge of the reversed section's attached flow, as the plate sees it from behind.
fn reversed(least_drag: f64) -> Edge {
    let forces = |a: f64| to_stream([REVERSED_SLOPE * a.sin(), -least_drag, 0.0], a);
    let (h, a) = (1e-5, REVERSED_STALL);
    let (after, before) = (forces(a + h), forces(a - h));
    Edge { alpha_rad: a, forces: forces(a), slopes: [0, 1, 2].map(|k| (after[k] - before[k]) / (2.0 * h)) }
}

/// Lift, drag and moment about the quarter chord at an angle from the edge on, up to pi.
fn forces(edge: Edge, reversed: Edge, alpha: f64, least_drag: f64) -> Triple {
    if alpha <= FRAC_PI_2 {
        return separated(edge, alpha, least_drag);
    }
    let folded = PI - alpha;
    let [lift, drag, moment] = if folded <= reversed.alpha_rad {
        to_stream([REVERSED_SLOPE * folded.sin(), -least_drag, 0.0], folded)
    } else {
        separated(reversed, folded, least_drag)
    };
    // Seen from the other end: the lift changes its sign, and the moment about that end's quarter chord is moved by half the chord.
    let normal = lift * folded.cos() + drag * folded.sin();
    [-lift, drag, -moment - 0.5 * normal]
}

/// Beyond an edge, up to 90 deg: the plate and what is left of the edge's excess over it.
fn separated(edge: Edge, alpha: f64, least_drag: f64) -> Triple {
    let here = plate(alpha, least_drag);
    let past = alpha - edge.alpha_rad;
    let excess = |a: f64, f: Triple| {
        let (of, p) = (to_chord(f, a), plate(a, least_drag));
        [0, 1, 2].map(|k| of[k] - p[k])
    };
    // Slopes in axes of the chord by a small step along those of the edge.
    let h = 1e-5;
    let along = |d: f64| [0, 1, 2].map(|k| edge.forces[k] + edge.slopes[k] * d);
    let (start, next) = (excess(edge.alpha_rad, edge.forces), excess(edge.alpha_rad + h, along(h)));
    let fading = (-past / FADING).exp();
    let mixed = [0, 1, 2].map(|k| {
        // Value and slope of the edge, and a critically damped way to nothing.
        let slope = (next[k] - start[k]) / h;
        here[k] + (start[k] + (slope + start[k] / FADING) * past) * fading
    });
    let [lift, drag, moment] = to_stream(mixed, alpha);
    [lift, drag.max(least_drag), moment]
}

/// Normal force, suction along the chord towards the nose and moment about the quarter chord of a plate whose flow has left it.
fn plate(alpha: f64, friction: f64) -> Triple {
    let (s, c) = alpha.sin_cos();
    let normal = s / (0.222 * s.abs() + 0.283);
    let centre = 0.5 - 0.75 * c / (4.0 + PI * s.abs());
    [normal, -friction * c, -normal * (centre - 0.25)]
}

/// Lift, drag, moment from normal force, suction, moment.
fn to_stream([normal, suction, moment]: Triple, alpha: f64) -> Triple {
    let (s, c) = alpha.sin_cos();
    [normal * c + suction * s, normal * s - suction * c, moment]
}

/// Normal force, suction, moment from lift, drag, moment.
fn to_chord([lift, drag, moment]: Triple, alpha: f64) -> Triple {
    let (s, c) = alpha.sin_cos();
    [lift * c + drag * s, lift * s - drag * c, moment]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edge(alpha_rad: f64) -> Edge {
        Edge { alpha_rad, forces: [1.4, 0.03, 0.01], slopes: [-1.0, 0.3, 0.1] }
    }

    #[test]
    fn begins_with_value_and_slope_of_the_edge() {
        let (e, h) = (edge(0.27), 1e-6);
        let (at, past) = (separated(e, 0.27, 0.01), separated(e, 0.27 + h, 0.01));
        for k in 0..3 {
            assert!((at[k] - e.forces[k]).abs() < 1e-12);
            assert!(((past[k] - at[k]) / h - e.slopes[k]).abs() < 1e-3, "{k}: {}", (past[k] - at[k]) / h);
        }
    }

    #[test]
    fn across_the_stream_it_is_a_plate() {
        let at = |a: f64| forces(edge(0.27), reversed(0.01), a, 0.01);
        let [lift, drag, moment] = at(FRAC_PI_2);
        // Flat plate at right angles: drag 1.98, centre at mid-chord (Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3).
        assert!(lift.abs() < 1e-6 && (drag - 1.98).abs() < 0.01 && (moment + 0.25 * drag).abs() < 1e-6);
        // The second peak of NACA 0012's lift is 1.05 to 1.15 near 45 deg, drag 1.08 there (SAND80-2114, TN 3361, from memory).
        let [lift, drag, _] = at(0.25 * PI);
        assert!((lift - 1.10).abs() < 0.06 && (drag - 1.11).abs() < 0.06, "{lift} {drag}");
    }

    #[test]
    fn goes_smoothly_on_at_right_angles_and_at_the_reversed_stall() {
        let h = 1e-6;
        for a in [FRAC_PI_2, PI - REVERSED_STALL] {
            let at = |a: f64| forces(edge(0.27), reversed(0.01), a, 0.01);
            for k in 0..3 {
                let (before, after) = ((at(a)[k] - at(a - h)[k]) / h, (at(a + h)[k] - at(a)[k]) / h);
                assert!((before - after).abs() < 0.01, "{a} {k}: {before} {after}");
            }
        }
    }

    #[test]
    fn a_node_that_nearly_stands_twice_gives_no_slope() {
        let node = |alpha_rad: f64, lift: f64| Node {
            alpha_rad,
            forces: [lift, 0.01, 0.0],
            region: PolarRegion::Given,
        };
        let nodes = [node(-0.1, -0.5), node(-0.0999, -0.49), node(0.1, 0.5), node(0.1001, 0.51)];
        for sense in [-1.0, 1.0] {
            let e = Edge::of(&nodes, sense);
            assert!((e.slopes[0] - 5.0).abs() < 0.1 && e.forces[0] > 0.0 && e.alpha_rad > 0.0, "{e:?}");
        }
    }
}
