//! Section polars computed from the outlines. They are cached on disk under a key of their input.

use crate::surface::{MeanPolar, Surface};
use crate::{FlowError, PolarSource, SectionShape};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_numeric::parallel;
use bladeform_polar::{
    GivenPolar, PolarError, SectionForces, SectionPolar, SectionTable, TableSettings, ViscousSettings,
    added_drag, delayed_lift, stall_delayed,
};
use std::f64::consts::PI;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Kinematic viscosity of air at sea level, m2/s (ISO 2533). Only the range of the tables depends on it.
const SEA_LEVEL_VISCOSITY: f64 = 1.461e-5;
/// Half a decade. Ranges are widened to whole multiples of it, so that a slightly different speed uses the same cached tables.
const HALF_DECADE: f64 = 0.5;
/// Number of Reynolds numbers in the range of one table.
const REYNOLDS_COUNT: usize = 3;
/// Least Reynolds number for which polars can be computed.
const LEAST_REYNOLDS: f64 = 1e4;

/// The same of a worn surface beside a smooth one, where only the difference counts: without bubbles its polar is plain in the Reynolds number and the angle.
const COARSE_COUNT: usize = 2;
/// Step of the angle there, rad.
const COARSE_STEP_RAD: f64 = 2.0 * PI / 180.0;

/// The boundary layers of a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Layers {
    /// Free transition.
    Free,
    /// Turbulent from near the leading edge.
    Tripped,
    /// The same in a coarser table.
    TrippedCoarsely,
}

/// A given polar that replaces the computed one at a station.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenSection {
    /// Radius of the station as a fraction of the tip radius; it must lie within [`SAME_STATION`] of one.
    pub radius_ratio: f64,
    /// Comma-separated lines in the format of [`GivenPolar::from_csv`].
    pub csv: String,
}

/// Distance within which a given polar belongs to a station, as a fraction of the tip radius.
pub const SAME_STATION: f64 = 0.02;

/// Polars from the outlines: boundary layers coupled with the outer flow, and bluff-body relations beyond stall.
#[derive(Clone, Debug)]
pub struct ComputedPolars {
    /// Circumferential speed of the tip, m/s. It sets the Reynolds numbers that are tabulated.
    pub tip_speed_m_s: f64,
    /// Kinematic viscosity of the fluid, m2/s, for the same. By default that of air at sea level, which serves at all altitudes.
    pub kinematic_viscosity_m2_s: f64,
    /// The state of the surface.
    pub surface: Surface,
    /// Logarithm of the amplification of disturbances at which a boundary layer becomes turbulent.
    pub amplification: Option<f64>,
    /// Whether rotation delays stall inboard.
    pub stall_delay: bool,
    /// Given polars that replace the computed ones at some stations.
    pub given: Vec<GivenSection>,
    /// Folder where polars are cached. Without one they are not cached.
    pub cache: Option<PathBuf>,
}

impl Default for ComputedPolars {
    fn default() -> ComputedPolars {
        ComputedPolars {
            tip_speed_m_s: 200.0,
            kinematic_viscosity_m2_s: SEA_LEVEL_VISCOSITY,
            surface: Surface::default(),
            amplification: None,
            stall_delay: true,
            given: Vec::new(),
            cache: None,
        }
    }
}

impl ComputedPolars {
    fn settings(&self, shape: &SectionShape, layers: Layers) -> TableSettings {
        let reynolds =
            self.tip_speed_m_s * shape.radius_ratio * shape.chord_m / self.kinematic_viscosity_m2_s;
        let step = |log: f64, round: fn(f64) -> f64| 10f64.powf(round(log / HALF_DECADE) * HALF_DECADE);
        let log = reynolds.max(LEAST_REYNOLDS).log10();
        let mut viscous = match layers {
            Layers::Free => ViscousSettings::default(),
            Layers::Tripped | Layers::TrippedCoarsely => ViscousSettings::rough(),
        };
        if let Some(amplification) = self.amplification {
            viscous.amplification = amplification;
        }
        let low = step(log - 0.1, f64::floor).max(LEAST_REYNOLDS);
        let high = step(log + 0.1, f64::ceil).max(2.0 * low);
        TableSettings {
            viscous,
            reynolds: [low, high],
            ..match layers {
                Layers::TrippedCoarsely => TableSettings {
                    reynolds_count: COARSE_COUNT,
                    step_rad: COARSE_STEP_RAD,
                    ..TableSettings::default()
                },
                _ => TableSettings { reynolds_count: REYNOLDS_COUNT, ..TableSettings::default() },
            }
        }
    }

