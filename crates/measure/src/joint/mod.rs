//! The blade as one surface: all bands fitted together, every parameter of the outline a spline along the span.
//!
//! Each band of points has said what it knows as a quadratic form of its outline's parameters ([`PointEvidence`](bladeform_section::PointEvidence)). The sum of these forms, with the prior
//! on outlines at every knot, is the fit of one surface to all points, linearised about the stations' own outlines (the two-stage form of a penalised tensor spline; P. H. C. Eilers,
//! B. D. Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11 (1996), 89-121). Where a band lacks an edge, its neighbours supply it.

mod equations;

use bladeform_numeric::bspline::Knots;
use bladeform_numeric::parallel;
use bladeform_section::{Figure, OUTLINE_PARAMETERS, SectionFit, Shape, figures, outline_prior};
use bladeform_table::Station;
use nalgebra::{Cholesky, DVector, Dyn};

use self::equations::{BandEquations, Unknowns};
use crate::band::fit::{Found, Outcome};
use crate::station::{ToTable, edge_in_hole};
use crate::vector::median;

/// Bands for each interval of the splines: as many knots as a smooth blade needs, and few enough that noise that is longer than a band is averaged.
const BANDS_PER_INTERVAL: usize = 4;
/// Fewest bands and fewest intervals that make a surface.
const LEAST_BANDS: usize = 8;
const LEAST_INTERVALS: usize = 3;
/// Most intervals: some 500 unknowns.
const MOST_INTERVALS: usize = 12;
/// Plausible second difference of neighbouring coefficients, chords: it only keeps the equations solvable where there is no band.
const LOOSE_DIFFERENCE: f64 = 0.1;
/// A band farther from the surface than this many times the usual (median) distance loses weight: a dent, a repair, a transition to the shank.
const USUAL_DISTANCES: f64 = 4.0;
/// Passes of the reweighting; the weights of single bands settle in two.
const PASSES: usize = 3;

/// A section of the smooth blade.
pub(crate) struct SmoothSection {
    /// Its figures, with the uncertainty that the points of all bands leave.
    pub(crate) figures: Station,
    /// Whether the scan has no edge there, so that the neighbours supply it.
    pub(crate) bridges_edge: bool,
}

/// The smooth blade at the places of the stations, in their order; `None` where no outline was fitted.
pub(crate) fn smooth_blade(found: &[Found], to: &ToTable) -> Vec<Option<SmoothSection>> {
    let fits: Vec<Band> = found
        .iter()
        .enumerate()
        .filter_map(|(index, found)| match &found.outcome {
            Outcome::Fitted(fit) => Some(Band { index, found, fit, in_hole: edge_in_hole(found, fit) }),
            _ => None,
        })
        .collect();
    let mut smooth: Vec<_> = found.iter().map(|_| None).collect();
    if let Some(sections) = joined(&fits, to) {
        let all = parallel::map(&fits.iter().zip(sections).collect::<Vec<_>>(), |(band, section)| {
            let figures = band.found.figures_of(section, to);
            SmoothSection { figures, bridges_edge: band.in_hole.contains(&true) }
        });
        for (band, section) in fits.iter().zip(all) {
            smooth[band.index] = Some(section);
        }
    }
    smooth
}

/// A band with its fit.
struct Band<'a> {
    /// Number of the station.
    index: usize,
    found: &'a Found,
    fit: &'a SectionFit,
    /// Whether leading and trailing edge lie in a hole of the scan.
    in_hole: [bool; 2],
}

fn joined(bands: &[Band], to: &ToTable) -> Option<Vec<SectionFit>> {
    if bands.len() < LEAST_BANDS {
        return None;
    }
    let x = |z: f64| {
        let ratio = (to.radius_at_origin_m + to.metres_per_unit * z) / to.tip_radius_m;
        // The chord of a rounded tip falls as the square root of the distance from it.
        -(1.0 - ratio).max(0.0).sqrt()
    };
    let knots = knots(bands.iter().map(|b| x(b.found.z)).collect())?;
    let unit = bands.iter().map(|b| b.found.chord).sum::<f64>() / bands.len() as f64;
    let equations = parallel::map(bands, |b| BandEquations::of(b.found, b.fit, &knots, x, unit, b.in_hole));
    let prior = prior(&knots, bands, x);
    let mut weights = vec![1.0; bands.len()];
    let mut solved = None;
    for _ in 0..PASSES {
        let mut unknowns = prior.clone();
        equations.iter().zip(&weights).for_each(|(band, w)| unknowns.add(band, *w));
        let found = unknowns.solve()?;
        let distances: Vec<f64> = equations.iter().map(|band| band.distance(&found.value)).collect();
        let usual = USUAL_DISTANCES * median(&mut distances.clone());
        for (w, d) in weights.iter_mut().zip(&distances) {
            *w = if usual < *d { usual / d } else { 1.0 };
        }
        solved = Some(found);
    }
    let Solved { value, cholesky } = solved?;
    let covariance = cholesky.inverse();
    bands
        .iter()
        .zip(&equations)
        .map(|(band, equations)| {
            let shape = Shape::of_parameters(equations.outline(&value).as_slice())?;
            Some(band.fit.with_outline(shape, equations.covariance(&covariance)))
        })
        .collect()
}

/// Knots at every few bands, so that each interval has its share of them.
fn knots(mut x: Vec<f64>) -> Option<Knots> {
    x.sort_by(f64::total_cmp);
    x.dedup_by(|b, a| (*b - *a).abs() < SAME_PLACE);
    let intervals = (x.len() / BANDS_PER_INTERVAL).clamp(LEAST_INTERVALS, MOST_INTERVALS);
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
fn prior(knots: &Knots, bands: &[Band], x: impl Fn(f64) -> f64) -> Unknowns {
    let mut unknowns = Unknowns::new(knots.count());
    let ratio = |b: &Band| figures(&b.fit.shape).value(Figure::ThicknessRatio);
    let ratios: Vec<(f64, f64)> = bands.iter().map(|b| (x(b.found.z), ratio(b))).collect();
    for &u in knots.breaks() {
        let near = ratios.iter().min_by(|a, b| (a.0 - u).abs().total_cmp(&(b.0 - u).abs()));
        let Some((_, thickness_ratio)) = near else { continue };
        let (first, basis) = knots.basis(u);
        unknowns.add_prior(first, &basis[0], &outline_prior(*thickness_ratio));
    }
    unknowns.add_roughness(LOOSE_DIFFERENCE.powi(-2));
    unknowns
}

/// The result of the equations.
pub(super) struct Solved {
    pub(super) value: DVector<f64>,
    pub(super) cholesky: Cholesky<f64, Dyn>,
}

const N: usize = OUTLINE_PARAMETERS;
