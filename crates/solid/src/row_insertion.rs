//! Adds rows where the spline through the given rows would oscillate.
//!
//! Between a tail of 0.7 mm and one of 0.1 mm the spline lets back and face cross. Next to a swelling it deviates from a cylinder. There the surface follows
//! cubics. Their slopes at the rows are those of the spline, limited so that back and face stay apart and a shank stays between its own sections. Elsewhere
//! the spline is the better estimate and is kept.

use crate::rows::Row;
use bladeform_numeric::bspline::{BreakInterpolation, Knots};
use bladeform_numeric::vector::distance_hypot;

/// Fractions of an interval at which the spline is checked. Rows are added there if it oscillates.
const PLACES: [f64; 3] = [0.25, 0.5, 0.75];
/// Smallest oscillation that counts, as a fraction of the local distance between back and face.
const SWING_OF_WIDTH: f64 = 0.02;
/// Maximum ratio of the end slope of an interval to its mean slope that guarantees a monotone cubic (F. N. Fritsch, R. E. Carlson,
/// "Monotone piecewise cubic interpolation", SIAM Journal on Numerical Analysis 17, 1980).
const STEEPEST: f64 = 3.0;
/// Maximum slope at which a distance may decrease from the end of an interval, relative to that distance per interval. With 3 a cubic just stays positive
/// (J. W. Schmidt, W. Hess, "Positivity of cubic polynomials on intervals and positive spline interpolation", BIT 28, 1988). With 2 it keeps half of the smaller end value.
const CLOSING: f64 = 2.0;

/// The rows with others added wherever the spline through them and `tip` oscillates; `None` if they are not finite. The first `rounds` rows are sections of a round shank.
///
/// Back and face are treated together, as half the sum and half the difference of two opposite points.
pub(crate) fn with_inserted_rows(
    rows: Vec<Row>,
    rounds: usize,
    tip_radius_m: f64,
    tip: [f64; 2],
) -> Option<Vec<Row>> {
    let root_m = rows[0].radius_m;
    let depth = tip_radius_m - root_m;
    let at: Vec<f64> =
        rows.iter().map(|r| 1.0 - ((tip_radius_m - r.radius_m) / depth).sqrt()).chain([1.0]).collect();
    let spline = BreakInterpolation::new(Knots::clamped(at.clone()));
    let (columns, last) = (rows[0].points.len(), rows.len() - 1);
    // For every interval except the last, which ends in a point: the rows to add, and whether they are needed.
    let mut between: Vec<[Vec<[f64; 2]>; 3]> = vec![std::array::from_fn(|_| vec![[0.0; 2]; columns]); last];
    let mut swings = vec![false; last];
    for i in 0..columns.div_ceil(2) {
        let j = columns - 1 - i;
        let half = |sign: f64, end: [f64; 2]| -> Vec<[f64; 2]> {
            let of = |r: &Row| [0, 1].map(|k| 0.5 * (r.points[i][k] + sign * r.points[j][k]));
            rows.iter().map(of).chain([end]).collect()
        };
        let (sums, differences) = (half(1.0, tip), half(-1.0, [0.0; 2]));
        let (free_sum, free_difference) = (slopes(&spline, &sums)?, slopes(&spline, &differences)?);
        let (mut held_sum, mut held_difference) = (free_sum.clone(), free_difference.clone());
        keep_apart(&at, &differences, &mut held_difference);
        keep_round(&at, &sums, &mut held_sum, rounds);
        keep_round(&at, &differences, &mut held_difference, rounds);
        for n in 0..last {
            for (place, &t) in PLACES.iter().enumerate() {
                let point = |values: &[[f64; 2]], slopes: &[[f64; 2]]| hermite(&at, values, slopes, n, t);
                let (sum, difference) = (point(&sums, &held_sum), point(&differences, &held_difference));
                let off = distance_hypot(sum, point(&sums, &free_sum))
                    .max(distance_hypot(difference, point(&differences, &free_difference)));
                swings[n] |= SWING_OF_WIDTH * difference[0].hypot(difference[1]) < off;
                between[n][place][i] = [0, 1].map(|k| sum[k] + difference[k]);
                between[n][place][j] = [0, 1].map(|k| sum[k] - difference[k]);
            }
        }
    }
    let mut made = Vec::new();
    for (n, row) in rows.into_iter().enumerate() {
        made.push(row);
        if n < last && swings[n] {
            for (place, &t) in PLACES.iter().enumerate() {
                let v = at[n] + t * (at[n + 1] - at[n]);
                let points = std::mem::take(&mut between[n][place]);
                made.push(Row { radius_m: tip_radius_m - depth * (1.0 - v) * (1.0 - v), points });
            }
        }
    }
    Some(made)
}

/// Slopes of the spline through points.
fn slopes(spline: &BreakInterpolation, points: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
    let of = |k: usize| spline.slopes(&points.iter().map(|p| p[k]).collect::<Vec<_>>());
    Some(of(0)?.into_iter().zip(of(1)?).map(|(x, y)| [x, y]).collect())
}

