//! A blade drawn by seed, as exact functions of the radius, and its truth.

use bladeform_section::{Family, MeanLine, mean_line};

use crate::random::Random;
use crate::truth::{ExactSection, Truth, mean_line_of, own_mean_line};

use super::course::Courses;
use super::edge::Edge;
use super::settle::settled;
use super::sketch::Sketch;

/// Kind of the sections of a drawn blade.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sections {
    /// NACA four-digit.
    FourDigit,
    /// Clark Y scaled in thickness.
    ClarkY,
    /// R.A.F. 6 scaled in thickness: flat face.
    Raf6,
    /// Flat face and circular back with rounded edges.
    FlatFaced,
    /// Of no published family, with these edges.
    Free {
        /// Leading edge.
        nose: Edge,
        /// Trailing edge.
        tail: Edge,
    },
}

/// Which rule of `docs/definitions.md` gives the blade's axes. The blade is drawn so that its own axes are the ones of the rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// A lone blade with a round shank: the shank's axis is `z`.
    Shank,
    /// A lone blade without one: the line fitted to the section centroids beyond half the length is `z`.
    Centroids,
    /// A blade of a whole propeller: the area centroid of its surface beyond 0.3 R lies on `z`, at `y = 0`.
    Propeller,
}

/// A blade drawn by seed, in its own axes: `z` the radius, `y` towards flight, `x` the way it moves; right-handed unless `left_handed`.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnBlade {
    /// Tip radius, m.
    pub radius_m: f64,
    /// Distance of the root end from the axis, m.
    pub root_radius_m: f64,
    /// Radius of the round shank, m; 0 without one.
    pub shank_radius_m: f64,
    /// End of the round shank and begin of the full sections, fractions of the tip radius.
    pub transition: [f64; 2],
    /// Greatest chord, m, about.
    pub greatest_chord_m: f64,
    /// Nominal geometric pitch, m.
    pub pitch_m: f64,
    /// Kind of the sections.
    pub sections: Sections,
    /// Whether the part is the mirror image.
    pub left_handed: bool,
    pub(super) courses: Courses,
    /// Shift `[x, y]` of all sections, m, at the axis and for each metre of radius.
    pub(super) shift: [[f64; 2]; 2],
    /// Shapes of free sections at the axis and at the tip.
    sketches: [Sketch; 2],
    /// Camber of four-digit sections at root and tip, and its position.
    four_digit: [f64; 3],
    /// Radius of the edges of flat-faced sections, fraction of the chord.
    edge_radius: f64,
}

/// Corners of the outlines from which truths are made.
const N_TRUTH: usize = 4800;

impl DrawnBlade {
    /// The blade of a seed. `size_m`: length of a lone blade or diameter of a whole propeller.
    #[must_use]
    pub fn drawn(seed: u64, sections: Sections, axis: Axis, size_m: f64) -> Self {
        let random = &mut Random::new(seed);
        let root_ratio = if axis == Axis::Propeller { 0.09 } else { random.between(0.07, 0.12) };
        let radius_m = if axis == Axis::Propeller { 0.5 * size_m } else { size_m / (1.0 - root_ratio) };
        let greatest_chord_m = radius_m * random.between(0.11, 0.19);
        let shank = if axis == Axis::Shank { random.between(0.17, 0.23) * greatest_chord_m } else { 0.0 };
        let begin = root_ratio + random.between(0.03, 0.06);
        let edges =
            if let Sections::Free { nose, tail } = sections { [nose, tail] } else { [Edge::Blunt; 2] };
        let camber = random.between(0.01, 0.045);
        let sketches = [0, 1].map(|_| {
            let here = camber * random.between(0.6, 1.3);
            Sketch::drawn(edges, here, random)
        });
        let blade = Self {
            radius_m,
            root_radius_m: root_ratio * radius_m,
            shank_radius_m: shank,
            transition: [begin, begin + random.between(0.09, 0.13)],
            greatest_chord_m,
            pitch_m: 2.0 * radius_m * random.between(0.45, 1.1),
            sections,
            left_handed: random.uniform() < 0.5,
            courses: Courses::drawn(random),
            shift: [[0.0; 2]; 2],
            sketches,
            four_digit: [camber, camber * random.between(0.6, 1.3), random.between(0.32, 0.5)],
            edge_radius: random.between(0.004, 0.010),
        };
        settled(blade, axis)
    }

