//! The hash that tells stored polars apart, and the version it begins with.

/// First bytes of a stored polar. The number is increased whenever the same outline gives other values or the layout changes.
pub(crate) const MARK: &[u8; 20] = b"bladeform polar  004";

/// The 128-bit hash FNV-1a of G. Fowler, L. C. Noll, K.-P. Vo (offset basis and prime of their published parameters).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Hash(u128);

impl Hash {
    pub(crate) fn new() -> Self {
        let mut hash = Self(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d);
        hash.bytes(MARK);
        hash
    }
    pub(crate) fn bytes(&mut self, bytes: &[u8]) {
        for &b in bytes {
            self.0 = (self.0 ^ u128::from(b)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
    }
    pub(crate) fn number(&mut self, v: f64) {
        self.bytes(&v.to_bits().to_le_bytes());
    }
    pub(crate) fn finish(self) -> u128 {
        self.0
    }
}
