//! Constraints on an outline where points do not determine it: ends at the last scan points, and a tail that does not cross itself.

use nalgebra::{DMatrix, DVector};

use std::f64::consts::PI;

use super::equations::solved;
use super::{FitError, N_STRIPS, State};
use crate::basis::{N_THICKNESS, STEP, thickness_basis};
use crate::polygon::{dot, scale, sub};
use crate::shape::{FIRST_THICKNESS, N_PARAMETERS};

/// Tolerance of an end of the outline beyond the last scan points, chords: the greatest, the value per noise, and the least.
const END_PLAY: f64 = 5e-4;
/// Tolerance per noise. Chosen; no check of this value is on record.
const PLAY_PER_NOISE: f64 = 0.5;
/// Least tolerance: a hundredth of a millimetre on a chord of a metre (chosen).
const LEAST_END_PLAY: f64 = 1e-5;

/// Scale of the damping of an edge's step where the points do not determine it, chords.
const END_STEP: f64 = 1e-3;

/// Tolerance of the half thickness, chords, with which a tail that would cross itself is held shut, and the positions where this is checked.
pub(super) const CLOSED_TAIL: f64 = 1e-5;

/// The positions where this is checked: the end of the tail and one step ahead of it.
pub(super) const TAIL_KNOTS: [f64; 2] = [PI, PI - STEP];

/// An end of the outline.
pub(super) struct End {
    /// Index of its first coordinate among the parameters.
    first: usize,
    /// Direction away from the section.
    out: [f64; 2],
    /// Distance beyond the end of the scan, and its tolerance, chords.
    pub(super) beyond: f64,
    play: f64,
}

impl End {
    /// Pulls the end of the outline to that of the scan.
    pub(super) fn hold(&self, a: &mut DMatrix<f64>, b: &mut DVector<f64>) {
        let Self { first, out, beyond, play } = *self;
        for k in 0..2 {
            b[first + k] -= beyond * out[k] / (play * play);
            for l in 0..2 {
                a[(first + k, first + l)] += out[k] * out[l] / (play * play);
            }
        }
    }

    /// Distance beyond the end of the scan after a step.
    fn beyond_after(&self, step: &DVector<f64>) -> f64 {
        self.beyond + dot(self.out, [step[self.first], step[self.first + 1]])
    }
}

/// Most rounds in which the ends that must be held are found.
const MOST_END_ROUNDS: usize = 4;

/// Which ends lie beyond the scan after the step if they are held, or would without: holding those that lie beyond it before the step lets them go to and fro.
fn is_held_after_step(
    ends: &[End; 2],
    mut is_held: [bool; 2],
    a: &DMatrix<f64>,
    b: &DVector<f64>,
) -> Result<[bool; 2], FitError> {
    for _ in 0..MOST_END_ROUNDS {
        let (mut a, mut b) = (a.clone(), b.clone());
        ends.iter().zip(is_held).filter(|(_, held)| *held).for_each(|(end, _)| end.hold(&mut a, &mut b));
        let step = solved(&a, &b)?;
        let after = [0, 1].map(|k| 0.0 < ends[k].beyond_after(&step));
        if after == is_held {
            break;
        }
        is_held = after;
    }
    Ok(is_held)
}

