//! The smooth blade: one curve per figure that follows all stations together, and the stations that depart from it.
//!
//! [`Spanwise`](crate::Spanwise) passes through every station, including dented ones. A [`SmoothColumn`] is a smoothing spline weighted by
//! the uncertainty of each station. Stations that depart lose their weight step by step.

use bladeform_numeric::smoothing_spline::{SmoothingSpline, SplineSpace, dot};
use bladeform_quantity::{Measured, root_sum_square};

use crate::{ColumnUnit, Flag, SpanwiseValue, Station, StationColumn, UncertaintySource};

/// Least number of stations. With fewer, the form of the blade and a departure from it cannot be distinguished.
pub const LEAST_STATIONS_FOR_SMOOTH: usize = 8;
/// Coverage factor beyond which a station departs: three standard uncertainties, one in 370 by chance.
pub const DEPARTURE_COVERAGE: f64 = 3.0;
/// Most effective parameters of the curve per station. Without a limit, cross-validation occasionally follows the noise of a blade.
const MOST_FREEDOM: f64 = 0.6;
/// Knots beyond this number follow no blade more closely; they only cost time.
const MOST_KNOTS: usize = 60;
/// Tukey's biweight: points beyond so many standard deviations have no weight. 95 % efficient on normal errors
/// (A. E. Beaton and J. W. Tukey, Technometrics 16 (1974), 147-185; the constant after P. J. Huber, "Robust statistics", 1981).
const TUKEY: f64 = 4.685;
/// Huber's weights (95 % efficient; Huber 1981). They have a unique solution and give the start for Tukey's weights.
const HUBER: f64 = 1.345;
/// Passes with Huber's weights: they only have to give a start (chosen).
const HUBER_PASSES: usize = 3;
/// Passes with Tukey's weights (chosen; no check of this value is on record).
const TUKEY_PASSES: usize = 4;
/// Factor from the median of the absolute values to the standard deviation of normal errors.
const MAD_TO_SIGMA: f64 = 1.4826;
/// Number of neighbours on either side that are considered. Stations farther away have almost no influence on the curve.
const REACH: usize = 8;

/// The figures that vary smoothly along the span of a blade, and the least departure that is reported: in
/// the unit of the column, lengths as a fraction of the tip radius. Our own choice, no source: what a sharp eye sees on a blade.
const JUDGED: [(StationColumn, f64); 8] = [
    (StationColumn::ChordM, 5e-4),
    (StationColumn::BladeAngleDeg, 0.2),
    (StationColumn::FaceAngleDeg, 0.2),
    (StationColumn::ThicknessM, 3e-4),
    (StationColumn::ThicknessRatio, 0.003),
    (StationColumn::CamberRatio, 0.002),
    (StationColumn::MidChordXM, 5e-4),
    (StationColumn::MidChordYM, 5e-4),
];

/// A departure of one figure of one station from the smooth blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationDeparture {
    /// Index of the station in the table.
    pub station: usize,
    /// The figure.
    pub column: StationColumn,
    /// Figure minus that of the curve through the other stations, with the combined standard uncertainty of station and curve,
    /// in the unit of the column.
    pub amount: Measured,
}

/// One column of a table as a smooth curve over the radius that no single station distorts.
///
/// ```
/// use bladeform_table::{SmoothColumn, Station, StationColumn};
/// let mut stations: Vec<Station> = (0..12).map(|k| Station::at(0.3 + 0.05 * f64::from(k), 1.0)).collect();
/// for s in &mut stations {
///     s.chord_m = Some(0.2 - 0.3 * (s.radius_m - 0.5).powi(2));
/// }
/// stations[6].chord_m = stations[6].chord_m.map(|chord| chord - 0.005);
/// let smooth = SmoothColumn::of(&stations, StationColumn::ChordM).unwrap();
/// let [dent] = smooth.departures()[..] else { panic!("one station departs") };
/// assert_eq!(dent.station, 6);
/// assert!((dent.amount.value + 0.005).abs() < 3e-4);
/// // The curve passes over the dent.
/// assert!((smooth.value_at(0.6).measured.value - 0.197).abs() < 3e-4);
/// ```
#[derive(Debug, Clone)]
pub struct SmoothColumn {
    column: StationColumn,
    least: f64,
    /// The tip radius, m, for chord and thickness, which end in a rounded tip.
    rounded_tip: Option<f64>,
    spline: SmoothingSpline,
    points: Vec<Point>,
    /// Ratio of the scatter of the stations to their uncertainties, at least 1.
    scatter: f64,
    judged: Vec<Judged>,
}

