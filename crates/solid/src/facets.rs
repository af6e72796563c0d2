//! Triangles of a blade surface, as fine as a tolerance requires: rows of points along the span, joined row by row and closed by a flat at the tip.

use bladeform_numeric::observe::{Observer, Stage, Stopped, report};
use bladeform_numeric::vector::{cross, distance, dot, norm, sub};

use crate::emergence::{Sheet, emergence};
use crate::error::SolidError;
use crate::joint_fault::{FillFault, FlatRegion, JointFault};
use crate::plan_fault::PlanFault;
use crate::plane::fill;
use crate::surface::BladeSurface;
use crate::tree::square_distance;

/// Fraction of the tolerance allowed for the chord error within a row and for the steps between rows. Together with the twist between rows they stay below the tolerance.
const SHARE: f64 = 0.35;
/// Maximum edge length around a section as a fraction of half its perimeter. It keeps the volume of the facets within 0.1 % of that of the surface.
const EDGE_PER_SIDE: f64 = 0.016;
/// Maximum step between rows as a fraction of the chord.
const STEP_PER_CHORD: f64 = 0.04;
/// No row is divided because of its length below this fraction of the largest chord, because chords vanish near the tip.
const SHORTEST: f64 = 0.004;
/// Maximum number of times that an interval is halved.
const MOST_HALVINGS: u32 = 14;
/// Initial number of intervals on each side, before any is halved.
const FIRST_INTERVALS: i32 = 8;
/// Smallest refinement factor of one round. An error far above the tolerance is a fault that more facets cannot remove, so refining is bounded.
const LEAST_REFINEMENT: f64 = 0.4;
/// Parameters of points of two rows that are closer than this are the same.
const SAME_U: f64 = 1e-9;
/// Maximum number of points of a blade: about 2 GB of memory.
const MOST_POINTS: usize = 10_000_000;
/// Minimum distance from the last row to the tip, in single-precision steps at the tip radius. Closer rows are so flat that their sheets intersect after rounding.
const LEAST_DROP_STEPS: f64 = 64.0;
/// Fraction of the tolerance that the flat at the tip may use.
const FLAT_SHARE: f64 = 0.8;
/// Maximum number of refinement rounds to meet the tolerance.
const ROUNDS: usize = 4;

/// Maximum sag of an edge as a fraction of the local chord, for any tolerance. It is a fifth of the minimum tail width, so that the facets of back and face stay apart.
const SAG_PER_CHORD: f64 = 1e-4;

/// Where a blade's surface begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Start {
    /// At its root end, which is closed.
    Root,
    /// Where it emerges from a cylinder about `y` of this radius, m. It is open there.
    Cylinder(f64),
}

/// Triangles of a blade.
#[derive(Debug, Clone)]
pub(crate) struct Facets {
    pub(crate) vertices: Vec<[f64; 3]>,
    pub(crate) faces: Vec<[u32; 3]>,
    /// Vertices of the first row, from the tail corner on the back around the nose.
    pub(crate) first_row: Vec<u32>,
    /// Triangles from here on lie beyond the last station.
    pub(crate) tip_from: usize,
    /// Triangles from here on close the root end.
    pub(crate) root_from: usize,
    /// Parameter `u` of the centroid of each triangle; 1 for the flat of the tail.
    pub(crate) around: Vec<f64>,
    /// Distance of the flat that closes the tip below the tip, m.
    tip_drop_m: f64,
    /// Maximum distance of the facets from the surface, m.
    pub(crate) error_m: f64,
}