    /// A blade of any kind: section, edges, axis rule and size (0.4 to 2 m, evenly in the logarithm) are drawn too.
    #[must_use]
    pub fn any(seed: u64, whole_propeller: bool) -> Self {
        let random = &mut Random::new(seed ^ 0x5EED_0FB1);
        let one_of = |n: usize, random: &mut Random| ((random.uniform() * n as f64) as usize).min(n - 1);
        let sections = match one_of(8, random) {
            0 => Sections::FourDigit,
            1 => Sections::ClarkY,
            2 => Sections::Raf6,
            3 => Sections::FlatFaced,
            _ => Sections::Free { nose: Edge::ALL[one_of(4, random)], tail: Edge::ALL[one_of(4, random)] },
        };
        let axis = match (whole_propeller, random.uniform() < 0.5) {
            (true, _) => Axis::Propeller,
            (_, true) => Axis::Shank,
            (_, false) => Axis::Centroids,
        };
        let size_m = random.between(0.4_f64.ln(), 2.0_f64.ln()).exp();
        Self::drawn(random.bits(), sections, axis, size_m)
    }

    /// Length of the sections' own chord, m, at a radius in m.
    #[must_use]
    pub fn chord_m(&self, r: f64) -> f64 {
        self.greatest_chord_m * self.courses.chord(r / self.radius_m)
    }

    /// Angle of the sections' own chord line, rad, at a radius in m.
    #[must_use]
    pub fn angle_rad(&self, r: f64) -> f64 {
        let pitch = self.pitch_m * self.courses.pitch(r / self.radius_m);
        (pitch / (std::f64::consts::TAU * r)).atan()
    }

    /// Middle of the sections' own chord in blade axes, m.
    #[must_use]
    pub fn mid_chord(&self, r: f64) -> [f64; 2] {
        let s = r / self.radius_m;
        let back = -self.courses.axis_place() * self.chord_m(r);
        let (sin, cos) = self.angle_rad(r).sin_cos();
        let swept = self.courses.shift(s);
        let own = [back * cos, back * sin];
        [0, 1].map(|k| own[k] + swept[k] * self.radius_m + self.shift[0][k] + self.shift[1][k] * r)
    }

    /// The section at a radius, fractions of its own chord: about `n` corners, the corner at the nose, the mean line of a truth,
    /// and the radius of curvature at the leading edge where it is known.
    fn section(&self, r: f64, n: usize) -> (Vec<[f64; 2]>, usize, Option<MeanLine>, f64) {
        let s = r / self.radius_m;
        let thickness = self.courses.thickness(s);
        let family = match self.sections {
            Sections::FourDigit => Family::FourDigit {
                camber: self.four_digit[0] + (self.four_digit[1] - self.four_digit[0]) * s,
                position: self.four_digit[2],
                thickness,
            },
            Sections::ClarkY => Family::ClarkY { thickness },
            Sections::Raf6 => Family::Raf6 { thickness },
            Sections::FlatFaced => Family::CircularArcs {
                back_height: thickness - 2.0 * self.edge_radius,
                face_height: 0.0,
                edge_radius: self.edge_radius,
            },
            Sections::Free { nose, tail } => {
                let section = self.sketches[0].mixed(&self.sketches[1], s).section([nose, tail], thickness);
                let (outline, corner) = section.outline(n);
                // The leading edge is near the nose's corner; its radius hardly depends on how near.
                let line = if n == N_TRUTH { mean_line(&outline, corner).ok() } else { None };
                let radius =
                    line.as_ref().map_or(f64::NAN, |l| section.nose_radius(&outline, l.leading_edge));
                return (outline, corner, line, radius);
            }
        };
        let radius = match family {
            // NACA Report 460: 1.1019 times the square of the thickness ratio.
            Family::FourDigit { thickness, .. } => 1.1019 * thickness * thickness,
            Family::CircularArcs { edge_radius, .. } => edge_radius,
            _ => f64::NAN,
        };
        let (outline, corner) = (family.outline(n), family.leading_index(n));
        let line =
            (n == N_TRUTH).then(|| mean_line_of(&outline, corner, own_mean_line(&family, N_TRUTH / 2)));
        (outline, corner, line, radius)
    }

