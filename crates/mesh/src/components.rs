//! Pieces of a mesh that hang together, and which of them are the part: stray fragments and the ground it lay on go.

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::ground::find_grounds;
use crate::moments::{MomentSum, rows};
use crate::topology::{Forest, open_edges};

/// Pieces below this fraction of the largest one's area are fragments. Blades and spinner of one propeller differ by far less.
pub(crate) const STRAY_AREA: f64 = 0.02;

/// Areas closer than this fraction are a tie: copies of one blade differ by the rounding of their sums.
const AREA_TIE: f64 = 1e-9;

/// Centroids are compared in steps of this fraction of the diagonal, far above rounding.
const CENTROID_STEP: f64 = 1e-6;

/// If the largest remaining piece has less than this fraction of the whole area, what was taken for ground was the part: even a
/// model propeller on a desk has several times as much.
const LEAST_REMAINDER: f64 = 1e-3;

/// Rounds of looking for ground: bench, its underside, floor and walls come off one after the other.
const GROUND_ROUNDS: usize = 6;

/// Stands for "in no piece".
pub(crate) const NONE: u32 = u32::MAX;

/// A piece of a mesh whose triangles hang together by shared vertices. Lengths in the units of the file.
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

/// The components of a mesh, largest area first, ties by their centroids: the order does not depend on the file's.
#[must_use]
pub fn components(mesh: &CleanMesh) -> Vec<Component> {
    labelled_components(mesh).0
}

/// Like [`components`], with the number of its component for each triangle.
#[must_use]
pub fn labelled_components(mesh: &CleanMesh) -> (Vec<Component>, Vec<u32>) {
    let Pieces { labels, pieces } = Pieces::among(mesh, |_| true);
    let mut parts: Vec<_> = pieces.iter().map(Piece::describe).collect();
    measure_extents(mesh, &labels, &mut parts);
    open_edges(mesh, |face| parts[labels[face] as usize].boundary_edges += 1);
    (parts, labels)
}

fn measure_extents(mesh: &CleanMesh, labels: &[u32], parts: &mut [Component]) {
    let mut ranges = vec![[[f64::INFINITY, f64::NEG_INFINITY]; 3]; parts.len()];
    for (face, &piece) in mesh.faces().iter().zip(labels) {
        let axes = parts[piece as usize].principal_axes.map(Vector3::from);
        for p in mesh.corners(*face) {
            for (range, axis) in ranges[piece as usize].iter_mut().zip(axes) {
                let along = axis.dot(&p);
                *range = [range[0].min(along), range[1].max(along)];
            }
        }
    }
    for (part, ranges) in parts.iter_mut().zip(ranges) {
        part.principal_extents = ranges.map(|[low, high]| high - low);
    }
}

/// Why a piece was taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PartReason {
    /// A loose fragment, much smaller than the part.
    StrayFragment,
    /// The table or ground the part was scanned on.
    Ground,
}

/// A piece that [`keep_part`] took out.
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

/// What [`keep_part`] kept and what it took out.
#[derive(Debug, Clone, PartialEq)]
pub struct Selection {
    /// The part. It may be several pieces: blades and spinner of a propeller modelled one by one.
    pub kept: CleanMesh,
    /// What was taken out, largest area first.
    pub removed: Vec<RemovedPart>,
    /// Whether everything looked like ground, so that no ground was taken out: the scan may be only a flat sheet.
    pub all_ground: bool,
}

/// Takes out the table or ground that came with a scan, and stray fragments.
///
/// Wants windings that agree: call [`orient`](crate::orient) first.
///
/// - **Ground** is a plane that holds nearly all of a piece's area on one side, so an open sheet; or one that holds a fair
///   share of it, reaches well beyond whatever stands on it, and has nothing but a flat board beneath: a bench, also one that has
///   grown together with the part. It may be larger than the part. A blade is never one: its own flat side has nothing standing on it.
/// - **Stray fragments** are pieces below 2 % of the largest remaining one's area. All larger ones are kept.
///
/// If hardly anything would remain, no ground is taken out and [`Selection::all_ground`] says so.
#[must_use]
pub fn keep_part(mesh: &CleanMesh) -> Selection {
    let mut kept = vec![true; mesh.faces().len()];
    let mut removed = Vec::new();
    let mut pieces = Pieces::among(mesh, |_| true);
    let total: f64 = pieces.pieces.iter().map(|piece| piece.sum.area).sum();
    let mut plain = Vec::new();
    for _ in 0..GROUND_ROUNDS {
        let grounds = find_grounds(mesh, &pieces, &mut plain);
        if grounds.is_empty() {
            break;
        }
        for ground in grounds {
            removed.extend(take_out(mesh, &mut kept, &ground));
        }
        pieces = Pieces::among(mesh, |face| kept[face]);
    }
    let mut largest = pieces.pieces.first().map_or(0.0, |piece| piece.sum.area);
    let all_ground = largest < LEAST_REMAINDER * total;
    if all_ground {
        // Fragments are loose all the same.
        kept.fill(true);
        removed.clear();
        pieces = Pieces::among(mesh, |_| true);
        largest = pieces.pieces.first().map_or(0.0, |piece| piece.sum.area);
    }
    let stays = |piece: &Piece| piece.sum.area >= STRAY_AREA * largest;
    removed.extend(pieces.pieces.iter().filter(|piece| !stays(piece)).map(Piece::as_stray));
    if removed.is_empty() {
        return Selection { kept: mesh.clone(), removed, all_ground };
    }
    removed.sort_by(|a, b| b.area.total_cmp(&a.area));
    let kept = mesh.subset(|face| kept[face] && stays(&pieces.pieces[pieces.labels[face] as usize]));
    Selection { kept, removed, all_ground }
}

