//! Closure of the two integral equations: friction, dissipation, shape relations, shear-stress lag and amplification of disturbances.
//!
//! M. Drela, M. B. Giles, "Viscous-inviscid analysis of transonic and low Reynolds number airfoils", AIAA Journal 25(10), 1987, pp. 1347-1355, in the form for
//! incompressible flow. The shear stress at transition is from M. Drela, in T. J. Mueller (ed.), "Low Reynolds Number Aerodynamics", Springer, 1989.
//! Symbols: `h` shape factor, `rt` Reynolds number based on the momentum thickness, `hs` energy shape factor, `c` root of the shear-stress coefficient.

use crate::dual::Dual;

/// Flow state of the layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Regime {
    Laminar,
    Turbulent,
    Wake,
}

/// Turbulent relations were fitted for thicker layers. Below this Reynolds number based on the momentum thickness they are kept constant. It is reached
/// only just behind a trip near the nose.
const LEAST_TURBULENT_RT: f64 = 200.0;
/// Half width, decades, over which amplification of disturbances begins, so that there is no jump for Newton's method.
const ONSET_HALF_WIDTH: f64 = 0.08;
/// Minimum shape factor inside the relations. A turbulent layer in strong acceleration comes close to it.
const LEAST_H: f64 = 1.02;
/// In the wake the shape factor tends to 1, so the limit is only as far from it as Newton's method needs (chosen).
const LEAST_WAKE_H: f64 = 1.0002;

/// Quantities of one station that the integral equations need.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Closed<const N: usize> {
    pub(crate) h: Dual<N>,
    pub(crate) hs: Dual<N>,
    /// Half the friction coefficient.
    pub(crate) half_cf: Dual<N>,
    /// Twice the dissipation coefficient over the energy shape factor.
    pub(crate) dissipation: Dual<N>,
    /// Square root of the equilibrium shear-stress coefficient.
    pub(crate) equilibrium: Dual<N>,
    /// Thickness of the layer (of half a wake), chords.
    pub(crate) thickness: Dual<N>,
}

/// Closure at a station from momentum thickness `theta`, displacement thickness `delta` (both in chords), edge speed `ue` relative to the stream, root shear `c`.
pub(crate) fn close<const N: usize>(
    regime: Regime,
    [c, theta, delta, ue]: [Dual<N>; 4],
    reynolds: f64,
) -> Closed<N> {
    let rt = (ue * theta * reynolds).at_least(1.0);
    let least = if regime == Regime::Wake { LEAST_WAKE_H } else { LEAST_H };
    let h = (delta / theta).at_least(least);
    let zero = Dual::constant(0.0);
    if regime == Regime::Laminar {
        let hs = laminar_energy(h);
        return Closed {
            h,
            hs,
            half_cf: laminar_half_friction(h) / rt,
            dissipation: laminar_dissipation(h) / rt,
            equilibrium: zero,
            thickness: theta,
        };
    }
    let rt = rt.at_least(LEAST_TURBULENT_RT);
    let hs = turbulent_energy(h, rt);
    // Slip speed of the outer part of the layer, Drela & Giles equation for U_s.
    let slip = (hs * 0.5 * (1.0 - 4.0 / 3.0 * (h - 1.0) / h)).at_most(0.98);
    let equilibrium = (hs * 0.015 / (1.0 - slip) * (h - 1.0) * (h - 1.0).square() / (h.square() * h))
        .at_least(1e-12)
        .sqrt();
    let thickness = theta * (3.15 + 1.72 / (h - 1.0)) + delta;
    let shear = c.square() * (1.0 - slip);
    if regime == Regime::Wake {
        // A wake is two layers back to back without a wall. Both dissipate, and each has half the thickness.
        return Closed {
            h,
            hs,
            half_cf: zero,
            dissipation: 4.0 * shear / hs,
            equilibrium,
            thickness: thickness * 0.5,
        };
    }
    let half_cf = turbulent_friction(h, rt) * 0.5;
    Closed { h, hs, half_cf, dissipation: 2.0 * (half_cf * slip + shear) / hs, equilibrium, thickness }
}

fn laminar_energy<const N: usize>(h: Dual<N>) -> Dual<N> {
    let gain = if h.v < 4.0 { 0.076 } else { 0.040 };
    1.515 + gain * (h - 4.0).square() / h
}

fn laminar_half_friction<const N: usize>(h: Dual<N>) -> Dual<N> {
    if h.v < 7.4 {
        0.01977 * (7.4 - h).square() / (h - 1.0) - 0.067
    } else {
        0.022 * (1.0 - 1.4 / (h - 6.0)).square() - 0.067
    }
}

fn laminar_dissipation<const N: usize>(h: Dual<N>) -> Dual<N> {
    if h.v < 4.0 {
        0.00205 * (4.0 - h).pow(5.5) + 0.207
    } else {
        let d = (h - 4.0).square();
        0.207 - 0.003 * d / (1.0 + 0.02 * d)
    }
}

