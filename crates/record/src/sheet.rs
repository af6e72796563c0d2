//! The section sheet of a station: scan, outline, mean line, largest inscribed circle, chord line and face line to scale, with residuals below.

use bladeform_section::signed_distances;
use bladeform_section::{MeanLine, mean_line};
use bladeform_table::Station;

use crate::drawing::{Anchor, Drawing, Mark, PAPER_WIDTH_MM, Shape, UNITS_PER_MM};
use crate::ticks::round_up;

/// Drawing scales, the n of 1:n. ISO 5455 gives 1:1, 1:2, 1:5 and their multiples of ten.
pub(crate) const SCALES: [f64; 8] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];
/// Paper on each side of the chord for labels, mm.
const SIDE_MM: f64 = 13.0;
/// Range of the chord over which the face line is fitted to the face, from the definition of the face angle.
const FACE_PART: (f64, f64) = (0.3, 0.9);
/// Minimum length of the scale bar, mm on paper.
const BAR_MM: f64 = 12.0;
/// Height of the residual strip, units.
const STRIP: f64 = 34.0;
/// Width of a sheet, mm of paper: room for the legend in one row. The widest chord at [`sheet_scale`] is narrower.
const WIDTH_MM: f64 = 128.0;
/// Where a name of the legend begins after its line, and the gap after it, units.
const LEGEND_NAME: f64 = 22.0;
/// Gap after a name of the legend, units (chosen by eye).
const LEGEND_GAP: f64 = 9.0;
/// Mean width of a letter of the legend, units.
const LETTER: f64 = 5.3;
/// Height of the legend, units.
const KEY_HEIGHT: f64 = 18.0;
/// Clear above a section, units.
const ABOVE: f64 = 10.0;
/// The strip covers this fraction of the points. Points beyond it are drawn as crosses at its edge.
const STRIP_SHARE: f64 = 0.98;

/// The standard scale 1:n at which `length_m` fits on the paper; returns n.
#[must_use]
pub(crate) fn paper_scale(length_m: f64) -> f64 {
    scale_within(PAPER_WIDTH_MM, length_m)
}

/// The standard scale at which sheets of chords up to `widest_m` leave room for their values beside them.
#[must_use]
pub(crate) fn sheet_scale(widest_m: f64) -> f64 {
    scale_within(WIDTH_MM, widest_m)
}

fn scale_within(paper_mm: f64, length_m: f64) -> f64 {
    let fits = |n: &&f64| length_m * 1000.0 / **n <= paper_mm - 2.0 * SIDE_MM;
    SCALES.iter().find(fits).copied().unwrap_or(500.0)
}

/// What a section sheet shows, in the axes of the outline, m.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Fitted outline, closed.
    pub outline: Vec<[f64; 2]>,
    /// Points where the scan meets the plane.
    pub scan: Vec<[f64; 2]>,
    /// Signed distance of each scan point from the outline, m, positive outside.
    pub residuals_m: Vec<f64>,
    /// Mean line from the leading to the trailing edge; empty where there is none.
    pub mean_line: Vec<[f64; 2]>,
    /// Largest inscribed circle, centre and radius.
    pub circle: Option<([f64; 2], f64)>,
    /// Two points of the face line, at the ends of the range it is fitted to.
    pub face_line: Option<[[f64; 2]; 2]>,
    /// Chord.
    pub chord_m: f64,
}

impl Sheet {
    /// The sheet of a station with the scan points in its plane; `None` for a station without chord or outline.
    #[must_use]
    pub fn new(station: &Station, scan: Vec<[f64; 2]>) -> Option<Self> {
        let chord_m = station.chord_m.filter(|c| *c > 0.0)?;
        let outline: Vec<[f64; 2]> = station.outline.as_ref()?.points().collect();
        if outline.len() < 4 {
            return None;
        }
        let leading =
            (1..outline.len()).fold(0, |best, k| if outline[k][0] < outline[best][0] { k } else { best });
        let line = mean_line(&outline, leading).ok();
        let residuals_m = signed_distances(&outline, &scan);
        Some(Self {
            face_line: face_line(station, &outline, chord_m),
            mean_line: line.as_ref().map(points_of).unwrap_or_default(),
            circle: line.as_ref().and_then(greatest),
            outline,
            scan,
            residuals_m,
            chord_m,
        })
    }

