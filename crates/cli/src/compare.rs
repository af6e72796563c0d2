//! The `compare` command: two tables, or the blades of one; tolerances, figures, a page and a text.

use std::path::PathBuf;

use bladeform::document::{
    write_blades_csv, write_blades_json, write_class_csv, write_comparison_csv, write_comparison_description,
};
use bladeform::quantity::{Angle, Density, Length, ShownUnits};
use bladeform::record::{ComparisonPlan, comparison_page};
use bladeform::table::{
    Allowed, BladesComparison, ClassReport, ComparePlan, Comparison, OrLength, StationColumn, StationTable,
    ToleranceClass, against_class, compare, compare_blades,
};
use bladeform::words::{render_blades, render_class, render_comparison_in};
use clap::Args;

use crate::about::Heading;
use crate::advice::{advice, line};
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

Of a whole propeller, one table is enough: its blades are compared with one another.

Example: bladeform compare worn/stations.json drawing.csv --tolerance chord=2mm --tolerance angle=0.5deg";

/// The figures in the folder of results.
const COMPARISON: &str = "comparison.csv";
/// The blades of one table compared, in the folder of results.
const BLADES_JSON: &str = "blades.json";
const BLADES_CSV: &str = "blades.csv";
/// A screw against an accuracy class.
const CLASS: &str = "class.csv";
/// The description of its columns, with the tables that it compares.
const DESCRIPTION: &str = "comparison.csv-metadata.json";
/// The page with curves of both tables.
const PAGE: &str = "comparison.html";

