//! Dents and raised areas: where the means over patches stand clear of their own scatter.
//!
//! The scatter is taken from the scan itself, so that the noise of its points, their correlation and what the outlines leave out between stations are all in it.

use bladeform_quantity::COVERAGE_FACTOR_95;
use bladeform_table::Station;

use crate::between::Between;
use crate::loft::{Levels, Loft};
use crate::patches::{BladePatches, BladeSide, CELLS, Patches, SideCells};
use crate::without::Without;

/// A patch is compared with the median of those around it, from this many to so many patch widths away: dents up to five patches wide leave the median alone, and what the
/// outlines leave out between stations is taken off.
const AROUND: [f64; 2] = [2.5, 5.0];
/// Patches this near an edge, in patch widths, are not looked at: there the distance depends on how sharp the scan shows the edge.
const EDGE_ROOM: f64 = 1.0;
/// One of as many scans without damage has one patch beyond the limit.
const CHANCE: f64 = 0.025;
/// Median of the absolute values of a normal variable, for its standard deviation (JCGM 100:2008 gives the quantile 0.6745).
const MEDIAN_OF_NORMAL: f64 = 0.674_489_75;
/// Least depth, as a fraction of the greatest width of a side: the outlines are polygons of 120 corners.
const LEAST_SHARE: f64 = 2.5e-4;
/// Fewest cells of an area: a patch overlaps its neighbours, so that a single one is an outlier.
const FEWEST_CELLS: usize = 4;
/// A section thicker than this is one of the shank or of its transition (a judgement).
const SHANK_RATIO: f64 = 0.35;
/// Most stations in a row that are counted as left out: dents are narrower than more of them.
const MOST_IN_A_ROW: usize = 3;
/// Fewest patches around that are needed for a median.
const FEWEST_AROUND: usize = 60;
/// Most areas listed.
pub(crate) const MOST_LISTED: usize = 20;

/// An area of the surface that stands clear of the noise.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Dent {
    /// Number of the blade as the documents count, from 0; `None` for a single blade.
    pub(crate) blade: Option<u64>,
    /// Its side.
    pub(crate) side: BladeSide,
    /// Radius of its deepest place, m.
    pub(crate) radius_m: f64,
    /// Length of the side from the leading edge to it, m.
    pub(crate) along_m: f64,
    /// Place of that along the chord line from the leading edge, as a fraction.
    pub(crate) chord_share: f64,
    /// Extent at half its depth along the radius and along the side, m.
    pub(crate) extent_m: [f64; 2],
    /// Height of its deepest or highest place over the surface around, m, negative for a dent.
    pub(crate) height_m: f64,
    /// Its standard uncertainty, m.
    pub(crate) u_height_m: f64,
}

/// What was found, and how it was looked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Dents {
    /// The areas, the deepest first.
    pub(crate) found: Vec<Dent>,
    /// Standard deviation of the means over patches against those around them, the median over the sides, m.
    pub(crate) scatter_m: f64,
    /// The limit in standard deviations.
    pub(crate) limit: f64,
    /// Width of a patch, m.
    pub(crate) size_m: f64,
}

/// Looks for areas on all sides of all blades. `surfaces`: stations and surfaces of the blades of `patches`, in the same order.
pub(crate) fn dents(patches: &Patches, surfaces: &[(&[Station], &Loft)]) -> Dents {
    let between: Vec<Option<Between>> =
        surfaces.iter().map(|(stations, loft)| Between::of(stations, loft)).collect();
    let sides: Vec<(usize, BladeSide, Side)> = patches
        .blades
        .iter()
        .enumerate()
        .flat_map(|(k, blade)| {
            BladeSide::ALL.map(|side| (k, side, Side::of(blade, side, between[k].as_ref(), surfaces[k].0)))
        })
        .collect();
    // Patches overlap: a ninth of them are independent.
    let independent = sides.iter().map(|s| s.2.compared).sum::<usize>() / (CELLS * CELLS);
    if independent == 0 {
        return Dents { size_m: patches.size_m, ..Dents::default() };
    }
    let limit = limit(independent);
    let mut found = Vec::new();
    for (k, blade) in patches.blades.iter().enumerate() {
        let (stations, loft) = surfaces[k];
        let own: Vec<&Side> = sides.iter().filter(|s| s.0 == k).map(|s| &s.2).collect();
        let levels = Levels::of(loft, blade.cell_m);
        let search = Search { blade, stations, levels: &levels, between: between[k].as_ref(), limit };
        found.extend(search.dents(&own));
    }
    found.sort_by(|a, b| b.height_m.abs().total_cmp(&a.height_m.abs()));
    let mut scatters: Vec<f64> = sides.iter().map(|s| s.2.scatter_m).collect();
    Dents { found, scatter_m: median(&mut scatters).unwrap_or(0.0), limit, size_m: patches.size_m }
}

