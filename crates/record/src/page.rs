//! Assembles the page.

use bladeform_document::{write_csv, write_json};
use bladeform_numeric::observe::{Observer, Stage, report};
use bladeform_quantity::{Hand, ShownUnits};
use bladeform_table::{Prediction, StationTable};

use crate::checks::Verdict;
use crate::curves::form_curves_by_unit;
use crate::escape::{html, json_in_script};
use crate::figures::{Figures, Plot, SECOND_COLUMN};
use crate::front::Front;
use crate::notice::{NoScan, RecordNotice};
use crate::photograph::{self, Picture};
use crate::scan::{BladeView, PlacedScan, ScanPart};
use crate::unit::with_sentences;
use crate::{RecordError, assets, head, performance_part, readings_part, sheet_part, table_part, view_part};

/// This attribute occurs in a curve that shows the smooth blade. The sentence is then added to the page.
const SMOOTH_CLASS: &str = "class=\"guide\"";
const SMOOTH_TEXT: &str = " The thin solid line is the smooth blade: one curve fitted to all stations, weighted by their uncertainties. \
    No single station can bend it. A value is flagged if it differs from this curve by more than their combined uncertainty explains. \
    The line is left out where the blade form changes too quickly for such a curve, for example near the root.";

/// The scripts of the 3-D view, for pages that have one: those that other pages may have too, then its contents and controls.
const VIEW_SCRIPTS: [&str; 4] =
    [assets::SCRIPTS[0].1, assets::SCRIPTS[1].1, assets::SCRIPTS[2].1, include_str!("../assets/space.js")];

/// What goes into a record.
#[derive(Clone, Copy, Debug)]
pub struct RecordPlan<'a> {
    /// The station table.
    pub table: &'a StationTable,
    /// Predictions made from it, in page order.
    pub predictions: &'a [Prediction],
    /// The scan that the table was measured from; `None` shows only the outlines.
    pub scan: Option<&'a ScanPart>,
    /// Why there is no scan, for the page; of no effect with a scan.
    pub no_scan: Option<&'a NoScan>,
    /// Photographs of the part, in page order. Those that the table names and that are not among them are reported as missing.
    pub pictures: &'a [Picture],
    /// Heading: the name of the part.
    pub title: &'a str,
    /// Free text below the heading; may be empty.
    pub part_note: &'a str,
    /// The date of the record, as displayed. It is an input, so that the same inputs give the same page.
    pub date: &'a str,
    /// The units in which the page begins; its switch has the others.
    pub units: ShownUnits,
}

impl<'a> RecordPlan<'a> {
    /// A table only, without scan, prediction, date or note.
    #[must_use]
    pub const fn of(table: &'a StationTable) -> Self {
        Self {
            table,
            predictions: &[],
            scan: None,
            no_scan: None,
            pictures: &[],
            title: "Propeller blade",
            part_note: "",
            date: "undated",
            units: ShownUnits::SI,
        }
    }
}

/// A finished record.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// The page.
    pub html: String,
    /// Its charts and drawings as files.
    pub plots: Vec<Plot>,
    /// Notices about the page itself. They are also on the page.
    pub notices: Vec<RecordNotice>,
}

