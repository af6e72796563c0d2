//! A blade with a dent in its leading edge, from the scan to the message.

use bladeform::measure::{MeasurePlan, ScanInput, measure};
use bladeform::work::Silent;
use bladeform_specimen::{Blade, ScanPlan, scan_of_blade};
use bladeform_table::{Flag, Station, StationColumn};

/// Index of the dented station, of 24 evenly spaced ones.
const DENTED: usize = 13;

#[test]
fn a_dent_is_flagged_at_its_station_with_its_depth_and_a_sound_blade_has_none() {
    let blade = Blade::quarry_mill();
    let plan = ScanPlan { triangles: 100_000, holes: 0, any_pose: false, ..ScanPlan::usual(4) };
    let sound = scan_of_blade(&blade, &plan).mesh;
    let mut dented = sound.clone();
    let at_m = blade.root_radius_m + blade.length_m() * (DENTED + 1) as f64 / 25.0;
    for v in &mut dented.vertices {
        // 3 mm deep over 40 mm of span, fading over 5 mm at each end and 15 mm behind the edge.
        let fade = ((0.020 - (v[2] - at_m).abs()) / 0.005).clamp(0.0, 1.0);
        let (angle, mid) = (blade.angle_rad(v[2]), blade.mid_chord(v[2]));
        let forward = (v[0] - mid[0]) * angle.cos() + (v[1] - mid[1]) * angle.sin();
        let from_edge = 0.5 * blade.chord_m(v[2]) - forward;
        let depth = 0.003 * fade * (1.0 - from_edge / 0.015).clamp(0.0, 1.0);
        v[0] -= depth * angle.cos();
        v[1] -= depth * angle.sin();
    }
    let measured = |mesh| {
        let mut bytes = Vec::new();
        bladeform_mesh::write_ply_binary(mesh, &mut bytes).unwrap();
        let plan = MeasurePlan {
            length_m: Some(blade.length_m()),
            diameter_m: Some(2.0 * blade.radius_m),
            // The surface of this scan is not smoothed.
            resolution_m: Some(0.0),
            ..MeasurePlan::default()
        };
        measure(ScanInput::file(&bytes, "test.ply"), &plan, &Silent).unwrap().stations
    };
    let chord_flags = |stations: &[Station]| {
        let departs = |f: &&Flag| f.code() == "departs" && f.sentence().starts_with("chord");
        let found = stations.iter().enumerate();
        found
            .flat_map(|(k, s)| s.flags.iter().filter(departs).map(move |f| (k, f.clone())))
            .collect::<Vec<_>>()
    };
    let (sound, dented) = (measured(&sound), measured(&dented));
    assert_eq!(chord_flags(&sound), []);
    let found = chord_flags(&dented);
    assert_eq!(found.len(), 1, "{found:?}");
    let (station, Flag::Departs { amount, .. }) = &found[0] else { panic!("{found:?}") };
    assert_eq!(*station, DENTED);
    assert!((amount.value + 0.003).abs() < 0.001, "{found:?}");
    // The smooth blade passes over the dent, and its neighbours know nothing of it.
    for k in DENTED - 1..=DENTED + 1 {
        let [with, without] =
            [&dented, &sound].map(|stations| stations[k].smooth.figures[&StationColumn::ChordM]);
        assert!((with.value - without.value).abs() < 2.0 * with.u, "station {k}: {with:?}, {without:?}");
        assert!(with.u < 0.001, "station {k}: {with:?}");
    }
}
