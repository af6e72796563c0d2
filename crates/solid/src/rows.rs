//! The rows of a blade: the outline of every station in blade axes, the round shank, the transition between them, and the rows to the tip.

use bladeform_numeric::bspline::{CurveFit, Knots};
use bladeform_numeric::cubic_spline::CubicSpline;
use bladeform_section::Family;
use bladeform_table::{Station, StationTable};

use crate::error::SolidError;
use crate::notice::SolidNotice;
use crate::open_outline::{OpenOutline, open};
use crate::root::{Root, root_of};
use crate::row_insertion::with_inserted_rows;
use crate::station_fault::{OutlineFault, StationFault};

/// Intervals of a section spline from nose to tail on each side. The first is 0.15 % of the side long, so that edge radii down to 0.3 % of the chord are reproduced.
const SIDE_INTERVALS: usize = 40;
/// Samples per interval.
const SAMPLES: usize = 4;
/// Minimum number of stations with a section. A curve along the radius needs three.
const LEAST_SECTIONS: usize = 3;
/// A station closer to the tip than this fraction of the radius is not used, because the chord vanishes there.
const AT_TIP: f64 = 2e-3;
/// A substitute section thicker than this is an ellipse. The published families are not meant for such thickness.
const THICK_STAND_IN: f64 = 0.40;
/// Positions of the rows that extrapolate the planform to the tip, as fractions of the square root of the distance from the last station to the tip.
const TIP_ROWS: [f64; 4] = [0.85, 0.65, 0.4, 0.2];
/// Width of the flat that replaces the tail on a round shank, in radii. It cuts off 0.005 % of the diameter.
const SHANK_FLAT: f64 = 0.028;
/// A shank is oval if its longest chord exceeds its thickness by this fraction. Its orientation is then unknown from the table.
const OVAL: f64 = 0.01;
/// Intervals of the transition from shank to section. With 4 the re-measured mid-chord of the first station was wrong by 0.2 mm; with 12 by 0.01 mm.
const TRANSITION_STEPS: u32 = 12;
/// Minimum and maximum factor for the chord and thickness of the first section when they are extrapolated into the transition.
const TRANSITION_SCALES: [f64; 2] = [0.6, 1.6];
/// Steps of a root that is narrowed into a hub.
const NARROW_STEPS: u32 = 4;
/// Rows closer above a narrowed root than this fraction of its depth are left out.
const CLOSE: f64 = 0.05;
/// Points of a substitute outline.
const STAND_IN_POINTS: usize = 361;

/// Inputs for a blade in addition to the table.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct RowPlan {
    /// Outward shift of the whole blade, m.
    pub(crate) shift_m: f64,
    /// Radius of a round shank, m, if the table has none.
    pub(crate) shank_radius_m: Option<f64>,
    /// Radius to which the surface must extend inwards, m.
    pub(crate) reach_m: Option<f64>,
    /// Radius from which the root is narrowed on the way there, m, and to which part of its size.
    pub(crate) narrow: Option<[f64; 2]>,
}

/// One row: the control points of a section in blade axes.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Row {
    pub(crate) radius_m: f64,
    pub(crate) points: Vec<[f64; 2]>,
}

/// The rows from the root outwards and the point where the blade ends.
#[derive(Debug, Clone)]
pub(crate) struct Rows {
    pub(crate) across: Knots,
    pub(crate) rows: Vec<Row>,
    pub(crate) tip_radius_m: f64,
    pub(crate) tip: [f64; 2],
    /// Radius of the first and last station with a section.
    pub(crate) sections_m: [f64; 2],
    pub(crate) warnings: Vec<SolidNotice>,
}

/// The first section of a blade, to which a measured root leads.
pub(crate) struct FirstSection {
    pub(crate) radius_m: f64,
    /// Width of its tail, m.
    pub(crate) tail_m: f64,
    /// From its tail to its nose.
    pub(crate) direction: [f64; 2],
}

