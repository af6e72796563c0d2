//! The blade as one tensor-product B-spline surface, its sections and its volume.

use bladeform_numeric::bspline::{BreakInterpolation, Knots};
use bladeform_table::{SectionSurface, StationTable};

use crate::error::SolidError;
use crate::notice::SolidNotice;
use crate::rows::{RowPlan, Rows, rows_of};
use crate::wrapped::wrapped;

/// What the control points of a surface are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lies {
    /// Places in blade axes; rows are plane sections.
    Plane,
    /// Places in developed sections (arc, height, radius), which are wrapped on their cylinders wherever a point is asked for.
    Developed,
    /// Places in blade axes; rows lie on cylinders, as close as the surface was approximated.
    Wrapped,
}

/// A blade surface in blade axes, m. `u` runs around a section from the tail corner on the back (0) over the nose (1/2) to the corner on the face (1). `v` runs from the root end (0) to the tip (1), where the surface closes in a point.
/// The flat of the tail is the straight strip between `u = 1` and `u = 0`. The root end is flat.
///
/// Every line of constant `v` is a section, plane or on a cylinder about the axis of rotation: its radius depends only on `v`, `r = R - (R - root) (1 - v)^2`, so that a rounded tip is smooth in `v`.
#[derive(Debug, Clone)]
pub struct BladeSurface {
    pub(crate) across: Knots,
    pub(crate) along: Knots,
    /// Control points: `along.count()` rows of `across.count()`, m.
    pub(crate) control: Vec<Vec<[f64; 3]>>,
    lies: Lies,
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
        Self::through(rows_of(table, plan)?, table.sections())
    }

    fn through(rows: Rows, sections: SectionSurface) -> Result<Self, SolidError> {
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
        let lies = match sections {
            SectionSurface::Plane => Lies::Plane,
            SectionSurface::Cylinder => Lies::Developed,
        };
        Ok(Self { across, along, control, lies, tip_radius_m, root_radius_m, sections_m, warnings })
    }

    /// On what its sections lie.
    #[must_use]
    pub fn sections(&self) -> SectionSurface {
        match self.lies {
            Lies::Plane => SectionSurface::Plane,
            Lies::Developed | Lies::Wrapped => SectionSurface::Cylinder,
        }
    }

    /// The same surface with control points in blade axes, as files need them, and its greatest distance from this one, m. Plane sections have such control points already.
    pub(crate) fn in_blade_axes(&self) -> Result<(Self, f64), SolidError> {
        if self.lies != Lies::Developed {
            return Ok((self.clone(), 0.0));
        }
        let made = wrapped(self).ok_or(SolidError::NotFinite { radius_m: self.root_radius_m })?;
        let surface = Self {
            across: made.across,
            along: made.along,
            control: made.control,
            lies: Lies::Wrapped,
            ..self.clone()
        };
        Ok((surface, made.error_m))
    }

    /// The blade rotated about its pitch-change axis by an angle in rad. A positive angle increases the blade angle. Developed sections are rotated each on its own cylinder.
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

    /// Radius of the sections at `v`, m; the inverse of [`Self::v_of_radius`].
    pub(crate) fn radius_at(&self, v: f64) -> f64 {
        self.tip_radius_m - (self.tip_radius_m - self.root_radius_m) * (1.0 - v) * (1.0 - v)
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
        let flat = self.of_control(u, v);
        if self.lies != Lies::Developed {
            return flat;
        }
        let [x, _, rho] = flat.at;
        let (sin, cos) = (x / rho).sin_cos();
        let moved = |[dx, dy, dr]: [f64; 3]| {
            let across = dx - x / rho * dr;
            [dr * sin + cos * across, dy, dr * cos - sin * across]
        };
        Patch { at: SectionSurface::Cylinder.placed(flat.at), du: moved(flat.du), dv: moved(flat.dv) }
    }

    /// Point and derivatives in the coordinates of the control points.
    fn of_control(&self, u: f64, v: f64) -> Patch {
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

    /// A section as control points in the plane at `v`, or in that of the developed section.
    pub(crate) fn section_control(&self, v: f64) -> Vec<[f64; 2]> {
        let (first, basis) = self.along.basis(v);
        (0..self.across.count())
            .map(|i| [0, 1].map(|k| (0..4).map(|j| basis[0][j] * self.control[first + j][i][k]).sum()))
            .collect()
    }

    /// Points of the section at a radius in m, of the developed one where sections lie on cylinders: open, from the tail corner on the back around the nose to that on the face; m.
    #[must_use]
    pub fn section(&self, radius_m: f64, per_interval: usize) -> Vec<[f64; 2]> {
        let v = self.v_of_radius(radius_m);
        let breaks = self.across.breaks();
        let inside = breaks.windows(2).flat_map(|w| {
            (0..per_interval).map(move |k| w[0] + (w[1] - w[0]) * k as f64 / per_interval as f64)
        });
        inside.chain([1.0]).map(|u| self.of_control(u, v).at).map(|p| [p[0], p[1]]).collect()
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

    /// Volume, m^3: the integral of the section areas along the radius, exact for the splines. Developing a section keeps areas and volumes.
    #[must_use]
    pub fn volume_m3(&self) -> f64 {
        self.volume_beyond_m3(0.0)
    }

    /// The same outboard of `v`.
    pub(crate) fn volume_beyond_m3(&self, from_v: f64) -> f64 {
        let depth = self.tip_radius_m - self.root_radius_m;
        let mut volume = 0.0;
        for w in self.along.breaks().windows(2).map(|w| [w[0].max(from_v), w[1]]).filter(|w| w[0] < w[1]) {
            for (node, weight) in GAUSS {
                let v = w[0] + node * (w[1] - w[0]);
                volume += (w[1] - w[0]) * weight * self.section_area(v) * 2.0 * depth * (1.0 - v);
            }
        }
        volume
    }
}
