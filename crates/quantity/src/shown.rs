//! The units in which figures are shown: SI as documents have them, or inches, pounds and what goes with them.

use crate::factor::{
    FOOT, FOOT_PER_SECOND, HORSEPOWER, INCH, KILOMETRE_PER_HOUR, KNOT, MILE_PER_HOUR, POUND, POUND_FORCE,
};
use crate::text::leading_number;

/// Millimetres and SI, or inches and what goes with them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UnitFamily {
    /// Millimetre, newton, newton metre, kilogram.
    #[default]
    Millimetre,
    /// Inch, pound-force, pound-force foot, pound.
    Inch,
}

impl UnitFamily {
    /// The word of options and documents.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    /// The family of a word of options and documents.
    #[must_use]
    pub fn read(word: &str) -> Option<Self> {
        [Self::Millimetre, Self::Inch].into_iter().find(|family| family.key() == word)
    }
}

/// The unit in which speeds of flight are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpeedUnit {
    /// m/s.
    #[default]
    MetrePerSecond,
    /// km/h.
    KilometrePerHour,
    /// mph.
    MilePerHour,
    /// kt.
    Knot,
    /// ft/s.
    FootPerSecond,
}

/// The unit in which powers are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PowerUnit {
    /// kW.
    #[default]
    Kilowatt,
    /// hp, the mechanical horsepower.
    Horsepower,
}

/// How a figure in a unit of SI is shown in another unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conversion {
    /// The unit shown.
    pub unit: &'static str,
    /// Factor from the SI unit to the unit shown.
    pub factor: f64,
    /// Decimals more than in the SI unit (fewer if negative), so that the last digit is worth about as much or less.
    pub more_decimals: i32,
}

impl Conversion {
    /// The number of decimals for a figure that has `decimals` in the SI unit.
    #[must_use]
    pub fn decimals(&self, decimals: usize) -> usize {
        decimals.saturating_add_signed(self.more_decimals as isize)
    }
}

/// The units in which figures are shown to people. Documents for programs stay in SI.
///
/// ```
/// use bladeform_quantity::ShownUnits;
/// assert_eq!(ShownUnits::INCH.text("a chord of 25.4 mm at 508.0 N"), "a chord of 1.000 in at 114.20 lbf");
/// assert_eq!(ShownUnits::SI.text("a chord of 25.4 mm"), "a chord of 25.4 mm");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ShownUnits {
    /// Of lengths, areas, volumes and masses.
    pub length: UnitFamily,
    /// Of forces and torques.
    pub force: UnitFamily,
    /// Of speeds.
    pub speed: SpeedUnit,
    /// Of powers.
    pub power: PowerUnit,
}

/// From this length on, in m, feet are shown in place of inches: no propeller is so large, so it is an altitude (chosen).
const FEET_FROM_M: f64 = 100.0;

/// The SI units that have another form, the longest first, so that `N m` is not taken for `N`.
const CONVERTED: [&str; 21] = [
    "kg m2", "N m/m", "N m", "N/m", "m/s", "mm2", "mm²", "cm2", "cm²", "cm3", "cm³", "m2", "m²", "m3", "mm",
    "cm", "kW", "kg", "N", "W", "m",
];

impl ShownUnits {
    /// SI, lengths in millimetres.
    pub const SI: ShownUnits = ShownUnits {
        length: UnitFamily::Millimetre,
        force: UnitFamily::Millimetre,
        speed: SpeedUnit::MetrePerSecond,
        power: PowerUnit::Kilowatt,
    };
    /// Inches, pounds, miles per hour and horsepower.
    pub const INCH: ShownUnits = ShownUnits {
        length: UnitFamily::Inch,
        force: UnitFamily::Inch,
        speed: SpeedUnit::MilePerHour,
        power: PowerUnit::Horsepower,
    };

