//! What a free section is drawn from: random control points that suit its edges, scaled to a thickness.

use crate::random::Random;

use super::bernstein::MOST;
use super::edge::Edge;
use super::section::DrawnSection;

/// Random shape of sections without its thickness. Two of them are mixed along a blade.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sketch {
    /// Abscissae of the control points of back and face.
    x: [[f64; MOST]; 2],
    /// Distances of the control points from the curve of `camber`, outwards, fractions of the thickness, of back and face.
    half: [[f64; MOST]; 2],
    /// Ordinates by which back and face are bent together, fractions of the chord.
    camber: [f64; MOST],
    /// Angle of the nose's axis, rad.
    nose_tilt: f64,
    /// Size of a blunt nose or tail: length of its first control leg, fraction of the thickness; of a square one: its half width; of a
    /// compass-drawn one: its radius.
    size: [f64; 2],
}

/// Half thickness of the control points, fractions of the thickness, for a nose that rises at once and for one that begins as a wedge.
/// Tuned by eye so that the curves are about as thick as asked for.
const HALF_ROUND: [f64; MOST] = [0.0, 0.25, 0.47, 0.60, 0.62, 0.52, 0.38, 0.20, 0.0];
/// The same for a nose that begins as a wedge (chosen by eye).
const HALF_WEDGE: [f64; MOST] = [0.0, 0.17, 0.36, 0.54, 0.66, 0.60, 0.45, 0.23, 0.0];
/// Least abscissa of the second control point from a blunt edge, and the range beyond it: it sets the edge's radius.
const BLUNT_REACH: [f64; 2] = [0.07, 0.05];

impl Sketch {
    /// A random shape with the given edges. `camber`: height of the bend, fraction of the chord.
    pub(super) fn drawn(edges: [Edge; 2], camber: f64, random: &mut Random) -> Self {
        let base = if edges[0] == Edge::Blunt { HALF_ROUND } else { HALF_WEDGE };
        let waves = [0, 1].map(|_| [0; 3].map(|_| 0.05 * random.normal()));
        let wave = |w: [f64; 3], x: f64| {
            let turn = std::f64::consts::PI * x;
            1.0 + w[0] * turn.cos() + w[1] * (2.0 * turn).cos() + w[2] * (3.0 * turn).cos()
        };
        let reach = edges.map(|_| BLUNT_REACH[0] + BLUNT_REACH[1] * random.uniform());
        let x = [0, 1].map(|_| abscissae(edges, reach, random));
        let half = [0, 1].map(|side| std::array::from_fn(|k| base[k] * wave(waves[side], x[side][k])));
        let skew = random.between(-0.5, 0.5);
        let bend = std::array::from_fn(|k| {
            let x = k as f64 / (MOST - 1) as f64;
            // Control values a third above the curve they make.
            1.33 * camber
                * 4.0
                * x
                * (1.0 - x)
                * (1.0 + skew * (1.0 - 2.0 * x))
                * (1.0 + 0.1 * random.normal())
        });
        let size = [0, 1].map(|end| match edges[end] {
            Edge::Sharp => 0.0,
            Edge::Blunt if end == 0 => random.between(0.20, 0.32),
            Edge::Blunt => random.between(0.08, 0.20),
            Edge::Square | Edge::Compass => random.between(0.02, 0.10),
        });
        Self { x, half, camber: bend, nose_tilt: random.between(0.2, 1.6) * camber * 4.0, size }
    }

    /// Between two shapes: this one at `share` 0, the other at 1.
    pub(super) fn mixed(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + share * (b - a);
        let all = |a: &[f64; MOST], b: &[f64; MOST]| std::array::from_fn(|k| mix(a[k], b[k]));
        Self {
            x: [0, 1].map(|s| all(&self.x[s], &other.x[s])),
            half: [0, 1].map(|s| all(&self.half[s], &other.half[s])),
            camber: all(&self.camber, &other.camber),
            nose_tilt: mix(self.nose_tilt, other.nose_tilt),
            size: [0, 1].map(|e| mix(self.size[e], other.size[e])),
        }
    }

    /// The section of about the given thickness, fraction of the chord.
    pub(super) fn section(&self, edges: [Edge; 2], thickness: f64) -> DrawnSection {
        let growth = [0, 1].map(|e| if edges[e] == Edge::Compass { self.size[e] * thickness } else { 0.0 });
        let inner = 1.0 - growth[0] - growth[1];
        // Growing adds to the thickness what the curves leave out.
        let bulk = thickness - growth[0] - growth[1];
        let place = |side: usize, k: usize| {
            let sign = if side == 0 { 1.0 } else { -1.0 };
            [growth[0] + inner * self.x[side][k], self.camber[k] + sign * bulk * self.half[side][k]]
        };
        let mut sides: [[[f64; 2]; MOST]; 2] = [0, 1].map(|side| std::array::from_fn(|k| place(side, k)));
        for (end, edge) in edges.into_iter().enumerate() {
            self.finish(&mut sides, end, edge, thickness);
        }
        DrawnSection { edges, back: sides[0], face: sides[1], growth }
    }

    /// Puts the outermost control points of one end where its kind wants them.
    fn finish(&self, sides: &mut [[[f64; 2]; MOST]; 2], end: usize, edge: Edge, thickness: f64) {
        let at = |k: usize| if end == 0 { k } else { MOST - 1 - k };
        let inward = if end == 0 { 1.0 } else { -1.0 };
        let corner = [sides[0][at(0)][0], 0.0];
        let width = self.size[end] * thickness;
        let tilt = if end == 0 { self.nose_tilt } else { 0.0 };
        let (along, across) = ([inward * tilt.cos(), inward * tilt.sin()], [-tilt.sin(), tilt.cos()]);
        for (side, points) in sides.iter_mut().enumerate() {
            let sign = if side == 0 { 1.0 } else { -1.0 };
            match edge {
                Edge::Sharp | Edge::Compass => points[at(0)] = corner,
                Edge::Square => points[at(0)] = [corner[0], sign * width],
                Edge::Blunt => {
                    // Equal first legs along one tangent, and third points equally far from it: one curvature for back and face.
                    let (reach, out) = ((self.x[0][at(2)] - self.x[0][at(0)]).abs(), points[at(2)][1]);
                    let shift = |d: f64, h: f64| [0, 1].map(|k| corner[k] + d * along[k] + h * across[k]);
                    points[at(0)] = corner;
                    points[at(1)] = shift(0.0, sign * width);
                    points[at(2)] = shift(reach, out);
                }
            }
        }
    }
}

/// Rising abscissae of the control points of one side; a blunt edge has its first two at the end and the third at `reach`.
fn abscissae(edges: [Edge; 2], reach: [f64; 2], random: &mut Random) -> [f64; MOST] {
    let last = MOST - 1;
    let first = if edges[0] == Edge::Blunt { (2, reach[0]) } else { (0, 0.0) };
    let end = if edges[1] == Edge::Blunt { (last - 2, 1.0 - reach[1]) } else { (last, 1.0) };
    let step = (end.1 - first.1) / (end.0 - first.0) as f64;
    std::array::from_fn(|k| {
        if k < first.0 {
            0.0
        } else if end.0 < k {
            1.0
        } else {
            let even = first.1 + step * (k - first.0) as f64;
            let shake = if k == first.0 || k == end.0 { 0.0 } else { random.between(-0.2, 0.2) };
            even + shake * step
        }
    })
}
