//! The equations of one surface: what a band says about the coefficients of the splines.

use bladeform_numeric::bspline::Knots;
use bladeform_section::{EDGE_PARAMETERS, PointEvidence, SectionFit, Shape};
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};

use super::N;
use super::banded::{Banded, Factor};
use crate::band::chord_frame::SectionFrame;
use crate::band::fit::{Found, settings};

/// How the parameters of a band's outline, in its own chord frame, follow from the coefficients of one basis function: the two edges turn and scale from span axes, all other parameters
/// are fractions of the chord in either.
#[derive(Debug, Clone, Copy)]
struct Share {
    /// Number of the basis function.
    basis: usize,
    /// Of the outline at the station.
    edges: Matrix2<f64>,
    rest: f64,
    /// Of its change to the band's end.
    edge_change: Matrix2<f64>,
    rest_change: f64,
}

/// What one band says.
pub(super) struct BandEquations {
    shares: Vec<Share>,
    /// What the edges are in the chord frame when all coefficients are zero.
    origin: [Vector2<f64>; 2],
    precision: DMatrix<f64>,
    /// `precision` times the fitted parameters less their origin, and the pull of the points.
    right: DVector<f64>,
    /// The fitted parameters and their change, less the origin.
    fitted: DVector<f64>,
}

/// From span axes in `unit` to the chord frame: the matrix and the place of the origin.
fn into_frame((leading, along, chord): SectionFrame, unit: f64) -> (Matrix2<f64>, Vector2<f64>) {
    let turn = Matrix2::new(along[0], along[1], along[1], -along[0]) / chord;
    (turn * unit, -(turn * Vector2::from(leading)))
}

/// The parameters of a fitted outline with its edges in span axes, in `unit`.
pub(super) fn in_span_axes(found: &Found, fit: &SectionFit, unit: f64) -> [f64; N] {
    let p = fit.shape.parameters();
    let (leading, along, chord) = (found.leading, found.along, found.chord);
    std::array::from_fn(|k| match k {
        // The axis across the chord line is the one along it turned clockwise.
        0 | 2 => (leading[0] + chord * (p[k] * along[0] + p[k + 1] * along[1])) / unit,
        1 | 3 => (leading[1] + chord * (p[k - 1] * along[1] - p[k] * along[0])) / unit,
        _ => p[k],
    })
}

impl BandEquations {
    /// `x`: abscissa of the splines at a place along the span; `unit`: unit of the edges among the unknowns, file units; `in_hole`: edges that were not scanned.
    pub(super) fn of(
        found: &Found,
        fit: &SectionFit,
        knots: &Knots,
        x: impl Fn(f64) -> f64,
        unit: f64,
        in_hole: [bool; 2],
    ) -> Self {
        let half = fit.quality.half_band * found.chord;
        let frames = [found.band_ends[0], (found.leading, found.along, found.chord), found.band_ends[1]];
        let [low, here, high] = frames.map(|frame| into_frame(frame, unit));
        let places = [found.z - half, found.z, found.z + half].map(|z| knots.basis(x(z)));
        let value = |place: usize, basis: usize| {
            let (first, values) = &places[place];
            basis.checked_sub(*first).and_then(|k| values[0].get(k)).copied().unwrap_or(0.0)
        };
        let (from, to) = (places.iter().map(|p| p.0).min(), places.iter().map(|p| p.0 + 3).max());
        let shares = (from.unwrap_or(0)..=to.unwrap_or(0))
            .map(|basis| {
                let [a, b, c] = [0, 1, 2].map(|place| value(place, basis));
                Share {
                    basis,
                    edges: here.0 * b,
                    rest: b,
                    edge_change: (high.0 * c - low.0 * a) * 0.5,
                    rest_change: 0.5 * (c - a),
                }
            })
            .collect();
        let origin = [here.1, (high.1 - low.1) * 0.5];
        let none = DVector::zeros(2 * N);
        let mut band =
            Self { shares, origin, precision: DMatrix::zeros(0, 0), right: none.clone(), fitted: none };
        band.take(&fit.evidence, [&fit.shape, &fit.change], in_hole);
        band
    }

