//! Mean line of any closed polygon, directly from the definition: the locus of the centres of inscribed circles that touch back and face.

use crate::leading_edge::of_polygon;
use crate::polygon::{add, cross, dot, left, norm, scale, sub};

/// A circle inside the outline that touches back and face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InscribedCircle {
    /// Centre, in the outline's unit.
    pub centre: [f64; 2],
    /// Radius, in the outline's unit.
    pub radius: f64,
}

/// Locus of the centres of the inscribed circles, continued to the outline at both ends: at the nose along the parabola midway between back and face
/// from 4 to 24 % of the chord, at the tail along the tangent of the last ones.
#[derive(Debug, Clone, PartialEq)]
pub struct MeanLine {
    /// Where the mean line meets the outline at the nose.
    pub leading_edge: [f64; 2],
    /// Where the mean line meets the outline at the tail.
    pub trailing_edge: [f64; 2],
    /// The circles, from nose to tail.
    pub circles: Vec<InscribedCircle>,
}

/// The reason why an outline has no mean line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MeanLineError {
    /// Too few corners for circles to touch.
    #[error("the outline has {0} points; a mean line needs at least 20")]
    TooFewPoints(usize),
    /// No circle touches both sides.
    #[error("no inscribed circle touches both back and face of this outline")]
    NoCircles,
}

/// Number of circles along the chord. The spacing is cosine-like, so that nose and tail are well covered.
const N_CIRCLES: usize = 120;
/// How often the split between back and face is moved to the edges just found. The error falls by a factor of over ten each time.
const N_SPLITS: usize = 4;
/// Least sine of the angle at which a circle must touch back and face (30 deg). Closer to the apex of the nose the two contact
/// points merge and the centre is no longer determined. At a blunt tail a contact point further aft is on the flat end.
const TOUCH: f64 = 0.5;
/// Most steps of the search for a centre. About ten are needed.
const MOST_STEPS: usize = 60;
/// A centre is accepted if its possible error, or the difference of its two distances, is below this fraction of the chord.
const FOUND: f64 = 1e-15;

/// Mean line of a closed anticlockwise polygon whose `leading` corner is near the leading edge. `outline`: n x 2, n > 20, any unit.
///
/// The trailing end is the corner farthest from the leading one. Then both ends are refined.
///
/// # Errors
/// [`MeanLineError`] if the polygon is too coarse or no circle touches both sides.
pub fn mean_line(outline: &[[f64; 2]], leading: usize) -> Result<MeanLine, MeanLineError> {
    if outline.len() < 20 {
        return Err(MeanLineError::TooFewPoints(outline.len()));
    }
    let start = outline[leading % outline.len()];
    let mut ends = [start, farthest(outline, start)];
    for _ in 1..N_SPLITS {
        ends = Split::at(outline, ends).ends()?;
    }
    Split::at(outline, ends).mean_line()
}

