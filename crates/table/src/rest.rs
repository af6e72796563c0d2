//! How the figures of predictions are displayed, and both models at zero speed next to each other.

use crate::OperatingPoint;

/// Which of the two models is better at zero speed.
pub const REST_MEANING: &str = "Blade elements and free wake compared. The free wake is the better model at zero speed: its wake contracts and passes below the next blade; the wake of the blade elements does not.";
/// The figures of both models at points of zero speed, one row each: setting in deg; thrust by blade elements and by the free wake in N and their difference in %;
/// the same for power in kW; depth of the tip vortex below the next blade in % of R. A missing figure is `-`.
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

/// Units whose figures range over orders of magnitude, from the propeller of a model to that of an airship.
const SMALL_TOO: [&str; 3] = ["N", "N m", "kW"];

/// Number of decimals that shows four significant digits of the largest figure times a factor, if the unit is one of force, torque or power. It is at most six
/// and at least `least`.
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

/// From here on a double no longer has all digits of a whole number and a decimal.
const LARGEST_PLAIN: f64 = 1e15;

/// A figure times a factor as text, or `-` if it is missing or not finite. Sizes of 1e15 and more, beyond the digits of a double, have an exponent.
///
/// ```
/// use bladeform_table::number_text;
/// assert_eq!(number_text(Some(0.25), 1e3, 1), "250.0");
/// assert_eq!(number_text(Some(1e300), 1e3, 1), "1.0e303");
/// ```
#[must_use]
pub fn number_text(value: Option<f64>, factor: f64, decimals: usize) -> String {
    value.filter(|v| v.is_finite()).map_or_else(
        || "-".to_owned(),
        |v| match v * factor {
            shown if shown.abs() < LARGEST_PLAIN => format!("{shown:.decimals$}"),
            shown => format!("{shown:.decimals$e}"),
        },
    )
}
