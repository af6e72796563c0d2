//! The blades of one propeller compared with one another: each with the mean of the others, two with each other.
//!
//! The statistics are those of [`super::compare`]. What all blades of a scan have in common (scale, definition, resolution, kind of angle) drops out; the direction of the axis of
//! rotation turns all stations of a blade by one angle, and counts once. The blade that departs most is named first, then the next among those that are left, until chance explains the
//! rest. Chance may call one propeller of twenty unlike whose blades are equal: a third of that for differences at a station, a third for those along a whole blade, and a third for tip
//! radius, track and spacing.

use std::collections::BTreeMap;

use bladeform_quantity::{COVERAGE_FACTOR_95, Hand, Measured, root_sum_square};

use super::balance::{Balance, balance_of};
use super::verdict::{Difference, FigureVerdict, LEAST_STATIONS, is_length, of_figure, two_sided_limit};
use super::whole_blades::{BladeAlone, WholeFigure, Wholes};
use crate::mean::same_station;
use crate::{
    AxisBy, CompareError, ComparisonNotice, Notice, Station, StationColumn, StationTable, UncertaintySource,
};

/// The figures of which blades are compared, in the order of the documents.
pub const BLADE_FIGURES: [StationColumn; 5] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::ThicknessM,
    StationColumn::CamberRatio,
];
/// One propeller of equal blades in sixty may be called unlike for each of three kinds of difference: one in twenty altogether, as for two tables.
const CHANCE: f64 = 0.05 / 3.0;

/// The median of the square of a standard normal variable (R. A. Fisher, F. Yates, *Statistical tables*, table IV, chi-square with one degree of freedom: 0.455).
const MEDIAN_SQUARE: f64 = 0.455;

/// One figure of one blade at one station and the mean of the others there, in the unit of the column's key.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BladeRow {
    /// The number of the blade, counted from 0.
    pub index: u64,
    /// Radius of the station, m.
    pub radius_m: f64,
    /// The same as a fraction of the tip radius.
    pub radius_ratio: f64,
    /// The figure.
    pub column: StationColumn,
    /// That of this blade, and the mean of the others.
    pub values: [f64; 2],
    /// The first less the second.
    pub difference: f64,
    /// Standard uncertainty of the difference; `None` if none is stated, or it is not known.
    pub u: Option<f64>,
    /// The difference less what the whole blades differ by; `None` if it was not judged.
    pub beyond_shift: Option<Measured>,
}

impl BladeRow {
    /// Whether the difference exceeds 2 u; `None` without u.
    #[must_use]
    pub fn is_significant(&self) -> Option<bool> {
        self.u.map(|u| COVERAGE_FACTOR_95 * u < self.difference.abs())
    }
}

/// In what a blade departs.
#[derive(Clone, Debug, PartialEq)]
pub enum Departing {
    /// A figure of its stations.
    Figure(FigureVerdict),
    /// A figure of the whole blade: the difference from the others.
    Whole(WholeFigure, Measured),
}

/// A blade that departs from others.
#[derive(Clone, Debug, PartialEq)]
pub struct BladeDeparture {
    /// The number of the blade, counted from 0.
    pub index: u64,
    /// The blades with whose mean it was compared. A single one is not better known than the blade itself: neither is the odd one.
    pub others: Vec<u64>,
    /// In what, where, by how much.
    pub what: Departing,
}

/// The least differences of a figure that would have counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeenFrom {
    /// The figure.
    pub column: StationColumn,
    /// In shape at a usual station, in the unit of the column's key.
    pub shape: f64,
    /// Along the whole blade: a fraction for lengths, in the unit of the column's key for the rest; `None` if it is not judged.
    pub shift: Option<f64>,
}

/// What the comparison says as a whole.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BladesVerdict {
    /// How many standard uncertainties a difference in shape at a station must exceed to count.
    pub limit: f64,
    /// How many a difference along the whole blade must exceed.
    pub shift_limit: f64,
    /// How many one in tip radius, track or azimuth must exceed.
    pub whole_limit: f64,
    /// The departures, by figure.
    pub departures: Vec<BladeDeparture>,
    /// What would have counted on the blade known worst, by figure.
    pub seen_from: Vec<SeenFrom>,
    /// The figures of whole blades that were judged.
    pub wholes: Vec<WholeFigure>,
    /// Whether the uncertainties contain the accuracy of the scan over long distances.
    pub has_accuracy: bool,
}

