//! The table as plain text for a terminal of 100 columns.

use crate::layout::{FlagNotes, aligned, text_of};
use crate::readings::reading_lines;
use crate::warning::{Advice, no_advice, warning_in};
use bladeform_quantity::{COVERAGE_FACTOR_95, Measured, ShownUnits};
use bladeform_table::{
    Agreement, BladeDifference, CAUTION, CONTRADICTION, Harm, HubFigures, NearSection, Notice,
    RepeatedQuantity, Repeats, Scale, ScrewFigures, SectionSurface, Shown, Station, StationColumn,
    StationTable, known_length_sentences, place_text,
};

/// The columns of the terminal and whether the half width of their 95 % interval follows.
const COLUMNS: [(StationColumn, bool); 8] = [
    (StationColumn::RadiusM, false),
    (StationColumn::RadiusRatio, false),
    (StationColumn::ChordM, true),
    (StationColumn::BladeAngleDeg, true),
    (StationColumn::FaceAngleDeg, false),
    (StationColumn::ThicknessRatio, false),
    (StationColumn::CamberRatio, false),
    (StationColumn::PitchM, false),
];

/// The table as text: scale, axes, hand and setting, one row per station, then flags, warnings, repairs and the caution.
///
/// Every column has its unit. A missing figure is `-`. Flags are letters with their sentences below. Control characters in
/// texts of a file are shown as `?`. The text ends with a line feed.
#[must_use]
pub fn render(table: &StationTable) -> String {
    render_with(table, &no_advice)
}

/// The warnings that a reader of the figures needs, in order of harm: not what the file held besides the surface, which is in the documents.
fn told(warnings: &[Notice]) -> impl Iterator<Item = &Notice> {
    let of = move |harm| warnings.iter().filter(move |w| w.harm() == harm);
    of(Harm::Wrong).chain(of(Harm::Less))
}

/// As [`render`], with the advice on its code after each warning.
#[must_use]
pub fn render_with(table: &StationTable, advice: Advice<'_>) -> String {
    render_in(table, ShownUnits::SI, advice)
}

/// As [`render_with`], with every figure in the given units.
#[must_use]
pub fn render_in(table: &StationTable, units: ShownUnits, advice: Advice<'_>) -> String {
    let notes = FlagNotes::of(&table.stations, table.members());
    let rows = rows(&table.stations, units, &notes);
    let warning = |w: &Notice| format!("Warning: {}", warning_in(w, units, advice));
    // Readings that contradict the scan put every figure below in doubt.
    let (first, others): (Vec<&Notice>, Vec<&Notice>) =
        told(&table.warnings).partition(|w| w.code() == CONTRADICTION);
    let mut lines: Vec<String> = first.into_iter().map(warning).collect();
    lines.extend(head(table, units));
    lines.push(String::new());
    lines.extend(rows);
    lines.push(String::new());
    lines.extend(notes.lines(units));
    lines.extend(difference_lines(table, units));
    lines.extend(table.repeats.iter().flat_map(|repeats| repeat_lines(repeats, units)));
    lines.extend(near_section_line(table));
    lines.extend(reading_lines(table, units));
    lines.extend(others.into_iter().map(warning));
    lines.extend(repair_line(table));
    lines.push(CAUTION.to_owned());
    text_of(&lines)
}

/// The family that is nearest at most stations, as advice.
fn near_section_line(table: &StationTable) -> Option<String> {
    let family = |near: &NearSection| near.section.split(',').next().unwrap_or_default().to_owned();
    let first: Vec<&NearSection> = table.stations.iter().filter_map(|s| s.near_sections.first()).collect();
    let mut counts = std::collections::BTreeMap::<String, [usize; 2]>::new();
    for near in &first {
        let count = counts.entry(family(near)).or_default();
        count[0] += 1;
        count[1] += usize::from(near.within_noise == Some(true));
    }
    let (family, [stations, within]) = counts.into_iter().max_by_key(|(_, count)| count[0])?;
    Some(format!(
        "Nearest published section: {family} at {stations} of {} stations, within the scan's noise at {within} (advice; no figure depends on it).",
        first.len()
    ))
}

