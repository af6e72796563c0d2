//! How well the sharp outline behind a scan of limited resolution is found: published sections are blurred by a Gaussian along their arc length, fitted with and without noise, made sharp, and compared with
//! fits of the sections themselves.
//!
//! `cargo run --release -p bladeform-section --example sharp_outlines`: root mean squares of the errors, in chords and rad.

#![allow(clippy::print_stdout, reason = "it prints a table")]

use bladeform_section::{
    BandPoint, Family, Figure, FitError, FitSettings, SectionFit, figures, fit_section, perimeter,
};

/// Standard deviations of the kernel, and of the noise, chords.
const KERNELS: [f64; 3] = [0.003, 0.006, 0.012];
const NOISES: [f64; 2] = [0.0, 3e-4];
/// Seeds of the noise and of the places along the span.
const SEEDS: [u64; 2] = [7, 8];
/// Points of a band, and corners of a section.
const N_POINTS: usize = 9000;
const N_CORNERS: usize = 4001;

const SECTIONS: [Family; 8] = [
    Family::FourDigit { camber: 0.03, position: 0.4, thickness: 0.126 },
    Family::FourDigit { camber: 0.02, position: 0.4, thickness: 0.08 },
    Family::FourDigit { camber: 0.04, position: 0.3, thickness: 0.20 },
    Family::ClarkY { thickness: 0.117 },
    Family::ClarkY { thickness: 0.08 },
    Family::Raf6 { thickness: 0.10 },
    Family::CircularArcs { back_height: 0.08, face_height: 0.0, edge_radius: 0.006 },
    Family::CircularArcs { back_height: 0.06, face_height: -0.03, edge_radius: 0.004 },
];

const COMPARED: [(&str, Figure); 8] = [
    ("chord", Figure::Chord),
    ("angle", Figure::Angle),
    ("face angle", Figure::FaceAngle),
    ("thickness", Figure::Thickness),
    ("camber", Figure::CamberRatio),
    ("leading-edge radius", Figure::LeadingEdgeRadius),
    ("trailing-edge thickness", Figure::TrailingEdgeThickness),
    ("area", Figure::Area),
];

fn main() -> Result<(), FitError> {
    println!("| kernel | fits | not found | {} |", COMPARED.map(|(name, _)| name).join(" | "));
    println!("|---|---|---|{}", "---|".repeat(COMPARED.len()));
    for kernel in KERNELS {
        let (mut squares, mut found, mut missed) = ([0.0; COMPARED.len()], 0, 0);
        for section in SECTIONS {
            let sharp = section.outline(N_CORNERS);
            for (noise, seed) in NOISES.iter().flat_map(|noise| SEEDS.map(|seed| (*noise, seed))) {
                let truth = figures(&fitted(&even(&sharp, N_POINTS), 0.0, seed)?.shape);
                let mut fit = fitted(&blurred(&even(&sharp, N_POINTS), kernel), noise, seed)?;
                fit.sharpen(kernel);
                if fit.unsharpened {
                    missed += 1;
                    continue;
                }
                found += 1;
                let got = figures(&fit.shape);
                for (square, (_, figure)) in squares.iter_mut().zip(COMPARED) {
                    *square += (got.value(figure) - truth.value(figure)).powi(2);
                }
            }
        }
        let rms = squares.map(|square| format!("{:.2e}", (square / f64::from(found)).sqrt()));
        println!("| {kernel} | {found} | {missed} | {} |", rms.join(" | "));
    }
    Ok(())
}

/// Fit of an outline that does not change along the span, with evenly distributed places there.
fn fitted(outline: &[[f64; 2]], noise: f64, seed: u64) -> Result<SectionFit, FitError> {
    let mut state = seed;
    // A linear congruential generator: D. E. Knuth, "The art of computer programming", volume 2, section 3.3.4, from memory.
    let mut uniform = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64 - 0.5
    };
    let n = outline.len();
    let points: Vec<BandPoint> = (0..n)
        .map(|i| {
            let (before, after) = (outline[(i + n - 1) % n], outline[(i + 1) % n]);
            let d = [after[0] - before[0], after[1] - before[1]];
            let length = d[0].hypot(d[1]);
            // The outline runs anticlockwise: outwards is to the right.
            let normal = [d[1] / length, -d[0] / length];
            // The sum of three has a variance of a quarter.
            let off = 2.0 * noise * (uniform() + uniform() + uniform());
            let at = [outline[i][0] + off * normal[0], outline[i][1] + off * normal[1]];
            BandPoint { at, normal, span: 2.0 * uniform() }
        })
        .collect();
    fit_section(&points, &FitSettings { half_band: 0.1, model_error: 5e-4 })
}

/// `n` points of a closed outline at even arc length.
fn even(outline: &[[f64; 2]], n: usize) -> Vec<[f64; 2]> {
    let step = perimeter(outline) / n as f64;
    let (mut points, mut left) = (Vec::with_capacity(n), 0.0);
    for (k, a) in outline.iter().enumerate() {
        let b = outline[(k + 1) % outline.len()];
        let side = (b[0] - a[0]).hypot(b[1] - a[1]);
        while left < side && points.len() < n {
            let share = left / side;
            points.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
            left += step;
        }
        left -= side;
    }
    points
}

/// Evenly spaced points of a closed outline, convolved with a Gaussian along the arc length.
fn blurred(points: &[[f64; 2]], kernel: f64) -> Vec<[f64; 2]> {
    let (n, step) = (points.len(), perimeter(points) / points.len() as f64);
    let reach = (5.0 * kernel / step).ceil() as usize;
    let weights: Vec<f64> = (0..=2 * reach)
        .map(|k| (k as f64 - reach as f64) * step / kernel)
        .map(|x| (-0.5 * x * x).exp())
        .collect();
    let sum: f64 = weights.iter().sum();
    (0..n)
        .map(|i| {
            let mean = |axis: usize| {
                let all = weights.iter().enumerate();
                all.map(|(k, w)| w * points[(i + n + k - reach) % n][axis]).sum::<f64>() / sum
            };
            [mean(0), mean(1)]
        })
        .collect()
}
