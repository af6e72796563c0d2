//! The measured root: rows through the sections that the scan shows between the first section of the blade and the root end, or the hub.
//!
//! A root section need not have the form of a blade section. Its tail and its nose are the points that lie farthest along a direction, which follows the longest
//! side of the sections from the first section inwards, so that the lines of constant parameter run straight from the blade into the root.

use bladeform_numeric::bspline::CurveFit;
use bladeform_section::{area, centroid, convex_hull, longest_chord, make_simple};
use bladeform_table::StationTable;

use crate::notice::SolidNotice;
use crate::open_outline::{OpenOutline, open};
use crate::rows::{FirstSection, Row, round_points, sampled};

/// A section is round if its points lie as close to a circle as this, as a fraction of the radius (root mean square): an ellipse of 3 % or a scan's noise on a thin shank.
const ROUND: f64 = 0.012;
/// How much a place beside the middle counts against one farther out, as a fraction of the half width: a flat end of a section then has its tail in its middle.
const ASIDE: f64 = 0.5;
/// The direction is that of the section if its width is below this fraction of its length; in between it follows in part, since a round section has none.
const FLAT: f64 = 0.7;
/// A section flatter than this has the form of a blade section: its tail is treated as one of a station.
const BLADE_LIKE: f64 = 0.5;
/// Width of the tail's flat at most, as a fraction of the radius of the circle of the same area: it cuts less than 0.1 % of a thick section off.
const WIDEST_TAIL: f64 = 0.1;
/// Points of an outline closer than this fraction of their usual distance to a corner of the tail or to the nose are left out.
const TOO_NEAR: f64 = 0.3;
/// Sections closer to the first one than this fraction of their usual distance are left out: a small error there would bend the surface.
const LEAST_GAP: f64 = 1.0;
/// Passes of smoothing along the span, each with the shares 1/4, 1/2 and 1/4: single cuts of a scan are noisy, and four passes take more than half of independent noise away (variance 12870 / 65536).
const PASSES: usize = 4;
/// Neighbours whose circles of the same area differ by more than this fraction of the radius are a step of the root, which is not smoothed.
const STEP: f64 = 0.05;

/// Rows of a measured root, the innermost first, and what to say of them.
pub(crate) struct Root {
    pub(crate) rows: Vec<Row>,
    pub(crate) notice: SolidNotice,
}

/// The rows through the root sections of a table inboard of its first blade section; `None` if it has none. `shift_m`: by which the blade is moved outwards; `root_m`: the root end
/// after that.
pub(crate) fn root_of(
    table: &StationTable,
    shift_m: f64,
    root_m: Option<f64>,
    first: &FirstSection,
    fit: &CurveFit,
) -> Option<Root> {
    let inboard: Vec<_> = table
        .root_sections
        .iter()
        .map(|s| (s, s.radius_m + shift_m))
        .filter(|(_, r)| root_m.unwrap_or(0.0) < *r && *r < first.radius_m)
        .collect();
    let room = first.radius_m - inboard.first()?.1;
    let most = first.radius_m - LEAST_GAP * room / inboard.len() as f64;
    let (mut direction, mut rows, mut rounds) = (first.direction, Vec::<Row>::new(), Vec::new());
    let (mut sizes, mut left_out) = (Vec::new(), inboard.iter().filter(|(s, _)| !s.closed).count());
    for (section, radius_m) in inboard.iter().rev().filter(|(s, r)| s.closed && *r < most) {
        let outline: Vec<[f64; 2]> = section.outline.points().collect();
        let Some(found) = Found::of(&outline, direction) else {
            left_out += 1;
            continue;
        };
        direction = found.direction;
        let points = match found.circle {
            Some((centre, radius)) => round_points(centre, [radius; 2], first.tail_m, direction, fit),
            None => found
                .as_blade_section()
                .or_else(|| found.open(first.tail_m))
                .and_then(|(points, nose)| simple(sampled(fit, points, nose)?))
                .and_then(|points| fit.fit(&points)),
        };
        let Some(points) = points else {
            left_out += 1;
            continue;
        };
        if let Some((_, radius)) = found.circle {
            rounds.push((*radius_m, 2.0 * radius));
        }
        rows.push(Row { radius_m: *radius_m, points });
        sizes.push(found.mean_radius);
    }
    rows.reverse();
    sizes.reverse();
    (0..PASSES).for_each(|_| smooth(&mut rows, &sizes));
    let innermost = rows.first()?.clone();
    let sections = rows.len();
    let root_m = root_m.unwrap_or(innermost.radius_m);
    if root_m < innermost.radius_m - 1e-6 {
        rows.insert(0, Row { radius_m: root_m, ..innermost.clone() });
    }
    let notice = SolidNotice::RootMeasured {
        sections,
        left_out,
        root_m,
        innermost_m: innermost.radius_m,
        first_m: first.radius_m,
        round: round_part(&rounds),
    };
    Some(Root { rows, notice })
}

