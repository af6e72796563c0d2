//! The equations of one surface: what a band says about the coefficients of the splines.

use bladeform_numeric::bspline::Knots;
use bladeform_section::{EDGE_PARAMETERS, SectionFit};
use nalgebra::{DMatrix, DVector, Matrix2, Vector2};

use super::{N, Solved};
use crate::band::chord_frame::SectionFrame;
use crate::band::fit::Found;

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
        let mut precision = fit.evidence.precision.clone();
        for (edge, ends) in fit.evidence.ends.iter().enumerate().filter(|(edge, _)| !in_hole[*edge]) {
            for k in 0..2 {
                for l in 0..2 {
                    precision[(2 * edge + k, 2 * edge + l)] += ends[k][l];
                }
            }
        }
        let all = fit.shape.parameters().iter().chain(fit.change.parameters());
        let mut fitted = DVector::from_iterator(2 * N, all.copied());
        for (block, origin) in origin.iter().enumerate() {
            for k in 0..EDGE_PARAMETERS {
                fitted[block * N + k] -= origin[k % 2];
            }
        }
        let right = &precision * &fitted + &fit.evidence.pull;
        Self { shares, origin, precision, right, fitted }
    }

    /// Parameters of the outline at the station for given coefficients.
    pub(super) fn outline(&self, coefficients: &DVector<f64>) -> DVector<f64> {
        let mut p = self.parameters(coefficients).rows(0, N).into_owned();
        for k in 0..EDGE_PARAMETERS {
            p[k] += self.origin[0][k % 2];
        }
        p
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

    /// Covariance of the outline's parameters at the station, from that of all coefficients.
    pub(super) fn covariance(&self, of_all: &DMatrix<f64>) -> DMatrix<f64> {
        let mut covariance = DMatrix::zeros(N, N);
        for a in &self.shares {
            for b in &self.shares {
                let block = of_all.view((a.basis * N, b.basis * N), (N, N)).into_owned();
                let right = turned_columns(&block, &b.edges.transpose(), b.rest);
                covariance += turned_rows(&right, &a.edges.transpose(), a.rest);
            }
        }
        covariance
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

/// The equations of all coefficients: `count` basis functions with `N` parameters each.
#[derive(Clone)]
pub(super) struct Unknowns {
    matrix: DMatrix<f64>,
    right: DVector<f64>,
    count: usize,
}

impl Unknowns {
    pub(super) fn new(count: usize) -> Self {
        Self { matrix: DMatrix::zeros(count * N, count * N), right: DVector::zeros(count * N), count }
    }

    /// Adds what a band says, by a weight.
    pub(super) fn add(&mut self, band: &BandEquations, weight: f64) {
        let [value, change] = [0, N].map(|first| band.precision.columns(first, N).into_owned());
        let all = DMatrix::from_columns(&[band.right.column(0)]);
        for b in &band.shares {
            let columns = turned_columns(&value, &b.edges, b.rest)
                + turned_columns(&change, &b.edge_change, b.rest_change);
            let (upper, lower) = (columns.rows(0, N).into_owned(), columns.rows(N, N).into_owned());
            for a in &band.shares {
                let block = turned_rows(&upper, &a.edges, a.rest)
                    + turned_rows(&lower, &a.edge_change, a.rest_change);
                let mut place = self.matrix.view_mut((a.basis * N, b.basis * N), (N, N));
                place += block * weight;
            }
            let right = turned_rows(&all.rows(0, N).into_owned(), &b.edges, b.rest)
                + turned_rows(&all.rows(N, N).into_owned(), &b.edge_change, b.rest_change);
            let mut place = self.right.rows_mut(b.basis * N, N);
            place += right.column(0) * weight;
        }
    }

    /// Adds a prior on the parameters at one place. `first`: number of the first of four basis functions with the values `basis` there.
    pub(super) fn add_prior(&mut self, first: usize, basis: &[f64; 4], precision: &DMatrix<f64>) {
        for (a, va) in basis.iter().enumerate() {
            for (b, vb) in basis.iter().enumerate() {
                let mut place = self.matrix.view_mut(((first + a) * N, (first + b) * N), (N, N));
                place += precision * (va * vb);
            }
        }
    }

    /// Adds a bound on the second difference of neighbouring coefficients of every parameter.
    pub(super) fn add_roughness(&mut self, precision: f64) {
        for first in 0..self.count.saturating_sub(2) {
            for (a, va) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                for (b, vb) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                    for k in 0..N {
                        self.matrix[((first + a) * N + k, (first + b) * N + k)] += precision * va * vb;
                    }
                }
            }
        }
    }

    pub(super) fn solve(self) -> Option<Solved> {
        let cholesky = self.matrix.cholesky()?;
        let value = cholesky.solve(&self.right);
        Some(Solved { value, cholesky })
    }
}
