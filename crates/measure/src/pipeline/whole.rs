//! The table of a whole propeller: each blade in its own axes, and the mean.

use bladeform_mesh::CleanMesh;
use bladeform_quantity::{Hand, Measured};
use bladeform_table::{
    BladeFigures, BladeRows, Frame, Setting, SettingOf, Station, StationColumn, StationTable,
    blade_differences, mean_of,
};

use crate::axes::places;
use crate::error::MeasureError;
use crate::hub::hub_axis;
use crate::noise::surface_noise;
use crate::notice::MeasureNotice;
use crate::plan::MeasurePlan;
use crate::reach::{Overreach, overreach};
use crate::scale::{rotor_scale, station_radii};
use crate::slices::{Slice, slices};
use crate::stations::ToTable;
use crate::symmetry::Rotor;
use crate::tip::missing_tip;
use crate::vector::{Axes, V3, add, cross, dot, norm, scale, sub, unit};
use bladeform_numeric::observe::Observer;
use bladeform_numeric::parallel;

use super::local::{Sides, local_blade, measure_at, normals_of, sides, surface};
use super::lone::{planform, volume_of};
use super::{REFERENCE, add_misfits, matrix};

/// Blades that end within this factor of one another end at one radius: tips differ by noise and by some millimetres of wear.
pub(super) const ONE_RADIUS: f64 = 1.005;
/// Of two blades that differ by more than this factor the shorter is taken: no tip breaks off so little, but a scrap of bench lies anywhere.
pub(super) const NO_WEAR: f64 = 1.05;

