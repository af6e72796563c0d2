//! Size of a propeller's hub as a scan shows it: diameter of its round wall, length between its end faces, diameter of its bore, and holes for bolts.

use std::f64::consts::TAU;

use bladeform_mesh::CleanMesh;
use bladeform_quantity::{Hand, Measured};
use bladeform_table::{BoltFigures, HubFigures};

use crate::frame::hub::{BINS, WITHIN, Wall, radii, walls};
use crate::frame::hub_bolts::{Circle, holes};
use crate::frame::rotor::azimuth_deg;
use crate::frame::symmetry::Rotor;
use crate::notice::MeasureNotice;
use crate::vector::{Axes, V3, add, cross, median, norm, scale, sub};

/// A wall or an end face must be there in this many of twelve directions: blades and keyways hide some.
const SECTORS: usize = 10;
/// Directions that are told apart.
const DIRECTIONS: usize = 12;
/// Points in a direction that count: the median of fewer depends on chance.
const ENOUGH: usize = 5;
/// Points within this fraction of a wall's radius belong to it.
const NEAR: f64 = 0.03;
/// Radii at both ends of a cylinder differ by less than this fraction: else it is a cone, which has no diameter.
const TAPER: f64 = 0.02;
/// Directions differ by less than this fraction of the radius (standard deviation): else the wall is not round.
const ROUND: f64 = 0.01;
/// A wall is at least this long, in its radii: a shorter one is the rim of something.
const LEAST_LENGTH: f64 = 0.15;
/// A bore is at least this part of its hub (common practice, no source): triangles turned inside out at the axis of a mesh look like a narrower one.
const LEAST_BORE: f64 = 0.1;
/// Part of a bore's radius within which an end face would close it: its rim may be rounded.
const INSIDE_BORE: f64 = 0.9;
/// An end face with this part of its area there closes the bore (chosen: half).
const CLOSED: f64 = 0.5;
/// Least cosine of the angle between the axis and the normal of an end face.
const FACES_ALONG: f64 = 0.97;
/// Bins of the height of end faces over the hub's diameter.
const HEIGHTS: f64 = 100.0;
/// End faces lie within this many radii of the hub: they may have a bead.
const WITHIN_HUB: f64 = 1.02;

/// How lengths and angles of a hub are stated.
pub(crate) struct HubUnits<'a> {
    /// Metres per unit of the file, and the relative standard uncertainty of that.
    pub(crate) metres_per_unit: f64,
    pub(crate) scale_u: f64,
    /// Standard uncertainty of a place on the surface against places far from it, m.
    pub(crate) accuracy_m: f64,
    /// From where angles count, and about which direction, towards flight.
    pub(crate) first_blade: &'a V3,
    /// Standard uncertainty of that direction, rad.
    pub(crate) blade_u: f64,
    pub(crate) flight: &'a V3,
    pub(crate) hand: Hand,
}

impl HubUnits<'_> {
    fn length(&self, found: Measured, times: f64) -> Measured {
        let value = times * self.metres_per_unit * found.value;
        // Both ends of a length are places on the surface.
        let own = (times * self.metres_per_unit * found.u).hypot(std::f64::consts::SQRT_2 * self.accuracy_m);
        Measured::new(value, own.hypot(self.scale_u * value))
    }

    fn bolts(&self, circle: &Circle, axes: &Axes) -> BoltFigures {
        let (sin, cos) = circle.first.value.sin_cos();
        let azimuth = azimuth_deg(self.first_blade, &axes.scan_direction([cos, sin, 0.0]), self.flight);
        let step = 360.0 / circle.count as f64;
        let on = (if self.hand == Hand::Right { azimuth } else { -azimuth }).rem_euclid(step);
        let u = circle.first.u.hypot(self.blade_u).to_degrees();
        // A hole on the axis of a blade is at 0, not a step farther on.
        let on = if step - on < 2.0 * u { on - step } else { on };
        BoltFigures {
            count: circle.count as u64,
            seen: circle.seen as u64,
            closed: circle.closed as u64,
            hole_diameter_m: self.length(circle.hole, 2.0),
            circle_diameter_m: self.length(circle.circle, 2.0),
            first_deg: Measured::new(on, u),
            extra: Default::default(),
        }
    }
}

