//! Distances of the scan points from the smooth surface.

use bladeform_mesh::{CleanMesh, keep_part, labelled_components, orient, read, repair};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_quantity::Hand;
use bladeform_table::{BladeRows, SectionSurface, StationTable};

use crate::error::SolidError;
use crate::facets::{Start, facets_of};
use crate::notice::SolidNotice;
use crate::plan_fault::{PlanFault, ScanFault};
use crate::surface::BladeSurface;
use crate::tree::Tree;

/// Chord error of the facets that represent the surface, m. It is far below the noise of any scan.
const FACET_ERROR_M: f64 = 1e-5;
/// Maximum number of points compared. More do not change the results.
const MOST_POINTS: usize = 60_000;
/// A separate piece with no point nearer to the surface than this fraction of the longest chord is no part of the blade. The scan of a
/// blade in pieces touches the surface with each of them (chosen).
const FRAGMENT_CHORDS: f64 = 0.1;
/// An RMS distance of this fraction of the longest chord is out of all proportion: noise and fairing are some thousandths (chosen).
const FAR_CHORDS: f64 = 0.05;

/// Distances of points from the surface, m.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct DeviationFigures {
    /// Number of points.
    pub points: usize,
    /// Root mean square.
    pub rms_m: f64,
    /// 95 % of the points are closer.
    pub ninety_five_m: f64,
    /// Maximum.
    pub greatest_m: f64,
}

/// The scan compared with the surface, between the first and the last station with a section.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Deviation {
    /// Points nearest to the back.
    pub back: DeviationFigures,
    /// Points nearest to the face.
    pub face: DeviationFigures,
    /// Points of both sides that are nearest to a station without a flag.
    pub unflagged: DeviationFigures,
    /// Pieces that were not compared, and a scan too far away to mean anything.
    pub notices: Vec<SolidNotice>,
}

/// Compares a scan with the smooth blade of the table that was measured from it.
///
/// # Errors
/// [`SolidError::Plan`] if the table does not state the position of the scan, or the bytes are not a mesh;
/// [`SolidError::Stopped`] if the observer ends the call.
pub fn deviation(
    table: &StationTable,
    blade: &BladeSurface,
    scan: &[u8],
    observer: &dyn Observer,
) -> Result<Deviation, SolidError> {
    // Reading, triangles of the blade, distances.
    let step = |done| Stage { name: "comparing the scan", done, total: 3 };
    report(observer, step(0))?;
    let no_frame = PlanFault::Scan(ScanFault::NoFrame);
    let to_blade = table.frame.as_ref().and_then(|f| f.scan_to_blade).ok_or(no_frame)?;
    let found = read(scan).map_err(|e| PlanFault::Scan(e.into()))?;
    let (mesh, _) = repair(found.mesh).map_err(|e| PlanFault::Scan(e.into()))?;
    let part = keep_part(&orient(mesh).0).kept;
    let map = |p: &[f64; 3]| -> [f64; 3] {
        std::array::from_fn(|i| {
            to_blade[i][0] * p[0] + to_blade[i][1] * p[1] + to_blade[i][2] * p[2] + to_blade[i][3]
        })
    };
    let [first, last] = blade.sections_m();
    let labels = labels_of(&part);
    let points: Vec<_> = part.vertices().iter().map(map).zip(labels).collect();
    let radius = |p: [f64; 3]| blade.sections().flat(p)[2];
    let points: Vec<_> = points.into_iter().filter(|(p, _)| (first..=last).contains(&radius(*p))).collect();
    if points.is_empty() {
        return Err(PlanFault::Scan(ScanFault::NoPoint).into());
    }
    let every = points.len().div_ceil(MOST_POINTS);
    let facets = facets_of(blade, FACET_ERROR_M, Start::Root, observer, step(1))?;
    let corners = |i: u32| facets.faces[i as usize].map(|v| facets.vertices[v as usize]);
    let tree = Tree::new(facets.faces.len(), corners);
    report(observer, step(2))?;
    let turns = turns_of(table, blade);
    let compared: Vec<Compared> = points
        .into_iter()
        .step_by(every)
        .map(|(p, piece)| {
            let of = |(sin, cos): &(f64, f64)| tree.nearest(turned(p, *sin, *cos), corners);
            let (nearest, square) =
                turns.iter().map(of).min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, f64::INFINITY));
            Compared { piece, distance_m: square.sqrt(), nearest, radius_m: radius(p) }
        })
        .collect();
    let chord_m = table.stations.iter().filter_map(|s| s.chord_m).fold(0.0, f64::max);
    Ok(gathered(table, &facets.around, compared, chord_m))
}

/// Sine and cosine of the angles by which points are turned about the axis of rotation, from `x` towards `z`, to lie on the first blade. Plane sections between two radii are those of one blade; cylinders
/// cut all of them, and every point is compared with the blade that it is nearest to.
fn turns_of(table: &StationTable, blade: &BladeSurface) -> Vec<(f64, f64)> {
    if blade.sections() == SectionSurface::Plane || table.blades.is_empty() {
        return vec![(0.0, 1.0)];
    }
    let even = 360.0 / table.blades.len() as f64;
    // Azimuths rise about flight, the axes of a left-hand blade are mirrored.
    let moves = if table.hand() == Hand::Left { -1.0 } else { 1.0 };
    let angle = |(k, b): (usize, &BladeRows)| moves * b.azimuth_deg.unwrap_or(even * k as f64).to_radians();
    table.blades.iter().enumerate().map(angle).map(f64::sin_cos).collect()
}

