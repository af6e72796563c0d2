//! Measurements of invented blades with coarse scans. The studies print the values for finer ones.

use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::quantity::{Hand, StationRadii};
use bladeform::table::{Station, StationTable};
use bladeform::work::Silent;
use bladeform_mesh::RawMesh;
use bladeform_specimen::{
    Blade, Damage, Random, ScanPlan, SectionKind, SpecimenPropeller, scan_of_blade, scan_of_propeller,
};
use bladeform_table::{StationColumn, UncertaintySource};

fn table_of(mesh: &RawMesh, plan: &MeasurePlan) -> StationTable {
    let mut bytes = Vec::new();
    bladeform_mesh::write_ply_binary(mesh, &mut bytes).unwrap();
    measure(ScanInput::file(&bytes, "test.ply"), plan, &Silent).unwrap()
}

fn plan(blade: &Blade) -> MeasurePlan {
    MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        // The surfaces of these scans are not smoothed.
        resolution_m: Some(0.0),
        stations: StationRadii::Ratios(vec![0.35, 0.5, 0.65, 0.75, 0.85]),
        ..MeasurePlan::default()
    }
}

/// Bounds of single errors: chord as a fraction, angle minus that of the reference, deg, ratios of thickness and camber. They are twice the worst errors of these scans.
/// Root mean squares over more scans, and coverage, are checked by the gate in `study`.
type Bounds = [f64; 4];

/// The same bounds for the mean of all blades of a propeller.
const PROPELLER_BOUNDS: Bounds = [0.0069, 0.22, 0.0017, 0.0019];

fn assert_within(errors: &[f64; 4], bounds: Bounds, place: &str) {
    for ((error, bound), what) in errors.iter().zip(bounds).zip(["chord", "angle", "thickness", "camber"]) {
        assert!(error.abs() < bound, "{place}: {what} is {error} off, bound {bound}");
    }
}

fn assert_near_truth(table: &StationTable, blade: &Blade, bounds: Bounds) {
    let truth = |s: &Station| blade.truth(s.radius_ratio);
    let reference = table.stations.iter().find(|s| (s.radius_ratio - 0.75).abs() < 1e-9).unwrap();
    let zero = reference.blade_angle_deg.unwrap() - truth(reference).blade_angle_deg;
    for s in &table.stations {
        let t = truth(s);
        let errors = [
            s.chord_m.unwrap() / t.chord_m - 1.0,
            s.blade_angle_deg.unwrap() - t.blade_angle_deg - zero,
            s.thickness_ratio.unwrap() - t.thickness_ratio,
            s.camber_ratio.unwrap() - t.camber_ratio,
        ];
        assert_within(&errors, bounds, &format!("{:?}, {:.2} R", blade.kind, s.radius_ratio));
    }
}

#[test]
fn a_typical_scan_of_each_family_is_measured() {
    for (kind, bounds) in [
        (SectionKind::FourDigit, [0.0032, 0.16, 0.0013, 0.0012]),
        (SectionKind::ClarkY, [0.0025, 0.40, 0.0015, 0.0025]),
        (SectionKind::FlatFaced, [0.0023, 0.06, 0.0008, 0.0019]),
    ] {
        let blade = Blade::quarry_mill().with_kind(kind);
        let scan = scan_of_blade(&blade, &ScanPlan { triangles: 100_000, ..ScanPlan::usual(3) });
        let table = table_of(&scan.mesh, &plan(&blade));
        let frame = table.frame.as_ref().unwrap();
        assert_eq!(frame.hand, Hand::Right, "{kind:?}");
        assert!(frame.method.starts_with("shank axis"), "{}", frame.method);
        assert_near_truth(&table, &blade, bounds);
    }
}

#[test]
fn the_mirror_image_is_left_handed_with_the_same_values() {
    let blade = Blade::quarry_mill();
    let clean = ScanPlan { triangles: 60_000, ..ScanPlan::clean(2) };
    let right = table_of(&scan_of_blade(&blade, &clean).mesh, &plan(&blade));
    let left = table_of(&scan_of_blade(&blade.clone().mirrored(), &clean).mesh, &plan(&blade));
    assert_eq!(left.frame.as_ref().unwrap().hand, Hand::Left);
    for (a, b) in right.stations.iter().zip(&left.stations) {
        assert!((a.chord_m.unwrap() / b.chord_m.unwrap() - 1.0).abs() < 1e-5);
        assert!((a.blade_angle_deg.unwrap() - b.blade_angle_deg.unwrap()).abs() < 1e-3);
        assert!((a.thickness_ratio.unwrap() - b.thickness_ratio.unwrap()).abs() < 1e-5);
        assert!((a.camber_ratio.unwrap() - b.camber_ratio.unwrap()).abs() < 1e-5);
    }
}

