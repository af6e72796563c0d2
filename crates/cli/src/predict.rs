//! The `predict` command: options, their meaning, and the files.

use std::path::{Path, PathBuf};

use bladeform::{
    Angle, ComputedPolars, EngineCurve, Flight, GivenSection, Length, Power, PredictPlan, Prediction,
    Propeller, Range, SettingOf, SettingRadius, SettingText, Speed, StationTable, predict, read_csv,
    read_json, render_prediction, slipstream_csv, slipstream_vts, write_prediction_csv,
    write_prediction_json,
};
use clap::{Args, ValueEnum};

use crate::arguments::Line;
use crate::failure::Failure;
use crate::output::{write_all, write_whole};

/// Most threads that a person asks for.
const MOST_THREADS: i64 = 64;

#[derive(Debug, Args)]
pub(crate) struct Predict {
    /// The station table: JSON or CSV, measured or written by hand.
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Number of blades.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=12))]
    blades: u32,
    /// Diameter of the propeller; the table's unless given.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse)]
    diameter: Option<Length>,
    /// Rotation, revolutions a minute.
    #[arg(long, value_name = "RPM", allow_negative_numbers = true)]
    rpm: f64,
    /// Speed of flight, e.g. 130mph; 0m/s is the static point.
    #[arg(long, value_name = "SPEED", value_parser = Speed::parse, conflicts_with = "advance", required_unless_present = "advance")]
    speed: Option<Speed>,
    /// Advance ratios V/nD: one, or first:last:step, e.g. 0.2:1.2:0.05.
    #[arg(long, value_name = "RANGE", value_parser = advance_ratios)]
    advance: Option<Ratios>,
    /// Settings in degrees: first:last:step, or one angle, e.g. 0:60:1, 17deg@0.75, 5:30:0.5@tip.
    #[arg(long, value_name = "RANGE[@RADIUS]", value_parser = settings, allow_hyphen_values = true)]
    setting: Option<Settings>,
    /// Which line of the section the settings are of.
    #[arg(long, value_name = "LINE", default_value = "chord")]
    setting_of: Line,
    /// Altitude in the standard atmosphere, e.g. 1500ft [default: 0m].
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse, allow_hyphen_values = true)]
    altitude: Option<Length>,
    /// How much warmer the air is than the standard, kelvin.
    #[arg(long, value_name = "KELVIN", default_value_t = 0.0, allow_negative_numbers = true)]
    warmer: f64,
    /// Power that is to be taken up, e.g. 300hp: its setting is solved for, and a schedule over flight speed.
    #[arg(long, value_name = "POWER", value_parser = Power::parse)]
    power: Option<Power>,
    /// Engine torque curve, CSV with rpm,torque_nm: rotation over flight speed with fixed settings.
    #[arg(long, value_name = "FILE")]
    engine: Option<PathBuf>,
    /// The surface: smooth, or rough as old wood and paint, which makes the boundary layers turbulent near the nose.
    #[arg(long, value_name = "STATE", default_value = "smooth")]
    surface: Surface,
    /// Leave out the delay of stall by rotation.
    #[arg(long)]
    no_stall_delay: bool,
    /// Your own polar at a station, e.g. 0.7=polar.csv: lines of angle in degrees, lift, drag, Reynolds number. May be given several times.
    #[arg(long, value_name = "RATIO=FILE", value_parser = given_polar)]
    polar: Vec<(f64, PathBuf)>,
    /// Folder where computed section polars are kept for the next time [default: bladeform/polars in the user's cache folder].
    #[arg(long, value_name = "DIR")]
    polar_cache: Option<PathBuf>,
    /// Also write the slipstream at these distances behind the disc, in diameters, e.g. 0.25,0.5,1.
    #[arg(long, value_name = "LIST", value_delimiter = ',')]
    slipstream: Vec<f64>,
    /// Threads to work with; the result does not depend on it [default: 2].
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u8).range(1..=MOST_THREADS))]
    threads: Option<u8>,
    #[command(flatten)]
    page: crate::record::PageAlong,
    /// Folder for prediction.json, prediction.csv and record.html.
    #[arg(long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Surface {
    /// Free transition.
    Smooth,
    /// Turbulent from near the nose.
    Rough,
}

/// Advance ratios as typed.
#[derive(Debug, Clone)]
struct Ratios(Vec<f64>);

/// Settings as typed, deg, and where they hold.
#[derive(Debug, Clone)]
struct Settings {
    deg: Vec<f64>,
    at: SettingRadius,
}

fn advance_ratios(text: &str) -> Result<Ratios, String> {
    let values = match text.trim().parse::<f64>() {
        Ok(one) => vec![one],
        Err(_) => Range::parse(text).map_err(|e| e.to_string())?.values().collect(),
    };
    match values.iter().all(|j| *j >= 0.0 && j.is_finite()) {
        true => Ok(Ratios(values)),
        false => Err(format!("`{text}`: an advance ratio cannot be below 0")),
    }
}

