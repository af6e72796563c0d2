//! Cubic B-splines in which a section's mean line and half thickness are written.
//!
//! Source: C. de Boor, "A practical guide to splines", Springer, 1978, chapter X (recurrence), chapter XI (local support).

use std::f64::consts::PI;

use bladeform_numeric::bspline::Knots;

/// Intervals of the half thickness over the angle `theta` in 0..pi. The first reaches to `x` = 0.0096 of the chord, so that edge
/// radii down to about 0.3 % of the chord are followed; more intervals than scan points near a sharp tail would be held by the prior alone.
pub(crate) const N_THICKNESS_INTERVALS: usize = 16;
/// Coefficients of the half thickness: one for each knot from nose to tail, and one beyond the tail.
pub(crate) const N_THICKNESS: usize = N_THICKNESS_INTERVALS + 2;
/// Breaks of the mean line along the chord, closer at the nose, where mean lines bend most.
pub(crate) const MEAN_BREAKS: [f64; 16] =
    [0.0, 0.02, 0.045, 0.08, 0.13, 0.19, 0.26, 0.33, 0.40, 0.47, 0.54, 0.62, 0.70, 0.79, 0.89, 1.0];
/// Coefficients of the mean line: it vanishes at both ends of the chord, which takes the first and the last basis function away.
pub(crate) const N_MEAN: usize = MEAN_BREAKS.len();

/// Width of an interval of the half thickness, rad.
pub(crate) const STEP: f64 = PI / N_THICKNESS_INTERVALS as f64;

/// Values of a few neighbouring basis functions: `first` is the index of the coefficient of `value[0]`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Local<const DERIVATIVES: usize> {
    /// Index of the first of four coefficients; -1 or the count where a function has none.
    pub(crate) first: isize,
    /// `values[d][k]`: derivative of order `d` of the function with coefficient `first + k`.
    pub(crate) values: [[f64; 4]; DERIVATIVES],
}

impl<const D: usize> Local<D> {
    /// Sum over the functions that have a coefficient.
    pub(crate) fn sum(&self, order: usize, coefficients: &[f64]) -> f64 {
        self.entries(coefficients.len()).map(|(k, i)| self.values[order][k] * coefficients[i]).sum()
    }
    /// Pairs (place in `values`, index of coefficient) that exist.
    pub(crate) fn entries(&self, n: usize) -> impl Iterator<Item = (usize, usize)> {
        let first = self.first;
        let (begin, end) = ((-first).clamp(0, 4), (n as isize - first).clamp(0, 4));
        (begin as usize..end as usize).map(move |k| (k, (first + k as isize) as usize))
    }
}

