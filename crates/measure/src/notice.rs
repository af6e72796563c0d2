//! Everything that a measurement must report about the whole table: one code and one sentence each, made here and nowhere else.

use std::fmt;

use bladeform_mesh::ReadNotice;
use bladeform_quantity::Hand;
use bladeform_table::{
    BoltFigures, Coded, KnownLength, known_length_names, known_length_sentences, with_details,
};

use crate::body::{Body, bodies_text, place_text};
use crate::error::{Doubt, doubts_text};

/// A warning about a whole measurement. The table holds it as a [`bladeform_table::Notice`].
///
/// ```
/// use bladeform_measure::MeasureNotice;
/// use bladeform_table::{Coded, Notice};
/// let notice = Notice::of(&MeasureNotice::AllGround);
/// assert_eq!(notice.code(), "all-ground");
/// assert!(notice.sentence().starts_with("everything in the scan looks like"));
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum MeasureNotice {
    /// The reader ignored or assumed something.
    Reader(ReadNotice),
    /// Coordinates are rounded too coarsely.
    CoarseNumbers {
        /// Greatest coordinate, file units.
        largest: f64,
        /// Step of the numbers as a fraction of a typical edge.
        step: f64,
    },
    /// Nothing was taken for the part, so no ground was removed.
    AllGround,
    /// A scan with rotational symmetry is measured as a lone blade.
    LoneBySize {
        /// Order of the symmetry.
        blades: usize,
    },
    /// Small bodies were left out.
    BodiesLeftOut {
        /// The measured body.
        largest: Body,
        /// The others.
        others: Vec<Body>,
    },
    /// The part consists of several pieces.
    Pieces {
        /// All of them, largest first.
        pieces: Vec<Body>,
        /// How much longer they are together than the largest one, as a fraction of it.
        longer: f64,
    },
    /// Windings contradict one another.
    NotOrientable,
    /// The table is hardly that of a blade.
    HardlyABlade {
        /// The reasons.
        doubts: Vec<Doubt>,
    },
    /// A part of the activity factor is extrapolated.
    ActivityExtrapolated {
        /// Fraction of its range.
        fraction: f64,
    },
    /// The reference section has no angle, and no section near it on both sides has one.
    NoReference {
        /// Its radius over the tip radius.
        ratio: f64,
        /// The radius over the tip radius from which the angles count instead; `None` if no section has an angle.
        instead: Option<f64>,
    },
    /// The angle at the reference radius is interpolated.
    ReferenceBetween {
        /// The reference radius over the tip radius.
        ratio: f64,
        /// Radii over the tip radius of the sections on either side.
        between: [f64; 2],
        /// Standard uncertainty of the angle, deg.
        u_deg: f64,
    },
    /// Angles are relative.
    RelativeAngles {
        /// Reference radius over the tip radius.
        ratio: f64,
    },
    /// The sections do not show which edge leads.
    EdgeByRule(HandRule),
    /// The sections do not show which side is the back.
    BackByRule(HandRule),
    /// Swapping edges or sides alone changed the hand.
    SwapChangesHand {
        /// Whether the edges were swapped; otherwise the sides.
        edges: bool,
        /// The hand now.
        hand: Hand,
    },
    /// Sections contradict one another.
    SidesUncertain {
        /// Fraction of the votes for the leading edge.
        edges: f64,
        /// Fraction of the votes for the back.
        sides: f64,
    },
    /// Something in the shape of a lone blade speaks against the hand that its sections show.
    HandDoubtful {
        /// The hand that they show, which is used.
        hand: Hand,
        /// What speaks against it.
        doubts: Vec<HandDoubt>,
    },
    /// The given hand contradicts the shape.
    HandGiven {
        /// The given hand.
        hand: Hand,
    },
    /// The ends do not differ clearly in thickness.
    EndsUncertain,
    /// There is no round shank, and the sections of a swept blade lie on no line: the span axis is a convention.
    AxisBySections {
        /// Angle between the axis, which is the line through the sections beyond half the length, and the line through all sections, rad.
        angle_rad: f64,
    },
    /// The surface has holes, so the volume is an estimate.
    OpenSurface,
    /// There is no round hub or bore.
    AxisBySymmetry,
    /// The chord is so wide against the radius that plane sections differ from those on cylinders.
    WidePlanes {
        /// Number of such stations.
        stations: usize,
        /// The outermost of them, as a fraction of the tip radius.
        outermost_ratio: f64,
        /// Greatest chord over radius among them.
        chord_per_radius: f64,
    },
    /// A part of the scan is farther from the axis than the blades.
    BeyondTips {
        /// By which fraction of the tip radius.
        fraction: f64,
    },
    /// A ring joins the tips of a propeller.
    RingAtTips {
        /// Distance from the axis at which the sections of the blades end, m.
        end_m: f64,
        /// The same over the outer radius of the ring.
        end_ratio: f64,
    },
    /// The scan does not show a hole at every place of a circle of bolts, or other holes beside it.
    BoltsPartlySeen {
        /// The circle.
        bolts: BoltFigures,
        /// Round holes along the axis that do not lie on it.
        others: usize,
    },
    /// There are holes along the axis in the hub that form no even circle.
    HolesWithoutCircle {
        /// Their number.
        holes: usize,
    },
    /// Blades of a propeller differ by more than their uncertainties.
    BladesDiffer {
        /// Blades of the propeller.
        blades: usize,
        /// The blades that differ, by quantity.
        differences: Vec<UnlikeBlade>,
    },
    /// A tip is open or square.
    Tip(TipNotice),
    /// A tip of one blade of a propeller is open or square.
    TipOfBlade {
        /// The blade, counted from 1.
        blade: usize,
        /// What is wrong with its tip.
        tip: TipNotice,
    },
    /// The blade is swept out of the circle of its tip radius.
    OutsideCircle {
        /// By how much, m.
        distance_m: f64,
        /// The same as a fraction of the tip radius.
        fraction: f64,
    },
    /// A few points far beyond an end of a lone blade were put back.
    Spike {
        /// How many points.
        points: usize,
        /// Whether they were beyond the tip; otherwise beyond the root end.
        at_tip: bool,
        /// How far beyond the end, as a fraction of the blade's length.
        fraction: f64,
        /// The farthest of them, in the axes and the unit of the file.
        place: [f64; 3],
    },
    /// The sections step near the root end of a lone blade.
    StepAtRoot(StepAtRoot),
    /// A given setting has no effect on a whole propeller.
    SettingUnused,
    /// A given root radius has no effect on a whole propeller.
    RootRadiusUnused,
    /// A given length has no effect on a whole propeller.
    LengthUnused,
    /// A given length was taken for the diameter.
    LengthAsDiameter,
    /// The unit of the file was guessed.
    NoLength,
    /// Known lengths, a distance among them, contradict one another.
    DistancesContradict {
        /// The lengths beside the scale.
        known: Vec<KnownLength>,
        /// Sum of the squares of their differences over their standard uncertainties.
        chi_square: f64,
        /// What chance exceeds in one of twenty cases.
        limit: f64,
        /// By what the uncertainty of the scale was multiplied.
        birge_ratio: f64,
    },
    /// A point of a known distance is outside everything in the scan.
    DistanceOutside {
        /// The distance, counted from 1.
        number: usize,
        /// The point, in the coordinates of the file.
        place: [f64; 3],
        /// Lowest coordinates of the scan.
        low: [f64; 3],
        /// Highest coordinates of the scan.
        high: [f64; 3],
    },
    /// The stated unit of the file is not that of the known length.
    UnitContradictsLength {
        /// One unit of the file as stated, m.
        unit_m: f64,
        /// One unit of the file by the known length, m.
        by_length_m: f64,
    },
    /// The size is not that of a propeller.
    UnlikelySize {
        /// The tip radius, m.
        radius_m: f64,
        /// The unit of the file with which it would be, where the unit is not known by a length.
        likely: Option<&'static str>,
    },
    /// The root radius is not known.
    NoRootRadius,
    /// Length and diameter leave no root radius.
    RootOnAxis {
        /// What they leave, m.
        root_m: f64,
    },
    /// The resolution of the scan was estimated from its noise.
    ResolutionEstimated {
        /// Full width at half maximum of the kernel, m.
        width_m: f64,
        /// Its standard uncertainty, m.
        u_m: f64,
    },
    /// The noise shows a kernel wider than scans of parts have: nobody can tell a coarse scan from a computed surface of flat faces.
    ResolutionDoubtful {
        /// Full width at half maximum of the kernel, m.
        width_m: f64,
        /// What such a kernel takes from a chord whose edges are thin, m.
        short_m: f64,
    },
    /// Errors of the scan over long distances are not known.
    LongRangeUnknown,
}

