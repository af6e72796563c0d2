//! Powers as people type them: `240hp`, `179kW`.

use crate::QuantityError;
use crate::factor::HORSEPOWER;
use crate::shown::PowerUnit;
use crate::text::{Kind, Unit};
use std::fmt;
use std::str::FromStr;

/// A power, stored in watts.
///
/// Accepted units are `W kW hp`. The horsepower is the mechanical one of 550 foot-pounds-force per second, 745.69987 W. The
/// metric one (735.5 W) is not accepted under this name. It prints in watts, and the printed text reads back to the same value.
///
/// # Source
/// A. Thompson, B. N. Taylor, NIST Special Publication 811, 2008, appendix B.8, "horsepower (550 ft·lbf/s)".
///
/// ```
/// use bladeform_quantity::Power;
/// assert!((Power::parse("1hp").unwrap().w() - 745.69987).abs() < 1e-5);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Power {
    w: f64,
}

const KIND: Kind = Kind {
    name: "a power",
    units: &[Unit::new("W", 1.0, 1.0), Unit::new("kW", 1000.0, 1.0), HORSEPOWER],
    example: "240hp or 179kW",
};

impl Power {
    /// A power from watts.
    #[must_use]
    pub const fn from_w(w: f64) -> Power {
        Power { w }
    }

    /// The power in watts.
    #[must_use]
    pub const fn w(self) -> f64 {
        self.w
    }

    /// The unit in which a power was typed; `None` for a text that is no power.
    ///
    /// ```
    /// use bladeform_quantity::{Power, PowerUnit};
    /// assert_eq!(Power::unit_of("240hp"), Some(PowerUnit::Horsepower));
    /// ```
    #[must_use]
    pub fn unit_of(text: &str) -> Option<PowerUnit> {
        Power::parse(text).ok()?;
        let hp = text.trim().ends_with(HORSEPOWER.symbol);
        Some(if hp { PowerUnit::Horsepower } else { PowerUnit::Kilowatt })
    }

    /// Reads a power such as `240hp`.
    ///
    /// # Errors
    /// [`QuantityError`] for a number without unit, an unknown unit, or no finite number.
    pub fn parse(text: &str) -> Result<Power, QuantityError> {
        KIND.parse(text).map(Power::from_w)
    }
}

impl FromStr for Power {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Power, QuantityError> {
        Power::parse(text)
    }
}

impl fmt::Display for Power {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}W", self.w)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_units_have_their_sizes() {
        assert!((Power::parse("240hp").unwrap().w() - 240.0 * 745.699_871_582_27).abs() < 1e-6);
        assert!((Power::parse("2.5kW").unwrap().w() - 2500.0).abs() < 1e-12);
        assert!((Power::parse("7W").unwrap().w() - 7.0).abs() < 1e-15);
    }

    #[test]
    fn another_horsepower_and_a_bare_number_are_refused() {
        assert!(Power::parse("300PS").unwrap_err().to_string().contains("accepted are W kW hp"));
        assert!(Power::parse("300").unwrap_err().to_string().contains("needs a number and a unit"));
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(value in proptest::num::f64::NORMAL) {
            let power = Power::from_w(value);
            prop_assert_eq!(Power::parse(&power.to_string()).unwrap(), power);
        }
    }
}
