//! The station table of the page: every column, sortable, in the chosen unit.

use bladeform_table::{Station, StationColumn, StationTable};

use crate::escape::html;
use crate::unit::hint;
use crate::words::{attributes, figure, unit};

/// The table with its controls.
pub(crate) fn station_table(table: &StationTable) -> String {
    let columns: Vec<StationColumn> =
        StationColumn::all().filter(|c| table.stations.iter().any(|s| c.get(s).is_some())).collect();
    let head: String = columns
        .iter()
        .map(|c| {
            format!(
                "<th scope=\"col\" aria-sort=\"none\"><button type=\"button\" class=\"sort\" title=\"{}\">{}<br>{}</button></th>",
                html(c.meaning()),
                html(c.shown().label),
                unit(*c)
            )
        })
        .collect();
    let rows: String = table.stations.iter().map(|s| row(s, &columns)).collect();
    let mean = if table.blades.is_empty() {
        ""
    } else {
        " The rows and the curves above are means over the blades. The values of each blade are on its section sheets and in stations.json."
    };
    format!(
        "<div class=\"tools\"><button type=\"button\" id=\"copy-csv\">Copy as CSV</button>\
         <button type=\"button\" id=\"save-json\">Download stations.json</button><span id=\"table-note\" role=\"status\"></span></div>\
         <p><span class=\"on-screen\">Click a heading to sort by its column. </span>The small number is the half width of the 95 % interval. CSV and JSON keep SI units and all digits.{mean}</p>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Station table, scrolls sideways\"><table id=\"stations-table\" class=\"stations\">\
         <thead><tr>{head}<th scope=\"col\">flags</th></tr></thead><tbody>{rows}</tbody></table></div>"
    )
}

fn row(station: &Station, columns: &[StationColumn]) -> String {
    let cells: String = columns
        .iter()
        .map(|c| {
            let value = c.get(station);
            // Sorting uses the exact value of the cell. Missing values come last.
            let sort = value.map(|v| attributes(*c, v)).unwrap_or_default();
            format!("<td data-key=\"{}\" {sort}>{}</td>", c.key(), figure(*c, value, c.u(station)))
        })
        .collect();
    // One code for the flags of several blades; its tip has every sentence.
    let mut codes: Vec<(&str, Vec<String>)> = Vec::new();
    for flag in &station.flags {
        match codes.iter_mut().find(|(of, _)| *of == code(flag)) {
            Some((_, texts)) => texts.push(flag.text()),
            None => codes.push((code(flag), vec![flag.text()])),
        }
    }
    let flags: Vec<String> = codes
        .iter()
        .map(|(code, texts)| format!("<abbr{}>{}</abbr>", hint(&texts.join("; ")), html(code)))
        .collect();
    format!("<tr>{cells}<td class=\"codes\">{}</td></tr>", flags.join(", "))
}

fn code(flag: &bladeform_table::Flag) -> &str {
    match flag.code() {
        "" => "noted",
        code => code,
    }
}
