//! Results compared with closed forms, with a general-purpose library, and under changes that must not matter.

#![allow(clippy::float_cmp, reason = "exact coordinates are expected where nothing is rounded")]
#![allow(clippy::needless_range_loop, reason = "the index runs over several arrays at once")]

use bladeform_mesh::{CleanMesh, RawMesh, components, cut, moments, orient, repair, topology};
use nalgebra::{Matrix3, SymmetricEigen, Vector3};
use parry3d_f64::mass_properties::MassProperties;
use parry3d_f64::math::Vector;
use parry3d_f64::query::IntersectResult;
use parry3d_f64::shape::TriMesh;
use proptest::prelude::*;

const UP: [f64; 3] = [0.0, 0.0, 1.0];

fn clean(raw: RawMesh) -> CleanMesh {
    orient(repair(raw).expect("the body has triangles").0).0
}

/// A closed body from rings of `around` points between two poles; `place` gets the fraction along and the angle.
fn closed(along: u32, around: u32, place: impl Fn(f64, f64) -> [f64; 3]) -> RawMesh {
    let mut vertices = vec![place(0.0, 0.0)];
    for i in 1..along {
        for j in 0..around {
            let angle = std::f64::consts::TAU * f64::from(j) / f64::from(around);
            vertices.push(place(f64::from(i) / f64::from(along), angle));
        }
    }
    let last = vertices.len() as u32;
    vertices.push(place(1.0, 0.0));
    let at = |i: u32, j: u32| 1 + (i - 1) * around + j % around;
    let mut faces = Vec::new();
    for j in 0..around {
        faces.extend([[0, at(1, j + 1), at(1, j)], [last, at(along - 1, j), at(along - 1, j + 1)]]);
        for i in 1..along - 1 {
            faces.extend([
                [at(i, j), at(i, j + 1), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i + 1, j)],
            ]);
        }
    }
    RawMesh { vertices, faces }
}

fn ellipsoid(axes: [f64; 3], fineness: u32) -> RawMesh {
    closed(fineness, 2 * fineness, |along, angle| {
        let (sin, cos) = (std::f64::consts::PI * along).sin_cos();
        [axes[0] * sin * angle.cos(), axes[1] * sin * angle.sin(), -axes[2] * cos]
    })
}

/// With separate flat caps between the rings: radius 1, height 2.
fn cylinder(around: u32) -> RawMesh {
    closed(4, around, |along, angle| {
        let radius = if (0.2..0.8).contains(&along) { 1.0 } else { 0.0 };
        let height = if along < 0.4 { 0.0 } else { 2.0 };
        let height = if (0.4..0.6).contains(&along) { 1.0 } else { height };
        [radius * angle.cos(), radius * angle.sin(), height]
    })
}

/// A body without symmetry.
fn knobbly() -> RawMesh {
    closed(14, 17, |along, angle| {
        let (sin, cos) = (std::f64::consts::PI * along).sin_cos();
        let radius = 1.0 + 0.2 * (3.0 * angle).sin() * sin + 0.3 * (2.1 * cos).sin();
        [
            3.0 + radius * sin * angle.cos(),
            0.7 * radius * sin * angle.sin() + 0.3 * cos * cos,
            2.0 - 1.9 * cos,
        ]
    })
}

fn cuboid(size: [f64; 3]) -> RawMesh {
    let corner = |k: usize| [0, 1, 2].map(|axis| if k >> axis & 1 == 1 { size[axis] } else { 0.0 });
    let sides = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    let faces = sides.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
    RawMesh { vertices: (0..8).map(corner).collect(), faces }
}

/// Errors of a value as the body is refined by a factor of two. A second-order method gains a factor of four.
fn gains(exact: f64, figure: impl Fn(u32) -> f64) -> Vec<f64> {
    let errors: Vec<f64> = [16, 32, 64, 128].iter().map(|&n| (figure(n) - exact).abs()).collect();
    errors.windows(2).map(|pair| pair[0] / pair[1]).collect()
}

