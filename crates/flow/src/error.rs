//! Errors that prevent a prediction: one code and one sentence each.

use thiserror::Error;

/// An error that prevents a prediction.
#[derive(Clone, Debug, Error, PartialEq)]
#[non_exhaustive]
pub enum FlowError {
    /// The altitude is outside the range of the model.
    #[error(
        "the altitude is {altitude_m} m; the standard atmosphere covers -5000 m to 20000 m; give an altitude in this range"
    )]
    Altitude {
        /// The altitude, m.
        altitude_m: f64,
    },
    /// The temperature offset is implausible.
    #[error("the temperature offset is {offset_k} K; give a value between -80 K and 80 K")]
    TemperatureOffset {
        /// The offset, K.
        offset_k: f64,
    },
    /// The temperature of the water is outside the range of the formulas.
    #[error("the temperature of the water is {temperature_c} °C; give a value between 0 and 40 °C")]
    WaterTemperature {
        /// The temperature, degrees Celsius.
        temperature_c: f64,
    },
    /// The depth of the shaft cannot be used.
    #[error("the depth of the shaft is {depth_m} m; give a value between 0 and 200 m below the surface")]
    Depth {
        /// The depth, m.
        depth_m: f64,
    },
    /// The propeller does not turn.
    #[error("the rotational speed is {rpm} revolutions per minute; give a value above 0")]
    Rotation {
        /// The rotation, revolutions per minute.
        rpm: f64,
    },
    /// The speed cannot be used.
    #[error("the flight speed is {speed_m_s} m/s; give a value of at least 0 and below the speed of sound")]
    Speed {
        /// The speed, m/s.
        speed_m_s: f64,
    },
    /// The number of blades cannot be used.
    #[error("{blades} blades were requested; give a number from 1 to 12")]
    Blades {
        /// The number.
        blades: u32,
    },
    /// Too few stations have what is needed.
    #[error(
        "only {usable} of {all} stations have both a chord and a blade angle; at least 3 are needed, so measure more or complete the table"
    )]
    FewStations {
        /// Stations that can be used.
        usable: usize,
        /// Stations in the table.
        all: usize,
    },
    /// The stations do not cover the working part of the blade.
    #[error(
        "the outermost station with chord and angle is at {last_ratio:.3} R; the part of the blade that does most of the work lies beyond 0.7 R and is unknown; add stations outboard"
    )]
    NothingOutboard {
        /// Its radius as a fraction of the tip radius.
        last_ratio: f64,
    },
    /// A station has neither an outline nor the ratios that a substitute section needs.
    #[error(
        "the station at {radius_ratio:.3} R has neither an outline nor thickness_ratio with camber_ratio; add one of them"
    )]
    NoSection {
        /// The station's radius as a fraction of the tip radius.
        radius_ratio: f64,
    },
    /// The polar of a station cannot be computed.
    #[error("no polar could be made for the section at {radius_ratio:.3} R: {problem}")]
    Polar {
        /// The station's radius as a fraction of the tip radius.
        radius_ratio: f64,
        /// Why.
        problem: String,
    },
    /// The table's angles are relative and no setting was given.
    #[error(
        "the table has no setting, so its blade angles are relative to one another; give a setting, e.g. 20 deg at 0.75 R"
    )]
    NoSetting,
    /// The setting refers to the face, and the face angle is not known there.
    #[error(
        "the setting refers to the face, but fewer than two stations have a face angle; use the chord line"
    )]
    NoFaceAngle,
    /// The setting refers to a radius where the blade has no angle.
    #[error(
        "the setting is given at {ratio:.3} R, but the first blade angle of the table is at {first:.3} R; choose a radius between that and the tip, e.g. 0.75 R"
    )]
    SettingPlace {
        /// The radius of the setting, as a fraction of the tip radius.
        ratio: f64,
        /// The radius of the first angle, as a fraction of the tip radius.
        first: f64,
    },
    /// The setting is beyond the range of a blade.
    #[error("the setting {setting_deg} deg is outside the range of -90 to 90 deg")]
    Setting {
        /// The setting, deg.
        setting_deg: f64,
    },
    /// Too many points were requested.
    #[error(
        "{points} operating points were requested, and at most {most} are computed at once; use larger steps"
    )]
    TooMany {
        /// How many.
        points: usize,
        /// How many are allowed.
        most: usize,
    },
    /// The engine's curve cannot be used.
    #[error("the engine's torque curve {problem}")]
    Engine {
        /// What is wrong and how to correct it.
        problem: String,
    },
    /// At the given diameter too much of the blade would lie across the axis.
    #[error(
        "with a diameter of {:.1} mm the blade of this table, whose tip radius is {:.1} mm, would have to move {:.1} mm towards the axis, and fewer than 3 stations would be left outside it; give a diameter near {:.1} mm, or scale the table to the intended propeller", 1e3 * diameter_m, 1e3 * radius_m, 1e3 * (radius_m - 0.5 * diameter_m), 2e3 * radius_m
    )]
    DiameterFar {
        /// The diameter given, m.
        diameter_m: f64,
        /// The table's tip radius, m.
        radius_m: f64,
    },
    /// The given diameter cannot be used.
    #[error("the diameter is {diameter_m} m; give a value above 0")]
    Diameter {
        /// The diameter, m.
        diameter_m: f64,
    },
    /// Spinner, hub, shank or body cannot be.
    #[error("{problem}")]
    Installed {
        /// What is wrong and what to give, a sentence.
        problem: String,
    },
    /// The observer ended the prediction.
    #[error(transparent)]
    Stopped(#[from] bladeform_numeric::observe::Stopped),
}

impl FlowError {
    /// The short code. It is stable.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Altitude { .. } => "altitude",
            Self::TemperatureOffset { .. } => "temperature-offset",
            Self::WaterTemperature { .. } => "water-temperature",
            Self::Depth { .. } => "depth",
            Self::Rotation { .. } => "rotation",
            Self::Speed { .. } => "speed",
            Self::Blades { .. } => "blades",
            Self::FewStations { .. } => "few-stations",
            Self::NothingOutboard { .. } => "nothing-outboard",
            Self::NoSection { .. } => "no-section",
            Self::Polar { .. } => "polar",
            Self::NoSetting => "no-setting",
            Self::NoFaceAngle => "no-face-angle",
            Self::SettingPlace { .. } => "setting-place",
            Self::Setting { .. } => "setting",
            Self::TooMany { .. } => "too-many",
            Self::Engine { .. } => "engine",
            Self::DiameterFar { .. } => "diameter-far",
            Self::Diameter { .. } => "diameter",
            Self::Installed { .. } => "installed",
            Self::Stopped(_) => "stopped",
        }
    }
}
