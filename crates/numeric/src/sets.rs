//! Disjoint sets of numbered items. The root of a set is always its lowest item, so sets do not depend on the order of joining.
//!
//! Paths to the root are halved at every search: R. E. Tarjan, J. van Leeuwen, "Worst-case analysis of set union algorithms",
//! Journal of the ACM 31 (1984), 245-281.
//!
//! ```
//! use bladeform_numeric::sets::Forest;
//! let mut sets = Forest::new(4);
//! sets.join(3, 1);
//! assert_eq!((sets.root(3), sets.root(2)), (1, 2));
//! ```

/// Disjoint sets.
#[derive(Debug, Clone)]
pub struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    /// As many sets as items, numbered from 0.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    /// The lowest item of the set that holds an item.
    #[inline]
    pub fn root(&mut self, mut item: u32) -> u32 {
        while self.parent[item as usize] != item {
            let grandparent = self.parent[self.parent[item as usize] as usize];
            self.parent[item as usize] = grandparent;
            item = grandparent;
        }
        item
    }

    /// Joins the sets of two items.
    #[inline]
    pub fn join(&mut self, a: u32, b: u32) {
        // Neighbours mostly have the same parent already.
        if self.parent[a as usize] != self.parent[b as usize] {
            let (a, b) = (self.root(a), self.root(b));
            self.parent[a.max(b) as usize] = a.min(b);
        }
    }
}

/// Disjoint sets that also store for each item whether it agrees with the root of its set.
#[derive(Debug, Clone)]
pub struct ParityForest {
    /// Twice the parent, plus one if item and parent disagree. No parent has a higher number than its item.
    links: Vec<u32>,
}

impl ParityForest {
    /// As many sets as items, numbered from 0.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self { links: (0..count as u32).map(|item| 2 * item).collect() }
    }

    /// Root of the set and whether the item disagrees with it.
    #[inline]
    pub fn root(&mut self, mut item: u32) -> (u32, bool) {
        let mut against = 0;
        loop {
            let link = self.links[item as usize];
            if link >> 1 == item {
                return (item, against == 1);
            }
            // Halves the path: the grandparent becomes the parent of the item.
            let shorter = self.links[(link >> 1) as usize] ^ (link & 1);
            self.links[item as usize] = shorter;
            against ^= shorter & 1;
            item = shorter >> 1;
        }
    }

    /// Joins two sets so that the items agree, or disagree if `against`. Returns false if they are already joined the opposite way.
    #[inline]
    pub fn join(&mut self, a: u32, b: u32, against: bool) -> bool {
        // Neighbours mostly have the same parent already.
        let apart = self.links[a as usize] ^ self.links[b as usize];
        if apart < 2 {
            return (apart == 1) == against;
        }
        self.join_roots(a, b, against)
    }

    fn join_roots(&mut self, a: u32, b: u32, against: bool) -> bool {
        let ((a, a_against), (b, b_against)) = (self.root(a), self.root(b));
        let against = against ^ a_against ^ b_against;
        if a == b {
            return !against;
        }
        self.links[a.max(b) as usize] = 2 * a.min(b) + u32::from(against);
        true
    }

    /// Joins what is joined in `other`, which has the same number of items. Items with contradicting links are listed.
    pub fn take_over(&mut self, other: &Self, contradicting: &mut Vec<u32>) {
        for (item, &link) in other.links.iter().enumerate() {
            if link >> 1 != item as u32 && !self.join(item as u32, link >> 1, link & 1 == 1) {
                contradicting.push(item as u32);
            }
        }
    }

    /// Makes each marked item a set of its own. `members`: one mark for each item. A set must be marked as a whole.
    pub fn cut_loose(&mut self, members: &[bool]) {
        for (item, _) in members.iter().enumerate().filter(|(_, member)| **member) {
            self.links[item] = 2 * item as u32;
        }
    }

    /// Numbers the sets in the order of their lowest items. Returns for each item twice its set number, plus one if it disagrees with the root, and
    /// the number of sets.
    #[must_use]
    pub fn numbered(self) -> (Vec<u32>, usize) {
        let (mut labels, mut count) = (self.links, 0);
        for item in 0..labels.len() {
            let link = labels[item];
            // A parent comes before its items, so it has been numbered.
            labels[item] = if link >> 1 == item as u32 {
                count += 1;
                2 * (count - 1)
            } else {
                labels[(link >> 1) as usize] ^ (link & 1)
            };
        }
        (labels, count as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_root_is_the_lowest_item_in_any_order_of_joining() {
        for pairs in [[(5, 4), (4, 2), (3, 0)], [(2, 4), (0, 3), (4, 5)]] {
            let mut sets = Forest::new(6);
            pairs.into_iter().for_each(|(a, b)| sets.join(a, b));
            assert_eq!([0, 1, 2, 3, 4, 5].map(|item| sets.root(item)), [0, 1, 2, 0, 2, 2]);
        }
    }

    #[test]
    fn sets_are_numbered_by_their_lowest_items() {
        let mut sets = ParityForest::new(6);
        assert!(sets.join(4, 1, true) && sets.join(5, 4, true) && sets.join(2, 3, false));
        assert!(sets.join(1, 5, false) && !sets.join(1, 5, true));
        assert_eq!(sets.numbered(), (vec![0, 2, 4, 4, 3, 2], 3));
    }

    #[test]
    fn sets_taken_over_join_and_contradict() {
        let (mut sets, mut other) = (ParityForest::new(4), ParityForest::new(4));
        assert!(sets.join(0, 1, false) && other.join(1, 2, true) && other.join(2, 0, false));
        let mut contradicting = vec![];
        sets.take_over(&other, &mut contradicting);
        assert_eq!(contradicting.len(), 1);
        assert_eq!(sets.root(2).0, 0);
    }
}
