//! Fresh water and sea water as the fluid of a propeller.

use crate::air::{Air, GRAVITY_M_S2};
use crate::notice::{FlowNotice, PointFlag};
use crate::{ElementState, FlowError, Performance};
use bladeform_table::{Prediction, Water, WaterFigures, WaterState};

/// Range of the formulas of sea water, degrees Celsius (UNESCO 1981: 0 to 40; it freezes below -2).
const RANGE_C: [f64; 2] = [0.0, 40.0];
/// Deepest shaft accepted, m. Deeper the compression of the water counts, a thousandth in the density at 200 m (from memory).
const DEEPEST_M: f64 = 200.0;
/// Fraction of the span that may be left unchecked without a word: the element at the shank and that at the tip.
const UNCHECKED: f64 = 0.05;
/// 0 degrees Celsius, K.
const ICE_K: f64 = 273.15;
/// Salinity of the standard ocean, g/kg: that of ITTC procedure 7.5-02-01-03.
const SALINITY: f64 = 35.165_04;

/// The water of a plan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WaterPlan {
    /// Fresh or sea water.
    pub kind: Water,
    /// Temperature, degrees Celsius.
    pub temperature_c: f64,
    /// Depth of the shaft below the surface, m. `None`: not known, so cavitation is not looked for.
    pub depth_m: Option<f64>,
}

impl Air {
    /// Water below the standard atmosphere at an altitude of its surface, m. It is incompressible here: its speed of sound is infinite, so that every Mach number is 0.
    ///
    /// # Errors
    /// [`FlowError::Altitude`], [`FlowError::WaterTemperature`] outside 0 to 40 degrees Celsius, [`FlowError::Depth`] outside 0 to 200 m.
    ///
    /// # Source
    /// The properties wanted by ITTC Recommended Procedure 7.5-02-01-03 (2011), from published formulas: see [`density`], [`viscosity`] and [`vapour_pressure`].
    pub fn water(plan: &WaterPlan, altitude_m: f64) -> Result<Air, FlowError> {
        let above = Air::standard(altitude_m, 0.0)?;
        let t = plan.temperature_c;
        if !(RANGE_C[0]..=RANGE_C[1]).contains(&t) {
            return Err(FlowError::WaterTemperature { temperature_c: t });
        }
        if let Some(depth_m) = plan.depth_m.filter(|d| !(0.0..=DEEPEST_M).contains(d)) {
            return Err(FlowError::Depth { depth_m });
        }
        let salinity = if plan.kind == Water::Sea { SALINITY } else { 0.0 };
        Ok(Air {
            temperature_offset_k: 0.0,
            temperature_k: t + ICE_K,
            density_kg_m3: density(t, salinity),
            viscosity_pa_s: viscosity(t, salinity),
            speed_of_sound_m_s: f64::INFINITY,
            water: Some(WaterState {
                kind: plan.kind,
                depth_m: plan.depth_m,
                vapour_pressure_pa: vapour_pressure(t, salinity),
            }),
            ..above
        })
    }

    /// Pressure above that of the vapour, Pa, at a height above the shaft, m. `None` in air and where the depth is not known. Above the surface it is that at the surface.
    pub(crate) fn above_vapour_pa(&self, height_m: f64) -> Option<f64> {
        let water = self.water?;
        let below_m = (water.depth_m? - height_m).max(0.0);
        Some(self.pressure_pa + self.density_kg_m3 * GRAVITY_M_S2 * below_m - water.vapour_pressure_pa)
    }
}

impl ElementState {
    /// Cavitation number of the section where the blade points up: the pressure there above that of the vapour, over the dynamic pressure of the resultant speed.
    pub(crate) fn cavitation_number(&self, fluid: &Air) -> Option<f64> {
        let dynamic_pa = 0.5 * fluid.density_kg_m3 * self.speed_m_s.powi(2);
        Some(fluid.above_vapour_pa(self.radius_m)? / dynamic_pa)
    }

    /// Whether the least pressure on the section is below that of the vapour. `None` where either is not known.
    pub(crate) fn cavitates(&self, fluid: &Air) -> Option<bool> {
        Some(-self.least_pressure? > self.cavitation_number(fluid)?)
    }
}

