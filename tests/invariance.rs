//! The results depend on the blade, not on the file: they do not change with the order of the triangles or the position, size, unit or mirror image.

use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::quantity::{Hand, StationRadii};
use bladeform::table::StationTable;
use bladeform::work::Silent;
use bladeform_mesh::RawMesh;
use bladeform_specimen::{
    Blade, Pose, Random, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller,
};
use bladeform_table::{ColumnUnit, StationColumn};

fn blade() -> Blade {
    Blade::quarry_mill()
}

/// A small scan with noise and holes in metres and blade axes.
fn scan() -> RawMesh {
    let plan = ScanPlan { triangles: 40_000, holes: 2, noise_m: 2e-4, ..ScanPlan::clean(7) };
    scan_of_blade(&blade(), &plan).mesh
}

fn table_of(mesh: &RawMesh) -> StationTable {
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(mesh, &mut bytes).unwrap();
    let plan = MeasurePlan {
        length_m: Some(blade().length_m()),
        diameter_m: Some(2.0 * blade().radius_m),
        stations: StationRadii::Ratios(vec![0.35, 0.5, 0.65, 0.75, 0.85, 0.93]),
        ..MeasurePlan::default()
    };
    measure(ScanInput::file(&bytes, "test.ply"), &plan, &Silent).unwrap()
}

/// The largest relative difference of any value, and of any uncertainty, with its key and radius. Angles are relative to a radian.
/// Lengths along the blade axes may be zero, so they are relative to the chord.
fn differences(a: &StationTable, b: &StationTable) -> [(f64, String); 2] {
    let mut worst = [(0.0, String::new()), (0.0, String::new())];
    assert_eq!(a.stations.len(), b.stations.len());
    for (s, t) in a.stations.iter().zip(&b.stations) {
        for &column in StationColumn::FIGURES {
            let at = || format!("{} at {:.2} R", column.key(), s.radius_ratio);
            let (x, y) = match (column.get(s), column.get(t)) {
                (Some(x), Some(y)) => (x, y),
                (x, y) => {
                    assert_eq!(x.is_some(), y.is_some(), "{}", at());
                    continue;
                }
            };
            let size = match column {
                StationColumn::MidChordXM | StationColumn::MidChordYM => s.chord_m.unwrap_or(1.0),
                _ if column.unit() == ColumnUnit::Degree => 1_f64.to_degrees(),
                _ => x.abs(),
            };
            let figure = (x - y).abs() / size;
            if worst[0].0 < figure {
                worst[0] = (figure, at());
            }
            let (u, v) = (column.u(s).unwrap_or(0.0), column.u(t).unwrap_or(0.0));
            let uncertainty = (u - v).abs() / u.max(v).max(1e-300);
            if worst[1].0 < uncertainty {
                worst[1] = (uncertainty, at());
            }
        }
    }
    worst
}

fn shuffled<T: Clone>(items: &[T], random: &mut Random) -> (Vec<T>, Vec<u32>) {
    let mut order: Vec<usize> = (0..items.len()).collect();
    for k in (1..order.len()).rev() {
        order.swap(k, (random.uniform() * (k + 1) as f64) as usize);
    }
    let mut place = vec![0; items.len()];
    for (new, &old) in order.iter().enumerate() {
        place[old] = new as u32;
    }
    (order.iter().map(|&k| items[k].clone()).collect(), place)
}

fn permuted(mesh: &RawMesh, random: &mut Random) -> RawMesh {
    let (vertices, place) = shuffled(&mesh.vertices, random);
    let (mut faces, _) = shuffled(&mesh.faces, random);
    for f in &mut faces {
        *f = f.map(|v| place[v as usize]);
        let turn = (3.0 * random.uniform()) as usize;
        f.rotate_left(turn);
    }
    RawMesh { vertices, faces }
}

fn moved(mesh: &RawMesh, pose: &Pose) -> RawMesh {
    RawMesh { vertices: mesh.vertices.iter().map(|p| pose.apply(*p)).collect(), faces: mesh.faces.clone() }
}

/// Each triangle split at the midpoints of its edges: the same surface.
fn split(mesh: &RawMesh) -> RawMesh {
    let mut vertices = mesh.vertices.clone();
    let mut middles = std::collections::HashMap::new();
    let mut faces = Vec::with_capacity(4 * mesh.faces.len());
    for &[a, b, c] in &mesh.faces {
        let mut middle = |i: u32, j: u32| {
            *middles.entry((i.min(j), i.max(j))).or_insert_with(|| {
                let (p, q) = (mesh.vertices[i as usize], mesh.vertices[j as usize]);
                vertices.push([0, 1, 2].map(|k| 0.5 * (p[k] + q[k])));
                vertices.len() as u32 - 1
            })
        };
        let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
        faces.extend([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]);
    }
    RawMesh { vertices, faces }
}

/// Tolerance of values. They reach 1e-12, and 5e-10 a thousand metres from the origin, where a double-precision number has lost three digits.
const FIGURES: f64 = 1e-9;
/// Tolerance of uncertainties. They depend on differences of values and lose three more digits.
const UNCERTAINTIES: f64 = 1e-6;

