//! The table or ground in a scan: a dominant plane with an object on it, or with nothing else at all.

use std::collections::HashMap;
use std::ops::Range;

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::bench::Patch;
use crate::moments::MomentSum;
use crate::pieces::{NONE, Piece, Pieces, STRAY_AREA};
use crate::plane::{BAND_PER_EXTENT, BENCH_SHARE, FIT_ROUNDS, Plane, REGIONS, from_centre};
use bladeform_numeric::parallel;

/// Number of largest pieces that are searched for ground.
const JUDGED_PIECES: usize = 16;

/// Number of planes of one piece that are tested, largest area first.
const PLANES: usize = 3;

/// Cosine of the maximum angle (20 degrees) between the normal of a plane and the mean normal of a small region of it.
const REGION_ALIGNMENT: f64 = 0.94;

/// Cosine of the maximum angle between directions (78 degrees) for averaging triangles of one region. The noise on one
/// surface is averaged out, and the two sides of a board are not mixed.
const SAME_SIDE: f64 = 0.2;

/// Number of regions that propose a plane, and number of best proposals that are fitted.
const PROPOSALS: usize = 256;
/// Number of best proposals that are fitted. Chosen; no check of this value is on record.
const FITTED_PROPOSALS: usize = 8;

/// Lists of ground triangles, one for each piece that is or contains ground. `plain`: areas of pieces without a plane in an earlier round.
/// They are skipped, and new ones are added.
pub(crate) fn find_grounds(mesh: &CleanMesh, pieces: &Pieces, plain: &mut Vec<f64>) -> Vec<Vec<u32>> {
    let large = |piece: &&Piece| piece.area >= STRAY_AREA * pieces.pieces[0].area;
    let count = pieces.pieces.iter().take(JUDGED_PIECES).take_while(large).count();
    // The same triangles in the same order have exactly the same area.
    let area = |piece: usize| pieces.pieces[piece].area;
    let known = |piece: usize| plain.iter().any(|a| a.total_cmp(&area(piece)).is_eq());
    let judged: Vec<bool> = (0..count).map(|piece| !known(piece)).collect();
    if !judged.contains(&true) {
        return vec![];
    }
    let mut grounds = vec![];
    for (piece, regions) in average(mesh, pieces, &judged).into_iter().enumerate() {
        let planes = dominant_planes(regions, pieces.pieces[piece].extent());
        let patches: Vec<_> =
            planes.into_iter().filter_map(|plane| Patch::settle(mesh, pieces, piece, plane)).collect();
        if patches.is_empty() {
            plain.push(area(piece));
        }
        grounds.extend(patches.iter().find_map(Patch::as_ground));
    }
    grounds
}

/// Sum of the triangles in one small cube that face roughly the same direction. Noise averages out.
struct Region {
    position: Vector3<f64>,
    normal: Vector3<f64>,
    /// Area, minus the part that cancels because it faces another direction.
    weight: f64,
    sum: MomentSum,
}

impl Region {
    /// `None` if everything cancels.
    fn from_sum(sum: MomentSum) -> Option<Self> {
        let weight = sum.vector_area.norm();
        let region = || Self { position: sum.centroid(), normal: sum.vector_area / weight, weight, sum };
        (weight > 0.0).then(region)
    }

    fn is_in(&self, plane: &Plane) -> bool {
        plane.height(self.position).abs() <= plane.band && plane.normal.dot(&self.normal) >= REGION_ALIGNMENT
    }
}

/// Regions that are remembered.
const REMEMBERED: usize = 256;

/// Index of a region among the sums, by piece, cube and direction.
type Places = HashMap<(u32, [u8; 4]), usize>;

/// Sums of some triangles by region.
fn region_sums(
    mesh: &CleanMesh,
    pieces: &Pieces,
    judged: &[bool],
    group: Range<usize>,
) -> (Places, Vec<MomentSum>) {
    let mut sums: Vec<MomentSum> = Vec::new();
    let mut places = Places::new();
    // Neighbours in the mesh are mostly neighbours in space, so one of the last regions is nearly always the right one.
    let mut lasts = [((NONE, [0; 4]), 0); REMEMBERED];
    for (face, &label) in mesh.faces()[group.clone()].iter().zip(&pieces.labels[group]) {
        if !judged.get(label as usize).is_some_and(|&judged| judged) {
            continue;
        }
        let corners = mesh.corners(*face);
        let key = (label, region_key(&pieces.pieces[label as usize], corners));
        let [x, y, z, facing] = key.1;
        let last = &mut lasts[usize::from(x ^ y << 2 ^ z << 4 ^ facing << 3) % REMEMBERED];
        if key != last.0 {
            *last = (key, *places.entry(key).or_insert(sums.len()));
            sums.resize(sums.len().max(last.1 + 1), MomentSum::default());
        }
        sums[last.1].add_triangle(from_centre(mesh, corners));
    }
    (places, sums)
}

