//! The scan of a table, transformed to blade axes for the page: checked, simplified, cut, and compared with the outlines.

use bladeform_mesh::{CleanMesh, cut, simplify};
use bladeform_quantity::Hand;
use bladeform_table::{SectionSurface, Station, StationTable};
use sha2::{Digest, Sha256};

use crate::RecordError;
use crate::dents::{Dents, dents};
use crate::loft::{Loft, in_outline_axes};
use crate::patches::Patches;
use bladeform_numeric::parallel;

/// Maximum number of triangles on the page. A phone rotates this many smoothly. With 16-bit indices they take about 0.6 MB of the file.
pub const MOST_TRIANGLES: usize = 60_000;

/// Maximum number of scan points shown on one section sheet.
const MOST_POINTS: usize = 420;

/// Points of a cut that are farther from the outline than this fraction of the chord belong to something else.
const NEAR_SHARE: f64 = 0.08;

/// Relative tolerance for the rows of the frame to be a rotation times one scale. Tables have ten digits or more.
const FRAME_TOLERANCE: f64 = 1e-5;

/// Whether the bytes have the SHA-256 that the table states for its scan; true for a table that states none.
#[must_use]
pub fn is_scan_of(bytes: &[u8], table: &StationTable) -> bool {
    let stated = table.source.as_ref().map_or("", |source| source.sha256.as_str());
    stated.is_empty() || sha256(bytes).eq_ignore_ascii_case(stated)
}

/// Hexadecimal.
pub(crate) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}

/// The measured part of a scan, in the axes and unit of the scan, with a simplified mesh for display. This is a large part of the work for a page.
/// It needs no table, so it can be done while the part is measured.
#[derive(Debug)]
pub struct ScanPart {
    full: CleanMesh,
    light: CleanMesh,
}

impl ScanPart {
    /// Makes the simplified mesh, with at most [`MOST_TRIANGLES`] triangles if the shape allows it.
    #[must_use]
    pub fn of(full: CleanMesh) -> Self {
        let light = simplify(&full, MOST_TRIANGLES);
        Self { full, light }
    }
}

/// One blade of the table: its azimuth and its rows.
#[derive(Debug)]
pub(crate) struct BladeView<'a> {
    /// Its number as the documents count, from 0; `None` for a single blade.
    pub(crate) index: Option<u64>,
    /// Azimuth about the axis `y` from the first blade, rad, in the axes of the table.
    pub(crate) azimuth_rad: f64,
    /// Its rows.
    pub(crate) stations: &'a [Station],
    /// Its outlines interpolated along the radius.
    pub(crate) loft: Option<Loft>,
    /// On what they are cut.
    pub(crate) sections: SectionSurface,
}

impl<'a> BladeView<'a> {
    /// Every blade of the table. A table of a single blade, or one written by hand, has only one.
    pub(crate) fn all(table: &'a StationTable) -> Vec<Self> {
        let lofted = |stations: &[Station]| {
            Loft::through(&StationTable { stations: stations.to_vec(), ..StationTable::default() })
        };
        if table.blades.is_empty() {
            return vec![Self {
                index: None,
                azimuth_rad: 0.0,
                stations: &table.stations,
                loft: lofted(&table.stations),
                sections: table.sections(),
            }];
        }
        // The axes of a left-hand propeller are mirrored, and so is the direction of rotation.
        let sense = if table.hand() == Hand::Left { -1.0 } else { 1.0 };
        let view = |rows: &'a bladeform_table::BladeRows| Self {
            index: Some(rows.index),
            azimuth_rad: sense * rows.azimuth_deg.unwrap_or(0.0).to_radians(),
            stations: &rows.stations,
            loft: lofted(&rows.stations),
            sections: table.sections(),
        };
        table.blades.iter().map(view).collect()
    }

    /// A point in the axes of the first blade, in those of this blade.
    fn turned(&self, [x, y, z]: [f64; 3]) -> [f64; 3] {
        let (sin, cos) = self.azimuth_rad.sin_cos();
        [x * cos - z * sin, y, x * sin + z * cos]
    }

    /// How far a point lies out along the span of this blade, m: it belongs to the blade for which that is most.
    pub(crate) fn out(&self, p: [f64; 3]) -> f64 {
        self.turned(p)[2]
    }

    /// A point in the axes of the first blade laid flat into a section of this blade: its place there, and the radius of the section.
    pub(crate) fn own(&self, p: [f64; 3]) -> [f64; 3] {
        self.sections.flat(self.turned(p))
    }

    /// A place in a section of this blade in the axes of the first blade; the inverse of [`own`](Self::own).
    pub(crate) fn common(&self, p: [f64; 3]) -> [f64; 3] {
        let [x, y, z] = self.sections.placed(p);
        let (sin, cos) = self.azimuth_rad.sin_cos();
        [x * cos + z * sin, y, z * cos - x * sin]
    }
}

