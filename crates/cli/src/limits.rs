//! Option values with their ranges, checked on parsing: a value out of range is a command-line error.

use bladeform::measure::{HandReading, KnownDistance, ReadingPlace};
use bladeform::quantity::{Angle, Length, Measured, Power, Range, SettingRadius, SettingText, StationRadii};
use bladeform::solid::{BOLT_HOLES, BoltCircle, Bolts, TOLERANCES_M};
use bladeform::table::ReadingOf;

/// Longest accepted length: no propeller comes near it, but a mistyped unit does.
const LONGEST_M: f64 = 1_000.0;
/// Fastest accepted rotation, rpm: above that of the smallest model propellers.
const FASTEST_RPM: f64 = 1e6;
/// Largest accepted setting, deg: a blade turned farther would point backwards.
const LARGEST_SETTING_DEG: f64 = 90.0;
/// Largest accepted angle of a place around the axis, deg.
const FULL_TURN_DEG: f64 = 360.0;

/// A length above zero.
pub(crate) fn positive_length(text: &str) -> Result<Length, String> {
    let length = Length::parse(text).map_err(|e| e.to_string())?;
    match length.m() {
        m if 0.0 < m && m <= LONGEST_M => Ok(length),
        _ => Err(format!("it must be above 0m and at most {LONGEST_M}m")),
    }
}

/// Bolt holes on a circle: `8x10mm@114mm`, and behind another `@` the angle of the first hole from the first blade; `none` for none.
pub(crate) fn bolts(text: &str) -> Result<Bolts, String> {
    const FORM: &str =
        "write COUNTxHOLE@CIRCLE[@ANGLE], e.g. 8x10mm@114mm or 8x10mm@114mm@22.5deg; none for a hub without";
    if text.trim().eq_ignore_ascii_case("none") {
        return Ok(Bolts::None);
    }
    let (count, rest) = text.split_once(['x', 'X', '×']).ok_or(FORM)?;
    let (hole, place) = rest.split_once('@').ok_or(FORM)?;
    let (circle, angle) = match place.split_once('@') {
        Some((circle, angle)) => (circle, Some(angle)),
        None => (place, None),
    };
    let count: u32 = count.trim().parse().map_err(|_| FORM)?;
    let [least, most] = BOLT_HOLES;
    if !(least..=most).contains(&count) {
        return Err(format!("it must have {least} to {most} holes"));
    }
    let first_deg = match angle {
        Some(angle) => Some(Angle::parse(angle).map_err(|e| e.to_string())?.deg()),
        None => None,
    };
    if first_deg.is_some_and(|a| FULL_TURN_DEG < a.abs()) {
        return Err("the angle of its first hole must be from -360deg to 360deg".to_owned());
    }
    let (hole, circle) = (positive_length(hole)?, positive_length(circle)?);
    let (hole_diameter_m, circle_diameter_m) = (hole.m(), circle.m());
    Ok(Bolts::Given(BoltCircle { count, hole_diameter_m, circle_diameter_m, first_deg }))
}

/// A length from zero on.
pub(crate) fn length_from_zero(text: &str) -> Result<Length, String> {
    let length = Length::parse(text).map_err(|e| e.to_string())?;
    match length.m() {
        m if (0.0..=LONGEST_M).contains(&m) => Ok(length),
        _ => Err(format!("it must be from 0m to {LONGEST_M}m")),
    }
}

/// A root radius with or without its standard uncertainty, m: `120mm` or `120mm+-1mm`.
pub(crate) fn root_radius(text: &str) -> Result<Measured, String> {
    let (value, u) = with_uncertainty(text);
    let u = u.map(positive_length).transpose()?;
    Ok(Measured::new(length_from_zero(value)?.m(), u.map_or(0.0, Length::m)))
}

/// A reading by hand: `thickness=24.8mm+-0.2mm@0.6`, or `length=512mm+-1mm@0.3..0.75` between two stations.
pub(crate) fn reading(text: &str) -> Result<HandReading, String> {
    const FORM: &str = "write WHAT=VALUE[+-UNCERTAINTY]@STATION, e.g. thickness=24.8mm+-0.2mm@0.6, or length=512mm+-1mm@0.3..0.75";
    let (what, rest) = text.split_once('=').ok_or(FORM)?;
    let (amount, place) = rest.split_once('@').ok_or(FORM)?;
    let of = ReadingOf::parse(what).ok_or_else(|| {
        format!("`{}` cannot be read by hand; write one of {}", what.trim(), ReadingOf::words())
    })?;
    let (value, u) = with_uncertainty(amount);
    let (value, u) = (amount_read(of, value)?, u.map(|u| amount_read(of, u)).transpose()?);
    if u.is_some_and(|u| u <= 0.0) {
        return Err("its uncertainty must be above 0".to_owned());
    }
    let (at, to) = match (of, place.split_once("..")) {
        (ReadingOf::Length, Some((first, second))) => {
            let ends = (reading_place(first)?, reading_place(second)?);
            if ends.0 == ends.1 {
                return Err("a length lies between two different stations".to_owned());
            }
            (ends.0, Some(ends.1))
        }
        (ReadingOf::Length, None) => {
            return Err("a length needs two stations, e.g. length=512mm+-1mm@0.3..0.75".to_owned());
        }
        (_, Some(_)) => return Err("only a length lies between two stations; give one station".to_owned()),
        (_, None) => (reading_place(place)?, None),
    };
    Ok(HandReading { of, value, u, at, to })
}

