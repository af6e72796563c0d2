//! Tables, boards and fragments are removed, blades are kept: scans with noise, random rotation and any numbering.

use bladeform_mesh::{PartReason, RawMesh, Selection, keep_part, moments, orient, repair};
use nalgebra::{Rotation3, Vector3};

/// Normally distributed numbers, seeded.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        // Constants of D. Knuth's linear congruential generator MMIX, from memory.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Standard normal, by the polar transform of G. Box and M. Muller (1958).
    fn normal(&mut self) -> f64 {
        (-2.0 * self.uniform().ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }

    fn shake(&mut self, mut mesh: RawMesh, sigma: f64) -> RawMesh {
        mesh.vertices.iter_mut().flatten().for_each(|c| *c += sigma * self.normal());
        mesh
    }
}

/// A blade of length 0.8 from radius 0.1: chord decreasing from 0.12 to 0.06, uniform twist along the span.
#[derive(Clone, Copy)]
struct Blade {
    thickness: f64,
    twist_deg: f64,
    flat_face: bool,
    /// Leaves out the root cap.
    open_root: bool,
    /// Leaves out the face: only the back was scanned.
    back_only: bool,
}

const THIN: Blade =
    Blade { thickness: 0.06, twist_deg: 30.0, flat_face: false, open_root: false, back_only: false };
const WING: Blade = Blade { thickness: 0.12, twist_deg: 0.0, flat_face: true, ..THIN };

impl Blade {
    fn mesh(self) -> RawMesh {
        let (along, around) = (120u32, 40u32);
        let mut vertices = Vec::new();
        for i in 0..=along {
            let fraction = f64::from(i) / f64::from(along);
            let chord = 0.12 - 0.06 * fraction;
            let (sin, cos) = (self.twist_deg.to_radians() * (fraction - 0.5)).sin_cos();
            for j in 0..around {
                let (up, forward) = (std::f64::consts::TAU * f64::from(j) / f64::from(around)).sin_cos();
                let up = if self.flat_face { up.max(0.0) } else { 0.5 * up };
                let (x, y) = (0.5 * chord * forward, self.thickness * chord * up);
                vertices.push([x * cos - y * sin, x * sin + y * cos, 0.1 + 0.8 * fraction]);
            }
        }
        let at = |i: u32, j: u32| i * around + j % around;
        let mut faces = Vec::new();
        for i in 0..along {
            let last = if self.back_only { around / 2 } else { around };
            for j in 0..last {
                faces.extend([
                    [at(i, j), at(i, j + 1), at(i + 1, j + 1)],
                    [at(i, j), at(i + 1, j + 1), at(i + 1, j)],
                ]);
            }
        }
        for j in 1..around - 1 {
            if !self.back_only && !self.open_root {
                faces.push([at(0, 0), at(0, j + 1), at(0, j)]);
            }
            if !self.back_only {
                faces.push([at(along, 0), at(along, j), at(along, j + 1)]);
            }
        }
        RawMesh { vertices, faces }
    }
}

/// An open sheet over x and z: `cells` along x and z, with the height y from `height`, facing +y.
fn sheet(low: [f64; 2], size: [f64; 2], cells: [u32; 2], height: impl Fn(f64, f64) -> f64) -> RawMesh {
    let mut vertices = Vec::new();
    for i in 0..=cells[0] {
        for k in 0..=cells[1] {
            let x = low[0] + size[0] * f64::from(i) / f64::from(cells[0]);
            let z = low[1] + size[1] * f64::from(k) / f64::from(cells[1]);
            vertices.push([x, height(x, z), z]);
        }
    }
    let at = |i: u32, k: u32| i * (cells[1] + 1) + k;
    let cell = |i: u32, k: u32| {
        [[at(i, k), at(i, k + 1), at(i + 1, k + 1)], [at(i, k), at(i + 1, k + 1), at(i + 1, k)]]
    };
    let faces = (0..cells[0]).flat_map(|i| (0..cells[1]).flat_map(move |k| cell(i, k))).collect();
    RawMesh { vertices, faces }
}

/// A bench of 0.8 by 1.4 below the blade, 0.03 under its axis.
fn bench(height: impl Fn(f64, f64) -> f64) -> RawMesh {
    sheet([-0.4, -0.2], [0.8, 1.4], [160, 280], height)
}

const BENCH_HEIGHT: f64 = -0.03;

