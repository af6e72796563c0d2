//! First guess of the layers: station by station from the stagnation point in the inviscid flow.
//!
//! Where the layer would separate in that flow, the shape factor is prescribed and the edge speed is computed (mixed direct and inverse marching,
//! after Drela & Giles, AIAA Journal 25(10), 1987). The simultaneous solution starts from here.

use nalgebra::{Matrix3, Matrix4, Vector3, Vector4};

use crate::closure::Regime;
use crate::layer::{
    Equations, Onset, State, TransitionRule, interval, onset, similar, starting_shear, turning,
};

/// Maximum shape factors of a first guess. Laminar separation is near 4.0, turbulent near 2.6.
const LAMINAR_LIMIT: f64 = 3.8;
/// Just below turbulent separation (chosen).
const TURBULENT_LIMIT: f64 = 2.4;
/// Maximum number of Newton steps at a station, and the change at which it is converged. A first guess needs no more accuracy.
const STEPS: usize = 25;
/// Change of a first guess that counts as converged. Chosen; no check of this value is on record.
const DONE: f64 = 1e-6;

/// The prescribed quantity at a station.
#[derive(Clone, Copy, PartialEq)]
enum Mode {
    /// The edge speed is given.
    Direct,
    /// The shape factor is given, the edge speed is computed.
    Held(f64),
}

/// States along one side and whether each is turbulent. `x`: chords from the stagnation point; `ue`: edge speeds; same lengths, at least two.
pub(crate) fn march_side(
    x: &[f64],
    ue: &[f64],
    rule: TransitionRule,
    reynolds: f64,
) -> (Vec<State>, Vec<bool>) {
    // Hiemenz flow (Schlichting, "Boundary-Layer Theory", section 5.1): theta^2 = 0.085 x / (ue Re), H = 2.22.
    let theta = (0.085 * x[0] / (ue[0].max(1e-4) * reynolds)).sqrt();
    let mut state = State { c: 0.0, theta, delta: 2.22 * theta, ue: ue[0].max(1e-4) };
    state = solve(state, Mode::Direct, |s| similar(x[0], s, reynolds)).unwrap_or(state);
    let (mut states, mut turbulent) = (vec![state], vec![false]);
    for i in 1..x.len() {
        let (previous, was) = (states[i - 1], turbulent[i - 1]);
        let xs = [x[i - 1], x[i]];
        let guess = State { ue: ue[i].max(1e-4), ..previous };
        if was {
            states.push(station(guess, TURBULENT_LIMIT, |s| {
                interval(Regime::Turbulent, xs, &previous, s, reynolds)
            }));
            turbulent.push(true);
            continue;
        }
        match onset(xs, &previous, rule, reynolds) {
            Onset::Laminar => {
                states.push(station(guess, LAMINAR_LIMIT, |s| {
                    interval(Regime::Laminar, xs, &previous, s, reynolds)
                }));
                turbulent.push(false);
            }
            Onset::At(w, free) => {
                let start = State { c: starting_shear(&guess, reynolds), ..guess };
                states.push(station(start, TURBULENT_LIMIT, |s| {
                    turning(xs, &previous, s, (w, free), rule, reynolds)
                }));
                turbulent.push(true);
            }
        }
    }
    (states, turbulent)
}

/// States along the wake from the state at its beginning.
pub(crate) fn march_wake(first: State, x: &[f64], ue: &[f64], reynolds: f64) -> Vec<State> {
    let mut states = vec![first];
    for i in 1..x.len() {
        let previous = states[i - 1];
        let guess = State { ue: ue[i].max(1e-2), ..previous };
        let limit = (previous.delta / previous.theta).clamp(1.5, 10.0);
        states.push(station(guess, limit, |s| {
            interval(Regime::Wake, [x[i - 1], x[i]], &previous, s, reynolds)
        }));
    }
    states
}

/// A station by the direct mode; by the inverse mode if that fails or separates; as a last resort the guess is kept.
fn station(guess: State, limit: f64, equations: impl Fn(&State) -> Equations) -> State {
    match solve(guess, Mode::Direct, &equations) {
        Some(s) if s.delta / s.theta <= limit => s,
        _ => {
            let h = (guess.delta / guess.theta).max(1.3).min(limit).max(0.98 * limit);
            let held = State { delta: h * guess.theta, ..guess };
            solve(held, Mode::Held(h), &equations).unwrap_or(held)
        }
    }
}

