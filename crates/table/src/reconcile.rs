//! Compares readings by hand with the scan: differences with their covariance, a test over all, and the systematic part that explains most.

use bladeform_numeric::chi_square::normal_deviate;
use std::collections::BTreeMap;

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};
use serde_json::Map;

use crate::reading::{Reading, ReadingOf, Readings, Reconciliation, SystematicPart};
use crate::{Station, StationColumn, UncertaintySource};

/// What is known of the table apart from its stations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TableKnows {
    /// Whether the angles are relative: their zero is then taken from the readings.
    pub angles_are_relative: bool,
    /// Relative standard uncertainty of the scale; `None` where no length was known: the scale is then taken from the readings.
    pub scale_u: Option<f64>,
}

/// Readings contradict the scan if chi-square is beyond this quantile of its distribution, as a normal deviate: a fraction of 0.9545 lies below, as within 2 standard
/// uncertainties of a single difference.
const CONTRADICTION_DEVIATE: f64 = 1.690;

/// A difference whose variance is a smaller fraction of its reading's was set by the reading itself.
const SET_BY_ITSELF: f64 = 1e-9;

/// The same for the difference that is told: with less than a hundredth of the combined standard uncertainty it would be the echo of another reading with which the
/// scan's figure shares a small error, 0.00 ± 0.00 of the unit, and judge that one twice.
const TOO_LITTLE_TO_TELL: f64 = 1e-4;

/// Parts whose chi-squares agree to one over this explain equally much: they differ by rounding.
const CHI_SQUARE_STEPS: f64 = 1e6;

