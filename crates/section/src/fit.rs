//! Fit of a [`Shape`] to the points of a band of the blade around a station.
//!
//! Orthogonal-distance least squares: each point is held against its foot on the outline, and the feet follow the outline as it moves
//! (S. J. Ahn, "Least squares orthogonal distance fitting of curves and surfaces in space", Springer LNCS 3151, 2004, the coordinate-based method).
//! Every parameter may change straight along the span within the band, so that many scan points speak for one station.
//! Stray points are weighed down by Tukey's biweight (P. J. Huber, "Robust statistics", Wiley, 1981, section 4.8).

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

use crate::basis::{N_MEAN, N_THICKNESS, STEP, thickness_basis};
use crate::figures::{Figure, figures};
use crate::outline::{add, dot, left, norm, scale, sub};
use crate::pieces::{OutlineAt, Pieces};
use crate::prior::precision;
use crate::shape::{FIRST_MEAN, FIRST_THICKNESS, N_PARAMETERS, Shape};

/// A scan point near a station, in the frame of the station's provisional chord line: leading edge near (0, 0), trailing edge near (1, 0),
/// unit one chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandPoint {
    /// Along and across the chord line, chords.
    pub at: [f64; 2],
    /// Outward normal of the scan there, projected on the section's plane; its length does not matter, (0, 0) where unknown.
    pub normal: [f64; 2],
    /// Place along the span: -1 and 1 are the band's ends, 0 is the station.
    pub span: f64,
}

/// What a caller may choose. There is no default: each number belongs to a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitSettings {
    /// Half width of the band, chords.
    pub half_band: f64,
    /// Noise below which no point counts as stray, chords: what the outline model itself may miss.
    pub model_error: f64,
}

/// How well a fit went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitQuality {
    /// Points used.
    pub points: usize,
    /// Points weighed down to nothing.
    pub stray: usize,
    /// Root mean square distance of the used points from the outline, chords.
    pub rms: f64,
    /// How many neighbouring points repeat one another: variance of a mean over independent points, divided by that of as many independent ones.
    pub correlation: f64,
    /// Widest gap between neighbouring feet on the back, in chords of arc length.
    pub back_gap: f64,
    /// The same on the face.
    pub face_gap: f64,
    /// Widest gap between neighbouring feet around the nose, chords of arc length along the outline, within its first 9 % on either side.
    pub nose_gap: f64,
    /// Share of the band's strips along the span without any point on the nose's first 1 % of the chord.
    pub nose_missing: f64,
    /// Departure of the used points from the outline on back, face, leading and trailing edge, in this order.
    pub departures: [Departure; 4],
    /// Points within the nose's 3 % of the chord.
    pub nose_points: usize,
    /// Points within the tail's 3 % of the chord.
    pub tail_points: usize,
}

/// How far the scan's points lie off the fitted outline on one part of it; positive outside.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Departure {
    /// Root mean square, chords.
    pub rms: f64,
    /// The largest mean over neighbouring points, chords: single points depart by their noise.
    pub largest: f64,
    /// Where along the chord that is, fraction of it from the leading edge.
    pub at: f64,
    /// Points on this part.
    pub points: usize,
}

/// A fitted section in the frame of its points, with the covariance of its parameters.
#[derive(Debug, Clone)]
pub struct SectionFit {
    /// Outline at the station.
    pub shape: Shape,
    /// Change of the outline's parameters from the station to the band's end.
    pub change: Shape,
    /// Covariance of the shape's parameters (square chords), in their order.
    pub(crate) covariance: DMatrix<f64>,
    /// The covariance's parts from the data and from what is known beforehand, for the correlation that the fit reckoned with.
    parts: [DMatrix<f64>; 2],
    /// What the fit is worth.
    pub quality: FitQuality,
}

impl SectionFit {
    /// Reckons the uncertainty with another estimate of how many neighbouring points repeat one another, as from all stations of a scan together:
    /// one station alone tells it to a third or so.
    pub fn set_correlation(&mut self, correlation: f64) {
        // Noise that repeats itself more makes the data worse; what is known beforehand stays.
        let [of_data, of_prior] = &self.parts;
        self.covariance = of_data * (correlation / self.quality.correlation) + of_prior;
    }
}

/// Why no outline could be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Not enough points.
    #[error("only {found} scan points lie near the station; at least {needed} are needed")]
    TooFewPoints {
        /// Points offered.
        found: usize,
        /// Points that a fit needs.
        needed: usize,
    },
    /// The equations have no solution.
    #[error("the points near the station do not determine an outline")]
    Undetermined,
    /// One side is nearly absent.
    #[error("{missing} has scan points on only {percent:.0} % of its length; half is needed")]
    SideMissing {
        /// "the back" or "the face".
        missing: &'static str,
        /// Part of that side that is near a point.
        percent: f64,
    },
    /// An edge is absent.
    #[error("no scan point lies within 5 % of the chord of the {edge} edge: chord and angle cannot be told")]
    EdgeMissing {
        /// "leading" or "trailing".
        edge: &'static str,
    },
}

