//! The mean of several blades, and the difference of each blade from it.

use crate::budget::mean_uncertainty;
use crate::{
    BladeDifference, BladeDifferenceUncertainty, BladeRows, Flag, Map, SectionOutline, SmoothFigures,
    Spanwise, Station, StationColumn,
};
use bladeform_quantity::{Measured, root_sum_square};

/// Relative tolerance of the radius within which stations of two blades are the same station.
const SAME_RADIUS_RELATIVE: f64 = 1e-6;

/// The mean table of several blades, column by column.
///
/// The radii are those of the blade with the most stations. The uncertainties of the blades are combined as independent,
/// `sqrt(sum u^2) / n`, except for the common parts of a budget. A mean has no uncertainty if one of its parts has none. A figure that some blades lack is
/// the mean of those present, and is flagged. Outlines are averaged point by point if all have the same number of points. The numbers of points
/// are added. Flags are those of the blades with the prefix `blade k: `, counted from 1. A scale error common to all blades
/// is left to the caller. Angles are averaged as plain numbers.
#[must_use]
pub fn mean_of(blades: &[Vec<Station>]) -> Vec<Station> {
    let Some(longest) = blades.iter().max_by_key(|stations| stations.len()) else { return Vec::new() };
    longest.iter().map(|station| mean_station(station, blades)).collect()
}

/// The difference of each blade from the mean of all. `mean` is the result of [`mean_of`] for their stations, `radius_m` is the tip radius.
///
/// A blade is part of the mean with which it is compared, and the uncertainties take that into account. Errors of the stations of
/// one blade are taken as fully correlated, which is conservative. The track is the axial position of the mid-chord, extrapolated to
/// the tip. A difference without figures is `None`.
#[must_use]
pub fn blade_differences(blades: &[BladeRows], mean: &[Station], radius_m: f64) -> Vec<BladeDifference> {
    let all: Vec<&[Station]> = blades.iter().map(|blade| blade.stations.as_slice()).collect();
    let tips: Vec<Option<Measured>> = all.iter().map(|stations| tip_y(stations, radius_m)).collect();
    let difference = |(k, blade): (usize, &BladeRows)| {
        let angle = mean_difference(&all, k, mean, StationColumn::BladeAngleDeg);
        let chord = mean_difference(&all, k, mean, StationColumn::ChordM);
        let track = from_mean(&tips, k);
        BladeDifference {
            index: blade.index,
            mean_blade_angle_difference_deg: angle.map(|m| m.value),
            mean_chord_difference_m: chord.map(|m| m.value),
            track_m: track.map(|m| m.value),
            u: BladeDifferenceUncertainty {
                mean_blade_angle_difference_deg: angle.map(|m| m.u),
                mean_chord_difference_m: chord.map(|m| m.u),
                track_m: track.map(|m| m.u),
                extra: Map::new(),
            },
            extra: Map::new(),
        }
    };
    blades.iter().enumerate().map(difference).collect()
}

pub(crate) fn same_station(stations: &[Station], radius_m: f64) -> Option<&Station> {
    stations.iter().find(|station| (station.radius_m - radius_m).abs() <= SAME_RADIUS_RELATIVE * radius_m)
}

fn mean_station(place: &Station, blades: &[Vec<Station>]) -> Station {
    let parts: Vec<Option<&Station>> =
        blades.iter().map(|stations| same_station(stations, place.radius_m)).collect();
    let present: Vec<&Station> = parts.iter().copied().flatten().collect();
    let mut mean =
        Station { radius_m: place.radius_m, radius_ratio: place.radius_ratio, ..Station::default() };
    let mut not_all = Vec::new();
    for column in StationColumn::FIGURES {
        let having: Vec<&Station> = present.iter().copied().filter(|s| column.get(s).is_some()).collect();
        column.set(&mut mean, mean_value(*column, &having));
        if let Some((u, parts)) = mean_uncertainty(*column, &having) {
            column.set_u(&mut mean, Some(u));
            parts.into_iter().for_each(|(source, u)| mean.budget.set(*column, source, u));
        }
        if !having.is_empty() && having.len() < blades.len() {
            not_all.push(column.key());
        }
    }
    if present.len() == blades.len() {
        mean.smooth = SmoothFigures::mean(&present);
    }
    mean.points = sum(present.iter().map(|s| s.points));
    mean.residual_rms_m = joint_residual_m(&present);
    mean.outline = mean_outline(&present, blades.len());
    mean.flags = merged_flags(&parts, not_all, blades.len());
    mean
}

