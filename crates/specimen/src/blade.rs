//! A blade as exact functions of the radius, and the figures of its stations by the definitions.

use bladeform_section::Family;

use crate::truth::{ExactSection, Truth, mean_line_of, own_mean_line};

/// Which published family the sections are of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SectionKind {
    /// NACA four-digit, camber position 0.4.
    FourDigit,
    /// Clark Y scaled in thickness: flat face.
    ClarkY,
    /// Flat face and circular back with rounded edges.
    FlatFaced,
}

/// A blade in its own axes: `z` the radius, `y` towards flight, `x` the way it moves; right-handed unless `left_handed`.
#[derive(Debug, Clone, PartialEq)]
pub struct Blade {
    /// Name for people.
    pub name: &'static str,
    /// Tip radius, m.
    pub radius_m: f64,
    /// Distance of the root end from the axis, m.
    pub root_radius_m: f64,
    /// Radius of the round shank, m; 0 for a blade whose sections go down to the root.
    pub shank_radius_m: f64,
    /// End of the round shank and begin of the full sections, fractions of the tip radius.
    pub transition: [f64; 2],
    /// Greatest chord, m.
    pub greatest_chord_m: f64,
    /// Geometric pitch of the chord line at 0.75 R, m; it falls off a little towards the root.
    pub pitch_m: f64,
    /// Thickness ratio at 0.3 R and at the tip.
    pub thickness: [f64; 2],
    /// Camber ratio of four-digit sections at 0.3 R and at the tip.
    pub camber: [f64; 2],
    /// Sweep: shift of the mid-chord point along `x` at the tip, m.
    pub sweep_m: f64,
    /// Family.
    pub kind: SectionKind,
    /// Whether the part is the mirror image.
    pub left_handed: bool,
}

/// Corners of the outlines from which truths and surfaces are made: their sag is below a ten-millionth of the chord on the sides.
const N_OUTLINE: usize = 1600;

impl Blade {
    /// The demo's blade: a wooden blade of 1.3 m from an invented water-meadow workshop, four-digit sections on a round shank.
    #[must_use]
    pub fn quarry_mill() -> Self {
        Self {
            name: "Quarry Mill No. 4",
            radius_m: 1.42,
            root_radius_m: 0.12,
            shank_radius_m: 0.045,
            transition: [0.14, 0.27],
            greatest_chord_m: 0.21,
            pitch_m: 1.75,
            thickness: [0.20, 0.07],
            camber: [0.03, 0.035],
            sweep_m: 0.015,
            kind: SectionKind::FourDigit,
            left_handed: false,
        }
    }

    /// The same plan form with another family of sections.
    #[must_use]
    pub fn with_kind(mut self, kind: SectionKind) -> Self {
        self.kind = kind;
        self
    }

    /// Nominal chord of the family, m, at a radius in m: rises to 0.45 R, falls to a rounded tip.
    #[must_use]
    pub fn chord_m(&self, r: f64) -> f64 {
        let s = r / self.radius_m;
        let body = 1.0 - 0.9 * (s - 0.45).powi(2) - 0.6 * (s - 0.45).powi(3);
        // An elliptic end over the last tenth rounds the tip.
        let end = ((s - 0.9) / 0.1).clamp(0.0, 1.0);
        self.greatest_chord_m * body * (1.0 - end.powi(4)).max(0.0).sqrt()
    }

    /// Angle of the family's own chord line, rad, at a radius in m.
    #[must_use]
    pub fn angle_rad(&self, r: f64) -> f64 {
        let s = r / self.radius_m;
        let pitch = self.pitch_m * (1.0 - 0.25 * (0.75 - s).max(-1.0).powi(2));
        (pitch / (std::f64::consts::TAU * r)).atan()
    }

    fn mix(&self, ends: [f64; 2], r: f64) -> f64 {
        let s = ((r / self.radius_m - 0.3) / 0.7).max(-0.3);
        ends[1] + (ends[0] - ends[1]) * (-2.2 * s).exp()
    }

