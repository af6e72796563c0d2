//! The data of the 3-D view: scan, outlines, section planes and the surface through the outlines, packed for the page.

use bladeform_quantity::Hand;
use bladeform_table::{SectionSurface, StationTable};
use serde_json::{Value, json};

use crate::escape::base64;
use crate::loft::placed;
use crate::scan::{BladeView, PlacedScan};
use crate::ticks::round_up;

/// Marks a point without a distance, among distances in micrometres.
const NO_DISTANCE: i16 = i16::MIN;
/// The colour scale covers this fraction of the distances.
const SCALE_SHARE: f64 = 0.95;
/// Smallest limit of the colour scale, m. Below it the colours would show rounding errors.
const LEAST_LIMIT_M: f64 = 1e-5;
/// Levels of the surface through the outlines.
const LEVELS: usize = 64;
/// Points of an outline shown in the 3-D view.
const OUTLINE_POINTS: usize = 120;

/// The data of the 3-D view; `None` if the table has no outline.
#[must_use]
pub(crate) fn view_data(
    table: &StationTable,
    blades: &[BladeView<'_>],
    scan: Option<&PlacedScan>,
) -> Option<Value> {
    let outlines: Vec<Value> = blades.iter().flat_map(outlines).collect();
    if outlines.is_empty() {
        return None;
    }
    Some(json!({
        // The table axes of a left-hand propeller are mirrored. The view mirrors them back, so that it shows the real part.
        "mirrored": table.hand() == Hand::Left,
        "radius_m": table.blade.radius_m,
        // Sections on cylinders have no planes to be drawn.
        "planes": table.sections() == SectionSurface::Plane,
        "outlines": outlines,
        "surfaces": blades.iter().filter_map(surface).collect::<Vec<_>>(),
        "scan": scan.map(scan_data),
    }))
}

fn outlines(blade: &BladeView<'_>) -> Vec<Value> {
    let outline = |s: &bladeform_table::Station| {
        let outline = s.outline.as_ref()?;
        let every = outline.len().div_ceil(OUTLINE_POINTS).max(1);
        let points: Vec<f64> = outline
            .points()
            .step_by(every)
            .filter_map(|p| placed(s, p))
            .flat_map(|[x, y]| blade.common([x, y, s.radius_m]).map(|v| (v * 1e6).round() / 1e6))
            .collect();
        (!points.is_empty())
            .then(|| json!({"ratio": s.radius_ratio, "flagged": !s.flags.is_empty(), "points": points}))
    };
    blade.stations.iter().filter_map(outline).collect()
}

/// The surface through the outlines: `levels` rings of `ring` points each, coordinates as little-endian `f32`.
fn surface(blade: &BladeView<'_>) -> Option<Value> {
    let loft = blade.loft.as_ref()?;
    let (first, last) = loft.range();
    let mut bytes = Vec::new();
    let mut ring = 0;
    for level in 0..LEVELS {
        let z = first + (last - first) * level as f64 / (LEVELS - 1) as f64;
        let outline = loft.outline(z);
        ring = outline.len();
        for [x, y] in outline {
            blade.common([x, y, z]).iter().for_each(|v| bytes.extend((*v as f32).to_le_bytes()));
        }
    }
    Some(json!({"levels": LEVELS, "ring": ring, "points": base64(&bytes)}))
}

/// Vertices as 16-bit steps within the bounding box, faces as indices, means over patches in micrometres.
fn scan_data(scan: &PlacedScan) -> Value {
    let mesh = &scan.light;
    let [low, high] = mesh.bounds();
    // A step is 1/65,535 of the size: about 0.02 mm on a blade.
    let step = [0, 1, 2].map(|k| ((high[k] - low[k]) / f64::from(u16::MAX)).max(f64::MIN_POSITIVE));
    let mut vertices = Vec::with_capacity(mesh.vertices().len() * 6);
    for p in mesh.vertices() {
        (0..3).for_each(|k| vertices.extend((((p[k] - low[k]) / step[k]).round() as u16).to_le_bytes()));
    }
    let wide = mesh.vertices().len() > usize::from(u16::MAX);
    let mut faces = Vec::with_capacity(mesh.faces().len() * 6);
    for v in mesh.faces().iter().flatten() {
        if wide { faces.extend(v.to_le_bytes()) } else { faces.extend((*v as u16).to_le_bytes()) }
    }
    let micrometres =
        |d: &Option<f64>| d.map_or(NO_DISTANCE, |d| (d * 1e6).round().clamp(-32_767.0, 32_767.0) as i16);
    let distances: Vec<u8> = scan.means_m.iter().flat_map(|d| micrometres(d).to_le_bytes()).collect();
    let limit_m = limit_m(scan);
    json!({
        "triangles": mesh.faces().len(),
        "low": low, "step": step, "wide": wide,
        "vertices": base64(&vertices), "faces": base64(&faces), "distances": base64(&distances),
        "limit_mm": limit_m * 1e3, "patch_m": scan.dents.size_m,
    })
}

/// A round limit of the colours: above nearly all means over patches, and above twice the depth from which a dent is listed, so that the noise has only pale colours.
pub(crate) fn limit_m(scan: &PlacedScan) -> f64 {
    let listed_m = scan.dents.limit * scan.dents.scatter_m;
    Distances::of(&scan.means_m).limit_m.max(round_up((2.0 * listed_m).max(LEAST_LIMIT_M)))
}

/// Statistics of the distances between scan and outlines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Distances {
    /// Number of points with a distance.
    pub(crate) count: usize,
    /// Root mean square, m.
    pub(crate) rms_m: f64,
    /// Median of their absolute values, m.
    pub(crate) median_m: f64,
    /// A round limit above nearly all absolute values, m.
    pub(crate) limit_m: f64,
    /// The fraction beyond the limit.
    pub(crate) beyond: f64,
}

