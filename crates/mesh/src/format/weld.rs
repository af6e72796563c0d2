//! Joins corners at bit-identical coordinates: STL files repeat a vertex in every triangle that uses it.

use std::hash::{BuildHasher, Hasher, RandomState};

use crate::places::{FREE, doubled};

/// Number of triangles whose table slots are accessed together. The table of a large mesh does not fit into the processor
/// caches. With single accesses each cache miss would be waited for separately.
pub(super) const BLOCK: usize = 32;

/// Vertices by their coordinates, each kept once, in the order of first appearance.
///
/// An open-addressing table: measured against the standard map in `docs/decisions/001-mesh-readers.md`.
pub(super) struct Weld {
    vertices: Vec<[f64; 3]>,
    /// Per slot the low half of the hash in the upper bits and the vertex number plus one in the lower bits, or [`FREE`]. The length is a power of two.
    slots: Vec<u64>,
    /// New random keys for every file, so that no file can be made to cause collisions on purpose.
    seeds: [u64; 2],
    corners: usize,
}

/// A corner and the low half of its hash.
#[derive(Clone, Copy)]
struct Place {
    corner: [f64; 3],
    tag: u64,
}

impl Weld {
    /// A table that does not need to grow up to about `expected` vertices.
    pub(super) fn with_expected(expected: usize) -> Self {
        let random = RandomState::new();
        let seed = |salt: u64| {
            let mut hasher = random.build_hasher();
            hasher.write_u64(salt);
            hasher.finish()
        };
        let slots = vec![FREE; (2 * expected.max(8)).next_power_of_two()];
        Self { vertices: Vec::new(), slots, seeds: [seed(1), seed(2)], corners: 0 }
    }

    /// Appends the triangles with these corners to `faces`, by vertex number. A new position gets a new vertex.
    /// `None` if there are too many vertices.
    ///
    /// A negative zero is the same position as zero. A corner with a NaN has no position, so it is joined to nothing.
    pub(super) fn triangles(
        &mut self,
        corners: impl Iterator<Item = [[f64; 3]; 3]>,
        faces: &mut Vec<[u32; 3]>,
    ) -> Option<()> {
        let mut places = Vec::with_capacity(BLOCK);
        let mut corners = corners.peekable();
        while corners.peek().is_some() {
            places.clear();
            places.extend(
                corners.by_ref().take(BLOCK).map(|triangle| triangle.map(|corner| self.place(corner))),
            );
            self.fetch(places.as_flattened());
            for [a, b, c] in &places {
                faces.push([self.number(*a)?, self.number(*b)?, self.number(*c)?]);
            }
        }
        Some(())
    }

    /// Absorbs another table. Its triangles are appended to `faces` as if their corners came after all corners of this table. `None` if there are too many vertices.
    pub(super) fn take_over(
        &mut self,
        other: &Weld,
        of_other: &[[u32; 3]],
        faces: &mut Vec<[u32; 3]>,
    ) -> Option<()> {
        let mut numbers = Vec::with_capacity(other.vertices.len());
        let mut places = Vec::with_capacity(3 * BLOCK);
        for block in other.vertices.chunks(3 * BLOCK) {
            places.clear();
            places.extend(block.iter().map(|vertex| self.place(*vertex)));
            self.fetch(&places);
            for place in &places {
                numbers.push(self.number(*place)?);
            }
        }
        self.corners += other.welded();
        faces.extend(of_other.iter().map(|face| face.map(|v| numbers[v as usize])));
        Some(())
    }

    /// Number of corners joined to an earlier one.
    pub(super) fn welded(&self) -> usize {
        self.corners - self.vertices.len()
    }

    /// The vertices, n x 3.
    pub(super) fn into_vertices(mut self) -> Vec<[f64; 3]> {
        self.vertices.shrink_to_fit();
        self.vertices
    }

    fn push(&mut self, vertex: [f64; 3]) -> Option<u32> {
        let number = u32::try_from(self.vertices.len()).ok().filter(|n| *n < u32::MAX)?;
        self.vertices.push(vertex);
        Some(number)
    }

    fn place(&self, corner: [f64; 3]) -> Place {
        // Adding positive zero turns a negative zero into a positive one and changes nothing else.
        let corner = corner.map(|c| c + 0.0);
        Place { corner, tag: self.tag(corner.map(f64::to_bits)) }
    }