fn mean_value(column: StationColumn, having: &[&Station]) -> Option<f64> {
    let sum: f64 = having.iter().filter_map(|s| column.get(s)).sum();
    (!having.is_empty()).then(|| sum / having.len() as f64)
}

/// The sum of the parts present. `None` without any.
fn sum(parts: impl Iterator<Item = Option<f64>>) -> Option<f64> {
    parts.flatten().reduce(|a, b| a + b)
}

/// The root mean square over all points of all blades. `None` if one blade does not state both figures.
fn joint_residual_m(present: &[&Station]) -> Option<f64> {
    let pairs: Vec<(f64, f64)> =
        present.iter().map(|s| Some((s.points?, s.residual_rms_m?))).collect::<Option<_>>()?;
    let points: f64 = pairs.iter().map(|(points, _)| points).sum();
    let squares: f64 = pairs.iter().map(|(points, rms)| points * rms * rms).sum();
    (points > 0.0).then(|| (squares / points).sqrt())
}

fn mean_outline(present: &[&Station], blades: usize) -> Option<SectionOutline> {
    let outlines: Vec<&SectionOutline> = present.iter().map(|s| s.outline.as_ref()).collect::<Option<_>>()?;
    if outlines.len() < blades {
        return None;
    }
    mean_of_outlines(&outlines)
}

/// The mean of outlines corner by corner; `None` where they have not equally many.
pub(crate) fn mean_of_outlines(outlines: &[&SectionOutline]) -> Option<SectionOutline> {
    let points = outlines.first()?.len();
    if outlines.iter().any(|outline| outline.len() != points) {
        return None;
    }
    let mean = |coords: fn(&SectionOutline) -> &[f64]| {
        let at =
            |k: usize| outlines.iter().map(|outline| coords(outline)[k]).sum::<f64>() / outlines.len() as f64;
        (0..points).map(at).collect()
    };
    Some(SectionOutline { x: mean(|outline| &outline.x), y: mean(|outline| &outline.y), extra: Map::new() })
}

fn merged_flags(parts: &[Option<&Station>], not_all: Vec<&'static str>, blades: usize) -> Vec<Flag> {
    let all_refused = parts.iter().all(|part| part.is_none_or(Station::is_refused));
    let refusal = all_refused.then(|| Flag::Refused { reason: "no blade could be measured here".to_owned() });
    let some = (!not_all.is_empty()).then_some(Flag::MeanOfSome { keys: not_all, blades });
    let of_blade = |(k, part): (usize, &Option<&Station>)| {
        let flags = part.map_or(&[][..], |station| &station.flags);
        flags
            .iter()
            .map(move |flag| Flag::OfBlade { index: k + 1, flag: Box::new(flag.clone()) })
            .collect::<Vec<_>>()
    };
    refusal.into_iter().chain(some).chain(parts.iter().enumerate().flat_map(of_blade)).collect()
}

fn mean_difference(
    blades: &[&[Station]],
    k: usize,
    mean: &[Station],
    column: StationColumn,
) -> Option<Measured> {
    let at_station = |place: &Station| {
        let figures: Vec<Option<Measured>> = blades
            .iter()
            .map(|stations| {
                let station = same_station(stations, place.radius_m)?;
                // Common parts of the uncertainty cancel in a difference.
                Some(Measured::new(column.get(station)?, station.unshared_u(column).unwrap_or(0.0)))
            })
            .collect();
        from_mean(&figures, k)
    };
    let differences: Vec<Measured> = mean.iter().filter_map(at_station).collect();
    let n = differences.len() as f64;
    let value = differences.iter().map(|m| m.value).sum::<f64>() / n;
    let u = differences.iter().map(|m| m.u).sum::<f64>() / n;
    (!differences.is_empty()).then(|| Measured::new(value, u))
}

/// Part `k` minus the mean of all parts present, including itself. `None` if it is the only one or missing.
fn from_mean(parts: &[Option<Measured>], k: usize) -> Option<Measured> {
    let own = (*parts.get(k)?)?;
    let others: Vec<Measured> =
        parts.iter().enumerate().filter(|(j, _)| *j != k).filter_map(|(_, part)| *part).collect();
    if others.is_empty() {
        return None;
    }
    let n = others.len() as f64 + 1.0;
    let mean = (own.value + others.iter().map(|m| m.value).sum::<f64>()) / n;
    let own_part = own.u * (n - 1.0) / n;
    let other_parts = others.iter().map(|m| m.u / n);
    let u = root_sum_square(&other_parts.chain([own_part]).collect::<Vec<_>>());
    Some(Measured::new(own.value - mean, u))
}

