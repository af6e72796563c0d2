//! Computed sections compared with published ones: `cargo run --release -p bladeform-polar --example section_checks`. Prints Markdown tables.
//!
//! Nothing here is fitted to the published values. All differences are printed.
#![allow(clippy::print_stdout, reason = "a table for people")]

use std::time::Instant;

use bladeform_polar::{
    PolarError, PreparedSection, SectionTable, TableSettings, ViscousPoint, ViscousSettings,
};
use bladeform_section::{Family, faired};

const LADSON: &str = "NASA TM 4074 (Ladson 1988), grit 80 to 180, Re 6e6";
const TR824: &str = "NACA TR 824 (Abbott, von Doenhoff, Stivers 1945), Re 6e6 smooth, from memory";
const CLARK: &str = "NACA TR 502/628, effective Re about 6e6, chord line nose to tail, from memory";

/// Published values: zero-lift angle deg, slope per deg, minimum drag, maximum lift, moment at zero lift; NaN if none is quoted.
struct Published {
    name: &'static str,
    family: Family,
    trip: f64,
    figures: [f64; 5],
    source: &'static str,
}

fn four(camber: f64, thickness: f64) -> Family {
    Family::FourDigit { camber, position: 0.4, thickness }
}

fn main() -> Result<(), PolarError> {
    let sections = [
        Published {
            name: "NACA 0012 tripped",
            family: four(0.0, 0.12),
            trip: 0.05,
            figures: [0.0, 0.1085, 0.0079, 1.62, 0.0],
            source: LADSON,
        },
        Published {
            name: "NACA 0012",
            family: four(0.0, 0.12),
            trip: 1.0,
            figures: [0.0, 0.107, 0.0058, 1.58, 0.0],
            source: TR824,
        },
        Published {
            name: "NACA 2412",
            family: four(0.02, 0.12),
            trip: 1.0,
            figures: [-2.0, 0.105, 0.0060, 1.65, -0.047],
            source: TR824,
        },
        Published {
            name: "NACA 4412",
            family: four(0.04, 0.12),
            trip: 1.0,
            figures: [-3.9, 0.106, 0.0062, 1.65, -0.093],
            source: TR824,
        },
        Published {
            name: "Clark Y",
            family: Family::ClarkY { thickness: 0.1171 },
            trip: 1.0,
            figures: [-3.4, 0.105, 0.0070, 1.55, -0.080],
            source: CLARK,
        },
    ];
    println!("`cargo run --release -p bladeform-polar --example section_checks`");
    table("Sections at Reynolds number 6e6", &["section", "figure", "published", "computed", "difference"]);
    let mut remarks = Vec::new();
    for section in &sections {
        let settings = ViscousSettings {
            trip_back: section.trip,
            trip_face: section.trip,
            ..ViscousSettings::default()
        };
        let started = Instant::now();
        let points = sweep(&outline(&section.family), settings, 6e6)?;
        let seconds = started.elapsed().as_secs_f64();
        let names = [
            "zero-lift angle, deg",
            "lift slope, per deg",
            "least drag",
            "greatest lift",
            "moment at zero lift",
        ];
        for ((name, published), computed) in names.iter().zip(section.figures).zip(figures(&points)) {
            row(&[
                section.name.to_owned(),
                (*name).to_owned(),
                format!("{published:.4}"),
                format!("{computed:.4}"),
                format!("{:+.4}", computed - published),
            ]);
        }
        let converged = points.iter().filter(|p| p.converged).count();
        remarks.push(format!(
            "{}: {converged} of {} angles from -10 to 18 deg converged, {:.1} ms for each; published in {}",
            section.name,
            points.len(),
            1e3 * seconds / points.len() as f64,
            section.source
        ));
    }
    println!();
    for remark in remarks {
        println!("- {remark}");
    }
    ladson()?;
    speed()
}

/// Sections given by formulas are used directly. Published ordinates are uneven at the nose and are smoothed like those of a measured blade.
fn outline(family: &Family) -> Vec<[f64; 2]> {
    let smooth = match family {
        Family::FourDigit { .. } => None,
        _ => faired(&family.outline(1500)).ok(),
    };
    smooth.map_or_else(|| family.outline(400), |shape| shape.outline(401))
}

/// Points at whole degrees from -10 to 18, in the order of the march from zero.
fn sweep(
    outline: &[[f64; 2]],
    settings: ViscousSettings,
    reynolds: f64,
) -> Result<Vec<ViscousPoint>, PolarError> {
    let section = PreparedSection::new(outline, settings)?;
    let march = |angles: Vec<i32>| {
        let radians: Vec<f64> = angles.iter().map(|&a| f64::from(a).to_radians()).collect();
        section.march(&radians, &[reynolds]).map(|mut rows| rows.remove(0))
    };
    let mut points = march((0..=18).collect())?;
    points.extend(march((-10..0).rev().collect())?);
    points.sort_by(|a, b| a.alpha_rad.total_cmp(&b.alpha_rad));
    Ok(points)
}

