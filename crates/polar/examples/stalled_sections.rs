//! Sections from 0 to 180 deg beside wind tunnels: `cargo run --release -p bladeform-polar --example stalled_sections`.
//!
//! NACA 0012: R. E. Sheldahl, P. C. Klimas, "Aerodynamic characteristics of seven symmetrical airfoil sections through 180-degree angle of attack",
//! SAND80-2114, 1981, at angles where the report's tables no longer depend on the Reynolds number (from memory); beside it C. C. Critzos, H. H. Heyson,
//! R. W. Boswinkle, NACA TN 3361, 1955, Reynolds number 1.8e6: drag 2.08 at 90 deg, second peak of the lift 1.15 near 45 deg (from memory).
//! Nothing here is tuned to the published figures; a miss is printed as a miss.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_polar::{PolarError, SectionPolar, SectionTable, TableSettings};
use bladeform_section::Family;

/// Reynolds number of TN 3361, near that of the other report's greatest.
const REYNOLDS: f64 = 1.8e6;
/// Angle in degrees, lift, drag (SAND80-2114, from memory).
const SANDIA: [[f64; 3]; 24] = [
    [25.0, f64::NAN, 0.405],
    [27.0, f64::NAN, 0.460],
    [30.0, 0.855, 0.570],
    [35.0, 0.980, 0.745],
    [40.0, 1.035, 0.920],
    [45.0, 1.050, 1.075],
    [50.0, 1.020, 1.215],
    [55.0, 0.955, 1.345],
    [60.0, 0.875, 1.470],
    [70.0, 0.630, 1.665],
    [80.0, 0.365, 1.780],
    [90.0, 0.090, 1.800],
    [100.0, -0.185, 1.750],
    [110.0, -0.450, 1.635],
    [120.0, -0.670, 1.465],
    [130.0, -0.850, 1.225],
    [140.0, -0.980, 0.925],
    [150.0, -0.770, 0.575],
    [155.0, -0.670, 0.420],
    [160.0, -0.635, 0.320],
    [165.0, -0.680, 0.230],
    [170.0, -0.850, 0.140],
    [175.0, -0.660, 0.055],
    [180.0, 0.0, 0.025],
];

fn main() -> Result<(), PolarError> {
    let of = |family: Family, reynolds: [f64; 2]| {
        let settings = TableSettings { reynolds, ..TableSettings::default() };
        SectionTable::compute(&family.outline(300), &settings)
    };
    let symmetric = of(Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }, [REYNOLDS; 2])?;
    println!("NACA 0012, Reynolds number {REYNOLDS:.1e}, beside SAND80-2114 (from memory)");
    println!(
        "  angle    lift  published   diff |   drag  published   diff | normal published | chordwise published"
    );
    let (mut sums, mut count) = ([0.0; 3], 0);
    for [angle, lift, drag] in SANDIA {
        let (sin, cos) = angle.to_radians().sin_cos();
        let f = symmetric.forces(angle.to_radians(), REYNOLDS, 0.0);
        let normal = [f.lift * cos + f.drag * sin, lift * cos + drag * sin];
        let chordwise = [f.lift * sin - f.drag * cos, lift * sin - drag * cos];
        println!(
            "{angle:>7.1} {:>7.3} {lift:>10.3} {:>+6.3} | {:>6.3} {drag:>10.3} {:>+6.3} | {:>6.3} {:>9.3} | {:>9.3} {:>9.3}",
            f.lift,
            f.lift - lift,
            f.drag,
            f.drag - drag,
            normal[0],
            normal[1],
            chordwise[0],
            chordwise[1]
        );
        if lift.is_finite() {
            let of = [f.lift - lift, f.drag - drag, normal[0] - normal[1]];
            sums = [0, 1, 2].map(|k| sums[k] + of[k] * of[k]);
            count += 1;
        }
    }
    let rms = sums.map(|s: f64| (s / f64::from(count)).sqrt());
    println!(
        "root mean square of the differences: lift {:.3}, drag {:.3}, normal force {:.3}",
        rms[0], rms[1], rms[2]
    );
    let most =
        (30..60).map(|a| symmetric.forces(f64::from(a).to_radians(), REYNOLDS, 0.0).lift).fold(0.0, f64::max);
    let across = symmetric.forces(90f64.to_radians(), REYNOLDS, 0.0).drag;
    println!(
        "TN 3361 (from memory): second peak of the lift 1.15, computed {most:.2}; drag at 90 deg 2.08, computed {across:.2}"
    );

    for (name, family) in [
        ("NACA 0012", Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }),
        ("Clark Y 11.7 %", Family::ClarkY { thickness: 0.1171 }),
        ("Clark Y 7 %", Family::ClarkY { thickness: 0.07 }),
    ] {
        let table = of(family, [1e5, 3e6])?;
        for reynolds in [1e5, 5e5, 3e6] {
            println!(
                "\n{name}, Reynolds number {reynolds:.0e}: angle, lift, drag, moment, drag over that of a force at right angles to the chord"
            );
            for angle in [
                -60.0, -40.0, -25.0, -20.0, -15.0, -10.0, 0.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0,
                24.0, 26.0, 30.0, 40.0, 60.0, 90.0,
            ] {
                let alpha = f64::to_radians(angle);
                let f = table.forces(alpha, reynolds, 0.0);
                println!(
                    "{angle:>7.1} {:>7.3} {:>7.4} {:>+7.3} {:>7.2} {:?}{}",
                    f.lift,
                    f.drag,
                    f.moment,
                    f.drag / (f.lift * alpha.tan()).abs(),
                    f.region,
                    if f.stalled { ", stalled" } else { "" }
                );
            }
        }
    }
    Ok(())
}
