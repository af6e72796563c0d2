//! Pieces of a mesh connected by common vertices, with the quantities that distinguish them.

use std::ops::Range;

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::moments::{MomentSum, rows};
use bladeform_numeric::parallel;
use bladeform_numeric::sets::Forest;

/// Areas that differ by less than this fraction are a tie. Copies of one blade differ by the rounding of their sums.
const AREA_TIE: f64 = 1e-9;

/// Centroids are compared in steps of this fraction of the diagonal, far above rounding.
const CENTROID_STEP: f64 = 1e-6;

/// Up to this number of pieces every group of triangles has its own sums for all pieces.
const FEW_PIECES: usize = 4096;

/// Pieces below this fraction of the largest area are fragments. Blades and spinner of one propeller differ by far less.
pub(crate) const STRAY_AREA: f64 = 0.02;

/// Marks "in no piece".
pub(crate) const NONE: u32 = u32::MAX;

/// A piece of a mesh whose triangles are connected by common vertices. Lengths in the units of the file.
#[derive(Debug, Clone, PartialEq)]
pub struct Component {
    /// Number of triangles.
    pub faces: usize,
    /// Surface area.
    pub area: f64,
    /// Lowest and highest corner of the bounding box.
    pub bounds: [[f64; 3]; 2],
    /// Centroid of the surface.
    pub centroid: [f64; 3],
    /// Integral of `(p - c)(p - c)^T dA` about the centroid `c`, rows of a symmetric 3 x 3.
    pub second_moment: [[f64; 3]; 3],
    /// Unit principal axes, largest spread first, right-handed.
    pub principal_axes: [[f64; 3]; 3],
    /// Root mean square distance of the surface from the centroid along each principal axis.
    pub principal_deviations: [f64; 3],
    /// Size along each principal axis, from the lowest to the highest vertex.
    pub principal_extents: [f64; 3],
    /// Edges with one triangle.
    pub boundary_edges: usize,
}

/// Why a piece was removed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartReason {
    /// A loose fragment, much smaller than the part.
    StrayFragment,
    /// The table or ground the part was scanned on.
    Ground,
}

/// A piece that [`keep_part`](crate::keep_part) removed.
#[derive(Debug, Clone, PartialEq)]
pub struct RemovedPart {
    /// Why.
    pub reason: PartReason,
    /// Triangles in it.
    pub triangles: usize,
    /// Its surface area.
    pub area: f64,
    /// Diagonal of its bounding box.
    pub extent: f64,
}

/// Sums over one piece, relative to one of its own corners, so that small pieces far from the origin lose no digits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) faces: usize,
    pub(crate) reference: Vector3<f64>,
    pub(crate) low: Vector3<f64>,
    pub(crate) high: Vector3<f64>,
    pub(crate) area: f64,
    first: Vector3<f64>,
}

impl Piece {
    pub(crate) fn starting_at(reference: Vector3<f64>) -> Self {
        Self { faces: 0, reference, low: reference, high: reference, area: 0.0, first: Vector3::zeros() }
    }

    #[inline]
    pub(crate) fn add(&mut self, [a, b, c]: [Vector3<f64>; 3]) {
        self.faces += 1;
        self.low = self.low.inf(&a.inf(&b).inf(&c));
        self.high = self.high.sup(&a.sup(&b).sup(&c));
        let [a, b, c] = [a - self.reference, b - self.reference, c - self.reference];
        let area = ((b - a).cross(&(c - a)) * 0.5).norm();
        self.area += area;
        self.first += (a + b + c) * (area / 3.0);
    }

    /// Adds sums with the same reference.
    fn add_sums(&mut self, other: &Self) {
        self.faces += other.faces;
        self.low = self.low.inf(&other.low);
        self.high = self.high.sup(&other.high);
        self.area += other.area;
        self.first += other.first;
    }

    fn centroid(&self) -> Vector3<f64> {
        let from_reference = if self.area > 0.0 { self.first / self.area } else { Vector3::zeros() };
        from_reference + self.reference
    }

    /// Diagonal of the bounding box.
    pub(crate) fn extent(&self) -> f64 {
        (self.high - self.low).norm()
    }

    pub(crate) fn as_stray(&self) -> RemovedPart {
        RemovedPart {
            reason: PartReason::StrayFragment,
            triangles: self.faces,
            area: self.area,
            extent: self.extent(),
        }
    }

    /// `sum`: moments of the piece relative to its reference.
    pub(crate) fn describe(&self, sum: &MomentSum) -> Component {
        let spread = sum.spread();
        Component {
            faces: self.faces,
            area: sum.area,
            bounds: [self.low.into(), self.high.into()],
            centroid: (sum.centroid() + self.reference).into(),
            second_moment: rows(&sum.central_second()),
            principal_axes: spread.axes.map(Into::into),
            principal_deviations: spread.variances.map(f64::sqrt),
            principal_extents: [0.0; 3],
            boundary_edges: 0,
        }
    }
}

/// Pieces of a part of a mesh, largest area first, and the piece of every triangle.
#[derive(Debug)]
pub(crate) struct Pieces {
    /// One label per triangle of the mesh; [`NONE`] for excluded ones.
    pub(crate) labels: Vec<u32>,
    pub(crate) pieces: Vec<Piece>,
}

