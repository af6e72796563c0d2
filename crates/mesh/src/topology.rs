//! How triangles hang together: shared edges, open rims, windings that agree.

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::clean::compare;
use crate::moments::MomentSum;

/// An open patch whose volume about its own centroid is below this fraction of `area^1.5` is a flat sheet: it has no
/// inside by which to turn it.
const FLAT_PATCH: f64 = 1e-6;

/// A closed patch whose volume is below this fraction of `area^1.5` encloses nothing but rounding.
const EMPTY_PATCH: f64 = 1e-13;

/// One connected rim of an open surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoundaryLoop {
    /// Edges in it.
    pub edges: usize,
    /// Its length.
    pub length: f64,
}

/// What the edges of a mesh say about its surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Topology {
    /// Edges with one triangle.
    pub boundary_edges: usize,
    /// Edges with three and more triangles.
    pub non_manifold_edges: usize,
    /// Edges between two triangles that are wound against each other.
    pub misaligned_edges: usize,
    /// Open rims, longest first.
    pub boundary_loops: Vec<BoundaryLoop>,
}

impl Topology {
    /// Whether every edge has exactly two triangles, wound alike: the surface encloses a solid.
    #[must_use]
    pub fn closed(&self) -> bool {
        self.boundary_edges + self.non_manifold_edges + self.misaligned_edges == 0
    }
}

/// Counts open, non-manifold and misaligned edges, and collects the open rims.
#[must_use]
pub fn topology(mesh: &CleanMesh) -> Topology {
    let faces = mesh.faces();
    let mut found = Topology {
        boundary_edges: 0,
        non_manifold_edges: 0,
        misaligned_edges: 0,
        boundary_loops: Vec::new(),
    };
    let mut rim: Vec<[u32; 2]> = Vec::new();
    Edges::new(mesh.vertices().len(), faces).for_each(|ends, halves| match halves {
        [_] => rim.push(ends),
        [a, b] => found.misaligned_edges += usize::from(start(faces, *a) == start(faces, *b)),
        _ => found.non_manifold_edges += 1,
    });
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

/// Calls `visit` with the triangle of every edge that has only one.
pub(crate) fn open_edges(mesh: &CleanMesh, mut visit: impl FnMut(usize)) {
    Edges::new(mesh.vertices().len(), mesh.faces()).for_each(|_, halves| {
        if let [half] = halves {
            visit(*half as usize / 3);
        }
    });
}

/// What [`orient`] did and found.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OrientationReport {
    /// Triangles whose winding changed.
    pub flipped_triangles: usize,
    /// Edges with three and more triangles. Windings are not carried across them.
    pub non_manifold_edges: usize,
    /// Edges with one triangle.
    pub boundary_edges: usize,
    /// Whether some patch is one-sided, like a Moebius strip, so that windings cannot all agree.
    pub unorientable: bool,
}

/// Makes windings agree across every edge of exactly two triangles, and turns each patch with its inside in.
///
/// A patch is what such edges join. A closed one gets a positive volume; an open one a positive volume about its own
/// centroid, as a scan of one side of a convex body has; a flat open sheet keeps the winding most of its triangles have. In
/// a one-sided patch the disagreement is left at its shortest edges.
#[must_use]
pub fn orient(mut mesh: CleanMesh) -> (CleanMesh, OrientationReport) {
    let (mut patches, mut report, open_faces) = link_patches(&mesh);
    let flips = choose_flips(&mesh, &mut patches, &open_faces);
    for (face, corners) in mesh.faces_mut().iter_mut().enumerate() {
        if flips(&mut patches, face as u32) {
            corners.swap(1, 2);
            report.flipped_triangles += 1;
        }
    }
    (mesh, report)
}

/// Joins triangles over edges of exactly two; also returns the triangles that have another kind of edge.
fn link_patches(mesh: &CleanMesh) -> (ParityForest, OrientationReport, Vec<u32>) {
    let faces = mesh.faces();
    let edges = Edges::new(mesh.vertices().len(), faces);
    let mut report = OrientationReport::default();
    let mut patches = ParityForest::new(faces.len());
    let (mut open_faces, mut contradicting) = (Vec::new(), Vec::new());
    edges.for_each(|_, halves| {
        if let [a, b] = halves {
            let against = start(faces, *a) == start(faces, *b);
            if !patches.join(a / 3, b / 3, against) {
                contradicting.push(a / 3);
            }
            return;
        }
        *(if halves.len() == 1 { &mut report.boundary_edges } else { &mut report.non_manifold_edges }) += 1;
        open_faces.extend(halves.iter().map(|half| half / 3));
    });
    if !contradicting.is_empty() {
        report.unorientable = true;
        relink_longest_first(mesh, &edges, &mut patches, &contradicting);
    }
    (patches, report, open_faces)
}

