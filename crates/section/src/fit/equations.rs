//! Normal equations of the fit, from cells of neighbouring points.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

use super::feet::{Foot, is_corner};
use super::{FitError, N_STRIPS, State, strip_of};
use crate::basis::{N_MEAN, N_THICKNESS, thickness_values};
use crate::polygon::{add, dot, left, scale, sub};
use crate::shape::{FIRST_MEAN, FIRST_THICKNESS, N_PARAMETERS, Shape};

/// Weighted sums over neighbouring points of the band. Their derivatives differ so little that one row of the equations represents all of them.
/// The positions in a cell are within an eighth of the knot spacing of the half thickness, so the relative error of the row is about a thousandth.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Cell {
    flat_end: bool,
    pub(super) weight: f64,
    /// Weighted sum of `t`, or of the height on the flat end.
    place: f64,
    pub(super) normal: [f64; 2],
    pub(super) span: f64,
    span_square: f64,
    residual: f64,
    residual_span: f64,
}

impl Cell {
    fn add(&mut self, foot: Foot, w: f64, span: f64, normal: [f64; 2], residual: f64) {
        let (place, flat_end) = match foot {
            Foot::Side(t) => (t, false),
            Foot::End(h) => (h, true),
        };
        self.flat_end = flat_end;
        self.weight += w;
        self.place += w * place;
        self.normal = add(self.normal, scale(normal, w));
        self.span += w * span;
        self.span_square += w * span * span;
        self.residual += w * residual;
        self.residual_span += w * residual * span;
    }

    /// Whether its points lie on the flat end of the tail or beyond its corners.
    pub(super) fn is_at_tail(&self) -> bool {
        match self.foot() {
            Foot::Side(t) => is_corner(t),
            Foot::End(_) => true,
        }
    }

    pub(super) fn foot(&self) -> Foot {
        let place = self.place / self.weight;
        if self.flat_end { Foot::End(place) } else { Foot::Side(place) }
    }
}

/// Cells along each side, at equal steps of `t`.
const N_CELLS_ALONG: usize = 8 * crate::basis::N_THICKNESS_INTERVALS;

/// Back, face, corners, flat end.
const N_CELL_KINDS: usize = 4;

/// Residual, chords, that is due to the outline model and to the linear change along the span instead of the noise of the scan.
const MODEL_RESIDUAL: f64 = 5e-5;
/// Least noise, chords, in the weighting of points and prior. The outline model misses a corner in the curvature of a mean line, as in four-digit sections, by 1e-5.
/// If points get more weight than the outline can follow, the nose is turned. Of 1, 2, 3 and 5e-5 this value gives the least error of the angle in four-digit sections
/// up to 20 % thick: 0.0143, 0.0083, 0.0101 and 0.0173 deg (the shapes of the test `four_digit_sections_of_many_shapes_without_noise`).
const LEAST_PRIOR_NOISE: f64 = 2e-5;