    /// How a figure in a unit of SI is shown; `None` if it stays as it is.
    ///
    /// Speeds are those of flight. [`Self::stream`] is for speeds of the air at a section.
    #[must_use]
    pub fn of(self, unit: &str) -> Option<Conversion> {
        let shown = |unit: &'static str, factor: f64, more_decimals: i32| {
            Some(Conversion { unit, factor, more_decimals })
        };
        let (inch, foot) = (INCH.si(), FOOT.si());
        let (long, strong) = (self.length == UnitFamily::Inch, self.force == UnitFamily::Inch);
        match unit {
            "mm" if long => shown("in", 1e-3 / inch, 2),
            "cm" if long => shown("in", 1e-2 / inch, 1),
            "m" if long => shown("in", 1.0 / inch, -1),
            "mm2" if long => shown("in2", 1e-6 / (inch * inch), 3),
            "mm²" if long => shown("in²", 1e-6 / (inch * inch), 3),
            "cm2" if long => shown("in2", 1e-4 / (inch * inch), 1),
            "cm²" if long => shown("in²", 1e-4 / (inch * inch), 1),
            "m2" if long => shown("in2", 1.0 / (inch * inch), -3),
            "m²" if long => shown("in²", 1.0 / (inch * inch), -3),
            "cm3" if long => shown("in3", 1e-6 / inch.powi(3), 1),
            "cm³" if long => shown("in³", 1e-6 / inch.powi(3), 1),
            "m3" if long => shown("in3", 1.0 / inch.powi(3), -4),
            "kg" if long => shown("lb", 1.0 / POUND.si(), 0),
            "kg m2" if long => shown("lb ft2", 1.0 / (POUND.si() * foot * foot), -1),
            "N" if strong => shown("lbf", 1.0 / POUND_FORCE.si(), 1),
            "N m" if strong => shown("lbf ft", 1.0 / (POUND_FORCE.si() * foot), 0),
            "N/m" if strong => shown("lbf/ft", foot / POUND_FORCE.si(), 2),
            "N m/m" if strong => shown("lbf ft/ft", 1.0 / POUND_FORCE.si(), 1),
            "kW" if self.power == PowerUnit::Horsepower => shown("hp", 1e3 / HORSEPOWER.si(), 0),
            "W" if self.power == PowerUnit::Horsepower => shown("hp", 1.0 / HORSEPOWER.si(), 3),
            "m/s" => {
                let unit = match self.speed {
                    SpeedUnit::MetrePerSecond => return None,
                    SpeedUnit::KilometrePerHour => KILOMETRE_PER_HOUR,
                    SpeedUnit::MilePerHour => MILE_PER_HOUR,
                    SpeedUnit::Knot => KNOT,
                    SpeedUnit::FootPerSecond => FOOT_PER_SECOND,
                };
                shown(unit.symbol, 1.0 / unit.si(), 0)
            }
            _ => None,
        }
    }

    /// How a speed of the air in m/s is shown: feet per second beside inches. `None` if it stays in m/s.
    #[must_use]
    pub fn stream(self) -> Option<Conversion> {
        let foot = FOOT_PER_SECOND;
        (self.length == UnitFamily::Inch).then(|| Conversion {
            unit: foot.symbol,
            factor: 1.0 / foot.si(),
            more_decimals: 0,
        })
    }

    /// How an altitude in m is shown: feet beside inches. `None` if it stays in m.
    #[must_use]
    pub fn altitude(self) -> Option<Conversion> {
        (self.length == UnitFamily::Inch).then(|| Conversion {
            unit: FOOT.symbol,
            factor: 1.0 / FOOT.si(),
            more_decimals: 0,
        })
    }

    /// A sentence with its figures in these units: every number before a unit of SI, and the numbers that share the unit (`0.3 to 0.5 mm`, `2.1 mm (± 0.6)`).
    ///
    /// A unit is separated from its number by a space, as in all sentences of the libraries; what people are to type, such as `2mm`, stays as it is.
    #[must_use]
    pub fn text(self, text: &str) -> String {
        if self == ShownUnits::SI {
            return text.to_owned();
        }
        let numbers = numbers_of(text);
        let mut conversions: Vec<Option<Conversion>> = numbers.iter().map(|_| None).collect();
        let mut units: Vec<Option<(usize, &'static str)>> = numbers.iter().map(|_| None).collect();
        for (k, number) in numbers.iter().enumerate() {
            let Some(si) = unit_at(&text[number.end..]) else { continue };
            let Some(mut conversion) = self.of(si) else { continue };
            if si == "m/s" || (si == "kW" && 1 < number.decimals) {
                // The figure was rounded in SI: no digit that the rounding has spoilt.
                conversion.more_decimals -= 1;
            }
            if si == "m" && FEET_FROM_M <= number.value.abs() {
                conversion = self.altitude().unwrap_or(conversion);
            }
            units[k] = Some((number.end + 1 + si.len(), conversion.unit));
            conversions[k] = Some(conversion);
            // The numbers before it that share the unit.
            for j in (0..k).rev() {
                if !shares(&text[numbers[j].end..numbers[j + 1].start], numbers[j].decimals) {
                    break;
                }
                conversions[j] = Some(conversion);
            }
            let after = &text[number.end + 1 + si.len()..];
            if let Some(next) = numbers.get(k + 1)
                && ["(± ", " (± "].contains(&&after[..(next.start - number.end - 1 - si.len())])
                && text[next.end..].starts_with(')')
            {
                conversions[k + 1] = Some(conversion);
            }
        }
        let (mut shown, mut at) = (String::with_capacity(text.len()), 0);
        for ((number, conversion), unit) in numbers.iter().zip(conversions).zip(units) {
            let Some(conversion) = conversion else { continue };
            shown.push_str(&text[at..number.start]);
            shown.push_str(&number.shown(&text[number.start..number.end], conversion));
            at = number.end;
            if let Some((end, unit)) = unit {
                shown.push(' ');
                shown.push_str(unit);
                at = end;
            }
        }
        shown + &text[at..]
    }
}