/// A section before it is placed: control points in the station frame.
#[derive(Debug, Clone)]
struct Section {
    radius_m: f64,
    chord_m: f64,
    angle_rad: f64,
    mid: [f64; 2],
    thick: f64,
    tail_m: f64,
    points: Vec<[f64; 2]>,
}

/// Makes the rows of a table.
pub(crate) fn rows_of(table: &StationTable, plan: &RowPlan) -> Result<Rows, SolidError> {
    let across = Knots::clamped(across_breaks());
    let fit = CurveFit::new(across.clone(), sample_places(across.breaks()));
    let tip_radius_m = table.blade.radius_m + plan.shift_m;
    let mut warnings = Vec::new();
    let (sections, rounds) = sections_of(table, plan.shift_m, tip_radius_m, &fit, &mut warnings)?;
    let root_m = table.blade.root_radius_m.filter(|r| 0.0 < *r).map(|r| r + plan.shift_m);
    let (first, last) = (&sections[0], &sections[sections.len() - 1]);
    let sections_m = [first.radius_m, last.radius_m];
    let measured = match plan.shank_radius_m {
        Some(_) => None,
        None => {
            let (sin, cos) = first.angle_rad.sin_cos();
            let lead = FirstSection { radius_m: first.radius_m, tail_m: first.tail_m, direction: [cos, sin] };
            root_of(table, plan.shift_m, root_m, &lead, &fit)
        }
    };
    let (mut rows, mut round_rows) = match measured {
        Some(Root { rows, notice }) => {
            covered_by_root(&mut warnings, first.radius_m - plan.shift_m);
            warnings.push(notice);
            // The first section too: beside sections as close as these a spline through distant stations would swing.
            let count = rows.len() + 1;
            (rows, count)
        }
        None => inner_rows(&sections, &rounds, root_m, plan, &fit, &mut warnings)?,
    };
    rows.extend(sections.iter().map(placed));
    let (tip_rows, tip) = tip_rows(&sections, tip_radius_m);
    rows.extend(tip_rows);
    if 0.05 * tip_radius_m < tip_radius_m - last.radius_m {
        warnings.push(SolidNotice::TipExtrapolated { last_m: last.radius_m, tip_m: tip_radius_m });
    }
    if let Some(reach) = plan.reach_m {
        let before = rows.len();
        match plan.narrow {
            Some([from_m, scale]) => {
                let kept = narrow_inwards(&mut rows, reach, from_m, scale);
                // Neither these rows nor the first of the others may swing.
                round_rows = round_rows.saturating_sub(before - kept).max(1) + rows.len() - kept;
            }
            None => {
                extend_inwards(&mut rows, reach);
                round_rows += if 0 < round_rows { rows.len() - before } else { 0 };
            }
        }
    }
    let rows = with_inserted_rows(rows, round_rows, tip_radius_m, tip)
        .ok_or(SolidError::NotFinite { radius_m: sections_m[0] })?;
    Ok(Rows { across, rows, tip_radius_m, tip, sections_m, warnings })
}

/// Stations inboard of the first section that were left out are covered by the sections of the root. `first_m`: radius of the first section in the table.
fn covered_by_root(warnings: &mut Vec<SolidNotice>, first_m: f64) {
    for w in warnings.iter_mut() {
        if let SolidNotice::StationsLeftOut { radii_m } = w {
            radii_m.retain(|r| first_m < *r);
        }
    }
    warnings.retain(|w| !matches!(w, SolidNotice::StationsLeftOut { radii_m } if radii_m.is_empty()));
}

/// Extends the first row straight inwards.
fn extend_inwards(rows: &mut Vec<Row>, reach_m: f64) {
    let first = rows[0].clone();
    let gap = first.radius_m - reach_m;
    if gap <= 1e-9 {
        return;
    }
    let more = [reach_m, reach_m + 0.5 * gap].map(|radius_m| Row { radius_m, points: first.points.clone() });
    rows.splice(0..0, more);
}

