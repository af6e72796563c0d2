//! Quick sections all along the span: the first idea of edges, sides and hand, from convex hulls and centroids alone.

use bladeform_mesh::{CleanMesh, PlaneCut, cut};
use bladeform_numeric::parallel;
use bladeform_section::{area, centroid, convex_hull, longest_chord};

use super::rim::open_at;
use crate::frame::axes::length;
use crate::vector::{Axes, dot, median};

/// One quick section in span axes, file units.
#[derive(Debug, Clone)]
pub(crate) struct Slice {
    pub(crate) z: f64,
    /// Corners of the convex hull.
    pub(crate) hull: Vec<[f64; 2]>,
    /// Area inside the outline (of the hull where the outline is open).
    pub(crate) area: f64,
    pub(crate) centroid: [f64; 2],
    /// Whether the outline is closed: the centroid of one with a hole is that of its hull.
    pub(crate) closed: bool,
    /// Ends of the longest chord, turned alike along the blade; the first is the leading edge once [`Edges`] have been found.
    pub(crate) ends: [[f64; 2]; 2],
    /// Whether the outline is there at each end: a hole at an edge shows itself by a loose end of the outline.
    pub(crate) seen: [bool; 2],
    /// Whether the outline ends in an open rim at each end.
    pub(crate) open: [bool; 2],
    /// The same ends, an edge in an open rim replaced by the middle of the rim: a corner of the rim lies off the mean line.
    pub(crate) middles: [[f64; 2]; 2],
    /// Least width of the hull over its longest chord.
    pub(crate) flatness: f64,
}

/// The part of a cut that belongs to the blade: the largest closed loop, or all open chains together where they are larger.
pub(crate) struct MainLoop {
    pub(crate) points: Vec<[f64; 2]>,
    pub(crate) closed: bool,
    /// Straight distance between the loose ends, file units, and how many gaps.
    pub(crate) gap: f64,
    pub(crate) gaps: usize,
    /// Ends of the open chains.
    pub(crate) loose: Vec<[f64; 2]>,
    /// Other loops and their area as a share of the main one's.
    pub(crate) others: usize,
    pub(crate) others_share: f64,
}

/// A loose end of the outline this near an end of the longest chord, in chords, means that the edge itself is missing.
const LOOSE_REACH: f64 = 0.05;
/// Chains shorter than this share of the longest are scraps of the hole's rim or of noise.
const SCRAP: f64 = 0.02;

pub(crate) fn main_loop(plane: &PlaneCut) -> Option<MainLoop> {
    let flat = |points: &[[f64; 3]]| points.iter().map(|p| [p[0], p[1]]).collect::<Vec<_>>();
    let longest = plane.chains.iter().map(|c| c.length()).fold(0.0, f64::max);
    let kept: Vec<_> = plane.chains.iter().filter(|c| SCRAP * longest < c.length()).collect();
    let closed =
        kept.iter().filter(|c| c.closed).map(|c| flat(&c.points)).max_by(|a, b| size(a).total_cmp(&size(b)));
    let open: Vec<_> = kept.iter().filter(|c| !c.closed).collect();
    let chains: Vec<[f64; 2]> = open.iter().flat_map(|c| flat(&c.points)).collect();
    let use_closed = closed.as_ref().is_some_and(|c| size(&chains) <= size(c));
    let points = if use_closed { closed? } else { chains };
    if points.len() < 3 {
        return None;
    }
    let main = area(&convex_hull(&points)).max(f64::MIN_POSITIVE);
    let loops: Vec<_> = kept.iter().filter(|c| c.closed).map(|c| area(&flat(&c.points)).abs()).collect();
    let others = loops.len() - usize::from(use_closed);
    let left_out = loops.iter().sum::<f64>() - if use_closed { area(&points).abs() } else { 0.0 };
    let gap = if use_closed { 0.0 } else { open.iter().map(|c| gap_of(&c.points)).sum() };
    let gaps = if use_closed { 0 } else { open.len() };
    let loose = if use_closed {
        vec![]
    } else {
        open.iter()
            .flat_map(|c| [c.points.first(), c.points.last()])
            .flatten()
            .map(|p| [p[0], p[1]])
            .collect()
    };
    Some(MainLoop {
        closed: use_closed,
        points,
        gap,
        gaps,
        loose,
        others,
        others_share: (left_out / main).max(0.0),
    })
}

