//! Hubs narrower than the root: the root is narrowed into them, or the error names the smallest hub that holds the blades.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_solid::{JointFault, PropellerSurface, SettingAngle, Silent, SolidError, SolidPlan, StepUnit};
use bladeform_table::{Coded, StationTable};

/// A small propeller with a wide root: 15 mm of chord, with its end outside or inside of the hub.
fn table(root_m: f64) -> StationTable {
    let text = r#"{"blade": {"radius_m": 0.1, "root_radius_m": ROOT}, "stations": [
          {"radius_m": 0.015, "chord_m": 0.015, "blade_angle_deg": 45.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
          {"radius_m": 0.050, "chord_m": 0.020, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
          {"radius_m": 0.095, "chord_m": 0.010, "blade_angle_deg": 14.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;
    bladeform_document::read_json(text.replace("ROOT", &root_m.to_string()).as_bytes()).unwrap()
}

fn plan(blades: u32, hub_m: f64) -> SolidPlan {
    SolidPlan {
        blades,
        hub_diameter_m: Some(hub_m),
        hub_length_m: Some(0.03),
        tolerance_m: 3e-5,
        ..SolidPlan::default()
    }
}

#[test]
fn a_root_wider_than_its_hub_is_narrowed_into_it_and_the_solid_is_closed() {
    for (blades, hub_m, root_m) in
        [(1, 0.012, 0.009), (3, 0.014, 0.009), (2, 0.010, 0.009), (2, 0.010, 0.002)]
    {
        let case = format!("{blades} blades, hub {hub_m}, root {root_m}");
        let table = table(root_m);
        let made =
            PropellerSurface::new(&table, plan(blades, hub_m)).unwrap_or_else(|e| panic!("{case}: {e}"));
        assert!(made.warnings().iter().any(|w| w.code() == "root-narrowed"), "{case}");
        for angle_deg in [5.0, 40.0] {
            let setting = SettingAngle { angle_deg, radius_ratio: 0.75 };
            let solid =
                made.at(Some(setting), &Silent).unwrap_or_else(|e| panic!("{case}, {angle_deg}: {e}"));
            // The facets of a hub this small take some thousandths of its volume.
            let off = solid.solid.facts().volume_m3 / solid.section_volume_m3 - 1.0;
            assert!(off.abs() < 4e-3, "{case}, {angle_deg}: {off}");
            let hub = made.hub().map(|hub| (hub, blades));
            let step = solid.blade.step(hub, "small", StepUnit::Millimetre);
            step.unwrap_or_else(|e| panic!("{case}, {angle_deg}: {e}"));
        }
    }
}

#[test]
fn the_smallest_hub_that_the_error_names_fits() {
    let table = table(0.002);
    for (blades, hub_m) in [(3, 0.008), (4, 0.010), (5, 0.011)] {
        let error = PropellerSurface::new(&table, plan(blades, hub_m)).err().unwrap();
        let SolidError::Joint(JointFault::RootTooWide { least_m: Some(named), .. }) = error else {
            panic!("{error}")
        };
        assert!(hub_m < named && named < 0.03, "{named}");
        assert!(error.to_string().contains(&format!("at least {:.1} mm", 1e3 * named)), "{error}");
        let made = PropellerSurface::new(&table, plan(blades, named))
            .unwrap_or_else(|e| panic!("{blades} {named}: {e}"));
        let setting = SettingAngle { angle_deg: 15.0, radius_ratio: 0.75 };
        made.at(Some(setting), &Silent).unwrap_or_else(|e| panic!("{blades} {named}: {e}"));
    }
    let crowded = PropellerSurface::new(&table, plan(9, 0.011)).err().unwrap().to_string();
    assert!(crowded.contains("fewer blades"), "{crowded}");
}
