//! Velocities induced by helical vortices of constant radius and pitch at the blades that shed them.

/// Axial and tangential velocity, m/s, at radius `radius_m` on one of `blades` lifting lines, induced by as many
/// semi-infinite helical vortices of unit circulation (1 m2/s). The vortices start on the lifting lines at `vortex_radius_m`.
/// The tangent of their pitch angle is `tangent` (above 0).
///
/// The axial velocity is positive downstream inside the helices. The tangential velocity is positive in the sense that it has outside them, that of
/// a vortex along the axis. On the vortex itself the velocity is infinite: `radius_m` must differ from `vortex_radius_m`.
///
/// # Source
/// J. W. Wrench, *The calculation of propeller induction factors*, David Taylor Model Basin Report 1116, 1957: asymptotic
/// formulas for the induction factors of H. W. Lerbs, *Moderately loaded propellers with a finite number of blades and an
/// arbitrary distribution of circulation*, Transactions SNAME 60, 1952, 73-123. The formulas are from memory and
/// are checked against direct integration of the Biot-Savart law.
#[must_use]
pub fn helix_velocity(blades: u32, radius_m: f64, vortex_radius_m: f64, tangent: f64) -> [f64; 2] {
    let z = f64::from(blades);
    let (y, y0) = (radius_m / (vortex_radius_m * tangent), 1.0 / tangent);
    let (s, s0) = (y.hypot(1.0), y0.hypot(1.0));
    // The logarithm avoids overflow of the large powers in the source.
    let log_u = z * ((y * (s0 + 1.0) / (y0 * (s + 1.0))).ln() + s - s0);
    let root = (s0 / s).sqrt();
    let third = |y: f64, s: f64, a: f64, b: f64| (a * y * y + b) / s.powi(3);
    let series = (third(y0, s0, 9.0, 2.0) + third(y, s, 3.0, -2.0)) / (24.0 * z);
    let scale = std::f64::consts::TAU * radius_m;
    if radius_m < vortex_radius_m {
        // U / (1 - U)
        let ratio = 1.0 / (-log_u).exp_m1();
        let f1 = -root / (2.0 * z * y0) * (ratio + series * ratio.ln_1p());
        [z / (2.0 * scale) * (y - 2.0 * z * y * y0 * f1), z * z / scale * y0 * f1]
    } else {
        // 1 / (U - 1)
        let ratio = 1.0 / log_u.exp_m1();
        let f2 = root / (2.0 * z * y0) * (ratio - series * ratio.ln_1p());
        [-z * z / scale * y * y0 * f2, z / (2.0 * scale) * (1.0 + 2.0 * z * y0 * f2)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Direct integration of the Biot-Savart law over many turns, with a mean value for the rest.
    fn integrated(blades: u32, r: f64, rv: f64, tangent: f64) -> [f64; 2] {
        let (turns, steps_a_turn) = (60, 2_000);
        let mut sum = [0.0; 2];
        for blade in 0..blades {
            let start = TAU * f64::from(blade) / f64::from(blades);
            let step = TAU / f64::from(steps_a_turn);
            for k in 0..turns * steps_a_turn {
                let t = (f64::from(k) + 0.5) * step;
                // The wake lags behind the blade. x is downstream, and the field point is on the y axis.
                let (sin, cos) = (start + t).sin_cos();
                let place = [rv * tangent * t, rv * cos, rv * sin];
                let tangent_vector = [rv * tangent, -rv * sin, rv * cos];
                let d = [-place[0], r - place[1], -place[2]];
                let cubed = (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).powf(1.5);
                let factor = step / (2.0 * TAU * cubed);
                sum[0] += factor * (tangent_vector[1] * d[2] - tangent_vector[2] * d[1]);
                sum[1] += factor * (tangent_vector[0] * d[1] - tangent_vector[1] * d[0]);
            }
        }
        sum
    }

    #[test]
    fn closed_formulas_agree_with_direct_integration() {
        for (blades, r, rv, tangent) in [
            (2, 0.5, 0.9, 0.3),
            (2, 0.9, 0.5, 0.6),
            (3, 0.6, 0.7, 0.5),
            (2, 0.75, 0.7, 0.2),
            (4, 0.3, 0.8, 1.2),
        ] {
            let (closed, direct) =
                (helix_velocity(blades, r, rv, tangent), integrated(blades, r, rv, tangent));
            let scale = direct[0].abs().max(direct[1].abs());
            // The integration gives the opposite sign of the axial velocity because of its sense of rotation.
            for k in 0..2 {
                let difference = (closed[k].abs() - direct[k].abs()).abs() / scale;
                assert!(difference < 0.02, "{blades} {r} {rv} {tangent}: {closed:?} {direct:?}");
            }
        }
    }

    #[test]
    fn many_blades_make_a_cylinder() {
        // Exact: inside, half the axial velocity of a long coil; outside, half that of a straight vortex along the axis.
        let (blades, rv, tangent) = (200, 1.0, 0.4);
        let [axial, swirl] = helix_velocity(blades, 0.5, rv, tangent);
        assert!((axial / (200.0 / (2.0 * TAU * rv * tangent)) - 1.0).abs() < 1e-6 && swirl.abs() < 1e-6);
        let [axial, swirl] = helix_velocity(blades, 1.6, rv, tangent);
        assert!((swirl / (200.0 / (2.0 * TAU * 1.6)) - 1.0).abs() < 1e-6 && axial.abs() < 1e-6);
    }
}
