//! How long a prediction takes: 61 settings of an invented blade of 24 stations, polars from scratch and kept ones.
//!
//! ```text
//! prediction_speed [FOLDER]    an empty folder for the kept polars; a temporary one without it
//! ```

use bladeform_flow::{ComputedPolars, Flight, PredictPlan, predict};
use bladeform_specimen::Blade;
use bladeform_table::{BladeFigures, Outline, Station, StationTable};
use std::error::Error;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

/// Stations and corners of their outlines.
const STATIONS: usize = 24;
const CORNERS: usize = 240;

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            let _ = writeln!(std::io::stderr(), "prediction_speed: {e}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), Box<dyn Error>> {
    let own = std::env::temp_dir().join(format!("prediction-speed-{}", std::process::id()));
    let folder = std::env::args().nth(1).map_or(own, PathBuf::from);
    let table = table();
    let plan = PredictPlan {
        rpm: 1_750.0,
        flight: Flight::Speed(53.6),
        settings_deg: (0..=60).map(f64::from).collect(),
        ..PredictPlan::default()
    };
    let source = ComputedPolars {
        tip_speed_m_s: plan.rpm * std::f64::consts::TAU / 60.0 * table.blade.radius_m,
        cache: Some(folder),
        ..ComputedPolars::default()
    };
    let mut out = std::io::stdout();
    for (what, goal_s, free_wake) in [
        ("polars from scratch", 20.0, true),
        ("polars kept", 0.5, true),
        ("polars kept, without the free wake of the answer at rest", 0.5, false),
    ] {
        let start = Instant::now();
        let prediction = predict(&table, &PredictPlan { free_wake, ..plan.clone() }, &source)?;
        let seconds = start.elapsed().as_secs_f64();
        writeln!(
            out,
            "{what}: {} points, {STATIONS} stations, {seconds:.2} s, goal {goal_s} s on two free cores in a release build",
            prediction.points.len()
        )?;
    }
    Ok(())
}

fn table() -> StationTable {
    let blade = Blade::quarry_mill();
    let station = |k: usize| {
        let ratio = 0.28 + 0.7 * k as f64 / (STATIONS - 1) as f64;
        let r = ratio * blade.radius_m;
        let chord_m = blade.chord_m(r);
        let family = blade.family(r);
        let points: Vec<[f64; 2]> =
            family.outline(CORNERS).iter().map(|p| [p[0] * chord_m, p[1] * chord_m]).collect();
        Station {
            chord_m: Some(chord_m),
            blade_angle_deg: Some(blade.angle_rad(r).to_degrees()),
            outline: Some(Outline::from_points(&points)),
            ..Station::at(r, blade.radius_m)
        }
    };
    StationTable {
        blade: BladeFigures { radius_m: blade.radius_m, ..BladeFigures::default() },
        stations: (0..STATIONS).map(station).collect(),
        ..StationTable::default()
    }
}
