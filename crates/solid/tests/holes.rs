//! Bore and bolt holes: the solid stays closed, loses the volume of the holes, and has a handle for each of them.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use std::collections::HashSet;
use std::f64::consts::PI;

use bladeform_quantity::{Hand, Measured};
use bladeform_solid::{
    BoltCircle, Bolts, HoleFault, MadeSolid, PropellerSurface, SettingAngle, Silent, SolidError, SolidNotice,
    SolidPlan,
};
use bladeform_table::{BoltFigures, Coded, HubFigures, StationTable};

const LENGTH_M: f64 = 0.08;

fn table() -> StationTable {
    let text = r#"{"blade": {"radius_m": 0.5, "root_radius_m": 0.06}, "stations": [
  {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
  {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;
    bladeform_document::read_json(text.as_bytes()).unwrap()
}

fn plan() -> SolidPlan {
    SolidPlan {
        blades: 1,
        hub_diameter_m: Some(0.14),
        hub_length_m: Some(LENGTH_M),
        nose_length_m: Some(0.0),
        tolerance_m: 4e-4,
        ..SolidPlan::default()
    }
}

fn bolts(first_deg: Option<f64>) -> BoltCircle {
    BoltCircle { count: 8, hole_diameter_m: 0.012, circle_diameter_m: 0.1, first_deg }
}

fn made(table: &StationTable, plan: SolidPlan) -> MadeSolid {
    let setting = SettingAngle { angle_deg: 20.0, radius_ratio: 0.75 };
    PropellerSurface::new(table, plan).unwrap().at(Some(setting), &Silent).unwrap()
}

/// Corners less edges plus triangles: 2 less twice the handles (Euler and Poincare).
fn characteristic(made: &MadeSolid) -> i64 {
    let mesh = made.solid.mesh();
    let sides = mesh.faces.iter().flat_map(|f| [[f[0], f[1]], [f[1], f[2]], [f[2], f[0]]]);
    let edges: HashSet<[u32; 2]> = sides.map(|[a, b]| [a.min(b), a.max(b)]).collect();
    mesh.vertices.len() as i64 - edges.len() as i64 + mesh.faces.len() as i64
}

/// The closed formula of the volume of cylinders; a nose that is drilled through is half an ellipsoid with a hole along its axis, `2/3 pi n R^2 (1 - (b/R)^2)^(3/2)`, found by integration.
#[test]
fn the_solid_loses_the_volume_of_its_holes_and_has_a_handle_for_each() {
    let table = table();
    let full = made(&table, plan());
    assert_eq!(characteristic(&full), 2);
    let cylinder = |diameter: f64| PI * (0.5 * diameter).powi(2) * LENGTH_M;
    let eight = 8.0 * cylinder(0.012);
    let first = Some(10.0);
    for (bore_m, bolts, holes, lost) in [
        (Some(0.05), Bolts::None, 1, cylinder(0.05)),
        (None, Bolts::Given(bolts(first)), 8, eight),
        (Some(0.05), Bolts::Given(bolts(first)), 9, cylinder(0.05) + eight),
    ] {
        let drilled = made(&table, SolidPlan { bore_diameter_m: bore_m, bolts, ..plan() });
        assert_eq!(characteristic(&drilled), 2 - 2 * holes, "{holes} holes");
        let formula = full.section_volume_m3 - drilled.section_volume_m3;
        assert!((formula / lost - 1.0).abs() < 1e-9, "{formula} {lost}");
        // The facets of a hole with twelve sides hold 4.5 % less than its circle.
        let triangles = full.solid.facts().volume_m3 - drilled.solid.facts().volume_m3;
        assert!((0.954..1.0).contains(&(triangles / lost)), "{holes} holes: {}", triangles / lost);
    }
    // A nose with a bore through it.
    let nosed = |bore_m| SolidPlan { bore_diameter_m: Some(bore_m), nose_length_m: Some(0.06), ..plan() };
    let (whole, drilled) = (made(&table, nosed(0.0)), made(&table, nosed(0.05)));
    assert_eq!(characteristic(&drilled), 0);
    let nose = 2.0 / 3.0 * PI * 0.06 * 0.07_f64.powi(2);
    let left = nose * (1.0 - (0.05_f64 / 0.14).powi(2)).powf(1.5);
    let lost = cylinder(0.05) + nose - left;
    let formula = whole.section_volume_m3 - drilled.section_volume_m3;
    assert!((formula / lost - 1.0).abs() < 1e-9, "{formula} {lost}");
    let triangles = whole.solid.facts().volume_m3 - drilled.solid.facts().volume_m3;
    assert!((0.97..1.0).contains(&(triangles / lost)), "{}", triangles / lost);
}

#[test]
fn finer_facets_approach_the_closed_formula_and_mass_follows() {
    let drilled = SolidPlan { bore_diameter_m: Some(0.05), bolts: Bolts::Given(bolts(Some(0.0))), ..plan() };
    let off = |tolerance_m: f64| {
        let made = made(&table(), SolidPlan { tolerance_m, ..drilled.clone() });
        let mass = made.solid.mass_properties(1000.0).mass_kg;
        assert!((mass / (1e3 * made.solid.facts().volume_m3) - 1.0).abs() < 1e-9);
        (made.solid.facts().volume_m3 / made.section_volume_m3 - 1.0).abs()
    };
    let (coarse, fine) = (off(8e-4), off(1e-4));
    assert!(fine < 1e-3 && 3.0 * fine < coarse, "{coarse} {fine}");
}

/// Where the first hole lies is stated in the direction of rotation, so that the left-hand propeller is the mirror image.
#[test]
fn the_first_hole_stands_where_it_is_stated() {
    let hole = |is_left: bool| {
        let mut table = table();
        if is_left {
            table.frame.get_or_insert_default().hand = Hand::Left;
        }
        let circle = BoltCircle { count: 2, ..bolts(Some(30.0)) };
        let made = made(&table, SolidPlan { bolts: Bolts::Given(circle), ..plan() });
        // Corners on the rear end near the circle of the bolts, mm: x and z.
        let mesh = made.solid.mesh();
        let rear = -0.5e3 * LENGTH_M;
        let near = |p: &&[f64; 3]| {
            (p[1] - rear).abs() < 1e-3 && (p[0].abs() - 25.0).hypot(p[2].abs() - 43.301) < 6.001
        };
        let found: Vec<_> = mesh.vertices.iter().filter(near).collect();
        let side = |sign: f64| found.iter().filter(|p| 0.0 < sign * p[0] * p[2]).count();
        (side(1.0), side(-1.0))
    };
    let ((right, none), (none_left, left)) = (hole(false), hole(true));
    // Two holes of 12 corners or more, and no corner in the two mirrored places but what fills the flat.
    assert!(
        24 <= right && right == left && none < 8 && none == none_left,
        "{right} {none} {none_left} {left}"
    );
}

#[test]
fn the_bore_of_the_table_is_made_unless_it_is_refused_or_another_is_given() {
    let mut table = table();
    table.hub = Some(HubFigures {
        diameter_m: Some(Measured::new(0.14, 1e-4)),
        bore_diameter_m: Some(Measured::new(0.05, 1e-4)),
        ..HubFigures::default()
    });
    let plan = SolidPlan { blades: 3, hub_diameter_m: None, nose_length_m: None, ..plan() };
    let told = |plan: SolidPlan| {
        let propeller = PropellerSurface::new(&table, plan).unwrap();
        let hub = propeller.hub().unwrap();
        let all = propeller.warnings().iter();
        let said: Vec<String> = all.filter(|w| w.code() == "hub-measured").map(Coded::sentence).collect();
        let on_blade = propeller.warnings().contains(&SolidNotice::BoltsOnBlade);
        (hub, said.join("\n"), on_blade)
    };
    let (hub, said, _) = told(plan.clone());
    assert!((hub.bore_radius_m - 0.025).abs() < 1e-12 && hub.nose_m == 0.0, "{hub:?}");
    assert!(
        said.contains("bore 50.0 mm") && said.contains("flat front") && said.contains("keyways"),
        "{said}"
    );
    let (hub, said, _) = told(SolidPlan { bore_diameter_m: Some(0.0), ..plan.clone() });
    assert!(hub.bore_radius_m == 0.0 && 0.0 < hub.nose_m, "{hub:?}");
    assert!(said.contains("is not made, as asked"), "{said}");
    let (hub, said, on_blade) =
        told(SolidPlan { bore_diameter_m: Some(0.04), bolts: Bolts::Given(bolts(None)), ..plan.clone() });
    assert!((hub.bore_radius_m - 0.02).abs() < 1e-12 && on_blade, "{hub:?}");
    assert!(
        said.contains("the given bore diameter of 40.0 mm") && !said.contains("states no bolt holes"),
        "{said}"
    );
    let narrow = SolidPlan { bore_diameter_m: Some(0.139), ..plan };
    assert!(matches!(
        PropellerSurface::new(&table, narrow),
        Err(SolidError::Holes(HoleFault::BoreTooWide { measured: false, .. }))
    ));
}

#[test]
fn bolt_holes_of_the_table_are_made_unless_others_or_none_are_asked_for() {
    let mut table = table();
    table.hub = Some(HubFigures {
        diameter_m: Some(Measured::new(0.14, 1e-4)),
        bolts: Some(BoltFigures {
            count: 8,
            seen: 5,
            closed: 2,
            hole_diameter_m: Measured::new(0.012, 1e-4),
            circle_diameter_m: Measured::new(0.1, 1e-4),
            first_deg: Measured::new(15.0, 0.1),
            extra: Default::default(),
        }),
        ..HubFigures::default()
    });
    let plan = SolidPlan { blades: 3, hub_diameter_m: None, nose_length_m: None, ..plan() };
    let told = |plan: SolidPlan| {
        let propeller = PropellerSurface::new(&table, plan).unwrap();
        let all = propeller.warnings().iter();
        let said: Vec<String> = all.filter(|w| w.code() == "bolts-measured").map(Coded::sentence).collect();
        (propeller.hub().unwrap().bolts, said.join("\n"))
    };
    let (made, said) = told(plan.clone());
    assert_eq!(made, Some(BoltCircle { first_deg: Some(15.0), ..bolts(None) }));
    assert!(said.contains("seen at 5 places") && said.contains("straight through"), "{said}");
    let (made, said) = told(SolidPlan { bolts: Bolts::None, ..plan.clone() });
    assert!(made.is_none() && said.contains("are not made, as asked"), "{said}");
    let (made, said) = told(SolidPlan { hub_diameter_m: Some(0.11), ..plan.clone() });
    assert!(made.is_none() && said.contains("no room") && said.contains("the wall of the hub"), "{said}");
    let (_, said) = told(SolidPlan { bolts: Bolts::Given(bolts(Some(60.2))), ..plan.clone() });
    assert!(said.is_empty(), "the third hole of the measured circle: {said}");
    let (_, said) = told(SolidPlan { bolts: Bolts::Given(bolts(Some(20.0))), ..plan.clone() });
    assert!(said.contains("the first at 15.0 deg"), "{said}");
    let given = BoltCircle { count: 6, ..bolts(Some(0.0)) };
    let (made, said) = told(SolidPlan { bolts: Bolts::Given(given), ..plan });
    assert!(made == Some(given) && said.contains("as given; the scan shows 8"), "{said}");
}

#[test]
fn a_lone_blade_has_no_holes() {
    let lone = SolidPlan { bore_diameter_m: Some(0.02), ..SolidPlan::default() };
    let refused = PropellerSurface::new(&table(), lone).err().unwrap();
    assert_eq!((refused.code(), refused), ("holes-contradict-hub", SolidError::Holes(HoleFault::NoHub)));
}
