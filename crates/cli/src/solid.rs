//! The `solid` command: a clean propeller at any setting, section templates, and the distance between scan and surface.

use std::borrow::Cow;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use bladeform::quantity::{Density, Hand, Length, ShownUnits, StationRadii};
use bladeform::solid::{
    BladeSurface, Bolts, Deviation, DeviationFigures, Hub, MadeSolid, MassProperties, PropellerSurface,
    SettingAngle, SolidError, SolidFormat, SolidNotice, SolidPlan, StepFile, StepUnit, Template, deviation,
    templates, templates_pdf, write_named,
};
use bladeform::table::{CAUTION, Harm, Notice, Shown, Station, StationTable, by_harm};
use bladeform::words::fitted;
use bladeform::work::Observer;
use clap::{Args, ValueEnum};

use crate::advice::{advice, line};
use crate::failure::{Failure, Said};
use crate::feedback::{OneOf, Shares, ToLog, stage};
use crate::input::{bytes_of, smooth_or_own, table_of};
use crate::limits::{Settings, bolts, facet_tolerance, length_from_zero, positive_length, settings};
use crate::output::{Outputs, can_be_written};
use crate::section_line::{Line, setting_of};
use crate::units::Units;

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares =
    &[("fitting the surface", 5.0), ("making solids", 80.0), ("comparing the scan", 10.0), ("writing", 5.0)];

#[derive(Debug, Args)]
pub(crate) struct Solid {
    /// Station table: stations.json, or a CSV file.
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Number of blades; one blade without a hub makes a lone closed blade.
    #[arg(long, value_name = "COUNT", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=16))]
    blades: u32,
    /// Diameter of the propeller, e.g. 108in; the blade is moved along its axis to match.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    diameter: Option<Length>,
    /// Diameter of the hub [default: as measured, or just large enough for the blades].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    hub_diameter: Option<Length>,
    /// Length of the hub's cylinder, centred on the blade axes [default: as measured, or just long enough for the blades].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    hub_length: Option<Length>,
    /// Length of the rounded nose ahead of the cylinder; 0mm makes a flat front [default: the hub's radius; none where the hub's length was measured or the hub has holes].
    #[arg(long, value_name = "LENGTH", value_parser = length_from_zero, allow_hyphen_values = true)]
    nose_length: Option<Length>,
    /// Diameter of the bore, straight through the hub; 0mm makes a full hub [default: as measured, else none].
    #[arg(long, value_name = "LENGTH", value_parser = length_from_zero, allow_hyphen_values = true)]
    bore: Option<Length>,
    /// Bolt holes through the hub, evenly on a circle: 8x10mm@114mm, or 8x10mm@114mm@22.5deg with the angle of the first hole from the first blade in the direction of rotation; none makes a hub without [default: as measured, else none].
    #[arg(long, value_name = "COUNTxHOLE@CIRCLE[@ANGLE]", value_parser = bolts)]
    bolts: Option<Bolts>,
    /// Diameter of a round shank, in place of the root in the table [default: the root as measured].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    shank_diameter: Option<Length>,
    /// Absolute blade angle, -90 to 90 deg: 20deg@0.75, 20deg@tip, or a range first:last:step in degrees such as 10:40:5@0.75, one file per setting.
    #[arg(long, value_name = "ANGLE[@RADIUS]", value_parser = parse_settings, allow_hyphen_values = true)]
    setting: Option<Settings>,
    /// Stations of the table to leave out, as fractions of the tip radius (0.3,0.45) or as radii (300mm,18in).
    #[arg(long, value_name = "LIST", value_parser = StationRadii::parse, allow_hyphen_values = true)]
    without: Option<StationRadii>,
    /// Build the smooth blade that all stations together show, in place of each station's own section.
    #[arg(long)]
    smooth_blade: bool,
    /// Line of the section that has this angle [default: chord].
    #[arg(long, value_name = "LINE")]
    setting_of: Option<Line>,
    /// Hand of the propeller; a right-hand propeller turns clockwise seen from behind [default: from the table; right for a CSV table].
    #[arg(long, value_name = "right|left", value_parser = Hand::parse)]
    hand: Option<Hand>,
    /// Greatest distance between facets and smooth surface [default: 0.05mm].
    #[arg(long, value_name = "LENGTH", value_parser = facet_tolerance, allow_hyphen_values = true)]
    tolerance: Option<Length>,
    /// Unit of the coordinates in the file.
    #[arg(long, value_name = "UNIT", default_value = "mm")]
    unit: Unit,
    /// Density of the material, e.g. 680kg/m3: report mass, centre of mass and moments of inertia.
    #[arg(long, value_name = "DENSITY", value_parser = Density::parse, allow_hyphen_values = true)]
    density: Option<Density>,
    /// Write several settings as named solids (setting-0deg, setting-5deg, ...) into one file: .obj, or .stl with --ascii.
    #[arg(long, requires = "output")]
    one_file: bool,
    /// Write STL and PLY files as text.
    #[arg(long)]
    ascii: bool,
    /// Output file: .stl, .ply, .obj (triangles) or .step (one solid of smooth surfaces).
    #[arg(short, long, value_name = "FILE", required_unless_present_any = ["templates", "scan"])]
    output: Option<PathBuf>,
    /// Also write full-size section templates into this folder: one DXF and one SVG file per station, and a PDF of all.
    #[arg(long, value_name = "DIR")]
    templates: Option<PathBuf>,
    /// The scan that was measured: report how far its points are from the smooth surface.
    #[arg(long, value_name = "SCAN")]
    scan: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) units: Units,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Unit {
    /// Millimetres.
    Mm,
    /// Metres.
    M,
}