/// An outline whose sides do not change places at the nose: noise may do that at a sharp edge. `None` if they cross elsewhere. `points`: clockwise.
fn simple(points: Vec<[f64; 2]>) -> Option<Vec<[f64; 2]>> {
    let mirrored = |p: &[f64; 2]| [p[0], -p[1]];
    let mut made: Vec<_> = points.iter().map(mirrored).collect();
    match make_simple(&mut made) {
        Ok([_, None]) => Some(made.iter().map(mirrored).collect()),
        _ => None,
    }
}

/// One pass of smoothing along the span; the ends stay. `sizes`: radius of the circle of the same area, m.
fn smooth(rows: &mut [Row], sizes: &[f64]) {
    let before: Vec<Vec<[f64; 2]>> = rows.iter().map(|r| r.points.clone()).collect();
    for i in 1..rows.len().max(1) - 1 {
        let is_step = |j: usize| STEP * sizes[i] < (sizes[j] - sizes[i]).abs();
        if is_step(i - 1) || is_step(i + 1) {
            continue;
        }
        // Neighbours at different distances: a straight line stays one.
        let (a, b) = (rows[i].radius_m - rows[i - 1].radius_m, rows[i + 1].radius_m - rows[i].radius_m);
        let (inner, outer) = (b / (a + b), a / (a + b));
        for (k, p) in rows[i].points.iter_mut().enumerate() {
            let (q, r) = (before[i - 1][k], before[i + 1][k]);
            *p = [0, 1].map(|c| 0.5 * p[c] + 0.5 * (inner * q[c] + outer * r[c]));
        }
    }
}

/// Radii between which sections are round, and their least and greatest diameter, m. `rounds`: radius and diameter of each, from the outside inwards.
fn round_part(rounds: &[(f64, f64)]) -> Option<[f64; 4]> {
    let (outer, inner) = (rounds.first()?.0, rounds.last()?.0);
    let (least, greatest) =
        rounds.iter().fold((f64::INFINITY, 0.0_f64), |(l, g), (_, d)| (l.min(*d), g.max(*d)));
    Some([inner, outer, least, greatest])
}

/// Tail and nose of a root section.
struct Found {
    /// The outline clockwise seen from the tip, m.
    outline: Vec<[f64; 2]>,
    /// Length of the outline to each point, and the whole, m.
    along: Vec<f64>,
    /// From tail to nose.
    direction: [f64; 2],
    /// Places of tail and nose along the outline, m.
    tail: f64,
    nose: f64,
    /// Radius of the circle of the same area, m.
    mean_radius: f64,
    /// Width over length of the ellipse with the same area and length: near 1 for a round section.
    flatness: f64,
    /// Centre and radius of a round section.
    circle: Option<([f64; 2], f64)>,
}

impl Found {
    fn of(outline: &[[f64; 2]], before: [f64; 2]) -> Option<Self> {
        let mut outline = outline.to_vec();
        outline.dedup();
        if outline.len() < 8 {
            return None;
        }
        if 0.0 < area(&outline) {
            outline.reverse();
        }
        let (size, middle) = (area(&outline).abs(), centroid(&outline));
        let mean_radius = (size / std::f64::consts::PI).sqrt();
        let hull = convex_hull(&outline);
        let (a, b) = longest_chord(&hull)?;
        let chord = (a[0] - b[0]).hypot(a[1] - b[1]);
        if !(0.0 < mean_radius && mean_radius.is_finite() && 0.0 < chord) {
            return None;
        }
        let off = outline.iter().map(|p| {
            let r = (p[0] - middle[0]).hypot(p[1] - middle[1]) / mean_radius - 1.0;
            r * r
        });
        let stray = (off.sum::<f64>() / outline.len() as f64).sqrt();
        let flatness = (2.0 * mean_radius / chord).powi(2);
        let own = [(a[0] - b[0]) / chord, (a[1] - b[1]) / chord];
        let sign = (own[0] * before[0] + own[1] * before[1]).signum();
        let weight = ((1.0 - flatness) / (1.0 - FLAT)).clamp(0.0, 1.0);
        let mixed = [0, 1].map(|k| (1.0 - weight) * before[k] + weight * sign * own[k]);
        let length = mixed[0].hypot(mixed[1]);
        let direction = if 1e-3 < length { mixed.map(|x| x / length) } else { before };
        let mut along = vec![0.0];
        for (i, p) in outline.iter().enumerate() {
            let q = outline[(i + 1) % outline.len()];
            along.push(along[i] + (q[0] - p[0]).hypot(q[1] - p[1]));
        }
        let mut found =
            Self { outline, along, direction, tail: 0.0, nose: 0.0, mean_radius, flatness, circle: None };
        found.tail = found.farthest([-direction[0], -direction[1]], middle);
        found.nose = found.farthest(direction, middle);
        found.circle = (stray < ROUND).then_some((middle, mean_radius));
        Some(found)
    }

