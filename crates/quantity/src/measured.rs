//! A value with its standard uncertainty, combined to first order.

/// Standard uncertainty of a value that lies anywhere between -1 and 1, a rectangular distribution: `1 / sqrt 3`.
///
/// # Source
/// JCGM 100:2008, 4.3.7.
pub const RECTANGULAR: f64 = 0.577_350_269_189_625_8;

/// A value and its standard uncertainty `u`, both in the same unit.
///
/// The operations combine **uncorrelated** inputs to first order, after JCGM 100:2008 (Guide to the expression of
/// uncertainty in measurement), equation (10). The caller must treat correlated inputs.
///
/// ```
/// use bladeform_quantity::Measured;
/// let chord = Measured::new(0.150, 0.0003);
/// let radius = Measured::new(0.900, 0.0004);
/// let sum = chord.plus(radius);
/// assert_eq!(sum.value, 1.05);
/// assert!((sum.u - 0.0005).abs() < 1e-15);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// The standard uncertainty, not negative, in the unit of the value.
    pub u: f64,
}

impl Measured {
    /// A value with its standard uncertainty; the sign of `u` is dropped.
    #[must_use]
    pub const fn new(value: f64, u: f64) -> Measured {
        Measured { value, u: u.abs() }
    }

    /// A value without uncertainty.
    #[must_use]
    pub const fn exact(value: f64) -> Measured {
        Measured { value, u: 0.0 }
    }

    /// `self + other`.
    #[must_use]
    pub fn plus(self, other: Measured) -> Measured {
        Measured { value: self.value + other.value, u: root_sum_square(&[self.u, other.u]) }
    }

    /// `self - other`.
    #[must_use]
    pub fn minus(self, other: Measured) -> Measured {
        Measured { value: self.value - other.value, u: root_sum_square(&[self.u, other.u]) }
    }

    /// `self * other`.
    #[must_use]
    pub fn times(self, other: Measured) -> Measured {
        let u = root_sum_square(&[self.u * other.value, self.value * other.u]);
        Measured { value: self.value * other.value, u }
    }

    /// `self / other`; not finite if `other` is zero.
    #[must_use]
    pub fn over(self, other: Measured) -> Measured {
        let value = self.value / other.value;
        Measured { value, u: root_sum_square(&[self.u / other.value, value * other.u / other.value]) }
    }

    /// `factor * self` with an exact factor.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Measured {
        Measured { value: factor * self.value, u: (factor * self.u).abs() }
    }

    /// The value of a function of this quantity: `value` is the function value, and the derivative is with respect to this quantity.
    #[must_use]
    pub fn mapped(self, value: f64, derivative: f64) -> Measured {
        Measured { value, u: (derivative * self.u).abs() }
    }

    /// The half width of the 95 % interval, `2 u`.
    #[must_use]
    pub fn half_width_95(self) -> f64 {
        COVERAGE_FACTOR_95 * self.u
    }

    /// Whether `truth` is in the 95 % interval, including its ends.
    #[must_use]
    pub fn covers(self, truth: f64) -> bool {
        (truth - self.value).abs() <= self.half_width_95()
    }
}

/// The coverage factor of an interval of about 95 % (JCGM 100:2008, 6.3.3).
pub const COVERAGE_FACTOR_95: f64 = 2.0;

/// The square root of the sum of the squares; zero for no parts. It does not overflow for large parts.
#[must_use]
pub fn root_sum_square(parts: &[f64]) -> f64 {
    parts.iter().fold(0.0, |sum: f64, part| sum.hypot(*part))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-12 * (1.0 + b.abs())
    }

    #[test]
    fn a_sum_and_a_difference_have_the_same_uncertainty() {
        let (a, b) = (Measured::new(5.0, 0.3), Measured::new(2.0, 0.4));
        assert!(close(a.plus(b).u, 0.5) && close(a.minus(b).u, 0.5));
        assert!(close(a.plus(b).value, 7.0) && close(a.minus(b).value, 3.0));
    }

    #[test]
    fn relative_uncertainties_of_products_and_quotients_add_in_squares() {
        let (a, b) = (Measured::new(-5.0, 0.15), Measured::new(2.0, 0.08));
        let relative = root_sum_square(&[0.03, 0.04]);
        assert!(close(a.times(b).u, 10.0 * relative));
        assert!(close(a.over(b).u, 2.5 * relative));
        assert!(close(a.over(b).value, -2.5));
    }

    #[test]
    fn a_product_is_as_uncertain_as_a_drawn_sample_of_it() {
        // Two-point distributions at ± u have exactly the stated standard deviations.
        let (a, b) = (Measured::new(3.0, 0.01), Measured::new(7.0, 0.02));
        let draws: Vec<f64> = [(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)]
            .iter()
            .map(|(s, t)| (a.value + s * a.u) * (b.value + t * b.u))
            .collect();
        let mean = draws.iter().sum::<f64>() / 4.0;
        let spread = (draws.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / 4.0).sqrt();
        assert!((spread - a.times(b).u).abs() < 1e-5, "{spread} against {}", a.times(b).u);
    }

    #[test]
    fn the_interval_is_twice_the_standard_uncertainty() {
        let m = Measured::new(1.0, -0.25);
        assert!(close(m.half_width_95(), 0.5));
        assert!(m.covers(1.5) && m.covers(0.5) && !m.covers(1.51));
        assert!(close(m.scaled(-2.0).u, 0.5) && close(m.mapped(9.0, -4.0).u, 1.0));
    }
}
