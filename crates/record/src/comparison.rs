//! The comparison page of two tables: curves of both, their differences with the combined uncertainty, and every value.

use bladeform_document::write_comparison_csv;
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};
use bladeform_table::{
    COMPARED, ColumnUnit, ComparedFigure, ComparedStation, Comparison, RecordText, Shown, StationColumn,
    StationTable,
};

use crate::RecordError;
use crate::chart::{Chart, ChartPoint, Series};
use crate::escape::{html, json_in_script};
use crate::figures::{Figures, SECOND_COLUMN};
use crate::head::{self, sentence};
use crate::page::{Record, document, switches};
use crate::unit::{LengthUnit, said, with_sentences};
use crate::words::{figure, length, list, unit};

/// What goes into the page of a comparison.
#[derive(Clone, Copy, Debug)]
pub struct ComparisonPlan<'a> {
    /// The comparison.
    pub comparison: &'a Comparison,
    /// The compared tables.
    pub tables: [&'a StationTable; 2],
    /// SHA-256 of their files, hexadecimal; empty if unknown.
    pub sha256: [&'a str; 2],
    /// Heading.
    pub title: &'a str,
    /// Free text below the heading; may be empty.
    pub part_note: &'a str,
    /// The date, as displayed.
    pub date: &'a str,
    /// The units in which the page begins; its switch has the others.
    pub units: ShownUnits,
}

/// Makes the page of a comparison: self-contained, printable, the same bytes for the same inputs.
///
/// # Errors
/// [`RecordError`] if the CSV of the comparison cannot be written into the page; [`RecordError::Stopped`] if the observer ends the call.
pub fn comparison_page(plan: &ComparisonPlan<'_>, observer: &dyn Observer) -> Result<Record, RecordError> {
    // Curves, and the rest.
    let step = |done| report(observer, Stage { name: "making the page", done, total: 2 });
    step(0)?;
    let c = plan.comparison;
    let columns = || COMPARED.into_iter().filter(|column| !c.of(*column).is_empty());
    let mut figures = Figures { units: plan.units, ..Figures::default() };
    let curves: String = columns()
        .flat_map(|column| [charts(c, column, values_chart), charts(c, column, difference_chart)])
        .filter(|charts| charts[0].1.is_drawable())
        .map(|charts| figures.chart_by_unit(&charts))
        .collect();
    step(1)?;
    let mut csv = Vec::new();
    write_comparison_csv(c, &mut csv)?;
    let csv = serde_json::Value::String(String::from_utf8_lossy(&csv).into_owned());
    let body = [
        head::title("Comparison", plan.date, plan.title, plan.part_note),
        format!(
            "<nav aria-label=\"Parts of the page\"><a href=\"#verdict\">Verdict</a><a href=\"#tables\">Tables</a><a href=\"#curves\">Curves</a><a href=\"#figures\">Figures</a>{}</nav>",
            switches(plan.units)
        ),
        format!(
            "<main><section id=\"verdict\"><h2>Verdict</h2>{}</section><section id=\"tables\"><h2>What is compared</h2>{}{}</section>",
            verdict(c),
            facts(plan),
            summaries(c)
        ),
        format!(
            "<section id=\"curves\"><h2>Curves</h2><p>Rings mark stations where the difference exceeds twice the combined standard uncertainty. \
             The band around a difference is that interval. The second table is evaluated at the radii of the first.</p><div class=\"{SECOND_COLUMN}\">{curves}</div></section>"
        ),
        format!(
            "<section id=\"figures\"><h2>Figures</h2><div class=\"tools\"><button type=\"button\" id=\"copy-csv\">Copy as CSV</button>\
             <span id=\"table-note\" role=\"status\"></span></div>{}</section></main>",
            columns().map(|column| table(c, column)).collect::<String>()
        ),
        format!(
            "<script type=\"application/json\" id=\"table-csv\">{}</script>",
            json_in_script(&csv.to_string())
        ),
    ];
    Ok(Record {
        html: document(plan.title, &with_sentences(&body.concat(), plan.units)),
        plots: figures.plots,
        notices: Vec::new(),
    })
}

/// The name of a column in this comparison.
fn called(c: &Comparison, column: StationColumn) -> &'static str {
    match column {
        StationColumn::BladeAngleDeg if c.is_twist(column) => "twist of the blade angle",
        StationColumn::FaceAngleDeg if c.is_twist(column) => "twist of the face angle",
        other => crate::words::name(other),
    }
}

