//! The blade-form curves of a table: values against r/R with their intervals.

use bladeform_quantity::{COVERAGE_FACTOR_95, ShownUnits};
use bladeform_table::{
    ColumnUnit, DEPARTURE_COVERAGE, Shown, SmoothColumn, Station, StationColumn, StationTable,
};

use crate::chart::{Chart, ChartPoint, Guides, Series};
use crate::unit::LengthUnit;

/// The curves: file name, heading, name of the vertical axis, columns drawn together.
const CURVES: [(&str, &str, &str, &[StationColumn]); 8] = [
    ("chord", "Chord", "chord", &[StationColumn::ChordM]),
    (
        "angles",
        "Blade angle and face angle",
        "angle",
        &[StationColumn::BladeAngleDeg, StationColumn::FaceAngleDeg],
    ),
    ("thickness", "Thickness", "thickness", &[StationColumn::ThicknessM]),
    ("thickness-ratio", "Thickness ratio", "t/c", &[StationColumn::ThicknessRatio]),
    ("camber", "Camber ratio", "camber/chord", &[StationColumn::CamberRatio]),
    (
        "sweep-and-rake",
        "Sweep (x, direction of blade motion) and rake (y, flight direction) of the mid-chord",
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

/// Name of the thin lines in the curves.
const SMOOTH: &str = "smooth blade";
/// Straight segments of a thin line between two stations.
const SMOOTH_STEPS: usize = 8;
/// A smooth curve follows a station if it misses it by at most this fraction of the range of all values. Larger differences are visible on the chart.
const NOT_FOLLOWED: f64 = 0.01;

/// The blade-form curves that the table has values for, against r/R, with lengths in millimetres and 95 % intervals. Flagged stations
/// are marked. The smooth blade ([`SmoothColumn`]) is a thin line if there are enough stations for it.
#[must_use]
pub fn form_curves(table: &StationTable) -> Vec<Chart> {
    CURVES
        .iter()
        .map(|curve| chart(table, curve, LengthUnit::Millimetre))
        .filter(Chart::is_drawable)
        .collect()
}

/// The same curves for the unit switch of the page: curves of lengths in every unit, others once.
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
    let smooth: Vec<Option<Smooth>> =
        columns.iter().map(|column| Smooth::of(&table.stations, *column)).collect();
    let both = columns.iter().zip(&smooth);
    Chart {
        name: (*name).to_owned(),
        title: (*title).to_owned(),
        x_label: "r/R".to_owned(),
        y_label: format!("{axis}{note} [{}]", unit.shown(columns[0]).unit),
        finest: unit.shown(columns[0]).last_digit(),
        series: both
            .clone()
            .map(|(column, smooth)| series(table, *column, smooth.as_ref(), unit))
            .filter(|s| s.points.iter().any(|p| p.y.is_some()))
            .collect(),
        guides: Guides {
            name: SMOOTH.to_owned(),
            lines: both
                .filter_map(|(c, smooth)| Some(guide(table, unit.shown(*c), smooth.as_ref()?)))
                .flatten()
                .collect(),
        },
        ..Chart::default()
    }
}

/// The smooth column against r/R in pieces, between neighbouring stations that it follows.
fn guide(table: &StationTable, shown: Shown, smooth: &Smooth) -> Vec<Vec<[f64; 2]>> {
    let piece = |pair: &[Station]| -> Option<Vec<[f64; 2]>> {
        let (from, to) = (&pair[0], &pair[1]);
        (smooth.at(from).is_some() && smooth.at(to).is_some()).then(|| {
            (0..=SMOOTH_STEPS)
                .map(|k| k as f64 / SMOOTH_STEPS as f64)
                .map(|t| {
                    let value = smooth.column.value_at(from.radius_m + t * (to.radius_m - from.radius_m));
                    let ratio = from.radius_ratio + t * (to.radius_ratio - from.radius_ratio);
                    [ratio, value.measured.value * shown.factor]
                })
                .collect()
        })
    };
    let mut lines: Vec<Vec<[f64; 2]>> = Vec::new();
    for points in table.stations.windows(2).filter_map(piece) {
        match lines.last_mut().filter(|line| line.last() == points.first()) {
            Some(line) => line.extend(points.into_iter().skip(1)),
            None => lines.push(points),
        }
    }
    lines
}

/// A smooth column and the stations where it is shown.
struct Smooth {
    column: SmoothColumn,
    /// Radii of the stations that it does not follow, without being a departure. There the blade form changes too quickly for a smooth
    /// curve, for example at the root, and the curve says nothing about the blade.
    not_followed_m: Vec<f64>,
}

impl Smooth {
    fn of(stations: &[Station], column: StationColumn) -> Option<Self> {
        let smooth = SmoothColumn::of(stations, column)?;
        let values: Vec<f64> = stations.iter().filter_map(|s| column.get(s)).collect();
        let (low, high) = values.iter().fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        let departing: Vec<usize> = smooth.departures().iter().map(|d| d.station).collect();
        let not_followed = |(k, s): (usize, &Station)| {
            let (value, at) = (column.get(s)?, smooth.value_at(s.radius_m));
            let u = column.u(s).unwrap_or(0.0).hypot(at.measured.u);
            let most = (DEPARTURE_COVERAGE * u).max(NOT_FOLLOWED * (high - low));
            let off = (value - at.measured.value).abs();
            (most < off && !departing.contains(&k)).then_some(s.radius_m)
        };
        let not_followed_m = stations.iter().enumerate().filter_map(not_followed).collect();
        Some(Self { column: smooth, not_followed_m })
    }

    /// Its value at a station; `None` beyond its own stations, and at stations it does not follow.
    fn at(&self, station: &Station) -> Option<f64> {
        let at = self.column.value_at(station.radius_m);
        let followed = self.not_followed_m.iter().all(|r| (r - station.radius_m).abs() > 0.0);
        (at.beyond_m <= 0.0 && followed).then_some(at.measured.value)
    }
}

fn series(table: &StationTable, column: StationColumn, smooth: Option<&Smooth>, unit: LengthUnit) -> Series {
    let shown = unit.shown(column);
    let points = table.stations.iter().map(|station| point(station, column, smooth, (shown, unit))).collect();
    Series { name: column.shown().label.to_owned(), points, smooth: true, ..Series::default() }
}

fn point(
    station: &Station,
    column: StationColumn,
    smooth: Option<&Smooth>,
    (shown, unit): (Shown, LengthUnit),
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
    if let Some(at) = smooth.and_then(|s| s.at(station)) {
        text.push_str(&format!(", {SMOOTH} {}", shown.text(Some(at))));
    }
    if let Some(flag) = station.flags.first() {
        text.push_str(&format!(" ({})", unit.units(ShownUnits::SI).text(&flag.to_string())));
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
        table.stations[2].flags.push(Flag::read("seen: a nick"));
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

    /// Ten stations with a linearly decreasing chord; the sixth is 4 mm too short.
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
