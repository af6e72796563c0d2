//! The first screen of the page: a picture of the blade, its name, eight figures, the verdict of the checks, and who made, owns and scanned it.

use bladeform_quantity::Measured;
use bladeform_table::{CAUTION, HandBasis, PartRecord, RecordText, StationColumn, StationTable};

use crate::checks::Verdict;
use crate::condition::condition;
use crate::escape::html;
use crate::head::{self, mass};
use crate::readings_part;
use crate::words::{figure, length, unit};

/// What stands on the first screen.
pub(crate) struct Front<'a> {
    /// The table.
    pub(crate) table: &'a StationTable,
    /// Date of the record, as displayed.
    pub(crate) date: &'a str,
    /// The name of the part.
    pub(crate) title: &'a str,
    /// Free text about the part; may be empty.
    pub(crate) part_note: &'a str,
    /// The drawing of the blade as a figure; empty without outlines.
    pub(crate) drawing: &'a str,
    /// Whether the page has a 3-D view, which then draws a lit picture here as well.
    pub(crate) is_lit: bool,
    /// What the checks say.
    pub(crate) verdict: &'a Verdict,
    /// Areas of damage that were found, in a few words; `None` if none were.
    pub(crate) damage: Option<String>,
}

/// A figure of the first screen: its name, its value, and what belongs to it in small print.
type Row = (&'static str, String, String);

impl Front<'_> {
    /// The whole first screen.
    pub(crate) fn html(&self) -> String {
        let note = if self.part_note.is_empty() {
            String::new()
        } else {
            format!("<p class=\"note\">{}</p>", html(self.part_note))
        };
        let rows: String = self
            .rows()
            .into_iter()
            .map(|(name, value, small)| {
                let small =
                    if small.is_empty() { small } else { format!("<span class=\"aside\">{small}</span>") };
                format!("<div><dt>{name}</dt><dd>{value}{small}</dd></div>")
            })
            .collect();
        format!(
            "<header class=\"front\" id=\"front\"><p class=\"kicker\">Blade record, {}</p><h1>{}</h1>{note}{}<div class=\"overview\"><div class=\"picture\">{}{}</div>\
             <dl class=\"eight\" aria-label=\"Principal figures; ± is a 95 % interval\">{rows}</dl></div>{}{}\
             <p class=\"caution\"><strong>Caution.</strong> {CAUTION}</p></header>",
            html(self.date),
            html(self.title),
            readings_part::contradiction(self.table),
            if self.is_lit {
                "<canvas id=\"portrait\" class=\"portrait\" hidden role=\"img\" aria-label=\"The blade as scanned, seen on its back, root on the left.\"></canvas>"
            } else {
                ""
            },
            self.drawing,
            self.verdict.html(),
            fields(&self.table.record, self.date),
        )
    }

    /// The eight figures.
    fn rows(&self) -> Vec<Row> {
        let table = self.table;
        let blade = &table.blade;
        let is_propeller = 1 < table.blades.len();
        let first = if is_propeller {
            ("Blades", table.blades.len().to_string(), "the figures below are their mean".to_owned())
        } else {
            match blade.blade_length_m {
                Some(l) => ("Length", length(l, blade.u.blade_length_m), "root end to tip".to_owned()),
                None => ("Length", missing(), String::new()),
            }
        };
        vec![
            first,
            (
                "Diameter",
                length(2.0 * blade.radius_m, blade.u.radius_m.map(|u| 2.0 * u)),
                diameter_from(table),
            ),
            hand(table),
            greatest_chord(table),
            pitch_or_twist(table),
            thickness(table),
            volume(table),
            ("Condition", html(&condition(table, self.damage.as_deref())), String::new()),
        ]
    }
}

fn missing() -> String {
    "<span class=\"none\">not known</span>".to_owned()
}

/// A column's value with its unit and interval. An uncertainty of zero means that none is stated.
fn value(column: StationColumn, measured: Measured) -> String {
    let u = (0.0 < measured.u).then_some(measured.u);
    format!("{} {}", figure(column, Some(measured.value), u), unit(column))
}

/// A radius as a fraction of the tip radius.
fn ratio(ratio: f64) -> String {
    format!("{} R", StationColumn::RadiusRatio.shown().text(Some(ratio)))
}

/// On what the diameter of a lone blade rests: its scan does not show it.
fn diameter_from(table: &StationTable) -> String {
    let is_scanned = table.source.is_some() && table.blades.len() < 2;
    let text = match table.warnings.iter().any(|w| w.code() == "no-root-radius") {
        true => "a guess: the root radius is not known and was taken as 0",
        false if is_scanned => "as given: a lone blade does not show it",
        false => "",
    };
    text.to_owned()
}

