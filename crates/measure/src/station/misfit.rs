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

/// An angle of a misfit less certain than this, deg, says nothing (a judgement): neighbouring stations of any blade differ by less.
const FAILED_ANGLE_DEG: f64 = 20.0;

/// Whether the fit of a station has failed: its points lie unusually far off, and not even its angle is known.
pub(crate) fn has_failed(s: &Station) -> bool {
    s.u.blade_angle_deg.is_some_and(|u| FAILED_ANGLE_DEG < u)
        && s.flags.iter().any(|f| matches!(f, Flag::Misfit { .. }))
}

/// The station without its figures, with the reason and with what the scan itself is like there.
pub(crate) fn failed(s: &Station) -> Station {
    let reason =
        "the fitted outline does not follow the points; look for a tear or a second layer there".to_owned();
    let of_scan = |f: &&Flag| {
        matches!(
            f,
            Flag::SeveralLoops { .. } | Flag::Coarse { .. } | Flag::Bridged { .. } | Flag::GapInBand { .. }
        )
    };
    let flags =
        std::iter::once(Flag::Refused { reason }).chain(s.flags.iter().filter(of_scan).cloned()).collect();
    Station { radius_m: s.radius_m, radius_ratio: s.radius_ratio, flags, ..Station::default() }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_fit_has_no_figures_and_an_uncertain_one_keeps_them() {
        let mut s = Station::at(0.5, 1.0);
        (s.chord_m, s.blade_angle_deg, s.u.blade_angle_deg) = (Some(0.1), Some(126.0), Some(219.0));
        s.flags.push(Flag::SeveralLoops { loops: 3, left_out_share: 0.1 });
        assert!(!has_failed(&s), "an uncertain angle alone is no failure");
        add_misfit(&mut s, 0.001);
        assert!(has_failed(&s));
        let failed = failed(&s);
        assert!(failed.is_refused() && failed.chord_m.is_none() && failed.blade_angle_deg.is_none());
        assert_eq!((failed.radius_m, failed.radius_ratio, failed.flags.len()), (0.5, 0.5, 2));
        s.u.blade_angle_deg = Some(5.0);
        assert!(!has_failed(&s));
    }
}
