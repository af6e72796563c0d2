//! From a mesh as read to one that can be measured: welding, dropping, counting.

use nalgebra::Vector3;

use crate::RawMesh;
use crate::topology::Buckets;

/// Largest coordinate that counts as finite. Fourth powers and areas of such lengths still fit a double.
const MAX_COORDINATE: f64 = 1e30;

/// A triangle lower than this fraction of its longest side has no usable normal. Far above the rounding of
/// doubles (1e-16), far below that of single-precision files (6e-8), whose thin triangles are kept.
const FLAT_RATIO: f64 = 1e-12;

/// Vertices on open edges closer than this fraction of the diagonal are one: a single-precision coordinate is rounded by
/// up to 6e-8 of itself, so writers that compute a shared corner twice differ by about as much.
const WELD_PER_DIAGONAL: f64 = 1e-7;

/// The weld also stays below this fraction of the typical edge, so a far outlier that swells the diagonal cannot merge the part.
const WELD_PER_EDGE: f64 = 1e-3;

/// A cluster wider than this many weld distances is a row of points, not one point seen several times.
const CLUSTER_WIDTH: f64 = 4.0;

/// Rounds of splitting a cluster along the three axes; real clusters settle in three to six.
const SPLIT_ROUNDS: u32 = 30;

/// Stands for "no vertex" in index maps.
const NONE: u32 = u32::MAX;

/// A triangle mesh fit to be measured: finite coordinates, indices in range, no flat triangle.
///
/// Only [`repair`] makes one from outside data. Lengths are in the units of the file. Made for at most 1.4e9 triangles.
#[derive(Debug, Clone, PartialEq)]
pub struct CleanMesh {
    vertices: Vec<[f64; 3]>,
    faces: Vec<[u32; 3]>,
    bounds: [[f64; 3]; 2],
}

impl CleanMesh {
    fn new(vertices: Vec<[f64; 3]>, faces: Vec<[u32; 3]>) -> Self {
        let bounds = bounds(&vertices);
        Self { vertices, faces, bounds }
    }

    /// Vertices, n x 3, in the units of the file. Every one belongs to a triangle.
    #[must_use]
    pub fn vertices(&self) -> &[[f64; 3]] {
        &self.vertices
    }

    /// Triangles, m x 3 indices into [`vertices`](Self::vertices).
    #[must_use]
    pub fn faces(&self) -> &[[u32; 3]] {
        &self.faces
    }

    /// Lowest and highest corner of the bounding box; zeros for an empty mesh.
    #[must_use]
    pub fn bounds(&self) -> [[f64; 3]; 2] {
        self.bounds
    }

    /// Length of the bounding box's diagonal.
    #[must_use]
    pub fn diagonal(&self) -> f64 {
        (Vector3::from(self.bounds[1]) - Vector3::from(self.bounds[0])).norm()
    }

    pub(crate) fn centre(&self) -> Vector3<f64> {
        (Vector3::from(self.bounds[0]) + Vector3::from(self.bounds[1])) * 0.5
    }

    /// Corners of a triangle. Written out, because `array::map` is not inlined here and costs half the time of a pass.
    #[inline]
    pub(crate) fn corners(&self, [a, b, c]: [u32; 3]) -> [Vector3<f64>; 3] {
        [self.corner(a), self.corner(b), self.corner(c)]
    }

    #[inline]
    fn corner(&self, vertex: u32) -> Vector3<f64> {
        Vector3::from(self.vertices[vertex as usize])
    }

    pub(crate) fn faces_mut(&mut self) -> &mut [[u32; 3]] {
        &mut self.faces
    }

