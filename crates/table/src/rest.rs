//! How the figures of predictions are shown to people, and both models at zero speed next to each other.

use crate::OperatingPoint;

/// Which of two models is to be trusted at rest.
pub const REST_MEANING: &str = "Blade elements and free wake compared. The free wake is the better model at zero speed: its wake contracts and passes below the next blade; the wake of the blade elements does not.";
/// The figures of both models at points at rest, a row each: setting in deg; thrust by elements and by the free wake in N, how much more in %; the same of power, in kW;
/// depth of the tip vortex below the next blade in % of R. A missing figure is `-`.
#[must_use]
pub fn cells_at_rest(points: &[&OperatingPoint]) -> Vec<[String; 8]> {
    let thrust = enough_decimals("N", points.iter().map(|p| p.figures.thrust_n), 1.0, 0);
    let power = enough_decimals("kW", points.iter().map(|p| p.figures.power_w), 1e-3, 2);
    let row = |p: &&OperatingPoint| {
        let (f, wake) = (&p.figures, p.free_wake.unwrap_or_default());
        [
            number_text(f.setting_deg, 1.0, 2),
            number_text(wake.blade_elements_thrust_n.or(f.thrust_n), 1.0, thrust),
            number_text(wake.thrust_n, 1.0, thrust),
            number_text(wake.thrust_difference, 1e2, 1),
            number_text(wake.blade_elements_power_w.or(f.power_w), 1e-3, power),
            number_text(wake.power_w, 1e-3, power),
            number_text(wake.power_difference, 1e2, 1),
            number_text(wake.tip_vortex_depth_ratio, 1e2, 1),
        ]
    };
    points.iter().map(row).collect()
}

/// Units whose figures range from a model's propeller to an airship's.
const SMALL_TOO: [&str; 3] = ["N", "N m", "kW"];

/// Decimals that show four digits of the largest of some figures times a factor, where their unit is one of force, torque or power; six at the most, and
/// no fewer than asked.
///
/// ```
/// use bladeform_table::enough_decimals;
/// assert_eq!(enough_decimals("N", [Some(5240.0)].into_iter(), 1.0, 0), 0);
/// assert_eq!(enough_decimals("N", [Some(1.4), None].into_iter(), 1.0, 0), 3);
/// assert_eq!(enough_decimals("deg", [Some(1.4)].into_iter(), 1.0, 1), 1);
/// ```
#[must_use]
pub fn enough_decimals(
    unit: &str,
    values: impl Iterator<Item = Option<f64>>,
    factor: f64,
    least: usize,
) -> usize {
    let largest = values.flatten().map(|v| (v * factor).abs()).filter(|v| v.is_finite()).fold(0.0, f64::max);
    if largest <= 0.0 || !SMALL_TOO.contains(&unit) {
        return least;
    }
    let digits = 3.0 - largest.log10().floor();
    least.max(digits.clamp(0.0, 6.0) as usize)
}

/// A figure times a factor as text; `-` where it is missing or not finite.
#[must_use]
pub fn number_text(value: Option<f64>, factor: f64, decimals: usize) -> String {
    value.filter(|v| v.is_finite()).map_or_else(|| "-".to_owned(), |v| format!("{:.decimals$}", v * factor))
}
