//! Reading and writing `stations.csv`: one row per station, headings are the JSON keys, no outlines.

use crate::json_read::text_of;
use crate::object::{Fault, shortened};
use crate::sheet_cell::{guarded, unguarded};
use crate::{DocumentError, Place, figure_cell};
use bladeform_table::{BladeFigures, Flag, Station, StationColumn, StationTable, Step, path_text};
use serde_json::Value;
use std::collections::HashSet;
use std::io::Write;

/// Separator of the flags in one cell.
const FLAG_SEPARATOR: &str = " | ";
/// The heading of the flags.
const FLAGS: &str = "flags";
/// Before the key of a figure: the heading of its scatter between several scans.
const SCATTER: &str = "scatter_";
/// Longest unknown heading. Every station stores the unknown headings with its cells, and the limit keeps the memory in proportion to the file.
const LONGEST_HEADING: usize = 64;

/// Writes the stations of a table as CSV: the figures, their uncertainties as `u_` and the key, the evidence, the flags
/// joined by ` | `, for a mean over several scans their scatter as `scatter_` and the key, then unknown keys that hold plain values. Missing figures are empty cells.
/// A text that a spreadsheet would run as a formula has an apostrophe in front, which reading takes away.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_csv(table: &StationTable, out: impl Write) -> Result<(), DocumentError> {
    write_stations_csv(&table.stations, out)
}

/// Writes any stations, for example those of one blade of a propeller, in the format of [`write_csv`].
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_stations_csv(stations: &[Station], out: impl Write) -> Result<(), DocumentError> {
    let scattered: Vec<StationColumn> = StationColumn::FIGURES
        .iter()
        .copied()
        .filter(|column| stations.iter().any(|s| s.scatter.get(*column).is_some()))
        .collect();
    let scatter_headings: Vec<String> = scattered.iter().map(|c| format!("{SCATTER}{}", c.key())).collect();
    let extra: Vec<&str> = plain_extra_keys(stations)
        .into_iter()
        .filter(|key| !scatter_headings.iter().any(|heading| heading == key))
        .collect();
    let mut writer = csv::Writer::from_writer(out);
    let known = headings().map(str::to_owned).chain(scatter_headings.iter().cloned());
    writer
        .write_record(known.chain(extra.iter().map(|key| guarded(key).into_owned())))
        .map_err(write_error)?;
    for station in stations {
        let unknown = extra.iter().map(|key| station.extra.get(*key).map_or_else(String::new, plain_text));
        let scatter = scattered.iter().map(|column| figure_cell(station.scatter.get(*column)));
        writer.write_record(cells(station).chain(scatter).chain(unknown)).map_err(write_error)?;
    }
    writer.flush()?;
    Ok(())
}

/// Reads stations from the bytes of a CSV file.
///
/// The required headings are `radius_m, chord_m, blade_angle_deg, thickness_ratio, camber_ratio`, because there are no outlines. The tip
/// radius, m, follows from `radius_m` and `radius_ratio` of the last station that has both. If one of these columns is missing it is `blade_radius_m`, and
/// then a `radius_ratio` may replace a missing `radius_m`.
/// Unknown headings are kept in `extra` of each station.
///
/// # Errors
/// [`DocumentError`] with the line and the heading: for text that is not CSV, a missing or repeated heading, a cell that is no
/// number, radii that do not increase, figures that are not allowed, or an unknown tip radius.
///
/// ```
/// let text = "radius_m,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n0.5,0.15,31.0,0.12,wide\n";
/// let message = bladeform_document::read_csv(text.as_bytes(), Some(1.0)).unwrap_err().to_string();
/// assert_eq!(message, "line 2: camber_ratio is `wide` where a number or an empty cell is needed");
/// ```
pub fn read_csv(bytes: &[u8], blade_radius_m: Option<f64>) -> Result<StationTable, DocumentError> {
    // The CSV reader counts lines by the line feed alone.
    let text = text_of(bytes)?.replace("\r\n", "\n");
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let headings = reader.headers().map_err(|error| read_error(&error))?;
    let knows_size = ["radius_m", "radius_ratio"].iter().all(|key| headings.iter().any(|h| h == *key));
    let columns = columns_of(headings, blade_radius_m)?;
    let mut stations = Vec::new();
    let mut lines = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| read_error(&error))?;
        let line = record.position().map(|position| position.line() as usize);
        stations.push(station(&columns, &record, line, blade_radius_m)?);
        lines.push(line);
    }
    if stations.is_empty() {
        let place = Place { line: Some(1), column: None };
        let problem = "there is no row below the headings; write one row for each station".to_owned();
        return Err(DocumentError::Csv { place, problem });
    }
    let own = if knows_size { radius_from_ratios(&stations) } else { None };
    let radius_m = own.or(blade_radius_m).or_else(|| radius_from_ratios(&stations)).ok_or_else(no_radius)?;
    for station in stations.iter_mut().filter(|station| station.radius_ratio.is_nan()) {
        station.radius_ratio = station.radius_m / radius_m;
    }
    let blade = BladeFigures { radius_m, ..BladeFigures::default() };
    let table = StationTable { blade, stations, ..StationTable::default() };
    table.check().map_err(|fault| row_error(fault.into(), &lines))?;
    Ok(table)
}