    /// Takes what the points say about an outline and its change.
    fn take(&mut self, evidence: &PointEvidence, about: [&Shape; 2], in_hole: [bool; 2]) {
        let all = about.into_iter().flat_map(Shape::parameters);
        self.fitted = DVector::from_iterator(2 * N, all.copied());
        for (block, origin) in self.origin.iter().enumerate() {
            for k in 0..EDGE_PARAMETERS {
                self.fitted[block * N + k] -= origin[k % 2];
            }
        }
        let (mut precision, mut pull) = (evidence.precision.clone(), evidence.pull.clone());
        for ((own, own_pull), _) in evidence.edges.iter().zip(in_hole).filter(|(_, in_hole)| !in_hole) {
            precision += own;
            pull += own_pull;
        }
        self.right = &precision * &self.fitted + pull;
        self.precision = precision;
    }

    /// Compares the points of a band that lacks an edge with the outline that given coefficients make: the outline that was fitted to it ends where the scan does.
    pub(super) fn renew(
        &mut self,
        found: &Found,
        fit: &SectionFit,
        coefficients: &DVector<f64>,
        in_hole: [bool; 2],
    ) {
        let [Some(shape), Some(change)] = self.outlines(coefficients) else { return };
        let settings = settings(fit.quality.half_band * found.chord, found.chord);
        let evidence = fit.evidence_about(&shape, &change, &found.points, &settings);
        self.take(&evidence, [&shape, &change], in_hole);
    }

    /// The outline at the station for given coefficients, and its change to the band's end.
    pub(super) fn outlines(&self, coefficients: &DVector<f64>) -> [Option<Shape>; 2] {
        let all = self.parameters(coefficients);
        [0, 1].map(|block| {
            let mut p = all.rows(block * N, N).into_owned();
            for k in 0..EDGE_PARAMETERS {
                p[k] += self.origin[block][k % 2];
            }
            Shape::of_parameters(p.as_slice())
        })
    }

    /// Parameters and change, less the origin.
    fn parameters(&self, coefficients: &DVector<f64>) -> DVector<f64> {
        let mut p = DVector::zeros(2 * N);
        for share in &self.shares {
            let c = coefficients.rows(share.basis * N, N);
            for (block, edges, rest) in
                [(0, share.edges, share.rest), (N, share.edge_change, share.rest_change)]
            {
                for first in [0, 2] {
                    let turned = edges * Vector2::new(c[first], c[first + 1]);
                    p[block + first] += turned[0];
                    p[block + first + 1] += turned[1];
                }
                for k in EDGE_PARAMETERS..N {
                    p[block + k] += rest * c[k];
                }
            }
        }
        p
    }

    /// Distance of the band from a surface, in standard deviations of its points.
    pub(super) fn distance(&self, coefficients: &DVector<f64>) -> f64 {
        let d = self.parameters(coefficients) - &self.fitted;
        d.dot(&(&self.precision * &d)).max(0.0).sqrt()
    }

    /// Greatest distance of two basis functions that it knows.
    pub(super) fn width(&self) -> usize {
        self.shares.last().zip(self.shares.first()).map_or(0, |(last, first)| last.basis - first.basis)
    }

    /// Covariance of the outline's parameters at the station, from that of all coefficients.
    pub(super) fn covariance(&self, of_all: &Banded) -> DMatrix<f64> {
        let mut covariance = DMatrix::zeros(N, N);
        for a in &self.shares {
            for b in &self.shares {
                let Some(block) = of_all.block(a.basis, b.basis) else { continue };
                let right = turned_columns(&block, &b.edges.transpose(), b.rest);
                covariance += turned_rows(&right, &a.edges.transpose(), a.rest);
            }
        }
        covariance
    }
}

/// What a band says of the coefficients.
pub(super) struct BandSays {
    /// Blocks of the matrix by two basis functions, the lower one last, and parts of the right-hand side by one.
    blocks: Vec<(usize, usize, DMatrix<f64>)>,
    right: Vec<(usize, DMatrix<f64>)>,
}

