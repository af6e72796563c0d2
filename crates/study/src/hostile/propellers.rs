//! Whole propellers of two to twelve blades, propellers whose blades differ, and ones with more than blades and hub.

use std::sync::Arc;

use bladeform_measure::MeasurePlan;
use bladeform_mesh::RawMesh;
use bladeform_quantity::StationRadii;
use bladeform_specimen::{
    Axis, BentBlade, DrawnBlade, Form, Lofted, Pose, Sections, ShapedBlade, TurnedBlade, scan_of_lofted,
};

use super::cases::{Case, Draw, Made, STATIONS, case, file};
use super::judge::{Known, TrueBlade};
use super::things::{cuboid, cylinder, swept};
use super::tools::{append, cut_closed, cut_open};

/// Triangles of a propeller.
const TRIANGLES: usize = 100_000;
/// Tip radius, m.
const RADIUS_M: f64 = 1.0;
/// Radius and length of the hub, m.
const HUB_M: [f64; 2] = [0.12, 0.14];
/// Sections are clear of the hub from here on, m.
const FROM_M: f64 = 0.30;

/// One blade: its truth, and what befalls its mesh in its own axes.
struct OneBlade {
    truth: TrueBlade,
    damage: fn(&mut RawMesh),
}

/// What makes one blade another than the others.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Odd {
    Nothing,
    /// Cut off square, m shorter.
    Short,
    /// Broken off at 0.6 R, open and jagged.
    Broken,
    /// A weight clamped to it.
    Weight,
    Bent(f64),
    Turned(f64),
    /// Farther from the axis, m.
    Outward(f64),
    /// Towards flight, m.
    Forward(f64),
}

fn drawn(seed: u64) -> DrawnBlade {
    let sections = if seed.is_multiple_of(2) { Sections::FourDigit } else { Sections::ClarkY };
    // Seeds of the drawn blades are apart from those of the scans.
    let blade = DrawnBlade::drawn(seed + 500, sections, Axis::Propeller, 2.0 * RADIUS_M);
    if blade.left_handed { blade.mirrored() } else { blade }
}

fn one_blade(odd: Odd, seed: u64) -> OneBlade {
    let plain = drawn(seed);
    let name = format!("propeller {seed} {odd:?}");
    let shape: Arc<dyn Lofted + Send + Sync> = match odd {
        Odd::Bent(angle_deg) => Arc::new(BentBlade { blade: plain, from_m: 0.5, angle_deg }),
        Odd::Turned(angle_deg) => Arc::new(TurnedBlade { blade: plain, angle_deg }),
        _ => Arc::new(plain),
    };
    let outward_m = if let Odd::Outward(m) = odd { m } else { 0.0 };
    let end = match odd {
        Odd::Short => RADIUS_M - 0.06,
        // The break is jagged by this much to both sides.
        Odd::Broken => 0.6 * RADIUS_M - 0.02,
        _ => shape.tip_radius_m() + outward_m,
    };
    let truth = TrueBlade { shape, name, span_m: [FROM_M, end], outward_m, azimuth_deg: 0.0 };
    let damage: fn(&mut RawMesh) = match odd {
        Odd::Short => |mesh| cut_closed(mesh, |p| p[2] - (RADIUS_M - 0.06)),
        Odd::Broken => |mesh| cut_open(mesh, |p| p[2] - 0.6 * RADIUS_M - 0.02 * (60.0 * p[0]).sin()),
        Odd::Weight => |mesh| append(mesh, &cuboid([0.0, -0.02, 0.19], [0.05, 0.05, 0.05], 5e-3)),
        Odd::Forward(_) => |mesh| mesh.vertices.iter_mut().for_each(|p| p[1] += 0.01),
        Odd::Outward(_) => |mesh| mesh.vertices.iter_mut().for_each(|p| p[2] += 0.01),
        _ => |_| {},
    };
    OneBlade { truth, damage }
}

/// Greatest distance of a blade from the axis of rotation, m: at the corners of a square tip.
fn swept_radius_m(blade: &TrueBlade) -> f64 {
    let tip = blade.shape.tip_radius_m();
    blade.shape.exact_outline(tip).iter().map(|p| p[0].hypot(tip)).fold(tip, f64::max)
}

/// Blades around a hub, and more; the owner states the diameter.
fn propeller(
    draw: Draw,
    blades: Vec<OneBlade>,
    hub_m: [f64; 2],
    more: impl Fn(&mut RawMesh),
) -> std::io::Result<Made> {
    let count = blades.len();
    let mut hub = cylinder(hub_m[0], -0.5 * hub_m[1], 0.5 * hub_m[1], 0.06 * hub_m[0]);
    // The axis of rotation is y.
    hub.vertices.iter_mut().for_each(|p| *p = [p[1], p[2], p[0]]);
    let mut mesh = hub;
    let mut known = Vec::new();
    let radius_m = swept_radius_m(&blades[0].truth);
    for (k, blade) in blades.into_iter().enumerate() {
        let own = Draw { seed: draw.seed + 100 * k as u64, ..draw };
        let mut one = scan_of_lofted(&*blade.truth.shape, &own.plan(TRIANGLES / count)).mesh;
        (blade.damage)(&mut one);
        let azimuth_deg = 360.0 * k as f64 / count as f64;
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        one.vertices.iter_mut().for_each(|v| *v = [cos * v[0] + sin * v[2], v[1], cos * v[2] - sin * v[0]]);
        append(&mut mesh, &one);
        known.push(TrueBlade { azimuth_deg, ..blade.truth });
    }
    more(&mut mesh);
    let pose = Pose::random(&mut draw.random());
    let ask = MeasurePlan {
        diameter_m: Some(2.0 * radius_m),
        stations: StationRadii::Count(STATIONS),
        ..MeasurePlan::default()
    };
    Ok(Made { file: file(mesh, &pose)?, ask, known: Known { pose, blades: known } })
}

