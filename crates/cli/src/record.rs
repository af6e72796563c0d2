//! `record`: files in, one page out.

use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use bladeform::{Prediction, RecordPlan, StationTable, read_json, read_prediction_json};
use clap::Args;

use crate::failure::Failure;
use crate::output::write_whole;

/// Heading of a page whose part was not named.
const UNNAMED: &str = "Propeller blade";

#[derive(Debug, Args)]
pub(crate) struct RecordArguments {
    /// The station table, stations.json.
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Predictions made from it, prediction.json.
    #[arg(value_name = "PREDICTION")]
    predictions: Vec<PathBuf>,
    /// The scan that was measured [default: the file named in the table, if it lies beside it].
    #[arg(long, value_name = "FILE")]
    scan: Option<PathBuf>,
    /// Heading: what part this is.
    #[arg(long, value_name = "TEXT", default_value = UNNAMED)]
    title: String,
    /// Text below the heading: maker, number, condition, whose it is.
    #[arg(long, value_name = "TEXT", default_value = "")]
    part_note: String,
    /// Date of the record [default: today, UTC]. The same inputs and date give the same page.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = date)]
    date: Option<String>,
    /// Folder for the curves and drawings as SVG files.
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// The page to write.
    #[arg(short, long, value_name = "FILE.html")]
    out: PathBuf,
}

/// Writes the page and, where asked, the plots; returns the text for the terminal.
pub(crate) fn record(asked: &RecordArguments) -> Result<String, Failure> {
    let table = read_json(&bytes_of(&asked.table)?).map_err(|e| about(&asked.table, e))?;
    let predictions = asked
        .predictions
        .iter()
        .map(|path| read_prediction_json(&bytes_of(path)?).map_err(|e| about(path, e)))
        .collect::<Result<Vec<Prediction>, Failure>>()?;
    let (scan, scan_note) = scan_of(asked, &table)?;
    let today = today();
    let plan = RecordPlan {
        table: &table,
        predictions: &predictions,
        scan: scan.as_deref(),
        scan_note: &scan_note,
        title: &asked.title,
        part_note: &asked.part_note,
        date: asked.date.as_deref().unwrap_or(&today),
    };
    let made =
        bladeform::record(&plan).map_err(|e| about(asked.scan.as_deref().unwrap_or(&asked.table), e))?;
    if let Some(folder) = &asked.plots {
        std::fs::create_dir_all(folder)
            .map_err(|e| Failure::Input(format!("the folder {} cannot be made: {e}", folder.display())))?;
        for plot in &made.plots {
            write_whole(&folder.join(&plot.name), plot.svg.as_bytes()).map_err(Failure::Input)?;
        }
    }
    write_whole(&asked.out, made.html.as_bytes()).map_err(Failure::Input)?;
    let mut text = format!("{}: {:.1} MB\n", asked.out.display(), made.html.len() as f64 / 1e6);
    if let Some(folder) = &asked.plots {
        text.push_str(&format!("{} drawings are in {}\n", made.plots.len(), folder.display()));
    }
    made.notes.iter().for_each(|note| text.push_str(&format!("Warning: {note}\n")));
    text.push_str(bladeform::CAUTION);
    text.push('\n');
    Ok(text)
}

/// The bytes of the scan, or why the page is without it. A scan that was named must be usable; one found beside the table must be the
/// one that was measured, else it is left aside.
fn scan_of(asked: &RecordArguments, table: &StationTable) -> Result<(Option<Vec<u8>>, String), Failure> {
    if let Some(path) = &asked.scan {
        return Ok((Some(bytes_of(path)?), String::new()));
    }
    let Some(source) = table.source.as_ref().filter(|s| !s.file.is_empty()) else {
        return Ok((None, "the table names no scan: the page shows the outlines alone".to_owned()));
    };
    // Only the name counts: a table from elsewhere must not lead to a file outside its own folder.
    let name = Path::new(&source.file).file_name().map(PathBuf::from).unwrap_or_default();
    let beside = asked.table.parent().unwrap_or(Path::new("")).join(name);
    let aside = |why: &str| {
        (None, format!("the scan {} {why}: the page shows the outlines alone; give --scan", source.file))
    };
    let Ok(bytes) = std::fs::read(&beside) else { return Ok(aside("does not lie beside the table")) };
    if !bladeform::is_scan_of(&bytes, table) {
        return Ok(aside("beside the table is not the one that was measured (its SHA-256 differs)"));
    }
    Ok((Some(bytes), String::new()))
}

fn bytes_of(path: &Path) -> Result<Vec<u8>, Failure> {
    std::fs::read(path).map_err(|e| Failure::Input(format!("{} cannot be read: {e}", path.display())))
}

fn about(path: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}

/// A date of the calendar as it was typed, or a sentence.
fn date(text: &str) -> Result<String, String> {
    let refused = || format!("`{text}`: a date is year, month and day, such as 2026-01-31");
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
fn today() -> String {
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
