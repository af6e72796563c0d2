//! The faces of a blade in a STEP file: back and face, the flat of the tail, the flat end at the tip. Also the edges where the blade begins.

use super::step_entities::{Entities, Oriented, reversed};
use crate::emergence::{Emergence, Sheet};
use crate::error::SolidError;
use crate::facets::Start;
use crate::surface::BladeSurface;
use bladeform_numeric::bspline::Knots;
use bladeform_table::SectionSurface;

/// Parts into which the surface is divided around a section, at knots. Geometry kernels integrate volumes with a limited number of nodes per face.
const PARTS: usize = 2;

/// The geometry of the faces of a blade; the same for all blades of a propeller.
pub(super) struct BladeParts {
    along: Knots,
    parts: Vec<Part>,
    /// Edges along the span, from where the blade begins to its tip. They are in order from the tail corner on the back around the nose to that on the face.
    spans: Vec<BSplineCurve>,
    /// Edges where the blade begins: of every part, and of the flat of the tail unless it is straight.
    rims: Vec<BSplineCurve>,
    tail_rim: Option<BSplineCurve>,
    /// Whether sections run anticlockwise seen from the tip. Otherwise, on right-hand blades, du x dv points inwards.
    is_mirrored: bool,
    /// Radii of the cylinders on which the inner and the outer end lie, m; `None`: they are plane.
    end_m: Option<[f64; 2]>,
    /// Maximum distance, m, of the edges on the cylinder of the hub from the cylinder and from the blade, at the quarters of every piece; 0 without a hub.
    pub(super) edge_error_m: f64,
}

/// A part of the surface between two values of `u`.
struct Part {
    knots: Knots,
    /// Control points, columns along the span.
    net: Vec<Vec<[f64; 3]>>,
}

/// A cubic B-spline.
struct BSplineCurve {
    points: Vec<[f64; 3]>,
    multiplicities: Vec<usize>,
    breaks: Vec<f64>,
}

/// The faces of one blade.
pub(super) struct BladeFaces {
    pub(super) faces: Vec<usize>,
    /// Border of the opening where the blade begins, for the face that closes it: anticlockwise seen from the axis of rotation, clockwise from the tip.
    pub(super) rim: Vec<Oriented>,
}

impl BSplineCurve {
    fn over(knots: &Knots, points: Vec<[f64; 3]>) -> Self {
        Self { points, multiplicities: knots.multiplicities(), breaks: knots.breaks().to_vec() }
    }

    fn emerging(found: Emergence) -> Self {
        Self { multiplicities: found.multiplicities(), breaks: found.breaks, points: found.control }
    }

    fn first(&self) -> [f64; 3] {
        self.points[0]
    }

    fn last(&self) -> [f64; 3] {
        self.points[self.points.len() - 1]
    }
}

impl Entities {
    fn curve(&mut self, curve: &BSplineCurve) -> usize {
        self.spline_curve(&curve.points, (&curve.multiplicities, &curve.breaks))
    }
}

impl BladeParts {
    /// `blade`: with a section for its tip, its control points in blade axes.
    pub(super) fn new(blade: &BladeSurface, start: Start, is_mirrored: bool) -> Result<Self, SolidError> {
        let parts = parts(blade);
        let columns = parts.iter().map(|p| &p.net[0]).chain(parts.last().map(|p| &p.net[p.net.len() - 1]));
        let mut made = Self {
            along: blade.along.clone(),
            spans: columns.map(|column| BSplineCurve::over(&blade.along, column.clone())).collect(),
            rims: Vec::new(),
            tail_rim: None,
            is_mirrored,
            end_m: None,
            edge_error_m: 0.0,
            parts,
        };
        match start {
            Start::Root => {
                made.rims = made.parts.iter().map(|p| BSplineCurve::over(&p.knots, p.row(0))).collect()
            }
            Start::Cylinder(radius_m) => made.begin_at_cylinder(blade, radius_m)?,
        }
        if blade.sections() == SectionSurface::Cylinder {
            let inner = match start {
                Start::Cylinder(radius_m) => radius_m,
                Start::Root => blade.root_radius_m(),
            };
            let outer = blade.along.breaks().last().map_or(blade.tip_radius_m(), |v| blade.radius_at(*v));
            made.end_m = Some([inner, outer]);
        }
        Ok(made)
    }

    fn begin_at_cylinder(&mut self, blade: &BladeSurface, radius_m: f64) -> Result<(), SolidError> {
        let places = self.parts.iter().map(|p| p.knots.breaks()[0]).chain([1.0]);
        for (span, u) in self.spans.iter_mut().zip(places) {
            let v = crate::emergence::emergence(blade, Sheet::Sides, u, radius_m)?;
            let [.., end] = self.along.breaks() else { continue };
            let mut points = vec![[0.0; 3]; self.along.between(v, *end).count()];
            for k in 0..3 {
                let line: Vec<f64> = span.points.iter().map(|p| p[k]).collect();
                let made = self.along.coefficients_between(&line, v, *end);
                points.iter_mut().zip(made).for_each(|(p, value)| p[k] = value);
            }
            *span = BSplineCurve::over(&self.along.between(v, *end), points);
        }
        let trace = |sheet, breaks: &[f64]| Emergence::trace(blade, sheet, breaks, radius_m);
        let tail = trace(Sheet::Tail, &[0.0, 1.0])?;
        self.edge_error_m = tail.error_m;
        for part in &self.parts {
            let rim = trace(Sheet::Sides, part.knots.breaks())?;
            self.edge_error_m = self.edge_error_m.max(rim.error_m);
            self.rims.push(BSplineCurve::emerging(rim));
        }
        self.tail_rim = Some(BSplineCurve::emerging(tail));
        Ok(())
    }

