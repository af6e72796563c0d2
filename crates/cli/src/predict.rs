//! The `predict` command: its options and its files.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bladeform::document::{DocumentError, write_prediction_csv, write_prediction_json};
use bladeform::predict::{
    Air, BodyPlan, ComputedPolars, EngineCurve, FixedPitchPlan, Flight, FlowBlade, FlowError, FlowPropeller,
    GivenSection, InstalledPlan, Operation, PolarSource, PredictPlan, RootPlan, SectionPolar, SectionShape,
    SlipstreamPoint, Surface, ThinSections, WaterPlan, predict, slipstream_csv, slipstream_vts, slipstreams,
};
use bladeform::quantity::{Angle, Length, Power, Range, SettingRadius, Speed};
use bladeform::table::{Notice, Prediction, SettingOf, StationTable, TableNotice, Water};
use bladeform::words::{fitted, render_prediction_in};
use bladeform::work::{Observer, parallel};
use clap::{Args, ValueEnum};

use crate::about::Heading;
use crate::advice::{advice, line};
use crate::failure::{Failure, Said};
use crate::feedback::{CHOSEN, Shares, ToLog, stage};
use crate::held::Held;
use crate::input::{bytes_of, smooth_or_own, table_of};
use crate::limits::{
    Settings, drag_coefficient, length_from_zero, number, positive_length, positive_power, rotation,
    settings, stream_factor,
};
use crate::output::{Outputs, can_be_written};
use crate::record::{
    Along, PAGE, PREDICTION_JSON, PREDICTION_PAGE, page_of_predicted, scan_named, scan_near,
};
use crate::rows::{SCHEDULES, add_schedules};
use crate::section_line::{Line, setting_of};
use crate::units::Units;

