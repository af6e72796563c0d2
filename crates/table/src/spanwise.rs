//! Columns of the table as smooth curves over the radius.

use crate::{DEFAULT_REFERENCE_RADIUS_RATIO, Station, StationColumn, StationTable};
use bladeform_quantity::Measured;

/// A smooth curve through points of rising abscissae: piecewise cubic, with a continuous slope, monotone wherever the
/// points are, so that it never swings beyond them. Beyond its ends it goes straight on with its end slope.
///
/// # Source
/// M. Steffen, *A simple method for monotonic interpolation in one dimension*, Astronomy and Astrophysics 239 (1990),
/// 443-450, equations 6 to 11; at the ends its parabola through three points, limited in the same way (section 2.2).
///
/// ```
/// use bladeform_table::MonotoneCubic;
/// let curve = MonotoneCubic::through(&[(0.2, 0.10), (0.5, 0.16), (0.8, 0.13)]).unwrap();
/// assert_eq!(curve.value(0.5), 0.16);
/// assert!(curve.value(0.35) > 0.10 && curve.value(0.35) < 0.16);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct MonotoneCubic {
    x: Vec<f64>,
    y: Vec<f64>,
    /// The slope at each point.
    slope: Vec<f64>,
}

impl MonotoneCubic {
    /// The curve through points `(x, y)`; `None` for fewer than two, for `x` that do not rise strictly, or for numbers
    /// that are not finite.
    #[must_use]
    pub fn through(points: &[(f64, f64)]) -> Option<MonotoneCubic> {
        let rises = points.windows(2).all(|pair| pair[0].0 < pair[1].0);
        let finite = points.iter().all(|(x, y)| x.is_finite() && y.is_finite());
        if points.len() < 2 || !rises || !finite {
            return None;
        }
        let (x, y): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
        let slope = slopes(&x, &y);
        Some(MonotoneCubic { x, y, slope })
    }

    /// The value at `x`.
    #[must_use]
    pub fn value(&self, x: f64) -> f64 {
        let last = self.x.len() - 1;
        if x < self.x[0] {
            return self.y[0] + self.slope[0] * (x - self.x[0]);
        }
        if x > self.x[last] {
            return self.y[last] + self.slope[last] * (x - self.x[last]);
        }
        let k = self.interval(x);
        let h = self.x[k + 1] - self.x[k];
        let d = (self.y[k + 1] - self.y[k]) / h;
        let a = (self.slope[k] + self.slope[k + 1] - 2.0 * d) / (h * h);
        let b = (3.0 * d - 2.0 * self.slope[k] - self.slope[k + 1]) / h;
        let t = x - self.x[k];
        self.y[k] + t * (self.slope[k] + t * (b + t * a))
    }

    /// The abscissae of the points.
    #[must_use]
    pub fn knots(&self) -> &[f64] {
        &self.x
    }

    /// The first and the last abscissa.
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        (self.x[0], self.x[self.x.len() - 1])
    }

    /// The index of the interval that holds `x`; an `x` at the very end belongs to the last.
    fn interval(&self, x: f64) -> usize {
        let above = self.x.partition_point(|knot| *knot <= x);
        above.clamp(1, self.x.len() - 1) - 1
    }
}

fn slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let h: Vec<f64> = x.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let d: Vec<f64> = y.windows(2).zip(&h).map(|(pair, h)| (pair[1] - pair[0]) / h).collect();
    if n == 2 {
        return vec![d[0]; 2];
    }
    let inner = (1..n - 1).map(|k| inner_slope(h[k - 1], h[k], d[k - 1], d[k]));
    let first = end_slope(h[0], h[1], d[0], d[1]);
    let last = end_slope(h[n - 2], h[n - 3], d[n - 2], d[n - 3]);
    [first].into_iter().chain(inner).chain([last]).collect()
}

/// Steffen's equation 11: the slope of the parabola through three points, no more than twice that of either secant, and
/// zero at an extremum.
fn inner_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    if d0 * d1 <= 0.0 {
        return 0.0;
    }
    let parabola = (d0 * h1 + d1 * h0) / (h0 + h1);
    let limit = 2.0 * d0.abs().min(d1.abs());
    parabola.abs().min(limit).copysign(d0)
}

