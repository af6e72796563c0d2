//! What the texts have in common: width, columns under one another, sentences under letters.

use bladeform_table::Flag;

/// The width in characters that the text keeps to, unless a single word is longer.
pub const TERMINAL_WIDTH: usize = 100;

/// Lines as one text: broken at the width, without control characters, each with a line feed.
pub(crate) fn text_of(lines: &[String]) -> String {
    lines.iter().map(|line| wrapped(&without_control(line)) + "\n").collect()
}

/// Sentences under letters. Flags of one kind share a letter, whatever their figures: a coarse propeller would use up the alphabet.
#[derive(Default)]
pub(crate) struct Notes {
    notes: Vec<Note>,
}

struct Note {
    /// The kind of a flag; empty for a sentence of its own.
    code: String,
    /// The first sentence of the kind.
    first: String,
    /// How many other sentences of the kind there are.
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

    pub(crate) fn lines(&self) -> Vec<String> {
        let line = |(k, note): (usize, &Note)| match note.others.len() {
            0 => format!("{}: {}", letter(k), note.first),
            n => format!(
                "{}: {} (and {n} more of this kind; each stands in stations.json)",
                letter(k),
                note.first
            ),
        };
        self.notes.iter().enumerate().map(line).collect()
    }
}

/// `a` to `z`, then `aa`, `ab` ...
fn letter(index: usize) -> String {
    const LETTERS: usize = 26;
    let last = char::from(b'a' + (index % LETTERS) as u8);
    match index / LETTERS {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// Cells under one another: numbers to the right, the last column to the left.
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

/// A file may hold anything: escape sequences must not reach the terminal.
pub(crate) fn without_control(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

/// The line broken at spaces to [`TERMINAL_WIDTH`]; lines that fit are left as they are.
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
