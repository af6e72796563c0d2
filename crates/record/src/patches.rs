//! Distances between scan and fitted surface as means over patches: on the two sides of each blade, by radius and by the way from the leading edge.
//!
//! One point of a scan has the scan's noise, a patch hardly any, so that dents and repairs show as areas. The patches are squares on the unrolled side.

use bladeform_mesh::CleanMesh;
use bladeform_numeric::parallel;

use crate::loft::{Foot, Levels};
use crate::scan::BladeView;

/// Width of a patch as a fraction of the greatest chord: 10 mm on a chord of 200 mm. Narrower ones would show the noise, wider ones would hide what a restorer feels with
/// a finger (a judgement).
const PATCH_SHARE: f64 = 1.0 / 20.0;
/// Widest patch as a fraction of the greatest chord, where the scan has few points.
const WIDEST_SHARE: f64 = 1.0 / 8.0;
/// A patch is widened until it has as many points on average: the mean of a dozen has less than a third of the noise.
const ENOUGH_POINTS: f64 = 12.0;
/// Factor by which it is widened each time.
const WIDER: f64 = 1.25;
/// Cells along the width of a patch: patches overlap by two thirds, so that no dent falls between them.
pub(crate) const CELLS: usize = 3;
/// Fewest points of a patch with a mean.
const FEWEST: u32 = 4;
/// Most points of a scan that are looked at, evenly chosen: their means are as good as those of millions.
const MOST_POINTS: usize = 400_000;
/// A point farther from the surface than this fraction of the greatest chord is no part of it.
const FAR_SHARE: f64 = 0.05;

/// The side of a blade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum BladeSide {
    /// The pressure side.
    Face,
    /// The suction side.
    Back,
}

impl BladeSide {
    /// Both, in the order of the outline.
    pub(crate) const ALL: [Self; 2] = [Self::Face, Self::Back];

    /// The word for people.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::Back => "back",
        }
    }
}

/// One side of a blade in cells: rows along the radius, columns along the way from the leading edge.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct SideCells {
    /// Number of rows and of columns.
    pub(crate) shape: [usize; 2],
    /// Sum of the distances in each cell, m.
    sum: Vec<f64>,
    /// Number of points in each cell.
    count: Vec<u32>,
    /// Length of the way from the leading to the trailing edge in each row, m.
    pub(crate) length_m: Vec<f64>,
}

impl SideCells {
    /// Mean distance over a square of `cells` x `cells` cells, an odd number, around a cell, m, positive outside; `None` where it has too few points.
    pub(crate) fn mean_m(&self, row: usize, column: usize, cells: usize) -> Option<f64> {
        let half = cells / 2;
        let (mut sum, mut count) = (0.0, 0);
        for r in row.saturating_sub(half)..(row + half + 1).min(self.shape[0]) {
            for c in column.saturating_sub(half)..(column + half + 1).min(self.shape[1]) {
                let at = r * self.shape[1] + c;
                sum += self.sum[at];
                count += self.count[at];
            }
        }
        (FEWEST <= count).then(|| sum / f64::from(count))
    }
}

/// The patches of one blade.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct BladePatches {
    /// Its number as the documents count, from 0; `None` for a single blade.
    pub(crate) index: Option<u64>,
    /// Radius at which the rows begin, m.
    pub(crate) first_m: f64,
    /// Width of a cell, m.
    pub(crate) cell_m: f64,
    /// Face and back.
    pub(crate) sides: [SideCells; 2],
}

/// The patches of all blades.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Patches {
    /// Width of a patch, m.
    pub(crate) size_m: f64,
    /// The blades that have a surface.
    pub(crate) blades: Vec<BladePatches>,
}

