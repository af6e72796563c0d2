//! Figures of a fitted section: chord, angle, thickness, camber and the rest, with their standard uncertainty.

use std::f64::consts::PI;

use crate::fit::{Row, SectionFit, combined};
use crate::leading_edge::Nose;
use crate::mean_line::parabola_peak;
use crate::polygon::{add, area, cross, dot, left, longest_chord, norm, scale, sub};
use crate::shape::{FIRST_MEAN, N_PARAMETERS, Shape};
use crate::shape_cubics::{OutlineAt, ShapeCubics};

/// The figures, in the order of [`Figures::values`]. Lengths are in the unit of the shape's edges. Angles are in rad relative to the frame's `x` axis
/// and positive if the nose is turned towards the back. Positions and ratios are fractions of the chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// Length of the chord line.
    Chord,
    /// Angle of the chord line.
    Angle,
    /// Angle of the straight line fitted to the face between 30 % and 90 % of the chord.
    FaceAngle,
    /// Diameter of the greatest inscribed circle.
    Thickness,
    /// Thickness over chord.
    ThicknessRatio,
    /// Position of the greatest thickness.
    ThicknessPosition,
    /// Greatest height of the mean line over chord, positive towards the back.
    CamberRatio,
    /// Its position.
    CamberPosition,
    /// Radius of curvature at the leading edge.
    LeadingEdgeRadius,
    /// Width at the last inscribed circle.
    TrailingEdgeThickness,
    /// Greatest distance between two points of the outline.
    LongestChord,
    /// Its angle.
    LongestChordAngle,
    /// Area inside the outline.
    Area,
    /// Centre of the chord line along the frame's `x`.
    MidChordX,
    /// Centre of the chord line along the frame's `y`.
    MidChordY,
}

/// Number of figures.
pub const FIGURE_COUNT: usize = 15;

/// Values of all figures and their standard uncertainties (zero if unknown).
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Values, indexed by [`Figure`].
    pub values: [f64; FIGURE_COUNT],
    /// Standard uncertainties in the same units.
    pub u: [f64; FIGURE_COUNT],
}

impl Figures {
    /// Value of one figure.
    #[must_use]
    pub fn value(&self, figure: Figure) -> f64 {
        self.values[figure as usize]
    }
    /// Standard uncertainty of one figure.
    #[must_use]
    pub fn u(&self, figure: Figure) -> f64 {
        self.u[figure as usize]
    }
}

/// Samples of the outline for area and longest chord. The error of the area falls with the square of their number: 3e-5 of the area at 400.
const N_OUTLINE: usize = 401;
/// Positions along the chord at which a maximum is searched for before a parabola refines it.
const N_PLACES: usize = 200;
/// Samples of the face line.
const N_FACE: usize = 61;
/// Step of the numerical derivative, chords: large compared with rounding, small compared with the curvature of any figure.
const DERIVATIVE_STEP: f64 = 1e-6;

/// All figures of a shape without uncertainty.
#[must_use]
pub fn figures(shape: &Shape) -> Figures {
    Figures { values: values(shape, &Found::of(shape)), u: [0.0; FIGURE_COUNT] }
}

/// Thickness over chord alone.
pub(crate) fn thickness_ratio(shape: &Shape) -> f64 {
    let cubics = ShapeCubics::of(shape);
    let at = cubics.at_station();
    let thickest = highest(|x| at.thickness(theta(x))[0]);
    let (_, half) = peak_at(thickest, |x| shape.half_thickness(theta(x)));
    let chord = sub(shape.trailing_edge(), Nose::of(shape, &at).leading_edge);
    2.0 * half * shape.chord() / norm(chord)
}

/// What is searched for once per shape. A numerical derivative starts from it and keeps the places: a step too small to matter must not select others.
#[derive(Debug, Clone, Copy)]
struct Found {
    /// Corners of the outline between which the longest chord runs.
    longest: Option<[usize; 2]>,
    nose: Nose,
    /// Indices of the greatest half thickness and of the greatest camber among the places along the chord.
    thickest: usize,
    most_camber: usize,
    rear: RearCircle,
}