/// Most files per run: more than any study of settings needs, few enough for a folder.
const MOST_FILES: usize = 200;

fn parse_settings(text: &str) -> Result<Settings, String> {
    let found = settings(text)?;
    match found.deg.len() {
        n if MOST_FILES < n => Err(format!("{n} settings would make {n} files; the most is {MOST_FILES}")),
        _ => Ok(found),
    }
}

/// A station within this part of the tip radius of what was typed is the one that was meant.
const SAME_STATION: f64 = 2e-3;
const MM_PER_M: f64 = 1e3;

/// The kind of file that a file name extension means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum FileKind {
    Triangles(SolidFormat),
    Step,
}

impl Solid {
    fn kind(&self) -> Result<Option<FileKind>, Failure> {
        let Some(path) = &self.output else { return Ok(None) };
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        let kind = match ending.as_str() {
            "stl" => FileKind::Triangles(SolidFormat::Stl),
            "ply" => FileKind::Triangles(SolidFormat::Ply),
            "obj" => FileKind::Triangles(SolidFormat::Obj),
            "step" | "stp" => FileKind::Step,
            _ => {
                return Err(Failure::Usage(format!(
                    "-o {}: the file ending selects the format; use .stl, .ply, .obj or .step",
                    path.display()
                )));
            }
        };
        let names = matches!(kind, FileKind::Triangles(SolidFormat::Obj))
            || (self.ascii && matches!(kind, FileKind::Triangles(SolidFormat::Stl)));
        if self.one_file && !names {
            return Err(Failure::Usage(
                "--one-file needs a format with named solids: .obj, or .stl with --ascii".to_owned(),
            ));
        }
        Ok(Some(kind))
    }

    fn plan(&self) -> SolidPlan {
        let defaults = SolidPlan::default();
        SolidPlan {
            blades: self.blades,
            diameter_m: self.diameter.map(Length::m),
            hub_diameter_m: self.hub_diameter.map(Length::m),
            hub_length_m: self.hub_length.map(Length::m),
            nose_length_m: self.nose_length.map(Length::m),
            bore_diameter_m: self.bore.map(Length::m),
            bolts: self.bolts.unwrap_or_default(),
            shank_diameter_m: self.shank_diameter.map(Length::m),
            tolerance_m: self.tolerance.map_or(defaults.tolerance_m, Length::m),
            metres_per_unit: if self.unit == Unit::M { 1.0 } else { 1e-3 },
            setting_of: setting_of(self.setting_of),
        }
    }

    fn inputs(&self) -> impl Iterator<Item = &PathBuf> {
        [&self.table].into_iter().chain(&self.scan)
    }

