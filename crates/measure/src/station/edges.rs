//! Uncertainty of edges that the scan does not show.

use bladeform_quantity::RECTANGULAR;
use bladeform_section::{Figure, Figures, N_STRIPS, SectionFit, rival_of_longest_chord};
use bladeform_table::{Flag, Station, StationColumn, UncertaintySource};

use super::definition::move_leading_edge;
use super::row::ToTable;
use crate::band::fit::{Found, Outcome};

/// A gap around the nose, chords, is reported from this width on: little there decides much.
const REPORTED_NOSE_GAP: f64 = 0.02;
/// Fraction of the band without a leading edge that is reported: a fit with straight changes along the span then relies on one side.
const REPORTED_NOSE_MISSING: f64 = 0.25;
/// Points of a band from which a strip without any on the leading edge is not chance.
const ENOUGH_TO_MISS: usize = 3000;
/// A chord that ends in a hole is short by something between nothing and half the hole's width: the root mean square of that, a rectangular distribution
/// (JCGM 100:2008, 4.3.7).
const SHORT_PER_GAP: f64 = 0.29;
/// How far a leading edge may be off where a hole has taken it: fractions of the gap around the nose, and chords where the nose is missing on all of the band.
/// A judgement (JCGM 100:2008, 4.3) after seeded scans, in which a fit across a hole at the nose was off by up to 0.04 chords.
const OFF_PER_GAP: f64 = 0.1;
const OFF_PER_MISSING: f64 = 0.02;

/// Adds the uncertainty of a trailing edge, and of a sharp leading edge, between two rows of scan points.
///
/// The last but one of `k` scan points scattered evenly over one spacing lies on average two (k + 1)ths of it inside the end of the tail, and nothing else
/// shows where the blade ends. Whether a scan has points on the edge itself is not known: the shortfall lies anywhere between nil and twice that,
/// which is added as a rectangular distribution (JCGM 100:2008, 4.3.7) to what depends on the chord. `k` rows lie in the band, and the fit ends
/// where the last but one of its strips does. The spacing is that of the points near the edge where they are sparser than elsewhere, as on a mesh that was thinned.
pub(super) fn add_unseen_edges(s: &mut Station, fit: &SectionFit, found: &Found, to: &ToTable) {
    let unseen_m = |points: usize| {
        let spacing = found.spacing.max(spacing_at_edge(points, fit.quality.half_band) * found.chord);
        let strip = 2.0 * fit.quality.half_band * found.chord / N_STRIPS as f64;
        let rows = N_STRIPS as f64 * (strip / spacing).max(1.0);
        2.0 * spacing / (1.0 + rows) * to.metres_per_unit * RECTANGULAR
    };
    let chord_m = found.chord * to.metres_per_unit;
    let tail_m = unseen_m(fit.quality.tail_points);
    add_short_chord(s, UncertaintySource::Edge, tail_m, chord_m);
    add_turn_by_tail(s, UncertaintySource::Edge, tail_m, chord_m);
    add_thinner_tail(s, UncertaintySource::Edge, fit, tail_m / RECTANGULAR / chord_m, chord_m);
    let lost_m = found.spacing.hypot(found.kernel) * to.metres_per_unit;
    let width_m = s.trailing_edge_thickness_m.unwrap_or(0.0);
    add_corner_of_tail(s, rival_of_longest_chord(&fit.shape, width_m / chord_m), lost_m, chord_m);
    // A round nose is seen from both sides; one that is rounded within a spacing ends as a tail does.
    let spacing_m = found.spacing * to.metres_per_unit;
    let is_round = s.leading_edge_radius_m.is_some_and(|radius_m| spacing_m <= radius_m);
    let nose_m = if is_round { 0.0 } else { unseen_m(fit.quality.nose_points) };
    add_short_chord(s, UncertaintySource::Edge, nose_m, chord_m);
    let middle_m = 0.5 * nose_m.hypot(tail_m);
    s.add_uncertainty(StationColumn::MidChordXM, UncertaintySource::Edge, middle_m);
    s.add_uncertainty(StationColumn::MidChordYM, UncertaintySource::Edge, STEEP * middle_m);
}

/// Adds what the tail leaves uncertain of the direction of the longest chord, which ends at one of its corners: triangles that do not know the edges cut the corners off, and a kernel rounds them, up to
/// `lost_m` inside. The end lies anywhere that far from the corner, at most in the middle of the tail (a rectangular distribution, JCGM 100:2008, 4.3.7). And the other corner is the farther one if
/// this one has lost less than it by what the chord to it is shorter: for two losses from nothing to `lost_m`, each alike likely, that is half the square of what is left of `lost_m`.
/// `rival`: the chord to the other corner, by how much it is shorter in chords and by what angle it lies apart.
fn add_corner_of_tail(s: &mut Station, rival: Option<[f64; 2]>, lost_m: f64, chord_m: f64) {
    let Some(width_m) = s.trailing_edge_thickness_m else { return };
    let column = StationColumn::LongestChordAngleDeg;
    let aside_m = RECTANGULAR * lost_m.min(0.5 * width_m);
    s.add_uncertainty(column, UncertaintySource::Edge, (aside_m / chord_m).to_degrees());
    if let Some([shorter, turn]) = rival {
        let left = (1.0 - shorter * chord_m / lost_m.max(f64::MIN_POSITIVE)).max(0.0);
        let likely = 0.5 * left * left;
        s.add_uncertainty(column, UncertaintySource::Edge, (likely.sqrt() * turn).to_degrees());
    }
}

