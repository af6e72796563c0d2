//! Scans whose leading or trailing edge is missing all along the span: every figure contains the truth within its interval, or is withheld with a flag.

use crate::tried;
use bladeform_measure::{KnownAngle, MeasurePlan, ScanInput, Silent, measure};
use bladeform_mesh::RawMesh;
use bladeform_quantity::{Hand, StationRadii};
use bladeform_specimen::{Blade, ScanPlan, SectionKind, Truth, scan_of_blade};
use bladeform_table::{ColumnUnit, Station, StationColumn, StationTable};

/// Triangles of the scans: an edge is about 3 mm long, 1.5 % of the chord.
const TRIANGLES: usize = 100_000;
/// The parts of the chord that were not scanned.
const TAILS: [f64; 4] = [0.003, 0.01, 0.03, 0.05];
const NOSES: [f64; 3] = [0.005, 0.02, 0.06];

/// Part of the chord that is missing, from the nose or from the tail.
#[derive(Debug, Clone, Copy)]
enum Missing {
    Nose(f64),
    Tail(f64),
}

/// The scan without the triangles that reach into the missing part, from the first full section outwards.
fn without(mesh: RawMesh, blade: &Blade, missing: Missing) -> RawMesh {
    without_between(mesh, blade, missing, [blade.transition[1], f64::INFINITY])
}

/// The same between two fractions of the tip radius.
fn without_between(mut mesh: RawMesh, blade: &Blade, missing: Missing, [from, to]: [f64; 2]) -> RawMesh {
    let place = |p: [f64; 3]| {
        let (angle, mid) = (blade.angle_rad(p[2]), blade.mid_chord(p[2]));
        let ahead = (p[0] - mid[0]) * angle.cos() + (p[1] - mid[1]) * angle.sin();
        0.5 - ahead / blade.chord_m(p[2])
    };
    let vertices = &mesh.vertices;
    mesh.faces.retain(|f| {
        f.iter().map(|&v| vertices[v as usize]).all(|p| {
            let x = place(p);
            p[2] < from * blade.radius_m
                || to * blade.radius_m < p[2]
                || match missing {
                    Missing::Nose(part) => part <= x,
                    Missing::Tail(part) => x <= 1.0 - part,
                }
        })
    });
    mesh
}

fn plan(blade: &Blade) -> MeasurePlan {
    MeasurePlan {
        length_m: Some(blade.length_m()),
        diameter_m: Some(2.0 * blade.radius_m),
        // The surfaces of these scans are not smoothed.
        resolution_m: Some(0.0),
        hand: Some(Hand::Right),
        stations: StationRadii::Count(12),
        ..MeasurePlan::default()
    }
}

fn measured(mesh: &RawMesh, blade: &Blade) -> StationTable {
    measure(ScanInput::mesh(mesh, "scan"), &plan(blade), &Silent).unwrap()
}

/// The exact value of a figure where the zero of the angles is the chord line at 0.75 R.
fn exact(column: StationColumn, t: &Truth, reference: &Truth) -> Option<f64> {
    use StationColumn as C;
    let zero = reference.blade_angle_deg;
    let (sin, cos) = zero.to_radians().sin_cos();
    Some(match column {
        C::ChordM => t.chord_m,
        C::BladeAngleDeg => t.blade_angle_deg - zero,
        C::FaceAngleDeg => t.face_angle_deg - zero,
        C::LongestChordAngleDeg => t.longest_chord_angle_deg - zero,
        C::ThicknessM => t.thickness_m,
        C::ThicknessRatio => t.thickness_ratio,
        C::ThicknessPosition => t.thickness_position,
        C::CamberRatio => t.camber_ratio,
        C::CamberPosition => t.camber_position,
        C::LongestChordM => t.longest_chord_m,
        C::LeadingEdgeRadiusM => t.leading_edge_radius_m,
        C::TrailingEdgeThicknessM => t.trailing_edge_thickness_m,
        C::AreaM2 => t.area_m2,
        C::MidChordXM => t.mid_chord_m[0] * cos + t.mid_chord_m[1] * sin,
        C::MidChordYM => t.mid_chord_m[1] * cos - t.mid_chord_m[0] * sin,
        _ => return None,
    })
}

/// Stations whose sections are full and not part of the rounded tip.
fn full(table: &StationTable) -> impl Iterator<Item = &Station> {
    table.stations.iter().filter(|s| (0.3..0.9).contains(&s.radius_ratio))
}

fn scan(blade: &Blade, noise_m: f64) -> RawMesh {
    let plan = ScanPlan { triangles: TRIANGLES, noise_m, ..ScanPlan::clean(7) };
    scan_of_blade(blade, &plan).mesh
}

/// Whether a flag of the station says that the figures without an edge are not given.
fn says_not_given(s: &Station) -> bool {
    s.flags.iter().any(|f| f.code().starts_with("gap-at-") && f.sentence().contains("not given"))
}

