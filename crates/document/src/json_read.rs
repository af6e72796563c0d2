//! Reading `stations.json`.

use crate::locate::{locate, place_of};
use crate::object::{Fault, Object, number_at, shortened};
use crate::readings::read_readings;
use crate::{DocumentError, Place};
use bladeform_quantity::{Hand, Measured, UnitFamily};
use bladeform_table::{
    Agreement, AxisBy, BladeDifference, BladeDifferenceUncertainty, BladeFigures, BladeRows,
    BladeUncertainty, BladeVolume, BoltFigures, DEFAULT_REFERENCE_RADIUS_RATIO, Departures, Flag, Frame,
    HandBasis, HubFigures, KnownLength, KnownLengthOf, NearSection, PartDeparture, PartRecord, Photograph,
    RecordText, Repairs, RepeatedQuantity, Repeats, RootSection, RotatingVolume, Rotation, SCHEMA, Scale,
    SectionOutline, SectionPart, SectionSurface, Setting, SettingOf, SmoothFigures, Source, Station,
    StationColumn, StationScatter, StationTable, Step, UncertaintyBudget, UncertaintySource, VolumeSource,
};
use serde_json::Value;
use std::collections::BTreeMap;

/// Reads a station table from the bytes of its JSON file.
///
/// A table written by hand needs only `blade.radius_m` and, per station, `radius_m`, `chord_m`, `blade_angle_deg` and
/// either `outline` or `thickness_ratio` with `camber_ratio`. A figure that has no meaning is `null`. Keys that this
/// version does not know are kept in `extra`. A byte order mark at the beginning is ignored.
///
/// # Errors
/// [`DocumentError`] with the line, the column and the path of the key: for text that is not JSON, another schema, a value
/// of the wrong kind, a required key that is missing, radii that do not increase, or figures that are not allowed.
///
/// ```
/// let text = r#"{
///   "blade": {"radius_m": 1.0},
///   "stations": [
///     {"radius_m": 0.5, "chord_m": 0.15, "blade_angle_deg": 31.0, "thickness_ratio": 0.12, "camber_ratio": 0.04},
///     {"radius_m": 0.4, "chord_m": 0.14, "blade_angle_deg": 35.0, "thickness_ratio": 0.15, "camber_ratio": 0.04}
///   ]
/// }"#;
/// let message = bladeform_document::read_json(text.as_bytes()).unwrap_err().to_string();
/// assert_eq!(
///     message,
///     "line 5, column 18: stations[1].radius_m is 0.4 after 0.5; radii must increase from station to station"
/// );
/// ```
pub fn read_json(bytes: &[u8]) -> Result<StationTable, DocumentError> {
    let text = text_of(bytes)?;
    let value: Value = serde_json::from_str(text).map_err(|error| syntax(text, &error))?;
    let mut root = Object::new(value, Vec::new()).map_err(|fault| fault.in_text(text))?;
    check_schema(&mut root, text)?;
    let table = table(root).map_err(|fault| fault.in_text(text))?;
    table.check().map_err(|fault| Fault::from(fault).in_text(text))?;
    Ok(table)
}

