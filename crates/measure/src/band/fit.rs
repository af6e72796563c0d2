//! Fits one station: the points of a band around it give one outline, or the reason why there is none.

use bladeform_mesh::PlaneCut;
use bladeform_section::{
    BandPoint, Figure, Figures, FitError, FitSettings, RadialFit, SectionFit, figures, fit_radial,
    fit_section,
};

use super::averaged_cut::{AveragedCut, CutCheck, contradicted};
use super::blade::{LocalBlade, is_point};
use crate::station::lacks_an_edge;

use super::chord_frame::{ChordFrame, SectionFrame};
use super::points::SpanPoint;
use super::refusal::Refusal;
use super::rim::{Rim, open_ends, rims};
use super::slices::{MainLoop, main_loop};

/// Half width of the band, chords: wide enough for some thousand points, narrow enough that sections change straight within it.
const HALF_BAND: f64 = 0.10;
/// Half of the band as a fraction of the radius at most: on a blade as wide as its radius, twist and curvature would change within a tenth of the chord more than a straight course follows.
const MOST_OF_RADIUS: f64 = 0.05;
/// Noise, chords, to which that width suits.
const NOISE_OF_BAND: f64 = 7e-4;
/// Least fraction of that width, for scans without noise: narrower bands have too few points.
const LEAST_FRACTION: f64 = 0.3;
/// A band that need not be narrower than this fraction is not fitted again: the gain is not worth the time.
const WORTH_NARROWING: f64 = 0.7;
/// A band ends before this fraction of the distance to the nearer end of the span, so that the rounding of the end stays out. Towards a rounded tip the chord goes as the root of the distance: a band that
/// reaches to 0.8 of it makes the thickness of screws 0.06 mm too small at 0.95 R, and twice the error of chord and pitch (`docs/decisions/006-band-and-ends-of-the-fit.md`).
const SHORT_OF_END: f64 = 0.5;
/// Half width of the band of a nearly circular section, widths, and at least so many edges of triangles: a ring of points.
const ROUND_HALF_BAND: f64 = 0.1;
const ROUND_HALF_BAND_EDGES: f64 = 2.0;
/// Most points a station is fitted to: more do not lower the uncertainty visibly, but cost time.
const MOST_POINTS: usize = 24_000;
/// Fewest points before triangles are sampled in place of their corners.
pub(super) const FEWEST_POINTS: usize = 400;
/// What the outline model itself may miss, chords.
const MODEL_ERROR: f64 = 5e-4;
/// A quick section with at least this least width over its longest chord is nearly a circle.
const NEARLY_ROUND: f64 = 0.80;

/// A station measured in span axes, before scale and setting.
#[derive(Debug, Clone)]
pub(crate) struct Found {
    pub(crate) z: f64,
    /// Angle of the provisional chord line in span axes, rad, and its length in file units.
    pub(crate) angle: f64,
    pub(crate) chord: f64,
    pub(crate) leading: [f64; 2],
    pub(crate) along: [f64; 2],
    /// The chord frame at either end of the band of a fitted outline.
    pub(crate) band_ends: [SectionFrame; 2],
    /// Standard deviation of the kernel that smoothed the surface, file units.
    pub(crate) kernel: f64,
    /// Its relative standard uncertainty.
    pub(crate) kernel_u: f64,
    /// Distance of neighbouring scan points, file units.
    pub(crate) spacing: f64,
    pub(crate) outcome: Outcome,
    pub(crate) evidence: Evidence,
    /// Gaps of an open cut: how many, their length in file units, and their share of the outline.
    pub(crate) gap: Option<(usize, f64, f64)>,
    /// Width, file units, of a gap that has taken the trailing edge from the cut.
    pub(crate) tail_gap: Option<f64>,
    /// The points of the band where it lacks an edge, to be compared with an outline that has it; else empty.
    pub(crate) points: Vec<BandPoint>,
}

/// What was unusual about the points near a station.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Evidence {
    /// Closed loops of the cut, and the area of those left out as a fraction of that of the greatest.
    pub(crate) loops: Option<(usize, f64)>,
    /// Whether triangles had to be sampled, since the band has too few corners.
    pub(crate) is_coarse: bool,
    /// What the plane cut contradicts.
    pub(crate) contradicted: Option<CutCheck>,
    /// Points off the outline as a fraction of all points, if they are reported.
    pub(crate) stray: Option<f64>,
    /// Open rims in place of leading and trailing edge.
    pub(crate) rims: [Option<Rim>; 2],
}

