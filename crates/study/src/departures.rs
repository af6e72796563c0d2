//! Stations that depart from the smooth blade: how often sound stations are flagged, and the depth reported for a dent in the leading edge.

use std::io::Write;
use std::ops::Range;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_mesh::RawMesh;
use bladeform_quantity::Measured;
use bladeform_specimen::{Blade, ScanPlan, SectionKind, SpecimenPropeller, scan_of_blade, scan_of_propeller};
use bladeform_table::{Station, StationColumn, StationDeparture, StationTable, departures_from_smooth};

use crate::accuracy::bytes;
use crate::markdown::Table;

/// Depth of the dent, m.
const DEPTH_M: f64 = 3e-3;
/// Length of the dent along the span, m. It fades over an eighth of its length at either end.
const LENGTH_M: f64 = 0.040;
/// Distance from the leading edge up to which the dent moves the surface, m.
const REACH_M: f64 = 0.015;
/// The dented station, of the 24 of a single blade.
const DENTED: usize = 13;

/// Pushes the leading edge inwards along the chord, most at the edge itself. The mesh is in blade axes, in metres.
fn dent(mesh: &mut RawMesh, blade: &Blade, at_m: f64) {
    for v in &mut mesh.vertices {
        let off = (v[2] - at_m).abs() / (LENGTH_M / 2.0);
        let fade = ((1.0 - off) / 0.25).clamp(0.0, 1.0);
        let (angle, chord, mid) = (blade.angle_rad(v[2]), blade.chord_m(v[2]), blade.mid_chord(v[2]));
        let forward = (v[0] - mid[0]) * angle.cos() + (v[1] - mid[1]) * angle.sin();
        let from_edge = 0.5 * chord - forward;
        let depth = DEPTH_M * fade * (1.0 - from_edge / REACH_M).clamp(0.0, 1.0);
        v[0] -= depth * angle.cos();
        v[1] -= depth * angle.sin();
    }
}

fn table(blade: &Blade, seed: u64, triangles: usize, dented: bool) -> std::io::Result<StationTable> {
    let plan = ScanPlan { triangles, any_pose: !dented, ..ScanPlan::usual(seed) };
    let mut mesh = scan_of_blade(blade, &plan).mesh;
    if dented {
        let step = blade.length_m() / 25.0;
        dent(&mut mesh, blade, blade.root_radius_m + step * (DENTED + 1) as f64);
    }
    let plan = MeasurePlan {
        resolution_m: Some(0.0),
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        ..MeasurePlan::default()
    };
    measure(bladeform_measure::ScanInput::file(bytes(&mesh)?, "study"), &plan, &bladeform_measure::Silent)
        .map_err(std::io::Error::other)
}

