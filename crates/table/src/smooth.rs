//! The smooth blade: one curve a figure that follows all stations together, and the stations that depart from it.
//!
//! [`Spanwise`](crate::Spanwise) goes through every station, dented ones too. A [`SmoothColumn`] is a smoothing spline weighted by
//! the uncertainty of each station, from which stations that depart are left out step by step.

use bladeform_quantity::{Measured, root_sum_square};

use crate::smoothing_spline::{SmoothingSpline, SplineSpace, dot};
use crate::{ColumnUnit, Flag, SpanwiseValue, Station, StationColumn, UncertaintySource};

/// Fewer stations leave open what is the blade's form and what departs from it.
pub const LEAST_STATIONS_FOR_SMOOTH: usize = 8;
/// The coverage factor beyond which a station departs: three standard uncertainties, one in 370 by chance.
pub const DEPARTURE_COVERAGE: f64 = 3.0;
/// Effective parameters of the curve for a station, at most: cross-validation alone follows the noise of now and then one blade.
const MOST_FREEDOM: f64 = 0.6;
/// Tukey's biweight leaves out what lies beyond so many standard deviations; 95 % efficient on normal errors
/// (A. E. Beaton and J. W. Tukey, Technometrics 16 (1974), 147-185; the constant after P. J. Huber, "Robust statistics", 1981).
const TUKEY: f64 = 4.685;
/// Huber's weights, which have one solution only, lead the way to Tukey's (95 % efficient; Huber 1981).
const HUBER: f64 = 1.345;
const HUBER_PASSES: usize = 3;
const TUKEY_PASSES: usize = 4;
/// From the median of the absolute values to the standard deviation of normal errors.
const MAD_TO_SIGMA: f64 = 1.4826;
/// Stations farther off than this have next to no share in a curve that follows its neighbours.
const REACH: usize = 8;

/// The figures that a blade has smoothly along its span, and the least amount by which one must depart to be worth a word: in
/// the unit of the column, lengths as a fraction of the tip radius. Our own choice, no source: what a sharp eye sees on a blade.
const JUDGED: [(StationColumn, f64); 7] = [
    (StationColumn::ChordM, 5e-4),
    (StationColumn::BladeAngleDeg, 0.2),
    (StationColumn::FaceAngleDeg, 0.2),
    (StationColumn::ThicknessRatio, 0.003),
    (StationColumn::CamberRatio, 0.002),
    (StationColumn::MidChordXM, 5e-4),
    (StationColumn::MidChordYM, 5e-4),
];

/// One figure of one station off the smooth blade.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StationDeparture {
    /// Index of the station in the table.
    pub station: usize,
    /// The figure.
    pub column: StationColumn,
    /// Figure less that of the curve through the other stations, with the standard uncertainty of station and curve together,
    /// in the unit of the column.
    pub amount: Measured,
}

/// One column of a table as a smooth curve over the radius that no single station bends.
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
    /// The tip radius, m, for the chord, which falls off round at the tip.
    rounded_tip: Option<f64>,
    spline: SmoothingSpline,
    points: Vec<Point>,
    /// How much more than their uncertainties the stations scatter; 1 when they do not.
    scatter: f64,
    judged: Vec<Judged>,
}

/// A station as the curve sees it.
#[derive(Debug, Clone, Copy)]
struct Point {
    station: usize,
    radius_m: f64,
    value: f64,
    /// Of the station alone, never below a third of the least amount.
    u: f64,
}

