//! What a photographed scan is to be like.

use super::deformation::Deformation;
use super::kernel::{Kernel, KernelKind};
use super::noise::{Correlation, Noise};
use crate::random::Random;

/// How the surface is divided into triangles.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Triangulation {
    /// Even triangles, shaken, in wavy rings of random phase.
    Even,
    /// An even mesh of this many times the triangles, with its noise, from which edges are collapsed where that changes the surface least
    /// (`bladeform_mesh::simplify`): small triangles where it is curved or rough.
    Thinned(f64),
}

/// Everything that befalls a part that is photographed. `seed` decides all that is drawn; the noise is a function of the place on the surface, so it
/// stays the same when the triangles change.
#[derive(Debug, Clone, PartialEq)]
pub struct Photogrammetry {
    /// Seed.
    pub seed: u64,
    /// Triangles of the part, about.
    pub triangles: usize,
    /// How they are laid.
    pub triangulation: Triangulation,
    /// Resolution.
    pub kernel: Kernel,
    /// Layers of noise; they add up.
    pub noise: Vec<Noise>,
    /// Shift of the back against the face in a random direction, m; 0 for none.
    pub sides_offset_m: f64,
    /// Deformation of the part, or of each blade of a propeller; the stretch is that of the whole.
    pub deformation: Deformation,
    /// Number of holes, 10 to 40 mm wide.
    pub holes: usize,
    /// Number of loose fragments.
    pub fragments: usize,
    /// Whether a piece of the bench came along.
    pub bench: bool,
    /// Whether pose and unit are drawn; else the file is in blade axes and metres.
    pub any_pose: bool,
}

impl Photogrammetry {
    /// The exact surface in its own axes, in 650,000 even triangles.
    #[must_use]
    pub const fn clean(seed: u64) -> Self {
        Self {
            seed,
            triangles: 650_000,
            triangulation: Triangulation::Even,
            kernel: Kernel::NONE,
            noise: vec![],
            sides_offset_m: 0.0,
            deformation: Deformation::NONE,
            holes: 0,
            fragments: 0,
            bench: false,
            any_pose: false,
        }
    }

    /// A scan in which everything is drawn: kernel 0.1 to 3 mm, noise of any kind of 0.05 to 0.4 mm over 0.5 to 40 mm (patches of 50 to 200 mm),
    /// in half the cases two layers of it, two sides apart by 0.1 to 0.3 mm in a third, deformation in a half, thinned triangles in a half, 60,000 to
    /// 2 million of them (evenly in the logarithm), holes, fragments, bench, any pose.
    #[must_use]
    pub fn drawn(seed: u64) -> Self {
        let random = &mut Random::new(seed ^ 0x0F0C_05ED);
        let log = |low: f64, high: f64, random: &mut Random| random.between(low.ln(), high.ln()).exp();
        let kind = match (3.0 * random.uniform()) as usize {
            0 => KernelKind::Outline,
            1 => KernelKind::Flow,
            _ => KernelKind::Surface,
        };
        let kernel = Kernel { deviation_m: log(1e-4, 3e-3, random), kind };
        let layers = if random.uniform() < 0.5 { 1 } else { 2 };
        let noise = (0..layers)
            .map(|_| {
                let deviation_m = log(5e-5, 4e-4, random) / f64::from(layers).sqrt();
                let (correlation, [low, high]) = match (3.0 * random.uniform()) as usize {
                    0 => (Correlation::Gaussian, [5e-4, 0.04]),
                    1 => (Correlation::Exponential, [5e-4, 0.04]),
                    _ => (Correlation::Patches, [0.025, 0.1]),
                };
                Noise { deviation_m, length_m: log(low, high, random), correlation }
            })
            .collect();
        let triangulation = if random.uniform() < 0.5 {
            Triangulation::Even
        } else {
            Triangulation::Thinned(random.between(1.5, 3.0))
        };
        let triangles = log(6e4, 2e6, random) as usize;
        let sides_offset_m = if random.uniform() < 1.0 / 3.0 { random.between(1e-4, 3e-4) } else { 0.0 };
        let deformation = if random.uniform() < 0.5 { Deformation::drawn(random) } else { Deformation::NONE };
        Self {
            seed,
            triangles,
            triangulation,
            kernel,
            noise,
            sides_offset_m,
            deformation,
            holes: (8.0 * random.uniform()) as usize,
            fragments: (10.0 * random.uniform()) as usize,
            bench: random.uniform() < 0.6,
            any_pose: true,
        }
    }
}