impl MeanLine {
    /// Vector of the chord line, leading to trailing edge.
    #[must_use]
    pub fn chord_vector(&self) -> [f64; 2] {
        sub(self.trailing_edge, self.leading_edge)
    }
    /// Length of the chord line, in the outline's unit.
    #[must_use]
    pub fn chord(&self) -> f64 {
        norm(self.chord_vector())
    }
    /// Diameter of the greatest inscribed circle, in the outline's unit, by a parabola through the three greatest.
    #[must_use]
    pub fn thickness(&self) -> f64 {
        2.0 * self.peak(|c| c.radius).1
    }
    /// Position of the greatest circle, as a fraction of the chord.
    #[must_use]
    pub fn thickness_position(&self) -> f64 {
        self.peak(|c| c.radius).0
    }
    /// Greatest distance of the mean line from the chord line as a fraction of the chord, positive towards the back; and its position, a fraction of the chord.
    #[must_use]
    pub fn camber(&self) -> (f64, f64) {
        let chord = self.chord();
        let height = |c: &InscribedCircle| {
            cross(self.chord_vector(), sub(c.centre, self.leading_edge)) / (chord * chord)
        };
        let (above, below) = (self.peak(height), self.peak(|c| -height(c)));
        if below.1 <= above.1 { (above.1, above.0) } else { (-below.1, below.0) }
    }
    /// Position along the chord and value of the maximum of `f` over the circles, refined by a parabola.
    fn peak(&self, f: impl Fn(&InscribedCircle) -> f64) -> (f64, f64) {
        let chord = self.chord_vector();
        let x = |c: &InscribedCircle| dot(sub(c.centre, self.leading_edge), chord) / dot(chord, chord);
        let values: Vec<f64> = self.circles.iter().map(&f).collect();
        let best = (0..values.len()).max_by(|&a, &b| values[a].total_cmp(&values[b])).unwrap_or(0);
        if best == 0 || best + 1 >= values.len() {
            return (x(&self.circles[best]), values[best]);
        }
        let xs = [x(&self.circles[best - 1]), x(&self.circles[best]), x(&self.circles[best + 1])];
        parabola_peak(xs, [values[best - 1], values[best], values[best + 1]])
    }
}

/// Abscissa and value of the vertex of the parabola through three points, limited to their range.
pub(crate) fn parabola_peak(x: [f64; 3], y: [f64; 3]) -> (f64, f64) {
    let (d0, d1) = ((y[1] - y[0]) / (x[1] - x[0]), (y[2] - y[1]) / (x[2] - x[1]));
    let bend = (d1 - d0) / (x[2] - x[0]);
    if bend == 0.0 {
        return (x[1], y[1]);
    }
    let at = ((x[0] + x[1]) / 2.0 - d0 / (2.0 * bend)).clamp(x[0], x[2]);
    (at, y[0] + d0 * (at - x[0]) + bend * (at - x[0]) * (at - x[1]))
}

fn farthest(outline: &[[f64; 2]], from: [f64; 2]) -> [f64; 2] {
    outline.iter().copied().max_by(|&a, &b| norm(sub(a, from)).total_cmp(&norm(sub(b, from)))).unwrap_or(from)
}

/// An outline that is split into back and face at the corners nearest to `ends`.
struct Split<'a> {
    outline: &'a [[f64; 2]],
    ends: [[f64; 2]; 2],
    chord: [f64; 2],
    back: Vec<[f64; 2]>,
    face: Vec<[f64; 2]>,
}

/// Fewest circles that make a mean line.
const LEAST_CIRCLES: usize = 5;

impl<'a> Split<'a> {
    fn at(outline: &'a [[f64; 2]], ends: [[f64; 2]; 2]) -> Self {
        let (nose, tail) = (nearest_index(outline, ends[0]), nearest_index(outline, ends[1]));
        // Anticlockwise with the back above: from the nose over the face to the tail, then back over the top.
        let (face, back) = (chain(outline, nose, tail), chain(outline, tail, nose));
        Self { outline, ends, chord: sub(ends[1], ends[0]), back, face }
    }

    /// Circle number `k` from the nose.
    fn circle(&self, k: usize) -> Option<InscribedCircle> {
        let Self { ends, chord, back, face, .. } = self;
        let up = scale(left(*chord), 1.0 / norm(*chord));
        circle_at(back, face, add(ends[0], scale(*chord, place(k))), up, norm(*chord))
    }

    /// Where a parabola between the sides meets the nose.
    fn nose(&self) -> Option<[f64; 2]> {
        of_polygon(self.outline, [&self.face, &self.back], self.ends[0], self.chord)
    }

    fn mean_line(&self) -> Result<MeanLine, MeanLineError> {
        let circles: Vec<_> = (1..N_CIRCLES).filter_map(|k| self.circle(k)).collect();
        if circles.len() < LEAST_CIRCLES {
            return Err(MeanLineError::NoCircles);
        }
        let leading_edge = self.nose().unwrap_or_else(|| carry_on(self.outline, &circles, self.chord, false));
        let trailing_edge = carry_on(self.outline, &circles, self.chord, true);
        Ok(MeanLine { leading_edge, trailing_edge, circles })
    }

