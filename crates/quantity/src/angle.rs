//! Angles as people type them: `22.5deg`, `0.39rad`.

use crate::QuantityError;
use crate::text::{Kind, Unit};
use std::fmt;
use std::str::FromStr;

/// An angle, stored in radians.
///
/// Accepted units are `deg rad`. It prints in degrees if these read back to the same value, otherwise in radians,
/// so that the printed text always reads back to the same value.
///
/// ```
/// use bladeform_quantity::Angle;
/// let angle = Angle::parse("22.5deg").unwrap();
/// assert!((angle.rad() - std::f64::consts::PI / 8.0).abs() < 1e-15);
/// assert_eq!(angle.to_string(), "22.5deg");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Angle {
    rad: f64,
}

/// Degrees in a half turn, by definition.
const DEGREES_PER_HALF_TURN: f64 = 180.0;

const KIND: Kind = Kind {
    name: "an angle",
    units: &[Unit::new("deg", std::f64::consts::PI, DEGREES_PER_HALF_TURN), Unit::new("rad", 1.0, 1.0)],
    example: "22.5deg or 0.39rad",
};

/// Numbers of decimals tried when degrees are printed. A typed angle needs few, a computed one up to the last digit.
const DEGREE_DECIMALS: std::ops::RangeInclusive<usize> = 0..=17;

impl Angle {
    /// An angle from radians.
    #[must_use]
    pub const fn from_rad(rad: f64) -> Angle {
        Angle { rad }
    }

    /// An angle from degrees.
    #[must_use]
    pub const fn from_deg(deg: f64) -> Angle {
        Angle { rad: deg * std::f64::consts::PI / DEGREES_PER_HALF_TURN }
    }

    /// The angle in radians.
    #[must_use]
    pub const fn rad(self) -> f64 {
        self.rad
    }

    /// The angle in degrees.
    #[must_use]
    pub const fn deg(self) -> f64 {
        self.rad * DEGREES_PER_HALF_TURN / std::f64::consts::PI
    }

    /// Reads an angle such as `22.5deg`.
    ///
    /// # Errors
    /// [`QuantityError`] for a number without unit, an unknown unit, or no finite number.
    pub fn parse(text: &str) -> Result<Angle, QuantityError> {
        KIND.parse(text).map(Angle::from_rad)
    }
}

impl FromStr for Angle {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Angle, QuantityError> {
        Angle::parse(text)
    }
}

impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let deg = self.deg();
        let reads_back = |text: &String| Angle::parse(text).is_ok_and(|angle| angle == *self);
        match DEGREE_DECIMALS.map(|n| format!("{deg:.n$}deg")).find(reads_back) {
            Some(text) => f.write_str(&text),
            None => write!(f, "{}rad", self.rad),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    #[test]
    fn degrees_and_radians_agree() {
        assert!((Angle::from_deg(180.0).rad() - PI).abs() < 1e-15);
        assert!((Angle::parse("0.5rad").unwrap().deg() - 90.0 / PI).abs() < 1e-12);
        assert!((Angle::parse("-7.25 deg").unwrap().deg() + 7.25).abs() < 1e-14);
    }

    #[test]
    fn a_bare_number_is_refused_with_the_accepted_units() {
        let message = Angle::parse("22.5").unwrap_err().to_string();
        assert_eq!(message, "`22.5`: an angle needs a number and a unit (deg rad), e.g. 22.5deg or 0.39rad");
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(rad in -7.0_f64..7.0) {
            let angle = Angle::from_rad(rad);
            prop_assert_eq!(Angle::parse(&angle.to_string()).unwrap(), angle);
        }

        #[test]
        fn what_is_printed_reads_back_at_any_size(rad in proptest::num::f64::NORMAL) {
            let angle = Angle::from_rad(rad);
            prop_assert_eq!(Angle::parse(&angle.to_string()).unwrap(), angle);
        }

        #[test]
        fn typed_degrees_print_as_typed(hundredths in 0_u32..9000) {
            let text = format!("{}deg", f64::from(hundredths) / 100.0);
            prop_assert_eq!(Angle::parse(&text).unwrap().to_string(), text);
        }
    }
}