fn given_polar(text: &str) -> Result<(f64, PathBuf), String> {
    let (ratio, file) = text.split_once('=').ok_or_else(|| {
        format!("`{text}`: write the station's radius ratio, `=` and a file, e.g. 0.7=polar.csv")
    })?;
    match ratio.trim().parse::<f64>() {
        Ok(ratio) if 0.0 < ratio && ratio <= 1.0 => Ok((ratio, PathBuf::from(file))),
        _ => Err(format!("`{ratio}` is no radius ratio; write a number above 0 and up to 1")),
    }
}

fn settings(text: &str) -> Result<Settings, String> {
    let (angle, at) = SettingRadius::split_from(text).map_err(|e| e.to_string())?;
    let deg = if angle.contains(':') {
        Range::parse(angle.trim_end_matches("deg")).map_err(|e| e.to_string())?.values().collect()
    } else {
        vec![SettingText::parse(text).map_err(|e| e.to_string())?.angle.deg()]
    };
    Ok(Settings { deg, at })
}

impl Predict {
    fn plan(&self, engine: Option<EngineCurve>) -> PredictPlan {
        let defaults = PredictPlan::default();
        let flight = match (&self.advance, self.speed) {
            (Some(ratios), _) => Flight::Advance(ratios.0.clone()),
            (None, speed) => Flight::Speed(speed.unwrap_or_default().m_per_s()),
        };
        let at = self.setting.as_ref().map_or(SettingRadius::Default, |s| s.at);
        PredictPlan {
            blades: self.blades,
            diameter_m: self.diameter.map(Length::m),
            rpm: self.rpm,
            flight,
            settings_deg: self.setting.as_ref().map(|s| s.deg.clone()).unwrap_or_default(),
            setting_radius_ratio: match at {
                SettingRadius::Default => None,
                SettingRadius::Tip => Some(1.0),
                SettingRadius::Ratio(ratio) => Some(ratio),
            },
            setting_of: if self.setting_of == Line::Face { SettingOf::Face } else { SettingOf::Chord },
            altitude_m: self.altitude.map_or(0.0, Length::m),
            temperature_offset_k: self.warmer,
            power_w: self.power.map(Power::w),
            engine,
            threads: self.threads.map_or(defaults.threads, usize::from),
            ..defaults
        }
    }
}

impl Predict {
    /// # Errors
    /// A sentence naming the polar's file that cannot be read.
    fn polars(&self, table: &StationTable, plan: &PredictPlan) -> Result<ComputedPolars, String> {
        let diameter_m = plan.diameter_m.unwrap_or(2.0 * table.blade.radius_m);
        let given = self
            .polar
            .iter()
            .map(|(radius_ratio, file)| {
                let csv = String::from_utf8_lossy(&read_file(file)?).into_owned();
                Ok(GivenSection { radius_ratio: *radius_ratio, csv })
            })
            .collect::<Result<Vec<_>, String>>()?;
        Ok(ComputedPolars {
            given,
            tip_speed_m_s: std::f64::consts::PI * diameter_m * plan.rpm / 60.0,
            rough: self.surface == Surface::Rough,
            stall_delay: !self.no_stall_delay,
            cache: self.polar_cache.clone().or_else(cache_folder),
            threads: plan.threads,
            ..ComputedPolars::default()
        })
    }
}

/// `bladeform/polars` in the user's cache folder (XDG Base Directory Specification); none where no home is known.
fn cache_folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let base = set("XDG_CACHE_HOME").or_else(|| set("HOME").map(|home| home.join(".cache")))?;
    Some(base.join("bladeform").join("polars"))
}

/// Reads the table, predicts, writes the files, and returns the text for the terminal.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn predict_file(asked: &Predict) -> Result<String, Failure> {
    let name = asked.table.display();
    let input = |e: String| Failure::Input(e);
    if let Some(wrong) = asked.slipstream.iter().find(|d| !(0.0..=100.0).contains(*d)) {
        return Err(Failure::Usage(format!("--slipstream: {wrong} diameters; write numbers from 0 to 100")));
    }
    if asked.power.is_some_and(|p| p.w() <= 0.0) {
        return Err(Failure::Usage("--power: the power must be greater than zero".to_owned()));
    }
    let bytes = read_file(&asked.table).map_err(input)?;
    let table = read_table(&bytes, asked.diameter).map_err(|e| Failure::Input(format!("{name}: {e}")))?;
    let engine = asked.engine.as_deref().map(read_engine).transpose().map_err(input)?;
    let plan = asked.plan(engine);
    let source = asked.polars(&table, &plan).map_err(input)?;
    let mut prediction =
        predict(&table, &plan, &source).map_err(|e| Failure::Input(format!("{name}: {e}")))?;
    prediction.table_file =
        asked.table.file_name().map_or_else(String::new, |f| f.to_string_lossy().into_owned());
    prediction.table_sha256 = bladeform::sha256_hex(&bytes);
    let mut text = render_prediction(&prediction);
    text.push_str(&write_prediction(&prediction, asked, &table).map_err(input)?);
    if !asked.slipstream.is_empty() {
        text.push_str(&write_slipstream(asked, &table, &plan, &source).map_err(input)?);
    }
    Ok(text)
}