impl State<'_> {
    /// One Gauss-Newton step and its size in standard deviations of points and prior.
    /// `across`: fraction of the damping that is applied to the edges normal to the chord. It is needed only for a poor start.
    pub(super) fn step(&self, across: f64) -> Result<(DVector<f64>, f64), FitError> {
        let (mut a, mut b) = self.equations_with_free_ends(self.stiffness);
        // Points on the sides do not resist a retreating end. They lie behind it only after the step.
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        for first in [0, 2] {
            for (k, l) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let held = (1.0 - across) * chord[k] * chord[l] + if k == l { across } else { 0.0 };
                a[(first + k, first + l)] += held / (END_STEP * END_STEP);
            }
        }
        let ends = self.ends();
        let mut is_held = [0, 1].map(|k| 0.0 < ends[k].beyond);
        if self.is_steady {
            is_held = is_held_after_step(&ends, is_held, &a, &b)?;
        }
        for (end, _) in ends.iter().zip(is_held).filter(|(_, held)| *held) {
            end.hold(&mut a, &mut b);
        }
        let free = a.clone();
        for theta in TAIL_KNOTS {
            if thickness_basis(theta).sum(0, self.value.thickness_coefficients()) < -CLOSED_TAIL {
                self.hold_shut(theta, &mut a, &mut b);
            }
        }
        let mut step = solved(&a, &b)?;
        // Back and face may meet at the tail but not cross. Holding one knot shut may open the other, so they are treated one by one.
        for _ in TAIL_KNOTS {
            let opening = |theta| {
                let basis = thickness_basis(theta);
                basis.sum(0, self.value.thickness_coefficients())
                    + basis.sum(0, &step.as_slice()[FIRST_THICKNESS..N_PARAMETERS])
            };
            let Some(&theta) = TAIL_KNOTS.iter().find(|&&theta| opening(theta) < -CLOSED_TAIL) else { break };
            self.hold_shut(theta, &mut a, &mut b);
            step = solved(&a, &b)?;
        }
        let size = step.dot(&(free * &step)).max(0.0).sqrt();
        Ok((step, size))
    }

    /// Pulls the half thickness at a position to zero.
    pub(super) fn hold_shut(&self, theta: f64, a: &mut DMatrix<f64>, b: &mut DVector<f64>) {
        let basis = thickness_basis(theta);
        let h = basis.sum(0, self.value.thickness_coefficients());
        for (k, i) in basis.entries(N_THICKNESS) {
            let wi = basis.values[0][k] / (CLOSED_TAIL * CLOSED_TAIL);
            b[FIRST_THICKNESS + i] -= wi * h;
            for (l, j) in basis.entries(N_THICKNESS) {
                a[(FIRST_THICKNESS + i, FIRST_THICKNESS + j)] += wi * basis.values[0][l];
            }
        }
    }

    /// Both ends of the outline, nose and tail, and how far they lie beyond the scan. An outline that continued beyond the last scan points would contradict none of them.
    pub(super) fn ends(&self) -> [End; 2] {
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        // The flat end is at right angles to the mean line, so one of its corners lies farther along the chord than its middle.
        let (astern, play) = (self.value.tail_direction(), self.end_play());
        let ends = [(self.value.leading_edge(), scale(chord, -1.0)), (self.value.trailing_edge(), astern)];
        let [nose, tail] = self.scan_ends(ends);
        [(ends[0].1, 0, nose), (ends[1].1, 2, tail)].map(|(out, first, scan)| End {
            first,
            out,
            beyond: -scan,
            play,
        })
    }

    /// Tolerance of an end. Noise moves some points beyond it. Without noise the last points are the end.
    fn end_play(&self) -> f64 {
        (PLAY_PER_NOISE * self.rms).clamp(LEAST_END_PLAY, END_PLAY)
    }

    /// Precision of both edges along the chord, with its index among the parameters. The last scan points are off the edge by their noise.
    pub(super) fn ends_seen(&self) -> [(usize, [[f64; 2]; 2]); 2] {
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        let precision = 1.0 / (self.rms * self.rms + self.end_play().powi(2));
        [0, 2].map(|first| (first, [0, 1].map(|k| [0, 1].map(|l| precision * chord[k] * chord[l]))))
    }

    /// Distance of the end of the scan beyond either edge (negative if it falls short), chords: the second largest of the strips along the span, each by its last point. `ends`: the edge and the
    /// direction away from the section.
    fn scan_ends(&self, ends: [([f64; 2], [f64; 2]); 2]) -> [f64; 2] {
        let mut last = [[f64::NEG_INFINITY; N_STRIPS]; 2];
        for ((point, w), &strip) in self.points.iter().zip(&self.weights).zip(&self.strips) {
            if 0.0 < *w {
                for (last, (edge, out)) in last.iter_mut().zip(ends) {
                    let last = &mut last[usize::from(strip)];
                    *last = last.max(dot(sub(point.at, edge), out));
                }
            }
        }
        last.map(|last| {
            // Strips without a point do not count.
            let mut last: Vec<f64> = last.into_iter().filter(|l| l.is_finite()).collect();
            last.sort_by(f64::total_cmp);
            // One strip may hold a stray point; a hole may have taken the edge from most of them.
            last.get(last.len().saturating_sub(2)).copied().unwrap_or(0.0)
        })
    }
}
