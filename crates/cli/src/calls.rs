//! The commands' work for a caller that has no command line: options as names and texts, tables as JSON, nothing printed and no file written unasked.
//!
//! Options have the names of the command's, their values the same texts and the same checks. Sentences name options as `length_uncertainty`, not as
//! `--length-uncertainty`.

use std::error::Error as _;
use std::path::{Path, PathBuf};

use bladeform::document::{
    read_json, read_prediction_json, read_table, sha256_hex, write_blades_json, write_comparison_csv,
    write_csv, write_json, write_prediction_csv, write_prediction_json,
};
use bladeform::mesh::{RawMesh, write_obj, write_ply_binary, write_stl_binary};
use bladeform::predict::{PolarRegion, SectionPolar};
use bladeform::quantity::Length;
use bladeform::table::{Harm, Notice, StationTable};
use bladeform::words::{render_blades, render_comparison_in, render_prediction_in, warning_text};
use bladeform::work::{Observer, parallel};
use clap::FromArgMatches;
use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::advice::advice;
use crate::arguments::{Arguments, Command, command_line};
use crate::compare::class_text;
use crate::failure::Failure;
use crate::held::{Held, TABLE, TABLE_CSV, TABLE_CSV_DESCRIPTION};
use crate::output::{Outputs, can_be_written, table_files};
use crate::predict::SectionWithPolar;
use crate::record::PREDICTION_JSON;
use crate::rows::{add_blades, add_schedules};

/// Why a call has no result: a short code that does not change, and one sentence that says what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// What kind of obstacle it was.
    pub kind: RefusalKind,
    /// The code: that of the library's error, else `option` or `input`.
    pub code: String,
    /// The sentence.
    pub sentence: String,
}

/// Kinds of obstacles.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RefusalKind {
    /// The options are wrong or contradict one another.
    Options,
    /// The input cannot be used.
    Input,
    /// The observer ended the call.
    Stopped,
}

impl Refusal {
    fn option(sentence: &str) -> Self {
        Self { kind: RefusalKind::Options, code: "option".to_owned(), sentence: as_keywords(sentence) }
    }
}

impl From<Failure> for Refusal {
    fn from(failure: Failure) -> Self {
        let (kind, code, text) = match failure {
            Failure::Usage(text) => return Self::option(&text),
            Failure::Input(text) => (RefusalKind::Input, "input", text),
            Failure::Coded { code: "stopped", text } => (RefusalKind::Stopped, "stopped", text),
            Failure::Coded { code, text } => (RefusalKind::Input, code, text),
        };
        Self { kind, code: code.to_owned(), sentence: as_keywords(&text) }
    }
}

/// An option by its name, with `_` or `-` between words, and its value as text; a switch has none.
pub type Given = (String, Option<String>);

/// A scan to measure.
#[derive(Debug, Clone, PartialEq)]
pub enum Scan {
    /// Files: one scan, or several scans of one blade.
    Files(Vec<PathBuf>),
    /// A mesh in memory and its name for the record.
    Mesh(RawMesh, String),
}

/// A table that a call begins with.
#[derive(Debug, Clone, PartialEq)]
pub enum TableIn {
    /// A file: JSON or CSV.
    File(PathBuf),
    /// The JSON of a table in memory.
    Json(Vec<u8>),
}

/// A notice for the user: code and sentence, with what helps.
pub type Told = (String, String);

/// A document and what must be known about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// The bytes that the command writes.
    pub bytes: Vec<u8>,
    /// Warnings that the command prints, in its order.
    pub told: Vec<Told>,
}