/// Makes the record of a table.
///
/// # Errors
/// [`RecordError`] if the table has no station, or has no frame for the position of the blade in the scan;
/// [`RecordError::Stopped`] if the observer ends the call.
pub fn record(plan: &RecordPlan<'_>, observer: &dyn Observer) -> Result<Record, RecordError> {
    let table = plan.table;
    // Scan, view, curves, sheets, every prediction, and the documents in the page.
    let total = 5 + plan.predictions.len();
    let step = |done| report(observer, Stage { name: "making the page", done, total });
    if table.stations.is_empty() {
        return Err(RecordError::NoStation);
    }
    step(0)?;
    let blades = BladeView::all(table);
    let scan = plan.scan.map(|part| PlacedScan::new(part, table, &blades)).transpose()?;
    let no_scan = plan.no_scan.filter(|_| scan.is_none()).cloned();
    let mut notices: Vec<RecordNotice> = no_scan.into_iter().map(RecordNotice::NoScan).collect();
    let shown = |sha256: &str| plan.pictures.iter().any(|p| p.named().sha256 == sha256);
    let missing: Vec<String> = table
        .record
        .photographs
        .iter()
        .filter(|named| !shown(&named.sha256))
        .map(|named| named.file.clone())
        .collect();
    if !missing.is_empty() {
        notices.push(RecordNotice::PhotographsMissing { files: missing });
    }
    step(1)?;
    let mut figures = Figures { units: plan.units, ..Figures::default() };
    let drawing = view_part::drawing(table, scan.as_ref(), &mut figures);
    let screw = view_part::screw(table, &mut figures);
    let view = view_part::view(table, &blades, scan.as_ref(), &mut notices);
    step(2)?;
    let curves: String =
        form_curves_by_unit(table).iter().map(|charts| figures.chart_by_unit(charts)).collect();
    step(3)?;
    let (sheets, count) = sheet_part::sheets(&blades, scan.as_ref());
    let mut performance = String::new();
    for (index, prediction) in plan.predictions.iter().enumerate() {
        step(4 + index)?;
        performance.push_str(&performance_part::prediction(prediction, table, index, &mut figures));
    }
    step(total - 1)?;
    let version = env!("CARGO_PKG_VERSION");
    let verdict = Verdict::of(table, view_part::check(table, scan.as_ref()));
    let front = Front {
        table,
        date: plan.date,
        title: plan.title,
        part_note: plan.part_note,
        drawing: &drawing,
        is_lit: view.contains(view_part::STAGE),
        verdict: &verdict,
        damage: scan.as_ref().and_then(|s| s.dents.in_words()),
    };
    let body = [
        navigation(plan, !screw.is_empty()),
        front.html(),
        "<main>".to_owned(),
        view,
        screw,
        photograph::section(plan.pictures),
        format!(
            "<section id=\"warnings\"><h2>Readings, warnings and flags</h2>{}{}</section>",
            readings_part::readings(table),
            head::remarks(table, &notices)
        ),
        format!(
            "<section id=\"curves\"><h2>Blade-form curves</h2><p>Bands are 95 % intervals. Rings mark flagged stations. Lines between stations are smooth interpolations.{} \
             </p><div class=\"{SECOND_COLUMN}\">{curves}</div></section>",
            if curves.contains(SMOOTH_CLASS) { SMOOTH_TEXT } else { "" }
        ),
        format!(
            "<section id=\"sections\"><h2>Section sheets</h2>{}{}{sheets}</section>",
            seen_from(table) + &printed(blades.len()) + &sheet_part::key(count),
            sheet_tools(count, blades.len())
        ),
        format!(
            "<section id=\"part\"><h2>How the figures were obtained</h2>{}{}</section>",
            head::facts(table, version),
            head::repairs(table)
        ),
        format!(
            "<section id=\"stations\"><h2>Station table</h2>{}</section>",
            table_part::station_table(table) + &crate::blades_part::blades(table)
        ),
        performance,
        "</main>".to_owned(),
        documents(table)?,
    ];
    Ok(Record {
        html: document(plan.title, &with_sentences(&body.concat(), plan.units)),
        plots: figures.plots,
        notices,
    })
}

/// The viewing direction of the section sheets. In blade axes the leading edge is towards `x`, on the right when seen from the tip. The
/// sheets draw it on the left. The axes of a left-hand blade are mirrored.
fn seen_from(table: &StationTable) -> String {
    let (from, hand) = match table.hand() {
        Hand::Right => ("the root towards the tip", "right"),
        Hand::Left => ("the tip towards the root", "left"),
    };
    format!(
        "<p>Leading edge on the left, back on top: the sections of this {hand}-hand blade are seen from {from}. \
         Below each section is scan minus outline: dots on the back, rings on the face; dashed: twice the rms.</p>"
    )
}