impl Found {
    fn of(shape: &Shape) -> Self {
        let cubics = ShapeCubics::of(shape);
        let at = cubics.at_station();
        let nose = Nose::of(shape, &at);
        let frame = Frame::of(shape, nose.leading_edge);
        let cambers: [f64; N_PLACES] =
            std::array::from_fn(|i| frame.above(place(i), at.mean(place(i))[0])[1]);
        let (above, below) = (highest_of(|i| cambers[i]), highest_of(|i| -cambers[i]));
        let height = |best| peak_at(best, |x| frame.camber(x)).1;
        Self {
            longest: longest_ends(shape),
            nose,
            thickest: highest(|x| at.thickness(theta(x))[0]),
            most_camber: if -height(below) <= height(above) { above } else { below },
            rear: RearCircle::of(&at, TAIL_ROOM),
        }
    }
}

/// The chord line by definition, from which camber and positions are counted.
struct Frame<'a> {
    shape: &'a Shape,
    leading_edge: [f64; 2],
    chord: [f64; 2],
}

impl<'a> Frame<'a> {
    fn of(shape: &'a Shape, leading_edge: [f64; 2]) -> Self {
        Self { shape, leading_edge, chord: sub(shape.trailing_edge(), leading_edge) }
    }

    /// Position along the chord line and height above it, chords, of the mean line at the fraction `x` of the shape's own chord.
    fn mean_line(&self, x: f64) -> [f64; 2] {
        self.above(x, self.shape.mean_height(x))
    }

    /// The same of the point at a height above the shape's own chord, chords.
    fn above(&self, x: f64, height: f64) -> [f64; 2] {
        let own = self.shape.chord_vector();
        let across = scale(left(own), height);
        let d = sub(add(add(self.shape.leading_edge(), scale(own, x)), across), self.leading_edge);
        let square = dot(self.chord, self.chord);
        [dot(self.chord, d) / square, cross(self.chord, d) / square]
    }

    fn camber(&self, x: f64) -> f64 {
        self.mean_line(x)[1]
    }
}

impl Shape {
    /// Leading and trailing edge by definition: the ends of the chord line. The parameters' own mean line may end up to a few thousandths of the chord
    /// beside this leading edge.
    #[must_use]
    pub fn chord_ends(&self) -> [[f64; 2]; 2] {
        [Nose::of(self, &ShapeCubics::of(self).at_station()).leading_edge, self.trailing_edge()]
    }
}

impl SectionFit {
    /// Differences of other readings of the two edges from the figures, chords: the leading-edge radius by the circle through the outline's points half
    /// a radius behind the edge, and the trailing-edge thickness at the last circle with a thousandth of the chord behind it.
    ///
    /// The outline's knots are 1 % of the chord apart there, so the curvature at the very nose is extrapolated from behind. This is right for sections with
    /// nearly parabolic noses. For edges drawn with compasses it is too large by a factor of two, and the circle is right.
    #[must_use]
    pub fn edges_read_otherwise(&self) -> [f64; 2] {
        let shape = &self.shape;
        let radius = shape.leading_edge_radius() / shape.chord();
        let behind = (0.5 * radius).clamp(LEAST_BEHIND, 0.05);
        let h = shape.half_thickness(theta(behind));
        let by_circle = (h * h + behind * behind) / (2.0 * behind);
        let cubics = ShapeCubics::of(shape);
        let tail = |room| RearCircle::of(&cubics.at_station(), room).width(shape) / shape.chord();
        [by_circle - radius, tail(10.0 * TAIL_ROOM) - tail(TAIL_ROOM)]
    }

    /// Curvatures of thickness and mean line about their greatest values, per chord: how sharply the places of these are determined. `f`: the figures of the fit.
    #[must_use]
    pub fn curvatures_at_peaks(&self, f: &Figures) -> [f64; 2] {
        let curvature = |x: f64, of: &dyn Fn(f64) -> f64| {
            let x = x.clamp(ABOUT, 1.0 - ABOUT);
            (of(x - ABOUT) - 2.0 * of(x) + of(x + ABOUT)).abs() / (ABOUT * ABOUT)
        };
        [
            curvature(f.value(Figure::ThicknessPosition), &|x| 2.0 * self.shape.half_thickness(theta(x))),
            curvature(f.value(Figure::CamberPosition), &|x| self.shape.mean_height(x)),
        ]
    }