    /// An error of the solid as a failure that names the table and the option that helps.
    fn told(&self, e: &SolidError) -> Failure {
        let advice = advice(e.code()).map_or(String::new(), |text| format!(". {text}"));
        Failure::of(e.code(), format!("{}: {e}{advice}", self.table.display()))
    }

    /// The bytes of the scan to compare. Another scan than the table's is refused here, before the work.
    fn scan_of(&self, table: &StationTable) -> Result<Option<Vec<u8>>, Failure> {
        let Some(scan) = &self.scan else { return Ok(None) };
        let bytes = bytes_of(scan, "the scan that was measured")?;
        bladeform::record::must_be_scan_of(&bytes, table)
            .map_err(|e| Failure::Input(format!("{}: {e}", scan.display())))?;
        Ok(Some(bytes))
    }

    /// Leaves out the stations that the user named; the sentences say which.
    fn leave_out(&self, table: &mut StationTable) -> Result<Vec<String>, Failure> {
        let wanted: Vec<f64> = match &self.without {
            Some(StationRadii::Ratios(list)) => list.iter().map(|r| r * table.blade.radius_m).collect(),
            Some(StationRadii::Lengths(list)) => list.iter().map(|r| r.m()).collect(),
            Some(StationRadii::Count(_)) | None => return Ok(Vec::new()),
        };
        let mut sentences = Vec::new();
        for radius_m in wanted {
            let distance = |s: &Station| (s.radius_m - radius_m).abs();
            let nearest = (0..table.stations.len())
                .min_by(|&i, &j| distance(&table.stations[i]).total_cmp(&distance(&table.stations[j])));
            let near =
                nearest.filter(|&k| distance(&table.stations[k]) <= SAME_STATION * table.blade.radius_m);
            let Some(k) = near else {
                let next = nearest.map_or(String::new(), |k| {
                    format!("; the nearest is at {:.1} mm", MM_PER_M * table.stations[k].radius_m)
                });
                return Err(Failure::Usage(format!(
                    "--without: the table has no station at {:.1} mm{next}",
                    MM_PER_M * radius_m
                )));
            };
            let s = table.stations.remove(k);
            sentences.push(format!("the station at {:.1} mm was left out, as asked", MM_PER_M * s.radius_m));
        }
        Ok(sentences)
    }

    fn step_unit(&self) -> StepUnit {
        if self.unit == Unit::M { StepUnit::Metre } else { StepUnit::Millimetre }
    }

    fn settings(&self, table: &StationTable) -> Vec<Option<SettingAngle>> {
        let Some(s) = &self.setting else { return vec![None] };
        let radius_ratio = s.at.ratio_or(table.blade.reference_radius_ratio);
        // Degrees that were converted to radians and back may read 29.999999999999996.
        let typed = |deg: f64| (1e9 * deg).round() / 1e9;
        s.deg.iter().map(|&deg| Some(SettingAngle { angle_deg: typed(deg), radius_ratio })).collect()
    }
}

/// A solid made for a caller that writes no files.
pub(crate) struct Made {
    /// The setting, deg, if one was given.
    pub(crate) setting_deg: Option<f64>,
    pub(crate) made: MadeSolid,
    /// Mass and moments, if a density was given.
    pub(crate) mass: Option<MassProperties>,
    /// What must be known about it and about the blade.
    pub(crate) notices: Vec<Notice>,
}

impl Solid {
    /// Refuses options that contradict one another.
    fn check(&self) -> Result<(), Failure> {
        if self.setting_of.is_some() && self.setting.is_none() {
            return Err(Failure::Usage(
                "--setting-of has no effect without --setting; give both or neither".to_owned(),
            ));
        }
        Ok(())
    }

    /// Leaves out stations and sets the hand, as asked; the sentences say what was left out.
    fn prepare(&self, table: &mut StationTable) -> Result<Vec<String>, Failure> {
        let left_out = self.leave_out(table)?;
        if let Cow::Owned(smooth) = smooth_or_own(table, self.smooth_blade)? {
            *table = smooth;
        }
        if let Some(hand) = self.hand {
            table.frame.get_or_insert_default().hand = hand;
        }
        Ok(left_out)
    }

