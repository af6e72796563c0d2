//! Which codes are a word about which figures. General warnings, which every scan of the kind gets, count as none.

use bladeform_table::{Flag, StationColumn};

/// The figures that are judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Figure {
    Chord,
    Angle,
    Thickness,
    /// The radius of the station, and the scale.
    Radius,
    Camber,
}

impl Figure {
    /// All of them, in the order of the table.
    pub(super) const ALL: [Self; 5] = [Self::Chord, Self::Angle, Self::Thickness, Self::Radius, Self::Camber];

    /// Name, and the unit and factor with which an error is shown.
    pub(super) const fn shown(self) -> (&'static str, &'static str, f64) {
        match self {
            Self::Chord => ("chord", "mm", 1e3),
            Self::Angle => ("blade angle", "deg", 1.0),
            Self::Thickness => ("thickness", "mm", 1e3),
            Self::Radius => ("radius or scale", "mm", 1e3),
            Self::Camber => ("camber", "%", 1e2),
        }
    }
}

use Figure::{Angle, Camber, Chord, Radius, Thickness};

/// What the chord line decides.
const OF_CHORD_LINE: &[Figure] = &[Chord, Angle, Camber];
/// Everything that is read from the section itself.
const OF_SECTION: &[Figure] = &[Chord, Angle, Thickness, Camber];
const ALL: &[Figure] = &Figure::ALL;

/// Warnings by what their sentences say is wrong.
const WARNINGS: &[(&str, &[Figure])] = &[
    ("hardly-a-blade", ALL),
    ("unit-contradicts-length", ALL),
    ("unlikely-size", ALL),
    ("distances-contradict", ALL),
    ("distance-outside", ALL),
    ("spike-at-end", &[Radius]),
    ("step-at-root", &[Radius, Chord, Thickness]),
    ("root-on-axis", &[Radius, Angle]),
    ("coarse-numbers", ALL),
    ("all-ground", ALL),
    ("lone-by-size", &[Angle, Radius]),
    ("bodies-left-out", &[Radius]),
    ("pieces", &[Radius]),
    ("not-orientable", &[Angle, Camber]),
    ("no-reference", &[Angle]),
    ("reference-between", &[]),
    ("edge-by-rule", OF_CHORD_LINE),
    ("back-by-rule", &[Angle, Camber]),
    ("swap-changes-hand", &[Angle, Camber]),
    ("sides-uncertain", OF_CHORD_LINE),
    ("hand-doubtful", &[Angle, Camber]),
    ("hand-given", &[Angle, Camber]),
    ("ends-uncertain", &[Angle, Radius, Camber]),
    ("axis-by-sections", &[Radius, Chord, Angle]),
    ("axis-by-symmetry", &[Angle]),
    // It says that plane sections are not those of a drawing, not that a figure is wrong.
    ("wide-planes", &[]),
    ("beyond-tips", &[Radius]),
    // It says that the diameter may not be that of the ring.
    ("ring-at-tips", &[Radius]),
    // It says that the mean is of unlike blades and that its uncertainty contains the spread: no excuse for a figure of the section.
    ("blades-differ", &[]),
    // It says that the tip circle is larger than the radius along the span: no word about that radius.
    ("outside-circle", &[]),
    ("length-as-diameter", &[Radius]),
    ("resolution-doubtful", &[Chord]),
    ("no-root-radius", &[Radius]),
    ("tip-open", &[Radius, Chord, Thickness]),
    ("tip-square", &[Radius, Chord, Thickness]),
    ("likely-slip", ALL),
    ("readings-contradict", ALL),
];

/// Warnings that are no word about any of the figures: general ones, and those about figures that are not judged here.
const GENERAL: &[&str] = &[
    "long-range-unknown",
    "resolution-estimated",
    "no-length",
    "relative-angles",
    "open-surface",
    "bolts-partly-seen",
    "holes-without-circle",
    "activity-extrapolated",
    "setting-unused",
    "root-radius-unused",
    "length-unused",
];

