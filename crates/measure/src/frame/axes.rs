//! Span axes of a lone blade: principal axes first, then the round shank's own axis, or the line of section centroids over the outer half.

use bladeform_mesh::{CleanMesh, Moments};
use nalgebra::{DMatrix, DVector};

use super::short_shank::short_shank;
use crate::band::slices::{Slice, slices_along};
use crate::error::{MeasureError, NoBladeReason};
use crate::vector::{Axes, V3, dot, median, sub};
use bladeform_numeric::parallel;

/// Slices along the span for a first look.
pub(crate) const N_SLICES: usize = 96;
/// A slice whose least width is at least this share of its greatest is round.
const ROUND_SLICE: f64 = 0.93;
/// A shank must be round over this many of its diameters before its axis is used: shorter ones tell their direction badly.
const SHANK_DIAMETERS: f64 = 0.6;
/// Ends of the span that are left out of the slices, as shares of the length.
const END_MARGIN: f64 = 0.004;

/// Where the span axes of a lone blade come from.
pub(crate) struct LoneAxes {
    pub(crate) axes: Axes,
    pub(crate) method: String,
    pub(crate) ends_certain: bool,
    /// How far the axis may lie off, where that is known.
    pub(crate) play: Option<AxisPlay>,
    /// Angle between the line through the outer sections, which is the axis, and one through all sections, rad; only where the axis is that line.
    pub(crate) apart_rad: Option<f64>,
}

/// Uncertainty of an axis: variances of its place and slope across it (the mean of both directions), file units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct AxisPlay {
    middle: f64,
    place: f64,
    place_slope: f64,
    slope: f64,
    /// Whether the axis is that of section centroids.
    pub(crate) by_sections: bool,
}

impl AxisPlay {
    /// Standard uncertainty of the direction, rad, in each of both ways across it.
    pub(crate) fn tilt(&self) -> f64 {
        self.slope.max(0.0).sqrt()
    }

    /// Standard uncertainty of the axis' place at `z` along the span, file units.
    pub(crate) fn at(&self, z: f64) -> f64 {
        let d = z - self.middle;
        (self.place + d * (2.0 * self.place_slope + d * self.slope)).max(0.0).sqrt()
    }
}

/// Evenly spaced places between two ends.
pub(crate) fn places(low: f64, high: f64) -> Vec<f64> {
    let margin = END_MARGIN * (high - low);
    (0..N_SLICES)
        .map(|i| low + margin + (high - low - 2.0 * margin) * i as f64 / (N_SLICES - 1) as f64)
        .collect()
}

/// Least and greatest third coordinate.
pub(crate) fn span_of(mesh: &CleanMesh) -> (f64, f64) {
    range_of(mesh, |p| p[2])
}

/// Least and greatest of a figure of the vertices.
fn range_of(mesh: &CleanMesh, figure: impl Fn(V3) -> f64 + Sync) -> (f64, f64) {
    let none = (f64::INFINITY, f64::NEG_INFINITY);
    let groups = parallel::groups(mesh.vertices().len(), |group| {
        mesh.vertices()[group].iter().fold(none, |(l, h), &p| (l.min(figure(p)), h.max(figure(p))))
    });
    groups.into_iter().fold(none, |(l, h), (low, high)| (l.min(low), h.max(high)))
}

/// Least and greatest coordinate along the span.
fn span_along(mesh: &CleanMesh, axes: &Axes) -> (f64, f64) {
    range_of(mesh, |p| dot(axes.rows[2], sub(p, axes.origin)))
}

