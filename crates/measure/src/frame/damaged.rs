//! A propeller with a short blade: the whole does not turn into itself, but its blades still stand evenly around the axis near the hub.

use bladeform_mesh::{CleanMesh, Moments};
use bladeform_numeric::parallel;
use nalgebra::{Matrix2, Vector2};

use super::symmetry::MOST_BLADES;
use crate::band::blade::normal_of;
use crate::vector::{V3, add, cross, dot, norm, scale, sub, unit};

/// Where the blades stand evenly around an axis.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spokes {
    pub(crate) blades: usize,
    pub(crate) point: V3,
    pub(crate) direction: V3,
}

/// Distances from the axis, as fractions of the farthest, at which bodies are counted: outside of hubs, and inside of most breaks.
const COUNTED_AT: [f64; 5] = [0.25, 0.3, 0.35, 0.4, 0.45];
/// Half the width of a ring in which they are counted, as a fraction of the farthest distance: some edges of a coarse mesh.
const HALF_RING: f64 = 0.02;
/// Bodies are apart from this gap on, rad (6 deg): twelve blades 18 deg wide leave twice that.
const GAP: f64 = 0.105;
/// Their spacing is even within this part of it: swept blades that differ lie aside by some degrees.
const EVEN: f64 = 0.12;
/// Rings that must show the same number.
const LEAST_RINGS: usize = 2;
/// Rounds of the weights of the centre, and the distance, as a fraction of the size, beyond which a surface that does not point to it hardly counts.
const ROUNDS: usize = 6;
const ASIDE: f64 = 0.02;

/// Three blades or more that stand evenly around one of the principal axes, shifted to where the surface points. `every`: of so many triangles one is taken.
pub(crate) fn spokes(mesh: &CleanMesh, m: &Moments, every: usize) -> Option<Spokes> {
    // A disc is flattest along its axis.
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| m.principal_variances[a].total_cmp(&m.principal_variances[b]));
    let found = parallel::map(&order, |&axis| about(mesh, m.area_centroid, m.principal_axes[axis], every));
    found.into_iter().flatten().next()
}

/// A triangle across an axis: its middle, its normal there as long as its area.
type Facet = (Vector2<f64>, Vector2<f64>);

fn about(mesh: &CleanMesh, near: V3, direction: V3, every: usize) -> Option<Spokes> {
    let side = if direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let u = unit(sub(side, scale(direction, dot(side, direction))));
    let v = cross(direction, u);
    let facets: Vec<Facet> = mesh
        .faces()
        .iter()
        .step_by(every)
        .map(|f| {
            let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
            let d = sub(scale(add(a, add(b, c)), 1.0 / 3.0), near);
            let n = normal_of(mesh, f);
            (
                Vector2::new(dot(u, d), dot(v, d)),
                Vector2::new(dot(u, n), dot(v, n)) / norm(n).max(1e-300).sqrt(),
            )
        })
        .collect();
    let centre = centre(&facets, ASIDE * mesh.diagonal())?;
    let farthest = facets.iter().map(|(p, _)| (p - centre).norm()).fold(0.0, f64::max);
    let counts: Vec<usize> = COUNTED_AT
        .iter()
        .filter_map(|&at| even_bodies(&facets, centre, [at * farthest, HALF_RING * farthest]))
        .collect();
    let best = counts.iter().copied().max_by_key(|n| counts.iter().filter(|m| *m == n).count())?;
    let rings = counts.iter().filter(|n| **n == best).count();
    let point = add(near, add(scale(u, centre.x), scale(v, centre.y)));
    (LEAST_RINGS <= rings && (3..=MOST_BLADES).contains(&best)).then_some(Spokes {
        blades: best,
        point,
        direction,
    })
}

/// The point to which the surface runs: the sides of a blade lie along its span, so that the normal there is at right angles to the direction of the axis, and round walls about the axis
/// pull evenly to all sides. Least squares with the weights of A. E. Beaton and J. W. Tukey's kind that forget what points elsewhere.
fn centre(facets: &[Facet], aside: f64) -> Option<Vector2<f64>> {
    let mut centre = Vector2::zeros();
    for round in 0..ROUNDS {
        let (mut a, mut b) = (Matrix2::zeros(), Vector2::zeros());
        for (p, n) in facets {
            let miss = n.dot(&(p - centre)) / n.norm().max(1e-300);
            let weight = if round == 0 { 1.0 } else { 1.0 / (1.0 + (miss / aside).powi(2)).powi(2) };
            a += weight * n * n.transpose();
            b += weight * n * n.dot(p);
        }
        centre = a.cholesky()?.solve(&b);
    }
    Some(centre)
}

/// The number of bodies in a ring about a centre, if they are evenly spaced. `[at, half]`: its radius and half its width.
fn even_bodies(facets: &[Facet], centre: Vector2<f64>, [at, half]: [f64; 2]) -> Option<usize> {
    let within = facets.iter().map(|(p, _)| p - centre).filter(|d| (d.norm() - at).abs() < half);
    let mut angles: Vec<f64> = within.map(|d| d.y.atan2(d.x)).collect();
    angles.sort_by(f64::total_cmp);
    let turn = std::f64::consts::TAU;
    let next = |i: usize| if i + 1 < angles.len() { angles[i + 1] } else { angles[0] + turn };
    // A body begins after a gap and ends before the next one.
    let gaps: Vec<usize> = (0..angles.len()).filter(|&i| GAP < next(i) - angles[i]).collect();
    let n = gaps.len();
    let middles: Vec<f64> = (0..n)
        .map(|k| {
            let begin = next(gaps[k]);
            let end = angles[gaps[(k + 1) % n]];
            let end = if end < begin { end + turn } else { end };
            0.5 * (begin + end)
        })
        .collect();
    let step = turn / n as f64;
    let even = (0..n).all(|k| {
        let apart = (middles[(k + 1) % n] - middles[k]).rem_euclid(turn);
        (apart - step).abs() < EVEN * step
    });
    (2 < n && even).then_some(n)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Facets along spokes of some lengths about a centre, their normals across them.
    fn spokes_of(lengths: &[f64], centre: [f64; 2]) -> Vec<Facet> {
        let mut facets = Vec::new();
        for (k, length) in lengths.iter().enumerate() {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / lengths.len() as f64 + 0.3).sin_cos();
            for i in 1..=200 {
                let r = length * f64::from(i) / 200.0;
                for side in [-0.02, 0.02] {
                    let p = [centre[0] + r * cos - side * sin, centre[1] + r * sin + side * cos];
                    facets.push((Vector2::from(p), Vector2::new(-sin, cos)));
                }
            }
        }
        facets
    }

    #[test]
    fn the_centre_and_the_number_do_not_depend_on_one_short_blade() {
        for lengths in [vec![1.0, 0.6, 1.0], vec![1.0, 0.5, 1.0, 1.0], vec![1.0; 5]] {
            let facets = spokes_of(&lengths, [0.1, -0.07]);
            let found = centre(&facets, 0.04).unwrap();
            assert!((found - Vector2::new(0.1, -0.07)).norm() < 1e-3, "{found}");
            assert_eq!(even_bodies(&facets, found, [0.4, 0.02]), Some(lengths.len()));
        }
        // Two at 120 deg are no two blades and no three.
        let facets: Vec<Facet> = spokes_of(&[1.0, 0.05, 1.0], [0.0; 2]);
        assert_eq!(even_bodies(&facets, Vector2::zeros(), [0.4, 0.02]), None);
    }
}