/// The part of a scan, in blade axes and metres.
#[derive(Debug)]
pub(crate) struct PlacedScan {
    /// At full resolution.
    full: CleanMesh,
    /// At most [`MOST_TRIANGLES`] triangles; its vertices are vertices of the scan.
    pub(crate) light: CleanMesh,
    /// Distance of each vertex of `light` from the outline at its radius, m, positive outside; `None` beyond the stations.
    pub(crate) distances_m: Vec<Option<f64>>,
    /// Mean of these distances over the patch around each vertex of `light`, of all points of the scan, m.
    pub(crate) means_m: Vec<Option<f64>>,
    /// Areas of damage or repair.
    pub(crate) dents: Dents,
}

impl PlacedScan {
    /// Transforms the scan that `table` was measured from to blade axes.
    pub(crate) fn new(
        part: &ScanPart,
        table: &StationTable,
        blades: &[BladeView<'_>],
    ) -> Result<Self, RecordError> {
        let matrix =
            table.frame.as_ref().and_then(|frame| frame.scan_to_blade).ok_or(RecordError::NoFrame)?;
        if !is_similarity(&matrix) {
            return Err(RecordError::BadFrame);
        }
        let [full, light] =
            [&part.full, &part.light].map(|mesh| mesh.clone().map_vertices(|p| mapped(&matrix, p)));
        let distances_m = parallel::map(light.vertices(), |&p| distance(blades, p));
        let patches = Patches::of(&full, blades);
        let means_m =
            patches.as_ref().map_or_else(|| vec![None; distances_m.len()], |p| p.at(&light, blades));
        let surfaces: Vec<(&[Station], &Loft)> =
            blades.iter().filter_map(|b| Some((b.stations, b.loft.as_ref()?))).collect();
        let dents = patches.map(|p| dents(&p, &surfaces)).unwrap_or_default();
        Ok(Self { full, light, distances_m, means_m, dents })
    }

    /// The scan points in the station planes of a blade, in the axes of each station's outline, m. One list per station, empty
    /// if nothing can be shown.
    pub(crate) fn section_points(&self, blade: &BladeView<'_>) -> Vec<Vec<[f64; 2]>> {
        let turned;
        let mesh = if blade.azimuth_rad == 0.0 && blade.sections == SectionSurface::Plane {
            &self.full
        } else {
            // Laid flat, a triangle behind the axis would be torn across the whole circumference.
            let (faces, vertices) = (self.full.faces(), self.full.vertices());
            let is_near = |i: usize| {
                blade.sections == SectionSurface::Plane
                    || faces[i].iter().all(|&v| 0.0 < blade.out(vertices[v as usize]))
            };
            turned = self.full.subset(is_near).map_vertices(|p| blade.own(p));
            &turned
        };
        let radii: Vec<f64> = blade.stations.iter().map(|s| s.radius_m).collect();
        let cuts = cut(mesh, [0.0, 0.0, 1.0], &radii);
        let near = |station: &Station, p: &[f64; 3]| {
            let chord = station.chord_m?;
            let [x, y] = in_outline_axes(station, [p[0], p[1]])?;
            let margin = NEAR_SHARE * chord;
            let outline = station.outline.as_ref()?;
            let (low, high) = outline.y.iter().fold((0.0_f64, 0.0_f64), |(l, h), y| (l.min(*y), h.max(*y)));
            ((-margin..=chord + margin).contains(&x) && (low - margin..=high + margin).contains(&y))
                .then_some([x, y])
        };
        let points = |(station, cut): (&Station, &bladeform_mesh::PlaneCut)| {
            let all: Vec<[f64; 2]> =
                cut.chains.iter().flat_map(|c| &c.points).filter_map(|p| near(station, p)).collect();
            let every = all.len().div_ceil(MOST_POINTS).max(1);
            all.into_iter().step_by(every).collect()
        };
        blade.stations.iter().zip(&cuts).map(points).collect()
    }
}

/// Refuses a scan that is not the one the table was measured from.
///
/// # Errors
/// [`RecordError::OtherScan`] with both hashes and the file's name.
pub fn must_be_scan_of(bytes: &[u8], table: &StationTable) -> Result<(), RecordError> {
    if let Some(source) = table.source.as_ref().filter(|_| !is_scan_of(bytes, table)) {
        return Err(RecordError::OtherScan {
            found: sha256(bytes),
            stated: source.sha256.clone(),
            file: source.file.clone(),
        });
    }
    Ok(())
}

/// Distance from the outline of the blade that the point belongs to: the one with the largest span coordinate.
fn distance(blades: &[BladeView<'_>], p: [f64; 3]) -> Option<f64> {
    let nearest = blades.iter().max_by(|a, b| a.out(p).total_cmp(&b.out(p)))?;
    nearest.loft.as_ref()?.distance(nearest.own(p))
}

fn mapped(m: &[[f64; 4]; 4], [x, y, z]: [f64; 3]) -> [f64; 3] {
    [0, 1, 2].map(|k| m[k][0] * x + m[k][1] * y + m[k][2] * z + m[k][3])
}

/// Whether the rows are orthogonal and of equal length, and the last row is 0, 0, 0, 1.
fn is_similarity(m: &[[f64; 4]; 4]) -> bool {
    let dot = |a: usize, b: usize| (0..3).map(|k| m[a][k] * m[b][k]).sum::<f64>();
    let square = dot(0, 0);
    let near = |value: f64, wanted: f64| (value - wanted).abs() <= FRAME_TOLERANCE * square;
    let finite = m.iter().flatten().all(|v| v.is_finite()) && square > 0.0;
    let last = m[3][..3].iter().all(|v| v.abs() <= f64::EPSILON) && (m[3][3] - 1.0).abs() <= f64::EPSILON;
    finite
        && last
        && near(dot(1, 1), square)
        && near(dot(2, 2), square)
        && near(dot(0, 1), 0.0)
        && near(dot(0, 2), 0.0)
        && near(dot(1, 2), 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{BladeRows, Frame};

    #[test]
    fn own_and_common_axes_of_a_blade_are_each_other_s_inverse() {
        let blades = vec![BladeRows { azimuth_deg: Some(90.0), ..BladeRows::default() }];
        let mut table = StationTable { blades, ..StationTable::default() };
        let views = BladeView::all(&table);
        // A rotation of 90 deg about y moves the span from z to x.
        let tip = views[0].common([0.0, 0.0, 1.0]);
        assert!((tip[0] - 1.0).abs() < 1e-12 && tip[2].abs() < 1e-12, "{tip:?}");
        let back = views[0].own(tip);
        assert!((back[2] - 1.0).abs() < 1e-12);
        table.frame = Some(Frame { hand: Hand::Left, ..Frame::default() });
        assert!((BladeView::all(&table)[0].common([0.0, 0.0, 1.0])[0] + 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_skewed_frame_is_refused() {
        let mut m = [[0.0; 4]; 4];
        (0..4).for_each(|k| m[k][k] = if k < 3 { 0.3 } else { 1.0 });
        assert!(is_similarity(&m));
        m[0][1] = 0.1;
        assert!(!is_similarity(&m));
        m[0][1] = f64::NAN;
        assert!(!is_similarity(&m));
    }
}