impl BandEquations {
    /// In terms of the coefficients.
    pub(super) fn of_coefficients(&self) -> BandSays {
        let [value, change] = [0, N].map(|first| self.precision.columns(first, N).into_owned());
        let [right, right_change] = [0, N].map(|first| DMatrix::from_columns(&[self.right.rows(first, N)]));
        let mut says = BandSays { blocks: Vec::new(), right: Vec::new() };
        for b in &self.shares {
            let columns = turned_columns(&value, &b.edges, b.rest)
                + turned_columns(&change, &b.edge_change, b.rest_change);
            let (upper, lower) = (columns.rows(0, N).into_owned(), columns.rows(N, N).into_owned());
            for a in self.shares.iter().filter(|a| b.basis <= a.basis) {
                let block = turned_rows(&upper, &a.edges, a.rest)
                    + turned_rows(&lower, &a.edge_change, a.rest_change);
                says.blocks.push((a.basis, b.basis, block));
            }
            let right = turned_rows(&right, &b.edges, b.rest)
                + turned_rows(&right_change, &b.edge_change, b.rest_change);
            says.right.push((b.basis, right));
        }
        says
    }
}

/// `m` times the matrix that holds `edges` for either edge and `rest` for all other parameters.
fn turned_columns(m: &DMatrix<f64>, edges: &Matrix2<f64>, rest: f64) -> DMatrix<f64> {
    let mut result = m * rest;
    for first in [0, 2] {
        for i in 0..m.nrows() {
            for k in 0..2 {
                result[(i, first + k)] = m[(i, first)] * edges[(0, k)] + m[(i, first + 1)] * edges[(1, k)];
            }
        }
    }
    result
}

/// The transpose of that matrix times `m`.
fn turned_rows(m: &DMatrix<f64>, edges: &Matrix2<f64>, rest: f64) -> DMatrix<f64> {
    let mut result = m * rest;
    for first in [0, 2] {
        for j in 0..m.ncols() {
            for k in 0..2 {
                result[(first + k, j)] = edges[(0, k)] * m[(first, j)] + edges[(1, k)] * m[(first + 1, j)];
            }
        }
    }
    result
}

/// The equations of all coefficients: `N` parameters for each basis function.
#[derive(Clone)]
pub(super) struct Unknowns {
    matrix: Banded,
    right: DVector<f64>,
    count: usize,
}

impl Unknowns {
    /// `count` basis functions; `width`: greatest distance of two that one band or one place knows.
    pub(super) fn new(count: usize, width: usize) -> Self {
        Self { matrix: Banded::zero(count, N, width), right: DVector::zeros(count * N), count }
    }

    /// Adds what a band says, by a weight.
    pub(super) fn add(&mut self, band: &BandSays, weight: f64) {
        for (row, column, block) in &band.blocks {
            *self.matrix.block_mut(*row, *column) += block * weight;
        }
        for (basis, right) in &band.right {
            let mut place = self.right.rows_mut(basis * N, N);
            place += right.column(0) * weight;
        }
    }

    /// Adds a prior on the parameters at one place. `first`: number of the first of four basis functions with the values `basis` there.
    pub(super) fn add_prior(&mut self, first: usize, basis: &[f64; 4], precision: &DMatrix<f64>) {
        for (a, va) in basis.iter().enumerate() {
            for (b, vb) in basis.iter().enumerate().take(a + 1) {
                *self.matrix.block_mut(first + a, first + b) += precision * (va * vb);
            }
        }
    }

    /// Adds a bound on the second difference of neighbouring coefficients. `precision`: of that of every parameter.
    pub(super) fn add_roughness(&mut self, precision: &[f64; N]) {
        for first in 0..self.count.saturating_sub(2) {
            for (a, va) in SECOND_DIFFERENCE.into_iter().enumerate() {
                for (b, vb) in SECOND_DIFFERENCE.into_iter().enumerate().take(a + 1) {
                    let block = self.matrix.block_mut(first + a, first + b);
                    precision.iter().enumerate().for_each(|(k, p)| block[(k, k)] += p * va * vb);
                }
            }
        }
    }

    /// The coefficients, and the factor that gives their covariance.
    pub(super) fn solve(self) -> Option<(DVector<f64>, Factor)> {
        let factor = self.matrix.cholesky()?;
        Some((factor.solve(&self.right)?, factor))
    }
}

/// Factors of three neighbours in their second difference.
const SECOND_DIFFERENCE: [f64; 3] = [1.0, -2.0, 1.0];
