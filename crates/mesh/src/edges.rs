//! All edges of a mesh with their half-edges, found by sorting them by lower vertex, one range of vertices at a time.

use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};

use bladeform_numeric::parallel::{self, GROUP_STEP};
use bladeform_numeric::sets::ParityForest;

/// Minimum number of vertex ranges processed one after the other. Sorting one range then needs an eighth of the memory.
const LEAST_RANGES: usize = 8;

/// Ranges per thread, so that threads do not wait long for the last range.
const RANGES_PER_THREAD: usize = 4;

/// Number of neighbouring triangles that are skipped together if none of them is in a range.
const BLOCK: usize = GROUP_STEP / 4;

/// Maximum number of link sets collected at the same time, because the memory of each grows with the mesh.
const MOST_LINKING: usize = 4;

/// Vertex at which a half-edge starts. Half-edge `3 f + k` runs from corner `k` of triangle `f` to the next corner.
pub(crate) fn start(faces: &[[u32; 3]], half: u32) -> u32 {
    faces[half as usize / 3][half as usize % 3]
}

/// The triangle corner opposite to a half-edge.
fn opposite(faces: &[[u32; 3]], half: u32) -> u32 {
    faces[half as usize / 3][(half as usize + 2) % 3]
}

/// The half-edges of one edge, in the order of their numbers.
#[derive(Clone, Copy)]
pub(crate) struct Halves<'a>(&'a [u64]);

impl Halves<'_> {
    pub(crate) fn len(&self) -> usize {
        self.0.len()
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = u32> {
        self.0.iter().map(|&key| key as u32)
    }

    /// Both half-edges of an edge with exactly two.
    #[inline]
    pub(crate) fn pair(&self) -> Option<[u32; 2]> {
        if let [a, b] = *self.0 { Some([a as u32, b as u32]) } else { None }
    }

    /// The half-edge of an edge with exactly one.
    pub(crate) fn single(&self) -> Option<u32> {
        if let [a] = *self.0 { Some(a as u32) } else { None }
    }
}

