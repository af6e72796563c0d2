//! Puts vertices and triangles into an order in which neighbours in space are neighbours in memory, whatever order a file has.
//!
//! Vertices are sorted by layers across the longest direction of the part and along each layer; triangles by their first vertex. A layer of millions of
//! vertices holds some thousand, which a processor's cache holds, so that every later pass reads memory nearly in its order.

use std::ops::Range;

use nalgebra::{Matrix3, SymmetricEigen, Vector3};

use crate::RawMesh;
use crate::clean::{compare, usable};
use bladeform_numeric::parallel;

/// Directions are rounded to this fraction of a unit, so that the rounding of sums, which depends on the order in the file, does not choose the layers.
const DIRECTION_STEPS: f64 = 64.0;

/// Thickness of a layer, mean distances of vertices: a triangle's corners lie in the same layer or the next.
const LAYER: f64 = 2.0;

/// Steps along a layer, and most layers.
const STEPS_ALONG: f64 = 65_535.0;

/// Key of vertices without a usable position: they come last.
const LAST: u64 = 0xffff_ffff;

/// The mesh in its new order, and whether no two usable vertices are at the same position. Among vertices at one position the order of the file remains.
///
/// The order does not depend on that of the file, except for such vertices and for triangles that use the same three. Indices beyond the vertices stay as they are. Needs
/// the memory of the mesh once more.
pub(crate) fn in_order(raw: RawMesh) -> (RawMesh, bool) {
    let RawMesh { mut vertices, faces } = raw;
    let mut keys = keys(&vertices);
    parallel::sort(&mut keys);
    let distinct = sort_ties(&mut keys, &vertices);
    let numbered = || {
        let mut places = vec![0; keys.len()];
        (0..).zip(&keys).for_each(|(place, key)| places[*key as u32 as usize] = place);
        places
    };
    let (places, sorted) = parallel::join(numbered, || {
        parallel::groups(keys.len(), |group| {
            keys[group].iter().map(|key| vertices[*key as u32 as usize]).collect::<Vec<_>>()
        })
    });
    vertices.clear();
    sorted.into_iter().for_each(|part| vertices.extend(part));
    drop(keys);
    let faces = faces_in_order(faces, &places);
    (RawMesh { vertices, faces }, distinct)
}

/// Layer, place along it and number of every vertex, from the highest bits to the lowest.
fn keys(vertices: &[[f64; 3]]) -> Vec<u64> {
    let axes = long_axes(vertices);
    let along = |axis: usize, p: &[f64; 3]| axes[axis].dot(&Vector3::from(*p));
    let ranges = parallel::groups(vertices.len(), |group| {
        let mut ranges = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
        for p in vertices[group].iter().filter(|p| usable(**p)) {
            for (axis, range) in ranges.iter_mut().enumerate() {
                let at = along(axis, p);
                *range = [range[0].min(at), range[1].max(at)];
            }
        }
        ranges
    });
    let range = |axis: usize| {
        ranges.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], part| {
            [low.min(part[axis][0]), high.max(part[axis][1])]
        })
    };
    let [[low, high], [low_across, high_across]] = [range(0), range(1)];
    // A sheet with two sides of this length and width has so many vertices in a square of one distance.
    let (length, width) = (high - low, high_across - low_across);
    let layers = (vertices.len() as f64 * length / (2.0 * width)).sqrt() / LAYER;
    let per_length = layers.clamp(1.0, STEPS_ALONG) / length;
    let per_width = STEPS_ALONG / width;
    let keys = parallel::groups(vertices.len(), |group| {
        let key = |(index, p): (usize, &[f64; 3])| {
            let place = if usable(*p) {
                // Conversions saturate; what has no extent gives 0.
                let layer = ((along(0, p) - low) * per_length) as u16;
                u64::from(layer) << 16 | u64::from(((along(1, p) - low_across) * per_width) as u16)
            } else {
                LAST
            };
            place << 32 | index as u64
        };
        group.clone().zip(&vertices[group]).map(key).collect::<Vec<_>>()
    });
    keys.concat()
}

