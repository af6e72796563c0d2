//! The table or ground that came with a scan: a dominating plane with something standing on it, or nothing else at all.

use std::collections::HashMap;

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::components::{NONE, Piece, Pieces, STRAY_AREA};
use crate::moments::MomentSum;

/// Largest pieces in which ground is looked for.
const JUDGED_PIECES: usize = 16;

/// Planes of one piece that are looked at, most area first.
const PLANES: usize = 3;

/// Least share of a piece's area for a plane to be a bench grown together with the part.
const BENCH_SHARE: f64 = 0.15;

/// Share of a piece's area from which on a plane is the piece: a sheet. A closed body has at most half its area on one side.
const SHEET_SHARE: f64 = 0.85;

/// Widest half-thickness of a plane, as a fraction of the piece's extent.
const BAND_PER_EXTENT: f64 = 0.01;

/// Narrowest one, for surfaces without noise.
const LEAST_BAND_PER_EXTENT: f64 = 1e-5;

/// Half-thickness in standard deviations of the distance from the plane.
const BAND_SIGMAS: f64 = 4.0;

/// Largest standard deviation from its plane, relative to the one along its narrower side, that passes for flat. A noisy
/// or sagging bench has 0.2 to 1 %; the back of a section 6 % thick has about 6 %.
const FLATNESS: f64 = 0.015;

/// Cosine of the greatest angle (20 degrees) between a plane and the mean normal of a small region of it.
const REGION_ALIGNMENT: f64 = 0.94;

/// The same (78 degrees) for one triangle, whose normal is much noisier: noise of half an edge tilts it by 45 degrees.
const FACE_ALIGNMENT: f64 = 0.2;

/// Cosine of the angle between directions (78 degrees) up to which triangles of one region are averaged: the noise on one
/// surface is averaged out, the two sides of a board are not mixed.
const SAME_SIDE: f64 = 0.2;

/// Regions along a piece's extent when it is averaged to look for planes.
const REGIONS: f64 = 64.0;

/// Regions that propose a plane, and best proposals that are fitted.
const PROPOSALS: usize = 256;
const FITTED_PROPOSALS: usize = 8;

/// Multiple of [`FLATNESS`] from which the widest band, which holds more than the plane, shows that its triangles will not be flat.
const HOPELESS: f64 = 4.0;

/// Rounds of fitting; the band settles in two or three.
const FIT_ROUNDS: usize = 4;

/// What stands on a bench has at least this fraction of the bench's area.
const LEAST_OBJECT: f64 = 0.01;

/// Share of a bench's area that lies outside the outline of what stands on it.
const BENCH_BEYOND: f64 = 0.3;

/// Share of what stands on a bench that lies over it.
const OBJECT_OVER_BENCH: f64 = 0.7;

/// A piece crosses a plane if more than this share of its area is on either side.
const CROSSING_SHARE: f64 = 0.1;

/// From this fraction of a plane's area on, what faces away from it beneath is the underside of a closed body.
const UNDERSIDE_SHARE: f64 = 0.5;

/// Directions in which an outline's reach is measured; the polygon is then right to half a percent of its size.
const OUTLINE_DIRECTIONS: usize = 32;

