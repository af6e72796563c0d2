//! The surface of the blade: smooth, worn, or not known, as that of an old blade.

use crate::propeller::{FlowPropeller, Operation, Performance};
use bladeform_polar::{PolarRegion, SectionForces, SectionPolar};
use bladeform_table::{MethodUncertainty, OperatingFigures, SurfaceFigures};
use std::sync::Arc;

/// The state of the surface.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Surface {
    /// Free transition, as on a new or polished blade.
    Smooth,
    /// Turbulent from 5 % of the chord on.
    Rough,
    /// Not known, between the two: the figures are those of the mean polar, and the band between both is part of the uncertainty of the methods.
    #[default]
    Old,
}

/// The mean of the polars of a smooth and of a worn surface.
pub(crate) struct MeanPolar {
    pub(crate) smooth: Arc<dyn SectionPolar>,
    pub(crate) worn: Arc<dyn SectionPolar>,
}

impl SectionPolar for MeanPolar {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let [a, b] = [&self.smooth, &self.worn].map(|p| p.forces(alpha_rad, reynolds, mach));
        let is_bridged = [a.region, b.region].contains(&PolarRegion::Bridged);
        SectionForces {
            lift: 0.5 * (a.lift + b.lift),
            drag: 0.5 * (a.drag + b.drag),
            moment: 0.5 * (a.moment + b.moment),
            region: if is_bridged { PolarRegion::Bridged } else { a.region },
            stalled: a.stalled || b.stalled,
        }
    }

    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        0.5 * (self.smooth.lift(alpha_rad, reynolds, mach) + self.worn.lift(alpha_rad, reynolds, mach))
    }

    fn rotating_drag(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let of = |p: &Arc<dyn SectionPolar>| p.rotating_drag(alpha_rad, reynolds, mach);
        0.5 * (of(&self.smooth) + of(&self.worn))
    }

    fn without_lift(&self) -> Option<[f64; 2]> {
        common(self.smooth.without_lift(), self.worn.without_lift())
    }

    fn least_pressure(&self, alpha_rad: f64, reynolds: f64) -> Option<f64> {
        let of = |p: &Arc<dyn SectionPolar>| p.least_pressure(alpha_rad, reynolds);
        Some(of(&self.smooth)?.min(of(&self.worn)?))
    }

    fn surfaces(&self) -> Option<[Arc<dyn SectionPolar>; 2]> {
        Some([Arc::clone(&self.smooth), Arc::clone(&self.worn)])
    }
}

/// What two ranges have in common.
pub(crate) fn common(a: Option<[f64; 2]>, b: Option<[f64; 2]>) -> Option<[f64; 2]> {
    let ([a, b], [c, d]) = (a?, b?);
    let both = [a.max(c), b.min(d)];
    (both[0] < both[1]).then_some(both)
}

/// The figures of both surfaces by blade elements at one point. `None` if the surface is known.
pub(crate) fn band(
    propeller: &FlowPropeller,
    turn_rad: f64,
    operation: &Operation,
    near: &Performance,
) -> Option<SurfaceFigures> {
    let [smooth, worn] = propeller.surfaces()?.map(|p| p.performance_near(turn_rad, operation, near));
    Some(SurfaceFigures {
        smooth_thrust_n: Some(smooth.thrust_n),
        smooth_power_w: Some(smooth.power_w()),
        smooth_efficiency: smooth.efficiency(),
        worn_thrust_n: Some(worn.thrust_n),
        worn_power_w: Some(worn.power_w()),
        worn_efficiency: worn.efficiency(),
    })
}

/// Ratios of two models' figures within which the band of the one is carried to the other in proportion (a judgement).
const RATIOS: std::ops::RangeInclusive<f64> = 0.5..=1.5;

