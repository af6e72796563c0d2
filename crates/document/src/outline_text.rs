//! The outline of a section as plain text: one `x y` pair a line, closed, from the trailing edge around.

use std::fmt::Write as _;

use bladeform_table::{CAUTION, Station, StationTable};

use crate::number;

/// The unit of the coordinates of an outline file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutlineUnit {
    /// Fractions of the chord.
    Chord,
    /// Metres.
    Metre,
}

impl OutlineUnit {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Chord, Self::Metre];

    /// The word in names of files.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Chord => "chord",
            Self::Metre => "metres",
        }
    }
}

/// Points whose `x` is within this part of the length of the outline from its greatest are the trailing edge: rounding of the documents (chosen).
const SAME_TAIL: f64 = 1e-9;

/// The outline of a station as text: lines of a short header that begin with `#`, then one point a line, `x y`. It runs from the trailing edge along the back to the
/// leading edge and along the face to the trailing edge again, where the first point is repeated. `x` is along the chord line from the leading edge, `y` towards the back.
/// `blade`: the number of the blade from 1, for the header.
///
/// `None` for a station without an outline, or without a chord where fractions of the chord are wanted.
#[must_use]
pub fn outline_text(
    station: &Station,
    table: &StationTable,
    blade: Option<usize>,
    unit: OutlineUnit,
) -> Option<String> {
    let outline = station.outline.as_ref().filter(|o| 2 < o.len())?;
    let scale = match unit {
        OutlineUnit::Metre => 1.0,
        OutlineUnit::Chord => 1.0 / station.chord_m.filter(|c| 0.0 < *c)?,
    };
    let points: Vec<[f64; 2]> = outline.points().map(|p| p.map(number::outline_coordinate)).collect();
    let (low, high) =
        points.iter().fold((f64::MAX, f64::MIN), |(low, high), p| (low.min(p[0]), high.max(p[0])));
    // Of a flat trailing edge the end at the back, so that the flat comes last.
    let at_tail = |k: &usize| high - SAME_TAIL * (high - low) <= points[*k][0];
    let first = (0..points.len()).filter(at_tail).max_by(|a, b| points[*a][1].total_cmp(&points[*b][1]))?;
    let mut text = header(station, table, blade, unit);
    let ordered = points[first..].iter().chain(&points[..first]).chain(&points[first..=first]);
    for point in ordered {
        let [x, y] = match unit {
            OutlineUnit::Metre => *point,
            OutlineUnit::Chord => point.map(|c| number::figure(c * scale)),
        };
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{x} {y}");
    }
    Some(text)
}

fn header(station: &Station, table: &StationTable, blade: Option<usize>, unit: OutlineUnit) -> String {
    let of_blade = blade.map_or(String::new(), |k| format!(" of blade {k}"));
    let stated = |value: Option<f64>, unit: &str, decimals: usize| {
        value.map_or("not given".to_owned(), |v| format!("{v:.decimals$} {unit}"))
    };
    let relative = if table.angles_are_relative() { ", relative" } else { "" };
    let unit = match unit {
        OutlineUnit::Chord => "fractions of the chord",
        OutlineUnit::Metre => "metres",
    };
    format!(
        "# section{of_blade} at radius {:.6} m, {:.4} of the tip radius\n\
         # chord {}; blade angle {}{relative}; {}-hand propeller\n\
         # unit: {unit}; x along the chord line from the leading edge, y towards the back\n\
         # from the trailing edge along the back to the leading edge, and along the face to the first point again\n\
         # {}\n",
        station.radius_m,
        station.radius_ratio,
        stated(station.chord_m, "m", 6),
        stated(station.blade_angle_deg, "deg", 3),
        table.hand(),
        CAUTION.replace('\n', " ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_table::SectionOutline;

    /// Anticlockwise from the leading edge, with a flat trailing edge from the face to the back.
    fn station() -> Station {
        let points = [[0.0, 0.0], [0.1, -0.01], [0.2, -0.001], [0.2, 0.001], [0.1, 0.02]];
        Station {
            chord_m: Some(0.2),
            blade_angle_deg: Some(20.0),
            outline: Some(SectionOutline::from_points(&points)),
            ..Station::at(0.75, 1.5)
        }
    }

    #[test]
    fn an_outline_runs_from_the_tail_over_the_back_and_closes() {
        let text = outline_text(&station(), &StationTable::default(), None, OutlineUnit::Metre).unwrap();
        let points: Vec<&str> = text.lines().filter(|l| !l.starts_with('#')).collect();
        assert_eq!(points, ["0.2 0.001", "0.1 0.02", "0 0", "0.1 -0.01", "0.2 -0.001", "0.2 0.001"]);
        assert!(text.starts_with("# section at radius 0.750000 m, 0.5000 of the tip radius\n"), "{text}");
        assert!(
            text.contains("# chord 0.200000 m; blade angle 20.000 deg, relative;")
                && text.contains("unit: metres")
        );
        assert!(text.contains(CAUTION));
        let again = outline_text(&station(), &StationTable::default(), Some(2), OutlineUnit::Chord).unwrap();
        assert!(
            again.contains("# section of blade 2 at") && again.contains("\n1 0.005\n0.5 0.1\n0 0\n"),
            "{again}"
        );
    }

    #[test]
    fn a_station_without_an_outline_has_no_text() {
        let table = StationTable::default();
        let without = Station { outline: None, ..station() };
        assert_eq!(outline_text(&without, &table, None, OutlineUnit::Metre), None);
        let no_chord = Station { chord_m: None, ..station() };
        assert_eq!(outline_text(&no_chord, &table, None, OutlineUnit::Chord), None);
        assert!(
            outline_text(&no_chord, &table, None, OutlineUnit::Metre).unwrap().contains("chord not given")
        );
    }
}
