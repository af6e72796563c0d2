//! Blades of a propeller that are not alike: which one departs from the others, in what, by how much, and how certain that is.

use bladeform_quantity::{Measured, root_sum_square};
use bladeform_table::{BladeRows, ColumnUnit, Spanwise, Station, StationColumn};

use crate::notice::{BladeQuantity, UnlikeBlade};
use crate::station::long_range::add_long_range;
use crate::vector::median;

/// A difference is said from this many of its standard uncertainties on. Sixty differences of a propeller with twelve blades are compared, and stated uncertainties of photographed
/// scans are too small by a factor of up to two: half of it, three, chance exceeds in one of 370 differences (a normal distribution).
const SAID_FROM: f64 = 6.0;
/// The others scatter about their mean: a blade is unlike them only beyond so many times their own standard deviation (three: the same chance).
const BEYOND_OTHERS: f64 = 3.0;

/// What is known of the blades beside their rows.
pub(crate) struct Around<'a> {
    /// Tip radius of each blade, m.
    pub(crate) ends_m: &'a [f64],
    /// Standard uncertainty of one of them, m.
    pub(crate) u_end_m: f64,
    /// Standard uncertainty of the direction of the axis of rotation, rad: it lifts one blade's tip and turns the angles of others.
    pub(crate) u_tilt: f64,
    /// Standard uncertainty of the place of the axis, m.
    pub(crate) u_centre_m: f64,
    /// Tip radius of the propeller, m.
    pub(crate) radius_m: f64,
    /// Accuracy of the scan over long distances, m; 0 if it is not stated.
    pub(crate) accuracy_m: f64,
}

/// One quantity of every blade: the readings of each at the places that all have in common.
struct Readings {
    what: BladeQuantity,
    /// `[blade][place]`.
    of: Vec<Vec<Option<Measured>>>,
    /// What all places of one blade have in common.
    u_common: f64,
}

/// The blades that differ from the others, by quantity.
pub(crate) fn unlike_blades(blades: &[BladeRows], around: &Around<'_>) -> Vec<UnlikeBlade> {
    let tips = around
        .ends_m
        .iter()
        .map(|&end| vec![Some(Measured::new(end, around.u_end_m.hypot(around.accuracy_m)))])
        .collect();
    let tracks = blades
        .iter()
        .map(|b| {
            vec![
                tip_y(&b.stations, around.radius_m)
                    .map(|m| Measured::new(m.value, m.u.hypot(around.accuracy_m))),
            ]
        })
        .collect();
    let column = |what, column: StationColumn| Readings {
        what,
        of: blades
            .iter()
            .map(|b| b.stations.iter().map(|s| own(s, column, around.accuracy_m)).collect())
            .collect(),
        u_common: match column.unit() {
            ColumnUnit::Degree => around.u_tilt.to_degrees(),
            _ => 0.0,
        },
    };
    let all = [
        Readings { what: BladeQuantity::TipRadius, of: tips, u_common: around.u_centre_m },
        column(BladeQuantity::BladeAngle, StationColumn::BladeAngleDeg),
        Readings { what: BladeQuantity::Track, of: tracks, u_common: around.u_tilt * around.radius_m },
        column(BladeQuantity::Chord, StationColumn::ChordM),
        column(BladeQuantity::Thickness, StationColumn::ThicknessM),
    ];
    all.iter().flat_map(odd_ones).collect()
}

/// A figure with what its uncertainty does not share with the other blades, and what the stated accuracy of the scan adds.
fn own(s: &Station, column: StationColumn, accuracy_m: f64) -> Option<Measured> {
    let u = s.unshared_u(column)?;
    let mut long = Station { chord_m: s.chord_m, ..Station::default() };
    column.set(&mut long, column.get(s));
    add_long_range(&mut long, accuracy_m);
    Some(Measured::new(column.get(s)?, u.hypot(column.u(&long).unwrap_or(0.0))))
}

fn tip_y(stations: &[Station], radius_m: f64) -> Option<Measured> {
    Spanwise::of(stations, StationColumn::MidChordYM).map(|curve| curve.value_at(radius_m).measured)
}

