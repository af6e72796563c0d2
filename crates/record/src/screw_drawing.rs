//! The drawing of a screw, as textbooks have it: pitch, projected outline and expanded outline over one axis of radii.

use bladeform_quantity::Hand;
use bladeform_table::{SectionSurface, Station, StationColumn, StationTable};

use crate::drawing::{Anchor, Drawing, Mark, PAPER_WIDTH_MM, Shape, UNITS_PER_MM};
use crate::sheet::{SCALES, bar};
use crate::ticks::ticks;

/// Fewest stations of a drawing.
const LEAST: usize = 3;
/// Left edge of the diagram of pitch: room for radii and the name of their axis. Its width, and the gaps between the three views, units.
const LEFT: f64 = 62.0;
const PITCH_WIDTH: f64 = 130.0;
/// And at most.
const MOST_PITCH_WIDTH: f64 = 240.0;
const GAP: f64 = 44.0;
/// Room on the right, above and below, units.
const RIGHT: f64 = 12.0;
const ABOVE: f64 = 44.0;
const BELOW: f64 = 74.0;
/// Height of the drawing on paper at most, mm.
const MOST_HEIGHT_MM: f64 = 170.0;
/// Radii closer than this are not all written, units.
const LEAST_STEP: f64 = 12.0;
/// Steps of an arc between two edges.
const ARC_STEPS: usize = 12;

/// A section as all three views show it.
struct Row {
    radius_m: f64,
    /// Azimuths of both edges of the outline, rad: the trailing edge first.
    azimuth: [f64; 2],
    /// Distance of both ends of the chord from the generator line, along the helix from nose to tail, m.
    along_m: [f64; 2],
    /// The outline there, height above the chord line, m.
    outline: Vec<[f64; 2]>,
    pitch_m: Option<f64>,
    face_pitch_m: Option<f64>,
    is_flagged: bool,
}

impl Row {
    fn of(s: &Station) -> Option<Self> {
        let get = |column: StationColumn| column.get(s);
        let (chord, angle) = (get(StationColumn::ChordM)?, get(StationColumn::BladeAngleDeg)?.to_radians());
        let cos = angle.cos();
        let mid = get(StationColumn::MidChordXM)?;
        let along = mid / cos;
        let along_m = [along - 0.5 * chord, along + 0.5 * chord];
        // The outline of a station begins at the nose and runs to the tail.
        let outline: Vec<[f64; 2]> =
            s.outline.iter().flat_map(|o| o.points()).map(|[x, y]| [along_m[1] - x, y]).collect();
        // Seen along the axis. A thick nose stands a little before the end of the chord.
        let ends = [mid - 0.5 * chord * cos, mid + 0.5 * chord * cos];
        let across = |p: &[f64; 2]| mid + (p[0] - along) * cos - p[1] * angle.sin();
        let edges = outline.iter().map(across).fold(ends, |[l, h], x| [l.min(x), h.max(x)]);
        Some(Self {
            radius_m: s.radius_m,
            azimuth: edges.map(|x| x / s.radius_m),
            along_m,
            outline,
            pitch_m: get(StationColumn::PitchM),
            face_pitch_m: get(StationColumn::FacePitchM),
            is_flagged: !s.flags.is_empty(),
        })
    }
}

/// Smallest and greatest value.
fn range(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], v| [l.min(v), h.max(v)])
}

/// The drawing; `None` for tables with plane sections and those with too few stations.
pub(crate) fn screw_drawing(table: &StationTable) -> Option<Drawing> {
    if table.sections() != SectionSurface::Cylinder || table.angles_are_relative() {
        return None;
    }
    let rows: Vec<Row> = table.stations.iter().filter_map(Row::of).collect();
    (LEAST <= rows.len()).then(|| Layout::of(table, rows).drawn(table))
}

