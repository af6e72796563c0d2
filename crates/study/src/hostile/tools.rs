//! Tools that damage a mesh: cutting it along a surface, closing cuts, displacing points, growing things onto it.

use std::collections::HashMap;

use bladeform_mesh::RawMesh;
use bladeform_numeric::vector::{add, cross, norm, sub};
use bladeform_specimen::Random;

/// The part of a mesh where `outside` is negative, cut exactly along its zero, and the cut's edges in the winding of the triangles that are left.
pub(super) fn clipped(mesh: &RawMesh, outside: impl Fn(&[f64; 3]) -> f64) -> (RawMesh, Vec<[u32; 2]>) {
    let value: Vec<f64> = mesh.vertices.iter().map(outside).collect();
    let mut cut = RawMesh { vertices: mesh.vertices.clone(), faces: Vec::with_capacity(mesh.faces.len()) };
    let mut between = HashMap::<(u32, u32), u32>::new();
    let mut edges = Vec::new();
    for face in &mesh.faces {
        let inside = face.map(|v| value[v as usize] < 0.0);
        let count = inside.iter().filter(|i| **i).count();
        if count == 3 {
            cut.faces.push(*face);
        }
        if count == 0 || count == 3 {
            continue;
        }
        // The corner that is alone on its side comes first.
        let alone = (0..3).find(|&k| inside[k] == (count == 1)).unwrap_or(0);
        let [a, b, c] = [0, 1, 2].map(|k| face[(alone + k) % 3]);
        let mut on_edge = |from: u32, to: u32| {
            *between.entry((from.min(to), from.max(to))).or_insert_with(|| {
                let (p, q) = (mesh.vertices[from as usize], mesh.vertices[to as usize]);
                let t = value[from as usize] / (value[from as usize] - value[to as usize]);
                cut.vertices.push([0, 1, 2].map(|k| p[k] + t * (q[k] - p[k])));
                cut.vertices.len() as u32 - 1
            })
        };
        let (ab, ac) = (on_edge(a, b), on_edge(a, c));
        if count == 1 {
            cut.faces.push([a, ab, ac]);
            edges.push([ab, ac]);
        } else {
            cut.faces.extend([[ab, b, c], [ab, c, ac]]);
            edges.push([ac, ab]);
        }
    }
    (cut, edges)
}

/// Cuts a mesh and leaves the cut open.
pub(super) fn cut_open(mesh: &mut RawMesh, outside: impl Fn(&[f64; 3]) -> f64) {
    *mesh = clipped(mesh, outside).0;
}

/// Cuts a mesh and closes the cut by triangles to the middle of its edge, which suits one convex cut.
pub(super) fn cut_closed(mesh: &mut RawMesh, outside: impl Fn(&[f64; 3]) -> f64) {
    let (mut cut, edges) = clipped(mesh, outside);
    if edges.is_empty() {
        return;
    }
    let sum = edges.iter().fold([0.0; 3], |sum, e| add(sum, cut.vertices[e[0] as usize]));
    let middle = cut.vertices.len() as u32;
    cut.vertices.push(sum.map(|x| x / edges.len() as f64));
    cut.faces.extend(edges.iter().map(|[a, b]| [*b, *a, middle]));
    *mesh = cut;
}

/// Adds a separate body.
pub(super) fn append(mesh: &mut RawMesh, other: &RawMesh) {
    let offset = mesh.vertices.len() as u32;
    mesh.vertices.extend_from_slice(&other.vertices);
    mesh.faces.extend(other.faces.iter().map(|f| f.map(|v| v + offset)));
}

/// Bridges between a body and a thing that has grown onto it.
const BRIDGES: usize = 24;

/// Adds a body that has grown onto the mesh: triangles join the mesh's points nearest to it with the nearest edges of the body.
pub(super) fn grow_on(mesh: &mut RawMesh, other: &RawMesh) {
    let offset = mesh.vertices.len() as u32;
    let middle = other.vertices.iter().fold([0.0; 3], |sum, p| add(sum, *p));
    let middle = middle.map(|x| x / other.vertices.len() as f64);
    let nearest = |points: &[[f64; 3]], to: [f64; 3], count: usize| {
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_by(|&a, &b| norm(sub(points[a], to)).total_cmp(&norm(sub(points[b], to))));
        order.truncate(count);
        order
    };
    let bridges: Vec<[u32; 3]> = nearest(&mesh.vertices, middle, BRIDGES)
        .into_iter()
        .map(|v| {
            let pair = nearest(&other.vertices, mesh.vertices[v], 2);
            [v as u32, offset + pair[0] as u32, offset + pair[1] as u32]
        })
        .collect();
    append(mesh, other);
    mesh.faces.extend(bridges);
}

