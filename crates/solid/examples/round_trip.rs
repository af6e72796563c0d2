//! Measures invented blades, builds their solids, measures those, and prints the differences as Markdown tables.
//!
//! `cargo run --release -p bladeform-solid --example round_trip [TRIANGLES [FOLDER]]`; FOLDER also keeps the tables and the solids. The last one is a screw, measured on cylinders about the axis of rotation.

use bladeform_measure::{MeasurePlan, measure};
use bladeform_quantity::StationRadii;
use bladeform_section::{mean_line, signed_distance};
use bladeform_solid::{BladeSurface, PropellerSurface, Silent, SolidFormat, SolidPlan, deviation};
use bladeform_specimen::{Blade, ScanPlan, SectionKind, SpecimenPropeller, scan_of_blade, scan_of_screw};
use bladeform_table::{SectionSurface, Station, StationTable};

type Failure = Box<dyn std::error::Error>;

/// Tolerances of the round trip at stations without a flag: angle in deg, chord and thickness ratio as fractions.
const GOAL: [f64; 3] = [0.02, 5e-4, 5e-4];

/// Headings of the summary and of the scan distances.
const SUMMARY: [&str; 5] = ["blade", "stations that miss the goal", "angle, deg", "chord, %", "t/c"];
const SCANS: [&str; 6] = ["blade", "part", "rms", "95 % within", "greatest", "points"];

fn main() -> Result<(), Failure> {
    let triangles = std::env::args().nth(1).map_or(Ok(150_000), |t| t.parse())?;
    let mut text = format!(
        "`cargo run --release -p bladeform-solid --example round_trip -- {triangles}`\n\n\
         Goal at every unflagged station: angle 0.02 deg, chord 0.05 %, thickness ratio 0.0005.\n"
    );
    let mut summary = heads("Solid measured again: greatest differences at unflagged stations", &SUMMARY);
    let mut scans = heads("Distance of the scan from the surface, mm", &SCANS);
    for kind in [SectionKind::FourDigit, SectionKind::ClarkY, SectionKind::FlatFaced] {
        let blade = Blade::quarry_mill().with_kind(kind);
        let scan = scan_of_blade(&blade, &ScanPlan { triangles, ..ScanPlan::usual(7) });
        let mut bytes = Vec::new();
        bladeform_mesh::write_ply_binary(&scan.mesh, &mut bytes)?;
        let plan = MeasurePlan {
            length_m: Some(blade.length_m()),
            diameter_m: Some(2.0 * blade.radius_m),
            ..MeasurePlan::default()
        };
        let table = measure(bladeform_measure::ScanInput::file(&bytes, "scan.ply"), &plan, &Silent)?;
        if let Some(folder) = std::env::args().nth(2) {
            let mut written = Vec::new();
            bladeform_document::write_json(&table, &mut written)?;
            std::fs::write(format!("{folder}/{kind:?}.json"), written)?;
        }
        let shank = SolidPlan { shank_diameter_m: Some(2.0 * blade.shank_radius_m), ..SolidPlan::default() };
        let propeller = PropellerSurface::new(&table, shank)?;
        text.push('\n');
        for warning in propeller.blade().warnings() {
            text.push_str(&format!("- {kind:?}: {warning:?}\n"));
        }
        text.push_str(&compared_directly(&format!("{kind:?}"), &table, propeller.blade()));
        let made = match propeller.at(None, &Silent) {
            Ok(made) => made,
            Err(e) => {
                text.push_str(&format!("\n{kind:?}: {e}\n"));
                continue;
            }
        };
        let mut stl = Vec::new();
        made.solid.write(SolidFormat::Stl, false, &mut stl)?;
        if let Some(folder) = std::env::args().nth(2) {
            std::fs::write(format!("{folder}/{kind:?}.stl"), &stl)?;
        }
        let radii = StationRadii::Lengths(
            table.stations.iter().map(|s| bladeform_quantity::Length::from_m(s.radius_m)).collect(),
        );
        let again = measure(
            bladeform_measure::ScanInput::file(&stl, "solid.stl"),
            &MeasurePlan { stations: radii, ..plan },
            &Silent,
        )?;
        let (rows, line) = compared(&format!("{kind:?}"), &table, &again);
        text.push_str(&rows);
        summary.push_str(&line);
        let found = deviation(&table, propeller.blade(), &bytes, &Silent)?;
        for (name, f) in [("back", found.back), ("face", found.face), ("unflagged", found.unflagged)] {
            scans.push_str(&row(&[
                format!("{kind:?}"),
                name.to_owned(),
                format!("{:.3}", 1e3 * f.rms_m),
                format!("{:.3}", 1e3 * f.ninety_five_m),
                format!("{:.3}", 1e3 * f.greatest_m),
                f.points.to_string(),
            ]));
        }
    }
    let (rows, line) = of_screw(triangles)?;
    text.push_str(&rows);
    summary.push_str(&line);
    text.push_str(&summary);
    text.push_str(&scans);
    std::io::Write::write_all(&mut std::io::stdout(), text.as_bytes())?;
    Ok(())
}

