//! Comma-separated text as rows of cells, each with its line.
//!
//! ```
//! use bladeform_numeric::rows::rows;
//! let read = rows("rpm, torque\n\n 1000 ,\"850\"\n");
//! assert_eq!((read[1].line, &read[1].cells[..]), (3, &["1000".to_owned(), "850".to_owned()][..]));
//! ```

/// A row that is not empty.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Its line in the text, counted from 1.
    pub line: usize,
    /// Its cells, without quotes and without spaces around them; at least one.
    pub cells: Vec<String>,
}

/// The rows of comma-separated text. Empty lines and a byte order mark are passed over; rows may differ in length.
#[must_use]
pub fn rows(text: &str) -> Vec<Row> {
    let text = text.trim_start_matches('\u{feff}');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    // Text in memory with rows of any length cannot fail to be read.
    reader
        .records()
        .map_while(Result::ok)
        .filter(|record| record.iter().any(|cell| !cell.is_empty()) || 1 < record.len())
        .map(|record| Row { line: line_of(text, &record), cells: record.iter().map(str::to_owned).collect() })
        .collect()
}

/// Line in which a record begins. The reader's own place is where the record before ends, with empty lines still to come.
fn line_of(text: &str, record: &csv::StringRecord) -> usize {
    record.position().map_or(0, |place| {
        let rest = text.get(place.byte() as usize..).unwrap_or("");
        let passed = rest.len() - rest.trim_start().len();
        place.line() as usize + rest[..passed].matches('\n').count()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<(usize, usize)> {
        rows(text).iter().map(|row| (row.line, row.cells.len())).collect()
    }

    #[test]
    fn lines_are_those_of_the_text_whatever_stands_between_rows() {
        assert_eq!(places("a,b\n1,2\n3,4"), [(1, 2), (2, 2), (3, 2)]);
        assert_eq!(places("\n\na,b\n\n   \n\t\n1,2,3\n\n"), [(3, 2), (7, 3)]);
        assert_eq!(places("\r\na,b\r\n\r\n1,2\r\n3\r\n"), [(2, 2), (4, 2), (5, 1)]);
        assert_eq!(places("\u{feff}a,b\n \u{a0}1,2\n,\n"), [(1, 2), (2, 2), (3, 2)]);
        assert_eq!(places("a,\"two\nlines\"\nb,c\n"), [(1, 2), (3, 2)]);
        assert!(places("").is_empty() && places(" \n\n").is_empty());
    }

    #[test]
    fn cells_lose_quotes_and_spaces() {
        let cells = |text: &str| rows(text).remove(0).cells;
        assert_eq!(cells(" 1 ,\"2, three\",4\" wide, \n"), ["1", "2, three", "4\" wide", ""]);
    }
}
