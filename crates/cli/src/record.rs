//! The `record` command: files in, one page out. Also the page that `measure`, `predict` and `demo` write with their results.

use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

use bladeform::document::{is_json, read_json, read_prediction_json};
use bladeform::record::{NoScan, Record, RecordError, RecordPlan, ScanPart, is_scan_of};
use bladeform::table::{Notice, Prediction, StationTable};
use clap::Args;

use crate::advice::line;
use crate::failure::{Failure, Said};
use crate::feedback::{Shares, ToLog, stage};
use crate::input::bytes_of;
use crate::output::{Outputs, can_be_written};

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares = &[("reading", 10.0), ("making the page", 85.0), ("writing", 5.0)];

/// Default heading of a page.
const UNNAMED: &str = "Propeller blade";

/// File name of the page in the output folder of other commands.
pub(crate) const PAGE: &str = "record.html";

/// Title, note and date of a page.
#[derive(Debug, Args)]
pub(crate) struct Heading {
    /// Title of the page: which part this is.
    #[arg(long, value_name = "TEXT", default_value = UNNAMED)]
    title: String,
    /// Text below the title: maker, number, condition, owner.
    #[arg(long, value_name = "TEXT", default_value = "")]
    part_note: String,
    /// Date of the page [default: today, UTC]. The same inputs and date give the same page.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = date)]
    date: Option<String>,
}

/// The page that a command writes with its files.
#[derive(Debug, Args)]
pub(crate) struct PageAlong {
    #[command(flatten)]
    heading: Heading,
    /// Do not write record.html, the page of table, scan and prediction.
    #[arg(long, conflicts_with_all = ["title", "part_note", "date"])]
    pub(crate) no_record: bool,
}

#[derive(Debug, Args)]
pub(crate) struct RecordArguments {
    /// Station table, stations.json.
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Predictions made from this table, prediction.json.
    #[arg(value_name = "PREDICTION")]
    predictions: Vec<PathBuf>,
    /// The scan that was measured [default: the file named in the table, if it is in the same folder].
    #[arg(long, value_name = "FILE")]
    scan: Option<PathBuf>,
    #[command(flatten)]
    heading: Heading,
    /// Folder for the curves and drawings as SVG files.
    #[arg(long, value_name = "DIR")]
    plots: Option<PathBuf>,
    /// Output file, the page.
    #[arg(short, long, value_name = "FILE.html")]
    out: PathBuf,
}

/// Writes the page and, if requested, the plots; returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn record(asked: &RecordArguments) -> Result<Said, Failure> {
    let inputs = asked.predictions.iter().chain([&asked.table]).chain(&asked.scan);
    // The names of the drawings are known only when they are made; the folder is known now.
    let drawing = asked.plots.iter().map(|folder| folder.join("drawing.svg"));
    can_be_written([asked.out.clone()].into_iter().chain(drawing), inputs.clone())?;
    stage("reading");
    let table_bytes = bytes_of(&asked.table, "a station table, stations.json")?;
    if !table_bytes.is_empty() && !is_json(&table_bytes) {
        return Err(about(
            &asked.table,
            "a record is made from stations.json, which this is not; for a CSV table `bladeform predict` writes a page",
        ));
    }
    let table = read_json(&table_bytes).map_err(|e| about(&asked.table, e))?;
    let sha256 = bladeform::document::sha256_hex(&table_bytes);
    let read = |path: &PathBuf| {
        let bytes = bytes_of(path, "a prediction, prediction.json")?;
        let prediction = read_prediction_json(&bytes).map_err(|e| about(path, e))?;
        if prediction.table_sha256.is_empty() || prediction.table_sha256 == sha256 {
            return Ok(prediction);
        }
        Err(Failure::Input(format!(
            "{}: the prediction was made from another table (the SHA-256 differs); run predict on {} first",
            path.display(),
            asked.table.display()
        )))
    };
    let predictions = asked.predictions.iter().map(read).collect::<Result<Vec<Prediction>, Failure>>()?;
    let scan = match &asked.scan {
        Some(path) => Ok(bytes_of(path, "the scan that was measured")?),
        None => scan_near(&asked.table, &table),
    };
    stage("making the page");
    let of_scan = |e| about(asked.scan.as_deref().unwrap_or(&asked.table), e);
    let (part, no_scan) = match scan {
        Ok(bytes) => (Some(shown_part(&bytes, &table).map_err(of_scan)?), None),
        Err(why) => (None, Some(why)),
    };
    let made = asked
        .heading
        .page(&table, &predictions, part.as_ref(), no_scan.as_ref())
        .map_err(|e| of_scan(e.to_string()))?;
    let mut text = format!("{}: {:.1} MB\n", asked.out.display(), made.html.len() as f64 / 1e6);
    let mut outputs = Outputs::default();
    if let Some(folder) = &asked.plots {
        can_be_written(made.plots.iter().map(|p| folder.join(&p.name)), inputs)?;
        text.push_str(&format!("{} drawings are in {}\n", made.plots.len(), folder.display()));
        made.plots.into_iter().for_each(|p| outputs.add(folder.join(p.name), p.svg));
    }
    outputs.add(asked.out.clone(), made.html);
    stage("writing");
    outputs.write()?;
    let warnings: Vec<String> = made.notices.iter().map(|n| line(&Notice::of(n))).collect();
    warnings.iter().for_each(|w| text.push_str(&format!("Warning: {w}\n")));
    text.push_str(bladeform::table::CAUTION);
    text.push('\n');
    Ok(Said { text, warnings })
}