/// Whether a radius lies between stations of the blade; not at the shank, nor where it becomes one: that form changes too quickly for outlines to show it.
fn is_blade(stations: &[Station], radius_m: f64) -> bool {
    let next = stations.partition_point(|s| s.radius_m < radius_m);
    0 < next && next < stations.len() && is_thin(&stations[next - 1]) && is_thin(&stations[next])
}

fn is_thin(station: &Station) -> bool {
    station.thickness_ratio.is_some_and(|t| t < SHANK_RATIO)
}

/// What the greatest of `n` independent normal errors of either sign exceeds with the probability [`CHANCE`] (Z. Sidak, Journal of the American Statistical
/// Association 62 (1967), 626-633): the quantile is found by halving the interval of `erfc`.
fn limit(n: usize) -> f64 {
    let each = 1.0 - (1.0 - CHANCE).powf(1.0 / n as f64);
    let (mut low, mut high) = (0.0, 12.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if each < two_tails(middle) { low = middle } else { high = middle }
    }
    high
}

/// Probability that a normal variable lies beyond `± z`: the continued fraction of the tail for large `z`, the series of the distribution for small ones
/// (M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 26.2.10 and 26.2.14).
fn two_tails(z: f64) -> f64 {
    let density = (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt();
    if z < 2.5 {
        let (mut term, mut sum) = (z, z);
        for k in 1..60 {
            term *= -z * z / (2.0 * f64::from(k));
            sum += term / f64::from(2 * k + 1);
        }
        return (1.0 - 2.0 * sum / std::f64::consts::TAU.sqrt()).max(0.0);
    }
    let fraction = (1..80).rev().fold(z, |below, k| z + f64::from(k) / below);
    2.0 * density / fraction
}

/// One side with its patches compared with those around them.
struct Side {
    shape: [usize; 2],
    /// Mean over each patch less the median of those around it, m; not a number where it cannot be compared.
    height_m: Vec<f64>,
    /// Standard deviation of the heights around each patch, m.
    local_m: Vec<f64>,
    /// Standard deviation of all heights of the side, m.
    scatter_m: f64,
    /// Number of patches compared.
    compared: usize,
    /// What the outlines may be off by between stations at each patch, m.
    between_m: Vec<f64>,
    /// Least height that counts, m.
    least_m: f64,
}

impl Side {
    fn of(blade: &BladePatches, side: BladeSide, between: Option<&Between>, stations: &[Station]) -> Self {
        let cells = &blade.sides[side as usize];
        let [rows, columns] = cells.shape;
        let at = |k: usize| [k / columns, k % columns];
        let is_blade: Vec<bool> = (0..rows)
            .map(|row| is_blade(stations, blade.first_m + (row as f64 + 0.5) * blade.cell_m))
            .collect();
        let means: Vec<f64> = (0..rows * columns)
            .map(|k| {
                let [row, column] = at(k);
                let along_m = (column as f64 + 0.5) * blade.cell_m;
                let room_m = EDGE_ROOM * CELLS as f64 * blade.cell_m;
                let clear = is_blade[row] && room_m <= along_m && along_m <= cells.length_m[row] - room_m;
                if clear { cells.mean_m(row, column, CELLS).unwrap_or(f64::NAN) } else { f64::NAN }
            })
            .collect();
        let [inner, outer] = AROUND.map(|widths| (widths * CELLS as f64).round() as usize);
        // Every third cell around is enough, as patches overlap.
        let ring = |row: usize, column: usize| -> Vec<f64> {
            let near = |a: usize, b: usize| a.abs_diff(b) <= inner;
            let rows = (row.saturating_sub(outer)..(row + outer + 1).min(rows)).step_by(2);
            rows.flat_map(|r| {
                let columns_around =
                    (column.saturating_sub(outer)..(column + outer + 1).min(columns)).step_by(2);
                columns_around
                    .filter(move |c| !(near(r, row) && near(*c, column)))
                    .map(move |c| r * columns + c)
            })
            .map(|k| means[k])
            .filter(|m| m.is_finite())
            .collect()
        };
        let compared: Vec<[f64; 2]> =
            bladeform_numeric::parallel::map(&(0..rows * columns).collect::<Vec<_>>(), |k| {
                let [row, column] = at(*k);
                if !means[*k].is_finite() {
                    return [f64::NAN; 2];
                }
                let mut around = ring(row, column);
                if around.len() < FEWEST_AROUND {
                    return [f64::NAN; 2];
                }
                let middle = median(&mut around).unwrap_or(0.0);
                let mut off: Vec<f64> = around.iter().map(|m| (m - middle).abs()).collect();
                [means[*k] - middle, median(&mut off).unwrap_or(0.0) / MEDIAN_OF_NORMAL]
            });
        let height_m: Vec<f64> = compared.iter().map(|c| c[0]).collect();
        let mut sizes: Vec<f64> = height_m.iter().filter(|h| h.is_finite()).map(|h| h.abs()).collect();
        let widest = cells.length_m.iter().copied().fold(0.0, f64::max);
        Self {
            shape: cells.shape,
            compared: sizes.len(),
            scatter_m: median(&mut sizes).unwrap_or(0.0) / MEDIAN_OF_NORMAL,
            height_m,
            local_m: compared.iter().map(|c| c[1]).collect(),
            between_m: (0..rows * columns)
                .map(|k| {
                    let [row, column] = at(k);
                    let share = (column as f64 + 0.5) * blade.cell_m / cells.length_m[row];
                    between.map_or(0.0, |b| {
                        b.at_m(blade.first_m + (row as f64 + 0.5) * blade.cell_m, side, share)
                    })
                })
                .collect(),
            least_m: LEAST_SHARE * widest,
        }
    }

    /// The standard deviation that a patch is measured by.
    fn scatter_at(&self, k: usize) -> f64 {
        self.scatter_m.max(self.local_m[k])
    }

    /// The deepest patch of each connected area of one sign beyond the limit.
    fn areas(&self, limit: f64) -> Vec<usize> {
        let is_beyond = |k: usize| {
            let h = self.height_m[k];
            h.is_finite() && (limit * self.scatter_at(k)).max(self.least_m) + self.between_m[k] < h.abs()
        };
        let mut seen = vec![false; self.height_m.len()];
        let mut areas = Vec::new();
        for start in 0..self.height_m.len() {
            if seen[start] || !is_beyond(start) {
                continue;
            }
            let sign = self.height_m[start].signum();
            let cells = self.joined(start, &mut seen, |k| is_beyond(k) && self.height_m[k] * sign > 0.0);
            if FEWEST_CELLS <= cells.len() {
                let deepest = cells
                    .iter()
                    .copied()
                    .max_by(|a, b| self.height_m[*a].abs().total_cmp(&self.height_m[*b].abs()));
                areas.extend(deepest);
            }
        }
        areas
    }

    /// The cells at most so many rows and columns from one.
    fn window(&self, k: usize, reach: usize) -> Vec<usize> {
        let [rows, columns] = self.shape;
        let (row, column) = (k / columns, k % columns);
        let across = column.saturating_sub(reach)..(column + reach + 1).min(columns);
        (row.saturating_sub(reach)..(row + reach + 1).min(rows))
            .flat_map(|r| across.clone().map(move |c| r * columns + c))
            .collect()
    }

    /// Extent at half of a height around a cell along the radius and across, m: it does not depend on the noise of the scan.
    fn extent(&self, k: usize, height_m: f64, heights_m: &[f64], cell_m: f64) -> [f64; 2] {
        let mut seen = vec![false; heights_m.len()];
        let is_in = |k: usize| 0.5 * height_m.abs() <= heights_m[k] * height_m.signum();
        let cells = self.joined(k, &mut seen, is_in);
        let columns = self.shape[1];
        let extent = |place: fn(usize, usize) -> usize| {
            let places = cells.iter().map(|k| place(*k, columns));
            let (low, high) = places.fold((usize::MAX, 0), |(l, h), p| (l.min(p), h.max(p)));
            (high - low + 1) as f64 * cell_m
        };
        [extent(|k, columns| k / columns), extent(|k, columns| k % columns)]
    }

    /// The cells joined to one, over sides and corners, that meet a condition.
    fn joined(&self, start: usize, seen: &mut [bool], meets: impl Fn(usize) -> bool) -> Vec<usize> {
        let [rows, columns] = self.shape;
        let (mut cells, mut next) = (Vec::new(), vec![start]);
        seen[start] = true;
        while let Some(k) = next.pop() {
            cells.push(k);
            let (row, column) = (k / columns, k % columns);
            for r in row.saturating_sub(1)..(row + 2).min(rows) {
                for c in column.saturating_sub(1)..(column + 2).min(columns) {
                    let k = r * columns + c;
                    if !seen[k] && meets(k) {
                        seen[k] = true;
                        next.push(k);
                    }
                }
            }
        }
        cells
    }
}

/// The search on one blade.
struct Search<'a> {
    blade: &'a BladePatches,
    stations: &'a [Station],
    levels: &'a Levels,
    between: Option<&'a Between>,
    limit: f64,
}