/// Links one-sided patches again, longest edges first: the result no longer depends on the order of the triangles, and the
/// disagreement is left where it does least harm.
fn relink_longest_first(mesh: &CleanMesh, edges: &Edges, patches: &mut ParityForest, contradicting: &[u32]) {
    let faces = mesh.faces();
    let mut one_sided = vec![false; faces.len()];
    contradicting.iter().for_each(|&face| one_sided[patches.root(face).0 as usize] = true);
    let members: Vec<bool> =
        (0..faces.len() as u32).map(|face| one_sided[patches.root(face).0 as usize]).collect();
    let mut links = Vec::new();
    edges.for_each(|ends, halves| {
        if let [a, b] = *halves
            && members[a as usize / 3]
        {
            let mut points = ends.map(|v| mesh.vertices()[v as usize]);
            points.sort_by(compare);
            let length = (Vector3::from(points[1]) - Vector3::from(points[0])).norm_squared();
            links.push((length, points, a, b));
        }
    });
    links.sort_by(|a, b| b.0.total_cmp(&a.0).then(compare(&a.1[0], &b.1[0])).then(compare(&a.1[1], &b.1[1])));
    patches.cut_loose(&members);
    for (_, _, a, b) in links {
        patches.join(a / 3, b / 3, start(faces, a) == start(faces, b));
    }
}

/// Sums over one patch, with its windings made to agree with its root's.
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
    /// Whether the triangles that agree with the root are to be turned, rather than the others.
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

/// Decides for every patch which of its two windings to keep; the answer says whether a triangle is to be turned.
fn choose_flips(
    mesh: &CleanMesh,
    forest: &mut ParityForest,
    open_faces: &[u32],
) -> impl Fn(&mut ParityForest, u32) -> bool + use<> {
    let reference = mesh.centre();
    let mut patch_of_root = vec![u32::MAX; mesh.faces().len()];
    let mut patches: Vec<Patch> = Vec::new();
    for (face, &corners) in mesh.faces().iter().enumerate() {
        let (root, against) = forest.root(face as u32);
        let slot = &mut patch_of_root[root as usize];
        if *slot == u32::MAX {
            *slot = patches.len() as u32;
            patches.push(Patch::default());
        }
        let [a, b, c] = mesh.corners(corners);
        let [a, b, c] = [a - reference, b - reference, c - reference];
        let normal = (b - a).cross(&(c - a)) * if against { -0.5 } else { 0.5 };
        let area = normal.norm();
        let patch = &mut patches[*slot as usize];
        patch.area += area;
        patch.first += (a + b + c) * (area / 3.0);
        patch.vector_area += normal;
        patch.volume += a.dot(&normal) / 3.0;
        patch.against += u32::from(against);
        patch.faces += 1;
    }
    for &face in open_faces {
        patches[patch_of_root[forest.root(face).0 as usize] as usize].open = true;
    }
    let turns: Vec<bool> = patches.iter().map(Patch::turns_root).collect();
    move |forest, face| {
        let (root, against) = forest.root(face);
        against != turns[patch_of_root[root as usize] as usize]
    }
}

/// Vertex at which a half-edge starts. Half-edge `3 f + k` runs from corner `k` of triangle `f` to the next corner.
fn start(faces: &[[u32; 3]], half: u32) -> u32 {
    faces[half as usize / 3][half as usize % 3]
}

/// Items sorted into one bucket a vertex, in two flat arrays.
pub(crate) struct Buckets {
    /// Where each vertex's bucket ends in `items`; it begins where the one before ends.
    ends: Vec<u32>,
    items: Vec<u32>,
}

impl Buckets {
    /// Sorts the items `0..count` by the vertex that `key` gives.
    pub(crate) fn new(vertex_count: usize, count: usize, key: impl Fn(usize) -> u32) -> Self {
        let mut ends = vec![0u32; vertex_count];
        (0..count).for_each(|item| ends[key(item) as usize] += 1);
        let mut total = 0;
        for end in &mut ends {
            // Each becomes the start of its bucket, and the end once the bucket is filled.
            (*end, total) = (total, total + *end);
        }
        let mut items = vec![0u32; count];
        for item in 0..count {
            let end = &mut ends[key(item) as usize];
            items[*end as usize] = item as u32;
            *end += 1;
        }
        Self { ends, items }
    }