/// What the scan shows of the hub; `None` if nothing. And what must be said of its holes. `farthest`: tip radius, file units.
pub(crate) fn hub_figures(
    mesh: &CleanMesh,
    rotor: &Rotor,
    farthest: f64,
    units: &HubUnits<'_>,
) -> (Option<HubFigures>, Option<MeasureNotice>) {
    let hint = if rotor.direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let axes = Axes::along(rotor.point, rotor.direction, hint);
    let within = WITHIN * farthest;
    let (outer, inner): (Vec<Wall>, Vec<Wall>) =
        walls(mesh, &axes, within).into_iter().partition(|w| w.outwards);
    let hub = round_wall(&outer, within);
    let holes = holes(mesh, &axes, hub.map_or(within, |hub| hub.value));
    let mut figures = HubFigures {
        bolts: holes.circle.as_ref().map(|circle| units.bolts(circle, &axes)),
        ..HubFigures::default()
    };
    if let Some(hub) = hub {
        let bores = LEAST_BORE * hub.value..(1.0 - NEAR) * hub.value;
        let inner: Vec<Wall> =
            inner.into_iter().filter(|w| bores.contains(&w.middle[0].hypot(w.middle[1]))).collect();
        let ends = ends(mesh, &axes, hub.value);
        let bore = round_wall(&inner, within).filter(|bore| opens(&ends, hub.value, bore.value));
        figures.diameter_m = Some(units.length(hub, 2.0));
        figures.length_m = length(&ends, hub.value).map(|l| units.length(l, 1.0));
        figures.bore_diameter_m = bore.map(|r| units.length(r, 2.0));
    }
    let notice = match &figures.bolts {
        None if holes.others == 0 => None,
        None => Some(MeasureNotice::HolesWithoutCircle { holes: holes.others }),
        Some(bolts) if bolts.seen == bolts.count && holes.others == 0 => None,
        Some(bolts) => Some(MeasureNotice::BoltsPartlySeen { bolts: bolts.clone(), others: holes.others }),
    };
    ((!figures.is_empty()).then_some(figures), notice)
}

/// Radius of the round cylinder about the axis that has most area, file units.
fn round_wall(walls: &[Wall], within: f64) -> Option<Measured> {
    let bin = within / BINS as f64;
    radii(walls, within).into_iter().find_map(|peak| {
        let near = walls.iter().filter(|w| (w.middle[0].hypot(w.middle[1]) - peak).abs() < 1.5 * bin);
        // Turn, distance from the axis and height of every corner.
        let points: Vec<[f64; 3]> = near
            .flat_map(|w| w.corners)
            .map(|p| [p[1].atan2(p[0]) / TAU + 0.5, p[0].hypot(p[1]), p[2]])
            .collect();
        let middle = middle_of(points.iter().map(|p| p[1]).collect())?;
        let wall: Vec<_> = points.iter().filter(|p| (p[1] - middle).abs() < NEAR * middle).copied().collect();
        let radius = mean_of_directions(&wall, 1).filter(|m| m.sd < ROUND * m.mean)?;
        let (low, high) =
            wall.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[2]), h.max(p[2])));
        let third = (high - low) / 3.0;
        let end = |is_in: &dyn Fn(f64) -> bool| {
            middle_of(wall.iter().filter(|p| is_in(p[2])).map(|p| p[1]).collect())
        };
        let ends = [end(&|z| z <= low + third)?, end(&|z| high - third <= z)?];
        let is_cylinder = (ends[0] - ends[1]).abs() < TAPER * middle && LEAST_LENGTH * middle < high - low;
        is_cylinder.then(|| Measured::new(radius.mean, radius.u))
    })
}

/// Triangles across the axis within a hub: middle and area, those that face up and those that face down.
type Ends = [Vec<([f64; 3], f64)>; 2];

fn ends(mesh: &CleanMesh, axes: &Axes, radius: f64) -> Ends {
    let (mut up, mut down) = (Vec::new(), Vec::new());
    for f in mesh.faces() {
        let corners = f.map(|i| axes.local(mesh.vertices()[i as usize]));
        let [a, b, c] = corners;
        let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
        let n = cross(sub(b, a), sub(c, a));
        if WITHIN_HUB * radius < middle[0].hypot(middle[1]) || n[2].abs() < FACES_ALONG * norm(n) {
            continue;
        }
        let face = (middle, 0.5 * norm(n));
        if 0.0 < n[2] { up.push(face) } else { down.push(face) }
    }
    [up, down]
}

/// Whether a wall that faces the axis opens at an end of the hub, or no end is known. Blades that are bodies of their own and end inside the hub have such walls too, and no bore.
fn opens(ends: &Ends, radius: f64, bore: f64) -> bool {
    let covered = |faces: &Vec<([f64; 3], f64)>| {
        let height = end_face(faces, radius)?.mean;
        let is_over = |p: &[f64; 3]| {
            (p[2] - height).abs() < 2.0 * radius / HEIGHTS && p[0].hypot(p[1]) < INSIDE_BORE * bore
        };
        let area: f64 = faces.iter().filter(|(p, _)| is_over(p)).map(|(_, area)| area).sum();
        Some(area / (0.5 * TAU * (INSIDE_BORE * bore).powi(2)))
    };
    let known: Vec<f64> = ends.iter().filter_map(covered).collect();
    known.is_empty() || known.iter().any(|share| *share < CLOSED)
}

