//! Propellers with spinner, hub, shank and body: identities of the theory.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_flow::{
    Air, BodyPlan, FlowBlade, FlowPropeller, InstalledPlan, Operation, RootPlan, Silent, ThinSections,
};
use bladeform_table::{BladeFigures, Station, StationTable};

/// A blade of 1 m whose stations begin at 0.3 R. `root_radius_m`: where its shank begins.
fn table(root_radius_m: Option<f64>) -> StationTable {
    let stations = (0..8)
        .map(|k| {
            let x = 0.3 + 0.1 * f64::from(k).min(6.5);
            Station {
                chord_m: Some(0.14 - 0.06 * (x - 0.3)),
                blade_angle_deg: Some((0.9 / (std::f64::consts::TAU * x)).atan().to_degrees()),
                thickness_ratio: Some(0.26 - 0.22 * (x - 0.3)),
                camber_ratio: Some(0.03),
                ..Station::at(x, 1.0)
            }
        })
        .collect();
    let blade = BladeFigures { radius_m: 1.0, root_radius_m, ..BladeFigures::default() };
    StationTable { blade, stations, ..StationTable::default() }
}

fn propeller(root_radius_m: Option<f64>, plan: &InstalledPlan) -> FlowPropeller {
    let blade =
        FlowBlade::rooted(&table(root_radius_m), None, 32, &ThinSections, &Silent, &plan.root).unwrap();
    FlowPropeller::installed(blade, 2, plan).unwrap()
}

fn flies(speed_m_s: f64) -> Operation {
    Operation::new(speed_m_s, 1800.0, Air::standard(0.0, 0.0).unwrap()).unwrap()
}

#[test]
fn a_body_of_no_size_and_a_factor_of_one_change_nothing() {
    let alone = propeller(None, &InstalledPlan::default()).performance(0.0, &flies(30.0));
    let body = BodyPlan { diameter_m: 0.0, length_m: 2.0, gap_m: 0.0, drag_coefficient: None };
    for plan in [
        InstalledPlan { body: Some(body), ..InstalledPlan::default() },
        InstalledPlan { stream_factor: Some(1.0), ..InstalledPlan::default() },
    ] {
        let p = propeller(None, &plan).performance(0.0, &flies(30.0));
        assert!((p.thrust_n - alone.thrust_n).abs() < 1e-9 && (p.torque_nm - alone.torque_nm).abs() < 1e-9);
        let propulsive = p.installed.propulsive_thrust_n.unwrap_or(p.thrust_n);
        assert!((propulsive - alone.thrust_n).abs() < 1e-9);
    }
}

/// Momentum theory: in a stream of `F V` everywhere the blades have the thrust and power of flight at `F V`; with the body's pressure drag the efficiency is that of flight at `F V` as well.
#[test]
fn a_uniform_factor_is_flight_at_that_speed_and_keeps_its_efficiency() {
    let factor = 0.92;
    let plan = InstalledPlan { stream_factor: Some(factor), ..InstalledPlan::default() };
    let slowed = propeller(None, &plan).performance(0.0, &flies(30.0));
    let slower = propeller(None, &InstalledPlan::default()).performance(0.0, &flies(factor * 30.0));
    assert!((slowed.thrust_n / slower.thrust_n - 1.0).abs() < 1e-9);
    assert!((slowed.torque_nm / slower.torque_nm - 1.0).abs() < 1e-9);
    let [apparent, propulsive] = [slowed.efficiency(), slowed.propulsive_efficiency()].map(Option::unwrap);
    assert!((propulsive - slower.efficiency().unwrap()).abs() < 1e-9);
    assert!((apparent * factor - propulsive).abs() < 1e-9);
}

/// Glauert (Durand, Aerodynamic Theory, volume IV, division L, from memory): the drag of a body in the slipstream is `1 + 8 T/(pi rho V^2 D^2)` times that beside it. Far ahead of the body nothing else is lost.
#[test]
fn the_drag_of_a_body_rises_as_glauert_says() {
    let body = BodyPlan { diameter_m: 0.8, length_m: 3.0, gap_m: 500.0, drag_coefficient: Some(0.2) };
    let plan = InstalledPlan { body: Some(body), ..InstalledPlan::default() };
    let p = propeller(None, &plan).performance(0.0, &flies(30.0));
    let drag = 0.2 * 0.5 * 1.225 * 900.0 * std::f64::consts::PI * 0.16;
    let rise = 8.0 * p.thrust_n / (std::f64::consts::PI * 1.225 * 900.0 * 4.0);
    let lost = p.thrust_n - p.installed.propulsive_thrust_n.unwrap();
    assert!((lost / (drag * rise) - 1.0).abs() < 1e-5, "{lost} {}", drag * rise);
    // Near it the stream is slower, so that the force on the shaft is greater and the efficiency of both together is not.
    let near =
        InstalledPlan { body: Some(BodyPlan { gap_m: 0.05, drag_coefficient: Some(0.0), ..body }), ..plan };
    let (near, alone) =
        (propeller(None, &near).performance(0.0, &flies(30.0)), propeller(None, &InstalledPlan::default()));
    let alone = alone.performance(0.0, &flies(30.0));
    assert!(near.thrust_n > alone.thrust_n);
    assert!((near.propulsive_efficiency().unwrap() - alone.efficiency().unwrap()).abs() < 0.02);
}

/// By hand: a round bar of constant diameter in still air, `Q = 0.5 rho omega^2 d C_D (r2^4 - r1^4)/4` for each of two blades; the drag coefficient of a circle below the crisis is 1.1 to 1.2.
#[test]
fn a_shank_adds_the_torque_of_a_bar_and_a_spinner_takes_it_away() {
    let rest = flies(0.0);
    let of = |root, plan: &InstalledPlan| propeller(root, plan).performance(0.0, &rest);
    let bare = InstalledPlan::default();
    let given = InstalledPlan { root: RootPlan { shank_m: Some(0.06), ..RootPlan::default() }, ..bare };
    let p = of(Some(0.1), &given);
    assert!(p.installed.shank_torque_nm > 0.0 && p.installed.shank_thrust_n.abs() < 1e-9);
    let elements: f64 = 2.0 * p.elements.iter().map(|e| e.torque_n * e.width_m).sum::<f64>();
    assert!((p.torque_nm - elements - p.installed.shank_torque_nm).abs() < 1e-9);
    // The lifting part of an unmeasured root ends 0.15 R inboard of the first station; the first section is 36.4 mm thick.
    let p = of(Some(0.05), &bare);
    let omega = rest.omega_rad_s;
    let by_hand =
        2.0 * 0.5 * 1.225 * omega * omega * 0.0364 * 1.15 * (0.15_f64.powi(4) - 0.05_f64.powi(4)) / 4.0;
    assert!(
        (p.installed.shank_torque_nm / by_hand - 1.0).abs() < 0.06,
        "{} {by_hand}",
        p.installed.shank_torque_nm
    );
    let spinner = InstalledPlan { root: RootPlan { spinner_m: Some(0.3), ..RootPlan::default() }, ..bare };
    assert!(of(Some(0.05), &spinner).installed.shank_torque_nm.abs() < 1e-15);
    let hub = InstalledPlan { root: RootPlan { blunt_hub_m: Some(0.3), ..RootPlan::default() }, ..bare };
    let [with, without] =
        [&hub, &spinner].map(|plan| propeller(Some(0.05), plan).performance(0.0, &flies(30.0)).thrust_n);
    assert!((without - with - 0.90 * 0.5 * 1.225 * 900.0 * 0.070_69).abs() < 0.02, "{with} {without}");
}
