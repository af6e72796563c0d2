//! Uncertainty of figures that were corrected for the resolution of the scan.

use bladeform_section::{Figure, Figures, SectionFit, figures};
use bladeform_table::{Station, StationColumn, UncertaintySource};

use super::row::{ANGLES, LENGTHS};

/// Standard uncertainty of a correction as a fraction of it: the kernel of a reconstruction is a Gaussian along the outline only about, and how far it follows the surface is not
/// known. The end of a thin plate draws back by 0.8 standard deviations of a kernel along the outline, and by more under a flow that shortens it.
const RELATIVE_U: f64 = 0.25;

/// Adds what the correction for the resolution leaves uncertain. `kernel_u`: relative standard uncertainty of the kernel.
pub(super) fn add_sharpening(s: &mut Station, fit: &SectionFit, f: &Figures, chord_m: f64, kernel_u: f64) {
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
