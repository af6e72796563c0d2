//! How far an edge may reach beyond the sharp outline if the reconstruction shortened the outline instead of smoothing it once.
//!
//! One Gaussian along the outline ([`SectionFit::sharpen`]) draws a thin edge back by 0.8 of its standard deviation at most. Many small ones, each along what the ones before have left, are the
//! curve-shortening flow for the time `d^2 / 2`. They eat a thin edge up from its end: the outline loses area at the rate of the angle through which it turns (M. Gage and R. S. Hamilton, "The
//! heat equation shrinking convex plane curves", J. Differential Geom. 23 (1986), 69-96), and behind the end of a plate of width `w` a cap of the form `-(w / pi) ln cos(pi y / w)` moves on at the
//! speed `pi / w` (W. W. Mullins, "Two-dimensional motion of idealized grain boundaries", J. Appl. Phys. 27 (1956), 900-904). Sides and thick noses move alike under both. Nothing in a scan
//! says which of the two it was where the seen end is blunt: either the part's own edge is, or it was sharp and is gone.

use crate::fit::SectionFit;
use crate::polygon::{norm, scale, sub};
use crate::shape::Shape;

/// Area between the cap of a plate and its square end, over the square of its width: `ln 2 / pi`.
const CAP: f64 = std::f64::consts::LN_2 / std::f64::consts::PI;
/// The sides behind an end are read between so many deviations behind it: nearer the cap has bent them.
const SIDES: [f64; 2] = [1.0, 4.0];
/// Readings of the thickness there.
const N_READINGS: usize = 8;
/// Farthest that the sides are read, chords: beyond, a section is no wedge.
const FARTHEST: f64 = 0.3;
/// An edge that would have lost more, deviations, was none that a person would make (a judgement).
const MOST_LOST: f64 = 8.0;

impl SectionFit {
    /// How much farther leading and trailing edge reach, in chords of the fit's frame, if the outline was shortened by the flow of this kernel and not smoothed once. Nil where the seen
    /// end is as sharp as the sharp outline makes it, or thicker than a few deviations.
    #[must_use]
    pub fn edges_beyond(&self, deviation: f64) -> [f64; 2] {
        let seen = self.seen.as_ref().unwrap_or(&self.shape);
        let chord = seen.chord();
        let along = scale(seen.chord_vector(), 1.0 / chord.max(f64::MIN_POSITIVE));
        let restored = |of: fn(&Shape) -> [f64; 2], sign: f64| {
            let d = sub(of(&self.shape), of(seen));
            sign * (d[0] * along[0] + d[1] * along[1])
        };
        [
            lost_to_flow(deviation, |x| thickness(seen, x / chord))
                - restored(Shape::leading_edge, -1.0).max(0.0),
            lost_to_flow(deviation, |x| thickness(seen, 1.0 - x / chord))
                - restored(Shape::trailing_edge, 1.0).max(0.0),
        ]
        .map(|beyond| beyond.max(0.0))
    }

    /// How much thicker the section is than at its trailing edge, at a distance before it; both in chords of the fit's frame. A tail that reached as much farther than it is seen to was thinner by
    /// about that. Nil where it is not thicker.
    #[must_use]
    pub fn tail_widening(&self, before: f64) -> f64 {
        widening(self.seen.as_ref().unwrap_or(&self.shape), before)
    }
}

fn widening(shape: &Shape, before: f64) -> f64 {
    (thickness(shape, 1.0 - before / shape.chord()) - thickness(shape, 1.0)).max(0.0)
}

/// Thickness at the fraction `x` of the axis of the parameters, in the unit of the edges.
fn thickness(shape: &Shape, x: f64) -> f64 {
    let t = (1.0 - 2.0 * x.clamp(0.0, 1.0)).acos();
    2.0 * shape.half_thickness(t) * norm(shape.chord_vector())
}

/// Length that the flow took from an end, from the thickness at a distance behind the seen end.
fn lost_to_flow(deviation: f64, thickness: impl Fn(f64) -> f64) -> f64 {
    let far = (SIDES[1] * deviation).min(FARTHEST);
    let near = SIDES[0] * deviation;
    if far <= near {
        return 0.0;
    }
    // The sides as a wedge: a line of least squares.
    let n = N_READINGS as f64;
    let at = |k: usize| near + (far - near) * (k as f64 + 0.5) / n;
    let (mut sx, mut sw, mut sxx, mut sxw) = (0.0, 0.0, 0.0, 0.0);
    for k in 0..N_READINGS {
        let (x, w) = (at(k), thickness(at(k)));
        (sx, sw, sxx, sxw) = (sx + x, sw + w, sxx + x * x, sxw + x * w);
    }
    let slope = (n * sxw - sx * sw) / (n * sxx - sx * sx);
    let width = (sw - slope * sx) / n;
    let turn = std::f64::consts::PI - 2.0 * (0.5 * slope).atan();
    let area = 0.5 * turn * deviation * deviation - CAP * width * width;
    if width <= 0.0 || area <= 0.0 {
        return 0.0;
    }
    // width E - slope E^2 / 2 = area; the wedge ends where it has no width.
    let square = width * width - 2.0 * slope * area;
    let length = if square <= 0.0 { width / slope } else { 2.0 * area / (width + square.sqrt()) };
    length.min(MOST_LOST * deviation)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shape::FIRST_MEAN;

    #[test]
    fn a_plate_loses_the_area_of_half_a_turn() {
        // A plate thinner than the kernel: speed pi / w for the time d^2 / 2, less the cap.
        let (d, w) = (0.01, 0.008);
        let expected = std::f64::consts::PI * d * d / 2.0 / w - CAP * w;
        assert!((lost_to_flow(d, |_| w) - expected).abs() < 1e-12);
        // A square end wider than some deviations stays where it was.
        assert!(lost_to_flow(d, |_| 0.04) == 0.0);
    }

    #[test]
    fn a_wedge_is_eaten_to_its_apex_at_most() {
        // Sides that meet at 0.005 beyond the seen end.
        let d = 0.01;
        let lost = lost_to_flow(d, |x| 0.1 * (x + 0.005));
        assert!((lost - 0.005).abs() < 1e-9, "{lost}");
    }

    #[test]
    fn a_tail_is_thicker_before_its_end_as_the_outline_shows() {
        let mut shape = Shape::plate([0.0, 0.0], [1.0, 0.0]);
        let thick = shape.p.iter_mut().skip(FIRST_MEAN + 16).enumerate();
        thick.for_each(|(i, v)| *v = 0.05 * 0.8_f64.powi(i as i32));
        let outline = shape.outline(4001);
        let height = |x: f64| {
            let k = outline.windows(2).position(|w| x < w[0][0] && w[1][0] <= x).unwrap();
            let [a, b] = [outline[k], outline[k + 1]];
            a[1] + (x - a[0]) * (b[1] - a[1]) / (b[0] - a[0])
        };
        let end = outline[0][1];
        for before in [0.002, 0.01, 0.04] {
            let expected = 2.0 * (height(1.0 - before) - end);
            assert!((widening(&shape, before) - expected).abs() < 1e-4, "{before}: {expected}");
            assert!(1e-4 < expected, "{expected}");
        }
        assert!(widening(&shape, 0.0) == 0.0);
    }

    #[test]
    fn a_round_nose_thicker_than_the_kernel_loses_nothing_here() {
        let radius: f64 = 0.02;
        let nose = |x: f64| 2.0 * (2.0 * radius * x - x * x).max(0.0).sqrt();
        assert!(lost_to_flow(0.004, nose) == 0.0);
    }
}
