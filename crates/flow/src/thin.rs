//! A plain analytic section: thin-aerofoil lift, a drag bucket, and a flat plate beyond stall. It is used for checks of the theory and for sections
//! whose outline cannot be computed.

use crate::notice::FlowNotice;
use bladeform_numeric::observe::Observer;
use bladeform_polar::{PolarRegion, SectionForces, SectionPolar};
use std::f64::consts::TAU;

/// A section without an outline.
///
/// The lift follows the thin-aerofoil line of slope `2 pi`, and the drag is a parabola over the lift. Beyond the greatest lift the section has the normal
/// force of a flat plate (S. F. Hoerner, *Fluid-dynamic drag*, 1965: about 1.98 broadside on). Both are blended over some degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThinSection {
    /// Angle of attack at zero lift, rad.
    pub zero_lift_rad: f64,
    /// Least drag coefficient.
    pub least_drag: f64,
    /// Lift coefficient at which the drag is least.
    pub bucket_lift: f64,
    /// Increase of the drag with the square of the difference of the lift from there.
    pub drag_growth: f64,
    /// Greatest lift coefficient. The least is its negative. It is infinite for a section that never stalls.
    pub greatest_lift: f64,
}

/// Drag coefficient of a flat plate broadside on.
const PLATE_DRAG: f64 = 1.98;
/// Range of lift over which the two relations are blended.
const JOIN_LIFT: f64 = 0.25;

impl ThinSection {
    /// A section in ideal flow: lift slope `2 pi` at all angles, no drag, no stall.
    #[must_use]
    pub const fn ideal(zero_lift_rad: f64) -> ThinSection {
        ThinSection {
            zero_lift_rad,
            least_drag: 0.0,
            bucket_lift: 0.0,
            drag_growth: 0.0,
            greatest_lift: f64::INFINITY,
        }
    }
}

impl SectionPolar for ThinSection {
    fn forces(&self, alpha_rad: f64, _reynolds: f64, mach: f64) -> SectionForces {
        let turned = alpha_rad - self.zero_lift_rad;
        if self.greatest_lift.is_infinite() {
            let lift = TAU * turned.sin();
            return SectionForces {
                lift,
                drag: self.least_drag,
                moment: 0.0,
                region: PolarRegion::Given,
                stalled: false,
            };
        }
        // Prandtl-Glauert factor, limited at Mach 0.7 because it grows without bound towards Mach 1.
        let rise = 1.0 / (1.0 - mach.min(0.7).powi(2)).sqrt();
        let attached = rise * TAU * turned.sin();
        let plate = (
            PLATE_DRAG * alpha_rad.sin() * alpha_rad.cos(),
            self.least_drag + PLATE_DRAG * alpha_rad.sin().powi(2),
        );
        let beyond = (attached.abs() - self.greatest_lift) / JOIN_LIFT;
        let backwards = turned.cos() < 0.0;
        let share = if backwards { 1.0 } else { 0.5 * (1.0 + (2.0 * beyond).tanh()) };
        let bucket = self.least_drag + self.drag_growth * (attached - self.bucket_lift).powi(2);
        let mix = |a: f64, b: f64| a + share * (b - a);
        SectionForces {
            lift: mix(attached.clamp(-1.3 * self.greatest_lift, 1.3 * self.greatest_lift), plate.0),
            drag: mix(bucket.min(self.least_drag + 1.0), plate.1),
            moment: 0.0,
            region: if share > 0.5 { PolarRegion::BeyondStall } else { PolarRegion::Given },
            stalled: share > 0.5,
        }
    }
}

/// [`ThinSection`]s from thickness and camber alone. The lift follows thin-aerofoil theory for a circular-arc mean line, the drag is that of a turbulent
/// flat plate with a form factor. They are used for tables and tests that need no computed polars.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ThinSections;

impl crate::PolarSource for ThinSections {
    fn polars(
        &self,
        shapes: &[crate::SectionShape],
        _: &dyn Observer,
    ) -> Result<Vec<std::sync::Arc<dyn SectionPolar>>, crate::FlowError> {
        let of = |shape: &crate::SectionShape| -> std::sync::Arc<dyn SectionPolar> {
            let t = shape.thickness_ratio;
            std::sync::Arc::new(ThinSection {
                // Thin-aerofoil theory of a circular arc (Munk, NACA Report 142, 1922).
                zero_lift_rad: -2.0 * shape.camber_ratio,
                // Both sides of a turbulent plate at a Reynolds number of about a million, with the form factor of S. F. Hoerner (Fluid-dynamic drag, 1965).
                least_drag: if shape.is_bluff { 1.0 } else { 0.009 * (1.0 + 2.0 * t + 60.0 * t.powi(4)) },
                bucket_lift: 4.0 * std::f64::consts::PI * shape.camber_ratio * 0.5,
                drag_growth: 0.008,
                greatest_lift: if shape.is_bluff { 0.05 } else { 1.3 },
            })
        };
        Ok(shapes.iter().map(of).collect())
    }

    fn method(&self) -> String {
        "analytic sections: thin-aerofoil lift, plate drag with a form factor, stall at a lift coefficient of 1.3"
            .to_owned()
    }

    fn warnings(&self) -> Vec<FlowNotice> {
        vec![FlowNotice::AnalyticSections]
    }
}