impl Search<'_> {
    /// The areas of both sides, those that stand out most first. Each is measured against the surface without the stations that it, or one found before, has drawn along;
    /// what does not stand out against that is the outlines', not the blade's.
    fn dents(&self, sides: &[&Side]) -> Vec<Dent> {
        let mut areas: Vec<(BladeSide, usize)> = BladeSide::ALL
            .into_iter()
            .zip(sides)
            .flat_map(|(side, of)| of.areas(self.limit).into_iter().map(move |deepest| (side, deepest)))
            .collect();
        let height = |(side, k): &(BladeSide, usize)| sides[*side as usize].height_m[*k].abs();
        areas.sort_by(|a, b| height(b).total_cmp(&height(a)));
        let mut found: Vec<Dent> = Vec::new();
        for (side, cell) in areas {
            let of = sides[side as usize];
            let sign = of.height_m[cell].signum();
            let mut at = At { of, side, cell, sign, drawn: Vec::new() };
            let mut result = self.dent(&at, &found);
            if let Err(Some((cell, sign, drawn))) = result {
                at = At { cell, sign, drawn, ..at };
                result = self.dent(&at, &found);
            }
            let Ok(dent) = result else { continue };
            let apart = |d: &Dent| {
                d.side != side
                    || d.extent_m[0].max(dent.extent_m[0]) < 2.0 * (d.radius_m - dent.radius_m).abs()
                    || d.extent_m[1].max(dent.extent_m[1]) < 2.0 * (d.along_m - dent.along_m).abs()
            };
            if found.iter().all(apart) {
                found.push(dent);
            }
        }
        found
    }

    /// Radii of the stations that a dent of some extent at a radius has drawn along: those within it, and half of the distance of stations beyond it.
    fn drawn(&self, radius_m: f64, extent_m: f64) -> Vec<f64> {
        let radii: Vec<f64> = self.stations.iter().map(|s| s.radius_m).collect();
        let next = radii.partition_point(|r| *r < radius_m).clamp(1, radii.len() - 1);
        let reach_m = 0.5 * extent_m + 0.5 * (radii[next] - radii[next - 1]);
        radii.into_iter().filter(|r| (r - radius_m).abs() < reach_m).collect()
    }

    /// Centre of a cell: way along the radius from the first row, and along the side from the leading edge, m.
    fn centre(&self, of: &Side, k: usize) -> [f64; 2] {
        let columns = of.shape[1];
        [(k / columns) as f64 + 0.5, (k % columns) as f64 + 0.5].map(|n| n * self.blade.cell_m)
    }

    /// The stations that the area at a place, the one found there before, and those near it have drawn along.
    fn all_drawn(&self, at: &At<'_>, before: &[Dent]) -> Vec<f64> {
        let cell_m = self.blade.cell_m;
        let radius_m = self.blade.first_m + self.centre(at.of, at.cell)[0];
        let rough_m = at.of.extent(at.cell, at.of.height_m[at.cell], &at.of.height_m, cell_m)[0];
        let mut drawn = at.drawn.clone();
        drawn.extend(self.drawn(radius_m, rough_m));
        // Farther dents draw no outline along that matters here.
        let reach_m = 2.0 * AROUND[1] * CELLS as f64 * cell_m;
        let near = before.iter().filter(|d| (d.radius_m - radius_m).abs() < reach_m);
        drawn.extend(near.flat_map(|d| self.drawn(d.radius_m, d.extent_m[0])));
        drawn
    }

    /// Whether the stations that stayed on both sides of a radius are of the blade, not of its shank.
    fn is_bridged(&self, without: &Without<'_>, radius_m: f64) -> bool {
        without.neighbours(radius_m).is_some_and(|ends| {
            ends.iter().all(|r| self.stations.iter().any(|s| (s.radius_m - r).abs() < 1e-9 && is_thin(s)))
        })
    }

    /// Heights over the surface without the stations drawn along, m, less their median around the place; not a number beyond what is around.
    fn heights(&self, at: &At<'_>, without: &Without<'_>) -> Option<Vec<f64>> {
        let [inner, outer] = AROUND.map(|widths| (widths * CELLS as f64).round() as usize);
        let (cells, columns) = (&self.blade.sides[at.side as usize], at.of.shape[1]);
        let mut window = at.of.window(at.cell, outer);
        // Where a gap reaches the shank the surface across it says nothing of the blade.
        window.retain(|k| self.is_bridged(without, self.blade.first_m + self.centre(at.of, *k)[0]));
        let mut heights = vec![f64::NAN; at.of.height_m.len()];
        for &k in window.iter().filter(|k| at.of.height_m[**k].is_finite()) {
            let [up_m, along_m] = self.centre(at.of, k);
            if let Some(mean) = cells.mean_m(k / columns, k % columns, CELLS) {
                heights[k] = mean + without.drawn_m(self.blade.first_m + up_m, at.side, along_m);
            }
        }
        let inside = at.of.window(at.cell, inner);
        let around = window.iter().filter(|k| !inside.contains(k)).map(|k| heights[*k]);
        let middle = median(&mut around.filter(|h| h.is_finite()).collect::<Vec<_>>())?;
        heights.iter_mut().for_each(|h| *h -= middle);
        Some(heights)
    }

    /// The area at a place. The error is a place near it that stands clear against the surface without the stations drawn along, where this one does not: it was the
    /// outlines that were off, and that is what drew them.
    fn dent(&self, at: &At<'_>, before: &[Dent]) -> Result<Dent, Option<(usize, f64, Vec<f64>)>> {
        let (of, side) = (at.of, at.side);
        let cells = &self.blade.sides[side as usize];
        let drawn = self.all_drawn(at, before);
        let without = Without::of(self.stations, self.levels, &drawn);
        let heights = self.heights(at, &without).ok_or(None)?;
        let off_m = |k: usize| {
            let [up_m, along_m] = self.centre(of, k);
            let (radius_m, share) = (self.blade.first_m + up_m, along_m / cells.length_m[k / of.shape[1]]);
            match (self.between, without.gap(radius_m)) {
                (Some(between), 0) => between.at_m(radius_m, side, share),
                (Some(between), n) => between.usual_m(radius_m, side, share, n.min(MOST_IN_A_ROW)),
                (None, _) => 0.0,
            }
        };
        let scatter_m = of.scatter_at(at.cell);
        let is_clear =
            |k: usize, height_m: f64| (self.limit * scatter_m).max(of.least_m) + off_m(k) < height_m;
        let finite = |k: &usize| heights[*k].is_finite();
        // Against the other surface the deepest place may be a patch beside it.
        let near = of.window(at.cell, CELLS).into_iter().filter(finite);
        let top =
            near.max_by(|a, b| (at.sign * heights[*a]).total_cmp(&(at.sign * heights[*b]))).ok_or(None)?;
        if !is_clear(top, at.sign * heights[top]) {
            let all = (0..heights.len()).filter(finite);
            let other = all.max_by(|a, b| heights[*a].abs().total_cmp(&heights[*b].abs()));
            let other = other.filter(|k| is_clear(*k, heights[*k].abs()));
            return Err(other.map(|k| (k, heights[k].signum(), drawn)));
        }
        let [up_m, along_m] = self.centre(of, top);
        let radius_m = self.blade.first_m + up_m;
        let place = [top / of.shape[1], top % of.shape[1]];
        let (height_m, u_height_m) = height(cells, place, heights[top], scatter_m);
        Ok(Dent {
            blade: self.blade.index,
            side,
            radius_m,
            along_m,
            chord_share: self.levels.chord_share(radius_m, side, along_m),
            extent_m: of.extent(top, heights[top], &heights, self.blade.cell_m),
            height_m,
            // What the outlines may be off by is a limit, taken as one of a uniform distribution (JCGM 100:2008, 4.3.7).
            u_height_m: u_height_m.hypot(off_m(top) / 3.0_f64.sqrt()),
        })
    }
}

