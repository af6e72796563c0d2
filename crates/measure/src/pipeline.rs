//! The main job: bytes of a scan in, station table out.

mod local;
mod lone;
mod whole;

use bladeform_mesh::{
    CleanMesh, OrientationReport, Part, PartReason, RepairTally, isolate, moments, orient, read,
};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_quantity::Hand;
use bladeform_table::{
    ColumnUnit, Notice, Repairs, Setting, Station, StationColumn, StationTable, UncertaintySource,
    activity_factor_of, flag_departures, geometric_pitch_m,
};

use crate::bodies::one_part;
use crate::error::MeasureError;
use crate::input::{Input, ScanInput};
use crate::notice::MeasureNotice;
use crate::plan::{KnownAngle, MeasurePlan};
use crate::resolution::coarse_numbers;
use crate::scale::Known;
use crate::stations::{ToTable, add_misfit, excess_residuals_m};
use crate::symmetry::find_rotor;
use crate::vector::{Axes, V3, add, dot, scale, sub};

use lone::measure_lone;
use whole::measure_rotor;

/// Fraction of the tip radius at which angles are referred to.
const REFERENCE: f64 = 0.75;
/// Share of the votes below which edges, sides and hand are not certain.
const CERTAIN: f64 = 0.8;
/// A blade's length over the propeller's diameter is below one half; a two-bladed propeller's is one.
const LONE_SHARE: f64 = 0.75;
/// Half of a blade's sections are flatter than this (least width over longest chord); a block or a ball has none.
const BLADE_FLATNESS: f64 = 0.6;

/// Measures a scan.
///
/// # Errors
/// [`MeasureError`] if the scan is not a mesh, holds no blade, or no station can be measured; [`MeasureError::Stopped`] if the observer ends the call.
pub fn measure(
    scan: ScanInput<'_>,
    plan: &MeasurePlan,
    observer: &dyn Observer,
) -> Result<StationTable, MeasureError> {
    Ok(measure_with_part(scan, plan, observer, |_| ())?.0)
}

/// As [`measure`], and also returns what `keep` takes from the measured part of the scan: repaired, consistently wound, without fragments and ground, in
/// the scan's own axes and unit. Finding the part takes time, so that a page that shows it need not find it again. `keep` is called before the stations
/// are measured, and may start work that runs at the same time, as `numeric`'s `parallel::with_aside` does.
///
/// # Errors
/// As [`measure`].
pub fn measure_with_part<K>(
    scan: ScanInput<'_>,
    plan: &MeasurePlan,
    observer: &dyn Observer,
    keep: impl FnOnce(&CleanMesh) -> K,
) -> Result<(StationTable, K), MeasureError> {
    report(observer, Stage::named("reading the mesh"))?;
    let Input { mesh: raw, source, distinct, welded, mut notices } = scan.read()?;
    notices.extend(coarse_numbers(&raw));
    report(observer, Stage::named("repairing the mesh"))?;
    let Part { mesh, mut tally, orientation, removed, all_ground, pieces } = isolate(raw, distinct)?;
    tally.duplicate_vertices += welded;
    if all_ground {
        notices.push(MeasureNotice::AllGround);
    }
    for part in &removed {
        match part.reason {
            PartReason::Ground => tally.ground_components += 1,
            _ => tally.stray_components += 1,
        }
    }
    report(observer, Stage::named("finding the axes"))?;
    let mut m = moments(&mesh);
    let mut rotor = find_rotor(&mesh, &m);
    if is_said_to_be_lone(plan)
        && let Some(found) = rotor.take()
    {
        notices.push(MeasureNotice::LoneBySize { blades: found.blades });
    }
    let (mut mesh, mut orientation, mut left_out) = (mesh, orientation, 0);
    if rotor.is_none()
        && 1 < pieces
        && let Some(one) = one_part(&mesh)?
    {
        notices.extend(one.notices);
        left_out = one.left_out;
        if let Some(largest) = one.mesh {
            tally.stray_components += left_out;
            let flipped = orientation.flipped_triangles;
            (mesh, orientation) = orient(largest);
            orientation.flipped_triangles += flipped;
            m = moments(&mesh);
        }
    }
    let kept = keep(&mesh);
    let (mut table, planform) = match rotor {
        Some(rotor) => measure_rotor(&mesh, rotor, plan, observer, &mut notices)?,
        None => measure_lone(mesh, &m, &orientation, plan, observer, &mut notices)
            .map_err(|e| among_others(e, left_out))?,
    };
    table.source = Some(source);
    table.repairs = Some(repairs(&tally, &orientation, &mut notices));
    finish(&mut table, &planform, notices)?;
    Ok((table, kept))
}