/// The slope of the parabola at an end, of the sign of the nearest secant and no more than twice it.
fn end_slope(h0: f64, h1: f64, d0: f64, d1: f64) -> f64 {
    let parabola = d0 + (d0 - d1) * h0 / (h0 + h1);
    if parabola * d0 <= 0.0 { 0.0 } else { parabola.abs().min(2.0 * d0.abs()).copysign(d0) }
}

/// One column of a table as a curve over the radius.
#[derive(Clone, Debug, PartialEq)]
pub struct Spanwise {
    curve: MonotoneCubic,
    /// The standard uncertainty at each point.
    u: Vec<f64>,
}

/// The value of a column at a radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpanwiseValue {
    /// The value with its standard uncertainty, in the unit of the column.
    pub measured: Measured,
    /// How far the radius lies beyond the stations, m; zero between them.
    pub beyond_m: f64,
}

impl SpanwiseValue {
    /// Whether the value was carried beyond the stations.
    #[must_use]
    pub fn is_extrapolated(&self) -> bool {
        self.beyond_m > 0.0
    }
}

impl Spanwise {
    /// The curve of a column over the stations that have it; `None` when fewer than two do.
    #[must_use]
    pub fn of(stations: &[Station], column: StationColumn) -> Option<Spanwise> {
        let figures: Vec<(f64, Measured)> =
            stations.iter().filter_map(|s| column.measured(s).map(|m| (s.radius_m, m))).collect();
        let points: Vec<(f64, f64)> = figures.iter().map(|(r, m)| (*r, m.value)).collect();
        let curve = MonotoneCubic::through(&points)?;
        Some(Spanwise { curve, u: figures.iter().map(|(_, m)| m.u).collect() })
    }

    /// The value at a radius, m.
    ///
    /// Between stations the uncertainty is taken over straight from the two neighbours, as if their errors went
    /// together. Beyond the stations that of the end slope, drawn from the last two, comes in addition.
    #[must_use]
    pub fn value_at(&self, radius_m: f64) -> SpanwiseValue {
        let (first, last) = self.curve.range();
        let beyond_m = (first - radius_m).max(radius_m - last).max(0.0);
        let u =
            if beyond_m > 0.0 { self.u_beyond(radius_m > last, beyond_m) } else { self.u_between(radius_m) };
        SpanwiseValue { measured: Measured::new(self.curve.value(radius_m), u), beyond_m }
    }

    /// The curve.
    #[must_use]
    pub fn curve(&self) -> &MonotoneCubic {
        &self.curve
    }

    fn u_between(&self, radius_m: f64) -> f64 {
        let k = self.curve.interval(radius_m);
        let x = self.curve.knots();
        let share = (radius_m - x[k]) / (x[k + 1] - x[k]);
        self.u[k] + share * (self.u[k + 1] - self.u[k])
    }

    fn u_beyond(&self, at_tip: bool, beyond_m: f64) -> f64 {
        let (x, n) = (self.curve.knots(), self.u.len());
        let (end, inner) = if at_tip { (n - 1, n - 2) } else { (0, 1) };
        let lever = beyond_m / (x[end] - x[inner]).abs();
        ((1.0 + lever) * self.u[end]).hypot(lever * self.u[inner])
    }
}

impl StationTable {
    /// The value of a column at a radius, m; `None` when fewer than two stations have it.
    #[must_use]
    pub fn value_at(&self, column: StationColumn, radius_m: f64) -> Option<SpanwiseValue> {
        Spanwise::of(&self.stations, column).map(|curve| curve.value_at(radius_m))
    }

    /// The value of a column at the tip: the smooth curve carried to `R`.
    #[must_use]
    pub fn value_at_tip(&self, column: StationColumn) -> Option<SpanwiseValue> {
        self.value_at(column, self.blade.radius_m)
    }

    /// The value of a column at the reference radius of the table.
    #[must_use]
    pub fn value_at_reference(&self, column: StationColumn) -> Option<SpanwiseValue> {
        self.value_at(column, self.blade.radius_m * self.blade.reference_radius_ratio)
    }

