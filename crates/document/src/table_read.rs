//! A station table of either kind, told apart by its content.

use bladeform_table::StationTable;

use crate::{DocumentError, read_csv, read_json};

/// Whether bytes are JSON rather than CSV: JSON begins with a brace. Blanks and a byte order mark before it are ignored.
#[must_use]
pub fn is_json(bytes: &[u8]) -> bool {
    bytes.iter().find(|b| !b.is_ascii_whitespace() && b.is_ascii()) == Some(&b'{')
}

/// Reads a station table from the bytes of its JSON file ([`read_json`]) or of a CSV file ([`read_csv`]).
///
/// `blade_radius_m`: tip radius, m, for a CSV table; a JSON table states its own.
///
/// # Errors
/// [`DocumentError`] as of the reader that the content selects.
///
/// ```
/// use bladeform_document::read_table;
/// let json = r#"{"blade": {"radius_m": 1.0}, "stations": [
///     {"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30.0, "thickness_ratio": 0.14, "camber_ratio": 0.04}]}"#;
/// let csv = "radius_m,chord_m,blade_angle_deg,thickness_ratio,camber_ratio\n0.5,0.16,30,0.14,0.04\n";
/// assert_eq!(read_table(json.as_bytes(), None)?.stations[0].chord_m, Some(0.16));
/// assert_eq!(read_table(csv.as_bytes(), Some(1.0))?.stations[0].chord_m, Some(0.16));
/// # Ok::<(), bladeform_document::DocumentError>(())
/// ```
pub fn read_table(bytes: &[u8], blade_radius_m: Option<f64>) -> Result<StationTable, DocumentError> {
    if is_json(bytes) { read_json(bytes) } else { read_csv(bytes, blade_radius_m) }
}

#[cfg(test)]
mod tests {
    use super::is_json;

    #[test]
    fn a_brace_after_blanks_and_a_mark_begins_json() {
        assert!([&b"{}"[..], b" \n{", b"\xef\xbb\xbf {"].into_iter().all(is_json));
        assert!(![&b""[..], b"radius_m,{", b"[{"].into_iter().any(is_json));
    }
}
