//! From a fitted outline in chords and file units to a row of the table.

use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

use bladeform_section::{Figure, Figures, RadialFit, SectionFit, figures};
use bladeform_table::{Flag, SectionPart, Station, StationColumn, UncertaintySource};

use super::{definition, departures, edges, not_scanned, resolution};
use bladeform_quantity::Measured;

use crate::band::averaged_cut::{AveragedCut, CutCheck};
use crate::band::fit::{Evidence, Found, Outcome};

/// A gap along one side of the band, chords, is reported from this width on: the fit bridges a shorter one within its uncertainty.
const REPORTED_GAP: f64 = 0.05;
/// Neighbouring points of a round section are correlated: this many count as one.
const POINTS_AS_ONE: f64 = 20.0;

/// How the figures of a station go from span axes and file units to the table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ToTable {
    pub(crate) metres_per_unit: f64,
    /// Radius in m of span coordinate 0.
    pub(crate) radius_at_origin_m: f64,
    pub(crate) tip_radius_m: f64,
}

impl Found {
    /// The row of the station.
    pub(crate) fn station(&self, to: &ToTable) -> Station {
        let radius_m = to.radius_at_origin_m + to.metres_per_unit * self.z;
        let mut station = match &self.outcome {
            Outcome::Refused(reason) => Station::refused(radius_m, to.tip_radius_m, reason.to_string()),
            Outcome::Round(fit, points) => round_station(fit, *points, radius_m, to),
            Outcome::Fitted(fit) => self.fitted_station(fit, radius_m, to),
            Outcome::Cut(cut) => self.cut_station(cut, radius_m, to),
        };
        if let Some((gaps, length, share)) = self.gap {
            station.flags.push(Flag::Bridged { gaps, length_m: length * to.metres_per_unit, share });
        }
        let Evidence { loops, is_coarse, stray, contradicted, .. } = self.evidence;
        let is_fitted = matches!(self.outcome, Outcome::Fitted(_));
        let several = loops.map(|(loops, left_out_share)| Flag::SeveralLoops { loops, left_out_share });
        let coarse = is_coarse.then_some(Flag::Coarse {
            spacing_m: self.spacing * to.metres_per_unit,
            chord_m: self.chord * to.metres_per_unit,
        });
        let stray = stray.filter(|_| is_fitted).map(|fraction| Flag::StrayPoints { fraction });
        let chord_m = self.chord * to.metres_per_unit;
        let contradicted = contradicted.filter(|_| is_fitted).map(|check| cut_flag(check, chord_m));
        station.flags.extend([several, coarse, stray, contradicted].into_iter().flatten());
        station
    }

    /// Figures and outline of another fit in place of the station's own; where asked, with the uncertainty that its covariance gives.
    pub(crate) fn figures_of(&self, fit: &SectionFit, to: &ToTable, with_u: bool) -> Station {
        let f = if with_u { fit.figures() } else { figures(&fit.shape) };
        let mut s = Station::at(to.radius_at_origin_m + to.metres_per_unit * self.z, to.tip_radius_m);
        let chord_m = self.chord * to.metres_per_unit;
        set_figures(&mut s, &f, chord_m, self.angle);
        self.set_mid_chord(&mut s, &f, to);
        s.outline = departures::outline(fit, chord_m).0;
        s
    }

    fn fitted_station(&self, fit: &SectionFit, radius_m: f64, to: &ToTable) -> Station {
        let f = fit.figures();
        let chord_m = self.chord * to.metres_per_unit;
        let mut s = Station::at(radius_m, to.tip_radius_m);
        set_figures(&mut s, &f, chord_m, self.angle);
        self.set_mid_chord(&mut s, &f, to);
        resolution::add_sharpening(
            &mut s,
            fit,
            &f,
            chord_m,
            [self.kernel * to.metres_per_unit, self.kernel_u],
        );
        edges::add_unseen_edges(&mut s, fit, self, to);
        definition::add_missed_by_model(&mut s, fit, &f, chord_m);
        definition::add_edges_read_otherwise(&mut s, fit, chord_m);
        edges::add_unknown_tail_thickness(&mut s, fit, chord_m);
        edges::add_missing_nose(&mut s, fit, &f, chord_m);
        s.points = Some(fit.quality.points as f64);
        s.residual_rms_m = Some(fit.quality.rms * chord_m);
        let (own, made_sharp) = departures::outline(fit, chord_m);
        s.near_sections = own.as_ref().map_or_else(Vec::new, |own| departures::near_sections(own, &s));
        s.outline = own;
        departures::add_departures(&mut s, fit, chord_m, self.evidence.is_coarse);
        s.flags.extend(made_sharp);
        flag_gaps(&mut s, fit);
        let [nose, tail] = self.evidence.rims;
        if let Some(gap) = self.tail_gap.filter(|_| tail.is_none()) {
            edges::add_gap_at_tail(&mut s, gap * to.metres_per_unit, chord_m);
        }
        if nose.is_none() {
            edges::flag_nose(&mut s, fit, chord_m);
        }
        not_scanned::add_not_scanned(&mut s, fit, &f, self.evidence.rims, chord_m);
        s
    }