    /// Every vertex through `map`, triangles as they are.
    ///
    /// Meant for moving, turning and scaling. A mirroring map turns the surface inside out: call
    /// [`orient`](crate::orient) after it. Triangles that the map makes flat or not finite are dropped.
    #[must_use]
    pub fn map_vertices(mut self, map: impl Fn([f64; 3]) -> [f64; 3]) -> Self {
        for vertex in &mut self.vertices {
            // Adding zero: see `weld_equal`.
            *vertex = map(*vertex).map(|c| c + 0.0);
        }
        let Self { mut vertices, mut faces, .. } = self;
        let before = faces.len();
        faces.retain(|&face| {
            let corners = face.map(|v| vertices[v as usize]);
            corners.iter().all(|&p| usable(p)) && !is_flat(corners).0
        });
        if faces.len() < before {
            compact(&mut vertices, &mut faces);
        }
        Self::new(vertices, faces)
    }

    /// The triangles whose index `keep_face` accepts, with the vertices they use, both in their old order. May be empty.
    #[must_use]
    pub fn subset(&self, keep_face: impl Fn(usize) -> bool) -> Self {
        let kept = self.faces.iter().enumerate().filter(|(index, _)| keep_face(*index));
        let mut faces: Vec<_> = kept.map(|(_, face)| *face).collect();
        let used = used_vertices(self.vertices.len(), &faces);
        let (new_index, count) = number(&used);
        let mut vertices = Vec::with_capacity(count);
        vertices
            .extend(self.vertices.iter().zip(&used).filter(|(_, used)| **used).map(|(vertex, _)| *vertex));
        faces.iter_mut().flatten().for_each(|v| *v = new_index[*v as usize]);
        Self::new(vertices, faces)
    }
}

/// What was taken out of a mesh or changed in it, counted.
///
/// Vertices: read = kept + duplicate + near duplicate + non-finite + unreferenced. Triangles: read = kept +
/// out of range + with non-finite vertices + degenerate + duplicate. [`repair`] fills those; the last three are for the
/// steps after it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RepairTally {
    /// Vertices at exactly the place of another one, merged with it.
    pub duplicate_vertices: usize,
    /// Vertices on open edges within the rounding of a single-precision file from another one, merged with it.
    pub near_duplicate_vertices: usize,
    /// Vertices with a coordinate that is not a number, infinite or beyond 1e30.
    pub non_finite_vertices: usize,
    /// Vertices that no usable triangle needs.
    pub unreferenced_vertices: usize,
    /// Triangles with an index beyond the vertices.
    pub triangles_out_of_range: usize,
    /// Triangles with a non-finite vertex.
    pub triangles_with_non_finite_vertices: usize,
    /// Triangles without area: a corner used twice, or all three on one line.
    pub degenerate_triangles: usize,
    /// Triangles with the same three corners as another one, whichever way they are wound.
    pub duplicate_triangles: usize,
    /// Triangles turned over so that windings agree.
    pub flipped_triangles: usize,
    /// Loose fragments taken out.
    pub stray_components: usize,
    /// Pieces of table or ground taken out.
    pub ground_components: usize,
}

impl RepairTally {
    /// Every count with its name, in the order of the fields.
    #[must_use]
    pub fn entries(&self) -> Vec<(&'static str, usize)> {
        vec![
            ("duplicate_vertices", self.duplicate_vertices),
            ("near_duplicate_vertices", self.near_duplicate_vertices),
            ("non_finite_vertices", self.non_finite_vertices),
            ("unreferenced_vertices", self.unreferenced_vertices),
            ("triangles_out_of_range", self.triangles_out_of_range),
            ("triangles_with_non_finite_vertices", self.triangles_with_non_finite_vertices),
            ("degenerate_triangles", self.degenerate_triangles),
            ("duplicate_triangles", self.duplicate_triangles),
            ("flipped_triangles", self.flipped_triangles),
            ("stray_components", self.stray_components),
            ("ground_components", self.ground_components),
        ]
    }
}

/// No usable triangle is left of a mesh.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "no usable triangle is left of the {triangles} read ({} out of range, {} with non-finite vertices, {} without \
     area): export the mesh again, with triangles and finite coordinates",
    tally.triangles_out_of_range, tally.triangles_with_non_finite_vertices, tally.degenerate_triangles
)]
pub struct NothingLeft {
    /// Triangles read.
    pub triangles: usize,
    /// Why they were dropped.
    pub tally: RepairTally,
}