fn assert_second_order(exact: f64, figure: impl Fn(u32) -> f64) {
    for gain in gains(exact, figure) {
        assert!((3.8..4.2).contains(&gain), "refining by two gains {gain}, not four");
    }
}

#[test]
fn cylinder_converges_to_its_closed_forms() {
    use std::f64::consts::PI;
    assert_second_order(2.0 * PI, |n| moments(&clean(cylinder(n))).volume);
    assert_second_order(2.0 * PI + 4.0 * PI, |n| moments(&clean(cylinder(n))).area);
    let solid = moments(&clean(cylinder(64)));
    let centre = solid.volume_centroid.unwrap();
    assert!((Vector3::from(centre) - Vector3::new(0.0, 0.0, 1.0)).norm() < 1e-12, "{centre:?}");
}

#[test]
fn ellipsoid_converges_to_its_closed_forms() {
    use std::f64::consts::PI;
    assert_second_order(4.0 / 3.0 * PI * 3.0, |n| moments(&clean(ellipsoid([0.5, 2.0, 3.0], n))).volume);
    // Area of a prolate spheroid with half-axes a, a, c: 2 pi a^2 (1 + c / (a e) asin e), e^2 = 1 - a^2 / c^2.
    let (a, c) = (1.0f64, 2.0f64);
    let e = (1.0 - a * a / (c * c)).sqrt();
    let area = 2.0 * PI * a * a * (1.0 + c / (a * e) * e.asin());
    assert_second_order(area, |n| moments(&clean(ellipsoid([a, a, c], n))).area);
}

/// The surface of constant pitch: between radii a and b over one turn, `2 pi [u sqrt(u^2 + k^2) + k^2 asinh(u / k)] / 2`.
#[test]
fn helicoid_converges_to_its_closed_form() {
    let pitch_per_radian = 0.4f64;
    let strip = |n: u32| {
        let point = |i: u32, j: u32| {
            let (radius, angle) =
                (0.2 + 0.8 * f64::from(i) / f64::from(n), 6.0 * f64::from(j) / f64::from(4 * n));
            [radius * angle.cos(), radius * angle.sin(), pitch_per_radian * angle]
        };
        let vertices = (0..=n).flat_map(|i| (0..=4 * n).map(move |j| point(i, j))).collect();
        let at = |i: u32, j: u32| i * (4 * n + 1) + j;
        let cell = |i: u32, j: u32| {
            [[at(i, j), at(i + 1, j), at(i + 1, j + 1)], [at(i, j), at(i + 1, j + 1), at(i, j + 1)]]
        };
        let faces = (0..n).flat_map(|i| (0..4 * n).flat_map(move |j| cell(i, j))).collect();
        clean(RawMesh { vertices, faces })
    };
    let k = pitch_per_radian;
    let primitive = |u: f64| 0.5 * (u * u.hypot(k) + k * k * (u / k).asinh());
    assert_second_order(6.0 * (primitive(1.0) - primitive(0.2)), |n| moments(&strip(n)).area);
    let edges = topology(&strip(16));
    assert_eq!((edges.boundary_edges, edges.boundary_loops.len()), (2 * 16 + 2 * 64, 1));
    assert!((edges.boundary_loops[0].length - (1.6 + 6.0 * (1f64.hypot(k) + 0.2f64.hypot(k)))).abs() < 0.01);
}

#[test]
fn cuboid_is_exact() {
    let size = [2.0, 3.0, 5.0];
    let found = moments(&clean(cuboid(size)));
    assert!((found.area - 62.0).abs() < 1e-12 && (found.volume - 30.0).abs() < 1e-12);
    assert_eq!(found.area_centroid, [1.0, 1.5, 2.5]);
    // Along x: two ends of area 15 at distance 1, and sides of area 32 spread evenly over the length 2.
    assert!((found.area_second_moment[0][0] - (30.0 + 32.0 * 4.0 / 12.0)).abs() < 1e-12);
    assert_eq!(found.principal_axes, [[0., 0., 1.], [0., 1., 0.], [-1., 0., 0.]]);
}

