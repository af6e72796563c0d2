//! Writing `schedules.csv`, the schedules of a prediction as rows, and the description of its columns.

use std::io::Write;

use bladeform_table::{CAUTION, PREDICTION_SCHEMA, Prediction};
use serde_json::{Value, json};

use crate::csv_description::write_description;
use crate::prediction_write::{point_cells, point_headings};
use crate::{DocumentError, sheet_cell::guarded};

/// The heading of the name of the schedule.
const SCHEDULE: &str = "schedule";

/// Writes the points of all schedules of a prediction as CSV, one row per point: the name of the schedule, then the columns of
/// [`write_prediction_csv`](crate::write_prediction_csv).
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_schedules_csv(prediction: &Prediction, out: impl Write) -> Result<(), DocumentError> {
    let mut writer = csv::Writer::from_writer(out);
    let failed = |e: csv::Error| DocumentError::Write(std::io::Error::other(e.to_string()));
    writer.write_record([SCHEDULE].into_iter().chain(point_headings())).map_err(failed)?;
    for schedule in &prediction.schedules {
        for point in &schedule.points {
            let name = guarded(&schedule.name).into_owned();
            let cells = point_cells(point, prediction.air.altitude_m);
            writer.write_record([name].into_iter().chain(cells)).map_err(failed)?;
        }
    }
    writer.flush()?;
    Ok(())
}

/// Writes the description of the CSV file of the schedules: every column with its unit, and the sentence of each schedule. `csv_name`: the name of that file.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_schedules_description(
    prediction: &Prediction,
    csv_name: &str,
    out: impl Write,
) -> Result<(), DocumentError> {
    let columns: Vec<Value> = [SCHEDULE].into_iter().chain(point_headings()).map(column).collect();
    let schedules: Vec<Value> = prediction
        .schedules
        .iter()
        .map(|s| json!({"name": s.name, "sentence": s.sentence, "points": s.points.len()}))
        .collect();
    let note = json!({
        "schema": PREDICTION_SCHEMA,
        "table": {"file": prediction.table_file, "sha256": prediction.table_sha256},
        "blades": prediction.blades,
        "diameter_m": prediction.diameter_m,
        "setting_of": prediction.setting_of.as_str(),
        "reference_radius_ratio": prediction.reference_radius_ratio,
        "schedules": schedules,
        "caution": CAUTION,
    });
    write_description(csv_name, &columns, &note, out)
}

/// Figures of a point: key, unit, meaning.
const FIGURES: [(&str, &str, &str); 21] = [
    ("setting_deg", "deg", "angle of the setting's line at the reference radius"),
    ("advance_ratio", "", "V/(n D)"),
    ("thrust_n", "N", "thrust of the whole propeller"),
    ("torque_nm", "N m", "torque of the whole propeller"),
    ("power_w", "W", "power of the whole propeller; negative if the stream drives it"),
    ("thrust_coefficient", "", "T/(rho n2 D4)"),
    ("torque_coefficient", "", "Q/(rho n2 D5)"),
    ("power_coefficient", "", "P/(rho n3 D5)"),
    ("efficiency", "", "J C_T/C_P"),
    ("helical_tip_mach", "", "Mach number of the tip's helical path"),
    ("stalled_fraction", "", "fraction of the blade's span that is stalled"),
    ("cavitation_number", "", "in water: pressure at the shaft above that of the vapour, over rho n2 D2/2"),
    ("cavitating_fraction", "", "in water: fraction of the blade's span where cavitation begins"),
    ("shank_power_w", "W", "power of the shanks, part of the power"),
    ("propulsive_thrust_n", "N", "with a body: thrust less the rise of its drag"),
    ("propulsive_efficiency", "", "with a body: efficiency of the propulsive thrust"),
    ("speed_m_s", "m/s", "speed of flight"),
    ("rpm", "1/min", "rotation"),
    ("altitude_m", "m", "altitude in the standard atmosphere"),
    ("free_wake_thrust_n", "N", "thrust by the second model at zero speed"),
    ("free_wake_power_w", "W", "power by the second model at zero speed"),
];

fn column(heading: &str) -> Value {
    let of = |key: &str| FIGURES.iter().find(|figure| figure.0 == key);
    let kinds = [
        ("", ""),
        ("u_method_", "standard uncertainty by the methods: "),
        ("u_", "standard uncertainty by the geometry: "),
    ];
    let found = kinds.iter().find_map(|(prefix, words)| Some((words, of(heading.strip_prefix(prefix)?)?)));
    match found {
        Some((words, (_, unit, meaning))) => json!({
            "titles": heading,
            "datatype": "number",
            "dc:description": format!("{words}{meaning}"),
            "schema:unitText": if unit.is_empty() { "a pure number" } else { unit },
        }),
        None => json!({
            "titles": heading,
            "datatype": "string",
            "dc:description": if heading == SCHEDULE { "name of the schedule" } else { "flags of the point, joined by ` | `" },
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{OperatingPoint, Schedule};

    #[test]
    fn every_point_is_a_row_and_every_column_has_a_meaning() {
        let point = |speed_m_s: f64| OperatingPoint { speed_m_s, rpm: 1750.0, ..OperatingPoint::default() };
        let schedule = |name: &str, speeds: &[f64]| Schedule {
            most_rpm: None,
            name: name.to_owned(),
            sentence: format!("{name} over speed"),
            points: speeds.iter().map(|v| point(*v)).collect(),
        };
        let schedules = vec![schedule("constant_speed", &[10.0, 20.0]), schedule("fixed_pitch", &[30.0])];
        let prediction = Prediction { schedules, ..Prediction::default() };
        let (mut csv, mut description) = (Vec::new(), Vec::new());
        write_schedules_csv(&prediction, &mut csv).unwrap();
        write_schedules_description(&prediction, "schedules.csv", &mut description).unwrap();
        let mut reader = csv::Reader::from_reader(csv.as_slice());
        let headings: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let speed = headings.iter().position(|h| h == "speed_m_s").unwrap();
        let read: Vec<(&str, &str)> = rows.iter().map(|r| (&r[0], &r[speed])).collect();
        assert_eq!(read, [("constant_speed", "10"), ("constant_speed", "20"), ("fixed_pitch", "30")]);
        let described: Value = serde_json::from_slice(&description).unwrap();
        let columns = described["tableSchema"]["columns"].as_array().unwrap();
        let titles: Vec<&str> = columns.iter().map(|c| c["titles"].as_str().unwrap()).collect();
        assert_eq!(titles, headings);
        let numbers = columns.iter().filter(|c| c["datatype"] == "number");
        assert_eq!(numbers.filter(|c| c["schema:unitText"].is_string()).count(), headings.len() - 2);
        assert_eq!(described["notes"][0]["schedules"][1]["sentence"], "fixed_pitch over speed");
    }
}