fn propeller(seed: u64, triangles: usize) -> std::io::Result<StationTable> {
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller { blade, count: 3, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let scan = scan_of_propeller(&propeller, &ScanPlan { triangles: 3 * triangles, ..ScanPlan::usual(seed) });
    let plan = MeasurePlan {
        resolution_m: Some(0.0),
        diameter_m: Some(2.0 * propeller.blade.radius_m),
        ..MeasurePlan::default()
    };
    measure(
        bladeform_measure::ScanInput::file(bytes(&scan.mesh)?, "study"),
        &plan,
        &bladeform_measure::Silent,
    )
    .map_err(std::io::Error::other)
}

/// One row: stations measured and flagged in several tables of sound blades. Every flag becomes a remark.
fn sound(
    out: &mut impl Write,
    (rows, remarks): (&Table, &mut Vec<String>),
    name: &str,
    seeds: Range<u64>,
    table: impl Fn(u64) -> std::io::Result<StationTable>,
) -> std::io::Result<()> {
    let (mut stations, mut flagged) = (0u32, 0u32);
    for seed in seeds {
        let table = table(seed)?;
        let found = departures_from_smooth(&table.stations);
        stations += table.stations.iter().map(|s| u32::from(!s.is_refused())).sum::<u32>();
        let mut places: Vec<usize> = found.iter().map(|d| d.station).collect();
        places.dedup();
        flagged += places.iter().map(|_| 1).sum::<u32>();
        for d in found {
            let place = table.stations[d.station].radius_ratio;
            remarks.push(format!("{name}, sound, seed {seed}, {place:.3} R: {}", amount(&d)));
        }
    }
    let percent = 100.0 * f64::from(flagged) / f64::from(stations.max(1));
    let flagged = format!("{flagged} of {stations} stations, {percent:.2} %");
    rows.row(out, &[name, "sound", &flagged, "under 2 %"])
}

/// Prints, for each family, the rate of flags on sound blades and at a dented station; then the rate on whole propellers. The amounts follow as remarks.
pub(crate) fn run(seeds: usize, triangles: usize, first: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    let title = format!("Stations off the smooth blade: {triangles} triangles, {seeds} seeds from {first}");
    let rows = Table::begin(&mut out, &title, &["blade", "state", "flagged", "goal"])?;
    let mut remarks = Vec::new();
    for kind in [SectionKind::FourDigit, SectionKind::ClarkY, SectionKind::FlatFaced] {
        let blade = Blade::quarry_mill().with_kind(kind);
        let seeds_of = first..first + seeds as u64;
        let name = format!("{kind:?}");
        sound(&mut out, (&rows, &mut remarks), &name, seeds_of.clone(), |seed| {
            table(&blade, seed, triangles, false)
        })?;
        let (mut hit, mut bridged) = (0, Vec::new());
        for seed in seeds_of {
            let stations = table(&blade, seed, triangles, true)?.stations;
            bridged.extend(stations[DENTED - 1..=DENTED + 1].iter().filter_map(|s| smooth_error(&blade, s)));
            let found = departures_from_smooth(&stations);
            let there = found.iter().find(|d| d.station == DENTED && d.column == StationColumn::ChordM);
            hit += usize::from(there.is_some());
            let elsewhere = found.iter().filter(|d| d.station != DENTED).count();
            let found = there.map_or_else(|| unflagged(&blade, &stations[DENTED]), amount);
            remarks.push(format!("{name}, dented, seed {seed}: {found}; {elsewhere} flags elsewhere"));
        }
        let state = format!("leading edge dented by {:.1} mm", 1e3 * DEPTH_M);
        rows.row(&mut out, &[name.as_str(), &state, &format!("{hit} of {seeds} scans"), "all"])?;
        let mean_square = |of: fn(&Measured) -> f64| {
            (bridged.iter().map(|m| of(m).powi(2)).sum::<f64>() / bridged.len().max(1) as f64).sqrt()
        };
        let (error, over_u) = (mean_square(|m| 1e3 * m.value), mean_square(|m| m.value / m.u));
        let count = format!("{} of {}", bridged.len(), 3 * seeds);
        let smooth = format!("{count} figures, error {error:.2} mm rms, {over_u:.2} u");
        rows.row(
            &mut out,
            &[name.as_str(), "the dent's smooth chord, and those beside it", &smooth, "all, under 1.3 u"],
        )?;
    }
    let seeds_of = first..first + seeds as u64;
    sound(&mut out, (&rows, &mut remarks), "propellers of three blades", seeds_of, |seed| {
        propeller(seed, triangles)
    })?;
    writeln!(out)?;
    for remark in remarks {
        writeln!(out, "- {remark}")?;
    }
    Ok(())
}

/// What a dented station says that is not flagged for it.
fn unflagged(blade: &Blade, s: &Station) -> String {
    let off = s.chord_m.map(|chord| 1e3 * (chord - blade.truth(s.radius_ratio).chord_m));
    let off = off.map_or("no chord".to_owned(), |off| format!("chord off by {off:+.3} mm"));
    let codes: Vec<&str> = s.flags.iter().map(bladeform_table::Flag::code).collect();
    format!("not flagged: {off}, {}", codes.join(" "))
}

/// Chord of the smooth blade less that of the blade without its dent, m, with its uncertainty.
fn smooth_error(blade: &Blade, s: &Station) -> Option<Measured> {
    let smooth = s.smooth.figures.get(&StationColumn::ChordM)?;
    Some(Measured::new(smooth.value - blade.truth(s.radius_ratio).chord_m, smooth.u))
}

fn amount(d: &StationDeparture) -> String {
    let shown = d.column.shown();
    format!(
        "{} {:+.3} {} (u {:.3})",
        d.column.key(),
        d.amount.value * shown.factor,
        shown.unit,
        d.amount.u * shown.factor
    )
}
