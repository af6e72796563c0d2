//! What must be reported about the content of any table and about a comparison: one code and one sentence each.

use bladeform_quantity::Hand;

use crate::{Coded, StationColumn, place_text};

/// A warning about a table's own content.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum TableNotice {
    /// Columns that this version does not know.
    UnknownColumns {
        /// Their headings.
        columns: Vec<String>,
    },
    /// A figure that its neighbours contradict.
    LikelySlip {
        /// The figure.
        column: StationColumn,
        /// Its name in a sentence.
        name: &'static str,
        /// Its radius over the tip radius.
        radius_ratio: f64,
        /// Its value, in the column's unit.
        value: f64,
        /// The value interpolated between its neighbours.
        expected: f64,
    },
    /// The scan had another number of blades.
    OtherBlades {
        /// Blades in the scan.
        scanned: u64,
        /// Blades requested.
        requested: u64,
    },
    /// Several scans of one blade differ by more than they state.
    RepeatsDisagree {
        /// The quantities, each with its scatter between the scans over what the stated uncertainties explain.
        quantities: Vec<(StationColumn, f64)>,
    },
    /// The mean over several scans of a propeller has no single blades.
    RepeatsWithoutBlades,
}

impl TableNotice {
    const fn own_code(&self) -> &'static str {
        match self {
            Self::UnknownColumns { .. } => "unknown-columns",
            Self::LikelySlip { .. } => "likely-slip",
            Self::OtherBlades { .. } => "other-blades",
            Self::RepeatsDisagree { .. } => "repeats-disagree",
            Self::RepeatsWithoutBlades => "repeats-without-blades",
        }
    }
}

impl Coded for TableNotice {
    fn code(&self) -> &'static str {
        self.own_code()
    }

    fn sentence(&self) -> String {
        match self {
            Self::UnknownColumns { columns } => {
                format!("these columns are not known and were ignored: {}", columns.join(", "))
            }
            Self::LikelySlip { column, name, radius_ratio, value, expected } => {
                let shown = column.shown();
                format!(
                    "the {name} at {radius_ratio:.3} R is {} {}, but its neighbours suggest {} {}. It was used as it is; if it is a typing error, correct the row",
                    shown.text(Some(*value)),
                    shown.unit,
                    shown.text(Some(*expected)),
                    shown.unit
                )
            }
            Self::OtherBlades { scanned, requested } => {
                format!("the scan shows a propeller with {scanned} blades; {requested} were requested")
            }
            Self::RepeatsDisagree { quantities } => repeats_disagree(quantities),
            Self::RepeatsWithoutBlades => {
                "which blade is which cannot be told between scans of a propeller, so that the table holds only their mean; measure one scan on its own for its blades".to_owned()
            }
        }
    }
}

/// The quantities in which scans disagree: one in a plain sentence, several as a list.
fn repeats_disagree(quantities: &[(StationColumn, f64)]) -> String {
    const WHAT_TO_DO: &str = "Measure each scan on its own to see which one departs";
    if let [(column, ratio)] = quantities {
        let name = column.shown().label;
        return format!(
            "{name} differs between the scans by {ratio:.1} times what the stated uncertainties explain; u of {name} was raised accordingly. {WHAT_TO_DO}"
        );
    }
    let list: Vec<String> = quantities
        .iter()
        .map(|(column, ratio)| format!("{} ({ratio:.1} times)", column.shown().label))
        .collect();
    format!(
        "the scans differ by more than the stated uncertainties explain in {}; u of these was raised accordingly. {WHAT_TO_DO}",
        list.join(", ")
    )
}

/// A warning about a comparison of two tables.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ComparisonNotice {
    /// The blades differ in size.
    TipRadiiDiffer {
        /// Both tip radii, m.
        radii_m: [f64; 2],
    },
    /// The blades differ in hand.
    HandsDiffer {
        /// Both hands.
        hands: [Hand; 2],
    },
    /// Angles are compared as twist.
    TwistCompared {
        /// Reference radius over the tip radius.
        ratio: f64,
    },
    /// A tolerance for a figure that the tables do not have in common.
    ToleranceUnused {
        /// The figure.
        column: StationColumn,
    },
    /// Figures without an uncertainty in both tables.
    WithoutUncertainty,
    /// A notice about one of the tables.
    OfTable {
        /// The table's name.
        name: String,
        /// The notice.
        notice: TableNotice,
    },
    /// A table has no angle at the reference radius.
    NoReferenceAngle {
        /// The table's name.
        name: String,
        /// The first table's reference radius, m.
        radius_m: f64,
    },
    /// Stations without a counterpart.
    StationsLeftOut {
        /// The table's name.
        name: String,
        /// Their radii in words, mm.
        radii: String,
        /// How many there are.
        count: usize,
    },
}

/// Radii are shown in millimetres.
const MM_PER_M: f64 = 1e3;

impl Coded for ComparisonNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::TipRadiiDiffer { .. } => "tip-radii-differ",
            Self::HandsDiffer { .. } => "hands-differ",
            Self::TwistCompared { .. } => "twist-compared",
            Self::ToleranceUnused { .. } => "tolerance-unused",
            Self::WithoutUncertainty => "without-uncertainty",
            Self::OfTable { notice, .. } => notice.own_code(),
            Self::NoReferenceAngle { .. } => "no-reference-angle",
            Self::StationsLeftOut { .. } => "stations-left-out",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::TipRadiiDiffer { radii_m } => format!(
                "the tip radii differ: {:.1} mm and {:.1} mm; stations are compared at equal radius, not at equal fraction of it",
                MM_PER_M * radii_m[0],
                MM_PER_M * radii_m[1]
            ),
            Self::HandsDiffer { hands: [first, second] } => format!(
                "the first blade is {first}-hand and the second {second}-hand: each is described in axes of its own hand, so that one is compared with the mirror image of the other"
            ),
            Self::TwistCompared { ratio } => format!(
                "at least one table has no setting, so angles are compared as twist: minus each table's own angle at {}",
                place_text(*ratio)
            ),
            Self::ToleranceUnused { column } => format!(
                "the tolerance for {} was not used, because the tables have no such figure in common",
                column.shown().label
            ),
            Self::WithoutUncertainty => {
                "some figures have no uncertainty in either table: they can be judged by a tolerance only"
                    .to_owned()
            }
            Self::OfTable { name, notice } => format!("{name}: {}", notice.sentence()),
            Self::NoReferenceAngle { name, radius_m } => format!(
                "angles were not compared: {name} has no angle at {:.1} mm, the first table's reference radius",
                MM_PER_M * radius_m
            ),
            Self::StationsLeftOut { name, radii, count } => format!(
                "{count} {} of {name} without a counterpart {} not compared: {radii}",
                if *count == 1 { "station" } else { "stations" },
                if *count == 1 { "was" } else { "were" }
            ),
        }
    }
}

/// The reason why two tables cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// The tables have no radius in common.
    #[error("no station of {first} is within the radii of {second}; compare tables of the same part")]
    NoCommonRadius {
        /// The first table's name.
        first: String,
        /// The second table's name.
        second: String,
    },
}

impl CompareError {
    /// The short code. It is stable.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::NoCommonRadius { .. } => "no-common-radius",
        }
    }
}