/// Files of a prediction in the folder of results.
const PREDICTION_FILES: [&str; 2] = [PREDICTION_JSON, "prediction.csv"];
/// Files of the slipstream there.
const SLIPSTREAM_FILES: [&str; 2] = ["slipstream.csv", "slipstream.vts"];
/// Most operating points whose slipstream is written: each has a file of its own.
const MOST_SLIPSTREAMS: usize = 24;

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares = &[
    ("section polars", 90.0),
    ("operating points", 4.0),
    ("answers", 2.0),
    ("making the page", 3.0),
    ("writing", 1.0),
];

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("flight").required(true).args(["speed", "advance"])))]
pub(crate) struct Predict {
    /// Station table: JSON or CSV, measured or written by hand.
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Number of blades.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u32).range(1..=12))]
    blades: u32,
    /// Diameter of the propeller [default: from the table].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    diameter: Option<Length>,
    /// Rotational speed in revolutions per minute [default: --max-rpm].
    #[arg(long, value_name = "RPM", value_parser = rotation, allow_hyphen_values = true, required_unless_present_any = ["max_rpm", "power"])]
    rpm: Option<f64>,
    /// Flight speed, e.g. 120mph, or several, e.g. 70mph,110mph; 0m/s is the static point.
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = Speed::parse, allow_hyphen_values = true)]
    speed: Vec<Speed>,
    /// Greatest rotational speed of the engine: with --engine, or --power POWER@RPM, look for the one fixed setting that suits all speeds best.
    #[arg(long, value_name = "RPM", value_parser = rotation, allow_hyphen_values = true)]
    max_rpm: Option<f64>,
    /// Advance ratio V/nD, or a range first:last:step, e.g. 0.2:1.2:0.05.
    #[arg(long, value_name = "RANGE", value_parser = advance_ratios, allow_hyphen_values = true)]
    advance: Option<Ratios>,
    /// Blade settings from -90 to 90 deg: a range first:last:step in degrees, or one angle with its unit, e.g. 0:60:1, 17deg@0.75, 5:30:0.5@tip.
    #[arg(long, value_name = "RANGE[@RADIUS]", value_parser = settings, allow_hyphen_values = true)]
    setting: Option<Settings>,
    /// Line of the section that the settings refer to [default: chord].
    #[arg(long, value_name = "LINE")]
    setting_of: Option<Line>,
    /// Altitude in the standard atmosphere, -5000m to 20000m, e.g. 1500ft [default: 0m].
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse, allow_hyphen_values = true)]
    altitude: Option<Length>,
    /// Temperature above the standard atmosphere, -80 to 80 kelvin.
    #[arg(long, value_name = "KELVIN", default_value_t = 0.0, value_parser = number, allow_hyphen_values = true)]
    warmer: f64,
    /// What the propeller works in. In water --speed is the speed of advance, and --altitude that of the surface.
    #[arg(long, value_name = "FLUID", default_value = "air")]
    fluid: Fluid,
    /// Temperature of the water in degrees Celsius, 0 to 40 [default: 15].
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_hyphen_values = true)]
    temperature: Option<f64>,
    /// Depth of the shaft below the surface of the water, 0m to 200m: look for cavitation.
    #[arg(long, value_name = "LENGTH", value_parser = Length::parse, allow_hyphen_values = true)]
    depth: Option<Length>,
    /// Diameter of a spinner that covers the hub and the shanks inside it [default: none; the shanks count from the hub or the root end].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    spinner: Option<Length>,
    /// Diameter of a blunt hub without a spinner: count its drag [default: the hub has none].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true, conflicts_with = "spinner")]
    blunt_hub: Option<Length>,
    /// Diameter of a round shank at its inner end, in place of the root in the table [default: as measured, or as thick as the first section].
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true)]
    shank_diameter: Option<Length>,
    /// Greatest diameter of a body behind the propeller, a nacelle or fuselage: it slows the stream over the disc and has drag in the slipstream.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true, requires = "body_length")]
    body: Option<Length>,
    /// Length of that body, at least its diameter.
    #[arg(long, value_name = "LENGTH", value_parser = positive_length, allow_hyphen_values = true, requires = "body")]
    body_length: Option<Length>,
    /// Distance of its nose behind the plane of the blades [default: 0m].
    #[arg(long, value_name = "LENGTH", value_parser = length_from_zero, allow_hyphen_values = true, requires = "body")]
    body_gap: Option<Length>,
    /// Its drag coefficient on the frontal area, 0 to 1.5 [default: that of a streamlined body].
    #[arg(long, value_name = "COEFFICIENT", value_parser = drag_coefficient, allow_hyphen_values = true, requires = "body")]
    body_drag: Option<f64>,
    /// Axial speed of the stream over the whole disc as a fraction of the speed of flight, 0.3 to 1.5, in place of a body.
    #[arg(long, value_name = "FACTOR", value_parser = stream_factor, allow_hyphen_values = true, conflicts_with = "body")]
    stream_factor: Option<f64>,
    /// Power to absorb, e.g. 240hp: solve for the setting that absorbs it, and for a schedule over flight speed. With the speed at which a
    /// piston engine gives it, e.g. 120hp@2600rpm: an engine of this torque at every speed.
    #[arg(long, value_name = "POWER[@RPM]", value_parser = rated_power, allow_hyphen_values = true)]
    power: Option<RatedPower>,
    /// Engine torque curve, CSV with rpm,torque_nm: solve for the rotational speed over flight speed at fixed settings.
    #[arg(long, value_name = "FILE")]
    engine: Option<PathBuf>,
    /// State of the surface. Figures of an old blade lie between those of smooth and rough, and the band between them is part of the methods' interval.
    #[arg(long, value_name = "STATE", default_value = "old")]
    surface: SurfaceState,
    /// Do not apply the delay of stall due to rotation, nor the drag that rotation adds to stalled sections.
    #[arg(long)]
    no_stall_delay: bool,
    /// Predict the smooth blade that all stations together show, in place of each station's own figures.
    #[arg(long)]
    smooth_blade: bool,
    /// Skip the free wake at zero speed and what it changes in slow flight; use blade elements there. It takes half a second to some seconds for each setting.
    #[arg(long)]
    no_free_wake: bool,
    /// Your own polar for a radius ratio, e.g. 0.7=polar.csv, with rows of angle in degrees, lift, drag and Reynolds number. May be given several times.
    #[arg(long, value_name = "RATIO=FILE", value_parser = given_polar)]
    polar: Vec<(f64, PathBuf)>,
    /// Folder in which computed section polars are kept for later runs [default: bladeform/polars in the user's cache folder].
    #[arg(long, value_name = "DIR")]
    polar_cache: Option<PathBuf>,
    /// Also write the slipstream at these distances behind the propeller disc, in diameters, e.g. 0.25,0.5,1.
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = slipstream_distance, allow_hyphen_values = true)]
    slipstream: Vec<f64>,
    /// The scan that was measured, for the page [default: the file named in the table, next to the table, in the output folder or in the current folder].
    #[arg(long, value_name = "FILE")]
    scan: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) units: Units,
    #[command(flatten)]
    heading: Heading,
    /// Do not write record.html, the page of table, scan and prediction.
    #[arg(long, conflicts_with_all = ["title", "part_note", "date", "scan"])]
    no_record: bool,
    /// Write into a folder that holds the record of another blade, and replace its page.
    #[arg(long)]
    overwrite: bool,
    /// Output folder for prediction.json, prediction.csv and record.html, and schedules.csv if there are schedules.
    #[arg(long, value_name = "DIR", default_value = ".")]
    out: PathBuf,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Fluid {
    /// The standard atmosphere.
    Air,
    /// Fresh water.
    Freshwater,
    /// Sea water of the standard ocean.
    Seawater,
}

