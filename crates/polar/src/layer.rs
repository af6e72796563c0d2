//! Difference equations of the boundary layer between two neighbouring stations, with their exact derivatives.
//!
//! Momentum, energy shape and (laminar) amplification of disturbances or (turbulent) lag of the shear stress: Drela & Giles, AIAA Journal 25(10), 1987.
//! If the layer becomes turbulent between the two stations, the interval is divided there. The position of the division is a function of both stations.

use crate::closure::{Closed, Regime, close, growth, shear_at_transition};
use crate::dual::Dual;

/// Variables of an interval: four of each station, and the common shift of both positions along the surface.
pub(crate) const VARIABLES: usize = 9;
pub(crate) type Number = Dual<VARIABLES>;
type Four = [Number; 4];

/// State of a boundary layer at one station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct State {
    /// Logarithm of the amplification of disturbances if laminar, square root of the shear-stress coefficient if turbulent.
    pub(crate) c: f64,
    /// Momentum thickness, chords.
    pub(crate) theta: f64,
    /// Displacement thickness, chords, without the dead air behind a blunt tail.
    pub(crate) delta: f64,
    /// Edge speed relative to the stream.
    pub(crate) ue: f64,
}

/// Conditions for transition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TransitionRule {
    /// Amplification of disturbances at which natural transition occurs.
    pub(crate) amplification: f64,
    /// Position of forced transition along the layer, chords from the stagnation point.
    pub(crate) trip: f64,
}

/// Three equations: amplification or lag, momentum, energy shape. Zero if satisfied.
pub(crate) type Equations = [Number; 3];

/// Scale of the weight of the downstream station where the shape factor changes fast. Central differences oscillate there.
const UPWIND_SCALE: f64 = 0.05;

fn variables(s: &State, first: usize) -> Four {
    let values = [s.c, s.theta, s.delta, s.ue];
    std::array::from_fn(|k| Number::variable(values[k], first + k))
}

/// First station: the layer near a stagnation point is self-similar, with an edge speed proportional to the distance `x`, chords.
pub(crate) fn similar(x: f64, s: &State, reynolds: f64) -> Equations {
    let q = variables(s, 4);
    let a = close(Regime::Laminar, q, reynolds);
    let x = place(x);
    let over = x / q[1];
    [q[0], a.h + 2.0 - a.half_cf * over, 1.0 - a.h + (a.half_cf - a.dissipation) * over]
}

fn place(x: f64) -> Number {
    Number::variable(x, VARIABLES - 1)
}

/// Equations of the interval from `x1` to `x2`, chords from the stagnation point, entirely in one regime.
pub(crate) fn interval(
    regime: Regime,
    [x1, x2]: [f64; 2],
    s1: &State,
    s2: &State,
    reynolds: f64,
) -> Equations {
    between(regime, [place(x1), place(x2)], variables(s1, 0), variables(s2, 4), [0.0; 2], reynolds)
}

/// Equations of an interval of the wake with dead air, thickness `dead_air` (chords) at both stations, behind a blunt tail.
pub(crate) fn wake_interval(
    [x1, x2]: [f64; 2],
    s1: &State,
    s2: &State,
    dead_air: [f64; 2],
    reynolds: f64,
) -> Equations {
    let x = [place(x1), place(x2)];
    between(Regime::Wake, x, variables(s1, 0), variables(s2, 4), dead_air, reynolds)
}

fn between(
    regime: Regime,
    x: [Number; 2],
    q1: Four,
    q2: Four,
    dead_air: [f64; 2],
    reynolds: f64,
) -> Equations {
    let (a, b) = (close(regime, q1, reynolds), close(regime, q2, reynolds));
    let [mut momentum, mut shape] = momentum_and_shape(x, &q1, &q2, &a, &b);
    if dead_air.iter().any(|width| 0.0 < *width) {
        // Dead air displaces the flow like the layer itself, so the pressure along the wake acts on it: it adds to the displacement thickness in the
        // momentum equation, and with that in the shape equation (the energy equation has no displacement thickness).
        let pressed = 0.5 * (dead_air[0] / q1[1] + dead_air[1] / q2[1]) * (q2[3] / q1[3]).ln();
        momentum = momentum + pressed;
        shape = shape - pressed;
    }
    let first = if regime == Regime::Laminar {
        q2[0] - q1[0] - 0.5 * (growth(q1, reynolds) + growth(q2, reynolds)) * (x[1] - x[0])
    } else {
        lag(x, q1[0], q2[0], &a, &b)
    };
    [first, momentum, shape]
}

