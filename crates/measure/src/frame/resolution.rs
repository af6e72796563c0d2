//! Whether the numbers of a file are fine enough for what they describe.

use bladeform_mesh::RawMesh;

use crate::notice::MeasureNotice;

/// Share of the typical edge that the steps of the numbers may have. Rounding then adds less than a hundredth of an edge to the noise, which in scans
/// is some tenths of one (common practice, no source).
const COARSE: f64 = 0.02;
/// Triangles that show the typical edge.
const SAMPLED: usize = 10_000;
/// Bits after the first in a number of single precision (IEEE 754).
const SINGLE_BITS: i32 = 23;

/// A notice if all coordinates are in single precision and their steps, so far from the origin, are coarse compared with the triangles.
pub(crate) fn coarse_numbers(mesh: &RawMesh) -> Option<MeasureNotice> {
    let numbers = || mesh.vertices.iter().flatten().copied().filter(|x| x.is_finite());
    let largest = numbers().map(f64::abs).fold(0.0, f64::max);
    let edge = typical_edge(mesh)?;
    // Numbers of one size from 2^k on are 2^(k - 23) apart.
    let step = 2f64.powi(largest.log2().floor() as i32 - SINGLE_BITS);
    if largest == 0.0 || step <= COARSE * edge || numbers().any(|x| !is_single(x)) {
        return None;
    }
    Some(MeasureNotice::CoarseNumbers { largest, step: step / edge })
}

#[expect(clippy::float_cmp, reason = "single precision is recognised by a conversion without loss")]
fn is_single(x: f64) -> bool {
    f64::from(x as f32) == x
}

/// The middle edge of triangles spread over the file; of those that rounding has left one.
fn typical_edge(mesh: &RawMesh) -> Option<f64> {
    let step = mesh.faces.len().div_ceil(SAMPLED).max(1);
    let mut edges: Vec<f64> = mesh
        .faces
        .iter()
        .step_by(step)
        .flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)])
        .map(|(i, j)| {
            let (p, q) = (mesh.vertices[i as usize], mesh.vertices[j as usize]);
            (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt()
        })
        .filter(|e| e.is_finite() && 0.0 < *e)
        .collect();
    (!edges.is_empty()).then(|| crate::vector::median(&mut edges))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A strip of triangles of 2 mm edge at a distance from the origin, m.
    fn strip(at: f64, single: bool) -> RawMesh {
        let vertex = |k: usize| {
            let p = [at + 1e-3 * k as f64, 2e-3 * (k % 2) as f64 + 1e-4, 0.0];
            if single { p.map(|x| f64::from(x as f32)) } else { p }
        };
        RawMesh {
            vertices: (0..40).map(vertex).collect(),
            faces: (0..38).map(|k| [k, k + 1, k + 2]).collect(),
        }
    }

    #[test]
    fn single_precision_far_from_the_origin_is_told_and_nothing_else_is() {
        // Steps of 2^-10 m from 8192 m on.
        assert!(
            coarse_numbers(&strip(1e4, true))
                .is_some_and(|n| matches!(n, MeasureNotice::CoarseNumbers { .. }))
        );
        assert_eq!(coarse_numbers(&strip(1e4, false)), None);
        assert_eq!(coarse_numbers(&strip(10.0, true)), None);
        assert_eq!(coarse_numbers(&strip(0.0, true)), None);
    }

    #[test]
    fn without_an_edge_there_is_nothing_to_tell() {
        let point = RawMesh { vertices: vec![[f64::NAN; 3], [1e7; 3]], faces: vec![[0, 1, 1]] };
        assert_eq!(coarse_numbers(&point), None);
        assert_eq!(coarse_numbers(&RawMesh { vertices: vec![[0.0; 3]], faces: vec![[0, 0, 0]] }), None);
    }
}
