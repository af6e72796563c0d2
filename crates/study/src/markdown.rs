//! Tables as Markdown, so that the output of a study can be copied to `docs/results.md` without changes.

use std::io::Write;

/// A table that is printed row by row, because each row may take minutes.
#[derive(Debug)]
pub(crate) struct Table {
    columns: usize,
}

impl Table {
    /// Prints a title and the headings.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub(crate) fn begin(out: &mut impl Write, title: &str, headings: &[&str]) -> std::io::Result<Self> {
        if !title.is_empty() {
            writeln!(out, "\n{title}")?;
        }
        writeln!(out)?;
        let table = Self { columns: headings.len() };
        table.row(out, headings)?;
        table.row(out, &vec!["---"; headings.len()])?;
        Ok(table)
    }

    /// Prints one row. Missing cells are left empty. Surplus cells are put into the last cell, so that no figure is lost.
    ///
    /// # Errors
    /// When `out` cannot be written.
    pub(crate) fn row(&self, out: &mut impl Write, cells: &[impl AsRef<str>]) -> std::io::Result<()> {
        let mut texts: Vec<String> = cells.iter().map(|c| c.as_ref().replace('|', "\\|")).collect();
        if self.columns < texts.len() {
            let last = texts.split_off(self.columns - 1).join("; ");
            texts.push(last);
        }
        texts.resize(self.columns, String::new());
        writeln!(out, "| {} |", texts.join(" | "))?;
        out.flush()
    }
}

/// `met` or `missed`.
pub(crate) fn verdict(met: bool) -> &'static str {
    if met { "met" } else { "missed" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_have_the_columns_of_the_headings_and_bars_are_escaped() {
        let mut out = Vec::new();
        let table = Table::begin(&mut out, "Errors", &["a", "b"]).unwrap();
        table.row(&mut out, &["|x|"]).unwrap();
        table.row(&mut out, &["1", "2", "3"]).unwrap();
        let text = String::from_utf8(out).unwrap();
        assert_eq!(text, "\nErrors\n\n| a | b |\n| --- | --- |\n| \\|x\\| |  |\n| 1 | 2; 3 |\n");
    }
}
