//! Ranges as people type them: `first:last:step`.

use crate::QuantityError;
use crate::text::leading_number;
use std::fmt;
use std::str::FromStr;

/// A range `first:last:step`. The last value is included if the steps reach it within rounding.
///
/// ```
/// use bladeform_quantity::Range;
/// let range = Range::parse("0.2:0.4:0.05").unwrap();
/// assert_eq!(range.values().collect::<Vec<_>>(), [0.2, 0.25, 0.3, 0.35, 0.4]);
/// assert_eq!(Range::parse("0:5:2").unwrap().values().last(), Some(4.0));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    first: f64,
    last: f64,
    step: f64,
    len: usize,
}

/// Maximum number of values of a range. More is probably a typing error.
pub const MOST_RANGE_VALUES: usize = 100_000;

/// Tolerance, in steps, for the last value to count as a whole number of steps. The rounding error of
/// [`MOST_RANGE_VALUES`] decimal steps is well below it.
const LAST_STEP_SLACK: f64 = 1e-6;

/// Values are rounded to this many decimals below the largest number of the range: `0.2 + 3 * 0.05` is then `0.35`.
const DECIMALS_BELOW_LARGEST: i32 = 14;

impl Range {
    /// Reads `first:last:step`. The step may be negative if the last value is below the first.
    ///
    /// # Errors
    /// [`QuantityError`] if the text is not three finite numbers, the step is 0 or has the wrong sign, or there are
    /// more than [`MOST_RANGE_VALUES`] values.
    pub fn parse(text: &str) -> Result<Range, QuantityError> {
        let text = text.trim();
        let numbers: Vec<Option<f64>> = text.split(':').map(finite_number).collect();
        let [Some(first), Some(last), Some(step)] = numbers[..] else {
            return Err(QuantityError::Range { text: text.to_owned() });
        };
        let steps = (last - first) / step;
        // A step of zero gives an infinite or undefined number of steps.
        if step == 0.0 || steps.is_nan() || steps < 0.0 {
            return Err(QuantityError::RangeStep { text: text.to_owned(), first, last, step });
        }
        if steps + LAST_STEP_SLACK >= MOST_RANGE_VALUES as f64 {
            return Err(QuantityError::RangeLength { text: text.to_owned(), most: MOST_RANGE_VALUES });
        }
        let len = (steps + LAST_STEP_SLACK).floor() as usize + 1;
        Ok(Range { first, last, step, len })
    }

    /// The first value.
    #[must_use]
    pub const fn first(&self) -> f64 {
        self.first
    }

    /// The requested last value. The values end at or before it.
    #[must_use]
    pub const fn last(&self) -> f64 {
        self.last
    }

    /// The step.
    #[must_use]
    pub const fn step(&self) -> f64 {
        self.step
    }

    /// The number of values, at least 1.
    #[must_use]
    #[allow(clippy::len_without_is_empty, reason = "a range has at least its first value")]
    pub const fn len(&self) -> usize {
        self.len
    }

    /// The values, beginning with the first.
    pub fn values(self) -> impl ExactSizeIterator<Item = f64> {
        (0..self.len).map(move |k| self.value(k))
    }

    fn value(&self, k: usize) -> f64 {
        let plain = self.first + k as f64 * self.step;
        if k == 0 || (plain - self.last).abs() <= LAST_STEP_SLACK * self.step.abs() {
            return if k == 0 { self.first } else { self.last };
        }
        let largest = self.first.abs().max(self.last.abs()).max(self.step.abs());
        let decimals = DECIMALS_BELOW_LARGEST - largest.log10().ceil() as i32;
        match usize::try_from(decimals) {
            // A formatted finite number always reads back, so the fallback value is never used.
            Ok(decimals) => format!("{plain:.decimals$}").parse().unwrap_or(plain),
            Err(_) => plain,
        }
    }
}

fn finite_number(text: &str) -> Option<f64> {
    leading_number(text.trim()).filter(|(_, rest)| rest.is_empty()).map(|(number, _)| number)
}

impl FromStr for Range {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Range, QuantityError> {
        Range::parse(text)
    }
}

impl fmt::Display for Range {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}", self.first, self.last, self.step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn values(text: &str) -> Vec<f64> {
        Range::parse(text).unwrap().values().collect()
    }

    #[test]
    fn the_last_value_is_met_within_rounding() {
        let advance = values("0.2:1.2:0.05");
        assert_eq!(advance.len(), 21);
        assert_eq!(&advance[..4], &[0.2, 0.25, 0.3, 0.35]);
        assert_eq!(advance.last(), Some(&1.2));
        assert_eq!(values("0:1:0.1").len(), 11);
        assert_eq!(values("0:60:1").len(), 61);
        assert_eq!(values("0:1:0.3"), [0.0, 0.3, 0.6, 0.9]);
    }

    #[test]
    fn a_range_may_fall_or_hold_one_value() {
        assert_eq!(values("1:0:-0.5"), [1.0, 0.5, 0.0]);
        assert_eq!(values("5:5:1"), [5.0]);
        assert_eq!(values("5:5.5:1"), [5.0]);
    }

    #[test]
    fn steps_that_lead_nowhere_are_refused() {
        for text in ["0:1:0", "1:1:0", "0:1:-0.1", "1:0:0.1"] {
            assert!(matches!(Range::parse(text), Err(QuantityError::RangeStep { .. })), "{text}");
        }
    }

    #[test]
    fn what_is_not_three_numbers_is_refused() {
        for text in ["", "1", "1:2", "1:2:3:4", "a:b:c", "0:nan:1", "0:inf:1", "0:60deg:1", "::"] {
            assert!(matches!(Range::parse(text), Err(QuantityError::Range { .. })), "{text}");
        }
    }

    #[test]
    fn the_number_of_values_is_bounded() {
        assert_eq!(Range::parse("1:100000:1").unwrap().len(), MOST_RANGE_VALUES);
        assert!(matches!(Range::parse("0:100000:1"), Err(QuantityError::RangeLength { .. })));
        assert!(matches!(Range::parse("0:1:1e-300"), Err(QuantityError::RangeLength { .. })));
        assert!(matches!(Range::parse("-1e308:1e308:1"), Err(QuantityError::RangeLength { .. })));
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(first in -1e3_f64..1e3, span in 0.0_f64..1e3, step in 0.1_f64..1e2, falls: bool) {
            let sign = if falls { -1.0 } else { 1.0 };
            let text = format!("{first}:{}:{}", first + sign * span, sign * step);
            let range = Range::parse(&text).unwrap();
            prop_assert_eq!(Range::parse(&range.to_string()).unwrap(), range);
            prop_assert_eq!(range.values().len(), range.len());
        }

        #[test]
        fn values_stay_between_first_and_last_and_are_steps_apart(first in -50_i32..50, count in 1_usize..300, step in 1_u32..100) {
            let (first, step) = (f64::from(first) / 10.0, f64::from(step) / 100.0);
            let last = first + step * (count as f64 - 1.0);
            let values = values(&format!("{first}:{last}:{step}"));
            prop_assert_eq!(values.len(), count);
            for (k, value) in values.iter().enumerate() {
                prop_assert!((value - (first + k as f64 * step)).abs() < 1e-9);
            }
        }

        #[test]
        fn no_text_panics(text in "[-+0-9.:e]{0,20}") {
            if let Ok(range) = Range::parse(&text) {
                prop_assert!(range.values().all(f64::is_finite));
            }
        }
    }
}
