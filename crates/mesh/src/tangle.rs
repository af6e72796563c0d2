//! Whether triangles form a surface at all, or a tangle that crosses the whole part: work on a tangle would never end.

use crate::{ArrayError, RawMesh};
use bladeform_numeric::parallel;

/// Fewer triangles are no trouble whatever they look like (chosen).
const LEAST_TRIANGLES: usize = 10_000;
/// Triangles, evenly taken from all, that are looked at: their mean sizes are known to a few thousandths (chosen).
const LOOKED_AT: usize = 200_000;
/// Most area of the triangles as a multiple of the surface of their bounding box. A scan of the demonstration has 0.2, the same surface
/// in twenty layers 4; its triangles with mixed-up corners have 2,700 (computed from the demonstration of the command).
const MOST_TIMES: f64 = 100.0;
/// Mean longest edge as a fraction of the bounding box's diagonal from which the edges are looked at: 10,000 triangles of a scan have 0.02 (chosen).
const LONG: f64 = 0.1;
/// Least share of edges with exactly two triangles in a mesh of long triangles: a closed surface has 1, a torn one 0.9 (chosen).
const JOINED: f64 = 0.5;
/// Coordinates beyond this are dropped by the repair; areas of such lengths still fit into a double.
const MAX_COORDINATE: f64 = 1e30;

/// Sums over triangles: area, longest edges, number of usable triangles; lowest and highest corner.
#[derive(Clone, Copy)]
struct Sums {
    area: f64,
    length: f64,
    count: usize,
    low: [f64; 3],
    high: [f64; 3],
}

const EMPTY: Sums =
    Sums { area: 0.0, length: 0.0, count: 0, low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };

/// The fault of a mesh whose triangles form no surface; `None` for a usable mesh. Time is proportional to the mesh.
pub(crate) fn tangle(mesh: &RawMesh) -> Option<ArrayError> {
    if mesh.faces.len() < LEAST_TRIANGLES {
        return None;
    }
    let every = (mesh.faces.len() / LOOKED_AT).max(1);
    let groups = parallel::groups(mesh.faces.len().div_ceil(every), |group| {
        group.map(|k| &mesh.faces[k * every]).fold(EMPTY, |s, f| add(s, mesh, f))
    });
    let Sums { area, length, count, low, high } = groups.into_iter().fold(EMPTY, |s, t| Sums {
        area: s.area + t.area,
        length: s.length + t.length,
        count: s.count + t.count,
        low: std::array::from_fn(|k| s.low[k].min(t.low[k])),
        high: std::array::from_fn(|k| s.high[k].max(t.high[k])),
    });
    let [x, y, z] = std::array::from_fn(|k| high[k] - low[k]);
    let times = every as f64 * area / (2.0 * (x * y + y * z + z * x));
    // Flat or empty boxes give no number.
    if times.is_finite() && MOST_TIMES < times {
        return Some(ArrayError::Tangled { times: times as u64 });
    }
    let mean = length / count as f64 / (x * x + y * y + z * z).sqrt();
    let joined = (LONG < mean).then(|| joined_share(mesh))?;
    (joined < JOINED).then_some(ArrayError::Crossing {
        length_percent: (100.0 * mean).round() as u32,
        joined_percent: (100.0 * joined).round() as u32,
    })
}

/// Share of the edges that exactly two triangles have. Edges are told apart by the places of their ends, because files may hold each
/// triangle with its own vertices.
fn joined_share(mesh: &RawMesh) -> f64 {
    let usable = mesh.faces.iter().filter_map(|face| corners(mesh, face));
    let mut keys: Vec<u64> = usable
        .flat_map(|[a, b, c]| {
            let [a, b, c] = [a, b, c].map(place_key);
            [a.wrapping_add(b), b.wrapping_add(c), c.wrapping_add(a)]
        })
        .collect();
    keys.sort_unstable();
    let (mut all, mut joined) = (0_usize, 0_usize);
    for edge in keys.chunk_by(|a, b| a == b) {
        all += 1;
        joined += usize::from(edge.len() == 2);
    }
    joined as f64 / all.max(1) as f64
}

/// A number for a place; two places have the same one with a probability of some 1e-19.
fn place_key(p: [f64; 3]) -> u64 {
    // Finaliser of Sebastiano Vigna's splitmix64 (public domain), from memory.
    p.iter().fold(0x9e37_79b9_7f4a_7c15_u64, |key, c| {
        let mut z = key.wrapping_add((c + 0.0).to_bits()).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    })
}

