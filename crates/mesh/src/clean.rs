//! Turns a mesh as read into one that can be measured: welding, dropping, counting.

use std::ops::Range;
use std::sync::Arc;

use nalgebra::Vector3;

use crate::RawMesh;
use crate::edges::Links;
use crate::places::{equal_vertices, make_zeros_alike};
use bladeform_numeric::parallel;

/// Largest coordinate that counts as finite. Fourth powers and areas of such lengths still fit into a double.
const MAX_COORDINATE: f64 = 1e30;

/// A triangle with a height below this fraction of its longest side has no usable normal. The limit is far above the rounding of
/// doubles (1e-16), and far below that of single-precision files (6e-8), whose thin triangles are kept.
const FLAT_RATIO: f64 = 1e-12;

/// Vertices on open edges that are closer than this fraction of the diagonal are one. A single-precision coordinate is rounded by
/// up to 6e-8 of its value, so a writer that computes a common corner twice makes a difference of about this size.
const WELD_PER_DIAGONAL: f64 = 1e-7;

/// The weld distance is also limited to this fraction of the typical edge, so that a far outlier, which increases the diagonal, cannot merge the part.
const WELD_PER_EDGE: f64 = 1e-3;

/// A cluster wider than this many weld distances is a row of points, and not one point written several times.
const CLUSTER_WIDTH: f64 = 4.0;

/// Maximum number of rounds for splitting a cluster along the three axes. Real clusters need three to six.
const SPLIT_ROUNDS: u32 = 30;

/// Marks "no vertex" in index maps.
const NONE: u32 = u32::MAX;

/// A triangle mesh that can be measured: finite coordinates, indices in range, no flat triangle.
///
/// Only [`repair`] makes one from outside data. Lengths are in the units of the file. At most 1.4e9 triangles.
#[derive(Debug, Clone, PartialEq)]
pub struct CleanMesh {
    vertices: Vec<[f64; 3]>,
    /// Shared by the same mesh in other axes, since most of them need no change of the triangles.
    faces: Arc<Vec<[u32; 3]>>,
    bounds: [[f64; 3]; 2],
}

impl CleanMesh {
    fn new(vertices: Vec<[f64; 3]>, faces: Vec<[u32; 3]>) -> Self {
        let bounds = bounds_of_many(&vertices);
        Self { vertices, faces: Arc::new(faces), bounds }
    }

    /// Vertices, n x 3, in the units of the file. Each belongs to a triangle.
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

    /// Diagonal of the bounding box.
    #[must_use]
    pub fn diagonal(&self) -> f64 {
        (Vector3::from(self.bounds[1]) - Vector3::from(self.bounds[0])).norm()
    }

    pub(crate) fn centre(&self) -> Vector3<f64> {
        (Vector3::from(self.bounds[0]) + Vector3::from(self.bounds[1])) * 0.5
    }

    /// Corners of a triangle. Written out, because `array::map` is not inlined here and takes half the time of a pass.
    #[inline]
    pub(crate) fn corners(&self, [a, b, c]: [u32; 3]) -> [Vector3<f64>; 3] {
        [self.corner(a), self.corner(b), self.corner(c)]
    }

    #[inline]
    fn corner(&self, vertex: u32) -> Vector3<f64> {
        Vector3::from(self.vertices[vertex as usize])
    }

    pub(crate) fn faces_mut(&mut self) -> &mut [[u32; 3]] {
        Arc::<Vec<_>>::make_mut(&mut self.faces)
    }

    /// Applies `map` to every vertex and keeps the triangles.
    ///
    /// Intended for translation, rotation and scaling. A reflection turns the surface inside out: call
    /// [`orient`](crate::orient) after it. Triangles that become flat or not finite are dropped.
    #[must_use]
    pub fn map_vertices(self, map: impl Fn([f64; 3]) -> [f64; 3] + Sync) -> Self {
        let Self { mut vertices, mut faces, .. } = self;
        // Adding zero: see `make_zeros_alike`.
        parallel::parts(&mut vertices, |_, part| part.iter_mut().for_each(|p| *p = map(*p).map(|c| c + 0.0)));
        let fit = |face: [u32; 3]| {
            let [a, b, c] = corners(&vertices, face);
            usable(a) && usable(b) && usable(c) && !is_flat([a, b, c]).0
        };
        let all_fit = |group: Range<usize>| faces[group].iter().all(|&face| fit(face));
        if !parallel::groups(faces.len(), all_fit).into_iter().all(|fit| fit) {
            let faces = Arc::make_mut(&mut faces);
            faces.retain(|&face| fit(face));
            compact(&mut vertices, faces);
        }
        let bounds = bounds_of_many(&vertices);
        Self { vertices, faces, bounds }
    }

