//! What a page that was written before says of itself: its table, and whether it shows the scan.

use bladeform_document::read_json;
use bladeform_table::StationTable;

use crate::view_part::{SCAN_SWITCH, named};

/// Between these is the table in a page.
const TABLE: [&str; 2] = ["<script type=\"application/json\" id=\"table-json\">", "</script>"];

/// A page of a blade that was written before.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptPage {
    /// The table that it carries.
    pub table: StationTable,
    /// Whether it shows the scan.
    pub shows_scan: bool,
}

impl KeptPage {
    /// Reads the bytes of a page; `None` if they are no page of a blade.
    ///
    /// ```
    /// use bladeform_record::{KeptPage, RecordPlan, Silent, record};
    /// let text = r#"{"blade": {"radius_m": 1.0}, "stations": [
    ///     {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04}]}"#;
    /// let table = bladeform_document::read_json(text.as_bytes())?;
    /// let page = record(&RecordPlan::of(&table), &Silent)?;
    /// let kept = KeptPage::read(page.html.as_bytes()).expect("a page of a blade");
    /// assert!(kept.table == table && !kept.shows_scan);
    /// assert_eq!(KeptPage::read(b"<html>"), None);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn read(bytes: &[u8]) -> Option<Self> {
        let html = std::str::from_utf8(bytes).ok()?;
        let (before, rest) = html.split_once(TABLE[0])?;
        let (json, _) = rest.split_once(TABLE[1])?;
        let table = read_json(json.as_bytes()).ok()?;
        Some(Self { table, shows_scan: before.contains(&named(SCAN_SWITCH)) })
    }
}