/// The bytes as text without a byte order mark.
pub(crate) fn text_of(bytes: &[u8]) -> Result<&str, DocumentError> {
    let text =
        std::str::from_utf8(bytes).map_err(|error| DocumentError::NotText { byte: error.valid_up_to() })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

pub(crate) fn syntax(text: &str, error: &serde_json::Error) -> DocumentError {
    let sentence = error.to_string();
    // The position given by the JSON reader is removed, because it is already at the beginning of the sentence.
    let problem = sentence.split(" at line ").next().unwrap_or_default().to_owned();
    let place = match error.line() {
        0 => place_of(text, 0),
        line => Place { line: Some(line), column: Some(error.column().max(1)) },
    };
    DocumentError::Syntax { place, problem }
}

/// A table written by hand may have no schema. Any schema other than ours means another kind of file.
fn check_schema(root: &mut Object, text: &str) -> Result<(), DocumentError> {
    match root.take("schema") {
        None => Ok(()),
        Some(Value::String(schema)) if schema == SCHEMA => Ok(()),
        Some(other) => {
            let found = shortened(other.as_str().unwrap_or(&other.to_string()));
            Err(DocumentError::Schema { place: locate(text, &[Step::Key("schema".to_owned())]), found })
        }
    }
}

fn table(mut root: Object) -> Result<StationTable, Fault> {
    let record = root.object("record")?.map(part_record).transpose()?.unwrap_or_default();
    let source = root.object("source")?.map(source).transpose()?;
    let scale = root.object("scale")?.map(scale).transpose()?;
    let frame = root.object("frame")?.map(frame).transpose()?;
    let blade = match root.object("blade")? {
        Some(object) => blade(object)?,
        None => return Err(root.fault("blade", "is missing; at least blade.radius_m is needed")),
    };
    let repairs = root.object("repairs")?.map(repairs).transpose()?;
    let stations = stations(&mut root, blade.radius_m)?;
    let root_sections = objects(&mut root, "root_sections", root_section)?;
    let hub = root.object("hub")?.map(hub_figures).transpose()?;
    let blades = objects(&mut root, "blades", |object| blade_rows(object, blade.radius_m))?;
    let blade_differences = objects(&mut root, "blade_differences", blade_difference)?;
    let rotation = root.object("rotation")?.map(rotation).transpose()?;
    let repeats = root.object("repeats")?.map(repeats).transpose()?;
    let readings = root.object("readings")?.map(read_readings).transpose()?;
    let warnings = root.notices("warnings")?;
    let extra = root.rest();
    Ok(StationTable {
        record,
        source,
        scale,
        frame,
        blade,
        repairs,
        stations,
        root_sections,
        hub,
        blades,
        rotation,
        blade_differences,
        repeats,
        readings,
        warnings,
        extra,
    })
}

fn root_section(mut object: Object) -> Result<RootSection, Fault> {
    Ok(RootSection {
        radius_m: object.needed_number("radius_m")?,
        closed: object.truth("closed")?,
        outline: match object.object("outline")? {
            Some(found) => outline(found)?,
            None => return Err(object.fault("outline", "is missing; a section of the root needs one")),
        },
        extra: object.rest(),
    })
}

fn hub_figures(mut object: Object) -> Result<HubFigures, Fault> {
    let mut figure = |key: &str| -> Result<Option<Measured>, Fault> {
        let (value, u) = (object.number(key)?, object.number(&format!("u_{key}"))?);
        if value.is_some_and(|v| v <= 0.0) || u.is_some_and(|u| u < 0.0) {
            return Err(object.fault(key, "must be greater than zero, and its uncertainty not below zero"));
        }
        Ok(value.map(|value| Measured::new(value, u.unwrap_or(0.0))))
    };
    let [diameter_m, length_m, bore_diameter_m] =
        [figure("diameter_m")?, figure("length_m")?, figure("bore_diameter_m")?];
    let bolts = object.object("bolts")?.map(bolt_figures).transpose()?;
    Ok(HubFigures { diameter_m, length_m, bore_diameter_m, bolts, extra: object.rest() })
}

/// Fewest and most holes of a circle of bolts that a table may state: as many as a solid may have.
const BOLTS: std::ops::RangeInclusive<u64> = 2..=36;

fn bolt_figures(mut object: Object) -> Result<BoltFigures, Fault> {
    let mut figure = |key: &str| -> Result<Measured, Fault> {
        let (value, u) = (object.needed_number(key)?, object.number(&format!("u_{key}"))?.unwrap_or(0.0));
        if u < 0.0 || key != "first_deg" && value <= 0.0 {
            return Err(object.fault(key, "must be greater than zero, and its uncertainty not below zero"));
        }
        Ok(Measured::new(value, u))
    };
    let [hole_diameter_m, circle_diameter_m, first_deg] =
        [figure("hole_diameter_m")?, figure("circle_diameter_m")?, figure("first_deg")?];
    let [count, seen, closed] = ["count", "seen", "closed"].map(|key| object.count(key));
    let count = match count? {
        Some(count) if BOLTS.contains(&count) => count,
        _ => return Err(object.fault("count", "must be a number of holes from 2 to 36")),
    };
    let (seen, closed) = (seen?.unwrap_or(count), closed?.unwrap_or(0));
    if count < seen.saturating_add(closed) {
        return Err(object.fault("seen", "must not be more than `count`, together with `closed`"));
    }
    let extra = object.rest();
    Ok(BoltFigures { count, seen, closed, hole_diameter_m, circle_diameter_m, first_deg, extra })
}

fn repeats(mut object: Object) -> Result<Repeats, Fault> {
    Ok(Repeats {
        scans: objects(&mut object, "scans", source)?,
        quantities: objects(&mut object, "quantities", repeated_quantity)?,
        extra: object.rest(),
    })
}

fn repeated_quantity(mut object: Object) -> Result<RepeatedQuantity, Fault> {
    let key = object.text("quantity")?;
    let column = StationColumn::of_key(&key).ok_or_else(|| {
        object.fault("quantity", format!("is `{}`, which is no figure of a station", shortened(&key)))
    })?;
    let word = object.text("verdict")?;
    let agreement = Agreement::ALL.into_iter().find(|a| a.key() == word).ok_or_else(|| {
        let words = Agreement::ALL.map(Agreement::key).join(", ");
        object.fault("verdict", format!("is `{}`; write one of {words}", shortened(&word)))
    })?;
    Ok(RepeatedQuantity {
        column,
        scatter: object.number("scatter")?,
        stated: object.number("stated")?,
        ratio: object.number("ratio")?,
        limit: object.number("limit")?,
        degrees_of_freedom: object.number("degrees_of_freedom")?,
        agreement,
        extra: object.rest(),
    })
}

/// The objects of an array.
fn objects<T>(
    parent: &mut Object,
    key: &str,
    read: impl Fn(Object) -> Result<T, Fault>,
) -> Result<Vec<T>, Fault> {
    parent.items(key)?.into_iter().map(|(value, path)| read(Object::new(value, path)?)).collect()
}

fn part_record(mut object: Object) -> Result<PartRecord, Fault> {
    let mut record = PartRecord::default();
    for text in RecordText::ALL {
        record.set(text, &object.text(text.key())?);
    }
    record.density_kg_m3 = object.number("density_kg_m3")?;
    if record.density_kg_m3.is_some_and(|d| d <= 0.0) {
        return Err(object.fault("density_kg_m3", "is not above 0; a density in kg/m3 is needed here"));
    }
    record.units = match object.text("units")?.as_str() {
        "" => None,
        word => {
            Some(UnitFamily::read(word).ok_or_else(|| object.fault("units", "is neither `mm` nor `in`"))?)
        }
    };
    record.photographs = objects(&mut object, "photographs", photograph)?;
    record.extra = object.rest();
    Ok(record)
}

fn photograph(mut object: Object) -> Result<Photograph, Fault> {
    Ok(Photograph {
        file: object.text("file")?,
        sha256: object.text("sha256")?,
        caption: object.text("caption")?,
        extra: object.rest(),
    })
}

fn source(mut object: Object) -> Result<Source, Fault> {
    Ok(Source {
        file: object.text("file")?,
        sha256: object.text("sha256")?,
        format: object.text("format")?,
        vertices: object.count("vertices")?,
        triangles: object.count("triangles")?,
        resolution_m: object.number("resolution_m")?,
        resolution_uncertainty_m: object.number("resolution_uncertainty_m")?,
        extra: object.rest(),
    })
}

fn scale(mut object: Object) -> Result<Scale, Fault> {
    Ok(Scale {
        metres_per_unit: object.number("metres_per_unit")?,
        basis: object.text("basis")?,
        relative_uncertainty: object.number("relative_uncertainty")?,
        known_lengths: objects(&mut object, "known_lengths", known_length)?,
        chi_square: object.number("chi_square")?,
        degrees_of_freedom: object.count("degrees_of_freedom")?,
        birge_ratio: object.number("birge_ratio")?,
        extra: object.rest(),
    })
}

fn known_length(mut object: Object) -> Result<KnownLength, Fault> {
    let word = object.text("of")?;
    let of = KnownLengthOf::ALL.into_iter().find(|of| of.key() == word).ok_or_else(|| {
        let words = KnownLengthOf::ALL.map(KnownLengthOf::key).join(", ");
        object.fault("of", format!("is `{}`; write one of {words}", shortened(&word)))
    })?;
    let mut point = |key: &str| -> Result<Option<[f64; 3]>, Fault> {
        match object.numbers(key)?[..] {
            [] => Ok(None),
            [x, y, z] => Ok(Some([x, y, z])),
            _ => Err(object.fault(key, "is not three coordinates")),
        }
    };
    let (from, to) = (point("from")?, point("to")?);
    let stated_m = object.needed_number("stated_m")?;
    let by_scale_m = object.needed_number("by_scale_m")?;
    Ok(KnownLength {
        of,
        between: from.zip(to).map(|(a, b)| [a, b]),
        stated_m,
        u_m: object.needed_number("u_m")?,
        u_is_assumed: object.truth("u_is_assumed")?,
        by_scale_m,
        difference_m: object.number("difference_m")?.unwrap_or(stated_m - by_scale_m),
        extra: object.rest(),
    })
}

pub(crate) fn frame(mut object: Object) -> Result<Frame, Fault> {
    let hand = match object.text("hand")?.as_str() {
        "" => Hand::default(),
        word => Hand::parse(word)
            .map_err(|_| object.fault("hand", format!("is `{}`; write right or left", shortened(word))))?,
    };
    let hand_basis = match object.text("hand_basis")?.as_str() {
        "" => None,
        word => Some(HandBasis::parse(word).ok_or_else(|| {
            object.fault("hand_basis", format!("is `{}`; write given, certain or assumed", shortened(word)))
        })?),
    };
    let sections = match object.text("sections")?.as_str() {
        "" => SectionSurface::default(),
        word => SectionSurface::parse(word).ok_or_else(|| {
            object.fault("sections", format!("is `{}`; write plane or cylinder", shortened(word)))
        })?,
    };
    Ok(Frame {
        scan_to_blade: scan_to_blade(&mut object)?,
        method: object.text("method")?,
        hand,
        hand_certain: object.truth("hand_certain")?,
        hand_basis,
        sections,
        extra: object.rest(),
    })
}

fn scan_to_blade(object: &mut Object) -> Result<Option<[[f64; 4]; 4]>, Fault> {
    const KEY: &str = "scan_to_blade";
    let rows = object.items(KEY)?;
    if rows.is_empty() {
        return Ok(None);
    }
    let wrong = |object: &Object| object.fault(KEY, "is not 4 rows of 4 numbers");
    let mut matrix = Vec::with_capacity(4);
    for (row, path) in rows {
        let Value::Array(row) = row else { return Err(wrong(object)) };
        let numbers = row.iter().map(|v| number_at(v, path.clone())).collect::<Result<Vec<_>, _>>()?;
        matrix.push(<[f64; 4]>::try_from(numbers).map_err(|_| wrong(object))?);
    }
    <[[f64; 4]; 4]>::try_from(matrix).map(Some).map_err(|_| wrong(object))
}

pub(crate) fn blade(mut object: Object) -> Result<BladeFigures, Fault> {
    let radius_m = object.needed_number("radius_m")?;
    let reference = object.number("reference_radius_ratio")?.unwrap_or(DEFAULT_REFERENCE_RADIUS_RATIO);
    Ok(BladeFigures {
        radius_m,
        root_radius_m: object.number("root_radius_m")?,
        blade_length_m: object.number("blade_length_m")?,
        blades_in_scan: object.count("blades_in_scan")?,
        activity_factor: object.number("activity_factor")?,
        volume_m3: object.number("volume_m3")?,
        reference_radius_ratio: reference,
        setting: object.object("setting")?.map(|setting| self::setting(setting, reference)).transpose()?,
        u: object.object("u")?.map_or_else(|| Ok(BladeUncertainty::default()), blade_uncertainty)?,
        extra: object.rest(),
    })
}

fn blade_uncertainty(mut object: Object) -> Result<BladeUncertainty, Fault> {
    Ok(BladeUncertainty {
        radius_m: object.number("radius_m")?,
        root_radius_m: object.number("root_radius_m")?,
        blade_length_m: object.number("blade_length_m")?,
        activity_factor: object.number("activity_factor")?,
        volume_m3: object.number("volume_m3")?,
        extra: object.rest(),
    })
}

fn setting(mut object: Object, reference: f64) -> Result<Setting, Fault> {
    let word = object.text("of")?;
    let of = match word.as_str() {
        "" => SettingOf::default(),
        word => SettingOf::parse(word)
            .ok_or_else(|| object.fault("of", format!("is `{}`; write chord or face", shortened(word))))?,
    };
    Ok(Setting {
        angle_deg: object.needed_number("angle_deg")?,
        radius_ratio: object.number("radius_ratio")?.unwrap_or(reference),
        of,
        extra: object.rest(),
    })
}

fn repairs(mut object: Object) -> Result<Repairs, Fault> {
    let mut count = |key| object.count(key).map(Option::unwrap_or_default);
    Ok(Repairs {
        duplicate_vertices: count("duplicate_vertices")?,
        degenerate_triangles: count("degenerate_triangles")?,
        stray_components: count("stray_components")?,
        flipped_triangles: count("flipped_triangles")?,
        non_finite_vertices: count("non_finite_vertices")?,
        extra: object.rest(),
    })
}

fn blade_rows(mut object: Object, blade_radius_m: f64) -> Result<BladeRows, Fault> {
    Ok(BladeRows {
        index: object.count("index")?.unwrap_or_default(),
        azimuth_deg: object.number("azimuth_deg")?,
        tip_radius_m: object.number("tip_radius_m")?,
        u_tip_radius_m: not_negative(&mut object, "u_tip_radius_m")?,
        stations: stations(&mut object, blade_radius_m)?,
        extra: object.rest(),
    })
}

fn rotation(mut object: Object) -> Result<Rotation, Fault> {
    let word = object.text("axis_by")?;
    let axis_by = AxisBy::of_key(&word).ok_or_else(|| {
        object.fault("axis_by", format!("is `{}`; write hub-wall or symmetry", shortened(&word)))
    })?;
    let mut raised_to_scatter = BTreeMap::new();
    if let Some(mut raised) = object.object("raised_to_scatter")? {
        for column in StationColumn::all() {
            let key = column.key();
            match raised.number(key)? {
                Some(by) if by < 1.0 => {
                    return Err(raised.fault(key, format!("is {by}; nothing is raised by less than 1")));
                }
                Some(by) => drop(raised_to_scatter.insert(column, by)),
                None => {}
            }
        }
    }
    Ok(Rotation {
        axis_by,
        raised_to_scatter,
        volume: object.object("volume")?.map(rotating_volume).transpose()?,
        u_axis_tilt_deg: not_negative(&mut object, "u_axis_tilt_deg")?,
        u_axis_place_m: not_negative(&mut object, "u_axis_place_m")?,
        extra: object.rest(),
    })
}

fn rotating_volume(mut object: Object) -> Result<RotatingVolume, Fault> {
    let mut u_from = Vec::new();
    if let Some(mut u) = object.object("u_from")? {
        for source in VolumeSource::ALL.into_iter().filter(|s| u.has(s.key())).collect::<Vec<_>>() {
            u_from.push((source, pair(&mut u, source.key())?));
        }
    }
    let of_blade = |mut object: Object| {
        Ok(BladeVolume {
            volume_m3: object.needed_number("volume_m3")?,
            first_moment_m4: object.needed_number("first_moment_m4")?,
            u_first_moment_m4: not_negative(&mut object, "u_first_moment_m4")?.unwrap_or_default(),
        })
    };
    Ok(RotatingVolume {
        volume_m3: object.needed_number("volume_m3")?,
        first_moment_m4: pair(&mut object, "first_moment_m4")?,
        u_from,
        closed_ratio: object.number("closed_ratio")?.unwrap_or_default(),
        bodies: object.count("bodies")?.unwrap_or(1),
        blades: objects(&mut object, "blades", of_blade)?,
        extra: object.rest(),
    })
}

/// Two numbers in a list.
fn pair(object: &mut Object, key: &str) -> Result<[f64; 2], Fault> {
    let items = object.items(key)?;
    let numbers = items.iter().map(|(v, path)| number_at(v, path.clone())).collect::<Result<Vec<_>, _>>()?;
    <[f64; 2]>::try_from(numbers).map_err(|_| object.fault(key, "is not a list of 2 numbers"))
}

/// A standard uncertainty.
fn not_negative(object: &mut Object, key: &str) -> Result<Option<f64>, Fault> {
    match object.number(key)? {
        Some(u) if u < 0.0 => Err(object.fault(key, format!("is {u}; an uncertainty is not negative"))),
        u => Ok(u),
    }
}

fn blade_difference(mut object: Object) -> Result<BladeDifference, Fault> {
    let u = match object.object("u")? {
        None => BladeDifferenceUncertainty::default(),
        Some(mut u) => BladeDifferenceUncertainty {
            mean_blade_angle_difference_deg: u.number("mean_blade_angle_difference_deg")?,
            mean_chord_difference_m: u.number("mean_chord_difference_m")?,
            track_m: u.number("track_m")?,
            extra: u.rest(),
        },
    };
    Ok(BladeDifference {
        index: object.count("index")?.unwrap_or_default(),
        mean_blade_angle_difference_deg: object.number("mean_blade_angle_difference_deg")?,
        mean_chord_difference_m: object.number("mean_chord_difference_m")?,
        track_m: object.number("track_m")?,
        u,
        extra: object.rest(),
    })
}

fn stations(parent: &mut Object, blade_radius_m: f64) -> Result<Vec<Station>, Fault> {
    objects(parent, "stations", |object| station(object, blade_radius_m))
}

fn station(mut object: Object, blade_radius_m: f64) -> Result<Station, Fault> {
    check_keys(&object)?;
    let mut station = Station::at(object.needed_number("radius_m")?, blade_radius_m);
    for column in StationColumn::all().filter(|column| *column != StationColumn::RadiusM) {
        let figure = match column {
            StationColumn::Points => object.count(column.key())?.map(|count| count as f64),
            _ => object.number(column.key())?,
        };
        column.set(&mut station, figure);
    }
    if let Some(mut u) = object.object("u")? {
        for column in StationColumn::FIGURES {
            column.set_u(&mut station, u.number(column.key())?);
        }
        station.u.extra = u.rest();
    }
    if let Some(budget) = object.object("u_from")? {
        station.budget = read_budget(budget)?;
    }
    if let Some(scatter) = object.object("scatter")? {
        station.scatter = read_scatter(scatter)?;
    }
    if let Some(departures) = object.object("departures")? {
        station.departures = read_departures(departures)?;
    }
    if let Some(smooth) = object.object("smooth")? {
        station.smooth = read_smooth(smooth)?;
    }
    station.near_sections = objects(&mut object, "near_sections", near_section)?;
    station.flags = object.texts("flags")?.iter().map(|text| Flag::read(text)).collect();
    station.outline = object.object("outline")?.map(outline).transpose()?;
    station.extra = object.rest();
    Ok(station)
}

fn read_smooth(mut object: Object) -> Result<SmoothFigures, Fault> {
    let mut found = SmoothFigures::default();
    let mut u = object.object("u")?;
    for column in StationColumn::FIGURES {
        if let Some(value) = object.number(column.key())? {
            let u = u.as_mut().map_or(Ok(None), |u| u.number(column.key()))?;
            found.figures.insert(*column, Measured::new(value, u.unwrap_or(0.0)));
        }
    }
    found.outline = object.object("outline")?.map(outline).transpose()?;
    found.extra = object.rest();
    Ok(found)
}

fn read_scatter(mut object: Object) -> Result<StationScatter, Fault> {
    let mut found = StationScatter::default();
    for column in StationColumn::FIGURES {
        if let Some(scatter) = object.number(column.key())? {
            found.set(*column, scatter);
        }
    }
    found.extra = object.rest();
    Ok(found)
}

fn read_departures(mut object: Object) -> Result<Departures, Fault> {
    let mut found = Departures::default();
    for part in SectionPart::ALL {
        if let Some(mut d) = object.object(part.key())? {
            let departure = PartDeparture {
                rms_m: d.number("rms_m")?,
                largest_m: d.number("largest_m")?,
                position: d.number("position")?,
                extra: d.rest(),
            };
            found.parts.insert(part, departure);
        }
    }
    found.extra = object.rest();
    Ok(found)
}

fn near_section(mut object: Object) -> Result<NearSection, Fault> {
    Ok(NearSection {
        section: object.text("section")?,
        rms_m: object.number("rms_m")?,
        within_noise: if object.has("within_noise") { Some(object.truth("within_noise")?) } else { None },
        extra: object.rest(),
    })
}

/// The parts of the uncertainties.
fn read_budget(mut object: Object) -> Result<UncertaintyBudget, Fault> {
    let mut budget = UncertaintyBudget::default();
    for column in StationColumn::FIGURES {
        let Some(mut parts) = object.object(column.key())? else { continue };
        for source in UncertaintySource::ALL {
            if let Some(u) = parts.number(source.key())? {
                budget.set(*column, source, u);
            }
        }
        let unknown = parts.rest();
        if !unknown.is_empty() {
            budget.unknown.insert(*column, unknown);
        }
    }
    budget.extra = object.rest();
    Ok(budget)
}

/// The keys that a station must have, with the value `null` for a figure without meaning.
fn check_keys(object: &Object) -> Result<(), Fault> {
    const NEEDED: [&str; 3] = ["radius_m", "chord_m", "blade_angle_deg"];
    const RULE: &str = "is missing; a station needs radius_m, chord_m, blade_angle_deg, and either outline or \
        thickness_ratio with camber_ratio (null for a figure that has no meaning)";
    if let Some(key) = NEEDED.into_iter().find(|key| !object.has(key)) {
        return Err(object.fault(key, RULE));
    }
    let has_ratios = object.has("thickness_ratio") && object.has("camber_ratio");
    if has_ratios || object.has("outline") { Ok(()) } else { Err(object.fault("outline", RULE)) }
}

fn outline(mut object: Object) -> Result<SectionOutline, Fault> {
    Ok(SectionOutline { x: object.numbers("x")?, y: object.numbers("y")?, extra: object.rest() })
}
