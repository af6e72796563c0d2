//! Full-size drawings of sections for a wood carver: one sheet per station, as DXF and as SVG with a ruler (PDF: `template_pdf`).
//!
//! A sheet shows the section seen from the tip towards the axis, in blade axes. The plane of rotation is horizontal, the flight direction is up, and the
//! cross marks the pitch-change axis. All coordinates are in millimetres.

use std::fmt::Write as _;

use bladeform_quantity::{Hand, Length, ShownUnits, UnitFamily};
use bladeform_table::{CAUTION, SectionSurface, StationTable};

use crate::surface::BladeSurface;

/// One section, ready for drawing. Lengths in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Template {
    /// Radius.
    pub radius_mm: f64,
    /// Radius as a fraction of the tip radius.
    pub radius_ratio: f64,
    /// Blade angle as drawn, deg.
    pub blade_angle_deg: f64,
    /// Whether the angle is absolute.
    pub is_absolute: bool,
    /// Closed outline, n x 2.
    pub outline_mm: Vec<[f64; 2]>,
    /// Leading and trailing ends of the chord line.
    pub chord_mm: [[f64; 2]; 2],
    /// Further notes on the sheet, one per line.
    pub notes: Vec<String>,
    /// Units of the texts and the ruler. The drawing itself is in mm.
    pub units: ShownUnits,
}

/// Margin around the section, mm.
const MARGIN: f64 = 12.0;
/// Letter height and line spacing, mm.
pub(crate) const LETTER: f64 = 3.5;
/// Line spacing, mm (chosen, one and a half letter heights).
const LINE: f64 = 5.5;
/// Mean width of a letter, mm.
const LETTER_WIDTH: f64 = 0.62 * LETTER;
/// Texts are broken at this width, mm, or at that of a wider section: a sheet is no wider than its section needs (chosen: within A4 held upright).
const TEXT_WIDTH: f64 = 165.0;
/// The ruler: its length, in mm and as it is written, its divisions, and after how many there is a long one.
struct Ruler {
    length: f64,
    name: &'static str,
    divisions: usize,
    long: usize,
}

/// In centimetres.
const RULER: Ruler = Ruler { length: 100.0, name: "100 mm", divisions: 10, long: 5 };
/// In quarters of an inch.
const RULER_IN_INCHES: Ruler = Ruler { length: 4e3 * Length::INCH_M, name: "4 in", divisions: 16, long: 4 };
/// Half length of the cross at the pitch-change axis, mm.
const CROSS: f64 = 6.0;

/// Straight lines and texts of a sheet, in mm with `y` up.
pub(crate) struct Sheet {
    pub(crate) low: [f64; 2],
    pub(crate) high: [f64; 2],
    pub(crate) lines: Vec<([f64; 2], [f64; 2])>,
    pub(crate) chord: ([f64; 2], [f64; 2]),
    pub(crate) texts: Vec<([f64; 2], String)>,
}

impl Template {
    /// The texts of the sheet.
    #[must_use]
    pub fn caption(&self) -> Vec<String> {
        let kind = if self.is_absolute { "blade angle" } else { "blade angle (relative)" };
        let mut lines = vec![format!(
            "radius {:.1} mm ({:.3} R), {kind} {:.2} deg, chord {:.1} mm",
            self.radius_mm,
            self.radius_ratio,
            self.blade_angle_deg,
            (self.chord_mm[1][0] - self.chord_mm[0][0]).hypot(self.chord_mm[1][1] - self.chord_mm[0][1])
        )];
        lines.push(
            "seen from the tip; level line: plane of rotation; flight is up; cross: pitch-change axis"
                .to_owned(),
        );
        lines.extend(self.notes.iter().map(|note| one_line(note)));
        lines.iter().map(|line| self.units.text(line)).collect()
    }

