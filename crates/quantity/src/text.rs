//! Texts of a number and a unit. The lists of accepted units for messages are made only here.

use std::borrow::Cow;

use crate::QuantityError;

/// One kind of quantity as people type it.
#[derive(Debug)]
pub(crate) struct Kind {
    /// Its name with article, for use in a sentence.
    pub(crate) name: &'static str,
    /// The accepted units.
    pub(crate) units: &'static [Unit],
    /// Two valid examples.
    pub(crate) example: &'static str,
}

/// A unit: its symbol and its size in SI as `numerator / denominator`.
///
/// Two whole numbers instead of one decimal factor keep conversions correctly rounded: 51 in is
/// 51 * 254 / 10000 = 1.2954 m, whereas 51 * 0.0254 differs by one bit.
#[derive(Debug)]
pub(crate) struct Unit {
    pub(crate) symbol: &'static str,
    pub(crate) numerator: f64,
    pub(crate) denominator: f64,
}

impl Unit {
    pub(crate) const fn new(symbol: &'static str, numerator: f64, denominator: f64) -> Unit {
        Unit { symbol, numerator, denominator }
    }

    pub(crate) fn to_si(&self, number: f64) -> f64 {
        number * self.numerator / self.denominator
    }
}

/// One number and the text after it, both as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Part<'a> {
    pub(crate) number: f64,
    pub(crate) unit: &'a str,
}

impl Kind {
    /// Reads one number with one unit; SI.
    pub(crate) fn parse(&self, text: &str) -> Result<f64, QuantityError> {
        let plain = plain(text);
        let text = plain.as_ref();
        // A unit may contain digits, as kg/m3 does.
        if let Some((number, rest)) = leading_number(text.trim())
            && self.units.iter().any(|unit| unit.symbol == rest.trim())
        {
            return self.part_in_si(text, Part { number, unit: rest.trim() });
        }
        let parts = self.parts(text)?;
        match parts.as_slice() {
            [one] => self.part_in_si(text, *one),
            // `parts` never returns an empty list. With several parts the unit contains digits.
            _ => Err(self.unknown_unit(text, text.trim().trim_start_matches(is_number_char))),
        }
    }

    /// Splits a text into numbers, each with the unit after it. At least one part, every number finite.
    pub(crate) fn parts<'a>(&self, text: &'a str) -> Result<Vec<Part<'a>>, QuantityError> {
        let mut rest = text.trim();
        let mut parts = Vec::new();
        while !rest.is_empty() || parts.is_empty() {
            let (number, after) = leading_number(rest).ok_or_else(|| self.no_number(text))?;
            let (number, after) = with_fraction(number, after);
            let after = after.trim_start();
            if after.starts_with(',') && after[1..].starts_with(|c: char| c.is_ascii_digit()) {
                let [point, joined] = [".", ""].map(|with| text.replacen(',', with, 1));
                return Err(QuantityError::Comma { text: text.to_owned(), point, joined });
            }
            let end = after.find(|c: char| c.is_ascii_digit() || c == '.').unwrap_or(after.len());
            let (unit, next) = after.split_at(end);
            parts.push(Part { number, unit: unit.trim_end() });
            rest = next;
        }
        Ok(parts)
    }

    pub(crate) fn part_in_si(&self, text: &str, part: Part<'_>) -> Result<f64, QuantityError> {
        if part.unit.is_empty() {
            return Err(self.no_unit(text));
        }
        let unit = self.units.iter().find(|unit| unit.symbol == part.unit);
        let si = unit.ok_or_else(|| self.unknown_unit(text, part.unit))?.to_si(part.number);
        if si.is_finite() { Ok(si) } else { Err(self.no_number(text)) }
    }

    fn unit_list(&self) -> String {
        self.units.iter().map(|unit| unit.symbol).collect::<Vec<_>>().join(" ")
    }

    fn no_unit(&self, text: &str) -> QuantityError {
        let (kind, units, example) = (self.name, self.unit_list(), self.example);
        QuantityError::NoUnit { text: text.trim().to_owned(), kind, units, example }
    }

    fn no_number(&self, text: &str) -> QuantityError {
        let (kind, units, example) = (self.name, self.unit_list(), self.example);
        QuantityError::NoNumber { text: text.trim().to_owned(), kind, units, example }
    }

    fn unknown_unit(&self, text: &str, unit: &str) -> QuantityError {
        let (kind, units, example) = (self.name, self.unit_list(), self.example);
        QuantityError::Unit { text: text.trim().to_owned(), unit: unit.to_owned(), kind, units, example }
    }
}