    /// The section at a radius in m.
    #[must_use]
    pub fn family(&self, r: f64) -> Family {
        let thickness = self.mix(self.thickness, r);
        match self.kind {
            SectionKind::FourDigit => {
                Family::FourDigit { camber: self.mix(self.camber, r), position: 0.4, thickness }
            }
            SectionKind::ClarkY => Family::ClarkY { thickness },
            SectionKind::FlatFaced => {
                let edge_radius = 0.008;
                Family::CircularArcs {
                    back_height: thickness - 2.0 * edge_radius,
                    face_height: 0.0,
                    edge_radius,
                }
            }
        }
    }

    /// Middle of the family's chord line in blade axes, m.
    #[must_use]
    pub fn mid_chord(&self, r: f64) -> [f64; 2] {
        let s = (r / self.radius_m).max(0.0);
        let angle = self.angle_rad(r);
        // The pitch-change axis passes near 40 % of the chord, and the sections are swept back towards the tip.
        let back = -0.1 * self.chord_m(r);
        [back * angle.cos() - self.sweep_m * s * s, back * angle.sin()]
    }

    /// Closed outline in blade axes at a radius in m, n x 2, m.
    #[must_use]
    pub fn outline(&self, r: f64) -> Vec<[f64; 2]> {
        let section = self.section_outline(r);
        let weight = self.round_share(r);
        if weight == 0.0 {
            return section;
        }
        let n = section.len();
        let angle = self.angle_rad(r);
        let circle = |i: usize| {
            // From the tail over the back to the nose and on along the face, as the sections run.
            let t = std::f64::consts::PI - std::f64::consts::TAU * i as f64 / n as f64 + angle;
            [self.shank_radius_m * t.cos(), self.shank_radius_m * t.sin()]
        };
        let mix = |(i, p): (usize, &[f64; 2])| {
            let c = circle(i);
            [weight * c[0] + (1.0 - weight) * p[0], weight * c[1] + (1.0 - weight) * p[1]]
        };
        section.iter().enumerate().map(mix).collect()
    }

    /// How far a section is the shank's circle: 1 on the shank, 0 from the end of the transition outwards.
    fn round_share(&self, r: f64) -> f64 {
        if self.shank_radius_m == 0.0 {
            return 0.0;
        }
        let s = ((r / self.radius_m - self.transition[0]) / (self.transition[1] - self.transition[0]))
            .clamp(0.0, 1.0);
        1.0 - s * s * s * (10.0 - s * (15.0 - 6.0 * s))
    }

    fn section_outline(&self, r: f64) -> Vec<[f64; 2]> {
        self.family(r).outline(N_OUTLINE).into_iter().map(|p| self.in_blade_axes(r, p)).collect()
    }

    /// A point of the family's own section, fractions of its chord, in blade axes, m.
    fn in_blade_axes(&self, r: f64, p: [f64; 2]) -> [f64; 2] {
        let (angle, chord, mid) = (self.angle_rad(r), self.chord_m(r), self.mid_chord(r));
        let (cos, sin) = (angle.cos(), angle.sin());
        let (along, across) = ((p[0] - 0.5) * chord, p[1] * chord);
        [mid[0] - along * cos - across * sin, mid[1] - along * sin + across * cos]
    }

    /// Figures by the definitions at a fraction of the tip radius outside the transition; `NaN` where a section has no mean line.
    #[must_use]
    pub fn truth(&self, radius_ratio: f64) -> Truth {
        let r = radius_ratio * self.radius_m;
        let family = self.family(r);
        let outline = family.outline(2 * N_OUTLINE);
        let coarser = family.outline(N_OUTLINE);
        let line = mean_line_of(&coarser, family.leading_index(N_OUTLINE), own_mean_line(&family, N_OUTLINE));
        let nose_radius = match family {
            // NACA Report 460: 1.1019 times the square of the thickness ratio.
            Family::FourDigit { thickness, .. } => 1.1019 * thickness * thickness,
            Family::CircularArcs { edge_radius, .. } => edge_radius,
            _ => f64::NAN,
        };
        let (chord_m, angle_rad) = (self.chord_m(r), self.angle_rad(r));
        let section = ExactSection { outline, line, nose_radius, chord_m, angle_rad };
        section.truth(|p| self.in_blade_axes(r, p))
    }
}
