//! The table of a lone blade.

use bladeform_mesh::{CleanMesh, Moments, OrientationReport};
use bladeform_quantity::Measured;
use bladeform_table::{BladeFigures, Frame, StationColumn, StationTable, UncertaintySource};

use crate::axes::{length, lone_axes, places, span_of};
use crate::error::MeasureError;
use crate::noise::surface_noise;
use crate::notice::MeasureNotice;
use crate::plan::MeasurePlan;
use crate::reach::overreach;
use crate::scale::{lone_scale, station_radii};
use crate::slices::{Slice, slices};
use crate::stations::{ToTable, turn_station};
use crate::tip::{missing_tip, outside_circle};
use crate::vector::{V3, median, norm};
use bladeform_numeric::observe::Observer;
use bladeform_numeric::parallel;

use super::local::{local_blade, measure_at, sides, surface};
use super::{REFERENCE, add_misfits, matrix, refer_angles, turn_to_setting};

pub(super) fn measure_lone(
    mesh: CleanMesh,
    m: &Moments,
    report: &OrientationReport,
    plan: &MeasurePlan,
    observer: &dyn Observer,
    notices: &mut Vec<MeasureNotice>,
) -> Result<(StationTable, Vec<(f64, f64)>), MeasureError> {
    let lone = lone_axes(&mesh, m, plan.swap_ends)?;
    if !lone.ends_certain && !plan.swap_ends {
        notices.push(MeasureNotice::EndsUncertain);
    }
    let local = mesh.map_vertices(|p| lone.axes.local(p));
    let seen = span_of(&local);
    let quick = slices(&local, &places(seen.0, seen.1));
    let sides = sides(&quick, plan, None, notices)?;
    notices.extend(missing_tip(&local, &quick, seen).map(MeasureNotice::Tip));
    let surface = surface(&local);
    let (span, end_u) = ends(&local, &surface.0, &quick);
    let blade = local_blade(local, surface, quick, &sides, span);
    let scaling = lone_scale(plan, Measured::new(span.1 - span.0, end_u), notices)?;
    let known = scaling.known;
    let to = ToTable {
        metres_per_unit: known.metres_per_unit,
        radius_at_origin_m: scaling.root_radius_m - known.metres_per_unit * span.0,
        tip_radius_m: scaling.radius_m,
    };
    let radii = station_radii(&plan.stations, scaling.root_radius_m, scaling.radius_m)?;
    let reference = plan.setting.and_then(|s| s.radius_ratio).unwrap_or(REFERENCE);
    let z = |r: f64| (r - to.radius_at_origin_m) / to.metres_per_unit;
    let mut at: Vec<f64> = radii.iter().map(|&r| z(r)).collect();
    at.push(z(reference * scaling.radius_m));
    let found = measure_at(&blade, &at, [0, 1], observer)?;
    let mut stations = parallel::map(&found, |f| f.station(&to));
    let at_reference = stations.last().cloned().unwrap_or_default();
    let (turn, setting) = turn_to_setting(plan, &at_reference, reference, notices);
    stations.iter_mut().for_each(|s| turn_station(s, turn));
    notices.extend(outside_circle(
        &blade.mesh,
        -to.radius_at_origin_m / to.metres_per_unit,
        span.1 + to.radius_at_origin_m / to.metres_per_unit,
        turn,
        to.metres_per_unit,
    ));
    add_misfits(&mut stations);
    let reference_station = stations.pop().unwrap_or_default();
    refer_angles(&mut stations, &reference_station, plan);
    if let Some(play) = lone.play {
        for (s, f) in stations.iter_mut().zip(&found) {
            let u = play.at(f.z) * to.metres_per_unit;
            for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
                s.add_uncertainty(column, UncertaintySource::Axes, u);
            }
        }
    }
    let unit3 = to.metres_per_unit.powi(3);
    let closed = report.boundary_edges == 0 && !report.unorientable;
    let volume_m3 = unit3 * if closed { m.volume } else { volume_of(&blade.slices, span) };
    if !closed {
        notices.push(MeasureNotice::OpenSurface);
    }
    let frame = Frame {
        scan_to_blade: Some(matrix(&lone.axes, sides.hand, &to, turn, &known)),
        method: lone.method,
        hand: sides.hand,
        hand_certain: sides.certain,
        ..Frame::default()
    };
    let planform = planform(&[&blade.slices], &to);
    let table = StationTable {
        scale: Some(known.document()),
        frame: Some(frame),
        blade: BladeFigures {
            radius_m: scaling.radius_m,
            root_radius_m: Some(scaling.root_radius_m),
            blade_length_m: Some(scaling.radius_m - scaling.root_radius_m),
            blades_in_scan: Some(1),
            volume_m3: Some(volume_m3),
            reference_radius_ratio: reference,
            setting,
            ..BladeFigures::default()
        },
        stations,
        ..StationTable::default()
    };
    Ok((table, planform))
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

/// Root end and tip along the span, and the standard uncertainty of their distance. A flat root end is taken at the median of its points, other ends
/// where the noise of the outermost point is expected to have pushed it from.
pub(super) fn ends(local: &CleanMesh, normals: &[V3], slices: &[Slice]) -> ((f64, f64), f64) {
    let (low, high) = span_of(local);
    let noise = surface_noise(local, normals, slices, (low, high));
    let heights: Vec<f64> = local.vertices().iter().map(|p| p[2]).collect();
    let tip = overreach(local, &heights, |_| [0.0, 0.0, 1.0], high, &noise);
    let near = low + 0.02 * (high - low);
    let mut face: Vec<f64> = local
        .vertices()
        .iter()
        .zip(normals)
        .filter(|(p, n)| p[2] < near && n[2] < -0.8 * norm(**n))
        .map(|(p, _)| p[2])
        .collect();
    if face.len() < 30 {
        let depths: Vec<f64> = heights.iter().map(|z| -z).collect();
        let root = overreach(local, &depths, |_| [0.0, 0.0, -1.0], -low, &noise);
        return ((low + root.excess, high - tip.excess), tip.u.hypot(root.u));
    }
    ((median(&mut face), high - tip.excess), tip.u)
}

/// Integral of the section areas along the span by the trapezoid rule, the ends carried on.
pub(super) fn volume_of(slices: &[Slice], span: (f64, f64)) -> f64 {
    let inner: f64 = slices.windows(2).map(|w| 0.5 * (w[0].area + w[1].area) * (w[1].z - w[0].z)).sum();
    let end = |s: Option<&Slice>, at: f64, share: f64| s.map_or(0.0, |s| share * s.area * (s.z - at).abs());
    inner + end(slices.first(), span.0, 1.0) + end(slices.last(), span.1, 0.5)
}
