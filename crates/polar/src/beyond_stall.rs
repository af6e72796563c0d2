//! Forces beyond stall, around the whole circle.
//!
//! The forces are those of a fully separated flat plate. The computed curve changes into them over a few degrees:
//! - normal force of a plate of infinite span: S. F. Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3, `1 / (0.222 + 0.283 / sin)`; its centre of pressure by the
//!   free-streamline theory of Lord Rayleigh, "On the resistance of fluids", Philosophical Magazine 2, 1876 (both from memory). There is no suction at the
//!   nose, so the force is perpendicular to the chord except for friction, as for measured sections above about 20 deg (J. L. Tangler, J. D. Kocurek,
//!   "Wind turbine post-stall airfoil performance characteristics guidelines for blade-element momentum methods", NREL/CP-500-36900, 2004);
//! - the transition: the excess of normal force, suction along the chord and moment over the plate decays as the separation point moves forward, over the
//!   angle `S2` of J. G. Leishman, T. S. Beddoes, "A semi-empirical model for dynamic stall", Journal of the American Helicopter Society 34(3), 1989.
//!
//! Sections are of infinite span. The effect of the blade tips belongs to the blade-element model.

use std::f64::consts::{FRAC_PI_2, PI};

use crate::curve::{Node, Triple};
use crate::forces::PolarRegion;

/// The last known point on one side, treated as the upper one, and the slopes of its forces, per rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edge {
    pub(crate) alpha_rad: f64,
    pub(crate) forces: Triple,
    pub(crate) slopes: Triple,
}

impl Edge {
    /// The last of nodes with increasing angles (`sense` 1) or the first (`sense` -1).
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

/// Minimum distance of the node that gives the slope at an edge, rad. Closer nodes are affected by the rounding of a typed table.
const LEAST_STEP: f64 = 0.006;
/// Steeper slopes, per rad, are table errors or a sudden drop within one table step. The limit is four times the lift slope of a thin section.
const MOST_SLOPE: f64 = 8.0 * PI;
/// `S2` of NACA 0012 at a Mach number of 0.3 (Leishman & Beddoes, table 1, from memory): 2.3 deg, in rad.
const FADING: f64 = 0.040;
/// Angle to the stream at which the flow separates from the sharp edge of a reversed section, rad, and the lift slope up to it, that of a thin plate (Hoerner, "Fluid-Dynamic
/// Lift", 1975, chapter 4, from memory: stall at 7 to 8 deg).
const REVERSED_STALL: f64 = 0.13;
/// Lift slope of a thin plate, exact in inviscid flow.
const REVERSED_SLOPE: f64 = 2.0 * PI;
/// Node spacing: fine where the forces change into those of a plate, then with steps that a cubic can follow.
const FINE_STEP: f64 = 0.5 * FADING;
/// Extent of the fine spacing: the force of attached flow decays with [`FADING`], and to e^-6 over this extent (chosen).
const FINE_REACH: f64 = 6.0 * FADING;
/// Spacing beyond, rad. Chosen; no check of this value is on record.
const STEP: f64 = 0.1;

/// Nodes from the upper edge over 180 deg to the lower edge. `least_drag` is the drag of the section along the stream.
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

/// Angles from one edge to the other, dense near both, and on to pi.
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

/// The edge of the attached flow of the reversed section, with the plate seen from behind.
fn reversed(least_drag: f64) -> Edge {
    let forces = |a: f64| to_stream([REVERSED_SLOPE * a.sin(), -least_drag, 0.0], a);
    let (h, a) = (1e-5, REVERSED_STALL);
    let (after, before) = (forces(a + h), forces(a - h));
    Edge { alpha_rad: a, forces: forces(a), slopes: [0, 1, 2].map(|k| (after[k] - before[k]) / (2.0 * h)) }
}

/// Lift, drag and moment about the quarter chord at an angle from the edge up to pi.
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
    // Seen from the other end: the lift changes sign, and the moment about the quarter chord from that end is moved by half the chord.
    let normal = lift * folded.cos() + drag * folded.sin();
    [-lift, drag, -moment - 0.5 * normal]
}

/// Beyond an edge, up to 90 deg: the plate plus the remaining excess of the edge over it.
fn separated(edge: Edge, alpha: f64, least_drag: f64) -> Triple {
    let here = plate(alpha, least_drag);
    let past = alpha - edge.alpha_rad;
    let excess = |a: f64, f: Triple| {
        let (of, p) = (to_chord(f, a), plate(a, least_drag));
        [0, 1, 2].map(|k| of[k] - p[k])
    };
    // Slopes in chord axes, from a small step along the slopes of the edge.
    let h = 1e-5;
    let along = |d: f64| [0, 1, 2].map(|k| edge.forces[k] + edge.slopes[k] * d);
    let (start, next) = (excess(edge.alpha_rad, edge.forces), excess(edge.alpha_rad + h, along(h)));
    let fading = (-past / FADING).exp();
    let mixed = [0, 1, 2].map(|k| {
        // Value and slope of the edge, with critically damped decay to zero.
        let slope = (next[k] - start[k]) / h;
        here[k] + (start[k] + (slope + start[k] / FADING) * past) * fading
    });
    let [lift, drag, moment] = to_stream(mixed, alpha);
    [lift, drag.max(least_drag), moment]
}

/// Normal force, suction along the chord towards the nose, and moment about the quarter chord of a fully separated plate.
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
        // Flat plate normal to the stream: drag 1.98, centre at mid-chord (Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3).
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
    fn a_node_that_nearly_occurs_twice_gives_no_slope() {
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
