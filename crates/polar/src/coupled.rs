//! Boundary layers and outer flow solved simultaneously by Newton's method.
//!
//! Unknowns at each station: amplification or shear, momentum thickness, mass defect. The edge speed is a linear function of all mass defects.
//! Amplification and momentum thickness are eliminated station by station along each layer. The remaining dense system has only the mass defects as
//! unknowns: a third of the unknowns of the whole Jacobian, and an eighth or less of the work.

use nalgebra::DVector;

use crate::closure::Regime;
use crate::contour::Contour;
use crate::layer::{
    Equations, Onset, State, TransitionRule, grown, interval, onset, similar, starting_shear, turning,
    wake_interval,
};
use crate::march::{Answer, answered, march_side, march_wake};
use crate::outer::OuterFlow;
use crate::system::{Change, System};

/// Maximum number of Newton steps. A start from the neighbouring angle needs four to ten.
const MOST_STEPS: usize = 25;
/// Root mean square of the relative changes at which the solution counts as converged. Forces are then accurate to five digits.
const CONVERGED: f64 = 2e-5;
/// The same if the last step was a full step.
const CONVERGED_WHOLE: f64 = 5e-4;
/// Maximum relative decrease and increase of a thickness in one step.
const LARGEST_FALL: f64 = 0.5;
/// Maximum relative increase of a thickness in one step: larger than the decrease, because a thickness cannot become negative by it (chosen).
const LARGEST_RISE: f64 = 1.5;
/// Minimum shape factor between steps, on the surface and in the wake.
const LEAST_H: f64 = 1.02;
/// In the wake, as in the closure relations.
const LEAST_WAKE_H: f64 = 1.0002;
/// Limit of the amplification during the iteration.
const MOST_AMPLIFICATION: f64 = 50.0;
/// Maximum shape factor between steps. Stalled layers reach 20 at the tail.
const MOST_H: f64 = 60.0;
/// Minimum fraction of a Newton step that is taken if the steps oscillate. The relations have kinks, and transition is at one.
const LEAST_SHARE: f64 = 0.25;
/// Number of steps after which steps that do not decrease count as oscillating.
const SWING_STEPS: usize = 8;
/// From this step on, and below this change, a transition location that oscillates between two neighbouring intervals is fixed at the node between them. The
/// equations of the two intervals differ there, and neither may have a solution. The transition location is then known to a part of an interval.
const PINNED_AFTER: usize = 14;
/// Change below which the transition is fixed. Chosen; no check of this value is on record.
const PINNED_BELOW: f64 = 0.1;
/// Steps after which a change larger than this counts as a failure. Of 201 failing solutions of two sections, three in four are detected in half the
/// steps. 4 % of the converging solutions are lost; another start mostly finds them.
const HOPELESS: [(usize, f64); 2] = [(12, 0.5), (16, 0.1)];
/// The dead air behind a blunt tail closes over this multiple of the tail width (Drela, in Mueller (ed.), 1989).
const DEAD_AIR_LENGTH: f64 = 2.5;

/// Limit of curvature times the sum of the thicknesses for the first-order relation. A wake is about five times as thick as that sum
/// (one-seventh-power profile: displacement thickness an eighth of the total, momentum thickness a tenth), and the total must stay below a tenth of the
/// radius of curvature. Only wakes near stall reach the limit.
const MOST_BEND: f64 = 0.02;

/// Conditions for the layers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LayerSettings {
    pub(crate) reynolds: f64,
    pub(crate) amplification: f64,
    /// Trip position as a fraction of the chord, on back and face; 1 or more means no trip.
    pub(crate) trips: [f64; 2],
}

/// All layers at one angle.
#[derive(Debug, Clone)]
pub(crate) struct Layers {
    /// Surface nodes, then the wake.
    pub(crate) states: Vec<State>,
    pub(crate) turbulent: Vec<bool>,
    /// The node nearest the stagnation point. It belongs to no side and its mass defect is zero. The layers begin at its neighbours, because their
    /// distance from the stagnation point can never vanish. Its speed is signed.
    stagnation: usize,
    /// Transition on back and face: the first turbulent node, the fraction of the interval before it, and whether transition is natural.
    onset: [Turn; 2],
    pub(crate) converged: bool,
    pub(crate) steps: usize,
}

