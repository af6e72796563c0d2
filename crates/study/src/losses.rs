//! Lost power over thrust: a comparison of propeller tests that hardly depends on setting, zero lift and thickness.
//!
//! `C_P - J C_T` is the power that does not become thrust times speed of flight: induced losses and the drag of the sections. Plotted over `C_T` it is to first order free
//! of the blade setting, of the angle of zero lift and of the thickness: these move thrust and power along one curve. So it shows whether the drag polars are right,
//! where `C_T` and `C_P` at equal advance ratio mostly show whether the angles are.

/// One point of a test or of a computed curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Point {
    /// Advance ratio.
    pub(crate) j: f64,
    /// Thrust coefficient.
    pub(crate) ct: f64,
    /// Power coefficient.
    pub(crate) cp: f64,
}

impl Point {
    /// The coefficient of the lost power, `C_P - J C_T`.
    pub(crate) fn lost(self) -> f64 {
        self.cp - self.j * self.ct
    }
}

/// Least squares of `lost = least + growth C_T^2`: the least drag part and the growth. `None` if the points do not determine both.
pub(crate) fn fitted(points: &[Point]) -> Option<[f64; 2]> {
    let n = points.len() as f64;
    let mean = |f: &dyn Fn(&Point) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (x, y) = (mean(&|p| p.ct * p.ct), mean(&|p| p.lost()));
    let spread = mean(&|p| (p.ct * p.ct - x).powi(2));
    let growth = mean(&|p| (p.ct * p.ct - x) * (p.lost() - y)) / spread;
    (points.len() > 2 && growth.is_finite()).then_some([y - growth * x, growth])
}

/// The value of `figure` at a thrust coefficient on a computed curve in the order of the advance ratio. Of several places it is the one at the highest advance ratio, where
/// the flow is attached. `None` outside the curve.
pub(crate) fn at_thrust(curve: &[Point], ct: f64, figure: impl Fn(Point) -> f64) -> Option<f64> {
    let pair = curve.windows(2).rev().find(|p| p[1].ct <= ct && ct <= p[0].ct)?;
    let share = if pair[0].ct > pair[1].ct { (pair[0].ct - ct) / (pair[0].ct - pair[1].ct) } else { 0.0 };
    Some(figure(pair[0]) + share * (figure(pair[1]) - figure(pair[0])))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact: a drag polar of this form returns its own figures, and a curve shifted in the advance ratio has the same lost power at equal thrust.
    #[test]
    fn a_plain_polar_is_found_again_and_a_shift_of_setting_does_not_count() {
        let curve = |shift: f64| -> Vec<Point> {
            let of = |k: i32| {
                let (j, ct) = (0.1 + shift + 0.02 * f64::from(k), 0.12 - 0.004 * f64::from(k));
                Point { j, ct, cp: j * ct + 0.004 + 1.5 * ct * ct }
            };
            (0..=30).map(of).collect()
        };
        let [least, growth] = fitted(&curve(0.0)).unwrap();
        assert!((least - 0.004).abs() < 1e-12 && (growth - 1.5).abs() < 1e-9, "{least} {growth}");
        for ct in [0.05, 0.0812, 0.11] {
            let found = at_thrust(&curve(0.13), ct, Point::lost).unwrap();
            assert!((found / (0.004 + 1.5 * ct * ct) - 1.0).abs() < 1e-3, "{ct}: {found}");
        }
        assert!(at_thrust(&curve(0.0), 0.13, Point::lost).is_none());
        assert!(fitted(&curve(0.0)[..2]).is_none());
    }
}