fn turbulent_energy<const N: usize>(h: Dual<N>, rt: Dual<N>) -> Dual<N> {
    let turning = if rt.v < 400.0 { Dual::constant(4.0) } else { 3.0 + 400.0 / rt };
    let base = 1.505 + 4.0 / rt;
    if h.v < turning.v {
        base + (0.165 - 1.6 / rt.sqrt()) * (turning - h).pow(1.6) / h
    } else {
        let ln = rt.ln();
        base + (h - turning).square() * (0.04 / h + 0.007 * ln / (h - turning + 4.0 / ln).square())
    }
}

/// Friction relation of Swafford, as given by Drela & Giles.
fn turbulent_friction<const N: usize>(h: Dual<N>, rt: Dual<N>) -> Dual<N> {
    let log = rt.ln() / std::f64::consts::LN_10;
    0.3 * (-1.33 * h - log.ln() * (1.74 + 0.31 * h)).exp() + 0.00011 * ((4.0 - h / 0.875).tanh() - 1.0)
}

/// Initial root shear stress of a turbulent layer, relative to its equilibrium value.
pub(crate) fn shear_at_transition<const N: usize>(h: Dual<N>) -> Dual<N> {
    1.8 * (-3.3 / (h - 1.0).at_least(0.05)).exp()
}

/// Growth rate of the logarithm of the amplitude of the strongest disturbance, per chord along the surface (envelope of Drela & Giles).
pub(crate) fn growth<const N: usize>([_, theta, delta, ue]: [Dual<N>; 4], reynolds: f64) -> Dual<N> {
    let rt = (ue * theta * reynolds).at_least(1.0);
    let h = (delta / theta).at_least(1.05);
    let inverse = 1.0 / (h - 1.0);
    let onset = (1.415 * inverse - 0.489) * (20.0 * inverse - 12.9).tanh() + 3.295 * inverse + 0.44;
    let ramp = (rt.ln() / std::f64::consts::LN_10 - onset + ONSET_HALF_WIDTH) / (2.0 * ONSET_HALF_WIDTH);
    let ramp = match ramp.v {
        r if r <= 0.0 => return Dual::constant(0.0),
        r if 1.0 <= r => Dual::constant(1.0),
        _ => ramp.square() * (3.0 - 2.0 * ramp),
    };
    let by_rt = 0.01 * ((2.4 * h - 3.7 + 2.5 * (1.5 * h - 4.65).tanh()).square() + 0.25).sqrt();
    let l = (6.54 * h - 14.07) / h.square();
    // (m + 1)/2 * l, with m l = 0.058 (h - 4)^2/(h - 1) - 0.068.
    let half = 0.5 * (0.058 * (h - 4.0).square() * inverse - 0.068 + l);
    ramp * by_rt * half.at_least(0.0) / theta
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laminar(h: f64) -> Closed<0> {
        close(
            Regime::Laminar,
            [Dual::constant(0.0), Dual::constant(1e-3), Dual::constant(h * 1e-3), Dual::constant(1.0)],
            1e6,
        )
    }

    #[test]
    fn laminar_relations_meet_blasius_and_hiemenz() {
        // H. Schlichting, "Boundary-Layer Theory", 7th ed., tables 7.1 and 5.1: flat plate H = 2.591, half cf * rt = 0.2205, H* = 1.573;
        // stagnation flow H = 2.216, half cf * rt = 0.3605, H* = 1.626 (from memory).
        let (plate, nose) = (laminar(2.591), laminar(2.216));
        assert!((plate.half_cf.v * 1e3 / 0.2205 - 1.0).abs() < 0.02, "{}", plate.half_cf.v * 1e3);
        assert!((plate.hs.v - 1.573).abs() < 0.005);
        assert!((nose.half_cf.v * 1e3 / 0.3605 - 1.0).abs() < 0.04, "{}", nose.half_cf.v * 1e3);
        assert!((nose.hs.v - 1.626).abs() < 0.01);
    }

    #[test]
    fn relations_join_without_a_jump() {
        for h in [4.0, 7.4] {
            let (a, b) = (laminar(h - 1e-7), laminar(h + 1e-7));
            assert!((a.half_cf.v - b.half_cf.v).abs() < 1e-9);
            assert!((a.hs.v - b.hs.v).abs() < 1e-7);
            assert!((a.dissipation.v - b.dissipation.v).abs() < 1e-7);
        }
    }

    #[test]
    fn turbulent_plate_has_the_friction_of_the_log_law() {
        // At rt = 10,000 Coles' flat plate has cf = 0.00263 and H about 1.34 (D. Coles, RAND R-403-PR, 1962, from memory): within 5 %.
        let cf = turbulent_friction(Dual::<0>::constant(1.34), Dual::constant(1e4)).v;
        assert!((cf / 0.00263 - 1.0).abs() < 0.05, "{cf}");
    }
}
