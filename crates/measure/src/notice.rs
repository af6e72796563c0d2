//! Everything that a measurement must report about the whole table: one code and one sentence each, made here and nowhere else.

use std::fmt;

use bladeform_mesh::ReadNotice;
use bladeform_quantity::Hand;
use bladeform_table::{Coded, KnownLength, known_length_names, known_length_sentences};

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
    Pieces(Vec<Body>),
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
                "the tip does not run out: it ends abruptly with a chord of {:.0} % of the one a tenth of the span inboard. It is made so, or was cut off, or its end is missing in the scan and was closed. If a part is missing: {OF_THE_PIECE}",
                PERCENT * fraction
            ),
        }
    }
}

/// What a missing part of the tip does to the figures.
const OF_THE_PIECE: &str = "length, diameter, radii and activity factor are those of the piece. A known length or diameter of the whole blade then makes the scale wrong: all sizes (chords, thicknesses, radii) are too large by the part of it that is missing, and the stations lie nearer to the axis than stated. Give the length of what is there, or scan the tip";

/// Fractions are shown in per cent.
const PERCENT: f64 = 100.0;
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
            Self::Pieces(_) => "pieces",
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
            Self::BeyondTips { .. } => "beyond-tips",
            Self::RingAtTips { .. } => "ring-at-tips",
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
            Self::Pieces(pieces) => format!(
                "the measured part consists of {} pieces that are taken as one: {}. If they are different things, cut them apart and measure one of them",
                pieces.len(),
                bodies_text(pieces)
            ),
            Self::NotOrientable => {
                "the triangles cannot be given one consistent winding: back and face may be confused in places".to_owned()
            }
            Self::HardlyABlade { doubts } => format!(
                "this is hardly a blade or a propeller: {}. The figures mean nothing if it is none; cut the part out of its surroundings and check lengths and ends",
                doubts_text(doubts)
            ),
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
            Self::BeyondTips { fraction } => beyond_tips(*fraction),
            Self::RingAtTips { end_m, end_ratio } => ring_at_tips(*end_m, *end_ratio),
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
            Self::DistanceOutside { number, place, low, high } => format!(
                "distance {number} has a point at {} that is outside everything in the scan, which extends from {} to {}. If its coordinates are in other axes or in another unit than the file's, the scale and all sizes are wrong; read them in the coordinates of the file",
                place_text(*place),
                place_text(*low),
                place_text(*high)
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
            Self::LongRangeUnknown => {
                "the accuracy of the scan over long distances is not stated. An offset between its two sides, a bow or a scale that differs by direction is not in the intervals; state the accuracy that the report of the scan gives"
                    .to_owned()
            }
            Self::RootOnAxis { root_m } => format!(
                "the given length is half the given diameter, which leaves {:.1} mm between the axis of rotation and the root end. If the length was taken from the axis, or is half the diameter by assumption, all chords, lengths and radii are too large by the root radius over the length, which no interval contains. Measure the blade itself from its root end to its tip",
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
    format!(
        "only the largest body of the scan is measured ({largest}); {} smaller {} left out: {}",
        others.len(),
        if others.len() == 1 { "body was" } else { "bodies were" },
        bodies_text(others)
    )
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
    format!(
        "the known lengths contradict one another, so that all sizes are in doubt: {}. Chi-square is {chi_square:.1} with {} degrees of freedom, and chance exceeds {limit:.1} in one of twenty cases. The scale is the weighted least squares of all, and its uncertainty was multiplied by the Birge ratio, {birge_ratio:.1}. Check the points and the lengths{first}, and whether the scan has one scale everywhere",
        known_length_sentences(known).join("; "),
        known.len() - 1
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
        "a ring joins the tips of the blades: their sections end at its inner wall, {:.1} mm from the axis ({end_ratio:.3} R), and stations beyond are refused. The tip radius and the known diameter are taken as those of the outside of the ring. If the diameter was taken elsewhere, all sizes are wrong by that fraction; sections near the ring may contain its fillets, and the tips are not those of free blades",
        MM_PER_M * end_m
    )
}

/// Differences in one sentence; more than these are counted only.
const MOST_NAMED: usize = 8;

fn blades_differ(blades: usize, differences: &[UnlikeBlade]) -> String {
    let mut texts = Vec::new();
    let named = &differences[..differences.len().min(MOST_NAMED)];
    for blade in 1..=blades {
        let own: Vec<String> = named.iter().filter(|d| d.blade == blade).map(ToString::to_string).collect();
        if !own.is_empty() {
            texts.push(format!("blade {blade}: {}", own.join(", ")));
        }
    }
    if named.len() < differences.len() {
        texts.push(format!("and {} more differences", differences.len() - named.len()));
    }
    let than = if blades == 2 { "the other" } else { "the mean of those that agree" };
    format!(
        "the blades differ by more than their uncertainties explain. Compared with {than}, {}. The rows of the mean are those of unlike blades: their uncertainties contain the spread, and where it is large no mean is given. Use the rows of each blade, and check on the part that the scan does not bend or shift a blade by as much",
        texts.join("; ")
    )
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
            "the known length was taken for all of it ({length_m:.4} m), of which {beyond_m:.4} m lie beyond the step. If the known length is that of the part beyond the step, one unit of the file is {} m and not {} m: all sizes are {:.1} % too small, and the stations lie elsewhere than stated",
            five_digits(unit_m * larger),
            five_digits(unit_m),
            PERCENT * (larger - 1.0)
        )
    } else {
        format!(
            "it is {length_m:.4} m long in all, and {beyond_m:.4} m beyond the step. If the blade begins at the step, all radii are {:.1} mm too large, and the stations lie elsewhere than stated",
            MM_PER_M * distance_m
        )
    };
    format!(
        "the section changes abruptly {:.1} mm from the root end, from {:.1} cm² to {:.1} cm² in area: something may have grown onto the root in the scan, such as a stand, a plate or a clamp. The length, and with it every size and radius, is counted from the end of what is there: {effect}. If that end is the blade's own, such as a flange, all is well. If not, cut the thing off the scan, or give the length and the root radius from the end of it",
        MM_PER_M * distance_m,
        CM2_PER_M2 * areas_m2[0],
        CM2_PER_M2 * areas_m2[1]
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
