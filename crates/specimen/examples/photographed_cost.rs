//! Prints what a photographed scan costs, in seconds, as a Markdown table.
//!
//! `cargo run --release -p bladeform-specimen --example photographed_cost`
#![allow(clippy::print_stdout, reason = "an example that prints its table")]

use std::time::Instant;

use bladeform_specimen::{
    Axis, Correlation, DrawnBlade, Edge, Kernel, KernelKind, Noise, Photogrammetry, Sections, Triangulation,
    photographed_blade,
};

fn main() {
    let sections = Sections::Free { nose: Edge::Blunt, tail: Edge::Square };
    let blade = DrawnBlade::drawn(7, sections, Axis::Shank, 1.3);
    let noise = |correlation| vec![Noise { deviation_m: 2e-4, length_m: 0.01, correlation }];
    let kernel = Kernel { deviation_m: 1e-3, kind: KernelKind::Surface };
    let plain = Photogrammetry { kernel, ..Photogrammetry::clean(1) };
    let rows = [
        ("no kernel, no noise", Photogrammetry::clean(1)),
        ("kernel 1 mm, no noise", plain.clone()),
        (
            "kernel 1 mm, Gaussian noise",
            Photogrammetry { noise: noise(Correlation::Gaussian), ..plain.clone() },
        ),
        (
            "kernel 1 mm, exponential noise",
            Photogrammetry { noise: noise(Correlation::Exponential), ..plain.clone() },
        ),
        (
            "kernel 1 mm, patches of 50 mm radius",
            Photogrammetry {
                noise: vec![Noise { length_m: 0.05, ..noise(Correlation::Patches)[0] }],
                ..plain.clone()
            },
        ),
        (
            "kernel 1 mm, Gaussian noise, thinned from twice as many",
            Photogrammetry {
                noise: noise(Correlation::Gaussian),
                triangulation: Triangulation::Thinned(2.0),
                ..plain.clone()
            },
        ),
        (
            "flow 1 mm, Gaussian noise",
            Photogrammetry {
                noise: noise(Correlation::Gaussian),
                kernel: Kernel { kind: KernelKind::Flow, ..kernel },
                ..plain.clone()
            },
        ),
        (
            "kernel 3 mm, Gaussian noise",
            Photogrammetry {
                noise: noise(Correlation::Gaussian),
                kernel: Kernel { deviation_m: 3e-3, ..kernel },
                ..plain
            },
        ),
    ];
    println!("| scan | 100,000 triangles, s | 650,000 triangles, s |");
    println!("|---|---|---|");
    for (name, plan) in rows {
        let seconds = [100_000, 650_000].map(|triangles| {
            let start = Instant::now();
            let scan = photographed_blade(&blade, &Photogrammetry { triangles, ..plan.clone() });
            let seconds = start.elapsed().as_secs_f64();
            let share = scan.mesh.faces.len() as f64 / triangles as f64;
            assert!((0.9..1.1).contains(&share), "{} triangles of {triangles}", scan.mesh.faces.len());
            seconds
        });
        println!("| {name} | {:.2} | {:.2} |", seconds[0], seconds[1]);
    }
}
