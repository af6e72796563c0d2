//! Writing `blades.json` and `blades.csv`: the blades of one propeller compared with one another.

use std::io::Write;

use bladeform_table::{
    Balance, BladeAlone, BladeDeparture, BladeMoment, BladeRow, BladesComparison, CAUTION, Departing,
    FigureVerdict, Map, SeenFrom, Weight,
};
use serde_json::Value;

use crate::json_write::{Made, print, texts_value};
use crate::number::figure_value;
use crate::{DocumentError, figure_cell};

/// The schema of `blades.json`.
pub const BLADES_SCHEMA: &str = "bladeform.blades/1";

/// Writes a comparison of blades as JSON. `file`, `sha256`: the table's.
///
/// # Errors
/// [`DocumentError::Write`] if writing to `out` fails.
pub fn write_blades_json(
    comparison: &BladesComparison,
    [file, sha256]: [&str; 2],
    mut out: impl Write,
) -> Result<(), DocumentError> {
    let mut text = String::new();
    print(&blades_value(comparison, [file, sha256]), 0, &mut text);
    text.push('\n');
    out.write_all(text.as_bytes())?;
    out.flush()?;
    Ok(())
}

fn blades_value(comparison: &BladesComparison, [file, sha256]: [&str; 2]) -> Value {
    let v = &comparison.verdict;
    let list = |values: Vec<Value>| Value::Array(values);
    let seen = |s: &SeenFrom| {
        done(
            Made::default()
                .with("figure", s.column.key())
                .figure("shape", Some(s.shape))
                .figure("shift", s.shift),
        )
    };
    Made::default()
        .with("schema", BLADES_SCHEMA)
        .with("table", done(Made::default().text("file", file).text("sha256", sha256)))
        .with("alike", v.is_alike())
        .with("verdict", comparison.verdict_sentences())
        .figure("limit", Some(v.limit))
        .figure("shift_limit", Some(v.shift_limit))
        .figure("whole_limit", Some(v.whole_limit))
        .with("departures", list(v.departures.iter().map(departure_value).collect()))
        .with("seen_from", list(v.seen_from.iter().map(seen).collect()))
        .figure("track_radius_m", Some(comparison.track_radius_m))
        .with("blades", list(comparison.blades.iter().map(alone_value).collect()))
        .with("rows", list(comparison.rows.iter().map(row_value).collect()))
        .with_some("balance", comparison.balance.as_ref().map(balance_value))
        .with("warnings", texts_value(&comparison.notes))
        .with("caution", CAUTION)
        .done(&Map::new())
}

fn balance_value(balance: &Balance) -> Value {
    let pair = |v: [f64; 2]| Value::Array(v.iter().map(|v| figure_value(Some(*v))).collect());
    let [a, b] = balance.unbalance_kg_m;
    let blade = |b: &BladeMoment| {
        done(
            Made::default()
                .with("index", b.index)
                .figure("mass_kg", Some(b.mass_kg))
                .figure("moment_kg_m", Some(b.moment_kg_m.value))
                .figure("u_moment_kg_m", Some(b.moment_kg_m.u)),
        )
    };
    let weight = |w: &Weight| {
        done(
            Made::default()
                .with("index", w.index)
                .figure("mass_kg", Some(w.mass_kg.value))
                .figure("u_mass_kg", Some(w.mass_kg.u)),
        )
    };
    let size = balance.size_kg_m();
    let u_from = balance.u_from.iter();
    let u_from = u_from.fold(Made::default(), |made, (source, u)| made.with(source.key(), pair(*u)));
    done(
        Made::default()
            .figure("density_kg_m3", Some(balance.density_kg_m3))
            .with("by", balance.by.key())
            .figure("mass_kg", Some(balance.mass_kg))
            .with("blades", Value::Array(balance.blades.iter().map(blade).collect()))
            .figure("unbalance_kg_m", Some(size.value))
            .figure("u_unbalance_kg_m", Some(size.u))
            .figure("heavy_deg", Some(balance.heavy_deg()))
            .with("beyond_chance", balance.is_beyond_chance())
            .with("components_kg_m", pair([a.value, b.value]))
            .with("u_components_kg_m", pair([a.u, b.u]))
            .with("u_from", done(u_from))
            .figure("weight_radius_m", Some(balance.weight_radius_m))
            .with("weights", Value::Array(balance.weights.iter().map(weight).collect()))
            .figure("across_kg_m", balance.across_kg_m.map(|m| m.value))
            .figure("u_across_kg_m", balance.across_kg_m.map(|m| m.u)),
    )
}

