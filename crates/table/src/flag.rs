//! Every flag a station may carry: a short code and one sentence, made here and nowhere else.

use std::fmt;

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};

use crate::notice::{self, Coded};
use crate::{SectionPart, StationColumn};

/// What a reader of a station must be told about it.
///
/// In the documents a flag is the text `code: sentence`. A text read from a file is kept word for word as
/// [`Flag::Text`], whoever wrote it; two flags are equal when their texts are.
///
/// ```
/// use bladeform_table::Flag;
/// let flag = Flag::FewPoints { points: 41, needed: 60 };
/// assert_eq!(flag.text(), "few-points: the outline rests on 41 points, fewer than the 60 its figures need");
/// assert_eq!(Flag::read(&flag.text()), flag);
/// ```
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Flag {
    /// The section could not be measured; every figure but the radius is missing.
    Refused {
        /// Why, without a full stop.
        reason: String,
    },
    /// The cut was open and its gaps were closed by the fit.
    Bridged {
        /// The number of gaps.
        gaps: usize,
        /// The length of all gaps together, m.
        length_m: f64,
        /// The same length as a fraction of the outline's perimeter.
        share: f64,
    },
    /// The section is so thick that its chord line has little or no meaning.
    NearlyCircular {
        /// Thickness / chord.
        thickness_ratio: f64,
    },
    /// The points of the scan lie far apart for the size of the section.
    Coarse {
        /// The typical distance between neighbouring points, m.
        spacing_m: f64,
        /// The chord, m.
        chord_m: f64,
    },
    /// A figure was carried beyond what was measured.
    Extrapolated {
        /// The figure or the quantity, in words.
        what: String,
        /// How far beyond, as a fraction of the tip radius.
        beyond_ratio: f64,
    },
    /// The cut has more closed loops than one; the greatest was measured.
    SeveralLoops {
        /// How many loops the cut has.
        loops: usize,
        /// The area of the loops left out as a fraction of that of the greatest.
        left_out_share: f64,
    },
    /// The outline rests on few points.
    FewPoints {
        /// How many points there are.
        points: usize,
        /// How many the figures need.
        needed: usize,
    },
    /// An edge of the section is not seen by the scan.
    EdgeUnseen {
        /// `leading` or `trailing`.
        edge: Edge,
        /// The length of the chord nearest that edge without points, as a fraction of the chord.
        share: f64,
    },
    /// The outline was made from the station's ratios, not measured.
    StandIn {
        /// The family the outline was taken from, in words.
        family: String,
    },
    /// Figures of a mean that not every blade has.
    MeanOfSome {
        /// The keys of the figures, in the order of the columns.
        keys: Vec<&'static str>,
        /// How many blades the mean is over in all.
        blades: usize,
    },
    /// A flag of one blade of several, carried over into their mean.
    OfBlade {
        /// The index of the blade.
        index: usize,
        /// Its flag.
        flag: Box<Flag>,
    },
    /// A figure lies off the smooth blade by more than its uncertainty allows.
    Departs {
        /// The figure.
        column: StationColumn,
        /// Figure less that of the smooth blade with the standard uncertainty of the difference, in the unit of the column.
        amount: Measured,
    },
    /// Scan points near the station lie off the fitted outline and were left out.
    StrayPoints {
        /// Their number as a fraction of all points near the station.
        fraction: f64,
    },
    /// A side of the section has a stretch without scan points.
    GapInBand {
        /// The side: back or face.
        side: SectionPart,
        /// The length of the stretch as a fraction of the chord.
        fraction: f64,
    },
    /// The trailing edge lies in a hole of the scan.
    GapAtTail {
        /// The width of the hole, m.
        width_m: f64,
    },
    /// There is no scan point around the leading edge.
    GapAtNose {
        /// The length of the outline without points, m.
        width_m: f64,
    },
    /// The leading edge is missing on part of the band that the section is fitted to.
    NoseMissing {
        /// The length of that part along the span as a fraction of the band.
        fraction: f64,
    },
    /// On one part of the section the scan lies off the fitted outline.
    DepartsFromOutline {
        /// Which part.
        part: SectionPart,
        /// How far, m; positive outside the outline.
        amount_m: f64,
        /// Where along the chord, as a fraction of it from the leading edge.
        position: f64,
    },
    /// The scan departs from the fitted outline by more than the other stations' scan does.
    Misfit {
        /// The excess, root mean square, m.
        rms_m: f64,
    },
    /// A text read from a file, kept word for word.
    Text(String),
}