/// Transition location of a side.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Turn {
    node: usize,
    fraction: f64,
    of_itself: bool,
    /// Length from the stagnation point, chords.
    place: f64,
}

/// The problem at one angle.
#[derive(Clone, Copy)]
pub(crate) struct Coupled<'a> {
    pub(crate) contour: &'a Contour,
    pub(crate) outer: &'a OuterFlow,
    pub(crate) settings: LayerSettings,
    /// Width of the blunt tail perpendicular to its bisector, chords.
    pub(crate) tail_width: f64,
}

/// Positions and order of the stations for the current stagnation point.
struct Sides {
    /// Distance from the stagnation point, chords, for surface nodes; along the wake it continues from the end of the face.
    x: Vec<f64>,
    back: Vec<usize>,
    face: Vec<usize>,
    /// Derivative of the stagnation-point position with respect to the edge speeds of the two nodes around it.
    shift: [(usize, f64); 2],
    /// Position of the stagnation point along the contour.
    at: f64,
    rules: [TransitionRule; 2],
}

impl Coupled<'_> {
    fn surface(&self) -> usize {
        self.contour.nodes.len()
    }

    /// Direction of the edge speed along the contour: opposite on the back, along it on face and wake.
    fn sense(&self, stagnation: usize, g: usize) -> f64 {
        if g < stagnation { -1.0 } else { 1.0 }
    }

    fn dead_air(&self, g: usize) -> f64 {
        let n = self.surface();
        if g < n || self.tail_width <= 0.0 {
            return 0.0;
        }
        let t = self.outer.wake_along[g - n] / (DEAD_AIR_LENGTH * self.tail_width);
        if t < 1.0 { self.tail_width * (1.0 - t).powi(2) * (1.0 + 2.0 * t) } else { 0.0 }
    }

    /// Layers marched in the inviscid flow: a first guess.
    pub(crate) fn first_guess(&self) -> Layers {
        let n = self.surface();
        let total = self.outer.plain.len();
        let plain = &self.outer.plain;
        // The stagnation point: the change of sign nearest the nose.
        let nose = (0..n)
            .min_by(|&a, &b| self.contour.nodes[a][0].total_cmp(&self.contour.nodes[b][0]))
            .unwrap_or(n / 2);
        let stagnation = (2..n - 3)
            .filter(|&k| plain[k] <= 0.0 && 0.0 < plain[k + 1])
            .min_by_key(|&k| k.abs_diff(nose))
            .map_or(nose, |k| if plain[k].abs() < plain[k + 1].abs() { k } else { k + 1 })
            .clamp(3, n - 4);
        let mut states = vec![State { c: 0.0, theta: 1e-4, delta: 2.2e-4, ue: 1.0 }; total];
        for g in 0..total {
            states[g].ue = (self.sense(stagnation, g) * plain[g]).max(1e-3);
        }
        states[stagnation] = State { delta: 0.0, ue: plain[stagnation], ..states[stagnation] };
        let mut turbulent = vec![true; total];
        let sides = self.sides(&states, stagnation);
        for (side, rule) in [(&sides.back, sides.rules[0]), (&sides.face, sides.rules[1])] {
            let x: Vec<f64> = side.iter().map(|&g| sides.x[g]).collect();
            let ue: Vec<f64> = side.iter().map(|&g| states[g].ue).collect();
            let (found, flags) = march_side(&x, &ue, rule, self.settings.reynolds);
            for ((&g, s), t) in side.iter().zip(found).zip(flags) {
                states[g] = s;
                turbulent[g] = t;
            }
        }
        let (u, l) = (states[0], states[n - 1]);
        let theta = u.theta + l.theta;
        let first =
            State { c: (u.c * u.theta + l.c * l.theta) / theta, theta, delta: u.delta + l.delta, ue: l.ue };
        let ue: Vec<f64> = (n..total).map(|g| states[g].ue).collect();
        let wake = march_wake(first, &sides.x[n..], &ue, self.settings.reynolds);
        states[n..].copy_from_slice(&wake);
        let onset = [&sides.back, &sides.face].map(|side| {
            let node = side.iter().copied().find(|&g| turbulent[g]).unwrap_or(side[side.len() - 1]);
            Turn { node, fraction: 1.0, of_itself: false, place: sides.x[node] }
        });
        Layers { states, turbulent, stagnation, onset, converged: false, steps: 0 }
    }

    fn sides(&self, states: &[State], k: usize) -> Sides {
        let (n, along) = (self.surface(), &self.contour.along);
        // The pair of nodes between which the signed speed changes sign.
        let a = if 0.0 < states[k].ue { k - 1 } else { k };
        let signed = |g: usize| self.sense(k, g) * states[g].ue;
        let (from, to) = (signed(a).min(0.0), signed(a + 1).max(0.0));
        let gap = along[a + 1] - along[a];
        let change = (to - from).max(1e-6);
        let at = along[a] - gap * from / change;
        let shift = [
            (a, -gap * to / (change * change) * self.sense(k, a)),
            (a + 1, gap * from / (change * change) * self.sense(k, a + 1)),
        ];
        let mut x: Vec<f64> = along.iter().map(|s| (s - at).abs()).collect();
        let end = x[n - 1];
        x.extend(self.outer.wake_along.iter().map(|s| s + end));
        let back: Vec<usize> = (0..k).rev().collect();
        let face: Vec<usize> = (k + 1..n).collect();
        let rule = |side: &[usize], trip: f64| TransitionRule {
            amplification: self.settings.amplification,
            trip: self.trip_place(side, &x, trip),
        };
        let rules = [rule(&back, self.settings.trips[0]), rule(&face, self.settings.trips[1])];
        Sides { x, back, face, shift, at, rules }
    }

    /// Distance from the stagnation point to the last point on a side at a fraction of the chord; to the end of the side if there is none.
    fn trip_place(&self, side: &[usize], x: &[f64], fraction: f64) -> f64 {
        let nodes = &self.contour.nodes;
        let end = side.last().map_or(0.0, |&g| x[g]);
        side.windows(2)
            .rev()
            .find(|w| nodes[w[0]][0] <= fraction && fraction < nodes[w[1]][0])
            .map_or(if fraction < 0.5 { x[side[0]] } else { end }, |w| {
                let part = (fraction - nodes[w[0]][0]) / (nodes[w[1]][0] - nodes[w[0]][0]);
                x[w[0]] + part * (x[w[1]] - x[w[0]])
            })
            .min(end)
    }

    /// Newton's method from the given layers. The result is marked as converged or not.
    pub(crate) fn solve(&self, mut layers: Layers) -> Layers {
        layers.converged = false;
        let mut system = System::new(layers.states.len());
        let (mut before, mut share) = (f64::INFINITY, 1.0f64);
        for step in 1..=MOST_STEPS {
            layers.steps = step;
            let sides = self.sides(&layers.states, layers.stagnation);
            let pinned = PINNED_AFTER <= step && before < PINNED_BELOW;
            self.settle_regimes(&mut layers, &sides, pinned);
            let Some(change) = self.step(&mut layers, &sides, &mut system, share) else { return layers };
            let whole = 1.0 <= share;
            // With a partial step the rest of the change is left to the next.
            share = if SWING_STEPS <= step && (1.0 - 0.4 * share) * before < change {
                (0.5 * share).max(LEAST_SHARE)
            } else {
                (1.5 * share).min(1.0)
            };
            before = change;
            if HOPELESS.iter().any(|(after, most)| step == *after && *most < change) {
                break;
            }
            // A full Newton step leaves an error of the order of its square.
            if change < if whole { CONVERGED_WHOLE } else { CONVERGED } {
                layers.converged = true;
                break;
            }
        }
        layers
    }

    /// Finds the current transition location on each side. Stations that changed between laminar and turbulent are solved again, one by one downstream, with the response of the
    /// outer flow. Newton's method for all stations then starts near a solution, even if the location has moved far.
    ///
    /// `pinned`: if the location would only move to the neighbouring interval, it stays in its interval, at the node between both.
    fn settle_regimes(&self, layers: &mut Layers, sides: &Sides, pinned: bool) {
        let re = self.settings.reynolds;
        for (which, (side, rule)) in
            [(&sides.back, sides.rules[0]), (&sides.face, sides.rules[1])].into_iter().enumerate()
        {
            layers.states[side[0]].c = 0.0;
            layers.turbulent[side[0]] = false;
            // Changes of the mass defects upstream on this side.
            let mut changes: Vec<(usize, f64)> = Vec::new();
            let mut turn: Option<Turn> = None;
            for i in 1..side.len() {
                let (p, g) = (side[i - 1], side[i]);
                let (before, old) = (layers.states[p], layers.states[g]);
                let (xs, was) = ([sides.x[p], sides.x[g]], layers.turbulent[g]);
                let answer = self.answer(&old, g, &changes);
                let like_before = State { ue: old.ue, ..before };
                let mut now = old;
                if turn.is_some() {
                    if !was {
                        now = settle([like_before, State { c: before.c, ..old }], &answer, |s| {
                            interval(Regime::Turbulent, xs, &before, s, re)
                        });
                    }
                } else {
                    let held = layers.onset[which].node;
                    let found = match onset(xs, &before, rule, re) {
                        Onset::At(_, true) if pinned && side.get(i + 1) == Some(&held) => Onset::Laminar,
                        Onset::Laminar if pinned && g == held => Onset::At(1.0, false),
                        found => found,
                    };
                    let at = match found {
                        Onset::At(w, free) => Some((w, free)),
                        // The last interval always ends turbulent, because the wake is turbulent.
                        Onset::Laminar => (i + 1 == side.len()).then_some((1.0, false)),
                    };
                    if let Some((w, free)) = at {
                        if !was || layers.onset[which].node != g {
                            let start = State { c: starting_shear(&old, re), ..old };
                            let other = if was { old } else { State { c: start.c, ..like_before } };
                            now = settle([start, other], &answer, |s| {
                                turning(xs, &before, s, (w, free), rule, re)
                            });
                        }
                        let place = xs[0] + w * (xs[1] - xs[0]);
                        turn = Some(Turn { node: g, fraction: w, of_itself: free, place });
                    } else {
                        if was {
                            now = settle([State { c: before.c, ..old }, like_before], &answer, |s| {
                                interval(Regime::Laminar, xs, &before, s, re)
                            });
                        }
                        now.c = (before.c + grown(xs, &before, &now, re)).min(MOST_AMPLIFICATION);
                    }
                }
                layers.turbulent[g] = turn.is_some();
                layers.states[g] = now;
                let change = now.ue * (now.delta + answer.dead_air) - answer.mass;
                if change != 0.0 {
                    changes.push((g, change));
                }
            }
            if let Some(turn) = turn {
                layers.onset[which] = turn;
            }
        }
    }

    /// Response of the outer flow at a station to its own change and to upstream changes on its side.
    fn answer(&self, old: &State, g: usize, changes: &[(usize, f64)]) -> Answer {
        let dead_air = self.dead_air(g);
        let upstream: f64 = changes.iter().map(|&(j, d)| self.outer.influence[(g, j)] * d).sum();
        Answer {
            speed: old.ue + upstream,
            mass: old.ue * (old.delta + dead_air),
            slope: self.outer.influence[(g, g)],
            dead_air,
        }
    }

    /// Equations of the station after `p`.
    fn equations(&self, layers: &Layers, sides: &Sides, p: usize, g: usize) -> Equations {
        let (s1, s2, xs) = (&layers.states[p], &layers.states[g], [sides.x[p], sides.x[g]]);
        let re = self.settings.reynolds;
        if self.surface() <= g {
            return wake_interval(xs, s1, s2, [p, g].map(|station| self.dead_air(station)), re);
        }
        let side = usize::from(layers.stagnation < g);
        match (layers.turbulent[p], layers.turbulent[g]) {
            (true, _) => interval(Regime::Turbulent, xs, s1, s2, re),
            (false, false) => interval(Regime::Laminar, xs, s1, s2, re),
            (false, true) => {
                let turn = layers.onset[side];
                turning(xs, s1, s2, (turn.fraction, turn.of_itself), sides.rules[side], re)
            }
        }
    }

    /// One Newton step. Returns the root mean square of the relative changes, or `None` if the equations are singular.
    fn step(&self, layers: &mut Layers, sides: &Sides, work: &mut System, share: f64) -> Option<f64> {
        self.prepare(layers, work);
        let n = self.surface();
        let k = layers.stagnation;
        work.stagnation_row(sides.shift);
        work.hold(k);
        for (side, sense) in [(&sides.back, 1.0), (&sides.face, -1.0)] {
            let first = side[0];
            let e = similar(sides.x[first], &layers.states[first], self.settings.reynolds);
            work.eliminate(&e, None, first, &layers.states, sense);
            for w in side.windows(2) {
                let e = self.equations(layers, sides, w[0], w[1]);
                work.eliminate(&e, Some(w[0]), w[1], &layers.states, sense);
            }
        }
        work.join(&layers.states, [0, n - 1], n);
        for g in n + 1..layers.states.len() {
            let e = self.equations(layers, sides, g - 1, g);
            work.eliminate(&e, Some(g - 1), g, &layers.states, 0.0);
        }
        let changes = work.solve(&layers.states)?;
        Some(self.update(layers, &changes, share))
    }

    /// Edge-speed rows with the directions of the sides, and the difference of the current speeds from those given by the mass defects.
    fn prepare(&self, layers: &Layers, work: &mut System) {
        let total = layers.states.len();
        let k = layers.stagnation;
        let signed = DVector::from_fn(total, |g, _| {
            let s = &layers.states[g];
            self.sense(k, g) * s.ue * (s.delta + self.dead_air(g))
        });
        let speeds = &self.outer.plain
            + &self.outer.influence * &signed
            + &self.outer.by_wake_vorticity * self.wake_vorticity(layers, &signed);
        for g in 0..total {
            let sense = self.sense(k, g);
            work.dead_air[g] = self.dead_air(g);
            let row = &mut work.speed[g];
            // The direction changes once, at the stagnation point.
            let own = self.outer.rows.column(g);
            let (back, rest) = row[..total].split_at_mut(k);
            for (v, w) in back.iter_mut().zip(own.iter()) {
                *v = -sense * w;
            }
            for (v, w) in rest.iter_mut().zip(own.iter().skip(k)) {
                *v = sense * w;
            }
            // The row of the tail is also used for the first station of the wake.
            row[total] = sense * speeds[g] - layers.states[g].ue;
        }
    }

    /// Vorticity of the curved wake, anticlockwise. The slow air in the wake needs a smaller pressure difference for its curvature than the outer flow would. A
    /// jump of the edge speed equal to the curvature times the sum of displacement and momentum thickness represents this. It is computed from the current layers;
    /// its change in a Newton step is left to the next step.
    ///
    /// R. C. Lock, M. C. P. Firmin, "Survey of techniques for estimating viscous effects in external aerodynamics", RAE TM Aero 1900, 1981;
    /// R. C. Lock, B. R. Williams, "Viscous-inviscid interactions in external aerodynamics", Progress in Aerospace Sciences 24, 1987.
    fn wake_vorticity(&self, layers: &Layers, signed_mass: &DVector<f64>) -> DVector<f64> {
        let n = self.surface();
        let (wake, along, heading) = (&layers.states[n..], &self.outer.wake_along, &self.outer.heading);
        let across = &heading.plain + &heading.influence * signed_mass;
        // Directions at the stations; the first has the direction of the second.
        let mut direction: Vec<f64> =
            (1..wake.len()).map(|w| heading.line_rad[w - 1] + (across[w - 1] / wake[w].ue).atan()).collect();
        direction.insert(0, direction[0]);
        let at = |s: f64| {
            let i = along.partition_point(|x| *x < s).clamp(2, along.len() - 1);
            let t = ((s - along[i - 1]) / (along[i] - along[i - 1])).clamp(0.0, 1.0);
            direction[i - 1] + t * (direction[i] - direction[i - 1])
        };
        let (first, last) = (along[1], along[along.len() - 1]);
        DVector::from_fn(wake.len(), |w, _| {
            let s = &wake[w];
            let thickness = s.delta + s.theta;
            let step = if w == 0 { along[1] } else { along[w] - along[w - 1] };
            let half = thickness.max(step);
            let (from, to) = ((along[w] - half).max(first), (along[w] + half).min(last).max(first + half));
            let bend = thickness * (at(to) - at(from)) / (to - from).max(half);
            s.ue * bend / (1.0 + (bend / MOST_BEND).powi(2)).sqrt()
        })
    }

    /// Applies a step. The whole step is damped if any change is large.
    fn update(&self, layers: &mut Layers, changes: &[Change], share: f64) -> f64 {
        let n = self.surface();
        let (mut damping, mut sum) = (share, 0.0);
        let k = layers.stagnation;
        for (g, (s, d)) in layers.states.iter().zip(changes).enumerate().filter(|(g, _)| *g != k) {
            for relative in [d.theta / s.theta, d.delta / s.delta] {
                let most = if relative < 0.0 { LARGEST_FALL } else { LARGEST_RISE };
                damping = damping.min(most / relative.abs().max(1e-12));
                sum += relative * relative;
            }
            let c = if layers.turbulent[g] || n <= g { d.c / s.c } else { d.c / self.settings.amplification };
            damping = damping.min(if c < 0.0 { LARGEST_FALL } else { LARGEST_RISE } / c.abs().max(1e-12));
            damping = damping.min(0.25 / d.ue.abs().max(1e-12));
            sum += d.ue * d.ue + c * c;
        }
        let total = layers.states.len();
        for (g, (s, d)) in layers.states.iter_mut().zip(changes).enumerate() {
            s.c = (s.c + damping * d.c).max(0.0);
            s.theta += damping * d.theta;
            s.delta += damping * d.delta;
            s.ue += damping * d.ue;
            let least = if g < n { LEAST_H } else { LEAST_WAKE_H };
            if g != k {
                s.delta = s.delta.max(least * s.theta).min(MOST_H * s.theta);
                s.ue = s.ue.max(1e-4);
            }
            if layers.turbulent[g] {
                s.c = s.c.clamp(1e-5, 0.5);
            }
        }
        self.move_stagnation(layers);
        (sum / (4 * total) as f64).sqrt()
    }

    /// Makes the node nearest the stagnation point the one without a layer. A node that gains a layer starts like its new neighbour.
    fn move_stagnation(&self, layers: &mut Layers) {
        let (n, along) = (self.surface(), &self.contour.along);
        for _ in 0..n {
            let k = layers.stagnation;
            let at = self.sides(&layers.states, k).at;
            // A tenth beyond the midpoint between nodes, otherwise the choice would oscillate.
            let signed = layers.states[k].ue;
            let s = &mut layers.states;
            if at < along[k] - 0.6 * (along[k] - along[k - 1]) && 3 < k {
                s[k] = State { ue: signed.max(1e-4), ..s[k + 1] };
                layers.turbulent[k] = false;
                s[k - 1] = State { delta: 0.0, ue: -s[k - 1].ue, ..s[k - 1] };
                layers.stagnation = k - 1;
            } else if along[k] + 0.6 * (along[k + 1] - along[k]) < at && k + 4 < n {
                s[k] = State { ue: (-signed).max(1e-4), ..s[k - 1] };
                layers.turbulent[k] = false;
                s[k + 1].delta = 0.0;
                layers.stagnation = k + 1;
            } else {
                break;
            }
        }
    }

    /// Speeds at the surface nodes, signed along the contour.
    pub(crate) fn signed_speeds(&self, layers: &Layers) -> Vec<f64> {
        (0..self.surface()).map(|g| self.sense(layers.stagnation, g) * layers.states[g].ue).collect()
    }

    /// Transition locations on back and face, fractions of the chord.
    pub(crate) fn transition_places(&self, layers: &Layers) -> [f64; 2] {
        let sides = self.sides(&layers.states, layers.stagnation);
        let nodes = &self.contour.nodes;
        [(&sides.back, layers.onset[0].place), (&sides.face, layers.onset[1].place)].map(|(side, place)| {
            side.windows(2).find(|w| place <= sides.x[w[1]]).map_or(1.0, |w| {
                let part = ((place - sides.x[w[0]]) / (sides.x[w[1]] - sides.x[w[0]])).clamp(0.0, 1.0);
                nodes[w[0]][0] + part * (nodes[w[1]][0] - nodes[w[0]][0])
            })
        })
    }
}

/// The state of a station from the first of two start values that converges; the second start value if neither does.
fn settle(starts: [State; 2], answer: &Answer, equations: impl Fn(&State) -> Equations) -> State {
    for start in starts {
        let (s, done) = answered(start, answer, MOST_H, &equations);
        if done {
            return s;
        }
    }
    starts[1]
}
