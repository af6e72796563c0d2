//! Distances of the scan points from the smooth surface.

use bladeform_mesh::{keep_part, orient, read, repair};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_table::StationTable;

use crate::error::SolidError;
use crate::facets::{Facets, Start, facets_of};
use crate::plan_fault::{PlanFault, ScanFault};
use crate::surface::BladeSurface;
use crate::tree::Tree;

/// Chord error of the facets that represent the surface, m. It is far below the noise of any scan.
const FACET_ERROR_M: f64 = 1e-5;
/// Maximum number of points compared. More do not change the results.
const MOST_POINTS: usize = 60_000;

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
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Deviation {
    /// Points nearest to the back.
    pub back: DeviationFigures,
    /// Points nearest to the face.
    pub face: DeviationFigures,
    /// Points of both sides that are nearest to a station without a flag.
    pub unflagged: DeviationFigures,
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
    let points: Vec<_> = part.vertices().iter().map(map).filter(|p| (first..=last).contains(&p[2])).collect();
    if points.is_empty() {
        return Err(PlanFault::Scan(ScanFault::NoPoint).into());
    }
    let every = points.len().div_ceil(MOST_POINTS);
    let facets = facets_of(blade, FACET_ERROR_M, Start::Root, observer, step(1))?;
    let corners = |i: u32| facets.faces[i as usize].map(|v| facets.vertices[v as usize]);
    let tree = Tree::new(facets.faces.len(), corners);
    let (mut back, mut face, mut unflagged) = (Vec::new(), Vec::new(), Vec::new());
    report(observer, step(2))?;
    for p in points.into_iter().step_by(every) {
        let (nearest, square) = tree.nearest(p, corners);
        let distance = square.sqrt();
        side(&facets, nearest, &mut back, &mut face).push(distance);
        if !is_flagged(table, p[2]) {
            unflagged.push(distance);
        }
    }
    Ok(Deviation { back: figures(back), face: figures(face), unflagged: figures(unflagged) })
}

fn side<'a>(
    facets: &Facets,
    triangle: u32,
    back: &'a mut Vec<f64>,
    face: &'a mut Vec<f64>,
) -> &'a mut Vec<f64> {
    if facets.around[triangle as usize] < 0.5 { back } else { face }
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
