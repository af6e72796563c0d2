//! Connections of triangles: common edges, open rims, consistent windings.

use std::ops::Range;

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::clean::compare;
use crate::edges::{Halves, Links, start, visit_edges};
use crate::moments::MomentSum;
use bladeform_numeric::parallel;
use bladeform_numeric::sets::{Forest, ParityForest};

/// An open patch whose volume about its own centroid is below this fraction of `area^1.5` is a flat sheet. It has no
/// inside, so it cannot be oriented by volume.
const FLAT_PATCH: f64 = 1e-6;

/// A closed patch whose volume is below this fraction of `area^1.5` encloses only rounding errors.
const EMPTY_PATCH: f64 = 1e-13;

/// One connected rim of an open surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundaryLoop {
    /// Number of its edges.
    pub edges: usize,
    /// Its length.
    pub length: f64,
}

/// Properties of a surface derived from its edges.
#[derive(Debug, Clone, PartialEq)]
pub struct Topology {
    /// Edges with one triangle.
    pub boundary_edges: usize,
    /// Edges with three or more triangles.
    pub non_manifold_edges: usize,
    /// Edges between two triangles with inconsistent windings.
    pub misaligned_edges: usize,
    /// Open rims, longest first.
    pub boundary_loops: Vec<BoundaryLoop>,
}

impl Topology {
    /// Whether every edge has exactly two triangles with consistent windings: the surface encloses a solid.
    #[must_use]
    pub fn closed(&self) -> bool {
        self.boundary_edges + self.non_manifold_edges + self.misaligned_edges == 0
    }
}

/// Counts open, non-manifold and inconsistently wound edges, and collects the open rims.
#[must_use]
pub fn topology(mesh: &CleanMesh) -> Topology {
    let faces = mesh.faces();
    let mut found = Topology {
        boundary_edges: 0,
        non_manifold_edges: 0,
        misaligned_edges: 0,
        boundary_loops: Vec::new(),
    };
    let lists = visit_edges(mesh.vertices().len(), faces, 1, Vec::new, |list, ends, halves| {
        let against = halves.pair().is_some_and(|[a, b]| start(faces, a) == start(faces, b));
        if halves.len() != 2 || against {
            list.push((ends, halves.len()));
        }
    });
    let mut rim: Vec<[u32; 2]> = Vec::new();
    for (ends, halves) in lists.into_iter().flatten() {
        match halves {
            1 => rim.push(ends),
            2 => found.misaligned_edges += 1,
            _ => found.non_manifold_edges += 1,
        }
    }
    found.boundary_edges = rim.len();
    found.boundary_loops = boundary_loops(mesh, &rim);
    found
}

fn boundary_loops(mesh: &CleanMesh, rim: &[[u32; 2]]) -> Vec<BoundaryLoop> {
    let mut forest = Forest::new(mesh.vertices().len());
    rim.iter().for_each(|&[a, b]| forest.join(a, b));
    let mut loops = std::collections::BTreeMap::new();
    for &[a, b] in rim {
        let found = loops.entry(forest.root(a)).or_insert(BoundaryLoop { edges: 0, length: 0.0 });
        let [p, q] = [a, b].map(|v| Vector3::from(mesh.vertices()[v as usize]));
        found.edges += 1;
        found.length += (q - p).norm();
    }
    let mut loops: Vec<_> = loops.into_values().collect();
    loops.sort_by(|a, b| b.length.total_cmp(&a.length).then(b.edges.cmp(&a.edges)));
    loops
}

/// Triangles of edges with only one triangle, each as often as it has such edges.
pub(crate) fn open_edges(mesh: &CleanMesh) -> Vec<u32> {
    let visit =
        |list: &mut Vec<u32>, _, halves: Halves<'_>| list.extend(halves.single().map(|half| half / 3));
    visit_edges(mesh.vertices().len(), mesh.faces(), 1, Vec::new, visit).concat()
}

/// Result of [`orient`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OrientationReport {
    /// Triangles whose winding changed.
    pub flipped_triangles: usize,
    /// Edges with three or more triangles. Windings are not carried across them.
    pub non_manifold_edges: usize,
    /// Edges with one triangle.
    pub boundary_edges: usize,
    /// Whether some patch is one-sided, like a Moebius strip, so that windings cannot all agree.
    pub unorientable: bool,
}

