//! The polar of one outline over angle and Reynolds number.

use crate::beyond_stall::{self, Edge};
use crate::bluff;
use crate::compressibility::{Corrections, MACH_LIMIT, corrections, critical_mach, fade};
use crate::curve::{FullCirclePolar, Node, wrapped};
use crate::error::{PolarError, check};
use crate::forces::{PolarRegion, SectionForces, SectionPolar};
use crate::hash::Hash;
use crate::inviscid::Panels;
use crate::viscous::{March, PreparedSection, REYNOLDS_RANGE, ViscousPoint, ViscousSettings};

/// How a polar is computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TableSettings {
    /// Boundary layers.
    pub viscous: ViscousSettings,
    /// Smallest and largest chord Reynolds number that will be requested.
    pub reynolds: [f64; 2],
    /// Number of tabulated Reynolds numbers, evenly spaced in the logarithm; 1 to 9.
    pub reynolds_count: usize,
    /// Step of the angle, rad.
    pub step_rad: f64,
}

impl Default for TableSettings {
    fn default() -> Self {
        Self {
            viscous: ViscousSettings::default(),
            reynolds: [1e5, 3e6],
            reynolds_count: 3,
            step_rad: 1f64.to_radians(),
        }
    }
}

/// Convergence at one Reynolds number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Convergence {
    /// Chord Reynolds number.
    pub reynolds: f64,
    /// Number of requested angles from -10 deg to stall.
    pub asked: usize,
    /// Number of these that converged. The others are interpolated between their neighbours and marked as such.
    pub converged: usize,
    /// Angles of minimum and maximum lift, rad.
    pub attached_rad: [f64; 2],
    /// Lift at these angles.
    pub extreme_lift: [f64; 2],
}

/// Polar of one outline over angle, Reynolds and Mach number: smooth in all three, for every angle.
///
/// Outside its range of Reynolds numbers the nearest is used. Intended for Mach numbers up to [`MACH_LIMIT`].
#[derive(Debug, Clone, PartialEq)]
pub struct SectionTable {
    pub(crate) key: u128,
    pub(crate) thickness_ratio: f64,
    /// Inviscid lift: slope at zero lift, and zero-lift angle.
    pub(crate) unseparated: [f64; 2],
    /// Increasing logarithms of the Reynolds numbers, with their curves.
    pub(crate) curves: Vec<(f64, FullCirclePolar)>,
    pub(crate) convergence: Vec<Convergence>,
    /// Angle, rad, and least pressure coefficient of the computed points, one list per curve, by increasing angle.
    pub(crate) pressures: Vec<Vec<[f64; 2]>>,
    /// Upper bound of the lift for all Reynolds numbers.
    pub(crate) most_lift: f64,
    /// See [`SectionPolar::without_lift`].
    pub(crate) without_lift: Option<[f64; 2]>,
}

/// Maximum lift of the curves, plus the possible overshoot of cubics between them. Slopes over the logarithm are at most twice the maximum lift divided by the distance to the
/// next curve, and a slope contributes at most 4/27 of the distance to a cubic.
pub(crate) fn most_lift(curves: &[(f64, FullCirclePolar)]) -> f64 {
    (1.0 + 16.0 / 27.0) * curves.iter().map(|c| c.1.most_lift()).fold(0.0, f64::max)
}

/// Step, rad, in which [`without_lift`] looks at the curves, and its farthest angle from zero lift.
const LOOK_STEP: f64 = 0.01;
/// Nearly the angle at which a plate stands across the stream.
const LOOK_FARTHEST: f64 = 1.7;
/// The lift below which a curve counts as without lift there: far above what the interpolation over the Reynolds number could add.
const SURELY_NEGATIVE: f64 = -0.02;
/// Possible overshoot of the cubics over the Reynolds number, as a part of the difference between curves: twice 4/27 (see [`most_lift`]).
const OVERSHOOT: f64 = 8.0 / 27.0;

/// Angles below zero lift from which to which the lift is surely not positive: neither that of the curves, with what interpolation between them may add, nor that of attached flow.
pub(crate) fn without_lift(curves: &[(f64, FullCirclePolar)], zero: f64) -> Option<[f64; 2]> {
    let lines = curves.iter().map(|c| c.1.attached_zero()).fold(zero, f64::min);
    let is_negative = |alpha: f64| {
        let lifts = curves.iter().map(|c| c.1.at::<1>(alpha)[0]);
        let (low, high) =
            lifts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)));
        high + OVERSHOOT * (high - low) < SURELY_NEGATIVE
    };
    let mut angles =
        (1..).map(|k| lines - LOOK_STEP * f64::from(k)).take_while(|a| lines - LOOK_FARTHEST < *a);
    let high = angles.by_ref().find(|a| is_negative(*a))?;
    let low = angles.take_while(|a| is_negative(*a)).last()?;
    Some([low, high])
}

