//! Requirements for every table, whether read, written by hand or made in memory.

use crate::{
    BladeFigures, RootSection, SectionOutline, Station, StationColumn, StationTable, Step, TableError,
    TableFault,
};
use bladeform_quantity::MOST_STATIONS;

/// A station may lie beyond the tip by this fraction of the radius, because figures typed by hand are rounded.
const BEYOND_TIP_RATIO: f64 = 1e-3;

/// Tolerance of `radius_ratio`: typed by hand it has two or three decimals.
const RADIUS_RATIO_SLACK: f64 = 5e-3;

/// A greater tip radius was not typed in metres: the largest ship screws and rotors of aircraft have some 5 to 20 m (common practice, no source).
const LARGEST_RADIUS_M: f64 = 60.0;

/// A greater thickness ratio is not a fraction: a circle has 1, and a stray cut hardly more.
const LARGEST_THICKNESS_RATIO: f64 = 2.0;

/// A camber greater than the chord does not occur on a blade.
const LARGEST_CAMBER_RATIO: f64 = 1.0;

/// Least number of points of an outline: those of a triangle.
const LEAST_OUTLINE_POINTS: usize = 3;

impl StationTable {
    /// Checks that radii increase strictly up to the tip, that figures are finite and that outlines are complete. Every reader makes these checks.
    ///
    /// # Errors
    /// [`TableError`] with the path of the first value that is not allowed.
    pub fn check(&self) -> Result<(), TableError> {
        check_blade(&self.blade)?;
        check_stations(&self.stations, self.blade.radius_m, &[key("stations")])?;
        for (index, blade) in self.blades.iter().enumerate() {
            let path = [key("blades"), Step::Index(index), key("stations")];
            check_stations(&blade.stations, self.blade.radius_m, &path)?;
        }
        check_root(&self.root_sections, self.blade.radius_m)
    }
}

/// Root sections have rising radii up to the tip, and outlines.
fn check_root(sections: &[RootSection], tip_m: f64) -> Result<(), TableError> {
    let count = sections.len();
    if MOST_STATIONS < count {
        let fault = TableFault::TooManyStations { count, most: MOST_STATIONS };
        return Err(TableError { path: vec![key("root_sections")], fault });
    }
    let mut previous_m = None;
    for (index, section) in sections.iter().enumerate() {
        let path = [key("root_sections"), Step::Index(index)];
        let radius_m = section.radius_m;
        let fault = if !is_positive(radius_m) {
            Some(TableFault::Radius { radius_m })
        } else if tip_m < radius_m {
            Some(TableFault::BeyondTip { radius_m, tip_m })
        } else {
            let previous = previous_m.filter(|previous| radius_m <= *previous);
            previous.map(|previous_m| TableFault::NotIncreasing { radius_m, previous_m })
        };
        if let Some(fault) = fault {
            return Err(with_path(&path, ("radius_m", fault)));
        }
        check_outline(&section.outline).map_err(|problem| with_path(&path, ("outline", problem)))?;
        previous_m = Some(radius_m);
    }
    Ok(())
}

fn check_blade(blade: &BladeFigures) -> Result<(), TableError> {
    let fail = |name: &str, fault: TableFault| Err(TableError { path: vec![key("blade"), key(name)], fault });
    let radius_m = blade.radius_m;
    if !is_positive(radius_m) {
        return fail("radius_m", TableFault::TipRadius { radius_m });
    }
    if radius_m > LARGEST_RADIUS_M {
        return fail("radius_m", TableFault::TooLarge { radius_m });
    }
    let ratio = blade.reference_radius_ratio;
    if !is_positive(ratio) || ratio > 1.0 {
        return fail("reference_radius_ratio", TableFault::ReferenceRatio { ratio });
    }
    Ok(())
}

fn check_stations(stations: &[Station], blade_radius_m: f64, path: &[Step]) -> Result<(), TableError> {
    if stations.is_empty() {
        return Err(TableError { path: path.to_vec(), fault: TableFault::NoStation });
    }
    let count = stations.len();
    if MOST_STATIONS < count {
        let fault = TableFault::TooManyStations { count, most: MOST_STATIONS };
        return Err(TableError { path: path.to_vec(), fault });
    }
    let mut previous_m = None;
    for (index, station) in stations.iter().enumerate() {
        let path: Vec<Step> = path.iter().cloned().chain([Step::Index(index)]).collect();
        check_place(station, blade_radius_m, previous_m).map_err(|problem| with_path(&path, problem))?;
        check_figures(station).map_err(|problem| with_path(&path, problem))?;
        check_size(station, blade_radius_m).map_err(|problem| with_path(&path, problem))?;
        if let Some(outline) = &station.outline {
            check_outline(outline).map_err(|problem| with_path(&path, ("outline", problem)))?;
        }
        previous_m = Some(station.radius_m);
    }
    Ok(())
}