fn gap_of(points: &[[f64; 3]]) -> f64 {
    match (points.first(), points.last()) {
        (Some(a), Some(b)) => (b[0] - a[0]).hypot(b[1] - a[1]),
        _ => 0.0,
    }
}

fn size(points: &[[f64; 2]]) -> f64 {
    let range = |k: usize| {
        let (low, high) =
            points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])));
        (high - low).max(0.0)
    };
    range(0).hypot(range(1))
}

/// Quick sections at the given places along the span; places without one are left out.
pub(crate) fn slices(mesh: &CleanMesh, places: &[f64]) -> Vec<Slice> {
    found_in(&cut(mesh, [0.0, 0.0, 1.0], places))
}

/// The same of a mesh in other coordinates, whose span axes are given: only what is cut is brought into them.
pub(crate) fn slices_along(mesh: &CleanMesh, axes: &Axes, places: &[f64]) -> Vec<Slice> {
    let span = axes.rows[2];
    let from = dot(span, axes.origin);
    let offsets: Vec<f64> = places.iter().map(|z| from + z).collect();
    let mut cuts = cut(mesh, span, &offsets);
    for (plane, z) in cuts.iter_mut().zip(places) {
        plane.offset = *z;
        for p in plane.chains.iter_mut().flat_map(|c| &mut c.points) {
            *p = axes.local(*p);
        }
    }
    found_in(&cuts)
}

fn found_in(cuts: &[PlaneCut]) -> Vec<Slice> {
    let slices = parallel::map(cuts, |plane| slice_of(plane.offset, &main_loop(plane)?));
    let mut found: Vec<_> = slices.into_iter().flatten().collect();
    turn_alike(&mut found);
    found
}

fn slice_of(z: f64, main: &MainLoop) -> Option<Slice> {
    let hull = convex_hull(&main.points);
    let (a, b) = longest_chord(&hull)?;
    let body = if main.closed { &main.points } else { &hull };
    let chord = (b[0] - a[0]).hypot(b[1] - a[1]);
    let flatness = least_width(&hull) / chord.max(f64::MIN_POSITIVE);
    if chord <= 0.0 {
        return None;
    }
    let (area, centroid) = (area(body).abs(), centroid(body));
    let near =
        |end: [f64; 2]| main.loose.iter().any(|p| (p[0] - end[0]).hypot(p[1] - end[1]) < LOOSE_REACH * chord);
    let seen = [a, b].map(|end| !near(end));
    let middles = [a, b].map(|end| if near(end) { middle_of_rim(&main.loose, end, chord) } else { end });
    let along = [(b[0] - a[0]) / chord, (b[1] - a[1]) / chord];
    let open = open_at(main, along, AT_RIM * chord);
    Some(Slice { z, area, centroid, closed: main.closed, ends: [a, b], seen, open, middles, flatness, hull })
}

/// A loose end this near the last point of a section, in chords, is its end: corners of a cut lie closer together than that only in a rim.
const AT_RIM: f64 = 0.003;
/// A rim is no wider than this, chords: sections are thinner where an edge is missing.
const WIDEST_RIM: f64 = 0.15;

/// Middle of the open rim whose loose ends lie nearest to an end of the longest chord.
fn middle_of_rim(loose: &[[f64; 2]], end: [f64; 2], chord: f64) -> [f64; 2] {
    let off = |p: &[f64; 2]| (p[0] - end[0]).hypot(p[1] - end[1]);
    let mut near: Vec<[f64; 2]> = loose.iter().copied().filter(|p| off(p) < WIDEST_RIM * chord).collect();
    near.sort_by(|a, b| off(a).total_cmp(&off(b)));
    match near[..] {
        [a, b, ..] => [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])],
        _ => end,
    }
}

