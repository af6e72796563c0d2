//! A chart as plain data: series on one horizontal axis, drawn so that they differ without colour.

use bladeform_numeric::monotone::MonotoneCubic;

use crate::drawing::{Anchor, Drawing, Mark};
use crate::ticks::ticks;

/// A chart with one horizontal and one or two vertical axes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// Short name for files and links: lower-case letters and hyphens.
    pub name: String,
    /// Heading.
    pub title: String,
    /// Name and unit of the horizontal axis.
    pub x_label: String,
    /// Name and unit of the left axis.
    pub y_label: String,
    /// Name and unit of the right axis, where series need one.
    pub second_label: Option<String>,
    /// The series, at most as many as there are distinct marks.
    pub series: Vec<Series>,
    /// Levels of the left axis drawn as horizontal lines, each with its name.
    pub levels: Vec<(f64, String)>,
    /// Marked points, each with its name.
    pub pointed: Vec<Pointed>,
    /// Thin lines of one kind on the left axis that accompany the series.
    pub guides: Guides,
    /// The last digit of values on the left axis. The axis shows no finer steps, even if all values are equal.
    pub finest: f64,
}

/// Thin solid lines. The missing marks distinguish them from series.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Guides {
    /// Their name, for the legend.
    pub name: String,
    /// Each is a polyline with increasing `x`.
    pub lines: Vec<Vec<[f64; 2]>>,
}

/// A marked point of a chart with a short name. The chart shows a letter at the point and the name below.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pointed {
    /// Value on the horizontal axis.
    pub x: f64,
    /// Value on the left axis.
    pub y: f64,
    /// A few words: what it is, and its values with their units.
    pub name: String,
}

/// One series of a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    /// Its name, for the legend.
    pub name: String,
    /// Its points with increasing `x`. Points without a value interrupt the line.
    pub points: Vec<ChartPoint>,
    /// Whether it uses the right axis.
    pub on_second: bool,
    /// Whether a smooth curve joins the points; otherwise straight lines.
    pub smooth: bool,
}

/// One point of a series.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChartPoint {
    /// Value on the horizontal axis.
    pub x: f64,
    /// Value on the vertical axis; `None` if there is none.
    pub y: Option<f64>,
    /// Half width of the 95 % interval, if known.
    pub half_width: Option<f64>,
    /// Whether it has a remark. It is then marked with a ring.
    pub flagged: bool,
    /// Whether it is less reliable (stalled, out of range). It is then drawn with a dotted line and an open mark.
    pub weak: bool,
    /// The text shown when a reader points at it, with units.
    pub text: String,
}

/// A hover point: its position in the drawing, units, and its text.
#[derive(Clone, Debug, PartialEq)]
pub struct HoverPoint {
    /// Horizontal position, units.
    pub x: f64,
    /// Vertical position, units.
    pub y: f64,
    /// The text shown.
    pub text: String,
}

/// Marks of the series, in order.
const MARKS: [Mark; 5] = [Mark::Disc, Mark::Square, Mark::Triangle, Mark::Diamond, Mark::Cross];
/// Line styles of the series, in order: solid, dashed, dotted, dash-dotted, long dashes. The style sheet defines them.
const LINES: [&str; 5] = ["series one", "series two", "series three", "series four", "series five"];
/// Classes of the bands, in the order of the line styles.
const BANDS: [&str; 5] = ["band one", "band two", "band three", "band four", "band five"];
/// Classes of the marks, in the order of the line styles.
const POINTS: [&str; 5] = ["mark one", "mark two", "mark three", "mark four", "mark five"];
/// Number of series that can be distinguished without colour.
pub(crate) const MOST_SERIES: usize = MARKS.len();

/// Width of the drawing and edges of the plot, units.
const WIDTH: f64 = 720.0;
/// Left edge: room for the values and the name of the vertical axis (chosen by eye).
const LEFT: f64 = 66.0;
/// Right edge of a plot with one vertical axis (chosen by eye).
const RIGHT: f64 = 700.0;
/// Right edge of a plot with a second vertical axis (chosen by eye).
const RIGHT_WITH_SECOND: f64 = 652.0;
/// Top of the plot below a one-row legend, and the height of one row of the legend or the key.
const TOP: f64 = 36.0;
/// Height of one row of the legend or the key (chosen for the type size).
const ROW: f64 = 21.0;
/// Height of the plot (chosen by eye).
const PLOT_HEIGHT: f64 = 216.0;
/// Height below the plot for the values and the name of the horizontal axis.
const BELOW: f64 = 48.0;
/// Approximate number of steps of a vertical axis.
const TICKS: usize = 5;
/// Rings closer to each other than this have their letters on different sides, units.
const NEAR: f64 = 16.0;
/// Width of the line and mark of a legend entry, and of each letter of its name in the large type of narrow windows.
const LEGEND_GAP: f64 = 58.0;
/// Width of each letter (chosen for the large type).
const LEGEND_PER_LETTER: f64 = 9.5;
/// Number of steps of a smooth curve between two points.
const CURVE_STEPS: usize = 12;

