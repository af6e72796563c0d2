//! Repeats: the mean over several scans of one blade, and the test whether the scans agree within what they state.

use bladeform_numeric::chi_square::one_in_twenty;
use std::collections::BTreeMap;

use bladeform_quantity::{Hand, root_sum_square};
use thiserror::Error;

use crate::mean::mean_of;
use crate::{
    BladeFigures, BladeUncertainty, Flag, Map, Notice, Repairs, Source, Station, StationColumn, StationTable,
    TableNotice, UncertaintySource,
};

/// What several scans of one blade say about one another.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Repeats {
    /// The scans, in the order in which they were given. The first is also the `source` of the table.
    pub scans: Vec<Source>,
    /// The quantities that were tested, in the order of the columns.
    pub quantities: Vec<RepeatedQuantity>,
    /// Keys that this version does not know.
    pub extra: Map<String, crate::Value>,
}

/// Scatter between the scans and stated uncertainty of one quantity over all stations, in the unit of its column.
#[derive(Clone, Debug, PartialEq)]
pub struct RepeatedQuantity {
    /// The quantity.
    pub column: StationColumn,
    /// Experimental standard deviation of one scan, the root mean square over the stations (type A; JCGM 100:2008, 4.2.2).
    pub scatter: Option<f64>,
    /// The part of the stated standard uncertainty of one scan that is independent of the other scans (type B), the root mean square over the stations.
    pub stated: Option<f64>,
    /// Birge ratio: 1 where the scatter is what the stated uncertainties explain. `None` if it was not tested.
    pub ratio: Option<f64>,
    /// The ratio that chance alone exceeds in one of twenty cases. `None` if it was not tested.
    pub limit: Option<f64>,
    /// Degrees of freedom, fewer where the errors of the stations go together. `None` if it was not tested.
    pub degrees_of_freedom: Option<f64>,
    /// The verdict.
    pub agreement: Agreement,
    /// Keys that this version does not know.
    pub extra: Map<String, crate::Value>,
}

/// Whether the scans agree in a quantity.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Agreement {
    /// Within their stated uncertainty.
    Agree,
    /// They differ by more, and the uncertainty of the mean was raised.
    Raised,
    /// Not tested: no figure or no uncertainty in two scans at one station.
    #[default]
    NotTested,
}

impl Agreement {
    /// All verdicts.
    pub const ALL: [Self; 3] = [Self::Agree, Self::Raised, Self::NotTested];

    /// The word of the documents: `agree`, `raised` or `not-tested`.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Agree => "agree",
            Self::Raised => "raised",
            Self::NotTested => "not-tested",
        }
    }
}

impl Repeats {
    /// The quantities in which the scans differ by more than they state.
    pub fn raised(&self) -> impl Iterator<Item = &RepeatedQuantity> {
        self.quantities.iter().filter(|q| q.agreement == Agreement::Raised)
    }

    /// The verdict over all quantities, without a capital and without a full stop.
    #[must_use]
    pub fn verdict(&self) -> String {
        let names: Vec<&str> = self.raised().map(|q| q.column.shown().label).collect();
        if self.quantities.iter().all(|q| q.agreement == Agreement::NotTested) {
            "the scans could not be tested against one another, because they state no uncertainties"
                .to_owned()
        } else if names.is_empty() {
            "the scans agree within their stated uncertainty".to_owned()
        } else {
            format!("the scans do not agree within their stated uncertainty in {}", names.join(", "))
        }
    }
}

/// Scatter between the scans at one station: the experimental standard deviation of one scan, in the unit of each figure (JCGM 100:2008, 4.2.2).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StationScatter {
    figures: BTreeMap<StationColumn, f64>,
    /// The keys that this version does not know, kept as they were read.
    pub extra: Map<String, crate::Value>,
}

impl StationScatter {
    /// Whether nothing is stated.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.figures.is_empty() && self.extra.is_empty()
    }

    /// The scatter of a figure. `None` if fewer than two scans have it.
    #[must_use]
    pub fn get(&self, column: StationColumn) -> Option<f64> {
        self.figures.get(&column).copied()
    }

    /// Sets the scatter of a figure.
    pub fn set(&mut self, column: StationColumn, scatter: f64) {
        self.figures.insert(column, scatter);
    }

    /// The figures that have one, in the order of the columns.
    pub fn columns(&self) -> impl Iterator<Item = StationColumn> + '_ {
        self.figures.keys().copied()
    }
}

