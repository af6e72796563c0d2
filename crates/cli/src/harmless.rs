//! Text for a terminal without the characters that command it: names of files and texts of tables are other people's.

use std::borrow::Cow;

/// The text with control characters and changes of the writing direction replaced. Line ends and tabs stay.
pub(crate) fn harmless(text: &str) -> Cow<'_, str> {
    if text.chars().any(commands) {
        Cow::Owned(text.chars().map(|c| if commands(c) { char::REPLACEMENT_CHARACTER } else { c }).collect())
    } else {
        Cow::Borrowed(text)
    }
}

/// Whether a terminal may act on the character. The directions are those of Unicode Standard Annex 9.
fn commands(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t'))
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn escape_sequences_do_not_reach_the_terminal() {
        assert_eq!(harmless("a\u{1b}[2J\r\u{9b}1m\u{202e}b"), "a\u{fffd}[2J\u{fffd}\u{fffd}1m\u{fffd}b");
        assert!(matches!(harmless("radius\t0.75 R\n\u{e9}"), Cow::Borrowed(_)));
    }
}