    /// The value of a column at 0.75 R.
    #[must_use]
    pub fn value_at_three_quarters(&self, column: StationColumn) -> Option<SpanwiseValue> {
        self.value_at(column, self.blade.radius_m * DEFAULT_REFERENCE_RADIUS_RATIO)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::BladeFigures;
    use proptest::prelude::*;

    fn table(u: f64) -> StationTable {
        let row = |ratio: f64| {
            let mut station = Station::at(ratio, 1.0);
            StationColumn::BladeAngleDeg
                .set_measured(&mut station, Some(Measured::new(50.0 - 40.0 * ratio, u)));
            station
        };
        let stations = [0.3, 0.5, 0.7, 0.9].map(row).to_vec();
        StationTable {
            blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
            stations,
            ..StationTable::default()
        }
    }

    #[test]
    fn a_straight_column_is_carried_to_the_tip_and_told_as_extrapolated() {
        let tip = table(0.1).value_at_tip(StationColumn::BladeAngleDeg).unwrap();
        assert!((tip.measured.value - 10.0).abs() < 1e-12);
        assert!(tip.is_extrapolated() && (tip.beyond_m - 0.1).abs() < 1e-12);
        // y(1.0) = 1.5 y(0.9) - 0.5 y(0.7).
        assert!((tip.measured.u - 0.1 * 1.5_f64.hypot(0.5)).abs() < 1e-12);
        let inside = table(0.1).value_at_three_quarters(StationColumn::BladeAngleDeg).unwrap();
        assert!((inside.measured.value - 20.0).abs() < 1e-12 && (inside.measured.u - 0.1).abs() < 1e-12);
        assert!(!inside.is_extrapolated());
    }

    #[test]
    fn a_station_without_the_figure_is_passed_over() {
        let mut table = table(0.1);
        table.stations[1].blade_angle_deg = None;
        let value = table.value_at(StationColumn::BladeAngleDeg, 0.5).unwrap();
        assert!((value.measured.value - 30.0).abs() < 1e-12);
        assert_eq!(table.value_at(StationColumn::ChordM, 0.5), None);
    }

    #[test]
    fn what_is_no_curve_gives_none() {
        for points in [
            &[][..],
            &[(0.0, 1.0)],
            &[(0.0, 1.0), (0.0, 2.0)],
            &[(1.0, 1.0), (0.0, 2.0)],
            &[(0.0, f64::NAN), (1.0, 1.0)],
        ] {
            assert_eq!(MonotoneCubic::through(points), None);
        }
    }

    #[test]
    fn a_smooth_law_is_met_between_twenty_four_stations() {
        // The angle of a constant pitch, the common law of a blade.
        let law = |r: f64| (1.1 / (std::f64::consts::TAU * r)).atan().to_degrees();
        let points: Vec<(f64, f64)> =
            (0..24).map(|k| 0.2 + 0.77 * f64::from(k) / 23.0).map(|r| (r, law(r))).collect();
        let curve = MonotoneCubic::through(&points).unwrap();
        let worst = (0..=770)
            .map(|k| 0.2 + f64::from(k) / 1000.0)
            .map(|r| (curve.value(r) - law(r)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 0.02, "{worst} deg");
        assert!((curve.value(1.0) - law(1.0)).abs() < 0.05, "{}", curve.value(1.0) - law(1.0));
    }

    proptest! {
        #[test]
        fn the_curve_goes_through_its_points_and_never_beyond_them(
            steps in proptest::collection::vec((0.01_f64..1.0, -5.0_f64..5.0), 2..20), share in 0.0_f64..1.0
        ) {
            let mut x = 0.0;
            let points: Vec<(f64, f64)> = steps.iter().map(|(step, y)| { x += step; (x, *y) }).collect();
            let curve = MonotoneCubic::through(&points).unwrap();
            for pair in points.windows(2) {
                prop_assert!((curve.value(pair[0].0) - pair[0].1).abs() < 1e-12);
                prop_assert!((curve.value(pair[1].0) - pair[1].1).abs() < 1e-9);
                let between = curve.value(pair[0].0 + share * (pair[1].0 - pair[0].0));
                let (low, high) = (pair[0].1.min(pair[1].1), pair[0].1.max(pair[1].1));
                prop_assert!(low - 1e-9 <= between && between <= high + 1e-9);
            }
        }

        #[test]
        fn a_straight_line_stays_one_everywhere(a in -3.0_f64..3.0, b in -3.0_f64..3.0, x in -1.0_f64..3.0) {
            let points: Vec<(f64, f64)> = [0.1, 0.3, 0.35, 0.9, 1.4].iter().map(|x| (*x, a + b * x)).collect();
            prop_assert!((MonotoneCubic::through(&points).unwrap().value(x) - (a + b * x)).abs() < 1e-12);
        }
    }
}
