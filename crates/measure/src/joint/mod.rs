//! The blade as one surface: all bands fitted together, every parameter of the outline a spline along the span.
//!
//! Each band of points has said what it knows as a quadratic form of its outline's parameters ([`PointEvidence`](bladeform_section::PointEvidence)). The sum of these forms, with the prior
//! on outlines at every knot, is the fit of one surface to all points, linearised about the stations' own outlines (a tensor spline; P. H. C. Eilers,
//! B. D. Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11 (1996), 89-121). Where a band lacks an edge, its neighbours supply it.
//!
//! The splines have as few knots as leave the stations within their scatter (the discrepancy principle; V. A. Morozov, "On the solution of functional equations by the method of regularization",
//! Soviet Math. Dokl. 7 (1966), 414-417): the scatter is that about smooth curves through the stations' figures, which know errors longer than a band.

mod banded;
mod equations;

use bladeform_numeric::bspline::{DEGREE, Knots};
use bladeform_numeric::parallel;
use bladeform_section::{Figure, Figures, OUTLINE_PARAMETERS, SectionFit, Shape, figures, outline_prior};
use bladeform_table::{Station, StationColumn};
use nalgebra::DVector;

use self::banded::Factor;
use self::equations::{BandEquations, Unknowns, in_span_axes};
use crate::band::fit::{Found, Outcome};
use crate::station::{ToTable, edge_in_hole};
use crate::vector::{NORMAL_MAD, median};

/// Parameters of an outline.
const N: usize = OUTLINE_PARAMETERS;
/// Bands for each interval of the splines, from few knots to many.
const BANDS_PER_INTERVAL: [f64; 6] = [8.0, 5.0, 3.5, 2.5, 1.8, 1.3];
/// Fewest bands and fewest intervals that make a surface.
const LEAST_BANDS: usize = 8;
const LEAST_INTERVALS: usize = 3;
/// Plausible second difference of neighbouring coefficients, in those that are usual (median) between the stations: it matters where a band lacks an edge, and hardly where it has all points.
const USUAL_BENDS: f64 = 3.0;
/// The least that is believed, chords: rounding.
const LEAST_BEND: f64 = 1e-6;
/// A band farther from the surface than this many times the usual (median) distance loses weight: a dent, a repair, a transition to the shank.
const USUAL_DISTANCES: f64 = 4.0;
/// Passes of the reweighting, and of the comparison with bands that lack an edge; both settle in three.
const PASSES: usize = 3;
/// Passes where all bands have their edges.
const PASSES_WITH_EDGES: usize = 2;
/// The figures that must agree with the stations within their scatter, each by its column and the power of the chord that is its unit; angles in rad.
pub(crate) const COMPARED: [(StationColumn, Figure, i32); 4] = [
    (StationColumn::ChordM, Figure::Chord, 1),
    (StationColumn::ThicknessM, Figure::Thickness, 1),
    (StationColumn::BladeAngleDeg, Figure::Angle, 0),
    (StationColumn::CamberRatio, Figure::CamberRatio, 0),
];

/// One section in this many gets the uncertainty of its equations, besides those that bridge an edge: it only serves to compare it with the scatter, and takes as long as the fit.
const ONE_WITH_U_IN: usize = 4;

/// A section of the smooth blade.
pub(crate) struct SmoothSection {
    /// Its figures, of some sections with the uncertainty that the points of all bands leave.
    pub(crate) figures: Station,
    /// Whether the neighbours supply what its own points do not: an edge that was not scanned, or all where the station departs from them.
    pub(crate) bridges: bool,
}

/// A band with its fit.
struct Band<'a> {
    /// Number of the station.
    index: usize,
    found: &'a Found,
    fit: &'a SectionFit,
    figures: Figures,
    /// Whether leading and trailing edge lie in a hole of the scan.
    in_hole: [bool; 2],
    /// Whether it departs from its neighbours, and so has no part in the surface.
    is_apart: bool,
    /// Scatter of the [`COMPARED`] figures about a smooth blade, in units of the chord frame; `None` where it is not known.
    scatter: [Option<f64>; COMPARED.len()],
}

impl Band<'_> {
    /// Whether it shows the blade at both edges, as its neighbours do.
    fn is_whole(&self) -> bool {
        !self.is_apart && self.in_hole == [false; 2]
    }
}

