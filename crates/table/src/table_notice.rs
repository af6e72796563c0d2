//! What must be reported about the content of any table and about a comparison: one code and one sentence each.

use bladeform_quantity::Hand;

use crate::reading::freedom;
use crate::reconcile::contradicts;
use crate::{
    Coded, ReadingOf, Readings, Reconciliation, SectionSurface, StationColumn, SystematicPart, place_text,
    with_details,
};

/// The code of readings by hand that contradict the scan. It stands before everything else on a screen and on a page.
pub const CONTRADICTION: &str = "readings-contradict";

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
    /// Figures and outlines are those of the smooth blade.
    SmoothBlade,
    /// Readings by hand contradict the scan.
    ReadingsContradict {
        /// All readings.
        readings: Box<Readings>,
    },
}

impl TableNotice {
    const fn own_code(&self) -> &'static str {
        match self {
            Self::UnknownColumns { .. } => "unknown-columns",
            Self::LikelySlip { .. } => "likely-slip",
            Self::OtherBlades { .. } => "other-blades",
            Self::RepeatsDisagree { .. } => "repeats-disagree",
            Self::RepeatsWithoutBlades => "repeats-without-blades",
            Self::SmoothBlade => "smooth-blade",
            Self::ReadingsContradict { .. } => CONTRADICTION,
        }
    }
}