    fn whole(&self) -> f64 {
        self.along[self.outline.len()]
    }

    /// Place along the outline, m, that lies farthest in a direction from the middle, and not much aside.
    fn farthest(&self, direction: [f64; 2], middle: [f64; 2]) -> f64 {
        let split = |p: &[f64; 2]| {
            let d = [p[0] - middle[0], p[1] - middle[1]];
            (d[0] * direction[0] + d[1] * direction[1], d[1] * direction[0] - d[0] * direction[1])
        };
        let reach = self.outline.iter().map(|p| split(p).0).fold(0.0, f64::max).max(0.1 * self.mean_radius);
        let worth = |i: usize| {
            let (ahead, aside) = split(&self.outline[i % self.outline.len()]);
            ahead - ASIDE * aside * aside / reach
        };
        let n = self.outline.len();
        let best = (0..n).max_by(|&i, &j| worth(i).total_cmp(&worth(j))).unwrap_or(0);
        let (a, b, c) = (worth(best + n - 1), worth(best), worth(best + 1));
        let bend = 2.0 * b - a - c;
        // The summit of the parabola through three neighbours.
        let share = if 0.0 < bend { (0.5 * (c - a) / bend).clamp(-0.5, 0.5) } else { 0.0 };
        let step = if share < 0.0 {
            let before = (best + n - 1) % n;
            self.along[before + 1] - self.along[before]
        } else {
            self.along[best + 1] - self.along[best]
        };
        (self.along[best] + share * step).rem_euclid(self.whole())
    }

    /// The point at a place along the outline, m.
    fn at(&self, s: f64) -> [f64; 2] {
        let s = s.rem_euclid(self.whole());
        let n = self.outline.len();
        let i = self.along.partition_point(|&a| a <= s).clamp(1, n) - 1;
        let share = (s - self.along[i]) / (self.along[i + 1] - self.along[i]).max(f64::MIN_POSITIVE);
        let (p, q) = (self.outline[i], self.outline[(i + 1) % n]);
        [0, 1].map(|k| p[k] + share * (q[k] - p[k]))
    }

    /// A flat section opened like that of a station; `None` if it is thick, or crosses itself.
    fn as_blade_section(&self) -> Option<(Vec<[f64; 2]>, usize)> {
        if BLADE_LIKE < self.flatness {
            return None;
        }
        let (tail, nose) = (self.at(self.tail), self.at(self.nose));
        let chord = (nose[0] - tail[0]).hypot(nose[1] - tail[1]);
        let [cos, sin] = [0, 1].map(|k| (nose[k] - tail[k]) / chord);
        let into = |p: &[f64; 2]| {
            let d = [p[0] - nose[0], p[1] - nose[1]];
            [-(d[0] * cos + d[1] * sin), d[1] * cos - d[0] * sin]
        };
        let back = |p: &[f64; 2]| [nose[0] - p[0] * cos - p[1] * sin, nose[1] - p[0] * sin + p[1] * cos];
        let polygon: Vec<[f64; 2]> = self.outline.iter().map(into).collect();
        let OpenOutline { points, nose, .. } = open(&polygon, chord).ok()?;
        Some((points.iter().map(back).collect(), nose))
    }

    /// The outline from the corner of the tail on the back over the nose to the corner on the face, and the index of the nose.
    fn open(&self, tail_m: f64) -> Option<(Vec<[f64; 2]>, usize)> {
        let (whole, step) = (self.whole(), self.whole() / self.outline.len() as f64);
        let width = tail_m.min(WIDEST_TAIL * self.mean_radius);
        let distance = |s: f64| {
            let (p, q) = (self.at(self.tail + s), self.at(self.tail - s));
            (p[0] - q[0]).hypot(p[1] - q[1])
        };
        // The first place at which the sides are as far apart as the tail is wide.
        let fine = 0.1 * step.min(0.5 * width);
        let cut = (1..)
            .map(|i| f64::from(i) * fine)
            .take_while(|s| *s < 0.1 * whole)
            .find(|s| width <= distance(*s))?;
        let nose = (self.nose - self.tail).rem_euclid(whole);
        let end = whole - cut;
        let mut places = vec![cut, nose, end];
        let apart = TOO_NEAR * step;
        let inner = self.along[..self.outline.len()].iter().map(|a| (a - self.tail).rem_euclid(whole));
        places.extend(inner.filter(|s| cut + apart < *s && *s < end - apart && apart < (s - nose).abs()));
        places.sort_by(f64::total_cmp);
        let index = places.partition_point(|s| *s < nose);
        let points = places.iter().map(|s| self.at(self.tail + s)).collect();
        (0 < index && index + 1 < places.len()).then_some((points, index))
    }
}
