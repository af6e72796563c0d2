//! Writing `stations.json`.

use crate::DocumentError;
use crate::number::{figure_value, map_value, outline_value};
use crate::readings::readings_value;
use bladeform_quantity::Measured;
use bladeform_table::{
    BladeDifference, BladeDifferenceUncertainty, BladeFigures, BladeRows, BladeUncertainty, BladeVolume,
    BoltFigures, ColumnUnit, Departures, Flag, Frame, HubFigures, KnownLength, NearSection, Notice,
    PartDeparture, PartRecord, Photograph, RecordText, Repairs, RepeatedQuantity, Repeats, RootSection,
    RotatingVolume, Rotation, SCHEMA, Scale, SectionOutline, SectionSurface, Setting, SmoothFigures, Source,
    Station, StationColumn, StationScatter, StationTable, UncertaintyBudget,
};
use serde_json::{Map, Value};
use std::io::Write;

/// Writes a station table as JSON: keys in the order of the documentation, arrays of numbers on one line.
///
/// Figures are written with ten significant digits and coordinates of outlines to 1e-8 m, so that a sum taken in
/// another order gives the same bytes. A number that is not finite is written as `null`. The keys in `extra` are written
/// after the known keys, as they were read. A table that is read and written gives the same bytes.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_json(table: &StationTable, mut out: impl Write) -> Result<(), DocumentError> {
    let mut text = String::new();
    print(&table_value(table), 0, &mut text);
    text.push('\n');
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// An object under construction. Its keys are in the order of the calls.
#[derive(Default)]
pub(super) struct Made(Map<String, Value>);

impl Made {
    pub(super) fn with(mut self, key: &str, value: impl Into<Value>) -> Made {
        self.0.insert(key.to_owned(), value.into());
        self
    }

    pub(super) fn with_some(self, key: &str, value: Option<Value>) -> Made {
        match value {
            Some(value) => self.with(key, value),
            None => self,
        }
    }

    pub(super) fn figure(self, key: &str, value: Option<f64>) -> Made {
        self.with(key, figure_value(value))
    }

    pub(super) fn text(self, key: &str, text: &str) -> Made {
        self.with(key, if text.is_empty() { Value::Null } else { Value::from(text) })
    }

    /// The object with the unknown keys at its end. They never replace a known key.
    pub(super) fn done(mut self, extra: &Map<String, Value>) -> Value {
        for (key, value) in extra {
            self.0.entry(key.as_str()).or_insert_with(|| value.clone());
        }
        Value::Object(self.0)
    }
}

/// Notices as texts.
pub(super) fn texts_value(notices: &[Notice]) -> Value {
    Value::Array(notices.iter().map(|notice| Value::from(notice.text())).collect())
}

fn table_value(table: &StationTable) -> Value {
    let list = |values: Vec<Value>| (!values.is_empty()).then_some(Value::Array(values));
    Made::default()
        .with("schema", SCHEMA)
        .with_some("record", (!table.record.is_empty()).then(|| record_value(&table.record)))
        .with_some("source", table.source.as_ref().map(source_value))
        .with_some("scale", table.scale.as_ref().map(scale_value))
        .with_some("frame", table.frame.as_ref().map(frame_value))
        .with("blade", blade_value(&table.blade))
        .with_some("repairs", table.repairs.as_ref().map(repairs_value))
        .with("stations", stations_value(&table.stations))
        .with_some("root_sections", list(table.root_sections.iter().map(root_section_value).collect()))
        .with_some("hub", table.hub.as_ref().map(hub_value))
        .with_some("blades", list(table.blades.iter().map(rows_value).collect()))
        .with_some("rotation", table.rotation.as_ref().map(rotation_value))
        .with_some("blade_differences", list(table.blade_differences.iter().map(difference_value).collect()))
        .with_some("repeats", table.repeats.as_ref().map(repeats_value))
        .with_some("readings", table.readings.as_ref().map(readings_value))
        .with("warnings", texts_value(&table.warnings))
        .done(&table.extra)
}

fn record_value(record: &PartRecord) -> Value {
    let text = |made: Made, text: RecordText| made.with_some(text.key(), record.get(text).map(Value::from));
    RecordText::ALL
        .into_iter()
        .fold(Made::default(), text)
        .with_some("density_kg_m3", record.density_kg_m3.map(Value::from))
        .with_some("units", record.units.map(|u| Value::from(u.key())))
        .with_some("photographs", photographs_value(&record.photographs))
        .done(&record.extra)
}