/// Replaces the rows inboard of a radius by rows that shrink evenly about the pitch-change axis to a part of their size at `reach_m`. Returns how many of the rows are kept.
fn narrow_inwards(rows: &mut Vec<Row>, reach_m: f64, from_m: f64, scale: f64) -> usize {
    let outer = rows.iter().position(|r| from_m <= r.radius_m).unwrap_or(0);
    let mut base = rows[outer].clone();
    if 0 < outer {
        let (a, b) = (&rows[outer - 1], &rows[outer]);
        let share = (from_m - a.radius_m) / (b.radius_m - a.radius_m);
        let mixed = |(p, q): (&[f64; 2], &[f64; 2])| [0, 1].map(|k| p[k] + share * (q[k] - p[k]));
        base = Row { radius_m: from_m, points: a.points.iter().zip(&b.points).map(mixed).collect() };
    }
    let depth = base.radius_m - reach_m;
    // Rows close above the new one would bend the surface; the first section stays, which is never among the first.
    let close = rows[outer..].iter().take_while(|r| r.radius_m < base.radius_m + CLOSE * depth).count();
    rows.drain(..(outer + close).min(rows.len() - 1));
    let kept = rows.len();
    let made: Vec<Row> = (0..=NARROW_STEPS)
        .rev()
        .map(|k| f64::from(k) / f64::from(NARROW_STEPS))
        .map(|t| {
            let size = 1.0 - t * (1.0 - scale);
            let points = base.points.iter().map(|p| p.map(|x| size * x)).collect();
            Row { radius_m: base.radius_m - t * depth, points }
        })
        .collect();
    rows.splice(0..0, made);
    kept
}

/// A nearly circular section about the pitch-change axis, m: its radius on the blade, half its longest chord and half its thickness.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Round {
    radius_m: f64,
    half_axes: [f64; 2],
}

/// Sections and round stations, in increasing order, checked.
fn sections_of(
    table: &StationTable,
    shift_m: f64,
    tip_m: f64,
    fit: &CurveFit,
    warnings: &mut Vec<SolidNotice>,
) -> Result<(Vec<Section>, Vec<Round>), SolidError> {
    let (mut sections, mut rounds) = (Vec::<Section>::new(), Vec::new());
    let (mut stand_ins, mut unplaced, mut opened, mut passed) = (0, 0, 0_usize, Vec::new());
    let (mut uncrossed, mut straightened) = (Greatest::default(), Greatest::default());
    let mut lengthened = Greatest::default();
    let mut before = f64::NEG_INFINITY;
    for s in &table.stations {
        let radius_m = s.radius_m + shift_m;
        if radius_m <= before {
            return Err(station_error(s, StationFault::NotFartherOut));
        }
        before = radius_m;
        if tip_m * (1.0 - AT_TIP) < radius_m {
            if tip_m * (1.0 + 1e-9) < radius_m {
                return Err(station_error(s, StationFault::BeyondTip));
            }
            passed.push(s.radius_m);
            continue;
        }
        if let Some((made, changes)) = section_of(s, radius_m, fit)? {
            stand_ins += usize::from(changes.stand_in);
            unplaced += usize::from(s.mid_chord_x_m.is_none() || s.mid_chord_y_m.is_none());
            opened += usize::from(changes.opened);
            lengthened.take(changes.lengthened_m);
            uncrossed.take(changes.uncrossed_m);
            straightened.take(changes.straightened_m);
            sections.push(made);
        } else if let (Some(a), Some(b)) = (s.thickness_m, s.longest_chord_m)
            && sections.is_empty()
        {
            rounds.push(Round { radius_m, half_axes: [0.5 * b, 0.5 * a] });
        } else {
            passed.push(s.radius_m);
        }
    }
    if sections.len() < LEAST_SECTIONS {
        return Err(SolidError::TooFewStations { count: sections.len(), needed: LEAST_SECTIONS });
    }
    let of = sections.len();
    if 0 < stand_ins {
        warnings.push(SolidNotice::SubstituteSections { count: stand_ins, all: of });
    }
    if 0 < unplaced {
        warnings.push(SolidNotice::NoMidChord { count: unplaced, all: of });
    }
    if 0 < opened {
        warnings.push(SolidNotice::TailsOpened { count: opened, all: of });
    }
    if 0 < lengthened.count {
        let Greatest { count, most_m } = lengthened;
        warnings.push(SolidNotice::OutlinesLengthened { count, all: of, most_m });
    }
    if 0 < uncrossed.count {
        let Greatest { count, most_m } = uncrossed;
        warnings.push(SolidNotice::CrossingsRemoved { count, all: of, most_m });
    }
    if 0 < straightened.count {
        let Greatest { count, most_m } = straightened;
        warnings.push(SolidNotice::TailsStraightened { count, all: of, most_m });
    }
    if !passed.is_empty() {
        warnings.push(SolidNotice::StationsLeftOut { radii_m: passed });
    }
    Ok((sections, rounds))
}