fn assert_same(name: &str, a: &StationTable, b: &StationTable) {
    let [figures, uncertainties] = differences(a, b);
    assert!(figures.0 < FIGURES, "{name}: {figures:?}");
    assert!(uncertainties.0 < UNCERTAINTIES, "{name}: {uncertainties:?}");
    let flags = |t: &StationTable| t.stations.iter().map(|s| s.flags.clone()).collect::<Vec<_>>();
    assert_eq!(flags(a), flags(b), "{name}");
}

/// Not in the last digit: scans are sorted before they are measured.
#[test]
fn the_order_of_vertices_and_triangles_does_not_matter() {
    let mesh = scan();
    let base = table_of(&mesh);
    assert_eq!(base.stations, table_of(&permuted(&mesh, &mut Random::new(0))).stations);
    // On a coarse mesh without noise a rounded digit decided which rows of points a band holds: figures moved by up to 0.7 u with the order.
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..blade() };
    let propeller = SpecimenPropeller { blade, count: 2, hub_radius_m: 0.16, hub_length_m: 0.2 };
    let mesh = scan_of_propeller(&propeller, &ScanPlan { triangles: 4_000, ..ScanPlan::clean(7) }).mesh;
    let plan = MeasurePlan { stations: StationRadii::Ratios(vec![0.5, 0.75]), ..MeasurePlan::default() };
    let blades = |mesh: &RawMesh| measure(ScanInput::mesh(mesh, "scan"), &plan, &Silent).unwrap().blades;
    let base = blades(&mesh);
    assert_eq!(base.len(), 2);
    assert_eq!(base, blades(&permuted(&mesh, &mut Random::new(1))));
}

#[test]
fn position_and_size_in_the_file_do_not_matter() {
    let mesh = scan();
    let base = table_of(&mesh);
    for seed in 0..2 {
        let rotation = Pose::random(&mut Random::new(seed)).rotation;
        assert_same("turned", &base, &table_of(&moved(&mesh, &Pose { rotation, ..Pose::IDENTITY })));
    }
    for shift in [[3.0, -2.0, 5.0], [1000.0, 20.0, -400.0]] {
        assert_same("shifted", &base, &table_of(&moved(&mesh, &Pose { shift, ..Pose::IDENTITY })));
    }
    for scale in [0.001, 300.0] {
        assert_same("scaled", &base, &table_of(&moved(&mesh, &Pose { scale, ..Pose::IDENTITY })));
    }
}

#[test]
fn the_mirror_image_has_the_other_hand_and_the_same_values() {
    let mesh = scan();
    let mirror = Pose { rotation: [[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]], ..Pose::IDENTITY };
    let mut mirrored = moved(&mesh, &mirror);
    for f in &mut mirrored.faces {
        f.swap(1, 2);
    }
    let (right, left) = (table_of(&mesh), table_of(&mirrored));
    let hand = |t: &StationTable| t.frame.as_ref().unwrap().hand;
    assert_eq!((hand(&right), hand(&left)), (Hand::Right, Hand::Left));
    assert_same("mirrored", &right, &left);
}

#[test]
fn single_precision_far_from_the_origin_is_reported() {
    let mut mesh = moved(&scan(), &Pose { shift: [1e4, 0.0, 0.0], ..Pose::IDENTITY });
    let told = |t: &StationTable| t.warnings.iter().any(|w| w.text().contains("single precision"));
    assert!(!told(&table_of(&mesh)));
    for v in &mut mesh.vertices {
        *v = v.map(|x| f64::from(x as f32));
    }
    assert!(told(&table_of(&mesh)));
}

/// Greatest changes of the chord, m, and of the blade angle, deg, in another file of the same surface.
const REFINED_CHORD_M: f64 = 2e-4;
const REFINED_ANGLE_DEG: f64 = 0.01;

/// Corners that a program adds when it splits flat triangles are no measurement, although they look like one: they would halve the noise.
#[test]
fn flat_triangles_split_into_four_change_nothing_that_matters() {
    let mesh = scan();
    let fine = split(&mesh);
    // As a program writes it after turning the part: in single precision.
    let mut turned =
        moved(&fine, &Pose { rotation: Pose::random(&mut Random::new(3)).rotation, ..Pose::IDENTITY });
    for v in &mut turned.vertices {
        *v = v.map(|x| f64::from(x as f32));
    }
    let coarse = table_of(&mesh);
    for (name, refined) in [("split", &fine), ("split, single precision", &turned)] {
        let refined = table_of(refined);
        let mut compared = 0;
        for (s, t) in coarse.stations.iter().zip(&refined.stations) {
            for &column in StationColumn::FIGURES {
                let (Some(x), Some(y)) = (column.get(s), column.get(t)) else { continue };
                // At the reference radius the angle is 0 by convention and has no uncertainty.
                let Some(u) = column.u(s).filter(|u| 0.0 < *u) else { continue };
                let u = u.hypot(column.u(t).unwrap_or(0.0));
                let most = match column {
                    StationColumn::ChordM => REFINED_CHORD_M,
                    StationColumn::BladeAngleDeg => REFINED_ANGLE_DEG,
                    _ => f64::INFINITY,
                };
                assert!(
                    (x - y).abs() < most.min(u),
                    "{name}: {} at {}: {x} {y} ± {u}",
                    column.key(),
                    s.radius_ratio
                );
                compared += 1;
            }
        }
        assert!(60 < compared, "{compared}");
    }
}