/// The class of the line of a series on the right axis. The missing marks distinguish it from the others.
const SECOND_LINE: &str = "series second";
/// The class of guides.
const GUIDE: &str = "guide";

/// Edges of the plot, units.
#[derive(Clone, Copy)]
struct Frame {
    right: f64,
    top: f64,
    bottom: f64,
}

/// Maps values to positions.
struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    fn place(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }
}

impl Chart {
    /// Whether there is anything to draw: a series with at least two values.
    #[must_use]
    pub fn is_drawable(&self) -> bool {
        self.series.iter().any(|s| s.points.iter().filter(|p| finite(p.y).is_some()).count() > 1)
    }

    /// The chart as a drawing, and its hover points from left to right.
    #[must_use]
    pub fn draw(&self) -> (Drawing, Vec<HoverPoint>) {
        let (entries, rows) = self.legend_places();
        let top = TOP + ROW * (rows - 1) as f64;
        let right = if self.second_label.is_some() { RIGHT_WITH_SECOND } else { RIGHT };
        let frame = Frame { right, top, bottom: top + PLOT_HEIGHT };
        let key = ROW * self.pointed.len() as f64;
        let mut drawing = Drawing::new(WIDTH, frame.bottom + BELOW + key, &self.title, self.description());
        let x = self.x_scale(&mut drawing, frame);
        let y = self.y_scale(&mut drawing, frame, false);
        let second = self.second_label.as_ref().map(|_| self.y_scale(&mut drawing, frame, true));
        let corners = vec![[LEFT, top], [LEFT, frame.bottom], [right, frame.bottom], [right, top]];
        drawing.path(corners, true, "frame");
        for (level, name) in &self.levels {
            let at = y.place(*level);
            drawing.line([LEFT, at], [right, at], "level");
            drawing.text([right - 4.0, at - 4.0], name, Anchor::End, "small");
        }
        let mut hover = Vec::new();
        for (index, series) in self.series.iter().enumerate() {
            let y = second.as_ref().filter(|_| series.on_second).unwrap_or(&y);
            draw_series(&mut drawing, series, index % MOST_SERIES, &x, y);
            let shown = series.points.iter().filter_map(|p| finite(p.y).map(|value| (p, value)));
            hover.extend(shown.map(|(p, v)| HoverPoint {
                x: x.place(p.x),
                y: y.place(v),
                text: p.text.clone(),
            }));
        }
        for guide in &self.guides.lines {
            drawing.path(guide.iter().map(|p| [x.place(p[0]), y.place(p[1])]).collect(), false, GUIDE);
        }
        self.point_out(&mut drawing, frame, &x, &y);
        for (index, [at, line]) in entries {
            self.legend_entry(&mut drawing, index, at, 18.0 + ROW * line);
        }
        hover.sort_by(|a, b| a.x.total_cmp(&b.x));
        (drawing, hover)
    }

    /// Rings with letters, and the meaning of each letter below the chart.
    fn point_out(&self, drawing: &mut Drawing, frame: Frame, x: &Scale, y: &Scale) {
        let places: Vec<[f64; 2]> = self.pointed.iter().map(|p| [x.place(p.x), y.place(p.y)]).collect();
        for (k, (pointed, at)) in self.pointed.iter().zip(&places).enumerate() {
            let letter = letter(k);
            drawing.line([at[0], frame.bottom], *at, "level");
            drawing.marks(vec![*at], Mark::Ring, "pointer");
            let close = |p: &[f64; 2]| (p[0] - at[0]).abs() < NEAR && (p[1] - at[1]).abs() < 2.0 * NEAR;
            let above = places[..k].iter().filter(|p| close(p)).count() % 2 == 0 && frame.top + 20.0 < at[1];
            let dy = if above { -11.0 } else { 21.0 };
            drawing.text([at[0], at[1] + dy], &letter, Anchor::Middle, "label strong");
            let base = frame.bottom + BELOW + ROW * (k as f64 + 0.5);
            drawing.text([LEFT, base], &letter, Anchor::Start, "label strong");
            drawing.text([LEFT + 22.0, base], &pointed.name, Anchor::Start, "label");
        }
    }