    /// Root mean square of the residuals, m; `None` without scan points.
    #[must_use]
    pub fn rms_m(&self) -> Option<f64> {
        let n = self.residuals_m.len();
        (n > 0).then(|| (self.residuals_m.iter().map(|d| d * d).sum::<f64>() / n as f64).sqrt())
    }

    /// The sheet drawn at 1:`n`, as wide as sheets of chords up to `widest_m` need.
    #[must_use]
    pub fn draw(&self, title: &str, n: f64, widest_m: f64) -> Drawing {
        let width = sheet_width(widest_m.max(self.chord_m), n);
        let units_per_m = 1000.0 / n * UNITS_PER_MM;
        let all = self.outline.iter().chain(&self.scan);
        let (low, high) = all.fold((0.0_f64, 0.0_f64), |(l, h), p| (l.min(p[1]), h.max(p[1])));
        let left = (width - self.chord_m * units_per_m) / 2.0;
        let base = ABOVE + high * units_per_m;
        let place = |p: &[f64; 2]| [left + p[0] * units_per_m, base - p[1] * units_per_m];
        let strip_top = base - low * units_per_m + 29.0;
        let height = strip_top + if self.scan.is_empty() { 6.0 } else { STRIP + 6.0 };
        let mut d = Drawing::new(width, height, title, self.description(n));
        let chord_end = [self.chord_m, 0.0];
        d.line(place(&[0.0, 0.0]), place(&chord_end), "chord-line");
        if let Some([a, b]) = &self.face_line {
            // Extended a little, so that it can be distinguished from the outline it lies on.
            let beyond = |t: f64| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
            d.line(place(&beyond(-0.2)), place(&beyond(1.1)), "face-line");
        }
        if let Some((centre, radius)) = &self.circle {
            d.shapes.push(Shape::Circle {
                centre: place(centre),
                radius: radius * units_per_m,
                class: "circle",
            });
            d.marks(vec![place(centre)], Mark::Cross, "thin");
        }
        d.path(self.mean_line.iter().map(place).collect(), false, "mean-line");
        d.path(self.outline.iter().map(place).collect(), true, "outline");
        d.marks(self.scan.iter().map(place).collect(), Mark::Point, "scan");
        d.text([place(&[0.0, 0.0])[0] - 8.0, base + 4.0], "LE", Anchor::End, "small");
        d.text([place(&chord_end)[0] + 12.0, base + 4.0], "TE", Anchor::Start, "small");
        bar(&mut d, units_per_m, n, strip_top - 13.0);
        if !self.scan.is_empty() {
            self.strip(&mut d, left, units_per_m, strip_top);
        }
        d
    }

    /// Residuals along the chord: dots for the back, rings for the face.
    fn strip(&self, d: &mut Drawing, left: f64, units_per_m: f64, top: f64) {
        let limit = residual_limit(&self.residuals_m);
        let middle = top + STRIP / 2.0;
        let right = left + self.chord_m * units_per_m;
        let y = |residual: f64| middle - (residual / limit).clamp(-1.0, 1.0) * STRIP / 2.0;
        d.path(vec![[left, top], [right, top], [right, top + STRIP], [left, top + STRIP]], true, "frame");
        d.line([left, middle], [right, middle], "frame");
        if let Some(rms) = self.rms_m() {
            [2.0, -2.0].iter().for_each(|k| d.line([left, y(k * rms)], [right, y(k * rms)], "level"));
        }
        for (value_m, at) in [(limit, top), (-limit, top + STRIP)] {
            d.shapes.push(Shape::Length {
                at: [left - 6.0, at + 4.0],
                value_m,
                signed: true,
                after: Some(String::new()),
                anchor: Anchor::End,
                class: "small",
            });
        }
        d.text([left - 6.0, middle + 4.0], "0", Anchor::End, "small");
        let (mut back, mut face, mut beyond) = (vec![], vec![], vec![]);
        for (p, r) in self.scan.iter().zip(&self.residuals_m) {
            let at = [left + p[0] * units_per_m, y(*r)];
            let list = if r.abs() > limit {
                &mut beyond
            } else if p[1] > self.mean_height(p[0]) {
                &mut back
            } else {
                &mut face
            };
            list.push(at);
        }
        d.marks(back, Mark::Point, "scan");
        d.marks(face, Mark::OpenPoint, "scan");
        d.marks(beyond, Mark::Cross, "thin");
    }

