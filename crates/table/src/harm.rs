//! In which order warnings are told: what makes figures wrong comes first, what only concerns the file last.

use crate::Notice;

/// What a warning means for the figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Harm {
    /// Figures are wrong unless the user checks what it says.
    Wrong,
    /// Figures mean less, or their intervals do not contain something.
    Less,
    /// The file held something that has nothing to do with the figures.
    Aside,
}

/// Codes of warnings that make figures wrong: scale, ends, edges, hand, the thing itself.
const WRONG: [&str; 42] = [
    "readings-contradict",
    "distances-contradict",
    "repeats-disagree",
    "hardly-a-blade",
    "no-length",
    "unlikely-size",
    "resolution-doubtful",
    "unit-contradicts-length",
    "distance-outside",
    "no-root-radius",
    "root-on-axis",
    "step-at-root",
    "tip-open",
    "tip-square",
    "ring-at-tips",
    "spike-at-end",
    "outside-circle",
    "beyond-tips",
    "ends-uncertain",
    "axis-by-sections",
    "hand-doubtful",
    "hand-given",
    "sides-uncertain",
    "swap-changes-hand",
    "edge-by-rule",
    "back-by-rule",
    "not-orientable",
    "no-reference",
    "blades-differ",
    "lone-by-size",
    "all-ground",
    "pieces",
    "bodies-left-out",
    "coarse-numbers",
    "likely-slip",
    "chord-contradicts-outline",
    "volume-differs",
    "scan-far",
    "other-blades",
    "out-of-water",
    "cavitation",
    "bolts-partly-seen",
];

/// Codes of warnings about what a file held besides the surface.
const ASIDE: [&str; 8] = [
    "properties-ignored",
    "element-ignored",
    "materials-ignored",
    "shapes-ignored",
    "points-ignored",
    "scenes-ignored",
    "deformations-ignored",
    "unknown-columns",
];

impl Notice {
    /// What it means for the figures; [`Harm::Less`] for a code that is not known.
    #[must_use]
    pub fn harm(&self) -> Harm {
        let code = self.code();
        if WRONG.contains(&code) {
            Harm::Wrong
        } else if ASIDE.contains(&code) {
            Harm::Aside
        } else {
            Harm::Less
        }
    }
}

/// Sorts warnings by their harm; those of equal harm keep their order.
pub fn by_harm(notices: &mut [Notice]) {
    notices.sort_by_key(Notice::harm);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makes_figures_wrong_comes_first_and_the_rest_keeps_its_order() {
        let texts = [
            "properties-ignored: a",
            "open-surface: b",
            "no-length: c",
            "resolution-estimated: d",
            "tip-open: e",
        ];
        let mut notices: Vec<Notice> = texts.iter().map(|t| Notice::read(t)).collect();
        by_harm(&mut notices);
        let codes: Vec<&str> = notices.iter().map(Notice::code).collect();
        assert_eq!(
            codes,
            ["no-length", "tip-open", "open-surface", "resolution-estimated", "properties-ignored"]
        );
    }
}