    fn x_scale(&self, drawing: &mut Drawing, frame: Frame) -> Scale {
        let Frame { right, top, bottom } = frame;
        let xs = self.series.iter().flat_map(|s| s.points.iter().map(|p| p.x));
        let (low, high) = range(xs.chain(self.pointed.iter().map(|p| p.x)));
        let (values, decimals) = ticks(low, high, 8);
        let scale = Scale { low: values[0], high: values[values.len() - 1], from: LEFT, to: right };
        for value in values {
            let at = scale.place(value);
            drawing.line([at, bottom], [at, top], "grid");
            drawing.text([at, bottom + 17.0], format!("{value:.decimals$}"), Anchor::Middle, "label");
        }
        drawing.text([(LEFT + right) / 2.0, bottom + 37.0], &self.x_label, Anchor::Middle, "label");
        scale
    }

    fn y_scale(&self, drawing: &mut Drawing, frame: Frame, second: bool) -> Scale {
        let Frame { right, top, bottom } = frame;
        let points = self.series.iter().filter(|s| s.on_second == second).flat_map(|s| &s.points);
        let ends = points.filter_map(|p| finite(p.y).map(|y| [y - half(p), y + half(p)])).flatten();
        let guides = self.guides.lines.iter().flatten().map(|p| p[1]);
        let others = self.levels.iter().map(|l| l.0).chain(self.pointed.iter().map(|p| p.y)).chain(guides);
        let (low, high) = range(ends.chain(others.filter(|_| !second)));
        let room = if second { 0.0 } else { (0.5 * (TICKS as f64 * self.finest - (high - low))).max(0.0) };
        let (values, decimals) = ticks(low - room, high + room, TICKS);
        let scale = Scale { low: values[0], high: values[values.len() - 1], from: bottom, to: top };
        let (edge, anchor, dx) = if second { (right, Anchor::Start, 6.0) } else { (LEFT, Anchor::End, -6.0) };
        for value in values {
            let at = scale.place(value);
            if second {
                drawing.line([right, at], [right + 4.0, at], "frame");
            } else {
                drawing.line([LEFT, at], [right, at], "grid");
            }
            drawing.text([edge + dx, at + 4.0], format!("{value:.decimals$}"), anchor, "label");
        }
        let label =
            if second { self.second_label.as_deref().unwrap_or_default() } else { self.y_label.as_str() };
        let at = if second { WIDTH - 6.0 } else { 14.0 };
        drawing.upright([at, (top + bottom) / 2.0], label, "label");
        scale
    }

    /// Positions of the legend entries: index of the series (one beyond the last for the guides), position along the row, row. Also the
    /// number of rows, at least one. A single series without guides needs no entry.
    fn legend_places(&self) -> (Vec<(usize, [f64; 2])>, usize) {
        let (mut at, mut row) = (LEFT, 0);
        let mut places = Vec::new();
        let guides = Some(&self.guides.name).filter(|_| !self.guides.lines.is_empty());
        let names: Vec<&String> = self.series.iter().map(|s| &s.name).chain(guides).collect();
        for (index, name) in names.iter().enumerate().filter(|_| names.len() > 1) {
            let width = LEGEND_GAP + LEGEND_PER_LETTER * name.chars().count() as f64;
            if LEFT < at && WIDTH < at + width {
                (at, row) = (LEFT, row + 1);
            }
            places.push((index, [at, row as f64]));
            at += width;
        }
        (places, row + 1)
    }

    /// The line, mark and name of a series.
    fn legend_entry(&self, drawing: &mut Drawing, index: usize, at: f64, y: f64) {
        let Some(series) = self.series.get(index) else {
            drawing.line([at, y], [at + 34.0, y], GUIDE);
            drawing.text([at + 40.0, y + 4.0], &self.guides.name, Anchor::Start, "label");
            return;
        };
        let k = index % MOST_SERIES;
        let line = if series.on_second { SECOND_LINE } else { LINES[k] };
        drawing.line([at, y], [at + 34.0, y], line);
        if !series.on_second {
            drawing.marks(vec![[at + 17.0, y]], MARKS[k], POINTS[k]);
        }
        drawing.text([at + 40.0, y + 4.0], &series.name, Anchor::Start, "label");
    }

