//! Whether two sets of points in space come within a distance of one another, by trees of tight boxes.
//!
//! ```
//! use bladeform_numeric::nearness::PointTree;
//! let [a, b] = [[0.0; 3], [3.0, 4.0, 0.0]].map(|p| PointTree::new(vec![p]));
//! assert!(a.is_within(5.0, &b) && !a.is_within(4.9, &b));
//! ```

/// Most points of a box that is not divided further (chosen: comparing a few points costs less than comparing boxes).
const LEAF: usize = 16;

/// Points in nested boxes, each as small as its points allow: points far outside cost as little as near ones.
#[derive(Debug, Clone)]
pub struct PointTree {
    points: Vec<[f64; 3]>,
    nodes: Vec<Node>,
}

#[derive(Debug, Clone)]
struct Node {
    low: [f64; 3],
    high: [f64; 3],
    begin: usize,
    end: usize,
    /// The first of two halves; the second is at `second`. Zero for a leaf.
    first: usize,
    second: usize,
}

impl PointTree {
    /// A tree of points, n x 3, finite, in any unit.
    #[must_use]
    pub fn new(points: Vec<[f64; 3]>) -> Self {
        let mut tree = Self { points, nodes: Vec::new() };
        if !tree.points.is_empty() {
            tree.divide(0, tree.points.len());
        }
        tree
    }

    fn divide(&mut self, begin: usize, end: usize) -> usize {
        let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for p in &self.points[begin..end] {
            for k in 0..3 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let own = self.nodes.len();
        self.nodes.push(Node { low, high, begin, end, first: 0, second: 0 });
        if LEAF < end - begin {
            let width = |k: usize| high[k] - low[k];
            let axis =
                if width(0) >= width(1).max(width(2)) { 0 } else { 1 + usize::from(width(1) < width(2)) };
            let middle = (end - begin) / 2;
            self.points[begin..end].select_nth_unstable_by(middle, |a, b| a[axis].total_cmp(&b[axis]));
            let first = self.divide(begin, begin + middle);
            let second = self.divide(begin + middle, end);
            (self.nodes[own].first, self.nodes[own].second) = (first, second);
        }
        own
    }

    /// Whether some point is at most `distance` from some point of the other tree, in the points' unit.
    #[must_use]
    pub fn is_within(&self, distance: f64, other: &Self) -> bool {
        self.search(distance, other).0
    }

    /// The answer, and the number of pairs of boxes that were compared.
    fn search(&self, distance: f64, other: &Self) -> (bool, usize) {
        let mut compared = 0;
        if self.nodes.is_empty() || other.nodes.is_empty() {
            return (false, compared);
        }
        let limit = distance * distance;
        let mut open = vec![(0, 0)];
        while let Some((i, j)) = open.pop() {
            compared += 1;
            let (a, b) = (&self.nodes[i], &other.nodes[j]);
            if limit < between(a, b) {
                continue;
            }
            let mut halves = match (a.first, b.first) {
                (0, 0) => {
                    let near =
                        |p: &[f64; 3]| other.points[b.begin..b.end].iter().any(|q| square(p, q) <= limit);
                    if self.points[a.begin..a.end].iter().any(near) {
                        return (true, compared);
                    }
                    continue;
                }
                (_, 0) => [(a.first, j), (a.second, j)],
                (0, _) => [(i, b.first), (i, b.second)],
                _ if square(&a.low, &a.high) < square(&b.low, &b.high) => [(i, b.first), (i, b.second)],
                _ => [(a.first, j), (a.second, j)],
            };
            // The nearer pair is looked at first.
            let gap = |(i, j): (usize, usize)| between(&self.nodes[i], &other.nodes[j]);
            if gap(halves[0]) < gap(halves[1]) {
                halves.swap(0, 1);
            }
            open.extend(halves);
        }
        (false, compared)
    }
}

/// Square of the distance of two points.
fn square(a: &[f64; 3], b: &[f64; 3]) -> f64 {
    (0..3).map(|k| (a[k] - b[k]).powi(2)).sum()
}

/// Square of the distance of two boxes.
fn between(a: &Node, b: &Node) -> f64 {
    (0..3).map(|k| (a.low[k] - b.high[k]).max(b.low[k] - a.high[k]).max(0.0).powi(2)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square sheet of n x n points at a height.
    fn sheet(n: u32, z: f64) -> PointTree {
        let at = |i: u32| f64::from(i) / f64::from(n);
        PointTree::new((0..n * n).map(|k| [at(k / n), at(k % n), z]).collect())
    }

    #[test]
    fn agrees_with_comparing_all_points() {
        let mut seed = 1_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 33) as f64 / f64::from(1_u32 << 31)
        };
        for shift in [0.0, 0.9, 1.5] {
            let a: Vec<[f64; 3]> = (0..300).map(|_| [next(), next(), next()]).collect();
            let b: Vec<[f64; 3]> = (0..200).map(|_| [next() + shift, next(), next()]).collect();
            let least =
                a.iter().flat_map(|p| b.iter().map(|q| square(p, q))).fold(f64::INFINITY, f64::min).sqrt();
            let [a, b] = [a, b].map(PointTree::new);
            assert!(a.is_within(least * 1.000_001, &b) && !a.is_within(least * 0.999_999, &b), "{shift}");
        }
    }

    #[test]
    fn nothing_is_near_an_empty_set() {
        assert!(!PointTree::new(Vec::new()).is_within(1.0, &sheet(2, 0.0)));
    }

    #[test]
    fn the_work_grows_no_faster_than_the_points() {
        // The hardest place: nowhere nearer than asked, everywhere nearly as near; and far apart.
        for gap in [0.5001, 5.0] {
            let work = |n| {
                let (found, compared) = sheet(n, 0.0).search(0.5, &sheet(n, gap));
                assert!(!found);
                compared
            };
            let (few, many) = (work(40), work(160));
            assert!(many <= 24 * few.max(1), "{gap}: {few} {many} for 16 times the points");
            assert!(many <= 40 * 160 * 160, "{gap}: {many}");
        }
    }
}
