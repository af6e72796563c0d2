//! Uncertainty that comes from the definitions and from the outline model.

use bladeform_section::{Figure, Figures, SectionFit};
use bladeform_table::{Station, StationColumn, UncertaintySource};

/// What the smoothness of the outline model and its straight change along the band miss, chords and square chords: root mean squares over scans without
/// noise of the three families of the study (22 stations from 0.30 R to 0.93 R each). They matter only where the noise is a tenth of a millimetre or less.
const MISSED_THICKNESS: f64 = 3.5e-5;
const MISSED_AREA: f64 = 1.5e-5;
/// The same of the face angle, deg, to which the reference station contributes.
const MISSED_FACE_ANGLE_DEG: f64 = 1e-3;

/// The same of the place of the chord's middle, from the two edges.
const MISSED_MIDDLE: f64 = 2e-4;
/// Distance of the knots of the outline model in the middle of the chord, chords.
const KNOTS_APART: f64 = 0.07;
/// A place is not determined better than this, chords: a fifth of the step at which a top is searched for.
const LEAST_PLACE: f64 = 1e-3;
/// Curvature below which a place is not determined at all, per chord.
const LEAST_CURVATURE: f64 = 1e-3;

/// The truth may be either reading of the definition: the mean square of the error is then half the square of their difference.
const EITHER_READING: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// Adds what the outline model misses.
pub(super) fn add_missed_by_model(s: &mut Station, fit: &SectionFit, f: &Figures, chord_m: f64) {
    // The model's error bends over an interval of its knots; a flat top moves by the slope of that error over its curvature.
    let [thickness, camber] = fit
        .curvatures_at_peaks(f)
        .map(|c| LEAST_PLACE.max(MISSED_THICKNESS / (KNOTS_APART * c.max(LEAST_CURVATURE))));
    for (column, u) in [
        (StationColumn::ThicknessM, MISSED_THICKNESS * chord_m),
        (StationColumn::ThicknessRatio, MISSED_THICKNESS),
        (StationColumn::AreaM2, MISSED_AREA * chord_m * chord_m),
        (StationColumn::FaceAngleDeg, MISSED_FACE_ANGLE_DEG),
        (StationColumn::MidChordXM, MISSED_MIDDLE * chord_m),
        (StationColumn::MidChordYM, MISSED_MIDDLE * chord_m),
        (StationColumn::ThicknessPosition, thickness),
        (StationColumn::CamberPosition, camber),
    ] {
        s.add_uncertainty(column, UncertaintySource::Definition, u);
    }
}

/// Adds the difference between the two readings of the edges.
pub(super) fn add_edges_read_otherwise(s: &mut Station, fit: &SectionFit, chord_m: f64) {
    let [nose, tail] = fit.edges_read_otherwise().map(|apart| EITHER_READING * apart.abs());
    s.add_uncertainty(StationColumn::LeadingEdgeRadiusM, UncertaintySource::Definition, nose * chord_m);
    s.add_uncertainty(StationColumn::TrailingEdgeThicknessM, UncertaintySource::Definition, tail * chord_m);
    // Back and face are seen, the round between them is not. With another radius it is higher above the face by as much, and the longest chord ends there.
    s.add_uncertainty(StationColumn::LongestChordAngleDeg, UncertaintySource::Definition, nose.to_degrees());
}

/// What a leading edge that is off by so much, along and across the chord line in chords, does to the figures.
pub(super) fn move_leading_edge(
    s: &mut Station,
    source: UncertaintySource,
    [along, across]: [f64; 2],
    chord_m: f64,
    f: &Figures,
) {
    let before = 1.0 - f.value(Figure::CamberPosition);
    for (column, u) in [
        (StationColumn::ChordM, along * chord_m),
        (StationColumn::ThicknessRatio, along * f.value(Figure::ThicknessRatio)),
        (StationColumn::BladeAngleDeg, across.to_degrees()),
        (StationColumn::CamberRatio, across * before),
        (StationColumn::MidChordXM, 0.5 * chord_m * along.hypot(across)),
        (StationColumn::MidChordYM, 0.5 * chord_m * along.hypot(across)),
    ] {
        s.add_uncertainty(column, source, u);
    }
}
