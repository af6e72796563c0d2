//! The file beside `comparison.csv` that says what its columns are, and which two tables it compares.

use std::io::Write;

use bladeform_table::CAUTION;
use serde_json::{Value, json};

use crate::DocumentError;
use crate::csv_description::write_description;

/// The schema of the note in the description.
const COMPARISON_SCHEMA: &str = "bladeform.comparison/1";

/// Headings of `comparison.csv` with unit and meaning; figures are in the unit that their key ends in.
const COLUMNS: [(&str, &str, &str); 12] = [
    ("radius_m", "m", "distance of the station from the axis of rotation, in the first table"),
    ("radius_ratio", "a fraction", "the same over the tip radius"),
    ("figure", "", "key of the figure, which ends in its unit"),
    ("first", "as the figure", "the figure of the first table"),
    ("second", "as the figure", "the figure of the second table"),
    ("difference", "as the figure", "first less second"),
    ("u", "as the figure", "standard uncertainty of the difference"),
    ("significant", "", "yes if the difference exceeds 2 u"),
    ("beyond_tolerance", "", "yes if the difference exceeds the tolerance"),
    ("between_stations", "", "yes if the second table was read between its stations"),
    ("beyond_shift", "as the figure", "the difference less the one common to all stations"),
    ("u_beyond_shift", "as the figure", "its standard uncertainty"),
];

/// Writes the description of the CSV file of a comparison (W3C, Metadata vocabulary for tabular data). `csv_name`: the name of that file; `tables`: name and SHA-256 of the file of
/// each table.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_comparison_description(
    csv_name: &str,
    tables: [(&str, &str); 2],
    out: impl Write,
) -> Result<(), DocumentError> {
    let column = |(title, unit, meaning): &(&str, &str, &str)| {
        let datatype = if unit.is_empty() { "string" } else { "number" };
        let mut column = json!({"titles": title, "datatype": datatype, "dc:description": meaning});
        if !unit.is_empty() {
            column["schema:unitText"] = (*unit).into();
        }
        column
    };
    let columns: Vec<Value> = COLUMNS.iter().map(column).collect();
    let tables = tables.map(|(file, sha256)| json!({"file": file, "sha256": sha256}));
    let note = json!({"schema": COMPARISON_SCHEMA, "tables": tables, "caution": CAUTION});
    write_description(csv_name, &columns, &note, out)
}

/// Name and SHA-256 of the two tables in a description; `None` if it does not state them.
#[must_use]
pub fn compared_tables(description: &[u8]) -> Option<[(String, String); 2]> {
    let value: Value = serde_json::from_slice(description).ok()?;
    let notes = value.get("notes")?.as_array()?;
    let is_ours = |note: &&Value| note.get("schema").and_then(Value::as_str) == Some(COMPARISON_SCHEMA);
    let tables = notes.iter().find(is_ours)?.get("tables")?;
    let of = |k: usize| {
        let text = |key: &str| tables.get(k)?.get(key).and_then(Value::as_str).map(str::to_owned);
        Some((text("file")?, text("sha256")?))
    };
    Some([of(0)?, of(1)?])
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{ComparePlan, Station, StationTable, compare};

    #[test]
    fn the_description_names_the_tables_and_every_column() {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        table.stations = [0.4, 0.6].map(|r| Station { chord_m: Some(0.1), ..Station::at(r, 1.0) }).to_vec();
        let compared = compare([&table, &table], ["a", "b"], &ComparePlan::default()).unwrap();
        let (mut csv, mut description) = (Vec::new(), Vec::new());
        crate::write_comparison_csv(&compared, &mut csv).unwrap();
        write_comparison_description("comparison.csv", [("a", "11"), ("b", "22")], &mut description).unwrap();
        let read = compared_tables(&description).unwrap();
        assert_eq!(read, [("a", "11"), ("b", "22")].map(|(a, b)| (a.to_owned(), b.to_owned())));
        let headings = String::from_utf8(csv).unwrap().lines().next().unwrap().to_owned();
        assert_eq!(headings, COLUMNS.map(|c| c.0).join(","));
        assert_eq!(compared_tables(b"{}"), None);
    }
}
