//! What follows from the stations: pitch, blade figures, references, the repairs, and the matrix from scan to blade.

use bladeform_mesh::{OrientationReport, RepairTally};
use bladeform_quantity::Hand;
use bladeform_table::{
    Notice, Repairs, Station, StationTable, activity_factor_of, by_harm, flag_departures, geometric_pitch_m,
};

use super::place::{Along, Places};
use super::plausible;
use crate::band::slices::Slice;
use crate::error::MeasureError;
use crate::frame::axes::length;
use crate::frame::scale::Known;
use crate::notice::MeasureNotice;
use crate::span::{complete_smooth, usual_edges};
use crate::station::ToTable;
use crate::station::long_range::add_long_range;
use crate::station::misfit::{add_misfit, excess_residuals_m, failed, has_failed};
use crate::vector::{Axes, V3, add, dot, scale, sub};

pub(super) fn repairs(
    tally: &RepairTally,
    report: &OrientationReport,
    notices: &mut Vec<MeasureNotice>,
) -> Repairs {
    let mut repairs = Repairs {
        duplicate_vertices: tally.duplicate_vertices as u64,
        degenerate_triangles: tally.degenerate_triangles as u64,
        stray_components: tally.stray_components as u64,
        flipped_triangles: report.flipped_triangles as u64,
        non_finite_vertices: tally.non_finite_vertices as u64,
        ..Repairs::default()
    };
    for (key, count) in tally.entries() {
        let known = [
            "duplicate_vertices",
            "degenerate_triangles",
            "stray_components",
            "flipped_triangles",
            "non_finite_vertices",
        ];
        if !known.contains(&key) && 0 < count {
            repairs.count(key, count as u64);
        }
    }
    repairs.count("boundary_edges", report.boundary_edges as u64);
    repairs.count("non_manifold_edges", report.non_manifold_edges as u64);
    if report.unorientable {
        notices.push(MeasureNotice::NotOrientable);
    }
    repairs
}

/// Figures that follow from the stations.
/// `at_readings`: the stations at which readings were taken, which get the same uncertainties and no other part.
/// `planform`: radius and longest chord of the quick sections, m; `places`: how surely the cuts lie where the table says.
pub(super) fn finish(
    table: &mut StationTable,
    at_readings: &mut [Station],
    planform: &[(f64, f64)],
    places: &Places,
    accuracy_m: Option<f64>,
    mut notices: Vec<MeasureNotice>,
) -> Result<(), MeasureError> {
    if table.blade.setting.is_some() {
        // A relative angle has no pitch.
        for s in table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations)) {
            set_pitch(s);
        }
    }
    if let Some(accuracy_m) = accuracy_m {
        let all = table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations));
        all.chain(at_readings.iter_mut()).for_each(|s| add_long_range(s, accuracy_m));
    }
    // Where the scale is a guess, it has no uncertainty, and what depends on it alone has none.
    let known = table.scale.as_ref().and_then(|s| s.relative_uncertainty);
    places.add(&Along::of(&table.stations), at_readings);
    let blades = table.blades.iter_mut().map(|b| &mut b.stations);
    for stations in std::iter::once(&mut table.stations).chain(blades) {
        places.add(&Along::of(stations), stations);
        let edges = usual_edges(stations);
        stations.iter_mut().for_each(|s| complete_smooth(s, &edges));
    }
    let edges = usual_edges(&table.stations);
    at_readings.iter_mut().for_each(|s| complete_smooth(s, &edges));
    let blade = &mut table.blade;
    blade.u.blade_length_m = blade.blade_length_m.zip(known).map(|(l, u)| l * u);
    blade.u.volume_m3 = blade.volume_m3.zip(known).map(|(v, u)| 3.0 * v * u);
    if table.stations.iter().all(Station::is_refused) {
        let first = table.stations.first().and_then(|s| s.flags.first()).cloned();
        return Err(MeasureError::NoStation { count: table.stations.len(), first });
    }
    flag_departures(&mut table.stations);
    if let Some((factor, u)) = activity_factor_of(table.blade.radius_m, &table.stations, planform) {
        table.blade.activity_factor = Some(factor.value);
        table.blade.u.activity_factor = Some(u);
        if factor.needs_warning() {
            let fraction = factor.extrapolated_share;
            notices.push(MeasureNotice::ActivityExtrapolated { fraction });
        }
    }
    plausible::check(table, &mut notices)?;
    table.warnings.extend(notices.iter().map(Notice::of));
    by_harm(&mut table.warnings);
    Ok(())
}