/// Temperature of the water if none is given, degrees Celsius: that of the tables of ITTC procedure 7.5-02-01-03.
const WATER_CELSIUS: f64 = 15.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum SurfaceState {
    /// New or polished: laminar near the leading edge, free transition.
    Smooth,
    /// Rough like weathered wood and paint: turbulent from 5 % of the chord on.
    Rough,
    /// Not known, as of an old blade: between the two.
    Old,
}

/// A power, with the rotational speed at which an engine gives it.
#[derive(Debug, Clone, Copy)]
struct RatedPower {
    power: Power,
    rpm: Option<f64>,
}

fn rated_power(text: &str) -> Result<RatedPower, String> {
    let (power, rpm) = match text.split_once('@') {
        Some((power, rpm)) => (power, Some(rotation(rpm)?)),
        None => (text, None),
    };
    Ok(RatedPower { power: positive_power(power)?, rpm })
}

/// Advance ratios as typed.
#[derive(Debug, Clone)]
struct Ratios(Vec<f64>);

fn advance_ratios(text: &str) -> Result<Ratios, String> {
    let values = match text.trim().parse::<f64>() {
        Ok(one) => vec![one],
        Err(_) => Range::parse(text).map_err(|e| e.to_string())?.values().collect(),
    };
    match values.iter().all(|j| *j >= 0.0 && j.is_finite()) {
        true => Ok(Ratios(values)),
        false => Err("an advance ratio must be zero or a positive number".to_owned()),
    }
}

fn given_polar(text: &str) -> Result<(f64, PathBuf), String> {
    let (ratio, file) = text
        .split_once('=')
        .ok_or_else(|| format!("`{text}`: write a radius ratio, `=` and a file, e.g. 0.7=polar.csv"))?;
    match ratio.trim().parse::<f64>() {
        Ok(ratio) if 0.0 < ratio && ratio <= 1.0 => Ok((ratio, PathBuf::from(file))),
        _ => Err(format!("`{ratio}` is not a radius ratio; write a number above 0 and at most 1")),
    }
}

fn slipstream_distance(text: &str) -> Result<f64, String> {
    match number(text)? {
        diameters if (0.0..=100.0).contains(&diameters) => Ok(diameters),
        _ => Err("it must be from 0 to 100 diameters".to_owned()),
    }
}

