//! The table as plain text for a terminal of 100 columns.

use crate::{Flag, NearSection, Shown, Station, StationColumn, StationTable};
use bladeform_quantity::COVERAGE_FACTOR_95;

/// The caution that every measured table carries.
pub const CAUTION: &str = "A measured or rebuilt propeller is not an airworthy one: the authority's rules and licensed practice decide.";

/// The width in characters that the text keeps to, unless a single word is longer.
pub const TERMINAL_WIDTH: usize = 100;

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

/// The table as text: scale, axes, hand and setting, one row a station, then flags, warnings, repairs and the caution.
///
/// Every column has its unit; a missing figure is `-`; flags are letters with their sentences below. Control characters in
/// texts of a file are shown as `?`. The text ends with a line feed.
#[must_use]
pub fn render(table: &StationTable) -> String {
    let mut notes = Notes::default();
    let rows = rows(&table.stations, &mut notes);
    let mut lines = head(table);
    lines.push(String::new());
    lines.extend(rows);
    lines.push(String::new());
    lines.extend(notes.lines());
    lines.extend(difference_lines(table));
    lines.extend(near_section_line(table));
    lines.extend(table.warnings.iter().map(|warning| format!("Warning: {warning}")));
    lines.extend(repair_line(table));
    lines.push(CAUTION.to_owned());
    let mut text = String::new();
    for line in lines {
        text.push_str(&wrapped(&without_control(&line)));
        text.push('\n');
    }
    text
}

/// Which family is nearest at most stations: advice.
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
        "Nearest published section: {family} at {stations} of {} stations, within the scan's noise at {within} (advice; no figure rests on it).",
        first.len()
    ))
}

/// The columns of the documents as a table in Markdown: key, unit and meaning.
#[must_use]
pub fn columns_as_markdown() -> String {
    let mut text = String::from("| key | unit | meaning |\n|---|---|---|\n");
    for column in StationColumn::all() {
        let unit = column.unit().name();
        text.push_str(&format!("| `{}` | {unit} | {} |\n", column.key(), column.meaning()));
    }
    text
}

/// Sentences under letters. Flags of one kind share a letter, whatever their figures: a coarse propeller would use up the alphabet.
#[derive(Default)]
pub(crate) struct Notes {
    notes: Vec<Note>,
}

struct Note {
    /// The kind of a flag; empty for a sentence of its own.
    code: String,
    /// The first sentence of the kind.
    first: String,
    /// How many other sentences of the kind there are.
    others: std::collections::BTreeSet<String>,
}

impl Notes {
    /// The letters of the flags of a station, in the order of the alphabet.
    fn letters(&mut self, flags: &[Flag]) -> String {
        self.named(flags.iter().map(|flag| (flag.code().to_owned(), flag.text())))
    }

    /// The letters of texts, in the order of the alphabet.
    pub(crate) fn letters_of(&mut self, texts: impl Iterator<Item = String>) -> String {
        self.named(texts.map(|text| (String::new(), text)))
    }

    fn named(&mut self, texts: impl Iterator<Item = (String, String)>) -> String {
        let mut indices: Vec<usize> = texts.map(|(code, text)| self.index(code, text)).collect();
        indices.sort_unstable();
        indices.dedup();
        indices.into_iter().map(letter).collect::<Vec<_>>().join(",")
    }

    fn index(&mut self, code: String, text: String) -> usize {
        let alike = |note: &Note| note.first == text || (!code.is_empty() && note.code == code);
        let Some(k) = self.notes.iter().position(alike) else {
            self.notes.push(Note { code, first: text, others: std::collections::BTreeSet::new() });
            return self.notes.len() - 1;
        };
        if self.notes[k].first != text {
            self.notes[k].others.insert(text);
        }
        k
    }

