//! The units of the unit switch: what each state of it shows, for the script of the page, for charts and for sentences.

use bladeform_quantity::{PowerUnit, ShownUnits, SpeedUnit, UnitFamily};
use bladeform_table::{ColumnUnit, Shown, StationColumn, without_details};
use serde_json::{Map, Value, json};

use crate::escape::json_in_script;

/// A unit of length on the page: a state of the switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LengthUnit {
    /// Millimetre.
    Millimetre,
    /// Inch.
    Inch,
    /// Metre.
    Metre,
}

/// Decimals of a length in metres beyond those in millimetres: three fewer zeros.
const METRE_DECIMALS: i32 = 3;
/// Decimals of an area in square metres beyond those in square millimetres.
const SQUARE_METRE_DECIMALS: i32 = 6;

/// What the script of the page converts: its name there, the unit in which the page is written, and the size of that unit in SI.
const KINDS: [(&str, &str, f64); 11] = [
    ("length", "mm", 1e-3),
    ("area", "mm²", 1e-6),
    ("volume", "cm³", 1e-6),
    ("mass", "kg", 1.0),
    ("force", "N", 1.0),
    ("torque", "N m", 1.0),
    ("power", "kW", 1e3),
    ("speed", "m/s", 1.0),
    ("stream", "m/s", 1.0),
    ("span-force", "N/m", 1.0),
    ("altitude", "m", 1.0),
];

/// The kind of a figure that is written in a unit; empty if no other state of the switch shows it otherwise.
pub(crate) fn kind_of(unit: &str) -> &'static str {
    KINDS.iter().find(|kind| kind.1 == unit).map_or("", |kind| kind.0)
}

impl LengthUnit {
    /// In the order of the switch.
    pub(crate) const ALL: [Self; 3] = [Self::Millimetre, Self::Inch, Self::Metre];

    /// The initial state of the switch.
    pub(crate) const fn initial(units: ShownUnits) -> Self {
        match units.length {
            UnitFamily::Millimetre => Self::Millimetre,
            UnitFamily::Inch => Self::Inch,
        }
    }

    /// As written after a value.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
            Self::Metre => "m",
        }
    }

    /// All units of this state on a page that begins with `initial`. Its own state keeps them; the other has the usual ones of its family.
    pub(crate) fn units(self, initial: ShownUnits) -> ShownUnits {
        let of_initial = Self::initial(initial) == Self::Inch;
        match (self == Self::Inch, of_initial) {
            (true, true) | (false, false) => initial,
            (true, false) => {
                // Speeds and powers typed in other units than SI stay as they were typed.
                let speed = match initial.speed {
                    SpeedUnit::MetrePerSecond => ShownUnits::INCH.speed,
                    typed => typed,
                };
                ShownUnits { speed, power: PowerUnit::Horsepower, ..ShownUnits::INCH }
            }
            (false, true) => ShownUnits::SI,
        }
    }

    /// How a column is shown in this unit. A column that is neither a length nor an area is unchanged.
    pub(crate) fn shown(self, column: StationColumn) -> Shown {
        let shown = crate::words::shown(column);
        if self != Self::Metre {
            return shown.in_units(self.units(ShownUnits::SI));
        }
        if column.unit() != ColumnUnit::Metre {
            return shown;
        }
        Shown { unit: "m", factor: 1.0, decimals: shown.decimals + METRE_DECIMALS as usize, ..shown }
    }

    /// What the script needs for a kind: the unit, its factor from SI, and decimals more than in the unit of the page.
    fn kind(self, (name, unit, si): (&str, &str, f64), initial: ShownUnits) -> Value {
        match (self, name) {
            (Self::Metre, "length") => return json!({"unit": "m", "factor": 1.0, "more": METRE_DECIMALS}),
            (Self::Metre, "area") => {
                return json!({"unit": "m²", "factor": 1.0, "more": SQUARE_METRE_DECIMALS});
            }
            _ => {}
        }
        let units = self.units(initial);
        let found = match name {
            "stream" => units.stream(),
            "altitude" => units.altitude(),
            _ => units.of(unit),
        };
        found.map_or_else(
            || json!({"unit": unit, "factor": 1.0 / si, "more": 0}),
            |to| json!({"unit": to.unit, "factor": to.factor / si, "more": to.more_decimals}),
        )
    }
}

/// The switch, in its initial state, with what the script must know.
pub(crate) fn switch(units: ShownUnits) -> String {
    let initial = LengthUnit::initial(units);
    let state = |unit: LengthUnit| {
        let kinds: Map<String, Value> =
            KINDS.iter().map(|kind| (kind.0.to_owned(), unit.kind(*kind, units))).collect();
        (unit.name().to_owned(), Value::Object(kinds))
    };
    let states: Map<String, Value> = LengthUnit::ALL.into_iter().map(state).collect();
    let options: String = LengthUnit::ALL
        .into_iter()
        .map(|unit| {
            let chosen = if unit == initial { " selected" } else { "" };
            format!("<option{chosen}>{}</option>", unit.name())
        })
        .collect();
    format!(
        "<label>Unit <select id=\"unit\" autocomplete=\"off\">{options}</select></label><script type=\"application/json\" id=\"units\">{}</script>",
        json_in_script(&Value::Object(states).to_string())
    )
}