/// Sine of a steep blade angle, 30 deg: what moves the middle of a chord along it moves it up by that part. The axes of a lone blade are turned only later, so its own angle is not known here.
const STEEP: f64 = 0.5;

/// Part of the chord at either end in which a fit counts its points.
const COUNTED: f64 = 0.03;

/// Distance of neighbouring points near an edge, chords, from their number on both sides of the counted part.
fn spacing_at_edge(points: usize, half_band: f64) -> f64 {
    (2.0 * COUNTED * 2.0 * half_band / points.max(1) as f64).sqrt()
}

/// Adds what the edges of a mean of plane cuts leave uncertain: a cut ends at the last triangles, up to a spacing and a few residuals inside or outside the part's own edge (a rectangular distribution, JCGM
/// 100:2008, 4.3.7), and a kernel has drawn it back by about its own width. `rms`: distance of the cuts from their mean, chords.
pub(super) fn add_cut_edges(s: &mut Station, found: &Found, rms: f64, to: &ToTable) {
    let k = to.metres_per_unit;
    let chord_m = found.chord * k;
    let each_m = (0.5 * found.spacing * k).hypot(found.kernel * k).hypot(rms * chord_m) * RECTANGULAR;
    add_short_chord(s, UncertaintySource::Edge, std::f64::consts::SQRT_2 * each_m, chord_m);
    for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
        s.add_uncertainty(column, UncertaintySource::Edge, each_m);
    }
}

/// What a trailing edge that may lie `u_m` farther along the mean line does to the direction of the chord line: the mean line of a cambered section does not end along it. The line
/// turns about the leading edge by `u_m` times the slope there over the chord, and the camber changes by that turn where it is greatest. The slope is that of the four-digit
/// sections, two parabolas, `2 m / (1 - p)` (E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460, 1933).
pub(super) fn add_turn_by_tail(s: &mut Station, source: UncertaintySource, u_m: f64, chord_m: f64) {
    let (Some(camber), Some(position)) = (s.camber_ratio, s.camber_position) else { return };
    let slope = 2.0 * camber.abs() / (1.0 - position.min(MOST_POSITION));
    let turn = u_m * slope / chord_m;
    for (column, u) in [
        (StationColumn::BladeAngleDeg, turn.to_degrees()),
        (StationColumn::CamberRatio, turn * position + camber.abs() * u_m / chord_m),
    ] {
        s.add_uncertainty(column, source, u);
    }
}

/// What a trailing edge that may lie anywhere up to `beyond` chords farther back does to its thickness: the tail goes on to get thinner (a rectangular distribution, JCGM 100:2008, 4.3.7).
pub(super) fn add_thinner_tail(
    s: &mut Station,
    source: UncertaintySource,
    fit: &SectionFit,
    beyond: f64,
    chord_m: f64,
) {
    let thinner_m = RECTANGULAR * fit.tail_widening(beyond) * chord_m;
    s.add_uncertainty(StationColumn::TrailingEdgeThicknessM, source, thinner_m);
}

/// Greatest camber farther back than this is that of a reflexed or doubtful mean line: its slope at the tail is then not that of the formula, which grows without bound.
const MOST_POSITION: f64 = 0.8;

/// A chord that may be short by `u_m` at its trailing edge.
pub(super) fn add_short_chord(s: &mut Station, source: UncertaintySource, u_m: f64, chord_m: f64) {
    let ratio = s.thickness_ratio.unwrap_or(0.0) * u_m / chord_m;
    for (column, u) in [
        (StationColumn::ChordM, u_m),
        (StationColumn::LongestChordM, u_m),
        (StationColumn::ThicknessRatio, ratio),
    ] {
        s.add_uncertainty(column, source, u);
    }
}

/// Adds the uncertainty of a trailing-edge thickness that the fit could not resolve.
pub(super) fn add_unknown_tail_thickness(s: &mut Station, fit: &SectionFit, chord_m: f64) {
    let column = StationColumn::TrailingEdgeThicknessM;
    s.add_uncertainty(column, UncertaintySource::Scan, fit.quality.shut_tail * chord_m);
    if s.u.trailing_edge_thickness_m.is_none_or(|u| u <= 0.0) {
        // Neither equations nor readings say anything: it may be anything up to the noise of one point (a rectangular distribution, JCGM 100:2008, 4.3.7).
        s.add_uncertainty(column, UncertaintySource::Scan, RECTANGULAR * fit.quality.rms * chord_m);
    }
}

