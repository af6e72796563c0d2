//! The main job: bytes of a scan in, station table out.

mod figures;
mod lone;
mod place;
mod plausible;
mod readings;
mod stations;
mod volume;
mod whole;
mod zero;

use bladeform_mesh::{CleanMesh, Part, PartReason, isolate, moments, orient, read};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_table::{SectionSurface, Source, Station, StationTable};

use crate::error::MeasureError;
use crate::frame::bodies::one_part;
use crate::frame::known::outside;
use crate::frame::resolution::coarse_numbers;
use crate::frame::symmetry::find_rotor;
use crate::input::{Input, ScanInput};
use crate::notice::MeasureNotice;
use crate::plan::MeasurePlan;

use figures::{finish, repairs};
use lone::measure_lone;
use place::Places;
use readings::add_readings;
use whole::measure_rotor;

/// What either way of measuring gives.
struct Measurement {
    table: StationTable,
    /// Radius and longest chord of the quick sections, m.
    planform: Vec<(f64, f64)>,
    /// The stations at which readings were taken by hand.
    at_readings: Vec<Station>,
    places: Places,
}

/// Fraction of the tip radius at which angles are referred to.
const REFERENCE: f64 = 0.75;
/// A blade's length over the propeller's diameter is below one half; a two-bladed propeller's is one.
const LONE_SHARE: f64 = 0.75;

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
    if !plan.distances.is_empty() {
        notices.extend(outside(plan, &raw.vertices));
    }
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
    if rotor.is_none() && plan.sections == SectionSurface::Cylinder {
        return Err(MeasureError::CylindersNeedAxis);
    }
    let kept = keep(&mesh);
    let Measurement { mut table, planform, mut at_readings, places } = match rotor {
        Some(rotor) => measure_rotor(&mesh, rotor, plan, observer, &mut notices)?,
        None => measure_lone(mesh, &m, &orientation, plan, observer, &mut notices)
            .map_err(|e| among_others(e, left_out))?,
    };
    if plan.scan_accuracy_m.is_none() && table.source.as_ref().is_some_and(|s| s.resolution_m.is_some()) {
        notices.push(MeasureNotice::LongRangeUnknown);
    }
    let seen = table.source.take().unwrap_or_default();
    table.source = Some(Source {
        resolution_m: seen.resolution_m,
        resolution_uncertainty_m: seen.resolution_uncertainty_m,
        ..source
    });
    table.repairs = Some(repairs(&tally, &orientation, &mut notices));
    finish(&mut table, &mut at_readings, &planform, &places, plan.scan_accuracy_m, notices)?;
    add_readings(&mut table, &at_readings, plan);
    Ok((table, kept))
}

/// The part that [`measure`] measures in a scan, in the scan's own axes and unit, without measuring it. `lone`: whether it was measured as a lone blade.
///
/// # Errors
/// [`MeasureError`] when the file is no mesh or holds nothing, or separate bodies.
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
        MeasureError::NoBlade { reason, .. } => MeasureError::NoBlade { reason, left_out },
        other => other,
    }
}

/// Whether the known lengths can only be those of a lone blade: its own length, well short of the propeller's diameter, or its length and its root radius.
fn is_said_to_be_lone(plan: &MeasurePlan) -> bool {
    let by_root = plan.diameter_m.is_none() && plan.length_m.is_some() && plan.root_radius_m.is_some();
    by_root
        || plan.length_m.zip(plan.diameter_m).is_some_and(|(length, diameter)| length < LONE_SHARE * diameter)
}
