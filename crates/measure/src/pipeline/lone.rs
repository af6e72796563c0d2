//! The table of a lone blade.

use bladeform_mesh::{CleanMesh, Moments, OrientationReport};
use bladeform_numeric::observe::Observer;
use bladeform_numeric::parallel;
use bladeform_table::{
    BladeFigures, BladeUncertainty, Frame, Station, StationColumn, StationTable, UncertaintySource,
};

use super::figures::{add_misfits, matrix, planform, volume_of};
use super::place::Places;
use super::readings::radii_of_readings;
use super::stations::measure_at;
use super::zero::Zero;
use super::{Measurement, REFERENCE};
use crate::band::blade::{LocalBlade, surface};
use crate::band::fit::Found;
use crate::band::root::root_sections;
use crate::band::slices::slices;
use crate::error::MeasureError;
use crate::frame::axes::{AxisPlay, LoneAxes, lone_axes, places, span_of};
use crate::frame::ends::ends;
use crate::frame::scale::{Scaling, SpanLength, lone_scale, station_radii};
use crate::frame::sides::{Sides, sides};
use crate::frame::spike::{Spike, without_spikes};
use crate::frame::step::{Step, root_step};
use crate::frame::tip::{missing_tip, outside_circle};
use crate::notice::{MeasureNotice, StepAtRoot};
use crate::plan::MeasurePlan;
use crate::span::judge;
use crate::station::{ToTable, turn_station};
use crate::vector::Axes;