impl Coded for TableNotice {
    fn code(&self) -> &'static str {
        self.own_code()
    }

    fn sentence(&self) -> String {
        match self {
            Self::SmoothBlade => "figures and outlines are those of the smooth blade that all stations together show: noise of the scan has less part in them, and dents and repairs of single places none".to_owned(),
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
            Self::ReadingsContradict { readings } => contradiction(readings),
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

/// A systematic part is named if it reduces chi-square by more than this: its amount is beyond 2 standard uncertainties.
const NAMED_FROM: f64 = 4.0;

fn contradiction(readings: &Readings) -> String {
    let beyond = |r: &&crate::Reading| r.difference_over_u.is_some_and(|z| 2.0 < z.abs());
    let (far, compared) = (
        readings.rows.iter().filter(beyond).count(),
        readings.rows.iter().filter(|r| r.difference.is_some()).count(),
    );
    let chi_square = readings.chi_square.unwrap_or_default();
    let head = format!(
        "readings by hand contradict the scan: {far} of {compared} differ by more than 2 combined standard uncertainties (chi-square {chi_square:.1}, {})",
        freedom(readings.degrees_of_freedom)
    );
    let named = readings.parts.first().filter(|p| NAMED_FROM < chi_square - p.chi_square_left);
    let why = named.map_or_else(
        || "no single systematic part explains the differences".to_owned(),
        |best| reconciled(readings, best),
    );
    format!(
        "{head}: {why}. Until this is settled the figures of the table, and not only those read, may be off by as much. Repeat the readings; if they stand, correct the scan, its scale or the setting"
    )
}

/// What one part explains, what is left, and what would do as well.
fn reconciled(readings: &Readings, best: &Reconciliation) -> String {
    let shown = best.part.shown();
    let amount = |factor: f64| format!("{} {}", shown.text(Some((factor * best.amount).abs())), shown.unit);
    let more = 0.0 < best.amount;
    let way = if more { "greater" } else { "smaller" };
    let what = match best.part {
        SystematicPart::Edges => {
            format!(
                "{} by hand are {} longer: that much of the edges is missing from the scan",
                kinds(readings, ReadingOf::is_chord),
                amount(1.0)
            )
        }
        SystematicPart::Offset => format!(
            "{} by hand are {} {way}: the scan's surface lies {} by {} on each side",
            kinds(readings, ReadingOf::is_across),
            amount(2.0),
            if more { "inside" } else { "outside" },
            amount(1.0)
        ),
        SystematicPart::Scale => format!(
            "{} by hand are {} {way}: the scale of the scan is too {} by that fraction",
            kinds(readings, |of| !of.is_angle()),
            amount(1.0),
            if more { "small" } else { "large" }
        ),
        SystematicPart::Turn => format!(
            "{} by hand are {} {way}: the setting is off by as much",
            kinds(readings, ReadingOf::is_angle),
            amount(1.0)
        ),
    };
    let u = format!("{} {}", shown.text(Some(best.u_amount)), shown.unit);
    let freedom_left = readings.degrees_of_freedom.saturating_sub(1);
    let left = match freedom_left {
        0 => "; one reading alone cannot confirm it".to_owned(),
        n => format!(
            "; what is left {} (chi-square {:.1}, {})",
            if contradicts(best.chi_square_left, n) { "still contradicts" } else { "agrees" },
            best.chi_square_left,
            freedom(n)
        ),
    };
    let also: Vec<&str> = readings
        .parts
        .iter()
        .filter(|p| p.part != best.part && p.chi_square_left - best.chi_square_left < NAMED_FROM)
        .map(|p| p.part.name())
        .collect();
    let also = match also.is_empty() {
        true => String::new(),
        false => format!(". These readings do not rule out {} instead", also.join(" or ")),
    };
    format!("{what} (standard uncertainty {u}){left}{also}")
}

/// The kinds of readings among those that were compared, in words.
fn kinds(readings: &Readings, of_kind: impl Fn(ReadingOf) -> bool) -> String {
    let names = ReadingOf::ALL
        .into_iter()
        .filter(|of| of_kind(*of))
        .filter(|of| readings.rows.iter().any(|r| r.of == *of && r.difference.is_some()));
    names.map(ReadingOf::plural).collect::<Vec<_>>().join(" and ")
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
    /// The zero of the twist was moved to a section that is known better.
    OtherReference {
        /// The first table's reference radius over the tip radius.
        from: f64,
        /// Where the zero is now.
        to: f64,
    },
    /// Both tables were measured from one scan.
    SameScan,
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
    /// The axis of rotation of a propeller was found by the symmetry of its blades.
    AxisOfBlades,
    /// The table does not say how well the axis of rotation is known.
    AxisNotStated,
    /// The accuracy of the scan over long distances is not stated.
    BladesWithoutAccuracy,
    /// The balance is that of a body of one density.
    UniformDensity,
    /// The surface is not closed enough, so that the moment of mass comes from section areas.
    MomentBySections,
    /// The closed surface consists of several bodies.
    BodiesOverlap {
        /// How many.
        bodies: u64,
    },
    /// The unbalance is stated about an axis that the blades themselves showed.
    BalanceAboutSymmetry,
    /// The unbalance is stated without the accuracy of the scan over long distances.
    BalanceWithoutAccuracy,
    /// Neither surface nor sections give a moment of mass.
    NoMoment,
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

/// So many radii are named in a sentence (chosen: a line of a terminal); more are in its details.
const MOST_RADII: usize = 8;
/// Radii are shown in millimetres.
const MM_PER_M: f64 = 1e3;

impl Coded for ComparisonNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::TipRadiiDiffer { .. } => "tip-radii-differ",
            Self::HandsDiffer { .. } => "hands-differ",
            Self::TwistCompared { .. } => "twist-compared",
            Self::OtherReference { .. } => "other-reference",
            Self::SameScan => "same-scan-compared",
            Self::ToleranceUnused { .. } => "tolerance-unused",
            Self::WithoutUncertainty => "without-uncertainty",
            Self::OfTable { notice, .. } => notice.own_code(),
            Self::NoReferenceAngle { .. } => "no-reference-angle",
            Self::AxisOfBlades => "axis-of-blades",
            Self::AxisNotStated => "axis-not-stated",
            Self::BladesWithoutAccuracy => "blades-without-accuracy",
            Self::UniformDensity => "uniform-density",
            Self::MomentBySections => "moment-by-sections",
            Self::BodiesOverlap { .. } => "bodies-overlap",
            Self::BalanceAboutSymmetry => "balance-about-symmetry",
            Self::BalanceWithoutAccuracy => "balance-without-accuracy",
            Self::NoMoment => "no-moment",
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
            Self::OtherReference { from, to } => format!(
                "the section at {} is known much worse than the others, and would widen the interval of every angle: twist is counted from {} instead",
                place_text(*from),
                place_text(*to)
            ),
            Self::SameScan => {
                "both tables were measured from the same scan, so that its errors are in both: the differences show only what was asked of it, not whether the scan is right".to_owned()
            }
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
            Self::AxisOfBlades => {
                "the axis of rotation was found by the symmetry of the blades, so that a blade that is set coarser or bent tilts it: differences of angle along a whole blade and the track are stated without an interval and not judged; what differs from station to station is. Scan the bore or the outside of the hub as well".to_owned()
            }
            Self::AxisNotStated => {
                "the table does not say how well the axis of rotation is known (it was made by an older version, or by hand): differences of angle along a whole blade, track, spacing and tip radii are stated without an interval and not judged. Measure the scan again".to_owned()
            }
            Self::BladesWithoutAccuracy => {
                "the accuracy of the scan over long distances is not stated, and no interval contains it: a scan that is bent, or joins back and face otherwise on one blade, shows blades that differ by some tenths of a degree and a millimetre or two of track, though they are equal. Measure the scan again with its accuracy".to_owned()
            }
            Self::UniformDensity => {
                "the balance is that of a body of one density throughout. Wood is not: boards differ, moisture shifts, and glue, sheathing and varnish count as wood here. It shows what the shape does to the balance; it does not replace a balancing stand, nor licensed practice".to_owned()
            }
            Self::MomentBySections => {
                "the scanned surface is not closed enough to enclose a volume, so that the moment of mass comes from the section areas along the blades: the hub and the roots are taken as balanced. Scan them as well, or close the mesh".to_owned()
            }
            Self::BodiesOverlap { bodies } => format!(
                "the surface consists of {bodies} separate bodies: where they overlap, as roots within a hub, mass counts twice, which is too much mass, and an unbalance only where the overlaps differ. Unite the bodies to one surface"
            ),
            Self::BalanceAboutSymmetry => {
                "the axis of rotation was found by the symmetry of the blades, which puts it near their own centre of mass: the unbalance about the shaft may be far greater than the one stated. Scan the bore or the outside of the hub as well".to_owned()
            }
            Self::BalanceWithoutAccuracy => {
                "the accuracy of the scan over long distances is not stated, and the interval of the unbalance does not contain it: a blade that the scan shows too thick by 0.1 mm weighs too much. Measure the scan again with its accuracy".to_owned()
            }
            Self::NoMoment => {
                "no moment of mass can be computed with its uncertainty: the blades have fewer than two stations with a section area in common".to_owned()
            }
            Self::StationsLeftOut { name, radii, count } => {
                let sentence = format!(
                    "{count} {} of {name} without a counterpart {} not compared",
                    if *count == 1 { "station" } else { "stations" },
                    if *count == 1 { "was" } else { "were" }
                );
                match count {
                    0..=MOST_RADII => format!("{sentence}: {radii}"),
                    _ => with_details(&sentence, radii),
                }
            }
        }
    }
}

