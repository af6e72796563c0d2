//! Plane cuts: many parallel planes in one pass over the triangles. Segments are joined to chains by the edges they cross.

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::clean::compare;
use bladeform_numeric::parallel;

/// Chain ends closer than this fraction of the diagonal are joined. If a corner of one triangle is on the side of
/// another, the plane crosses different edges of the two at the same point, up to single-precision rounding.
const JOIN_PER_DIAGONAL: f64 = 1e-7;

/// Below this difference, as a fraction of the chain length, neither winding direction of the triangles prevails.
const DIRECTION_TIE: f64 = 1e-9;

/// Number of loose ends checked after each one in lexicographic order. Real ones have one or two partners. The limit bounds the time for a
/// hostile file with millions of them at one point.
const LOOSE_NEIGHBOURS: usize = 64;

/// Marks "no segment end".
const NONE: u32 = u32::MAX;

/// One contour of a cut: a polygon if closed, else a polyline. Neighbouring points differ.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// Corners, n x 3, in the units of the file. The first is not repeated at the end. At least two, three if closed.
    /// A contour that goes out and back along one line is an open chain of three.
    pub points: Vec<[f64; 3]>,
    /// Whether the last point is joined to the first.
    pub closed: bool,
}

impl Chain {
    /// Length, with the closing side of a closed chain.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.sides().map(|[p, q]| (q - p).norm()).sum()
    }

    /// Enclosed area seen from the tip of `normal` (any length except zero), positive anticlockwise. An open chain is
    /// closed by a straight line.
    #[must_use]
    pub fn area(&self, normal: [f64; 3]) -> f64 {
        let Some(&first) = self.points.first() else { return 0.0 };
        let first = Vector3::from(first);
        let doubled: Vector3<f64> = self.sides().map(|[p, q]| (p - first).cross(&(q - first))).sum();
        0.5 * doubled.dot(&Vector3::from(normal).normalize())
    }

    fn sides(&self) -> impl Iterator<Item = [Vector3<f64>; 2]> {
        let closing = if self.closed {
            self.points.last().into_iter().zip(self.points.first())
        } else {
            None.into_iter().zip(None)
        };
        let along = self.points.iter().zip(self.points.iter().skip(1));
        along.chain(closing).map(|(p, q)| [Vector3::from(*p), Vector3::from(*q)])
    }
}

/// The contours in one plane.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaneCut {
    /// The plane is `normal . p = offset`.
    pub offset: f64,
    /// Longest first; ties by their first points.
    pub chains: Vec<Chain>,
}

impl PlaneCut {
    /// Length of all chains.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.chains.iter().map(Chain::length).sum()
    }

    /// Area enclosed by the closed chains, holes subtracted; `normal` as given to [`cut`].
    #[must_use]
    pub fn area(&self, normal: [f64; 3]) -> f64 {
        self.chains.iter().filter(|chain| chain.closed).map(|chain| chain.area(normal)).sum()
    }
}

/// Cuts the mesh with the planes `normal . p = offset`, all in one pass. Returns one [`PlaneCut`] per offset, in their order.
///
/// - `normal`: any length; for a unit normal the offsets are distances from the origin.
/// - `offsets`: in any order, with or without repetition. An offset that is not finite gives a cut without chains.
///
/// A vertex on the plane counts as above it. So every triangle is either crossed at two of its edges or not at all, and a
/// solid is cut in closed chains whatever the plane touches. A plane through the top face of a box gives the
/// outline of that face, a plane through its bottom face nothing.
///
/// Chains run with the solid on their left seen from the tip of `normal`: outer contours anticlockwise, holes
/// clockwise. If windings disagree, the longer part decides. A closed chain begins at its lexicographically smallest point.
/// Together with the order of the chains this makes the result independent of the numbering of vertices and triangles. At
/// edges of more than two triangles every segment is still used exactly once.
#[must_use]
pub fn cut(mesh: &CleanMesh, normal: [f64; 3], offsets: &[f64]) -> Vec<PlaneCut> {
    let normal = Vector3::from(normal);
    let mut order: Vec<usize> = (0..offsets.len()).filter(|&plane| offsets[plane].is_finite()).collect();
    order.sort_by(|&a, &b| offsets[a].total_cmp(&offsets[b]));
    let sorted: Vec<f64> = order.iter().map(|&plane| offsets[plane]).collect();
    let slicer = Slicer { mesh, levels: levels(mesh, normal, &sorted), offsets: &sorted, normal };

    let mut cuts: Vec<_> = offsets.iter().map(|&offset| PlaneCut { offset, chains: Vec::new() }).collect();
    let buckets = slicer.slice();
    for (plane, chains) in slicer.join(&buckets) {
        cuts[order[plane]].chains = chains;
    }
    cuts
}

