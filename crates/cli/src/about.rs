//! Options that say what part a record is about: title, note, date, and the texts that only measuring or recording takes.

use std::time::{SystemTime, UNIX_EPOCH};

use bladeform::quantity::Density;
use bladeform::table::{PartRecord, RecordText};
use clap::Args;

/// Title, note and date of a page.
#[derive(Debug, Args)]
pub(crate) struct Heading {
    /// Title of the page: which part this is [default: that of the table].
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
    /// Text below the title: condition, history, anything else [default: that of the table].
    #[arg(long, value_name = "TEXT")]
    part_note: Option<String>,
    /// Date of the record [default: that of the table, else today, UTC]. The same inputs and date give the same page.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = date)]
    date: Option<String>,
}

/// What people say of the part. An empty text takes away what the table or the folder says.
#[derive(Debug, Args)]
pub(crate) struct About {
    #[command(flatten)]
    heading: Heading,
    /// Maker of the part.
    #[arg(long, value_name = "TEXT")]
    maker: Option<String>,
    /// Number on the part.
    #[arg(long, value_name = "TEXT")]
    number: Option<String>,
    /// Owner of the part.
    #[arg(long, value_name = "TEXT")]
    owner: Option<String>,
    /// Who scanned the part.
    #[arg(long, value_name = "TEXT")]
    scanned_by: Option<String>,
    /// Scanner or camera, and its software.
    #[arg(long, value_name = "TEXT")]
    scanned_with: Option<String>,
    /// Number of the part in a collection.
    #[arg(long, value_name = "TEXT")]
    accession_number: Option<String>,
    /// Density of the part, the same throughout: its mass is shown beside its volume. An empty value ("") takes it off the record, as it does with the texts.
    #[arg(long, value_name = "DENSITY", value_parser = kept_density)]
    density: Option<KeptDensity>,
}

/// A density as typed; `None`: what the table or the folder says is taken away.
#[derive(Debug, Clone, Copy, PartialEq)]
struct KeptDensity(Option<Density>);

fn kept_density(text: &str) -> Result<KeptDensity, String> {
    if text.is_empty() {
        return Ok(KeptDensity(None));
    }
    Density::parse(text).map(|d| KeptDensity(Some(d))).map_err(|e| e.to_string())
}

impl Heading {
    /// The title as given.
    pub(crate) fn title(&self) -> Option<&str> {
        self.title.as_deref()
    }

    /// The note as given, else empty.
    pub(crate) fn part_note(&self) -> &str {
        self.part_note.as_deref().unwrap_or_default()
    }

    /// The date as given, else today's.
    pub(crate) fn date(&self) -> String {
        self.date.clone().filter(|date| !date.is_empty()).unwrap_or_else(today)
    }

    /// Puts what was given into a record.
    pub(crate) fn add_to(&self, record: &mut PartRecord) {
        let given = [
            (RecordText::Title, &self.title),
            (RecordText::Note, &self.part_note),
            (RecordText::Date, &self.date),
        ];
        set(record, &given);
    }
}

impl About {
    /// Puts what was given into a record.
    pub(crate) fn add_to(&self, record: &mut PartRecord) {
        self.heading.add_to(record);
        let given = [
            (RecordText::Maker, &self.maker),
            (RecordText::Number, &self.number),
            (RecordText::Owner, &self.owner),
            (RecordText::ScannedBy, &self.scanned_by),
            (RecordText::ScannedWith, &self.scanned_with),
            (RecordText::AccessionNumber, &self.accession_number),
        ];
        set(record, &given);
        if let Some(KeptDensity(density)) = self.density {
            record.density_kg_m3 = density.map(Density::kg_m3);
        }
    }
}

fn set(record: &mut PartRecord, given: &[(RecordText, &Option<String>)]) {
    for (text, value) in given {
        if let Some(value) = value {
            record.set(*text, value);
        }
    }
}

/// A calendar date as typed.
fn date(text: &str) -> Result<String, String> {
    // Takes the date of the table away.
    if text.is_empty() {
        return Ok(String::new());
    }
    let refused = || format!("`{text}`: write a date as year, month and day, e.g. 2026-01-31");
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else { return Err(refused()) };
    if [year.len(), month.len(), day.len()] != [4, 2, 2] {
        return Err(refused());
    }
    let number = |t: &str| t.parse::<i64>().map_err(|_| refused());
    let (year, month, day) = (number(year)?, number(month)?, number(day)?);
    if !(1..=12).contains(&month) || civil(days_from_civil(year, month, day)) != (year, month, day) {
        return Err(refused());
    }
    Ok(text.to_owned())
}

/// Today's date in UTC.
pub(crate) fn today() -> String {
    let seconds = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |d| d.as_secs());
    let (year, month, day) = civil((seconds / 86_400) as i64);
    format!("{year:04}-{month:02}-{day:02}")
}

/// Days since 1970-01-01 of a date of the Gregorian calendar. Years are counted from March, so that the leap day comes last.
fn days_from_civil(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let era = year.div_euclid(400);
    let of_era = year.rem_euclid(400);
    let of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

/// The date of a day counted from 1970-01-01; the inverse of [`days_from_civil`].
fn civil(days: i64) -> (i64, i64, i64) {
    let days = days + 719_468;
    let (era, of_era) = (days.div_euclid(146_097), days.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let month = if month < 10 { month + 3 } else { month - 9 };
    (year + era * 400 + i64::from(month <= 2), month, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_by_the_calendar() {
        // 2000-01-01 is 30 years with 7 leap days after 1970; 2000 is a leap year, 1900 is not (Gregorian rule).
        assert_eq!(days_from_civil(2000, 1, 1), 30 * 365 + 7);
        assert_eq!(days_from_civil(2000, 3, 1) - days_from_civil(2000, 2, 28), 2);
        assert_eq!(days_from_civil(1900, 3, 1) - days_from_civil(1900, 2, 28), 1);
        for days in (-200_000..200_000).step_by(997) {
            let (y, m, d) = civil(days);
            assert_eq!(days_from_civil(y, m, d), days);
        }
    }

    #[test]
    fn dates_that_are_none_are_refused() {
        for text in ["2026-02-29", "2026-13-01", "26-01-01", "today", "2026-1-1"] {
            assert!(date(text).is_err(), "{text}");
        }
        assert_eq!(date("2024-02-29").as_deref(), Ok("2024-02-29"));
    }
}
