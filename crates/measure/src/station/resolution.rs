//! Uncertainty of figures that were corrected for the resolution of the scan.

use bladeform_section::{Figure, Figures, SectionFit, figures};
use bladeform_table::{Flag, Station, StationColumn, UncertaintySource};

use super::row::{ANGLES, LENGTHS};

/// Standard uncertainty of a correction as a fraction of it: the kernel of a reconstruction is a Gaussian along the outline only about, and how far it follows the surface is not
/// known. The end of a thin plate draws back by 0.8 standard deviations of a kernel along the outline, and by more under a flow that shortens it.
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

/// A radius below this many standard deviations of the kernel has left no trace: an arc so short is rounded as a corner is.
const RESOLVED_FROM: f64 = 1.0;

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
