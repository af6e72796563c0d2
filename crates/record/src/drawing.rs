//! A drawing as plain data, and its SVG. All SVG of the page is written here, except what its scripts draw.

use std::fmt::Write;

use crate::escape::html;

/// Drawing units per millimetre of paper. A drawing of width [`PAPER_WIDTH_MM`] has 720 units.
pub(crate) const UNITS_PER_MM: f64 = 4.0;
/// Width available on both A4 (210 mm) and Letter (215.9 mm) with margins of 15 mm.
pub(crate) const PAPER_WIDTH_MM: f64 = 180.0;

/// Style sheet of drawings. Classes name the meaning of a shape. It is also included in every SVG file.
pub(crate) const STYLE: &str = include_str!("../assets/figure.css");

/// A two-dimensional drawing, `x` to the right, `y` down. The unit is a quarter of a millimetre on paper.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Width, units.
    pub width: f64,
    /// Height, units.
    pub height: f64,
    /// Short name.
    pub title: String,
    /// Text description, for readers who cannot see the drawing.
    pub description: String,
    /// From back to front.
    pub shapes: Vec<Shape>,
}

/// Horizontal alignment of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// It starts at the point.
    Start,
    /// Its middle is at the point.
    Middle,
    /// It ends at the point.
    End,
}

/// Marks that differ in shape, so that series can be distinguished without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// A filled disc.
    Disc,
    /// An open square.
    Square,
    /// A filled triangle.
    Triangle,
    /// An open diamond.
    Diamond,
    /// An oblique cross.
    Cross,
    /// A wide ring around another mark, to draw attention to it.
    Ring,
    /// A small point of a point cloud.
    Point,
    /// A small open point of a point cloud.
    OpenPoint,
}

/// One shape; `class` is a class of `assets/figure.css`.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// Straight lines through points.
    Path {
        /// Corners, units.
        points: Vec<[f64; 2]>,
        /// Whether the last point is joined to the first.
        closed: bool,
        /// Class.
        class: &'static str,
    },
    /// A circle.
    Circle {
        /// Centre, units.
        centre: [f64; 2],
        /// Radius, units.
        radius: f64,
        /// Class.
        class: &'static str,
    },
    /// Marks of one kind.
    Marks {
        /// Positions, units.
        points: Vec<[f64; 2]>,
        /// Kind.
        mark: Mark,
        /// Class.
        class: &'static str,
    },
    /// A text.
    Text {
        /// Its base point, units.
        at: [f64; 2],
        /// The text.
        text: String,
        /// Alignment.
        anchor: Anchor,
        /// Rotated by a quarter turn, to be read from the right.
        upright: bool,
        /// Class.
        class: &'static str,
    },
    /// A length that follows the unit switch of the page. In a separate file it is in millimetres.
    Length {
        /// Its base point, units.
        at: [f64; 2],
        /// Length, m.
        value_m: f64,
        /// Whether a positive value has a plus sign.
        signed: bool,
        /// Text after the unit; `None` omits the unit.
        after: Option<String>,
        /// Alignment.
        anchor: Anchor,
        /// Class.
        class: &'static str,
    },
}

impl Drawing {
    /// An empty drawing.
    pub(crate) fn new(width: f64, height: f64, title: &str, description: String) -> Self {
        Self { width, height, title: title.to_owned(), description, shapes: Vec::new() }
    }

    pub(crate) fn path(&mut self, points: Vec<[f64; 2]>, closed: bool, class: &'static str) {
        if points.len() > 1 {
            self.shapes.push(Shape::Path { points, closed, class });
        }
    }

    pub(crate) fn line(&mut self, from: [f64; 2], to: [f64; 2], class: &'static str) {
        self.path(vec![from, to], false, class);
    }

    pub(crate) fn marks(&mut self, points: Vec<[f64; 2]>, mark: Mark, class: &'static str) {
        if !points.is_empty() {
            self.shapes.push(Shape::Marks { points, mark, class });
        }
    }

    pub(crate) fn text(
        &mut self,
        at: [f64; 2],
        text: impl Into<String>,
        anchor: Anchor,
        class: &'static str,
    ) {
        self.shapes.push(Shape::Text { at, text: text.into(), anchor, upright: false, class });
    }

    pub(crate) fn upright(&mut self, at: [f64; 2], text: impl Into<String>, class: &'static str) {
        self.shapes.push(Shape::Text { at, text: text.into(), anchor: Anchor::Middle, upright: true, class });
    }

    /// The drawing as an SVG element of a page; `id` distinguishes its title from others.
    #[must_use]
    pub fn to_svg(&self, id: &str) -> String {
        self.svg(id, "")
    }

    /// The drawing as a separate file, including the style sheet.
    #[must_use]
    pub fn to_svg_file(&self) -> String {
        format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n",
            self.svg("drawing", &format!("<style>{STYLE}</style>"))
        )
    }

    fn svg(&self, id: &str, style: &str) -> String {
        let id = html(id);
        let (w, h) = (self.width, self.height);
        let mut svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"figure\" viewBox=\"0 0 {w} {h}\" style=\"--paper-width:{}mm\" role=\"img\" \
             aria-labelledby=\"{id}-title {id}-words\"><title id=\"{id}-title\">{}</title><desc id=\"{id}-words\">{}</desc>{style}",
            number(w / UNITS_PER_MM),
            html(&self.title),
            html(&self.description)
        );
        self.shapes.iter().for_each(|shape| shape.write(&mut svg));
        svg.push_str("</svg>");
        svg
    }
}