    /// The solid at every setting, of a table in memory.
    ///
    /// # Errors
    /// As [`solid`].
    pub(crate) fn made(
        &self,
        mut table: StationTable,
        observer: &dyn Observer,
    ) -> Result<Vec<Made>, Failure> {
        self.check()?;
        self.prepare(&mut table)?;
        let propeller = PropellerSurface::new(&table, self.plan()).map_err(|e| self.told(&e))?;
        let own = propeller.warnings().iter().map(Notice::of);
        let of_blade: Vec<Notice> = own.chain(table.warnings.iter().cloned()).collect();
        let at = |setting: Option<SettingAngle>| {
            let made = propeller.at(setting, observer).map_err(|e| self.told(&e))?;
            let mut notices: Vec<Notice> = made.warnings.iter().map(Notice::of).collect();
            notices.extend(of_blade.iter().cloned());
            by_harm(&mut notices);
            let mass = self.density.map(|density| made.solid.mass_properties(density.kg_m3()));
            Ok(Made { setting_deg: setting.map(|s| s.angle_deg), made, mass, notices })
        };
        self.settings(&table).into_iter().map(at).collect()
    }

    /// The table that was named.
    ///
    /// # Errors
    /// As [`table_of`].
    pub(crate) fn read(&self) -> Result<StationTable, Failure> {
        Ok(table_of(&self.table, self.diameter)?.0)
    }

    /// The diameter that was given, for a table that is not in a file.
    pub(crate) fn diameter(&self) -> Option<Length> {
        self.diameter
    }
}

/// The file of all section templates.
const ALL_SHEETS: &str = "sections.pdf";

/// The warning of a table that is hardly one of a blade.
const NO_BLADE: &str = "hardly-a-blade";

/// A failure with the table's own doubt: where it is hardly one of a blade, other hubs and settings do not help.
fn with_doubt(failure: Failure, table: &StationTable) -> Failure {
    let Some(doubt) = table.warnings.iter().find(|w| w.code() == NO_BLADE) else { return failure };
    let text = |text: String| {
        format!(
            "{text}. First of all the table warns: {}; measure the part again before its solid",
            doubt.sentence()
        )
    };
    match failure {
        Failure::Coded { code, text: told } => Failure::of(code, text(told)),
        other => other,
    }
}

/// Runs the command; returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn solid(asked: &Solid) -> Result<Said, Failure> {
    let kind = asked.kind()?;
    asked.check()?;
    let sheets = asked.templates.iter().map(|folder| folder.join(ALL_SHEETS));
    can_be_written(asked.output.clone().into_iter().chain(sheets), asked.inputs())?;
    let (mut table, _) = table_of(&asked.table, asked.diameter)?;
    let states_hand = table.frame.is_some() || asked.hand.is_some();
    let left_out = asked.prepare(&mut table)?;
    let scan = asked.scan_of(&table)?;
    stage("fitting the surface");
    let propeller =
        PropellerSurface::new(&table, asked.plan()).map_err(|e| with_doubt(asked.told(&e), &table))?;
    let mut run = Run {
        asked,
        table: &table,
        scan,
        propeller: &propeller,
        text: String::new(),
        warnings: left_out,
        outputs: Outputs::default(),
    };
    run.describe_blade(states_hand);
    for w in &run.warnings {
        let _ = writeln!(run.text, "Warning: {w}");
    }
    let first = run.make_solids(kind).map_err(|failure| with_doubt(failure, &table))?;
    run.compare_scan()?;
    run.warn_of_blade();
    run.draw_templates(first.as_ref());
    stage("writing");
    run.outputs.write()?;
    let _ = writeln!(run.text, "{CAUTION}");
    Ok(Said { text: fitted(&asked.units.shown_of(&table).text(&run.text)), warnings: run.warnings })
}

/// A run of the command: what was asked for, and what it has made so far.
struct Run<'a> {
    asked: &'a Solid,
    table: &'a StationTable,
    /// The bytes of the scan, if one is to be compared.
    scan: Option<Vec<u8>>,
    propeller: &'a PropellerSurface<'a>,
    text: String,
    warnings: Vec<String>,
    outputs: Outputs,
}

