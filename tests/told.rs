//! Notices in a table about scans that are not one complete, evenly set part, and about options that have no effect on them.

use bladeform::measure::{MeasureError, MeasurePlan, ScanInput, measure};
use bladeform::quantity::{Hand, StationRadii};
use bladeform::table::StationTable;
use bladeform::work::Silent;
use bladeform_mesh::RawMesh;
use bladeform_specimen::{
    Blade, Damage, Random, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_propeller,
};

fn measured(mesh: &RawMesh, plan: &MeasurePlan) -> Result<StationTable, MeasureError> {
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(mesh, &mut bytes).unwrap();
    measure(ScanInput::file(&bytes, "test.ply"), plan, &Silent)
}

fn lone_plan(blade: &Blade) -> MeasurePlan {
    MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios(vec![0.5, 0.75]),
        ..MeasurePlan::default()
    }
}

fn rotor_plan(blade: &Blade) -> MeasurePlan {
    MeasurePlan { length_m: None, ..lone_plan(blade) }
}

fn told(table: &StationTable, words: &str) -> bool {
    table.warnings.iter().any(|w| w.text().contains(words))
}

/// A blade that extends down to its hub, with its tip on the circle of its radius.
fn hubbed() -> Blade {
    Blade { shank_radius_m: 0.0, root_radius_m: 0.05, sweep_m: 0.0, ..Blade::quarry_mill() }
}

