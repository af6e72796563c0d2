//! The figures of a page: numbered in the order they are made, shown on the page and kept as files.

use crate::chart::{Chart, HoverPoint};
use crate::drawing::Drawing;
use crate::escape::html;
use crate::unit::LengthUnit;
use bladeform_quantity::ShownUnits;

/// Class of the boxes that place charts side by side in a wide window.
pub(crate) const SECOND_COLUMN: &str = "charts";

/// One chart or drawing as a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// The name of the file.
    pub name: String,
    /// Its content.
    pub svg: String,
}

/// Figures of the page in the order they are made. They are numbered and kept as files.
#[derive(Default)]
pub(crate) struct Figures {
    pub(crate) plots: Vec<Plot>,
    /// The units in which the page begins.
    pub(crate) units: ShownUnits,
}

impl Figures {
    /// A chart with its hover points.
    pub(crate) fn chart(&mut self, chart: &Chart) -> String {
        let (drawing, hover) = chart.draw();
        self.figure(&chart.name, &drawing, &hover)
    }

    /// One chart in several units. The unit switch of the page shows one of them; that in millimetres also stands for a missing one in metres. The file, and a
    /// browser without scripts, has that of the units in which the page begins.
    pub(crate) fn chart_by_unit(&mut self, charts: &[(LengthUnit, Chart)]) -> String {
        let [(_, only), others @ ..] = charts else { return String::new() };
        if others.is_empty() {
            return self.chart(only);
        }
        let initial = LengthUnit::initial(self.units);
        let number = self.plots.len() + 1;
        let has_metres = charts.iter().any(|(unit, _)| *unit == LengthUnit::Metre);
        let mut text = String::new();
        for (unit, chart) in charts {
            let (drawing, hover) = chart.draw();
            let id = if *unit == LengthUnit::Millimetre {
                format!("figure{number}")
            } else {
                format!("figure{number}-{}", unit.name())
            };
            let figure = figure_element(number, &id, &drawing, &hover);
            let states = match unit {
                LengthUnit::Millimetre if !has_metres => "mm m",
                other => other.name(),
            };
            let hidden = if *unit == initial { "" } else { " hidden" };
            text.push_str(&figure.replacen("<figure", &format!("<figure data-in=\"{states}\"{hidden}"), 1));
            if *unit == initial {
                self.plots.push(Plot { name: format!("{}.svg", chart.name), svg: drawing.to_svg_file() });
            }
        }
        text
    }

    /// A drawing without hover points.
    pub(crate) fn plain(&mut self, name: &str, drawing: &Drawing) -> String {
        self.figure(name, drawing, &[])
    }

    fn figure(&mut self, name: &str, drawing: &Drawing, hover: &[HoverPoint]) -> String {
        self.plots.push(Plot { name: format!("{name}.svg"), svg: drawing.to_svg_file() });
        let number = self.plots.len();
        figure_element(number, &format!("figure{number}"), drawing, hover)
    }
}

/// The figure with that number on the page; `id` is unique among all drawings.
fn figure_element(number: usize, id: &str, drawing: &Drawing, hover: &[HoverPoint]) -> String {
    let caption = format!("<figcaption><b>Figure {number}.</b> {}</figcaption>", html(&drawing.title));
    let svg = drawing.to_svg(id);
    if hover.is_empty() {
        return format!("<figure class=\"plain-figure\">{caption}{svg}</figure>");
    }
    let round = |v: f64| (v * 100.0).round() / 100.0;
    let points: Vec<_> = hover.iter().map(|p| serde_json::json!([round(p.x), round(p.y), p.text])).collect();
    format!(
        "<figure class=\"chart\" tabindex=\"0\" aria-label=\"{} Arrow keys read its values.\" data-hover=\"{}\">{caption}{svg}<p class=\"readout\" role=\"status\">&nbsp;</p></figure>",
        html(&drawing.title),
        html(&serde_json::Value::Array(points).to_string())
    )
}
