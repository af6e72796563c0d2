//! Writing `comparison.csv`.

use crate::{DocumentError, figure_cell};
use bladeform_table::Comparison;
use std::io::Write;

fn yes_no(value: Option<bool>) -> &'static str {
    match value {
        Some(true) => "yes",
        Some(false) => "no",
        None => "",
    }
}

/// One row for each figure at each radius: `radius_m, radius_ratio, figure, first, second, difference, u, significant, beyond_tolerance,
/// between_stations, beyond_shift, u_beyond_shift`. The last two are the difference less the one common to all stations, and its uncertainty. The figure is a key of the station table and gives the unit.
///
/// # Errors
/// [`DocumentError::Write`].
pub fn write_comparison_csv(comparison: &Comparison, out: impl Write) -> Result<(), DocumentError> {
    let mut writer = csv::Writer::from_writer(out);
    let failed = |e: csv::Error| DocumentError::Write(std::io::Error::other(e.to_string()));
    writer
        .write_record([
            "radius_m",
            "radius_ratio",
            "figure",
            "first",
            "second",
            "difference",
            "u",
            "significant",
            "beyond_tolerance",
            "between_stations",
            "beyond_shift",
            "u_beyond_shift",
        ])
        .map_err(failed)?;
    for s in &comparison.stations {
        for f in &s.figures {
            writer
                .write_record([
                    figure_cell(Some(s.radius_m)),
                    figure_cell(Some(s.radius_ratio)),
                    f.column.key().to_owned(),
                    figure_cell(Some(f.values[0])),
                    figure_cell(Some(f.values[1])),
                    figure_cell(Some(f.difference)),
                    figure_cell(f.u),
                    yes_no(f.is_significant).to_owned(),
                    yes_no(f.is_beyond_tolerance).to_owned(),
                    yes_no(Some(f.is_between_stations)).to_owned(),
                    figure_cell(f.beyond_shift.map(|b| b.value)),
                    figure_cell(f.beyond_shift.map(|b| b.u)),
                ])
                .map_err(failed)?;
        }
    }
    writer.flush()?;
    Ok(())
}