fn head(table: &StationTable, units: ShownUnits) -> Vec<String> {
    let mut lines = Vec::new();
    if table.scale.as_ref().is_some_and(|s| s.metres_per_unit.is_some() && s.relative_uncertainty.is_none()) {
        lines.push("SIZES ARE NOT KNOWN: no length was given. Every length below is in units of the file, called metres".to_owned());
    }
    if let Some(source) = table.source.as_ref().filter(|source| !source.file.is_empty()) {
        let triangles = source.triangles.map_or_else(String::new, |n| format!(", {n} triangles"));
        lines.push(format!("Station table of {}{triangles}", source.file));
    } else {
        lines.push("Station table".to_owned());
    }
    lines.push(blade_line(table, units));
    let others = scale_line(table).into_iter().chain(table.scale.iter().flat_map(known_length_lines));
    lines.extend(others.chain(frame_lines(table)).map(|line| units.text(&line)));
    lines.push(setting_line(table));
    lines.extend(table.hub.as_ref().and_then(|hub| hub_line(hub, units)));
    lines.extend(screw_line(table, units));
    lines
}

/// The hub as the scan shows it.
fn hub_line(hub: &HubFigures, units: ShownUnits) -> Option<String> {
    let mm = StationColumn::RadiusM.shown().in_units(units);
    let length = |m: &Measured| with_u(mm, m.value, Some(m.u));
    let sizes = [("diameter", &hub.diameter_m), ("length", &hub.length_m), ("bore", &hub.bore_diameter_m)];
    let mut parts: Vec<String> =
        sizes.iter().filter_map(|(name, m)| Some(format!("{name} {}", length(m.as_ref()?)))).collect();
    parts.extend(hub.bolts.as_ref().map(|bolts| {
        let seen =
            if bolts.seen < bolts.count { format!(" ({} seen)", bolts.seen) } else { String::new() };
        format!(
            "{} bolt holes{seen} of {} on a circle of {}, the first at {} from the first blade in the direction of rotation",
            bolts.count,
            length(&bolts.hole_diameter_m),
            length(&bolts.circle_diameter_m),
            with_u(Shown::new("", "deg", 1.0, 1), bolts.first_deg.value, Some(bolts.first_deg.u))
        )
    }));
    (!parts.is_empty()).then(|| format!("Hub: {}", parts.join(", ")))
}

/// The figures of the whole screw, where sections lie on cylinders.
fn screw_line(table: &StationTable, units: ShownUnits) -> Option<String> {
    let figures = ScrewFigures::of(table)?.rows().map(|(name, shown, value)| {
        let u = (0.0 < value.u).then_some(value.u);
        format!("{name} {}", with_u(shown.in_units(units), value.value, u))
    });
    Some(format!("Screw: {}", figures.join(", ")))
}

fn blade_line(table: &StationTable, units: ShownUnits) -> String {
    let blade = &table.blade;
    let [mm, cm3] = [StationColumn::RadiusM.shown(), Shown::new("volume", "cm3", 1e6, 1)]
        .map(|shown| shown.in_units(units));
    let mut parts = vec![format!("Radius {}", with_u(mm, blade.radius_m, blade.u.radius_m))];
    let mut add = |name: &str, shown: Shown, figure: Option<f64>, u: Option<f64>| {
        parts.extend(figure.map(|figure| format!("{name} {}", with_u(shown, figure, u))));
    };
    add("root radius", mm, blade.root_radius_m, blade.u.root_radius_m);
    add("blade length", mm, blade.blade_length_m, blade.u.blade_length_m);
    add("activity factor", Shown::new("", "", 1.0, 1), blade.activity_factor, blade.u.activity_factor);
    add("volume", cm3, blade.volume_m3, blade.u.volume_m3);
    if let Some((mass, density)) = table.mass_kg().zip(table.record.density_kg_m3) {
        let kg = Shown::new("mass", "kg", 1.0, 3).in_units(units);
        let u = (0.0 < mass.u).then_some(mass.u);
        parts.push(format!("mass {} at {density:.0} kg/m3 throughout", with_u(kg, mass.value, u)));
    }
    parts.extend(blade.blades_in_scan.map(|n| format!("blades in the scan {n}")));
    parts.join(", ")
}

