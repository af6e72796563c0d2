//! The resolution of a reconstruction: a Gaussian that smooths the surface.

use bladeform_numeric::vector::distance_hypot;
use bladeform_section::perimeter;

/// How the Gaussian works on the surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KernelKind {
    /// The points of the true outline of each section, convolved along its arc length: `p(s) -> integral g(s - t) p(t) dt`. A circle of
    /// radius `R` becomes one of `R exp(-d^2 / (2 R^2))`, the end of a thin plate draws back by `d sqrt(2/pi)`.
    Outline,
    /// As `Outline`, then convolved along the meridians (from the middle of the root end along the span to the tip), with their mean
    /// length. Rounds the rim of the root end and draws the tip back, but the tip by less than the edge of a plate (a third or so of it), since
    /// the meridians do not run straight there.
    Surface,
    /// The outline of each section under curve-shortening flow for the time `d^2 / 2`: many small Gaussians along the arc length of what
    /// the ones before have left. A circle of radius `R` becomes one of `sqrt(R^2 - d^2)`.
    Flow,
}

/// Standard deviation and kind of the smoothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kernel {
    /// Standard deviation `d` of the Gaussian, m; 0 leaves the surface as it is.
    pub deviation_m: f64,
    /// Kind.
    pub kind: KernelKind,
}

/// The Gaussian is cut off beyond so many deviations: 6e-7 of it lie outside.
const REACH: f64 = 5.0;
/// Outlines are sampled at least this finely, in deviations, before they are convolved.
const STEP: f64 = 0.1;
/// But at most so many times as finely as they are asked for: a kernel of a few points needs no more.
const MOST_FINER: f64 = 4.0;
/// Distance of points in the flow, in deviations: it takes some 50 steps then. Half of it costs eight times as much.
const FLOW_SPACING: f64 = 0.2;
/// Share of the second difference that one step of the flow adds; a half would be the limit of stability.
const FLOW_STEP: f64 = 0.25;
/// Steps of the flow after which points are spaced evenly again.
const FLOW_ROUND: usize = 10;
/// Points with which the flow goes on when an outline has become small.
const LEAST_FLOW_POINTS: usize = 32;
/// An outline whose points are nearer than this, in deviations, has become a point.
const VANISHED: f64 = 1e-4;

impl Kernel {
    /// No smoothing.
    pub const NONE: Self = Self { deviation_m: 0.0, kind: KernelKind::Outline };

    /// `n` points of a closed outline, smoothed, the first of them where its first corner was: evenly spaced by the arc length of the
    /// true outline, after the flow by that of the smoothed one.
    #[must_use]
    pub fn smoothed(&self, outline: &[[f64; 2]], n: usize) -> Vec<[f64; 2]> {
        let length = perimeter(outline);
        // A polygon without length is a point.
        if length <= 0.0 || n == 0 {
            return vec![outline.first().copied().unwrap_or([0.0; 2]); n];
        }
        if self.deviation_m <= 0.0 {
            return even_points(outline, n);
        }
        if self.kind == KernelKind::Flow {
            return shortened(even_points(outline, n), self.deviation_m);
        }
        if length < self.deviation_m {
            // What is left of such an outline is below a hundred-millionth of it.
            let points = even_points(outline, n);
            return vec![[0, 1].map(|k| points.iter().map(|p| p[k]).sum::<f64>() / n as f64); n];
        }
        // A multiple of `n` keeps every point of the coarser spacing.
        let finer = (length / (STEP * self.deviation_m) / n as f64).ceil().clamp(1.0, MOST_FINER) as usize;
        convolved(&even_points(outline, n * finer), self.deviation_m, length, finer)
    }
}

