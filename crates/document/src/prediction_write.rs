//! Writing `prediction.json` and `prediction.csv`.

use crate::json_write::{Made, print, texts_value};
use crate::number::figure_value;
use crate::{DocumentError, figure_cell};
use bladeform_table::{
    AirState, Answer, CAUTION, FreeWakeModel, InstalledFigures, MethodUncertainty, OperatingFigures,
    OperatingPoint, OperatingUncertainty, PREDICTION_SCHEMA, Prediction, RadialRow, RadialWater, Schedule,
    SecondModel, SurfaceFigures, WaterFigures,
};
use serde_json::{Map, Value};
use std::io::Write;

/// Separator of the flags in one cell.
const FLAG_SEPARATOR: &str = " | ";

/// Writes a prediction as JSON: the head, the points with their radial rows, answers, schedules, warnings and the caution.
///
/// Figures have ten significant digits. A figure without meaning is `null`. A prediction that is read and written gives the same bytes.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_prediction_json(prediction: &Prediction, mut out: impl Write) -> Result<(), DocumentError> {
    let mut text = String::new();
    print(&prediction_value(prediction), 0, &mut text);
    text.push('\n');
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

/// Headings after the figures and flags of a row: speed, rotational speed, altitude, standard uncertainties due to the geometry alone, and the free wake
/// at zero speed.
const MORE_HEADINGS: [&str; 20] = [
    "speed_m_s",
    "rpm",
    "altitude_m",
    "u_thrust_n",
    "u_torque_nm",
    "u_power_w",
    "u_efficiency",
    "free_wake_thrust_n",
    "free_wake_power_w",
    "u_method_thrust_n",
    "u_method_torque_nm",
    "u_method_power_w",
    "u_method_efficiency",
    "cavitation_number",
    "cavitating_fraction",
    "shank_power_w",
    "propulsive_thrust_n",
    "propulsive_efficiency",
    "u_method_propulsive_thrust_n",
    "u_method_propulsive_efficiency",
];

/// Writes the points of a prediction as CSV, one row per point. The headings are the JSON keys, missing figures are empty cells, and
/// flags are joined by ` | `. After the flags follow speed, rotational speed and altitude, then the standard uncertainties due to the geometry,
/// as `u_` and the figure's key. Thrust and power of the second model at zero speed follow as `free_wake_`, then the standard uncertainties due to the methods
/// as `u_method_`, then the cavitation number and the fraction of the span where cavitation begins, in water, and last the
/// power of the shanks and, with a body, propulsive thrust and efficiency with their standard uncertainties due to the methods.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_prediction_csv(prediction: &Prediction, out: impl Write) -> Result<(), DocumentError> {
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(point_headings()).map_err(write_error)?;
    for point in &prediction.points {
        writer.write_record(point_cells(point, prediction.air.altitude_m)).map_err(write_error)?;
    }
    writer.flush()?;
    Ok(())
}

/// The headings of a point in CSV.
pub(crate) fn point_headings() -> impl Iterator<Item = &'static str> {
    OperatingFigures::KEYS.iter().copied().chain(["flags"]).chain(MORE_HEADINGS)
}

/// The cells of a point in CSV, in the order of [`point_headings`].
pub(crate) fn point_cells(point: &OperatingPoint, altitude_m: f64) -> Vec<String> {
    let flags: Vec<String> = point.flags.iter().map(|f| f.text().replace(FLAG_SEPARATOR, " / ")).collect();
    let (u, rest) = (point.u.unwrap_or_default(), point.free_wake.unwrap_or_default());
    let method = point.u_method.unwrap_or_default();
    let water = point.water.unwrap_or_default();
    let installed = point.installed.unwrap_or_default();
    let more = [
        Some(point.speed_m_s),
        Some(point.rpm),
        Some(altitude_m),
        u.thrust_n,
        u.torque_nm,
        u.power_w,
        u.efficiency,
        rest.thrust_n,
        rest.power_w,
        method.thrust_n,
        method.torque_nm,
        method.power_w,
        method.efficiency,
        water.cavitation_number,
        water.cavitating_fraction,
        installed.shank_power_w,
        installed.propulsive_thrust_n,
        installed.propulsive_efficiency,
        installed.u_method_propulsive_thrust_n,
        installed.u_method_propulsive_efficiency,
    ];
    let cells = point.figures.values().into_iter().map(figure_cell).chain([flags.join(FLAG_SEPARATOR)]);
    cells.chain(more.into_iter().map(figure_cell)).collect()
}

fn write_error(error: csv::Error) -> DocumentError {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => DocumentError::Write(error),
        // Records of equal length are written as text, so no other error can occur.
        other => DocumentError::Write(std::io::Error::other(format!("{other:?}"))),
    }
}

