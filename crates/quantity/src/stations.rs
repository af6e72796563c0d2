//! The radii to measure, as people type them: a count, fractions of the tip radius, or lengths.

use crate::setting::ratio;
use crate::text::leading_number;
use crate::{Length, QuantityError};
use std::fmt;

/// The radii to measure.
///
/// ```
/// use bladeform_quantity::{Length, StationRadii};
/// assert_eq!(StationRadii::parse_count("24").unwrap(), StationRadii::Count(24));
/// assert_eq!(StationRadii::parse("0.75,0.3").unwrap(), StationRadii::Ratios(vec![0.3, 0.75]));
/// assert_eq!(
///     StationRadii::parse("12in,18in").unwrap(),
///     StationRadii::Lengths(vec![Length::parse("12in").unwrap(), Length::parse("18in").unwrap()])
/// );
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum StationRadii {
    /// A number of stations. The measurement chooses their radii.
    Count(usize),
    /// Fractions of the tip radius, above 0 and at most 1, increasing.
    Ratios(Vec<f64>),
    /// Distances from the axis of rotation, above 0, increasing.
    Lengths(Vec<Length>),
}

/// Minimum number of stations: a curve along the radius needs three.
pub const LEAST_STATIONS: usize = 3;
/// Maximum number of stations. More would be closer together than any scan resolves.
pub const MOST_STATIONS: usize = 1000;

/// Two stations closer than this fraction of their radius are the same station written in two ways.
const SAME_STATION_RELATIVE: f64 = 1e-9;

impl StationRadii {
    /// Reads a number of stations, from [`LEAST_STATIONS`] to [`MOST_STATIONS`].
    ///
    /// # Errors
    /// [`QuantityError::StationCount`] for any other text.
    pub fn parse_count(text: &str) -> Result<StationRadii, QuantityError> {
        match text.trim().parse() {
            Ok(count) if (LEAST_STATIONS..=MOST_STATIONS).contains(&count) => Ok(StationRadii::Count(count)),
            _ => Err(count_error(text)),
        }
    }

    /// Reads a list such as `0.3,0.45,0.75` or `12in,18in`. The result is in increasing order.
    ///
    /// # Errors
    /// [`QuantityError`] if fractions and lengths are mixed, a station is out of range or given twice, or there
    /// are more than [`MOST_STATIONS`].
    pub fn parse(text: &str) -> Result<StationRadii, QuantityError> {
        let items: Vec<&str> = text.split(',').map(str::trim).collect();
        if items.len() > MOST_STATIONS {
            return Err(count_error(&items.len().to_string()));
        }
        let bare = items.iter().filter(|item| is_bare_number(item)).count();
        if bare == items.len() {
            Ok(StationRadii::Ratios(rising(&items, ratio)?))
        } else if bare == 0 {
            let lengths =
                rising(&items, |item| Length::parse(item).ok().map(Length::m).filter(|m| *m > 0.0))?;
            Ok(StationRadii::Lengths(lengths.into_iter().map(Length::from_m).collect()))
        } else {
            Err(mixture_error(text, &items))
        }
    }
}

/// The values of the items in increasing order, each once.
fn rising(items: &[&str], value: impl Fn(&str) -> Option<f64>) -> Result<Vec<f64>, QuantityError> {
    let mut read = Vec::with_capacity(items.len());
    for item in items {
        let value = value(item).ok_or_else(|| QuantityError::Station { item: (*item).to_owned() })?;
        read.push((value, *item));
    }
    read.sort_by(|a, b| a.0.total_cmp(&b.0));
    for pair in read.windows(2) {
        if pair[1].0 - pair[0].0 <= SAME_STATION_RELATIVE * pair[1].0 {
            let (earlier, item) = (pair[0].1.to_owned(), pair[1].1.to_owned());
            return Err(QuantityError::DuplicateStation { item, earlier });
        }
    }
    Ok(read.into_iter().map(|(value, _)| value).collect())
}

fn is_bare_number(text: &str) -> bool {
    leading_number(text).is_some_and(|(_, rest)| rest.is_empty())
}

/// Reports an item that is neither a number nor a length, otherwise the mixture of fractions and lengths.
fn mixture_error(text: &str, items: &[&str]) -> QuantityError {
    match items.iter().find(|item| !is_bare_number(item) && Length::parse(item).is_err()) {
        Some(item) => QuantityError::Station { item: (*item).to_owned() },
        None => QuantityError::MixedStations { text: text.trim().to_owned() },
    }
}

fn count_error(text: &str) -> QuantityError {
    QuantityError::StationCount { text: text.trim().to_owned(), least: LEAST_STATIONS, most: MOST_STATIONS }
}

impl fmt::Display for StationRadii {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let joined = |texts: Vec<String>| texts.join(",");
        match self {
            StationRadii::Count(count) => write!(f, "{count}"),
            StationRadii::Ratios(ratios) => f.write_str(&joined(ratios.iter().map(f64::to_string).collect())),
            StationRadii::Lengths(lengths) => {
                f.write_str(&joined(lengths.iter().map(Length::to_string).collect()))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn message(text: &str) -> String {
        StationRadii::parse(text).unwrap_err().to_string()
    }

    #[test]
    fn a_count_has_its_range() {
        assert_eq!(StationRadii::parse_count(" 3 ").unwrap(), StationRadii::Count(3));
        assert_eq!(StationRadii::parse_count("1000").unwrap(), StationRadii::Count(1000));
        for text in ["2", "1001", "-3", "2.5", "24in", "", "99999999999999999999999"] {
            let message = StationRadii::parse_count(text).unwrap_err().to_string();
            assert!(message.contains("from 3 to 1000"), "{text}: {message}");
        }
    }

    #[test]
    fn fractions_and_lengths_cannot_be_mixed() {
        assert!(message("0.3,12in").contains("mixes fractions"));
        assert!(message("0.3,twelve").contains("`twelve` is no station"));
    }

    #[test]
    fn stations_out_of_range_are_named() {
        for (text, item) in [
            ("0.3,1.2", "1.2"),
            ("0,0.5", "0"),
            ("0.5,-0.2", "-0.2"),
            ("0.2,,0.3", ""),
            ("12in,-3in", "-3in"),
        ] {
            assert!(message(text).contains(&format!("`{item}` is no station")), "{}", message(text));
        }
        assert!(message("").contains("no station"));
        assert!(message("0.3;0.5").contains("`0.3;0.5` is no station"));
    }

    #[test]
    fn a_station_given_twice_is_named_in_both_spellings() {
        assert!(message("0.3,0.5,0.30").contains("`0.30` is given twice (also as `0.3`)"));
        let mixed = message("12in,1ft");
        assert!(mixed.contains("`12in`") && mixed.contains("`1ft`"), "{mixed}");
    }

    #[test]
    fn too_many_stations_are_refused() {
        let text: Vec<String> = (1..=1001).map(|k| format!("{}mm", k)).collect();
        assert!(message(&text.join(",")).contains("from 3 to 1000"));
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back(parts in proptest::collection::btree_set(1_u32..=100_000, 1..40), as_lengths: bool) {
            let values: Vec<f64> = parts.iter().map(|&k| f64::from(k) / 100_000.0).collect();
            let radii = if as_lengths {
                StationRadii::Lengths(values.into_iter().map(Length::from_m).collect())
            } else {
                StationRadii::Ratios(values)
            };
            prop_assert_eq!(StationRadii::parse(&radii.to_string()).unwrap(), radii);
        }

        #[test]
        fn no_text_panics(text in "[-+0-9.,e infm]{0,16}") {
            let _ = StationRadii::parse(&text);
        }
    }
}
