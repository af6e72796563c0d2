//! Fit of a [`Shape`] to the points of a band of the blade around a station.
//!
//! Orthogonal-distance least squares: each point is compared with its foot point on the outline, and the foot points follow the outline as it moves
//! (S. J. Ahn, "Least squares orthogonal distance fitting of curves and surfaces in space", Springer LNCS 3151, 2004, the coordinate-based method).
//! Every parameter may change linearly along the span within the band, so that many scan points contribute to one station.
//! Tukey's biweight reduces the weight of stray points (P. J. Huber, "Robust statistics", Wiley, 1981, section 4.8).

mod ends;
mod equations;
mod evidence;
mod feet;
mod noise;
mod quality;
mod start;

use nalgebra::{DMatrix, DVector};

pub(crate) use self::equations::{Row, combined};
pub use self::evidence::{EDGE_PARAMETERS, OUTLINE_PARAMETERS, PointEvidence, outline_prior};
pub use self::quality::{Departure, FitQuality};

use self::feet::Foot;
use crate::shape::{N_PARAMETERS, Shape};

/// A scan point near a station, in the frame of the station's provisional chord line: leading edge near (0, 0), trailing edge near (1, 0),
/// unit one chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandPoint {
    /// Coordinates along and normal to the chord line, chords.
    pub at: [f64; 2],
    /// Outward normal of the scan at the point, projected on the section's plane. Its length does not matter. (0, 0) if unknown.
    pub normal: [f64; 2],
    /// Position along the span: -1 and 1 are the band's ends, 0 is the station.
    pub span: f64,
}

/// Settings of the caller. There is no default, because each number belongs to a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitSettings {
    /// Half width of the band, chords.
    pub half_band: f64,
    /// Noise below which no point counts as stray, chords: the error of the outline model itself.
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
    /// The parts of the covariance due to the data and to the prior, for the correlation used in the fit.
    parts: [DMatrix<f64>; 2],
    /// Quality of the fit.
    pub quality: FitQuality,
    /// The outline as the scan shows it, where `shape` is the sharp one behind a scan of limited resolution.
    pub seen: Option<Shape>,
    /// Whether the sharp outline behind a scan of limited resolution was looked for and not found: the kernel is too large a part of the section.
    pub unsharpened: bool,
    /// What the points alone say about the outline.
    pub evidence: PointEvidence,
}

impl SectionFit {
    /// The same fit with another outline and the covariance of its parameters (n x n for n = [`OUTLINE_PARAMETERS`], square chords): for figures with their uncertainty. What the scan shows of it
    /// departs from it as before.
    #[must_use]
    pub fn with_outline(&self, shape: Shape, covariance: DMatrix<f64>) -> Self {
        let seen = self.seen.clone().map(|mut seen| {
            for ((p, own), new) in seen.p.iter_mut().zip(&self.shape.p).zip(&shape.p) {
                *p += new - own;
            }
            seen
        });
        Self { shape, covariance, seen, ..self.clone() }
    }

    /// Recomputes the uncertainty with another estimate of the correlation of neighbouring points, such as one from all stations of a scan:
    /// a single station determines it to about a third.
    pub fn set_correlation(&mut self, correlation: f64) {
        // More correlated noise makes the data worse. The prior is unchanged.
        let [of_data, of_prior] = &self.parts;
        let share = self.quality.correlation / correlation;
        self.evidence.weigh(share);
        self.covariance = of_data * (correlation / self.quality.correlation) + of_prior;
    }
}

/// The reason why no outline could be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Not enough points.
    #[error("only {found} scan points lie near the station; at least {needed} are needed")]
    TooFewPoints {
        /// Points given.
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
        /// Part of that side with points nearby, %.
        percent: f64,
    },
    /// An edge is absent.
    #[error(
        "no scan point lies within 5 % of the chord of the {edge} edge: chord and angle cannot be determined"
    )]
    EdgeMissing {
        /// "leading" or "trailing".
        edge: &'static str,
    },
}

/// Least number of points for a fit: some for every parameter that the points alone must determine.
const MIN_POINTS: usize = 60;
/// Most iterations of the fit. Most outlines converge in five or six.
const MAX_ROUNDS: usize = 20;
/// A step below this many standard deviations, in any direction, ends the fit.
const CONVERGED: f64 = 0.1;
/// The same before the correlation of the points is known, because more iterations follow.
const NEAR: f64 = 2.0;
/// Bins along each side in which points are counted before a fit, to detect missing parts.
const COVER_BINS: usize = 20;

/// Fits an outline to points of a band. `points`: at least 60, in chords as [`BandPoint`] says.
///
/// # Errors
/// [`FitError`] if points are too few, one side or edge is absent, or the equations are singular.
pub fn fit_section(points: &[BandPoint], settings: &FitSettings) -> Result<SectionFit, FitError> {
    if points.len() < MIN_POINTS {
        return Err(FitError::TooFewPoints { found: points.len(), needed: MIN_POINTS });
    }
    check_cover(points)?;
    // A fit to the middle of each strip finds the outline at low cost. Then all points refine it.
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
    // Correlated neighbouring points must not outweigh the prior.
    state.correlation = state.correlation_of_residuals()?;
    state = state.settled(CORRELATED_ROUNDS, CONVERGED)?;
    state.find_feet(false);
    state.weigh(1.0);
    state.finish()
}

