//! Points of the scan near a station, in the chord frame of their own place along the span.

use super::blade::LocalBlade;
use super::chord_frame::ChordFrame;
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

impl LocalBlade {
    /// Vertices of the band in the chord frame of their own place along the span, with projected normals.
    pub(super) fn band(&self, frame: &ChordFrame, half: f64) -> Vec<SpanPoint> {
        let vertices = self.mesh.vertices().iter().zip(&self.normals);
        vertices
            .filter(|(p, _)| (p[2] - frame.z).abs() < half)
            .filter_map(|(p, n)| in_frame(frame, *p, *n))
            .collect()
    }

    /// Points inside the triangles that reach into the band, about a twentieth of the band apart across and along.
    pub(super) fn sampled_band(&self, frame: &ChordFrame, half: f64) -> Vec<SpanPoint> {
        let step = half / SAMPLES_PER_HALF_BAND;
        let mut points = Vec::new();
        for f in self.mesh.faces() {
            let [a, b, c] = f.map(|i| self.mesh.vertices()[i as usize]);
            let (low, high) = (a[2].min(b[2]).min(c[2]), a[2].max(b[2]).max(c[2]));
            if high < frame.z - half || frame.z + half < low {
                continue;
            }
            let n = scale(cross(sub(b, a), sub(c, a)), if self.mirrored { -1.0 } else { 1.0 });
            let longest = norm(sub(b, a)).max(norm(sub(c, b))).max(norm(sub(a, c)));
            let parts = (longest / step).ceil().clamp(1.0, MOST_SAMPLES) as usize;
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