fn headings() -> impl Iterator<Item = &'static str> {
    let figures = StationColumn::FIGURES.iter().map(|column| column.key());
    let uncertainties = StationColumn::FIGURES.iter().filter_map(|column| column.uncertainty_key());
    let evidence = StationColumn::EVIDENCE.iter().map(|column| column.key());
    figures.chain(uncertainties).chain(evidence).chain([FLAGS])
}

fn cells(station: &Station) -> impl Iterator<Item = String> + '_ {
    let figures = StationColumn::FIGURES.iter().map(|column| figure_cell(column.get(station)));
    let uncertainties = StationColumn::FIGURES.iter().map(|column| figure_cell(column.u(station)));
    let evidence = StationColumn::EVIDENCE.iter().map(|column| figure_cell(column.get(station)));
    // A separator inside a sentence would split the sentence when it is read.
    let flags: Vec<String> =
        station.flags.iter().map(|flag| flag.text().replace(FLAG_SEPARATOR, " / ")).collect();
    figures.chain(uncertainties).chain(evidence).chain([guarded(&flags.join(FLAG_SEPARATOR)).into_owned()])
}

/// The unknown keys with plain values, in the order of their first occurrence.
fn plain_extra_keys(stations: &[Station]) -> Vec<&str> {
    let mut seen: HashSet<&str> = headings().collect();
    let mut keys = Vec::new();
    for (key, value) in stations.iter().flat_map(|station| &station.extra) {
        let is_plain = !value.is_array() && !value.is_object();
        if is_plain && seen.insert(key) {
            keys.push(key.as_str());
        }
    }
    keys
}

fn plain_text(value: &Value) -> String {
    match value {
        Value::Null | Value::Array(_) | Value::Object(_) => String::new(),
        Value::String(text) => guarded(text).into_owned(),
        plain => plain.to_string(),
    }
}

/// The meaning of the cells below a heading.
enum CsvColumn {
    Figure(StationColumn),
    Uncertainty(StationColumn),
    Scatter(StationColumn),
    Flags,
    Unknown(String),
}

fn columns_of(
    headings: &csv::StringRecord,
    blade_radius_m: Option<f64>,
) -> Result<Vec<CsvColumn>, DocumentError> {
    const NEEDED: [&str; 5] = ["radius_m", "chord_m", "blade_angle_deg", "thickness_ratio", "camber_ratio"];
    let place = Place { line: Some(1), column: None };
    let fail = |problem: String| Err(DocumentError::Csv { place, problem });
    if headings.len() == 1 && headings.get(0).is_some_and(|h| h.contains(';') || h.contains('\t')) {
        return fail("the headings are separated by semicolons or tabs; separate the columns by commas, and write decimals with a point".to_owned());
    }
    if let Some(long) = headings.iter().find(|heading| heading.len() > LONGEST_HEADING) {
        return fail(format!(
            "the heading `{}` is longer than {LONGEST_HEADING} bytes; shorten it",
            shortened(long)
        ));
    }
    let mut seen = HashSet::new();
    if let Some(repeated) = headings.iter().find(|heading| !seen.insert(*heading)) {
        return fail(format!("the heading `{repeated}` occurs twice; remove one of the columns"));
    }
    let has_ratios = seen.contains("radius_ratio");
    let is_known = |needed: &str| needed == "radius_m" && has_ratios && blade_radius_m.is_some();
    if let Some(missing) = NEEDED.into_iter().find(|needed| !seen.contains(needed) && !is_known(needed)) {
        let needed = NEEDED.join(", ");
        let instead =
            if missing == "radius_m" { "; radius_ratio is enough if the diameter is given" } else { "" };
        return fail(format!(
            "the heading `{missing}` is missing; needed are {needed}, separated by commas{instead}"
        ));
    }
    Ok(headings.iter().map(column_of).collect())
}

