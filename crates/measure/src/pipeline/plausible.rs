//! Whether a finished table is that of a blade at all: reasons against it, for one warning or a refusal.
//!
//! The limits are common practice, no source: the widest ship screws have chords of 0.9 of the radius and an activity factor of some 700.

use bladeform_table::{Station, StationTable};

use crate::error::{Doubt, MeasureError, NoBladeReason};
use crate::notice::MeasureNotice;

/// Greatest chord over tip radius, and greatest activity factor, of what is still a blade; from the second value on it is none.
const WIDEST: [f64; 2] = [1.0, 1.6];
const ACTIVITY: [f64; 2] = [800.0, 2000.0];
/// Greatest change of the blade angle, deg, between neighbouring stations at most this far apart, tip radii. A helicoid of any pitch turns by less.
const JUMP_DEG: f64 = 40.0;
const NEAR: f64 = 0.15;
/// Part of the stations from which thick or refused ones are no blade's.
const MOST: f64 = 0.6;
/// Thickness ratio beyond which a section is no longer one of a blade.
const THICK: f64 = 0.5;
/// So many reasons together refuse.
const ENOUGH: usize = 3;

/// Adds the warning to a table that is hardly that of a blade.
///
/// # Errors
/// [`MeasureError::NoBlade`] where one figure is beyond any blade's by far, or three reasons come together.
pub(super) fn check(table: &mut StationTable, notices: &mut Vec<MeasureNotice>) -> Result<(), MeasureError> {
    notices.extend(unlikely_size(table));
    let (doubts, beyond_doubt) = doubts(table, notices);
    if doubts.is_empty() {
        return Ok(());
    }
    if beyond_doubt || ENOUGH <= doubts.len() {
        return Err(MeasureError::NoBlade { reason: NoBladeReason::Unlike { doubts }, left_out: 0 });
    }
    // What makes all figures doubtful comes first.
    notices.insert(0, MeasureNotice::HardlyABlade { doubts });
    Ok(())
}

/// Tip radii, m, of what is measured here: from model propellers to ships' screws.
const SIZES_M: [f64; 2] = [0.02, 6.0];
/// Tip radii, m, among which a likely unit is looked for: those of most propellers.
const USUAL_M: [f64; 2] = [0.1, 2.5];
/// Units in which scans are written, and what one is, m: the usual ones first.
const UNITS: [(&str, f64); 5] =
    [("millimetres", 1e-3), ("inches", 0.0254), ("centimetres", 0.01), ("feet", 0.3048), ("metres", 1.0)];

/// A notice of a size that no propeller has, with the likely unit where no length is known.
fn unlikely_size(table: &StationTable) -> Option<MeasureNotice> {
    let radius_m = table.blade.radius_m;
    if (SIZES_M[0]..=SIZES_M[1]).contains(&radius_m) {
        return None;
    }
    let is_guess = table.scale.as_ref().is_some_and(|s| s.relative_uncertainty.is_none());
    let usual = |unit: &&(&str, f64)| (USUAL_M[0]..=USUAL_M[1]).contains(&(radius_m * unit.1));
    let likely = UNITS.iter().find(usual).map(|unit| unit.0).filter(|_| is_guess);
    Some(MeasureNotice::UnlikelySize { radius_m, likely })
}

