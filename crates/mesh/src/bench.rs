//! Tests a plane that contains much of a piece: whether it is a bench or a sheet, and which triangles belong to it.

use std::ops::Range;

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::moments::MomentSum;
use crate::pieces::{NONE, Pieces, STRAY_AREA};
use crate::plane::{BAND_PER_EXTENT, BENCH_SHARE, FACE_ALIGNMENT, FIT_ROUNDS, Plane, REGIONS, from_centre};
use crate::projected_hull::{ProjectedHull, area, outside_area};
use bladeform_numeric::parallel;

/// A piece is a sheet if at least this fraction of its area is in one plane. A closed body has at most half its area on one side.
const SHEET_SHARE: f64 = 0.85;

/// Minimum area of an object on a bench, as a fraction of the area of the bench.
const LEAST_OBJECT: f64 = 0.01;

/// Minimum fraction of a bench's area outside the hull of the objects on it.
const BENCH_BEYOND: f64 = 0.3;

/// Minimum fraction of an object on a bench that is above the bench.
const OBJECT_OVER_BENCH: f64 = 0.7;

/// A piece crosses a plane if more than this fraction of its area is on each side.
const CROSSING_SHARE: f64 = 0.1;

/// If the area that faces away beneath a plane is at least this fraction of the area of the plane, it is the underside of a closed body.
const UNDERSIDE_SHARE: f64 = 0.5;

/// Minimum half-thickness of a plane as a fraction of the extent of the piece, for surfaces without noise.
const LEAST_BAND_PER_EXTENT: f64 = 1e-5;

/// Half-thickness of a plane in standard deviations of the distance from it.
const BAND_SIGMAS: f64 = 4.0;

/// Maximum standard deviation from its plane for a flat surface, relative to that along its narrower side. A noisy
/// or sagging bench has 0.2 to 1 %. The back of a section 6 % thick has about 6 %.
const FLATNESS: f64 = 0.015;

/// Multiple of [`FLATNESS`] above which the widest band, which includes more than the plane, shows that its triangles are not flat.
const HOPELESS: f64 = 4.0;

/// Triangles, evenly taken from all, that a first look at a plane needs: their spread is known to a hundredth even where a tenth of them lies on it.
const ENOUGH_FOR_A_LOOK: usize = 100_000;

/// What is beyond the limits by this factor in a first look is so for all triangles.
const CLEARLY: f64 = 1.3;

/// The triangles of one piece that are in a plane.
pub(crate) struct Patch<'a> {
    mesh: &'a CleanMesh,
    pieces: &'a Pieces,
    piece: usize,
    plane: Plane,
    area: f64,
}

/// One side of the plane of a patch taken as the upper one, and the side of every vertex: +1 clearly above the plane, -1 clearly below.
struct Upwards<'a> {
    plane: Plane,
    sides: &'a [i8],
    up: i8,
}

impl Upwards<'_> {
    #[inline]
    fn side(&self, vertex: u32) -> i8 {
        self.up * self.sides[vertex as usize]
    }

    /// Sides of the corners of a triangle: how many are clearly above the plane.
    fn above(&self, face: [u32; 3]) -> usize {
        face.iter().filter(|&&v| self.side(v) > 0).count()
    }
}

impl<'a> Patch<'a> {
    /// Fits the plane to the triangles; `None` unless it contains enough of them and is flat.
    pub(crate) fn settle(
        mesh: &'a CleanMesh,
        pieces: &'a Pieces,
        piece: usize,
        plane: Plane,
    ) -> Option<Self> {
        let extent = pieces.pieces[piece].extent();
        // Where thousands of triangles say the same, a part of them shows what is far from flat.
        let every = mesh.faces().len() / ENOUGH_FOR_A_LOOK;
        if 1 < every {
            let mut look = Self { mesh, pieces, piece, plane, area: 0.0 };
            look.fit(extent, every, CLEARLY)?;
        }
        let mut patch = Self { mesh, pieces, piece, plane, area: 0.0 };
        patch.fit(extent, 1, 1.0)?;
        Some(patch)
    }

