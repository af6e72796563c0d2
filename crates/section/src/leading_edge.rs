//! The leading edge by definition: where a parabola midway between back and face from 4 to 24 % of the chord meets the outline at the nose.
//!
//! Six straight lines stand at right angles to the parabola at fixed fractions of the chord. Back and face cut a piece out of each. The parabola is the one
//! that fits the heights of the middles of these pieces by least squares. It does not depend on the outline ahead of 4 % of the chord, except through the
//! point where it meets the outline.
//!
//! The same equations serve polygons ([`of_polygon`]) and fitted shapes ([`Nose`]). `docs/decisions/027-leading-edge.md` compares the candidates.

use crate::polygon::{add, cross, dot, left, norm, scale, sub};
use crate::shape::Shape;
use crate::shape_cubics::OutlineAt;

/// Number of lines across the section on which the leading edge depends.
const N_LINES: usize = 6;
/// Position of the first, chords: behind what a scan smooths at a nose.
const FIRST: f64 = 0.04;
/// Spacing, chords. The last at 24 % of the chord lies before the corner in the curvature of four-digit mean lines, at 30 % or more.
const SPACING: f64 = 0.04;

/// Position of a line on the chord line, chords behind the leading edge.
fn position(k: usize) -> f64 {
    FIRST + SPACING * k as f64
}

/// Three polynomials, orthogonal over the lines, and their derivatives by `u`, at `u`. The lines lie at `u` = -2.5, -1.5, ... 2.5, with a mean square of 35/12.
fn polynomials(u: f64) -> ([f64; 3], [f64; 3]) {
    ([1.0, u, u * u - 35.0 / 12.0], [0.0, 1.0, 2.0 * u])
}

/// The parabola `height(x)`, both in chords, by its coefficients of the three polynomials.
#[derive(Debug, Clone, Copy)]
struct Parabola([f64; 3]);

/// A point of the outline and its derivative along the outline; chords, the chord line along the first axis.
#[derive(Debug, Clone, Copy)]
struct Hit {
    at: [f64; 2],
    along: [f64; 2],
}

impl Hit {
    /// Distance, along the chord, from the line at right angles to the parabola at `x`, and its derivative along the outline.
    fn off(&self, x: f64, [height, slope]: [f64; 2]) -> [f64; 2] {
        [self.at[0] - x + slope * (self.at[1] - height), self.along[0] + slope * self.along[1]]
    }
}

impl Parabola {
    /// Height and slope at `x`.
    fn at(&self, x: f64) -> [f64; 2] {
        let (value, slope) = polynomials((x - FIRST) / SPACING - 2.5);
        let sum = |p: [f64; 3]| p[0] * self.0[0] + p[1] * self.0[1] + p[2] * self.0[2];
        [sum(value), sum(slope) / SPACING]
    }

    /// The next approximation by Newton's method, from where the outline crosses each line or nearly does: face and back.
    fn improved(&self, hits: &[[Hit; 2]; N_LINES]) -> Self {
        let (mut a, mut b) = ([[0.0; 3]; 3], [0.0; 3]);
        for (k, pair) in hits.iter().enumerate() {
            let (value, slope) = polynomials(k as f64 - 2.5);
            let line = self.at(position(k));
            // Height of the middle above the parabola, and its derivatives with respect to the height and the slope of the parabola.
            let (mut rest, mut by_height, mut by_slope) = (-line[0], -1.0, 0.0);
            for hit in pair {
                let [off, change] = hit.off(position(k), line);
                let climb = 0.5 * hit.along[1] / change;
                rest += 0.5 * hit.at[1] - climb * off;
                by_height += climb * line[1];
                by_slope -= climb * (hit.at[1] - line[0]);
            }
            for i in 0..3 {
                b[i] -= value[i] * rest;
                for j in 0..3 {
                    a[i][j] += value[i] * (by_height * value[j] + by_slope * slope[j] / SPACING);
                }
            }
        }
        let step = solved(&a, &b);
        Self([0, 1, 2].map(|i| self.0[i] + step[i]))
    }
}

