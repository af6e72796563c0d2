//! What else befalls a scan: parts that were not seen, parts that are gone, surfaces that were seen twice. Applied to a scan in blade axes
//! (`any_pose: false`), before it is put into a pose.

use bladeform_mesh::RawMesh;

use crate::blade::Blade;
use crate::pose::Pose;
use crate::random::Random;
use crate::scan::vertex_normals;

/// One kind of damage. Radii are fractions of the blade's tip radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Damage {
    /// The face was not seen between two radii: the blade lay on it.
    FaceMissing {
        /// Where the hole begins and ends.
        from: f64,
        /// Where the hole ends.
        to: f64,
    },
    /// The blade ends here: its tip is broken off and the break is open.
    TipBroken {
        /// Radius of the break.
        at: f64,
    },
    /// The blade begins here: the shank is cut away.
    ShankCut {
        /// Radius of the cut.
        at: f64,
    },
    /// A bench that has grown together with the blade.
    BenchFused,
    /// There are two surfaces between two radii, the second one below the first.
    DoubleLayer {
        /// Where it begins.
        from: f64,
        /// Where it ends.
        to: f64,
        /// Distance of the layers, m.
        depth_m: f64,
    },
    /// Bumps that are not on the part.
    Blobs {
        /// How many.
        count: usize,
        /// Their radius, m.
        radius_m: f64,
        /// Their height, m.
        height_m: f64,
    },
    /// A round dent, or a raised area if the depth is negative: `depth (1 - (d / radius)^2)^2` along the normal at the distance `d` from its middle.
    Dent {
        /// Radius of its middle.
        at: f64,
        /// Place of its middle along the chord from the leading edge, as a fraction.
        chord_share: f64,
        /// Whether it is in the back; else in the face.
        in_back: bool,
        /// Its own radius, m.
        radius_m: f64,
        /// Depth at its middle, m.
        depth_m: f64,
    },
    /// The leading edge is worn back between two radii.
    WornEdge {
        /// Where it begins.
        from: f64,
        /// Where it ends.
        to: f64,
        /// By how much, m.
        depth_m: f64,
    },
}

impl Damage {
    /// The damaged scan of a right-handed blade, still in blade axes.
    #[must_use]
    pub fn apply(&self, mesh: RawMesh, blade: &Blade, random: &mut Random) -> RawMesh {
        match *self {
            Self::FaceMissing { from, to } => without_face(mesh, blade, from, to),
            Self::TipBroken { at } => keep(mesh, |p| p[2] < at * blade.radius_m),
            Self::ShankCut { at } => keep(mesh, |p| at * blade.radius_m < p[2]),
            Self::BenchFused => fused(mesh),
            Self::DoubleLayer { from, to, depth_m } => {
                doubled(mesh, from * blade.radius_m, to * blade.radius_m, depth_m)
            }
            Self::Blobs { count, radius_m, height_m } => blobs(mesh, count, radius_m, height_m, random),
            Self::Dent { at, chord_share, in_back, radius_m, depth_m } => {
                match place(blade, at * blade.radius_m, chord_share, in_back, &mesh) {
                    Some(middle) => dented(mesh, middle, radius_m, depth_m),
                    None => mesh,
                }
            }
            Self::WornEdge { from, to, depth_m } => worn(mesh, blade, from, to, depth_m),
        }
    }
}

/// Puts a mesh in blade axes into a pose.
#[must_use]
pub fn in_pose(mut mesh: RawMesh, pose: &Pose) -> RawMesh {
    for v in &mut mesh.vertices {
        *v = pose.apply(*v);
    }
    mesh
}

/// The triangles all of whose corners are kept.
fn keep(mut mesh: RawMesh, kept: impl Fn(&[f64; 3]) -> bool) -> RawMesh {
    mesh.faces.retain(|f| f.iter().all(|&v| kept(&mesh.vertices[v as usize])));
    mesh
}

/// Direction of the back at a radius: at right angles to the family's chord line, towards flight.
fn towards_back(blade: &Blade, r: f64) -> [f64; 2] {
    let (sin, cos) = blade.angle_rad(r).sin_cos();
    [-sin, cos]
}

fn without_face(mut mesh: RawMesh, blade: &Blade, from: f64, to: f64) -> RawMesh {
    let normals = vertex_normals(&mesh);
    let unseen = |v: u32| {
        let (p, n) = (mesh.vertices[v as usize], normals[v as usize]);
        let back = towards_back(blade, p[2]);
        let within = (from * blade.radius_m..to * blade.radius_m).contains(&p[2]);
        within && n[0] * back[0] + n[1] * back[1] < -0.5
    };
    let faces = mesh.faces.iter().copied().filter(|f| !f.iter().any(|&v| unseen(v))).collect();
    mesh.faces = faces;
    mesh
}

