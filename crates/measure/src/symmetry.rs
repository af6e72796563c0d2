//! A whole propeller shows itself by rotational symmetry: how many blades, and the axis about which the part turns into itself.

use bladeform_mesh::{CleanMesh, Moments};
use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::{Matrix3, Matrix6, Rotation3, Unit, Vector3, Vector6};

use crate::vector::{V3, add, cross, dot, norm, scale, sub, unit};

/// The axis of rotation of a propeller in the scan's coordinates.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rotor {
    pub(crate) blades: usize,
    pub(crate) point: V3,
    pub(crate) direction: V3,
    /// Robust distance between the part and its turned image, over the part's size.
    pub(crate) mismatch: f64,
}

/// Points of the surface with normals, thinned on a grid.
struct Cloud {
    points: Vec<V3>,
    normals: Vec<V3>,
    tree: ImmutableKdTree<f64, 3>,
}

/// Cells of the thinning grid along the diagonal.
const N_CELLS: f64 = 130.0;
/// Mismatch, over the diagonal, below which a turned image counts as the part itself. Lone blades come out above 0.01, propellers of old wood below 0.002.
const SAME: f64 = 0.004;
/// Share of the points whose distance decides: holes and fragments may spoil the rest.
const SHARE: f64 = 0.8;

/// Looks for 2 to 6 blades; `None` for a lone blade.
pub(crate) fn find_rotor(mesh: &CleanMesh, m: &Moments) -> Option<Rotor> {
    let cloud = Cloud::of(mesh, m)?;
    let size = mesh.diagonal();
    let mut best: Option<Rotor> = None;
    for axis in m.principal_axes {
        for blades in 2..=6 {
            let Some(rotor) = refine(&cloud, m.area_centroid, axis, blades, size) else { continue };
            let better = best.as_ref().is_none_or(|b| {
                // More blades also fit where fewer do: 4 blades look like 2. Prefer the more while both fit.
                let (old, new) = (b.mismatch < SAME, rotor.mismatch < SAME);
                if old && new {
                    b.blades < rotor.blades || (b.blades == rotor.blades && rotor.mismatch < b.mismatch)
                } else {
                    rotor.mismatch < b.mismatch
                }
            });
            if better {
                best = Some(rotor);
            }
        }
    }
    best.filter(|b| b.mismatch < SAME)
}

impl Cloud {
    fn of(mesh: &CleanMesh, m: &Moments) -> Option<Self> {
        let cell = mesh.diagonal() / N_CELLS;
        let mut cells = std::collections::BTreeMap::<[i64; 4], (f64, V3, V3)>::new();
        for f in mesh.faces() {
            let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
            let n = cross(sub(b, a), sub(c, a));
            let longest = norm(sub(b, a)).max(norm(sub(c, b))).max(norm(sub(a, c)));
            // Large triangles are sampled evenly, so that a coarse mesh has as many points as a fine one.
            let parts = (longest / cell).ceil().clamp(1.0, 200.0) as usize;
            for (u, v) in triangle_places(parts) {
                let p = add(a, add(scale(sub(b, a), u), scale(sub(c, a), v)));
                let weight = norm(n) / (parts * parts) as f64;
                add_to_cell(&mut cells, m, cell, p, n, weight);
            }
        }
        let (points, normals): (Vec<_>, Vec<_>) =
            cells.values().map(|(w, p, n)| (scale(*p, 1.0 / w), unit(*n))).unzip();
        let tree = ImmutableKdTree::new_from_slice(&points).ok()?;
        Some(Self { points, normals, tree })
    }

    /// Nearest point's index.
    fn nearest(&self, p: &V3) -> usize {
        self.tree.query(p).nearest_one::<SquaredEuclidean<f64>>().execute().item as usize
    }
}

/// Centres of the `n * n` small triangles of a triangle, in its two coordinates.
fn triangle_places(n: usize) -> impl Iterator<Item = (f64, f64)> {
    let step = 1.0 / n as f64;
    (0..n).flat_map(move |i| {
        (0..n - i).flat_map(move |j| {
            let up = ((i as f64 + 1.0 / 3.0) * step, (j as f64 + 1.0 / 3.0) * step);
            let down = ((i as f64 + 2.0 / 3.0) * step, (j as f64 + 2.0 / 3.0) * step);
            [Some(up), (i + j + 1 < n).then_some(down)].into_iter().flatten()
        })
    })
}

