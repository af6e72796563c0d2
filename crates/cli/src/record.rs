//! The `record` command: files in, one page out. Also the page that `measure`, `predict` and `demo` write with their results.

use std::path::{Path, PathBuf};

use bladeform::document::{is_json, read_json, read_prediction_json};
use bladeform::quantity::ShownUnits;
use bladeform::record::{KeptNotice, NoScan, Picture, Record, RecordError, RecordPlan, ScanPart, is_scan_of};
use bladeform::table::{Notice, Prediction, RecordText, StationTable};
use bladeform::words::fitted;
use bladeform::work::Observer;
use clap::Args;

use crate::about::{About, today};
use crate::advice::line;
use crate::failure::{Failure, Said};
use crate::feedback::{Shares, ToLog, stage};
use crate::held::{Held, HeldPrediction};
use crate::input::bytes_of;
use crate::output::{Outputs, can_be_written};
use crate::photographs::{self, Photographs};
use crate::units::Units;

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares = &[("reading", 10.0), ("making the page", 85.0), ("writing", 5.0)];

/// Default heading of a page.
fn unnamed(table: &StationTable) -> &'static str {
    if table.blade.blades_in_scan.is_some_and(|n| 1 < n) { "Propeller" } else { "Propeller blade" }
}

/// File name of the page in the output folder of other commands.
pub(crate) const PAGE: &str = "record.html";
/// File name of a prediction in the output folder.
pub(crate) const PREDICTION_JSON: &str = "prediction.json";
/// The page of a prediction where [`PAGE`] shows a scan that was not found.
pub(crate) const PREDICTION_PAGE: &str = "prediction.html";

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
    pub(crate) units: Units,
    #[command(flatten)]
    about: About,
    #[command(flatten)]
    photographs: Photographs,
    /// Replace a page of another blade, or one with a scan that is missing now.
    #[arg(long)]
    overwrite: bool,
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
    let mut table = read_json(&table_bytes).map_err(|e| about(&asked.table, e))?;
    let held = Held::page(&asked.out);
    if !asked.overwrite {
        held.must_be_of(&table, None)?;
    }
    table.record.fill_from(&held.record_of(&table));
    asked.about.add_to(&mut table.record);
    let pictures = match asked.photographs.read()? {
        Some(given) => {
            table.record.photographs = photographs::named(&given);
            given
        }
        None => {
            let folders = [asked.table.parent(), asked.out.parent()].map(|f| f.unwrap_or(Path::new("")));
            photographs::found(&table.record.photographs, &folders)
        }
    };
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
        None => scan_near(&asked.table, asked.out.parent(), &table),
    };
    stage("making the page");
    let units = asked.units.shown_of(&table);
    let of_scan = |e| about(asked.scan.as_deref().unwrap_or(&asked.table), e);
    let (part, no_scan) = match scan {
        Ok(bytes) => (Some(shown_part(&bytes, &table).map_err(of_scan)?), None),
        Err(why) => (None, Some(why)),
    };
    if part.is_none() && held.shows_scan_of(&table) && !asked.overwrite {
        return Err(about(
            &asked.out,
            "this page shows the scan, which was not found for the new one; name it with --scan, choose another output, or give --overwrite",
        ));
    }
    let made = page(&table, &predictions, (part.as_ref(), no_scan.as_ref(), &pictures), units, &ToLog)
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
    warnings.iter().for_each(|w| text.push_str(&fitted(&units.text(&format!("Warning: {w}\n")))));
    text.push_str(bladeform::table::CAUTION);
    text.push('\n');
    Ok(Said { text, warnings })
}

