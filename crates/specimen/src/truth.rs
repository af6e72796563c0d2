//! Figures of a station by the definitions, from an exact outline and its mean line.

use bladeform_numeric::vector::distance_hypot;
use bladeform_section::{Family, InscribedCircle, MeanLine, area, face_line_angle, longest_chord, mean_line};

/// Figures of one station as the definitions have them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truth {
    /// Chord, m.
    pub chord_m: f64,
    /// Blade angle, deg.
    pub blade_angle_deg: f64,
    /// Face angle, deg.
    pub face_angle_deg: f64,
    /// Thickness over chord.
    pub thickness_ratio: f64,
    /// Camber over chord.
    pub camber_ratio: f64,
    /// Area, m^2.
    pub area_m2: f64,
    /// Diameter of the greatest inscribed circle, m.
    pub thickness_m: f64,
    /// Its position, fraction of the chord.
    pub thickness_position: f64,
    /// Position of the greatest camber, fraction of the chord.
    pub camber_position: f64,
    /// Greatest distance of two points of the outline, m.
    pub longest_chord_m: f64,
    /// Its angle, deg.
    pub longest_chord_angle_deg: f64,
    /// Middle of the chord line in blade axes, m.
    pub mid_chord_m: [f64; 2],
    /// Radius of curvature at the leading edge, m; `NaN` where the family is given by ordinates, which do not say.
    pub leading_edge_radius_m: f64,
    /// Diameter of the last inscribed circle before the tail's end, m.
    pub trailing_edge_thickness_m: f64,
}

/// An exact section one chord of its own long, and its position.
#[derive(Debug)]
pub(crate) struct ExactSection {
    /// Closed anticlockwise, from the tail over the back to the nose and along the face; fractions of the own chord.
    pub(crate) outline: Vec<[f64; 2]>,
    /// Its mean line.
    pub(crate) line: MeanLine,
    /// Radius of curvature at the leading edge, fraction of the own chord; `NaN` where there is none.
    pub(crate) nose_radius: f64,
    /// Length of the own chord, m.
    pub(crate) chord_m: f64,
    /// Angle of the own chord line, rad.
    pub(crate) angle_rad: f64,
}

/// Stands for the mean line of an outline in which no circle touches both sides.
fn no_mean_line() -> MeanLine {
    MeanLine { leading_edge: [f64::NAN; 2], trailing_edge: [f64::NAN; 2], circles: vec![] }
}

/// Mean line of an outline whose corner `nose` is near the leading edge. The two edges are those of the definition, as for any outline. The circles are the
/// family's `own` if it has any, since they are closer together.
pub(crate) fn mean_line_of(outline: &[[f64; 2]], nose: usize, own: Option<MeanLine>) -> MeanLine {
    let found = mean_line(outline, nose).unwrap_or_else(|_| no_mean_line());
    let circles = own.map(|own| own.circles).unwrap_or(found.circles);
    MeanLine { circles, ..found }
}

/// The circles of a family in closed form; `None` for the others.
pub(crate) fn own_mean_line(family: &Family, n: usize) -> Option<MeanLine> {
    match family {
        Family::FourDigit { .. } | Family::CircularArcs { .. } => family.mean_line(n).ok(),
        _ => None,
    }
}

impl ExactSection {
    /// Figures by the definitions; `in_blade_axes` puts a point of the outline into blade axes, m.
    pub(crate) fn truth(&self, in_blade_axes: impl Fn([f64; 2]) -> [f64; 2]) -> Truth {
        let Self { outline, line, nose_radius, chord_m: chord, angle_rad: angle } = self;
        let vector = line.chord_vector();
        let turn = -vector[1].atan2(vector[0]);
        let longest = longest_chord(outline).map_or([f64::NAN; 2], |(a, b)| {
            let (nose, tail) = if a[0] < b[0] { (a, b) } else { (b, a) };
            [tail[0] - nose[0], tail[1] - nose[1]]
        });
        let (camber_ratio, camber_position) = line.camber();
        let before_the_end = |c: &&InscribedCircle| c.centre[0] + c.radius <= 1.0 + 1e-9;
        let last = line.circles.iter().rev().find(before_the_end).map_or(f64::NAN, |c| 2.0 * c.radius);
        Truth {
            leading_edge_radius_m: nose_radius * chord,
            trailing_edge_thickness_m: last * chord,
            chord_m: line.chord() * chord,
            blade_angle_deg: (angle + turn).to_degrees(),
            thickness_m: line.thickness() * chord,
            thickness_position: line.thickness_position(),
            camber_position,
            longest_chord_m: longest[0].hypot(longest[1]) * chord,
            longest_chord_angle_deg: (angle - longest[1].atan2(longest[0])).to_degrees(),
            mid_chord_m: in_blade_axes([0, 1].map(|k| 0.5 * (line.leading_edge[k] + line.trailing_edge[k]))),
            face_angle_deg: (angle + face_turn(outline, line)).to_degrees(),
            thickness_ratio: line.thickness() / line.chord(),
            camber_ratio,
            area_m2: area(outline) * chord * chord,
        }
    }
}

/// Angle of the face line against the family's own chord line, rad.
fn face_turn(outline: &[[f64; 2]], line: &MeanLine) -> f64 {
    let v = line.chord_vector();
    let (c, s) = (v[0] / line.chord(), v[1] / line.chord());
    let nose = outline.iter().enumerate().min_by(|a, b| {
        distance_hypot(*a.1, line.leading_edge).total_cmp(&distance_hypot(*b.1, line.leading_edge))
    });
    let first = nose.map_or(0, |(i, _)| i);
    // The straight line is fitted evenly along the chord, so the unevenly spaced corners are sampled anew.
    let local: Vec<_> = outline[first..]
        .iter()
        .map(|p| [p[0] - line.leading_edge[0], p[1] - line.leading_edge[1]])
        .map(|d| [d[0] * c + d[1] * s, d[1] * c - d[0] * s])
        .collect();
    let at = |x: f64| {
        let i = local.partition_point(|p| p[0] < x).clamp(1, local.len() - 1);
        let (a, b) = (local[i - 1], local[i]);
        [x, a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0])]
    };
    let even: Vec<_> = (0..=600).map(|i| at(line.chord() * (0.3 + 0.6 * f64::from(i) / 600.0))).collect();
    face_line_angle(&even, line.chord()).unwrap_or(f64::NAN) - s.atan2(c)
}