/// Why several scans have no mean. Each is compared with the first.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum RepeatsError {
    /// Fewer than two tables.
    #[error("a mean over scans needs at least two scans")]
    TooFew,
    /// A file occurs twice.
    #[error("{file} has the same content as {first}; a scan cannot confirm itself: give each scan once")]
    SameScan {
        /// The scan.
        file: String,
        /// The scan that is the same.
        first: String,
    },
    /// Another number of blades.
    #[error(
        "{file} shows {blades}, but {first} {first_blades}: it is not a scan of the same part; measure it on its own"
    )]
    OtherBlades {
        /// The scan.
        file: String,
        /// Its blades in words.
        blades: String,
        /// The first scan.
        first: String,
        /// Its blades in words.
        first_blades: String,
    },
    /// The other hand.
    #[error(
        "{file} shows a {hand}-hand blade, but {first} a {first_hand}-hand one: it is not a scan of the same blade, or the hand of one was guessed wrongly; state the hand, or measure it on its own"
    )]
    OtherHand {
        /// The scan.
        file: String,
        /// Its hand.
        hand: Hand,
        /// The first scan.
        first: String,
        /// Its hand.
        first_hand: Hand,
    },
    /// Another size.
    #[error("{file} has a tip radius of {:.1} mm, but {first} one of {:.1} mm: it shows another blade, or has another unit; state the known length, or measure it on its own", MM_PER_M * radius_m, MM_PER_M * first_radius_m)]
    OtherSize {
        /// The scan.
        file: String,
        /// Its tip radius.
        radius_m: f64,
        /// The first scan.
        first: String,
        /// Its tip radius.
        first_radius_m: f64,
    },
    /// Other stations.
    #[error(
        "{file} was measured at other stations than {first}; measure all scans at the same fractions of the tip radius"
    )]
    OtherStations {
        /// The scan.
        file: String,
        /// The first scan.
        first: String,
    },
    /// Another shape.
    #[error(
        "{file} does not show the blade of {first}: its {quantity} differs by {amount} at half of the stations or more; it shows another blade, or its tip, edges or sides were chosen differently. Measure it on its own"
    )]
    OtherShape {
        /// The scan.
        file: String,
        /// The first scan.
        first: String,
        /// The quantity.
        quantity: &'static str,
        /// The difference with its unit.
        amount: String,
    },
}

impl RepeatsError {
    /// The short code. It is stable.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::TooFew => "too-few-scans",
            Self::SameScan { .. } => "same-scan",
            Self::OtherBlades { .. } => "other-number-of-blades",
            Self::OtherHand { .. } => "other-hand",
            Self::OtherSize { .. } => "other-size",
            Self::OtherStations { .. } => "other-stations",
            Self::OtherShape { .. } => "other-shape",
        }
    }
}

/// Radii are shown in millimetres.
const MM_PER_M: f64 = 1e3;
/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;
/// Tip radii that differ by more than this fraction are two sizes: scans whose scale is known differ by far less (judgement).
const OTHER_SIZE: f64 = 0.01;
/// Chords of one blade differ between scans by some tenths of a per cent, those of two designs by tens (judgement).
const OTHER_CHORD: f64 = 0.05;
/// Blade angles of one blade differ between scans by some tenths of a degree (judgement).
const OTHER_ANGLE_DEG: f64 = 3.0;
/// Thicknesses of one blade differ between scans by one or two per cent (judgement).
const OTHER_THICKNESS: f64 = 0.15;
/// Cambers of one blade differ between scans by some hundredths of a per cent of the chord (judgement).
const OTHER_CAMBER: f64 = 0.005;
/// A difference within this many standard uncertainties may be that of two bad scans of one blade.
const OTHER_BY_U: f64 = 3.0;
/// Fractions of the tip radius this close are one station.
const SAME_RATIO: f64 = 1e-6;

/// The mean over several scans of one blade, measured at the same stations, and the test whether they agree.
///
/// Figures are plain means. JCGM 100:2008, 4.2.1, takes the arithmetic mean for repeated observations under the same conditions; weights from the stated
/// uncertainties would favour the scan that underestimates its own. Their uncertainty is that of [`mean_of`]: what the scans share (definition, resolution, known
/// length and, cautiously, long-range errors, axes and reference) is kept, and the rest averages out.
///
/// The test compares the scatter between the scans with the part of `u` that is found anew in each scan, by the ratio `sqrt(chi^2 / (degrees of freedom))` about the
/// weighted mean, over all stations of a quantity. If it is above what chance exceeds in one of twenty cases, the independent part of the uncertainty of the mean is
/// multiplied by it. It is never lowered. Where a pitch is given, its uncertainty follows from that of the angle.
///
/// `source`, `scale` and `frame` are those of the first scan. Which blade of a propeller is which cannot be told between scans: `blades` is empty, with a notice.
///
/// # Errors
/// [`RepeatsError`] if fewer than two tables are given, or one is not of the same part, which is judged against the first.
///
/// # Source
/// R. T. Birge, *The calculation of errors by the method of least squares*, Phys. Rev. 40 (1932), 207-227 (from memory): the ratio of external to internal
/// consistency, and its use as a factor. JCGM 100:2008, 4.2: type A evaluation.
pub fn mean_of_repeats(tables: &[StationTable]) -> Result<StationTable, RepeatsError> {
    let [first, others @ ..] = tables else { return Err(RepeatsError::TooFew) };
    if others.is_empty() {
        return Err(RepeatsError::TooFew);
    }
    for (k, table) in tables.iter().enumerate().skip(1) {
        let twin = tables[..k].iter().find(|t| !sha256(t).is_empty() && sha256(t) == sha256(table));
        if let Some(twin) = twin {
            return Err(RepeatsError::SameScan { file: name(table, k), first: name(twin, 0) });
        }
        same_part(first, table, k)?;
    }
    let blade = mean_blade(tables);
    let scans: Vec<Vec<Station>> = tables.iter().map(|t| at_radius(t, first, blade.radius_m)).collect();
    let mut stations = mean_of(&scans);
    let by_station: Vec<Vec<&Station>> =
        (0..stations.len()).map(|s| scans.iter().filter_map(|scan| scan.get(s)).collect()).collect();
    let mut repeats = Repeats {
        scans: tables.iter().map(|t| t.source.clone().unwrap_or_default()).collect(),
        ..Repeats::default()
    };
    for column in tested() {
        repeats.quantities.extend(judge(column, &mut stations, &by_station));
    }
    for (mean, scans) in stations.iter_mut().zip(&by_station) {
        pitches(mean, scans);
        let flags = std::mem::take(&mut mean.flags);
        mean.flags = flags.into_iter().map(of_scans).collect();
    }
    let mut warnings = merged(tables);
    let quantities: Vec<(StationColumn, f64)> =
        repeats.raised().map(|q| (q.column, q.ratio.unwrap_or(1.0))).collect();
    if !quantities.is_empty() {
        warnings.push(Notice::of(&TableNotice::RepeatsDisagree { quantities }));
    }
    if tables.iter().any(|t| !t.blades.is_empty()) {
        warnings.push(Notice::of(&TableNotice::RepeatsWithoutBlades));
    }
    Ok(StationTable {
        record: first.record.clone(),
        source: first.source.clone(),
        scale: first.scale.clone(),
        frame: first.frame.clone(),
        blade,
        repairs: first.repairs.is_some().then(|| all_repairs(tables)),
        stations,
        root_sections: first.root_sections.clone(),
        hub: first.hub.clone(),
        repeats: Some(repeats),
        warnings,
        ..StationTable::default()
    })
}