fn equal(draw: Draw, count: usize, more: impl Fn(&mut RawMesh)) -> std::io::Result<Made> {
    let blades = (0..count).map(|_| one_blade(Odd::Nothing, draw.seed)).collect();
    propeller(draw, blades, HUB_M, more)
}

/// All kinds of this file.
pub(super) fn all() -> Vec<Case> {
    let mut cases = Vec::new();
    for count in [2, 3, 4, 5, 6, 7, 8, 9, 12] {
        cases.push(case("propeller", format!("{count} blades"), move |draw| equal(draw, count, |_| {})));
    }
    for (what, odd) in [
        ("one 60 mm short", Odd::Short),
        ("one broken at 0.6 R", Odd::Broken),
        ("a weight of 100 mm clamped to one", Odd::Weight),
        ("one bent by 3 deg at 0.5 R", Odd::Bent(3.0)),
        ("one set 5 deg coarser", Odd::Turned(5.0)),
        ("one 10 mm farther out", Odd::Outward(0.01)),
        ("one 10 mm forward", Odd::Forward(0.01)),
    ] {
        // The number of blades matters most where the odd one changes the symmetry.
        let counts: &[usize] = if matches!(odd, Odd::Short | Odd::Turned(_)) { &[2, 3, 4] } else { &[3] };
        for &count in counts {
            cases.push(case(
                "propeller whose blades differ",
                format!("{count} blades, {what}"),
                move |draw| {
                    let odds = (0..count).map(|k| if k == 1 { odd } else { Odd::Nothing });
                    let blades = odds.map(|odd| one_blade(odd, draw.seed)).collect();
                    propeller(draw, blades, HUB_M, |_| {})
                },
            ));
        }
    }
    cases.push(case("propeller with more", "one blade and a counterweight", |draw| {
        equal(draw, 1, |mesh| append(mesh, &cuboid([0.0, 0.0, -0.2], [0.04, 0.04, 0.12], 5e-3)))
    }));
    for count in [3, 5] {
        cases.push(case(
            "propeller with more",
            format!("{count} blades, a ring joined to the tips"),
            move |draw| equal(draw, count, |mesh| append(mesh, &ring(RADIUS_M))),
        ));
        cases.push(case("propeller with more", format!("{count} blades, a shaft of 0.6 m"), move |draw| {
            equal(draw, count, |mesh| {
                let mut shaft = cylinder(0.04, -0.7, 0.0, 6e-3);
                shaft.vertices.iter_mut().for_each(|p| *p = [p[1], p[2], p[0]]);
                append(mesh, &shaft);
            })
        }));
    }
    for (what, camber) in [("flat", 0.0), ("camber 6 %", 0.06)] {
        cases.push(case("fan of square-edged plates", format!("4 blades of 3 mm, {what}"), move |draw| {
            let form = Form::Plate { thickness_m: 3e-3, camber };
            let shape = ShapedBlade { form, radius_m: 0.4, root_radius_m: 0.04 };
            let blades = (0..4)
                .map(|_| {
                    let (shape, name) = (Arc::new(shape), format!("{shape:?}"));
                    let truth =
                        TrueBlade { shape, name, span_m: [0.14, 0.4], outward_m: 0.0, azimuth_deg: 0.0 };
                    OneBlade { truth, damage: |_| {} }
                })
                .collect();
            propeller(draw, blades, [0.06, 0.08], |_| {})
        }));
    }
    cases.iter_mut().for_each(|c| c.briefly = true);
    cases
}

/// A ring about `y` around the tips, 15 mm thick and 120 mm long, whose outer radius is that of the tips.
fn ring(radius_m: f64) -> RawMesh {
    let profile = |step: usize| {
        let (inner, half) = (radius_m - 0.015, 0.06);
        let t = step as f64 / 20.0;
        match step {
            0..20 => [radius_m, half * (2.0 * t - 1.0)],
            20 => [radius_m, half],
            21..41 => [inner, half * (1.0 - 2.0 * (step - 21) as f64 / 19.0)],
            _ => [inner, -half],
        }
    };
    let rings: Vec<Vec<_>> = (0..400)
        .map(|i| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / 400.0).sin_cos();
            (0..41).map(profile).map(|[r, y]| [r * sin, y, r * cos]).collect()
        })
        .collect();
    swept(&rings, true)
}
