//! The verdict of a comparison: whether two blades are alike, where they differ, by how much, and beyond what.
//!
//! Of each figure a shift that is common to all stations is taken off first: a scale for lengths, an angle for angles. It is the weighted median of the differences, which a part of
//! the blade that differs does not pull. What remains at a station is the difference in shape. A shift counts where it exceeds what chance exceeds in one of forty comparisons of as
//! many shifts, a difference in shape likewise, so that one of twenty pairs of equal blades may be called unlike (Z. Sidak, *Rectangular confidence regions for the means of multivariate normal distributions*, J. Am. Stat. Assoc. 62 (1967), 626-633).

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};

use super::{COMPARED, Comparison};
use crate::{ColumnUnit, StationColumn};

/// One comparison in forty of equal blades may be called unlike for a shift, and one for its shape.
const CHANCE: f64 = 0.025;
/// Noise of neighbouring stations may go together: the mean over a blade is known as by fewer stations, by the square of this factor. A judgement (JCGM 100:2008, 4.3).
pub(super) const TOGETHER: f64 = 2.0;
/// The median of normal errors scatters more than their mean, by the square root of half of pi.
const MEDIAN_OVER_MEAN: f64 = 1.253_314_137_315_500_3;
/// Fewer stations have no shape apart from a shift.
pub(super) const LEAST_STATIONS: usize = 4;
const PERCENT: f64 = 100.0;

/// What the comparison says as a whole.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verdict {
    /// How many standard uncertainties a difference in shape must exceed to count.
    pub limit: f64,
    /// How many a shift must exceed.
    pub shift_limit: f64,
    /// By figure, in the order of [`COMPARED`]. Figures without an uncertainty, or at too few stations, are missing.
    pub of: Vec<FigureVerdict>,
}

/// What the comparison says of one figure.
#[derive(Clone, Debug, PartialEq)]
pub struct FigureVerdict {
    /// The figure.
    pub column: StationColumn,
    /// The difference common to all stations, the first less the second: a fraction for lengths and areas, in the unit of the column's key for the rest. `None` where angles are
    /// compared as twist: their common turn is not known.
    pub shift: Option<Measured>,
    /// Whether the shift counts.
    pub is_shifted: bool,
    /// Where the shape differs.
    pub places: Vec<UnlikePlace>,
    /// The least difference in shape that would have counted at a usual station, in the unit of the column's key.
    pub seen_from: f64,
}

/// A part of the blade whose shape differs.
#[derive(Clone, Debug, PartialEq)]
pub struct UnlikePlace {
    /// Its first and last station, as fractions of the first table's tip radius.
    pub from_to: [f64; 2],
    /// The station of the greatest difference, likewise.
    pub at: f64,
    /// The difference there beyond the common shift, in the unit of the column's key.
    pub difference: Measured,
}

impl Verdict {
    /// Whether no difference counts. `None` if nothing could be judged.
    #[must_use]
    pub fn is_alike(&self) -> Option<bool> {
        (!self.of.is_empty()).then(|| self.of.iter().all(FigureVerdict::is_alike))
    }
}

impl FigureVerdict {
    /// Whether no difference of the figure counts.
    #[must_use]
    pub fn is_alike(&self) -> bool {
        !self.is_shifted && self.places.is_empty()
    }
}

/// A difference at one station.
#[derive(Clone, Copy)]
pub(super) struct Difference {
    pub ratio: f64,
    pub amount: f64,
    /// Standard uncertainties by noise, by all but what all stations have in common equally, and with that.
    pub noise: f64,
    pub own: f64,
    pub all: f64,
    /// What a unit of the shift is here.
    pub unit: f64,
}

/// The verdict, and each figure's difference from the common shift, which is written into the comparison.
pub(super) fn judge(comparison: &mut Comparison) -> Verdict {
    let judged: Vec<(StationColumn, Vec<Difference>)> = COMPARED
        .into_iter()
        .map(|column| (column, differences(comparison, column)))
        .filter(|(_, all)| LEAST_STATIONS <= all.len())
        .collect();
    let count: usize = judged.iter().map(|(_, all)| all.len()).sum();
    let limit = two_sided_limit(count.max(1), CHANCE);
    let shifts = judged.iter().filter(|(column, _)| !comparison.is_twist(*column)).count();
    let shift_limit = two_sided_limit(shifts.max(1), CHANCE);
    let mut of = Vec::new();
    for (column, all) in judged {
        let twist = comparison.is_twist(column);
        let (found, beyond) = of_figure(column, &all, limit, (!twist).then_some(shift_limit));
        comparison.set_beyond_shift(column, &beyond);
        of.push(found);
    }
    Verdict { limit, shift_limit, of }
}