/// Density, kg/m3, at a temperature, degrees Celsius, and a salinity, g/kg, at one atmosphere.
///
/// # Source
/// F. J. Millero, A. Poisson, *International one-atmosphere equation of state of seawater*, Deep-Sea Research 28A, 1981, 625-629 (UNESCO Technical Papers in Marine Science 36); constants
/// from memory, met by the check values printed there. The practical salinity is taken as the absolute one divided by 1.004715.
fn density(t: f64, salinity: f64) -> f64 {
    let power_series = |c: &[f64]| c.iter().rev().fold(0.0, |sum, c| sum * t + c);
    let s = salinity / (35.165_04 / 35.0);
    let pure =
        power_series(&[999.842_594, 6.793_952e-2, -9.095_290e-3, 1.001_685e-4, -1.120_083e-6, 6.536_332e-9]);
    let linear = power_series(&[8.244_93e-1, -4.089_9e-3, 7.643_8e-5, -8.246_7e-7, 5.387_5e-9]);
    let root = power_series(&[-5.724_66e-3, 1.022_7e-4, -1.654_6e-6]);
    pure + linear * s + root * s.powf(1.5) + 4.831_4e-4 * s * s
}

/// Dynamic viscosity, Pa s, at a temperature, degrees Celsius, and a salinity, g/kg.
///
/// # Source
/// Pure water: IAPWS SR6-08, *Revised supplementary release on properties of liquid water at 0.1 MPa*, 2011. Salt: M. H. Sharqawy, J. H. Lienhard, S. M. Zubair, *Thermophysical properties
/// of seawater*, Desalination and Water Treatment 16, 2010, 354-380, equation 22. Constants from memory; checked at 15 degrees against ITTC.
fn viscosity(t: f64, salinity: f64) -> f64 {
    let x = (t + ICE_K) / 300.0;
    let terms = [(280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.459_03, -40.0)];
    let pure = 1e-6 * terms.iter().map(|(a, b)| a * x.powf(*b)).sum::<f64>();
    let s = 1e-3 * salinity;
    let a = 1.541 + 1.998e-2 * t - 9.52e-5 * t * t;
    let b = 7.974 - 7.561e-2 * t + 4.724e-4 * t * t;
    pure * (1.0 + a * s + b * s * s)
}

/// Pressure of the vapour, Pa, at a temperature, degrees Celsius, and a salinity, g/kg.
///
/// # Source
/// W. Wagner, A. Pruss, *International equations for the saturation properties of ordinary water substance*, Journal of Physical and Chemical Reference Data 22, 1993, 783-787; salt by
/// Raoult's law as in Sharqawy 2010, equation 31. Constants from memory; checked against the printed values.
fn vapour_pressure(t: f64, salinity: f64) -> f64 {
    const CRITICAL: [f64; 2] = [647.096, 22.064e6];
    let k = t + ICE_K;
    let x = 1.0 - k / CRITICAL[0];
    let terms = [
        (-7.859_517_83, 1.0),
        (1.844_082_59, 1.5),
        (-11.786_649_7, 3.0),
        (22.680_741_1, 3.5),
        (-15.961_871_9, 4.0),
        (1.801_225_02, 7.5),
    ];
    let sum: f64 = terms.iter().map(|(a, b)| a * x.powf(*b)).sum();
    CRITICAL[1] * (CRITICAL[0] / k * sum).exp() / (1.0 + 0.573_57 * salinity / (1000.0 - salinity))
}

/// The figures of a point in water.
pub(crate) fn water_figures(p: &Performance) -> Option<WaterFigures> {
    let fluid = &p.operation.air;
    fluid.water?;
    let dynamic_pa = 0.5 * fluid.density_kg_m3 * (p.operation.turns_a_second() * p.diameter_m).powi(2);
    let above = fluid.above_vapour_pa(0.0);
    Some(WaterFigures {
        cavitation_number: above.map(|pa| pa / dynamic_pa),
        cavitating_fraction: above.map(|_| p.share(|e| e.cavitates(fluid) == Some(true))),
        unchecked_fraction: above.map(|_| p.share(|e| e.cavitates(fluid).is_none())),
    })
}

/// Where cavitation begins, and where it was not looked for, as flags of a point.
pub(crate) fn cavitation(p: &Performance) -> Vec<PointFlag> {
    let (fluid, tip_m) = (&p.operation.air, 0.5 * p.diameter_m);
    let Some(figures) = water_figures(p) else { return Vec::new() };
    let mut flags = Vec::new();
    let places =
        || p.elements.iter().filter(|e| e.cavitates(fluid) == Some(true)).map(|e| e.radius_m / tip_m);
    if let (Some(fraction), Some(from_ratio), Some(to_ratio)) =
        (figures.cavitating_fraction, places().min_by(f64::total_cmp), places().max_by(f64::total_cmp))
    {
        flags.push(PointFlag::Cavitation { fraction, from_ratio, to_ratio });
    }
    if let Some(fraction) = figures.unchecked_fraction.filter(|f| UNCHECKED < *f) {
        flags.push(PointFlag::CavitationUnchecked { fraction });
    }
    flags
}