impl Distances {
    pub(crate) fn of(distances_m: &[Option<f64>]) -> Self {
        let mut sizes: Vec<f64> = distances_m.iter().flatten().map(|d| d.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let n = sizes.len();
        if n == 0 {
            return Self { count: 0, rms_m: 0.0, median_m: 0.0, limit_m: LEAST_LIMIT_M, beyond: 0.0 };
        }
        let at = |share: f64| sizes[((n as f64 * share) as usize).min(n - 1)];
        let limit_m = round_up(at(SCALE_SHARE).max(LEAST_LIMIT_M));
        Self {
            count: n,
            rms_m: (sizes.iter().map(|d| d * d).sum::<f64>() / n as f64).sqrt(),
            median_m: at(0.5),
            limit_m,
            beyond: sizes.iter().filter(|d| **d > limit_m).count() as f64 / n as f64,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;

    #[test]
    fn the_view_holds_every_outline_in_space_and_the_surface_through_them() {
        let table = elliptic_table();
        let blades = BladeView::all(&table);
        let data = view_data(&table, &blades, None).unwrap();
        assert_eq!(data["outlines"].as_array().unwrap().len(), 6);
        assert_eq!(data["outlines"][1]["points"][2].as_f64(), Some(0.4));
        assert_eq!(data["surfaces"][0]["ring"], 120);
        // 64 rings of 120 points of 12 bytes; base 64 makes them a third longer.
        assert_eq!(data["surfaces"][0]["points"].as_str().unwrap().len(), 64 * 120 * 12 / 3 * 4);
        assert!(data["scan"].is_null());
    }

    #[test]
    fn the_limit_of_the_colours_is_round_and_outliers_are_counted() {
        let mut distances: Vec<Option<f64>> =
            (0..200).map(|k| Some(1e-6 * f64::from(k) * if k % 2 == 0 { 1.0 } else { -1.0 })).collect();
        distances.push(Some(0.05));
        distances.push(None);
        let d = Distances::of(&distances);
        assert_eq!(d.count, 201);
        assert!((d.limit_m - 2e-4).abs() < 1e-12 && (d.beyond - 1.0 / 201.0).abs() < 1e-9, "{d:?}");
        assert!((d.median_m - 1e-4).abs() < 1e-9);
    }
}
