//! What the page may ask for quickly: it is made once and kept in memory as long as what it was made from has not changed.

use std::sync::Arc;

use bladeform::document::{read_json, sha256_hex};
use bladeform::table::StationTable;

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