/// A data point of the curve.
#[derive(Debug, Clone, Copy)]
struct Point {
    station: usize,
    radius_m: f64,
    value: f64,
    /// Standard uncertainty of the station alone, at least a third of the least departure.
    u: f64,
}

/// A station compared with the curve through the others.
#[derive(Debug, Clone, Copy)]
struct Judged {
    /// Station minus curve.
    off: f64,
    /// Standard uncertainty of the station.
    u_station: f64,
    /// Standard uncertainty of that curve there.
    u_curve: f64,
}

impl Judged {
    fn u(&self, scatter: f64) -> f64 {
        (scatter * self.u_station).hypot(self.u_curve)
    }
}

impl SmoothColumn {
    /// The curve of a column over the stations that have it, without refused and nearly circular stations. `None` for a column that need not
    /// be smooth on a blade (chord, angles, thickness, its ratio, camber ratio and mid-chord are smooth), or if fewer than
    /// [`LEAST_STATIONS_FOR_SMOOTH`] stations have it.
    #[must_use]
    pub fn of(stations: &[Station], column: StationColumn) -> Option<Self> {
        let &(_, least) = JUDGED.iter().find(|(judged, _)| *judged == column)?;
        let tip = stations.iter().find(|s| 0.0 < s.radius_ratio).map(|s| s.radius_m / s.radius_ratio)?;
        let is_length = column.unit() == ColumnUnit::Metre;
        let least = if is_length { least * tip } else { least };
        let rounded_tip = matches!(column, StationColumn::ChordM | StationColumn::ThicknessM).then_some(tip);
        let points = points(stations, column, least);
        let x: Vec<f64> = points.iter().map(|p| abscissa(rounded_tip, p.radius_m)).collect();
        let y: Vec<f64> = points.iter().map(|p| p.value).collect();
        if points.len() < LEAST_STATIONS_FOR_SMOOTH {
            return None;
        }
        let space = SplineSpace::over(&x, MOST_KNOTS)?;
        let mut trust = vec![1.0; points.len()];
        let mut pass = 0;
        loop {
            let weights: Vec<f64> = points.iter().zip(&trust).map(|(p, t)| t / (p.u * p.u)).collect();
            let spline = space.fit_by_cross_validation(&y, &weights, MOST_FREEDOM)?;
            let judged = judge_all(&space, &spline, &points, &weights);
            let scatter = scatter(&judged);
            if pass == HUBER_PASSES + TUKEY_PASSES {
                return Some(Self { column, least, rounded_tip, spline, points, scatter, judged });
            }
            // The first and the last station have neighbours on one side only, so a departure cannot be detected there.
            for i in 1..points.len() - 1 {
                let t = judged[i].off.abs() / judged[i].u(scatter);
                trust[i] = if pass < HUBER_PASSES { huber(t) } else { tukey(t) };
            }
            pass += 1;
        }
    }