    /// The triangles whose index `keep_face` accepts, with their vertices, both in their old order. May be empty.
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

    /// [`subset`](Self::subset) in the memory of the whole mesh.
    pub(crate) fn into_subset(self, keep_face: impl Fn(usize) -> bool) -> Self {
        let Self { mut vertices, faces, .. } = self;
        let mut faces = Arc::unwrap_or_clone(faces);
        let mut index = 0;
        faces.retain(|_| {
            index += 1;
            keep_face(index - 1)
        });
        compact(&mut vertices, &mut faces);
        Self::new(vertices, faces)
    }
}

/// Counts of what was removed from a mesh or changed in it.
///
/// Vertices: read = kept + duplicate + near duplicate + non-finite + unreferenced. Triangles: read = kept +
/// out of range + with non-finite vertices + degenerate + duplicate. [`repair`] sets these counts. The last three are set by the
/// steps after it.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct RepairTally {
    /// Vertices at exactly the position of another one, merged with it.
    pub duplicate_vertices: usize,
    /// Vertices on open edges that differ from another one only by single-precision rounding, merged with it.
    pub near_duplicate_vertices: usize,
    /// Vertices with a coordinate that is not a number, infinite or beyond 1e30.
    pub non_finite_vertices: usize,
    /// Vertices that no usable triangle uses.
    pub unreferenced_vertices: usize,
    /// Triangles with an index beyond the vertices.
    pub triangles_out_of_range: usize,
    /// Triangles with a non-finite vertex.
    pub triangles_with_non_finite_vertices: usize,
    /// Triangles without area: a corner used twice, or all three on one line.
    pub degenerate_triangles: usize,
    /// Triangles with the same three corners as another one, with any winding.
    pub duplicate_triangles: usize,
    /// Triangles flipped so that windings agree.
    pub flipped_triangles: usize,
    /// Loose fragments removed.
    pub stray_components: usize,
    /// Pieces of table or ground removed.
    pub ground_components: usize,
}