/// A place to look at: a cell of a side, whether it is above or below, and radii of stations that are known to be drawn along, m.
struct At<'a> {
    of: &'a Side,
    side: BladeSide,
    cell: usize,
    sign: f64,
    drawn: Vec<f64>,
}

/// The height of the deepest place and its standard uncertainty. The mean over a patch is smaller by a share that grows with the square of its width; the mean over a wider one shows the
/// share. Half of what is added counts as a standard uncertainty (a judgement).
fn height(cells: &SideCells, [row, column]: [usize; 2], patch_m: f64, scatter_m: f64) -> (f64, f64) {
    const WIDE: usize = CELLS + 2;
    let means = [CELLS, WIDE].map(|width| cells.mean_m(row, column, width));
    let [Some(narrow), Some(wide)] = means else { return (patch_m, scatter_m) };
    let [n, w] = [(CELLS * CELLS) as f64, (WIDE * WIDE) as f64];
    let added = (narrow - wide) * n / (w - n);
    // A correction to the other side is noise: the place found is the deepest.
    if added * patch_m <= 0.0 {
        return (patch_m, scatter_m);
    }
    // For independent errors of the points, with the wide patch around the narrow one.
    let share = n / (w - n);
    let noise = ((1.0 + share).powi(2) + (share * share - 2.0 * share * (1.0 + share)) * n / w).sqrt();
    (patch_m + added, (noise * scatter_m).hypot(0.5 * added))
}

