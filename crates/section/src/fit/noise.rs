//! Correlation of the noise of neighbouring points, and the resulting uncertainty of the outline.

use std::f64::consts::PI;

use nalgebra::{DMatrix, DVector};

use super::ends::{CLOSED_TAIL, TAIL_KNOTS};
use super::equations::{Cell, Row, Sums};
use super::feet::{Foot, is_corner};
use super::{FitError, SectionFit, State};
use crate::basis::{N_THICKNESS, thickness_basis};
use crate::polygon::{left, norm, scale};
use crate::shape::{FIRST_THICKNESS, N_PARAMETERS};
use crate::shape_cubics::{OutlineAt, ShapeCubics};
use crate::turn::sin_cos;

/// Average number of points in one cell of the correlation estimate, for its two sizes.
const CELL_POINTS: [f64; 2] = [12.5, 50.0];

/// Most points that count as one: noise correlated over four edges.
const MOST_CORRELATED: f64 = 50.0;

/// Least fraction of the cells' degrees of freedom that is used. Below it the estimate would depend on the difference of nearly equal numbers.
const LEAST_FREE: f64 = 0.3;

/// Approximate perimeter of a section, chords.
const PERIMETER: f64 = 2.1;

/// Nodes and weights of the mean over a standard normal distribution (Gauss and Hermite; M. Abramowitz, I. A. Stegun, "Handbook of mathematical
/// functions", 1964, table 25.10, five points, transformed to the weight `exp(-x^2 / 2)`, from memory). They are exact for polynomials of the ninth degree.
const HERMITE: [(f64, f64); 5] = [
    (0.0, 8.0 / 15.0),
    (1.355_626_18, 0.222_075_92),
    (-1.355_626_18, 0.222_075_92),
    (2.856_970_01, 0.011_257_41),
    (-2.856_970_01, 0.011_257_41),
];

