//! The `compare` command: two tables, tolerances, figures, a page and a text.

use std::path::PathBuf;

use bladeform::document::{write_comparison_csv, write_comparison_description};
use bladeform::quantity::{Angle, Length};
use bladeform::record::{ComparisonPlan, comparison_page};
use bladeform::table::{Allowed, ComparePlan, StationColumn, compare};
use bladeform::words::render_comparison_in;
use clap::Args;

use crate::about::Heading;
use crate::advice::line;
use crate::failure::{Failure, Said};
use crate::feedback::ToLog;
use crate::held_comparison::must_be_of;
use crate::input::table_of;
use crate::limits::positive_length;
use crate::output::{Outputs, can_be_written};
use crate::units::Units;

/// Text of `--help` below the options: an example, and how to type in a drawing.
pub(crate) const AFTER_HELP: &str = "\
A CSV table has a line of headings and then one row per station, in order of radius. Lengths are in metres, angles in degrees,
uncertainties in the unit of their column. Required: radius_m (or radius_ratio with --diameter), chord_m, blade_angle_deg, thickness_ratio
and camber_ratio; cells may be empty. Optional: every other column of stations.csv, and u_ before any of them for its standard
uncertainty. Without --diameter the tip radius is computed from radius_m and radius_ratio.

Example: bladeform compare worn/stations.json drawing.csv --tolerance chord=2mm --tolerance angle=0.5deg";

/// The figures in the folder of results.
const COMPARISON: &str = "comparison.csv";
/// The description of its columns, with the tables that it compares.
const DESCRIPTION: &str = "comparison.csv-metadata.json";
/// The page with curves of both tables.
const PAGE: &str = "comparison.html";

#[derive(Debug, Args)]
pub(crate) struct Compare {
    /// First table: JSON or CSV, measured or typed in from a drawing.
    #[arg(value_name = "TABLE")]
    first: PathBuf,
    /// Second table. Differences are the first minus the second.
    #[arg(value_name = "TABLE")]
    second: PathBuf,
    /// Allowed difference, e.g. chord=2mm, angle=0.5deg, face-angle=0.5deg, thickness=1mm, pitch=1.5%, camber=5%; a percentage refers to the
    /// second table's figure. May be given several times.
    #[arg(long, value_name = "FIGURE=AMOUNT", value_parser = tolerance)]
    tolerance: Vec<(StationColumn, Allowed)>,
    /// Radius at which both angles are zero where twist is compared, as a fraction of the first table's tip radius [default: that of the first table, or a better known one].
    #[arg(long, value_name = "FRACTION", value_parser = radius_ratio)]
    reference: Option<f64>,
    /// Diameter, for a CSV table that has only radius ratios or only radii.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    diameter: Option<Length>,
    /// Replace the comparison of other tables in the output folder. That of the same two tables is replaced without it.
    #[arg(long)]
    overwrite: bool,
    /// Output folder for comparison.csv and comparison.html.
    #[arg(long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
    #[command(flatten)]
    pub(crate) units: Units,
    #[command(flatten)]
    heading: Heading,
    /// Do not write comparison.html, the page with curves of both tables and their differences.
    #[arg(long, conflicts_with_all = ["title", "part_note", "date"])]
    no_record: bool,
}

fn radius_ratio(text: &str) -> Result<f64, String> {
    let ratio = text.trim().parse::<f64>().ok().filter(|r| 0.0 < *r && *r <= 1.0);
    ratio
        .ok_or_else(|| format!("`{text}`: write a fraction of the tip radius, above 0 and up to 1, e.g. 0.6"))
}