/// Makes the triangles of a blade with a chord error of at most `tolerance_m`. `stage`: reported before every row, so that the call can be stopped.
pub(crate) fn facets_of(
    surface: &BladeSurface,
    tolerance_m: f64,
    start: Start,
    observer: &dyn Observer,
    stage: Stage<'_>,
) -> Result<Facets, SolidError> {
    let mut inner = tolerance_m;
    let go_on = || report(observer, stage);
    let mut made = Maker::new(surface, inner, start)?.make(go_on)?;
    for _ in 0..ROUNDS {
        if made.error_m <= tolerance_m {
            break;
        }
        inner *= (0.8 * tolerance_m / made.error_m).clamp(LEAST_REFINEMENT, 0.8);
        made = Maker::new(surface, inner, start)?.make(go_on)?;
    }
    // The flat at the tip cannot be finer than the number format of the file.
    made.error_m = made.error_m.max(made.tip_drop_m);
    Ok(made)
}

#[derive(Debug, Clone)]
struct RowPoint {
    u: f64,
    v: f64,
    at: [f64; 3],
}

struct Maker<'a> {
    surface: &'a BladeSurface,
    tolerance_m: f64,
    start: Start,
    /// Nominal parameter of the first row, and the parameter beyond which rows are lines of constant `v`.
    first_v: f64,
    even_v: f64,
    greatest_chord_m: f64,
}

impl<'a> Maker<'a> {
    fn new(surface: &'a BladeSurface, tolerance_m: f64, start: Start) -> Result<Self, SolidError> {
        let greatest_chord_m = (0..40).map(|k| chord(surface, f64::from(k) / 40.0)).fold(0.0, f64::max);
        let mut maker = Self { surface, tolerance_m, start, first_v: 0.0, even_v: 0.0, greatest_chord_m };
        if let Start::Cylinder(radius) = start {
            let places = (0..=400).map(|k| f64::from(k) / 400.0);
            let ring: Vec<f64> =
                places.map(|u| emergence(surface, Sheet::Sides, u, radius)).collect::<Result<_, _>>()?;
            let (low, high) = ring.iter().fold((1.0_f64, 0.0_f64), |(l, h), &v| (l.min(v), h.max(v)));
            maker.first_v = low;
            let depth = surface.radius_at(high) - surface.radius_at(low);
            let clear = surface.radius_at(high) + (1.5 * depth).max(0.15 * chord(surface, high));
            maker.even_v = surface.v_of_radius(clear.min(0.5 * (radius + surface.tip_radius_m())));
        }
        Ok(maker)
    }

    /// A point of a row. Beyond the joint a row is a line of constant `v`; near the joint it follows the joint curve.
    fn row_point(&self, u: f64, v: f64) -> Result<RowPoint, SolidError> {
        let v = match self.start {
            Start::Cylinder(radius) if v < self.even_v => {
                let begin = emergence(self.surface, Sheet::Sides, u, radius)?;
                begin + (v - self.first_v) / (self.even_v - self.first_v) * (self.even_v - begin)
            }
            _ => v,
        };
        Ok(RowPoint { u, v, at: self.surface.point(u, v) })
    }

    fn make(&self, go_on: impl Fn() -> Result<(), Stopped>) -> Result<Facets, SolidError> {
        let last_section = self.surface.v_of_radius(self.surface.sections_m()[1]);
        let mut rows = Vec::new();
        let places = self.row_places()?;
        let mut count = 0;
        for v in &places {
            go_on()?;
            rows.push(self.row(*v)?);
            count += rows[rows.len() - 1].len();
            // Reported before memory runs out. The remaining rows are assumed to be like those made so far.
            let expected = count / rows.len() * places.len();
            if MOST_POINTS < expected && (20 < rows.len() || MOST_POINTS < count) {
                return Err(PlanFault::TooManyTriangles {
                    tolerance_m: self.tolerance_m,
                    radius_m: self.surface.tip_radius_m(),
                    triangles: 2 * expected,
                    most: 2 * MOST_POINTS,
                }
                .into());
            }
        }
        let mut facets = Facets {
            vertices: Vec::new(),
            faces: Vec::new(),
            first_row: Vec::new(),
            tip_from: 0,
            root_from: 0,
            around: Vec::new(),
            tip_drop_m: 0.0,
            error_m: 0.0,
        };
        let mut ids: Vec<Vec<u32>> = Vec::new();
        for row in &rows {
            let begin = facets.vertices.len() as u32;
            facets.vertices.extend(row.iter().map(|p| p.at));
            ids.push((begin..begin + row.len() as u32).collect());
        }
        let mut tip_from = None;
        for k in 0..rows.len() - 1 {
            if last_section <= rows[k][0].v + 1e-9 {
                tip_from.get_or_insert(facets.faces.len());
            }
            self.sew(&rows[k], &rows[k + 1], &ids[k], &ids[k + 1], &mut facets);
        }
        self.close_tip(&rows[rows.len() - 1], &ids[rows.len() - 1], &mut facets)?;
        facets.tip_from = tip_from.unwrap_or(facets.faces.len());
        facets.root_from = facets.faces.len();
        facets.first_row.clone_from(&ids[0]);
        if self.start == Start::Root {
            close_root(self.surface, &rows[0], &mut facets)?;
        }
        Ok(facets)
    }

