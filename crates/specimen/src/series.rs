//! Screws of the Wageningen B series: published sections on cylinders, exact at every radius.
//!
//! Source: M. W. C. Oosterveld, P. van Oossanen, *Further computer-analyzed data of the Wageningen B-screw series*, International Shipbuilding Progress 22 (1975), 251-262; tables in `data`, with notes on
//! how they were obtained. Chosen here, since the tables leave it open: rounded edges, the mid-chords beyond 0.9 R, and the chords of two blades, which are those of three.

use std::f64::consts::PI;

use bladeform_numeric::monotone::MonotoneCubic;

use crate::photogrammetry::Lofted;
use crate::truth::{ExactSection, Truth, mean_line_of};

/// Chords, outline, thicknesses and pitch reduction.
const GEOMETRY: &str = include_str!("../data/wageningen_b_geometry.csv");
/// Ordinates of the sections over the place `P` along the chord.
const SECTIONS: &str = include_str!("../data/wageningen_b_sections_v1_v2.csv");
/// Chords and outline of the tables end here; farther out the tip is rounded.
const LAST: f64 = 0.9;
/// Thickness of the edges over that of the section (chosen: the series leaves it to the user).
const EDGE: f64 = 0.15;
/// Points of the curve of chords beyond the last row.
const BEYOND: u32 = 10;
/// Points along each side, and around each edge.
const ALONG: usize = 360;
const AROUND: usize = 40;

/// A screw of the series. Its blades are made for [`crate::scan_of_series`] and [`crate::scan_of_lofted`] in developed coordinates: arc, height, radius.
#[derive(Debug, Clone)]
pub struct SeriesScrew {
    /// Tip radius, m.
    pub radius_m: f64,
    /// Number of blades.
    pub blades: usize,
    /// Radius of the hub, m: 0.18 of the tip's for two and three blades, 0.167 for more (from memory).
    pub hub_radius_m: f64,
    /// Whether it is the mirror image.
    pub left_handed: bool,
    area_ratio: f64,
    pitch_ratio: f64,
    rake_rad: f64,
    /// The azimuths of the mid-chords of the series are taken so many times.
    skewed: f64,
    /// Square of the chord coefficient of the table.
    chord_square: MonotoneCubic,
    thickest: MonotoneCubic,
    a_r: MonotoneCubic,
    b_r: MonotoneCubic,
    reduction: MonotoneCubic,
    azimuth: MonotoneCubic,
    /// Slope of the azimuth at the last row, rad for each radius ratio.
    azimuth_slope: f64,
    /// `P`, and `V1` and `V2` over the radius ratio.
    ordinates: Vec<(f64, [MonotoneCubic; 2])>,
}

fn numbers(line: &str, skip: usize) -> Vec<f64> {
    line.split(',').skip(skip).filter_map(|c| c.trim().parse().ok()).collect()
}

/// A curve through rows of a table.
fn curve(points: Vec<(f64, f64)>) -> MonotoneCubic {
    let made = MonotoneCubic::through(&points);
    let Some(made) = made else { unreachable!("the tables of this crate rise in radius") };
    made
}

/// Square of the chord coefficient: through the rows of the table, and beyond them a parabola with the value and slope of the last row that vanishes at the tip, so that the tip is round and the outline has
/// no corner.
fn chord_square(rows: &[(f64, f64)]) -> MonotoneCubic {
    let [.., a, b, c] = rows[..] else { unreachable!("the table has eight rows") };
    let steps = [(b.1 - a.1) / (b.0 - a.0), (c.1 - b.1) / (c.0 - b.0)];
    // Slope of the parabola through the last three rows.
    let slope = 2.0 * c.1 * (steps[1] + (steps[1] - steps[0]) * (c.0 - b.0) / (c.0 - a.0));
    let depth = 1.0 - c.0;
    let bend = -(c.1 * c.1 + slope * depth) / (depth * depth);
    let beyond = (1..=BEYOND).map(|k| {
        let d = depth * f64::from(k) / f64::from(BEYOND);
        (c.0 + d, (c.1 * c.1 + slope * d + bend * d * d).max(0.0))
    });
    curve(rows.iter().map(|(r, k)| (*r, k * k)).chain(beyond).collect())
}

