//! What photogrammetry makes of a part: a pose and a unit of its own, correlated noise, holes, fragments, a piece of bench.

use bladeform_mesh::RawMesh;
use bladeform_numeric::vector::{add, cross, norm, sub};
use bladeform_table::SectionSurface;

use crate::blade::Blade;
use crate::photogrammetry::Lofted;
use crate::pose::Pose;
use crate::random::Random;
use crate::series::SeriesScrew;
use crate::surface::{Grid, SpecimenPropeller, blade_grid, edge_for, grid_of_rows, hub};

/// What a scan is to be like. `seed` decides everything that is drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScanPlan {
    /// Seed.
    pub seed: u64,
    /// Triangles of the part, about.
    pub triangles: usize,
    /// Standard deviation of the surface noise along the normal, m.
    pub noise_m: f64,
    /// Length over which the noise is correlated, triangle edges.
    pub correlation_edges: f64,
    /// Number of holes, 10 to 40 mm wide.
    pub holes: usize,
    /// Number of loose fragments.
    pub fragments: usize,
    /// Whether a piece of the bench came along.
    pub bench: bool,
    /// Whether pose and unit are drawn; else the file is in blade axes and metres.
    pub any_pose: bool,
}

impl ScanPlan {
    /// The exact surface in its own axes.
    #[must_use]
    pub const fn clean(seed: u64) -> Self {
        Self {
            seed,
            triangles: 650_000,
            noise_m: 0.0,
            correlation_edges: 2.0,
            holes: 0,
            fragments: 0,
            bench: false,
            any_pose: false,
        }
    }
    /// A usual photogrammetry scan: 0.2 mm of noise over two triangles, five holes, fragments, a piece of bench, any pose and unit.
    #[must_use]
    pub const fn usual(seed: u64) -> Self {
        Self { noise_m: 2e-4, holes: 5, fragments: 6, bench: true, any_pose: true, ..Self::clean(seed) }
    }
}

/// A scan that was made, with its pose for the tests.
#[derive(Debug, Clone)]
pub struct MadeScan {
    /// The mesh in the file's coordinates.
    pub mesh: RawMesh,
    /// Where the part lies in it.
    pub pose: Pose,
}

/// Scan of a lone blade.
#[must_use]
pub fn scan_of_blade(blade: &Blade, plan: &ScanPlan) -> MadeScan {
    scan_of_lofted(blade, plan)
}

/// Scan of a lone blade of any kind.
#[must_use]
pub fn scan_of_lofted(blade: &dyn Lofted, plan: &ScanPlan) -> MadeScan {
    let mut random = Random::new(plan.seed);
    let grid = blade_grid(blade, edge_for(blade, plan.triangles), &mut random);
    scan_of_grid(blade, grid, plan, random)
}

/// Scan of a lone blade whose points lie on rings at the given radii, m, rising, `around` on each: the plan's number of triangles is not used.
#[must_use]
pub fn scan_of_rows(blade: &dyn Lofted, radii_m: &[f64], around: usize, plan: &ScanPlan) -> MadeScan {
    let mut random = Random::new(plan.seed);
    let grid = grid_of_rows(blade, radii_m, around, &mut random);
    scan_of_grid(blade, grid, plan, random)
}

fn scan_of_grid(blade: &dyn Lofted, grid: Grid, plan: &ScanPlan, mut random: Random) -> MadeScan {
    let (root, tip) = (blade.root_radius_m(), blade.tip_radius_m());
    let mut mesh = spoil(grid, plan, &mut random, root + 0.15 * (tip - root), tip);
    add_surroundings(&mut mesh, plan, &mut random);
    finish(mesh, blade.is_left_handed(), plan, &mut random)
}

/// Scan of a whole propeller: blades and hub as overlapping shells.
#[must_use]
pub fn scan_of_propeller(propeller: &SpecimenPropeller, plan: &ScanPlan) -> MadeScan {
    scan_of_whole(&Whole::of(propeller), SectionSurface::Plane, plan)
}

