//! How noisy a scan is, seen on the smooth sides of its blade before anything else is measured.

use bladeform_mesh::CleanMesh;
use nalgebra::{DMatrix, DVector};

use crate::band::slices::Slice;
use crate::vector::{NORMAL_MAD, V3, median};
use bladeform_numeric::parallel;

/// Noise of the surface along its normal.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Noise {
    /// Standard deviation, file units.
    pub(crate) deviation: f64,
    /// Standard uncertainty of that, as a part of it.
    pub(crate) relative_u: f64,
    /// How many neighbouring points go as one.
    pub(crate) together: f64,
}

/// Patches lie here along the span, far from shank and tip; none midway between two of the quick sections, where rounding would choose.
const PLACES: [f64; 4] = [0.52, 0.6, 0.7, 0.8];
/// Half the width of a patch, in chords, and half its length, in spans: the middle of the section has neither edge. Where points are few, a larger one.
const HALVES: [[f64; 2]; 2] = [[0.12, 0.04], [0.2, 0.07]];
/// Points farther from the chord line than this, in chords, belong to something else.
const HALF_HEIGHT: f64 = 0.3;
/// Degree of the smooth surface laid through a patch: a blade's side departs from it by less than a millionth of the chord there.
const DEGREE: usize = 6;
/// Fewer points than these do not show noise apart from the shape of the surface.
const LEAST_POINTS: usize = 100;
/// Share of the variance that a fit must leave to tell the noise.
const LEAST_LEFT: f64 = 0.25;
/// Cells, in point distances, within which residuals are summed to see whether they are correlated.
const CELL: f64 = 5.0;

/// Noise of a blade in span axes, its slices taken between `span`; none (zero) where no patch has points enough.
///
/// Each patch is fitted by a polynomial surface; what is left is noise, its deviation by the median of the absolute residuals (robust
/// against nicks). Of `n` points `k` of which go as one, a fit of `p` terms leaves the share `1 - p k / n` of the variance.
pub(crate) fn surface_noise(mesh: &CleanMesh, normals: &[V3], slices: &[Slice], span: (f64, f64)) -> Noise {
    let found: Vec<(f64, f64)> = on_patches(mesh, normals, slices, span, left_over);
    if found.is_empty() {
        return Noise::default();
    }
    let mut deviations: Vec<f64> = found.iter().map(|f| f.0).collect();
    let mut together: Vec<f64> = found.iter().map(|f| f.1).collect();
    let deviation = median(&mut deviations);
    let mut off: Vec<f64> = deviations.iter().map(|d| (d - deviation).abs()).collect();
    let spread = NORMAL_MAD * median(&mut off) / (found.len() as f64).sqrt();
    Noise {
        deviation,
        relative_u: spread / deviation.max(f64::MIN_POSITIVE),
        together: median(&mut together).max(1.0),
    }
}

/// What `of` finds on the patches of both sides; where the smaller patch gives nothing, on the larger one.
fn on_patches<T: Send>(
    mesh: &CleanMesh,
    normals: &[V3],
    slices: &[Slice],
    span: (f64, f64),
    of: impl Fn(&Patch) -> Option<T> + Sync,
) -> Vec<T> {
    let length = span.1 - span.0;
    let at_place = |place: &f64| -> Vec<T> {
        let z = span.0 + place * length;
        let Some(slice) = slices.iter().min_by(|a, b| (a.z - z).abs().total_cmp(&(b.z - z).abs())) else {
            return vec![];
        };
        let widest = HALVES.iter().map(|half| half[1]).fold(0.0, f64::max) * length;
        let near: Vec<u32> = (0..mesh.vertices().len() as u32)
            .filter(|&i| (mesh.vertices()[i as usize][2] - slice.z).abs() <= widest)
            .collect();
        let side = |side: f64| {
            HALVES.into_iter().find_map(|[width, along]| {
                let half = [width * chord_of(slice), along * length];
                of(&patch(mesh, normals, &near, slice, side, half)?)
            })
        };
        [1.0, -1.0].into_iter().filter_map(side).collect()
    };
    parallel::map(&PLACES, at_place).into_iter().flatten().collect()
}

/// A variogram: half the mean square of differences of residuals, by distance.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Variogram {
    /// Mean distance in each class, half the mean square, and the number of pairs.
    pub(crate) classes: Vec<(f64, f64, f64)>,
}

/// Classes of distance: each reaches this factor farther than the one before, from a fraction of the points' spacing to many times that.
const CLASS_STEP: f64 = 1.35;
const CLASSES: usize = 16;
/// The first class ends at this part of the typical edge of the triangles.
const FIRST_CLASS: f64 = 0.45;
/// Points of a patch whose differences from all others are taken.
const CENTRES: usize = 600;

