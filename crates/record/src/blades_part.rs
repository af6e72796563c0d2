//! The blades of a whole propeller compared with one another, below the station table.

use bladeform_quantity::COVERAGE_FACTOR_95;
use bladeform_table::{BladeAlone, StationColumn, StationTable, compare_blades};

use crate::escape::html;
use crate::words::{figure, length_to, list, unit};

/// Decimals of the lengths, in millimetres.
const DECIMALS: usize = 1;
/// Stations of blades this close are the same, m: their radii differ by rounding alone.
const SAME_M: f64 = 1e-6;

/// The verdict, and tip radius, track and azimuth of each blade; empty for a single blade.
pub(crate) fn blades(table: &StationTable) -> String {
    let Ok(compared) = compare_blades(table, "") else { return String::new() };
    let heads: String = ["blade", "tip radius", "track", "azimuth", "off even spacing"]
        .map(|name| format!("<th scope=\"col\">{name}</th>"))
        .concat();
    let rows: String = compared.blades.iter().map(row).collect();
    let notes = compared.notes.iter().map(|n| n.sentence().to_owned());
    format!(
        "<h3>Blades compared with one another</h3>{}\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Blades compared, scrolls sideways\"><table class=\"plain\"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>\
         <p>Track: height of the mid-chord at {} above the mean plane of the blades, towards flight. Azimuth: of the mid-chords, from blade 1 in the direction of rotation. The small numbers are half widths of 95 % intervals.</p>{}",
        list("blades", compared.verdict_sentences()),
        length_to(compared.track_radius_m, DECIMALS, ""),
        list("blades", notes) + &each(table)
    )
}

/// Figures of each blade at each station. `table`: of a whole propeller.
fn each(table: &StationTable) -> String {
    const SHOWN: [StationColumn; 3] =
        [StationColumn::ChordM, StationColumn::BladeAngleDeg, StationColumn::ThicknessM];
    let over: String = table
        .blades
        .iter()
        .map(|b| {
            let n = b.index.saturating_add(1);
            format!("<th scope=\"colgroup\" class=\"blade\" colspan=\"{}\">blade {n}</th>", SHOWN.len())
        })
        .collect();
    let of_blade: String = SHOWN
        .iter()
        .enumerate()
        .map(|(k, c)| {
            let first = if k == 0 { " class=\"blade\"" } else { "" };
            format!("<th scope=\"col\"{first}>{}<br>{}</th>", html(c.shown().label), unit(*c))
        })
        .collect();
    let rows: String = table
        .stations
        .iter()
        .map(|station| {
            let cells: String = table
                .blades
                .iter()
                .map(|blade| {
                    let own = blade.stations.iter().find(|s| (s.radius_m - station.radius_m).abs() < SAME_M);
                    let cell = |(k, c): (usize, &StationColumn)| {
                        let first = if k == 0 { " class=\"blade\"" } else { "" };
                        let (value, u) = own.map_or((None, None), |s| (c.get(s), c.u(s)));
                        format!("<td{first}>{}</td>", figure(*c, value, u))
                    };
                    SHOWN.iter().enumerate().map(cell).collect::<String>()
                })
                .collect();
            format!(
                "<tr><th scope=\"row\">{}</th><td>{:.3}</td>{cells}</tr>",
                figure(StationColumn::RadiusM, Some(station.radius_m), None),
                station.radius_ratio
            )
        })
        .collect();
    format!(
        "<h3>Each blade at each station</h3>\
         <div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Figures of each blade, scrolls sideways\"><table class=\"each\">\
         <thead><tr><th scope=\"col\" rowspan=\"2\">radius<br>{}</th><th scope=\"col\" rowspan=\"2\">r/R</th>{over}</tr><tr>{}</tr></thead><tbody>{rows}</tbody></table></div>",
        unit(StationColumn::RadiusM),
        of_blade.repeat(table.blades.len())
    )
}

fn row(blade: &BladeAlone) -> String {
    let cell = |told: Option<(f64, Option<f64>)>, text: &dyn Fn(f64, &str) -> String| {
        let Some((value, u)) = told else { return "<td>–</td>".to_owned() };
        let half =
            u.map(|u| format!(" <small>{}</small>", text(COVERAGE_FACTOR_95 * u, "± "))).unwrap_or_default();
        format!("<td>{}{half}</td>", text(value, ""))
    };
    let length = |v: f64, prefix: &str| length_to(v, DECIMALS, prefix);
    let angle = |v: f64, prefix: &str| {
        // No minus before a zero.
        let rounded = (1e2 * v).round() / 1e2 + 0.0;
        format!("{prefix}{rounded:.2} deg")
    };
    format!(
        "<tr><th scope=\"row\">{}</th>{}{}{}{}</tr>",
        blade.index + 1,
        cell(blade.tip_radius_m, &length),
        cell(blade.track_m, &length),
        cell(blade.azimuth_deg, &angle),
        cell(blade.off_even_spacing_deg, &angle)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::{BladeFigures, BladeRows, Rotation, Station};

    #[test]
    fn a_propeller_has_a_row_for_each_blade_and_a_single_blade_none() {
        let station = |ratio: f64| Station {
            chord_m: Some(0.1),
            mid_chord_x_m: Some(0.0),
            mid_chord_y_m: Some(0.002),
            ..Station::at(ratio, 1.0)
        };
        let blade = |k: u64| BladeRows {
            index: k,
            azimuth_deg: Some(180.0 * k as f64),
            tip_radius_m: Some(1.0),
            u_tip_radius_m: Some(1e-3),
            stations: [0.3, 0.5, 0.7, 0.9].map(station).to_vec(),
            ..BladeRows::default()
        };
        let mut table = StationTable {
            blade: BladeFigures { radius_m: 1.0, ..BladeFigures::default() },
            rotation: Some(Rotation { u_axis_place_m: Some(1e-4), ..Rotation::default() }),
            blades: vec![blade(0), blade(1)],
            ..StationTable::default()
        };
        let html = blades(&table);
        for needed in [
            "Blades compared",
            "<th scope=\"row\">2</th>",
            "180.00 deg",
            "symmetry of the blades",
            "900.0 mm",
            "Each blade at each station",
            "colspan=\"3\">blade 2</th>",
        ] {
            assert!(html.contains(needed), "{needed}: {html}");
        }
        table.blades.clear();
        assert_eq!(blades(&table), "");
    }
}