#[derive(Debug, Args)]
pub(crate) struct Compare {
    /// First table: JSON or CSV, measured or typed in from a drawing. Alone: the stations.json of a whole propeller, whose blades are compared with one another.
    #[arg(value_name = "TABLE")]
    first: PathBuf,
    /// Second table. Differences are the first minus the second.
    #[arg(value_name = "TABLE")]
    second: Option<PathBuf>,
    /// Allowed difference, e.g. chord=2mm, angle=0.5deg, face-angle=0.5deg, thickness=1mm, pitch=1.5%, camber=5%; a percentage refers to the
    /// second table's figure. May be given several times.
    #[arg(long, value_name = "FIGURE=AMOUNT", value_parser = tolerance)]
    tolerance: Vec<(StationColumn, Allowed)>,
    /// Judge a screw measured on cylinders by an accuracy class: S, I, II or III of ISO 484-2:1981, or tolerances of your own: local-pitch=1.5%, radius-pitch=1%, blade-pitch=0.75%, screw-pitch=0.5%,
    /// chord=1.5%, thickness-over=2%, thickness-under=1%, rake=0.5% of the diameter, spacing=1deg, joined by commas. Against the second table as the drawing; without one against the mean of the blades.
    #[arg(long, visible_alias = "class", value_name = "CLASS", value_parser = tolerance_class)]
    tolerance_class: Option<ToleranceClass>,
    /// Radius at which both angles are zero where twist is compared, as a fraction of the first table's tip radius [default: that of the first table, or a better known one].
    #[arg(long, value_name = "FRACTION", value_parser = radius_ratio)]
    reference: Option<f64>,
    /// Diameter, for a CSV table that has only radius ratios or only radii.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    diameter: Option<Length>,
    /// Density of a whole propeller's material, e.g. 0.6g/cm3: report its static unbalance and what would balance it. For one table.
    #[arg(long, value_name = "DENSITY", value_parser = Density::parse, allow_hyphen_values = true)]
    density: Option<Density>,
    /// Radius at which a weight would be put to balance the propeller [default: the reference radius of the table, 0.75 R].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true, requires = "density")]
    weight_radius: Option<Length>,
    /// Replace the comparison of other tables in the output folder. That of the same two tables is replaced without it.
    #[arg(long)]
    overwrite: bool,
    /// Output folder for comparison.csv and comparison.html; for one table blades.json and blades.csv.
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

/// Radii at which tolerances of the user's own are judged: those of the finer published classes.
const OWN_CLASS: &str = "S";

/// A published class by its name, or a list of tolerances.
fn tolerance_class(text: &str) -> Result<ToleranceClass, String> {
    if let Some(published) = ToleranceClass::published(text.trim()) {
        return Ok(published);
    }
    if !text.contains('=') {
        return Err(format!(
            "`{text}` is no class: write S, I, II or III, or tolerances such as radius-pitch=1%,chord=1.5%"
        ));
    }
    let radii = ToleranceClass::published(OWN_CLASS).map(|c| c.radii).unwrap_or_default();
    let mut class =
        ToleranceClass { name: format!("of your own ({})", text.trim()), radii, ..ToleranceClass::default() };
    let mut thickness = [None; 2];
    for part in text.split(',') {
        let (figure, amount) = part.split_once('=').ok_or_else(|| {
            format!("`{part}`: write a figure, `=` and its tolerance, e.g. radius-pitch=1%")
        })?;
        let (figure, amount) = (figure.trim(), amount.trim());
        if figure == "spacing" {
            let deg = Angle::parse(amount).map_err(|e| e.to_string())?.deg();
            class.spacing_deg = Some(not_negative(deg, amount)?);
            continue;
        }
        let percent = amount.strip_suffix('%').and_then(|p| p.trim().parse::<f64>().ok());
        let percent = percent.ok_or_else(|| format!("`{part}`: write a percentage, e.g. {figure}=1%"))?;
        let fraction = 0.01 * not_negative(percent, amount)?;
        let or_length = OrLength { fraction, least_m: 0.0 };
        match figure {
            "local-pitch" => class.local_pitch = Some(fraction),
            "radius-pitch" => class.radius_pitch = Some(fraction),
            "blade-pitch" => class.blade_pitch = Some(fraction),
            "screw-pitch" => class.screw_pitch = Some(fraction),
            "chord" => class.chord = Some(or_length),
            "thickness-over" => thickness[0] = Some(or_length),
            "thickness-under" => thickness[1] = Some(or_length),
            "rake" => class.rake = Some(fraction),
            other => {
                return Err(format!(
                    "`{other}` is not a known figure; write local-pitch, radius-pitch, blade-pitch, screw-pitch, chord, thickness-over, thickness-under, rake or spacing"
                ));
            }
        }
    }
    class.thickness = match thickness {
        [None, None] => None,
        [Some(over), Some(under)] => Some([over, under]),
        _ => return Err("thickness-over and thickness-under belong together: give both".to_owned()),
    };
    Ok(class)
}

fn not_negative(value: f64, amount: &str) -> Result<f64, String> {
    let is_good = value.is_finite() && 0.0 <= value;
    is_good.then_some(value).ok_or_else(|| format!("`{amount}`: a tolerance cannot be negative"))
}

/// Compares the tables, writes the files and returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn compare_files(asked: &Compare) -> Result<Said, Failure> {
    let Some(second) = &asked.second else { return compare_blades_of(asked) };
    asked.check_two()?;
    let goals = [asked.out.join(COMPARISON), asked.out.join(PAGE)];
    let described = asked.out.join(DESCRIPTION);
    let count = if asked.no_record { 1 } else { 2 };
    let class = asked.class_file();
    can_be_written(goals[..count].iter().chain([&described]).chain(&class).cloned(), [&asked.first, second])?;
    let read = |path: &PathBuf| table_of(path, asked.diameter);
    let ((first, first_sha), (other, second_sha)) = (read(&asked.first)?, read(second)?);
    let units = asked.units.shown_of(&first);
    let names = [&asked.first, second].map(|p| p.display().to_string());
    let tables = [(names[0].as_str(), first_sha.as_str()), (names[1].as_str(), second_sha.as_str())];
    if !asked.overwrite {
        must_be_of(&goals[0], (!asked.no_record).then_some(&goals[1]), tables)?;
    }
    let comparison = asked.compared([&first, &other], [&names[0], &names[1]])?;
    let judged = asked.by_class(&first, &names[0], Some((&other, &names[1])))?;
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
            tables: [&first, &other],
            sha256: [&first_sha, &second_sha],
            title: &title,
            part_note: asked.heading.part_note(),
            date: &date,
            units,
        };
        let made = comparison_page(&plan, &ToLog).map_err(|e| Failure::Input(e.to_string()))?;
        outputs.add(page, made.html);
    }
    add_class(&mut outputs, class, judged.as_ref())?;
    outputs.write()?;
    Ok(Said {
        text: render_comparison_in(&comparison, units) + &class_text(judged.as_ref(), units),
        warnings: comparison.notes.iter().map(line).collect(),
    })
}

impl Compare {
    /// Refuses options of the other kind of comparison.
    fn check_two(&self) -> Result<(), Failure> {
        if self.density.is_some() {
            return Err(Failure::Usage(
                "--density is for the table of one whole propeller, and two tables were given; give one"
                    .to_owned(),
            ));
        }
        Ok(())
    }

    /// Refuses options that only two tables can have.
    fn check_one(&self) -> Result<(), Failure> {
        let needs_two = [
            ("--tolerance", !self.tolerance.is_empty()),
            ("--reference", self.reference.is_some()),
            ("--title", self.heading.title().is_some()),
        ];
        match needs_two.into_iter().find(|(_, given)| *given) {
            None => Ok(()),
            Some((option, _)) => Err(Failure::Usage(format!(
                "{option} is for two tables, and one was given: give a second table, or leave it out to compare the blades of a whole propeller"
            ))),
        }
    }

