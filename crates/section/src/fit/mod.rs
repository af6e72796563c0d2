//! Fit of a [`Shape`] to the points of a band of the blade around a station.
//!
//! Orthogonal-distance least squares: each point is held against its foot on the outline, and the feet follow the outline as it moves
//! (S. J. Ahn, "Least squares orthogonal distance fitting of curves and surfaces in space", Springer LNCS 3151, 2004, the coordinate-based method).
//! Every parameter may change straight along the span within the band, so that many scan points speak for one station.
//! Stray points are weighed down by Tukey's biweight (P. J. Huber, "Robust statistics", Wiley, 1981, section 4.8).

mod ends;
mod equations;
mod feet;
mod noise;
mod quality;
mod start;

use nalgebra::{DMatrix, DVector};

pub use self::quality::{Departure, FitQuality};

use self::feet::Foot;
use crate::shape::{N_PARAMETERS, Shape};

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
/// Bins along each side in which points are counted before a fit, for missing parts.
const COVER_BINS: usize = 20;

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
    let found = if share < MOST_OF_BAND && are_even(&middles) && check_cover(&middles).is_ok() {
        let first = State::start(&middles, settings)?.settled(MAX_ROUNDS, NEAR)?;
        ((first.value.chord() - 1.0).abs() < BELIEVED_CHORD).then(|| first.over(points))
    } else {
        None
    };
    let mut state = match found {
        Some(state) => state,
        None => State::start(points, settings)?,
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
/// Points, as a share of an even part, that every strip must have in a first fit: the rows of a regular mesh may miss a strip's middle.
const EVEN_PART: f64 = 0.4;
/// Departure from the provisional chord, chords, from which a first fit is not believed and all points begin anew.
const BELIEVED_CHORD: f64 = 0.05;

fn are_even(points: &[BandPoint]) -> bool {
    let mut counts = [0_usize; N_STRIPS];
    points.iter().for_each(|p| counts[strip_of(p.span)] += 1);
    let least = EVEN_PART * FEW_POINTS as f64 / N_STRIPS as f64;
    counts.iter().all(|&n| least < n as f64)
}
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
    /// Mean slope of weight times residual over the mean weight: weights that are held while a step is worked out make the points stiffer than they are.
    stiffness: f64,
    /// How many neighbouring points count as one.
    correlation: f64,
    /// Whether the outline comes from a fit to some of the points.
    started: bool,
}

/// How far a place is from the middle of its strip: 0 there, 1 at its rim.
fn off_middle(span: f64) -> f64 {
    let strips = (span + 1.0) / 2.0 * N_STRIPS as f64;
    2.0 * (strips - strips.floor() - 0.5).abs()
}

fn strip_of(span: f64) -> usize {
    ((span + 1.0) / 2.0 * N_STRIPS as f64).clamp(0.0, N_STRIPS as f64 - 1.0) as usize
}

impl<'a> State<'a> {
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

    fn go(&mut self, step: &DVector<f64>, share: f64) {
        for i in 0..N_PARAMETERS {
            self.value.p[i] += share * step[i];
            self.change.p[i] += share * step[N_PARAMETERS + i];
        }
    }
}

/// Strips of the band along the span, in each of which the scan's last points at an edge are looked for.
pub const N_STRIPS: usize = 7;
/// Most that an edge may move in one round, chords: feet are looked for near their last places.
const EDGE_REACH: f64 = 0.02;
