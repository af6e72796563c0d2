//! The main job against published figures: a blade of one published section all along.

use bladeform::{Hand, MeasurePlan, StationRadii, StationTable, measure};
use bladeform_mesh::{RawMesh, write_ply_binary};
use bladeform_section::Family;

/// Tip radius, root radius and chord of the blades here, m.
const RADIUS: f64 = 1.0;
const ROOT: f64 = 0.1;
const CHORD: f64 = 0.12;
/// Pitch, m: which end is the tip shows by the twist alone.
const PITCH: f64 = 1.4;

/// Blade angle at a radius, rad.
fn screw(r: f64) -> f64 {
    (PITCH / (2.0 * std::f64::consts::PI * r)).atan()
}

/// A blade with the same section at every radius, turned to the angle (rad) that the radius (m) asks for; flat ends.
fn blade(family: Family, angle: impl Fn(f64) -> f64) -> RawMesh {
    let (rows, around) = (300, 260);
    // The published outlines are dense at the nose; even places along the arc are what a scan has.
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
        setting: Some((setting_deg, Some(0.75))),
        hand: Some(Hand::Right),
        ..MeasurePlan::default()
    };
    measure(&file, "blade.ply", &plan).unwrap()
}

fn within(value: Option<f64>, published: f64, bound: f64, what: &str) {
    let value = value.unwrap();
    assert!((value - published).abs() < bound, "{what}: {value}, published {published}");
}

/// E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460, 1933: the designation 4412 is camber 0.04 of the chord at 0.4, thickness
/// 0.12; by its thickness equation the greatest thickness lies at 0.30 of the chord.
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
/// J. S. Carlton, "Marine Propellers and Propulsion", from memory). The blade is symmetrical in section and turned about its half chord.
#[test]
fn a_screw_surface_shows_one_pitch() {
    let section = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.10 };
    let table = measured(&blade(section, screw), screw(0.75).to_degrees());
    assert_eq!(table.stations.len(), 5);
    for s in &table.stations {
        within(s.pitch_m, PITCH, 0.004 * PITCH, "pitch");
        within(s.camber_ratio, 0.0, 0.0008, "camber ratio");
    }
}

/// Clark Y, ordinates of V. E. Clark as printed in NACA Report 628 (1938, from memory): thickness 0.117 at 0.3 of the chord of the flat datum, the face
/// straight from 0.3 aft. The datum runs under the nose: 0.0350 of the chord below its foremost point, so that the line from nose to tail
/// stands at 2.0 deg to the face.
#[test]
fn a_blade_of_clark_y_shows_its_flat_face() {
    let section = Family::ClarkY { thickness: 0.117 };
    let table = measured(&blade(section, screw), screw(0.75).to_degrees());
    for s in &table.stations {
        within(s.thickness_ratio, 0.117, 0.001, "thickness ratio");
        let face = s.face_angle_deg.zip(s.blade_angle_deg).map(|(f, c)| c - f);
        within(face, 2.0, 0.35, "chord less face angle, deg");
    }
}