/// Runs with the command's options; `inputs` are its arguments without names.
fn with_options<T: Send>(
    command: &str,
    given: &[Given],
    inputs: &[PathBuf],
    work: impl FnOnce(&Command) -> Result<T, Failure> + Send,
) -> Result<T, Refusal> {
    let mut line: Vec<std::ffi::OsString> = vec!["bladeform".into(), command.into()];
    for (name, value) in given {
        let name = name.replace('_', "-");
        line.push(value.as_ref().map_or_else(|| format!("--{name}"), |v| format!("--{name}={v}")).into());
    }
    line.push("--".into());
    line.extend(inputs.iter().map(Into::into));
    let parsed = command_line().try_get_matches_from(line).and_then(|typed| {
        let mut asked = Arguments::from_arg_matches(&typed)?;
        asked.learn_units(&typed);
        Ok(asked)
    });
    let asked = parsed.map_err(|wrong| Refusal::option(&sentence_of(&wrong)))?;
    Ok(parallel::with_threads(asked.threads(), || work(&asked.command))?)
}

/// A wrong option in one sentence.
pub(crate) fn sentence_of(wrong: &clap::Error) -> String {
    let context = |kind| match wrong.get(kind) {
        Some(ContextValue::String(text)) => Some(text.clone()),
        _ => None,
    };
    if wrong.kind() == ErrorKind::ValueValidation
        && let (Some(option), Some(why)) = (context(ContextKind::InvalidArg), wrong.source())
    {
        let name = option.split(' ').next().unwrap_or_default().to_owned();
        let value = context(ContextKind::InvalidValue).unwrap_or_default();
        return format!("{name}: `{value}` cannot be used: {why}");
    }
    if let (ErrorKind::InvalidValue, Some(option), Some(ContextValue::Strings(words))) =
        (wrong.kind(), context(ContextKind::InvalidArg), wrong.get(ContextKind::ValidValue))
        && !words.is_empty()
    {
        let name = option.split(' ').next().unwrap_or_default().to_owned();
        let value = context(ContextKind::InvalidValue).unwrap_or_default();
        return format!("{name}: `{value}` cannot be used: it must be one of {}", words.join(", "));
    }
    let text = wrong.to_string();
    let first = text.split("\n\n").next().unwrap_or_default();
    let words: Vec<&str> = first.trim_start_matches("error: ").split_whitespace().collect();
    words.join(" ")
}

/// A sentence of the command for a caller with keywords: `--scan-accuracy` becomes `scan_accuracy`, in marks.
fn as_keywords(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find("--") {
        let (before, after) = rest.split_at(at);
        let word: String =
            after[2..].chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect::<String>();
        let begins = before.chars().next_back().is_none_or(|c| !c.is_alphanumeric() && c != '-');
        let marked = before.ends_with(['`', '\'']);
        out.push_str(before);
        if word.is_empty() || !begins {
            out.push_str("--");
            rest = &after[2..];
            continue;
        }
        let name = word.trim_end_matches('-');
        let mark = if marked { "" } else { "`" };
        out.push_str(&format!("{mark}{}{mark}", name.replace('-', "_")));
        rest = &after[2 + name.len()..];
    }
    out.push_str(rest);
    out
}

/// The notices that the command prints, with what helps.
fn told(notices: &[Notice]) -> Vec<Told> {
    let one = |notice: &Notice| {
        let text = warning_text(notice, &advice);
        let sentence = text.strip_prefix(&format!("({}) ", notice.code())).unwrap_or(&text);
        (notice.code().to_owned(), as_keywords(sentence))
    };
    notices.iter().filter(|n| n.harm() != Harm::Aside).map(one).collect()
}

fn unwritten(what: &str, e: impl std::fmt::Display) -> Failure {
    Failure::Input(format!("{what} cannot be written: {e}"))
}

fn json_of(table: &StationTable) -> Result<Vec<u8>, Failure> {
    let [json, ..] = table_files(table)?;
    Ok(json)
}

/// A table from memory, and the SHA-256 of its document.
fn table_from(json: &[u8], diameter: Option<Length>) -> Result<(StationTable, String), Failure> {
    let table =
        read_table(json, diameter.map(|d| 0.5 * d.m())).map_err(|e| Failure::of(e.code(), e.to_string()))?;
    Ok((table, sha256_hex(json)))
}