fn tip_y(stations: &[Station], radius_m: f64) -> Option<Measured> {
    Spanwise::of(stations, StationColumn::MidChordYM).map(|curve| curve.value_at(radius_m).measured)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn station(radius_m: f64, chord_m: f64, angle_deg: f64) -> Station {
        let mut station = Station::at(radius_m, 1.0);
        StationColumn::ChordM.set_measured(&mut station, Some(Measured::new(chord_m, 0.003)));
        StationColumn::BladeAngleDeg.set_measured(&mut station, Some(Measured::new(angle_deg, 0.4)));
        StationColumn::MidChordYM.set_measured(&mut station, Some(Measured::new(0.01 * angle_deg, 0.001)));
        station.outline =
            Some(SectionOutline::from_points(&[[0.0, 0.0], [chord_m, 0.0], [0.5 * chord_m, 0.1 * chord_m]]));
        (station.points, station.residual_rms_m) = (Some(100.0), Some(1e-4));
        station
    }

    fn close(a: Option<f64>, b: f64) -> bool {
        a.is_some_and(|a| (a - b).abs() < 1e-12)
    }

    #[test]
    fn figures_uncertainties_and_outlines_are_averaged() {
        let blades = [vec![station(0.5, 0.10, 30.0)], vec![station(0.5, 0.12, 32.0)]];
        let mean = &mean_of(&blades)[0];
        assert!(close(mean.chord_m, 0.11) && close(mean.blade_angle_deg, 31.0));
        assert!(close(mean.u.chord_m, 0.003 / 2.0_f64.sqrt()));
        assert!(close(mean.points, 200.0) && close(mean.residual_rms_m, 1e-4));
        assert_eq!(mean.outline.as_ref().map(|o| (o.x[1], o.len())), Some((0.11, 3)));
        assert_eq!((mean.face_angle_deg, mean.flags.len()), (None, 0));
    }

    #[test]
    fn a_figure_that_one_blade_lacks_is_flagged_with_what_that_blade_says() {
        let refused = Station::refused(0.5, 1.0, "the cut is open");
        let blades = [vec![station(0.5, 0.10, 30.0)], vec![refused.clone()], vec![station(0.5, 0.12, 32.0)]];
        let mean = &mean_of(&blades)[0];
        assert!(close(mean.chord_m, 0.11) && mean.outline.is_none() && !mean.is_refused());
        let texts: Vec<String> = mean.flags.iter().map(Flag::text).collect();
        assert!(
            texts[0].starts_with("mean-of-some: not all 3 blades have chord, blade angle"),
            "{}",
            texts[0]
        );
        assert_eq!(texts[1], "blade 2: refused: the cut is open");
        let none = &mean_of(&[vec![refused.clone()], vec![refused]])[0];
        assert!(none.is_refused() && none.chord_m.is_none());
    }

    #[test]
    fn a_station_that_one_blade_does_not_have_is_still_there() {
        let blades =
            [vec![station(0.5, 0.10, 30.0)], vec![station(0.5, 0.12, 32.0), station(0.7, 0.08, 25.0)]];
        let mean = mean_of(&blades);
        assert_eq!(mean.len(), 2);
        assert!(close(mean[1].chord_m, 0.08) && mean[1].flags[0].code() == "mean-of-some");
        assert!(mean_of(&[]).is_empty());
    }

    #[test]
    fn differences_are_from_the_mean_and_add_up_to_nothing() {
        let rows = |index, shift: f64| BladeRows {
            index,
            stations: vec![station(0.5, 0.1, 30.0 + shift), station(0.8, 0.08, 22.0 + shift)],
            ..BladeRows::default()
        };
        let blades = [rows(1, 0.3), rows(2, -0.3)];
        let stations: Vec<Vec<Station>> = blades.iter().map(|b| b.stations.clone()).collect();
        let differences = blade_differences(&blades, &mean_of(&stations), 1.0);
        assert!(close(differences[0].mean_blade_angle_difference_deg, 0.3));
        assert!(close(differences[1].mean_blade_angle_difference_deg, -0.3));
        assert!(close(differences[0].u.mean_blade_angle_difference_deg, 0.4 / 2.0_f64.sqrt()));
        assert!(close(differences[0].mean_chord_difference_m, 0.0) && close(differences[0].track_m, 0.003));
        assert_eq!(blade_differences(&blades[..1], &stations[0], 1.0)[0].track_m, None);
    }
}