/// Distance between the two end faces of a hub, file units.
fn length([up, down]: &Ends, radius: f64) -> Option<Measured> {
    let [top, bottom] = [end_face(up, radius)?, end_face(down, radius)?];
    let long = top.mean - bottom.mean;
    (0.0 < long).then(|| Measured::new(long, top.u.hypot(bottom.u)))
}

/// Height of the end face with most area.
fn end_face(faces: &[([f64; 3], f64)], radius: f64) -> Option<Mean> {
    let bin = 2.0 * radius / HEIGHTS;
    let mut areas = std::collections::BTreeMap::<i64, f64>::new();
    for (middle, area) in faces {
        *areas.entry((middle[2] / bin).floor() as i64).or_default() += area;
    }
    let at = |k: i64| areas.get(&k).copied().unwrap_or(0.0);
    // A face may lie on the border of two bins.
    let best = areas.keys().copied().max_by(|&a, &b| (at(a) + at(a + 1)).total_cmp(&(at(b) + at(b + 1))))?;
    let near: Vec<[f64; 3]> = faces
        .iter()
        .filter(|(p, _)| (best..=best + 1).contains(&((p[2] / bin).floor() as i64)))
        .map(|(p, _)| [p[1].atan2(p[0]) / TAU + 0.5, p[2], 0.0])
        .collect();
    mean_of_directions(&near, 1)
}

/// Mean over the directions around the axis.
struct Mean {
    mean: f64,
    /// Standard deviation of one direction.
    sd: f64,
    /// Standard uncertainty of the mean.
    u: f64,
}

/// Mean of the medians of a coordinate over directions; the first coordinate is the turn, 0 to 1. `None` if too few directions have points.
fn mean_of_directions(points: &[[f64; 3]], of: usize) -> Option<Mean> {
    let mut parts = vec![Vec::new(); DIRECTIONS];
    for p in points {
        parts[((DIRECTIONS as f64 * p[0]) as usize).min(DIRECTIONS - 1)].push(p[of]);
    }
    let middles: Vec<f64> = parts.into_iter().filter(|p| ENOUGH <= p.len()).filter_map(middle_of).collect();
    let n = middles.len();
    if n < SECTORS {
        return None;
    }
    let mean = middles.iter().sum::<f64>() / n as f64;
    let variance = middles.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / (n - 1) as f64;
    // Neighbouring directions of a part that is not round or level go together: half as many are independent (a judgement).
    Some(Mean { mean, sd: variance.sqrt(), u: (variance / (0.5 * n as f64)).sqrt() })
}

fn middle_of(mut values: Vec<f64>) -> Option<f64> {
    (!values.is_empty()).then(|| median(&mut values))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An end face as a ring of small triangles between two radii.
    fn face(from: f64, to: f64, height: f64) -> Vec<([f64; 3], f64)> {
        let step = 0.01;
        let radii = (0..((to - from) / step).round() as usize).map(|k| from + (k as f64 + 0.5) * step);
        radii
            .flat_map(|r| {
                (0..72).map(move |i| {
                    let a = TAU * f64::from(i) / 72.0;
                    ([r * a.cos(), r * a.sin(), height], r * step * TAU / 72.0)
                })
            })
            .collect()
    }

    #[test]
    fn an_end_face_on_the_border_of_two_bins_is_found() {
        let bin = 2.0 / HEIGHTS;
        for height in [0.0, 40.0 * bin, -33.0 * bin, 40.3 * bin, 41.0 * bin - 1e-12] {
            let found = end_face(&face(0.5, 1.0, height), 1.0).map(|m| m.mean);
            assert!(found.is_some_and(|z| (z - height).abs() < 1e-9), "{height}: {found:?}");
        }
    }

    #[test]
    fn a_wall_under_closed_ends_is_no_bore() {
        let (open, closed) = (face(0.5, 1.0, 1.005), face(0.0, 1.0, 1.005));
        let below = |faces: &[([f64; 3], f64)]| -> Vec<_> {
            faces.iter().map(|(p, area)| ([p[0], p[1], -p[2]], *area)).collect()
        };
        assert!(opens(&[open.clone(), below(&open)], 1.0, 0.5));
        assert!(opens(&[open.clone(), below(&closed)], 1.0, 0.5), "a bore that is blind at one end");
        assert!(!opens(&[closed.clone(), below(&closed)], 1.0, 0.5));
        assert!(opens(&[vec![], vec![]], 1.0, 0.5), "ends that were not scanned");
    }
}