/// Lists of triangles that are ground, one for each piece that is or has one. `plain`: area of pieces in which no plane was found in an earlier round,
/// to be passed over and added to.
pub(crate) fn find_grounds(mesh: &CleanMesh, pieces: &Pieces, plain: &mut Vec<f64>) -> Vec<Vec<u32>> {
    let large = |piece: &&Piece| piece.sum.area >= STRAY_AREA * pieces.pieces[0].sum.area;
    let count = pieces.pieces.iter().take(JUDGED_PIECES).take_while(large).count();
    // The same triangles in the same order have the same area to the last bit.
    let area = |piece: usize| pieces.pieces[piece].sum.area;
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

/// Triangles in one small cube of space that face roughly the same way, taken together: noise averages out.
struct Region {
    position: Vector3<f64>,
    normal: Vector3<f64>,
    /// Area, less what cancels because it faces another way.
    weight: f64,
    sum: MomentSum,
}

impl Region {
    /// `None` where all of it cancels.
    fn from_sum(sum: MomentSum) -> Option<Self> {
        let weight = sum.vector_area.norm();
        let region = || Self { position: sum.centroid(), normal: sum.vector_area / weight, weight, sum };
        (weight > 0.0).then(region)
    }
}

/// Averages the triangles of the first pieces by region, each list in the order of space; none for a piece that is not `judged`.
fn average(mesh: &CleanMesh, pieces: &Pieces, judged: &[bool]) -> Vec<Vec<Region>> {
    let mut sums: Vec<MomentSum> = Vec::new();
    let mut places: HashMap<(u32, [u8; 4]), usize> = HashMap::new();
    // Neighbours in the file are mostly neighbours in space: the last region is nearly always the one.
    let mut last = ((NONE, [0; 4]), 0);
    for (face, &label) in mesh.faces().iter().zip(&pieces.labels) {
        if !judged.get(label as usize).is_some_and(|&judged| judged) {
            continue;
        }
        let corners = mesh.corners(*face);
        let key = (label, region_key(&pieces.pieces[label as usize], corners));
        if key != last.0 {
            last = (key, *places.entry(key).or_insert(sums.len()));
            sums.resize(sums.len().max(last.1 + 1), MomentSum::default());
        }
        sums[last.1].add_triangle(from_centre(mesh, corners));
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

/// Sums of one cube by direction, put together where they are of one surface.
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

/// Planes and regions are reckoned from the centre of the mesh, so that none is lost to rounding far from the origin.
#[inline]
fn from_centre(mesh: &CleanMesh, [a, b, c]: [Vector3<f64>; 3]) -> [Vector3<f64>; 3] {
    let centre = mesh.centre();
    [a - centre, b - centre, c - centre]
}

/// Cube in which the middle of the triangle's box lies (no sum of corners, so no rounding that hangs on their order), and the
/// coordinate direction that it faces.
fn region_key(piece: &Piece, [a, b, c]: [Vector3<f64>; 3]) -> [u8; 4] {
    let middle = (a.inf(&b).inf(&c) + a.sup(&b).sup(&c)) * 0.5;
    let cell = ((middle - piece.low) * (REGIONS / piece.extent())).map(|steps| steps as u8);
    let normal = (b - a).cross(&(c - a));
    let axis = normal.iamax();
    [cell.x, cell.y, cell.z, 2 * axis as u8 + u8::from(normal[axis] > 0.0)]
}

/// A plane with a thickness, in coordinates from the centre of the mesh. The normal is on the side its triangles face.
#[derive(Debug, Clone, Copy)]
struct Plane {
    normal: Vector3<f64>,
    offset: f64,
    /// Half-thickness.
    band: f64,
}

impl Plane {
    /// Least-squares plane of what has been summed, and its standard deviation.
    fn fitted(sum: &MomentSum, band: f64) -> (Self, f64) {
        let spread = sum.spread();
        let axis = spread.axes[2];
        let normal = if axis.dot(&sum.vector_area) < 0.0 { -axis } else { axis };
        (Self { normal, offset: normal.dot(&sum.centroid()), band }, spread.variances[2].sqrt())
    }

    fn height(&self, p: Vector3<f64>) -> f64 {
        self.normal.dot(&p) - self.offset
    }

    fn holds_region(&self, region: &Region) -> bool {
        self.height(region.position).abs() <= self.band && self.normal.dot(&region.normal) >= REGION_ALIGNMENT
    }

    fn holds_face(&self, corners: [Vector3<f64>; 3]) -> bool {
        corners.iter().all(|&p| self.height(p).abs() <= self.band) && self.facing(corners) >= FACE_ALIGNMENT
    }

    /// Cosine of the angle between plane and triangle.
    fn facing(&self, [a, b, c]: [Vector3<f64>; 3]) -> f64 {
        (b - a).cross(&(c - a)).normalize().dot(&self.normal)
    }

    fn turned(self) -> Self {
        Self { normal: -self.normal, offset: -self.offset, ..self }
    }
}

/// Planes that hold much of a piece's area, the largest first. Regions spread evenly over the area propose, all the others vote.
fn dominant_planes(mut regions: Vec<Region>, extent: f64) -> Vec<Plane> {
    let area: f64 = regions.iter().map(|region| region.sum.area).sum();
    let mut planes = Vec::new();
    while planes.len() < PLANES {
        let best = best_plane(&regions, BAND_PER_EXTENT * extent);
        // Regions see a little less than the triangles will.
        let Some((plane, _)) = best.filter(|(_, votes)| *votes >= 0.5 * BENCH_SHARE * area) else { break };
        regions.retain(|region| !plane.holds_region(region));
        planes.push(plane);
    }
    planes
}

fn best_plane(regions: &[Region], band: f64) -> Option<(Plane, f64)> {
    let votes = |plane: &Plane| {
        let held = regions.iter().filter(|region| plane.holds_region(region));
        held.map(|region| region.weight).sum::<f64>()
    };
    let mut proposals: Vec<(Plane, f64)> = spread_evenly(regions)
        .map(|region| Plane { normal: region.normal, offset: region.normal.dot(&region.position), band })
        .map(|plane| (plane, votes(&plane)))
        .collect();
    proposals.sort_by(|a, b| b.1.total_cmp(&a.1));
    let fit = |(mut plane, _): (Plane, f64)| {
        for _ in 0..FIT_ROUNDS {
            let mut sum = MomentSum::default();
            regions
                .iter()
                .filter(|region| plane.holds_region(region))
                .for_each(|region| sum.add(&region.sum));
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

/// The triangles of one piece that lie in a plane.
struct Patch<'a> {
    mesh: &'a CleanMesh,
    pieces: &'a Pieces,
    piece: usize,
    plane: Plane,
    area: f64,
}

impl<'a> Patch<'a> {
    /// Fits the plane to the triangles; `None` unless it holds enough of them and is flat.
    fn settle(mesh: &'a CleanMesh, pieces: &'a Pieces, piece: usize, plane: Plane) -> Option<Self> {
        let extent = pieces.pieces[piece].extent();
        let mut patch = Self { mesh, pieces, piece, plane, area: 0.0 };
        let mut flat = false;
        for _ in 0..FIT_ROUNDS {
            let mut sum = MomentSum::default();
            patch.faces().for_each(|face| sum.add_triangle(patch.corners(face)));
            let (mut plane, sigma) = Plane::fitted(&sum, 0.0);
            plane.band =
                (BAND_SIGMAS * sigma).clamp(LEAST_BAND_PER_EXTENT * extent, BAND_PER_EXTENT * extent);
            flat = sigma <= FLATNESS * sum.spread().variances[1].sqrt();
            (patch.plane, patch.area) = (plane, sum.area);
            if sigma > HOPELESS * FLATNESS * sum.spread().variances[1].sqrt() {
                return None;
            }
        }
        (flat && patch.share() >= BENCH_SHARE).then_some(patch)
    }

    fn share(&self) -> f64 {
        self.area / self.pieces.pieces[self.piece].sum.area
    }

    fn corners(&self, face: usize) -> [Vector3<f64>; 3] {
        from_centre(self.mesh, self.mesh.corners(self.mesh.faces()[face]))
    }

    fn faces(&self) -> impl Iterator<Item = usize> {
        let centre = self.mesh.centre();
        let near = move |face: &usize| {
            // Most triangles are far from the plane, which one corner shows.
            let corner = Vector3::from(self.mesh.vertices()[self.mesh.faces()[*face][0] as usize]);
            self.plane.height(corner - centre).abs() <= self.plane.band
        };
        self.pieces
            .faces_of(self.piece)
            .filter(near)
            .filter(|&face| self.plane.holds_face(self.corners(face)))
    }

    /// The triangles that are to go if this is a sheet or a bench. Which side is up is tried out, because a sagging bench is
    /// oriented by its sag.
    fn as_ground(&self) -> Option<Vec<u32>> {
        let objects = self.standing_on(&self.plane);
        if self.is_bench(&self.plane, &objects) {
            return Some(self.bench_faces(&self.plane, &objects));
        }
        let (down, beneath) = (self.plane.turned(), self.standing_on(&self.plane.turned()));
        if self.is_bench(&down, &beneath) {
            return Some(self.bench_faces(&down, &beneath));
        }
        let sheet = self.share() >= SHEET_SHARE;
        sheet.then(|| {
            self.pieces
                .faces_of(self.piece)
                .filter(|&face| !objects.has(face))
                .map(|face| face as u32)
                .collect()
        })
    }

    /// What is clear of the plane on its upper side, less small fragments and roughness.
    fn standing_on(&self, up: &Plane) -> Objects {
        let clear = |face: usize| {
            self.pieces.labels[face] != NONE && self.corners(face).iter().all(|&p| up.height(p) > up.band)
        };
        let found = Pieces::among(self.mesh, clear);
        let least = found.pieces.first().map_or(0.0, |largest| STRAY_AREA * largest.sum.area);
        let least = least.max(LEAST_OBJECT * self.area).max(STRAY_AREA * self.largest_other());
        let count = found.pieces.iter().take_while(|piece| piece.sum.area >= least).count();
        Objects { labels: found.labels, count }
    }

    /// Area of the largest other piece. A scrap that floats over the end of a hub would else make a bench of the hub and, of all blades beneath
    /// its plane, the bench's legs.
    fn largest_other(&self) -> f64 {
        let others = self.pieces.pieces.iter().enumerate().filter(|(piece, _)| *piece != self.piece);
        others.map(|(_, piece)| piece.sum.area).fold(0.0, f64::max)
    }

    fn is_bench(&self, up: &Plane, objects: &Objects) -> bool {
        objects.count > 0
            && self.reaches_beyond(up, objects)
            && self.is_under(up, objects)
            && self.sides_of_pieces(up).iter().all(|sides| !sides.crosses())
            && self.is_board_or_open(up)
    }

    fn outline_of(&self, up: &Plane, faces: impl Iterator<Item = usize>) -> Outline {
        let mut outline = Outline::seen_along(up.normal);
        let mut seen = vec![false; self.mesh.vertices().len()];
        for vertex in faces.flat_map(|face| self.mesh.faces()[face]) {
            if !std::mem::replace(&mut seen[vertex as usize], true) {
                outline.include(&(Vector3::from(self.mesh.vertices()[vertex as usize]) - self.mesh.centre()));
            }
        }
        outline.find_circle();
        outline
    }

    /// Whether much of the plane lies outside the outline of what stands on it: a body's own flat side does not.
    fn reaches_beyond(&self, up: &Plane, objects: &Objects) -> bool {
        let outline = self.outline_of(up, objects.faces());
        let step = self.pieces.pieces[self.piece].extent() / REGIONS;
        let outside = |face| outside_area(self.corners(face), &outline, step);
        self.faces().map(outside).sum::<f64>() > BENCH_BEYOND * self.area
    }

    /// Whether what stands on the plane lies over it: another blade of the same propeller does not.
    fn is_under(&self, up: &Plane, objects: &Objects) -> bool {
        let outline = self.outline_of(up, self.faces());
        let (mut over, mut all) = (0.0, 0.0);
        for face in objects.faces() {
            let [a, b, c] = self.corners(face);
            let area = area(&[a, b, c]);
            all += area;
            over += if outline.holds(&((a + b + c) / 3.0)) { area } else { 0.0 };
        }
        over > OBJECT_OVER_BENCH * all
    }

    /// How much of every other piece of some size lies on either side of the plane.
    fn sides_of_pieces(&self, up: &Plane) -> Vec<Sides> {
        let mut sides = vec![Sides::default(); self.pieces.pieces.len()];
        for (face, &label) in self.pieces.labels.iter().enumerate() {
            if label == NONE || label as usize == self.piece {
                continue;
            }
            let corners = self.corners(face);
            let height = up.height((corners[0] + corners[1] + corners[2]) / 3.0);
            let side = &mut sides[label as usize];
            let area = area(&corners);
            side.all += area;
            side.above += if height > up.band { area } else { 0.0 };
            side.below += if height < -up.band { area } else { 0.0 };
        }
        let least = sides.iter().map(|side| STRAY_AREA * side.all).fold(0.0, f64::max);
        sides.iter_mut().filter(|side| side.all < least).for_each(|side| *side = Sides::default());
        sides
    }

    /// Whether the piece has no underside, or one as flat as a board's. The back of a blade is neither.
    fn is_board_or_open(&self, up: &Plane) -> bool {
        let mut sum = MomentSum::default();
        for face in self.pieces.faces_of(self.piece) {
            let corners = self.corners(face);
            if up.facing(corners) < -FACE_ALIGNMENT && corners.iter().all(|&p| up.height(p) < up.band) {
                sum.add_triangle(corners);
            }
        }
        let [_, narrow, thin] = sum.spread().variances.map(f64::sqrt);
        sum.area < UNDERSIDE_SHARE * self.area || thin <= FLATNESS * narrow
    }

    /// The piece without what stands on it, and pieces that lie beneath the plane.
    fn bench_faces(&self, up: &Plane, objects: &Objects) -> Vec<u32> {
        let sides = self.sides_of_pieces(up);
        let belongs = |&face: &usize| match self.pieces.labels[face] {
            NONE => false,
            label if label as usize == self.piece => {
                !(objects.has(face) || objects.count > 0 && self.rises(up, face))
            }
            label => sides[label as usize].beneath(),
        };
        (0..self.pieces.labels.len()).filter(belongs).map(|face| face as u32).collect()
    }

    /// Whether a triangle reaches out of the plane upwards: the foot of what stands on it.
    fn rises(&self, up: &Plane, face: usize) -> bool {
        let above = self.corners(face).iter().filter(|p| up.height(**p) > up.band).count();
        (1..3).contains(&above)
    }
}

/// Pieces that stand on a plane: those of `labels` below `count`.
struct Objects {
    labels: Vec<u32>,
    count: usize,
}

impl Objects {
    fn has(&self, face: usize) -> bool {
        (self.labels[face] as usize) < self.count
    }

    fn faces(&self) -> impl Iterator<Item = usize> {
        (0..self.labels.len()).filter(|&face| self.has(face))
    }
}

/// Area of a piece, and how much of it is clear of a plane on either side.
#[derive(Debug, Clone, Copy, Default)]
struct Sides {
    all: f64,
    above: f64,
    below: f64,
}

impl Sides {
    fn crosses(&self) -> bool {
        self.above.min(self.below) > CROSSING_SHARE * self.all
    }

    fn beneath(&self) -> bool {
        self.all > 0.0 && self.above <= CROSSING_SHARE * self.all
    }
}

/// Convex outline of points seen along a direction: how far they reach in each of [`OUTLINE_DIRECTIONS`].
struct Outline {
    normal: Vector3<f64>,
    reach: Vec<(Vector3<f64>, f64)>,
    /// Centre and square of the radius of a circle inside, for the many points that lie well within.
    within: (Vector3<f64>, f64),
}

impl Outline {
    fn seen_along(normal: Vector3<f64>) -> Self {
        let mut least = Vector3::zeros();
        least[normal.iamin()] = 1.0;
        let right = least.cross(&normal).normalize();
        let up = normal.cross(&right);
        let direction = |k: usize| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / OUTLINE_DIRECTIONS as f64).sin_cos();
            (right * cos + up * sin, f64::NEG_INFINITY)
        };
        let reach = (0..OUTLINE_DIRECTIONS).map(direction).collect();
        Self { normal, reach, within: (Vector3::zeros(), 0.0) }
    }

    fn include(&mut self, p: &Vector3<f64>) {
        self.reach.iter_mut().for_each(|(direction, reach)| *reach = reach.max(direction.dot(p)));
    }

    /// Once all points are in.
    fn find_circle(&mut self) {
        // Reaches in opposite directions differ by twice the centre's place; over all directions that adds up to the mean place.
        let sum: Vector3<f64> = self.reach.iter().map(|(direction, reach)| direction * *reach).sum();
        let centre = sum * (2.0 / OUTLINE_DIRECTIONS as f64);
        let room = self.reach.iter().map(|(direction, reach)| reach - direction.dot(&centre));
        let radius = room.fold(f64::INFINITY, f64::min).max(0.0);
        self.within = (centre, radius * radius);
    }

    fn holds(&self, p: &Vector3<f64>) -> bool {
        let from_centre = p - self.within.0;
        let off = from_centre - self.normal * self.normal.dot(&from_centre);
        off.norm_squared() < self.within.1
            || self.reach.iter().all(|(direction, reach)| direction.dot(p) <= *reach)
    }
}

fn area([a, b, c]: &[Vector3<f64>; 3]) -> f64 {
    0.5 * (b - a).cross(&(c - a)).norm()
}

/// Area of a triangle outside an outline, sampled at steps no longer than `step` (or a 32nd of its sides).
fn outside_area(corners: [Vector3<f64>; 3], outline: &Outline, step: f64) -> f64 {
    let [a, b, c] = corners;
    let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
    let steps = (longest / step).ceil().clamp(1.0, 32.0);
    let count = steps as usize;
    let mut outside = 0;
    for i in 0..count {
        // Middles of the small triangles of one row: those that point like the whole one, then the others between them.
        for j in 0..2 * (count - i) - 1 {
            let shift = if j % 2 == 0 { 1.0 / 3.0 } else { 2.0 / 3.0 };
            let (u, v) = ((i as f64 + shift) / steps, ((j / 2) as f64 + shift) / steps);
            outside += usize::from(!outline.holds(&(a + (b - a) * u + (c - a) * v)));
        }
    }
    area(&corners) * outside as f64 / (steps * steps)
}
