//! Chi-square as a normal deviate, and the value that chance exceeds in one of twenty cases.
//!
//! # Source
//! The cube root of chi-square over its degrees of freedom `n` is nearly normal with mean `1 - 2/(9n)` and variance `2/(9n)`: E. B. Wilson, M. M. Hilferty,
//! "The distribution of chi-square", Proceedings of the National Academy of Sciences 17 (1931), 684-688.

/// Normal deviate below which 95 % lie.
const ONE_SIDED: f64 = 1.644_853_627;
/// Normal deviate below which 97.5 % lie.
const TWO_SIDED: f64 = 1.959_963_985;

/// A chi-square with `freedom` degrees of freedom (above 0, not necessarily whole) as a standard normal deviate. Within 0.02 in the upper twentieth.
#[must_use]
pub fn normal_deviate(chi_square: f64, freedom: f64) -> f64 {
    let variance = 2.0 / (9.0 * freedom);
    ((chi_square / freedom).cbrt() - (1.0 - variance)) / variance.sqrt()
}

/// The chi-square that chance exceeds in one of twenty cases; infinite without degrees of freedom. Exact for one (the square of a normal deviate) and two (an exponential
/// distribution), otherwise by the cube root, within 0.6 %.
#[must_use]
pub fn one_in_twenty(freedom: f64) -> f64 {
    let is = |n: f64| (freedom - n).abs() < 1e-12;
    if freedom <= 0.0 {
        f64::INFINITY
    } else if is(1.0) {
        TWO_SIDED.powi(2)
    } else if is(2.0) {
        -2.0 * 0.05_f64.ln()
    } else {
        let variance = 2.0 / (9.0 * freedom);
        freedom * (1.0 - variance + ONE_SIDED * variance.sqrt()).powi(3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Upper 5 % points of chi-square: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4.
    const TABLE: [(f64, f64); 7] = [
        (1.0, 3.841),
        (2.0, 5.991),
        (3.0, 7.815),
        (5.0, 11.070),
        (10.0, 18.307),
        (30.0, 43.773),
        (100.0, 124.342),
    ];

    #[test]
    fn limits_are_those_of_the_published_table() {
        for (freedom, published) in TABLE {
            let found = one_in_twenty(freedom);
            assert!((found / published - 1.0).abs() < 0.006, "{freedom}: {found}");
            assert!((normal_deviate(published, freedom) - ONE_SIDED).abs() < 0.05, "{freedom}");
        }
        assert!(one_in_twenty(0.0).is_infinite());
    }
}
