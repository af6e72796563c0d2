//! Things that are no blades: bodies of revolution, boxes, tubes along a curve, ground, furniture.

use std::f64::consts::TAU;

use bladeform_mesh::RawMesh;
use bladeform_numeric::vector::{cross, norm, sub};
use bladeform_specimen::Random;

use super::tools::append;

/// Names of the foreign things.
pub(super) const FOREIGN: [&str; 8] = ["sphere", "box", "bottle", "ring", "knot", "terrain", "rod", "chair"];

/// A foreign thing about 1 m in size, some 50,000 triangles, with noise; m.
pub(super) fn foreign(name: &str, noise_m: f64, random: &mut Random) -> RawMesh {
    let mut mesh = match name {
        "sphere" => revolved(|t| [0.5 * (TAU * 0.5 * t).sin(), -0.5 * (TAU * 0.5 * t).cos()], 160),
        "box" => cuboid([0.0; 3], [0.5, 0.35, 0.2], 0.008),
        "bottle" => revolved(bottle, 200),
        "ring" => tube(0.06, 320, |t| [0.45 * (TAU * t).cos(), 0.45 * (TAU * t).sin(), 0.0]),
        // A trefoil: (sin t + 2 sin 2t, cos t - 2 cos 2t, -sin 3t).
        "knot" => tube(0.06, 500, |t| {
            let a = TAU * t;
            [
                0.17 * (a.sin() + 2.0 * (2.0 * a).sin()),
                0.17 * (a.cos() - 2.0 * (2.0 * a).cos()),
                -0.17 * (3.0 * a).sin(),
            ]
        }),
        "terrain" => terrain(random),
        "rod" => revolved(|t| profile(t, &[[0.0, 0.0], [0.012, 0.0], [0.012, 1.0], [0.0, 1.0]]), 400),
        _ => chair(),
    };
    for v in &mut mesh.vertices {
        v.iter_mut().for_each(|x| *x += noise_m * random.normal());
    }
    mesh
}

/// Triangles between rings of as many points each, and fans at both ends unless the last ring joins the first.
pub(super) fn swept(rings: &[Vec<[f64; 3]>], joined: bool) -> RawMesh {
    let around = rings[0].len();
    let mut vertices: Vec<[f64; 3]> = rings.iter().flatten().copied().collect();
    let at = |row: usize, k: usize| ((row % rings.len()) * around + k % around) as u32;
    let mut faces = Vec::new();
    for row in 0..rings.len() - usize::from(!joined) {
        for k in 0..around {
            let (a, b, c, d) = (at(row, k), at(row, k + 1), at(row + 1, k), at(row + 1, k + 1));
            faces.extend([[a, b, d], [a, d, c]]);
        }
    }
    if !joined {
        for (row, turned) in [(0, true), (rings.len() - 1, false)] {
            let sum = rings[row].iter().fold([0.0; 3], |s, p| [0, 1, 2].map(|k| s[k] + p[k]));
            vertices.push(sum.map(|x| x / around as f64));
            let middle = vertices.len() as u32 - 1;
            faces.extend((0..around).map(|k| {
                let (a, b) = (at(row, k), at(row, k + 1));
                if turned { [middle, b, a] } else { [middle, a, b] }
            }));
        }
    }
    RawMesh { vertices, faces }
}

/// A body of revolution about `z` of a profile of radius and height over 0..1.
fn revolved(profile: impl Fn(f64) -> [f64; 2], rows: usize) -> RawMesh {
    let around = 25_000 / rows;
    let rings: Vec<Vec<_>> = (0..rows)
        .map(|i| {
            let [radius, z] = profile((i as f64 + 0.5) / rows as f64);
            circle(around).map(|[c, s]| [radius * c, radius * s, z]).collect()
        })
        .collect();
    swept(&rings, false)
}

fn circle(n: usize) -> impl Iterator<Item = [f64; 2]> {
    (0..n).map(move |k| TAU * k as f64 / n as f64).map(|a| [a.cos(), a.sin()])
}

/// A place on a line through corners, by length; `t` in 0..1.
fn profile(t: f64, corners: &[[f64; 2]]) -> [f64; 2] {
    let length = |w: &[[f64; 2]]| (w[1][0] - w[0][0]).hypot(w[1][1] - w[0][1]);
    let mut left = t * corners.windows(2).map(length).sum::<f64>();
    for w in corners.windows(2) {
        let own = length(w);
        if left <= own {
            return [0, 1].map(|k| w[0][k] + left / own * (w[1][k] - w[0][k]));
        }
        left -= own;
    }
    corners[corners.len() - 1]
}

fn bottle(t: f64) -> [f64; 2] {
    let corners =
        [[0.0, 0.0], [0.11, 0.0], [0.12, 0.02], [0.12, 0.6], [0.04, 0.78], [0.04, 0.98], [0.0, 0.98]];
    profile(t, &corners)
}

/// A closed tube along a closed curve over 0..1.
fn tube(radius: f64, rows: usize, curve: impl Fn(f64) -> [f64; 3]) -> RawMesh {
    let around = 25_000 / rows;
    let unit = |v: [f64; 3]| v.map(|x| x / norm(v).max(1e-12));
    let rings: Vec<Vec<_>> = (0..rows)
        .map(|i| {
            let t = i as f64 / rows as f64;
            let (p, along) = (curve(t), unit(sub(curve(t + 1e-4), curve(t - 1e-4))));
            // The middle of both curves is the origin, which is never on the tangent.
            let across = unit(cross(along, [p[0], p[1], p[2] + 0.7]));
            let up = cross(along, across);
            circle(around)
                .map(|[c, s]| [0, 1, 2].map(|k| p[k] + radius * (c * across[k] + s * up[k])))
                .collect()
        })
        .collect();
    swept(&rings, true)
}