    /// Fits plane and band to one triangle in `every`. `None` if they are not flat by `clearly` times the limits, or too small by that factor.
    fn fit(&mut self, extent: f64, every: usize, clearly: f64) -> Option<()> {
        let mut flat = false;
        for _ in 0..FIT_ROUNDS {
            let sum = self.sum_of(MomentSum::default(), MomentSum::add, |sum, group| {
                self.faces_among(group.step_by(every)).for_each(|face| sum.add_triangle(self.corners(face)));
            });
            let (mut plane, sigma) = Plane::fitted(&sum, 0.0);
            plane.band =
                (BAND_SIGMAS * sigma).clamp(LEAST_BAND_PER_EXTENT * extent, BAND_PER_EXTENT * extent);
            let limit = clearly * FLATNESS * sum.spread().variances[1].sqrt();
            flat = sigma <= limit;
            (self.plane, self.area) = (plane, sum.area * every as f64);
            if sigma > HOPELESS * limit {
                return None;
            }
        }
        (flat && clearly * self.share() >= BENCH_SHARE).then_some(())
    }

    fn share(&self) -> f64 {
        self.area / self.pieces.pieces[self.piece].area
    }

    #[inline]
    fn corners(&self, face: usize) -> [Vector3<f64>; 3] {
        from_centre(self.mesh, self.mesh.corners(self.mesh.faces()[face]))
    }

    /// Those of a range of triangles that are in the plane.
    fn faces_among(&self, of: impl Iterator<Item = usize>) -> impl Iterator<Item = usize> {
        let centre = self.mesh.centre();
        let near = move |face: &usize| {
            // Most triangles are far from the plane. One corner is enough to see this.
            let corner = Vector3::from(self.mesh.vertices()[self.mesh.faces()[*face][0] as usize]);
            self.plane.height(corner - centre).abs() <= self.plane.band
        };
        self.pieces
            .faces_among(of, self.piece)
            .filter(near)
            .filter(|&face| self.plane.holds_face(self.corners(face)))
    }

    /// A sum over groups of triangles.
    fn sum_of<S: Clone + Send + Sync>(
        &self,
        zero: S,
        join: impl Fn(&mut S, &S),
        add: impl Fn(&mut S, Range<usize>) + Sync,
    ) -> S {
        let groups = parallel::groups(self.mesh.faces().len(), |group| {
            let mut sum = zero.clone();
            add(&mut sum, group);
            sum
        });
        groups.iter().fold(zero.clone(), |mut all, sum| {
            join(&mut all, sum);
            all
        })
    }

    /// A sum over the triangles in the plane.
    fn sum_of_faces<S: Clone + Send + Sync>(
        &self,
        zero: S,
        join: impl Fn(&mut S, &S),
        add: impl Fn(&mut S, [Vector3<f64>; 3]) + Sync,
    ) -> S {
        self.sum_of(zero, join, |sum, group| {
            self.faces_among(group).for_each(|face| add(sum, self.corners(face)));
        })
    }