    /// All figures with the standard uncertainty that follows from the covariance of the fit (JCGM 100:2008, 5.2.2, first order,
    /// correlated parameters). Units: chords of the fit's frame, rad.
    #[must_use]
    pub fn figures(&self) -> Figures {
        let found = Found::of(&self.shape);
        let base = values(&self.shape, &found);
        let gradients = gradients(&self.shape, &found);
        let mut u = [0.0; FIGURE_COUNT];
        for (f, slot) in u.iter_mut().enumerate() {
            let mut variance = 0.0;
            for (i, gi) in gradients[f].iter().enumerate() {
                for (j, gj) in gradients[f].iter().enumerate() {
                    variance += gi * self.covariance[(i, j)] * gj;
                }
            }
            *slot = variance.max(0.0).sqrt();
        }
        // A position changes by the error of the slope over the curvature. If chance makes the peak sharp, the curvature over a wider range is more reliable.
        let of_thickness =
            flatter(base[Figure::ThicknessPosition as usize], |x| self.shape.half_thickness(theta(x)));
        let of_camber = flatter(base[Figure::CamberPosition as usize], |x| self.shape.mean_height(x));
        u[Figure::ThicknessPosition as usize] *= of_thickness;
        u[Figure::CamberPosition as usize] *= of_camber;
        Figures { values: base, u }
    }
}

/// Derivatives of all figures with respect to the parameters.
fn gradients(shape: &Shape, found: &Found) -> [[f64; N_PARAMETERS]; FIGURE_COUNT] {
    let mut all = [[0.0; N_PARAMETERS]; FIGURE_COUNT];
    for k in 0..N_PARAMETERS {
        let at = |step: f64| {
            let mut moved = shape.clone();
            moved.p[k] += step;
            values_by_edges(&moved, found)
        };
        for ((figure, up), (_, down)) in at(DERIVATIVE_STEP).into_iter().zip(at(-DERIVATIVE_STEP)) {
            all[figure as usize][k] = (up - down) / (2.0 * DERIVATIVE_STEP);
        }
    }
    let cubics = ShapeCubics::of(shape);
    let at = cubics.at_station();
    let angle = |i: usize| PI * (1.0 - 2.0 * i as f64 / (N_OUTLINE - 1) as f64);
    // A corner of a polygon moves its area by half of the line between its neighbours.
    let outline = shape.outline(N_OUTLINE);
    let corner = |i: usize| {
        let across = sub(outline[(i + N_OUTLINE - 1) % N_OUTLINE], outline[(i + 1) % N_OUTLINE]);
        (Row::of_point(&at, angle(i), scale(left(across), 0.5)), 1.0)
    };
    all[Figure::Area as usize] = combined((0..N_OUTLINE).map(corner));
    // The longest chord keeps its ends. If two corners of a tail are equally far away, even the smallest step could select the other one.
    if let Some(ends) = found.longest {
        let [a, b] = ends.map(|i| outline[i]);
        let d = sub(b, a);
        let length = norm(d);
        let (along, across) = (scale(d, 1.0 / length), scale(left(d), 1.0 / (length * length)));
        let both = |direction: [f64; 2]| {
            combined(
                ends.into_iter()
                    .zip([-1.0, 1.0])
                    .map(|(i, sign)| (Row::of_point(&at, angle(i), direction), sign)),
            )
        };
        all[Figure::LongestChord as usize] = both(along);
        all[Figure::LongestChordAngle as usize] = both(across).map(|v| -v);
    }
    let face = FaceLine::of(shape);
    let (unit, slope) = (face.unit, face.sxy / face.sxx);
    let point = |i: usize| {
        let [x, y] = face.points[i];
        // How the slope changes with the point's place along and across the chord vector.
        let (off, rest) = (x - face.mean[0], y - face.mean[1] - slope * (x - face.mean[0]));
        let (by_x, by_y) = ((rest - slope * off) / face.sxx, off / face.sxx);
        let direction = add(scale(unit, by_x), scale(left(unit), by_y));
        (Row::of_point(&at, FaceLine::angle(i), direction), 1.0)
    };
    // Turning the chord vector turns the whole outline: that part of the slope is the turn itself.
    let by_slope = combined((0..N_FACE).map(point));
    let turn = 1.0 / (1.0 + slope * slope);
    let row = &mut all[Figure::FaceAngle as usize];
    for k in FIRST_MEAN..N_PARAMETERS {
        row[k] = -by_slope[k] * turn;
    }
    let chord = shape.chord();
    let across = scale(left(unit), 1.0 / chord);
    row[..FIRST_MEAN].copy_from_slice(&[across[0], across[1], -across[0], -across[1]]);
    all
}

