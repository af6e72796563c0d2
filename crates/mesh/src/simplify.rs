//! A simplified mesh of the same surface for display: rounds of edge collapses that keep a subset of the vertices.

use nalgebra::Vector3;

use crate::{CleanMesh, RawMesh, repair};

/// Cosine of the maximum rotation of a face in one collapse (78 deg). A larger rotation is a fold.
const LEAST_TURN_COSINE: f64 = 0.2;

/// An open edge gets a plane through it with this weight times its squared length, so that rims of holes stay in place.
const RIM_WEIGHT: f64 = 10.0;

/// Weight of the fourth power of the collapse length relative to the squared distance times area. On flat areas, where all distances
/// are zero, short edges are then collapsed first. On curved areas it is too small to matter.
const SHORTNESS: f64 = 1e-5;

/// Fraction of the candidates, cheapest first, that one round may collapse. The most expensive wait for the next round, after cheaper neighbours are gone.
const SHARE_PER_ROUND: f64 = 0.6;

/// A mesh with more than this multiple of the requested triangles is first thinned evenly, without costs. At that density all vertices are equivalent, and
/// a round over two million triangles takes as long as the rest of the page.
const EVEN_ABOVE: usize = 4;

/// Number of triangles that one collapse removes inside a surface.
const FACES_PER_COLLAPSE: usize = 2;

/// The same surface with at most `most_triangles` triangles if its shape allows it; the mesh itself if it has no more.
///
/// Every vertex of the result is a vertex of `mesh`, so a distance measured at a vertex is that of a scanned point. Rims of holes are
/// kept; folds and new non-manifold edges are refused. A mesh of mostly small closed pieces may therefore stay above
/// `most_triangles`. Lengths in the units of the file. The result depends on the order of the vertices only if costs are equal.
///
/// # Source
/// The cost is the quadric of M. Garland and P. S. Heckbert, "Surface simplification using quadric error metrics", SIGGRAPH 1997,
/// weighted by area. Instead of using a queue, each round collapses the cheapest candidates that do not touch one another.
///
/// # Examples
/// ```
/// use bladeform_mesh::{RawMesh, repair, simplify};
/// // A flat square of 20 x 20 cells needs few triangles.
/// let at = |i: u32, j: u32| i * 21 + j;
/// let vertices = (0..21 * 21).map(|k| [f64::from(k / 21), f64::from(k % 21), 0.0]).collect();
/// let faces = (0..20).flat_map(|i| (0..20).flat_map(move |j| {
///     [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]]
/// })).collect();
/// let (mesh, _) = repair(RawMesh { vertices, faces })?;
/// let light = simplify(&mesh, 100);
/// assert!(light.faces().len() <= 100);
/// assert_eq!(light.bounds(), mesh.bounds());
/// # Ok::<(), bladeform_mesh::NothingLeft>(())
/// ```
#[must_use]
pub fn simplify(mesh: &CleanMesh, most_triangles: usize) -> CleanMesh {
    if mesh.faces().len() <= most_triangles {
        return mesh.clone();
    }
    let centre = mesh.centre();
    let at = |v: u32| Vector3::from(mesh.vertices()[v as usize]);
    // A large mesh is not copied before it is thinned.
    let thinned = if EVEN_ABOVE * most_triangles < mesh.faces().len() {
        thin(at, mesh.vertices().len(), mesh.faces())
    } else {
        None
    };
    let mut faces = thinned.unwrap_or_else(|| mesh.faces().to_vec());
    // The mesh vertex of each point.
    let mut origin = numbered_anew(mesh.vertices().len(), &mut faces);
    let mut points: Vec<Vector3<f64>> = origin.iter().map(|&v| at(v) - centre).collect();
    while EVEN_ABOVE * most_triangles < faces.len() {
        let Some(fewer) = thin(|v| points[v as usize], points.len(), &faces) else { break };
        faces = fewer;
        drop_unused(&mut points, &mut origin, &mut faces);
    }
    let mut quadrics = quadrics(&points, &faces);
    while faces.len() > most_triangles {
        let wanted = (faces.len() - most_triangles).div_ceil(FACES_PER_COLLAPSE);
        if round(&points, &mut faces, &mut quadrics, wanted) == 0 {
            break;
        }
    }
    drop_unused(&mut points, &mut origin, &mut faces);
    let vertices = origin.iter().map(|&v| mesh.vertices()[v as usize]).collect();
    // Repairing fails only for a mesh without triangles, and collapses never remove all triangles.
    repair(RawMesh { vertices, faces }).map_or_else(|_| mesh.clone(), |(light, _)| light)
}