/// Makes a mesh measurable and counts what that took.
///
/// Merges vertices at the same place (and, along open edges, those within single-precision rounding of each other), drops what
/// is not finite, out of range, flat, double or unused. Windings are left as they are: see [`orient`](crate::orient).
/// Apart from the numbering the result does not depend on the order of vertices and triangles. Works in the
/// memory of `raw` plus about 40 bytes a vertex.
///
/// # Errors
/// [`NothingLeft`] when no triangle survives.
pub fn repair(raw: RawMesh) -> Result<(CleanMesh, RepairTally), NothingLeft> {
    let RawMesh { mut vertices, mut faces } = raw;
    let triangles = faces.len();
    let mut tally = RepairTally::default();
    let places = weld_equal(&mut vertices, &mut tally);
    renumber(&mut faces, &places, &mut tally);
    drop(places);
    let typical_edge = drop_flat(&vertices, &mut faces, &mut tally);
    tally.unreferenced_vertices += compact(&mut vertices, &mut faces);
    if weld_near(&vertices, &mut faces, typical_edge, &mut tally) {
        drop_flat(&vertices, &mut faces, &mut tally);
        let removed = compact(&mut vertices, &mut faces);
        tally.unreferenced_vertices += removed - tally.near_duplicate_vertices;
    }
    drop_duplicates(&mut faces, vertices.len(), &mut tally);
    if faces.is_empty() {
        return Err(NothingLeft { triangles, tally });
    }
    Ok((CleanMesh::new(vertices, faces), tally))
}

fn usable(p: [f64; 3]) -> bool {
    // Written so that a coordinate which is not a number fails too.
    p.iter().all(|c| c.abs() <= MAX_COORDINATE)
}

fn bounds(vertices: &[[f64; 3]]) -> [[f64; 3]; 2] {
    let Some(&first) = vertices.first() else { return [[0.0; 3]; 2] };
    vertices.iter().fold([first; 2], |[low, high], p| {
        [[0, 1, 2].map(|k| low[k].min(p[k])), [0, 1, 2].map(|k| high[k].max(p[k]))]
    })
}

/// Merges vertices of equal coordinates, compacting `vertices`; returns the new index of every old one, [`NONE`] for an unusable one.
fn weld_equal(vertices: &mut Vec<[f64; 3]>, tally: &mut RepairTally) -> Vec<u32> {
    let mut table = PlaceTable::for_vertices(vertices.len());
    let mut places = Vec::with_capacity(vertices.len());
    let mut kept = 0;
    for index in 0..vertices.len() {
        // Adding zero turns -0 into +0, which is the same place with other bits.
        let p = vertices[index].map(|c| c + 0.0);
        if !usable(p) {
            tally.non_finite_vertices += 1;
            places.push(NONE);
            continue;
        }
        vertices[kept] = p;
        let place = table.find_or_insert(&vertices[..=kept]);
        places.push(place);
        if place as usize == kept {
            kept += 1;
        } else {
            tally.duplicate_vertices += 1;
        }
    }
    vertices.truncate(kept);
    places
}

/// Open-addressing table from a vertex's coordinates to its index. It stores indices only: four bytes a slot.
struct PlaceTable {
    slots: Vec<u32>,
}

impl PlaceTable {
    fn for_vertices(count: usize) -> Self {
        // Half a slot a vertex: enough without growing for loose triangles, where six corners share a place.
        Self { slots: vec![NONE; (count / 2).next_power_of_two().max(16)] }
    }