/// The smooth blade at the places of the stations, in their order; `None` where no outline was fitted.
/// `apart`: stations that depart from their neighbours. `scatter`: standard deviation of a station's figure about a smooth blade, in the unit of the column, for each of [`COMPARED`].
pub(crate) fn smooth_blade(
    found: &[Found],
    apart: &[bool],
    to: &ToTable,
    scatter: impl Fn(StationColumn, usize) -> Option<f64>,
) -> Vec<Option<SmoothSection>> {
    let bands: Vec<Band> = found
        .iter()
        .enumerate()
        .filter_map(|(index, found)| {
            let Outcome::Fitted(fit) = &found.outcome else { return None };
            let scatter = COMPARED.map(|(column, _, power)| {
                let unit = if column == StationColumn::BladeAngleDeg {
                    1f64.to_degrees()
                } else {
                    (found.chord * to.metres_per_unit).powi(power)
                };
                scatter(column, index).map(|s| s / unit)
            });
            let in_hole = edge_in_hole(found, fit);
            let is_apart = apart[index];
            Some(Band { index, found, fit, figures: figures(&fit.shape), in_hole, is_apart, scatter })
        })
        .collect();
    let mut smooth: Vec<_> = found.iter().map(|_| None).collect();
    if let Some(sections) = joined(&bands, to) {
        let all = parallel::map(&bands.iter().zip(sections).collect::<Vec<_>>(), |(band, section)| {
            let bridges = band.is_apart || band.in_hole.contains(&true);
            let with_u = bridges || band.index % ONE_WITH_U_IN == 0;
            SmoothSection { figures: band.found.figures_of(section, to, with_u), bridges }
        });
        for (band, section) in bands.iter().zip(all) {
            smooth[band.index] = Some(section);
        }
    }
    smooth
}

/// The sections of the surface with the fewest knots that agrees with the stations, or else with the most knots.
fn joined(bands: &[Band], to: &ToTable) -> Option<Vec<SectionFit>> {
    if bands.len() < LEAST_BANDS {
        return None;
    }
    let x = |z: f64| {
        let ratio = (to.radius_at_origin_m + to.metres_per_unit * z) / to.tip_radius_m;
        // The chord of a rounded tip falls as the square root of the distance from it.
        -(1.0 - ratio).max(0.0).sqrt()
    };
    // The knots that agree are found by halving: more of them leave less.
    let (mut low, mut high, mut best) = (0, BANDS_PER_INTERVAL.len(), None);
    while low < high {
        let middle = (low + high) / 2;
        let Some(surface) = Surface::fitted(bands, BANDS_PER_INTERVAL[middle], x) else { break };
        if surface.agrees(bands) {
            (high, best) = (middle, Some(surface));
        } else {
            low = middle + 1;
            // The one with most knots serves if none agrees.
            best = best.or_else(|| (low == BANDS_PER_INTERVAL.len()).then_some(surface));
        }
    }
    best?.sections(bands)
}

/// One fit.
struct Surface {
    equations: Vec<BandEquations>,
    factor: Factor,
    shapes: Vec<Shape>,
}

impl Surface {
    fn fitted(bands: &[Band], per_interval: f64, x: impl Fn(f64) -> f64 + Sync) -> Option<Self> {
        let knots = knots(bands.iter().map(|b| x(b.found.z)).collect(), per_interval)?;
        let unit = bands.iter().map(|b| b.found.chord).sum::<f64>() / bands.len() as f64;
        let mut equations =
            parallel::map(bands, |b| BandEquations::of(b.found, b.fit, &knots, &x, unit, b.in_hole));
        let width = equations.iter().map(BandEquations::width).fold(DEGREE, usize::max);
        let prior = prior(&knots, width, bands, unit, x);
        let part = |b: &Band| if b.is_apart { 0.0 } else { 1.0 };
        let mut weights: Vec<f64> = bands.iter().map(part).collect();
        let mut solved = None;
        let passes =
            if bands.iter().any(|b| !b.found.points.is_empty()) { PASSES } else { PASSES_WITH_EDGES };
        // Kept while no band is compared anew.
        let mut say = parallel::map(&equations, BandEquations::of_coefficients);
        for _ in 0..passes {
            let mut unknowns = prior.clone();
            say.iter().zip(&weights).for_each(|(band, w)| unknowns.add(band, *w));
            let (value, factor) = unknowns.solve()?;
            let distances: Vec<f64> = equations.iter().map(|band| band.distance(&value)).collect();
            let usual = USUAL_DISTANCES * median(&mut distances.clone());
            for ((w, d), band) in weights.iter_mut().zip(&distances).zip(bands) {
                *w = part(band) * if usual < *d { (usual / d).powi(2) } else { 1.0 };
            }
            let all = equations.iter_mut().zip(&mut say).zip(bands);
            let lacking = all.filter(|(_, band)| !band.found.points.is_empty());
            parallel::each(&mut lacking.collect::<Vec<_>>(), |((equations, say), band)| {
                equations.renew(band.found, band.fit, &value, band.in_hole);
                **say = equations.of_coefficients();
            });
            solved = Some((value, factor));
        }
        let (value, factor): (DVector<f64>, Factor) = solved?;
        let shapes = equations.iter().map(|e| e.outlines(&value).into_iter().next().flatten());
        Some(Self { shapes: shapes.collect::<Option<_>>()?, equations, factor })
    }

