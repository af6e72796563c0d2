//! A part that is not the shape it was made to: bent, twisted, or stretched by the reconstruction. The truth is the undeformed blade.

use crate::random::Random;

/// Amounts of deformation. Each works on the blade in its own axes; `t` is the fraction of its length from the root end and `x` the
/// distance from the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Deformation {
    /// Height of the bow over the length: `y += bow L 4 t (1 - t)`.
    pub bow: f64,
    /// Height of the saddle over the length: `y += saddle L ((2t - 1)^2 - (x / h)^2)`, `h` half the greatest width.
    pub saddle: f64,
    /// Way of an edge at half the greatest width, from root to tip, over the length: turns by `torsion L / h t`, rad.
    pub torsion: f64,
    /// By how much each axis is stretched: `x *= 1 + stretch[0]`, and so on.
    pub stretch: [f64; 3],
}

impl Deformation {
    /// None.
    pub const NONE: Self = Self { bow: 0.0, saddle: 0.0, torsion: 0.0, stretch: [0.0; 3] };

    /// Amounts of 1:5000 to 1:1000 (evenly in the logarithm) of random sign for bow, saddle and torsion, each stretch up to 0.1 % either way, so
    /// that two axes differ by up to 0.2 %.
    #[must_use]
    pub fn drawn(random: &mut Random) -> Self {
        let amount = |random: &mut Random| {
            let sign = if random.uniform() < 0.5 { -1.0 } else { 1.0 };
            sign * random.between(2e-4_f64.ln(), 1e-3_f64.ln()).exp()
        };
        let (bow, saddle, torsion) = (amount(random), amount(random), amount(random));
        Self { bow, saddle, torsion, stretch: [0; 3].map(|_| random.between(-1e-3, 1e-3)) }
    }

    /// A point moved by bow, saddle and torsion; `span`: radii of root end and tip, m, `half_width`: half the greatest width, m.
    #[must_use]
    pub fn bent(&self, p: [f64; 3], span: [f64; 2], half_width: f64) -> [f64; 3] {
        let length = span[1] - span[0];
        let t = (p[2] - span[0]) / length;
        let (sin, cos) = (self.torsion * length / half_width * t).sin_cos();
        let (x, y) = (cos * p[0] - sin * p[1], sin * p[0] + cos * p[1]);
        let bow = self.bow * 4.0 * t * (1.0 - t);
        let saddle = self.saddle * ((2.0 * t - 1.0).powi(2) - (p[0] / half_width).powi(2));
        [x, y + length * (bow + saddle), p[2]]
    }

    /// A point of the part stretched along its axes.
    #[must_use]
    pub fn stretched(&self, p: [f64; 3]) -> [f64; 3] {
        std::array::from_fn(|k| p[k] * (1.0 + self.stretch[k]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SPAN: [f64; 2] = [0.1, 1.1];

    #[test]
    fn amounts_are_those_of_the_formulas() {
        let bow = Deformation { bow: 1e-3, ..Deformation::NONE };
        assert!((bow.bent([0.0, 0.0, 0.6], SPAN, 0.05)[1] - 1e-3).abs() < 1e-15);
        assert!(bow.bent([0.0, 0.0, 1.1], SPAN, 0.05)[1].abs() < 1e-15);
        let torsion = Deformation { torsion: 1e-3, ..Deformation::NONE };
        let edge = torsion.bent([0.05, 0.0, 1.1], SPAN, 0.05);
        assert!((edge[1] - 0.05 * 0.02_f64.sin()).abs() < 1e-15);
        let saddle = Deformation { saddle: 5e-4, ..Deformation::NONE };
        assert!((saddle.bent([0.05, 0.0, 0.6], SPAN, 0.05)[1] + 5e-4).abs() < 1e-15);
        assert!((saddle.bent([0.0, 0.0, 0.1], SPAN, 0.05)[1] - 5e-4).abs() < 1e-15);
        let stretch = Deformation { stretch: [1e-3, 0.0, -1e-3], ..Deformation::NONE };
        assert!((stretch.stretched([1.0, 1.0, 1.0])[2] - 0.999).abs() < 1e-15);
    }

    #[test]
    fn drawn_amounts_are_in_the_stated_range() {
        let mut random = Random::new(3);
        for _ in 0..200 {
            let d = Deformation::drawn(&mut random);
            for a in [d.bow, d.saddle, d.torsion] {
                assert!((2e-4..=1e-3).contains(&a.abs()), "{a}");
            }
            assert!(d.stretch.iter().all(|s| s.abs() <= 1e-3));
        }
    }
}
