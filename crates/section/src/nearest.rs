//! The nearest published section: the nearest member of each family, by least squares of the distance between outlines.
//!
//! Every family may be shifted, turned and stretched as a whole in addition to its own parameters, so that only the shape is compared. The method is Gauss-Newton
//! on orthogonal distances, as in the fit of scans (S. J. Ahn, Springer LNCS 3151, 2004), with numerical derivatives by the family's own parameters.

use nalgebra::{DMatrix, DVector};

use crate::Family;
use crate::polygon::Distances;

/// A member of a family and the distance of an outline from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NearestMember {
    /// The nearest member.
    pub family: Family,
    /// Root mean square distance, in chords of the outline.
    pub rms: f64,
}

/// Number of compared points of the outline, at equal steps of their index.
const N_COMPARED: usize = 90;
/// Corners of a family's outline.
const N_CORNERS: usize = 120;
/// Iterations of the comparison. Chosen; no check of this value is on record.
const N_ROUNDS: usize = 7;
/// Step of the derivatives, chords or fractions.
const STEP: f64 = 1e-4;

/// The nearest members of the published families, the nearest first. `outline`: closed, n x 2, chords, leading edge at (0, 0), trailing edge at (1, 0), back
/// up. `thickness` and `camber`: initial ratios.
#[must_use]
pub fn nearest_sections(outline: &[[f64; 2]], thickness: f64, camber: f64) -> Vec<NearestMember> {
    let step = (outline.len() / N_COMPARED).max(1);
    let points: Vec<_> = outline.iter().copied().step_by(step).collect();
    let edge = (0.08 * thickness).clamp(0.002, 0.05);
    let starts: [(Make, Vec<f64>); 5] = [
        (four_digit, vec![camber.max(0.002), 0.4, thickness]),
        (|p| Family::ClarkY { thickness: p[0].max(LEAST) }, vec![thickness]),
        (|p| Family::Raf6 { thickness: p[0].max(LEAST) }, vec![thickness]),
        (flat_faced, vec![thickness - 2.0 * edge, edge]),
        (double_circular, vec![0.5 * thickness + camber - edge, camber - 0.5 * thickness + edge, edge]),
    ];
    let mut found: Vec<NearestMember> =
        starts.into_iter().filter_map(|(make, start)| fitted(&points, make, start)).collect();
    found.sort_by(|a, b| a.rms.total_cmp(&b.rms));
    found
}

type Make = fn(&[f64]) -> Family;

/// Least thickness or height of an arc. A smaller one has no interior.
const LEAST: f64 = 0.005;

fn four_digit(p: &[f64]) -> Family {
    Family::FourDigit {
        camber: p[0].clamp(0.0, 0.15),
        position: p[1].clamp(0.15, 0.75),
        thickness: p[2].max(LEAST),
    }
}

fn flat_faced(p: &[f64]) -> Family {
    Family::CircularArcs {
        back_height: p[0].max(LEAST),
        face_height: 0.0,
        edge_radius: p[1].clamp(5e-4, 0.1),
    }
}

fn double_circular(p: &[f64]) -> Family {
    Family::CircularArcs {
        back_height: p[0].max(LEAST),
        face_height: p[1].min(0.0),
        edge_radius: p[2].clamp(5e-4, 0.1),
    }
}

/// Numbers of a pose.
const N_POSE: usize = 4;

/// Signed distances of points from a family's outline that is shifted, turned and stretched. `pose` is the shift (2), the angle and the logarithm of
/// the stretch. The inverse is applied to the points instead.
fn distances(points: &[[f64; 2]], family: &Family, pose: &[f64]) -> Vec<f64> {
    from_posed(points, family, pose, |to_outline, local, stretch| stretch * to_outline.signed(local))
}

/// Derivatives of these distances with respect to the pose.
fn by_pose(points: &[[f64; 2]], family: &Family, pose: &[f64]) -> Vec<[f64; N_POSE]> {
    let (sin, cos) = pose[2].sin_cos();
    from_posed(points, family, pose, |to_outline, local, stretch| {
        let (distance, n) = to_outline.signed_with_direction(local);
        [
            n[1] * sin - n[0] * cos,
            -n[0] * sin - n[1] * cos,
            stretch * (n[0] * local[1] - n[1] * local[0]),
            stretch * (distance - n[0] * local[0] - n[1] * local[1]),
        ]
    })
}

