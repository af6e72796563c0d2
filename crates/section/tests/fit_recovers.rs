//! The fit recovers the figures of known outlines: accurately without noise, and within its own uncertainty with noise.

#![allow(clippy::unwrap_used, reason = "a failing helper fails its test")]
#![allow(clippy::print_stdout, reason = "`--nocapture` shows the figures")]

use bladeform_section::{BandPoint, Family, Figure, FitSettings, fit_section, mean_line};

/// Small seeded generator of Gaussian noise (sum of twelve uniform numbers), so that the test has no other dependency.
struct Noise(u64);
impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn gauss(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// Points at equal steps along the arc of an outline, like those of a scan, in rows along the span.
fn scan(outline: &[[f64; 2]], spacing: f64, rows: usize, noise: f64, seed: u64) -> Vec<BandPoint> {
    let mut random = Noise(seed);
    let n = outline.len();
    let mut points = Vec::new();
    for row in 0..rows {
        let span = 2.0 * (row as f64 + 0.5) / rows as f64 - 1.0;
        let mut next = spacing * random.uniform();
        for i in 0..n {
            let (a, b) = (outline[i], outline[(i + 1) % n]);
            let d = [b[0] - a[0], b[1] - a[1]];
            let length = d[0].hypot(d[1]);
            while next < length {
                let normal = [d[1] / length, -d[0] / length];
                let e = noise * random.gauss();
                let at = [
                    a[0] + d[0] * next / length + e * normal[0],
                    a[1] + d[1] * next / length + e * normal[1],
                ];
                points.push(BandPoint { at, normal, span });
                next += spacing;
            }
            next -= length;
        }
    }
    points
}

const SETTINGS: FitSettings = FitSettings { half_band: 0.075, model_error: 5e-4 };

/// Errors of chord (relative), angle (deg), thickness ratio and camber ratio compared with the mean line of the exact outline.
fn errors(family: Family, noise: f64, seed: u64) -> [f64; 4] {
    let truth = mean_line(&family.outline(3000), family.leading_index(3000)).unwrap();
    let angle = -truth.chord_vector()[1].atan2(truth.chord_vector()[0]);
    let fit = fit_section(&scan(&family.outline(3000), 0.0068, 11, noise, seed), &SETTINGS).unwrap();
    let found = fit.figures();
    [
        found.value(Figure::Chord) / truth.chord() - 1.0,
        (found.value(Figure::Angle) - angle).to_degrees(),
        found.value(Figure::ThicknessRatio) - truth.thickness() / truth.chord(),
        found.value(Figure::CamberRatio) - truth.camber().0,
    ]
}

fn assert_within(family: Family, noise: f64, seed: u64, bounds: [f64; 4]) {
    for (error, bound) in errors(family, noise, seed).into_iter().zip(bounds) {
        assert!(
            error.abs() < bound,
            "{}, noise {noise}, seed {seed}: {error} against {bound}",
            family.name()
        );
    }
}

/// NACA Report 460: the designation gives thickness and camber, and the chord line joins the ends of the mean line.
#[test]
fn four_digit_sections_without_noise() {
    // At a thickness of a quarter of the chord the nose hardly determines the mean line, and the corner in the curvature at 40 % of the chord turns it by 0.024 deg.
    for (camber, position, thickness, [angle, of_camber]) in [
        (0.04, 0.4, 0.12, [0.006, 1.5e-4]),
        (0.02, 0.4, 0.20, [0.02, 1.5e-4]),
        (0.02, 0.4, 0.25, [0.03, 3e-4]),
        (0.05, 0.5, 0.07, [0.006, 1.5e-4]),
    ] {
        let family = Family::FourDigit { camber, position, thickness };
        assert_within(family, 0.0, 1, [1.5e-4, angle, 1.5e-4, of_camber]);
    }
}

/// The shapes used to choose the least noise of the prior for scans without noise. The error comes from the corner in the mean line's curvature and grows with the
/// thickness of the nose.
#[test]
fn four_digit_sections_of_many_shapes_without_noise() {
    let shapes = [(0.0, 0.4), (0.02, 0.4), (0.04, 0.4), (0.06, 0.4), (0.03, 0.3), (0.05, 0.5), (0.02, 0.6)];
    let angle_rms = |thicknesses: &[f64]| {
        let squares: Vec<f64> = thicknesses
            .iter()
            .flat_map(|&thickness| {
                shapes.map(|(camber, position)| Family::FourDigit { camber, position, thickness })
            })
            .map(|family| errors(family, 0.0, 1)[1].powi(2))
            .collect();
        (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
    };
    let (usual, thick) = (angle_rms(&[0.08, 0.12, 0.16, 0.20]), angle_rms(&[0.25]));
    assert!(usual < 0.012 && thick < 0.06, "{usual:.4} deg to 20 % thickness, {thick:.4} deg at 25 %");
}

#[test]
fn sections_with_noise_of_a_thousandth_of_the_chord() {
    for family in [
        Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 },
        Family::FourDigit { camber: 0.05, position: 0.5, thickness: 0.07 },
        Family::ClarkY { thickness: 0.1171 },
        Family::CircularArcs { back_height: 0.1, face_height: 0.0, edge_radius: 0.008 },
    ] {
        for seed in [1, 2] {
            assert_within(family, 1e-3, seed, [0.004, 0.15, 0.0015, 0.0015]);
        }
    }
}

/// There are enough points for the fit in two stages.
#[test]
fn many_points_lower_the_error() {
    let family = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
    let truth = family.mean_line(3000).unwrap();
    let fit = fit_section(&scan(&family.outline(3000), 0.0034, 44, 1e-3, 5), &SETTINGS).unwrap();
    let angle = -truth.chord_vector()[1].atan2(truth.chord_vector()[0]);
    assert!((fit.figures().value(Figure::Angle) - angle).to_degrees().abs() < 0.05);
    assert!((fit.figures().value(Figure::Chord) / truth.chord() - 1.0).abs() < 1.5e-3);
}

#[test]
fn a_missing_face_is_refused_with_its_reason() {
    let family = Family::ClarkY { thickness: 0.12 };
    let mut points = scan(&family.outline(2000), 0.0068, 11, 0.0, 1);
    points.retain(|p| 0.0 < p.normal[1] || p.at[0] < 0.2);
    let refused = fit_section(&points, &SETTINGS).unwrap_err().to_string();
    assert!(refused.starts_with("the face has scan points on only"), "{refused}");
}

/// The definition is one: the edges of a fitted shape are those of its own outline as a polygon.
#[test]
fn the_edges_of_a_shape_are_those_of_its_outline() {
    for family in [
        Family::ClarkY { thickness: 0.1171 },
        Family::ClarkY { thickness: 0.20 },
        Family::Raf6 { thickness: 0.0998 },
        Family::FourDigit { camber: 0.06, position: 0.4, thickness: 0.20 },
    ] {
        let fit = fit_section(&scan(&family.outline(3000), 0.0068, 11, 0.0, 1), &SETTINGS).unwrap();
        let polygon = fit.shape.outline(2401);
        let nose = (0..polygon.len()).min_by(|&a, &b| polygon[a][0].total_cmp(&polygon[b][0])).unwrap();
        let truth = mean_line(&polygon, nose).unwrap();
        let [le, te] = fit.shape.chord_ends();
        for (found, truth) in [(le, truth.leading_edge), (te, truth.trailing_edge)] {
            let apart = (found[0] - truth[0]).hypot(found[1] - truth[1]);
            assert!(apart < 2e-4, "{}: {found:?} {truth:?}", family.name());
        }
        let chord = (te[0] - le[0]).hypot(te[1] - le[1]);
        assert!((fit.figures().value(Figure::Chord) - chord).abs() < 1e-12);
    }
}

/// Propagation of distributions by a Monte Carlo method (JCGM 101:2008, clause 7) beside the first-order budget (JCGM 100:2008, 5.1.2): 120 draws of the noise of one scan,
/// each fitted. The fit states 15 to 27 % more than the scatter: the number of points that count as one is estimated from the residuals of one scan and never taken below one, and the prior on
/// sections holds back what one truth does not need.
#[test]
fn the_first_order_budget_is_that_of_a_monte_carlo_method() {
    const DRAWS: u64 = 120;
    let family = Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 };
    let outline = family.outline(3000);
    let found: Vec<_> = (0..DRAWS)
        .map(|seed| fit_section(&scan(&outline, 0.0068, 11, 1e-3, 1000 + seed), &SETTINGS).unwrap().figures())
        .collect();
    let mut faults = Vec::new();
    for figure in [Figure::Thickness, Figure::Area, Figure::FaceAngle, Figure::Angle, Figure::CamberRatio] {
        let n = DRAWS as f64;
        let mean = found.iter().map(|f| f.value(figure)).sum::<f64>() / n;
        let scatter =
            (found.iter().map(|f| (f.value(figure) - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
        let stated = (found.iter().map(|f| f.u(figure).powi(2)).sum::<f64>() / n).sqrt();
        // A standard deviation of 120 draws has a standard error of 6.5 %.
        let ratio = scatter / stated;
        println!("{figure:?}: {ratio:.3}");
        if !(0.65..1.15).contains(&ratio) {
            faults.push(format!("{figure:?}: scatter over stated uncertainty {ratio:.3}"));
        }
    }
    assert!(faults.is_empty(), "{faults:?}");
}

/// Correlated noise makes the data worse but not the prior.
#[test]
fn uncertainty_grows_with_the_correlation_and_less_than_in_proportion() {
    let family = Family::FourDigit { camber: 0.03, position: 0.4, thickness: 0.12 };
    let mut fit = fit_section(&scan(&family.outline(3000), 0.0068, 11, 1e-3, 7), &SETTINGS).unwrap();
    let before = fit.figures();
    fit.set_correlation(4.0 * fit.quality.correlation);
    let after = fit.figures();
    for figure in [Figure::Chord, Figure::Angle, Figure::ThicknessRatio, Figure::CamberRatio] {
        let growth = after.u(figure) / before.u(figure);
        assert!((1.0..=2.0 + 1e-9).contains(&growth), "{figure:?}: {growth}");
    }
    assert!(1.5 < after.u(Figure::Area) / before.u(Figure::Area));
}

/// Both corners of a symmetrical blunt tail are equally far from the nose. A step of the derivative must not switch to the other corner.
#[test]
fn the_longest_chord_of_a_symmetrical_section_keeps_its_ends() {
    let family = Family::FourDigit { camber: 0.0, position: 0.4, thickness: 0.2 };
    let half: Vec<_> =
        scan(&family.outline(3000), 0.0068, 11, 0.0, 7).into_iter().filter(|p| 0.0 < p.at[1]).collect();
    let mirrored = half.iter().map(|p| BandPoint {
        at: [p.at[0], -p.at[1]],
        normal: [p.normal[0], -p.normal[1]],
        span: p.span,
    });
    let points: Vec<_> = half.iter().copied().chain(mirrored).collect();
    let found = fit_section(&points, &SETTINGS).unwrap().figures();
    let longest = found.u(Figure::LongestChordAngle);
    // The corners of the tail are 0.004 chords apart: over a step of a millionth a change of corner would be thousands of rad per chord.
    assert!(0.0 < longest && longest < 1e-3, "{longest} rad");
}