    /// As [`Self::section`], with the shank's circle mixed in; then without mean line and radius of the nose.
    fn shaped(&self, r: f64, n: usize) -> (Vec<[f64; 2]>, usize, Option<MeanLine>, f64) {
        let (mut outline, nose, line, radius) = self.section(r, n);
        let weight = self.round_share(r);
        if weight == 0.0 {
            return (outline, nose, line, radius);
        }
        let chord = self.chord_m(r);
        let mid = self.mid_chord(r);
        let (sin, cos) = self.angle_rad(r).sin_cos();
        // The shank's centre, the origin, in fractions of the section's chord.
        let centre = [0.5 + (mid[0] * cos + mid[1] * sin) / chord, (mid[0] * sin - mid[1] * cos) / chord];
        let count = outline.len() as f64;
        for (i, p) in outline.iter_mut().enumerate() {
            let (up, along) = (std::f64::consts::TAU * i as f64 / count).sin_cos();
            let round = self.shank_radius_m / chord;
            let c = [centre[0] + round * along, centre[1] + round * up];
            *p = [0, 1].map(|k| p[k] + weight * (c[k] - p[k]));
        }
        (outline, nose, None, f64::NAN)
    }

    /// How far a section is the shank's circle: 1 on the shank, 0 from the end of the transition outwards.
    fn round_share(&self, r: f64) -> f64 {
        if self.shank_radius_m == 0.0 {
            return 0.0;
        }
        let [from, to] = self.transition;
        let s = ((r / self.radius_m - from) / (to - from)).clamp(0.0, 1.0);
        1.0 - s * s * s * (10.0 - s * (15.0 - 6.0 * s))
    }

    /// Puts points of the section at a radius, fractions of its chord, into blade axes, m.
    fn placed(&self, r: f64) -> impl Fn([f64; 2]) -> [f64; 2] {
        let (chord, mid) = (self.chord_m(r), self.mid_chord(r));
        let (sin, cos) = self.angle_rad(r).sin_cos();
        move |p| {
            let (along, across) = ((p[0] - 0.5) * chord, p[1] * chord);
            [mid[0] - along * cos - across * sin, mid[1] - along * sin + across * cos]
        }
    }

    /// Closed outline in blade axes at a radius in m, about `n` corners, m: from the tail over the back to the nose and along the face.
    #[must_use]
    pub fn outline(&self, r: f64, n: usize) -> Vec<[f64; 2]> {
        self.shaped(r, n).0.into_iter().map(self.placed(r)).collect()
    }

    /// Figures by the definitions at a fraction of the tip radius; `NaN` where a section has none.
    #[must_use]
    pub fn truth(&self, radius_ratio: f64) -> Truth {
        let r = radius_ratio * self.radius_m;
        let (outline, nose, line, nose_radius) = self.shaped(r, N_TRUTH);
        let line = line.unwrap_or_else(|| mean_line_of(&outline, nose, None));
        let (chord_m, angle_rad) = (self.chord_m(r), self.angle_rad(r));
        let section = ExactSection { outline, line, nose_radius, chord_m, angle_rad };
        section.truth(self.placed(r))
    }
}
