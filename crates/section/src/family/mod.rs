//! Published section families and the two drawn with compasses: exact outlines, one chord long.

mod arcs;
mod clark_y;
mod four_digit;
mod ordinates;
mod raf6;

use crate::mean_line::{MeanLine, MeanLineError, mean_line};
use crate::polygon::{norm, sub};

/// A section of a published family. All lengths are fractions of the family's own chord.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Family {
    /// NACA four-digit section: thickness at right angles to a mean line of two parabolas.
    ///
    /// # Source
    /// E. N. Jacobs, K. E. Ward, R. M. Pinkerton, "The characteristics of 78 related airfoil sections from tests in the
    /// variable-density wind tunnel", NACA Report 460, 1933, equations for the mean line and the thickness.
    FourDigit {
        /// Greatest ordinate of the mean line.
        camber: f64,
        /// Its position.
        position: f64,
        /// Greatest thickness.
        thickness: f64,
    },
    /// Clark Y with its ordinates scaled to a thickness, the usual way to vary its thickness along a blade (common practice, no source).
    ClarkY {
        /// Greatest thickness; 0.1171 is the published section.
        thickness: f64,
    },
    /// R.A.F. 6 with its ordinates scaled to a thickness.
    Raf6 {
        /// Greatest thickness; 0.0998 is the published section.
        thickness: f64,
    },
    /// Back and face are one circular arc each and meet in rounded edges. A flat-faced circular-back section has `face_height` 0.
    CircularArcs {
        /// Height of the back's arc above the line through the edges' centres.
        back_height: f64,
        /// Height of the face's arc above that line: negative for a convex face, positive for a hollow one.
        face_height: f64,
        /// Radius of both edges.
        edge_radius: f64,
    },
    /// Ellipse with its long axis along the chord; a circle at thickness 1.
    Ellipse {
        /// Short axis.
        thickness: f64,
    },
}

impl Family {
    /// Name of the family with its parameters, for display.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::FourDigit { camber, position, thickness } => format!(
                "NACA four-digit, camber {:.2} % at {:.0} %, thickness {:.2} %",
                100.0 * camber,
                100.0 * position,
                100.0 * thickness
            ),
            Self::ClarkY { thickness } => format!("Clark Y, thickness {:.2} %", 100.0 * thickness),
            Self::Raf6 { thickness } => format!("R.A.F. 6, thickness {:.2} %", 100.0 * thickness),
            Self::CircularArcs { back_height, face_height, .. } => {
                format!("circular arcs, back {:.2} %, face {:.2} %", 100.0 * back_height, 100.0 * face_height)
            }
            Self::Ellipse { thickness } => format!("ellipse, thickness {:.1} %", 100.0 * thickness),
        }
    }

    /// Closed anticlockwise outline of about `n` points (n x 2, fractions of the chord): from the tail over the back to the
    /// nose and along the face to the tail, finer at both edges. `x` runs from nose to tail, `y` towards the back.
    #[must_use]
    pub fn outline(&self, n: usize) -> Vec<[f64; 2]> {
        let half = (n / 2).max(16);
        match *self {
            Self::FourDigit { camber, position, thickness } => {
                four_digit::outline(camber, position, thickness, half)
            }
            Self::ClarkY { thickness } => {
                ordinates::outline(clark_y::BACK, clark_y::FACE, thickness / clark_y::THICKNESS, half)
            }
            Self::Raf6 { thickness } => {
                ordinates::outline(raf6::BACK, raf6::FACE, thickness / raf6::THICKNESS, half)
            }
            Self::CircularArcs { back_height, face_height, edge_radius } => {
                arcs::outline(back_height, face_height, edge_radius, half)
            }
            Self::Ellipse { thickness } => ellipse(thickness, half),
        }
    }

    /// Index of the corner of [`Self::outline`] nearest to the point `(0, 0)` at the nose. For all families here the leading edge is there or close to it.
    #[must_use]
    pub fn leading_index(&self, n: usize) -> usize {
        let outline = self.outline(n);
        (0..outline.len())
            .min_by(|&a, &b| norm(sub(outline[a], [0.0, 0.0])).total_cmp(&norm(sub(outline[b], [0.0, 0.0]))))
            .unwrap_or(0)
    }

    /// The family's own mean line and chord line if it has them in closed form, otherwise those of an outline with `n` points. The leading edge by definition is
    /// that of [`mean_line`] of the outline; it is the same point for four-digit sections only.
    ///
    /// # Errors
    /// [`MeanLineError`] if no circle touches both sides.
    pub fn mean_line(&self, n: usize) -> Result<MeanLine, MeanLineError> {
        match *self {
            Self::FourDigit { camber, position, thickness } => {
                Ok(four_digit::mean_line(camber, position, thickness, n))
            }
            Self::CircularArcs { back_height, face_height, edge_radius } => {
                Ok(arcs::mean_line(back_height, face_height, edge_radius, n))
            }
            _ => mean_line(&self.outline(n), self.leading_index(n)),
        }
    }
}