    pub(crate) fn len(&self) -> usize {
        self.items.len()
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = &[u32]> {
        let mut begin = 0;
        self.ends.iter().map(move |&end| {
            let bucket = &self.items[begin as usize..end as usize];
            begin = end;
            bucket
        })
    }
}

/// Every edge of a mesh with its half-edges, found by sorting half-edges into buckets by their lower vertex.
struct Edges<'a> {
    faces: &'a [[u32; 3]],
    buckets: Buckets,
}

impl<'a> Edges<'a> {
    fn new(vertex_count: usize, faces: &'a [[u32; 3]]) -> Self {
        let buckets = Buckets::new(vertex_count, 3 * faces.len(), |half| {
            let face = faces[half / 3];
            face[half % 3].min(face[(half + 1) % 3])
        });
        Self { faces, buckets }
    }

    /// Calls `visit` with each edge's two vertices, lower index first, and its half-edges.
    fn for_each(&self, mut visit: impl FnMut([u32; 2], &[u32])) {
        let mut sorted: Vec<u64> = Vec::new();
        let mut halves: Vec<u32> = Vec::new();
        for (vertex, bucket) in self.buckets.iter().enumerate() {
            sorted.clear();
            sorted.extend(bucket.iter().map(|&half| {
                let face = self.faces[half as usize / 3];
                let [a, b] = [face[half as usize % 3], face[(half as usize + 1) % 3]];
                u64::from(a.max(b)) << 32 | u64::from(half)
            }));
            sorted.sort_unstable();
            for edge in sorted.chunk_by(|a, b| a >> 32 == b >> 32) {
                halves.clear();
                halves.extend(edge.iter().map(|&key| key as u32));
                visit([vertex as u32, (edge[0] >> 32) as u32], &halves);
            }
        }
    }
}

/// Disjoint sets.
pub(crate) struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    pub(crate) fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    pub(crate) fn root(&mut self, mut item: u32) -> u32 {
        while self.parent[item as usize] != item {
            let grandparent = self.parent[self.parent[item as usize] as usize];
            self.parent[item as usize] = grandparent;
            item = grandparent;
        }
        item
    }

    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }
}

/// Disjoint sets that also know for each item whether it agrees with its set's root.
struct ParityForest {
    /// Twice the parent, plus one where item and parent disagree.
    links: Vec<u32>,
}

impl ParityForest {
    fn new(count: usize) -> Self {
        Self { links: (0..count as u32).map(|item| 2 * item).collect() }
    }

    /// Root of the set and whether the item disagrees with it.
    fn root(&mut self, mut item: u32) -> (u32, bool) {
        let mut against = 0;
        loop {
            let link = self.links[item as usize];
            if link >> 1 == item {
                return (item, against == 1);
            }
            // Shortens the path by half: the item now hangs from its grandparent.
            let shorter = self.links[(link >> 1) as usize] ^ (link & 1);
            self.links[item as usize] = shorter;
            against ^= shorter & 1;
            item = shorter >> 1;
        }
    }

    /// Joins two sets so that the items agree, or disagree if `against`; false where they are already joined the other way.
    fn join(&mut self, a: u32, b: u32, against: bool) -> bool {
        let ((a, a_against), (b, b_against)) = (self.root(a), self.root(b));
        let against = against ^ a_against ^ b_against;
        if a == b {
            return !against;
        }
        self.links[a.max(b) as usize] = 2 * a.min(b) + u32::from(against);
        true
    }

    fn cut_loose(&mut self, members: &[bool]) {
        for (item, _) in members.iter().enumerate().filter(|(_, member)| **member) {
            self.links[item] = 2 * item as u32;
        }
    }
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

    /// The disagreement of a one-sided band is left at a single edge, the shortest across it, whatever the order of triangles.
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
            let mut at = Vec::new();
            Edges::new(oriented.vertices().len(), oriented.faces()).for_each(|ends, halves| {
                if let [a, b] = halves
                    && start(oriented.faces(), *a) == start(oriented.faces(), *b)
                {
                    let mut points = ends.map(|v| oriented.vertices()[v as usize]);
                    points.sort_by(compare);
                    at.push(points);
                }
            });
            at
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