/// Drops the points that no face uses any more. The others keep their order.
fn drop_unused(points: &mut Vec<Vector3<f64>>, origin: &mut Vec<u32>, faces: &mut [[u32; 3]]) {
    let kept = numbered_anew(points.len(), faces);
    *points = kept.iter().map(|&v| points[v as usize]).collect();
    *origin = kept.iter().map(|&v| origin[v as usize]).collect();
}

/// Numbers the points that faces use without gaps. Returns their numbers before, ascending.
fn numbered_anew(count: usize, faces: &mut [[u32; 3]]) -> Vec<u32> {
    let mut place = vec![u32::MAX; count];
    faces.iter().flatten().for_each(|&v| place[v as usize] = 0);
    let kept: Vec<u32> = (0..count as u32).filter(|&v| place[v as usize] == 0).collect();
    (0..).zip(&kept).for_each(|(new, &v)| place[v as usize] = new);
    faces.iter_mut().flatten().for_each(|v| *v = place[*v as usize]);
    kept
}

/// The weighted sum of squared distances to planes: the upper triangle of a symmetric 4 x 4 matrix.
#[derive(Clone, Copy, Default)]
struct Quadric([f64; 10]);

impl Quadric {
    fn plane(normal: Vector3<f64>, through: Vector3<f64>, weight: f64) -> Self {
        let (a, b, c, d) = (normal.x, normal.y, normal.z, -normal.dot(&through));
        Self([a * a, a * b, a * c, a * d, b * b, b * c, b * d, c * c, c * d, d * d].map(|q| q * weight))
    }

    fn add(&mut self, other: &Self) {
        self.0.iter_mut().zip(other.0).for_each(|(q, o)| *q += o);
    }

    fn at(&self, p: Vector3<f64>) -> f64 {
        let [aa, ab, ac, ad, bb, bc, bd, cc, cd, dd] = self.0;
        let (x, y, z) = (p.x, p.y, p.z);
        let squares = aa * x * x + bb * y * y + cc * z * z;
        (squares + 2.0 * (ab * x * y + ac * x * z + ad * x + bc * y * z + bd * y + cd * z) + dd).max(0.0)
    }
}

fn quadrics(points: &[Vector3<f64>], faces: &[[u32; 3]]) -> Vec<Quadric> {
    let mut all = vec![Quadric::default(); points.len()];
    let around = Around::new(points.len(), faces);
    for face in faces {
        let [a, b, c] = face.map(|v| points[v as usize]);
        let normal = (b - a).cross(&(c - a));
        let twice_area = normal.norm();
        if twice_area <= 0.0 {
            continue;
        }
        let plane = Quadric::plane(normal / twice_area, a, twice_area / 2.0);
        face.iter().for_each(|&v| all[v as usize].add(&plane));
        for k in 0..3 {
            let (v, w) = (face[k], face[(k + 1) % 3]);
            if around.shared(faces, v, w) == 1 {
                let (p, side) = (points[v as usize], points[w as usize] - points[v as usize]);
                let across = side.cross(&normal);
                let rim = Quadric::plane(
                    across / across.norm().max(f64::MIN_POSITIVE),
                    p,
                    RIM_WEIGHT * side.norm_squared(),
                );
                [v, w].iter().for_each(|&end| all[end as usize].add(&rim));
            }
        }
    }
    all
}