/// Sheet, sides and bottom: a closed board of thickness 0.02 whose upper side is at the height of the bench.
fn board(upper: impl Fn(f64, f64) -> f64) -> RawMesh {
    let (cells, thickness) = ([160u32, 280u32], 0.02);
    let mut all = sheet([-0.4, -0.2], [0.8, 1.4], cells, upper);
    let base = all.vertices.len() as u32;
    let bottom = sheet([-0.4, -0.2], [0.8, 1.4], cells, |_, _| BENCH_HEIGHT - thickness);
    all.vertices.extend(bottom.vertices);
    all.faces.extend(bottom.faces.iter().map(|face| [face[0] + base, face[2] + base, face[1] + base]));
    let at = |i: u32, k: u32| i * (cells[1] + 1) + k;
    let along_z =
        (0..cells[1]).flat_map(|k| [[at(0, k + 1), at(0, k)], [at(cells[0], k), at(cells[0], k + 1)]]);
    let along_x =
        (0..cells[0]).flat_map(|i| [[at(i, 0), at(i + 1, 0)], [at(i + 1, cells[1]), at(i, cells[1])]]);
    for [a, b] in along_z.chain(along_x) {
        all.faces.extend([[b, a, a + base], [b, a + base, b + base]]);
    }
    all
}

fn ball(centre: [f64; 3], radius: f64) -> RawMesh {
    let corners = [[1., 0., 0.], [-1., 0., 0.], [0., 1., 0.], [0., -1., 0.], [0., 0., 1.], [0., 0., -1.]];
    let vertices = corners.map(|p: [f64; 3]| [0, 1, 2].map(|k| centre[k] + radius * p[k])).to_vec();
    let faces = vec![[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]];
    RawMesh { vertices, faces }
}

/// A closed drum about `y` at the origin.
fn drum(radius: f64, half_height: f64) -> RawMesh {
    let around = 60u32;
    let mut vertices = vec![[0.0, -half_height, 0.0], [0.0, half_height, 0.0]];
    for k in 0..around {
        let (sin, cos) = (std::f64::consts::TAU * f64::from(k) / f64::from(around)).sin_cos();
        vertices.extend([-half_height, half_height].map(|y| [radius * sin, y, radius * cos]));
    }
    let low = |k: u32| 2 + 2 * (k % around);
    let faces = (0..around)
        .flat_map(|k| {
            let (a, b, c, d) = (low(k), low(k + 1), low(k) + 1, low(k + 1) + 1);
            [[0, b, a], [1, c, d], [a, b, d], [a, d, c]]
        })
        .collect();
    RawMesh { vertices, faces }
}

fn together(bodies: impl IntoIterator<Item = RawMesh>) -> RawMesh {
    let mut all = RawMesh::default();
    for body in bodies {
        let base = all.vertices.len() as u32;
        all.vertices.extend(body.vertices);
        all.faces.extend(body.faces.iter().map(|face| face.map(|v| v + base)));
    }
    all
}

/// Rotated and moved out of every coordinate plane.
fn turned(mut mesh: RawMesh) -> RawMesh {
    let rotation = Rotation3::from_euler_angles(0.7, -0.4, 1.9);
    for p in &mut mesh.vertices {
        *p = (rotation * Vector3::from(*p) * 37.0 + Vector3::new(100.0, -40.0, 9.0)).into();
    }
    mesh
}

fn select(raw: RawMesh) -> Selection {
    keep_part(&orient(repair(turned(raw)).expect("the scan has triangles").0).0)
}

fn assert_untouched(name: &str, raw: RawMesh) {
    let found = select(raw);
    assert!(found.removed.is_empty() && !found.all_ground, "{name}: {:?}", found.removed);
}

/// Only ground is removed, and the remaining number of triangles is that of the blade.
fn assert_blade_alone(name: &str, found: &Selection, blade_faces: usize) {
    assert!(!found.removed.is_empty(), "{name}: nothing was taken out");
    let reasons: Vec<_> = found.removed.iter().map(|part| part.reason).collect();
    assert_eq!(reasons[0], PartReason::Ground, "{name}");
    assert_eq!(found.kept.faces().len(), blade_faces, "{name}: {:?}", found.removed);
}

#[test]
fn blades_are_no_ground() {
    let mut noise = Noise(1);
    assert_untouched("thin and twisted", THIN.mesh());
    assert_untouched("thin, with noise", noise.shake(THIN.mesh(), 3e-4));
    assert_untouched("thinner still", Blade { thickness: 0.02, ..THIN }.mesh());
    assert_untouched("open root", Blade { open_root: true, ..THIN }.mesh());
    assert_untouched("flat face", Blade { flat_face: true, twist_deg: 20.0, ..THIN }.mesh());
    assert_untouched("untwisted flat face", WING.mesh());
    assert_untouched("untwisted flat face, thin", Blade { thickness: 0.06, ..WING }.mesh());
    assert_untouched(
        "untwisted flat face, open, with noise",
        noise.shake(Blade { open_root: true, ..WING }.mesh(), 3e-4),
    );
    assert_untouched("only the back was scanned", Blade { back_only: true, ..THIN }.mesh());
}