/// The band of blade elements with what near rest is changed: factors of thrust and of power.
pub(crate) fn changed(band: &SurfaceFigures, [thrust, power]: [f64; 2]) -> SurfaceFigures {
    let times = |value: Option<f64>, factor: f64| value.map(|v| v * factor);
    SurfaceFigures {
        smooth_thrust_n: times(band.smooth_thrust_n, thrust),
        smooth_power_w: times(band.smooth_power_w, power),
        smooth_efficiency: times(band.smooth_efficiency, thrust / power),
        worn_thrust_n: times(band.worn_thrust_n, thrust),
        worn_power_w: times(band.worn_power_w, power),
        worn_efficiency: times(band.worn_efficiency, thrust / power),
    }
}

/// The uncertainty of the methods with that of the surface: half the band between both is added in squares. Thrust and power by another model have the same parts of the band.
pub(crate) fn with_surface(
    u: MethodUncertainty,
    of: &OperatingFigures,
    band: &SurfaceFigures,
) -> MethodUncertainty {
    let wider = |u: Option<f64>, value: Option<f64>, a: Option<f64>, b: Option<f64>| match (value, a, b) {
        (Some(value), Some(a), Some(b)) => {
            // Near zero thrust a ratio says nothing.
            let ratio = 2.0 * value / (a + b);
            let part = if RATIOS.contains(&ratio) { ratio } else { 1.0 };
            u.map(|u| u.hypot(part * 0.5 * (a - b)))
        }
        _ => u,
    };
    let efficiency = match (band.smooth_efficiency, band.worn_efficiency) {
        (Some(a), Some(b)) => u.efficiency.map(|u| u.hypot(0.5 * (a - b))),
        _ => u.efficiency,
    };
    MethodUncertainty {
        thrust_n: wider(u.thrust_n, of.thrust_n, band.smooth_thrust_n, band.worn_thrust_n),
        torque_nm: wider(u.torque_nm, of.torque_nm, band.smooth_power_w, band.worn_power_w),
        power_w: wider(u.power_w, of.power_w, band.smooth_power_w, band.worn_power_w),
        efficiency,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ThinSection;

    fn section(least_drag: f64) -> Arc<dyn SectionPolar> {
        Arc::new(ThinSection {
            zero_lift_rad: -0.04,
            least_drag,
            bucket_lift: 0.2,
            drag_growth: 0.01,
            greatest_lift: 1.4,
        })
    }

    #[test]
    fn the_mean_polar_is_the_mean_and_keeps_both() {
        let mean = MeanPolar { smooth: section(0.006), worn: section(0.010) };
        let [a, b] = mean.surfaces().unwrap().map(|p| p.forces(0.05, 1e6, 0.2));
        let both = mean.forces(0.05, 1e6, 0.2);
        assert!((both.drag - 0.5 * (a.drag + b.drag)).abs() < 1e-15 && b.drag > a.drag + 0.003);
        assert!((both.lift - mean.lift(0.05, 1e6, 0.2)).abs() < 1e-12);
    }

    #[test]
    fn half_the_band_is_added_in_squares() {
        let of = OperatingFigures {
            thrust_n: Some(98.0),
            power_w: Some(1000.0),
            torque_nm: Some(10.0),
            efficiency: Some(0.79),
            ..OperatingFigures::default()
        };
        let u = MethodUncertainty {
            thrust_n: Some(3.0),
            power_w: Some(0.0),
            torque_nm: None,
            efficiency: Some(0.03),
        };
        let band = SurfaceFigures {
            smooth_thrust_n: Some(102.0),
            worn_thrust_n: Some(94.0),
            smooth_power_w: Some(1010.0),
            worn_power_w: Some(990.0),
            smooth_efficiency: Some(0.83),
            worn_efficiency: Some(0.75),
        };
        let wide = with_surface(u, &of, &band);
        assert!((wide.thrust_n.unwrap() - 5.0).abs() < 1e-12);
        assert!((wide.power_w.unwrap() - 10.0).abs() < 1e-12 && wide.torque_nm.is_none());
        assert!((wide.efficiency.unwrap() - 0.05).abs() < 1e-12);
    }
}