    /// A section measured on the mean of plane cuts.
    fn cut_station(&self, cut: &AveragedCut, radius_m: f64, to: &ToTable) -> Station {
        let f = &cut.figures;
        let chord_m = self.chord * to.metres_per_unit;
        let mut s = Station::at(radius_m, to.tip_radius_m);
        set_figures(&mut s, f, chord_m, self.angle);
        // Corners of a cut do not show a radius.
        s.leading_edge_radius_m = None;
        s.u.leading_edge_radius_m = None;
        s.budget.remove(StationColumn::LeadingEdgeRadiusM);
        self.set_mid_chord(&mut s, f, to);
        edges::add_cut_edges(&mut s, self, cut.rms, to);
        // The greatest of many noisy widths is too great by about their noise, that of two sides; the greatest camber by that of their middle.
        let (of_width, of_middle) = (SQRT_2 * cut.rms, FRAC_1_SQRT_2 * cut.rms);
        for (column, u) in [
            (StationColumn::ThicknessM, of_width * chord_m),
            (StationColumn::ThicknessRatio, of_width),
            (StationColumn::CamberRatio, of_middle),
        ] {
            s.add_uncertainty(column, UncertaintySource::Scan, u);
        }
        s.points = Some(cut.points as f64);
        s.residual_rms_m = Some(cut.rms * chord_m);
        s.outline = Some(departures::outline_of_cut(cut, chord_m));
        s.flags.push(Flag::MeasuredByCuts { cuts: cut.cuts });
        s
    }

    fn set_mid_chord(&self, s: &mut Station, f: &Figures, to: &ToTable) {
        let (k, c) = (to.metres_per_unit, self.chord * to.metres_per_unit);
        let back = [self.along[1], -self.along[0]];
        let (x, y) = (f.value(Figure::MidChordX) * c, f.value(Figure::MidChordY) * c);
        let p = [0, 1].map(|i| self.leading[i] * k + self.along[i] * x + back[i] * y);
        let u = (f.u(Figure::MidChordX) * c).max(f.u(Figure::MidChordY) * c);
        s.mid_chord_x_m = Some(p[0]);
        s.mid_chord_y_m = Some(p[1]);
        for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
            s.add_uncertainty(column, UncertaintySource::Scan, u);
        }
    }
}

/// The flag of a figure that the plane cut contradicts.
fn cut_flag(check: CutCheck, chord_m: f64) -> Flag {
    let (column, factor) = match check.figure {
        Figure::LongestChord => (StationColumn::LongestChordM, chord_m),
        Figure::Area => (StationColumn::AreaM2, chord_m * chord_m),
        _ => (StationColumn::FaceAngleDeg, 1f64.to_degrees()),
    };
    Flag::CutDiffers { column, amount: Measured::new(factor * check.difference, factor * check.u) }
}

fn round_station(fit: &RadialFit, points: usize, radius_m: f64, to: &ToTable) -> Station {
    let k = to.metres_per_unit;
    let mut s = Station::at(radius_m, to.tip_radius_m);
    s.thickness_m = Some(fit.thickness * k);
    s.longest_chord_m = Some(fit.longest_chord * k);
    s.area_m2 = Some(fit.area * k * k);
    s.points = Some(points as f64);
    s.residual_rms_m = Some(fit.rms * k);
    let u = fit.rms * k / (points as f64 / POINTS_AS_ONE).max(1.0).sqrt();
    // A circle's area changes with its diameter by half of its circumference.
    let of_area = u * fit.longest_chord * k * std::f64::consts::PI / 2.0;
    for (column, u) in
        [(StationColumn::ThicknessM, u), (StationColumn::LongestChordM, u), (StationColumn::AreaM2, of_area)]
    {
        s.add_uncertainty(column, UncertaintySource::Scan, u);
    }
    s.flags.push(Flag::NearlyCircular { thickness_ratio: fit.thickness / fit.longest_chord });
    s
}