/// The reasons, and whether one of them is enough alone.
fn doubts(table: &StationTable, notices: &[MeasureNotice]) -> (Vec<Doubt>, bool) {
    let stations = &table.stations;
    let radius_m = table.blade.radius_m;
    let widest = stations.iter().filter_map(|s| s.longest_chord_m).fold(0.0, f64::max) / radius_m;
    let activity = table.blade.activity_factor.unwrap_or(0.0);
    let mut doubts = Vec::new();
    if WIDEST[0] < widest {
        doubts.push(Doubt::Wide { chord_per_radius: widest });
    }
    if ACTIVITY[0] < activity {
        doubts.push(Doubt::Active { factor: activity });
    }
    if let Some((jump_deg, radius_ratio)) = greatest_jump(stations).filter(|jump| JUMP_DEG < jump.0) {
        doubts.push(Doubt::Jump { jump_deg, radius_ratio });
    }
    let part = |is: &dyn Fn(&Station) -> bool| {
        stations.iter().filter(|s| is(s)).count() as f64 / stations.len().max(1) as f64
    };
    let thick = part(&|s| s.thickness_ratio.is_some_and(|t| THICK < t));
    if MOST < thick {
        doubts.push(Doubt::Thick { part: thick });
    }
    let refused = part(&Station::is_refused);
    if MOST < refused {
        doubts.push(Doubt::Refused { part: refused });
    }
    let has = |wanted: &dyn Fn(&MeasureNotice) -> bool| notices.iter().any(wanted);
    if has(&|n| matches!(n, MeasureNotice::AxisBySymmetry))
        && has(&|n| matches!(n, MeasureNotice::SidesUncertain { .. }))
        && has(&|n| matches!(n, MeasureNotice::Tip(_) | MeasureNotice::TipOfBlade { .. }))
    {
        doubts.push(Doubt::NoFeature);
    }
    (doubts, WIDEST[1] < widest || ACTIVITY[1] < activity)
}

/// The greatest change of the blade angle between neighbours, deg, and where.
fn greatest_jump(stations: &[Station]) -> Option<(f64, f64)> {
    let with_angle: Vec<(f64, f64)> =
        stations.iter().filter_map(|s| Some((s.radius_ratio, s.blade_angle_deg?))).collect();
    with_angle
        .windows(2)
        .filter(|w| w[1].0 - w[0].0 <= NEAR)
        .map(|w| ((w[1].1 - w[0].1).abs(), w[1].0))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(chord_m: f64, angles: [f64; 4]) -> StationTable {
        let station = |k: usize| Station {
            longest_chord_m: Some(chord_m),
            blade_angle_deg: Some(angles[k]),
            ..Station::at(0.4 + 0.1 * k as f64, 1.0)
        };
        let mut table = StationTable { stations: (0..4).map(station).collect(), ..StationTable::default() };
        table.blade.radius_m = 1.0;
        table
    }

    fn outcome(mut table: StationTable) -> Result<usize, MeasureError> {
        let mut notices = Vec::new();
        check(&mut table, &mut notices).map(|()| notices.len())
    }

    #[test]
    fn a_wide_screw_is_a_blade_and_a_chord_beyond_the_radius_is_hardly_one() {
        let angles = [50.0, 42.0, 36.0, 31.0];
        assert_eq!(outcome(table(0.9, angles)).ok(), Some(0));
        assert_eq!(outcome(table(1.2, angles)).ok(), Some(1));
        assert!(outcome(table(1.7, angles)).is_err());
    }

    #[test]
    fn a_radius_of_254_m_is_that_of_a_file_in_millimetres() {
        let sized = |radius_m: f64, u: Option<f64>| {
            let mut table = table(0.2 * radius_m, [50.0, 42.0, 36.0, 31.0]);
            table.blade.radius_m = radius_m;
            table.scale = Some(bladeform_table::Scale { relative_uncertainty: u, ..Default::default() });
            unlikely_size(&table)
        };
        let unlikely = |radius_m, likely| Some(MeasureNotice::UnlikelySize { radius_m, likely });
        assert_eq!(sized(254.0, None), unlikely(254.0, Some("millimetres")));
        assert_eq!(sized(33.0, None), unlikely(33.0, Some("inches")));
        assert_eq!(sized(33.0, Some(1e-3)), unlikely(33.0, None));
        assert_eq!(sized(1.42, None), None);
    }

    #[test]
    fn angles_that_jump_are_hardly_those_of_a_blade() {
        assert_eq!(outcome(table(0.2, [50.0, -40.0, 36.0, 31.0])).ok(), Some(1));
        let mut worst = table(1.2, [50.0, -40.0, 36.0, 31.0]);
        worst.blade.activity_factor = Some(900.0);
        assert!(outcome(worst).is_err());
    }
}
