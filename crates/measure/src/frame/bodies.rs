//! Whether what is left of a scan is one part: a torn blade is measured as one, separate bodies are not mixed.

use bladeform_mesh::{CleanMesh, Component, labelled_components};
use bladeform_numeric::nearness::PointTree;

use crate::body::Body;
use crate::error::MeasureError;
use crate::notice::MeasureNotice;
use crate::vector::{V3, add, dot, norm, scale, sub};

/// Pieces side by side along the span are separate when the gap between them is more than this fraction of the largest one's width: a tear is a crack.
const APART: f64 = 0.25;
/// Closed bodies side by side are separate at this fraction already: nothing has torn them.
const CLOSED_APART: f64 = 0.02;
/// Pieces one behind the other are separate when the gap is more than this fraction of the largest one's length.
const APART_ALONG: f64 = 0.25;
/// A piece of so few corners and middles of triangles is a scrap and no torn end, unless it lies next to the largest one: this part of its length is more than a tape's reading is uncertain by.
const FEW: usize = 40;
const FEW_APART: f64 = 0.005;
/// Pieces whose spans overlap by more than this fraction of the shorter are side by side.
const SIDE_BY_SIDE: f64 = 0.5;
/// A body apart with at least this share of the largest one's surface may be what was meant as well.
const COMPARABLE: f64 = 0.25;

/// The part of a lone blade's scan, and what must be said of it.
pub(crate) struct OnePart {
    /// The largest body, where others were left out.
    pub(crate) mesh: Option<CleanMesh>,
    pub(crate) notices: Vec<MeasureNotice>,
    /// Bodies that were left out.
    pub(crate) left_out: usize,
}

/// Leaves out small bodies that are separate from the largest.
///
/// # Errors
/// Where a body apart is about as large: which one is meant is not guessed.
pub(crate) fn one_part(mesh: &CleanMesh) -> Result<Option<OnePart>, MeasureError> {
    let (parts, labels) = labelled_components(mesh);
    let [main, others @ ..] = &parts[..] else { return Ok(None) };
    if others.is_empty() {
        return Ok(None);
    }
    let mut corners = corners_of(mesh, &labels, parts.len()).into_iter();
    let Some(of_main) = corners.next() else { return Ok(None) };
    let place = Place { main, range: range(main, &of_main), tree: PointTree::new(of_main) };
    let mut apart = vec![false];
    let [mut low, mut high] = place.range[0];
    for (part, points) in others.iter().zip(corners) {
        let own = range(main, &points)[0];
        let stands_apart = place.stands_apart(part, points);
        if !stands_apart {
            (low, high) = (low.min(own[0]), high.max(own[1]));
        }
        apart.push(stands_apart);
    }
    let longest = high - low;
    let total: f64 = parts.iter().map(|p| p.area).sum();
    let of = |which: bool| -> Vec<&Component> {
        parts.iter().zip(&apart).filter(|(_, a)| **a == which).map(|(p, _)| p).collect()
    };
    let bodies = |chosen: &[&Component]| chosen.iter().map(|p| Body::of(p, total)).collect::<Vec<_>>();
    let (together, away) = (of(false), of(true));
    if away.iter().any(|p| COMPARABLE * main.area <= p.area) {
        let all: Vec<&Component> = [main].into_iter().chain(away.iter().copied()).collect();
        return Err(MeasureError::Bodies(bodies(&all)));
    }
    let mut notices = Vec::new();
    if !away.is_empty() {
        notices.push(MeasureNotice::BodiesLeftOut { largest: Body::of(main, total), others: bodies(&away) });
    }
    if 1 < together.len() {
        let longer = longest / (place.range[0][1] - place.range[0][0]) - 1.0;
        notices.push(MeasureNotice::Pieces { pieces: bodies(&together), longer });
    }
    Ok(Some(OnePart {
        mesh: (!away.is_empty()).then(|| mesh.subset(|f| !apart[labels[f] as usize])),
        notices,
        left_out: away.len(),
    }))
}

/// Middles and corners of the triangles of each piece.
fn corners_of(mesh: &CleanMesh, labels: &[u32], pieces: usize) -> Vec<Vec<V3>> {
    let mut found = vec![Vec::new(); pieces];
    for (f, &label) in mesh.faces().iter().zip(labels) {
        let [a, b, c] = f.map(|i| mesh.vertices()[i as usize]);
        found[label as usize].extend([a, b, c, scale(add(a, add(b, c)), 1.0 / 3.0)]);
    }
    for points in &mut found {
        points.sort_unstable_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
        points.dedup();
    }
    found
}

/// Least and greatest place along the principal axes of the largest piece, from its centroid.
fn range(main: &Component, points: &[V3]) -> [[f64; 2]; 3] {
    main.principal_axes.map(|axis| {
        points
            .iter()
            .map(|p| dot(axis, sub(*p, main.centroid)))
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], x| [l.min(x), h.max(x)])
    })
}

/// The largest piece.
struct Place<'a> {
    main: &'a Component,
    range: [[f64; 2]; 3],
    tree: PointTree,
}