fn momentum_and_shape(
    x: [Number; 2],
    q1: &Four,
    q2: &Four,
    a: &Closed<VARIABLES>,
    b: &Closed<VARIABLES>,
) -> [Number; 2] {
    let (ln_x, ln_u) = ((x[1] / x[0]).ln(), (q2[3] / q1[3]).ln());
    let (over1, over2) = (x[0] / q1[1], x[1] / q2[1]);
    let change = ((b.h - 1.0) / (a.h - 1.0)).ln().square();
    let weight = 0.5 + 0.5 * change / (change + UPWIND_SCALE);
    let mid = |p: Number, q: Number| p + weight * (q - p);
    let h = 0.5 * (a.h + b.h);
    let momentum =
        (q2[1] / q1[1]).ln() + (h + 2.0) * ln_u - 0.5 * (a.half_cf * over1 + b.half_cf * over2) * ln_x;
    let shape = (b.hs / a.hs).ln()
        + (1.0 - mid(a.h, b.h)) * ln_u
        + mid((a.half_cf - a.dissipation) * over1, (b.half_cf - b.dissipation) * over2) * ln_x;
    [momentum, shape]
}

/// Lag of the shear stress behind its equilibrium (constant 4.2 of Drela & Giles, halved for the root).
fn lag(x: [Number; 2], c1: Number, c2: Number, a: &Closed<VARIABLES>, b: &Closed<VARIABLES>) -> Number {
    let excess = 0.5 * (a.equilibrium + b.equilibrium - c1 - c2);
    let thickness = 0.5 * (a.thickness + b.thickness);
    (c2 / c1).ln() - 2.1 * excess / thickness * (x[1] - x[0])
}

/// Transition in an interval that begins laminar.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Onset {
    /// Stays laminar.
    Laminar,
    /// Becomes turbulent at this fraction of it, by amplification (`true`) or by the trip.
    At(f64, bool),
}

/// Finds whether and where the layer becomes turbulent between the laminar station `s1` and the next.
///
/// Within this interval the disturbances grow at the rate at its beginning. The state at its end is already that of a turbulent layer, without
/// amplification, and using it the transition location would not be unique.
pub(crate) fn onset([x1, x2]: [f64; 2], s1: &State, rule: TransitionRule, reynolds: f64) -> Onset {
    let rate = growth([s1.c, s1.theta, s1.delta, s1.ue].map(Dual::<0>::constant), reynolds).v;
    let missing = rule.amplification - s1.c;
    let tripped = (rule.trip <= x2 + 1e-12).then(|| ((rule.trip - x1) / (x2 - x1)).clamp(0.0, 1.0));
    let free = (missing <= rate * (x2 - x1))
        .then(|| if missing <= 0.0 { 0.0 } else { missing / (rate * (x2 - x1)) });
    match (free, tripped) {
        (Some(f), Some(t)) if f < t => Onset::At(f, true),
        (_, Some(t)) => Onset::At(t, false),
        (Some(f), None) => Onset::At(f, true),
        (None, None) => Onset::Laminar,
    }
}

/// Amplification of disturbances over a laminar interval.
pub(crate) fn grown([x1, x2]: [f64; 2], s1: &State, s2: &State, reynolds: f64) -> f64 {
    let rate = |s: &State| growth([s.c, s.theta, s.delta, s.ue].map(Dual::<0>::constant), reynolds).v;
    0.5 * (rate(s1) + rate(s2)) * (x2 - x1)
}

/// Equations of an interval that becomes turbulent at its fraction `w`: laminar before, turbulent after.
pub(crate) fn turning(
    [x1, x2]: [f64; 2],
    s1: &State,
    s2: &State,
    (w, of_itself): (f64, bool),
    rule: TransitionRule,
    reynolds: f64,
) -> Equations {
    let (q1, q2) = (variables(s1, 0), variables(s2, 4));
    let (x1, x2) = (place(x1), place(x2));
    let w = fraction(w, of_itself, [x1, x2], &q1, rule, reynolds);
    let mix = |p: Number, q: Number| p + w * (q - p);
    let xt = mix(x1, x2);
    let qt = [Number::constant(0.0), mix(q1[1], q2[1]), mix(q1[2], q2[2]), mix(q1[3], q2[3])];
    let laminar = momentum_and_shape(
        [x1, xt],
        &q1,
        &qt,
        &close(Regime::Laminar, q1, reynolds),
        &close(Regime::Laminar, qt, reynolds),
    );
    let (at, b) = (close(Regime::Turbulent, qt, reynolds), close(Regime::Turbulent, q2, reynolds));
    let start = at.equilibrium * shear_at_transition(at.h);
    // The dissipation just behind the division is that of the initial shear stress.
    let qt = [start, qt[1], qt[2], qt[3]];
    let at = close(Regime::Turbulent, qt, reynolds);
    let turbulent = momentum_and_shape([xt, x2], &qt, &q2, &at, &b);
    [lag([xt, x2], start, q2[0], &at, &b), laminar[0] + turbulent[0], laminar[1] + turbulent[1]]
}

/// The fraction with its derivatives.
fn fraction(
    w: f64,
    of_itself: bool,
    [x1, x2]: [Number; 2],
    q1: &Four,
    rule: TransitionRule,
    reynolds: f64,
) -> Number {
    if !of_itself || w <= 0.0 {
        // A trip is fixed to the surface and shifts with both stations. At the beginning of the interval its position is constant.
        return Number::constant(w);
    }
    (rule.amplification - q1[0]) / (growth(*q1, reynolds) * (x2 - x1))
}