/// A wide screw of four blades: scan, table on cylinders, solid, and the table of the solid.
fn of_screw(triangles: usize) -> Result<(String, String), Failure> {
    let screw = SpecimenPropeller::wide_screw();
    let scan = scan_of_screw(&screw, &ScanPlan { triangles: 4 * triangles, ..ScanPlan::usual(7) });
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(&scan.mesh, &mut bytes)?;
    let plan = MeasurePlan {
        diameter_m: Some(2.0 * screw.blade.radius_m),
        sections: SectionSurface::Cylinder,
        ..MeasurePlan::default()
    };
    let table = measure(bladeform_measure::ScanInput::file(&bytes, "scan.ply"), &plan, &Silent)?;
    let propeller = PropellerSurface::new(&table, SolidPlan { blades: 4, ..SolidPlan::default() })?;
    let mut text = String::from("\n");
    for warning in propeller.warnings() {
        text.push_str(&format!("- screw: {warning:?}\n"));
    }
    text.push_str(&compared_directly("screw", &table, propeller.blade()));
    let made = propeller.at(None, &Silent)?;
    let mut stl = Vec::new();
    made.solid.write(SolidFormat::Stl, false, &mut stl)?;
    let radii = table.stations.iter().map(|s| bladeform_quantity::Length::from_m(s.radius_m)).collect();
    let again = measure(
        bladeform_measure::ScanInput::file(&stl, "solid.stl"),
        &MeasurePlan { stations: StationRadii::Lengths(radii), ..plan },
        &Silent,
    )?;
    let (rows, line) = compared("screw on cylinders", &table, &again);
    let found = deviation(&table, propeller.blade(), &bytes, &Silent)?;
    let rms_mm = [found.back.rms_m, found.face.rms_m].map(|m| format!("{:.3}", 1e3 * m));
    text.push_str(&rows);
    text.push_str(&format!(
        "\nScan of the screw from its surface, rms: back {} mm, face {} mm\n",
        rms_mm[0], rms_mm[1]
    ));
    Ok((text, line))
}

/// Rows of differences between the sections of the solid and the outlines of the table, without measuring: distance of the outlines, and values of both from the
/// inscribed circles of their polygons.
fn compared_directly(name: &str, table: &StationTable, blade: &BladeSurface) -> String {
    let headings = ["r, mm", "farthest, mm", "without the last 2 %, mm", "angle, deg", "chord, %", "t/c"];
    let mut text = heads(&format!("{name}: section of the surface less outline of the table"), &headings);
    for s in &table.stations {
        let (Some(outline), Some(chord), Some(angle)) = (&s.outline, s.chord_m, s.blade_angle_deg) else {
            continue;
        };
        let mid = [s.mid_chord_x_m.unwrap_or(0.0), s.mid_chord_y_m.unwrap_or(0.0)];
        let (sin, cos) = angle.to_radians().sin_cos();
        // The section of the surface in the station frame.
        let own: Vec<[f64; 2]> = blade
            .section(s.radius_m, 8)
            .iter()
            .map(|p| [p[0] - mid[0], p[1] - mid[1]])
            .map(|d| [0.5 * chord - d[0] * cos - d[1] * sin, d[1] * cos - d[0] * sin])
            .collect();
        let stated: Vec<[f64; 2]> = outline.points().collect();
        let far = |reach: f64| {
            let near = own.iter().filter(|p| p[0] < reach * chord);
            near.map(|p| signed_distance(&stated, *p).abs()).fold(0.0, f64::max)
        };
        let figures = match (figures_of(&stated), figures_of(&own)) {
            (Some(a), Some(b)) => [
                format!("{:.4}", a[0] - b[0]),
                format!("{:.4}", 100.0 * (b[1] / a[1] - 1.0)),
                format!("{:.5}", b[2] - a[2]),
            ],
            _ => ["no mean line".to_owned(), String::new(), String::new()],
        };
        let places = [1e3 * s.radius_m, 1e3 * far(2.0), 1e3 * far(0.98)];
        let [radius, farthest, without_tail] = places;
        let first = [format!("{radius:.1}"), format!("{farthest:.4}"), format!("{without_tail:.4}")];
        text.push_str(&row(&[first, figures].concat()));
    }
    text
}