/// As [`scan_of_propeller`], with the sections of the blades wrapped on cylinders about the axis of rotation, as those of a ship's screw lie: what is true of a section of the blade is true of the
/// developed section of the scan. Noise is laid on before the blade is wrapped, which stretches it by a few per cent near the edges of wide blades.
#[must_use]
pub fn scan_of_screw(propeller: &SpecimenPropeller, plan: &ScanPlan) -> MadeScan {
    scan_of_whole(&Whole::of(propeller), SectionSurface::Cylinder, plan)
}

/// Scan of a screw of a published series; its hub is so long that it covers the roots.
#[must_use]
pub fn scan_of_series(screw: &SeriesScrew, plan: &ScanPlan) -> MadeScan {
    let ends = screw.exact_outline(screw.hub_radius_m);
    let reach = ends.iter().map(|p| p[1].abs()).fold(0.0, f64::max);
    let whole = Whole {
        blade: screw,
        count: screw.blades,
        hub_radius_m: screw.hub_radius_m,
        hub_length_m: 2.0 * HUB_ROOM * reach,
    };
    scan_of_whole(&whole, SectionSurface::Cylinder, plan)
}

/// Length of the hub over that of the roots on it.
const HUB_ROOM: f64 = 1.2;

/// Blades of any kind around a hub.
struct Whole<'a> {
    blade: &'a dyn Lofted,
    count: usize,
    hub_radius_m: f64,
    hub_length_m: f64,
}

impl<'a> Whole<'a> {
    fn of(p: &'a SpecimenPropeller) -> Self {
        Self { blade: &p.blade, count: p.count, hub_radius_m: p.hub_radius_m, hub_length_m: p.hub_length_m }
    }
}

fn scan_of_whole(propeller: &Whole<'_>, sections: SectionSurface, plan: &ScanPlan) -> MadeScan {
    let mut random = Random::new(plan.seed);
    let blade = propeller.blade;
    let edge = edge_for(blade, plan.triangles / propeller.count);
    let mut mesh = hub(propeller.hub_radius_m, propeller.hub_length_m, 2.0 * edge);
    let (root, tip) = (blade.root_radius_m(), blade.tip_radius_m());
    for k in 0..propeller.count {
        let grid = blade_grid(blade, edge, &mut random);
        let holes = ScanPlan { holes: plan.holes / propeller.count, ..*plan };
        let mut one = spoil(grid, &holes, &mut random, root + 0.3 * (tip - root), tip);
        let (sin, cos) = (std::f64::consts::TAU * k as f64 / propeller.count as f64).sin_cos();
        for v in &mut one.vertices {
            let p = sections.placed(*v);
            *v = [cos * p[0] + sin * p[2], p[1], cos * p[2] - sin * p[0]];
        }
        append(&mut mesh, &one);
    }
    add_surroundings(&mut mesh, &ScanPlan { bench: false, ..*plan }, &mut random);
    finish(mesh, blade.is_left_handed(), plan, &mut random)
}

pub(crate) fn append(mesh: &mut RawMesh, other: &RawMesh) {
    let offset = mesh.vertices.len() as u32;
    mesh.vertices.extend_from_slice(&other.vertices);
    mesh.faces.extend(other.faces.iter().map(|f| f.map(|v| v + offset)));
}

/// Mirrors a left-handed part (turning its triangles with it) and puts it into its pose.
pub(crate) fn finish(mut mesh: RawMesh, mirrored: bool, plan: &ScanPlan, random: &mut Random) -> MadeScan {
    let pose = if plan.any_pose { Pose::random(random) } else { Pose::IDENTITY };
    for v in &mut mesh.vertices {
        let p = if mirrored { [-v[0], v[1], v[2]] } else { *v };
        *v = pose.apply(p);
    }
    if mirrored {
        for f in &mut mesh.faces {
            f.swap(1, 2);
        }
    }
    MadeScan { mesh, pose }
}