    /// The sentence of a polar error, with the origin of its Reynolds numbers.
    fn explained(&self, shape: &SectionShape, error: &PolarError) -> String {
        match error {
            PolarError::Setting { .. } => format!(
                "{error}. It follows from the rotation, the radius and the chord: the section turns at {:.1} m/s and its chord is {:.4} m; check the rotation and the lengths of the table",
                self.tip_speed_m_s * shape.radius_ratio,
                shape.chord_m
            ),
            _ => error.to_string(),
        }
    }

    fn table(&self, shape: &SectionShape, layers: Layers) -> Result<SectionTable, FlowError> {
        let settings = self.settings(shape, layers);
        let key = SectionTable::content_key(&shape.outline, &settings);
        let file = self.cache.as_ref().map(|folder| folder.join(format!("{key}.polar")));
        let kept = file.as_ref().and_then(|file| std::fs::read(file).ok());
        // If the file is damaged or of another version, the polar is computed again.
        if let Some(table) = kept.and_then(|bytes| SectionTable::from_bytes(&bytes, &key).ok()) {
            return Ok(table);
        }
        let table = SectionTable::compute(&shape.outline, &settings).map_err(|e| FlowError::Polar {
            radius_ratio: shape.radius_ratio,
            problem: self.explained(shape, &e),
        })?;
        if let Some(file) = &file {
            keep(file, &table.to_bytes(), &key);
        }
        Ok(table)
    }
}

impl ComputedPolars {
    /// The polar of a section on the rotating blade.
    fn rotating(&self, shape: &SectionShape, layers: Layers) -> Result<Arc<dyn SectionPolar>, FlowError> {
        let table = self.table(shape, layers)?;
        // Rotation delays stall on a lifting section but has no such effect on the wake of a shank.
        if !self.stall_delay || shape.is_bluff {
            return Ok(Arc::new(table));
        }
        Ok(Arc::new(Rotating { table, chord_over_radius: shape.chord_over_radius }))
    }

    /// The given polar of each section, if there is one.
    fn given_at(&self, shapes: &[SectionShape]) -> Result<Vec<Option<GivenPolar>>, FlowError> {
        let mut at: Vec<Option<GivenPolar>> = vec![None; shapes.len()];
        for given in &self.given {
            let radius_ratio = given.radius_ratio;
            let refused = |problem: String| FlowError::Polar { radius_ratio, problem };
            let distance = |i: &usize| (shapes[*i].radius_ratio - radius_ratio).abs();
            let nearest = (0..shapes.len())
                .min_by(|a, b| distance(a).total_cmp(&distance(b)))
                .filter(|i| distance(i) < SAME_STATION)
                .ok_or_else(|| refused("no station lies within 0.02 R of the given polar's place; name a station's radius ratio".to_owned()))?;
            let shape = &shapes[nearest];
            let polar = GivenPolar::from_csv(&given.csv, shape.thickness_ratio)
                .map_err(|e| refused(e.to_string()))?;
            if at[nearest].replace(polar).is_some() {
                return Err(refused("two polars are given for that station; keep one".to_owned()));
            }
        }
        Ok(at)
    }
}

/// Caches a polar. A failure only costs time later and changes no figure, so it is not an error.
fn keep(file: &std::path::Path, bytes: &[u8], key: &str) {
    let Some(folder) = file.parent() else { return };
    // Another run at the same time must not read half a file.
    let part = folder.join(format!("{key}.{}.part", std::process::id()));
    let whole = std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::write(&part, bytes))
        .and_then(|()| std::fs::rename(&part, file));
    if whole.is_err() {
        let _ = std::fs::remove_file(&part);
    }
}

impl PolarSource for ComputedPolars {
    fn polars(
        &self,
        shapes: &[SectionShape],
        observer: &dyn Observer,
    ) -> Result<Vec<Arc<dyn SectionPolar>>, FlowError> {
        let given = self.given_at(shapes)?;
        let places: Vec<usize> = (0..shapes.len()).collect();
        let begun = AtomicUsize::new(0);
        let polars = parallel::map(&places, |&i| -> Result<Arc<dyn SectionPolar>, FlowError> {
            let done = begun.fetch_add(1, Ordering::Relaxed);
            report(observer, Stage { name: "section polars", done, total: places.len() })?;
            if let Some(given) = &given[i] {
                return Ok(Arc::new(given.clone()));
            }
            let first = if self.surface == Surface::Rough { Layers::Tripped } else { Layers::Free };
            let polar = self.rotating(&shapes[i], first)?;
            // The wake of a shank does not depend on the layers ahead of it.
            if self.surface != Surface::Old || shapes[i].is_bluff {
                return Ok(polar);
            }
            let worn = self.rotating(&shapes[i], Layers::TrippedCoarsely)?;
            Ok(Arc::new(MeanPolar { smooth: polar, worn }))
        });
        polars.into_iter().collect()
    }