/// Calls `visit` with the two vertices of each edge, lower index first, and its half-edges. Up to `most_sets` threads collect at the same time, each into its own
/// set from `make`. With more than one set the distribution of edges is random, so the result must not depend on their order.
pub(crate) fn visit_edges<V: Send>(
    vertex_count: usize,
    faces: &[[u32; 3]],
    most_sets: usize,
    make: impl Fn() -> V + Sync,
    visit: impl Fn(&mut V, [u32; 2], Halves<'_>) + Sync,
) -> Vec<V> {
    let blocks = block_ranges(faces);
    let sets = parallel::threads().min(most_sets).max(1);
    let ranges = LEAST_RANGES.max(RANGES_PER_THREAD * sets).min(vertex_count.max(1));
    let next = AtomicUsize::new(0);
    let collected = parallel::indices(sets.min(ranges), |_| {
        let take = || Some(next.fetch_add(1, Ordering::Relaxed)).filter(|range| *range < ranges);
        // Another thread may have taken all ranges before this one was free.
        let mut range = take()?;
        let (mut collected, mut room) = (make(), Room::default());
        loop {
            let bound = |range: usize| (range as u64 * vertex_count as u64 / ranges as u64) as u32;
            let own = bound(range)..bound(range + 1);
            visit_range(faces, &blocks, own, &mut room, |ends, halves| visit(&mut collected, ends, halves));
            let Some(next) = take() else { return Some(collected) };
            range = next;
        }
    });
    collected.into_iter().flatten().collect()
}

/// Lowest and highest vertex of every block of triangles.
fn block_ranges(faces: &[[u32; 3]]) -> Vec<[u32; 2]> {
    let of_block = |block: &[[u32; 3]]| {
        block.as_flattened().iter().fold([u32::MAX, 0], |[low, high], &v| [low.min(v), high.max(v)])
    };
    parallel::groups(faces.len(), |group| faces[group].chunks(BLOCK).map(of_block).collect::<Vec<_>>())
        .concat()
}

/// Buffers for sorting the half-edges of one range. They are reused for the next.
#[derive(Default)]
struct Room {
    /// End of the bucket of each vertex among the keys. It begins where the previous bucket ends.
    ends: Vec<u32>,
    /// Higher vertex in the upper bits, half-edge number in the lower bits.
    keys: Vec<u64>,
}

/// Edges whose lower vertex is in a range.
fn visit_range(
    faces: &[[u32; 3]],
    blocks: &[[u32; 2]],
    range: Range<u32>,
    Room { ends, keys }: &mut Room,
    mut visit: impl FnMut([u32; 2], Halves<'_>),
) {
    let count = range.len() as u32;
    ends.clear();
    ends.resize(count as usize + 1, 0);
    let concerned = || {
        let near = |[low, high]: &[u32; 2]| *low < range.end && range.start <= *high;
        blocks.iter().enumerate().filter(move |(_, block)| near(block)).flat_map(|(block, _)| {
            let begin = block * BLOCK;
            (begin..).zip(&faces[begin..(begin + BLOCK).min(faces.len())])
        })
    };
    for (_, &[a, b, c]) in concerned() {
        for lower in [a.min(b), b.min(c), c.min(a)] {
            let place = lower.wrapping_sub(range.start);
            if place < count {
                ends[place as usize] += 1;
            }
        }
    }
    let mut total = 0;
    for end in ends.iter_mut() {
        // Each becomes the start of its bucket, and the end once the bucket is filled.
        (*end, total) = (total, total + *end);
    }
    // Data of the previous range are overwritten.
    keys.resize(total as usize, 0);
    for (face, &[a, b, c]) in concerned() {
        for (k, (from, to)) in [(a, b), (b, c), (c, a)].into_iter().enumerate() {
            let place = from.min(to).wrapping_sub(range.start);
            if place < count {
                let end = &mut ends[place as usize];
                keys[*end as usize] = u64::from(from.max(to)) << 32 | (3 * face + k) as u64;
                *end += 1;
            }
        }
    }
    let mut begin = 0;
    for (vertex, &end) in range.zip(ends.iter()) {
        let bucket = &mut keys[begin as usize..end as usize];
        begin = end;
        bucket.sort_unstable();
        for edge in bucket.chunk_by(|a, b| a >> 32 == b >> 32) {
            visit([vertex, (edge[0] >> 32) as u32], Halves(edge));
        }
    }
}

/// How the triangles of a mesh are connected.
pub(crate) struct Links {
    /// Triangles joined across edges of exactly two.
    pub(crate) patches: ParityForest,
    /// A triangle of every patch whose windings cannot all agree; may be repeated.
    pub(crate) contradicting: Vec<u32>,
    /// Half-edges of edges with one triangle.
    pub(crate) rim: Vec<u32>,
    /// Half-edges of edges with three or more triangles, each with the first one of its edge.
    pub(crate) crowded: Vec<[u32; 2]>,
    /// Vertices whose triangles do not form a closed ring around them, or form one with inconsistent windings.
    pub(crate) uneven: Vec<u32>,
    /// Triangles with the same three corners as an earlier one.
    pub(crate) doubled: Vec<u32>,
}

impl Links {
    fn none(count: usize) -> Self {
        Self {
            patches: ParityForest::new(count),
            contradicting: Vec::new(),
            rim: Vec::new(),
            crowded: Vec::new(),
            uneven: Vec::new(),
            doubled: Vec::new(),
        }
    }

    /// Collects everything in one pass through all edges.
    pub(crate) fn of(vertex_count: usize, faces: &[[u32; 3]]) -> Self {
        let make = || Self::none(faces.len());
        let found = visit_edges(vertex_count, faces, MOST_LINKING, make, |links, ends, halves| {
            if let Some(pair) = halves.pair() {
                links.add_pair(faces, ends, pair);
            } else {
                links.add_other(faces, ends, halves);
            }
        });
        let mut all = found.into_iter().reduce(Self::merged).unwrap_or_else(|| Self::none(0));
        all.rim.sort_unstable();
        all.crowded.sort_unstable();
        for list in [&mut all.uneven, &mut all.doubled] {
            list.sort_unstable();
            list.dedup();
        }
        all
    }

    #[inline]
    fn add_pair(&mut self, faces: &[[u32; 3]], ends: [u32; 2], [a, b]: [u32; 2]) {
        let against = start(faces, a) == start(faces, b);
        if opposite(faces, a) == opposite(faces, b) {
            self.doubled.push(b / 3);
        }
        if against {
            self.uneven.extend(ends);
        }
        if !self.patches.join(a / 3, b / 3, against) {
            self.contradicting.push(a / 3);
        }
    }

    fn add_other(&mut self, faces: &[[u32; 3]], ends: [u32; 2], halves: Halves<'_>) {
        let upwards = halves.iter().filter(|&half| start(faces, half) == ends[0]).count();
        if 2 * upwards != halves.len() {
            self.uneven.extend(ends);
        }
        if let Some(half) = halves.single() {
            self.rim.push(half);
            return;
        }
        let first = halves.iter().next().unwrap_or(0);
        self.crowded.extend(halves.iter().map(|half| [first, half]));
        let mut thirds: Vec<_> = halves.iter().map(|half| (opposite(faces, half), half / 3)).collect();
        thirds.sort_unstable();
        self.doubled.extend(thirds.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| pair[1].1));
    }

    fn merged(mut self, other: Self) -> Self {
        self.patches.take_over(&other.patches, &mut self.contradicting);
        self.contradicting.extend(other.contradicting);
        self.rim.extend(other.rim);
        self.crowded.extend(other.crowded);
        self.uneven.extend(other.uneven);
        self.doubled.extend(other.doubled);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A strip of triangles, with the first one duplicated and an additional one on its first edge.
    fn faces() -> Vec<[u32; 3]> {
        let mut faces: Vec<[u32; 3]> = (0..900).map(|k| [k, k + 1, k + 2]).collect();
        faces.extend([[0, 2, 1], [0, 1, 905]]);
        faces
    }

    #[test]
    fn links_do_not_depend_on_threads() {
        let faces = faces();
        let told = |threads| {
            let mut links = parallel::with_threads(threads, || Links::of(906, &faces));
            let roots: Vec<_> = (0..faces.len() as u32).map(|face| links.patches.root(face)).collect();
            (roots, links.rim, links.crowded, links.uneven, links.doubled)
        };
        for threads in [2, 3, 9] {
            assert_eq!(told(threads), told(1), "{threads}");
        }
    }

    #[test]
    fn all_edges_are_met_once() {
        let faces = faces();
        let visit = |list: &mut Vec<_>, ends: [u32; 2], halves: Halves<'_>| list.push((ends, halves.len()));
        let lists = parallel::with_threads(3, || visit_edges(906, &faces, 3, Vec::new, visit));
        let mut all = lists.concat();
        all.sort_unstable();
        let mut expected = std::collections::BTreeMap::new();
        for [a, b, c] in faces {
            for (p, q) in [(a, b), (b, c), (c, a)] {
                *expected.entry([p.min(q), p.max(q)]).or_insert(0) += 1;
            }
        }
        assert_eq!(all, expected.into_iter().collect::<Vec<_>>());
    }

    #[test]
    fn doubles_rims_and_crowds_are_told() {
        let links = Links::of(906, &faces());
        assert_eq!(links.doubled, [900]);
        // The edge 0-1 has three triangles; 0-2 and 1-2 have two and three.
        let edges: Vec<u32> =
            links.crowded.iter().filter(|[first, half]| first == half).map(|p| p[0]).collect();
        assert_eq!(edges, [0, 1]);
        assert!(links.uneven.contains(&905) && !links.rim.is_empty());
        assert!(Links::of(4, &[[0, 1, 2], [0, 2, 3]]).doubled.is_empty());
    }
}
