//! Every flag of a station: a short code and its sentence, made here and nowhere else. A sentence says what is wrong, what it does to the figures, and what to do.

use std::fmt;

use bladeform_quantity::{COVERAGE_FACTOR_95, Measured};

use crate::details::with_details;
use crate::notice::{self, Coded};
use crate::{SectionPart, StationColumn};

/// What must be reported about a station.
///
/// In the documents a flag is the text `code: sentence`. A text read from a file is kept word for word as
/// [`Flag::Text`]. Two flags are equal if their texts are equal.
///
/// ```
/// use bladeform_table::Flag;
/// let flag = Flag::FewPoints { points: 41, needed: 60 };
/// assert_eq!(flag.code(), "few-points");
/// assert!(flag.sentence().starts_with("the outline is based on 41 points, fewer than the 60 that its figures need"));
/// assert_eq!(Flag::read(&flag.text()), flag);
/// ```
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Flag {
    /// The section could not be measured. All figures but the radius are missing.
    Refused {
        /// The reason, without a full stop.
        reason: String,
    },
    /// The cut was open and its gaps were closed by the fit.
    Bridged {
        /// The number of gaps.
        gaps: usize,
        /// The total length of the gaps, m.
        length_m: f64,
        /// The same length as a fraction of the outline's perimeter.
        share: f64,
    },
    /// The section is so thick that its chord line has little or no meaning.
    NearlyCircular {
        /// Thickness / chord.
        thickness_ratio: f64,
    },
    /// The scan points are far apart compared with the size of the section.
    Coarse {
        /// The typical distance between neighbouring points, m.
        spacing_m: f64,
        /// The chord, m.
        chord_m: f64,
    },
    /// A figure was extrapolated beyond the measured part.
    Extrapolated {
        /// The figure or the quantity, in words.
        what: String,
        /// How far beyond, as a fraction of the tip radius.
        beyond_ratio: f64,
    },
    /// The cut has more than one closed loop. The greatest was measured.
    SeveralLoops {
        /// Number of loops.
        loops: usize,
        /// Area of the loops left out as a fraction of that of the greatest loop.
        left_out_share: f64,
    },
    /// The outline is based on few points.
    FewPoints {
        /// Number of points.
        points: usize,
        /// Number of points that the figures need.
        needed: usize,
    },
    /// The scan does not show an edge of the section.
    EdgeUnseen {
        /// `leading` or `trailing`.
        edge: Edge,
        /// The part of the chord nearest to that edge without points, as a fraction of the chord.
        share: f64,
    },
    /// The outline is a substitute made from the station's ratios.
    StandIn {
        /// The family the outline was taken from, in words.
        family: String,
    },
    /// Some figures of a mean are missing on some blades.
    MeanOfSome {
        /// The keys of the figures, in the order of the columns.
        keys: Vec<&'static str>,
        /// Number of all blades.
        blades: usize,
    },
    /// The blades of a mean differ by more than their uncertainties explain.
    UnlikeBlades {
        /// Figures of the mean whose uncertainty contains the spread, each with the standard deviation of the blades in the unit of the column.
        given: Vec<(StationColumn, f64)>,
        /// Figures that are not given, with the same.
        withheld: Vec<(StationColumn, f64)>,
    },
    /// A flag of one of several blades, copied to their mean.
    OfBlade {
        /// The number of the blade, counted from 1.
        index: usize,
        /// Its flag.
        flag: Box<Flag>,
    },
    /// Some figures of a mean over scans are missing in some scans.
    MeanOfSomeScans {
        /// The keys of the figures, in the order of the columns.
        keys: Vec<&'static str>,
        /// Number of all scans.
        scans: usize,
    },
    /// A flag of one of several scans of a blade, copied to their mean.
    OfScan {
        /// The index of the scan, counted from 1.
        index: usize,
        /// Its flag.
        flag: Box<Flag>,
    },
    /// A figure departs from the smooth blade by more than its uncertainty allows.
    Departs {
        /// The figure.
        column: StationColumn,
        /// Figure minus that of the smooth blade, with the standard uncertainty of the difference, in the unit of the column.
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
    /// The scan ends in an open rim in place of an edge.
    EdgeNotScanned {
        /// The edge.
        edge: Edge,
        /// Distance of back and face at the rim, m.
        width_m: f64,
        /// How far beyond the outline the edge may lie, m; `None` where the sides do not show it, so that figures are withheld.
        beyond_m: Option<f64>,
    },
    /// The leading edge is missing on a part of the band to which the section is fitted.
    NoseMissing {
        /// The length of that part along the span as a fraction of the band.
        fraction: f64,
    },
    /// On one part of the section the scan departs from the fitted outline.
    DepartsFromOutline {
        /// The part.
        part: SectionPart,
        /// The departure, m, positive outside the outline.
        amount_m: f64,
        /// Its position along the chord, as a fraction of the chord from the leading edge.
        position: f64,
    },
    /// The leading edge is rounded less than the scan resolves.
    RadiusNotResolved {
        /// The greatest radius that the scan allows, m.
        bound_m: f64,
    },
    /// The resolution of the scan is too coarse for the section: what it has taken could not be given back.
    ResolutionNotCorrected {
        /// What it may have taken from the chord, m.
        short_m: f64,
    },
    /// The plane cut at the station contradicts the fitted outline.
    CutDiffers {
        /// The figure.
        column: StationColumn,
        /// Cut minus fit, with the standard uncertainty of the difference, in the unit of the column.
        amount: Measured,
    },
    /// The fitted outline crosses itself, and not only at a thin edge: it is not given.
    OutlineCrosses,
    /// The sides of the fitted outline change places at an edge, which was made sharp.
    EdgeMadeSharp {
        /// The edge.
        edge: Edge,
        /// Over which length from it, m.
        length_m: f64,
        /// How far a side was moved at most, m.
        moved_m: f64,
    },
    /// The section does not follow the outline model: it was measured on the mean of plane cuts.
    MeasuredByCuts {
        /// How many cuts.
        cuts: usize,
    },
    /// The scan departs from the fitted outline by more than at the other stations.
    Misfit {
        /// Excess of the root mean square, m.
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
    /// The whole text in the form of the documents, `code: sentence`.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Flag::Text(text) => text.clone(),
            Flag::OfBlade { index, flag } => format!("{BLADE_PREFIX}{index}: {}", flag.text()),
            Flag::OfScan { index, flag } => format!("{SCAN_PREFIX}{index}: {}", flag.text()),
            own => format!("{}: {}", own.code(), own.sentence()),
        }
    }

    /// The short code: `refused`, `bridged`, `nearly-circular` ... It is empty for a text of a file without a code.
    ///
    /// A flag copied from one blade has the code of that blade's flag.
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
            Flag::MeanOfSomeScans { .. } => "mean-of-some-scans",
            Flag::UnlikeBlades { .. } => "unlike-blades",
            Flag::OfBlade { flag, .. } | Flag::OfScan { flag, .. } => flag.code(),
            Flag::Departs { .. } => "departs",
            Flag::StrayPoints { .. } => "stray-points",
            Flag::GapInBand { .. } => "gap-in-band",
            Flag::GapAtTail { .. } | Flag::EdgeNotScanned { edge: Edge::Trailing, .. } => "gap-at-tail",
            Flag::GapAtNose { .. } | Flag::EdgeNotScanned { edge: Edge::Leading, .. } => "gap-at-nose",
            Flag::NoseMissing { .. } => "nose-missing",
            Flag::DepartsFromOutline { .. } => "departs-from-outline",
            Flag::RadiusNotResolved { .. } => "radius-not-resolved",
            Flag::ResolutionNotCorrected { .. } => "resolution-not-corrected",
            Flag::CutDiffers { .. } => "cut-differs",
            Flag::MeasuredByCuts { .. } => "measured-by-cuts",
            Flag::OutlineCrosses => "outline-crosses",
            Flag::EdgeMadeSharp { .. } => "edge-made-sharp",
            Flag::Misfit { .. } => "misfit",
            Flag::Text(text) => notice::split(without_origin(text)).0,
        }
    }

    /// The sentence after the code, with its figures.
    #[must_use]
    pub fn sentence(&self) -> String {
        match self {
            Flag::Refused { reason } => reason.clone(),
            Flag::Bridged { gaps, length_m, share } => format!(
                "the cut is open over {:.1} mm in {gaps} {}, {:.0} % of the outline. The fit closes it, and the uncertainties allow for that; scan this part again if they are too large",
                length_m * MM_PER_M,
                if *gaps == 1 { "place" } else { "places" },
                share * PERCENT
            ),
            Flag::NearlyCircular { thickness_ratio } => {
                format!(
                    "thickness is {:.0} % of the chord, so the chord line has little meaning here. Chord, angles and camber are not given; use thickness and longest chord",
                    thickness_ratio * PERCENT
                )
            }
            Flag::Coarse { spacing_m, chord_m } => format!(
                "scan points are {:.1} mm apart on a chord of {:.1} mm. Small features of the section are not resolved; use a finer scan",
                spacing_m * MM_PER_M,
                chord_m * MM_PER_M
            ),
            Flag::Extrapolated { what, beyond_ratio } => {
                format!(
                    "{what} is extrapolated {:.3} R beyond the measured part and is less certain there. Measure a station nearby if you can",
                    beyond_ratio
                )
            }
            Flag::SeveralLoops { loops, left_out_share } => format!(
                "the cut has {loops} closed loops. Only the greatest is measured, and the others have {:.0} % of its area; check the scan here for loose or double surfaces",
                left_out_share * PERCENT
            ),
            Flag::FewPoints { points, needed } => {
                format!(
                    "the outline is based on {points} points, fewer than the {needed} that its figures need. The figures are rough; use a finer scan"
                )
            }
            Flag::EdgeUnseen { edge, share } => format!(
                "there are no scan points on the {:.1} % of the chord nearest to the {} edge. The chord may be too short; scan this edge again",
                share * PERCENT,
                edge.as_str()
            ),
            Flag::StandIn { family } => {
                format!(
                    "the outline is a substitute section made from the station's ratios ({family}). It was not measured; give an outline for better figures"
                )
            }
            Flag::MeanOfSome { keys, blades } => {
                format!(
                    "not all {blades} blades have {}. The mean is that of the blades that have them; see the flags of the others",
                    keys_text(keys)
                )
            }
            Flag::UnlikeBlades { given, withheld } => unlike_blades(given, withheld),
            Flag::Departs { column, amount } => departs(*column, *amount),
            Flag::MeanOfSomeScans { keys, scans } => {
                format!(
                    "not all {scans} scans have {}. The mean is that of the scans that have them; see the flags of the others",
                    keys_text(keys)
                )
            }
            Flag::OfBlade { flag, .. } | Flag::OfScan { flag, .. } => flag.sentence(),
            Flag::StrayPoints { fraction } => format!(
                "{:.0} % of the scan points near the station lie off the fitted outline. They were left out of the fit; check the scan here for loose or double surfaces",
                PERCENT * fraction
            ),
            Flag::GapInBand { side, fraction } => format!(
                "there are no scan points on {:.0} % of the chord along the {}. The fit bridges the gap, and the uncertainties allow for that; scan this part again if they are too large",
                PERCENT * fraction,
                side.name()
            ),
            Flag::GapAtTail { width_m } => format!(
                "the trailing edge lies in a hole {:.1} mm wide. The chord may be too short by up to half of that, and its uncertainty allows for it; scan the trailing edge again",
                MM_PER_M * width_m
            ),
            Flag::GapAtNose { width_m } => format!(
                "there are no scan points over {:.1} mm around the leading edge. Chord, angle and camber depend on how the fit bridges the gap; scan the leading edge again",
                MM_PER_M * width_m
            ),
            Flag::EdgeNotScanned { edge, width_m, beyond_m } => not_scanned(*edge, *width_m, *beyond_m),
            Flag::NoseMissing { fraction } => format!(
                "the leading edge is missing on {:.0} % of the band along the span. The uncertainty of chord, angle and camber is a judgement; scan the leading edge again",
                PERCENT * fraction
            ),
            Flag::DepartsFromOutline { part, amount_m, position } => format!(
                "on the {} the scan lies {:.2} mm {} the fitted outline at {:.0} % of the chord. The figures are those of the outline; check the blade there for wear, a nick, a bump or filler",
                part.name(),
                MM_PER_M * amount_m.abs(),
                if *amount_m < 0.0 { "inside" } else { "outside" },
                PERCENT * position
            ),
            Flag::RadiusNotResolved { bound_m } => format!(
                "the leading edge is sharper than the scan resolves. Its radius is at most {:.2} mm and no figure is given; use a radius gauge or a finer scan of the edge",
                MM_PER_M * bound_m
            ),
            Flag::ResolutionNotCorrected { short_m } => format!(
                "the resolution of the scan is too coarse for this section: the figures are those of the smoothed surface. The chord may be short by {:.2} mm, which the uncertainty contains; measure the chord by hand, or scan the blade more finely",
                MM_PER_M * short_m
            ),
            Flag::CutDiffers { column, amount } => cut_differs(*column, *amount),
            Flag::OutlineCrosses => "the fitted outline crosses itself, as no section does: the outline is not given, and the figures are doubtful. Look at the scan here for double surfaces, holes and square edges".to_owned(),
            Flag::EdgeMadeSharp { edge, length_m, moved_m } => format!(
                "the sides of the fitted outline change places within {:.1} mm of the {} edge, where the thickness is that of the noise. The outline is given a sharp edge there, which moves it by up to {:.2} mm. The figures are not changed; look at the edge before a solid or a template is made",
                length_m * MM_PER_M,
                edge.as_str(),
                moved_m * MM_PER_M
            ),
            Flag::MeasuredByCuts { cuts } => format!(
                "the edges along this blade are not those of a blade section, square ones for example. The figures are those of the mean of {cuts} plane cuts, by the same definitions; no radius of the leading edge is given"
            ),
            Flag::Misfit { rms_m } => format!(
                "the scan departs from the fitted outline by {:.2} mm root mean square beyond what is usual on this scan. The uncertainties are increased; check for a second layer of the scan, a bump or a repair",
                MM_PER_M * rms_m
            ),
            Flag::Text(text) => notice::split(without_origin(text)).1.to_owned(),
        }
    }

    /// A flag from its text in a file. Nothing is lost: [`Flag::text`] returns the same text.
    #[must_use]
    pub fn read(text: &str) -> Flag {
        Flag::Text(text.to_owned())
    }

    /// Whether the station was refused, so that all its figures are missing.
    #[must_use]
    pub fn is_refusal(&self) -> bool {
        !matches!(self, Flag::OfBlade { .. } | Flag::OfScan { .. })
            && self.code() == "refused"
            && !self.text().starts_with(BLADE_PREFIX)
            && !self.text().starts_with(SCAN_PREFIX)
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

/// Prefix before the index of the blade in a flag copied from it.
const BLADE_PREFIX: &str = "blade ";
/// Prefix before the index of the scan in a flag copied from it.
const SCAN_PREFIX: &str = "scan ";
/// Sections are a few to a few hundred millimetres in size, so lengths are given in millimetres.
const MM_PER_M: f64 = 1000.0;
/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;

/// Figures in words; of many the first and how many more. Each missing figure is seen in the table.
fn keys_text(keys: &[&str]) -> String {
    const MOST: usize = 8;
    // The key without its unit: leading_edge_radius_m is the leading edge radius.
    let word = |key: &&str| {
        let bare = ["_m2", "_m", "_deg"].iter().find_map(|unit| key.strip_suffix(unit)).unwrap_or(key);
        bare.replace('_', " ")
    };
    let words: Vec<String> = keys.iter().take(MOST).map(word).collect();
    match keys.len().saturating_sub(MOST) {
        0 => words.join(", "),
        more => format!("{} and {more} more figures", words.join(", ")),
    }
}

/// So many figures are named in a sentence; all are in the details.
const MOST_NAMED: usize = 2;

/// Figures in which blades differ: those whose mean is given, and those that have none.
fn unlike_blades(given: &[(StationColumn, f64)], withheld: &[(StationColumn, f64)]) -> String {
    let listed = |figures: &[(StationColumn, f64)]| {
        let text = |(column, deviation): &(StationColumn, f64)| {
            let shown = column.shown();
            let unit = if shown.unit == "%" { "% of the chord" } else { shown.unit };
            let amount = format!("{:.*} {unit}", shown.decimals, shown.factor * deviation);
            format!("{} (standard deviation {amount})", shown.label)
        };
        figures.iter().map(text).collect::<Vec<_>>().join(", ")
    };
    let named = |figures: &[(StationColumn, f64)]| match figures.len().saturating_sub(MOST_NAMED) {
        0 => listed(figures),
        more => format!("{} and {more} more", listed(&figures[..MOST_NAMED])),
    };
    let mut text = "the blades differ here by more than their uncertainties explain".to_owned();
    if !given.is_empty() {
        text +=
            &format!(", in {}. The mean is that of unlike blades, with their spread in its u", named(given));
    }
    if !withheld.is_empty() {
        text += &format!(". They are so unlike in {} that no mean is given", named(withheld));
    }
    text += "; read the rows of each blade";
    if given.len().max(withheld.len()) <= MOST_NAMED {
        return text;
    }
    let lists = [("in their spread", given), ("without a mean", withheld)];
    let lists = lists.iter().filter(|(_, figures)| !figures.is_empty());
    let details: Vec<String> = lists.map(|(what, figures)| format!("{what}: {}", listed(figures))).collect();
    with_details(&text, &details.join("; "))
}

/// What a plane cut contradicts: the difference with its 95 % interval.
fn cut_differs(column: StationColumn, amount: Measured) -> String {
    let shown = column.shown();
    format!(
        "{} by the plane cut is {:.*} {} (± {:.*}) {} than by the fitted outline. One of the two is wrong by that much; look at the section in the record, and read the part by hand here",
        shown.label,
        shown.decimals,
        shown.factor * amount.value.abs(),
        if shown.unit == "%" { "% of the chord" } else { shown.unit },
        shown.decimals,
        COVERAGE_FACTOR_95 * amount.u * shown.factor,
        if amount.value < 0.0 { "less" } else { "greater" },
    )
}

/// An edge that was not scanned: what the figures are without it.
fn not_scanned(edge: Edge, width_m: f64, beyond_m: Option<f64>) -> String {
    let own = match edge {
        Edge::Leading => "leading-edge radius",
        Edge::Trailing => "trailing-edge thickness",
    };
    let (edge, width) = (edge.as_str(), MM_PER_M * width_m);
    match beyond_m {
        Some(beyond_m) => format!(
            "the {edge} edge was not scanned: back and face end in an open rim {width:.1} mm wide and would meet up to {:.1} mm beyond the outline. The figures are those of the scanned part, and their uncertainties allow for an edge anywhere between; the {} is not given. Scan the {edge} edge again",
            MM_PER_M * beyond_m,
            own
        ),
        None => format!(
            "the {edge} edge was not scanned: back and face end in an open rim {width:.1} mm wide and do not show where they would meet. Chord, angles, camber, ratios, positions, edges, longest chord, area and mid-chord are not given; scan the {edge} edge again"
        ),
    }
}

/// The departure of a figure: its size with the 95 % interval, and its side.
fn departs(column: StationColumn, amount: Measured) -> String {
    let shown = column.shown();
    let side = match (column, amount.value < 0.0) {
        (StationColumn::ChordM, true) => "shorter than on",
        (StationColumn::ChordM, false) => "longer than on",
        (_, true) => "below that of",
        (_, false) => "above that of",
    };
    let unit = if shown.unit == "%" { "% of the chord" } else { shown.unit };
    format!(
        "{} is {:.*} {unit} (± {:.*}) {side} the smooth blade. The figure is unchanged; check the blade for a repair, a dent, wear or a bend",
        shown.label,
        shown.decimals,
        (amount.value * shown.factor).abs(),
        shown.decimals,
        COVERAGE_FACTOR_95 * amount.u * shown.factor,
    )
}

/// The text without a leading `scan k: ` and `blade k: `.
fn without_origin(text: &str) -> &str {
    without(without(text, SCAN_PREFIX), BLADE_PREFIX)
}

/// The text without a leading prefix and number.
fn without<'a>(text: &'a str, prefix: &str) -> &'a str {
    let rest = text.strip_prefix(prefix).and_then(|rest| rest.split_once(": "));
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
            Flag::RadiusNotResolved { bound_m: 0.0011 },
            Flag::ResolutionNotCorrected { short_m: 0.0021 },
            Flag::MeanOfSomeScans { keys: vec!["chord_m"], scans: 3 },
            Flag::EdgeMadeSharp { edge: Edge::Trailing, length_m: 2e-3, moved_m: 3e-5 },
            Flag::MeasuredByCuts { cuts: 9 },
            Flag::CutDiffers { column: StationColumn::BladeAngleDeg, amount: Measured::new(1.2, 0.1) },
            Flag::UnlikeBlades {
                given: vec![(StationColumn::ChordM, 0.0041)],
                withheld: vec![(StationColumn::BladeAngleDeg, 6.5)],
            },
        ]
    }

    #[test]
    fn no_sentence_is_long_whatever_its_figures() {
        // Some four lines of a terminal, characters (the project's own limit).
        const LONGEST: usize = 420;
        let all: Vec<(StationColumn, f64)> = StationColumn::FIGURES.iter().map(|c| (*c, 1.234_567)).collect();
        let keys: Vec<&'static str> = StationColumn::FIGURES.iter().map(|c| c.key()).collect();
        let measured = Measured::new(-1.234_567, 0.123_456);
        let mut flags = vec![
            Flag::UnlikeBlades { given: all.clone(), withheld: all },
            Flag::MeanOfSome { keys: keys.clone(), blades: 12 },
            Flag::MeanOfSomeScans { keys, scans: 500 },
            Flag::StandIn { family: "a four-digit section of the ratios of this station".to_owned() },
            Flag::Bridged { gaps: 12_345, length_m: 12.345, share: 0.99 },
            Flag::EdgeMadeSharp { edge: Edge::Trailing, length_m: 12.3, moved_m: 12.3 },
            Flag::DepartsFromOutline { part: SectionPart::LeadingEdge, amount_m: -1.2, position: 0.99 },
        ];
        for column in StationColumn::FIGURES.iter().copied() {
            flags.push(Flag::Departs { column, amount: measured });
            flags.push(Flag::CutDiffers { column, amount: measured });
        }
        for edge in [Edge::Leading, Edge::Trailing] {
            flags.extend([None, Some(12.3)].map(|beyond_m| Flag::EdgeNotScanned {
                edge,
                width_m: 12.3,
                beyond_m,
            }));
        }
        for flag in flags {
            let sentence = flag.sentence();
            let shown = crate::without_details(&sentence);
            assert!(shown.chars().count() <= LONGEST, "{}: {}: {shown}", flag.code(), shown.chars().count());
        }
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
        assert!(
            texts[10].contains("chord is 2.1 mm (± 0.6) shorter than on the smooth blade"),
            "{}",
            texts[10]
        );
        let wanted = [
            "12 % of the scan points near the station lie off",
            "31 % of the chord along the face",
            "a hole 4.2 mm wide",
            "over 3.1 mm around the leading edge",
            "missing on 40 % of the band",
            "on the leading edge the scan lies 1.23 mm inside the fitted outline at 2 % of the chord",
            "by 0.34 mm root mean square",
            "at most 1.10 mm",
            "short by 2.10 mm",
            "not all 3 scans have chord.",
            "which moves it by up to 0.03 mm",
            "the mean of 9 plane cuts",
            "by the plane cut is 1.20 deg (± 0.20) greater",
            "unlike in blade angle (standard deviation 6.50 deg) that no mean",
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
        let flag = Flag::OfScan { index: 3, flag: Box::new(flag) };
        assert_eq!(flag.text(), "scan 3: blade 2: refused: the cut is empty");
        let read = Flag::read(&flag.text());
        assert_eq!((read.code(), read.sentence().as_str()), ("refused", "the cut is empty"));
        assert!(!flag.is_refusal() && !read.is_refusal());
        assert!(one_of_each()[0].is_refusal() && Flag::read("refused: no").is_refusal());
    }

    #[test]
    fn an_edge_that_was_not_scanned_is_a_gap_with_or_without_an_interval() {
        let tail = Flag::EdgeNotScanned { edge: Edge::Trailing, width_m: 0.0031, beyond_m: Some(0.0104) };
        assert_eq!(tail.code(), "gap-at-tail");
        assert!(tail.sentence().contains("3.1 mm wide and would meet up to 10.4 mm beyond"), "{tail}");
        let nose = Flag::EdgeNotScanned { edge: Edge::Leading, width_m: 0.0201, beyond_m: None };
        assert_eq!(nose.code(), "gap-at-nose");
        assert!(
            nose.sentence().contains("20.1 mm wide") && nose.sentence().contains("are not given"),
            "{nose}"
        );
    }

    #[test]
    fn a_text_without_a_code_is_kept_whole() {
        let flag = Flag::read("Seen by eye: a nick at the edge");
        assert_eq!((flag.code(), flag.sentence().as_str()), ("", "Seen by eye: a nick at the edge"));
        assert_eq!(flag.text(), "Seen by eye: a nick at the edge");
    }
}