/// The midpoint rule on the sides is exact for quadratic functions on a triangle: an independent computation of the second moments.
#[test]
fn second_moments_agree_with_midpoint_sums() {
    let mesh = clean(knobbly());
    let (mut area, mut first, mut second) = (0.0, Vector3::zeros(), Matrix3::zeros());
    for face in mesh.faces() {
        let [a, b, c] = face.map(|v| Vector3::from(mesh.vertices()[v as usize]));
        let third = (b - a).cross(&(c - a)).norm() / 6.0;
        for p in [(a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0] {
            area += third;
            first += p * third;
            second += p * p.transpose() * third;
        }
    }
    let central = second - first * first.transpose() / area;
    let found = moments(&mesh);
    let rows = Matrix3::from_fn(|i, j| found.area_second_moment[i][j]);
    assert!((rows - central).norm() < 1e-11 * central.norm());
    let eigen = SymmetricEigen::new(central / area);
    let mut variances = eigen.eigenvalues.data.0[0];
    variances.sort_by(|a, b| b.total_cmp(a));
    for k in 0..3 {
        assert!((found.principal_variances[k] - variances[k]).abs() < 1e-11);
        let axis = Vector3::from(found.principal_axes[k]);
        assert!((central * axis / area - axis * variances[k]).norm() < 1e-10);
    }
    let [x, y, z] = found.principal_axes.map(Vector3::from);
    assert!((x.cross(&y) - z).norm() < 1e-12);
}

/// Between two neighbouring vertex heights the section area of a polyhedron is a quadratic function of the height. The two-point Gauss rule
/// integrates it exactly, so all sections together give the volume, up to rounding.
#[test]
fn sections_add_up_to_the_volume() {
    let mesh = clean(knobbly());
    let normal = Vector3::new(0.3, -0.5, 0.8).normalize();
    let mut heights: Vec<f64> = mesh.vertices().iter().map(|p| normal.dot(&Vector3::from(*p))).collect();
    heights.sort_by(f64::total_cmp);
    let gauss = 0.5 / 3f64.sqrt();
    let spans = heights.windows(2).map(|pair| (0.5 * (pair[0] + pair[1]), pair[1] - pair[0]));
    let (offsets, weights): (Vec<_>, Vec<_>) = spans
        .flat_map(|(middle, width)| [-gauss, gauss].map(|shift| (middle + shift * width, 0.5 * width)))
        .unzip();
    let cuts = cut(&mesh, normal.into(), &offsets);
    let total: f64 = cuts.iter().zip(&weights).map(|(cut, weight)| weight * cut.area(normal.into())).sum();
    let volume = moments(&mesh).volume;
    assert!((total - volume).abs() < 1e-11 * volume, "sections {total}, volume {volume}");
    assert!(cuts.iter().all(|cut| cut.chains.iter().all(|chain| chain.closed)));
}

fn peer(mesh: &CleanMesh) -> (Vec<Vector>, Vec<[u32; 3]>) {
    let vertices = mesh.vertices().iter().map(|&[x, y, z]| Vector::new(x, y, z)).collect();
    (vertices, mesh.faces().to_vec())
}

#[test]
fn cuts_agree_with_parry() {
    for raw in [knobbly(), ellipsoid([1.0, 2.0, 3.0], 24)] {
        let mesh = clean(raw);
        let (vertices, indices) = peer(&mesh);
        let shape = TriMesh::new(vertices, indices).expect("the body is a valid mesh");
        let [low, high] = [mesh.bounds()[0][2], mesh.bounds()[1][2]];
        let offsets: Vec<f64> =
            (1..12).map(|k| low + (high - low) * (f64::from(k) / 12.0 + 0.0137)).collect();
        for found in cut(&mesh, UP, &offsets) {
            let axis = Vector::new(0.0, 0.0, 1.0);
            let IntersectResult::Intersect(line) =
                shape.intersection_with_local_plane(axis, found.offset, 1e-12)
            else {
                panic!("the plane {} meets the body", found.offset);
            };
            let sides = || line.indices().iter().map(|side| side.map(|v| line.vertices()[v as usize]));
            let length: f64 = sides().map(|[p, q]| (q - p).length()).sum();
            let area: f64 = sides().map(|[p, q]| 0.5 * (p.x * q.y - p.y * q.x)).sum();
            assert!((found.length() - length).abs() < 1e-10 * length, "{} against {length}", found.length());
            assert!((found.area(UP) - area.abs()).abs() < 1e-10 * length * length);
        }
    }
}

#[test]
fn volume_and_centre_agree_with_parry() {
    let mesh = clean(knobbly());
    let (vertices, indices) = peer(&mesh);
    let expected = MassProperties::from_trimesh(1.0, &vertices, &indices);
    let found = moments(&mesh);
    assert!((found.volume - 1.0 / expected.inv_mass).abs() < 1e-11);
    let [x, y, z] = found.volume_centroid.unwrap();
    assert!((Vector::new(x, y, z) - expected.local_com).length() < 1e-11);
}

#[test]
fn planes_through_the_corners_of_a_tetrahedron() {
    let vertices = vec![[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [0., 0., 1.]];
    let mesh = clean(RawMesh { vertices, faces: vec![[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]] });
    // Through the base: all of it counts as above. Through the apex: one point, no contour.
    let cuts = cut(&mesh, UP, &[0.0, 1.0]);
    assert!(cuts.iter().all(|cut| cut.chains.is_empty()));
    // Seen from below the base counts as the top face, and is its own section.
    let base = &cut(&mesh, [0.0, 0.0, -1.0], &[0.0])[0];
    assert_eq!(base.chains[0].points, [[0., 0., 0.], [0., 1., 0.], [1., 0., 0.]]);
    assert!((base.area([0.0, 0.0, -1.0]) - 0.5).abs() < 1e-15);
    // Through the edge from the origin to the apex and the middle of the base.
    let halves = &cut(&mesh, [1.0, -1.0, 0.0], &[0.0])[0];
    assert_eq!(halves.chains.len(), 1);
    assert!(halves.chains[0].closed);
    assert_eq!(halves.chains[0].points[0], [0.0, 0.0, 0.0]);
    assert!((halves.area([1.0, -1.0, 0.0]) - 0.5f64.sqrt() / 2.0).abs() < 1e-15);
}

/// A multiplicative generator, so that a failure can be reproduced.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        // Constants of D. Knuth's linear congruential generator MMIX, from memory.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }

    fn shuffle<T>(&mut self, items: &mut [T]) {
        (1..items.len()).rev().for_each(|i| items.swap(i, self.below(i + 1)));
    }
}

/// Another numbering of vertices and triangles, another first corner, and some windings reversed.
fn renumbered(raw: &RawMesh, seed: u64) -> RawMesh {
    let mut dice = Dice(seed);
    let mut old: Vec<usize> = (0..raw.vertices.len()).collect();
    dice.shuffle(&mut old);
    let mut new = vec![0; old.len()];
    old.iter().enumerate().for_each(|(place, &vertex)| new[vertex] = place as u32);
    let mut faces: Vec<_> = raw.faces.iter().map(|face| face.map(|v| new[v as usize])).collect();
    dice.shuffle(&mut faces);
    for face in &mut faces {
        face.rotate_left(dice.below(3));
        if dice.below(3) == 0 {
            face.swap(0, 1);
        }
    }
    RawMesh { vertices: old.iter().map(|&vertex| raw.vertices[vertex]).collect(), faces }
}

/// Several bodies in one mesh.
fn together(bodies: &[(RawMesh, [f64; 3])]) -> RawMesh {
    let mut all = RawMesh::default();
    for (body, shift) in bodies {
        let base = all.vertices.len() as u32;
        all.vertices.extend(body.vertices.iter().map(|p| [0, 1, 2].map(|k| p[k] + shift[k])));
        all.faces.extend(body.faces.iter().map(|face| face.map(|v| v + base)));
    }
    all
}

fn assert_near(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-12 * a.abs().max(b.abs()).max(1.0), "{a} against {b}");
}

