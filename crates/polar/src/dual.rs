//! Numbers that carry their derivatives: exact Jacobians without hand-written ones.
//!
//! Forward differentiation, R. E. Wengert, "A simple automatic derivative evaluation program", Communications of the ACM 7(8), 1964.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A value with its derivatives with respect to `N` variables.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dual<const N: usize> {
    pub(crate) v: f64,
    pub(crate) d: [f64; N],
}

impl<const N: usize> Dual<N> {
    pub(crate) const fn constant(v: f64) -> Self {
        Self { v, d: [0.0; N] }
    }

    /// The variable of index `i` itself.
    pub(crate) fn variable(v: f64, i: usize) -> Self {
        let mut d = [0.0; N];
        d[i] = 1.0;
        Self { v, d }
    }

    fn chain(self, v: f64, slope: f64) -> Self {
        Self { v, d: self.d.map(|d| slope * d) }
    }
    pub(crate) fn ln(self) -> Self {
        self.chain(self.v.ln(), 1.0 / self.v)
    }
    pub(crate) fn exp(self) -> Self {
        let e = self.v.exp();
        self.chain(e, e)
    }
    pub(crate) fn sqrt(self) -> Self {
        let root = self.v.sqrt();
        self.chain(root, 0.5 / root)
    }
    pub(crate) fn tanh(self) -> Self {
        let t = self.v.tanh();
        self.chain(t, 1.0 - t * t)
    }
    /// Raised to a constant power.
    pub(crate) fn pow(self, k: f64) -> Self {
        let v = self.v.powf(k);
        self.chain(v, if self.v == 0.0 { 0.0 } else { k * v / self.v })
    }
    pub(crate) fn square(self) -> Self {
        self * self
    }
    /// Maximum with a constant. Where the constant is larger the derivatives vanish.
    pub(crate) fn at_least(self, least: f64) -> Self {
        if self.v < least { Self::constant(least) } else { self }
    }
    pub(crate) fn at_most(self, most: f64) -> Self {
        if most < self.v { Self::constant(most) } else { self }
    }
}

impl<const N: usize> Add for Dual<N> {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        Self { v: self.v + o.v, d: std::array::from_fn(|i| self.d[i] + o.d[i]) }
    }
}
impl<const N: usize> Sub for Dual<N> {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        Self { v: self.v - o.v, d: std::array::from_fn(|i| self.d[i] - o.d[i]) }
    }
}
#[allow(clippy::suspicious_arithmetic_impl, reason = "the product rule")]
impl<const N: usize> Mul for Dual<N> {
    type Output = Self;
    fn mul(self, o: Self) -> Self {
        Self { v: self.v * o.v, d: std::array::from_fn(|i| self.d[i] * o.v + self.v * o.d[i]) }
    }
}
impl<const N: usize> Div for Dual<N> {
    type Output = Self;
    fn div(self, o: Self) -> Self {
        let r = 1.0 / o.v;
        let v = self.v * r;
        Self { v, d: std::array::from_fn(|i| (self.d[i] - v * o.d[i]) * r) }
    }
}
impl<const N: usize> Neg for Dual<N> {
    type Output = Self;
    fn neg(self) -> Self {
        Self { v: -self.v, d: self.d.map(|d| -d) }
    }
}
impl<const N: usize> Add<f64> for Dual<N> {
    type Output = Self;
    fn add(self, o: f64) -> Self {
        Self { v: self.v + o, d: self.d }
    }
}
impl<const N: usize> Sub<f64> for Dual<N> {
    type Output = Self;
    fn sub(self, o: f64) -> Self {
        Self { v: self.v - o, d: self.d }
    }
}
impl<const N: usize> Mul<f64> for Dual<N> {
    type Output = Self;
    fn mul(self, o: f64) -> Self {
        Self { v: self.v * o, d: self.d.map(|d| d * o) }
    }
}
impl<const N: usize> Div<f64> for Dual<N> {
    type Output = Self;
    fn div(self, o: f64) -> Self {
        self * (1.0 / o)
    }
}
impl<const N: usize> Add<Dual<N>> for f64 {
    type Output = Dual<N>;
    fn add(self, o: Dual<N>) -> Dual<N> {
        o + self
    }
}
impl<const N: usize> Sub<Dual<N>> for f64 {
    type Output = Dual<N>;
    fn sub(self, o: Dual<N>) -> Dual<N> {
        -o + self
    }
}
impl<const N: usize> Mul<Dual<N>> for f64 {
    type Output = Dual<N>;
    fn mul(self, o: Dual<N>) -> Dual<N> {
        o * self
    }
}
#[allow(clippy::suspicious_arithmetic_impl, reason = "the quotient rule")]
impl<const N: usize> Div<Dual<N>> for f64 {
    type Output = Dual<N>;
    fn div(self, o: Dual<N>) -> Dual<N> {
        let v = self / o.v;
        Dual { v, d: o.d.map(|d| -v * d / o.v) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derivatives_equal_differences() {
        let f = |x: Dual<1>| ((x.square() + 1.0).ln() * x.tanh() / (2.0 + x.exp())).sqrt() - 3.0 / x.pow(1.6);
        let (x, h) = (0.8, 1e-6);
        let difference = (f(Dual::constant(x + h)).v - f(Dual::constant(x - h)).v) / (2.0 * h);
        assert!((f(Dual::variable(x, 0)).d[0] - difference).abs() < 1e-8);
    }
}