impl Run<'_> {
    /// Size of blade and hub, and the hand.
    fn describe_blade(&mut self, states_hand: bool) {
        self.text.push_str(&headline(self.propeller, self.asked));
        let hand_note = if states_hand {
            ""
        } else {
            " (assumed, since the table does not state it; give --hand left for a left-hand propeller)"
        };
        let _ = writeln!(self.text, "Hand: {}{hand_note}", self.table.hand());
    }

    /// Makes a solid at every setting and its file; returns the blade of the first setting, and how far it is turned in degrees.
    fn make_solids(&mut self, kind: Option<FileKind>) -> Result<Option<(BladeSurface, f64)>, Failure> {
        let asked = self.asked;
        let settings = asked.settings(self.table);
        let mut first = None;
        let mut named: Vec<(String, MadeSolid)> = Vec::new();
        for (i, setting) in settings.iter().enumerate() {
            let one_of = OneOf { done: i, all: settings.len() };
            let made = self.propeller.at(*setting, &one_of).map_err(|e| asked.told(&e))?;
            if i == 0 {
                first = Some((made.blade.clone(), made.turned_deg));
            }
            if let Some(density) = asked.density {
                describe_mass(&mut self.text, density, *setting, &made);
            }
            let Some((kind, path)) = kind.zip(asked.output.as_deref()) else { continue };
            if asked.one_file {
                named.push((self.describe_named(path, *setting, &made), made));
            } else {
                let name = file_name(path, (1 < settings.len()).then_some(*setting).flatten());
                self.add_file(path.with_file_name(name), kind, *setting, &made)?;
            }
        }
        if let (Some(FileKind::Triangles(format)), Some(path), false) =
            (kind, &asked.output, named.is_empty())
        {
            self.add_named(path, format, &named)?;
        }
        Ok(first)
    }

    /// Describes a solid that shares its file with others; returns its name in that file.
    fn describe_named(&mut self, path: &Path, setting: Option<SettingAngle>, made: &MadeSolid) -> String {
        let name = setting.map_or("propeller".to_owned(), |s| format!("setting-{}deg", s.angle_deg));
        let what = format!("{}, solid {name}", file_name(path, None));
        describe_triangles(&mut self.text, &what, setting, made);
        self.keep_warnings(&what, made);
        name
    }

    /// Adds the file of all named solids.
    fn add_named(
        &mut self,
        path: &Path,
        format: SolidFormat,
        named: &[(String, MadeSolid)],
    ) -> Result<(), Failure> {
        let list: Vec<_> = named.iter().map(|(name, made)| (name.clone(), &made.solid)).collect();
        let mut bytes = Vec::new();
        write_named(&list, format, &mut bytes)
            .unwrap_or(Ok(()))
            .map_err(|e| Failure::Input(format!("{} cannot be written: {e}", path.display())))?;
        self.outputs.add(path.to_owned(), bytes);
        Ok(())
    }

    /// Adds the file of one solid and describes it.
    fn add_file(
        &mut self,
        goal: PathBuf,
        kind: FileKind,
        setting: Option<SettingAngle>,
        made: &MadeSolid,
    ) -> Result<(), Failure> {
        let asked = self.asked;
        can_be_written([goal.clone()], asked.inputs())?;
        let file = file_name(&goal, None);
        match kind {
            FileKind::Triangles(format) => {
                let mut bytes = Vec::new();
                made.solid
                    .write(format, asked.ascii, &mut bytes)
                    .map_err(|e| Failure::Input(format!("{file} cannot be written: {e}")))?;
                self.outputs.add(goal, bytes);
                describe_triangles(&mut self.text, &file, setting, made);
            }
            FileKind::Step => {
                let stem = file.rsplit_once('.').map_or(&file[..], |(stem, _)| stem);
                let hub = self.propeller.hub().map(|hub| (hub, asked.blades));
                let step = made.blade.step(hub, stem, asked.step_unit()).map_err(|e| asked.told(&e))?;
                describe_step(&mut self.text, &file, setting, made, &step, hub);
                self.outputs.add(goal, step.text);
            }
        }
        self.keep_warnings(&file, made);
        Ok(())
    }

    fn keep_warnings(&mut self, what: &str, made: &MadeSolid) {
        self.warnings.extend(made.warnings.iter().map(|w| format!("{what}: {}", plain(w))));
    }

    /// Reports the distance between the scan, if given, and the smooth surface.
    fn compare_scan(&mut self) -> Result<(), Failure> {
        let Some(bytes) = &self.scan else { return Ok(()) };
        stage("comparing the scan");
        let found =
            deviation(self.table, self.propeller.blade(), bytes, &ToLog).map_err(|e| self.asked.told(&e))?;
        self.text.push_str(&deviation_text(&found, self.asked.units.shown_of(self.table)));
        for w in found.notices.iter().map(plain) {
            let _ = writeln!(self.text, "Warning: {w}");
            self.warnings.push(w);
        }
        Ok(())
    }

    /// The warnings that hold at every setting.
    fn warn_of_blade(&mut self) {
        let own = self.propeller.warnings().iter().map(Notice::of);
        let mut all: Vec<Notice> = own.chain(self.table.warnings.iter().cloned()).collect();
        by_harm(&mut all);
        for w in all.iter().filter(|w| w.harm() != Harm::Aside).map(line) {
            let _ = writeln!(self.text, "Warning: {w}");
            self.warnings.push(w);
        }
    }

    /// Adds the section templates of a blade turned by the given angle in degrees, if a folder was named for them.
    fn draw_templates(&mut self, first: Option<&(BladeSurface, f64)>) {
        let (Some(folder), Some((blade, turned_deg))) = (&self.asked.templates, first) else { return };
        let is_absolute = self.asked.setting.is_some() || !self.table.angles_are_relative();
        let mut sheets = templates(self.table, blade, *turned_deg, is_absolute);
        sheets.iter_mut().for_each(|sheet| sheet.units = self.asked.units.shown_of(self.table));
        add_sheets(&sheets, folder, &mut self.outputs);
        let _ = writeln!(
            self.text,
            "{} section templates (DXF and SVG) are in {}; sections.pdf contains all of them, one per page. Print at 100 %, without fitting to the page.",
            sheets.len(),
            folder.display()
        );
    }
}

