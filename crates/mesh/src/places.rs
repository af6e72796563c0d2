//! Vertices at the same position, found by the bits of their coordinates.

use bladeform_numeric::parallel;

/// Number of vertices whose slots are accessed together. The table of a large mesh does not fit into the processor caches. With single accesses
/// each cache miss would be waited for separately.
const BLOCK: usize = 32;

/// A slot without a vertex.
pub(crate) const FREE: u64 = 0;

/// Turns negative zeros into positive ones, because both are the same position with different bits.
pub(crate) fn make_zeros_alike(vertices: &mut [[f64; 3]]) {
    parallel::parts(vertices, |_, part| {
        part.as_flattened_mut().iter_mut().for_each(|coordinate| *coordinate += 0.0);
    });
}

/// Vertices with the same coordinates as an earlier one, and the first one at that position, ascending, among those that `usable` accepts.
pub(crate) fn equal_vertices(
    vertices: &[[f64; 3]],
    usable: impl Fn([f64; 3]) -> bool + Sync,
) -> Vec<[u32; 2]> {
    // Each thread handles the positions of one range of hashes. The order of the results is restored below.
    let shares = parallel::threads();
    let found = parallel::indices(shares, |share| {
        let mut table = PlaceTable::for_vertices(vertices.len() / shares);
        let mut equal = Vec::new();
        let mut block: Vec<(u32, u64)> = Vec::with_capacity(BLOCK);
        let mut all = (0_u32..).zip(vertices).filter(|(_, p)| usable(**p)).filter_map(|(vertex, p)| {
            let hash = mix(p.map(f64::to_bits));
            (((hash >> 32) * shares as u64) >> 32 == share as u64).then_some((vertex, hash & 0xffff_ffff))
        });
        loop {
            block.clear();
            block.extend(all.by_ref().take(BLOCK));
            if block.is_empty() {
                return equal;
            }
            table.fetch(&block);
            for &(vertex, tag) in &block {
                equal.extend(table.find_or_insert(vertices, vertex, tag).map(|first| [vertex, first]));
            }
        }
    });
    let mut equal = found.concat();
    equal.sort_unstable();
    equal
}

/// Open-addressing table from vertex coordinates to vertex index.
struct PlaceTable {
    /// Half of the hash in the upper bits and the vertex number plus one in the lower bits, or [`FREE`]. The length is a power of two.
    slots: Vec<u64>,
    filled: usize,
}

impl PlaceTable {
    fn for_vertices(count: usize) -> Self {
        Self { slots: vec![FREE; (count + count / 2).next_power_of_two().max(16)], filled: 0 }
    }

    /// Prefetches the slots of several vertices at once.
    fn fetch(&self, block: &[(u32, u64)]) {
        let mask = self.slots.len() - 1;
        let slots = block.iter().map(|(_, tag)| self.slots[*tag as usize & mask]);
        std::hint::black_box(slots.fold(0, std::ops::BitXor::bitxor));
    }

    /// The earlier vertex with the same coordinates; inserts this one if there is none.
    fn find_or_insert(&mut self, vertices: &[[f64; 3]], vertex: u32, tag: u64) -> Option<u32> {
        if 4 * self.filled >= 3 * self.slots.len() {
            self.slots = doubled(&self.slots);
        }
        let bits = vertices[vertex as usize].map(f64::to_bits);
        let mask = self.slots.len() - 1;
        let mut at = tag as usize & mask;
        while self.slots[at] != FREE {
            let (slot_tag, first) = (self.slots[at] >> 32, self.slots[at] as u32 - 1);
            if slot_tag == tag && vertices[first as usize].map(f64::to_bits) == bits {
                return Some(first);
            }
            at = (at + 1) & mask;
        }
        self.slots[at] = tag << 32 | (u64::from(vertex) + 1);
        self.filled += 1;
        None
    }
}

/// Mixes coordinate bits by folded 128-bit products, so that the zero low bits of single-precision values do not matter. The
/// constants are the first bits of pi, as in other hashes of this kind.
fn mix(bits: [u64; 3]) -> u64 {
    let fold = |a: u64, b: u64| {
        let product = u128::from(a) * u128::from(b);
        (product >> 64) as u64 ^ product as u64
    };
    let first = fold(bits[0] ^ 0x243f_6a88_85a3_08d3, bits[1] ^ 0x1319_8a2e_0370_7344);
    fold(first ^ 0xa409_3822_299f_31d0, bits[2] ^ 0x082e_fa98_ec4e_6c89)
}

/// A hash table with twice the number of slots. A slot is [`FREE`], or it has half of the hash in its upper bits and a nonzero number below. That half is enough
/// to find the new slot of every entry.
pub(crate) fn doubled(slots: &[u64]) -> Vec<u64> {
    let mut out = vec![FREE; 2 * slots.len()];
    let mask = out.len() - 1;
    for slot in slots.iter().copied().filter(|slot| *slot != FREE) {
        let mut at = (slot >> 32) as usize & mask;
        while out[at] != FREE {
            at = (at + 1) & mask;
        }
        out[at] = slot;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_vertices_are_found_on_any_number_of_threads() {
        let place = |i: usize| [(i % 997) as f64, (i % 7) as f64, 0.5];
        let mut vertices: Vec<[f64; 3]> = (0..20_000).map(place).collect();
        vertices[3][0] = f64::NAN;
        vertices[7_001][2] = f64::NAN;
        let usable = |p: [f64; 3]| p.iter().all(|c| c.is_finite());
        let mut first = std::collections::HashMap::new();
        let mut expected = vec![];
        for (i, p) in vertices.iter().enumerate().filter(|(_, p)| usable(**p)) {
            let found = *first.entry(p.map(f64::to_bits)).or_insert(i as u32);
            expected.extend((found != i as u32).then_some([i as u32, found]));
        }
        assert!(!expected.is_empty());
        for threads in [0, 1, 2, 5] {
            let found = parallel::with_threads(threads, || equal_vertices(&vertices, usable));
            assert_eq!(found, expected, "{threads}");
        }
        assert!(equal_vertices(&[], usable).is_empty());
    }

    #[test]
    fn zeros_are_alike() {
        let mut vertices = vec![[0.0, 1.0, 2.0], [-0.0, 1.0, 2.0]];
        make_zeros_alike(&mut vertices);
        assert_eq!(equal_vertices(&vertices, |_| true), [[1, 0]]);
    }
}
