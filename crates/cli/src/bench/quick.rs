//! Quick answers of the prediction: the propeller with its polars stays in memory, and one operating point by blade elements takes milliseconds.

use bladeform::predict::Operation;
use bladeform::work::Observer;
use serde_json::{Value, json};

use crate::arguments::Command;
use crate::failure::Failure;
use crate::predict::Ready;
use bladeform::table::StationTable;

/// A propeller that answers.
pub(super) struct Quick {
    ready: Ready,
    /// The table and the choices that it was made from.
    pub(super) of: String,
}

impl Quick {
    /// Computes the polars of a table, or reads those that are kept.
    ///
    /// # Errors
    /// Those of the command.
    pub(super) fn new(
        command: &Command,
        table: &StationTable,
        of: String,
        observer: &dyn Observer,
    ) -> Result<Self, Failure> {
        let Command::Predict(asked) = command else {
            return Err(Failure::Input("only a prediction has quick answers".to_owned()));
        };
        Ok(Self { ready: asked.ready(table, observer)?, of })
    }

    /// Where the sliders stand at first, and what they refer to.
    pub(super) fn shown(&self) -> Value {
        let Ready { propeller, line: (line, ratio), plan, .. } = &self.ready;
        let table_deg = propeller.blade.table_angle_deg(*line, *ratio).ok();
        json!({
            "setting_deg": plan.settings_deg.first().copied().or(table_deg.filter(|_| !propeller.blade.angles_are_relative())),
            "rpm": plan.rpm,
            "radius_ratio": ratio,
            "line": line.as_str(),
            "diameter_m": propeller.diameter_m(),
            "blades": plan.blades,
        })
    }

    /// One operating point: blade elements without the second model, near rest without the free wake.
    ///
    /// # Errors
    /// A sentence if the setting, the rotation or the speed cannot be.
    pub(super) fn answer(&self, setting_deg: f64, rpm: f64, speed_m_s: f64) -> Result<Value, Failure> {
        let Ready { propeller, fluid, line: (line, ratio), .. } = &self.ready;
        let failed = |e: bladeform::predict::FlowError| Failure::of(e.code(), e.to_string());
        let operation = Operation::new(speed_m_s, rpm, *fluid).map_err(failed)?;
        let turn = propeller.blade.turn_rad(setting_deg, *line, *ratio).map_err(failed)?;
        let p = propeller.performance(turn, &operation);
        Ok(json!({
            "thrust_n": p.thrust_n,
            "power_w": p.power_w(),
            "torque_nm": p.torque_nm,
            "efficiency": p.efficiency(),
            "advance_ratio": p.advance_ratio(),
            "tip_mach": p.helical_tip_mach(),
            "stalled": p.stalled_fraction(),
        }))
    }
}