    /// Nominal parameters of the rows, without the tip.
    fn row_places(&self) -> Result<Vec<f64>, SolidError> {
        let mut places = vec![self.first_v];
        let mut stops = vec![];
        if self.first_v < self.even_v {
            stops.push(self.even_v);
        }
        let last_section = self.surface.v_of_radius(self.surface.sections_m()[1]);
        if self.even_v + 1e-6 < last_section && last_section < 1.0 - 1e-6 {
            stops.push(last_section);
        }
        stops.push(1.0);
        for stop in stops {
            let from = places[places.len() - 1];
            self.divide_span(from, stop, 0, &mut places)?;
        }
        places.pop();
        // The tip is closed by a flat at the last row. The row is close enough to the tip for the tolerance, and far enough for the number format of the file.
        let tip = self.surface.tip_radius_m();
        let drop = |v: f64| tip - self.surface.radius_at(v);
        let least = LEAST_DROP_STEPS * f64::from(f32::EPSILON) * tip;
        let most = (FLAT_SHARE * self.tolerance_m).max(4.0 * least);
        while let Some(&v) = places.last().filter(|&&v| most < drop(v)) {
            // A quarter of the distance remains: rows are evenly spaced in its square root.
            places.push(0.5 * (v + 1.0));
        }
        while 2 < places.len() && places.last().is_some_and(|&v| drop(v) < least) {
            places.pop();
        }
        Ok(places)
    }

    fn divide_span(&self, a: f64, b: f64, depth: u32, places: &mut Vec<f64>) -> Result<(), SolidError> {
        let middle = 0.5 * (a + b);
        if depth < MOST_HALVINGS && self.must_divide(a, middle, b)? {
            self.divide_span(a, middle, depth + 1, places)?;
            self.divide_span(middle, b, depth + 1, places)?;
        } else {
            places.push(b);
        }
        Ok(())
    }

