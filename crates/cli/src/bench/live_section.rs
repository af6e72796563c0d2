//! A section while its station is dragged: the scan near the station and a quick fit to it. What is kept comes from measuring.

use bladeform::mesh::RawMesh;
use bladeform::section::{BandPoint, FitSettings, fit_section, mean_line};
use bladeform::table::{Station, StationTable};
use serde_json::{Value, json};

/// Half width of the band of scan points, as a fraction of the chord.
const HALF_BAND: f64 = 0.03;
/// Points of the scan farther from the chord line than this part of the chord belong to something else.
const AWAY: f64 = 0.35;
/// About where the middle of a section lies over its chord line, chords.
const MIDDLE: f64 = 0.02;
/// Most points of the scan that are shown.
const MOST_SHOWN: usize = 1500;
/// Most points of the quick fit; more only cost time.
const MOST_FITTED: usize = 3000;
/// Points of the drawn outline.
const OUTLINE: usize = 240;
/// Error of the outline model, chords, as for a scan without noise.
const MODEL_ERROR: f64 = 1e-4;

/// The section at a fraction of the tip radius, in the axes of its chord: leading edge on the left, m. `None` where there is no blade.
pub(super) fn live_section(
    mesh: &RawMesh,
    normals: &[[f64; 3]],
    table: &StationTable,
    ratio: f64,
) -> Option<Value> {
    let m = table.frame.as_ref()?.scan_to_blade?;
    let radius_m = ratio * table.blade.radius_m;
    let Place { chord, angle, mid } = place(table, radius_m)?;
    let (sin, cos) = angle.to_radians().sin_cos();
    let half = HALF_BAND * chord;
    let row = |k: usize, p: &[f64; 3]| m[k][0] * p[0] + m[k][1] * p[1] + m[k][2] * p[2] + m[k][3];
    let turn = |k: usize, n: &[f64; 3]| m[k][0] * n[0] + m[k][1] * n[1] + m[k][2] * n[2];
    let near = |(p, n): (&[f64; 3], &[f64; 3])| {
        let z = row(2, p) - radius_m;
        if z.is_nan() || half < z.abs() {
            return None;
        }
        let (dx, dy) = (row(0, p) - mid[0], row(1, p) - mid[1]);
        let at = [0.5 - (dx * cos + dy * sin) / chord, (dy * cos - dx * sin) / chord];
        let inside = (-0.15..=1.15).contains(&at[0]) && at[1].abs() < AWAY;
        let (nx, ny) = (turn(0, n), turn(1, n));
        let normal = [-(nx * cos + ny * sin), ny * cos - nx * sin];
        inside.then_some(BandPoint { at, normal, span: z / half })
    };
    let mut points: Vec<BandPoint> = mesh.vertices.iter().zip(normals).filter_map(near).collect();
    // A scan that is wound inside out has inward normals.
    let outward: f64 = points.iter().map(|p| (p.at[1] - MIDDLE) * p.normal[1].signum()).sum();
    if outward < 0.0 {
        points.iter_mut().for_each(|p| p.normal = p.normal.map(|v| -v));
    }
    let every = points.len().div_ceil(MOST_FITTED).max(1);
    let few: Vec<BandPoint> = points.iter().copied().step_by(every).collect();
    let settings = FitSettings { half_band: HALF_BAND, model_error: MODEL_ERROR };
    let fit = fit_section(&few, &settings);
    let shown = points.len().div_ceil(MOST_SHOWN).max(1);
    let m_of = |p: &[f64; 2]| [p[0] * chord, p[1] * chord];
    let mut value = json!({
        "ratio": ratio,
        "radius_m": radius_m,
        "points": points.iter().step_by(shown).map(|p| m_of(&p.at)).collect::<Vec<_>>(),
    });
    match fit {
        Ok(fit) => {
            let outline = fit.shape.outline(OUTLINE);
            let leading =
                (1..outline.len()).fold(0, |best, k| if outline[k][0] < outline[best][0] { k } else { best });
            let [along, up] = fit.shape.chord_vector();
            value["outline"] = json!(outline.iter().map(m_of).collect::<Vec<_>>());
            value["chord_m"] = json!(fit.shape.chord() * chord);
            // The angle from the nose down to the tail adds to that of the frame.
            value["angle_deg"] = json!(angle - up.atan2(along).to_degrees());
            if let Ok(line) = mean_line(&outline, leading) {
                value["thickness_ratio"] = json!(line.thickness() / line.chord());
                value["camber_ratio"] = json!(line.camber().0);
            }
        }
        Err(e) => value["why"] = json!(e.to_string()),
    }
    Some(value)
}

/// Where the section lies, about.
struct Place {
    chord: f64,
    angle: f64,
    mid: [f64; 2],
}

/// Between the measured stations on both sides, or at the nearest of them.
fn place(table: &StationTable, radius_m: f64) -> Option<Place> {
    let rows = table.blades.first().map_or(&table.stations, |blade| &blade.stations);
    let known: Vec<(&Station, f64, f64)> =
        rows.iter().filter_map(|s| Some((s, s.chord_m?, s.blade_angle_deg?))).collect();
    let above = known.iter().position(|(s, ..)| radius_m <= s.radius_m);
    let (a, b) = match above {
        Some(0) => (known.first()?, known.first()?),
        Some(k) => (&known[k - 1], &known[k]),
        None => (known.last()?, known.last()?),
    };
    let gap = b.0.radius_m - a.0.radius_m;
    let t = if gap > 0.0 { (radius_m - a.0.radius_m) / gap } else { 0.0 };
    let mix = |x: f64, y: f64| x + t * (y - x);
    let mid = |s: &Station| [s.mid_chord_x_m.unwrap_or(0.0), s.mid_chord_y_m.unwrap_or(0.0)];
    let (ma, mb) = (mid(a.0), mid(b.0));
    Some(Place { chord: mix(a.1, b.1), angle: mix(a.2, b.2), mid: [mix(ma[0], mb[0]), mix(ma[1], mb[1])] })
}