fn set_pitch(s: &mut Station) {
    let pitch = |angle: Option<f64>, u: Option<f64>| {
        let value = angle.map(|a| geometric_pitch_m(s.radius_m, a))?;
        let slope = std::f64::consts::TAU * s.radius_m / angle?.to_radians().cos().powi(2);
        Some((value, u.unwrap_or(0.0).to_radians() * slope))
    };
    let (chord, face) =
        (pitch(s.blade_angle_deg, s.u.blade_angle_deg), pitch(s.face_angle_deg, s.u.face_angle_deg));
    s.pitch_m = chord.map(|p| p.0);
    s.u.pitch_m = chord.map(|p| p.1);
    s.face_pitch_m = face.map(|p| p.0);
    s.u.face_pitch_m = face.map(|p| p.1);
}

/// Adds what unusual residuals leave uncertain, and refuses the stations whose fit has failed.
pub(super) fn add_misfits(stations: &mut [Station]) {
    let excess = excess_residuals_m(stations);
    for (s, excess) in stations.iter_mut().zip(excess) {
        add_misfit(s, excess);
        if has_failed(s) {
            *s = failed(s);
        }
    }
}

/// metres = M * scan point, row by row.
pub(super) fn matrix(axes: &Axes, hand: Hand, to: &ToTable, turn: f64, known: &Known) -> [[f64; 4]; 4] {
    let k = known.metres_per_unit;
    let (sin, cos) = turn.sin_cos();
    let first = if hand == Hand::Left { scale(axes.rows[0], -1.0) } else { axes.rows[0] };
    let x = sub(scale(first, cos), scale(axes.rows[1], sin));
    let y = add(scale(first, sin), scale(axes.rows[1], cos));
    let row = |d: V3, shift: f64| [k * d[0], k * d[1], k * d[2], shift - k * dot(d, axes.origin)];
    [row(x, 0.0), row(y, 0.0), row(axes.rows[2], to.radius_at_origin_m), [0.0, 0.0, 0.0, 1.0]]
}

/// Radius and longest chord of the quick sections with both edges, m: the mean over the blades, rising.
pub(super) fn planform(blades: &[&[Slice]], to: &ToTable) -> Vec<(f64, f64)> {
    let mut sums = std::collections::BTreeMap::<u64, (f64, f64, f64)>::new();
    for s in blades.iter().copied().flatten().filter(|s| s.seen == [true; 2]) {
        let r = to.radius_at_origin_m + to.metres_per_unit * s.z;
        if 0.0 < r {
            // The bits of numbers above zero rise as they do; all blades are cut at the same places.
            let sum = sums.entry(r.to_bits()).or_insert((r, 0.0, 0.0));
            sum.1 += length(s) * to.metres_per_unit;
            sum.2 += 1.0;
        }
    }
    sums.into_values().map(|(r, sum, n)| (r, sum / n)).collect()
}

/// Integral of the section areas along the span by the trapezoid rule, the ends carried on.
pub(super) fn volume_of(slices: &[Slice], span: (f64, f64)) -> f64 {
    let inner: f64 = slices.windows(2).map(|w| 0.5 * (w[0].area + w[1].area) * (w[1].z - w[0].z)).sum();
    let end = |s: Option<&Slice>, at: f64, share: f64| s.map_or(0.0, |s| share * s.area * (s.z - at).abs());
    inner + end(slices.first(), span.0, 1.0) + end(slices.last(), span.1, 0.5)
}
