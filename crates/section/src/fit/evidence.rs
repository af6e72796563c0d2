//! What the points of a band alone say about the outline: for a fit of many bands together.

use nalgebra::{DMatrix, DVector};

use super::equations::Cell;
use super::{BandPoint, FitSettings, SectionFit, State, ends::TAIL_KNOTS, start::prior_of};
use crate::prior::precision;
use crate::shape::{N_PARAMETERS, Shape};

/// Number of parameters of an outline: leading edge (2), trailing edge (2), mean line, half thickness.
pub const OUTLINE_PARAMETERS: usize = N_PARAMETERS;
/// The first of them, those of the two edges, are lengths in the plane of the section. The others are fractions of the chord.
pub const EDGE_PARAMETERS: usize = 4;

/// The logarithm of the likelihood of a band's points, as a quadratic of the outline's parameters and of their change to the band's end, about the fitted ones:
/// `pull' d - d' precision d / 2` for a departure `d`. The prior has no part in it.
#[derive(Debug, Clone, PartialEq)]
pub struct PointEvidence {
    /// 2 n x 2 n for n = [`OUTLINE_PARAMETERS`]: the parameters, then their changes; inverse square chords.
    pub precision: DMatrix<f64>,
    /// 2 n, inverse chords.
    pub pull: DVector<f64>,
    /// The same of points at leading and trailing edge themselves: the last ones, those on the flat end of the tail or beyond its corners, and of a tail that is held shut. To be added where the edge itself
    /// was scanned.
    pub edges: [(DMatrix<f64>, DVector<f64>); 2],
}

impl PointEvidence {
    /// Multiplies the weight of all points.
    pub(super) fn weigh(&mut self, factor: f64) {
        self.precision *= factor;
        self.pull *= factor;
        for (precision, pull) in &mut self.edges {
            *precision *= factor;
            *pull *= factor;
        }
    }
}

impl SectionFit {
    /// What points say about an outline near the fitted one, and about its change to the band's end. `points` and `settings`: those of the fit.
    #[must_use]
    pub fn evidence_about(
        &self,
        shape: &Shape,
        change: &Shape,
        points: &[BandPoint],
        settings: &FitSettings,
    ) -> PointEvidence {
        let mut state = State::close_to(shape, prior_of(shape), points, settings);
        state.change = change.clone();
        state.correlation = self.quality.correlation;
        state.find_feet(true);
        state.weigh(1.0);
        state.evidence()
    }
}

/// Precision matrix of the prior on an outline of about this thickness ratio, n x n for n = [`OUTLINE_PARAMETERS`], inverse square chords. The two edges are free.
#[must_use]
pub fn outline_prior(thickness_ratio: f64) -> DMatrix<f64> {
    let mut q = precision(thickness_ratio).view((0, 0), (N_PARAMETERS, N_PARAMETERS)).into_owned();
    for k in 0..EDGE_PARAMETERS {
        q[(k, k)] = 0.0;
    }
    q
}

impl Shape {
    /// All parameters, n for n = [`OUTLINE_PARAMETERS`]: leading edge, trailing edge (in the unit of the fitted points), mean line, half thickness (chords).
    #[must_use]
    pub fn parameters(&self) -> &[f64] {
        &self.p
    }

    /// The outline of these parameters; `None` for another number of them.
    #[must_use]
    pub fn of_parameters(p: &[f64]) -> Option<Self> {
        Some(Self { p: p.try_into().ok()? })
    }
}

impl State<'_> {
    /// What the points say about parameters and change.
    pub(super) fn evidence(&self) -> PointEvidence {
        let weight = self.inverse_variance();
        let (precision, pull) =
            self.sums(|cell| !cell.is_at_tail()).equations(weight, weight, self.unknowns());
        let leading = (DMatrix::zeros(2 * N_PARAMETERS, 2 * N_PARAMETERS), DVector::zeros(2 * N_PARAMETERS));
        let mut edges = [leading, self.sums(Cell::is_at_tail).equations(weight, weight, self.unknowns())];
        for ((edge, _), (first, p)) in edges.iter_mut().zip(self.ends_seen()) {
            for k in 0..2 {
                for l in 0..2 {
                    edge[(first + k, first + l)] += p[k][l];
                }
            }
        }
        for theta in TAIL_KNOTS {
            if self.is_shut(theta) {
                let [_, (tail, tail_pull)] = &mut edges;
                self.hold_shut(theta, tail, tail_pull);
            }
        }
        PointEvidence { precision, pull, edges }
    }
}
