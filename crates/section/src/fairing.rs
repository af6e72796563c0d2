//! A smooth outline as a substitute for an uneven one: the result of measuring a scan without noise.

use crate::fit::{BandPoint, FitError, FitSettings, fit_section};
use crate::polygon::{norm, sub};
use crate::shape::Shape;

/// Spacing of the points along the outline, chords.
const STEP: f64 = 4e-4;
/// Rows of points along a band with constant section: one for each strip of the fit.
const ROWS: usize = crate::fit::N_STRIPS;
/// Half width of that band and error of the outline model, chords.
const SETTINGS: FitSettings = FitSettings { half_band: 0.1, model_error: 5e-4 };

/// The smooth outline of a closed polygon with dense corners and its chord line near `x` from 0 to 1: the fit of [`fit_section`] without noise.
///
/// Published ordinates are rounded, and some are uneven. The flow around the nose is sensitive to unevenness that is not visible.
///
/// # Errors
/// [`FitError`] if the corners are not the outline of a section.
///
/// # Examples
/// ```
/// use bladeform_section::{Family, faired};
/// let shape = faired(&Family::ClarkY { thickness: 0.1171 }.outline(600))?;
/// assert!((shape.chord() - 1.0).abs() < 1e-3);
/// # Ok::<(), bladeform_section::FitError>(())
/// ```
pub fn faired(outline: &[[f64; 2]]) -> Result<Shape, FitError> {
    let sides = || outline.iter().zip(outline.iter().cycle().skip(1));
    let twice_area: f64 = sides().map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum();
    let mut points = Vec::new();
    for (a, b) in sides() {
        let along = sub(*b, *a);
        let parts = (norm(along) / STEP).ceil().max(1.0) as usize;
        // The outside is to the right of a counter-clockwise outline.
        let normal = [along[1], -along[0]].map(|n| n * twice_area.signum());
        for part in 0..parts {
            let share = part as f64 / parts as f64;
            let at = [a[0] + share * along[0], a[1] + share * along[1]];
            let span = |row: usize| (2 * row + 1) as f64 / ROWS as f64 - 1.0;
            points.extend((0..ROWS).map(|row| BandPoint { at, normal, span: span(row) }));
        }
    }
    Ok(fit_section(&points, &SETTINGS)?.shape)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Family;
    use crate::polygon::signed_distance;

    #[test]
    fn a_smooth_outline_stays_and_an_uneven_one_is_met() {
        for (family, off) in [
            (Family::FourDigit { camber: 0.02, position: 0.4, thickness: 0.12 }, 1.5e-4),
            (Family::ClarkY { thickness: 0.1171 }, 6e-4),
        ] {
            let outline = family.outline(600);
            let mirrored: Vec<[f64; 2]> = outline.iter().rev().copied().collect();
            for corners in [&outline, &mirrored] {
                let shape = faired(corners).unwrap();
                let worst = shape
                    .outline(400)
                    .iter()
                    .map(|p| signed_distance(&outline, *p).abs())
                    .fold(0.0, f64::max);
                assert!(worst < off, "{family:?}: {worst}");
            }
        }
    }
}