/// Fewest points for a fit: some for every parameter that the points must determine by themselves.
const MIN_POINTS: usize = 60;
/// Most rounds of the fit. Most outlines settle in five or six.
const MAX_ROUNDS: usize = 20;
/// A step below this many standard deviations, in whatever direction, ends the fit.
const CONVERGED: f64 = 0.1;
/// The same before the points' correlation is known: more rounds follow.
const NEAR: f64 = 2.0;
/// Tukey's constant: 95 % efficiency under Gaussian noise.
const BIWEIGHT: f64 = 4.685;
/// Points that one cell of the correlation estimate holds on average, in its two sizes.
const CELL_POINTS: [f64; 2] = [12.5, 50.0];
/// Most points that count as one: noise that goes together over four edges.
const MOST_CORRELATED: f64 = 50.0;
/// Share of the cells' freedom that is counted at the least: below it the estimate would hang on a difference of nearly equal numbers.
const LEAST_FREE: f64 = 0.3;
/// Least residual, chords: float32 coordinates are not better.
const LEAST_NOISE: f64 = 1e-7;
/// Noise, chords, against which the prior is weighed at the least: below it the outline model's own error speaks, not the scan.
const LEAST_PRIOR_NOISE: f64 = 5e-5;
/// Beyond this angle from the nose a point may belong to the flat end instead of a side.
const END_REGION: f64 = PI - 0.5;
/// Bins along each side in which points are counted before a fit, for missing parts.
const COVER_BINS: usize = 20;

/// Where a point's foot is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Foot {
    /// On back or face, at `t`.
    Side(f64),
    /// On the flat end, at this height above the mean line in chords.
    End(f64),
}

/// Fits an outline to points of a band. `points`: at least 60, in chords as [`BandPoint`] says.
///
/// # Errors
/// [`FitError`] when points are too few, one side or edge is absent, or the equations are singular.
pub fn fit_section(points: &[BandPoint], settings: &FitSettings) -> Result<SectionFit, FitError> {
    if points.len() < MIN_POINTS {
        return Err(FitError::TooFewPoints { found: points.len(), needed: MIN_POINTS });
    }
    check_cover(points)?;
    // The middle of each strip finds the outline cheaply; all points then settle it.
    let share = FEW_POINTS as f64 / points.len() as f64;
    let middles: Vec<_> = points.iter().copied().filter(|p| off_middle(p.span) < share).collect();
    let few = MOST_OF_BAND < share || check_cover(&middles).is_err();
    let mut state = if few {
        State::start(points, settings)?
    } else {
        State::start(&middles, settings)?.settled(MAX_ROUNDS, NEAR)?.over(points)
    };
    let rounds = if state.started { LAST_ROUNDS } else { MAX_ROUNDS };
    state = state.settled(rounds, NEAR)?;
    state.find_feet(false);
    state.weigh(1.0);
    // What neighbouring points repeat must not outweigh what is known beforehand.
    state.correlation = state.correlation_of_residuals()?;
    state = state.settled(CORRELATED_ROUNDS, CONVERGED)?;
    state.find_feet(false);
    state.weigh(1.0);
    state.finish()
}

/// Points that a first fit aims at, and the share of the band from which it spares nothing.
const FEW_POINTS: usize = 4000;
const MOST_OF_BAND: f64 = 0.5;
/// Rounds over all points, after a part of them has found the outline.
const LAST_ROUNDS: usize = 10;

/// Rounds after the points' correlation is known. Most fits settle in three.
const CORRELATED_ROUNDS: usize = 10;

/// Refuses what no fit can carry, before a fit makes something up.
fn check_cover(points: &[BandPoint]) -> Result<(), FitError> {
    let mut bins = [[0_usize; COVER_BINS]; 2];
    let (mut nose, mut tail) = (0, 0);
    for p in points {
        let x = p.at[0];
        nose += usize::from(x < 0.05);
        tail += usize::from(0.95 < x);
        if (0.0..1.0).contains(&x) {
            bins[usize::from(p.normal[1] < 0.0)][(x * COVER_BINS as f64) as usize] += 1;
        }
    }
    for (side, missing) in ["the back", "the face"].into_iter().enumerate() {
        let covered = bins[side].iter().filter(|&&n| 0 < n).count() as f64 / COVER_BINS as f64;
        if covered < 0.5 {
            return Err(FitError::SideMissing { missing, percent: 100.0 * covered });
        }
    }
    for (edge, found) in [("leading", nose), ("trailing", tail)] {
        if found == 0 {
            return Err(FitError::EdgeMissing { edge });
        }
    }
    Ok(())
}

struct State<'a> {
    points: &'a [BandPoint],
    settings: &'a FitSettings,
    prior: DMatrix<f64>,
    value: Shape,
    change: Shape,
    feet: Vec<Foot>,
    /// Whether the feet are those of these points, to be followed instead of looked for.
    feet_found: bool,
    residuals: Vec<f64>,
    normals: Vec<[f64; 2]>,
    weights: Vec<f64>,
    rms: f64,
    /// How many neighbouring points count as one.
    correlation: f64,
    /// Whether the outline comes from a fit to some of the points.
    started: bool,
}

/// Weighted sums over neighbouring points of the band: their derivatives differ so little that one row of the equations serves all.
/// The places of a cell lie within an eighth of the half thickness's knots, so the row's error is some thousandth of it.
#[derive(Debug, Clone, Copy, Default)]
struct Cell {
    flat_end: bool,
    weight: f64,
    /// Of `t`, or of the height on the flat end.
    place: f64,
    normal: [f64; 2],
    span: f64,
    span_square: f64,
    residual: f64,
    residual_span: f64,
}

impl Cell {
    fn foot(&self) -> Foot {
        let place = self.place / self.weight;
        if self.flat_end { Foot::End(place) } else { Foot::Side(place) }
    }
}

/// Cells along each side, evenly in `t`.
const N_CELLS_ALONG: usize = 8 * crate::basis::N_THICKNESS_INTERVALS;
/// Directions of the normal that are told apart at a corner.
const N_CORNER_SECTORS: usize = 32;
/// Back, face, corners, flat end.
const N_CELL_KINDS: usize = 4;