impl RecordArguments {
    /// The page of a table in memory and its predictions, for a caller that writes no files. The scan is shown only if it was named. `json`: the table as written.
    ///
    /// # Errors
    /// As [`record`].
    pub(crate) fn made(
        &self,
        json: &[u8],
        predictions: &[Vec<u8>],
        observer: &dyn Observer,
    ) -> Result<Record, Failure> {
        let mut table = read_json(json).map_err(|e| Failure::of(e.code(), e.to_string()))?;
        self.about.add_to(&mut table.record);
        let given = self.photographs.read()?;
        if let Some(given) = &given {
            table.record.photographs = photographs::named(given);
        }
        let pictures = given.unwrap_or_default();
        let sha256 = bladeform::document::sha256_hex(json);
        let read = |bytes: &Vec<u8>| {
            let made = read_prediction_json(bytes).map_err(|e| Failure::of(e.code(), e.to_string()))?;
            match made.table_sha256.is_empty() || made.table_sha256 == sha256 {
                true => Ok(made),
                false => Err(Failure::Input(
                    "the prediction was made from another table (the SHA-256 differs); predict from this table first"
                        .to_owned(),
                )),
            }
        };
        let predictions = predictions.iter().map(read).collect::<Result<Vec<Prediction>, Failure>>()?;
        let part = match &self.scan {
            None => None,
            Some(path) => Some(shown_part(&scan_named(path, &table)?, &table).map_err(|e| about(path, e))?),
        };
        let no_scan = part.is_none().then_some(NoScan::NotNamed);
        let shown = (part.as_ref(), no_scan.as_ref(), &pictures[..]);
        page(&table, &predictions, shown, self.units.shown_of(&table), observer)
            .map_err(|e| Failure::of(e.code(), e.to_string()))
    }
}

/// Makes a page. Title, note and date are those of the table's record; a table without a date gets today's.
fn page(
    table: &StationTable,
    predictions: &[Prediction],
    (scan, no_scan, pictures): (Option<&ScanPart>, Option<&NoScan>, &[Picture]),
    units: ShownUnits,
    observer: &dyn Observer,
) -> Result<Record, RecordError> {
    let date = table.record.get(RecordText::Date).map_or_else(today, ToOwned::to_owned);
    let plan = RecordPlan {
        table,
        predictions,
        scan,
        no_scan,
        pictures,
        title: table.record.get(RecordText::Title).unwrap_or_else(|| unnamed(table)),
        part_note: table.record.get(RecordText::Note).unwrap_or_default(),
        date: &date,
        units,
    };
    bladeform::record::record(&plan, observer)
}

/// A page that accompanies the results, with its warnings. If the page cannot be made, the figures are still written: the page is left out with
/// a warning.
#[derive(Debug, Default)]
pub(crate) struct Along {
    html: Option<String>,
    name: &'static str,
    pub(crate) warnings: Vec<String>,
}

impl Along {
    fn of(made: Result<Record, RecordError>, name: &'static str) -> Self {
        match made {
            Ok(record) => {
                let warnings =
                    record.notices.iter().map(|n| format!("{name}: {}", line(&Notice::of(n)))).collect();
                Self { html: Some(record.html), name, warnings }
            }
            Err(e) => Self::left_out(e),
        }
    }

    fn left_out(why: impl std::fmt::Display) -> Self {
        Self { warnings: vec![format!("{PAGE} was not written: {why}")], ..Self::default() }
    }

    fn with(mut self, notice: Option<KeptNotice>) -> Self {
        self.warnings.extend(notice.map(|n| line(&Notice::of(&n))));
        self
    }

    /// The warnings as lines, their figures in the given units.
    pub(crate) fn text(&self, units: ShownUnits) -> String {
        self.warnings.iter().map(|w| fitted(&units.text(&format!("Warning: {w}\n")))).collect()
    }

    /// Adds the page to the outputs.
    pub(crate) fn add_to(&self, outputs: &mut Outputs, folder: &Path) {
        if let Some(html) = &self.html {
            outputs.add(folder.join(self.name), html.as_bytes());
        }
    }
}

/// The page of a table just measured. `json`: the table as written, so that `record` makes the same page from the same files. `part`: the scan that was
/// measured, `None` if no page is wanted; and the photographs. `predicted`: the prediction in the folder of results.
pub(crate) fn page_of_measured(
    json: &[u8],
    (part, pictures): (Option<&ScanPart>, &[Picture]),
    predicted: HeldPrediction,
    units: ShownUnits,
) -> Along {
    let Some(part) = part else { return Along::default() };
    let (predictions, left_out) = match predicted {
        HeldPrediction::None => (Vec::new(), None),
        HeldPrediction::Same(made) | HeldPrediction::SameFigures(made) => (vec![*made], None),
        HeldPrediction::Other => {
            (Vec::new(), Some(KeptNotice::PredictionLeftOut { file: PREDICTION_JSON.to_owned() }))
        }
    };
    match read_json(json) {
        Ok(table) => Along::of(page(&table, &predictions, (Some(part), None, pictures), units, &ToLog), PAGE)
            .with(left_out),
        Err(e) => Along::left_out(e),
    }
}