fn doubled(mut mesh: RawMesh, from: f64, to: f64, depth: f64) -> RawMesh {
    let normals = vertex_normals(&mesh);
    let offset = mesh.vertices.len() as u32;
    let within = |v: &u32| (from..to).contains(&mesh.vertices[*v as usize][2]);
    let again: Vec<_> =
        mesh.faces.iter().filter(|f| f.iter().all(within)).map(|f| f.map(|v| v + offset)).collect();
    let below = |(p, n): (&[f64; 3], &[f64; 3])| std::array::from_fn(|k| p[k] - depth * n[k]);
    let second: Vec<[f64; 3]> = mesh.vertices.iter().zip(&normals).map(below).collect();
    mesh.vertices.extend(second);
    mesh.faces.extend(again);
    mesh
}

fn blobs(mut mesh: RawMesh, count: usize, radius: f64, height: f64, random: &mut Random) -> RawMesh {
    let normals = vertex_normals(&mesh);
    let n = mesh.vertices.len();
    let centres: Vec<[f64; 3]> =
        (0..count).map(|_| mesh.vertices[((random.uniform() * n as f64) as usize).min(n - 1)]).collect();
    for (p, normal) in mesh.vertices.iter_mut().zip(&normals) {
        for c in &centres {
            let square: f64 = (0..3).map(|k| (p[k] - c[k]).powi(2)).sum();
            let share = 1.0 - square / (radius * radius);
            if 0.0 < share {
                (0..3).for_each(|k| p[k] += height * share * share * normal[k]);
                break;
            }
        }
    }
    mesh
}

/// Index of the vertex of one side nearest to a place of the chord line.
fn place(blade: &Blade, r: f64, chord_share: f64, in_back: bool, mesh: &RawMesh) -> Option<usize> {
    let (sin, cos) = blade.angle_rad(r).sin_cos();
    let (mid, back) = (blade.mid_chord(r), towards_back(blade, r));
    let ahead = (0.5 - chord_share) * blade.chord_m(r);
    let on_line = [mid[0] + ahead * cos, mid[1] + ahead * sin, r];
    let above = |p: &[f64; 3]| (p[0] - on_line[0]) * back[0] + (p[1] - on_line[1]) * back[1];
    let beside = |p: &[f64; 3]| {
        let h = above(p);
        let square: f64 = (0..3).map(|k| (p[k] - on_line[k]).powi(2)).sum();
        square - h * h
    };
    let of_side = mesh.vertices.iter().enumerate().filter(|(_, p)| (0.0 < above(p)) == in_back);
    of_side.min_by(|a, b| beside(a.1).total_cmp(&beside(b.1))).map(|(k, _)| k)
}

fn dented(mut mesh: RawMesh, at: usize, radius: f64, depth: f64) -> RawMesh {
    let normals = vertex_normals(&mesh);
    let (middle, at_middle) = (mesh.vertices[at], normals[at]);
    for (p, normal) in mesh.vertices.iter_mut().zip(&normals) {
        let square: f64 = (0..3).map(|k| (p[k] - middle[k]).powi(2)).sum();
        let share = 1.0 - square / (radius * radius);
        // The other side of a thin blade may be as near.
        let is_same_side = 0.0 < (0..3).map(|k| normal[k] * at_middle[k]).sum();
        if 0.0 < share && is_same_side {
            (0..3).for_each(|k| p[k] -= depth * share * share * normal[k]);
        }
    }
    mesh
}

/// Points ahead of the worn edge are pushed back to it along the chord; the wear sets in and ends over a tenth of its length.
fn worn(mut mesh: RawMesh, blade: &Blade, from: f64, to: f64, depth: f64) -> RawMesh {
    for p in &mut mesh.vertices {
        let share = (p[2] / blade.radius_m - from) / (to - from);
        if !(0.0..1.0).contains(&share) {
            continue;
        }
        let ramp = (10.0 * share.min(1.0 - share)).min(1.0);
        let (sin, cos) = blade.angle_rad(p[2]).sin_cos();
        let mid = blade.mid_chord(p[2]);
        // The nose lies half a chord ahead of the middle, along (cos, sin).
        let ahead = (p[0] - mid[0]) * cos + (p[1] - mid[1]) * sin;
        let beyond = ahead - (0.5 * blade.chord_m(p[2]) - ramp * depth);
        if 0.0 < beyond {
            p[0] -= beyond * cos;
            p[1] -= beyond * sin;
        }
    }
    mesh
}

/// Step of the bench's grid, m, and how far it reaches.
const BENCH_STEP: f64 = 0.004;
/// How far the grid reaches across and along, m. Chosen; no check of this value is on record.
const BENCH_HALF: [f64; 2] = [0.3, 0.75];
/// Points of the blade this near the bench, m, have grown onto it.
const GROWN: f64 = 0.004;