/// The quantities that are tested: every figure but the place of the station, and the pitches, which follow from the angles.
fn tested() -> impl Iterator<Item = StationColumn> {
    const NOT: [StationColumn; 4] = [
        StationColumn::RadiusM,
        StationColumn::RadiusRatio,
        StationColumn::PitchM,
        StationColumn::FacePitchM,
    ];
    StationColumn::FIGURES.iter().copied().filter(|c| !NOT.contains(c))
}

impl UncertaintySource {
    /// Whether scans of one blade by one method have it in common. Axes and reference section are found anew in each scan, and its parts are put together anew;
    /// the definition, the resolution of the method, the known length and the root radius are the same.
    #[must_use]
    pub const fn is_shared_by_scans(self) -> bool {
        matches!(self, Self::Definition | Self::Resolution | Self::Length | Self::Radius)
    }
}

/// The part of a figure's uncertainty that is independent of other scans of the same blade. It is the whole uncertainty if no budget is stated.
fn own_u(station: &Station, column: StationColumn) -> Option<f64> {
    let all = column.u(station)?;
    let mut parts = station.budget.of(column).peekable();
    if parts.peek().is_none() {
        return Some(all);
    }
    let own: Vec<f64> = parts.filter(|(s, _)| !s.is_shared_by_scans()).map(|(_, u)| u).collect();
    // A figure that is exact by convention, as the angle at the reference radius, has no uncertainty whatever its parts.
    Some(root_sum_square(&own).min(all))
}

/// Tests one quantity, sets the scatter of the stations, and raises the uncertainty of the mean if the scans disagree. `None` if no two scans have it.
fn judge(
    column: StationColumn,
    mean: &mut [Station],
    by_station: &[Vec<&Station>],
) -> Option<RepeatedQuantity> {
    let mut variances = Vec::new();
    for (mean, scans) in mean.iter_mut().zip(by_station) {
        let values: Vec<f64> = scans.iter().filter_map(|s| column.get(s)).collect();
        if let Some(scatter) = deviation(&values) {
            mean.scatter.set(column, scatter);
            variances.push(scatter * scatter);
        }
        let us: Vec<f64> = scans.iter().filter_map(|s| column.u(s)).collect();
        if !us.is_empty() && us.iter().all(|u| *u == 0.0) {
            column.set_u(mean, Some(0.0));
        }
    }
    let scatter = root_mean(&variances)?;
    let mut quantity = RepeatedQuantity {
        column,
        scatter: Some(scatter),
        stated: None,
        ratio: None,
        limit: None,
        degrees_of_freedom: None,
        agreement: Agreement::NotTested,
        extra: Map::new(),
    };
    let Some(test) = Test::of(column, by_station) else { return Some(quantity) };
    let agree = test.ratio <= test.limit;
    quantity.stated = Some(test.stated);
    quantity.ratio = Some(test.ratio);
    quantity.limit = Some(test.limit);
    quantity.degrees_of_freedom = Some(test.degrees_of_freedom);
    quantity.agreement = if agree { Agreement::Agree } else { Agreement::Raised };
    if !agree {
        for (mean, scans) in mean.iter_mut().zip(by_station) {
            raise(mean, scans, column, test.ratio);
        }
    }
    Some(quantity)
}

/// Multiplies the independent part of the uncertainty of a mean by a ratio above 1.
fn raise(mean: &mut Station, scans: &[&Station], column: StationColumn, ratio: f64) {
    let Some(u) = column.u(mean).filter(|u| 0.0 < *u) else { return };
    let own: Vec<f64> =
        scans.iter().filter(|s| column.get(s).is_some()).filter_map(|s| own_u(s, column)).collect();
    let own = root_sum_square(&own) / own.len().max(1) as f64;
    let more = own * (ratio * ratio - 1.0).max(0.0).sqrt();
    if mean.budget.of(column).next().is_some() {
        mean.add_uncertainty(column, UncertaintySource::Repeats, more);
    } else {
        column.set_u(mean, Some(u.hypot(more)));
    }
}

/// The test of one quantity over all stations.
struct Test {
    stated: f64,
    ratio: f64,
    limit: f64,
    degrees_of_freedom: f64,
}