/// Columns of lengths, areas and ratios: the figure, and the power of the chord that is its unit.
pub(super) const LENGTHS: [(StationColumn, Figure, i32); 10] = [
    (StationColumn::ChordM, Figure::Chord, 1),
    (StationColumn::ThicknessM, Figure::Thickness, 1),
    (StationColumn::LeadingEdgeRadiusM, Figure::LeadingEdgeRadius, 1),
    (StationColumn::TrailingEdgeThicknessM, Figure::TrailingEdgeThickness, 1),
    (StationColumn::LongestChordM, Figure::LongestChord, 1),
    (StationColumn::AreaM2, Figure::Area, 2),
    (StationColumn::ThicknessRatio, Figure::ThicknessRatio, 0),
    (StationColumn::ThicknessPosition, Figure::ThicknessPosition, 0),
    (StationColumn::CamberRatio, Figure::CamberRatio, 0),
    (StationColumn::CamberPosition, Figure::CamberPosition, 0),
];
/// Columns of angles.
pub(super) const ANGLES: [(StationColumn, Figure); 3] = [
    (StationColumn::BladeAngleDeg, Figure::Angle),
    (StationColumn::FaceAngleDeg, Figure::FaceAngle),
    (StationColumn::LongestChordAngleDeg, Figure::LongestChordAngle),
];

/// The figures themselves, with what the noise of the scan leaves uncertain. `angle`: of the chord frame in span axes, rad.
fn set_figures(s: &mut Station, f: &Figures, chord_m: f64, angle: f64) {
    for (column, figure, power) in LENGTHS {
        column.set(s, Some(f.value(figure) * chord_m.powi(power)));
        s.add_uncertainty(column, UncertaintySource::Scan, f.u(figure) * chord_m.powi(power));
    }
    for (column, figure) in ANGLES {
        column.set(s, Some((angle + f.value(figure)).to_degrees()));
        s.add_uncertainty(column, UncertaintySource::Scan, f.u(figure).to_degrees());
    }
}

fn flag_gaps(s: &mut Station, fit: &SectionFit) {
    for (side, gap) in [(SectionPart::Back, fit.quality.back_gap), (SectionPart::Face, fit.quality.face_gap)]
    {
        if REPORTED_GAP < gap {
            s.flags.push(Flag::GapInBand { side, fraction: gap });
        }
    }
}

/// Turns a station about the span by an angle in rad.
pub(crate) fn turn_station(s: &mut Station, turn: f64) {
    for angle in StationColumn::ANGLES {
        let turned = angle.get(s).map(|a| a + turn.to_degrees());
        angle.set(s, turned);
    }
    if let Some((x, y)) = s.mid_chord_x_m.zip(s.mid_chord_y_m) {
        let (sin, cos) = turn.sin_cos();
        s.mid_chord_x_m = Some(x * cos - y * sin);
        s.mid_chord_y_m = Some(x * sin + y * cos);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_station_turns_about_the_span() {
        let mut s = Station::at(0.5, 1.0);
        (s.mid_chord_x_m, s.mid_chord_y_m) = (Some(0.02), Some(0.0));
        s.blade_angle_deg = Some(10.0);
        turn_station(&mut s, std::f64::consts::FRAC_PI_2);
        assert!((s.blade_angle_deg.unwrap() - 100.0).abs() < 1e-12);
        assert!(s.mid_chord_x_m.unwrap().abs() < 1e-15 && (s.mid_chord_y_m.unwrap() - 0.02).abs() < 1e-15);
        assert_eq!(s.face_angle_deg, None);
    }

    #[test]
    fn a_round_station_has_a_diameter_and_no_angle() {
        let fit = RadialFit { thickness: 90.0, longest_chord: 90.0, area: 6361.7, rms: 0.2, ..sample() };
        let to = ToTable { metres_per_unit: 1e-3, radius_at_origin_m: 0.1, tip_radius_m: 1.0 };
        let s = round_station(&fit, 2000, 0.2, &to);
        assert_eq!((s.thickness_m, s.blade_angle_deg), (Some(0.09), None));
        // A hundred independent points: a tenth of the residual.
        assert!((s.u.thickness_m.unwrap() - 2e-5).abs() < 1e-12);
        // dA = pi D dD / 2
        assert!((s.u.area_m2.unwrap() - std::f64::consts::PI * 0.09 / 2.0 * 2e-5).abs() < 1e-15);
        assert!(matches!(s.flags[..], [Flag::NearlyCircular { .. }]));
    }

    fn sample() -> RadialFit {
        bladeform_section::fit_radial(
            &(0..100)
                .map(|k| f64::from(k) / 100.0 * std::f64::consts::TAU)
                .map(|t| [t.cos(), t.sin()])
                .collect::<Vec<_>>(),
        )
        .unwrap()
    }
}
