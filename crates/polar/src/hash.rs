//! The hash that tells stored polars apart, and the version it begins with.

use sha2::{Digest, Sha256};

/// First bytes of a stored polar. The number is increased whenever the same outline gives other values or the layout changes.
pub(crate) const MARK: &[u8; 20] = b"bladeform polar  006";

/// The first 128 bits of SHA-256 (FIPS 180-4): 32 hexadecimal digits name a file well enough.
#[derive(Debug, Clone)]
pub(crate) struct Hash(Sha256);

impl Hash {
    pub(crate) fn new() -> Self {
        Self(Sha256::new_with_prefix(MARK))
    }
    pub(crate) fn bytes(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }
    pub(crate) fn number(&mut self, v: f64) {
        self.bytes(&v.to_bits().to_le_bytes());
    }
    pub(crate) fn finish(self) -> u128 {
        let digest = self.0.finalize();
        digest.iter().take(16).fold(0, |key, &byte| key << 8 | u128::from(byte))
    }
}
