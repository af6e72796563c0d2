//! Tests of whole photographed scans.

use bladeform_mesh::{RawMesh, moments, orient, repair, topology};

use super::*;
use crate::drawn::{Axis, DrawnBlade, Edge, Sections};
use crate::random::Random;
use crate::{Blade, SectionKind};
use noise::NoiseField;
use sheet::Sheet;

fn drawn() -> DrawnBlade {
    DrawnBlade::drawn(11, Sections::Free { nose: Edge::Compass, tail: Edge::Square }, Axis::Shank, 0.5)
}

fn small(seed: u64) -> Photogrammetry {
    Photogrammetry { triangles: 60_000, ..Photogrammetry::clean(seed) }
}

fn closed_volume(mesh: RawMesh) -> f64 {
    let (mesh, _) = repair(mesh).unwrap();
    let (mesh, report) = orient(mesh);
    assert_eq!(report.flipped_triangles, 0);
    assert!(topology(&mesh).closed());
    moments(&mesh).volume
}

#[test]
fn a_scan_is_a_closed_surface_of_about_the_triangles_asked_for_with_the_volume_of_its_sections() {
    let blade = drawn();
    let mesh = photographed_blade(&blade, &small(3)).mesh;
    assert!((57_000..63_000).contains(&mesh.faces.len()), "{}", mesh.faces.len());
    let n = 600;
    let step = blade.length_m() / f64::from(n);
    let middle = |i: i32| blade.root_radius_m + (f64::from(i) + 0.5) * step;
    let sections: f64 =
        (0..n).map(|i| bladeform_section::area(&blade.exact_outline(middle(i))).abs() * step).sum();
    let volume = closed_volume(if blade.left_handed { unmirrored(mesh) } else { mesh });
    assert!((volume / sections - 1.0).abs() < 3e-3, "{volume} {sections}");
}

/// The part as it was before it was mirrored.
fn unmirrored(mut mesh: RawMesh) -> RawMesh {
    mesh.vertices.iter_mut().for_each(|v| v[0] = -v[0]);
    mesh.faces.iter_mut().for_each(|f| f.swap(1, 2));
    mesh
}

#[test]
fn noisy_smoothed_and_thinned_scans_are_closed_too() {
    let noise = vec![Noise { deviation_m: 1e-4, length_m: 0.003, correlation: Correlation::Exponential }];
    for (kind, triangulation) in
        [(KernelKind::Surface, Triangulation::Even), (KernelKind::Flow, Triangulation::Thinned(1.5))]
    {
        let kernel = Kernel { deviation_m: 1e-3, kind };
        let plan = Photogrammetry { kernel, triangulation, noise: noise.clone(), ..small(5) };
        let mesh = photographed_blade(&drawn(), &plan).mesh;
        assert!((54_000..64_000).contains(&mesh.faces.len()), "{}", mesh.faces.len());
        assert!(0.0 < closed_volume(mesh));
    }
}

