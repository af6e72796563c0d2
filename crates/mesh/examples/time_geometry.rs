//! Measures the time of every geometry step on a closed surface of two million triangles, and the memory used.
//!
//! `cargo run --release -p bladeform-mesh --example time_geometry [-- shuffled|loose]`
#![allow(clippy::print_stdout, reason = "printing is what the example is for")]

use std::time::Instant;

use bladeform_mesh::{RawMesh, components, cut, keep_part, moments, orient, repair, topology};
use bladeform_numeric::parallel;

/// Points around and along the surface: 2 million triangles.
const AROUND: u32 = 1000;
const ALONG: u32 = 1001;

fn main() {
    let raw = match std::env::args().nth(1).as_deref() {
        Some("shuffled") => shuffled(surface()),
        Some("loose") => loose(&surface()),
        _ => surface(),
    };
    println!(
        "{} vertices, {} triangles, resident {} MB",
        raw.vertices.len(),
        raw.faces.len(),
        memory("VmRSS")
    );

    let (mesh, tally) = timed("repair", || repair(raw)).expect("the surface has triangles");
    let (mesh, report) = timed("orient", || orient(mesh));
    timed("topology", || topology(&mesh));
    timed("components", || components(&mesh));
    timed("keep_part", || keep_part(&mesh));
    timed("moments", || moments(&mesh));
    let offsets: Vec<f64> = (0..100).map(|k| -0.99 + 0.02 * f64::from(k)).collect();
    for threads in [1, 2] {
        let cuts = timed("cut, 100 planes", || {
            parallel::with_threads(threads, || cut(&mesh, [0.0, 0.0, 1.0], &offsets))
        });
        println!("  {threads} thread(s), {} chains", cuts.iter().map(|cut| cut.chains.len()).sum::<usize>());
    }
    println!("{tally:?}\n{report:?}");
}

fn timed<T>(name: &str, job: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let result = job();
    println!("{name:>16}: {:.3} s, peak {} MB", start.elapsed().as_secs_f64(), memory("VmHWM"));
    result
}

/// A value reported by the operating system for this process, in megabytes; 0 if it has none.
fn memory(key: &str) -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with(key));
    let kilobytes = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<u64>().ok());
    kilobytes.unwrap_or(0) / 1024
}

/// A bumpy, closed body of rotation about z.
fn surface() -> RawMesh {
    let mut vertices = vec![[0.0, 0.0, -1.0]];
    for i in 1..ALONG {
        let z = -1.0 + 2.0 * f64::from(i) / f64::from(ALONG);
        for j in 0..AROUND {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(j) / f64::from(AROUND)).sin_cos();
            let radius = (1.0 - z * z).sqrt() * (0.3 + 0.01 * (40.0 * cos + 31.0 * z).sin());
            // Rounded as in a single-precision file.
            vertices.push([radius * cos, radius * sin, z].map(|c| f64::from(c as f32)));
        }
    }
    let top = vertices.len() as u32;
    vertices.push([0.0, 0.0, 1.0]);
    let at = |i: u32, j: u32| 1 + (i - 1) * AROUND + j % AROUND;
    let mut faces = Vec::new();
    for j in 0..AROUND {
        faces.extend([[0, at(1, j + 1), at(1, j)], [top, at(ALONG - 1, j), at(ALONG - 1, j + 1)]]);
    }
    for i in 1..ALONG - 1 {
        for j in 0..AROUND {
            let [a, b, c, d] = [at(i, j), at(i, j + 1), at(i + 1, j + 1), at(i + 1, j)];
            faces.extend([[a, b, c], [a, c, d]]);
        }
    }
    RawMesh { vertices, faces }
}

/// Vertices and triangles in random order: the worst case for the cache.
fn shuffled(mesh: RawMesh) -> RawMesh {
    let mut state = 1u64;
    let mut random_below = |n: usize| {
        // A linear congruential generator after D. Knuth, The Art of Computer Programming, volume 2 (constants from memory).
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % n
    };
    let mut place: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    (1..place.len()).rev().for_each(|i| place.swap(i, random_below(i + 1)));
    let mut vertices = mesh.vertices.clone();
    mesh.vertices.iter().zip(&place).for_each(|(vertex, &to)| vertices[to as usize] = *vertex);
    let mut faces: Vec<_> = mesh.faces.iter().map(|face| face.map(|v| place[v as usize])).collect();
    (1..faces.len()).rev().for_each(|i| faces.swap(i, random_below(i + 1)));
    RawMesh { vertices, faces }
}

/// Three separate vertices for each triangle.
fn loose(mesh: &RawMesh) -> RawMesh {
    let vertices = mesh.faces.iter().flatten().map(|&v| mesh.vertices[v as usize]).collect();
    let faces = (0..mesh.faces.len() as u32).map(|f| [3 * f, 3 * f + 1, 3 * f + 2]).collect();
    RawMesh { vertices, faces }
}