fn turned([x, y, z]: [f64; 3], sin: f64, cos: f64) -> [f64; 3] {
    [cos * x - sin * z, y, cos * z + sin * x]
}

/// The piece of every vertex.
fn labels_of(part: &CleanMesh) -> Vec<u32> {
    let mut labels = vec![0; part.vertices().len()];
    for (face, label) in part.faces().iter().zip(labelled_components(part).1) {
        face.iter().for_each(|v| labels[*v as usize] = label);
    }
    labels
}

/// A point of the scan against the surface.
struct Compared {
    piece: u32,
    distance_m: f64,
    /// The nearest triangle.
    nearest: u32,
    radius_m: f64,
}

/// The figures of both sides, without the pieces that are no part of the blade.
fn gathered(table: &StationTable, around: &[f64], compared: Vec<Compared>, chord_m: f64) -> Deviation {
    let pieces = compared.iter().map(|c| c.piece as usize + 1).max().unwrap_or(0);
    let mut nearest_m = vec![f64::INFINITY; pieces];
    compared.iter().for_each(|c| {
        let of_piece = &mut nearest_m[c.piece as usize];
        *of_piece = of_piece.min(c.distance_m);
    });
    let limit_m = FRAGMENT_CHORDS * chord_m;
    let away: Vec<f64> = nearest_m.iter().copied().filter(|d| d.is_finite() && limit_m < *d).collect();
    // If nothing is near, the scan is misplaced as a whole, and that is the word to say.
    let all_away = nearest_m.iter().all(|d| limit_m < *d);
    let is_fragment = |c: &Compared| !all_away && limit_m < nearest_m[c.piece as usize];
    let (mut back, mut face, mut unflagged, mut left_out) = (Vec::new(), Vec::new(), Vec::new(), 0);
    for c in &compared {
        if is_fragment(c) {
            left_out += 1;
            continue;
        }
        side(around, c.nearest, &mut back, &mut face).push(c.distance_m);
        if !is_flagged(table, c.radius_m) {
            unflagged.push(c.distance_m);
        }
    }
    let mut notices = Vec::new();
    if 0 < left_out {
        let nearest_m = away.iter().copied().fold(f64::INFINITY, f64::min);
        notices.push(SolidNotice::ScanFragments { pieces: away.len(), points: left_out, nearest_m });
    }
    let squares: f64 = back.iter().chain(&face).map(|d| d * d).sum();
    let rms_m = (squares / (back.len() + face.len()).max(1) as f64).sqrt();
    if FAR_CHORDS * chord_m < rms_m {
        notices.push(SolidNotice::ScanFar { rms_m, chord_m });
    }
    Deviation { back: figures(back), face: figures(face), unflagged: figures(unflagged), notices }
}

fn side<'a>(
    around: &[f64],
    triangle: u32,
    back: &'a mut Vec<f64>,
    face: &'a mut Vec<f64>,
) -> &'a mut Vec<f64> {
    if around[triangle as usize] < 0.5 { back } else { face }
}

fn is_flagged(table: &StationTable, radius_m: f64) -> bool {
    let away = |r: f64| (r - radius_m).abs();
    let nearest = table.stations.iter().min_by(|a, b| away(a.radius_m).total_cmp(&away(b.radius_m)));
    nearest.is_some_and(|s| !s.flags.is_empty())
}

fn figures(mut distances: Vec<f64>) -> DeviationFigures {
    let n = distances.len();
    if n == 0 {
        return DeviationFigures::default();
    }
    distances.sort_by(f64::total_cmp);
    DeviationFigures {
        points: n,
        rms_m: (distances.iter().map(|d| d * d).sum::<f64>() / n as f64).sqrt(),
        ninety_five_m: distances[(n - 1) * 95 / 100],
        greatest_m: distances[n - 1],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A triangle of the back and one of the face.
    const AROUND: [f64; 2] = [0.25, 0.75];

    fn point(piece: u32, nearest: u32, distance_m: f64) -> Compared {
        Compared { piece, distance_m, nearest, radius_m: 0.5 }
    }

    #[test]
    fn fragments_do_not_count_and_are_said() {
        let points = vec![point(0, 0, 1e-4), point(0, 1, 2e-4), point(7, 0, 0.05), point(7, 1, 0.04)];
        let found = gathered(&StationTable::default(), &AROUND, points, 0.1);
        assert_eq!((found.back.points, found.face.points), (1, 1));
        assert!(found.unflagged.greatest_m < 1e-3);
        assert_eq!(found.notices, [SolidNotice::ScanFragments { pieces: 1, points: 2, nearest_m: 0.04 }]);
    }

    #[test]
    fn a_piece_that_touches_the_surface_counts_with_all_its_points() {
        let points = vec![point(0, 0, 1e-4), point(1, 0, 1e-4), point(1, 1, 3e-3)];
        let found = gathered(&StationTable::default(), &AROUND, points, 0.1);
        assert_eq!((found.back.points, found.face.points, found.notices.len()), (2, 1, 0));
    }

    #[test]
    fn a_scan_out_of_all_proportion_away_is_said() {
        let points = vec![point(0, 0, 0.03), point(0, 1, 0.05)];
        let found = gathered(&StationTable::default(), &AROUND, points, 0.1);
        let [SolidNotice::ScanFar { chord_m, rms_m }] = found.notices[..] else {
            panic!("{:?}", found.notices)
        };
        assert!((chord_m - 0.1).abs() < 1e-12 && (rms_m - 0.0412).abs() < 1e-4);
    }
}
