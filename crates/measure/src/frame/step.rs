//! A step of the sections near the root end of a lone blade: something may have grown onto the root in the scan, and the length is then counted from its end.

use std::f64::consts::TAU;

use bladeform_mesh::CleanMesh;

use crate::band::blade::normal_of;
use crate::band::slices::{Slice, slices};
use crate::vector::norm;

/// Places of the sections: from the first to the second, so far apart, all as shares of the length. The thinnest thing that is looked for is some 0.6 % of the
/// length long; what reaches beyond the inner two fifths is a blade.
const PLACES: [[f64; 3]; 2] = [[0.002, 0.04, 0.001], [0.04, 0.40, 0.0025]];
/// A step goes from one section to another at most this far on, share of the length: wider ones are transitions.
const WIDEST: f64 = 0.008;
/// The sections before and beyond a step are looked at over at least these shares of the length: the thing may be thin, the blade goes on.
const BESIDE: [f64; 2] = [0.004, 0.012];
/// They change there by at most this share of the step: transitions change steadily.
const STEADY: f64 = 1.0 / 3.0;
/// A step is wider than this share of the smaller section's radius: bearing seats and threads of shanks are less (common practice, no source).
const LEAST: f64 = 0.25;
/// A step is at least so much wider than long.
const STEEP: f64 = 3.0;
/// Cosine of the angle between the span and the normal of a shoulder, from which it counts as one.
const SHOULDER: f64 = 0.9;
/// The triangles of the shoulder make up at least this share of the difference of the sections: where a hole begins there is none.
const IS_THERE: f64 = 0.7;
/// And at least this share of the step times the radius of the smaller section: where the edge of a wide blade begins it is a third of that, where things end 3 to 17 times as much.
const CRESCENT: f64 = 1.0;
/// Directions in which the extent of a section is compared.
const DIRECTIONS: usize = 24;
/// A section whose extents about its centroid differ by less than this share is round.
const ROUND: f64 = 0.12;
/// Round sections whose centroids are nearer than this share of the smaller radius are those of one turned part.
const CONCENTRIC: f64 = 0.15;
/// Collars and flanges of round shanks are at most so many times as wide (a judgement).
const COLLAR: f64 = 1.6;

/// A step of the sections.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Step {
    /// Where along the span, file units.
    pub(crate) z: f64,
    /// Areas of the sections before and beyond it, seen from the root end, file units squared.
    pub(crate) areas: [f64; 2],
}

/// Extent of a section in evenly spaced directions about the span axis, its mean about the centroid, and what is needed of the section itself.
struct Extent {
    z: f64,
    in_directions: Vec<f64>,
    /// Half the mean width.
    radius: f64,
    centroid: [f64; 2],
    area: f64,
    is_round: bool,
}

impl Extent {
    fn of(s: &Slice) -> Self {
        let directions = (0..DIRECTIONS).map(|k| (TAU * k as f64 / DIRECTIONS as f64).sin_cos());
        let extent = |(sin, cos): (f64, f64)| {
            s.hull.iter().map(|p| p[0] * cos + p[1] * sin).fold(f64::NEG_INFINITY, f64::max)
        };
        let in_directions: Vec<f64> = directions.clone().map(extent).collect();
        let radius = in_directions.iter().sum::<f64>() / DIRECTIONS as f64;
        let about_centroid = in_directions
            .iter()
            .zip(directions)
            .map(|(h, (sin, cos))| h - s.centroid[0] * cos - s.centroid[1] * sin);
        let (low, high) =
            about_centroid.fold((f64::INFINITY, 0.0), |(l, h): (f64, f64), x| (l.min(x), h.max(x)));
        let is_round = high - low < ROUND * radius;
        Self { z: s.z, in_directions, radius, centroid: s.centroid, area: s.area, is_round }
    }

    /// The greatest difference of the extents.
    fn to(&self, other: &Self) -> f64 {
        self.in_directions.iter().zip(&other.in_directions).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }

    /// Whether the two are those of a turned shank with a collar, a flange or a seat.
    fn is_collar(&self, other: &Self) -> bool {
        let (small, large) = (self.radius.min(other.radius), self.radius.max(other.radius));
        let apart = (self.centroid[0] - other.centroid[0]).hypot(self.centroid[1] - other.centroid[1]);
        self.is_round && other.is_round && apart < CONCENTRIC * small && large < COLLAR * small
    }
}

/// The outermost step of the sections near the root end, if there is one. `mesh` in span axes, tip outwards; `span`: its ends.
///
/// A step is an abrupt change between sections that do not change much on either side of it, with a shoulder that faces along the span.
pub(crate) fn root_step(mesh: &CleanMesh, span: (f64, f64)) -> Option<Step> {
    let whole = span.1 - span.0;
    let places: Vec<f64> = PLACES
        .iter()
        .flat_map(|[from, to, step]| {
            let count = ((to - from) / step).round() as usize;
            (0..count).map(move |k| span.0 + whole * (from + step * k as f64))
        })
        .collect();
    let extents: Vec<Extent> = slices(mesh, &places).iter().map(Extent::of).collect();
    (1..extents.len()).rev().find_map(|j| {
        let first = extents[..j].iter().position(|e| extents[j].z - e.z <= WIDEST * whole)?;
        // The narrowest pair first: the place is that of the step and nothing else.
        (first..j).rev().find_map(|i| step_between(mesh, &extents, [i, j], whole))
    })
}

/// The step between two sections, if they and what is beside them show one.
fn step_between(mesh: &CleanMesh, extents: &[Extent], [i, j]: [usize; 2], whole: f64) -> Option<Step> {
    let (before, beyond) = (&extents[i], &extents[j]);
    let (step, distance) = (before.to(beyond), beyond.z - before.z);
    let small = before.radius.min(beyond.radius);
    if step < LEAST * small || step < STEEP * distance || before.is_collar(beyond) {
        return None;
    }
    let beside = BESIDE.map(|share| distance.max(share * whole));
    let inner = extents[..i].iter().rposition(|e| beside[0] <= before.z - e.z).unwrap_or(0);
    let outer = j + extents[j..].iter().position(|e| beside[1] <= e.z - beyond.z)?;
    // Two sections at the least show that the thing has a length.
    if i < inner + 2 {
        return None;
    }
    let changes = |range: std::ops::RangeInclusive<usize>, from: &Extent| {
        range.map(|k| extents[k].to(from)).fold(0.0, f64::max)
    };
    if STEADY * step < changes(inner..=i, before) || STEADY * step < changes(j..=outer, beyond) {
        return None;
    }
    let (z, shoulder) = shoulder(mesh, before.z, beyond.z)?;
    let needed = (IS_THERE * (before.area - beyond.area).abs()).max(CRESCENT * step * small);
    (needed <= shoulder).then_some(Step { z, areas: [extents[inner].area, extents[outer].area] })
}

/// Where the triangles that face along the span lie between two places, and their area across it.
fn shoulder(mesh: &CleanMesh, from: f64, to: f64) -> Option<(f64, f64)> {
    let (mut sum, mut area) = (0.0, 0.0);
    for f in mesh.faces() {
        let z = f.iter().map(|&v| mesh.vertices()[v as usize][2]).sum::<f64>() / 3.0;
        if z < from || to < z {
            continue;
        }
        let n = normal_of(mesh, f);
        if SHOULDER * norm(n) < n[2].abs() {
            let across = 0.5 * n[2].abs();
            sum += across * z;
            area += across;
        }
    }
    (0.0 < area).then(|| (sum / area, area))
}