/// How far a place is from the middle of its strip: 0 there, 1 at its rim.
fn off_middle(span: f64) -> f64 {
    let strips = (span + 1.0) / 2.0 * N_STRIPS as f64;
    2.0 * (strips - strips.floor() - 0.5).abs()
}

fn strip_of(span: f64) -> usize {
    ((span + 1.0) / 2.0 * N_STRIPS as f64).clamp(0.0, N_STRIPS as f64 - 1.0) as usize
}

impl<'a> State<'a> {
    /// A first outline: back and face as functions of the place along the chord, told apart by the scan's normals.
    fn start(points: &'a [BandPoint], settings: &'a FitSettings) -> Result<Self, FitError> {
        let n = points.len();
        let mut state = Self {
            points,
            settings,
            prior: precision(START_THICKNESS),
            value: Shape::plate([0.0, 0.0], [1.0, 0.0]),
            change: Shape::plate([0.0, 0.0], [0.0, 0.0]),
            feet: vec![Foot::Side(0.0); n],
            feet_found: false,
            residuals: vec![0.0; n],
            normals: vec![[0.0, 0.0]; n],
            weights: vec![1.0; n],
            rms: START_NOISE,
            correlation: 1.0,
            started: false,
        };
        for _ in 0..START_ROUNDS {
            state.start_round()?;
        }
        state.prior = precision(figures(&state.value).value(Figure::ThicknessRatio));
        Ok(state)
    }

    /// The same outline, to be fitted to other points.
    fn over(self, points: &'a [BandPoint]) -> Self {
        let n = points.len();
        Self {
            points,
            settings: self.settings,
            prior: self.prior,
            value: self.value,
            change: self.change,
            feet: vec![Foot::Side(0.0); n],
            feet_found: false,
            residuals: vec![0.0; n],
            normals: vec![[0.0, 0.0]; n],
            weights: vec![1.0; n],
            rms: self.rms,
            correlation: 1.0,
            started: true,
        }
    }

    /// Rounds of Gauss-Newton until steps are below a size in standard deviations.
    fn settled(mut self, rounds: usize, enough: f64) -> Result<Self, FitError> {
        // A fresh outline has stray points in it until the bound has closed in.
        let least = if self.started { 0 } else { 2 };
        let mut last = DVector::zeros(2 * N_PARAMETERS);
        for round in 0..rounds {
            self.find_feet(!self.feet_found);
            let slack = if self.started { 1 } else { 1 << 3_usize.saturating_sub(round) };
            self.weigh(f64::from(slack));
            let (step, size) = self.step(0.25_f64.powi(round as i32))?;
            // Points at the corners of a blunt tail change sides from round to round: a step that takes the last one back goes half the way.
            let share: f64 = if step.dot(&last) < 0.0 { 0.5 } else { 1.0 };
            let share = share.min(EDGE_REACH / step.rows(0, 4).amax());
            self.go(&step, share);
            last = step;
            if least <= round && size < enough {
                break;
            }
        }
        Ok(self)
    }

    /// One reweighted linear fit of `y = mean(x) ± thickness(x)`.
    fn start_round(&mut self) -> Result<(), FitError> {
        let m = N_MEAN + N_THICKNESS;
        let mut a = self.prior.view((4, 4), (m, m)).clone_owned() * (START_NOISE * START_NOISE);
        let mut b = DVector::zeros(m);
        for p in self.points.iter().filter(|p| (0.004..0.996).contains(&p.at[0]) && p.normal[1] != 0.0) {
            let t = p.normal[1].signum() * (1.0 - 2.0 * p.at[0]).acos();
            let row = self.height_row(t);
            let fitted: f64 = row.iter().map(|&(i, v)| v * self.value.p[4 + i]).sum();
            let r = (p.at[1] - fitted) / START_STRAY;
            let flat = self.value.p.iter().skip(4).all(|&v| v == 0.0);
            let weight = if flat { 1.0 } else { 1.0 / (1.0 + r * r) };
            for &(i, vi) in &row {
                b[i] += weight * vi * p.at[1];
                for &(j, vj) in &row {
                    a[(i, j)] += weight * vi * vj;
                }
            }
        }
        let solved = a.cholesky().ok_or(FitError::Undetermined)?.solve(&b);
        self.value.p[4..].copy_from_slice(solved.as_slice());
        Ok(())
    }

    /// Row of the height of a side at `t` in the coefficients of mean line and thickness.
    fn height_row(&self, t: f64) -> Vec<(usize, f64)> {
        let at = self.value.place(t);
        let thickness = thickness_basis(t.abs());
        let mut row: Vec<_> = at.mean.entries(N_MEAN).map(|(k, i)| (i, at.mean.values[0][k])).collect();
        row.extend(
            thickness.entries(N_THICKNESS).map(|(k, i)| (N_MEAN + i, t.signum() * thickness.values[0][k])),
        );
        row
    }

    /// The outline at the place of a point along the span.
    #[inline]
    fn outline_at(&self, span: f64) -> Shape {
        let mut shape = self.value.clone();
        for (v, c) in shape.p.iter_mut().zip(&self.change.p) {
            *v += span * c;
        }
        shape
    }