impl Predict {
    fn plan(&self, engine: Option<EngineCurve>) -> PredictPlan {
        let defaults = PredictPlan::default();
        let flight = match (&self.advance, self.speed.as_slice()) {
            (Some(ratios), _) => Flight::Advance(ratios.0.clone()),
            (None, [several @ .., last]) if !several.is_empty() => {
                Flight::Speeds(several.iter().chain([last]).map(|v| v.m_per_s()).collect())
            }
            (None, speeds) => Flight::Speed(speeds.first().copied().unwrap_or_default().m_per_s()),
        };
        let fixed_pitch =
            (engine.is_some() && !self.speed.is_empty() && (1 < self.speed.len() || self.max_rpm.is_some()))
                .then(|| FixedPitchPlan {
                    speeds_m_s: self.speed.iter().map(|v| v.m_per_s()).collect(),
                    most_rpm: self.max_rpm,
                });
        let at = self.setting.as_ref().map_or(SettingRadius::Default, |s| s.at);
        PredictPlan {
            blades: self.blades,
            diameter_m: self.diameter.map(Length::m),
            rpm: self.rpm.or(self.max_rpm).or_else(|| self.power?.rpm).unwrap_or_default(),
            flight,
            settings_deg: self.setting.as_ref().map(|s| s.deg.clone()).unwrap_or_default(),
            setting_radius_ratio: match at {
                SettingRadius::Default => None,
                SettingRadius::Tip => Some(1.0),
                SettingRadius::Ratio(ratio) => Some(ratio),
            },
            setting_of: setting_of(self.setting_of),
            altitude_m: self.altitude.map_or(0.0, Length::m),
            temperature_offset_k: self.warmer,
            water: self.water(),
            installed: self.installed(),
            power_w: self.power.filter(|p| p.rpm.is_none()).map(|p| p.power.w()),
            engine,
            fixed_pitch,
            free_wake: !self.no_free_wake,
            ..defaults
        }
    }
}

impl Predict {
    /// The water, unless the fluid is air.
    fn water(&self) -> Option<WaterPlan> {
        let kind = match self.fluid {
            Fluid::Air => return None,
            Fluid::Freshwater => Water::Fresh,
            Fluid::Seawater => Water::Sea,
        };
        let temperature_c = self.temperature.unwrap_or(WATER_CELSIUS);
        Some(WaterPlan { kind, temperature_c, depth_m: self.depth.map(Length::m) })
    }

    /// What is around the blades.
    fn installed(&self) -> InstalledPlan {
        let m = |l: Option<Length>| l.map(Length::m);
        let body = self.body.zip(self.body_length).map(|(diameter, length)| BodyPlan {
            diameter_m: diameter.m(),
            length_m: length.m(),
            gap_m: self.body_gap.map_or(0.0, Length::m),
            drag_coefficient: self.body_drag,
        });
        let root = RootPlan {
            spinner_m: m(self.spinner),
            blunt_hub_m: m(self.blunt_hub),
            shank_m: m(self.shank_diameter),
        };
        InstalledPlan { root, body, stream_factor: self.stream_factor }
    }

    /// Refuses options of the other fluid.
    ///
    /// # Errors
    /// [`Failure::Usage`] naming the option.
    fn check_fluid(&self) -> Result<(), Failure> {
        let wrong = match self.fluid {
            Fluid::Air if self.temperature.is_some() => {
                "--temperature is that of water: give --fluid freshwater or seawater, or for air --warmer"
            }
            Fluid::Air if self.depth.is_some() => {
                "--depth is that of a shaft in water: give --fluid freshwater or seawater as well, or omit it"
            }
            Fluid::Freshwater | Fluid::Seawater if self.warmer != 0.0 => {
                "--warmer is of the atmosphere: give the temperature of the water with --temperature"
            }
            _ => return Ok(()),
        };
        Err(Failure::Usage(wrong.to_owned()))
    }

