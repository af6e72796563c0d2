//! Connected pieces of a mesh, and which of them are the part. Stray fragments and the ground are removed.

use nalgebra::Vector3;

use crate::CleanMesh;
use crate::ground::find_grounds;
use crate::moments::MomentSum;
use crate::pieces::{Component, PartReason, Piece, Pieces, RemovedPart, STRAY_AREA};
use crate::topology::open_edges;

/// If the largest remaining piece has less than this fraction of the whole area, the part itself was classified as ground. Even a
/// model propeller on a desk has several times as much.
const LEAST_REMAINDER: f64 = 1e-3;

/// Maximum number of rounds of ground detection. Bench, its underside, floor and walls are removed one after the other.
const GROUND_ROUNDS: usize = 6;

/// The components of a mesh, largest area first, ties by their centroids. The order does not depend on the order in the file.
#[must_use]
pub fn components(mesh: &CleanMesh) -> Vec<Component> {
    labelled_components(mesh).0
}

/// Like [`components`], with the component number of each triangle.
#[must_use]
pub fn labelled_components(mesh: &CleanMesh) -> (Vec<Component>, Vec<u32>) {
    let Pieces { labels, pieces } = Pieces::among(mesh, |_| true);
    let mut sums = vec![MomentSum::default(); pieces.len()];
    for (face, &label) in mesh.faces().iter().zip(&labels) {
        let reference = pieces[label as usize].reference;
        sums[label as usize].add_triangle(mesh.corners(*face).map(|p| p - reference));
    }
    let mut parts: Vec<_> = pieces.iter().zip(&sums).map(|(piece, sum)| piece.describe(sum)).collect();
    measure_extents(mesh, &labels, &mut parts);
    open_edges(mesh).iter().for_each(|&face| parts[labels[face as usize] as usize].boundary_edges += 1);
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

/// What [`keep_part`] kept and removed.
#[derive(Debug, Clone, PartialEq)]
pub struct Selection {
    /// The part. It may have several pieces: blades and spinner of a propeller modelled separately.
    pub kept: CleanMesh,
    /// The removed pieces, largest area first.
    pub removed: Vec<RemovedPart>,
    /// Whether everything looked like ground, so that no ground was removed. The scan may be only a flat sheet.
    pub all_ground: bool,
}

/// Removes the table or ground in a scan, and stray fragments.
///
/// Requires consistent windings: call [`orient`](crate::orient) first.
///
/// - **Ground** is either an open sheet or a bench. A sheet is a plane that contains nearly all of a piece's area on one side. A bench is a plane that contains a fair
///   fraction of it, extends well beyond the objects on it, and has only a flat board beneath. The bench may be merged with the part,
///   and it may be larger than the part. A blade is never a bench, because no object is on its flat side.
/// - **Stray fragments** are pieces below 2 % of the area of the largest remaining piece, and those below 10 % that float beside it. All others are kept.
///
/// If hardly anything would remain, no ground is removed and [`Selection::all_ground`] is set.
#[must_use]
pub fn keep_part(mesh: &CleanMesh) -> Selection {
    let Choice { keep, removed, all_ground, .. } = choose(mesh);
    let kept = keep.map_or_else(|| mesh.clone(), |keep| mesh.subset(|face| keep[face]));
    Selection { kept, removed, all_ground }
}

/// Which triangles are the part.
pub(crate) struct Choice {
    /// For every triangle whether it is kept; empty if all are kept.
    pub(crate) keep: Option<Vec<bool>>,
    /// The removed pieces, largest area first.
    pub(crate) removed: Vec<RemovedPart>,
    /// As [`Selection::all_ground`].
    pub(crate) all_ground: bool,
    /// Whether ground was cut off a piece that is partly kept. Otherwise kept and removed triangles have no common vertex.
    pub(crate) cuts_pieces: bool,
    /// Connected pieces that are kept.
    pub(crate) pieces: usize,
}

/// The result of [`keep_part`], without removing anything.
pub(crate) fn choose(mesh: &CleanMesh) -> Choice {
    let mut kept = vec![true; mesh.faces().len()];
    let mut removed = Vec::new();
    let mut pieces = Pieces::among(mesh, |_| true);
    let total: f64 = pieces.pieces.iter().map(|piece| piece.area).sum();
    let (mut plain, mut cuts_pieces) = (Vec::new(), false);
    for _ in 0..GROUND_ROUNDS {
        let grounds = find_grounds(mesh, &pieces, &mut plain);
        if grounds.is_empty() {
            break;
        }
        for ground in grounds {
            removed.extend(take_out(mesh, &mut kept, &ground));
        }
        cuts_pieces |= pieces.leave_out(mesh, &kept);
    }
    let mut largest = pieces.pieces.first().map_or(0.0, |piece| piece.area);
    let all_ground = largest < LEAST_REMAINDER * total;
    if all_ground {
        // Fragments are still loose pieces.
        kept.fill(true);
        removed.clear();
        cuts_pieces = false;
        pieces = Pieces::among(mesh, |_| true);
        largest = pieces.pieces.first().map_or(0.0, |piece| piece.area);
    }
    let loose = loose_pieces(mesh, &pieces, &kept, largest);
    let stays = |piece: &Piece| {
        piece.area >= STRAY_AREA * largest && loose.iter().all(|loose| !std::ptr::eq(*loose, piece))
    };
    removed.extend(pieces.pieces.iter().filter(|piece| !stays(piece)).map(Piece::as_stray));
    let staying = pieces.pieces.iter().filter(|piece| stays(piece)).count();
    if removed.is_empty() {
        return Choice { keep: None, removed, all_ground, cuts_pieces, pieces: staying };
    }
    removed.sort_by(|a, b| b.area.total_cmp(&a.area));
    for (keep, &label) in kept.iter_mut().zip(&pieces.labels) {
        *keep = *keep && stays(&pieces.pieces[label as usize]);
    }
    Choice { keep: Some(kept), removed, all_ground, cuts_pieces, pieces: staying }
}

/// Pieces below this fraction of the largest area belong to the part only if they come near it: a blade, a hub or a bolt of it touches the rest, a floating scrap does not.
const LOOSE_AREA: f64 = 0.1;
/// A piece comes near the part if a larger piece enters its bounding box, widened to each side by this fraction of its diagonal.
const NEAR: f64 = 0.5;

/// The middling pieces that float beside the part.
fn loose_pieces<'a>(mesh: &CleanMesh, pieces: &'a Pieces, kept: &[bool], largest: f64) -> Vec<&'a Piece> {
    let is_middling = |p: &&Piece| (STRAY_AREA * largest..LOOSE_AREA * largest).contains(&p.area);
    let mut loose: Vec<&Piece> = pieces.pieces.iter().filter(is_middling).collect();
    if loose.is_empty() {
        return loose;
    }
    for ((face, &label), _) in mesh.faces().iter().zip(&pieces.labels).zip(kept).filter(|(_, kept)| **kept) {
        if pieces.pieces.get(label as usize).is_none_or(|own| own.area < LOOSE_AREA * largest) {
            continue;
        }
        let p = mesh.corners(*face)[0];
        loose.retain(|piece| {
            let wide = Vector3::repeat(NEAR * piece.extent());
            let (low, high) = (piece.low - wide, piece.high + wide);
            (0..3).any(|k| p[k] < low[k] || high[k] < p[k])
        });
        if loose.is_empty() {
            break;
        }
    }
    loose
}

/// Marks the triangles of one ground as removed. Returns the removed piece, unless another ground already includes all of it.
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
