//! The plan of a prediction.

use crate::blade::DEFAULT_ELEMENTS;
use crate::engine::EngineCurve;
use crate::fixed_pitch::FixedPitchPlan;
use crate::{Air, FlowError, InstalledPlan, Operation, WaterPlan};
use bladeform_table::SettingOf;

/// Most points computed at once. A map of 61 settings and 200 advance ratios fits; a typing error does not.
pub const MOST_POINTS: usize = 20_000;

/// The flight speed of the propeller.
#[derive(Clone, Debug, PartialEq)]
pub enum Flight {
    /// One speed, m/s. 0 is the static point.
    Speed(f64),
    /// Several speeds, m/s.
    Speeds(Vec<f64>),
    /// Advance ratios at the rotational speed of the plan.
    Advance(Vec<f64>),
}

/// The plan of a prediction: what to compute.
#[derive(Clone, Debug)]
pub struct PredictPlan {
    /// Number of blades.
    pub blades: u32,
    /// Diameter, m. `None`: that of the table.
    pub diameter_m: Option<f64>,
    /// Rotational speed, revolutions per minute.
    pub rpm: f64,
    /// Speed of flight.
    pub flight: Flight,
    /// Settings, deg. Empty: that of the table.
    pub settings_deg: Vec<f64>,
    /// Radius to which the settings refer, as a fraction of the tip radius. `None`: the reference radius of the table.
    pub setting_radius_ratio: Option<f64>,
    /// The line whose angle the settings are.
    pub setting_of: SettingOf,
    /// Geopotential altitude, m.
    pub altitude_m: f64,
    /// How much warmer the air is than the standard, K.
    pub temperature_offset_k: f64,
    /// The water, if the propeller works in water. The altitude is then that of its surface.
    pub water: Option<WaterPlan>,
    /// Spinner, hub, shank and the body behind the propeller.
    pub installed: InstalledPlan,
    /// Power to absorb, W.
    pub power_w: Option<f64>,
    /// Torque of an engine that drives a fixed-pitch propeller.
    pub engine: Option<EngineCurve>,
    /// Whether one fixed setting for several flight speeds is looked for, with the engine.
    pub fixed_pitch: Option<FixedPitchPlan>,
    /// Whether the free wake is solved at zero speed.
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
            water: None,
            installed: InstalledPlan::default(),
            power_w: None,
            engine: None,
            fixed_pitch: None,
            free_wake: true,
            elements: DEFAULT_ELEMENTS,
        }
    }
}

impl PredictPlan {
    /// The fluid of the plan.
    ///
    /// # Errors
    /// Those of [`Air::standard`] and [`Air::water`].
    pub fn fluid(&self) -> Result<Air, FlowError> {
        match &self.water {
            Some(water) => Air::water(water, self.altitude_m),
            None => Air::standard(self.altitude_m, self.temperature_offset_k),
        }
    }

    /// The flight conditions in the order of the plan, for a diameter in m.
    pub(crate) fn operations(&self, diameter_m: f64, air: Air) -> Result<Vec<Operation>, FlowError> {
        match &self.flight {
            Flight::Speed(v) => Ok(vec![Operation::new(*v, self.rpm, air)?]),
            Flight::Speeds(speeds) => speeds.iter().map(|v| Operation::new(*v, self.rpm, air)).collect(),
            Flight::Advance(ratios) => {
                let speed = |j: &f64| Operation::new(j * self.rpm / 60.0 * diameter_m, self.rpm, air);
                ratios.iter().map(speed).collect()
            }
        }
    }
}