    /// Refuses an impossible state of air or flight before anything is read.
    ///
    /// # Errors
    /// [`Failure::Usage`] naming the option.
    fn check(&self, plan: &PredictPlan) -> Result<(), Failure> {
        let told = |e: FlowError| self.told(&e);
        let pairs = plan.settings_deg.len().max(1) * self.advance.as_ref().map_or(1, |a| a.0.len());
        if !self.slipstream.is_empty() && MOST_SLIPSTREAMS < pairs {
            return Err(Failure::Usage(format!(
                "--slipstream writes one file for every pair of setting and speed; {pairs} pairs were requested, the most is {MOST_SLIPSTREAMS}"
            )));
        }
        self.check_fluid()?;
        let air = plan.fluid().map_err(told)?;
        for speed in &self.speed {
            Operation::new(speed.m_per_s(), plan.rpm, air).map_err(told)?;
        }
        if plan.rpm <= 0.0 {
            return Err(Failure::Usage("--rpm is needed: --power states no rotational speed".to_owned()));
        }
        let is_engine = self.engine.is_some() || self.power.is_some_and(|p| p.rpm.is_some());
        if self.max_rpm.is_some() && !is_engine {
            return Err(Failure::Usage(
                "--max-rpm is the engine's: give --engine FILE, or --power with its speed, e.g. 120hp@2600rpm".to_owned(),
            ));
        }
        if self.engine.is_some() && self.power.is_some_and(|p| p.rpm.is_some()) {
            return Err(Failure::Usage(
                "--power with @RPM is an engine of its own: omit --engine, or the @RPM".to_owned(),
            ));
        }
        Ok(())
    }

    /// The engine of the file, or that of a rated power.
    fn engine_curve(&self) -> Result<Option<EngineCurve>, Failure> {
        if let Some(RatedPower { power, rpm: Some(rpm) }) = self.power {
            return EngineCurve::of_rated_power(power.w(), rpm)
                .map(Some)
                .map_err(|e| Failure::Usage(format!("--power: {e}")));
        }
        self.engine.as_deref().map(read_engine).transpose()
    }

    /// An error of the library, attributed to the option that caused it, or to the table.
    fn told(&self, error: &FlowError) -> Failure {
        if matches!(error, FlowError::Stopped(_)) {
            return Failure::of(error.code(), error.to_string());
        }
        let option = match error {
            FlowError::Altitude { .. } => "--altitude",
            FlowError::TemperatureOffset { .. } => "--warmer",
            FlowError::WaterTemperature { .. } => "--temperature",
            FlowError::Depth { .. } => "--depth",
            FlowError::Rotation { .. } => "--rpm",
            FlowError::Speed { .. } if self.advance.is_some() => "--advance with --rpm",
            FlowError::Speed { .. } => "--speed",
            FlowError::Setting { .. } => "--setting",
            FlowError::Installed { .. } => "--spinner, --blunt-hub, --shank-diameter or --body",
            FlowError::TooMany { .. } => "--setting and --advance",
            FlowError::Blades { .. } => "--blades",
            FlowError::Diameter { .. } | FlowError::DiameterFar { .. } => "--diameter",
            other => {
                let file = match (other, &self.engine) {
                    (FlowError::Engine { .. }, Some(engine)) => engine,
                    _ => &self.table,
                };
                let advice = advice(other.code()).map_or(String::new(), |text| format!(". {text}"));
                return Failure::of(other.code(), format!("{}: {other}{advice}", file.display()));
            }
        };
        Failure::Usage(format!("{option}: {error}"))
    }

    /// # Errors
    /// A sentence naming the polar's file that cannot be read.
    fn polars(&self, table: &StationTable, plan: &PredictPlan) -> Result<ComputedPolars, Failure> {
        let diameter_m = plan.diameter_m.unwrap_or(2.0 * table.blade.radius_m);
        let given = self
            .polar
            .iter()
            .map(|(radius_ratio, file)| {
                let csv = String::from_utf8_lossy(&bytes_of(file, "a polar as CSV")?).into_owned();
                Ok(GivenSection { radius_ratio: *radius_ratio, csv })
            })
            .collect::<Result<Vec<_>, Failure>>()?;
        Ok(ComputedPolars {
            given,
            tip_speed_m_s: std::f64::consts::PI * diameter_m * plan.rpm / 60.0,
            kinematic_viscosity_m2_s: match plan.water {
                // The air's at sea level serves at all altitudes, so that tables are kept.
                None => ComputedPolars::default().kinematic_viscosity_m2_s,
                Some(_) => {
                    plan.fluid().map(|f| f.viscosity_pa_s / f.density_kg_m3).map_err(|e| self.told(&e))?
                }
            },
            surface: match self.surface {
                SurfaceState::Smooth => Surface::Smooth,
                SurfaceState::Rough => Surface::Rough,
                SurfaceState::Old => Surface::Old,
            },
            stall_delay: !self.no_stall_delay,
            cache: self.polar_cache.clone().or_else(cache_folder),
            ..ComputedPolars::default()
        })
    }
}

