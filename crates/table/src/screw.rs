//! What the trade says of a ship's screw or a fan as a whole: pitch ratio, areas, skew, rake, from sections on cylinders.

use std::f64::consts::PI;

use bladeform_quantity::Measured;

use crate::{SectionSurface, Shown, Station, StationColumn, StationTable};

/// The radius at which the pitch of a screw is stated (common practice, no source).
const PITCH_AT: f64 = 0.7;
/// Part of the rectangle of chord and length that a blade fills beyond the last station, with its standard uncertainty: between a triangle and a rectangle (a rectangular distribution, JCGM 100:2008, 4.3.7).
const BEYOND_LAST: [f64; 2] = [0.75, 0.144];

/// Figures of a whole screw whose sections lie on cylinders. Terms after ITTC Recommended Procedure 7.5-01-02-01 (2008) and ISO 484-1, where the signs are: rake positive aft, against flight; skew positive
/// against the direction in which the blade moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScrewFigures {
    /// Number of blades.
    pub blades: u64,
    /// Pitch of the line from nose to tail at 0.7 R, m.
    pub pitch_m: Measured,
    /// The same over the diameter.
    pub pitch_ratio: Measured,
    /// Mean of the pitch over the measured radii, each for its part of the radius, m.
    pub mean_pitch_m: Measured,
    /// Expanded area of all blades over that of the disc: the integral of the chord from hub to tip.
    pub expanded_area_ratio: Measured,
    /// Projected area of all blades over that of the disc: what is seen along the axis.
    pub projected_area_ratio: Measured,
    /// Mean chord from hub to tip over the diameter.
    pub mean_width_ratio: Measured,
    /// Greatest angle at the axis between the mid-chords of two sections, seen along it, deg.
    pub skew_deg: Measured,
    /// Angle of the generator line aft of a line at right angles to the axis, deg: of the points at which the helix of each section meets the plane through axis and span, by least squares.
    pub rake_deg: Measured,
    /// Thickness on the axis, carried on along a straight line from the sections inside 0.7 R, over the diameter.
    pub thickness_fraction: Measured,
}

/// One section with all that is needed.
struct Section {
    r: f64,
    chord: Measured,
    /// Blade angle, rad.
    angle: f64,
    u_angle: f64,
    pitch: Measured,
    mid: [f64; 2],
    u_mid: [f64; 2],
    thickness: Option<Measured>,
}

impl Section {
    fn of(s: &Station) -> Option<Self> {
        let get = |column: StationColumn| column.measured(s);
        let angle = get(StationColumn::BladeAngleDeg)?;
        let (x, y) = (get(StationColumn::MidChordXM)?, get(StationColumn::MidChordYM)?);
        let (r, tan) = (s.radius_m, angle.value.to_radians().tan());
        let u_angle = angle.u.to_radians();
        Some(Self {
            r,
            chord: get(StationColumn::ChordM)?,
            angle: angle.value.to_radians(),
            u_angle,
            pitch: Measured::new(2.0 * PI * r * tan, 2.0 * PI * r * (1.0 + tan * tan) * u_angle),
            mid: [x.value, y.value],
            u_mid: [x.u, y.u],
            thickness: get(StationColumn::ThicknessM),
        })
    }

    /// Azimuth of the mid-chord against the direction in which the blade moves, rad.
    fn skew(&self) -> f64 {
        -self.mid[0] / self.r
    }

    /// How far aft the helix of the section meets the plane of axis and span, m.
    fn rake(&self) -> f64 {
        self.mid[0] * self.angle.tan() - self.mid[1]
    }
}

