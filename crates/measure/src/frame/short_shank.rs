//! A round shank that the principal axes miss: wide or swept blades lie far from the axis of a short shank, so that cuts across them show no round section.

use std::f64::consts::{PI, TAU};

use bladeform_mesh::CleanMesh;
use bladeform_numeric::vector::{add, cross, dot, norm, scale, sub, unit};

use super::axes::{Cone, N_SLICES, shank};
use crate::band::slices::slices_along;
use crate::vector::{Axes, V3};

/// Radii of the neighbourhoods of an end that are looked at, shares of the length: shanks of a few to some twenty diameters to the length.
const REACHES: [f64; 4] = [0.03, 0.05, 0.08, 0.12];
/// Fewest triangles that tell a direction.
const FEWEST: usize = 60;
/// Directions that are tried within [`WIDEST`] of the longest principal axis: some 5 deg apart.
const DIRECTIONS: usize = 400;
/// The shank lies within this angle of the longest principal axis, rad (60 deg).
const WIDEST: f64 = PI / 3.0;
/// A triangle whose normal is this near to a right angle with a direction may belong to a cylinder about it (sine): the first look, and the rounds that make it exact.
const NEAR: [f64; 4] = [0.2, 0.15, 0.1, 0.1];
/// Normals all around a cylinder have alike moments in both directions across it; the lesser is at least this share of the greater.
const ALL_AROUND: f64 = 0.5;
/// Least share of the neighbourhood's surface that belongs to the cylinder: the rest is the end face and the beginning of the blade.
const LEAST_SHARE: f64 = 0.4;
/// Part of the length, from the root end, in which the round sections are looked for.
const ROOT_PART: f64 = 0.2;
/// Cuts again along the axis that was found, and how short a shank is taken then, in its diameters.
const ROUNDS: usize = 3;
const SHORTEST: f64 = 0.4;

/// A shank that was found by the directions of its surface.
pub(crate) struct ShortShank {
    /// Axes along it, root end first.
    pub(crate) axes: Axes,
    pub(crate) cone: Cone,
    /// Whether it lies at the end that had been taken for the tip.
    pub(crate) at_tip: bool,
}

/// Looks for a short round shank near the root end of `axes`, or, if `both`, near the tip too. `span`: least and greatest coordinate along the axes, file units.
pub(crate) fn short_shank(mesh: &CleanMesh, axes: &Axes, span: (f64, f64), both: bool) -> Option<ShortShank> {
    let length = span.1 - span.0;
    for at_tip in [false, true].into_iter().take(1 + usize::from(both)) {
        let inwards = if at_tip { 1.0 } else { -1.0 };
        let outermost = mesh.vertices().iter().max_by(|a, b| {
            let along = |p: &V3| inwards * dot(axes.rows[2], *p);
            along(a).total_cmp(&along(b))
        })?;
        let to_tip = scale(axes.rows[2], -inwards);
        let found = REACHES.iter().find_map(|reach| {
            let direction = Patch::near(mesh, *outermost, reach * length).direction(to_tip)?;
            settled(mesh, *outermost, direction, axes.rows[1], length)
        });
        if let Some((axes, cone)) = found {
            return Some(ShortShank { axes, cone, at_tip });
        }
    }
    None
}

/// Unit normals and areas of the triangles near a point.
struct Patch {
    normals: Vec<(V3, f64)>,
}

impl Patch {
    fn near(mesh: &CleanMesh, centre: V3, reach: f64) -> Self {
        let (vertices, square) = (mesh.vertices(), reach * reach);
        let is_near = |v: u32| {
            let d = sub(vertices[v as usize], centre);
            dot(d, d) < square
        };
        let faces = mesh.faces().iter().filter(|f| f.iter().all(|&v| is_near(v)));
        let normals = faces
            .filter_map(|f| {
                let [a, b, c] = f.map(|v| vertices[v as usize]);
                let n = cross(sub(b, a), sub(c, a));
                let twice = norm(n);
                (0.0 < twice).then(|| (scale(n, 1.0 / twice), 0.5 * twice))
            })
            .collect();
        Self { normals }
    }

