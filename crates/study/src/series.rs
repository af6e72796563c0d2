//! Screws of the Wageningen B series, 2 to 7 blades, with skew to 40 deg, measured on cylinders: pitch, chord, thickness of single blades, and how often their intervals hold.

use std::f64::consts::TAU;
use std::io::Write;
use std::path::Path;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{ScanPlan, SeriesScrew, scan_of_series};
use bladeform_table::{ScrewFigures, SectionSurface, Station, StationColumn};

use crate::accuracy::bytes;
use crate::markdown::Table;
use crate::tally::{HEADINGS, Tally};

/// Diameter, m: the goals are stated for it.
const DIAMETER_M: f64 = 0.5;
/// Radii at which ISO 484 measures, without that near the hub.
const RATIOS: [f64; 7] = [0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95];
/// Goals: pitch and chord as fractions, thickness in m.
const GOALS: [f64; 3] = [3e-3, 2e-3, 1e-4];
/// Blades, expanded area ratio, pitch ratio, skew in deg; `None`: as the series has it.
const SCREWS: [(usize, f64, f64, Option<f64>); 8] = [
    (2, 0.35, 0.7, None),
    (3, 0.5, 0.8, None),
    (4, 0.7, 1.0, None),
    (4, 0.8, 1.2, Some(40.0)),
    (5, 0.6, 1.0, Some(25.0)),
    (5, 0.8, 0.9, Some(40.0)),
    (6, 0.8, 1.0, None),
    (7, 0.8, 1.1, Some(30.0)),
];

/// Differences of one screw, or of all.
#[derive(Default)]
struct Found {
    pitch: Tally,
    chord: Tally,
    thickness: Tally,
}

impl Found {
    fn add(&mut self, s: &Station, screw: &SeriesScrew) {
        let truth = screw.truth(s.radius_ratio);
        let get = |column: StationColumn| column.measured(s);
        if let Some(angle) = get(StationColumn::BladeAngleDeg) {
            let [tan, exact] = [angle.value, truth.blade_angle_deg].map(|deg| deg.to_radians().tan());
            let u = (1.0 + tan * tan) * angle.u.to_radians() / tan;
            self.pitch.add(tan / exact - 1.0, Some(u));
        }
        if let Some(chord) = get(StationColumn::ChordM) {
            self.chord.add(chord.value / truth.chord_m - 1.0, Some(chord.u / truth.chord_m));
        }
        if let Some(thickness) = get(StationColumn::ThicknessM) {
            self.thickness.add(thickness.value - truth.thickness_m, Some(thickness.u));
        }
    }
}

/// `keep`: a folder for the scans.
pub(crate) fn run(
    seeds: usize,
    triangles: usize,
    noise_mm: f64,
    first: u64,
    keep: Option<&Path>,
) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let mut all = Found::default();
    let mut whole = [Tally::default(), Tally::default(), Tally::default()];
    let mut by_radius: [Found; 7] = Default::default();
    let mut rows = Vec::new();
    for (blades, area, pitch, skew) in SCREWS {
        let mut screw = SeriesScrew::new(DIAMETER_M, blades, area, pitch);
        if let Some(skew) = skew {
            screw = screw.with_skew(skew.to_radians());
        }
        let mut of = Found::default();
        for seed in (first..).take(seeds) {
            screw.left_handed = seed % 2 == 1;
            let plan =
                ScanPlan { triangles, noise_m: 1e-3 * noise_mm, any_pose: true, ..ScanPlan::clean(seed) };
            let file = bytes(&scan_of_series(&screw, &plan).mesh)?;
            if let Some(folder) = keep {
                std::fs::write(folder.join(format!("screw-{blades}-{area}-{seed}.ply")), &file)?;
            }
            let ask = MeasurePlan {
                // As in the other studies: these scans are sharp, and it is stated.
                resolution_m: Some(0.0),
                diameter_m: Some(DIAMETER_M),
                length_uncertainty_m: 1e-5,
                stations: StationRadii::Ratios(RATIOS.to_vec()),
                sections: SectionSurface::Cylinder,
                ..MeasurePlan::default()
            };
            let input = bladeform_measure::ScanInput::file(&file, "study");
            let table = match measure(input, &ask, &bladeform_measure::Silent) {
                Ok(table) => table,
                Err(e) => {
                    writeln!(out, "{blades} blades, seed {seed}: {e}")?;
                    continue;
                }
            };
            if table.blades.len() != blades {
                writeln!(out, "{blades} blades, seed {seed}: {} found", table.blades.len())?;
                continue;
            }
            for s in table.blades.iter().flat_map(|b| &b.stations) {
                of.add(s, &screw);
                all.add(s, &screw);
                if let Some(k) = RATIOS.iter().position(|q| (q - s.radius_ratio).abs() < 1e-6) {
                    by_radius[k].add(s, &screw);
                }
            }
            let Some(f) = ScrewFigures::of(&table) else { continue };
            let exact = TAU * 0.7 * screw.radius_m * screw.truth(0.7).blade_angle_deg.to_radians().tan();
            let azimuths: Vec<f64> =
                RATIOS.iter().map(|q| -screw.truth(*q).mid_chord_m[0] / (q * screw.radius_m)).collect();
            let [low, high] = azimuths.iter().fold([f64::MAX, f64::MIN], |[l, h], a| [l.min(*a), h.max(*a)]);
            let skew = (high - low).to_degrees();
            whole[0].add(
                f.pitch_ratio.value / (exact / DIAMETER_M) - 1.0,
                Some(f.pitch_ratio.u / f.pitch_ratio.value),
            );
            whole[1].add(f.expanded_area_ratio.value / area - 1.0, Some(f.expanded_area_ratio.u / area));
            whole[2].add(f.skew_deg.value - skew, Some(f.skew_deg.u));
        }
        let name = format!(
            "{blades} blades, area ratio {area}, P/D {pitch}, skew {}",
            skew.map_or_else(|| "of the series".to_owned(), |s| format!("{s} deg"))
        );
        rows.push((name, of));
    }
    let title = format!(
        "Screws of the Wageningen B series, {DIAMETER_M} m, on cylinders: {triangles} triangles, {noise_mm} mm of noise, {seeds} seeds from {first}; single blades at {RATIOS:?} R"
    );
    let headings = [&["screw"], &HEADINGS[..]].concat();
    let table = Table::begin(&mut out, &title, &headings)?;
    rows.extend(RATIOS.iter().zip(by_radius).map(|(q, of)| (format!("all screws at {q} R"), of)));
    rows.push(("all".to_owned(), all));
    for (name, of) in &rows {
        let goal = |k: usize| [Some(GOALS[k]), None];
        of.pitch.print(&mut out, &table, &[name.as_str()], "pitch, relative", goal(0))?;
        of.chord.print(&mut out, &table, &[name.as_str()], "chord, relative", goal(1))?;
        of.thickness.print(&mut out, &table, &[name.as_str()], "thickness, m", goal(2))?;
    }
    whole[0].print(
        &mut out,
        &table,
        &["all"],
        "P/D of the screw at 0.7 R, relative",
        [Some(GOALS[0]), None],
    )?;
    whole[1].print(&mut out, &table, &["all"], "expanded area ratio less nominal, relative", [None, None])?;
    whole[2].print(&mut out, &table, &["all"], "skew, deg", [None, None])
}