/// Where the three views lie, units.
struct Layout {
    rows: Vec<Row>,
    tip_m: f64,
    root_m: Option<f64>,
    pitch_width: f64,
    /// The scale is one to this number; units of the drawing per metre.
    n: f64,
    k: f64,
    /// Height of the axis of rotation.
    axis: f64,
    /// Where the generator line is in the projected and in the expanded view.
    generator: [f64; 2],
}

impl Layout {
    fn of(table: &StationTable, rows: Vec<Row>) -> Self {
        let tip_m = table.blade.radius_m;
        let projected = range(rows.iter().flat_map(|r| r.azimuth.map(|a| r.radius_m * a.sin())).chain([0.0]));
        let expanded = range(rows.iter().flat_map(|r| r.along_m).chain([0.0]));
        let wide_m = projected[1] - projected[0] + expanded[1] - expanded[0];
        let room = PAPER_WIDTH_MM - (LEFT + PITCH_WIDTH + 2.0 * GAP + RIGHT) / UNITS_PER_MM;
        let fits = |n: &&f64| 1e3 * wide_m / **n <= room && 1e3 * tip_m / **n <= MOST_HEIGHT_MM;
        let n = SCALES.iter().find(fits).copied().unwrap_or(500.0);
        let k = 1e3 / n * UNITS_PER_MM;
        // What is left of the width goes to the diagram and between the views.
        let rest = (room * UNITS_PER_MM - k * wide_m).max(0.0);
        let pitch_width = (PITCH_WIDTH + rest / 3.0).min(MOST_PITCH_WIDTH);
        let gap = GAP + 0.5 * (rest - (pitch_width - PITCH_WIDTH));
        let left = LEFT + pitch_width + gap;
        let second = left + k * (projected[1] - projected[0]) + gap;
        Self {
            root_m: table.blade.root_radius_m,
            pitch_width,
            axis: ABOVE + k * tip_m,
            generator: [left - k * projected[0], second - k * expanded[0]],
            rows,
            tip_m,
            n,
            k,
        }
    }

    fn drawn(&self, table: &StationTable) -> Drawing {
        let from = match table.hand() {
            Hand::Right => "from behind",
            Hand::Left => "from the front",
        };
        let words = format!(
            "Three views over one axis of radii, leading edge on the right. Left: pitch of the line from nose to tail and of the face. Middle: the outline projected on the plane of rotation, seen {from}, \
             with the arcs of the sections. Right: the sections expanded along their helices, the outline through the ends of their chords. Outlines at 1:{}.",
            self.n
        );
        let mut d = Drawing::new(
            PAPER_WIDTH_MM * UNITS_PER_MM,
            self.axis + BELOW,
            "Screw: pitch, projected outline and expanded outline",
            words,
        );
        let right = PAPER_WIDTH_MM * UNITS_PER_MM - RIGHT;
        d.line([LEFT, self.axis], [right, self.axis], "axis");
        d.text([right, self.axis + 13.0], "axis of rotation", Anchor::End, "small");
        self.radii(&mut d);
        self.pitch(&mut d);
        self.projected(&mut d, from);
        self.expanded(&mut d);
        bar(&mut d, self.k, self.n, self.axis + BELOW - 12.0);
        d
    }

    /// The rows that are drawn in the views: so far apart that one is told from the next, with the first and the last.
    fn spaced(&self) -> Vec<&Row> {
        let mut kept: Vec<&Row> = Vec::new();
        for (i, r) in self.rows.iter().enumerate() {
            let far = kept.last().is_none_or(|k| LEAST_STEP <= self.k * (r.radius_m - k.radius_m));
            if far || i + 1 == self.rows.len() {
                kept.push(r);
            }
        }
        kept
    }

    fn height(&self, radius_m: f64) -> f64 {
        self.axis - self.k * radius_m
    }

