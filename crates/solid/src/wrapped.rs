//! The surface through developed sections as a B-spline surface in blade axes: wrapped on the cylinders, and fitted with as many knots as it takes.

use bladeform_numeric::bspline::{CurveFit, Knots};
use bladeform_numeric::vector::distance;

use crate::surface::BladeSurface;

/// Greatest distance from the exact surface along one parameter, m: half of what a STEP file of this crate declares for both.
const NEAR_M: f64 = 5e-9;
/// Samples per interval of the knots.
const SAMPLES: usize = 4;
/// Places along the other parameter at which the knots of one are tried.
const LINES: usize = 33;
/// Rounds in which intervals are halved. Each takes about a sixteenth of the distance; few sections near a hub begin with 1e-4 m.
const ROUNDS: usize = 6;

/// A surface in blade axes.
pub(crate) struct Wrapped {
    pub(crate) across: Knots,
    pub(crate) along: Knots,
    pub(crate) control: Vec<Vec<[f64; 3]>>,
    /// Greatest distance found between it and the exact surface, m.
    pub(crate) error_m: f64,
}

/// The wrapped surface; `None` if a coordinate is not finite.
pub(crate) fn wrapped(surface: &BladeSurface) -> Option<Wrapped> {
    let last = |knots: &Knots| knots.breaks()[knots.breaks().len() - 1];
    let end = last(&surface.along);
    let across = refined(&surface.across, 1.0, end, |u, v| surface.point(u, v))?;
    let along = refined(&surface.along, end, 1.0, |v, u| surface.point(u, v))?;
    let (fit_u, fit_v) = (fit(&across), fit(&along));
    let rows: Vec<Vec<[f64; 3]>> = fit_v
        .places()
        .iter()
        .map(|&v| curve(&fit_u, &fit_u.places().iter().map(|&u| surface.point(u, v)).collect::<Vec<_>>()))
        .collect::<Option<_>>()?;
    let mut control = vec![vec![[0.0; 3]; across.count()]; along.count()];
    for i in 0..across.count() {
        let column = curve(&fit_v, &rows.iter().map(|row| row[i]).collect::<Vec<_>>())?;
        control.iter_mut().zip(column).for_each(|(row, p)| row[i] = p);
    }
    let mut made = Wrapped { across, along, control, error_m: 0.0 };
    made.error_m = made.distance_m(surface);
    Some(made)
}

impl Wrapped {
    /// Greatest distance from the exact surface in the middle of the patches, m.
    fn distance_m(&self, surface: &BladeSurface) -> f64 {
        let middles =
            |knots: &Knots| -> Vec<f64> { knots.breaks().windows(2).map(|w| 0.5 * (w[0] + w[1])).collect() };
        let mut greatest = 0.0_f64;
        for v in middles(&self.along) {
            let (first, basis) = self.along.basis(v);
            let row: Vec<[f64; 3]> = (0..self.across.count())
                .map(|i| [0, 1, 2].map(|k| (0..4).map(|j| basis[0][j] * self.control[first + j][i][k]).sum()))
                .collect();
            for u in middles(&self.across) {
                greatest = greatest.max(distance(at(&self.across, &row, u), surface.point(u, v)));
            }
        }
        greatest
    }
}

/// Knots with which lines of constant other parameter are reproduced. `end`, `other_end`: the greatest values of both parameters; the least is 0.
fn refined(knots: &Knots, end: f64, other_end: f64, point: impl Fn(f64, f64) -> [f64; 3]) -> Option<Knots> {
    debug_assert!(knots.breaks()[0] == 0.0 && (knots.breaks()[knots.breaks().len() - 1] - end).abs() < 1e-12);
    let mut knots = knots.clone();
    for _ in 0..ROUNDS {
        let fit = fit(&knots);
        let mut off = vec![0.0_f64; knots.breaks().len() - 1];
        for line in 0..LINES {
            let other = other_end * line as f64 / (LINES - 1) as f64;
            let points: Vec<_> = fit.places().iter().map(|&t| point(t, other)).collect();
            let control = curve(&fit, &points)?;
            for (off, w) in off.iter_mut().zip(knots.breaks().windows(2)) {
                for share in [0.25, 0.5, 0.75] {
                    let t = w[0] + share * (w[1] - w[0]);
                    *off = off.max(distance(at(&knots, &control, t), point(t, other)));
                }
            }
        }
        if off.iter().all(|d| *d <= NEAR_M) {
            break;
        }
        // The error of an interval shows in its neighbours too.
        let is_near_bad = |i: usize| (i.saturating_sub(1)..(i + 2).min(off.len())).any(|j| NEAR_M < off[j]);
        let halves = knots.breaks().windows(2).enumerate().flat_map(|(i, w)| {
            let middle = is_near_bad(i).then_some(0.5 * (w[0] + w[1]));
            [Some(w[0]), middle].into_iter().flatten()
        });
        knots = Knots::clamped(halves.chain([end]).collect());
    }
    Some(knots)
}

fn fit(knots: &Knots) -> CurveFit {
    let breaks = knots.breaks();
    let inside = breaks
        .windows(2)
        .flat_map(|w| (0..SAMPLES).map(move |k| w[0] + (w[1] - w[0]) * k as f64 / SAMPLES as f64));
    CurveFit::new(knots.clone(), inside.chain([breaks[breaks.len() - 1]]).collect())
}

/// Control points of the curve through samples in space.
fn curve(fit: &CurveFit, points: &[[f64; 3]]) -> Option<Vec<[f64; 3]>> {
    let [xz, y] = [[0, 2], [1, 1]].map(|[a, b]| points.iter().map(|p| [p[a], p[b]]).collect::<Vec<_>>());
    let (xz, y) = (fit.fit(&xz)?, fit.fit(&y)?);
    Some(xz.iter().zip(&y).map(|(p, q)| [p[0], q[0], p[1]]).collect())
}

fn at(knots: &Knots, control: &[[f64; 3]], t: f64) -> [f64; 3] {
    let (first, basis) = knots.basis(t);
    [0, 1, 2].map(|k| (0..4).map(|i| basis[0][i] * control[first + i][k]).sum())
}