fn photographs_value(photographs: &[Photograph]) -> Option<Value> {
    let one = |p: &Photograph| {
        Made::default()
            .text("file", &p.file)
            .text("sha256", &p.sha256)
            .text("caption", &p.caption)
            .done(&p.extra)
    };
    (!photographs.is_empty()).then(|| photographs.iter().map(one).collect())
}

fn root_section_value(section: &RootSection) -> Value {
    Made::default()
        .figure("radius_m", Some(section.radius_m))
        .with("closed", section.closed)
        .with("outline", outline_value_of(&section.outline))
        .done(&section.extra)
}

fn hub_value(hub: &HubFigures) -> Value {
    let figures = [
        ("diameter_m", hub.diameter_m),
        ("length_m", hub.length_m),
        ("bore_diameter_m", hub.bore_diameter_m),
    ];
    let pair = |made: Made, (key, m): (&str, Option<Measured>)| {
        made.figure(key, m.map(|m| m.value)).figure(&format!("u_{key}"), m.map(|m| m.u))
    };
    figures
        .into_iter()
        .fold(Made::default(), pair)
        .with_some("bolts", hub.bolts.as_ref().map(bolts_value))
        .done(&hub.extra)
}

fn bolts_value(bolts: &BoltFigures) -> Value {
    let figures = [
        ("hole_diameter_m", bolts.hole_diameter_m),
        ("circle_diameter_m", bolts.circle_diameter_m),
        ("first_deg", bolts.first_deg),
    ];
    let counts =
        Made::default().with("count", bolts.count).with("seen", bolts.seen).with("closed", bolts.closed);
    let pair = |made: Made, (key, m): (&str, Measured)| {
        made.figure(key, Some(m.value)).figure(&format!("u_{key}"), Some(m.u))
    };
    figures.into_iter().fold(counts, pair).done(&bolts.extra)
}

fn repeats_value(repeats: &Repeats) -> Value {
    let quantity = |q: &RepeatedQuantity| {
        Made::default()
            .with("quantity", q.column.key())
            .figure("scatter", q.scatter)
            .figure("stated", q.stated)
            .figure("ratio", q.ratio)
            .figure("limit", q.limit)
            .figure("degrees_of_freedom", q.degrees_of_freedom)
            .with("verdict", q.agreement.key())
            .done(&q.extra)
    };
    Made::default()
        .with("scans", Value::Array(repeats.scans.iter().map(source_value).collect()))
        .with("quantities", Value::Array(repeats.quantities.iter().map(quantity).collect()))
        .done(&repeats.extra)
}

fn source_value(source: &Source) -> Value {
    Made::default()
        .text("file", &source.file)
        .text("sha256", &source.sha256)
        .text("format", &source.format)
        .with("vertices", source.vertices)
        .with("triangles", source.triangles)
        .with_some("resolution_m", source.resolution_m.map(|v| figure_value(Some(v))))
        .with_some("resolution_uncertainty_m", source.resolution_uncertainty_m.map(|v| figure_value(Some(v))))
        .done(&source.extra)
}

fn scale_value(scale: &Scale) -> Value {
    Made::default()
        .figure("metres_per_unit", scale.metres_per_unit)
        .text("basis", &scale.basis)
        .figure("relative_uncertainty", scale.relative_uncertainty)
        .with_some("known_lengths", (!scale.known_lengths.is_empty()).then(|| known_lengths_value(scale)))
        .with_some("chi_square", scale.chi_square.map(|v| figure_value(Some(v))))
        .with_some("degrees_of_freedom", scale.degrees_of_freedom.map(Value::from))
        .with_some("birge_ratio", scale.birge_ratio.map(|v| figure_value(Some(v))))
        .done(&scale.extra)
}