fn done(made: Made) -> Value {
    made.done(&Map::new())
}

fn departure_value(departure: &BladeDeparture) -> Value {
    let made = |figure: &str| {
        Made::default()
            .with("figure", figure)
            .with("index", departure.index)
            .with("others", departure.others.clone())
    };
    done(match &departure.what {
        Departing::Whole(of, d) => made(of.key()).figure("difference", Some(d.value)).figure("u", Some(d.u)),
        Departing::Figure(f) => figure_value_of(made(f.column.key()), f),
    })
}

fn figure_value_of(made: Made, f: &FigureVerdict) -> Made {
    let place = |p: &bladeform_table::UnlikePlace| {
        done(
            Made::default()
                .figure("from_ratio", Some(p.from_to[0]))
                .figure("to_ratio", Some(p.from_to[1]))
                .figure("at_ratio", Some(p.at))
                .figure("difference", Some(p.difference.value))
                .figure("u", Some(p.difference.u)),
        )
    };
    made.figure("shift", f.shift.map(|s| s.value))
        .figure("u_shift", f.shift.map(|s| s.u))
        .with("is_shifted", f.is_shifted)
        .with("places", Value::Array(f.places.iter().map(place).collect()))
}

fn alone_value(blade: &BladeAlone) -> Value {
    let add = |made: Made, key: &str, told: Option<(f64, Option<f64>)>| {
        made.figure(key, told.map(|t| t.0)).figure(&format!("u_{key}"), told.and_then(|t| t.1))
    };
    let made = Made::default().with("index", blade.index);
    let made = add(made, "tip_radius_m", blade.tip_radius_m);
    let made = add(made, "track_m", blade.track_m);
    let made = add(made, "azimuth_deg", blade.azimuth_deg);
    done(add(made, "off_even_spacing_deg", blade.off_even_spacing_deg))
}

fn row_value(row: &BladeRow) -> Value {
    done(
        Made::default()
            .with("index", row.index)
            .figure("radius_m", Some(row.radius_m))
            .figure("radius_ratio", Some(row.radius_ratio))
            .with("figure", row.column.key())
            .figure("value", Some(row.values[0]))
            .figure("others", Some(row.values[1]))
            .figure("difference", Some(row.difference))
            .figure("u", row.u)
            .with("significant", row.is_significant())
            .figure("beyond_shift", row.beyond_shift.map(|b| b.value))
            .figure("u_beyond_shift", row.beyond_shift.map(|b| b.u)),
    )
}

/// One row for each figure of each blade at each station: `index, radius_m, radius_ratio, figure, value, others, difference, u, significant, beyond_shift, u_beyond_shift`. The number of the
/// blade is counted from 0, as in the table. The figure is a key of the station table and gives the unit.
///
/// # Errors
/// [`DocumentError::Write`].
pub fn write_blades_csv(comparison: &BladesComparison, out: impl Write) -> Result<(), DocumentError> {
    let mut writer = csv::Writer::from_writer(out);
    let failed = |e: csv::Error| DocumentError::Write(std::io::Error::other(e.to_string()));
    writer
        .write_record([
            "index",
            "radius_m",
            "radius_ratio",
            "figure",
            "value",
            "others",
            "difference",
            "u",
            "significant",
            "beyond_shift",
            "u_beyond_shift",
        ])
        .map_err(failed)?;
    for row in &comparison.rows {
        let significant = row.is_significant().map_or("", |yes| if yes { "yes" } else { "no" });
        writer
            .write_record([
                row.index.to_string(),
                figure_cell(Some(row.radius_m)),
                figure_cell(Some(row.radius_ratio)),
                row.column.key().to_owned(),
                figure_cell(Some(row.values[0])),
                figure_cell(Some(row.values[1])),
                figure_cell(Some(row.difference)),
                figure_cell(row.u),
                significant.to_owned(),
                figure_cell(row.beyond_shift.map(|b| b.value)),
                figure_cell(row.beyond_shift.map(|b| b.u)),
            ])
            .map_err(failed)?;
    }
    writer.flush()?;
    Ok(())
}