/// Equal bodies are side by side, so that the order of the components depends only on their centroids.
#[test]
fn numbering_does_not_matter() {
    let raw = together(&[
        (knobbly(), [0.0; 3]),
        (ellipsoid([1., 2., 3.], 10), [9., 0., 0.]),
        (knobbly(), [0., 9., 0.]),
    ]);
    let mesh = clean(raw.clone());
    let offsets = [0.3, 1.0, 1.7, mesh.vertices()[40][2]];
    let parts = components(&mesh);
    let cuts = cut(&mesh, UP, &offsets);
    for seed in 0..8 {
        let other = clean(renumbered(&raw, seed));
        assert_eq!(cut(&other, UP, &offsets), cuts, "bit by bit");
        for (a, b) in components(&other).iter().zip(&parts) {
            assert_eq!((a.faces, a.bounds, a.boundary_edges), (b.faces, b.bounds, b.boundary_edges));
            assert_near(a.area, b.area);
            (0..3).for_each(|k| assert_near(a.centroid[k], b.centroid[k]));
            (0..3).for_each(|k| assert_near(a.principal_extents[k], b.principal_extents[k]));
        }
        assert_near(moments(&other).volume, moments(&mesh).volume);
        assert_near(moments(&other).area, moments(&mesh).area);
    }
}

