//! Forces over all angles at one Reynolds number: nodes around the circle, joined by monotone cubics with a continuous slope.

use std::f64::consts::PI;

use crate::forces::PolarRegion;

/// Lift, drag and moment at one angle.
pub(crate) type Triple = [f64; 3];

/// A node of a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Node {
    pub(crate) alpha_rad: f64,
    pub(crate) forces: Triple,
    /// Region of the interval from this node to the next.
    pub(crate) region: PolarRegion,
}

/// Number of parts of the circle for the node search.
const PARTS: usize = 256;
/// Number of nodes up to which a search one by one is faster than one by halves (of the usual order; not measured).
const FEW: usize = 12;

/// Forces over the whole circle of angles.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct FullCirclePolar {
    /// Increasing angles within one turn. The first interval closes the circle.
    nodes: Vec<Node>,
    /// Angles of the nodes, for the search among them.
    angles: Vec<f64>,
    /// What an evaluation reads, side by side in memory: forces and slopes at each node.
    ends: Vec<[Triple; 2]>,
    /// Number of nodes before each of [`PARTS`] equal parts of the circle, and before its end.
    before: Vec<u32>,
    /// Angles between which the flow is attached.
    pub(crate) attached: [f64; 2],
    /// Slope per rad and zero of the lift of attached flow, as `slope sin(angle - zero)`, by the middle of that range.
    line: [f64; 2],
    /// The least drag of attached flow.
    pub(crate) least_drag: f64,
}

/// The part of the attached range, about its middle, in which the lift is that of a line; and the angles at which it is read.
const STRAIGHT: f64 = 0.4;
const READINGS: usize = 9;

impl FullCirclePolar {
    /// From nodes of different angles in (-pi, pi]; at least three.
    pub(crate) fn new(mut nodes: Vec<Node>, attached: [f64; 2]) -> Self {
        nodes.sort_by(|a, b| a.alpha_rad.total_cmp(&b.alpha_rad));
        nodes.dedup_by(|b, a| b.alpha_rad - a.alpha_rad < 1e-6);
        let n = nodes.len();
        let slope = |i: usize, k: usize| {
            let (p, q) = (nodes[(i + n - 1) % n], nodes[(i + 1) % n]);
            let here = nodes[i];
            let (a, b) = (turn(here.alpha_rad - p.alpha_rad), turn(q.alpha_rad - here.alpha_rad));
            let (da, db) = ((here.forces[k] - p.forces[k]) / a, (q.forces[k] - here.forces[k]) / b);
            // F. N. Fritsch, J. Butland, "A method for constructing local monotone piecewise cubic interpolants", SIAM J. Sci. Stat. Comput. 5, 1984.
            if da * db <= 0.0 {
                0.0
            } else {
                let (wa, wb) = (2.0 * b + a, b + 2.0 * a);
                (wa + wb) / (wa / da + wb / db)
            }
        };
        let ends = (0..n).map(|i| [nodes[i].forces, [0, 1, 2].map(|k| slope(i, k))]).collect();
        let angles = nodes.iter().map(|q| q.alpha_rad).collect();
        let begin = |part: usize| 2.0 * PI * part as f64 / PARTS as f64 - PI;
        let before =
            (0..=PARTS).map(|part| nodes.partition_point(|q| q.alpha_rad < begin(part)) as u32).collect();
        let inside = |n: &&Node| attached[0] <= n.alpha_rad && n.alpha_rad <= attached[1];
        let least_drag = nodes.iter().filter(inside).map(|n| n.forces[1]).fold(f64::INFINITY, f64::min);
        let least_drag = if least_drag.is_finite() { least_drag.max(0.0) } else { 0.0 };
        let mut curve = Self { nodes, angles, ends, before, attached, line: [0.0; 2], least_drag };
        curve.line = curve.straight();
        curve
    }

    /// The line of least squares through the lift in the middle of the attached range.
    fn straight(&self) -> [f64; 2] {
        let [low, high] = self.attached;
        let (middle, half) = (0.5 * (low + high), 0.5 * STRAIGHT * (high - low));
        let (mut lift, mut product, mut square) = (0.0, 0.0, 0.0);
        for k in 0..READINGS {
            let off = half * (2.0 * k as f64 / (READINGS - 1) as f64 - 1.0);
            let here = self.at::<1>(middle + off)[0];
            lift += here / READINGS as f64;
            product += off * here;
            square += off * off;
        }
        let slope = product / square.max(f64::MIN_POSITIVE);
        // A section without a lift line, such as a bluff body, has nothing to carry on.
        if slope <= 0.0 { [0.0, middle] } else { [slope, middle - lift / slope] }
    }

    /// Lift of attached flow with its friction, carried on beyond stall; `alpha_rad`: angle of attack.
    pub(crate) fn attached_lift(&self, alpha_rad: f64) -> f64 {
        self.line[0] * (alpha_rad - self.line[1]).sin()
    }

    /// Zero of the lift of attached flow, rad.
    pub(crate) fn attached_zero(&self) -> f64 {
        self.line[1]
    }

    pub(crate) fn nodes(&self) -> &[Node] {
        &self.nodes
    }

    /// The maximum absolute lift.
    pub(crate) fn most_lift(&self) -> f64 {
        self.nodes.iter().map(|n| n.forces[0].abs()).fold(0.0, f64::max)
    }

