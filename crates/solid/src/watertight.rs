//! The check that every mesh must pass before it is written.

use std::ops::Range;

use bladeform_mesh::RawMesh;
use bladeform_numeric::sets::Forest;
use bladeform_numeric::vector::{cross, dot, norm, sub};

use crate::crossing::meet;
use crate::facets::least_angle;
use crate::fault::{ConnectionFault, SurfaceFault};
use crate::tree::{Tree, bounds_of};

/// A named part of the surface.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Group {
    /// `blade-1`, `tip-1`, `hub`.
    pub name: String,
    /// Its triangles.
    pub faces: Range<usize>,
}

/// A triangle surface that is proved to be the boundary of a solid.
///
/// The proof uses the coordinates as written (rounded to single precision, as in STL). Every edge belongs to exactly two triangles that run
/// along it in opposite directions. The triangles around every vertex are one fan. The surface is in one piece. No triangle is
/// flat. No two triangles meet outside their common corners and edges (decided with exact arithmetic). The enclosed volume is positive, so the triangles face outwards.
#[derive(Debug, Clone)]
pub struct WatertightSolid {
    mesh: RawMesh,
    groups: Vec<Group>,
    metres_per_unit: f64,
    facts: SolidFacts,
}

/// Statistics of the triangles of a solid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolidFacts {
    /// Number of triangles.
    pub triangles: usize,
    /// Volume by the divergence theorem, m^3.
    pub volume_m3: f64,
    /// Surface area, m^2.
    pub area_m2: f64,
    /// Smallest angle of any triangle, deg.
    pub smallest_angle_deg: f64,
    /// Smallest angle of the triangle at the first percentile, deg: 99 % of the triangles have no smaller angle.
    pub hundredth_angle_deg: f64,
}

impl WatertightSolid {
    /// Checks a surface. `vertices_m`: n x 3, m; `metres_per_unit`: the unit of the file.
    ///
    /// # Errors
    /// [`SurfaceFault`]: the fault and its position.
    pub fn check(
        vertices_m: &[[f64; 3]],
        faces: Vec<[u32; 3]>,
        groups: Vec<Group>,
        metres_per_unit: f64,
    ) -> Result<Self, SurfaceFault> {
        let to_file = |x: &f64| f64::from((x / metres_per_unit) as f32);
        let vertices: Vec<[f64; 3]> =
            vertices_m.iter().map(|p| [to_file(&p[0]), to_file(&p[1]), to_file(&p[2])]).collect();
        if faces.is_empty() {
            return Err(SurfaceFault::Empty);
        }
        if let Some(p) = vertices.iter().find(|p| !p.iter().all(|c| c.is_finite())) {
            return Err(SurfaceFault::NotFinite(*p));
        }
        if let Some(&f) = faces.iter().flatten().find(|&&i| vertices.len() <= i as usize) {
            return Err(SurfaceFault::NoVertex(f));
        }
        let in_mm = |vertex: u32| vertices[vertex as usize].map(|c| 1e3 * metres_per_unit * c);
        one_surface(&faces, vertices.len())
            .map_err(|(fault, vertex)| SurfaceFault::Connection { fault, at_mm: in_mm(vertex) })?;
        let facts = facts(&vertices, &faces, metres_per_unit);
        if facts.smallest_angle_deg <= 0.0 {
            return Err(SurfaceFault::NoArea);
        }
        if facts.volume_m3 <= 0.0 {
            return Err(SurfaceFault::Inwards);
        }
        if let Some((f, _)) = self_intersection(&vertices, &faces) {
            return Err(SurfaceFault::CutsItself { near_mm: in_mm(faces[f as usize][0]) });
        }
        Ok(Self { mesh: RawMesh { vertices, faces }, groups, metres_per_unit, facts })
    }

    /// The mesh in the unit of the file.
    #[must_use]
    pub fn mesh(&self) -> &RawMesh {
        &self.mesh
    }