impl BladesVerdict {
    /// Whether no difference counts. `None` if nothing could be judged.
    #[must_use]
    pub fn is_alike(&self) -> Option<bool> {
        (!self.seen_from.is_empty() || !self.wholes.is_empty()).then_some(self.departures.is_empty())
    }
}

/// The blades of a propeller compared.
#[derive(Clone, Debug, PartialEq)]
pub struct BladesComparison {
    /// Name of the table.
    pub name: String,
    /// Tip radius, track and azimuth of each blade.
    pub blades: Vec<BladeAlone>,
    /// Radius of the outermost station that all blades have, m: where the track is taken.
    pub track_radius_m: f64,
    /// The figures at the stations, by blade and figure, from root to tip. Of two blades only the first has rows.
    pub rows: Vec<BladeRow>,
    /// Whether the blades are alike, and which one departs where.
    pub verdict: BladesVerdict,
    /// The static unbalance, if a density was stated ([`BladesComparison::add_balance`]).
    pub balance: Option<Balance>,
    /// What a reader must know about the comparison.
    pub notes: Vec<Notice>,
}

impl BladesComparison {
    /// Adds the static unbalance of the propeller at a uniform density, kg/m3, and what weights at a radius, m, would balance it. A notice says what it is worth, or why there is none.
    /// `table`: the one that was compared.
    pub fn add_balance(&mut self, table: &StationTable, density_kg_m3: f64, weight_radius_m: f64) {
        let notes = match balance_of(table, density_kg_m3, weight_radius_m) {
            Some((balance, notes)) => {
                self.balance = Some(balance);
                notes
            }
            None => vec![ComparisonNotice::NoMoment],
        };
        self.notes.extend(notes.iter().map(Notice::of));
    }
}

/// Compares the blades of a propeller with one another. `name`: of the table, for its readers.
///
/// # Errors
/// [`CompareError::NoBlades`] for a table of one blade; [`CompareError::NoCommonStation`] if the blades have no station in common.
pub fn compare_blades(table: &StationTable, name: &str) -> Result<BladesComparison, CompareError> {
    if table.blades.len() < 2 {
        return Err(CompareError::NoBlades { name: name.to_owned() });
    }
    let all = Blades::of(table);
    let Some(track_radius_m) = all.common.last().map(|s| s[0].radius_m) else {
        return Err(CompareError::NoCommonStation { name: name.to_owned() });
    };
    let wholes = Wholes::of(&all);
    let mut notes = Vec::new();
    match table.rotation.as_ref().map(|r| r.axis_by) {
        None => notes.push(ComparisonNotice::AxisNotStated),
        Some(AxisBy::Symmetry) => notes.push(ComparisonNotice::AxisOfBlades),
        Some(AxisBy::HubWall) => {}
    }
    let (mut verdict, rows) = all.judged(&wholes);
    verdict.has_accuracy = all.has_accuracy();
    if !all.has_accuracy() {
        notes.push(ComparisonNotice::BladesWithoutAccuracy);
    }
    if rows.iter().any(|r| all.judges_shift(r.column) && r.u.is_none()) {
        notes.push(ComparisonNotice::WithoutUncertainty);
    }
    Ok(BladesComparison {
        name: name.to_owned(),
        blades: wholes.alone(),
        track_radius_m,
        rows,
        verdict,
        balance: None,
        notes: notes.iter().map(Notice::of).collect(),
    })
}

/// The blades of a table and what holds for all of them.
pub(super) struct Blades<'a> {
    pub table: &'a StationTable,
    /// The stations that all blades have: of each, that of every blade.
    pub common: Vec<Vec<&'a Station>>,
    /// Directions of the blades across the axis.
    pub spans: Vec<[f64; 2]>,
    /// Standard uncertainty of the direction of the axis in each way across it, rad; `None` where differences between blades cannot be told from a tilt.
    pub u_tilt: Option<f64>,
    /// Of its place, m.
    pub u_place_m: Option<f64>,
    /// By how much the noise of a figure and its edges were raised to the scatter of blades, which is taken back, and what the scatter from station to station makes of it.
    raised: BTreeMap<StationColumn, [f64; 2]>,
    /// 1 where azimuths rise in the direction in which the blades move, -1 on a left-hand propeller.
    pub moves: f64,
}