#[test]
fn propellers_give_their_blades_axis_and_absolute_angles() {
    for (count, left_handed) in [(2, false), (3, true), (5, false)] {
        let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, left_handed, ..Blade::quarry_mill() };
        let propeller =
            SpecimenPropeller { blade: blade.clone(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
        let scan = scan_of_propeller(
            &propeller,
            &ScanPlan { triangles: 60_000 * count, noise_m: 2e-4, any_pose: true, ..ScanPlan::clean(5) },
        );
        let table = table_of(&scan.mesh, &MeasurePlan { length_m: None, ..plan(&blade) });
        assert_eq!(table.blade.blades_in_scan, Some(count as u64));
        assert_eq!(table.frame.as_ref().unwrap().hand, if left_handed { Hand::Left } else { Hand::Right });
        for s in &table.stations {
            let t = blade.truth(s.radius_ratio);
            let errors = [
                s.chord_m.unwrap() / t.chord_m - 1.0,
                s.blade_angle_deg.unwrap() - t.blade_angle_deg,
                s.thickness_ratio.unwrap() - t.thickness_ratio,
                s.camber_ratio.unwrap() - t.camber_ratio,
            ];
            assert_within(&errors, PROPELLER_BOUNDS, &format!("{count} blades, {:.2} R", s.radius_ratio));
        }
    }
}

fn damaged(damage: Damage) -> (Blade, StationTable) {
    let blade = Blade::quarry_mill();
    let scan = ScanPlan { triangles: 120_000, holes: 0, bench: false, any_pose: false, ..ScanPlan::usual(5) };
    let mesh = damage.apply(scan_of_blade(&blade, &scan).mesh, &blade, &mut Random::new(5));
    let table = table_of(&mesh, &plan(&blade));
    (blade, table)
}

#[test]
fn a_face_that_was_not_scanned_loses_its_stations_and_no_others() {
    let (blade, mut table) = damaged(Damage::FaceMissing { from: 0.45, to: 0.55 });
    let refused: Vec<f64> =
        table.stations.iter().filter(|s| s.is_refused()).map(|s| s.radius_ratio).collect();
    assert_eq!(refused, [0.5]);
    table.stations.retain(|s| !s.is_refused());
    assert_near_truth(&table, &blade, [0.0010, 0.15, 0.0016, 0.0025]);
}

#[test]
fn a_doubled_surface_is_reported_and_increases_the_uncertainty() {
    let (_, table) = damaged(Damage::DoubleLayer { from: 0.45, to: 0.55, depth_m: 2e-3 });
    for s in &table.stations {
        let misfit = s.budget.part(StationColumn::ThicknessM, UncertaintySource::Misfit);
        let told = s.is_refused() || s.flags.iter().any(|f| f.code() == "misfit");
        assert_eq!(told, (s.radius_ratio - 0.5).abs() < 1e-9, "{}: {:?}", s.radius_ratio, s.flags);
        assert!(s.is_refused() || told == (5e-4 < misfit), "{}: {misfit}", s.radius_ratio);
    }
}

/// The angle of a single blade is a difference. It is exact at its reference, and elsewhere at least as uncertain as the reference section.
#[test]
fn angles_include_the_uncertainty_of_their_reference_section() {
    let blade = Blade::quarry_mill();
    let scan = scan_of_blade(&blade, &ScanPlan { triangles: 60_000, ..ScanPlan::usual(6) });
    let table = table_of(&scan.mesh, &plan(&blade));
    for s in &table.stations {
        let u = s.u.blade_angle_deg.unwrap();
        let shared = s.budget.part(StationColumn::BladeAngleDeg, UncertaintySource::Reference);
        if (s.radius_ratio - 0.75).abs() < 1e-9 {
            assert_eq!((u, shared), (0.0, 0.0));
        } else {
            assert!(0.01 < shared && shared < u, "{}: {shared} of {u}", s.radius_ratio);
        }
    }
}