fn tolerance(text: &str) -> Result<(StationColumn, Allowed), String> {
    let (figure, amount) = text
        .split_once('=')
        .ok_or_else(|| format!("`{text}`: write a figure, `=` and the allowed difference, e.g. chord=2mm"))?;
    let (column, is_angle) = match figure.trim() {
        "chord" => (StationColumn::ChordM, false),
        "angle" => (StationColumn::BladeAngleDeg, true),
        "face-angle" => (StationColumn::FaceAngleDeg, true),
        "thickness" => (StationColumn::ThicknessM, false),
        "camber" => (StationColumn::CamberRatio, false),
        "pitch" => (StationColumn::PitchM, false),
        other => {
            return Err(format!(
                "`{other}` is not a known figure; write chord, angle, face-angle, thickness, camber or pitch"
            ));
        }
    };
    let amount = amount.trim();
    let allowed = if let Some(percent) = amount.strip_suffix('%') {
        let value = percent.trim().parse::<f64>().map_err(|_| format!("`{amount}` is not a percentage"))?;
        Allowed::Relative(0.01 * value)
    } else if is_angle {
        Allowed::Absolute(Angle::parse(amount).map_err(|e| e.to_string())?.deg())
    } else if column == StationColumn::CamberRatio {
        return Err("camber is a fraction of the chord: write its tolerance as a percentage of the camber, e.g. camber=5%".to_owned());
    } else {
        Allowed::Absolute(Length::parse(amount).map_err(|e| e.to_string())?.m())
    };
    let (Allowed::Absolute(most) | Allowed::Relative(most)) = allowed;
    if most.is_finite() && 0.0 <= most {
        Ok((column, allowed))
    } else {
        Err(format!("`{amount}`: a tolerance cannot be negative"))
    }
}

/// Compares the tables, writes the files and returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn compare_files(asked: &Compare) -> Result<Said, Failure> {
    let units = asked.units.shown();
    let goals = [asked.out.join(COMPARISON), asked.out.join(PAGE)];
    let described = asked.out.join(DESCRIPTION);
    let count = if asked.no_record { 1 } else { 2 };
    can_be_written(goals[..count].iter().chain([&described]).cloned(), [&asked.first, &asked.second])?;
    let read = |path: &PathBuf| table_of(path, asked.diameter);
    let ((first, first_sha), (second, second_sha)) = (read(&asked.first)?, read(&asked.second)?);
    let names = [&asked.first, &asked.second].map(|p| p.display().to_string());
    let tables = [(names[0].as_str(), first_sha.as_str()), (names[1].as_str(), second_sha.as_str())];
    if !asked.overwrite {
        must_be_of(&goals[0], (!asked.no_record).then_some(&goals[1]), tables)?;
    }
    let plan = ComparePlan { tolerances: asked.tolerance.clone(), reference: asked.reference };
    let comparison = compare([&first, &second], [&names[0], &names[1]], &plan)
        .map_err(|e| Failure::Input(e.to_string()))?;
    let mut csv = Vec::new();
    write_comparison_csv(&comparison, &mut csv).map_err(|e| Failure::Input(e.to_string()))?;
    let mut description = Vec::new();
    write_comparison_description(COMPARISON, tables, &mut description)
        .map_err(|e| Failure::Input(e.to_string()))?;
    let mut outputs = Outputs::default();
    outputs.add(described, description);
    let [figures, page] = goals;
    outputs.add(figures, csv);
    if !asked.no_record {
        let (title, date) = (
            asked.heading.title().map_or_else(|| names.join(" and "), ToOwned::to_owned),
            asked.heading.date(),
        );
        let plan = ComparisonPlan {
            comparison: &comparison,
            tables: [&first, &second],
            sha256: [&first_sha, &second_sha],
            title: &title,
            part_note: asked.heading.part_note(),
            date: &date,
            units,
        };
        let made = comparison_page(&plan, &ToLog).map_err(|e| Failure::Input(e.to_string()))?;
        outputs.add(page, made.html);
    }
    outputs.write()?;
    Ok(Said {
        text: render_comparison_in(&comparison, units),
        warnings: comparison.notes.iter().map(line).collect(),
    })
}
