//! Readings by hand on the page: the table, and a contradiction before everything else.

use bladeform_table::{CONTRADICTION, Reading, StationColumn, StationTable};

use crate::head::sentence;
use crate::unit::said;
use crate::words::{length_to, list};

/// Readings that contradict the scan, as a box for the top of the page; empty if they do not.
pub(crate) fn contradiction(table: &StationTable) -> String {
    let told = table.warnings.iter().filter(|w| w.code() == CONTRADICTION);
    told.map(|w| {
        format!("<p class=\"caution\"><strong>Contradiction.</strong> {}</p>", said(&sentence(w.sentence())))
    })
    .collect()
}

/// The readings beside the scan; empty without any.
pub(crate) fn readings(table: &StationTable) -> String {
    let Some(readings) = table.readings.as_ref().filter(|r| !r.rows.is_empty()) else {
        return String::new();
    };
    let heads: String = ["reading", "r/R", "by hand", "scan", "difference", "over its u"]
        .map(|name| format!("<th scope=\"col\">{name}</th>"))
        .concat();
    let rows: String = readings.rows.iter().map(|r| row(r, table.blade.radius_m)).collect();
    format!(
        "<h3>Readings by hand</h3><p>The difference is the reading less the scan. Beyond 2 of its combined standard uncertainties a single reading contradicts the scan.</p>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Readings by hand, scrolls sideways\"><table class=\"plain\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{}",
        list("readings", readings.remarks())
    )
}

fn row(r: &Reading, tip_radius_m: f64) -> String {
    let ratio = |radius_m: f64| StationColumn::RadiusRatio.shown().text(Some(radius_m / tip_radius_m));
    let place = r
        .to_radius_m
        .map_or_else(|| ratio(r.radius_m), |to| format!("{} to {}", ratio(r.radius_m), ratio(to)));
    let over = r.difference_over_u.map_or_else(|| "–".to_owned(), |z| format!("{z:.1}"));
    format!(
        "<tr><th scope=\"row\">{}</th><td>{place}</td><td>{}</td><td>{}</td><td>{}</td><td>{over}</td></tr>",
        r.of.shown().label,
        value(r, Some(r.reading), Some(r.u_reading)),
        value(r, r.scan, r.u_scan),
        value(r, r.difference, r.u_difference)
    )
}

/// A value with the half width of its 95 % interval. Lengths follow the unit switch.
fn value(r: &Reading, value: Option<f64>, u: Option<f64>) -> String {
    let shown = r.of.shown();
    let text = |v: f64, prefix: &str| {
        if r.of.is_angle() {
            format!("{prefix}{} {}", shown.text(Some(v)), shown.unit)
        } else {
            length_to(v, shown.decimals, prefix)
        }
    };
    let half =
        u.map(|u| format!(" <small>{}</small>", text(bladeform_quantity::COVERAGE_FACTOR_95 * u, "± ")));
    value.map_or_else(|| "–".to_owned(), |v| text(v, "") + &half.unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{Notice, ReadingOf, Readings};

    #[test]
    fn readings_stand_beside_the_scan_and_a_contradiction_on_top() {
        let mut table = StationTable::default();
        assert_eq!(readings(&table) + &contradiction(&table), "");
        table.blade.radius_m = 1.0;
        let read = Reading::new(ReadingOf::Thickness, 0.0248, None, 0.6);
        let read = Reading { scan: Some(0.0242), u_scan: Some(1e-4), ..read };
        table.readings = Some(Readings { rows: vec![read], ..Readings::default() });
        table.warnings.push(Notice::read("readings-contradict: off by <much>"));
        let page = readings(&table);
        assert!(page.contains("24.80 mm") && page.contains("24.20 mm") && page.contains("0.600"), "{page}");
        assert!(page.contains("resolution of the usual tool"), "{page}");
        assert!(contradiction(&table).contains("Off by &lt;much&gt;."));
    }
}