/// `n` points of a closed polygon at even arc length, from the first corner on.
pub(super) fn even_points(outline: &[[f64; 2]], n: usize) -> Vec<[f64; 2]> {
    let m = outline.len();
    let length = perimeter(outline);
    let (mut i, mut before, mut side) = (0, 0.0, distance_hypot(outline[0], outline[1 % m]));
    (0..n)
        .map(|k| {
            let s = length * k as f64 / n as f64;
            while before + side < s && i + 1 < m {
                before += side;
                i += 1;
                side = distance_hypot(outline[i], outline[(i + 1) % m]);
            }
            let t = if side == 0.0 { 0.0 } else { ((s - before) / side).min(1.0) };
            let (a, b) = (outline[i], outline[(i + 1) % m]);
            [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
        })
        .collect()
}

/// Every `stride`th point of a closed, evenly spaced outline of the given length, convolved with a Gaussian along it.
fn convolved(points: &[[f64; 2]], deviation: f64, length: f64, stride: usize) -> Vec<[f64; 2]> {
    let n = points.len();
    let step = length / n as f64;
    let reach = (REACH * deviation / step).ceil() as usize;
    // A small outline is gone round more than once: what falls on the same point is one weight.
    let taps = (2 * reach + 1).min(n);
    let mut weights = vec![0.0; taps];
    for k in 0..=2 * reach {
        let x = (k as f64 - reach as f64) * step / deviation;
        weights[k % taps] += (-0.5 * x * x).exp();
    }
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    // Laid out with the neighbours across the seam, so that the sum runs straight on.
    let padded: Vec<[f64; 2]> =
        (0..n + taps).map(|k| points[(k + n * (1 + reach / n) - reach) % n]).collect();
    (0..n)
        .step_by(stride)
        .map(|i| {
            let mut p = [0.0; 2];
            for (w, q) in weights.iter().zip(&padded[i..]) {
                p[0] += w * q[0];
                p[1] += w * q[1];
            }
            p
        })
        .collect()
}

/// Curve-shortening flow by small explicit steps; an outline that is smaller than the kernel ends as a point.
fn shortened(mut points: Vec<[f64; 2]>, deviation: f64) -> Vec<[f64; 2]> {
    let n = points.len();
    let (mut done, whole) = (0.0, deviation * deviation);
    let wished = perimeter(&points) / (FLOW_SPACING * deviation);
    let mut count = wished.min(MOST_FINER * n as f64) as usize;
    while done < whole {
        let length = perimeter(&points);
        // A shorter outline needs fewer points, and many would take ever more steps.
        if length < 0.5 * FLOW_SPACING * deviation * count as f64 {
            count /= 2;
        }
        count = count.max(LEAST_FLOW_POINTS);
        points = even_points(&points, count);
        let step = length / points.len() as f64;
        if step < VANISHED * deviation {
            return vec![points[0]; n];
        }
        for _ in 0..FLOW_ROUND {
            // One step of share f is a kernel of the variance 2 f step^2.
            let left = (whole - done) / (2.0 * step * step);
            if left <= 0.0 {
                break;
            }
            let share = left.min(FLOW_STEP);
            points = spread(&points, share);
            done += 2.0 * share * step * step;
        }
    }
    even_points(&points, n)
}

fn spread(points: &[[f64; 2]], share: f64) -> Vec<[f64; 2]> {
    let n = points.len();
    (0..n)
        .map(|i| {
            let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
            [0, 1].map(|k| b[k] + share * (a[k] - 2.0 * b[k] + c[k]))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(radius: f64) -> Vec<[f64; 2]> {
        (0..720)
            .map(|i| std::f64::consts::TAU * f64::from(i) / 720.0)
            .map(|a| [radius * a.cos(), radius * a.sin()])
            .collect()
    }

    fn kernel(kind: KernelKind, deviation_m: f64) -> Kernel {
        Kernel { deviation_m, kind }
    }

    #[test]
    fn a_circle_shrinks_as_theory_says() {
        let (radius, d) = (0.01, 0.003);
        let size = |k: Kernel| {
            let p = k.smoothed(&circle(radius), 400);
            p.iter().map(|p| p[0].hypot(p[1])).sum::<f64>() / 400.0
        };
        let expected = radius * (-d * d / (2.0 * radius * radius)).exp();
        assert!((size(kernel(KernelKind::Outline, d)) - expected).abs() < 2e-7);
        let flow = (radius * radius - d * d).sqrt();
        assert!(
            (size(kernel(KernelKind::Flow, d)) - flow).abs() < 1e-5,
            "{}",
            size(kernel(KernelKind::Flow, d)) - flow
        );
    }

    #[test]
    fn the_square_end_of_a_plate_draws_back_as_theory_says() {
        // A plate 0.2 m long and t thick: the middle of its end is |s| - t/2 back where |s| exceeds t/2.
        let (t, d): (f64, f64) = (0.002, 0.0015);
        let plate = [[0.0, t / 2.0], [-0.2, t / 2.0], [-0.2, -t / 2.0], [0.0, -t / 2.0]];
        let n = 8000;
        let p = kernel(KernelKind::Outline, d).smoothed(&plate, n);
        let front = p.iter().map(|p| p[0]).fold(f64::NEG_INFINITY, f64::max);
        // Integral of 2 (s - a) g(s) from a = t/2 on, by Simpson's rule.
        let a = t / 2.0;
        let g = |s: f64| 2.0 * (s - a) * (-0.5 * (s / d).powi(2)).exp() / (d * std::f64::consts::TAU.sqrt());
        let h = 8.0 * d / 2000.0;
        let back: f64 = (0..1000)
            .map(|i| a + 2.0 * h * f64::from(i))
            .map(|s| h / 3.0 * (g(s) + 4.0 * g(s + h) + g(s + 2.0 * h)))
            .sum();
        assert!((front + back).abs() < 3e-6, "{front} {back}");
    }

    #[test]
    fn an_outline_smaller_than_the_kernel_becomes_a_point() {
        for kind in [KernelKind::Outline, KernelKind::Flow] {
            let p = kernel(kind, 0.003).smoothed(&circle(5e-4), 60);
            assert!(p.iter().all(|p| p[0].hypot(p[1]) < 1e-5), "{kind:?}");
        }
    }

    #[test]
    fn without_a_kernel_points_lie_on_the_outline_at_even_arc_length() {
        let p = Kernel::NONE.smoothed(&[[0.0, 0.0], [3.0, 0.0], [3.0, 1.0], [0.0, 1.0]], 8);
        assert!(
            (p[1][0] - 1.0).abs() < 1e-12 && (p[4][1] - 1.0).abs() < 1e-12 && (p[7][1] - 1.0).abs() < 1e-12
        );
    }
}
