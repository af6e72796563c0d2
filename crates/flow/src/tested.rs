//! How far predictions were from published tests, by kind of propeller and state of flow: the interval of the methods.
//!
//! The figures are root mean squares of the differences that the study `published_propellers` prints, bias included: none was fitted. A prediction in a state for which no test is at hand has
//! no interval of the methods.

use bladeform_table::{MethodUncertainty, OperatingFigures};

use crate::limits::{MACH_SERIOUS, MUCH_STALLED, REFERENCE_RATIO};
use crate::propeller::Performance;

/// Below this Reynolds number at 0.75 R a blade is a small one, where laminar bubbles decide: the tests lie at 4e4 to 9e4 and at 1e6.
const SMALL_REYNOLDS: f64 = 3e5;
/// Below this advance ratio a propeller stands, near enough for the tests at zero speed.
const AT_REST: f64 = 0.02;

/// A kind of propeller and a state of flow for which there are published tests.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TestedState {
    /// A blade of full size whose flow is mostly attached (NACA Report 640).
    LargeAttached,
    /// A blade of full size with more than a quarter of its span stalled (NACA Report 640).
    LargeStalled,
    /// A model propeller whose flow is mostly attached (AIAA 2014-2151 and its data).
    SmallAttached,
    /// A screw in water, from zero speed on (Wageningen B series, two screws of wide blades).
    Water,
    /// At zero speed by blade elements (NASA TM-81232); no power is at hand where little is stalled.
    RestByElements,
    /// At zero speed by the free wake (NASA TM-81232); no power is at hand.
    RestByFreeWake,
}

/// Root mean square differences from the tests of one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestedAgreement {
    /// Of the thrust, as a fraction of it; `None` without a test.
    pub thrust: Option<f64>,
    /// Of power and torque, as a fraction of them.
    pub power: Option<f64>,
    /// Of the efficiency.
    pub efficiency: Option<f64>,
}

impl TestedState {
    /// All states.
    pub const ALL: [Self; 6] = [
        Self::LargeAttached,
        Self::LargeStalled,
        Self::SmallAttached,
        Self::Water,
        Self::RestByElements,
        Self::RestByFreeWake,
    ];

    /// The state in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LargeAttached => "full size, flow mostly attached",
            Self::LargeStalled => "full size, much of the span stalled",
            Self::SmallAttached => "model size, flow mostly attached",
            Self::Water => "screws in water",
            Self::RestByElements => "zero speed, by blade elements",
            Self::RestByFreeWake => "zero speed, by the free wake",
        }
    }

    /// The state of a solution by blade elements. `None` where no test is at hand: braked or driven propellers, stalled small ones, high Mach numbers.
    #[must_use]
    pub fn of(p: &Performance) -> Option<Self> {
        let reynolds = p
            .elements
            .iter()
            .min_by(|a, b| {
                let off = |r: f64| (r - REFERENCE_RATIO * 0.5 * p.diameter_m).abs();
                off(a.radius_m).total_cmp(&off(b.radius_m))
            })?
            .reynolds;
        let stalled = MUCH_STALLED < p.stalled_fraction();
        let works = 0.0 < p.thrust_n && 0.0 < p.power_w();
        if !works || MACH_SERIOUS < p.helical_tip_mach() {
            return None;
        }
        if p.operation.air.water.is_some() {
            // Their tests begin at zero speed. A stalled screw was not tested.
            return (!stalled).then_some(Self::Water);
        }
        match (reynolds < SMALL_REYNOLDS, p.advance_ratio() < AT_REST, stalled) {
            (_, true, false) => Some(Self::RestByElements),
            (false, _, true) => Some(Self::LargeStalled),
            (true, _, true) => None,
            (false, false, false) => Some(Self::LargeAttached),
            (true, false, false) => Some(Self::SmallAttached),
        }
    }

    /// How far the predictions of this state were from the tests.
    #[must_use]
    pub const fn agreement(self) -> TestedAgreement {
        match self {
            Self::LargeAttached => {
                TestedAgreement { thrust: Some(0.06), power: Some(0.07), efficiency: Some(0.032) }
            }
            Self::LargeStalled => TestedAgreement { thrust: Some(0.15), power: Some(0.24), efficiency: None },
            Self::SmallAttached => {
                TestedAgreement { thrust: Some(0.10), power: Some(0.14), efficiency: Some(0.035) }
            }
            Self::Water => TestedAgreement { thrust: Some(0.09), power: Some(0.15), efficiency: Some(0.035) },
            Self::RestByElements => TestedAgreement { thrust: Some(0.22), power: None, efficiency: None },
            Self::RestByFreeWake => TestedAgreement { thrust: Some(0.10), power: None, efficiency: None },
        }
    }

    /// The standard uncertainties of a point of this state by the methods.
    #[must_use]
    pub fn uncertainty(self, of: &OperatingFigures) -> MethodUncertainty {
        let a = self.agreement();
        let part = |value: Option<f64>, fraction: Option<f64>| Some((value? * fraction?).abs());
        MethodUncertainty {
            thrust_n: part(of.thrust_n, a.thrust),
            torque_nm: part(of.torque_nm, a.power),
            power_w: part(of.power_w, a.power),
            efficiency: of.efficiency.and(a.efficiency),
        }
    }
}