fn add(mut sums: Sums, mesh: &RawMesh, face: &[u32; 3]) -> Sums {
    let Some([a, b, c]) = corners(mesh, face) else { return sums };
    for p in [a, b, c] {
        for k in 0..3 {
            sums.low[k] = sums.low[k].min(p[k]);
            sums.high[k] = sums.high[k].max(p[k]);
        }
    }
    let (u, v): ([f64; 3], [f64; 3]) =
        (std::array::from_fn(|k| b[k] - a[k]), std::array::from_fn(|k| c[k] - a[k]));
    let cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
    let w: [f64; 3] = std::array::from_fn(|k| c[k] - b[k]);
    let longest = [u, v, w].iter().map(|e| e.iter().map(|x| x * x).sum::<f64>()).fold(0.0, f64::max).sqrt();
    sums.length += longest;
    sums.count += 1;
    sums.area += 0.5 * cross.iter().map(|x| x * x).sum::<f64>().sqrt();
    sums
}

/// The corners, if all are usable.
fn corners(mesh: &RawMesh, face: &[u32; 3]) -> Option<[[f64; 3]; 3]> {
    let [a, b, c] = face.map(|v| {
        mesh.vertices.get(v as usize).copied().filter(|p| p.iter().all(|c| c.abs() <= MAX_COORDINATE))
    });
    Some([a?, b?, c?])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An open tube of an oval section in some layers.
    fn tube(layers: usize) -> RawMesh {
        let (around, along) = (120_u32, 100_u32);
        let vertices = (0..along * around).map(|k| {
            let angle = std::f64::consts::TAU * f64::from(k % around) / f64::from(around);
            [0.1 * angle.cos(), 0.01 * angle.sin(), f64::from(k / around) / f64::from(along)]
        });
        let faces = (0..(along - 1) * around).flat_map(|k| {
            let next = k - k % around + (k + 1) % around;
            [[k, next, k + around], [next, next + around, k + around]]
        });
        RawMesh { vertices: vertices.collect(), faces: vec![faces.collect::<Vec<_>>(); layers].concat() }
    }

    /// Three columns read as three rows.
    fn exchanged<T: Copy>(rows: &[[T; 3]]) -> Vec<[T; 3]> {
        let (all, n) = (rows.as_flattened(), rows.len());
        (0..n).map(|i| [all[i], all[n + i], all[2 * n + i]]).collect()
    }

    #[test]
    fn triangles_with_rows_and_columns_exchanged_are_refused() {
        let mesh = tube(1);
        let refused = RawMesh::from_arrays(mesh.vertices.clone(), exchanged(&mesh.faces)).err().unwrap();
        assert!(refused.to_string().contains("check the order of rows and columns"), "{refused}");
        assert_eq!(refused.code(), "tangled");
    }

    #[test]
    fn vertices_with_rows_and_columns_exchanged_are_refused() {
        let mesh = tube(1);
        let refused = RawMesh::from_arrays(exchanged(&mesh.vertices), mesh.faces).err().unwrap();
        assert_eq!(refused.code(), "tangled");
    }

    #[test]
    fn a_file_with_a_tangle_is_refused() {
        let mesh = tube(1);
        let tangle = RawMesh { faces: exchanged(&mesh.faces), ..mesh };
        let mut bytes = Vec::new();
        crate::write_ply_binary(&tangle, &mut bytes).unwrap();
        let refused = crate::read(&bytes).err().unwrap();
        assert!(
            refused.to_string().contains("PLY (little-endian): the triangles form no surface"),
            "{refused}"
        );
    }

    #[test]
    fn long_narrow_triangles_of_a_surface_are_accepted_with_and_without_common_vertices() {
        // A round tube of two rings with 8,000 facets: every triangle is as long as the part.
        let n = 8_000_u32;
        let vertices: Vec<[f64; 3]> = (0..2 * n)
            .map(|k| {
                let angle = std::f64::consts::TAU * f64::from(k % n) / f64::from(n);
                [0.1 * angle.cos(), 0.1 * angle.sin(), f64::from(k / n)]
            })
            .collect();
        let faces: Vec<[u32; 3]> =
            (0..n).flat_map(|k| [[k, (k + 1) % n, k + n], [(k + 1) % n, n + (k + 1) % n, k + n]]).collect();
        let loose = RawMesh {
            vertices: faces.iter().flatten().map(|v| vertices[*v as usize]).collect(),
            faces: (0..2 * n).map(|f| [3 * f, 3 * f + 1, 3 * f + 2]).collect(),
        };
        assert_eq!(tangle(&RawMesh { vertices, faces }), None);
        assert_eq!(tangle(&loose), None);
    }

    #[test]
    fn surfaces_are_accepted_also_in_many_layers_and_with_numbers_that_are_none() {
        for layers in [1, 20] {
            assert_eq!(tangle(&tube(layers)), None);
        }
        let mut mesh = tube(1);
        (mesh.vertices[3], mesh.vertices[7]) = ([f64::NAN; 3], [f64::INFINITY, 0.0, 0.0]);
        mesh.faces[9] = [0, 1, u32::MAX];
        assert_eq!(tangle(&mesh), None);
    }
}
