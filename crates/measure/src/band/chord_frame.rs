//! The provisional chord line around a station, through the ends of the quick sections.

use crate::band::slices::Slice;
use crate::vector::median;

/// Frame of a section: leading edge, unit vector to the trailing edge, chord.
pub(crate) type SectionFrame = ([f64; 2], [f64; 2], f64);

/// Provisional chord line around a station: edges as quadratics of the distance along the span.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ChordFrame {
    leading: [[f64; 3]; 2],
    trailing: [[f64; 3]; 2],
    pub(crate) z: f64,
    pub(crate) flatness: f64,
}

impl ChordFrame {
    /// Leading edge, unit vector towards the trailing edge, and chord at a place along the span.
    pub(super) fn at(&self, z: f64) -> SectionFrame {
        let d = z - self.z;
        let value = |c: &[[f64; 3]; 2]| [0, 1].map(|k| c[k][0] + d * (c[k][1] + d * c[k][2]));
        let (a, b) = (value(&self.leading), value(&self.trailing));
        let v = [b[0] - a[0], b[1] - a[1]];
        let chord = v[0].hypot(v[1]);
        (a, [v[0] / chord, v[1] / chord], chord)
    }
}

impl ChordFrame {
    /// The chord line at `z` from the quick sections of a blade that extends over `span`: tricube-weighted quadratics through the ends of the
    /// sections (W. S. Cleveland, "Robust locally weighted regression and smoothing scatterplots", J. Am. Stat. Assoc. 74, 1979), made robust.
    /// `None` where too few sections are near.
    pub(crate) fn through(slices: &[Slice], span: (f64, f64), z: f64) -> Option<Self> {
        let reach = REACH * (span.1 - span.0);
        let near: Vec<_> = slices.iter().filter(|s| (s.z - z).abs() < reach).collect();
        if near.len() < LEAST_SECTIONS {
            return None;
        }
        let curve = |end: usize, k: usize| {
            // Sections whose edge lies in a hole are left out, as long as enough others remain.
            let place = |s: &&Slice| (s.z - z, s.ends[end][k]);
            let seen: Vec<_> = near.iter().filter(|s| s.seen[end]).map(place).collect();
            if LEAST_SEEN <= seen.len() {
                quadratic(&seen, reach)
            } else {
                quadratic(&near.iter().map(place).collect::<Vec<_>>(), reach)
            }
        };
        let closest = near.iter().min_by(|a, b| (a.z - z).abs().total_cmp(&(b.z - z).abs()))?;
        Some(Self {
            leading: [curve(0, 0)?, curve(0, 1)?],
            trailing: [curve(1, 0)?, curve(1, 1)?],
            z,
            flatness: closest.flatness,
        })
    }
}

/// Sections within this fraction of the span decide on the chord line: some ten of the quick sections.
const REACH: f64 = 0.07;
/// A quadratic has three coefficients; one section more checks them.
const LEAST_SECTIONS: usize = 4;

/// Quadratic through weighted points, constant term first: first by least absolute deviations (reweighted least squares; P. J. Huber, "Robust statistics",
/// 1981, from memory), then by least squares with what lies far off weighed down. Neighbouring outliers in the middle can still bend it.
fn quadratic(points: &[(f64, f64)], reach: f64) -> Option<[f64; 3]> {
    let near = |p: &(f64, f64)| (1.0 - (p.0.abs() / reach).powi(3)).powi(3);
    let mut weights: Vec<f64> = points.iter().map(near).collect();
    let mut c = solve_quadratic(points, &weights, reach)?;
    for round in 0..ABSOLUTE_ROUNDS + BIWEIGHT_ROUNDS {
        let rest: Vec<f64> = points.iter().map(|p| (p.1 - c[0] - p.0 * (c[1] + p.0 * c[2])).abs()).collect();
        let mut sizes = rest.clone();
        let median = median(&mut sizes);
        let bound = 6.0 * median + 1e-9 * reach;
        for ((w, p), rest) in weights.iter_mut().zip(points).zip(&rest) {
            let share = if round < ABSOLUTE_ROUNDS {
                // A deviation far below the typical one counts no more than that.
                1.0 / rest.max(0.1 * median + 1e-9 * reach)
            } else {
                (1.0 - (rest / bound).powi(2)).max(0.0).powi(2)
            };
            *w = near(p) * share;
        }
        c = solve_quadratic(points, &weights, reach)?;
    }
    Some(c)
}

/// Slices that a provisional edge is drawn through at the least.
const LEAST_SEEN: usize = 5;
/// Rounds of each kind; both settle in a few.
const ABSOLUTE_ROUNDS: usize = 12;
const BIWEIGHT_ROUNDS: usize = 3;

fn solve_quadratic(points: &[(f64, f64)], weights: &[f64], reach: f64) -> Option<[f64; 3]> {
    let (mut a, mut b) = (nalgebra::Matrix3::zeros(), nalgebra::Vector3::zeros());
    for (p, w) in points.iter().zip(weights) {
        let x = p.0 / reach;
        let row = nalgebra::Vector3::new(1.0, x, x * x);
        a += row * row.transpose() * *w;
        b += row * p.1 * *w;
    }
    let c = a.lu().solve(&b)?;
    Some([c[0], c[1] / reach, c[2] / (reach * reach)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parabola(x: f64) -> f64 {
        0.3 - 0.02 * x + 0.004 * x * x
    }

    #[test]
    fn a_quadratic_is_reproduced() {
        let points: Vec<_> = (-10..=10).map(|k| (f64::from(k), parabola(f64::from(k)))).collect();
        let c = quadratic(&points, 11.0).unwrap();
        assert!((c[0] - 0.3).abs() < 1e-10 && (c[1] + 0.02).abs() < 1e-10 && (c[2] - 0.004).abs() < 1e-10);
    }

    #[test]
    fn outliers_off_the_middle_do_not_bend_it() {
        let outlier = |k: i32| if [-8, -3, 5].contains(&k) { 5.0 } else { 0.0 };
        let points: Vec<_> =
            (-10..=10).map(|k| (f64::from(k), parabola(f64::from(k)) + outlier(k))).collect();
        let c = quadratic(&points, 11.0).unwrap();
        assert!((c[0] - 0.3).abs() < 1e-3, "{c:?}");
    }
}
