//! Blades of plate with square edges: the outline model of blade sections does not follow them, so they are measured on the mean of plane cuts.

use crate::tried;
use bladeform_measure::{KnownAngle, MeasurePlan, ScanInput, Silent, measure};
use bladeform_mesh::{RawMesh, write_ply_binary};
use bladeform_quantity::StationRadii;
use bladeform_table::{Flag, StationTable};

/// Uniform numbers below one.
struct Random(u64);
impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

const SPAN_MM: f64 = 400.0;
const ROOT_MM: f64 = 100.0;
/// Points along each side and on each edge between its corners.
const N_SIDE: usize = 100;
const N_EDGE: usize = 6;
const ROWS: usize = 220;

/// A plate bent to a parabola: chord at a fraction of the span, and height of the arc, mm.
fn chord_mm(s: f64) -> f64 {
    100.0 - 50.0 * s
}
const ARC_MM: f64 = 6.0;
fn angle_deg(s: f64) -> f64 {
    35.0 - 15.0 * s
}

/// The section at a fraction of the span, about the middle of its chord: the back from nose to tail, the square tail, the face, the square nose.
fn section(s: f64, thickness_mm: f64) -> Vec<[f64; 2]> {
    let c = chord_mm(s);
    let at = |i: usize, side: f64| {
        let x = c * i as f64 / (N_SIDE - 1) as f64;
        let (y, slope) = (4.0 * ARC_MM * x * (c - x) / (c * c), 4.0 * ARC_MM * (c - 2.0 * x) / (c * c));
        let k = 0.5 * side * thickness_mm / 1f64.hypot(slope);
        [x - slope * k - 0.5 * c, y + k]
    };
    let between = |a: [f64; 2], b: [f64; 2]| {
        (1..=N_EDGE)
            .map(move |k| k as f64 / (N_EDGE + 1) as f64)
            .map(move |t| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])])
    };
    let back = (0..N_SIDE).map(|i| at(i, 1.0));
    let face = (0..N_SIDE).rev().map(|i| at(i, -1.0));
    back.chain(between(at(N_SIDE - 1, 1.0), at(N_SIDE - 1, -1.0)))
        .chain(face)
        .chain(between(at(0, -1.0), at(0, 1.0)))
        .collect()
}

fn scan(thickness_mm: f64, noise_mm: f64, seed: u64) -> Vec<u8> {
    let mut random = Random(seed);
    let (mut vertices, mut faces) = (Vec::new(), Vec::new());
    let n = section(0.0, thickness_mm).len();
    for row in 0..ROWS {
        let s = row as f64 / (ROWS - 1) as f64;
        let (sin, cos) = angle_deg(s).to_radians().sin_cos();
        for p in section(s, thickness_mm) {
            let exact = [p[0] * cos - p[1] * sin, p[0] * sin + p[1] * cos, SPAN_MM * s];
            vertices.push(exact.map(|v| v + noise_mm * random.normal()));
        }
        if row + 1 < ROWS {
            for i in 0..n {
                let [a, b] = [i, (i + 1) % n].map(|i| (row * n + i) as u32);
                let [c, d] = [a + n as u32, b + n as u32];
                faces.extend([[a, c, b], [b, c, d]]);
            }
        }
    }
    let mesh = RawMesh { vertices, faces };
    let mut file = Vec::new();
    write_ply_binary(&mesh, &mut file).unwrap();
    file
}

fn measured(thickness_mm: f64, noise_mm: f64) -> StationTable {
    let plan = MeasurePlan {
        length_m: Some(1e-3 * SPAN_MM),
        root_radius_m: Some(1e-3 * ROOT_MM),
        stations: StationRadii::Ratios(vec![0.35, 0.45, 0.55, 0.65, 0.75, 0.85]),
        setting: Some(KnownAngle { angle_deg: angle_deg(0.6875), radius_ratio: None }),
        resolution_m: Some(0.0),
        ..MeasurePlan::default()
    };
    measure(ScanInput::file(scan(thickness_mm, noise_mm, 1), "plate"), &plan, &Silent).unwrap()
}

/// The mean line of a plate of even thickness is its middle, whose ends lie on the chord: everything is known by geometry.
#[test]
fn a_thick_plate_with_square_edges_is_measured_on_plane_cuts() {
    let table = measured(8.0, 0.05);
    for s in &table.stations {
        assert!(s.flags.iter().any(|f| matches!(f, Flag::MeasuredByCuts { .. })), "{:?}", s.flags);
        let share = (1e3 * s.radius_m - ROOT_MM) / SPAN_MM;
        let off = [
            (s.blade_angle_deg.unwrap() - angle_deg(share), s.u.blade_angle_deg.unwrap(), 0.3),
            (1e3 * s.chord_m.unwrap() - chord_mm(share), 1e3 * s.u.chord_m.unwrap(), 0.6),
            (1e3 * s.thickness_m.unwrap() - 8.0, 1e3 * s.u.thickness_m.unwrap(), 0.15),
        ];
        for (error, u, most) in off {
            assert!(error.abs() < most, "{} R: off by {error}", s.radius_ratio);
            assert!(u < most, "{} R: u {u}", s.radius_ratio);
        }
        assert_eq!(s.leading_edge_radius_m, None);
    }
}

/// At a square corner the outline model of blade sections overshoots: its greatest thickness lay there, up to 10 u too great, on plates too thin for their edges to depart.
#[test]
fn thin_plates_with_square_edges_have_the_thickness_of_the_plate() {
    for &(thickness_mm, noise_mm) in tried(&[(2.0, 0.05), (3.0, 0.0), (2.0, 0.0), (3.0, 0.05)], 1) {
        for s in &measured(thickness_mm, noise_mm).stations {
            let (found, u) = (1e3 * s.thickness_m.unwrap(), 1e3 * s.u.thickness_m.unwrap());
            println!(
                "{thickness_mm} mm, noise {noise_mm} mm, {:.2} R: {found:.3} +- {u:.3} mm",
                s.radius_ratio
            );
            assert!(
                (found - thickness_mm).abs() < 3.0 * u,
                "{thickness_mm} mm, {:.2} R: {found} +- {u}",
                s.radius_ratio
            );
            assert!(u < 0.15, "{u}");
        }
    }
}