/// Zero-lift angle (where the lift changes sign), slope (straight line through the points between -2 and 6 deg), minimum drag, maximum lift, moment at zero lift.
fn figures(points: &[ViscousPoint]) -> [f64; 5] {
    let good: Vec<_> = points.iter().filter(|p| p.converged).collect();
    let near: Vec<_> = good.iter().filter(|p| (-2.01..=6.01).contains(&p.alpha_rad.to_degrees())).collect();
    let n = near.len() as f64;
    let (ma, ml) = (
        near.iter().map(|p| p.alpha_rad.to_degrees()).sum::<f64>() / n,
        near.iter().map(|p| p.lift).sum::<f64>() / n,
    );
    let slope = near.iter().map(|p| (p.alpha_rad.to_degrees() - ma) * (p.lift - ml)).sum::<f64>()
        / near.iter().map(|p| (p.alpha_rad.to_degrees() - ma).powi(2)).sum::<f64>();
    let moment =
        good.iter().min_by(|a, b| a.lift.abs().total_cmp(&b.lift.abs())).map_or(f64::NAN, |p| p.moment);
    let zero = good.windows(2).find(|w| w[0].lift <= 0.0 && 0.0 < w[1].lift).map_or(f64::NAN, |w| {
        let [a, b] = [w[0], w[1]].map(|p| p.alpha_rad.to_degrees());
        a - w[0].lift * (b - a) / (w[1].lift - w[0].lift)
    });
    [
        zero,
        slope,
        good.iter().map(|p| p.drag).fold(f64::INFINITY, f64::min),
        good.iter().map(|p| p.lift).fold(f64::NEG_INFINITY, f64::max),
        moment,
    ]
}

/// Lift and drag of the tripped NACA 0012 at the angles of the test (means of three grits, NASA TM 4074).
fn ladson() -> Result<(), PolarError> {
    table(
        &format!("NACA 0012 tripped at 5 %, Re 6e6, compared with {LADSON}"),
        &["angle, deg", "lift, test", "lift, computed", "drag, test", "drag, computed", "converged"],
    );
    let rows = [
        (0.0, -0.008, 0.0081),
        (4.08, 0.4359, 0.00839),
        (8.16, 0.8758, 0.01010),
        (10.13, 1.0764, 0.01180),
        (12.12, 1.2657, 0.01304),
        (14.2, 1.4417, 0.01596),
        (16.26, 1.5811, 0.02166),
        (17.17, 1.6227, 0.02529),
    ];
    let settings = ViscousSettings { trip_back: 0.05, trip_face: 0.05, ..ViscousSettings::default() };
    let section = PreparedSection::new(&four(0.0, 0.12).outline(400), settings)?;
    let angles: Vec<f64> = (0..36).map(|i| (0.5 * f64::from(i)).to_radians()).collect();
    let points = section.march(&angles, &[6e6])?.remove(0);
    for (angle, lift, drag) in rows {
        let i = ((angle / 0.5) as usize).min(points.len() - 2);
        let (p, q, t) = (&points[i], &points[i + 1], angle / 0.5 - i as f64);
        let mix = |a: f64, b: f64| a + t * (b - a);
        row(&[
            format!("{angle:.2}"),
            format!("{lift:.4}"),
            format!("{:.4}", mix(p.lift, q.lift)),
            format!("{drag:.5}"),
            format!("{:.5}", mix(p.drag, q.drag)),
            if p.converged && q.converged { "yes" } else { "no" }.to_owned(),
        ]);
    }
    Ok(())
}

/// Polars as needed for a propeller.
fn speed() -> Result<(), PolarError> {
    table(
        "Whole polars, 3 Reynolds numbers from 1e5 to 3e6, one thread",
        &["section", "seconds", "converged from -10 deg to stall"],
    );
    for thickness in [0.06, 0.1171, 0.2, 0.3] {
        let started = Instant::now();
        let polar =
            SectionTable::compute(&outline(&Family::ClarkY { thickness }), &TableSettings::default())?;
        let counts: Vec<String> = polar
            .convergence()
            .iter()
            .map(|c| {
                format!(
                    "Re {:.1e}: {} of {}, lift {:.2} to {:.2}",
                    c.reynolds, c.converged, c.asked, c.extreme_lift[0], c.extreme_lift[1]
                )
            })
            .collect();
        row(&[
            format!("Clark Y {:.1} %", 100.0 * thickness),
            format!("{:.2}", started.elapsed().as_secs_f64()),
            counts.join("; "),
        ]);
    }
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