    /// Direction of a cylinder's axis to which most of the surface belongs, if normals point all around it.
    fn direction(&self, about: V3) -> Option<V3> {
        if self.normals.len() < FEWEST {
            return None;
        }
        let all: f64 = self.normals.iter().map(|n| n.1).sum();
        let tried = directions(about).map(|d| (d, self.around(d, NEAR[0])));
        let (mut best, _) = tried.max_by(|a, b| a.1.value().total_cmp(&b.1.value()))?;
        for near in NEAR {
            best = self.squared(best, near)?;
        }
        let around = self.around(best, NEAR[3]);
        let clear = LEAST_SHARE * all < around.area && ALL_AROUND < around.evenness;
        (clear && WIDEST.cos() < dot(best, about)).then_some(best)
    }

    fn around(&self, direction: V3, near: f64) -> Around {
        let [u, v] = across(direction);
        let (mut area, mut moments) = (0.0, [0.0; 3]);
        for (n, a) in &self.normals {
            if dot(*n, direction).abs() < near {
                let (x, y) = (dot(*n, u), dot(*n, v));
                area += a;
                [x * x, x * y, y * y].iter().zip(&mut moments).for_each(|(m, sum)| *sum += a * m);
            }
        }
        let [xx, xy, yy] = moments;
        let half = (0.25 * (xx - yy).powi(2) + xy * xy).sqrt();
        let (less, more) = (0.5 * (xx + yy) - half, 0.5 * (xx + yy) + half);
        Around { area, evenness: less / more.max(f64::MIN_POSITIVE) }
    }

    /// The direction nearest to `direction` that is square to the normals near a right angle with it, by least squares.
    fn squared(&self, direction: V3, near: f64) -> Option<V3> {
        let mut m = nalgebra::Matrix3::<f64>::zeros();
        for (n, a) in &self.normals {
            if dot(*n, direction).abs() < near {
                let n = nalgebra::Vector3::from(*n);
                m += n * n.transpose() * *a;
            }
        }
        let eigen = m.symmetric_eigen();
        let least = eigen.eigenvalues.imin();
        let found: V3 = eigen.eigenvectors.column(least).into_owned().into();
        let turned = if dot(found, direction) < 0.0 { scale(found, -1.0) } else { found };
        turned.iter().all(|x| x.is_finite()).then_some(turned)
    }
}

/// Surface whose normals are square to a direction, and how evenly they point around it (0 to 1).
struct Around {
    area: f64,
    evenness: f64,
}

impl Around {
    fn value(&self) -> f64 {
        self.area * self.evenness
    }
}

/// Two unit vectors square to a direction and to one another.
fn across(direction: V3) -> [V3; 2] {
    let least = (0..3).min_by(|&i, &j| direction[i].abs().total_cmp(&direction[j].abs())).unwrap_or(0);
    let mut hint = [0.0; 3];
    hint[least] = 1.0;
    let u = unit(cross(direction, hint));
    [u, cross(direction, u)]
}

/// Directions evenly spread within [`WIDEST`] of one, in a spiral of the golden section.
fn directions(about: V3) -> impl Iterator<Item = V3> {
    let [u, v] = across(about);
    let golden = TAU * (2.0 - (1.0 + 5f64.sqrt()) / 2.0);
    (0..DIRECTIONS).map(move |k| {
        let cos = 1.0 - (1.0 - WIDEST.cos()) * (k as f64 + 0.5) / DIRECTIONS as f64;
        let (sin, turn) = ((1.0 - cos * cos).sqrt(), golden * k as f64);
        let side = add(scale(u, sin * turn.cos()), scale(v, sin * turn.sin()));
        add(scale(about, cos), side)
    })
}

/// Cuts the root part along a direction, and again along the axis that is found, until it stays.
fn settled(mesh: &CleanMesh, end: V3, direction: V3, hint: V3, length: f64) -> Option<(Axes, Cone)> {
    let mut axes = Axes::along(end, direction, hint);
    let mut found = None;
    for _ in 0..ROUNDS {
        let low = mesh.vertices().iter().map(|p| axes.local(*p)[2]).fold(f64::INFINITY, f64::min);
        let step = ROOT_PART * length / N_SLICES as f64;
        let places: Vec<f64> = (0..N_SLICES).map(|i| low + step * (i as f64 + 0.5)).collect();
        let cone = shank(mesh, &axes, &slices_along(mesh, &axes, &places), SHORTEST)?;
        let [at, slope] = cone.line();
        let along =
            Axes::along(axes.scan([at[0], at[1], 0.0]), axes.scan_direction([slope[0], slope[1], 1.0]), hint);
        found = Some((std::mem::replace(&mut axes, along), cone));
    }
    found
}
