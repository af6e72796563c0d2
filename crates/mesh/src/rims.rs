//! The open rims of a surface as directed edges, from which a closing can be made.

use crate::CleanMesh;
use crate::edges::{Halves, visit_edges};
use bladeform_numeric::sets::Forest;

/// The edges with only one triangle, each from its first to its second corner as that triangle runs, by connected rim. The order is that of the vertices.
#[must_use]
pub fn rims(mesh: &CleanMesh) -> Vec<Vec<[u32; 2]>> {
    let visit = |list: &mut Vec<u32>, _, halves: Halves<'_>| list.extend(halves.single());
    let mut open = visit_edges(mesh.vertices().len(), mesh.faces(), 1, Vec::new, visit).concat();
    open.sort_unstable();
    let edges: Vec<[u32; 2]> = open
        .into_iter()
        .map(|half| {
            let (face, corner) = (mesh.faces()[half as usize / 3], half as usize % 3);
            [face[corner], face[(corner + 1) % 3]]
        })
        .collect();
    let mut forest = Forest::new(mesh.vertices().len());
    edges.iter().for_each(|&[a, b]| forest.join(a, b));
    let mut rims = std::collections::BTreeMap::<u32, Vec<[u32; 2]>>::new();
    for edge in edges {
        rims.entry(forest.root(edge[0])).or_default().push(edge);
    }
    rims.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{RawMesh, repair};

    /// A tetrahedron without one triangle: its rim runs as that triangle's neighbours do, against the triangle that is missing.
    #[test]
    fn a_missing_triangle_leaves_a_rim_of_three_edges() {
        let vertices = vec![[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let faces = vec![[0, 2, 1], [0, 1, 3], [1, 2, 3]];
        let (mesh, _) = repair(RawMesh { vertices, faces }).unwrap();
        let found = rims(&mesh);
        assert_eq!(found.len(), 1);
        // Which corner a vertex is: the origin, or that on the axis of its coordinate of one.
        let corner = |v: u32| mesh.vertices()[v as usize].iter().position(|x| 0.5 < *x).map_or(0, |k| k + 1);
        // The missing triangle runs 0, 3, 2.
        for edge in &found[0] {
            let ends = edge.map(corner);
            assert!([[3, 0], [2, 3], [0, 2]].contains(&ends), "against the missing triangle: {ends:?}");
        }
        assert_eq!(found[0].len(), 3);
    }
}