fn known_lengths_value(scale: &Scale) -> Value {
    let point = |p: [f64; 3]| Value::Array(p.iter().map(|v| map_value(*v)).collect());
    let of = |known: &KnownLength| {
        Made::default()
            .with("of", known.of.key())
            .with_some("from", known.between.map(|ends| point(ends[0])))
            .with_some("to", known.between.map(|ends| point(ends[1])))
            .figure("stated_m", Some(known.stated_m))
            .figure("u_m", Some(known.u_m))
            .with("u_is_assumed", known.u_is_assumed)
            .figure("by_scale_m", Some(known.by_scale_m))
            .figure("difference_m", Some(known.difference_m))
            .done(&known.extra)
    };
    Value::Array(scale.known_lengths.iter().map(of).collect())
}

pub(crate) fn frame_value(frame: &Frame) -> Value {
    let row = |row: &[f64; 4]| Value::Array(row.iter().map(|v| map_value(*v)).collect());
    let matrix = frame.scan_to_blade.as_ref().map(|rows| Value::Array(rows.iter().map(row).collect()));
    // A table that was typed in says nothing of its sections.
    let is_cut = frame.scan_to_blade.is_some() || frame.sections != SectionSurface::default();
    Made::default()
        .with("scan_to_blade", matrix)
        .text("method", &frame.method)
        .with("hand", frame.hand.as_str())
        .with("hand_certain", frame.hand_certain)
        .with_some("hand_basis", frame.hand_basis.map(|basis| basis.as_str().into()))
        .with_some("sections", is_cut.then(|| frame.sections.key().into()))
        .done(&frame.extra)
}

pub(crate) fn blade_value(blade: &BladeFigures) -> Value {
    let u = blade_uncertainty_value(&blade.u);
    Made::default()
        .figure("radius_m", Some(blade.radius_m))
        .figure("root_radius_m", blade.root_radius_m)
        .figure("blade_length_m", blade.blade_length_m)
        .with("blades_in_scan", blade.blades_in_scan)
        .figure("activity_factor", blade.activity_factor)
        .figure("volume_m3", blade.volume_m3)
        .figure("reference_radius_ratio", Some(blade.reference_radius_ratio))
        .with("setting", blade.setting.as_ref().map(setting_value))
        .with_some("u", states_something(&u).then_some(u))
        .done(&blade.extra)
}

fn blade_uncertainty_value(u: &BladeUncertainty) -> Value {
    Made::default()
        .figure("radius_m", u.radius_m)
        .figure("root_radius_m", u.root_radius_m)
        .figure("blade_length_m", u.blade_length_m)
        .figure("activity_factor", u.activity_factor)
        .figure("volume_m3", u.volume_m3)
        .done(&u.extra)
}

fn states_something(value: &Value) -> bool {
    value.as_object().is_some_and(|map| map.values().any(|v| !v.is_null()))
}

fn setting_value(setting: &Setting) -> Value {
    Made::default()
        .figure("angle_deg", Some(setting.angle_deg))
        .figure("radius_ratio", Some(setting.radius_ratio))
        .with("of", setting.of.as_str())
        .done(&setting.extra)
}

fn repairs_value(repairs: &Repairs) -> Value {
    Made::default()
        .with("duplicate_vertices", repairs.duplicate_vertices)
        .with("degenerate_triangles", repairs.degenerate_triangles)
        .with("stray_components", repairs.stray_components)
        .with("flipped_triangles", repairs.flipped_triangles)
        .with("non_finite_vertices", repairs.non_finite_vertices)
        .done(&repairs.extra)
}

fn rows_value(rows: &BladeRows) -> Value {
    Made::default()
        .with("index", rows.index)
        .figure("azimuth_deg", rows.azimuth_deg)
        .with_some("tip_radius_m", rows.tip_radius_m.map(|v| figure_value(Some(v))))
        .with_some("u_tip_radius_m", rows.u_tip_radius_m.map(|v| figure_value(Some(v))))
        .with("stations", stations_value(&rows.stations))
        .done(&rows.extra)
}

fn rotation_value(rotation: &Rotation) -> Value {
    let raised = rotation.raised_to_scatter.iter();
    let raised = raised.fold(Made::default(), |made, (column, by)| made.figure(column.key(), Some(*by)));
    Made::default()
        .with("axis_by", rotation.axis_by.key())
        .figure("u_axis_tilt_deg", rotation.u_axis_tilt_deg)
        .figure("u_axis_place_m", rotation.u_axis_place_m)
        .with("raised_to_scatter", raised.done(&Map::new()))
        .with_some("volume", rotation.volume.as_ref().map(rotating_volume_value))
        .done(&rotation.extra)
}