/// What is wrong with a scan without an edge: figures whose interval, wider by the error of the sound scan at the same station, does not hold the truth, and
/// stations without a word.
fn faults(table: &StationTable, sound: &StationTable, blade: &Blade, code: &str) -> Vec<String> {
    let reference = blade.truth(0.75);
    // Without the section at the reference radius the angles have no zero, and a warning says so.
    let no_zero = table.warnings.iter().any(|w| w.code() == "no-reference");
    let mut faults = Vec::new();
    for (s, other) in full(table).zip(full(sound)) {
        let at = format!("{:.2} R", s.radius_ratio);
        let t = blade.truth(s.radius_ratio);
        if !s.flags.iter().any(|f| f.code() == code) {
            faults.push(format!("{at}: no {code}"));
        }
        for &column in StationColumn::FIGURES {
            let turned = column.unit() == ColumnUnit::Degree
                || matches!(column, StationColumn::MidChordXM | StationColumn::MidChordYM);
            if no_zero && turned {
                continue;
            }
            let Some(true_one) = exact(column, &t, &reference).filter(|v| v.is_finite()) else { continue };
            let Some(found) = column.get(s) else {
                let unsaid = column != StationColumn::LeadingEdgeRadiusM && !says_not_given(s);
                faults.extend(unsaid.then(|| format!("{at}: {} withheld without a word", column.key())));
                continue;
            };
            let (off, u) = ((found - true_one).abs(), column.u(s).unwrap_or(0.0));
            let own = column.get(other).map_or(0.0, |v| (v - exact(column, &t, &reference).unwrap()).abs());
            if 2.0 * u + own < off {
                faults
                    .push(format!("{at}: {} is {found} of {true_one}, u {u}, sound off {own}", column.key()));
            }
        }
    }
    faults
}