/// The uncertainty of the methods with that of the choice between the two models: the truth may as well be at the second as at the first, whose figures are shown. Then the root mean square
/// departure of the first is the difference over the square root of two. It is added in squares, however small the difference.
pub(crate) fn with_second(
    u: MethodUncertainty,
    first: &OperatingFigures,
    [thrust_n, power_w, efficiency]: [Option<f64>; 3],
) -> MethodUncertainty {
    let wider = |u: Option<f64>, first: Option<f64>, second: Option<f64>| match (first, second) {
        (Some(a), Some(b)) => u.map(|u| u.hypot((b - a) * std::f64::consts::FRAC_1_SQRT_2)),
        _ => u,
    };
    // Torque and power differ by the same part.
    let torque_nm = first.torque_nm.zip(first.power_w).zip(power_w).map(|((q, p), second)| q * second / p);
    MethodUncertainty {
        thrust_n: wider(u.thrust_n, first.thrust_n, thrust_n),
        torque_nm: wider(u.torque_nm, first.torque_nm, torque_nm),
        power_w: wider(u.power_w, first.power_w, power_w),
        efficiency: wider(u.efficiency, first.efficiency, efficiency),
    }
}

/// The sentence of the notice about predictions in water.
pub(crate) fn water_sentence() -> String {
    let a = TestedState::Water.agreement();
    let per_cent = |v: Option<f64>| 100.0 * v.unwrap_or(f64::NAN);
    format!(
        "two published screws of wide blades (Wageningen B series, 4 blades of area ratio 0.7 and 3 of 0.5) come out by these methods with a root mean square difference of {:.0} % in thrust, {:.0} % in torque and {:.3} in efficiency: 6 % less thrust and 25 % less torque than tested near zero speed, 4 to 24 % more thrust near its end. Blade elements leave out the lifting surface of wide blades. Those sections were so thin and sharp that no boundary layer converged, so the tests say little of computed polars. Take such screws from their published charts where there are any",
        per_cent(a.thrust),
        per_cent(a.power),
        a.efficiency.unwrap_or(f64::NAN)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_of_the_models_below_the_flag_widens_the_interval() {
        let first = OperatingFigures {
            thrust_n: Some(100.0),
            torque_nm: Some(10.0),
            power_w: Some(1000.0),
            efficiency: None,
            ..OperatingFigures::default()
        };
        let u = TestedState::LargeAttached.uncertainty(&first);
        let wide = with_second(u, &first, [Some(96.0), Some(1000.0), Some(0.7)]);
        // 6 % of the tests, and 4 % of the models over the square root of two.
        assert!(wide.thrust_n.is_some_and(|v| (v - (36.0_f64 + 8.0).sqrt()).abs() < 1e-9));
        assert!(wide.power_w == u.power_w && wide.torque_nm == u.torque_nm && wide.efficiency.is_none());
        // Without a test the difference alone is no interval.
        assert_eq!(with_second(MethodUncertainty::default(), &first, [Some(96.0); 3]).thrust_n, None);
    }
}