fn rotating_volume_value(volume: &RotatingVolume) -> Value {
    let pair = |v: [f64; 2]| Value::Array(v.iter().map(|v| figure_value(Some(*v))).collect());
    let u = volume.u_from.iter().fold(Made::default(), |made, (source, u)| made.with(source.key(), pair(*u)));
    let of_blade = |b: &BladeVolume| {
        Made::default()
            .figure("volume_m3", Some(b.volume_m3))
            .figure("first_moment_m4", Some(b.first_moment_m4))
            .figure("u_first_moment_m4", Some(b.u_first_moment_m4))
            .done(&Map::new())
    };
    Made::default()
        .figure("volume_m3", Some(volume.volume_m3))
        .with("first_moment_m4", pair(volume.first_moment_m4))
        .with("u_from", u.done(&Map::new()))
        .figure("closed_ratio", Some(volume.closed_ratio))
        .with("bodies", volume.bodies)
        .with("blades", Value::Array(volume.blades.iter().map(of_blade).collect()))
        .done(&volume.extra)
}

fn difference_value(difference: &BladeDifference) -> Value {
    let figures = |made: Made, angle, chord, track| {
        made.figure("mean_blade_angle_difference_deg", angle)
            .figure("mean_chord_difference_m", chord)
            .figure("track_m", track)
    };
    let BladeDifferenceUncertainty {
        mean_blade_angle_difference_deg,
        mean_chord_difference_m,
        track_m,
        extra,
    } = &difference.u;
    let u = figures(Made::default(), *mean_blade_angle_difference_deg, *mean_chord_difference_m, *track_m)
        .done(extra);
    figures(
        Made::default().with("index", difference.index),
        difference.mean_blade_angle_difference_deg,
        difference.mean_chord_difference_m,
        difference.track_m,
    )
    .with("u", u)
    .done(&difference.extra)
}

fn stations_value(stations: &[Station]) -> Value {
    Value::Array(stations.iter().map(station_value).collect())
}

fn station_value(station: &Station) -> Value {
    let figures = |made: Made, columns: &[StationColumn]| {
        columns.iter().fold(made, |made, column| made.with(column.key(), column_value(*column, station)))
    };
    let u = StationColumn::FIGURES
        .iter()
        .fold(Made::default(), |made, column| made.figure(column.key(), column.u(station)));
    let made = figures(Made::default(), StationColumn::FIGURES).with("u", u.done(&station.u.extra));
    let made = figures(made, StationColumn::EVIDENCE);
    made.with_some("u_from", (!station.budget.is_empty()).then(|| budget_value(&station.budget)))
        .with_some("scatter", (!station.scatter.is_empty()).then(|| scatter_value(&station.scatter)))
        .with_some(
            "departures",
            (!station.departures.is_empty()).then(|| departures_value(&station.departures)),
        )
        .with_some("smooth", (!station.smooth.is_empty()).then(|| smooth_value(&station.smooth)))
        .with_some("near_sections", (!station.near_sections.is_empty()).then(|| near_sections_value(station)))
        .with("flags", station.flags.iter().map(Flag::text).collect::<Vec<_>>())
        .with("outline", station.outline.as_ref().map(outline_value_of))
        .done(&station.extra)
}

fn smooth_value(smooth: &SmoothFigures) -> Value {
    let all = smooth.figures.iter();
    let u = all.clone().fold(Made::default(), |made, (column, m)| made.figure(column.key(), Some(m.u)));
    all.fold(Made::default(), |made, (column, m)| made.figure(column.key(), Some(m.value)))
        .with("u", u.done(&Map::new()))
        .with_some("outline", smooth.outline.as_ref().map(outline_value_of))
        .done(&smooth.extra)
}

fn scatter_value(scatter: &StationScatter) -> Value {
    let figure = |made: Made, column: StationColumn| made.figure(column.key(), scatter.get(column));
    scatter.columns().fold(Made::default(), figure).done(&scatter.extra)
}

