//! The table of a whole propeller: each blade in its own axes, and the mean.

use std::collections::BTreeMap;

use bladeform_mesh::CleanMesh;
use bladeform_numeric::observe::Observer;
use bladeform_numeric::parallel;
use bladeform_quantity::Measured;
use bladeform_table::{
    AxisBy, BladeDifference, BladeFigures, BladeRows, Frame, RotatingVolume, Rotation, SectionSurface,
    Setting, SettingOf, Station, StationColumn, StationTable, add_spread_of_blades, blade_differences,
    mean_of,
};

use super::figures::{add_misfits, matrix, planform, volume_of};
use super::place::Places;
use super::readings::radii_of_readings;
use super::stations::measure_at;
use super::volume::{About, rotating_volume};
use super::{Measurement, REFERENCE};
use crate::band::blade::{LocalBlade, surface, typical_edge};
use crate::band::root::root_sections;
use crate::band::slices::{Slice, slices};
use crate::error::MeasureError;
use crate::frame::axes::places;
use crate::frame::hub::{HubAxis, hub_axis};
use crate::frame::hub_size::{HubUnits, hub_figures};
use crate::frame::kernel::Kernel;
use crate::frame::noise::surface_noise;
use crate::frame::reach::{Overreach, overreach};
use crate::frame::ring::{Ring, ring_at_tips, without_ring};
use crate::frame::rotor::{
    Helix, NO_WEAR, ONE_RADIUS, at_blade_height, azimuth_deg, blade_directions, blade_ends, hub_radius,
    off_axis, sector, spans_of_whole, tip_radius,
};
use crate::frame::scale::{Known, rotor_scale, station_radii};
use crate::frame::sides::{Sides, leads_forward, right_by_pitch, sides, towards_flight};
use crate::frame::symmetry::Rotor;
use crate::frame::tip::missing_tip;
use crate::notice::{MeasureNotice, UnlikeBlade};
use crate::plan::MeasurePlan;
use crate::span::{Around, judge, judge_by_others, raise_to_scatter, unlike_blades};
use crate::station::ToTable;
use crate::vector::{Axes, V3, add, dot, scale, sub, unit};

pub(super) fn measure_rotor(
    mesh: &CleanMesh,
    rotor: Rotor,
    plan: &MeasurePlan,
    observer: &dyn Observer,
    notices: &mut Vec<MeasureNotice>,
) -> Result<Measurement, MeasureError> {
    let ring = ring_at_tips(mesh, &rotor);
    let free = ring.map(|ring| without_ring(mesh, &rotor, &ring));
    let (whole, mesh) = (mesh, free.as_ref().unwrap_or(mesh));
    let place = Place::find(mesh, (whole, ring), rotor, plan, notices)?;
    let blades = place.measure_blades(mesh, plan, observer, notices)?;
    let all: Vec<_> = blades.rows.iter().map(|b| b.stations.clone()).collect();
    let mut mean = mean_of(&all);
    let setting = measured_setting(&mean, place.to.tip_radius_m);
    add_spread_of_blades(&mut mean, &all);
    notices.extend(unused(plan));
    notices.extend(wide_planes(plan.sections, &mean));
    let (known, radius_m) = (&place.known, place.to.tip_radius_m);
    let scale = known.document();
    notices.extend(blades.kernel.notice(known.metres_per_unit));
    let units = HubUnits {
        metres_per_unit: known.metres_per_unit,
        scale_u: scale.relative_uncertainty.unwrap_or(0.0),
        accuracy_m: plan.scan_accuracy_m.unwrap_or(0.0),
        first_blade: &place.spans[0],
        // As far as the blades are alike.
        blade_u: place.rotor.mismatch * mesh.diagonal() / place.radius,
        flight: &place.flight,
        hand: place.sides.hand,
    };
    let (hub, of_holes) = hub_figures(whole, &place.rotor, place.radius, &units);
    notices.extend(of_holes);
    let table = StationTable {
        source: blades.kernel.source(known.metres_per_unit),
        scale: Some(scale),
        hub,
        frame: Some(Frame {
            scan_to_blade: blades.frame,
            method: place.method(),
            hand: place.sides.hand,
            hand_certain: place.sides.certain(),
            hand_basis: Some(place.sides.basis),
            sections: plan.sections,
            ..Frame::default()
        }),
        blade: BladeFigures {
            radius_m,
            root_radius_m: Some(place.inner * known.metres_per_unit),
            blade_length_m: Some((place.radius - place.inner) * known.metres_per_unit),
            blades_in_scan: Some(place.rotor.blades as u64),
            volume_m3: Some(blades.volume * known.metres_per_unit.powi(3) / place.rotor.blades as f64),
            reference_radius_ratio: REFERENCE,
            setting,
            ..BladeFigures::default()
        },
        blade_differences: place.differences(&blades.rows, &mean),
        root_sections: blades.first.map_or(Vec::new(), |first| {
            root_sections(&first, (place.inner, place.end), &mean, &place.to, 0.0)
        }),
        rotation: Some(Rotation {
            raised_to_scatter: blades.raised,
            volume: place.volume(whole, plan.scan_accuracy_m.unwrap_or(0.0)),
            ..place.rotation(mesh)
        }),
        stations: mean,
        blades: blades.rows,
        ..StationTable::default()
    };
    let slices: Vec<_> = blades.slices.iter().map(Vec::as_slice).collect();
    let mut at_readings = mean_of(&blades.at_readings);
    add_spread_of_blades(&mut at_readings, &blades.at_readings);
    let places = Places {
        scale: known.about_the_axis(),
        height_u_m: place.u_height * known.metres_per_unit,
        ..Places::default()
    };
    Ok(Measurement { table, planform: planform(&slices, &place.to), at_readings, places })
}

