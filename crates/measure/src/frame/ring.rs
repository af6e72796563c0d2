//! A ring around a propeller that joins its tips: where it lies, and the blades without it.

use bladeform_mesh::CleanMesh;

use super::rotor::off_axis;
use super::symmetry::Rotor;
use crate::band::blade::{normal_of, typical_edge};
use crate::vector::{V3, add, cross, dot, norm, scale, sub, unit};

/// A ring joined to the tips, file units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ring {
    /// Its inner wall's distance from the axis.
    pub(crate) inner: f64,
    /// Its outermost distance from the axis.
    pub(crate) outer: f64,
}

/// Walls of a ring are looked for outside of this fraction of the farthest distance: farther in they would be a second hub.
const OUTSIDE: f64 = 0.7;
/// Least cosine of the angle between a wall's normal and the direction from the axis: blades lie along it.
const ACROSS: f64 = 0.8;
/// Sectors of the full turn, and how many of them must have a wall: tips of blades cover a part of the turn, a ring with holes nearly all.
const SECTORS: usize = 72;
const COVERED: usize = 65;
/// Share of the inward wall's area that may lie farther in: scraps, and fillets of the joints.
const FARTHER_IN: f64 = 0.05;
/// The wall of a ring, and its joint to a blade, begin this fraction of the farthest distance before it; and some edges of triangles.
const BEFORE: f64 = 0.005;
const EDGES: f64 = 1.0;

/// The ring around the tips; `None` for free blades.
pub(crate) fn ring_at_tips(mesh: &CleanMesh, rotor: &Rotor) -> Option<Ring> {
    let side = if rotor.direction[0].abs() < 0.6 { [1.0, 0.0, 0.0] } else { [0.0, 1.0, 0.0] };
    let u = unit(sub(side, scale(rotor.direction, dot(side, rotor.direction))));
    let v = cross(rotor.direction, u);
    let outer = mesh.vertices().iter().map(|&p| off_axis(rotor, p).1).fold(0.0, f64::max);
    let mut seen = [false; SECTORS];
    // Distance and area of what faces the axis.
    let mut inwards: Vec<(f64, f64)> = Vec::new();
    for f in mesh.faces() {
        let middle = middle_of(mesh, f);
        let r = off_axis(rotor, middle).1;
        if r < OUTSIDE * outer {
            continue;
        }
        let d = sub(middle, rotor.point);
        let radial = unit(sub(d, scale(rotor.direction, dot(d, rotor.direction))));
        let n = normal_of(mesh, f);
        let out = dot(n, radial);
        if ACROSS * norm(n) < out.abs() {
            let turn = dot(d, v).atan2(dot(d, u)) / std::f64::consts::TAU + 0.5;
            seen[((turn * SECTORS as f64) as usize).min(SECTORS - 1)] = true;
            if out < 0.0 {
                inwards.push((r, norm(n)));
            }
        }
    }
    if seen.iter().filter(|s| **s).count() < COVERED {
        return None;
    }
    inwards.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = inwards.iter().map(|w| w.1).sum();
    let mut sum = 0.0;
    let wall = inwards.iter().find(|w| {
        sum += w.1;
        FARTHER_IN * all < sum
    });
    // A ring that was scanned from outside only hides where its inner wall is.
    let wall = wall.map_or(outer, |w| w.0);
    Some(Ring { inner: wall - BEFORE * outer - EDGES * typical_edge(mesh), outer })
}

/// The part without what reaches beyond the ring's inner wall.
pub(crate) fn without_ring(mesh: &CleanMesh, rotor: &Rotor, ring: &Ring) -> CleanMesh {
    mesh.subset(|i| {
        mesh.faces()[i].iter().all(|&v| off_axis(rotor, mesh.vertices()[v as usize]).1 < ring.inner)
    })
}

fn middle_of(mesh: &CleanMesh, f: &[u32; 3]) -> V3 {
    let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
    scale(add(a, add(b, c)), 1.0 / 3.0)
}