/// Flags of a station by code; [`Flag::Departs`] names its figure itself.
const FLAGS: &[(&str, &[Figure])] = &[
    ("bridged", OF_SECTION),
    ("nearly-circular", OF_SECTION),
    ("coarse", OF_SECTION),
    ("extrapolated", OF_SECTION),
    ("several-loops", OF_SECTION),
    ("few-points", OF_SECTION),
    ("edge-unseen", OF_CHORD_LINE),
    ("mean-of-some", OF_SECTION),
    ("unlike-blades", &[]),
    ("stray-points", OF_SECTION),
    ("gap-in-band", OF_SECTION),
    ("gap-at-tail", OF_SECTION),
    ("edge-made-sharp", &[]),
    ("outline-crosses", OF_SECTION),
    ("measured-by-cuts", OF_CHORD_LINE),
    ("cut-differs", OF_SECTION),
    ("gap-at-nose", OF_SECTION),
    ("nose-missing", OF_CHORD_LINE),
    ("departs-from-outline", OF_SECTION),
    ("misfit", OF_SECTION),
    ("radius-not-resolved", &[]),
    ("resolution-not-corrected", OF_SECTION),
    ("refused", &[]),
];

fn find(list: &[(&str, &'static [Figure])], code: &str) -> Option<&'static [Figure]> {
    list.iter().find(|(own, _)| *own == code).map(|(_, figures)| *figures)
}

/// Whether a warning about the whole table is a word about a figure.
pub(super) fn warns_of(code: &str, figure: Figure) -> bool {
    find(WARNINGS, code).is_some_and(|figures| figures.contains(&figure))
}

/// Whether a warning is general: not even worth a mention in the table of this study.
pub(super) fn is_general(code: &str) -> bool {
    GENERAL.contains(&code)
}

/// Whether neither list knows the code of a warning: it then counts as no word, and the study says so.
pub(super) fn is_unknown_warning(code: &str) -> bool {
    !is_general(code) && find(WARNINGS, code).is_none()
}

/// Whether the list of flags knows a code.
pub(super) fn is_unknown_flag(flag: &Flag) -> bool {
    flag.code() != "departs" && find(FLAGS, flag.code()).is_none()
}

/// Whether a flag of a station is a word about a figure of it.
pub(super) fn flags(flag: &Flag, figure: Figure) -> bool {
    match flag {
        Flag::OfBlade { flag, .. } | Flag::OfScan { flag, .. } => flags(flag, figure),
        Flag::Departs { column, .. } => match column {
            StationColumn::ThicknessM | StationColumn::ThicknessRatio => figure == Thickness,
            // An edge that is off shifts the chord, turns the chord line and changes the camber at once.
            _ => OF_CHORD_LINE.contains(&figure),
        },
        other => find(FLAGS, other.code()).is_some_and(|figures| figures.contains(&figure)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Codes in the first column of a table of the definitions, between two headings.
    fn codes(from: &str, to: &str) -> Vec<String> {
        let page = include_str!("../../../../docs/definitions.md");
        let part = page.split(from).nth(1).and_then(|rest| rest.split(to).next()).unwrap_or_default();
        part.lines().filter_map(|l| l.strip_prefix("| `")?.split('`').next().map(str::to_owned)).collect()
    }

    #[test]
    fn every_code_of_a_measurement_is_in_a_list() {
        let warnings = codes("**Measuring** (`MeasureNotice`)", "**Any table**");
        assert!(20 < warnings.len(), "the page was not read");
        let unknown: Vec<_> = warnings.iter().filter(|c| is_unknown_warning(c)).collect();
        assert!(unknown.is_empty(), "add to the lists of this file: {unknown:?}");
        let flags = codes("## Flags of a station", "## Flags of an operating point");
        assert!(10 < flags.len(), "the page was not read");
        // Of tables written by hand, and of several scans.
        let elsewhere = ["stand-in", "mean-of-some-scans", "departs"];
        let unknown: Vec<_> =
            flags.iter().filter(|c| !elsewhere.contains(&c.as_str()) && find(FLAGS, c).is_none()).collect();
        assert!(unknown.is_empty(), "add to the lists of this file: {unknown:?}");
    }
}