/// Segment of a plane within a triangle, between the two crossed edges. An edge is its lower vertex index shifted up by 32 bits
/// plus the higher one.
#[derive(Clone, Copy)]
struct Segment {
    from: u64,
    to: u64,
}

/// For every vertex the number of planes, in ascending order, that it is above or on.
fn levels(mesh: &CleanMesh, normal: Vector3<f64>, offsets: &[f64]) -> Vec<u32> {
    let mut levels = vec![0; mesh.vertices().len()];
    parallel::parts(&mut levels, |first, part| {
        // Neighbours in the file are mostly neighbours in space, so the last level is nearly always the right one.
        let (mut level, mut below, mut above) = (0, f64::INFINITY, f64::NEG_INFINITY);
        for (slot, p) in part.iter_mut().zip(&mesh.vertices()[first..]) {
            let height = normal.dot(&Vector3::from(*p));
            if !(below <= height && height < above) {
                level = offsets.partition_point(|&offset| offset <= height);
                below = if level == 0 { f64::NEG_INFINITY } else { offsets[level - 1] };
                above = offsets.get(level).copied().unwrap_or(f64::INFINITY);
            }
            *slot = level as u32;
        }
    });
    levels
}

struct Slicer<'a> {
    mesh: &'a CleanMesh,
    /// See [`levels`].
    levels: Vec<u32>,
    offsets: &'a [f64],
    normal: Vector3<f64>,
}

impl Slicer<'_> {
    /// Segments of every plane, from each group of neighbouring triangles.
    fn slice(&self) -> Vec<Vec<Vec<Segment>>> {
        let faces = self.mesh.faces();
        parallel::groups(faces.len(), |group| self.slice_faces(&faces[group]))
    }

    fn slice_faces(&self, faces: &[[u32; 3]]) -> Vec<Vec<Segment>> {
        let mut buckets = vec![Vec::new(); self.offsets.len()];
        for face in faces {
            let [a, b, c] = *face;
            let levels = [self.levels[a as usize], self.levels[b as usize], self.levels[c as usize]];
            let low = levels[0].min(levels[1]).min(levels[2]);
            let high = levels[0].max(levels[1]).max(levels[2]);
            for plane in low..high {
                buckets[plane as usize].extend(segment(face, levels.map(|level| level > plane)));
            }
        }
        buckets
    }

    fn join(&self, buckets: &[Vec<Vec<Segment>>]) -> Vec<(usize, Vec<Chain>)> {
        parallel::indices(self.offsets.len(), |plane| (plane, self.join_plane(buckets, plane)))
    }

    fn join_plane(&self, buckets: &[Vec<Vec<Segment>>], plane: usize) -> Vec<Chain> {
        let segments: Vec<Segment> = buckets.iter().flat_map(|share| &share[plane]).copied().collect();
        let mut joiner = Joiner::new(&segments, |edge| self.crossing(edge, self.offsets[plane]));
        joiner.pair_by_edge(self.normal);
        joiner.pair_by_place(JOIN_PER_DIAGONAL * self.mesh.diagonal());
        let mut chains: Vec<_> =
            joiner.walk(self.normal.into()).into_iter().map(|chain| (chain.length(), chain)).collect();
        chains.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| compare_points(&a.1.points, &b.1.points)));
        chains.into_iter().map(|(_, chain)| chain).collect()
    }

    /// Where the plane crosses an edge. Computed from the lexicographically smaller end, so that both triangles of the edge get
    /// the same bits for any numbering.
    fn crossing(&self, edge: u64, offset: f64) -> [f64; 3] {
        let mut ends = [edge >> 32, edge & 0xffff_ffff].map(|v| self.mesh.vertices()[v as usize]);
        ends.sort_by(compare);
        let [p, q] = ends;
        let [at_p, at_q] = ends.map(|p| self.normal.dot(&Vector3::from(p)));
        let along = ((offset - at_p) / (at_q - at_p)).clamp(0.0, 1.0);
        // From the nearer end, so that a vertex on the plane is reproduced exactly.
        if along <= 0.5 {
            [0, 1, 2].map(|k| p[k] + along * (q[k] - p[k]))
        } else {
            [0, 1, 2].map(|k| q[k] + (1.0 - along) * (p[k] - q[k]))
        }
    }
}

