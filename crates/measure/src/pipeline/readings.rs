//! Readings by hand: where they were taken, and the table beside the scan's own figures there.

use bladeform_table::{Notice, Reading, Station, StationTable, TableKnows, TableNotice, compare_readings};

use crate::error::MeasureError;
use crate::plan::MeasurePlan;

/// Radii this close, as a fraction of the tip radius, are one place.
const SAME_PLACE: f64 = 1e-9;

/// The radii, m, at which sections were read by hand: rising, each once.
///
/// # Errors
/// [`MeasureError::StationOutside`] for a section that is not between root and tip, or for a length that ends beyond them.
pub(super) fn radii_of_readings(
    plan: &MeasurePlan,
    root_m: f64,
    tip_m: f64,
) -> Result<Vec<f64>, MeasureError> {
    let mut radii = Vec::new();
    for reading in &plan.readings {
        let is_section = reading.of.column().is_some();
        for place in [Some(reading.at), reading.to].into_iter().flatten() {
            let radius_m = place.radius_m(tip_m);
            // A length may extend from end to end, where rounding must not refuse it.
            let slack = if is_section { 0.0 } else { SAME_PLACE * tip_m };
            let inside = root_m - slack < radius_m && radius_m < tip_m + slack;
            if !inside {
                return Err(MeasureError::StationOutside { radius_m, root_m, tip_m });
            }
            if is_section {
                radii.push(radius_m);
            }
        }
    }
    radii.sort_by(f64::total_cmp);
    radii.dedup_by(|a, b| same(*a, *b, tip_m));
    Ok(radii)
}

fn same(a: f64, b: f64, tip_m: f64) -> bool {
    (a - b).abs() <= SAME_PLACE * tip_m
}

/// Puts the readings into the table, beside the stations measured at their places. A contradiction is the first of all notices.
pub(super) fn add_readings(table: &mut StationTable, stations: &[Station], plan: &MeasurePlan) {
    if plan.readings.is_empty() {
        return;
    }
    let tip_m = table.blade.radius_m;
    let row = |given: &crate::plan::HandReading| {
        let ends = [Some(given.at), given.to].map(|place| place.map(|p| p.radius_m(tip_m)));
        let (at, to) = match ends {
            [Some(a), Some(b)] if b < a => (b, Some(a)),
            [a, b] => (a.unwrap_or_default(), b),
        };
        let reading = Reading::new(given.of, given.value, given.u, at);
        let station = stations.iter().find(|s| same(s.radius_m, at, tip_m));
        (Reading { to_radius_m: to, ..reading }, station)
    };
    let knows = TableKnows {
        angles_are_relative: table.angles_are_relative(),
        scale_u: table.scale.as_ref().and_then(|s| s.relative_uncertainty),
    };
    let readings = compare_readings(plan.readings.iter().map(row).collect(), &knows);
    if readings.contradict {
        let notice = TableNotice::ReadingsContradict { readings: Box::new(readings.clone()) };
        table.warnings.insert(0, Notice::of(&notice));
    }
    table.readings = Some(readings);
}