impl Heading {
    /// The title, or another where none was given.
    pub(crate) fn title_or(&self, other: &str) -> String {
        if self.title == UNNAMED { other } else { &self.title }.to_owned()
    }

    pub(crate) fn part_note(&self) -> &str {
        &self.part_note
    }

    /// The date given, else today's.
    pub(crate) fn date(&self) -> String {
        self.date.clone().unwrap_or_else(today)
    }

    fn page(
        &self,
        table: &StationTable,
        predictions: &[Prediction],
        scan: Option<&ScanPart>,
        no_scan: Option<&NoScan>,
    ) -> Result<Record, RecordError> {
        let plan = RecordPlan {
            table,
            predictions,
            scan,
            no_scan,
            title: &self.title,
            part_note: &self.part_note,
            date: &self.date(),
        };
        bladeform::record::record(&plan, &ToLog)
    }
}

/// A page that accompanies the results, with its warnings. If the page cannot be made, the figures are still written: the page is left out with
/// a warning.
#[derive(Debug, Default)]
pub(crate) struct Along {
    html: Option<String>,
    pub(crate) warnings: Vec<String>,
}

impl Along {
    fn of(made: Result<Record, RecordError>) -> Self {
        match made {
            Ok(record) => {
                let warnings =
                    record.notices.iter().map(|n| format!("{PAGE}: {}", line(&Notice::of(n)))).collect();
                Self { html: Some(record.html), warnings }
            }
            Err(e) => Self::left_out(e),
        }
    }

    fn left_out(why: impl std::fmt::Display) -> Self {
        Self { html: None, warnings: vec![format!("{PAGE} was not written: {why}")] }
    }

    /// The warnings as lines.
    pub(crate) fn text(&self) -> String {
        self.warnings.iter().map(|w| format!("Warning: {w}\n")).collect()
    }

    /// Adds the page to the outputs.
    pub(crate) fn add_to(&self, outputs: &mut Outputs, folder: &Path) {
        if let Some(html) = &self.html {
            outputs.add(folder.join(PAGE), html.as_bytes());
        }
    }
}

impl PageAlong {
    /// The page of a table just measured. `json`: the table as written, so that `record` makes the same page from the same files.
    /// `part`: the scan that was measured; `None` if no page is wanted.
    pub(crate) fn of_measured(&self, json: &[u8], part: Option<&ScanPart>) -> Along {
        let Some(part) = part.filter(|_| !self.no_record) else { return Along::default() };
        match read_json(json) {
            Ok(table) => Along::of(self.heading.page(&table, &[], Some(part), None)),
            Err(e) => Along::left_out(e),
        }
    }

    /// The page of a table and a prediction just made from it. `json`: the prediction as written.
    pub(crate) fn of_predicted(&self, path: &Path, table: &StationTable, json: &[u8]) -> Along {
        if self.no_record {
            return Along::default();
        }
        let prediction = match read_prediction_json(json) {
            Ok(prediction) => [prediction],
            Err(e) => return Along::left_out(e),
        };
        match scan_near(path, table) {
            Err(why) => Along::of(self.heading.page(table, &prediction, None, Some(&why))),
            Ok(bytes) => match shown_part(&bytes, table) {
                Ok(part) => Along::of(self.heading.page(table, &prediction, Some(&part), None)),
                Err(e) => Along::left_out(e),
            },
        }
    }
}

/// The part that a table was measured from, read from the bytes of its scan.
fn shown_part(bytes: &[u8], table: &StationTable) -> Result<ScanPart, String> {
    bladeform::record::must_be_scan_of(bytes, table).map_err(|e| e.to_string())?;
    let lone = table.blade.blades_in_scan == Some(1);
    let part = bladeform::measure::part_of(bytes, lone);
    part.map(ScanPart::of).map_err(|e| e.to_string())
}

/// The page of the demo, which has no date and so is always the same.
pub(crate) fn demo_page(json: &[u8], part: Option<&ScanPart>, title: &str, note: &str) -> Along {
    let heading = Heading {
        title: title.to_owned(),
        part_note: note.to_owned(),
        date: Some("undated, a demonstration".to_owned()),
    };
    PageAlong { heading, no_record: false }.of_measured(json, part)
}

/// The bytes of the scan in the table's folder, or the reason why the page has no scan. It must be the scan that was measured.
fn scan_near(table_path: &Path, table: &StationTable) -> Result<Vec<u8>, NoScan> {
    let Some(source) = table.source.as_ref().filter(|s| !s.file.is_empty()) else {
        return Err(NoScan::NotNamed);
    };
    let file = source.file.clone();
    // Only the name counts: a table from elsewhere must not lead to a file outside its own folder.
    let name = Path::new(&source.file).file_name().map(PathBuf::from).unwrap_or_default();
    let path = table_path.parent().unwrap_or(Path::new("")).join(name);
    // A pipe of that name would keep the command waiting.
    let bytes = path.is_file().then(|| std::fs::read(&path).ok()).flatten();
    let Some(bytes) = bytes else { return Err(NoScan::NotInFolder { file }) };
    if !is_scan_of(&bytes, table) {
        return Err(NoScan::OtherScan { file });
    }
    if table.frame.as_ref().is_none_or(|frame| frame.scan_to_blade.is_none()) {
        return Err(NoScan::NotPlaced { file });
    }
    Ok(bytes)
}

fn about(path: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}

/// A calendar date as typed.
fn date(text: &str) -> Result<String, String> {
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