/// An open piece of ground with hills.
fn terrain(random: &mut Random) -> RawMesh {
    let waves: Vec<[f64; 4]> = (0..12)
        .map(|k| {
            let length = 1.0 / (1.0 + f64::from(k));
            let turn = TAU * random.uniform();
            [turn.cos() / length, turn.sin() / length, TAU * random.uniform(), 0.03 * length]
        })
        .collect();
    let height =
        |x: f64, y: f64| waves.iter().map(|w| w[3] * (TAU * (w[0] * x + w[1] * y) + w[2]).sin()).sum::<f64>();
    sheet([1.0, 0.7], 0.005, height)
}

/// An open sheet with its middle at the origin, of a height over `x` and `y`; sizes and step in m.
pub(super) fn sheet(size: [f64; 2], step: f64, height: impl Fn(f64, f64) -> f64) -> RawMesh {
    let [columns, rows] = size.map(|s| (s / step) as usize + 1);
    let mut mesh = RawMesh::default();
    for i in 0..rows {
        for j in 0..columns {
            let (x, y) = (step * j as f64 - 0.5 * size[0], step * i as f64 - 0.5 * size[1]);
            mesh.vertices.push([x, y, height(x, y)]);
        }
    }
    let at = |i: usize, j: usize| (i * columns + j) as u32;
    for i in 0..rows - 1 {
        for j in 0..columns - 1 {
            mesh.faces.extend([
                [at(i, j), at(i, j + 1), at(i + 1, j + 1)],
                [at(i, j), at(i + 1, j + 1), at(i + 1, j)],
            ]);
        }
    }
    mesh
}

/// A closed box with triangles of about `step`; middle and half sizes in m.
pub(super) fn cuboid(middle: [f64; 3], half: [f64; 3], step: f64) -> RawMesh {
    let count = |h: f64| ((2.0 * h / step).ceil() as usize).max(1);
    let side = |from: [f64; 2], to: [f64; 2], n: usize| {
        (0..n).map(move |k| [0, 1].map(|c| from[c] + (to[c] - from[c]) * k as f64 / n as f64))
    };
    let [x, y, z] = half;
    let around: Vec<[f64; 2]> = side([-x, -y], [x, -y], count(x))
        .chain(side([x, -y], [x, y], count(y)))
        .chain(side([x, y], [-x, y], count(x)))
        .chain(side([-x, y], [-x, -y], count(y)))
        .collect();
    let ring = |scale: f64, at: f64| {
        around.iter().map(|p| [middle[0] + scale * p[0], middle[1] + scale * p[1], middle[2] + at]).collect()
    };
    let (rows, caps) = (count(z), count(x.min(y) / 2.0));
    // The two ends are rings that shrink towards their middle.
    let bottom = (1..caps).map(|i| ring(i as f64 / caps as f64, -z));
    let sides = (0..=rows).map(|i| ring(1.0, z * (2.0 * i as f64 / rows as f64 - 1.0)));
    let top = (1..caps).rev().map(|i| ring(i as f64 / caps as f64, z));
    let rings: Vec<Vec<_>> = bottom.chain(sides).chain(top).collect();
    swept(&rings, false)
}

/// A closed cylinder along `z` between two heights, m.
pub(super) fn cylinder(radius: f64, from: f64, to: f64, step: f64) -> RawMesh {
    let around = ((TAU * radius / step).ceil() as usize).max(12);
    let rows = (((to - from) / step).ceil() as usize).max(1);
    let rings: Vec<Vec<_>> = (0..=rows)
        .map(|i| {
            let z = from + (to - from) * i as f64 / rows as f64;
            circle(around).map(|[c, s]| [radius * c, radius * s, z]).collect()
        })
        .collect();
    swept(&rings, false)
}

/// Seat, back and four legs as overlapping boxes.
fn chair() -> RawMesh {
    let mut mesh = cuboid([0.0, 0.0, 0.45], [0.22, 0.22, 0.02], 0.008);
    append(&mut mesh, &cuboid([0.0, 0.21, 0.72], [0.22, 0.015, 0.28], 0.008));
    for (x, y) in [(-0.2, -0.2), (-0.2, 0.2), (0.2, -0.2), (0.2, 0.2)] {
        append(&mut mesh, &cuboid([x, y, 0.22], [0.02, 0.02, 0.22], 0.008));
    }
    mesh
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_mesh::{moments, repair, topology};

    #[test]
    fn bodies_are_closed_and_outward() {
        for name in ["sphere", "box", "bottle", "ring", "knot", "rod"] {
            let (mesh, _) = repair(foreign(name, 0.0, &mut Random::new(1))).unwrap();
            assert!(topology(&mesh).closed(), "{name}");
            assert!(0.0 < moments(&mesh).volume, "{name}");
        }
        let sphere = repair(foreign("sphere", 0.0, &mut Random::new(1))).unwrap().0;
        let volume = moments(&sphere).volume;
        assert!((volume / (std::f64::consts::PI / 6.0) - 1.0).abs() < 5e-3, "{volume}");
    }
}