impl RepairTally {
    /// All counts with their names, in the order of the fields.
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

/// A mesh has no usable triangle left.
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

/// Makes a mesh measurable and counts the changes.
///
/// Merges vertices at the same position and, along open edges, those within single-precision rounding of each other. Drops everything
/// that is not finite, out of range, flat, duplicate or unused. Windings are not changed: see [`orient`](crate::orient).
/// Apart from the numbering the result does not depend on the order of vertices and triangles. It needs the
/// memory of `raw` plus about 60 bytes per vertex.
///
/// # Errors
/// [`NothingLeft`] if no triangle is left.
pub fn repair(raw: RawMesh) -> Result<(CleanMesh, RepairTally), NothingLeft> {
    let (mesh, tally, _) = repair_linked(raw, false)?;
    Ok((mesh, tally))
}

/// [`repair`] that also returns the connections of the triangles, which it needs itself. `distinct`: no two usable vertices are at the same position.
pub(crate) fn repair_linked(
    raw: RawMesh,
    distinct: bool,
) -> Result<(CleanMesh, RepairTally, Links), NothingLeft> {
    let RawMesh { mut vertices, mut faces } = raw;
    let triangles = faces.len();
    let mut tally = RepairTally::default();
    let count = vertices.len();
    match weld_equal(&mut vertices, distinct, &mut tally) {
        Some(places) => renumber(&mut faces, &places, &mut tally),
        None => drop_out_of_range(&mut faces, count, &mut tally),
    }
    let typical_edge = drop_flat(&vertices, &mut faces, &mut tally);
    tally.unreferenced_vertices += compact(&mut vertices, &mut faces);
    let mut links = Links::of(vertices.len(), &faces);
    let welded =
        weld_near(&vertices, &mut faces, std::mem::take(&mut links.uneven), typical_edge, &mut tally);
    if welded {
        drop_flat(&vertices, &mut faces, &mut tally);
        let removed = compact(&mut vertices, &mut faces);
        tally.unreferenced_vertices += removed - tally.near_duplicate_vertices;
    }
    if welded {
        links = Links::of(vertices.len(), &faces);
    }
    if !links.doubled.is_empty() {
        tally.duplicate_triangles = links.doubled.len();
        drop_listed(&mut faces, &links.doubled);
        links = Links::of(vertices.len(), &faces);
    }
    if faces.is_empty() {
        return Err(NothingLeft { triangles, tally });
    }
    Ok((CleanMesh::new(vertices, faces), tally, links))
}

/// Whether a position can be measured: finite, and of a size whose fourth power still fits.
pub(crate) fn usable(p: [f64; 3]) -> bool {
    // Written so that a coordinate that is not a number fails too.
    p.iter().all(|c| c.abs() <= MAX_COORDINATE)
}

fn bounds(vertices: &[[f64; 3]]) -> [[f64; 3]; 2] {
    let Some(&first) = vertices.first() else { return [[0.0; 3]; 2] };
    vertices.iter().fold([first; 2], |[low, high], p| {
        [[0, 1, 2].map(|k| low[k].min(p[k])), [0, 1, 2].map(|k| high[k].max(p[k]))]
    })
}

/// The same in parallel.
fn bounds_of_many(vertices: &[[f64; 3]]) -> [[f64; 3]; 2] {
    let corners = parallel::groups(vertices.len(), |group| bounds(&vertices[group]));
    bounds(corners.as_flattened())
}

/// Merges vertices of equal coordinates and drops unusable ones. Returns the new index of every old vertex, [`NONE`] for an unusable one, or nothing if
/// no vertex changes.
fn weld_equal(vertices: &mut Vec<[f64; 3]>, distinct: bool, tally: &mut RepairTally) -> Option<Vec<u32>> {
    make_zeros_alike(vertices);
    let unusable = |group: Range<usize>| vertices[group].iter().filter(|p| !usable(**p)).count();
    tally.non_finite_vertices = parallel::groups(vertices.len(), unusable).into_iter().sum();
    let equal = if distinct { vec![] } else { equal_vertices(vertices, usable) };
    tally.duplicate_vertices = equal.len();
    if tally.non_finite_vertices == 0 && equal.is_empty() {
        return None;
    }
    let mut places = vec![NONE; vertices.len()];
    let (mut kept, mut equal) = (0, equal.into_iter().peekable());
    for vertex in 0..vertices.len() {
        if !usable(vertices[vertex]) {
            continue;
        }
        if let Some([_, first]) = equal.next_if(|[own, _]| *own as usize == vertex) {
            places[vertex] = places[first as usize];
        } else {
            places[vertex] = kept as u32;
            vertices[kept] = vertices[vertex];
            kept += 1;
        }
    }
    vertices.truncate(kept);
    Some(places)
}

/// Drops triangles with an index of `count` and more.
fn drop_out_of_range(faces: &mut Vec<[u32; 3]>, count: usize, tally: &mut RepairTally) {
    let in_range = |face: &[u32; 3]| face.iter().all(|&v| (v as usize) < count);
    let outside = |group: Range<usize>| faces[group].iter().filter(|face| !in_range(face)).count();
    tally.triangles_out_of_range = parallel::groups(faces.len(), outside).into_iter().sum();
    if 0 < tally.triangles_out_of_range {
        faces.retain(in_range);
    }
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

/// Drops triangles without area. Returns the typical edge: the median of the longest sides of the others, within a factor of two.
fn drop_flat(vertices: &[[f64; 3]], faces: &mut Vec<[u32; 3]>, tally: &mut RepairTally) -> f64 {
    let counted = parallel::groups(faces.len(), |group| {
        // One bin per power of two of a double.
        let (mut flats, mut by_exponent) = (0, vec![0usize; 1 << 11]);
        for face in &faces[group] {
            let (flat, longest_squared) = is_flat(corners(vertices, *face));
            if flat {
                flats += 1;
            } else {
                by_exponent[(longest_squared.to_bits() >> 52) as usize & 0x7ff] += 1;
            }
        }
        (flats, by_exponent)
    });
    let flats: usize = counted.iter().map(|(flats, _)| flats).sum();
    if 0 < flats {
        faces.retain(|face| !is_flat(corners(vertices, *face)).0);
    }
    tally.degenerate_triangles += flats;
    let mut seen = 0;
    let median = (0..1 << 11).position(|bin| {
        seen += counted.iter().map(|(_, by_exponent)| by_exponent[bin]).sum::<usize>();
        2 * seen >= faces.len()
    });
    f64::from_bits((median.unwrap_or(0) as u64) << 52).sqrt()
}

/// Corners of a triangle. Written out, because `array::map` is not inlined here and takes half the time of a pass.
#[inline]
fn corners(vertices: &[[f64; 3]], [a, b, c]: [u32; 3]) -> [[f64; 3]; 3] {
    [vertices[a as usize], vertices[b as usize], vertices[c as usize]]
}

/// Whether a triangle has no usable normal, and the square of its longest side.
#[inline]
fn is_flat([a, b, c]: [[f64; 3]; 3]) -> (bool, f64) {
    let (a, b, c) = (Vector3::from(a), Vector3::from(b), Vector3::from(c));
    let longest = (b - a).norm_squared().max((c - b).norm_squared()).max((a - c).norm_squared());
    let doubled_area = (b - a).cross(&(c - a)).norm_squared();
    (doubled_area <= (FLAT_RATIO * longest) * (FLAT_RATIO * longest), longest)
}

fn used_vertices(count: usize, faces: &[[u32; 3]]) -> Vec<bool> {
    let mut used = vec![false; count];
    faces.iter().flatten().for_each(|&v| used[v as usize] = true);
    used
}

/// New index of every used vertex, in order, and their number.
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

/// Drops vertices that no triangle uses. Returns their number.
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

/// Merges vertices on open edges that differ by rounding. Returns whether there were any. `candidates`: vertices whose triangles do not form a closed ring.
fn weld_near(
    vertices: &[[f64; 3]],
    faces: &mut [[u32; 3]],
    mut candidates: Vec<u32>,
    typical_edge: f64,
    tally: &mut RepairTally,
) -> bool {
    let [low, high] = bounds_of_many(vertices).map(Vector3::from);
    let reach = (WELD_PER_DIAGONAL * (high - low).norm()).min(WELD_PER_EDGE * typical_edge);
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
    if place.is_empty() {
        return false;
    }
    faces.iter_mut().flatten().for_each(|v| *v = place[*v as usize]);
    true
}

/// Lexicographic order of points.
pub(crate) fn compare(a: &[f64; 3], b: &[f64; 3]) -> std::cmp::Ordering {
    a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])).then(a[2].total_cmp(&b[2]))
}

