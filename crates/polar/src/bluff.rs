//! Circles and sections nearly as thick as long: drag of bluff bodies as a function of the Reynolds number.
//!
//! S. F. Hoerner, "Fluid-Dynamic Drag", 1965, chapter 3 (from memory). Based on the depth: below the drag crisis `2 cf (1 + l/d) + 1.1 d/l`,
//! above it `cf (4 + 2 l/d + 120 (d/l)^2)`. The crisis of a smooth circle is between Reynolds numbers of 2e5 and 5e5 based on the depth.

use crate::curve::Triple;

/// Thickness ratios between which the boundary-layer results are blended into those of the bluff body.
const BEGINS: f64 = 0.35;
/// End of the blend. Chosen; no check of this value is on record.
const COMPLETE: f64 = 0.45;
/// Reynolds number at the middle of the drag crisis, and its width in the natural logarithm.
const CRISIS: f64 = 3.2e5;
/// Its width: seven tenths of the drop in drag lie between 2e5 and 5e5 (see above).
const CRISIS_WIDTH: f64 = 0.25;
/// Drag of a plate normal to the stream, based on its depth (Hoerner).
const PLATE: f64 = 1.98;

/// Fraction of the bluff-body forces in the section forces: 0 up to 35 % thickness, 1 from 45 %.
pub(crate) fn share(thickness_ratio: f64) -> f64 {
    let t = ((thickness_ratio - BEGINS) / (COMPLETE - BEGINS)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Drag coefficient, based on its breadth, of a round or elliptic bar across the stream: the shank of a blade, from where it is round to where it becomes a blade.
///
/// `thickness_ratio`: depth over breadth, 0 to 1; `alpha_rad`: angle between the stream and the broad axis; `reynolds`: on the breadth. The source is that of this file.
#[must_use]
pub fn bar_drag(thickness_ratio: f64, alpha_rad: f64, reynolds: f64) -> f64 {
    forces(thickness_ratio.clamp(0.0, 1.0), alpha_rad, reynolds)[1]
}

/// Force coefficients, based on the chord, of a body with elliptic outline; `reynolds` is based on the chord.
pub(crate) fn forces(thickness_ratio: f64, alpha_rad: f64, reynolds: f64) -> Triple {
    let (s, c) = alpha_rad.sin_cos();
    let t = thickness_ratio;
    let depth = (t * c).hypot(s);
    let drag = depth * on_depth(depth / c.hypot(t * s), reynolds * depth);
    // The lift of a plate, reduced for round bodies; a circle has none (common practice, no source).
    let lift = (1.0 - t).max(0.0) * (2.0 * alpha_rad).sin();
    let normal = lift * c + drag * s;
    [lift, drag, -0.25 * (1.0 - t).max(0.0) * normal * s.abs()]
}

/// Drag coefficient, based on the depth, of a body with the given `ratio` of depth to length.
fn on_depth(ratio: f64, reynolds: f64) -> f64 {
    let reynolds = reynolds.max(1e3);
    let r = ratio.min(1.0);
    let (laminar, turbulent) = (1.328 / reynolds.sqrt(), 0.455 / reynolds.log10().powf(2.58));
    let below = 2.0 * laminar * (1.0 + 1.0 / r) + 1.1 * r;
    let above = turbulent * (4.0 + 2.0 / r + 120.0 * r * r);
    let crisis = 0.5 * (1.0 + ((reynolds / CRISIS).ln() / (2.0 * CRISIS_WIDTH)).tanh());
    let round = below + crisis * (above - below);
    // Deeper than long: blended towards a plate. Its edges fix the separation at any Reynolds number.
    if ratio <= 1.0 { round } else { PLATE + (round - PLATE) / ratio }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_has_the_handbook_drag_on_both_sides_of_the_crisis() {
        // Schlichting, "Boundary-Layer Theory", figure 1.4: 1.2 at 1e5, 0.3 to 0.4 at 5e5 to 1e6 (from memory).
        assert!((forces(1.0, 0.3, 1e5)[1] - 1.2).abs() < 0.1);
        assert!((forces(1.0, 0.3, 1e6)[1] - 0.4).abs() < 0.2, "{}", forces(1.0, 0.3, 1e6)[1]);
        assert!(forces(1.0, 0.7, 1e5)[0].abs() < 1e-12);
        assert!((forces(0.001, std::f64::consts::FRAC_PI_2, 1e5)[1] - PLATE).abs() < 0.02);
    }
}