/// Flat-faced blades without twist, set at an angle, and a spinner: separate shells with many planes.
#[test]
fn shells_of_a_propeller_are_all_kept() {
    for count in 2..=4 {
        let blade = |index: u32| {
            let pitch = Rotation3::from_axis_angle(&Vector3::z_axis(), 0.3);
            let azimuth = Rotation3::from_axis_angle(
                &Vector3::y_axis(),
                std::f64::consts::TAU * f64::from(index) / f64::from(count),
            );
            let mut mesh = WING.mesh();
            mesh.vertices.iter_mut().for_each(|p| *p = (azimuth * (pitch * Vector3::from(*p))).into());
            mesh
        };
        let shells = (0..count).map(blade).chain([ball([0.0; 3], 0.15)]);
        assert_untouched("propeller", together(shells));
    }
    assert_untouched("one flat blade with a spinner", together([WING.mesh(), ball([0.0; 3], 0.15)]));
}

/// The end of a hub is flat and may extend beyond a fragment that floats over it. It is still not a bench.
#[test]
fn a_scrap_over_the_end_of_a_hub_makes_no_bench() {
    let blade = THIN.mesh();
    let opposite = RawMesh {
        vertices: blade.vertices.iter().map(|p| [-p[0], p[1], -p[2]]).collect(),
        faces: blade.faces.clone(),
    };
    let hub = drum(0.12, 0.05);
    let count = 2 * blade.faces.len() + hub.faces.len();
    let found = select(together([blade, opposite, hub, ball([0.02, 0.066, 0.03], 0.009)]));
    assert!(!found.all_ground);
    assert_eq!(found.removed.iter().map(|part| part.reason).collect::<Vec<_>>(), [PartReason::StrayFragment]);
    assert_eq!(found.kept.faces().len(), count);
}

#[test]
fn separate_benches_go() {
    let mut noise = Noise(2);
    let blade = || THIN.mesh();
    let faces = blade().faces.len();
    let flat = |_: f64, _: f64| BENCH_HEIGHT;
    assert_blade_alone("flat", &select(together([blade(), bench(flat)])), faces);
    assert_blade_alone("noisy", &select(noise.shake(together([blade(), bench(flat)]), 5e-4)), faces);
    let very_noisy = noise.shake(bench(flat), 3e-3);
    assert_blade_alone("noise of most of an edge", &select(together([blade(), very_noisy])), faces);
    let sag = |x: f64, z: f64| BENCH_HEIGHT - 0.004 + 0.01 * (x * x + (z - 0.5) * (z - 0.5));
    assert_blade_alone("sagging", &select(together([blade(), noise.shake(bench(sag), 3e-4)])), faces);
    let two_triangles = sheet([-0.4, -0.2], [0.8, 1.4], [1, 1], flat);
    assert_blade_alone("two triangles", &select(together([blade(), two_triangles])), faces);
    let small = sheet([-0.08, -0.2], [0.16, 1.4], [16, 140], flat);
    assert_blade_alone("smaller than the blade", &select(together([blade(), small])), faces);
    assert_blade_alone("closed board", &select(together([blade(), board(flat)])), faces);
    assert_blade_alone("noisy board", &select(together([blade(), noise.shake(board(flat), 3e-4)])), faces);
    let floor = sheet([-2.0, -2.0], [4.0, 4.0], [100, 100], |_, _| -0.9);
    assert_blade_alone("board and floor", &select(together([blade(), board(flat), floor])), faces);
}

/// Back of a flat-faced twisted blade lying on the bench, as one height over x and z.
fn blade_on_bench(x: f64, z: f64) -> f64 {
    let fraction = (z - 0.1) / 0.8;
    if !(0.0..=1.0).contains(&fraction) {
        return BENCH_HEIGHT;
    }
    let half_chord = 0.06 - 0.03 * fraction;
    let across = x / half_chord;
    if across.abs() >= 1.0 {
        return BENCH_HEIGHT;
    }
    let twist = (0.5 * (fraction - 0.5)).tan();
    (0.02 * (1.0 - across * across).sqrt() + twist * x).max(BENCH_HEIGHT)
}

/// Area of the lying blade above the bench, from a noiseless fine grid.
fn area_on_bench() -> f64 {
    let (mesh, _) = repair(bench(blade_on_bench)).expect("the bench has triangles");
    let above = |face: usize| {
        mesh.faces()[face].iter().any(|&v| mesh.vertices()[v as usize][1] > BENCH_HEIGHT + 1e-3)
    };
    moments(&mesh.subset(above)).area * 37.0 * 37.0
}