fn facts(plan: &ComparisonPlan<'_>) -> String {
    let side = |k: usize| {
        let (table, sha) = (plan.tables[k], plan.sha256[k]);
        let mut text = html(&plan.comparison.names[k]);
        if !sha.is_empty() {
            text.push_str(&format!(", SHA-256 <code>{}</code>", html(sha)));
        }
        if let Some(source) = table.source.as_ref().filter(|s| !s.file.is_empty()) {
            text.push_str(&format!("; measured from {}", html(&source.file)));
        }
        for (label, said) in [RecordText::Title, RecordText::Note, RecordText::Date]
            .into_iter()
            .filter_map(|text| Some((text.label(), html(table.record.get(text)?))))
            .chain(head::record_rows(&table.record))
        {
            text.push_str(&format!("; {}: {said}", label.to_lowercase()));
        }
        let stations = table.stations.len();
        format!(
            "{text}; {stations} stations, tip radius {}",
            length(table.blade.radius_m, table.blade.u.radius_m)
        )
    };
    let c = plan.comparison;
    let angles = c.twist_about.map_or("as given in the tables".to_owned(), |ratio| {
        format!("as twist: the angle of each table at {ratio} R is subtracted")
    });
    let rows = [
        ("First", side(0)),
        ("Second", side(1)),
        ("Differences", "the first minus the second".to_owned()),
        ("Angles", angles),
        (
            "Intervals",
            "± is a 95 % interval: twice the standard uncertainty of the difference; what both tables have in common counts once or not at all".to_owned(),
        ),
        ("Made by", format!("bladeform {}", env!("CARGO_PKG_VERSION"))),
    ];
    let rows: String =
        rows.iter().map(|(term, text)| format!("<div><dt>{term}</dt><dd>{text}</dd></div>")).collect();
    let notes = list("warnings", c.notes.iter().map(|n| sentence(n.sentence())));
    let notes = if notes.is_empty() { notes } else { format!("<h3>Notes</h3>{notes}") };
    format!("<dl class=\"facts\">{rows}</dl>{notes}")
}

/// Whether the blades are alike, and where not; the first sentence stands out.
fn verdict(c: &Comparison) -> String {
    let sentences = c.verdict_sentences();
    let (first, rest) = sentences.split_first().map_or(("", &[][..]), |(f, r)| (f.as_str(), r));
    let rest: String = rest.iter().map(|s| format!("<p>{}</p>", said(s))).collect();
    format!("<p><strong>{}</strong></p>{rest}", said(first))
}

/// Summary of each column over all radii, one row each.
fn summaries(c: &Comparison) -> String {
    let of = |(yes, all): (usize, usize)| if all == 0 { "–".to_owned() } else { format!("{yes} of {all}") };
    let rows: String = COMPARED
        .into_iter()
        .filter_map(|column| Some((column, c.summary(column)?)))
        .map(|(column, s)| {
            format!(
                "<tr><th scope=\"row\">{} {}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
                called(c, column),
                unit(column),
                figure(column, Some(s.mean), None),
                figure(column, Some(s.rms), None),
                of(s.significant),
                of(s.beyond_tolerance)
            )
        })
        .collect();
    format!(
        "<h3>Summary</h3><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Summary, scrolls sideways\"><table class=\"plain summary\"><thead><tr>\
         <th scope=\"col\">figure</th><th scope=\"col\">mean difference</th><th scope=\"col\">root mean square</th><th scope=\"col\">beyond 2 u</th>\
         <th scope=\"col\">beyond the tolerance</th></tr></thead><tbody>{rows}</tbody></table></div>\
         <p>A difference beyond 2 u is larger than the combined uncertainty of both measurements explains. Whether it matters depends on the tolerance, the authority and licensed practice.</p>"
    )
}

