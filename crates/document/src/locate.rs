//! The position of a value in a JSON text.

use crate::error::Place;
use bladeform_table::Step;

/// The position of a value in a JSON text, or that of the nearest value above it if the path ends early.
///
/// The text must be valid JSON. Other text gives a wrong position, but never a panic.
pub(crate) fn locate(text: &str, path: &[Step]) -> Place {
    let scanner = Scanner { bytes: text.as_bytes() };
    let mut at = scanner.after_space(0);
    for step in path {
        match scanner.child(at, step) {
            Some(child) => at = child,
            None => break,
        }
    }
    place_of(text, at)
}

/// The line and the column, from 1, of a byte.
pub(crate) fn place_of(text: &str, byte: usize) -> Place {
    let mut end = byte.min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let before = &text[..end];
    let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or("").chars().count() + 1;
    Place { line: Some(line), column: Some(column) }
}

struct Scanner<'a> {
    bytes: &'a [u8],
}

impl Scanner<'_> {
    /// The first byte of the child of the object or array at `at`. If a key is given twice, the last one is used.
    fn child(&self, at: usize, step: &Step) -> Option<usize> {
        let is_object = self.bytes.get(at) == Some(&b'{');
        let mut found = None;
        let mut next = self.after_space(at + 1);
        let mut index = 0;
        while !matches!(self.bytes.get(next)?, b'}' | b']') {
            let mut value = next;
            let mut matches = *step == Step::Index(index) && !is_object;
            if is_object {
                let key_end = self.after_string(next);
                matches = is_key(self.bytes.get(next..key_end)?, step);
                value = self.after_space(self.after_space(key_end) + 1);
            }
            if matches {
                found = Some(value);
            }
            next = self.after_space(self.after_value(value));
            if self.bytes.get(next) == Some(&b',') {
                next = self.after_space(next + 1);
            }
            index += 1;
        }
        found
    }

    fn after_space(&self, mut at: usize) -> usize {
        while matches!(self.bytes.get(at), Some(b' ' | b'\t' | b'\n' | b'\r')) {
            at += 1;
        }
        at
    }

    /// The position after the string that begins at `at`.
    fn after_string(&self, at: usize) -> usize {
        let mut next = at + 1;
        while let Some(byte) = self.bytes.get(next) {
            match byte {
                b'"' => return next + 1,
                b'\\' => next += 2,
                _ => next += 1,
            }
        }
        self.bytes.len()
    }

    /// The position after the value that begins at `at`, always at least one byte further.
    fn after_value(&self, at: usize) -> usize {
        let mut depth = 0_usize;
        let mut next = at;
        while let Some(byte) = self.bytes.get(next) {
            match byte {
                b'"' => {
                    next = self.after_string(next);
                    if depth == 0 {
                        return next;
                    }
                    continue;
                }
                b'{' | b'[' => depth += 1,
                b'}' | b']' if depth <= 1 => return if depth == 0 { next.max(at + 1) } else { next + 1 },
                b'}' | b']' => depth -= 1,
                b',' if depth == 0 => return next.max(at + 1),
                _ => {}
            }
            next += 1;
        }
        self.bytes.len().max(at + 1)
    }
}

/// Whether the quoted text of a key, with its escapes resolved, is the key of a step.
fn is_key(quoted: &[u8], step: &Step) -> bool {
    let Step::Key(key) = step else { return false };
    serde_json::from_slice::<String>(quoted).is_ok_and(|text| text == *key)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn key(text: &str) -> Step {
        Step::Key(text.to_owned())
    }

    fn at(text: &str, path: &[Step]) -> (usize, usize) {
        let place = locate(text, path);
        (place.line.unwrap(), place.column.unwrap())
    }

    const TEXT: &str =
        "{ \"a\": [1, {\"b\": \"}]\\\"\",\n  \"c\\u0064\": 7}, [ ], 4],\n\"é\": true, \"z\": null }";

    #[test]
    fn values_are_found_across_strings_escapes_and_brackets() {
        assert_eq!(at(TEXT, &[]), (1, 1));
        assert_eq!(at(TEXT, &[key("a")]), (1, 8));
        assert_eq!(at(TEXT, &[key("a"), Step::Index(1), key("b")]), (1, 18));
        assert_eq!(at(TEXT, &[key("a"), Step::Index(1), key("cd")]), (2, 14));
        assert_eq!(at(TEXT, &[key("a"), Step::Index(3)]), (2, 23));
        assert_eq!(at(TEXT, &[key("z")]), (3, 17));
    }

    #[test]
    fn a_missing_value_has_the_place_of_what_should_hold_it() {
        assert_eq!(at(TEXT, &[key("a"), Step::Index(1), key("none")]), (1, 12));
        assert_eq!(at(TEXT, &[key("none")]), (1, 1));
        assert_eq!(at(TEXT, &[key("a"), key("b")]), (1, 8));
    }

    proptest! {
        #[test]
        fn any_text_ends_without_a_panic(text in "[{}\\[\\]:,\"\\\\a0 é\n]{0,40}", index in 0_usize..3) {
            let _ = locate(&text, &[key("a"), Step::Index(index), key("0")]);
        }
    }
}