/// A number in a sentence.
struct Number {
    start: usize,
    end: usize,
    value: f64,
    decimals: usize,
}

impl Number {
    /// The number in another unit. A sign `+` and an exponent are kept.
    fn shown(&self, written: &str, conversion: Conversion) -> String {
        let value = self.value * conversion.factor;
        let plus = if written.starts_with('+') { "+" } else { "" };
        if written.contains(['e', 'E']) {
            return format!("{plus}{value:.*e}", self.decimals);
        }
        let text = format!("{value:.*}", conversion.decimals(self.decimals));
        let is_zero = text.strip_prefix('-').is_some_and(|t| t.bytes().all(|b| b == b'0' || b == b'.'));
        let text = if is_zero { text.replacen('-', "", 1) } else { text };
        if text.starts_with('-') { text } else { format!("{plus}{text}") }
    }
}

/// The numbers of a sentence that stand alone: not a part of a word or of a name.
fn numbers_of(text: &str) -> Vec<Number> {
    let mut found = Vec::new();
    let (mut at, mut before) = (0, ' ');
    while let Some(first) = text[at..].chars().next() {
        let begins = first.is_ascii_digit()
            || (matches!(first, '+' | '-') && text[at + 1..].starts_with(|c: char| c.is_ascii_digit()));
        let alone = !before.is_alphanumeric() && !matches!(before, '.' | '_' | '-' | '/');
        if begins
            && alone
            && let Some((value, rest)) = leading_number(&text[at..])
        {
            // A full stop ends the sentence and is no point of the number.
            let end = text.len() - rest.len();
            let written = text[at..end].trim_end_matches('.');
            let mantissa = written.split(['e', 'E']).next().unwrap_or(written);
            let decimals = mantissa.split_once('.').map_or(0, |(_, d)| d.len());
            found.push(Number { start: at, end: at + written.len(), value, decimals });
            at += written.len();
            before = '0';
            continue;
        }
        before = first;
        at += first.len_utf8();
    }
    found
}

/// The SI unit after a number and a space.
fn unit_at(text: &str) -> Option<&'static str> {
    let text = text.strip_prefix(' ')?;
    let ends = |rest: &str| {
        let mut next = rest.chars();
        match next.next() {
            None => true,
            Some('.') => next.next().is_none_or(|c| !c.is_alphanumeric()),
            Some(c) => !c.is_alphanumeric() && !matches!(c, '/' | '²' | '³' | '^' | '_'),
        }
    };
    CONVERTED.into_iter().find(|unit| text.strip_prefix(unit).is_some_and(ends))
}