/// The part that [`measure`] measures in a scan, in the scan's own axes and unit, without measuring it. `lone`: whether it was measured as a lone blade.
///
/// # Errors
/// [`MeasureError`] when the file is no mesh or holds nothing, or bodies that stand apart.
pub fn part_of(bytes: &[u8], lone: bool) -> Result<CleanMesh, MeasureError> {
    let found = read(bytes)?;
    let distinct = found.format.joins_corners();
    let Part { mesh, pieces, .. } = isolate(found.mesh, distinct)?;
    let one = if lone && 1 < pieces { one_part(&mesh)? } else { None };
    Ok(match one.and_then(|one| one.mesh) {
        Some(largest) => orient(largest).0,
        None => mesh,
    })
}

/// The largest body may not have been the one that was meant.
fn among_others(error: MeasureError, left_out: usize) -> MeasureError {
    match error {
        MeasureError::NoBlade(text) if 0 < left_out => MeasureError::NoBlade(format!(
            "{text}; this is the largest body of the scan, {left_out} smaller were left out: cut the blade out of the scan"
        )),
        other => other,
    }
}

/// Whether the known lengths can only be those of a lone blade: its own length, well short of the propeller's diameter.
fn is_said_to_be_lone(plan: &MeasurePlan) -> bool {
    plan.length_m.zip(plan.diameter_m).is_some_and(|(length, diameter)| length < LONE_SHARE * diameter)
}

fn repairs(tally: &RepairTally, report: &OrientationReport, notices: &mut Vec<MeasureNotice>) -> Repairs {
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
/// `planform`: radius and longest chord of the quick sections, m.
fn finish(
    table: &mut StationTable,
    planform: &[(f64, f64)],
    notices: Vec<MeasureNotice>,
) -> Result<(), MeasureError> {
    if table.blade.setting.is_some() {
        // A relative angle has no pitch.
        for s in table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations)) {
            set_pitch(s);
        }
    }
    // Where the scale is a guess, it has no uncertainty, and what hangs on it alone has none.
    let known = table.scale.as_ref().and_then(|s| s.relative_uncertainty);
    let relative = known.unwrap_or(0.0);
    for s in table.stations.iter_mut().chain(table.blades.iter_mut().flat_map(|b| &mut b.stations)) {
        add_scale_uncertainty(s, relative);
    }
    let blade = &mut table.blade;
    blade.u.blade_length_m = blade.blade_length_m.zip(known).map(|(l, u)| l * u);
    blade.u.volume_m3 = blade.volume_m3.zip(known).map(|(v, u)| 3.0 * v * u);
    if table.stations.iter().all(Station::is_refused) {
        let first =
            table.stations.first().and_then(|s| s.flags.first()).map_or(String::new(), ToString::to_string);
        return Err(MeasureError::NoStation { count: table.stations.len(), first });
    }
    flag_departures(&mut table.stations);
    table.warnings.extend(notices.iter().map(Notice::of));
    if let Some((factor, u)) = activity_factor_of(table.blade.radius_m, &table.stations, planform) {
        table.blade.activity_factor = Some(factor.value);
        table.blade.u.activity_factor = Some(u);
        if factor.needs_warning() {
            let fraction = factor.extrapolated_share;
            table.warnings.push(Notice::of(&MeasureNotice::ActivityExtrapolated { fraction }));
        }
    }
    Ok(())
}

