//! From a station table to what a flow solver needs: a closed solid at a setting, and a prediction to compare with.
//!
//! `cargo run --release -p bladeform --example table_for_solver -- [stations.json] [FILE.stl]`. Without a table it measures the scan of an invented blade.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "an example prints its result")]

mod common;

use std::error::Error;

use bladeform::document::read_json;
use bladeform::measure::{ScanInput, measure};
use bladeform::predict::{ComputedPolars, Flight, PredictPlan, predict};
use bladeform::solid::{PropellerSurface, SettingAngle, SolidFormat, SolidPlan};
use bladeform::work::Silent;

/// Setting of the solid and of the prediction at 0.75 R, deg.
const SETTING_DEG: f64 = 20.0;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let table = match arguments.next() {
        Some(file) => read_json(&std::fs::read(file)?)?,
        None => {
            let (scan, plan) = common::invented_scan()?;
            measure(ScanInput::file(&scan, "quarry-mill.ply"), &plan, &Silent)?
        }
    };
    let file = arguments.next().unwrap_or_else(|| "quarry-mill-20deg.stl".to_owned());

    // Only a surface that was proved to be closed and free of self-intersection can be written.
    let plan =
        SolidPlan { blades: 2, hub_diameter_m: Some(0.28), hub_length_m: Some(0.26), ..SolidPlan::default() };
    let propeller = PropellerSurface::new(&table, plan)?;
    let made = propeller.at(Some(SettingAngle { angle_deg: SETTING_DEG, radius_ratio: 0.75 }), &Silent)?;
    let mut bytes = Vec::new();
    made.solid.write(SolidFormat::Stl, false, &mut bytes)?;
    std::fs::write(&file, bytes)?;
    println!(
        "{file}: {} triangles, {:.1} cm3",
        made.solid.facts().triangles,
        1e6 * made.solid.facts().volume_m3
    );

    // 1750 rpm at 120 mph.
    let ask = PredictPlan {
        blades: 2,
        rpm: 1750.0,
        flight: Flight::Speed(53.6448),
        settings_deg: vec![SETTING_DEG],
        ..PredictPlan::default()
    };
    let prediction = predict(&table, &ask, &ComputedPolars::default(), &Silent)?;
    let figures = &prediction.points[0].figures;
    if let (Some(thrust_n), Some(power_w)) = (figures.thrust_n, figures.power_w) {
        println!(
            "{SETTING_DEG} deg, 1750 rpm, 53.6 m/s: thrust {thrust_n:.0} N, power {:.1} kW",
            power_w / 1e3
        );
    }
    Ok(())
}