/// The four uniform cubic functions over one interval at the local coordinate `u` in 0..1, with two derivatives with respect to `u`.
fn uniform(u: f64) -> [[f64; 4]; 3] {
    let v = 1.0 - u;
    [
        [
            v * v * v / 6.0,
            (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
            (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0,
            u * u * u / 6.0,
        ],
        [-v * v / 2.0, (3.0 * u * u - 4.0 * u) / 2.0, (4.0 * v - 3.0 * v * v) / 2.0, u * u / 2.0],
        [v, 3.0 * u - 2.0, 1.0 - 3.0 * u, u],
    ]
}

/// Basis of the half thickness at `theta` in 0..pi; it vanishes at the nose. Its slope there makes the nose's radius; its second derivative
/// is free, since the four-digit family's is not zero (the curvature of those sections has a corner at the nose).
/// Coefficient `i` belongs to the knot `i * STEP`. Returns value, first and second derivative by `theta`.
pub(crate) fn thickness_basis(theta: f64) -> Local<3> {
    let place = (theta / STEP).clamp(0.0, N_THICKNESS_INTERVALS as f64);
    let interval = (place.floor() as usize).min(N_THICKNESS_INTERVALS - 1);
    let mut values = uniform(place - interval as f64);
    let scales = [1.0, 1.0 / STEP, 1.0 / (STEP * STEP)];
    for (row, scale) in values.iter_mut().zip(scales) {
        for v in row.iter_mut() {
            *v *= scale;
        }
        if interval == 0 {
            // The coefficient of knot -1 follows from h(0) = 0: c(-1) + 4 c(0) + c(1) = 0.
            row[1] -= 4.0 * row[0];
            row[2] -= row[0];
            row[0] = 0.0;
        }
    }
    Local { first: interval as isize - 1, values }
}

/// Values of [`thickness_basis`] alone, to the last bit: most callers need no derivatives.
pub(crate) fn thickness_values(theta: f64) -> Local<1> {
    let place = (theta / STEP).clamp(0.0, N_THICKNESS_INTERVALS as f64);
    let interval = (place.floor() as usize).min(N_THICKNESS_INTERVALS - 1);
    let u = place - interval as f64;
    let v = 1.0 - u;
    let mut row = [
        v * v * v / 6.0,
        (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
        (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0,
        u * u * u / 6.0,
    ];
    if interval == 0 {
        row[1] -= 4.0 * row[0];
        row[2] -= row[0];
        row[0] = 0.0;
    }
    Local { first: interval as isize - 1, values: [row] }
}

/// The four functions of every interval of the mean line as cubics of the distance from the interval's begin, constant term first.
static MEAN_CUBICS: std::sync::LazyLock<Vec<[[f64; 4]; 4]>> = std::sync::LazyLock::new(|| {
    MEAN_BREAKS
        .windows(2)
        .map(|w| {
            // A cubic follows from value, slope and bend at its begin and its bend at another place.
            let (here, there) =
                (mean_basis_by_recurrence(w[0]), mean_basis_by_recurrence(0.5 * (w[0] + w[1])));
            std::array::from_fn(|k| {
                let [value, slope, bend] = here.values.map(|v| v[k]);
                [value, slope, bend / 2.0, (there.values[2][k] - bend) / (3.0 * (w[1] - w[0]))]
            })
        })
        .collect()
});

/// Basis of the mean line at `x` in 0..1, with two derivatives. Coefficient 0 is that of the second function of the clamped basis.
pub(crate) fn mean_basis(x: f64) -> Local<3> {
    let Local { first, values: [value, slope] } = mean_values(x);
    let (interval, begin) = mean_interval(x);
    let bend = std::array::from_fn(|k| {
        let [_, _, second, third] = MEAN_CUBICS[interval][k];
        2.0 * second + 6.0 * (x - begin) * third
    });
    Local { first, values: [value, slope, bend] }
}

/// Value and slope of [`mean_basis`].
#[inline]
pub(crate) fn mean_values(x: f64) -> Local<2> {
    let (interval, begin) = mean_interval(x);
    let d = x - begin;
    let cubics = &MEAN_CUBICS[interval];
    let value =
        std::array::from_fn(|k| cubics[k][0] + d * (cubics[k][1] + d * (cubics[k][2] + d * cubics[k][3])));
    let slope = std::array::from_fn(|k| cubics[k][1] + d * (2.0 * cubics[k][2] + 3.0 * d * cubics[k][3]));
    Local { first: interval as isize - 1, values: [value, slope] }
}

/// Intervals of the mean line.
pub(crate) const N_MEAN_INTERVALS: usize = MEAN_BREAKS.len() - 1;

/// Cubics of the mean line with these coefficients, of the distance from each interval's begin, constant term first.
pub(crate) fn mean_cubics(coefficients: &[f64]) -> [[f64; 4]; N_MEAN_INTERVALS] {
    std::array::from_fn(|interval| {
        let mut cubic = [0.0; 4];
        let begin = Local { first: interval as isize - 1, values: [[0.0; 4]] };
        for (k, i) in begin.entries(coefficients.len()) {
            for (sum, own) in cubic.iter_mut().zip(MEAN_CUBICS[interval][k]) {
                *sum += coefficients[i] * own;
            }
        }
        cubic
    })
}

/// Cubics of the half thickness with these coefficients, of the share `0..1` of each interval of width [`STEP`], constant term first.
pub(crate) fn thickness_cubics(coefficients: &[f64]) -> [[f64; 4]; N_THICKNESS_INTERVALS] {
    std::array::from_fn(|interval| {
        // The functions of [`uniform`] by powers of the share.
        let [a, b, c, d] = std::array::from_fn(|k| match (interval + k).checked_sub(1) {
            // The coefficient of knot -1 follows from h(0) = 0.
            None => -4.0 * coefficients[0] - coefficients[1],
            Some(knot) => coefficients[knot],
        });
        [(a + 4.0 * b + c) / 6.0, (c - a) / 2.0, (a - 2.0 * b + c) / 2.0, (d - a + 3.0 * (b - c)) / 6.0]
    })
}

/// Equal parts of the chord, narrower than any interval of the mean line.
const PARTS: usize = 64;

/// Interval of the mean line in which each part of the chord begins.
const INTERVAL_OF_PART: [u8; PARTS + 1] = {
    let (mut table, mut part, mut interval) = ([0; PARTS + 1], 0, 0);
    while part <= PARTS {
        while interval + 1 < N_MEAN_INTERVALS && MEAN_BREAKS[interval + 1] <= part as f64 / PARTS as f64 {
            interval += 1;
        }
        table[part] = interval as u8;
        part += 1;
    }
    table
};

/// Interval of the mean line in which `x` lies, and its begin.
#[inline]
pub(crate) fn mean_interval(x: f64) -> (usize, f64) {
    let part = (x * PARTS as f64) as usize;
    let first = usize::from(INTERVAL_OF_PART[part.min(PARTS)]);
    // At most one break lies within a part.
    let next = (first + 1).min(N_MEAN_INTERVALS - 1);
    let interval = if MEAN_BREAKS[next] <= x { next } else { first };
    (interval, MEAN_BREAKS[interval])
}

/// The same by the recurrence of de Boor.
fn mean_basis_by_recurrence(x: f64) -> Local<3> {
    let knots = Knots::clamped(MEAN_BREAKS.to_vec());
    let (interval, by_degree) = knots.by_degree(x);
    // Differences of functions of one degree less, multiplied by the degree before the division: `Knots::basis` does it after,
    // which differs in the last bit (docs/decisions/026-one-place-for-splines.md).
    let derive = |lower: &[f64; 4], degree: usize| {
        let term = |from: isize, value: f64| {
            let span = knots.knot(interval, from + degree as isize) - knots.knot(interval, from);
            degree as f64 * value / span
        };
        let mut out = [0.0; 4];
        for (k, slot) in out.iter_mut().enumerate().take(degree + 1) {
            let j = k as isize - degree as isize;
            let before = if 0 < k { term(j, lower[k - 1]) } else { 0.0 };
            let after = if k < degree { term(j + 1, lower[k]) } else { 0.0 };
            *slot = before - after;
        }
        out
    };
    let slope = derive(&by_degree[2], 3);
    // The second derivative differentiates the quadratic functions first and then combines them as the cubic ones.
    let bend = derive(&derive(&by_degree[1], 2), 3);
    Local { first: interval as isize - 1, values: [by_degree[3], slope, bend] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_alone_are_those_with_derivatives() {
        for k in 0..=1000 {
            let theta = PI * f64::from(k) / 1000.0;
            let (alone, all) = (thickness_values(theta), thickness_basis(theta));
            assert_eq!(alone.first, all.first);
            assert_eq!(alone.values[0].map(f64::to_bits), all.values[0].map(f64::to_bits), "{theta}");
        }
    }

    #[test]
    fn intervals_of_the_mean_line_are_found() {
        let steps = (-10..=10_010).map(|i| f64::from(i) / 10_000.0);
        for x in steps.chain(MEAN_BREAKS).chain(MEAN_BREAKS.map(f64::next_down)) {
            let sought = MEAN_BREAKS.partition_point(|&b| b <= x).saturating_sub(1).min(N_MEAN_INTERVALS - 1);
            assert_eq!(mean_interval(x).0, sought, "{x}");
        }
    }

    fn check(basis: impl Fn(f64) -> Local<3>, n: usize, at: &[f64]) {
        let c: Vec<f64> = (0..n).map(|i| ((i * 7 + 3) % 5) as f64 - 2.0).collect();
        for &x in at {
            let e = 1e-5;
            let (a, b, m) = (basis(x - e).sum(0, &c), basis(x + e).sum(0, &c), basis(x).sum(0, &c));
            assert!(((b - a) / (2.0 * e) - basis(x).sum(1, &c)).abs() < 1e-4, "slope at {x}");
            assert!(
                ((b - 2.0 * m + a) / (e * e) - basis(x).sum(2, &c)).abs()
                    < 2e-2 * (1.0 + basis(x).sum(2, &c).abs()),
                "bend at {x}"
            );
        }
    }

    #[test]
    fn derivatives_are_those_of_the_value() {
        check(thickness_basis, N_THICKNESS, &[0.05, 0.3, 1.0, 2.0, 3.1]);
        check(mean_basis, N_MEAN, &[0.01, 0.05, 0.2, 0.5, 0.97]);
    }

    #[test]
    fn functions_sum_to_one_inside_and_vanish_at_the_ends() {
        let inner: f64 = mean_basis(0.5).values[0].iter().sum();
        assert!((inner - 1.0).abs() < 1e-12);
        assert!(mean_basis(0.0).sum(0, &[1.0; N_MEAN]).abs() < 1e-12);
        assert!(mean_basis(1.0).sum(0, &[1.0; N_MEAN]).abs() < 1e-12);
        assert!(thickness_basis(0.0).sum(0, &[1.0; N_THICKNESS]).abs() < 1e-12);
    }
}