/// How a propeller lies in its scan, and its scale.
struct Place {
    /// The axis, with its point at the height of the blades.
    rotor: Rotor,
    /// The axis by a round wall of the hub, where there is one.
    hub: Option<HubAxis>,
    /// Span of each blade.
    spans: Vec<V3>,
    /// How the blades wind about the axis, for sections on cylinders.
    helix: Option<Helix>,
    /// Where the blades leave the hub, and where they end, file units.
    inner: f64,
    radius: f64,
    /// Where the sections end, file units: at the tip, or at the inner wall of a ring around the tips.
    end: f64,
    has_ring: bool,
    /// Where each blade ends, file units, and the standard uncertainty of one of them.
    ends: Vec<f64>,
    u_end: f64,
    /// How far noise has pushed the outermost points out, file units.
    excess: f64,
    /// Standard uncertainty of the height from which `y` counts, file units.
    u_height: f64,
    sides: Sides,
    /// The axis of rotation, towards flight.
    flight: V3,
    known: Known,
    to: ToTable,
}

impl Place {
    fn find(
        mesh: &CleanMesh,
        (all, ring): (&CleanMesh, Option<Ring>),
        mut rotor: Rotor,
        plan: &MeasurePlan,
        notices: &mut Vec<MeasureNotice>,
    ) -> Result<Self, MeasureError> {
        let hub = hub_axis(mesh, &rotor, reach(mesh, &rotor));
        if let Some(hub) = &hub {
            (rotor.point, rotor.direction) = (hub.point, hub.direction);
        } else {
            notices.push(MeasureNotice::AxisBySymmetry);
        }
        let farthest = reach(mesh, &rotor);
        let (rotor, u_height) = at_blade_height(mesh, rotor, farthest);
        let seen = tip_radius(&blade_ends(mesh, &rotor, &blade_directions(mesh, &rotor, farthest)));
        if ONE_RADIUS * seen < farthest {
            notices.push(MeasureNotice::BeyondTips { fraction: farthest / seen - 1.0 });
        }
        let spans = blade_directions(mesh, &rotor, seen);
        let ends = blade_ends(mesh, &rotor, &spans);
        let is_whole: Vec<bool> = ends.iter().map(|end| seen < NO_WEAR * end).collect();
        let spans = spans_of_whole(&rotor, &spans, &is_whole);
        // A whole blade shows where the blades leave the hub and how they lie.
        let whole = is_whole.iter().position(|whole| *whole).unwrap_or(0);
        let first = Axes::along(rotor.point, spans[whole], rotor.direction);
        let flat = |helix: Option<&Helix>| {
            let part = sector(mesh, &rotor, spans[whole], helix);
            part.map_vertices(|p| plan.sections.flat(first.local(p)))
        };
        let mut part = flat(None);
        let mut inner = hub_radius(&part, seen);
        let mut quick = slices(&part, &places(inner, seen));
        // Wide blades on cylinders are told apart along their helices, which their outer sections show.
        let on_cylinders = plan.sections == SectionSurface::Cylinder;
        let helix = if on_cylinders { Helix::of(&quick) } else { None };
        if helix.is_some() {
            part = flat(helix.as_ref());
            inner = hub_radius(&part, seen);
            quick = slices(&part, &places(inner, seen));
        }
        let sides = sides(&quick, plan, right_by_pitch(&quick), notices)?;
        let flight = scale(rotor.direction, towards_flight(&quick, &sides));
        // The diameter is that of the ring where there is one.
        let outermost = ring.map_or(seen, |ring| ring.outer);
        let tip = rotor_overreach(all, &rotor, &part, &quick, [inner, seen, outermost]);
        let radius = outermost - tip.excess;
        let end = if ring.is_some() { seen } else { radius };
        let u = tip.u.hypot(if ring.is_some() { 0.0 } else { play_of_tips(&ends, seen) });
        let known = rotor_scale(plan, Measured::new(radius, u), rotor.blades, notices)?;
        let to = ToTable {
            metres_per_unit: known.metres_per_unit,
            radius_at_origin_m: 0.0,
            tip_radius_m: radius * known.metres_per_unit,
        };
        if ring.is_some() {
            let end_m = end * known.metres_per_unit;
            notices.push(MeasureNotice::RingAtTips { end_m, end_ratio: end / radius });
        }
        // The outermost vertex lies between nothing and half an edge inside the tip (a rectangular distribution, JCGM 100:2008, 4.3.7).
        let u_end = tip.u.hypot(0.5 * typical_edge(&part) / 12f64.sqrt());
        Ok(Self {
            rotor,
            hub,
            spans,
            helix,
            inner,
            radius,
            end,
            has_ring: ring.is_some(),
            ends,
            u_end,
            excess: tip.excess,
            u_height,
            sides,
            flight,
            known,
            to,
        })
    }