/// An edge of a section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// The leading edge.
    Leading,
    /// The trailing edge.
    Trailing,
}

impl Edge {
    /// `leading` or `trailing`.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Edge::Leading => "leading",
            Edge::Trailing => "trailing",
        }
    }
}

impl Flag {
    /// The whole text as it stands in the documents, `code: sentence`.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Flag::Text(text) => text.clone(),
            Flag::OfBlade { index, flag } => format!("{BLADE_PREFIX}{index}: {}", flag.text()),
            own => format!("{}: {}", own.code(), own.sentence()),
        }
    }

    /// The short code: `refused`, `bridged`, `nearly-circular` ...; empty for a text of a file that has none.
    ///
    /// A flag carried over from one blade has the code of that blade's flag.
    #[must_use]
    pub fn code(&self) -> &str {
        match self {
            Flag::Refused { .. } => "refused",
            Flag::Bridged { .. } => "bridged",
            Flag::NearlyCircular { .. } => "nearly-circular",
            Flag::Coarse { .. } => "coarse",
            Flag::Extrapolated { .. } => "extrapolated",
            Flag::SeveralLoops { .. } => "several-loops",
            Flag::FewPoints { .. } => "few-points",
            Flag::EdgeUnseen { .. } => "edge-unseen",
            Flag::StandIn { .. } => "stand-in",
            Flag::MeanOfSome { .. } => "mean-of-some",
            Flag::OfBlade { flag, .. } => flag.code(),
            Flag::Departs { .. } => "departs",
            Flag::StrayPoints { .. } => "stray-points",
            Flag::GapInBand { .. } => "gap-in-band",
            Flag::GapAtTail { .. } => "gap-at-tail",
            Flag::GapAtNose { .. } => "gap-at-nose",
            Flag::NoseMissing { .. } => "nose-missing",
            Flag::DepartsFromOutline { .. } => "departs-from-outline",
            Flag::Misfit { .. } => "misfit",
            Flag::Text(text) => notice::split(without_blade(text)).0,
        }
    }

    /// The sentence after the code, figures included.
    #[must_use]
    pub fn sentence(&self) -> String {
        match self {
            Flag::Refused { reason } => reason.clone(),
            Flag::Bridged { gaps, length_m, share } => format!(
                "{gaps} gap(s) of {:.1} mm together, {:.0} % of the outline, are closed by the fit",
                length_m * MM_PER_M,
                share * PERCENT
            ),
            Flag::NearlyCircular { thickness_ratio } => {
                format!(
                    "thickness is {:.0} % of the chord; the chord line has little meaning here",
                    thickness_ratio * PERCENT
                )
            }
            Flag::Coarse { spacing_m, chord_m } => format!(
                "points lie {:.1} mm apart on a chord of {:.1} mm; fine features of the section are not seen",
                spacing_m * MM_PER_M,
                chord_m * MM_PER_M
            ),
            Flag::Extrapolated { what, beyond_ratio } => {
                format!("{what} is carried {:.3} R beyond what was measured", beyond_ratio)
            }
            Flag::SeveralLoops { loops, left_out_share } => format!(
                "the cut has {loops} closed loops; the greatest is measured, the others have {:.0} % of its area",
                left_out_share * PERCENT
            ),
            Flag::FewPoints { points, needed } => {
                format!("the outline rests on {points} points, fewer than the {needed} its figures need")
            }
            Flag::EdgeUnseen { edge, share } => format!(
                "the scan shows no points over the {:.1} % of the chord nearest the {} edge",
                share * PERCENT,
                edge.as_str()
            ),
            Flag::StandIn { family } => {
                format!("the outline is a stand-in made from the station's ratios ({family})")
            }
            Flag::MeanOfSome { keys, blades } => {
                format!(
                    "not every one of the {blades} blades has {}; the mean is over those that have",
                    keys.join(", ")
                )
            }
            Flag::Departs { column, amount } => departs(*column, *amount),
            Flag::OfBlade { flag, .. } => flag.sentence(),
            Flag::StrayPoints { fraction } => format!(
                "{:.0} % of the scan points near the station lie off the fitted outline and were left out",
                PERCENT * fraction
            ),
            Flag::GapInBand { side, fraction } => format!(
                "no scan point on {:.0} % of the chord along the {}; the fit carries the outline across",
                PERCENT * fraction,
                side.name()
            ),
            Flag::GapAtTail { width_m } => format!(
                "the trailing edge lies in a hole {:.1} mm wide: the chord may be short by up to half of it",
                MM_PER_M * width_m
            ),
            Flag::GapAtNose { width_m } => format!(
                "no scan point over {:.1} mm around the leading edge; chord, angle and camber hang on how the fit carries the nose across",
                MM_PER_M * width_m
            ),
            Flag::NoseMissing { fraction } => format!(
                "the leading edge is missing on {:.0} % of the band along the span; the uncertainty of chord, angle and camber is a judgement",
                PERCENT * fraction
            ),
            Flag::DepartsFromOutline { part, amount_m, position } => format!(
                "on the {} the scan lies {:.2} mm {} the fitted outline at {:.0} % of the chord: wear, a nick, a bump or filler",
                part.name(),
                MM_PER_M * amount_m.abs(),
                if *amount_m < 0.0 { "inside" } else { "outside" },
                PERCENT * position
            ),
            Flag::Misfit { rms_m } => format!(
                "the scan departs from the fitted outline by {:.2} mm root mean square beyond what is usual on it: a second layer, a bump, a repair",
                MM_PER_M * rms_m
            ),
            Flag::Text(text) => notice::split(without_blade(text)).1.to_owned(),
        }
    }

    /// A flag as it stands in a file. Nothing is lost: [`Flag::text`] gives the same text back.
    #[must_use]
    pub fn read(text: &str) -> Flag {
        Flag::Text(text.to_owned())
    }

    /// Whether the station was refused: all its figures are missing.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        !matches!(self, Flag::OfBlade { .. })
            && self.code() == "refused"
            && !self.text().starts_with(BLADE_PREFIX)
    }
}

