//! Two screws of the Wageningen B series in open water, built from the published tables of their sections, and predictions for them.
//!
//! The sections of the tables lie on cylinders and are unrolled. A blade element is such a section: its forces are those of the plane section of the same shape in a straight stream, at the
//! angle of its nose-tail line. So nothing is converted. What elements leave out at these widths is the curvature of the stream along the chord in three dimensions (lifting surface); the
//! turn of the stream by `ChordwiseTurn` stands for a part of it.

use bladeform_flow::{
    Air, ComputedPolars, FlowBlade, FlowPropeller, LiftingLine, Operation, Performance, PolarRegion,
    PolarSource, Surface, TestedState, WaterPlan, lifting_line,
};
use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_section::faired;
use bladeform_table::{BladeFigures, SectionOutline, Station, StationTable, Water};
use std::error::Error;
use std::f64::consts::PI;
use std::io::Write;
use std::path::PathBuf;

use crate::markdown::Table;
use crate::tested_classes::Found;

/// Chords, thicknesses and pitches: source at the top of the file.
const GEOMETRY: &str = include_str!("../../specimen/data/wageningen_b_geometry.csv");
/// Section ordinates.
const SECTIONS: &str = include_str!("../../specimen/data/wageningen_b_sections_v1_v2.csv");
/// Open-water points.
const OPEN_WATER: &str = include_str!("../data/wageningen_b_open_water_points.csv");
/// Elements over the blade.
const ELEMENTS: usize = 32;
/// Points along one side of an outline before smoothing, and of a smoothed outline.
const ORDINATES: usize = 400;
/// See [`ORDINATES`].
const CORNERS: usize = 240;
/// Diameter, m; only the Reynolds number counts.
const DIAMETER_M: f64 = 1.0;
/// Reynolds number of the section at 0.75 R in the published points.
const REYNOLDS: f64 = 2e6;
/// Between the last row of the table and the tip the outline is an ellipse (head of the file); its stations.
const TIP_STATIONS: [f64; 2] = [0.95, 0.98];

/// One of the two screws.
pub(crate) struct Screw {
    /// Its name in the data.
    pub(crate) name: &'static str,
    table: &'static str,
    blades: u32,
    area_ratio: f64,
    pitch_ratio: f64,
}

/// The screws of the data.
pub(crate) const SCREWS: [Screw; 2] = [
    Screw { name: "B4-70", table: "Z4", blades: 4, area_ratio: 0.7, pitch_ratio: 1.0 },
    Screw { name: "B3-50", table: "Z3", blades: 3, area_ratio: 0.5, pitch_ratio: 0.8 },
];

fn numbers(line: &str, skip: usize) -> Vec<f64> {
    line.split(',').skip(skip).filter_map(|c| c.trim().parse().ok()).collect()
}

/// A column of the geometry over the radius ratio.
fn column(table: &str, k: usize) -> Option<MonotoneCubic> {
    let rows = GEOMETRY.lines().filter(|l| l.split(',').next() == Some(table)).map(|l| numbers(l, 1));
    // The tip's row is rounded and stands for none.
    let points: Vec<(f64, f64)> =
        rows.filter(|n| n.len() == 7 && (n[0] < 1.0 || k >= 4)).map(|n| (n[0], n[k])).collect();
    MonotoneCubic::through(&points)
}

/// `V1` and `V2` over `P` at a radius of the table.
fn ordinates(ratio: f64) -> Option<[MonotoneCubic; 2]> {
    let rows: Vec<Vec<f64>> = SECTIONS
        .lines()
        .map(|l| numbers(l, 0))
        .filter(|n| n.len() == 4 && (n[0] - ratio).abs() < 1e-9)
        .collect();
    let of = |k: usize| MonotoneCubic::through(&rows.iter().map(|n| (n[1], n[k])).collect::<Vec<_>>());
    Some([of(2)?, of(3)?])
}

impl Screw {
    fn chord_over_diameter(&self, ratio: f64) -> Result<f64, Box<dyn Error>> {
        let of_table = column(self.table, 1).ok_or("no chords")?;
        let inside = of_table.value(ratio.min(0.9));
        let beyond = ((ratio - 0.9) / 0.1).max(0.0);
        let round = (1.0 - beyond * beyond).sqrt();
        Ok(inside * round * self.area_ratio / f64::from(self.blades))
    }