/// Distance of the tips from the axis: the middle one of the blades' farthest points, so that a scrap in one blade's sector does not count.
pub(super) fn tip_radius(mesh: &CleanMesh, rotor: &Rotor, spans: &[V3]) -> f64 {
    let mut ends = vec![0.0f64; spans.len()];
    for &p in mesh.vertices() {
        let d = sub(p, rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own {
            ends[own] = ends[own].max(off_axis(rotor, p).1);
        }
    }
    ends.sort_by(f64::total_cmp);
    match ends[..] {
        [short, long] if long < NO_WEAR * short => long,
        [short, _] => short,
        // The greatest of those that agree with the middle one.
        _ => {
            let middle = ends[ends.len() / 2];
            ends.iter().copied().filter(|e| *e < ONE_RADIUS * middle).fold(middle, f64::max)
        }
    }
}

pub(super) fn measure_rotor(
    mesh: &CleanMesh,
    rotor: Rotor,
    plan: &MeasurePlan,
    observer: &dyn Observer,
    notices: &mut Vec<MeasureNotice>,
) -> Result<(StationTable, Vec<(f64, f64)>), MeasureError> {
    let mut rotor = rotor;
    let reach = |rotor: &Rotor| mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).fold(0.0, f64::max);
    let hub = hub_axis(mesh, &rotor, reach(&rotor));
    if let Some(hub) = &hub {
        (rotor.point, rotor.direction) = (hub.point, hub.direction);
    } else {
        notices.push(MeasureNotice::AxisBySymmetry);
    }
    let farthest = reach(&rotor);
    let rotor = &at_blade_height(mesh, rotor, farthest);
    let radius = tip_radius(mesh, rotor, &blade_directions(mesh, rotor, farthest));
    if ONE_RADIUS * radius < farthest {
        notices.push(MeasureNotice::BeyondTips { fraction: farthest / radius - 1.0 });
    }
    let spans = blade_directions(mesh, rotor, radius);
    let first = Axes::along(rotor.point, spans[0], rotor.direction);
    let part = sector(mesh, rotor, spans[0]).map_vertices(|p| first.local(p));
    let inner = hub_radius(&part, radius);
    let quick = slices(&part, &places(inner, radius));
    let voted = sides(&quick, plan, right_by_pitch(&quick), notices)?;
    let flight = towards_flight(&quick, &voted);
    let tip = rotor_overreach(mesh, rotor, &part, &quick, (inner, radius));
    let radius = radius - tip.excess;
    let known = rotor_scale(plan, Measured::new(radius, tip.u), rotor.blades, notices)?;
    let radii = station_radii(&plan.stations, inner * known.metres_per_unit, radius * known.metres_per_unit)?;
    let at: Vec<f64> = radii.iter().map(|r| r / known.metres_per_unit).collect();
    let to = ToTable {
        metres_per_unit: known.metres_per_unit,
        radius_at_origin_m: 0.0,
        tip_radius_m: radius * known.metres_per_unit,
    };
    let direction = scale(rotor.direction, flight);
    let (mut blades, mut volume, mut frame, mut all_slices) = (vec![], 0.0, None, vec![]);
    for (index, span) in spans.iter().enumerate() {
        let axes = Axes::along(rotor.point, *span, direction);
        let local = sector(mesh, rotor, *span).map_vertices(|p| axes.local(p));
        let quick = slices(&local, &places(inner, radius));
        // Edges follow from hand and flight for every blade alike.
        let own = Sides { first_leads: leads_forward(&quick, voted.hand), ..voted };
        if let Some(tip) = missing_tip(&local, &quick, (inner, radius)) {
            notices.push(MeasureNotice::TipOfBlade { blade: index + 1, tip });
        }
        let surface = surface(&local);
        let blade = local_blade(local, surface, quick, &own, (inner, radius));
        volume += volume_of(&blade.slices, (inner, radius));
        all_slices.push(blade.slices.clone());
        let of_blades = [index, spans.len()];
        let found = measure_at(&blade, &at, of_blades, observer)?;
        let mut stations = parallel::map(&found, |f| f.station(&to));
        add_misfits(&mut stations);
        let azimuth = azimuth_deg(&spans[0], span, &direction);
        blades.push(BladeRows {
            index: index as u64,
            azimuth_deg: Some(azimuth),
            stations,
            ..BladeRows::default()
        });
        frame.get_or_insert_with(|| matrix(&axes, voted.hand, &to, 0.0, &known));
    }
    let mean = mean_of(&blades.iter().map(|b| b.stations.clone()).collect::<Vec<_>>());
    let setting = measured_setting(&mean, to.tip_radius_m);
    if plan.setting.is_some() {
        notices.push(MeasureNotice::SettingUnused);
    }
    if plan.root_radius_m.is_some() {
        notices.push(MeasureNotice::RootRadiusUnused);
    }
    if plan.length_m.is_some() && plan.diameter_m.is_some() {
        notices.push(MeasureNotice::LengthUnused);
    }
    let mut differences = blade_differences(&blades, &mean, to.tip_radius_m);
    for d in &mut differences {
        // A tilt of the axis raises one blade's tip and lowers the opposite one's, and turns the angles of those between.
        let tilt = hub.as_ref().map(|h| h.play.tilt());
        let with = |u: Option<f64>, part: f64| Some(u?.hypot(tilt? * part));
        d.u.track_m = with(d.u.track_m, to.tip_radius_m);
        d.u.mean_blade_angle_difference_deg = with(d.u.mean_blade_angle_difference_deg, 1f64.to_degrees());
    }
    let axis = hub.as_ref().map_or_else(
        || format!("axis of rotation by rotational symmetry of {} blades", rotor.blades),
        |h| {
            format!(
                "axis of rotation by a round wall of the hub (cylinder of radius {:.1} mm fitted to {} points), {} blades by rotational symmetry",
                1e3 * h.radius * known.metres_per_unit,
                h.points,
                rotor.blades
            )
        },
    );
    let planform = planform(&all_slices.iter().map(Vec::as_slice).collect::<Vec<_>>(), &to);
    let table = StationTable {
        scale: Some(known.document()),
        frame: Some(Frame {
            scan_to_blade: frame,
            method: format!(
                "{axis} (mismatch {:.2} % of the size); each span through the area centroid beyond 0.3 R",
                100.0 * rotor.mismatch
            ),
            hand: voted.hand,
            hand_certain: voted.certain,
            ..Frame::default()
        }),
        blade: BladeFigures {
            radius_m: to.tip_radius_m,
            root_radius_m: Some(inner * known.metres_per_unit),
            blade_length_m: Some((radius - inner) * known.metres_per_unit),
            blades_in_scan: Some(rotor.blades as u64),
            volume_m3: Some(volume * known.metres_per_unit.powi(3) / rotor.blades as f64),
            reference_radius_ratio: REFERENCE,
            setting,
            ..BladeFigures::default()
        },
        stations: mean,
        blades,
        blade_differences: differences,
        ..StationTable::default()
    };
    Ok((table, planform))
}

