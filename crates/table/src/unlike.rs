//! The mean over blades that are not alike: their spread enters its uncertainty, and where it is large no mean is given.

use bladeform_quantity::root_sum_square;

use crate::{ColumnUnit, Flag, Station, StationColumn, UncertaintySource};
use bladeform_numeric::chi_square::normal_deviate;

/// Chi-square of the figures of the blades about their mean, as a normal deviate, from which chance does not explain their spread: chance exceeds four in one
/// of 30,000 cases, and a propeller has a few thousand figures.
const BEYOND_CHANCE: f64 = 4.0;
/// The spread counts only where it is also so many times what the blades state: uncertainties of photographed scans are too small by up to two.
const BEYOND_STATED: f64 = 3.0;

/// Standard deviation of the blades from which their mean stands for none of them, by the unit of the figure: a part of the mean for lengths and areas, degrees for angles,
/// a part of the chord for ratios and positions. A judgement (JCGM 100:2008, 4.3): a tenth of the chord or 5 deg are far beyond the differences of blades made alike.
const fn most_spread(column: StationColumn) -> f64 {
    match column {
        StationColumn::ThicknessPosition | StationColumn::CamberPosition => 0.1,
        StationColumn::ThicknessRatio | StationColumn::CamberRatio => 0.02,
        StationColumn::AreaM2 => 0.2,
        _ => match column.unit() {
            ColumnUnit::Degree => 5.0,
            _ => 0.1,
        },
    }
}

/// Places of the chord's middle are not figures of the section: a blade that is bent moves them by any amount.
const fn is_place(column: StationColumn) -> bool {
    matches!(column, StationColumn::MidChordXM | StationColumn::MidChordYM)
}

/// Sizes of edges are small: a part of them is no measure for a blade.
const fn is_edge(column: StationColumn) -> bool {
    matches!(column, StationColumn::LeadingEdgeRadiusM | StationColumn::TrailingEdgeThicknessM)
}

/// The figures whose spread is flagged; the others follow from the same edges.
const FLAGGED: [StationColumn; 4] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::ThicknessM,
    StationColumn::CamberRatio,
];

/// Treats the mean over `blades`, which [`crate::mean_of`] gave, where the blades differ by more than their uncertainties explain.
///
/// With the standard deviation `s` of `n` blades and the root mean square `u` of what their uncertainties do not share, the part
/// `sqrt((s^2 - u^2) / n)` is added to the uncertainty of the mean as [`UncertaintySource::Blades`] (type A evaluation, JCGM 100:2008, 4.2.3). Where
/// `s` is beyond a tenth of a length, a fifth of an area, 5 deg, 0.02 of a ratio or 0.1 of a position, the figure is removed from the mean. A flag says either.
pub fn add_spread_of_blades(mean: &mut [Station], blades: &[Vec<Station>]) {
    for station in mean {
        let (mut given, mut withheld) = (Vec::new(), Vec::new());
        for &column in StationColumn::FIGURES {
            let Some((deviation, part)) = spread(station.radius_m, column, blades) else { continue };
            station.add_uncertainty(column, UncertaintySource::Blades, part);
            let size = match column.unit() {
                ColumnUnit::Metre | ColumnUnit::SquareMetre => column.get(station).map_or(0.0, f64::abs),
                _ => 1.0,
            };
            if !is_place(column) && !is_edge(column) && most_spread(column) * size < deviation {
                withheld.push((column, deviation));
                column.set_measured(station, None);
                station.budget.remove(column);
                station.smooth.figures.remove(&column);
            } else if FLAGGED.contains(&column) {
                given.push((column, deviation));
            }
        }
        if withheld.iter().any(|(column, _)| *column == StationColumn::ChordM) {
            station.outline = None;
            station.smooth.outline = None;
        }
        if !(given.is_empty() && withheld.is_empty()) {
            // Before the flags of single blades.
            station.flags.insert(0, Flag::UnlikeBlades { given, withheld });
        }
    }
}

/// Standard deviation of a figure over the blades, and the part of the uncertainty of their mean that their own do not explain. `None` where they explain it.
fn spread(radius_m: f64, column: StationColumn, blades: &[Vec<Station>]) -> Option<(f64, f64)> {
    let at = |stations: &Vec<Station>| {
        let station = crate::mean::same_station(stations, radius_m)?;
        Some((column.get(station)?, station.unshared_u(column)?))
    };
    let (values, u): (Vec<f64>, Vec<f64>) = blades.iter().filter_map(at).unzip();
    if values.len() < 2 {
        return None;
    }
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let stated = root_sum_square(&u) / n.sqrt();
    let deviation = variance.sqrt();
    if !(0.0 < stated && BEYOND_STATED * stated < deviation) {
        return None;
    }
    let chi_square = (n - 1.0) * variance / (stated * stated);
    (BEYOND_CHANCE < normal_deviate(chi_square, n - 1.0))
        .then(|| (deviation, ((variance - stated * stated) / n).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mean_of;
    use bladeform_quantity::Measured;

    fn blades(chords: &[f64]) -> Vec<Vec<Station>> {
        let station = |&chord: &f64| {
            let mut s = Station::at(0.5, 1.0);
            StationColumn::ChordM.set_measured(&mut s, Some(Measured::new(chord, 1e-4)));
            vec![s]
        };
        chords.iter().map(station).collect()
    }

    #[test]
    fn the_spread_enters_the_uncertainty_of_the_mean() {
        let blades = blades(&[0.100, 0.104, 0.100]);
        let mut mean = mean_of(&blades);
        add_spread_of_blades(&mut mean, &blades);
        // Standard deviation of 0, 4, 0 mm: 4 / sqrt 3 mm; of the mean of three: 4/3 mm.
        assert!(mean[0].u.chord_m.is_some_and(|u| (u - 4e-3 / 3.0).abs() < 1e-6), "{:?}", mean[0].u.chord_m);
        assert!(
            mean[0].flags[0].text().starts_with("unlike-blades: ")
                && mean[0].flags[0].sentence().contains("chord (standard deviation 2.3 mm)")
        );
    }

    #[test]
    fn no_mean_is_given_of_blades_that_have_little_in_common() {
        let blades = blades(&[0.100, 0.150]);
        let mut mean = mean_of(&blades);
        add_spread_of_blades(&mut mean, &blades);
        assert_eq!((mean[0].chord_m, mean[0].u.chord_m), (None, None));
        assert!(mean[0].flags[0].sentence().contains("no mean is given"), "{}", mean[0].flags[0]);
    }

    #[test]
    fn blades_within_their_uncertainties_are_alike() {
        let blades = blades(&[0.1000, 0.1002, 0.0999]);
        let mut mean = mean_of(&blades);
        let before = mean.clone();
        add_spread_of_blades(&mut mean, &blades);
        assert_eq!(mean, before);
    }
}