/// Averages the triangles of the first pieces by region, each list in spatial order; empty for a piece that is not `judged`.
fn average(mesh: &CleanMesh, pieces: &Pieces, judged: &[bool]) -> Vec<Vec<Region>> {
    let groups = parallel::groups(mesh.faces().len(), |group| region_sums(mesh, pieces, judged, group));
    let (mut places, mut sums) = (Places::new(), Vec::<MomentSum>::new());
    for (of_group, own) in &groups {
        for (key, &place) in of_group {
            let all = *places.entry(*key).or_insert(sums.len());
            sums.resize(sums.len().max(all + 1), MomentSum::default());
            sums[all].add(&own[place]);
        }
    }
    let mut places: Vec<_> = places.into_iter().collect();
    places.sort_unstable();
    let mut regions: Vec<Vec<Region>> = judged.iter().map(|_| Vec::new()).collect();
    let same_cube =
        |a: &((u32, [u8; 4]), usize), b: &((u32, [u8; 4]), usize)| a.0.0 == b.0.0 && a.0.1[..3] == b.0.1[..3];
    for cube in places.chunk_by(same_cube) {
        let directions = cube.iter().map(|&(_, place)| sums[place]).collect();
        regions[cube[0].0.0 as usize].extend(sides(directions).into_iter().filter_map(Region::from_sum));
    }
    regions
}

/// Sums of one cube by direction, merged if they belong to one surface.
fn sides(mut directions: Vec<MomentSum>) -> Vec<MomentSum> {
    directions.sort_by(|a, b| b.vector_area.norm_squared().total_cmp(&a.vector_area.norm_squared()));
    let mut sides: Vec<MomentSum> = Vec::new();
    for direction in directions {
        let same = |side: &&mut MomentSum| {
            let (a, b) = (&side.vector_area, &direction.vector_area);
            a.dot(b) >= SAME_SIDE * a.norm() * b.norm()
        };
        match sides.iter_mut().find(same) {
            Some(side) => side.add(&direction),
            None => sides.push(direction),
        }
    }
    sides
}

/// The cube that contains the centre of the bounding box of the triangle, and the coordinate direction that it faces. The centre is not a sum
/// of corners, so its rounding does not depend on their order.
fn region_key(piece: &Piece, [a, b, c]: [Vector3<f64>; 3]) -> [u8; 4] {
    let middle = (a.inf(&b).inf(&c) + a.sup(&b).sup(&c)) * 0.5;
    let cell = ((middle - piece.low) * (REGIONS / piece.extent())).map(|steps| steps as u8);
    let normal = (b - a).cross(&(c - a));
    let axis = normal.iamax();
    [cell.x, cell.y, cell.z, 2 * axis as u8 + u8::from(normal[axis] > 0.0)]
}

/// Planes that contain much of a piece's area, largest first. Regions spread evenly over the area propose planes, and all the others vote.
fn dominant_planes(mut regions: Vec<Region>, extent: f64) -> Vec<Plane> {
    let area: f64 = regions.iter().map(|region| region.sum.area).sum();
    let mut planes = Vec::new();
    while planes.len() < PLANES {
        let best = best_plane(&regions, BAND_PER_EXTENT * extent);
        // Regions include slightly less area than the triangles will.
        let Some((plane, _)) = best.filter(|(_, votes)| *votes >= 0.5 * BENCH_SHARE * area) else { break };
        regions.retain(|region| !region.is_in(&plane));
        planes.push(plane);
    }
    planes
}

fn best_plane(regions: &[Region], band: f64) -> Option<(Plane, f64)> {
    let votes = |plane: &Plane| {
        let held = regions.iter().filter(|region| region.is_in(plane));
        held.map(|region| region.weight).sum::<f64>()
    };
    let mut proposals: Vec<(Plane, f64)> = spread_evenly(regions)
        .map(|region| Plane::through(region.position, region.normal, band))
        .map(|plane| (plane, votes(&plane)))
        .collect();
    proposals.sort_by(|a, b| b.1.total_cmp(&a.1));
    let fit = |(mut plane, _): (Plane, f64)| {
        for _ in 0..FIT_ROUNDS {
            let mut sum = MomentSum::default();
            regions.iter().filter(|region| region.is_in(&plane)).for_each(|region| sum.add(&region.sum));
            plane = Plane::fitted(&sum, band).0;
        }
        (plane, votes(&plane))
    };
    proposals.into_iter().take(FITTED_PROPOSALS).map(fit).max_by(|a, b| a.1.total_cmp(&b.1))
}

/// Up to [`PROPOSALS`] regions at equal steps of the weight.
fn spread_evenly(regions: &[Region]) -> impl Iterator<Item = &Region> {
    let step = regions.iter().map(|region| region.weight).sum::<f64>() / PROPOSALS as f64;
    let mut due = 0.0;
    regions.iter().filter(move |region| {
        due += region.weight;
        let chosen = due >= step;
        if chosen {
            due %= step;
        }
        chosen
    })
}