/// The variogram of the residuals of a blade's sides. `edge`: typical edge of the triangles, file units.
pub(crate) fn variogram(
    mesh: &CleanMesh,
    normals: &[V3],
    slices: &[Slice],
    span: (f64, f64),
    edge: f64,
) -> Variogram {
    let distances: [f64; CLASSES] = std::array::from_fn(|k| edge * FIRST_CLASS * CLASS_STEP.powi(k as i32));
    let farthest = distances[CLASSES - 1];
    let classes = Classes::ending(&distances);
    let of_patch = |patch: &Patch| {
        let residuals = residuals_of(patch)?;
        // Those that are too far have a class of their own, which counts for nothing.
        let mut sums = [(0.0, 0.0, 0.0); CLASSES + 1];
        // Along chord and span, file units, and the residual; sorted along the span, so that only near points are looked at.
        let [chordwise, spanwise] = patch.half;
        let scaled =
            patch.points.iter().zip(&residuals).map(|(p, r)| [p[0] * chordwise, p[1] * spanwise, *r]);
        let mut points: Vec<[f64; 3]> = scaled.collect();
        points.sort_unstable_by(|a, b| a[1].total_cmp(&b[1]).then(a[0].total_cmp(&b[0])));
        let stride = (points.len() / CENTRES).max(1);
        // By their place and not by their order in the file, which says nothing.
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_by(|&a, &b| points[a][0].total_cmp(&points[b][0]));
        for i in order.into_iter().step_by(stride) {
            let a = points[i];
            let begin = points.partition_point(|b| b[1] <= a[1] - farthest);
            let end = points.partition_point(|b| b[1] < a[1] + farthest);
            for b in &points[begin..end] {
                let square = (a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1]);
                if square <= 0.0 {
                    continue;
                }
                let d = square.sqrt();
                let class = &mut sums[classes.of(d)];
                let off = a[2] - b[2];
                *class = (class.0 + d, class.1 + 0.5 * off * off, class.2 + 1.0);
            }
        }
        Some(sums)
    };
    let mut all = vec![(0.0_f64, 0.0_f64, 0.0_f64); CLASSES];
    for sums in on_patches(mesh, normals, slices, span, of_patch) {
        for (a, b) in all.iter_mut().zip(sums) {
            *a = (a.0 + b.0, a.1 + b.1, a.2 + b.2);
        }
    }
    for class in &mut all {
        let n = class.2.max(1.0);
        (class.0, class.1) = (class.0 / n, class.1 / n);
    }
    Variogram { classes: all }
}

/// Finds the class of a distance without a branch, which the processor would guess wrongly.
struct Classes {
    /// End of every class, ascending, then infinity.
    ends: [f64; CLASSES + 1],
    /// For all numbers with the same binary exponent and first three digits, from those of the first end on, the class of the lowest of them. They differ by an eighth at the most, which is less than
    /// classes do.
    first: Vec<u8>,
    lowest: u64,
}

impl Classes {
    /// Bits of a number behind its exponent and first three digits.
    const BITS_BEHIND: u32 = f64::MANTISSA_DIGITS - 1 - 3;

    fn ending(at: &[f64; CLASSES]) -> Self {
        let bits = |x: f64| x.to_bits() >> Self::BITS_BEHIND;
        let (lowest, highest) = (bits(at[0]), bits(at[CLASSES - 1]));
        let lowest_of = |bits: u64| f64::from_bits(bits << Self::BITS_BEHIND);
        // The last entry serves all that is farther.
        let first = (lowest..=highest + 1)
            .map(|bits| at.partition_point(|end| *end < lowest_of(bits)) as u8)
            .collect();
        let mut ends = [f64::INFINITY; CLASSES + 1];
        ends[..CLASSES].copy_from_slice(at);
        Self { ends, first, lowest }
    }

    /// Number of the first class that does not end before it; [`CLASSES`] if all do.
    #[inline]
    fn of(&self, distance: f64) -> usize {
        let place = (distance.to_bits() >> Self::BITS_BEHIND).saturating_sub(self.lowest) as usize;
        let class = usize::from(self.first[place.min(self.first.len() - 1)]);
        class + usize::from(self.ends[class] < distance)
    }
}

/// Points of one side in the middle of the chord: along the chord and the span, both from -1 to 1, and the height. `near`: the vertices to choose from.
fn patch(
    mesh: &CleanMesh,
    normals: &[V3],
    near: &[u32],
    slice: &Slice,
    side: f64,
    half: [f64; 2],
) -> Option<Patch> {
    let [a, b] = slice.ends;
    let chord = chord_of(slice);
    let along = [(b[0] - a[0]) / chord, (b[1] - a[1]) / chord];
    let middle = [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])];
    let mut points = Vec::new();
    for &i in near {
        let (p, n) = (mesh.vertices()[i as usize], normals[i as usize]);
        let w = (p[2] - slice.z) / half[1];
        if 1.0 < w.abs() {
            continue;
        }
        let d = [p[0] - middle[0], p[1] - middle[1]];
        let u = (d[0] * along[0] + d[1] * along[1]) / half[0];
        let height = along[0] * d[1] - along[1] * d[0];
        let facing = side * (along[0] * n[1] - along[1] * n[0]);
        if u.abs() <= 1.0 && height.abs() < HALF_HEIGHT * chord && 0.0 < facing {
            points.push([u, w, height]);
        }
    }
    (LEAST_POINTS <= points.len()).then_some(Patch { points, half })
}