impl Test {
    /// `None` if no station has the figure and its uncertainty in two scans.
    fn of(column: StationColumn, by_station: &[Vec<&Station>]) -> Option<Self> {
        let (mut square, mut freedom, mut variances) = (0.0, 0.0, Vec::new());
        let mut residuals: Vec<Vec<Option<f64>>> = Vec::new();
        for scans in by_station {
            let figures: Vec<Option<(f64, f64)>> = scans
                .iter()
                .map(|s| Some((column.get(s)?, own_u(s, column).filter(|u| 0.0 < *u && u.is_finite())?)))
                .collect();
            let having: Vec<(f64, f64)> = figures.iter().copied().flatten().collect();
            if having.len() < 2 {
                continue;
            }
            let weights: f64 = having.iter().map(|(_, u)| u.powi(-2)).sum();
            let centre = having.iter().map(|(x, u)| x * u.powi(-2)).sum::<f64>() / weights;
            let own: Vec<Option<f64>> = figures.iter().map(|f| f.map(|(x, u)| (x - centre) / u)).collect();
            square += own.iter().flatten().map(|e| e * e).sum::<f64>();
            freedom += having.len() as f64 - 1.0;
            variances.extend(having.iter().map(|(_, u)| u * u));
            residuals.push(own);
        }
        let stated = root_mean(&variances)?;
        let ratio = (square / freedom).sqrt();
        let independent = independent_fraction(&residuals);
        let degrees_of_freedom = (freedom * independent).max(1.0);
        (ratio.is_finite() && stated.is_finite()).then(|| Self {
            stated,
            ratio,
            limit: ratio_limit(degrees_of_freedom),
            degrees_of_freedom,
        })
    }
}

/// The Birge ratio that chance exceeds in one of twenty cases.
fn ratio_limit(degrees_of_freedom: f64) -> f64 {
    (one_in_twenty(degrees_of_freedom) / degrees_of_freedom).sqrt()
}

/// The number of independent stations as a fraction of all. Neighbouring stations share scan points, and all angles of a scan share its reference: a mean
/// square over them varies more than one over independent stations.
///
/// `residuals`: per station one for each scan, over its uncertainty. With the correlation `r_k` of stations `k` apart, the fraction is
/// `1 / (1 + 2 sum (1 - k/n) r_k^2)`; from each `r_k^2` its expectation without correlation is taken.
///
/// # Source
/// The effective number of observations of a variance: G. V. Bayley, J. M. Hammersley, *The "effective" number of independent observations in an autocorrelated
/// time series*, Suppl. J. R. Stat. Soc. 8 (1946), 184-197 (from memory).
fn independent_fraction(residuals: &[Vec<Option<f64>>]) -> f64 {
    let n = residuals.len();
    let all: Vec<f64> = residuals.iter().flatten().flatten().map(|e| e * e).collect();
    let square = all.iter().sum::<f64>() / all.len().max(1) as f64;
    if n < 2 || square <= 0.0 {
        return 1.0;
    }
    let scans = all.len() as f64 / n as f64;
    let excess = |k: usize| {
        let pairs = residuals.iter().zip(&residuals[k..]);
        let products: Vec<f64> =
            pairs.flat_map(|(a, b)| a.iter().zip(b).filter_map(|(a, b)| Some((*a)? * (*b)?))).collect();
        if products.is_empty() {
            return 0.0;
        }
        let count = products.len() as f64;
        let correlation = (products.iter().sum::<f64>() / count / square).clamp(-1.0, 1.0);
        // The mean over the scans has been taken off, which leaves one scan fewer.
        let by_chance = scans / (count * (scans - 1.0));
        (1.0 - k as f64 / n as f64) * (correlation * correlation - by_chance).max(0.0)
    };
    1.0 / (1.0 + 2.0 * (1..n).map(excess).sum::<f64>())
}

/// The experimental standard deviation; `None` for fewer than two values (JCGM 100:2008, 4.2.2).
fn deviation(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let square: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (1 < values.len()).then(|| (square / (n - 1.0)).sqrt())
}

/// Root of the mean of some squares; `None` without any.
fn root_mean(squares: &[f64]) -> Option<f64> {
    (!squares.is_empty()).then(|| (squares.iter().sum::<f64>() / squares.len() as f64).sqrt())
}

/// The uncertainty of a pitch follows from that of its angle and from the known length: its budget states only the length.
fn pitches(mean: &mut Station, scans: &[&Station]) {
    for (pitch, angle) in [
        (StationColumn::PitchM, StationColumn::BladeAngleDeg),
        (StationColumn::FacePitchM, StationColumn::FaceAngleDeg),
    ] {
        let Some((value, u)) = angle.get(mean).zip(angle.u(mean)).filter(|_| pitch.get(mean).is_some())
        else {
            continue;
        };
        let slope = std::f64::consts::TAU * mean.radius_m / value.to_radians().cos().powi(2);
        let lengths: Vec<f64> =
            scans.iter().map(|s| s.budget.part(pitch, UncertaintySource::Length)).collect();
        let length = lengths.iter().sum::<f64>() / lengths.len().max(1) as f64;
        pitch.set_u(mean, Some((u.to_radians() * slope).hypot(length)));
        let values: Vec<f64> = scans.iter().filter_map(|s| pitch.get(s)).collect();
        if let Some(scatter) = deviation(&values) {
            mean.scatter.set(pitch, scatter);
        }
    }
}

