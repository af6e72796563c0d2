//! Time of a prediction: 61 settings of an invented blade of 24 stations, with newly computed polars and with cached polars.
//!
//! ```text
//! prediction_speed [FOLDER]    an empty folder for the cached polars; default: a temporary one
//! ```

#[path = "../markdown.rs"]
mod markdown;

use bladeform_flow::{ComputedPolars, Flight, PredictPlan, predict};
use bladeform_specimen::Blade;
use bladeform_table::{BladeFigures, SectionOutline, Station, StationTable};
use markdown::{Table, verdict};
use std::error::Error;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Instant;

/// Stations and corners of their outlines.
const STATIONS: usize = 24;
/// Corners of the outline of a station, of the order of those of a measured table (chosen).
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
        // 120 mph.
        flight: Flight::Speed(53.6448),
        settings_deg: (0..=60).map(f64::from).collect(),
        ..PredictPlan::default()
    };
    let source = ComputedPolars {
        tip_speed_m_s: plan.rpm * std::f64::consts::TAU / 60.0 * table.blade.radius_m,
        cache: Some(folder),
        ..ComputedPolars::default()
    };
    let mut out = std::io::stdout();
    writeln!(out, "`cargo run --release -p bladeform-study --bin prediction_speed`")?;
    let title = format!(
        "Prediction of {} settings, {STATIONS} stations; goals for two free cores",
        plan.settings_deg.len()
    );
    let table_of_times = Table::begin(&mut out, &title, &["case", "points", "goal, s", "seconds"])?;
    for (what, goal_s, free_wake) in [
        ("polars computed anew", 20.0, true),
        ("polars kept", 0.5, true),
        ("polars kept, without the free wake of the answer at zero speed", 0.5, false),
    ] {
        let start = Instant::now();
        let prediction =
            predict(&table, &PredictPlan { free_wake, ..plan.clone() }, &source, &bladeform_flow::Silent)?;
        let seconds = start.elapsed().as_secs_f64();
        let cells = [
            what.to_owned(),
            prediction.points.len().to_string(),
            goal_s.to_string(),
            format!("{seconds:.2} {}", verdict(seconds <= goal_s)),
        ];
        table_of_times.row(&mut out, &cells)?;
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
            outline: Some(SectionOutline::from_points(&points)),
            ..Station::at(r, blade.radius_m)
        }
    };
    StationTable {
        blade: BladeFigures { radius_m: blade.radius_m, ..BladeFigures::default() },
        stations: (0..STATIONS).map(station).collect(),
        ..StationTable::default()
    }
}
