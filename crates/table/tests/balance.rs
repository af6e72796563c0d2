//! The weights that balance a propeller of known moments, and the unbalance by section areas of known blades.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use bladeform_quantity::Hand;
use bladeform_table::{
    AxisBy, Balance, BladeFigures, BladeRows, BladeVolume, Frame, MomentBy, RotatingVolume, Rotation, Scale,
    Station, StationColumn, StationTable, UncertaintySource, VolumeSource, compare_blades,
};

const DENSITY: f64 = 500.0;
const AREA_M2: f64 = 2e-3;
const U_AREA_M2: f64 = 1e-6;

/// A propeller of straight blades with the same area from 0.2 m to the tip, `areas` times [`AREA_M2`].
fn propeller(areas: &[f64], hand: Hand) -> StationTable {
    let count = areas.len();
    let blade = |(k, area): (usize, &f64)| {
        let station = |i: usize| {
            let mut s = Station::at(0.2 + 0.1 * i as f64, 1.0);
            (s.area_m2, s.mid_chord_x_m, s.mid_chord_y_m) = (Some(area * AREA_M2), Some(0.0), Some(0.0));
            s.add_uncertainty(StationColumn::AreaM2, UncertaintySource::Scan, U_AREA_M2);
            s
        };
        BladeRows {
            index: k as u64,
            azimuth_deg: Some(360.0 * k as f64 / count as f64),
            tip_radius_m: Some(1.0),
            u_tip_radius_m: Some(1e-4),
            stations: (0..9).map(station).collect(),
            ..BladeRows::default()
        }
    };
    StationTable {
        blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
        frame: Some(Frame { hand, ..Frame::default() }),
        rotation: Some(Rotation {
            axis_by: AxisBy::HubWall,
            u_axis_tilt_deg: Some(0.0),
            u_axis_place_m: Some(0.0),
            ..Rotation::default()
        }),
        blades: areas.iter().enumerate().map(blade).collect(),
        ..StationTable::default()
    }
}

fn balance(table: &StationTable) -> Balance {
    let mut c = compare_blades(table, "p").unwrap();
    c.add_balance(table, DENSITY, 0.5);
    c.balance.unwrap()
}

/// What is left of the unbalance with the weights on, kg m, as a vector.
fn left(b: &Balance) -> f64 {
    let n = b.blades.len() as f64;
    let mut sum = b.unbalance_kg_m.map(|m| m.value);
    for w in &b.weights {
        let (sin, cos) = (std::f64::consts::TAU * w.index as f64 / n).sin_cos();
        assert!(0.0 < w.mass_kg.value && 0.0 < w.mass_kg.u, "{w:?}");
        (sum[0], sum[1]) = (sum[0] + w.mass_kg.value * 0.5 * cos, sum[1] + w.mass_kg.value * 0.5 * sin);
    }
    sum[0].hypot(sum[1])
}

#[test]
fn the_weights_leave_no_unbalance() {
    let cases: [&[f64]; 6] = [
        &[1.0, 1.0, 1.02],
        &[1.0, 1.01, 1.03],
        &[1.05, 1.0, 1.0, 1.01],
        &[1.0, 1.0, 1.0, 1.0, 0.97],
        &[1.0, 1.02, 1.0, 1.0, 1.0, 1.01],
        &[1.0, 0.98],
    ];
    for areas in cases {
        let b = balance(&propeller(areas, Hand::Right));
        assert!(left(&b) < 1e-12 && b.weights.len() < 3, "{areas:?}: {b:?}");
        // The integral of r from 0.2 m to 1 m is 0.48 m2.
        let heavy = DENSITY * AREA_M2 * areas.iter().fold(0.0f64, |m, a| m.max(*a)) * 0.48;
        let greatest = b.blades.iter().map(|m| m.moment_kg_m.value).fold(0.0, f64::max);
        assert!((greatest / heavy - 1.0).abs() < 1e-9, "{greatest} {heavy}");
        assert_eq!((b.by, b.is_beyond_chance()), (MomentBy::Sections, Some(true)));
    }
    let even = balance(&propeller(&[1.0; 4], Hand::Right));
    assert!(even.size_kg_m().value < 1e-12 && even.is_beyond_chance() == Some(false));
    assert!(even.sentences().iter().any(|s| s.contains("no heavy side")));
}

/// The heavy side is told in the direction of rotation, which is against rising azimuths on a left-hand propeller.
#[test]
fn the_heavy_side_is_on_the_heavy_blade() {
    for (hand, expected) in [(Hand::Right, 120.0), (Hand::Left, 240.0)] {
        let b = balance(&propeller(&[1.0, 1.05, 1.0], hand));
        assert!((b.heavy_deg() - expected).abs() < 1e-6, "{hand}: {}", b.heavy_deg());
        let on: Vec<u64> = b.weights.iter().map(|w| w.index).collect();
        assert_eq!(on, [0, 2]);
    }
}

/// Volume and moment of a surface take the place of those by sections: `u` has the noise of the sections, the axis, and the scale four times.
#[test]
fn the_closed_surface_goes_before_the_sections() {
    let mut table = propeller(&[1.0, 1.0], Hand::Right);
    let by_sections = balance(&table);
    let of_blade = BladeVolume { volume_m3: 2e-3, first_moment_m4: 1e-3, u_first_moment_m4: 0.0 };
    table.rotation.as_mut().unwrap().volume = Some(RotatingVolume {
        volume_m3: 4e-3,
        first_moment_m4: [3e-5, 4e-5],
        u_from: vec![(VolumeSource::Axis, [4e-7; 2])],
        bodies: 1,
        blades: vec![of_blade; 2],
        ..RotatingVolume::default()
    });
    table.scale = Some(Scale { relative_uncertainty: Some(1e-3), ..Scale::default() });
    let b = balance(&table);
    assert_eq!((b.by, b.mass_kg), (MomentBy::Surface, DENSITY * 4e-3));
    assert!((b.size_kg_m().value - DENSITY * 5e-5).abs() < 1e-12);
    // Two blades along the first component.
    let scan = by_sections.u_from.iter().find(|(s, _)| *s == VolumeSource::Scan).unwrap().1[0];
    let expected = (scan.powi(2) + (DENSITY * 4e-7).powi(2) + (4.0 * 1e-3 * DENSITY * 3e-5).powi(2)).sqrt();
    assert!((b.unbalance_kg_m[0].u / expected - 1.0).abs() < 1e-9, "{b:?}");
    // A weight on the blades takes the first component; the second stays.
    assert!(
        matches!(&b.weights[..], [w] if w.index == 1 && (w.mass_kg.value - DENSITY * 6e-5).abs() < 1e-12)
    );
    assert!((b.across_kg_m.unwrap().value - DENSITY * 4e-5).abs() < 1e-12);
}