    /// Feet, residuals (positive outside) and normals of all points; `from_scratch` looks along the whole outline first.
    fn find_feet(&mut self, from_scratch: bool) {
        let samples = if from_scratch { Samples::of(&self.value) } else { Samples::default() };
        let (value, change) = (Pieces::of(&self.value), Pieces::of(&self.change));
        for (i, point) in self.points.iter().enumerate() {
            let shape = OutlineAt::new(&value, &change, point.span);
            let start = match self.feet[i] {
                Foot::Side(t) if !from_scratch => t,
                Foot::End(_) if !from_scratch => {
                    if point.normal[1] < 0.0 {
                        -PI
                    } else {
                        PI
                    }
                }
                _ => samples.nearest(point),
            };
            let steps = if from_scratch { N_FIRST_FOOT_STEPS } else { N_FOOT_STEPS };
            let (foot, normal, residual) = nearest_foot(&shape, point.at, start, steps);
            self.feet[i] = foot;
            self.normals[i] = normal;
            self.residuals[i] = residual;
        }
        self.feet_found = true;
    }

    /// Noise and robust weights from the residuals; `slack` widens the bound for stray points while the outline is still moving.
    fn weigh(&mut self, slack: f64) {
        let mut sizes: Vec<f64> = self.residuals.iter().map(|r| r.abs()).collect();
        let middle = sizes.len() / 2;
        let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
        // 1.4826: median absolute deviation of a Gaussian to its standard deviation.
        let bound = slack * BIWEIGHT * (1.4826 * *median).max(self.settings.model_error);
        for ((weight, r), (point, normal)) in
            self.weights.iter_mut().zip(&self.residuals).zip(self.points.iter().zip(&self.normals))
        {
            let u = r / bound;
            let facing = dot(point.normal, *normal);
            let turned_away = facing < -0.3 * norm(point.normal);
            *weight = if 1.0 <= u.abs() || turned_away { 0.0 } else { (1.0 - u * u).powi(2) };
        }
        self.keep_what_lies_beyond_the_tail(bound);
        let (sum, square) = self
            .weights
            .iter()
            .zip(&self.residuals)
            .fold((0.0, 0.0), |(s, q), (w, r)| (s + w, q + w * r * r));
        self.rms = (square / sum).sqrt().max(LEAST_NOISE);
    }

    /// Points behind the tail are never stray at once, or a tail that began too short would stay so: they count by Huber's weight.
    fn keep_what_lies_beyond_the_tail(&mut self, bound: f64) {
        let out = self.value.tail_direction();
        for (i, weight) in self.weights.iter_mut().enumerate() {
            let behind = dot(sub(self.points[i].at, self.value.trailing_edge()), out);
            if 0.0 < behind && behind < TAIL_REACH && self.residuals[i].abs() < TAIL_REACH {
                *weight = weight.max((bound / BIWEIGHT / self.residuals[i].abs().max(1e-30)).min(1.0));
            }
        }
    }

    /// How many neighbouring points repeat one another: variance of sums of residuals over cells of neighbouring points against that of independent ones.
    ///
    /// A cell of width `w` misses what its points share with those beyond its rim: its square root is short by a term in `1/w`, which two sizes of
    /// cells show and take out.
    fn estimated_correlation(&self, determined: f64) -> f64 {
        let [small, large] = CELL_POINTS.map(|points| self.correlation_in_cells(points, determined).sqrt());
        let ratio = (CELL_POINTS[1] / CELL_POINTS[0]).sqrt();
        ((ratio * large - small) / (ratio - 1.0)).max(large).powi(2).min(MOST_CORRELATED)
    }

    /// The same from cells that hold so many points on average. The fit takes `determined` degrees of freedom out of the sums, as it does out of any
    /// residuals: what is left is scaled up by them.
    fn correlation_in_cells(&self, cell_points: f64, determined: f64) -> f64 {
        let area = PERIMETER * 2.0 * self.settings.half_band;
        let cell = (area * cell_points / self.points.len() as f64).sqrt();
        let (along, across) =
            ((PERIMETER / cell).ceil().max(4.0), (2.0 * self.settings.half_band / cell).ceil().max(1.0));
        let mut sums = std::collections::BTreeMap::<(i64, i64), (f64, f64)>::new();
        for ((foot, r), (w, point)) in
            self.feet.iter().zip(&self.residuals).zip(self.weights.iter().zip(self.points))
        {
            let Foot::Side(t) = foot else { continue };
            let arc = t.signum() * 0.5 * (1.0 - t.cos());
            let key = (
                (arc * along / 2.0).floor() as i64,
                ((point.span + 1.0) / 2.0 * across * 0.9999).floor() as i64,
            );
            let entry = sums.entry(key).or_default();
            entry.0 += w * r;
            entry.1 += w * w * r * r;
        }
        let (of_sums, of_points) = sums.values().fold((0.0, 0.0), |(a, b), (s, q)| (a + s * s, b + q));
        let free = (1.0 - determined / sums.len().max(1) as f64).max(LEAST_FREE);
        if of_points == 0.0 { 1.0 } else { (of_sums / of_points / free).max(1.0) }
    }

    /// One Gauss-Newton step and its size in standard deviations of what the points and the prior leave open.
    /// `across`: share by which the edges are held back across the chord, where only a poor beginning needs it.
    fn step(&self, across: f64) -> Result<(DVector<f64>, f64), FitError> {
        let (mut a, mut b) = self.normal_equations();
        // Points that lie on the sides do not resist an end that draws back, and only then find themselves behind it.
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        for first in [0, 2] {
            for (k, l) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
                let held = (1.0 - across) * chord[k] * chord[l] + if k == l { across } else { 0.0 };
                a[(first + k, first + l)] += held / (END_STEP * END_STEP);
            }
        }
        let free = a.clone();
        for theta in TAIL_KNOTS {
            if thickness_basis(theta).sum(0, self.value.thickness_coefficients()) < -CLOSED_TAIL {
                self.hold_shut(theta, &mut a, &mut b);
            }
        }
        let mut step = solved(&a, &b)?;
        // Back and face may meet at the tail but not cross. One knot held shut may open the other, so they are taken one by one.
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