#[derive(Debug, Clone)]
pub(crate) enum Outcome {
    Fitted(Box<SectionFit>),
    Round(RadialFit, usize),
    /// Measured on the mean of plane cuts, since the outline model does not follow the section.
    Cut(Box<AveragedCut>),
    Refused(Refusal),
}

impl LocalBlade {
    /// Measures one station whose plane has been cut.
    pub(crate) fn measure(&self, plane: &PlaneCut) -> Found {
        let z = plane.offset;
        let refused = |reason: Refusal| Found {
            z,
            angle: 0.0,
            chord: 0.0,
            leading: [0.0; 2],
            along: [1.0, 0.0],
            band_ends: [([0.0; 2], [1.0, 0.0], 0.0); 2],
            kernel: 0.0,
            kernel_u: 0.0,
            spacing: 0.0,
            outcome: Outcome::Refused(reason),
            evidence: Evidence::default(),
            gap: None,
            tail_gap: None,
            points: Vec::new(),
        };
        let Some(cut) = main_loop(plane) else {
            return refused(Refusal::NoSurface);
        };
        let Some(frame) = ChordFrame::through(&self.slices, self.span, z) else {
            return refused(Refusal::FewSections);
        };
        let (leading, along, chord) = frame.at(z);
        let loops = (0 < cut.others).then_some((cut.others + 1, cut.others_share));
        let mut evidence = Evidence { loops, ..Evidence::default() };
        let outcome = if NEARLY_ROUND < frame.flatness {
            self.round(z, chord)
        } else {
            let near = (self.edge, HALF_BAND * chord);
            self.fit(&frame, chord, open_ends((&cut, z), &self.slices, along, near), &mut evidence)
        };
        evidence.contradicted = match &outcome {
            Outcome::Fitted(fit) if cut.closed => contradicted(
                fit,
                &frame,
                z,
                &cut.points,
                [self.edge, self.kernel.deviation].map(|d| d / chord),
            ),
            _ => None,
        };
        let half = match &outcome {
            Outcome::Fitted(fit) => fit.quality.half_band * chord,
            _ => 0.0,
        };
        let tail_gap = gap_at_tail(&cut, leading, along, chord);
        let gap = (!cut.closed).then(|| (cut.gaps, cut.gap, cut.gap / perimeter(&cut)));
        let mut found = Found {
            z,
            angle: (-along[1]).atan2(-along[0]),
            chord,
            leading,
            along,
            band_ends: [z - half, z + half].map(|z| frame.at(z)),
            kernel: self.kernel.deviation,
            kernel_u: self.kernel.u / self.kernel.deviation.max(f64::MIN_POSITIVE),
            spacing: self.edge,
            outcome,
            evidence,
            gap,
            tail_gap,
            points: Vec::new(),
        };
        if lacks_an_edge(&found) {
            found.points = band_points(&self.band(&frame, half), z, half);
        }
        found
    }

    fn round(&self, z: f64, width: f64) -> Outcome {
        let half = (ROUND_HALF_BAND * width).max(ROUND_HALF_BAND_EDGES * self.edge);
        let points: Vec<_> = self
            .mesh
            .vertices()
            .iter()
            .zip(&self.normals)
            .filter(|(p, n)| (p[2] - z).abs() < half && is_point(**n))
            .map(|(p, _)| [p[0], p[1]])
            .collect();
        match fit_radial(&points) {
            Some(fit) => Outcome::Round(fit, points.len()),
            None => Outcome::Refused(Refusal::OpenRound),
        }
    }