/// Marks the triangles of one ground as gone; what that took out, unless another ground already had it all.
fn take_out(mesh: &CleanMesh, kept: &mut [bool], ground: &[u32]) -> Option<RemovedPart> {
    let mut gone: Option<Piece> = None;
    for &face in ground {
        if std::mem::replace(&mut kept[face as usize], false) {
            let corners = mesh.corners(mesh.faces()[face as usize]);
            gone.get_or_insert_with(|| Piece::starting_at(corners[0])).add(corners);
        }
    }
    gone.map(|piece| RemovedPart { reason: PartReason::Ground, ..piece.as_stray() })
}

/// Sums over one piece, relative to one of its own corners so that small far ones lose no digits.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Piece {
    pub(crate) faces: usize,
    reference: Vector3<f64>,
    pub(crate) low: Vector3<f64>,
    pub(crate) high: Vector3<f64>,
    pub(crate) sum: MomentSum,
}

impl Piece {
    fn starting_at(reference: Vector3<f64>) -> Self {
        Self { faces: 0, reference, low: reference, high: reference, sum: MomentSum::default() }
    }

    fn add(&mut self, corners: [Vector3<f64>; 3]) {
        let [a, b, c] = corners;
        self.faces += 1;
        self.sum.add_triangle([a - self.reference, b - self.reference, c - self.reference]);
        self.low = self.low.inf(&a.inf(&b).inf(&c));
        self.high = self.high.sup(&a.sup(&b).sup(&c));
    }

    fn centroid(&self) -> Vector3<f64> {
        self.sum.centroid() + self.reference
    }

    /// Diagonal of the bounding box.
    pub(crate) fn extent(&self) -> f64 {
        (self.high - self.low).norm()
    }

    fn as_stray(&self) -> RemovedPart {
        RemovedPart {
            reason: PartReason::StrayFragment,
            triangles: self.faces,
            area: self.sum.area,
            extent: self.extent(),
        }
    }

    fn describe(&self) -> Component {
        let spread = self.sum.spread();
        Component {
            faces: self.faces,
            area: self.sum.area,
            bounds: [self.low.into(), self.high.into()],
            centroid: self.centroid().into(),
            second_moment: rows(&self.sum.central_second()),
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
    /// One for each triangle of the mesh; [`NONE`] for those left out.
    pub(crate) labels: Vec<u32>,
    pub(crate) pieces: Vec<Piece>,
}

impl Pieces {
    /// Pieces among the triangles whose index `includes` accepts.
    pub(crate) fn among(mesh: &CleanMesh, includes: impl Fn(usize) -> bool) -> Self {
        let mut labels = vec![NONE; mesh.faces().len()];
        let mut forest = Forest::new(mesh.vertices().len());
        let included = |face: &usize| includes(*face);
        for face in (0..labels.len()).filter(included) {
            let [a, b, c] = mesh.faces()[face];
            forest.join(a, b);
            forest.join(a, c);
        }
        let mut piece_of_root = vec![NONE; mesh.vertices().len()];
        let mut pieces: Vec<Piece> = Vec::new();
        for face in (0..labels.len()).filter(included) {
            let corners = mesh.corners(mesh.faces()[face]);
            let slot = &mut piece_of_root[forest.root(mesh.faces()[face][0]) as usize];
            if *slot == NONE {
                *slot = pieces.len() as u32;
                pieces.push(Piece::starting_at(corners[0]));
            }
            labels[face] = *slot;
            pieces[*slot as usize].add(corners);
        }
        let mut found = Self { labels, pieces };
        found.sort(mesh);
        found
    }

    /// Sorts by area, pieces of equal area by their centroids, neither of which may hang on rounding.
    fn sort(&mut self, mesh: &CleanMesh) {
        let mut order: Vec<u32> = (0..self.pieces.len() as u32).collect();
        let area = |index: u32| self.pieces[index as usize].sum.area;
        order.sort_by(|&a, &b| area(b).total_cmp(&area(a)));
        let step = CENTROID_STEP * mesh.diagonal();
        let place = |&index: &u32| {
            let from_corner = self.pieces[index as usize].centroid() - Vector3::from(mesh.bounds()[0]);
            // A third of a step aside: symmetric bodies have centroids at round fractions of the box.
            from_corner.map(|c| (c / step + 1.0 / 3.0).round() as i64).data.0[0]
        };
        for ties in order.chunk_by_mut(|&a, &b| area(a) - area(b) <= AREA_TIE * area(a)) {
            ties.sort_by_cached_key(place);
        }
        let mut rank = vec![0; order.len()];
        order.iter().enumerate().for_each(|(index, &old)| rank[old as usize] = index as u32);
        self.labels
            .iter_mut()
            .filter(|label| **label != NONE)
            .for_each(|label| *label = rank[*label as usize]);
        self.pieces = order.iter().map(|&old| self.pieces[old as usize]).collect();
    }

    /// Triangles of one piece.
    pub(crate) fn faces_of(&self, piece: usize) -> impl Iterator<Item = usize> {
        (0..self.labels.len()).filter(move |&face| self.labels[face] as usize == piece)
    }
}
