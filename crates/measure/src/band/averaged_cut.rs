//! The mean of a few plane cuts around a station, measured by the definitions alone: for sections that the outline model does not follow.

use bladeform_mesh::cut;
use bladeform_section::{
    Departure, FIGURE_COUNT, Figure, Figures, SectionFit, area, centroid, convex_hull, face_line_angle,
    figures, longest_chord, outline_figures, perimeter,
};

use super::blade::LocalBlade;
use super::chord_frame::ChordFrame;
use super::fit::{Found, Outcome};
use super::slices::main_loop;

/// Planes of the mean, and the half width of the range in which they lie, chords: the band of an ordinary fit.
const PLANES: usize = 9;
const HALF_RANGE: f64 = 0.05;
/// Fewest planes whose outline is closed.
const LEAST_PLANES: usize = 5;
/// Neighbouring planes share triangles: this many count as one.
const PLANES_AS_ONE: f64 = 2.0;
/// Points of either side of the mean outline.
const N_SIDE: usize = 200;
/// An edge departs from the outline model if its scan lies off, in the mean over neighbouring points, by this multiple of the sides' residual, and by this part of the chord.
const MANY_RESIDUALS: f64 = 4.0;
const LEAST_DEPARTURE: f64 = 2e-3;
/// Departures below this part of the triangles' edge come from triangles that cut the part's own edge.
const PART_OF_SPACING: f64 = 0.2;
/// The outline model does not follow a blade where this part of its stations departs: fewer are dents.
const MOST: f64 = 0.5;

/// A section measured on the mean of plane cuts.
#[derive(Debug, Clone)]
pub(crate) struct AveragedCut {
    /// Figures in the chord frame of the station, chords and rad, with the standard uncertainty that the scatter between the cuts shows.
    pub(crate) figures: Figures,
    /// The mean outline, chords, anticlockwise.
    pub(crate) outline: Vec<[f64; 2]>,
    /// Root mean square distance of the cuts from their mean, chords.
    pub(crate) rms: f64,
    /// How many cuts.
    pub(crate) cuts: usize,
    /// Corners of all cuts.
    pub(crate) points: usize,
}

/// Replaces the fits of a blade whose edges do not follow the outline model, or that is thickest at an edge, by means of plane cuts.
pub(crate) fn measure_by_cuts(blade: &LocalBlade, found: &mut [Found]) {
    // A coarse mesh cuts the edges of any section.
    let fits: Vec<bool> = found
        .iter()
        .filter(|f| !f.evidence.is_coarse)
        .filter_map(|f| if let Outcome::Fitted(fit) = &f.outcome { Some(edges_depart(fit, f)) } else { None })
        .collect();
    let departing = fits.iter().filter(|departs| **departs).count();
    if fits.is_empty() || departing as f64 <= MOST * fits.len() as f64 {
        return;
    }
    for f in found {
        if matches!(f.outcome, Outcome::Fitted(_))
            && !f.evidence.is_coarse
            && let Some(cut) = blade.averaged_cut(f.z)
        {
            f.outcome = Outcome::Cut(Box::new(cut));
        }
    }
}

fn edges_depart(fit: &SectionFit, found: &Found) -> bool {
    let [back, face, nose, tail] = &fit.quality.departures;
    let sides = back.rms.max(face.rms);
    let departs = |edge: &Departure| {
        let least = LEAST_DEPARTURE.max(PART_OF_SPACING * found.spacing / found.chord);
        (MANY_RESIDUALS * sides).max(least) < edge.largest.abs() && 0 < edge.points
    };
    departs(nose) || departs(tail) || is_thickest_at_an_edge(fit)
}

/// Whether the fitted outline is thickest within one thickness of an end: at a square edge the model overshoots beside the corner, where hardly a point lies.
fn is_thickest_at_an_edge(fit: &SectionFit) -> bool {
    let figures = figures(&fit.shape);
    let (thickness, place) =
        (figures.value(Figure::ThicknessRatio), figures.value(Figure::ThicknessPosition));
    place < thickness || 1.0 - thickness < place
}

