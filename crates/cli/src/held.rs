//! What a folder of results holds before a command writes into it: another blade's record is not replaced, and the texts of the same one are kept.

use std::path::{Path, PathBuf};

use bladeform::document::{read_json, read_prediction_json, sha256_hex, write_prediction_json};
use bladeform::record::KeptPage;
use bladeform::table::{PartRecord, Prediction, StationTable};

use crate::failure::Failure;
use crate::record::{PAGE, PREDICTION_JSON};

/// The table in a folder of results.
pub(crate) const TABLE: &str = "stations.json";
/// The same table as CSV.
pub(crate) const TABLE_CSV: &str = "stations.csv";
/// The description of its columns, by the standard of the World Wide Web Consortium.
pub(crate) const TABLE_CSV_DESCRIPTION: &str = "stations.csv-metadata.json";

/// Characters of a SHA-256 in a message: enough to recognise it.
const SHOWN: usize = 12;

/// A table and a page that are there already.
#[derive(Debug, Default)]
pub(crate) struct Held {
    table: Option<(PathBuf, HeldTable)>,
    /// SHA-256 of the table's file.
    sha256: String,
    page: Option<(PathBuf, KeptPage)>,
    prediction: Option<Box<Prediction>>,
}

/// A prediction in the folder beside a table that was just measured.
#[derive(Debug)]
pub(crate) enum HeldPrediction {
    /// There is none.
    None,
    /// It was made from this very table.
    Same(Box<Prediction>),
    /// It was made from the table that is replaced by one with the same figures and other texts; it names the new one now.
    SameFigures(Box<Prediction>),
    /// It was made from another table.
    Other,
}

impl HeldPrediction {
    /// The prediction's file as it must be written again, if at all.
    ///
    /// # Errors
    /// One sentence if it cannot be written as JSON.
    pub(crate) fn renewed(&self) -> Result<Option<Vec<u8>>, Failure> {
        let Self::SameFigures(made) = self else { return Ok(None) };
        let mut json = Vec::new();
        write_prediction_json(made, &mut json)
            .map_err(|e| Failure::Input(format!("{PREDICTION_JSON} cannot be written: {e}")))?;
        Ok(Some(json))
    }
}

/// A file with the name of a table.
#[derive(Debug)]
enum HeldTable {
    Read(Box<StationTable>),
    /// It cannot be read as a table.
    Other,
}

/// The blade that a command writes of.
#[derive(Debug, Clone, Copy)]
enum Blade<'a> {
    /// One that was or will be measured from these scans, by their SHA-256.
    Scans(&'a [String]),
    /// One without a scan: a table written by hand.
    ByHand,
}

impl Held {
    /// What a folder holds. What cannot be read at all is reported when it is to be replaced.
    pub(crate) fn in_folder(folder: &Path) -> Self {
        let path = folder.join(TABLE);
        let bytes = bytes_of(&path);
        let sha256 = bytes.as_deref().map(sha256_hex).unwrap_or_default();
        let table = bytes.map(|bytes| match read_json(&bytes) {
            Ok(table) => HeldTable::Read(Box::new(table)),
            Err(_) => HeldTable::Other,
        });
        // A drawing typed in under the name of an output.
        let csv = folder.join(TABLE_CSV);
        let alone = (table.is_none() && csv.is_file()).then_some((csv, HeldTable::Other));
        let prediction = bytes_of(&folder.join(PREDICTION_JSON)).and_then(|b| read_prediction_json(&b).ok());
        Self {
            table: table.map(|t| (path, t)).or(alone),
            sha256,
            prediction: prediction.map(Box::new),
            ..Self::page(&folder.join(PAGE))
        }
    }

    /// One page.
    pub(crate) fn page(path: &Path) -> Self {
        let page = bytes_of(path).and_then(|bytes| KeptPage::read(&bytes));
        Self { page: page.map(|p| (path.to_owned(), p)), ..Self::default() }
    }

    /// Whether nothing is there.
    fn is_empty(&self) -> bool {
        self.table.is_none() && self.page.is_none()
    }

    /// Refuses to measure scans into a folder that holds something else, before the work. Scans that come through a pipe are not known yet:
    /// [`must_be_measured_from`](Self::must_be_measured_from) must follow.
    ///
    /// # Errors
    /// One sentence that names the file and what to do.
    pub(crate) fn must_take(&self, scans: &[PathBuf]) -> Result<(), Failure> {
        if self.is_empty() || !scans.iter().all(|path| path.is_file()) {
            return Ok(());
        }
        let hashes: Vec<String> =
            scans.iter().filter_map(|path| Some(sha256_hex(&bytes_of(path)?))).collect();
        // A scan that cannot be read has its own sentence.
        if hashes.len() < scans.len() { Ok(()) } else { self.check(Blade::Scans(&hashes), true) }
    }

    /// Refuses to replace something else by the table of a scan, given as its bytes.
    ///
    /// # Errors
    /// As [`must_take`](Self::must_take).
    pub(crate) fn must_be_of_scan(&self, bytes: &[u8]) -> Result<(), Failure> {
        if self.is_empty() { Ok(()) } else { self.check(Blade::Scans(&[sha256_hex(bytes)]), true) }
    }

    /// Refuses to replace something else by a table that was measured.
    ///
    /// # Errors
    /// As [`must_take`](Self::must_take).
    pub(crate) fn must_be_measured_from(&self, table: &StationTable) -> Result<(), Failure> {
        self.check(Blade::Scans(&scans_of(table)), true)
    }