/// A step of the sections near the root end: something may have grown onto the root in the scan. Lengths by the scale of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepAtRoot {
    /// Distance of the step from the root end, m.
    pub distance_m: f64,
    /// Areas of the sections before and beyond it, seen from the root end, m².
    pub areas_m2: [f64; 2],
    /// From the root end to the tip, m.
    pub length_m: f64,
    /// One unit of the file, m.
    pub unit_m: f64,
    /// Whether a known length set the scale.
    pub scaled_by_length: bool,
}

/// A blade that differs from the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UnlikeBlade {
    /// The blade, counted from 1.
    pub blade: usize,
    /// In what.
    pub what: BladeQuantity,
    /// The blade less the mean of the others, m or deg.
    pub amount: f64,
    /// Its standard uncertainty, in the same unit.
    pub u: f64,
}

/// In what a blade differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BladeQuantity {
    /// Distance of the tip from the axis of rotation, m.
    TipRadius,
    /// Blade angle, deg: median over the stations.
    BladeAngle,
    /// Position of the tip along the axis of rotation, m, positive towards flight.
    Track,
    /// Chord, m: median over the stations.
    Chord,
    /// Thickness, m: median over the stations.
    Thickness,
}

impl fmt::Display for UnlikeBlade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (name, ways, unit, factor, decimals) = match self.what {
            BladeQuantity::TipRadius => ("its tip radius is", ["smaller", "larger"], "mm", MM_PER_M, 1),
            BladeQuantity::BladeAngle => ("its blade angle is", ["finer", "coarser"], "deg", 1.0, 2),
            BladeQuantity::Track => ("its tip lies", ["farther aft", "farther forward"], "mm", MM_PER_M, 1),
            BladeQuantity::Chord => ("its chord is", ["shorter", "longer"], "mm", MM_PER_M, 1),
            BladeQuantity::Thickness => ("its thickness is", ["smaller", "greater"], "mm", MM_PER_M, 2),
        };
        write!(
            f,
            "{name} {:.decimals$} {unit} (± {:.decimals$} {unit}) {}",
            (factor * self.amount).abs(),
            2.0 * factor * self.u,
            ways[usize::from(0.0 < self.amount)],
        )
    }
}

