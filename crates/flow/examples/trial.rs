#![allow(clippy::print_stdout)]
use bladeform_flow::*;
use bladeform_section::Family;
use bladeform_table::{BladeFigures, Outline, SettingOf, Station, StationTable};
use std::f64::consts::PI;
use std::time::Instant;
fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arg: Vec<String> = std::env::args().collect();
    let which = arg[1].as_str();
    let radius_m = if which == "640" { 1.524 } else { 1.143 };
    let rpm = if which == "640" { 800.0 } else { 1250.0 };
    let thick = |x: f64| {
        let t = [[0.3, 0.235], [0.5, 0.13], [0.75, 0.09], [1.0, 0.07]];
        let x = x.clamp(0.3, 1.0);
        let p = t.windows(2).find(|p| x <= p[1][0]).unwrap();
        p[0][1] + (p[1][1] - p[0][1]) * (x - p[0][0]) / (p[1][0] - p[0][0])
    };
    let rows: Vec<[f64; 3]> = if which == "640" {
        include_str!("../../study/data/small_propellers_geometry.csv")
            .lines()
            .filter(|l| l.starts_with("nr640,"))
            .map(|l| {
                let n: Vec<f64> = l.split(',').skip(1).map(|v| v.trim().parse().unwrap()).collect();
                [n[0], n[1], n[2]]
            })
            .collect()
    } else {
        [0.15, 0.4, 0.6, 0.8, 1.0].map(|x| [x, 1.0 / 6.0, 0.0]).to_vec()
    };
    let stations = rows
        .iter()
        .map(|[x, c, a]| {
            let chord_m = c * radius_m;
            let fam = if which == "640" {
                Family::ClarkY { thickness: thick(*x) }
            } else {
                Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }
            };
            let face = if which == "640" {
                (thick(*x) / 0.1171 * 2.10_f64.to_radians().tan()).atan().to_degrees()
            } else {
                0.0
            };
            let points: Vec<[f64; 2]> =
                fam.outline(240).iter().map(|p| [p[0] * chord_m, p[1] * chord_m]).collect();
            Station {
                chord_m: Some(chord_m),
                blade_angle_deg: Some(a + face),
                face_angle_deg: Some(*a),
                outline: Some(Outline::from_points(&points)),
                ..Station::at(x * radius_m, radius_m)
            }
        })
        .collect();
    let table = StationTable {
        blade: BladeFigures { radius_m, ..BladeFigures::default() },
        stations,
        ..StationTable::default()
    };
    let source = ComputedPolars {
        tip_speed_m_s: rpm * PI / 30.0 * radius_m,
        cache: Some("/tmp/hoverpolars".into()),
        ..ComputedPolars::default()
    };
    let blade = FlowBlade::of_table(&table, None, 32, &source as &dyn PolarSource)?;
    let operation = Operation::new(0.0, rpm, Air::standard(0.0, 0.0)?)?;
    let plan = FreeWakeSettings {
        threads: 2,
        near_wake_rad: std::env::var("NW").map_or(0.52, |v| v.parse::<f64>().unwrap().to_radians()),
        core: std::env::var("CORE").map_or(0.01, |v| v.parse().unwrap()),
        turns: std::env::var("TURNS").map_or(3, |v| v.parse().unwrap()),
        vortices: std::env::var("VORT").map_or(4, |v| v.parse().unwrap()),
        ..FreeWakeSettings::default()
    };
    let chain = std::env::var_os("CHAIN").is_some();
    for b in arg[2].split(',') {
        let b: u32 = b.parse()?;
        let propeller = Propeller::new(blade.clone(), b)?;
        let mut near = None;
        for s in arg[3].split(',') {
            let s: f64 = s.parse()?;
            let turn = propeller.blade.turn_rad(
                s,
                if which == "640" { SettingOf::Face } else { SettingOf::Chord },
                0.75,
            )?;
            let e = propeller.performance(turn, &operation);
            let begun = Instant::now();
            match free_wake_at_rest(&propeller, turn, &operation, &plan, near.as_ref()) {
                Ok(f) => {
                    let p = &f.performance;
                    println!(
                        "B {b} set {s:>4} CT {:.5} be {:.5} ({:+.1}%)  CP {:.5} be {:.5} ({:+.1}%) FM {:.3} be {:.3} mom {:+.0}% pass {:.3} {:.3} left {:.0e} rounds {} {:?} {:.2} s stalled {:.2} be {:.2}",
                        p.thrust_coefficient(),
                        e.thrust_coefficient(),
                        100.0 * (p.thrust_n / e.thrust_n - 1.0),
                        p.power_coefficient(),
                        e.power_coefficient(),
                        100.0 * (p.torque_nm / e.torque_nm - 1.0),
                        f.figure_of_merit(),
                        e.thrust_n.powf(1.5)
                            / (2.0 * operation.air.density_kg_m3 * PI * radius_m * radius_m).sqrt()
                            / e.power_w(),
                        100.0 * (f.momentum_thrust_n / p.thrust_n - 1.0),
                        f.passage_radius,
                        f.passage_depth,
                        f.wake_left,
                        f.rounds,
                        f.worked,
                        begun.elapsed().as_secs_f64(),
                        p.stalled_fraction(),
                        e.stalled_fraction()
                    );
                    if std::env::var_os("ROWS").is_some() {
                        for (x, y) in p.elements.iter().zip(&e.elements) {
                            println!(
                                "  {:.3} a {:.2} be {:.2} turn {:.2} be {:.2} cl {:.3} be {:.3} v {:.2} be {:.2} dT {:.0} be {:.0}",
                                x.radius_m / radius_m,
                                x.alpha_rad.to_degrees(),
                                y.alpha_rad.to_degrees(),
                                x.turn_rad.to_degrees(),
                                y.turn_rad.to_degrees(),
                                x.forces.lift,
                                y.forces.lift,
                                x.axial_induced_m_s,
                                y.axial_induced_m_s,
                                x.thrust_n_per_m,
                                y.thrust_n_per_m
                            );
                        }
                    }
                    if chain {
                        near = Some(f);
                    }
                }
                Err(why) => println!(
                    "B {b} set {s:>4} {why} ({:.2} s) be CT {:.4} stalled {:.2}",
                    begun.elapsed().as_secs_f64(),
                    e.thrust_coefficient(),
                    e.stalled_fraction()
                ),
            }
        }
    }
    Ok(())
}