/// The longest direction of the vertices and the next one across it, roughly.
fn long_axes(vertices: &[[f64; 3]]) -> [Vector3<f64>; 2] {
    // Relative to a vertex, so that a part far from the origin keeps its digits.
    let Some(first) = vertices.iter().find(|p| usable(**p)).copied().map(Vector3::from) else {
        return [Vector3::x(), Vector3::y()];
    };
    let sums = parallel::groups(vertices.len(), |group: Range<usize>| {
        let (mut count, mut sum, mut squares) = (0.0, Vector3::zeros(), [0.0; 6]);
        for p in vertices[group].iter().filter(|p| usable(**p)) {
            let d = Vector3::from(*p) - first;
            count += 1.0;
            sum += d;
            let products = [d.x * d.x, d.x * d.y, d.x * d.z, d.y * d.y, d.y * d.z, d.z * d.z];
            squares.iter_mut().zip(products).for_each(|(sum, product)| *sum += product);
        }
        (count, sum, squares)
    });
    let (mut count, mut sum, mut squares) = (0.0, Vector3::zeros(), [0.0; 6]);
    for (n, part, products) in &sums {
        count += n;
        sum += part;
        squares.iter_mut().zip(products).for_each(|(sum, product)| *sum += product);
    }
    let [xx, xy, xz, yy, yz, zz] = squares.map(|s| s / count);
    let mean = sum / count;
    let spread = Matrix3::new(xx, xy, xz, xy, yy, yz, xz, yz, zz) - mean * mean.transpose();
    if !spread.iter().all(|s| s.is_finite()) {
        return [Vector3::x(), Vector3::y()];
    }
    let eigen = SymmetricEigen::new(spread);
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    [order[0], order[1]].map(|k| {
        let axis = eigen.eigenvectors.column(k).into_owned();
        // The same sign on every machine.
        let axis = if axis[axis.iamax()] < 0.0 { -axis } else { axis };
        axis.map(|c| (c * DIRECTION_STEPS).round() / DIRECTION_STEPS)
    })
}

/// Sorts vertices in the same step of the same layer by their coordinates. Returns whether no two usable ones have the same.
fn sort_ties(keys: &mut [u64], vertices: &[[f64; 3]]) -> bool {
    // Zeros of both signs are one position.
    let at = |key: &u64| vertices[*key as u32 as usize].map(|c| c + 0.0);
    let mut distinct = true;
    for ties in keys.chunk_by_mut(|a, b| a >> 32 == b >> 32) {
        if ties.len() == 1 || ties[0] >> 32 == LAST {
            continue;
        }
        ties.sort_unstable_by(|a, b| compare(&at(a), &at(b)).then(a.cmp(b)));
        distinct &= ties.windows(2).all(|pair| compare(&at(&pair[0]), &at(&pair[1])).is_ne());
    }
    distinct
}