    /// Prefetches the slots of these positions at once. Their content may change until it is used.
    fn fetch(&self, places: &[Place]) {
        let mask = self.slots.len() - 1;
        let slots = places.iter().map(|place| self.slots[place.tag as usize & mask]);
        std::hint::black_box(slots.fold(0, std::ops::BitXor::bitxor));
    }

    fn number(&mut self, Place { corner, tag }: Place) -> Option<u32> {
        self.corners += 1;
        if corner.iter().any(|c| c.is_nan()) {
            return self.push(corner);
        }
        if self.slots.len() / 2 <= self.vertices.len() {
            self.slots = doubled(&self.slots);
        }
        let bits = corner.map(f64::to_bits);
        let mask = self.slots.len() - 1;
        let mut at = tag as usize & mask;
        while self.slots[at] != FREE {
            if self.is_vertex(self.slots[at], tag, bits) {
                return number_in(self.slots[at]);
            }
            at = (at + 1) & mask;
        }
        let number = self.push(corner)?;
        self.slots[at] = (tag << 32) | (u64::from(number) + 1);
        Some(number)
    }

    /// Whether the slot contains the vertex at these coordinates.
    fn is_vertex(&self, slot: u64, tag: u64, bits: [u64; 3]) -> bool {
        let is_at = |number: u32| self.vertices[number as usize].map(f64::to_bits) == bits;
        slot >> 32 == tag && number_in(slot).is_some_and(is_at)
    }

    /// The low half of a hash from folded products of seeded words.
    fn tag(&self, [x, y, z]: [u64; 3]) -> u64 {
        let fold = |a: u64, b: u64| {
            let product = u128::from(a) * u128::from(b);
            product as u64 ^ (product >> 64) as u64
        };
        let xy = fold(x ^ self.seeds[0], y ^ self.seeds[1]);
        fold(xy ^ z.rotate_left(32), self.seeds[0] | 1) & u64::from(u32::MAX)
    }
}

/// The number of the vertex in a slot.
fn number_in(slot: u64) -> Option<u32> {
    (slot as u32).checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    /// Vertex numbers of the corners, three at a time.
    fn numbers(weld: &mut Weld, corners: &[[f64; 3]]) -> Vec<u32> {
        let mut faces = Vec::new();
        weld.triangles(corners.as_chunks::<3>().0.iter().copied(), &mut faces).unwrap();
        faces.as_flattened().to_vec()
    }

    #[test]
    fn zero_and_negative_zero_are_one_vertex() {
        let mut weld = Weld::with_expected(0);
        assert_eq!(numbers(&mut weld, &[[0.0, -0.0, 1.0], [-0.0, 0.0, 1.0], [1.0; 3]]), [0, 0, 1]);
        assert_eq!(weld.welded(), 1);
        assert_eq!(weld.into_vertices()[0].map(f64::to_bits), [0.0, 0.0, 1.0].map(f64::to_bits));
    }

    #[test]
    fn a_nan_is_joined_to_nothing() {
        let mut weld = Weld::with_expected(0);
        let broken = [f64::NAN, 0.0, 0.0];
        assert_eq!(
            numbers(&mut weld, &[broken, broken, [0.0; 3], [0.0; 3], broken, [0.0; 3]]),
            [0, 1, 2, 2, 3, 2]
        );
    }

    #[test]
    fn infinities_keep_their_signs() {
        let mut weld = Weld::with_expected(0);
        let corners = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY].map(|x| [x, 0.0, 0.0]);
        assert_eq!(numbers(&mut weld, &corners), [0, 1, 0]);
    }

    #[test]
    fn agrees_with_the_standard_map_while_growing() {
        let mut map = HashMap::new();
        let (mut corners, mut expected) = (Vec::new(), Vec::new());
        for i in 0..30_000_u64 {
            let spread = i.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 50;
            let corner = [spread as f64, (spread % 7) as f64 * 0.1, 0.0];
            let next = map.len() as u32;
            expected.push(*map.entry(corner.map(f64::to_bits)).or_insert(next));
            corners.push(corner);
        }
        let mut weld = Weld::with_expected(0);
        assert_eq!(numbers(&mut weld, &corners), expected);
        assert_eq!(weld.welded(), corners.len() - map.len());
        assert!(map.len() < corners.len() && 5_000 < map.len());
    }
}