impl TableIn {
    /// The path that the command sees: without a file, the usual name, which ends up nowhere.
    fn path(&self) -> PathBuf {
        match self {
            Self::File(path) => path.clone(),
            Self::Json(_) => PathBuf::from(TABLE),
        }
    }
}

/// The options of a command, without those that all commands have.
#[must_use]
pub fn option_names(command: &str) -> Vec<String> {
    let line = command_line();
    let of = line.find_subcommand(command).into_iter().flat_map(clap::Command::get_arguments);
    of.filter_map(|a| a.get_long()).map(|long| long.replace('-', "_")).filter(|n| n != "help").collect()
}

/// Whether an option of a command takes a value.
pub(crate) fn takes_value(command: &str, option: &str) -> bool {
    let line = command_line();
    let mut of = line.find_subcommand(command).into_iter().flat_map(clap::Command::get_arguments);
    of.any(|a| {
        a.get_long().is_some_and(|long| long.replace('-', "_") == option) && a.get_action().takes_values()
    })
}

/// The station table of a scan: the JSON that `measure` writes into an empty folder.
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn measure(given: &[Given], scan: &Scan, observer: &dyn Observer) -> Result<Document, Refusal> {
    let inputs = match scan {
        Scan::Files(paths) => paths.clone(),
        Scan::Mesh(_, name) => vec![PathBuf::from(name)],
    };
    with_options("measure", given, &inputs, |command| {
        let Command::Measure(asked) = command else { unreachable!("the command was named") };
        let table = match scan {
            Scan::Files(_) => asked.table(observer)?,
            Scan::Mesh(mesh, _) => asked.table_of_mesh(mesh, observer)?,
        };
        Ok(Document { bytes: json_of(&table)?, told: told(&table.warnings) })
    })
}

/// A table from a file, JSON or CSV, as JSON. `diameter_m`: for a CSV table that has only radius ratios or only radii.
///
/// # Errors
/// [`Refusal`] if the file cannot be read as a table.
pub fn read(path: &Path, diameter_m: Option<f64>) -> Result<Document, Refusal> {
    let table = crate::input::table_of(path, diameter_m.map(Length::from_m))?.0;
    Ok(Document { bytes: json_of(&table)?, told: told(&table.warnings) })
}

/// The rows of a table as CSV, as `stations.csv`.
///
/// # Errors
/// [`Refusal`] if the JSON is no table.
pub fn rows(json: &[u8]) -> Result<Vec<u8>, Refusal> {
    let table = table_from(json, None)?.0;
    let mut csv = Vec::new();
    write_csv(&table, &mut csv).map_err(|e| unwritten("the table", e))?;
    Ok(csv)
}

/// Writes `stations.json`, `stations.csv` with its description and the rows of each blade into a folder, all or none.
///
/// # Errors
/// [`Refusal`] if the folder holds the record of another scan and `overwrite` is false, or cannot be written.
pub fn write_table(json: &[u8], folder: &Path, overwrite: bool) -> Result<(), Refusal> {
    let mut table = table_from(json, None)?.0;
    let names = [TABLE, TABLE_CSV, TABLE_CSV_DESCRIPTION];
    can_be_written(names.map(|n| folder.join(n)), [])?;
    let held = Held::in_folder(folder);
    if !overwrite {
        held.must_be_measured_from(&table)?;
    }
    table.record.fill_from(&held.record_of(&table));
    let mut outputs = Outputs::default();
    for (name, bytes) in names.into_iter().zip(table_files(&table)?) {
        outputs.add(folder.join(name), bytes);
    }
    add_blades(&table, folder, &mut outputs)?;
    Ok(outputs.write()?)
}