    /// `open`: whether the cut ends in an open rim at the nose and at the tail.
    fn fit(&self, frame: &ChordFrame, chord: f64, open: [bool; 2], evidence: &mut Evidence) -> Outcome {
        let ends = (self.span.1 - frame.z).min(frame.z - self.span.0);
        let mut half = (HALF_BAND * chord).min(SHORT_OF_END * ends);
        if self.from_axis {
            half = half.min(MOST_OF_RADIUS * frame.z);
        }
        let mut points = self.band(frame, half);
        if MOST_POINTS < points.len() {
            half *= MOST_POINTS as f64 / points.len() as f64;
            points.retain(|p| (p.0 - frame.z).abs() < half);
        }
        let vertices = points.len();
        if vertices < FEWEST_POINTS {
            points = self.sampled_band(frame, half);
            evidence.is_coarse = true;
        }
        let samples_per_vertex = points.len() as f64 / vertices.max(1) as f64;
        let mut fit = fit_band(&points, frame.z, half, chord);
        let fraction = fit.as_ref().ok().and_then(|fit| narrower(fit.quality.rms));
        if let Some(narrow) = fraction.filter(|_| FEWEST_POINTS <= vertices).map(|fraction| fraction * half) {
            points.retain(|p| (p.0 - frame.z).abs() < narrow);
            if FEWEST_POINTS <= points.len()
                && let Ok(closer) = fit_band(&points, frame.z, narrow, chord)
            {
                fit = Ok(closer);
            }
        }
        match fit {
            Ok(mut fit) => {
                if let Some(reason) = not_one_outline(&fit) {
                    return Outcome::Refused(reason);
                }
                evidence.rims = rims(&points, &fit, open, self.edge / chord);
                let off = stray_fraction(&fit);
                evidence.stray = Some(off).filter(|off| REPORTED_STRAY < *off);
                if vertices < FEWEST_POINTS {
                    // Samples of one triangle repeat its three corners, and corners their neighbours, which too few of them show.
                    let repeated = samples_per_vertex * COARSE_CORRELATION;
                    fit.set_correlation(repeated.max(fit.quality.correlation));
                }
                fit.sharpen(self.kernel.deviation / chord);
                Outcome::Fitted(Box::new(fit))
            }
            Err(e) => Outcome::Refused(e.into()),
        }
    }
}

fn fit_band(points: &[SpanPoint], z: f64, half: f64, chord: f64) -> Result<SectionFit, FitError> {
    fit_section(&band_points(points, z, half), &settings(half, chord))
}

fn band_points(points: &[SpanPoint], z: f64, half: f64) -> Vec<BandPoint> {
    points.iter().map(|&(at_z, at, normal)| BandPoint { at, normal, span: (at_z - z) / half }).collect()
}

/// Settings of the fit of a band. Half its width and the provisional chord, file units.
pub(crate) fn settings(half: f64, chord: f64) -> FitSettings {
    FitSettings { half_band: half / chord, model_error: MODEL_ERROR }
}

/// Fraction of the usual band that suits a scan of little noise, if it is clearly narrower. The random error varies as the noise over the square root of
/// the width, the error of straight changes along the span as the square of the width. Their sum is least where the width varies as the noise to the power of 2/5
/// (J. Fan, I. Gijbels, "Local polynomial modelling and its applications", Chapman & Hall, 1996, section 3.2, from memory).
fn narrower(rms: f64) -> Option<f64> {
    let fraction = (rms / NOISE_OF_BAND).powf(0.4).max(LEAST_FRACTION);
    (fraction < WORTH_NARROWING).then_some(fraction)
}

/// Fraction of the points near a station off the outline from which they are reported: noise and edges alone stay well below.
const REPORTED_STRAY: f64 = 0.1;
/// Fraction from which it is not clear which of the points are the blade.
const MOST_STRAY: f64 = 0.35;
/// The fitted chord and the extent of the cut, which is its longest chord, differ by a percent or two on any blade.
const AGREED_CHORD: f64 = 0.12;
/// Corners of a coarse mesh that count as one: noise correlated over two edges, which they are too few to show.
const COARSE_CORRELATION: f64 = 12.0;

fn stray_fraction(fit: &SectionFit) -> f64 {
    let stray = fit.quality.stray as f64;
    stray / (stray + fit.quality.points as f64)
}

/// Why a fit is not believed, if it is not.
fn not_one_outline(fit: &SectionFit) -> Option<Refusal> {
    let fraction = stray_fraction(fit);
    if MOST_STRAY < fraction {
        return Some(Refusal::ManyStray { fraction });
    }
    if is_impossible(&figures(&fit.shape)) {
        return Some(Refusal::Impossible);
    }
    // The provisional chord is one.
    let chord = fit.shape.chord();
    (AGREED_CHORD < (chord - 1.0).abs()).then_some(Refusal::OtherChord { chord })
}