impl<'a> Blades<'a> {
    pub(super) fn of(table: &'a StationTable) -> Self {
        let at = |s: &'a Station| {
            table.blades.iter().map(|b| same_station(&b.stations, s.radius_m)).collect::<Option<Vec<_>>>()
        };
        let measured = |stations: &Vec<&Station>| {
            stations.iter().all(|s| s.mid_chord_y_m.is_some() || s.chord_m.is_some())
        };
        let count = table.blades.len() as f64;
        let span = |(k, azimuth): (usize, Option<f64>)| {
            let (sin, cos) = azimuth.unwrap_or(360.0 * k as f64 / count).to_radians().sin_cos();
            [cos, sin]
        };
        let rotation = table.rotation.as_ref();
        let by_wall = rotation.filter(|r| r.axis_by == AxisBy::HubWall);
        let mut all = Self {
            table,
            raised: BTreeMap::new(),
            common: table.blades[0].stations.iter().filter_map(at).filter(measured).collect(),
            spans: table.blades.iter().map(|b| b.azimuth_deg).enumerate().map(span).collect(),
            u_tilt: by_wall.and_then(|r| r.u_axis_tilt_deg).map(f64::to_radians),
            u_place_m: rotation.and_then(|r| r.u_axis_place_m),
            moves: if table.hand() == Hand::Left { -1.0 } else { 1.0 },
        };
        let columns = BLADE_FIGURES.into_iter().chain([StationColumn::MidChordXM, StationColumn::MidChordYM]);
        for column in columns {
            let before = rotation.and_then(|r| r.raised_to_scatter.get(&column)).copied().unwrap_or(1.0);
            all.raised.insert(column, [before.max(1.0), 1.0]);
            let found = all.scatter(column).max(1.0);
            all.raised.insert(column, [before.max(1.0), found]);
        }
        all
    }

    /// A figure of blade `k` at one of the common stations.
    pub(super) fn figure(&self, stations: &[&Station], k: usize, column: StationColumn) -> Option<OfBlade> {
        let [before, found] = self.raised.get(&column).copied().unwrap_or([1.0; 2]);
        let mut of = OfBlade::of(stations[k], column, before)?;
        // Both together are as large as the scatter shows; edges keep their part.
        let together = found * of.noise.hypot(of.edge);
        of.noise = (together * together - of.edge * of.edge).max(of.noise * of.noise).sqrt();
        Some(of)
    }

    /// How much more the differences between blades scatter from station to station than noise and edges explain: each less the line through its neighbours, so that neither a difference along
    /// the whole blade nor one that changes evenly along it counts; the median, so that neither does a part of the blade that differs.
    fn scatter(&self, column: StationColumn) -> f64 {
        let all: Vec<usize> = (0..self.count()).collect();
        let mut ratios = Vec::new();
        for &k in &all {
            let others: Vec<usize> = all.iter().copied().filter(|j| *j != k).collect();
            let at = |stations: &Vec<&Station>| {
                let own = self.figure(stations, k, column)?;
                let rest: Option<Vec<OfBlade>> =
                    others.iter().map(|&j| self.figure(stations, j, column)).collect();
                let rest = rest?;
                let squares = rest.iter().map(|o| o.noise.powi(2) + o.edge.powi(2)).sum::<f64>();
                let n = rest.len() as f64;
                let u = (own.noise.powi(2) + own.edge.powi(2) + squares / (n * n)).sqrt();
                Some((stations[k].radius_m, own.value - rest.iter().map(|o| o.value).sum::<f64>() / n, u))
            };
            let found: Vec<(f64, f64, f64)> = self.common.iter().filter_map(at).collect();
            for w in found.windows(3) {
                let [(r0, a, ua), (r1, b, ub), (r2, c, uc)] = [w[0], w[1], w[2]];
                let t = (r1 - r0) / (r2 - r0);
                let off = b - (1.0 - t) * a - t * c;
                let u = root_sum_square(&[ub, (1.0 - t) * ua, t * uc]);
                if 0.0 < u {
                    ratios.push((off / u).powi(2));
                }
            }
        }
        ratios.sort_by(f64::total_cmp);
        ratios.get(ratios.len() / 2).map_or(1.0, |middle| (middle / MEDIAN_SQUARE).sqrt())
    }

    /// Whether the rows contain the accuracy of the scan over long distances.
    fn has_accuracy(&self) -> bool {
        let stated = |s: &&Station| {
            BLADE_FIGURES.into_iter().any(|c| 0.0 < s.budget.part(c, UncertaintySource::LongRange))
        };
        self.common.iter().flatten().any(stated)
    }

    pub(super) fn count(&self) -> usize {
        self.table.blades.len()
    }

    /// Azimuth of the place of even spacing that is nearest to blade `k`, deg, rising as the azimuths of the table: the first blade's is 0.
    pub(super) fn even_deg(&self, k: usize) -> Option<f64> {
        let step = 360.0 / self.count() as f64;
        Some(step * (self.table.blades[k].azimuth_deg? / step).round())
    }

    /// How much of an error of the axis across itself is in the difference of blade `k` from the mean of others.
    pub(super) fn lever(&self, k: usize, others: &[usize]) -> f64 {
        let mean =
            |axis: usize| others.iter().map(|&j| self.spans[j][axis]).sum::<f64>() / others.len() as f64;
        (self.spans[k][0] - mean(0)).hypot(self.spans[k][1] - mean(1))
    }

    /// Whether a difference of a figure along the whole blade can be told from an error of the axis.
    fn judges_shift(&self, column: StationColumn) -> bool {
        !super::is_angle(column) || self.u_tilt.is_some()
    }

    /// The differences of blade `k` from the mean of others at the stations that all of them have.
    fn differences(
        &self,
        column: StationColumn,
        k: usize,
        others: &[usize],
    ) -> Vec<(Difference, [f64; 2], f64)> {
        let tilt = match column {
            _ if super::is_angle(column) => self.u_tilt.unwrap_or(0.0).to_degrees() * self.lever(k, others),
            _ => 0.0,
        };
        let at = |stations: &Vec<&Station>| {
            let own = self.figure(stations, k, column)?;
            let rest: Option<Vec<OfBlade>> =
                others.iter().map(|&j| self.figure(stations, j, column)).collect();
            let rest = rest?;
            let (mean, noise, own_u, all) = own.less(&rest, tilt);
            let unit = if is_length(column) { mean.abs().max(f64::MIN_POSITIVE) } else { 1.0 };
            let ratio = stations[k].radius_m / self.table.blade.radius_m;
            let amount = own.value - mean;
            Some((
                Difference { ratio, amount, noise, own: own_u, all, unit },
                [own.value, mean],
                stations[k].radius_m,
            ))
        };
        self.common.iter().filter_map(at).collect()
    }

    fn judged(&self, wholes: &Wholes<'_>) -> (BladesVerdict, Vec<BladeRow>) {
        // Two blades are one comparison.
        let compared = if self.count() == 2 { 1 } else { self.count() };
        let all: Vec<usize> = (0..self.count()).collect();
        let others = |k: usize| all.iter().copied().filter(|j| *j != k).collect::<Vec<usize>>();
        let usable = |d: &(Difference, [f64; 2], f64)| 0.0 < d.0.own && d.0.all.is_finite();
        let mut stations = 0;
        let mut columns = Vec::new();
        for column in BLADE_FIGURES {
            let counts = (0..compared)
                .map(|k| self.differences(column, k, &others(k)).iter().filter(|d| usable(d)).count());
            let (least, sum) = counts.fold((usize::MAX, 0), |(least, sum), n| (least.min(n), sum + n));
            if LEAST_STATIONS <= least {
                columns.push(column);
                stations += sum;
            }
        }
        let shifts = compared * columns.iter().filter(|c| self.judges_shift(**c)).count();
        let judged = wholes.judged();
        let mut verdict = BladesVerdict {
            limit: two_sided_limit(stations.max(1), CHANCE),
            shift_limit: two_sided_limit(shifts.max(1), CHANCE),
            whole_limit: two_sided_limit((compared * judged.len()).max(1), CHANCE),
            wholes: judged,
            ..BladesVerdict::default()
        };
        let mut rows = Vec::new();
        for k in 0..compared {
            for column in BLADE_FIGURES {
                let found = self.differences(column, k, &others(k));
                rows.extend(self.rows(column, k, &found, columns.contains(&column).then_some(&verdict)));
            }
        }
        for column in columns {
            let shift_limit = self.judges_shift(column).then_some(verdict.shift_limit);
            let limit = verdict.limit;
            let rate = |k: usize, others: &[usize]| {
                let found: Vec<Difference> =
                    self.differences(column, k, others).into_iter().filter(usable).map(|(d, ..)| d).collect();
                (LEAST_STATIONS <= found.len()).then(|| {
                    let (of, beyond) = of_figure(column, &found, limit, shift_limit);
                    let by_shape = beyond.iter().map(|b| b.value.abs() / (limit * b.u)).fold(0.0, f64::max);
                    let by_shift =
                        of.shift.zip(shift_limit).map_or(0.0, |(s, most)| s.value.abs() / (most * s.u));
                    (by_shape.max(by_shift), of)
                })
            };
            let seen: Vec<FigureVerdict> =
                (0..compared).filter_map(|k| Some(rate(k, &others(k))?.1)).collect();
            let by_shift = seen.iter().filter_map(|f| Some(shift_limit? * f.shift?.u)).reduce(f64::max);
            let shape = seen.iter().map(|f| f.seen_from).fold(0.0, f64::max);
            verdict.seen_from.push(SeenFrom { column, shape, shift: by_shift });
            let odd = odd_ones(self.count(), rate);
            verdict.departures.extend(
                odd.into_iter().map(|(k, others, of)| self.departure(k, &others, Departing::Figure(of))),
            );
        }
        for figure in verdict.wholes.clone() {
            let limit = verdict.whole_limit;
            let rate = |k: usize, others: &[usize]| {
                let d = wholes.difference(figure, k, others)?;
                Some((d.value.abs() / (limit * d.u), d))
            };
            let odd = odd_ones(self.count(), rate);
            verdict.departures.extend(
                odd.into_iter().map(|(k, others, d)| self.departure(k, &others, Departing::Whole(figure, d))),
            );
        }
        (verdict, rows)
    }

    fn departure(&self, k: usize, others: &[usize], what: Departing) -> BladeDeparture {
        let index = |k: &usize| self.table.blades[*k].index;
        BladeDeparture { index: index(&k), others: others.iter().map(index).collect(), what }
    }

    /// The rows of a blade's figure; `verdict` if it is judged.
    fn rows(
        &self,
        column: StationColumn,
        k: usize,
        found: &[(Difference, [f64; 2], f64)],
        verdict: Option<&BladesVerdict>,
    ) -> Vec<BladeRow> {
        let stated = |u: f64| (0.0 < u && u.is_finite()).then_some(u);
        let usable: Vec<Difference> =
            found.iter().filter(|d| 0.0 < d.0.own && d.0.all.is_finite()).map(|d| d.0).collect();
        let beyond = verdict.map(|v| of_figure(column, &usable, v.limit, None).1).unwrap_or_default();
        let mut beyond = beyond.into_iter();
        let row = |(d, values, radius_m): &(Difference, [f64; 2], f64)| BladeRow {
            index: self.table.blades[k].index,
            radius_m: *radius_m,
            radius_ratio: d.ratio,
            column,
            values: *values,
            difference: d.amount,
            u: stated(d.all).filter(|_| self.judges_shift(column)),
            beyond_shift: if 0.0 < d.own && d.all.is_finite() { beyond.next() } else { None },
        };
        found.iter().map(row).collect()
    }
}