/// Total length of the segments in which one plane cuts the triangles, one by one.
fn length_by_triangle(mesh: &CleanMesh, height: f64) -> f64 {
    let crossings = |face: &[u32; 3]| {
        let corners = face.map(|v| Vector3::from(mesh.vertices()[v as usize]));
        let sides = [0, 1, 2].map(|k| (corners[k], corners[(k + 1) % 3]));
        let crossed = sides.into_iter().filter(|(p, q)| (p.z >= height) != (q.z >= height));
        crossed.map(|(p, q)| p + (q - p) * ((height - p.z) / (q.z - p.z))).collect::<Vec<_>>()
    };
    mesh.faces().iter().map(crossings).filter(|two| two.len() == 2).map(|two| (two[1] - two[0]).norm()).sum()
}

/// Random triangles over few vertices: open, crossing, several at an edge, with random windings.
fn heap() -> impl Strategy<Value = RawMesh> {
    let vertex = prop::array::uniform3((-4i8..=4).prop_map(f64::from));
    let vertices = prop::collection::vec(vertex, 4..12);
    (vertices, prop::collection::vec(prop::array::uniform3(0u32..12), 1..40))
        .prop_map(|(vertices, faces)| RawMesh { vertices, faces })
}

proptest! {
    /// On a small grid planes often go through vertices and along edges and faces. Every segment must be in exactly
    /// one chain, and every chain in the plane.
    #[test]
    fn every_piece_of_a_heap_is_used_once(raw in heap(), height in -4i8..=4, half in any::<bool>()) {
        let height = f64::from(height) + if half { 0.5 } else { 0.0 };
        if let Ok((mesh, _)) = repair(raw) {
            let found = &cut(&mesh, UP, &[height])[0];
            let expected = length_by_triangle(&mesh, height);
            prop_assert!((found.length() - expected).abs() < 1e-9, "{} against {expected}", found.length());
            for chain in &found.chains {
                prop_assert!(chain.points.iter().all(|p| (p[2] - height).abs() < 1e-12));
            }
        }
    }

    #[test]
    fn heap_may_be_renumbered(raw in heap(), seed in any::<u64>(), height in -8i8..=8) {
        let offsets = [f64::from(height) / 2.0];
        if let (Ok((a, tally)), Ok((b, other))) = (repair(raw.clone()), repair(renumbered_windings_kept(&raw, seed))) {
            prop_assert_eq!(tally, other);
            let (a, b) = (&cut(&a, UP, &offsets)[0], &cut(&b, UP, &offsets)[0]);
            prop_assert!((a.length() - b.length()).abs() < 1e-9);
        }
    }

    /// Windings agree after `orient`, and only windings have changed.
    #[test]
    fn orienting_a_closed_body_mends_every_winding(seed in any::<u64>()) {
        let (mesh, report) = orient(repair(renumbered(&knobbly(), seed)).unwrap().0);
        prop_assert!(topology(&mesh).closed() && !report.unorientable);
        prop_assert!((moments(&mesh).volume - moments(&clean(knobbly())).volume).abs() < 1e-11);
    }

    #[test]
    fn moving_turning_and_scaling(
        angles in prop::array::uniform3(-3.0..3.0f64), shift in prop::array::uniform3(-50.0..50.0f64), scale in 0.01..100.0f64,
    ) {
        let rotation = nalgebra::Rotation3::from_euler_angles(angles[0], angles[1], angles[2]);
        let still = clean(knobbly());
        let moved = still.clone().map_vertices(|p| (rotation * Vector3::from(p) * scale + Vector3::from(shift)).into());
        let (a, b) = (moments(&still), moments(&moved));
        prop_assert!((b.area / (a.area * scale.powi(2)) - 1.0).abs() < 1e-9);
        prop_assert!((b.volume / (a.volume * scale.powi(3)) - 1.0).abs() < 1e-9);
        for k in 0..3 {
            prop_assert!((b.principal_variances[k] / (a.principal_variances[k] * scale.powi(2)) - 1.0).abs() < 1e-8);
        }
        let normal = rotation * Vector3::z();
        let offset = scale * 2.0 + normal.dot(&Vector3::from(shift));
        let (a, b) = (&cut(&still, UP, &[2.0])[0], &cut(&moved, normal.into(), &[offset])[0]);
        prop_assert!((b.area(normal.into()) / (a.area(UP) * scale.powi(2)) - 1.0).abs() < 1e-8);
    }

    /// For any numbers in a file, repair ends, and its counts account for everything.
    #[test]
    fn nothing_is_dropped_without_being_counted(
        vertices in prop::collection::vec(prop::array::uniform3(prop_oneof![
            4 => (-2i8..=2).prop_map(f64::from),
            1 => any::<f64>(),
        ]), 0..20),
        faces in prop::collection::vec(prop::array::uniform3(0u32..22), 0..40),
    ) {
        let (vertex_count, face_count) = (vertices.len(), faces.len());
        if let Ok((mesh, t)) = repair(RawMesh { vertices, faces }) {
            prop_assert_eq!(vertex_count, mesh.vertices().len() + t.duplicate_vertices + t.near_duplicate_vertices
                + t.non_finite_vertices + t.unreferenced_vertices);
            prop_assert_eq!(face_count, mesh.faces().len() + t.triangles_out_of_range
                + t.triangles_with_non_finite_vertices + t.degenerate_triangles + t.duplicate_triangles);
            let found = moments(&mesh);
            prop_assert!(found.area.is_finite() && found.principal_variances.iter().all(|v| v.is_finite()));
            let (mesh, _) = orient(mesh);
            let _ = bladeform_mesh::keep_part(&mesh);
            let _ = components(&mesh);
        }
    }
}

/// Another numbering only.
fn renumbered_windings_kept(raw: &RawMesh, seed: u64) -> RawMesh {
    let mut dice = Dice(seed);
    let mut old: Vec<usize> = (0..raw.vertices.len()).collect();
    dice.shuffle(&mut old);
    let place = |v: u32| old.iter().position(|&vertex| vertex == v as usize).map_or(v, |place| place as u32);
    let mut faces: Vec<_> = raw.faces.iter().map(|face| face.map(place)).collect();
    dice.shuffle(&mut faces);
    RawMesh { vertices: old.iter().map(|&vertex| raw.vertices[vertex]).collect(), faces }
}
