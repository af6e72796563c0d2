//! Even triangles over a sheet that know nothing of its edges: rings of shaken points, each with its own number and phase, zipped together.

use super::sheet::{Place, Sheet};
use crate::random::Random;

/// Places of the vertices and the triangles, outward.
#[derive(Debug)]
pub(super) struct Net {
    pub(super) places: Vec<Place>,
    pub(super) faces: Vec<[u32; 3]>,
}

/// Height of an equilateral triangle over its edge.
const HEIGHT: f64 = 0.866;
/// How far a point is shaken, in edges either way.
const SHAKE: f64 = 0.28;
/// A ring has at least so many points.
const LEAST_AROUND: usize = 5;
/// Amplitude of the two waves by which a ring leaves the plane across the span, in edges, and its bound, as a share of the meridian.
const WAVE: f64 = 4.0;
/// Bound of the amplitude as a fraction of the meridian (chosen).
const WAVE_SHARE: f64 = 0.01;

/// A net of about so many triangles.
pub(super) fn net(sheet: &Sheet, triangles: usize, random: &mut Random) -> Net {
    // An equilateral triangle has the area sqrt(3)/4 of its edge's square.
    let edge = (sheet.area() / (0.433 * triangles.max(200) as f64)).sqrt();
    let end = sheet.meridian_end();
    let rings = (end / (HEIGHT * edge)).round().max(4.0) as usize;
    let step = end / rings as f64;
    let wave = (WAVE * edge).min(WAVE_SHARE * end);
    let phases = [0; 2].map(|_| random.uniform());
    let mut places = vec![sheet.place(0.0, 0.0)];
    let mut faces = Vec::with_capacity(triangles + triangles / 8);
    // First vertex and fractions of the perimeter of the ring before.
    let mut before: (u32, Vec<f64>) = (0, vec![]);
    for i in 1..rings {
        let m = step * i as f64;
        let around = ((sheet.place(0.0, m).perimeter / edge).round() as usize).max(LEAST_AROUND);
        let first = places.len() as u32;
        let phase = random.uniform();
        let us: Vec<f64> =
            (0..around).map(|k| (k as f64 + phase + random.between(-SHAKE, SHAKE)) / around as f64).collect();
        // The waves die away towards both poles, so that no ring is folded there.
        let fade = (m.min(end - m) / (0.1 * end)).min(1.0);
        for &u in &us {
            let turn = std::f64::consts::TAU;
            let tilt = (turn * (u + phases[0])).sin() + 0.5 * (turn * (2.0 * u + phases[1])).sin();
            places.push(sheet.place(u, m + fade * wave * tilt + step * random.between(-SHAKE, SHAKE)));
        }
        if i == 1 {
            let next = |k: usize| first + ((k + 1) % around) as u32;
            faces.extend((0..around).map(|k| [0, first + k as u32, next(k)]));
        } else {
            zip(&mut faces, (before.0, &before.1), (first, &us));
        }
        before = (first, us);
    }
    let tip = places.len() as u32;
    places.push(sheet.place(0.0, end));
    let n = before.1.len();
    faces.extend((0..n).map(|k| [before.0 + k as u32, tip, before.0 + ((k + 1) % n) as u32]));
    Net { places, faces }
}

/// Triangles between two rings, given by their first vertex and the rising fractions of their points.
fn zip(faces: &mut Vec<[u32; 3]>, below: (u32, &[f64]), above: (u32, &[f64])) {
    let (na, nb) = (below.1.len(), above.1.len());
    // The point of the upper ring nearest to the lower ring's first, counted on or back by whole turns.
    let at = |us: &[f64], k: usize| us[k % us.len()] + (k / us.len()) as f64;
    let off = |k: usize| {
        let d = above.1[k] - below.1[0];
        d - d.round()
    };
    let start = (0..nb).min_by(|&a, &b| off(a).abs().total_cmp(&off(b).abs())).unwrap_or(0);
    let turn = (above.1[start] - below.1[0]).round();
    let (mut i, mut j) = (0, 0);
    while i < na || j < nb {
        let a = below.0 + (i % na) as u32;
        let b = above.0 + ((start + j) % nb) as u32;
        let next_a = at(below.1, i + 1);
        let next_b = at(above.1, start + j + 1) - turn;
        if j == nb || i < na && next_a < next_b {
            faces.push([a, b, below.0 + ((i + 1) % na) as u32]);
            i += 1;
        } else {
            faces.push([a, b, above.0 + ((start + j + 1) % nb) as u32]);
            j += 1;
        }
    }
}
