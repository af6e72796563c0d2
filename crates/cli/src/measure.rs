//! The `measure` command: its options, the checks between them, and its files.

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use bladeform::measure::{
    HandReading, KnownAngle, KnownDistance, MeasureError, MeasurePlan, ScanInput, measure, measure_with_part,
};
use bladeform::mesh::{CleanMesh, RawMesh};
use bladeform::quantity::{Hand, Length, Measured, SettingRadius, SettingText, StationRadii, UnitFamily};
use bladeform::record::ScanPart;
use bladeform::table::{Harm, Notice, SectionSurface, SettingOf, StationTable, details_of, mean_of_repeats};
use bladeform::words::{fitted, render_in};
use bladeform::work::{Observer, parallel};
use clap::{Args, ValueEnum};

use crate::about::About;
use crate::advice::{advice, line};
use crate::failure::{Failure, Said};
use crate::feedback::{CHOSEN, Shares, ToLog, stage};
use crate::held::{Held, TABLE, TABLE_CSV, TABLE_CSV_DESCRIPTION};
use crate::input::bytes_of;
use crate::limits::{distance, length_from_zero, positive_length, reading, root_radius, setting};
use crate::output::{Outputs, can_be_written, table_files};
use crate::photographs::{self, Photographs, can_be_kept};
use crate::record::{PAGE, PREDICTION_JSON, page_of_measured};
use crate::rows::{add_blades, add_outlines};
use crate::section_line::{Line, setting_of};
use crate::units::Units;

/// Files of a table in the folder of a command.
const TABLE_FILES: [&str; 3] = [TABLE, TABLE_CSV, TABLE_CSV_DESCRIPTION];

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares = &[
    ("reading the file", 1.0),
    ("reading the mesh", 1.0),
    ("repairing the mesh", 11.0),
    ("finding the axes", 22.0),
    ("measuring stations", 43.0),
    ("making the page", 21.0),
    ("writing", 1.0),
];

/// Most readings: the comparison of so many takes a second, and nobody reads more by hand.
const MOST_READINGS: usize = 500;

/// Units in which scans are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FileUnit {
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
    /// Inches.
    In,
    /// Feet.
    Ft,
}

