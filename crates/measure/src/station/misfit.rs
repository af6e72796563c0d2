//! Residuals beyond those that are usual on a scan, and what they do to the figures.

use bladeform_table::{Flag, Station, StationColumn, UncertaintySource};

use crate::vector::median;

/// Residuals up to this factor above the scan's usual ones differ by chance and by the sections' own curvature.
const USUAL_RESIDUAL: f64 = 1.3;
/// Nothing is reported below this, m: where a scan has no noise, its median residual is that of the outline model.
const LEAST_MISFIT_M: f64 = 3e-5;

/// Residual of each fit beyond what is usual on the scan (the median of all), as its root mean square, m; zero where there is none. Whatever makes it (a second
/// layer, a bump, filler) may lie to one side of the true surface.
pub(crate) fn excess_residuals_m(stations: &[Station]) -> Vec<f64> {
    let mut all: Vec<f64> = stations.iter().filter_map(|s| s.residual_rms_m).collect();
    if all.is_empty() {
        return vec![0.0; stations.len()];
    }
    let usual = USUAL_RESIDUAL * median(&mut all);
    let excess = |s: &Station| {
        let excess = s.residual_rms_m.map_or(0.0, |r| (r * r - usual * usual).max(0.0).sqrt());
        if excess < LEAST_MISFIT_M { 0.0 } else { excess }
    };
    stations.iter().map(excess).collect()
}

/// What an unusual residual leaves uncertain: each side of the section may lie off by it.
pub(crate) fn add_misfit(s: &mut Station, excess_m: f64) {
    let Some(chord_m) = s.chord_m.filter(|_| 0.0 < excess_m) else { return };
    let angle = (std::f64::consts::SQRT_2 * excess_m / chord_m).to_degrees();
    for (column, u) in [
        (StationColumn::ChordM, 2.0 * excess_m),
        (StationColumn::LongestChordM, 2.0 * excess_m),
        (StationColumn::ThicknessM, 2.0 * excess_m),
        (StationColumn::ThicknessRatio, 2.0 * excess_m / chord_m),
        (StationColumn::CamberRatio, excess_m / chord_m),
        (StationColumn::AreaM2, 2.0 * chord_m * excess_m),
        (StationColumn::BladeAngleDeg, angle),
        (StationColumn::FaceAngleDeg, angle),
        (StationColumn::LongestChordAngleDeg, angle),
    ] {
        s.add_uncertainty(column, UncertaintySource::Misfit, u);
    }
    s.flags.push(Flag::Misfit { rms_m: excess_m });
}