/// Limits slopes so that no distance between back and face vanishes between two rows.
fn keep_apart(at: &[f64], differences: &[[f64; 2]], slopes: &mut [[f64; 2]]) {
    // The last interval ends in a point.
    for n in 0..at.len() - 2 {
        let (a, b) = (differences[n], differences[n + 1]);
        let (la, lb) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
        if la <= 0.0 || lb <= 0.0 {
            continue;
        }
        let middle = [0, 1].map(|k| a[k] / la + b[k] / lb);
        let length = middle[0].hypot(middle[1]).max(f64::MIN_POSITIVE);
        let along = middle.map(|m| m / length);
        let dot = |p: [f64; 2]| p[0] * along[0] + p[1] * along[1];
        let h = at[n + 1] - at[n];
        // A difference that decreases outwards from `n`, and one that decreases inwards from `n + 1`.
        let too_steep = (-CLOSING * dot(a) / h - dot(slopes[n])).max(0.0);
        let too_steep_back = (dot(slopes[n + 1]) - CLOSING * dot(b) / h).max(0.0);
        for k in 0..2 {
            slopes[n][k] += too_steep * along[k];
            slopes[n + 1][k] -= too_steep_back * along[k];
        }
    }
}

/// Limits slopes so that each coordinate of a round shank stays between those of the adjacent rows.
fn keep_round(at: &[f64], points: &[[f64; 2]], slopes: &mut [[f64; 2]], rounds: usize) {
    for k in 0..2 {
        let chord = |n: usize| (points[n + 1][k] - points[n][k]) / (at[n + 1] - at[n]);
        for n in 0..rounds {
            let after = chord(n);
            let before = if n == 0 { after } else { chord(n - 1) };
            let most = STEEPEST * before.abs().min(after.abs());
            let slope = &mut slopes[n][k];
            *slope = if 0.0 < before * after {
                (*slope * before.signum()).clamp(0.0, most) * before.signum()
            } else {
                0.0
            };
        }
    }
}

/// Point at the fraction `t` of interval `n` on the cubics with these values and slopes.
fn hermite(at: &[f64], points: &[[f64; 2]], slopes: &[[f64; 2]], n: usize, t: f64) -> [f64; 2] {
    let (h, s) = (at[n + 1] - at[n], 1.0 - t);
    [0, 1].map(|k| {
        s * s * (1.0 + 2.0 * t) * points[n][k]
            + t * t * (1.0 + 2.0 * s) * points[n + 1][k]
            + h * t * s * (s * slopes[n][k] - t * slopes[n + 1][k])
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(n: usize, points: Vec<[f64; 2]>) -> Row {
        Row { radius_m: 0.1 * (n + 1) as f64, points }
    }

    #[test]
    fn a_tail_never_closes_between_two_stations_and_the_rows_stay() {
        let widths = [7e-3, 7e-3, 7e-4, 7e-4, 5e-3, 5e-3];
        let strip = |w: &f64| {
            vec![[1.0, 0.5 * w], [0.5, 0.1], [0.0, 0.01], [0.0, -0.01], [0.5, -0.1], [1.0, -0.5 * w]]
        };
        let rows: Vec<_> = widths.iter().enumerate().map(|(n, w)| row(n, strip(w))).collect();
        let made = with_inserted_rows(rows.clone(), 0, 1.0, [0.5, 0.0]).unwrap();
        assert!(rows.len() < made.len());
        for pair in made.windows(2) {
            assert!(pair[0].radius_m < pair[1].radius_m);
        }
        for row in &made {
            let width = row.points[0][1] - row.points[5][1];
            assert!((0.5 * 7e-4 - 1e-12..=9e-3).contains(&width), "{} {width}", row.radius_m);
        }
        assert!(rows.iter().all(|row| made.contains(row)));
    }

    #[test]
    fn a_cylinder_stays_one_beside_a_swelling_and_smooth_rows_get_no_others() {
        let square =
            |a: f64| vec![[a, 0.1 * a], [0.0, a], [-a, 0.1 * a], [-a, -0.1 * a], [0.0, -a], [a, -0.1 * a]];
        let sides = [0.1, 0.1, 0.1, 0.2, 0.25, 0.26];
        let rows: Vec<_> = sides.iter().enumerate().map(|(n, &a)| row(n, square(a))).collect();
        let made = with_inserted_rows(rows, 3, 1.0, [0.0, 0.0]).unwrap();
        for row in made.iter().filter(|r| r.radius_m <= 0.3) {
            assert!((row.points[1][1] - 0.1).abs() < 1e-15);
        }
        assert!(made.iter().filter(|r| r.radius_m < 0.3).count() > 2);
        let smooth: Vec<_> = (0..6).map(|n| row(n, square(0.3 - 0.02 * n as f64))).collect();
        assert_eq!(with_inserted_rows(smooth.clone(), 0, 1.0, [0.0, 0.0]).unwrap(), smooth);
    }
}
