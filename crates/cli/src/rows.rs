//! Files that other programs read beside the tables: the rows of each blade, the schedules of a prediction, the outlines of sections.

use std::path::Path;

use bladeform::document::{
    CSV_DESCRIPTION, DocumentError, OutlineUnit, outline_text, write_csv, write_csv_description,
    write_schedules_csv, write_schedules_description,
};
use bladeform::table::{Prediction, Station, StationColumn, StationTable};

use crate::failure::Failure;
use crate::output::Outputs;

/// The schedules of a prediction as rows.
pub(crate) const SCHEDULES: &str = "schedules.csv";
/// Rows of blades of an earlier, larger propeller are looked for up to this blade (the most that a solid has).
const MOST_BLADES: usize = 16;

/// The file of a blade's rows, from 1.
fn blade_csv(number: usize) -> String {
    format!("blade-{number}.csv")
}

fn described(csv: &str) -> String {
    format!("{csv}{CSV_DESCRIPTION}")
}

/// Removes a CSV file of an earlier run with its description; a CSV file without one is not ours.
fn remove_stale(folder: &Path, csv: &str, outputs: &mut Outputs) {
    let pair = [folder.join(csv), folder.join(described(csv))];
    if pair.iter().all(|path| path.is_file()) {
        pair.into_iter().for_each(|path| outputs.remove(path));
    }
}

/// Adds a table for each blade of a propeller: its own rows as CSV, and the description that makes it a table of its own. Those of an earlier run that are not written again are removed.
/// Returns what to tell.
///
/// # Errors
/// One sentence if a file cannot be written as CSV.
pub(crate) fn add_blades(
    table: &StationTable,
    folder: &Path,
    outputs: &mut Outputs,
) -> Result<String, Failure> {
    let failed = |e: DocumentError| Failure::Input(format!("the rows of a blade cannot be written: {e}"));
    let count = table.blades.len();
    for number in count + 1..=MOST_BLADES {
        remove_stale(folder, &blade_csv(number), outputs);
    }
    for (k, blade) in table.blades.iter().enumerate() {
        let mut own = StationTable {
            source: table.source.clone(),
            frame: table.frame.clone(),
            blade: table.blade.clone(),
            stations: blade.stations.clone(),
            ..StationTable::default()
        };
        // The setting of the table is the angle of the mean blade.
        let angle = own.value_at_reference(StationColumn::BladeAngleDeg).map(|at| at.measured.value);
        if let (Some(setting), Some(angle_deg)) = (own.blade.setting.as_mut(), angle) {
            setting.angle_deg = angle_deg;
        }
        let (name, mut csv, mut description) = (blade_csv(k + 1), Vec::new(), Vec::new());
        write_csv(&own, &mut csv).map_err(failed)?;
        write_csv_description(&own, &name, &mut description).map_err(failed)?;
        outputs.add(folder.join(&name), csv);
        outputs.add(folder.join(described(&name)), description);
    }
    Ok(match count {
        0 => String::new(),
        _ => format!("Rows of each blade: {} to {}\n", blade_csv(1), blade_csv(count)),
    })
}

/// Adds the schedules of a prediction as CSV with their description; those of an earlier run are removed if there are none now.
///
/// # Errors
/// One sentence if a file cannot be written as CSV.
pub(crate) fn add_schedules(
    prediction: &Prediction,
    folder: &Path,
    outputs: &mut Outputs,
) -> Result<(), Failure> {
    let failed = |e: DocumentError| Failure::Input(format!("the schedules cannot be written: {e}"));
    if prediction.schedules.iter().all(|s| s.points.is_empty()) {
        remove_stale(folder, SCHEDULES, outputs);
        return Ok(());
    }
    let (mut csv, mut description) = (Vec::new(), Vec::new());
    write_schedules_csv(prediction, &mut csv).map_err(failed)?;
    write_schedules_description(prediction, SCHEDULES, &mut description).map_err(failed)?;
    outputs.add(folder.join(SCHEDULES), csv);
    outputs.add(folder.join(described(SCHEDULES)), description);
    Ok(())
}

/// Adds the outline of every section, for a propeller also of every blade, in both units. Returns what to tell.
pub(crate) fn add_outlines(table: &StationTable, folder: &Path, outputs: &mut Outputs) -> String {
    let mut count = 0;
    let mut add = |stations: &[Station], blade: Option<usize>| {
        for (k, station) in stations.iter().enumerate() {
            let of_blade = blade.map_or(String::new(), |number| format!("blade-{number}-"));
            let stem = format!("{of_blade}section-{:02}-r{:.0}mm", k + 1, 1e3 * station.radius_m);
            for unit in OutlineUnit::ALL {
                if let Some(text) = outline_text(station, table, blade, unit) {
                    outputs.add(folder.join(format!("{stem}-{}.txt", unit.as_str())), text);
                    count += usize::from(unit == OutlineUnit::Metre);
                }
            }
        }
    };
    add(&table.stations, None);
    table.blades.iter().enumerate().for_each(|(k, blade)| add(&blade.stations, Some(k + 1)));
    format!("{count} outlines, in fractions of the chord and in metres, are in {}\n", folder.display())
}
