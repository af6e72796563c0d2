//! Lines, words and numbers of text formats, as bytes: names and comments need not be valid UTF-8.

/// Maximum length of a quotation from a file in a message.
const QUOTED_BYTES: usize = 40;

/// Skips the byte order mark that some editors write before UTF-8 text.
pub(super) fn without_mark(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes)
}

/// Lines with their numbers, counted from 1. A line ends at a line feed, a carriage return, or both together.
pub(super) struct Lines<'a> {
    rest: &'a [u8],
    number: usize,
}

impl<'a> Lines<'a> {
    /// Lines of `rest`. The first has the number `first`.
    pub(super) fn new(rest: &'a [u8], first: usize) -> Self {
        Self { rest, number: first - 1 }
    }

    /// The number of the last returned line.
    pub(super) fn number(&self) -> usize {
        self.number
    }

    /// Bytes not returned yet.
    pub(super) fn left(&self) -> usize {
        self.rest.len()
    }
}

impl<'a> Iterator for Lines<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        if self.rest.is_empty() {
            return None;
        }
        self.number += 1;
        let end = self.rest.iter().position(|b| matches!(b, b'\n' | b'\r')).unwrap_or(self.rest.len());
        let (line, after) = self.rest.split_at(end);
        self.rest = match after {
            [b'\r', b'\n', rest @ ..] | [_, rest @ ..] => rest,
            [] => after,
        };
        Some(line)
    }
}

/// The words of a line, separated by blanks.
pub(super) fn words(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    Words { rest: line }
}

/// Whether the word begins with `start`, in upper or lower case.
pub(super) fn begins_with(word: &[u8], start: &[u8]) -> bool {
    word.get(..start.len()).is_some_and(|begin| begin.eq_ignore_ascii_case(start))
}

/// Words as a type, for a reader that keeps its position in the line.
#[derive(Clone, Copy)]
pub(super) struct Words<'a> {
    pub(super) rest: &'a [u8],
}

impl<'a> Iterator for Words<'a> {
    type Item = &'a [u8];

    fn next(&mut self) -> Option<&'a [u8]> {
        let start = self.rest.iter().position(|b| !is_blank(*b))?;
        let word = &self.rest[start..];
        let end = word.iter().position(|b| is_blank(*b)).unwrap_or(word.len());
        self.rest = &word[end..];
        Some(&word[..end])
    }
}

/// Blanks as defined by `isspace` of C, which the writers of these formats use.
pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | b'\n' | b'\r' | 0x0b | 0x0c)
}

/// A number in decimal notation. `nan` and `inf` are numbers too, also as C libraries print them.
pub(super) fn number(word: &[u8]) -> Option<f64> {
    let text = std::str::from_utf8(word).ok()?;
    text.parse().ok().or_else(|| not_finite(text))
}

/// `nan(ind)`, `-nan(snan)`, `1.#QNAN`, `-1.#INF` and similar.
fn not_finite(text: &str) -> Option<f64> {
    let bare = text.trim_start_matches(['+', '-']).to_ascii_lowercase();
    let is_named = bare.starts_with("nan(") && bare.ends_with(')');
    (is_named || bare.starts_with("1.#")).then_some(f64::NAN)
}

/// A quotation from the file for a message: shortened, with non-printable bytes replaced.
pub(super) fn quoted(bytes: &[u8]) -> String {
    let shown = String::from_utf8_lossy(&bytes[..bytes.len().min(QUOTED_BYTES)]);
    let shown: String = shown.chars().map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    format!("`{shown}{}`", if QUOTED_BYTES < bytes.len() { "..." } else { "" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_end_counts_once() {
        let mut lines = Lines::new(b"a\r\nb\rc\n\nd", 1);
        let all: Vec<&[u8]> = lines.by_ref().collect();
        assert_eq!(all, [&b"a"[..], b"b", b"c", b"", b"d"]);
        assert_eq!(lines.number(), 5);
    }

    #[test]
    fn words_are_split_at_any_blank() {
        let all: Vec<&[u8]> = words(b"\t f  1/2\x0b3 ").collect();
        assert_eq!(all, [&b"f"[..], b"1/2", b"3"]);
    }

    #[test]
    fn numbers_as_programs_print_them() {
        let finite: [(&str, f64); 5] =
            [("1", 1.0), (".5", 0.5), ("-5.", -5.0), ("+1e-3", 1e-3), ("1E2", 100.0)];
        for (text, value) in finite {
            assert_eq!(number(text.as_bytes()).map(f64::to_bits), Some(value.to_bits()), "{text}");
        }
        for text in ["nan", "-nan(ind)", "NaN", "1.#QNAN", "-1.#IND00"] {
            assert!(number(text.as_bytes()).is_some_and(f64::is_nan), "{text}");
        }
        for text in ["", "1,5", "one", "0x10", "1.0f", "\u{ff11}"] {
            assert_eq!(number(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn quotations_are_short_and_printable() {
        assert_eq!(quoted(b"a\x1b[2Jb\xff"), "`a\u{fffd}[2Jb\u{fffd}`");
        assert_eq!(quoted(&[b'x'; 100]), format!("`{}...`", "x".repeat(40)));
    }
}