/// Direction of the chord line in deg, chord and thickness ratio of a polygon with its leading edge near the origin.
fn figures_of(polygon: &[[f64; 2]]) -> Option<[f64; 3]> {
    let from_nose = |i: &usize| polygon[*i][0].hypot(polygon[*i][1]);
    let nose = (0..polygon.len()).min_by(|a, b| from_nose(a).total_cmp(&from_nose(b)))?;
    let line = mean_line(polygon, nose).ok()?;
    let v = line.chord_vector();
    Some([v[1].atan2(v[0]).to_degrees(), line.chord(), line.thickness() / line.chord()])
}

/// The table of differences, and its row of the summary. Angles are relative to their median, because one station sets the zero of a single blade.
fn compared(name: &str, before: &StationTable, after: &StationTable) -> (String, String) {
    let pairs: Vec<(&Station, &Station)> = before.stations.iter().zip(&after.stations).collect();
    let angle = |(a, b): &(&Station, &Station)| Some(b.blade_angle_deg? - a.blade_angle_deg?);
    let unflagged = |p: &&(&Station, &Station)| p.0.flags.is_empty() && p.1.flags.is_empty();
    let turns: Vec<f64> = pairs.iter().filter(unflagged).filter_map(angle).collect();
    let mut turns = turns;
    turns.sort_by(f64::total_cmp);
    let zero = turns.get(turns.len() / 2).copied().unwrap_or(0.0);
    let headings = ["r, mm", "angle, deg", "chord, %", "t/c", "flagged"];
    let mut text = heads(&format!("{name}: solid measured again less table"), &headings);
    let (mut worst, mut judged, mut missed) = ([0.0_f64; 3], 0, 0);
    for pair in &pairs {
        let (a, b) = pair;
        let (Some(turn), Some(c0), Some(c1)) = (angle(pair), a.chord_m, b.chord_m) else { continue };
        let (Some(t0), Some(t1)) = (a.thickness_ratio, b.thickness_ratio) else { continue };
        let d = [turn - zero, c1 / c0 - 1.0, t1 - t0];
        let flagged = !unflagged(&pair);
        if !flagged {
            judged += 1;
            missed += usize::from((0..3).any(|k| GOAL[k] < d[k].abs()));
            worst = std::array::from_fn(|k| worst[k].max(d[k].abs()));
        }
        text.push_str(&row(&[
            format!("{:.1}", 1e3 * a.radius_m),
            format!("{:.4}", d[0]),
            format!("{:.4}", 100.0 * d[1]),
            format!("{:.5}", d[2]),
            if flagged { "yes" } else { "no" }.to_owned(),
        ]));
    }
    let line = row(&[
        name.to_owned(),
        format!("{missed} of {judged}"),
        format!("{:.4}", worst[0]),
        format!("{:.4}", 100.0 * worst[1]),
        format!("{:.5}", worst[2]),
    ]);
    (text, line)
}

/// One row of a Markdown table.
fn row<S: AsRef<str>>(cells: &[S]) -> String {
    let texts: Vec<&str> = cells.iter().map(AsRef::as_ref).collect();
    format!("| {} |\n", texts.join(" | "))
}

/// The title and the headings of a Markdown table.
fn heads(title: &str, headings: &[&str]) -> String {
    format!("\n{title}\n\n{}{}", row(headings), row(&vec!["---"; headings.len()]))
}