/// Makes windings agree across every edge of exactly two triangles, and orients each patch outwards.
///
/// A patch is a set of triangles connected by such edges. A closed patch gets a positive volume. An open patch gets a positive volume about its own
/// centroid, as for a scan of one side of a convex body. A flat open sheet keeps the winding of the majority of its triangles. In
/// a one-sided patch the inconsistency remains at its shortest edges.
#[must_use]
pub fn orient(mesh: CleanMesh) -> (CleanMesh, OrientationReport) {
    let links = Links::of(mesh.vertices().len(), mesh.faces());
    let (mesh, report, _) = orient_linked(mesh, links);
    (mesh, report)
}

/// The edges of a mesh that do not have exactly two triangles.
pub(crate) struct Rims {
    rim: Vec<u32>,
    crowded: Vec<[u32; 2]>,
}

impl Rims {
    /// Counts the edges of a part that has none in common with the rest. `is_part` selects its triangles.
    pub(crate) fn count(&self, is_part: impl Fn(usize) -> bool, report: &mut OrientationReport) {
        let of_part = |half: u32| is_part(half as usize / 3);
        report.boundary_edges = self.rim.iter().filter(|half| of_part(**half)).count();
        let first = |[first, half]: &&[u32; 2]| first == half && of_part(*first);
        report.non_manifold_edges = self.crowded.iter().filter(first).count();
    }
}

/// [`orient`] for a mesh whose links are known.
pub(crate) fn orient_linked(mut mesh: CleanMesh, links: Links) -> (CleanMesh, OrientationReport, Rims) {
    let Links { mut patches, contradicting, rim, crowded, .. } = links;
    let mut report =
        OrientationReport { unorientable: !contradicting.is_empty(), ..OrientationReport::default() };
    let rims = Rims { rim, crowded };
    rims.count(|_| true, &mut report);
    if report.unorientable {
        relink_longest_first(&mesh, &mut patches, &contradicting);
    }
    let (labels, count) = patches.numbered();
    let turns = choose_turns(&mesh, &labels, count, &rims);
    let flipped = parallel::parts(mesh.faces_mut(), |first, faces| {
        let mut flipped = 0;
        for (corners, label) in faces.iter_mut().zip(&labels[first..]) {
            if (label & 1 == 1) != turns[(label >> 1) as usize] {
                corners.swap(1, 2);
                flipped += 1;
            }
        }
        flipped
    });
    report.flipped_triangles = flipped.into_iter().sum();
    (mesh, report, rims)
}

/// Links one-sided patches again, longest edges first. The result then does not depend on the order of the triangles, and the
/// inconsistency remains where it has the least effect.
fn relink_longest_first(mesh: &CleanMesh, patches: &mut ParityForest, contradicting: &[u32]) {
    let faces = mesh.faces();
    let mut one_sided = vec![false; faces.len()];
    contradicting.iter().for_each(|&face| one_sided[patches.root(face).0 as usize] = true);
    let members: Vec<bool> =
        (0..faces.len() as u32).map(|face| one_sided[patches.root(face).0 as usize]).collect();
    let lists = visit_edges(mesh.vertices().len(), faces, 1, Vec::new, |links, ends, halves| {
        if let Some([a, b]) = halves.pair()
            && members[a as usize / 3]
        {
            let mut points = ends.map(|v| mesh.vertices()[v as usize]);
            points.sort_by(compare);
            let length = (Vector3::from(points[1]) - Vector3::from(points[0])).norm_squared();
            links.push((length, points, a, b));
        }
    });
    let mut links = lists.concat();
    links.sort_by(|a, b| b.0.total_cmp(&a.0).then(compare(&a.1[0], &b.1[0])).then(compare(&a.1[1], &b.1[1])));
    patches.cut_loose(&members);
    for (_, _, a, b) in links {
        patches.join(a / 3, b / 3, start(faces, a) == start(faces, b));
    }
}

/// Sums over one patch, with windings that agree with the root of the patch.
#[derive(Clone, Copy, Default)]
struct Patch {
    area: f64,
    first: Vector3<f64>,
    vector_area: Vector3<f64>,
    volume: f64,
    against: u32,
    faces: u32,
    open: bool,
}