    fn measure_blades(
        &self,
        mesh: &CleanMesh,
        plan: &MeasurePlan,
        observer: &dyn Observer,
        notices: &mut Vec<MeasureNotice>,
    ) -> Result<Blades, MeasureError> {
        let k = self.known.metres_per_unit;
        let radii = station_radii(&plan.stations, self.inner * k, self.radius * k)?;
        let by_hand = radii_of_readings(plan, self.inner * k, self.radius * k)?;
        let at: Vec<f64> = radii.iter().chain(&by_hand).map(|r| r / k).collect();
        let ends = (self.inner, self.end);
        let mut blades = Blades {
            rows: vec![],
            at_readings: vec![],
            volume: 0.0,
            frame: None,
            slices: vec![],
            kernel: Kernel::default(),
            first: None,
            raised: BTreeMap::new(),
        };
        for (index, span) in self.spans.iter().enumerate() {
            let axes = Axes::along(self.rotor.point, *span, self.flight);
            let own = sector(mesh, &self.rotor, *span, self.helix.as_ref());
            let local = own.map_vertices(|p| plan.sections.flat(axes.local(p)));
            let quick = slices(&local, &places(self.inner, self.end));
            // Edges follow from hand and flight for every blade alike.
            let own = Sides { first_leads: leads_forward(&quick, self.sides.hand), ..self.sides };
            if let Some(tip) = missing_tip(&local, &quick, ends).filter(|_| !self.has_ring) {
                notices.push(MeasureNotice::TipOfBlade { blade: index + 1, tip });
            }
            let surface = surface(&local);
            let blade = LocalBlade::new(local, surface, quick, &own, ends);
            let blade = blade.counted_from_axis().with_kernel(plan, k);
            blades.volume += volume_of(&blade.slices, ends);
            let found = measure_at(&blade, &at, [index, self.spans.len()], observer)?;
            blades.kernel = blade.kernel;
            blades.first.get_or_insert(blade.mesh);
            blades.slices.push(blade.slices);
            let mut stations = parallel::map(&found, |f| f.station(&self.to));
            self.refuse_in_ring(&mut stations);
            judge(&mut stations, &found, &self.to);
            add_misfits(&mut stations);
            blades.at_readings.push(stations.split_off(radii.len()));
            blades.rows.push(BladeRows {
                index: index as u64,
                azimuth_deg: Some(azimuth_deg(&self.spans[0], span, &self.flight)),
                tip_radius_m: Some(k * (self.ends[index] - self.excess)),
                u_tip_radius_m: Some((k * self.u_end).hypot(plan.scan_accuracy_m.unwrap_or(0.0))),
                stations,
                ..BladeRows::default()
            });
            blades.frame.get_or_insert_with(|| matrix(&axes, self.sides.hand, &self.to, 0.0, &self.known));
        }
        judge_by_others(&mut blades.rows);
        let unlike = self.unlike(mesh, &blades.rows, plan.scan_accuracy_m.unwrap_or(0.0));
        blades.raised = raise_to_scatter(&mut blades.rows, &unlike);
        if !unlike.is_empty() {
            notices.push(MeasureNotice::BladesDiffer { blades: self.rotor.blades, differences: unlike });
        }
        Ok(blades)
    }