/// Compares readings with the scan.
///
/// `rows`: each reading with the station that was measured at its place; a length needs none. Differences have the covariance of the readings, which are
/// independent, and of the scan's figures: a source that is common to all stations (see [`UncertaintySource::is_shared`]) is common to all readings of a column; the
/// known length is common to all lengths, and the reference section to all angles. A figure read twice has one and the same error of the scan.
///
/// # Source
/// Least squares with a covariance: A. C. Aitken, 'On least squares and linear combinations of observations', Proceedings of the Royal Society of Edinburgh 55
/// (1936), 42-48; weighted mean and combined standard uncertainty: JCGM 100:2008, 5.2. The test of chi-square by the cube root:
/// E. B. Wilson, M. M. Hilferty, 'The distribution of chi-square', Proceedings of the National Academy of Sciences 17 (1931), 684-688.
#[must_use]
pub fn compare_readings(rows: Vec<(Reading, Option<&Station>)>, knows: &TableKnows) -> Readings {
    let origins: Vec<Origins> = rows.iter().map(|(r, s)| origins_of(r, *s, knows)).collect();
    let scans: Vec<Option<Measured>> = rows.iter().map(|(r, s)| scan_of(r, *s, knows)).collect();
    let mut found = Readings { rows: rows.into_iter().map(|(r, _)| r).collect(), ..Readings::default() };
    for (row, scan) in found.rows.iter_mut().zip(&scans) {
        row.scan = scan.map(|s| s.value);
        row.u_scan = scan.map(|s| s.u);
    }
    let used: Vec<usize> = (0..scans.len()).filter(|k| scans[*k].is_some()).collect();
    let compared: Vec<&Reading> = used.iter().map(|k| &found.rows[*k]).collect();
    let covariance = covariance(&compared, &used.iter().map(|k| &origins[*k]).collect::<Vec<_>>());
    let Some(lower) = cholesky(&covariance) else { return found };
    let differences: Vec<f64> = compared.iter().map(|r| r.reading - r.scan.unwrap_or(r.reading)).collect();
    let white = |v: &[f64]| forward(&lower, v);
    let along = |part: SystematicPart| compared.iter().map(|r| derivative(part, r)).collect::<Vec<f64>>();

    // What the readings themselves set. Angles and lengths have no error in common, so that the two are independent.
    let mut left = white(&differences);
    let mut set = Vec::new();
    for part in [
        knows.angles_are_relative.then_some(SystematicPart::Turn),
        knows.scale_u.is_none().then_some(SystematicPart::Scale),
    ]
    .into_iter()
    .flatten()
    {
        let direction = along(part);
        let whitened = white(&direction);
        let square = dot(&whitened, &whitened);
        if 0.0 < square {
            let amount = dot(&whitened, &left) / square;
            left.iter_mut().zip(&whitened).for_each(|(l, w)| *l -= amount * w);
            set.push((part, direction, whitened, Measured::new(amount, 1.0 / square.sqrt())));
        }
    }
    let chi_square = dot(&left, &left);
    let freedom = used.len().saturating_sub(set.len()) as u64;
    let contradict = contradicts(chi_square, freedom);
    let mut parts = Vec::new();
    if contradict {
        for part in SystematicPart::ALL {
            let mut direction = white(&along(part));
            let whole = dot(&direction, &direction);
            for (_, _, whitened, _) in &set {
                let share = dot(whitened, &direction) / dot(whitened, whitened);
                direction.iter_mut().zip(whitened).for_each(|(d, w)| *d -= share * w);
            }
            let square = dot(&direction, &direction);
            if square <= SET_BY_ITSELF * whole {
                continue;
            }
            let amount = dot(&direction, &left) / square;
            // Edges can be missing; a scan has none to spare.
            if part != SystematicPart::Edges || 0.0 < amount {
                let chi_square_left = (chi_square - amount * amount * square).max(0.0);
                let u_amount = 1.0 / square.sqrt();
                parts.push(Reconciliation { part, amount, u_amount, chi_square_left, extra: Map::new() });
            }
        }
        let steps = |r: &Reconciliation| (r.chi_square_left * CHI_SQUARE_STEPS).round();
        parts.sort_by(|a, b| steps(a).total_cmp(&steps(b)));
    }
    for (i, &k) in used.iter().enumerate() {
        let fitted: f64 = set.iter().map(|(_, x, _, amount)| amount.value * x[i]).sum();
        let explained: f64 = set.iter().map(|(_, x, _, amount)| (amount.u * x[i]).powi(2)).sum();
        let variance = covariance[i][i] - explained;
        if TOO_LITTLE_TO_TELL * covariance[i][i] < variance {
            let (difference, u) = (differences[i] - fitted, variance.sqrt());
            let row = &mut found.rows[k];
            (row.difference, row.u_difference) = (Some(difference), Some(u));
            row.difference_over_u = Some(difference / u);
        }
    }
    let amount_of = |part| set.iter().find(|s| s.0 == part).map(|s| s.3);
    let shift = amount_of(SystematicPart::Turn);
    let correction = match knows.scale_u {
        Some(u) => mean_correction(&found.rows, u),
        None => amount_of(SystematicPart::Scale),
    };
    Readings {
        chi_square: (0 < freedom).then_some(chi_square),
        degrees_of_freedom: freedom,
        contradict,
        angle_shift_deg: shift.map(|m| m.value),
        u_angle_shift_deg: shift.map(|m| m.u),
        length_correction_ratio: correction.map(|m| m.value),
        u_length_correction_ratio: correction.map(|m| m.u),
        parts,
        ..found
    }
}

/// Whether chi-square is too great for its degrees of freedom: one difference beyond 2 standard uncertainties, several by the cube root after Wilson and Hilferty.
pub(crate) fn contradicts(chi_square: f64, freedom: u64) -> bool {
    match freedom {
        0 => false,
        1 => COVERAGE_FACTOR_95.powi(2) < chi_square,
        n => CONTRADICTION_DEVIATE < normal_deviate(chi_square, n as f64),
    }
}

/// By how much a reading changes with a systematic part's amount.
fn derivative(part: SystematicPart, r: &Reading) -> f64 {
    let when = |applies: bool, value: f64| if applies { value } else { 0.0 };
    match part {
        SystematicPart::Edges => when(r.of.is_chord(), 1.0),
        SystematicPart::Offset => when(r.of.is_across(), 2.0),
        SystematicPart::Scale => when(!r.of.is_angle(), r.scan.unwrap_or(0.0)),
        SystematicPart::Turn => when(r.of.is_angle(), 1.0),
    }
}