impl Patch {
    #[inline]
    fn add(&mut self, mesh: &CleanMesh, corners: [u32; 3], against: bool) {
        let reference = mesh.centre();
        let [a, b, c] = mesh.corners(corners);
        let [a, b, c] = [a - reference, b - reference, c - reference];
        let normal = (b - a).cross(&(c - a)) * if against { -0.5 } else { 0.5 };
        let area = normal.norm();
        self.area += area;
        self.first += (a + b + c) * (area / 3.0);
        self.vector_area += normal;
        self.volume += a.dot(&normal) / 3.0;
        self.against += u32::from(against);
        self.faces += 1;
    }

    fn add_sums(&mut self, other: &Self) {
        self.area += other.area;
        self.first += other.first;
        self.vector_area += other.vector_area;
        self.volume += other.volume;
        self.against += other.against;
        self.faces += other.faces;
    }

    /// Whether to flip the triangles that agree with the root, instead of the others.
    fn turns_root(&self) -> bool {
        let sum = MomentSum {
            area: self.area,
            first: self.first,
            vector_area: self.vector_area,
            volume: self.volume,
            ..MomentSum::default()
        };
        let volume = if self.open { sum.volume_about_centroid() } else { self.volume };
        let floor = if self.open { FLAT_PATCH } else { EMPTY_PATCH };
        if volume.abs() > floor * self.area.powf(1.5) {
            return volume < 0.0;
        }
        let agreeing = self.faces - self.against;
        if agreeing == self.against {
            return self.vector_area[self.vector_area.iamax()] < 0.0;
        }
        agreeing < self.against
    }
}

/// Up to this number of patches every group of triangles has its own sums for all patches.
const FEW_PATCHES: usize = 4096;