/// The rule that decides where the sections do not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HandRule {
    /// Geometric pitch is positive (common practice, no source).
    Pitch,
    /// The blade angle falls towards the tip (common practice, no source).
    Twist,
}

/// What speaks against the hand that the sections of a lone blade show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HandDoubt {
    /// With this hand the blade angle rises towards the tip.
    RisingTwist {
        /// From the inner to the outer third of the sections, deg.
        deg: f64,
    },
    /// Inner and outer sections bulge to different sides.
    CamberChangesSign,
}

impl fmt::Display for HandDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::RisingTwist { deg } => {
                write!(f, "the blade angle then rises towards the tip, by {deg:.1} deg")
            }
            Self::CamberChangesSign => {
                f.write_str("the inner sections bulge to the other side than the outer ones")
            }
        }
    }
}

/// What is wrong with a tip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TipNotice {
    /// The surface ends in an open edge.
    Open {
        /// Width of the open edge as a fraction of the chord inboard.
        fraction: f64,
    },
    /// The chord does not decrease towards the tip.
    Square {
        /// Last chord as a fraction of the chord a tenth of the span inboard.
        fraction: f64,
    },
    /// The chord decreases towards the tip, but does not run out.
    Flat {
        /// Chord at the end as a fraction of the chord a tenth of the span inboard.
        fraction: f64,
    },
}

impl fmt::Display for HandRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Pitch => "assumption that pitch is positive",
            Self::Twist => "assumption that the blade angle falls towards the tip",
        })
    }
}

impl fmt::Display for TipNotice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Open { fraction } => write!(
                f,
                "the surface ends at the tip in an open edge, {:.0} % of the chord wide: the tip is missing or was not scanned. {OF_THE_PIECE}",
                PERCENT * fraction
            ),
            Self::Square { fraction } => write!(
                f,
                "the chord does not decrease towards the tip (the last chord is {:.0} % of the one a tenth of the span inboard): the tip is square, or was cut off. If it was cut off: {OF_THE_PIECE}",
                PERCENT * fraction
            ),
            Self::Flat { fraction } => write!(
                f,
                "the tip ends abruptly, with a chord of {:.0} % of the one a tenth of the span inboard: it is made so, was cut off, or its end was missing and was closed. If a part is missing: {OF_THE_PIECE}",
                PERCENT * fraction
            ),
        }
    }
}

/// What a missing part of the tip does to the figures.
const OF_THE_PIECE: &str = "length, diameter, radii and activity factor are those of the piece, and with a known length of the whole blade the scale is wrong: all sizes are too large by the missing part. Give the length of what is there, or scan the tip";

/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;
/// Pieces that lengthen the largest by less than this part of it are not said to: a tape is read no better.
const LEAST_LONGER: f64 = 0.002;
/// Distances on a blade are shown in millimetres.
const MM_PER_M: f64 = 1e3;