fn add_to_cell(
    cells: &mut std::collections::BTreeMap<[i64; 4], (f64, V3, V3)>,
    m: &Moments,
    cell: f64,
    p: V3,
    n: V3,
    weight: f64,
) {
    let d = sub(p, m.area_centroid);
    let at = m.principal_axes.map(|axis| (dot(axis, d) / cell).floor() as i64);
    // Back and face of a thin blade share a cell but not a normal.
    let facing = m.principal_axes.iter().fold(0, |code, axis| 2 * code + i64::from(0.0 <= dot(*axis, n)));
    let entry = cells.entry([at[0], at[1], at[2], facing]).or_insert((0.0, [0.0; 3], [0.0; 3]));
    entry.0 += weight;
    entry.1 = add(entry.1, scale(p, weight));
    entry.2 = add(entry.2, n);
}

/// Turns the part about a first axis and moves it (point-to-plane, Y. Chen, G. Medioni, 1992) until it lies on itself; the motion's own axis is the answer.
fn refine(cloud: &Cloud, centre: V3, axis: V3, blades: usize, size: f64) -> Option<Rotor> {
    let turn = std::f64::consts::TAU / blades as f64;
    let mut rotation = *Rotation3::from_axis_angle(&Unit::new_normalize(Vector3::from(axis)), turn).matrix();
    let c = Vector3::from(centre);
    let mut shift = c - rotation * c;
    let mut mismatch = f64::INFINITY;
    for round in 0..30 {
        let pairs = pairs(cloud, &rotation, &shift, c);
        let mut sizes: Vec<f64> = pairs.iter().map(|p| p.2.abs()).collect();
        let cut = ((SHARE * sizes.len() as f64) as usize).min(sizes.len().checked_sub(1)?);
        let bound = *sizes.select_nth_unstable_by(cut, f64::total_cmp).1;
        mismatch = bound / size;
        // A wrong number of blades shows at once.
        if round == 6 && 10.0 * SAME < mismatch {
            return None;
        }
        let step = motion(&pairs, bound)?;
        let spin = Vector3::new(step[0], step[1], step[2]);
        let small = Rotation3::new(spin);
        rotation = small.matrix() * rotation;
        shift = small.matrix() * (shift - c) + c + Vector3::new(step[3], step[4], step[5]);
        if spin.norm() < 1e-10 {
            break;
        }
    }
    axis_of(&rotation, &shift, c, axis).map(|(point, direction)| Rotor { blades, point, direction, mismatch })
}

type Pair = (Vector3<f64>, Vector3<f64>, f64);

/// Turned points relative to the centre, normals of their nearest points, and signed distances along them.
fn pairs(cloud: &Cloud, rotation: &Matrix3<f64>, shift: &Vector3<f64>, centre: Vector3<f64>) -> Vec<Pair> {
    cloud
        .points
        .iter()
        .zip(&cloud.normals)
        .filter_map(|(p, n)| {
            let moved = rotation * Vector3::from(*p) + shift;
            let turned = rotation * Vector3::from(*n);
            let i = cloud.nearest(&[moved.x, moved.y, moved.z]);
            let (q, normal) = (Vector3::from(cloud.points[i]), Vector3::from(cloud.normals[i]));
            // A neighbour that faces elsewhere counts by its plain distance below, so that a false match is not rewarded.
            let facing = 0.3 < turned.dot(&normal);
            let distance = if facing { normal.dot(&(moved - q)) } else { (moved - q).norm() };
            facing.then_some((moved - centre, normal, distance)).or(Some((
                moved - centre,
                Vector3::zeros(),
                distance,
            )))
        })
        .collect()
}

/// Least-squares small motion that takes the distances away.
fn motion(pairs: &[Pair], bound: f64) -> Option<Vector6<f64>> {
    let (mut a, mut b) = (Matrix6::zeros(), Vector6::zeros());
    for (p, n, d) in pairs.iter().filter(|p| p.2.abs() <= bound) {
        let m = p.cross(n);
        let row = Vector6::new(m.x, m.y, m.z, n.x, n.y, n.z);
        a += row * row.transpose();
        b -= row * *d;
    }
    a.cholesky().map(|c| c.solve(&b))
}

/// Axis of a rigid motion: its direction and the point nearest to the centre.
fn axis_of(
    rotation: &Matrix3<f64>,
    shift: &Vector3<f64>,
    centre: Vector3<f64>,
    like: V3,
) -> Option<(V3, V3)> {
    let (axis, angle) = Rotation3::from_matrix_unchecked(*rotation).axis_angle()?;
    let direction = if axis.dot(&Vector3::from(like)) < 0.0 { -axis.into_inner() } else { axis.into_inner() };
    let angle = if axis.dot(&direction) < 0.0 { -angle } else { angle };
    // In the plane across the axis: p = R p + t, relative to the centre.
    let t = rotation * centre + shift - centre;
    let t = t - direction * direction.dot(&t);
    let half = 0.5 * (t + direction.cross(&t) / (angle / 2.0).tan());
    let p = centre + half;
    Some(([p.x, p.y, p.z], [direction.x, direction.y, direction.z]))
}