/// Solution of three equations (Cramer's rule). Not finite if they have none.
fn solved(a: &[[f64; 3]; 3], b: &[f64; 3]) -> [f64; 3] {
    let minor = |i: usize, j: usize| {
        let (r, s, p, q) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        a[r][p] * a[s][q] - a[r][q] * a[s][p]
    };
    let det = (0..3).map(|j| a[0][j] * minor(0, j)).sum::<f64>();
    [0, 1, 2].map(|j| (0..3).map(|i| b[i] * minor(i, j)).sum::<f64>() / det)
}

/// Most rounds of Newton's method; about six are needed.
const MOST_ROUNDS: usize = 30;
/// What moves by less than this, chords, is found.
const FOUND: f64 = 1e-13;

/// Leading edge of a closed polygon: of its `back` and `face`, with the chord line from `leading` along `chord`. `None` if a side does not cross a line, or the
/// polygon not the parabola.
pub(crate) fn of_polygon(
    outline: &[[f64; 2]],
    [face, back]: [&[[f64; 2]]; 2],
    leading: [f64; 2],
    chord: [f64; 2],
) -> Option<[f64; 2]> {
    let square = dot(chord, chord);
    let local = |p: &[f64; 2]| {
        let d = sub(*p, leading);
        [dot(d, chord) / square, cross(chord, d) / square]
    };
    let sides = [face, back].map(|side| side.iter().map(local).collect::<Vec<_>>());
    let mut parabola = Parabola([0.0; 3]);
    for _ in 0..MOST_ROUNDS {
        let mut hits = [[Hit { at: [0.0; 2], along: [0.0; 2] }; 2]; N_LINES];
        for (k, pair) in hits.iter_mut().enumerate() {
            let line = parabola.at(position(k));
            for (hit, side) in pair.iter_mut().zip(&sides) {
                *hit = crossing(side, position(k), line)?;
            }
        }
        let next = parabola.improved(&hits);
        let moved = next.0.iter().zip(parabola.0).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
        if !moved.is_finite() {
            return None;
        }
        parabola = next;
        if moved < FOUND {
            break;
        }
    }
    foremost(outline, local, &parabola)
}

/// Crossing of an open chain with a line at right angles to the parabola: of several, the one nearest to the parabola.
fn crossing(side: &[[f64; 2]], x: f64, line: [f64; 2]) -> Option<Hit> {
    let off = |at: [f64; 2]| at[0] - x + line[1] * (at[1] - line[0]);
    let mut best: Option<(f64, Hit)> = None;
    for w in side.windows(2) {
        let (a, b) = (off(w[0]), off(w[1]));
        if (a < 0.0) != (b < 0.0) {
            let along = sub(w[1], w[0]);
            let at = add(w[0], scale(along, a / (a - b)));
            let far = (at[1] - line[0]).abs();
            if best.is_none_or(|(least, _)| far < least) {
                best = Some((far, Hit { at, along }));
            }
        }
    }
    best.map(|(_, hit)| hit)
}

/// Foremost point ahead of the first line at which a closed polygon crosses the parabola.
fn foremost(
    outline: &[[f64; 2]],
    local: impl Fn(&[f64; 2]) -> [f64; 2],
    parabola: &Parabola,
) -> Option<[f64; 2]> {
    let off = |p: &[f64; 2]| {
        let [x, y] = local(p);
        (x, y - parabola.at(x)[0])
    };
    let mut best: Option<(f64, [f64; 2])> = None;
    let mut last = *outline.last()?;
    let mut at_last = off(&last);
    for &p in outline {
        let at = off(&p);
        if at.0.min(at_last.0) < FIRST && (at.1 < 0.0) != (at_last.1 < 0.0) {
            let share = at_last.1 / (at_last.1 - at.1);
            let x = at_last.0 + share * (at.0 - at_last.0);
            if best.is_none_or(|(least, _)| x < least) {
                best = Some((x, add(last, scale(sub(p, last), share))));
            }
        }
        (last, at_last) = (p, at);
    }
    best.map(|(_, p)| p)
}