fn propeller(blade: &Blade, count: usize, plan: &ScanPlan) -> RawMesh {
    let propeller = SpecimenPropeller { blade: blade.clone(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
    scan_of_propeller(&propeller, plan).mesh
}

#[test]
fn noise_does_not_move_the_ends_of_the_surface_outwards() {
    let tape = 1e-5;
    for count in [1, 2] {
        let blade = if count == 1 { Blade::quarry_mill() } else { hubbed() };
        let error = |seed: u64, noise_m: f64| {
            let plan = ScanPlan { triangles: 60_000 * count, noise_m, ..ScanPlan::clean(seed) };
            let mesh =
                if count == 1 { scan_of_blade(&blade, &plan).mesh } else { propeller(&blade, count, &plan) };
            let ask = if count == 1 { lone_plan(&blade) } else { rotor_plan(&blade) };
            let table = measured(&mesh, &MeasurePlan { length_uncertainty_m: tape, ..ask }).unwrap();
            let scale = table.scale.unwrap();
            (scale.metres_per_unit.unwrap() - 1.0, scale.relative_uncertainty.unwrap())
        };
        let clean = error(1, 0.0);
        assert!(clean.0.abs() < 2e-6, "{clean:?}");
        let noisy: Vec<(f64, f64)> = (0..3).map(|seed| error(seed, 5e-4)).collect();
        // Half a millimetre moved the outermost point outwards by 6 parts in ten thousand.
        let bias = noisy.iter().map(|e| e.0).sum::<f64>() / 3.0;
        assert!(bias.abs() < 2.5e-4, "{count}: {noisy:?}");
        assert!(noisy.iter().all(|e| e.0.abs() < 3.0 * e.1 && 5e-5 < e.1), "{count}: {noisy:?}");
    }
}

fn beside(mesh: &RawMesh, other: &RawMesh, by: [f64; 3]) -> RawMesh {
    let mut both = mesh.clone();
    let n = both.vertices.len() as u32;
    both.vertices.extend(other.vertices.iter().map(|p| [p[0] + by[0], p[1] + by[1], p[2] + by[2]]));
    both.faces.extend(other.faces.iter().map(|f| f.map(|v| v + n)));
    both
}

#[test]
fn two_blades_in_one_scan_are_refused_and_a_torn_one_is_measured_as_one() {
    let blade = Blade::quarry_mill();
    let one = scan_of_blade(&blade, &ScanPlan { triangles: 40_000, ..ScanPlan::clean(2) }).mesh;
    // Rotated slightly, so that the two together are not a propeller.
    let turned = RawMesh {
        vertices: one.vertices.iter().map(|p| [p[0] + 0.1 * p[2], p[1], p[2]]).collect(),
        faces: one.faces.clone(),
    };
    let error = measured(&beside(&one, &turned, [0.4, 0.0, 0.1]), &lone_plan(&blade)).unwrap_err();
    assert!(error.to_string().contains("cut them apart"), "{error}");

    let mut torn = one;
    torn.faces.retain(|f| f.iter().all(|&v| (torn.vertices[v as usize][2] - 0.9).abs() > 0.01));
    let table = measured(&torn, &lone_plan(&blade)).unwrap();
    assert!(told(&table, "2 pieces"), "{:?}", table.warnings);
    assert!((table.scale.unwrap().metres_per_unit.unwrap() - 1.0).abs() < 1e-4);
}

/// The blade along `z`, bent forward by 5 mm at its tip.
fn bent(mut mesh: RawMesh, blade: &Blade) -> RawMesh {
    for p in mesh.vertices.iter_mut().filter(|p| 0.17 < p[2] && p[0].abs() < p[2]) {
        p[1] += 5e-3 * (p[2] / blade.radius_m).powi(2);
    }
    mesh
}

#[test]
fn a_bent_blade_has_its_track_about_the_axis_of_the_hub() {
    let blade = hubbed();
    for count in [2, 3] {
        let clean = ScanPlan { triangles: 60_000 * count, ..ScanPlan::clean(4) };
        let mesh = bent(propeller(&blade, count, &clean), &blade);
        let plan = MeasurePlan { stations: StationRadii::Count(12), ..rotor_plan(&blade) };
        let table = measured(&mesh, &plan).unwrap();
        assert!(table.frame.as_ref().unwrap().method.contains("round wall of the hub"));
        let most = table
            .blade_differences
            .iter()
            .max_by(|a, b| a.track_m.unwrap().total_cmp(&b.track_m.unwrap()))
            .unwrap();
        let (found, true_one) = (most.track_m.unwrap(), 5e-3 * (count as f64 - 1.0) / count as f64);
        let u = most.u.track_m.unwrap();
        assert!((found - true_one).abs() < 2.0 * u.max(5e-5), "{count}: {found} of {true_one}, u {u}");
    }
}

#[test]
fn without_a_round_hub_the_track_has_no_interval() {
    let blade = hubbed();
    let disc = SpecimenPropeller { blade: blade.clone(), count: 3, hub_radius_m: 0.16, hub_length_m: 0.02 };
    let clean = ScanPlan { triangles: 120_000, ..ScanPlan::clean(4) };
    let mesh = bent(scan_of_propeller(&disc, &clean).mesh, &blade);
    let table = measured(&mesh, &rotor_plan(&blade)).unwrap();
    assert!(told(&table, "no round hub"), "{:?}", table.warnings);
    let u = |d: &bladeform_table::BladeDifference| (d.u.track_m, d.u.mean_blade_angle_difference_deg);
    assert!(table.blade_differences.iter().all(|d| u(d) == (None, None)));
}

#[test]
fn the_blades_of_a_propeller_begin_at_the_height_of_their_centroid() {
    let blade = hubbed();
    let clean = ScanPlan { triangles: 120_000, ..ScanPlan::clean(4) };
    let mut mesh = propeller(&blade, 2, &clean);
    // The hub is far behind.
    for p in mesh.vertices.iter_mut().filter(|p| p[0].hypot(p[2]) < 0.161 && p[1].abs() < 0.1001) {
        p[1] -= 0.05;
    }
    let (mut area, mut sum) = (0.0, 0.0);
    for f in &mesh.faces {
        let [a, b, c] = f.map(|v| mesh.vertices[v as usize]);
        let middle: [f64; 3] = std::array::from_fn(|k| (a[k] + b[k] + c[k]) / 3.0);
        if middle[0].hypot(middle[2]) < 0.3 * blade.radius_m {
            continue;
        }
        let (u, v): ([f64; 3], [f64; 3]) =
            (std::array::from_fn(|k| b[k] - a[k]), std::array::from_fn(|k| c[k] - a[k]));
        let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
        let size = n.iter().map(|x| x * x).sum::<f64>().sqrt();
        area += size;
        sum += size * middle[1];
    }
    let table = measured(&mesh, &rotor_plan(&blade)).unwrap();
    for s in &table.stations {
        let expected = blade.truth(s.radius_ratio).mid_chord_m[1] - sum / area;
        let found = s.mid_chord_y_m.unwrap();
        assert!((found - expected).abs() < 4e-4, "{found} for {expected} at {}", s.radius_ratio);
    }
}

#[test]
fn symmetrical_sections_are_assumed_to_have_positive_pitch() {
    for left_handed in [false, true] {
        let blade = Blade { camber: [0.0, 0.0], left_handed, ..hubbed() };
        let mesh = propeller(&blade, 4, &ScanPlan { triangles: 160_000, ..ScanPlan::clean(4) });
        let table = measured(&mesh, &rotor_plan(&blade)).unwrap();
        let frame = table.frame.as_ref().unwrap();
        assert_eq!(frame.hand, if left_handed { Hand::Left } else { Hand::Right });
        assert!(
            !frame.hand_certain && told(&table, "assumption that pitch is positive"),
            "{:?}",
            table.warnings
        );
        assert!(table.stations.iter().all(|s| 5.0 < s.blade_angle_deg.unwrap()));
    }
}

#[test]
fn a_missing_tip_is_reported_and_a_complete_one_is_not() {
    let blade = Blade::quarry_mill();
    let mesh = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::clean(2) }).mesh;
    let whole = measured(&mesh, &lone_plan(&blade)).unwrap();
    assert!(!told(&whole, "of the piece"), "{:?}", whole.warnings);
    let mesh = Damage::TipBroken { at: 0.9 }.apply(mesh, &blade, &mut Random::new(1));
    let cut = measured(&mesh, &lone_plan(&blade)).unwrap();
    assert!(told(&cut, "open edge") && told(&cut, "of the piece"), "{:?}", cut.warnings);
}

