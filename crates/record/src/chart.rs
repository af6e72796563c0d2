//! A chart as plain data: series over one axis, drawn so that they differ without colour.

use bladeform_table::Curve;

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
    /// The series, at most as many as there are marks to tell them apart.
    pub series: Vec<Series>,
    /// Levels of the left axis drawn across, each with its name.
    pub levels: Vec<(f64, String)>,
    /// Points to be pointed out, each with its name.
    pub pointed: Vec<Pointed>,
    /// Thin lines of one kind on the left axis that go with the series.
    pub guides: Guides,
    /// The last digit in which values of the left axis are told: the axis shows no finer steps, be all values alike.
    pub finest: f64,
}

/// Thin full lines without marks: told from series by that.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Guides {
    /// What they are, for the legend.
    pub name: String,
    /// Each a row of points, `x` rising.
    pub lines: Vec<Vec<[f64; 2]>>,
}

/// A place on a chart with a short name: a letter stands at it, and the name below the chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pointed {
    /// On the horizontal axis.
    pub x: f64,
    /// On the left axis.
    pub y: f64,
    /// What it is and its values with their units, a few words.
    pub name: String,
}

/// One series of a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    /// What it is, for the legend.
    pub name: String,
    /// Its points, `x` rising; those without a value interrupt the line.
    pub points: Vec<ChartPoint>,
    /// Whether it belongs to the right axis.
    pub on_second: bool,
    /// Whether a smooth curve joins the points, else straight strokes.
    pub smooth: bool,
}

/// One point of a series.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChartPoint {
    /// On the horizontal axis.
    pub x: f64,
    /// On the vertical axis; `None` where there is no figure.
    pub y: Option<f64>,
    /// Half width of the 95 % interval, where one is known.
    pub half_width: Option<f64>,
    /// Something must be told about it: it gets a ring.
    pub flagged: bool,
    /// Less to be trusted (stalled, out of range): drawn with dots and without a full mark.
    pub weak: bool,
    /// What a reader is told when pointing at it, with units.
    pub text: String,
}

/// A point to be hovered: place in the drawing, units, and its text.
#[derive(Clone, Debug, PartialEq)]
pub struct HoverPoint {
    /// Horizontal place, units.
    pub x: f64,
    /// Vertical place, units.
    pub y: f64,
    /// What is told.
    pub text: String,
}

/// Marks of the series in their order.
const MARKS: [Mark; 5] = [Mark::Disc, Mark::Square, Mark::Triangle, Mark::Diamond, Mark::Cross];
/// Lines of the series in their order: full, dashed, dotted, dash-dotted, long dashes; all defined in the style.
const LINES: [&str; 5] = ["series one", "series two", "series three", "series four", "series five"];
const BANDS: [&str; 5] = ["band one", "band two", "band three", "band four", "band five"];
const POINTS: [&str; 5] = ["mark one", "mark two", "mark three", "mark four", "mark five"];
/// Series that can be told apart without colour.
pub(crate) const MOST_SERIES: usize = MARKS.len();

/// Places of the drawing, units: the plot's edges.
const WIDTH: f64 = 720.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = 700.0;
const RIGHT_WITH_SECOND: f64 = 652.0;
/// Top of the plot below a legend of one row, and the height of a row of legend or key.
const TOP: f64 = 36.0;
const ROW: f64 = 21.0;
const PLOT_HEIGHT: f64 = 216.0;
/// What stands below the plot: figures and name of the horizontal axis.
const BELOW: f64 = 48.0;
/// Steps of a vertical axis, about.
const TICKS: usize = 5;
/// Rings nearer than this to one another have their letters on different sides.
const NEAR: f64 = 16.0;
/// Room for the line and mark of a legend entry, and for each letter of its name in the large type of narrow windows.
const LEGEND_GAP: f64 = 58.0;
const LEGEND_PER_LETTER: f64 = 9.5;
/// Points of a smooth curve between two of its own.
const CURVE_STEPS: usize = 12;

/// The class of the line of a series on the right axis, which has no marks: it is told from the others by that.
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

/// How values become places.
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
    /// Whether there is anything to draw: a series with two values.
    #[must_use]
    pub fn is_drawable(&self) -> bool {
        self.series.iter().any(|s| s.points.iter().filter(|p| finite(p.y).is_some()).count() > 1)
    }

    /// The chart as a drawing, and the points to be hovered from left to right.
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

    /// Rings with letters, and below the chart what each letter stands for.
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

    /// Where the entries of the legend begin: index of the series (one beyond the last: the guides), place along the row, row; and the
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

    /// Line and mark of a series with its name.
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

    /// The chart in words: what over what, and from where to where each series goes.
    fn description(&self) -> String {
        let mut words = format!("{} over {}.", self.y_label, self.x_label);
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
        let edge = |sign: f64| run.iter().map(move |p| [x.place(p.x), y.place(value(p) + sign * half(p))]);
        if run.iter().any(|p| p.half_width.is_some()) {
            drawing.path(edge(1.0).chain(edge(-1.0).rev()).collect(), true, BANDS[k]);
        }
        let curve = Curve::through(&run.iter().map(|p| (p.x, value(p))).collect::<Vec<_>>())
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

/// Goes on with the last path where it is of the same class and ends at the same place: dashes then run through.
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

/// A, B, C ...: the letter of a pointed place.
fn letter(k: usize) -> String {
    char::from_u32('A' as u32 + (k % 26) as u32).map_or_else(String::new, String::from)
}

fn finite(value: Option<f64>) -> Option<f64> {
    value.filter(|v| v.is_finite())
}

fn half(point: &ChartPoint) -> f64 {
    finite(point.half_width).unwrap_or(0.0)
}

/// Least and greatest of the finite values; 0 to 1 where there is none.
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
        // The band reaches from 9 to 32: ticks from 5 to 35.
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
