//! The free wake at zero speed compared with a published hover test, and how the result depends on the settings:
//! `cargo run --release -p bladeform-flow --example rest_wake [CACHE]`, with a folder where polars are kept. Prints a Markdown table.
//!
//! Rotor: F. X. Caradonna, C. Tung, NASA TM-81232, 1981: two untwisted, untapered blades of NACA 0012, radius 1.143 m, chord 0.1905 m, 1250 rpm.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_flow::{
    Air, ComputedPolars, FlowBlade, FlowPropeller, FreeWakeSettings, Operation, PolarSource, Surface,
    free_wake_at_rest,
};
use bladeform_section::Family;
use bladeform_table::{BladeFigures, SectionOutline, Station, StationTable};
use std::f64::consts::PI;
use std::time::Instant;

const RADIUS_M: f64 = 1.143;
const RPM: f64 = 1250.0;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let family = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 };
    let chord_m = RADIUS_M / 6.0;
    let points: Vec<[f64; 2]> =
        family.outline(240).iter().map(|p| [p[0] * chord_m, p[1] * chord_m]).collect();
    // The inner end of the blade is not in the data.
    let stations = [0.15, 0.4, 0.6, 0.8, 1.0]
        .map(|x| Station {
            chord_m: Some(chord_m),
            blade_angle_deg: Some(0.0),
            outline: Some(SectionOutline::from_points(&points)),
            ..Station::at(x * RADIUS_M, RADIUS_M)
        })
        .to_vec();
    let stations = StationTable {
        blade: BladeFigures { radius_m: RADIUS_M, ..BladeFigures::default() },
        stations,
        ..StationTable::default()
    };
    let source = ComputedPolars {
        tip_speed_m_s: RPM * PI / 30.0 * RADIUS_M,
        cache: std::env::args().nth(1).map(Into::into),
        surface: Surface::Smooth,
        ..ComputedPolars::default()
    };
    let blade = |elements| FlowBlade::of_table(&stations, None, elements, &source as &dyn PolarSource);
    let propeller = FlowPropeller::new(blade(32)?, 2)?;
    let operation = Operation::new(0.0, RPM, Air::standard(0.0, 0.0)?)?;
    println!("`cargo run --release -p bladeform-flow --example rest_wake`");
    table(
        "NASA TM-81232, C_T over the disc: published 0.0046 at 8 deg; 0.0021 at 5 and 0.0080 at 12 deg from memory",
        &[
            "case",
            "C_T",
            "C_T from momentum",
            "tip vortex at the next blade, R",
            "below it, R",
            "merit",
            "residual of the wake",
            "rounds",
            "seconds",
        ],
    );
    let plan = FreeWakeSettings::default();
    let show = |name: &str, collective: f64, propeller: &FlowPropeller, plan: FreeWakeSettings| {
        let begun = Instant::now();
        let scale =
            operation.air.density_kg_m3 * PI * RADIUS_M.powi(2) * (operation.omega_rad_s * RADIUS_M).powi(2);
        match free_wake_at_rest(propeller, collective.to_radians(), &operation, &plan, None) {
            Ok(f) => row(&[
                name.to_owned(),
                format!("{:.5}", f.performance.thrust_n / scale),
                format!("{:.5}", f.momentum_thrust_n / scale),
                format!("{:.3}", f.passage_radius),
                format!("{:.3}", f.passage_depth),
                format!("{:.3}", f.figure_of_merit()),
                format!("{:.0e}", f.wake_left),
                f.rounds.to_string(),
                format!("{:.2}", begun.elapsed().as_secs_f64()),
            ]),
            Err(why) => {
                let seconds = format!("{:.2}", begun.elapsed().as_secs_f64());
                row(&[name, &format!("none: {why}"), "", "", "", "", "", "", &seconds]);
            }
        }
    };
    for collective in [5.0, 8.0, 12.0] {
        show(&format!("collective {collective} deg"), collective, &propeller, plan);
    }
    for turns in [2, 4] {
        show(&format!("8 deg, {turns} free turns"), 8.0, &propeller, FreeWakeSettings { turns, ..plan });
    }
    for steps in [16, 36] {
        show(&format!("8 deg, {steps} steps a turn"), 8.0, &propeller, FreeWakeSettings { steps, ..plan });
    }
    for core in [0.005, 0.02, 0.035] {
        show(&format!("8 deg, core {core} R"), 8.0, &propeller, FreeWakeSettings { core, ..plan });
    }
    for vortices in [3, 5] {
        show(
            &format!("8 deg, {vortices} vortices a blade"),
            8.0,
            &propeller,
            FreeWakeSettings { vortices, ..plan },
        );
    }
    show("8 deg, inboard cores 0.03 R", 8.0, &propeller, FreeWakeSettings { inner_core: 0.03, ..plan });
    for degrees in [15.0_f64, 60.0] {
        let near_wake_rad = degrees.to_radians();
        show(
            &format!("8 deg, near wake {degrees} deg"),
            8.0,
            &propeller,
            FreeWakeSettings { near_wake_rad, ..plan },
        );
    }
    for elements in [24, 50] {
        show(&format!("8 deg, {elements} elements"), 8.0, &FlowPropeller::new(blade(elements)?, 2)?, plan);
    }
    for blades in [1, 3, 4] {
        show(&format!("8 deg, {blades} blades"), 8.0, &FlowPropeller::new(blade(32)?, blades)?, plan);
    }
    let near = free_wake_at_rest(&propeller, 7.0_f64.to_radians(), &operation, &plan, None)?;
    let begun = Instant::now();
    let found = free_wake_at_rest(&propeller, 8.0_f64.to_radians(), &operation, &plan, Some(&near))?;
    println!(
        "\n8 deg, started from the wake of 7 deg: C_T {:.5}, {} rounds, {:.2} s",
        found.performance.thrust_n
            / (operation.air.density_kg_m3
                * PI
                * RADIUS_M.powi(2)
                * (operation.omega_rad_s * RADIUS_M).powi(2)),
        found.rounds,
        begun.elapsed().as_secs_f64()
    );
    Ok(())
}

/// Prints one row of a Markdown table.
fn row<S: AsRef<str>>(cells: &[S]) {
    let texts: Vec<&str> = cells.iter().map(AsRef::as_ref).collect();
    println!("| {} |", texts.join(" | "));
}

/// Prints the title and the headings of a Markdown table.
fn table(title: &str, headings: &[&str]) {
    println!("\n{title}\n");
    row(headings);
    row(&vec!["---"; headings.len()]);
}