/// Adds what the known length leaves uncertain to every length and area. It is common to all stations and blades, so it comes after
/// means over blades have been taken.
fn add_scale_uncertainty(s: &mut Station, relative: f64) {
    for &column in StationColumn::FIGURES {
        let power = match column.unit() {
            ColumnUnit::Metre => 1.0,
            ColumnUnit::SquareMetre => 2.0,
            _ => continue,
        };
        if let Some(value) = column.get(s) {
            s.add_uncertainty(column, UncertaintySource::Length, power * value.abs() * relative);
        }
    }
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

fn add_misfits(stations: &mut [Station]) {
    let excess = excess_residuals_m(stations);
    stations.iter_mut().zip(excess).for_each(|(s, excess)| add_misfit(s, excess));
}

/// Angles are counted from the one at the reference radius, whose own uncertainty they share; there the angle itself is exact, by convention or as given.
fn refer_angles(stations: &mut [Station], reference: &Station, plan: &MeasurePlan) {
    let column = referred_by(plan);
    let Some(u) = column.u(reference) else { return };
    for s in stations {
        for angle in
            [StationColumn::BladeAngleDeg, StationColumn::FaceAngleDeg, StationColumn::LongestChordAngleDeg]
        {
            if angle == column && (s.radius_m - reference.radius_m).abs() < SAME_PLACE * reference.radius_m {
                angle.set_u(s, Some(0.0));
            } else {
                s.add_uncertainty(angle, UncertaintySource::Reference, u);
            }
        }
    }
}

/// Radii this close, as a fraction of themselves, are one place.
const SAME_PLACE: f64 = 1e-9;

/// The angle that the setting, given or by convention, is of.
fn referred_by(plan: &MeasurePlan) -> StationColumn {
    if plan.setting.is_some() { plan.setting_of.column() } else { StationColumn::BladeAngleDeg }
}

/// The angle that is added so that the setting holds, and the setting for the table.
fn turn_to_setting(
    plan: &MeasurePlan,
    reference: &Station,
    ratio: f64,
    notices: &mut Vec<MeasureNotice>,
) -> (f64, Option<Setting>) {
    let column = referred_by(plan);
    let Some(measured) = column.get(reference) else {
        notices.push(MeasureNotice::NoReference { ratio });
        return (0.0, None);
    };
    match plan.setting {
        Some(KnownAngle { angle_deg: angle, .. }) => {
            let setting = Setting {
                angle_deg: angle,
                radius_ratio: ratio,
                of: plan.setting_of,
                extra: Default::default(),
            };
            ((angle - measured).to_radians(), Some(setting))
        }
        None => {
            notices.push(MeasureNotice::RelativeAngles { ratio });
            (-measured.to_radians(), None)
        }
    }
}

/// metres = M * scan point, row by row.
fn matrix(axes: &Axes, hand: Hand, to: &ToTable, turn: f64, known: &Known) -> [[f64; 4]; 4] {
    let k = known.metres_per_unit;
    let (sin, cos) = turn.sin_cos();
    let first = if hand == Hand::Left { scale(axes.rows[0], -1.0) } else { axes.rows[0] };
    let x = sub(scale(first, cos), scale(axes.rows[1], sin));
    let y = add(scale(first, sin), scale(axes.rows[1], cos));
    let row = |d: V3, shift: f64| [k * d[0], k * d[1], k * d[2], shift - k * dot(d, axes.origin)];
    [row(x, 0.0), row(y, 0.0), row(axes.rows[2], to.radius_at_origin_m), [0.0, 0.0, 0.0, 1.0]]
}
