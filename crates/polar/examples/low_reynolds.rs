//! Clark Y at Reynolds numbers from 6e4 to 3e5 compared with a wind tunnel: `cargo run --release -p bladeform-polar --example low_reynolds`. Prints Markdown tables.
//!
//! Nothing here is fitted to the published values. All differences are printed.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_polar::{PolarError, PreparedSection, ViscousPoint, ViscousSettings};
use bladeform_section::{Family, faired};

/// Lift and drag of the test: source at the top of the file.
const TEST: &str = include_str!("../tests/clark_y_low_reynolds.csv");
/// Reynolds numbers of the test.
const REYNOLDS: [f64; 4] = [6e4, 1e5, 2e5, 3e5];
/// Lift below which the flow of the test is attached.
const ATTACHED_LIFT: f64 = 1.1;

/// Angle of attack, deg, lift and drag of a row.
type Row = [f64; 3];

fn main() -> Result<(), PolarError> {
    println!("`cargo run --release -p bladeform-polar --example low_reynolds`");
    let free = ViscousSettings::default();
    let cases = [
        ("free transition, amplification 9 (as predictions use it)", free),
        ("amplification 5", ViscousSettings { amplification: 5.0, ..free }),
        ("amplification 7", ViscousSettings { amplification: 7.0, ..free }),
        ("amplification 11", ViscousSettings { amplification: 11.0, ..free }),
        ("240 panels, amplification 9", ViscousSettings { panels: 240, ..free }),
        ("tripped at 5 % on both sides", ViscousSettings::rough()),
    ];
    println!("\nDifferences from the test below a lift of {ATTACHED_LIFT}\n");
    println!(
        "| layers | Reynolds number | rows | lift, mean | lift, rms | drag, mean | drag, rms | converged |\n|---|---|---|---|---|---|---|---|"
    );
    let mut rows = Vec::new();
    for (name, settings) in cases {
        for reynolds in REYNOLDS {
            let points = sweep(settings, reynolds)?;
            summary(name, reynolds, &points);
            if rows.len() < REYNOLDS.len() {
                rows.push((reynolds, points));
            }
        }
    }
    println!("\nEvery row of the test, free transition, amplification 9\n");
    println!(
        "| Reynolds number | angle, deg | lift, test | lift | drag, test | drag | difference | transition on back and face, of the chord |\n|---|---|---|---|---|---|---|---|"
    );
    for (reynolds, points) in &rows {
        for [angle, lift, drag] in test(*reynolds) {
            let Some((ours, places)) = at(points, angle) else {
                println!(
                    "| {reynolds:.0e} | {angle:.2} | {lift:.3} | - | {drag:.4} | - | - | did not converge |"
                );
                continue;
            };
            println!(
                "| {reynolds:.0e} | {angle:.2} | {lift:.3} | {:.3} | {drag:.4} | {:.4} | {:+.0} % | {:.2}, {:.2} |",
                ours[0],
                ours[1],
                100.0 * (ours[1] / drag - 1.0),
                places[0],
                places[1]
            );
        }
    }
    Ok(())
}

/// Points every half degree from -6 to 16 deg.
fn sweep(settings: ViscousSettings, reynolds: f64) -> Result<Vec<ViscousPoint>, PolarError> {
    let family = Family::ClarkY { thickness: 0.1171 };
    let outline =
        faired(&family.outline(1500)).map_or_else(|_| family.outline(400), |smooth| smooth.outline(401));
    let section = PreparedSection::new(&outline, settings)?;
    let march = |halves: &mut dyn Iterator<Item = i32>| {
        let angles: Vec<f64> = halves.map(|i| (0.5 * f64::from(i)).to_radians()).collect();
        section.march(&angles, &[reynolds]).map(|mut rows| rows.remove(0))
    };
    let mut points = march(&mut (0..=32))?;
    points.extend(march(&mut (-12..=0).rev())?.into_iter().skip(1));
    points.sort_by(|a, b| a.alpha_rad.total_cmp(&b.alpha_rad));
    points.retain(|p| p.converged);
    Ok(points)
}

/// Rows with lift and drag at a Reynolds number.
fn test(reynolds: f64) -> Vec<Row> {
    let rows = TEST.lines().filter(|line| line.starts_with("drag_run"));
    let numbers =
        rows.map(|line| line.split(',').map(|v| v.parse().unwrap_or(f64::NAN)).collect::<Vec<f64>>());
    numbers.filter(|v| (v[2] - reynolds).abs() < 1.0).map(|v| [v[4], v[5], v[6]]).collect()
}

/// Lift and drag, and the places of transition, at an angle, deg, between two neighbouring points.
fn at(points: &[ViscousPoint], angle_deg: f64) -> Option<([f64; 2], [f64; 2])> {
    let alpha = angle_deg.to_radians();
    let pair = points.windows(2).find(|w| {
        (w[0].alpha_rad..=w[1].alpha_rad).contains(&alpha) && w[1].alpha_rad - w[0].alpha_rad < 0.02
    })?;
    let t = (alpha - pair[0].alpha_rad) / (pair[1].alpha_rad - pair[0].alpha_rad);
    let mix = |of: &dyn Fn(&ViscousPoint) -> f64| of(&pair[0]) + t * (of(&pair[1]) - of(&pair[0]));
    Some(([mix(&|p| p.lift), mix(&|p| p.drag)], [mix(&|p| p.transition[0]), mix(&|p| p.transition[1])]))
}

/// One row of the differences at a Reynolds number.
fn summary(name: &str, reynolds: f64, points: &[ViscousPoint]) {
    let found: Vec<[f64; 2]> = test(reynolds)
        .into_iter()
        .filter(|row| row[1] < ATTACHED_LIFT)
        .filter_map(|[angle, lift, drag]| at(points, angle).map(|(o, _)| [o[0] - lift, o[1] / drag - 1.0]))
        .collect();
    let count = found.len() as f64;
    let mean = |k: usize| found.iter().map(|d| d[k]).sum::<f64>() / count;
    let rms = |k: usize| (found.iter().map(|d| d[k] * d[k]).sum::<f64>() / count).sqrt();
    println!(
        "| {name} | {reynolds:.0e} | {} | {:+.3} | {:.3} | {:+.0} % | {:.0} % | {} of 45 |",
        found.len(),
        mean(0),
        rms(0),
        100.0 * mean(1),
        100.0 * rms(1),
        points.len()
    );
}
