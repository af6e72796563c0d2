//! A figure along the span as a smooth curve with errors of two kinds: independent from station to station, and correlated along the span.
//!
//! ```text
//! figure(z) = smooth blade + correlated error + independent error
//!             integrated    exp(-|dz| / L),    a u
//!             Wiener        deviation r
//!             process
//! ```
//!
//! The smooth blade is a cubic smoothing spline, that is a quadratic form of an integrated Wiener process with a straight line of unknown coefficients
//! (G. Wahba, "Spline models for observational data", SIAM, 1990, chapter 1). Prediction with such errors is universal kriging (N. A. C. Cressie, "Statistics
//! for spatial data", Wiley, 1993, section 3.4). The variances are unknown: they are averaged over their posterior, whose likelihood is that of the contrasts
//! that the straight line does not touch (restricted likelihood: H. D. Patterson, R. Thompson, "Recovery of inter-block information when block sizes are
//! unequal", Biometrika 58 (1971), 545-554).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

/// A station's figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reading {
    /// Place along the span, m.
    pub(crate) z: f64,
    /// Abscissa of the smooth blade, any unit.
    pub(crate) x: f64,
    /// The figure.
    pub(crate) value: f64,
    /// Its standard uncertainty by the fit alone, above zero.
    pub(crate) u: f64,
    /// How strongly an error of the surface works on the figure here, relative to the other stations.
    pub(crate) lever: f64,
}

/// What the stations together say about one of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Smoothed {
    /// The figure of the smooth blade.
    pub(crate) value: f64,
    /// Its standard uncertainty.
    pub(crate) u: f64,
    /// Standard deviation of the station's own figure about the smooth blade, all errors together.
    pub(crate) scatter: f64,
}

/// Correlation lengths of the correlated error, m: from the length of a band to that at which a blade's own form begins.
const LENGTHS_M: [f64; 3] = [0.012, 0.03, 0.075];
/// Deviation of the correlated error over that of the independent one.
const RATIOS: [f64; 8] = [0.0, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
/// Steps of the deviation of the smooth blade, from a straight line to one that follows every reading, a factor of 3.2 each.
const N_SMOOTH: usize = 10;
const SMOOTH_STEP: f64 = 3.2;
/// Standard deviation of the natural logarithm of `a`, the factor from the stated uncertainty to the real one, before any reading is seen: a factor of two.
const LOG_FACTOR: f64 = 0.7;
/// Values of that factor over which is averaged.
const FACTORS: [f64; 7] = [0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8];
/// Fewest readings that say anything about their errors.
pub(crate) const LEAST_READINGS: usize = 8;
/// Weights below this part of the greatest are left out.
const NEGLIGIBLE: f64 = 1e-3;

/// One set of variances but for the factor, with its likelihood for each factor.
struct Model {
    log_weights: [f64; FACTORS.len()],
    /// Covariance of the readings but for the factor's square, by its decomposition.
    cholesky: Cholesky<f64, Dyn>,
    /// Deviation of the smooth blade.
    deviation: f64,
    ratio: f64,
}

/// All readings against the smooth blade, in their order. `None` if they are too few or coincide.
pub(crate) fn smoothed(readings: &[Reading]) -> Option<Vec<Smoothed>> {
    let n = readings.len();
    if n < LEAST_READINGS {
        return None;
    }
    let (low, high) = range(readings.iter().map(|r| r.x));
    if high <= low || !(high - low).is_finite() {
        return None;
    }
    let x: Vec<f64> = readings.iter().map(|r| (r.x - low) / (high - low)).collect();
    let typical = (readings.iter().map(|r| r.u * r.u).sum::<f64>() / n as f64).sqrt();
    let (line, y) = (
        DMatrix::from_fn(n, 2, |i, k| if k == 0 { 1.0 } else { x[i] }),
        DVector::from_fn(n, |i, _| readings[i].value / typical),
    );
    let process = DMatrix::from_fn(n, n, |i, j| integrated_wiener(x[i], x[j]));
    let models = models(readings, typical, &process, &line, &y);
    let best = models.iter().flat_map(|m| m.log_weights).fold(f64::NEG_INFINITY, f64::max);
    let mut sums = vec![[0.0; 4]; n];
    let mut all = 0.0;
    for m in &models {
        // The factor changes variances alone: of all factors together only the weight and the weighted mean square count.
        let weights = m.log_weights.map(|log| (log - best).exp());
        let counted = || weights.iter().zip(FACTORS).filter(|(weight, _)| NEGLIGIBLE <= **weight);
        let weight: f64 = counted().map(|(weight, _)| weight).sum();
        if weight <= 0.0 {
            continue;
        }
        all += weight;
        let square = counted().map(|(weight, factor)| weight * factor * factor).sum::<f64>() / weight;
        add_predictions(&mut sums, [weight, square], m, readings, typical, (&process, &line, &y));
    }
    let result = sums.iter().map(|s| {
        let [value, square, variance, scatter] = s.map(|v| v / all);
        Smoothed {
            value: value * typical,
            // Spread within the models and between them.
            u: (variance + (square - value * value).max(0.0)).sqrt() * typical,
            scatter: scatter.sqrt() * typical,
        }
    });
    Some(result.collect())
}

fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
}