/// The segment in which a plane crosses a triangle. `-` is a corner below the plane, `+` one above or on it. Corners are in
/// anticlockwise order, which may begin anywhere:
///
/// | corners | segment |
/// |---|---|
/// | `- - -`, `+ + +` | none |
/// | `+ - -` | from the edge after the `+` to the edge before it |
/// | `- + +` | from the edge before the `-` to the edge after it |
///
/// Both run from the descending edge to the ascending edge, so that the inside is on the left.
fn segment(face: &[u32; 3], above: [bool; 3]) -> Option<Segment> {
    let edge = |begins_above: bool| {
        let k = (0..3).find(|&k| above[k] == begins_above && above[(k + 1) % 3] != begins_above)?;
        let (a, b) = (face[k], face[(k + 1) % 3]);
        Some(u64::from(a.min(b)) << 32 | u64::from(a.max(b)))
    };
    Some(Segment { from: edge(true)?, to: edge(false)? })
}

/// Segments of one plane while they are joined. End `2 s` is the start of segment `s`, `2 s + 1` its end.
struct Joiner {
    /// Ends grouped by their edge. The order of the groups has no meaning.
    grouped: Vec<(u64, u32)>,
    points: Vec<[f64; 3]>,
    /// The end that each end is joined to.
    mates: Vec<u32>,
}

impl Joiner {
    fn new(segments: &[Segment], crossing: impl Fn(u64) -> [f64; 3]) -> Self {
        let both = |(index, segment): (usize, &Segment)| {
            [(segment.from, 2 * index as u32), (segment.to, 2 * index as u32 + 1)]
        };
        let mut grouped: Vec<_> = segments.iter().enumerate().flat_map(both).collect();
        grouped.sort_unstable();
        let mut points = vec![[0.0; 3]; grouped.len()];
        for group in grouped.chunk_by(|a, b| a.0 == b.0) {
            let point = crossing(group[0].0);
            group.iter().for_each(|&(_, end)| points[end as usize] = point);
        }
        let mates = vec![NONE; grouped.len()];
        Self { grouped, points, mates }
    }

    fn pair(&mut self, a: u32, b: u32) {
        self.mates[a as usize] = b;
        self.mates[b as usize] = a;
    }

    /// Joins ends on the same edge.
    fn pair_by_edge(&mut self, normal: Vector3<f64>) {
        let grouped = std::mem::take(&mut self.grouped);
        for group in grouped.chunk_by(|a, b| a.0 == b.0) {
            match group {
                [_] => {}
                [(_, a), (_, b)] => self.pair(*a, *b),
                _ => self.pair_junction(group, normal),
            }
        }
    }

    /// Joins the ends at an edge of more than two triangles. Each incoming end is joined to the first outgoing end clockwise from it; the two
    /// bound a wedge of the solid. The remaining ends are joined in pairs.
    fn pair_junction(&mut self, group: &[(u64, u32)], normal: Vector3<f64>) {
        let mut ends: Vec<_> = group.iter().map(|&(_, end)| (self.bearing(end, normal), end)).collect();
        ends.sort_by(|a, b| {
            let far = |end: u32| &self.points[end as usize ^ 1];
            a.0.total_cmp(&b.0).then_with(|| compare(far(a.1), far(b.1))).then((a.1 & 1).cmp(&(b.1 & 1)))
        });
        let mut leaving = Vec::new();
        // Twice around, because the partner may be beyond the starting direction.
        for lap in 0..2 {
            for &(_, end) in &ends {
                if end & 1 == 0 {
                    leaving.extend((lap == 0).then_some(end));
                } else if self.mates[end as usize] == NONE
                    && let Some(start) = leaving.pop()
                {
                    self.pair(start, end);
                }
            }
        }
        let left: Vec<u32> =
            ends.iter().map(|end| end.1).filter(|&end| self.mates[end as usize] == NONE).collect();
        left.chunks_exact(2).for_each(|two| self.pair(two[0], two[1]));
    }