/// The faces around each vertex: those of `v` are `faces[starts[v]..starts[v + 1]]`.
struct Around {
    starts: Vec<u32>,
    faces: Vec<u32>,
}

impl Around {
    fn new(vertices: usize, faces: &[[u32; 3]]) -> Self {
        let mut starts = vec![0_u32; vertices + 1];
        faces.iter().flatten().for_each(|&v| starts[v as usize + 1] += 1);
        for v in 0..vertices {
            starts[v + 1] += starts[v];
        }
        let mut next = starts.clone();
        let mut around = vec![0; faces.len() * 3];
        for (index, face) in faces.iter().enumerate() {
            for &v in face {
                around[next[v as usize] as usize] = index as u32;
                next[v as usize] += 1;
            }
        }
        Self { starts, faces: around }
    }

    fn of(&self, vertex: u32) -> &[u32] {
        let v = vertex as usize;
        &self.faces[self.starts[v] as usize..self.starts[v + 1] as usize]
    }

    /// Number of faces with both vertices.
    fn shared(&self, faces: &[[u32; 3]], v: u32, w: u32) -> usize {
        self.of(v).iter().filter(|&&f| faces[f as usize].contains(&w)).count()
    }

    /// The neighbours of a vertex, each with the number of faces that share the edge to it.
    fn ring(&self, faces: &[[u32; 3]], v: u32, ring: &mut Vec<(u32, u32)>) {
        ring.clear();
        for &f in self.of(v) {
            for &w in faces[f as usize].iter().filter(|&&w| w != v) {
                match ring.iter_mut().find(|(known, _)| *known == w) {
                    Some((_, count)) => *count += 1,
                    None => ring.push((w, 1)),
                }
            }
        }
    }
}

/// One round: every vertex proposes its cheapest collapse. The cheapest that do not touch one another are done, at most `wanted`.
/// Returns their number.
fn round(
    points: &[Vector3<f64>],
    faces: &mut Vec<[u32; 3]>,
    quadrics: &mut [Quadric],
    wanted: usize,
) -> usize {
    let around = Around::new(points.len(), faces);
    let mut proposals = proposals(points, faces, quadrics, &around);
    proposals.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let mut touched = vec![false; points.len()];
    // The vertex that replaces each vertex after the round.
    let mut stands_for: Vec<u32> = (0..points.len() as u32).collect();
    let (mut ring, mut other_ring) = (Vec::new(), Vec::new());
    let mut done = 0;
    let eager = ((proposals.len() as f64 * SHARE_PER_ROUND) as usize).max(1);
    for (rank, &(_, v, w)) in proposals.iter().enumerate() {
        // Beyond this fraction only a round without any collapse continues.
        if done == wanted || (eager <= rank && done > 0) {
            break;
        }
        if touched[v as usize] || touched[w as usize] {
            continue;
        }
        around.ring(faces, v, &mut ring);
        around.ring(faces, w, &mut other_ring);
        if !keeps_the_surface(points, faces, &around, (v, w), &ring, &other_ring) {
            continue;
        }
        stands_for[v as usize] = w;
        touched[v as usize] = true;
        ring.iter().for_each(|(u, _)| touched[*u as usize] = true);
        let taken = quadrics[v as usize];
        quadrics[w as usize].add(&taken);
        done += 1;
    }
    faces.iter_mut().flatten().for_each(|v| *v = stands_for[*v as usize]);
    faces.retain(|[a, b, c]| a != b && b != c && c != a);
    done
}