#[test]
fn triangles_are_even() {
    let mesh = photographed_blade(&drawn(), &small(9)).mesh;
    let lengths: Vec<f64> = mesh
        .faces
        .iter()
        .flat_map(|f| [(f[0], f[1]), (f[1], f[2]), (f[2], f[0])])
        .map(|(a, b)| {
            let (p, q) = (mesh.vertices[a as usize], mesh.vertices[b as usize]);
            (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt()
        })
        .collect();
    let mean = lengths.iter().sum::<f64>() / lengths.len() as f64;
    let long = lengths.iter().filter(|&&l| 2.5 * mean < l).count() as f64 / lengths.len() as f64;
    assert!(long < 0.01, "{long}");
}

#[test]
fn a_seed_is_one_scan_and_another_is_another() {
    let kernel = Kernel { deviation_m: 3e-3, kind: KernelKind::Surface };
    let plan = Photogrammetry { triangles: 10_000, kernel, ..Photogrammetry::drawn(21) };
    let scan = |plan: &Photogrammetry| photographed_blade(&drawn(), plan).mesh.vertices;
    assert!(scan(&plan) == scan(&plan));
    assert!(scan(&plan) != scan(&Photogrammetry { seed: 22, ..plan.clone() }));
}

#[test]
fn noise_has_the_stated_correlation_over_the_surface_before_and_after_the_kernel() {
    let blade = drawn();
    for (correlation, length_m, deviation_m) in [
        (Correlation::Gaussian, 0.004, 0.0),
        (Correlation::Gaussian, 0.003, 0.0015),
        (Correlation::Exponential, 0.006, 0.0),
        (Correlation::Exponential, 0.004, 0.001),
    ] {
        let kernel = Kernel { deviation_m, kind: KernelKind::Outline };
        let sheet = Sheet::new(&blade, &kernel);
        let layer = Noise { deviation_m: 2e-4, length_m, correlation };
        let fields: Vec<_> = (0..12).map(|seed| NoiseField::new(&[layer], &kernel, &sheet, seed)).collect();
        let mut random = Random::new(8);
        let n = 6_000;
        for share in [0.0, 0.5, 1.0, 2.0] {
            let lag = share * length_m;
            let mut sum = 0.0;
            for i in 0..n {
                let field = &fields[i as usize % fields.len()];
                let (m, a) = (random.between(0.2, 0.4), random.between(0.0, std::f64::consts::TAU));
                let one = sheet.place(random.uniform(), m);
                let other = sheet.place(one.u + lag * a.cos() / one.perimeter, m + lag * a.sin());
                sum += field.at(&one) * field.at(&other) / (f64::from(n) * 4e-8);
            }
            let expected = layer.correlation_at(lag, &kernel);
            assert!((sum - expected).abs() < 0.08, "{correlation:?} {share}: {sum} {expected}");
        }
    }
}

#[test]
fn the_two_sides_of_a_thin_blade_have_noise_of_their_own() {
    let blade = drawn();
    let sheet = Sheet::new(&blade, &Kernel::NONE);
    let layer = Noise { deviation_m: 1.0, length_m: 0.02, correlation: Correlation::Gaussian };
    let fields: Vec<_> = (0..20).map(|seed| NoiseField::new(&[layer], &Kernel::NONE, &sheet, seed)).collect();
    let mut random = Random::new(8);
    let n = 20_000;
    let mut sum = 0.0;
    for i in 0..n {
        let field = &fields[i as usize % fields.len()];
        let (u, m) = (random.between(0.15, 0.35), random.between(0.2, 0.4));
        // Equally far from the tail on both sides: at the same place of the chord, a few millimetres apart through the blade.
        let (back, face) = (sheet.place(u, m), sheet.place(1.0 - u, m));
        let (p, q) = (sheet.surface(&back).0, sheet.surface(&face).0);
        assert!((p[0] - q[0]).hypot(p[1] - q[1]) < 0.05);
        sum += field.at(&back) * field.at(&face) / f64::from(n);
    }
    assert!(sum.abs() < 0.1, "{sum}");
}

#[test]
fn patches_make_the_stated_deviation_and_correlation() {
    let sheet = Sheet::new(&drawn(), &Kernel::NONE);
    let layer = Noise { deviation_m: 2e-4, length_m: 0.03, correlation: Correlation::Patches };
    let (mut squares, mut products, n) = (0.0, 0.0, 600);
    for seed in 0..30 {
        let field = NoiseField::new(&[layer], &Kernel::NONE, &sheet, seed);
        let mut random = Random::new(seed);
        for _ in 0..n {
            let one = sheet.random_place(&mut random);
            let other = sheet.place(one.u, one.meridian + 0.03);
            squares += field.at(&one).powi(2);
            products += field.at(&one) * field.at(&other);
        }
    }
    let deviation = (squares / f64::from(30 * n)).sqrt();
    assert!((deviation / 2e-4 - 1.0).abs() < 0.05, "{deviation}");
    let found = products / squares;
    assert!((found - layer.correlation_at(0.03, &Kernel::NONE)).abs() < 0.12, "{found}");
}

#[test]
fn the_surface_is_the_outline_smoothed() {
    let blade = Blade::quarry_mill().with_kind(SectionKind::FlatFaced);
    let kernel = Kernel { deviation_m: 2e-3, kind: KernelKind::Outline };
    let mesh = photographed_blade(&blade, &Photogrammetry { kernel, ..small(2) }).mesh;
    // Vertices near one radius lie on the smoothed outline there.
    let r = 0.6 * blade.radius_m;
    let smooth = kernel.smoothed(&blade.exact_outline(r), 4000);
    let near: Vec<_> = mesh.vertices.iter().filter(|v| (v[2] - r).abs() < 1e-3).collect();
    assert!(20 < near.len(), "{}", near.len());
    for v in near {
        let off = bladeform_section::signed_distance(&smooth, [v[0], v[1]]).abs();
        assert!(off < 1.5e-4, "{off}");
    }
}

#[test]
fn meridional_smoothing_draws_the_tip_back() {
    let blade = drawn();
    let tip = |kind| {
        let plan = Photogrammetry { kernel: Kernel { deviation_m: 2e-3, kind }, ..small(2) };
        let mesh = photographed_blade(&blade, &plan).mesh;
        mesh.vertices.iter().map(|v| v[2]).fold(0.0, f64::max)
    };
    assert!((tip(KernelKind::Outline) - blade.radius_m).abs() < 1e-6);
    // The edge of a thin plate would draw back by d sqrt(2/pi); the tip does by less (see `KernelKind::Surface`).
    let back = blade.radius_m - tip(KernelKind::Surface);
    assert!((3e-4..1.7e-3).contains(&back), "{back}");
}

#[test]
fn one_side_is_off_by_the_stated_shift() {
    let blade = drawn();
    let scan =
        |sides_offset_m| photographed_blade(&blade, &Photogrammetry { sides_offset_m, ..small(4) }).mesh;
    let (plain, off) = (scan(0.0), scan(2e-4));
    let moved: Vec<f64> = plain
        .vertices
        .iter()
        .zip(&off.vertices)
        .map(|(p, q)| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>().sqrt())
        .collect();
    let share = |low: f64, high: f64| {
        moved.iter().filter(|m| (low..high).contains(*m)).count() as f64 / moved.len() as f64
    };
    assert!((share(1.99e-4, 2.01e-4) - 0.5).abs() < 0.06, "{}", share(1.99e-4, 2.01e-4));
    assert!((share(-1.0, 1e-6) - 0.5).abs() < 0.06, "{}", share(-1.0, 1e-6));
}

#[test]
fn a_deformed_scan_is_the_plain_one_moved_by_the_formulas() {
    let blade = Blade::quarry_mill();
    let deformation = Deformation { bow: 1e-3, saddle: 0.0, torsion: 0.0, stretch: [0.0, 0.0, 1e-3] };
    let plain = photographed_blade(&blade, &small(4)).mesh;
    let bent = photographed_blade(&blade, &Photogrammetry { deformation, ..small(4) }).mesh;
    let longest = |mesh: &RawMesh| mesh.vertices.iter().map(|v| v[2]).fold(0.0, f64::max);
    assert!((longest(&bent) / longest(&plain) - 1.001).abs() < 1e-9);
    let most = plain.vertices.iter().zip(&bent.vertices).map(|(p, q)| q[1] - p[1]).fold(0.0, f64::max);
    assert!((most - 1e-3 * blade.length_m()).abs() < 1e-6, "{most}");
}

#[test]
fn a_propeller_has_its_blades_hub_and_surroundings() {
    let blade = DrawnBlade::any(3, true);
    let hub = Hub { blades: 3, radius_m: 0.13 * blade.radius_m, length_m: 0.12 * blade.radius_m };
    let plan = Photogrammetry { triangles: 60_000, ..Photogrammetry::drawn(8) };
    let scan = photographed_propeller(&blade, &hub, &Photogrammetry { any_pose: false, holes: 0, ..plan });
    let reach = scan.mesh.vertices.iter().map(|v| v[0].hypot(v[2])).fold(0.0, f64::max);
    assert!(0.97 * blade.radius_m < reach, "{reach}");
    assert!((50_000..80_000).contains(&scan.mesh.faces.len()), "{}", scan.mesh.faces.len());
}