    /// The station at a radius ratio: outline and angle of the nose-tail line.
    fn station(&self, ratio: f64) -> Result<Station, Box<dyn Error>> {
        let at = |k: usize| column(self.table, k).map(|c| c.value(ratio.min(1.0))).ok_or("no column");
        let chord = self.chord_over_diameter(ratio)?;
        let thickness = at(4)? - at(5)? * f64::from(self.blades);
        // Beyond 0.9 R the thickest point is at the middle of the chord, and the sections are those of the last row.
        let thickest = if ratio <= 0.9 { at(3)? } else { 0.5 };
        let [v1, v2] = ordinates(ratio.min(0.9)).ok_or("no ordinates")?;
        let (t, face_pitch) = (thickness / chord, self.pitch_ratio * at(6)?);
        // Along the chord from the leading edge, and above the pitch line.
        let place = |p: f64| if p < 0.0 { thickest - p * (1.0 - thickest) } else { thickest * (1.0 - p) };
        let side = |p: f64, back: bool| [place(p), t * (v1.value(p) + if back { v2.value(p) } else { 0.0 })];
        // Denser at the edges.
        let steps = (0..=ORDINATES).map(|k| -(PI * k as f64 / ORDINATES as f64).cos());
        let back: Vec<[f64; 2]> = steps.clone().map(|p| side(p, true)).collect();
        let face: Vec<[f64; 2]> = steps.rev().skip(1).map(|p| side(p, false)).take(ORDINATES - 1).collect();
        let raised = (back[ORDINATES][1] - back[0][1]).atan();
        let (sin, cos) = raised.sin_cos();
        let nose = back[ORDINATES];
        let outline: Vec<[f64; 2]> = back
            .iter()
            .chain(&face)
            .map(|[x, y]| [x - nose[0], y - nose[1]])
            .map(|[x, y]| [x * cos - y * sin, x * sin + y * cos])
            .collect();
        let smooth = faired(&outline)?.outline(CORNERS);
        let chord_m = chord * DIAMETER_M;
        let points: Vec<[f64; 2]> = smooth.iter().map(|p| p.map(|v| v * chord_m)).collect();
        let face_deg = (face_pitch / (PI * ratio)).atan().to_degrees();
        Ok(Station {
            chord_m: Some(chord_m),
            blade_angle_deg: Some(face_deg + raised.to_degrees()),
            face_angle_deg: Some(face_deg),
            outline: Some(SectionOutline::from_points(&points)),
            ..Station::at(0.5 * ratio * DIAMETER_M, 0.5 * DIAMETER_M)
        })
    }

    /// The screw with every so many stations, and its rotational speed, revolutions per minute.
    pub(crate) fn propeller(
        &self,
        every: usize,
        cache: Option<PathBuf>,
    ) -> Result<(FlowPropeller, f64), Box<dyn Error>> {
        let water = water()?;
        let kinematic = water.viscosity_pa_s / water.density_kg_m3;
        let turns = REYNOLDS * kinematic
            / (self.chord_over_diameter(0.75)? * DIAMETER_M * 0.75 * PI * DIAMETER_M).max(f64::MIN_POSITIVE);
        let table = StationTable {
            blade: BladeFigures { radius_m: 0.5 * DIAMETER_M, ..BladeFigures::default() },
            stations: (2..=9)
                .map(|k| f64::from(k) / 10.0)
                .chain(TIP_STATIONS)
                .enumerate()
                .filter(|(k, _)| k.is_multiple_of(every))
                .map(|(_, ratio)| self.station(ratio))
                .collect::<Result<Vec<_>, _>>()?,
            ..StationTable::default()
        };
        let source = ComputedPolars {
            tip_speed_m_s: turns * PI * DIAMETER_M,
            kinematic_viscosity_m2_s: kinematic,
            cache,
            // Polished models.
            surface: Surface::Smooth,
            ..ComputedPolars::default()
        };
        let blade = FlowBlade::of_table(&table, None, ELEMENTS, &source as &dyn PolarSource)?;
        Ok((FlowPropeller::new(blade, self.blades)?, 60.0 * turns))
    }

    /// The published points: advance ratio, `K_T`, `10 K_Q`, efficiency.
    pub(crate) fn points(&self) -> Vec<[f64; 4]> {
        let rows =
            OPEN_WATER.lines().filter(|l| l.split(',').next() == Some(self.name)).map(|l| numbers(l, 4));
        rows.filter(|n| n.len() == 4).map(|n| [n[0], n[1], n[2], n[3]]).collect()
    }
}

/// Fresh water at 15 degrees.
fn water() -> Result<Air, Box<dyn Error>> {
    Ok(Air::water(&WaterPlan { kind: Water::Fresh, temperature_c: 15.0, depth_m: None }, 0.0)?)
}

/// By blade elements, and by the lifting line in flight.
pub(crate) fn open_water(
    propeller: &FlowPropeller,
    rpm: f64,
    advance_ratio: f64,
) -> Result<(Performance, Option<LiftingLine>), Box<dyn Error>> {
    let operation = Operation::new(advance_ratio * rpm / 60.0 * propeller.diameter_m(), rpm, water()?)?;
    let p = propeller.performance(0.0, &operation);
    let line = if advance_ratio > 0.0 { lifting_line(propeller, 0.0, &p) } else { None };
    Ok((p, line))
}