/// A figure with its unit and, if known, the half width of its 95 % interval.
fn with_u(shown: Shown, figure: f64, u: Option<f64>) -> String {
    let half_width =
        u.map(|u| format!(" ± {}", shown.text(Some(COVERAGE_FACTOR_95 * u)))).unwrap_or_default();
    format!("{}{half_width} {}", shown.text(Some(figure)), shown.unit).trim_end().to_owned()
}

/// The known lengths beside the scale, one line each.
fn known_length_lines(scale: &Scale) -> Vec<String> {
    known_length_sentences(&scale.known_lengths).iter().map(|text| format!("Known: {text}")).collect()
}

fn scale_line(table: &StationTable) -> Option<String> {
    let scale = table.scale.as_ref()?;
    let unit = scale.metres_per_unit.map(|m| format!("1 unit of the scan is {} m", seven_digits(m)));
    let basis = (!scale.basis.is_empty()).then(|| scale.basis.clone());
    let u = scale.relative_uncertainty.map(|u| format!("± {:.3} % (2 u)", COVERAGE_FACTOR_95 * u * 100.0));
    let parts: Vec<String> = [unit, u, basis].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| format!("Scale: {}", parts.join("; ")))
}

/// Seven significant digits, without an exponent if that is readable.
fn seven_digits(value: f64) -> String {
    let magnitude = value.abs().log10().floor();
    if (-5.0..6.0).contains(&magnitude) {
        format!("{value:.*}", (6.0 - magnitude) as usize)
    } else {
        format!("{value:.6e}")
    }
}

fn frame_lines(table: &StationTable) -> Vec<String> {
    let Some(frame) = &table.frame else { return Vec::new() };
    let mut lines = vec![format!("Hand: {} ({})", frame.hand, frame.how_hand_is_known().shown())];
    if !frame.method.is_empty() {
        lines.push(format!("Axes: {}", frame.method));
    }
    if frame.sections != SectionSurface::default() {
        lines.push(format!("Sections: on {}", frame.sections.shown()));
    }
    lines
}

fn setting_line(table: &StationTable) -> String {
    match &table.blade.setting {
        Some(setting) => {
            let angle = StationColumn::BladeAngleDeg.shown().text(Some(setting.angle_deg));
            let (at, of) = (place_text(setting.radius_ratio), setting.of.as_str());
            format!("Setting: {angle} deg at {at}, angle of the {of}")
        }
        None => {
            let at = place_text(table.blade.reference_radius_ratio);
            format!("Setting: none given; blade angles are relative, the chord line at {at} being 0 deg")
        }
    }
}

fn rows(stations: &[Station], units_shown: ShownUnits, notes: &FlagNotes) -> Vec<String> {
    let mut labels = Vec::new();
    let mut units = Vec::new();
    for (column, has_u) in COLUMNS {
        let shown = column.shown().in_units(units_shown);
        labels.push(shown.label.to_owned());
        units.push(shown.unit.to_owned());
        if has_u {
            labels.push("±2u".to_owned());
            units.push(shown.unit.to_owned());
        }
    }
    labels.push("flags".to_owned());
    units.push(String::new());
    let mut cells = vec![labels, units];
    cells.extend(stations.iter().map(|station| row(station, units_shown, notes)));
    aligned(&cells)
}

fn row(station: &Station, units: ShownUnits, notes: &FlagNotes) -> Vec<String> {
    let mut cells = Vec::new();
    for (column, has_u) in COLUMNS {
        let shown = column.shown().in_units(units);
        cells.push(shown.text(column.get(station)));
        if has_u {
            cells.push(shown.text(column.u(station).map(|u| COVERAGE_FACTOR_95 * u)));
        }
    }
    cells.push(notes.letters(&station.flags));
    cells
}