/// What fits of one outline to points of the same kind have in common.
pub(crate) struct Refit {
    settings: FitSettings,
    prior: DMatrix<f64>,
}

impl Refit {
    /// For points near this outline.
    pub(crate) fn near(shape: &Shape, settings: FitSettings) -> Self {
        Self { settings, prior: start::prior_of(shape) }
    }

    /// The outline of points that are close to a known outline and do not change along the span: the iterations of [`fit_section`] alone, without what finds the outline, without its change along the
    /// span and without uncertainty.
    pub(crate) fn outline(&self, points: &[BandPoint], from: &Shape) -> Option<Shape> {
        let state = State::close_to(from, self.prior.clone(), points, &self.settings);
        // The bound for stray points is wide at first, as in a fit from nothing: an edge that has moved must not be left out.
        let near = State { is_steady: true, started: false, ..state };
        Some(near.settled(MAX_ROUNDS, CONVERGED).ok()?.value)
    }
}

/// Approximate number of points of a first fit, and the fraction of the band from which on it saves no time.
const FEW_POINTS: usize = 4000;
/// Fraction of the band from which on a first fit saves no time. Chosen; no check of this value is on record.
const MOST_OF_BAND: f64 = 0.5;
/// Least number of points of every strip in a first fit, as a fraction of an even distribution: the rows of a regular mesh may miss the middle of a strip.
const EVEN_PART: f64 = 0.4;
/// Departure from the provisional chord, chords, from which on a first fit is rejected and all points are fitted from the start.
const BELIEVED_CHORD: f64 = 0.05;

fn are_even(points: &[BandPoint]) -> bool {
    let mut counts = [0_usize; N_STRIPS];
    points.iter().for_each(|p| counts[strip_of(p.span)] += 1);
    let least = EVEN_PART * FEW_POINTS as f64 / N_STRIPS as f64;
    counts.iter().all(|&n| least < n as f64)
}
/// Iterations over all points after a part of them has found the outline.
const LAST_ROUNDS: usize = 10;

/// Iterations after the correlation of the points is known. Most fits converge in three.
const CORRELATED_ROUNDS: usize = 10;

/// Refuses points that do not determine an outline, before a fit returns an arbitrary one.
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
    /// The strip of the band that holds each point.
    strips: Vec<u8>,
    settings: &'a FitSettings,
    prior: DMatrix<f64>,
    value: Shape,
    change: Shape,
    /// Whether the points do not change along the span, so that the change is nil and not fitted.
    is_steady: bool,
    feet: Vec<Foot>,
    /// Whether the foot points belong to these points, so that they are tracked instead of searched for.
    feet_found: bool,
    residuals: Vec<f64>,
    normals: Vec<[f64; 2]>,
    weights: Vec<f64>,
    rms: f64,
    /// Mean derivative of weight times residual over the mean weight. Weights that are constant during a step make the points stiffer than they are.
    stiffness: f64,
    /// Number of neighbouring points that count as one.
    correlation: f64,
    /// Whether the outline comes from a fit to some of the points.
    started: bool,
}

/// Distance of a position from the middle of its strip: 0 in the middle, 1 at the border.
fn off_middle(span: f64) -> f64 {
    let strips = (span + 1.0) / 2.0 * N_STRIPS as f64;
    2.0 * (strips - strips.floor() - 0.5).abs()
}

fn strip_of(span: f64) -> usize {
    ((span + 1.0) / 2.0 * N_STRIPS as f64).clamp(0.0, N_STRIPS as f64 - 1.0) as usize
}

impl<'a> State<'a> {
    /// Gauss-Newton iterations until steps are below a size in standard deviations.
    fn settled(mut self, rounds: usize, enough: f64) -> Result<Self, FitError> {
        // A new outline includes stray points until the bound has tightened.
        let least = if self.started { 0 } else { 2 };
        let mut last = DVector::zeros(self.unknowns());
        for round in 0..rounds {
            self.find_feet(!self.feet_found);
            let slack = if self.started { 1 } else { 1 << 3_usize.saturating_sub(round) };
            self.weigh(f64::from(slack));
            let (step, size) = self.step(0.25_f64.powi(round as i32))?;
            // Points at the corners of a blunt tail may change sides in every iteration. A step that reverses the last one is therefore halved.
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
            if !self.is_steady {
                self.change.p[i] += share * step[N_PARAMETERS + i];
            }
        }
    }
}

/// Number of strips of the band along the span. In each of them the last scan points at an edge are searched for.
pub const N_STRIPS: usize = 7;
/// Greatest move of an edge in one iteration, chords, because foot points are searched for close to their last positions.
const EDGE_REACH: f64 = 0.02;
