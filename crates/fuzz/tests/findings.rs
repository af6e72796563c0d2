//! Findings of fuzzing, each with its input.

use bladeform_fuzz::{polar_csv, stations_json};

/// A step of zero width between two equal angles made every force of the polar NaN.
#[test]
fn finding_polar_with_an_angle_twice() {
    assert!(!polar_csv(b"-4,-0.4,0.01,1e6\n0,0,0.008,1e6\n4,0.4,0.01,1e6\n4,0.3,0.01,1e6\n"));
    // The same with angles closer than the reader can distinguish.
    assert!(!polar_csv(b"0,0.4,0.01,1e6\n4,0.4,0.01,1e6\n4.00000001,0.3,0.01,1e6\n"));
}

/// An impossible coefficient made forces infinite.
#[test]
fn finding_polar_with_a_coefficient_beyond_all_sections() {
    assert!(!polar_csv(b"-4,-0.4,0.01,1e6\n0,1e308,0.008,1e6\n4,0.4,0.01,1e6\n"));
    assert!(!polar_csv(b"-4,-0.4,0.01,1e300\n0,0,0.008,1e300\n4,0.4,0.01,1e300\n"));
}

/// A coordinate of an outline overflowed when it was rounded. It was written as `null`, which was then refused.
#[test]
fn finding_outline_coordinate_near_the_largest_number() {
    assert!(stations_json(
        br#"{"blade": {"radius_m": 1.42}, "stations": [{"radius_m": 0.5, "chord_m": 0.16, "blade_angle_deg": 30, "outline": {"x": [0, 1e308, 1], "y": [0, 0, 1]}}]}"#
    ));
}