/// Covariance of a Wiener process integrated once, from 0: the integral of `(x - t)(y - t)` to the lesser of the two.
fn integrated_wiener(x: f64, y: f64) -> f64 {
    let (a, d) = (x.min(y), (x - y).abs());
    a * a * (a / 3.0 + 0.5 * d)
}

/// All sets of variances. Values are in typical uncertainties.
fn models(
    readings: &[Reading],
    typical: f64,
    process: &DMatrix<f64>,
    line: &DMatrix<f64>,
    y: &DVector<f64>,
) -> Vec<Model> {
    let n = readings.len();
    let lever = (readings.iter().map(|r| r.lever * r.lever).sum::<f64>() / n as f64).sqrt();
    // The smoothest blade departs from a line by about the errors, the roughest by the range of the values.
    let (low, high) = range(y.iter().copied());
    let greatest = 10.0 * (high - low).max(1.0);
    let mut models = Vec::new();
    for ratio in RATIOS {
        let lengths = if ratio == 0.0 { &LENGTHS_M[..1] } else { &LENGTHS_M[..] };
        for length in lengths {
            let error = DMatrix::from_fn(n, n, |i, j| {
                let (a, b) = (&readings[i], &readings[j]);
                let own = if i == j { (a.u / typical).powi(2) } else { 0.0 };
                let levers = a.lever * b.lever / (lever * lever);
                own + ratio * ratio * levers * (-(a.z - b.z).abs() / length).exp()
            });
            for k in 0..N_SMOOTH {
                let deviation = greatest / SMOOTH_STEP.powi(k as i32);
                let Some(cholesky) = (&error + process * (deviation * deviation)).cholesky() else {
                    continue;
                };
                let Some((half_log, square)) = restricted(&cholesky, line, y) else { continue };
                let prior = -((lengths.len() * RATIOS.len()) as f64).ln();
                let log_weights = FACTORS.map(|factor| {
                    prior
                        - half_log
                        - (n as f64 - 2.0) * factor.ln()
                        - 0.5 * square / (factor * factor)
                        - 0.5 * (factor.ln() / LOG_FACTOR).powi(2)
                });
                models.push(Model { log_weights, cholesky, deviation, ratio });
            }
        }
    }
    models
}

/// Half the logarithm of the determinants, and the weighted sum of squares about the line.
fn restricted(cholesky: &Cholesky<f64, Dyn>, line: &DMatrix<f64>, y: &DVector<f64>) -> Option<(f64, f64)> {
    let half_log: f64 = cholesky.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
    let (vx, vy) = (cholesky.solve(line), cholesky.solve(y));
    let normal = (line.transpose() * &vx).cholesky()?;
    let own: f64 = normal.l_dirty().diagonal().iter().map(|d| d.ln()).sum();
    let right = line.transpose() * &vy;
    let square = y.dot(&vy) - right.dot(&normal.solve(&right));
    Some((half_log + own, square.max(0.0)))
}

