//! Screws: sections wrapped on cylinders about the axis of rotation.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests; figures for the page of results"
)]

use bladeform_measure::{MeasurePlan, ScanInput, measure};
use bladeform_quantity::StationRadii;
use bladeform_solid::{
    MovesSections, PlanFault, PropellerSurface, SettingAngle, Silent, SolidError, SolidFormat, SolidPlan,
    StepUnit, templates,
};
use bladeform_specimen::{Lofted, SeriesScrew};
use bladeform_table::{Frame, SectionOutline, SectionSurface, Setting, SettingOf, Station, StationTable};

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

/// A station as the series has it: figures by the definitions, and the outline along its own chord line.
fn station_of(screw: &SeriesScrew, ratio: f64) -> Station {
    let truth = screw.truth(ratio);
    let (sin, cos) = truth.blade_angle_deg.to_radians().sin_cos();
    let outline: Vec<[f64; 2]> = screw
        .exact_outline(ratio * screw.radius_m)
        .iter()
        .map(|p| [p[0] - truth.mid_chord_m[0], p[1] - truth.mid_chord_m[1]])
        .map(|d| [0.5 * truth.chord_m - d[0] * cos - d[1] * sin, d[1] * cos - d[0] * sin])
        .collect();
    Station {
        chord_m: Some(truth.chord_m),
        blade_angle_deg: Some(truth.blade_angle_deg),
        thickness_ratio: Some(truth.thickness_ratio),
        camber_ratio: Some(truth.camber_ratio),
        mid_chord_x_m: Some(truth.mid_chord_m[0]),
        mid_chord_y_m: Some(truth.mid_chord_m[1]),
        outline: Some(SectionOutline::from_points(&outline)),
        ..Station::at(ratio * screw.radius_m, screw.radius_m)
    }
}

/// Thickness between face and back at fractions of the chord.
fn heights(s: &Station, places: &[f64]) -> Vec<f64> {
    let points: Vec<[f64; 2]> = s.outline.as_ref().unwrap().points().collect();
    let at = |share: &f64| {
        let x = share * s.chord_m.unwrap();
        let crossed =
            points.iter().zip(points.iter().cycle().skip(1)).filter(|(a, b)| (a[0] <= x) != (b[0] <= x));
        let y = crossed.map(|(a, b)| a[1] + (b[1] - a[1]) * (x - a[0]) / (b[0] - a[0]));
        let [low, high] = y.fold([f64::MAX, f64::MIN], |[l, h], y| [l.min(y), h.max(y)]);
        high - low
    };
    places.iter().map(at).collect()
}

/// The published sections of a B4-70 screw of 0.5 m (Oosterveld and van Oossanen 1975) through the solid and back: table, solid, triangles, measured on cylinders.
#[test]
fn published_sections_come_back_from_a_solid() {
    let screw = SeriesScrew::new(0.5, 4, 0.70, 1.0);
    let ratios = [0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.925, 0.95, 0.975];
    let mut exact = table(4);
    exact.blade.radius_m = screw.radius_m;
    exact.blade.root_radius_m = Some(screw.hub_radius_m);
    exact.stations = ratios.iter().map(|r| station_of(&screw, *r)).collect();
    let plan = SolidPlan { blades: 4, tolerance_m: 1e-4, hub_length_m: Some(0.16), ..SolidPlan::default() };
    let propeller = PropellerSurface::new(&exact, plan).unwrap();
    let mut stl = Vec::new();
    propeller.at(None, &Silent).unwrap().solid.write(SolidFormat::Stl, false, &mut stl).unwrap();
    let asked = MeasurePlan {
        diameter_m: Some(0.5),
        resolution_m: Some(0.0),
        stations: StationRadii::Ratios(vec![0.5, 0.7]),
        sections: SectionSurface::Cylinder,
        ..MeasurePlan::default()
    };
    let found = measure(ScanInput::file(&stl, "solid.stl"), &asked, &Silent).unwrap();
    let places = [0.1, 0.2, 0.3, 0.442, 0.6, 0.8, 0.9];
    for (ratio, s) in [0.5, 0.7].iter().zip(&found.blades[0].stations) {
        let t = screw.truth(*ratio);
        let turned = s.blade_angle_deg.unwrap() - t.blade_angle_deg;
        let chord = s.chord_m.unwrap() / t.chord_m - 1.0;
        let off = heights(s, &places)
            .iter()
            .zip(heights(&station_of(&screw, *ratio), &places))
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        println!(
            "{ratio} R: angle {turned:+.4} deg, chord {:+.4} %, ordinates within {:.4} mm",
            100.0 * chord,
            1e3 * off
        );
        assert!(turned.abs() < 0.02 && chord.abs() < 5e-4 && off < 5e-5);
    }
}
