//! The list of dents and raised areas on the page, and what they are to the verdict.

use bladeform_quantity::COVERAGE_FACTOR_95;

use crate::checks::{Check, Outcome};
use crate::dents::{Dent, Dents, MOST_LISTED};
use crate::words::length_to;

/// Decimals of depths in millimetres.
const DEPTH_DECIMALS: usize = 2;

/// The list, with the rule by which an area is in it. `tip_radius_m`: for places as fractions.
pub(crate) fn list(dents: &Dents, tip_radius_m: f64) -> String {
    let mut text = String::from("<h3>Dents and raised areas</h3>");
    let least_m = dents.limit * dents.scatter_m;
    let rule = format!(
        "The mean distance over each patch of {} is compared with the median of the patches around it, 2.5 to 5 patches away. An area is listed if it differs by more than {:.1} standard deviations of the patches' own scatter, here {} on most of the surface: \
         of forty scans without damage one would have an entry by chance.",
        length_to(dents.size_m, 1, ""),
        dents.limit,
        length_to(least_m, DEPTH_DECIMALS, "")
    );
    if dents.limit <= 0.0 {
        text.push_str("<p>The scan has too few points between the stations to look for dents.</p>");
        return text;
    }
    if dents.found.is_empty() {
        text.push_str(&format!("<p>None found. {rule} {NOT_SEARCHED}</p>"));
        return text;
    }
    let heads = [
        "side",
        "radius",
        "r/R<br>-",
        "from the leading edge<br>% of the chord",
        "extent along the radius",
        "extent across",
        "depth or height",
    ];
    let heads: String = heads.iter().map(|h| format!("<th scope=\"col\">{h}</th>")).collect();
    let rows: String = dents.found.iter().take(MOST_LISTED).map(|d| row(d, tip_radius_m)).collect();
    let more = dents.found.len().saturating_sub(MOST_LISTED);
    let more = if 0 < more { format!("<p>And {more} shallower ones.</p>") } else { String::new() };
    text.push_str(&format!(
        "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Dents and raised areas, scrolls sideways\"><table class=\"plain dents\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>{more}\
         <p>{rule} The depth is that of the deepest place against the surface around; ± is its 95 % interval. Stations whose outlines a dent has drawn along are left out of the surface it is measured against. A dent narrower than a patch may be deeper than stated. The extent is that at half the depth. {NOT_SEARCHED}</p>"
    ));
    text
}

/// Where no dent is found by this rule.
const NOT_SEARCHED: &str = "Not searched: a strip as wide as a patch along both edges (see the section sheets there), beyond the first and the last station, sections thicker than 35 % of the chord, and around holes. A wide, shallow dent over a station may be missed, as the fitted outline follows it.";

fn row(dent: &Dent, tip_radius_m: f64) -> String {
    let of_blade = dent.blade.map(|b| format!("blade {}, ", b.saturating_add(1))).unwrap_or_default();
    let what = if dent.is_below() { "deep" } else { "high" };
    format!(
        "<tr><th scope=\"row\">{of_blade}{}</th><td>{}</td><td>{:.3}</td><td>{:.0}</td><td>{}</td><td>{}</td><td>{} <small>{}</small> {what}</td></tr>",
        dent.side.name(),
        length_to(dent.radius_m, 0, ""),
        dent.radius_m / tip_radius_m,
        100.0 * dent.chord_share,
        length_to(dent.extent_m[0], 0, ""),
        length_to(dent.extent_m[1], 0, ""),
        length_to(dent.height_m.abs(), DEPTH_DECIMALS, ""),
        length_to(dent.half_width_m(), DEPTH_DECIMALS, "± ")
    )
}

/// The scan against the fitted outlines as a check of the first screen. `median_m`: of the absolute distances of single points.
pub(crate) fn check(dents: &Dents, median_m: f64, is_strange: bool) -> Check {
    const OF: &str = "Scan and outlines";
    let mm = |v: f64| format!("{:.2} mm", 1e3 * v);
    if is_strange {
        return Check::new(
            OF,
            Outcome::Contradicts,
            format!(
                "half of the points lie farther than {} from the fitted outlines: the table may be of another scan.",
                mm(median_m)
            ),
        );
    }
    let points = format!("half of the points lie within {} of the fitted outlines", mm(median_m));
    let patches = if 0.0 < dents.limit {
        format!(
            ", patches of {:.0} mm within ± {} (95 %)",
            1e3 * dents.size_m,
            mm(COVERAGE_FACTOR_95 * dents.scatter_m)
        )
    } else {
        String::new()
    };
    match dents.in_words() {
        Some(words) => Check::new(OF, Outcome::Open, format!("{points}{patches}; {words} (below).")),
        None => Check::new(OF, Outcome::Agrees, format!("{points}{patches}; no dent stands clear of that.")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::patches::BladeSide;

    #[test]
    fn a_dent_is_told_with_its_place_extent_and_depth() {
        let dent = Dent {
            blade: Some(1),
            side: BladeSide::Back,
            radius_m: 0.9,
            chord_share: 0.42,
            extent_m: [0.02, 0.014],
            height_m: -0.0018,
            u_height_m: 0.0001,
            along_m: 0.08,
        };
        let none = Dents { scatter_m: 1e-4, limit: 4.2, size_m: 0.01, ..Dents::default() };
        assert!(list(&none, 1.5).contains("None found") && list(&none, 1.5).contains("0.42 mm"));
        let one = Dents { found: vec![dent], ..none };
        let text = list(&one, 1.5);
        for words in [
            "blade 2, back",
            "900 mm",
            "0.600",
            "<td>42</td>",
            "20 mm",
            "14 mm",
            "1.80 mm",
            "± 0.20 mm",
            "deep",
        ] {
            assert!(text.contains(words), "{words} is missing: {text}");
        }
        assert_eq!(one.in_words().as_deref(), Some("1 dent"));
        assert!(list(&Dents::default(), 1.5).contains("too few points"));
    }
}
