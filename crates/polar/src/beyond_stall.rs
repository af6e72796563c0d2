//! Forces beyond stall, around the whole circle.
//!
//! L. A. Viterna, R. D. Corrigan, "Fixed pitch rotor performance of large horizontal axis wind turbines", NASA CP-2230, 1981: a flat plate's forces
//! that begin at the last attached point. The reversed section (beyond 90 deg) lifts 0.7 times as much (common practice, no source).

use std::f64::consts::{FRAC_PI_2, PI};

use crate::curve::{Node, Triple};
use crate::forces::PolarRegion;

/// The last point that the layers give on one side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edge {
    pub(crate) alpha_rad: f64,
    pub(crate) lift: f64,
    pub(crate) drag: f64,
}

/// First node beyond the edge, rad: over this stretch the computed curve runs into the plate's.
const JOIN: f64 = 0.1;
/// Distance of nodes beyond.
const STEP: f64 = 0.12;
const REVERSED: f64 = 0.7;

/// Greatest drag of a blade of an aspect ratio (Viterna & Corrigan), a section at right angles to the stream.
pub(crate) fn greatest_drag(aspect_ratio: f64) -> f64 {
    (1.11 + 0.018 * aspect_ratio).min(2.01)
}

/// Nodes from the upper edge over 180 deg to the lower edge; `least_drag` is that of the section along the stream.
pub(crate) fn nodes(lower: Edge, upper: Edge, least_drag: f64, aspect_ratio: f64) -> Vec<Node> {
    let most = greatest_drag(aspect_ratio);
    let mirrored = Edge { alpha_rad: -lower.alpha_rad, lift: -lower.lift, drag: lower.drag };
    let mut out = side(upper, least_drag, most, 1.0);
    out.extend(side(mirrored, least_drag, most, -1.0).into_iter().filter(|n| -PI + 1e-3 < n.alpha_rad));
    out
}

fn side(edge: Edge, least_drag: f64, most: f64, sense: f64) -> Vec<Node> {
    // The plate's relations need an edge clear of 0 and of 90 deg.
    let edge = Edge { alpha_rad: edge.alpha_rad.clamp(0.03, 1.2), ..edge };
    let start = edge.alpha_rad + JOIN;
    let count = ((PI - start) / STEP).ceil().max(1.0);
    (0..=count as usize)
        .map(|i| start + (PI - start) * i as f64 / count)
        .map(|a| {
            let [lift, drag, moment] = plate(edge, a, least_drag, most);
            let region = PolarRegion::BeyondStall;
            Node { alpha_rad: sense * a, forces: [sense * lift, drag, sense * moment], region }
        })
        .collect()
}

/// Forces at an angle in 0 to pi.
fn plate(edge: Edge, alpha: f64, least_drag: f64, most: f64) -> Triple {
    let folded = if alpha <= FRAC_PI_2 { alpha } else { PI - alpha };
    let (s0, c0) = edge.alpha_rad.sin_cos();
    let (mut lift, drag) = if folded < edge.alpha_rad {
        // The reversed section while its flow is attached.
        let part = folded / edge.alpha_rad;
        (edge.lift * part, least_drag + (edge.drag - least_drag).max(0.0) * part * part)
    } else {
        let (s, c) = folded.sin_cos();
        let a2 = (edge.lift - most * s0 * c0) * s0 / (c0 * c0);
        let b2 = (edge.drag - most * s0 * s0) / c0;
        (0.5 * most * (2.0 * folded).sin() + a2 * c * c / s, most * s * s + b2 * c)
    };
    if FRAC_PI_2 < alpha {
        lift *= -REVERSED;
    }
    let drag = drag.max(least_drag);
    let normal = lift * alpha.cos() + drag * alpha.sin();
    // Centre of pressure from the quarter chord along the stream to mid-chord across it, and on to the three-quarter chord (common practice, no source).
    let centre = 0.25 + 0.5 * alpha / PI;
    [lift, drag, -normal * (centre - 0.25)]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn begins_at_the_edge_and_ends_as_a_plate() {
        let edge = Edge { alpha_rad: 0.27, lift: 1.4, drag: 0.03 };
        let [lift, drag, _] = plate(edge, 0.27, 0.01, greatest_drag(50.0));
        assert!((lift - 1.4).abs() < 1e-12 && (drag - 0.03).abs() < 1e-12);
        let [lift, drag, moment] = plate(edge, FRAC_PI_2, 0.01, greatest_drag(50.0));
        // Flat plate at right angles: drag 1.98 to 2.0 (S. F. Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3), centre at mid-chord.
        assert!(lift.abs() < 1e-12 && (drag - 2.0).abs() < 0.03 && (moment + 0.25 * drag).abs() < 1e-12);
    }
}
