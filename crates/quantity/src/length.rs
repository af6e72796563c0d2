//! Lengths as people type them: `50in`, `1.27m`, `4ft2in`.

use crate::QuantityError;
use crate::factor::{FOOT, INCH};
use crate::shown::UnitFamily;
use crate::text::{Kind, Part, Unit, plain};
use std::fmt;
use std::str::FromStr;

/// A length, stored in metres.
///
/// Accepted units are `m mm cm in ft`, and whole feet with inches, `4ft2in` or `4ft 2.5in`; the signs `50"` and `4'2"`, and common fractions, `50 1/4in`. The inch is 25.4 mm and the foot
/// 0.3048 m exactly (international inch and foot). Negative lengths are accepted; the caller decides whether one may
/// be negative. It prints in metres, and the printed text reads back to the same value.
///
/// # Source
/// A. Thompson, B. N. Taylor, *Guide for the Use of the International System of Units*, NIST Special Publication 811,
/// 2008, appendix B.8.
///
/// ```
/// use bladeform_quantity::Length;
/// let length = Length::parse("4ft2in").unwrap();
/// assert_eq!(length, Length::parse("50in").unwrap());
/// assert_eq!(length.m(), 1.27);
/// assert_eq!(length.to_string(), "1.27m");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Length {
    m: f64,
}

/// Inches in a foot, by definition.
const INCHES_PER_FOOT: f64 = 12.0;

const KIND: Kind = Kind {
    name: "a length",
    units: &[Unit::new("m", 1.0, 1.0), Unit::new("mm", 1.0, 1000.0), Unit::new("cm", 1.0, 100.0), INCH, FOOT],
    example: "50in or 1.27m",
};

impl Length {
    /// A length from metres.
    #[must_use]
    pub const fn from_m(m: f64) -> Length {
        Length { m }
    }

    /// The length in metres.
    #[must_use]
    pub const fn m(self) -> f64 {
        self.m
    }

    /// The inch, m.
    pub const INCH_M: f64 = INCH.si();

    /// The foot, m.
    pub const FOOT_M: f64 = FOOT.si();

    /// The family of the unit in which a length was typed; `None` for a text that is no length.
    ///
    /// ```
    /// use bladeform_quantity::{Length, UnitFamily};
    /// assert_eq!(Length::family_of("9'4\""), Some(UnitFamily::Inch));
    /// assert_eq!(Length::family_of("132cm"), Some(UnitFamily::Millimetre));
    /// assert_eq!(Length::family_of("0.75"), None);
    /// ```
    #[must_use]
    pub fn family_of(text: &str) -> Option<UnitFamily> {
        Length::parse(text).ok()?;
        let plain = plain(text);
        let first = KIND.parts(&plain).ok()?.first()?.unit;
        let inch = [INCH.symbol, FOOT.symbol].contains(&first);
        Some(if inch { UnitFamily::Inch } else { UnitFamily::Millimetre })
    }

    /// The length in millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.m * 1000.0
    }

    /// Reads a length such as `50in`, `1.27m`, `4ft2in`.
    ///
    /// # Errors
    /// [`QuantityError`] for a number without unit, an unknown unit, no finite number, or parts that are not whole feet
    /// followed by inches from 0 to under 12.
    pub fn parse(text: &str) -> Result<Length, QuantityError> {
        let plain = plain(text);
        let text = plain.as_ref();
        let parts = KIND.parts(text)?;
        let m = match parts.as_slice() {
            [one] => KIND.part_in_si(text, *one)?,
            [feet, inches] if feet.unit == "ft" && inches.unit == "in" => {
                feet_and_inches(text, *feet, *inches)?
            }
            several => {
                // A part without a valid unit is the more likely mistake, so it is reported first.
                for part in several {
                    KIND.part_in_si(text, *part)?;
                }
                return Err(compound(text));
            }
        };
        Ok(Length { m })
    }
}

/// Metres from feet and inches. The sign of the feet applies to both.
fn feet_and_inches(text: &str, feet: Part<'_>, inches: Part<'_>) -> Result<f64, QuantityError> {
    // A zero after the point is still a whole number. The inches have no sign, because parts are split only at digits.
    let whole = feet.number.fract().abs() < f64::EPSILON;
    if !whole || !(0.0..INCHES_PER_FOOT).contains(&inches.number) {
        return Err(compound(text));
    }
    let total = feet.number.abs() * INCHES_PER_FOOT + inches.number;
    let m = INCH.to_si(total);
    if m.is_finite() { Ok(m.copysign(feet.number)) } else { Err(compound(text)) }
}

