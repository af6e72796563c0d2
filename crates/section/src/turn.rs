//! Sine and cosine of angles within one turn, for the one place where they are needed millions of times.

/// Half of pi as a number that is exact when multiplied by 1 or 2, and the remainder.
const QUARTER: [f64; 2] = [1.570_796_326_734_125_6, 6.077_100_506_506_192e-11];

/// Coefficients of the odd and the even powers for angles up to a quarter of pi.
const SINE: [f64; 6] = [
    -1.666_666_666_666_663_2e-1,
    8.333_333_333_322_49e-3,
    -1.984_126_982_985_795e-4,
    2.755_731_370_707_006_8e-6,
    -2.505_076_025_340_686_3e-8,
    1.589_690_995_211_55e-10,
];
const COSINE: [f64; 6] = [
    4.166_666_666_666_66e-2,
    -1.388_888_888_887_411e-3,
    2.480_158_728_947_673e-5,
    -2.755_731_435_139_066_3e-7,
    2.087_572_321_298_175e-9,
    -1.135_964_755_778_819_5e-11,
];

/// Sine and cosine of an angle, rad, of at most a full turn, both to 3e-16. Unlike the library functions they are inlined and computed together.
///
/// # Source
/// Range reduction of W. J. Cody, W. Waite, *Software manual for the elementary functions*, 1980; polynomials of the freely distributable library of
/// Sun Microsystems, 1993 (`k_sin.c`, `k_cos.c`).
#[inline]
pub(crate) fn sin_cos(angle: f64) -> (f64, f64) {
    let quarters = angle * std::f64::consts::FRAC_2_PI;
    let quarters = (quarters + 0.5_f64.copysign(quarters)) as i32;
    let near = f64::from(quarters);
    let x = (angle - near * QUARTER[0]) - near * QUARTER[1];
    let z = x * x;
    let sine = x + x * z * polynomial(&SINE, z);
    let cosine = 1.0 - 0.5 * z + z * z * polynomial(&COSINE, z);
    in_quarter(sine, cosine, quarters)
}

/// [`sin_cos`] of several angles, with the same digits: every step for all of them, so that the processor need not wait for one.
#[inline]
pub(crate) fn sines_cosines<const N: usize>(angles: &[f64; N]) -> ([f64; N], [f64; N]) {
    let mut quarters = [0_i32; N];
    let (mut sines, mut cosines) = ([0.0; N], [0.0; N]);
    for k in 0..N {
        let quarter = angles[k] * std::f64::consts::FRAC_2_PI;
        quarters[k] = (quarter + 0.5_f64.copysign(quarter)) as i32;
    }
    for k in 0..N {
        let near = f64::from(quarters[k]);
        let x = (angles[k] - near * QUARTER[0]) - near * QUARTER[1];
        let z = x * x;
        (sines[k], cosines[k]) =
            (x + x * z * polynomial(&SINE, z), 1.0 - 0.5 * z + z * z * polynomial(&COSINE, z));
    }
    for k in 0..N {
        (sines[k], cosines[k]) = in_quarter(sines[k], cosines[k], quarters[k]);
    }
    (sines, cosines)
}

#[inline]
fn polynomial(c: &[f64; 6], z: f64) -> f64 {
    c[0] + z * (c[1] + z * (c[2] + z * (c[3] + z * (c[4] + z * c[5]))))
}

/// Sine and cosine of an angle from those of its remainder. Without branches, which points in any order would make the processor guess wrongly.
#[inline]
fn in_quarter(sine: f64, cosine: f64, quarters: i32) -> (f64, f64) {
    let (s, c) = if quarters & 1 == 0 { (sine, cosine) } else { (cosine, sine) };
    let signed =
        |value: f64, is_negative: i32| f64::from_bits(value.to_bits() ^ ((is_negative as u64 & 1) << 63));
    (signed(s, quarters >> 1), signed(c, (quarters + 1) >> 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_are_the_librarys() {
        for k in -200_000..=200_000 {
            let angle = f64::from(k) * (std::f64::consts::TAU / 200_000.0);
            let (sine, cosine) = sin_cos(angle);
            assert!((sine - angle.sin()).abs() < 3e-16 && (cosine - angle.cos()).abs() < 3e-16, "{angle}");
        }
        assert_eq!(sin_cos(0.0), (0.0, 1.0));
    }
}
