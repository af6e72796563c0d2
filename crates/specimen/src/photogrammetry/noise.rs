//! Noise of a reconstruction along the normal of its surface: which correlation it has, and its value at a place.

use super::kernel::Kernel;
use super::lattice::Lattice;
use super::patches::Patches;
use super::sheet::{Place, Sheet};

/// How the noise at two places of the surface is correlated, before the kernel. `l`: the correlation length, `d`: the distance over the surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Correlation {
    /// `exp(-(d / l)^2)`.
    Gaussian,
    /// `exp(-d / l)`; rounded at the top below about `0.2 l`.
    Exponential,
    /// Each place is covered by about four round patches of radius `l`, each with an offset of its own along the normal, and has the mean of
    /// their offsets: steps at their borders, `2/pi (acos(d / 2l) - d / 2l sqrt(1 - (d / 2l)^2))`, about 1/e at `d = l`.
    Patches,
}

/// One layer of noise. The noise is smoothed by the kernel, as the surface is, and has its deviation after that.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation along the normal in the mesh, m.
    pub deviation_m: f64,
    /// Correlation length `l` before the kernel, m.
    pub length_m: f64,
    /// Correlation.
    pub correlation: Correlation,
}

impl Noise {
    /// Correlation after the kernel at a distance over the surface, m: a kernel of deviation `s` makes `exp(-(d/l)^2)` to
    /// `exp(-d^2 / (l^2 + 4 s^2))`; exponential noise is a sum of such. Patches keep theirs but for their borders.
    #[must_use]
    pub fn correlation_at(&self, distance_m: f64, kernel: &Kernel) -> f64 {
        if self.correlation == Correlation::Patches {
            let x = (0.5 * distance_m / self.length_m).clamp(0.0, 1.0);
            return std::f64::consts::FRAC_2_PI * (x.acos() - x * (1.0 - x * x).sqrt());
        }
        let parts = self.parts(kernel);
        parts.iter().map(|[length, share]| share * (-(distance_m / length).powi(2)).exp()).sum()
    }

    /// Gaussian fields that add up to the noise: correlation length after the kernel, m, and share of the variance.
    fn parts(&self, kernel: &Kernel) -> Vec<[f64; 2]> {
        let raw = match self.correlation {
            Correlation::Gaussian => vec![[self.length_m, 1.0]],
            Correlation::Exponential => exponential_parts(self.length_m),
            Correlation::Patches => vec![],
        };
        // In the plane a kernel of deviation s takes l^2 / (l^2 + 4 s^2) of the variance.
        let wider = 4.0 * kernel.deviation_m.powi(2);
        let after = raw.iter().map(|[l, share]| {
            let square = l * l + wider;
            [square.sqrt(), share * l * l / square]
        });
        let sum: f64 = after.clone().map(|p| p[1]).sum();
        after.map(|[l, share]| [l, share / sum]).collect()
    }
}

/// Steps of the mixture and their size: the midpoint rule on an even function that vanishes with all derivatives at both ends.
const N_MIXED: usize = 15;
/// Size of the steps: together they span 3 (chosen).
const MIX_STEP: f64 = 0.2;

/// Gaussian correlations that mix to `exp(-d/l)`: `exp(-x) = E[exp(-x^2 / (2 g^2))]` over a standard normal `g` (a Laplace transform found in
/// any table: `exp(-x)` is the integral of `exp(-t - x^2/(4t)) / sqrt(pi t)` over `t > 0`, with `t = g^2/2`).
fn exponential_parts(length: f64) -> Vec<[f64; 2]> {
    (1..=N_MIXED)
        .map(|k| MIX_STEP * (k as f64 - 0.5))
        .map(|g| [length * std::f64::consts::SQRT_2 * g, (-0.5 * g * g).exp()])
        .collect()
}

/// All layers of one part's noise.
#[derive(Debug)]
pub(super) struct NoiseField {
    parts: Vec<(Lattice, f64)>,
    patches: Vec<Patches>,
}

/// A correlation shorter than this, m, cannot be distinguished from white noise in any mesh of the studies.
const LEAST_LENGTH: f64 = 2e-5;

impl NoiseField {
    /// Noise of a seed on a sheet.
    pub(super) fn new(layers: &[Noise], kernel: &Kernel, sheet: &Sheet, seed: u64) -> Self {
        let (mut parts, mut patches) = (Vec::new(), Vec::new());
        let mut random = crate::random::Random::new(seed);
        for layer in layers.iter().filter(|n| 0.0 < n.deviation_m) {
            for [length, share] in layer.parts(kernel) {
                let field = Lattice::new(random.bits(), length.max(LEAST_LENGTH));
                parts.push((field, layer.deviation_m * share.sqrt()));
            }
            if layer.correlation == Correlation::Patches {
                patches.push(Patches::new(layer, kernel, sheet, &mut random));
            }
        }
        Self { parts, patches }
    }

    /// Offset along the normal at a place of the sheet, m.
    pub(super) fn at(&self, place: &Place) -> f64 {
        self.in_space(place.tube) + self.patches.iter().map(|p| p.at(place)).sum::<f64>()
    }

    /// Offset at a point of space, m, without the layers of patches.
    pub(super) fn in_space(&self, point: [f64; 3]) -> f64 {
        self.parts.iter().map(|(field, deviation)| deviation * field.at(point)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mixture_is_exponential() {
        let noise = Noise { deviation_m: 1e-4, length_m: 0.01, correlation: Correlation::Exponential };
        for x in [0.3_f64, 0.7, 1.0, 2.0, 3.0] {
            let c = noise.correlation_at(0.01 * x, &Kernel::NONE);
            assert!((c - (-x).exp()).abs() < 0.012, "{x} {c}");
        }
    }

    #[test]
    fn patches_fall_to_about_one_in_e_at_their_radius() {
        let noise = Noise { deviation_m: 1e-4, length_m: 0.05, correlation: Correlation::Patches };
        assert!((noise.correlation_at(0.05, &Kernel::NONE) - 0.39).abs() < 0.01);
        assert!((noise.correlation_at(0.0, &Kernel::NONE) - 1.0).abs() < 1e-12);
    }
}