/// A notice of the solid as a line.
fn plain(notice: &SolidNotice) -> String {
    line(&Notice::of(notice))
}

fn headline(propeller: &PropellerSurface<'_>, asked: &Solid) -> String {
    let blade = propeller.blade();
    let mut text = format!(
        "Blade from {:.1} mm to {:.1} mm radius, {:.0} cm3 by its section areas.\n",
        1e3 * blade.root_radius_m(),
        1e3 * blade.tip_radius_m(),
        1e6 * blade.volume_m3()
    );
    if let Some(hub) = propeller.hub() {
        let blades = if asked.blades == 1 { "blade" } else { "blades" };
        let front = if 0.0 < hub.nose_m {
            format!("with a nose of {:.1} mm", 1e3 * hub.nose_m)
        } else {
            "with a flat front".to_owned()
        };
        let bore = match hub.bore_radius_m {
            r if 0.0 < r => format!("a bore of {:.1} mm", 2e3 * r),
            _ => "no bore".to_owned(),
        };
        let bolts = hub.bolts.map_or(String::new(), |b| {
            format!(
                " and {} bolt holes of {:.1} mm on a circle of {:.1} mm",
                b.count,
                1e3 * b.hole_diameter_m,
                1e3 * b.circle_diameter_m
            )
        });
        let _ = writeln!(
            text,
            "{} {blades} on a hub of {:.1} mm diameter, {:.1} mm long, {front}, {bore}{bolts}.",
            asked.blades,
            2e3 * hub.radius_m,
            1e3 * hub.length_m
        );
    }
    text
}

fn file_name(path: &Path, setting: Option<SettingAngle>) -> String {
    let name = path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    match (setting, name.rsplit_once('.')) {
        (Some(s), Some((stem, ending))) => format!("{stem}-{}deg.{ending}", s.angle_deg),
        _ => name,
    }
}

fn at_setting(setting: Option<SettingAngle>) -> String {
    setting.map_or(String::new(), |s| format!(" at {} deg at {} R", s.angle_deg, s.radius_ratio))
}