impl ScrewFigures {
    /// The figures of a table; `None` where its sections are not on cylinders, its angles are relative, or fewer than four sections between hub and tip have what is needed, with one on either side of 0.7 R.
    ///
    /// Errors of one figure at all radii are taken to go together, so that the uncertainties are rather too great.
    #[must_use]
    pub fn of(table: &StationTable) -> Option<Self> {
        if table.sections() != SectionSurface::Cylinder || table.angles_are_relative() {
            return None;
        }
        let (tip, hub) = (table.blade.radius_m, table.blade.root_radius_m?);
        let all: Vec<Section> = table.stations.iter().filter_map(Section::of).collect();
        if all.len() < 4 {
            return None;
        }
        let blades =
            table.blade.blades_in_scan.or((1 < table.blades.len()).then_some(table.blades.len() as u64))?;
        let pitch = table.value_at(StationColumn::PitchM, PITCH_AT * tip).filter(|v| !v.is_extrapolated())?;
        let u_pitch = table.value_at(StationColumn::BladeAngleDeg, PITCH_AT * tip)?.measured.u.to_radians();
        let tan = pitch.measured.value / (2.0 * PI * PITCH_AT * tip);
        let pitch_m =
            Measured::new(pitch.measured.value, 2.0 * PI * PITCH_AT * tip * (1.0 + tan * tan) * u_pitch);
        let over = |m: Measured, by: f64| Measured::new(m.value / by, m.u / by);
        let area = |f: &dyn Fn(&Section) -> Measured| from_hub_to_tip(&all, f, hub, tip);
        let expanded = area(&|s| s.chord);
        let projected = area(&|s| {
            let (sin, cos) = s.angle.sin_cos();
            Measured::new(s.chord.value * cos, (s.chord.u * cos).hypot(s.chord.value * sin * s.u_angle))
        });
        let disc = PI * tip * tip / blades as f64;
        let length = all[all.len() - 1].r - all[0].r;
        let skews = all.iter().map(|s| (s.skew(), s.u_mid[0] / s.r));
        let most = skews.clone().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let least = skews.min_by(|a, b| a.0.total_cmp(&b.0))?;
        let rakes: Vec<(f64, Measured)> = all
            .iter()
            .map(|s| (s.r, Measured::new(s.rake(), s.u_mid[1].hypot(s.u_mid[0] * s.angle.tan()))))
            .collect();
        let (_, slope) = line(&rakes);
        let inner: Vec<(f64, Measured)> =
            all.iter().filter(|s| s.r <= PITCH_AT * tip).filter_map(|s| Some((s.r, s.thickness?))).collect();
        if inner.len() < 2 {
            return None;
        }
        Some(Self {
            blades,
            pitch_m,
            pitch_ratio: over(pitch_m, 2.0 * tip),
            mean_pitch_m: over(between(&all, &|s| s.pitch), length),
            expanded_area_ratio: over(expanded, disc),
            projected_area_ratio: over(projected, disc),
            mean_width_ratio: over(expanded, (tip - hub) * 2.0 * tip),
            skew_deg: Measured::new((most.0 - least.0).to_degrees(), most.1.hypot(least.1).to_degrees()),
            rake_deg: Measured::new(slope.value.atan().to_degrees(), slope.u.to_degrees()),
            thickness_fraction: over(line(&inner).0, 2.0 * tip),
        })
    }
}