    fn go(&mut self, step: &DVector<f64>, share: f64) {
        for i in 0..N_PARAMETERS {
            self.value.p[i] += share * step[i];
            self.change.p[i] += share * step[N_PARAMETERS + i];
        }
    }

    /// Normal equations with the prior, in units of the noise.
    fn normal_equations(&self) -> (DMatrix<f64>, DVector<f64>) {
        let n = N_PARAMETERS;
        let mut sums = Sums::new();
        let mut row = Vec::with_capacity(12);
        for cell in self.cells() {
            let shape = self.outline_at(cell.span / cell.weight);
            jacobian_row(&shape, cell.foot(), scale(cell.normal, 1.0 / cell.weight), &mut row);
            sums.add(&row, &cell);
        }
        let (mut a, mut b) = sums.equations(self.inverse_variance());
        let held = DVector::from_iterator(
            2 * n,
            self.value.p.iter().chain(&self.change.p).enumerate().map(|(i, &v)| {
                // Edges are free: the prior is about shape, and its loose bound is about the step.
                if i < 4 { 0.0 } else { v }
            }),
        );
        b -= &self.prior * held;
        a += &self.prior;
        self.hold_ends_to_the_scan(&mut a, &mut b);
        (a, b)
    }

    /// Weight of one point against what is known beforehand.
    fn inverse_variance(&self) -> f64 {
        (self.rms * self.rms * self.correlation).max(LEAST_PRIOR_NOISE * LEAST_PRIOR_NOISE).recip()
    }

    fn correlation_of_residuals(&self) -> Result<f64, FitError> {
        let (a, _) = self.settled_equations();
        let inverse = a.cholesky().ok_or(FitError::Undetermined)?.inverse();
        // Parameters that the points determine, not the prior: the trace of the share of the data in the equations.
        Ok(self.estimated_correlation(2.0 * N_PARAMETERS as f64 - (inverse * &self.prior).trace()))
    }

    /// Points with nearly the same derivatives, summed up.
    fn cells(&self) -> Vec<Cell> {
        let mut cells = vec![Cell::default(); N_CELL_KINDS * N_CELLS_ALONG * N_STRIPS];
        for (i, point) in self.points.iter().enumerate() {
            let w = self.weights[i];
            if w == 0.0 {
                continue;
            }
            let strip = strip_of(point.span);
            let (kind, along, place, flat) = match self.feet[i] {
                // Feet on a corner share their place but not their normal: opposite ones would cancel.
                Foot::Side(t) if PI <= t.abs() + 1e-12 => {
                    let turn = self.normals[i][1].atan2(self.normals[i][0]) / (2.0 * PI) + 0.5;
                    (2, 2 * (turn * N_CORNER_SECTORS as f64) as usize + usize::from(t < 0.0), t, false)
                }
                Foot::Side(t) => {
                    (usize::from(t < 0.0), ((t.abs() / PI) * N_CELLS_ALONG as f64) as usize, t, false)
                }
                Foot::End(h) => (3, 0, h, true),
            };
            let along = along.min(N_CELLS_ALONG - 1);
            let cell = &mut cells[(kind * N_CELLS_ALONG + along) * N_STRIPS + strip];
            cell.flat_end = flat;
            cell.weight += w;
            cell.place += w * place;
            cell.normal = add(cell.normal, scale(self.normals[i], w));
            cell.span += w * point.span;
            cell.span_square += w * point.span * point.span;
            cell.residual += w * self.residuals[i];
            cell.residual_span += w * self.residuals[i] * point.span;
        }
        cells.retain(|c| 0.0 < c.weight);
        cells
    }