impl Coded for Flag {
    fn code(&self) -> &str {
        Flag::code(self)
    }

    fn sentence(&self) -> String {
        Flag::sentence(self)
    }
}

impl PartialEq for Flag {
    fn eq(&self, other: &Flag) -> bool {
        self.text() == other.text()
    }
}

impl Eq for Flag {}

impl fmt::Display for Flag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text())
    }
}

/// What stands before the index of a blade in a flag carried over from it.
const BLADE_PREFIX: &str = "blade ";
/// Sections are a few to a few hundred millimetres in size: their lengths are said in millimetres.
const MM_PER_M: f64 = 1000.0;
const PERCENT: f64 = 100.0;

/// By how much a figure departs: the size with its interval of 95 %, and on which side.
fn departs(column: StationColumn, amount: Measured) -> String {
    let shown = column.shown();
    let side = match (column, amount.value < 0.0) {
        (StationColumn::ChordM, true) => "short of",
        (StationColumn::ChordM, false) => "longer than on",
        (_, true) => "below that of",
        (_, false) => "above that of",
    };
    let unit = if shown.unit == "%" { "% of the chord" } else { shown.unit };
    format!(
        "{} is {:.*} {unit} (± {:.*}) {side} the smooth blade: a repair, a dent, wear or a bend",
        shown.label,
        shown.decimals,
        (amount.value * shown.factor).abs(),
        shown.decimals,
        COVERAGE_FACTOR_95 * amount.u * shown.factor,
    )
}