impl ScrewFigures {
    /// The figures for people: name, how it is shown, value.
    #[must_use]
    pub fn rows(&self) -> [(&'static str, Shown, Measured); 9] {
        let metre = |label| Shown::new(label, "mm", 1e3, 1);
        let ratio = |label| Shown::new(label, "", 1.0, 4);
        let degree = |label| Shown::new(label, "deg", 1.0, 1);
        [
            (metre("pitch at 0.7 R"), self.pitch_m),
            (ratio("pitch ratio P/D"), self.pitch_ratio),
            (metre("mean pitch"), self.mean_pitch_m),
            (ratio("expanded area ratio"), self.expanded_area_ratio),
            (ratio("projected area ratio"), self.projected_area_ratio),
            (ratio("mean width ratio"), self.mean_width_ratio),
            (degree("skew"), self.skew_deg),
            (degree("rake aft"), self.rake_deg),
            (ratio("blade thickness fraction"), self.thickness_fraction),
        ]
        .map(|(shown, value)| (shown.label, shown, value))
    }
}

/// Integral over the radius between the first and the last section, by trapezoids.
fn between(all: &[Section], f: &dyn Fn(&Section) -> Measured) -> Measured {
    let parts = all.windows(2).map(|w| {
        let (a, b, half) = (f(&w[0]), f(&w[1]), 0.5 * (w[1].r - w[0].r));
        [half * (a.value + b.value), half * (a.u + b.u)]
    });
    let sum = parts.fold([0.0; 2], |s, p| [s[0] + p[0], s[1] + p[1]]);
    Measured::new(sum[0], sum[1])
}

/// The same from the hub to the tip. Inboard the line through the first two sections is carried on, half of what it changes being uncertain.
fn from_hub_to_tip(all: &[Section], f: &dyn Fn(&Section) -> Measured, hub: f64, tip: f64) -> Measured {
    let measured = between(all, f);
    let (first, second, last) = (&all[0], &all[1], &all[all.len() - 1]);
    let (a, b) = (f(first), f(second));
    let inboard = (first.r - hub).max(0.0);
    let change = 0.5 * inboard * inboard * (a.value - b.value) / (second.r - first.r);
    let outboard = (tip - last.r).max(0.0) * f(last).value;
    let value = measured.value + inboard * a.value + change + BEYOND_LAST[0] * outboard;
    let u = (measured.u + inboard * a.u).hypot(0.5 * change).hypot(BEYOND_LAST[1] * outboard);
    Measured::new(value, u)
}

/// Value at 0 and slope of the line of least squares. The uncertainty of the slope is that of independent errors or of the scatter about the line, whichever is greater; so is that of the value.
fn line(points: &[(f64, Measured)]) -> (Measured, Measured) {
    let n = points.len() as f64;
    let mean = points.iter().map(|p| p.0).sum::<f64>() / n;
    let middle = points.iter().map(|p| p.1.value).sum::<f64>() / n;
    let square: f64 = points.iter().map(|p| (p.0 - mean).powi(2)).sum();
    let slope = points.iter().map(|p| (p.0 - mean) * (p.1.value - middle)).sum::<f64>() / square;
    let misfit: f64 =
        points.iter().map(|p| (p.1.value - middle - slope * (p.0 - mean)).powi(2)).sum::<f64>() / n;
    let stated: f64 = points.iter().map(|p| p.1.u.powi(2)).sum::<f64>() / n;
    let each = misfit.max(stated);
    let u_slope = (each / square).sqrt();
    (
        Measured::new(middle - slope * mean, (each / n).sqrt().hypot(mean * u_slope)),
        Measured::new(slope, u_slope),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{BladeFigures, BladeRows, Frame, Setting, SettingOf};

    /// r/R, `K_r`, a/c, `A_r`, `B_r` of the four-bladed Wageningen B screws: M. W. C. Oosterveld, P. van Oossanen, *Further computer-analyzed data of the Wageningen B-screw series*, International
    /// Shipbuilding Progress 22 (1975), 251-262.
    const B4: [[f64; 5]; 8] = [
        [0.2, 1.662, 0.617, 0.0526, 0.0040],
        [0.3, 1.882, 0.613, 0.0464, 0.0035],
        [0.4, 2.050, 0.601, 0.0402, 0.0030],
        [0.5, 2.152, 0.586, 0.0340, 0.0025],
        [0.6, 2.187, 0.561, 0.0278, 0.0020],
        [0.7, 2.144, 0.524, 0.0216, 0.0015],
        [0.8, 1.970, 0.463, 0.0154, 0.0010],
        [0.9, 1.582, 0.351, 0.0092, 0.0005],
    ];
    const RAKE_DEG: f64 = 15.0;

    /// The B4-70 screw of 1 m with a pitch of 1 m at all radii.
    fn b4_70() -> StationTable {
        let (tip, blades, area) = (0.5, 4.0, 0.70);
        let station = |[ratio, k, a, ar, br]: [f64; 5]| {
            let mut s = Station::at(ratio * tip, tip);
            let (r, chord) = (ratio * tip, k * 2.0 * tip * area / blades);
            let angle = (1.0 / (2.0 * PI * r)).atan();
            // From the generator line to the middle of the chord, against the motion.
            let behind = (0.5 - a) * chord;
            let aft = r * RAKE_DEG.to_radians().tan();
            let set = |s: &mut Station, column: StationColumn, value: f64, u: f64| {
                column.set_measured(s, Some(Measured::new(value, u)));
            };
            set(&mut s, StationColumn::ChordM, chord, 1e-3);
            set(&mut s, StationColumn::BladeAngleDeg, angle.to_degrees(), 0.1);
            set(&mut s, StationColumn::ThicknessM, 2.0 * tip * (ar - br * blades), 1e-4);
            set(&mut s, StationColumn::MidChordXM, -behind * angle.cos(), 1e-4);
            set(&mut s, StationColumn::MidChordYM, -behind * angle.sin() - aft, 1e-4);
            s.pitch_m = Some(1.0);
            s
        };
        let setting =
            Setting { angle_deg: 0.0, radius_ratio: 0.75, of: SettingOf::Chord, extra: Default::default() };
        StationTable {
            frame: Some(Frame { sections: SectionSurface::Cylinder, ..Frame::default() }),
            blade: BladeFigures {
                radius_m: tip,
                root_radius_m: Some(0.167 * tip),
                setting: Some(setting),
                ..BladeFigures::default()
            },
            blades: vec![BladeRows::default(); 4],
            stations: B4.map(station).to_vec(),
            ..StationTable::default()
        }
    }

    #[test]
    fn a_published_screw_has_its_published_areas_pitch_and_rake() {
        let f = ScrewFigures::of(&b4_70()).unwrap();
        assert!((f.pitch_ratio.value - 1.0).abs() < 1e-9 && (f.mean_pitch_m.value - 1.0).abs() < 1e-9);
        // The chords of the table give its nominal area within 2 %.
        let off = f.expanded_area_ratio.value / 0.70 - 1.0;
        assert!(off.abs() < 0.02 && off.abs() * 0.7 < 2.0 * f.expanded_area_ratio.u, "{off} {f:?}");
        assert!((f.rake_deg.value - RAKE_DEG).abs() < 1e-9, "{f:?}");
        // The same series worked by hand: mid-chords at -10.37 deg (0.2 R, one pitch at all radii) and at 4.95 deg (0.9 R), by (c/2 - a) cos(angle) / r.
        assert!((f.skew_deg.value - 15.32).abs() < 0.01, "{f:?}");
        // D (A_r - B_r Z) is a straight line: 0.0650 - 0.0050 Z on the axis.
        assert!((f.thickness_fraction.value - (0.0650 - 0.0050 * 4.0)).abs() < 1e-9, "{f:?}");
        // H. Taylor's formula of the projected area: A_P/A_D = 1.067 - 0.229 P/D (D. W. Taylor, *The Speed and Power of Ships*, 1910; from memory), within 3 % of such screws.
        let taylor = f.expanded_area_ratio.value * (1.067 - 0.229);
        assert!((f.projected_area_ratio.value / taylor - 1.0).abs() < 0.03, "{f:?} {taylor}");
    }

    #[test]
    fn plane_sections_have_no_figures_of_a_screw() {
        let mut table = b4_70();
        table.frame = Some(Frame::default());
        assert_eq!(ScrewFigures::of(&table), None);
    }
}
