//! A few numbers that are computed together: what the processor computes of one does not wait for the others, and it may take two in one instruction.

use std::array::from_fn;
use std::ops::{Add, Div, Mul, Sub};

/// Numbers that are computed together: enough to hide the time of roots and divisions.
pub(crate) const LANES: usize = 4;

/// [`LANES`] numbers. Each has the digits that it would have alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lanes(pub(crate) [f64; LANES]);

impl Lanes {
    /// The same number everywhere.
    #[inline]
    pub(crate) const fn all(x: f64) -> Self {
        Self([x; LANES])
    }

    #[inline]
    pub(crate) fn sqrt(self) -> Self {
        Self(self.0.map(f64::sqrt))
    }

    /// The greater of either and a number.
    #[inline]
    pub(crate) fn at_least(self, least: Self) -> Self {
        Self(from_fn(|k| self.0[k].max(least.0[k])))
    }
}

impl Add for Lanes {
    type Output = Self;
    #[inline]
    fn add(self, other: Self) -> Self {
        Self(from_fn(|k| self.0[k] + other.0[k]))
    }
}

impl Sub for Lanes {
    type Output = Self;
    #[inline]
    fn sub(self, other: Self) -> Self {
        Self(from_fn(|k| self.0[k] - other.0[k]))
    }
}

impl Mul for Lanes {
    type Output = Self;
    #[inline]
    fn mul(self, other: Self) -> Self {
        Self(from_fn(|k| self.0[k] * other.0[k]))
    }
}

impl Div for Lanes {
    type Output = Self;
    #[inline]
    fn div(self, other: Self) -> Self {
        Self(from_fn(|k| self.0[k] / other.0[k]))
    }
}
