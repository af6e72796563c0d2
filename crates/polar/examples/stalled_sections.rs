//! Sections from 0 to 180 deg compared with wind-tunnel tests: `cargo run --release -p bladeform-polar --example stalled_sections`. Prints Markdown tables.
//!
//! NACA 0012: R. E. Sheldahl, P. C. Klimas, "Aerodynamic characteristics of seven symmetrical airfoil sections through 180-degree angle of attack",
//! SAND80-2114, 1981, at angles where the report's tables no longer depend on the Reynolds number (from memory); and C. C. Critzos, H. H. Heyson,
//! R. W. Boswinkle, NACA TN 3361, 1955, Reynolds number 1.8e6: drag 2.08 at 90 deg, second peak of the lift 1.15 near 45 deg (from memory).
//! Nothing here is fitted to the published values. All differences are printed.
#![allow(clippy::print_stdout, reason = "a table for people")]

use bladeform_polar::{PolarError, SectionPolar, SectionTable, TableSettings};
use bladeform_section::Family;

/// Reynolds number of TN 3361, near the largest of the other report.
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
    println!("`cargo run --release -p bladeform-polar --example stalled_sections`");
    table(
        &format!("NACA 0012, Reynolds number {REYNOLDS:.1e}, compared with SAND80-2114 (from memory)"),
        &[
            "angle, deg",
            "lift",
            "published",
            "difference",
            "drag",
            "published",
            "difference",
            "normal force",
            "published",
            "chordwise force",
            "published",
        ],
    );
    let (mut sums, mut count) = ([0.0; 3], 0);
    for [angle, lift, drag] in SANDIA {
        let (sin, cos) = angle.to_radians().sin_cos();
        let f = symmetric.forces(angle.to_radians(), REYNOLDS, 0.0);
        let normal = [f.lift * cos + f.drag * sin, lift * cos + drag * sin];
        let chordwise = [f.lift * sin - f.drag * cos, lift * sin - drag * cos];
        // A value that is not published has no difference.
        let shown = |v: f64, signed: bool| match (v.is_finite(), signed) {
            (false, _) => "-".to_owned(),
            (true, true) => format!("{v:+.3}"),
            (true, false) => format!("{v:.3}"),
        };
        let plain = |v: f64| shown(v, false);
        row(&[
            format!("{angle:.0}"),
            plain(f.lift),
            plain(lift),
            shown(f.lift - lift, true),
            plain(f.drag),
            plain(drag),
            shown(f.drag - drag, true),
            plain(normal[0]),
            plain(normal[1]),
            plain(chordwise[0]),
            plain(chordwise[1]),
        ]);
        if lift.is_finite() {
            let of = [f.lift - lift, f.drag - drag, normal[0] - normal[1]];
            sums = [0, 1, 2].map(|k| sums[k] + of[k] * of[k]);
            count += 1;
        }
    }
    let rms = sums.map(|s: f64| (s / f64::from(count)).sqrt());
    println!(
        "\nRoot mean square of the differences: lift {:.3}, drag {:.3}, normal force {:.3}",
        rms[0], rms[1], rms[2]
    );
    let most =
        (30..60).map(|a| symmetric.forces(f64::from(a).to_radians(), REYNOLDS, 0.0).lift).fold(0.0, f64::max);
    let across = symmetric.forces(90f64.to_radians(), REYNOLDS, 0.0).drag;
    println!(
        "\nTN 3361 (from memory): second peak of the lift 1.15, computed {most:.2}; drag at 90 deg 2.08, computed {across:.2}"
    );

    for (name, family) in [
        ("NACA 0012", Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 }),
        ("Clark Y 11.7 %", Family::ClarkY { thickness: 0.1171 }),
        ("Clark Y 7 %", Family::ClarkY { thickness: 0.07 }),
    ] {
        let polar = of(family, [1e5, 3e6])?;
        for reynolds in [1e5, 5e5, 3e6] {
            table(
                &format!(
                    "{name}, Reynolds number {reynolds:.0e}; drag ratio: drag over the drag of a force normal to the chord"
                ),
                &["angle, deg", "lift", "drag", "moment", "drag ratio", "region", "stalled"],
            );
            for angle in [
                -60.0, -40.0, -25.0, -20.0, -15.0, -10.0, 0.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0,
                24.0, 26.0, 30.0, 40.0, 60.0, 90.0,
            ] {
                let alpha = f64::to_radians(angle);
                let f = polar.forces(alpha, reynolds, 0.0);
                let ratio = f.drag / (f.lift * alpha.tan()).abs();
                row(&[
                    format!("{angle:.0}"),
                    format!("{:.3}", f.lift),
                    format!("{:.4}", f.drag),
                    format!("{:+.3}", f.moment),
                    if ratio.is_finite() { format!("{ratio:.2}") } else { "-".to_owned() },
                    format!("{:?}", f.region),
                    if f.stalled { "yes" } else { "no" }.to_owned(),
                ]);
            }
        }
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