impl Patches {
    /// The patches of a scan in the axes of the table; `None` if no blade has a surface or the scan has no points on one.
    pub(crate) fn of(mesh: &CleanMesh, blades: &[BladeView<'_>]) -> Option<Self> {
        let chords = blades.iter().flat_map(|b| b.stations.iter().filter_map(|s| s.chord_m));
        let chord_m = chords.fold(0.0, f64::max);
        if chord_m <= 0.0 {
            return None;
        }
        let surfaces = surfaces(blades, PATCH_SHARE * chord_m / CELLS as f64);
        let every = mesh.vertices().len().div_ceil(MOST_POINTS).max(1);
        let points: Vec<[f64; 3]> = mesh.vertices().iter().step_by(every).copied().collect();
        let feet: Vec<(usize, f64, Foot)> = parallel::map(&points, |p| foot(blades, &surfaces, *p))
            .into_iter()
            .flatten()
            .filter(|(_, _, foot)| foot.distance_m.abs() < FAR_SHARE * chord_m)
            .collect();
        if feet.is_empty() {
            return None;
        }
        let area: f64 = surfaces.iter().flatten().map(|s| s.levels.area_m2()).sum();
        let per_area = feet.len() as f64 / area;
        let mut share = PATCH_SHARE;
        while per_area * (share * chord_m).powi(2) < ENOUGH_POINTS && share * WIDER < WIDEST_SHARE {
            share *= WIDER;
        }
        let size_m = share * chord_m;
        let mut made: Vec<Option<BladePatches>> = surfaces
            .iter()
            .zip(blades)
            .map(|(surface, blade)| {
                Some(empty(blade.index, &surface.as_ref()?.levels, size_m / CELLS as f64))
            })
            .collect();
        for (blade, radius_m, foot) in &feet {
            if let Some(patches) = &mut made[*blade] {
                let cell = patches.cell(*radius_m, foot);
                let side = &mut patches.sides[foot.side as usize];
                side.sum[cell[0] * side.shape[1] + cell[1]] += foot.distance_m;
                side.count[cell[0] * side.shape[1] + cell[1]] += 1;
            }
        }
        Some(Self { size_m, blades: made.into_iter().flatten().collect() })
    }

    /// The mean over the patch around each point of a mesh, m; `None` beyond the stations, and where the patch has too few points.
    pub(crate) fn at(&self, mesh: &CleanMesh, blades: &[BladeView<'_>]) -> Vec<Option<f64>> {
        let surfaces = surfaces(blades, self.size_m / CELLS as f64);
        parallel::map(mesh.vertices(), |p| {
            let (blade, radius_m, foot) = foot(blades, &surfaces, *p)?;
            let patches = self.blades.iter().find(|b| b.index == blades[blade].index)?;
            let [row, column] = patches.cell(radius_m, &foot);
            patches.sides[foot.side as usize].mean_m(row, column, CELLS)
        })
    }
}

impl BladePatches {
    /// Row and column of a point.
    fn cell(&self, radius_m: f64, foot: &Foot) -> [usize; 2] {
        let [rows, columns] = self.sides[foot.side as usize].shape;
        let row = ((radius_m - self.first_m) / self.cell_m) as usize;
        [row.min(rows - 1), ((foot.along_m / self.cell_m) as usize).min(columns - 1)]
    }
}

/// The surface of a blade for many points.
struct Surface {
    levels: Levels,
}

fn surfaces(blades: &[BladeView<'_>], step_m: f64) -> Vec<Option<Surface>> {
    blades.iter().map(|b| Some(Surface { levels: Levels::of(b.loft.as_ref()?, step_m) })).collect()
}

/// The blade that a point belongs to (the one with the largest span coordinate), its radius there, and its place on the surface.
fn foot(blades: &[BladeView<'_>], surfaces: &[Option<Surface>], p: [f64; 3]) -> Option<(usize, f64, Foot)> {
    let (blade, view) = blades.iter().enumerate().max_by(|a, b| a.1.out(p).total_cmp(&b.1.out(p)))?;
    let own = view.own(p);
    Some((blade, own[2], surfaces[blade].as_ref()?.levels.foot(own)?))
}

fn empty(index: Option<u64>, levels: &Levels, cell_m: f64) -> BladePatches {
    let (first_m, last_m) = levels.range();
    let rows = (((last_m - first_m) / cell_m).ceil() as usize).max(1);
    let lengths = |side: BladeSide| -> Vec<f64> {
        (0..rows)
            .map(|row| levels.side_length_m((first_m + (row as f64 + 0.5) * cell_m).min(last_m), side))
            .collect()
    };
    let sides = BladeSide::ALL.map(|side| {
        let length_m = lengths(side);
        let longest = length_m.iter().copied().fold(0.0, f64::max);
        let columns = ((longest / cell_m).ceil() as usize).max(1);
        let cells = rows * columns;
        SideCells { shape: [rows, columns], sum: vec![0.0; cells], count: vec![0; cells], length_m }
    });
    BladePatches { index, first_m, cell_m, sides }
}