#[test]
fn benches_grown_together_with_the_blade_go() {
    let mut noise = Noise(3);
    let expected = area_on_bench();
    let cases = [
        ("clean", bench(blade_on_bench)),
        ("noisy", noise.shake(bench(blade_on_bench), 4e-4)),
        ("board", board(blade_on_bench)),
        ("noisy board", noise.shake(board(blade_on_bench), 4e-4)),
        ("narrow bench", noise.shake(sheet([-0.15, -0.05], [0.3, 1.1], [60, 220], blade_on_bench), 4e-4)),
    ];
    for (name, raw) in cases {
        let found = select(raw);
        assert!(found.removed.iter().any(|part| part.reason == PartReason::Ground), "{name}");
        let area = moments(&found.kept).area;
        assert!((area / expected - 1.0).abs() < 0.08, "{name}: {area} kept, {expected} expected");
    }
}

#[test]
fn fragments_go_and_comparable_pieces_stay() {
    let blade = THIN.mesh();
    let area = moments(&repair(blade.clone()).expect("triangles").0).area;
    // An octahedron of radius r has an area of 4 sqrt(3) r^2: one just below 2 % of the blade's, one just above.
    let radius = |share: f64| (share * area / (4.0 * 3f64.sqrt())).sqrt();
    let found = select(together([
        blade.clone(),
        ball([0.0, 0.05, 0.3], radius(0.019)),
        ball([0.0, 0.05, 0.6], radius(0.021)),
    ]));
    assert_eq!(found.removed.len(), 1);
    let part = &found.removed[0];
    assert_eq!((part.reason, part.triangles), (PartReason::StrayFragment, 8));
    assert!((part.area / (0.019 * area * 37.0 * 37.0) - 1.0).abs() < 1e-9);
    assert_eq!(found.kept.faces().len(), blade.faces.len() + 8);
}

#[test]
fn middling_pieces_stay_only_where_they_touch_the_part() {
    let blade = THIN.mesh();
    let area = moments(&repair(blade.clone()).expect("triangles").0).area;
    let radius = (0.05 * area / (4.0 * 3f64.sqrt())).sqrt();
    let on_blade = ball([0.0, 0.05, 0.6], radius);
    let found = select(together([blade.clone(), on_blade, ball([0.0, 0.05 + 6.0 * radius, 0.6], radius)]));
    assert_eq!(found.removed.len(), 1);
    assert_eq!((found.removed[0].reason, found.removed[0].triangles), (PartReason::StrayFragment, 8));
    assert_eq!(found.kept.faces().len(), blade.faces.len() + 8);
}

/// A blade with less than 2 % of the area of the bench is still the part.
#[test]
fn bench_may_dwarf_the_blade() {
    let table = sheet([-2.0, -2.0], [4.0, 4.5], [200, 200], |_, _| BENCH_HEIGHT);
    let dust = ball([0.9, 0.2, 0.3], 0.003);
    let found = select(together([THIN.mesh(), table, dust]));
    assert_blade_alone("large table", &found, THIN.mesh().faces.len());
    assert_eq!(found.removed.len(), 2);
}

#[test]
fn a_lone_sheet_is_kept_and_told() {
    let mut noise = Noise(4);
    let plain = noise.shake(bench(|_, _| 0.0), 3e-4);
    let plain_faces = plain.faces.len();
    for raw in [plain.clone(), together([plain, ball([0.0, 0.3, 0.0], 0.003)])] {
        let scraps = raw.faces.len() - plain_faces;
        let found = select(raw);
        assert!(found.all_ground && found.removed.len() == scraps.min(1));
        assert_eq!(found.kept.faces().len(), plain_faces);
    }
}

/// The same pieces for any numbering, on a noisy scan merged with its bench, where every decision is close.
#[test]
fn numbering_does_not_matter() {
    let scan = Noise(5).shake(bench(blade_on_bench), 4e-4);
    let expected = select(scan.clone());
    for stride in [7919usize, 15013] {
        let mut other = scan.clone();
        let count = scan.faces.len();
        other.faces = (0..count).map(|k| scan.faces[(k * stride) % count]).collect();
        other.faces.iter_mut().enumerate().for_each(|(k, face)| face.rotate_left(k % 3));
        other.vertices.reverse();
        let last = other.vertices.len() as u32 - 1;
        other.faces.iter_mut().flatten().for_each(|v| *v = last - *v);
        let found = select(other);
        assert_eq!(found.kept.faces().len(), expected.kept.faces().len());
        assert_eq!(found.removed.len(), expected.removed.len());
        assert!((moments(&found.kept).area / moments(&expected.kept).area - 1.0).abs() < 1e-12);
    }
}
