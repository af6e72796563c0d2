//! Screws: sections wrapped on cylinders about the axis of rotation.

use bladeform_solid::{
    MovesSections, PlanFault, PropellerSurface, SettingAngle, Silent, SolidError, SolidPlan, StepUnit,
    templates,
};
use bladeform_table::{Frame, SectionSurface, Setting, SettingOf, StationTable};

/// A screw with wide, skewed and raked blades: chords of a B4-70 screw of 1 m (Oosterveld and van Oossanen 1975), the mid-chords set back by up to 20 deg.
fn table(blades: u32) -> StationTable {
    let rows: String = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95]
        .iter()
        .zip([1.662, 1.882, 2.050, 2.152, 2.187, 2.144, 1.970, 1.582, 1.2])
        .map(|(ratio, k)| {
            let (r, chord) = (0.5 * ratio, k * 0.7 / f64::from(blades));
            let angle = (1.0 / (std::f64::consts::TAU * r)).atan();
            let x = -r * 0.35 * ratio * ratio;
            let y = x * angle.tan() - 0.2 * r;
            format!(
                r#"{{"radius_m": {r}, "chord_m": {chord}, "blade_angle_deg": {}, "thickness_ratio": {}, "camber_ratio": 0.02, "mid_chord_x_m": {x}, "mid_chord_y_m": {y}}}"#,
                angle.to_degrees(),
                0.05 * (1.1 - ratio) / chord
            )
        })
        .collect::<Vec<_>>()
        .join(",");
    let text = format!(r#"{{"blade": {{"radius_m": 0.5, "root_radius_m": 0.09}}, "stations": [{rows}]}}"#);
    let mut table = bladeform_document::read_json(text.as_bytes()).unwrap();
    let of = SettingOf::Chord;
    table.blade.setting = Some(Setting { angle_deg: 0.0, radius_ratio: 0.75, of, extra: Default::default() });
    table.frame = Some(Frame { sections: SectionSurface::Cylinder, ..Frame::default() });
    table
}

#[test]
fn a_screw_is_closed_and_its_sections_lie_on_their_cylinders() {
    // Seven blades overlap around the hub, and only slanted sectors hold them.
    for blades in [3, 7] {
        let table = table(blades);
        let plan = SolidPlan { blades, tolerance_m: 4e-4, ..SolidPlan::default() };
        let propeller = PropellerSurface::new(&table, plan).unwrap();
        let made = propeller.at(None, &Silent).unwrap();
        let facts = made.solid.facts();
        let off = facts.volume_m3 / made.section_volume_m3 - 1.0;
        println!("{blades} blades: {} triangles, volume {off:+.2e}", facts.triangles);
        assert!(off.abs() < 2e-3, "{off}");
        let surface = propeller.blade();
        for ratio in [0.25, 0.5, 0.8, 0.99] {
            let v = surface.v_of_radius(0.5 * ratio);
            for u in [0.0, 0.3, 0.5, 0.9] {
                let p = surface.point(u, v);
                assert!((p[0].hypot(p[2]) - 0.5 * ratio).abs() < 1e-12);
            }
        }
    }
}

#[test]
fn files_of_screws_keep_to_the_exact_surface_and_are_closed() {
    for (blades, with_hub, is_left) in [(3, true, false), (7, true, true), (1, false, false)] {
        let table = table(if with_hub { blades } else { 4 });
        let propeller = PropellerSurface::new(&table, SolidPlan { blades, ..SolidPlan::default() }).unwrap();
        let blade = propeller.blade();
        let blade = if is_left { blade.mirrored() } else { blade.clone() };
        let file =
            blade.step(propeller.hub().map(|hub| (hub, blades)), "screw", StepUnit::Millimetre).unwrap();
        println!("{blades}: {} bytes, {:.2e} m", file.text.len(), file.edge_error_m);
        if let Ok(folder) = std::env::var("BLADEFORM_KEEP") {
            std::fs::write(format!("{folder}/screw-{blades}.step"), &file.text).unwrap();
        }
        assert!(file.edge_error_m < 2e-8, "{}", file.edge_error_m);
        // Every edge belongs to two faces, which run against each other.
        let mut uses = std::collections::HashMap::<&str, [u32; 2]>::new();
        for line in file.text.lines().filter(|l| l.contains("ORIENTED_EDGE")) {
            let parts: Vec<_> = line.split(',').collect();
            uses.entry(parts[3]).or_default()[usize::from(parts[4].starts_with(".T."))] += 1;
        }
        assert!(uses.values().all(|n| *n == [1, 1]));
    }
}

#[test]
fn a_screw_is_built_as_it_was_measured_and_its_templates_are_developed() {
    let table = table(4);
    let refused = |plan: SolidPlan, setting| {
        let made = PropellerSurface::new(&table, SolidPlan { blades: 4, tolerance_m: 1e-3, ..plan });
        match made.and_then(|p| p.at(setting, &Silent)) {
            Err(SolidError::Plan(PlanFault::SectionsOnCylinders(what))) => Some(what),
            _ => None,
        }
    };
    let at = SettingAngle { angle_deg: 20.0, radius_ratio: 0.75 };
    assert_eq!(refused(SolidPlan::default(), Some(at)), Some(MovesSections::Setting));
    let plan = SolidPlan { diameter_m: Some(1.1), ..SolidPlan::default() };
    assert_eq!(refused(plan, None), Some(MovesSections::Diameter));
    let plan = SolidPlan { shank_diameter_m: Some(0.05), ..SolidPlan::default() };
    assert_eq!(refused(plan, None), Some(MovesSections::Shank));
    let propeller = PropellerSurface::new(&table, SolidPlan { blades: 4, ..SolidPlan::default() }).unwrap();
    let sheets = templates(&table, propeller.blade(), 0.0, true);
    // The drawn chord is that of the table, though the straight distance of its ends in space is less.
    let sheet = &sheets[4];
    let length =
        (sheet.chord_mm[0][0] - sheet.chord_mm[1][0]).hypot(sheet.chord_mm[0][1] - sheet.chord_mm[1][1]);
    assert!((length - 1e3 * table.stations[4].chord_m.unwrap()).abs() < 1e-6);
    assert!(sheet.notes.iter().any(|n| n.starts_with("developed from the cylinder of 300.0 mm radius")));
}