/// The flag of a mean over blades as that of a mean over scans.
fn of_scans(flag: Flag) -> Flag {
    match flag {
        Flag::OfBlade { index, flag } => Flag::OfScan { index, flag },
        Flag::MeanOfSome { keys, blades } => Flag::MeanOfSomeScans { keys, scans: blades },
        Flag::Refused { .. } => Flag::Refused { reason: "no scan could be measured here".to_owned() },
        other => other,
    }
}

fn sha256(table: &StationTable) -> &str {
    table.source.as_ref().map_or("", |s| s.sha256.as_str())
}

/// The name of a scan's file, else its number.
fn name(table: &StationTable, k: usize) -> String {
    let file = table.source.as_ref().map(|s| s.file.clone()).filter(|f| !f.is_empty());
    file.unwrap_or_else(|| format!("scan {}", k + 1))
}

/// Whether a scan can be one of the same part as the first.
fn same_part(first: &StationTable, table: &StationTable, k: usize) -> Result<(), RepeatsError> {
    let (file, of) = (name(table, k), name(first, 0));
    if table.blade.blades_in_scan != first.blade.blades_in_scan {
        let words = |t: &StationTable| match t.blade.blades_in_scan {
            Some(1) => "a lone blade".to_owned(),
            Some(n) => format!("a propeller with {n} blades"),
            None => "an unknown number of blades".to_owned(),
        };
        let (blades, first_blades) = (words(table), words(first));
        return Err(RepeatsError::OtherBlades { file, blades, first: of, first_blades });
    }
    let radii = [table.blade.radius_m, first.blade.radius_m];
    let near = (radii[0] - radii[1]).abs() <= OTHER_SIZE * radii[1];
    if !near {
        return Err(RepeatsError::OtherSize {
            file,
            radius_m: radii[0],
            first: of,
            first_radius_m: radii[1],
        });
    }
    if table.hand() != first.hand() {
        return Err(RepeatsError::OtherHand {
            file,
            hand: table.hand(),
            first: of,
            first_hand: first.hand(),
        });
    }
    let pairs = || table.stations.iter().zip(&first.stations);
    if table.stations.len() != first.stations.len()
        || pairs().any(|(a, b)| SAME_RATIO < (a.radius_ratio - b.radius_ratio).abs())
    {
        return Err(RepeatsError::OtherStations { file, first: of });
    }
    // Limits are fractions of the figure itself or, below, in its unit.
    let shapes = [
        (StationColumn::ChordM, OTHER_CHORD, true),
        (StationColumn::BladeAngleDeg, OTHER_ANGLE_DEG, false),
        (StationColumn::ThicknessM, OTHER_THICKNESS, true),
        (StationColumn::CamberRatio, OTHER_CAMBER, false),
    ];
    for (column, limit, is_relative) in shapes {
        let both: Vec<[&Station; 2]> = pairs()
            .filter(|(a, b)| column.get(a).is_some() && column.get(b).is_some())
            .map(|(a, b)| [a, b])
            .collect();
        let of_pairs = |f: &dyn Fn([&Station; 2]) -> f64| median(both.iter().map(|p| f(*p)).collect());
        let figure = |s: &Station| column.get(s).unwrap_or(0.0);
        let u = |s: &Station| column.u(s).unwrap_or(0.0);
        let Some(difference) = of_pairs(&|[a, b]| (figure(a) - figure(b)).abs()) else { continue };
        let stated = of_pairs(&|[a, b]| u(a).hypot(u(b))).unwrap_or(0.0);
        let size = of_pairs(&|[_, b]| figure(b)).unwrap_or(0.0);
        let limit = if is_relative { limit * size } else { limit };
        if limit < difference && OTHER_BY_U * stated < difference {
            let shown = column.shown();
            let amount = if is_relative {
                format!("{:.0} %", PERCENT * difference / size)
            } else {
                let unit = if shown.unit == "%" { "% of the chord" } else { shown.unit };
                format!("{} {unit}", shown.text(Some(difference)))
            };
            return Err(RepeatsError::OtherShape { file, first: of, quantity: shown.label, amount });
        }
    }
    Ok(())
}

/// The lower median; `None` without values.
fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len().saturating_sub(1) / 2).copied()
}

/// The stations of a scan at the radii of the mean. Where the scale is a guess, tip radii differ a little, and stations are the same fractions of them.
fn at_radius(table: &StationTable, first: &StationTable, radius_m: f64) -> Vec<Station> {
    let mut stations = table.stations.clone();
    let stretch = radius_m / first.blade.radius_m;
    for (s, place) in stations.iter_mut().zip(&first.stations) {
        s.radius_ratio = place.radius_ratio;
        s.radius_m = place.radius_m * stretch;
    }
    stations
}

/// A figure of the blade as the mean over the scans. Its uncertainty is what they share on average, with the scatter of the mean (JCGM 100:2008, 4.2.3) in
/// addition: such figures have no test of their own.
fn mean_figure(figures: &[(Option<f64>, Option<f64>)]) -> (Option<f64>, Option<f64>) {
    let values: Option<Vec<f64>> = figures.iter().map(|f| f.0).collect();
    let Some(values) = values.filter(|v| !v.is_empty()) else { return (None, None) };
    let n = values.len() as f64;
    let us: Option<Vec<f64>> = figures.iter().map(|f| f.1).collect();
    let scatter = deviation(&values).unwrap_or(0.0) / n.sqrt();
    let u = us.map(|us| (us.iter().sum::<f64>() / n).hypot(scatter));
    let first = values[0];
    // Adding differences leaves equal values as they are.
    (Some(first + values.iter().map(|v| v - first).sum::<f64>() / n), u)
}