/// Something of every point in the frame of a family's outline, and of the stretch.
fn from_posed<R>(
    points: &[[f64; 2]],
    family: &Family,
    pose: &[f64],
    of_point: impl Fn(&mut Distances<'_>, [f64; 2], f64) -> R,
) -> Vec<R> {
    let outline = family.outline(N_CORNERS);
    let mut to_outline = Distances::from(&outline);
    let (sin, cos) = pose[2].sin_cos();
    let stretch = pose[3].exp();
    points
        .iter()
        .map(|p| {
            let d = [p[0] - pose[0], p[1] - pose[1]];
            let local = [(d[0] * cos + d[1] * sin) / stretch, (d[1] * cos - d[0] * sin) / stretch];
            of_point(&mut to_outline, local, stretch)
        })
        .collect()
}

/// Damping. It is small and keeps a parameter unchanged on which the outline does not depend.
const DAMPING: f64 = 1e-6;

fn fitted(points: &[[f64; 2]], make: Make, start: Vec<f64>) -> Option<NearestMember> {
    let own = start.len();
    let mut p = start;
    p.extend([0.0; N_POSE]);
    let residuals = |p: &[f64]| distances(points, &make(&p[..own]), &p[own..]);
    let square = |r: &[f64]| r.iter().map(|v| v * v).sum::<f64>();
    let mut now = residuals(&p);
    for _ in 0..N_ROUNDS {
        let (n, m) = (points.len(), p.len());
        let mut jacobian = DMatrix::zeros(n, m);
        for (i, row) in by_pose(points, &make(&p[..own]), &p[own..]).into_iter().enumerate() {
            row.into_iter().enumerate().for_each(|(k, v)| jacobian[(i, own + k)] = v);
        }
        for k in 0..own {
            let mut moved = p.clone();
            moved[k] += STEP;
            for (i, (a, b)) in residuals(&moved).into_iter().zip(&now).enumerate() {
                jacobian[(i, k)] = (a - b) / STEP;
            }
        }
        let mut normal = jacobian.transpose() * &jacobian;
        (0..m).for_each(|k| normal[(k, k)] += DAMPING * n as f64);
        let gradient = jacobian.transpose() * DVector::from_column_slice(&now);
        let step = normal.cholesky()?.solve(&gradient);
        let next: Vec<f64> = p.iter().zip(step.iter()).map(|(v, s)| v - s).collect();
        let then = residuals(&next);
        // `total_cmp` also handles distances that are NaN.
        if square(&now).total_cmp(&square(&then)).is_le() {
            break;
        }
        let gained = 1.0 - square(&then) / square(&now);
        (p, now) = (next, then);
        if gained < SETTLED {
            break;
        }
    }
    let rms = (square(&now) / points.len() as f64).sqrt();
    rms.is_finite().then(|| NearestMember { family: make(&p[..own]), rms })
}

/// An iteration with a smaller relative gain ends the search.
const SETTLED: f64 = 1e-3;

#[cfg(test)]
mod tests {
    use super::*;

    /// Members are recovered from their own outlines, turned and shrunk: families by NACA Report 460, Clark Y and R.A.F. 6 by the sources in their files.
    #[test]
    fn members_are_their_own_nearest() {
        for family in [
            Family::FourDigit { camber: 0.03, position: 0.4, thickness: 0.12 },
            Family::ClarkY { thickness: 0.15 },
            Family::Raf6 { thickness: 0.08 },
            Family::CircularArcs { back_height: 0.1, face_height: 0.0, edge_radius: 0.005 },
            Family::CircularArcs { back_height: 0.07, face_height: -0.03, edge_radius: 0.005 },
        ] {
            let (sin, cos) = 0.01_f64.sin_cos();
            let turned: Vec<_> = family
                .outline(360)
                .into_iter()
                .map(|p| [0.99 * (p[0] * cos - p[1] * sin), 0.99 * (p[0] * sin + p[1] * cos)])
                .collect();
            let found = nearest_sections(&turned, 0.11, 0.03);
            let near = found[0];
            assert_eq!(
                std::mem::discriminant(&near.family),
                std::mem::discriminant(&family),
                "{}: {:?}",
                family.name(),
                found.iter().map(|l| (l.family.name(), l.rms)).collect::<Vec<_>>()
            );
            assert!(near.rms < 3e-4, "{}: {}", family.name(), near.rms);
        }
    }

    #[test]
    fn thickness_and_camber_of_a_four_digit_section_are_its_designation() {
        let outline = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 }.outline(360);
        let near = nearest_sections(&outline, 0.10, 0.03)[0];
        let Family::FourDigit { camber, position, thickness } = near.family else { panic!("{near:?}") };
        assert!(
            (camber - 0.04).abs() < 5e-4 && (position - 0.4).abs() < 0.01 && (thickness - 0.12).abs() < 5e-4
        );
    }
}
