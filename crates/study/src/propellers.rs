//! Whole propellers of two to six blades, both hands: number, hand, axis of rotation, absolute blade angles.

use std::io::Write;

use bladeform_measure::{MeasurePlan, measure};
use bladeform_quantity::{Hand, StationRadii};
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};
use bladeform_table::StationTable;

use crate::accuracy::{bytes, ratios};
use crate::markdown::Table;
use crate::tally::{HEADINGS, Tally};

/// Angle between the true axis of rotation and the one found, deg. The second row of the table's map is along the axis found.
fn axis_error_deg(table: &StationTable, scan_axis: [f64; 3]) -> Option<f64> {
    let m = table.frame.as_ref()?.scan_to_blade?;
    let row = [m[1][0], m[1][1], m[1][2]];
    let size = row.iter().map(|c| c * c).sum::<f64>().sqrt();
    let cross = [
        row[1] * scan_axis[2] - row[2] * scan_axis[1],
        row[2] * scan_axis[0] - row[0] * scan_axis[2],
        row[0] * scan_axis[1] - row[1] * scan_axis[0],
    ];
    Some((cross.iter().map(|c| c * c).sum::<f64>().sqrt() / size).asin().to_degrees())
}

pub(crate) fn run(seeds: usize, triangles: usize, first: u64) -> std::io::Result<()> {
    let mut out = std::io::stdout();
    let (mut angle, mut chord, mut axis) = (Tally::default(), Tally::default(), Tally::default());
    let (mut right_number, mut right_hand, mut runs, mut measuring) = (0, 0, 0, 0.0);
    for seed in (first..).take(seeds) {
        for count in 2..=6 {
            let left_handed = (count + seed as usize) % 2 == 1;
            let blade =
                Blade { shank_radius_m: 0.0, root_radius_m: 0.05, left_handed, ..Blade::quarry_mill() };
            let propeller =
                SpecimenPropeller { blade: blade.clone(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
            let scan = scan_of_propeller(&propeller, &ScanPlan { triangles, ..ScanPlan::usual(seed) });
            let file = bytes(&scan.mesh)?;
            let ask = MeasurePlan {
                resolution_m: Some(0.0),
                diameter_m: Some(2.0 * blade.radius_m),
                stations: StationRadii::Ratios(ratios()),
                ..MeasurePlan::default()
            };
            runs += 1;
            let before = std::time::Instant::now();
            let result =
                measure(bladeform_measure::ScanInput::file(&file, "study"), &ask, &bladeform_measure::Silent);
            measuring += before.elapsed().as_secs_f64();
            let table = match result {
                Ok(table) => table,
                Err(e) => {
                    writeln!(out, "seed {seed}, {count} blades: {e}")?;
                    continue;
                }
            };
            let hand = if left_handed { Hand::Left } else { Hand::Right };
            right_hand += usize::from(table.frame.as_ref().is_some_and(|f| f.hand == hand));
            if table.blade.blades_in_scan != Some(count as u64) {
                writeln!(out, "seed {seed}, {count} blades: {:?} found", table.blade.blades_in_scan)?;
                continue;
            }
            right_number += 1;
            let along: [f64; 3] = std::array::from_fn(|i| scan.pose.rotation[i][1]);
            if let Some(e) = axis_error_deg(&table, along) {
                axis.add(e, None);
            }
            for s in &table.stations {
                let t = blade.truth(s.radius_ratio);
                if let Some(a) = s.blade_angle_deg {
                    angle.add(a - t.blade_angle_deg, s.u.blade_angle_deg);
                }
                if let Some(c) = s.chord_m {
                    chord.add(c / t.chord_m - 1.0, s.u.chord_m.map(|u| u / t.chord_m));
                }
            }
        }
    }
    let title = format!(
        "Propellers of 2 to 6 blades, usual scan: {triangles} triangles, {seeds} seeds from {first}; number of blades right in {right_number} of {runs}, \
         hand right in {right_hand}; {:.2} s for each scan",
        measuring / runs.max(1) as f64
    );
    let table = Table::begin(&mut out, &title, &HEADINGS)?;
    angle.print(&mut out, &table, &[], "mean blade angle, deg", [Some(0.1), None])?;
    chord.print(&mut out, &table, &[], "mean chord, relative", [Some(0.0015), None])?;
    axis.print(&mut out, &table, &[], "axis of rotation, deg", [Some(0.05), None])
}