/// Groups of two or more points without a gap wider than `reach` along any axis.
fn clusters<'a>(vertices: &[[f64; 3]], points: &'a mut [u32], reach: f64) -> Vec<&'a [u32]> {
    let mut found = Vec::new();
    // Each entry: points, next axis, axes since the last split, splits so far.
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

/// Drops the triangles of an ascending list.
fn drop_listed(faces: &mut Vec<[u32; 3]>, doomed: &[u32]) {
    let mut doomed = doomed.iter().peekable();
    let mut index = 0;
    faces.retain(|_| {
        let drop = doomed.next_if_eq(&&index).is_some();
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
            [1, 3, 2], // the same with opposite winding, using the vertex at zero with the other sign
            [0, 1, 4], // not a number
            [0, 1, 5], // too large
            [0, 1, 8], // no such vertex
            [0, 3, 1], // a repeated corner after welding
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

    /// A vertex a million diagonals away does not increase the weld distance beyond what the mesh allows.
    #[test]
    fn an_outlier_does_not_merge_the_part() {
        let far =
            RawMesh { vertices: vec![[1e7, 0., 0.], [1e7, 1., 0.], [1e7, 0., 1.]], faces: vec![[0, 1, 2]] };
        let (mesh, tally) = repair(together(sheet(9, 0.0, 0.0), far)).unwrap();
        assert_eq!((tally.near_duplicate_vertices, mesh.faces().len()), (0, 2 * 81 + 1));
    }

    /// Neighbours one weld distance apart form a row. The row is not one point.
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
