//! The outline as a scan of limited resolution shows it, and back: what a fit to such a scan says about the sharp outline.
//!
//! A reconstruction smooths the surface with a kernel. Along the outline of a section that is about a Gaussian over its arc length. Sides hardly move, but an edge thinner than
//! the kernel draws back by up to 0.8 of its standard deviation, and a nose gets flatter.
//!
//! The sharp outline is the one that gives the fitted outline when it is smoothed and fitted in the same way. It is found by adding what is missing step by step (P. H. van
//! Cittert, "Zum Einfluss der Spaltbreite auf die Intensitätsverteilung in Spektrallinien II", Z. Phys. 69 (1931), 298-308), in the parameters of the outline model, which
//! cannot become rough.

use crate::fit::{BandPoint, FitSettings, N_STRIPS, Refit, SectionFit};
use crate::polygon::{left, norm, perimeter, scale, sub};
use crate::shape::Shape;

/// Corners of the outline that is smoothed.
const N_SHARP: usize = 801;
/// Points to which the smoothed outline is fitted, in each strip.
const N_POINTS: usize = 110;
/// Steps towards the sharp outline. What is missing after them is below a tenth.
const N_STEPS: usize = 3;
/// The kernel is cut off beyond so many standard deviations.
const REACH: f64 = 4.0;
/// Most points of an outline when it is smoothed, and their greatest distance in standard deviations.
const MOST_POINTS: f64 = 3000.0;
const SPACING: f64 = 0.25;
/// A kernel below this, chords, changes nothing that the outline model could show.
const LEAST_DEVIATION: f64 = 2e-4;
/// Greatest relative change of the chord that is believed: a kernel that takes more leaves no section to measure.
const MOST_GROWTH: f64 = 0.15;
/// Greatest change of a parameter in one step, chords.
const MOST_CHANGE: f64 = 0.03;

impl SectionFit {
    /// Puts the sharp outline in the place of the fitted one, if the scan was smoothed by a Gaussian of this standard deviation, in chords of the fit's
    /// frame. The fitted one is kept as `seen`. Nothing changes if the kernel is too small to matter; if the sharp outline
    /// cannot be found, the fit is marked as `unsharpened`.
    pub fn sharpen(&mut self, deviation: f64) {
        if deviation < LEAST_DEVIATION {
            return;
        }
        match self.sharpened(deviation) {
            Some(sharp) => self.seen = Some(std::mem::replace(&mut self.shape, sharp)),
            None => self.unsharpened = true,
        }
    }

    fn sharpened(&self, deviation: f64) -> Option<Shape> {
        let settings = FitSettings { half_band: self.quality.half_band, model_error: 5e-4 };
        let refit = Refit::near(&self.shape, settings);
        let (mut sharp, mut seen) = (self.shape.clone(), self.shape.clone());
        for _ in 0..N_STEPS {
            seen = refit.outline(&seen_points(&sharp, deviation), &seen)?;
            for ((p, fitted), seen) in sharp.p.iter_mut().zip(&self.shape.p).zip(&seen.p) {
                *p += (fitted - seen).clamp(-MOST_CHANGE, MOST_CHANGE);
            }
        }
        let grown = sharp.chord() / self.shape.chord() - 1.0;
        (grown.abs() < MOST_GROWTH).then_some(sharp)
    }
}

/// Points of a band of an outline that does not change along the span, as a scan of this resolution shows it.
fn seen_points(shape: &Shape, deviation: f64) -> Vec<BandPoint> {
    let blurred = blurred(&shape.outline(N_SHARP), deviation, N_POINTS * N_STRIPS);
    let n = blurred.len();
    (0..n)
        .map(|i| {
            let (before, after) = (blurred[(i + n - 1) % n], blurred[(i + 1) % n]);
            let d = sub(after, before);
            // The outline runs anticlockwise: outwards is to the right.
            let normal = scale(left(d), -1.0 / norm(d).max(f64::MIN_POSITIVE));
            let strip = (i % N_STRIPS) as f64;
            BandPoint { at: blurred[i], normal, span: 2.0 * (strip + 0.5) / N_STRIPS as f64 - 1.0 }
        })
        .collect()
}

/// About `n` points of a closed outline, convolved along its arc length with a Gaussian of this standard deviation.
pub(crate) fn blurred(outline: &[[f64; 2]], deviation: f64, n: usize) -> Vec<[f64; 2]> {
    let length = perimeter(outline);
    let stride = (length / (SPACING * deviation) / n as f64)
        .ceil()
        .clamp(1.0, (MOST_POINTS / n as f64).max(1.0)) as usize;
    let points = even(outline, length, n * stride);
    let count = points.len();
    let step = length / count as f64;
    let reach = ((REACH * deviation / step).ceil() as usize).min(count / 2 - 1);
    let weights: Vec<f64> = (0..=2 * reach)
        .map(|k| (k as f64 - reach as f64) * step / deviation)
        .map(|x| (-0.5 * x * x).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    // The outline with its end before it and its begin behind it.
    let around: Vec<[f64; 2]> = (0..count + 2 * reach).map(|i| points[(i + count - reach) % count]).collect();
    (0..count)
        .step_by(stride)
        .map(|i| {
            let mut p = [0.0; 2];
            for (w, q) in weights.iter().zip(&around[i..]) {
                p[0] += w * q[0];
                p[1] += w * q[1];
            }
            scale(p, 1.0 / sum)
        })
        .collect()
}

/// Points of a closed outline at even arc length.
fn even(outline: &[[f64; 2]], length: f64, n: usize) -> Vec<[f64; 2]> {
    let m = outline.len();
    let length_of = |i: usize| norm(sub(outline[(i + 1) % m], outline[i]));
    let (mut i, mut begin, mut side) = (0, 0.0, length_of(0));
    (0..n)
        .map(|k| {
            let s = length * k as f64 / n as f64;
            while begin + side < s && i + 1 < m {
                begin += side;
                i += 1;
                side = length_of(i);
            }
            let share = if 0.0 < side { ((s - begin) / side).min(1.0) } else { 0.0 };
            let (a, b) = (outline[i], outline[(i + 1) % m]);
            [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A circle of radius `R` becomes one of `R exp(-d^2 / (2 R^2))`: the Fourier coefficient of its first harmonic.
    #[test]
    fn a_circle_shrinks_as_its_first_harmonic() {
        let circle: Vec<_> = (0..2000)
            .map(|i| std::f64::consts::TAU * f64::from(i) / 2000.0)
            .map(|a| [a.cos(), a.sin()])
            .collect();
        for p in blurred(&circle, 0.3, 200) {
            assert!((norm(p) - (-0.045_f64).exp()).abs() < 1e-4, "{p:?}");
        }
    }
}
