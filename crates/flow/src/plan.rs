//! What is asked of a propeller, checked.

use crate::blade::DEFAULT_ELEMENTS;
use crate::engine::EngineCurve;
use bladeform_table::SettingOf;

/// Most points computed at once: a map of 61 settings and 200 advance ratios fits, a slip of the hand does not.
pub const MOST_POINTS: usize = 20_000;

/// How fast the propeller flies.
#[derive(Clone, Debug, PartialEq)]
pub enum Flight {
    /// One speed, m/s; 0 is the static point.
    Speed(f64),
    /// Advance ratios at the rotation of the plan.
    Advance(Vec<f64>),
}

/// What is asked.
#[derive(Clone, Debug)]
pub struct PredictPlan {
    /// Number of blades.
    pub blades: u32,
    /// Diameter, m; the table's when `None`.
    pub diameter_m: Option<f64>,
    /// Rotation, revolutions a minute.
    pub rpm: f64,
    /// Speed of flight.
    pub flight: Flight,
    /// Settings, deg; the table's own when empty.
    pub settings_deg: Vec<f64>,
    /// Where the settings hold, as a fraction of the tip radius; the table's reference radius when `None`.
    pub setting_radius_ratio: Option<f64>,
    /// Which line has the settings' angle.
    pub setting_of: SettingOf,
    /// Geopotential altitude, m.
    pub altitude_m: f64,
    /// How much warmer the air is than the standard, K.
    pub temperature_offset_k: f64,
    /// Power that is to be absorbed, W.
    pub power_w: Option<f64>,
    /// Torque of an engine on a propeller of fixed pitch.
    pub engine: Option<EngineCurve>,
    /// Whether the free wake of a propeller at rest is solved.
    pub free_wake: bool,
    /// Elements over the blade.
    pub elements: usize,
}

impl Default for PredictPlan {
    fn default() -> PredictPlan {
        PredictPlan {
            blades: 2,
            diameter_m: None,
            rpm: 0.0,
            flight: Flight::Speed(0.0),
            settings_deg: Vec::new(),
            setting_radius_ratio: None,
            setting_of: SettingOf::Chord,
            altitude_m: 0.0,
            temperature_offset_k: 0.0,
            power_w: None,
            engine: None,
            free_wake: true,
            elements: DEFAULT_ELEMENTS,
        }
    }
}