/// Merges each remaining vertex with its remaining neighbours, unless a face would fold. Rims and vertices where surfaces
/// meet are kept. Returns the faces that are left; `None` if none goes. `at`: the places of `count` vertices.
fn thin(at: impl Fn(u32) -> Vector3<f64>, count: usize, faces: &[[u32; 3]]) -> Option<Vec<[u32; 3]>> {
    let around = Around::new(count, faces);
    let mut stands_for: Vec<u32> = (0..count as u32).collect();
    // A vertex that was merged, or that others were merged into, is done.
    let mut settled = vec![false; count];
    let (mut ring, mut other_ring) = (Vec::new(), Vec::new());
    let mut is_done = false;
    for v in 0..count as u32 {
        if settled[v as usize] {
            continue;
        }
        settled[v as usize] = true;
        around.ring(faces, v, &mut ring);
        if ring.iter().any(|(_, count)| *count != 2) {
            continue;
        }
        for &(u, _) in &ring {
            if settled[u as usize] {
                continue;
            }
            around.ring(faces, u, &mut other_ring);
            let inside = other_ring.iter().all(|(_, count)| *count == 2);
            let common = ring.iter().filter(|(r, _)| other_ring.iter().any(|(o, _)| o == r)).count();
            if inside && common == 2 && stays_unfolded(&at, faces, &around, &stands_for, (u, v)) {
                stands_for[u as usize] = v;
                settled[u as usize] = true;
                is_done = true;
            }
        }
    }
    let moved = faces.iter().map(|face| face.map(|v| stands_for[v as usize]));
    is_done.then(|| moved.filter(|[a, b, c]| a != b && b != c && c != a).collect())
}

/// Whether the faces around `u` keep their orientation when `u` moves to `v` and all others are at their merged positions.
fn stays_unfolded(
    at: impl Fn(u32) -> Vector3<f64>,
    faces: &[[u32; 3]],
    around: &Around,
    stands_for: &[u32],
    (u, v): (u32, u32),
) -> bool {
    let normal = |corners: [u32; 3]| {
        let [a, b, c] = corners.map(&at);
        (b - a).cross(&(c - a))
    };
    around.of(u).iter().map(|&f| faces[f as usize]).all(|face| {
        let moved = face.map(|k| if k == u { v } else { stands_for[k as usize] });
        let [a, b, c] = moved;
        if a == b || b == c || c == a {
            return true;
        }
        let (before, after) = (normal(face), normal(moved));
        // In squares, which need no roots.
        let (along, least) = (before.dot(&after), LEAST_TURN_COSINE * LEAST_TURN_COSINE);
        0.0 < along && least * before.norm_squared() * after.norm_squared() < along * along
    })
}

/// For each vertex the cheapest neighbour to move to: `(cost, vertex, neighbour)`. A vertex on a rim moves only along the rim.
fn proposals(
    points: &[Vector3<f64>],
    faces: &[[u32; 3]],
    quadrics: &[Quadric],
    around: &Around,
) -> Vec<(f64, u32, u32)> {
    let mut found = Vec::with_capacity(points.len());
    let mut ring = Vec::new();
    for v in 0..points.len() as u32 {
        around.ring(faces, v, &mut ring);
        let on_rim = ring.iter().any(|(_, count)| *count == 1);
        // A vertex where surfaces meet connects them and is kept.
        if ring.iter().any(|(_, count)| *count > 2) {
            continue;
        }
        let (quadric, p) = (&quadrics[v as usize], points[v as usize]);
        let cost = |w: u32| {
            let q = points[w as usize];
            quadric.at(q) + SHORTNESS * (q - p).norm_squared().powi(2)
        };
        let ways = ring.iter().filter(|(_, count)| !on_rim || *count == 1).map(|&(w, _)| (cost(w), v, w));
        found.extend(ways.min_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2))));
    }
    found
}

