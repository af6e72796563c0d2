//! Layout common to all texts: width, aligned columns, and sentences marked by letters.

use bladeform_quantity::ShownUnits;
use bladeform_table::{Flag, MergedFlag, Station, merged_flags, without_details};

/// Greatest width of the text in characters, unless a single word is longer.
pub const TERMINAL_WIDTH: usize = 100;

/// Lines joined to one text: wrapped at the width, without control characters, each with a line feed.
pub(crate) fn text_of(lines: &[String]) -> String {
    lines.iter().map(|line| wrapped(&without_control(line)) + "\n").collect()
}

/// A text without details ([`without_details`]) whose lines are wrapped at [`TERMINAL_WIDTH`]. Lines that fit are not changed.
#[must_use]
pub fn fitted(text: &str) -> String {
    text.lines().map(|line| wrapped(line) + "\n").collect()
}

/// Sentences marked by letters, each once.
#[derive(Default)]
pub(crate) struct Notes(Vec<String>);

impl Notes {
    /// The letters of texts, in the order of the alphabet.
    pub(crate) fn letters_of(&mut self, texts: impl Iterator<Item = String>) -> String {
        let mut indices: Vec<usize> = texts.map(|text| self.index(text)).collect();
        letters(&mut indices)
    }

    fn index(&mut self, text: String) -> usize {
        self.0.iter().position(|known| *known == text).unwrap_or_else(|| {
            self.0.push(text);
            self.0.len() - 1
        })
    }

    pub(crate) fn lines(&self, units: ShownUnits) -> Vec<String> {
        lines(self.0.iter().map(|text| units.text(text)))
    }
}

/// The flags of stations, merged and marked by letters.
pub(crate) struct FlagNotes {
    merged: Vec<MergedFlag>,
    /// Number of blades or scans.
    members: usize,
}

impl FlagNotes {
    pub(crate) fn of(stations: &[Station], members: usize) -> Self {
        Self { merged: merged_flags(stations), members }
    }

    /// The letters of the flags of a station, in the order of the alphabet.
    pub(crate) fn letters(&self, flags: &[Flag]) -> String {
        let index = |flag: &Flag| self.merged.iter().position(|merged| merged.holds(flag));
        letters(&mut flags.iter().filter_map(index).collect::<Vec<_>>())
    }

    pub(crate) fn lines(&self, units: ShownUnits) -> Vec<String> {
        lines(self.merged.iter().map(|merged| units.text(&merged.text(self.members))))
    }
}

fn letters(indices: &mut Vec<usize>) -> String {
    indices.sort_unstable();
    indices.dedup();
    indices.iter().map(|k| letter(*k)).collect::<Vec<_>>().join(",")
}

fn lines(texts: impl Iterator<Item = String>) -> Vec<String> {
    texts.enumerate().map(|(k, text)| format!("{}: {text}", letter(k))).collect()
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

/// Cells in aligned columns: numbers to the right, the last column to the left. Where two spaces between columns would not fit the terminal there is one.
pub(crate) fn aligned(rows: &[Vec<String>]) -> Vec<String> {
    let columns = rows.first().map_or(0, Vec::len);
    let width = |c: usize| rows.iter().map(|row| row[c].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let needed: usize = widths.iter().map(|w| w + 2).sum();
    let gap = if needed <= TERMINAL_WIDTH { "  " } else { " " };
    let line = |row: &Vec<String>| {
        let mut text = String::new();
        for (c, cell) in row.iter().enumerate() {
            let last = c + 1 == columns;
            text.push_str(&if last {
                format!("{gap}{cell}")
            } else {
                format!("{gap}{cell:>w$}", w = widths[c])
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

/// The line without details, wrapped at spaces to [`TERMINAL_WIDTH`]. Lines that fit are not changed.
pub(crate) fn wrapped(line: &str) -> String {
    const INDENT: &str = "    ";
    let line = &*without_details(line);
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