impl Coded for MeasureNotice {
    fn code(&self) -> &'static str {
        match self {
            Self::Reader(notice) => notice.code(),
            Self::CoarseNumbers { .. } => "coarse-numbers",
            Self::AllGround => "all-ground",
            Self::LoneBySize { .. } => "lone-by-size",
            Self::BodiesLeftOut { .. } => "bodies-left-out",
            Self::Pieces { .. } => "pieces",
            Self::NotOrientable => "not-orientable",
            Self::HardlyABlade { .. } => "hardly-a-blade",
            Self::ActivityExtrapolated { .. } => "activity-extrapolated",
            Self::NoReference { .. } => "no-reference",
            Self::ReferenceBetween { .. } => "reference-between",
            Self::RelativeAngles { .. } => "relative-angles",
            Self::EdgeByRule(_) => "edge-by-rule",
            Self::BackByRule(_) => "back-by-rule",
            Self::SwapChangesHand { .. } => "swap-changes-hand",
            Self::SidesUncertain { .. } => "sides-uncertain",
            Self::HandDoubtful { .. } => "hand-doubtful",
            Self::HandGiven { .. } => "hand-given",
            Self::EndsUncertain => "ends-uncertain",
            Self::AxisBySections { .. } => "axis-by-sections",
            Self::OpenSurface => "open-surface",
            Self::AxisBySymmetry => "axis-by-symmetry",
            Self::WidePlanes { .. } => "wide-planes",
            Self::BeyondTips { .. } => "beyond-tips",
            Self::RingAtTips { .. } => "ring-at-tips",
            Self::BoltsPartlySeen { .. } => "bolts-partly-seen",
            Self::HolesWithoutCircle { .. } => "holes-without-circle",
            Self::BladesDiffer { .. } => "blades-differ",
            Self::Tip(TipNotice::Open { .. }) | Self::TipOfBlade { tip: TipNotice::Open { .. }, .. } => {
                "tip-open"
            }
            Self::Tip(_) | Self::TipOfBlade { .. } => "tip-square",
            Self::OutsideCircle { .. } => "outside-circle",
            Self::Spike { .. } => "spike-at-end",
            Self::StepAtRoot(_) => "step-at-root",
            Self::SettingUnused => "setting-unused",
            Self::RootRadiusUnused => "root-radius-unused",
            Self::LengthUnused => "length-unused",
            Self::LengthAsDiameter => "length-as-diameter",
            Self::NoLength => "no-length",
            Self::DistancesContradict { .. } => "distances-contradict",
            Self::DistanceOutside { .. } => "distance-outside",
            Self::UnitContradictsLength { .. } => "unit-contradicts-length",
            Self::UnlikelySize { .. } => "unlikely-size",
            Self::NoRootRadius => "no-root-radius",
            Self::RootOnAxis { .. } => "root-on-axis",
            Self::ResolutionEstimated { .. } => "resolution-estimated",
            Self::ResolutionDoubtful { .. } => "resolution-doubtful",
            Self::LongRangeUnknown => "long-range-unknown",
        }
    }

    fn sentence(&self) -> String {
        match self {
            Self::Reader(notice) => notice.to_string(),
            Self::CoarseNumbers { largest, step } => coarse_numbers(*largest, *step),
            Self::AllGround => {
                "everything in the scan looks like a table or ground, so no ground was removed. Check that the scan shows a blade".to_owned()
            }
            Self::LoneBySize { blades } => format!(
                "the scan has the rotational symmetry of a propeller with {blades} blades. It is measured as a lone blade because the given length is much shorter than the given diameter"
            ),
            Self::BodiesLeftOut { largest, others } => bodies_left_out(largest, others),
            Self::Pieces { pieces, longer } => with_details(
                &format!(
                    "the measured part consists of {} pieces that are taken as one{}. If they are different things, cut them apart and measure one of them",
                    pieces.len(),
                    if *longer < LEAST_LONGER { String::new() } else { format!(": {:.1} % longer than the largest of them. If the others are no part of the blade, a scale by its length makes all sizes as much too small", PERCENT * longer) }
                ),
                &bodies_text(pieces),
            ),
            Self::NotOrientable => {
                "the triangles cannot be given one consistent winding: back and face may be confused in places".to_owned()
            }
            Self::HardlyABlade { doubts } => hardly_a_blade(doubts),
            Self::ActivityExtrapolated { fraction } => format!(
                "{:.0} % of the range of the activity factor uses chords extrapolated beyond the stations",
                PERCENT * fraction
            ),
            Self::NoReference { ratio, instead } => no_reference(*ratio, *instead),
            Self::ReferenceBetween { ratio, between: [inside, outside], u_deg } => format!(
                "the angle at {ratio:.3} R, from which all angles count, could not be measured there. It is interpolated between {inside:.3} R and {outside:.3} R, which leaves every angle uncertain by {u_deg:.2} deg (one standard deviation)"
            ),
            Self::RelativeAngles { ratio } => format!(
                "a lone blade does not show its plane of rotation: blade angles are relative to the chord line at {ratio:.2} R, which is 0 deg"
            ),
            Self::EdgeByRule(rule) => edge_by_rule(*rule),
            Self::BackByRule(rule) => back_by_rule(*rule),
            Self::SwapChangesHand { edges, hand } => swap_changes_hand(*edges, *hand),
            Self::SidesUncertain { edges, sides } => sides_uncertain(*edges, *sides),
            Self::HandDoubtful { hand, doubts } => hand_doubtful(*hand, doubts),
            Self::HandGiven { hand } => {
                format!("the shape looks {}-handed; the given hand, {hand}, is used", hand.other())
            }
            Self::EndsUncertain => {
                "the ends of the blade do not differ clearly in thickness: which end is the tip is a guess, and all radii depend on it".to_owned()
            }
            Self::AxisBySections { angle_rad } => {
                format!(
                    "no round shank was found, and the blade is swept: the span axis is the line through its sections beyond half the length, and the line through all of them lies {:.0} deg off. Along that one radii, chords and angles would differ by some per cent and degrees, which no interval contains: compare only with figures taken along the same line",
                    angle_rad.to_degrees()
                )
            }
            Self::OpenSurface => {
                "the surface is open: the volume is the integral of the section areas, with open sections taken as convex".to_owned()
            }
            Self::AxisBySymmetry => {
                "there is no round hub or bore: the axis of rotation comes from the symmetry of the blades, and a bent or unevenly set blade tilts it. Differences of track and angle between the blades include that tilt and have no interval".to_owned()
            }
            Self::WidePlanes { stations, outermost_ratio, chord_per_radius } => format!(
                "at {stations} station{} out to {outermost_ratio:.2} R the chord is up to {chord_per_radius:.2} of the radius: a plane across the span cuts its edges at other radii than its middle, so angle, pitch and camber differ from those of a section on a cylinder, by degrees on the widest. Drawings of ship's screws and of fans show cylinders; measure on cylinders to compare with one, and on planes for a solid",
                if *stations == 1 { "" } else { "s" }
            ),
            Self::BeyondTips { fraction } => beyond_tips(*fraction),
            Self::RingAtTips { end_m, end_ratio } => ring_at_tips(*end_m, *end_ratio),
            Self::BoltsPartlySeen { bolts, others } => bolts_partly_seen(bolts, *others),
            Self::HolesWithoutCircle { holes } => format!(
                "the hub shows {holes} round hole{} along the axis that form no even circle of at least three, or so little of it that their number is not sure: the table has no bolt holes, and a solid by it is not drilled there. Measure them on the part",
                if *holes == 1 { "" } else { "s" }
            ),
            Self::BladesDiffer { blades, differences } => blades_differ(*blades, differences),
            Self::Tip(tip) => tip.to_string(),
            Self::TipOfBlade { blade, tip } => format!("blade {blade}: {tip}"),
            Self::OutsideCircle { distance_m, fraction } => outside_circle(*distance_m, *fraction),
            Self::Spike { points, at_tip, fraction, place } => spike(*points, *at_tip, *fraction, *place),
            Self::StepAtRoot(step) => step_at_root(step),
            Self::SettingUnused => "a whole propeller shows its own angles: the given setting was not used".to_owned(),
            Self::RootRadiusUnused => {
                "a whole propeller shows where its blades begin: the given root radius was not used".to_owned()
            }
            Self::LengthUnused => "the diameter or known distances set the scale of a whole propeller: the given length was not used".to_owned(),
            Self::LengthAsDiameter => "the scan shows two blades: the given length is taken as the diameter".to_owned(),
            Self::NoLength => {
                "no length is known: one unit of the file is taken as one metre. Sizes are a guess and have no interval".to_owned()
            }
            Self::DistancesContradict { known, chi_square, limit, birge_ratio } => {
                distances_contradict(known, *chi_square, *limit, *birge_ratio)
            }
            Self::DistanceOutside { number, place, low, high } => with_details(
                &format!(
                    "distance {number} has a point at {} that is outside everything in the scan. If its coordinates are in other axes or in another unit than the file's, the scale and all sizes are wrong; read them in the coordinates of the file",
                    place_text(*place)
                ),
                &format!("the scan extends from {} to {}", place_text(*low), place_text(*high)),
            ),
            Self::UnitContradictsLength { unit_m, by_length_m } => format!(
                "one unit of the file is {unit_m} m as stated, but {by_length_m:.4e} m by the known length, which was used. All sizes depend on it: check which of the two is wrong"
            ),
            Self::UnlikelySize { radius_m, likely } => unlikely_size(*radius_m, *likely),
            Self::ResolutionEstimated { width_m, u_m } => format!(
                "the resolution of the scan is estimated from its noise as {:.1} mm ± {:.1} mm. Edges and chords are corrected for it and are uncertain by it; state the resolution if you know it",
                1e3 * width_m,
                2e3 * u_m
            ),
            Self::ResolutionDoubtful { width_m, short_m } => format!(
                "unevenness of the surface looks like a resolution of {:.1} mm, coarser than scans of parts usually are, and is not wholly corrected. If the scan is that coarse, chords may be short by up to {:.1} mm, which their intervals do not contain; if the surface was computed from flat faces, nothing is missing. State the resolution",
                MM_PER_M * width_m,
                MM_PER_M * short_m
            ),
            Self::LongRangeUnknown => {
                "the accuracy of the scan over long distances is not stated. An offset between its two sides, a bow or a scale that differs by direction is not in the intervals; state the accuracy that the report of the scan gives"
                    .to_owned()
            }
            Self::RootOnAxis { root_m } => format!(
                "the given length is half the given diameter, which leaves {:.1} mm between the axis of rotation and the root end. If it was taken from the axis, or assumed, all sizes are too large by the root radius over the length, which no interval contains. Measure the blade itself from its root end to its tip",
                MM_PER_M * root_m
            ),
            Self::NoRootRadius => {
                "the root radius is not known and is taken as 0: radii are counted from the root end".to_owned()
            }
        }
    }
}