/// What was changed in a section.
struct Changes {
    stand_in: bool,
    opened: bool,
    lengthened_m: f64,
    uncrossed_m: f64,
    straightened_m: f64,
}

/// Number of changed sections, and the maximum change, m.
#[derive(Default)]
struct Greatest {
    count: usize,
    most_m: f64,
}

/// An outline as long as its stated chord but for this part of it is taken as it is.
const AS_LONG: f64 = 1e-4;
/// One that misses more than this part of it is not the outline of that chord, and is not stretched.
const MOST_MISSING: f64 = 0.03;
/// A smaller change, m, is not reported.
const NOT_SAID_M: f64 = 1e-5;

impl Greatest {
    fn take(&mut self, change_m: f64) {
        self.count += usize::from(0.0 < change_m);
        self.most_m = self.most_m.max(change_m);
    }
}

fn station_error(s: &Station, fault: StationFault) -> SolidError {
    SolidError::Station { radius_m: s.radius_m, fault }
}

/// The section of a station; `None` if it has none.
fn section_of(s: &Station, radius_m: f64, fit: &CurveFit) -> Result<Option<(Section, Changes)>, SolidError> {
    let (Some(chord_m), Some(angle)) = (s.chord_m, s.blade_angle_deg) else { return Ok(None) };
    if s.is_refused() {
        return Ok(None);
    }
    let stand_in = s.outline.is_none();
    let polygon: Vec<[f64; 2]> = match (&s.outline, s.thickness_ratio, s.camber_ratio) {
        (Some(outline), ..) => outline.points().collect(),
        (None, Some(thickness), Some(camber)) => {
            stand_in_outline(thickness, camber, s.camber_position, chord_m)
        }
        _ => return Ok(None),
    };
    let (polygon, lengthened_m) = lengthened(polygon, chord_m);
    let OpenOutline { points, nose, opened_m, uncrossed_m, straightened_m } =
        open(&polygon, chord_m).map_err(|fault| station_error(s, fault.into()))?;
    let (a, b) = (points[0], points[points.len() - 1]);
    let control =
        fit_outline(fit, points, nose).ok_or_else(|| station_error(s, OutlineFault::SidesDiffer.into()))?;
    let section = Section {
        radius_m,
        chord_m,
        angle_rad: angle.to_radians(),
        mid: [s.mid_chord_x_m.unwrap_or(0.0), s.mid_chord_y_m.unwrap_or(0.0)],
        thick: s.thickness_ratio.unwrap_or(0.0),
        tail_m: (a[0] - b[0]).hypot(a[1] - b[1]),
        points: control,
    };
    let straightened_m = if NOT_SAID_M < straightened_m { straightened_m } else { 0.0 };
    let opened = 0.0 < opened_m;
    Ok(Some((section, Changes { stand_in, opened, lengthened_m, uncrossed_m, straightened_m })))
}