/// Maximum computed incidence from zero lift, rad, up and down.
const FARTHEST_UP: f64 = 0.38;
/// Maximum incidence down. Chosen; no check of this value is on record.
const FARTHEST_DOWN: f64 = 0.30;
/// A march ends when the lift at every Reynolds number is this far below its maximum, or after this number of consecutive angles without convergence.
const STALL_DROP: f64 = 0.04;
/// Number of those consecutive angles. Chosen; no check of this value is on record.
const PATIENCE: usize = 3;
/// Computed points are used up to this angle beyond that of maximum lift, rad. Deeper in stall the boundary-layer relations were never compared with tests.
const BEYOND_GREATEST: f64 = 0.045;
/// Minimum number of converged points for a polar.
const FEWEST: usize = 6;

/// The part of the range of attached angles, about its middle, in which no separation is seen: viscous lift bends over beyond it (a judgement).
const SURELY_ATTACHED: f64 = 0.6;
/// So many times the attached range, about its middle, from which on a section is separated as a whole: two to three degrees beyond greatest lift (a judgement).
const SURELY_STALLED: f64 = 1.2;

impl SectionTable {
    /// Computes the polar of `outline` (n x 2, closed, chord line along `x`, nose towards smaller `x`, any unit).
    ///
    /// A Reynolds number at which fewer than six angles converge gets the lift of attached flow and the drag of a flat plate, all marked as interpolated. Its
    /// count is in [`Self::convergence`].
    ///
    /// # Errors
    /// [`PolarError::Outline`], [`PolarError::Setting`], [`PolarError::Singular`].
    pub fn compute(outline: &[[f64; 2]], settings: &TableSettings) -> Result<Self, PolarError> {
        let numbers = reynolds_numbers(settings)?;
        let section = PreparedSection::new(outline, settings.viscous)?;
        let thickness = section.panels().thickness_ratio();
        let zero = section.panels().zero_lift_angle_rad();
        let slope =
            (section.panels().flow(zero + 0.01).lift - section.panels().flow(zero - 0.01).lift) / 0.02;
        let mut table = Self {
            key: content_hash(outline, settings),
            thickness_ratio: thickness,
            unseparated: [slope, zero],
            curves: Vec::new(),
            convergence: Vec::new(),
            pressures: Vec::new(),
            most_lift: 0.0,
            without_lift: None,
        };
        // A fully bluff body needs no boundary layers.
        let rows = if 1.0 <= bluff::share(thickness) {
            vec![Vec::new(); numbers.len()]
        } else {
            march_both_ways(&section, zero, settings.step_rad, &numbers)?
        };
        for (&reynolds, points) in numbers.iter().zip(&rows) {
            let (curve, convergence) = table.curve(points, reynolds);
            table.curves.push((reynolds.ln(), curve));
            table.pressures.push(pressures(section.panels(), points, convergence.attached_rad));
            table.convergence.push(convergence);
        }
        table.most_lift = most_lift(&table.curves);
        table.without_lift = without_lift(&table.curves, zero);
        Ok(table)
    }

    /// Identifies outline and settings: equal keys mean equal polars. 32 hexadecimal digits, usable as a file name.
    #[must_use]
    pub fn content_key(outline: &[[f64; 2]], settings: &TableSettings) -> String {
        format!("{:032x}", content_hash(outline, settings))
    }

    /// The key of the outline and settings of this polar.
    #[must_use]
    pub fn key(&self) -> String {
        format!("{:032x}", self.key)
    }

    /// Convergence, one entry per Reynolds number.
    #[must_use]
    pub fn convergence(&self) -> &[Convergence] {
        &self.convergence
    }

    /// Maximum extent perpendicular to the chord line, divided by the chord.
    #[must_use]
    pub fn thickness_ratio(&self) -> f64 {
        self.thickness_ratio
    }

    /// Smallest and largest tabulated Reynolds number.
    #[must_use]
    pub fn reynolds_range(&self) -> [f64; 2] {
        [0, self.curves.len().saturating_sub(1)].map(|i| self.curves.get(i).map_or(0.0, |c| c.0.exp()))
    }