    pub(crate) fn sheet(&self) -> Sheet {
        let marks = [[-CROSS, -CROSS], [CROSS, CROSS]];
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in self.outline_mm.iter().chain(&marks).chain(&self.chord_mm) {
            for k in 0..2 {
                low[k] = low[k].min(p[k]);
                high[k] = high[k].max(p[k]);
            }
        }
        let (left, right) = (low[0] - MARGIN, high[0] + MARGIN);
        let mut lines = vec![([left, 0.0], [right, 0.0]), ([0.0, -CROSS], [0.0, CROSS])];
        let room = ((right - left).max(TEXT_WIDTH) / LETTER_WIDTH) as usize;
        let caption: Vec<String> = self.caption().iter().flat_map(|line| wrapped(line, room)).collect();
        let top = high[1] + MARGIN + LINE * caption.len() as f64;
        let texts: Vec<_> = caption
            .into_iter()
            .enumerate()
            .map(|(i, text)| ([left, top - LINE * (i as f64 + 0.8)], text))
            .collect();
        let bottom = low[1] - MARGIN;
        let ruler = if self.units.length == UnitFamily::Inch { RULER_IN_INCHES } else { RULER };
        lines.push(([left, bottom], [left + ruler.length, bottom]));
        lines.extend((0..=ruler.divisions).map(|k| {
            let x = left + ruler.length * k as f64 / ruler.divisions as f64;
            ([x, bottom], [x, bottom + if k % ruler.long == 0 { 4.0 } else { 2.5 }])
        }));
        let mut texts = texts;
        texts.push(([left, bottom - LINE], format!("this ruler must measure {} on the print", ruler.name)));
        let widest =
            texts.iter().map(|t| LETTER_WIDTH * t.1.chars().count() as f64).fold(ruler.length, f64::max);
        Sheet {
            low: [left - 4.0, bottom - 2.0 * LINE],
            high: [(left + widest).max(right) + 4.0, top + 2.0],
            lines,
            chord: (self.chord_mm[0], self.chord_mm[1]),
            texts,
        }
    }

    /// The sheet as SVG 1.1. Its size is declared in mm; one user unit is a millimetre.
    #[must_use]
    pub fn svg(&self) -> String {
        let sheet = self.sheet();
        let (w, h) = (sheet.high[0] - sheet.low[0], sheet.high[1] - sheet.low[1]);
        let at = |p: [f64; 2]| format!("{:.4},{:.4}", p[0] - sheet.low[0], sheet.high[1] - p[1]);
        let mut text = format!(
            "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"{w:.3}mm\" height=\"{h:.3}mm\" viewBox=\"0 0 {w:.3} {h:.3}\">\n<g fill=\"none\" stroke=\"black\" stroke-width=\"0.15\">\n"
        );
        let outline: Vec<_> = self.outline_mm.iter().map(|&p| at(p)).collect();
        let _ =
            writeln!(text, "<polygon id=\"section\" stroke-width=\"0.2\" points=\"{}\"/>", outline.join(" "));
        for (a, b) in &sheet.lines {
            let _ = writeln!(text, "<polyline points=\"{} {}\"/>", at(*a), at(*b));
        }
        let (a, b) = sheet.chord;
        let _ = writeln!(
            text,
            "<polyline id=\"chord\" stroke-dasharray=\"6 2 1 2\" points=\"{} {}\"/>",
            at(a),
            at(b)
        );
        let _ = writeln!(text, "</g>\n<g font-family=\"sans-serif\" font-size=\"{LETTER}\" fill=\"black\">");
        for (p, words) in &sheet.texts {
            let (x, y) = (p[0] - sheet.low[0], sheet.high[1] - p[1]);
            let words = words.replace('&', "&amp;").replace('<', "&lt;");
            let _ = writeln!(text, "<text x=\"{x:.3}\" y=\"{y:.3}\">{words}</text>");
        }
        text.push_str("</g>\n</svg>\n");
        text
    }