/// The scan's figure for a reading; `None` where there is none.
fn scan_of(r: &Reading, station: Option<&Station>, knows: &TableKnows) -> Option<Measured> {
    let found = match r.of.column() {
        Some(column) => column.measured(station?)?,
        None => {
            let length = (r.to_radius_m? - r.radius_m).abs();
            Measured::new(length, length * knows.scale_u.unwrap_or(0.0))
        }
    };
    (found.value.is_finite() && found.u.is_finite()).then_some(found)
}

/// Where an error of the scan comes from: readings with the same origin share it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Origin {
    /// The known length.
    Scale,
    /// The section at the reference radius.
    Reference,
    /// A source common to all stations, for one column.
    Column(UncertaintySource, StationColumn),
    /// What is independent from station to station, for one column at one radius, as bits.
    Station(StationColumn, u64),
}

type Origins = BTreeMap<Origin, f64>;

/// The parts of the scan's standard uncertainty by origin.
fn origins_of(r: &Reading, station: Option<&Station>, knows: &TableKnows) -> Origins {
    let mut origins = Origins::new();
    let Some(scan) = scan_of(r, station, knows) else { return origins };
    let Some((column, s)) = r.of.column().zip(station) else {
        origins.insert(Origin::Scale, scan.u);
        return origins;
    };
    let own = Origin::Station(column, s.radius_m.to_bits());
    let all: f64 = s.budget.of(column).map(|(_, u)| u * u).sum();
    // A table by hand may state parts that exceed the whole, and the angle at the reference radius has none by definition.
    let fits = if scan.u * scan.u < all { scan.u / all.sqrt() } else { 1.0 };
    let mut own_square = (scan.u * scan.u - all).max(0.0);
    for (source, u) in s.budget.of(column) {
        let u = fits * u;
        match source {
            UncertaintySource::Length => _ = origins.insert(Origin::Scale, u),
            UncertaintySource::Reference => _ = origins.insert(Origin::Reference, u),
            shared if shared.is_shared() => _ = origins.insert(Origin::Column(shared, column), u),
            _ => own_square += u * u,
        }
    }
    origins.insert(own, own_square.sqrt());
    origins
}

fn covariance(rows: &[&Reading], origins: &[&Origins]) -> Vec<Vec<f64>> {
    let n = rows.len();
    let common = |i: usize, j: usize| -> f64 {
        origins[i].iter().filter_map(|(origin, u)| Some(u * origins[j].get(origin)?)).sum()
    };
    let own = |i: usize, j: usize| if i == j { rows[i].u_reading.powi(2) } else { 0.0 };
    (0..n).map(|i| (0..n).map(|j| own(i, j) + common(i, j)).collect()).collect()
}

/// The weighted mean of the known length and the readings of length as a fraction of the table's lengths (JCGM 100:2008, 5.2); `None` without such a reading.
fn mean_correction(rows: &[Reading], scale_u: f64) -> Option<Measured> {
    let known = Measured::new(0.0, scale_u);
    let read = rows.iter().filter(|r| r.of == ReadingOf::Length).filter_map(|r| {
        let scan = r.scan.filter(|s| 0.0 < *s)?;
        Some(Measured::new(r.reading / scan - 1.0, r.u_reading / scan))
    });
    let read: Vec<Measured> = read.collect();
    if read.is_empty() || scale_u <= 0.0 {
        return None;
    }
    let (mut weights, mut sum) = (0.0, 0.0);
    for m in read.iter().chain([&known]) {
        let weight = m.u.powi(-2);
        weights += weight;
        sum += weight * m.value;
    }
    let mean = Measured::new(sum / weights, weights.sqrt().recip());
    (mean.value.is_finite() && mean.u.is_finite()).then_some(mean)
}

/// The lower triangle whose product with its transpose is the matrix; `None` if there is none, or for an empty matrix.
fn cholesky(matrix: &[Vec<f64>]) -> Option<Vec<Vec<f64>>> {
    let n = matrix.len();
    let mut lower = vec![vec![0.0; n]; n];
    for i in 0..n {
        for j in 0..=i {
            let sum: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = matrix[i][j] - sum;
            lower[i][j] = match (i == j, 0.0 < rest) {
                (true, true) => rest.sqrt(),
                (true, false) => return None,
                (false, _) => rest / lower[j][j],
            };
        }
    }
    (0 < n).then_some(lower)
}

