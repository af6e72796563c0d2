//! The loss of a finite number of blades compared with Goldstein's own solution.

use bladeform::predict::goldstein_circulation;

use crate::tool::{outside_library, python};

/// Number of vortices along the span.
const VORTICES: usize = 80;
/// Tolerance for the effect of discrete vortices and of a blade that begins at 0.02 R. The largest difference is 0.0013, at 0.3 R.
const ALIKE: f64 = 0.002;

/// S. Goldstein, Proceedings of the Royal Society A 123, 1929, 440-465, evaluated with SciPy's Bessel functions for two, three and four blades.
#[test]
fn helical_vortices_have_the_circulation_of_goldsteins_series() {
    let Some(printed) =
        outside_library(&mut python("goldstein.py"), "Goldstein's series was not evaluated by SciPy")
    else {
        return;
    };
    let rows: Vec<Vec<f64>> =
        printed.lines().map(|line| line.split_whitespace().map(|v| v.parse().unwrap()).collect()).collect();
    assert_eq!(rows.len(), 54);
    for row in rows {
        let [blades, tip, ratio, published] = row[..] else { panic!("{row:?}") };
        let ours = goldstein_circulation(blades as u32, 1.0 / tip, VORTICES);
        let outer = ours.partition_point(|(x, _)| *x < ratio);
        let (before, after) = (ours[outer - 1], ours[outer]);
        let share = (ratio - before.0) / (after.0 - before.0);
        let found = before.1 + share * (after.1 - before.1);
        assert!(
            (found - published).abs() < ALIKE,
            "{blades} blades, tip {tip}, at {ratio}: {found:.5}, published {published:.5}"
        );
    }
}