/// Figures of a shape from what was found for it.
fn values(shape: &Shape, found: &Found) -> [f64; FIGURE_COUNT] {
    let outline = shape.outline(N_OUTLINE);
    let (longest, longest_angle) = longest(shape, &outline, found.longest);
    let mut values = [f64::NAN; FIGURE_COUNT];
    for (figure, value) in values_by_edges(shape, found).into_iter().chain([
        (Figure::FaceAngle, nose_up_angle(FaceLine::of(shape).direction())),
        (Figure::LongestChord, longest),
        (Figure::LongestChordAngle, longest_angle),
        (Figure::Area, area(&outline)),
    ]) {
        values[figure as usize] = value;
    }
    values
}

/// The figures that depend on searches, from what was found for the shape, or for one that differs by a step of the derivative.
fn values_by_edges(shape: &Shape, found: &Found) -> [(Figure, f64); FIGURE_COUNT - 4] {
    let cubics = ShapeCubics::of(shape);
    let at = cubics.at_station();
    let nose = found.nose.after_step(&at);
    let frame = Frame::of(shape, nose.leading_edge);
    let chord = norm(frame.chord);
    let middle = scale(add(nose.leading_edge, shape.trailing_edge()), 0.5);
    let (thickest, half) = peak_at(found.thickest, |x| shape.half_thickness(theta(x)));
    let (most_camber, camber) = peak_at(found.most_camber, |x| frame.camber(x));
    let thickness = 2.0 * half * shape.chord();
    [
        (Figure::Chord, chord),
        (Figure::Angle, nose_up_angle(frame.chord)),
        (Figure::Thickness, thickness),
        (Figure::ThicknessRatio, thickness / chord),
        (Figure::ThicknessPosition, frame.mean_line(thickest)[0]),
        (Figure::CamberRatio, camber),
        (Figure::CamberPosition, frame.mean_line(most_camber)[0]),
        (Figure::LeadingEdgeRadius, shape.leading_edge_radius()),
        (Figure::TrailingEdgeThickness, found.rear.after_step(&at).width(shape)),
        (Figure::MidChordX, middle[0]),
        (Figure::MidChordY, middle[1]),
    ]
}

fn theta(x: f64) -> f64 {
    (1.0 - 2.0 * x).clamp(-1.0, 1.0).acos()
}

/// Angle of a line from nose to tail to the `x` axis, rad, positive if the nose end is higher.
fn nose_up_angle(nose_to_tail: [f64; 2]) -> f64 {
    -nose_to_tail[1].atan2(nose_to_tail[0])
}

/// Index of the place along the chord at which a function is greatest.
fn highest(f: impl Fn(f64) -> f64) -> usize {
    highest_of(|i| f(place(i)))
}

/// The same of a function of the index.
fn highest_of(f: impl Fn(usize) -> f64) -> usize {
    (1..N_PLACES).map(|i| (i, f(i))).max_by(|a, b| a.1.total_cmp(&b.1)).map_or(1, |(i, _)| i)
}

/// Position and value of an extreme of a smooth function near a place.
fn peak_at(best: usize, f: impl Fn(f64) -> f64) -> (f64, f64) {
    let xs = [place(best - 1), place(best), place(best + 1)];
    parabola_peak(xs, xs.map(f))
}

fn place(i: usize) -> f64 {
    i as f64 / N_PLACES as f64
}

/// Half widths, chords, over which the curvature at a maximum is evaluated: that of the search, and a wider one.
const TOP: f64 = 1.0 / N_PLACES as f64;
/// The wider one. Chosen; no check of this value is on record.
const ABOUT: f64 = 0.1;

/// Ratio of the curvature at the maximum to that over a wider range, at least 1.
fn flatter(position: f64, f: impl Fn(f64) -> f64) -> f64 {
    let x = position.clamp(ABOUT, 1.0 - ABOUT);
    let curvature = |half: f64| (f(x - half) - 2.0 * f(x) + f(x + half)).abs() / (half * half);
    (curvature(TOP) / curvature(ABOUT).max(f64::MIN_POSITIVE)).clamp(1.0, MOST_FLATTER)
}

/// Greatest such ratio. Beyond it the peak is a real edge instead of chance.
const MOST_FLATTER: f64 = 5.0;

/// The straight line fitted to the face between 30 % and 90 % of the chord (least squares of the distance normal to the chord line).
struct FaceLine {
    /// Direction of the chord vector, and the points along and across it from the leading edge.
    unit: [f64; 2],
    points: [[f64; 2]; N_FACE],
    mean: [f64; 2],
    sxx: f64,
    sxy: f64,
}