/// A station beside the curve through the others.
#[derive(Debug, Clone, Copy)]
struct Judged {
    /// Station less curve.
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
    /// The curve of a column over the stations that have it, refused and nearly circular ones left out. `None` for a column that no
    /// blade need have smoothly (chord, angles, thickness and camber ratio, mid-chord are smooth), or when fewer than
    /// [`LEAST_STATIONS_FOR_SMOOTH`] stations have it.
    #[must_use]
    pub fn of(stations: &[Station], column: StationColumn) -> Option<Self> {
        let &(_, least) = JUDGED.iter().find(|(judged, _)| *judged == column)?;
        let tip = stations.iter().find(|s| 0.0 < s.radius_ratio).map(|s| s.radius_m / s.radius_ratio)?;
        let is_length = column.unit() == ColumnUnit::Metre;
        let least = if is_length { least * tip } else { least };
        let rounded_tip = (column == StationColumn::ChordM).then_some(tip);
        let points = points(stations, column, least);
        let x: Vec<f64> = points.iter().map(|p| abscissa(rounded_tip, p.radius_m)).collect();
        let y: Vec<f64> = points.iter().map(|p| p.value).collect();
        if points.len() < LEAST_STATIONS_FOR_SMOOTH {
            return None;
        }
        let space = SplineSpace::over(&x)?;
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
            // The outermost stations have neighbours on one side only: nothing shows whether they depart.
            for i in 1..points.len() - 1 {
                let t = judged[i].off.abs() / judged[i].u(scatter);
                trust[i] = if pass < HUBER_PASSES { huber(t) } else { tukey(t) };
            }
            pass += 1;
        }
    }

    /// The value at a radius, m, with its standard uncertainty. Beyond the first and the last station the curve goes straight on
    /// (the chord over the square root of the distance from the tip), and
    /// [`SpanwiseValue::beyond_m`] says how far.
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

    /// Trace of the smoother: how many parameters the curve has in effect.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.spline.degrees_of_freedom
    }

    /// The stations that lie off the curve through the others by more than [`DEPARTURE_COVERAGE`] combined standard uncertainties
    /// and by more than the least amount. The first and the last station are not judged: the curve without them would be carried
    /// there, not drawn.
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

/// Every departure of a row of stations from the smooth blade, station by station.
#[must_use]
pub fn departures_from_smooth(stations: &[Station]) -> Vec<StationDeparture> {
    let mut found: Vec<StationDeparture> = JUDGED
        .iter()
        .filter_map(|(column, _)| SmoothColumn::of(stations, *column))
        .flat_map(|smooth| smooth.departures())
        .collect();
    found.sort_by_key(|d| (d.station, d.column));
    found
}

/// Flags the stations whose figures depart from the smooth blade, in words. It changes no figure.
pub fn flag_departures(stations: &mut [Station]) {
    for StationDeparture { station, column, amount } in departures_from_smooth(stations) {
        stations[station].flags.push(Flag::Departs { column, amount });
    }
}

/// The variable over which a figure is smooth. The chord ends at a rounded tip as the width of an ellipse does, like the square root of
/// the distance from it; over that root it runs straight into it. The radius serves all others.
fn abscissa(rounded_tip: Option<f64>, radius_m: f64) -> f64 {
    rounded_tip.map_or(radius_m, |tip| -(1.0 - radius_m / tip).max(0.0).sqrt())
}

/// The stations that count, by rising radius.
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

/// The standard uncertainty of a station beside its neighbours: the section at the reference radius, the known length and the axes
/// shift all stations together and make none depart. Zero where none is stated.
fn own_u(s: &Station, column: StationColumn) -> f64 {
    let common = [UncertaintySource::Reference, UncertaintySource::Length, UncertaintySource::Axes];
    if s.budget.of(column).next().is_none() {
        return column.u(s).filter(|u| u.is_finite()).unwrap_or(0.0);
    }
    let own: Vec<f64> =
        s.budget.of(column).filter(|(source, _)| !common.contains(source)).map(|(_, u)| u).collect();
    root_sum_square(&own)
}

/// Each station beside the curve through the others, smoothed alike, by the formulas for leaving out one point (R. D. Cook and
/// S. Weisberg, "Residuals and influence in regression", 1982, section 2.2).
///
/// The curve is as uncertain as the noise of its stations leaves it, or as the misfit of each to the curve through the rest shows it
/// where that is more (the delete-one jackknife: B. Efron and C. Stein, Annals of Statistics 9 (1981), 586-596). So an end that
/// bends more strongly than the blade elsewhere, which no smoothing foresees, is not taken for damage.
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
                // Without i: its influence goes, and its pull on the residual of j.
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

/// How much more than stated the stations scatter about the curve, from the middle one of them; never less than 1, for uncertainties
/// are not mended by stations that happen to agree.
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
