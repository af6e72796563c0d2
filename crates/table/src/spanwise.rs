//! Columns of the table as smooth curves over the radius.

use crate::{DEFAULT_REFERENCE_RADIUS_RATIO, Station, StationColumn, StationTable};
use bladeform_numeric::monotone::MonotoneCubic;
use bladeform_quantity::Measured;

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
}