    /// Radii of the stations as fractions of that of the tip, and lines through all views.
    fn radii(&self, d: &mut Drawing) {
        let right = LEFT + self.pitch_width;
        d.line([LEFT, ABOVE], [LEFT, self.axis], "frame");
        let mut last = f64::INFINITY;
        let tip = [(self.tip_m, "1 (tip)".to_owned())];
        let stations = self.rows.iter().map(|r| (r.radius_m, format!("{:.3}", r.radius_m / self.tip_m)));
        let mut all: Vec<(f64, String)> = stations.chain(tip).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (radius_m, name) in all {
            let y = self.height(radius_m);
            d.line([LEFT - 4.0, y], [right, y], "grid");
            if LEAST_STEP < last - y {
                d.text([LEFT - 7.0, y + 4.0], name, Anchor::End, "small");
                last = y;
            }
        }
        d.upright([14.0, 0.5 * (ABOVE + self.axis)], "radius, r/R", "label");
    }

    fn pitch(&self, d: &mut Drawing) {
        let right = LEFT + self.pitch_width;
        let of = |pick: fn(&Row) -> Option<f64>| -> Vec<(f64, f64)> {
            self.rows.iter().filter_map(|r| Some((pick(r)?, r.radius_m))).collect()
        };
        let (chord, face) = (of(|r| r.pitch_m), of(|r| r.face_pitch_m));
        let [low, high] = range(chord.iter().chain(&face).map(|p| 1e3 * p.0));
        if !low.is_finite() {
            return;
        }
        let (values, _) = ticks(low, high, 2);
        let (first, last) = (values[0], values[values.len() - 1]);
        let x = |pitch_m: f64| LEFT + self.pitch_width * (1e3 * pitch_m - first) / (last - first);
        for (i, value) in values.iter().enumerate() {
            let at = x(1e-3 * value);
            d.line([at, ABOVE], [at, self.axis], "grid");
            d.shapes.push(Shape::Length {
                at: [at, self.axis + 14.0],
                value_m: 1e-3 * value,
                signed: false,
                // The last shows the unit for all.
                after: (i + 1 == values.len()).then(String::new),
                anchor: Anchor::Middle,
                class: "small",
            });
        }
        let line = |of: &[(f64, f64)]| of.iter().map(|(p, r)| [x(*p), self.height(*r)]).collect::<Vec<_>>();
        let middle = 0.5 * (LEFT + right);
        d.text([middle, 16.0], "pitch", Anchor::Middle, "label strong");
        d.path(line(&face), false, "series two");
        d.marks(line(&face), Mark::Square, "mark two");
        d.path(line(&chord), false, "series one");
        d.marks(line(&chord), Mark::Disc, "mark one");
        let y = self.axis + 32.0;
        d.line([LEFT, y - 4.0], [LEFT + 20.0, y - 4.0], "series one");
        d.marks(vec![[LEFT + 10.0, y - 4.0]], Mark::Disc, "mark one");
        d.text([LEFT + 25.0, y], "nose to tail", Anchor::Start, "small");
        if !face.is_empty() {
            d.line([LEFT + 92.0, y - 4.0], [LEFT + 112.0, y - 4.0], "series two");
            d.marks(vec![[LEFT + 102.0, y - 4.0]], Mark::Square, "mark two");
            d.text([LEFT + 117.0, y], "face line", Anchor::Start, "small");
        }
    }