    /// Its named parts, in the order of their triangles.
    #[must_use]
    pub fn groups(&self) -> &[Group] {
        &self.groups
    }

    /// Metres per unit of the file.
    #[must_use]
    pub fn metres_per_unit(&self) -> f64 {
        self.metres_per_unit
    }

    /// Statistics of the triangles.
    #[must_use]
    pub fn facts(&self) -> SolidFacts {
        self.facts
    }
}

/// Checks that the surface is closed, consistently wound, one fan at every vertex, and in one piece. Otherwise returns the fault and its vertex.
fn one_surface(faces: &[[u32; 3]], n_vertices: usize) -> Result<(), (ConnectionFault, u32)> {
    // For every vertex the step from each neighbour to the next around it.
    let mut steps: Vec<(u32, u32, u32)> = Vec::with_capacity(3 * faces.len());
    for &[a, b, c] in faces {
        if a == b || b == c || c == a {
            return Err((ConnectionFault::DoubleCorner, a));
        }
        steps.extend([(a, b, c), (b, c, a), (c, a, b)]);
    }
    steps.sort_unstable();
    let mut reached = vec![false; n_vertices];
    let mut begin = 0;
    while begin < steps.len() {
        let vertex = steps[begin].0;
        let end = begin + steps[begin..].partition_point(|s| s.0 == vertex);
        let around = &steps[begin..end];
        if around.windows(2).any(|w| w[0].1 == w[1].1) {
            return Err((ConnectionFault::Winding, vertex));
        }
        let (first, mut at, mut count) = (around[0].1, around[0].1, 0);
        loop {
            let Ok(k) = around.binary_search_by_key(&at, |s| s.1) else {
                return Err((ConnectionFault::OpenEdge, vertex));
            };
            at = around[k].2;
            count += 1;
            if at == first {
                break;
            }
            if around.len() < count {
                return Err((ConnectionFault::CrowdedEdge, vertex));
            }
        }
        if count != around.len() {
            return Err((ConnectionFault::TouchingSheets, vertex));
        }
        reached[vertex as usize] = true;
        begin = end;
    }
    if let Some(v) = reached.iter().position(|r| !r) {
        return Err((ConnectionFault::LooseVertex, v as u32));
    }
    one_piece(faces, n_vertices)
}

fn one_piece(faces: &[[u32; 3]], n_vertices: usize) -> Result<(), (ConnectionFault, u32)> {
    let mut sets = Forest::new(n_vertices);
    for &[a, b, c] in faces {
        sets.join(a, b);
        sets.join(a, c);
    }
    match (0..n_vertices as u32).find(|&v| sets.root(v) != 0) {
        None => Ok(()),
        Some(v) => Err((ConnectionFault::SeparatePiece, v)),
    }
}

fn facts(vertices: &[[f64; 3]], faces: &[[u32; 3]], metres_per_unit: f64) -> SolidFacts {
    let (mut volume, mut area) = (0.0, 0.0);
    let mut angles = Vec::with_capacity(faces.len());
    for f in faces {
        let [a, b, c] = f.map(|i| vertices[i as usize]);
        let normal = cross(sub(b, a), sub(c, a));
        volume += dot(a, cross(b, c)) / 6.0;
        area += 0.5 * norm(normal);
        angles.push(least_angle([a, b, c]).to_degrees());
    }
    let hundredth = angles.len() / 100;
    let (_, &mut low, _) = angles.select_nth_unstable_by(hundredth, f64::total_cmp);
    SolidFacts {
        triangles: faces.len(),
        volume_m3: volume * metres_per_unit.powi(3),
        area_m2: area * metres_per_unit.powi(2),
        smallest_angle_deg: angles[..=hundredth].iter().copied().fold(f64::INFINITY, f64::min),
        hundredth_angle_deg: low,
    }
}

