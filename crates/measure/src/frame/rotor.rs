//! A whole propeller about its axis: where its blades lie, where they end, and where they leave the hub.

use bladeform_mesh::CleanMesh;

use super::axes::places;
use super::symmetry::Rotor;
use crate::band::slices::{Slice, slices};
use crate::vector::{Axes, V3, add, cross, dot, norm, scale, sub, unit};

/// Blades that end within this factor of one another end at one radius: tips differ by noise and by some millimetres of wear.
pub(crate) const ONE_RADIUS: f64 = 1.005;
/// A blade that is shorter than the tip radius by more than this factor is not whole: no tip wears so much (a judgement).
pub(crate) const NO_WEAR: f64 = 1.05;

/// A gap along the span wider than this fraction of the farthest distance ends a blade: what lies beyond is a scrap.
const GAP: f64 = 0.02;

/// Distance from the axis at which each blade's surface ends: outwards without a gap.
pub(crate) fn blade_ends(mesh: &CleanMesh, rotor: &Rotor, spans: &[V3]) -> Vec<f64> {
    let mut pieces = vec![Vec::new(); spans.len()];
    let mut farthest = 0.0f64;
    for f in mesh.faces() {
        let corners = f.map(|i| mesh.vertices()[i as usize]);
        let [a, b, c] = corners.map(|p| off_axis(rotor, p).1);
        let d = sub(scale(add(corners[0], add(corners[1], corners[2])), 1.0 / 3.0), rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own {
            pieces[own].push((a.min(b).min(c), a.max(b).max(c)));
        }
        farthest = farthest.max(a).max(b).max(c);
    }
    let end = |mut pieces: Vec<(f64, f64)>| {
        pieces.sort_by(|a, b| a.0.total_cmp(&b.0));
        pieces.iter().fold(OFF_HUB * farthest, |end, (near, far)| {
            if *near <= end + GAP * farthest { end.max(*far) } else { end }
        })
    };
    pieces.into_iter().map(end).collect()
}

/// Tip radius of a propeller from the ends of its blades. Of two that differ by more than wear the longer one is whole, since the other broke off; of more the middle one counts,
/// and the greatest of those that agree with it.
pub(crate) fn tip_radius(ends: &[f64]) -> f64 {
    let mut ends = ends.to_vec();
    ends.sort_by(f64::total_cmp);
    if let [_, long] = ends[..] {
        return long;
    }
    let middle = ends[ends.len() / 2];
    ends.iter().copied().filter(|e| *e < ONE_RADIUS * middle).fold(middle, f64::max)
}

/// Surface beyond this fraction of the radius belongs to the blades: hubs end well inside of it.
const OFF_HUB: f64 = 0.3;
/// Sections are cut from this fraction of the radius outwards: at the axis itself all blades meet.
const NEAREST_AXIS: f64 = 0.02;
/// The search for the hub goes inwards from this fraction of the radius, where every propeller is blade.
const MID_SPAN: f64 = 0.6;
/// A section whose convex hull is larger than the least one outboard by this factor is part of the hub: blades grow gradually.
const HUB_GROWTH: f64 = 2.0;
/// The blade begins this fraction of the radius outside of the last section of the hub: twice the distance of the sections.
const CLEAR_OF_HUB: f64 = 0.02;
/// Where no section grows so, the blade begins at the first section, but not nearer to the axis than this fraction of the radius (a judgement).
const LEAST_HUB: f64 = 0.05;
/// Where there is no section at all, the hub is taken to end at this fraction of the radius (common practice, no source).
const UNSEEN_HUB: f64 = 0.1;

/// Component of a point along the axis, and distance from it.
pub(crate) fn off_axis(rotor: &Rotor, p: V3) -> (f64, f64) {
    let d = sub(p, rotor.point);
    let along = dot(d, rotor.direction);
    (along, norm(sub(d, scale(rotor.direction, along))))
}

/// The rotor with its point moved along the axis to where the blades' spans meet it: to the height of the area centroid of the surface beyond 0.3 R.
/// Blades that differ share the mean of theirs. Beside it the standard uncertainty of that height, the scatter of the blades (type A evaluation, JCGM 100:2008, 4.2): a scrap near a blade or a
/// hole in one moves its own centroid.
pub(crate) fn at_blade_height(mesh: &CleanMesh, rotor: Rotor, radius: f64) -> (Rotor, f64) {
    let (mut sums, mut areas) = (vec![0.0; rotor.blades], vec![0.0; rotor.blades]);
    let spans = blade_directions(mesh, &rotor, radius);
    for f in mesh.faces() {
        let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
        let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
        let (along, r) = off_axis(&rotor, middle);
        let d = sub(middle, rotor.point);
        let own = (0..spans.len()).max_by(|&a, &b| dot(d, spans[a]).total_cmp(&dot(d, spans[b])));
        if let Some(own) = own.filter(|_| OFF_HUB * radius < r) {
            let area = norm(cross(sub(b, a), sub(c, a)));
            sums[own] += area * along;
            areas[own] += area;
        }
    }
    let heights: Vec<f64> = sums.iter().zip(&areas).map(|(s, a)| s / a.max(f64::MIN_POSITIVE)).collect();
    let n = rotor.blades as f64;
    let height = heights.iter().sum::<f64>() / n;
    let square: f64 = heights.iter().map(|h| (h - height).powi(2)).sum();
    let u = (square / (n * (n - 1.0).max(1.0))).sqrt();
    (Rotor { point: add(rotor.point, scale(rotor.direction, height)), ..rotor }, u)
}

/// Span of each blade: from the axis through the area centroid of its surface beyond 0.3 R.
pub(crate) fn blade_directions(mesh: &CleanMesh, rotor: &Rotor, radius: f64) -> Vec<V3> {
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
            (OFF_HUB * radius < off_axis(rotor, middle).1)
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

/// Spans of all blades, each that is not whole from the whole ones by even spacing: what is left of a blade has its area centroid elsewhere. `spans` in the order of [`blade_directions`].
pub(crate) fn spans_of_whole(rotor: &Rotor, spans: &[V3], whole: &[bool]) -> Vec<V3> {
    let step = std::f64::consts::TAU / spans.len() as f64;
    let turned = |from: usize, to: usize| {
        let (sin, cos) = (step * (to as f64 - from as f64)).sin_cos();
        add(scale(spans[from], cos), scale(cross(rotor.direction, spans[from]), sin))
    };
    let by_others = |k: usize| {
        let sum = (0..spans.len()).filter(|j| whole[*j]).fold([0.0; 3], |s, j| add(s, turned(j, k)));
        if whole[k] || norm(sum) <= 0.0 { spans[k] } else { unit(sum) }
    };
    (0..spans.len()).map(by_others).collect()
}

pub(crate) fn across(rotor: &Rotor, d: V3) -> f64 {
    norm(sub(d, scale(rotor.direction, dot(d, rotor.direction))))
}

/// Angle from one span to another about the axis, 0 to 360 deg.
pub(crate) fn azimuth_deg(from: &V3, to: &V3, axis: &V3) -> f64 {
    let angle = dot(cross(*from, *to), *axis).atan2(dot(*from, *to)).to_degrees().rem_euclid(360.0);
    if 360.0 - 1e-6 < angle { 0.0 } else { angle }
}

/// How the blades of a screw wind about the axis: on a wide screw they overlap as seen along it, and lie side by side along their helices.
pub(crate) struct Helix {
    /// Azimuth for each unit of height, rad.
    turn: f64,
    /// Azimuth at no height, rad: at the axis, and for each unit of radius.
    line: [f64; 2],
}

/// Sections that tell how the blades wind: flatter than this, and inside this fraction of the outermost one (near the tip a short chord tells little).
const WINDING: [f64; 2] = [0.3, 0.95];
/// The fewest of them.
const LEAST_WINDING: usize = 5;

impl Helix {
    /// The helix of developed quick sections; `None` where they are too few.
    pub(crate) fn of(quick: &[Slice]) -> Option<Self> {
        let last = quick.last()?.z;
        let mut used: Vec<(f64, f64, [f64; 2])> = quick
            .iter()
            .filter(|s| s.closed && s.flatness < WINDING[0] && s.z < WINDING[1] * last)
            .map(|s| {
                let [a, b] = s.ends;
                (s.z, (b[0] - a[0]) / (b[1] - a[1]) / s.z, s.centroid)
            })
            .filter(|u| u.1.is_finite())
            .collect();
        if used.len() < LEAST_WINDING {
            return None;
        }
        used.sort_by(|a, b| a.1.total_cmp(&b.1));
        let turn = used[used.len() / 2].1;
        let n = used.len() as f64;
        let at = |(r, _, c): &(f64, f64, [f64; 2])| (*r, c[0] / r - turn * c[1]);
        let (sum_r, sum_a) = used.iter().map(at).fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        let (r, a) = (sum_r / n, sum_a / n);
        let (square, product) = used
            .iter()
            .map(at)
            .fold((0.0, 0.0), |s, p| (s.0 + (p.0 - r).powi(2), s.1 + (p.0 - r) * (p.1 - a)));
        let slope = product / square;
        slope.is_finite().then_some(Self { turn, line: [a - slope * r, slope] })
    }

    /// Azimuth of a local point beside the blade along its helix, rad.
    fn beside(&self, [x, y, z]: V3) -> f64 {
        let off = x.atan2(z) - self.turn * y - self.line[0] - self.line[1] * x.hypot(z);
        (off + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU) - std::f64::consts::PI
    }
}

/// Triangles of one blade's sector about the axis; between helices midway to the next blades where they are known.
pub(crate) fn sector(mesh: &CleanMesh, rotor: &Rotor, span: V3, helix: Option<&Helix>) -> CleanMesh {
    let axes = Axes::along(rotor.point, span, rotor.direction);
    let half = std::f64::consts::PI / rotor.blades as f64;
    let aside = (std::f64::consts::PI / rotor.blades as f64).cos();
    mesh.subset(|i| {
        let middle = scale(
            mesh.faces()[i].map(|v| mesh.vertices()[v as usize]).into_iter().fold([0.0; 3], add),
            1.0 / 3.0,
        );
        if let Some(helix) = helix {
            return helix.beside(axes.local(middle)).abs() <= half;
        }
        let d = sub(middle, rotor.point);
        aside * across(rotor, d) <= dot(d, span)
    })
}

/// Where the blade leaves the hub: going inwards from mid span, the place where the section's hull grows out of all proportion.
pub(crate) fn hub_radius(part: &CleanMesh, radius: f64) -> f64 {
    let found = slices(part, &places(NEAREST_AXIS * radius, radius));
    let mut least = f64::INFINITY;
    for s in found.iter().rev().filter(|s| s.z < MID_SPAN * radius) {
        let hull = bladeform_section::area(&s.hull);
        if HUB_GROWTH * least < hull {
            return s.z + CLEAR_OF_HUB * radius;
        }
        least = least.min(hull);
    }
    found.first().map_or(UNSEEN_HUB * radius, |s| s.z.max(LEAST_HUB * radius))
}
