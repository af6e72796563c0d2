//! The fluid of a propeller: the standard atmosphere. Water is in `water`.

use crate::FlowError;
use bladeform_table::WaterState;

/// Temperature at sea level, K.
const SEA_LEVEL_K: f64 = 288.15;
/// Pressure at sea level, Pa.
const SEA_LEVEL_PA: f64 = 101_325.0;
/// Standard acceleration of free fall, m/s2.
pub(crate) const GRAVITY_M_S2: f64 = 9.806_65;
/// Specific gas constant of air, J/(kg K).
const GAS_CONSTANT: f64 = 287.052_87;
/// Ratio of the specific heats.
const HEAT_RATIO: f64 = 1.4;
/// Temperature lapse rate in the troposphere, K/m.
const LAPSE_K_PER_M: f64 = 0.0065;
/// Top of the troposphere, m.
const TROPOPAUSE_M: f64 = 11_000.0;
/// Lowest geopotential altitude of the model here, m.
const LOWEST_M: f64 = -5_000.0;
/// Top of the isothermal layer above the tropopause, m.
const HIGHEST_M: f64 = 20_000.0;
/// Constants of Sutherland's law in the standard: kg/(m s K^0.5) and K.
const SUTHERLAND: [f64; 2] = [1.458e-6, 110.4];
/// Larger offsets are an input error: the coldest and hottest air ever measured at the ground lies within it.
const LARGEST_OFFSET_K: f64 = 80.0;

/// The air in which a propeller works, or the water ([`Air::water`]). SI throughout.
///
/// # Source
/// ISO 2533:1975, Standard atmosphere: layers from -5 to 20 km of geopotential altitude, Sutherland's viscosity. With a
/// temperature offset the pressure is still that of the standard, and the density follows from the gas law.
///
/// ```
/// let air = bladeform_flow::Air::standard(0.0, 0.0).unwrap();
/// assert!((air.density_kg_m3 - 1.225).abs() < 1e-5 && (air.speed_of_sound_m_s - 340.294).abs() < 1e-3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Geopotential altitude, m; of water that of its surface.
    pub altitude_m: f64,
    /// Temperature above that of the standard, K.
    pub temperature_offset_k: f64,
    /// Temperature, K.
    pub temperature_k: f64,
    /// Pressure, Pa; of water that on its surface.
    pub pressure_pa: f64,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// Dynamic viscosity, Pa s.
    pub viscosity_pa_s: f64,
    /// Speed of sound, m/s; infinite in water, which does not compress here.
    pub speed_of_sound_m_s: f64,
    /// The water, if it is water.
    pub water: Option<WaterState>,
}

impl Air {
    /// The air at a geopotential altitude, m, with a temperature offset from the standard, K.
    ///
    /// # Errors
    /// [`FlowError::Altitude`] outside -5,000 to 20,000 m, [`FlowError::TemperatureOffset`] beyond 80 K.
    pub fn standard(altitude_m: f64, temperature_offset_k: f64) -> Result<Air, FlowError> {
        if !(LOWEST_M..=HIGHEST_M).contains(&altitude_m) {
            return Err(FlowError::Altitude { altitude_m });
        }
        if !(-LARGEST_OFFSET_K..=LARGEST_OFFSET_K).contains(&temperature_offset_k) {
            return Err(FlowError::TemperatureOffset { offset_k: temperature_offset_k });
        }
        let (standard_k, pressure_pa) = layer(altitude_m);
        let temperature_k = standard_k + temperature_offset_k;
        Ok(Air {
            altitude_m,
            temperature_offset_k,
            temperature_k,
            pressure_pa,
            density_kg_m3: pressure_pa / (GAS_CONSTANT * temperature_k),
            viscosity_pa_s: SUTHERLAND[0] * temperature_k.powf(1.5) / (temperature_k + SUTHERLAND[1]),
            speed_of_sound_m_s: (HEAT_RATIO * GAS_CONSTANT * temperature_k).sqrt(),
            water: None,
        })
    }
}

/// Standard temperature, K, and pressure, Pa.
fn layer(altitude_m: f64) -> (f64, f64) {
    let below_m = altitude_m.min(TROPOPAUSE_M);
    let temperature_k = SEA_LEVEL_K - LAPSE_K_PER_M * below_m;
    let exponent = GRAVITY_M_S2 / (GAS_CONSTANT * LAPSE_K_PER_M);
    let pressure_pa = SEA_LEVEL_PA * (temperature_k / SEA_LEVEL_K).powf(exponent);
    let above_m = (altitude_m - TROPOPAUSE_M).max(0.0);
    (temperature_k, pressure_pa * (-GRAVITY_M_S2 * above_m / (GAS_CONSTANT * temperature_k)).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of ISO 2533:1975, table by geopotential altitude (from memory): altitude m, temperature K, pressure Pa, density
    /// kg/m3, speed of sound m/s.
    const ROWS: [[f64; 5]; 6] = [
        [0.0, 288.150, 101_325.0, 1.225_00, 340.294],
        [1_000.0, 281.650, 89_874.6, 1.111_64, 336.434],
        [5_000.0, 255.650, 54_019.9, 0.736_116, 320.529],
        [10_000.0, 223.150, 26_436.2, 0.412_706, 299.463],
        [11_000.0, 216.650, 22_632.0, 0.363_918, 295.069],
        [20_000.0, 216.650, 5_474.87, 0.088_034_5, 295.069],
    ];

    #[test]
    fn rows_of_the_standard_are_met() {
        for [altitude, temperature, pressure, density, sound] in ROWS {
            let air = Air::standard(altitude, 0.0).unwrap();
            assert!((air.temperature_k - temperature).abs() < 1e-9, "{altitude} m");
            assert!((air.pressure_pa / pressure - 1.0).abs() < 1e-5, "{altitude} m: {}", air.pressure_pa);
            assert!((air.density_kg_m3 / density - 1.0).abs() < 1e-5, "{altitude} m: {}", air.density_kg_m3);
            assert!(
                (air.speed_of_sound_m_s - sound).abs() < 2e-3,
                "{altitude} m: {}",
                air.speed_of_sound_m_s
            );
        }
    }

    #[test]
    fn viscosity_of_the_standard() {
        // ISO 2533 (from memory): 1.7894e-5 Pa s at sea level, 1.4216e-5 Pa s at the tropopause.
        assert!((Air::standard(0.0, 0.0).unwrap().viscosity_pa_s / 1.7894e-5 - 1.0).abs() < 3e-5);
        assert!((Air::standard(11e3, 0.0).unwrap().viscosity_pa_s / 1.4216e-5 - 1.0).abs() < 3e-5);
    }

    #[test]
    fn warm_air_is_thinner_at_the_same_pressure() {
        let (standard, warm) = (Air::standard(1e3, 0.0).unwrap(), Air::standard(1e3, 20.0).unwrap());
        assert!((warm.pressure_pa - standard.pressure_pa).abs() < 1e-9);
        assert!((warm.density_kg_m3 / standard.density_kg_m3 - 281.65 / 301.65).abs() < 1e-12);
    }

    #[test]
    fn what_lies_outside_is_refused() {
        assert!(Air::standard(20_001.0, 0.0).unwrap_err().to_string().contains("20000"));
        assert!(Air::standard(f64::NAN, 0.0).is_err() && Air::standard(0.0, 200.0).is_err());
    }
}