fn median(values: &mut [f64]) -> Option<f64> {
    let middle = values.len().checked_sub(1)? / 2;
    let (_, value, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(*value)
}

impl Dent {
    /// Whether it lies below the surface around; otherwise above.
    pub(crate) fn is_below(&self) -> bool {
        self.height_m < 0.0
    }

    /// Half the width of the 95 % interval of its height, m.
    pub(crate) fn half_width_m(&self) -> f64 {
        COVERAGE_FACTOR_95 * self.u_height_m
    }
}

impl Dents {
    /// How many of which kind, in a few words; `None` without any.
    pub(crate) fn in_words(&self) -> Option<String> {
        let below = self.found.iter().filter(|d| d.is_below()).count();
        let words = |n: usize, one: &str, many: &str| {
            (0 < n).then(|| format!("{n} {}", if n == 1 { one } else { many }))
        };
        let parts: Vec<String> =
            [words(below, "dent", "dents"), words(self.found.len() - below, "raised area", "raised areas")]
                .into_iter()
                .flatten()
                .collect();
        (!parts.is_empty()).then(|| parts.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_is_that_of_the_greatest_of_many_normal_errors() {
        // Abramowitz and Stegun, table 26.1: beyond 1 lie 0.317 310 5, beyond 3 lie 0.002 699 8 of both tails.
        assert!((two_tails(1.0) - 0.317_310_5).abs() < 1e-6, "{}", two_tails(1.0));
        assert!((two_tails(3.0) - 0.002_699_8).abs() < 1e-6, "{}", two_tails(3.0));
        assert!((two_tails(2.499_999_9) - two_tails(2.500_000_1)).abs() < 1e-8);
        assert!((two_tails(limit(1)) - CHANCE).abs() < 1e-9);
        assert!(limit(1000) < limit(4000) && limit(4000) < 5.0, "{}", limit(4000));
    }
}