/// A section of a table and its polar.
pub(crate) type SectionWithPolar = (SectionShape, Arc<dyn SectionPolar>);

/// A propeller whose polars are computed.
pub(crate) struct Ready {
    pub(crate) propeller: FlowPropeller,
    pub(crate) fluid: Air,
    /// The line and the radius, as a fraction of the tip radius, to which settings refer.
    pub(crate) line: (SettingOf, f64),
    pub(crate) plan: PredictPlan,
}

/// A prediction, and what it was made with.
pub(crate) struct Predicted {
    pub(crate) prediction: Prediction,
    plan: PredictPlan,
    source: ComputedPolars,
}

impl Predict {
    /// The prediction of a table with the SHA-256 of its file, which has the name that was given.
    ///
    /// # Errors
    /// As [`predict_file`].
    pub(crate) fn predicted(
        &self,
        (table, sha256): (&StationTable, String),
        observer: &dyn Observer,
    ) -> Result<Predicted, Failure> {
        self.check(&self.plan(None))?;
        let table = &*smooth_or_own(table, self.smooth_blade)?;
        let plan = self.plan(self.engine_curve()?);
        let source = self.polars(table, &plan)?;
        tell_choices(&plan, &source);
        let mut prediction = predict(table, &plan, &source, observer).map_err(|e| self.told(&e))?;
        prediction.table_file =
            self.table.file_name().map_or_else(String::new, |f| f.to_string_lossy().into_owned());
        prediction.table_sha256 = sha256;
        if self.smooth_blade {
            prediction.warnings.push(Notice::of(&TableNotice::SmoothBlade));
        }
        Ok(Predicted { prediction, plan, source })
    }

    /// The sections of a table with the polars that a prediction would use.
    ///
    /// # Errors
    /// As [`predict_file`].
    pub(crate) fn section_polars(
        &self,
        table: &StationTable,
        observer: &dyn Observer,
    ) -> Result<Vec<SectionWithPolar>, Failure> {
        self.check(&self.plan(None))?;
        let table = &*smooth_or_own(table, self.smooth_blade)?;
        let plan = self.plan(None);
        let source = self.polars(table, &plan)?;
        // The quick polars are not used: only the sections are.
        let blade = FlowBlade::of_table(table, plan.diameter_m, plan.elements, &ThinSections)
            .map_err(|e| self.told(&e))?;
        let polars = source.polars(&blade.shapes, observer).map_err(|e| self.told(&e))?;
        Ok(blade.shapes.into_iter().zip(polars).collect())
    }

    /// The propeller of a table with its polars, to be asked for one operating point after the other.
    ///
    /// # Errors
    /// As [`predict_file`].
    pub(crate) fn ready(&self, table: &StationTable, observer: &dyn Observer) -> Result<Ready, Failure> {
        self.check(&self.plan(None))?;
        let plan = self.plan(None);
        let told = |e: FlowError| self.told(&e);
        let source = self.polars(table, &plan)?;
        let root = &plan.installed.root;
        let blade = FlowBlade::rooted(table, plan.diameter_m, plan.elements, &source, observer, root);
        let blade = blade.map_err(told)?;
        let ratio = plan.setting_radius_ratio.unwrap_or_else(|| blade.reference_radius_ratio());
        let propeller = FlowPropeller::installed(blade, plan.blades, &plan.installed).map_err(told)?;
        Ok(Ready { propeller, fluid: plan.fluid().map_err(told)?, line: (plan.setting_of, ratio), plan })
    }

