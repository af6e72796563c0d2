//! The blade as one tensor-product B-spline surface, its sections and its volume.

use bladeform_numeric::bspline::{BreakInterpolation, Knots};
use bladeform_table::{SectionSurface, StationTable};

use crate::error::SolidError;
use crate::notice::SolidNotice;
use crate::plan_fault::PlanFault;
use crate::rows::{RowPlan, Rows, rows_of};

/// A blade surface in blade axes, m. `u` runs around a section from the tail corner on the back (0) over the nose (1/2) to the corner on the face (1). `v` runs from the root end (0) to the tip (1), where the surface closes in a point.
/// The flat of the tail is the straight strip between `u = 1` and `u = 0`. The root end is flat.
///
/// Every line of constant `v` is a plane section: `z` depends only on `v`, `z = R - (R - root) (1 - v)^2`, so that a rounded tip is smooth in `v`.
#[derive(Debug, Clone)]
pub struct BladeSurface {
    pub(crate) across: Knots,
    pub(crate) along: Knots,
    /// Control points: `along.count()` rows of `across.count()`, m.
    pub(crate) control: Vec<Vec<[f64; 3]>>,
    tip_radius_m: f64,
    root_radius_m: f64,
    sections_m: [f64; 2],
    warnings: Vec<SolidNotice>,
}

/// Point and derivatives of a surface, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Patch {
    pub(crate) at: [f64; 3],
    pub(crate) du: [f64; 3],
    pub(crate) dv: [f64; 3],
}

/// Gauss-Legendre nodes and weights on 0..1 (M. Abramowitz, I. A. Stegun, 1964, table 25.4). Four nodes are exact for degree 7.
const GAUSS: [(f64, f64); 4] = [
    (0.069_431_844_202_973_71, 0.173_927_422_568_726_93),
    (0.330_009_478_207_571_87, 0.326_072_577_431_273_07),
    (0.669_990_521_792_428_1, 0.326_072_577_431_273_07),
    (0.930_568_155_797_026_3, 0.173_927_422_568_726_93),
];

impl BladeSurface {
    /// The surface through the stations of a table. Assumptions are listed in [`BladeSurface::warnings`].
    ///
    /// # Errors
    /// [`SolidError`] if there are too few sections, or one cannot be used.
    pub fn of_table(table: &StationTable) -> Result<Self, SolidError> {
        Self::planned(table, &RowPlan::default())
    }

    pub(crate) fn planned(table: &StationTable, plan: &RowPlan) -> Result<Self, SolidError> {
        if table.sections() == SectionSurface::Cylinder {
            return Err(PlanFault::SectionsOnCylinders.into());
        }
        Self::through(rows_of(table, plan)?)
    }

    fn through(rows: Rows) -> Result<Self, SolidError> {
        let Rows { across, rows, tip_radius_m, tip, sections_m, warnings } = rows;
        let root_radius_m = rows[0].radius_m;
        let depth = tip_radius_m - root_radius_m;
        let breaks =
            rows.iter().map(|r| 1.0 - ((tip_radius_m - r.radius_m) / depth).sqrt()).chain([1.0]).collect();
        let along = Knots::clamped(breaks);
        // R - depth (1 - v)^2
        let z = along.of_quadratic([root_radius_m, 2.0 * depth, -depth]);
        let interpolation = BreakInterpolation::new(along.clone());
        let mut control = vec![vec![[0.0; 3]; across.count()]; along.count()];
        for i in 0..across.count() {
            for k in 0..2 {
                let values: Vec<f64> = rows.iter().map(|r| r.points[i][k]).chain([tip[k]]).collect();
                let column = interpolation
                    .through(&values)
                    .ok_or(SolidError::NotFinite { radius_m: root_radius_m })?;
                for (row, value) in control.iter_mut().zip(column) {
                    row[i][k] = value;
                }
            }
            for (row, z) in control.iter_mut().zip(&z) {
                row[i][2] = *z;
            }
        }
        Ok(Self { across, along, control, tip_radius_m, root_radius_m, sections_m, warnings })
    }

    /// The blade rotated about its pitch-change axis by an angle in rad. A positive angle increases the blade angle.
    #[must_use]
    pub fn turned(&self, by_rad: f64) -> Self {
        let (sin, cos) = by_rad.sin_cos();
        let mut turned = self.clone();
        for p in turned.control.iter_mut().flatten() {
            *p = [p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos, p[2]];
        }
        turned
    }

