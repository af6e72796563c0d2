//! The number of digits with which figures are written.

use serde_json::Value;

/// Significant digits of a figure. The rounding is far below every uncertainty, and it drops the last bits, in which sums taken in
/// another order may differ.
const FIGURE_DIGITS: usize = 10;

/// Significant digits of the map from scan to blade. A scan may be kilometres away from its origin, and the
/// difference of large numbers must still be accurate to a micrometre.
const MAP_DIGITS: usize = 14;

/// Coordinates of outlines are written to 1e-8 m.
const OUTLINE_STEPS_PER_M: f64 = 1e8;

/// A coordinate beyond this, m, is written unrounded. Its steps in double precision are hardly finer than those of outlines, and the count of
/// steps could overflow.
const LARGEST_SNAPPED_M: f64 = 1e7;

/// A figure rounded as it is written.
pub(crate) fn figure(value: f64) -> f64 {
    rounded(value, FIGURE_DIGITS)
}

/// A figure as JSON, or `null` if it is missing or not finite.
pub(crate) fn figure_value(value: Option<f64>) -> Value {
    value.map_or(Value::Null, |v| Value::from(figure(v)))
}

/// An entry of the map from scan to blade as JSON.
pub(crate) fn map_value(value: f64) -> Value {
    Value::from(rounded(value, MAP_DIGITS))
}

/// A coordinate of an outline as JSON.
pub(crate) fn outline_value(value: f64) -> Value {
    Value::from(outline_coordinate(value))
}

/// A coordinate of an outline, m, rounded as it is written.
pub(crate) fn outline_coordinate(value: f64) -> f64 {
    if LARGEST_SNAPPED_M < value.abs() {
        return value;
    }
    // Adding zero makes a negative zero positive.
    (value * OUTLINE_STEPS_PER_M).round() / OUTLINE_STEPS_PER_M + 0.0
}

fn rounded(value: f64, digits: usize) -> f64 {
    if value == 0.0 || !value.is_finite() {
        // A negative zero is written as zero. A value that is not finite becomes null later.
        return value + 0.0;
    }
    // A formatted finite number can be read again, except that rounding up the very largest could overflow.
    let text = format!("{value:.*e}", digits - 1);
    text.parse().ok().filter(|v: &f64| v.is_finite()).unwrap_or(value)
}

#[cfg(test)]
#[allow(clippy::float_cmp, reason = "rounding is to exact decimal texts")]
mod tests {
    use super::*;

    #[test]
    fn figures_have_ten_digits_and_rounding_is_settled() {
        assert_eq!(figure(0.123_456_789_012_345), 0.123_456_789_0);
        assert_eq!(figure(figure(std::f64::consts::PI)), figure(std::f64::consts::PI));
        assert_eq!(figure(1e-300), 1e-300);
        assert_eq!(figure(f64::MAX), f64::MAX);
    }

    #[test]
    fn what_is_not_finite_is_null_and_zero_has_no_sign() {
        assert_eq!(figure_value(Some(f64::NAN)), Value::Null);
        assert_eq!(figure_value(Some(-0.0)).to_string(), "0.0");
        assert_eq!(outline_value(-1e-10).to_string(), "0.0");
        assert_eq!(outline_value(0.123_456_789).to_string(), "0.12345679");
        assert_eq!(outline_value(1e308), Value::from(1e308));
    }
}