fn navigation(plan: &RecordPlan<'_>, has_screw: bool) -> String {
    let (predictions, units) = (plan.predictions.len(), plan.units);
    let links = [
        ("front", "Overview"),
        ("view", "Blade"),
        ("screw", "Screw"),
        ("photographs", "Photographs"),
        ("warnings", "Warnings"),
        ("curves", "Curves"),
        ("sections", "Sections"),
        ("part", "Provenance"),
        ("stations", "Table"),
    ];
    let links: String = links
        .iter()
        .filter(|(id, _)| match *id {
            "screw" => has_screw,
            "photographs" => !plan.pictures.is_empty(),
            _ => true,
        })
        .map(|(id, name)| format!("<a href=\"#{id}\">{name}</a>"))
        .chain((0..predictions).map(|k| {
            let number = if predictions > 1 { format!(" {}", k + 1) } else { String::new() };
            format!("<a href=\"#performance-{k}\">Performance{number}</a>")
        }))
        .collect();
    format!("<nav aria-label=\"Parts of the page\">{links}{}</nav>", switches(units))
}

/// The switches of unit and theme.
pub(crate) fn switches(units: ShownUnits) -> String {
    let unit = crate::unit::switch(units);
    format!(
        "<span class=\"switches\">{unit}\
         <label>Theme <select id=\"theme\"><option value=\"\">system</option><option value=\"light\">light</option><option value=\"dark\">dark</option></select></label></span>"
    )
}

fn sheet_tools(count: usize, blades: usize) -> String {
    if count == 0 {
        return String::new();
    }
    let every = match blades {
        0 | 1 => "",
        _ => "<label><input type=\"checkbox\" id=\"sheet-every\"> print the sheets of every blade</label>",
    };
    format!(
        "<div class=\"tools\" id=\"sheet-tools\" hidden><button type=\"button\" id=\"sheet-before\">← Inboard</button><label>Station <select id=\"sheet-choice\"></select></label>\
         <button type=\"button\" id=\"sheet-after\">Outboard →</button><label><input type=\"checkbox\" id=\"sheet-all\"> show all</label>{every}</div>"
    )
}

/// What paper shows of the sheets of several blades; empty for one.
fn printed(blades: usize) -> String {
    match blades {
        0 | 1 => String::new(),
        n => format!(
            "<p class=\"on-paper first-only\">Printed are the sheets of blade 1. Those of all {n} blades are on the page in the browser, which can print them; \
             the chord, angle and thickness of each blade are in the table of the blades.</p>"
        ),
    }
}

/// The table as JSON for downloading and as CSV for copying.
fn documents(table: &StationTable) -> Result<String, RecordError> {
    let (mut json, mut csv) = (Vec::new(), Vec::new());
    write_json(table, &mut json)?;
    write_csv(table, &mut csv)?;
    let csv = serde_json::Value::String(String::from_utf8_lossy(&csv).into_owned());
    Ok(format!(
        "<script type=\"application/json\" id=\"table-json\">{}</script><script type=\"application/json\" id=\"table-csv\">{}</script>",
        json_in_script(&String::from_utf8_lossy(&json)),
        json_in_script(&csv.to_string())
    ))
}