    /// The ends of that mean line. Only the circles near the tail are needed for them.
    fn ends(&self) -> Result<[[f64; 2]; 2], MeanLineError> {
        let Some(leading_edge) = self.nose() else {
            return self.mean_line().map(|line| [line.leading_edge, line.trailing_edge]);
        };
        let mut circles = Vec::new();
        for circle in (1..N_CIRCLES).rev().filter_map(|k| self.circle(k)) {
            circles.push(circle);
            if LEAST_CIRCLES <= circles.len() && !is_near(&circles[0], &circle) {
                break;
            }
        }
        if circles.len() < LEAST_CIRCLES {
            return Err(MeanLineError::NoCircles);
        }
        circles.reverse();
        Ok([leading_edge, carry_on(self.outline, &circles, self.chord, true)])
    }
}

/// Whether a circle is so near to the last one that the tangent there depends on it.
fn is_near(last: &InscribedCircle, circle: &InscribedCircle) -> bool {
    norm(sub(circle.centre, last.centre)) <= 2.0 * last.radius
}

/// Position of a circle along the chord, cosine-like.
fn place(k: usize) -> f64 {
    0.5 * (1.0 - (std::f64::consts::PI * k as f64 / N_CIRCLES as f64).cos())
}

/// Extrapolates the mean line along its tangent from its last centre to the outline, or from its first if the section is too short or too round for lines
/// across it.
fn carry_on(outline: &[[f64; 2]], circles: &[InscribedCircle], chord: [f64; 2], tail: bool) -> [f64; 2] {
    let end = if tail { circles[circles.len() - 1] } else { circles[0] };
    let tangent = end_tangent(circles, chord, tail);
    ray_hit(outline, end.centre, tangent).unwrap_or_else(|| add(end.centre, scale(tangent, end.radius)))
}

/// Outward tangent at an end, from a parabola fitted to the centres within two radii of it, or to the five nearest.
fn end_tangent(circles: &[InscribedCircle], chord: [f64; 2], tail: bool) -> [f64; 2] {
    let along = scale(chord, if tail { 1.0 } else { -1.0 } / norm(chord));
    let ordered: Vec<_> = if tail { circles.iter().rev().collect() } else { circles.iter().collect() };
    let near = ordered.iter().take_while(|c| is_near(ordered[0], c)).count();
    let local: Vec<_> = ordered[..near.max(LEAST_CIRCLES).min(ordered.len())]
        .iter()
        .map(|c| sub(c.centre, ordered[0].centre))
        .map(|d| (dot(d, along), dot(d, left(along))))
        .collect();
    // Least squares of y = a x + b x^2 through the end itself.
    let sum = |f: &dyn Fn(f64, f64) -> f64| local.iter().map(|&(x, y)| f(x, y)).sum::<f64>();
    let (s2, s3, s4) = (sum(&|x, _| x * x), sum(&|x, _| x * x * x), sum(&|x, _| x.powi(4)));
    let (t1, t2) = (sum(&|x, y| x * y), sum(&|x, y| x * x * y));
    let det = s2 * s4 - s3 * s3;
    let slope = if det == 0.0 { 0.0 } else { (t1 * s4 - t2 * s3) / det };
    let direction = add(along, scale(left(along), slope));
    scale(direction, 1.0 / norm(direction))
}

/// First side of the closed polygon hit by the ray, or `None`.
fn ray_hit(outline: &[[f64; 2]], from: [f64; 2], direction: [f64; 2]) -> Option<[f64; 2]> {
    let sides = outline.iter().enumerate().map(|(i, &a)| [a, outline[(i + 1) % outline.len()]]);
    first_hit(sides, from, direction)
}

