//! Both ends of a lone blade: things that have grown onto its root end and tips that do not run out are said with what they do to the scale; sound blades are quiet.

use crate::tried;
use bladeform_measure::{MeasurePlan, ScanInput, Silent, measure};
use bladeform_quantity::StationRadii;
use bladeform_specimen::{
    Axis, Blade, DrawnBlade, Edge, Foot, FootedBlade, Form, Lofted, MadeScan, Photogrammetry, ScanPlan,
    SectionKind, Sections, ShapedBlade, Truth, photographed_blade, scan_of_lofted, scan_of_rows,
};
use bladeform_table::StationTable;

/// Measures a scan at two stations with the length and root radius that the owner states, m.
fn table(scan: &MadeScan, length_m: f64, root_radius_m: f64) -> StationTable {
    let plan = MeasurePlan {
        length_m: Some(length_m),
        root_radius_m: Some(root_radius_m),
        resolution_m: Some(0.0),
        stations: StationRadii::Ratios(vec![0.6, 0.75]),
        ..MeasurePlan::default()
    };
    measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap()
}

/// The sentence of a code, if there is one.
fn sentence(table: &StationTable, code: &str) -> Option<String> {
    table.warnings.iter().find(|w| w.code() == code).map(|w| w.sentence().to_owned())
}

/// The sentence about a step, if there is one.
fn said(table: &StationTable) -> Option<String> {
    sentence(table, "step-at-root")
}

fn of_lofted(shape: &dyn Lofted, plan: &ScanPlan) -> StationTable {
    let length_m = shape.tip_radius_m() - shape.root_radius_m();
    table(&scan_of_lofted(shape, plan), length_m, shape.root_radius_m())
}

/// A number in a sentence, before a text that follows it.
fn number_before(sentence: &str, text: &str) -> f64 {
    let before = sentence.split(text).next().unwrap();
    before.rsplit(' ').next().unwrap().parse().unwrap()
}

#[test]
fn a_thing_grown_onto_the_root_is_said_with_its_place_and_the_scale_without_it() {
    for &(what, foot, thick_m) in tried(
        &[
            ("rod", Foot::Round(0.010), 0.1),
            ("long rod", Foot::Round(0.010), 0.3),
            ("block", Foot::Rectangle([0.07, 0.07]), 0.06),
            ("plate", Foot::Rectangle([0.2, 0.2]), 0.015),
            ("thin plate", Foot::Rectangle([0.2, 0.2]), 0.01),
            ("bar", Foot::Rectangle([0.15, 0.015]), 0.03),
            ("round stand", Foot::Round(0.1), 0.02),
        ],
        4,
    ) {
        let blade = Blade::quarry_mill();
        for noise_m in [0.0, 2e-4] {
            let plan = ScanPlan { triangles: 80_000, noise_m, any_pose: true, ..ScanPlan::clean(3) };
            let footed = FootedBlade { blade: blade.clone(), foot, foot_length_m: thick_m };
            let table = table(&scan_of_lofted(&footed, &plan), blade.length_m(), blade.root_radius_m);
            let said = said(&table).unwrap_or_else(|| panic!("{what}, {noise_m}: {:?}", table.warnings));
            println!("{what}, noise {noise_m} m: {said}");
            // What the table's scale makes of the thing: an edge of a triangle is some 4 mm long.
            let whole_m = blade.length_m() + thick_m;
            let scale = blade.length_m() / whole_m;
            let distance = 1e-3 * number_before(&said, " mm from the root end") - scale * thick_m;
            assert!(distance.abs() < 4e-3, "{what}: {distance} m off");
            let percent = number_before(&said, " % too small") - 100.0 * (1.0 / scale - 1.0);
            assert!(percent.abs() < 0.4, "{what}: {percent} % off");
            assert!(said.contains("cut it off the scan"), "{said}");
        }
    }
}

#[test]
fn without_a_known_length_the_radii_are_said_to_be_off() {
    let blade = Blade::quarry_mill();
    let footed = FootedBlade { blade, foot: Foot::Rectangle([0.07, 0.07]), foot_length_m: 0.06 };
    let scan = scan_of_lofted(&footed, &ScanPlan { triangles: 80_000, ..ScanPlan::clean(3) });
    let plan = MeasurePlan {
        unit_m: Some(1.0),
        root_radius_m: Some(0.12),
        resolution_m: Some(0.0),
        stations: StationRadii::Ratios(vec![0.6]),
        ..MeasurePlan::default()
    };
    let said = said(&measure(ScanInput::mesh(&scan.mesh, "scan"), &plan, &Silent).unwrap()).unwrap();
    let off = number_before(&said, " mm too large");
    assert!((off - 60.0).abs() < 4.0 && !said.contains("too small"), "{said}");
}

