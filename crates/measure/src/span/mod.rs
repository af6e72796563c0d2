//! All stations of a blade together: how far their figures scatter about a smooth blade, and the smooth blade's own figures.
//!
//! The points of one band cannot show an error of the surface that is longer than the band: the section follows it. The figures of many stations can, because a
//! blade is smooth along its span and such an error is not.

mod kriging;
mod unlike;

use std::collections::BTreeMap;

use bladeform_numeric::parallel;
use bladeform_quantity::{Measured, root_sum_square};
use bladeform_table::{
    BladeRows, ColumnUnit, Flag, Station, StationColumn, UncertaintySource, departures_from_smooth,
};

use crate::band::fit::Found;
use crate::joint::{SmoothSection, smooth_blade};
use crate::notice::UnlikeBlade;
use crate::station::{MOSTLY_MISSING, ToTable, lacks_an_edge};
use crate::vector::{NORMAL_MAD, median};

use self::kriging::{LEAST_READINGS, Reading, Smoothed, smoothed};
pub(crate) use self::unlike::{Around, unlike_blades};

/// The figures that are judged.
const JUDGED: [StationColumn; 14] = [
    StationColumn::ChordM,
    StationColumn::LongestChordM,
    StationColumn::ThicknessM,
    StationColumn::AreaM2,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::LongestChordAngleDeg,
    StationColumn::ThicknessRatio,
    StationColumn::ThicknessPosition,
    StationColumn::CamberRatio,
    StationColumn::CamberPosition,
    StationColumn::MidChordXM,
    StationColumn::MidChordYM,
    StationColumn::TrailingEdgeThicknessM,
];
/// An uncertainty below this part of the figures' root mean square is rounding.
const LEAST_RELATIVE_U: f64 = 1e-7;

/// Radii this close, in tip radii, are one place: its figure is counted once.
const SAME_PLACE: f64 = 1e-6;

/// What the comparison with a smooth blade gives.
pub(crate) struct Judged {
    /// How much greater the scatter of the thickness is than the fits alone state: the part of the errors of the surface that their points do not show. At least 1.
    pub(crate) excess: f64,
}

/// Compares the stations of a blade with a smooth one and replaces the part of their uncertainty that comes from the scan by what their scatter shows.
/// `found`: what was found at the stations.
pub(crate) fn judge(stations: &mut [Station], found: &[Found], to: &ToTable) -> Judged {
    let in_hole: Vec<bool> = found.iter().map(lacks_an_edge).collect();
    let apart = apart(stations);
    let of_all = |apart: &[bool]| -> Vec<Vec<Option<Smoothed>>> {
        parallel::map(&JUDGED, |&column| judged(stations, &in_hole, apart, column, to.tip_radius_m))
    };
    // What stands apart says how far figures scatter, but nothing of the smooth blade.
    let all = of_all(&vec![false; stations.len()]);
    let of_sound = if apart.contains(&true) { of_all(&apart) } else { all.clone() };
    let (mut scatter, mut stated) = (0.0, 0.0);
    for ((column, found), smooth) in JUDGED.iter().zip(&all).zip(&of_sound) {
        for ((s, found), smooth) in stations.iter_mut().zip(found).zip(smooth) {
            let own = s.budget.part(*column, UncertaintySource::Scan);
            if let Some(found) = found {
                if *column == StationColumn::ThicknessM {
                    (scatter, stated) = (scatter + found.scatter * found.scatter, stated + own * own);
                }
                let u = found.scatter.max(least_u(*column, own));
                s.replace_uncertainty(*column, UncertaintySource::Scan, u);
            }
            if let Some(smooth) = smooth
                && smooth.value.is_finite()
                && !matches!(column, StationColumn::MidChordXM | StationColumn::MidChordYM)
            {
                // The neighbours of such a width are off by the same: they make it no more certain.
                let u = smooth.u.max(least_u(*column, own));
                s.smooth.figures.insert(*column, Measured::new(smooth.value, u));
            }
        }
    }
    let surface = &smooth_blade(found, &apart, to, |column, k| {
        let of_column = &of_sound[JUDGED.iter().position(|c| *c == column)?];
        Some(of_column[k]?.scatter)
    });
    for column in JUDGED.into_iter().filter(|column| is_by_surface(*column)) {
        take_from_surface(stations, surface, column);
    }
    for (s, section) in stations.iter_mut().zip(surface) {
        if let Some(section) =
            section.as_ref().filter(|_| s.smooth.figures.contains_key(&StationColumn::ChordM))
        {
            s.smooth.outline.clone_from(&section.figures.outline);
        }
    }
    let excess = if 0.0 < stated { (scatter / stated).sqrt().clamp(1.0, MOST_EXCESS) } else { 1.0 };
    Judged { excess }
}