/// Noise along the normals, then holes.
fn spoil(grid: Grid, plan: &ScanPlan, random: &mut Random, from_m: f64, to_m: f64) -> RawMesh {
    let Grid { rows, around, mut mesh } = grid;
    let normals = vertex_normals(&mesh);
    let noise = correlated(rows, around, plan.correlation_edges, random);
    for (i, e) in noise.iter().enumerate() {
        for (x, n) in mesh.vertices[i].iter_mut().zip(normals[i]) {
            *x += plan.noise_m * e * n;
        }
    }
    cut_holes(mesh, &normals, rows * around, plan.holes, random, [from_m, to_m])
}

/// Takes away the triangles in `count` holes 10 to 40 mm wide, each on one side of the blade only, around vertices drawn from the first `among`
/// whose radius is within `span`, m.
pub(crate) fn cut_holes(
    mesh: RawMesh,
    normals: &[[f64; 3]],
    among: usize,
    count: usize,
    random: &mut Random,
    span: [f64; 2],
) -> RawMesh {
    let holes: Vec<_> = (0..count)
        .map(|_| {
            loop {
                let i = (random.uniform() * among as f64) as usize;
                let z = mesh.vertices[i][2];
                if span[0] < z && z < span[1] {
                    break (mesh.vertices[i], normals[i], random.between(0.005, 0.020));
                }
            }
        })
        .collect();
    let inside = |v: u32| {
        let (p, n) = (mesh.vertices[v as usize], normals[v as usize]);
        holes.iter().any(|(centre, normal, radius)| {
            let d: f64 = (0..3).map(|k| (p[k] - centre[k]).powi(2)).sum();
            let same_side = 0.0 < (0..3).map(|k| n[k] * normal[k]).sum::<f64>();
            d < radius * radius && same_side
        })
    };
    let faces = mesh.faces.iter().copied().filter(|f| !f.iter().any(|&v| inside(v))).collect();
    RawMesh { faces, vertices: mesh.vertices }
}

/// White noise over a ring grid, smoothed with a Gaussian so that its correlation falls to 1/e over `length` grid steps; unit variance.
fn correlated(rows: usize, around: usize, length: f64, random: &mut Random) -> Vec<f64> {
    let white: Vec<f64> = (0..rows * around).map(|_| random.normal()).collect();
    // Smoothing with deviation s gives the correlation exp(-d^2 / (4 s^2)).
    let s = length / 2.0;
    let reach = (3.0 * s).ceil() as isize;
    let kernel: Vec<f64> =
        (-reach..=reach).map(|d| (-(d * d) as f64 / (2.0 * s * s).max(1e-12)).exp()).collect();
    let norm = kernel.iter().map(|k| k * k).sum::<f64>();
    let pass = |values: &[f64], across: bool| -> Vec<f64> {
        (0..rows * around)
            .map(|i| {
                let (row, k) = ((i / around) as isize, (i % around) as isize);
                kernel
                    .iter()
                    .enumerate()
                    .map(|(j, w)| {
                        let d = j as isize - reach;
                        let at = if across {
                            (row + d).rem_euclid(rows as isize) * around as isize + k
                        } else {
                            row * around as isize + (k + d).rem_euclid(around as isize)
                        };
                        w * values[at as usize]
                    })
                    .sum()
            })
            .collect()
    };
    let smooth = pass(&pass(&white, false), true);
    smooth.into_iter().map(|v| v / norm).collect()
}

pub(crate) fn vertex_normals(mesh: &RawMesh) -> Vec<[f64; 3]> {
    let mut normals = vec![[0.0; 3]; mesh.vertices.len()];
    for f in &mesh.faces {
        let [a, b, c] = f.map(|v| mesh.vertices[v as usize]);
        let n = cross(sub(b, a), sub(c, a));
        for &i in f {
            normals[i as usize] = add(normals[i as usize], n);
        }
    }
    for n in &mut normals {
        let length = norm(*n).max(1e-300);
        *n = n.map(|x| x / length);
    }
    normals
}