/// The whole file. The content security policy forbids every request, so the page shows only what the file contains.
pub(crate) fn document(title: &str, body: &str) -> String {
    let view = if body.contains("id=\"view-data\"") { VIEW_SCRIPTS.concat() } else { String::new() };
    [
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; img-src data: blob:\">\
         <link rel=\"icon\" href=\"data:,\"><title>",
        &html(title),
        "</title><style>",
        assets::STYLES[0].1,
        include_str!("../assets/front.css"),
        assets::STYLES[1].1,
        "</style></head><body>",
        body,
        "<script>",
        include_str!("../assets/page.js"),
        &view,
        include_str!("../assets/triangle.js"),
        "</script></body></html>\n",
    ]
    .concat()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loft::tests::elliptic_table;
    use crate::performance::tests::prediction;
    use bladeform_numeric::observe::Silent;
    use bladeform_table::{Flag, Notice};

    #[test]
    fn foreign_text_cannot_become_markup_anywhere_on_the_page() {
        let evil = "</script><b>x</b>";
        let mut table = elliptic_table();
        table.warnings.push(Notice::read(evil));
        table.stations[1].flags.push(Flag::read(evil));
        table.source = Some(bladeform_table::Source {
            file: evil.to_owned(),
            format: evil.to_owned(),
            ..Default::default()
        });
        table.extra.insert("note".to_owned(), evil.into());
        let plan = RecordPlan {
            title: evil,
            part_note: evil,
            date: evil,
            no_scan: Some(&NoScan::NotInFolder { file: evil.to_owned() }),
            predictions: &[prediction()],
            ..RecordPlan::of(&table)
        };
        let made = record(&plan, &Silent).unwrap();
        assert!(!made.html.contains("<b>x"), "markup got through");
        let scripts = made.html.matches("<script").count();
        assert_eq!(scripts, made.html.matches("</script>").count());
        assert!(made.plots.iter().all(|p| !p.svg.contains("<b>x")));
    }

    #[test]
    fn no_script_of_the_page_ends_early() {
        let page = record(&RecordPlan::of(&elliptic_table()), &Silent).unwrap().html;
        for script in VIEW_SCRIPTS {
            assert!(page.contains(script), "a script of the view is missing");
            assert!(!script.contains("</script") && !script.contains("<!--"));
        }
    }

    #[test]
    fn the_page_carries_the_table_and_is_the_same_twice() {
        let table = elliptic_table();
        let (one, two) = (
            record(&RecordPlan::of(&table), &Silent).unwrap(),
            record(&RecordPlan::of(&table), &Silent).unwrap(),
        );
        assert_eq!(one, two);
        let json = one.html.split("id=\"table-json\">").nth(1).unwrap().split("</script>").next().unwrap();
        let mut written = Vec::new();
        write_json(&table, &mut written).unwrap();
        let read = bladeform_document::read_json(json.as_bytes()).unwrap();
        assert!(
            read == bladeform_document::read_json(&written[..]).unwrap(),
            "the page carries another table"
        );
        assert!(one.html.contains(bladeform_table::CAUTION));
    }

    #[test]
    fn the_side_that_sections_are_seen_from_goes_by_the_hand() {
        let mut table = elliptic_table();
        let seen = |table: &StationTable, words: &str| {
            record(&RecordPlan::of(table), &Silent).unwrap().html.contains(words)
        };
        assert!(seen(&table, "right-hand blade are seen from the root towards the tip"));
        table.frame = Some(bladeform_table::Frame { hand: Hand::Left, ..Default::default() });
        assert!(seen(&table, "left-hand blade are seen from the tip towards the root"));
        assert!(seen(&table, "seen from behind, looking in the flight direction"));
    }

    #[test]
    fn a_table_without_stations_is_refused() {
        assert!(matches!(
            record(&RecordPlan::of(&StationTable::default()), &Silent),
            Err(RecordError::NoStation)
        ));
    }

    #[test]
    fn no_address_of_another_machine_is_on_the_page() {
        let made = record(&RecordPlan::of(&elliptic_table()), &Silent).unwrap();
        let allowed = ["http://www.w3.org/2000/svg", "http://www.w3.org/1999/xhtml"];
        for (at, _) in made.html.match_indices("http") {
            let rest = &made.html[at..];
            assert!(
                !rest.starts_with("http://") && !rest.starts_with("https://")
                    || allowed.iter().any(|a| rest.starts_with(a)),
                "{}",
                &rest[..60]
            );
        }
    }
}