pub(super) fn measure_lone(
    mesh: CleanMesh,
    m: &Moments,
    report: &OrientationReport,
    plan: &MeasurePlan,
    observer: &dyn Observer,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Measurement, MeasureError> {
    let Place { lone, blade, sides, scaling, to } = Place::find(mesh, m, plan, notices)?;
    let radii = station_radii(&plan.stations, scaling.root_radius_m, scaling.radius_m)?;
    let reference = plan.setting.and_then(|s| s.radius_ratio).unwrap_or(REFERENCE);
    let by_hand = radii_of_readings(plan, scaling.root_radius_m, scaling.radius_m)?;
    // After the table's stations those of the readings, then places between them so that all stations together show the blade; the last place is the reference radius, to which angles are referred.
    let between = between(&radii, scaling.root_radius_m, scaling.radius_m);
    let places = radii.iter().chain(&by_hand).chain(&between).copied().chain([reference * scaling.radius_m]);
    let at: Vec<f64> = places.map(|r| (r - to.radius_at_origin_m) / to.metres_per_unit).collect();
    let found = measure_at(&blade, &at, [0, 1], observer)?;
    let mut stations = parallel::map(&found, |f| f.station(&to));
    let judged = judge(&mut stations, &found, &to);
    add_misfits(&mut stations);
    let at_reference = stations.pop().unwrap_or_default();
    let zero = Zero::find(&stations, &at_reference, reference, plan, notices);
    let (turn, setting) = zero.turn(plan, notices);
    stations.iter_mut().for_each(|s| turn_station(s, turn));
    let centre = -to.radius_at_origin_m / to.metres_per_unit;
    notices.extend(outside_circle(
        &blade.mesh,
        centre,
        blade.span.1 + to.radius_at_origin_m / to.metres_per_unit,
        turn,
        to.metres_per_unit,
    ));
    stations.truncate(radii.len() + by_hand.len());
    zero.refer(&mut stations, turn);
    if let Some(play) = lone.play {
        let excess = if play.by_sections { judged.excess } else { 1.0 };
        add_play(&mut stations, &found, &play, excess, &to);
    }
    let at_readings = stations.split_off(radii.len());
    let closed = report.boundary_edges == 0 && !report.unorientable;
    if !closed {
        notices.push(MeasureNotice::OpenSurface);
    }
    let volume = if closed { m.volume } else { volume_of(&blade.slices, blade.span) };
    let frame = Frame {
        scan_to_blade: Some(matrix(&lone.axes, sides.hand, &to, turn, &scaling.known)),
        method: lone.method,
        hand: sides.hand,
        hand_certain: sides.certain(),
        hand_basis: Some(sides.basis),
        ..Frame::default()
    };
    notices.extend(blade.kernel.notice(to.metres_per_unit));
    let table = StationTable {
        source: blade.kernel.source(to.metres_per_unit),
        scale: Some(scaling.known.document()),
        frame: Some(frame),
        blade: BladeFigures {
            radius_m: scaling.radius_m,
            root_radius_m: Some(scaling.root_radius_m),
            blade_length_m: Some(scaling.radius_m - scaling.root_radius_m),
            blades_in_scan: Some(1),
            volume_m3: Some(to.metres_per_unit.powi(3) * volume),
            reference_radius_ratio: zero.ratio,
            setting,
            u: BladeUncertainty { root_radius_m: scaling.root_u_m, ..BladeUncertainty::default() },
            ..BladeFigures::default()
        },
        root_sections: root_sections(&blade.mesh, blade.span, &stations, &to, turn),
        stations,
        ..StationTable::default()
    };
    let places = Places {
        scale: scaling.parts,
        shift_u_m: scaling.shift_u_m,
        tilt: lone.play.map_or(0.0, |play| play.tilt()),
        height_u_m: 0.0,
        reference_m: Some(zero.ratio * scaling.radius_m),
    };
    Ok(Measurement { table, planform: planform(&[&blade.slices], &to), at_readings, places })
}

/// Places, evenly spaced, where the table's stations leave room: a smooth blade needs about so many.
fn between(radii: &[f64], root_m: f64, tip_m: f64) -> Vec<f64> {
    let step = (tip_m - root_m) / (PLACES_OF_SMOOTH_BLADE + 1) as f64;
    (1..=PLACES_OF_SMOOTH_BLADE)
        .map(|k| root_m + step * k as f64)
        .filter(|r| radii.iter().all(|own| 0.5 * step < (own - r).abs()))
        .collect()
}

/// As many as the stations of a table by default.
const PLACES_OF_SMOOTH_BLADE: usize = 24;

/// Two lines through section centroids that differ by more than this, rad (5 deg), change chords by up to 0.4 %.
const SWEPT: f64 = 0.087;

/// How a lone blade lies in its scan, and its scale.
struct Place {
    lone: LoneAxes,
    blade: LocalBlade,
    sides: Sides,
    scaling: Scaling,
    to: ToTable,
}

impl Place {
    fn find(
        mesh: CleanMesh,
        m: &Moments,
        plan: &MeasurePlan,
        notices: &mut Vec<MeasureNotice>,
    ) -> Result<Self, MeasureError> {
        let (mesh, lone, spikes) = match without_spikes(&mesh, m) {
            Some((mesh, m, spikes)) => {
                let lone = lone_axes(&mesh, &m, plan.swap_ends)?;
                (mesh, lone, spikes)
            }
            None => {
                let lone = lone_axes(&mesh, m, plan.swap_ends)?;
                (mesh, lone, Vec::new())
            }
        };
        if !lone.ends_certain && !plan.swap_ends {
            notices.push(MeasureNotice::EndsUncertain);
        }
        notices.extend(
            lone.apart_rad
                .filter(|a| SWEPT < *a)
                .map(|angle_rad| MeasureNotice::AxisBySections { angle_rad }),
        );
        let local = mesh.map_vertices(|p| lone.axes.local(p));
        let seen = span_of(&local);
        let quick = slices(&local, &places(seen.0, seen.1));
        let sides = sides(&quick, plan, None, notices)?;
        let (surface, (tip, step)) = parallel::join(
            || surface(&local),
            || (missing_tip(&local, &quick, seen), root_step(&local, seen)),
        );
        notices.extend(tip.map(MeasureNotice::Tip));
        let (span, end_u) = ends(&local, &surface.0, &quick);
        let beyond = spikes.iter().map(|s| beyond_end(s, &lone.axes, span));
        notices.extend(beyond);
        let blade = LocalBlade::new(local, surface, quick, &sides, span);
        let ends = SpanLength { value: span.1 - span.0, root_u: end_u[0], tip_u: end_u[1] };
        let scaling = lone_scale(plan, &ends, notices)?;
        let k = scaling.known.metres_per_unit;
        notices.extend(step.map(|step| step_notice(&step, span, k, plan)));
        let blade = blade.with_kernel(plan, k);
        let to = ToTable {
            metres_per_unit: k,
            radius_at_origin_m: scaling.root_radius_m - k * span.0,
            tip_radius_m: scaling.radius_m,
        };
        Ok(Self { lone, blade, sides, scaling, to })
    }
}

/// The notice of a step of the sections near the root end. `span`: root end and tip along the span; `metres_per_unit`: metres in a file unit.
fn step_notice(step: &Step, span: (f64, f64), metres_per_unit: f64, plan: &MeasurePlan) -> MeasureNotice {
    MeasureNotice::StepAtRoot(StepAtRoot {
        distance_m: metres_per_unit * (step.z - span.0),
        areas_m2: step.areas.map(|a| metres_per_unit.powi(2) * a),
        length_m: metres_per_unit * (span.1 - span.0),
        unit_m: metres_per_unit,
        scaled_by_length: plan.length_m.is_some() || plan.diameter_m.is_some(),
    })
}

/// The notice of a spike that was taken off. `span`: root end and tip along the span without it.
fn beyond_end(spike: &Spike, axes: &Axes, span: (f64, f64)) -> MeasureNotice {
    let z = axes.local(spike.tip)[2];
    let at_tip = span.0 + span.1 < 2.0 * z;
    let beyond = if at_tip { z - span.1 } else { span.0 - z };
    MeasureNotice::Spike {
        points: spike.points,
        at_tip,
        fraction: beyond / (span.1 - span.0),
        place: spike.tip,
    }
}

/// Adds what the place of the span axis leaves uncertain to the places of the chords.
/// `excess`: how much greater the errors of the surface are than its points show.
fn add_play(stations: &mut [Station], found: &[Found], play: &AxisPlay, excess: f64, to: &ToTable) {
    for (s, f) in stations.iter_mut().zip(found) {
        let u = excess * play.at(f.z) * to.metres_per_unit;
        for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
            s.add_uncertainty(column, UncertaintySource::Axes, u);
        }
    }
}