fn check(kind: SectionKind, noise_m: f64, cases: &[Missing]) {
    let blade = Blade::quarry_mill().with_kind(kind);
    let mesh = scan(&blade, noise_m);
    let sound = measured(&mesh, &blade);
    assert!(full(&sound).all(|s| s.flags.iter().all(|f| !f.code().starts_with("gap-at-"))));
    let mut all = Vec::new();
    for case in tried(cases, 1) {
        let code = if matches!(case, Missing::Nose(_)) { "gap-at-nose" } else { "gap-at-tail" };
        let table = measured(&without(mesh.clone(), &blade, *case), &blade);
        all.extend(faults(&table, &sound, &blade, code).into_iter().map(|f| format!("{case:?} {f}")));
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn tails_missing_from_a_quiet_scan() {
    check(SectionKind::FourDigit, 0.0, &TAILS.map(Missing::Tail));
}

#[test]
fn tails_missing_from_a_noisy_scan() {
    check(SectionKind::FourDigit, 2e-4, &TAILS.map(Missing::Tail));
}

#[test]
fn noses_missing_from_a_quiet_scan() {
    check(SectionKind::FourDigit, 0.0, &NOSES.map(Missing::Nose));
}

#[test]
fn noses_missing_from_a_noisy_scan() {
    check(SectionKind::FourDigit, 2e-4, &NOSES.map(Missing::Nose));
}

#[test]
fn edges_missing_from_sections_that_are_alike_fore_and_aft() {
    check(SectionKind::FlatFaced, 0.0, &[Missing::Tail(0.03), Missing::Nose(0.02)]);
}

/// Without a hand that is given: corners of the rim must not turn hand and edges round in silence.
#[test]
fn hand_and_edges_without_a_nose_are_certain_only_where_the_sections_show_them() {
    for kind in [SectionKind::FourDigit, SectionKind::ClarkY, SectionKind::FlatFaced] {
        for noise_m in [0.0, 2e-4] {
            let blade = Blade::quarry_mill().with_kind(kind);
            let mesh = without(scan(&blade, noise_m), &blade, Missing::Nose(0.06));
            let plan = MeasurePlan { hand: None, ..plan(&blade) };
            let table = measure(ScanInput::mesh(&mesh, "scan"), &plan, &Silent).unwrap();
            let frame = table.frame.as_ref().unwrap();
            let at_nose = full(&table).all(|s| s.flags.iter().any(|f| f.code() == "gap-at-nose"));
            assert!(frame.hand == Hand::Right && at_nose, "{kind:?} {noise_m}");
            // A flat-faced section is alike fore and aft: without a nose its lean shows the hole, not the edge.
            assert_eq!(frame.hand_certain, kind != SectionKind::FlatFaced, "{kind:?} {noise_m}");
        }
    }
}

/// The scan without the outer part of the tail around 0.75 R, so wide that the sections there have no angle.
fn without_reference(mesh: &RawMesh, blade: &Blade, half: f64) -> RawMesh {
    let mut whole = mesh.clone();
    let open = without(mesh.clone(), blade, Missing::Tail(0.25));
    let kept: std::collections::HashSet<[u32; 3]> = open.faces.into_iter().collect();
    let vertices = &whole.vertices;
    whole.faces.retain(|f| {
        let near = |v: u32| ((vertices[v as usize][2] / blade.radius_m) - 0.75).abs() < half;
        kept.contains(f) || !f.iter().any(|&v| near(v))
    });
    whole
}

/// The angles keep their zero, or count from another section that the table names; they are never left in the axes of the scan.
#[test]
fn angles_have_a_zero_where_the_reference_section_was_not_scanned() {
    let blade = Blade::quarry_mill();
    let mesh = scan(&blade, 2e-4);
    let known = KnownAngle { angle_deg: blade.truth(0.75).blade_angle_deg, radius_ratio: None };
    for (half, code, setting) in [
        (0.03, "reference-between", None),
        (0.03, "reference-between", Some(known)),
        (0.15, "no-reference", None),
        (0.15, "no-reference", Some(known)),
    ] {
        let plan = MeasurePlan { setting, ..plan(&blade) };
        let open = without_reference(&mesh, &blade, half);
        let table = measure(ScanInput::mesh(&open, "scan"), &plan, &Silent).unwrap();
        let codes: Vec<&str> = table.warnings.iter().map(|w| w.code()).collect();
        assert!(codes.contains(&code), "{half}: {codes:?}");
        let at = table.blade.reference_radius_ratio;
        assert_eq!(table.blade.setting.is_some(), setting.is_some() && code == "reference-between");
        assert_eq!((at - 0.75).abs() < 1e-12, code == "reference-between", "{at}");
        let zero = if table.blade.setting.is_some() { 0.0 } else { blade.truth(at).blade_angle_deg };
        let mut counted = 0;
        for s in full(&table) {
            let Some((angle, u)) = s.blade_angle_deg.zip(s.u.blade_angle_deg) else { continue };
            let off = angle - (blade.truth(s.radius_ratio).blade_angle_deg - zero);
            // At the section itself the angle is the zero; its error is that of all others.
            assert!(off.abs() <= 3.0 * u, "{half} at {:.2} R: {off} deg, u {u} deg", s.radius_ratio);
            assert!(u < 0.5, "{half} at {:.2} R: u {u} deg", s.radius_ratio);
            let smooth = s.smooth.figures[&StationColumn::BladeAngleDeg];
            let off = smooth.value - (blade.truth(s.radius_ratio).blade_angle_deg - zero);
            assert!(off.abs() <= 3.0 * smooth.u, "{half} at {:.2} R: smooth {off}", s.radius_ratio);
            counted += 1;
        }
        assert!(3 <= counted, "{half}: {counted} angles");
    }
}

/// Pieces whose triangles are wound inside out as a whole are still measured right.
#[test]
fn a_scan_that_is_wound_inside_out_gives_the_same_figures() {
    let blade = Blade::quarry_mill();
    let mesh = scan(&blade, 0.0);
    let mut turned = mesh.clone();
    turned.faces.iter_mut().for_each(|f| f.swap(1, 2));
    let (a, b) = (measured(&mesh, &blade), measured(&turned, &blade));
    for (a, b) in a.stations.iter().zip(&b.stations) {
        let (u, v) = (a.thickness_m.unwrap(), b.thickness_m.unwrap());
        assert!((u - v).abs() < 1e-9 && 0.0 < v, "{u} {v}");
    }
}

/// A hole at an edge over a twentieth of the radius: the station in it misses a part of its chord, the smooth blade has the edge from its neighbours.
#[test]
fn the_smooth_blade_bridges_an_edge_in_a_hole() {
    let blade = Blade::quarry_mill().with_kind(SectionKind::FlatFaced);
    let ask = MeasurePlan { stations: StationRadii::Count(24), ..plan(&blade) };
    for (missing, code) in [(Missing::Tail(0.03), "gap-at-tail"), (Missing::Nose(0.02), "gap-at-nose")] {
        let mesh = without_between(scan(&blade, 1e-4), &blade, missing, [0.56, 0.61]);
        let table = measure(ScanInput::mesh(&mesh, "scan"), &ask, &Silent).unwrap();
        let in_hole = |s: &&Station| s.flags.iter().any(|f| f.code() == code);
        let mut bridged = 0;
        for s in full(&table).filter(in_hole) {
            let truth = blade.truth(s.radius_ratio).chord_m;
            let smooth = s.smooth.figures[&StationColumn::ChordM];
            assert!((smooth.value - truth).abs() <= 2.0 * smooth.u, "{missing:?} {smooth:?} for {truth}");
            // Three hundredths of the chord are gone; it comes back to a tenth of that.
            assert!((smooth.value - truth).abs() < 3e-3 * truth, "{missing:?} {smooth:?} for {truth}");
            assert!(
                s.u.chord_m.is_none_or(|own| smooth.u < 0.7 * own),
                "{missing:?} {smooth:?}, {:?}",
                s.u.chord_m
            );
            bridged += 1;
        }
        assert!((1..=4).contains(&bridged), "{missing:?}: {bridged} stations");
    }
}
