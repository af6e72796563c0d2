//! A setting as people type it: `22.5deg@0.75`, `22.5deg@tip`, `22.5deg`.

use crate::text::leading_number;
use crate::{Angle, QuantityError};
use std::fmt;
use std::str::FromStr;

/// A setting as typed: one absolute angle and the radius where it applies.
///
/// ```
/// use bladeform_quantity::{Angle, SettingRadius, SettingText};
/// let setting = SettingText::parse("22.5deg@0.75").unwrap();
/// assert_eq!(setting.angle, Angle::from_deg(22.5));
/// assert_eq!(setting.at, SettingRadius::Ratio(0.75));
/// assert_eq!(setting.to_string(), "22.5deg@0.75");
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SettingText {
    /// The angle.
    pub angle: Angle,
    /// The radius where it applies.
    pub at: SettingRadius,
}

/// The radius where a setting applies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum SettingRadius {
    /// A fraction of the tip radius, above 0 and at most 1.
    Ratio(f64),
    /// The tip.
    Tip,
    /// Not stated: the reference radius is used.
    #[default]
    Default,
}

impl SettingText {
    /// Reads `22.5deg@0.75`, `22.5deg@tip` or `22.5deg`.
    ///
    /// # Errors
    /// [`QuantityError`] if the angle or the radius cannot be read.
    pub fn parse(text: &str) -> Result<SettingText, QuantityError> {
        let (angle, at) = SettingRadius::split_from(text)?;
        Ok(SettingText { angle: Angle::parse(angle)?, at })
    }
}

impl SettingRadius {
    /// Splits a text at its `@` into the text before it and the radius after it. For single angles and ranges of angles.
    ///
    /// # Errors
    /// [`QuantityError::SettingRadius`] if the text after the `@` is not a radius.
    pub fn split_from(text: &str) -> Result<(&str, SettingRadius), QuantityError> {
        let Some((before, after)) = text.split_once('@') else {
            return Ok((text.trim(), SettingRadius::Default));
        };
        let fail =
            || QuantityError::SettingRadius { text: text.trim().to_owned(), radius: after.trim().to_owned() };
        let at = match after.trim() {
            "tip" => SettingRadius::Tip,
            number => SettingRadius::Ratio(ratio(number).ok_or_else(fail)?),
        };
        Ok((before.trim(), at))
    }

    /// The radius as a fraction of the tip radius; `default_ratio` if it is not stated.
    #[must_use]
    pub const fn ratio_or(self, default_ratio: f64) -> f64 {
        match self {
            SettingRadius::Ratio(ratio) => ratio,
            SettingRadius::Tip => 1.0,
            SettingRadius::Default => default_ratio,
        }
    }
}

/// A number above 0 and at most 1, without other text.
pub(crate) fn ratio(text: &str) -> Option<f64> {
    leading_number(text)
        .filter(|(ratio, rest)| rest.is_empty() && *ratio > 0.0 && *ratio <= 1.0)
        .map(|(ratio, _)| ratio)
}

impl FromStr for SettingText {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<SettingText, QuantityError> {
        SettingText::parse(text)
    }
}

impl fmt::Display for SettingText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.at {
            SettingRadius::Ratio(ratio) => write!(f, "{}@{ratio}", self.angle),
            SettingRadius::Tip => write!(f, "{}@tip", self.angle),
            SettingRadius::Default => write!(f, "{}", self.angle),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_three_forms_are_read() {
        let at = |text| SettingText::parse(text).unwrap().at;
        assert_eq!(at("22.5deg@tip"), SettingRadius::Tip);
        assert_eq!(at("22.5deg @ 0.7"), SettingRadius::Ratio(0.7));
        assert_eq!(at("-3deg"), SettingRadius::Default);
        assert_eq!(SettingRadius::split_from("0:60:1@0.75").unwrap(), ("0:60:1", SettingRadius::Ratio(0.75)));
    }

    #[test]
    fn a_radius_out_of_range_is_refused() {
        for text in [
            "5deg@0",
            "5deg@1.01",
            "5deg@-0.5",
            "5deg@",
            "5deg@root",
            "5deg@nan",
            "5deg@0.75@tip",
            "5deg@12in",
        ] {
            let message = SettingText::parse(text).unwrap_err().to_string();
            assert!(
                message.contains("no reference radius") && message.contains("22.5deg@tip"),
                "{text}: {message}"
            );
        }
    }

    #[test]
    fn the_angle_needs_its_unit() {
        assert!(
            SettingText::parse("22.5@0.75").unwrap_err().to_string().contains("needs a number and a unit")
        );
    }

    fn any_radius() -> impl Strategy<Value = SettingRadius> {
        prop_oneof![
            (0.0_f64..1.0).prop_map(|r| SettingRadius::Ratio(1.0 - r)),
            Just(SettingRadius::Tip),
            Just(SettingRadius::Default)
        ]
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(rad in -3.2_f64..3.2, at in any_radius()) {
            let setting = SettingText { angle: Angle::from_rad(rad), at };
            prop_assert_eq!(SettingText::parse(&setting.to_string()).unwrap(), setting);
        }
    }
}