/// Whether figures are no section's: not finite, without area or thickness, or thicker than long.
fn is_impossible(f: &Figures) -> bool {
    let [thickness, area, chord] = [Figure::Thickness, Figure::Area, Figure::Chord].map(|k| f.value(k));
    f.values.iter().any(|v| !v.is_finite()) || thickness <= 0.0 || area <= 0.0 || chord < thickness
}

/// Part of the chord within which loose ends of the cut mean that the trailing edge itself is missing.
const TAIL_PART: f64 = 0.07;
/// A point of the cut beyond this fraction of the provisional chord is the trailing edge.
const TAIL_SEEN: f64 = 0.993;

/// Width of the gap around the trailing edge, if loose ends on both sides say that there is one.
fn gap_at_tail(cut: &MainLoop, leading: [f64; 2], along: [f64; 2], chord: f64) -> Option<f64> {
    let x = |p: &[f64; 2]| ((p[0] - leading[0]) * along[0] + (p[1] - leading[1]) * along[1]) / chord;
    if cut.points.iter().any(|p| TAIL_SEEN < x(p)) {
        return None;
    }
    let near: Vec<_> = cut.loose.iter().filter(|p| 1.0 - TAIL_PART < x(p)).collect();
    let [first, .., last] = near[..] else { return None };
    let farthest = near.iter().map(|p| 1.0 - x(p)).fold(0.0, f64::max) * chord;
    Some((last[0] - first[0]).hypot(last[1] - first[1]).max(farthest))
}

fn perimeter(cut: &MainLoop) -> f64 {
    let length: f64 = cut.points.windows(2).map(|w| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1])).sum();
    (length + cut.gap).max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_scans_of_little_noise_are_fitted_in_a_narrower_band() {
        assert_eq!(narrower(NOISE_OF_BAND), None);
        assert_eq!(narrower(0.0), Some(LEAST_FRACTION));
        // A fifth of the noise: 0.2 to the power of 0.4.
        assert!((narrower(0.2 * NOISE_OF_BAND).unwrap() - 0.525_306).abs() < 1e-5);
    }

    #[test]
    fn an_outline_without_area_or_thicker_than_long_is_no_section() {
        let mut f = Figures {
            values: [0.5; bladeform_section::FIGURE_COUNT],
            u: [0.0; bladeform_section::FIGURE_COUNT],
        };
        f.values[Figure::Chord as usize] = 1.0;
        assert!(!is_impossible(&f));
        for (figure, value) in [
            (Figure::Thickness, -0.01),
            (Figure::Area, 0.0),
            (Figure::Thickness, 1.2),
            (Figure::CamberRatio, f64::NAN),
        ] {
            let mut wrong = f.clone();
            wrong.values[figure as usize] = value;
            assert!(is_impossible(&wrong), "{figure:?}");
        }
    }

    fn cut_with(points: Vec<[f64; 2]>, loose: Vec<[f64; 2]>) -> MainLoop {
        MainLoop { points, closed: false, gap: 2.0, gaps: 1, loose, others: 0, others_share: 0.0 }
    }

    #[test]
    fn a_gap_at_the_tail_needs_loose_ends_near_it_and_no_point_on_the_edge() {
        let ends = vec![[97.0, 1.0], [96.0, -1.0]];
        let gap = |points, loose| gap_at_tail(&cut_with(points, loose), [0.0; 2], [1.0, 0.0], 100.0);
        let all = vec![[97.0, 1.0], [0.0, 0.0], [96.0, -1.0]];
        // The farther loose end is 4 of 100 from the edge, the ends are 2.24 apart.
        assert!((gap(all.clone(), ends.clone()).unwrap() - 4.0).abs() < 1e-12);
        let with_edge = [all.clone(), vec![[99.8, 0.0]]].concat();
        assert_eq!(gap(with_edge, ends), None);
        assert_eq!(gap(all, vec![[50.0, 3.0], [48.0, 3.0]]), None);
    }

    #[test]
    fn the_perimeter_counts_the_gap() {
        let cut = cut_with(vec![[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]], vec![]);
        assert!((perimeter(&cut) - 9.0).abs() < 1e-12);
    }
}