    /// Lift of the flow if it stayed attached, with its friction, near stall and beyond; `None` where it is attached: within [`SURELY_ATTACHED`] of the range of
    /// attached angles. Between there and the end of the range it goes over from the section's own lift. `alpha_rad`: angle of attack.
    #[must_use]
    pub fn attached_lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> Option<f64> {
        self.lift_and_attached(alpha_rad, reynolds, mach).1
    }

    /// The lift and [`Self::attached_lift`] together.
    #[must_use]
    pub fn lift_and_attached(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> (f64, Option<f64>) {
        let at = self.place(alpha_rad, reynolds, mach);
        let [own] = self.incompressible(&at);
        (own * at.lift_factor(), self.attached(&at, own))
    }

    /// The forces and [`Self::attached_lift`] together.
    #[must_use]
    pub fn forces_and_attached(
        &self,
        alpha_rad: f64,
        reynolds: f64,
        mach: f64,
    ) -> (SectionForces, Option<f64>) {
        let at = self.place(alpha_rad, reynolds, mach);
        let own = self.incompressible(&at);
        (self.forces_at(&at, own), self.attached(&at, own[0]))
    }

    /// Lift of attached flow for the section's own incompressible lift at the same place.
    fn attached(&self, at: &Place, own: f64) -> Option<f64> {
        let out = self.out(at);
        if out <= SURELY_ATTACHED {
            return None;
        }
        let gone = ((out - SURELY_ATTACHED) / (1.0 - SURELY_ATTACHED)).min(1.0);
        let line = self.mixed(at, |c| c.attached_lift(at.stretched));
        let lift = own + gone * gone * (3.0 - 2.0 * gone) * (line - own);
        Some(lift * at.lift_factor())
    }

    /// How far the flow is separated, 0 at the end of the range of attached angles to 1 at [`SURELY_STALLED`] of it, and the least drag of attached flow; `None` within the range.
    #[must_use]
    pub fn separated(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> Option<(f64, f64)> {
        let at = self.place(alpha_rad, reynolds, mach);
        let share = ((self.out(&at) - 1.0) / (SURELY_STALLED - 1.0)).clamp(0.0, 1.0);
        (0.0 < share).then(|| (share * share * (3.0 - 2.0 * share), self.mixed(&at, |c| c.least_drag)))
    }

    /// Distance from the middle of the range of attached angles, as a fraction of its half.
    fn out(&self, at: &Place) -> f64 {
        let [low, high] = [0, 1].map(|k| self.mixed(at, |c| c.attached[k]));
        (at.stretched - 0.5 * (low + high)).abs() / (0.5 * (high - low)).max(f64::MIN_POSITIVE)
    }

    /// A figure of the curves below and above, linear between them.
    fn mixed(&self, at: &Place, of: impl Fn(&FullCirclePolar) -> f64) -> f64 {
        let (i, j, t) = at.between;
        let (a, b) = (of(&self.curves[i].1), of(&self.curves[j].1));
        a + t * (b - a)
    }

    /// Indices of the curves below and above a Reynolds number, and its place between them in the logarithm, 0 to 1.
    fn between(&self, reynolds: f64) -> (usize, usize, f64) {
        let last = self.curves.len() - 1;
        let ln = if reynolds.is_finite() { reynolds.max(1.0).ln() } else { self.curves[last].0 };
        let ln = ln.clamp(self.curves[0].0, self.curves[last].0);
        let j = self.curves.partition_point(|c| c.0 <= ln).clamp(1, last.max(1));
        let (i, j) = (j - 1, j.min(last));
        let span = self.curves[j].0 - self.curves[i].0;
        (i, j, if span > 0.0 { (ln - self.curves[i].0) / span } else { 0.0 })
    }

    /// Zero-lift angle in inviscid flow, rad.
    #[must_use]
    pub fn zero_lift_angle_rad(&self) -> f64 {
        self.unseparated[1]
    }

    fn curve(&self, points: &[ViscousPoint], reynolds: f64) -> (FullCirclePolar, Convergence) {
        let [slope, zero] = self.unseparated;
        let good: Vec<&ViscousPoint> = points.iter().filter(|p| p.converged).collect();
        let (low, high) = extremes(&good, zero);
        let enough = FEWEST <= good.len();
        let attached = if enough { [low, high] } else { [zero - 0.17, zero + 0.17] };
        let inside = |a: f64| attached[0] - BEYOND_GREATEST <= a && a <= attached[1] + BEYOND_GREATEST;
        let typical = typical_step(&good);
        let mut nodes: Vec<Node> = Vec::new();
        if enough {
            let used: Vec<_> = good.iter().filter(|p| inside(p.alpha_rad)).collect();
            for (i, p) in used.iter().enumerate() {
                let bridged = used.get(i + 1).is_some_and(|q| 1.6 * typical < q.alpha_rad - p.alpha_rad);
                let region = if bridged { PolarRegion::Bridged } else { PolarRegion::Computed };
                nodes.push(Node { alpha_rad: p.alpha_rad, forces: [p.lift, p.drag, p.moment], region });
            }
        } else {
            nodes = stand_in(slope, zero, self.thickness_ratio, reynolds);
        }
        let least_drag = nodes.iter().map(|n| n.forces[1]).fold(f64::INFINITY, f64::min);
        let (lower, upper) = (Edge::of(&nodes, -1.0), Edge::of(&nodes, 1.0));
        if let Some(last) = nodes.last_mut() {
            last.region = PolarRegion::BeyondStall;
        }
        nodes.extend(beyond_stall::nodes(lower, upper, least_drag));
        let share = bluff::share(self.thickness_ratio);
        if 0.0 < share {
            for n in &mut nodes {
                let body = bluff::forces(self.thickness_ratio, n.alpha_rad, reynolds);
                n.forces = [0, 1, 2].map(|k| n.forces[k] + share * (body[k] - n.forces[k]));
                if 0.5 <= share {
                    n.region = PolarRegion::BluffBody;
                }
            }
        }
        let curve = FullCirclePolar::new(nodes, attached);
        let window: Vec<_> =
            points.iter().filter(|p| -0.1746 <= p.alpha_rad && p.alpha_rad <= attached[1] + 1e-9).collect();
        let convergence = Convergence {
            reynolds,
            asked: window.len(),
            converged: window.iter().filter(|p| p.converged).count(),
            attached_rad: attached,
            extreme_lift: attached.map(|a| curve.at::<1>(a)[0]),
        };
        (curve, convergence)
    }

    /// Incompressible forces, the first `N` of lift, drag and moment. Cubic in the logarithm of the Reynolds number, with slopes from the neighbours on both sides; zero at the ends, where the
    /// table keeps its last value.
    fn incompressible<const N: usize>(&self, at: &Place) -> [f64; N] {
        let (last, (i, j, t)) = (self.curves.len() - 1, at.between);
        let of = |k: usize| self.curves[k].1.at::<N>(at.stretched);
        let a = of(i);
        if i == j {
            return a;
        }
        let b = of(j);
        let u = 1.0 - t;
        let span = self.curves[j].0 - self.curves[i].0;
        let (mut of_a, mut of_b) = (u * u * (1.0 + 2.0 * t), t * t * (3.0 - 2.0 * t));
        let mut others = [0.0; N];
        if 0 < i {
            let weight = t * u * u * span / (self.curves[j].0 - self.curves[i - 1].0);
            of_b += weight;
            let before = of(i - 1);
            others = std::array::from_fn(|q| others[q] - weight * before[q]);
        }
        if j < last {
            let weight = t * t * u * span / (self.curves[j + 1].0 - self.curves[i].0);
            of_a += weight;
            let after = of(j + 1);
            others = std::array::from_fn(|q| others[q] - weight * after[q]);
        }
        std::array::from_fn(|q| of_a * a[q] + of_b * b[q] + others[q])
    }

    fn forces_at(&self, at: &Place, [lift, drag, moment]: [f64; 3]) -> SectionForces {
        let (i, j, t) = at.between;
        let factor = at.lift_factor();
        let moment = moment * (1.0 + (at.corrections.incidence - 1.0) * at.fading);
        let attached = [0, 1].map(|k| self.mixed(at, |c| c.attached[k]));
        SectionForces {
            lift: lift * factor,
            drag: drag + at.corrections.drag * at.fading,
            moment: moment * factor,
            region: self.curves[if t < 0.5 { i } else { j }].1.region(at.stretched),
            stalled: at.stretched < attached[0] || attached[1] < at.stretched,
        }
    }
}

impl SectionPolar for SectionTable {
    fn forces(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> SectionForces {
        let at = self.place(alpha_rad, reynolds, mach);
        self.forces_at(&at, self.incompressible(&at))
    }

    fn least_pressure(&self, alpha_rad: f64, reynolds: f64) -> Option<f64> {
        if 0.0 < bluff::share(self.thickness_ratio) {
            return None;
        }
        let alpha = wrapped(alpha_rad);
        let (i, j, t) = self.between(reynolds);
        let [a, b] = [i, j].map(|k| self.pressures.get(k).and_then(|points| between_points(points, alpha)));
        Some(a? + t * (b? - a?))
    }

    fn lift(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> f64 {
        let at = self.place(alpha_rad, reynolds, mach);
        let [lift] = self.incompressible(&at);
        lift * at.lift_factor()
    }

    fn without_lift(&self) -> Option<[f64; 2]> {
        self.without_lift
    }
}

/// Where a table is read.
struct Place {
    /// The angle, rad, at which the incompressible curves are evaluated.
    stretched: f64,
    /// Mach number corrections, and the fraction of them that applies.
    corrections: Corrections,
    fading: f64,
    /// See [`SectionTable::between`].
    between: (usize, usize, f64),
}

impl Place {
    fn lift_factor(&self) -> f64 {
        1.0 + (self.corrections.lift - 1.0) * self.fading
    }
}

impl SectionTable {
    fn place(&self, alpha_rad: f64, reynolds: f64, mach: f64) -> Place {
        let alpha = wrapped(alpha_rad);
        let zero = self.unseparated[1];
        let incidence = wrapped(alpha - zero);
        let fading = fade(incidence);
        let between = self.between(reynolds);
        // The lift matters only beyond the critical Mach number. Below the lowest critical Mach number it need not be known.
        let linear = if mach <= critical_mach(self.thickness_ratio, self.most_lift) {
            0.0
        } else {
            let plain = Place { stretched: alpha, corrections: Corrections::NONE, fading, between };
            self.incompressible::<1>(&plain)[0]
        };
        let corrections = corrections(mach, self.thickness_ratio, linear);
        let stretched = zero + incidence * (1.0 + (corrections.incidence - 1.0) * fading);
        Place { stretched, corrections, fading, between }
    }
}

/// Angle and least pressure of the points between the angles of extreme lift: of inviscid flow where the layers did not converge.
fn pressures(panels: &Panels, points: &[ViscousPoint], attached: [f64; 2]) -> Vec<[f64; 2]> {
    let inside = |p: &&ViscousPoint| attached[0] - 1e-9 <= p.alpha_rad && p.alpha_rad <= attached[1] + 1e-9;
    let of = |p: &ViscousPoint| match p.converged {
        true => [p.alpha_rad, p.least_pressure],
        false => {
            let pressure = panels.flow(p.alpha_rad).pressure;
            [p.alpha_rad, pressure.into_iter().fold(f64::INFINITY, f64::min)]
        }
    };
    points.iter().filter(inside).map(of).collect()
}

/// Linear between neighbours, since the least pressure has corners where it goes over from one place of the surface to another. `None` outside.
fn between_points(points: &[[f64; 2]], at: f64) -> Option<f64> {
    let pair = points.windows(2).find(|p| p[0][0] <= at && at <= p[1][0])?;
    Some(pair[0][1] + (pair[1][1] - pair[0][1]) * (at - pair[0][0]) / (pair[1][0] - pair[0][0]))
}

/// Evenly spaced in the logarithm, within the range of the method.
fn reynolds_numbers(settings: &TableSettings) -> Result<Vec<f64>, PolarError> {
    let [low, high] = settings.reynolds;
    check("the least Reynolds number", low, REYNOLDS_RANGE[0], REYNOLDS_RANGE[1])?;
    check("the greatest Reynolds number", high, low, REYNOLDS_RANGE[1])?;
    check("the number of Reynolds numbers", settings.reynolds_count as f64, 1.0, 9.0)?;
    check("the step of the angle in radians", settings.step_rad, 0.002, 0.06)?;
    let count = if high / low < 1.01 { 1 } else { settings.reynolds_count };
    if count == 1 {
        return Ok(vec![(low * high).sqrt()]);
    }
    Ok((0..count).map(|i| low * (high / low).powf(i as f64 / (count - 1) as f64)).collect())
}

/// Marches from zero lift upwards and downwards. Returns increasing angles, one row per Reynolds number.
fn march_both_ways(
    section: &PreparedSection,
    zero: f64,
    step: f64,
    reynolds: &[f64],
) -> Result<Vec<Vec<ViscousPoint>>, PolarError> {
    let mut rows: Vec<Vec<ViscousPoint>> = vec![Vec::new(); reynolds.len()];
    let mut march = March::new(section, reynolds)?;
    for (sense, farthest) in [(1.0, FARTHEST_UP), (-1.0, FARTHEST_DOWN)] {
        let mut greatest = vec![0.0f64; reynolds.len()];
        let mut ended = vec![0usize; reynolds.len()];
        for i in 0..=(farthest / step) as usize {
            // Zero lift is computed once, unless it failed and the upward march found a start for it.
            let zero_lift_again = |row: &Vec<ViscousPoint>| sense > 0.0 || 0 < i || !row[0].converged;
            let alpha = zero + sense * step * i as f64;
            let wanted: Vec<bool> = ended
                .iter()
                .zip(&rows)
                .map(|(&e, row)| e < PATIENCE && (row.is_empty() || zero_lift_again(row)))
                .collect();
            if ended.iter().all(|&e| PATIENCE <= e) {
                break;
            }
            for (k, p) in march.advance_some(alpha, &wanted)?.into_iter().enumerate() {
                let Some(p) = p else { continue };
                let lift = sense * p.lift;
                if p.converged && greatest[k] <= lift {
                    greatest[k] = lift;
                }
                // Stalled and unconverged angles are counted. An angle with rising lift resets the count.
                ended[k] = if p.converged && greatest[k] * (1.0 - STALL_DROP) < lift || i < 4 {
                    0
                } else {
                    ended[k] + 1
                };
                if sense < 0.0 && i == 0 {
                    rows[k][0] = p;
                } else {
                    rows[k].push(p);
                }
            }
        }
        march.turn_back();
    }
    for row in &mut rows {
        row.sort_by(|a, b| a.alpha_rad.total_cmp(&b.alpha_rad));
    }
    Ok(rows)
}

/// Angles of minimum and maximum lift: the first on each side of zero lift beyond which the magnitude decreases.
fn extremes(good: &[&ViscousPoint], zero: f64) -> (f64, f64) {
    let peak = |points: &mut dyn Iterator<Item = &&ViscousPoint>, sense: f64| {
        let (mut best, mut at) = (f64::NEG_INFINITY, zero);
        for p in points {
            let lift = sense * p.lift;
            if best < lift {
                (best, at) = (lift, p.alpha_rad);
            } else if lift < best - STALL_DROP * best.abs() {
                break;
            }
        }
        at
    };
    let low = peak(&mut good.iter().rev().filter(|p| p.alpha_rad <= zero), -1.0);
    (low, peak(&mut good.iter().filter(|p| zero <= p.alpha_rad), 1.0))
}

fn typical_step(good: &[&ViscousPoint]) -> f64 {
    let mut steps: Vec<f64> = good.windows(2).map(|w| w[1].alpha_rad - w[0].alpha_rad).collect();
    steps.sort_by(f64::total_cmp);
    steps.get(steps.len() / 2).copied().unwrap_or(0.02)
}

/// Substitute if too few angles converged: nine tenths of the inviscid lift up to 10 deg from zero lift, and the drag of a turbulent plate
/// with Hoerner's form factor ("Fluid-Dynamic Drag", 1965, chapter 6, from memory).
fn stand_in(slope: f64, zero: f64, thickness: f64, reynolds: f64) -> Vec<Node> {
    let friction = 0.455 / reynolds.log10().powf(2.58);
    let drag = 2.0 * friction * (1.0 + 2.0 * thickness + 60.0 * thickness.powi(4));
    (-8..=8)
        .map(|i| 0.021 * f64::from(i))
        .map(|d| Node {
            alpha_rad: zero + d,
            forces: [0.9 * slope * d, drag * (1.0 + 30.0 * d * d), 0.0],
            region: PolarRegion::Bridged,
        })
        .collect()
}

fn content_hash(outline: &[[f64; 2]], settings: &TableSettings) -> u128 {
    let mut hash = Hash::new();
    for v in outline.iter().flatten() {
        hash.number(*v);
    }
    let v = settings.viscous;
    for x in [
        v.amplification,
        v.trip_back,
        v.trip_face,
        v.panels as f64,
        settings.reynolds[0],
        settings.reynolds[1],
        settings.reynolds_count as f64,
        settings.step_rad,
        MACH_LIMIT,
    ] {
        hash.number(x);
    }
    hash.finish()
}
