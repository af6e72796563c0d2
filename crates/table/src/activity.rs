//! The activity factor of a measured blade with its uncertainty, from the chords of the stations and, between and beyond them, the planform of the scan.

use crate::blade::{ACTIVITY_FACTOR_FIRST_RATIO, ACTIVITY_FACTOR_SCALE};
use crate::{ActivityFactor, Station, StationColumn, UncertaintySource, activity_factor};
use bladeform_quantity::{Measured, root_sum_square};

/// The activity factor of stations with its standard uncertainty.
///
/// `planform`: radius and rough chord, both m, of all quick sections, by increasing radius; may be empty. Between and beyond the stations the
/// chord is that of the planform times the ratio of the stations' chords to it. The ratio is linear between stations and constant beyond the
/// last. Without a planform the chord is that of the curve through the stations.
///
/// The errors of the chords are taken as independent, except for that of the known length, which chord and tip radius share. Two more sources are added.
/// Beyond the first and the last section the chord may be extrapolated linearly, be constant (inboard) or fall to zero at the tip; half of
/// the difference of these is the standard uncertainty. Between the stations the ratio may vary as much as it does among them.
///
/// Returns `None` if [`activity_factor`] does. Stations without a chord are skipped.
#[must_use]
pub fn activity_factor_of(
    radius_m: f64,
    stations: &[Station],
    planform: &[(f64, f64)],
) -> Option<(ActivityFactor, f64)> {
    let chords: Vec<(f64, Measured)> =
        stations.iter().filter_map(|s| Some((s.radius_m, own_chord(s)?))).collect();
    let mut points: Vec<(f64, f64)> = chords.iter().map(|(r, m)| (*r, m.value)).collect();
    let all = |points: &[(f64, f64)]| joined(points, planform).unwrap_or_else(|| points.to_vec());
    let shown = all(&points);
    let factor = activity_factor(radius_m, &shown)?;
    let mut parts = Vec::with_capacity(points.len() + 3);
    for (k, (_, chord)) in chords.iter().enumerate() {
        points[k].1 = chord.value + chord.u;
        let raised = activity_factor(radius_m, &all(&points))?;
        parts.push(raised.value - factor.value);
        points[k].1 = chord.value;
    }
    parts.extend(carried_on(radius_m, &shown));
    if planform.len() < 2 {
        return Some((factor, root_sum_square(&parts)));
    }
    let by_stations = activity_factor(radius_m, &points).map_or(1.0, |f| f.extrapolated_share);
    parts.push(factor.value * by_stations * ratio_spread(&points, planform));
    Some((factor, root_sum_square(&parts)))
}

/// The chord with its uncertainty without that of the known length. Chord and tip radius share the known length, so it cancels in their ratio.
fn own_chord(station: &Station) -> Option<Measured> {
    let u = station.u_without(StationColumn::ChordM, UncertaintySource::Length);
    Some(Measured::new(StationColumn::ChordM.get(station)?, u.unwrap_or(0.0)))
}

/// Value at `x` of a line through points: linear between them and constant beyond. `None` without points.
fn level(points: &[(f64, f64)], x: f64) -> Option<f64> {
    let after = points.partition_point(|p| p.0 < x);
    match (after.checked_sub(1).and_then(|k| points.get(k)), points.get(after)) {
        (Some(a), Some(b)) => Some(a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0)),
        (Some(end), None) | (None, Some(end)) => Some(end.1),
        (None, None) => None,
    }
}

/// Ratio of the stations' chords to those of the planform, at the stations within its range.
fn ratios(stations: &[(f64, f64)], planform: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (Some(first), Some(last)) = (planform.first(), planform.last()) else { return Vec::new() };
    let covered = stations.iter().filter(|p| first.0 <= p.0 && p.0 <= last.0);
    covered.filter_map(|&(r, c)| Some((r, c / level(planform, r).filter(|p| 0.0 < *p)?))).collect()
}

/// The planform scaled to the stations' chords. `None` if there is none.
fn joined(stations: &[(f64, f64)], planform: &[(f64, f64)]) -> Option<Vec<(f64, f64)>> {
    let ratios = ratios(stations, planform);
    if planform.len() < 2 {
        return None;
    }
    planform.iter().map(|&(r, p)| Some((r, p * level(&ratios, r)?))).collect()
}