    /// The triangles to remove if this is a sheet or a bench. Both sides are tried as the upper one, because the orientation of a sagging bench
    /// depends on its sag.
    pub(crate) fn as_ground(&self) -> Option<Vec<u32>> {
        let sides = self.sides_of_vertices();
        let up = Upwards { plane: self.plane, sides: &sides, up: 1 };
        let down = Upwards { plane: self.plane.turned(), sides: &sides, up: -1 };
        // Which triangles are connected is found on one thread: both sides at the same time.
        let (objects, beneath) = parallel::join(|| self.standing_on(&up), || self.standing_on(&down));
        if let Some(pieces) = self.as_bench(&up, &objects) {
            return Some(self.bench_faces(&up, &objects, &pieces));
        }
        if let Some(pieces) = self.as_bench(&down, &beneath) {
            return Some(self.bench_faces(&down, &beneath, &pieces));
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

    /// The side of the plane on which every vertex is clear of it; 0 within its band.
    fn sides_of_vertices(&self) -> Vec<i8> {
        let centre = self.mesh.centre();
        let mut sides = vec![0; self.mesh.vertices().len()];
        parallel::parts(&mut sides, |first, part| {
            for (side, &p) in part.iter_mut().zip(&self.mesh.vertices()[first..]) {
                let height = self.plane.height(Vector3::from(p) - centre);
                *side = i8::from(height > self.plane.band) - i8::from(height < -self.plane.band);
            }
        });
        sides
    }

    /// The objects clearly above the plane, without small fragments and roughness.
    fn standing_on(&self, up: &Upwards<'_>) -> Objects {
        let clear = |face: usize| {
            self.pieces.labels[face] != NONE && self.mesh.faces()[face].iter().all(|&v| up.side(v) > 0)
        };
        let found = Pieces::among(self.mesh, clear);
        let least = found.pieces.first().map_or(0.0, |largest| STRAY_AREA * largest.area);
        let least = least.max(LEAST_OBJECT * self.area).max(STRAY_AREA * self.largest_other());
        let count = found.pieces.iter().take_while(|piece| piece.area >= least).count();
        Objects { labels: found.labels, count }
    }

    /// Area of the largest other piece. Without this limit a fragment floating over the end of a hub would make the hub a bench and all blades beneath
    /// its plane the legs of the bench.
    fn largest_other(&self) -> f64 {
        let others = self.pieces.pieces.iter().enumerate().filter(|(piece, _)| *piece != self.piece);
        others.map(|(_, piece)| piece.area).fold(0.0, f64::max)
    }

    /// Positions of the other pieces of some size, if this is a bench.
    fn as_bench(&self, up: &Upwards<'_>, objects: &Objects) -> Option<Vec<Sides>> {
        if objects.count == 0 || !self.reaches_beyond(up, objects) || !self.is_under(up, objects) {
            return None;
        }
        let pieces = self.sides_of_pieces(up);
        (pieces.iter().all(|sides| !sides.crosses()) && self.is_board_or_open(up)).then_some(pieces)
    }

    /// Hull of the triangles that are listed for every group of neighbours.
    fn hull_of<I: Iterator<Item = usize>>(
        &self,
        up: &Upwards<'_>,
        faces: impl Fn(Range<usize>) -> I + Sync,
    ) -> ProjectedHull {
        let mut seen = vec![false; self.mesh.vertices().len()];
        let all = 0..self.mesh.faces().len();
        faces(all).flat_map(|face| self.mesh.faces()[face]).for_each(|vertex| seen[vertex as usize] = true);
        let centre = self.mesh.centre();
        let groups = parallel::groups(seen.len(), |group| {
            let mut hull = ProjectedHull::seen_along(up.plane.normal);
            for (&p, seen) in self.mesh.vertices()[group.clone()].iter().zip(&seen[group]) {
                if *seen {
                    hull.include(&(Vector3::from(p) - centre));
                }
            }
            hull
        });
        let mut hull = ProjectedHull::seen_along(up.plane.normal);
        groups.iter().for_each(|group| hull.take_in(group));
        hull.find_circle();
        hull
    }

    /// Whether much of the plane is outside the hull of the objects on it. This is not so for a flat side of a body.
    fn reaches_beyond(&self, up: &Upwards<'_>, objects: &Objects) -> bool {
        let hull = self.hull_of(up, |group| objects.faces_among(group));
        let step = self.pieces.pieces[self.piece].extent() / REGIONS;
        let outside = self.sum_of_faces(
            0.0,
            |all, sum| *all += sum,
            |sum, corners| {
                *sum += outside_area(corners, &hull, step);
            },
        );
        outside > BENCH_BEYOND * self.area
    }

    /// Whether the objects on the plane are above its area. Another blade of the same propeller is not.
    fn is_under(&self, up: &Upwards<'_>, objects: &Objects) -> bool {
        let hull = self.hull_of(up, |group| self.faces_among(group));
        let join = |all: &mut [f64; 2], sum: &[f64; 2]| all.iter_mut().zip(sum).for_each(|(a, s)| *a += s);
        let [over, all] = self.sum_of([0.0; 2], join, |[over, all], group| {
            for face in objects.faces_among(group) {
                let [a, b, c] = self.corners(face);
                let area = area(&[a, b, c]);
                *all += area;
                *over += if hull.holds(&((a + b + c) / 3.0)) { area } else { 0.0 };
            }
        });
        over > OBJECT_OVER_BENCH * all
    }

    /// Area of every other piece of some size on each side of the plane.
    fn sides_of_pieces(&self, up: &Upwards<'_>) -> Vec<Sides> {
        let least = STRAY_AREA * self.largest_other();
        let of_some_size = self.pieces.pieces.iter().take_while(|piece| piece.area >= least).count();
        let sides = vec![Sides::default(); of_some_size];
        let join =
            |all: &mut Vec<Sides>, sum: &Vec<Sides>| all.iter_mut().zip(sum).for_each(|(a, s)| a.add(s));
        self.sum_of(sides, join, |sides, group| {
            for face in group {
                let label = self.pieces.labels[face] as usize;
                if label >= of_some_size || label == self.piece {
                    continue;
                }
                let corners = self.corners(face);
                let height = up.plane.height((corners[0] + corners[1] + corners[2]) / 3.0);
                let side = &mut sides[label];
                let area = area(&corners);
                side.all += area;
                side.above += if height > up.plane.band { area } else { 0.0 };
                side.below += if height < -up.plane.band { area } else { 0.0 };
            }
        })
    }

    /// Whether the piece has no underside, or one as flat as that of a board. A blade has neither.
    fn is_board_or_open(&self, up: &Upwards<'_>) -> bool {
        let sum = self.sum_of(MomentSum::default(), MomentSum::add, |sum, group| {
            for face in self.pieces.faces_among(group, self.piece) {
                let corners = self.corners(face);
                if up.above(self.mesh.faces()[face]) == 0 && up.plane.facing(corners) < -FACE_ALIGNMENT {
                    sum.add_triangle(corners);
                }
            }
        });
        let [_, narrow, thin] = sum.spread().variances.map(f64::sqrt);
        sum.area < UNDERSIDE_SHARE * self.area || thin <= FLATNESS * narrow
    }

    /// The piece without the objects on it, and pieces beneath the plane.
    fn bench_faces(&self, up: &Upwards<'_>, objects: &Objects, sides: &[Sides]) -> Vec<u32> {
        let belongs = |&face: &usize| match self.pieces.labels[face] {
            NONE => false,
            label if label as usize == self.piece => {
                // A triangle that extends upwards from the plane is the base of an object on it.
                let rises = || (1..3).contains(&up.above(self.mesh.faces()[face]));
                !(objects.has(face) || objects.count > 0 && rises())
            }
            label => sides.get(label as usize).is_some_and(Sides::beneath),
        };
        (0..self.pieces.labels.len()).filter(belongs).map(|face| face as u32).collect()
    }
}

/// Objects on a plane: those of `labels` below `count`.
struct Objects {
    labels: Vec<u32>,
    count: usize,
}

impl Objects {
    fn has(&self, face: usize) -> bool {
        (self.labels[face] as usize) < self.count
    }

    fn faces_among(&self, range: Range<usize>) -> impl Iterator<Item = usize> {
        range.filter(|&face| self.has(face))
    }
}

/// Area of a piece, and how much of it is clear of a plane on each side.
#[derive(Debug, Clone, Copy, Default)]
struct Sides {
    all: f64,
    above: f64,
    below: f64,
}

impl Sides {
    fn add(&mut self, other: &Self) {
        self.all += other.all;
        self.above += other.above;
        self.below += other.below;
    }

    fn crosses(&self) -> bool {
        self.above.min(self.below) > CROSSING_SHARE * self.all
    }

    fn beneath(&self) -> bool {
        self.all > 0.0 && self.above <= CROSSING_SHARE * self.all
    }
}