/// The least of a figure's uncertainty: a width that cannot be negative does not scatter evenly about a smooth blade, and what its own fit states stays the least.
fn least_u(column: StationColumn, own: f64) -> f64 {
    if column == StationColumn::TrailingEdgeThicknessM { own } else { 0.0 }
}

/// Nearer than this part of the measured span to its ends, what departs is taken for the blade's own form: the transition to the shank, the tip (chosen).
const ENDS: f64 = 0.15;

/// Stations that depart from the curve through the others, away from the ends of the blade: a dent, a repair. They have no part in the smooth blade, which bridges them.
fn apart(stations: &[Station]) -> Vec<bool> {
    let radii: Vec<f64> = stations.iter().filter(|s| s.chord_m.is_some()).map(|s| s.radius_m).collect();
    let [low, high] = radii.iter().fold([f64::INFINITY, 0.0], |[l, h], r| [r.min(l), r.max(h)]);
    let end = ENDS * (high - low);
    let mut apart = vec![false; stations.len()];
    for d in departures_from_smooth(stations) {
        let radius_m = stations[d.station].radius_m;
        if radius_m < low + end || high - end < radius_m {
            continue;
        }
        let same = |s: &Station| (s.radius_m - radius_m).abs() < SAME_PLACE * radius_m;
        stations.iter().zip(&mut apart).filter(|(s, _)| same(s)).for_each(|(_, apart)| *apart = true);
    }
    apart
}

/// Whether the blade as one surface gives a judged figure. A place along the chord, or the width of a thin tail, is more certain from the stations' own figures: the flat top of a thickness or a mean
/// line moves with every ripple of one section (`study photographed`, nine scans: error of the position of the greatest camber 0.013 by the figures, 0.029 by the surface).
const fn is_by_surface(column: StationColumn) -> bool {
    !matches!(
        column,
        StationColumn::ThicknessPosition
            | StationColumn::CamberPosition
            | StationColumn::MidChordXM
            | StationColumn::MidChordYM
            | StationColumn::TrailingEdgeThicknessM
    )
}

/// Puts the figures of the blade as one surface in the place of those through the stations' own figures. Their uncertainty is that of the latter, which knows errors longer than a band, or that
/// of the equations times as much as the latter is usually greater: where an edge was not scanned, or a station departs, the equations say how little the neighbours know of it.
fn take_from_surface(stations: &mut [Station], surface: &[Option<SmoothSection>], column: StationColumn) {
    let of_surface = |s: &Option<SmoothSection>| {
        let figures = &s.as_ref()?.figures;
        Some(Measured::new(column.get(figures)?, column.u(figures).unwrap_or(0.0)))
    };
    let mut ratios: Vec<f64> = stations
        .iter()
        .zip(surface)
        .filter_map(|(s, section)| {
            let u = of_surface(section)?.u;
            (0.0 < u).then_some(s.smooth.figures.get(&column)?.u / u)
        })
        .collect();
    if ratios.is_empty() {
        return;
    }
    let ratio = median(&mut ratios).max(1.0);
    for (s, section) in stations.iter_mut().zip(surface) {
        let Some(on_surface) = of_surface(section) else {
            s.smooth.figures.remove(&column);
            continue;
        };
        let u = ratio * on_surface.u;
        match s.smooth.figures.get_mut(&column) {
            Some(own) => *own = Measured::new(on_surface.value, own.u.max(u)),
            None if section.as_ref().is_some_and(|s| s.bridges) => {
                s.smooth.figures.insert(column, Measured::new(on_surface.value, u));
            }
            None => {}
        }
    }
}

