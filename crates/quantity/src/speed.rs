//! Speeds as people type them: `120mph`, `54m/s`.

use crate::QuantityError;
use crate::factor::{FOOT_PER_SECOND, KILOMETRE_PER_HOUR, KNOT, MILE_PER_HOUR};
use crate::shown::SpeedUnit;
use crate::text::{Kind, Unit};
use std::fmt;
use std::str::FromStr;

/// A speed, stored in metres per second.
///
/// Accepted units are `m/s km/h mph kt ft/s`: the international mile of 1609.344 m, the international foot, and the knot of
/// 1852 m per hour. It prints in metres per second, and the printed text reads back to the same value.
///
/// # Source
/// A. Thompson, B. N. Taylor, NIST Special Publication 811, 2008, appendix B.8 (mile, foot, knot); ISO 80000-3 (knot).
///
/// ```
/// use bladeform_quantity::Speed;
/// assert_eq!(Speed::parse("120mph").unwrap().m_per_s(), 53.6448);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Speed {
    m_per_s: f64,
}

const KIND: Kind = Kind {
    name: "a speed",
    units: &[Unit::new("m/s", 1.0, 1.0), KILOMETRE_PER_HOUR, MILE_PER_HOUR, KNOT, FOOT_PER_SECOND],
    example: "120mph or 54m/s",
};

impl Speed {
    /// A speed from metres per second.
    #[must_use]
    pub const fn from_m_per_s(m_per_s: f64) -> Speed {
        Speed { m_per_s }
    }

    /// The speed in metres per second.
    #[must_use]
    pub const fn m_per_s(self) -> f64 {
        self.m_per_s
    }

    /// The unit in which a speed was typed; `None` for a text that is no speed.
    ///
    /// ```
    /// use bladeform_quantity::{Speed, SpeedUnit};
    /// assert_eq!(Speed::unit_of("120mph"), Some(SpeedUnit::MilePerHour));
    /// ```
    #[must_use]
    pub fn unit_of(text: &str) -> Option<SpeedUnit> {
        Speed::parse(text).ok()?;
        let found = [
            (KILOMETRE_PER_HOUR, SpeedUnit::KilometrePerHour),
            (MILE_PER_HOUR, SpeedUnit::MilePerHour),
            (KNOT, SpeedUnit::Knot),
            (FOOT_PER_SECOND, SpeedUnit::FootPerSecond),
        ];
        let found = found.into_iter().find(|(unit, _)| text.trim().ends_with(unit.symbol));
        Some(found.map_or(SpeedUnit::MetrePerSecond, |(_, unit)| unit))
    }

    /// Reads a speed such as `120mph`.
    ///
    /// # Errors
    /// [`QuantityError`] for a number without unit, an unknown unit, or no finite number.
    pub fn parse(text: &str) -> Result<Speed, QuantityError> {
        KIND.parse(text).map(Speed::from_m_per_s)
    }
}

impl FromStr for Speed {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Speed, QuantityError> {
        Speed::parse(text)
    }
}

impl fmt::Display for Speed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}m/s", self.m_per_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_units_have_their_sizes() {
        let cases = [
            ("36km/h", 10.0),
            ("1kt", 1852.0 / 3600.0),
            ("1mph", 1609.344 / 3600.0),
            ("10ft/s", 3.048),
            ("0m/s", 0.0),
        ];
        for (text, expected) in cases {
            let speed = Speed::parse(text).unwrap().m_per_s();
            assert!((speed - expected).abs() < 1e-15, "{text}: {speed}");
        }
    }

    #[test]
    fn a_bare_number_is_refused_with_the_accepted_units() {
        let message = Speed::parse("120").unwrap_err().to_string();
        assert_eq!(
            message,
            "`120`: a speed needs a number and a unit (m/s km/h mph kt ft/s), e.g. 120mph or 54m/s"
        );
        assert!(Speed::parse("130 knots").unwrap_err().to_string().contains("`knots` is no unit of a speed"));
        assert!(Speed::parse("1kt2kt").unwrap_err().to_string().contains("no unit of a speed"));
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(value in proptest::num::f64::NORMAL) {
            let speed = Speed::from_m_per_s(value);
            prop_assert_eq!(Speed::parse(&speed.to_string()).unwrap(), speed);
        }
    }
}