fn mean_blade(tables: &[StationTable]) -> BladeFigures {
    let first = tables.first().map(|t| t.blade.clone()).unwrap_or_default();
    let mean = |of: fn(&BladeFigures) -> (Option<f64>, Option<f64>)| {
        mean_figure(&tables.iter().map(|t| of(&t.blade)).collect::<Vec<_>>())
    };
    let radius = mean(|b| (Some(b.radius_m), b.u.radius_m));
    let root = mean(|b| (b.root_radius_m, b.u.root_radius_m));
    let length = mean(|b| (b.blade_length_m, b.u.blade_length_m));
    let activity = mean(|b| (b.activity_factor, b.u.activity_factor));
    let volume = mean(|b| (b.volume_m3, b.u.volume_m3));
    let angle = mean(|b| (b.setting.as_ref().map(|s| s.angle_deg), None));
    let mut setting = first.setting.clone();
    if let Some((setting, angle_deg)) = setting.as_mut().zip(angle.0) {
        setting.angle_deg = angle_deg;
    }
    BladeFigures {
        radius_m: radius.0.unwrap_or(first.radius_m),
        root_radius_m: root.0,
        blade_length_m: length.0,
        activity_factor: activity.0,
        volume_m3: volume.0,
        setting,
        u: BladeUncertainty {
            radius_m: radius.1,
            root_radius_m: root.1,
            blade_length_m: length.1,
            activity_factor: activity.1,
            volume_m3: volume.1,
            extra: Map::new(),
        },
        ..first
    }
}

/// What was repaired in all scans together.
fn all_repairs(tables: &[StationTable]) -> Repairs {
    let mut all = Repairs::default();
    for repairs in tables.iter().filter_map(|t| t.repairs.as_ref()) {
        all.duplicate_vertices += repairs.duplicate_vertices;
        all.degenerate_triangles += repairs.degenerate_triangles;
        all.stray_components += repairs.stray_components;
        all.flipped_triangles += repairs.flipped_triangles;
        all.non_finite_vertices += repairs.non_finite_vertices;
        for (key, value) in &repairs.extra {
            let before = all.extra.get(key).and_then(crate::Value::as_u64).unwrap_or(0);
            if let Some(count) = value.as_u64() {
                all.count(key, before.saturating_add(count));
            }
        }
    }
    all
}