/// A prediction: the JSON that `predict` writes, its text for a terminal, and the JSON of the table that it was made of, for [`write_prediction`].
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn predict(
    given: &[Given],
    table: &TableIn,
    observer: &dyn Observer,
) -> Result<(Document, String, Vec<u8>), Refusal> {
    with_options("predict", given, &[table.path()], |command| {
        let Command::Predict(asked) = command else { unreachable!("the command was named") };
        let (stations, sha256) = match table {
            TableIn::File(_) => asked.read()?,
            TableIn::Json(json) => table_from(json, asked.diameter())?,
        };
        let prediction = asked.predicted((&stations, sha256), observer)?.prediction;
        let mut bytes = Vec::new();
        write_prediction_json(&prediction, &mut bytes).map_err(|e| unwritten("the prediction", e))?;
        let text = render_prediction_in(&prediction, asked.units.shown_of(&stations), &advice);
        let mut of = Vec::new();
        write_json(&stations, &mut of).map_err(|e| unwritten("the table", e))?;
        Ok((Document { bytes, told: told(&prediction.warnings) }, text, of))
    })
}

/// Writes `prediction.json`, `prediction.csv` and, if there are schedules, `schedules.csv` into a folder, all or none. `of`: the JSON of the table that it was made of and, if that was a file, its path.
///
/// # Errors
/// [`Refusal`] if the JSON is no prediction, if the folder holds another blade's record and `overwrite` is false, or if the folder cannot be written.
pub fn write_prediction(
    json: &[u8],
    folder: &Path,
    (of, path): (Option<&[u8]>, Option<&Path>),
    overwrite: bool,
) -> Result<(), Refusal> {
    let prediction = read_prediction_json(json).map_err(|e| Failure::of(e.code(), e.to_string()))?;
    let goals = [PREDICTION_JSON, "prediction.csv"].map(|name| folder.join(name));
    can_be_written(goals.clone(), [])?;
    if !overwrite {
        let held = Held::in_folder(folder);
        match of {
            Some(of) => held.must_be_of(&table_from(of, None)?.0, path)?,
            None => held.must_be_of_sha256(&prediction.table_sha256)?,
        }
    }
    let (mut bytes, mut csv) = (Vec::new(), Vec::new());
    write_prediction_json(&prediction, &mut bytes)
        .and_then(|()| write_prediction_csv(&prediction, &mut csv))
        .map_err(|e| unwritten("the prediction", e))?;
    let mut outputs = Outputs::default();
    goals.into_iter().zip([bytes, csv]).for_each(|(path, bytes)| outputs.add(path, bytes));
    add_schedules(&prediction, folder, &mut outputs)?;
    Ok(outputs.write()?)
}

/// Two tables compared, or the blades of one.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// `comparison.csv` of two tables, `blades.json` of one.
    pub document: Document,
    /// Whether no difference counts; `None` if nothing could be judged.
    pub alike: Option<bool>,
    /// The verdict in sentences.
    pub verdict: Vec<String>,
    /// The text that the command prints.
    pub text: String,
}

