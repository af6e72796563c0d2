//! The scale by several known lengths: distances between points of the scan, and the length of the blade or the diameter beside them.

use bladeform_numeric::chi_square::one_in_twenty;
use bladeform_quantity::Measured;
use bladeform_table::{KnownLength, KnownLengthOf};

use crate::error::{LengthFault, MeasureError};
use crate::notice::MeasureNotice;
use crate::plan::{MeasurePlan, TAPE_UNCERTAINTY_M};

/// What several known lengths say of the scale.
#[derive(Debug, Clone)]
pub(crate) struct KnownFit {
    pub(crate) metres_per_unit: f64,
    pub(crate) relative_uncertainty: f64,
    pub(crate) known: Vec<KnownLength>,
    /// Chi-square and its degrees of freedom; `None` for one length.
    pub(crate) chi_square: Option<(f64, u64)>,
    /// The Birge ratio, where the lengths contradict one another.
    pub(crate) birge_ratio: Option<f64>,
}

/// A known length, m, beside the same length in file units; the latter's uncertainty is that of the ends in the scan.
pub(crate) struct Beside {
    pub(crate) of: KnownLengthOf,
    pub(crate) stated: Measured,
    pub(crate) in_file: Measured,
}

/// Weighted least squares of `stated = scale * in file` over the distances of the plan and one more length. The weights are `1/u^2` (JCGM 100:2008, 5.1 and H.3 for
/// the method). If chi-square is beyond what chance exceeds in one of twenty cases, `u` is multiplied by the Birge ratio, the square root of chi-square over its
/// degrees of freedom (R. T. Birge, *The calculation of errors by the method of least squares*, Phys. Rev. 40 (1932), 207-227, from memory), and a notice says so.
///
/// # Errors
/// [`LengthFault::NoDistance`] for points or lengths that are no distance.
pub(crate) fn fit(
    plan: &MeasurePlan,
    more: Option<Beside>,
    notices: &mut Vec<MeasureNotice>,
) -> Result<KnownFit, MeasureError> {
    let mut rows: Vec<(KnownLength, f64)> = Vec::new();
    for (k, given) in plan.distances.iter().enumerate() {
        let u_m = given.u_m.unwrap_or(TAPE_UNCERTAINTY_M);
        let in_file = given.in_file();
        if ![in_file, given.length_m, u_m].iter().all(|v| v.is_finite() && 0.0 < *v) {
            return Err(MeasureError::Lengths(LengthFault::NoDistance { number: k + 1 }));
        }
        let known = KnownLength {
            between: Some(given.between),
            stated_m: given.length_m,
            u_m,
            u_is_assumed: given.u_m.is_none(),
            ..KnownLength::default()
        };
        rows.push((known, in_file));
    }
    if let Some(more) = more {
        let u_m = more.stated.value
            * (more.stated.u / more.stated.value).hypot(more.in_file.u / more.in_file.value);
        let known = KnownLength { of: more.of, stated_m: more.stated.value, u_m, ..KnownLength::default() };
        rows.push((known, more.in_file.value));
    }
    let sum = |f: &dyn Fn(&KnownLength, f64) -> f64| rows.iter().map(|(known, d)| f(known, *d)).sum::<f64>();
    let weight = sum(&|known, d| (d / known.u_m).powi(2));
    let metres_per_unit = sum(&|known, d| d * known.stated_m / known.u_m.powi(2)) / weight;
    let mut relative_uncertainty = 1.0 / (weight.sqrt() * metres_per_unit);
    let known: Vec<KnownLength> = rows
        .into_iter()
        .map(|(known, d)| {
            let by_scale_m = metres_per_unit * d;
            KnownLength { by_scale_m, difference_m: known.stated_m - by_scale_m, ..known }
        })
        .collect();
    let chi_square: f64 = known.iter().map(|k| (k.difference_m / k.u_m).powi(2)).sum();
    let freedom = known.len() as u64 - 1;
    let limit = one_in_twenty(freedom as f64);
    let birge_ratio = (0 < freedom && limit < chi_square).then(|| (chi_square / freedom as f64).sqrt());
    if let Some(birge_ratio) = birge_ratio {
        relative_uncertainty *= birge_ratio;
        notices.push(MeasureNotice::DistancesContradict {
            known: known.clone(),
            chi_square,
            limit,
            birge_ratio,
        });
    }
    let chi_square = (0 < freedom).then_some((chi_square, freedom));
    Ok(KnownFit { metres_per_unit, relative_uncertainty, known, chi_square, birge_ratio })
}

