//! Option values with their ranges, checked on parsing: a value out of range is a command-line error.

use bladeform::quantity::{Angle, Length, Power, Range, SettingRadius, SettingText};
use bladeform::solid::TOLERANCES_M;

/// Longest accepted length: no propeller comes near it, but a mistyped unit does.
const LONGEST_M: f64 = 1_000.0;
/// Fastest accepted rotation, rpm: above that of the smallest model propellers.
const FASTEST_RPM: f64 = 1e6;
/// Largest accepted setting, deg: a blade turned farther would point backwards.
const LARGEST_SETTING_DEG: f64 = 90.0;

/// A length above zero.
pub(crate) fn positive_length(text: &str) -> Result<Length, String> {
    let length = Length::parse(text).map_err(|e| e.to_string())?;
    match length.m() {
        m if 0.0 < m && m <= LONGEST_M => Ok(length),
        _ => Err(format!("it must be above 0m and at most {LONGEST_M}m")),
    }
}

/// A length from zero on.
pub(crate) fn length_from_zero(text: &str) -> Result<Length, String> {
    let length = Length::parse(text).map_err(|e| e.to_string())?;
    match length.m() {
        m if (0.0..=LONGEST_M).contains(&m) => Ok(length),
        _ => Err(format!("it must be from 0m to {LONGEST_M}m")),
    }
}

/// A distance of facets from the smooth surface.
pub(crate) fn facet_tolerance(text: &str) -> Result<Length, String> {
    let length = Length::parse(text).map_err(|e| e.to_string())?;
    let [least, most] = TOLERANCES_M;
    match (least..=most).contains(&length.m()) {
        true => Ok(length),
        false => Err(format!("it must be from {}mm to {}mm", 1e3 * least, 1e3 * most)),
    }
}

/// A rotation, revolutions per minute.
pub(crate) fn rotation(text: &str) -> Result<f64, String> {
    let refused = format!("it must be a number above 0 and at most {FASTEST_RPM} revolutions per minute");
    match text.trim().parse::<f64>() {
        Ok(rpm) if 0.0 < rpm && rpm <= FASTEST_RPM => Ok(rpm),
        _ => Err(refused),
    }
}

/// A power above zero.
pub(crate) fn positive_power(text: &str) -> Result<Power, String> {
    let power = Power::parse(text).map_err(|e| e.to_string())?;
    match 0.0 < power.w() {
        true => Ok(power),
        false => Err("it must be above 0W".to_owned()),
    }
}

/// A finite number.
pub(crate) fn number(text: &str) -> Result<f64, String> {
    text.trim().parse().ok().filter(|v: &f64| v.is_finite()).ok_or_else(|| "it must be a number".to_owned())
}

/// One absolute angle and the radius to which it applies.
pub(crate) fn setting(text: &str) -> Result<SettingText, String> {
    let setting = SettingText::parse(text).map_err(|e| e.to_string())?;
    in_setting_range(setting.angle.deg())?;
    Ok(setting)
}

/// Settings as typed, deg, and the radius to which they apply.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Settings {
    pub(crate) deg: Vec<f64>,
    pub(crate) at: SettingRadius,
}

/// One angle with its unit, or `first:last:step` in degrees, then optionally `@` and the radius.
pub(crate) fn settings(text: &str) -> Result<Settings, String> {
    let (angle, at) = SettingRadius::split_from(text).map_err(|e| e.to_string())?;
    let deg: Vec<f64> = if angle.contains(':') {
        Range::parse(angle.trim_end_matches("deg")).map_err(|e| e.to_string())?.values().collect()
    } else {
        vec![Angle::parse(angle).map_err(|e| format!("{e}, or a range in degrees, first:last:step"))?.deg()]
    };
    deg.iter().try_for_each(|d| in_setting_range(*d))?;
    Ok(Settings { deg, at })
}

fn in_setting_range(deg: f64) -> Result<(), String> {
    // Degrees were converted from radians: the last bit may exceed the limit.
    match deg.abs() <= LARGEST_SETTING_DEG + 1e-9 {
        true => Ok(()),
        false => Err(format!("it must be from -{LARGEST_SETTING_DEG}deg to {LARGEST_SETTING_DEG}deg")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_the_ranges_are_taken_and_what_lies_beyond_is_not() {
        assert!(positive_length("0.1mm").is_ok() && positive_length("1000m").is_ok());
        for text in ["0mm", "-1300mm", "1001m"] {
            assert!(positive_length(text).is_err_and(|e| e.contains("1000m")), "{text}");
        }
        assert!(length_from_zero("0in").is_ok() && length_from_zero("-1mm").is_err());
        assert!(facet_tolerance("0.001mm").is_ok() && facet_tolerance("5mm").is_ok());
        assert!(facet_tolerance("0mm").is_err_and(|e| e.contains("0.001mm to 5mm")));
        assert!(rotation("1750").is_ok());
        for text in ["0", "-5", "nan", "inf", "fast"] {
            assert!(rotation(text).is_err(), "{text}");
        }
        assert!(positive_power("0W").is_err() && positive_power("240hp").is_ok());
        assert!(number("inf").is_err() && number("-12.5").is_ok());
    }

    #[test]
    fn settings_are_one_angle_or_a_range_within_a_quarter_turn() {
        assert_eq!(settings("-90:90:90@tip").map(|s| s.deg), Ok(vec![-90.0, 0.0, 90.0]));
        assert_eq!(settings("5:15:5deg").map(|s| s.deg.len()), Ok(3));
        for text in ["90deg", "-90deg", "1.5707963267948966rad"] {
            assert!(settings(text).is_ok() && setting(text).is_ok(), "{text}");
        }
        for text in ["95deg", "200deg@0.75", "0:95:5", "17", "17deg@1.5"] {
            assert!(settings(text).is_err(), "{text}");
        }
    }
}