    /// Direction in the plane of the segment of an end, as an angle.
    fn bearing(&self, end: u32, normal: Vector3<f64>) -> f64 {
        let away = Vector3::from(self.points[end as usize ^ 1]) - Vector3::from(self.points[end as usize]);
        let mut least = Vector3::zeros();
        least[normal.iamin()] = 1.0;
        let right = least.cross(&normal).normalize();
        let up = normal.normalize().cross(&right);
        away.dot(&up).atan2(away.dot(&right))
    }

    /// Joins loose ends at the same point, nearest first.
    fn pair_by_place(&mut self, reach: f64) {
        let mut loose: Vec<u32> =
            (0..self.mates.len() as u32).filter(|&end| self.mates[end as usize] == NONE).collect();
        loose.sort_by(|&a, &b| compare(&self.points[a as usize], &self.points[b as usize]));
        let mut pairs = Vec::new();
        for (index, &a) in loose.iter().enumerate() {
            let p = self.points[a as usize];
            for &b in loose[index + 1..].iter().take(LOOSE_NEIGHBOURS) {
                let q = self.points[b as usize];
                if q[0] - p[0] > reach {
                    break;
                }
                let distance = (Vector3::from(q) - Vector3::from(p)).norm();
                if distance <= reach && a / 2 != b / 2 {
                    pairs.push((distance, a, b));
                }
            }
        }
        // A stable sort keeps ties in the order of the points.
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (_, a, b) in pairs {
            if self.mates[a as usize] == NONE && self.mates[b as usize] == NONE {
                self.pair(a, b);
            }
        }
    }

    /// Follows the joined segments, every one exactly once: first from loose ends, then around the loops that remain.
    fn walk(&self, normal: [f64; 3]) -> Vec<Chain> {
        let mut used = vec![false; self.mates.len() / 2];
        let ends = 0..self.mates.len() as u32;
        let loose = ends.clone().filter(|&end| self.mates[end as usize] == NONE);
        let starts = loose.chain(ends.filter(|end| end & 1 == 0));
        let mut chains = Vec::new();
        for start in starts {
            if !used[start as usize / 2] {
                chains.extend(self.walk_from(start, &mut used).finish(normal));
            }
        }
        chains
    }

    fn walk_from(&self, start: u32, used: &mut [bool]) -> Walked {
        let mut walked = Walked { points: Vec::new(), closed: false, along: 0.0, against: 0.0 };
        let mut end = start;
        while end != NONE && !used[end as usize / 2] {
            used[end as usize / 2] = true;
            let [p, q] = [end, end ^ 1].map(|end| self.points[end as usize]);
            walked.points.extend([p, q]);
            let length = (Vector3::from(q) - Vector3::from(p)).norm();
            *(if end & 1 == 0 { &mut walked.along } else { &mut walked.against }) += length;
            end = self.mates[end as usize ^ 1];
        }
        walked.closed = end == start;
        walked
    }
}

/// A chain as traversed, with the length of the segments traversed along and against their own direction.
struct Walked {
    points: Vec<[f64; 3]>,
    closed: bool,
    along: f64,
    against: f64,
}

impl Walked {
    /// Drops repeated points and fixes direction and start; `None` for a chain that is a single point.
    fn finish(mut self, normal: [f64; 3]) -> Option<Chain> {
        let same = |a: &[f64; 3], b: &[f64; 3]| compare(a, b).is_eq();
        self.points.dedup_by(|a, b| same(a, b));
        while self.closed
            && self.points.len() > 1
            && same(&self.points[0], &self.points[self.points.len() - 1])
        {
            self.points.pop();
        }
        if self.points.len() < 2 {
            return None;
        }
        if self.closed && self.points.len() == 2 {
            // Out and back along one line: not a polygon.
            self.closed = false;
            self.points.sort_by(compare);
            self.points.push(self.points[0]);
        }
        let mut chain = Chain { closed: self.closed, points: self.points };
        let undecided = (self.along - self.against).abs() <= DIRECTION_TIE * (self.along + self.against);
        let backwards = match (undecided, chain.closed) {
            (false, _) => self.along < self.against,
            (true, true) => chain.area(normal) < 0.0,
            (true, false) => compare(&chain.points[0], &chain.points[chain.points.len() - 1]).is_gt(),
        };
        if backwards {
            chain.points.reverse();
        }
        if chain.closed {
            let first = smallest_rotation(&chain.points);
            chain.points.rotate_left(first);
        }
        Some(chain)
    }
}