/// Finds the span of a lone blade, tip outwards. `m`: the mesh's own.
pub(crate) fn lone_axes(mesh: &CleanMesh, m: &Moments, swap_ends: bool) -> Result<LoneAxes, MeasureError> {
    let first = Axes::along(m.area_centroid, m.principal_axes[0], m.principal_axes[1]);
    let (found, ends_certain) = outwards(mesh, first, swap_ends)?;
    let mut axes = found;
    let mut along = Along { axes, method: String::new(), play: None, apart_rad: None };
    for _ in 0..2 {
        let span = span_along(mesh, &axes);
        let cuts = slices_along(mesh, &axes, &places(span.0, span.1));
        along = match shank(mesh, &axes, &cuts, SHANK_DIAMETERS) {
            Some(cone) => Along::cone(&cone, &axes, "round"),
            None => match short_shank(mesh, &axes, span, !swap_ends) {
                // It was cut along its own axis until that stayed.
                Some(short) => {
                    let along = Along::cone(&short.cone, &short.axes, "short round");
                    return Ok(along.lone(ends_certain && !short.at_tip));
                }
                None => Along::centroids(&cuts, &axes)?,
            },
        };
        axes = along.axes;
    }
    Ok(along.lone(ends_certain))
}

/// Span axes along a line, and where the line comes from.
struct Along {
    axes: Axes,
    method: String,
    play: Option<AxisPlay>,
    apart_rad: Option<f64>,
}

impl Along {
    fn lone(self, ends_certain: bool) -> LoneAxes {
        let Self { axes, method, play, apart_rad } = self;
        LoneAxes { axes, method, ends_certain, play, apart_rad }
    }

    /// `line`: point at z = 0 and slope, in the coordinates of `axes`.
    fn line([at, slope]: [[f64; 2]; 2], axes: &Axes, method: String, play: AxisPlay) -> Self {
        let direction = axes.scan_direction([slope[0], slope[1], 1.0]);
        let origin = axes.scan([at[0], at[1], 0.0]);
        let axes = Axes::along(origin, direction, axes.rows[1]);
        Self { axes, method, play: Some(play), apart_rad: None }
    }

    fn cone(cone: &Cone, axes: &Axes, which: &str) -> Self {
        let method = format!("shank axis: cylinder fitted to {} points of the {which} shank", cone.points);
        Self::line(cone.line(), axes, method, cone.play)
    }

    fn centroids(cuts: &[Slice], axes: &Axes) -> Result<Self, MeasureError> {
        let (line, play) = centroid_line(&cuts[cuts.len() / 2..])?;
        let method = "section centroids: line fitted beyond half the length (no round shank was found)";
        let ([_, all], _) = centroid_line(cuts)?;
        let apart = (all[0] - line[1][0]).hypot(all[1] - line[1][1]).atan();
        Ok(Self { apart_rad: Some(apart), ..Self::line(line, axes, method.to_owned(), play) })
    }
}

/// Turns the span so that the thinner end is the tip; where both are alike, the one that twists less.
fn outwards(mesh: &CleanMesh, first: Axes, swap: bool) -> Result<(Axes, bool), MeasureError> {
    let (low, high) = span_along(mesh, &first);
    let cuts = slices_along(mesh, &first, &places(low, high));
    if cuts.len() < N_SLICES / 3 {
        return Err(MeasureError::NoBlade {
            reason: NoBladeReason::FewOutlines { found: cuts.len(), all: N_SLICES },
            left_out: 0,
        });
    }
    // Thickness of the outer fifths: the tip is thin, whatever its chord.
    let width = |s: &Slice| s.flatness * length(s);
    let part = |range: std::ops::Range<usize>| {
        range.clone().map(|i| width(&cuts[i])).sum::<f64>() / range.len() as f64
    };
    let fifth = cuts.len() / 5;
    let (at_low, at_high) = (part(0..fifth), part(cuts.len() - fifth..cuts.len()));
    let apart = at_low.min(at_high) / at_low.max(at_high);
    let (mut low_is_tip, mut certain) = (at_low < at_high, apart < CLEAR);
    if ALIKE <= apart {
        let (by_low, by_high) =
            (twist(&cuts[..fifth + 1]).abs(), twist(&cuts[cuts.len() - fifth - 1..]).abs());
        if by_low.min(by_high) < ALIKE * by_low.max(by_high) && LEAST_TWIST < by_low.max(by_high) {
            (low_is_tip, certain) = (by_low < by_high, true);
        }
    }
    let span = if low_is_tip != swap { first.rows[2].map(|x| -x) } else { first.rows[2] };
    Ok((Axes::along(first.origin, span, first.rows[1]), certain))
}

