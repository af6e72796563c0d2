//! The resolution of a scan, from the noise on its sides: a reconstruction smooths surface and noise with the same kernel.
//!
//! Noise that was smoothed by a Gaussian of deviation `d` has no correlation shorter than `2 d`: its variogram is a sum of terms `1 - exp(-h^2 / L^2)` with `L` from `2 d`
//! on and weights that are not negative. The greatest `d` for which such a sum follows the variogram is an upper bound of the kernel. Where longer terms take part,
//! the noise was rough before it was smoothed, and the bound is the kernel itself; where one term is enough, the noise may have been smooth of its own, and the kernel
//! may be smaller.

use bladeform_table::Source;

use super::noise::Variogram;
use crate::notice::MeasureNotice;
use crate::plan::WIDTH_OF_GAUSSIAN;

/// Standard deviation of the kernel, file units, and the standard uncertainty of that.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Kernel {
    pub(crate) deviation: f64,
    pub(crate) u: f64,
}

impl Kernel {
    /// The resolution for the table, where the scan has one: without uncertainty if it was given.
    pub(crate) fn source(self, metres_per_unit: f64) -> Option<Source> {
        let to_width = WIDTH_OF_GAUSSIAN * metres_per_unit;
        (0.0 < self.deviation).then(|| Source {
            resolution_m: Some(self.deviation * to_width),
            resolution_uncertainty_m: (0.0 < self.u).then_some(self.u * to_width),
            ..Source::default()
        })
    }

    /// The notice of a resolution that was estimated.
    pub(crate) fn notice(self, metres_per_unit: f64) -> Option<MeasureNotice> {
        let to_width = WIDTH_OF_GAUSSIAN * metres_per_unit;
        let deviation_m = self.deviation * metres_per_unit;
        if 0.0 < self.u && MOST_BELIEVED_M < deviation_m {
            let (width_m, short_m) = (self.deviation * to_width, DRAWN_BACK * deviation_m);
            return Some(MeasureNotice::ResolutionDoubtful { width_m, short_m });
        }
        (0.0 < self.u).then_some(MeasureNotice::ResolutionEstimated {
            width_m: self.deviation * to_width,
            u_m: self.u * to_width,
        })
    }
}

/// How far the kernel draws both ends of a thin section back together, standard deviations: twice that of the end of a thin plate, `sqrt(2 / pi)`.
pub(crate) const DRAWN_BACK: f64 = 1.6;

/// Lengths of the terms in units of the shortest: from one to beyond the greatest distance.
const LENGTHS: [f64; 9] = [1.0, 1.4, 2.0, 3.0, 5.0, 9.0, 17.0, 33.0, 65.0];
/// Sweeps of the search for the weights.
const SWEEPS: usize = 300;
/// Pairs in a class from which on it is used.
const LEAST_PAIRS: f64 = 60.0;
/// Fewest classes that show a form.
const LEAST_CLASSES: usize = 6;
/// Relative error of a class for reasons other than the number of its pairs: residuals are correlated and the smooth surface takes part of them.
const CLASS_ERROR: f64 = 0.03;
/// Candidates of the kernel, a factor of 1.12 each, from this part of the triangles' edge on.
const CANDIDATES: usize = 40;
const CANDIDATE_STEP: f64 = 1.12;
const FIRST_CANDIDATE: f64 = 0.1;
/// A misfit this much above the least one, mean square in the errors of the classes, contradicts a candidate.
const CONTRADICTED: f64 = 0.2;
/// Below this part of the triangles' edge a variogram does not show a kernel.
const SHOWN_FROM: f64 = 0.7;
/// A kernel may be this much of the triangles' edge although the noise is rougher: a mesh that was thinned has errors of its own at each corner, and reconstructions choose triangles about as
/// large as what they resolve (common practice, no source).
const PLAUSIBLE: f64 = 1.2;
/// Noise below this, chords, is that of rounding.
const LEAST_NOISE: f64 = 1e-5;
/// Weight of longer terms from which on the noise was rough before it was smoothed.
const ROUGH: f64 = 0.2;
/// A kernel that rough noise shows, and its standard uncertainty, as parts of the bound: terms just above the bound follow a variogram almost as well.
const SHOWN: [f64; 2] = [0.75, 0.3];
/// A kernel between nothing and the bound: the mean and the standard deviation of a distribution that prefers the bound (a judgement, JCGM 100:2008, 4.3). The bound itself errs by a quarter:
/// noise that the triangles add after the smoothing makes it too small (`docs/decisions/028-errors-longer-than-a-band.md`).
const BETWEEN: [f64; 2] = [0.6, 0.45];
/// Kernels greater than this, m, are not believed where the noise may have been smooth of its own: photogrammetry of parts resolves 0.1 to 3 mm (common practice, no source).
pub(crate) const MOST_BELIEVED_M: f64 = 3e-3;