    /// The mirror image in the plane of `y` and `z`. Its parameter is reversed, so that it still runs from the back over the nose to the face.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let mut mirrored = self.clone();
        for row in &mut mirrored.control {
            // Breaks are symmetric about 1/2, but back and face keep their sides: only x changes.
            row.iter_mut().for_each(|p| p[0] = -p[0]);
        }
        mirrored
    }

    /// The blade cut off by a plane at `v`. It ends in a section instead of a point.
    pub(crate) fn cut_off(&self, v: f64) -> Self {
        let mut cut = self.clone();
        cut.along = self.along.between(0.0, v);
        cut.control = vec![vec![[0.0; 3]; self.across.count()]; cut.along.count()];
        for i in 0..self.across.count() {
            for k in 0..3 {
                let column: Vec<f64> = self.control.iter().map(|row| row[i][k]).collect();
                let made = self.along.coefficients_between(&column, 0.0, v);
                cut.control.iter_mut().zip(made).for_each(|(row, value)| row[i][k] = value);
            }
        }
        cut
    }

    /// Radius of the tip, m.
    #[must_use]
    pub fn tip_radius_m(&self) -> f64 {
        self.tip_radius_m
    }

    /// Radius of the inner end, m.
    #[must_use]
    pub fn root_radius_m(&self) -> f64 {
        self.root_radius_m
    }

    /// Radii of the first and the last station with a section, m.
    #[must_use]
    pub fn sections_m(&self) -> [f64; 2] {
        self.sections_m
    }

    /// Assumptions and extrapolations.
    #[must_use]
    pub fn warnings(&self) -> &[SolidNotice] {
        &self.warnings
    }

    /// The parameter `v` of a radius in m.
    #[must_use]
    pub fn v_of_radius(&self, radius_m: f64) -> f64 {
        let depth = self.tip_radius_m - self.root_radius_m;
        1.0 - ((self.tip_radius_m - radius_m) / depth).clamp(0.0, 1.0).sqrt()
    }

    /// A point, m.
    #[must_use]
    pub fn point(&self, u: f64, v: f64) -> [f64; 3] {
        self.patch(u, v).at
    }

    pub(crate) fn patch(&self, u: f64, v: f64) -> Patch {
        let (first_u, bu) = self.across.basis(u);
        let (first_v, bv) = self.along.basis(v);
        let mut patch = Patch { at: [0.0; 3], du: [0.0; 3], dv: [0.0; 3] };
        for j in 0..4 {
            for i in 0..4 {
                let p = &self.control[first_v + j][first_u + i];
                for k in 0..3 {
                    patch.at[k] += bu[0][i] * bv[0][j] * p[k];
                    patch.du[k] += bu[1][i] * bv[0][j] * p[k];
                    patch.dv[k] += bu[0][i] * bv[1][j] * p[k];
                }
            }
        }
        patch
    }

    /// A section as control points in the plane at `v`.
    pub(crate) fn section_control(&self, v: f64) -> Vec<[f64; 2]> {
        let (first, basis) = self.along.basis(v);
        (0..self.across.count())
            .map(|i| [0, 1].map(|k| (0..4).map(|j| basis[0][j] * self.control[first + j][i][k]).sum()))
            .collect()
    }

    /// Points of the section at a radius in m: open, from the tail corner on the back around the nose to that on the face; m.
    #[must_use]
    pub fn section(&self, radius_m: f64, per_interval: usize) -> Vec<[f64; 2]> {
        let v = self.v_of_radius(radius_m);
        let breaks = self.across.breaks();
        let inside = breaks.windows(2).flat_map(|w| {
            (0..per_interval).map(move |k| w[0] + (w[1] - w[0]) * k as f64 / per_interval as f64)
        });
        inside.chain([1.0]).map(|u| self.point(u, v)).map(|p| [p[0], p[1]]).collect()
    }

    /// Area of the section at `v`, m^2, exact for the spline (Green's theorem; the flat of the tail closes it).
    pub(crate) fn section_area(&self, v: f64) -> f64 {
        let control = self.section_control(v);
        let mut twice = 0.0;
        for w in self.across.breaks().windows(2) {
            for (node, weight) in GAUSS {
                let (first, basis) = self.across.basis(w[0] + node * (w[1] - w[0]));
                let sum =
                    |d: usize, k: usize| -> f64 { (0..4).map(|i| basis[d][i] * control[first + i][k]).sum() };
                twice += (w[1] - w[0]) * weight * (sum(0, 0) * sum(1, 1) - sum(0, 1) * sum(1, 0));
            }
        }
        let (a, b) = (control[control.len() - 1], control[0]);
        // Sections run clockwise seen from the tip.
        -0.5 * (twice + a[0] * b[1] - a[1] * b[0])
    }

    /// Volume, m^3: the integral of the section areas along the radius, exact for the splines.
    #[must_use]
    pub fn volume_m3(&self) -> f64 {
        let depth = self.tip_radius_m - self.root_radius_m;
        let mut volume = 0.0;
        for w in self.along.breaks().windows(2) {
            for (node, weight) in GAUSS {
                let v = w[0] + node * (w[1] - w[0]);
                volume += (w[1] - w[0]) * weight * self.section_area(v) * 2.0 * depth * (1.0 - v);
            }
        }
        volume
    }
}