fn column_of(heading: &str) -> CsvColumn {
    let uncertainty =
        |key: &str| StationColumn::of_key(key).filter(|column| column.uncertainty_key().is_some());
    match heading {
        FLAGS => CsvColumn::Flags,
        other => StationColumn::of_key(other)
            .map(CsvColumn::Figure)
            .or_else(|| other.strip_prefix("u_").and_then(uncertainty).map(CsvColumn::Uncertainty))
            .or_else(|| other.strip_prefix(SCATTER).and_then(uncertainty).map(CsvColumn::Scatter))
            .unwrap_or_else(|| CsvColumn::Unknown(unguarded(other).to_owned())),
    }
}

/// One row. A radius ratio that is not stated is NaN until the tip radius is known.
fn station(
    columns: &[CsvColumn],
    record: &csv::StringRecord,
    line: Option<usize>,
    blade_radius_m: Option<f64>,
) -> Result<Station, DocumentError> {
    let mut station = Station { radius_m: f64::NAN, radius_ratio: f64::NAN, ..Station::default() };
    for (column, text) in columns.iter().zip(record) {
        match column {
            CsvColumn::Figure(column) => column.set(&mut station, number(column.key(), text, line)?),
            CsvColumn::Uncertainty(column) => column.set_u(&mut station, number(column.key(), text, line)?),
            CsvColumn::Scatter(column) => {
                if let Some(scatter) = number(column.key(), text, line)? {
                    station.scatter.set(*column, scatter);
                }
            }
            CsvColumn::Flags => station.flags = flags(unguarded(text)),
            CsvColumn::Unknown(key) => {
                station.extra.insert(key.clone(), unknown(unguarded(text)));
            }
        }
    }
    if let Some(radius_m) = blade_radius_m.filter(|_| station.radius_m.is_nan()) {
        station.radius_m = radius_m * station.radius_ratio;
    }
    if station.radius_m.is_nan() {
        let problem = "radius_m is empty; every station needs its radius in metres".to_owned();
        return Err(DocumentError::Csv { place: Place { line, column: None }, problem });
    }
    Ok(station)
}

fn number(key: &str, text: &str, line: Option<usize>) -> Result<Option<f64>, DocumentError> {
    if text.is_empty() {
        return Ok(None);
    }
    match text.parse::<f64>().ok().filter(|v| v.is_finite()) {
        Some(number) => Ok(Some(number)),
        None => {
            let problem = format!("{key} is `{}` where a number or an empty cell is needed", shortened(text));
            Err(DocumentError::Csv { place: Place { line, column: None }, problem })
        }
    }
}

fn flags(text: &str) -> Vec<Flag> {
    text.split(FLAG_SEPARATOR).filter(|flag| !flag.is_empty()).map(Flag::read).collect()
}

/// A number if writing it would reproduce the text exactly, otherwise the text. A part number `007` thus stays a text.
fn unknown(text: &str) -> Value {
    let number = serde_json::from_str::<Value>(text)
        .ok()
        .filter(|value| value.is_number())
        .filter(|value| value.to_string().as_str() == text);
    match number {
        Some(number) => number,
        None if text.is_empty() => Value::Null,
        None => Value::from(text),
    }
}

fn radius_from_ratios(stations: &[Station]) -> Option<f64> {
    stations
        .iter()
        .rev()
        .find(|station| station.radius_ratio > 0.0)
        .map(|station| station.radius_m / station.radius_ratio)
}

fn no_radius() -> DocumentError {
    let problem = "the tip radius is not known: add a radius_ratio column, or give the diameter".to_owned();
    DocumentError::Csv { place: Place::default(), problem }
}

/// A fault of the checked table, reported with the line of its row.
fn row_error(fault: Fault, lines: &[Option<usize>]) -> DocumentError {
    match fault.path.as_slice() {
        [_, Step::Index(row), rest @ ..] => {
            let place = Place { line: lines.get(*row).copied().flatten(), column: None };
            DocumentError::Value { place, path: path_text(rest), problem: fault.problem }
        }
        _ => fault.in_memory(),
    }
}

fn read_error(error: &csv::Error) -> DocumentError {
    let line = error.position().map(|position| position.line() as usize);
    let problem = match error.kind() {
        csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!(
                "the row has {len} cells and the headings are {expected_len}; write as many cells as headings"
            )
        }
        _ => format!("this is not CSV: {error}"),
    };
    DocumentError::Csv { place: Place { line, column: None }, problem }
}

fn write_error(error: csv::Error) -> DocumentError {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => DocumentError::Write(error),
        // Records of equal length are written as text, so no other error can occur.
        other => DocumentError::Write(std::io::Error::other(format!("{other:?}"))),
    }
}