    /// Two tables compared, as asked.
    ///
    /// # Errors
    /// A sentence, with the exit status it calls for.
    pub(crate) fn compared(
        &self,
        tables: [&StationTable; 2],
        names: [&str; 2],
    ) -> Result<Comparison, Failure> {
        self.check_two()?;
        let plan = ComparePlan { tolerances: self.tolerance.clone(), reference: self.reference };
        compare(tables, names, &plan).map_err(|e| Failure::of(e.code(), e.to_string()))
    }

    /// The blades of one table compared with one another, as asked.
    ///
    /// # Errors
    /// A sentence, with the exit status it calls for.
    pub(crate) fn compared_blades(
        &self,
        table: &StationTable,
        name: &str,
    ) -> Result<BladesComparison, Failure> {
        self.check_one()?;
        let mut comparison = compare_blades(table, name).map_err(|e| Failure::of(e.code(), e.to_string()))?;
        if let Some(density) = self.density {
            comparison.add_balance(table, density.kg_m3(), self.weight_radius_of(table)?);
        }
        Ok(comparison)
    }

    /// The screw against the class that was asked for; `None` without one.
    ///
    /// # Errors
    /// A sentence, with the exit status it calls for.
    pub(crate) fn by_class(
        &self,
        screw: &StationTable,
        name: &str,
        drawing: Option<(&StationTable, &str)>,
    ) -> Result<Option<ClassReport>, Failure> {
        let Some(class) = &self.tolerance_class else { return Ok(None) };
        let made =
            against_class(screw, name, drawing, class).map_err(|e| Failure::of(e.code(), e.to_string()))?;
        Ok(Some(made))
    }

    fn class_file(&self) -> Option<PathBuf> {
        self.tolerance_class.as_ref().map(|_| self.out.join(CLASS))
    }

    /// The diameter that was given.
    pub(crate) fn diameter(&self) -> Option<Length> {
        self.diameter
    }

    /// Where weights would be put, m.
    fn weight_radius_of(&self, table: &StationTable) -> Result<f64, Failure> {
        let tip = table.blade.radius_m;
        let Some(radius) = self.weight_radius else { return Ok(table.blade.reference_radius_ratio * tip) };
        if tip < radius.m() {
            return Err(Failure::Input(format!(
                "--weight-radius {radius}: the blades end at {:.1} mm; give a radius on them",
                1e3 * tip
            )));
        }
        Ok(radius.m())
    }
}

/// Compares the blades of one table with one another.
fn compare_blades_of(asked: &Compare) -> Result<Said, Failure> {
    asked.check_one()?;
    let goals = [asked.out.join(BLADES_JSON), asked.out.join(BLADES_CSV)];
    let class = asked.class_file();
    can_be_written(goals.iter().chain(&class).cloned(), [&asked.first])?;
    let (table, sha256) = table_of(&asked.first, asked.diameter)?;
    let name = asked.first.display().to_string();
    let comparison = asked.compared_blades(&table, &name)?;
    let judged = asked.by_class(&table, &name, None)?;
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    write_blades_json(&comparison, [&name, &sha256], &mut json)
        .and_then(|()| write_blades_csv(&comparison, &mut csv))
        .map_err(|e| Failure::Input(e.to_string()))?;
    let mut outputs = Outputs::default();
    goals.into_iter().zip([json, csv]).for_each(|(path, bytes)| outputs.add(path, bytes));
    add_class(&mut outputs, class, judged.as_ref())?;
    outputs.write()?;
    let units = asked.units.shown_of(&table);
    Ok(Said {
        text: render_blades(&comparison, units, &advice) + &class_text(judged.as_ref(), units),
        warnings: comparison.notes.iter().map(line).collect(),
    })
}

/// The text of the report, below that of the comparison.
pub(crate) fn class_text(report: Option<&ClassReport>, units: ShownUnits) -> String {
    report.map_or_else(String::new, |r| format!("\n{}", render_class(r, units)))
}

fn add_class(
    outputs: &mut Outputs,
    path: Option<PathBuf>,
    report: Option<&ClassReport>,
) -> Result<(), Failure> {
    let Some((path, report)) = path.zip(report) else { return Ok(()) };
    let mut csv = Vec::new();
    write_class_csv(report, &mut csv).map_err(|e| Failure::Input(e.to_string()))?;
    outputs.add(path, csv);
    Ok(())
}