fn first_hit(
    sides: impl Iterator<Item = [[f64; 2]; 2]>,
    from: [f64; 2],
    direction: [f64; 2],
) -> Option<[f64; 2]> {
    let mut best: Option<f64> = None;
    for [a, b] in sides {
        let (side, gap) = (sub(b, a), sub(a, from));
        let det = cross(direction, side);
        let (along, on_side) = (cross(gap, side) / det, cross(gap, direction) / det);
        if 0.0 < along && (0.0..=1.0).contains(&on_side) && best.is_none_or(|d| along < d) {
            best = Some(along);
        }
    }
    best.map(|d| add(from, scale(direction, d)))
}

/// The circle with its centre on the line `foot + s * up` at equal distance from back and face. `None` if it touches
/// nose or tail instead: there the inscribed circles of the outline end.
fn circle_at(
    back: &[[f64; 2]],
    face: &[[f64; 2]],
    foot: [f64; 2],
    up: [f64; 2],
    chord: f64,
) -> Option<InscribedCircle> {
    let span = |c: &[[f64; 2]]| crossing(c, foot, up);
    let (mut low, mut high) = (span(face)?, span(back)?);
    // The value is negative closer to the face. On a side itself the distance from that side is zero.
    let off = |s: f64| {
        let centre = add(foot, scale(up, s));
        distance(face, centre).0 - distance(back, centre).0
    };
    let (mut at_low, mut at_high) = (off(low), off(high));
    // False position. If one end stays twice, its value is halved (the "Illinois" rule: M. Dowell and P. Jarratt,
    // BIT 11 (1971), 168-174).
    let (mut s, mut was_low) = (0.5 * (low + high), None);
    for _ in 0..MOST_STEPS {
        let at = off(s);
        if at.abs() <= FOUND * chord || (high - low).abs() <= FOUND * chord {
            break;
        }
        if at < 0.0 {
            (low, at_low) = (s, at);
            at_high *= if was_low == Some(true) { 0.5 } else { 1.0 };
        } else {
            (high, at_high) = (s, at);
            at_low *= if was_low == Some(false) { 0.5 } else { 1.0 };
        }
        was_low = Some(at < 0.0);
        let step = (low * at_high - high * at_low) / (at_high - at_low);
        s = if step.is_finite() { step } else { 0.5 * (low + high) };
    }
    let centre = add(foot, scale(up, s));
    let (to_back, to_face) = (distance(back, centre), distance(face, centre));
    let equal = (to_back.0 - to_face.0).abs() < 1e-6 * chord;
    let sideways = |touch: (f64, [f64; 2])| TOUCH * touch.0 <= dot(up, sub(touch.1, centre)).abs();
    (equal && sideways(to_back) && sideways(to_face))
        .then_some(InscribedCircle { centre, radius: 0.5 * (to_back.0 + to_face.0) })
}

/// Distance from the chord line at which a chain crosses the line `foot + s * up`.
fn crossing(chain: &[[f64; 2]], foot: [f64; 2], up: [f64; 2]) -> Option<f64> {
    let along = |p: [f64; 2]| cross(up, sub(p, foot));
    chain.windows(2).find_map(|w| {
        let (a, b) = (along(w[0]), along(w[1]));
        (a.min(b) <= 0.0 && 0.0 <= a.max(b) && a < b || b < a && b <= 0.0 && 0.0 <= a).then(|| {
            let t = a / (a - b);
            dot(up, sub(add(w[0], scale(sub(w[1], w[0]), t)), foot))
        })
    })
}

/// Distance from a point to an open chain, and the nearest point of the chain.
fn distance(chain: &[[f64; 2]], p: [f64; 2]) -> (f64, [f64; 2]) {
    let (mut best, mut touch) = (f64::INFINITY, p);
    for w in chain.windows(2) {
        let side = sub(w[1], w[0]);
        let t = (dot(sub(p, w[0]), side) / dot(side, side)).clamp(0.0, 1.0);
        let foot = add(w[0], scale(side, t));
        let d = norm(sub(p, foot));
        if d < best {
            (best, touch) = (d, foot);
        }
    }
    (best, touch)
}