    /// The nodes before and after an angle in (-pi, pi], rad.
    fn interval(&self, alpha: f64) -> (usize, usize) {
        let n = self.nodes.len();
        // Because of rounding an angle may be in the neighbouring part.
        let part = ((alpha + PI) * (PARTS as f64 / (2.0 * PI))) as usize;
        let low = self.before[part.saturating_sub(1).min(PARTS)] as usize;
        let high = if part + 2 < PARTS { self.before[part + 2] as usize } else { n };
        let near = &self.angles[low..high];
        // Three parts of a computed polar hold a few nodes, but the user's own may hold any number.
        let j = low
            + if near.len() <= FEW {
                near.iter().take_while(|a| **a <= alpha).count()
            } else {
                near.partition_point(|a| *a <= alpha)
            };
        (if j == 0 { n - 1 } else { j - 1 }, if j == n { 0 } else { j })
    }

    /// The region at an angle, rad.
    pub(crate) fn region(&self, alpha_rad: f64) -> PolarRegion {
        self.nodes[self.interval(wrapped(alpha_rad)).0].region
    }

    /// The first `N` of lift, drag and moment at an angle, rad.
    pub(crate) fn at<const N: usize>(&self, alpha_rad: f64) -> [f64; N] {
        let alpha = wrapped(alpha_rad);
        let (i, j) = self.interval(alpha);
        let (from, to) = (self.angles[i], self.angles[j]);
        let h = turn(to - from);
        let t = (turn(alpha - from) / h).min(1.0);
        let ([p, slope_p], [q, slope_q]) = (&self.ends[i], &self.ends[j]);
        let u = 1.0 - t;
        let (of_p, of_q) = (u * u * (1.0 + 2.0 * t), t * t * (3.0 - 2.0 * t));
        let (of_slope_p, of_slope_q) = (t * u * u * h, t * u * t * h);
        std::array::from_fn(|k| p[k] * of_p + q[k] * of_q + slope_p[k] * of_slope_p - slope_q[k] * of_slope_q)
    }
}

/// An angle mapped to (-pi, pi]; NaN becomes zero.
pub(crate) fn wrapped(alpha_rad: f64) -> f64 {
    // Nearly every angle is in this range already, and the remainder costs more than everything else.
    if -PI < alpha_rad && alpha_rad <= PI {
        return alpha_rad;
    }
    if !alpha_rad.is_finite() {
        return 0.0;
    }
    let a = alpha_rad.rem_euclid(2.0 * PI);
    if PI < a { a - 2.0 * PI } else { a }
}

/// The positive rotation from one angle to another, in [0, 2 pi); for differences of angles in (-pi, pi].
fn turn(difference: f64) -> f64 {
    if difference < 0.0 { difference + 2.0 * PI } else { difference }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_node_before_an_angle_is_that_of_a_search_through_all() {
        // Dense and sparse parts, nodes on the borders of parts and at the end of the circle.
        let angles = (0..40)
            .map(|i| 0.2 + 0.003 * f64::from(i))
            .chain((-7..=8).map(|i| f64::from(i) * PI / 8.0))
            .chain([-2.9, 0.01, 1.7]);
        let region = PolarRegion::Computed;
        let curve = FullCirclePolar::new(
            angles.map(|alpha_rad| Node { alpha_rad, forces: [alpha_rad, 0.1, 0.0], region }).collect(),
            [-0.2, 0.2],
        );
        let nodes = curve.nodes();
        let borders = (0..=PARTS).map(|k| 2.0 * PI * k as f64 / PARTS as f64 - PI);
        let near = |a: f64| [a - 1e-12, a, a + 1e-12];
        for alpha in nodes.iter().map(|n| n.alpha_rad).chain(borders).flat_map(near).map(wrapped) {
            let j = nodes.partition_point(|q| q.alpha_rad <= alpha);
            let (i, j) = ((j + nodes.len() - 1) % nodes.len(), j % nodes.len());
            let (low, high) = (nodes[i].forces[0], nodes[j].forces[0]);
            let lift = curve.at::<1>(alpha)[0];
            assert!(
                low.min(high) - 1e-9 <= lift && lift <= low.max(high) + 1e-9,
                "{alpha}: {lift} between {low} and {high}"
            );
        }
    }

    #[test]
    fn value_and_slope_are_continuous_around_the_circle() {
        let nodes = (0..24)
            .map(|i| f64::from(i) * PI / 12.0 - 3.0)
            .map(|a| Node {
                alpha_rad: a,
                forces: [(2.0 * a).sin(), 1.0 - a.cos(), 0.1 * a.sin()],
                region: PolarRegion::Computed,
            })
            .collect();
        let curve = FullCirclePolar::new(nodes, [-0.2, 0.2]);
        let h = 1e-5;
        let mut a = -PI + 0.0007;
        while a < PI {
            let slope = |x: f64| (curve.at::<1>(x + h)[0] - curve.at::<1>(x - h)[0]) / (2.0 * h);
            assert!((curve.at::<3>(a)[0] - (2.0 * a).sin()).abs() < 0.08);
            assert!((slope(a + 2e-3) - slope(a)).abs() < 0.1, "{a}");
            a += 2e-3;
        }
    }
}