/// The text without a leading `blade k: `.
fn without_blade(text: &str) -> &str {
    let rest = text.strip_prefix(BLADE_PREFIX).and_then(|rest| rest.split_once(": "));
    match rest {
        Some((index, flag)) if !index.is_empty() && index.bytes().all(|b| b.is_ascii_digit()) => flag,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Notice;

    fn one_of_each() -> Vec<Flag> {
        vec![
            Flag::Refused { reason: "the cut is empty".to_owned() },
            Flag::Bridged { gaps: 2, length_m: 0.0112, share: 0.034 },
            Flag::NearlyCircular { thickness_ratio: 0.91 },
            Flag::Coarse { spacing_m: 0.004, chord_m: 0.12 },
            Flag::Extrapolated { what: "the chord".to_owned(), beyond_ratio: 0.0213 },
            Flag::SeveralLoops { loops: 3, left_out_share: 0.05 },
            Flag::FewPoints { points: 12, needed: 60 },
            Flag::EdgeUnseen { edge: Edge::Trailing, share: 0.021 },
            Flag::StandIn { family: "NACA four-digit".to_owned() },
            Flag::MeanOfSome { keys: vec!["chord_m"], blades: 3 },
            Flag::Departs { column: StationColumn::ChordM, amount: Measured::new(-2.1e-3, 3e-4) },
            Flag::StrayPoints { fraction: 0.12 },
            Flag::GapInBand { side: SectionPart::Face, fraction: 0.31 },
            Flag::GapAtTail { width_m: 0.0042 },
            Flag::GapAtNose { width_m: 0.0031 },
            Flag::NoseMissing { fraction: 0.4 },
            Flag::DepartsFromOutline { part: SectionPart::LeadingEdge, amount_m: -0.00123, position: 0.02 },
            Flag::Misfit { rms_m: 0.00034 },
        ]
    }

    #[test]
    fn every_flag_reads_back_with_its_code_and_its_sentence() {
        for flag in one_of_each() {
            let read = Flag::read(&flag.text());
            assert_eq!(read, flag);
            assert_eq!((read.code(), read.sentence()), (flag.code(), flag.sentence()));
            assert!(notice::is_code(flag.code()), "{}", flag.code());
            assert_eq!(Notice::of(&flag).text(), flag.text());
        }
    }

    #[test]
    fn the_sentence_carries_the_figures() {
        let flags = one_of_each();
        let texts: Vec<String> = flags.iter().map(Flag::text).collect();
        assert_eq!(texts[0], "refused: the cut is empty");
        assert!(texts[1].contains("11.2 mm") && texts[1].contains("3 %"), "{}", texts[1]);
        assert!(texts[10].contains("chord is 2.1 mm (± 0.6) short of the smooth blade"), "{}", texts[10]);
        let wanted = [
            "12 % of the scan points near the station lie off",
            "31 % of the chord along the face",
            "a hole 4.2 mm wide",
            "over 3.1 mm around the leading edge",
            "missing on 40 % of the band",
            "on the leading edge the scan lies 1.23 mm inside the fitted outline at 2 % of the chord",
            "by 0.34 mm root mean square",
        ];
        for (text, words) in texts[11..].iter().zip(wanted) {
            assert!(text.contains(words), "{text}");
        }
        let codes: std::collections::BTreeSet<&str> = flags.iter().map(Flag::code).collect();
        assert_eq!((codes.len(), texts.len()), (flags.len(), 11 + wanted.len()));
        assert!(texts[7].contains("2.1 %") && texts[7].contains("trailing"), "{}", texts[7]);
    }

    #[test]
    fn a_flag_of_one_blade_keeps_its_code_but_is_no_refusal_of_the_mean() {
        let flag = Flag::OfBlade { index: 2, flag: Box::new(one_of_each().swap_remove(0)) };
        assert_eq!(flag.text(), "blade 2: refused: the cut is empty");
        let read = Flag::read(&flag.text());
        assert_eq!((read.code(), read.sentence().as_str()), ("refused", "the cut is empty"));
        assert!(!flag.is_refusal() && !read.is_refusal());
        assert!(one_of_each()[0].is_refusal() && Flag::read("refused: no").is_refusal());
    }

    #[test]
    fn a_text_without_a_code_is_kept_whole() {
        let flag = Flag::read("Seen by eye: a nick at the edge");
        assert_eq!((flag.code(), flag.sentence().as_str()), ("", "Seen by eye: a nick at the edge"));
        assert_eq!(flag.text(), "Seen by eye: a nick at the edge");
    }
}
