//! Shifts the sections of a drawn blade so that its own axes are the ones that `docs/definitions.md` gives it.

use bladeform_numeric::vector::{cross, norm, sub};
use bladeform_section::centroid;

use super::blade::{Axis, DrawnBlade};

/// Stations over which centroids are taken.
const N_STATIONS: usize = 160;
/// Corners of their outlines.
const N_CORNERS: usize = 320;
/// Sections keep their shape when they are shifted, but the area of the surface between them changes a little: rounds.
const N_ROUNDS: usize = 3;

/// The blade with its sections shifted along `x` and `y`, each as it is, by a linear function of the radius.
pub(super) fn settled(mut blade: DrawnBlade, axis: Axis) -> DrawnBlade {
    for _ in 0..N_ROUNDS {
        match axis {
            Axis::Shank => {}
            Axis::Centroids => {
                let [at_axis, slope] = centroid_line(&blade);
                for k in 0..2 {
                    blade.shift[0][k] -= at_axis[k];
                    blade.shift[1][k] -= slope[k];
                }
            }
            Axis::Propeller => {
                let [x, y, z] = surface_centroid(&blade, 0.3);
                blade.shift[1][0] -= x / z;
                blade.shift[0][1] -= y;
            }
        }
    }
    blade
}

/// Least-squares line through the section centroids beyond half the length: `[x, y]` at the axis and for each metre of radius.
pub(super) fn centroid_line(blade: &DrawnBlade) -> [[f64; 2]; 2] {
    let from = blade.root_radius_m + 0.5 * blade.length_m();
    let step = (blade.radius_m - from) / N_STATIONS as f64;
    let stations: Vec<_> = (0..N_STATIONS)
        .map(|i| from + (i as f64 + 0.5) * step)
        .map(|r| (r, centroid(&blade.outline(r, N_CORNERS))))
        .collect();
    let n = stations.len() as f64;
    let mean = stations.iter().map(|s| s.0).sum::<f64>() / n;
    let spread: f64 = stations.iter().map(|s| (s.0 - mean).powi(2)).sum();
    let slope = [0, 1].map(|k| stations.iter().map(|(r, c)| (r - mean) * c[k]).sum::<f64>() / spread);
    let middle = [0, 1].map(|k| stations.iter().map(|(_, c)| c[k]).sum::<f64>() / n);
    [[0, 1].map(|k| middle[k] - slope[k] * mean), slope]
}

/// Centroid of the surface beyond a fraction of the tip radius, m.
pub(super) fn surface_centroid(blade: &DrawnBlade, from: f64) -> [f64; 3] {
    let ring = |i: usize| {
        // Evenly in the angle of a quarter circle: closer at the tip, where the chord vanishes.
        let s = (0.5 * std::f64::consts::PI * i as f64 / N_STATIONS as f64).sin();
        let r = blade.radius_m * (from + (1.0 - from) * s);
        (r, blade.outline(r, N_CORNERS))
    };
    let (mut sum, mut area) = ([0.0; 3], 0.0);
    let mut below = ring(0);
    for i in 1..=N_STATIONS {
        let above = ring(i);
        let n = below.1.len().min(above.1.len());
        for k in 0..n {
            let at = |ring: &(f64, Vec<[f64; 2]>), k: usize| {
                let p = ring.1[k % n];
                [p[0], p[1], ring.0]
            };
            let corners = [at(&below, k), at(&below, k + 1), at(&above, k + 1), at(&above, k)];
            let size = quad_area(&corners);
            area += size;
            for (j, total) in sum.iter_mut().enumerate() {
                *total += size * corners.iter().map(|p| p[j]).sum::<f64>() / 4.0;
            }
        }
        below = above;
    }
    sum.map(|s| s / area)
}

/// Half the length of the cross product of the diagonals.
fn quad_area(p: &[[f64; 3]; 4]) -> f64 {
    0.5 * norm(cross(sub(p[2], p[0]), sub(p[3], p[1])))
}
