//! Texts in cells of a CSV file that a spreadsheet would run as a formula.

use std::borrow::Cow;

/// First characters that make a spreadsheet treat a cell as a formula, or skip to one. Source: OWASP, "CSV Injection" (read from memory), which also
/// names the apostrophe before them as the remedy.
const STARTS: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];
/// Put before such a text; a spreadsheet does not show it.
const GUARD: char = '\'';

/// The text with an apostrophe in front if it could be run. Numbers stay as they are.
pub(crate) fn guarded(text: &str) -> Cow<'_, str> {
    if text.parse::<f64>().is_err() && needs_guard(text) {
        Cow::Owned(format!("{GUARD}{text}"))
    } else {
        Cow::Borrowed(text)
    }
}

/// The text of a cell without the apostrophe of [`guarded`].
pub(crate) fn unguarded(cell: &str) -> &str {
    cell.strip_prefix(GUARD).filter(|text| needs_guard(text)).unwrap_or(cell)
}

/// A text of apostrophes before a formula gets one more, so that reading restores it.
fn needs_guard(text: &str) -> bool {
    text.trim_start_matches(GUARD).starts_with(STARTS)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_guarded_and_read_back() {
        for text in ["=1+1", "+A1", "-cmd|' /C calc'!A0", "@SUM(1)", "\t=1", "'=1", "''@x"] {
            let cell = guarded(text);
            assert!(cell.starts_with('\''), "{cell}");
            assert_eq!(unguarded(&cell), text);
        }
        for text in ["-5", "+2.5e3", "plain", "'quoted'", "", "1=1"] {
            assert_eq!(guarded(text), text);
            assert_eq!(unguarded(text), text);
        }
    }
}
