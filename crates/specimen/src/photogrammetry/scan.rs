//! Puts a photographed scan together.

use bladeform_mesh::{RawMesh, repair, simplify};

use super::lofted::Lofted;
use super::noise::NoiseField;
use super::plan::{Photogrammetry, Triangulation};
use super::sheet::Sheet;
use super::sides::Sides;
use super::triangles::net;
use crate::random::Random;
use crate::scan::{MadeScan, ScanPlan, add_surroundings, append, cut_holes, finish, vertex_normals};
use crate::surface::hub;

/// Hub of a whole propeller and how many blades stand around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hub {
    /// Number of blades.
    pub blades: usize,
    /// Radius of the hub's cylinder, m.
    pub radius_m: f64,
    /// Length of the hub's cylinder, m.
    pub length_m: f64,
}

/// What is drawn for one purpose does not depend on what was drawn for another.
#[derive(Clone, Copy)]
enum Stream {
    Triangles,
    Noise,
    Sides,
    Holes,
    Rest,
}

fn stream(seed: u64, part: usize, of: Stream) -> Random {
    let mut random = Random::new(seed ^ 0xB1AD_EF02);
    let skip = 8 * part + of as usize;
    let own = (0..=skip).fold(0, |_, _| random.bits());
    Random::new(own)
}

/// Scan of a lone blade.
#[must_use]
pub fn photographed_blade(blade: &dyn Lofted, plan: &Photogrammetry) -> MadeScan {
    let sheet = Sheet::new(blade, &plan.kernel);
    let mesh = photographed_sheet(blade, &sheet, plan, plan.triangles, 0);
    let length = blade.tip_radius_m() - blade.root_radius_m();
    let span = [blade.root_radius_m() + 0.15 * length, blade.tip_radius_m()];
    let mesh = with_holes(mesh, plan, plan.holes, span, 0);
    completed(mesh, blade, plan, plan.bench)
}

/// Scan of a whole propeller: blades and hub as overlapping shells. The blades are the same; noise, joint of the sides and signs of their deformation are
/// each blade's own. The hub has the noise, but for patches, and sharp rims.
#[must_use]
pub fn photographed_propeller(blade: &dyn Lofted, around: &Hub, plan: &Photogrammetry) -> MadeScan {
    let sheet = Sheet::new(blade, &plan.kernel);
    let count = around.blades.max(1);
    let triangles = plan.triangles / count;
    let mut mesh = photographed_hub(around, &sheet, plan, triangles);
    let length = blade.tip_radius_m() - blade.root_radius_m();
    let span = [blade.root_radius_m() + 0.3 * length, blade.tip_radius_m()];
    for k in 0..count {
        let one = photographed_sheet(blade, &sheet, plan, triangles, k);
        let mut one = with_holes(one, plan, plan.holes / count, span, k);
        let (sin, cos) = (std::f64::consts::TAU * k as f64 / count as f64).sin_cos();
        for v in &mut one.vertices {
            *v = [cos * v[0] + sin * v[2], v[1], cos * v[2] - sin * v[0]];
        }
        append(&mut mesh, &one);
    }
    completed(mesh, blade, plan, false)
}

/// One blade in its own axes with all that befalls its surface, still without holes.
fn photographed_sheet(
    blade: &dyn Lofted,
    sheet: &Sheet,
    plan: &Photogrammetry,
    triangles: usize,
    part: usize,
) -> RawMesh {
    let more = if let Triangulation::Thinned(more) = plan.triangulation { more.max(1.0) } else { 1.0 };
    let random = &mut stream(plan.seed, part, Stream::Triangles);
    let net = net(sheet, (triangles as f64 * more) as usize, random);
    let noise =
        NoiseField::new(&plan.noise, &plan.kernel, sheet, stream(plan.seed, part, Stream::Noise).bits());
    let random = &mut stream(plan.seed, part, Stream::Sides);
    let sides = Sides::drawn(plan.sides_offset_m, plan.kernel.deviation_m, random);
    let mut bend = plan.deformation;
    if 0 < part {
        for amount in [&mut bend.bow, &mut bend.saddle, &mut bend.torsion] {
            *amount *= if random.uniform() < 0.5 { -1.0 } else { 1.0 };
        }
    }
    let (span, half_width) = ([blade.root_radius_m(), blade.tip_radius_m()], sheet.half_width());
    let vertices = net
        .places
        .iter()
        .map(|place| {
            let (p, n) = sheet.surface(place);
            let (e, s) = (noise.at(place), sides.at(sheet, place));
            bend.bent(std::array::from_fn(|k| p[k] + e * n[k] + s[k]), span, half_width)
        })
        .collect();
    thinned(RawMesh { vertices, faces: net.faces }, plan, triangles)
}

/// The mesh with fewer triangles if the plan says so.
fn thinned(mesh: RawMesh, plan: &Photogrammetry, triangles: usize) -> RawMesh {
    if plan.triangulation == Triangulation::Even {
        return mesh;
    }
    // Repairing fails for a mesh without triangles only.
    match repair(mesh.clone()) {
        Ok((clean, _)) => {
            let light = simplify(&clean, triangles);
            RawMesh { vertices: light.vertices().to_vec(), faces: light.faces().to_vec() }
        }
        Err(_) => mesh,
    }
}

fn photographed_hub(around: &Hub, sheet: &Sheet, plan: &Photogrammetry, triangles: usize) -> RawMesh {
    // About twice the edge of the blades' triangles, as in the plain generator.
    let edge = 2.0 * (sheet.area() / (0.433 * triangles.max(200) as f64)).sqrt();
    let mut mesh = hub(around.radius_m, around.length_m, edge);
    let normals = vertex_normals(&mesh);
    let seed = stream(plan.seed, around.blades, Stream::Noise).bits();
    let noise = NoiseField::new(&plan.noise, &plan.kernel, sheet, seed);
    for (v, n) in mesh.vertices.iter_mut().zip(normals) {
        let e = noise.in_space(*v);
        *v = std::array::from_fn(|k| v[k] + e * n[k]);
    }
    mesh
}

fn with_holes(mesh: RawMesh, plan: &Photogrammetry, holes: usize, span: [f64; 2], part: usize) -> RawMesh {
    if holes == 0 {
        return mesh;
    }
    let (normals, among) = (vertex_normals(&mesh), mesh.vertices.len());
    cut_holes(mesh, &normals, among, holes, &mut stream(plan.seed, part, Stream::Holes), span)
}

/// Stretches the part, adds what lies around it, and puts it into its pose.
fn completed(mut mesh: RawMesh, blade: &dyn Lofted, plan: &Photogrammetry, bench: bool) -> MadeScan {
    for v in &mut mesh.vertices {
        *v = plan.deformation.stretched(*v);
    }
    let noise_m = plan.noise.iter().map(|n| n.deviation_m.powi(2)).sum::<f64>().sqrt();
    let rest = ScanPlan {
        fragments: plan.fragments,
        noise_m,
        any_pose: plan.any_pose,
        bench,
        ..ScanPlan::clean(plan.seed)
    };
    let random = &mut stream(plan.seed, 0, Stream::Rest);
    add_surroundings(&mut mesh, &rest, random);
    finish(mesh, blade.is_left_handed(), &rest, random)
}