/// The blades that depart: the worst first, with those that are left; then the next among these. `rate` says how far blade `k` departs from others, in limits, and in what. Of the last two
/// neither is the odd one.
fn odd_ones<T>(
    count: usize,
    rate: impl Fn(usize, &[usize]) -> Option<(f64, T)>,
) -> Vec<(usize, Vec<usize>, T)> {
    let mut left: Vec<usize> = (0..count).collect();
    let mut odd = Vec::new();
    while 1 < left.len() {
        let others = |k: usize| left.iter().copied().filter(|j| *j != k).collect::<Vec<usize>>();
        let tried = if left.len() == 2 { &left[..1] } else { &left[..] };
        let rated = tried.iter().filter_map(|&k| Some((k, rate(k, &others(k))?)));
        let Some((k, (over, what))) = rated.max_by(|a, b| a.1.0.total_cmp(&b.1.0)) else { break };
        if over <= 1.0 {
            break;
        }
        let others = others(k);
        let last = left.len() == 2;
        odd.push((k, others.clone(), what));
        if last {
            break;
        }
        left = others;
    }
    odd
}

/// A figure of one blade at a station with what makes its uncertainty.
pub(super) struct OfBlade {
    pub value: f64,
    /// Standard uncertainty by the noise, anew at each station.
    pub noise: f64,
    /// By edges that no point shows: along the blade, and cut short alike on every blade, though not equally.
    pub edge: f64,
    /// By long-range errors of the scan, which differ between places far apart.
    pub long_range: f64,
    /// By what all blades of a scan have in common.
    common: [f64; COMMON.len()],
}

