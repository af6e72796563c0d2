//! What the end of a blade looks like: whole, broken open, cut square, or swept out of its circle.

use std::collections::HashMap;

use bladeform_mesh::CleanMesh;

use crate::band::slices::{Slice, slices};
use crate::notice::{MeasureNotice, TipNotice};
use crate::vector::V3;

/// The end of the span, as a share of it, in which an open edge is looked for.
const END: f64 = 0.02;
/// An open edge there as wide as this share of the chord inboard of it is a missing tip.
const WIDE: f64 = 0.3;
/// The chord inboard is taken this far from the tip, as a share of the span.
const INBOARD: f64 = 0.1;
/// A last chord of more than this share of the one inboard has not fallen off.
const SQUARE: f64 = 0.85;
/// Pairs of depths below the outermost point, shares of the span, at which chords are compared: the outer one of an elliptic tip is half the inner one,
/// since its chord goes as the root of the depth. Of a tip cut along a circle about the axis only the deeper pair shows it.
const DEPTHS: [[f64; 2]; 2] = [[0.001, 0.004], [0.004, 0.016]];
/// From this quotient of them on, the tip does not run out: one that goes as the fourth root of the depth has 0.71, and a cut through the last per cent 0.9.
const FLAT: f64 = 0.8;
/// Ends narrower than this share of the chord inboard are small rounded points (a judgement).
const NARROW: f64 = 0.3;

/// What is wrong with the tip; `None` if it is whole and round. `mesh` and `slices` in span axes.
pub(crate) fn missing_tip(mesh: &CleanMesh, slices: &[Slice], span: (f64, f64)) -> Option<TipNotice> {
    let length = span.1 - span.0;
    let chord = |z: f64| {
        let near = slices.iter().min_by(|a, b| (a.z - z).abs().total_cmp(&(b.z - z).abs()))?;
        Some(crate::frame::axes::length(near))
    };
    let inboard = chord(span.1 - INBOARD * length)?;
    let open = rim_width(mesh, span.1 - END * length, span.1);
    if WIDE * inboard < open {
        return Some(TipNotice::Open { fraction: (open / inboard).min(1.0) });
    }
    let last = chord(span.1)?;
    if SQUARE * inboard < last {
        return Some(TipNotice::Square { fraction: last / inboard });
    }
    let end = flat_end(mesh, span)?;
    (NARROW * inboard < end).then(|| TipNotice::Flat { fraction: end / inboard })
}

/// The chord at a tip that does not run out, file units.
fn flat_end(mesh: &CleanMesh, span: (f64, f64)) -> Option<f64> {
    DEPTHS.iter().find_map(|pair| {
        let found = slices(mesh, &pair.map(|depth| span.1 - depth * (span.1 - span.0)));
        let [outer, inner] = [found.first()?, found.get(1)?].map(crate::frame::axes::length);
        (FLAT * inner < outer).then_some(outer)
    })
}

/// How wide the open edges between two places along the span are, across it.
fn rim_width(mesh: &CleanMesh, low: f64, high: f64) -> f64 {
    let inside = |v: u32| {
        let z = mesh.vertices()[v as usize][2];
        low < z && z <= high
    };
    let mut sides: HashMap<(u32, u32), u32> = HashMap::new();
    for f in mesh.faces().iter().filter(|f| f.iter().any(|&v| inside(v))) {
        for k in 0..3 {
            let (a, b) = (f[k], f[(k + 1) % 3]);
            if inside(a) && inside(b) {
                *sides.entry((a.min(b), a.max(b))).or_default() += 1;
            }
        }
    }
    let rim: Vec<V3> = sides
        .into_iter()
        .filter(|(_, count)| *count == 1)
        .flat_map(|((a, b), _)| [a, b])
        .map(|v| mesh.vertices()[v as usize])
        .collect();
    let width = |k: usize| {
        let (l, h) =
            rim.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])));
        (h - l).max(0.0)
    };
    width(0).hypot(width(1))
}

/// Departures of the outermost point from the tip radius below this share of it are not reported.
const OUTSIDE: f64 = 5e-4;

/// A notice if points of a lone blade are outside the circle of its tip radius, which is counted along the span. `mesh` in span axes,
/// `centre`: where the axis of rotation lies along the span; `turn`: what turns the first axis into the plane of rotation, rad; `unit`: metres in one file unit.
pub(crate) fn outside_circle(
    mesh: &CleanMesh,
    centre: f64,
    radius: f64,
    turn: f64,
    metres_per_unit: f64,
) -> Option<MeasureNotice> {
    let (sin, cos) = turn.sin_cos();
    let farthest =
        mesh.vertices().iter().map(|p| (p[0] * cos - p[1] * sin).hypot(p[2] - centre)).fold(0.0, f64::max);
    (OUTSIDE * radius < farthest - radius).then(|| MeasureNotice::OutsideCircle {
        distance_m: metres_per_unit * (farthest - radius),
        fraction: farthest / radius - 1.0,
    })
}