/// Adds the uncertainty of a trailing edge that lies in a hole of this width, and flags it.
pub(super) fn add_gap_at_tail(s: &mut Station, gap_m: f64, chord_m: f64) {
    add_short_chord(s, UncertaintySource::Edge, SHORT_PER_GAP * gap_m, chord_m);
    for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
        s.add_uncertainty(column, UncertaintySource::Edge, 0.5 * SHORT_PER_GAP * gap_m);
    }
    s.flags.push(Flag::GapAtTail { width_m: gap_m });
}

/// Adds the uncertainty of a leading edge that lies in a hole.
pub(super) fn add_missing_nose(s: &mut Station, fit: &SectionFit, f: &Figures, chord_m: f64) {
    let q = &fit.quality;
    let gap = if REPORTED_NOSE_GAP < q.nose_gap { q.nose_gap } else { 0.0 };
    let missing = if is_nose_missing(fit) { q.nose_missing } else { 0.0 };
    let off = OFF_PER_GAP * gap + OFF_PER_MISSING * missing;
    if 0.0 < off {
        let chord = f.value(Figure::Chord) * chord_m;
        move_leading_edge(s, UncertaintySource::Edge, [0.5 * off, off], chord, f);
    }
}

/// Flags a leading edge that lies in a hole.
pub(super) fn flag_nose(s: &mut Station, fit: &SectionFit, chord_m: f64) {
    if REPORTED_NOSE_GAP < fit.quality.nose_gap {
        s.flags.push(Flag::GapAtNose { width_m: chord_m * fit.quality.nose_gap });
    }
    if is_nose_missing(fit) {
        s.flags.push(Flag::NoseMissing { fraction: fit.quality.nose_missing });
    }
}

/// A nose that is missing in more than this part of the band is not known from the rest of it: two of the seven strips show where it ends.
pub(crate) const MOSTLY_MISSING: f64 = 0.75;

/// Whether leading and trailing edge of a fitted outline lie in a hole of the scan, so that the band does not show them. A gap that leaves a part of the band with its edge is none.
pub(crate) fn edge_in_hole(found: &Found, fit: &SectionFit) -> [bool; 2] {
    let [nose, tail] = found.evidence.rims.map(|rim| rim.is_some());
    [nose || MOSTLY_MISSING < fit.quality.nose_missing, tail || found.tail_gap.is_some()]
}

/// Whether one of them does; not where no outline was fitted.
pub(crate) fn lacks_an_edge(found: &Found) -> bool {
    matches!(&found.outcome, Outcome::Fitted(fit) if edge_in_hole(found, fit).contains(&true))
}

fn is_nose_missing(fit: &SectionFit) -> bool {
    REPORTED_NOSE_MISSING < fit.quality.nose_missing && ENOUGH_TO_MISS <= fit.quality.points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_corner_at_which_the_longest_chord_ends_may_be_cut_off() {
        let mut s = Station::at(0.5, 1.0);
        (s.trailing_edge_thickness_m, s.longest_chord_angle_deg) = (Some(0.0005), Some(20.0));
        add_corner_of_tail(&mut s, None, 0.001, 0.06);
        // Half of the tail: 0.25 mm over the square root of 3, over 60 mm.
        let expected = (0.25e-3 / 3f64.sqrt() / 0.06).to_degrees();
        assert!((s.u.longest_chord_angle_deg.unwrap() - expected).abs() < 1e-9);
        assert_eq!(s.u.blade_angle_deg, None);
        // A corner that is as far away is the end as likely as not; one that is nearer by more than either may have lost is not.
        let with = |shorter: f64| {
            let mut s = s.clone();
            add_corner_of_tail(&mut s, Some([shorter, 0.01]), 0.001, 0.06);
            s.u.longest_chord_angle_deg.unwrap().powi(2) - 2.0 * expected * expected
        };
        assert!((with(0.0) - 0.5 * 0.01f64.to_degrees().powi(2)).abs() < 1e-9);
        assert!(with(0.02).abs() < 1e-9);
    }

    #[test]
    fn a_hole_at_the_tail_makes_the_chord_uncertain_by_a_rectangular_distribution() {
        let mut s = Station::at(0.5, 1.0);
        s.chord_m = Some(0.2);
        s.thickness_ratio = Some(0.1);
        add_gap_at_tail(&mut s, 0.01, 0.2);
        // Between 0 and half of 10 mm: the root mean square is 5 mm over the square root of 3.
        let expected = 5e-3 / 3f64.sqrt();
        assert!((s.u.chord_m.unwrap() / expected - 1.0).abs() < 0.01);
        assert!((s.u.thickness_ratio.unwrap() / (0.1 * expected / 0.2) - 1.0).abs() < 0.01);
        assert_eq!(s.flags, [Flag::GapAtTail { width_m: 0.01 }]);
    }
}