/// What all blades of a scan have in common: only the difference of two such parts is in a difference of blades.
const COMMON: [UncertaintySource; 5] = [
    UncertaintySource::Definition,
    UncertaintySource::Resolution,
    UncertaintySource::Axes,
    UncertaintySource::Length,
    UncertaintySource::Reference,
];
/// What is anew at each station.
const NOISE: [UncertaintySource; 4] = [
    UncertaintySource::Scan,
    UncertaintySource::Misfit,
    UncertaintySource::Repeats,
    UncertaintySource::Blades,
];

impl OfBlade {
    /// `raised`: by how much what blades do not share was raised to their scatter, which is taken back.
    pub(super) fn of(s: &Station, column: StationColumn, raised: f64) -> Option<Self> {
        let value = column.get(s)?;
        let part = |source| s.budget.part(column, source);
        let by_scatter = (1.0 - 1.0 / (raised * raised)).sqrt() * s.unshared_u(column).unwrap_or(0.0);
        // A table without a budget does not say what its uncertainty is made of: it may err to one side.
        let unstated = if s.budget.of(column).next().is_none() { column.u(s).unwrap_or(0.0) } else { 0.0 };
        Some(Self {
            value,
            noise: (NOISE.map(part).iter().map(|u| u * u).sum::<f64>() - by_scatter * by_scatter)
                .max(0.0)
                .sqrt(),
            edge: part(UncertaintySource::Edge).hypot(unstated),
            long_range: part(UncertaintySource::LongRange),
            common: COMMON.map(part),
        })
    }

    /// What errs to one side along the blade and is not that of the others.
    pub(super) fn along(&self) -> f64 {
        self.edge.hypot(self.long_range)
    }

    /// The mean of others, and the standard uncertainties of the difference from it: by noise, with what errs to one side, and with `tilt`, which all stations have in common
    /// (JCGM 100:2008, 5.2.2).
    fn less(&self, others: &[Self], tilt: f64) -> (f64, f64, f64, f64) {
        let n = others.len() as f64;
        let mean = |part: &dyn Fn(&Self) -> f64| others.iter().map(part).sum::<f64>() / n;
        let spread =
            |part: &dyn Fn(&Self) -> f64| root_sum_square(&others.iter().map(part).collect::<Vec<_>>()) / n;
        let noise = self.noise.hypot(spread(&|o| o.noise));
        let along =
            root_sum_square(&[self.edge, mean(&|o| o.edge), self.long_range, spread(&|o| o.long_range)]);
        let common = (0..COMMON.len()).map(|i| self.common[i] - mean(&|o| o.common[i]));
        let own = common.fold(noise.hypot(along), f64::hypot);
        (mean(&|o| o.value), noise, own, own.hypot(tilt))
    }
}
