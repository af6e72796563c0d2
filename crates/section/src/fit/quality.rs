//! The quality of a fit: points used, gaps, and departures of the scan from the outline.

use super::feet::Foot;
use super::{N_STRIPS, State, strip_of};
use crate::polygon::{norm, sub};
use crate::turn::sin_cos;

/// The quality of a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitQuality {
    /// Half width of the band of points, chords.
    pub half_band: f64,
    /// Points used.
    pub points: usize,
    /// Points with zero weight.
    pub stray: usize,
    /// Root mean square distance of the used points from the outline, chords.
    pub rms: f64,
    /// Correlation as the number of neighbouring points that count as one: the variance of a mean of points divided by that of the same number of independent points.
    pub correlation: f64,
    /// Widest gap between neighbouring foot points on the back, in chords of arc length.
    pub back_gap: f64,
    /// The same on the face.
    pub face_gap: f64,
    /// Widest gap between neighbouring foot points around the nose, in chords of arc length, within its first 9 % on either side.
    pub nose_gap: f64,
    /// Fraction of the band's strips along the span without any point on the first 1 % of the chord.
    pub nose_missing: f64,
    /// Departure of the used points from the outline on back, face, leading and trailing edge, in this order.
    pub departures: [Departure; 4],
    /// Points within the nose's 3 % of the chord.
    pub nose_points: usize,
    /// Points within the tail's 3 % of the chord.
    pub tail_points: usize,
    /// Standard deviation, chords, of the width of a tail that is held shut because its points would let back and face cross, as if it were free.
    /// The width cannot be negative, so its error has a half-normal distribution with this scale. Zero if the tail is free.
    pub shut_tail: f64,
}

/// Departure of the scan points from the fitted outline on one part of it, positive outside.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Departure {
    /// Root mean square, chords.
    pub rms: f64,
    /// The largest mean over neighbouring points, chords. Single points depart because of their noise.
    pub largest: f64,
    /// Its position along the chord, as a fraction of the chord from the leading edge.
    pub at: f64,
    /// Points on this part.
    pub points: usize,
}

/// Fraction of the chord at either end that counts as edge.
const EDGE_PART: f64 = 0.05;

/// Number of bins of each part over which departures are averaged, and the least number of points in a bin.
const DEPARTURE_BINS: usize = 12;

/// Least number of points in a bin: the mean of fewer is mostly noise (chosen).
const LEAST_IN_BIN: usize = 5;

/// Points farther away than this, chords, belong to another body.
const DEPARTURE_REACH: f64 = 0.04;

/// Fraction of the chord within which points of a strip show the leading edge itself.
const NOSE_TIP: f64 = 0.01;

/// Range of the outline that counts as the surroundings of the nose: 9 % of the chord on either side.
const NOSE_REACH: f64 = 0.6;

impl State<'_> {
    pub(super) fn widest_nose_gap(&self, mut places: Vec<f64>) -> f64 {
        places.sort_by(f64::total_cmp);
        let at = |t: f64| self.value.point_and_tangent(t).0;
        places.windows(2).map(|w| norm(sub(at(w[1]), at(w[0])))).fold(0.0, f64::max) / self.value.chord()
    }

    /// Departures on back, face, leading edge (the first 5 % of the chord on both sides) and trailing edge (the last 5 % and the flat end). Points with zero
    /// weight count if they are close to the outline: a nick is not another body.
    pub(super) fn departures(&self) -> [Departure; 4] {
        let mut bins = [[(0.0, 0.0, 0.0, 0_usize); DEPARTURE_BINS]; 4];
        for (foot, r) in self.feet.iter().zip(&self.residuals) {
            if DEPARTURE_REACH < r.abs() {
                continue;
            }
            let (part, x) = match foot {
                Foot::End(_) => (3, 1.0),
                Foot::Side(t) => {
                    let x = 0.5 * (1.0 - sin_cos(*t).1);
                    let side = usize::from(*t < 0.0);
                    (
                        if x < EDGE_PART {
                            2
                        } else if 1.0 - EDGE_PART < x {
                            3
                        } else {
                            side
                        },
                        x,
                    )
                }
            };
            let share = match part {
                2 => x / EDGE_PART,
                3 => (x - 1.0) / EDGE_PART + 1.0,
                _ => (x - EDGE_PART) / (1.0 - 2.0 * EDGE_PART),
            };
            let bin = &mut bins[part][((share * DEPARTURE_BINS as f64) as usize).min(DEPARTURE_BINS - 1)];
            *bin = (bin.0 + r, bin.1 + r * r, bin.2 + x, bin.3 + 1);
        }
        bins.map(|bins| {
            let (square, points) = bins.iter().fold((0.0, 0), |(s, n), b| (s + b.1, n + b.3));
            let mut departure = Departure { points, ..Departure::default() };
            if 0 < points {
                departure.rms = (square / points as f64).sqrt();
            }
            for (sum, _, x, n) in bins.into_iter().filter(|b| LEAST_IN_BIN <= b.3) {
                let mean = sum / n as f64;
                if departure.largest.abs() <= mean.abs() {
                    (departure.largest, departure.at) = (mean, x / n as f64);
                }
            }
            departure
        })
    }

    pub(super) fn quality(&self, correlation: f64) -> FitQuality {
        let (mut arcs, mut around_nose) = ([vec![], vec![]], vec![-NOSE_REACH, NOSE_REACH]);
        let (mut used, mut nose, mut tail) = (0, 0, 0);
        let mut nose_strips = [false; N_STRIPS];
        let seen = self.feet.iter().zip(&self.weights).zip(self.points).filter(|((_, w), _)| 0.0 < **w);
        for ((foot, w), point) in seen {
            debug_assert!(0.0 < *w);
            used += 1;
            match foot {
                Foot::End(_) => tail += 1,
                Foot::Side(t) => {
                    let x = 0.5 * (1.0 - sin_cos(*t).1);
                    if t.abs() < NOSE_REACH {
                        around_nose.push(*t);
                    }
                    nose += usize::from(x < 0.03);
                    nose_strips[strip_of(point.span)] |= x < NOSE_TIP;
                    tail += usize::from(0.97 < x);
                    arcs[usize::from(*t < 0.0)].push(x);
                }
            }
        }
        let [back_gap, face_gap] = arcs.map(widest_gap);
        let departures = self.departures();
        let nose_gap = self.widest_nose_gap(around_nose);
        FitQuality {
            half_band: self.settings.half_band,
            points: used,
            stray: self.points.len() - used,
            rms: self.rms,
            correlation,
            back_gap,
            face_gap,
            nose_gap,
            nose_missing: nose_strips.iter().filter(|seen| !**seen).count() as f64 / N_STRIPS as f64,
            departures,
            nose_points: nose,
            tail_points: tail,
            shut_tail: 0.0,
        }
    }
}

fn widest_gap(mut places: Vec<f64>) -> f64 {
    places.push(0.0);
    places.push(1.0);
    places.sort_by(f64::total_cmp);
    places.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max)
}