/// Compares two tables, or without a second one the blades of one. `names`: how the texts call them.
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn compare(given: &[Given], tables: &[TableIn], names: &[String]) -> Result<Compared, Refusal> {
    let paths: Vec<PathBuf> = tables.iter().map(TableIn::path).collect();
    with_options("compare", given, &paths, |command| {
        let Command::Compare(asked) = command else { unreachable!("the command was named") };
        let read = |table: &TableIn| match table {
            TableIn::File(path) => crate::input::table_of(path, asked.diameter()),
            TableIn::Json(json) => table_from(json, asked.diameter()),
        };
        let read = tables.iter().map(read).collect::<Result<Vec<_>, Failure>>()?;
        let units =
            read.first().map_or_else(|| asked.units.shown(), |(first, _)| asked.units.shown_of(first));
        let mut bytes = Vec::new();
        match (&read[..], names) {
            ([(one, sha256)], [name, ..]) => {
                let compared = asked.compared_blades(one, name)?;
                let judged = asked.by_class(one, name, None)?;
                write_blades_json(&compared, [name, sha256], &mut bytes)
                    .map_err(|e| unwritten("the comparison", e))?;
                Ok(Compared {
                    document: Document { bytes, told: told(&compared.notes) },
                    alike: compared.verdict.is_alike(),
                    verdict: compared.verdict_sentences(),
                    text: render_blades(&compared, units, &advice) + &class_text(judged.as_ref(), units),
                })
            }
            ([(first, _), (second, _)], [name, other]) => {
                let compared = asked.compared([first, second], [name, other])?;
                let judged = asked.by_class(first, name, Some((second, other)))?;
                write_comparison_csv(&compared, &mut bytes).map_err(|e| unwritten("the comparison", e))?;
                Ok(Compared {
                    document: Document { bytes, told: told(&compared.notes) },
                    alike: compared.verdict.is_alike(),
                    verdict: compared.verdict_sentences(),
                    text: render_comparison_in(&compared, units) + &class_text(judged.as_ref(), units),
                })
            }
            _ => Err(Failure::Usage("give one table or two".to_owned())),
        }
    })
}

