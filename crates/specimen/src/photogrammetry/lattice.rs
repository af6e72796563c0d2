//! Random fields of space with a Gaussian correlation, as functions of the place alone: white values on an endless lattice, smoothed.

/// Field with zero mean, unit variance and the correlation `exp(-(distance / length)^2)`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lattice {
    seed: u64,
    /// Distance of lattice points, m: the deviation of the smoothing Gaussian.
    step: f64,
}

/// Lattice points on each side of a place that count along each axis: up to three deviations.
const REACH: i64 = 3;
/// Values in 0..1 have the deviation `1/sqrt(12)`; smoothing with a Gaussian whose deviation is the step leaves `pi^(-3/4)` of a deviation.
const GAIN: f64 = 3.464_101_615_137_755 * 0.423_777_208_123_757_6;
/// Odd numbers that mix the three counts (random bits).
const MIX: [u64; 3] = [0x9E37_79B9_7F4A_7C15, 0xC2B2_AE3D_27D4_EB4F, 0x1656_67B1_9E37_79F9];

impl Lattice {
    /// Field of a seed. `length_m`: distance at which the correlation is 1/e, above 0.
    pub(super) fn new(seed: u64, length_m: f64) -> Self {
        // Smoothing with deviation s gives the correlation exp(-d^2 / (4 s^2)).
        Self { seed, step: 0.5 * length_m }
    }

    /// Value at a place, m.
    pub(super) fn at(&self, place: [f64; 3]) -> f64 {
        let cell = place.map(|x| (x / self.step).floor());
        let counts = cell.map(|c| c as i64);
        let weights: [[f64; 2 * REACH as usize]; 3] = std::array::from_fn(|axis| {
            let f = place[axis] / self.step - cell[axis];
            std::array::from_fn(|k| {
                let d = k as f64 - (REACH - 1) as f64 - f;
                (-0.5 * d * d).exp()
            })
        });
        let mut sum = 0.0;
        for (i, wx) in weights[0].iter().enumerate() {
            for (j, wy) in weights[1].iter().enumerate() {
                let row = self.row(counts[0] + i as i64, counts[1] + j as i64);
                let mut line = 0.0;
                for (k, wz) in weights[2].iter().enumerate() {
                    line += wz * (white(row, counts[2] + k as i64) - 0.5);
                }
                sum += wx * wy * line;
            }
        }
        GAIN * sum
    }

    const fn row(&self, i: i64, j: i64) -> u64 {
        finish(self.seed ^ finish((i as u64).wrapping_mul(MIX[0]) ^ finish((j as u64).wrapping_mul(MIX[1]))))
    }
}

/// White value in 0..1 of a lattice point.
const fn white(row: u64, k: i64) -> f64 {
    (finish(row ^ (k as u64).wrapping_mul(MIX[2])) >> 11) as f64 / (1_u64 << 53) as f64
}

/// The finishing steps of `SplitMix64` (see [`crate::Random`]).
const fn finish(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::random::Random;

    #[test]
    fn the_field_has_unit_variance_and_its_gaussian_correlation() {
        let (field, mut random) = (Lattice::new(4, 0.01), Random::new(9));
        let n = 60_000;
        let mut sums = [0.0; 4];
        for _ in 0..n {
            let p = [0; 3].map(|_| random.between(-1.0, 1.0));
            let v = field.at(p);
            for (sum, lag) in sums.iter_mut().zip([0.0, 0.005, 0.01, 0.02]) {
                // A lag along a diagonal, which no axis of the lattice knows.
                *sum += v * field.at(p.map(|x| x + lag / 3.0_f64.sqrt())) / f64::from(n);
            }
        }
        for (found, expected) in sums.iter().zip([1.0, (-0.25_f64).exp(), (-1.0_f64).exp(), (-4.0_f64).exp()])
        {
            assert!((found - expected).abs() < 0.02, "{found} {expected}");
        }
    }
}