/// Greatest factor by which errors that the points do not show are believed to exceed those that they show.
const MOST_EXCESS: f64 = 50.0;

/// A broken blade with too few stations for [`judge`] gets the part of the uncertainty that comes from the scan from the blades that have enough, where it is greater than its own: one scan shows them all.
pub(crate) fn judge_by_others(blades: &mut [BladeRows]) {
    for column in JUDGED {
        let has = |b: &BladeRows| b.stations.iter().filter(|s| column.get(s).is_some()).count();
        let (judged, few): (Vec<usize>, Vec<usize>) =
            (0..blades.len()).partition(|&k| LEAST_READINGS <= has(&blades[k]));
        for &k in &few {
            for i in 0..blades[k].stations.len() {
                let parts: Vec<f64> = judged
                    .iter()
                    .filter_map(|&j| blades[j].stations.get(i))
                    .filter(|s| column.get(s).is_some())
                    .map(|s| s.budget.part(column, UncertaintySource::Scan))
                    .collect();
                let others = root_sum_square(&parts) / (parts.len().max(1) as f64).sqrt();
                let s = &mut blades[k].stations[i];
                if s.budget.part(column, UncertaintySource::Scan) < others {
                    s.replace_uncertainty(column, UncertaintySource::Scan, others);
                }
            }
        }
    }
}

/// Raises the uncertainty of the blades of a propeller to their scatter: they are repeats of one another, so a figure that differs between them by more than it should is less certain than its
/// station states. The scatter is pooled over all stations (type A evaluation, JCGM 100:2008, 4.2.4). A blade that truly differs is no repeat: `unlike` ones, counted from 1, have no part in the scatter.
/// Returns by how much the part that blades do not share was multiplied, where it was.
pub(crate) fn raise_to_scatter(
    blades: &mut [BladeRows],
    unlike: &[UnlikeBlade],
) -> BTreeMap<StationColumn, f64> {
    let mut raised = BTreeMap::new();
    let is_like = |k: &usize| unlike.iter().all(|u| u.blade != k + 1);
    let alike: Vec<usize> = (0..blades.len()).filter(is_like).collect();
    // Of two blades neither is the odd one: only what no scan does to a figure is then taken for their own.
    let (alike, most) = match alike.len() {
        0 | 1 => ((0..blades.len()).collect(), MOST_BY_SCAN),
        _ => (alike, f64::INFINITY),
    };
    let Some(count) = blades.first().map(|b| b.stations.len()).filter(|_| 1 < alike.len()) else {
        return raised;
    };
    for column in JUDGED {
        let (mut scatter, mut stated) = (0.0, 0.0);
        for k in 0..count {
            let all: Option<Vec<(f64, f64)>> = alike
                .iter()
                .map(|&b| {
                    blades[b].stations.get(k).and_then(|s| Some((column.get(s)?, s.unshared_u(column)?)))
                })
                .collect();
            let Some(all) = all else { continue };
            let n = all.len() as f64;
            let mean = all.iter().map(|a| a.0).sum::<f64>() / n;
            scatter += all.iter().map(|a| (a.0 - mean).powi(2)).sum::<f64>() / (n - 1.0);
            stated += all.iter().map(|a| a.1 * a.1).sum::<f64>() / n;
        }
        if stated < scatter && scatter < most * most * stated {
            let more = (scatter / stated - 1.0).sqrt();
            raised.insert(column, (scatter / stated).sqrt());
            for s in blades.iter_mut().flat_map(|b| &mut b.stations) {
                if let Some(own) = s.unshared_u(column) {
                    s.add_uncertainty(column, UncertaintySource::Scan, more * own);
                }
            }
        }
    }
    raised
}