/// The leading edge of a fitted shape with what it depends on, from which that of a nearly equal shape follows in two rounds.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Nose {
    /// Leading edge, in the shape's frame.
    pub(crate) leading_edge: [f64; 2],
    /// Its angle on the outline. `None` if it was not found, so that the end of the shape's own mean line stands.
    t: Option<f64>,
    parabola: Parabola,
    /// Angles at which face and back cross the lines.
    crossings: [[f64; 2]; N_LINES],
}

/// Farthest leading edge from the end of the shape's own mean line, chords. Beyond it the shape is no section.
const FARTHEST: f64 = 0.1;
/// Greatest step of an angle in one round, rad: less than the first line's distance from the nose.
const MOST_TURN: f64 = 0.2;
/// Rounds for a shape whose parameters differ by a step of the numerical derivative: the first finds parabola and leading edge, the second uses the new
/// chord line.
const ROUNDS_AFTER_STEP: usize = 2;

impl Nose {
    /// Leading edge of a shape. If it is not found, the end of the shape's own mean line.
    pub(crate) fn of(shape: &Shape, outline: &OutlineAt<'_>) -> Self {
        let crossings = std::array::from_fn(|k| {
            let t = (1.0 - 2.0 * position(k)).acos();
            [-t, t]
        });
        let own = shape.leading_edge();
        let start = Self { leading_edge: own, t: Some(0.0), parabola: Parabola([0.0; 3]), crossings };
        let mut nose = start;
        for _ in 0..MOST_ROUNDS {
            let next = nose.next(outline);
            let moved = norm(sub(next.leading_edge, nose.leading_edge));
            let far = norm(sub(next.leading_edge, own));
            if !far.is_finite() || FARTHEST * shape.chord() < far {
                return Self { t: None, ..start };
            }
            nose = next;
            if moved < FOUND * shape.chord() {
                break;
            }
        }
        nose
    }

    /// Leading edge of a shape that differs from the last one by a step of a numerical derivative.
    pub(crate) fn after_step(mut self, outline: &OutlineAt<'_>) -> Self {
        if self.t.is_none() {
            return Self { leading_edge: outline.leading_edge(), ..self };
        }
        for _ in 0..ROUNDS_AFTER_STEP {
            self = self.next(outline);
        }
        self
    }

    /// One round of Newton's method for parabola, crossings and leading edge.
    fn next(&self, outline: &OutlineAt<'_>) -> Self {
        let chord = sub(outline.trailing_edge(), self.leading_edge);
        let (along, up) =
            (scale(chord, 1.0 / dot(chord, chord)), scale(left(chord), 1.0 / dot(chord, chord)));
        let hit = |t: f64| {
            let (p, d) = outline.point_and_tangent(t);
            let gap = sub(p, self.leading_edge);
            Hit { at: [dot(gap, along), dot(gap, up)], along: [dot(d, along), dot(d, up)] }
        };
        let hits = self.crossings.map(|pair| pair.map(hit));
        let parabola = self.parabola.improved(&hits);
        let crossings = std::array::from_fn(|k| {
            let line = parabola.at(position(k));
            [0, 1].map(|side| {
                let [off, change] = hits[k][side].off(position(k), line);
                let t = self.crossings[k][side] - (off / change).clamp(-MOST_TURN, MOST_TURN);
                t.clamp(-std::f64::consts::PI, std::f64::consts::PI)
            })
        });
        let last = self.t.unwrap_or(0.0);
        let end = hit(last);
        let [height, slope] = parabola.at(end.at[0]);
        let (off, change) = (end.at[1] - height, end.along[1] - slope * end.along[0]);
        let t = last - (off / change).clamp(-MOST_TURN, MOST_TURN);
        Self { leading_edge: outline.point(t), t: Some(t), parabola, crossings }
    }
}