/// The verdict on one figure, and its differences from the common shift. `limit`, `shift_limit`: how many standard uncertainties count; without the second no shift is judged.
pub(super) fn of_figure(
    column: StationColumn,
    all: &[Difference],
    limit: f64,
    shift_limit: Option<f64>,
) -> (FigureVerdict, Vec<Measured>) {
    let (shift, u_shape) = common_shift(all);
    let beyond: Vec<Measured> = all
        .iter()
        .map(|d| Measured::new(d.amount - d.unit * shift.value, d.own.hypot(d.unit * u_shape)))
        .collect();
    let mut usual: Vec<f64> = beyond.iter().map(|b| limit * b.u).collect();
    usual.sort_by(f64::total_cmp);
    let found = FigureVerdict {
        column,
        shift: shift_limit.map(|_| shift),
        is_shifted: shift_limit.is_some_and(|most| most * shift.u < shift.value.abs()),
        places: places(all, &beyond, limit),
        seen_from: usual[usual.len() / 2],
    };
    (found, beyond)
}

fn differences(comparison: &Comparison, column: StationColumn) -> Vec<Difference> {
    let found = comparison.of(column);
    let judged = found.into_iter().filter_map(|(s, f)| Some((s, f, f.u?, f.u_own?, f.u_noise?)));
    judged
        .map(|(s, f, all, own, noise)| Difference {
            ratio: s.radius_ratio,
            amount: f.difference,
            noise,
            own,
            all,
            unit: if is_length(column) { f.values[1].abs().max(f64::MIN_POSITIVE) } else { 1.0 },
        })
        .collect()
}

/// Whether the shift of a figure is a fraction of it.
pub(super) const fn is_length(column: StationColumn) -> bool {
    matches!(column.unit(), ColumnUnit::Metre | ColumnUnit::SquareMetre)
}

/// The weighted median of the differences with its standard uncertainty, in units of the shift, and the part of that uncertainty that moves stations against the shift. What is not
/// noise is taken to err to one side along the blade.
fn common_shift(all: &[Difference]) -> (Measured, f64) {
    let mut weighted: Vec<(f64, f64)> = all.iter().map(|d| (d.amount / d.unit, d.unit / d.own)).collect();
    weighted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * weighted.iter().map(|w| w.1).sum::<f64>();
    let mut sum = 0.0;
    let middle = weighted.iter().position(|w| {
        sum += w.1;
        half <= sum
    });
    let value = weighted[middle.unwrap_or(0)].0;
    let information: f64 = all.iter().map(|d| (d.unit / d.own).powi(2)).sum();
    let weight = |d: &Difference| (d.unit / d.all).powi(2);
    let weights: f64 = all.iter().map(weight).sum();
    // Each error of a mean with the weights 1/u^2: of noise as of independent stations, of the rest as of one.
    let noise = all.iter().map(|d| (weight(d) * d.noise / d.unit).powi(2)).sum::<f64>().sqrt() / weights;
    let rest = |d: &Difference| (d.all * d.all - d.noise * d.noise).max(0.0).sqrt() / d.unit;
    let along = all.iter().map(|d| weight(d) * rest(d)).sum::<f64>() / weights;
    let u = (TOGETHER * MEDIAN_OVER_MEAN * noise).hypot(along);
    (Measured::new(value, u), MEDIAN_OVER_MEAN / information.sqrt())
}

/// Runs of stations that lie to one side of the shift by more than 2 u, with one at least whose difference counts.
fn places(all: &[Difference], beyond: &[Measured], limit: f64) -> Vec<UnlikePlace> {
    let side = |b: &Measured| {
        if COVERAGE_FACTOR_95 * b.u < b.value.abs() { b.value.signum() as i8 } else { 0 }
    };
    let mut found = Vec::new();
    let mut from = 0;
    while from < beyond.len() {
        let own = side(&beyond[from]);
        let to = (from..beyond.len()).take_while(|&k| side(&beyond[k]) == own).last().unwrap_or(from);
        let worst = (from..=to).max_by(|&i, &j| {
            let z = |k: usize| beyond[k].value.abs() / beyond[k].u;
            z(i).total_cmp(&z(j))
        });
        if let Some(worst) = worst.filter(|&k| own != 0 && limit * beyond[k].u < beyond[k].value.abs()) {
            found.push(UnlikePlace {
                from_to: [all[from].ratio, all[to].ratio],
                at: all[worst].ratio,
                difference: beyond[worst],
            });
        }
        from = to + 1;
    }
    found
}