/// Ends whose thickness, or twist, differs by less than this factor do not say which is the tip.
const ALIKE: f64 = 0.75;
/// Ends of which one is thinner than this part of the other show it clearly. Between the two the thinner end is the tip, but it is said: coarse rows or something at
/// one end may have decided (a judgement).
const CLEAR: f64 = 0.6;
/// Twist over a fifth of the length, rad, below which it is no evidence.
const LEAST_TWIST: f64 = 0.03;

/// Turn of the longest chord along some slices, rad. A blade of constant pitch twists faster towards its root, as the arctangent of
/// pitch over circumference does.
fn twist(cuts: &[Slice]) -> f64 {
    let angle = |s: &Slice| (s.ends[1][1] - s.ends[0][1]).atan2(s.ends[1][0] - s.ends[0][0]);
    cuts.windows(2)
        .map(|w| {
            let turn = angle(&w[1]) - angle(&w[0]);
            // The ends of a chord may have changed places: a turn counts to the nearest half turn.
            turn - std::f64::consts::PI * (turn / std::f64::consts::PI).round()
        })
        .sum()
}

pub(crate) fn length(s: &Slice) -> f64 {
    (s.ends[1][0] - s.ends[0][0]).hypot(s.ends[1][1] - s.ends[0][1])
}

/// Point at z = 0 and slope of the line of least squares through some section centroids, weighted alike. Sections with a hole are left out where enough others remain.
fn centroid_line(all: &[Slice]) -> Result<([[f64; 2]; 2], AxisPlay), MeasureError> {
    let closed: Vec<&Slice> = all.iter().filter(|s| s.closed).collect();
    let outer = if all.len() < 2 * closed.len() { closed } else { all.iter().collect() };
    if outer.len() < 5 {
        return Err(MeasureError::NoBlade { reason: NoBladeReason::FewCentroids, left_out: 0 });
    }
    let n = outer.len() as f64;
    let mean_z = outer.iter().map(|s| s.z).sum::<f64>() / n;
    let square = outer.iter().map(|s| (s.z - mean_z).powi(2)).sum::<f64>();
    let fit = |k: usize| {
        let mean = outer.iter().map(|s| s.centroid[k]).sum::<f64>() / n;
        let slope = outer.iter().map(|s| (s.z - mean_z) * (s.centroid[k] - mean)).sum::<f64>() / square;
        (mean - slope * mean_z, slope)
    };
    let (x, y) = (fit(0), fit(1));
    // The line is a convention, so the blade's own sweep about it is no error. Second differences of the centroids are: those of independent errors have six times their variance. Errors of
    // neighbouring sections are correlated, so that fewer count.
    let together = (n / INDEPENDENT_SECTIONS).max(1.0);
    let second = |k: usize| {
        outer
            .windows(3)
            .map(|w| w[0].centroid[k] - 2.0 * w[1].centroid[k] + w[2].centroid[k])
            .map(|d| d * d)
            .sum::<f64>()
    };
    let variance = (second(0) + second(1)) / (2.0 * 6.0 * (n - 2.0)) * together;
    let play = AxisPlay {
        middle: mean_z,
        place: variance / n,
        place_slope: 0.0,
        slope: variance / square,
        by_sections: true,
    };
    Ok(([[x.0, y.0], [x.1, y.1]], play))
}

/// Independent errors among the sections of half a blade.
const INDEPENDENT_SECTIONS: f64 = 8.0;

/// A slightly conical cylinder in local axes.
pub(crate) struct Cone {
    /// Axis at z = `middle` (2), its slope (2), radius there, taper.
    p: [f64; 6],
    middle: f64,
    points: usize,
    pub(crate) play: AxisPlay,
}

