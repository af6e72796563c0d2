//! Section polars computed from the outlines, kept on disk by what they were computed from.

use crate::predict::on_threads;
use crate::{FlowError, PolarSource, SectionShape};
use bladeform_polar::{
    SectionForces, SectionPolar, SectionTable, TableSettings, ViscousSettings, stall_delayed,
};
use std::path::PathBuf;
use std::sync::Arc;

/// Kinematic viscosity of air at sea level, m2/s (ISO 2533): only the range of the tables hangs on it.
const SEA_LEVEL_VISCOSITY: f64 = 1.461e-5;
/// Half a decade: ranges are widened to whole ones, so that a little more speed finds the same tables again.
const HALF_DECADE: f64 = 0.5;
/// Reynolds numbers of one table over its range.
const REYNOLDS_COUNT: usize = 3;
/// The range that the computing can do at all.
const LEAST_REYNOLDS: f64 = 1e4;

/// Polars from the outlines: boundary layers coupled with the outer flow, beyond stall by bluff-body relations.
#[derive(Clone, Debug)]
pub struct ComputedPolars {
    /// Speed of the tip along its circle, m/s: it sets the Reynolds numbers that are tabulated.
    pub tip_speed_m_s: f64,
    /// Whether the surface is rough or old, so that its layers are turbulent from near the nose.
    pub rough: bool,
    /// Logarithm of the disturbance's amplification at which a layer turns turbulent.
    pub amplification: Option<f64>,
    /// Whether rotation delays stall inboard.
    pub stall_delay: bool,
    /// Folder where polars are kept; none are without one.
    pub cache: Option<PathBuf>,
    /// Threads to work with; the result does not depend on it.
    pub threads: usize,
}

impl Default for ComputedPolars {
    fn default() -> ComputedPolars {
        ComputedPolars {
            tip_speed_m_s: 200.0,
            rough: false,
            amplification: None,
            stall_delay: true,
            cache: None,
            threads: 2,
        }
    }
}

impl ComputedPolars {
    fn settings(&self, shape: &SectionShape) -> TableSettings {
        let reynolds = self.tip_speed_m_s * shape.radius_ratio * shape.chord_m / SEA_LEVEL_VISCOSITY;
        let step = |log: f64, round: fn(f64) -> f64| 10f64.powf(round(log / HALF_DECADE) * HALF_DECADE);
        let log = reynolds.max(LEAST_REYNOLDS).log10();
        let mut viscous = if self.rough { ViscousSettings::rough() } else { ViscousSettings::default() };
        if let Some(amplification) = self.amplification {
            viscous.amplification = amplification;
        }
        let low = step(log - 0.1, f64::floor).max(LEAST_REYNOLDS);
        let high = step(log + 0.1, f64::ceil).max(2.0 * low);
        TableSettings {
            viscous,
            reynolds: [low, high],
            reynolds_count: REYNOLDS_COUNT,
            ..TableSettings::default()
        }
    }

    fn table(&self, shape: &SectionShape) -> Result<SectionTable, FlowError> {
        let settings = self.settings(shape);
        let key = SectionTable::content_key(&shape.outline, &settings);
        let file = self.cache.as_ref().map(|folder| folder.join(format!("{key}.polar")));
        let kept = file.as_ref().and_then(|file| std::fs::read(file).ok());
        // A file that is damaged or of another version is computed anew.
        if let Some(table) = kept.and_then(|bytes| SectionTable::from_bytes(&bytes, &key).ok()) {
            return Ok(table);
        }
        let table = SectionTable::compute(&shape.outline, &settings)
            .map_err(|e| FlowError::Polar { radius_ratio: shape.radius_ratio, problem: e.to_string() })?;
        if let Some(file) = &file {
            keep(file, &table.to_bytes(), &key);
        }
        Ok(table)
    }
}

/// Keeps a polar for the next time. That it cannot be kept costs time, not a figure, so it is no error.
fn keep(file: &std::path::Path, bytes: &[u8], key: &str) {
    let Some(folder) = file.parent() else { return };
    // Two runs at once must not see half a file.
    let beside = folder.join(format!("{key}.{}.part", std::process::id()));
    let whole = std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::write(&beside, bytes))
        .and_then(|()| std::fs::rename(&beside, file));
    if whole.is_err() {
        let _ = std::fs::remove_file(&beside);
    }
}

impl PolarSource for ComputedPolars {
    fn polars(&self, shapes: &[SectionShape]) -> Result<Vec<Arc<dyn SectionPolar>>, FlowError> {
        let tables = on_threads(shapes, self.threads, |shape| self.table(shape));
        let polar = |(shape, table): (&SectionShape, Result<SectionTable, FlowError>)| {
            let rotating = Rotating { table: table?, chord_over_radius: shape.chord_over_radius };
            let polar: Arc<dyn SectionPolar> =
                if self.stall_delay { Arc::new(rotating) } else { Arc::new(rotating.table) };
            Ok(polar)
        };
        shapes.iter().zip(tables).map(polar).collect()
    }

    fn method(&self) -> String {
        format!(
            "polars computed from the outlines with coupled boundary layers, {}, beyond stall by bluff-body relations, {}",
            if self.rough { "tripped near the nose" } else { "free transition" },
            if self.stall_delay {
                "stall delayed by rotation inboard"
            } else {
                "without the delay of stall by rotation"
            }
        )
    }
}

/// A section on a turning blade.
struct Rotating {
    table: SectionTable,
    chord_over_radius: f64,
}

impl SectionPolar for Rotating {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let forces = self.table.forces(alpha_rad, reynolds, mach);
        stall_delayed(forces, alpha_rad, self.chord_over_radius, self.table.unseparated_lift(alpha_rad))
    }
}