fn difference_lines(table: &StationTable, units: ShownUnits) -> Vec<String> {
    let (angle, mm) = (StationColumn::BladeAngleDeg.shown(), Shown::new("", "mm", 1e3, 2).in_units(units));
    let line = |d: &BladeDifference| {
        let parts: Vec<String> = [
            d.mean_blade_angle_difference_deg.map(|v| with_u(angle, v, d.u.mean_blade_angle_difference_deg)),
            d.mean_chord_difference_m.map(|v| with_u(mm, v, d.u.mean_chord_difference_m)),
            d.track_m.map(|v| with_u(mm, v, d.u.track_m)),
        ]
        .into_iter()
        .zip(["blade angle", "chord", "track"])
        .filter_map(|(figure, name)| figure.map(|figure| format!("{name} {figure}")))
        .collect();
        format!("Blade {} from the mean: {}", d.index.saturating_add(1), parts.join(", "))
    };
    table.blade_differences.iter().map(line).collect()
}

/// Quantities that the table of repeats always shows. Others are shown if the scans disagree in them; stations.json has all.
const REPEATED: [StationColumn; 5] = [
    StationColumn::ChordM,
    StationColumn::BladeAngleDeg,
    StationColumn::FaceAngleDeg,
    StationColumn::ThicknessM,
    StationColumn::CamberRatio,
];

/// The scans, a row for each quantity, and the verdict.
fn repeat_lines(repeats: &Repeats, units: ShownUnits) -> Vec<String> {
    let files: Vec<&str> = repeats.scans.iter().map(|s| s.file.as_str()).collect();
    let mut lines = vec![format!("Mean over {} scans: {}", files.len(), files.join(", "))];
    let shows = |q: &&RepeatedQuantity| REPEATED.contains(&q.column) || q.agreement == Agreement::Raised;
    let rows: Vec<Vec<String>> =
        repeats.quantities.iter().filter(shows).map(|q| repeated_row(q, units)).collect();
    if !rows.is_empty() {
        let head = ["quantity", "unit", "scatter", "stated u", "ratio", "limit", "verdict"];
        lines.extend(aligned(&[vec![head.map(str::to_owned).to_vec()], rows].concat()));
        lines.push("Scatter: standard deviation of one scan, over all stations. Stated u: the part of one scan's standard uncertainty that is independent of the others. Ratio: scatter over what the stated u explain; chance exceeds the limit in one of twenty cases.".to_owned());
    }
    lines.push(format!("Verdict: {}.", units.text(&repeats.verdict())));
    lines
}

fn repeated_row(q: &RepeatedQuantity, units: ShownUnits) -> Vec<String> {
    let shown = q.column.shown().in_units(units);
    // A scatter is smaller than its figure: one more decimal.
    let finer = Shown::new(shown.label, shown.unit, shown.factor, shown.decimals + 1);
    let ratio = Shown::new("", "", 1.0, 2);
    let verdict = match q.agreement {
        Agreement::Agree => "agree",
        Agreement::Raised => "differ, u raised",
        Agreement::NotTested => "not tested",
    };
    vec![
        shown.label.to_owned(),
        shown.unit.to_owned(),
        finer.text(q.scatter),
        finer.text(q.stated),
        ratio.text(q.ratio),
        ratio.text(q.limit),
        verdict.to_owned(),
    ]
}

fn repair_line(table: &StationTable) -> Option<String> {
    let repairs = table.repairs.as_ref()?;
    let counts: Vec<String> = repairs
        .counts()
        .filter(|(_, n)| *n > 0)
        .map(|(key, n)| format!("{} {n}", key.replace('_', " ")))
        .collect();
    let counts = if counts.is_empty() { "none needed".to_owned() } else { counts.join(", ") };
    Some(format!("Repairs before measuring: {counts}"))
}
