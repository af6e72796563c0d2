//! The blade seen along the axis of rotation and from the side, to scale, with its stations. Shown and printed above the 3-D view.

use bladeform_quantity::Hand;
use bladeform_table::{Station, StationTable};

use crate::drawing::{Anchor, Drawing, PAPER_WIDTH_MM, Shape, UNITS_PER_MM};
use crate::loft::placed;
use crate::scan::PlacedScan;
use crate::sheet::{bar, paper_scale};

/// Number of slices along the radius for the extent of the scan.
const SLICES: usize = 160;

/// Minimum and maximum `x`, minimum and maximum `y`, m.
type Extent = [f64; 4];

/// The section outline of a station as both views show it.
struct Row {
    radius_m: f64,
    extent: Extent,
    is_flagged: bool,
}

/// Two views of the blade with its stations, at a standard scale. For the scan of a single blade the extent of the scan is drawn behind them.
#[must_use]
pub(crate) fn planform(table: &StationTable, scan: Option<&PlacedScan>) -> Option<Drawing> {
    let rows = rows(table);
    if rows.len() < 2 {
        return None;
    }
    let scan = scan.filter(|_| table.blades.is_empty()).map(silhouette).unwrap_or_default();
    let outline: Vec<(f64, Extent)> = rows.iter().map(|r| (r.radius_m, r.extent)).collect();
    let layout = Layout::of(&outline, &scan, table.blade.radius_m);
    // The axes of a left-hand blade are mirrored: with the leading edge on top its other side is visible.
    let (seen, name_above) = match table.hand() {
        Hand::Right => {
            ("seen from the front, looking against the flight direction", "plane of rotation, from the front")
        }
        Hand::Left => ("seen from behind, looking in the flight direction", "plane of rotation, from behind"),
    };
    let words = format!(
        "The blade at 1:{}, root on the left: above, {seen}, leading edge on top; below, from the side, flight direction upwards. \
         {} stations from {:.0} mm to {:.0} mm radius.",
        layout.n,
        rows.len(),
        rows[0].radius_m * 1e3,
        rows[rows.len() - 1].radius_m * 1e3
    );
    let mut d = Drawing::new(PAPER_WIDTH_MM * UNITS_PER_MM, layout.height, "Blade and stations", words);
    for view in [layout.plan_view(name_above), layout.side_view("from the side")] {
        layout.draw_outlines(&mut d, &view, &outline, &scan);
        layout.draw_stations(&mut d, &view, &rows);
        d.text([layout.left, view.axis - view.highest * layout.k - 8.0], view.name, Anchor::Start, "small");
    }
    layout.write_radii(&mut d, &rows);
    bar(&mut d, layout.k, layout.n, layout.height - 12.0);
    Some(d)
}

/// The stations that have an outline.
fn rows(table: &StationTable) -> Vec<Row> {
    let row = |s: &Station| {
        // From the front, a section on a cylinder is not as wide as its arc.
        let seen = |[x, y]: [f64; 2]| {
            let [x, y, _] = table.sections().placed([x, y, s.radius_m]);
            [x, y]
        };
        let points: Vec<[f64; 2]> =
            s.outline.as_ref()?.points().filter_map(|p| placed(s, p).map(seen)).collect();
        (!points.is_empty()).then(|| Row {
            radius_m: s.radius_m,
            extent: extent(points.into_iter()),
            is_flagged: !s.flags.is_empty(),
        })
    };
    table.stations.iter().filter_map(row).collect()
}

/// Where both views lie on the paper, in units of the drawing.
struct Layout {
    root_m: f64,
    tip_m: f64,
    /// Extent of everything drawn, with the axis.
    extent: Extent,
    /// The scale is one to this number.
    n: f64,
    /// Units of the drawing per metre.
    k: f64,
    /// Where the root is.
    left: f64,
    /// Height of the blade axis in the plan view and in the side view.
    plan_axis: f64,
    side_axis: f64,
    height: f64,
}

/// One of the two views.
struct View {
    name: &'static str,
    /// Height of the blade axis.
    axis: f64,
    /// Which figures of an [`Extent`] are the lower and the upper edge.
    low: usize,
    high: usize,
    /// Greatest height of anything above the axis, m.
    highest: f64,
}

