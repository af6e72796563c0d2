//! Plane sections of the root, from its end or the hub to the first station: as the scan shows them, whatever their form.

use std::f64::consts::TAU;

use bladeform_mesh::{CleanMesh, cut};
use bladeform_section::{area, convex_hull};
use bladeform_table::{RootSection, SectionOutline, Station};

use super::slices::main_loop;
use crate::station::ToTable;

/// Sections at most: their distance is then a thirtieth of the root, finer than its form changes (a judgement).
const MOST_SECTIONS: usize = 32;
/// Sections lie no closer than this fraction of the blade's length: a scan shows little between them.
const LEAST_STEP: f64 = 0.004;
/// The innermost section lies this fraction of their distance from the end, so that the form of the end is met.
const FROM_END: f64 = 0.15;
/// But not closer to the end than this fraction of the blade's length: the rim of an end is ragged in a scan.
const LEAST_FROM_END: f64 = 0.002;
/// Points of an outline. A circle of so many means loses 0.01 % of its area.
const POINTS: usize = 180;
/// Samples for the mean over one part of an outline.
const SAMPLES: usize = 8;

/// Sections between the inner end and the first station that has an outline, in the axes of the table. `mesh`: in right-handed span axes, file units; `end`: the root
/// end or where the blade leaves the hub, and the tip; `turn`: by which the table turns angles, rad.
pub(crate) fn root_sections(
    mesh: &CleanMesh,
    end: (f64, f64),
    stations: &[Station],
    to: &ToTable,
    turn: f64,
) -> Vec<RootSection> {
    let k = to.metres_per_unit;
    let Some(first) = stations.iter().find(|s| !s.is_refused() && s.outline.is_some()) else {
        return Vec::new();
    };
    let first = (first.radius_m - to.radius_at_origin_m) / k;
    let places = places(end, first);
    let (sin, cos) = turn.sin_cos();
    cut(mesh, [0.0, 0.0, 1.0], &places)
        .iter()
        .filter_map(|plane| {
            let main = main_loop(plane)?;
            let body = if main.closed { main.points } else { convex_hull(&main.points) };
            let mut points = thinned(&body)?;
            if area(&points) < 0.0 {
                points.reverse();
            }
            let placed: Vec<_> = points
                .iter()
                .map(|p| [k * (cos * p[0] - sin * p[1]), k * (sin * p[0] + cos * p[1])])
                .collect();
            let radius_m = to.radius_at_origin_m + k * plane.offset;
            (0.0 < radius_m).then(|| RootSection {
                radius_m,
                closed: main.closed,
                outline: SectionOutline::from_points(&placed),
                ..RootSection::default()
            })
        })
        .collect()
}

/// Where sections are cut, rising.
fn places((end, tip): (f64, f64), first: f64) -> Vec<f64> {
    let (length, room) = (tip - end, first - end);
    let count = ((room / (LEAST_STEP * length)) as usize).min(MOST_SECTIONS);
    if count == 0 {
        return Vec::new();
    }
    let step = room / count as f64;
    let innermost = (FROM_END * step).max(LEAST_FROM_END * length);
    let even = (0..count).map(|i| (i as f64 + 0.5) * step);
    let near = Some(innermost).filter(|z| *z < 0.4 * step);
    near.into_iter().chain(even).map(|z| end + z).collect()
}

/// Means over equal parts of the length of a closed outline; `None` if it has no extent.
fn thinned(outline: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
    let after = |i: usize| outline[(i + 1) % outline.len()];
    let mut along = vec![0.0];
    for (i, p) in outline.iter().enumerate() {
        let q = after(i);
        along.push(along[i] + (q[0] - p[0]).hypot(q[1] - p[1]));
    }
    let whole = along[outline.len()];
    if !(0.0 < whole && whole.is_finite()) {
        return None;
    }
    let at = |s: f64| {
        let i = along.partition_point(|&a| a <= s).clamp(1, outline.len()) - 1;
        let share = (s - along[i]) / (along[i + 1] - along[i]).max(f64::MIN_POSITIVE);
        let (p, q) = (outline[i], after(i));
        [p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1])]
    };
    let part = whole / POINTS as f64;
    let mean = |i: usize| {
        let sum = (0..SAMPLES)
            .map(|j| at(part * (i as f64 + (j as f64 + 0.5) / SAMPLES as f64)))
            .fold([0.0; 2], |sum, p| [sum[0] + p[0], sum[1] + p[1]]);
        sum.map(|x| x / SAMPLES as f64)
    };
    let made: Vec<_> = (0..POINTS).map(mean).collect();
    let found = area(&made).abs();
    (1e-3 * whole * whole / (2.0 * TAU) < found).then_some(made)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn a_thinned_circle_keeps_its_area_and_a_line_is_no_outline() {
        let circle: Vec<[f64; 2]> =
            (0..1000).map(|i| f64::from(i) * TAU / 1000.0).map(|t| [3.0 + t.cos(), t.sin()]).collect();
        let made = thinned(&circle).unwrap();
        assert_eq!(made.len(), POINTS);
        assert!((area(&made) / PI - 1.0).abs() < 6e-4, "{}", area(&made) / PI);
        assert_eq!(thinned(&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]]), None);
    }

    #[test]
    fn places_rise_and_lie_between_the_end_and_the_first_station() {
        for first in [0.105, 0.15, 0.4] {
            let places = places((0.1, 1.3), first);
            assert!(places.windows(2).all(|w| w[0] < w[1]), "{places:?}");
            assert!(places.iter().all(|z| (0.1..first).contains(z)), "{places:?}");
        }
        assert!(places((0.1, 1.3), 0.101).is_empty());
        assert_eq!(places((0.1, 1.3), 0.4).len(), MOST_SECTIONS + 1);
    }
}