impl Shape {
    fn write(&self, svg: &mut String) {
        // Writing to a String cannot fail.
        let _ = match self {
            Self::Path { points, closed, class } => {
                let end = if *closed { "Z" } else { "" };
                write!(svg, "<path class=\"{class}\" d=\"{}{end}\"/>", path_data(points))
            }
            Self::Circle { centre: [x, y], radius, class } => {
                write!(
                    svg,
                    "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
                    number(*x),
                    number(*y),
                    number(*radius)
                )
            }
            Self::Marks { points, mark, class } => {
                let data: String = points.iter().map(|p| mark.path(*p)).collect();
                write!(svg, "<path class=\"{class} {}\" d=\"{data}\"/>", mark.class())
            }
            Self::Length { at: [x, y], value_m, signed, after, anchor, class } => {
                let decimals = decimals_of(value_m * 1e3);
                let mm = format!("{:.decimals$}", value_m * 1e3);
                let plus = if *signed && 0.0 < *value_m { "+" } else { "" };
                let (x, y, anchor) = (number(*x), number(*y), anchor.attribute());
                let after = after.as_deref().map(html);
                let attribute = after.as_ref().map(|a| format!(" data-a=\"{a}\"")).unwrap_or_default();
                let after = after.map(|a| format!(" mm{a}")).unwrap_or_default();
                write!(
                    svg,
                    "<text class=\"{class} q\" x=\"{x}\" y=\"{y}\"{anchor} data-v=\"{value_m}\" data-k=\"length\" data-d=\"{decimals}\" data-p=\"{plus}\"{attribute}>{plus}{mm}{after}</text>"
                )
            }
            Self::Text { at: [x, y], text, anchor, upright, class } => {
                let anchor = anchor.attribute();
                let (x, y) = (number(*x), number(*y));
                let turn =
                    if *upright { format!(" transform=\"rotate(-90 {x} {y})\"") } else { String::new() };
                write!(svg, "<text class=\"{class}\" x=\"{x}\" y=\"{y}\"{anchor}{turn}>{}</text>", html(text))
            }
        };
    }
}

impl Anchor {
    const fn attribute(self) -> &'static str {
        match self {
            Self::Start => "",
            Self::Middle => " text-anchor=\"middle\"",
            Self::End => " text-anchor=\"end\"",
        }
    }
}

impl Mark {
    /// The mark around a point as path data. Relative steps keep it short.
    fn path(self, [x, y]: [f64; 2]) -> String {
        let at = |dx: f64, dy: f64| format!("M{} {}", number(x + dx), number(y + dy));
        match self {
            Self::Disc => format!("{}a3.2 3.2 0 1 0 6.4 0a3.2 3.2 0 1 0-6.4 0z", at(-3.2, 0.0)),
            Self::Square => format!("{}h6v6h-6z", at(-3.0, -3.0)),
            Self::Triangle => format!("{}l4 7h-8z", at(0.0, -4.5)),
            Self::Diamond => format!("{}l4.2 4.2l-4.2 4.2l-4.2-4.2z", at(0.0, -4.2)),
            Self::Cross => format!("{}l6 6m0-6l-6 6", at(-3.0, -3.0)),
            Self::Ring => format!("{}a6.5 6.5 0 1 0 13 0a6.5 6.5 0 1 0-13 0z", at(-6.5, 0.0)),
            Self::Point => format!("{}h0", at(0.0, 0.0)),
            Self::OpenPoint => format!("{}a1.3 1.3 0 1 0 2.6 0a1.3 1.3 0 1 0-2.6 0z", at(-1.3, 0.0)),
        }
    }

    const fn class(self) -> &'static str {
        match self {
            Self::Disc | Self::Triangle => "full",
            Self::Square | Self::Diamond | Self::OpenPoint => "hollow",
            Self::Cross | Self::Ring => "bare",
            Self::Point => "point",
        }
    }
}

/// A coordinate with two decimals: 1/400 mm on paper. Trailing zeros are removed, as they only add size.
pub(crate) fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Number of decimals that a round value needs, at most four.
pub(crate) fn decimals_of(value: f64) -> usize {
    let is_whole = |v: f64| (v - v.round()).abs() < 1e-6 * v.abs();
    (0..4).find(|n| is_whole(value * 10_f64.powi(*n as i32))).unwrap_or(4)
}

fn path_data(points: &[[f64; 2]]) -> String {
    let mut data = String::new();
    for (k, [x, y]) in points.iter().enumerate() {
        data.push(if k == 0 { 'M' } else { 'L' });
        data.push_str(&number(*x));
        data.push(' ');
        data.push_str(&number(*y));
    }
    data
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_says_what_it_shows_and_keeps_foreign_text_harmless() {
        let mut drawing = Drawing::new(100.0, 50.0, "</svg><b>", "A line.".to_owned());
        drawing.line([0.0, -0.001], [10.123_456, 20.0], "ink");
        drawing.text([1.0, 2.0], "a<b", Anchor::End, "label");
        let svg = drawing.to_svg("one");
        assert!(svg.contains("<title id=\"one-title\">&lt;/svg&gt;&lt;b&gt;</title>"), "{svg}");
        assert!(svg.contains("role=\"img\"") && svg.contains("<desc id=\"one-words\">A line.</desc>"));
        assert!(svg.contains("d=\"M0 0L10.12 20\"") && svg.contains(">a&lt;b</text>"), "{svg}");
        assert!(drawing.to_svg_file().contains("<style>"));
    }
}