fn ellipse(thickness: f64, half: usize) -> Vec<[f64; 2]> {
    (0..2 * half)
        .map(|i| std::f64::consts::PI * i as f64 / half as f64)
        .map(|t| [0.5 + 0.5 * t.cos(), 0.5 * thickness * t.sin()])
        .collect()
}

/// Abscissae from 0 to 1, `n + 1` of them, finer at both ends.
fn cosine_spacing(n: usize) -> impl DoubleEndedIterator<Item = f64> {
    (0..=n).map(move |i| 0.5 * (1.0 - (std::f64::consts::PI * i as f64 / n as f64).cos()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::polygon::{area, face_line_angle};

    const ALL: [Family; 5] = [
        Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 },
        Family::ClarkY { thickness: 0.1171 },
        Family::Raf6 { thickness: 0.0998 },
        Family::CircularArcs { back_height: 0.1, face_height: 0.0, edge_radius: 0.004 },
        Family::Ellipse { thickness: 0.3 },
    ];

    #[test]
    fn every_outline_is_anticlockwise_and_one_chord_long() {
        for family in ALL {
            let outline = family.outline(800);
            assert!(0.01 < area(&outline), "{}", family.name());
            let span = outline.iter().map(|p| p[0]).fold(0.0, f64::max);
            assert!((span - 1.0).abs() < 0.003, "{}: {span}", family.name());
        }
    }

    #[test]
    fn designation_of_a_four_digit_section_is_found_by_inscribed_circles() {
        // NACA 4412: camber 4 %, at 40 %, thickness 12 % (NACA Report 460).
        let line = mean_line(&ALL[0].outline(4000), ALL[0].leading_index(4000)).unwrap();
        let (camber, position) = line.camber();
        assert!((camber - 0.04).abs() < 1e-4, "{camber}");
        assert!((position - 0.4).abs() < 0.01, "{position}");
        assert!((line.thickness() - 0.12).abs() < 1e-4, "{}", line.thickness());
        assert!((line.thickness_position() - 0.3).abs() < 0.02);
    }

    #[test]
    fn clark_y_has_the_published_thickness_and_a_face_two_degrees_below_its_chord() {
        // 11.71 % and 2.10 deg by the usual vertical construction on the chord line of the table (clarky.dat).
        let face: Vec<_> = clark_y::FACE.to_vec();
        assert!((face_line_angle(&face, 1.0).unwrap().to_degrees() + 2.10).abs() < 0.06);
        let line = ALL[1].mean_line(4000).unwrap();
        assert!((line.thickness() - 0.117).abs() < 0.0015, "{}", line.thickness());
    }

    #[test]
    fn compass_drawn_section_has_the_mean_line_of_its_circles() {
        let exact = ALL[3].mean_line(4000).unwrap();
        let found = mean_line(&ALL[3].outline(4000), ALL[3].leading_index(4000)).unwrap();
        assert!((exact.chord() - found.chord()).abs() < 1e-4, "{} {}", exact.chord(), found.chord());
        assert!((exact.camber().0 - found.camber().0).abs() < 1e-4);
        assert!((exact.thickness() - found.thickness()).abs() < 1e-5);
    }
}