    /// The chart in words: the axes, and the first and last point of each series.
    fn description(&self) -> String {
        let mut words = format!("{} against {}.", self.y_label, self.x_label);
        for series in &self.series {
            let values: Vec<&ChartPoint> = series.points.iter().filter(|p| finite(p.y).is_some()).collect();
            if let [first, .., last] = values[..] {
                words.push_str(&format!(
                    " {}: {} values, from {} to {}.",
                    series.name,
                    values.len(),
                    first.text,
                    last.text
                ));
            }
        }
        words
    }
}

fn draw_series(drawing: &mut Drawing, series: &Series, k: usize, x: &Scale, y: &Scale) {
    for run in series.points.split(|p| finite(p.y).is_none()).filter(|run| !run.is_empty()) {
        let value = |p: &ChartPoint| p.y.unwrap_or(0.0);
        // Without a half width there is no band: one that tapers to a point would show a figure without error where the error is not known.
        for part in run.split(|p| finite(p.half_width).is_none()).filter(|part| !part.is_empty()) {
            let edge =
                |sign: f64| part.iter().map(move |p| [x.place(p.x), y.place(value(p) + sign * half(p))]);
            drawing.path(edge(1.0).chain(edge(-1.0).rev()).collect(), true, BANDS[k]);
        }
        let curve = MonotoneCubic::through(&run.iter().map(|p| (p.x, value(p))).collect::<Vec<_>>())
            .filter(|_| series.smooth);
        if series.on_second {
            drawing.path(run.iter().map(|p| [x.place(p.x), y.place(value(p))]).collect(), false, SECOND_LINE);
            continue;
        }
        for pair in run.windows(2) {
            let steps = if curve.is_some() { CURVE_STEPS } else { 1 };
            let points = (0..=steps).map(|s| s as f64 / steps as f64).map(|t| {
                let at = pair[0].x + t * (pair[1].x - pair[0].x);
                let straight = value(&pair[0]) + t * (value(&pair[1]) - value(&pair[0]));
                [x.place(at), y.place(curve.as_ref().map_or(straight, |c| c.value(at)))]
            });
            let weak = pair.iter().any(|p| p.weak);
            let class = if weak { "weak" } else { LINES[k] };
            extend_or_begin(drawing, points.collect(), class);
        }
        let place = |p: &ChartPoint| [x.place(p.x), y.place(value(p))];
        let pick =
            |wanted: fn(&ChartPoint) -> bool| run.iter().filter(|p| wanted(p)).map(place).collect::<Vec<_>>();
        drawing.marks(pick(|p| !p.weak), MARKS[k], POINTS[k]);
        drawing.marks(pick(|p| p.weak), Mark::OpenPoint, POINTS[k]);
        drawing.marks(pick(|p| p.flagged), Mark::Ring, "flag");
    }
}

/// Extends the last path if it has the same class and ends at the same point, so that its dashes continue.
fn extend_or_begin(drawing: &mut Drawing, points: Vec<[f64; 2]>, class: &'static str) {
    use crate::drawing::Shape;
    if let Some(Shape::Path { points: known, closed: false, class: of }) = drawing.shapes.last_mut()
        && *of == class
        && known.last() == points.first()
    {
        known.extend(points.into_iter().skip(1));
        return;
    }
    drawing.path(points, false, class);
}

/// The letter of a marked point: A, B, C ...
fn letter(k: usize) -> String {
    char::from_u32('A' as u32 + (k % 26) as u32).map_or_else(String::new, String::from)
}

fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|v| v.is_finite())
}

fn half(point: &ChartPoint) -> f64 {
    finite(point.half_width).unwrap_or(0.0)
}

