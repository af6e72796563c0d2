//! Regression values of sections, each to half a per cent, next to the published ones. A change of one of them is a change of
//! the model. It needs a reason and a run of the examples that compare whole polars.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]

use bladeform_polar::{PreparedSection, ViscousSettings};
use bladeform_section::Family;

/// Corners of the outline.
const CORNERS: usize = 400;

/// Zero-lift angle, deg, and lift slope, per deg: the straight line through the points from -2 to 6 deg.
fn zero_lift_and_slope(family: Family, settings: ViscousSettings, reynolds: f64) -> [f64; 2] {
    let section = PreparedSection::new(&family.outline(CORNERS), settings).unwrap();
    let march = |degrees: &[f64]| {
        let radians: Vec<f64> = degrees.iter().map(|a| a.to_radians()).collect();
        section.march(&radians, &[reynolds]).unwrap().remove(0)
    };
    // A march begins at zero and moves away from it.
    let mut points = march(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
    points.extend(march(&[-1.0, -2.0]));
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
    [mean_angle - mean_lift / slope, slope]
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
    assert_pinned("zero-lift angle, deg", zero, -4.4379, -3.9);
    assert_pinned("lift slope, per deg", slope, 0.107079, 0.106);
}

/// C. L. Ladson, NASA TM 4074, 1988: NACA 0012 with grit at 5 % of the chord, Reynolds number 6e6.
#[test]
fn nasa_tm_4074_section_0012_with_grit_lift_slope() {
    let family = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.12 };
    let settings = ViscousSettings { trip_back: 0.05, trip_face: 0.05, ..ViscousSettings::default() };
    let [zero, slope] = zero_lift_and_slope(family, settings, 6e6);
    assert!(zero.abs() < 1e-3, "{zero}");
    assert_pinned("lift slope, per deg", slope, 0.112613, 0.1085);
}