impl FaceLine {
    /// Angle on the outline of one of its points.
    fn angle(i: usize) -> f64 {
        -theta(0.3 + 0.6 * i as f64 / (N_FACE - 1) as f64)
    }

    fn of(shape: &Shape) -> Self {
        let unit = scale(shape.chord_vector(), 1.0 / shape.chord());
        let cubics = ShapeCubics::of(shape);
        let at = cubics.at_station();
        let points = std::array::from_fn(|i| {
            let d = sub(at.point(Self::angle(i)), shape.leading_edge());
            [dot(d, unit), cross(unit, d)]
        });
        let n = points.len() as f64;
        let mean = points.iter().fold([0.0; 2], |m, p| [m[0] + p[0] / n, m[1] + p[1] / n]);
        let (sxx, sxy) = points.iter().fold((0.0, 0.0), |(a, b), p| {
            (a + (p[0] - mean[0]).powi(2), b + (p[0] - mean[0]) * (p[1] - mean[1]))
        });
        Self { unit, points, mean, sxx, sxy }
    }

    /// Its direction from nose to tail.
    fn direction(&self) -> [f64; 2] {
        add(self.unit, scale(left(self.unit), self.sxy / self.sxx))
    }
}

/// Distance from the last inscribed circle to the end of the chord, chords.
const TAIL_ROOM: f64 = 1e-4;
/// Least distance behind the leading edge at which its circle is evaluated, chords.
const LEAST_BEHIND: f64 = 1e-3;
/// Halvings of the search for the rearmost circle: its place is found to 3e-8 chords.
const REAR_HALVINGS: usize = 24;
/// Half width over which the slope at its place is taken, and the greatest step from there, chords: less than the tail's room.
const REAR_STEP: f64 = 5e-5;
/// Least slope with which a step is made. The space behind falls as the place grows, so that it is near 1 on a tapering tail.
const LEAST_REAR_SLOPE: f64 = 0.1;

/// The rearmost inscribed circle that fits before the end of the tail; its width is the thickness of the trailing edge.
#[derive(Debug, Clone, Copy)]
struct RearCircle {
    /// Place of its centre, and the distance from it to the end of the chord, chords.
    x: f64,
    room: f64,
    /// How fast the excess of its radius over the space behind it grows with the place.
    slope: f64,
}

impl RearCircle {
    /// By bisection of the rear half of the chord.
    fn of(shape: &OutlineAt<'_>, room: f64) -> Self {
        let excess = |x: f64| excess_radius(shape, x, room);
        let (mut low, mut high) = (0.5, 1.0);
        for _ in 0..REAR_HALVINGS {
            let middle = 0.5 * (low + high);
            if excess(middle) < 0.0 { low = middle } else { high = middle }
        }
        let step = REAR_STEP.min(1.0 - low);
        Self { x: low, room, slope: (excess(low + step) - excess(low - step)) / (2.0 * step) }
    }

    /// That of a shape that differs by a step of the derivative: one step of Newton's method, whose error is of the second order. A place where the radius
    /// jumps stays.
    fn after_step(&self, shape: &OutlineAt<'_>) -> Self {
        let excess = excess_radius(shape, self.x, self.room);
        let step = if LEAST_REAR_SLOPE < self.slope { -excess / self.slope } else { 0.0 };
        Self { x: (self.x + step.clamp(-REAR_STEP, REAR_STEP)).clamp(0.5, 1.0), ..*self }
    }

    fn width(&self, shape: &Shape) -> f64 {
        // The thickness of a tail that is held shut may be negative by a hundred-thousandth of the chord.
        2.0 * shape.half_thickness(theta(self.x)).max(0.0) * shape.chord()
    }
}

/// Radius of the inscribed circle at a place minus the space behind it, chords: below zero where it fits.
fn excess_radius(at: &OutlineAt<'_>, x: f64, room: f64) -> f64 {
    at.inscribed_radius(x) - (1.0 - x - room)
}