/// The page of a table and a prediction just made from it. `table`: with the texts for the page. `json`: the prediction as written. `scan`: the bytes of the scan,
/// or why there are none; and the photographs. A page that shows the scan is not replaced by one that does not.
pub(crate) fn page_of_predicted(
    table: &StationTable,
    json: &[u8],
    (scan, pictures): (Result<Vec<u8>, NoScan>, &[Picture]),
    held: &Held,
    units: ShownUnits,
) -> Along {
    let prediction = match read_prediction_json(json) {
        Ok(prediction) => [prediction],
        Err(e) => return Along::left_out(e),
    };
    match scan {
        Ok(bytes) => match shown_part(&bytes, table) {
            Ok(part) => {
                Along::of(page(table, &prediction, (Some(&part), None, pictures), units, &ToLog), PAGE)
            }
            Err(e) => Along::left_out(e),
        },
        Err(why) => {
            let made = page(table, &prediction, (None, Some(&why), pictures), units, &ToLog);
            if !held.shows_scan_of(table) {
                return Along::of(made, PAGE);
            }
            let scan = table.source.as_ref().map(|s| s.file.clone()).unwrap_or_default();
            let kept =
                KeptNotice::ScanKept { kept: PAGE.to_owned(), written: PREDICTION_PAGE.to_owned(), scan };
            Along::of(made, PREDICTION_PAGE).with(Some(kept))
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

/// The bytes of a scan that was named. Another scan than the table's is refused before the work.
///
/// # Errors
/// [`Failure::Input`] with a sentence naming the file.
pub(crate) fn scan_named(path: &Path, table: &StationTable) -> Result<Vec<u8>, Failure> {
    let bytes = bytes_of(path, "the scan that was measured")?;
    bladeform::record::must_be_scan_of(&bytes, table).map_err(|e| about(path, e))?;
    let is_placed = table.frame.as_ref().is_some_and(|frame| frame.scan_to_blade.is_some());
    if is_placed { Ok(bytes) } else { Err(about(path, RecordError::NoFrame)) }
}

/// The bytes of the scan, or the reason why the page has none. It must be the scan that was measured. It is looked for next to the table; if the table states
/// its SHA-256, also in `folder` and in the current folder.
pub(crate) fn scan_near(
    table_path: &Path,
    folder: Option<&Path>,
    table: &StationTable,
) -> Result<Vec<u8>, NoScan> {
    let Some(source) = table.source.as_ref().filter(|s| !s.file.is_empty()) else {
        return Err(NoScan::NotNamed);
    };
    let file = source.file.clone();
    // Only the name counts: a table from elsewhere must not lead to a file outside these folders.
    let name = Path::new(&source.file).file_name().map(PathBuf::from).unwrap_or_default();
    let here = Path::new("");
    let elsewhere = [folder, Some(here)].into_iter().flatten().filter(|_| !source.sha256.is_empty());
    let mut why = NoScan::NotInFolder { file: file.clone() };
    for (k, place) in [table_path.parent().unwrap_or(here)].into_iter().chain(elsewhere).enumerate() {
        let path = place.join(&name);
        // A pipe of that name would keep the command waiting.
        let Some(bytes) = path.is_file().then(|| std::fs::read(&path).ok()).flatten() else { continue };
        if is_scan_of(&bytes, table) {
            let is_placed = table.frame.as_ref().is_some_and(|frame| frame.scan_to_blade.is_some());
            return if is_placed { Ok(bytes) } else { Err(NoScan::NotPlaced { file }) };
        }
        if k == 0 {
            why = NoScan::OtherScan { file: file.clone() };
        }
    }
    Err(why)
}

fn about(path: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::Input(format!("{}: {error}", path.display()))
}