/// A blade whose tip is cut off across the span: the scan closes the cut by a flat face.
struct Cut {
    blade: Blade,
    /// Radius of the cut, m.
    tip_m: f64,
}

impl Lofted for Cut {
    fn root_radius_m(&self) -> f64 {
        self.blade.root_radius_m
    }
    fn tip_radius_m(&self) -> f64 {
        self.tip_m
    }
    fn is_left_handed(&self) -> bool {
        false
    }
    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        self.blade.outline(radius_m)
    }
    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        self.blade.truth(radius_ratio * self.tip_m / self.blade.radius_m)
    }
}

#[test]
fn a_closed_tip_that_was_cut_off_is_said_with_what_it_does_to_the_scale() {
    for (share, noise_m) in
        [(0.005, 0.0), (0.01, 0.0), (0.01, 2e-4), (0.02, 0.0), (0.03, 2e-4), (0.05, 0.0), (0.1, 4e-4)]
    {
        let blade = Blade::quarry_mill();
        let cut = Cut { tip_m: blade.radius_m - share * blade.length_m(), blade: blade.clone() };
        let plan = ScanPlan { triangles: 80_000, noise_m, any_pose: true, ..ScanPlan::clean(7) };
        let table = table(&scan_of_lofted(&cut, &plan), blade.length_m(), blade.root_radius_m);
        let said = sentence(&table, "tip-square").unwrap_or_else(|| panic!("{share}: {:?}", table.warnings));
        println!("{share} of the length, noise {noise_m} m: {said}");
        assert!(said.contains("scale") && said.contains("all sizes"), "{said}");
        let inboard = blade.chord_m(cut.tip_m - 0.1 * (cut.tip_m - blade.root_radius_m));
        let percent = number_before(&said, " % of the one") - 100.0 * blade.chord_m(cut.tip_m) / inboard;
        // The chord is read up to 0.004 of the length inboard of the cut.
        assert!(-2.0 < percent && percent < 8.0, "{share}: {percent} off");
    }
}

/// A blade whose round shank ends in a flange, with the sharp shoulders of a turned part.
struct Flanged {
    blade: Blade,
    /// Radius and thickness of the flange, m.
    flange_m: [f64; 2],
}

impl Lofted for Flanged {
    fn root_radius_m(&self) -> f64 {
        self.blade.root_radius_m
    }
    fn tip_radius_m(&self) -> f64 {
        self.blade.radius_m
    }
    fn is_left_handed(&self) -> bool {
        false
    }
    fn exact_outline(&self, radius_m: f64) -> Vec<[f64; 2]> {
        let outline = self.blade.outline(radius_m);
        if self.blade.root_radius_m + self.flange_m[1] < radius_m {
            return outline;
        }
        outline.into_iter().map(|p| p.map(|x| x * self.flange_m[0] / self.blade.shank_radius_m)).collect()
    }
    fn exact_truth(&self, radius_ratio: f64) -> Truth {
        self.blade.truth(radius_ratio)
    }
}

/// Photographed scans of drawn blades; sixty were tried once.
const PHOTOGRAPHED: u64 = 4;

