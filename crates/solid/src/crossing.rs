//! Whether two triangles meet outside their common corners, decided with exact predicates.
//!
//! Source of the predicates: J. R. Shewchuk, "Adaptive precision floating-point arithmetic and fast robust geometric
//! predicates", Discrete and Computational Geometry 18, 1997.

use bladeform_numeric::vector::{cross, sub};
use robust::{Coord, Coord3D, orient2d, orient3d};

type Corners = [[f64; 3]; 3];

/// Whether the triangles `f` and `g` (vertex numbers and corners) meet in more than their common vertices.
pub(crate) fn meet(f: [u32; 3], g: [u32; 3], at_f: &Corners, at_g: &Corners) -> bool {
    let shared = f.iter().filter(|v| g.contains(v)).count();
    let sides = at_g.map(|p| side(at_f, p));
    if sides.iter().all(|&s| s > 0.0) || sides.iter().all(|&s| s < 0.0) {
        return false;
    }
    if sides.iter().all(|s| is_zero(*s)) {
        return overlap_in_plane(at_f, at_g);
    }
    match shared {
        0 => (0..3)
            .any(|k| crosses(at_f[k], at_f[(k + 1) % 3], at_g) || crosses(at_g[k], at_g[(k + 1) % 3], at_f)),
        1 => {
            // Only the edges opposite to the common corner can meet the other triangle elsewhere.
            let opposite = |own: [u32; 3], other: [u32; 3], at: &Corners| {
                let k = (0..3).find(|&k| other.contains(&own[k])).unwrap_or(0);
                (at[(k + 1) % 3], at[(k + 2) % 3])
            };
            let (a, b) = opposite(f, g, at_f);
            let (c, d) = opposite(g, f, at_g);
            crosses(a, b, at_g) || crosses(c, d, at_f)
        }
        // Two triangles with a common edge meet elsewhere only if they are in one plane.
        2 => false,
        _ => true,
    }
}

#[allow(clippy::float_cmp, reason = "the predicate is exact: zero means coplanar")]
fn is_zero(x: f64) -> bool {
    x == 0.0
}

fn coord(p: [f64; 3]) -> Coord3D<f64> {
    Coord3D { x: p[0], y: p[1], z: p[2] }
}

fn side(t: &Corners, p: [f64; 3]) -> f64 {
    orient3d(coord(t[0]), coord(t[1]), coord(t[2]), coord(p))
}

/// Whether a segment that is not in the triangle's plane meets the triangle.
fn crosses(p: [f64; 3], q: [f64; 3], t: &Corners) -> bool {
    let (a, b) = (side(t, p), side(t, q));
    if (a > 0.0 && b > 0.0) || (a < 0.0 && b < 0.0) || (is_zero(a) && is_zero(b)) {
        return false;
    }
    let turns = [0, 1, 2].map(|k| orient3d(coord(p), coord(q), coord(t[k]), coord(t[(k + 1) % 3])));
    turns.iter().all(|&s| s >= 0.0) || turns.iter().all(|&s| s <= 0.0)
}

/// Whether two triangles in one plane overlap: no edge of either has the other entirely on its outer side.
fn overlap_in_plane(f: &Corners, g: &Corners) -> bool {
    let normal = cross(sub(f[1], f[0]), sub(f[2], f[0]));
    let drop = (0..3).max_by(|&a, &b| normal[a].abs().total_cmp(&normal[b].abs())).unwrap_or(2);
    let flat = |t: &Corners| {
        let mut t = t.map(|p| Coord { x: p[(drop + 1) % 3], y: p[(drop + 2) % 3] });
        if orient2d(t[0], t[1], t[2]) < 0.0 {
            t.swap(1, 2);
        }
        t
    };
    let (f, g) = (flat(f), flat(g));
    let parted = |a: &[Coord<f64>; 3], b: &[Coord<f64>; 3]| {
        (0..3).any(|k| b.iter().all(|&p| orient2d(a[k], a[(k + 1) % 3], p) <= 0.0))
    };
    !parted(&f, &g) && !parted(&g, &f)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FLAT: Corners = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];

    #[test]
    fn triangles_that_pierce_touch_or_miss() {
        let other = |g: Corners| meet([0, 1, 2], [3, 4, 5], &FLAT, &g);
        assert!(other([[0.2, 0.2, -1.0], [0.2, 0.2, 1.0], [3.0, 3.0, 0.0]]));
        assert!(!other([[2.0, 2.0, -1.0], [2.0, 2.0, 1.0], [3.0, 3.0, 0.0]]));
        assert!(!other([[0.2, 0.2, 0.1], [0.3, 0.2, 1.0], [3.0, 3.0, 0.5]]));
        assert!(
            other([[0.1, 0.1, 0.0], [0.3, 0.1, 0.0], [0.1, 0.3, 0.0]]),
            "one inside the other in one plane"
        );
        assert!(!other([[1.0, 1.0, 0.0], [2.0, 1.0, 0.0], [1.0, 2.0, 0.0]]), "side by side in one plane");
    }

    #[test]
    fn neighbours_meet_only_when_folded_onto_each_other() {
        let fold = |p: [f64; 3]| meet([0, 1, 2], [1, 0, 3], &FLAT, &[FLAT[1], FLAT[0], p]);
        assert!(!fold([0.0, -1.0, 0.0]) && !fold([0.0, 1.0, 1e-12]));
        assert!(fold([0.1, 0.5, 0.0]));
        let fan = |p: [f64; 3], q: [f64; 3]| meet([0, 1, 2], [0, 3, 4], &FLAT, &[FLAT[0], p, q]);
        assert!(fan([1.0, 1.0, -1.0], [1.0, 1.0, 1.0]));
        assert!(!fan([-1.0, 1.0, -1.0], [-1.0, 1.0, 1.0]));
    }
}