/// Decides for every patch which of its two windings to keep: whether to flip the triangles that agree with its root.
fn choose_turns(mesh: &CleanMesh, labels: &[u32], count: usize, rims: &Rims) -> Vec<bool> {
    let sum = |faces: Range<usize>| {
        let mut patches = vec![Patch::default(); count];
        for (&corners, &label) in mesh.faces()[faces.clone()].iter().zip(&labels[faces]) {
            patches[(label >> 1) as usize].add(mesh, corners, label & 1 == 1);
        }
        patches
    };
    let all = 0..labels.len();
    let groups = if count <= FEW_PATCHES { parallel::groups(labels.len(), sum) } else { vec![sum(all)] };
    let mut patches = vec![Patch::default(); count];
    for group in &groups {
        patches.iter_mut().zip(group).for_each(|(patch, part)| patch.add_sums(part));
    }
    for half in rims.rim.iter().chain(rims.crowded.iter().map(|[_, half]| half)) {
        patches[(labels[*half as usize / 3] >> 1) as usize].open = true;
    }
    patches.iter().map(Patch::turns_root).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RawMesh, moments, repair};

    fn mesh(vertices: Vec<[f64; 3]>, faces: Vec<[u32; 3]>) -> CleanMesh {
        repair(RawMesh { vertices, faces }).unwrap().0
    }

    fn octahedron(faces: &[[u32; 3]]) -> CleanMesh {
        let corners = [[1., 0., 0.], [-1., 0., 0.], [0., 1., 0.], [0., -1., 0.], [0., 0., 1.], [0., 0., -1.]];
        mesh(corners.map(|p: [f64; 3]| p.map(|c| c + 20.0)).to_vec(), faces.to_vec())
    }

    const OUTWARD: [[u32; 3]; 8] =
        [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]];

    /// A band of `n` quadrilaterals, twisted by `half_turns` and closed up.
    fn band(n: u32, half_turns: u32) -> CleanMesh {
        let place = |i: u32, side: f64| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(n);
            let (sin, cos) = (angle * f64::from(half_turns) / 2.0).sin_cos();
            let radius = 1.0 + 0.2 * side * cos;
            [radius * angle.cos(), radius * angle.sin(), 0.2 * side * sin]
        };
        let vertices = (0..n).flat_map(|i| [place(i, -1.0), place(i, 1.0)]).collect();
        let faces = (0..n).flat_map(|i| {
            let crossed = u32::from(i + 1 == n && half_turns % 2 == 1);
            let (a, b) = (2 * i, 2 * i + 1);
            let (c, d) = (2 * ((i + 1) % n) + crossed, 2 * ((i + 1) % n) + 1 - crossed);
            [[a, c, d], [a, d, b]]
        });
        mesh(vertices, faces.collect())
    }

    #[test]
    fn a_closed_body_is_turned_outward_whatever_its_windings() {
        for turned in 0u32..256 {
            let mut faces = OUTWARD;
            for (index, face) in faces.iter_mut().enumerate() {
                if turned >> index & 1 == 1 {
                    face.swap(0, 1);
                }
            }
            let (body, report) = orient(octahedron(&faces));
            assert_eq!(report.flipped_triangles as u32, turned.count_ones());
            assert!(topology(&body).closed() && (moments(&body).volume - 4.0 / 3.0).abs() < 1e-12);
        }
    }

    #[test]
    fn an_open_shell_is_turned_by_the_bulk_it_nearly_encloses() {
        let mut faces = OUTWARD[1..].to_vec();
        faces.iter_mut().for_each(|face| face.swap(0, 1));
        let (body, report) = orient(octahedron(&faces));
        assert_eq!((report.flipped_triangles, report.boundary_edges, report.unorientable), (7, 3, false));
        let found = topology(&body);
        assert_eq!((found.boundary_edges, found.misaligned_edges, found.boundary_loops.len()), (3, 0, 1));
        assert!((found.boundary_loops[0].length - 3.0 * 2f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_flat_sheet_keeps_what_most_of_it_has() {
        let fan = |turned: u32| {
            let vertices = (0..6).map(|k| [f64::from(k).cos(), f64::from(k).sin(), 5.0]).collect();
            let faces = (1..5).map(|k| if k <= turned { [0, k + 1, k] } else { [0, k, k + 1] }).collect();
            orient(mesh(vertices, faces)).1.flipped_triangles
        };
        assert_eq!([0, 1, 3, 4].map(fan), [0, 1, 1, 0]);
    }

    #[test]
    fn a_one_sided_band_is_told() {
        let (_, report) = orient(band(24, 1));
        assert!(report.unorientable);
        let (two_sided, report) = orient(band(24, 2));
        assert!(!report.unorientable);
        assert_eq!(
            (topology(&two_sided).boundary_loops.len(), topology(&band(24, 1)).boundary_loops.len()),
            (2, 1)
        );
    }

    /// The inconsistency of a one-sided band remains at a single edge, the shortest across it, for any order of triangles.
    #[test]
    fn a_one_sided_band_disagrees_at_one_short_edge() {
        let narrow = |shift: usize| {
            let band = band(24, 1);
            let squeezed = band.map_vertices(|[x, y, z]| {
                let scale = if x > 0.0 && y.abs() < 0.3 { 0.5 } else { 1.0 };
                [x, y, z * scale]
            });
            let mut faces = squeezed.faces().to_vec();
            faces.rotate_left(shift);
            let (oriented, _) = orient(mesh(squeezed.vertices().to_vec(), faces));
            let faces = oriented.faces();
            let lists = visit_edges(oriented.vertices().len(), faces, 1, Vec::new, |at, ends, halves| {
                if halves.pair().is_some_and(|[a, b]| start(faces, a) == start(faces, b)) {
                    let mut points = ends.map(|v| oriented.vertices()[v as usize]);
                    points.sort_by(compare);
                    at.push(points);
                }
            });
            lists.concat()
        };
        assert_eq!(narrow(0).len(), 1);
        assert!((1..48).all(|shift| narrow(shift) == narrow(0)));
    }

    #[test]
    fn leaves_of_a_book_are_turned_one_by_one() {
        let vertices = vec![[0., 0., 0.], [0., 0., 1.], [1., 0., 0.], [0., 1., 0.], [-1., -1., 0.]];
        let book = mesh(vertices, vec![[0, 1, 2], [0, 1, 3], [1, 0, 4]]);
        let (_, report) = orient(book.clone());
        assert_eq!((report.non_manifold_edges, report.boundary_edges, report.flipped_triangles), (1, 6, 0));
        assert!(!topology(&book).closed());
    }
}