    /// The value at a radius, m, with its standard uncertainty. Beyond the first and the last station the curve is extrapolated linearly
    /// (chord and thickness over the square root of the distance from the tip), and
    /// [`SpanwiseValue::beyond_m`] is the distance.
    #[must_use]
    pub fn value_at(&self, radius_m: f64) -> SpanwiseValue {
        let (first, last) = (self.points[0].radius_m, self.points[self.points.len() - 1].radius_m);
        let x = abscissa(self.rounded_tip, radius_m);
        let u = self.scatter * self.spline.variance(x).max(0.0).sqrt();
        SpanwiseValue {
            measured: Measured::new(self.spline.value(x), u),
            beyond_m: (first - radius_m).max(radius_m - last).max(0.0),
        }
    }

    /// Trace of the smoother: the effective number of parameters of the curve.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.spline.degrees_of_freedom
    }

    /// The stations that depart from the curve through the others by more than [`DEPARTURE_COVERAGE`] combined standard uncertainties
    /// and by more than the least amount. The first and the last station are not checked: without them the curve would be extrapolated
    /// there.
    #[must_use]
    pub fn departures(&self) -> Vec<StationDeparture> {
        let inner = 1..self.points.len() - 1;
        inner
            .filter_map(|i| {
                let judged = self.judged[i];
                let u = judged.u(self.scatter);
                let departs = (DEPARTURE_COVERAGE * u).max(self.least) < judged.off.abs();
                departs.then(|| StationDeparture {
                    station: self.points[i].station,
                    column: self.column,
                    amount: Measured::new(judged.off, u),
                })
            })
            .collect()
    }
}

/// Length of the transition from a round shank to the blade, as a part of the measured span (common practice, no source).
const TRANSITION: f64 = 0.15;

/// The radius up to which a round shank, if there is one, passes into the blade: departures there are the blade's own form.
fn end_of_transition(stations: &[Station]) -> f64 {
    let with_chord = || stations.iter().filter(|s| s.chord_m.is_some()).map(|s| s.radius_m);
    let (first, last) = (with_chord().fold(f64::INFINITY, f64::min), with_chord().fold(0.0, f64::max));
    let is_shank = |s: &&Station| s.radius_m < first && s.flags.iter().any(|f| f.code() == "nearly-circular");
    let shank = stations.iter().filter(is_shank).map(|s| s.radius_m).fold(f64::NEG_INFINITY, f64::max);
    shank + TRANSITION * (last - first)
}

/// All departures of a list of stations from the smooth blade, station by station; none where a round shank passes into the blade.
#[must_use]
pub fn departures_from_smooth(stations: &[Station]) -> Vec<StationDeparture> {
    let from_m = end_of_transition(stations);
    let mut found: Vec<StationDeparture> = JUDGED
        .iter()
        .filter_map(|(column, _)| SmoothColumn::of(stations, *column))
        .flat_map(|smooth| smooth.departures())
        .filter(|d| from_m < stations[d.station].radius_m)
        .collect();
    found.sort_by_key(|d| (d.station, d.column));
    found
}

/// Flags the stations whose figures depart from the smooth blade. It changes no figure.
pub fn flag_departures(stations: &mut [Station]) {
    for StationDeparture { station, column, amount } in departures_from_smooth(stations) {
        stations[station].flags.push(Flag::Departs { column, amount });
    }
}

/// The variable over which a figure is smooth. At a rounded tip the chord falls like the width of an ellipse, with the square root of
/// the distance from the tip, and the thickness with it. They are linear in that root. For all other figures the variable is the radius.
fn abscissa(rounded_tip: Option<f64>, radius_m: f64) -> f64 {
    rounded_tip.map_or(radius_m, |tip| -(1.0 - radius_m / tip).max(0.0).sqrt())
}

/// The stations used, by increasing radius.
fn points(stations: &[Station], column: StationColumn, least: f64) -> Vec<Point> {
    let counts = |s: &Station| !s.flags.iter().any(|f| matches!(f.code(), "refused" | "nearly-circular"));
    let mut points: Vec<Point> = stations
        .iter()
        .enumerate()
        .filter(|(_, s)| counts(s) && s.radius_m.is_finite())
        .filter_map(|(station, s)| {
            let value = column.get(s).filter(|v| v.is_finite())?;
            let u = own_u(s, column).max(least / DEPARTURE_COVERAGE);
            Some(Point { station, radius_m: s.radius_m, value, u })
        })
        .collect();
    points.sort_by(|a, b| a.radius_m.total_cmp(&b.radius_m));
    points.dedup_by(|b, a| b.radius_m <= a.radius_m);
    points
}

