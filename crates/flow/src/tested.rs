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
    pub const ALL: [Self; 5] = [
        Self::LargeAttached,
        Self::LargeStalled,
        Self::SmallAttached,
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
                TestedAgreement { thrust: Some(0.09), power: Some(0.10), efficiency: Some(0.035) }
            }
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
