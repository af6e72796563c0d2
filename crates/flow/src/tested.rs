//! How far predictions were from published tests, by kind of propeller and state of flow: the interval of the methods.
//!
//! The figures are root mean squares of the differences that the study `published_propellers` prints, bias included, rounded upwards: none was fitted. The interval that follows is tested there by
//! leaving one propeller out. A prediction in a state for which no test is at hand has no interval of the methods.

use bladeform_table::{MethodUncertainty, OperatingFigures};

use crate::limits::{MACH_SERIOUS, MUCH_STALLED, REFERENCE_RATIO};
use crate::propeller::Performance;

/// Below this Reynolds number at 0.75 R a blade is a small one, where laminar bubbles decide: the tests lie at 2e4 to 9e4 and at 1e6.
const SMALL_REYNOLDS: f64 = 3e5;
/// Below this advance ratio a propeller stands, near enough for the tests at zero speed.
const AT_REST: f64 = 0.02;
/// From this stalled fraction of the span on a blade is near stall. Below it only shanks and the innermost elements are stalled (judgement).
const NEAR_STALL: f64 = 0.1;
/// Below this mean force coefficient along the axis a blade is lightly loaded. An error of the angle of zero lift of 0.3 deg is 0.03 of lift: 15 % of the thrust there, and more below (judgement).
const LIGHT_LOAD: f64 = 0.2;

/// A kind of propeller and a state of flow for which there are published tests.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TestedState {
    /// A blade of full size whose flow is mostly attached (NACA Report 640).
    LargeAttached,
    /// A model propeller whose flow is mostly attached (AIAA 2014-2151 and its data).
    SmallAttached,
    /// A tenth to a quarter of the span stalled, in flight (both).
    NearStall,
    /// More than a quarter of the span stalled, in flight or at zero speed (both).
    Stalled,
    /// Hardly any thrust, down to as much brake, without stall (both). Differences count as parts of the dynamic pressure on the blades, since thrust and power go through zero.
    Light,
    /// A screw in water, from zero speed on (Wageningen B series, two screws of wide blades).
    Water,
    /// At zero speed by blade elements, little stalled (NASA TM-81232, AIAA 2014-2151).
    RestByElements,
    /// At zero speed by the free wake, little stalled (the same).
    RestByFreeWake,
}

/// How far predictions were from the tests of one state in one quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// Root mean square difference, bias included, each propeller with the same weight.
    pub rms: f64,
    /// The propellers tested.
    pub propellers: usize,
}

/// Half the 97.5 % quantile of Student's distribution for so many degrees of freedom, from 2 (JCGM 100:2008, table G.2).
const HALF_T: [f64; 5] = [2.15, 1.59, 1.39, 1.29, 1.22];

impl Tested {
    /// The standard uncertainty by the methods of a propeller that was not tested: the root mean square, and an allowance for the few propellers it rests on. The points of one propeller are off
    /// together, so the propellers are the degrees of freedom, and twice the result covers 95 % by Student's distribution. One propeller alone says nothing of others: it gets the allowance
    /// of two, which cannot be tested (judgement).
    #[must_use]
    pub fn u(self) -> f64 {
        self.rms * HALF_T[self.propellers.clamp(2, HALF_T.len() + 1) - 2]
    }
}

/// How far predictions were from the tests of one state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestedAgreement {
    /// Of the thrust, as a fraction of it; for [`TestedState::Light`] of the dynamic pressure on the blades. `None` without a test.
    pub thrust: Option<Tested>,
    /// The same of power and torque.
    pub power: Option<Tested>,
    /// Of the efficiency.
    pub efficiency: Option<Tested>,
}

/// A root mean square over so many propellers.
const fn over(propellers: usize, rms: f64) -> Option<Tested> {
    Some(Tested { rms, propellers })
}

impl TestedState {
    /// All states.
    pub const ALL: [Self; 8] = [
        Self::LargeAttached,
        Self::SmallAttached,
        Self::NearStall,
        Self::Stalled,
        Self::Light,
        Self::Water,
        Self::RestByElements,
        Self::RestByFreeWake,
    ];