    /// The table that was named, and the SHA-256 of its file.
    ///
    /// # Errors
    /// As [`table_of`].
    pub(crate) fn read(&self) -> Result<(StationTable, String), Failure> {
        table_of(&self.table, self.diameter)
    }

    /// The diameter that was given, for a table that is not in a file.
    pub(crate) fn diameter(&self) -> Option<Length> {
        self.diameter
    }
}

/// `bladeform/polars` in the user's cache folder (XDG Base Directory Specification); none if there is no home folder.
fn cache_folder() -> Option<PathBuf> {
    let set = |name: &str| std::env::var_os(name).map(PathBuf::from).filter(|p| p.is_absolute());
    let base = set("XDG_CACHE_HOME").or_else(|| set("HOME").map(|home| home.join(".cache")))?;
    Some(base.join("bladeform").join("polars"))
}

/// Reads the table, predicts, writes the files, and returns the text for the user.
///
/// # Errors
/// A sentence, with the exit status it calls for.
pub(crate) fn predict_file(asked: &Predict) -> Result<Said, Failure> {
    asked.check(&asked.plan(None))?;
    let more: &[&str] = if asked.slipstream.is_empty() { &[] } else { &SLIPSTREAM_FILES };
    let names = PREDICTION_FILES.iter().chain([&PAGE, &PREDICTION_PAGE, &SCHEDULES]).chain(more);
    let read = [&asked.table]
        .into_iter()
        .chain(&asked.engine)
        .chain(&asked.scan)
        .chain(asked.polar.iter().map(|p| &p.1));
    can_be_written(names.map(|n| asked.out.join(n)), read)?;
    let (table, sha256) = asked.read()?;
    let units = asked.units.shown_of(&table);
    let held = Held::in_folder(&asked.out);
    if !asked.overwrite {
        held.must_be_of(&table, Some(&asked.table))?;
    }
    let scan = asked.scan.as_deref().map(|path| scan_named(path, &table)).transpose()?;
    let Predicted { prediction, plan, source } = asked.predicted((&table, sha256), &ToLog)?;
    let mut text = render_prediction_in(&prediction, units, &advice);
    let mut outputs = Outputs::default();
    let mut warnings: Vec<String> = prediction.warnings.iter().map(line).collect();
    let flagged = prediction.points.iter().filter(|p| !p.flags.is_empty()).count();
    if 0 < flagged {
        warnings.push(format!(
            "{flagged} of {} operating points have flags; prediction.json lists them",
            prediction.points.len()
        ));
    }
    stage("making the page");
    let page = add_prediction(&prediction, asked, &table, (scan, &held), &mut outputs)?;
    text.push_str(&page.text(units));
    warnings.extend(page.warnings);
    if !asked.slipstream.is_empty() {
        text.push_str(&add_slipstream(asked, &table, &plan, &source, &mut outputs)?);
    }
    stage("writing");
    outputs.write()?;
    Ok(Said { text, warnings })
}

/// What `--verbose` prints about the choices.
fn tell_choices(plan: &PredictPlan, source: &ComputedPolars) {
    match &source.cache {
        Some(folder) => log::debug!(target: CHOSEN, "section polars are kept in {}", folder.display()),
        None => log::debug!(target: CHOSEN, "section polars are not kept"),
    }
    log::debug!(target: CHOSEN, "{} elements per blade, threads: {}", plan.elements, parallel::threads());
}

fn read_engine(path: &Path) -> Result<EngineCurve, Failure> {
    let bytes = bytes_of(path, "a torque curve as CSV")?;
    EngineCurve::read_csv(&String::from_utf8_lossy(&bytes))
        .map_err(|e| Failure::Input(format!("{}: {e}", path.display())))
}