impl Pieces {
    /// Pieces among the triangles whose index `includes` accepts.
    pub(crate) fn among(mesh: &CleanMesh, includes: impl Fn(usize) -> bool) -> Self {
        let faces = mesh.faces();
        let mut labels = vec![NONE; faces.len()];
        let mut forest = Forest::new(mesh.vertices().len());
        for (face, label) in labels.iter_mut().enumerate() {
            if includes(face) {
                let [a, b, c] = faces[face];
                forest.join(a, b);
                forest.join(a, c);
                *label = 0;
            }
        }
        let mut pieces: Vec<Piece> = Vec::new();
        let mut piece_of_root = vec![NONE; mesh.vertices().len()];
        for (label, face) in labels.iter_mut().zip(faces).filter(|(label, _)| **label != NONE) {
            let slot = &mut piece_of_root[forest.root(face[0]) as usize];
            if *slot == NONE {
                *slot = pieces.len() as u32;
                pieces.push(Piece::starting_at(mesh.corners(*face)[0]));
            }
            *label = *slot;
        }
        drop((forest, piece_of_root));
        let sum = |group: Range<usize>| {
            let mut sums = pieces.clone();
            for (face, &label) in faces[group.clone()].iter().zip(&labels[group]) {
                if label != NONE {
                    sums[label as usize].add(mesh.corners(*face));
                }
            }
            sums
        };
        let few = pieces.len() <= FEW_PIECES;
        let groups = if few { parallel::groups(faces.len(), sum) } else { vec![sum(0..faces.len())] };
        for group in &groups {
            pieces.iter_mut().zip(group).for_each(|(piece, part)| piece.add_sums(part));
        }
        let mut found = Self { labels, pieces };
        found.sort(mesh);
        found
    }

    /// Excludes the triangles that are not `kept`. Returns whether any piece was cut. Pieces that are not affected keep exactly their sums.
    pub(crate) fn leave_out(&mut self, mesh: &CleanMesh, kept: &[bool]) -> bool {
        let mut left = vec![0; self.pieces.len()];
        for (label, _) in self.labels.iter().zip(kept).filter(|(label, kept)| **kept && **label != NONE) {
            left[*label as usize] += 1;
        }
        let whole: Vec<bool> =
            left.iter().zip(&self.pieces).map(|(left, piece)| *left == piece.faces).collect();
        let is_cut = |label: u32| label != NONE && !whole[label as usize] && 0 < left[label as usize];
        let cuts = (0..self.pieces.len() as u32).any(is_cut);
        let rest = cuts.then(|| Self::among(mesh, |face| kept[face] && is_cut(self.labels[face])));
        let mut places = vec![NONE; self.pieces.len()];
        let mut pieces = Vec::new();
        for (place, (piece, whole)) in places.iter_mut().zip(self.pieces.iter().zip(&whole)) {
            if *whole {
                *place = pieces.len() as u32;
                pieces.push(*piece);
            }
        }
        let first_of_rest = pieces.len() as u32;
        for (face, label) in self.labels.iter_mut().enumerate().filter(|(_, label)| **label != NONE) {
            *label = match &rest {
                Some(rest) if rest.labels[face] != NONE => first_of_rest + rest.labels[face],
                _ => places[*label as usize],
            };
        }
        pieces.extend(rest.into_iter().flat_map(|rest| rest.pieces));
        self.pieces = pieces;
        self.sort(mesh);
        cuts
    }

    /// Sorts by area, and pieces of equal area by their centroids. The order must not depend on rounding.
    fn sort(&mut self, mesh: &CleanMesh) {
        let mut order: Vec<u32> = (0..self.pieces.len() as u32).collect();
        let area = |index: u32| self.pieces[index as usize].area;
        order.sort_by(|&a, &b| area(b).total_cmp(&area(a)));
        let step = CENTROID_STEP * mesh.diagonal();
        let place = |&index: &u32| {
            let from_corner = self.pieces[index as usize].centroid() - Vector3::from(mesh.bounds()[0]);
            // Offset by a third of a step, because symmetric bodies have centroids at round fractions of the box.
            from_corner.map(|c| (c / step + 1.0 / 3.0).round() as i64).data.0[0]
        };
        for ties in order.chunk_by_mut(|&a, &b| area(a) - area(b) <= AREA_TIE * area(a)) {
            ties.sort_by_cached_key(place);
        }
        let mut rank = vec![0; order.len()];
        order.iter().enumerate().for_each(|(index, &old)| rank[old as usize] = index as u32);
        if rank.iter().enumerate().any(|(old, &new)| old as u32 != new) {
            self.labels
                .iter_mut()
                .filter(|label| **label != NONE)
                .for_each(|label| *label = rank[*label as usize]);
        }
        self.pieces = order.iter().map(|&old| self.pieces[old as usize]).collect();
    }

    /// Triangles of one piece.
    pub(crate) fn faces_of(&self, piece: usize) -> impl Iterator<Item = usize> {
        self.faces_among(0..self.labels.len(), piece)
    }

    /// Triangles of one piece among some.
    pub(crate) fn faces_among(
        &self,
        of: impl Iterator<Item = usize>,
        piece: usize,
    ) -> impl Iterator<Item = usize> {
        of.filter(move |&face| self.labels[face] as usize == piece)
    }
}