impl FileUnit {
    /// One unit, m: exact (international yard and pound agreement, 1959).
    const fn m(self) -> f64 {
        match self {
            Self::Mm => 1e-3,
            Self::Cm => 0.01,
            Self::M => 1.0,
            Self::In => Length::INCH_M,
            Self::Ft => Length::FOOT_M,
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct Measure {
    /// Scan file: PLY, STL, OBJ or GLB, recognised by its content. Several scans of one blade: their mean, and whether they agree.
    #[arg(value_name = "SCAN", required = true)]
    scans: Vec<PathBuf>,
    /// Overall length of a lone blade, e.g. 50in or 4ft2in.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    length: Option<Length>,
    /// Diameter of the propeller, e.g. 108in.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    diameter: Option<Length>,
    /// Standard uncertainty of the known length [default: 0.5mm].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    length_uncertainty: Option<Length>,
    /// Known distance between two points of the scan, e.g. 250mm+-0.1mm@12,40.5,-3..262,40,-2. May be given several times.
    ///
    /// The points are x,y,z in the coordinates of the scan's file, as a viewer shows them; they may lie on a scale bar beside the part. The standard
    /// uncertainty contains that of picking the points; without one, that of a tape is taken, 0.5 mm. Several distances, and --length or --diameter beside
    /// them, are fitted together, and a contradiction is reported.
    #[arg(long, value_name = "LENGTH[+-U]@X,Y,Z..X,Y,Z", value_parser = distance, allow_hyphen_values = true)]
    distance: Vec<KnownDistance>,
    /// Distance from the axis of rotation to the root end of a lone blade, e.g. 120mm or 120mm+-1mm.
    ///
    /// All radii count from it. Its standard uncertainty enters every figure by how fast that changes along the blade; without one it is taken as exact.
    #[arg(long, value_name = "LENGTH[+-U]", value_parser = root_radius, allow_hyphen_values = true)]
    root_radius: Option<Measured>,
    /// What one unit of the scan's file is, where no length is known, or to be compared with it.
    #[arg(long, value_name = "UNIT")]
    unit: Option<FileUnit>,
    /// Resolution of the scan: the smallest width that it shows, e.g. 2mm [default: estimated from its noise].
    #[arg(long, value_name = "LENGTH", value_parser = length_from_zero, allow_hyphen_values = true)]
    resolution: Option<Length>,
    /// Accuracy that the report of the scan states over long distances, e.g. 0.2mm (a standard uncertainty).
    #[arg(long, value_name = "LENGTH", value_parser = length_from_zero, allow_hyphen_values = true)]
    scan_accuracy: Option<Length>,
    /// What sections are cut on [default: plane]. Cylinders about the axis of rotation, as drawings of ship's screws have them, need a whole propeller.
    #[arg(long, value_name = "SURFACE")]
    sections: Option<CutBy>,
    /// Number of evenly spaced stations [default: 24].
    #[arg(long, value_name = "COUNT", value_parser = StationRadii::parse_count, conflicts_with = "at")]
    stations: Option<StationRadii>,
    /// Stations as fractions of the tip radius (0.3,0.45,0.75) or as radii (12in,18in).
    #[arg(long, value_name = "LIST", value_parser = StationRadii::parse, allow_hyphen_values = true)]
    at: Option<StationRadii>,
    /// Known absolute angle of a lone blade at a radius, -90 to 90 deg, e.g. 22.5deg@0.75.
    #[arg(long, value_name = "ANGLE[@RADIUS]", value_parser = setting, allow_hyphen_values = true)]
    setting: Option<SettingText>,
    /// Line of the section that has this angle [default: chord].
    #[arg(long, value_name = "LINE")]
    setting_of: Option<Line>,
    /// Reading by hand to compare with the scan, e.g. thickness=24.8mm+-0.2mm@0.6. May be given several times.
    ///
    /// WHAT is thickness, chord, longest-chord, face-angle, blade-angle or length. The station is a fraction of the tip radius or a radius.
    /// A length lies between two stations: length=512mm+-1mm@0.3..0.75. Without an uncertainty the resolution of the usual tool is taken:
    /// calipers 0.1 mm, protractor 0.25 deg, tape 0.5 mm.
    #[arg(long, value_name = "WHAT=VALUE[+-U]@STATION", value_parser = reading)]
    reading: Vec<HandReading>,
    /// Hand of the propeller, if known; a right-hand propeller turns clockwise seen from behind.
    #[arg(long, value_name = "right|left", value_parser = Hand::parse)]
    hand: Option<Hand>,
    /// Reverse a choice made from the shape. May be given several times.
    #[arg(long, value_name = "WHAT")]
    swap: Vec<Swap>,
    #[command(flatten)]
    pub(crate) units: Units,
    #[command(flatten)]
    about: About,
    #[command(flatten)]
    photographs: Photographs,
    /// Do not write record.html, the page of table and scan. The texts about the part are in the table all the same.
    #[arg(long)]
    no_record: bool,
    /// Also write the outline of every section into this folder as plain text, x y: once in fractions of the chord, once in metres.
    #[arg(long, value_name = "DIR")]
    outlines: Option<PathBuf>,
    /// Replace the record of another scan in the output folder. That of the same scan is replaced without it, and its texts are kept.
    #[arg(long)]
    overwrite: bool,
    /// Output folder for stations.json, stations.csv and record.html; for a propeller also blade-1.csv and so on.
    #[arg(long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum CutBy {
    /// Planes across the span.
    Plane,
    /// Cylinders about the axis of rotation, developed.
    Cylinder,
}

impl CutBy {
    fn surface(self) -> SectionSurface {
        match self {
            Self::Plane => SectionSurface::Plane,
            Self::Cylinder => SectionSurface::Cylinder,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Swap {
    /// The other end is the tip.
    Ends,
    /// The other edge is the leading edge.
    Edges,
    /// The other side is the back.
    Sides,
}

impl Measure {
    /// The checked plan.
    ///
    /// # Errors
    /// A sentence about options that contradict one another.
    fn plan(&self) -> Result<MeasurePlan, Failure> {
        let defaults = MeasurePlan::default();
        let (length_m, diameter_m) = (self.length.map(Length::m), self.diameter.map(Length::m));
        self.check_lengths()?;
        if self.setting_of.is_some() && self.setting.is_none() {
            return Err(Failure::Usage(
                "--setting-of has no effect without --setting; give both or neither".to_owned(),
            ));
        }
        let setting = match self.setting.map(|s| (s.angle.deg(), s.at)) {
            None => None,
            Some((angle_deg, SettingRadius::Default)) => Some(KnownAngle { angle_deg, radius_ratio: None }),
            Some((angle_deg, SettingRadius::Ratio(ratio))) => {
                Some(KnownAngle { angle_deg, radius_ratio: Some(ratio) })
            }
            Some((_, SettingRadius::Tip)) => {
                return Err(Failure::Usage(
                    "--setting: the tip has no section to measure; give a radius such as @0.75".to_owned(),
                ));
            }
        };
        if MOST_READINGS < self.reading.len() {
            return Err(Failure::Usage(format!("--reading was given more than {MOST_READINGS} times")));
        }
        if MOST_READINGS < self.distance.len() {
            return Err(Failure::Usage(format!("--distance was given more than {MOST_READINGS} times")));
        }
        if !self.distance.is_empty() && 1 < self.scans.len() {
            return Err(Failure::Usage(
                "--distance holds in the coordinates of one scan, and several scans were given; measure that scan alone, or give --length or --diameter"
                    .to_owned(),
            ));
        }
        let swap = |what| self.swap.contains(&what);
        Ok(MeasurePlan {
            length_m,
            diameter_m,
            length_uncertainty_m: self.length_uncertainty.map_or(defaults.length_uncertainty_m, Length::m),
            distances: self.distance.clone(),
            root_radius_m: self.root_radius.map(|r| r.value),
            root_radius_uncertainty_m: self.root_radius.map_or(0.0, |r| r.u),
            unit_m: self.unit.map(FileUnit::m),
            resolution_m: self.resolution.map(Length::m),
            scan_accuracy_m: self.scan_accuracy.map(Length::m),
            sections: self.sections.map_or_else(SectionSurface::default, CutBy::surface),
            stations: self
                .at
                .clone()
                .or_else(|| self.stations.clone())
                .unwrap_or_else(|| defaults.stations.clone()),
            readings: self.reading.clone(),
            setting,
            setting_of: setting_of(self.setting_of),
            hand: self.hand,
            swap_ends: swap(Swap::Ends),
            swap_edges: swap(Swap::Edges),
            swap_sides: swap(Swap::Sides),
        })
    }

    /// An uncertainty needs a length and must be smaller than it.
    fn check_lengths(&self) -> Result<(), Failure> {
        let Some(uncertainty) = self.length_uncertainty else { return Ok(()) };
        let known = [("--length", self.length), ("--diameter", self.diameter)];
        let Some((name, length)) = known.into_iter().find_map(|(name, l)| Some((name, l?))) else {
            return Err(Failure::Usage(
                "--length-uncertainty has no effect without --length or --diameter; give one of them"
                    .to_owned(),
            ));
        };
        if length <= uncertainty {
            return Err(Failure::Usage(format!(
                "--length-uncertainty {uncertainty} is not smaller than {name} {length}; give the standard uncertainty of the tape's reading, above 0m and below {length}"
            )));
        }
        Ok(())
    }

    /// Refuses a setting at a radius where no section could be measured: all angles would be relative.
    fn check_setting(&self, table: &StationTable) -> Result<(), Failure> {
        let Some(setting) = self.setting.filter(|_| table.blade.setting.is_none()) else { return Ok(()) };
        let ratio = setting.at.ratio_or(table.blade.reference_radius_ratio);
        let root = table.blade.root_radius_m.unwrap_or(0.0) / table.blade.radius_m;
        let line = if setting_of(self.setting_of) == SettingOf::Face { "face" } else { "chord line" };
        Err(Failure::Input(format!(
            "--setting {setting}: the {line} at {ratio} R could not be measured{}, so the angle cannot be applied; the blade extends from {root:.3} R to the tip: give a radius where a station was measured",
            reason_near(table, ratio)
        )))
    }
}

/// Why the station nearest to a radius has no angle, if it lies near and says so.
fn reason_near(table: &StationTable, ratio: f64) -> String {
    /// Stations farther away than this fraction of the tip radius say nothing of the place (chosen).
    const NEAR: f64 = 0.03;
    let away = |s: &bladeform::table::Station| (s.radius_m / table.blade.radius_m - ratio).abs();
    let nearest = table.stations.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    let Some(station) = nearest.filter(|s| away(s) < NEAR && !s.flags.is_empty()) else {
        return String::new();
    };
    let flags: Vec<String> = station.flags.iter().map(|flag| flag.text()).collect();
    format!(" (station {:.3} R: {})", station.radius_m / table.blade.radius_m, flags.join("; "))
}

/// Measures, writes the files, and returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn measure_file(asked: &Measure) -> Result<Said, Failure> {
    let plan = asked.plan()?;
    let names = TABLE_FILES.into_iter().chain([PAGE]);
    // The names of the outlines are known only with the stations; the folder is known now.
    let outlines = asked.outlines.iter().map(|folder| folder.join("section.txt"));
    can_be_written(names.map(|n| asked.out.join(n)).chain(outlines), &asked.scans)?;
    let held = Held::in_folder(&asked.out);
    if !asked.overwrite {
        held.must_take(&asked.scans)?;
    }
    let given = asked.photographs.read()?;
    can_be_kept(given.as_deref().unwrap_or_default(), &asked.out, asked.overwrite)?;
    let (mut table, part) = measure_scans(asked, &plan, !asked.no_record, &ToLog)?;
    if !asked.overwrite {
        held.must_be_measured_from(&table)?;
    }
    table.record = held.record_of(&table);
    asked.tell_record(&mut table);
    let pictures = match given {
        Some(given) => {
            table.record.photographs = photographs::named(&given);
            given
        }
        None => photographs::found(&table.record.photographs, &[&asked.out]),
    };
    let [json, csv, description] = table_files(&table)?;
    stage("making the page");
    let predicted = held.prediction(&json);
    let mut outputs = Outputs::default();
    if let Some(bytes) = predicted.renewed()? {
        outputs.add(asked.out.join(PREDICTION_JSON), bytes);
    }
    let page = page_of_measured(&json, (part.as_ref(), &pictures), predicted, asked.units.shown());
    stage("writing");
    outputs.add(asked.out.join(TABLE_FILES[0]), json);
    outputs.add(asked.out.join(TABLE_FILES[1]), csv);
    outputs.add(asked.out.join(TABLE_FILES[2]), description);
    page.add_to(&mut outputs, &asked.out);
    photographs::add_to(&pictures, &asked.out, &mut outputs);
    let mut files = add_blades(&table, &asked.out, &mut outputs)?;
    if let Some(folder) = &asked.outlines {
        files.push_str(&add_outlines(&table, folder, &mut outputs));
    }
    outputs.write()?;
    let (told, aside): (Vec<&Notice>, Vec<&Notice>) =
        table.warnings.iter().partition(|w| w.harm() != Harm::Aside);
    aside.iter().for_each(|w| log::debug!(target: CHOSEN, "{}", w.text()));
    tell_details(&table);
    let mut warnings: Vec<String> = told.into_iter().map(line).collect();
    let flagged = table.stations.iter().filter(|s| !s.flags.is_empty()).count();
    if 0 < flagged {
        warnings.push(format!(
            "{flagged} of {} stations have flags; stations.json lists them",
            table.stations.len()
        ));
    }
    warnings.extend(page.warnings.iter().cloned());
    let units = asked.units.shown();
    Ok(Said { text: render_in(&table, units, &advice) + &page.text(units) + &fitted(&files), warnings })
}

impl Measure {
    /// The table of the scans that were named, for a caller that writes no files.
    ///
    /// # Errors
    /// As [`measure_file`].
    pub(crate) fn table(&self, observer: &dyn Observer) -> Result<StationTable, Failure> {
        let mut table = measure_scans(self, &self.plan()?, false, observer)?.0;
        self.tell_record(&mut table);
        Ok(table)
    }

    /// Puts what was said of the part into the record of its table.
    fn tell_record(&self, table: &mut StationTable) {
        self.about.add_to(&mut table.record);
        // Millimetres are shown where nothing is stated.
        let units = self.units.stated().or(table.record.units);
        table.record.units = units.filter(|units| *units != UnitFamily::Millimetre);
    }

    /// The table of a mesh in memory in place of the scan that was named; its name is that of the scan.
    ///
    /// # Errors
    /// As [`measure_file`].
    pub(crate) fn table_of_mesh(
        &self,
        mesh: &RawMesh,
        observer: &dyn Observer,
    ) -> Result<StationTable, Failure> {
        let plan = self.plan()?;
        let name = self.scans.first().map_or_else(String::new, |scan| scan.display().to_string());
        let mut table = measure(ScanInput::mesh(mesh, &name), &plan, observer)
            .map_err(|e| Failure::of(e.code(), e.to_string()))?;
        self.check_setting(&table)?;
        self.tell_record(&mut table);
        Ok(table)
    }
}

/// The table of one scan, or the mean table of several scans of one blade; and the part of the first scan for the page.
fn measure_scans(
    asked: &Measure,
    plan: &MeasurePlan,
    is_shown: bool,
    observer: &dyn Observer,
) -> Result<(StationTable, Option<ScanPart>), Failure> {
    let (mut tables, mut page): (Vec<StationTable>, _) = (Vec::new(), None);
    for scan in &asked.scans {
        let plan = tables.first().map_or_else(|| plan.clone(), |first| plan.at_stations_of(first));
        let (table, part) = measure_scan(scan, &plan, tables.is_empty() && is_shown, observer)?;
        asked.check_setting(&table)?;
        tell_choices(&table);
        page = page.or(part);
        tables.push(table);
    }
    match tables.len() {
        1 => Ok((tables.remove(0), page)),
        _ => {
            let mean = mean_of_repeats(&tables);
            Ok((mean.map_err(|e| Failure::of(e.code(), e.to_string()))?, page))
        }
    }
}

fn measure_scan(
    scan: &Path,
    plan: &MeasurePlan,
    wanted: bool,
    observer: &dyn Observer,
) -> Result<(StationTable, Option<ScanPart>), Failure> {
    stage("reading the file");
    let bytes = bytes_of(scan, "a scan: a PLY, STL, OBJ or GLB file")?;
    let file = scan.file_name().map_or_else(String::new, |f| f.to_string_lossy().into_owned());
    with_part(bytes.into(), &file, plan, wanted, observer)
        .map_err(|e| Failure::of(e.code(), format!("{}: {e}", scan.display())))
}

/// The table, and the part for its page if `wanted`, which is prepared while the stations are measured.
pub(crate) fn with_part(
    bytes: Cow<'_, [u8]>,
    file: &str,
    plan: &MeasurePlan,
    wanted: bool,
    observer: &dyn Observer,
) -> Result<(StationTable, Option<ScanPart>), MeasureError> {
    let (table, part) = parallel::with_aside(|aside| {
        let made_ready = |part: &CleanMesh| {
            if wanted {
                let part = part.clone();
                aside.start(move || ScanPart::of(part));
            }
        };
        measure_with_part(ScanInput::file(bytes, file), plan, observer, made_ready)
    });
    Ok((table?.0, part))
}

/// What `--verbose` prints in addition to the head of the table.
pub(crate) fn tell_choices(table: &StationTable) {
    if let Some(source) = &table.source {
        log::debug!(
            target: CHOSEN,
            "{}: {}, {} vertices, {} triangles, SHA-256 {}",
            source.file,
            source.format,
            source.vertices.unwrap_or(0),
            source.triangles.unwrap_or(0),
            source.sha256
        );
    }
    if let Some(scale) = &table.scale {
        log::debug!(target: CHOSEN, "scale: {}", scale.basis);
    }
    if let Some(frame) = &table.frame {
        log::debug!(target: CHOSEN, "axes: {}", frame.method);
        log::debug!(target: CHOSEN, "hand: {}, {}", frame.hand, frame.how_hand_is_known().shown());
    }
    log::debug!(target: CHOSEN, "threads: {}", parallel::threads());
}

/// What `--verbose` prints of the details that terminal and page leave out.
fn tell_details(table: &StationTable) {
    for (code, text) in table.warnings.iter().map(|w| (w.code().to_owned(), w.text())) {
        if let Some(details) = details_of(&text) {
            log::debug!(target: CHOSEN, "{code}: {details}");
        }
    }
    for (station, flag) in table.stations.iter().flat_map(|s| s.flags.iter().map(move |flag| (s, flag))) {
        if let Some(details) = details_of(&flag.text()) {
            log::debug!(target: CHOSEN, "{:.3} R: {}: {details}", station.radius_ratio, flag.code());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform::table::{Flag, Station};

    #[test]
    fn a_setting_at_a_refused_station_says_the_stations_own_reason() {
        let station = |radius_m: f64, reason: &str| Station {
            radius_m,
            flags: vec![Flag::Refused { reason: reason.to_owned() }],
            ..Station::default()
        };
        let mut table = StationTable::default();
        table.blade.radius_m = 2.0;
        table.stations = vec![station(1.0, "the cut is open"), station(1.5, "two loops are equally large")];
        let told = reason_near(&table, 0.74);
        assert!(told.contains("station 0.750 R: ") && told.contains("two loops are equally large"), "{told}");
        assert_eq!(reason_near(&table, 0.6), "");
        table.stations[1].flags.clear();
        assert_eq!(reason_near(&table, 0.75), "");
    }
}