    /// Pulls the half thickness at a place to nothing.
    fn hold_shut(&self, theta: f64, a: &mut DMatrix<f64>, b: &mut DVector<f64>) {
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

    /// Normal equations with what holds a shut tail shut: it does not vary.
    fn settled_equations(&self) -> (DMatrix<f64>, DVector<f64>) {
        let (mut a, mut b) = self.normal_equations();
        for theta in TAIL_KNOTS {
            if thickness_basis(theta).sum(0, self.value.thickness_coefficients()) < CLOSED_TAIL {
                self.hold_shut(theta, &mut a, &mut b);
            }
        }
        (a, b)
    }

    /// An outline that went on beyond the last scan points would contradict none of them: each end is held to where the scan ends.
    fn hold_ends_to_the_scan(&self, a: &mut DMatrix<f64>, b: &mut DVector<f64>) {
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        for (edge, first, out) in
            [(self.value.leading_edge(), 0, scale(chord, -1.0)), (self.value.trailing_edge(), 2, chord)]
        {
            let beyond = -self.scan_end(edge, out);
            if 0.0 < beyond {
                for k in 0..2 {
                    b[first + k] -= beyond * out[k] / (END_PLAY * END_PLAY);
                    for l in 0..2 {
                        a[(first + k, first + l)] += out[k] * out[l] / (END_PLAY * END_PLAY);
                    }
                }
            }
        }
    }

    /// Precision of both edges along the chord, and where it stands among the parameters: the last scan points lie off the edge by their noise.
    fn ends_seen(&self) -> [(usize, [[f64; 2]; 2]); 2] {
        let chord = scale(self.value.chord_vector(), 1.0 / self.value.chord());
        let precision = 1.0 / (self.rms * self.rms + END_PLAY * END_PLAY);
        [0, 2].map(|first| (first, [0, 1].map(|k| [0, 1].map(|l| precision * chord[k] * chord[l]))))
    }

    /// How far the scan goes beyond an edge (negative: falls short), chords: the second of the strips along the span, each by its last point.
    fn scan_end(&self, edge: [f64; 2], out: [f64; 2]) -> f64 {
        let mut last = [f64::NEG_INFINITY; N_STRIPS];
        for (point, w) in self.points.iter().zip(&self.weights).filter(|&(_, &w)| 0.0 < w) {
            debug_assert!(w.is_finite());
            let strip = strip_of(point.span);
            last[strip] = last[strip].max(dot(sub(point.at, edge), out));
        }
        // Strips without a point do not count.
        let mut last: Vec<f64> = last.into_iter().filter(|l| l.is_finite()).collect();
        last.sort_by(f64::total_cmp);
        // One strip may hold a stray point; a hole may have taken the edge from most of them.
        last.get(last.len().saturating_sub(2)).copied().unwrap_or(0.0)
    }

    fn finish(self) -> Result<SectionFit, FitError> {
        let (mut a, _) = self.settled_equations();
        // Where the scan ends is seen whatever the sides near the ends leave open.
        let mut known = self.prior.clone();
        for (first, p) in self.ends_seen() {
            for k in 0..2 {
                for l in 0..2 {
                    a[(first + k, first + l)] += p[k][l];
                    known[(first + k, first + l)] += p[k][l];
                }
            }
        }
        let inverse = a.cholesky().ok_or(FitError::Undetermined)?.inverse();
        // With `M = A + P`, data's and prior's precision, the error `M^-1 (gradient of the noise + P x)` has the covariance `M^-1 (B + P) M^-1`, where
        // `B` is the gradient's own.
        let of_value = |m: &DMatrix<f64>| m.view((0, 0), (N_PARAMETERS, N_PARAMETERS)).into_owned();
        let of_data = &inverse * self.precision_of_smoothed(self.smoothing()) * &inverse;
        let parts = [of_value(&of_data), of_value(&(&inverse * known * &inverse))];
        let covariance = &parts[0] + &parts[1];
        let quality = self.quality(self.correlation);
        Ok(SectionFit { shape: self.value, change: self.change, covariance, parts, quality })
    }

    /// Standard deviation, chords, of the Gaussian that makes the scan's noise of white noise: a correlation `exp(-d^2 / l^2)` adds up to
    /// `k` points of area `a` where `k a = pi l^2`, and comes of smoothing over `l / 2`.
    fn smoothing(&self) -> f64 {
        let area_of_point = PERIMETER * 2.0 * self.settings.half_band / self.points.len() as f64;
        0.5 * (self.correlation * area_of_point / PI).sqrt()
    }

    /// Precision that the data would have if the noise were white, its derivatives smoothed along the outline as the noise is: noise that goes together
    /// over a nose moves it as a whole and does not bend it. Along the span the derivatives are straight and smoothing leaves them.
    fn precision_of_smoothed(&self, smoothing: f64) -> DMatrix<f64> {
        let mut sums = Sums::new();
        let (mut row, mut dense) = (Vec::with_capacity(12), vec![0.0; N_PARAMETERS]);
        for cell in self.cells() {
            let shape = self.outline_at(cell.span / cell.weight);
            dense.fill(0.0);
            let nodes = match cell.foot() {
                Foot::Side(_) => &HERMITE[..],
                Foot::End(_) => &[(0.0, 1.0)],
            };
            for (node, share) in nodes {
                let (foot, normal) = moved(&shape, &cell, node * smoothing);
                jacobian_row(&shape, foot, normal, &mut row);
                row.iter().for_each(|(i, v)| dense[*i] += share * v);
            }
            row.clear();
            row.extend(dense.iter().copied().enumerate().filter(|(_, v)| *v != 0.0));
            sums.add(&row, &cell);
        }
        sums.equations(self.inverse_variance()).0
    }

    fn widest_nose_gap(&self, mut places: Vec<f64>) -> f64 {
        places.sort_by(f64::total_cmp);
        let at = |t: f64| self.value.point_and_tangent(t).0;
        places.windows(2).map(|w| norm(sub(at(w[1]), at(w[0])))).fold(0.0, f64::max) / self.value.chord()
    }

    /// Departures on back, face, leading edge (the first 5 % of the chord on both sides) and trailing edge (the last 5 % and the flat end). Points that were
    /// weighed down to nothing count as long as they lie near: a nick is no other body.
    fn departures(&self) -> [Departure; 4] {
        let mut bins = [[(0.0, 0.0, 0.0, 0_usize); DEPARTURE_BINS]; 4];
        for (foot, r) in self.feet.iter().zip(&self.residuals) {
            if DEPARTURE_REACH < r.abs() {
                continue;
            }
            let (part, x) = match foot {
                Foot::End(_) => (3, 1.0),
                Foot::Side(t) => {
                    let x = 0.5 * (1.0 - t.cos());
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

    fn quality(&self, correlation: f64) -> FitQuality {
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
                    let x = 0.5 * (1.0 - t.cos());
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
        }
    }
}

/// Part of the chord at either end that counts as edge.
const EDGE_PART: f64 = 0.05;
/// Stretches of each part over which departures are averaged, and the points that one must hold.
const DEPARTURE_BINS: usize = 12;
const LEAST_IN_BIN: usize = 5;
/// Points farther off, chords, are another body's.
const DEPARTURE_REACH: f64 = 0.04;
/// Perimeter of a section, chords, about.
const PERIMETER: f64 = 2.1;
/// Nodes and weights of the mean over a standard normal distribution (Gauss and Hermite; M. Abramowitz, I. A. Stegun, "Handbook of mathematical
/// functions", 1964, table 25.10, five points, brought to the weight `exp(-x^2 / 2)`, from memory): exact for polynomials of the ninth degree.
const HERMITE: [(f64, f64); 5] = [
    (0.0, 8.0 / 15.0),
    (1.355_626_18, 0.222_075_92),
    (-1.355_626_18, 0.222_075_92),
    (2.856_970_01, 0.011_257_41),
    (-2.856_970_01, 0.011_257_41),
];
/// Share of the chord within which a strip's points speak for the leading edge itself.
const NOSE_TIP: f64 = 0.01;
/// Places along the outline that count as the nose's surroundings: 9 % of the chord on either side.
const NOSE_REACH: f64 = 0.6;
/// Steps along the outline to a foot in each round; the next round goes on from there.
const N_FOOT_STEPS: usize = 1;
/// The same when they are first looked for.
const N_FIRST_FOOT_STEPS: usize = 3;
/// Noise assumed before the first residuals are known, chords.
const START_NOISE: f64 = 2e-3;
/// Distance at which a point's word counts half in the first outline, chords.
const START_STRAY: f64 = 0.01;
/// Thickness ratio assumed before the first outline.
const START_THICKNESS: f64 = 0.12;
/// Reweighted rounds of the first outline.
const START_ROUNDS: usize = 4;
/// Strips of the band along the span, in each of which the scan's last points at an edge are looked for.
pub const N_STRIPS: usize = 7;
/// Play, chords, that an end of the outline has beyond the scan's last points.
const END_PLAY: f64 = 5e-4;
/// Step of an edge, chords, that is held back where the points do not tell it.
const END_STEP: f64 = 1e-3;
/// Most that an edge may move in one round, chords: feet are looked for near their last places.
const EDGE_REACH: f64 = 0.02;
/// Half thickness, chords, within which a tail that would cross itself is held shut, and the places where it is looked at.
const CLOSED_TAIL: f64 = 1e-5;
const TAIL_KNOTS: [f64; 2] = [PI, PI - STEP];
/// Distance behind the tail, chords, up to which points may still belong to it.
const TAIL_REACH: f64 = 0.05;
/// Samples of each side when feet are first looked for.
const N_SAMPLES: usize = 120;

fn widest_gap(mut places: Vec<f64>) -> f64 {
    places.push(0.0);
    places.push(1.0);
    places.sort_by(f64::total_cmp);
    places.windows(2).map(|w| w[1] - w[0]).fold(0.0, f64::max)
}

/// Places of an outline among which feet are looked for, in the order of their first coordinate: parameter, point, normal.
#[derive(Debug, Default)]
struct Samples(Vec<(f64, [f64; 2], [f64; 2])>);

impl Samples {
    fn of(shape: &Shape) -> Self {
        let mut samples: Vec<_> = (0..=2 * N_SAMPLES)
            .map(|i| PI * (i as f64 / N_SAMPLES as f64 - 1.0))
            .map(|t| (t, shape.point_and_tangent(t)))
            .map(|(t, (p, d))| (t, p, left(d)))
            .collect();
        samples.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
        Self(samples)
    }

    /// Parameter of the nearest sample whose normal agrees with the scan's. No sample is nearer than its first coordinate says, so the search ends
    /// where that is farther off than the best.
    fn nearest(&self, point: &BandPoint) -> f64 {
        let mut best = (f64::INFINITY, 0.0);
        let length = norm(point.normal);
        let middle = self.0.partition_point(|(_, p, _)| p[0] < point.at[0]);
        let (before, after) = self.0.split_at(middle);
        let mut look = |(t, p, n): &(f64, [f64; 2], [f64; 2])| {
            if best.0 < (p[0] - point.at[0]).abs() {
                return false;
            }
            let facing = dot(*n, point.normal) / (norm(*n) * length).max(1e-30);
            let d = norm(sub(point.at, *p)) * if facing < 0.0 { 10.0 } else { 1.0 };
            if d < best.0 {
                best = (d, *t);
            }
            true
        };
        let _ = after.iter().all(&mut look);
        let _ = before.iter().rev().all(&mut look);
        best.1
    }
}

/// Foot, unit normal and signed distance of a point, followed from the parameter `start`.
fn nearest_foot(shape: &OutlineAt<'_>, point: [f64; 2], start: f64, steps: usize) -> (Foot, [f64; 2], f64) {
    let (low, high) = if start < 0.0 { (-PI, 0.5) } else { (-0.5, PI) };
    let mut t = start;
    let least = 1e-8 * dot(shape.chord_vector(), shape.chord_vector());
    for _ in 0..steps {
        let (p, d) = shape.point_and_tangent(t);
        t = (t + (dot(sub(point, p), d) / dot(d, d).max(least)).clamp(-0.3, 0.3)).clamp(low, high);
    }
    let (p, d) = shape.point_and_tangent(t);
    let side = left(d);
    let gap = sub(point, p);
    let mut best =
        (Foot::Side(t), scale(side, 1.0 / norm(side).max(1e-30)), dot(gap, side) / norm(side).max(1e-30));
    if PI <= t.abs() + 1e-12 {
        // Beyond the corner of side and end: the distance is to the corner itself.
        let d = norm(gap);
        if 0.0 < d {
            let outside = if 0.0 <= dot(gap, shape.tail_direction()) || 0.0 <= best.2 { 1.0 } else { -1.0 };
            best = (best.0, scale(gap, outside / d), outside * d);
        }
    }
    if END_REGION < t.abs() {
        let end = foot_on_end(shape, point);
        if end.2.abs() < norm(gap) && end.3 {
            return (end.0, end.1, end.2);
        }
    }
    best
}

/// Foot on the flat end, its normal, distance, and whether the foot is within the end's width.
fn foot_on_end(shape: &OutlineAt<'_>, point: [f64; 2]) -> (Foot, [f64; 2], f64, bool) {
    let out = shape.tail_direction();
    let out = scale(out, 1.0 / norm(out));
    let gap = sub(point, shape.trailing_edge());
    let (across, half) = (dot(gap, left(out)) / norm(shape.chord_vector()), shape.half_tail().max(0.0));
    (Foot::End(across), out, dot(gap, out), across.abs() <= half)
}

/// The foot of a cell moved along the outline by a length in chords, and the outline's normal there.
fn moved(shape: &Shape, cell: &Cell, by: f64) -> (Foot, [f64; 2]) {
    let own = scale(cell.normal, 1.0 / cell.weight);
    match cell.foot() {
        Foot::Side(t) if by != 0.0 => {
            let speed = norm(shape.point_and_tangent(t).1).max(1e-6);
            let t = (t + by / speed).clamp(-PI, PI);
            let side = left(shape.point_and_tangent(t).1);
            (Foot::Side(t), scale(side, 1.0 / norm(side).max(1e-30)))
        }
        foot => (foot, own),
    }
}

/// Derivatives of a foot's position along the normal by the parameters: pairs (index, derivative).
fn jacobian_row(shape: &Shape, foot: Foot, normal: [f64; 2], row: &mut Vec<(usize, f64)>) {
    row.clear();
    let t = match foot {
        Foot::Side(t) => t,
        Foot::End(_) => PI,
    };
    let at = shape.place(t);
    let h = match foot {
        Foot::Side(t) => shape.half_thickness(t),
        Foot::End(h) => h,
    };
    let c = shape.chord_vector();
    let up = scale(sub(left(c), scale(c, at.slope)), 1.0 / at.q);
    // The point is linear in the chord vector: P = LE + a C + b left(C).
    let (a, b) = (at.x - h * at.slope / at.q, at.height + h / at.q);
    let by_chord = [a * normal[0] + b * normal[1], a * normal[1] - b * normal[0]];
    row.push((0, normal[0] - by_chord[0]));
    row.push((1, normal[1] - by_chord[1]));
    row.push((2, by_chord[0]));
    row.push((3, by_chord[1]));
    let along = scale(add(c, scale(left(c), at.slope)), -h / (at.q * at.q * at.q));
    let (rise, turn) = (dot(left(c), normal), dot(along, normal));
    row.extend(
        at.mean
            .entries(N_MEAN)
            .map(|(k, i)| (FIRST_MEAN + i, at.mean.values[0][k] * rise + at.mean.values[1][k] * turn)),
    );
    if let Foot::Side(t) = foot {
        let basis = thickness_basis(t.abs());
        let outward = t.signum() * dot(up, normal);
        row.extend(
            basis.entries(N_THICKNESS).map(|(k, i)| (FIRST_THICKNESS + i, basis.values[0][k] * outward)),
        );
    }
}

/// Normal equations of the parameters and of their change along the span: three blocks of sums over the same products.
struct Sums {
    /// By power of the place along the span: rows of the lower triangle.
    blocks: [Vec<[f64; N_PARAMETERS]>; 3],
    right: [[f64; N_PARAMETERS]; 2],
}

impl Sums {
    fn new() -> Self {
        Self {
            blocks: std::array::from_fn(|_| vec![[0.0; N_PARAMETERS]; N_PARAMETERS]),
            right: [[0.0; N_PARAMETERS]; 2],
        }
    }

    /// Adds a cell; `row`: ascending in the parameters' index.
    fn add(&mut self, row: &[(usize, f64)], cell: &Cell) {
        let [flat, first, second] = &mut self.blocks;
        for (k, &(i, vi)) in row.iter().enumerate() {
            self.right[0][i] += vi * cell.residual;
            self.right[1][i] += vi * cell.residual_span;
            let [w, w1, w2] = [cell.weight, cell.span, cell.span_square].map(|w| w * vi);
            let (flat, first, second) = (&mut flat[i], &mut first[i], &mut second[i]);
            for &(j, vj) in &row[..=k] {
                flat[j] += w * vj;
                first[j] += w1 * vj;
                second[j] += w2 * vj;
            }
        }
    }

    /// Matrix and right-hand side, all times a factor.
    fn equations(&self, factor: f64) -> (DMatrix<f64>, DVector<f64>) {
        let n = N_PARAMETERS;
        let a = DMatrix::from_fn(2 * n, 2 * n, |i, j| {
            let block = &self.blocks[i / n + j / n];
            let (i, j) = (i % n, j % n);
            factor * block[i.max(j)][i.min(j)]
        });
        (a, DVector::from_fn(2 * n, |i, _| factor * self.right[i / n][i % n]))
    }
}

fn solved(a: &DMatrix<f64>, b: &DVector<f64>) -> Result<DVector<f64>, FitError> {
    Ok(a.clone().cholesky().ok_or(FitError::Undetermined)?.solve(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the standard normal distribution: 1, 0, 1, 0, 3, 0, 15, 0, 105.
    #[test]
    fn nodes_have_the_moments_of_a_normal_distribution() {
        for (power, moment) in [(0, 1.0), (1, 0.0), (2, 1.0), (4, 3.0), (6, 15.0), (8, 105.0)] {
            let sum: f64 = HERMITE.iter().map(|(x, w)| w * x.powi(power)).sum();
            assert!((sum - moment).abs() < 1e-5 * (1.0 + moment), "{power}: {sum}");
        }
    }
}
