//! Normal equations of the fit, from cells of neighbouring points.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

use super::feet::{Foot, is_corner};
use super::{FitError, N_STRIPS, State};
use crate::basis::{N_MEAN, N_THICKNESS, mean_values, thickness_values};
use crate::polygon::{add, dot, left, scale, sub};
use crate::shape::{FIRST_MEAN, FIRST_THICKNESS, N_PARAMETERS};
use crate::shape_cubics::{OutlineAt, ShapeCubics};
use crate::turn::sin_cos;

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
    /// Number of unknowns: the parameters and, unless the outline does not change along the span, their changes.
    pub(super) fn unknowns(&self) -> usize {
        if self.is_steady { N_PARAMETERS } else { 2 * N_PARAMETERS }
    }

    /// Normal equations with the prior and with the ends held to the scan, in units of the noise. `stiffness`: factor on the matrix of the points.
    pub(super) fn normal_equations(&self, stiffness: f64) -> (DMatrix<f64>, DVector<f64>) {
        let (mut a, mut b) = self.equations_with_free_ends(stiffness);
        let ends = self.ends();
        ends.iter().filter(|end| 0.0 < end.beyond).for_each(|end| end.hold(&mut a, &mut b));
        (a, b)
    }

    /// The same without what holds the ends.
    pub(super) fn equations_with_free_ends(&self, stiffness: f64) -> (DMatrix<f64>, DVector<f64>) {
        let n = self.unknowns();
        let weight = self.inverse_variance();
        let (mut a, mut b) = self.sums(|_| true).equations(weight * stiffness, weight, n);
        let held = DVector::from_iterator(
            n,
            self.value.p.iter().chain(&self.change.p).take(n).enumerate().map(|(i, &v)| {
                // The edges are free: the prior concerns the shape, and its loose bound concerns the step.
                if i < 4 { 0.0 } else { v }
            }),
        );
        let prior = self.prior.view((0, 0), (n, n));
        b.gemv(-1.0, &prior, &held, 1.0);
        a += prior;
        (a, b)
    }

    /// Sums of the points' equations, without the prior, over the cells that are asked for.
    pub(super) fn sums(&self, is_asked: impl Fn(&Cell) -> bool) -> Sums {
        let mut sums = Sums::new();
        let (value, change) = (ShapeCubics::of(&self.value), ShapeCubics::of(&self.change));
        for cell in self.cells().into_iter().filter(is_asked) {
            let shape = OutlineAt::new(&value, &change, cell.span / cell.weight);
            let row = Row::of(&shape, cell.foot(), scale(cell.normal, 1.0 / cell.weight));
            if self.is_steady {
                sums.add_steady(&row, &cell);
            } else {
                sums.add(&row, &cell);
            }
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
        let strips = if self.is_steady { 1 } else { N_STRIPS };
        let mut cells = vec![Cell::default(); N_CELL_KINDS * N_CELLS_ALONG * strips];
        let out = self.value.tail_direction();
        for (i, (point, &w)) in self.points.iter().zip(&self.weights).enumerate() {
            if w == 0.0 {
                continue;
            }
            let (normal, residual) = (self.normals[i], self.residuals[i]);
            let strip = if self.is_steady { 0 } else { usize::from(self.strips[i]) };
            let mut add_to = |kind: usize, along: usize, normal: [f64; 2], residual: f64| {
                let place = (kind * N_CELLS_ALONG + along.min(N_CELLS_ALONG - 1)) * strips + strip;
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
}

/// Neighbouring parameters of one kind on which a point depends: four edges' coordinates, four coefficients of the mean line, four of the half thickness.
const LOCAL: usize = 4;
/// Places before the first coefficient of the mean line and of the half thickness for basis functions that have none, and one behind those of the mean line.
const FIRST_MEAN_PLACE: usize = LOCAL;
const FIRST_THICKNESS_PLACE: usize = FIRST_MEAN_PLACE + N_MEAN + 2;
const N_PLACES: usize = FIRST_THICKNESS_PLACE + N_THICKNESS + 1;

/// Place of a parameter in a row of the sums.
const PLACE_OF: [usize; N_PARAMETERS] = {
    let (mut places, mut i) = ([0; N_PARAMETERS], 0);
    while i < N_PARAMETERS {
        places[i] = if i < FIRST_MEAN {
            i
        } else if i < FIRST_THICKNESS {
            FIRST_MEAN_PLACE + 1 + i - FIRST_MEAN
        } else {
            FIRST_THICKNESS_PLACE + 1 + i - FIRST_THICKNESS
        };
        i += 1;
    }
    places
};

/// Derivatives of a position on the outline along a direction with respect to the parameters: of each kind those of four neighbouring ones.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row {
    values: [[f64; LOCAL]; 3],
    /// Place of the first of each kind. Those of basis functions without a coefficient count for nothing.
    first: [usize; 3],
}

impl Row {
    /// Of a foot point along the normal.
    pub(super) fn of(shape: &OutlineAt<'_>, foot: Foot, normal: [f64; 2]) -> Self {
        let t = match foot {
            Foot::Side(t) => t,
            Foot::End(_) => PI,
        };
        let x = 0.5 * (1.0 - sin_cos(t).1);
        let [height, slope, _] = shape.mean(x);
        let r = 1.0 / (1.0 + slope * slope).sqrt();
        let (h, thickness) = match foot {
            Foot::Side(t) => {
                let (sign, basis) = (t.signum(), thickness_values(t.abs()));
                (sign * shape.thickness(t.abs())[0], Some((sign, basis)))
            }
            Foot::End(h) => (h, None),
        };
        let c = shape.chord_vector();
        let up = scale(sub(left(c), scale(c, slope)), r);
        // The point is linear in the chord vector: P = LE + a C + b left(C).
        let (a, b) = (x - h * slope * r, height + h * r);
        let by_chord = [a * normal[0] + b * normal[1], a * normal[1] - b * normal[0]];
        let edges = [normal[0] - by_chord[0], normal[1] - by_chord[1], by_chord[0], by_chord[1]];
        let along = scale(add(c, scale(left(c), slope)), -h * (r * r * r));
        let (rise, turn) = (dot(left(c), normal), dot(along, normal));
        let mean = mean_values(x);
        let of_mean = std::array::from_fn(|k| mean.values[0][k] * rise + mean.values[1][k] * turn);
        let (of_thickness, first) = match thickness {
            Some((sign, basis)) => {
                let outward = sign * dot(up, normal);
                (basis.values[0].map(|v| v * outward), basis.first)
            }
            None => ([0.0; LOCAL], 0),
        };
        Self {
            values: [edges, of_mean, of_thickness],
            first: [
                0,
                FIRST_MEAN_PLACE + (mean.first + 1) as usize,
                FIRST_THICKNESS_PLACE + (first + 1) as usize,
            ],
        }
    }

    /// Of the point at `t` along a direction.
    pub(crate) fn of_point(shape: &OutlineAt<'_>, t: f64, direction: [f64; 2]) -> Self {
        Self::of(shape, Foot::Side(t), direction)
    }

    /// Adds it times a factor to derivatives by place.
    fn add_to(&self, sum: &mut Places, factor: f64) {
        for (values, first) in self.values.iter().zip(self.first) {
            for (slot, v) in sum[first..first + LOCAL].iter_mut().zip(values) {
                *slot += factor * v;
            }
        }
    }
}

/// A number for every place.
type Places = [f64; N_PLACES];

/// Sum of rows times factors, by parameter.
pub(crate) fn combined(rows: impl Iterator<Item = (Row, f64)>) -> [f64; N_PARAMETERS] {
    let mut sum = [0.0; N_PLACES];
    rows.for_each(|(row, factor)| row.add_to(&mut sum, factor));
    PLACE_OF.map(|place| sum[place])
}

/// Normal equations of the parameters and of their change along the span: three blocks of sums over the same products.
pub(super) struct Sums {
    /// By power of the position along the span. Rows of one kind hold the columns of their own and of earlier kinds.
    blocks: Box<[[Places; N_PLACES]; 3]>,
    right: [Places; 2],
}

impl Sums {
    pub(super) fn new() -> Self {
        Self { blocks: Box::new([[[0.0; N_PLACES]; N_PLACES]; 3]), right: [[0.0; N_PLACES]; 2] }
    }

    /// Adds a cell.
    pub(super) fn add(&mut self, row: &Row, cell: &Cell) {
        row.add_to(&mut self.right[0], cell.residual);
        row.add_to(&mut self.right[1], cell.residual_span);
        for (block, weight) in self.blocks.iter_mut().zip([cell.weight, cell.span, cell.span_square]) {
            add_products(block, row, weight);
        }
    }

    /// Adds a cell to the equations of the parameters alone.
    fn add_steady(&mut self, row: &Row, cell: &Cell) {
        row.add_to(&mut self.right[0], cell.residual);
        add_products(&mut self.blocks[0], row, cell.weight);
    }

    /// Adds a cell whose derivatives are the mean of several rows.
    pub(super) fn add_mean(&mut self, rows: &[(Row, f64)], cell: &Cell) {
        let [(first, _), ..] = rows else { return };
        if rows.iter().all(|(row, _)| row.first == first.first) {
            let mut mean = *first;
            for (kind, values) in mean.values.iter_mut().enumerate() {
                *values = std::array::from_fn(|k| rows.iter().map(|(row, w)| w * row.values[kind][k]).sum());
            }
            return self.add(&mean, cell);
        }
        let mut dense = [0.0; N_PLACES];
        rows.iter().for_each(|(row, w)| row.add_to(&mut dense, *w));
        let used: Vec<usize> = (0..N_PLACES).filter(|&k| dense[k] != 0.0).collect();
        let weights = [cell.weight, cell.span, cell.span_square];
        for (place, &i) in used.iter().enumerate() {
            self.right[0][i] += dense[i] * cell.residual;
            self.right[1][i] += dense[i] * cell.residual_span;
            for (block, weight) in self.blocks.iter_mut().zip(weights) {
                for &j in &used[..=place] {
                    block[i][j] += weight * dense[i] * dense[j];
                }
            }
        }
    }

    /// Matrix and right-hand side, each times a factor, of the parameters alone (`unknowns` equal to their number) or with their changes.
    pub(super) fn equations(
        &self,
        factor: f64,
        of_right: f64,
        unknowns: usize,
    ) -> (DMatrix<f64>, DVector<f64>) {
        let n = N_PARAMETERS;
        let mut a = DMatrix::zeros(unknowns, unknowns);
        for (power, block) in self.blocks.iter().enumerate().take(if n < unknowns { 3 } else { 1 }) {
            let corners: &[[usize; 2]] = match power {
                0 => &[[0, 0]],
                1 => &[[n, 0], [0, n]],
                _ => &[[n, n]],
            };
            for i in 0..n {
                for j in 0..=i {
                    let value = factor * block[PLACE_OF[i]][PLACE_OF[j]];
                    for [row, column] in corners {
                        a[(row + i, column + j)] = value;
                        a[(row + j, column + i)] = value;
                    }
                }
            }
        }
        (a, DVector::from_fn(unknowns, |i, _| of_right * self.right[i / n][PLACE_OF[i % n]]))
    }
}

/// Adds the products of a row's derivatives, times a weight.
#[inline]
fn add_products(block: &mut [Places; N_PLACES], row: &Row, weight: f64) {
    for kind in 0..3 {
        for k in 0..LOCAL {
            let own = weight * row.values[kind][k];
            let sums = &mut block[row.first[kind] + k];
            for other in 0..=kind {
                let first = row.first[other];
                for (sum, v) in sums[first..first + LOCAL].iter_mut().zip(&row.values[other]) {
                    *sum += own * v;
                }
            }
        }
    }
}

pub(super) fn solved(a: &DMatrix<f64>, b: &DVector<f64>) -> Result<DVector<f64>, FitError> {
    Ok(a.clone().cholesky().ok_or(FitError::Undetermined)?.solve(b))
}
