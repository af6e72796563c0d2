//! A small seeded generator, so that a scan of a seed is the same on every machine and in every version.

/// `SplitMix64`.
///
/// # Source
/// G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014, figure 17.
#[derive(Debug, Clone)]
pub struct Random(u64);

impl Random {
    /// Generator of a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }
    /// Next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    /// Uniform in 0..1.
    pub const fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }
    /// Uniform between two bounds.
    pub const fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }
    /// Standard normal (G. E. P. Box, M. E. Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}
