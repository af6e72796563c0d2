//! The data of the velocity triangle on the page: radial rows of a prediction, and the outlines of the stations.

use bladeform_quantity::ShownUnits;
use bladeform_table::{Notice, OperatingPoint, Prediction, StationTable};
use serde_json::{Value, json};

use crate::notice::RecordNotice;

/// Maximum number of radial rows on the page. At about 80 bytes per row they take about 1 MB. Operating points are thinned evenly to stay below.
const MOST_ROWS: usize = 12_000;
/// Points of an outline in the drawing. More are not visible at its size.
const OUTLINE_POINTS: usize = 80;

/// A smaller difference of the stream over the disc from that of flight, as a fraction, is none.
const SAME_STREAM: f64 = 1e-6;

/// The data of the velocity triangle, and a notice if points were left out; `None` if no point has radial rows.
#[must_use]
pub(crate) fn triangle_data(
    prediction: &Prediction,
    table: &StationTable,
) -> Option<(Value, Option<RecordNotice>)> {
    let with_rows: Vec<&OperatingPoint> = prediction.points.iter().filter(|p| !p.radial.is_empty()).collect();
    let rows_each = with_rows.iter().map(|p| p.radial.len()).max()?;
    let every = (with_rows.len() * rows_each).div_ceil(MOST_ROWS).max(1);
    // Thinning the list of points could remove whole settings or advance ratios, so only the advance ratios are thinned.
    let mut ratios: Vec<f64> = with_rows.iter().filter_map(|p| p.figures.advance_ratio).collect();
    ratios.sort_by(f64::total_cmp);
    ratios.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    let kept_ratios: Vec<f64> = ratios.iter().copied().step_by(every).collect();
    let kept: Vec<&&OperatingPoint> = with_rows
        .iter()
        .filter(|p| {
            every == 1
                || p.figures.advance_ratio.is_some_and(|j| kept_ratios.iter().any(|k| (k - j).abs() < 1e-6))
        })
        .collect();
    let thinned = RecordNotice::TriangleThinned { shown: kept_ratios.len(), all: ratios.len() };
    let notice = (every > 1).then_some(thinned);
    let points: Vec<Value> = kept.iter().map(|p| point(p)).collect();
    let outlines: Vec<Value> = table.stations.iter().filter_map(outline).collect();
    let blades = json!(prediction.blades);
    let data = json!({
        "blades": blades,
        "density_kg_m3": prediction.air.density_kg_m3,
        "setting_of": prediction.setting_of.as_str(),
        "points": points,
        "outlines": outlines,
    });
    Some((data, notice))
}

fn point(p: &OperatingPoint) -> Value {
    let rows: Vec<Value> = p
        .radial
        .iter()
        .map(|row| {
            let f = &row.figures;
            let figures = [
                f.radius_m,
                f.radius_ratio,
                f.chord_m,
                f.blade_angle_deg,
                f.inflow_angle_deg,
                f.angle_of_attack_deg,
                f.axial_induced_m_s,
                f.swirl_induced_m_s,
                f.resultant_speed_m_s,
                f.lift_coefficient,
                f.drag_coefficient,
                f.mach,
                f.reynolds,
            ];
            let mut values: Vec<Value> =
                figures.iter().map(|v| v.map_or(Value::Null, |v| json!(six_digits(v)))).collect();
            values.push(json!(u8::from(row.stalled)));
            values.push(json!(row.polar_region));
            Value::Array(values)
        })
        .collect();
    // Before or behind a body the stream over the disc is not that of flight: its speed at a row follows from the resultant.
    let has_body = p.installed.and_then(|i| i.stream_factor).is_some_and(|f| (f - 1.0).abs() > SAME_STREAM);
    json!({
        "has_body": has_body, "setting_deg": p.figures.setting_deg, "advance_ratio": p.figures.advance_ratio, "speed_m_s": p.speed_m_s, "rpm": p.rpm,
        "flags": p.flags.iter().map(Notice::text).collect::<Vec<_>>(),
        "flags_in": p.flags.iter().map(|flag| ShownUnits::INCH.text(&flag.text())).collect::<Vec<_>>(), "rows": rows,
    })
}

/// The outline of a station divided by the chord, thinned.
fn outline(station: &bladeform_table::Station) -> Option<Value> {
    let (outline, chord) = (station.outline.as_ref()?, station.chord_m.filter(|c| *c > 0.0)?);
    let every = outline.len().div_ceil(OUTLINE_POINTS).max(1);
    let points: Vec<[f64; 2]> =
        outline.points().step_by(every).map(|p| p.map(|v| (v / chord * 1e4).round() / 1e4)).collect();
    Some(json!({"radius_ratio": station.radius_ratio, "points": points}))
}

/// Rounds to six significant digits: more than the drawing and its list need.
fn six_digits(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;
    use crate::performance::tests::prediction;

    #[test]
    fn rows_and_outlines_go_into_the_page_and_close_the_triangle() {
        let (data, note) = triangle_data(&prediction(), &elliptic_table()).unwrap();
        assert_eq!((data["points"].as_array().unwrap().len(), note), (10, None));
        let p = &data["points"][0];
        let row = |k: usize| p["rows"][1][k].as_f64().unwrap();
        let omega_r = p["rpm"].as_f64().unwrap() / 60.0 * std::f64::consts::TAU * row(0);
        let resultant = (omega_r - row(7)).hypot(p["speed_m_s"].as_f64().unwrap() + row(6));
        assert!((resultant / row(8) - 1.0).abs() < 1e-5);
        assert_eq!(data["outlines"].as_array().unwrap().len(), 6);
    }

    #[test]
    fn without_radial_rows_there_is_no_triangle() {
        let mut prediction = prediction();
        prediction.points.iter_mut().for_each(|p| p.radial.clear());
        assert!(triangle_data(&prediction, &elliptic_table()).is_none());
    }
}
