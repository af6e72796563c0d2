//! All steps from a mesh as read to the part in it.

use crate::clean::repair_linked;
use crate::components::{Choice, choose};
use crate::edges::Links;
use crate::order::in_order;
use crate::topology::orient_linked;
use crate::{CleanMesh, NothingLeft, OrientationReport, RawMesh, RemovedPart, RepairTally};

/// The part in a scan, ready for measuring, and the changes that were made.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The part, with consistent windings.
    pub mesh: CleanMesh,
    /// Changes by [`repair`](crate::repair) to the whole scan.
    pub tally: RepairTally,
    /// Triangles flipped in the whole scan; edges of the part.
    pub orientation: OrientationReport,
    /// The removed pieces, largest area first.
    pub removed: Vec<RemovedPart>,
    /// As [`Selection::all_ground`](crate::Selection::all_ground).
    pub all_ground: bool,
    /// Pieces of the part, each connected by common vertices.
    pub pieces: usize,
}

/// Repairs a mesh, makes its windings agree and removes what is not the part: [`repair`](crate::repair), [`orient`](crate::orient) and
/// [`keep_part`](crate::keep_part) in turn. If ground was merged with the part, [`orient`](crate::orient) is applied again, because without the ground the part may
/// face inwards. The connections of the triangles are computed once, and the part uses the memory of the whole mesh.
///
/// Vertices and triangles are first put into an order that follows the part, so that neither the result nor the time depends on the order in a file.
///
/// - `distinct`: whether no two vertices are at the same position, from [`MeshFormat::joins_corners`](crate::MeshFormat::joins_corners).
///
/// # Errors
/// [`NothingLeft`] if no triangle is left after the repair.
pub fn isolate(raw: RawMesh, distinct: bool) -> Result<Part, NothingLeft> {
    let (raw, sorted_out) = in_order(raw);
    let (mesh, tally, links) = repair_linked(raw, distinct || sorted_out)?;
    // Ground is recognised by the directions that its triangles face, so windings must agree first.
    let (mesh, mut orientation, rims) = orient_linked(mesh, links);
    let Choice { keep, removed, all_ground, cuts_pieces, pieces } = choose(&mesh);
    let Some(keep) = keep else {
        return Ok(Part { mesh, tally, orientation, removed, all_ground, pieces });
    };
    let mut mesh = mesh.into_subset(|face| keep[face]);
    if cuts_pieces || orientation.unorientable {
        let links = Links::of(mesh.vertices().len(), mesh.faces());
        let flipped = orientation.flipped_triangles;
        (mesh, orientation, _) = orient_linked(mesh, links);
        orientation.flipped_triangles += flipped;
    } else {
        // Every patch is unchanged: its windings agree and face outwards.
        rims.count(|face| keep[face], &mut orientation);
    }
    Ok(Part { mesh, tally, orientation, removed, all_ground, pieces })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{keep_part, orient, repair};
    use bladeform_numeric::parallel;

    /// A wavy closed tube about the z axis with some flipped triangles, as a list of triangles with their own vertices.
    fn tube(shift: f64, size: f64, out: &mut RawMesh) {
        let (around, along) = (40, 60);
        let base = out.vertices.len() as u32;
        for i in 0..along {
            for j in 0..around {
                let angle = std::f64::consts::TAU * f64::from(j) / f64::from(around);
                let r = size * (1.0 + 0.2 * (f64::from(i) * 0.2).sin() + 0.1 * (3.0 * angle).cos());
                out.vertices.push([shift + r * angle.cos(), r * angle.sin(), 0.2 * size * f64::from(i)]);
            }
        }
        let place = |i: u32, j: u32| base + i * around + j % around;
        for i in 0..along - 1 {
            for j in 0..around {
                let [a, b, c, d] = [place(i, j), place(i, j + 1), place(i + 1, j), place(i + 1, j + 1)];
                out.faces.extend(if (i + j) % 5 == 0 {
                    [[a, c, b], [b, d, c]]
                } else {
                    [[a, b, c], [b, d, c]]
                });
            }
        }
    }

    /// A flat sheet under everything, with or without a one-triangle bridge to the first body.
    fn sheet(bridge: bool, out: &mut RawMesh) {
        let base = out.vertices.len() as u32;
        let n = 50_u32;
        out.vertices.extend((0..n * n).map(|k| [f64::from(k / n) - 25.0, f64::from(k % n) - 25.0, -0.5]));
        for i in 0..n - 1 {
            for j in 0..n - 1 {
                let a = base + i * n + j;
                out.faces.extend([[a, a + n, a + 1], [a + 1, a + n, a + n + 1]]);
            }
        }
        out.faces.extend(bridge.then_some([0, 1, base]));
    }

    #[test]
    fn it_is_the_three_steps_on_any_number_of_threads() {
        for (fragments, ground, bridge) in
            [(0, false, false), (2, false, false), (2, true, false), (1, true, true)]
        {
            let mut raw = RawMesh::default();
            tube(0.0, 1.0, &mut raw);
            (0..fragments).for_each(|k| tube(3.0 + f64::from(k), 0.05, &mut raw));
            if ground {
                sheet(bridge, &mut raw);
            }
            let (mesh, tally) = repair(in_order(raw.clone()).0).unwrap();
            let (mesh, first) = orient(mesh);
            let selection = keep_part(&mesh);
            let (mesh, mut report) =
                if selection.removed.is_empty() { (selection.kept, first) } else { orient(selection.kept) };
            report.flipped_triangles +=
                if selection.removed.is_empty() { 0 } else { first.flipped_triangles };
            assert_eq!(selection.removed.is_empty(), fragments == 0 && !ground);
            for threads in [1, 2, 5] {
                let part = parallel::with_threads(threads, || isolate(raw.clone(), false)).unwrap();
                assert_eq!(part.mesh, mesh, "{fragments} {ground} {bridge} {threads}");
                assert_eq!((part.tally, part.orientation), (tally, report));
                assert_eq!((&part.removed, part.all_ground), (&selection.removed, selection.all_ground));
                assert_eq!(part.pieces, crate::components(&part.mesh).len());
            }
        }
    }
}
