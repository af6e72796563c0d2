//! Edges that were not scanned: the surface ends in an open rim, and its two sides say how far the edge can lie beyond it.

use bladeform_section::SectionFit;

use super::points::SpanPoint;
use super::slices::{MainLoop, Slice};

/// An open rim in place of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Rim {
    /// Distance of the two sides at the end of the outline, chords.
    pub(crate) width: f64,
    /// How far beyond that end the sides would meet, chords; `None` where they do not close within [`MOST_BEYOND`].
    pub(crate) beyond: Option<f64>,
}

/// The two sides are taken as straight over this part of the chord next to the rim: less shows no slope through noise, more is bent.
const STRAIGHT: f64 = 0.03;
/// And over at least so many distances of neighbouring scan points, so that a line has points.
const STRAIGHT_SPACINGS: f64 = 3.0;
/// Fewer points on a side give no slope: a line has two parameters, and as many more check it.
const LEAST_POINTS: usize = 6;
/// An edge farther than this beyond the rim, chords, is not extrapolated: the sides are bent over such a distance (a judgement).
const MOST_BEYOND: f64 = 0.1;
/// A loose end within this fraction of the distance of neighbouring points from the last point of the cut is that point: its triangle was cut beside a corner.
const SAME_POINT: f64 = 0.5;

/// Whether the surface ends in an open rim at the nose and at the tail of a cut or of the quick sections within `reach` of it: a band of triangles without an edge
/// leaves single ones that close it. `spacing`: of neighbouring scan points.
pub(super) fn open_ends(
    cut: (&MainLoop, f64),
    slices: &[Slice],
    along: [f64; 2],
    (spacing, reach): (f64, f64),
) -> [bool; 2] {
    let mut open = open_at(cut.0, along, SAME_POINT * spacing);
    for near in slices.iter().filter(|s| (s.z - cut.1).abs() < reach) {
        open = [open[0] || near.open[0], open[1] || near.open[1]];
    }
    open
}

/// Whether the last points of a cut against and along a direction are loose ends, or as near to one as `reach`.
pub(super) fn open_at(cut: &MainLoop, along: [f64; 2], reach: f64) -> [bool; 2] {
    let x = |p: &[f64; 2]| p[0] * along[0] + p[1] * along[1];
    let last =
        |points: &[[f64; 2]], sign: f64| points.iter().map(|p| sign * x(p)).fold(f64::NEG_INFINITY, f64::max);
    [-1.0, 1.0].map(|sign| last(&cut.points, sign) - reach <= last(&cut.loose, sign))
}

/// The rims of an outline fitted to `points` at the open ends. `spacing`: distance of neighbouring scan points, chords.
pub(super) fn rims(
    points: &[SpanPoint],
    fit: &SectionFit,
    open: [bool; 2],
    spacing: f64,
) -> [Option<Rim>; 2] {
    let ends = [fit.shape.leading_edge()[0], fit.shape.trailing_edge()[0]];
    let part = STRAIGHT.max(STRAIGHT_SPACINGS * spacing);
    std::array::from_fn(|k| {
        let inwards = |p: &SpanPoint| if k == 0 { p.1[0] - ends[0] } else { ends[1] - p.1[0] };
        let near = || points.iter().filter(|p| (0.0..part).contains(&inwards(p)));
        let side = |sign: f64| {
            line(
                near().filter(|p| 0.0 < sign * p.2[1]).map(|p| [inwards(p), p.1[1]]),
                fit.quality.correlation,
            )
        };
        open[k].then(|| rim(side(1.0), side(-1.0)))
    })
}

fn rim(back: Option<Line>, face: Option<Line>) -> Rim {
    let Some((back, face)) = back.zip(face) else { return Rim { width: 0.0, beyond: None } };
    let width = (back.at_end - face.at_end).max(0.0);
    // The least slope at the level of two standard uncertainties: the sides may close that slowly.
    let slope = back.slope - face.slope - 2.0 * back.slope_u.hypot(face.slope_u);
    let beyond = (0.0 < slope).then_some(width / slope).filter(|beyond| *beyond <= MOST_BEYOND);
    Rim { width, beyond }
}

/// A straight line through the points of one side, by least squares.
struct Line {
    at_end: f64,
    slope: f64,
    slope_u: f64,
}

/// `together`: how many neighbouring points count as one.
fn line(points: impl Iterator<Item = [f64; 2]> + Clone, together: f64) -> Option<Line> {
    let n = points.clone().count();
    if n < LEAST_POINTS {
        return None;
    }
    let mean = |k: usize| points.clone().map(|p| p[k]).sum::<f64>() / n as f64;
    let (mx, my) = (mean(0), mean(1));
    let sxx: f64 = points.clone().map(|p| (p[0] - mx).powi(2)).sum();
    let sxy: f64 = points.clone().map(|p| (p[0] - mx) * (p[1] - my)).sum();
    if sxx <= 0.0 {
        return None;
    }
    let slope = sxy / sxx;
    let rest: f64 = points.map(|p| (p[1] - my - slope * (p[0] - mx)).powi(2)).sum();
    let slope_u = (together.max(1.0) * rest / (n - 2) as f64 / sxx).sqrt();
    Some(Line { at_end: my - slope * mx, slope, slope_u })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(offset: f64, slope: f64) -> Option<Line> {
        line((0..20).map(|k| f64::from(k) / 1000.0).map(|x| [x, offset + slope * x]), 1.0)
    }

    #[test]
    fn the_sides_of_a_wedge_meet_at_its_edge() {
        // Half slopes of 0.1 and 0.1 with 0.006 between them: 0.03 farther out.
        let found = rim(side(0.003, 0.1), side(-0.003, -0.1));
        assert!((found.width - 0.006).abs() < 1e-12 && (found.beyond.unwrap() - 0.03).abs() < 1e-9);
        // Parallel sides meet nowhere, and a slow wedge too far out.
        assert_eq!(rim(side(0.003, 0.0), side(-0.003, 0.0)).beyond, None);
        assert_eq!(rim(side(0.03, 0.1), side(-0.03, -0.1)).beyond, None);
    }

    #[test]
    fn an_end_is_open_where_the_last_point_is_a_loose_end() {
        let cut = |loose: Vec<[f64; 2]>| MainLoop {
            points: vec![[0.0, 0.0], [50.0, 5.0], [100.0, 1.0], [99.0, -1.0]],
            closed: loose.is_empty(),
            gap: 0.0,
            gaps: 1,
            loose,
            others: 0,
            others_share: 0.0,
        };
        let open = |loose| open_at(&cut(loose), [1.0, 0.0], 0.5);
        assert_eq!(open(vec![]), [false, false]);
        assert_eq!(open(vec![[100.0, 1.0], [99.0, -1.0]]), [false, true]);
        // A hole in a side leaves both edges.
        assert_eq!(open(vec![[40.0, 5.0], [60.0, 5.0]]), [false, false]);
    }
}