/// An outline that ends short of the stated chord, stretched along it, and by how much, m. A sparse scan does not show the very ends of a section: the table states the chord that they imply, and its
/// outline ends where the points do.
fn lengthened(polygon: Vec<[f64; 2]>, chord_m: f64) -> (Vec<[f64; 2]>, f64) {
    let [low, high] = polygon
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], p| [low.min(p[0]), high.max(p[0])]);
    let (low, missing_m) = (low.max(0.0), (low.max(0.0) + chord_m - high).max(0.0));
    let is_short = (AS_LONG * chord_m..MOST_MISSING * chord_m).contains(&missing_m);
    if !is_short || high <= low {
        return (polygon, 0.0);
    }
    let stretch = chord_m / (high - low);
    (
        polygon.into_iter().map(|[x, y]| [if low < x { (x - low) * stretch } else { x - low }, y]).collect(),
        missing_m,
    )
}

fn stand_in_outline(thickness: f64, camber: f64, position: Option<f64>, chord_m: f64) -> Vec<[f64; 2]> {
    let family = if THICK_STAND_IN < thickness {
        Family::Ellipse { thickness: thickness.min(1.0) }
    } else {
        Family::FourDigit { camber, position: position.unwrap_or(0.4).clamp(0.1, 0.9), thickness }
    };
    family.outline(STAND_IN_POINTS).into_iter().map(|p| [chord_m * p[0], chord_m * p[1]]).collect()
}

/// Control points of an open outline. Its nose is at the middle of the parameter, and the parameter is smooth there.
fn fit_outline(fit: &CurveFit, points: Vec<[f64; 2]>, nose: usize) -> Option<Vec<[f64; 2]>> {
    fit.fit(&sampled(fit, points, nose)?)
}

/// Points of an open outline at the places of a fit, with its nose in the middle.
pub(crate) fn sampled(fit: &CurveFit, points: Vec<[f64; 2]>, nose: usize) -> Option<Vec<[f64; 2]>> {
    let path = CubicSpline::along(points);
    let whole = path.at()[path.at().len() - 1];
    let lead = path.at()[nose] - 0.5 * whole;
    // s(u) = L u + 4 lead u (1 - u) reaches the nose at 1/2 and is increasing while |4 lead| < L.
    if whole <= 4.0 * lead.abs() {
        return None;
    }
    Some(fit.places().iter().map(|&u| path.value(whole * u + 4.0 * lead * u * (1.0 - u))).collect())
}

/// Breaks of the parameter around a section: 0 is the tail corner on the back, 1/2 the nose, 1 the corner on the face. They are densest at nose and tail.
fn across_breaks() -> Vec<f64> {
    let n = SIDE_INTERVALS as i32;
    (-n..=n)
        .map(|k| {
            let share = f64::from(k.abs()) / f64::from(n);
            let side = 0.25 * (1.0 - (std::f64::consts::PI * share).cos());
            0.5 + side * f64::from(k.signum())
        })
        .collect()
}

fn sample_places(breaks: &[f64]) -> Vec<f64> {
    let inside = breaks
        .windows(2)
        .flat_map(|w| (0..SAMPLES).map(move |k| w[0] + (w[1] - w[0]) * k as f64 / SAMPLES as f64));
    inside.chain([breaks[breaks.len() - 1]]).collect()
}

/// Converts a point from the station frame to blade axes (seen from the tip: leading edge towards `x` at angle 0, back towards `y`).
fn place(p: [f64; 2], chord_m: f64, angle_rad: f64, mid: [f64; 2]) -> [f64; 2] {
    let (sin, cos) = angle_rad.sin_cos();
    let ahead = 0.5 * chord_m - p[0];
    [mid[0] + ahead * cos - p[1] * sin, mid[1] + ahead * sin + p[1] * cos]
}

fn placed(s: &Section) -> Row {
    let points = s.points.iter().map(|&p| place(p, s.chord_m, s.angle_rad, s.mid)).collect();
    Row { radius_m: s.radius_m, points }
}

/// A round section with its longest chord and its nose in the direction of the given angle, and a narrow flat for the tail.
fn round_row(round: &Round, tail_m: f64, angle_rad: f64, fit: &CurveFit) -> Option<Row> {
    let (sin, cos) = angle_rad.sin_cos();
    let points = round_points([0.0, 0.0], round.half_axes, tail_m, [cos, sin], fit)?;
    Some(Row { radius_m: round.radius_m, points })
}