/// Index of the smallest point. If it occurs several times, the one followed by the smallest next point.
fn smallest_rotation(points: &[[f64; 3]]) -> usize {
    let next = |index: usize| &points[(index + 1) % points.len()];
    let smaller =
        |&a: &usize, &b: &usize| compare(&points[a], &points[b]).then_with(|| compare(next(a), next(b)));
    (0..points.len()).min_by(smaller).unwrap_or(0)
}

fn compare_points(a: &[[f64; 3]], b: &[[f64; 3]]) -> std::cmp::Ordering {
    let pairs = a.iter().zip(b).map(|(p, q)| compare(p, q));
    pairs.fold(a.len().cmp(&b.len()), |order, next| order.then(next))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RawMesh, repair};

    const UP: [f64; 3] = [0.0, 0.0, 1.0];

    fn mesh(vertices: Vec<[f64; 3]>, faces: Vec<[u32; 3]>) -> CleanMesh {
        repair(RawMesh { vertices, faces }).unwrap().0
    }

    /// A box from `low` to `high`, its corners numbered by their bits.
    fn cuboid(low: [f64; 3], high: [f64; 3]) -> RawMesh {
        let corner = |k: usize| [0, 1, 2].map(|axis| if k >> axis & 1 == 1 { high[axis] } else { low[axis] });
        let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let faces = sides.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        RawMesh { vertices: (0..8).map(corner).collect(), faces }
    }

    fn together(bodies: [RawMesh; 2]) -> CleanMesh {
        let [mut all, second] = bodies;
        let base = all.vertices.len() as u32;
        all.vertices.extend(second.vertices);
        all.faces.extend(second.faces.iter().map(|face| face.map(|v| v + base)));
        mesh(all.vertices, all.faces)
    }

    /// All 27 combinations of three corners below, on and above the plane.
    #[test]
    fn every_combination_of_sides_is_in_the_table() {
        let mut crossed = 0;
        for case in 0..27 {
            let heights = [case / 9, case / 3 % 3, case % 3].map(|side| f64::from(side - 1));
            let above = heights.map(|height| height >= 0.0);
            let found = segment(&[10, 11, 12], above);
            if above[0] == above[1] && above[1] == above[2] {
                assert!(found.is_none(), "{heights:?}");
                continue;
            }
            crossed += 1;
            let found = found.unwrap();
            let corners = |edge: u64| [(edge >> 32) as usize - 10, (edge & 0xffff_ffff) as usize - 10];
            // Each edge is taken from the end where the anticlockwise boundary of the triangle reaches it.
            let met_from = |edge: u64| {
                let [a, b] = corners(edge);
                if (a + 1) % 3 == b { (a, b) } else { (b, a) }
            };
            let ((down_from, down_to), (up_from, up_to)) = (met_from(found.from), met_from(found.to));
            assert!(above[down_from] && !above[down_to] && !above[up_from] && above[up_to], "{heights:?}");
        }
        // 1 case has all corners below, 8 cases have all on or above.
        assert_eq!(crossed, 18);
    }

    #[test]
    fn planes_on_faces_and_edges_of_a_box() {
        let body = mesh(cuboid([0.; 3], [1., 2., 3.]).vertices, cuboid([0.; 3], [1., 2., 3.]).faces);
        let cuts = cut(&body, UP, &[3.0, 0.0, 1.5, 3.1, -0.1, 1.5]);
        let areas: Vec<f64> = cuts.iter().map(|cut| cut.area(UP)).collect();
        assert_eq!(areas, [2.0, 0.0, 2.0, 0.0, 0.0, 2.0]);
        assert_eq!(cuts[0].chains[0].points, [[0., 0., 3.], [1., 0., 3.], [1., 2., 3.], [0., 2., 3.]]);
        assert_eq!(cuts[2], cuts[5]);
        // Through two opposite edges.
        let diagonal = &cut(&body, [2.0, -1.0, 0.0], &[0.0])[0];
        assert!((diagonal.area([2.0, -1.0, 0.0]) - 3.0 * 5f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_hole_runs_clockwise() {
        let mut inner = cuboid([0.5; 3], [1.0, 1.5, 2.5]);
        inner.faces.iter_mut().for_each(|face| face.swap(0, 1));
        let found = &cut(&together([cuboid([0.; 3], [2., 2., 3.]), inner]), UP, &[1.0])[0];
        let areas: Vec<f64> = found.chains.iter().map(|chain| chain.area(UP)).collect();
        assert_eq!(areas, [4.0, -0.5]);
        assert!((found.area(UP) - 3.5).abs() < 1e-15 && (found.length() - 11.0).abs() < 1e-15);
    }

    /// Two boxes have one upright edge in common. At the junction each contour returns into its own box.
    #[test]
    fn bodies_that_touch_along_an_edge_are_told_apart() {
        let touching = together([cuboid([0.; 3], [1., 1., 1.]), cuboid([1., 1., 0.], [2., 3., 1.])]);
        let found = &cut(&touching, UP, &[0.5])[0];
        let areas: Vec<f64> = found.chains.iter().map(|chain| chain.area(UP)).collect();
        assert!(found.chains.iter().all(|chain| chain.closed));
        assert_eq!(areas, [2.0, 1.0]);
    }

    /// A corner of two triangles in the middle of the side of a third: a crack without width.
    #[test]
    fn a_crack_without_width_does_not_open_the_chain() {
        let mut body = cuboid([0.; 3], [1.; 3]);
        body.vertices.push([1.0, 1.0, 0.6]);
        // The upright edge from corner 3 to corner 7 gets an additional corner on only one of its two sides.
        let side = body.faces.iter().position(|face| *face == [1, 3, 7]).unwrap();
        body.faces[side] = [1, 3, 8];
        body.faces.push([1, 8, 7]);
        let found = cut(&mesh(body.vertices, body.faces), UP, &[0.3, 0.6, 0.7]);
        for plane in found {
            assert_eq!(plane.chains.len(), 1, "at {}", plane.offset);
            assert!(plane.chains[0].closed && (plane.area(UP) - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn an_open_surface_gives_open_chains_in_the_same_sense() {
        let mut body = cuboid([0.; 3], [1.; 3]);
        // Without the side at x = 1.
        body.faces.retain(|face| !face.iter().all(|v| v & 1 == 1));
        let found = &cut(&mesh(body.vertices, body.faces), UP, &[0.5])[0];
        assert_eq!((found.chains.len(), found.chains[0].closed), (1, false));
        let points = &found.chains[0].points;
        assert_eq!((points[0], points[points.len() - 1]), ([1.0, 1.0, 0.5], [1.0, 0.0, 0.5]));
        assert!((found.length() - 3.0).abs() < 1e-15 && found.area(UP).abs() < 1e-15);
    }

    /// Most of the contour decides the direction where windings disagree.
    #[test]
    fn one_wrong_winding_does_not_turn_the_contour() {
        let mut body = cuboid([0.; 3], [1.; 3]);
        body.faces[5].swap(0, 1);
        let found = &cut(&mesh(body.vertices, body.faces), UP, &[0.5])[0];
        assert_eq!((found.chains.len(), found.area(UP)), (1, 1.0));
    }

    #[test]
    fn senseless_planes_give_no_chains() {
        let body = mesh(cuboid([0.; 3], [1.; 3]).vertices, cuboid([0.; 3], [1.; 3]).faces);
        for normal in [[0.0; 3], [f64::NAN, 0.0, 1.0], [f64::INFINITY, 0.0, 0.0]] {
            let found = cut(&body, normal, &[0.0, f64::NAN, f64::INFINITY, 0.5]);
            assert!(found.len() == 4 && found.iter().all(|cut| cut.chains.is_empty()));
        }
        assert!(cut(&body, UP, &[]).is_empty());
        assert!(cut(&body.subset(|_| false), UP, &[0.5])[0].chains.is_empty());
    }
}
