//! The blade-form curves of a table: figures over r/R with their intervals.

use bladeform_quantity::COVERAGE_FACTOR_95;
use bladeform_table::{ColumnUnit, Shown, SmoothColumn, Station, StationColumn, StationTable};

use crate::chart::{Chart, ChartPoint, Guides, Series};
use crate::unit::LengthUnit;

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

/// What the thin lines of the curves are.
const SMOOTH: &str = "smooth blade";
/// Straight pieces of a thin line: at 634 units across they cannot be seen.
const SMOOTH_PIECES: usize = 120;

/// The blade-form curves that the table has figures for, lengths in millimetres, each over r/R with the 95 % interval, its flagged
/// stations marked, and the smooth blade ([`SmoothColumn`]) as a thin line where there are stations enough for one.
#[must_use]
pub fn form_curves(table: &StationTable) -> Vec<Chart> {
    CURVES
        .iter()
        .map(|curve| chart(table, curve, LengthUnit::Millimetre))
        .filter(Chart::is_drawable)
        .collect()
}

/// The same curves for the page's switch: one of lengths in every unit, any other once.
pub(crate) fn form_curves_by_unit(table: &StationTable) -> Vec<Vec<(LengthUnit, Chart)>> {
    let units = |columns: &[StationColumn]| {
        if columns[0].unit() == ColumnUnit::Metre { &LengthUnit::ALL[..] } else { &LengthUnit::ALL[..1] }
    };
    CURVES
        .iter()
        .map(|curve| units(curve.3).iter().map(|unit| (*unit, chart(table, curve, *unit))).collect())
        .filter(|charts: &Vec<(LengthUnit, Chart)>| charts[0].1.is_drawable())
        .collect()
}

fn chart(
    table: &StationTable,
    (name, title, axis, columns): &(&str, &str, &str, &[StationColumn]),
    unit: LengthUnit,
) -> Chart {
    let relative = table.angles_are_relative();
    let note = if *name == "angles" && relative { ", relative" } else { "" };
    let smooth: Vec<Option<SmoothColumn>> =
        columns.iter().map(|column| SmoothColumn::of(&table.stations, *column)).collect();
    let both = columns.iter().zip(&smooth);
    Chart {
        name: (*name).to_owned(),
        title: (*title).to_owned(),
        x_label: "r/R".to_owned(),
        y_label: format!("{axis}{note} [{}]", unit.shown(columns[0]).unit),
        series: both
            .clone()
            .map(|(column, smooth)| series(table, *column, smooth.as_ref(), unit))
            .filter(|s| s.points.iter().any(|p| p.y.is_some()))
            .collect(),
        guides: Guides {
            name: SMOOTH.to_owned(),
            lines: both.filter_map(|(c, smooth)| guide(table, unit.shown(*c), smooth.as_ref()?)).collect(),
        },
        ..Chart::default()
    }
}

/// The smooth column from its first to its last station over r/R.
fn guide(table: &StationTable, shown: Shown, smooth: &SmoothColumn) -> Option<Vec<[f64; 2]>> {
    let (first, last) = (table.stations.first()?, table.stations.last()?);
    let points = (0..=SMOOTH_PIECES).map(|k| k as f64 / SMOOTH_PIECES as f64).filter_map(|t| {
        let carried = |from: f64, to: f64| from + t * (to - from);
        let value = smooth.value_at(carried(first.radius_m, last.radius_m));
        let ratio = carried(first.radius_ratio, last.radius_ratio);
        (value.beyond_m <= 0.0).then_some([ratio, value.measured.value * shown.factor])
    });
    Some(points.collect())
}

fn series(
    table: &StationTable,
    column: StationColumn,
    smooth: Option<&SmoothColumn>,
    unit: LengthUnit,
) -> Series {
    let shown = unit.shown(column);
    let points = table.stations.iter().map(|station| point(station, column, smooth, shown)).collect();
    Series { name: column.shown().label.to_owned(), points, smooth: true, ..Series::default() }
}

fn point(
    station: &Station,
    column: StationColumn,
    smooth: Option<&SmoothColumn>,
    shown: Shown,
) -> ChartPoint {
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
    if let Some(at) = smooth.map(|s| s.value_at(station.radius_m)).filter(|at| at.beyond_m <= 0.0) {
        text.push_str(&format!(", {SMOOTH} {}", shown.text(Some(at.measured.value))));
    }
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

    /// Ten stations of a chord that falls straight, the sixth 4 mm short.
    fn dented() -> StationTable {
        let mut table = StationTable::default();
        table.blade.radius_m = 1.0;
        for k in 0..10 {
            let mut station = Station::at(0.3 + 0.06 * f64::from(k), 1.0);
            station.chord_m = Some(0.2 - 0.01 * f64::from(k) - if k == 5 { 0.004 } else { 0.0 });
            table.stations.push(station);
        }
        table
    }

    #[test]
    fn the_smooth_blade_is_a_thin_line_that_passes_over_a_dent() {
        assert!(form_curves(&table())[0].guides.lines.is_empty(), "five stations show no smooth blade");
        let chart = &form_curves(&dented())[0];
        let line = &chart.guides.lines[0];
        let near = line.iter().min_by(|a, b| (a[0] - 0.6).abs().total_cmp(&(b[0] - 0.6).abs())).unwrap();
        // The chord without the dent is 150 mm there.
        assert!((near[1] - 150.0).abs() < 0.5, "{near:?}");
        assert!(chart.series[0].points[5].text.contains("chord 146.0 mm, smooth blade 150."));
    }

    #[test]
    fn a_curve_of_lengths_is_there_in_each_unit_with_round_figures_of_it() {
        let charts = form_curves_by_unit(&dented());
        let labels: Vec<&str> = charts[0].iter().map(|(_, c)| c.y_label.as_str()).collect();
        assert_eq!(labels, ["chord [mm]", "chord [in]", "chord [m]"]);
        let inches = &charts[0][1].1;
        assert!((inches.series[0].points[0].y.unwrap() - 0.2 / 0.0254).abs() < 1e-12);
        assert!(inches.series[0].points[0].text.contains("7.874 in"));
    }
}