/// The warnings of all scans: once where all have the same, else with the name of the scan.
fn merged(tables: &[StationTable]) -> Vec<Notice> {
    let mut all: Vec<Notice> = Vec::new();
    for (k, table) in tables.iter().enumerate() {
        for warning in &table.warnings {
            let common = tables.iter().all(|t| t.warnings.contains(warning));
            let own = if common {
                warning.clone()
            } else {
                let code = if warning.code().is_empty() { "" } else { ": " };
                Notice::read(&format!("{}{code}{}: {}", warning.code(), name(table, k), warning.sentence()))
            };
            if !all.contains(&own) {
                all.push(own);
            }
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHORD: StationColumn = StationColumn::ChordM;

    fn close(a: Option<f64>, b: f64) -> bool {
        a.is_some_and(|a| (a - b).abs() < 1e-9 * b.abs().max(1e-3))
    }

    /// A scan of a blade of 1 m with the given chords at 0.5 R, 0.6 R ..., their independent `u`, and a shared one.
    fn scan(file: &str, chords_m: &[f64], own_m: f64, shared_m: f64) -> StationTable {
        let station = |(k, chord_m): (usize, &f64)| {
            let mut s = Station { chord_m: Some(*chord_m), ..Station::at(0.5 + 0.01 * k as f64, 1.0) };
            s.add_uncertainty(CHORD, UncertaintySource::Scan, own_m);
            s.add_uncertainty(CHORD, UncertaintySource::Definition, shared_m);
            s
        };
        StationTable {
            source: Some(Source { file: file.to_owned(), sha256: format!("of {file}"), ..Source::default() }),
            blade: BladeFigures { radius_m: 1.0, blades_in_scan: Some(1), ..BladeFigures::default() },
            stations: chords_m.iter().enumerate().map(station).collect(),
            ..StationTable::default()
        }
    }

    fn chord_of(table: &StationTable) -> &RepeatedQuantity {
        let repeats = table.repeats.as_ref().unwrap();
        repeats.quantities.iter().find(|q| q.column == CHORD).unwrap()
    }

    #[test]
    fn two_scans_at_one_station_are_as_by_hand() {
        // 100 and 102 mm, u 1 mm each: mean 101, s = sqrt 2, chi^2 = 1 + 1 = 2 with one degree of freedom.
        let mean =
            mean_of_repeats(&[scan("a", &[0.100], 1e-3, 5e-4), scan("b", &[0.102], 1e-3, 5e-4)]).unwrap();
        let chord = chord_of(&mean);
        assert!(close(mean.stations[0].chord_m, 0.101));
        assert!(close(chord.scatter, 2f64.sqrt() * 1e-3) && close(chord.stated, 1e-3), "{chord:?}");
        assert!(close(chord.ratio, 2f64.sqrt()) && close(chord.degrees_of_freedom, 1.0));
        // The exact limit is the 97.5 % point of the normal distribution, 1.96.
        assert!(chord.limit.is_some_and(|l| (l - 1.96).abs() < 0.03), "{chord:?}");
        assert_eq!(chord.agreement, Agreement::Agree);
        // The independent part averages out, the shared one stays: sqrt(1/2 + 1/4).
        assert!(close(mean.stations[0].u.chord_m, 0.75f64.sqrt() * 1e-3));
        assert!(close(mean.stations[0].scatter.get(CHORD), 2f64.sqrt() * 1e-3));
        assert_eq!(mean.repeats.unwrap().verdict(), "the scans agree within their stated uncertainty");
        assert!(mean.warnings.is_empty());
    }

    #[test]
    fn scans_that_differ_by_more_than_they_state_raise_u_to_their_scatter() {
        // 100 and 104 mm, u 0.5 mm each: chi^2 = 16 + 16 = 32, ratio sqrt 32 = 5.66.
        let mean =
            mean_of_repeats(&[scan("a", &[0.100], 5e-4, 3e-4), scan("b", &[0.104], 5e-4, 3e-4)]).unwrap();
        let chord = chord_of(&mean);
        assert!(close(chord.ratio, 32f64.sqrt()));
        assert_eq!(chord.agreement, Agreement::Raised);
        // The independent part becomes s / sqrt 2 = 2 mm.
        let u = mean.stations[0].u.chord_m;
        assert!(close(u, 2e-3f64.hypot(3e-4)), "{u:?}");
        let raised = mean.stations[0].budget.part(CHORD, UncertaintySource::Repeats);
        assert!(close(Some(raised), (4e-6f64 - 0.125e-6).sqrt()), "{raised}");
        assert_eq!(
            mean.warnings[0].text(),
            "repeats-disagree: chord differs between the scans by 5.7 times what the stated uncertainties explain; u of chord was raised accordingly. Measure each scan on its own to see which one departs"
        );
    }

    #[test]
    fn the_ratio_is_about_the_weighted_mean_and_the_figure_is_the_plain_one() {
        // 100 mm with u 1 mm and 103 mm with u 2 mm: weights 1 and 1/4, centre 100.6, chi^2 = 0.36 + 5.76/4 = 1.8.
        let mean =
            mean_of_repeats(&[scan("a", &[0.100], 1e-3, 0.0), scan("b", &[0.103], 2e-3, 0.0)]).unwrap();
        assert!(close(chord_of(&mean).ratio, 1.8f64.sqrt()), "{:?}", chord_of(&mean));
        assert!(close(mean.stations[0].chord_m, 0.1015));
        assert!(close(mean.stations[0].u.chord_m, 5f64.sqrt() * 0.5e-3));
    }

    #[test]
    fn scans_that_agree_too_well_do_not_lower_u() {
        let mean =
            mean_of_repeats(&[scan("a", &[0.100; 9], 1e-3, 0.0), scan("b", &[0.100; 9], 1e-3, 0.0)]).unwrap();
        assert_eq!(chord_of(&mean).ratio, Some(0.0));
        assert!(close(mean.stations[4].u.chord_m, 1e-3 / 2f64.sqrt()));
    }

    #[test]
    fn stations_whose_errors_go_together_count_as_one() {
        let shifted = |m: f64| vec![0.100 + m; 24];
        let mean =
            mean_of_repeats(&[scan("a", &shifted(0.0), 1e-3, 0.0), scan("b", &shifted(2.4e-3), 1e-3, 0.0)])
                .unwrap();
        // Correlation 1 at every distance k from 24 - k pairs: the fraction is 1 / (1 + 2 * 253 / 24).
        let chord = chord_of(&mean);
        assert!(close(chord.degrees_of_freedom, 24.0 / (1.0 + 2.0 * 253.0 / 24.0)), "{chord:?}");
        // One common shift of 2.4 mm over sqrt 2 mm is 1.7: chance.
        assert_eq!(chord.agreement, Agreement::Agree, "{chord:?}");
        // The same size with changing signs, in a pattern without a period, is not.
        let signs = [1.0, 1.0, -1.0, 1.0, 1.0, 1.0, -1.0, -1.0, -1.0, 1.0, -1.0, -1.0, 1.0, -1.0, 1.0, -1.0];
        let changing: Vec<f64> = signs.iter().map(|sign| 0.100 + 2.4e-3 * sign).collect();
        let mean =
            mean_of_repeats(&[scan("a", &[0.100; 16], 1e-3, 0.0), scan("b", &changing, 1e-3, 0.0)]).unwrap();
        assert_eq!(chord_of(&mean).agreement, Agreement::Raised, "{:?}", chord_of(&mean));
        assert!(chord_of(&mean).degrees_of_freedom.is_some_and(|v| 6.0 < v));
    }

    #[test]
    fn limits_are_those_of_tables() {
        // Chi-square above which 5 % lie: 5.991 for 2, 18.307 for 10, 67.505 for 50 degrees of freedom (from memory).
        for (freedom, square) in [(2.0, 5.991), (10.0, 18.307), (50.0, 67.505)] {
            let exact = f64::sqrt(square / freedom);
            assert!((ratio_limit(freedom) / exact - 1.0).abs() < 0.01, "{freedom}");
        }
    }

    #[test]
    fn a_figure_that_is_exact_by_convention_stays_exact_and_is_not_tested() {
        let exact = |file: &str| {
            let mut table = scan(file, &[0.1, 0.11], 1e-3, 0.0);
            for s in &mut table.stations {
                s.blade_angle_deg = Some(0.0);
                s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Scan, 0.1);
                s.u.blade_angle_deg = Some(0.0);
            }
            table
        };
        let mean = mean_of_repeats(&[exact("a"), exact("b")]).unwrap();
        assert_eq!(mean.stations[0].u.blade_angle_deg, Some(0.0));
        let angle = &mean.repeats.unwrap().quantities[1];
        assert_eq!((angle.column, angle.agreement), (StationColumn::BladeAngleDeg, Agreement::NotTested));
    }

    #[test]
    fn the_uncertainty_of_a_pitch_follows_from_that_of_its_angle() {
        let set = |file: &str, angle_deg: f64| {
            let mut table = scan(file, &[0.1], 1e-3, 0.0);
            let s = &mut table.stations[0];
            s.blade_angle_deg = Some(angle_deg);
            s.add_uncertainty(StationColumn::BladeAngleDeg, UncertaintySource::Scan, 0.1);
            s.pitch_m = Some(crate::geometric_pitch_m(s.radius_m, angle_deg));
            s.add_uncertainty(StationColumn::PitchM, UncertaintySource::Length, 1e-3);
            table
        };
        let mean = mean_of_repeats(&[set("a", 45.0), set("b", 45.0)]).unwrap();
        // 2 pi r / cos^2(45 deg) = 2 pi; the angle's u is 0.1 deg / sqrt 2.
        let by_angle = std::f64::consts::TAU * (0.1 / 2f64.sqrt()).to_radians();
        assert!(close(mean.stations[0].u.pitch_m, by_angle.hypot(1e-3)));
    }

    #[test]
    fn flags_and_warnings_name_their_scan() {
        let mut tables = [scan("a.ply", &[0.1, 0.1], 1e-3, 0.0), scan("b.ply", &[0.1, 0.1], 1e-3, 0.0)];
        tables[1].stations[1] = Station::refused(0.51, 1.0, "the cut is open");
        tables[0].warnings = vec![Notice::read("no-length: no length is known")];
        tables[1].warnings = vec![
            Notice::read("no-length: no length is known"),
            Notice::read("open-surface: the surface is open"),
        ];
        let mean = mean_of_repeats(&tables).unwrap();
        let flags: Vec<String> = mean.stations[1].flags.iter().map(Flag::text).collect();
        assert!(flags[0].starts_with("mean-of-some-scans: not all 2 scans have chord"), "{flags:?}");
        assert_eq!(flags[1], "scan 2: refused: the cut is open");
        let warnings: Vec<String> = mean.warnings.iter().map(Notice::text).collect();
        assert_eq!(warnings, ["no-length: no length is known", "open-surface: b.ply: the surface is open"]);
    }

    #[test]
    fn what_is_no_scan_of_the_same_blade_is_refused_with_its_name() {
        let a = scan("a.ply", &[0.1; 5], 1e-4, 0.0);
        let changed = |change: &dyn Fn(&mut StationTable)| {
            let mut b = scan("b.ply", &[0.1; 5], 1e-4, 0.0);
            change(&mut b);
            mean_of_repeats(&[a.clone(), b]).unwrap_err()
        };
        let frame = crate::Frame { hand: Hand::Left, ..crate::Frame::default() };
        for (error, code) in [
            (changed(&|b| b.blade.blades_in_scan = Some(2)), "other-number-of-blades"),
            (changed(&|b| b.blade.radius_m = 1.1), "other-size"),
            (changed(&|b| b.frame = Some(frame.clone())), "other-hand"),
            (changed(&|b| b.stations.truncate(3)), "other-stations"),
            (changed(&|b| b.source = a.source.clone()), "same-scan"),
            (changed(&|b| b.stations = scan("", &[0.12; 5], 1e-4, 0.0).stations), "other-shape"),
        ] {
            assert_eq!(error.code(), code);
            let named = if code == "same-scan" { "a.ply" } else { "b.ply" };
            assert!(error.to_string().starts_with(named) && error.to_string().contains("a.ply"), "{error}");
        }
        // A scan whose uncertainty is as large as the difference may be a bad scan of the same blade.
        assert!(mean_of_repeats(&[a.clone(), scan("b.ply", &[0.12; 5], 0.01, 0.0)]).is_ok());
        assert_eq!(mean_of_repeats(&[a]).unwrap_err(), RepeatsError::TooFew);
    }

    #[test]
    fn figures_of_the_blade_are_means_with_their_scatter() {
        let with = |file: &str, factor: f64| {
            let mut table = scan(file, &[0.1], 1e-3, 0.0);
            (table.blade.activity_factor, table.blade.u.activity_factor) = (Some(factor), Some(0.3));
            table
        };
        let blade = mean_of_repeats(&[with("a", 90.0), with("b", 91.0)]).unwrap().blade;
        // s / sqrt 2 = 0.5.
        assert!(close(blade.activity_factor, 90.5) && close(blade.u.activity_factor, 0.3f64.hypot(0.5)));
        assert_eq!((blade.radius_m, blade.volume_m3), (1.0, None));
    }
}
