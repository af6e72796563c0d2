//! The file beside `stations.csv` that says what its columns are, and what a table of rows cannot hold: hand, setting, sizes.
//!
//! Source: J. Tennison, G. Kellogg (editors), *Metadata vocabulary for tabular data*, W3C Recommendation, 17 December 2015. By that standard the description of `stations.csv`
//! has the name `stations.csv-metadata.json`, and its `notes` may hold any JSON.

use std::io::Write;

use bladeform_table::{CAUTION, SCHEMA, StationColumn, StationTable};
use serde_json::{Map, Value, json};

use crate::json_read::{blade, frame, syntax, text_of};
use crate::json_write::{blade_value, frame_value, print};
use crate::object::Object;
use crate::{DocumentError, read_csv, write_csv};

/// What follows the name of a CSV file in the name of its description.
pub const CSV_DESCRIPTION: &str = "-metadata.json";

/// Writes the description of the CSV file of a table. `csv_name`: the name of that file.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_csv_description(
    table: &StationTable,
    csv_name: &str,
    out: impl Write,
) -> Result<(), DocumentError> {
    let mut csv = Vec::new();
    write_csv(table, &mut csv)?;
    let mut reader = csv::Reader::from_reader(csv.as_slice());
    let headings =
        reader.headers().map_err(|e| DocumentError::Write(std::io::Error::other(e.to_string())))?;
    let columns: Vec<Value> = headings.iter().map(column).collect();
    let mut note = Map::new();
    note.insert("schema".to_owned(), SCHEMA.into());
    note.insert("blade".to_owned(), blade_value(&table.blade));
    if let Some(known) = &table.frame {
        note.insert("frame".to_owned(), frame_value(known));
    }
    note.insert("angles_are_relative".to_owned(), table.angles_are_relative().into());
    note.insert("caution".to_owned(), CAUTION.into());
    write_description(csv_name, &columns, &Value::Object(note), out)
}

/// Writes a description: the columns of a CSV file, and one note.
pub(crate) fn write_description(
    csv_name: &str,
    columns: &[Value],
    note: &Value,
    mut out: impl Write,
) -> Result<(), DocumentError> {
    let document = json!({
        "@context": "http://www.w3.org/ns/csvw",
        "url": csv_name,
        "tableSchema": {"columns": columns},
        "notes": [note],
    });
    let mut text = String::new();
    print(&document, 0, &mut text);
    text.push('\n');
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// What a heading means, with its unit.
fn column(heading: &str) -> Value {
    let of = |key: &str| StationColumn::all().find(|c| c.key() == key);
    let described = |c: StationColumn, before: &str| {
        json!({
            "titles": heading,
            "datatype": "number",
            "dc:description": format!("{before}{}", c.meaning()),
            "schema:unitText": c.unit().name(),
        })
    };
    if let Some(c) = of(heading) {
        return described(c, "");
    }
    for (prefix, words) in [("u_", "standard uncertainty: "), ("scatter_", "scatter between several scans: ")]
    {
        if let Some(c) = heading.strip_prefix(prefix).and_then(of) {
            return described(c, words);
        }
    }
    json!({"titles": heading, "datatype": "string"})
}

/// Reads a CSV table with its description: hand, setting and sizes are those of the description.
///
/// # Errors
/// As [`read_csv`]; [`DocumentError`] for a description that is not JSON or whose figures are not allowed.
pub fn read_described_csv(bytes: &[u8], description: &[u8]) -> Result<StationTable, DocumentError> {
    let text = text_of(description)?;
    let value: Value = serde_json::from_str(text).map_err(|e| syntax(text, &e))?;
    // Another program's description of columns has no such note.
    let is_ours = |note: &&Value| note.get("schema").and_then(Value::as_str) == Some(SCHEMA);
    let notes = value.get("notes").and_then(Value::as_array);
    let Some(note) = notes.and_then(|all| all.iter().find(is_ours)) else { return read_csv(bytes, None) };
    let object = |key: &str| note.get(key).map(|v| Object::new(v.clone(), Vec::new())).transpose();
    let in_text = |fault: crate::object::Fault| fault.in_text(text);
    let known_blade = object("blade").and_then(|o| o.map(blade).transpose()).map_err(in_text)?;
    let known_frame = object("frame").and_then(|o| o.map(frame).transpose()).map_err(in_text)?;
    let mut table = read_csv(bytes, known_blade.as_ref().map(|b| b.radius_m))?;
    if let Some(known) = known_blade {
        table.blade = known;
    }
    table.frame = known_frame;
    table.check().map_err(|fault| crate::object::Fault::from(fault).in_text(text))?;
    Ok(table)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{read_json, write_csv};

    #[test]
    fn a_described_csv_keeps_hand_setting_and_sizes() {
        let text = r#"{"frame": {"hand": "left", "hand_certain": true},
            "blade": {"radius_m": 1.0, "root_radius_m": 0.1, "blades_in_scan": 3,
            "setting": {"angle_deg": 20.0, "radius_ratio": 0.75, "of": "chord"}}, "stations": [
            {"radius_m": 0.4, "chord_m": 0.15, "blade_angle_deg": 31.0, "thickness_ratio": 0.12, "camber_ratio": 0.04},
            {"radius_m": 0.8, "chord_m": 0.12, "blade_angle_deg": 18.0, "thickness_ratio": 0.10, "camber_ratio": 0.04}]}"#;
        let table = read_json(text.as_bytes()).unwrap();
        let (mut csv, mut description) = (Vec::new(), Vec::new());
        write_csv(&table, &mut csv).unwrap();
        write_csv_description(&table, "stations.csv", &mut description).unwrap();
        let again = read_described_csv(&csv, &description).unwrap();
        assert_eq!((again.blade, again.frame), (table.blade.clone(), table.frame.clone()));
        assert!(!again.stations.is_empty() && read_csv(&csv, None).unwrap().angles_are_relative());
        let described: Value = serde_json::from_slice(&description).unwrap();
        let columns = described["tableSchema"]["columns"].as_array().unwrap();
        let headings = String::from_utf8(csv).unwrap().lines().next().unwrap().split(',').count();
        assert_eq!(columns.len(), headings);
        assert!(columns.iter().all(|c| c["titles"].is_string()));
        let chord = columns.iter().find(|c| c["titles"] == "chord_m").unwrap();
        assert!(chord["schema:unitText"].is_string() && chord["dc:description"].is_string());
    }
}