/// Notices of points far outside everything in the scan: coordinates of other axes or of another unit.
pub(crate) fn outside(plan: &MeasurePlan, vertices: &[[f64; 3]]) -> Vec<MeasureNotice> {
    /// Room around the scan as a fraction of its diagonal: points picked at its rim are inside.
    const ROOM: f64 = 0.02;
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for p in vertices.iter().filter(|p| p.iter().all(|v| v.is_finite())) {
        for k in 0..3 {
            low[k] = low[k].min(p[k]);
            high[k] = high[k].max(p[k]);
        }
    }
    let room = ROOM * (0..3).map(|k| (high[k] - low[k]).powi(2)).sum::<f64>().sqrt();
    let is_outside = |p: &[f64; 3]| (0..3).any(|k| p[k] < low[k] - room || high[k] + room < p[k]);
    let notice = |(k, given): (usize, &crate::plan::KnownDistance)| {
        let place = given.between.into_iter().find(is_outside)?;
        Some(MeasureNotice::DistanceOutside { number: k + 1, place, low, high })
    };
    plan.distances.iter().enumerate().filter_map(notice).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::KnownDistance;

    fn distance(in_file: f64, length_m: f64, u_m: f64) -> KnownDistance {
        KnownDistance { between: [[1.0, 2.0, 3.0], [1.0, 2.0, 3.0 + in_file]], length_m, u_m: Some(u_m) }
    }

    fn plan(distances: Vec<KnownDistance>) -> MeasurePlan {
        MeasurePlan { distances, ..MeasurePlan::default() }
    }

    #[test]
    fn the_scale_of_two_distances_is_their_weighted_least_squares() {
        let mut notices = Vec::new();
        // By hand: scale = (100*0.1/u1^2 + 200*0.2004/u2^2) / (100^2/u1^2 + 200^2/u2^2), u1 = 1 mm, u2 = 2 mm
        // = (10 + 10.02) / (10000 + 10000) per mm^2 = 0.001001; u = 1 mm / sqrt(20000).
        let two = plan(vec![distance(100.0, 0.1, 1e-3), distance(200.0, 0.2004, 2e-3)]);
        let found = fit(&two, None, &mut notices).unwrap();
        assert!((found.metres_per_unit - 0.001_001).abs() < 1e-15, "{found:?}");
        let u = 1e-3 / 20_000_f64.sqrt() / 0.001_001;
        assert!((found.relative_uncertainty - u).abs() < 1e-12 && notices.is_empty(), "{found:?}");
        // Differences -0.1 mm and +0.2 mm: chi-square 0.01 + 0.01.
        let (chi_square, freedom) = found.chi_square.unwrap();
        assert!((chi_square - 0.02).abs() < 1e-9 && freedom == 1);
    }

    #[test]
    fn distances_that_contradict_raise_u_by_the_birge_ratio_and_are_named() {
        let mut notices = Vec::new();
        let bad =
            plan(vec![distance(100.0, 0.1, 1e-4), distance(100.0, 0.1, 1e-4), distance(100.0, 0.103, 1e-4)]);
        let found = fit(&bad, None, &mut notices).unwrap();
        // Mean 101 mm; differences -1, -1, 2 mm over 0.1 mm: chi-square 600 with 2 degrees of freedom.
        let ratio = 300_f64.sqrt();
        assert!((found.birge_ratio.unwrap() - ratio).abs() < 1e-6, "{found:?}");
        let u = ratio * 1e-4 / 3_f64.sqrt() / 0.101;
        assert!((found.relative_uncertainty / u - 1.0).abs() < 1e-9, "{found:?}");
        let told = bladeform_table::Coded::sentence(&notices[0]);
        assert!(told.contains("first distance 3") && told.contains("+2.000 mm"), "{told}");
    }

    #[test]
    fn a_length_of_the_blade_counts_with_the_uncertainty_of_its_ends_in_the_scan() {
        let more = Beside {
            of: KnownLengthOf::Length,
            stated: Measured::new(1.0, 3e-4),
            in_file: Measured::new(1000.0, 0.4),
        };
        let found = fit(&plan(vec![]), Some(more), &mut Vec::new()).unwrap();
        assert!((found.relative_uncertainty - 5e-4).abs() < 1e-12, "{found:?}");
        assert!((found.metres_per_unit - 1e-3).abs() < 1e-15 && found.chi_square.is_none());
    }

    #[test]
    fn points_of_other_axes_are_told_and_points_that_are_one_are_refused() {
        let corners = [[0.0, 0.0, 0.0], [10.0, 10.0, 100.0]];
        let far = plan(vec![distance(50.0, 0.05, 1e-4), distance(5000.0, 5.0, 1e-4)]);
        let told = outside(&far, &corners);
        assert!(matches!(told[..], [MeasureNotice::DistanceOutside { number: 2, .. }]), "{told:?}");
        let one = fit(&plan(vec![distance(0.0, 0.1, 1e-4)]), None, &mut Vec::new()).unwrap_err();
        assert!(one.to_string().contains("distance 1"), "{one}");
    }
}
