//! How the figures of predictions are displayed, and both models at zero speed next to each other.

use bladeform_quantity::ShownUnits;

use crate::{OperatingPoint, Shown};

/// Which of the two models is better at zero speed.
pub const REST_MEANING: &str = "Blade elements and free wake compared. The free wake is the better model at zero speed: its wake contracts and passes below the next blade; the wake of the blade elements does not.";
/// The figures of both models at points of zero speed, one row each: setting in deg; thrust by blade elements and by the free wake in N, or the unit shown, and their
/// difference in %; the same for power in kW; depth of the tip vortex below the next blade in % of R. A missing figure is `-`.
#[must_use]
pub fn cells_at_rest(points: &[&OperatingPoint], units: ShownUnits) -> Vec<[String; 8]> {
    let [force, work] =
        [Shown::new("", "N", 1.0, 0), Shown::new("", "kW", 1e-3, 2)].map(|s| s.in_units(units));
    let thrust = force.enough(points.iter().map(|p| p.figures.thrust_n));
    let power = work.enough(points.iter().map(|p| p.figures.power_w));
    let row = |p: &&OperatingPoint| {
        let (f, wake) = (&p.figures, p.free_wake.unwrap_or_default());
        [
            number_text(f.setting_deg, 1.0, 2),
            thrust.plain(wake.blade_elements_thrust_n.or(f.thrust_n)),
            thrust.plain(wake.thrust_n),
            number_text(wake.thrust_difference, 1e2, 1),
            power.plain(wake.blade_elements_power_w.or(f.power_w)),
            power.plain(wake.power_w),
            number_text(wake.power_difference, 1e2, 1),
            number_text(wake.tip_vortex_depth_ratio, 1e2, 1),
        ]
    };
    points.iter().map(row).collect()
}

/// Units whose figures range over orders of magnitude, from the propeller of a model to that of an airship.
const SMALL_TOO: [&str; 6] = ["N", "N m", "kW", "lbf", "lbf ft", "hp"];

impl Shown {
    /// The same with the decimals that [`enough_decimals`] finds for these figures.
    #[must_use]
    pub fn enough(self, values: impl Iterator<Item = Option<f64>>) -> Shown {
        Shown { decimals: enough_decimals(self.unit, values, self.factor, self.decimals), ..self }
    }

    /// The figure as [`number_text`] writes it.
    #[must_use]
    pub fn plain(&self, value: Option<f64>) -> String {
        number_text(value, self.factor, self.decimals)
    }
}

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