/// A value and, behind `+-` or `±`, its uncertainty.
fn with_uncertainty(text: &str) -> (&str, Option<&str>) {
    match text.split_once("+-").or_else(|| text.split_once('±')) {
        Some((value, u)) => (value, Some(u)),
        None => (text, None),
    }
}

/// A known distance between two points of the scan: `250mm+-0.1mm@12,40.5,-3..262,40,-2`.
pub(crate) fn distance(text: &str) -> Result<KnownDistance, String> {
    const FORM: &str = "write LENGTH[+-UNCERTAINTY]@X,Y,Z..X,Y,Z with two points in the coordinates of the scan's file, e.g. 250mm+-0.1mm@12,40.5,-3..262,40,-2";
    let (amount, places) = text.split_once('@').ok_or(FORM)?;
    let (first, second) = places.split_once("..").ok_or(FORM)?;
    let point = |text: &str| {
        let numbers: Vec<f64> = text.split(',').map(number).collect::<Result<_, _>>().map_err(|_| FORM)?;
        <[f64; 3]>::try_from(numbers).map_err(|_| FORM)
    };
    let between = [point(first)?, point(second)?];
    if (0..3).all(|k| (between[0][k] - between[1][k]).abs() <= 0.0) {
        return Err("a distance lies between two different points".to_owned());
    }
    let (length, u) = with_uncertainty(amount);
    let length = positive_length(length)?;
    let u = u.map(positive_length).transpose()?;
    if u.is_some_and(|u| length <= u) {
        return Err("its uncertainty must be smaller than the distance".to_owned());
    }
    Ok(KnownDistance { between, length_m: length.m(), u_m: u.map(Length::m) })
}

/// A reading or its uncertainty: a length above zero in m, or an angle in deg.
fn amount_read(of: ReadingOf, text: &str) -> Result<f64, String> {
    if of.is_angle() {
        let deg = Angle::parse(text).map_err(|e| e.to_string())?.deg();
        in_setting_range(deg)?;
        Ok(deg)
    } else {
        Ok(positive_length(text)?.m())
    }
}