/// Solves the lower triangle for `v`.
fn forward(lower: &[Vec<f64>], v: &[f64]) -> Vec<f64> {
    let mut x: Vec<f64> = Vec::with_capacity(v.len());
    for (row, value) in lower.iter().zip(v) {
        let sum: f64 = dot(row, &x);
        x.push((value - sum) / row[x.len()]);
    }
    x
}

/// Sum of products over the shorter of the two.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    const KNOWN: TableKnows = TableKnows { angles_are_relative: false, scale_u: Some(1e-3) };

    fn close(a: Option<f64>, b: f64) -> bool {
        a.is_some_and(|a| (a - b).abs() <= 1e-9 * (1.0 + b.abs()))
    }

    /// A station with thickness 20 mm, chord 150 mm, face angle 20 deg.
    fn station(radius_m: f64, u_m: f64, u_deg: f64) -> Station {
        let mut s = Station {
            thickness_m: Some(0.020),
            chord_m: Some(0.150),
            face_angle_deg: Some(20.0),
            ..Station::at(radius_m, 1.0)
        };
        for column in [StationColumn::ThicknessM, StationColumn::ChordM] {
            s.add_uncertainty(column, UncertaintySource::Scan, u_m);
        }
        s.add_uncertainty(StationColumn::FaceAngleDeg, UncertaintySource::Scan, u_deg);
        s
    }

    fn of(what: ReadingOf, reading: f64, u: f64, s: &Station) -> (Reading, Option<&Station>) {
        (Reading::new(what, reading, Some(u), s.radius_m), Some(s))
    }

    #[test]
    fn one_reading_is_judged_by_its_combined_uncertainty() {
        let s = station(0.6, 3e-4, 0.3);
        // u = sqrt(0.3^2 + 0.4^2) = 0.5 mm; the difference of 1.1 mm is 2.2 of it.
        let found = compare_readings(vec![of(ReadingOf::Thickness, 0.0211, 4e-4, &s)], &KNOWN);
        let row = &found.rows[0];
        assert!(close(row.difference, 1.1e-3) && close(row.u_difference, 5e-4), "{row:?}");
        assert!(close(row.difference_over_u, 2.2) && close(found.chi_square, 4.84));
        assert!(found.contradict);
        let found = compare_readings(vec![of(ReadingOf::Thickness, 0.0209, 4e-4, &s)], &KNOWN);
        assert!(!found.contradict && found.parts.is_empty() && close(found.chi_square, 3.24));
    }

    #[test]
    fn thickness_and_chord_off_by_one_amount_are_an_offset_of_the_surface() {
        let stations = [station(0.5, 3e-4, 0.3), station(0.6, 3e-4, 0.3)];
        let read = |s| [of(ReadingOf::Thickness, 0.0210, 4e-4, s), of(ReadingOf::Chord, 0.1510, 4e-4, s)];
        let found = compare_readings(stations.iter().flat_map(read).collect(), &KNOWN);
        // Four differences of 1 mm with u = 0.5 mm: chi-square 4 * 2^2 = 16.
        assert!(close(found.chi_square, 16.0) && found.degrees_of_freedom == 4 && found.contradict);
        let best = &found.parts[0];
        // An offset of 0.5 mm a side explains all; its u is 0.5 mm / sqrt(4 * 2^2).
        assert_eq!(best.part, SystematicPart::Offset);
        assert!(close(Some(best.amount), 5e-4) && close(Some(best.u_amount), 1.25e-4), "{best:?}");
        assert!(best.chi_square_left < 1e-9);
        // A scale s with weights by the lengths: s = (2*20 + 2*150)/(2*20^2 + 2*150^2) * 1 mm = 340/45800 mm; it explains 340^2/45800 * 4 = 10.0961.
        let scale = found.parts.iter().find(|p| p.part == SystematicPart::Scale).unwrap();
        assert!(close(Some(scale.amount), 340.0 / 45800.0), "{scale:?}");
        assert!(close(Some(scale.chi_square_left), 16.0 - 340.0 * 340.0 / 45800.0 * 4.0));
        // Edges explain the two chords: 8 is left.
        let edges = found.parts.iter().find(|p| p.part == SystematicPart::Edges).unwrap();
        assert!(close(Some(edges.chi_square_left), 8.0) && close(Some(edges.amount), 1e-3));
    }

    #[test]
    fn chords_alone_short_are_missing_edges_and_one_fraction_is_a_scale() {
        let s = station(0.6, 3e-4, 0.3);
        let read = |t, c| vec![of(ReadingOf::Thickness, t, 4e-4, &s), of(ReadingOf::Chord, c, 4e-4, &s)];
        let edges = compare_readings(read(0.020, 0.153), &KNOWN);
        assert_eq!(edges.parts[0].part, SystematicPart::Edges);
        assert!(close(Some(edges.parts[0].amount), 3e-3));
        // A chord that is too long by the scan is no missing edge.
        let long = compare_readings(read(0.020, 0.147), &KNOWN);
        assert!(long.contradict && long.parts.iter().all(|p| p.part != SystematicPart::Edges));
        let scale = compare_readings(read(0.0206, 0.1545), &KNOWN);
        assert_eq!(scale.parts[0].part, SystematicPart::Scale);
        assert!(close(Some(scale.parts[0].amount), 0.03) && scale.parts[0].chi_square_left < 1e-9);
        let turn = compare_readings(vec![of(ReadingOf::FaceAngle, 22.0, 0.4, &s)], &KNOWN);
        assert!(turn.contradict && turn.parts[0].part == SystematicPart::Turn);
    }

    #[test]
    fn errors_that_readings_share_are_not_counted_twice() {
        let s = station(0.6, 3e-4, 0.3);
        // One thickness read twice: covariance [[0.25, 0.09], [0.09, 0.25]] mm^2. For equal differences d, chi-square is 2 d^2 / (0.25 + 0.09).
        let twice = || of(ReadingOf::Thickness, 0.0205, 4e-4, &s);
        let found = compare_readings(vec![twice(), twice()], &KNOWN);
        assert!(close(found.chi_square, 2.0 * 0.25 / 0.34), "{:?}", found.chi_square);
        // The known length is common to lengths of different columns: u 0.3 mm each.
        let mut s = Station { thickness_m: Some(0.02), chord_m: Some(0.15), ..Station::at(0.6, 1.0) };
        for column in [StationColumn::ThicknessM, StationColumn::ChordM] {
            s.add_uncertainty(column, UncertaintySource::Length, 3e-4);
        }
        let both = vec![of(ReadingOf::Thickness, 0.0205, 4e-4, &s), of(ReadingOf::Chord, 0.1505, 4e-4, &s)];
        assert!(close(compare_readings(both, &KNOWN).chi_square, 2.0 * 0.25 / 0.34));
    }

    #[test]
    fn relative_angles_are_compared_among_themselves() {
        let relative = TableKnows { angles_are_relative: true, ..KNOWN };
        let [a, b] = [station(0.5, 1e-4, 0.3), station(0.6, 1e-4, 0.3)];
        let one = compare_readings(vec![of(ReadingOf::FaceAngle, 37.0, 0.4, &a)], &relative);
        assert!(close(one.angle_shift_deg, 17.0) && close(one.u_angle_shift_deg, 0.5));
        assert_eq!((one.rows[0].difference, one.chi_square, one.degrees_of_freedom), (None, None, 0));
        assert!(one.remarks().iter().any(|r| r.contains("checks nothing, but fixes the setting")));
        // 37 and 39 by hand, 20 and 20 by the scan: the mean shift is 18, and each is 1 deg off with u = 0.5/sqrt(2).
        let two = vec![of(ReadingOf::FaceAngle, 37.0, 0.4, &a), of(ReadingOf::FaceAngle, 39.0, 0.4, &b)];
        let two = compare_readings(two, &relative);
        assert!(close(two.angle_shift_deg, 18.0) && close(two.rows[0].difference, -1.0));
        assert!(close(two.rows[0].u_difference, 0.5 / 2f64.sqrt()));
        // (39 - 37)^2 / (2 * 0.5^2) = 8 with one degree of freedom.
        assert!(close(two.chi_square, 8.0) && two.degrees_of_freedom == 1 && two.contradict);
        assert!(two.parts.is_empty(), "a turn cannot reconcile what is free to turn");
    }

    #[test]
    fn an_angle_that_only_sets_the_zero_is_no_echo_of_another_reading() {
        let mut s = station(0.6, 3e-4, 0.3);
        // Both figures share a little of the known length's error, as those of a drawn scan do.
        s.add_uncertainty(StationColumn::ThicknessM, UncertaintySource::Length, 1e-5);
        s.add_uncertainty(StationColumn::FaceAngleDeg, UncertaintySource::Length, 3e-3);
        let relative = TableKnows { angles_are_relative: true, ..KNOWN };
        let rows = vec![of(ReadingOf::Thickness, 0.0209, 4e-4, &s), of(ReadingOf::FaceAngle, 38.0, 0.25, &s)];
        let found = compare_readings(rows, &relative);
        let [thickness, angle] = &found.rows[..] else { panic!("{:?}", found.rows) };
        assert!(thickness.difference_over_u.is_some_and(|z| (z - 1.8).abs() < 0.01), "{thickness:?}");
        assert!(angle.difference.is_none() && angle.difference_over_u.is_none(), "{angle:?}");
        assert!(found.angle_shift_deg.is_some_and(|a| (a - 18.0).abs() < 0.01), "{found:?}");
    }

    #[test]
    fn known_lengths_have_a_weighted_mean_and_an_unknown_scale_comes_from_the_readings() {
        let length = |reading: f64, u: f64| {
            let r = Reading::new(ReadingOf::Length, reading, Some(u), 0.3);
            (Reading { to_radius_m: Some(0.8), ..r }, None)
        };
        // 500 mm by the scan, u 0.5 mm by its scale; 501 mm ± 0.5 mm by tape: equal weights, so 0.1 %, u 0.1 % / sqrt(2).
        let found = compare_readings(vec![length(0.501, 5e-4)], &KNOWN);
        assert!(close(found.length_correction_ratio, 1e-3));
        assert!(close(found.u_length_correction_ratio, 1e-3 / 2f64.sqrt()));
        assert!(close(found.rows[0].difference_over_u, 2f64.sqrt()) && !found.contradict);
        let unknown = TableKnows { scale_u: None, ..KNOWN };
        let found = compare_readings(vec![length(0.55, 5e-4)], &unknown);
        assert!(close(found.length_correction_ratio, 0.1) && found.chi_square.is_none());
    }

    #[test]
    fn the_test_over_several_readings_is_near_the_table_of_chi_square() {
        assert!(contradicts(4.01, 1) && !contradicts(3.99, 1) && !contradicts(1e9, 0));
        // -2 ln(1 - 0.9545) = 6.18 for two degrees of freedom.
        assert!(contradicts(6.3, 2) && !contradicts(6.0, 2));
    }

    #[test]
    fn what_cannot_be_compared_is_kept_without_a_verdict() {
        let refused = Station::refused(0.6, 1.0, "the cut is empty");
        let found = compare_readings(vec![of(ReadingOf::Thickness, 0.02, 1e-4, &refused)], &KNOWN);
        assert_eq!((found.rows.len(), found.rows[0].scan, found.chi_square), (1, None, None));
        assert!(!found.contradict && compare_readings(vec![], &KNOWN).rows.is_empty());
        // Without any uncertainty there is no covariance.
        let s = station(0.6, 0.0, 0.0);
        let found = compare_readings(vec![of(ReadingOf::Thickness, 0.021, 0.0, &s)], &KNOWN);
        assert_eq!((found.rows[0].scan, found.chi_square, found.contradict), (Some(0.02), None, false));
        let assumed = Reading::new(ReadingOf::FaceAngle, 20.0, None, 0.6);
        assert!(assumed.u_is_assumed && (assumed.u_reading - 0.25).abs() < 1e-15);
    }
}