/// A file's bytes, or a sentence.
pub(crate) fn read_file(path: &Path) -> Result<Vec<u8>, String> {
    if path.is_dir() {
        return Err(format!("{} is a folder; give the station table's file", path.display()));
    }
    std::fs::read(path).map_err(|e| format!("{} cannot be read: {e}", path.display()))
}

/// JSON begins with a brace; anything else is taken for CSV.
pub(crate) fn read_table(bytes: &[u8], diameter: Option<Length>) -> Result<StationTable, String> {
    let first = bytes.iter().find(|b| !b.is_ascii_whitespace() && b.is_ascii());
    match first {
        Some(b'{') => read_json(bytes).map_err(|e| e.to_string()),
        _ => read_csv(bytes, diameter.map(|d| 0.5 * d.m())).map_err(|e| e.to_string()),
    }
}

fn read_engine(path: &Path) -> Result<EngineCurve, String> {
    let bytes = read_file(path)?;
    EngineCurve::read_csv(&String::from_utf8_lossy(&bytes)).map_err(|e| format!("{}: {e}", path.display()))
}

/// Writes the files with the page, and returns what must be told about the page.
fn write_prediction(
    prediction: &Prediction,
    asked: &Predict,
    table: &StationTable,
) -> Result<String, String> {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    write_prediction_json(prediction, &mut json).map_err(|e| e.to_string())?;
    write_prediction_csv(prediction, &mut csv).map_err(|e| e.to_string())?;
    let page = asked.page.of_predicted(&asked.table, table, &json);
    write_all(&asked.out, &page.with(&[("prediction.json", &json), ("prediction.csv", &csv)]))?;
    Ok(page.told)
}

/// The slipstream of the first setting and the last flight asked for.
fn write_slipstream(
    asked: &Predict,
    table: &StationTable,
    plan: &PredictPlan,
    source: &dyn bladeform::PolarSource,
) -> Result<String, String> {
    let told = |e: bladeform::FlowError| e.to_string();
    let blade =
        bladeform::FlowBlade::of_table(table, plan.diameter_m, plan.elements, source).map_err(told)?;
    let propeller = Propeller::new(blade, plan.blades).map_err(told)?;
    let air = bladeform::Air::standard(plan.altitude_m, plan.temperature_offset_k).map_err(told)?;
    let speed_m_s = match &plan.flight {
        Flight::Speed(v) => *v,
        Flight::Advance(ratios) => {
            ratios.last().copied().unwrap_or(0.0) * plan.rpm / 60.0 * propeller.diameter_m()
        }
    };
    let operation = bladeform::Operation::new(speed_m_s, plan.rpm, air).map_err(told)?;
    let ratio = plan.setting_radius_ratio.unwrap_or_else(|| propeller.blade.reference_radius_ratio());
    let setting = plan.settings_deg.first().copied();
    let turn =
        setting.map_or(Ok(0.0), |s| propeller.blade.turn_rad(s, plan.setting_of, ratio)).map_err(told)?;
    let performance = propeller.performance(turn, &operation);
    let distances: Vec<f64> = asked.slipstream.iter().map(|d| d * propeller.diameter_m()).collect();
    let planes = bladeform::slipstream(&performance, &distances)
        .ok_or("the stream does not pass the whole disc from ahead: there is no slipstream to write")?;
    write_whole(&asked.out.join("slipstream.csv"), slipstream_csv(&planes).as_bytes())?;
    write_whole(&asked.out.join("slipstream.vts"), slipstream_vts(&planes).as_bytes())?;
    let last = planes.last().ok_or("no distance was given")?;
    let at = setting.map_or("of the table".to_owned(), |s| Angle::from_deg(s).to_string());
    Ok(format!(
        "Slipstream (slipstream.csv, slipstream.vts) at {speed_m_s:.2} m/s, setting {at}: its momentum carries {:.1} N of {:.1} N thrust, its swirl {:.2} N m of {:.2} N m torque\n",
        last.momentum_thrust_n, performance.thrust_n, last.momentum_torque_nm, performance.torque_nm
    ))
}