    /// Index of the last vertex of `vertices` or of an equal one before it.
    fn find_or_insert(&mut self, vertices: &[[f64; 3]]) -> u32 {
        let last = vertices.len() - 1;
        if 2 * last >= self.slots.len() {
            self.grow(&vertices[..last]);
        }
        let bits = vertices[last].map(f64::to_bits);
        let mask = self.slots.len() - 1;
        let mut slot = mix(bits) as usize & mask;
        loop {
            let found = self.slots[slot];
            if found == NONE {
                self.slots[slot] = last as u32;
                return last as u32;
            }
            if vertices[found as usize].map(f64::to_bits) == bits {
                return found;
            }
            slot = (slot + 1) & mask;
        }
    }

    fn grow(&mut self, vertices: &[[f64; 3]]) {
        let mask = self.slots.len() * 2 - 1;
        self.slots.clear();
        self.slots.resize(mask + 1, NONE);
        for (index, p) in vertices.iter().enumerate() {
            let mut slot = mix(p.map(f64::to_bits)) as usize & mask;
            while self.slots[slot] != NONE {
                slot = (slot + 1) & mask;
            }
            self.slots[slot] = index as u32;
        }
    }
}

/// Mixes coordinate bits by folded 128-bit products, so that the zero low bits of single-precision values do no harm. The
/// constants are the first bits of pi, as in other hashes of the kind.
fn mix(bits: [u64; 3]) -> u64 {
    let fold = |a: u64, b: u64| {
        let product = u128::from(a) * u128::from(b);
        (product >> 64) as u64 ^ product as u64
    };
    let first = fold(bits[0] ^ 0x243f_6a88_85a3_08d3, bits[1] ^ 0x1319_8a2e_0370_7344);
    fold(first ^ 0xa409_3822_299f_31d0, bits[2] ^ 0x082e_fa98_ec4e_6c89)
}

fn renumber(faces: &mut Vec<[u32; 3]>, places: &[u32], tally: &mut RepairTally) {
    faces.retain_mut(|face| {
        let Some(found) = look_up(face, places) else {
            tally.triangles_out_of_range += 1;
            return false;
        };
        *face = found;
        if face.contains(&NONE) {
            tally.triangles_with_non_finite_vertices += 1;
        }
        !face.contains(&NONE)
    });
}

fn look_up(face: &[u32; 3], places: &[u32]) -> Option<[u32; 3]> {
    let [a, b, c] = face.map(|v| places.get(v as usize).copied());
    Some([a?, b?, c?])
}

/// Drops triangles without area; returns the typical edge: the median over the others of the longest side, to a factor of two.
fn drop_flat(vertices: &[[f64; 3]], faces: &mut Vec<[u32; 3]>, tally: &mut RepairTally) -> f64 {
    let before = faces.len();
    // One bin for each power of two that a double can have.
    let mut by_exponent = vec![0usize; 1 << 11];
    faces.retain(|face| {
        let (flat, longest_squared) = is_flat(face.map(|v| vertices[v as usize]));
        if !flat {
            by_exponent[(longest_squared.to_bits() >> 52) as usize & 0x7ff] += 1;
        }
        !flat
    });
    tally.degenerate_triangles += before - faces.len();
    let mut seen = 0;
    let median = by_exponent.iter().position(|count| {
        seen += count;
        2 * seen >= faces.len()
    });
    f64::from_bits((median.unwrap_or(0) as u64) << 52).sqrt()
}

/// Whether a triangle has no usable normal, and its longest side squared.
fn is_flat(corners: [[f64; 3]; 3]) -> (bool, f64) {
    let [a, b, c] = corners.map(Vector3::from);
    let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared());
    let doubled_area = (b - a).cross(&(c - a)).norm_squared();
    (doubled_area <= (FLAT_RATIO * longest) * (FLAT_RATIO * longest), longest)
}

fn used_vertices(count: usize, faces: &[[u32; 3]]) -> Vec<bool> {
    let mut used = vec![false; count];
    faces.iter().flatten().for_each(|&v| used[v as usize] = true);
    used
}