/// Control points of an ellipse about a centre with its first half axis and its nose in a direction, and a narrow flat for the tail.
pub(crate) fn round_points(
    centre: [f64; 2],
    [a, b]: [f64; 2],
    tail_m: f64,
    direction: [f64; 2],
    fit: &CurveFit,
) -> Option<Vec<[f64; 2]>> {
    let half_flat = (0.5 * tail_m / b).min(0.5 * SHANK_FLAT).asin();
    let angle_rad = direction[1].atan2(direction[0]);
    let samples: Vec<_> = fit
        .places()
        .iter()
        .map(|u| half_flat + (std::f64::consts::TAU - 2.0 * half_flat) * u)
        .map(|t| place([a * t.cos(), b * t.sin()], 0.0, angle_rad, centre))
        .collect();
    fit.fit(&samples)
}

/// Rows from the root end to the first section, and how many of them are a round shank's.
fn inner_rows(
    sections: &[Section],
    rounds: &[Round],
    root_m: Option<f64>,
    plan: &RowPlan,
    fit: &CurveFit,
    warnings: &mut Vec<SolidNotice>,
) -> Result<(Vec<Row>, usize), SolidError> {
    let first = &sections[0];
    let mut circles = rounds.to_vec();
    // What is given goes before what was measured.
    if let Some(round) = plan.shank_radius_m {
        let root = root_m.unwrap_or(0.5 * first.radius_m).min(0.95 * first.radius_m);
        // The length of the round shank is unknown. With a third of the distance the transition is twice as long as the shank.
        let at = |radius_m| Round { radius_m, half_axes: [round; 2] };
        circles = vec![at(root), at(root + (first.radius_m - root) / 3.0)];
        warnings.push(SolidNotice::ShankAdded {
            diameter_m: 2.0 * round,
            from_m: root,
            to_m: circles[circles.len() - 1].radius_m,
        });
    }
    if let (Some(root), Some(&inner)) = (root_m, circles.first())
        && root < inner.radius_m - 1e-6
    {
        circles.insert(0, Round { radius_m: root, ..inner });
    }
    let Some(&Round { radius_m: last_round, .. }) = circles.last() else {
        return Ok((straight_root(first, root_m, warnings), 0));
    };
    let oval: Vec<_> =
        circles.iter().filter(|c| 1.0 + OVAL < c.half_axes[0] / c.half_axes[1]).map(|c| c.radius_m).collect();
    if let (Some(a), Some(b)) = (oval.first(), oval.last()) {
        warnings.push(SolidNotice::ShankOval { from_m: *a, to_m: *b });
    }
    let made = circles.iter().map(|round| round_row(round, first.tail_m, first.angle_rad, fit));
    let mut rows: Vec<Row> =
        made.collect::<Option<_>>().ok_or(SolidError::NotFinite { radius_m: last_round })?;
    let gap = first.radius_m - last_round;
    let next_gap = sections[1].radius_m - first.radius_m;
    if 1.5 * next_gap < gap && first.thick < 0.6 {
        warnings.push(SolidNotice::TransitionAdded { shank_m: last_round, first_m: first.radius_m });
        rows.extend(transition(&rows[rows.len() - 1], sections));
    }
    Ok((rows, circles.len()))
}

