//! Sections drawn with compasses: back and face are one circular arc each, and both edges are rounded with one radius.
//!
//! The section is a lens of two arcs that meet at the centres of the edge circles, offset outwards by the edge radius. The outline is
//! smooth, and its inscribed circles have the same centres as those of the lens, which follow in closed form.

use crate::mean_line::{InscribedCircle, MeanLine};
use crate::polygon::{add, norm, scale, sub};

/// A circular arc through `(-half, 0)` and `(half, 0)` of signed height `h`, as centre ordinate and signed radius.
#[derive(Clone, Copy)]
struct Arc {
    half: f64,
    height: f64,
}

impl Arc {
    /// Point and outward normal (for a back; upward) at the fraction `u` in -1..1 of the arc's opening angle.
    fn at(self, u: f64) -> ([f64; 2], [f64; 2]) {
        if self.height == 0.0 {
            return ([u * self.half, 0.0], [0.0, 1.0]);
        }
        let radius = (self.half * self.half + self.height * self.height) / (2.0 * self.height);
        let angle = u * 2.0 * (self.height / self.half).atan();
        let normal = [angle.sin(), angle.cos()];
        (add([0.0, self.height - radius], scale(normal, radius)), normal)
    }
    /// Signed distance of a point below the arc (towards the arc's inner side of a back), positive below.
    fn depth(self, p: [f64; 2]) -> f64 {
        if self.height == 0.0 {
            return -p[1];
        }
        let radius = (self.half * self.half + self.height * self.height) / (2.0 * self.height);
        let d = norm(sub(p, [0.0, self.height - radius]));
        if 0.0 < radius { radius - d } else { d + radius }
    }
}

/// Outline, tail over back to nose and along the face, one chord long.
pub(super) fn outline(back_height: f64, face_height: f64, edge_radius: f64, half: usize) -> Vec<[f64; 2]> {
    let lens = |height| Arc { half: 0.5 - edge_radius, height };
    let n_edge = half / 4;
    let n_side = half - n_edge;
    let shift = |p: [f64; 2], n: [f64; 2]| add(add(p, scale(n, edge_radius)), [0.5, 0.0]);
    let (back, face) = (lens(back_height), lens(face_height));
    let mut points = Vec::with_capacity(2 * half + 2);
    for i in 0..n_side {
        let (p, n) = back.at(1.0 - 2.0 * i as f64 / n_side as f64);
        points.push(shift(p, n));
    }
    round_edge(&mut points, back.at(-1.0), face.at(-1.0), n_edge, shift);
    for i in 0..n_side {
        let (p, n) = face.at(-1.0 + 2.0 * i as f64 / n_side as f64);
        points.push(shift(p, scale(n, -1.0)));
    }
    let flip = |(p, n): ([f64; 2], [f64; 2])| (p, scale(n, -1.0));
    round_edge(&mut points, flip(face.at(1.0)), flip(back.at(1.0)), n_edge, shift);
    points
}

/// Points of an edge circle from the normal of `from` anticlockwise to the opposite of the normal of `to`.
fn round_edge(
    points: &mut Vec<[f64; 2]>,
    from: ([f64; 2], [f64; 2]),
    to: ([f64; 2], [f64; 2]),
    n: usize,
    shift: impl Fn([f64; 2], [f64; 2]) -> [f64; 2],
) {
    let start = from.1[1].atan2(from.1[0]);
    let end = (-to.1[1]).atan2(-to.1[0]);
    let sweep = (end - start).rem_euclid(std::f64::consts::TAU);
    for i in 0..n {
        let angle = start + sweep * i as f64 / n as f64;
        points.push(shift(from.0, [angle.cos(), angle.sin()]));
    }
}

/// Mean line in closed form: equal depth below the back and above the face, at `n + 1` positions, extrapolated linearly by the edge radius.
pub(super) fn mean_line(back_height: f64, face_height: f64, edge_radius: f64, n: usize) -> MeanLine {
    let half = 0.5 - edge_radius;
    let (back, face) = (Arc { half, height: back_height }, Arc { half, height: face_height });
    let circles: Vec<_> = super::cosine_spacing(n)
        .map(|u| half * (2.0 * u - 1.0))
        .map(|x| {
            let (mut low, mut high) = (face_height.min(0.0), back_height);
            for _ in 0..60 {
                let y = 0.5 * (low + high);
                if back.depth([x, y]) < -face.depth([x, y]) { high = y } else { low = y }
            }
            let centre = [x, 0.5 * (low + high)];
            InscribedCircle { centre: add(centre, [0.5, 0.0]), radius: edge_radius + back.depth(centre) }
        })
        .collect();
    let end = |a: usize, b: usize| {
        let d = sub(circles[a].centre, circles[b].centre);
        add(circles[a].centre, scale(d, edge_radius / norm(d)))
    };
    MeanLine { leading_edge: end(0, 1), trailing_edge: end(n, n - 1), circles }
}