/// New index of every used vertex, in order, and how many there are.
fn number(used: &[bool]) -> (Vec<u32>, usize) {
    let mut next = 0;
    let numbers = used
        .iter()
        .map(|&used| {
            let index = if used { next } else { NONE };
            next += u32::from(used);
            index
        })
        .collect();
    (numbers, next as usize)
}

/// Drops vertices that no triangle uses; returns how many.
fn compact(vertices: &mut Vec<[f64; 3]>, faces: &mut [[u32; 3]]) -> usize {
    let used = used_vertices(vertices.len(), faces);
    let before = vertices.len();
    if used.iter().all(|&used| used) {
        return 0;
    }
    let (new_index, _) = number(&used);
    faces.iter_mut().flatten().for_each(|v| *v = new_index[*v as usize]);
    let mut flags = used.iter();
    vertices.retain(|_| flags.next().is_some_and(|&used| used));
    before - vertices.len()
}

/// Merges vertices on open edges that rounding has set apart; whether there were any.
fn weld_near(
    vertices: &[[f64; 3]],
    faces: &mut [[u32; 3]],
    typical_edge: f64,
    tally: &mut RepairTally,
) -> bool {
    let [low, high] = bounds(vertices).map(Vector3::from);
    let reach = (WELD_PER_DIAGONAL * (high - low).norm()).min(WELD_PER_EDGE * typical_edge);
    let mut candidates = open_vertices(vertices.len(), faces);
    let mut place: Vec<u32> = Vec::new();
    for cluster in clusters(vertices, &mut candidates, reach) {
        if place.is_empty() {
            place = (0..vertices.len() as u32).collect();
        }
        let lexicographic = |v: &u32| vertices[*v as usize];
        let first = cluster.iter().copied().min_by(|a, b| compare(&lexicographic(a), &lexicographic(b)));
        cluster.iter().for_each(|&v| place[v as usize] = first.unwrap_or(v));
        tally.near_duplicate_vertices += cluster.len() - 1;
    }
    faces.iter_mut().flatten().for_each(|v| *v = *place.get(*v as usize).unwrap_or(v));
    !place.is_empty()
}

/// Lexicographic order of points.
pub(crate) fn compare(a: &[f64; 3], b: &[f64; 3]) -> std::cmp::Ordering {
    a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2]))
}

/// Vertices whose triangles do not close a ring around them, and perhaps a few more.
///
/// Around a closed ring of triangles each neighbour is once the next corner and once the previous one, so hashes of the
/// neighbours cancel. Where windings disagree they do not, and the vertex is looked at for nothing.
fn open_vertices(count: usize, faces: &[[u32; 3]]) -> Vec<u32> {
    let mut balance = vec![0u32; count];
    let hash = |v: u32| v.wrapping_mul(0x9e37_79b1);
    for face in faces {
        for corner in 0..3 {
            let [vertex, next, previous] = [0, 1, 2].map(|k| face[(corner + k) % 3]);
            let sum = &mut balance[vertex as usize];
            *sum = sum.wrapping_add(hash(next)).wrapping_sub(hash(previous));
        }
    }
    (0..count as u32).filter(|&v| balance[v as usize] != 0).collect()
}

/// Groups of two and more points that no gap wider than `reach` along any axis divides.
fn clusters<'a>(vertices: &[[f64; 3]], points: &'a mut [u32], reach: f64) -> Vec<&'a [u32]> {
    let mut found = Vec::new();
    // Each entry: points, axis to look along next, axes since the last split, splits so far.
    let mut work = vec![(points, 0, 0, 0)];
    while let Some((points, axis, unsplit, rounds)) = work.pop() {
        if rounds > SPLIT_ROUNDS {
            continue;
        }
        if unsplit == 3 {
            if is_one_point(vertices, points, reach) {
                found.push(&*points);
            }
            continue;
        }
        let at = |v: u32| vertices[v as usize][axis];
        points.sort_unstable_by(|&a, &b| at(a).total_cmp(&at(b)));
        let gaps = points.windows(2).filter(|pair| at(pair[1]) - at(pair[0]) > reach).count();
        let unsplit = if gaps == 0 { unsplit + 1 } else { 1 };
        let mut rest = points;
        for _ in 0..=gaps {
            let end = rest.windows(2).position(|pair| at(pair[1]) - at(pair[0]) > reach);
            let (head, tail) = rest.split_at_mut(end.map_or(rest.len(), |last| last + 1));
            if head.len() > 1 {
                work.push((head, (axis + 1) % 3, unsplit, rounds + 1));
            }
            rest = tail;
        }
    }
    found
}