/// What the document says about water as the fluid.
pub(crate) fn method(plan: &WaterPlan) -> String {
    let salt = match plan.kind {
        Water::Fresh => "",
        Water::Sea => ", salinity 35.165 g/kg (viscosity of the salt: Sharqawy 2010)",
    };
    format!(
        "water: {} at {:.1} °C; density UNESCO 1981, viscosity IAPWS SR6-08, vapour pressure Wagner and Pruss 1993{salt}; incompressible; cavitation begins where the least pressure of the section's own flow, at the angle of its lift, is below that of the vapour with the blade pointing up (of inviscid flow at angles whose boundary layers did not converge); scale effects of nuclei and roughness, and tip vortices, are not included, and forces are those without cavitation",
        plan.kind.name(),
        plan.temperature_c
    )
}

/// The notices of a prediction in water.
pub(crate) fn notices(water: &WaterState, prediction: &Prediction) -> Vec<FlowNotice> {
    let mut notices = vec![FlowNotice::WaterTests, FlowNotice::IsolatedScrew];
    match water.depth_m {
        None => notices.push(FlowNotice::NoDepth),
        Some(depth_m) if depth_m < 0.5 * prediction.diameter_m => {
            notices.push(FlowNotice::OutOfWater { depth_m, radius_m: 0.5 * prediction.diameter_m });
        }
        Some(_) => {}
    }
    let begins = |p: &&bladeform_table::OperatingPoint| {
        p.water.and_then(|w| w.cavitating_fraction).is_some_and(|f| 0.0 < f)
    };
    let count = prediction.points.iter().filter(begins).count();
    if 0 < count {
        notices.push(FlowNotice::Cavitation { count, all: prediction.points.len() });
    }
    notices
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, part: f64) {
        assert!((found / wanted - 1.0).abs() < part, "{found} is not {wanted}");
    }

    /// ITTC Recommended Procedure 7.5-02-01-03 (2011) at 15 degrees: four digits hold, since its sea water is 4e-5 above TEOS-10.
    #[test]
    fn water_at_15_degrees_is_that_of_ittc() {
        let at = |kind| Air::water(&WaterPlan { kind, temperature_c: 15.0, depth_m: None }, 0.0).unwrap();
        for (kind, density, viscosity) in
            [(Water::Fresh, 999.1026, 1.1386e-6), (Water::Sea, 1026.021, 1.1892e-6)]
        {
            let water = at(kind);
            near(water.density_kg_m3, density, 6e-5);
            near(water.viscosity_pa_s / water.density_kg_m3, viscosity, 2e-4);
        }
    }

    /// Check values of UNESCO 36 (from memory), of IAPWS SR6-08 at 298.15 K (889.9 micropascal seconds, from memory) and of Wagner and Pruss at 273.16 K and 373.1243 K.
    #[test]
    fn other_temperatures_meet_the_printed_values() {
        for (t, s, wanted) in [(5.0, 0.0, 999.966_75), (5.0, 35.0, 1_027.675_47), (25.0, 35.0, 1_023.343_06)]
        {
            near(density(t, s * 35.165_04 / 35.0), wanted, 1e-8);
        }
        near(viscosity(25.0, 0.0), 889.9e-6, 2e-4);
        near(vapour_pressure(0.01, 0.0), 611.657, 1e-4);
        near(vapour_pressure(99.974_3, 0.0), 101_325.0, 1e-4);
    }

    #[test]
    fn what_lies_outside_is_refused() {
        let of =
            |temperature_c, depth_m| Air::water(&WaterPlan { kind: Water::Sea, temperature_c, depth_m }, 0.0);
        assert!(of(41.0, None).is_err() && of(f64::NAN, None).is_err());
        assert!(of(15.0, Some(-1.0)).is_err() && of(15.0, Some(f64::NAN)).is_err());
        let deep = of(15.0, Some(10.0)).unwrap();
        let shallow = of(15.0, Some(0.0)).unwrap();
        let more = deep.above_vapour_pa(0.0).unwrap() - shallow.above_vapour_pa(0.0).unwrap();
        near(more, 1_026.0 * 9.80665 * 10.0, 1e-4);
    }
}