/// Adds one model's smooth blade at each reading: value, its square, its variance, and the variance of the reading's own errors. `[weight, square]`: of all factors
/// together, and their mean square.
fn add_predictions(
    sums: &mut [[f64; 4]],
    [weight, square]: [f64; 2],
    m: &Model,
    readings: &[Reading],
    typical: f64,
    (process, line, y): (&DMatrix<f64>, &DMatrix<f64>, &DVector<f64>),
) {
    let smooth = process * (m.deviation * m.deviation);
    let (vx, vy) = (m.cholesky.solve(line), m.cholesky.solve(y));
    let Some(normal) = (line.transpose() * &vx).cholesky() else { return };
    let beta = normal.solve(&(line.transpose() * &vy));
    let weighted = &vy - &vx * &beta;
    let value = line * &beta + &smooth * &weighted;
    let solved = m.cholesky.solve(&smooth);
    // What of the line the smooth blade's own part does not hold.
    let rest = line - smooth.transpose() * &vx;
    let lever = (readings.iter().map(|r| r.lever * r.lever).sum::<f64>() / readings.len() as f64).sqrt();
    for (i, sum) in sums.iter_mut().enumerate() {
        let row = rest.row(i).transpose();
        let variance =
            smooth[(i, i)] - smooth.column(i).dot(&solved.column(i)) + row.dot(&normal.solve(&row));
        let r = &readings[i];
        let scatter = (r.u / typical).powi(2) + (m.ratio * r.lever / lever).powi(2);
        for (slot, v) in
            sum.iter_mut().zip([value[i], value[i] * value[i], square * variance.max(0.0), square * scatter])
        {
            *slot += weight * v;
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

    use super::*;

    /// Seeded numbers, about normal: the sum of twelve uniform ones less six.
    fn normal(state: &mut u64) -> f64 {
        (0..12)
            .map(|_| {
                *state =
                    state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (*state >> 11) as f64 / (1u64 << 53) as f64
            })
            .sum::<f64>()
            - 6.0
    }

    fn readings(error: f64, stated: f64, seed: u64) -> Vec<Reading> {
        let mut state = seed;
        (0..24)
            .map(|k| {
                let z = 0.3 + 0.03 * f64::from(k);
                let truth = 10.0 + 4.0 * (2.0 * z).sin();
                Reading { z, x: z, value: truth + error * normal(&mut state), u: stated, lever: 1.0 }
            })
            .collect()
    }

    #[test]
    fn scatter_is_found_where_the_stated_uncertainty_is_a_tenth_of_it() {
        let found: Vec<f64> = (1..=20)
            .map(|seed| {
                let all = smoothed(&readings(0.1, 0.01, seed)).unwrap();
                all.iter().map(|s| s.scatter).sum::<f64>() / all.len() as f64
            })
            .collect();
        let mean = found.iter().sum::<f64>() / 20.0;
        assert!((0.085..0.13).contains(&mean), "{mean}");
    }

    #[test]
    fn a_smooth_blade_without_errors_keeps_its_small_uncertainty() {
        let all = smoothed(&readings(0.0, 0.01, 1)).unwrap();
        assert!(all.iter().all(|s| s.scatter < 0.012 && s.u < 0.01), "{all:?}");
    }

    const Z: [f64; 10] = [0.30, 0.34, 0.40, 0.47, 0.55, 0.60, 0.66, 0.74, 0.81, 0.90];
    const Y: [f64; 10] = [2.91, 2.74, 2.60, 2.31, 2.06, 1.80, 1.62, 1.29, 1.13, 0.72];
    const U: [f64; 10] = [0.02, 0.03, 0.02, 0.04, 0.02, 0.03, 0.05, 0.02, 0.03, 0.04];

    /// Values and standard uncertainties at the ten places for known variances: of the correlated error over 0.1 m, and of the integrated Wiener process.
    fn predicted(correlated: f64, wiener: f64) -> Vec<[f64; 2]> {
        let all: Vec<Reading> = (0..10)
            .map(|k| Reading { z: Z[k], x: (Z[k] - Z[0]) / 0.6, value: Y[k], u: U[k], lever: 1.0 })
            .collect();
        let line = DMatrix::from_fn(10, 2, |i, k| if k == 0 { 1.0 } else { all[i].x });
        let y = DVector::from_fn(10, |i, _| Y[i]);
        let process = DMatrix::from_fn(10, 10, |i, j| integrated_wiener(all[i].x, all[j].x));
        let error = DMatrix::from_fn(10, 10, |i, j| {
            let own = if i == j { U[i] * U[i] } else { 0.0 };
            own + correlated * correlated * (-(Z[i] - Z[j]).abs() / 0.1).exp()
        });
        let cholesky = (error + &process * (wiener * wiener)).cholesky().unwrap();
        let m = Model { log_weights: [0.0; FACTORS.len()], cholesky, deviation: wiener, ratio: correlated };
        let mut sums = vec![[0.0; 4]; 10];
        add_predictions(&mut sums, [1.0, 1.0], &m, &all, 1.0, (&process, &line, &y));
        sums.into_iter().map(|s| [s[0], s[2].sqrt()]).collect()
    }

    /// Generalised least squares of a general-purpose library on ten readings with correlated errors: statsmodels 0.15.0, `GLS(y, X, sigma=V).fit()`, its fitted values,
    /// their standard deviations from `normalized_cov_params`, and `ssr`.
    #[test]
    fn a_line_through_correlated_readings_is_that_of_generalised_least_squares() {
        const FITTED: [[f64; 2]; 10] = [
            [2.92381536, 0.04403995],
            [2.77863126, 0.0403031],
            [2.56085512, 0.03523746],
            [2.30678296, 0.03052699],
            [2.01641477, 0.02753305],
            [1.83493465, 0.02733199],
            [1.61715851, 0.02886026],
            [1.32679033, 0.03340076],
            [1.07271816, 0.03899552],
            [0.74605395, 0.0475149],
        ];
        for (own, other) in predicted(0.05, 0.0).iter().zip(FITTED) {
            assert!(
                (own[0] - other[0]).abs() < 2e-8 && (own[1] - other[1]).abs() < 2e-8,
                "{own:?} {other:?}"
            );
        }
        let v = DMatrix::from_fn(10, 10, |i, j| {
            let own = if i == j { U[i] * U[i] } else { 0.0 };
            own + 0.05 * 0.05 * (-(Z[i] - Z[j]).abs() / 0.1).exp()
        });
        let line = DMatrix::from_fn(10, 2, |i, k| if k == 0 { 1.0 } else { (Z[i] - Z[0]) / 0.6 });
        let (half_log, square) =
            restricted(&v.cholesky().unwrap(), &line, &DVector::from_row_slice(&Y)).unwrap();
        assert!((square - 6.42225892).abs() < 1e-7, "{square}");
        // The determinants by NumPy 2's `slogdet`.
        assert!((half_log + 22.92523236).abs() < 1e-7, "{half_log}");
    }

    /// The smoothing spline of a general-purpose library: SciPy 1.17.1, `make_smoothing_spline(x, y, w=1/u**2, lam=1/9)`.
    #[test]
    fn a_smooth_blade_with_independent_errors_is_the_smoothing_spline() {
        const SPLINE: [f64; 10] = [
            2.9048926, 2.7665784, 2.58929272, 2.34177465, 2.04795379, 1.82485358, 1.58413249, 1.3001445,
            1.10609483, 0.73310956,
        ];
        for (own, other) in predicted(0.0, 3.0).iter().zip(SPLINE) {
            assert!((own[0] - other).abs() < 2e-8, "{own:?} {other}");
        }
    }

    /// Universal kriging without correlated errors and with known variances is the smoothing spline: it reproduces a straight line.
    #[test]
    fn a_line_is_reproduced() {
        let line: Vec<_> = (0..12)
            .map(f64::from)
            .map(|z| Reading { z, x: z, value: 3.0 - 0.2 * z, u: 0.05, lever: 1.0 })
            .collect();
        for (s, r) in smoothed(&line).unwrap().iter().zip(&line) {
            assert!((s.value - r.value).abs() < 1e-6, "{s:?} {r:?}");
        }
    }
}
