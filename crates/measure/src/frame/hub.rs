//! The axis of a propeller as its round hub or bore shows it: blades that were bent or set unevenly tilt the axis that symmetry finds, a hub does not.

use bladeform_mesh::CleanMesh;

use crate::frame::axes::{AxisPlay, fit_cone};
use crate::frame::symmetry::Rotor;
use crate::vector::{Axes, V3, add, cross, dot, norm, scale, sub, unit};

/// Walls of a hub are looked for within this fraction of the radius.
pub(super) const WITHIN: f64 = 0.35;
/// The normal of a wall is perpendicular to the axis and points to or from it; this is the least cosine of its angle with that direction.
const ACROSS: f64 = 0.97;
/// Bins of the distance from the axis, for the first idea of a wall's radius.
pub(super) const BINS: usize = 60;
/// Walls that are tried, largest first.
const TRIED: usize = 3;
/// A wall must be there in this many of twelve directions.
const SECTORS: usize = 10;
/// It must be this long, in its radii: a shorter one leaves its direction uncertain.
const LEAST_LENGTH: f64 = 0.4;
/// Its points may stray from the cylinder by this fraction of its radius (root mean square of the nearer nine tenths): else it is not round.
const ROUND: f64 = 0.004;
/// An axis farther from that of symmetry than this, rad, is no axis of rotation.
const MOST_TILT: f64 = 0.05;
/// The same for two blades: one that is set coarser by an angle tilts the axis that turns one into the other by half of it. Half of 14 deg.
const MOST_TILT_OF_TWO: f64 = 0.12;
/// A first look about a tilted axis leaves the direction less certain by so many times.
const FIRST_LOOK: f64 = 5.0;
/// Standard uncertainty of the direction, rad, from which it is less certain than symmetry: a millimetre at a tip of one metre.
const LEAST_KNOWN: f64 = 1e-3;

/// The axis of a hub's wall.
pub(crate) struct HubAxis {
    pub(crate) point: V3,
    pub(crate) direction: V3,
    pub(crate) play: AxisPlay,
    pub(crate) points: usize,
    /// Radius of the wall, file units.
    pub(crate) radius: f64,
}

/// The axis of the round wall whose direction is most certain; `None` where none is certain enough.
pub(crate) fn hub_axis(mesh: &CleanMesh, rotor: &Rotor, radius: f64) -> Option<HubAxis> {
    if rotor.blades != 2 {
        return near_axis(mesh, rotor, radius, [MOST_TILT, LEAST_KNOWN]);
    }
    let found = near_axis(mesh, rotor, radius, [MOST_TILT_OF_TWO, FIRST_LOOK * LEAST_KNOWN])?;
    // Walls were looked for about a tilted axis: again about the one found.
    let turned = Rotor { point: found.point, direction: found.direction, ..*rotor };
    near_axis(mesh, &turned, radius, [MOST_TILT, LEAST_KNOWN])
}

/// The same for walls that are tilted against the axis by less than the first of `most`, rad, their direction uncertain by less than the second.
fn near_axis(mesh: &CleanMesh, rotor: &Rotor, radius: f64, most: [f64; 2]) -> Option<HubAxis> {
    let hint = if rotor.direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let axes = Axes::along(rotor.point, rotor.direction, hint);
    let walls = walls(mesh, &axes, WITHIN * radius);
    radii(&walls, WITHIN * radius)
        .into_iter()
        .filter_map(|r| wall_axis(&walls, r, &axes, WITHIN * radius / BINS as f64, most))
        .min_by(|a, b| a.play.tilt().total_cmp(&b.play.tilt()))
}

/// A triangle of a wall: its corners in axes along the axis of rotation, its distance from it, its area.
pub(super) struct Wall {
    pub(super) corners: [V3; 3],
    pub(super) middle: V3,
    area: f64,
    /// Whether it faces away from the axis: the wall of a bore faces towards it.
    pub(super) outwards: bool,
}

pub(super) fn walls(mesh: &CleanMesh, axes: &Axes, within: f64) -> Vec<Wall> {
    let wall = |f: &[u32; 3]| {
        let corners = f.map(|i| axes.local(mesh.vertices()[i as usize]));
        let [a, b, c] = corners;
        let middle = scale(add(a, add(b, c)), 1.0 / 3.0);
        let r = middle[0].hypot(middle[1]);
        let n = cross(sub(b, a), sub(c, a));
        let outwards = [middle[0] / r, middle[1] / r, 0.0];
        (0.0 < r && r < within && ACROSS * norm(n) < dot(n, outwards).abs()).then(|| Wall {
            corners,
            middle,
            area: 0.5 * norm(n),
            outwards: 0.0 < dot(n, outwards),
        })
    };
    mesh.faces().iter().filter_map(wall).collect()
}

/// Distances from the axis at which there is most wall.
pub(super) fn radii(walls: &[Wall], within: f64) -> Vec<f64> {
    let mut bins = [0.0; BINS];
    for wall in walls {
        let r = wall.middle[0].hypot(wall.middle[1]);
        bins[((r / within * BINS as f64) as usize).min(BINS - 1)] += wall.area;
    }
    let at = |k: usize| bins.get(k).copied().unwrap_or(0.0);
    let mut peaks: Vec<usize> =
        (0..BINS).filter(|&k| 0.0 < at(k) && at(k + 1) <= at(k) && (k == 0 || at(k - 1) < at(k))).collect();
    peaks.sort_by(|&a, &b| at(b).total_cmp(&at(a)));
    peaks.into_iter().take(TRIED).map(|k| (k as f64 + 0.5) * within / BINS as f64).collect()
}

fn wall_axis(
    walls: &[Wall],
    radius: f64,
    axes: &Axes,
    bin: f64,
    [most_tilt, least_known]: [f64; 2],
) -> Option<HubAxis> {
    let near: Vec<&Wall> =
        walls.iter().filter(|w| (w.middle[0].hypot(w.middle[1]) - radius).abs() < 1.5 * bin).collect();
    let mut seen = [false; 12];
    for wall in &near {
        let turn = wall.middle[1].atan2(wall.middle[0]) / std::f64::consts::TAU + 0.5;
        seen[((12.0 * turn) as usize).min(11)] = true;
    }
    let mut points: Vec<V3> = near.iter().flat_map(|w| w.corners).collect();
    points.sort_unstable_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    points.dedup();
    let (low, high) =
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[2]), h.max(p[2])));
    if seen.iter().filter(|s| **s).count() < SECTORS || high - low < LEAST_LENGTH * radius {
        return None;
    }
    let cone = fit_cone(&points, 0.5 * (low + high), radius, [0.0, 0.0])?;
    let [at, slope] = cone.line();
    let direction = unit(axes.scan_direction([slope[0], slope[1], 1.0]));
    let tilt = slope[0].hypot(slope[1]);
    (cone.stray(&points) < ROUND * radius && tilt < most_tilt && cone.play.tilt() < least_known).then(|| {
        HubAxis {
            point: axes.scan([at[0], at[1], 0.0]),
            direction,
            play: cone.play,
            points: points.len(),
            radius: cone.radius(),
        }
    })
}