fn compound(text: &str) -> QuantityError {
    QuantityError::Compound { text: text.trim().to_owned() }
}

impl FromStr for Length {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Length, QuantityError> {
        Length::parse(text)
    }
}

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}m", self.m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn m(text: &str) -> f64 {
        Length::parse(text).unwrap().m()
    }

    #[test]
    fn inches_and_feet_are_read_as_a_workshop_writes_them() {
        for (text, inches) in [
            ("50\"", 50.0),
            ("9'4\"", 112.0),
            ("9\u{2032} 4\u{2033}", 112.0),
            ("4'2''", 50.0),
            ("50 1/4in", 50.25),
            ("50-1/4\"", 50.25),
            ("3/8in", 0.375),
            ("9'4 1/2\"", 112.5),
            ("-3/8in", -0.375),
            ("6'", 72.0),
        ] {
            assert!((m(text) - inches * 0.0254).abs() < 1e-12, "{text}: {}", m(text));
        }
        assert_eq!(
            message("50,5in"),
            "`50,5in`: a number has no comma here; write `50.5in` or, if thousands are meant, `505in`"
        );
        assert!(message("1/0in").contains("length") && message("50 1/in").contains("length"));
    }

    fn message(text: &str) -> String {
        Length::parse(text).unwrap_err().to_string()
    }

    #[test]
    #[allow(
        clippy::float_cmp,
        reason = "international units are exact, and the conversions correctly rounded"
    )]
    fn the_units_have_their_international_sizes() {
        assert_eq!(m("1in"), 0.0254);
        assert_eq!(m("1ft"), 0.3048);
        assert_eq!(m("50in"), 1.27);
        assert_eq!(m("108in"), 2.7432);
        assert_eq!(m("1320mm"), 1.32);
        assert_eq!(m(" 132 cm "), 1.32);
        assert_eq!(m("1.27m"), 1.27);
        assert_eq!(m("1e3mm"), 1.0);
        assert_eq!(m("-2in"), -0.0508);
    }

    #[test]
    #[allow(clippy::float_cmp, reason = "both roads end in the same whole number of inches")]
    fn feet_and_inches_join() {
        assert_eq!(m("4ft2in"), m("50in"));
        assert_eq!(m("4ft 2.5in"), m("50.5in"));
        assert_eq!(m("4 ft 2 in"), m("50in"));
        assert_eq!(m("-4ft2in"), m("-50in"));
        assert_eq!(m("0ft 6in"), m("6in"));
    }

    #[test]
    fn other_joined_parts_are_refused() {
        for text in ["4.5ft4in", "4ft12in", "4in4ft", "1m32cm", "4ft2in2in", "4ft -4in"] {
            let message = message(text);
            assert!(message.contains("4ft2in") || message.contains("is no unit"), "{text}: {message}");
        }
    }

    #[test]
    fn a_bare_number_is_refused_with_the_accepted_units_and_examples() {
        assert_eq!(
            message("50"),
            "`50`: a length needs a number and a unit (m mm cm in ft), e.g. 50in or 1.27m"
        );
        assert!(message("0").contains("needs a number and a unit"));
        assert!(message("4ft4").contains("needs a number and a unit"));
    }

    #[test]
    fn other_mistakes_say_what_is_wrong() {
        assert!(message("50inch").contains("`inch` is no unit of a length; accepted are m mm cm in ft"));
        assert!(message("1,320mm").contains("`1320mm`"), "{}", message("1,320mm"));
        assert!(message("in").contains("begins with a finite number"));
        assert!(message("").contains("begins with a finite number"));
        assert!(message("1e400m").contains("finite"));
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(m in proptest::num::f64::NORMAL | proptest::num::f64::ZERO) {
            let length = Length::from_m(m);
            prop_assert_eq!(Length::parse(&length.to_string()).unwrap(), length);
        }

        #[test]
        fn no_text_panics(text in "\\PC*") {
            let _ = Length::parse(&text);
        }

        #[test]
        fn no_text_of_the_right_letters_panics(text in "[-+0-9.e mcinft']{0,12}") {
            if let Ok(length) = Length::parse(&text) {
                prop_assert!(length.m().is_finite());
            }
        }
    }
}
