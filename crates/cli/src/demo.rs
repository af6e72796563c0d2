//! The main job on an invented scan: a blade of the Quarry Mill workshop, which never existed.

use std::fmt::Write;
use std::path::Path;

use bladeform::measure::MeasurePlan;
use bladeform::mesh::write_ply_binary;
use bladeform::quantity::{ShownUnits, StationRadii};
use bladeform::table::{RecordText, Shown, Station, StationTable};
use bladeform::words::{fitted, render_in};
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};

use crate::advice::{advice, line};
use crate::failure::{Failure, Said};
use crate::feedback::{Shares, ToLog, stage};
use crate::held::Held;
use crate::output::{Outputs, can_be_written, table_files};
use crate::record::{PAGE, page_of_measured};

/// Names of the demo's scan and tables.
const FILES: [&str; 3] = ["quarry-mill-4.ply", "stations.json", "stations.csv"];

/// Approximate fractions of the time of an ordinary run; they only weight the time left.
pub(crate) const SHARES: Shares = &[
    ("making a scan", 4.0),
    ("reading the mesh", 1.0),
    ("repairing the mesh", 14.0),
    ("finding the axes", 27.0),
    ("measuring stations", 32.0),
    ("making the page", 22.0),
];

/// Seed of the demo's scan.
const SEED: u64 = 4;
/// Its triangles.
const TRIANGLES: usize = 400_000;

/// Makes the scan, measures it like a user, and compares each figure with the truth.
///
/// # Errors
/// A sentence.
pub(crate) fn demo(out: &Path, overwrite: bool, units: ShownUnits) -> Result<Said, Failure> {
    can_be_written(FILES.into_iter().chain([PAGE]).map(|n| out.join(n)), [])?;
    let failed = |what: &str, e: &dyn std::fmt::Display| Failure::Input(format!("{what}: {e}"));
    stage("making a scan");
    let blade = Blade::quarry_mill();
    let scan = scan_of_blade(&blade, &ScanPlan { triangles: TRIANGLES, ..ScanPlan::usual(SEED) });
    let mut bytes = Vec::new();
    write_ply_binary(&scan.mesh, &mut bytes).map_err(|e| failed("the scan cannot be written", &e))?;
    let held = Held::in_folder(out);
    if !overwrite {
        held.must_be_of_scan(&bytes)?;
    }
    let plan = MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios((0..13).map(|i| 0.30 + 0.05 * f64::from(i)).collect()),
        ..MeasurePlan::default()
    };
    let (mut table, part) = crate::measure::with_part((&bytes).into(), FILES[0], &plan, true, &ToLog)
        .map_err(|e| failed(FILES[0], &e))?;
    crate::measure::tell_choices(&table);
    let note = format!(
        "An invented wooden blade. Its scan was made with seed {SEED}: any pose and unit, noise 0.2 mm, five holes, fragments, a piece of bench."
    );
    table.record = held.record_of(&table);
    let texts = [
        (RecordText::Title, blade.name),
        (RecordText::Note, &note),
        (RecordText::Date, "undated, a demonstration"),
    ];
    texts.into_iter().for_each(|(text, value)| table.record.set(text, value));
    let pictures = crate::photographs::found(&table.record.photographs, &[out]);
    let [json, csv, _] = table_files(&table)?;
    stage("making the page");
    let page = page_of_measured(&json, (part.as_ref(), &pictures), held.prediction(&json), units);
    let mut outputs = Outputs::default();
    for (name, content) in FILES.into_iter().zip([bytes, json, csv]) {
        outputs.add(out.join(name), content);
    }
    page.add_to(&mut outputs, out);
    outputs.write()?;
    let mut text = fitted(&units.text(&format!("{}. {note}\n\n", blade.name)));
    text.push_str(&render_in(&table, units, &advice));
    text.push_str(&compare(&table, &blade, units));
    let _ = writeln!(
        text,
        "\nThe scan, stations.json, stations.csv and the page record.html are in {}.",
        out.display()
    );
    text.push_str(&page.text(units));
    let warnings = table.warnings.iter().map(line).chain(page.warnings.iter().cloned()).collect();
    Ok(Said { text, warnings })
}

/// Measured minus true, station by station; angles relative to 0.75 R, since a lone blade does not show its plane of rotation.
fn compare(table: &StationTable, blade: &Blade, units: ShownUnits) -> String {
    let chord = Shown::new("chord", "mm", 1e3, 3).in_units(units);
    let mut text = format!(
        "\nMeasured minus true (the generator knows the truth)\n   r/R   chord [{}]   twist [deg]   face angle [deg]   t/c [%]   camber [%]\n",
        chord.unit
    );
    let at_reference = |f: &dyn Fn(&Station) -> Option<f64>| {
        table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-6).and_then(f).unwrap_or(f64::NAN)
    };
    let truth = |s: &Station| blade.truth(s.radius_ratio);
    let angle0 = at_reference(&|s| Some(s.blade_angle_deg? - truth(s).blade_angle_deg));
    let face0 = at_reference(&|s| Some(s.face_angle_deg? - truth(s).face_angle_deg));
    for s in &table.stations {
        let t = truth(s);
        let to = |value: Option<f64>, truth: f64, factor: f64, decimals: usize| {
            value.map_or("-".to_owned(), |v| format!("{:+.decimals$}", factor * (v - truth)))
        };
        let d = |value: Option<f64>, truth: f64, factor: f64| to(value, truth, factor, 3);
        let _ = writeln!(
            text,
            "{:6.2} {:>12} {:>13} {:>18} {:>9} {:>12}",
            s.radius_ratio,
            to(s.chord_m, t.chord_m, chord.factor, chord.decimals),
            d(s.blade_angle_deg, t.blade_angle_deg + angle0, 1.0),
            d(s.face_angle_deg, t.face_angle_deg + face0, 1.0),
            d(s.thickness_ratio, t.thickness_ratio, 1e2),
            d(s.camber_ratio, t.camber_ratio, 1e2),
        );
    }
    text
}