    /// Sections in the ring around the tips are none of a blade.
    fn refuse_in_ring(&self, stations: &mut [Station]) {
        let end_m = self.end * self.known.metres_per_unit;
        for s in stations.iter_mut().filter(|s| self.has_ring && end_m < s.radius_m) {
            *s = Station::refused(
                s.radius_m,
                self.to.tip_radius_m,
                "the section lies in the ring that joins the tips",
            );
        }
    }

    /// The blades that differ from the others by more than their uncertainties.
    fn unlike(&self, mesh: &CleanMesh, rows: &[BladeRows], accuracy_m: f64) -> Vec<UnlikeBlade> {
        let k = self.known.metres_per_unit;
        let ends_m: Vec<f64> = self.ends.iter().map(|end| k * end).collect();
        let (u_tilt, u_centre) = self.play(mesh);
        unlike_blades(
            rows,
            &Around {
                ends_m: &ends_m,
                u_end_m: k * self.u_end,
                u_tilt,
                u_centre_m: k * u_centre,
                radius_m: self.to.tip_radius_m,
                accuracy_m,
            },
        )
    }

    /// Standard uncertainties of the axis of rotation: of its direction, rad, and of its place at the height of the blades, file units.
    fn play(&self, mesh: &CleanMesh) -> (f64, f64) {
        // Symmetry leaves the axis as uncertain as the turned image lies beside the part.
        let by_symmetry = self.rotor.mismatch * mesh.diagonal();
        match &self.hub {
            Some(hub) => (hub.play.tilt(), self.play_at(hub, 0.0)),
            None => (by_symmetry / self.radius, by_symmetry),
        }
    }

    /// Standard uncertainty of the place of the hub's axis at a height above the blades, towards flight, file units.
    fn play_at(&self, hub: &HubAxis, height: f64) -> f64 {
        let at = add(self.rotor.point, scale(self.flight, height));
        hub.play.at(dot(sub(at, hub.point), hub.direction))
    }

    /// The axis of rotation, for the table.
    fn rotation(&self, mesh: &CleanMesh) -> Rotation {
        let (u_tilt, u_place) = self.play(mesh);
        Rotation {
            axis_by: if self.hub.is_some() { AxisBy::HubWall } else { AxisBy::Symmetry },
            u_axis_tilt_deg: Some(u_tilt.to_degrees()),
            u_axis_place_m: Some(u_place * self.known.metres_per_unit),
            ..Rotation::default()
        }
    }

    /// The volume of the part about the axis, with a ring if there is one.
    fn volume(&self, whole: &CleanMesh, accuracy_m: f64) -> Option<RotatingVolume> {
        let about = About {
            point: self.rotor.point,
            flight: self.flight,
            spans: &self.spans,
            accuracy_m,
            metres_per_unit: self.known.metres_per_unit,
        };
        let by_symmetry = self.rotor.mismatch * whole.diagonal();
        let u_place = |height: f64| self.hub.as_ref().map_or(by_symmetry, |hub| self.play_at(hub, height));
        rotating_volume(whole, &about, u_place)
    }

    /// Differences between the blades, with what a tilt of the axis adds to their uncertainty.
    fn differences(&self, rows: &[BladeRows], mean: &[Station]) -> Vec<BladeDifference> {
        let mut differences = blade_differences(rows, mean, self.to.tip_radius_m);
        let tilt = self.hub.as_ref().map(|h| h.play.tilt());
        for d in &mut differences {
            // A tilt of the axis raises the tip of one blade and lowers the opposite one, and turns the angles of the blades between.
            let with = |u: Option<f64>, part: f64| Some(u?.hypot(tilt? * part));
            d.u.track_m = with(d.u.track_m, self.to.tip_radius_m);
            d.u.mean_blade_angle_difference_deg =
                with(d.u.mean_blade_angle_difference_deg, 1f64.to_degrees());
        }
        differences
    }

    /// How the axes were found, for the record.
    fn method(&self) -> String {
        let blades = self.rotor.blades;
        let axis = self.hub.as_ref().map_or_else(
            || format!("axis of rotation by rotational symmetry of {blades} blades"),
            |h| {
                format!(
                    "axis of rotation by a round wall of the hub (cylinder of radius {:.1} mm fitted to {} points), {blades} blades by rotational symmetry",
                    1e3 * h.radius * self.known.metres_per_unit,
                    h.points
                )
            },
        );
        format!(
            "{axis} (mismatch {:.2} % of the size); each span through the area centroid beyond 0.3 R",
            100.0 * self.rotor.mismatch
        )
    }
}

