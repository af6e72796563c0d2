//! All stations of a blade together: how far their figures scatter about a smooth blade, and the smooth blade's own figures.
//!
//! The points of one band cannot show an error of the surface that is longer than the band: the section follows it. The figures of many stations can, because a
//! blade is smooth along its span and such an error is not.

mod kriging;

use bladeform_numeric::parallel;
use bladeform_table::{ColumnUnit, Station, StationColumn, UncertaintySource};

use self::kriging::{LEAST_READINGS, Reading, Smoothed, smoothed};

/// The figures that are judged.
const JUDGED: [StationColumn; 14] = [
    StationColumn::ChordM,
    StationColumn::LongestChordM,
    StationColumn::ThicknessM,
    StationColumn::AreaM2,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::LongestChordAngleDeg,
    StationColumn::ThicknessRatio,
    StationColumn::ThicknessPosition,
    StationColumn::CamberRatio,
    StationColumn::CamberPosition,
    StationColumn::MidChordXM,
    StationColumn::MidChordYM,
    StationColumn::TrailingEdgeThicknessM,
];
/// An uncertainty below this part of the figures' root mean square is rounding.
const LEAST_RELATIVE_U: f64 = 1e-7;

/// Radii this close, in tip radii, are one place: its figure is counted once.
const SAME_PLACE: f64 = 1e-6;

/// The figures of the smooth blade by column, station by station; `None` where the station lacks the figure.
pub(crate) type SmoothBlade = Vec<(StationColumn, Vec<Option<Smoothed>>)>;

/// Compares the stations of a blade with a smooth one and replaces the part of their uncertainty that comes from the scan by what their scatter shows.
pub(crate) fn judge(stations: &mut [Station], tip_radius_m: f64) -> SmoothBlade {
    let all: Vec<_> = parallel::map(&JUDGED, |&column| (column, judged(stations, column, tip_radius_m)));
    for (column, found) in &all {
        for (s, found) in stations.iter_mut().zip(found) {
            if let Some(found) = found {
                s.replace_uncertainty(*column, UncertaintySource::Scan, found.scatter);
            }
        }
    }
    all
}

fn judged(stations: &[Station], column: StationColumn, tip_radius_m: f64) -> Vec<Option<Smoothed>> {
    let mut readings = Vec::new();
    let mut at = vec![None; stations.len()];
    for (place, s) in at.iter_mut().zip(stations) {
        let (Some(value), Some(chord_m)) = (column.get(s), s.chord_m) else { continue };
        let lever = match column.unit() {
            ColumnUnit::Metre => 1.0,
            ColumnUnit::SquareMetre => chord_m,
            _ => 1.0 / chord_m,
        };
        if let Some(same) =
            readings.iter().position(|r: &Reading| (r.z - s.radius_m).abs() < SAME_PLACE * tip_radius_m)
        {
            *place = Some(same);
            continue;
        }
        *place = Some(readings.len());
        // The chord of a rounded tip falls as the square root of the distance from it, which is straight in this abscissa.
        let x = -(1.0 - s.radius_m / tip_radius_m).max(0.0).sqrt();
        readings.push(Reading {
            z: s.radius_m,
            x,
            value,
            u: s.budget.part(column, UncertaintySource::Scan),
            lever,
        });
    }
    if readings.len() < LEAST_READINGS {
        return vec![None; stations.len()];
    }
    let rms = (readings.iter().map(|r| r.value * r.value).sum::<f64>() / readings.len() as f64).sqrt();
    readings.iter_mut().for_each(|r| r.u = r.u.max(LEAST_RELATIVE_U * rms).max(f64::MIN_POSITIVE));
    match smoothed(&readings) {
        Some(found) => at.into_iter().map(|k| k.map(|k| found[k])).collect(),
        None => vec![None; stations.len()],
    }
}