/// The standard uncertainty of a station relative to its neighbours. The section at the reference radius, the known length, the root radius and the axes
/// shift all stations together, so they cause no departure and are excluded. Zero if none is stated.
fn own_u(s: &Station, column: StationColumn) -> f64 {
    let common = [
        UncertaintySource::Reference,
        UncertaintySource::Length,
        UncertaintySource::Radius,
        UncertaintySource::Axes,
    ];
    if s.budget.of(column).next().is_none() {
        return column.u(s).filter(|u| u.is_finite()).unwrap_or(0.0);
    }
    let own: Vec<f64> =
        s.budget.of(column).filter(|(source, _)| !common.contains(source)).map(|(_, u)| u).collect();
    root_sum_square(&own)
}

/// Each station compared with the curve through the others at the same smoothing, by the formulas for leaving out one point (R. D. Cook and
/// S. Weisberg, "Residuals and influence in regression", 1982, section 2.2).
///
/// The uncertainty of the curve is the greater of two: that due to the noise of its stations, and that due to the misfit of each station to the curve through
/// the rest (the delete-one jackknife: B. Efron and C. Stein, Annals of Statistics 9 (1981), 586-596). Hence an end that bends more strongly
/// than the rest of the blade, which smoothing cannot predict, is not mistaken for damage.
fn judge_all(
    space: &SplineSpace,
    spline: &SmoothingSpline,
    points: &[Point],
    weights: &[f64],
) -> Vec<Judged> {
    let all = 0..points.len();
    let residual: Vec<f64> = all.clone().map(|j| points[j].value - spline.at_row(space.row(j))).collect();
    let influence: Vec<_> = all.clone().map(|j| spline.influence(space.row(j))).collect();
    let share = |i: usize, j: usize| dot(space.row(j), &influence[i]);
    all.map(|i| {
        let left = 1.0 - weights[i] * share(i, i);
        let off = residual[i] / left;
        let smoothing = share(i, i) / left;
        let near = i.saturating_sub(REACH)..(i + REACH + 1).min(points.len());
        let misfit: f64 = near
            .filter(|&j| j != i && 0.0 < weights[j])
            .map(|j| {
                // Without i its influence is removed, including that on the residual of j.
                let with_i = share(i, j);
                let at_j = share(j, j) + weights[i] * with_i * with_i / left;
                let off_j = (residual[j] + weights[i] * with_i * off) / (1.0 - weights[j] * at_j);
                (weights[j] * with_i / left * off_j).powi(2)
            })
            .sum();
        Judged { off, u_station: points[i].u, u_curve: smoothing.max(misfit).max(0.0).sqrt() }
    })
    .collect()
}

/// Ratio of the scatter of the stations about the curve to their stated uncertainties, from the median. It is at least 1, because
/// stations that happen to agree do not reduce the uncertainties.
fn scatter(judged: &[Judged]) -> f64 {
    let mut sizes: Vec<f64> = judged.iter().map(|j| j.off.abs() / j.u(1.0)).collect();
    let half = sizes.len() / 2;
    let (_, middle, _) = sizes.select_nth_unstable_by(half, f64::total_cmp);
    (MAD_TO_SIGMA * *middle).max(1.0)
}

fn huber(t: f64) -> f64 {
    if t <= HUBER { 1.0 } else { HUBER / t }
}

fn tukey(t: f64) -> f64 {
    if t < TUKEY { (1.0 - (t / TUKEY).powi(2)).powi(2) } else { 0.0 }
}