    /// Whether it leaves the stations whose edges were scanned within their scatter: the root mean square, by the median, is at most one.
    fn agrees(&self, bands: &[Band]) -> bool {
        let whole: Vec<(&Shape, &Band)> =
            self.shapes.iter().zip(bands).filter(|(_, b)| b.is_whole()).collect();
        let smooth = parallel::map(&whole, |(shape, _)| figures(shape));
        (0..COMPARED.len()).all(|k| {
            let figure = COMPARED[k].1;
            let mut off: Vec<f64> = whole
                .iter()
                .zip(&smooth)
                .filter_map(|((_, b), f)| {
                    Some((f.value(figure) - b.figures.value(figure)).abs() / b.scatter[k]?)
                })
                .collect();
            off.is_empty() || NORMAL_MAD * median(&mut off) <= 1.0
        })
    }

    fn sections(self, bands: &[Band]) -> Option<Vec<SectionFit>> {
        let covariance = self.factor.inverse_in_band()?;
        let section = |((band, equations), shape): ((&Band, &BandEquations), Shape)| {
            band.fit.with_outline(shape, equations.covariance(&covariance))
        };
        Some(bands.iter().zip(&self.equations).zip(self.shapes).map(section).collect())
    }
}

/// Knots at every few bands, so that each interval has its share of them.
fn knots(mut x: Vec<f64>, per_interval: f64) -> Option<Knots> {
    x.sort_by(f64::total_cmp);
    x.dedup_by(|b, a| (*b - *a).abs() < SAME_PLACE);
    let intervals = ((x.len() as f64 / per_interval) as usize).max(LEAST_INTERVALS);
    if x.len() < LEAST_BANDS {
        return None;
    }
    let last = (x.len() - 1) as f64;
    let at = |share: f64| {
        let place = share * last;
        let k = (place as usize).min(x.len() - 2);
        x[k] + (place - k as f64) * (x[k + 1] - x[k])
    };
    Some(Knots::clamped((0..=intervals).map(|k| at(k as f64 / intervals as f64)).collect()))
}

/// Abscissas this close are one place.
const SAME_PLACE: f64 = 1e-9;

/// The prior on outlines at every knot, and the bound on differences along the span.
fn prior(knots: &Knots, width: usize, bands: &[Band], unit: f64, x: impl Fn(f64) -> f64) -> Unknowns {
    let mut unknowns = Unknowns::new(knots.count(), width);
    let ratios: Vec<(f64, f64)> =
        bands.iter().map(|b| (x(b.found.z), b.figures.value(Figure::ThicknessRatio))).collect();
    for &u in knots.breaks() {
        let near = ratios.iter().min_by(|a, b| (a.0 - u).abs().total_cmp(&(b.0 - u).abs()));
        let Some((_, thickness_ratio)) = near else { continue };
        let (first, basis) = knots.basis(u);
        unknowns.add_prior(first, &basis[0], &outline_prior(*thickness_ratio));
    }
    let spacing =
        (knots.breaks()[knots.breaks().len() - 1] - knots.breaks()[0]) / knots.breaks().len() as f64;
    let bends = usual_bends(bands, unit, spacing, x);
    unknowns.add_roughness(&bends.map(|bend| (USUAL_BENDS * bend + LEAST_BEND).powi(-2)));
    unknowns
}

/// Usual second difference of every parameter over a spacing of the abscissa: what the stations whose edges were scanned show, as a standard deviation by the median.
fn usual_bends(bands: &[Band], unit: f64, spacing: f64, x: impl Fn(f64) -> f64) -> [f64; N] {
    let whole = bands.iter().filter(|b| b.is_whole());
    let mut stations: Vec<(f64, [f64; N])> =
        whole.map(|b| (x(b.found.z), in_span_axes(b.found, b.fit, unit))).collect();
    stations.sort_by(|a, b| a.0.total_cmp(&b.0));
    stations.dedup_by(|b, a| (b.0 - a.0).abs() < SAME_PLACE);
    std::array::from_fn(|k| {
        let mut bends: Vec<f64> = stations
            .windows(3)
            .map(|w| {
                let [(xa, a), (xb, b), (xc, c)] = [&w[0], &w[1], &w[2]];
                let line = a[k] + (c[k] - a[k]) * (xb - xa) / (xc - xa);
                2.0 * (b[k] - line).abs() * spacing * spacing / ((xb - xa) * (xc - xb))
            })
            .collect();
        if bends.is_empty() { 1.0 } else { NORMAL_MAD * median(&mut bends) }
    })
}