/// Minimum and maximum of the finite values; 0 and 1 if there is none.
fn range(values: impl Iterator<Item = f64>) -> (f64, f64) {
    let none = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = values.filter(|v| v.is_finite()).fold(none, |(l, h), v| (l.min(v), h.max(v)));
    if low <= high { (low, high) } else { (0.0, 1.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::Shape;

    fn chart() -> Chart {
        let point = |x: f64, y: Option<f64>| ChartPoint {
            x,
            y,
            half_width: Some(1.0),
            text: format!("{x}"),
            ..ChartPoint::default()
        };
        let mut points = vec![
            point(0.0, Some(10.0)),
            point(0.5, Some(20.0)),
            point(1.0, None),
            point(1.5, Some(30.0)),
            point(2.0, Some(31.0)),
        ];
        points[1].flagged = true;
        points[3].weak = true;
        Chart {
            series: vec![Series { name: "s".to_owned(), points, ..Series::default() }],
            ..Chart::default()
        }
    }

    #[test]
    fn a_missing_value_interrupts_line_and_band() {
        let (drawing, hover) = chart().draw();
        let bands =
            drawing.shapes.iter().filter(|s| matches!(s, Shape::Path { class: "band one", .. })).count();
        assert_eq!((bands, hover.len()), (2, 4));
    }

    /// A value whose error is not known has no band, not one of no width.
    #[test]
    fn a_missing_half_width_ends_the_band() {
        let mut chart = chart();
        chart.series[0].points[1].half_width = None;
        let (drawing, _) = chart.draw();
        let bands: Vec<usize> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Path { points, class: "band one", .. } => Some(points.len()),
                _ => None,
            })
            .collect();
        assert_eq!(bands, [2, 4], "the band of the first point alone, and that of the last two");
    }

    #[test]
    fn flagged_and_weak_points_differ_in_shape() {
        let (drawing, _) = chart().draw();
        let count = |wanted: Mark| -> usize {
            let of = |s: &Shape| {
                if let Shape::Marks { points, mark, .. } = s {
                    (*mark == wanted).then_some(points.len())
                } else {
                    None
                }
            };
            drawing.shapes.iter().filter_map(of).sum()
        };
        assert_eq!((count(Mark::Ring), count(Mark::OpenPoint), count(Mark::Disc)), (1, 1, 3));
        assert!(drawing.shapes.iter().any(|s| matches!(s, Shape::Path { class: "weak", .. })));
    }

    #[test]
    fn places_follow_the_scale() {
        // The band extends from 9 to 32, so the ticks go from 5 to 35.
        let (_, hover) = chart().draw();
        assert!((hover[0].x - LEFT).abs() < 1e-9);
        let expected = TOP + PLOT_HEIGHT * (1.0 - (10.0 - 5.0) / 30.0);
        assert!((hover[0].y - expected).abs() < 1e-9, "{}", hover[0].y);
    }

    #[test]
    fn a_long_legend_takes_a_second_row_and_places_close_together_get_letters_on_two_sides() {
        let mut chart = chart();
        let one = chart.series[0].clone();
        for k in 0..4 {
            chart.series.push(Series { name: format!("a series of number {k}"), ..one.clone() });
        }
        chart.pointed = [1.0, 1.01].map(|x| Pointed { x, y: 20.0, name: format!("at {x} deg") }).to_vec();
        let (places, rows) = chart.legend_places();
        assert!(rows == 2 && places.iter().all(|(_, [at, _])| *at < WIDTH), "{places:?}");
        let (drawing, _) = chart.draw();
        let heights: Vec<f64> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Text { at, text, anchor: Anchor::Middle, .. } if text == "A" || text == "B" => {
                    Some(at[1])
                }
                _ => None,
            })
            .collect();
        assert!((heights[1] - heights[0]).abs() > 20.0, "{heights:?}");
        assert!(drawing.height > TOP + ROW + PLOT_HEIGHT + BELOW);
    }

    #[test]
    fn an_axis_is_no_finer_than_its_values_are_told() {
        let mut flat = chart();
        for p in &mut flat.series[0].points {
            (p.y, p.half_width) = (p.y.map(|_| 0.0), None);
        }
        flat.series.truncate(1);
        flat.levels.clear();
        flat.pointed.clear();
        flat.guides = Guides::default();
        flat.finest = 0.1;
        let (drawing, _) = flat.draw();
        let texts: Vec<&str> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Text { text, .. } => Some(text.as_str()),
                _ => None,
            })
            .collect();
        assert!(texts.contains(&"-0.2") && texts.contains(&"0.2"), "{texts:?}");
    }

    #[test]
    fn a_chart_without_values_is_not_drawable_and_does_not_fail() {
        let empty = Chart { series: vec![Series::default()], ..Chart::default() };
        assert!(!empty.is_drawable());
        let _ = empty.draw();
    }
}