/// Names the blade that departs most from the mean of the others, then the next among those that are left, until none is beyond its uncertainty. Of two blades
/// neither is right: the second is named.
fn odd_ones(readings: &Readings) -> Vec<UnlikeBlade> {
    let mut left: Vec<usize> = (0..readings.of.len()).collect();
    let mut odd = Vec::new();
    while 1 < left.len() {
        let mut rated = left.iter().filter_map(|&k| Some((k, readings.difference(k, &left)?)));
        let over = |d: &Measured| d.value.abs() / d.u.max(f64::MIN_POSITIVE);
        let pair = left.len() == 2;
        let worst =
            if pair { rated.next_back() } else { rated.max_by(|a, b| over(&a.1).total_cmp(&over(&b.1))) };
        let Some((blade, amount)) = worst else { break };
        let others: Vec<usize> = left.iter().copied().filter(|k| *k != blade).collect();
        let beyond = SAID_FROM * amount.u < amount.value.abs()
            && BEYOND_OTHERS * readings.scatter(&others) < amount.value.abs();
        if !beyond {
            break;
        }
        odd.push(UnlikeBlade { blade: blade + 1, what: readings.what, amount: amount.value, u: amount.u });
        left = others;
    }
    odd
}

impl Readings {
    /// Blade `k` less the mean of the others among `blades`: the median over the places that all of them have, with the median of its standard uncertainty. Errors of the places of
    /// one blade are taken as fully correlated, which is cautious.
    fn difference(&self, k: usize, blades: &[usize]) -> Option<Measured> {
        let others = (blades.len() - 1) as f64;
        let at = |i: usize| {
            let own = self.of[k][i]?;
            let rest: Option<Vec<Measured>> =
                blades.iter().filter(|j| **j != k).map(|j| self.of[*j][i]).collect();
            let rest = rest?;
            let mean = rest.iter().map(|m| m.value).sum::<f64>() / others;
            let u = root_sum_square(&rest.iter().map(|m| m.u).collect::<Vec<_>>()) / others;
            Some((own.value - mean, own.u.hypot(u)))
        };
        let places = blades.iter().map(|j| self.of[*j].len()).min()?;
        let (mut values, mut u): (Vec<f64>, Vec<f64>) = (0..places).filter_map(at).unzip();
        (!values.is_empty()).then(|| Measured::new(median(&mut values), median(&mut u).hypot(self.u_common)))
    }

    /// Standard deviation of blades about their mean; 0 for one.
    fn scatter(&self, blades: &[usize]) -> f64 {
        if blades.len() < 2 {
            return 0.0;
        }
        let n = blades.len() as f64;
        // A blade less the mean of the others is n / (n - 1) times that less the mean of all.
        let squares = blades.iter().filter_map(|&k| self.difference(k, blades));
        let squares: f64 = squares.map(|d| (d.value * (n - 1.0) / n).powi(2)).sum();
        (squares / (n - 1.0)).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings(values: &[f64]) -> Readings {
        let of = values.iter().map(|&v| vec![Some(Measured::new(v, 0.1)); 5]).collect();
        Readings { what: BladeQuantity::BladeAngle, of, u_common: 0.0 }
    }

    #[test]
    fn the_odd_one_is_named_with_its_difference_from_the_others() {
        let odd = odd_ones(&readings(&[20.0, 25.1, 20.2]));
        assert_eq!(odd.len(), 1);
        assert_eq!(odd[0].blade, 2);
        assert!((odd[0].amount - 5.0).abs() < 1e-12);
        // The reading and the mean of two: 0.1 and 0.1 / sqrt 2.
        assert!((odd[0].u - 0.1f64.hypot(0.1 / 2f64.sqrt())).abs() < 1e-12);
        assert!(odd_ones(&readings(&[20.0, 20.3, 20.1])).is_empty());
    }

    #[test]
    fn of_two_the_second_is_named_and_blades_that_scatter_evenly_are_not_odd() {
        let odd = odd_ones(&readings(&[20.0, 22.0]));
        assert_eq!((odd.len(), odd[0].blade), (1, 2));
        assert!(odd_ones(&readings(&[20.0, 20.4, 20.8, 21.2])).is_empty());
    }
}