/// Whether a number shares the unit of the next one, by the text between them. Whole numbers in a list are counts more often than lengths.
fn shares(between: &str, decimals: usize) -> bool {
    match between {
        " to " | " ± " | " +/- " => true,
        ", " | " and " | " or " => 0 < decimals,
        ", y = " | ", z = " | ", y " | ", z " => true,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Factors of NIST SP 811 (2008), appendix B.8, as printed there: seven significant digits, so at most half a millionth away; exact ones in full.
    #[test]
    fn the_factors_are_those_of_the_published_table() {
        for (si, unit, in_si) in [
            ("mm", "in", 25.4),
            ("m", "in", 0.0254),
            ("mm2", "in2", 645.16),
            ("cm3", "in3", 16.387_06),
            ("m3", "in3", 1.638_706e-5),
            ("kg", "lb", 0.453_592_4),
            ("kg m2", "lb ft2", 0.042_140_11),
            ("N", "lbf", 4.448_222),
            ("N m", "lbf ft", 1.355_818),
            ("N/m", "lbf/ft", 14.593_90),
            ("kW", "hp", 0.745_699_9),
            ("m/s", "mph", 0.447_04),
        ] {
            let found = ShownUnits::INCH.of(si).unwrap();
            assert_eq!(found.unit, unit);
            assert!((found.factor * in_si - 1.0).abs() < 5e-7, "{si}: {}", 1.0 / found.factor);
        }
        let knots = ShownUnits { speed: SpeedUnit::Knot, ..ShownUnits::SI }.of("m/s").unwrap();
        assert!((1.0 / knots.factor - 0.514_444_4).abs() < 1e-7);
        assert!((1.0 / ShownUnits::INCH.stream().unwrap().factor - 0.3048).abs() < 1e-15);
        assert!(CONVERTED.into_iter().all(|si| ShownUnits::SI.of(si).is_none()));
        assert!(CONVERTED.into_iter().all(|si| ShownUnits::INCH.of(si).is_some()));
    }

    #[test]
    fn no_digit_is_worth_more_than_it_was() {
        for si in CONVERTED {
            let found = ShownUnits::INCH.of(si).unwrap();
            let last = 10_f64.powi(-found.more_decimals) / found.factor;
            assert!((0.0..=1.7).contains(&last), "{si}: the last digit is worth {last} of the SI one");
        }
    }

    #[test]
    fn figures_of_a_sentence_change_with_their_units_and_nothing_else() {
        let shown = |text: &str| ShownUnits::INCH.text(text);
        for (si, inch) in [
            ("chord 25.4 mm", "chord 1.000 in"),
            ("254 mm, 12 of 24 points", "10.00 in, 12 of 24 points"),
            ("from 25.4 to 50.8 mm radius", "from 1.000 to 2.000 in radius"),
            ("the chord is 2.54 mm (± 0.51) shorter", "the chord is 0.1000 in (± 0.0201) shorter"),
            ("x = 25.40, y = 0.00, z = -25.40 mm.", "x = 1.0000, y = 0.0000, z = -1.0000 in."),
            ("x 0.1, y 0.2, z 0.3 kg m2", "x 2, y 5, z 7 lb ft2"),
            ("1270.0 mm ± 2.5 mm; at 0.75 R", "50.000 in ± 0.098 in; at 0.75 R"),
            ("scale 0.0254 m", "scale 1.000 in"),
            ("at 53.64 m/s and 1750 rpm", "at 120.0 mph and 1750 rpm"),
            ("100.0 kW and 1000.0 N m", "134.1 hp and 737.6 lbf ft"),
            ("89.48 kW are absorbed, 5.0 ± 0.1 kW", "120.0 hp are absorbed, 6.7 ± 0.1 hp"),
            ("6.45 cm² to 12.90 cm²", "1.000 in² to 2.000 in²"),
            ("at 1500 m altitude", "at 4921 ft altitude"),
            ("stations 3, 4 and 25.4 mm", "stations 3, 4 and 1.000 in"),
            ("+2.540 mm, -0.001 mm", "+0.10000 in, -0.00004 in"),
            ("a step at 0.31 R of 2.0 %", "a step at 0.31 R of 2.0 %"),
        ] {
            assert_eq!(shown(si), inch);
        }
        for same in [
            "give --tolerance 0.05mm",
            "680 kg/m3 of air",
            "file 50 mm.ply, blade-12 mmx",
            "v1.2 mw",
            "3 Nm is no unit",
            "",
            "1.5 deg, 12 %, 288.15 K, 101325 Pa",
        ] {
            assert_eq!(shown(same), same);
        }
    }

    proptest::proptest! {
        #[test]
        fn no_text_panics(text in "\\PC*") {
            let _ = ShownUnits::INCH.text(&text);
        }

        #[test]
        fn no_text_of_figures_panics(text in "[-+0-9.e mcN/s(±),²°]{0,24}") {
            let _ = ShownUnits::INCH.text(&text);
        }
    }
}
