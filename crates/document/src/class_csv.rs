//! Writing `class.csv`: a screw against an accuracy class.

use crate::{DocumentError, figure_cell};
use bladeform_table::ClassReport;
use std::io::Write;

/// One row for each figure judged: `figure, blade, radius_ratio, chord_from, chord_to, measured, u, design, least, greatest, verdict`. The figure gives the unit (m or deg); blades are counted from 0 and
/// empty for the whole screw; the two places on the face are fractions of the chord.
///
/// # Errors
/// [`DocumentError::Write`].
pub fn write_class_csv(report: &ClassReport, out: impl Write) -> Result<(), DocumentError> {
    let mut writer = csv::Writer::from_writer(out);
    let failed = |e: csv::Error| DocumentError::Write(std::io::Error::other(e.to_string()));
    writer
        .write_record([
            "figure",
            "blade",
            "radius_ratio",
            "chord_from",
            "chord_to",
            "measured",
            "u",
            "design",
            "least",
            "greatest",
            "verdict",
        ])
        .map_err(failed)?;
    for r in &report.rows {
        writer
            .write_record([
                r.figure.key().to_owned(),
                r.blade.map_or_else(String::new, |b| b.to_string()),
                figure_cell(r.radius_ratio),
                figure_cell(r.between.map(|b| b[0])),
                figure_cell(r.between.map(|b| b[1])),
                figure_cell(Some(r.measured)),
                figure_cell(r.u),
                figure_cell(Some(r.design)),
                figure_cell(Some(r.allowed[0])),
                figure_cell(Some(r.allowed[1])),
                r.verdict.key().to_owned(),
            ])
            .map_err(failed)?;
    }
    writer.flush()?;
    Ok(())
}
