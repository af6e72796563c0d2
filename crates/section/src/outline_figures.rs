//! Figures of any closed outline by the definitions alone, without a model of what sections look like.

use crate::figures::{FIGURE_COUNT, Figures};
use crate::mean_line::{MeanLine, MeanLineError, mean_line};
use crate::polygon::{add, area, cross, dot, face_line_angle, longest_chord, norm, scale, sub};

/// Points at which the face line is sampled, evenly along the chord: the corners of an outline are not even.
const N_FACE: usize = 200;

/// All figures of a closed anticlockwise polygon with the back above, whose corner `leading` is near the leading edge. `outline`: n x 2, n > 20, any unit; angles in rad. The radius of
/// the leading edge is not a number: corners do not show it. The uncertainties are zero.
///
/// # Errors
/// [`MeanLineError`] if the polygon is too coarse or no circle touches both sides.
pub fn outline_figures(outline: &[[f64; 2]], leading: usize) -> Result<Figures, MeanLineError> {
    let line = mean_line(outline, leading)?;
    let (camber, camber_position) = line.camber();
    let angle = nose_up(line.chord_vector());
    let longest = longest_chord(outline).map_or([f64::NAN; 2], |(a, b)| {
        let d = sub(b, a);
        if dot(d, line.chord_vector()) < 0.0 { scale(d, -1.0) } else { d }
    });
    let middle = scale(add(line.leading_edge, line.trailing_edge), 0.5);
    let values: [f64; FIGURE_COUNT] = [
        line.chord(),
        angle,
        angle + face_turn(outline, &line).unwrap_or(f64::NAN),
        line.thickness(),
        line.thickness() / line.chord(),
        line.thickness_position(),
        camber,
        camber_position,
        f64::NAN,
        tail_width(&line),
        norm(longest),
        nose_up(longest),
        area(outline),
        middle[0],
        middle[1],
    ];
    Ok(Figures { values, u: [0.0; FIGURE_COUNT] })
}

/// Angle of a direction from nose to tail, rad, positive if the nose end is higher.
fn nose_up(nose_to_tail: [f64; 2]) -> f64 {
    -nose_to_tail[1].atan2(nose_to_tail[0])
}

/// Diameter of the last circle that fits before the end of the chord.
fn tail_width(line: &MeanLine) -> f64 {
    let unit = scale(line.chord_vector(), 1.0 / line.chord());
    let fits =
        |c: &&crate::InscribedCircle| dot(sub(c.centre, line.leading_edge), unit) + c.radius <= line.chord();
    line.circles.iter().rev().find(fits).map_or(f64::NAN, |c| 2.0 * c.radius)
}

/// Angle of the face line against the chord line, rad.
fn face_turn(outline: &[[f64; 2]], line: &MeanLine) -> Option<f64> {
    let unit = scale(line.chord_vector(), 1.0 / line.chord());
    let local: Vec<[f64; 2]> =
        outline.iter().map(|p| sub(*p, line.leading_edge)).map(|d| [dot(d, unit), cross(unit, d)]).collect();
    let n = local.len();
    // The lowest crossing of each upright line: the face lies below the back.
    let lowest = |x: f64| {
        (0..n)
            .filter_map(|i| {
                let (a, b) = (local[i], local[(i + 1) % n]);
                let crosses = (a[0] < x) != (b[0] < x);
                crosses.then(|| a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]))
            })
            .min_by(f64::total_cmp)
            .map(|y| [x, y])
    };
    let share = |i: usize| 0.3 + 0.6 * (i as f64 + 0.5) / N_FACE as f64;
    let face: Vec<_> = (0..N_FACE).filter_map(|i| lowest(line.chord() * share(i))).collect();
    face_line_angle(&face, line.chord())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

    use super::*;
    use crate::{Family, Figure};

    /// A rectangle of 100 by 12, turned by 30 deg: everything is known by geometry.
    #[test]
    fn a_plate_with_square_edges() {
        let side = |a: [f64; 2], b: [f64; 2], n: usize| {
            (0..n)
                .map(move |i| i as f64 / n as f64)
                .map(move |t| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])])
        };
        let (l, h) = (50.0, 6.0);
        let plate: Vec<_> = side([-l, 0.0], [-l, -h], 6)
            .chain(side([-l, -h], [l, -h], 100))
            .chain(side([l, -h], [l, h], 12))
            .chain(side([l, h], [-l, h], 100))
            .chain(side([-l, h], [-l, 0.0], 6))
            .collect();
        let (s, c) = (-30f64).to_radians().sin_cos();
        let turned: Vec<_> = plate.iter().map(|p| [p[0] * c - p[1] * s, p[0] * s + p[1] * c]).collect();
        let f = outline_figures(&turned, 0).unwrap();
        for (figure, expected, within) in [
            (Figure::Chord, 100.0, 1e-6),
            (Figure::Thickness, 12.0, 1e-6),
            (Figure::Angle, 30f64.to_radians(), 1e-8),
            (Figure::FaceAngle, 30f64.to_radians(), 1e-8),
            (Figure::CamberRatio, 0.0, 1e-8),
            (Figure::Area, 1200.0, 1e-6),
            (Figure::LongestChord, 100f64.hypot(12.0), 1e-9),
            (Figure::TrailingEdgeThickness, 12.0, 1e-6),
        ] {
            assert!((f.value(figure) - expected).abs() < within, "{figure:?}: {}", f.value(figure));
        }
    }

    /// NACA Report 460: thickness and camber are those of the designation, and the chord line joins the ends of the mean line.
    #[test]
    fn a_four_digit_section() {
        let family = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
        let f = outline_figures(&family.outline(3000), family.leading_index(3000)).unwrap();
        assert!((f.value(Figure::ThicknessRatio) - 0.12).abs() < 2e-4);
        assert!((f.value(Figure::CamberRatio) - 0.04).abs() < 2e-4);
        assert!(f.value(Figure::Angle).to_degrees().abs() < 0.02);
    }
}
