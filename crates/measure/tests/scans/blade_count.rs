//! Propellers of many blades: the number is the highest order of symmetry, and the figures are those of the blade.

use crate::tried;
use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_propeller};

#[test]
fn every_number_of_blades_up_to_twelve_is_the_highest_order_of_symmetry() {
    for &count in tried(&[7, 12, 8, 9, 5], 1) {
        let blade = Blade { shank_radius_m: 0.0, root_radius_m: 0.05, ..Blade::quarry_mill() };
        let propeller =
            SpecimenPropeller { blade: blade.clone(), count, hub_radius_m: 0.16, hub_length_m: 0.2 };
        let scan = scan_of_propeller(
            &propeller,
            &ScanPlan { triangles: 40_000 * count, noise_m: 2e-4, any_pose: true, ..ScanPlan::clean(5) },
        );
        let plan = MeasurePlan {
            diameter_m: Some(2.0 * blade.radius_m),
            stations: StationRadii::Ratios(vec![0.5, 0.75, 0.9]),
            ..MeasurePlan::default()
        };
        let table = measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap();
        assert_eq!(table.blade.blades_in_scan, Some(count as u64));
        assert_eq!(table.blades.len(), count);
        for s in &table.stations {
            let truth = blade.truth(s.radius_ratio);
            let at = format!("{count} blades, {:.2} R", s.radius_ratio);
            let chord = s.chord_m.unwrap() / truth.chord_m - 1.0;
            let angle = s.blade_angle_deg.unwrap() - truth.blade_angle_deg;
            println!("{at}: chord {:.3} %, angle {angle:.3} deg", 100.0 * chord);
            assert!(chord.abs() < 0.01, "{at}: chord off by {:.2} %", 100.0 * chord);
            assert!(angle.abs() < 0.2, "{at}: angle off by {angle:.2} deg");
        }
    }
}