// Sentences that contain a figure or a choice; each belongs to the variant of its name.

fn coarse_numbers(largest: f64, step: f64) -> String {
    format!(
        "coordinates reach {largest:.0} from the origin in single precision, where numbers differ by at least {:.0} % of a typical edge: the surface is rounded to these steps. Export the scan near the origin or in double precision",
        PERCENT * step
    )
}

fn bodies_left_out(largest: &Body, others: &[Body]) -> String {
    with_details(
        &format!(
            "only the largest body of the scan is measured, with {:.0} % of its surface; {} smaller {} left out. If one of them is a part of the blade, join them in the scan",
            PERCENT * largest.area_ratio,
            others.len(),
            if others.len() == 1 { "body was" } else { "bodies were" }
        ),
        &format!("measured: {largest}; left out: {}", bodies_text(others)),
    )
}

/// So many doubts are named in a sentence; all are in the details.
const MOST_DOUBTS: usize = 2;

fn hardly_a_blade(doubts: &[Doubt]) -> String {
    let named = &doubts[..doubts.len().min(MOST_DOUBTS)];
    let more = match doubts.len() - named.len() {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    let sentence = format!(
        "this is hardly a blade or a propeller: {}{more}. The figures mean nothing if it is none; cut the part out of its surroundings and check lengths and ends",
        doubts_text(named)
    );
    if more.is_empty() { sentence } else { with_details(&sentence, &doubts_text(doubts)) }
}

fn no_reference(ratio: f64, instead: Option<f64>) -> String {
    match instead {
        Some(instead) => format!(
            "the section at {ratio:.3} R, from which the angles should count, has no angle, nor have the sections on both sides of it. Angles count from the section at {instead:.3} R instead, and a given setting was not used. Scan that part anew, or choose another reference radius"
        ),
        None => format!(
            "the section at {ratio:.3} R, from which the angles should count, has no angle, nor has any other section: no blade angle is given"
        ),
    }
}

fn distances_contradict(known: &[KnownLength], chi_square: f64, limit: f64, birge_ratio: f64) -> String {
    let over_u = |k: &KnownLength| (k.difference_m / k.u_m).abs();
    // Of two lengths neither departs more than the other by more than rounding.
    let first =
        known.iter().zip(known_length_names(known)).max_by(|a, b| over_u(a.0).total_cmp(&over_u(b.0)));
    let first =
        first.filter(|_| 2 < known.len()).map_or(String::new(), |(_, name)| format!(", first {name}"));
    with_details(
        &format!(
            "the known lengths contradict one another, so that all sizes are in doubt: chi-square is {chi_square:.1} with {} degrees of freedom, and chance exceeds {limit:.1} in one of twenty cases. The uncertainty of the scale was multiplied by the Birge ratio, {birge_ratio:.1}. Check the points and the lengths{first}, and whether the scan has one scale everywhere",
            known.len() - 1
        ),
        &known_length_sentences(known).join("; "),
    )
}

fn edge_by_rule(rule: HandRule) -> String {
    format!(
        "the sections do not show which edge leads: the leading edge follows from the {rule}. If it is wrong, angles and hand are wrong"
    )
}

fn back_by_rule(rule: HandRule) -> String {
    format!(
        "the sections do not show which side is the back: the back follows from the {rule}. If it is wrong, camber and hand are wrong"
    )
}

fn swap_changes_hand(edges: bool, hand: Hand) -> String {
    let (swapped, kept) = if edges { ("edges", "back") } else { ("sides", "leading edge") };
    format!(
        "swapping only the {swapped} keeps the {kept}, so the hand is now {hand}. Swap both edges and sides to keep the hand"
    )
}

fn sides_uncertain(edges: f64, sides: f64) -> String {
    format!(
        "the sections disagree about the leading edge ({:.0} % agree) or about the back ({:.0} % agree): edges, sides and hand are a guess",
        PERCENT * edges,
        PERCENT * sides
    )
}

fn hand_doubtful(hand: Hand, doubts: &[HandDoubt]) -> String {
    let texts: Vec<String> = doubts.iter().map(ToString::to_string).collect();
    format!(
        "the sections look like those of a {hand}-hand blade, but {}: the hand is an assumption. If it is wrong, the sign of twist and camber, the edges or the ends are wrong too. Check which edge leads and which end is the tip, and state the hand",
        texts.join(", and ")
    )
}

fn ring_at_tips(end_m: f64, end_ratio: f64) -> String {
    format!(
        "a ring joins the tips of the blades: their sections end at its inner wall, {:.1} mm from the axis ({end_ratio:.3} R), and stations beyond are refused. The known diameter is taken as that of the outside of the ring; if it was taken elsewhere, all sizes are wrong by that fraction. Sections near the ring may contain its fillets",
        MM_PER_M * end_m
    )
}

/// Differences in one sentence; all are in the details.
const MOST_NAMED: usize = 2;

/// What the scan shows at the places of a circle of bolts.
fn bolts_partly_seen(bolts: &BoltFigures, others: usize) -> String {
    let mm = |m: f64| format!("{:.1}", 1e3 * m);
    let mut said = Vec::new();
    if bolts.seen < bolts.count {
        let rest = [(bolts.closed, "closed by a face"), (bolts.not_scanned(), "not scanned")];
        let rest: Vec<String> =
            rest.iter().filter(|(n, _)| 0 < *n).map(|(n, what)| format!("{n} {what}")).collect();
        said.push(format!(
            "of {} evenly spaced places on a circle of {} mm in the hub the scan shows a hole at {}; {}. The table states all {0}: look at the part before you rely on their number",
            bolts.count,
            mm(bolts.circle_diameter_m.value),
            bolts.seen,
            rest.join(", ")
        ));
    }
    if 0 < others {
        let (s, is) = if others == 1 { ("", "is") } else { ("s", "are") };
        said.push(format!(
            "the hub shows {others} more round hole{s} along its axis beside the circle of {} bolt holes: {} {is} not in the table, and a solid by it is not drilled there",
            bolts.count,
            if others == 1 { "it" } else { "they" }
        ));
    }
    said.join(". Also, ")
}

fn blades_differ(blades: usize, differences: &[UnlikeBlade]) -> String {
    let listed = |named: &[UnlikeBlade]| {
        let own = |blade: usize| {
            let own: Vec<String> =
                named.iter().filter(|d| d.blade == blade).map(ToString::to_string).collect();
            (!own.is_empty()).then(|| format!("blade {blade}: {}", own.join(", ")))
        };
        (1..=blades).filter_map(own).collect::<Vec<_>>()
    };
    let named = &differences[..differences.len().min(MOST_NAMED)];
    let mut texts = listed(named);
    let more = differences.len() - named.len();
    if 0 < more {
        texts.push(format!("and {more} more {}", if more == 1 { "difference" } else { "differences" }));
    }
    let than = if blades == 2 { "the other" } else { "the mean of those that agree" };
    let sentence = format!(
        "the blades differ by more than their uncertainties explain. Compared with {than}, {}. The mean is that of unlike blades: use the rows of each blade, and check on the part that the scan does not bend or shift a blade by as much",
        texts.join("; ")
    );
    if more == 0 { sentence } else { with_details(&sentence, &listed(differences).join("; ")) }
}

fn beyond_tips(fraction: f64) -> String {
    format!(
        "a part of the scan extends {:.1} % farther from the axis than the blades: it was left out. Check for a damaged tip or a foreign object",
        PERCENT * fraction
    )
}

fn outside_circle(distance_m: f64, fraction: f64) -> String {
    format!(
        "the blade is swept: its outermost point is {:.1} mm ({:.2} %) outside the circle of the tip radius, since radii are counted along the span. The true tip circle is larger by that much",
        MM_PER_M * distance_m,
        PERCENT * fraction
    )
}

fn spike(points: usize, at_tip: bool, fraction: f64, place: [f64; 3]) -> String {
    let (what, were) = if points == 1 {
        ("1 point of the scan stands".to_owned(), "it was")
    } else {
        (format!("{points} points of the scan stand"), "they were")
    };
    format!(
        "{what} out beyond the {} by {:.1} % of the blade's length, at {} in the file, where no other surface is: {were} put back to the surface, and length, scale and radii are measured without. If the blade does reach there, scan that end again",
        if at_tip { "tip" } else { "root end" },
        PERCENT * fraction,
        place_text(place)
    )
}

/// Square centimetres in a square metre.
const CM2_PER_M2: f64 = 1e4;

/// A number above 0 with five significant digits.
fn five_digits(x: f64) -> String {
    let decimals = (4.0 - x.log10().floor()).clamp(0.0, 20.0);
    format!("{x:.*}", decimals as usize)
}

fn step_at_root(step: &StepAtRoot) -> String {
    let StepAtRoot { distance_m, areas_m2, length_m, unit_m, scaled_by_length } = *step;
    let beyond_m = length_m - distance_m;
    let effect = if scaled_by_length {
        let larger = length_m / beyond_m;
        format!(
            "If the known length is that of the part beyond it, one unit of the file is {} m and not {} m, and all sizes are {:.1} % too small",
            five_digits(unit_m * larger),
            five_digits(unit_m),
            PERCENT * (larger - 1.0)
        )
    } else {
        format!("If the blade begins there, all radii are {:.1} mm too large", MM_PER_M * distance_m)
    };
    with_details(
        &format!(
            "the section changes abruptly {:.1} mm from the root end: something may have grown onto the root (a stand, a clamp), and the length is counted from its end. {effect}. If it is not the blade's own, cut it off the scan, or give length and root radius from the end of it",
            MM_PER_M * distance_m
        ),
        &format!(
            "area {:.1} cm² before and {:.1} cm² behind the step; {length_m:.4} m long in all, {beyond_m:.4} m beyond the step",
            CM2_PER_M2 * areas_m2[0],
            CM2_PER_M2 * areas_m2[1]
        ),
    )
}

/// The sentence of a size that no propeller has.
fn unlikely_size(radius_m: f64, likely: Option<&str>) -> String {
    let what =
        format!("the tip radius is {radius_m:.4} m, and propellers and screws have some 0.02 m to 6 m");
    match likely {
        Some(unit) => format!(
            "{what}. All sizes are wrong if the file is in {unit}, which is likely; state the unit of the file or a length"
        ),
        None => format!("{what}. If the known length is wrong, all sizes are; check its unit"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bladeform_quantity::Measured;
    use bladeform_table::{KnownLengthOf, details_of, without_details};

    /// What a reader of a terminal takes in at once, characters (the project's own limit, some four lines).
    const LONGEST: usize = 420;

    fn body() -> Body {
        Body { extents: [-1.234e-5; 3], centroid: [-1.234e-5; 3], area_ratio: 0.123 }
    }

    fn distance() -> KnownLength {
        KnownLength {
            of: KnownLengthOf::Distance,
            between: Some([[-1.234e-5; 3]; 2]),
            stated_m: 123.456_789,
            u_m: 0.012_345,
            u_is_assumed: true,
            by_scale_m: 123.4,
            difference_m: -12.345_678,
            ..KnownLength::default()
        }
    }

    fn worst() -> Vec<MeasureNotice> {
        let doubts = vec![
            Doubt::NoFeature,
            Doubt::Jump { jump_deg: -123.4, radius_ratio: 0.123 },
            Doubt::Active { factor: 12_345.6 },
            Doubt::Wide { chord_per_radius: 12.3 },
            Doubt::Thick { part: 0.99 },
            Doubt::Refused { part: 0.99 },
        ];
        let what = BladeQuantity::Track;
        let differ = |blade| UnlikeBlade { blade, what, amount: -1.234_567, u: 1.234_567 };
        let step = |scaled_by_length| StepAtRoot {
            distance_m: 1.234_567,
            areas_m2: [1.0, 2.0],
            length_m: 12.345_6,
            unit_m: 1.234e-6,
            scaled_by_length,
        };
        let tips = [
            TipNotice::Open { fraction: 0.999 },
            TipNotice::Square { fraction: 0.999 },
            TipNotice::Flat { fraction: 0.999 },
        ];
        let mut all = vec![
            MeasureNotice::CoarseNumbers { largest: 1e30, step: 0.99 },
            MeasureNotice::BodiesLeftOut { largest: body(), others: vec![body(); 9] },
            MeasureNotice::Pieces { pieces: vec![body(); 9], longer: 0.1234 },
            MeasureNotice::HardlyABlade { doubts },
            MeasureNotice::NoReference { ratio: 0.123, instead: Some(0.123) },
            MeasureNotice::ReferenceBetween { ratio: 0.75, between: [0.123; 2], u_deg: 12.34 },
            MeasureNotice::EdgeByRule(HandRule::Twist),
            MeasureNotice::BackByRule(HandRule::Twist),
            MeasureNotice::SwapChangesHand { edges: true, hand: Hand::Right },
            MeasureNotice::HandDoubtful {
                hand: Hand::Right,
                doubts: vec![HandDoubt::RisingTwist { deg: 12.3 }, HandDoubt::CamberChangesSign],
            },
            MeasureNotice::AxisBySymmetry,
            MeasureNotice::WidePlanes { stations: 24, outermost_ratio: 0.95, chord_per_radius: 0.81 },
            MeasureNotice::RingAtTips { end_m: 12.345, end_ratio: 0.999 },
            MeasureNotice::BoltsPartlySeen {
                bolts: BoltFigures {
                    count: 36,
                    seen: 22,
                    closed: 12,
                    hole_diameter_m: Measured::new(0.0123, 1e-4),
                    circle_diameter_m: Measured::new(1.2345, 1e-4),
                    first_deg: Measured::new(9.9, 0.1),
                    extra: Default::default(),
                },
                others: 12,
            },
            MeasureNotice::HolesWithoutCircle { holes: 12 },
            MeasureNotice::BladesDiffer { blades: 12, differences: (1..=12).map(differ).collect() },
            MeasureNotice::OutsideCircle { distance_m: 12.3, fraction: 0.99 },
            MeasureNotice::Spike { points: 1_234_567, at_tip: false, fraction: 0.99, place: [-1.234e-5; 3] },
            MeasureNotice::StepAtRoot(step(true)),
            MeasureNotice::StepAtRoot(step(false)),
            MeasureNotice::DistancesContradict {
                known: (0..500).map(|_| distance()).collect(),
                chi_square: 123_456.7,
                limit: 567.8,
                birge_ratio: 123.4,
            },
            MeasureNotice::DistanceOutside {
                number: 500,
                place: [-1.234e-5; 3],
                low: [-1.234e-5; 3],
                high: [-1.234e-5; 3],
            },
            MeasureNotice::UnlikelySize { radius_m: 123.456, likely: Some("centimetres") },
            MeasureNotice::ResolutionEstimated { width_m: 1.234, u_m: 1.234 },
            MeasureNotice::ResolutionDoubtful { width_m: 0.123_4, short_m: 0.123_4 },
            MeasureNotice::LongRangeUnknown,
            MeasureNotice::RootOnAxis { root_m: 12.345 },
        ];
        all.extend(tips.map(|tip| MeasureNotice::TipOfBlade { blade: 12, tip }));
        all
    }

    #[test]
    fn no_sentence_is_long_whatever_its_figures() {
        for notice in worst() {
            let sentence = notice.sentence();
            let shown = without_details(&sentence);
            assert!(
                shown.chars().count() <= LONGEST,
                "{}: {}: {shown}",
                notice.code(),
                shown.chars().count()
            );
            assert!(!shown.contains("[details"), "{shown}");
        }
    }

    #[test]
    fn what_is_not_shown_is_in_the_details() {
        let boxes = MeasureNotice::BodiesLeftOut { largest: body(), others: vec![body()] }.sentence();
        assert!(!without_details(&boxes).contains("file units"), "{boxes}");
        assert_eq!(details_of(&boxes).unwrap().matches("file units").count(), 2);
        let alike = |count| {
            (1..=count).map(|blade| UnlikeBlade { blade, what: BladeQuantity::Chord, amount: 0.01, u: 0.001 })
        };
        let few = MeasureNotice::BladesDiffer { blades: 3, differences: alike(2).collect() }.sentence();
        assert!(details_of(&few).is_none() && few.matches("its chord is 10.0 mm").count() == 2, "{few}");
        let many = MeasureNotice::BladesDiffer { blades: 5, differences: alike(5).collect() }.sentence();
        assert!(without_details(&many).contains("and 3 more differences"), "{many}");
        assert_eq!(details_of(&many).unwrap().matches("its chord is").count(), 5);
    }
}