/// What the blades of a propeller give, one after another.
struct Blades {
    rows: Vec<BladeRows>,
    /// The stations at which readings were taken by hand, of each.
    at_readings: Vec<Vec<Station>>,
    /// Sum of their volumes, cubic file units.
    volume: f64,
    /// From the scan to the axes of the first blade.
    frame: Option<[[f64; 4]; 4]>,
    /// Quick sections of each.
    slices: Vec<Vec<Slice>>,
    /// The kernel that smoothed the last.
    kernel: Kernel,
    /// The first in right-handed span axes.
    first: Option<CleanMesh>,
    /// By how much what they do not share was raised to their scatter.
    raised: BTreeMap<StationColumn, f64>,
}

/// What the ends of the whole blades leave uncertain in the tip radius for which the known diameter stands: anything between them (a rectangular distribution, JCGM 100:2008, 4.3.7).
fn play_of_tips(ends: &[f64], radius: f64) -> f64 {
    let whole = ends.iter().copied().filter(|e| radius < NO_WEAR * e && *e < NO_WEAR * radius);
    let (low, high) = whole.fold((radius, radius), |(l, h), e| (l.min(e), h.max(e)));
    (high - low) / 12f64.sqrt()
}

/// Largest distance of a vertex from the axis, file units.
fn reach(mesh: &CleanMesh, rotor: &Rotor) -> f64 {
    mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).fold(0.0, f64::max)
}

/// Chord over radius beyond which a plane section and one on a cylinder are no longer the same for practical purposes: at 0.4 the edges of the plane section lie 2 % farther out than its middle.
const WIDE: f64 = 0.4;
/// Nearer the axis every blade is wide against its radius, and little depends on its sections there (a judgement).
const WIDE_FROM: f64 = 0.5;

fn wide_planes(sections: SectionSurface, mean: &[Station]) -> Option<MeasureNotice> {
    let ratio = |s: &Station| Some(s.chord_m? / s.radius_m);
    let wide: Vec<(f64, f64)> = mean
        .iter()
        .filter(|s| sections == SectionSurface::Plane && WIDE_FROM <= s.radius_ratio)
        .filter_map(|s| Some((s.radius_ratio, ratio(s).filter(|r| WIDE < *r)?)))
        .collect();
    Some(MeasureNotice::WidePlanes {
        stations: wide.len(),
        outermost_ratio: wide.last()?.0,
        chord_per_radius: wide.iter().map(|w| w.1).fold(0.0, f64::max),
    })
}

/// Notices of figures that were given and have no use for a whole propeller.
fn unused(plan: &MeasurePlan) -> Vec<MeasureNotice> {
    [
        (plan.setting.is_some(), MeasureNotice::SettingUnused),
        (plan.root_radius_m.is_some(), MeasureNotice::RootRadiusUnused),
        (plan.length_m.is_some() && plan.diameter_m.is_some(), MeasureNotice::LengthUnused),
    ]
    .into_iter()
    .filter_map(|(given, notice)| given.then_some(notice))
    .collect()
}

/// How far the noise of the outermost points of all blades has pushed the tip circle out. `[inner, end, outermost]`: between which distances the slices lie, and the tip circle. `part`: one blade in span axes, with its slices.
fn rotor_overreach(
    mesh: &CleanMesh,
    rotor: &Rotor,
    part: &CleanMesh,
    slices: &[Slice],
    [inner, end, outermost]: [f64; 3],
) -> Overreach {
    let noise = surface_noise(part, &surface(part).0, slices, (inner, end));
    let distances: Vec<f64> = mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).collect();
    let outwards = |p: V3| {
        let d = sub(p, rotor.point);
        unit(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
    };
    overreach(mesh, &distances, outwards, outermost, &noise)
}

/// The angle of the mean blade at the reference radius.
fn measured_setting(mean: &[Station], radius_m: f64) -> Option<Setting> {
    let table = StationTable {
        blade: BladeFigures { radius_m, reference_radius_ratio: REFERENCE, ..BladeFigures::default() },
        stations: mean.to_vec(),
        ..StationTable::default()
    };
    let angle = table.value_at_reference(StationColumn::BladeAngleDeg)?;
    Some(Setting {
        angle_deg: angle.measured.value,
        radius_ratio: REFERENCE,
        of: SettingOf::Chord,
        extra: Default::default(),
    })
}