fn solve(mut s: State, mode: Mode, equations: impl Fn(&State) -> Equations) -> Option<State> {
    for _ in 0..STEPS {
        let e = equations(&s);
        let matrix = Matrix3::from_fn(|i, j| match (mode, j) {
            (_, 0) => e[i].d[4],
            (Mode::Direct, 1) => e[i].d[5],
            (Mode::Direct, _) => e[i].d[6],
            (Mode::Held(h), 1) => e[i].d[5] + h * e[i].d[6],
            (Mode::Held(_), _) => e[i].d[7],
        });
        let step = matrix.lu().solve(&Vector3::new(-e[0].v, -e[1].v, -e[2].v))?;
        let scale = [s.c.abs().max(0.02), s.theta, if mode == Mode::Direct { s.delta } else { s.ue }];
        let relative = (0..3).map(|k| (step[k] / scale[k]).abs()).fold(0.0, f64::max);
        if !relative.is_finite() {
            return None;
        }
        let damping = (0.4 / relative).min(1.0);
        s.c = (s.c + damping * step[0]).max(0.1 * s.c);
        s.theta += damping * step[1];
        match mode {
            Mode::Direct => s.delta += damping * step[2],
            Mode::Held(h) => {
                s.delta = h * s.theta;
                s.ue += damping * step[2];
            }
        }
        s.delta = s.delta.max(1.01 * s.theta);
        if relative < DONE {
            return Some(s);
        }
    }
    None
}

/// Response of the outer flow at a station while everything else is constant: `ue = speed + slope * (ue (delta + dead_air) - mass)`.
///
/// The response of the station to itself keeps the equations of the layer regular through separation (A. E. P. Veldman, "New, quasi-simultaneous
/// method to calculate interacting boundary layers", AIAA Journal 19(1), 1981).
#[derive(Debug, Clone, Copy)]
pub(crate) struct Answer {
    pub(crate) speed: f64,
    pub(crate) mass: f64,
    pub(crate) slope: f64,
    pub(crate) dead_air: f64,
}

/// The state of a station from its equations and the response of the outer flow, and whether Newton's method converged.
pub(crate) fn answered(
    mut s: State,
    answer: &Answer,
    most_h: f64,
    equations: impl Fn(&State) -> Equations,
) -> (State, bool) {
    for _ in 0..STEPS {
        let e = equations(&s);
        let thickness = s.delta + answer.dead_air;
        let law = s.ue - answer.speed - answer.slope * (s.ue * thickness - answer.mass);
        let matrix = Matrix4::from_fn(|i, j| match (i, j) {
            (3, 2) => -answer.slope * s.ue,
            (3, 3) => 1.0 - answer.slope * thickness,
            (3, _) => 0.0,
            _ => e[i].d[4 + j],
        });
        let Some(step) = matrix.lu().solve(&Vector4::new(-e[0].v, -e[1].v, -e[2].v, -law)) else {
            return (s, false);
        };
        let scale = [s.c.abs().max(0.02), s.theta, s.delta, s.ue];
        let relative = (0..4).map(|k| (step[k] / scale[k]).abs()).fold(0.0, f64::max);
        if !relative.is_finite() {
            return (s, false);
        }
        let damping = (0.4 / relative).min(1.0);
        s.c = (s.c + damping * step[0]).max(0.1 * s.c);
        s.theta += damping * step[1];
        s.delta = (s.delta + damping * step[2]).clamp(1.01 * s.theta, most_h * s.theta);
        s.ue = (s.ue + damping * step[3]).max(1e-4);
        if relative < DONE {
            return (s, true);
        }
    }
    (s, false)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A side up to `length` with the edge speed of `speed`, without a trip. Stations are closer at its beginning, because the march begins like a stagnation point.
    fn marched(length: f64, reynolds: f64, speed: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<State>, Vec<bool>) {
        let x: Vec<f64> = (0..=1000).map(|i| length * 10f64.powf(0.004 * f64::from(i) - 4.0)).collect();
        let ue: Vec<f64> = x.iter().map(|&x| speed(x)).collect();
        let rule = TransitionRule { amplification: 9.0, trip: 9.0 };
        let (states, turbulent) = march_side(&x, &ue, rule, reynolds);
        (x, states, turbulent)
    }

    /// L. Howarth, "On the solution of the laminar boundary layer equations", Proceedings of the Royal Society A 164, 1938 (from memory): with the edge speed `1 - x` the laminar
    /// layer separates at `x` = 0.120.
    #[test]
    fn a_retarded_laminar_layer_separates_where_the_exact_one_does() {
        let (x, states, _) = marched(0.2, 1e5, |x| 1.0 - x);
        // The march holds the shape factor here, just before friction vanishes.
        let at = states.iter().position(|s| 0.98 * LAMINAR_LIMIT < s.delta / s.theta).unwrap();
        assert!((x[at] / 0.120 - 1.0).abs() < 0.04, "{}", x[at]);
    }

    /// G. B. Schubauer, H. K. Skramstad, NACA Report 909, 1948 (from memory): on a plate in a stream with less than 0.08 % turbulence, transition begins at a Reynolds number of
    /// 2.84e6 along the plate. J. L. van Ingen (AIAA 2008-3830, from memory) takes 9 as its amplification.
    #[test]
    fn a_plate_becomes_turbulent_where_it_did_in_a_quiet_tunnel() {
        let (x, _, turbulent) = marched(1.0, 5e6, |_| 1.0);
        let at = 5e6 * x[turbulent.iter().position(|t| *t).unwrap()];
        assert!((at / 2.84e6 - 1.0).abs() < 0.08, "{at}");
    }
}
