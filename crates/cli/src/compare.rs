//! The `compare` command: two tables, tolerances, one file and a text.

use std::path::PathBuf;

use bladeform::{
    Allowed, Angle, Length, StationColumn, StationTable, compare, render_comparison, write_comparison_csv,
};
use clap::Args;

use crate::failure::Failure;
use crate::output::write_all;
use crate::predict::{read_file, read_table};

#[derive(Debug, Args)]
pub(crate) struct Compare {
    /// The first table: JSON or CSV, measured or a drawing's typed in by hand.
    #[arg(value_name = "TABLE")]
    first: PathBuf,
    /// The second table: differences are the first less this one.
    #[arg(value_name = "TABLE")]
    second: PathBuf,
    /// What may differ, e.g. chord=2mm, angle=0.5deg, face-angle=0.5deg, thickness=1mm, pitch=1.5%, camber=5%; a percentage is of the second
    /// table's figure. May be given several times.
    #[arg(long, value_name = "FIGURE=AMOUNT", value_parser = tolerance)]
    tolerance: Vec<(StationColumn, Allowed)>,
    /// Diameter, for a CSV table that has radius ratios alone.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    diameter: Option<Length>,
    /// Folder for comparison.csv.
    #[arg(long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
}

fn tolerance(text: &str) -> Result<(StationColumn, Allowed), String> {
    let (figure, amount) = text
        .split_once('=')
        .ok_or_else(|| format!("`{text}`: write a figure, `=` and what is allowed, e.g. chord=2mm"))?;
    let (column, is_angle) = match figure.trim() {
        "chord" => (StationColumn::ChordM, false),
        "angle" => (StationColumn::BladeAngleDeg, true),
        "face-angle" => (StationColumn::FaceAngleDeg, true),
        "thickness" => (StationColumn::ThicknessM, false),
        "camber" => (StationColumn::CamberRatio, false),
        "pitch" => (StationColumn::PitchM, false),
        other => {
            return Err(format!(
                "`{other}` is no figure; write chord, angle, face-angle, thickness, camber or pitch"
            ));
        }
    };
    let amount = amount.trim();
    let allowed = if let Some(percent) = amount.strip_suffix('%') {
        let value = percent.trim().parse::<f64>().map_err(|_| format!("`{amount}` is no percentage"))?;
        Allowed::Relative(0.01 * value)
    } else if is_angle {
        Allowed::Absolute(Angle::parse(amount).map_err(|e| e.to_string())?.deg())
    } else if column == StationColumn::CamberRatio {
        return Err("camber is a fraction of the chord: write its tolerance as a percentage of itself, e.g. camber=5%".to_owned());
    } else {
        Allowed::Absolute(Length::parse(amount).map_err(|e| e.to_string())?.m())
    };
    let (Allowed::Absolute(most) | Allowed::Relative(most)) = allowed;
    if most.is_finite() && 0.0 <= most {
        Ok((column, allowed))
    } else {
        Err(format!("`{amount}`: what is allowed cannot be below zero"))
    }
}

/// Compares the tables, writes the file and returns the text for the terminal.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn compare_files(asked: &Compare) -> Result<String, Failure> {
    let read = |path: &PathBuf| -> Result<StationTable, Failure> {
        let bytes = read_file(path).map_err(Failure::Input)?;
        read_table(&bytes, asked.diameter).map_err(|e| Failure::Input(format!("{}: {e}", path.display())))
    };
    let (first, second) = (read(&asked.first)?, read(&asked.second)?);
    let names = [&asked.first, &asked.second].map(|p| p.display().to_string());
    let comparison =
        compare([&first, &second], [&names[0], &names[1]], &asked.tolerance).map_err(Failure::Input)?;
    let mut csv = Vec::new();
    write_comparison_csv(&comparison, &mut csv).map_err(|e| Failure::Input(e.to_string()))?;
    write_all(&asked.out, &[("comparison.csv", &csv)]).map_err(Failure::Input)?;
    Ok(render_comparison(&comparison))
}
