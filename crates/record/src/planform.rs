//! The blade seen along the axis of rotation and from the side, to scale, with its stations. Shown and printed above the 3-D view.

use bladeform_quantity::Hand;
use bladeform_table::StationTable;

use crate::drawing::{Anchor, Drawing, PAPER_WIDTH_MM, Shape, UNITS_PER_MM};
use crate::loft::placed;
use crate::scan::PlacedScan;
use crate::sheet::{bar, paper_scale};

/// Number of slices along the radius for the extent of the scan.
const SLICES: usize = 160;

/// Two views of the blade with its stations, at a standard scale. For the scan of a single blade the extent of the scan is drawn behind them.
#[must_use]
pub(crate) fn planform(table: &StationTable, scan: Option<&PlacedScan>) -> Option<Drawing> {
    let rows: Vec<(f64, [f64; 4], bool)> = table
        .stations
        .iter()
        .filter_map(|s| {
            let outline = s.outline.as_ref()?;
            let points: Vec<[f64; 2]> = outline.points().filter_map(|p| placed(s, p)).collect();
            (!points.is_empty()).then(|| (s.radius_m, extent(points.into_iter()), !s.flags.is_empty()))
        })
        .collect();
    let scan = scan.filter(|_| table.blades.is_empty()).map(silhouette).unwrap_or_default();
    let all = || rows.iter().map(|r| (r.0, r.1)).chain(scan.iter().copied());
    let fold = |pick: fn(&(f64, [f64; 4])) -> f64, better: fn(f64, f64) -> f64, start: f64| {
        all().map(|r| pick(&r)).fold(start, better)
    };
    if rows.len() < 2 {
        return None;
    }
    let (root, tip) = (fold(|r| r.0, f64::min, f64::INFINITY), fold(|r| r.0, f64::max, table.blade.radius_m));
    let n = paper_scale(tip - root);
    let k = 1000.0 / n * UNITS_PER_MM;
    let heights = [
        fold(|r| r.1[0], f64::min, 0.0),
        fold(|r| r.1[1], f64::max, 0.0),
        fold(|r| r.1[2], f64::min, 0.0),
        fold(|r| r.1[3], f64::max, 0.0),
    ];
    let left = (PAPER_WIDTH_MM * UNITS_PER_MM - (tip - root) * k) / 2.0;
    let plan_axis = 34.0 + heights[1] * k;
    let side_axis = plan_axis - heights[0] * k + 62.0 + heights[3] * k;
    let height = side_axis - heights[2] * k + 46.0;
    // The axes of a left-hand blade are mirrored: with the leading edge on top its other side is visible.
    let (seen, name_above) = match table.hand() {
        Hand::Right => {
            ("seen from the front, looking against the flight direction", "plane of rotation, from the front")
        }
        Hand::Left => ("seen from behind, looking in the flight direction", "plane of rotation, from behind"),
    };
    let words = format!(
        "The blade at 1:{n}, root on the left: above, {}, leading edge on top; below, from the side, flight direction upwards. \
         {} stations from {:.0} mm to {:.0} mm radius.",
        seen,
        rows.len(),
        rows[0].0 * 1e3,
        rows[rows.len() - 1].0 * 1e3
    );
    let mut d = Drawing::new(PAPER_WIDTH_MM * UNITS_PER_MM, height, "Blade and stations", words);
    let x = |radius: f64| left + (radius - root) * k;
    for (axis, low, high, name) in [(plan_axis, 0, 1, name_above), (side_axis, 2, 3, "from the side")] {
        let edge = |rows: &[(f64, [f64; 4])], index: usize| {
            rows.iter().map(|r| [x(r.0), axis - r.1[index] * k]).collect::<Vec<_>>()
        };
        d.line([left - 18.0, axis], [x(tip) + 18.0, axis], "axis");
        let mut around = edge(&scan, high);
        around.extend(edge(&scan, low).into_iter().rev());
        d.path(around, true, "silhouette");
        let own: Vec<(f64, [f64; 4])> = rows.iter().map(|r| (r.0, r.1)).collect();
        d.path(edge(&own, high), false, "outline");
        d.path(edge(&own, low), false, "outline");
        for (radius, e, flagged) in &rows {
            let at = x(*radius);
            d.line(
                [at, axis - e[high] * k],
                [at, axis - e[low] * k],
                if *flagged { "station flagged" } else { "station" },
            );
        }
        d.text([left, axis - heights[high] * k - 8.0], name, Anchor::Start, "small");
    }
    let mut last = f64::NEG_INFINITY;
    for (radius, e, _) in &rows {
        let at = x(*radius);
        if at - last > 30.0 {
            d.shapes.push(Shape::Length {
                at: [at, plan_axis - e[0] * k + 14.0],
                // Rounded to a millimetre: there is no room for more digits.
                value_m: (radius * 1e3).round() / 1e3,
                signed: false,
                // The first shows the unit for all.
                after: last.is_infinite().then(String::new),
                anchor: Anchor::Middle,
                class: "small",
            });
            last = at;
        }
    }
    d.text(
        [x(tip), plan_axis - heights[0] * k + 30.0],
        "radii; dashed stations are flagged",
        Anchor::End,
        "small",
    );
    bar(&mut d, k, n, height - 12.0);
    Some(d)
}

/// Minimum and maximum `x`, minimum and maximum `y`.
fn extent(points: impl Iterator<Item = [f64; 2]>) -> [f64; 4] {
    let none = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    points.fold(none, |e, [x, y]| [e[0].min(x), e[1].max(x), e[2].min(y), e[3].max(y)])
}

/// The extent of the scan in slices along the radius; slices without a vertex are left out.
fn silhouette(scan: &PlacedScan) -> Vec<(f64, [f64; 4])> {
    let [low, high] = scan.light.bounds();
    let step = (high[2] - low[2]) / SLICES as f64;
    if step.is_nan() || step <= 0.0 {
        return Vec::new();
    }
    let mut slices: Vec<Vec<[f64; 2]>> = vec![Vec::new(); SLICES];
    for [x, y, z] in scan.light.vertices() {
        slices[(((z - low[2]) / step) as usize).min(SLICES - 1)].push([*x, *y]);
    }
    let row = |(k, points): (usize, Vec<[f64; 2]>)| {
        let filled = !points.is_empty();
        filled.then(|| (low[2] + (k as f64 + 0.5) * step, extent(points.into_iter())))
    };
    slices.into_iter().enumerate().filter_map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Shape;
    use crate::loft::tests::elliptic_table;

    #[test]
    fn stations_stand_at_their_radii_to_scale() {
        let table = elliptic_table();
        let drawing = planform(&table, None).unwrap();
        let at: Vec<f64> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Path { points, class: "station", .. } => Some(points[0][0]),
                _ => None,
            })
            .collect();
        assert_eq!(at.len(), 12);
        // 0.5 m at 1:5 is 100 mm, 400 units.
        assert!((at[5] - at[0] - 400.0).abs() < 1e-9, "{at:?}");
    }
}
