//! Size of a propeller's hub: diameter, length and bore of the exact cylinder of the invented propeller.

use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
use bladeform_quantity::{Measured, StationRadii};
use bladeform_specimen::{Blade, MadeScan, ScanPlan, SpecimenPropeller, scan_of_propeller};
use bladeform_table::StationTable;

const HUB_RADIUS_M: f64 = 0.16;
const HUB_LENGTH_M: f64 = 0.2;
const BORE_RADIUS_M: f64 = 0.05;

fn scanned(count: usize, plan: &ScanPlan) -> (Blade, MadeScan) {
    let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.08, sweep_m: 0.0, ..Blade::quarry_mill() };
    let propeller = SpecimenPropeller {
        blade: blade.clone(),
        count,
        hub_radius_m: HUB_RADIUS_M,
        hub_length_m: HUB_LENGTH_M,
    };
    (blade, scan_of_propeller(&propeller, plan))
}

fn measured(blade: &Blade, scan: &MadeScan) -> StationTable {
    let plan = MeasurePlan {
        diameter_m: Some(2.0 * blade.radius_m),
        stations: StationRadii::Ratios(vec![0.4, 0.6, 0.75, 0.9]),
        ..MeasurePlan::default()
    };
    measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap()
}

/// Opens the two end faces of the hub, fans about their middles, and joins them by a bore.
fn bored(scan: &mut MadeScan) {
    let mesh = &mut scan.mesh;
    let is_middle =
        |p: [f64; 3]| p[0] == 0.0 && p[2] == 0.0 && (p[1].abs() - 0.5 * HUB_LENGTH_M).abs() < 1e-9;
    let (fans, kept): (Vec<[u32; 3]>, Vec<[u32; 3]>) =
        mesh.faces.iter().partition(|f| f.iter().any(|&i| is_middle(mesh.vertices[i as usize])));
    mesh.faces = kept;
    assert!(24 <= fans.len());
    const STEPS: usize = 24;
    for fan in fans {
        let k = (0..3).find(|&k| is_middle(mesh.vertices[fan[k] as usize])).unwrap();
        let (a, b) = (fan[(k + 1) % 3], fan[(k + 2) % 3]);
        let first = mesh.vertices.len() as u32;
        for from in [a, b] {
            let p = mesh.vertices[from as usize];
            let share = BORE_RADIUS_M / p[0].hypot(p[2]);
            mesh.vertices.push([share * p[0], p[1], share * p[2]]);
        }
        mesh.faces.extend([[first, a, b], [first, b, first + 1]]);
        // The upper face draws the wall of the bore down to the lower one.
        let [p, q] = [first, first + 1].map(|i| mesh.vertices[i as usize]);
        if p[1] < 0.0 {
            continue;
        }
        let at = |step: usize, p: [f64; 3]| [p[0], p[1] * (1.0 - 2.0 * step as f64 / STEPS as f64), p[2]];
        let wall = mesh.vertices.len() as u32;
        mesh.vertices.extend((0..=STEPS).flat_map(|step| [at(step, p), at(step, q)]));
        for step in 0..STEPS as u32 {
            let [a, b, c, d] = [0, 1, 2, 3].map(|i| wall + 2 * step + i);
            mesh.faces.extend([[a, b, d], [a, d, c]]);
        }
    }
}

fn within(found: Option<Measured>, truth: f64, most_m: f64) {
    let found = found.unwrap();
    println!("{:.3} mm, u {:.3} mm, truth {:.3} mm", 1e3 * found.value, 1e3 * found.u, 1e3 * truth);
    let off = (found.value - truth).abs();
    // Three standard uncertainties of one figure, and half a tenth of a millimetre for the facets of the specimen's hub.
    assert!(off < 3.0 * found.u + 5e-5 && off < most_m && found.u < most_m, "{found:?}, not {truth}");
}

#[test]
fn diameter_and_length_of_a_hub_are_those_of_its_cylinder() {
    for count in [2, 3] {
        let plan =
            ScanPlan { triangles: 60_000 * count, noise_m: 2e-4, any_pose: true, ..ScanPlan::clean(8) };
        let (blade, scan) = scanned(count, &plan);
        let hub = measured(&blade, &scan).hub.unwrap();
        within(hub.diameter_m, 2.0 * HUB_RADIUS_M, 1e-3);
        within(hub.length_m, HUB_LENGTH_M, 1e-3);
        assert_eq!(hub.bore_diameter_m, None, "{count} blades: a hub without a bore has none");
    }
}

#[test]
fn a_bore_is_measured_where_the_scan_shows_its_wall() {
    let (blade, mut scan) = scanned(3, &ScanPlan { triangles: 180_000, ..ScanPlan::clean(9) });
    bored(&mut scan);
    let hub = measured(&blade, &scan).hub.unwrap();
    within(hub.diameter_m, 2.0 * HUB_RADIUS_M, 1e-3);
    within(hub.length_m, HUB_LENGTH_M, 1e-3);
    within(hub.bore_diameter_m, 2.0 * BORE_RADIUS_M, 1e-3);
}

#[test]
fn a_lone_blade_has_no_hub() {
    let blade = Blade::quarry_mill();
    let scan =
        bladeform_specimen::scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::clean(2) });
    let plan = MeasurePlan { length_m: Some(blade.length_m()), ..MeasurePlan::default() };
    assert_eq!(measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap().hub, None);
}