/// Scatter of two unlike blades, over what they state, up to which it is believed to be that of the scan: the limit from which a difference is said.
const MOST_BY_SCAN: f64 = 6.0;

/// `in_hole`: stations without an edge, whose figures say nothing about the errors of the others; `apart`: those that have no part in the smooth blade.
fn judged(
    stations: &[Station],
    in_hole: &[bool],
    apart: &[bool],
    column: StationColumn,
    tip_radius_m: f64,
) -> Vec<Option<Smoothed>> {
    let mut readings = Vec::new();
    let mut whole = Vec::new();
    let mut sound = Vec::new();
    let mut at = vec![None; stations.len()];
    for (((place, s), in_hole), apart) in at.iter_mut().zip(stations).zip(in_hole).zip(apart) {
        let (Some(value), Some(chord_m)) = (column.get(s), s.chord_m) else { continue };
        let lever = match column.unit() {
            ColumnUnit::Metre => 1.0,
            ColumnUnit::SquareMetre => chord_m,
            _ => 1.0 / chord_m,
        };
        if let Some(same) =
            readings.iter().position(|r: &Reading| (r.z - s.radius_m).abs() < SAME_PLACE * tip_radius_m)
        {
            *place = Some(same);
            continue;
        }
        *place = Some(readings.len());
        whole.push(!in_hole);
        sound.push(!apart);
        // The chord of a rounded tip falls as the square root of the distance from it, which is straight in this abscissa.
        let x = -(1.0 - s.radius_m / tip_radius_m).max(0.0).sqrt();
        readings.push(Reading {
            z: s.radius_m,
            x,
            value,
            u: s.budget.part(column, UncertaintySource::Scan),
            lever,
        });
    }
    if readings.len() < LEAST_READINGS {
        return vec![None; stations.len()];
    }
    // Neighbours along the span follow one another.
    let mut order: Vec<usize> = (0..readings.len()).collect();
    order.sort_by(|&i, &j| readings[i].z.total_cmp(&readings[j].z));
    let mut place = vec![0; order.len()];
    order.iter().enumerate().for_each(|(k, &i)| place[i] = k);
    at.iter_mut().flatten().for_each(|k| *k = place[*k]);
    let whole: Vec<bool> = order.iter().map(|&i| whole[i]).collect();
    let sound: Vec<bool> = order.iter().map(|&i| sound[i]).collect();
    let mut readings: Vec<Reading> = order.into_iter().map(|i| readings[i]).collect();
    let rms = (readings.iter().map(|r| r.value * r.value).sum::<f64>() / readings.len() as f64).sqrt();
    readings.iter_mut().for_each(|r| r.u = r.u.max(LEAST_RELATIVE_U * rms).max(f64::MIN_POSITIVE));
    let mut usual = usual(&readings, &sound);
    if LEAST_READINGS <= usual.iter().zip(&whole).filter(|(usual, whole)| **usual && **whole).count() {
        usual.iter_mut().zip(&whole).for_each(|(usual, whole)| *usual &= whole);
    }
    let kept: Vec<Reading> =
        readings.iter().zip(&usual).filter(|(_, usual)| **usual).map(|(r, _)| *r).collect();
    let Some(found) = smoothed(&kept) else { return vec![None; stations.len()] };
    // Elsewhere the errors of the surface are as much greater than the fit states as they are here.
    let mut ratios: Vec<f64> = kept.iter().zip(&found).map(|(r, f)| f.scatter / r.u).collect();
    let ratio = median(&mut ratios).max(1.0);
    let mut found = found.into_iter();
    let all: Vec<Option<Smoothed>> = readings
        .iter()
        .zip(&usual)
        .map(|(r, usual)| {
            if *usual {
                found.next()
            } else {
                Some(Smoothed { value: f64::NAN, u: f64::NAN, scatter: ratio * r.u })
            }
        })
        .collect();
    at.into_iter().map(|k| all[k?]).collect()
}