impl State<'_> {
    /// Number of neighbouring points that count as one: the variance of sums of residuals over cells of neighbouring points, compared with that of independent points.
    ///
    /// A cell of width `w` misses the correlation of its points with those beyond its border. The square root of the estimate is therefore too small by a term in
    /// `1/w`. Two sizes of cells determine and eliminate this term.
    pub(super) fn estimated_correlation(&self, determined: f64) -> f64 {
        let [small, large] = CELL_POINTS.map(|points| self.correlation_in_cells(points, determined).sqrt());
        let ratio = (CELL_POINTS[1] / CELL_POINTS[0]).sqrt();
        ((ratio * large - small) / (ratio - 1.0)).max(large).powi(2).min(MOST_CORRELATED)
    }

    /// The same from cells with so many points on average. The fit removes `determined` degrees of freedom from the sums, as from any
    /// residuals. The result is scaled up accordingly.
    pub(super) fn correlation_in_cells(&self, cell_points: f64, determined: f64) -> f64 {
        let area = PERIMETER * 2.0 * self.settings.half_band;
        let cell = (area * cell_points / self.points.len() as f64).sqrt();
        let (along, across) =
            ((PERIMETER / cell).ceil().max(4.0), (2.0 * self.settings.half_band / cell).ceil().max(1.0));
        // Cells by their position along the outline, from the tail along the face to the nose and on along the back, and along the span.
        let (rows, columns) = (along as usize + 3, across as usize + 2);
        let mut sums = vec![(0.0, 0.0, false); rows * columns];
        for ((foot, r), (w, point)) in
            self.feet.iter().zip(&self.residuals).zip(self.weights.iter().zip(self.points))
        {
            let Foot::Side(t) = foot else { continue };
            let arc = t.signum() * 0.5 * (1.0 - sin_cos(*t).1);
            let row = (arc * along / 2.0).floor() + (along / 2.0).ceil() + 1.0;
            let column = ((point.span + 1.0) / 2.0 * across * 0.9999).floor() + 1.0;
            let place = (row as usize).min(rows - 1) * columns + (column as usize).min(columns - 1);
            let cell = &mut sums[place];
            *cell = (cell.0 + w * r, cell.1 + w * w * r * r, true);
        }
        sums.retain(|cell| cell.2);
        let (of_sums, of_points) = sums.iter().fold((0.0, 0.0), |(a, b), (s, q, _)| (a + s * s, b + q));
        let free = (1.0 - determined / sums.len().max(1) as f64).max(LEAST_FREE);
        if of_points == 0.0 { 1.0 } else { (of_sums / of_points / free).max(1.0) }
    }

    pub(super) fn correlation_of_residuals(&self) -> Result<f64, FitError> {
        let (a, _) = self.settled_equations();
        let inverse = a.cholesky().ok_or(FitError::Undetermined)?.inverse();
        // Number of parameters determined by the points instead of the prior: the trace of the data's part of the equations.
        Ok(self.estimated_correlation(2.0 * N_PARAMETERS as f64 - (inverse * &self.prior).trace()))
    }

    /// Normal equations with the constraint of a tail that is held shut. It has no variance.
    pub(super) fn settled_equations(&self) -> (DMatrix<f64>, DVector<f64>) {
        let (mut a, mut b) = self.normal_equations(1.0);
        for theta in TAIL_KNOTS {
            if self.is_shut(theta) {
                self.hold_shut(theta, &mut a, &mut b);
            }
        }
        (a, b)
    }

    pub(super) fn finish(self) -> Result<SectionFit, FitError> {
        let of_scan = self.precision_of_smoothed(self.smoothing());
        let evidence = self.evidence();
        let parts = self.covariances(self.settled_equations().0, &of_scan)?;
        let covariance = &parts[0] + &parts[1];
        let mut quality = self.quality(self.correlation);
        if let Some(&theta) = TAIL_KNOTS.iter().find(|&&theta| self.is_shut(theta)) {
            let [data, prior] = self.covariances(self.normal_equations(1.0).0, &of_scan)?;
            let basis = thickness_basis(theta);
            let variance: f64 = basis
                .entries(N_THICKNESS)
                .flat_map(|(k, i)| basis.entries(N_THICKNESS).map(move |(l, j)| (k, i, l, j)))
                .map(|(k, i, l, j)| {
                    let at = (FIRST_THICKNESS + i, FIRST_THICKNESS + j);
                    basis.values[0][k] * basis.values[0][l] * (data[at] + prior[at])
                })
                .sum();
            quality.shut_tail = 2.0 * variance.max(0.0).sqrt();
        }
        Ok(SectionFit {
            shape: self.value,
            change: self.change,
            covariance,
            parts,
            quality,
            seen: None,
            unsharpened: false,
            evidence,
        })
    }

    /// Whether the tail is held shut at one of its knots.
    pub(super) fn is_shut(&self, theta: f64) -> bool {
        thickness_basis(theta).sum(0, self.value.thickness_coefficients()) < CLOSED_TAIL
    }

    /// Covariance of the outline due to the data, of precision `of_scan`, and due to the prior, for normal equations `a`.
    fn covariances(
        &self,
        mut a: DMatrix<f64>,
        of_scan: &DMatrix<f64>,
    ) -> Result<[DMatrix<f64>; 2], FitError> {
        // The end of the scan is known even if the sides near the ends are not.
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
        // With `M = A + P`, the precision of data and prior, the error `M^-1 (gradient of the noise + P x)` has the covariance `M^-1 (B + P) M^-1`, where
        // `B` is the covariance of the gradient.
        let of_value = |m: &DMatrix<f64>| m.view((0, 0), (N_PARAMETERS, N_PARAMETERS)).into_owned();
        Ok([of_value(&(&inverse * of_scan * &inverse)), of_value(&(&inverse * known * &inverse))])
    }

    /// Standard deviation, chords, of the Gaussian filter that turns white noise into the noise of the scan. A correlation `exp(-d^2 / l^2)` sums to
    /// `k` points of area `a` with `k a = pi l^2`, and results from smoothing over `l / 2`.
    pub(super) fn smoothing(&self) -> f64 {
        let area_of_point = PERIMETER * 2.0 * self.settings.half_band / self.points.len() as f64;
        0.5 * (self.correlation * area_of_point / PI).sqrt()
    }

    /// Precision of the data if the noise were white and the derivatives were smoothed along the outline like the noise. Noise that is correlated
    /// over a nose moves it as a whole and does not bend it. Along the span the derivatives are linear, so smoothing does not change them.
    pub(super) fn precision_of_smoothed(&self, smoothing: f64) -> DMatrix<f64> {
        let mut sums = Sums::new();
        let (value, change) = (ShapeCubics::of(&self.value), ShapeCubics::of(&self.change));
        let mut rows = Vec::with_capacity(HERMITE.len());
        for cell in self.cells() {
            let shape = OutlineAt::new(&value, &change, cell.span / cell.weight);
            let nodes = match cell.foot() {
                Foot::Side(t) if !is_corner(t) => &HERMITE[..],
                _ => &[(0.0, 1.0)],
            };
            rows.clear();
            rows.extend(nodes.iter().map(|(node, share)| {
                let (foot, normal) = moved(&shape, &cell, node * smoothing);
                (Row::of(&shape, foot, normal), *share)
            }));
            sums.add_mean(&rows, &cell);
        }
        let weight = self.inverse_variance();
        sums.equations(weight, weight, self.unknowns()).0
    }
}

/// The foot point of a cell moved along the outline by a length in chords, and the normal there.
pub(super) fn moved(shape: &OutlineAt<'_>, cell: &Cell, by: f64) -> (Foot, [f64; 2]) {
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