impl LocalBlade {
    /// The mean of the cuts around a place along the span. `None` where too few of them are closed, or have no mean line.
    fn averaged_cut(&self, z: f64) -> Option<AveragedCut> {
        let frame = ChordFrame::through(&self.slices, self.span, z)?;
        let chord = frame.at(z).2;
        let half = (HALF_RANGE * chord).min(0.8 * (self.span.1 - z).min(z - self.span.0));
        let place = |k: usize| z + half * (2.0 * k as f64 / (PLANES - 1) as f64 - 1.0);
        let places: Vec<f64> = (0..PLANES).map(place).collect();
        let loops: Vec<Vec<[f64; 2]>> = cut(&self.mesh, [0.0, 0.0, 1.0], &places)
            .iter()
            .filter_map(|plane| {
                let found = main_loop(plane).filter(|found| found.closed)?;
                Some(in_chord_frame(&frame, plane.offset, &found.points))
            })
            .collect();
        let resampled: Vec<Vec<[f64; 2]>> = loops.iter().filter_map(|points| resampled(points)).collect();
        if resampled.len() < LEAST_PLANES {
            return None;
        }
        let n = resampled.len() as f64;
        let count = 2 * N_SIDE;
        let mean_without = |left_out: Option<usize>| -> Vec<[f64; 2]> {
            let of = || resampled.iter().enumerate().filter(|(j, _)| Some(*j) != left_out);
            let m = of().count() as f64;
            (0..count)
                .map(|i| [0, 1].map(|k| of().map(|(_, points)| points[i][k]).sum::<f64>() / m))
                .collect()
        };
        let outline = mean_without(None);
        let mut figures = outline_figures(&outline, 0).ok()?;
        let each: Vec<Figures> =
            (0..resampled.len()).filter_map(|j| outline_figures(&mean_without(Some(j)), 0).ok()).collect();
        if each.len() < LEAST_PLANES {
            return None;
        }
        for k in 0..FIGURE_COUNT {
            figures.u[k] = jackknife(each.iter().map(|f| f.values[k])) * PLANES_AS_ONE.sqrt();
        }
        let apart = |points: &Vec<[f64; 2]>| {
            points
                .iter()
                .zip(&outline)
                .map(|(p, q)| (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2))
                .sum::<f64>()
        };
        let square = resampled.iter().map(apart).sum::<f64>() / (n * count as f64);
        let finite = |figure: Figure| figures.value(figure).is_finite();
        let sound = [Figure::Chord, Figure::Angle, Figure::FaceAngle, Figure::Area].into_iter().all(finite);
        let points = loops.iter().map(Vec::len).sum();
        sound.then(|| AveragedCut { figures, outline, rms: square.sqrt(), cuts: resampled.len(), points })
    }
}

/// A figure of the fit that the plane cut of the same station contradicts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct CutCheck {
    pub(crate) figure: Figure,
    /// Cut minus fit, chords or rad.
    pub(crate) difference: f64,
    /// Standard uncertainty of that.
    pub(crate) u: f64,
}

/// A difference is reported from this many standard uncertainties on: one cut shows single nicks and the noise of a few points.
const CONTRADICTED: f64 = 4.0;

/// The greatest contradiction, in standard uncertainties, between a fit and the closed cut of its own plane; `None` without one. Compared is what a noisy cut shows as well as a fit does: area, longest
/// chord and face line. A mean line through one noisy cut is not better than degrees. `spacing` and `kernel`: of the scan, chords.
pub(super) fn contradicted(
    fit: &SectionFit,
    frame: &ChordFrame,
    z: f64,
    points: &[[f64; 2]],
    [spacing, kernel]: [f64; 2],
) -> Option<CutCheck> {
    let seen = fit.seen.as_ref().unwrap_or(&fit.shape);
    let (own, stated) = (figures(seen), fit.figures());
    let outline = in_chord_frame(frame, z, points);
    let (a, b) = longest_chord(&convex_hull(&outline))?;
    // A cut follows the noise of single points; it ends at the last triangles.
    let noise = fit.quality.rms.max(LEAST_OF_CUT);
    let end = noise.hypot(0.5 * spacing).hypot(kernel);
    let two = std::f64::consts::SQRT_2;
    let longest = (b[0] - a[0]).hypot(b[1] - a[1]);
    let compared = [
        (Figure::Area, Some(area(&outline)), two * noise),
        (Figure::LongestChord, Some(longest), two * end),
        (Figure::FaceAngle, face_line(&outline), two * noise / FACE_PART),
    ];
    compared
        .into_iter()
        .filter_map(|(figure, cut, of_cut)| {
            let u = stated.u(figure).hypot(of_cut);
            Some(CutCheck { figure, difference: cut? - own.value(figure), u })
        })
        .filter(|check| CONTRADICTED * check.u < check.difference.abs())
        .max_by(|a, b| (a.difference.abs() / a.u).total_cmp(&(b.difference.abs() / b.u)))
}

/// The polygon of a cut is not compared more closely than this, chords.
const LEAST_OF_CUT: f64 = 3e-4;
/// Part of the chord over which the face line is fitted.
const FACE_PART: f64 = 0.6;

/// Places along the chord at which the face is read: corners of a thinned mesh are uneven and would weigh a curved face unevenly.
const FACE_PLACES: usize = 60;