    /// Height of the mean line at `x`; 0 outside its range.
    fn mean_height(&self, x: f64) -> f64 {
        let at = |w: &[[f64; 2]]| {
            let inside = (w[0][0]..=w[1][0]).contains(&x) && w[1][0] > w[0][0];
            inside.then(|| w[0][1] + (x - w[0][0]) / (w[1][0] - w[0][0]) * (w[1][1] - w[0][1]))
        };
        self.mean_line.windows(2).find_map(at).unwrap_or(0.0)
    }

    fn description(&self, n: f64) -> String {
        let rms = self.rms_m().map(|r| {
            format!(" The {} scan points deviate {:.3} mm rms from the outline.", self.scan.len(), r * 1e3)
        });
        format!(
            "Section drawn at 1:{n} with the leading edge on the left and the back on top; chord {:.1} mm.{}",
            self.chord_m * 1e3,
            rms.unwrap_or_else(|| " No scan points.".to_owned())
        )
    }
}

/// A round limit above nearly all residuals, m.
fn residual_limit(residuals_m: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals_m.iter().map(|r| r.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let at = ((sizes.len() as f64 * STRIP_SHARE) as usize).min(sizes.len() - 1);
    round_up(sizes[at].max(1e-6))
}

fn points_of(line: &MeanLine) -> Vec<[f64; 2]> {
    let centres = line.circles.iter().map(|c| c.centre);
    [line.leading_edge].into_iter().chain(centres).chain([line.trailing_edge]).collect()
}

fn greatest(line: &MeanLine) -> Option<([f64; 2], f64)> {
    line.circles.iter().max_by(|a, b| a.radius.total_cmp(&b.radius)).map(|c| (c.centre, c.radius))
}

/// The line with the face angle of the table, through the centre of the part of the face that it is fitted to.
fn face_line(station: &Station, outline: &[[f64; 2]], chord_m: f64) -> Option<[[f64; 2]; 2]> {
    let slope = -(station.face_angle_deg? - station.blade_angle_deg?).to_radians().tan();
    let n = outline.len();
    let at = |better: fn(f64, f64) -> bool| {
        (1..n).fold(0, |best, k| if better(outline[k][0], outline[best][0]) { k } else { best })
    };
    let (nose, tail) = (at(|a, b| a < b), at(|a, b| a > b));
    let face = (0..=(tail + n - nose) % n).map(|k| outline[(nose + k) % n]);
    let (from, to) = (FACE_PART.0 * chord_m, FACE_PART.1 * chord_m);
    let part: Vec<[f64; 2]> = face.filter(|p| (from..=to).contains(&p[0])).collect();
    if part.len() < 3 {
        return None;
    }
    let mean = |axis: usize| part.iter().map(|p| p[axis]).sum::<f64>() / part.len() as f64;
    let (mx, my) = (mean(0), mean(1));
    Some([from, to].map(|x| [x, my + slope * (x - mx)]))
}

/// Width of a sheet, units.
fn sheet_width(chord_m: f64, n: f64) -> f64 {
    (chord_m * 1000.0 / n + 2.0 * SIDE_MM).clamp(WIDTH_MM, PAPER_WIDTH_MM) * UNITS_PER_MM
}

/// What the lines and dots of all sheets mean.
#[must_use]
pub(crate) fn key() -> Drawing {
    let words = "Meaning of the lines and dots of the section sheets.".to_owned();
    let mut d = Drawing::new(WIDTH_MM * UNITS_PER_MM, KEY_HEIGHT, "Key of the section sheets", words);
    let y = 0.5 * KEY_HEIGHT;
    let mut x = 4.0;
    for (class, name) in [
        ("outline", "fitted outline"),
        ("mean-line", "mean line"),
        ("chord-line", "chord line"),
        ("face-line", "face line"),
        ("circle", "inscribed circle"),
    ] {
        d.line([x, y], [x + LEGEND_NAME - 5.0, y], class);
        d.text([x + LEGEND_NAME, y + 4.0], name, Anchor::Start, "small");
        x += LEGEND_NAME + LETTER * name.len() as f64 + LEGEND_GAP;
    }
    d.marks((0..4).map(|k| [x + 5.0 * f64::from(k), y]).collect(), Mark::Point, "scan");
    d.text([x + LEGEND_NAME, y + 4.0], "scan", Anchor::Start, "small");
    d
}

/// A scale bar of a round length, with the scale on paper.
pub(crate) fn bar(d: &mut Drawing, units_per_m: f64, n: f64, y: f64) {
    let length_mm = round_up(BAR_MM * n);
    let (from, to) = (8.0, 8.0 + length_mm / 1000.0 * units_per_m);
    d.path(
        vec![[from, y - 4.0], [from, y + 4.0], [from, y], [to, y], [to, y - 4.0], [to, y + 4.0]],
        false,
        "ink",
    );
    d.shapes.push(Shape::Length {
        at: [to + 6.0, y + 4.0],
        value_m: length_mm / 1000.0,
        signed: false,
        after: Some(format!(" (1:{n} on paper at 100 %)")),
        anchor: Anchor::Start,
        class: "small",
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;

    #[test]
    fn an_ellipse_has_its_known_circle_chord_and_residuals() {
        let mut station = elliptic_table().stations[2].clone();
        station.face_angle_deg = Some(30.0);
        let a = station.chord_m.unwrap() / 2.0;
        // A point a tenth of a millimetre outside the back at mid-chord.
        let sheet = Sheet::new(&station, vec![[a, 0.1 * a + 1e-4]]).unwrap();
        let (centre, radius) = sheet.circle.unwrap();
        assert!((centre[0] - a).abs() < 0.02 * a && (radius - 0.1 * a).abs() < 1e-6, "{centre:?} {radius}");
        assert!((sheet.residuals_m[0] - 1e-4).abs() < 1e-7);
        let [p, q] = sheet.face_line.unwrap();
        assert!((p[1] - q[1]).abs() < 1e-12 && p[1] < -0.07 * a);
        assert!(sheet.mean_line.iter().all(|p| p[1].abs() < 1e-6));
    }

    #[test]
    fn drawn_at_one_to_n_a_millimetre_is_four_units_over_n() {
        let station = elliptic_table().stations[2].clone();
        let sheet = Sheet::new(&station, vec![]).unwrap();
        let drawing = sheet.draw("s", 2.0, 0.3);
        let chord = drawing.shapes.iter().find_map(|s| match s {
            Shape::Path { points, class: "chord-line", .. } => Some(points[1][0] - points[0][0]),
            _ => None,
        });
        assert!((chord.unwrap() - station.chord_m.unwrap() * 1000.0 / 2.0 * 4.0).abs() < 1e-9);
    }

    #[test]
    fn scales_are_standard_ones() {
        for (longest_m, scale) in [(0.1, 1.0), (0.21, 2.0), (0.5, 5.0), (1.3, 10.0)] {
            assert!((paper_scale(longest_m) - scale).abs() < 1e-12);
        }
        // The drawing and its values stand side by side on paper: 102 mm of chord and 26 mm beside it, which leave 52 mm for the values.
        for (widest_m, scale) in [(0.1, 1.0), (0.15, 2.0), (0.204, 2.0), (0.21, 5.0)] {
            assert!((sheet_scale(widest_m) - scale).abs() < 1e-12, "{widest_m}");
        }
    }
}