    /// Refuses to write about a table where another blade's scan is on record. `path`: the table's file; the table of the folder itself may be given as CSV.
    ///
    /// # Errors
    /// As [`must_take`](Self::must_take).
    pub(crate) fn must_be_of(&self, table: &StationTable, path: Option<&Path>) -> Result<(), Failure> {
        let scans = match (&self.table, path) {
            (Some((held, HeldTable::Read(own))), Some(path))
                if same_file(&held.with_file_name(TABLE_CSV), path) =>
            {
                scans_of(own)
            }
            _ => scans_of(table),
        };
        let blade = if scans.is_empty() { Blade::ByHand } else { Blade::Scans(&scans) };
        let is_own = path.zip(self.table.as_ref()).is_some_and(|(path, (held, _))| same_file(held, path));
        if is_own { self.check_page(blade) } else { self.check(blade, false) }
    }

    /// Refuses to write a prediction whose table is not known but by its SHA-256, unless that table is the one in the folder or there is none.
    ///
    /// # Errors
    /// As [`must_take`](Self::must_take).
    pub(crate) fn must_be_of_sha256(&self, sha256: &str) -> Result<(), Failure> {
        match &self.table {
            Some((path, _)) if !self.sha256.eq_ignore_ascii_case(sha256) => {
                Err(refused(path, "is another table than the one that the prediction was made of"))
            }
            _ => Ok(()),
        }
    }

    /// The texts about the blade of a table, as far as the folder knows the same blade: those of its table, then those of its page.
    pub(crate) fn record_of(&self, table: &StationTable) -> PartRecord {
        let mut record = PartRecord::default();
        let held = self.table.iter().filter_map(|(_, held)| match held {
            HeldTable::Read(held) => Some(&**held),
            HeldTable::Other => None,
        });
        for held in held.chain(self.page.iter().map(|(_, page)| &page.table)) {
            if is_same_blade(held, table) {
                record.fill_from(&held.record);
            }
        }
        record
    }

    /// The prediction in the folder beside a table that was just measured, as its bytes.
    pub(crate) fn prediction(&self, json: &[u8]) -> HeldPrediction {
        let Some(made) = self.prediction.clone() else { return HeldPrediction::None };
        let sha256 = sha256_hex(json);
        if made.table_sha256 == sha256 {
            return HeldPrediction::Same(made);
        }
        let without_texts = |table: &StationTable| {
            let mut table = table.clone();
            table.record = PartRecord::default();
            table
        };
        let has_same_figures = match (&self.table, read_json(json)) {
            (Some((_, HeldTable::Read(held))), Ok(table)) => without_texts(held) == without_texts(&table),
            _ => false,
        };
        if has_same_figures && made.table_sha256 == self.sha256 {
            return HeldPrediction::SameFigures(Box::new(Prediction { table_sha256: sha256, ..*made }));
        }
        HeldPrediction::Other
    }

    /// Whether the page shows the scan of the blade of this table.
    pub(crate) fn shows_scan_of(&self, table: &StationTable) -> bool {
        self.page.as_ref().is_some_and(|(_, page)| page.shows_scan && is_same_blade(&page.table, table))
    }

    /// `replaces`: whether the table in the folder itself will be replaced.
    fn check(&self, blade: Blade<'_>, replaces: bool) -> Result<(), Failure> {
        match &self.table {
            Some((path, HeldTable::Read(held))) => refuse_other(path, held, blade, replaces)?,
            Some((path, HeldTable::Other)) if replaces => {
                return Err(refused(path, "is not a table of this scan and would be lost"));
            }
            _ => {}
        }
        self.check_page(blade)
    }

    fn check_page(&self, blade: Blade<'_>) -> Result<(), Failure> {
        self.page.as_ref().map_or(Ok(()), |(path, page)| refuse_other(path, &page.table, blade, true))
    }
}

fn refuse_other(path: &Path, held: &StationTable, blade: Blade<'_>, replaces: bool) -> Result<(), Failure> {
    let own = scans_of(held);
    let is_same = match blade {
        Blade::ByHand => own.is_empty(),
        Blade::Scans(scans) => own.iter().any(|s| scans.contains(s)) || (own.is_empty() && !replaces),
    };
    if is_same {
        return Ok(());
    }
    let Some(first) = own.first() else {
        return Err(refused(path, "is of a table without a scan and would be lost"));
    };
    let file = held.source.as_ref().map_or("", |s| s.file.as_str());
    let sha256: String = first.chars().take(SHOWN).collect();
    Err(refused(path, &format!("is the record of another scan, {file} (SHA-256 {sha256}...)")))
}

fn refused(path: &Path, what: &str) -> Failure {
    Failure::Input(format!(
        "{} {what}; choose another output with --out, or give --overwrite to replace it",
        path.display()
    ))
}

/// SHA-256 of every scan that a table was measured from.
fn scans_of(table: &StationTable) -> Vec<String> {
    let all = table.source.iter().chain(table.repeats.iter().flat_map(|r| &r.scans));
    all.map(|s| s.sha256.to_ascii_lowercase()).filter(|sha256| !sha256.is_empty()).collect()
}

/// Whether two tables are of one blade: they share a scan, or have the same stations by hand.
fn is_same_blade(one: &StationTable, other: &StationTable) -> bool {
    let (own, others) = (scans_of(one), scans_of(other));
    own.iter().any(|s| others.contains(s))
        || (own.is_empty() && others.is_empty() && one.stations == other.stations)
}

fn same_file(one: &Path, other: &Path) -> bool {
    one.canonicalize().ok().zip(other.canonicalize().ok()).is_some_and(|(a, b)| a == b)
}

/// The bytes of a regular file; a pipe would keep the command waiting.
fn bytes_of(path: &Path) -> Option<Vec<u8>> {
    path.is_file().then(|| std::fs::read(path).ok()).flatten()
}
