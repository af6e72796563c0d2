//! Root end and tip of a lone blade along its span.

use bladeform_mesh::CleanMesh;
use bladeform_numeric::parallel;
use bladeform_quantity::RECTANGULAR;

use super::axes::span_of;
use super::noise::surface_noise;
use super::reach::overreach;
use crate::band::slices::Slice;
use crate::vector::{V3, median, norm};

/// A flat root end is looked for within this fraction of the span.
const ROOT_END: f64 = 0.02;
/// Cosine of the angle between the span and the normal of a root end, from which it counts as flat.
const FACES_INWARDS: f64 = 0.8;
/// Points that make a flat end: the median of fewer depends on chance.
const ENOUGH_FOR_A_FACE: usize = 30;

/// Outermost points that may stand on their own.
const FEW: usize = 3;

/// What an end owes to its outermost points alone, file units: the widest gap along the span between one of them and the next, as a standard uncertainty. On a round end that is a small
/// part of an edge; where a single point stands out, the end is anywhere between it and the next, or beyond.
fn by_few_points(heights: &[f64]) -> f64 {
    let mut top = [f64::NEG_INFINITY; FEW + 1];
    for h in heights {
        if top[FEW] < *h {
            top[FEW] = *h;
            top.sort_by(|a, b| b.total_cmp(a));
        }
    }
    let gaps = top.windows(2).map(|w| w[0] - w[1]).filter(|g| g.is_finite());
    RECTANGULAR * gaps.fold(0.0, f64::max)
}

/// Root end and tip along the span, and the standard uncertainties of their places, file units. A flat root end is taken at the median of its points, other ends
/// where the noise of the outermost point is expected to have pushed it from.
pub(crate) fn ends(local: &CleanMesh, normals: &[V3], slices: &[Slice]) -> ((f64, f64), [f64; 2]) {
    let (low, high) = span_of(local);
    let noise = surface_noise(local, normals, slices, (low, high));
    let heights: Vec<f64> = local.vertices().iter().map(|p| p[2]).collect();
    let at_tip = || {
        let tip = overreach(local, &heights, |_| [0.0, 0.0, 1.0], high, &noise);
        (tip.excess, tip.u.hypot(by_few_points(&heights)))
    };
    let near = low + ROOT_END * (high - low);
    let at_root = || -> Vec<f64> {
        local
            .vertices()
            .iter()
            .zip(normals)
            .filter(|(p, n)| p[2] < near && n[2] < -FACES_INWARDS * norm(**n))
            .map(|(p, _)| p[2])
            .collect()
    };
    let ((excess, tip_u), mut face) = parallel::join(at_tip, at_root);
    if face.len() < ENOUGH_FOR_A_FACE {
        let depths: Vec<f64> = heights.iter().map(|z| -z).collect();
        let root = overreach(local, &depths, |_| [0.0, 0.0, -1.0], -low, &noise);
        let root_u = root.u.hypot(by_few_points(&depths));
        return ((low + root.excess, high - excess), [root_u, tip_u]);
    }
    ((median(&mut face), high - excess), [0.0, tip_u])
}
