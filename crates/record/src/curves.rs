//! The blade-form curves of a table: figures over r/R with their intervals.

use bladeform_quantity::COVERAGE_FACTOR_95;
use bladeform_table::{Station, StationColumn, StationTable};

use crate::chart::{Chart, ChartPoint, Series};

/// The curves: name of the file, heading, name of the vertical axis, columns drawn together.
const CURVES: [(&str, &str, &str, &[StationColumn]); 8] = [
    ("chord", "Chord", "chord", &[StationColumn::ChordM]),
    (
        "angles",
        "Blade angle and face angle",
        "angle",
        &[StationColumn::BladeAngleDeg, StationColumn::FaceAngleDeg],
    ),
    ("thickness", "Thickness", "thickness", &[StationColumn::ThicknessM]),
    ("thickness-ratio", "Thickness over chord", "t/c", &[StationColumn::ThicknessRatio]),
    ("camber", "Camber over chord", "camber/chord", &[StationColumn::CamberRatio]),
    (
        "sweep-and-rake",
        "Sweep (x, the way the blade moves) and rake (y, towards flight) of the mid-chord",
        "mid-chord",
        &[StationColumn::MidChordXM, StationColumn::MidChordYM],
    ),
    ("pitch", "Geometric pitch", "pitch", &[StationColumn::PitchM, StationColumn::FacePitchM]),
    (
        "edges",
        "Leading-edge (LE) radius and trailing-edge (TE) thickness",
        "length",
        &[StationColumn::LeadingEdgeRadiusM, StationColumn::TrailingEdgeThicknessM],
    ),
];

/// The blade-form curves that the table has figures for, each over r/R with the 95 % interval and its flagged stations marked.
#[must_use]
pub fn form_curves(table: &StationTable) -> Vec<Chart> {
    let relative = table.angles_are_relative();
    CURVES.iter().map(|curve| chart(table, curve, relative)).filter(Chart::is_drawable).collect()
}

fn chart(
    table: &StationTable,
    (name, title, axis, columns): &(&str, &str, &str, &[StationColumn]),
    relative: bool,
) -> Chart {
    let shown = crate::words::shown(columns[0]);
    let note = if *name == "angles" && relative { ", relative" } else { "" };
    Chart {
        name: (*name).to_owned(),
        title: (*title).to_owned(),
        x_label: "r/R".to_owned(),
        y_label: format!("{axis}{note} [{}]", shown.unit),
        series: columns
            .iter()
            .map(|column| series(table, *column))
            .filter(|s| s.points.iter().any(|p| p.y.is_some()))
            .collect(),
        ..Chart::default()
    }
}

fn series(table: &StationTable, column: StationColumn) -> Series {
    let points = table.stations.iter().map(|station| point(station, column)).collect();
    Series { name: column.shown().label.to_owned(), points, smooth: true, ..Series::default() }
}

fn point(station: &Station, column: StationColumn) -> ChartPoint {
    let shown = crate::words::shown(column);
    let value = column.get(station).filter(|v| v.is_finite());
    let half_width = column.u(station).map(|u| COVERAGE_FACTOR_95 * u);
    let interval = half_width.map(|h| format!(" ± {}", shown.text(Some(h)))).unwrap_or_default();
    let mut text = format!(
        "{:.3} R: {} {}{interval} {}",
        station.radius_ratio,
        shown.label,
        shown.text(value),
        shown.unit
    );
    if let Some(flag) = station.flags.first() {
        text.push_str(&format!(" ({flag})"));
    }
    ChartPoint {
        x: station.radius_ratio,
        y: value.map(|v| v * shown.factor),
        half_width: half_width.map(|h| h * shown.factor),
        flagged: !station.flags.is_empty(),
        weak: false,
        text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::Flag;

    fn table() -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for k in 0..5 {
            let mut station = Station::at(0.3 + 0.15 * f64::from(k), 1.0);
            station.chord_m = Some(0.2 - 0.01 * f64::from(k));
            station.u.chord_m = Some(0.0005);
            table.stations.push(station);
        }
        table.stations[2].flags.push(Flag::Noted { code: "seen", sentence: "a nick".to_owned() });
        table
    }

    #[test]
    fn a_curve_carries_values_intervals_and_flags_in_the_unit_shown() {
        let charts = form_curves(&table());
        assert_eq!(charts.len(), 1);
        let point = &charts[0].series[0].points[2];
        assert!((point.y.unwrap() - 180.0).abs() < 1e-9 && (point.half_width.unwrap() - 1.0).abs() < 1e-9);
        assert!(point.flagged && !charts[0].series[0].points[1].flagged);
        assert_eq!(point.text, "0.600 R: chord 180.0 ± 1.0 mm (seen: a nick)");
    }
}