    fn must_divide(&self, a: f64, middle: f64, b: f64) -> Result<bool, SolidError> {
        let longest =
            (STEP_PER_CHORD * chord(self.surface, middle)).max(2.5 * SHORTEST * self.greatest_chord_m);
        for k in -10..=10 {
            let u = u_of(f64::from(k) / 10.0);
            let (p, q) = (self.row_point(u, a)?.at, self.row_point(u, b)?.at);
            let m = self.row_point(u, middle)?.at;
            if longest < distance(p, q) || SHARE * self.tolerance_m < off_chord(m, p, q) {
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Points of a row, from the tail corner on the back around the nose to that on the face.
    fn row(&self, v: f64) -> Result<Vec<RowPoint>, SolidError> {
        let rough: Vec<_> = (-20..=20)
            .map(|k| self.row_point(u_of(f64::from(k) / 20.0), v).map(|p| p.at))
            .collect::<Result<_, _>>()?;
        let girth: f64 = rough.windows(2).map(|w| distance(w[0], w[1])).sum();
        let longest = (EDGE_PER_SIDE * 0.5 * girth).max(SHORTEST * self.greatest_chord_m);
        let sag = (SHARE * self.tolerance_m).min(SAG_PER_CHORD * 0.5 * girth);
        let mut row = vec![self.row_point(u_of(-1.0), v)?];
        for k in -FIRST_INTERVALS..FIRST_INTERVALS {
            let [a, b] = [k, k + 1].map(|k| f64::from(k) / f64::from(FIRST_INTERVALS));
            let last = row[row.len() - 1].clone();
            let end = self.row_point(u_of(b), v)?;
            self.divide_row(v, (a, &last), (b, &end), (longest, sag), 0, &mut row)?;
        }
        Ok(row)
    }

    fn divide_row(
        &self,
        v: f64,
        (a, p): (f64, &RowPoint),
        (b, q): (f64, &RowPoint),
        (longest, most_sag): (f64, f64),
        depth: u32,
        row: &mut Vec<RowPoint>,
    ) -> Result<(), SolidError> {
        let middle = 0.5 * (a + b);
        let m = self.row_point(u_of(middle), v)?;
        let sag = off_chord(m.at, p.at, q.at);
        if depth < MOST_HALVINGS && (longest < distance(p.at, q.at) || most_sag < sag) {
            self.divide_row(v, (a, p), (middle, &m), (longest, most_sag), depth + 1, row)?;
            self.divide_row(v, (middle, &m), (b, q), (longest, most_sag), depth + 1, row)?;
        } else {
            row.push(q.clone());
        }
        Ok(())
    }

    /// Triangles between two rows, advancing along both together, and the flat of the tail.
    fn sew(&self, a: &[RowPoint], b: &[RowPoint], ids_a: &[u32], ids_b: &[u32], facets: &mut Facets) {
        let quality = |t: Option<[&RowPoint; 3]>| t.map_or(-1.0, |t| least_angle(t.map(|p| p.at)));
        let (mut i, mut j) = (0, 0);
        while i + 1 < a.len() || j + 1 < b.len() {
            let along_a = (i + 1 < a.len()).then(|| [&a[i], &b[j], &a[i + 1]]);
            let along_b = (j + 1 < b.len()).then(|| [&a[i], &b[j], &b[j + 1]]);
            let takes_a = match (a.get(i + 1), b.get(j + 1)) {
                // Both rows are halved in the same way, so most parameters are common. There the better of the two diagonals is used.
                (Some(p), Some(q)) if (p.u - q.u).abs() < SAME_U => quality(along_b) < quality(along_a),
                (Some(p), Some(q)) => p.u < q.u,
                (next, _) => next.is_some(),
            };
            if takes_a {
                self.push([ids_a[i], ids_b[j], ids_a[i + 1]], along_a, facets);
                i += 1;
            } else {
                self.push([ids_a[i], ids_b[j], ids_b[j + 1]], along_b, facets);
                j += 1;
            }
        }
        let (last_a, last_b) = (ids_a[ids_a.len() - 1], ids_b[ids_b.len() - 1]);
        for face in [[last_a, last_b, ids_a[0]], [ids_a[0], last_b, ids_b[0]]] {
            facets.faces.push(face);
            facets.around.push(1.0);
        }
    }

    fn push(&self, face: [u32; 3], corners: Option<[&RowPoint; 3]>, facets: &mut Facets) {
        let Some(corners) = corners else { return };
        let mean = |f: fn(&RowPoint) -> f64| corners.iter().map(|p| f(p)).sum::<f64>() / 3.0;
        let (u, v) = (mean(|p| p.u), mean(|p| p.v));
        let [a, b, c] = corners.map(|p| p.at);
        facets.error_m = facets.error_m.max(square_distance(self.surface.point(u, v), &[a, b, c]).sqrt());
        facets.faces.push(face);
        facets.around.push(u);
    }

    /// Closes the last row with a flat, a few hundredths of a millimetre below the tip. A fan from the tip point itself would be so flat that its sheets
    /// intersect after rounding to single precision.
    fn close_tip(&self, row: &[RowPoint], ids: &[u32], facets: &mut Facets) -> Result<(), SolidError> {
        let end = fill_row(self.surface, row, TIP_SIZE, facets)
            .map_err(|fault| JointFault::Fill { region: FlatRegion::Tip, fault })?;
        let n = ids.len() as u32;
        let id = |i: u32| if i < n { ids[i as usize] } else { end.first_inside + i - n };
        for [a, b, c] in end.faces {
            facets.faces.push([id(a), id(b), id(c)]);
            facets.around.push(0.5);
        }
        facets.tip_drop_m = (self.surface.tip_radius_m() - self.surface.radius_at(row[0].v)).abs();
        Ok(())
    }
}

/// Sizes of the triangles that close the ends, as fractions of the section extent. The flat at the tip is a few millimetres long.
const ROOT_SIZE: f64 = 0.04;
/// Of the flat at the tip. Chosen; no check of this value is on record.
const TIP_SIZE: f64 = 0.1;

/// Triangles in the plane of a row, or on its cylinder, and the number of the first interior vertex.
struct FilledRow {
    faces: Vec<[u32; 3]>,
    first_inside: u32,
}

fn fill_row(
    surface: &BladeSurface,
    row: &[RowPoint],
    share: f64,
    facets: &mut Facets,
) -> Result<FilledRow, FillFault> {
    let sections = surface.sections();
    let outline: Vec<_> = row.iter().map(|p| sections.flat(p.at)).map(|p| [p[0], p[1]]).collect();
    let size = share * row.iter().map(|p| distance(p.at, row[0].at)).fold(0.0, f64::max);
    let z = sections.flat(row[0].at)[2];
    let filled = fill(&[outline], size)?;
    let first_inside = facets.vertices.len() as u32;
    facets.vertices.extend(filled.inside.iter().map(|p| sections.placed([p[0], p[1], z])));
    Ok(FilledRow { faces: filled.faces, first_inside })
}

fn close_root(surface: &BladeSurface, row: &[RowPoint], facets: &mut Facets) -> Result<(), SolidError> {
    let end = fill_row(surface, row, ROOT_SIZE, facets)
        .map_err(|fault| JointFault::Fill { region: FlatRegion::Root, fault })?;
    let n = row.len() as u32;
    let id = |i: u32| if i < n { facets.first_row[i as usize] } else { end.first_inside + i - n };
    let closing: Vec<_> = end.faces.iter().map(|&[a, b, c]| [id(a), id(c), id(b)]).collect();
    for face in closing {
        facets.faces.push(face);
        facets.around.push(0.5);
    }
    Ok(())
}

/// Maps a uniform parameter from -1 (tail, back) over 0 (nose) to 1 (tail, face) to the parameter around a section. Points are dense at nose and tail.
fn u_of(t: f64) -> f64 {
    0.5 + 0.25 * (1.0 - (std::f64::consts::PI * t).cos()) * t.signum()
}

fn chord(surface: &BladeSurface, v: f64) -> f64 {
    distance(surface.point(0.5, v), surface.point(0.0, v))
}

/// Distance of a point from the straight line through two others.
fn off_chord(m: [f64; 3], p: [f64; 3], q: [f64; 3]) -> f64 {
    let (d, e) = (sub(q, p), sub(m, p));
    let n = cross(d, e);
    (dot(n, n) / dot(d, d).max(1e-300)).sqrt()
}

/// The smallest angle of a triangle, rad.
pub(crate) fn least_angle([a, b, c]: [[f64; 3]; 3]) -> f64 {
    let angle = |p: [f64; 3], q: [f64; 3], r: [f64; 3]| {
        let (u, v) = (sub(q, p), sub(r, p));
        let n = cross(u, v);
        norm(n).atan2(dot(u, v))
    };
    angle(a, b, c).min(angle(b, c, a)).min(angle(c, a, b))
}