/// Two triangles that meet outside their common corners and edges.
fn self_intersection(vertices: &[[f64; 3]], faces: &[[u32; 3]]) -> Option<(u32, u32)> {
    let corners = |i: u32| faces[i as usize].map(|v| vertices[v as usize]);
    let tree = Tree::new(faces.len(), corners);
    for f in 0..faces.len() as u32 {
        let mine = corners(f);
        let mut found = None;
        tree.meeting(&bounds_of(&mine), |g| {
            if f < g && meet(faces[f as usize], faces[g as usize], &mine, &corners(g)) {
                found = Some((f, g));
            }
            found.is_none()
        });
        if found.is_some() {
            return found;
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::Coded;

    const CORNERS: [[f64; 3]; 4] = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    const SIDES: [[u32; 3]; 4] = [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]];

    fn check(vertices: &[[f64; 3]], faces: Vec<[u32; 3]>) -> Result<WatertightSolid, SurfaceFault> {
        WatertightSolid::check(vertices, faces, vec![], 1e-3)
    }

    #[test]
    fn a_tetrahedron_is_a_solid_with_its_volume_and_its_angles() {
        let facts = check(&CORNERS, SIDES.to_vec()).unwrap().facts();
        assert!((facts.volume_m3 - 1.0 / 6.0).abs() < 1e-6);
        assert!((facts.area_m2 - 1.5 - 0.75_f64.sqrt()).abs() < 1e-6);
        assert!((facts.smallest_angle_deg - 45.0).abs() < 1e-6);
    }

    #[test]
    fn every_fault_is_found() {
        let fails = |vertices: &[[f64; 3]], faces: Vec<[u32; 3]>, code: &str| {
            let fault = check(vertices, faces).unwrap_err();
            assert_eq!(fault.code(), code, "{fault}");
        };
        fails(&CORNERS, SIDES[..3].to_vec(), "open-edge");
        fails(&CORNERS, SIDES.map(|[a, b, c]| [a, c, b]).to_vec(), "faces-inwards");
        fails(&CORNERS, vec![[0, 1, 2], SIDES[1], SIDES[2], SIDES[3]], "edge-winding");
        let far = CORNERS.map(|p| [p[0] + 5.0, p[1], p[2]]);
        let apart: Vec<_> = SIDES.iter().copied().chain(SIDES.map(|f| f.map(|i| i + 4))).collect();
        fails(&[CORNERS, far].concat(), apart.clone(), "separate-piece");
        // A second tetrahedron on the same corner 0.
        let mirrored: Vec<_> = CORNERS[1..].iter().map(|p| p.map(|c| -c)).collect();
        let touching = SIDES.map(|[a, b, c]| [a, c, b].map(|i| if i == 0 { 0 } else { i + 3 }));
        fails(
            &[&CORNERS[..], &mirrored].concat(),
            SIDES.into_iter().chain(touching).collect(),
            "touching-sheets",
        );
        fails(&[CORNERS[0], CORNERS[1], CORNERS[2], [f64::NAN; 3]], SIDES.to_vec(), "vertex-not-finite");
    }

    #[test]
    fn a_surface_that_cuts_itself_is_found() {
        // Corner 3 is pulled through the opposite side of a double pyramid.
        let vertices = [
            [0.0, 0.0, 0.0],
            [2.0, 0.0, 0.0],
            [0.0, 2.0, 0.0],
            [0.4, 0.4, -1.0],
            [0.5, 0.5, 2.0],
            [0.5, 0.5, -0.2],
        ];
        // A closed surface like an octahedron over the triangle 0 1 2, with a spike from below through the upper side.
        let faces = vec![[0, 1, 4], [1, 2, 4], [2, 0, 4], [1, 0, 3], [2, 1, 3], [0, 2, 3]];
        assert!(check(&vertices[..5], faces.clone()).is_ok());
        let mut crossed = vertices;
        crossed[3] = [1.6, 1.6, 1.0];
        let fault = check(&crossed[..5], faces).unwrap_err();
        assert!(matches!(fault, SurfaceFault::CutsItself { .. } | SurfaceFault::Inwards), "{fault}");
    }
}
