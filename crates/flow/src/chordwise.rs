//! The turn of the stream along the chord of a blade of finite chord. Blade elements read their polars with it.
//!
//! A lifting line has its control points on itself. Over the chord of a real blade the velocities of the trailing vortices grow, and those of the bound
//! vortices differ from those in two-dimensional flow. The blade therefore lifts less, above all a wide blade and near the tip. Here the loss comes from the
//! extended lifting line of a blade of the same chords with the load of least loss. Lifting-surface corrections for propellers are tabulated in the same way
//! in the literature (W. B. Morgan, V. Silovic, S. B. Denny, *Propeller lifting-surface corrections*, Transactions SNAME 76, 1968).

use crate::blade::FlowBlade;
use crate::loss::{rigid_wake, split};
use crate::swept::{Lines, excess_of_chord};
use bladeform_numeric::parallel;
use std::f64::consts::FRAC_PI_2;

/// Range of the advance of the wake, tip radii per radian, over which the turn is tabulated, and the number of rows.
const HELIX_RANGE: [f64; 2] = [0.03, 3.0];
/// Number of rows over that range, in equal ratios. Chosen; no check of this value is on record.
const HELIX_STEPS: usize = 10;
/// Greatest turn per unit of lift, rad. It is reached only in the last hundredth of the radius.
const MOST_TURN: f64 = FRAC_PI_2 / 3.0;

/// Turn of the stream per unit of the lift coefficient, rad, for each element over the advance of the wake.
#[derive(Clone, Debug)]
pub(crate) struct ChordwiseTurn {
    /// One row per helix, one column per element.
    rows: Vec<Vec<f64>>,
}

impl ChordwiseTurn {
    /// The turn for the chords of a straight radial blade and a number of blades.
    pub(crate) fn new(blade: &FlowBlade, blades: u32) -> ChordwiseTurn {
        let span = (HELIX_RANGE[1] / HELIX_RANGE[0]).ln();
        let at = |k: usize| HELIX_RANGE[0] * (span * k as f64 / (HELIX_STEPS - 1) as f64).exp();
        let advances_m: Vec<f64> = (0..HELIX_STEPS).map(|k| at(k) * blade.radius_m).collect();
        ChordwiseTurn { rows: parallel::map(&advances_m, |a| row(blade, blades, *a)) }
    }

    /// The turn at element `k` if the wake advances by `helix` tip radii per radian.
    pub(crate) fn value(&self, k: usize, helix: f64) -> f64 {
        let span = (HELIX_RANGE[1] / HELIX_RANGE[0]).ln();
        let place = (helix.max(HELIX_RANGE[0]) / HELIX_RANGE[0]).ln() / span * (HELIX_STEPS - 1) as f64;
        let (lower, share) = split(place, HELIX_STEPS);
        (1.0 - share) * self.rows[lower][k] + share * self.rows[lower + 1][k]
    }
}

/// One row: the turn of the stream due to the chords under the load of least loss in a rigid wake.
fn row(blade: &FlowBlade, blades: u32, advance_m: f64) -> Vec<f64> {
    let n = blade.elements.len();
    let edges = blade.edges_m();
    let radii: Vec<f64> = blade.elements.iter().map(|e| e.radius_m).collect();
    let chords: Vec<f64> = blade.elements.iter().map(|e| e.chord_m).collect();
    let angles: Vec<(f64, f64)> = radii.iter().map(|r| (advance_m / r).atan().sin_cos()).collect();
    // The root vortex of a blade that begins on the axis runs along the axis.
    let shed: Vec<f64> = edges.iter().map(|r| r.max(1e-3 * blade.radius_m)).collect();
    let Some(circulation) = rigid_wake(blades, &shed, &radii, advance_m) else { return vec![0.0; n] };
    let [axial, swirl] = excess_of_chord(&Lines {
        blades,
        chords_m: &chords,
        edges_m: &edges,
        radii_m: &radii,
        advance_m: &vec![advance_m; n],
    });
    let (axial, swirl) = (axial * &circulation, swirl * &circulation);
    let is_bluff = |k: usize| {
        let (inner, outer, _) = blade.elements[k].between;
        [inner, outer].iter().any(|s| blade.shapes.get(*s).is_some_and(|s| s.is_bluff))
    };
    (0..n)
        .map(|k| {
            // A shank has no lift and no chord line.
            if is_bluff(k) {
                return 0.0;
            }
            let (sin, cos) = angles[k];
            // The turn is the velocity over the resultant speed. The lift coefficient is twice the circulation over speed and chord.
            let turn = (axial[k] * cos + swirl[k] * sin) * chords[k] / (2.0 * circulation[k]);
            if turn.is_finite() { turn.clamp(0.0, MOST_TURN) } else { 0.0 }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ThinSections;
    use bladeform_table::{BladeFigures, Station, StationTable};

    /// A blade of elliptic chord on a very small hub with a very steep wake: it behaves like half a wing.
    fn half_wing(aspect: f64) -> FlowBlade {
        let stations = (0..30)
            .map(|k| {
                let x = 0.02 + 0.975 * f64::from(k) / 29.0;
                Station {
                    chord_m: Some(8.0 / (std::f64::consts::PI * aspect) * (1.0 - x * x).sqrt()),
                    blade_angle_deg: Some(80.0),
                    thickness_ratio: Some(0.1),
                    camber_ratio: Some(0.0),
                    ..Station::at(x, 1.0)
                }
            })
            .collect();
        let blade = BladeFigures { radius_m: 1.0, ..BladeFigures::default() };
        FlowBlade::of_table(
            &StationTable { blade, stations, ..StationTable::default() },
            None,
            32,
            &ThinSections,
        )
        .unwrap()
    }

    #[test]
    fn a_narrow_blade_is_a_line_and_a_wide_one_is_not() {
        let at = |aspect: f64, ratio: f64| {
            let blade = half_wing(aspect);
            let k = blade.elements.partition_point(|e| e.radius_m < ratio);
            ChordwiseTurn::new(&blade, 2).value(k, 0.3)
        };
        assert!(at(200.0, 0.75) < 5e-4, "{}", at(200.0, 0.75));
        // Far from the tip the turn is of second order in the chord. At the tip it is larger.
        let (narrow, wide) = (at(20.0, 0.6), at(10.0, 0.6));
        assert!((2.0..5.0).contains(&(wide / narrow)), "{narrow} {wide}");
        assert!(at(10.0, 0.6) < at(10.0, 0.9));
    }
}
