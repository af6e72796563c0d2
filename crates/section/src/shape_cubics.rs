//! Outlines as cubics, interval by interval, for the one operation that is done millions of times: finding the foot point of a point.
//!
//! This is the piecewise polynomial representation of C. de Boor, "A practical guide to splines", Springer, 1978, chapter VII: a value costs four
//! products instead of four basis functions.

use std::f64::consts::PI;

use crate::basis::{
    N_MEAN_INTERVALS, N_THICKNESS_INTERVALS, STEP, mean_cubics, mean_interval, thickness_cubics,
};
use crate::lanes::{LANES, Lanes};
use crate::polygon::{add, dot, left, norm, scale, sub};
use crate::shape::{FIRST_MEAN, FIRST_THICKNESS, N_PARAMETERS, Shape};
use crate::turn::{sin_cos, sines_cosines};

/// Cubics of a shape. They are linear in its parameters.
#[derive(Debug, Clone)]
pub(crate) struct ShapeCubics {
    /// Leading and trailing edge.
    edges: [f64; 4],
    mean: [[f64; 4]; N_MEAN_INTERVALS],
    thickness: [[f64; 4]; N_THICKNESS_INTERVALS],
}

impl ShapeCubics {
    pub(crate) fn of(shape: &Shape) -> Self {
        let p: &[f64; N_PARAMETERS] = &shape.p;
        Self {
            edges: [p[0], p[1], p[2], p[3]],
            mean: mean_cubics(&p[FIRST_MEAN..FIRST_THICKNESS]),
            thickness: thickness_cubics(&p[FIRST_THICKNESS..]),
        }
    }

    /// The outline of these parameters, at the station itself.
    #[inline]
    pub(crate) fn at_station(&self) -> OutlineAt<'_> {
        OutlineAt::new(self, self, 0.0)
    }
}

/// The outline at a position along the span, `value + span * change`. Only the requested parts are computed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OutlineAt<'a> {
    value: &'a ShapeCubics,
    change: &'a ShapeCubics,
    span: f64,
    /// Leading and trailing edge at this position, and the vector between them.
    edges: [f64; 4],
    chord: [f64; 2],
}

impl<'a> OutlineAt<'a> {
    #[inline]
    pub(crate) fn new(value: &'a ShapeCubics, change: &'a ShapeCubics, span: f64) -> Self {
        let edges: [f64; 4] = std::array::from_fn(|i| value.edges[i] + span * change.edges[i]);
        Self { value, change, span, edges, chord: [edges[2] - edges[0], edges[3] - edges[1]] }
    }

    /// Height of the mean line above the chord line at the fraction `x` of the chord, its slope and its bend, chords.
    #[inline]
    pub(crate) fn mean(&self, x: f64) -> [f64; 3] {
        let (interval, begin) = mean_interval(x);
        cubic(&self.value.mean[interval], &self.change.mean[interval], self.span, x - begin)
    }

    /// Half thickness and its derivative with respect to the angle from the nose, 0..pi.
    #[inline]
    pub(crate) fn thickness(&self, theta: f64) -> [f64; 2] {
        let (place, interval) = thickness_interval(theta);
        self.thickness_in(place, interval)
    }

    #[inline]
    fn thickness_in(&self, place: f64, interval: usize) -> [f64; 2] {
        let (value, change) = (&self.value.thickness[interval], &self.change.thickness[interval]);
        let [h, slope, _] = cubic(value, change, self.span, place - interval as f64);
        [h, slope * (1.0 / STEP)]
    }

    /// From the leading to the trailing edge.
    #[inline]
    pub(crate) fn chord_vector(&self) -> [f64; 2] {
        self.chord
    }

    /// End of the mean line of the parameters at the nose.
    pub(crate) fn leading_edge(&self) -> [f64; 2] {
        [self.edges[0], self.edges[1]]
    }

    pub(crate) fn trailing_edge(&self) -> [f64; 2] {
        [self.edges[2], self.edges[3]]
    }

    /// Half thickness at the tail, chords.
    pub(crate) fn half_tail(&self) -> f64 {
        self.thickness(PI)[0]
    }

    /// Direction of the mean line at the tail, of any length.
    pub(crate) fn tail_direction(&self) -> [f64; 2] {
        let c = self.chord_vector();
        add(c, scale(left(c), self.mean(1.0)[1]))
    }

    /// Point at `t`, as [`Shape::point`].
    #[inline]
    pub(crate) fn point(&self, t: f64) -> [f64; 2] {
        self.point_and_tangent(t).0
    }