/// Marks around a sentence whose figures follow the switch; [`with_sentences`] replaces them.
const SAID: [&str; 2] = ["<span class=\"said\">", "</span>"];
/// The same for a text that a pointer shows.
const HINT: [&str; 2] = [" data-said=\"", "\""];

/// A sentence without its details, escaped, whose figures follow the switch.
pub(crate) fn said(text: &str) -> String {
    let safe = crate::escape::html(&without_details(text));
    if ShownUnits::INCH.text(&safe) == safe { safe } else { format!("{}{safe}{}", SAID[0], SAID[1]) }
}

/// The attribute of a text, escaped, that a pointer shows and whose figures follow the switch.
pub(crate) fn hint(text: &str) -> String {
    format!("{}{}{}", HINT[0], crate::escape::html(&without_details(text)), HINT[1])
}

/// The body of a page with every sentence in the units of both families, the initial one shown.
pub(crate) fn with_sentences(body: &str, units: ShownUnits) -> String {
    let both =
        |text: &str| [LengthUnit::Millimetre, LengthUnit::Inch].map(|state| state.units(units).text(text));
    let first = usize::from(LengthUnit::initial(units) == LengthUnit::Inch);
    let sentences = replaced(body, SAID, |text| {
        let texts = both(text);
        let [mm, inch] = &texts;
        format!("<span class=\"said\" data-mm=\"{mm}\" data-in=\"{inch}\">{}</span>", texts[first])
    });
    replaced(&sentences, HINT, |text| {
        let texts = both(text);
        match &texts {
            [mm, inch] if mm == inch => format!(" title=\"{mm}\""),
            [mm, inch] => format!(" title=\"{}\" data-mm=\"{mm}\" data-in=\"{inch}\"", texts[first]),
        }
    })
}

/// The text with every marked piece replaced. Escaped text contains no marks.
fn replaced(text: &str, [from, to]: [&str; 2], by: impl Fn(&str) -> String) -> String {
    let mut pieces = text.split(from);
    let mut made = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        let (marked, rest) = piece.split_once(to).unwrap_or((piece, ""));
        made.push_str(&by(marked));
        made.push_str(rest);
    }
    made
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inch_is_25_4_millimetres_by_definition() {
        // International yard and pound agreement of 1959; NIST SP 811 (2008), appendix B.8.
        let text = |unit: LengthUnit| unit.shown(StationColumn::ChordM).text(Some(0.2032));
        assert_eq!(LengthUnit::ALL.map(text), ["203.2", "8.000", "0.2032"]);
        assert_eq!(LengthUnit::Inch.shown(StationColumn::BladeAngleDeg).unit, "deg");
        assert_eq!(LengthUnit::Inch.shown(StationColumn::AreaM2).text(Some(645.16e-6)), "1.000");
    }

    #[test]
    fn the_switch_tells_the_script_every_unit() {
        let text = switch(ShownUnits::INCH);
        assert!(text.contains("<option>mm</option><option selected>in</option>"), "{text}");
        let json = text.split("id=\"units\">").nth(1).unwrap().split("</script>").next().unwrap();
        let states: Value = serde_json::from_str(json).unwrap();
        // Exact or published sizes: NIST SP 811 (2008), appendix B.8.
        for (kind, unit, si) in [
            ("length", "in", 0.0254),
            ("area", "in²", 6.4516e-4),
            ("volume", "in³", 1.638_706e-5),
            ("force", "lbf", 4.448_222),
            ("torque", "lbf ft", 1.355_818),
            ("power", "hp", 745.699_9),
            ("speed", "mph", 0.447_04),
            ("stream", "ft/s", 0.3048),
            ("span-force", "lbf/ft", 14.593_90),
        ] {
            let found = &states["in"][kind];
            assert_eq!(found["unit"], unit);
            assert!((found["factor"].as_f64().unwrap() * si - 1.0).abs() < 5e-7, "{kind}");
        }
        assert_eq!(states["mm"]["power"]["unit"], "kW");
        assert_eq!(states["m"]["area"]["unit"], "m²");
        // A speed typed in knots stays in knots.
        let knots = ShownUnits { speed: SpeedUnit::Knot, ..ShownUnits::SI };
        assert!(LengthUnit::ALL.iter().all(|state| state.units(knots).speed == SpeedUnit::Knot));
    }

    #[test]
    fn sentences_are_there_in_both_families_and_stay_escaped() {
        let body = format!("<p>{}</p><abbr{}>x</abbr>", said("<b>25.4 mm"), hint("\"25.4 mm"));
        let page = with_sentences(&body, ShownUnits::INCH);
        assert_eq!(
            page,
            "<p><span class=\"said\" data-mm=\"&lt;b&gt;25.4 mm\" data-in=\"&lt;b&gt;1.000 in\">&lt;b&gt;1.000 in</span></p>\
             <abbr title=\"&quot;1.000 in\" data-mm=\"&quot;25.4 mm\" data-in=\"&quot;1.000 in\">x</abbr>"
        );
        assert_eq!(said("no figure"), "no figure");
    }
}