impl SeriesScrew {
    /// A right-hand screw with the rake of 15 deg and the outline of the series. `blades`: 2 to 7.
    #[must_use]
    pub fn new(diameter_m: f64, blades: usize, area_ratio: f64, pitch_ratio: f64) -> Self {
        let name = match blades {
            2 | 3 => "Z3",
            4 => "Z4",
            _ => "Z5-7",
        };
        let rows: Vec<Vec<f64>> = GEOMETRY
            .lines()
            .filter(|l| l.split(',').next() == Some(name))
            .map(|l| numbers(l, 1))
            .filter(|n| n.len() == 7)
            .collect();
        // The row of the tip is 0 by rounding for all but the thickness.
        let inner = || rows.iter().filter(|n| n[0] <= LAST + 1e-9);
        let of = |k: usize| curve(inner().map(|n| (n[0], n[k])).collect());
        let whole = |k: usize| curve(rows.iter().map(|n| (n[0], n[k])).collect());
        let chord_over_d = |n: &[f64]| n[1] * area_ratio / blades as f64;
        let azimuths: Vec<(f64, f64)> = inner()
            .map(|n| {
                let face = (pitch_ratio * n[6] / (PI * n[0])).atan();
                (n[0], (0.5 - n[2]) * chord_over_d(n) * face.cos() / (0.5 * n[0]))
            })
            .collect();
        let [.., before, last] = azimuths[..] else { unreachable!("the table has eight rows") };
        let places: Vec<f64> = SECTIONS
            .lines()
            .map(|l| numbers(l, 0))
            .filter(|n| n.len() == 4 && (n[0] - 0.5).abs() < 1e-9)
            .map(|n| n[1])
            .collect();
        let at = |p: f64, k: usize| {
            let rows = SECTIONS.lines().map(|l| numbers(l, 0));
            let mut rows: Vec<(f64, f64)> =
                rows.filter(|n| n.len() == 4 && (n[1] - p).abs() < 1e-9).map(|n| (n[0], n[k])).collect();
            rows.sort_by(|a, b| a.0.total_cmp(&b.0));
            curve(rows)
        };
        let mut ordinates: Vec<_> = places.into_iter().map(|p| (p, [at(p, 2), at(p, 3)])).collect();
        ordinates.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self {
            radius_m: 0.5 * diameter_m,
            blades,
            hub_radius_m: 0.5 * diameter_m * if blades < 4 { 0.18 } else { 0.167 },
            left_handed: false,
            area_ratio,
            pitch_ratio,
            rake_rad: 15f64.to_radians(),
            skewed: 1.0,
            chord_square: chord_square(&inner().map(|n| (n[0], n[1])).collect::<Vec<_>>()),
            thickest: of(3),
            a_r: whole(4),
            b_r: whole(5),
            reduction: whole(6),
            azimuth: curve(azimuths.clone()),
            azimuth_slope: (last.1 - before.1) / (last.0 - before.0),
            ordinates,
        }
    }

    /// The same with its mid-chords spread so that the greatest angle between two of them, from 0.2 R to the tip, is this, rad.
    #[must_use]
    pub fn with_skew(mut self, skew_rad: f64) -> Self {
        self.skewed = 1.0;
        let all: Vec<f64> = (0..=160).map(|k| self.azimuth_rad(0.2 + 0.005 * f64::from(k))).collect();
        let [low, high] = all.iter().fold([f64::MAX, f64::MIN], |[l, h], a| [l.min(*a), h.max(*a)]);
        self.skewed = skew_rad / (high - low);
        self
    }

    /// Chord, m, at a radius ratio.
    #[must_use]
    pub fn chord_m(&self, ratio: f64) -> f64 {
        let k = self.chord_square.value(ratio.min(1.0)).max(0.0).sqrt();
        k * self.area_ratio / self.blades as f64 * 2.0 * self.radius_m
    }

