//! Regression values of sections, each to half a per cent, next to the published ones. A change of one of them is a change of
//! the model. It needs a reason and a run of the examples that compare whole polars.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_polar::{PreparedSection, ViscousSettings};
use bladeform_section::{Family, faired};

/// Corners of the outline.
const CORNERS: usize = 400;

/// Angle at which the lift changes sign, deg, as the sources read it, and lift slope, per deg, of the straight line through the points from -2 to 6 deg.
fn zero_lift_and_slope(family: Family, settings: ViscousSettings, reynolds: f64) -> [f64; 2] {
    let section = PreparedSection::new(&family.outline(CORNERS), settings).unwrap();
    let march = |degrees: &[f64]| {
        let radians: Vec<f64> = degrees.iter().map(|a| a.to_radians()).collect();
        section.march(&radians, &[reynolds]).unwrap().remove(0)
    };
    // A march begins at zero and moves away from it.
    let mut points = march(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    let below = march(&[-1.0, -2.0, -3.0, -4.0, -5.0]);
    let zero = points[..1]
        .iter()
        .chain(&below)
        .collect::<Vec<_>>()
        .windows(2)
        .find(|w| w[1].lift <= 0.0 && -1e-9 < w[0].lift)
        .map(|w| {
            let [a, b] = [w[0], w[1]].map(|p| p.alpha_rad.to_degrees());
            a - w[0].lift * (b - a) / (w[1].lift - w[0].lift)
        })
        .unwrap();
    points.extend(below.into_iter().take(2));
    assert!(points.iter().all(|p| p.converged));
    let n = points.len() as f64;
    let mean_angle = points.iter().map(|p| p.alpha_rad.to_degrees()).sum::<f64>() / n;
    let mean_lift = points.iter().map(|p| p.lift).sum::<f64>() / n;
    let (mut both, mut square) = (0.0, 0.0);
    for p in &points {
        let off = p.alpha_rad.to_degrees() - mean_angle;
        both += off * (p.lift - mean_lift);
        square += off * off;
    }
    let slope = both / square;
    [zero, slope]
}

/// `pinned`: the result of this project, which differs from `published`.
#[allow(clippy::print_stdout, reason = "`--nocapture` shows what a change of the constants needs")]
fn assert_pinned(what: &str, ours: f64, pinned: f64, published: f64) {
    println!("{what}: ours {ours:.6}, pinned {pinned}, published {published}");
    assert!((ours / pinned - 1.0).abs() < 0.005, "{what}: {ours} is not the pinned {pinned}");
}

/// I. H. Abbott, A. E. von Doenhoff, L. S. Stivers, NACA Report 824, 1945, smooth section at a Reynolds number of 6e6 (figures from memory).
#[test]
fn naca_report_824_section_4412_zero_lift_and_slope() {
    let family = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
    let [zero, slope] = zero_lift_and_slope(family, ViscousSettings::default(), 6e6);
    assert_pinned("zero-lift angle, deg", zero, -4.1973, -3.9);
    assert_pinned("lift slope, per deg", slope, 0.1070, 0.106);
}

/// C. L. Ladson, NASA TM 4074, 1988: NACA 0012 with grit at 5 % of the chord, Reynolds number 6e6.
#[test]
fn nasa_tm_4074_section_0012_with_grit_lift_slope() {
    let family = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 };
    let settings = ViscousSettings { trip_back: 0.05, trip_face: 0.05, ..ViscousSettings::default() };
    let [zero, slope] = zero_lift_and_slope(family, settings, 6e6);
    assert!(zero.abs() < 1e-3, "{zero}");
    assert_pinned("lift slope, per deg", slope, 0.112511, 0.1085);
}

/// C. A. Lyon and others, "Summary of Low-Speed Airfoil Data", vol. 3, SoarTech, 1998: Clark Y, free transition, at 3.28 deg and 3e5, and at 3.17 deg and 1e5 (tests/clark_y_low_reynolds.csv).
/// At 1e5 a long laminar bubble makes lift 0.13 too high and drag 28 % too low: predictions say so below 2e5.
#[test]
fn clark_y_at_low_reynolds_numbers() {
    let outline = faired(&Family::ClarkY { thickness: 0.1171 }.outline(1500)).unwrap().outline(401);
    let section = PreparedSection::new(&outline, ViscousSettings::default()).unwrap();
    let angles = [0.0, 1.0, 2.0, 3.17, 3.28].map(f64::to_radians);
    let rows = section.march(&angles, &[1e5, 3e5]).unwrap();
    let (low, high) = (rows[0][3], rows[1][4]);
    assert!(low.converged && high.converged);
    assert_pinned("lift at 3e5", high.lift, 0.7392, 0.694);
    assert_pinned("drag at 3e5", high.drag, 0.00963, 0.0097);
    assert_pinned("lift at 1e5", low.lift, 0.7309, 0.605);
    assert_pinned("drag at 1e5", low.drag, 0.01615, 0.0225);
}
