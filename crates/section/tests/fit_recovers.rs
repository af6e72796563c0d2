//! The fit returns the figures of known outlines: exactly enough without noise, and within its own uncertainty with it.

use bladeform_section::{BandPoint, Family, Figure, FitSettings, fit_section};

/// Small seeded generator of Gaussian noise (sum of twelve uniform numbers), so that the test depends on nothing else.
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

/// Points evenly along the arc of an outline, as a scan has them, on rows along the span.
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
                let at = [a[0] + d[0] * next / length + e * normal[0], a[1] + d[1] * next / length + e * normal[1]];
                points.push(BandPoint { at, normal, span });
                next += spacing;
            }
            next -= length;
        }
    }
    points
}

const SETTINGS: FitSettings = FitSettings { half_band: 0.075, model_error: 5e-4 };

#[test]
fn look() {
    for family in [
        Family::FourDigit { camber: 0.04, position: 0.4, thickness: 0.12 },
        Family::FourDigit { camber: 0.02, position: 0.4, thickness: 0.25 },
        Family::FourDigit { camber: 0.05, position: 0.5, thickness: 0.07 },
        Family::ClarkY { thickness: 0.1171 },
        Family::ClarkY { thickness: 0.20 },
        Family::ClarkY { thickness: 0.08 },
        Family::Raf6 { thickness: 0.12 },
        Family::CircularArcs { back_height: 0.1, face_height: 0.0, edge_radius: 0.008 },
        Family::CircularArcs { back_height: 0.05, face_height: 0.0, edge_radius: 0.003 },
        Family::CircularArcs { back_height: 0.10, face_height: -0.05, edge_radius: 0.02 },
        Family::Ellipse { thickness: 0.5 },
    ] {
        let truth = family.mean_line(3000).unwrap();
        let tangle = -(truth.chord_vector()[1]).atan2(truth.chord_vector()[0]);
        println!("{}", family.name());
        for (noise, seed) in [(0.0, 1), (1e-3, 2), (1e-3, 3), (1e-3, 4)] {
            let points = scan(&family.outline(3000), 0.0068, 22, noise, seed);
            match fit_section(&points, &SETTINGS) {
                Err(e) => println!("  {e}"),
                Ok(fit) => {
                    let f = fit.figures();
                    let q = fit.quality;
                    println!("  noise {noise:.0e} chord {:+.3}% ±{:.3}  angle {:+.4}deg ±{:.4}  t {:+.5} ±{:.5}  camber {:+.5} ±{:.5} cpos {:+.3} ler {:.4}±{:.4} tet {:.4} rms {:.2e} f {:.2} stray {} pts {}",
                        100.0 * (f.value(Figure::Chord) / truth.chord() - 1.0), 100.0 * f.u(Figure::Chord),
                        (f.value(Figure::Angle) - tangle).to_degrees(), f.u(Figure::Angle).to_degrees(),
                        f.value(Figure::ThicknessRatio) - truth.thickness() / truth.chord(), f.u(Figure::ThicknessRatio),
                        f.value(Figure::CamberRatio) - truth.camber().0, f.u(Figure::CamberRatio),
                        f.value(Figure::CamberPosition) - truth.camber().1,
                        f.value(Figure::LeadingEdgeRadius), f.u(Figure::LeadingEdgeRadius), f.value(Figure::TrailingEdgeThickness), q.rms, q.correlation, q.stray, q.points);
                }
            }
        }
    }
}