    /// Writes the faces.
    pub(super) fn write(&self, file: &mut Entities) -> BladeFaces {
        let last = self.parts.len();
        let [starts, ends] = [BSplineCurve::first, BSplineCurve::last]
            .map(|end| self.spans.iter().map(end).collect::<Vec<_>>());
        let start_vertices: Vec<_> = starts.iter().map(|&p| file.vertex(p)).collect();
        let end_vertices: Vec<_> = ends.iter().map(|&p| file.vertex(p)).collect();
        let mut spans = Vec::new();
        for (k, span) in self.spans.iter().enumerate() {
            let curve = file.curve(span);
            spans.push(file.edge(start_vertices[k], end_vertices[k], curve, true));
        }
        let along = (&self.along.multiplicities()[..], self.along.breaks());
        let (mut faces, mut rim, mut tip) = (Vec::new(), Vec::new(), Vec::new());
        for (k, part) in self.parts.iter().enumerate() {
            let curve = file.curve(&self.rims[k]);
            let start = file.edge(start_vertices[k], start_vertices[k + 1], curve, true);
            let curve = file.curve(&BSplineCurve::over(&part.knots, part.row(self.along.count() - 1)));
            let end = file.edge(end_vertices[k], end_vertices[k + 1], curve, true);
            let surface =
                file.spline_surface(&part.net, (3, &part.knots.multiplicities(), part.knots.breaks()), along);
            let border = [(spans[k], true), (end, true), (spans[k + 1], false), (start, false)];
            faces.push(self.face(file, surface, &border, self.is_mirrored));
            rim.push((start, true));
            tip.push((end, true));
        }
        let curve = match &self.tail_rim {
            Some(curve) => file.curve(curve),
            None => file.straight(starts[0], starts[last]),
        };
        let start = file.edge(start_vertices[0], start_vertices[last], curve, true);
        let curve = file.straight(ends[0], ends[last]);
        let end = file.edge(end_vertices[0], end_vertices[last], curve, true);
        let [corner_on_back, corner_on_face] = [self.column(0), self.column(last)];
        let strip = file.spline_surface(&[corner_on_face, corner_on_back], (1, &[2, 2], &[0.0, 1.0]), along);
        let border = [(spans[last], true), (end, false), (spans[0], false), (start, true)];
        faces.push(self.face(file, strip, &border, self.is_mirrored));
        let closing = match self.end_m {
            None => file.plane(ends[0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]),
            Some([_, radius_m]) => cylinder(file, radius_m),
        };
        tip.push((end, false));
        faces.push(self.face(file, closing, &reversed(&tip), true));
        rim.push((start, false));
        let rim = if self.is_mirrored { reversed(&rim) } else { rim };
        BladeFaces { faces, rim }
    }

    /// The face that closes the opening of a blade that begins at its root end.
    pub(super) fn root_end(&self, file: &mut Entities, rim: &[Oriented]) -> usize {
        if let Some([radius_m, _]) = self.end_m {
            let closing = cylinder(file, radius_m);
            return file.face(closing, rim, &[], false);
        }
        let plane = file.plane(self.spans[0].first(), [0.0, 0.0, -1.0], [1.0, 0.0, 0.0]);
        file.face(plane, rim, &[], true)
    }

    /// A face with a border given for a right-hand blade.
    fn face(&self, file: &mut Entities, surface: usize, border: &[Oriented], same_sense: bool) -> usize {
        let border = if self.is_mirrored { reversed(border) } else { border.to_vec() };
        file.face(surface, &border, &[], same_sense)
    }

    /// Control points along the span where the parts `k - 1` and `k` meet.
    fn column(&self, k: usize) -> Vec<[f64; 3]> {
        self.parts
            .get(k)
            .map(|p| p.net[0].clone())
            .or_else(|| self.parts.last().map(|p| p.net[p.net.len() - 1].clone()))
            .unwrap_or_default()
    }
}

/// A cylinder about the axis of rotation whose parameter begins opposite to the blade.
fn cylinder(file: &mut Entities, radius_m: f64) -> usize {
    let placement = file.placement([0.0; 3], [0.0, 1.0, 0.0], [0.0, 0.0, -1.0]);
    let radius = file.length(radius_m);
    file.add(&format!("CYLINDRICAL_SURFACE('',#{placement},{radius})"))
}

impl Part {
    fn row(&self, j: usize) -> Vec<[f64; 3]> {
        self.net.iter().map(|column| column[j]).collect()
    }
}

fn parts(blade: &BladeSurface) -> Vec<Part> {
    let breaks = blade.across.breaks();
    let place = |k: usize| breaks[k * (breaks.len() - 1) / PARTS];
    (0..PARTS)
        .map(|k| {
            let (from, to) = (place(k), place(k + 1));
            let knots = blade.across.between(from, to);
            let mut net = vec![vec![[0.0; 3]; blade.along.count()]; knots.count()];
            for (j, row) in blade.control.iter().enumerate() {
                for c in 0..3 {
                    let line: Vec<f64> = row.iter().map(|p| p[c]).collect();
                    let made = blade.across.coefficients_between(&line, from, to);
                    net.iter_mut().zip(made).for_each(|(column, value)| column[j][c] = value);
                }
            }
            Part { knots, net }
        })
        .collect()
}