/// Loose fragments around the part and a piece of the bench under it.
pub(crate) fn add_surroundings(mesh: &mut RawMesh, plan: &ScanPlan, random: &mut Random) {
    let low: [f64; 3] =
        std::array::from_fn(|k| mesh.vertices.iter().map(|v| v[k]).fold(f64::INFINITY, f64::min));
    let high: [f64; 3] =
        std::array::from_fn(|k| mesh.vertices.iter().map(|v| v[k]).fold(f64::NEG_INFINITY, f64::max));
    for _ in 0..plan.fragments {
        let centre = std::array::from_fn(|k| random.between(low[k] - 0.05, high[k] + 0.05));
        append(mesh, &fragment(centre, random.between(0.003, 0.012), random));
    }
    if plan.bench {
        let y = low[1] - 0.012;
        let z = low[2] + 0.35 * (high[2] - low[2]);
        append(mesh, &bench([0.5 * (low[0] + high[0]), y, z], 0.45, 0.35, plan.noise_m, random));
    }
}

/// A lumpy tetrahedron-like scrap.
fn fragment(centre: [f64; 3], size: f64, random: &mut Random) -> RawMesh {
    let corner = |d: [f64; 3], random: &mut Random| {
        std::array::from_fn(|k| centre[k] + size * d[k] * random.between(0.5, 1.0))
    };
    let vertices = [[1.0, 1.0, 1.0], [1.0, -1.0, -1.0], [-1.0, 1.0, -1.0], [-1.0, -1.0, 1.0]]
        .map(|d| corner(d, random))
        .to_vec();
    RawMesh { vertices, faces: vec![[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]] }
}

/// A noisy open sheet in the plane of `x` and `z`.
fn bench(centre: [f64; 3], width: f64, length: f64, noise: f64, random: &mut Random) -> RawMesh {
    let step = 0.004;
    let (columns, rows) = ((width / step) as usize, (length / step) as usize);
    let mut vertices = Vec::with_capacity(columns * rows);
    for i in 0..rows {
        for j in 0..columns {
            let (x, z) = (
                (j as f64 / (columns - 1) as f64 - 0.5) * width,
                (i as f64 / (rows - 1) as f64 - 0.5) * length,
            );
            vertices.push([centre[0] + x, centre[1] + noise * random.normal(), centre[2] + z]);
        }
    }
    let mut faces = Vec::with_capacity(2 * columns * rows);
    for i in 0..rows - 1 {
        for j in 0..columns - 1 {
            let at = |i: usize, j: usize| (i * columns + j) as u32;
            faces.extend([
                [at(i, j), at(i + 1, j), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i, j + 1)],
            ]);
        }
    }
    RawMesh { vertices, faces }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_mesh::{moments, orient, repair, topology};

    #[test]
    fn a_clean_blade_is_closed_outward_and_has_the_volume_of_its_sections() {
        let blade = Blade::quarry_mill();
        let scan = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::clean(3) });
        let (mesh, _) = repair(scan.mesh).unwrap();
        let (mesh, report) = orient(mesh);
        assert_eq!(report.flipped_triangles, 0);
        assert!(topology(&mesh).closed());
        let n = 400;
        let step = blade.length_m() / f64::from(n);
        let sections: f64 = (0..n)
            .map(|i| {
                bladeform_section::area(&blade.outline(blade.root_radius_m + (f64::from(i) + 0.5) * step))
                    .abs()
                    * step
            })
            .sum();
        let volume = moments(&mesh).volume;
        assert!((volume / sections - 1.0).abs() < 3e-3, "{volume} {sections}");
    }

    #[test]
    fn a_scan_has_about_the_triangles_that_were_asked_for() {
        let scan =
            scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 100_000, ..ScanPlan::clean(1) });
        assert!((97_000..103_000).contains(&scan.mesh.faces.len()), "{}", scan.mesh.faces.len());
    }

    #[test]
    fn noise_has_unit_variance_and_the_stated_correlation() {
        let noise = correlated(200, 200, 2.0, &mut Random::new(5));
        let variance = noise.iter().map(|v| v * v).sum::<f64>() / noise.len() as f64;
        let lag = noise.windows(3).map(|w| w[0] * w[2]).sum::<f64>() / noise.len() as f64 / variance;
        assert!((variance - 1.0).abs() < 0.05, "{variance}");
        assert!((lag - (-1.0_f64).exp()).abs() < 0.06, "{lag}");
    }
}
