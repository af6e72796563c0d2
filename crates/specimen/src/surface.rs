//! The exact surface of a blade as a closed grid of points, and blades set around a hub.

use bladeform_mesh::RawMesh;
use bladeform_numeric::vector::distance_hypot;

use crate::blade::Blade;
use crate::photogrammetry::Lofted;
use crate::random::Random;

/// A closed grid: `rows` rings of `around` points from root to tip, then one point for the middle of each end.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    pub(crate) rows: usize,
    pub(crate) around: usize,
    pub(crate) mesh: RawMesh,
}

/// Blades around a hub.
#[derive(Debug, Clone, PartialEq)]
pub struct SpecimenPropeller {
    /// The blade.
    pub blade: Blade,
    /// How many.
    pub count: usize,
    /// Radius of the hub's cylinder, m.
    pub hub_radius_m: f64,
    /// Length of the hub's cylinder, m.
    pub hub_length_m: f64,
}

impl SpecimenPropeller {
    /// A wide screw of 1 m with four blades: chord over radius 0.84 at 0.7 R, its mid-chords swept back by 8 deg at the tip.
    #[must_use]
    pub fn wide_screw() -> Self {
        let blade = Blade {
            radius_m: 0.5,
            root_radius_m: 0.09,
            shank_radius_m: 0.0,
            greatest_chord_m: 0.31,
            pitch_m: 0.9,
            thickness: [0.09, 0.04],
            camber: [0.02, 0.025],
            sweep_m: 0.07,
            ..Blade::quarry_mill()
        };
        Self { blade, count: 4, hub_radius_m: 0.1, hub_length_m: 0.36 }
    }
}

/// Distance of rows over the edge: height of an equilateral triangle.
const ROW_PER_EDGE: f64 = 0.87;
/// Fraction of the tip radius at which the sections are widest.
const WIDEST: f64 = 0.45;

/// Edge, m, with which the grid of a blade has about so many triangles: two for every point.
pub(crate) fn edge_for(blade: &dyn Lofted, triangles: usize) -> f64 {
    let (root, tip) = (blade.root_radius_m(), blade.tip_radius_m());
    let sheet = (tip - root) * outline_length(&blade.exact_outline(WIDEST * tip));
    (2.0 * sheet / (ROW_PER_EDGE * triangles as f64)).sqrt()
}

/// Grid of a blade with triangles of about the given edge, m; points are shaken along the outline so that no row repeats the one before.
pub(crate) fn blade_grid(blade: &dyn Lofted, edge_m: f64, random: &mut Random) -> Grid {
    let (root, tip) = (blade.root_radius_m(), blade.tip_radius_m());
    let rows = ((tip - root) / (ROW_PER_EDGE * edge_m)).ceil().max(8.0) as usize;
    let widest = outline_length(&blade.exact_outline(WIDEST * tip));
    let around = (widest / edge_m).ceil().max(12.0) as usize;
    // The last ring lies a little short of the tip, where the chord vanishes.
    let last = tip - 0.02 * edge_m.min(0.005);
    let radii: Vec<f64> =
        (0..rows).map(|row| root + (last - root) * row as f64 / (rows - 1) as f64).collect();
    grid_of_rows(blade, &radii, around, random)
}

/// Grid of a blade with rings at the given radii, m, of `around` points each.
pub(crate) fn grid_of_rows(blade: &dyn Lofted, radii: &[f64], around: usize, random: &mut Random) -> Grid {
    let (rows, root, tip) = (radii.len(), blade.root_radius_m(), blade.tip_radius_m());
    let mut vertices = Vec::with_capacity(rows * around + 2);
    for &r in radii {
        let outline = blade.exact_outline(r);
        let phase = random.uniform();
        for p in along(&outline, around, |k| k as f64 + phase + random.between(-0.3, 0.3)) {
            vertices.push([p[0], p[1], r]);
        }
    }
    let middle = |ring: &[[f64; 3]], z: f64| {
        let n = ring.len() as f64;
        [ring.iter().map(|p| p[0]).sum::<f64>() / n, ring.iter().map(|p| p[1]).sum::<f64>() / n, z]
    };
    let ends = [middle(&vertices[..around], root), middle(&vertices[(rows - 1) * around..], tip)];
    vertices.extend(ends);
    Grid { rows, around, mesh: RawMesh { vertices, faces: grid_faces(rows, around) } }
}

/// Outward triangles of a grid whose outlines run clockwise seen from the tip.
fn grid_faces(rows: usize, around: usize) -> Vec<[u32; 3]> {
    let at = |row: usize, k: usize| (row * around + k % around) as u32;
    let mut faces = Vec::with_capacity(2 * rows * around);
    for row in 0..rows - 1 {
        for k in 0..around {
            let (a, b, c, d) = (at(row, k), at(row, k + 1), at(row + 1, k), at(row + 1, k + 1));
            faces.extend([[a, d, b], [a, c, d]]);
        }
    }
    let (root, tip) = ((rows * around) as u32, (rows * around + 1) as u32);
    for k in 0..around {
        faces.push([root, at(0, k), at(0, k + 1)]);
        faces.push([tip, at(rows - 1, k + 1), at(rows - 1, k)]);
    }
    faces
}

fn outline_length(outline: &[[f64; 2]]) -> f64 {
    (0..outline.len()).map(|i| step(outline, i)).sum()
}

fn step(outline: &[[f64; 2]], i: usize) -> f64 {
    let (a, b) = (outline[i], outline[(i + 1) % outline.len()]);
    distance_hypot(a, b)
}

/// `n` points along a closed outline at the given places (0..n, rising), by arc length.
fn along(outline: &[[f64; 2]], n: usize, mut place: impl FnMut(usize) -> f64) -> Vec<[f64; 2]> {
    let m = outline.len();
    let mut arc = vec![0.0; m + 1];
    for i in 0..m {
        arc[i + 1] = arc[i] + step(outline, i);
    }
    (0..n)
        .map(|k| {
            let s = (place(k) / n as f64).rem_euclid(1.0) * arc[m];
            let i = arc.partition_point(|&a| a <= s).clamp(1, m) - 1;
            let t = (s - arc[i]) / (arc[i + 1] - arc[i]).max(1e-300);
            let (a, b) = (outline[i], outline[(i + 1) % m]);
            [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
        })
        .collect()
}

/// Cylinder of the hub about `y`, closed, with triangles of about the given edge; all in m.
pub(crate) fn hub(radius: f64, length: f64, edge_m: f64) -> RawMesh {
    let around = (std::f64::consts::TAU * radius / edge_m).ceil().max(12.0) as usize;
    let rows = (length / edge_m).ceil().max(2.0) as usize + 1;
    let mut vertices = Vec::new();
    for row in 0..rows {
        let y = length * (row as f64 / (rows - 1) as f64 - 0.5);
        for k in 0..around {
            let a = std::f64::consts::TAU * k as f64 / around as f64;
            vertices.push([radius * a.sin(), y, radius * a.cos()]);
        }
    }
    vertices.extend([[0.0, -length / 2.0, 0.0], [0.0, length / 2.0, 0.0]]);
    // The grid's third axis is y here, and its rings turn from z to x: outward like the blade's.
    let faces = grid_faces(rows, around).into_iter().map(|[a, b, c]| [a, c, b]).collect();
    RawMesh { vertices, faces }
}