    fn projected(&self, d: &mut Drawing, from: &str) {
        let at = self.generator[0];
        let point = |radius_m: f64, azimuth: f64| {
            let (sin, cos) = azimuth.sin_cos();
            [at + self.k * radius_m * sin, self.axis - self.k * radius_m * cos]
        };
        let arc = |radius_m: f64, [a, b]: [f64; 2]| {
            let step = (b - a) / ARC_STEPS as f64;
            (0..=ARC_STEPS).map(|i| point(radius_m, a + step * i as f64)).collect::<Vec<_>>()
        };
        self.generator_line(d, at, "projected outline");
        d.text([at, 30.0], format!("seen {from}"), Anchor::Middle, "small");
        for r in &self.rows {
            d.path(
                arc(r.radius_m, r.azimuth),
                false,
                if r.is_flagged { "station flagged" } else { "station" },
            );
        }
        let ends = [&self.rows[0], &self.rows[self.rows.len() - 1]].map(|r| r.azimuth);
        for (radius_m, azimuth) in
            self.root_m.into_iter().map(|r| (r, ends[0])).chain([(self.tip_m, ends[1])])
        {
            d.path(arc(radius_m, azimuth), false, "level");
        }
        for edge in 0..2 {
            let path = self.rows.iter().map(|r| point(r.radius_m, r.azimuth[edge])).collect();
            d.path(path, false, "outline");
        }
    }

    fn expanded(&self, d: &mut Drawing) {
        let at = self.generator[1];
        self.generator_line(d, at, "expanded outline");
        d.text([at, 30.0], "sections in it", Anchor::Middle, "small");
        for r in self.spaced() {
            let y = self.height(r.radius_m);
            let [tail, nose] = r.along_m.map(|x| at + self.k * x);
            d.line([tail, y], [nose, y], if r.is_flagged { "station flagged" } else { "station" });
            let outline = r.outline.iter().map(|p| [at + self.k * p[0], y - self.k * p[1]]).collect();
            d.path(outline, true, "thin");
        }
        for edge in 0..2 {
            let path = self.rows.iter().map(|r| [at + self.k * r.along_m[edge], self.height(r.radius_m)]);
            d.path(path.collect(), false, "outline");
        }
    }

    /// The generator line of a view, and the name of the view.
    fn generator_line(&self, d: &mut Drawing, at: f64, name: &str) {
        d.line([at, ABOVE - 6.0], [at, self.axis + 6.0], "axis");
        d.text([at, 16.0], name, Anchor::Middle, "label strong");
        d.text([at, self.axis + 28.0], "generator line", Anchor::Middle, "small");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;
    use bladeform_table::Frame;

    /// The expanded outline is as wide as the chords and the projected one as their arcs: half width `r sin(c cos(angle) / 2 r)` on the generator line.
    #[test]
    fn outlines_are_to_scale() {
        let mut table = elliptic_table();
        assert!(screw_drawing(&table).is_none(), "plane sections have no such drawing");
        table.frame = Some(Frame { sections: SectionSurface::Cylinder, ..table.frame.unwrap_or_default() });
        for s in &mut table.stations {
            (s.mid_chord_x_m, s.mid_chord_y_m) = (Some(0.0), Some(0.0));
        }
        let rows: Vec<Row> = table.stations.iter().filter_map(Row::of).collect();
        let layout = Layout::of(&table, rows);
        let drawing = layout.drawn(&table);
        let paths: Vec<&Vec<[f64; 2]>> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Path { points, class: "outline", .. } => Some(points),
                _ => None,
            })
            .collect();
        assert_eq!(paths.len(), 4);
        for (k, s) in table.stations.iter().enumerate() {
            let (chord, angle) = (s.chord_m.unwrap(), s.blade_angle_deg.unwrap().to_radians());
            let expanded = (paths[3][k][0] - paths[2][k][0]) / layout.k;
            assert!((expanded - chord).abs() < 1e-9, "{expanded} {chord}");
            let projected = (paths[1][k][0] - paths[0][k][0]) / layout.k;
            let arc = 2.0 * s.radius_m * (0.5 * chord * angle.cos() / s.radius_m).sin();
            // The ellipses of this table are thick: they stand a little beyond the ends of their chords.
            assert!(0.0 <= projected - arc && projected - arc < 0.1 * chord, "{projected} {arc}");
        }
        assert!(
            drawing
                .shapes
                .iter()
                .any(|s| matches!(s, Shape::Text { text, .. } if text == "projected outline"))
        );
    }
}