/// Start values of a turbulent layer: shear just behind transition.
pub(crate) fn starting_shear(s: &State, reynolds: f64) -> f64 {
    let q: [Dual<0>; 4] =
        [Dual::constant(0.05), Dual::constant(s.theta), Dual::constant(s.delta), Dual::constant(s.ue)];
    let a = close(Regime::Turbulent, q, reynolds);
    (a.equilibrium.v * shear_at_transition(a.h).v).clamp(1e-3, 0.3)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The momentum of a wake changes by the pressure on everything that displaces the stream, dead air included: d(ue^2 theta) = -ue (delta + dead air) d(ue)
    /// (T. von Karman's momentum integral without friction; Schlichting, "Boundary-Layer Theory", chapter 8). Checked for a step of 2 %.
    #[test]
    fn the_pressure_along_a_wake_acts_on_its_dead_air() {
        let s1 = State { c: 0.03, theta: 4e-3, delta: 6e-3, ue: 0.90 };
        let dead = [8e-3, 6e-3];
        // The shape factor and the shear stress follow from the two other equations.
        let mut s2 = State { ue: 0.918, ..s1 };
        for _ in 0..30 {
            let e = wake_interval([1.0, 1.004], &s1, &s2, dead, 1e6);
            let matrix = nalgebra::Matrix3::from_fn(|i, j| e[i].d[4 + j]);
            let step = matrix.lu().solve(&nalgebra::Vector3::new(-e[0].v, -e[1].v, -e[2].v)).unwrap();
            (s2.c, s2.theta, s2.delta) = (s2.c + step[0], s2.theta + step[1], s2.delta + step[2]);
        }
        let gained = s2.ue * s2.ue * s2.theta - s1.ue * s1.ue * s1.theta;
        let mid = |a: f64, b: f64| 0.5 * (a + b);
        let push = -mid(s1.ue, s2.ue) * (mid(s1.delta, s2.delta) + mid(dead[0], dead[1])) * (s2.ue - s1.ue);
        assert!((gained / push - 1.0).abs() < 0.01, "{gained} {push}");
    }

    /// Every derivative of every equation, against central differences.
    #[test]
    fn derivatives_of_the_equations_are_exact() {
        let s1 = State { c: 8.7, theta: 6e-4, delta: 1.9e-3, ue: 1.2 };
        let s2 = State { c: 0.04, theta: 7e-4, delta: 2.1e-3, ue: 1.15 };
        let rule = TransitionRule { amplification: 9.0, trip: 9.0 };
        let re = 1e6;
        let [x1, x2] = [0.3, 0.36];
        let shifted = |s: &State, k: usize, e: f64| {
            let mut t = *s;
            *[&mut t.c, &mut t.theta, &mut t.delta, &mut t.ue][k] *= 1.0 + e;
            t
        };
        let Onset::At(w, free) = onset([x1, x2], &s1, rule, re) else {
            panic!("the interval turns turbulent")
        };
        assert!(free && 0.0 < w && w < 1.0);
        type Case<'a> = &'a dyn Fn(&State, &State, f64) -> Equations;
        let cases: [Case; 4] = [
            &|a, b, shift| interval(Regime::Laminar, [x1 + shift, x2 + shift], a, b, re),
            &|a, b, shift| {
                interval(Regime::Turbulent, [x1 + shift, x2 + shift], &State { c: a.c / 120.0, ..*a }, b, re)
            },
            &|a, b, shift| {
                let Onset::At(w, free) = onset([x1 + shift, x2 + shift], a, rule, re) else { panic!() };
                turning([x1 + shift, x2 + shift], a, b, (w, free), rule, re)
            },
            &|a, b, shift| {
                let turbulent = State { c: a.c / 120.0, ..*a };
                wake_interval([x1 + shift, x2 + shift], &turbulent, b, [1.1e-3, 0.4e-3], re)
            },
        ];
        for (case, f) in cases.iter().enumerate() {
            let exact = f(&s1, &s2, 0.0);
            for k in 0..VARIABLES {
                let e = 1e-6;
                let (up, down, unit) = match k {
                    0..4 => (
                        f(&shifted(&s1, k, e), &s2, 0.0),
                        f(&shifted(&s1, k, -e), &s2, 0.0),
                        [s1.c, s1.theta, s1.delta, s1.ue][k],
                    ),
                    4..8 => (
                        f(&s1, &shifted(&s2, k - 4, e), 0.0),
                        f(&s1, &shifted(&s2, k - 4, -e), 0.0),
                        [s2.c, s2.theta, s2.delta, s2.ue][k - 4],
                    ),
                    _ => (f(&s1, &s2, e), f(&s1, &s2, -e), 1.0),
                };
                for row in 0..3 {
                    let difference = (up[row].v - down[row].v) / (2.0 * e);
                    let mut got = exact[row].d[k] * unit;
                    if (case == 1 || case == 3) && k == 0 {
                        got /= 120.0;
                    }
                    assert!(
                        (got - difference).abs() < 2e-4 * (1.0 + difference.abs()),
                        "case {case}, equation {row}, variable {k}: {got} {difference}"
                    );
                }
            }
        }
    }
}