    pub(crate) fn lines(&self) -> Vec<String> {
        let line = |(k, note): (usize, &Note)| match note.others.len() {
            0 => format!("{}: {}", letter(k), note.first),
            n => format!(
                "{}: {} (and {n} more of this kind; each stands in stations.json)",
                letter(k),
                note.first
            ),
        };
        self.notes.iter().enumerate().map(line).collect()
    }
}

/// `a` to `z`, then `aa`, `ab` ...
fn letter(index: usize) -> String {
    const LETTERS: usize = 26;
    let last = char::from(b'a' + (index % LETTERS) as u8);
    match index / LETTERS {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

fn head(table: &StationTable) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(source) = table.source.as_ref().filter(|source| !source.file.is_empty()) {
        let triangles = source.triangles.map_or_else(String::new, |n| format!(", {n} triangles"));
        lines.push(format!("Station table of {}{triangles}", source.file));
    } else {
        lines.push("Station table".to_owned());
    }
    lines.push(blade_line(table));
    lines.extend(scale_line(table));
    lines.extend(frame_lines(table));
    lines.push(setting_line(table));
    lines
}

fn blade_line(table: &StationTable) -> String {
    let (blade, mm, cm3) =
        (&table.blade, StationColumn::RadiusM.shown(), Shown::new("volume", "cm3", 1e6, 1));
    let mut parts = vec![format!("Radius {}", with_u(mm, blade.radius_m, blade.u.radius_m))];
    let mut add = |name: &str, shown: Shown, figure: Option<f64>, u: Option<f64>| {
        parts.extend(figure.map(|figure| format!("{name} {}", with_u(shown, figure, u))));
    };
    add("root radius", mm, blade.root_radius_m, blade.u.root_radius_m);
    add("blade length", mm, blade.blade_length_m, blade.u.blade_length_m);
    add("activity factor", Shown::new("", "", 1.0, 1), blade.activity_factor, blade.u.activity_factor);
    add("volume", cm3, blade.volume_m3, blade.u.volume_m3);
    parts.extend(blade.blades_in_scan.map(|n| format!("blades in the scan {n}")));
    parts.join(", ")
}

/// A figure with its unit and, where it is known, the half width of its 95 % interval.
fn with_u(shown: Shown, figure: f64, u: Option<f64>) -> String {
    let half_width =
        u.map(|u| format!(" ± {}", shown.text(Some(COVERAGE_FACTOR_95 * u)))).unwrap_or_default();
    format!("{}{half_width} {}", shown.text(Some(figure)), shown.unit).trim_end().to_owned()
}

fn scale_line(table: &StationTable) -> Option<String> {
    let scale = table.scale.as_ref()?;
    let unit = scale.metres_per_unit.map(|m| format!("1 unit of the scan is {} m", seven_digits(m)));
    let basis = (!scale.basis.is_empty()).then(|| scale.basis.clone());
    let u = scale.relative_uncertainty.map(|u| format!("± {:.3} % (2 u)", COVERAGE_FACTOR_95 * u * 100.0));
    let parts: Vec<String> = [unit, u, basis].into_iter().flatten().collect();
    (!parts.is_empty()).then(|| format!("Scale: {}", parts.join("; ")))
}

/// Seven significant digits, without an exponent where that stays readable.
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
    let certain = if frame.hand_certain { "certain" } else { "not certain" };
    let mut lines = vec![format!("Hand: {} ({certain})", frame.hand)];
    if !frame.method.is_empty() {
        lines.push(format!("Axes: {}", frame.method));
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

/// A radius as a fraction of `R`, or the tip.
pub(crate) fn place_text(ratio: f64) -> String {
    if (ratio - 1.0).abs() < f64::EPSILON { "the tip".to_owned() } else { format!("{ratio} R") }
}

fn rows(stations: &[Station], notes: &mut Notes) -> Vec<String> {
    let mut labels = Vec::new();
    let mut units = Vec::new();
    for (column, has_u) in COLUMNS {
        let shown = column.shown();
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
    cells.extend(stations.iter().map(|station| row(station, notes)));
    aligned(&cells)
}

fn row(station: &Station, notes: &mut Notes) -> Vec<String> {
    let mut cells = Vec::new();
    for (column, has_u) in COLUMNS {
        let shown = column.shown();
        cells.push(shown.text(column.get(station)));
        if has_u {
            cells.push(shown.text(column.u(station).map(|u| COVERAGE_FACTOR_95 * u)));
        }
    }
    cells.push(notes.letters(&station.flags));
    cells
}

/// Cells under one another: numbers to the right, the last column to the left.
pub(crate) fn aligned(rows: &[Vec<String>]) -> Vec<String> {
    const GAP: &str = "  ";
    let columns = rows.first().map_or(0, Vec::len);
    let width = |c: usize| rows.iter().map(|row| row[c].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let line = |row: &Vec<String>| {
        let mut text = String::new();
        for (c, cell) in row.iter().enumerate() {
            let last = c + 1 == columns;
            text.push_str(&if last {
                format!("{GAP}{cell}")
            } else {
                format!("{GAP}{cell:>w$}", w = widths[c])
            });
        }
        text.trim_end().to_owned()
    };
    rows.iter().map(line).collect()
}

fn difference_lines(table: &StationTable) -> Vec<String> {
    let (angle, mm) = (StationColumn::BladeAngleDeg.shown(), Shown::new("", "mm", 1e3, 2));
    let line = |d: &crate::BladeDifference| {
        let parts: Vec<String> = [
            d.mean_blade_angle_difference_deg.map(|v| with_u(angle, v, d.u.mean_blade_angle_difference_deg)),
            d.mean_chord_difference_m.map(|v| with_u(mm, v, d.u.mean_chord_difference_m)),
            d.track_m.map(|v| with_u(mm, v, d.u.track_m)),
        ]
        .into_iter()
        .zip(["blade angle", "chord", "track"])
        .filter_map(|(figure, name)| figure.map(|figure| format!("{name} {figure}")))
        .collect();
        format!("Blade {} from the mean: {}", d.index + 1, parts.join(", "))
    };
    table.blade_differences.iter().map(line).collect()
}

fn repair_line(table: &StationTable) -> Option<String> {
    let repairs = table.repairs.as_ref()?;
    let known = [
        ("duplicate_vertices", repairs.duplicate_vertices),
        ("degenerate_triangles", repairs.degenerate_triangles),
        ("stray_components", repairs.stray_components),
        ("flipped_triangles", repairs.flipped_triangles),
        ("non_finite_vertices", repairs.non_finite_vertices),
    ];
    let extra = repairs.extra.iter().filter_map(|(key, value)| value.as_u64().map(|n| (key.as_str(), n)));
    let counts: Vec<String> = known
        .into_iter()
        .chain(extra)
        .filter(|(_, n)| *n > 0)
        .map(|(key, n)| format!("{} {n}", key.replace('_', " ")))
        .collect();
    let counts = if counts.is_empty() { "none needed".to_owned() } else { counts.join(", ") };
    Some(format!("Repairs before measuring: {counts}"))
}

/// A file may hold anything: escape sequences must not reach the terminal.
pub(crate) fn without_control(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}

/// The line broken at spaces to [`TERMINAL_WIDTH`]; lines that fit are left as they are.
pub(crate) fn wrapped(line: &str) -> String {
    const INDENT: &str = "    ";
    if line.chars().count() <= TERMINAL_WIDTH {
        return line.to_owned();
    }
    let mut lines: Vec<String> = vec![String::new()];
    for word in line.split_whitespace() {
        let current = lines.len() - 1;
        let used = lines[current].chars().count();
        if used > 0 && used + 1 + word.chars().count() > TERMINAL_WIDTH {
            lines.push(format!("{INDENT}{word}"));
        } else {
            let gap = if used > 0 { " " } else { "" };
            lines[current].push_str(&format!("{gap}{word}"));
        }
    }
    lines.join("\n")
}