    /// The sheet as a DXF drawing of the oldest release still in common use (AC1009): layers SECTION, CHORD, MARKS, TEXT; one drawing unit is a millimetre.
    #[must_use]
    pub fn dxf(&self) -> String {
        let sheet = self.sheet();
        let mut d = Dxf(String::new());
        d.pairs(&[
            ("0", "SECTION"),
            ("2", "HEADER"),
            ("9", "$ACADVER"),
            ("1", "AC1009"),
            ("9", "$MEASUREMENT"),
            ("70", "1"),
            ("0", "ENDSEC"),
        ]);
        d.pairs(&[("0", "SECTION"), ("2", "TABLES"), ("0", "TABLE"), ("2", "LAYER"), ("70", "4")]);
        for layer in ["SECTION", "CHORD", "MARKS", "TEXT"] {
            d.pairs(&[("0", "LAYER"), ("2", layer), ("70", "0"), ("62", "7"), ("6", "CONTINUOUS")]);
        }
        d.pairs(&[("0", "ENDTAB"), ("0", "ENDSEC"), ("0", "SECTION"), ("2", "ENTITIES")]);
        d.pairs(&[
            ("0", "POLYLINE"),
            ("8", "SECTION"),
            ("66", "1"),
            ("70", "1"),
            ("10", "0.0"),
            ("20", "0.0"),
            ("30", "0.0"),
        ]);
        for p in &self.outline_mm {
            d.pairs(&[("0", "VERTEX"), ("8", "SECTION")]);
            d.point(["10", "20", "30"], *p);
        }
        d.pairs(&[("0", "SEQEND"), ("8", "SECTION")]);
        d.line("CHORD", sheet.chord);
        for line in &sheet.lines {
            d.line("MARKS", *line);
        }
        for (p, words) in &sheet.texts {
            d.pairs(&[("0", "TEXT"), ("8", "TEXT")]);
            d.point(["10", "20", "30"], *p);
            d.pairs(&[("40", &format!("{LETTER}")), ("1", words)]);
        }
        d.pairs(&[("0", "ENDSEC"), ("0", "EOF")]);
        d.0
    }
}

/// A text in lines of at most so many characters, broken between words.
fn wrapped(text: &str, most: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let last = lines.len() - 1;
        let length = lines[last].chars().count();
        if 0 < length && most < length + 1 + word.chars().count() {
            lines.push(format!("  {word}"));
        } else {
            if 0 < length {
                lines[last].push(' ');
            }
            lines[last].push_str(word);
        }
    }
    lines
}

/// A text from a table as one line: a line break in it would begin a new group of a DXF drawing, so that a table could draw.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}') { ' ' } else { c })
        .collect()
}

/// Pairs of group code and value, one line each.
struct Dxf(String);

impl Dxf {
    fn pairs(&mut self, pairs: &[(&str, &str)]) {
        for (code, value) in pairs {
            // Writing to a string cannot fail.
            let _ = writeln!(self.0, "{code:>3}\n{value}");
        }
    }

    fn point(&mut self, codes: [&str; 3], p: [f64; 2]) {
        let [x, y] = p.map(|c| format!("{c:.6}"));
        self.pairs(&[(codes[0], &x), (codes[1], &y), (codes[2], "0.0")]);
    }

    fn line(&mut self, layer: &str, (a, b): ([f64; 2], [f64; 2])) {
        self.pairs(&[("0", "LINE"), ("8", layer)]);
        self.point(["10", "20", "30"], a);
        self.point(["11", "21", "31"], b);
    }
}