/// Prints every point and calls `add` with its differences of thrust, torque and efficiency.
pub(crate) fn print(
    out: &mut std::io::Stdout,
    cache: Option<&PathBuf>,
    every: usize,
    mut add: impl FnMut(Found),
) -> Result<(), Box<dyn Error>> {
    let title = "Wageningen B screws in open water (regression of the published tests at Reynolds number 2e6), without a goal; BE: blade elements, LL: lifting line; bridged: fraction of the span whose polar is interpolated because the boundary layers at the thin sharp nose did not converge";
    let headings = [
        "screw",
        "J",
        "K_T published",
        "BE",
        "LL",
        "10 K_Q published",
        "BE",
        "LL",
        "eta_0 published",
        "BE",
        "stalled",
        "bridged",
    ];
    let mut lines = Vec::new();
    for screw in SCREWS {
        let (propeller, rpm) = screw.propeller(every, cache.cloned())?;
        for [j, thrust, torque, eta] in screw.points() {
            let (p, line) = open_water(&propeller, rpm, j)?;
            let differences = [
                Some(p.thrust_coefficient() / thrust - 1.0),
                Some(10.0 * p.torque_coefficient() / torque - 1.0),
                p.efficiency().map(|ours| ours - eta),
            ];
            for (quantity, difference) in differences.into_iter().enumerate() {
                let (Some(state), Some(difference)) = (TestedState::of(&p), difference) else { continue };
                let (propeller, run) = (screw.name.to_owned(), "open water".to_owned());
                add(Found { state, propeller, run, advance_ratio: j, quantity, difference });
            }
            let off =
                |ours: f64, published: f64| format!("{ours:.4} ({:+.1} %)", 100.0 * (ours / published - 1.0));
            let dash = || "-".to_owned();
            let by_line = |k: usize| {
                line.as_ref().map_or_else(dash, |l| match k {
                    0 => off(p.thrust_coefficient() * l.thrust_n / p.thrust_n, thrust),
                    _ => off(10.0 * p.torque_coefficient() * l.torque_nm / p.torque_nm, torque),
                })
            };
            let of_eta =
                |p: &Performance| p.efficiency().map_or_else(dash, |e| format!("{e:.4} ({:+.3})", e - eta));
            lines.push([
                screw.name.to_owned(),
                format!("{j:.2}"),
                format!("{thrust:.4}"),
                off(p.thrust_coefficient(), thrust),
                by_line(0),
                format!("{torque:.4}"),
                off(10.0 * p.torque_coefficient(), torque),
                by_line(1),
                format!("{eta:.4}"),
                of_eta(&p),
                format!("{:.2}", p.stalled_fraction()),
                format!("{:.2}", bridged(&p)),
            ]);
        }
    }
    let table = Table::begin(out, title, &headings)?;
    for cells in lines {
        table.row(out, &cells)?;
    }
    writeln!(out)?;
    Ok(())
}

/// Fraction of the span whose polar is interpolated.
fn bridged(p: &Performance) -> f64 {
    let width = |only: bool| -> f64 {
        let of = p.elements.iter().filter(|e| !only || e.forces.region == PolarRegion::Bridged);
        of.map(|e| e.width_m).sum()
    };
    width(true) / width(false)
}

/// Expanded area over the disc from the root at `from`, by the chords: a check of the reading.
#[cfg(test)]
fn expanded_area(screw: &Screw, from: f64) -> f64 {
    const PARTS: usize = 2000;
    let width = (1.0 - from) / PARTS as f64;
    let chord = |k: usize| screw.chord_over_diameter(from + (k as f64 + 0.5) * width).unwrap_or(f64::NAN);
    2.0 / PI * f64::from(screw.blades) * (0..PARTS).map(chord).sum::<f64>() * width
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]
    use super::*;

    #[test]
    fn the_built_screws_have_the_published_figures() {
        // Heads of the data: the table gives the nominal area within 2 %.
        for (screw, from) in SCREWS.iter().zip([0.167, 0.18]) {
            assert!((expanded_area(screw, from) / screw.area_ratio - 1.0).abs() < 0.02);
        }
        // Worked sections (computed from the same tables by another hand): nose-tail less face 0.322 deg, face 37.089 deg, chord 0.35875 D at 0.4 R of B4-70.
        let station = SCREWS[0].station(0.4).unwrap();
        let (angle, face) = (station.blade_angle_deg.unwrap(), station.face_angle_deg.unwrap());
        assert!((face - 37.089).abs() < 1e-3 && (angle - face - 0.322).abs() < 2e-3, "{face} {angle}");
        assert!((station.chord_m.unwrap() / DIAMETER_M - 0.35875).abs() < 1e-5);
    }

    /// Every fourth station keeps the test fast, so the figures are a little different from those of the study. Published at J 0.5: `K_T` 0.2710, `10 K_Q` 0.4343.
    #[test]
    fn b4_70_at_advance_ratio_0_5() {
        let (propeller, rpm) = SCREWS[0].propeller(4, None).unwrap();
        let (p, _) = open_water(&propeller, rpm, 0.5).unwrap();
        for (ours, pinned) in [(p.thrust_coefficient(), 0.26214), (10.0 * p.torque_coefficient(), 0.39388)] {
            assert!((ours / pinned - 1.0).abs() < 0.005, "{ours} is not the pinned {pinned}");
        }
        assert!(p.operation.air.water.is_some() && p.elements.iter().all(|e| e.mach == 0.0));
    }
}