#[test]
fn sound_blades_of_every_kind_are_quiet() {
    let mut count = 0;
    let mut quiet = |what: String, table: StationTable| {
        count += 1;
        assert_eq!(said(&table), None, "{what}");
        // Loose pieces that were taken for a part of the blade may lie beyond its tip.
        if sentence(&table, "pieces").is_some() {
            return;
        }
        // The plates are cut off square.
        assert_eq!(sentence(&table, "tip-square").is_some(), what.starts_with("Plate"), "{what}");
    };
    let plan = |triangles, noise_m, seed| ScanPlan {
        triangles,
        noise_m,
        any_pose: true,
        holes: if 0.0 < noise_m { 5 } else { 0 },
        ..ScanPlan::clean(seed)
    };
    for &kind in tried(&[SectionKind::FlatFaced, SectionKind::FourDigit, SectionKind::ClarkY], 1) {
        for &(triangles, noise_m, seed) in
            tried(&[(80_000, 2e-4, 2), (10_000, 0.0, 1), (150_000, 4e-4, 3)], 1)
        {
            let blade = Blade::quarry_mill().with_kind(kind);
            let plan = plan(triangles, noise_m, seed);
            quiet(format!("{kind:?}, {triangles}"), of_lofted(&blade, &plan));
            let without_shank = Blade { shank_radius_m: 0.0, ..blade.clone() };
            quiet(format!("{kind:?} without a shank, {triangles}"), of_lofted(&without_shank, &plan));
            // The transition from round to blade within 4 % of the tip radius.
            let sudden = Blade { transition: [0.14, 0.18], ..blade };
            quiet(format!("{kind:?}, short transition, {triangles}"), of_lofted(&sudden, &plan));
        }
    }
    for &flange_m in tried(&[[0.055, 0.02], [0.065, 0.015], [0.07, 0.03]], 1) {
        let flanged = Flanged { blade: Blade::quarry_mill(), flange_m };
        quiet(format!("flange {flange_m:?}"), of_lofted(&flanged, &plan(80_000, 2e-4, 4)));
    }
    for form in [
        Form::Plate { thickness_m: 0.003, camber: 0.06 },
        Form::Skewed,
        Form::RisingTwist,
        Form::HollowBack,
        Form::CamberOfBothSigns,
    ] {
        let shape = ShapedBlade { form, radius_m: 1.0, root_radius_m: 0.1 };
        for &(any_pose, seed) in tried(&[(true, 5), (false, 5), (false, 0)], 1) {
            let plan = ScanPlan { any_pose, ..plan(80_000, 1e-4, seed) };
            quiet(format!("{form:?}, {any_pose}, {seed}"), of_lofted(&shape, &plan));
        }
    }
    for &(rows, around) in tried(&[(12, 200), (40, 60), (500, 24)], 1) {
        let blade = Blade::quarry_mill();
        let radii: Vec<f64> =
            (0..rows).map(|i| 0.12 + (1.3 - 5e-5) * f64::from(i) / f64::from(rows - 1)).collect();
        let scan = scan_of_rows(&blade, &radii, around, &ScanPlan::clean(6));
        quiet(format!("{rows} rings of {around}"), table(&scan, 1.3, 0.12));
    }
    for &seed in tried(&(0..PHOTOGRAPHED).collect::<Vec<_>>(), 1) {
        let sections = match seed % 3 {
            0 => Sections::ClarkY,
            1 => Sections::Free { nose: Edge::Blunt, tail: Edge::Square },
            _ => Sections::Free { nose: Edge::Compass, tail: Edge::Sharp },
        };
        let axis = if seed % 2 == 0 { Axis::Shank } else { Axis::Centroids };
        let blade = DrawnBlade::drawn(seed, sections, axis, 0.5);
        let plan = Photogrammetry { triangles: 60_000, ..Photogrammetry::drawn(seed) };
        let scan = photographed_blade(&blade, &plan);
        quiet(format!("photographed {seed}"), table(&scan, blade.length_m(), blade.root_radius_m));
    }
    println!("{count} sound blades, none of them with a step or a cut tip");
    assert!(11 <= count, "{count}");
}

#[test]
fn a_vertex_a_little_past_the_tip_is_within_the_interval_of_the_scale() {
    // Too little to be told from a pointed tip: the end is anywhere between it and its neighbours.
    let blade = Blade::quarry_mill();
    for &noise_m in tried(&[1e-4, 0.0], 1) {
        let plan = ScanPlan { triangles: 80_000, noise_m, ..ScanPlan::clean(5) };
        let mut scan = scan_of_lofted(&blade, &plan);
        let farthest = scan.mesh.vertices.iter_mut().max_by(|a, b| a[2].total_cmp(&b[2])).unwrap();
        farthest[2] = blade.radius_m + 5e-3;
        let table = table(&scan, blade.length_m(), blade.root_radius_m);
        let scale = table.scale.as_ref().unwrap();
        let (off, u) = (scale.metres_per_unit.unwrap() - 1.0, scale.relative_uncertainty.unwrap());
        println!("noise {noise_m} m: scale off by {off:.5}, u {u:.5}");
        assert!(off.abs() < 2.5 * u, "{off} of {u}");
        for s in &table.stations {
            let truth = blade.truth(s.radius_ratio);
            let off = (s.chord_m.unwrap() - truth.chord_m) / s.u.chord_m.unwrap();
            assert!(off.abs() < 3.0, "{}: {off}", s.radius_ratio);
        }
    }
}