/// A closed solid at one setting. Lengths in the unit of the coordinates, `metres_per_unit`; volumes in m3, masses in kg, moments of inertia in kg m2.
#[derive(Debug, Clone, PartialEq)]
pub struct SolidOut {
    /// The setting, deg, if one was given.
    pub setting_deg: Option<f64>,
    /// The triangles: closed, without self-intersection, anticlockwise seen from outside.
    pub mesh: RawMesh,
    /// What one unit of the coordinates is, m.
    pub metres_per_unit: f64,
    /// Names and values of its figures, the unit in the name.
    pub figures: Vec<(&'static str, f64)>,
    /// Warnings about it and about the blade.
    pub told: Vec<Told>,
}

/// The solid at every setting that was asked for.
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn solid(given: &[Given], table: &TableIn, observer: &dyn Observer) -> Result<Vec<SolidOut>, Refusal> {
    // The command needs a file; none is written here.
    let given: Vec<Given> =
        given.iter().cloned().chain([("output".to_owned(), Some("solid.stl".to_owned()))]).collect();
    with_options("solid", &given, &[table.path()], |command| {
        let Command::Solid(asked) = command else { unreachable!("the command was named") };
        let stations = match table {
            TableIn::File(_) => asked.read()?,
            TableIn::Json(json) => table_from(json, asked.diameter())?.0,
        };
        let out = asked.made(stations, observer)?.into_iter().map(|one| {
            let facts = one.made.solid.facts();
            let mut figures = vec![
                ("volume_m3", facts.volume_m3),
                ("area_m2", facts.area_m2),
                ("section_volume_m3", one.made.section_volume_m3),
                ("facet_distance_m", one.made.chord_error_m),
                ("smallest_angle_deg", facts.smallest_angle_deg),
                ("turned_deg", one.made.turned_deg),
            ];
            if let Some(mass) = one.mass {
                let ([x, y, z], [ix, iy, iz]) = (mass.centre_m, mass.inertia_kg_m2);
                figures.extend([
                    ("mass_kg", mass.mass_kg),
                    ("centre_x_m", x),
                    ("centre_y_m", y),
                    ("centre_z_m", z),
                    ("inertia_x_kg_m2", ix),
                    ("inertia_y_kg_m2", iy),
                    ("inertia_z_kg_m2", iz),
                    ("inertia_about_rotation_kg_m2", mass.about_rotation_kg_m2),
                ]);
            }
            SolidOut {
                setting_deg: one.setting_deg,
                mesh: one.made.solid.mesh().clone(),
                metres_per_unit: one.made.solid.metres_per_unit(),
                figures,
                told: told(&one.notices),
            }
        });
        Ok(out.collect())
    })
}

/// Writes triangles into a file whose ending says the format: .stl or .ply (both binary), or .obj.
///
/// # Errors
/// [`Refusal`] if the ending is another one or the file cannot be written.
pub fn write_mesh(mesh: &RawMesh, path: &Path) -> Result<(), Refusal> {
    let mut bytes = Vec::new();
    let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    let written = match ending.as_str() {
        "stl" => write_stl_binary(mesh, &mut bytes),
        "ply" => write_ply_binary(mesh, &mut bytes),
        "obj" => write_obj(mesh, &mut bytes),
        _ => {
            return Err(Refusal::option(&format!(
                "{}: the file ending selects the format; use .stl, .ply or .obj",
                path.display()
            )));
        }
    };
    written.map_err(|e| unwritten(&path.display().to_string(), e))?;
    can_be_written([path.to_owned()], [])?;
    let mut outputs = Outputs::default();
    outputs.add(path.to_owned(), bytes);
    Ok(outputs.write()?)
}

/// Where polars are read.
#[derive(Debug, Clone, PartialEq)]
pub struct PolarPoints {
    /// Angles of attack of the chord line, deg.
    pub angles_deg: Vec<f64>,
    /// Reynolds number of the chord.
    pub reynolds: f64,
    /// Mach number.
    pub mach: f64,
}

/// The polar of one section of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct PolarOut {
    /// Radius as a fraction of the tip radius.
    pub radius_ratio: f64,
    /// Chord, m.
    pub chord_m: f64,
    /// Angle in degrees; coefficients of lift, drag and moment about the quarter chord; the part of the polar that they come from.
    pub rows: Vec<(f64, f64, f64, f64, &'static str)>,
}

/// The section polars that a prediction with these options would use, at one Reynolds and Mach number.
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn polars(
    given: &[Given],
    table: &TableIn,
    at: &PolarPoints,
    observer: &dyn Observer,
) -> Result<Vec<PolarOut>, Refusal> {
    let is_positive = at.reynolds.is_finite() && 0.0 < at.reynolds;
    if !is_positive || !(0.0..1.0).contains(&at.mach) || !at.angles_deg.iter().all(|a| a.abs() <= 180.0) {
        return Err(Refusal::option(
            "--angles must be from -180 to 180 degrees, --reynolds above 0, --mach from 0 to below 1",
        ));
    }
    // Neither enters the polars of a section.
    let needed = [("blades", "2"), ("speed", "0m/s")].map(|(n, v)| (n.to_owned(), Some(v.to_owned())));
    let given: Vec<Given> = given.iter().cloned().chain(needed).collect();
    with_options("predict", &given, &[table.path()], |command| {
        let Command::Predict(asked) = command else { unreachable!("the command was named") };
        let stations = match table {
            TableIn::File(_) => asked.read()?.0,
            TableIn::Json(json) => table_from(json, asked.diameter())?.0,
        };
        let polars = asked.section_polars(&stations, observer)?;
        let row = |polar: &dyn SectionPolar, deg: f64| {
            let f = polar.forces(deg.to_radians(), at.reynolds, at.mach);
            let from = match f.region {
                PolarRegion::Computed => "computed",
                PolarRegion::Bridged => "bridged",
                PolarRegion::BeyondStall => "beyond-stall",
                PolarRegion::BluffBody => "bluff-body",
                PolarRegion::Given => "given",
            };
            (deg, f.lift, f.drag, f.moment, from)
        };
        let one = |(shape, polar): &SectionWithPolar| PolarOut {
            radius_ratio: shape.radius_ratio,
            chord_m: shape.chord_m,
            rows: at.angles_deg.iter().map(|deg| row(&**polar, *deg)).collect(),
        };
        Ok(polars.iter().map(one).collect())
    })
}

/// A page and its drawings.
#[derive(Debug, Clone, PartialEq)]
pub struct PageOut {
    /// The page, HTML, and warnings about it.
    pub document: Document,
    /// File names and contents of the drawings, SVG.
    pub plots: Vec<(String, String)>,
}

/// The page of a table and its predictions. The scan is shown if its file is named by the option `scan`.
///
/// # Errors
/// [`Refusal`] with the code of the option or of the library's error.
pub fn record(
    given: &[Given],
    json: &[u8],
    predictions: &[Vec<u8>],
    observer: &dyn Observer,
) -> Result<PageOut, Refusal> {
    // The command needs a file; none is written here.
    let given: Vec<Given> =
        given.iter().cloned().chain([("out".to_owned(), Some("record.html".to_owned()))]).collect();
    with_options("record", &given, &[PathBuf::from(TABLE)], |command| {
        let Command::Record(asked) = command else { unreachable!("the command was named") };
        let made = asked.made(json, predictions, observer)?;
        let notices: Vec<Notice> = made.notices.iter().map(Notice::of).collect();
        Ok(PageOut {
            document: Document { bytes: made.html.into_bytes(), told: told(&notices) },
            plots: made.plots.into_iter().map(|p| (p.name, p.svg)).collect(),
        })
    })
}

/// Reads a table's JSON as it will be written: the same bytes for any table that is written here.
///
/// # Errors
/// [`Refusal`] if it is no table.
pub fn normal(json: &[u8]) -> Result<Vec<u8>, Refusal> {
    let table = read_json(json).map_err(|e| Failure::of(e.code(), e.to_string()))?;
    Ok(json_of(&table)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform::work::Silent;

    #[test]
    fn options_in_sentences_become_keywords() {
        assert_eq!(
            as_keywords("--length-uncertainty has no effect without --length or --diameter; give one"),
            "`length_uncertainty` has no effect without `length` or `diameter`; give one"
        );
        assert_eq!(
            as_keywords("give `measure` --scan-accuracy, e.g. 0.2mm"),
            "give `measure` `scan_accuracy`, e.g. 0.2mm"
        );
        assert_eq!(as_keywords("a -- b, x--y, '--stations <COUNT>'"), "a -- b, x--y, 'stations <COUNT>'");
    }

    fn refused(given: &[(&str, Option<&str>)]) -> Refusal {
        let given: Vec<Given> = given.iter().map(|(n, v)| ((*n).to_owned(), v.map(str::to_owned))).collect();
        measure(&given, &Scan::Files(vec!["missing.ply".into()]), &Silent).unwrap_err()
    }

    #[test]
    fn refusals_name_the_option_or_the_file() {
        let wrong = refused(&[("length", Some("-3m"))]);
        assert_eq!((wrong.kind, wrong.code.as_str()), (RefusalKind::Options, "option"));
        assert_eq!(wrong.sentence, "`length`: `-3m` cannot be used: it must be above 0m and at most 1000m");
        let wrong = refused(&[("swap", Some("all"))]);
        assert_eq!(wrong.sentence, "`swap`: `all` cannot be used: it must be one of ends, edges, sides");
        let wrong = refused(&[("length_uncertainty", Some("1mm"))]);
        assert!(wrong.sentence.starts_with("`length_uncertainty` has no effect"), "{}", wrong.sentence);
        let wrong = refused(&[("nonsense", None)]);
        assert!(wrong.sentence.contains("nonsense") && !wrong.sentence.contains("--"), "{}", wrong.sentence);
        let wrong = refused(&[("stations", Some("8")), ("at", Some("0.5"))]);
        assert!(wrong.sentence.contains("stations") && !wrong.sentence.contains('\n'), "{}", wrong.sentence);
        let missing = refused(&[]);
        assert_eq!(missing.kind, RefusalKind::Input);
        assert!(missing.sentence.starts_with("missing.ply cannot be read"), "{}", missing.sentence);
    }

    #[test]
    fn the_options_of_a_command_are_listed() {
        let names = option_names("measure");
        assert!(names.contains(&"scan_accuracy".to_owned()) && !names.contains(&"help".to_owned()));
        assert!(option_names("nonsense").is_empty());
    }
}