fn describe_step(
    text: &mut String,
    file: &str,
    setting: Option<SettingAngle>,
    made: &MadeSolid,
    step: &StepFile,
    hub: Option<(Hub, u32)>,
) {
    let at = at_setting(setting);
    let what = match hub {
        Some((_, 1)) => " of one blade united with its hub".to_owned(),
        Some((_, blades)) => format!(" of {blades} blades united with their hub"),
        None => String::new(),
    };
    let _ = writeln!(
        text,
        "{file}{at}: one closed solid{what}, made of smooth B-spline surfaces, {:.2} cm3 by the section areas; the last {:.3} mm of the tip are cut flat",
        1e6 * made.section_volume_m3,
        1e3 * made.blade.step_cut_m()
    );
    if hub.is_some() {
        let _ = writeln!(
            text,
            "  the edges between blades and hub are within {:.6} mm of both surfaces, checked at the quarter points of every edge",
            1e3 * step.edge_error_m
        );
    }
    warn_of(text, made);
}

fn describe_triangles(text: &mut String, file: &str, setting: Option<SettingAngle>, made: &MadeSolid) {
    let (facts, at) = (made.solid.facts(), at_setting(setting));
    let _ = writeln!(
        text,
        "{file}{at}: one closed surface of {} triangles, free of self-intersection; facets within {:.4} mm; smallest angle {:.2} deg (99 % of the triangles above {:.1} deg)",
        facts.triangles,
        1e3 * made.chord_error_m,
        facts.smallest_angle_deg,
        facts.hundredth_angle_deg
    );
    let _ = writeln!(
        text,
        "  volume {:.2} cm3 by the triangles, {:.2} cm3 by the section areas: {:+.3} %",
        1e6 * facts.volume_m3,
        1e6 * made.section_volume_m3,
        100.0 * (facts.volume_m3 / made.section_volume_m3 - 1.0)
    );
    warn_of(text, made);
}

fn describe_mass(text: &mut String, density: Density, setting: Option<SettingAngle>, made: &MadeSolid) {
    let m = made.solid.mass_properties(density.kg_m3());
    let [x, y, z] = m.centre_m.map(|c| MM_PER_M * c);
    let [about_x, about_y, about_z] = m.inertia_kg_m2;
    let _ = writeln!(
        text,
        "Mass{} at {} kg/m3 throughout: {:.4} kg; centre of mass x = {x:.2} mm, y = {y:.2} mm, z = {z:.2} mm",
        at_setting(setting),
        density.kg_m3(),
        m.mass_kg
    );
    let _ = writeln!(
        text,
        "  moment of inertia about the axis of rotation (y): {:.5} kg m2; about the centre of mass: x {about_x:.5}, y {about_y:.5}, z {about_z:.5} kg m2",
        m.about_rotation_kg_m2
    );
}

fn warn_of(text: &mut String, made: &MadeSolid) {
    for w in &made.warnings {
        let _ = writeln!(text, "  Warning: {}", plain(w));
    }
}

fn deviation_text(found: &Deviation, units: ShownUnits) -> String {
    let shown = Shown::new("", "mm", 1e3, 3).in_units(units);
    let mut text = format!(
        "Scan against the smooth surface, between the first and the last station\n               points   RMS [{unit}]   95 % within [{unit}]   greatest [{unit}]\n",
        unit = shown.unit
    );
    let rows: [(&str, DeviationFigures); 3] =
        [("back", found.back), ("face", found.face), ("unflagged", found.unflagged)];
    for (name, f) in rows {
        let _ = writeln!(
            text,
            "{name:>12} {:>8} {:>10} {:>18} {:>15}",
            f.points,
            shown.text(Some(f.rms_m)),
            shown.text(Some(f.ninety_five_m)),
            shown.text(Some(f.greatest_m))
        );
    }
    text
}

fn add_sheets(sheets: &[Template], folder: &Path, outputs: &mut Outputs) {
    for (i, t) in sheets.iter().enumerate() {
        let stem = format!("section-{:02}-r{:.0}mm", i + 1, t.radius_mm);
        outputs.add(folder.join(format!("{stem}.dxf")), t.dxf());
        outputs.add(folder.join(format!("{stem}.svg")), t.svg());
    }
    outputs.add(folder.join(ALL_SHEETS), templates_pdf(sheets));
}