/// The reason why two tables cannot be compared.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CompareError {
    /// The tables have no angle at the radius from which the twist should count.
    #[error("no blade angle of both tables at {}: choose a reference radius between stations that both have", place_text(*ratio))]
    NoReference {
        /// The radius over the first table's tip radius.
        ratio: f64,
    },
    /// One table has plane sections, the other sections on cylinders.
    #[error(
        "the sections of {first} are on {}, those of {second} on {}, so their figures are not of the same sections: measure both alike", first_on.shown(), second_on.shown()
    )]
    OtherSections {
        /// The first table's name.
        first: String,
        /// On what its sections are cut.
        first_on: SectionSurface,
        /// The second table's name.
        second: String,
        /// On what its sections are cut.
        second_on: SectionSurface,
    },
    /// The tolerances of a screw were asked for, and its sections are plane.
    #[error(
        "the sections of {name} are plane, and the classes of screws hold for sections on cylinders: measure the scan again on cylinders"
    )]
    NotOnCylinders {
        /// The table's name.
        name: String,
    },
    /// A table of one blade has nothing to compare.
    #[error(
        "{name} holds the rows of fewer than two blades: give two tables, or the stations.json of a scan of a whole propeller"
    )]
    NoBlades {
        /// The table's name.
        name: String,
    },
    /// The blades of a propeller have no station in common.
    #[error(
        "the blades of {name} have no station in common: measure the scan at radii where every blade has a section"
    )]
    NoCommonStation {
        /// The table's name.
        name: String,
    },
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
            Self::NoReference { .. } => "no-reference-in-both",
            Self::OtherSections { .. } => "other-sections",
            Self::NotOnCylinders { .. } => "not-on-cylinders",
            Self::NoBlades { .. } => "no-blades",
            Self::NoCommonStation { .. } => "no-common-station",
            Self::NoCommonRadius { .. } => "no-common-radius",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Reading;

    fn contradicting(parts: &[(SystematicPart, f64, f64)]) -> String {
        let row = |reading: f64| Reading {
            difference: Some(reading - 0.02),
            difference_over_u: Some(3.0),
            ..Reading::new(ReadingOf::Thickness, reading, Some(2e-4), 0.6)
        };
        let part = |&(part, amount, chi_square_left): &(SystematicPart, f64, f64)| Reconciliation {
            part,
            amount,
            u_amount: 5e-5,
            chi_square_left,
            extra: Default::default(),
        };
        let readings = Readings {
            rows: vec![row(0.0203), row(0.0203)],
            chi_square: Some(18.0),
            degrees_of_freedom: 2,
            contradict: true,
            parts: parts.iter().map(part).collect(),
            ..Readings::default()
        };
        TableNotice::ReadingsContradict { readings: Box::new(readings) }.sentence()
    }

    #[test]
    fn a_contradiction_names_the_part_that_explains_most_and_what_is_left() {
        let said =
            contradicting(&[(SystematicPart::Offset, 1.5e-4, 0.2), (SystematicPart::Scale, 0.015, 1.0)]);
        for needed in [
            "2 of 2 differ by more than 2 combined standard uncertainties",
            "thicknesses by hand are 0.30 mm greater: the scan's surface lies inside by 0.15 mm on each side",
            "what is left agrees (chi-square 0.2, 1 degree of freedom)",
            "do not rule out an error of the scale instead",
        ] {
            assert!(said.contains(needed), "{needed}: {said}");
        }
        let said = contradicting(&[(SystematicPart::Scale, -0.015, 9.0)]);
        assert!(said.contains("1.50 % smaller: the scale of the scan is too large"), "{said}");
        assert!(said.contains("what is left still contradicts"), "{said}");
        let said = contradicting(&[(SystematicPart::Edges, 1e-3, 17.0)]);
        assert!(said.contains("no single systematic part explains"), "{said}");
    }
}