/// Angle of the face line in the chord frame, rad.
fn face_line(outline: &[[f64; 2]]) -> Option<f64> {
    let n = outline.len();
    let mut lowest = [f64::INFINITY; FACE_PLACES];
    let place = |k: usize| 0.3 + FACE_PART * (k as f64 + 0.5) / FACE_PLACES as f64;
    for i in 0..n {
        let (a, b) = (outline[i], outline[(i + 1) % n]);
        let (from, to) = (a[0].min(b[0]), a[0].max(b[0]));
        let first = ((from - 0.3) / FACE_PART * FACE_PLACES as f64 - 0.5).ceil().max(0.0) as usize;
        for k in (first..FACE_PLACES).take_while(|k| place(*k) < to) {
            let y = a[1] + (b[1] - a[1]) * (place(k) - a[0]) / (b[0] - a[0]);
            lowest[k] = lowest[k].min(y);
        }
    }
    let face: Vec<[f64; 2]> =
        (0..FACE_PLACES).filter(|k| lowest[*k].is_finite()).map(|k| [place(k), lowest[k]]).collect();
    face_line_angle(&face, 1.0)
}

/// Standard error of an estimate from its values with one observation left out each time (B. Efron, "The jackknife, the bootstrap and other resampling plans", SIAM, 1982, chapter 3). One noisy cut has
/// no sound mean line, so the scatter between single cuts would say more about noise than about their mean.
fn jackknife(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    ((n - 1.0) / n * values.map(|v| (v - mean).powi(2)).sum::<f64>()).sqrt()
}

/// A cut in the chord frame of its own place, chords, anticlockwise.
fn in_chord_frame(frame: &ChordFrame, z: f64, points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let (leading, along, chord) = frame.at(z);
    let back = [along[1], -along[0]];
    let mut local: Vec<[f64; 2]> = points
        .iter()
        .map(|p| [p[0] - leading[0], p[1] - leading[1]])
        .map(|d| [along, back].map(|axis| (d[0] * axis[0] + d[1] * axis[1]) / chord))
        .collect();
    if area(&local) < 0.0 {
        local.reverse();
    }
    local
}

/// Points at even distances along the face, from the nose to the tail, and back along the back. Nose and tail are where a line along the chord through the centroid leaves the outline, so
/// that they do not jump between the corners of a square edge. `None` where it does not cross.
fn resampled(points: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
    let n = points.len();
    // The line between the middles of both ends, found in two rounds from the level of the centroid.
    let level = centroid(points)[1];
    let mut line = [level, 0.0];
    let mut ends = None;
    for _ in 0..3 {
        let height = |p: [f64; 2]| p[1] - line[0] - line[1] * p[0];
        let crossings: Vec<(usize, [f64; 2])> = (0..n)
            .filter_map(|i| {
                let (a, b) = (points[i], points[(i + 1) % n]);
                let (ha, hb) = (height(a), height(b));
                ((ha < 0.0) != (hb < 0.0)).then(|| {
                    let t = ha / (ha - hb);
                    (i, [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])])
                })
            })
            .collect();
        let nose = *crossings.iter().min_by(|a, b| a.1[0].total_cmp(&b.1[0]))?;
        let tail = *crossings.iter().max_by(|a, b| a.1[0].total_cmp(&b.1[0]))?;
        ends = Some((nose, tail));
        // The outer hundredth of each end has its middle where back and face are equally far.
        let middle = |from: f64, to: f64| {
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            for p in points.iter().filter(|p| (from..=to).contains(&p[0])) {
                (low, high) = (low.min(p[1]), high.max(p[1]));
            }
            0.5 * (low + high)
        };
        let (x0, x1) = (nose.1[0], tail.1[0]);
        let reach = END_PART * (x1 - x0);
        let (y0, y1) = (middle(x0 - reach, x0 + reach), middle(x1 - reach, x1 + reach));
        if !(y0.is_finite() && y1.is_finite() && x0 < x1) {
            break;
        }
        let slope = (y1 - y0) / (x1 - x0);
        line = [y0 - slope * x0, slope];
    }
    let ((i, nose), (j, tail)) = ends?;
    let chain = |from: usize, begin: [f64; 2], to: usize, end: [f64; 2]| {
        let count = (to + n - from) % n;
        let inner = (1..=count).map(|k| points[(from + k) % n]);
        std::iter::once(begin).chain(inner).chain(std::iter::once(end)).collect::<Vec<_>>()
    };
    let (face, back) = (chain(i, nose, j, tail), chain(j, tail, i, nose));
    Some([even(&face), even(&back)].concat())
}

/// The part of the chord at each end whose middle is taken.
const END_PART: f64 = 0.01;

/// Points at even distances along a chain, without its last one.
fn even(chain: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let closing = chain.first().zip(chain.last()).map_or(0.0, |(a, b)| (b[0] - a[0]).hypot(b[1] - a[1]));
    let length = perimeter(chain) - closing;
    let side = |i: usize| (chain[i + 1][0] - chain[i][0]).hypot(chain[i + 1][1] - chain[i][1]);
    let (mut i, mut begin) = (0, 0.0);
    (0..N_SIDE)
        .map(|k| {
            let s = length * k as f64 / N_SIDE as f64;
            while i + 2 < chain.len() && begin + side(i) < s {
                begin += side(i);
                i += 1;
            }
            let t = ((s - begin) / side(i).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
            [0, 1].map(|axis| chain[i][axis] + t * (chain[i + 1][axis] - chain[i][axis]))
        })
        .collect()
}