    fn method(&self) -> String {
        format!(
            "polars computed from the outlines with coupled boundary layers, {}, bluff-body relations beyond stall, {}{}",
            match self.surface {
                Surface::Smooth => "free transition",
                Surface::Rough => "turbulent from 5 % of the chord on",
                Surface::Old =>
                    "the mean of free transition and of layers that are turbulent from 5 % of the chord on (an old surface)",
            },
            if self.stall_delay {
                "stall delayed by rotation inboard, drag of stalled sections raised by rotation"
            } else {
                "without stall delay by rotation"
            },
            if self.given.is_empty() {
                String::new()
            } else {
                let at: Vec<String> = self.given.iter().map(|g| format!("{:.3} R", g.radius_ratio)).collect();
                format!("; the user's own polars at {}", at.join(", "))
            }
        )
    }
}

/// A section on a rotating blade.
struct Rotating {
    table: SectionTable,
    chord_over_radius: f64,
}

impl SectionPolar for Rotating {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let (forces, attached) = self.table.forces_and_attached(alpha_rad, reynolds, mach);
        attached.map_or(forces, |a| stall_delayed(forces, alpha_rad, self.chord_over_radius, a))
    }

    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let (lift, attached) = self.table.lift_and_attached(alpha_rad, reynolds, mach);
        attached.map_or(lift, |a| delayed_lift(lift, alpha_rad, self.chord_over_radius, a))
    }

    fn without_lift(&self) -> Option<[f64; 2]> {
        self.table.without_lift()
    }

    fn rotating_drag(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let Some((share, least)) = self.table.separated(alpha_rad, reynolds, mach) else { return 0.0 };
        let drag = self.table.forces(alpha_rad, reynolds, mach).drag;
        added_drag(drag, alpha_rad, self.chord_over_radius, least, share)
    }

    fn least_pressure(&self, alpha_rad: f64, reynolds: f64) -> Option<f64> {
        self.table.least_pressure(alpha_rad, reynolds)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_numeric::observe::Silent;
    use bladeform_section::Family;

    fn shape(radius_ratio: f64) -> SectionShape {
        SectionShape {
            radius_ratio,
            chord_over_radius: 0.1,
            chord_m: 0.1,
            outline: Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }.outline(200),
            thickness_ratio: 0.12,
            camber_ratio: 0.0,
            is_bluff: false,
            is_stand_in: false,
        }
    }

    #[test]
    fn a_given_polar_is_used_at_its_station_alone() {
        let csv = "-4,-0.3,0.02,1e6\n0,0.1,0.02,1e6\n4,0.5,0.02,1e6\n".to_owned();
        let given = |radius_ratio: f64| GivenSection { radius_ratio, csv: csv.clone() };
        let source = ComputedPolars { given: vec![given(0.705)], ..ComputedPolars::default() };
        let polars = source.polars(&[shape(0.5), shape(0.7)], &Silent).unwrap();
        assert!(polars[0].forces(0.0, 1e6, 0.0).lift.abs() < 1e-3);
        assert!((polars[1].forces(0.0, 1e6, 0.0).lift - 0.1).abs() < 1e-9);
        assert!(source.method().contains("0.705 R"));
        let nowhere = ComputedPolars { given: vec![given(0.6)], ..ComputedPolars::default() };
        assert!(
            nowhere
                .polars(&[shape(0.5), shape(0.7)], &Silent)
                .is_err_and(|e| e.to_string().contains("no station"))
        );
        let twice = ComputedPolars { given: vec![given(0.7), given(0.71)], ..ComputedPolars::default() };
        assert!(twice.polars(&[shape(0.7)], &Silent).is_err_and(|e| e.to_string().contains("two polars")));
    }

    #[test]
    fn rotation_gives_a_round_shank_no_lift() {
        let round = SectionShape {
            chord_over_radius: 0.55,
            outline: Family::Ellipse { thickness: 1.0 }.outline(200),
            thickness_ratio: 1.0,
            is_bluff: true,
            ..shape(0.2)
        };
        let polars = ComputedPolars::default().polars(&[round], &Silent).unwrap();
        let forces = polars[0].forces(-0.15, 3e5, 0.1);
        assert!(forces.lift.abs() < 0.02 && forces.drag > 0.3, "{forces:?}");
        assert!((polars[0].lift(-0.15, 3e5, 0.1) - forces.lift).abs() < 1e-12);
    }
}