fn is_one_point(vertices: &[[f64; 3]], points: &[u32], reach: f64) -> bool {
    let places: Vec<_> = points.iter().map(|&v| vertices[v as usize]).collect();
    let [low, high] = bounds(&places);
    (0..3).all(|axis| high[axis] - low[axis] <= CLUSTER_WIDTH * reach)
}

/// Keeps one of the triangles with the same three corners.
fn drop_duplicates(faces: &mut Vec<[u32; 3]>, vertex_count: usize, tally: &mut RepairTally) {
    let buckets = Buckets::new(vertex_count, faces.len(), |face| faces[face].into_iter().min().unwrap_or(0));
    let mut doomed: Vec<u32> = Vec::new();
    let mut sorted: Vec<([u32; 3], u32)> = Vec::new();
    for bucket in buckets.iter() {
        if bucket.len() < 2 {
            continue;
        }
        sorted.clear();
        sorted.extend(bucket.iter().map(|&face| {
            let mut corners = faces[face as usize];
            corners.sort_unstable();
            (corners, face)
        }));
        sorted.sort_unstable();
        doomed.extend(sorted.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| pair[1].1));
    }
    drop_listed(faces, doomed);
    tally.duplicate_triangles = buckets.len() - faces.len();
}

fn drop_listed(faces: &mut Vec<[u32; 3]>, mut doomed: Vec<u32>) {
    doomed.sort_unstable();
    let mut doomed = doomed.into_iter().peekable();
    let mut index = 0;
    faces.retain(|_| {
        let drop = doomed.next_if_eq(&index).is_some();
        index += 1;
        !drop
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square sheet of `n` by `n` cells with the given offset along x, rounded to single precision after shaking by `shake`.
    fn sheet(n: u32, x: f64, shake: f64) -> RawMesh {
        let place =
            |i: u32, j: u32| [x + f64::from(i) / f64::from(n) + shake, f64::from(j) / f64::from(n), 0.0];
        let vertices = (0..=n).flat_map(|i| (0..=n).map(move |j| place(i, j))).collect();
        let at = |i: u32, j: u32| i * (n + 1) + j;
        let cell = |i: u32, j: u32| {
            [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]]
        };
        RawMesh { vertices, faces: (0..n).flat_map(|i| (0..n).flat_map(move |j| cell(i, j))).collect() }
    }

    fn together(mut a: RawMesh, b: RawMesh) -> RawMesh {
        let base = a.vertices.len() as u32;
        a.vertices.extend(b.vertices);
        a.faces.extend(b.faces.iter().map(|face| face.map(|v| v + base)));
        a
    }

    #[test]
    fn everything_unusable_is_dropped_and_counted() {
        let vertices = vec![
            [0., 0., 0.],
            [1., 0., 0.],
            [0., 1., 0.],
            [-0., 0., -0.],
            [f64::NAN, 0., 0.],
            [0., 1e31, 0.],
            [2., 0., 0.],
            [7., 7., 7.],
        ];
        let faces = vec![
            [0, 1, 2], // kept
            [1, 3, 2], // the same the other way round, over the vertex that is 0 with another sign
            [0, 1, 4], // not a number
            [0, 1, 5], // too large
            [0, 1, 8], // no such vertex
            [0, 3, 1], // one corner twice after welding
            [0, 1, 6], // on one line
        ];
        let (mesh, tally) = repair(RawMesh { vertices, faces }).unwrap();
        assert_eq!((mesh.faces(), mesh.vertices().len()), (&[[0, 1, 2]][..], 3));
        let expected = RepairTally {
            duplicate_vertices: 1,
            non_finite_vertices: 2,
            unreferenced_vertices: 2,
            triangles_out_of_range: 1,
            triangles_with_non_finite_vertices: 2,
            degenerate_triangles: 2,
            duplicate_triangles: 1,
            ..RepairTally::default()
        };
        assert_eq!(tally, expected);
        assert_eq!(tally.entries().iter().map(|entry| entry.1).sum::<usize>(), 11);
    }

    #[test]
    fn nothing_left_says_why() {
        let error =
            repair(RawMesh { vertices: vec![[0.; 3]; 3], faces: vec![[0, 1, 2], [0, 1, 9]] }).unwrap_err();
        assert_eq!((error.tally.degenerate_triangles, error.tally.triangles_out_of_range), (1, 1));
        assert!(
            error.to_string().starts_with("no usable triangle is left of the 2 read (1 out of range"),
            "{error}"
        );
    }

    #[test]
    fn a_seam_apart_by_rounding_is_closed_and_nothing_else() {
        let apart = |gap: f64| repair(together(sheet(9, 0.0, 0.0), sheet(9, 1.0, gap))).unwrap();
        let (mesh, tally) = apart(6e-8);
        assert_eq!((tally.near_duplicate_vertices, mesh.vertices().len()), (10, 19 * 10));
        assert_eq!(mesh.faces().len(), 4 * 81);
        let (mesh, tally) = apart(1e-6);
        assert_eq!((tally.near_duplicate_vertices, mesh.vertices().len()), (0, 20 * 10));
    }

    /// A vertex that flew a million diagonals away makes the weld distance no larger than the mesh allows.
    #[test]
    fn an_outlier_does_not_merge_the_part() {
        let far =
            RawMesh { vertices: vec![[1e7, 0., 0.], [1e7, 1., 0.], [1e7, 0., 1.]], faces: vec![[0, 1, 2]] };
        let (mesh, tally) = repair(together(sheet(9, 0.0, 0.0), far)).unwrap();
        assert_eq!((tally.near_duplicate_vertices, mesh.faces().len()), (0, 2 * 81 + 1));
    }

    /// Neighbours one weld distance apart chain into a row; the row is not one point.
    #[test]
    fn a_row_of_close_points_is_no_cluster() {
        let row: Vec<_> = (0..20).map(|k| [f64::from(k), 0.0, 0.0]).collect();
        let mut points: Vec<u32> = (0..20).collect();
        assert!(clusters(&row, &mut points, 1.0).is_empty());
        let mut pair = [3, 4, 9];
        assert_eq!(clusters(&row, &mut pair, 1.0), [[3, 4]]);
    }

    #[test]
    fn subset_keeps_the_order_of_what_it_keeps() {
        let (mesh, _) = repair(sheet(2, 0.0, 0.0)).unwrap();
        let half = mesh.subset(|face| face >= 4);
        assert_eq!((half.faces().len(), half.vertices().len()), (4, 6));
        assert_eq!(half.vertices(), &mesh.vertices()[3..]);
        assert_eq!((half.bounds(), mesh.subset(|_| false).diagonal()), ([[0.5, 0., 0.], [1., 1., 0.]], 0.0));
    }

    #[test]
    fn a_map_that_breaks_triangles_loses_them() {
        let (mesh, _) = repair(sheet(2, 0.0, 0.0)).unwrap();
        let folded = mesh.map_vertices(|[x, y, z]| [x.max(0.5), if y > 0.9 { f64::NAN } else { y }, z]);
        assert_eq!((folded.faces().len(), folded.vertices().len()), (2, 4));
        assert!(folded.vertices().iter().flatten().all(|c| c.is_finite()));
    }
}