    /// The state in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LargeAttached => "full size, flow mostly attached",
            Self::SmallAttached => "model size, flow mostly attached",
            Self::NearStall => "a tenth to a quarter of the span stalled",
            Self::Stalled => "more than a quarter of the span stalled",
            Self::Light => "lightly loaded or slightly braking",
            Self::Water => "screws in water",
            Self::RestByElements => "zero speed, by blade elements",
            Self::RestByFreeWake => "zero speed, by the free wake",
        }
    }

    /// The state of a solution by blade elements. `None` where no test is at hand: propellers that brake hard or are driven, high Mach numbers.
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
        let stalled = p.stalled_fraction();
        let load = p.thrust_n / p.dynamic_forces()[0];
        if p.torque_nm <= 0.0 || load < -LIGHT_LOAD || MACH_SERIOUS < p.helical_tip_mach() {
            return None;
        }
        if p.operation.air.water.is_some() {
            // Their tests begin at zero speed and end before zero thrust. A stalled screw was not tested.
            return (stalled <= MUCH_STALLED && 0.0 < p.thrust_n).then_some(Self::Water);
        }
        if AT_REST <= p.advance_ratio() && load < LIGHT_LOAD {
            return (stalled <= NEAR_STALL).then_some(Self::Light);
        }
        Some(match (p.advance_ratio() < AT_REST, reynolds < SMALL_REYNOLDS) {
            _ if MUCH_STALLED < stalled => Self::Stalled,
            (true, _) => Self::RestByElements,
            _ if NEAR_STALL < stalled => Self::NearStall,
            (false, true) => Self::SmallAttached,
            (false, false) => Self::LargeAttached,
        })
    }

    /// How far the predictions of this state were from the tests.
    #[must_use]
    pub const fn agreement(self) -> TestedAgreement {
        let [thrust, power, efficiency] = match self {
            Self::LargeAttached => [over(1, 0.042), over(1, 0.044), over(1, 0.026)],
            Self::SmallAttached => [over(3, 0.10), over(3, 0.12), over(3, 0.035)],
            Self::NearStall => [over(3, 0.081), over(3, 0.131), over(3, 0.054)],
            Self::Stalled => [over(2, 0.12), over(2, 0.22), over(2, 0.065)],
            Self::Light => [over(2, 0.025), over(2, 0.005), None],
            Self::Water => [over(2, 0.09), over(2, 0.15), over(2, 0.031)],
            Self::RestByElements => [over(1, 0.22), None, None],
            Self::RestByFreeWake => [over(1, 0.09), None, None],
        };
        TestedAgreement { thrust, power, efficiency }
    }

    /// What the fractions of [`Self::agreement`] are of, for a solution: a thrust, N, and a torque, N m.
    #[must_use]
    pub fn references(self, p: &Performance) -> [f64; 2] {
        match self {
            Self::Light => p.dynamic_forces(),
            _ => [p.thrust_n, p.torque_nm],
        }
    }

    /// The standard uncertainties of a point of this state by the methods.
    #[must_use]
    pub fn uncertainty(self, p: &Performance, of: &OperatingFigures) -> MethodUncertainty {
        let a = self.agreement();
        let [thrust_n, torque_nm] = self.references(p);
        let part = |known: Option<f64>, reference: f64, tested: Option<Tested>| {
            known.and(tested).map(|t| (reference * t.u()).abs())
        };
        MethodUncertainty {
            thrust_n: part(of.thrust_n, thrust_n, a.thrust),
            torque_nm: part(of.torque_nm, torque_nm, a.power),
            power_w: part(of.power_w, torque_nm * p.operation.omega_rad_s, a.power),
            efficiency: of.efficiency.and(a.efficiency).map(Tested::u),
        }
    }
}

/// The uncertainty of the methods near rest: that of the blade elements' state and that of the free wake by the weight of the free wake, and half of what it changes, in squares.
///
/// `elements`: the blade elements' solution; `shown`: the solution shown, with its figures.
pub(crate) fn near_rest(
    weight: f64,
    elements: &Performance,
    shown: &Performance,
    of: &OperatingFigures,
) -> Option<MethodUncertainty> {
    let state = TestedState::of(elements)?.uncertainty(elements, of);
    let wake = TestedState::RestByFreeWake.uncertainty(shown, of);
    let mixed = |a: Option<f64>, b: Option<f64>, change: f64| match (a, b) {
        (Some(a), Some(b)) => Some((a + weight * (b - a)).hypot(0.5 * change)),
        (known, None) | (None, known) => known.map(|u| u.hypot(0.5 * change)),
    };
    let change = [shown.thrust_n - elements.thrust_n, shown.torque_nm - elements.torque_nm];
    let turning = elements.operation.omega_rad_s;
    let efficiency = shown.efficiency().zip(elements.efficiency()).map_or(0.0, |(a, b)| a - b);
    Some(MethodUncertainty {
        thrust_n: mixed(state.thrust_n, wake.thrust_n, change[0]),
        torque_nm: mixed(state.torque_nm, wake.torque_nm, change[1]),
        power_w: mixed(state.power_w, wake.power_w, change[1] * turning),
        efficiency: mixed(state.efficiency, wake.efficiency, efficiency),
    })
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
    let rms = |v: Option<Tested>| v.map_or(f64::NAN, |t| t.rms);
    format!(
        "two published screws of wide blades (Wageningen B series, 4 blades of area ratio 0.7 and 3 of 0.5) come out by these methods with a root mean square difference of {:.0} % in thrust, {:.0} % in torque and {:.3} in efficiency: 6 % less thrust and 25 % less torque than tested near zero speed, 4 to 24 % more thrust near its end. Blade elements leave out the lifting surface of wide blades. Those sections were so thin and sharp that no boundary layer converged, so the tests say little of computed polars. Take such screws from their published charts where there are any",
        100.0 * rms(a.thrust),
        100.0 * rms(a.power),
        rms(a.efficiency)
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
        let u = MethodUncertainty {
            thrust_n: Some(6.0),
            torque_nm: Some(0.7),
            power_w: Some(70.0),
            efficiency: None,
        };
        let wide = with_second(u, &first, [Some(96.0), Some(1000.0), Some(0.7)]);
        // 6 % of the tests, and 4 % of the models over the square root of two.
        assert!(wide.thrust_n.is_some_and(|v| (v - (36.0_f64 + 8.0).sqrt()).abs() < 1e-9));
        assert!(wide.power_w == u.power_w && wide.torque_nm == u.torque_nm && wide.efficiency.is_none());
        // Without a test the difference alone is no interval.
        assert_eq!(with_second(MethodUncertainty::default(), &first, [Some(96.0); 3]).thrust_n, None);
    }
}
