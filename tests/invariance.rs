//! The figures belong to the blade, not to the file: neither the order of its triangles nor its place, size, unit or mirror image change them.

use bladeform::{Hand, MeasurePlan, StationRadii, StationTable, measure};
use bladeform_mesh::RawMesh;
use bladeform_specimen::{Blade, Pose, Random, ScanPlan, scan_of_blade};
use bladeform_table::{ColumnUnit, StationColumn};

fn blade() -> Blade {
    Blade::quarry_mill()
}

/// A small scan with noise and holes in metres and blade axes.
fn scan() -> RawMesh {
    let plan = ScanPlan { triangles: 60_000, holes: 2, noise_m: 2e-4, ..ScanPlan::clean(7) };
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
    measure(&bytes, "test.ply", &plan).unwrap()
}

/// The greatest relative difference of any figure, and of any uncertainty, with the figure's key and radius. Angles count against a radian,
/// lengths along the blade axes, which may be nothing, against the chord.
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
fn refined(mesh: &RawMesh) -> RawMesh {
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

#[test]
fn explore() {
    let mesh = scan();
    let base = table_of(&mesh);
    let mut random = Random::new(1);
    let show = |name: &str, m: &RawMesh| {
        let t = table_of(m);
        println!("{name}: {:?} hand {:?}", differences(&base, &t), t.frame.as_ref().unwrap().hand);
        t
    };
    for _ in 0..2 {
        show("permuted", &permuted(&mesh, &mut random));
    }
    let only = |rotation| Pose { rotation, ..Pose::IDENTITY };
    for _ in 0..2 {
        show("rotated", &moved(&mesh, &only(Pose::random(&mut random).rotation)));
    }
    for shift in [[3.0, -2.0, 5.0], [1000.0, 20.0, -400.0]] {
        show("shifted", &moved(&mesh, &Pose { shift, ..Pose::IDENTITY }));
    }
    for scale in [0.001, 1000.0, 1024.0, 3.0] {
        show("scaled", &moved(&mesh, &Pose { scale, ..Pose::IDENTITY }));
    }
    let mut mirror = moved(&mesh, &only([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]));
    for f in &mut mirror.faces {
        f.swap(1, 2);
    }
    show("mirrored", &mirror);
    show("refined", &refined(&mesh));
    let clean = scan_of_blade(&blade(), &ScanPlan { triangles: 60_000, ..ScanPlan::clean(7) }).mesh;
    println!("clean refined {:?}", differences(&table_of(&clean), &table_of(&refined(&clean))));
    let mut far = moved(&mesh, &Pose { shift: [1e4, 0.0, 0.0], ..Pose::IDENTITY });
    for v in &mut far.vertices {
        *v = v.map(|x| f64::from(x as f32));
    }
    let t = show("far", &far);
    println!("{:?}", t.warnings);
    assert_eq!(base.frame.as_ref().unwrap().hand, Hand::Right);
}