/// A sheet for every station of a table at which the blade has a section. `blade` is rotated by `turned_deg` from the angles of the table.
#[must_use]
pub fn templates(
    table: &StationTable,
    blade: &BladeSurface,
    turned_deg: f64,
    is_absolute: bool,
) -> Vec<Template> {
    let shift_m = blade.tip_radius_m() - table.blade.radius_m;
    let [first, last] = blade.sections_m();
    let is_left = table.hand() == Hand::Left;
    let usable = table.stations.iter().filter(|s| {
        let r = s.radius_m + shift_m;
        s.chord_m.is_some() && !s.is_refused() && (first - 1e-9..=last + 1e-9).contains(&r)
    });
    usable
        .filter_map(|s| {
            let radius_m = s.radius_m + shift_m;
            let angle_deg = s.blade_angle_deg? + turned_deg;
            let (sin, cos) = turned_deg.to_radians().sin_cos();
            let (x, y) = (s.mid_chord_x_m.unwrap_or(0.0), s.mid_chord_y_m.unwrap_or(0.0));
            let mid = [x * cos - y * sin, x * sin + y * cos];
            let half = 0.5 * s.chord_m?;
            let end = |side: f64| {
                let (sin, cos) = angle_deg.to_radians().sin_cos();
                let x = mid[0] + side * half * cos;
                [1e3 * if is_left { -x } else { x }, 1e3 * (mid[1] + side * half * sin)]
            };
            let mut notes: Vec<String> = s.flags.iter().map(|f| format!("flag: {f}")).collect();
            if blade.sections() == SectionSurface::Cylinder {
                notes.push(format!(
                    "developed from the cylinder of {:.1} mm radius about the axis of rotation: bend the sheet to this radius, or it does not fit",
                    1e3 * radius_m
                ));
            }
            notes.push(format!("{}-hand propeller", table.hand()));
            notes.push(CAUTION.to_owned());
            Some(Template {
                radius_mm: 1e3 * radius_m,
                radius_ratio: radius_m / blade.tip_radius_m(),
                blade_angle_deg: angle_deg,
                is_absolute,
                outline_mm: blade.section(radius_m, 4).into_iter().map(|p| p.map(|c| 1e3 * c)).collect(),
                chord_mm: [end(1.0), end(-1.0)],
                notes,
                units: ShownUnits::SI,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flag_with_line_breaks_draws_nothing() {
        let sheet = |note: &str| Template {
            radius_mm: 500.0,
            radius_ratio: 0.5,
            blade_angle_deg: 20.0,
            is_absolute: true,
            outline_mm: vec![[0.0, 0.0], [10.0, 0.0], [5.0, 3.0]],
            chord_mm: [[0.0, 0.0], [10.0, 0.0]],
            notes: vec![note.to_owned()],
            units: ShownUnits::SI,
        };
        let hostile = sheet("flag: x\n  0\r\nLINE\u{85}  8\u{2028}MARKS\u{1b}[2J</text><a>");
        let plain = sheet("flag: x");
        assert_eq!(hostile.dxf().lines().count(), plain.dxf().lines().count());
        assert_eq!(hostile.svg().lines().count(), plain.svg().lines().count());
        assert!(!hostile.svg().contains("<a>") && !hostile.dxf().contains('\u{1b}'));
    }

    #[test]
    fn long_texts_are_broken_and_do_not_widen_the_sheet() {
        let made = Template {
            radius_mm: 500.0,
            radius_ratio: 0.5,
            blade_angle_deg: 20.0,
            is_absolute: true,
            outline_mm: vec![[-60.0, 0.0], [60.0, 0.0], [5.0, 3.0]],
            chord_mm: [[60.0, 0.0], [-60.0, 0.0]],
            notes: vec![CAUTION.to_owned()],
            units: ShownUnits::SI,
        };
        let sheet = made.sheet();
        assert!(sheet.high[0] - sheet.low[0] < 180.0, "{}", sheet.high[0] - sheet.low[0]);
        let texts: Vec<&str> = sheet.texts.iter().map(|t| t.1.trim()).collect();
        assert!(texts.join(" ").contains(CAUTION), "{texts:?}");
    }

    #[test]
    fn a_sheet_in_inches_keeps_its_coordinates_and_has_a_ruler_of_four_inches() {
        let sheet = |units: ShownUnits| Template {
            radius_mm: 508.0,
            radius_ratio: 0.5,
            blade_angle_deg: 20.0,
            is_absolute: true,
            outline_mm: vec![[0.0, 0.0], [10.0, 0.0], [5.0, 3.0]],
            chord_mm: [[0.0, 0.0], [25.4, 0.0]],
            notes: vec!["flag: coarse: scan points are 2.54 mm apart".to_owned()],
            units,
        };
        let inches = sheet(ShownUnits::INCH);
        let caption = inches.caption();
        assert_eq!(caption[0], "radius 20.000 in (0.500 R), blade angle 20.00 deg, chord 1.000 in");
        assert_eq!(caption[2], "flag: coarse: scan points are 0.1000 in apart");
        let ruler = inches.sheet().lines[2];
        // NIST SP 811 (2008), appendix B.8: the inch is 25.4 mm.
        assert!((ruler.1[0] - ruler.0[0] - 4.0 * 25.4).abs() < 1e-12);
        assert!(inches.svg().contains("this ruler must measure 4 in on the print"));
        let polygon =
            |svg: &str| svg.split("<polygon").nth(1).unwrap().split("/>").next().unwrap().to_owned();
        let size = |svg: &str| polygon(svg).matches(' ').count();
        assert_eq!(size(&inches.svg()), size(&sheet(ShownUnits::SI).svg()));
        assert!(sheet(ShownUnits::SI).svg().contains("this ruler must measure 100 mm on the print"));
    }
}
