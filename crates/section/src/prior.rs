//! The prior on blade sections: how strongly their mean line and thickness may bend.
//!
//! The prior keeps the fit well-posed where there are few points (a hole, the tail). Elsewhere the scan dominates.
//! It is a Gaussian prior on the third derivative (a smoothing spline in the sense of G. Wahba, "Spline models for observational data",
//! SIAM, 1990, chapter 1), with roughness constants that were compared with the published families.

use nalgebra::DMatrix;

use crate::basis::{MEAN_BREAKS, N_MEAN, N_THICKNESS, N_THICKNESS_INTERVALS, STEP, mean_basis};
use crate::shape::{FIRST_MEAN, FIRST_THICKNESS, N_PARAMETERS};

/// Plausible third derivative of the half thickness with respect to `t`, chords per rad^3, away from the edges. A four-digit section of 12 % has at most
/// 0.06, thick wooden sections have three times that.
const THICKNESS_ROUGHNESS: f64 = 0.3;
/// The same in the three intervals next to each edge, where a radius may begin anywhere.
const EDGE_ROUGHNESS: f64 = 1.0;
/// Number of those intervals. Chosen; no check of this value is on record.
const N_EDGE_INTERVALS: usize = 3;
/// Plausible derivative of the half thickness with respect to `t` at the end of the tail, chords per rad: 0 for a wedge or a flat end, -0.05 for a tail rounded
/// with 0.5 % of the chord.
const TAIL_SLOPE: f64 = 0.03;
/// Plausible third derivative of the mean line with respect to `x`, per chord squared. The second derivative of a four-digit mean line jumps by 0.3 over
/// an interval of 0.13, which gives 2.
const MEAN_ROUGHNESS: f64 = 2.0;
/// The same between the first inscribed circle of the nose and [`NOSE_REACH`] of its radii: the mean line of a flat-faced section has the form of an S there
/// (Clark Y, radius 0.014: second derivative from 8 to -4 within 0.03). The unit is the inverse radius, because the S is wider on thicker sections.
const NOSE_ROUGHNESS: f64 = 4.0;
/// Reach of the larger roughness, in radii of the first inscribed circle. Chosen; no check of this value is on record.
const NOSE_REACH: f64 = 4.0;
/// Plausible second derivative of the mean line ahead of its first inscribed circle, per chord, where it is a linear extrapolation by definition.
/// A four-digit mean line of 4 % has 0.5.
const NOSE_BEND: f64 = 0.5;
/// Nose radius over the square of the thickness ratio (four-digit sections: 1.1019, NACA Report 460).
const NOSE_RADIUS: f64 = 1.1019;
/// Plausible change over half the band, as a fraction of the plausible value.
const SLOPE_SHARE: f64 = 0.3;
/// Loose bound, chords, that only keeps the equations solvable where there is no point.
const LOOSE: f64 = 1.0;
/// Plausible change of a coefficient over half the band, chords.
const LOOSE_SLOPE: f64 = 0.02;

/// Precision matrix (inverse square chords) of the parameters (first `N_PARAMETERS`) and of their change over half the band (the rest),
/// for a section of about this thickness ratio.
pub(crate) fn precision(thickness_ratio: f64) -> DMatrix<f64> {
    let n = N_PARAMETERS;
    let mut value = DMatrix::zeros(n, n);
    add_mean(&mut value, (NOSE_RADIUS * thickness_ratio * thickness_ratio).clamp(0.003, 0.15));
    add_thickness(&mut value);
    let mut q = DMatrix::zeros(2 * n, 2 * n);
    for i in 0..n {
        for j in 0..n {
            q[(i, j)] = value[(i, j)];
            q[(n + i, n + j)] = value[(i, j)] / (SLOPE_SHARE * SLOPE_SHARE);
        }
        q[(i, i)] += LOOSE.powi(-2);
        q[(n + i, n + i)] += LOOSE_SLOPE.powi(-2);
    }
    q
}

fn add_mean(q: &mut DMatrix<f64>, nose_radius: f64) {
    for w in MEAN_BREAKS.windows(2) {
        let (middle, width) = (0.5 * (w[0] + w[1]), w[1] - w[0]);
        // Ahead of the first circle the mean line is extrapolated. Its S is behind the circle.
        let roughness = if (nose_radius..NOSE_REACH * nose_radius).contains(&middle) {
            NOSE_ROUGHNESS / nose_radius
        } else {
            MEAN_ROUGHNESS
        };
        // The second derivative of a cubic is linear in an interval, so the third follows from two values.
        let (a, b) = (mean_basis(w[0] + 0.25 * width), mean_basis(w[0] + 0.75 * width));
        let third: Vec<_> =
            a.entries(N_MEAN).map(|(k, i)| (i, (b.values[2][k] - a.values[2][k]) / (0.5 * width))).collect();
        add_square(q, FIRST_MEAN, &third, width / (roughness * roughness));
    }
    for k in 0..N_NOSE_PLACES {
        let at = mean_basis(nose_radius * (k as f64 + 0.5) / N_NOSE_PLACES as f64);
        let second: Vec<_> = at.entries(N_MEAN).map(|(k, i)| (i, at.values[2][k])).collect();
        add_square(q, FIRST_MEAN, &second, 1.0 / (NOSE_BEND * NOSE_BEND * N_NOSE_PLACES as f64));
    }
}

/// Positions ahead of the first inscribed circle at which the curvature is constrained.
const N_NOSE_PLACES: usize = 8;

fn add_thickness(q: &mut DMatrix<f64>) {
    for interval in 0..N_THICKNESS_INTERVALS {
        let edge = !(N_EDGE_INTERVALS..N_THICKNESS_INTERVALS - N_EDGE_INTERVALS).contains(&interval);
        let roughness = if edge { EDGE_ROUGHNESS } else { THICKNESS_ROUGHNESS };
        let mut third = Vec::with_capacity(5);
        for (k, weight) in [-1.0, 3.0, -3.0, 1.0].into_iter().enumerate() {
            let weight = weight / STEP.powi(3);
            match (interval + k).checked_sub(1) {
                // Knot -1 follows from h(0) = 0.
                None => third.extend([(0, -4.0 * weight), (1, -weight)]),
                Some(knot) => third.push((knot, weight)),
            }
        }
        debug_assert!(third.iter().all(|&(i, _)| i < N_THICKNESS));
        add_square(q, FIRST_THICKNESS, &third, STEP / (roughness * roughness));
    }
    let slope = [(N_THICKNESS - 3, -0.5 / STEP), (N_THICKNESS - 1, 0.5 / STEP)];
    add_square(q, FIRST_THICKNESS, &slope, TAIL_SLOPE.powi(-2));
}

/// Adds `weight` times the square of a linear form to the quadratic form.
fn add_square(q: &mut DMatrix<f64>, first: usize, form: &[(usize, f64)], weight: f64) {
    for &(i, a) in form {
        for &(j, b) in form {
            q[(first + i, first + j)] += weight * a * b;
        }
    }
}