/// Relative standard deviation of the ratio among the stations: its uncertainty where there is no station.
fn ratio_spread(stations: &[(f64, f64)], planform: &[(f64, f64)]) -> f64 {
    let ratios = ratios(stations, planform);
    let n = ratios.len() as f64;
    let mean = ratios.iter().map(|r| r.1).sum::<f64>() / n;
    let square = ratios.iter().map(|r| (r.1 / mean - 1.0).powi(2)).sum::<f64>() / (n - 1.0);
    if 1.0 < n { square.sqrt() } else { 0.0 }
}

/// Half the difference of plausible extrapolations of the chord beyond the first and the last section, in activity factors.
fn carried_on(radius_m: f64, points: &[(f64, f64)]) -> [f64; 2] {
    let ratio: Vec<(f64, f64)> = points.iter().map(|(r, c)| (r / radius_m, c / (2.0 * radius_m))).collect();
    let [(x1, c1), (x2, c2), ..] = ratio[..] else { return [0.0; 2] };
    let [.., (y2, d2), (y1, d1)] = ratio[..] else { return [0.0; 2] };
    let cubes = |x: f64| x.powi(4) / 4.0;
    let first = x1 - ACTIVITY_FACTOR_FIRST_RATIO;
    // Linear compared with constant. The difference grows from the end, so the cube of the radius is taken at two thirds of the way.
    let inboard = if 0.0 < first {
        let slope = (c2 - c1) / (x2 - x1);
        let straight = (c1 - slope * first).max(0.0);
        0.5 * (straight - c1) * first * (ACTIVITY_FACTOR_FIRST_RATIO + first / 3.0).powi(3)
    } else {
        0.0
    };
    // Linear compared with falling to zero at the tip.
    let outboard = if y1 < 1.0 {
        let slope = (d1 - d2) / (y1 - y2);
        let straight = (d1 + slope * (1.0 - y1)).max(0.0);
        0.5 * straight * (cubes(1.0) - cubes(y1))
    } else {
        0.0
    };
    [inboard, outboard].map(|part| 0.5 * ACTIVITY_FACTOR_SCALE * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chords(n: u32, first: f64, last: f64, c: impl Fn(f64) -> f64) -> Vec<(f64, f64)> {
        (0..n).map(|k| first + (last - first) * f64::from(k) / f64::from(n - 1)).map(|x| (x, c(x))).collect()
    }

    fn stations_of(points: &[(f64, f64)], u: f64) -> Vec<Station> {
        let station = |(r, c): &(f64, f64)| {
            let mut station = Station::at(*r, 1.0);
            StationColumn::ChordM.set_measured(&mut station, Some(Measured::new(*c, u)));
            station
        };
        points.iter().map(station).collect()
    }

    /// A rounded tip: an elliptic end over the last tenth.
    fn rounded(x: f64) -> f64 {
        (0.2 - 0.1 * x) * (1.0 - ((x - 0.9) / 0.1).clamp(0.0, 1.0).powi(4)).sqrt()
    }

    #[test]
    fn few_stations_hold_what_many_show_by_plan_form_or_by_interval() {
        let many = activity_factor(1.0, &chords(4000, 0.15, 1.0, rounded)).unwrap().value;
        // The chords of the quick sections are one per cent too long.
        let planform = chords(96, 0.12, 0.996, |x| 1.01 * rounded(x));
        for at in [vec![0.5, 0.75], vec![0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88]] {
            let points: Vec<(f64, f64)> = at.iter().map(|&x| (x, rounded(x))).collect();
            let stations = stations_of(&points, 1e-4);
            let (factor, u) = activity_factor_of(1.0, &stations, &planform).unwrap();
            assert!((factor.value - many).abs() < 0.2 && 2.0 * u < 1.0, "{} of {many}, {u}", factor.value);
            let (factor, u) = activity_factor_of(1.0, &stations, &[]).unwrap();
            assert!((factor.value - many).abs() < 2.0 * u, "{} of {many}, {u}", factor.value);
            assert!(0.2 < u, "{u}");
        }
    }

    #[test]
    fn the_uncertainty_of_equal_chord_errors_shrinks_with_the_number_of_stations() {
        let stations = |n: u32| stations_of(&chords(n, 0.15, 1.0, |x| 0.2 - 0.1 * x), 0.001);
        let (few, many) = (
            activity_factor_of(1.0, &stations(8), &[]).unwrap(),
            activity_factor_of(1.0, &stations(32), &[]).unwrap(),
        );
        assert!((few.0.value - many.0.value).abs() < 1e-9);
        let ratio = few.1 / many.1;
        assert!((1.6..2.6).contains(&ratio), "{ratio} where about 2 is expected");
    }
}