fn hand(table: &StationTable) -> Row {
    let Some(frame) = &table.frame else {
        return ("Hand", missing(), "drawn as right-hand".to_owned());
    };
    let basis = frame.how_hand_is_known();
    let turns = match frame.hand {
        bladeform_quantity::Hand::Right => "clockwise seen from behind",
        bladeform_quantity::Hand::Left => "anticlockwise seen from behind",
    };
    let known = basis.shown();
    let known =
        if basis == HandBasis::Assumed { format!("<strong>{known}</strong>") } else { known.to_owned() };
    ("Hand", format!("{}-hand", frame.hand), format!("{turns}; {known}"))
}

fn greatest_chord(table: &StationTable) -> Row {
    const NAME: &str = "Greatest chord";
    let column = StationColumn::ChordM;
    let chords = table.stations.iter().filter_map(|s| Some((s, column.measured(s)?)));
    match chords.max_by(|a, b| a.1.value.total_cmp(&b.1.value)) {
        Some((station, chord)) => {
            (NAME, value(column, chord), format!("of the stations, at {}", ratio(station.radius_ratio)))
        }
        None => (NAME, missing(), String::new()),
    }
}

/// The pitch at 0.75 R where angles are absolute; otherwise the twist from the first station with an angle to the reference radius.
fn pitch_or_twist(table: &StationTable) -> Row {
    let absolute = table.blade.setting.is_some() || table.stations.iter().any(|s| s.pitch_m.is_some());
    if absolute {
        return at_three_quarters(table, StationColumn::PitchM, "Pitch at 0.75 R");
    }
    const NAME: &str = "Twist";
    let column = StationColumn::BladeAngleDeg;
    let twist = table.twist();
    let (Some((radius_m, twist_deg)), Some(reference)) = (twist.first(), table.value_at_reference(column))
    else {
        return (NAME, missing(), String::new());
    };
    let first = table.stations.iter().find(|s| (s.radius_m - radius_m).abs() < 1e-9);
    // Relative angles count from the reference radius, so the uncertainty of an angle is that of the difference.
    let u = first.and_then(|s| column.measured(s)).map_or(0.0, |m| m.u);
    let small = format!(
        "{} to {}; no setting is known, so no pitch",
        ratio(radius_m / table.blade.radius_m),
        ratio(table.blade.reference_radius_ratio)
    );
    if reference.is_extrapolated() {
        return (NAME, missing(), "the reference radius was not measured".to_owned());
    }
    (NAME, value(column, Measured::new(*twist_deg, u)), small)
}

fn thickness(table: &StationTable) -> Row {
    let (name, value, small) = at_three_quarters(table, StationColumn::ThicknessM, "Thickness at 0.75 R");
    let over_chord = table
        .value_at_three_quarters(StationColumn::ThicknessRatio)
        .filter(|v| !v.is_extrapolated())
        .map(|v| {
            let shown = StationColumn::ThicknessRatio.shown();
            format!("{} {} of the chord", shown.text(Some(v.measured.value)), shown.unit)
        });
    (name, value, over_chord.filter(|_| small.is_empty()).unwrap_or(small))
}

/// A column at 0.75 R: the station there, or the smooth curve through the stations.
fn at_three_quarters(table: &StationTable, column: StationColumn, name: &'static str) -> Row {
    match table.value_at_three_quarters(column) {
        Some(at) if !at.is_extrapolated() => (name, value(column, at.measured), String::new()),
        Some(_) => (name, missing(), "no station lies beyond it".to_owned()),
        None => (name, missing(), String::new()),
    }
}

fn volume(table: &StationTable) -> Row {
    let name = if table.blades.len() < 2 { "Volume" } else { "Volume of a blade" };
    let blade = &table.blade;
    if blade.volume_m3.is_none() {
        return (name, missing(), String::new());
    }
    let mass = mass(table)
        .map_or_else(|| "no density is known, so no mass".to_owned(), |text| format!("mass {text}"));
    (name, head::volume(blade.volume_m3, blade.u.volume_m3), mass)
}

/// Who made, owns and scanned the part. What is not stated is a line to be filled in by hand on paper.
fn fields(record: &PartRecord, date: &str) -> String {
    const FIELDS: [RecordText; 6] = [
        RecordText::Maker,
        RecordText::Number,
        RecordText::Owner,
        RecordText::AccessionNumber,
        RecordText::ScannedBy,
        RecordText::ScannedWith,
    ];
    let stated = |text: RecordText| record.get(text).map(html);
    let row = |name: &str, text: Option<String>| match text {
        Some(text) => format!("<div><dt>{name}</dt><dd>{text}</dd></div>"),
        None => format!(
            "<div class=\"blank\"><dt>{name}</dt><dd><span class=\"none\">not stated</span></dd></div>"
        ),
    };
    let rows: String = FIELDS.into_iter().map(|text| row(text.label(), stated(text))).collect();
    format!(
        "<dl class=\"fields\" aria-label=\"Who made, owns and scanned the part\">{rows}{}<div class=\"signature\"><dt>Signature</dt><dd></dd></div></dl>",
        row(RecordText::Date.label(), Some(html(date)))
    )
}