/// Rows from the circle of the shank to the first section.
fn transition(circle: &Row, sections: &[Section]) -> Vec<Row> {
    let (first, second) = (&sections[0], &sections[1]);
    let gap = first.radius_m - circle.radius_m;
    let run = second.radius_m - first.radius_m;
    (1..TRANSITION_STEPS)
        .map(|k| f64::from(k) / f64::from(TRANSITION_STEPS))
        .map(|t| {
            let beyond = (t - 1.0) * gap;
            let angle = first.angle_rad + (second.angle_rad - first.angle_rad) / run * beyond;
            let mid = [0, 1].map(|k| first.mid[k] + (second.mid[k] - first.mid[k]) / run * beyond);
            let carried = |f: fn(&Section) -> f64| {
                let [least, greatest] = TRANSITION_SCALES;
                (1.0 + (f(second) / f(first).max(1e-12) - 1.0) / run * beyond).clamp(least, greatest)
            };
            let chord = carried(|s| s.chord_m);
            // Unknown ratios keep the shape.
            let thick = if 0.0 < first.thick && 0.0 < second.thick {
                carried(|s| s.thick * s.chord_m)
            } else {
                chord
            };
            // The fifth-degree polynomial with zero slope and zero curvature at both ends.
            let weight = t * t * t * (10.0 - t * (15.0 - 6.0 * t));
            let points = first
                .points
                .iter()
                .zip(&circle.points)
                .map(|(&p, c)| {
                    let q = place([chord * p[0], thick * p[1]], chord * first.chord_m, angle, mid);
                    [0, 1].map(|k| (1.0 - weight) * c[k] + weight * q[k])
                })
                .collect();
            Row { radius_m: first.radius_m + beyond, points }
        })
        .collect()
}

/// Without a shank the first section is extended straight to the root.
fn straight_root(first: &Section, root_m: Option<f64>, warnings: &mut Vec<SolidNotice>) -> Vec<Row> {
    let Some(root) = root_m.filter(|r| *r < first.radius_m - 1e-6) else {
        warnings.push(SolidNotice::BeginsAtFirst { first_m: first.radius_m });
        return Vec::new();
    };
    warnings.push(SolidNotice::NoShank { first_m: first.radius_m, root_m: root });
    let points = placed(first).points;
    [root, 0.5 * (root + first.radius_m)].map(|radius_m| Row { radius_m, points: points.clone() }).to_vec()
}

/// Rows between the last station and the tip, and the position of the tip.
///
/// The square of the chord is a parabola in the radius. It keeps the value and slope at the last station and vanishes at the tip, which gives a rounded end that
/// follows the planform. Angle and mid-chord are extrapolated linearly. The section keeps its shape.
fn tip_rows(sections: &[Section], tip_m: f64) -> (Vec<Row>, [f64; 2]) {
    let (last, before) = (&sections[sections.len() - 1], &sections[sections.len() - 2]);
    let run = last.radius_m - before.radius_m;
    let depth = tip_m - last.radius_m;
    let square = |s: &Section| s.chord_m * s.chord_m;
    let slope = end_slope(sections, square);
    // The straight line must not reach zero before the tip, and the parabola must not rise far above the last station.
    let slope = slope.clamp(-1.8 * square(last) / depth, 0.5 * square(last) / depth);
    let bend = -(square(last) + slope * depth) / (depth * depth);
    let on = |d: f64| {
        let angle = last.angle_rad + (last.angle_rad - before.angle_rad) / run * d;
        let mid = [0, 1].map(|k| last.mid[k] + (last.mid[k] - before.mid[k]) / run * d);
        let share = ((square(last) + slope * d + bend * d * d).max(0.0) / square(last)).sqrt();
        (angle, mid, share)
    };
    let rows = TIP_ROWS
        .iter()
        .map(|t| {
            let d = depth * (1.0 - t * t);
            let (angle, mid, share) = on(d);
            let points = last
                .points
                .iter()
                .map(|p| place([share * p[0], share * p[1]], share * last.chord_m, angle, mid))
                .collect();
            Row { radius_m: last.radius_m + d, points }
        })
        .collect();
    (rows, on(depth).1)
}

/// Slope of a quantity at the last station, from the parabola through the last three stations.
fn end_slope(sections: &[Section], f: impl Fn(&Section) -> f64) -> f64 {
    let [.., a, b, c] = sections else { return 0.0 };
    let (h0, h1) = (b.radius_m - a.radius_m, c.radius_m - b.radius_m);
    let (d0, d1) = ((f(b) - f(a)) / h0, (f(c) - f(b)) / h1);
    d1 + (d1 - d0) * h1 / (h0 + h1)
}