/// How far the noise of the outermost points of all blades has pushed the tip circle out. `part`: one blade in span axes, with its slices.
pub(super) fn rotor_overreach(
    mesh: &CleanMesh,
    rotor: &Rotor,
    part: &CleanMesh,
    slices: &[Slice],
    span: (f64, f64),
) -> Overreach {
    let noise = surface_noise(part, &normals_of(part), slices, span);
    let distances: Vec<f64> = mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).collect();
    let outwards = |p: V3| {
        let d = sub(p, rotor.point);
        unit(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
    };
    overreach(mesh, &distances, outwards, span.1, &noise)
}

/// Component of a point along the axis, and distance from it.
pub(super) fn off_axis(rotor: &Rotor, p: V3) -> (f64, f64) {
    let d = sub(p, rotor.point);
    let along = dot(d, rotor.direction);
    (along, norm(sub(d, scale(rotor.direction, along))))
}

/// The rotor with its point moved along the axis to where the blades' spans meet it: to the height of the area centroid of the surface beyond 0.3 R.
/// Blades that differ share the mean of theirs.
pub(super) fn at_blade_height(mesh: &CleanMesh, rotor: Rotor, radius: f64) -> Rotor {
    let (mut sums, mut areas) = (vec![0.0; rotor.blades], vec![0.0; rotor.blades]);
    let spans = blade_directions(mesh, &rotor, radius);
    for f in mesh.faces() {
        let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
        let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
        let (along, r) = off_axis(&rotor, middle);
        let d = sub(middle, rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own.filter(|_| 0.3 * radius < r) {
            let area = norm(cross(sub(b, a), sub(c, a)));
            sums[own] += area * along;
            areas[own] += area;
        }
    }
    let heights = sums.iter().zip(&areas).map(|(s, a)| s / a.max(f64::MIN_POSITIVE));
    let height = heights.sum::<f64>() / rotor.blades as f64;
    Rotor { point: add(rotor.point, scale(rotor.direction, height)), ..rotor }
}

/// Span of each blade: from the axis through the area centroid of its surface beyond 0.3 R.
pub(super) fn blade_directions(mesh: &CleanMesh, rotor: &Rotor, radius: f64) -> Vec<V3> {
    let side = if rotor.direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let u = unit(sub(side, scale(rotor.direction, dot(side, rotor.direction))));
    let v = cross(rotor.direction, u);
    let n = rotor.blades as f64;
    let outer: Vec<(V3, f64)> = mesh
        .faces()
        .iter()
        .filter_map(|f| {
            let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
            let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
            (0.3 * radius < off_axis(rotor, middle).1)
                .then(|| (sub(middle, rotor.point), norm(cross(sub(b, a), sub(c, a)))))
        })
        .collect();
    let (mut cos, mut sin) = (0.0, 0.0);
    for (d, w) in &outer {
        let phase = n * dot(*d, v).atan2(dot(*d, u));
        cos += w * phase.cos();
        sin += w * phase.sin();
    }
    let start = sin.atan2(cos) / n;
    let mut spans: Vec<V3> = (0..rotor.blades)
        .map(|k| start + std::f64::consts::TAU * k as f64 / n)
        .map(|a| {
            let guess = add(scale(u, a.cos()), scale(v, a.sin()));
            let aside = (std::f64::consts::PI / n).cos();
            let sum = outer
                .iter()
                .filter(|(d, _)| aside * across(rotor, *d) < dot(*d, guess))
                .fold([0.0; 3], |s, (d, w)| add(s, scale(*d, *w)));
            unit(sub(sum, scale(rotor.direction, dot(sum, rotor.direction))))
        })
        .collect();
    // The blade that is numbered first may not depend on how the file lies: there is none by shape, so the farthest along the principal order is as good;
    // the mean and the differences do not depend on it.
    spans.sort_by(|a, b| b[0].total_cmp(&a[0]));
    let begin = spans[0];
    spans.sort_by(|a, b| {
        azimuth_deg(&begin, a, &rotor.direction).total_cmp(&azimuth_deg(&begin, b, &rotor.direction))
    });
    spans
}

pub(super) fn across(rotor: &Rotor, d: V3) -> f64 {
    norm(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
}

/// Angle from one span to another about the axis, 0 to 360 deg.
pub(super) fn azimuth_deg(from: &V3, to: &V3, axis: &V3) -> f64 {
    let angle = dot(cross(*from, *to), *axis).atan2(dot(*from, *to)).to_degrees().rem_euclid(360.0);
    if 360.0 - 1e-6 < angle { 0.0 } else { angle }
}

/// Triangles of one blade's sector about the axis.
pub(super) fn sector(mesh: &CleanMesh, rotor: &Rotor, span: V3) -> CleanMesh {
    let aside = (std::f64::consts::PI / rotor.blades as f64).cos();
    mesh.subset(|i| {
        let middle = scale(
            mesh.faces()[i].map(|v| mesh.vertices()[v as usize]).into_iter().fold([0.0; 3], add),
            1.0 / 3.0,
        );
        let d = sub(middle, rotor.point);
        aside * across(rotor, d) <= dot(d, span)
    })
}

/// Where the blade leaves the hub: going inwards from mid span, the place where the section's hull grows out of all proportion.
pub(super) fn hub_radius(part: &CleanMesh, radius: f64) -> f64 {
    let found = slices(part, &places(0.02 * radius, radius));
    let mut least = f64::INFINITY;
    for s in found.iter().rev().filter(|s| s.z < 0.6 * radius) {
        let hull = bladeform_section::area(&s.hull);
        if 2.0 * least < hull {
            return s.z + 0.02 * radius;
        }
        least = least.min(hull);
    }
    found.first().map_or(0.1 * radius, |s| s.z.max(0.05 * radius))
}

/// Slices whose chord rises one way, as a share of all, from which pitch has one sign along the span.
pub(super) const ONE_SIGN: f64 = 0.9;

/// Whether positive pitch means a right-hand blade: seen from the tip its chord rises towards `x`, whichever way flight is. `slices` with the axis of
/// rotation as their second axis.
pub(super) fn right_by_pitch(slices: &[Slice]) -> Option<bool> {
    let rise = |s: &Slice| (s.ends[0][0] - s.ends[1][0]) * (s.ends[0][1] - s.ends[1][1]);
    let rising = slices.iter().filter(|s| 0.0 < rise(s)).count() as f64 / slices.len().max(1) as f64;
    (ONE_SIGN <= rising.max(1.0 - rising)).then_some(0.5 < rising)
}

/// Sign that turns the axis of rotation towards flight: the back looks there.
pub(super) fn towards_flight(slices: &[Slice], sides: &Sides) -> f64 {
    let sum: f64 = slices
        .iter()
        .map(|s| {
            let [a, b] = if sides.first_leads { s.ends } else { [s.ends[1], s.ends[0]] };
            let e = [a[0] - b[0], a[1] - b[1]];
            // The back lies to the left of the way to the leading edge on a right-hand blade.
            if sides.hand == Hand::Right { e[0] } else { -e[0] }
        })
        .sum();
    if sum < 0.0 { -1.0 } else { 1.0 }
}

/// With the axis turned towards flight, the leading edge of a right-hand blade lies towards x, of a left-hand one against it.
pub(super) fn leads_forward(slices: &[Slice], hand: Hand) -> bool {
    let forward: f64 = slices.iter().map(|s| s.ends[0][0] - s.ends[1][0]).sum();
    (0.0 < forward) == (hand == Hand::Right)
}

/// The angle of the mean blade at the reference radius.
pub(super) fn measured_setting(mean: &[Station], radius_m: f64) -> Option<Setting> {
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