/// A reading departs from the line through its neighbours by more than this many usual departures (median absolute ones, as a standard deviation): a transition to the shank, a dent, a repair.
const UNUSUAL: f64 = 4.0;
/// Which readings belong to a smooth blade: not those where the blade itself changes quickly, which would pass for errors everywhere. Those that are not `sound` do not, and are nobody's neighbours.
fn usual(readings: &[Reading], sound: &[bool]) -> Vec<bool> {
    let of_blade: Vec<usize> = (0..readings.len()).filter(|&i| sound[i]).collect();
    let mut usual = vec![false; readings.len()];
    let Some(last) = of_blade.len().checked_sub(1).filter(|last| 2 <= *last) else { return usual };
    let off = |k: usize| {
        let [a, b, c] = [k - 1, k, k + 1].map(|k| &readings[of_blade[k]]);
        b.value - a.value - (c.value - a.value) * (b.x - a.x) / (c.x - a.x)
    };
    let offs: Vec<f64> = (1..last).map(off).collect();
    let middle = median(&mut offs.clone());
    let spread = NORMAL_MAD * median(&mut offs.iter().map(|d| (d - middle).abs()).collect::<Vec<_>>());
    let fits = |k: usize| (offs[k - 1] - middle).abs() <= UNUSUAL * spread.max(readings[of_blade[k]].u);
    (0..=last).for_each(|k| usual[of_blade[k]] = fits(k.clamp(1, last - 1)));
    usual
}

/// What the edges themselves usually leave uncertain, by column: the median over the stations whose edges were scanned.
pub(crate) fn usual_edges(stations: &[Station]) -> BTreeMap<StationColumn, f64> {
    let whole: Vec<&Station> = stations.iter().filter(|s| !lacks_edge(s) && s.chord_m.is_some()).collect();
    let of = |column: StationColumn| {
        let mut parts: Vec<f64> =
            whole.iter().map(|s| s.budget.part(column, UncertaintySource::Edge)).collect();
        (!parts.is_empty()).then(|| (column, median(&mut parts)))
    };
    JUDGED.into_iter().filter_map(of).collect()
}

/// Whether an edge of the station was not scanned.
fn lacks_edge(s: &Station) -> bool {
    s.flags.iter().any(|f| matches!(f.code(), "gap-at-nose" | "gap-at-tail" | "nose-missing"))
}

/// Whether the smooth blade has an edge of the station from its neighbours: a gap that leaves a part of the band with its nose is no such case, and what it leaves uncertain stays.
fn has_edge_from_neighbours(s: &Station) -> bool {
    s.flags.iter().any(|f| match f {
        Flag::EdgeNotScanned { .. } | Flag::GapAtTail { .. } => true,
        Flag::NoseMissing { fraction } => MOSTLY_MISSING < *fraction,
        _ => false,
    })
}

/// Adds to the smooth blade what its stations have in common: everything but the noise of the scan and the reading at the reference station, which the smooth blade replaces.
/// `usual_edges`: what an edge leaves uncertain where it was scanned. Where it was not, the smooth blade has it from the neighbours.
pub(crate) fn complete_smooth(s: &mut Station, usual_edges: &BTreeMap<StationColumn, f64>) {
    let mut smooth = std::mem::take(&mut s.smooth);
    let bridges = has_edge_from_neighbours(s);
    for (column, own) in &mut smooth.figures {
        let bridged = bridges && is_by_surface(*column);
        let common = s.budget.of(*column).filter_map(|(source, part)| match source {
            UncertaintySource::Scan | UncertaintySource::Misfit | UncertaintySource::Reference => None,
            UncertaintySource::Edge if bridged => Some(part.min(*usual_edges.get(column).unwrap_or(&part))),
            _ => Some(part),
        });
        own.u = common.fold(own.u, f64::hypot);
    }
    s.smooth = smooth;
}