/// Outward unit normal of each vertex, by area.
pub(super) fn normals(mesh: &RawMesh) -> Vec<[f64; 3]> {
    let mut normals = vec![[0.0; 3]; mesh.vertices.len()];
    for f in &mesh.faces {
        let [a, b, c] = f.map(|v| mesh.vertices[v as usize]);
        let n = cross(sub(b, a), sub(c, a));
        f.iter().for_each(|&i| normals[i as usize] = add(normals[i as usize], n));
    }
    normals.iter().map(|n| n.map(|x| x / norm(*n).max(1e-300))).collect()
}

/// Moves each vertex along its normal by what `by` says of its place and normal, m.
pub(super) fn displace(mesh: &mut RawMesh, mut by: impl FnMut(&[f64; 3], &[f64; 3]) -> f64) {
    let normals = normals(mesh);
    for (p, n) in mesh.vertices.iter_mut().zip(&normals) {
        let amount = by(p, n);
        (0..3).for_each(|k| p[k] += amount * n[k]);
    }
}

/// Reverses the winding of the triangles whose middle is chosen.
pub(super) fn flip(mesh: &mut RawMesh, mut chosen: impl FnMut(&[f64; 3]) -> bool) {
    for f in &mut mesh.faces {
        let corners = f.map(|v| mesh.vertices[v as usize]);
        let middle = [0, 1, 2].map(|k| corners.iter().map(|p| p[k]).sum::<f64>() / 3.0);
        if chosen(&middle) {
            f.swap(1, 2);
        }
    }
}

/// One-sided round holes around vertices drawn between two radii, m.
pub(super) fn holes(mesh: &mut RawMesh, count: usize, radius_m: f64, span: [f64; 2], random: &mut Random) {
    let normals = normals(mesh);
    for _ in 0..count {
        let centre = loop {
            let i = index(random, normals.len());
            if span[0] < mesh.vertices[i][2] && mesh.vertices[i][2] < span[1] {
                break i;
            }
        };
        let (p, n) = (mesh.vertices[centre], normals[centre]);
        mesh.faces.retain(|f| {
            !f.iter().any(|&v| {
                let dot: f64 = (0..3).map(|k| n[k] * normals[v as usize][k]).sum();
                0.0 < dot && norm(sub(mesh.vertices[v as usize], p)) < radius_m
            })
        });
    }
}

/// Gives every triangle corners of its own.
pub(super) fn into_soup(mesh: &mut RawMesh) {
    let vertices = mesh.faces.as_flattened().iter().map(|&v| mesh.vertices[v as usize]).collect();
    let faces = (0..mesh.faces.len() as u32).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
    *mesh = RawMesh { vertices, faces };
}

/// Puts vertices and triangles into random order (R. Durstenfeld, Communications of the ACM 7 (1964), 420).
pub(super) fn scramble(mesh: &mut RawMesh, random: &mut Random) {
    let order = |n: usize, random: &mut Random| {
        let mut order: Vec<usize> = (0..n).collect();
        (1..n).rev().for_each(|i| order.swap(i, index(random, i + 1)));
        order
    };
    let places = order(mesh.vertices.len(), random);
    let mut vertices = mesh.vertices.clone();
    places.iter().enumerate().for_each(|(i, &k)| vertices[k] = mesh.vertices[i]);
    let faces = order(mesh.faces.len(), random)
        .into_iter()
        .map(|i| mesh.faces[i].map(|v| places[v as usize] as u32))
        .collect();
    *mesh = RawMesh { vertices, faces };
}

/// A place in a list of `n`.
pub(super) fn index(random: &mut Random, n: usize) -> usize {
    ((random.uniform() * n as f64) as usize).min(n - 1)
}

#[cfg(test)]
mod tests {
    use super::super::things::cuboid;
    use super::*;
    use bladeform_mesh::{moments, repair, topology};

    #[test]
    fn a_closed_cut_is_closed_and_halves_the_volume() {
        let mut mesh = cuboid([0.0; 3], [1.0, 0.5, 2.0], 0.1);
        cut_closed(&mut mesh, |p| p[2] - 0.37);
        let (mesh, _) = repair(mesh).unwrap();
        assert!(topology(&mesh).closed());
        assert!((moments(&mesh).volume - 2.0 * 2.37).abs() < 1e-9, "{}", moments(&mesh).volume);
    }

    #[test]
    fn scrambling_keeps_the_triangles() {
        let plain = cuboid([0.0; 3], [1.0, 0.5, 2.0], 0.2);
        let mut mesh = plain.clone();
        scramble(&mut mesh, &mut Random::new(1));
        assert_ne!(mesh.faces, plain.faces);
        let corners = |m: &RawMesh| {
            let mut all: Vec<String> =
                m.faces.iter().map(|f| format!("{:?}", f.map(|v| m.vertices[v as usize]))).collect();
            all.sort();
            all
        };
        assert_eq!(corners(&mesh), corners(&plain));
    }
}