    /// Thickness of the table, m: greatest height of the back over the face on the pitch line.
    #[must_use]
    pub fn thickness_m(&self, ratio: f64) -> f64 {
        (self.a_r.value(ratio) - self.b_r.value(ratio) * self.blades as f64) * 2.0 * self.radius_m
    }

    /// Pitch of the face, m.
    #[must_use]
    pub fn face_pitch_m(&self, ratio: f64) -> f64 {
        self.pitch_ratio * self.reduction.value(ratio) * 2.0 * self.radius_m
    }

    fn face_rad(&self, ratio: f64) -> f64 {
        (self.face_pitch_m(ratio) / (2.0 * PI * ratio * self.radius_m)).atan()
    }

    /// Azimuth of the mid-chord from the generator line, rad, positive against the direction in which the blade moves.
    #[must_use]
    pub fn azimuth_rad(&self, ratio: f64) -> f64 {
        let inside = self.azimuth.value(ratio.min(LAST));
        self.skewed * (inside + self.azimuth_slope * (ratio - LAST).max(0.0))
    }

    /// Section at a radius ratio: along the pitch line from the leading edge, and towards the back; fractions of the chord.
    fn section(&self, ratio: f64, along: usize) -> Vec<[f64; 2]> {
        let chord = self.chord_m(ratio);
        // The thickness does not vanish at the tip, where the chord does: no section is thicker than half its chord.
        let t = (self.thickness_m(ratio) / chord).min(0.5);
        let edge = EDGE * t;
        let thickest = if ratio <= LAST { self.thickest.value(ratio) } else { 0.5 };
        let at = |k: usize| {
            curve(self.ordinates.iter().map(|(p, of)| (*p, of[k].value(ratio.clamp(0.15, 1.0)))).collect())
        };
        let (v1, v2) = (at(0), at(1));
        // Half an edge is left at either end for its rounding.
        let place = |p: f64| {
            let x = if p < 0.0 { thickest - p * (1.0 - thickest) } else { thickest * (1.0 - p) };
            0.5 * edge + x * (1.0 - edge)
        };
        let face = |p: f64| v1.value(p) * (t - edge);
        let back = |p: f64| (v1.value(p) + v2.value(p)) * (t - edge) + edge;
        let spread = |k: usize| -(PI * k as f64 / along as f64).cos();
        let side = |f: &dyn Fn(f64) -> f64, p: f64| [place(p), f(p)];
        let round = |x: f64, p: f64, from: f64| {
            let middle = [x, 0.5 * (face(p) + back(p))];
            (1..AROUND).map(move |k| {
                let (sin, cos) = (from + PI * k as f64 / AROUND as f64).sin_cos();
                [middle[0] + 0.5 * edge * cos, middle[1] + 0.5 * edge * sin]
            })
        };
        // From the tail over the back to the nose, around it, along the face to the tail and around that.
        let mut points: Vec<[f64; 2]> = (0..=along).map(|k| side(&back, spread(k))).collect();
        points.extend(round(place(1.0), 1.0, 0.5 * PI));
        points.extend((0..=along).rev().map(|k| side(&face, spread(k))));
        points.extend(round(place(-1.0), -1.0, -0.5 * PI));
        points
    }

    /// A point of a section in developed coordinates of the blade, m.
    fn in_blade_axes(&self, ratio: f64, p: [f64; 2]) -> [f64; 2] {
        let (chord, (sin, cos)) = (self.chord_m(ratio), self.face_rad(ratio).sin_cos());
        let r = ratio * self.radius_m;
        let behind = self.azimuth_rad(ratio) * r;
        let mid = [-behind, -behind * sin / cos - r * self.rake_rad.tan()];
        let (along, across) = ((p[0] - 0.5) * chord, p[1] * chord);
        [mid[0] - along * cos - across * sin, mid[1] - along * sin + across * cos]
    }

