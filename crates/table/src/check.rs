//! Requirements for every table, whether read, written by hand or made in memory.

use crate::{BladeFigures, SectionOutline, Station, StationColumn, StationTable, Step, TableError};

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
        Ok(())
    }
}

fn check_blade(blade: &BladeFigures) -> Result<(), TableError> {
    let fault =
        |name: &str, problem: String| Err(TableError { path: vec![key("blade"), key(name)], problem });
    if !is_positive(blade.radius_m) {
        return fault(
            "radius_m",
            format!("is {}; the radius of the tip in metres, above 0, is needed", blade.radius_m),
        );
    }
    if blade.radius_m > LARGEST_RADIUS_M {
        return fault(
            "radius_m",
            format!(
                "is {} m; no propeller is so large: write all lengths of a table in metres",
                blade.radius_m
            ),
        );
    }
    let ratio = blade.reference_radius_ratio;
    if !is_positive(ratio) || ratio > 1.0 {
        return fault(
            "reference_radius_ratio",
            format!("is {ratio}; a fraction above 0 and at most 1 is needed"),
        );
    }
    Ok(())
}

fn check_stations(stations: &[Station], blade_radius_m: f64, path: &[Step]) -> Result<(), TableError> {
    if stations.is_empty() {
        return Err(TableError {
            path: path.to_vec(),
            problem: "has no station; at least one is needed".to_owned(),
        });
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

/// A key of a station and its problem.
type Problem = (&'static str, String);

fn check_place(station: &Station, blade_radius_m: f64, previous_m: Option<f64>) -> Result<(), Problem> {
    let (r, ratio) = (station.radius_m, station.radius_ratio);
    if !is_positive(r) {
        return Err(("radius_m", format!("is {r}; a radius in metres above 0 is needed")));
    }
    if r > blade_radius_m * (1.0 + BEYOND_TIP_RATIO) {
        return Err(("radius_m", format!("is {r}, beyond the tip at blade.radius_m = {blade_radius_m}")));
    }
    if let Some(previous_m) = previous_m.filter(|previous| r <= *previous) {
        return Err((
            "radius_m",
            format!("is {r} after {previous_m}; radii must rise from station to station"),
        ));
    }
    if ratio.is_nan() || (ratio - r / blade_radius_m).abs() > RADIUS_RATIO_SLACK {
        let expected = r / blade_radius_m;
        return Err((
            "radius_ratio",
            format!("is {ratio}, but radius_m / blade.radius_m is {expected:.4}; mend one of them"),
        ));
    }
    Ok(())
}

/// A chord longer than this many tip radii was not typed in metres: it would be longer than the propeller.
const LONGEST_CHORD_RADII: f64 = 2.0;

fn check_size(station: &Station, blade_radius_m: f64) -> Result<(), Problem> {
    match station.chord_m.filter(|c| LONGEST_CHORD_RADII * blade_radius_m < *c) {
        Some(chord_m) => Err((
            "chord_m",
            format!(
                "is {chord_m}, longer than the propeller with its radius of {:.4} m; write metres",
                blade_radius_m
            ),
        )),
        None => Ok(()),
    }
}

fn check_figures(station: &Station) -> Result<(), Problem> {
    for column in StationColumn::all() {
        let (figure, u) = (column.get(station), column.u(station));
        if figure.is_some_and(|v| !v.is_finite()) {
            return Err((
                column.key(),
                "is not a finite number; leave out a figure that has no meaning".to_owned(),
            ));
        }
        if let Some(u) = u.filter(|u| !(*u >= 0.0 && u.is_finite())) {
            return Err((column.key(), format!("has the standard uncertainty {u}; it cannot be below 0")));
        }
    }
    let chord = station.chord_m.filter(|c| *c <= 0.0);
    if let Some(chord) = chord {
        return Err(("chord_m", format!("is {chord}; a chord in metres above 0 is needed")));
    }
    within("thickness_ratio", station.thickness_ratio, 0.0, LARGEST_THICKNESS_RATIO, "0.12")?;
    within("camber_ratio", station.camber_ratio, -LARGEST_CAMBER_RATIO, LARGEST_CAMBER_RATIO, "0.04")
}

fn within(
    key: &'static str,
    figure: Option<f64>,
    least: f64,
    most: f64,
    example: &str,
) -> Result<(), Problem> {
    match figure.filter(|v| !(least..=most).contains(v)) {
        Some(v) => Err((key, format!("is {v}; a fraction of the chord is needed, e.g. {example}"))),
        None => Ok(()),
    }
}

fn check_outline(outline: &SectionOutline) -> Result<(), String> {
    let (nx, ny) = (outline.x.len(), outline.y.len());
    if nx != ny {
        return Err(format!("has {nx} x and {ny} y; every point needs both"));
    }
    if nx < LEAST_OUTLINE_POINTS {
        return Err(format!("has {nx} points; a closed outline needs at least {LEAST_OUTLINE_POINTS}"));
    }
    if !outline.x.iter().chain(&outline.y).all(|v| v.is_finite()) {
        return Err("has a coordinate that is not a finite number".to_owned());
    }
    Ok(())
}

fn with_path(path: &[Step], (name, problem): Problem) -> TableError {
    TableError { path: path.iter().cloned().chain([key(name)]).collect(), problem }
}

fn is_positive(value: f64) -> bool {
    value > 0.0 && value.is_finite()
}

fn key(name: &str) -> Step {
    Step::Key(name.to_owned())
}
