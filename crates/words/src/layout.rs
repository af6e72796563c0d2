//! Layout common to all texts: width, aligned columns, and sentences marked by letters.

use bladeform_quantity::ShownUnits;
use bladeform_table::Flag;

/// Greatest width of the text in characters, unless a single word is longer.
pub const TERMINAL_WIDTH: usize = 100;

/// Lines joined to one text: wrapped at the width, without control characters, each with a line feed.
pub(crate) fn text_of(lines: &[String]) -> String {
    lines.iter().map(|line| wrapped(&without_control(line)) + "\n").collect()
}

/// A text whose lines are wrapped at [`TERMINAL_WIDTH`]. Lines that fit are not changed.
#[must_use]
pub fn fitted(text: &str) -> String {
    text.lines().map(|line| wrapped(line) + "\n").collect()
}

/// Sentences marked by letters. Flags with the same code share a letter, whatever their figures. Otherwise a coarse scan of a propeller would use up the alphabet.
#[derive(Default)]
pub(crate) struct Notes {
    notes: Vec<Note>,
}

struct Note {
    /// The code of a flag. Empty for a text without a code.
    code: String,
    /// The first sentence with this code.
    first: String,
    /// The other sentences with this code.
    others: std::collections::BTreeSet<String>,
}

impl Notes {
    /// The letters of the flags of a station, in the order of the alphabet.
    pub(crate) fn letters(&mut self, flags: &[Flag]) -> String {
        self.named(flags.iter().map(|flag| (flag.code().to_owned(), flag.text())))
    }

    /// The letters of texts, in the order of the alphabet.
    pub(crate) fn letters_of(&mut self, texts: impl Iterator<Item = String>) -> String {
        self.named(texts.map(|text| (String::new(), text)))
    }

    fn named(&mut self, texts: impl Iterator<Item = (String, String)>) -> String {
        let mut indices: Vec<usize> = texts.map(|(code, text)| self.index(code, text)).collect();
        indices.sort_unstable();
        indices.dedup();
        indices.into_iter().map(letter).collect::<Vec<_>>().join(",")
    }

    fn index(&mut self, code: String, text: String) -> usize {
        let alike = |note: &Note| note.first == text || (!code.is_empty() && note.code == code);
        let Some(k) = self.notes.iter().position(alike) else {
            self.notes.push(Note { code, first: text, others: std::collections::BTreeSet::new() });
            return self.notes.len() - 1;
        };
        if self.notes[k].first != text {
            self.notes[k].others.insert(text);
        }
        k
    }

    pub(crate) fn lines(&self, units: ShownUnits) -> Vec<String> {
        let line = |(k, note): (usize, &Note)| match note.others.len() {
            0 => format!("{}: {}", letter(k), units.text(&note.first)),
            n => format!(
                "{}: {} (and {n} more of this kind; stations.json has all of them)",
                letter(k),
                units.text(&note.first)
            ),
        };
        self.notes.iter().enumerate().map(line).collect()
    }
}

/// `a` to `z`, then `aa`, `ab` ...
fn letter(index: usize) -> String {
    // Letters of the alphabet.
    const LETTERS: usize = 26;
    let last = char::from(b'a' + (index % LETTERS) as u8);
    match index / LETTERS {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// Cells in aligned columns: numbers to the right, the last column to the left.
pub(crate) fn aligned(rows: &[Vec<String>]) -> Vec<String> {
    const GAP: &str = "  ";
    let columns = rows.first().map_or(0, Vec::len);
    let width = |c: usize| rows.iter().map(|row| row[c].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |row: &Vec<String>| {
        let mut text = String::new();
        for (c, cell) in row.iter().enumerate() {
            let last = c + 1 == columns;
            text.push_str(&if last {
                format!("{GAP}{cell}")
            } else {
                format!("{GAP}{cell:>w$}", w = widths[c])
            });
        }
        text.trim_end().to_owned()
    };
    rows.iter().map(line).collect()
}

/// Replaces control characters: a file may contain anything, and escape sequences must not reach the terminal.
pub(crate) fn without_control(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

/// The line wrapped at spaces to [`TERMINAL_WIDTH`]. Lines that fit are not changed.
pub(crate) fn wrapped(line: &str) -> String {
    const INDENT: &str = "    ";
    if line.chars().count() <= TERMINAL_WIDTH {
        return line.to_owned();
    }
    let mut lines: Vec<String> = vec![String::new()];
    for word in line.split_whitespace() {
        let current = lines.len() - 1;
        let used = lines[current].chars().count();
        if used > 0 && used + 1 + word.chars().count() > TERMINAL_WIDTH {
            lines.push(format!("{INDENT}{word}"));
        } else {
            let gap = if used > 0 { " " } else { "" };
            lines[current].push_str(&format!("{gap}{word}"));
        }
    }
    lines.join("\n")
}