/// A chart in every unit that applies to it.
fn charts(
    c: &Comparison,
    column: StationColumn,
    chart: fn(&Comparison, StationColumn, Shown) -> Chart,
) -> Vec<(LengthUnit, Chart)> {
    let count = if column.unit() == ColumnUnit::Metre { LengthUnit::ALL.len() } else { 1 };
    LengthUnit::ALL[..count].iter().map(|unit| (*unit, chart(c, column, unit.shown(column)))).collect()
}

fn values_chart(c: &Comparison, column: StationColumn, shown: Shown) -> Chart {
    let series = |k: usize, name: &str| {
        let points = c.of(column).into_iter().map(|(s, f)| {
            let text = format!(
                "{:.3} R: {name} {} {}{}",
                s.radius_ratio,
                shown.text(Some(f.values[k])),
                shown.unit,
                difference_text(f)
            );
            point(s, f, f.values[k] * shown.factor, None, text)
        });
        Series { name: name.to_owned(), points: points.collect(), smooth: true, ..Series::default() }
    };
    Chart {
        title: format!("{} of both tables", capital(called(c, column))),
        y_label: format!("{} [{}]", shown.label, shown.unit),
        series: vec![series(0, "first"), series(1, "second")],
        finest: shown.last_digit(),
        ..frame(column, "")
    }
}

fn difference_chart(c: &Comparison, column: StationColumn, shown: Shown) -> Chart {
    let points = c.of(column).into_iter().map(|(s, f)| {
        let half = f.u.map(|u| COVERAGE_FACTOR_95 * u);
        let interval = half.map(|h| format!(" ± {}", shown.text(Some(h)))).unwrap_or_default();
        let value = shown.text(Some(f.difference));
        let text = format!(
            "{:.3} R: difference {value}{interval} {}{}",
            s.radius_ratio,
            shown.unit,
            difference_text(f)
        );
        point(s, f, f.difference * shown.factor, half.map(|h| h * shown.factor), text)
    });
    Chart {
        title: format!("{}: first minus second", capital(called(c, column))),
        y_label: format!("difference [{}]", shown.unit),
        series: vec![Series { name: "difference".to_owned(), points: points.collect(), ..Series::default() }],
        levels: vec![(0.0, String::new())],
        finest: shown.last_digit(),
        ..frame(column, "-difference")
    }
}

fn frame(column: StationColumn, kind: &str) -> Chart {
    let key = column.key().replace('_', "-");
    Chart {
        name: format!("compared-{key}{kind}"),
        x_label: "r/R of the first".to_owned(),
        ..Chart::default()
    }
}

fn point(
    s: &ComparedStation,
    f: &ComparedFigure,
    y: f64,
    half_width: Option<f64>,
    text: String,
) -> ChartPoint {
    ChartPoint {
        x: s.radius_ratio,
        y: Some(y),
        half_width,
        flagged: f.is_significant == Some(true),
        weak: false,
        text,
    }
}

/// Remarks about a difference, in brackets; empty if there are none.
fn difference_text(f: &ComparedFigure) -> String {
    let words = remarks(f);
    if words.is_empty() { words } else { format!(" ({words})") }
}

fn remarks(f: &ComparedFigure) -> String {
    let words = [
        (f.is_significant == Some(true), "beyond 2 u"),
        (f.is_significant.is_none(), "uncertainty unknown"),
        (f.is_beyond_tolerance == Some(true), "beyond the tolerance"),
        (f.is_between_stations, "second table interpolated"),
    ];
    words.iter().filter(|w| w.0).map(|w| w.1).collect::<Vec<_>>().join("; ")
}