/// Least distance between two parallel lines that hold the hull between them: one of them lies on a side.
fn least_width(hull: &[[f64; 2]]) -> f64 {
    (0..hull.len())
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = d[0].hypot(d[1]);
            hull.iter()
                .map(|p| ((p[0] - a[0]) * d[1] - (p[1] - a[1]) * d[0]).abs() / length)
                .fold(0.0, f64::max)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Slices on each side of one that tell the usual length and direction there.
const AROUND: usize = 6;
/// A chord shorter than this part of the usual one is that of a piece: a hole or a tear has cut the section.
const PIECE: f64 = 0.7;
/// Cosine of twice the angle, 30 degrees, by which the chord of a whole section may lie off the usual direction.
const ALIKE: f64 = 0.5;

/// Turns the chords so that neighbours agree, beginning at the longest. The chord of a piece of a section may lie anywhere: the others follow one another first, and each piece then its nearest.
fn turn_alike(slices: &mut [Slice]) {
    let whole: Vec<bool> = (0..slices.len()).map(|i| is_whole(slices, i)).collect();
    let Some(start) = (0..slices.len())
        .filter(|&i| whole[i])
        .max_by(|&a, &b| length(&slices[a]).total_cmp(&length(&slices[b])))
    else {
        return;
    };
    let mut last = start;
    for i in (0..start).rev() {
        turn_like(slices, i, last);
        last = if whole[i] { i } else { last };
    }
    last = start;
    for i in start + 1..slices.len() {
        turn_like(slices, i, last);
        last = if whole[i] { i } else { last };
    }
    // The ends of a piece are no edges.
    slices.iter_mut().zip(whole).filter(|(_, whole)| !whole).for_each(|(s, _)| s.seen = [false; 2]);
}

/// Whether the chord of a slice has the usual length and direction of its neighbours.
fn is_whole(slices: &[Slice], i: usize) -> bool {
    // As many on each side: a chord that falls steadily towards the tip is its own median.
    let reach = AROUND.min(i).min(slices.len() - 1 - i);
    let near = &slices[i - reach..=i + reach];
    let usual = median(&mut near.iter().map(length).collect::<Vec<_>>());
    // A direction and its opposite are one: twice its angle tells them alike.
    let double = |s: &Slice| {
        let (x, y) = (s.ends[1][0] - s.ends[0][0], s.ends[1][1] - s.ends[0][1]);
        let square = (x * x + y * y).max(f64::MIN_POSITIVE);
        [(x * x - y * y) / square, 2.0 * x * y / square]
    };
    let direction = [0, 1].map(|k| median(&mut near.iter().map(|s| double(s)[k]).collect::<Vec<_>>()));
    let own = double(&slices[i]);
    let size = direction[0].hypot(direction[1]);
    PIECE * usual <= length(&slices[i]) && ALIKE * size <= own[0] * direction[0] + own[1] * direction[1]
}

fn turn_like(slices: &mut [Slice], i: usize, neighbour: usize) {
    let (a, b) = (slices[i].ends, slices[neighbour].ends);
    if (a[1][0] - a[0][0]) * (b[1][0] - b[0][0]) + (a[1][1] - a[0][1]) * (b[1][1] - b[0][1]) < 0.0 {
        slices[i].ends.swap(0, 1);
        slices[i].seen.swap(0, 1);
        slices[i].middles.swap(0, 1);
        slices[i].open.swap(0, 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A section with its chord of the given length at an angle, deg.
    fn slice(z: f64, chord: f64, angle_deg: f64) -> Slice {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        let half = [0.5 * chord * cos, 0.5 * chord * sin];
        Slice {
            z,
            hull: vec![],
            area: 0.0,
            centroid: [0.0; 2],
            closed: true,
            ends: [half.map(|v| -v), half],
            seen: [true; 2],
            open: [false; 2],
            middles: [half.map(|v| -v), half],
            flatness: 0.1,
        }
    }

    #[test]
    fn pieces_of_torn_sections_do_not_turn_those_beyond_them() {
        // A twist of one degree from slice to slice; in three torn ones the longest chord is that of a piece and lies anywhere.
        let mut all: Vec<Slice> = (0..30)
            .map(|k| match k {
                18 => slice(18.0, 0.5, 70.0),
                19 => slice(19.0, 0.4, 150.0),
                20 => slice(20.0, 0.5, 215.0),
                k => slice(f64::from(k), 1.0 - 0.01 * f64::from(k), 40.0 - f64::from(k)),
            })
            .collect();
        turn_alike(&mut all);
        for (k, s) in all.iter().enumerate() {
            let torn = (18..=20).contains(&k);
            assert!(torn || 0.0 < s.ends[1][0], "slice {k} was turned");
            assert_eq!(s.seen, [!torn; 2], "slice {k}");
        }
    }

    #[test]
    fn a_chord_that_falls_towards_a_round_tip_is_no_piece() {
        let mut all: Vec<Slice> =
            (0..40).map(|k| slice(f64::from(k), (1.0 - f64::from(k) / 40.0).sqrt(), 20.0)).collect();
        turn_alike(&mut all);
        assert!(all.iter().all(|s| s.seen == [true; 2]));
    }
}