    /// Mean distance, in chords, from the mean line's point at the fraction `x` of the chord to the outline on both sides.
    pub(crate) fn inscribed_radius(&self, x: f64) -> f64 {
        let theta = (1.0 - 2.0 * x).clamp(-1.0, 1.0).acos();
        let (e, c) = (self.edges, self.chord);
        let centre = add(add([e[0], e[1]], scale(c, x)), scale(left(c), self.mean(x)[0]));
        let chord = norm(c);
        let radius = |side: f64| {
            let mut t = side * theta.clamp(1e-3, PI);
            for _ in 0..12 {
                let (p, d) = self.point_and_tangent(t);
                let next =
                    t + (dot(sub(centre, p), d) / dot(d, d).max(1e-12 * chord * chord)).clamp(-0.2, 0.2);
                let next = if side < 0.0 { next.clamp(-PI, 0.0) } else { next.clamp(0.0, PI) };
                if next.total_cmp(&t).is_eq() {
                    // The remaining steps would not move any further.
                    break;
                }
                t = next;
            }
            norm(sub(self.point(t), centre)) / chord
        };
        0.5 * (radius(1.0) + radius(-1.0))
    }

    /// Point and its derivative with respect to `t`, as [`Shape::point_and_tangent`].
    #[inline]
    pub(crate) fn point_and_tangent(&self, t: f64) -> ([f64; 2], [f64; 2]) {
        let theta = t.abs();
        let (place, interval) = thickness_interval(theta);
        let (sin, cos) = sin_cos(t);
        let (x, dx) = (0.5 * (1.0 - cos), 0.5 * sin);
        let [height, slope, bend] = self.mean(x);
        let [h, dh] = self.thickness_in(place, interval);
        let h = t.signum() * h;
        let (e, c) = (self.edges, self.chord);
        // One division in place of three: this is where a fit spends most of its time.
        let r = 1.0 / (1.0 + slope * slope).sqrt();
        let up = sub(left(c), scale(c, slope));
        let along = add(c, scale(left(c), slope));
        let point = add(add([e[0], e[1]], scale(c, x)), add(scale(left(c), height), scale(up, h * r)));
        let tangent = add(scale(along, dx * (1.0 - h * bend * (r * r * r))), scale(up, dh * r));
        (point, tangent)
    }
}

/// The outlines at some positions along the span: [`OutlineAt`] for [`LANES`] points at once, with the same digits.
pub(crate) struct OutlinesAt<'a> {
    value: &'a ShapeCubics,
    change: &'a ShapeCubics,
    spans: Lanes,
    /// Leading edges, and the vectors to the trailing edges.
    leading: [Lanes; 2],
    chords: [Lanes; 2],
}

impl<'a> OutlinesAt<'a> {
    #[inline]
    pub(crate) fn new(value: &'a ShapeCubics, change: &'a ShapeCubics, spans: Lanes) -> Self {
        let edges: [Lanes; 4] =
            std::array::from_fn(|i| Lanes::all(value.edges[i]) + spans * Lanes::all(change.edges[i]));
        let chords = [edges[2] - edges[0], edges[3] - edges[1]];
        Self { value, change, spans, leading: [edges[0], edges[1]], chords }
    }

    /// From the leading to the trailing edges.
    #[inline]
    pub(crate) fn chord_vectors(&self) -> [Lanes; 2] {
        self.chords
    }

    /// Points at the parameters `t` and their derivatives, as [`OutlineAt::point_and_tangent`].
    #[inline]
    pub(crate) fn points_and_tangents(&self, t: Lanes) -> ([Lanes; 2], [Lanes; 2]) {
        let (sin, cos) = sines_cosines(&t.0);
        let [one, half] = [1.0, 0.5].map(Lanes::all);
        let (x, dx) = (half * (one - Lanes(cos)), half * Lanes(sin));
        let (mut begin, mut share, mut sign) = (Lanes::all(0.0), Lanes::all(0.0), Lanes::all(0.0));
        // Cubics at the station and their change: of the mean line and of the half thickness.
        let (mut mean, mut mean_change) = ([Lanes::all(0.0); 4], [Lanes::all(0.0); 4]);
        let (mut thickness, mut thickness_change) = ([Lanes::all(0.0); 4], [Lanes::all(0.0); 4]);
        for k in 0..LANES {
            let interval;
            (interval, begin.0[k]) = mean_interval(x.0[k]);
            let (place, of_thickness) = thickness_interval(t.0[k].abs());
            share.0[k] = place - of_thickness as f64;
            sign.0[k] = t.0[k].signum();
            for i in 0..4 {
                mean[i].0[k] = self.value.mean[interval][i];
                mean_change[i].0[k] = self.change.mean[interval][i];
                thickness[i].0[k] = self.value.thickness[of_thickness][i];
                thickness_change[i].0[k] = self.change.thickness[of_thickness][i];
            }
        }
        let [height, slope, bend] = self.cubics(mean, mean_change, x - begin);
        let [h, dh, _] = self.cubics(thickness, thickness_change, share);
        let (h, dh) = (sign * h, dh * Lanes::all(1.0 / STEP));
        let ([ex, ey], [cx, cy]) = (self.leading, self.chords);
        let r = one / (one + slope * slope).sqrt();
        // The chord vector turned by a right angle.
        let (lx, ly) = (Lanes::all(0.0) - cy, cx);
        let (ux, uy) = (lx - cx * slope, ly - cy * slope);
        let (ax, ay) = (cx + lx * slope, cy + ly * slope);
        let out = h * r;
        let point = [ex + cx * x + (lx * height + ux * out), ey + cy * x + (ly * height + uy * out)];
        let (along, up) = (dx * (one - h * bend * (r * r * r)), dh * r);
        (point, [ax * along + ux * up, ay * along + uy * up])
    }