    /// Figures of the developed section by the definitions.
    #[must_use]
    pub fn truth(&self, ratio: f64) -> Truth {
        let outline = self.section(ratio, ALONG);
        let nose = ALONG + AROUND / 2;
        let line = mean_line_of(&outline, nose, None);
        let t = (self.thickness_m(ratio) / self.chord_m(ratio)).min(0.5);
        let section = ExactSection {
            outline,
            line,
            nose_radius: 0.5 * EDGE * t,
            chord_m: self.chord_m(ratio),
            angle_rad: self.face_rad(ratio),
        };
        section.truth(|p| self.in_blade_axes(ratio, p))
    }
}

impl Lofted for SeriesScrew {
    fn root_radius_m(&self) -> f64 {
        0.9 * self.hub_radius_m
    }
    fn tip_radius_m(&self) -> f64 {
        self.radius_m
    }
    fn is_left_handed(&self) -> bool {
        self.left_handed
    }
    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let ratio = radius_m / self.radius_m;
        self.section(ratio, ALONG).into_iter().map(|p| self.in_blade_axes(ratio, p)).collect()
    }
    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        self.truth(radius_ratio)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// B4-70 and B3-50 worked out from the same tables by another hand: chord, thickness and face pitch over the diameter, skew of the mid-chord, deg.
    #[test]
    fn the_screws_have_the_figures_worked_from_the_published_tables() {
        let b4 = SeriesScrew::new(1.0, 4, 0.70, 1.0);
        let b3 = SeriesScrew::new(1.0, 3, 0.50, 0.8);
        let rows = [
            (&b4, 0.2, 0.29085, 0.03660, 0.8220, -11.84),
            (&b4, 0.6, 0.38272, 0.01980, 1.0, -3.94),
            (&b4, 0.9, 0.27685, 0.00720, 1.0, 4.95),
            (&b3, 0.4, 0.33333, 0.03120, 0.8, -7.97),
            (&b3, 0.7, 0.36133, 0.01710, 0.8, -1.45),
        ];
        for (screw, ratio, chord, thickness, pitch, skew) in rows {
            assert!((screw.chord_m(ratio) - chord).abs() < 1e-5, "{ratio}");
            assert!((screw.thickness_m(ratio) - thickness).abs() < 1e-9);
            assert!((screw.face_pitch_m(ratio) - pitch).abs() < 1e-9);
            assert!((screw.azimuth_rad(ratio).to_degrees() - skew).abs() < 0.01, "{ratio}");
        }
        // The table gives the nominal area within 2 % (2 / pi times the integral of the coefficient, from the hub).
        for (screw, area) in [(&b4, 0.70), (&b3, 0.50)] {
            let [hub, step] = [2.0 * screw.hub_radius_m, 1e-3];
            let count = ((1.0 - hub) / step) as usize;
            let sum: f64 = (0..count).map(|k| screw.chord_m(hub + (k as f64 + 0.5) * step) * step).sum();
            let found = sum * 0.5 * screw.blades as f64 / (0.25 * PI);
            assert!((found / area - 1.0).abs() < 0.02, "{found} {area}");
        }
        let skewed = SeriesScrew::new(0.5, 5, 0.6, 1.0).with_skew(40f64.to_radians());
        let [a, b] = [0.2, 1.0].map(|r| skewed.azimuth_rad(r));
        assert!(((b - a).to_degrees() - 40.0).abs() < 1e-9);
    }

    /// From 0.7 R outwards the face of the series is straight: the face line has the nominal pitch, and so has the chord line but for the rounded edges.
    #[test]
    fn the_face_has_the_nominal_pitch() {
        let screw = SeriesScrew::new(0.5, 4, 0.70, 1.0);
        for ratio in [0.7, 0.8, 0.9] {
            let t = screw.truth(ratio);
            let pitch = |deg: f64| 2.0 * PI * ratio * screw.radius_m * deg.to_radians().tan();
            assert!((pitch(t.face_angle_deg) / screw.face_pitch_m(ratio) - 1.0).abs() < 1e-9, "{ratio}");
            assert!((pitch(t.blade_angle_deg) / screw.face_pitch_m(ratio) - 1.0).abs() < 3e-3);
            assert!(
                (t.chord_m / screw.chord_m(ratio) - 1.0).abs() < 1e-3
                    && t.thickness_m < screw.thickness_m(ratio)
            );
        }
    }
}
