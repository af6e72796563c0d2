//! Sections on cylinders: screws whose developed sections are known exactly.

use bladeform_measure::{MeasureError, MeasurePlan, ScanInput, Silent, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{Blade, ScanPlan, SpecimenPropeller, scan_of_blade, scan_of_screw};
use bladeform_table::{SectionSurface, StationColumn, StationTable};

const RATIOS: [f64; 5] = [0.4, 0.5, 0.6, 0.7, 0.85];

fn measured(screw: &SpecimenPropeller, noise_m: f64, sections: SectionSurface) -> StationTable {
    let plan = ScanPlan { noise_m, ..ScanPlan::clean(3) };
    let scan = scan_of_screw(screw, &ScanPlan { triangles: 160_000, ..plan });
    let plan = MeasurePlan {
        diameter_m: Some(2.0 * screw.blade.radius_m),
        length_uncertainty_m: 1e-5,
        // The scan is sharp, and it is stated.
        resolution_m: Some(0.0),
        stations: StationRadii::Ratios(RATIOS.to_vec()),
        sections,
        ..MeasurePlan::default()
    };
    measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap()
}

#[test]
fn a_wide_screw_has_its_pitch_and_chord_on_cylinders_and_others_on_planes() {
    let screw = SpecimenPropeller::wide_screw();
    let table = measured(&screw, 0.0, SectionSurface::Cylinder);
    assert_eq!(table.sections(), SectionSurface::Cylinder);
    assert!(!table.warnings.iter().any(|w| w.code() == "wide-planes"));
    for (s, ratio) in table.stations.iter().zip(RATIOS) {
        let truth = screw.blade.truth(ratio);
        let exact_pitch =
            std::f64::consts::TAU * ratio * screw.blade.radius_m * truth.blade_angle_deg.to_radians().tan();
        let get = |column: StationColumn| column.get(s).unwrap();
        let pitch = get(StationColumn::PitchM) / exact_pitch - 1.0;
        let chord = get(StationColumn::ChordM) / truth.chord_m - 1.0;
        let thickness = get(StationColumn::ThicknessM) - truth.thickness_m;
        println!(
            "{ratio} R: pitch {:+.4} %, chord {:+.4} %, thickness {:+.4} mm",
            100.0 * pitch,
            100.0 * chord,
            1e3 * thickness
        );
        // Triangles of 4 mm do not resolve the noses, which draws the chord back.
        assert!(pitch.abs() < 3e-3 && chord.abs() < 4e-3 && thickness.abs() < 2e-4, "{ratio}");
    }
    let plane = measured(&screw, 0.0, SectionSurface::Plane);
    assert!(plane.warnings.iter().any(|w| w.code() == "wide-planes"), "{:?}", plane.warnings);
    let off = plane.stations[3].blade_angle_deg.unwrap() - screw.blade.truth(RATIOS[3]).blade_angle_deg;
    println!("by planes {off:.2} deg off at {} R", RATIOS[3]);
    assert!(0.5 < off.abs(), "planes are {off} deg off, where a wide blade should differ");
}

#[test]
fn intervals_on_cylinders_hold_with_noise() {
    let screw = SpecimenPropeller::wide_screw();
    let table = measured(&screw, 2e-4, SectionSurface::Cylinder);
    let (mut all, mut outside) = (0, 0);
    for blade in &table.blades {
        for (s, ratio) in blade.stations.iter().zip(RATIOS) {
            let truth = screw.blade.truth(ratio);
            let pairs = [
                (StationColumn::ChordM, truth.chord_m),
                (StationColumn::BladeAngleDeg, truth.blade_angle_deg),
                (StationColumn::ThicknessM, truth.thickness_m),
            ];
            for (column, exact) in pairs {
                let m = column.measured(s).unwrap();
                let t = (m.value - exact) / m.u;
                println!("{ratio} R {column:?}: {:+.5}, {t:+.1} u", m.value - exact);
                all += 1;
                outside += usize::from(3.0 < t.abs());
            }
        }
    }
    assert!(all == 60 && outside <= 2, "{outside} of {all} figures are beyond 3 u");
}

#[test]
fn a_lone_blade_has_no_cylinders() {
    let scan = scan_of_blade(&Blade::quarry_mill(), &ScanPlan { triangles: 8_000, ..ScanPlan::clean(1) });
    let plan =
        MeasurePlan { sections: SectionSurface::Cylinder, length_m: Some(1.3), ..MeasurePlan::default() };
    let refused = measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap_err();
    assert!(matches!(refused, MeasureError::CylindersNeedAxis), "{refused}");
}