    /// Value, first and second derivative of the cubics `value + span * change` at the distances `d`.
    #[inline]
    fn cubics(&self, value: [Lanes; 4], change: [Lanes; 4], d: Lanes) -> [Lanes; 3] {
        let c: [Lanes; 4] = std::array::from_fn(|i| value[i] + self.spans * change[i]);
        let [two, three, six] = [2.0, 3.0, 6.0].map(Lanes::all);
        [
            c[0] + d * (c[1] + d * (c[2] + d * c[3])),
            c[1] + d * (two * c[2] + three * d * c[3]),
            two * c[2] + six * d * c[3],
        ]
    }
}

/// Position of an angle from the nose among the knots of the half thickness, and its interval.
#[inline]
fn thickness_interval(theta: f64) -> (f64, usize) {
    let place = (theta * (1.0 / STEP)).clamp(0.0, N_THICKNESS_INTERVALS as f64);
    (place, (place as usize).min(N_THICKNESS_INTERVALS - 1))
}

/// Value, first and second derivative of the cubic `value + span * change` at `d`.
#[inline]
fn cubic(value: &[f64; 4], change: &[f64; 4], span: f64, d: f64) -> [f64; 3] {
    let c: [f64; 4] = std::array::from_fn(|i| value[i] + span * change[i]);
    [
        c[0] + d * (c[1] + d * (c[2] + d * c[3])),
        c[1] + d * (2.0 * c[2] + 3.0 * d * c[3]),
        2.0 * c[2] + 6.0 * d * c[3],
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shape(seed: f64) -> Shape {
        let mut shape = Shape::plate([0.1 * seed, 0.2], [1.9, -0.3]);
        for (i, v) in shape.p.iter_mut().enumerate().skip(4) {
            *v = if i < FIRST_THICKNESS {
                0.01 * (i as f64 - 8.0) * seed
            } else {
                0.05 + 0.003 * i as f64 * seed
            };
        }
        shape
    }

    #[test]
    fn cubics_say_what_the_basis_functions_say() {
        let (value, change) = (shape(1.0), shape(0.3));
        let (v, c) = (ShapeCubics::of(&value), ShapeCubics::of(&change));
        for span in [-1.0, 0.0, 0.4] {
            let mut blended = value.clone();
            blended.p.iter_mut().zip(&change.p).for_each(|(b, c)| *b += span * c);
            let at = OutlineAt::new(&v, &c, span);
            for i in 0..=400 {
                let t = PI * (f64::from(i) / 200.0 - 1.0);
                let ((p, d), (q, e)) = (at.point_and_tangent(t), blended.point_and_tangent(t));
                assert!(norm(sub(p, q)) < 1e-12 && norm(sub(d, e)) < 1e-11, "{t}: {p:?} {q:?}, {d:?} {e:?}");
                let together = OutlinesAt::new(&v, &c, Lanes([0.0, span, 1.0, span]));
                let (ps, ds) = together.points_and_tangents(Lanes([0.3, t, -1.0, t]));
                for lane in [1, 3] {
                    assert_eq!((p, d), (ps.map(|p| p.0[lane]), ds.map(|d| d.0[lane])), "{t}");
                }
            }
            let out = at.tail_direction();
            assert!(norm(sub(scale(out, 1.0 / norm(out)), blended.tail_direction())) < 1e-12);
            assert!((at.half_tail() - blended.half_thickness(PI)).abs() < 1e-13);
        }
    }
}