/// Adds the files and the page to the outputs; returns the page for its warnings.
fn add_prediction(
    prediction: &Prediction,
    asked: &Predict,
    table: &StationTable,
    (scan, held): (Option<Vec<u8>>, &Held),
    outputs: &mut Outputs,
) -> Result<Along, Failure> {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    let failed = |e: DocumentError| Failure::Input(format!("the prediction cannot be written: {e}"));
    write_prediction_json(prediction, &mut json).map_err(failed)?;
    write_prediction_csv(prediction, &mut csv).map_err(failed)?;
    let page = if asked.no_record {
        Along::default()
    } else {
        let mut table = table.clone();
        table.record.fill_from(&held.record_of(&table));
        asked.heading.add_to(&mut table.record);
        let scan = scan.map_or_else(|| scan_near(&asked.table, Some(&asked.out), &table), Ok);
        let folders = [asked.table.parent().unwrap_or(Path::new("")), &asked.out];
        let pictures = crate::photographs::found(&table.record.photographs, &folders);
        page_of_predicted(&table, &json, (scan, &pictures), held, asked.units.shown_of(&table))
    };
    for (name, content) in PREDICTION_FILES.into_iter().zip([json, csv]) {
        outputs.add(asked.out.join(name), content);
    }
    add_schedules(prediction, &asked.out, outputs)?;
    page.add_to(outputs, &asked.out);
    Ok(page)
}

/// The slipstream of every operating point: one CSV file of all, one grid file for each.
fn add_slipstream(
    asked: &Predict,
    table: &StationTable,
    plan: &PredictPlan,
    source: &dyn PolarSource,
    outputs: &mut Outputs,
) -> Result<String, Failure> {
    let table = &*smooth_or_own(table, asked.smooth_blade)?;
    let all = slipstreams(table, plan, source, &asked.slipstream).map_err(|e| asked.told(&e))?;
    let mut text: String =
        all.iter().map(|p| fitted(&asked.units.shown_of(table).text(&slipstream_told(p)))).collect();
    let points: Vec<SlipstreamPoint> = all.into_iter().filter(|p| !p.planes.is_empty()).collect();
    if points.is_empty() {
        return Err(Failure::Input("the flow does not pass through the whole disc from ahead, so there is no slipstream; omit --slipstream or choose another setting".to_owned()));
    }
    let [csv, grid] = SLIPSTREAM_FILES;
    outputs.add(asked.out.join(csv), slipstream_csv(&points));
    for p in &points {
        let name = match (points.len(), p.setting_deg) {
            (1, _) => grid.to_owned(),
            (_, Some(s)) => format!("slipstream-{s}deg-{:.2}m_s.vts", p.speed_m_s),
            (_, None) => format!("slipstream-{:.2}m_s.vts", p.speed_m_s),
        };
        outputs.add(asked.out.join(name), slipstream_vts(p));
    }
    let _ = writeln!(
        text,
        "Slipstream files: slipstream.csv and {}",
        match points.len() {
            1 => "one .vts file, for the one operating point".to_owned(),
            many => format!("{many} .vts files, one per operating point"),
        }
    );
    Ok(text)
}

/// What the slipstream of an operating point accounts for, or why there is none, as a line.
fn slipstream_told(point: &SlipstreamPoint) -> String {
    let setting =
        point.setting_deg.map_or("the table's setting".to_owned(), |s| Angle::from_deg(s).to_string());
    // Only they know the velocities between disc and far wake.
    let by = if point.speed_m_s > 0.0 { "" } else { ", by blade elements" };
    let at = format!("at {:.2} m/s, {:.0} rpm and {setting}{by}", point.speed_m_s, point.rpm);
    match point.planes.last() {
        None => format!(
            "Warning: {at} the flow does not pass through the whole disc from ahead; no slipstream is written\n"
        ),
        Some(last) => format!(
            "Slipstream {at}: far downstream its momentum accounts for {:.1} N of {:.1} N thrust ({:.1} N in the last plane, where the rest is still pressure), its swirl for {:.2} N m of {:.2} N m torque\n",
            last.momentum_thrust_n,
            point.thrust_n,
            last.momentum_here_n,
            last.momentum_torque_nm,
            point.torque_nm
        ),
    }
}