impl Layout {
    fn of(outline: &[(f64, Extent)], scan: &[(f64, Extent)], tip_radius_m: f64) -> Self {
        let all = || outline.iter().chain(scan).copied();
        let fold = |pick: fn(&(f64, Extent)) -> f64, better: fn(f64, f64) -> f64, start: f64| {
            all().map(|r| pick(&r)).fold(start, better)
        };
        let root_m = fold(|r| r.0, f64::min, f64::INFINITY);
        let tip_m = fold(|r| r.0, f64::max, tip_radius_m);
        let extent = [
            fold(|r| r.1[0], f64::min, 0.0),
            fold(|r| r.1[1], f64::max, 0.0),
            fold(|r| r.1[2], f64::min, 0.0),
            fold(|r| r.1[3], f64::max, 0.0),
        ];
        let n = paper_scale(tip_m - root_m);
        let k = 1000.0 / n * UNITS_PER_MM;
        let left = (PAPER_WIDTH_MM * UNITS_PER_MM - (tip_m - root_m) * k) / 2.0;
        let plan_axis = 34.0 + extent[1] * k;
        let side_axis = plan_axis - extent[0] * k + 62.0 + extent[3] * k;
        let height = side_axis - extent[2] * k + 46.0;
        Self { root_m, tip_m, extent, n, k, left, plan_axis, side_axis, height }
    }

    fn plan_view(&self, name: &'static str) -> View {
        View { name, axis: self.plan_axis, low: 0, high: 1, highest: self.extent[1] }
    }

    fn side_view(&self, name: &'static str) -> View {
        View { name, axis: self.side_axis, low: 2, high: 3, highest: self.extent[3] }
    }

    fn x(&self, radius_m: f64) -> f64 {
        self.left + (radius_m - self.root_m) * self.k
    }

    /// The blade axis, the extent of the scan, and over it both edges of the stations.
    fn draw_outlines(&self, d: &mut Drawing, view: &View, outline: &[(f64, Extent)], scan: &[(f64, Extent)]) {
        let edge = |rows: &[(f64, Extent)], index: usize| {
            rows.iter().map(|r| [self.x(r.0), view.axis - r.1[index] * self.k]).collect::<Vec<_>>()
        };
        d.line([self.left - 18.0, view.axis], [self.x(self.tip_m) + 18.0, view.axis], "axis");
        let mut around = edge(scan, view.high);
        around.extend(edge(scan, view.low).into_iter().rev());
        d.path(around, true, "silhouette");
        d.path(edge(outline, view.high), false, "outline");
        d.path(edge(outline, view.low), false, "outline");
    }

    /// A line across the blade at every station.
    fn draw_stations(&self, d: &mut Drawing, view: &View, rows: &[Row]) {
        for r in rows {
            let at = self.x(r.radius_m);
            let [low, high] = [view.low, view.high].map(|edge| view.axis - r.extent[edge] * self.k);
            d.line([at, high], [at, low], if r.is_flagged { "station flagged" } else { "station" });
        }
    }

    /// The radii of the stations below the plan view, as far as there is room, and what they are.
    fn write_radii(&self, d: &mut Drawing, rows: &[Row]) {
        let mut last = f64::NEG_INFINITY;
        for r in rows {
            let at = self.x(r.radius_m);
            if at - last > 30.0 {
                d.shapes.push(Shape::Length {
                    at: [at, self.plan_axis - r.extent[0] * self.k + 14.0],
                    // Rounded to a millimetre: there is no room for more digits.
                    value_m: (r.radius_m * 1e3).round() / 1e3,
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
            [self.x(self.tip_m), self.plan_axis - self.extent[0] * self.k + 30.0],
            "radii; dashed stations are flagged",
            Anchor::End,
            "small",
        );
    }
}

fn extent(points: impl Iterator<Item = [f64; 2]>) -> Extent {
    let none = [f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY, f64::NEG_INFINITY];
    points.fold(none, |e, [x, y]| [e[0].min(x), e[1].max(x), e[2].min(y), e[3].max(y)])
}

/// The extent of the scan in slices along the radius; slices without a vertex are left out.
fn silhouette(scan: &PlacedScan) -> Vec<(f64, Extent)> {
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
