//! Points of the scan near a station, in the chord frame of their own place along the span.

use super::blade::{LocalBlade, is_point};
use super::chord_frame::ChordFrame;
use super::fit::FEWEST_POINTS;
use crate::vector::{V3, add, cross, norm, scale, sub};

/// A point of the band: place along the span in file units; place in the chord frame, chords; normal in the chord frame, of any length.
pub(crate) type SpanPoint = (f64, [f64; 2], [f64; 2]);

/// Points farther off the chord line than this many greatest half widths belong to something else.
const OFF_BLADE: f64 = 1.6;
/// Points this far beyond the ends of the provisional chord, chords, still belong to the section: its ends are known to a few hundredths.
const BEYOND_ENDS: f64 = 0.08;
/// Half of the least thickness, chords, that the limit across the chord line assumes: thinner sections scatter by their noise.
const LEAST_FLATNESS: f64 = 0.03;
/// Samples in a coarse triangle are this fraction of the band's half width apart.
const SAMPLES_PER_HALF_BAND: f64 = 4.0;
/// Most samples along a side of a triangle, so that a needle-shaped triangle costs no more than many even ones.
const MOST_SAMPLES: f64 = 400.0;
/// Most samples in the band of a few long triangles: some 9 MB for each thread (chosen).
const MOST_OF_BAND: f64 = 100_000.0;
/// Most samples for each triangle that reaches into the band, if those are more: the memory is in proportion to the file. Three parts along a side have 10.
const MOST_OF_TRIANGLE: f64 = 10.0;

impl LocalBlade {
    /// Vertices of the band in the chord frame of their own place along the span, with projected normals.
    pub(super) fn band(&self, frame: &ChordFrame, half: f64) -> Vec<SpanPoint> {
        let all = || self.mesh.vertices().iter().zip(&self.normals);
        let near = || all().filter(|(p, _)| (p[2] - frame.z).abs() < half);
        let points = near().filter(|(_, n)| is_point(**n));
        let points: Vec<SpanPoint> = points.filter_map(|(p, n)| in_frame(frame, *p, *n)).collect();
        if points.len() < FEWEST_POINTS {
            // A prism without noise consists of vertices that repeat others.
            return near().filter_map(|(p, n)| in_frame(frame, *p, *n)).collect();
        }
        points
    }

    /// Points inside the triangles that reach into the band, about a twentieth of the band apart across and along.
    pub(super) fn sampled_band(&self, frame: &ChordFrame, half: f64) -> Vec<SpanPoint> {
        let step = half / SAMPLES_PER_HALF_BAND;
        let (from, to) = (frame.z - half, frame.z + half);
        let corners = |f: &[u32; 3]| f.map(|i| self.mesh.vertices()[i as usize]);
        let reaching = || self.mesh.faces().iter().map(corners).filter(|t| reach(t, from, to));
        let coarser = coarsening(reaching().map(|t| (parts_of(&t, step), share_inside(&t, from, to))));
        let mut points = Vec::new();
        for t in reaching() {
            let [a, b, c] = t;
            let n = scale(cross(sub(b, a), sub(c, a)), if self.mirrored { -1.0 } else { 1.0 });
            let parts = (parts_of(&t, step) * coarser).ceil().max(1.0) as usize;
            for i in 0..=parts {
                for j in 0..=parts - i {
                    let (u, v) = (i as f64 / parts as f64, j as f64 / parts as f64);
                    let p = add(a, add(scale(sub(b, a), u), scale(sub(c, a), v)));
                    if (p[2] - frame.z).abs() < half {
                        points.extend(in_frame(frame, p, n));
                    }
                }
            }
        }
        points
    }
}

/// Lowest and highest place along the span.
fn extent([a, b, c]: &[V3; 3]) -> (f64, f64) {
    (a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2]))
}

/// Whether a triangle reaches into the band.
fn reach(t: &[V3; 3], from: f64, to: f64) -> bool {
    let (low, high) = extent(t);
    !(high < from || to < low)
}

/// The part of a triangle's extent along the span that lies in the band, roughly the share of its samples there.
fn share_inside(t: &[V3; 3], from: f64, to: f64) -> f64 {
    let (low, high) = extent(t);
    if to - from < high - low { (to.min(high) - from.max(low)) / (high - low) } else { 1.0 }
}

/// Number of parts along the sides of a triangle.
fn parts_of([a, b, c]: &[V3; 3], step: f64) -> f64 {
    let longest = norm(sub(*b, *a)).max(norm(sub(*c, *b))).max(norm(sub(*a, *c)));
    (longest / step).ceil().clamp(1.0, MOST_SAMPLES)
}

/// The factor of the parts along a side, at most 1, so that the samples stay within their limits. `triangles`: parts and share inside the band.
fn coarsening(triangles: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut count, mut samples) = (0.0, 0.0);
    for (parts, share) in triangles {
        count += 1.0;
        samples += 0.5 * (parts + 1.0) * (parts + 2.0) * share;
    }
    let most = f64::max(MOST_OF_BAND, MOST_OF_TRIANGLE * count);
    if samples <= most { 1.0 } else { (most / samples).sqrt() }
}

/// A point and its normal in the chord frame; `None` far from the blade.
fn in_frame(frame: &ChordFrame, p: V3, n: V3) -> Option<SpanPoint> {
    let (leading, along, chord) = frame.at(p[2]);
    // Towards the back: a quarter turn clockwise from the direction towards the tail, since the frame runs from nose to tail.
    let back = [along[1], -along[0]];
    let d = [p[0] - leading[0], p[1] - leading[1]];
    let at = [(d[0] * along[0] + d[1] * along[1]) / chord, (d[0] * back[0] + d[1] * back[1]) / chord];
    let near = (-BEYOND_ENDS..1.0 + BEYOND_ENDS).contains(&at[0])
        && at[1].abs() < OFF_BLADE * frame.flatness.max(LEAST_FLATNESS);
    near.then(|| (p[2], at, [n[0] * along[0] + n[1] * along[1], n[0] * back[0] + n[1] * back[1]]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_long_triangles_take_no_more_samples_than_the_limit() {
        // Three hundred triangles as long as the blade, a tenth of it in the band: 2.4 million samples without a limit.
        let long = || std::iter::repeat_n((MOST_SAMPLES, 0.1), 300);
        let coarser = coarsening(long());
        let parts = (MOST_SAMPLES * coarser).ceil();
        let samples = 300.0 * 0.1 * 0.5 * (parts + 1.0) * (parts + 2.0);
        assert!(0.9 * MOST_OF_BAND < samples && samples < 1.1 * MOST_OF_BAND, "{samples}");
    }

    #[test]
    fn triangles_of_a_scan_are_sampled_as_before() {
        for (parts, count) in [(1.0, 500_000), (3.0, 500_000), (20.0, 400)] {
            assert!(coarsening(std::iter::repeat_n((parts, 1.0), count)) >= 1.0, "{parts} parts");
        }
    }

    #[test]
    fn the_share_inside_is_that_of_the_extent() {
        let t = [[0.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.1, 0.0, 0.5]];
        assert!((share_inside(&t, 0.4, 0.6) - 0.2).abs() < 1e-12);
        assert!((share_inside(&t, 0.9, 1.1) - 0.1).abs() < 1e-12 && share_inside(&t, -1.0, 2.0) >= 1.0);
        assert!(reach(&t, 0.9, 1.1) && !reach(&t, 1.1, 1.2));
    }
}