fn nearest_index(outline: &[[f64; 2]], p: [f64; 2]) -> usize {
    (0..outline.len())
        .min_by(|&a, &b| norm(sub(outline[a], p)).total_cmp(&norm(sub(outline[b], p))))
        .unwrap_or(0)
}

/// Corners from index `from` to index `to`, cyclically.
fn chain(outline: &[[f64; 2]], from: usize, to: usize) -> Vec<[f64; 2]> {
    let n = outline.len();
    let count = (to + n - from) % n;
    (0..=count).map(|k| outline[(from + k) % n]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ellipse_has_a_straight_mean_line_from_end_to_end() {
        let outline: Vec<_> = (0..4000)
            .map(|i| std::f64::consts::TAU * f64::from(i) / 4000.0)
            .map(|t| [0.5 - 0.5 * t.cos(), -0.1 * t.sin()])
            .collect();
        let line = mean_line(&outline, 3).unwrap();
        assert!((line.chord() - 1.0).abs() < 1e-5, "chord {}", line.chord());
        assert!((line.thickness() - 0.2).abs() < 1e-5, "thickness {}", line.thickness());
        assert!(line.camber().0.abs() < 1e-6);
    }

    use crate::Family;

    /// Angle of the chord line against the family's own, deg.
    fn turn_deg(family: Family, n: usize) -> f64 {
        let v = mean_line(&family.outline(n), family.leading_index(n)).unwrap().chord_vector();
        v[1].atan2(v[0]).to_degrees()
    }

    const THICKNESSES: [f64; 6] = [0.06, 0.09, 0.12, 0.15, 0.18, 0.20];

    /// Sources of the sections: at the variants of [`Family`].
    fn flat_faced(thickness: f64) -> [Family; 4] {
        let arcs = |edge_radius: f64| Family::CircularArcs {
            back_height: thickness - 2.0 * edge_radius,
            face_height: 0.0,
            edge_radius,
        };
        [Family::ClarkY { thickness }, Family::Raf6 { thickness }, arcs(0.004), arcs(0.008)]
    }

    /// Source: NACA Report 460, 1933: the chord line joins the ends of the mean line.
    fn four_digit(thickness: f64) -> [Family; 6] {
        [(0.0, 0.4), (0.02, 0.4), (0.04, 0.4), (0.06, 0.4), (0.03, 0.3), (0.06, 0.5)]
            .map(|(camber, position)| Family::FourDigit { camber, position, thickness })
    }

    #[test]
    fn the_chord_line_hardly_depends_on_the_number_of_corners() {
        for family in
            [0.06, 0.12, 0.20].iter().flat_map(|&t| [four_digit(t)[3]].into_iter().chain(flat_faced(t)))
        {
            let (few, many) = (turn_deg(family, 400), turn_deg(family, 12_000));
            assert!((few - many).abs() < 0.005, "{}: {few:.4} {many:.4} deg", family.name());
        }
    }

    /// The bounds are what the definition gives, not what was wanted (0.05 deg): a mean line behind 4 % of the chord does not tell the chord line of tables, which
    /// goes through the foremost point. `docs/decisions/027-leading-edge.md` has the figures.
    #[test]
    fn published_chord_lines_of_flat_faced_sections_are_missed_by_known_amounts() {
        for &thickness in &THICKNESSES {
            let bounds = [if thickness < 0.13 { 0.2 } else { 1.0 }, 0.6, 0.005, 0.005];
            for (family, bound) in flat_faced(thickness).into_iter().zip(bounds) {
                let turn = turn_deg(family, 2000);
                assert!(turn.abs() < bound, "{}: {turn:.4} deg", family.name());
            }
        }
    }

    #[test]
    fn published_chord_lines_of_four_digit_sections_are_found() {
        for family in THICKNESSES.iter().flat_map(|&t| four_digit(t)) {
            let turn = turn_deg(family, 2000);
            assert!(turn.abs() < 0.02, "{}: {turn:.4} deg", family.name());
        }
    }
}
