//! The main task compared with published values: a blade with the same published section along the whole span.

use bladeform::measure::{KnownAngle, MeasurePlan, ScanInput, measure};
use bladeform::quantity::{Hand, StationRadii};
use bladeform::table::StationTable;
use bladeform::work::Silent;
use bladeform_mesh::{RawMesh, write_ply_binary};
use bladeform_section::Family;

/// Tip radius, root radius and chord of the blades here, m.
const RADIUS: f64 = 1.0;
const ROOT: f64 = 0.1;
const CHORD: f64 = 0.12;
/// Pitch, m. Only the twist shows which end is the tip.
const PITCH: f64 = 1.4;

/// Blade angle at a radius, rad.
fn screw(r: f64) -> f64 {
    (PITCH / (2.0 * std::f64::consts::PI * r)).atan()
}

/// A blade with the same section at every radius, rotated to the angle (rad) given for the radius (m); flat ends.
fn blade(family: Family, angle: impl Fn(f64) -> f64) -> RawMesh {
    let (rows, around) = (300, 260);
    // The published outlines are dense at the nose. A scan has evenly spaced points along the arc.
    let outline = evenly(&family.outline(4000), around);
    let mut mesh = RawMesh::default();
    for row in 0..=rows {
        let r = ROOT + (RADIUS - ROOT) * f64::from(row) / f64::from(rows);
        let (sin, cos) = angle(r).sin_cos();
        for [along, up] in &outline {
            let (forward, back) = ((0.5 - along) * CHORD, up * CHORD);
            mesh.vertices.push([forward * cos - back * sin, forward * sin + back * cos, r]);
        }
    }
    let n = around as u32;
    let at = |row: u32, i: u32| row * n + i % n;
    for row in 0..rows as u32 {
        for i in 0..n {
            mesh.faces.push([at(row, i), at(row, i + 1), at(row + 1, i + 1)]);
            mesh.faces.push([at(row, i), at(row + 1, i + 1), at(row + 1, i)]);
        }
    }
    for i in 1..n - 1 {
        mesh.faces.push([at(0, 0), at(0, i + 1), at(0, i)]);
        mesh.faces.push([at(rows as u32, 0), at(rows as u32, i), at(rows as u32, i + 1)]);
    }
    mesh
}

/// `n` points at equal steps along a closed outline.
fn evenly(outline: &[[f64; 2]], n: usize) -> Vec<[f64; 2]> {
    let ends = |i: usize| (outline[i], outline[(i + 1) % outline.len()]);
    let length = |i: usize| {
        let (a, b) = ends(i);
        (b[0] - a[0]).hypot(b[1] - a[1])
    };
    let total: f64 = (0..outline.len()).map(length).sum();
    let (mut points, mut gone) = (vec![], 0.0);
    for i in 0..outline.len() {
        let (a, b) = ends(i);
        while points.len() < n && (points.len() as f64) * total / n as f64 <= gone + length(i) {
            let part = ((points.len() as f64) * total / n as f64 - gone) / length(i).max(1e-30);
            points.push([a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])]);
        }
        gone += length(i);
    }
    points
}

fn measured(mesh: &RawMesh, setting_deg: f64) -> StationTable {
    let mut file = Vec::new();
    write_ply_binary(mesh, &mut file).unwrap();
    let plan = MeasurePlan {
        length_m: Some(RADIUS - ROOT),
        diameter_m: Some(2.0 * RADIUS),
        stations: StationRadii::Ratios(vec![0.35, 0.5, 0.65, 0.75, 0.9]),
        setting: Some(KnownAngle { angle_deg: setting_deg, radius_ratio: Some(0.75) }),
        hand: Some(Hand::Right),
        ..MeasurePlan::default()
    };
    measure(ScanInput::file(&file, "blade.ply"), &plan, &Silent).unwrap()
}

fn within(value: Option<f64>, published: f64, bound: f64, what: &str) {
    let value = value.unwrap();
    assert!((value - published).abs() < bound, "{what}: {value}, published {published}");
}

/// E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460, 1933: the designation 4412 is camber 0.04 of the chord at 0.4, thickness
/// 0.12; by its thickness equation the maximum thickness is at 0.30 of the chord.
#[test]
fn a_blade_of_naca_4412_shows_its_designation() {
    let section = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
    let table = measured(&blade(section, screw), screw(0.75).to_degrees());
    for s in &table.stations {
        within(s.thickness_ratio, 0.12, 0.0008, "thickness ratio");
        within(s.thickness_position, 0.30, 0.01, "position of the thickness");
        within(s.camber_ratio, 0.04, 0.0008, "camber ratio");
        within(s.camber_position, 0.40, 0.015, "position of the camber");
    }
}

