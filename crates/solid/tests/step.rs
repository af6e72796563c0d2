//! Checks the requirements of ISO 10303-42 for a closed shell in the STEP files.

use std::collections::HashMap;

use bladeform_solid::{BoltCircle, Bolts, PropellerSurface, SolidPlan, StepUnit};

const TABLE: &str = r#"{"blade": {"radius_m": 0.5, "root_radius_m": 0.06}, "stations": [
  {"radius_m": 0.15, "chord_m": 0.060, "blade_angle_deg": 40.0, "thickness_ratio": 0.20, "camber_ratio": 0.02},
  {"radius_m": 0.30, "chord_m": 0.066, "blade_angle_deg": 25.0, "thickness_ratio": 0.12, "camber_ratio": 0.03},
  {"radius_m": 0.45, "chord_m": 0.048, "blade_angle_deg": 17.0, "thickness_ratio": 0.08, "camber_ratio": 0.03}]}"#;

/// Entities by number: name and the text in its parentheses.
fn entities(text: &str) -> HashMap<&str, (&str, &str)> {
    let lines = text.lines().filter_map(|l| l.strip_prefix('#')?.strip_suffix(';')?.split_once('='));
    lines
        .filter_map(|(number, entity)| {
            let (name, rest) = entity.split_once('(')?;
            Some((number, (name, rest.strip_suffix(')')?)))
        })
        .collect()
}

/// Numbers of the entities that an entity refers to.
fn named(inside: &str) -> Vec<&str> {
    inside.split(['(', ')', ',']).filter_map(|part| part.strip_prefix('#')).collect()
}

#[test]
fn every_edge_has_two_faces_that_run_against_each_other_and_the_shell_is_a_ball() {
    let table = bladeform_document::read_json(TABLE.as_bytes()).unwrap();
    let bolts = BoltCircle { count: 6, hole_diameter_m: 0.01, circle_diameter_m: 0.1, first_deg: Some(10.0) };
    let full = [None, Some(1_u32), Some(2), Some(3), Some(5)].map(|blades| (blades, None, None, None));
    // With a bore through a nose; with bolt holes; with both.
    let drilled = [
        (Some(3), Some(0.05), None, Some(0.04)),
        (Some(2), None, Some(bolts), None),
        (Some(1), Some(0.05), Some(bolts), None),
    ];
    for is_left in [false, true] {
        // None: only the blade.
        for (blades, bore_diameter_m, bolts, nose_length_m) in full.into_iter().chain(drilled) {
            let hub_diameter_m = blades.map(|_| 0.14);
            let plan = SolidPlan {
                blades: blades.unwrap_or(1),
                hub_diameter_m,
                bore_diameter_m,
                bolts: bolts.map_or(Bolts::None, Bolts::Given),
                nose_length_m,
                ..SolidPlan::default()
            };
            let propeller = PropellerSurface::new(&table, plan).unwrap();
            let right = propeller.blade().turned(-0.1);
            let blade = if is_left { right.mirrored() } else { right };
            let hub = propeller.hub().zip(blades);
            let file = blade.step(hub, "p", StepUnit::Millimetre).unwrap();
            assert!(file.edge_error_m < 1e-8, "{}", file.edge_error_m);
            assert_eq!(0.0 < file.edge_error_m, blades.is_some());
            let described = if blades.is_some() { "'Propeller, smooth" } else { "'Propeller blade, smooth" };
            assert!(file.text.contains(described));
            assert!(file.text.contains("LENGTH_MEASURE(0.000010000000)"), "1e-8 m is declared");
            let all = entities(&file.text);
            let of = |name: &str| all.values().filter(|e| e.0 == name).map(|e| e.1).collect::<Vec<_>>();
            assert_eq!(of("MANIFOLD_SOLID_BREP").len(), 1);
            let [shell] = of("CLOSED_SHELL")[..] else { panic!("one shell") };
            let faces = of("ADVANCED_FACE");
            assert_eq!(named(shell).len(), faces.len());
            let mut uses: HashMap<&str, Vec<&str>> = HashMap::new();
            for oriented in of("ORIENTED_EDGE") {
                let parts: Vec<_> = oriented.split(',').collect();
                uses.entry(parts[3]).or_default().push(parts[4]);
            }
            let edges = of("EDGE_CURVE");
            assert_eq!(uses.len(), edges.len());
            for (edge, mut senses) in uses {
                senses.sort_unstable();
                assert_eq!(senses, [".F.", ".T."], "{edge}");
            }
            // Loops: each vertex has as many outgoing as incoming edges.
            for edge_loop in of("EDGE_LOOP") {
                let ends: Vec<[&str; 2]> = named(edge_loop)
                    .iter()
                    .map(|o| {
                        let oriented: Vec<_> = all[o].1.split(',').collect();
                        let curve = named(all[oriented[3].trim_start_matches('#')].1);
                        if oriented[4] == ".T." { [curve[0], curve[1]] } else { [curve[1], curve[0]] }
                    })
                    .collect();
                for (k, e) in ends.iter().enumerate() {
                    assert_eq!(e[1], ends[(k + 1) % ends.len()][0], "{edge_loop}");
                }
            }
            let holes = of("FACE_BOUND").len();
            let [bores, drilled] =
                [usize::from(bore_diameter_m.is_some()), bolts.map_or(0, |b| b.count as usize)];
            // A bore is a hole in each flat end, and has no flat end at a nose.
            let ends = if nose_length_m.is_some() { 1 } else { 2 };
            assert_eq!(holes, blades.unwrap_or(0) as usize + ends * bores + 2 * drilled);
            let handles = (bores + drilled) as i64;
            // Euler and Poincare: V - E + F - (holes in faces) = 2 - 2 (handles) for one shell (M. Mantyla, "An introduction to solid modeling", 1988).
            let v = of("VERTEX_POINT").len() as i64;
            assert_eq!(
                v - edges.len() as i64 + faces.len() as i64 - holes as i64,
                2 - 2 * handles,
                "{blades:?} blades, left: {is_left}"
            );
        }
    }
}
