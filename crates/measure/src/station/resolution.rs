//! Uncertainty of figures that were corrected for the resolution of the scan.

use bladeform_section::{Figure, Figures, SectionFit, figures};
use bladeform_table::{Flag, Station, StationColumn, UncertaintySource};

use super::edges;
use super::row::{ANGLES, LENGTHS};
use crate::frame::kernel::{DRAWN_BACK, MOST_BELIEVED_M};
use bladeform_quantity::RECTANGULAR;

/// Standard uncertainty of a correction as a fraction of it: the kernel of a reconstruction is a Gaussian along the outline only about, and how far it follows the surface is not known. A judgement (JCGM
/// 100:2008, 4.3). What a flow that shortens the outline takes besides is [`add_edges_beyond`] (`docs/decisions/028-errors-longer-than-a-band.md`).
const RELATIVE_U: f64 = 0.25;

/// Adds what the correction for the resolution leaves uncertain. The kernel's standard deviation, m,
/// and its relative standard uncertainty.
pub(super) fn add_sharpening(
    s: &mut Station,
    fit: &SectionFit,
    f: &Figures,
    chord_m: f64,
    [kernel_m, kernel_u]: [f64; 2],
) {
    hide_unresolved_radius(s, kernel_m);
    // An estimate beyond what is believed mostly comes from the form of a part without noise and not from its scan; a notice says so (`resolution-doubtful`).
    let is_of_scan = kernel_u <= 0.0 || kernel_m <= MOST_BELIEVED_M;
    if is_of_scan {
        add_edges_beyond(s, fit, chord_m, kernel_m);
    }
    if fit.unsharpened && is_of_scan {
        return add_uncorrected(s, chord_m, kernel_m);
    }
    let Some(seen) = &fit.seen else { return };
    let seen = figures(seen);
    let moved = |figure: Figure| RELATIVE_U.hypot(kernel_u) * (f.value(figure) - seen.value(figure)).abs();
    let mut add = |column, u| s.add_uncertainty(column, UncertaintySource::Resolution, u);
    LENGTHS.iter().for_each(|&(column, figure, power)| add(column, moved(figure) * chord_m.powi(power)));
    ANGLES.iter().for_each(|&(column, figure)| add(column, moved(figure).to_degrees()));
    let middle = moved(Figure::MidChordX).max(moved(Figure::MidChordY)) * chord_m;
    add(StationColumn::MidChordXM, middle);
    add(StationColumn::MidChordYM, middle);
}

/// What is not known of the edges because nothing says whether the reconstruction smoothed the outline once or shortened it step by step: under the latter a thin edge has lost more than was given back. The
/// part's own edge lies anywhere between (a rectangular distribution, JCGM 100:2008, 4.3.7).
fn add_edges_beyond(s: &mut Station, fit: &SectionFit, chord_m: f64, kernel_m: f64) {
    let beyond = fit.edges_beyond(kernel_m / chord_m);
    let [nose_m, tail_m] = beyond.map(|beyond| RECTANGULAR * beyond * chord_m);
    let source = UncertaintySource::Resolution;
    edges::add_thinner_tail(s, source, fit, beyond[1], chord_m);
    for end_m in [nose_m, tail_m] {
        edges::add_short_chord(s, source, end_m, chord_m);
    }
    edges::add_turn_by_tail(s, source, tail_m, chord_m);
    for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
        s.add_uncertainty(column, source, 0.5 * nose_m.hypot(tail_m));
    }
}

/// What a kernel leaves uncertain whose effect could not be taken back: lengths by what it may have taken from the chord.
fn add_uncorrected(s: &mut Station, chord_m: f64, kernel_m: f64) {
    let short_m = DRAWN_BACK * kernel_m;
    let relative = short_m / chord_m;
    for (column, _, _) in LENGTHS {
        let value = column.get(s).map_or(0.0, f64::abs);
        s.add_uncertainty(column, UncertaintySource::Resolution, relative * value);
    }
    for column in [StationColumn::MidChordXM, StationColumn::MidChordYM] {
        s.add_uncertainty(column, UncertaintySource::Resolution, 0.5 * short_m);
    }
    s.flags.push(Flag::ResolutionNotCorrected { short_m });
}

/// A radius below this many standard deviations of the kernel has left no trace: a nose that was quite sharp may show it. One smoothing rounds a wedge less, but the shortening flow
/// (`SectionFit::edges_beyond`) rounds one of the half angle `b` to about `sqrt(pi b / 2)` deviations, 1.57 for the bluntest.
const RESOLVED_FROM: f64 = 1.5;

/// Puts an upper bound in the place of a leading-edge radius that the scan does not resolve.
fn hide_unresolved_radius(s: &mut Station, kernel_m: f64) {
    let bound_m = RESOLVED_FROM * kernel_m;
    if s.leading_edge_radius_m.is_some_and(|r| r < bound_m) {
        s.leading_edge_radius_m = None;
        s.u.leading_edge_radius_m = None;
        s.budget.remove(StationColumn::LeadingEdgeRadiusM);
        s.flags.push(Flag::RadiusNotResolved { bound_m });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_could_not_be_given_back_is_in_the_lengths_and_flagged() {
        let mut s = Station::at(0.5, 1.0);
        (s.chord_m, s.thickness_m) = (Some(0.02), Some(0.002));
        add_uncorrected(&mut s, 0.02, 0.001);
        // Twice 0.8 mm of a chord of 20 mm is 8 %.
        assert!((s.u.chord_m.unwrap() - 1.6e-3).abs() < 1e-12);
        assert!((s.u.thickness_m.unwrap() - 1.6e-4).abs() < 1e-12);
        assert_eq!(s.u.area_m2, None);
        assert_eq!(s.flags, [Flag::ResolutionNotCorrected { short_m: 1.6e-3 }]);
    }
}
