//! The initial outline, and robust weights of the points.

use nalgebra::{DMatrix, DVector};

use super::feet::Foot;
use super::{BandPoint, FitError, FitSettings, State, strip_of};
use crate::basis::{Local, N_MEAN, N_THICKNESS, mean_values, thickness_values};
use crate::figures::thickness_ratio;
use crate::polygon::{dot, norm, sub};
use crate::prior::precision;
use crate::shape::Shape;
use crate::turn::sin_cos;

/// Noise assumed before the first residuals are known, chords.
const START_NOISE: f64 = 2e-3;

/// Distance at which a point has half weight in the initial outline, chords.
const START_STRAY: f64 = 0.01;

/// Thickness ratio assumed before the initial outline.
const START_THICKNESS: f64 = 0.12;

/// Reweighted iterations for the initial outline.
const START_ROUNDS: usize = 4;

/// Tukey's constant: 95 % efficiency under Gaussian noise.
const BIWEIGHT: f64 = 4.685;

/// Least accepted ratio of the true stiffness of the points to that with constant weights.
const LEAST_STIFFNESS: f64 = 0.6;

/// Least residual, chords: the resolution of float32 coordinates.
const LEAST_NOISE: f64 = 1e-7;

/// Distance behind the tail, chords, up to which points may still belong to it.
const TAIL_REACH: f64 = 0.05;

impl<'a> State<'a> {
    /// Begins at a known outline, with the prior of the section.
    pub(super) fn close_to(
        from: &Shape,
        prior: DMatrix<f64>,
        points: &'a [BandPoint],
        settings: &'a FitSettings,
    ) -> Self {
        let n = points.len();
        Self {
            points,
            strips: points.iter().map(|p| strip_of(p.span) as u8).collect(),
            settings,
            prior,
            value: from.clone(),
            change: Shape::plate([0.0, 0.0], [0.0, 0.0]),
            is_steady: false,
            feet: vec![Foot::Side(0.0); n],
            feet_found: false,
            residuals: vec![0.0; n],
            normals: vec![[0.0, 0.0]; n],
            weights: vec![1.0; n],
            rms: START_NOISE,
            stiffness: 1.0,
            correlation: 1.0,
            started: true,
        }
    }

    /// An initial outline: back and face as functions of the position along the chord, distinguished by the normals of the scan.
    pub(super) fn start(points: &'a [BandPoint], settings: &'a FitSettings) -> Result<Self, FitError> {
        let plate = Shape::plate([0.0, 0.0], [1.0, 0.0]);
        let near = Self::close_to(&plate, precision(START_THICKNESS), points, settings);
        let mut state = Self { started: false, ..near };
        let rows = HeightRow::of(points);
        for _ in 0..START_ROUNDS {
            state.start_round(&rows)?;
        }
        state.prior = prior_of(&state.value);
        Ok(state)
    }

    /// The same outline for a fit to other points.
    pub(super) fn over(self, points: &'a [BandPoint]) -> Self {
        Self {
            change: self.change,
            rms: self.rms,
            ..Self::close_to(&self.value, self.prior, points, self.settings)
        }
    }
}

/// The height of a point, and what the coefficients of mean line and thickness add to it.
struct HeightRow {
    height: f64,
    mean: Local<1>,
    thickness: Local<1>,
}

impl HeightRow {
    /// Of the points between the edges whose side is known.
    fn of(points: &[BandPoint]) -> Vec<Self> {
        points
            .iter()
            .filter(|p| (0.004..0.996).contains(&p.at[0]) && p.normal[1] != 0.0)
            .map(|p| {
                let side = p.normal[1].signum();
                let angle = (1.0 - 2.0 * p.at[0]).acos();
                let mean = mean_values(0.5 * (1.0 - sin_cos(side * angle).1));
                let mut thickness = thickness_values(angle);
                thickness.values[0].iter_mut().for_each(|v| *v *= side);
                Self {
                    height: p.at[1],
                    mean: Local { first: mean.first, values: [mean.values[0]] },
                    thickness,
                }
            })
            .collect()
    }

