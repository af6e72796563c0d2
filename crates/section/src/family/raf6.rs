//! R.A.F. 6 ordinates on the chord line through nose and tail.
//!
//! Source: University of Illinois airfoil coordinates database, "RAF 6 AIRFOIL".

/// Greatest thickness of the table below, measured at right angles to the chord line.
pub(crate) const THICKNESS: f64 = 0.0998;

/// Back: fractions of the chord along and across the chord line from nose to tail.
pub(crate) const BACK: &[[f64; 2]] = &[
    [0.0, 0.0],
    [0.02487, 0.03599],
    [0.04981, 0.05408],
    [0.09973, 0.07426],
    [0.19967, 0.09062],
    [0.29966, 0.09578],
    [0.39966, 0.09534],
    [0.49967, 0.0917],
    [0.5997, 0.08406],
    [0.69974, 0.07142],
    [0.79981, 0.05378],
    [0.89988, 0.03314],
    [1.0, 0.0015],
];

/// Face, in the same way.
pub(crate) const FACE: &[[f64; 2]] = &[
    [0.0, 0.0],
    [0.02502, -0.00501],
    [0.05002, -0.00492],
    [0.10002, -0.00474],
    [0.20002, -0.00438],
    [0.30001, -0.00402],
    [0.40001, -0.00366],
    [0.50001, -0.0033],
    [0.60001, -0.00294],
    [0.70001, -0.00258],
    [0.80001, -0.00222],
    [0.90001, -0.00186],
    [1.0, -0.0015],
];