/// Triangles with the new numbers of their vertices, each beginning at its lowest, sorted by that and then by the others. `places`: the new number of every vertex.
fn faces_in_order(mut faces: Vec<[u32; 3]>, places: &[u32]) -> Vec<[u32; 3]> {
    parallel::parts(&mut faces, |_, part| {
        for face in part {
            let [a, b, c] = face.map(|v| places.get(v as usize).copied().unwrap_or(v));
            *face = if a <= b && a <= c {
                [a, b, c]
            } else if b <= c {
                [b, c, a]
            } else {
                [c, a, b]
            };
        }
    });
    // By counting: the end of the triangles of every vertex; those with a wrong index come last.
    let bucket = |face: &[u32; 3]| (face[0] as usize).min(places.len());
    let mut ends = vec![0_u32; places.len() + 1];
    faces.iter().for_each(|face| ends[bucket(face)] += 1);
    let mut total = 0;
    for end in &mut ends {
        (*end, total) = (total, total + *end);
    }
    let mut sorted = vec![[0; 3]; faces.len()];
    for face in &faces {
        let end = &mut ends[bucket(face)];
        sorted[*end as usize] = *face;
        *end += 1;
    }
    drop(faces);
    let mut begin = 0;
    for end in ends {
        // A vertex is the lowest of two triangles on average.
        sorted[begin..end as usize].sort_unstable();
        begin = end as usize;
    }
    sorted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A wavy sheet with a vertex that is no number and one that is doubled, numbered as `shuffled` says.
    fn sheet(shuffled: impl Fn(usize) -> usize) -> RawMesh {
        let (n, m) = (40, 130);
        let all = n * m + 2;
        let mut vertices = vec![[0.0; 3]; all];
        for k in 0..n * m {
            let (i, j) = ((k % n) as f64, (k / n) as f64);
            vertices[shuffled(k)] = [0.3 * i, j + 1e-3 * i, (0.2 * j).sin()];
        }
        vertices[shuffled(n * m)] = [f64::NAN, 0.0, 0.0];
        vertices[shuffled(n * m + 1)] = vertices[shuffled(7)];
        let mut faces = Vec::new();
        for j in 0..m - 1 {
            for i in 0..n - 1 {
                let k = j * n + i;
                let [a, b, c, d] = [k, k + 1, k + n, k + n + 1].map(|v| shuffled(v) as u32);
                faces.extend([[a, b, c], [d, c, b]]);
            }
        }
        faces.extend([[shuffled(n * m) as u32, 0, 1], [0, 1, all as u32 + 5]]);
        if shuffled(0) != 0 {
            faces.reverse();
            faces.iter_mut().for_each(|face| face.rotate_left(1));
        }
        RawMesh { vertices, faces }
    }

    /// Corners of the triangles with usable vertices.
    fn corners(mesh: &RawMesh) -> Vec<[[u64; 3]; 3]> {
        let at = |v: u32| mesh.vertices.get(v as usize).filter(|p| usable(**p)).map(|p| p.map(f64::to_bits));
        mesh.faces.iter().filter_map(|[a, b, c]| Some([at(*a)?, at(*b)?, at(*c)?])).collect()
    }

    #[test]
    fn the_order_of_the_file_does_not_matter() {
        let size = sheet(|k| k).vertices.len();
        let (natural, distinct) = in_order(sheet(|k| k));
        assert!(!distinct);
        let (mixed, _) = in_order(sheet(|k| (k * 1_009 + 17) % size));
        assert!(corners(&natural) == corners(&mixed));
        // Nothing is lost, and windings stay.
        let rotated = |mesh: &RawMesh| {
            let mut all = corners(mesh);
            all.iter_mut().for_each(|t| {
                let least = (0..3).min_by_key(|k| t[*k]).unwrap_or(0);
                t.rotate_left(least);
            });
            all.sort_unstable();
            all
        };
        assert!(rotated(&natural) == rotated(&sheet(|k| k)));
        assert_eq!((natural.vertices.len(), natural.faces.len()), (size, sheet(|k| k).faces.len()));
        assert!(
            !usable(natural.vertices[size - 1])
                && size as u32 + 5 == natural.faces.as_flattened().iter().copied().max().unwrap()
        );
    }

    #[test]
    fn neighbours_in_space_are_neighbours_in_memory() {
        let size = sheet(|k| k).vertices.len();
        let (mesh, _) = in_order(sheet(|k| (k * 1_009 + 17) % size));
        let reach = |face: &[u32; 3]| face.iter().max().unwrap() - face[0];
        let mut reaches: Vec<u32> = mesh
            .faces
            .iter()
            .filter(|face| face.iter().all(|v| (*v as usize) < size - 1))
            .map(reach)
            .collect();
        reaches.sort_unstable();
        // Forty vertices lie across the sheet; in the file's order most are hundreds apart.
        assert!(reaches[9 * reaches.len() / 10] < 4 * 40, "{}", reaches[9 * reaches.len() / 10]);
    }

    #[test]
    fn what_has_no_extent_is_sorted_too() {
        for vertices in [
            vec![],
            vec![[f64::NAN; 3]; 3],
            vec![[1.0; 3]; 4],
            vec![[1e30, -1e30, 0.0], [0.0; 3], [1.0, 0.0, 0.0]],
        ] {
            let count = vertices.len();
            let (mesh, _) = in_order(RawMesh { vertices, faces: vec![[2, 0, 1]] });
            assert_eq!((mesh.vertices.len(), mesh.faces.len()), (count, 1));
        }
    }
}