impl Cone {
    pub(crate) fn line(&self) -> [[f64; 2]; 2] {
        let [x, y, a, b, ..] = self.p;
        [[x - a * self.middle, y - b * self.middle], [a, b]]
    }
    /// Radius in the middle.
    pub(crate) fn radius(&self) -> f64 {
        self.p[4]
    }
    /// Root mean square distance of the nearer nine tenths of some points.
    pub(crate) fn stray(&self, points: &[V3]) -> f64 {
        let mut squares: Vec<f64> =
            points.iter().map(|q| cone_row(&self.p, self.middle, q).1.powi(2)).collect();
        squares.sort_unstable_by(f64::total_cmp);
        squares.truncate(9 * squares.len() / 10);
        (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
    }
}

/// The round shank next to the root end, if there is one as long as `shortest` of its diameters. The radius may change straight along it.
///
/// # Source
/// Gauss-Newton on the distance to a cylinder: A. B. Forbes, "Least-squares best-fit geometric elements", NPL Report DITC 140/89, 1989.
pub(super) fn shank(mesh: &CleanMesh, axes: &Axes, cuts: &[Slice], shortest: f64) -> Option<Cone> {
    let inner = cuts.len() / 2;
    let first = cuts[..inner].iter().position(|s| ROUND_SLICE < s.flatness)?;
    if 6 < first {
        return None;
    }
    let count = cuts[first..inner].iter().take_while(|s| ROUND_SLICE < s.flatness).count();
    let (low, high) = (cuts[first].z, cuts[first + count - 1].z);
    if high - low < shortest * length(&cuts[first]) {
        return None;
    }
    // A tenth off each end keeps the root's edge and the beginning of the transition out.
    let margin = 0.1 * (high - low);
    let near = |p: &V3| low + margin < p[2] && p[2] < high - margin;
    let points = parallel::groups(mesh.vertices().len(), |group| {
        mesh.vertices()[group].iter().map(|&p| axes.local(p)).filter(near).collect::<Vec<V3>>()
    })
    .concat();
    let points = if shows_direction(&points, low + margin, high - margin) {
        points
    } else {
        // Rows of points far apart: the surface between them says as much of the direction.
        let round = cuts[first..first + count].iter();
        round.flat_map(|s| s.hull.iter().map(|p| [p[0], p[1], s.z])).collect()
    };
    fit_cone(&points, 0.5 * (low + high), length(&cuts[first]) / 2.0, cuts[first + count / 2].centroid)
}

/// Parts of a shank along its axis, each of which must have points: a single ring does not show the direction.
const PARTS_WITH_POINTS: usize = 4;

/// Whether points are spread over the whole of a shank.
fn shows_direction(points: &[V3], low: f64, high: f64) -> bool {
    let mut seen = [false; PARTS_WITH_POINTS];
    for p in points {
        let part = (p[2] - low) / (high - low) * PARTS_WITH_POINTS as f64;
        seen[(part as usize).min(PARTS_WITH_POINTS - 1)] = true;
    }
    seen == [true; PARTS_WITH_POINTS]
}

/// Rounds at the most; the points that the first ones look at, about; and the step, as a part of the radius, that ends them.
const CONE_ROUNDS: usize = 20;
const CONE_FIRST_ROUNDS: usize = 6;
const CONE_FEW: usize = 4000;
const CONE_SETTLED: f64 = 1e-12;
/// Most that a step is made longer by.
const CONE_LONGER: f64 = 1.5;

/// Cylinder, or slight cone, through points about the third axis; the start: its radius and centre.
pub(crate) fn fit_cone(points: &[V3], middle: f64, radius: f64, centre: [f64; 2]) -> Option<Cone> {
    if points.len() < 50 {
        return None;
    }
    let mut p = [centre[0], centre[1], 0.0, 0.0, radius, 0.0];
    let far = points.iter().fold(0.0, |far: f64, q| far.max((q[2] - middle).abs()));
    // What a unit of each parameter moves the surface by at the most.
    let reach = nalgebra::Vector6::new(1.0, 1.0, far, far, 1.0, far);
    for round in 0..CONE_ROUNDS {
        // Some of many points lead the way.
        let every = if round < CONE_FIRST_ROUNDS { (points.len() / CONE_FEW).max(1) } else { 1 };
        let rows: Vec<_> = points.iter().step_by(every).map(|q| cone_row(&p, middle, q)).collect();
        let mut sizes: Vec<f64> = rows.iter().map(|r| r.1.abs()).collect();
        let bound = 4.685 * 1.4826 * median(&mut sizes) + 1e-9 * radius;
        let (mut a, mut b) = ([[0.0; 6]; 6], DVector::<f64>::zeros(6));
        let (mut weights, mut slopes) = (0.0, 0.0);
        for (row, r) in rows {
            let near = (1.0 - (r / bound).powi(2)).max(0.0);
            let weight = near.powi(2);
            weights += weight;
            slopes += near * (5.0 * near - 4.0);
            for i in 0..6 {
                b[i] += weight * row[i] * r;
                // The lower half is all that is asked for.
                for j in 0..=i {
                    a[i][j] += weight * row[i] * row[j];
                }
            }
        }
        let a = DMatrix::from_fn(6, 6, |i, j| a[i.max(j)][i.min(j)]);
        // Weights that are held while the step is worked out make it short: by the mean slope of weight times distance it is as long as Newton's.
        let longer = if 0.0 < slopes { (weights / slopes).min(CONE_LONGER) } else { 1.0 };
        let step = a.cholesky()?.solve(&b) * longer;
        for i in 0..6 {
            p[i] += step[i];
        }
        let slant = step.fixed_rows::<6>(0).component_mul(&reach).amax();
        if CONE_FIRST_ROUNDS <= round && slant < CONE_SETTLED * radius {
            break;
        }
    }
    let play = axis_play(points, &p, middle)?;
    Some(Cone { p, middle, points: points.len(), play })
}

/// Patches around and along a shank, each far wider than the noise's correlation, within which residuals may be correlated in any way.
const PATCHES_AROUND: usize = 12;
const PATCHES_ALONG: usize = 3;

/// Uncertainty of the axis from the residuals, with the correlation of neighbouring points: the covariance of clusters of
/// K.-Y. Liang and S. L. Zeger, "Longitudinal data analysis using generalized linear models", Biometrika 73, 1986.
fn axis_play(points: &[V3], p: &[f64; 6], middle: f64) -> Option<AxisPlay> {
    let (low, high) =
        points.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), q| (l.min(q[2]), h.max(q[2])));
    let mut a = DMatrix::<f64>::zeros(6, 6);
    let mut sums = vec![DVector::<f64>::zeros(6); PATCHES_AROUND * PATCHES_ALONG];
    for q in points {
        let (row, r) = cone_row(p, middle, q);
        let turn = (q[1] - p[1]).atan2(q[0] - p[0]) / std::f64::consts::TAU + 0.5;
        let along = (q[2] - low) / (high - low).max(f64::MIN_POSITIVE);
        let part = |share: f64, n: usize| ((share * n as f64) as usize).min(n - 1);
        let sum = &mut sums[part(along, PATCHES_ALONG) * PATCHES_AROUND + part(turn, PATCHES_AROUND)];
        for i in 0..6 {
            sum[i] += row[i] * r;
            for j in 0..6 {
                a[(i, j)] += row[i] * row[j];
            }
        }
    }
    let inverse = a.cholesky()?.inverse();
    let filled = sums.iter().filter(|s| s.iter().any(|v| *v != 0.0)).count() as f64;
    let spread = sums.iter().fold(DMatrix::<f64>::zeros(6, 6), |m, s| m + s * s.transpose());
    // Six parameters have been taken out of the sums.
    let covariance = &inverse * spread * &inverse * (filled / (filled - 6.0).max(1.0));
    let mean = |i: usize, j: usize| 0.5 * (covariance[(i, j)] + covariance[(i + 1, j + 1)]);
    Some(AxisPlay {
        middle,
        place: mean(0, 0),
        place_slope: mean(0, 2),
        slope: mean(2, 2),
        by_sections: false,
    })
}

/// Derivatives of a point's model radius-to-distance residual, and the residual (positive outside).
fn cone_row(p: &[f64; 6], middle: f64, q: &V3) -> ([f64; 6], f64) {
    let z = q[2] - middle;
    let d = [q[0] - p[0] - p[2] * z, q[1] - p[1] - p[3] * z];
    let r = d[0].hypot(d[1]).max(f64::MIN_POSITIVE);
    let n = [d[0] / r, d[1] / r];
    ([n[0], n[1], n[0] * z, n[1] * z, 1.0, z], r - p[4] - p[5] * z)
}