impl Place<'_> {
    fn stands_apart(&self, part: &Component, points: Vec<V3>) -> bool {
        let own = range(self.main, &points);
        if (0..3).all(|k| self.range[k][0] <= own[k][0] && own[k][1] <= self.range[k][1]) {
            // A shell within.
            return false;
        }
        let [length, width, _] = self.main.principal_extents;
        let gap = if points.len() <= FEW { FEW_APART } else { APART_ALONG };
        let is_beyond = |gap: f64| !self.tree.is_within(gap, &PointTree::new(points));
        let overlap = own[0][1].min(self.range[0][1]) - own[0][0].max(self.range[0][0]);
        if SIDE_BY_SIDE * (own[0][1] - own[0][0]) < overlap {
            let closed = self.main.boundary_edges == 0 && part.boundary_edges == 0;
            return is_beyond(if closed { CLOSED_APART } else { APART } * width);
        }
        let d = sub(part.centroid, self.main.centroid);
        let axis = self.main.principal_axes[0];
        width < norm(sub(d, scale(axis, dot(d, axis)))) || is_beyond(gap * length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_mesh::{RawMesh, repair};
    use bladeform_table::Coded;

    /// A closed board of many triangles between two corners; open at the end of greatest `z` if so.
    fn board(low: V3, high: V3, open: bool) -> RawMesh {
        const N: u32 = 12;
        let ring =
            |z: f64| [[low[0], low[1], z], [high[0], low[1], z], [high[0], high[1], z], [low[0], high[1], z]];
        let vertices =
            (0..=N).flat_map(|i| ring(low[2] + (high[2] - low[2]) * f64::from(i) / f64::from(N))).collect();
        let side = |i: u32, k: u32| {
            let (a, b) = (4 * i + k, 4 * i + (k + 1) % 4);
            [[a, b, b + 4], [a, b + 4, a + 4]]
        };
        let mut faces: Vec<[u32; 3]> = (0..N).flat_map(|i| (0..4).flat_map(move |k| side(i, k))).collect();
        faces.extend([[0, 2, 1], [0, 3, 2]]);
        let top = 4 * N;
        if !open {
            faces.extend([[top, top + 1, top + 2], [top, top + 2, top + 3]]);
        }
        RawMesh { vertices, faces }
    }

    fn both(a: RawMesh, b: RawMesh) -> CleanMesh {
        let n = a.vertices.len() as u32;
        let vertices = a.vertices.into_iter().chain(b.vertices).collect();
        let faces = a.faces.into_iter().chain(b.faces.into_iter().map(|f| f.map(|v| v + n))).collect();
        repair(RawMesh { vertices, faces }).unwrap().0
    }

    #[test]
    fn two_blades_side_by_side_are_refused() {
        let blade = |x: f64| board([x, 0.0, 0.0], [x + 0.2, 0.03, 1.2], false);
        for gap in [0.02, 0.2] {
            let error = one_part(&both(blade(0.0), blade(0.2 + gap))).err().unwrap().to_string();
            assert!(error.contains("cut them apart"), "{error}");
        }
    }

    #[test]
    fn a_small_separate_body_is_left_out_and_reported() {
        let mesh =
            both(board([0.0; 3], [0.2, 0.03, 1.2], false), board([0.5, 0.0, 0.4], [0.6, 0.1, 0.5], false));
        let one = one_part(&mesh).unwrap().unwrap();
        assert_eq!((one.left_out, one.mesh.unwrap().vertices().len() * 2), (1, mesh.vertices().len()));
        assert!(matches!(one.notices[0], MeasureNotice::BodiesLeftOut { .. }));
    }

    #[test]
    fn a_scrap_beyond_an_end_is_no_part_of_the_length() {
        let blade = board([0.0; 3], [0.2, 0.03, 1.2], false);
        let scrap = |z: f64| RawMesh {
            vertices: vec![[0.1, 0.01, z], [0.13, 0.01, z], [0.1, 0.03, z + 0.02], [0.12, 0.0, z + 0.03]],
            faces: vec![[0, 1, 2], [1, 3, 2]],
        };
        let one = one_part(&both(blade.clone(), scrap(1.21))).unwrap().unwrap();
        assert_eq!(one.left_out, 1);
        assert!(matches!(one.notices[..], [MeasureNotice::BodiesLeftOut { .. }]));
        // What lies next to the end is torn off it.
        let one = one_part(&both(blade, scrap(1.203))).unwrap().unwrap();
        assert!(one.left_out == 0 && one.notices[0].sentence().contains(" % longer than the largest"));
    }

    #[test]
    fn a_torn_blade_is_one_and_said() {
        let root = board([0.0; 3], [0.2, 0.03, 0.7], true);
        let mesh = both(root, board([0.0, 0.0, 0.75], [0.19, 0.03, 1.2], true));
        let one = one_part(&mesh).unwrap().unwrap();
        assert!(one.left_out == 0 && one.mesh.is_none());
        let MeasureNotice::Pieces { pieces, longer } = &one.notices[0] else { panic!("{:?}", one.notices) };
        assert_eq!(pieces.len(), 2);
        // 1.2 m together, of which the largest has 0.7 m.
        assert!((longer - 0.5 / 0.7).abs() < 1e-9, "{longer}");
        assert!(one.notices[0].sentence().contains("71.4 % longer than the largest"));
        // Torn along the chord: open halves a crack apart.
        let mesh =
            both(board([0.0; 3], [0.1, 0.03, 1.2], true), board([0.12, 0.0, 0.0], [0.2, 0.03, 1.2], true));
        assert_eq!(one_part(&mesh).unwrap().unwrap().left_out, 0);
    }
}