/// The screw surface: pitch P = 2 pi r tan(angle) is the same at every radius (W. Froude's "pitch"; any text on screw propellers, e.g.
/// J. S. Carlton, "Marine Propellers and Propulsion", from memory). The blade has symmetrical sections and is twisted about its half chord.
#[test]
fn a_screw_surface_has_constant_pitch() {
    let section = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.10 };
    let table = measured(&blade(section, screw), screw(0.75).to_degrees());
    assert_eq!(table.stations.len(), 5);
    for s in &table.stations {
        within(s.pitch_m, PITCH, 0.004 * PITCH, "pitch");
        within(s.camber_ratio, 0.0, 0.0008, "camber ratio");
    }
}

/// Clark Y: per cent of the chord along the flat face, then heights of back and face above it, per cent. NACA tables of the Clark Y (V. E. Clark,
/// 1922; as in NACA Report 628, 1938, from memory; they agree to 0.02 with a printed table of the 14 % section, scaled to 11.7 %).
const CLARK_Y: [[f64; 3]; 15] = [
    [1.25, 5.45, 1.93],
    [2.5, 6.50, 1.47],
    [5.0, 7.90, 0.93],
    [7.5, 8.85, 0.63],
    [10.0, 9.60, 0.42],
    [15.0, 10.69, 0.15],
    [20.0, 11.36, 0.03],
    [30.0, 11.70, 0.0],
    [40.0, 11.40, 0.0],
    [50.0, 10.52, 0.0],
    [60.0, 9.15, 0.0],
    [70.0, 7.35, 0.0],
    [80.0, 5.22, 0.0],
    [90.0, 2.80, 0.0],
    [95.0, 1.49, 0.0],
];
/// Maximum thickness perpendicular to the flat face, fraction of the chord.
const CLARK_Y_THICKNESS: f64 = 0.117;

/// Twice the largest measured differences from the printed ordinates, per cent of the chord: ahead of 5 % of the chord, where the two
/// sources differ most, and behind.
const NOSE_BOUND: f64 = 0.08;
const BOUND: f64 = 0.03;

/// Lowest and highest point of a closed outline at a position along the chord.
fn heights(outline: &[[f64; 2]], along: f64) -> [f64; 2] {
    let mut found = [f64::INFINITY, f64::NEG_INFINITY];
    for (i, a) in outline.iter().enumerate() {
        let b = outline[(i + 1) % outline.len()];
        if (a[0] <= along) != (b[0] <= along) {
            let y = a[1] + (along - a[0]) / (b[0] - a[0]) * (b[1] - a[1]);
            found = [found[0].min(y), found[1].max(y)];
        }
    }
    found
}

/// An outline placed on its flat face as in the printed tables: from the foremost point, with length 1.
fn on_its_face(outline: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let chord = outline.iter().map(|p| p[0]).fold(0.0, f64::max);
    let at = |ratio: f64| heights(outline, ratio * chord)[0];
    let (sin, cos) = ((at(0.9) - at(0.5)) / (0.4 * chord)).atan().sin_cos();
    let turned: Vec<[f64; 2]> = outline.iter().map(|[x, y]| [x * cos + y * sin, y * cos - x * sin]).collect();
    let along = |pick: fn(f64, f64) -> f64, from: f64| turned.iter().map(|p| p[0]).fold(from, pick);
    let (nose, tail) = (along(f64::min, f64::INFINITY), along(f64::max, f64::NEG_INFINITY));
    let face = heights(&turned, 0.5 * (nose + tail))[0];
    turned.iter().map(|[x, y]| [(x - nose) / (tail - nose), (y - face) / (tail - nose)]).collect()
}

/// The input ordinates are from another source and are relative to the line from nose to tail.
#[test]
fn a_blade_of_clark_y_gives_the_printed_ordinates() {
    let section = Family::ClarkY { thickness: 0.1171 };
    let table = measured(&blade(section, screw), screw(0.75).to_degrees());
    assert_eq!(table.stations.len(), 5);
    for s in &table.stations {
        let points: Vec<[f64; 2]> = s.outline.as_ref().unwrap().points().collect();
        let outline = on_its_face(&points);
        let mut thickness: f64 = 0.0;
        for [along, back, face] in CLARK_Y {
            let [low, high] = heights(&outline, 0.01 * along);
            let bound = if along < 5.0 { NOSE_BOUND } else { BOUND };
            within(Some(100.0 * high), back, bound, &format!("back at {along} % of {}", s.radius_ratio));
            within(Some(100.0 * low), face, bound, &format!("face at {along} % of {}", s.radius_ratio));
            thickness = thickness.max(high - low);
        }
        within(Some(thickness), CLARK_Y_THICKNESS, 0.0002, "thickness at right angles to the face");
        within(s.thickness_ratio, CLARK_Y_THICKNESS, 0.0002, "thickness ratio");
        // From nose to tail: the foremost point is 3.50 % above the face, the middle of the tail 0.06 % (the same tables). Our chord line
        // joins the ends of the mean line. The end at the nose is slightly lower.
        let face = s.face_angle_deg.zip(s.blade_angle_deg).map(|(f, c)| c - f);
        within(face, (0.0350_f64 - 0.0006).atan().to_degrees(), 0.13, "chord less face angle, deg");
    }
}