fn departures_value(departures: &Departures) -> Value {
    let of = |d: &PartDeparture| {
        Made::default()
            .figure("rms_m", d.rms_m)
            .figure("largest_m", d.largest_m)
            .figure("position", d.position)
            .done(&d.extra)
    };
    departures
        .parts
        .iter()
        .fold(Made::default(), |made, (part, d)| made.with(part.key(), of(d)))
        .done(&departures.extra)
}

fn near_sections_value(station: &Station) -> Value {
    let of = |near: &NearSection| {
        Made::default()
            .with("section", near.section.as_str())
            .figure("rms_m", near.rms_m)
            .with_some("within_noise", near.within_noise.map(Value::from))
            .done(&near.extra)
    };
    Value::Array(station.near_sections.iter().map(of).collect())
}

fn budget_value(budget: &UncertaintyBudget) -> Value {
    let of = |column: StationColumn| {
        let nothing = Map::new();
        let known = budget.of(column);
        let made = known.fold(Made::default(), |made, (source, u)| made.figure(source.key(), Some(u)));
        made.done(budget.unknown.get(&column).unwrap_or(&nothing))
    };
    let made = Made::default();
    budget.columns().fold(made, |made, column| made.with(column.key(), of(column))).done(&budget.extra)
}

/// The figure of a column. A count is written as a whole number.
fn column_value(column: StationColumn, station: &Station) -> Value {
    let figure = column.get(station);
    match column.unit() {
        ColumnUnit::Count => {
            figure.filter(|v| *v >= 0.0).map_or(Value::Null, |v| Value::from(v.round() as u64))
        }
        _ => figure_value(figure),
    }
}

fn outline_value_of(outline: &SectionOutline) -> Value {
    let line = |coords: &[f64]| Value::Array(coords.iter().map(|v| outline_value(*v)).collect());
    Made::default().with("x", line(&outline.x)).with("y", line(&outline.y)).done(&outline.extra)
}

const INDENT: &str = "  ";

/// Prints a value. Arrays of plain values are on one line, and so are objects of plain values inside an array.
pub(super) fn print(value: &Value, depth: usize, out: &mut String) {
    match value {
        Value::Object(map) if !map.is_empty() => {
            let items = map.iter().map(|(key, value)| (Some(key.as_str()), value));
            print_items(('{', '}'), items, depth, out);
        }
        Value::Array(items) if items.iter().any(is_plain_object) && items.iter().all(is_plain_object) => {
            print_plain_objects(items, depth, out);
        }
        Value::Array(items) if items.iter().any(|v| v.is_object() || v.is_array() || v.is_string()) => {
            print_items(('[', ']'), items.iter().map(|value| (None, value)), depth, out);
        }
        Value::Array(items) => {
            let texts: Vec<String> = items.iter().map(Value::to_string).collect();
            out.push('[');
            out.push_str(&texts.join(", "));
            out.push(']');
        }
        plain => out.push_str(&plain.to_string()),
    }
}

/// An object of plain values: a row of a table.
fn is_plain_object(value: &Value) -> bool {
    value.as_object().is_some_and(|map| map.values().all(|v| !v.is_object() && !v.is_array()))
}

fn print_plain_objects(items: &[Value], depth: usize, out: &mut String) {
    let indent = INDENT.repeat(depth + 1);
    let row = |item: &Value| {
        let keys = item.as_object().into_iter().flatten();
        let cells: Vec<String> =
            keys.map(|(key, value)| format!("{}: {value}", Value::from(key.as_str()))).collect();
        format!("{indent}{{{}}}", cells.join(", "))
    };
    let rows: Vec<String> = items.iter().map(row).collect();
    out.push_str(&format!("[\n{}\n{}]", rows.join(",\n"), INDENT.repeat(depth)));
}

fn print_items<'a>(
    (open, close): (char, char),
    items: impl Iterator<Item = (Option<&'a str>, &'a Value)>,
    depth: usize,
    out: &mut String,
) {
    out.push(open);
    for (k, (key, value)) in items.enumerate() {
        out.push_str(if k == 0 { "\n" } else { ",\n" });
        out.push_str(&INDENT.repeat(depth + 1));
        if let Some(key) = key {
            out.push_str(&Value::from(key).to_string());
            out.push_str(": ");
        }
        print(value, depth + 1, out);
    }
    out.push('\n');
    out.push_str(&INDENT.repeat(depth));
    out.push(close);
}