/// One station: a fraction of the tip radius, or a radius.
fn reading_place(text: &str) -> Result<ReadingPlace, String> {
    match StationRadii::parse(text).map_err(|e| e.to_string())? {
        StationRadii::Ratios(list) if list.len() == 1 => Ok(ReadingPlace::Ratio(list[0])),
        StationRadii::Lengths(list) if list.len() == 1 => Ok(ReadingPlace::Radius(list[0].m())),
        _ => Err("give one station for each reading".to_owned()),
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

/// A rotation, revolutions per minute; the unit may be written.
pub(crate) fn rotation(text: &str) -> Result<f64, String> {
    let refused = format!("it must be a number above 0 and at most {FASTEST_RPM} revolutions per minute");
    let number = text.trim();
    let number = number.strip_suffix("rpm").or_else(|| number.strip_suffix("1/min")).unwrap_or(number);
    match number.trim().parse::<f64>() {
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

/// A drag coefficient on a frontal area.
pub(crate) fn drag_coefficient(text: &str) -> Result<f64, String> {
    match number(text)? {
        c if (0.0..=1.5).contains(&c) => Ok(c),
        _ => Err("it must be from 0 to 1.5".to_owned()),
    }
}

/// Axial speed of a stream as a fraction of that of flight.
pub(crate) fn stream_factor(text: &str) -> Result<f64, String> {
    match number(text)? {
        f if (0.3..=1.5).contains(&f) => Ok(f),
        _ => Err("it must be from 0.3 to 1.5".to_owned()),
    }
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
    fn readings_have_a_kind_a_value_and_a_place() {
        let thickness = reading("thickness=24.8mm+-0.2mm@0.6").unwrap();
        assert_eq!((thickness.of, thickness.at), (ReadingOf::Thickness, ReadingPlace::Ratio(0.6)));
        assert_eq!((thickness.value, thickness.u), (0.0248, Some(0.0002)));
        assert_eq!(reading("thickness = 24.8mm ± 0.2mm @ 0.6"), Ok(thickness));
        let angle = reading("face-angle=-3.5deg@24in").unwrap();
        assert_eq!((angle.u, angle.at), (None, ReadingPlace::Radius(24.0 * 254.0 / 10_000.0)));
        let length = reading("length=512mm+-1mm@0.3..0.75").unwrap();
        assert_eq!((length.at, length.to), (ReadingPlace::Ratio(0.3), Some(ReadingPlace::Ratio(0.75))));
        for (text, needed) in [
            ("thickness", "WHAT=VALUE"),
            ("thickness=24mm", "WHAT=VALUE"),
            ("camber=3mm@0.6", "longest-chord"),
            ("thickness=24@0.6", "needs a number and a unit"),
            ("thickness=0mm@0.6", "above 0m"),
            ("thickness=24mm+-0mm@0.6", "above 0m"),
            ("face-angle=20deg+-0deg@0.6", "above 0"),
            ("face-angle=95deg@0.6", "-90deg to 90deg"),
            ("face-angle=20mm@0.6", "unit of an angle"),
            ("chord=150mm@1.2", "no station"),
            ("chord=150mm@0.3,0.6", "one station"),
            ("chord=150mm@0.3..0.6", "only a length"),
            ("length=512mm@0.3", "two stations"),
            ("length=512mm@0.3..0.3", "two different"),
        ] {
            let error = reading(text).unwrap_err();
            assert!(error.contains(needed), "{text}: {error}");
        }
    }

    #[test]
    fn a_distance_has_a_length_and_two_points() {
        let root = root_radius("120mm+-1mm").unwrap();
        assert!((root.value - 0.12).abs() < 1e-15 && (root.u - 1e-3).abs() < 1e-15);
        assert_eq!(root_radius("0mm").unwrap(), Measured::new(0.0, 0.0));
        assert!(root_radius("120mm+-0mm").unwrap_err().contains("above 0m"));
        assert!(root_radius("-1mm").is_err() && root_radius("120mm+-").is_err());
        let found = distance("250mm+-0.5mm@0.1,0.2,-0.3..4.5,.2,1e-1").unwrap();
        assert_eq!(found.between, [[0.1, 0.2, -0.3], [4.5, 0.2, 0.1]]);
        assert_eq!((found.length_m, found.u_m), (0.25, Some(0.0005)));
        assert_eq!(distance(" 250 mm ± 0.5 mm @ 0.1, 0.2, -0.3 .. 4.5, 0.2, 0.1"), Ok(found));
        assert_eq!(distance("10in@0,0,0..1,0,0").unwrap().u_m, None);
        for (text, needed) in [
            ("250mm", "X,Y,Z..X,Y,Z"),
            ("250mm@1,2,3", "X,Y,Z..X,Y,Z"),
            ("250mm@1,2..3,4", "X,Y,Z..X,Y,Z"),
            ("250mm@1,2,nan..3,4,5", "X,Y,Z..X,Y,Z"),
            ("250mm@1,2,3..1,2,3", "two different points"),
            ("250@1,2,3..4,5,6", "needs a number and a unit"),
            ("-250mm@1,2,3..4,5,6", "above 0m"),
            ("250mm+-0mm@1,2,3..4,5,6", "above 0m"),
            ("250mm+-1m@1,2,3..4,5,6", "smaller than the distance"),
        ] {
            let error = distance(text).unwrap_err();
            assert!(error.contains(needed), "{text}: {error}");
        }
    }

    #[test]
    fn bolt_holes_have_a_count_a_size_and_a_circle() {
        let given = |text| match bolts(text) {
            Ok(Bolts::Given(found)) => found,
            other => panic!("{text}: {other:?}"),
        };
        assert_eq!(bolts(" None"), Ok(Bolts::None));
        let found = given("8x10mm@114mm");
        assert_eq!((found.count, found.first_deg), (8, None));
        assert!((found.hole_diameter_m - 0.01).abs() < 1e-15, "{found:?}");
        assert!((found.circle_diameter_m - 0.114).abs() < 1e-15, "{found:?}");
        let turned = given("6 × 3/8in @ 4 1/2in @ -30deg");
        assert!((turned.circle_diameter_m - 0.1143).abs() < 1e-12 && turned.count == 6, "{turned:?}");
        assert!((turned.first_deg.unwrap() + 30.0).abs() < 1e-9, "{turned:?}");
        for (text, needed) in [
            ("8", "COUNTxHOLE@CIRCLE"),
            ("8x10mm", "COUNTxHOLE@CIRCLE"),
            ("x10mm@114mm", "COUNTxHOLE@CIRCLE"),
            ("1x10mm@114mm", "2 to 36 holes"),
            ("8x10@114mm", "needs a number and a unit"),
            ("8x0mm@114mm", "above 0m"),
            ("8x10mm@114mm@22", "needs a number and a unit"),
            ("8x10mm@114mm@400deg", "-360deg to 360deg"),
        ] {
            let error = bolts(text).unwrap_err();
            assert!(error.contains(needed), "{text}: {error}");
        }
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