/// Whether `v` may be merged into `w`: no face folds over, and the two have no common neighbour except the corners of the removed faces.
fn keeps_the_surface(
    points: &[Vector3<f64>],
    faces: &[[u32; 3]],
    around: &Around,
    (v, w): (u32, u32),
    ring: &[(u32, u32)],
    other_ring: &[(u32, u32)],
) -> bool {
    let common = ring.iter().filter(|(u, _)| other_ring.iter().any(|(o, _)| o == u)).count();
    if common != around.shared(faces, v, w) {
        return false;
    }
    around.of(v).iter().map(|&f| faces[f as usize]).filter(|face| !face.contains(&w)).all(|face| {
        let normal = |corners: [Vector3<f64>; 3]| (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
        let before = normal(face.map(|u| points[u as usize]));
        let after = normal(face.map(|u| points[if u == v { w } else { u } as usize]));
        LEAST_TURN_COSINE * before.norm() * after.norm() < before.dot(&after)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{moments, topology};
    use std::f64::consts::{PI, TAU};

    /// A sphere of radius 1, or with a hole at each pole, of `n` x `2 n` cells.
    fn sphere(n: u32, open: bool) -> CleanMesh {
        let mut vertices = Vec::new();
        for i in 0..=n {
            let theta = if open {
                0.3 + (PI - 0.6) * f64::from(i) / f64::from(n)
            } else {
                PI * f64::from(i) / f64::from(n)
            };
            for j in 0..2 * n {
                let phi = TAU * f64::from(j) / f64::from(2 * n);
                vertices.push([theta.sin() * phi.cos(), theta.sin() * phi.sin(), theta.cos()]);
            }
        }
        let at = |i: u32, j: u32| i * 2 * n + j % (2 * n);
        let cell =
            |i, j| [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]];
        let faces = (0..n).flat_map(|i| (0..2 * n).flat_map(move |j| cell(i, j))).collect();
        repair(RawMesh { vertices, faces }).unwrap().0
    }

    #[test]
    fn a_sphere_keeps_its_volume_and_stays_closed() {
        let mesh = sphere(80, false);
        let light = simplify(&mesh, 2000);
        assert!(light.faces().len() <= 2000, "{}", light.faces().len());
        // The exact volume of the sphere; 2,000 triangles with their corners on it lose about 4 pi / 2000 of it (from memory).
        let volume = moments(&light).volume;
        assert!((volume / (4.0 * PI / 3.0) - 1.0).abs() < 0.012, "{volume}");
        let found = topology(&light);
        assert_eq!((found.boundary_edges, found.non_manifold_edges, found.misaligned_edges), (0, 0, 0));
    }

    #[test]
    fn every_vertex_is_one_of_the_scan_and_rims_stay() {
        let mesh = sphere(60, true);
        let light = simplify(&mesh, 1500);
        assert!(light.faces().len() <= 1500);
        assert!(light.vertices().iter().all(|v| mesh.vertices().contains(v)));
        let found = topology(&light);
        assert_eq!((found.boundary_loops.len(), found.non_manifold_edges), (2, 0));
        // The circumference of the polar circles, 2 pi sin 0.3.
        for rim in &found.boundary_loops {
            assert!((rim.length / (TAU * 0.3_f64.sin()) - 1.0).abs() < 0.02, "{}", rim.length);
        }
    }

    #[test]
    fn a_very_fine_mesh_is_thinned_evenly_first_and_stays_closed() {
        let mesh = sphere(160, false);
        assert!(EVEN_ABOVE * 4000 < mesh.faces().len());
        let light = simplify(&mesh, 4000);
        assert!(light.faces().len() <= 4000 && 2000 < light.faces().len(), "{}", light.faces().len());
        assert!(light.vertices().iter().all(|v| (Vector3::from(*v).norm() - 1.0).abs() < 1e-12));
        let volume = moments(&light).volume;
        assert!((volume / (4.0 * PI / 3.0) - 1.0).abs() < 0.006, "{volume}");
        let found = topology(&light);
        assert_eq!((found.boundary_edges, found.non_manifold_edges, found.misaligned_edges), (0, 0, 0));
    }

    #[test]
    fn a_light_mesh_is_left_as_it_is() {
        let mesh = sphere(8, false);
        assert_eq!(simplify(&mesh, 10_000), mesh);
    }
}