/// A text in which the signs of inches, feet, degrees and minus are written as `in`, `ft`, `deg` and `-`, and every space is an ordinary one.
pub(crate) fn plain(text: &str) -> Cow<'_, str> {
    const SIGNS: [(&str, &str); 13] = [
        ("''", "in"),
        ("\"", "in"),
        ("\u{2033}", "in"),
        ("\u{201d}", "in"),
        ("'", "ft"),
        ("\u{2032}", "ft"),
        ("\u{2019}", "ft"),
        ("\u{b0}", "deg"),
        ("\u{ba}", "deg"),
        ("\u{2212}", "-"),
        ("\u{a0}", " "),
        ("\u{202f}", " "),
        ("\u{2009}", " "),
    ];
    if SIGNS.iter().all(|(sign, _)| !text.contains(sign)) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(SIGNS.iter().fold(text.to_owned(), |text, (sign, word)| text.replace(sign, word)))
}

/// A number with the common fraction after it, `1/4` or ` 1/4` or `-1/4` (fifty and a quarter is often written `50-1/4`), and the rest. The number as it is if there is none.
fn with_fraction(number: f64, after: &str) -> (f64, &str) {
    if number.fract().abs() < f64::EPSILON
        && let Some((denominator, rest)) = after.strip_prefix('/').and_then(whole)
    {
        return (number / denominator, rest);
    }
    let next = after.trim_start().strip_prefix('-').unwrap_or(after.trim_start());
    if let Some((numerator, rest)) = whole(next)
        && let Some((denominator, rest)) = rest.strip_prefix('/').and_then(whole)
        && next.len() < after.len()
    {
        return (number + (numerator / denominator).copysign(number), rest);
    }
    (number, after)
}

/// The whole number above zero at the beginning of a text, and the rest.
fn whole(text: &str) -> Option<(f64, &str)> {
    let end = text.bytes().take_while(u8::is_ascii_digit).count();
    let number: f64 = text[..end].parse().ok().filter(|n| 0.0 < *n)?;
    Some((number, &text[end..]))
}

/// The number at the beginning of a text, and the rest. `None` if there is none or it is not finite.
pub(crate) fn leading_number(text: &str) -> Option<(f64, &str)> {
    let bytes = text.as_bytes();
    let digits = |from: usize| from + bytes[from..].iter().take_while(|b| b.is_ascii_digit()).count();
    let signed = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    let mut end = digits(signed);
    if bytes.get(end) == Some(&b'.') {
        end = digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let exponent = end + 1 + usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        if bytes.get(exponent).is_some_and(u8::is_ascii_digit) {
            end = digits(exponent);
        }
    }
    let number: f64 = text[..end].parse().ok()?;
    number.is_finite().then_some((number, &text[end..]))
}

fn is_number_char(c: char) -> bool {
    c.is_ascii_digit() || matches!(c, '+' | '-' | '.')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_end_where_the_unit_begins() {
        assert_eq!(leading_number("1.5e-3m"), Some((1.5e-3, "m")));
        assert_eq!(leading_number("+.5in"), Some((0.5, "in")));
        assert_eq!(leading_number("4ft2in"), Some((4.0, "ft2in")));
        // An `e` without digits belongs to the following text.
        assert_eq!(leading_number("2em"), Some((2.0, "em")));
    }

    #[test]
    fn what_is_no_finite_number_is_refused() {
        for text in ["", "m", "-", ".", "e5", "nan", "inf", "1e999"] {
            assert_eq!(leading_number(text), None, "{text}");
        }
    }
}
