//! What the page may ask for quickly: it is made once and kept in memory as long as what it was made from has not changed.

use std::sync::Arc;
use std::time::SystemTime;

use bladeform::document::{read_json, sha256_hex, write_json};
use bladeform::table::{PartRecord, StationTable};

use super::Shop;
use super::quick::Quick;
use super::scan::Scan;
use crate::failure::Failure;
use crate::held::TABLE;
use crate::input::bytes_of;

/// Things at hand.
#[derive(Default)]
pub(super) struct Handed {
    scan: Option<Arc<Scan>>,
    table: Option<(String, Arc<StationTable>)>,
    /// Size and time of the table's file, and the SHA-256 of its figures.
    figures: Option<((u64, Option<SystemTime>), String)>,
    pub(super) quick: Option<Arc<Quick>>,
}

/// The scan of the job, read when it is needed first.
///
/// # Errors
/// A sentence if there is none, it cannot be read, or it is not the one that the job names.
pub(super) fn scan(shop: &Shop) -> Result<Arc<Scan>, Failure> {
    let (path, wanted) = {
        let job = shop.job();
        match (job.scan_path(), &job.scan) {
            (Some(path), Some(scan)) => (path, scan.sha256.clone()),
            _ => {
                return Err(Failure::Input(
                    "the job has no scan yet; drop one, or name it by its path".to_owned(),
                ));
            }
        }
    };
    if let Some(scan) = shop.handed().scan.as_ref().filter(|s| s.sha256 == wanted) {
        return Ok(Arc::clone(scan));
    }
    let scan = Arc::new(Scan::read(&path)?);
    if scan.sha256 != wanted {
        return Err(Failure::Input(format!(
            "{} has changed since the job took it: its SHA-256 differs; drop it again to measure what it is now, or bring the old file back",
            path.display()
        )));
    }
    hold(shop, &scan);
    Ok(scan)
}

/// Keeps a scan that was just read.
pub(super) fn hold(shop: &Shop, scan: &Arc<Scan>) {
    shop.handed().scan = Some(Arc::clone(scan));
}

/// The table in the folder, and the SHA-256 of its file.
///
/// # Errors
/// A sentence if there is none or it cannot be read.
pub(super) fn table(shop: &Shop) -> Result<(String, Arc<StationTable>), Failure> {
    let path = shop.folder.join(TABLE);
    let bytes = bytes_of(&path, "the table: measure the scan first")?;
    let sha256 = sha256_hex(&bytes);
    if let Some(held) = shop.handed().table.as_ref().filter(|(of, _)| *of == sha256) {
        return Ok(held.clone());
    }
    let table = read_json(&bytes).map_err(|e| Failure::of(e.code(), format!("{}: {e}", path.display())))?;
    let held = (sha256, Arc::new(table));
    shop.handed().table = Some(held.clone());
    Ok(held)
}

/// SHA-256 of the figures of the table in the folder, without its texts; empty if there is none that can be read. Made anew only if its file has changed.
pub(super) fn figures(shop: &Shop) -> String {
    let Ok(found) = std::fs::metadata(shop.folder.join(TABLE)) else { return String::new() };
    let of = (found.len(), found.modified().ok());
    if let Some((_, sha256)) = shop.handed().figures.as_ref().filter(|(own, _)| *own == of) {
        return sha256.clone();
    }
    let sha256 = table(shop).map_or_else(
        |_| String::new(),
        |(_, table)| {
            let mut json = Vec::new();
            let plain = StationTable { record: PartRecord::default(), ..(*table).clone() };
            write_json(&plain, &mut json).map_or_else(|_| String::new(), |()| sha256_hex(&json))
        },
    );
    shop.handed().figures = Some((of, sha256.clone()));
    sha256
}