fn table(c: &Comparison, column: StationColumn) -> String {
    let rows: String = c
        .of(column)
        .into_iter()
        .map(|(s, f)| {
            let value = |v: f64, u: Option<f64>| figure(column, Some(v), u);
            let stands_out = f.is_significant == Some(true) || f.is_beyond_tolerance == Some(true);
            format!(
                "<tr{}><td>{}</td><td>{:.3}</td><td>{}</td><td>{}</td><td>{}</td><td class=\"codes\">{}</td></tr>",
                if stands_out { " class=\"apart\"" } else { "" },
                figure(StationColumn::RadiusM, Some(s.radius_m), None),
                s.radius_ratio,
                value(f.values[0], None),
                value(f.values[1], None),
                value(f.difference, f.u),
                remarks(f)
            )
        })
        .collect();
    let (name, unit) = (capital(called(c, column)), unit(column));
    format!(
        "<h3>{name}</h3><div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{name}, scrolls sideways\"><table class=\"plain compared\"><thead><tr>\
         <th scope=\"col\">r<br>{}</th><th scope=\"col\">r/R</th><th scope=\"col\">first<br>{unit}</th><th scope=\"col\">second<br>{unit}</th>\
         <th scope=\"col\">difference<br>{unit}</th><th scope=\"col\"></th></tr></thead><tbody>{rows}</tbody></table></div>",
        crate::words::unit(StationColumn::RadiusM)
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{Allowed, ComparePlan, Station, compare};

    fn table(shorter_m: f64) -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for k in 0..5 {
            let mut station = Station::at(0.3 + 0.15 * f64::from(k), 1.0);
            station.chord_m = Some(0.2 - if k == 2 { shorter_m } else { 0.0 });
            station.u.chord_m = Some(3e-4);
            table.stations.push(station);
        }
        table
    }

    fn page(title: &str) -> (Comparison, Record) {
        let (worn, drawing) = (table(0.002), table(0.0));
        let tolerances = vec![(StationColumn::ChordM, Allowed::Absolute(1e-3))];
        let allowed = ComparePlan { tolerances, ..ComparePlan::default() };
        let comparison = compare([&worn, &drawing], ["worn.csv", "</script><b>x"], &allowed).unwrap();
        let plan = ComparisonPlan {
            comparison: &comparison,
            tables: [&worn, &drawing],
            sha256: ["aa", ""],
            title,
            part_note: "",
            date: "2026-01-31",
            units: ShownUnits::SI,
        };
        let made = comparison_page(&plan, &bladeform_numeric::observe::Silent);
        (comparison, made.unwrap())
    }

    #[test]
    fn the_station_that_differs_is_ringed_and_named_and_no_other() {
        let (comparison, made) = page("Worn");
        let chart = difference_chart(
            &comparison,
            StationColumn::ChordM,
            LengthUnit::Millimetre.shown(StationColumn::ChordM),
        );
        let points = &chart.series[0].points;
        assert_eq!(points.iter().map(|p| p.flagged).collect::<Vec<_>>(), [false, false, true, false, false]);
        // 2 u of two lengths, each with a standard uncertainty of 0.3 mm: 2 * 0.3 * sqrt 2 = 0.85 mm (JCGM 100:2008, equation 10).
        let half = points[2].half_width.unwrap();
        assert!((points[2].y.unwrap() + 2.0).abs() < 1e-9 && (half - 0.848_528).abs() < 1e-6, "{half}");
        assert_eq!(points[2].text, "0.600 R: difference -2.0 ± 0.8 mm (beyond 2 u; beyond the tolerance)");
        assert_eq!(made.html.matches("<tr class=\"apart\">").count(), 1);
        assert!(made.html.contains("1 of 5") && made.html.contains(bladeform_table::CAUTION));
    }

    #[test]
    fn names_and_titles_stay_text_and_the_page_is_the_same_twice() {
        let (one, two) = (page("<i>").1, page("<i>").1);
        assert_eq!(one, two);
        assert!(!one.html.contains("<b>x") && !one.html.contains("<i>"));
        assert_eq!(one.html.matches("<script").count(), one.html.matches("</script>").count());
    }
}