    /// Coefficients behind the edges and their factors.
    fn entries(&self) -> impl Iterator<Item = (usize, f64)> {
        let mean = self.mean.entries(N_MEAN).map(|(k, i)| (i, self.mean.values[0][k]));
        mean.chain(
            self.thickness.entries(N_THICKNESS).map(|(k, i)| (N_MEAN + i, self.thickness.values[0][k])),
        )
    }
}

/// The prior of an outline of the same thickness.
pub(super) fn prior_of(shape: &Shape) -> DMatrix<f64> {
    precision(thickness_ratio(shape))
}

impl State<'_> {
    /// One reweighted linear fit of `y = mean(x) ± thickness(x)`.
    fn start_round(&mut self, rows: &[HeightRow]) -> Result<(), FitError> {
        let m = N_MEAN + N_THICKNESS;
        let mut a = self.prior.view((4, 4), (m, m)).clone_owned() * (START_NOISE * START_NOISE);
        let mut b = DVector::zeros(m);
        let flat = self.value.p.iter().skip(4).all(|&v| v == 0.0);
        for row in rows {
            let fitted: f64 = row.entries().map(|(i, v)| v * self.value.p[4 + i]).sum();
            let r = (row.height - fitted) / START_STRAY;
            let weight = if flat { 1.0 } else { 1.0 / (1.0 + r * r) };
            for (i, vi) in row.entries() {
                b[i] += weight * vi * row.height;
                for (j, vj) in row.entries() {
                    a[(i, j)] += weight * vi * vj;
                }
            }
        }
        let solved = a.cholesky().ok_or(FitError::Undetermined)?.solve(&b);
        self.value.p[4..].copy_from_slice(solved.as_slice());
        Ok(())
    }

    /// Noise and robust weights from the residuals; `slack` widens the bound for stray points while the outline is still moving.
    pub(super) fn weigh(&mut self, slack: f64) {
        let mut sizes: Vec<f64> = self.residuals.iter().map(|r| r.abs()).collect();
        let middle = sizes.len() / 2;
        let (_, median, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
        // 1.4826: factor from the median absolute deviation of a Gaussian to its standard deviation.
        let bound = slack * BIWEIGHT * (1.4826 * *median).max(self.settings.model_error);
        let (mut weights, mut slopes) = (0.0, 0.0);
        for ((weight, r), (point, normal)) in
            self.weights.iter_mut().zip(&self.residuals).zip(self.points.iter().zip(&self.normals))
        {
            let u = r / bound;
            let facing = dot(point.normal, *normal);
            let turned_away = facing < -0.3 * norm(point.normal);
            let near = if 1.0 <= u.abs() || turned_away { 0.0 } else { 1.0 - u * u };
            *weight = near.powi(2);
            weights += *weight;
            slopes += near * (5.0 * near - 4.0);
        }
        self.stiffness = if 0.0 < weights { (slopes / weights).clamp(LEAST_STIFFNESS, 1.0) } else { 1.0 };
        self.keep_what_lies_beyond_the_tail(bound);
        let (sum, square) = self
            .weights
            .iter()
            .zip(&self.residuals)
            .fold((0.0, 0.0), |(s, q), (w, r)| (s + w, q + w * r * r));
        self.rms = (square / sum).sqrt().max(LEAST_NOISE);
    }

    /// Points behind the tail have Huber's weight and are never excluded at once. Otherwise a tail that began too short would remain so.
    pub(super) fn keep_what_lies_beyond_the_tail(&mut self, bound: f64) {
        let out = self.value.tail_direction();
        for (i, weight) in self.weights.iter_mut().enumerate() {
            let behind = dot(sub(self.points[i].at, self.value.trailing_edge()), out);
            if 0.0 < behind && behind < TAIL_REACH && self.residuals[i].abs() < TAIL_REACH {
                *weight = weight.max((bound / BIWEIGHT / self.residuals[i].abs().max(1e-30)).min(1.0));
            }
        }
    }
}