fn chord_of(slice: &Slice) -> f64 {
    crate::frame::axes::length(slice).max(f64::MIN_POSITIVE)
}

struct Patch {
    points: Vec<[f64; 3]>,
    half: [f64; 2],
}

/// Deviation of what a smooth surface leaves over, and how many points go as one.
fn left_over(patch: &Patch) -> Option<(f64, f64)> {
    let residuals = residuals_of(patch)?;
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    let deviation = NORMAL_MAD * median(&mut sizes);
    let together = go_together(patch, &residuals);
    let left = 1.0 - TERMS as f64 * together / patch.points.len() as f64;
    (LEAST_LEFT < left).then(|| (deviation / left.sqrt(), together))
}

/// What a smooth surface leaves over at each point.
fn residuals_of(patch: &Patch) -> Option<Vec<f64>> {
    let points = &patch.points;
    let rows: Vec<[f64; TERMS]> = points.iter().map(|p| terms(p[0], p[1])).collect();
    let count = TERMS;
    let mut residuals: Vec<f64> = points.iter().map(|p| p[2]).collect();
    let mut sums = [[0.0; TERMS]; TERMS];
    for row in &rows {
        for (i, line) in sums.iter_mut().enumerate() {
            // The factorisation reads this half alone.
            line[..=i].iter_mut().zip(row).for_each(|(sum, x)| *sum += row[i] * x);
        }
    }
    let solved = DMatrix::from_fn(count, count, |i, j| sums[i][j]).cholesky()?;
    // Twice: the second round takes what rounding left of the first.
    for _ in 0..2 {
        let mut b = DVector::<f64>::zeros(count);
        for (row, r) in rows.iter().zip(&residuals) {
            b.iter_mut().zip(row).for_each(|(sum, x)| *sum += x * r);
        }
        let fitted = solved.solve(&b);
        for (row, r) in rows.iter().zip(&mut residuals) {
            *r -= row.iter().zip(fitted.iter()).map(|(x, y)| x * y).sum::<f64>();
        }
    }
    Some(residuals)
}

/// Squares of sums over cells over sums of squares: independent residuals give one, correlated residuals the number that is correlated.
fn go_together(patch: &Patch, residuals: &[f64]) -> f64 {
    let area = 4.0 * patch.half[0] * patch.half[1] / residuals.len() as f64;
    let cell = CELL * area.sqrt();
    let mut sums = std::collections::BTreeMap::<[i64; 2], f64>::new();
    for (p, r) in patch.points.iter().zip(residuals) {
        let key = [p[0] * patch.half[0] / cell, p[1] * patch.half[1] / cell].map(|x| x.floor() as i64);
        *sums.entry(key).or_default() += r;
    }
    let squares: f64 = residuals.iter().map(|r| r * r).sum();
    (sums.values().map(|s| s * s).sum::<f64>() / squares.max(f64::MIN_POSITIVE)).max(1.0)
}

/// Products of powers along chord and span up to [`DEGREE`] together.
const TERMS: usize = (DEGREE + 1) * (DEGREE + 2) / 2;

fn terms(u: f64, w: f64) -> [f64; TERMS] {
    let (pu, pw) = (legendre(u), legendre(w));
    let mut terms = [0.0; TERMS];
    let pairs = (0..=DEGREE).flat_map(|i| (0..=DEGREE - i).map(move |j| (i, j)));
    terms.iter_mut().zip(pairs).for_each(|(term, (i, j))| *term = pu[i] * pw[j]);
    terms
}

/// Legendre polynomials up to [`DEGREE`]: nearly orthogonal over a patch, so that the equations keep their digits.
fn legendre(x: f64) -> [f64; DEGREE + 1] {
    let mut p = [0.0; DEGREE + 1];
    (p[0], p[1]) = (1.0, x);
    for n in 1..DEGREE {
        p[n + 1] = ((2 * n + 1) as f64 * x * p[n] - n as f64 * p[n - 1]) / (n + 1) as f64;
    }
    p
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The class of a distance is the number of classes that end before it, as a search for it finds.
    #[test]
    fn classes_are_those_of_a_search() {
        for edge in [1e-4, 0.37, 812.0] {
            let ends: [f64; CLASSES] =
                std::array::from_fn(|k| edge * FIRST_CLASS * CLASS_STEP.powi(k as i32));
            let classes = Classes::ending(&ends);
            let steps = (0..4000).map(|k| ends[0] * 0.3 * 1.002_f64.powi(k));
            let near = ends.into_iter().flat_map(|end| [end.next_down(), end, end.next_up()]);
            for d in steps.chain(near).chain([f64::MIN_POSITIVE, 1e3 * ends[CLASSES - 1]]) {
                assert_eq!(classes.of(d), ends.partition_point(|end| *end < d), "{d} of {edge}");
            }
        }
    }
}