/// Corners of the outline between which the longest chord runs.
fn longest_ends(shape: &Shape) -> Option<[usize; 2]> {
    let (chord, outline) = (shape.chord_vector(), shape.outline(N_OUTLINE));
    // Its ends lie in the first and the last quarter of the chord. Other points give no longer one unless the section is nearly round.
    let ends: Vec<_> = outline
        .iter()
        .copied()
        .filter(|&p| 0.25 < (dot(sub(p, shape.leading_edge()), chord) / dot(chord, chord) - 0.5).abs())
        .collect();
    let (a, b) = longest_chord(&ends)?;
    let corner = |p: [f64; 2]| outline.iter().position(|q| norm(sub(p, *q)) <= 0.0);
    Some([corner(a)?, corner(b)?])
}

/// The chord from the front end of the longest one to the other corner of a tail of the given width, in the unit of the shape: by how much it is shorter, and by what angle in rad it lies
/// apart. `None` where there is no such corner.
#[must_use]
pub fn rival_of_longest_chord(shape: &Shape, width: f64) -> Option<[f64; 2]> {
    let outline = shape.outline(N_OUTLINE);
    let along = |p: [f64; 2]| dot(sub(p, shape.leading_edge()), shape.chord_vector());
    let [a, b] = longest_ends(shape)?.map(|i| outline[i]);
    let (front, rear) = if along(a) < along(b) { (a, b) } else { (b, a) };
    let aside = |p: &[f64; 2]| (0.5 * width..=1.5 * width).contains(&norm(sub(*p, rear)));
    let far = |p: [f64; 2]| norm(sub(p, front));
    let other = outline.into_iter().filter(aside).max_by(|p, q| far(*p).total_cmp(&far(*q)))?;
    let (d, e) = (sub(rear, front), sub(other, front));
    Some([norm(d) - norm(e), cross(d, e).abs().atan2(dot(d, e))])
}

/// Longest chord and its angle.
fn longest(shape: &Shape, outline: &[[f64; 2]], ends: Option<[usize; 2]>) -> (f64, f64) {
    let Some([a, b]) = ends.map(|ends| ends.map(|i| outline[i])) else { return (0.0, 0.0) };
    let d = sub(b, a);
    let nose_to_tail = if dot(d, shape.chord_vector()) < 0.0 { scale(d, -1.0) } else { d };
    (norm(d), nose_up_angle(nose_to_tail))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_longest_chord_could_end_at_the_other_corner_of_a_blunt_tail() {
        let mut shape = Shape::plate([0.0, 0.0], [1.0, 0.0]);
        shape.p.iter_mut().skip(FIRST_MEAN + 16).for_each(|v| *v = 0.05);
        let outline = shape.outline(N_OUTLINE);
        let corners = sub(outline[0], outline[N_OUTLINE - 1]);
        let width = norm(corners);
        assert!(0.001 < width, "{width}");
        let ends = longest_ends(&shape);
        let (length, _) = longest(&shape, &outline, ends);
        let [shorter, turn] = rival_of_longest_chord(&shape, width).unwrap();
        // A tail square to a straight mean line: both corners are about as far away, and a width apart.
        assert!((0.0..0.05 * width).contains(&shorter), "{shorter} of {width}");
        assert!((turn * length / width - 1.0).abs() < 0.1, "{turn} for {width} of {length}");
        // A plate has only points on the same line.
        assert!(rival_of_longest_chord(&Shape::plate([0.0; 2], [1.0, 0.0]), 0.01).unwrap()[1] < 1e-12);
    }

    /// The derivatives in closed form against differences of the figures.
    #[test]
    fn gradients_are_those_of_the_figures() {
        let mut shape = Shape::plate([0.01, 0.02], [1.01, -0.03]);
        for (i, v) in shape.p.iter_mut().enumerate().skip(FIRST_MEAN) {
            *v = if i < FIRST_MEAN + 16 {
                0.002 * (i as f64).sin() + 0.03
            } else {
                0.05 + 0.01 * (i as f64).cos()
            };
        }
        let found = Found::of(&shape);
        let all = gradients(&shape, &found);
        for k in 0..N_PARAMETERS {
            let at = |step: f64| {
                let mut moved = shape.clone();
                moved.p[k] += step;
                values(&moved, &found)
            };
            let (up, down) = (at(DERIVATIVE_STEP), at(-DERIVATIVE_STEP));
            for f in 0..FIGURE_COUNT {
                let numeric = (up[f] - down[f]) / (2.0 * DERIVATIVE_STEP);
                assert!(
                    (numeric - all[f][k]).abs() < 1e-7,
                    "figure {f}, parameter {k}: {numeric} {}",
                    all[f][k]
                );
            }
        }
    }
}