/// A bench under the blade, joined to it by triangles wherever it comes near.
fn fused(mut mesh: RawMesh) -> RawMesh {
    let low = mesh.vertices.iter().map(|p| p[1]).fold(f64::INFINITY, f64::min);
    let middle = |k: usize| {
        let (l, h) = mesh
            .vertices
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])));
        0.5 * (l + h)
    };
    let (x0, z0) = (middle(0) - BENCH_HALF[0], middle(2) - BENCH_HALF[1]);
    let [columns, rows] = BENCH_HALF.map(|half| (2.0 * half / BENCH_STEP) as usize + 1);
    let offset = mesh.vertices.len();
    let at = |i: usize, j: usize| (offset + i * columns + j) as u32;
    let touching: Vec<u32> =
        (0..offset as u32).filter(|&v| mesh.vertices[v as usize][1] < low + GROWN).collect();
    for i in 0..rows {
        for j in 0..columns {
            mesh.vertices.push([x0 + j as f64 * BENCH_STEP, low - 2e-4, z0 + i as f64 * BENCH_STEP]);
        }
    }
    for i in 0..rows - 1 {
        for j in 0..columns - 1 {
            mesh.faces.extend([
                [at(i, j), at(i + 1, j), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i, j + 1)],
            ]);
        }
    }
    for v in touching {
        let p = mesh.vertices[v as usize];
        let (j, i) = ((p[0] - x0) / BENCH_STEP, (p[2] - z0) / BENCH_STEP);
        if 0.0 <= i && 0.0 <= j && (i as usize) + 1 < rows && (j as usize) + 1 < columns {
            mesh.faces.push([v, at(i as usize, j as usize), at(i as usize, j as usize + 1)]);
        }
    }
    mesh
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ScanPlan, scan_of_blade};

    fn damaged(damage: Damage) -> (RawMesh, RawMesh) {
        let blade = Blade::quarry_mill();
        let plain = scan_of_blade(&blade, &ScanPlan { triangles: 20_000, ..ScanPlan::clean(3) }).mesh;
        let mut random = Random::new(1);
        (plain.clone(), damage.apply(plain, &blade, &mut random))
    }

    #[test]
    fn parts_that_are_gone_are_gone_and_the_rest_stays() {
        let used = |mesh: &RawMesh| {
            let z = mesh.faces.iter().flatten().map(|&v| mesh.vertices[v as usize][2]);
            z.fold((f64::INFINITY, 0.0_f64), |(l, h), z| (l.min(z), h.max(z)))
        };
        let (_, mesh) = damaged(Damage::TipBroken { at: 0.9 });
        assert!((used(&mesh).1 - 0.9 * 1.42).abs() < 0.02);
        let (_, mesh) = damaged(Damage::ShankCut { at: 0.25 });
        assert!((used(&mesh).0 - 0.25 * 1.42).abs() < 0.02);
        let (plain, mesh) = damaged(Damage::FaceMissing { from: 0.4, to: 0.6 });
        // A fifth of the radius of a blade 0.92 R long, one of two sides: about a tenth of the triangles.
        let share = 1.0 - mesh.faces.len() as f64 / plain.faces.len() as f64;
        assert!((0.07..0.13).contains(&share), "{share}");
    }

    #[test]
    fn a_dent_is_as_deep_as_stated_on_its_side_alone() {
        let dent = Damage::Dent { at: 0.6, chord_share: 0.4, in_back: false, radius_m: 0.03, depth_m: 0.002 };
        let (plain, mesh) = damaged(dent);
        let blade = Blade::quarry_mill();
        let back = towards_back(&blade, 0.6 * blade.radius_m);
        let moves = plain.vertices.iter().zip(&mesh.vertices).map(|(a, b)| [0, 1, 2].map(|k| b[k] - a[k]));
        // A dent in the face moves its points towards the back.
        let towards: Vec<f64> =
            moves.map(|m| m[0] * back[0] + m[1] * back[1]).filter(|m| *m != 0.0).collect();
        let most = towards.iter().copied().fold(0.0, f64::max);
        assert!((0.0019..0.00205).contains(&most) && towards.iter().all(|m| 0.0 < *m), "{most}");
    }

    #[test]
    fn a_worn_edge_is_short_by_the_wear() {
        let (plain, mesh) = damaged(Damage::WornEdge { from: 0.5, to: 0.7, depth_m: 0.004 });
        let moved = plain.vertices.iter().zip(&mesh.vertices).map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1]));
        let most = moved.fold(0.0, f64::max);
        assert!((0.0035..0.0042).contains(&most), "{most}");
    }
}