/// A key of a station and what is wrong with its value.
type Problem = (&'static str, TableFault);

fn check_place(station: &Station, blade_radius_m: f64, previous_m: Option<f64>) -> Result<(), Problem> {
    let (radius_m, ratio) = (station.radius_m, station.radius_ratio);
    if !is_positive(radius_m) {
        return Err(("radius_m", TableFault::Radius { radius_m }));
    }
    if radius_m > blade_radius_m * (1.0 + BEYOND_TIP_RATIO) {
        return Err(("radius_m", TableFault::BeyondTip { radius_m, tip_m: blade_radius_m }));
    }
    if let Some(previous_m) = previous_m.filter(|previous| radius_m <= *previous) {
        return Err(("radius_m", TableFault::NotIncreasing { radius_m, previous_m }));
    }
    let expected = radius_m / blade_radius_m;
    if ratio.is_nan() || (ratio - expected).abs() > RADIUS_RATIO_SLACK {
        return Err(("radius_ratio", TableFault::OtherRatio { ratio, expected }));
    }
    Ok(())
}

/// A chord longer than this many tip radii was not typed in metres: it would be longer than the propeller.
const LONGEST_CHORD_RADII: f64 = 2.0;

fn check_size(station: &Station, blade_radius_m: f64) -> Result<(), Problem> {
    match station.chord_m.filter(|c| LONGEST_CHORD_RADII * blade_radius_m < *c) {
        Some(chord_m) => Err(("chord_m", TableFault::ChordTooLong { chord_m, radius_m: blade_radius_m })),
        None => Ok(()),
    }
}

fn check_figures(station: &Station) -> Result<(), Problem> {
    for column in StationColumn::all() {
        let (figure, u) = (column.get(station), column.u(station));
        if figure.is_some_and(|v| !v.is_finite()) {
            return Err((column.key(), TableFault::NotFinite));
        }
        if let Some(u) = u.filter(|u| !(*u >= 0.0 && u.is_finite())) {
            return Err((column.key(), TableFault::Uncertainty { u }));
        }
    }
    let chord = station.chord_m.filter(|c| *c <= 0.0);
    if let Some(chord_m) = chord {
        return Err(("chord_m", TableFault::Chord { chord_m }));
    }
    within("thickness_ratio", station.thickness_ratio, 0.0, LARGEST_THICKNESS_RATIO, 0.12)?;
    within("camber_ratio", station.camber_ratio, -LARGEST_CAMBER_RATIO, LARGEST_CAMBER_RATIO, 0.04)
}

fn within(
    key: &'static str,
    figure: Option<f64>,
    least: f64,
    most: f64,
    example: f64,
) -> Result<(), Problem> {
    match figure.filter(|v| !(least..=most).contains(v)) {
        Some(value) => Err((key, TableFault::NotFraction { value, example })),
        None => Ok(()),
    }
}

fn check_outline(outline: &SectionOutline) -> Result<(), TableFault> {
    let (x, y) = (outline.x.len(), outline.y.len());
    if x != y {
        return Err(TableFault::OutlineCounts { x, y });
    }
    if x < LEAST_OUTLINE_POINTS {
        return Err(TableFault::OutlineShort { points: x, needed: LEAST_OUTLINE_POINTS });
    }
    if !outline.x.iter().chain(&outline.y).all(|v| v.is_finite()) {
        return Err(TableFault::OutlineNotFinite);
    }
    Ok(())
}

fn with_path(path: &[Step], (name, fault): Problem) -> TableError {
    TableError { path: path.iter().cloned().chain([key(name)]).collect(), fault }
}

fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

fn key(name: &str) -> Step {
    Step::Key(name.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_stations_than_can_be_worked_on_are_refused_in_one_sentence() {
        let table = |count: usize| {
            let blade =
                BladeFigures { radius_m: 1.0, reference_radius_ratio: 0.75, ..BladeFigures::default() };
            let at = |i: usize| (i + 1) as f64 / (count + 1) as f64;
            let stations = (0..count)
                .map(|i| Station { radius_m: at(i), radius_ratio: at(i), ..Station::default() })
                .collect();
            StationTable { blade, stations, ..StationTable::default() }
        };
        assert_eq!(table(MOST_STATIONS).check(), Ok(()));
        let told = table(10_000).check().unwrap_err().to_string();
        assert!(told.contains("10000 stations, but a table has at most 1000"), "{told}");
    }
}