#[test]
fn a_guessed_scale_has_no_interval() {
    let blade = Blade::quarry_mill();
    let mesh = scan_of_blade(&blade, &ScanPlan { triangles: 40_000, ..ScanPlan::clean(2) }).mesh;
    let plan = MeasurePlan { length_m: None, diameter_m: None, ..lone_plan(&blade) };
    let table = measured(&mesh, &plan).unwrap();
    assert_eq!((table.blade.u.blade_length_m, table.blade.u.volume_m3), (None, None));
    let table = measured(&mesh, &lone_plan(&blade)).unwrap();
    assert!(table.blade.u.blade_length_m.is_some() && table.blade.u.volume_m3.is_some());
}

#[test]
fn the_activity_factor_does_not_depend_on_the_number_of_stations() {
    let blade = Blade::quarry_mill();
    let mesh = scan_of_blade(&blade, &ScanPlan { triangles: 100_000, ..ScanPlan::clean(2) }).mesh;
    // The definition, applied to the exact chords.
    let (n, first) = (2000, 0.15);
    let exact: f64 = (0..n)
        .map(|i| first + (1.0 - first) * (f64::from(i) + 0.5) / f64::from(n))
        .map(|x| blade.chord_m(x * blade.radius_m) / (2.0 * blade.radius_m) * x.powi(3))
        .sum::<f64>()
        * (1.0 - first)
        / f64::from(n)
        * 100_000.0
        / 16.0;
    for stations in [StationRadii::Count(24), StationRadii::Count(8), StationRadii::Ratios(vec![0.5, 0.75])] {
        let few = stations != StationRadii::Count(24);
        let table = measured(&mesh, &MeasurePlan { stations, ..lone_plan(&blade) }).unwrap();
        let (found, u) = (table.blade.activity_factor.unwrap(), table.blade.u.activity_factor.unwrap());
        assert!((found - exact).abs() < 2.0 * u.max(0.1), "{found} ± {} of {exact}", 2.0 * u);
        assert!(few || 2.0 * u < 0.6, "{u}");
    }
}

#[test]
fn options_without_effect_on_a_propeller_are_reported() {
    let blade = hubbed();
    let mesh = propeller(&blade, 2, &ScanPlan { triangles: 80_000, ..ScanPlan::clean(4) });
    let plan = MeasurePlan {
        length_m: Some(2.0 * blade.radius_m),
        root_radius_m: Some(0.1),
        swap_edges: true,
        ..rotor_plan(&blade)
    };
    let table = measured(&mesh, &plan).unwrap();
    for words in ["given length was not used", "given root radius was not used", "swapping only the edges"] {
        assert!(told(&table, words), "{words}: {:?}", table.warnings);
    }
    assert!(!told(&measured(&mesh, &rotor_plan(&blade)).unwrap(), "not used"));
}

#[test]
fn a_swept_tip_outside_its_circle_is_reported() {
    let outside = |sweep_m: f64| {
        let blade = Blade { sweep_m, ..Blade::quarry_mill() };
        let mesh = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::clean(2) }).mesh;
        told(&measured(&mesh, &lone_plan(&blade)).unwrap(), "outside the circle")
    };
    assert!(outside(0.12) && !outside(0.0));
}