/// The kernel that a variogram shows. `edge`: typical edge of the triangles, `chord`: a typical chord; `most`: greatest
/// kernel that is believed without being shown; file units.
pub(crate) fn kernel(seen: &Variogram, edge: f64, chord: f64, most: f64) -> Kernel {
    let noise = seen.classes.iter().map(|c| c.1).fold(0.0, f64::max).sqrt();
    if noise < LEAST_NOISE * chord {
        // A mesh that was computed and not scanned.
        return Kernel::default();
    }
    let classes: Vec<_> = seen.classes.iter().copied().filter(|c| LEAST_PAIRS <= c.2 && 0.0 < c.1).collect();
    if classes.len() < LEAST_CLASSES {
        return between((PLAUSIBLE * edge).min(most));
    }
    let candidates: Vec<(f64, f64, f64)> = (0..CANDIDATES)
        .map(|k| edge * FIRST_CANDIDATE * CANDIDATE_STEP.powi(k as i32))
        .map(|d| {
            let (misfit, longer) = misfit(&classes, 2.0 * d);
            (d, misfit, longer)
        })
        .collect();
    let least = candidates.iter().map(|c| c.1).fold(f64::INFINITY, f64::min);
    let limit = least + CONTRADICTED;
    let Some(last) = candidates.iter().rposition(|c| c.1 < limit) else {
        return between((PLAUSIBLE * edge).min(most));
    };
    let (inside, _, longer) = candidates[last];
    // Between two candidates the misfit is taken as straight, so that the bound follows the scan without steps.
    let bound = match candidates.get(last + 1) {
        Some(next) => {
            inside + (next.0 - inside) * (limit - candidates[last].1) / (next.1 - candidates[last].1)
        }
        None => inside,
    };
    if SHOWN_FROM * edge < bound && ROUGH < longer {
        return Kernel { deviation: SHOWN[0] * bound, u: SHOWN[1] * bound };
    }
    between(bound.max(PLAUSIBLE * edge).min(most))
}

fn between(bound: f64) -> Kernel {
    Kernel { deviation: BETWEEN[0] * bound, u: BETWEEN[1] * bound }
}

/// How well terms from a shortest length on follow the variogram: mean square in the errors of the classes, and the share of the terms beyond the second.
fn misfit(classes: &[(f64, f64, f64)], shortest: f64) -> (f64, f64) {
    let rows: Vec<([f64; LENGTHS.len()], f64)> = classes
        .iter()
        .map(|&(h, value, pairs)| {
            let error = value * CLASS_ERROR.hypot((2.0 / pairs).sqrt());
            let term = |l: &f64| (1.0 - (-(h / (l * shortest)).powi(2)).exp()) / error;
            (std::array::from_fn(|k| term(&LENGTHS[k])), value / error)
        })
        .collect();
    let mut weights = [0.0; LENGTHS.len()];
    let mut left: Vec<f64> = rows.iter().map(|r| r.1).collect();
    for _ in 0..SWEEPS {
        for k in 0..LENGTHS.len() {
            let square: f64 = rows.iter().map(|r| r.0[k] * r.0[k]).sum();
            let slope: f64 = rows.iter().zip(&left).map(|(r, l)| r.0[k] * l).sum();
            let weight = (weights[k] + slope / square.max(f64::MIN_POSITIVE)).max(0.0);
            let step = weight - weights[k];
            weights[k] = weight;
            left.iter_mut().zip(&rows).for_each(|(l, r)| *l -= step * r.0[k]);
        }
    }
    let misfit = left.iter().map(|l| l * l).sum::<f64>() / left.len() as f64;
    let all: f64 = weights.iter().sum();
    (misfit, weights[2..].iter().sum::<f64>() / all.max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn variogram(of: impl Fn(f64) -> f64) -> Variogram {
        Variogram { classes: (0..16).map(|k| 0.45 * 1.35_f64.powi(k)).map(|h| (h, of(h), 1e4)).collect() }
    }

    #[test]
    fn exponential_noise_shows_its_kernel() {
        // exp(-h/l) is a mixture of Gaussians of length sqrt(2) l g over a normal g; a kernel of 1.5 adds 9 to the squares of their lengths.
        let (l, d) = (10.0, 1.5);
        let of = |h: f64| {
            (0..40)
                .map(|k| 0.1 * (f64::from(k) + 0.5))
                .map(|g| {
                    let raw = 2.0 * l * l * g * g;
                    let all = raw + 4.0 * d * d;
                    (-0.5 * g * g).exp() * raw / all * (1.0 - (-h * h / all).exp())
                })
                .sum::<f64>()
        };
        let found = kernel(&variogram(of), 1.0, 100.0, 5.0);
        assert!((found.deviation - d).abs() < 2.0 * found.u && found.u < d, "{found:?}");
    }

    #[test]
    fn white_noise_bounds_the_kernel_by_the_edge() {
        let found = kernel(&variogram(|_| 1.0), 1.0, 100.0, 5.0);
        // 1.2 edges are plausible, of which 0.6 and twice 0.45.
        assert!(found.deviation + 2.0 * found.u < 1.9, "{found:?}");
    }
}