impl State<'_> {
    /// Normal equations with the prior, in units of the noise. `stiffness`: factor on the matrix of the points.
    pub(super) fn normal_equations(&self, stiffness: f64) -> (DMatrix<f64>, DVector<f64>) {
        let n = N_PARAMETERS;
        let (mut a, mut b) = self.sums(|_| true).equations(self.inverse_variance());
        a *= stiffness;
        let held = DVector::from_iterator(
            2 * n,
            self.value.p.iter().chain(&self.change.p).enumerate().map(|(i, &v)| {
                // The edges are free: the prior concerns the shape, and its loose bound concerns the step.
                if i < 4 { 0.0 } else { v }
            }),
        );
        b -= &self.prior * held;
        a += &self.prior;
        self.hold_ends_to_the_scan(&mut a, &mut b);
        (a, b)
    }

    /// Sums of the points' equations, without the prior, over the cells that are asked for.
    pub(super) fn sums(&self, is_asked: impl Fn(&Cell) -> bool) -> Sums {
        let mut sums = Sums::new();
        let mut row = Vec::with_capacity(12);
        for cell in self.cells().into_iter().filter(is_asked) {
            let shape = self.outline_at(cell.span / cell.weight);
            jacobian_row(&shape, cell.foot(), scale(cell.normal, 1.0 / cell.weight), &mut row);
            sums.add(&row, &cell);
        }
        sums
    }

    /// Weight of one point relative to the prior. Correlation of neighbouring points counts as additional noise. Residuals within the error of the outline
    /// model do not, although they are correlated.
    pub(super) fn inverse_variance(&self) -> f64 {
        let square = self.rms * self.rms;
        let noise = (square - MODEL_RESIDUAL * MODEL_RESIDUAL).max(0.0);
        (square - noise + noise * self.correlation).max(LEAST_PRIOR_NOISE * LEAST_PRIOR_NOISE).recip()
    }

    /// Points with nearly the same derivatives, summed.
    pub(super) fn cells(&self) -> Vec<Cell> {
        let mut cells = vec![Cell::default(); N_CELL_KINDS * N_CELLS_ALONG * N_STRIPS];
        let out = self.value.tail_direction();
        for (i, (point, &w)) in self.points.iter().zip(&self.weights).enumerate() {
            if w == 0.0 {
                continue;
            }
            let (normal, residual) = (self.normals[i], self.residuals[i]);
            let strip = strip_of(point.span);
            let mut add_to = |kind: usize, along: usize, normal: [f64; 2], residual: f64| {
                let place = (kind * N_CELLS_ALONG + along.min(N_CELLS_ALONG - 1)) * N_STRIPS + strip;
                cells[place].add(self.feet[i], w, point.span, normal, residual);
            };
            match self.feet[i] {
                // A corner moves in both directions at once, and the direction to it turns with it. The distance is therefore taken as two components in fixed directions.
                Foot::Side(t) if is_corner(t) => {
                    let (gap, side) = (scale(normal, residual), usize::from(t < 0.0));
                    add_to(2, side, out, dot(gap, out));
                    add_to(2, 2 + side, left(out), dot(gap, left(out)));
                }
                Foot::Side(t) => {
                    let along = (t.abs() / PI) * N_CELLS_ALONG as f64;
                    add_to(usize::from(t < 0.0), along as usize, normal, residual);
                }
                Foot::End(_) => add_to(3, 0, normal, residual),
            }
        }
        cells.retain(|c| 0.0 < c.weight);
        cells
    }

    /// The outline at the position of a point along the span.
    #[inline]
    pub(super) fn outline_at(&self, span: f64) -> Shape {
        let mut shape = self.value.clone();
        for (v, c) in shape.p.iter_mut().zip(&self.change.p) {
            *v += span * c;
        }
        shape
    }
}

/// Derivatives of a foot point's position along the normal with respect to the parameters: pairs (index, derivative).
pub(super) fn jacobian_row(shape: &Shape, foot: Foot, normal: [f64; 2], row: &mut Vec<(usize, f64)>) {
    row.clear();
    let t = match foot {
        Foot::Side(t) => t,
        Foot::End(_) => PI,
    };
    let at = shape.place(t);
    let (h, thickness) = match foot {
        Foot::Side(t) => {
            let (sign, basis) = (t.signum(), thickness_values(t.abs()));
            (sign * basis.sum(0, shape.thickness_coefficients()), Some((sign, basis)))
        }
        Foot::End(h) => (h, None),
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
    if let Some((sign, basis)) = thickness {
        let outward = sign * dot(up, normal);
        row.extend(
            basis.entries(N_THICKNESS).map(|(k, i)| (FIRST_THICKNESS + i, basis.values[0][k] * outward)),
        );
    }
}

/// Normal equations of the parameters and of their change along the span: three blocks of sums over the same products.
pub(super) struct Sums {
    /// Rows of the lower triangle, by power of the position along the span.
    blocks: [Vec<[f64; N_PARAMETERS]>; 3],
    right: [[f64; N_PARAMETERS]; 2],
}

impl Sums {
    pub(super) fn new() -> Self {
        Self {
            blocks: std::array::from_fn(|_| vec![[0.0; N_PARAMETERS]; N_PARAMETERS]),
            right: [[0.0; N_PARAMETERS]; 2],
        }
    }

    /// Adds a cell. `row`: by increasing index of the parameter.
    pub(super) fn add(&mut self, row: &[(usize, f64)], cell: &Cell) {
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
    pub(super) fn equations(&self, factor: f64) -> (DMatrix<f64>, DVector<f64>) {
        let n = N_PARAMETERS;
        let a = DMatrix::from_fn(2 * n, 2 * n, |i, j| {
            let block = &self.blocks[i / n + j / n];
            let (i, j) = (i % n, j % n);
            factor * block[i.max(j)][i.min(j)]
        });
        (a, DVector::from_fn(2 * n, |i, _| factor * self.right[i / n][i % n]))
    }
}

pub(super) fn solved(a: &DMatrix<f64>, b: &DVector<f64>) -> Result<DVector<f64>, FitError> {
    Ok(a.clone().cholesky().ok_or(FitError::Undetermined)?.solve(b))
}