fn prediction_value(p: &Prediction) -> Value {
    let table = Made::default().text("file", &p.table_file).text("sha256", &p.table_sha256).done(&Map::new());
    Made::default()
        .with("schema", PREDICTION_SCHEMA)
        .with("table", table)
        .with("blades", p.blades)
        .figure("diameter_m", Some(p.diameter_m))
        .figure("rpm", Some(p.rpm))
        .figure("speed_m_s", p.speed_m_s)
        .with("air", air_value(&p.air))
        .figure("reference_radius_ratio", Some(p.reference_radius_ratio))
        .with("setting_of", p.setting_of.as_str())
        .figure("inner_radius_m", Some(p.inner_radius_m))
        .with("methods", p.methods.clone())
        .with("points", p.points.iter().map(point_value).collect::<Vec<_>>())
        .with("answers", p.answers.iter().map(answer_value).collect::<Vec<_>>())
        .with("schedules", p.schedules.iter().map(schedule_value).collect::<Vec<_>>())
        .with("warnings", texts_value(&p.warnings))
        .with("caution", CAUTION)
        .done(&p.extra)
}

fn air_value(air: &AirState) -> Value {
    Made::default()
        .figure("altitude_m", Some(air.altitude_m))
        .figure("temperature_offset_k", Some(air.temperature_offset_k))
        .figure("temperature_k", Some(air.temperature_k))
        .figure("pressure_pa", Some(air.pressure_pa))
        .figure("density_kg_m3", Some(air.density_kg_m3))
        .figure("viscosity_pa_s", Some(air.viscosity_pa_s))
        .figure("speed_of_sound_m_s", air.water.is_none().then_some(air.speed_of_sound_m_s))
        .with_some("fluid", air.water.map(|w| Value::from(w.kind.as_str())))
        .with_some("depth_m", air.water.map(|w| figure_value(w.depth_m)))
        .with_some("vapour_pressure_pa", air.water.map(|w| figure_value(Some(w.vapour_pressure_pa))))
        .done(&Map::new())
}

fn figures(made: Made, keys: &[&str], values: Vec<Option<f64>>) -> Made {
    keys.iter().zip(values).fold(made, |made, (key, value)| made.figure(key, value))
}

fn point_value(point: &OperatingPoint) -> Value {
    let u = |u: &OperatingUncertainty| {
        figures(Made::default(), OperatingUncertainty::KEYS, u.values()).done(&Map::new())
    };
    let of_method = |u: &MethodUncertainty| {
        figures(Made::default(), MethodUncertainty::KEYS, u.values()).done(&Map::new())
    };
    let second = |m: &SecondModel| figures(Made::default(), SecondModel::KEYS, m.values()).done(&Map::new());
    let rest =
        |m: &FreeWakeModel| figures(Made::default(), FreeWakeModel::KEYS, m.values()).done(&Map::new());
    let water = |w: &WaterFigures| figures(Made::default(), WaterFigures::KEYS, w.values()).done(&Map::new());
    let surface =
        |s: &SurfaceFigures| figures(Made::default(), SurfaceFigures::KEYS, s.values()).done(&Map::new());
    let installed =
        |i: &InstalledFigures| figures(Made::default(), InstalledFigures::KEYS, i.values()).done(&Map::new());
    figures(Made::default(), OperatingFigures::KEYS, point.figures.values())
        .with("flags", texts_value(&point.flags))
        .figure("speed_m_s", Some(point.speed_m_s))
        .figure("rpm", Some(point.rpm))
        .with_some("u", point.u.as_ref().map(u))
        .with_some("u_method", point.u_method.as_ref().map(of_method))
        .with_some("lifting_line", point.lifting_line.as_ref().map(second))
        .with_some("free_wake", point.free_wake.as_ref().map(rest))
        .with_some("water", point.water.as_ref().map(water))
        .with_some("surface", point.surface.as_ref().map(surface))
        .with_some("installed", point.installed.as_ref().map(installed))
        .with("radial", point.radial.iter().map(row_value).collect::<Vec<_>>())
        .done(&Map::new())
}

fn radial_water(w: &RadialWater) -> Value {
    figures(Made::default(), RadialWater::KEYS, w.values()).with("cavitates", w.cavitates()).done(&Map::new())
}

fn row_value(row: &RadialRow) -> Value {
    figures(Made::default(), bladeform_table::RadialFigures::KEYS, row.figures.values())
        .with("stalled", row.stalled)
        .text("polar_region", &row.polar_region)
        .with_some("water", row.water.as_ref().map(radial_water))
        .done(&Map::new())
}

fn answer_value(answer: &Answer) -> Value {
    Made::default()
        .with("name", answer.name.clone())
        .with("sentence", answer.sentence.clone())
        .with("point", answer.point.as_ref().map(point_value))
        .done(&Map::new())
}

fn schedule_value(schedule: &Schedule) -> Value {
    Made::default()
        .with("name", schedule.name.clone())
        .with("sentence", schedule.sentence.clone())
        .with_some("most_rpm", schedule.most_rpm.map(|rpm| figure_value(Some(rpm))))
        .with("points", schedule.points.iter().map(point_value).collect::<Vec<_>>())
        .done(&Map::new())
}