/// The number of standard deviations that the greatest of `count` independent normal errors exceeds with the probability `chance`.
pub(super) fn two_sided_limit(count: usize, chance: f64) -> f64 {
    let each = 1.0 - (1.0 - chance).powf(1.0 / count as f64);
    upper_normal_quantile(0.5 * each)
}

/// The value that a standard normal variable exceeds with a probability of at most one half.
///
/// # Source
/// M. Abramowitz, I. A. Stegun, *Handbook of mathematical functions*, National Bureau of Standards, 1964, 26.2.23; its error is below 4.5e-4.
fn upper_normal_quantile(probability: f64) -> f64 {
    let t = (-2.0 * probability.ln()).sqrt();
    let above = 2.515_517 + t * (0.802_853 + t * 0.010_328);
    let below = 1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308));
    t - above / below
}

impl Comparison {
    /// The verdict in sentences: first whether the blades are alike, then each difference that counts, then what would have counted.
    #[must_use]
    pub fn verdict_sentences(&self) -> Vec<String> {
        let v = &self.verdict;
        let name = |f: &FigureVerdict| {
            let twist = if self.is_twist(f.column) { " (as twist)" } else { "" };
            format!("{}{twist}", f.column.shown().label)
        };
        let seen: Vec<String> =
            v.of.iter().map(|f| format!("{} {}", name(f), amount(f.column, f.seen_from))).collect();
        let seen = format!("At a usual station a difference in shape counts from: {}.", seen.join(", "));
        let Some(alike) = v.is_alike() else {
            return vec!["No verdict: no figure with a stated uncertainty is at four stations of both tables. Judge by tolerances.".to_owned()];
        };
        let explained = format!(
            "than chance explains in 19 of 20 pairs of equal blades ({:.1} standard uncertainties at a station, {:.1} along the whole blade)",
            v.limit, v.shift_limit
        );
        if alike {
            return vec![format!("Alike: no figure differs by more {explained}."), seen];
        }
        let mut lines = vec![format!("Not alike: some figures differ by more {explained}.")];
        for f in &v.of {
            if let Some(shift) = f.shift.filter(|_| f.is_shifted) {
                lines.push(format!(
                    "{}: {} in the first along the whole blade.",
                    name(f),
                    shift_text(f.column, shift)
                ));
            }
            lines.extend(f.places.iter().map(|p| place_sentence(&name(f), f.column, p)));
        }
        let alike: Vec<String> = v.of.iter().filter(|f| f.is_alike()).map(&name).collect();
        if !alike.is_empty() {
            lines.push(format!("No difference was found in: {}.", alike.join(", ")));
        }
        lines.push(seen);
        lines
    }
}

fn place_sentence(name: &str, column: StationColumn, place: &UnlikePlace) -> String {
    let UnlikePlace { from_to: [from, to], at, difference } = place;
    let span = if from.total_cmp(to).is_eq() {
        format!("at {at:.2} R")
    } else {
        format!("from {from:.2} R to {to:.2} R, most at {at:.2} R")
    };
    let (greater, shown) = (side(difference.value), column.shown());
    format!(
        "{name}: {span}: {} {greater} in the first, beyond what the whole blades differ by (± {}, 2 u).",
        amount(column, difference.value.abs()),
        shown.text(Some(COVERAGE_FACTOR_95 * difference.u))
    )
}

pub(super) const fn side(value: f64) -> &'static str {
    if 0.0 < value { "greater" } else { "smaller" }
}

pub(super) fn amount(column: StationColumn, value: f64) -> String {
    let shown = column.shown();
    let unit = if shown.unit == "-" { String::new() } else { format!(" {}", shown.unit) };
    format!("{}{unit}", shown.text(Some(value)))
}

/// A shift without its sign.
pub(super) fn shift_amount(column: StationColumn, value: f64) -> String {
    if is_length(column) { format!("{:.2} %", PERCENT * value.abs()) } else { amount(column, value.abs()) }
}

pub(super) fn shift_text(column: StationColumn, shift: Measured) -> String {
    let interval = COVERAGE_FACTOR_95 * shift.u;
    let interval =
        if is_length(column) { shift_amount(column, interval) } else { column.shown().text(Some(interval)) };
    format!("{} {} (± {interval}, 2 u)", shift_amount(column, shift.value), side(shift.value))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R. A. Fisher, F. Yates, *Statistical tables*, table I: 1.6449, 1.9600, 2.5758, 3.2905.
    #[test]
    fn quantiles_are_those_of_the_tables() {
        for (p, z) in [(0.05, 1.6449), (0.025, 1.9600), (0.005, 2.5758), (0.0005, 3.2905)] {
            assert!((upper_normal_quantile(p) - z).abs() < 4.5e-4, "{p}");
        }
    }
}
